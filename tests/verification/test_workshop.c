/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a workshop reads, against handbook formulas for a uniform shaft and against sums and integrals
 * done another way. Cantilever and simple-beam formulas: any handbook, e.g. W. C. Young, R. G. Budynas,
 * Roark's Formulas for Stress and Strain, 7th ed., table 8.1 (from memory). */
#include "club/club.h"
#include "record.h"
#include "setups.h"

static const double length = 1.2, ei = 40, gj = 20, mass = 0.05, clamp = 0.127;
static const double density = 1500, tube = 0.02; /* kg/m3; m across */

/* A uniform shaft with a small heavy head on its axis and a short grip; freed by caber_setup_free. */
static caber_setup *uniform_club(void)
{
    caber_setup *s = setups_array(1, sizeof *s);
    s->settings = caber_settings_default();
    s->ball = caber_ball_default();
    s->air = caber_air_default();
    snprintf(s->shaft.name, sizeof s->shaft.name, "uniform");
    s->shaft.length = length;
    s->shaft.density = density;
    s->shaft.damping = 0.01;
    s->shaft.station_count = 2;
    s->shaft.stations = setups_array(2, sizeof *s->shaft.stations);
    for (int i = 0; i < 2; i++)
        s->shaft.stations[i] =
            (caber_station){.at = i * length, .ei = ei, .gj = gj, .mass = mass, .diameter = tube};
    s->head =
        (caber_head){.mass = 0.2, .loft = 0.2, .lie = 1, .inertia = {3e-4, 3e-4, 3e-4, 0, 0, 0}};
    /* 40 mm down the shaft's axis: -sin(lie) up, cos(lie) towards the toe. */
    s->head.centre_of_mass[1] = -0.04 * sin(1);
    s->head.centre_of_mass[2] = 0.04 * cos(1);
    s->grip = (caber_grip){.mass = 0.05, .length = 0.27, .diameter = 0.026};
    s->build = (caber_build){.insertion = 0.03, .hold = 0.1};
    caber_setup *demo = setups_read("neutral-smooth");
    s->player = demo->player;
    s->player.repeat = (caber_repeat){0}; /* whose list is the demo's */
    caber_setup_free(demo);
    return s;
}

static caber_bench measure(const caber_setup *s, const caber_jig *jig)
{
    caber_bench bench;
    caber_message message;
    setups_fine(caber_bench_run(s, jig, &bench, &message), &message);
    return bench;
}

static const record_source handbook = {
    RECORD_EXACT,
    "P L^3/3EI, P L^2/2EI, T L/GJ, P L^3/48EI and what follows from them: the theory of beams, in "
    "any handbook"};

/* beta L of a cantilever with its own mass on the tip: Laura, Pombo & Susemihl 1974, J. Sound Vib.
 * 37:161 (coincides with the root of the exact equation). */
static void frequency_with_a_tip_mass(void **state)
{
    (void)state;
    const double beta_l = 1.24791741, span = length - clamp;
    caber_jig jig = caber_jig_default();
    jig.clamp = clamp;
    jig.tip_mass = mass * span;
    caber_setup *s = uniform_club();
    const caber_bench b = measure(s, &jig);
    const double want = beta_l * beta_l * sqrt(ei / mass) / (span * span) / (2 * SETUPS_PI);
    static const record_source source = {
        RECORD_EXACT,
        "root of the frequency equation; P. A. A. Laura, J. L. Pombo, E. A. Susemihl 1974, J. "
        "Sound Vib. 37:161, have the same digits, as remembered"};
    verify("frequency, tip mass equal to the shaft's beyond the clamp", source, "Hz", b.frequency,
           want, 1e-6, 0);
    verify("the same across", source, "Hz", b.frequency_droop, want, 1e-6, 0);
    caber_setup_free(s);
}

/* P L^3/3 EI, P L^2/2 EI, T L/GJ. The chord of v = P (3 L s^2 - s^3)/6 EI has its own slope where
 * 2 x - x^2 = 2/3, L/sqrt(3) from the tip; the moment is largest in the clamp. */
