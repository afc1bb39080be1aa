/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The impact of head and ball against closed forms: a published one for the golf drive, plane
 * impacts with every course that slip can take, what mechanics demands in space, and the gear
 * effect. */
#include "check.h"
#include "record.h"
#include "strikes.h"

enum { STRIKES = 2000 };
#define PI 3.14159265358979323846
static const double degree = PI / 180;

static const record_source law = {RECORD_LAW,
                                  "2000 heads, faces and contacts drawn at random; largest"};

/* ------------------------------------------------------------------ a published closed form */

static const record_source penner = {
    RECORD_QUOTED,
    "A. R. Penner 2001, Am. J. Phys. 69:563, the ball rolls off a head that does not "
    "turn; e = 0.86 - 0.0029 v cos(loft)"};

static strike drive(double mass, double speed, double loft)
{
    const mat3 unturned = {{{1e9, 0, 0}, {0, 1e9, 0}, {0, 0, 1e9}}};
    return (strike){
        .head = {.mass = 0.2, .inertia = unturned, .velocity = {speed, 0, 0}},
        .face = {.middle = {0.035, 0, 0}, .normal = {cos(loft), sin(loft), 0}, .toe = {0, 0, 1}},
        .ball = strike_ball(mass, 0.04267 / 2),
        .contact = {.restitution = 0.86, .loss = 0.0029, .friction = 1}};
}

static void test_penner(void **state)
{
    (void)state;
    double speed_off = 0, angle_off = 0, spin_off = 0;
    for (int i = 0; i < 16; i++) {
        const double v = 30 + 8 * (i % 4), loft = (5 + 15 * (i / 4)) * degree;
        const strike s = drive(0.04593, v, loft);
        const impact_result r = strike_run(&s);
        const double m = s.ball.mass, big = s.head.mass, e = 0.86 - 0.0029 * v * cos(loft);
        const double along = (1 + e) * v * cos(loft) / (1 + m / big);
        const double up = v * sin(loft) / (1 + m / big + 2.5);
        assert_false(r.sliding);
        record_most(&speed_off, vec3_norm(r.ball_velocity) - hypot(along, up));
        record_most(&angle_off,
                    atan2(r.ball_velocity.y, r.ball_velocity.x) - (loft - atan2(up, along)));
        record_most(&spin_off, r.ball_spin.z - up / (0.4 * s.ball.radius));
    }
    verify_within("ball speed, 30 to 54 m/s, 5 to 50 deg", penner, "m/s", speed_off, 1e-10);
    verify_within("launch angle of the same", penner, "rad", angle_off, 1e-10);
    verify_within("backspin of the same", penner, "rad/s", spin_off, 1e-8);
}

/* Drives worked apart from these formulas and rounded. They are those of a ball of 45.9 g: the
 * heaviest that the rules allow, 45.93 g, would make 61.85 m/s of the first, which rounds to
 * 61.8. */
static void test_drives_worked_apart(void **state)
{
    (void)state;
    const record_source source = {RECORD_INDEPENDENT,
                                  "Penner's formulas worked apart, ball of 45.9 g, as rounded"};
    static const double want[2][4] = {{45, 61.9, 10.5, 3037}, {50, 68.2, 10.5, 3375}};
    for (int i = 0; i < 2; i++) {
        char name[3][80];
        static const char *const what[3] = {"ball speed", "launch angle", "backspin"};
        for (int j = 0; j < 3; j++)
            snprintf(name[j], sizeof name[j], "%s, %.0f m/s, 13 deg, head of 200 g", what[j],
                     want[i][0]);
        const strike s = drive(0.0459, want[i][0], 13 * degree);
        const impact_result r = strike_run(&s);
        verify(name[0], source, "m/s", vec3_norm(r.ball_velocity), want[i][1], 0, 0.05);
        verify(name[1], source, "deg", atan2(r.ball_velocity.y, r.ball_velocity.x) / degree,
               want[i][2], 0, 0.05);
        verify(name[2], source, "rpm", r.ball_spin.z * CABER_RPM, want[i][3], 0, 0.5);
    }
}

static void test_ball_of_the_rules(void **state)
{
    (void)state;
    const record_source rules = {RECORD_PUBLISHED,
                                 "Equipment Rules, ball: at most 45.93 g, at least 42.67 mm"};
    const caber_ball ball = caber_ball_default();
    verify("mass of the ball unless it is given", rules, "g", ball.mass * 1e3, 45.93, 1e-15, 0);
    verify("its diameter", rules, "mm", ball.diameter * 1e3, 42.67, 1e-15, 0);
}

