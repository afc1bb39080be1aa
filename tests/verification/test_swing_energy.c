/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Energy: what the joints put in is what arms, club and shaft have, less what was damped. Exact. */
#include "setups.h"

/* A demo club swung freely: no torque, no damping, no stop; a moving start. */
static caber_setup *free_swing(bool gravity)
{
    caber_setup *s = setups_read("neutral-quick");
    caber_player *p = &s->player;
    p->load.hub.peak = 0;
    p->load.grip.peak = p->load.grip.late = 0;
    p->load.stop.stiffness = 0;
    s->shaft.damping = 0;
    p->start_arm_speed = 14;
    p->start_cock_speed = -9;
    s->settings.gravity = gravity;
    setups_until(s, 0.5, 1e-11);
    return s;
}

/* 1e-7 of the energy, the aim; the integrator's tolerance is 1e-11. */
static void check_constant(caber_setup *s)
{
    caber_trace *trace = caber_trace_create();
    assert_non_null(trace);
    const caber_swing swing = setups_swing(s, trace);
    const caber_trace_row *first = trace->rows;
    const double start = first->kinetic + first->potential + first->strain;
    double strain = 0, kinetic[2] = {HUGE_VAL, 0};
    assert_true(trace->count > 400);
    for (size_t i = 0; i < trace->count; i++) {
        const caber_trace_row *r = &trace->rows[i];
        assert_close(r->kinetic + r->potential + r->strain, start, 0, 1e-7 * first->kinetic);
        strain = fmax(strain, r->strain);
        kinetic[0] = fmin(kinetic[0], r->kinetic);
        kinetic[1] = fmax(kinetic[1], r->kinetic);
    }
    /* Energy must have gone through the shaft for this to mean anything. */
    assert_true(strain > 0.05);
    if (s->settings.gravity)
        assert_true(kinetic[1] - kinetic[0] > 5);
    assert_close(swing.bent.energy_residual, 0, 0, 1e-7);
    caber_trace_free(trace);
    caber_setup_free(s);
}

static void free_without_gravity(void **state)
{
    (void)state;
    check_constant(free_swing(false));
}

static void free_with_gravity(void **state)
{
    (void)state;
    check_constant(free_swing(true));
}

/* The same with every mode as fast as it is. */
static void free_without_a_ceiling(void **state)
{
    (void)state;
    caber_setup *s = free_swing(true);
    s->settings.ceiling = 0;
    check_constant(s);
}

/* The handle free to roll, a third unknown joint. */
static void free_roll(void **state)
{
    (void)state;
    caber_setup *s = free_swing(true);
    s->player.load.roll.drive = CABER_TORQUE;
    check_constant(s);
}

/* Unequal principal stiffnesses that turn along the shaft: bending is coupled in both planes. */
static void free_with_a_spine(void **state)
{
    (void)state;
    caber_setup *s = free_swing(true);
    for (size_t i = 0; i < s->shaft.station_count; i++) {
        s->shaft.stations[i].ei_2 = 0.8 * s->shaft.stations[i].ei;
        s->shaft.stations[i].ei_angle = 0.5 * s->shaft.stations[i].at;
    }
    check_constant(s);
}

/* The wrist stop's spring without its damper: energy goes into it and all comes back. */
static void stop_conserves(void **state)
{
    (void)state;
    caber_setup *s = free_swing(true);
    s->player.start_arm_speed = 12;
    s->player.start_cock_speed = -12;
    s->player.load.stop = (caber_stop){.cock = -1.7, .stiffness = 400, .width = 0.26};
    check_constant(s);
}

/* 1e-6 of the work done is the aim for a swing as it comes, with the default settings. */
static void demo_swings_balance(void **state)
{
    (void)state;
    for (size_t i = 0; i < SETUPS_DEMO_COUNT; i++) {
        caber_setup *s = setups_read(setups_demo[i]);
        caber_trace *trace = caber_trace_create();
        const caber_swing swing = setups_swing(s, trace);
        const caber_trace_row *first = trace->rows, *last = trace->rows + trace->count - 1;
        const double gained = last->kinetic + last->potential + last->strain - first->kinetic -
                              first->potential - first->strain;
        assert_true(swing.met_ball);
        assert_close(swing.bent.energy_residual, 0, 0, 1e-6);
        assert_close(last->work - last->dissipated - gained, 0, 0, 1e-6 * last->work);
        /* The residual that is reported is this one, not a nicer one. */
        assert_close(swing.bent.energy_residual * last->work,
                     fabs(last->work - last->dissipated - gained), 1e-3, 1e-9);
        assert_true(last->work > 100 && last->dissipated > 0);
        caber_trace_free(trace);
        caber_setup_free(s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(free_without_gravity),   cmocka_unit_test(free_with_gravity),
        cmocka_unit_test(free_without_a_ceiling), cmocka_unit_test(free_roll),
        cmocka_unit_test(free_with_a_spine),      cmocka_unit_test(stop_conserves),
        cmocka_unit_test(demo_swings_balance)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
