/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Whatever the setup, as long as it is physical: the integrator does not fail, no result is other
 * than a number, energy is accounted for, shares add up. Setups are the demonstration ones with
 * stiffness, mass, load, start, joints and ball drawn far beyond what is played, from fixed seeds;
 * these properties hold by mechanics and need no published number. */
#include <gsl/gsl_rng.h>

#include "setups.h"

enum { SWINGS = 240, STEPS_MAX = 20000 };

static double between(gsl_rng *g, double low, double high)
{
    return low + (high - low) * gsl_rng_uniform(g);
}

/* Evenly in the logarithm. */
static double about(gsl_rng *g, double low, double high)
{
    return exp(between(g, log(low), log(high)));
}

static bool chance(gsl_rng *g, double share)
{
    return gsl_rng_uniform(g) < share;
}

static void draw_club(gsl_rng *g, caber_setup *s)
{
    const double bend = about(g, 0.3, 4), twist = about(g, 0.3, 4);
    const double other = chance(g, 0.5) ? 0 : between(g, 0.7, 1.4), angle = between(g, -3, 3);
    for (size_t i = 0; i < s->shaft.station_count; i++) {
        caber_station *p = &s->shaft.stations[i];
        p->ei *= bend;
        p->gj *= twist;
        p->ei_2 = other * p->ei;
        p->ei_angle = angle;
    }
    s->shaft.damping = chance(g, 0.2) ? 0 : about(g, 0.001, 0.05);
    const double size = between(g, 0.6, 1.6);
    s->head.mass *= between(g, 0.6, 1.6);
    for (int i = 0; i < 6; i++)
        s->head.inertia[i] *= size;
    for (int i = 0; i < 3; i++)
        s->head.centre_of_mass[i] *= between(g, 0.3, 1.5);
    s->build.hold = between(g, 0.05, 0.25);
    s->build.butt_trim = between(g, 0, 0.1);
    s->build.tip_trim = between(g, 0, 0.05);
}

static void draw_player(gsl_rng *g, caber_player *p)
{
    caber_load *l = &p->load;
    l->hub.peak *= between(g, 0.4, 2);
    l->hub.rise = about(g, 0.01, 0.2);
    l->hub.omega_max *= between(g, 0.8, 2);
    l->grip.peak = between(g, -10, 40);
    l->grip.onset = between(g, 0, 0.1);
    l->grip.rise = about(g, 0.01, 0.2);
    l->grip.release = between(g, 0.05, 0.3);
    l->grip.fall = about(g, 0.01, 0.1);
    l->grip.late = between(g, -40, 20);
    l->grip.late_onset = between(g, 0.05, 0.3);
    l->grip.late_rise = about(g, 0.01, 0.1);
    const caber_drive roll[] = {CABER_GEAR, CABER_GEAR, CABER_LOCKED, CABER_TORQUE};
    l->roll.drive = roll[gsl_rng_uniform_int(g, 4)];
    l->roll.top = between(g, 0.5, 2);
    l->roll.closing = between(g, 0.2, 1.2);
    l->stop.stiffness = chance(g, 0.3) ? 0 : about(g, 20, 2000);
    p->start_arm += between(g, -0.5, 0.5);
    p->start_cock += between(g, -0.4, 0.6);
    p->start_arm_speed = between(g, -3, 1);
    p->start_cock_speed = between(g, -10, 3);
    p->inclination = between(g, 0.6, 1.2);
    p->ball_ahead = between(g, -0.2, 0.4);
}

static void check_swing(const caber_swing *swing)
{
    size_t count;
    const caber_field *field = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++)
        assert_true(isfinite(caber_impact_value(&swing->bent, &field[i])));
    const caber_impact *b = &swing->bent;
    /* 1e-6 for the demonstration setups (test_swing_energy); these are far softer and quicker. */
    assert_true(b->energy_residual < 5e-6);
    assert_true(swing->effort.steps < STEPS_MAX);
    /* Summed element by element: the shortest, a thousandth of the shaft, is 1e9 times as stiff, so
     * that much rounding (2e-16 each) may show. */
    assert_close(b->energy_share_butt + b->energy_share_middle + b->energy_share_tip, 1, 0, 1e-6);
    assert_close(b->loft_from_lead + b->loft_from_droop + b->loft_from_twist, b->loft_change, 0,
                 1e-7);
    assert_true(b->peak_lag_time >= 0 && b->peak_lag_time <= b->downswing_time);
    assert_true(b->grip_force > 0 && b->strain_energy_peak > 0);
}

static void no_physical_setup_breaks_it(void **state)
{
    (void)state;
    static const char *const names[] = {"neutral-quick", "soft-tip-late", "firm-tip-smooth",
                                        "neutral-quick-9"};
    gsl_rng *g = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(g, 20);
    size_t met = 0;
    for (size_t i = 0; i < SWINGS; i++) {
        caber_setup *s = setups_read(names[i % 4]);
        caber_message message;
        caber_model *m = NULL;
        caber_work *w = NULL;
        caber_swing swing;
        draw_club(g, s);
        draw_player(g, &s->player);
        setups_fine(caber_model_create(s, &m, &message), &message);
        setups_fine(caber_work_create(m, &w, &message), &message);
        const caber_status status = caber_swing_run(m, w, &swing, NULL, &message);
        /* A head that misses the ball and a shaft of a third of the stiffness under twice the load
         * that folds are answers; a solver that gives up is not. */
        if (status != CABER_BALL_NOT_REACHED && status != CABER_SHAFT_WRAPPED)
            setups_fine(status, &message);
        if (status == CABER_OK) {
            met++;
            check_swing(&swing);
        }
        caber_work_free(w);
        caber_model_free(m);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(met > SWINGS / 2); /* most draws are swings */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_physical_setup_breaks_it)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