static void static_bend_and_twist(void **state)
{
    (void)state;
    const double span = length - clamp;
    caber_jig jig = caber_jig_default();
    jig.clamp = clamp;
    caber_setup *s = uniform_club();
    const caber_bench b = measure(s, &jig);
    verify("tip deflection under a weight", handbook, "m", b.tip_deflection,
           jig.load * span * span * span / (3 * ei), 1e-9, 0);
    verify("tip slope", handbook, "rad", b.tip_slope, jig.load * span * span / (2 * ei), 1e-9, 0);
    verify("twist under a torque", handbook, "rad", b.twist, jig.torque * span / gj, 1e-9, 0);
    verify("bend point from the tip, L/sqrt 3", handbook, "m", b.bend_point, span / sqrt(3), 0,
           1e-6);
    verify("largest curvature from the tip: in the clamp", handbook, "m", b.bend_point_curvature,
           span, 0, 1e-6);
    caber_setup_free(s);
}

/* P L^3/48 EI in the middle of a simple span: the reading gives EI back at every place. */
static void three_point_bend_of_a_uniform_shaft(void **state)
{
    (void)state;
    const caber_jig jig = caber_jig_default();
    caber_setup *s = uniform_club();
    const caber_bench b = measure(s, &jig);
    assert_true(b.span_count > 10);
    double deflection = 0, stiffness = 0;
    for (size_t i = 0; i < b.span_count; i++) {
        record_most(&stiffness, b.span_ei[i] / ei - 1);
        record_most(&deflection,
                    b.span_deflection[i] / (jig.span_load * pow(jig.span, 3) / (48 * ei)) - 1);
    }
    verify_within("three-point bend of a uniform shaft, every place, relative", handbook, "1",
                  deflection, 1e-8);
    verify_within("EI read from it, relative", handbook, "1", stiffness, 1e-8);
    assert_close(b.span_at[0], jig.span / 2, 0, 1e-12);
    caber_setup_free(s);
}

/* A measured profile: deflection under the load by Castigliano's theorem, the integral of M^2/(P EI)
 * with M = P s/2 from either support, by the midpoint rule on 20000 strips. */
static void three_point_bend_of_a_profile(void **state)
{
    (void)state;
    enum { STRIPS = 20000 };
    caber_setup *s = setups_read("soft-tip-smooth");
    const caber_jig jig = caber_jig_default();
    const caber_bench b = measure(s, &jig);
    club *c = NULL;
    assert_int_equal(club_create(s, &c, NULL), CABER_OK);
    double most = 0;
    for (size_t i = 0; i < b.span_count; i++) {
        const double first = c->tip_at + b.span_at[i] - jig.span / 2, h = jig.span / STRIPS;
        double sum = 0;
        for (int k = 0; k < STRIPS; k++) {
            const double x = (k + 0.5) * h, arm = fmin(x, jig.span - x) / 2;
            sum += h * jig.span_load * arm * arm / profile_at(c->profile, first + x).ei;
        }
        record_most(&most, b.span_deflection[i] / sum - 1);
    }
    static const record_source source = {
        RECORD_INDEPENDENT, "Castigliano's theorem, by the midpoint rule on 20000 strips"};
    verify_within("three-point bend of a measured profile, every place, relative", source, "1",
                  most, 1e-6);
    club_free(c);
    caber_setup_free(s);
}

/* Rod, ring of grip and head on one axis, by the formulas of rigid bodies: rod m L^2/3 about its end,
 * thin tubes (ro^2 + ri^2)/4 across besides. */
