/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The impact of head and ball: the face's geometry, laws that hold whatever the head, edge cases. */
#include "check.h"

#include "ball/impact.h"
#include "base/random.h"

enum { HEADS = 3000 };
static const uint64_t seed = 20260;

/* A driver's head in axes (forward, up, away from the golfer) = (x, y, z). */
__attribute__((unused)) static impact_head driver(void)
{
    return (impact_head){
        .mass = 0.2,
        .inertia = {{{2.5e-4, -2e-5, 3e-5}, {-2e-5, 4.5e-4, 1e-5}, {3e-5, 1e-5, 3e-4}}},
        .velocity = {45, 2, -1},
        .spin = {5, -30, 12}};
}

__attribute__((unused)) static impact_face curved(void)
{
    const double loft = 0.18;
    return (impact_face){.middle = {0.035, -0.002, 0.004},
                         .normal = {cos(loft), sin(loft), 0},
                         .toe = {0, 0, 1},
                         .bulge = 0.3,
                         .roll = 0.25};
}

static impact_ball usual_ball(void)
{
    const caber_ball b = caber_ball_default();
    const double r = b.diameter / 2;
    return (impact_ball){.mass = b.mass, .radius = r, .inertia = b.inertia * b.mass * r * r};
}

__attribute__((unused)) static impact_contact usual_contact(void)
{
    return (impact_contact){.restitution = 0.83, .speed = 40, .loss = 0.003, .friction = 0.3};
}

static impact_result run(const impact_head *head, const impact_face *face, caber_place place,
                         const impact_ball *ball, const impact_contact *contact)
{
    impact_result r;
    caber_message message;
    const caber_status status = impact_run(head, face, place, ball, contact, &r, &message);
    if (status != CABER_OK)
        fail_msg("%s", message.text);
    assert_string_equal(message.text, "");
    return r;
}

/* ------------------------------------------------------------------ any head, face, ball, contact */

typedef struct strike {
    impact_head head;
    impact_face face;
    caber_place place;
    impact_ball ball;
    impact_contact contact;
} strike;

static double even(uint64_t strike_number, uint64_t *item, double low, double high)
{
    return low + (high - low) * random_even(seed, strike_number, (*item)++);
}

static vec3 even_vector(uint64_t n, uint64_t *item, double size)
{
    const double x = even(n, item, -size, size), y = even(n, item, -size, size);
    return vec3_make(x, y, even(n, item, -size, size));
}

/* The face is met wherever and however the draw has it; the closing speed is above 0. */
static strike any_strike(uint64_t n)
{
    uint64_t item = 0;
    strike s;
    s.head.mass = exp(even(n, &item, log(0.02), log(2)));
    const double size = s.head.mass * exp(even(n, &item, log(1e-4), log(5e-3)));
    const mat3 turn = mat3_rotation(even_vector(n, &item, 2));
    /* Of three principal moments none exceeds the sum of the others. */
    const double a = even(n, &item, 0.05, 1), b = even(n, &item, 0.05, 1),
                 c = even(n, &item, 0.05, 1);
    const mat3 principal = {
        {{size * (b + c), 0, 0}, {0, size * (a + c), 0}, {0, 0, size * (a + b)}}};
    const mat3 half = mat3_multiply(&turn, &principal);
    s.head.inertia = mat3_multiply_t(&half, &turn);
    const mat3 pose = mat3_rotation(even_vector(n, &item, 2));
    s.face.normal = mat3_column(&pose, 0);
    s.face.toe = mat3_column(&pose, 1);
    s.face.middle = even_vector(n, &item, 0.06);
    s.face.bulge = n % 3 ? even(n, &item, 0.15, 0.5) : 0;
    s.face.roll = n % 4 ? even(n, &item, 0.15, 0.5) : 0;
    s.place.toe = even(n, &item, -0.04, 0.04);
    s.place.high = even(n, &item, -0.03, 0.03);
    s.ball = usual_ball();
    s.ball.mass *= even(n, &item, 0.5, 2);
    s.ball.inertia *= even(n, &item, 0.5, 1.6);
    s.contact = (impact_contact){.restitution = n % 7 ? even(n, &item, 0, 1) : (double)(n % 2),
                                 .friction = n % 11 ? exp(even(n, &item, log(0.005), log(2))) : 0};
    vec3 point, normal;
    impact_face_at(&s.face, s.place, &point, &normal);
    s.head.spin = even_vector(n, &item, 60);
    /* What closes, and what slides across it. */
    const vec3 met = vec3_add(vec3_scale(even(n, &item, 1, 50), normal),
                              vec3_cross(normal, even_vector(n, &item, n % 5 ? 50 : 3)));
    s.head.velocity = vec3_sub(met, vec3_cross(s.head.spin, point));
    return s;
}

