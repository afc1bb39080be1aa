/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Load programs: values worked out by hand, and derivatives against differences. */
#include "check.h"
#include "swing/load.h"

static const caber_load given = {
    .hub = {.drive = CABER_TORQUE, .peak = 200, .rise = 0.1, .omega_max = 25},
    .grip = {.drive = CABER_TORQUE,
             .peak = 20,
             .onset = 0.02,
             .rise = 0.08,
             .release = 0.2,
             .fall = 0.1,
             .late = -10,
             .late_onset = 0.24,
             .late_rise = 0.04},
    .roll = {.drive = CABER_GEAR, .top = 1.7, .closing = 0.5, .square = -0.1},
    .stop = {.cock = -1.9, .stiffness = 400, .width = 0.25, .damping = 3}};

static load made(const caber_load *from)
{
    load l;
    caber_message message;
    assert_int_equal(load_create(from, &l, &message), CABER_OK);
    return l;
}

/* S(x) = 6 x^5 - 15 x^4 + 10 x^3: S(1/4) = 53/512, S(1/2) = 1/2, S(x) + S(1 - x) = 1. */
static void smoothstep(void **state)
{
    (void)state;
    assert_close(load_smoothstep(-1), 0, 0, 0);
    assert_close(load_smoothstep(0.25), 53.0 / 512, 1e-15, 0);
    assert_close(load_smoothstep(0.5), 0.5, 1e-15, 0);
    assert_close(load_smoothstep(2), 1, 0, 0);
    for (double x = 0; x < 1; x += 0.01)
        assert_close(load_smoothstep(x) + load_smoothstep(1 - x), 1, 1e-14, 0);
    /* Its first and second derivatives vanish at both ends: by x^3 of the way in. */
    assert_close(load_smoothstep(1e-3), 0, 0, 1.1e-8);
    assert_close(load_smoothstep(1 - 1e-3), 1, 0, 1.1e-8);
}

static void hub(void **state)
{
    (void)state;
    load l = made(&given);
    assert_close(load_hub_torque(&l, 0, 0), 0, 0, 0);
    assert_close(load_hub_torque(&l, 0.1, 0), 200 * (1 - exp(-1)), 1e-15, 0);
    assert_close(load_hub_torque(&l, 0.1, 10), 200 * (1 - exp(-1)) * 0.6, 1e-15, 0);
    assert_close(load_hub_torque(&l, 100, 25), 0, 0, 1e-12); /* no torque at the largest speed */
    assert_true(load_hub_torque(&l, 0.1, 30) < 0);
    load_free(&l);
}

static void grip(void **state)
{
    (void)state;
    load l = made(&given);
    assert_close(load_grip_couple(&l, 0.02), 0, 0, 0);
    assert_close(load_grip_couple(&l, 0.06), 10, 1e-12, 0); /* half risen */
    assert_close(load_grip_couple(&l, 0.15), 20, 1e-15, 0); /* all */
    assert_close(load_grip_couple(&l, 0.225), 20 * (1 - 53.0 / 512), 1e-12,
                 0);                         /* a quarter fallen */
    assert_close(load_grip_couple(&l, 0.26), /* 0.6 fallen, half of the late one */
                 20 * (1 - (6 * pow(0.6, 5) - 15 * pow(0.6, 4) + 10 * pow(0.6, 3))) - 5, 1e-12, 0);
    assert_close(load_grip_couple(&l, 1), -10, 1e-15, 0);
    assert_close(load_roll_torque(&l, 0.1), 0, 0, 0);
    load_free(&l);
}

enum { ROWS = 81 };
static double times[ROWS], values[ROWS];

static void fill(double (*law)(double))
{
    for (int i = 0; i < ROWS; i++) {
        times[i] = -0.1 + 0.01 * i;
        values[i] = law(times[i]);
    }
}

static double step(double t)
{
    return t < 0.2 ? 0 : 5;
}

/* Monotone between readings: a step does not overshoot; constant beyond the ends. */
static void torque_table(void **state)
{
    (void)state;
    fill(step);
    caber_load with = given;
    with.grip.table = (caber_table){ROWS, times, values};
    load l = made(&with);
    assert_int_equal(l.given.grip.table.count, 0); /* copied: the caller's may go */
    for (double t = -1; t < 2; t += 0.0007) {
        const double v = load_grip_couple(&l, t);
        assert_true(v >= 0 && v <= 5 + 1e-12);
    }
    assert_close(load_grip_couple(&l, times[30]), values[30], 1e-15, 0);
    assert_close(load_grip_couple(&l, 9), 5, 1e-15, 0);
    assert_close(load_grip_couple(&l, -9), 0, 0, 1e-15);
    load_free(&l);
}

