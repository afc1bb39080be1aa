/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What each jig of a readings file reads on shafts that can be done by hand: uniform, stepped, stiffer one way
 * than the other. The formulas for uniform beams are in any handbook of mechanics (e.g. W. C. Young and
 * R. G. Budynas, Roark's Formulas for Stress and Strain, 7th ed., table 8.1; from memory) and follow from
 * EI v'' = M; the stepped ones are worked out beside the checks. */
#include "days.h"
#include "record.h"

static const double length = 1.2, ei = 20, gj = 10, mass = 0.05, load = 5;

static const record_source handbook = {RECORD_EXACT,
                                       "closed form for a uniform beam, from EI v'' = M"};
static const record_source by_hand = {
    RECORD_EXACT, "unit-load theorem with constant EI in each part, by hand in the test"};

typedef struct beam_case {
    double ei_2, mass, taper; /* taper: mass (1 + taper x/L) */
    caber_sections sections;
} beam_case;

/* What the jig reads on a shaft of EI 20 and GJ 10 but for `c`. */
static double reads(const beam_case *c, caber_reading r)
{
    enum { STATIONS = 13 };
    caber_station s[STATIONS];
    for (int i = 0; i < STATIONS; i++) {
        const double part = (double)i / (STATIONS - 1);
        s[i] = (caber_station){.at = part * length,
                               .ei = ei,
                               .ei_2 = c ? c->ei_2 : 0,
                               .gj = gj,
                               .mass = (c && c->mass > 0 ? c->mass : mass) *
                                       (1 + (c ? c->taper : 0) * part),
                               .diameter = 0.01};
    }
    const caber_shaft shaft = {
        .length = length, .density = 1500, .station_count = STATIONS, .stations = s};
    caber_message message;
    profile *p = NULL;
    double out = NAN;
    setups_fine(profile_create(&shaft, c ? &c->sections : NULL, &p, &message), &message);
    setups_fine(reading_predict(p, length, &r, &out, NULL, &message), &message);
    profile_free(p);
    return out;
}

/* Supports 0.8 m apart, the first 0.2 m from the tip; places from the first support. */
static caber_reading span(double load_at, double read_at)
{
    return (caber_reading){.kind = CABER_READ_SPAN,
                           .rest_at = 0.2,
                           .held_at = 1,
                           .load_at = 0.2 + load_at,
                           .read_at = 0.2 + read_at,
                           .load = load};
}

/* In the middle P L^3/48 EI. Elsewhere, with the load at a, b = L - a: before it P b x (L^2 - b^2 - x^2)/6 EI L,
 * beyond it the same from the other end. */
static void span_of_a_uniform_shaft(void **state)
{
    (void)state;
    const double l = 0.8, a = 0.5, b = l - a, x = 0.3, y = 0.65;
    verify("three-point bend, load and reading in the middle, P L^3/48 EI", handbook, "m",
           reads(NULL, span(l / 2, l / 2)), load * l * l * l / (48 * ei), 1e-10, 0);
    verify("three-point bend, load off the middle, read under it, P a^2 b^2/3 EI L", handbook, "m",
           reads(NULL, span(a, a)), load * a * a * b * b / (3 * ei * l), 1e-10, 0);
    verify("the same, read between the load and one support", handbook, "m",
           reads(NULL, span(a, x)), load * b * x * (l * l - b * b - x * x) / (6 * ei * l), 1e-10,
           0);
    const double far = l - y;
    verify("the same, read between the load and the other support", handbook, "m",
           reads(NULL, span(a, y)), load * a * far * (l * l - a * a - far * far) / (6 * ei * l),
           1e-10, 0);
    static const record_source maxwell = {RECORD_LAW, "Maxwell's reciprocal theorem"};
    verify("load and reading exchanged", maxwell, "m", reads(NULL, span(x, a)),
           reads(NULL, span(a, x)), 1e-10, 0);
}

/* Clamped 1.1 m from the tip; places are distances from the clamp. */
static caber_reading cantilever(double load_at, double read_at)
{
    return (caber_reading){.kind = CABER_READ_CANTILEVER,
                           .held_at = 1.1,
                           .load_at = 1.1 - load_at,
                           .read_at = 1.1 - read_at,
                           .load = load};
}

/* Under the load P a^3/3 EI; between clamp and load P x^2 (3 a - x)/6 EI; beyond the load the shaft is
 * straight: P a^2 (3 x - a)/6 EI. */
static void cantilever_of_a_uniform_shaft(void **state)
{
    (void)state;
    const double a = 0.7, near = 0.4, far = 1.05;
    verify("cantilever, loaded and read at its end, P L^3/3 EI", handbook, "m",
           reads(NULL, cantilever(1.1, 1.1)), load * pow(1.1, 3) / (3 * ei), 1e-10, 0);
    verify("cantilever, read between clamp and load", handbook, "m",
           reads(NULL, cantilever(a, near)), load * near * near * (3 * a - near) / (6 * ei), 1e-10,
           0);
    /* Elements of a few mm beside the clamp: the stiffness matrix rounds at 1e-10 of it. */
    verify("cantilever, read beyond the load", handbook, "m", reads(NULL, cantilever(a, far)),
           load * a * a * (3 * far - a) / (6 * ei), 1e-9, 0);
}

static void twist_of_a_uniform_shaft(void **state)
{
    (void)state;
    caber_reading r = {.kind = CABER_READ_TWIST,
                       .held_at = 1.1,
                       .load_at = 0.1,
                       .read_at = 0.1,
                       .load = 1.5,
                       .orientation = NAN};
    verify("twist at the lever, T L/GJ", handbook, "rad", reads(NULL, r), 1.5 * 1.0 / gj, 1e-10, 0);
    r.read_at = 0.6;
    verify("twist between clamp and lever", handbook, "rad", reads(NULL, r), 1.5 * 0.5 / gj, 1e-10,
           0);
    r.read_at = 0.02;
    verify("twist beyond the lever: as at it", handbook, "rad", reads(NULL, r), 1.5 * 1.0 / gj,
           1e-10, 0);
}

/* 1 + cos z cosh z + ratio z (cos z sinh z - sin z cosh z), of a cantilever with ratio times its mass on its tip:
 * the determinant of v(0) = v'(0) = v''(L) = 0, EI v'''(L) = -M w^2 v(L). First root by halving. */
static double first_root(double ratio)
{
    double low = 0.1, high = 1.9;
    for (int k = 0; k < 100; k++) {
        const double z = (low + high) / 2;
        const double value =
            1 + cos(z) * cosh(z) + ratio * z * (cos(z) * sinh(z) - sin(z) * cosh(z));
        if (value > 0)
            low = z;
        else
            high = z;
    }
    return low;
}

static void frequency_of_a_uniform_shaft(void **state)
{
    (void)state;
    static const record_source root = {
        RECORD_EXACT, "root of the frequency equation of a uniform cantilever with a tip mass"};
    const double free_length = 1.05;
    const double tip[3] = {0, mass * free_length, 0.205};
    static const char *const problem[3] = {"frequency without a tip mass",
                                           "frequency, tip mass equal to the shaft's",
                                           "frequency, tip mass of a driver's head"};
    for (int k = 0; k < 3; k++) {
        const caber_reading r = {
            .kind = CABER_READ_FREQUENCY, .held_at = free_length, .load = tip[k]};
        const double z = first_root(tip[k] / (mass * free_length));
        const double want = z * z * sqrt(ei / mass) / (free_length * free_length) / (2 * SETUPS_PI);
        verify(problem[k], root, "Hz", reads(NULL, r), want, 1e-6, 0);
    }
}

/* m (1 + c x/L): m L (1 + c/2), its centre at L (1/2 + c/3)/(1 + c/2) from the tip. */
static void mass_and_balance(void **state)
{
    (void)state;
    const double c = -0.3;
    const beam_case tapered = {.taper = c};
    static const record_source by_integral = {RECORD_EXACT, "integral of m (1 + c x/L), by hand"};
    verify("mass of a tapered shaft", by_integral, "kg",
           reads(&tapered, (caber_reading){.kind = CABER_READ_MASS}), mass * length * (1 + c / 2),
           1e-10, 0);
    verify("its balance point from the tip", by_integral, "m",
           reads(&tapered, (caber_reading){.kind = CABER_READ_BALANCE}),
           length * (0.5 + c / 3) / (1 + c / 2), 1e-10, 0);
}

/* EI 20 and GJ 10 over the tip's 0.6 m, 2.5 times that beyond.
 * Span of 0.8 m about the step, load P in the middle: M = P x/2 from either side, so
 *   d = integral M^2/(P EI) = (P/4) ((0.4^3/3)/20 + (0.4^3/3)/50) = 1.25 * 0.0213333 * 0.07 = 1.866667 mm,
 * which a span takes for a uniform EI of P L^3/48 d = 28.5714, the harmonic mean of 20 and 50.
 * Cantilever clamped at 1.0 m, loaded at the tip: M = P x, so
 *   d = P (0.6^3/3/20 + (1 - 0.6^3)/3/50) = 5 (0.0036 + 0.00522667) = 44.13333 mm.
 * Twist clamped at 1.0 m, 1.5 N m at the tip: 1.5 (0.6/10 + 0.4/25) = 0.114 rad.
 * Frequency clamped at 1.0 m, 0.2 kg on the tip, a shaft without mass: the stiffness at the tip is
 *   5/0.04413333 = 113.2931 N/m, w^2 = 566.4653 1/s2, w = 23.80053 1/s, 3.787971 Hz. */
static void stepped_shaft(void **state)
{
    (void)state;
    caber_section step = {
        .from = 0.6, .to = length, .ei_scale = 2.5, .gj_scale = 2.5, .mass_scale = 1};
    const beam_case c = {.mass = 1e-7, .sections = {1, &step}};
    verify("stepped shaft, span about the step", by_hand, "m", reads(&c, span(0.4, 0.4)),
           1.866667e-3, 3e-7, 0);
    verify("EI read from it: the harmonic mean", by_hand, "N m2",
           load * pow(0.8, 3) / (48 * reads(&c, span(0.4, 0.4))), 28.57143, 3e-7, 0);
    const caber_reading bent = {.kind = CABER_READ_CANTILEVER, .held_at = 1, .load = load};
    verify("stepped shaft, cantilever", by_hand, "m", reads(&c, bent), 44.13333e-3, 3e-7, 0);
    const caber_reading twisted = {
        .kind = CABER_READ_TWIST, .held_at = 1, .load = 1.5, .orientation = NAN};
    verify("stepped shaft, twist", by_hand, "rad", reads(&c, twisted), 0.114, 1e-9, 0);
    const caber_reading swinging = {.kind = CABER_READ_FREQUENCY, .held_at = 1, .load = 0.2};
    verify("stepped shaft without mass, frequency", by_hand, "Hz", reads(&c, swinging), 3.787971,
           2e-6, 0);
}

/* A fifth of a span about its middle, EI higher by a fifth. M^2 there is the part 1 - 0.8^3 = 0.488 of all of it,
 * so the reading falls by 0.488 (1 - 1/1.2) = 8.1333 %, and EI read rises to 20/0.9186667 = 21.77068: by 8.9 %, not
 * by 20 %. A span with its middle 120 mm beside it still reads some of it: there the stiffer part lies 40 to
 * 200 mm from the middle of 800 mm, M goes from 0.9 to 0.5 of its largest, (0.9^3 - 0.5^3)/2 = 0.302, EI
 * rises to 20/(1 - 0.302/6) = 21.06002. */
static void a_span_reads_an_average(void **state)
{
    (void)state;
    caber_section firm = {
        .from = 0.52, .to = 0.68, .ei_scale = 1.2, .gj_scale = 1, .mass_scale = 1};
    const beam_case c = {.sections = {1, &firm}};
    caber_reading r = span(0.4, 0.4);
    verify("EI that a span reads, its middle fifth a fifth stiffer", by_hand, "N m2",
           load * pow(0.8, 3) / (48 * reads(&c, r)), 21.77068, 3e-7, 0);
    r.rest_at -= 0.12;
    r.held_at -= 0.12;
    r.load_at -= 0.12;
    r.read_at -= 0.12;
    verify("EI that a span 120 mm beside it reads", by_hand, "N m2",
           load * pow(0.8, 3) / (48 * reads(&c, r)), 21.06002, 3e-7, 0);
}

/* EI 20 one way and 19 across: the load at 30 deg from the stiffer has parts cos and sin of it along the two,
 * each bends for itself, and of either deflection cos and sin lie along the load: the compliances' mean with
 * the weights 3/4 and 1/4. */
static void two_principal_stiffnesses(void **state)
{
    (void)state;
    const beam_case c = {.ei_2 = 19};
    caber_reading r = span(0.4, 0.4);
    r.orientation = SETUPS_PI / 6;
    verify("EI that a span reads at 30 deg from the stiffer of 20 and 19", by_hand, "N m2",
           load * pow(0.8, 3) / (48 * reads(&c, r)), 1 / (0.75 / 20 + 0.25 / 19), 1e-10, 0);
    r.orientation = NAN;
    verify("the mean over all directions", by_hand, "N m2",
           load * pow(0.8, 3) / (48 * reads(&c, r)), 2 / (1.0 / 20 + 1.0 / 19), 1e-10, 0);
    /* Pulled at 30 deg, the squares of the frequencies have those weights. */
    caber_reading f = {.kind = CABER_READ_FREQUENCY, .held_at = 1.05, .load = 0.205};
    const double z = first_root(f.load / (mass * f.held_at));
    const double one = z * z / (f.held_at * f.held_at) / (2 * SETUPS_PI) / sqrt(mass);
    f.orientation = SETUPS_PI / 6;
    static const record_source pulled = {
        RECORD_EXACT, "both planes' swings seen along the pull, cos^2 and sin^2 of it"};
    verify("frequency when pulled at 30 deg from the stiffer", pulled, "Hz", reads(&c, f),
           one * sqrt(0.75 * 20 + 0.25 * 19), 1e-6, 0);
}

/* ------------------------------------------------------------------ unit loads, by the moment */

/* Moment at `at` of a unit load at `place`; of a unit couple, 1. */
static double moment(const caber_reading *r, double place, double at)
{
    if (r->kind == CABER_READ_TWIST)
        return at >= place ? 1 : 0;
    if (r->kind == CABER_READ_CANTILEVER)
        return fmax(at - place, 0);
    const double span_length = r->held_at - r->rest_at, a = place - r->rest_at, x = at - r->rest_at;
    return x < a ? x * (span_length - a) / span_length : a * (span_length - x) / span_length;
}

/* Unit-load theorem: P integral( m M c' B^-1 c ) or T integral( 1/GJ ), by the midpoints of 0.05 mm. */
static double integral(const profile *p, const caber_reading *r)
{
    const double from = r->kind == CABER_READ_SPAN ? r->rest_at : 0;
    const int count = (int)ceil((r->held_at - from) / 5e-5);
    const double step = (r->held_at - from) / count;
    double sum = 0;
    for (int i = 0; i < count; i++) {
        const double at = from + (i + 0.5) * step;
        const profile_point q = profile_at(p, at);
        const double c = cos(r->orientation - q.angle), s = sin(r->orientation - q.angle);
        const double compliance = r->kind == CABER_READ_TWIST ? 1 / q.gj
                                  : isnan(r->orientation)     ? (1 / q.ei + 1 / q.ei_2) / 2
                                                              : c * c / q.ei + s * s / q.ei_2;
        sum += moment(r, r->load_at, at) * moment(r, r->read_at, at) * compliance * step;
    }
    return r->load * sum;
}

/* Every static reading of a bench day on each shaft, and some with load and reading apart. Elements of 40 mm are
 * off by 2e-5, of 20 mm by 2e-6. */
static void the_moments_say_the_same(void **state)
{
    (void)state;
    static const record_source theorem = {
        RECORD_INDEPENDENT,
        "unit-load theorem: moments of statics, integrated with the compliance"};
    static const char *const name[4] = {"neutral", "firm tip", "soft tip", "quick change"};
    for (int s = 0; s < 4; s++) {
        day *d = day_create(s == 0   ? day_demo("neutral-smooth")
                            : s == 1 ? day_demo("firm-tip-smooth")
                            : s == 2 ? day_demo("soft-tip-smooth")
                                     : day_wild(),
                            0.02, 0.4, 1);
        double most = 0;
        char text[120];
        for (size_t i = 0; i < d->readings.count; i++) {
            caber_reading r = d->readings.items[i];
            if (r.kind == CABER_READ_FREQUENCY || r.kind == CABER_READ_MASS ||
                r.kind == CABER_READ_BALANCE)
                continue;
            caber_message message;
            if (i % 3 == 1) /* 30 mm towards the held end */
                r.read_at += 0.03;
            if (i % 7 == 2)
                r.orientation = NAN;
            double got;
            setups_fine(reading_predict(d->profile, length, &r, &got, NULL, &message), &message);
            record_most(&most, got / integral(d->profile, &r) - 1);
        }
        snprintf(text, sizeof text, "%s: the static readings of a bench day, relative", name[s]);
        verify_within(text, theorem, "1", most, 5e-5);
        day_free(d);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(span_of_a_uniform_shaft),  cmocka_unit_test(cantilever_of_a_uniform_shaft),
        cmocka_unit_test(twist_of_a_uniform_shaft), cmocka_unit_test(frequency_of_a_uniform_shaft),
        cmocka_unit_test(mass_and_balance),         cmocka_unit_test(stepped_shaft),
        cmocka_unit_test(a_span_reads_an_average),  cmocka_unit_test(two_principal_stiffnesses),
        cmocka_unit_test(the_moments_say_the_same)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