static double kinetic(double mass, const mat3 *inertia, vec3 velocity, vec3 spin)
{
    return 0.5 * mass * vec3_dot(velocity, velocity) +
           0.5 * vec3_dot(spin, mat3_apply(inertia, spin));
}

/* Of ball against head where they touch. */
static vec3 contact_speed(const impact_ball *ball, const impact_result *r)
{
    const vec3 arm = vec3_scale(-ball->radius, r->normal);
    const vec3 of_ball = vec3_add(r->ball_velocity, vec3_cross(r->ball_spin, arm));
    return vec3_sub(of_ball, vec3_add(r->head_velocity, vec3_cross(r->head_spin, r->point)));
}

static vec3 across(vec3 v, vec3 normal)
{
    return vec3_axpy(-vec3_dot(v, normal), normal, v);
}

static void assert_same(vec3 got, vec3 want, double allowed)
{
    assert_close(vec3_norm(vec3_sub(got, want)), 0, 0, allowed);
}

static void test_momentum_is_kept(void **state)
{
    (void)state;
    for (uint64_t n = 0; n < HEADS; n++) {
        const strike s = any_strike(n);
        const impact_result r = run(&s.head, &s.face, s.place, &s.ball, &s.contact);
        const double size = s.head.mass * vec3_norm(s.head.velocity);
        const vec3 after =
            vec3_axpy(s.ball.mass, r.ball_velocity, vec3_scale(s.head.mass, r.head_velocity));
        assert_same(after, vec3_scale(s.head.mass, s.head.velocity), 1e-13 * size);
        /* About the head's centre of mass at the impact, a fixed point. */
        const vec3 centre = vec3_axpy(s.ball.radius, r.normal, r.point);
        const vec3 before = mat3_apply(&s.head.inertia, s.head.spin);
        vec3 moment = mat3_apply(&s.head.inertia, r.head_spin);
        moment = vec3_axpy(s.ball.inertia, r.ball_spin, moment);
        moment = vec3_axpy(s.ball.mass, vec3_cross(centre, r.ball_velocity), moment);
        assert_same(moment, before, 1e-12 * (vec3_norm(before) + 0.1 * size));
    }
}

static void test_energy_is_never_made(void **state)
{
    (void)state;
    const mat3 none = {{{0}}};
    for (uint64_t n = 0; n < HEADS; n++) {
        const strike s = any_strike(n);
        const impact_result r = run(&s.head, &s.face, s.place, &s.ball, &s.contact);
        const double before = kinetic(s.head.mass, &s.head.inertia, s.head.velocity, s.head.spin);
        const double ball = kinetic(s.ball.mass, &none, r.ball_velocity, r.ball_spin) +
                            0.5 * s.ball.inertia * vec3_dot(r.ball_spin, r.ball_spin);
        const double after =
            ball + kinetic(s.head.mass, &s.head.inertia, r.head_velocity, r.head_spin);
        assert_close(r.lost, before - after, 0, 1e-12 * before);
        assert_true(r.lost >= -1e-12 * before);
        assert_true(r.compressed > 0 && r.rubbed >= 0);
        /* Stronge: of the work of compression, e^2 comes back. */
        const double e = r.restitution;
        assert_close((1 - e * e) * r.compressed + r.rubbed, before - after, 0, 1e-11 * before);
    }
}

static void test_friction_stays_in_its_cone(void **state)
{
    (void)state;
    int slid = 0, rolled = 0;
    for (uint64_t n = 0; n < HEADS; n++) {
        const strike s = any_strike(n);
        const impact_result r = run(&s.head, &s.face, s.place, &s.ball, &s.contact);
        const double p = vec3_dot(r.impulse, r.normal);
        const vec3 q = across(r.impulse, r.normal), w = contact_speed(&s.ball, &r);
        assert_true(p > 0);
        assert_true(vec3_norm(q) <= s.contact.friction * p + 1e-12 * p);
        /* They do not go through each other, and a ball that rolls off does not slide. */
        assert_true(vec3_dot(w, r.normal) >= -1e-12 * r.closing);
        if (!r.sliding)
            assert_close(vec3_norm(across(w, r.normal)), 0, 0, 1e-11 * r.closing);
        slid += r.sliding;
        rolled += !r.sliding;
    }
    assert_true(slid > HEADS / 10 && rolled > HEADS / 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_momentum_is_kept),
        cmocka_unit_test(test_energy_is_never_made),
        cmocka_unit_test(test_friction_stays_in_its_cone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
