/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * From the swing to the ball: the head that a swing hands on, against what the swing says of it in
 * other words; what is said of a launch, against a published closed form turned about in space; and
 * whether the demonstration players drive the ball as golfers do. */
#include "check.h"
#include "record.h"
#include "setups.h"
#include "swing/model.h"

/* ------------------------------------------------------------------ the head that arrives */

/* A swing of a demo setup with its time series, finely sampled. */
typedef struct swung {
    caber_setup *setup;
    caber_model *model;
    caber_trace *trace;
    caber_swing swing;
} swung;

static swung swung_make(const char *name)
{
    swung s = {.setup = setups_read(name), .trace = caber_trace_create()};
    caber_message message;
    assert_non_null(s.trace);
    s.setup->settings.sample = 1e-4;
    setups_fine(caber_model_create(s.setup, &s.model, &message), &message);
    s.swing = setups_swing(s.setup, s.trace);
    return s;
}

static void swung_free(swung *s)
{
    caber_trace_free(s->trace);
    caber_model_free(s->model);
    caber_setup_free(s->setup);
}

static vec3 vec3_of(const double a[3])
{
    return vec3_make(a[0], a[1], a[2]);
}

/* Trace, sum of the principal minors, determinant: no rotation changes them. */
static void invariants(const mat3 *a, double out[3])
{
    const double(*m)[3] = a->m;
    out[0] = m[0][0] + m[1][1] + m[2][2];
    out[1] = m[0][0] * m[1][1] - m[0][1] * m[1][0] + m[1][1] * m[2][2] - m[1][2] * m[2][1] +
             m[0][0] * m[2][2] - m[0][2] * m[2][0];
    out[2] = vec3_dot(mat3_column(a, 0), vec3_cross(mat3_column(a, 1), mat3_column(a, 2)));
}

static mat3 inertia_of(const caber_arrival *h)
{
    const double *i = h->inertia;
    return (mat3){{{i[0], i[3], i[4]}, {i[3], i[1], i[5]}, {i[4], i[5], i[2]}}};
}

/* u' a v */
static double form(const mat3 *a, vec3 u, vec3 v)
{
    return vec3_dot(u, mat3_apply(a, v));
}

/* The tensor as seen along the face's own directions, which turn with it; over its trace. */
static double orientation_off(const swung *s, const caber_arrival *h)
{
    const club_head *head = &s->model->club->head;
    const mat3 *body = &s->model->club->tip.inertia, turned = inertia_of(h);
    const vec3 n = head->normal, flat = vec3_axpy(-vec3_dot(head->toe, n), n, head->toe);
    const vec3 toe = vec3_scale(1 / vec3_norm(flat), flat);
    const vec3 now_n = vec3_of(h->normal), now_toe = vec3_of(h->toe);
    double off = 0;
    record_most(&off, form(&turned, now_n, now_n) - form(body, n, n));
    record_most(&off, form(&turned, now_toe, now_toe) - form(body, toe, toe));
    record_most(&off, form(&turned, now_n, now_toe) - form(body, n, toe));
    return off / (body->m[0][0] + body->m[1][1] + body->m[2][2]);
}

static void check_body(const swung *s, const caber_arrival *h, double off[5])
{
    const beam_body *body = &s->model->club->tip;
    const mat3 turned = inertia_of(h);
    double got[3], want[3];
    invariants(&turned, got);
    invariants(&body->inertia, want);
    for (int k = 0; k < 3; k++) {
        assert_true(got[k] > 0); /* with all three above 0 it is positive definite */
        record_most(&off[0], got[k] / want[k] - 1);
    }
    record_most(&off[4], orientation_off(s, h));
    const vec3 face = vec3_sub(s->model->club->head.face_centre, body->centre);
    record_most(&off[1], vec3_norm(vec3_of(h->face)) / vec3_norm(face) - 1);
    record_most(&off[2], vec3_dot(vec3_of(h->normal), vec3_of(h->toe)));
    record_most(&off[2], vec3_norm(vec3_of(h->normal)) - 1);
    record_most(&off[2], vec3_norm(vec3_of(h->toe)) - 1);
    record_most(&off[3], h->mass / body->mass - 1);
}

/* -d/dt atan2(n.S, n.T) with n' = w x n. */
static double closing_rate(const caber_arrival *h)
{
    const vec3 n = vec3_of(h->normal), rate = vec3_cross(vec3_of(h->spin), n);
    return -(n.x * rate.z - n.z * rate.x) / (n.x * n.x + n.z * n.z);
}

static void check_angles(const caber_arrival *h, const caber_impact *said, double off[2])
{
    record_most(&off[0], asin(h->normal[1]) - said->delivered_loft);
    record_most(&off[0], atan2(h->normal[2], h->normal[0]) - said->face_angle);
    record_most(&off[1], closing_rate(h) / said->closure_rate - 1);
}

