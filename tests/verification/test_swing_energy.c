/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Energy: what the joints put in is what arms, club and shaft have, less what was damped. Exact. */
#include "record.h"
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
static const record_source source = {
    RECORD_LAW,
    "nothing drives and nothing damps: kinetic, potential and strain energy stay together"};

static void check_constant(caber_setup *s, const char *what)
{
    caber_trace *trace = caber_trace_create();
    assert_non_null(trace);
    const caber_swing swing = setups_swing(s, trace);
    const caber_trace_row *first = trace->rows;
    const double start = first->kinetic + first->potential + first->strain;
    double strain = 0, most = 0, kinetic[2] = {HUGE_VAL, 0};
    assert_true(trace->count > 400);
    for (size_t i = 0; i < trace->count; i++) {
        const caber_trace_row *r = &trace->rows[i];
        record_most(&most, (r->kinetic + r->potential + r->strain - start) / first->kinetic);
        strain = fmax(strain, r->strain);
        kinetic[0] = fmin(kinetic[0], r->kinetic);
        kinetic[1] = fmax(kinetic[1], r->kinetic);
    }
    /* Energy must have gone through the shaft for this to mean anything. */
    assert_true(strain > 0.05);
    if (s->settings.gravity)
        assert_true(kinetic[1] - kinetic[0] > 5);
    char text[160];
    snprintf(text, sizeof text, "drift of energy by the kinetic at the start, %s", what);
    verify_within(text, source, "1", most, 1e-7);
    assert_close(swing.bent.energy_residual, 0, 0, 1e-7);
    caber_trace_free(trace);
    caber_setup_free(s);
}

static void free_without_gravity(void **state)
{
    (void)state;
    check_constant(free_swing(false), "free swing, no gravity");
}

static void free_with_gravity(void **state)
{
    (void)state;
    check_constant(free_swing(true), "free swing");
}

/* The same with every mode as fast as it is. */
static void free_without_a_ceiling(void **state)
{
    (void)state;
    caber_setup *s = free_swing(true);
    s->settings.ceiling = 0;
    check_constant(s, "every mode as fast as it is");
}

/* The handle free to roll, a third unknown joint. */
static void free_roll(void **state)
{
    (void)state;
    caber_setup *s = free_swing(true);
    s->player.load.roll.drive = CABER_TORQUE;
    check_constant(s, "handle free to roll");
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
    check_constant(s, "a spine that turns along the shaft");
}

/* The wrist stop's spring without its damper: energy goes into it and all comes back. */
static void stop_conserves(void **state)
{
    (void)state;
    caber_setup *s = free_swing(true);
    s->player.start_arm_speed = 12;
    s->player.start_cock_speed = -12;
    s->player.load.stop = (caber_stop){.cock = -1.7, .stiffness = 400, .width = 0.26};
    check_constant(s, "into the wrist stop and back");
}

static void draw(const char *plot, const char *title, const char *label, const double *x,
                 const double *y, size_t count, bool points)
{
    const record_curve c = {.plot = plot,
                            .title = title,
                            .x_label = "time, s",
                            .y_label = "energy since the start, J",
                            .label = label,
                            .count = count,
                            .x = x,
                            .y = y,
                            .points = points};
    record_draw(&c);
}

/* Where the energy of one demonstration swing is. */
static void draw_energy(const caber_trace *trace)
{
    enum { MOST = 200, KINDS = 5, EVERY = 10 };
    static const char *const labels[KINDS] = {"work of the joints", "kinetic", "potential",
                                              "strain", "damped"};
    static const char *const all = "Energy of one demonstration swing (neutral shaft, quick "
                                   "player) from its start to the ball: "
                                   "what the joints put in, where it is, and the sum of all of it.";
    static const char *const shaft = "The shaft's share in the same swing.";
    double t[MOST], e[KINDS][MOST], some[MOST], sum[MOST];
    const caber_trace_row *first = trace->rows;
    const size_t step = trace->count / MOST + 1;
    size_t count = 0;
    for (size_t i = 0; i < trace->count; i += step, count++) {
        const caber_trace_row *r = trace->rows + i;
        const double part[KINDS] = {r->work, r->kinetic - first->kinetic,
                                    r->potential - first->potential, r->strain - first->strain,
                                    r->dissipated};
        t[count] = r->time;
        for (int k = 0; k < KINDS; k++)
            e[k][count] = part[k];
    }
    for (size_t i = 0; i < count; i += EVERY) {
        some[i / EVERY] = t[i];
        sum[i / EVERY] = e[1][i] + e[2][i] + e[3][i] + e[4][i];
    }
    for (int k = 0; k < KINDS; k++)
        draw(k < 3 ? "energy" : "energy-shaft", k < 3 ? all : shaft, labels[k], t, e[k], count,
             false);
    draw("energy", all, "kinetic, potential,\nstrain and damped", some, sum,
         (count + EVERY - 1) / EVERY, true);
}

/* 1e-6 of the work done is the aim for a swing as it comes, with the default settings. */
static void demo_swings_balance(void **state)
{
    (void)state;
    double most = 0;
    for (size_t i = 0; i < SETUPS_DEMO_COUNT; i++) {
        caber_setup *s = setups_read(setups_demo[i]);
        caber_trace *trace = caber_trace_create();
        const caber_swing swing = setups_swing(s, trace);
        const caber_trace_row *first = trace->rows, *last = trace->rows + trace->count - 1;
        const double gained = last->kinetic + last->potential + last->strain - first->kinetic -
                              first->potential - first->strain;
        assert_true(swing.met_ball);
        assert_close(swing.bent.energy_residual, 0, 0, 1e-6);
        record_most(&most, (last->work - last->dissipated - gained) / last->work);
        /* The residual that is reported is this one, not a nicer one; weight works too, so the
         * motion may have more energy than the joints gave it. */
        assert_close(swing.bent.energy_residual * fmax(last->work, last->kinetic),
                     fabs(last->work - last->dissipated - gained), 1e-3, 1e-9);
        assert_true(last->work > 100 && last->dissipated > 0);
        if (strcmp(setups_demo[i], "neutral-quick") == 0)
            draw_energy(trace);
        caber_trace_free(trace);
        caber_setup_free(s);
    }
    static const record_source balance = {
        RECORD_LAW,
        "work of the joints = gain of kinetic, potential and strain energy + what was damped"};
    verify_within("energy unaccounted for by the work, every demonstration setup, default settings",
                  balance, "1", most, 1e-6);
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
