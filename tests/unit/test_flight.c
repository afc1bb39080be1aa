/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Flights of any kind come to an end, each as if it were the first, and coefficients are held at
 * the edge of their range without a jump. */
#include "ball/drag.h"
#include "ball/flight.h"
#include "base/random.h"
#include "check.h"

enum { MANY = 2000 };

static const flight_ball ball = {.mass = 0.04593, .radius = 0.021335};
static const flight_air still = {.density = 1.225, .viscosity = 1.7894e-5};

static flight_work *new_work(void)
{
    flight_work *work;
    caber_message message;
    assert_int_equal(flight_work_create(&work, &message), CABER_OK);
    return work;
}

/* rpm of backspin */
static flight_launch launch_of(double speed, double angle, double backspin)
{
    return (flight_launch){.velocity = {speed * cos(angle), speed * sin(angle), 0},
                           .spin = {0, 0, backspin / CABER_RPM}};
}

static flight_result fly(flight_work *work, const flight_launch *launch, const flight_air *air,
                         caber_coefficients set)
{
    flight_result r;
    caber_message message;
    const caber_status status = flight_run(work, launch, &ball, air, set, &r, &message);
    if (status)
        print_error("%s\n", message.text);
    assert_int_equal(status, CABER_OK);
    return r;
}

/* ------------------------------------------------------------------ coefficients */

static void sets_are_told(void **state)
{
    (void)state;
    for (int i = 0; i < CABER_COEFFICIENT_SETS; i++) {
        const caber_coefficients_note note = caber_coefficients_about((caber_coefficients)i);
        assert_true(note.name[0] && note.source[0] && note.range[0]);
        for (int j = 0; j < i; j++)
            assert_string_not_equal(note.name,
                                    caber_coefficients_about((caber_coefficients)j).name);
    }
    assert_string_equal(caber_coefficients_about(CABER_COEFFICIENT_SETS).name, "");
}

/* From far below the range to far above it, in steps of a millionth: no jump in drag or lift, drag
 * held outside, no lift without spin. */
static void coefficients_do_not_jump(void **state)
{
    (void)state;
    drag *d = drag_create();
    assert_non_null(d);
    for (int set = 0; set < CABER_COEFFICIENT_SETS; set++) {
        for (int i = 0; i < MANY; i++) {
            const double re = 4e5 * random_even(7, 0, (uint64_t)i);
            const double s = 1.5 * random_even(7, 1, (uint64_t)i), near = 1 + 1e-6;
            const drag_value a = drag_at(d, (caber_coefficients)set, re, s);
            const drag_value b = drag_at(d, (caber_coefficients)set, re * near, s);
            const drag_value c = drag_at(d, (caber_coefficients)set, re, s * near);
            assert_close(a.cd, b.cd, 0, 5e-6);
            assert_close(a.cd, c.cd, 0, 5e-6);
            assert_close(a.cl, b.cl, 0, 5e-6);
            assert_close(a.cl, c.cl, 0, 5e-6);
            assert_true(a.cd > 0.1 && a.cd < 0.6 && a.cl >= 0 && a.cl < 0.5);
        }
        const drag_value none = drag_at(d, (caber_coefficients)set, 1.5e5, 0);
        assert_true(none.cl == 0 && none.cd > 0 && none.outside);
        assert_true(drag_at(d, (caber_coefficients)set, 1e6, HUGE_VAL).outside);
        assert_false(drag_at(d, (caber_coefficients)set, 1.5e5, 0.15).outside);
    }
    drag_free(d);
    drag_free(NULL);
}

/* ------------------------------------------------------------------ flights */

static void ball_must_rise(void **state)
{
    (void)state;
    flight_work *work = new_work();
    flight_result r;
    caber_message message;
    static const double heights[] = {0, -5, NAN};
    for (int i = 0; i < 3; i++) {
        const flight_launch down = {.velocity = {50, heights[i], 0}};
        assert_int_equal(flight_run(work, &down, &ball, &still, CABER_LYU, &r, &message),
                         CABER_BAD_INPUT);
        assert_non_null(strstr(message.text, "does not rise"));
        assert_int_equal(flight_run(work, &down, &ball, &still, CABER_LYU, &r, NULL),
                         CABER_BAD_INPUT);
    }
    flight_work_free(work);
    flight_work_free(NULL);
}

/* In a gale straight up, faster than the ball falls, it does not come down. */
static void some_never_come_down(void **state)
{
    (void)state;
    flight_work *work = new_work();
    flight_result r;
    caber_message message;
    const flight_launch up = launch_of(50, 0.3, 3000);
    flight_air gale = still;
    gale.wind.y = 80;
    assert_int_equal(flight_run(work, &up, &ball, &gale, CABER_SMITS_SMITH, &r, &message),
                     CABER_NOT_CONVERGED);
    assert_non_null(strstr(message.text, "did not come to an end"));
    fly(work, &up, &still, CABER_SMITS_SMITH); /* and the work is as good as before */
    flight_work_free(work);
}

/* Straight up, all but level, slower than a ball drops from the hand, without spin, with the spin
 * along the way, without air. */
