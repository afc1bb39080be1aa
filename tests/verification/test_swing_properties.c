/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Whatever the setup, as long as it is physical: the integrator does not fail, every result is a
 * number, energy is accounted for, shares add up, peaks are peaks, and an answer other than a swing
 * is true. These properties hold by mechanics and need no published number. */
#include "draws.h"

enum { NEAR = 400, FAR = 700, STEPS_MAX = 20000 };

/* The largest violations over many swings. */
typedef struct violations {
    size_t swings, missed, folded, unsettled;
    double balance;  /* energy that is missing, of 10 J and the most at stake */
    double residual; /* as reported */
    double shares;   /* of energy, 1 */
    double angles;   /* shares of loft, face and lie less the whole, rad */
    double peaks;    /* what a row of the trace has above a peak, of the peak */
    double rate;     /* the same of the load rate */
    double steps;
} violations;

/* ------------------------------------------------------------------ what a swing must hold to */

static void check_finite(const caber_swing *swing)
{
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++) {
        assert_true(isfinite(caber_impact_value(&swing->bent, f + i)));
        assert_true(isfinite(caber_impact_value(&swing->straight, f + i)));
    }
}

/* Row by row: what the joints put in is what is there or was damped. Errors of an integrator follow
 * its tolerance; 10 J is the size that it takes energies to have. */
static void check_balance(const caber_trace *t, violations *v)
{
    const caber_trace_row *first = t->rows;
    const double start = first->kinetic + first->potential + first->strain;
    double most = 0;
    for (size_t i = 0; i < t->count; i++)
        most = fmax(most, fmax(t->rows[i].kinetic, fabs(t->rows[i].work)));
    for (size_t i = 0; i < t->count; i++) {
        const caber_trace_row *r = t->rows + i;
        const double now = r->kinetic + r->potential + r->strain;
        draws_raise(&v->balance, fabs(now - start - r->work + r->dissipated) / (10 + most));
    }
}

static void check_shares(const caber_swing *swing, violations *v)
{
    const caber_impact *b = &swing->bent, *s = &swing->straight;
    draws_raise(&v->shares,
                fabs(b->energy_share_butt + b->energy_share_middle + b->energy_share_tip - 1));
    /* Azimuths mean little where the face or the toe points nearly up or down. */
    const double steep = fmax(fmax(fabs(b->delivered_loft), fabs(s->delivered_loft)),
                              fmax(fabs(b->delivered_lie), fabs(s->delivered_lie)));
    if (steep > 1)
        return;
    const double face = b->face_from_lead + b->face_from_droop + b->face_from_twist;
    draws_raise(&v->angles,
                fabs(b->loft_from_lead + b->loft_from_droop + b->loft_from_twist - b->loft_change));
    draws_raise(&v->angles, fabs(remainder(face - b->face_rotation, 2 * SETUPS_PI)));
    draws_raise(&v->angles,
                fabs(b->lie_from_lead + b->lie_from_droop + b->lie_from_twist - b->lie_change));
}

static void above(double *most, double row, double peak, double usual)
{
    draws_raise(most, (row - peak) / fmax(fabs(peak), usual));
}

/* A peak is above all rows, and one of its own time is not above it by more than a step changes. */
static void check_peaks(const caber_swing *swing, const caber_trace *t, violations *v)
{
    const caber_impact *b = &swing->bent;
    for (size_t i = 0; i < t->count; i++) {
        const caber_trace_row *r = t->rows + i;
        above(&v->peaks, r->lag, b->peak_lag, 0.01);
        above(&v->peaks, r->handle_moment, b->peak_handle_moment, 1);
        above(&v->peaks, r->grip_force, b->grip_force, 10);
        above(&v->peaks, r->strain, b->strain_energy_peak, 0.1);
        above(&v->rate, r->load_rate, b->peak_load_rate, 100);
    }
    assert_true(b->peak_lag_time >= 0 && b->peak_lag_time <= b->downswing_time);
    assert_true(b->peak_handle_moment_time >= 0 && b->peak_handle_moment_time <= b->downswing_time);
    assert_true(b->grip_force > 0 && b->strain_energy_peak > 0);
}

/* ------------------------------------------------------------------ whether an answer is true */

/* Cosine of the angle between the tip's axis and the handle's. */
static double along(const caber_trace_row *r)
{
    const double lead = tan(r->lead_slope), droop = tan(r->droop_slope);
    const double cosine = 1 / sqrt(1 + lead * lead + droop * droop);
    return fabs(r->lead_slope) < SETUPS_PI / 2 ? cosine : -cosine;
}

/* The tip is never square to the handle, but, when the swing ends for it, in the last step. */
static void check_folded(caber_status status, const caber_trace *t)
{
    enum { ROWS_A_STEP = 3 }; /* rows of 1 ms, steps of 2 ms at most */
    const bool folded = status == CABER_SHAFT_WRAPPED;
    for (size_t i = 0; i + (folded ? ROWS_A_STEP : 0) < t->count; i++)
        assert_true(along(t->rows + i) > 0);
    if (folded) {
        assert_true(t->count > 0);
        assert_true(along(t->rows + t->count - 1) < 0.35); /* 70 deg, at most 3 ms before */
    }
}