/* ------------------------------------------------------------------ in a plane */

/* A head that moves and turns in the plane of loft, towards the target and up, so that the slip
 * has one direction or the other. */
typedef struct plane {
    double loft, mass, inertia, x, y; /* the face's middle from the centre of mass */
    double speed, e, friction;
} plane;

static strike plane_strike(const plane *c)
{
    return (strike){
        .head = {.mass = c->mass,
                 .inertia = {{{c->inertia, 0, 0}, {0, c->inertia, 0}, {0, 0, c->inertia}}},
                 .velocity = {c->speed, 0, 0}},
        .face = {.middle = {c->x, c->y, 0},
                 .normal = {cos(c->loft), sin(c->loft), 0},
                 .toe = {0, 0, 1}},
        .ball = strike_usual_ball(),
        .contact = {.restitution = c->e, .friction = c->friction}};
}

/* What becomes of the slip. */
typedef enum course { SLIDES_OFF, STICKS_EARLY, STICKS_LATE, SLIPS_BACK, JAMS } course;

/* Normal and tangential impulse (up the face, on the ball). */
typedef struct plane_answer {
    double p, q;
    course course;
} plane_answer;

/* Slip up the face at first: friction -mu p until it stops at `stop`; then it sticks, or slips
 * back. All rates are constant, so every work of the normal impulse is a difference of squares
 * of u. */
static plane_answer plane_solve(const plane *c)
{
    const strike s = plane_strike(c);
    const double n_arm = c->x * sin(c->loft) - c->y * cos(c->loft); /* r x n, r x t */
    const double t_arm = c->x * cos(c->loft) + c->y * sin(c->loft);
    const double masses = 1 / s.ball.mass + 1 / c->mass;
    const double nn = masses + n_arm * n_arm / c->inertia, nt = n_arm * t_arm / c->inertia;
    const double tt =
        masses + t_arm * t_arm / c->inertia + s.ball.radius * s.ball.radius / s.ball.inertia;
    const double closing = c->speed * cos(c->loft), mu = c->friction, rate = nn - mu * nt;
    const double stop = c->speed * sin(c->loft) / (mu * tt - nt);
    const double at_stop = -closing + rate * stop; /* u */
    plane_answer a = {.p = (1 + c->e) * closing / rate, .course = SLIDES_OFF};
    if (stop < 0 || (rate > 0 && stop > a.p)) {
        a.q = -mu * a.p;
        return a;
    }
    const bool back = fabs(nt) > mu * tt;
    const double pull = back ? (nt > 0 ? -mu : mu) : -nt / tt; /* dq/dp from there */
    a.course = back ? SLIPS_BACK : rate < 0 ? JAMS : at_stop < 0 ? STICKS_EARLY : STICKS_LATE;
    const double then = nn + pull * nt;
    const double turn = closing * closing / (2 * rate), rest = at_stop * at_stop;
    const double end = at_stop < 0
                           ? c->e * sqrt(2 * then * (turn - rest / (2 * rate) + rest / (2 * then)))
                           : sqrt(rest + 2 * then * (c->e * c->e * turn - rest / (2 * rate)));
    a.p = stop + (end - at_stop) / then;
    a.q = -mu * stop + pull * (a.p - stop);
    return a;
}

static void test_in_a_plane(void **state)
{
    (void)state;
    const record_source source = {RECORD_EXACT,
                                  "rates constant between events; Stronge's energetic restitution"};
    static const struct {
        const char *name;
        plane plane;
        course course;
    } cases[] = {
        {"it slides off, 64 deg of loft, struck in line",
         {1.117, 0.3, 4e-4, 0, 0, 35, 0.7, 0.15},
         SLIDES_OFF},
        {"it slides off, struck out of line",
         {1.047, 0.3, 4e-4, 0.03, -0.02, 35, 0.7, 0.12},
         SLIDES_OFF},
        {"it sticks in compression", {0.7, 0.2, 3e-4, 0.03, 0.01, 40, 0.75, 0.4}, STICKS_EARLY},
        {"it sticks in restitution", {1.0, 0.2, 3e-4, 0.03, -0.01, 40, 0.75, 0.34}, STICKS_LATE},
        {"it slips back", {0.15, 0.2, 1e-5, 0.03, 0.03, 40, 0.75, 0.1}, SLIPS_BACK},
        {"friction drives it further in at first", {0.9, 0.02, 1e-6, 0.03, 0, 40, 0.6, 1.5}, JAMS},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const plane_answer want = plane_solve(&cases[i].plane);
        const strike s = plane_strike(&cases[i].plane);
        const impact_result r = strike_run(&s);
        const vec3 up = vec3_cross(s.face.toe, s.face.normal);
        char name[120];
        assert_int_equal(want.course, cases[i].course);
        assert_int_equal(r.sliding, want.course == SLIDES_OFF || want.course == SLIPS_BACK);
        assert_close(r.impulse.z, 0, 0, 1e-13);
        snprintf(name, sizeof name, "%s: normal impulse", cases[i].name);
        verify(name, source, "N s", vec3_dot(r.impulse, r.normal), want.p, 5e-10, 0);
        snprintf(name, sizeof name, "%s: impulse up the face", cases[i].name);
        verify(name, source, "N s", vec3_dot(r.impulse, up), want.q, 5e-10, 0);
    }
}