static double sine(double t)
{
    return sin(6 * t);
}

/* A natural cubic spline through sin 6t every h = 0.01 s: angle to h^4, rate to h^3,
 * acceleration to h^2 of the fourth derivative 6^4, away from the ends; straight beyond them. */
static void motion_table(void **state)
{
    (void)state;
    fill(sine);
    caber_load with = given;
    with.hub.drive = CABER_MOTION;
    with.hub.table = (caber_table){ROWS, times, values};
    load l = made(&with);
    for (double t = 0.1; t < 0.5; t += 0.0037) {
        const load_motion m = load_table_motion(&l.hub, t);
        assert_close(m.angle, sin(6 * t), 0, 1e-7);
        assert_close(m.rate, 6 * cos(6 * t), 0, 1e-4);
        assert_close(m.acceleration, -36 * sin(6 * t), 0, 0.02);
    }
    const load_motion end = load_table_motion(&l.hub, times[ROWS - 1]);
    const load_motion beyond = load_table_motion(&l.hub, times[ROWS - 1] + 0.5);
    assert_close(beyond.rate, end.rate, 1e-15, 0);
    assert_close(beyond.angle, end.angle + 0.5 * end.rate, 1e-14, 0);
    assert_close(beyond.acceleration, 0, 0, 0);
    load_free(&l);
}

/* The spring is minus the slope of its energy, its stiffness minus the slope of the spring; both
 * against central differences, at the joins too, where the spring is twice differentiable. */
static void stop(void **state)
{
    (void)state;
    const caber_stop *s = &given.stop;
    const double h = 1e-6;
    assert_close(load_wrist_stop(s, -1.8, -5).spring, 0, 0, 0);
    assert_close(load_wrist_stop(s, -1.8, -5).damper, 0, 0, 0);
    for (double cock = -2.6; cock < -1.8; cock += 0.0125) {
        const load_stop a = load_wrist_stop(s, cock - h, 0), b = load_wrist_stop(s, cock + h, 0);
        const load_stop at = load_wrist_stop(s, cock, -4);
        assert_close(at.spring, -(b.energy - a.energy) / (2 * h), 1e-7, 1e-6);
        assert_close(at.stiffness, -(b.spring - a.spring) / (2 * h), 1e-6, 1e-3);
        assert_true(at.spring >= 0 && at.energy >= 0 && at.damper >= 0);
        assert_close(at.damper, 4 * 3 * at.stiffness / 400, 1e-12, 0); /* grows with the spring */
    }
    /* Beyond the width: k (depth - width/2). */
    assert_close(load_wrist_stop(s, -1.9 - 0.5, 0).spring, 400 * (0.5 - 0.125), 1e-12, 0);
    const caber_stop none = {.cock = -1.9, .width = 0.25, .damping = 3};
    assert_close(load_wrist_stop(&none, -3, -4).damper, 0, 0, 0);
}

/* Gamma: 0 with slope -closing at square, `top` long before, -top long after; slope and curve
 * against differences. */
static void gear(void **state)
{
    (void)state;
    const caber_roll_load *r = &given.roll;
    assert_close(load_roll_gear(r, -0.1).roll, 0, 0, 0);
    assert_close(load_roll_gear(r, -0.1).slope, -0.5, 1e-15, 0);
    assert_close(load_roll_gear(r, -0.1).curve, 0, 0, 1e-15);
    assert_close(load_roll_gear(r, -20).roll, 1.7, 1e-12, 0);
    assert_close(load_roll_gear(r, 20).roll, -1.7, 1e-12, 0);
    const double h = 1e-5;
    for (double beta = -4; beta < 1; beta += 0.1) {
        const load_gear a = load_roll_gear(r, beta - h), b = load_roll_gear(r, beta + h);
        const load_gear at = load_roll_gear(r, beta);
        assert_close(at.slope, (b.roll - a.roll) / (2 * h), 1e-8, 1e-9);
        assert_close(at.curve, (b.slope - a.slope) / (2 * h), 1e-7, 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(smoothstep),   cmocka_unit_test(hub),          cmocka_unit_test(grip),
        cmocka_unit_test(torque_table), cmocka_unit_test(motion_table), cmocka_unit_test(stop),
        cmocka_unit_test(gear)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