/* Whether the face passes the ball forwards below the hub between two rows, `direction` being 0. */
static bool passes(const caber_player *p, const caber_trace_row *a)
{
    const caber_trace_row *b = a + 1;
    const double s = sin(p->inclination), c = cos(p->inclination);
    return a->head_ahead < p->ball_ahead && b->head_ahead >= p->ball_ahead &&
           s * a->head_up - c * a->head_out < 0 && s * b->head_up - c * b->head_out < 0;
}

/* The ball is met the first time, and not missed when it is passed. */
static void check_met(const caber_setup *s, caber_status status, const caber_trace *t)
{
    if (s->settings.until > 0)
        return;
    for (size_t i = 0; i + 1 < t->count; i++)
        assert_false(passes(&s->player, t->rows + i) && !(status == CABER_OK && i + 2 == t->count));
}

/* ------------------------------------------------------------------ many swings */

static void check_one(const caber_setup *s, violations *v)
{
    caber_message message;
    caber_swing swing;
    caber_trace *t = caber_trace_create();
    assert_non_null(t);
    const caber_status status = swing_once(s, &swing, t, &message);
    if (status == CABER_NO_EQUILIBRIUM && s->player.load.roll.drive == CABER_TORQUE) {
        v->unsettled++; /* a handle free to roll need not have one */
    } else if (status == CABER_OK || status == CABER_BALL_NOT_REACHED ||
               status == CABER_SHAFT_WRAPPED) {
        check_balance(t, v);
        check_folded(status, t);
        check_met(s, status, t);
    } else {
        setups_fine(status, &message);
    }
    v->missed += status == CABER_BALL_NOT_REACHED;
    v->folded += status == CABER_SHAFT_WRAPPED;
    if (status == CABER_OK) {
        v->swings++;
        check_finite(&swing);
        check_shares(&swing, v);
        check_peaks(&swing, t, v);
        draws_raise(&v->steps, (double)swing.effort.steps);
        draws_raise(&v->residual, swing.bent.energy_residual);
    }
    caber_trace_free(t);
}

static violations check_many(drawing *draw, unsigned long seed, size_t count, double tolerance)
{
    violations v = {.peaks = -1, .rate = -1};
    gsl_rng *g = draws_begin(seed);
    for (size_t i = 0; i < count; i++) {
        caber_setup *s = draw(g);
        s->player.direction = 0;
        if (tolerance > 0)
            s->settings.tolerance = tolerance;
        check_one(s, &v);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    return v;
}

static void check_answers(const violations *v, size_t count)
{
    assert_true(v->swings > count / 2); /* most draws are swings, */
    assert_true(v->missed < count / 4); /* some miss and few fold */
    assert_true(v->folded < count / 4);
    assert_true(v->unsettled <= count / 100 + 1);
    assert_true(v->steps < STEPS_MAX);
}

static void near_the_demonstration(void **state)
{
    (void)state;
    const violations v = check_many(draws_near, 20, DRAWS(NEAR), 0);
    check_answers(&v, DRAWS(NEAR));
    DRAWS_RECORD(
        "400 swings near the demonstration setups: energy reported missing, of the most at stake",
        "the joints' work is what arms, club and shaft have or lost", "1", v.residual, 1e-5);
    /* Summed element by element: the shortest, a thousandth of the shaft, is 1e9 times as stiff, so
     * that much rounding (2e-16 each) may show; made-up profiles have several such. */
    DRAWS_RECORD("the same: shares of strain energy by thirds less 1", "parts make up the whole",
                 "1", v.shares, 1e-6);
    DRAWS_RECORD("the same: shares of loft, face and lie less the change",
                 "parts make up the whole", "rad", v.angles, 1e-6);
    DRAWS_RECORD(
        "the same: a moment of the swing above the reported peak (lag, moment, force, energy)",
        "nothing is above the largest", "1", v.peaks, 1e-4);
    DRAWS_RECORD("the same: a moment of the swing above the reported largest load rate",
                 "nothing is above the largest", "1", v.rate, 1e-2);
}

static void far_from_any(void **state)
{
    (void)state;
    const violations v = check_many(draws_far, 21, DRAWS(FAR), 0);
    check_answers(&v, DRAWS(FAR));
    DRAWS_RECORD(
        "700 swings of made-up clubs and players, all drives: energy missing at any moment, of "
        "10 J and the most at stake",
        "the joints' work is what arms, club and shaft have or lost", "1", v.balance, 1e-4);
    DRAWS_RECORD("the same: shares of strain energy by thirds less 1", "parts make up the whole",
                 "1", v.shares, 3e-6);
    DRAWS_RECORD("the same: shares of loft, face and lie less the change",
                 "parts make up the whole", "rad", v.angles, 1e-5);
    DRAWS_RECORD(
        "the same: a moment of the swing above the reported peak (lag, moment, force, energy)",
        "nothing is above the largest", "1", v.peaks, 1e-3);
}

/* The error is the integrator's: a hundredth of the tolerance leaves some hundredth of it. */
static void the_balance_follows_the_tolerance(void **state)
{
    (void)state;
    const violations loose = check_many(draws_near, 22, DRAWS(60), 1e-6);
    const violations tight = check_many(draws_near, 22, DRAWS(60), 1e-9);
    assert_true(loose.balance > 0 && tight.balance > 0);
    DRAWS_RECORD("60 swings: energy missing at tolerance 1e-9, of that at 1e-6",
                 "an integrator's error follows its tolerance", "1", tight.balance / loose.balance,
                 1e-2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(near_the_demonstration),
                                       cmocka_unit_test(far_from_any),
                                       cmocka_unit_test(the_balance_follows_the_tolerance)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