/* ------------------------------------------------------------------ what mechanics demands */

static void test_momentum(void **state)
{
    (void)state;
    double momentum = 0, moment = 0;
    /* A fixed point that is neither body's. */
    const vec3 fixed = {0.3, -0.5, 0.2};
    for (uint64_t n = 0; n < STRIKES; n++) {
        const strike s = strike_any(n);
        const impact_result r = strike_run(&s);
        const vec3 ball_at = vec3_sub(vec3_axpy(s.ball.radius, r.normal, r.point), fixed);
        const vec3 head_at = vec3_scale(-1, fixed);
        const vec3 before = vec3_scale(s.head.mass, s.head.velocity);
        const vec3 head = vec3_scale(s.head.mass, r.head_velocity);
        const vec3 ball = vec3_scale(s.ball.mass, r.ball_velocity);
        const vec3 gain = vec3_sub(vec3_add(head, ball), before);
        vec3 turn = mat3_apply(&s.head.inertia, vec3_sub(r.head_spin, s.head.spin));
        turn = vec3_axpy(s.ball.inertia, r.ball_spin, turn);
        turn = vec3_add(turn, vec3_cross(head_at, vec3_sub(head, before)));
        turn = vec3_add(turn, vec3_cross(ball_at, ball));
        record_most(&momentum, vec3_norm(gain) / vec3_norm(before));
        record_most(&moment, vec3_norm(turn) / (vec3_norm(fixed) * vec3_norm(before)));
    }
    verify_within("momentum gained, of the head's", law, "", momentum, 1e-13);
    verify_within("moment of momentum gained about a fixed point", law, "", moment, 1e-13);
}

static double energy(const strike *s, vec3 head, vec3 head_spin, vec3 ball, vec3 ball_spin)
{
    return 0.5 *
           (s->head.mass * vec3_dot(head, head) +
            vec3_dot(head_spin, mat3_apply(&s->head.inertia, head_spin)) +
            s->ball.mass * vec3_dot(ball, ball) + s->ball.inertia * vec3_dot(ball_spin, ball_spin));
}

static void test_energy(void **state)
{
    (void)state;
    const record_source stronge = {RECORD_LAW, "Stronge's hypothesis; the same strikes"};
    double made = -1, told = 0, share = 0;
    const vec3 none = {0, 0, 0};
    for (uint64_t n = 0; n < STRIKES; n++) {
        const strike s = strike_any(n);
        const impact_result r = strike_run(&s);
        const double before = energy(&s, s.head.velocity, s.head.spin, none, none);
        const double after = energy(&s, r.head_velocity, r.head_spin, r.ball_velocity, r.ball_spin);
        const double e2 = r.restitution * r.restitution;
        made = fmax(made, (after - before) / before);
        record_most(&told, (before - after - r.lost) / before);
        /* What friction did not take the normal impulse did: all its work but e^2 of that in
         * compression. */
        record_most(&share, ((before - after - r.rubbed) - (1 - e2) * r.compressed) / before);
        assert_true(r.compressed > 0 && r.rubbed >= 0);
    }
    verify_within("energy made, of what there was", law, "", made, 1e-12);
    verify_within("energy lost against what is reported", law, "", told, 1e-12);
    verify_within("loss by the normal impulse against 1 - e^2 of its work in compression", stronge,
                  "", share, 1e-9);
}

