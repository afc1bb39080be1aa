/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The club as it is built, each part against what a hand calculation makes of it: cuts and length, bores,
 * ferrule, weights, tape, an adjustable hosel, and how it hangs at address. */
#include "club/club.h"
#include "record.h"
#include "setups.h"
#include "swing/check.h"

static const record_source by_hand = {RECORD_EXACT, "by hand, in the test"};
static const record_source bodies = {RECORD_EXACT, "formulas of rigid bodies; parallel axes"};
static const record_source same_club = {RECORD_LAW, "one club, described in two ways"};

static double rad(double degrees)
{
    return degrees * SETUPS_PI / 180;
}

/* A demonstration club. */
static caber_setup *demo(void)
{
    return setups_read("neutral-smooth");
}

static caber_bench measure(const caber_setup *s)
{
    const caber_jig jig = caber_jig_default();
    caber_bench bench;
    caber_message message;
    setups_fine(caber_bench_run(s, &jig, &bench, &message), &message);
    return bench;
}

static void add_weight(caber_setup *s, double mass, double forward, double up, double toe)
{
    caber_weights *w = &s->head.weights;
    caber_weight *items = realloc(w->items, (w->count + 1) * sizeof *items);
    assert_non_null(items);
    items[w->count++] = (caber_weight){mass, {forward, up, toe}};
    w->items = items;
}

/* ------------------------------------------------------------------ cuts and length */

/* A lie of 60 degrees: the plane is the ground, h below the hosel's mouth, and the axis meets it after
 * h/sin 60. A lie of 30: the sole, 60 mm down and 50 mm out, lies 73.3013 mm down the axis and 26.9615 mm
 * on the heel's side of it (sines and cosines of 30 degrees); the plane through it, which leans 60 degrees
 * to the axis, meets the axis 26.9615/tan 60 further on. */
static void length_by_the_rules(void **state)
{
    (void)state;
    caber_setup *s = demo();
    s->head.lie = rad(60);
    s->head.sole_up = -0.06;
    const double outside = 1.168 - 0.012 - 0.048 - 0.030;
    verify("playing length, lie of 60 degrees", by_hand, "m", measure(s).length,
           outside + 0.06 / (sqrt(3) / 2), 1e-12, 0);
    s->head.lie = rad(30);
    s->head.sole_toe = 0.05;
    s->grip.cap = 0.004;
    const double down = 0.06 / 2 + 0.05 * sqrt(3) / 2, aside = 0.06 * sqrt(3) / 2 - 0.05 / 2;
    verify("playing length, lie of 30 degrees, with a cap of 4 mm", by_hand, "m", measure(s).length,
           0.004 + outside + down + aside / sqrt(3), 1e-12, 0);
    s->head.sole_up = s->head.sole_toe = 0;
    assert_true(isnan(measure(s).length));
    caber_setup_free(s);
}

/* A wanted length gives the later cut; with the same cuts given as such, the same club to the last bit. */
static void length_wanted(void **state)
{
    (void)state;
    caber_setup *s = demo();
    const caber_bench given = measure(s);
    s->build.length = 1.14;
    s->build.butt_trim = 0;
    const caber_bench tip_first = measure(s);
    verify("length of a club built to 1.14 m, tip first", by_hand, "m", tip_first.length, 1.14,
           1e-13, 0);
    verify("butt trim that follows from it", by_hand, "m", tip_first.butt_trim,
           0.048 + given.length - 1.14, 1e-12, 0);
    assert_true(tip_first.tip_trim == 0.012);
    s->build.order = CABER_BUTT_FIRST;
    s->build.butt_trim = 0.048;
    s->build.tip_trim = 0;
    const caber_bench butt_first = measure(s);
    verify("length, butt first", by_hand, "m", butt_first.length, 1.14, 1e-13, 0);
    verify("tip trim that follows from it", by_hand, "m", butt_first.tip_trim,
           0.012 + given.length - 1.14, 1e-12, 0);
    /* The one with more of its tip cut off is the stiffer. */
    assert_true(butt_first.tip_trim > tip_first.tip_trim);
    assert_true(butt_first.frequency > tip_first.frequency * 1.001);
    assert_true(butt_first.twist < tip_first.twist * 0.999);
    s->build.length = 0;
    s->build.tip_trim = butt_first.tip_trim;
    const caber_bench again = measure(s);
    assert_close(again.frequency, butt_first.frequency, 1e-12, 0);
    assert_close(again.inertia_butt, butt_first.inertia_butt, 1e-12, 0);
    caber_setup_free(s);
}

