/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Strikes for tests: an invented driver, and heads, faces and contacts far beyond what is
 * played. */
#ifndef TESTS_STRIKES_H
#define TESTS_STRIKES_H

#include "ball/impact.h"
#include "base/random.h"

typedef struct strike {
    impact_head head;
    impact_face face;
    caber_place place;
    impact_ball ball;
    impact_contact contact;
} strike;

static inline impact_ball strike_ball(double mass, double radius)
{
    return (impact_ball){.mass = mass, .radius = radius, .inertia = 0.4 * mass * radius * radius};
}

static inline impact_ball strike_usual_ball(void)
{
    const caber_ball b = caber_ball_default();
    return strike_ball(b.mass, b.diameter / 2);
}

/* An invented driver, in axes (towards the target, up, away from the golfer), toe-low. */
static inline strike strike_driver(void)
{
    const double loft = 0.18;
    return (strike){
        .head = {.mass = 0.2,
                 .inertia = {{{2.5e-4, -2e-5, 3e-5}, {-2e-5, 4.5e-4, 1e-5}, {3e-5, 1e-5, 3e-4}}},
                 .velocity = {45, 2, -1},
                 .spin = {5, -30, 12}},
        .face = {.middle = {0.035, -0.002, 0.004},
                 .normal = {cos(loft), sin(loft), 0},
                 .toe = {0, 0, 1},
                 .bulge = 0.3,
                 .roll = 0.25},
        .place = {.toe = 0.018, .high = -0.009},
        .ball = strike_usual_ball(),
        .contact = {.restitution = 0.83, .speed = 40, .loss = 0.003, .friction = 0.3}};
}

static inline double strike_even(uint64_t n, uint64_t *item, double low, double high)
{
    return low + (high - low) * random_even(20260, n, (*item)++);
}

static inline vec3 strike_vector(uint64_t n, uint64_t *item, double size)
{
    const double x = strike_even(n, item, -size, size), y = strike_even(n, item, -size, size);
    return vec3_make(x, y, strike_even(n, item, -size, size));
}

/* Any inertia that a body can have: of its principal moments none exceeds the sum of the others. */
static inline mat3 strike_inertia(uint64_t n, uint64_t *item, double size)
{
    const double a = strike_even(n, item, 0.05, 1), b = strike_even(n, item, 0.05, 1),
                 c = strike_even(n, item, 0.05, 1);
    const mat3 principal = {
        {{size * (b + c), 0, 0}, {0, size * (a + c), 0}, {0, 0, size * (a + b)}}};
    const mat3 turn = mat3_rotation(strike_vector(n, item, 2));
    const mat3 half = mat3_multiply(&turn, &principal);
    return mat3_multiply_t(&half, &turn);
}

/* Draw number n: it closes, but all else is as it happens to be. Each seventh is all or not at
 * all elastic, each eleventh has no friction, each fifth slides but slowly. */
static inline strike strike_any(uint64_t n)
{
    uint64_t item = 0;
    strike s = {.ball = strike_usual_ball()};
    s.head.mass = exp(strike_even(n, &item, log(0.02), log(2)));
    s.head.inertia =
        strike_inertia(n, &item, s.head.mass * exp(strike_even(n, &item, log(1e-4), log(5e-3))));
    const mat3 pose = mat3_rotation(strike_vector(n, &item, 2));
    s.face.normal = mat3_column(&pose, 0);
    s.face.toe = mat3_column(&pose, 1);
    s.face.middle = strike_vector(n, &item, 0.06);
    s.face.bulge = n % 3 ? strike_even(n, &item, 0.15, 0.5) : 0;
    s.face.roll = n % 4 ? strike_even(n, &item, 0.15, 0.5) : 0;
    s.place.toe = strike_even(n, &item, -0.04, 0.04);
    s.place.high = strike_even(n, &item, -0.03, 0.03);
    s.ball.mass *= strike_even(n, &item, 0.5, 2);
    s.ball.inertia *= strike_even(n, &item, 0.5, 1.6);
    s.contact.restitution = n % 7 ? strike_even(n, &item, 0, 1) : (double)(n % 2);
    s.contact.friction = n % 11 ? exp(strike_even(n, &item, log(0.005), log(2))) : 0;
    s.head.spin = strike_vector(n, &item, 60);
    vec3 point, normal;
    impact_face_at(&s.face, s.place, &point, &normal);
    const vec3 slip = vec3_cross(normal, strike_vector(n, &item, n % 5 ? 50 : 3));
    const vec3 met = vec3_axpy(strike_even(n, &item, 1, 50), normal, slip);
    s.head.velocity = vec3_sub(met, vec3_cross(s.head.spin, point));
    return s;
}

static inline impact_result strike_run(const strike *s)
{
    impact_result r;
    caber_message message;
    if (impact_run(&s->head, &s->face, s->place, &s->ball, &s->contact, &r, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return r;
}

static inline vec3 strike_across(vec3 v, vec3 normal)
{
    return vec3_axpy(-vec3_dot(v, normal), normal, v);
}

/* m/s, of ball against head where they touch, as they part. */
static inline vec3 strike_parting(const strike *s, const impact_result *r)
{
    const vec3 arm = vec3_scale(-s->ball.radius, r->normal);
    const vec3 of_ball = vec3_add(r->ball_velocity, vec3_cross(r->ball_spin, arm));
    return vec3_sub(of_ball, vec3_add(r->head_velocity, vec3_cross(r->head_spin, r->point)));
}

#endif