static void weights_and_inertia(void **state)
{
    (void)state;
    caber_setup *s = uniform_club();
    const caber_jig jig = caber_jig_default();
    const caber_bench b = measure(s, &jig);
    const double rod = mass * length, at = length - s->build.insertion + 0.04;
    const double total = rod + 0.05 + 0.2;
    const double first = rod * length / 2 + 0.05 * 0.27 / 2 + 0.2 * at;
    const double outer = tube / 2, inner2 = outer * outer - mass / (SETUPS_PI * density);
    const double around =
        rod * (outer * outer + inner2) / 4 + 0.05 * (0.013 * 0.013 + outer * outer) / 4;
    const double about =
        rod * length * length / 3 + 0.05 * 0.27 * 0.27 / 3 + 0.2 * at * at + 3e-4 + around;
    assert_close(b.shaft_mass, rod, 1e-9, 0);
    static const record_source source = {
        RECORD_EXACT, "formulas of rigid bodies: rods, thin tubes and a head on one axis"};
    verify("mass of the club", source, "kg", b.club_mass, total, 1e-9, 0);
    verify("balance point from the butt", source, "m", b.balance_point, first / total, 1e-9, 0);
    verify("moment about 14 in from the butt", source, "kg m", b.swing_moment,
           first - 0.3556 * total, 1e-9, 0);
    verify("inertia about the butt", source, "kg m2", b.inertia_butt, about, 1e-9, 0);
    verify("inertia about the balance point", source, "kg m2", b.inertia_balance,
           about - first * first / total, 1e-8, 0);
    caber_setup_free(s);
}

static double points(const caber_setup *s)
{
    const caber_jig jig = caber_jig_default();
    return measure(s, &jig).swing_moment / (1.75 * 0.028349523125 * 0.0254);
}

/* The scale: D0 = 213.5 oz in (from memory), a point 1.75 oz in, ten points a letter (common
 * practice). 2 g of head are about a point, half an inch about three (common practice). */
static void swing_weight(void **state)
{
    (void)state;
    const double unit = 0.028349523125 * 0.0254;
    char text[16];
    const struct {
        double ounce_inches;
        const char *want;
    } scale[] = {{213.5, "D0.0"}, {215.25, "D1.0"},   {213.5 - 1.75, "C9.0"},
                 {213.4, "C9.9"}, {213.45, "D0.0"},   {213.5 + 17.5, "E0.0"},
                 {161.0, "A0.0"}, {160.0, "below A0"}};
    for (size_t i = 0; i < sizeof scale / sizeof scale[0]; i++) {
        caber_swing_weight(scale[i].ounce_inches * unit, text, sizeof text);
        assert_string_equal(text, scale[i].want);
    }
    caber_setup *s = setups_read("neutral-smooth");
    const double before = points(s);
    s->head.mass += 0.002;
    static const record_source source = {RECORD_PRACTICE,
                                         "2 g of head are about a point of swing weight"};
    verify("swing weight for 2 g more on the head", source, "points", points(s) - before, 1, 0,
           0.25);
    s->head.mass -= 0.002;
    s->build.butt_trim -= 0.0127;
    const double longer = points(s) - before; /* 2.4 here: the rule is for heavier clubs */
    assert_true(longer > 2 && longer < 3.5);
    caber_setup_free(s);
}

/* The club with its head is slower than the bare shaft with a point mass of the head's weight at its
 * tip by little, since the head's centre lies near it: within a tenth. The jig is refused when it
 * cannot be. */
static void club_as_built_and_bad_jigs(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    caber_jig jig = caber_jig_default();
    jig.tip_mass = s->head.mass;
    const caber_bench bare = measure(s, &jig);
    jig.tip_mass = 0;
    const caber_bench built = measure(s, &jig);
    assert_close(built.frequency, bare.frequency, 0.1, 0);
    assert_close(built.frequencies[0], fmin(built.frequency, built.frequency_droop), 1e-12, 0);
    caber_message message;
    caber_bench out;
    jig.clamp = 1.1;
    assert_int_equal(caber_bench_run(s, &jig, &out, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "a clamp of 1.1 m is not allowed"));
    jig = caber_jig_default();
    jig.load = NAN;
    assert_int_equal(caber_bench_run(s, &jig, &out, &message), CABER_BAD_INPUT);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(frequency_with_a_tip_mass),
                                       cmocka_unit_test(static_bend_and_twist),
                                       cmocka_unit_test(three_point_bend_of_a_uniform_shaft),
                                       cmocka_unit_test(three_point_bend_of_a_profile),
                                       cmocka_unit_test(weights_and_inertia),
                                       cmocka_unit_test(swing_weight),
                                       cmocka_unit_test(club_as_built_and_bad_jigs)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