/* The profile moves with the cut: a shaft whose readings all follow straight lines, tipped by 50 mm, is
 * the shaft whose lines begin 50 mm further up. */
static void tip_trim_moves_the_profile(void **state)
{
    (void)state;
    caber_setup *s = demo();
    const double length = 1.168, cut = 0.05;
    double difference = 0;
    caber_bench b[2];
    for (int k = 0; k < 2; k++) {
        const double first = k ? cut : 0;
        s->shaft.station_count = 2;
        s->shaft.length = length - first;
        for (int i = 0; i < 2; i++) {
            const double at = i ? length : first, x = at / length;
            s->shaft.stations[i] = (caber_station){.at = at - first,
                                                   .ei = 20 + 45 * x,
                                                   .gj = 14 + 22 * x,
                                                   .mass = 0.058 - 0.009 * x,
                                                   .diameter = 0.0085 + 0.0067 * x};
        }
        s->build.tip_trim = k ? 0 : cut;
        b[k] = measure(s);
    }
    const double pairs[][2] = {{b[0].frequency, b[1].frequency},
                               {b[0].twist, b[1].twist},
                               {b[0].shaft_mass, b[1].shaft_mass},
                               {b[0].swing_moment, b[1].swing_moment},
                               {b[0].inertia_butt, b[1].inertia_butt},
                               {b[0].tip_deflection, b[1].tip_deflection},
                               {b[0].frequencies[2], b[1].frequencies[2]},
                               {b[0].address_droop, b[1].address_droop},
                               {b[0].length, b[1].length},
                               {b[0].mouth_diameter, b[1].mouth_diameter}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        record_most(&difference, pairs[i][0] / pairs[i][1] - 1);
    verify_within("a shaft tipped by 50 mm against one that begins there, relative", same_club, "1",
                  difference, 1e-9);
    caber_setup_free(s);
}

/* A through bore: 62 mm straight down at a lie of 58.5 degrees. The head hangs on the hosel's mouth as
 * before, so with the cuts as they were the club is shorter by what goes into the head more. */
static void through_bore(void **state)
{
    (void)state;
    caber_setup *s = demo();
    const caber_bench blind = measure(s);
    s->build.bore = CABER_THROUGH;
    const caber_bench through = measure(s);
    const double depth = 0.062 / sin(rad(58.5));
    verify("shaft inside a through bore", by_hand, "m", through.insertion, depth, 1e-12, 0);
    verify("length that it costs", by_hand, "m", blind.length - through.length, depth - 0.03, 1e-9,
           0);
    assert_close(through.club_mass, blind.club_mass, 1e-12, 0);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ weights, ferrule, tape */

/* Two bodies m, M at a distance d: their centre moves m/(m + M) d towards m, and their inertia about it
 * gains the reduced mass times d^2 across d. */
static void weights_on_the_head(void **state)
{
    (void)state;
    caber_setup *s = demo();
    s->head.mass = 0.19;
    const double c[3] = {-0.017, -0.032, 0.062};
    add_weight(s, 0.01, c[0] - 0.06, c[1], c[2]);
    const caber_head one = club_weighted_head(&s->head);
    const double reduced = 0.19 * 0.01 / 0.2;
    verify("head with a weight of 10 g", bodies, "kg", one.mass, 0.2, 1e-15, 0);
    verify("its centre, 60 mm behind the old: 3 mm back", bodies, "m", one.centre_of_mass[0],
           c[0] - 0.003, 1e-12, 0);
    verify("its inertia about the vertical: 342 g cm2 more", bodies, "kg m2", one.inertia[1],
           4600e-7 + 342e-7, 1e-12, 0);
    assert_close(one.inertia[0], 2650e-7, 1e-12, 0);
    assert_close(one.inertia[2], 2900e-7 + reduced * 0.06 * 0.06, 1e-12, 0);
    assert_close(one.inertia[3], -240e-7, 1e-12, 0);
    /* A second one, off both axes, from where the first has left it. */
    const double d[3] = {0.03, -0.02, 0.05}, m2 = 0.2 * 0.005 / 0.205;
    add_weight(s, 0.005, one.centre_of_mass[0] + d[0], one.centre_of_mass[1] + d[1],
               one.centre_of_mass[2] + d[2]);
    const caber_head two = club_weighted_head(&s->head);
    const double want[6] = {one.inertia[0] + m2 * (d[1] * d[1] + d[2] * d[2]),
                            one.inertia[1] + m2 * (d[0] * d[0] + d[2] * d[2]),
                            one.inertia[2] + m2 * (d[0] * d[0] + d[1] * d[1]),
                            one.inertia[3] - m2 * d[0] * d[1],
                            one.inertia[4] - m2 * d[0] * d[2],
                            one.inertia[5] - m2 * d[1] * d[2]};
    double most = 0;
    for (int i = 0; i < 6; i++)
        record_most(&most, (two.inertia[i] - want[i]) / want[1]);
    verify_within("inertia with a second weight off all axes, every element, relative", bodies, "1",
                  most, 1e-12);
    caber_setup_free(s);
}

/* A head with weights swings as a head whose file has them in its figures. */
static void weights_in_the_swing(void **state)
{
    (void)state;
    caber_setup *s = demo();
    add_weight(s, 0.012, -0.07, -0.04, 0.08);
    add_weight(s, 0.004, 0.01, -0.05, 0.03);
    const caber_impact weights = setups_swing(s, NULL).bent;
    caber_weight *items = s->head.weights.items;
    s->head = club_weighted_head(&s->head);
    free(items);
    const caber_impact figures = setups_swing(s, NULL).bent;
    double most = 0;
    record_most(&most, weights.loft_change / figures.loft_change - 1);
    record_most(&most, weights.head_speed / figures.head_speed - 1);
    record_most(&most, weights.face_angle / figures.face_angle - 1);
    verify_within("swing of a head with weights against one with their figures, relative",
                  same_club, "1", most, 1e-9);
    caber_setup_free(s);
}

/* On the axis: a mass at x from the butt adds m x to the first moment and m x^2 to the inertia; the
 * ferrule besides a rod's m l^2/12 and a ring's m r^2/2, r = 4.25 mm there. */
static void ferrule_and_hosel_weight(void **state)
{
    (void)state;
    caber_setup *s = demo();
    s->build.tip_trim = 0; /* where the shaft is parallel */
    s->build.insertion = 0.02;
    const caber_bench plain = measure(s);
    const double mouth = 1.168 - 0.048 - 0.020; /* from the butt */
    s->build.hosel_weight = (caber_hosel_weight){.mass = 0.004, .depth = 0.013};
    const caber_bench weight = measure(s);
    verify("swing moment of 4 g in the tip", bodies, "kg m",
           weight.swing_moment - plain.swing_moment, 0.004 * (mouth + 0.013 - 0.3556), 1e-9, 0);
    s->build.hosel_weight.depth = 0; /* the middle of the 20 mm */
    assert_close(measure(s).swing_moment - plain.swing_moment, 0.004 * (mouth + 0.010 - 0.3556),
                 1e-9, 0);
    s->build.hosel_weight.mass = 0;
    s->build.ferrule = (caber_ferrule){.mass = 0.002, .length = 0.024, .at = 0.001};
    const caber_bench ferrule = measure(s);
    const double x = mouth - 0.001 - 0.012;
    verify("inertia of a ferrule of 2 g about the butt", bodies, "kg m2",
           ferrule.inertia_butt - plain.inertia_butt,
           0.002 * (x * x + 0.024 * 0.024 / 12 + 0.00425 * 0.00425 / 2), 1e-8, 0);
    assert_close(ferrule.club_mass - plain.club_mass, 0.002, 1e-9, 0);
    assert_close(ferrule.balance_point * ferrule.club_mass - plain.balance_point * plain.club_mass,
                 0.002 * x, 1e-8, 0);
    assert_true(ferrule.frequencies[0] < plain.frequencies[0]);
    assert_true(ferrule.frequency == plain.frequency); /* of the bare shaft */
    caber_setup_free(s);
}

/* Three layers of 5 g/m and 0.13 mm under 270 mm of grip: 4.05 g with its centre in the middle, 0.78 mm
 * more of diameter. About the axis: the tube of tape from the shaft to 0.39 mm outside it, the grip's own
 * tube that far out; the shaft's radius is that under the middle of the grip. */
static void tape_under_the_grip(void **state)
{
    (void)state;
    caber_setup *s = demo();
    const caber_bench plain = measure(s);
    club *c[2] = {NULL, NULL};
    assert_int_equal(club_create(s, &c[0], NULL), CABER_OK);
    s->build.tape = (caber_tape){.layers = 3, .mass = 0.005, .thickness = 0.00013};
    const caber_bench tape = measure(s);
    assert_int_equal(club_create(s, &c[1], NULL), CABER_OK);
    verify("mass of three layers of tape", by_hand, "kg", tape.club_mass - plain.club_mass, 0.00405,
           1e-9, 0);
    verify("diameter of the grip over them", by_hand, "m", tape.grip_diameter, 0.0245 + 0.00078,
           1e-12, 0);
    verify("their swing moment, negative above the fulcrum", by_hand, "kg m",
           tape.swing_moment - plain.swing_moment, 0.00405 * (0.135 - 0.3556), 1e-8, 0);
    /* The whole grip and butt as one body about the axis, from a hinge beyond the grip. */
    double around[2];
    for (int i = 0; i < 2; i++) {
        const club_body b = club_shaft_body(c[i], c[i]->butt_at - 0.27, c[i]->butt_at, 0, true);
        around[i] = b.inertia.m[0][0];
    }
    const double ri = profile_at(c[0]->profile, c[0]->butt_at - 0.135).radius, ro = 0.01225;
    const double t = 0.00039, of_tape = 0.00405 * ((ri + t) * (ri + t) + ri * ri) / 2;
    const double moved = 0.05 * ((ro + t) * (ro + t) + (ri + t) * (ri + t) - ro * ro - ri * ri) / 2;
    verify("what they add about the shaft's axis", bodies, "kg m2", around[1] - around[0],
           of_tape + moved, 1e-6, 0);
    club_free(c[0]);
    club_free(c[1]);
    /* A cap moves the fulcrum with it. */
    s->build.tape.layers = 0;
    s->grip.cap = 0.005;
    const caber_bench cap = measure(s);
    verify("swing moment with a cap of 5 mm: all of the club is that much further", bodies, "kg m",
           cap.swing_moment - plain.swing_moment, 0.005 * plain.club_mass, 1e-9, 0);
    assert_close(cap.balance_point, plain.balance_point + 0.005, 1e-12, 0);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ an adjustable hosel */

/* n = (-sin lo sin lam, cos lo, sin lo cos lam) in the tip frame. Its face lifted by t, a face without
 * loft looks along (-sin t, cos t, 0): up by asin(sin t sin lam), and towards the heel by
 * atan(tan t cos lam). Its toe lifted by t, the head is as one of lie lam + t: the loft that the old
 * upright sees is asin(sin lo cos t), and the face looks to the heel by atan(tan lo sin t). */
static void sleeve(void **state)
{
    (void)state;
    caber_setup *s = demo();
    const double t = rad(1), lam = s->head.lie, lo = s->head.loft;
    s->build.sleeve.tilt = t;
    s->head.loft = 0;
    caber_bench b = measure(s);
    verify("loft for 1 deg in the loft's direction, flat face", by_hand, "rad", b.loft,
           asin(sin(t) * sin(lam)), 1e-12, 0);
    verify("face, closing with it", by_hand, "rad", b.face, -atan(tan(t) * cos(lam)), 1e-12, 0);
    s->head.loft = lo;
    s->build.sleeve.direction = rad(90);
    b = measure(s);
    verify("lie for 1 deg in the lie's direction", by_hand, "rad", b.lie, lam + t, 1e-12, 0);
    verify("loft with it", by_hand, "rad", b.loft, asin(sin(lo) * cos(t)), 1e-12, 0);
    verify("face with it, of a loft of 10.5 deg", by_hand, "rad", b.face, -atan(tan(lo) * sin(t)),
           1e-12, 0);
    /* Opposite sides undo each other, to second order in t. */
    double sum[2] = {0};
    for (int k = 0; k < 4; k++) {
        s->build.sleeve.direction = k * rad(90);
        b = measure(s);
        sum[k % 2] += k % 2 ? b.lie - lam : b.loft - lo;
    }
    assert_close(sum[0], 0, 0, t * t);
    assert_close(sum[1], 0, 0, t * t);
    s->build.sleeve.tilt = 0;
    b = measure(s);
    assert_close(b.loft, lo, 1e-14, 0);
    assert_close(b.lie, lam, 1e-14, 0);
    assert_close(b.face, 0, 0, 1e-15);
    caber_setup_free(s);
}

/* The toe lifted about the hosel's mouth is the very head of a greater lie: on the bench and in a swing.
 * And a pivot below the mouth keeps its own place: the centre moves by its distance from it alone. */
static void sleeve_in_the_swing(void **state)
{
    (void)state;
    caber_setup *s = demo();
    /* Rounding alone sends the integrator along other steps: fine ones, so that these agree. */
    s->settings.tolerance = 1e-10;
    s->build.sleeve = (caber_sleeve){.tilt = rad(1.5), .direction = rad(90)};
    const caber_impact sleeve = setups_swing(s, NULL).bent;
    const caber_bench bench = measure(s);
    s->build.sleeve.tilt = 0;
    s->head.lie += rad(1.5);
    const caber_impact lie = setups_swing(s, NULL).bent;
    const caber_bench plain = measure(s);
    double most = 0;
    record_most(&most, sleeve.delivered_loft / lie.delivered_loft - 1);
    record_most(&most, sleeve.delivered_lie / lie.delivered_lie - 1);
    record_most(&most, sleeve.face_angle / lie.face_angle - 1);
    record_most(&most, sleeve.droop / lie.droop - 1);
    record_most(&most, bench.length / plain.length - 1);
    record_most(&most, bench.address_droop / plain.address_droop - 1);
    record_most(&most, bench.frequencies[1] / plain.frequencies[1] - 1);
    verify_within("toe lifted by a sleeve against a head of that lie, swing and bench, relative",
                  same_club, "1", most, 1e-8);
    s->build.sleeve = (caber_sleeve){.tilt = rad(2), .direction = rad(30), .pivot = 0.02};
    const club_head turned = club_head_in_tip_frame(&s->head, &s->build.sleeve);
    const club_head straight = club_head_in_tip_frame(&s->head, &(caber_sleeve){0});
    const vec3 pivot = {0.02, 0, 0};
    const vec3 before = vec3_sub(straight.centre, pivot), after = vec3_sub(turned.centre, pivot);
    assert_close(vec3_norm(after), vec3_norm(before), 1e-14, 0);
    /* Rotation by t moves a point by 2 sin(t/2) times its distance from the axis, which lies across e1,
     * 30 degrees from e3 towards -e2. */
    const vec3 axis = {0, -sin(rad(30)), cos(rad(30))};
    const double off = vec3_norm(vec3_cross(axis, before));
    verify("way of the head's centre, turned 2 deg about a pivot 20 mm down", by_hand, "m",
           vec3_norm(vec3_sub(turned.centre, straight.centre)), 2 * sin(rad(1)) * off, 1e-12, 0);
    const mat3 *i = &turned.inertia, *j = &straight.inertia;
    assert_close(i->m[0][0] + i->m[1][1] + i->m[2][2], j->m[0][0] + j->m[1][1] + j->m[2][2], 1e-12,
                 0);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ at address */

/* A uniform shaft, all mass in a point on its tip, held at an angle lam: across it W cos lam, along it the
 * pull N = W sin lam. The beam under tension, EI v'' = N (v - v(L)) + F (L - s), has the deflection
 * F/(N k) (k L - tanh k L) and the slope F/N (1 - 1/cosh k L), k^2 = N/EI. The angles are small: 4e-3. */
static void droop_of_a_point_head(void **state)
{
    (void)state;
    caber_setup *s = demo();
    const double ei = 200, lam = rad(30), mass = 0.2, length = 1.0;
    s->shaft.station_count = 2;
    s->shaft.length = 1.2;
    for (int i = 0; i < 2; i++)
        s->shaft.stations[i] =
            (caber_station){.at = 1.2 * i, .ei = ei, .gj = 50, .mass = 1e-9, .diameter = 0.01};
    s->head.mass = mass;
    s->head.lie = lam;
    memset(s->head.centre_of_mass, 0, sizeof s->head.centre_of_mass);
    s->grip.mass = 0;
    s->build = (caber_build){.insertion = 0, .hold = 0.2};
    const caber_bench b = measure(s);
    const double w = mass * CABER_GRAVITY, f = w * cos(lam), n = w * sin(lam), k = sqrt(n / ei);
    static const record_source tension = {
        RECORD_EXACT, "a cantilever with a load across and a pull along it: any handbook"};
    verify("droop at address, point on a uniform shaft", tension, "m", b.address_droop,
           f / (n * k) * (k * length - tanh(k * length)), 3e-5, 0);
    verify("its slope, the lie change", tension, "rad", -b.address_lie_change,
           f / n * (1 - 1 / cosh(k * length)), 3e-5, 0);
    verify("the same without the pull: what it holds back", tension, "m",
           f * length * length * length / (3 * ei) - b.address_droop,
           f / ei * (1.0 / 3 - (k - tanh(k)) / (k * k * k)), 0.01, 0);
    assert_close(b.address_lead, 0, 0, 1e-12);
    caber_setup_free(s);
}

/* Its own weight: q L^4/8EI; a couple from a head whose centre lies a beyond the tip: F a L^2/2EI more,
 * F L^3/3EI with them. So stiff and light that the pull N of both, which holds back some 0.4 N L^2/EI of
 * the droop, counts for a ten-thousandth. Behind the shaft by d, the head twists it by F d L/GJ, opening
 * the face as seen along the shaft. */
static void droop_by_parts(void **state)
{
    (void)state;
    caber_setup *s = demo();
    const double ei = 1000, gj = 500, lam = rad(30), length = 1.0, q = 0.06;
    s->shaft.station_count = 2;
    s->shaft.length = 1.2;
    for (int i = 0; i < 2; i++)
        s->shaft.stations[i] =
            (caber_station){.at = 1.2 * i, .ei = ei, .gj = gj, .mass = q, .diameter = 0.015};
    s->head.lie = lam;
    s->head.mass = 1e-6;
    memset(s->head.centre_of_mass, 0, sizeof s->head.centre_of_mass);
    for (int i = 0; i < 6; i++)
        s->head.inertia[i] = i < 3 ? 1e-9 : 0;
    s->grip.mass = 0;
    s->build = (caber_build){.insertion = 0, .hold = 0.2};
    const double across = CABER_GRAVITY * cos(lam);
    static const record_source cantilever = {
        RECORD_EXACT, "q L^4/8EI, F L^3/3EI, F a L^2/2EI, T L/GJ: any handbook"};
    verify("droop under the shaft's own weight", cantilever, "m", measure(s).address_droop,
           q * across * pow(length, 4) / (8 * ei), 2e-4, 0);
    /* 40 mm beyond the tip along the axis: -sin lam up, cos lam towards the toe; 20 mm behind it. */
    const double a = 0.04, d = 0.02, m = 0.02;
    s->head.mass = m;
    s->head.centre_of_mass[0] = -d;
    s->head.centre_of_mass[1] = -a * sin(lam);
    s->head.centre_of_mass[2] = a * cos(lam);
    const caber_bench b = measure(s);
    const double f = m * across;
    verify("droop with a head that reaches 40 mm beyond the tip", cantilever, "m", b.address_droop,
           (q * across * pow(length, 4) / 8 + f * (pow(length, 3) / 3 + a * length * length / 2)) /
               ei,
           2e-4, 0);
    /* The twist turns the face about the axis; the pull W sin lam behind the axis bends it forward. */
    const double twist = f * d * length / gj;
    const double lead = m * CABER_GRAVITY * sin(lam) * d * length * length / (2 * ei);
    verify("lead from a head whose centre lies 20 mm behind", cantilever, "m", b.address_lead, lead,
           5e-4, 0);
    club *c = NULL;
    assert_int_equal(club_create(s, &c, NULL), CABER_OK);
    /* Turned by (twist, 0, lead slope) about (e1, e2, e3), n = e2 at no loft goes to
     * e2 + twist e3 - slope e1, of which the toe's share (cos lam, 0, sin lam) opens the face. */
    s->head.loft = 0;
    const caber_bench flat = measure(s);
    const double slope = m * CABER_GRAVITY * sin(lam) * d * length / ei;
    verify("face at address, from twist and lead", cantilever, "rad", flat.address_face_rotation,
           -(twist * sin(lam) - slope * cos(lam)), 1e-3, 0);
    club_free(c);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ the rules */

static caber_rule rule(const caber_setup *s, const char *name)
{
    caber_rule rules[CABER_RULES_COUNT];
    caber_message message;
    setups_fine(caber_rules_check(s, rules, &message), &message);
    for (int i = 0; i < CABER_RULES_COUNT; i++)
        if (!strcmp(rules[i].name, name))
            return rules[i];
    fail_msg("no rule %s", name);
    return rules[0];
}

static void beside_the_rules(void **state)
{
    (void)state;
    caber_setup *s = demo();
    const double length = measure(s).length;
    assert_close(rule(s, "length_m").figure, length, 1e-14, 0);
    assert_int_equal(rule(s, "length_m").verdict, CABER_RULE_WITHIN);
    s->grip.cap = 1.168 - length + 1e-5;
    assert_int_equal(rule(s, "length_local_m").verdict, CABER_RULE_BEYOND);
    s->grip.cap -= 2e-5;
    assert_int_equal(rule(s, "length_local_m").verdict, CABER_RULE_WITHIN);
    s->head.sole_up = s->head.sole_toe = 0;
    assert_int_equal(rule(s, "length_m").verdict, CABER_RULE_UNKNOWN);
    /* To the edge of the tolerance; then with a weight. */
    const double wide[6] = {3000e-7, 5999e-7, 3400e-7, 0, 0, 0};
    memcpy(s->head.inertia, wide, sizeof wide);
    assert_int_equal(rule(s, "head_inertia_gcm2").verdict, CABER_RULE_WITHIN);
    s->head.inertia[1] = 6001e-7;
    assert_int_equal(rule(s, "head_inertia_gcm2").verdict, CABER_RULE_BEYOND);
    s->head.inertia[1] = 5700e-7;
    add_weight(s, 0.01, -0.017 - 0.08, -0.032, 0.062);
    verify("inertia beside the rules, with a weight", bodies, "kg m2",
           rule(s, "head_inertia_gcm2").figure, 5700e-7 + 0.198 * 0.01 / 0.208 * 0.0064, 1e-12, 0);
    assert_int_equal(rule(s, "head_inertia_gcm2").verdict, CABER_RULE_BEYOND);
    /* Read in one orientation, nothing is known of the other. */
    assert_int_equal(rule(s, "bending_difference_percent").verdict, CABER_RULE_UNKNOWN);
    for (size_t i = 0; i < s->shaft.station_count; i++)
        s->shaft.stations[i].ei_2 = s->shaft.stations[i].ei;
    assert_int_equal(rule(s, "bending_difference_percent").verdict, CABER_RULE_WITHIN);
    s->shaft.stations[9].ei_2 *= 1.02;
    verify("bends alike: one station 2 % stiffer across", by_hand, "1",
           rule(s, "bending_difference_percent").figure, 0.02, 1e-12, 0);
    assert_int_equal(rule(s, "bending_difference_percent").verdict, CABER_RULE_BEYOND);
    static const char *const unknown[] = {"twisting_difference_percent", "head_volume_cm3",
                                          "characteristic_time_us"};
    for (int i = 0; i < 3; i++)
        assert_int_equal(rule(s, unknown[i]).verdict, CABER_RULE_UNKNOWN);
    /* What is cut off does not count. */
    s->shaft.stations[9].ei_2 = s->shaft.stations[9].ei;
    s->shaft.stations[0].ei_2 *= 1.5;
    s->build.tip_trim = 0.04;
    assert_int_equal(rule(s, "bending_difference_percent").verdict, CABER_RULE_WITHIN);
    caber_rule rules[CABER_RULES_COUNT];
    s->build.tip_trim = -1;
    assert_int_equal(caber_rules_check(s, rules, NULL), CABER_BAD_INPUT);
    caber_setup_free(s);
}

/* The table of frequencies has what the jig gives one by one. */
static void table_of_frequencies(void **state)
{
    (void)state;
    caber_setup *s = demo();
    caber_jig jig = caber_jig_default();
    caber_bench all, one;
    caber_message message;
    setups_fine(caber_bench_run(s, &jig, &all, &message), &message);
    for (size_t i = 0; i < jig.clamp_count; i++)
        for (size_t j = 0; j < jig.tip_mass_count; j++) {
            caber_jig each = jig;
            each.clamp = jig.clamps[i];
            each.tip_mass = jig.tip_masses[j];
            each.clamp_count = 0;
            setups_fine(caber_bench_run(s, &each, &one, &message), &message);
            assert_close(all.table[i][j], one.frequency, 1e-9, 0);
        }
    jig.clamps[2] = 1.1;
    assert_int_equal(caber_bench_run(s, &jig, &one, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "a clamp of 1.1 m is not allowed"));
    jig.clamps[2] = 0.1;
    jig.tip_masses[1] = NAN;
    assert_int_equal(caber_bench_run(s, &jig, &one, &message), CABER_BAD_INPUT);
    jig.tip_masses[1] = 0.2;
    jig.tip_mass_count = CABER_JIG_MOST + 1;
    assert_int_equal(caber_bench_run(s, &jig, &one, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "number of tip masses"));
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(length_by_the_rules),
                                       cmocka_unit_test(length_wanted),
                                       cmocka_unit_test(through_bore),
                                       cmocka_unit_test(tip_trim_moves_the_profile),
                                       cmocka_unit_test(weights_on_the_head),
                                       cmocka_unit_test(weights_in_the_swing),
                                       cmocka_unit_test(ferrule_and_hosel_weight),
                                       cmocka_unit_test(tape_under_the_grip),
                                       cmocka_unit_test(sleeve),
                                       cmocka_unit_test(sleeve_in_the_swing),
                                       cmocka_unit_test(droop_of_a_point_head),
                                       cmocka_unit_test(droop_by_parts),
                                       cmocka_unit_test(beside_the_rules),
                                       cmocka_unit_test(table_of_frequencies)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