static void test_friction(void **state)
{
    (void)state;
    double outside = -1, through = -1, slip = 0, kinds[2] = {0, 0};
    for (uint64_t n = 0; n < STRIKES; n++) {
        const strike s = strike_any(n);
        const impact_result r = strike_run(&s);
        const double p = vec3_dot(r.impulse, r.normal);
        const vec3 w = strike_parting(&s, &r);
        const double q = vec3_norm(strike_across(r.impulse, r.normal));
        outside = fmax(outside, (q - s.contact.friction * p) / p);
        through = fmax(through, -vec3_dot(w, r.normal) / r.closing);
        if (!r.sliding)
            record_most(&slip, vec3_norm(strike_across(w, r.normal)) / r.closing);
        kinds[r.sliding]++;
    }
    assert_true(kinds[0] > STRIKES / 10 && kinds[1] > STRIKES / 10);
    verify_within("impulse outside the cone of friction, of its normal part", law, "", outside,
                  1e-9);
    verify_within("speed into the face as they part, of the closing speed", law, "", through, 1e-9);
    verify_within("slip of a ball that rolls off, of the closing speed", law, "", slip, 1e-9);
}

/* ------------------------------------------------------------------ symmetry */

/* In the mirror z -> -z: places and velocities, and what turns. */
static vec3 mirrored(vec3 v)
{
    return vec3_make(v.x, v.y, -v.z);
}

static vec3 mirrored_spin(vec3 v)
{
    return vec3_make(-v.x, -v.y, v.z);
}

/* Toe and heel change sides, so that up the face stays up. */
static strike mirrored_strike(const strike *s)
{
    strike m = *s;
    for (int i = 0; i < 2; i++) {
        m.head.inertia.m[i][2] *= -1;
        m.head.inertia.m[2][i] *= -1;
    }
    m.head.velocity = mirrored(s->head.velocity);
    m.head.spin = mirrored_spin(s->head.spin);
    m.face.middle = mirrored(s->face.middle);
    m.face.normal = mirrored(s->face.normal);
    m.face.toe = vec3_scale(-1, mirrored(s->face.toe));
    m.place.toe = -s->place.toe;
    return m;
}

static strike turned_strike(const strike *s, const mat3 *by)
{
    strike t = *s;
    const mat3 half = mat3_multiply(by, &s->head.inertia);
    t.head.inertia = mat3_multiply_t(&half, by);
    t.head.velocity = mat3_apply(by, s->head.velocity);
    t.head.spin = mat3_apply(by, s->head.spin);
    t.face.middle = mat3_apply(by, s->face.middle);
    t.face.normal = mat3_apply(by, s->face.normal);
    t.face.toe = mat3_apply(by, s->face.toe);
    return t;
}

/* Of the speeds at the contact. */
static double apart(const strike *s, vec3 velocity, vec3 spin, const impact_result *r)
{
    return (vec3_norm(vec3_sub(velocity, r->ball_velocity)) +
            s->ball.radius * vec3_norm(vec3_sub(spin, r->ball_spin))) /
           vec3_norm(r->ball_velocity);
}

static void test_symmetry(void **state)
{
    (void)state;
    double mirror = 0, turn = 0;
    for (uint64_t n = 0; n < STRIKES; n++) {
        const strike s = strike_any(n), m = mirrored_strike(&s);
        uint64_t item = 100;
        const mat3 by = mat3_rotation(strike_vector(n, &item, 3));
        const strike t = turned_strike(&s, &by);
        const impact_result r = strike_run(&s), rm = strike_run(&m), rt = strike_run(&t);
        record_most(&mirror,
                    apart(&s, mirrored(rm.ball_velocity), mirrored_spin(rm.ball_spin), &r));
        record_most(&turn, apart(&s, mat3_apply_t(&by, rt.ball_velocity),
                                 mat3_apply_t(&by, rt.ball_spin), &r));
    }
    verify_within("ball of the mirrored strike against the mirrored ball", law, "", mirror, 1e-9);
    verify_within("ball of the strike seen in other axes", law, "", turn, 2e-9);
}

/* ------------------------------------------------------------------ gear effect */

static const double half_inch = 0.5 * 0.0254, mile_an_hour = 0.44704;

/* The head of Proceedings 2020, 49(1):47, table 1, in axes (face normal, up, toe), which the
 * table's are taken for; it travels level, the face looking up by the loft. */
static strike measured_head(double bulge)
{
    const double loft = 9.8 * degree, speed = 45;
    return (strike){.head = {.mass = 0.204,
                             .inertia = {{{2843e-7, -733e-7, 530.2e-7},
                                          {-733e-7, 5679e-7, 0.5e-7},
                                          {530.2e-7, 0.5e-7, 4085e-7}}},
                             .velocity = {speed * cos(loft), -speed * sin(loft), 0}},
                    .face = {.middle = {0.0423, -0.0029, -0.001},
                             .normal = {1, 0, 0},
                             .toe = {0, 0, 1},
                             .bulge = bulge},
                    .ball = strike_ball(0.0459, 0.0213),
                    .contact = {.restitution = 0.83, .friction = 0.4}};
}