static void odd_launches(void **state)
{
    (void)state;
    flight_work *work = new_work();
    const flight_launch odd[] = {
        {.velocity = {0, 40, 0}},
        {.velocity = {0, 40, 0}, .spin = {0, 300, 0}},
        {.velocity = {0, 40, 0}, .spin = {0, 0, 300}},
        {.velocity = {60, 1e-9, 0}},
        {.velocity = {60, 1e-300, 0}, .spin = {0, 0, -300}},
        {.velocity = {60, 1e-9, 0}, .spin = {0, 0, 600}},
        {.velocity = {0.1, 0.1, 0}, .spin = {0, 0, 300}},
        {.velocity = {60, 20, 5}, .spin = {600, 200, 50}},
        {.velocity = {60, 20, 5}, .spin = {0, 0, 1e-300}},
    };
    const flight_air airs[] = {still, {.density = 0, .viscosity = 1.8e-5}};
    for (size_t i = 0; i < 2 * sizeof odd / sizeof *odd; i++)
        for (int set = 0; set < CABER_COEFFICIENT_SETS; set++) {
            const flight_result r = fly(work, &odd[i / 2], &airs[i % 2], (caber_coefficients)set);
            assert_true(isfinite(r.carry) && isfinite(r.side) && r.apex >= 0 && r.time >= 0);
            /* to the tolerance of the integrator, in still air or none */
            assert_true(r.descent_angle > -1e-6);
            assert_true(r.speed < vec3_norm(odd[i / 2].velocity) + 1e-5);
        }
    flight_work_free(work);
}

/* Launches, winds and air far beyond what is played. */
static flight_launch wild_launch(uint64_t i, flight_air *air)
{
    double u[12];
    for (uint64_t k = 0; k < 12; k++)
        u[k] = random_even(11, k, i);
    const double speed = exp(log(100) * u[0]), up = 1.5707 * u[1] + 1e-4, side = 6 * u[2] - 3;
    *air = (flight_air){.density = 0.5 + u[3],
                        .viscosity = 1.6e-5 + 4e-6 * u[4],
                        .wind = {50 * u[5] - 25, 0, 50 * u[6] - 25}};
    return (flight_launch){
        .velocity = {speed * cos(up) * cos(side), speed * sin(up), speed * cos(up) * sin(side)},
        .spin = {400 * u[7] - 200, 600 * u[8] - 300, 1600 * u[9] - 400}};
}

/* Every one lands; and again in the opposite order, each with the same bits, as if it were the only
 * one: CVODE's memory keeps nothing of the flights before. */
static void flights_land_and_do_not_know_each_other(void **state)
{
    (void)state;
    flight_work *work = new_work();
    static flight_result first[MANY];
    memset(first, 0, sizeof first);
    for (int i = 0; i < MANY; i++) {
        flight_air air;
        const flight_launch l = wild_launch((uint64_t)i, &air);
        first[i] = fly(work, &l, &air, (caber_coefficients)(i % CABER_COEFFICIENT_SETS));
    }
    for (int i = MANY - 1; i >= 0; i -= 3) {
        flight_air air;
        const flight_launch l = wild_launch((uint64_t)i, &air);
        flight_work *fresh = i % 20 ? NULL : new_work();
        const flight_result r =
            fly(fresh ? fresh : work, &l, &air, (caber_coefficients)(i % CABER_COEFFICIENT_SETS));
        const flight_result *f = &first[i];
        assert_true(r.carry == f->carry && r.side == f->side && r.apex == f->apex &&
                    r.time == f->time && r.descent_angle == f->descent_angle &&
                    r.speed == f->speed && r.spin == f->spin && r.outside == f->outside);
        flight_work_free(fresh);
    }
    flight_work_free(work);
}

/* The spin at which a launch just begins or ceases to leave its range within `least` and `most`,
 * where it does so, by halving to the last bit: flights that graze an edge ever more closely. All
 * land, and where it is passed nothing jumps. */
static bool graze(flight_work *work, caber_coefficients set, double speed, double angle,
                  double least, double most)
{
    flight_launch l = launch_of(speed, angle, least), m = launch_of(speed, angle, most);
    flight_result low = fly(work, &l, &still, set), high = fly(work, &m, &still, set);
    if (low.outside == high.outside)
        return false;
    while (true) {
        const double middle = least + (most - least) / 2;
        if (middle == least || middle == most)
            break;
        l = launch_of(speed, angle, middle);
        const flight_result r = fly(work, &l, &still, set);
        if (r.outside == low.outside) {
            least = middle;
            low = r;
        } else {
            most = middle;
            high = r;
        }
    }
    assert_close(low.carry, high.carry, 0, 1e-3);
    assert_close(low.apex, high.apex, 0, 1e-3);
    return true;
}

static void grazing_flights_land(void **state)
{
    (void)state;
    flight_work *work = new_work();
    int grazed = 0;
    for (int i = 0; i < 60; i++) {
        const double speed = 35 + 45 * random_even(13, 0, (uint64_t)i);
        const double angle = 0.1 + 0.4 * random_even(13, 1, (uint64_t)i);
        const caber_coefficients set = (caber_coefficients)(i % CABER_COEFFICIENT_SETS);
        grazed += graze(work, set, speed, angle, 100, 2800);
        grazed += graze(work, set, speed, angle, 2800, 9000);
    }
    assert_true(grazed > 40);
    flight_work_free(work);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sets_are_told),
        cmocka_unit_test(coefficients_do_not_jump),
        cmocka_unit_test(ball_must_rise),
        cmocka_unit_test(some_never_come_down),
        cmocka_unit_test(odd_launches),
        cmocka_unit_test(flights_land_and_do_not_know_each_other),
        cmocka_unit_test(grazing_flights_land),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