/* The slope of the parabola through the last three values, at the last. */
static double last_slope(const caber_trace *t, size_t offset)
{
    double x[3], y[3];
    for (size_t k = 0; k < 3; k++) {
        const caber_trace_row *row = &t->rows[t->count - 3 + k];
        x[k] = row->time;
        memcpy(&y[k], (const char *)row + offset, sizeof y[k]);
    }
    const double a = x[2] - x[1], b = x[2] - x[0], c = x[1] - x[0];
    return y[2] * (1 / a + 1 / b) - y[1] * b / (a * c) + y[0] * a / (b * c);
}

/* v + w x face against how the middle of the face moves through the last 0.2 ms. */
static double face_speed_off(const swung *s)
{
    const caber_arrival *h = &s->swing.head;
    const vec3 moved = {last_slope(s->trace, offsetof(caber_trace_row, head_ahead)),
                        last_slope(s->trace, offsetof(caber_trace_row, head_up)),
                        last_slope(s->trace, offsetof(caber_trace_row, head_out))};
    const vec3 v = vec3_add(vec3_of(h->velocity), vec3_cross(vec3_of(h->spin), vec3_of(h->face)));
    return vec3_norm(vec3_sub(v, moved));
}

static void the_head_that_arrives(void **state)
{
    (void)state;
    double body[5] = {0}, angles[2] = {0}, speed = 0;
    for (size_t i = 0; i < SETUPS_DEMO_COUNT; i++) {
        swung s = swung_make(setups_demo[i]);
        check_body(&s, &s.swing.head, body);
        check_body(&s, &s.swing.straight_head, body);
        check_angles(&s.swing.head, &s.swing.bent, angles);
        check_angles(&s.swing.straight_head, &s.swing.straight, angles);
        record_most(&speed, face_speed_off(&s));
        swung_free(&s);
    }
    const record_source turned = {RECORD_LAW, "a rotation changes no invariant of a tensor, and "
                                              "no length; every demo setup, both clubs; largest"};
    verify_within("inertia of the head that arrives, by its invariants", turned, "1", body[0],
                  1e-12);
    verify_within("the same along its face and across", turned, "1", body[4], 1e-12);
    verify_within("its distance from centre of mass to face", turned, "1", body[1], 1e-12);
    verify_within("its normal and toe direction, unit and square", turned, "1", body[2], 1e-14);
    assert_true(body[3] == 0);
    const record_source other = {RECORD_INDEPENDENT,
                                 "delivered loft, face angle and closure rate, from the joints and "
                                 "the bent shaft; every demo setup, both clubs; largest"};
    verify_within("where its face looks", other, "rad", angles[0], 1e-12);
    verify_within("how fast it closes, by its spin", other, "1", angles[1], 1e-9);
    const record_source series = {RECORD_INDEPENDENT,
                                  "differences of the time series over the last 0.2 ms; every demo "
                                  "setup, largest"};
    /* h^2/3 of a third derivative of 40 m/s (30 rad/s)^2: 1e-4 m/s, and the series' own digits. */
    verify_within("velocity of its face, by its centre of mass and spin", series, "m/s", speed,
                  1e-3);
}

/* ------------------------------------------------------------------ the launch */

/* A flat face on a head that does not turn, as hard as A. R. Penner's. */
static caber_setup *penner_setup(void)
{
    caber_setup *s = setups_read("neutral-smooth");
    s->head.bulge = s->head.roll = 0;
    s->head.restitution = 0.86;
    s->head.restitution_speed = 0;
    s->head.restitution_loss = 0.0029;
    s->head.friction = 1;
    return s;
}

/* The head of that drive, turned about the ball's launch by `tilt`, then about the vertical by
 * `azimuth`. */
static caber_arrival penner_head(double speed, double loft, double launch, double tilt,
                                 double azimuth)
{
    const vec3 along = {cos(launch), sin(launch), 0}, up = {0, 1, 0};
    const mat3 tilted = mat3_rotation(vec3_scale(tilt, along));
    const mat3 around = mat3_rotation(vec3_scale(-azimuth, up)); /* away from the golfer positive */
    const mat3 turn = mat3_multiply(&around, &tilted);
    const vec3 velocity = mat3_apply(&turn, vec3_make(speed, 0, 0));
    const vec3 normal = mat3_apply(&turn, vec3_make(cos(loft), sin(loft), 0));
    const vec3 toe = mat3_apply(&turn, vec3_make(0, 0, 1));
    const vec3 face = mat3_apply(&turn, vec3_make(0.03, 0, 0));
    return (caber_arrival){.mass = 0.2,
                           .inertia = {1e9, 1e9, 1e9, 0, 0, 0},
                           .velocity = {velocity.x, velocity.y, velocity.z},
                           .speed = speed,
                           .face = {face.x, face.y, face.z},
                           .normal = {normal.x, normal.y, normal.z},
                           .toe = {toe.x, toe.y, toe.z}};
}