/* rad/s that half an inch towards the toe adds to the spin about the axis up the face, where
 * positive curves the ball towards a right-handed golfer (a draw); and the ball speed. */
static double gear_spin(strike s, double *speed)
{
    s.place.toe = half_inch;
    const impact_result toe = strike_run(&s);
    s.place.toe = -half_inch;
    const impact_result heel = strike_run(&s);
    *speed = (toe.ball_velocity.x + heel.ball_velocity.x) / 2;
    return (toe.ball_spin.y - heel.ball_spin.y) / 2;
}

/* Of the speed at which the face turns away along itself, C w = C m v x/I, a free ball that
 * rolls off takes up this in spin: friction also carries the ball along, and pushes the face
 * back and turns it. */
static double taken_up(const strike *s)
{
    const double m = s->ball.mass, depth = s->face.middle.x;
    const double roll = m * s->ball.radius * s->ball.radius / s->ball.inertia;
    return roll / (1 + roll + m / s->head.mass + m * depth * depth / s->head.inertia.m[1][1]);
}

/* The head struck level and square at the height of its centre of mass, heel to toe. */
static void test_gear_effect(void **state)
{
    (void)state;
    const record_source exact = {RECORD_EXACT, "(m v x C/I)/R, of which the ball takes up "
                                               "2.5/(3.5 + m/M + m C^2/I)"};
    strike s = measured_head(0);
    for (int i = 0; i < 9; i++)
        if (i % 4)
            s.head.inertia.m[i / 3][i % 3] = 0;
    s.head.velocity = vec3_make(45, 0, 0);
    s.face.middle = vec3_make(0.0423, 0, 0);
    double speed;
    const double spin = gear_spin(s, &speed);
    const double geared = s.ball.mass * speed * half_inch * s.face.middle.x /
                          (s.head.inertia.m[1][1] * s.ball.radius);
    verify("gear effect of half an inch to the toe, flat face, no loft", exact, "rpm",
           spin * CABER_RPM, taken_up(&s) * geared * CABER_RPM, 1e-10, 0);
}

/* The rule of thumb is the ball geared to the head's turning and nothing else, R w_ball = C
 * w_head. Its 58830 is m/R of the ball in its units, 59290 for the heaviest and smallest. It is
 * for the gear effect alone: what a bulge does comes on top, and against it. A ball that rolls
 * off takes up 0.65 of the rule; a real one, which friction winds up and lets go, may take up
 * more (from memory). */
static void test_rule_of_thumb(void **state)
{
    (void)state;
    const record_source rule = {
        RECORD_PRACTICE, "a public article's rule of thumb, 58830 V C x/I in mph, in, g cm2"};
    const record_source taken = {RECORD_PRACTICE,
                                 "the same rule, of which a free ball takes up 0.65"};
    const record_source bulge = {RECORD_PRACTICE,
                                 "the same article's table: 676 rpm, 150 mph, bulge 12 in"};
    const strike flat = measured_head(0);
    const double inch = 0.0254, middle = flat.face.middle.x / inch;
    verify("factor of the rule: m/R of the ball in its units", rule, "",
           0.04593 / (0.04267 / 2) * mile_an_hour * inch * inch * 1e7 * CABER_RPM, 58830, 0.01, 0);
    double speed;
    const double spin = gear_spin(flat, &speed);
    const double geared = 58830 * (speed / mile_an_hour) * middle * 0.5 / 5679;
    /* The rule knows no products of inertia; these turn the head 4 % more easily about the
     * vertical, and about a lofted axis. */
    verify("gear effect of half an inch to the toe, a measured head as if flat", taken, "rpm",
           spin * CABER_RPM, taken_up(&flat) * geared, 0.1, 0);
    const double rest = gear_spin(measured_head(12 * inch), &speed);
    verify("what its bulge takes from that", bulge, "rpm", (spin - rest) * CABER_RPM,
           676 * speed / (150 * mile_an_hour), 0.05, 0);
    assert_true(rest > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_penner),
        cmocka_unit_test(test_drives_worked_apart),
        cmocka_unit_test(test_ball_of_the_rules),
        cmocka_unit_test(test_in_a_plane),
        cmocka_unit_test(test_momentum),
        cmocka_unit_test(test_energy),
        cmocka_unit_test(test_friction),
        cmocka_unit_test(test_symmetry),
        cmocka_unit_test(test_gear_effect),
        cmocka_unit_test(test_rule_of_thumb),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