/* Space has no direction for an impact, so the ball leaves the turned head turned alike: by the
 * azimuth in its direction, and by the tilt in the axis of its spin, which is turned about the
 * launch. */
static void a_launch_in_any_direction(void **state)
{
    (void)state;
    enum { COUNT = 60 };
    caber_setup *s = penner_setup();
    double off[5] = {0};
    for (int i = 0; i < COUNT; i++) {
        const double speed = 32 + i % 5 * 5, loft = (8 + i % 7 * 3) / CABER_DEG;
        const double tilt = (i - 30) * 1.2 / CABER_DEG, azimuth = (17 - i) * 0.9 / CABER_DEG;
        const double m = s->ball.mass, big = 0.2, e = 0.86 - 0.0029 * speed * cos(loft);
        const double square = (1 + e) * speed * cos(loft) / (1 + m / big);
        const double across = speed * sin(loft) / (1 + m / big + 2.5);
        const double launch = loft - atan2(across, square);
        const double spin = across / (0.4 * s->ball.diameter / 2);
        const caber_arrival head = penner_head(speed, loft, launch, tilt, azimuth);
        caber_message message;
        caber_shot shot;
        setups_fine(caber_shot_run(s, &head, (caber_place){0, 0}, &shot, &message), &message);
        record_most(&off[0], shot.smash - hypot(square, across) / speed);
        record_most(&off[1], shot.launch_angle - launch);
        record_most(&off[1], shot.launch_direction - azimuth);
        record_most(&off[2], shot.backspin - spin * cos(tilt));
        record_most(&off[2], shot.sidespin - spin * sin(tilt));
        record_most(&off[3], shot.spin_axis - tilt);
    }
    caber_setup_free(s);
    const record_source penner = {RECORD_QUOTED,
                                  "A. R. Penner 2001, Am. J. Phys. 69:563, turned about launch and "
                                  "vertical; 60 drives, 32 to 52 m/s, 8 to 26 deg; largest"};
    verify_within("smash factor", penner, "1", off[0], 1e-11);
    verify_within("launch angle and direction", penner, "rad", off[1], 1e-11);
    /* The impact is integrated to some 1e-12 of 50 m/s, at the rim of the ball 1e-8 rad/s. */
    verify_within("backspin and sidespin", penner, "rad/s", off[2], 5e-8);
    verify_within("tilt of the spin's axis", penner, "rad", off[3], 1e-11);
}

/* ------------------------------------------------------------------ the demonstration players */

/* What drives of 40 to 45 m/s of head speed do, from memory: a smash factor of 1.42 to 1.50,
 * launches of 5 to 16 deg, backspin of 1800 to 3800 rpm, a descent of 10 to 45 deg. */
static void the_demo_players_drive_like_golfers(void **state)
{
    (void)state;
    static const struct {
        const char *what, *unit;
        size_t offset;
        double factor, middle, most;
    } range[] = {
        {"smash factor", "1", offsetof(caber_shot, smash), 1, 1.46, 0.04},
        {"launch angle", "deg", offsetof(caber_shot, launch_angle), CABER_DEG, 10.5, 5.5},
        {"backspin", "rpm", offsetof(caber_shot, backspin), CABER_RPM, 2800, 1000},
        {"descent angle", "deg", offsetof(caber_shot, descent_angle), CABER_DEG, 27.5, 17.5},
    };
    enum { RANGES = sizeof range / sizeof *range };
    const record_source memory = {RECORD_MEMORY,
                                  "drives of golfers; every demo setup, the furthest "
                                  "from the middle of the range"};
    double off[RANGES] = {0};
    for (size_t i = 0; i < SETUPS_DEMO_COUNT; i++) {
        caber_setup *s = setups_read(setups_demo[i]);
        const caber_swing swing = setups_swing(s, NULL);
        caber_message message;
        caber_shot_pair pair;
        setups_fine(caber_shot_pair_run(s, &swing, &pair, &message), &message);
        for (size_t k = 0; k < RANGES; k++) {
            double v;
            memcpy(&v, (const char *)&pair.bent + range[k].offset, sizeof v);
            record_most(&off[k], v * range[k].factor - range[k].middle);
        }
        caber_setup_free(s);
    }
    for (size_t k = 0; k < RANGES; k++) {
        char problem[96];
        snprintf(problem, sizeof problem, "drives of the demo players: %s, from %g", range[k].what,
                 range[k].middle);
        verify_within(problem, memory, range[k].unit, off[k], range[k].most);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_head_that_arrives),
        cmocka_unit_test(a_launch_in_any_direction),
        cmocka_unit_test(the_demo_players_drive_like_golfers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
