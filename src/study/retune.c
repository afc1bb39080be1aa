/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/retune.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_multiroots.h>
#include <math.h>

#include "base/message.h"
#include "swing/once.h"

/* One unit of each unknown and of each equation: what a player would notice. */
static const double unit_a = 0.01, unit_b = 1e-3, unit_speed = 1, unit_lean = 1 / CABER_DEG;
static const double step = 0.2;    /* of the central differences, in those units */
static const double enough = 1e-4; /* of either equation, in its unit */
static const double farthest = 60; /* of either unknown while it is looked for */
/* Beyond these it is another swing and no re-tuning: a choice of ours. */
static const double most_a = 20, most_b = 30;
enum { STEPS = 25 };

typedef struct search {
    caber_setup *setup;
    caber_load load; /* as it was */
    double speed, lean;
    caber_swing swing; /* the last one */
    int swings;
    caber_status status; /* of the first swing that failed */
    caber_message why;
} search;

void retune_apply(caber_load *load, const caber_retuning *how)
{
    load->hub.peak *= how->scale;
    load->grip.release += how->shift;
    load->grip.late_onset += how->shift;
}

static caber_retuning search_change(const gsl_vector *x)
{
    return (caber_retuning){.scale = exp(unit_a * gsl_vector_get(x, 0)),
                            .shift = unit_b * gsl_vector_get(x, 1)};
}

static void search_place(search *s, const gsl_vector *x)
{
    const caber_retuning change = search_change(x);
    s->setup->player.load = s->load;
    retune_apply(&s->setup->player.load, &change);
}

/* What is missing of both at x. */
static int search_off(const gsl_vector *x, void *user, gsl_vector *f)
{
    search *s = user;
    if (!(fabs(gsl_vector_get(x, 0)) < farthest && fabs(gsl_vector_get(x, 1)) < farthest))
        return GSL_EBADFUNC;
    search_place(s, x);
    s->swings++;
    s->status = swing_once(s->setup, &s->swing, NULL, &s->why);
    if (s->status != CABER_OK)
        return GSL_EBADFUNC;
    gsl_vector_set(f, 0, (s->swing.bent.head_speed - s->speed) / unit_speed);
    gsl_vector_set(f, 1, (s->swing.bent.handle_lean - s->lean) / unit_lean);
    return GSL_SUCCESS;
}

static int search_slopes(const gsl_vector *x, void *user, gsl_matrix *slopes)
{
    double place[2], low[2], high[2];
    for (size_t j = 0; j < 2; j++) {
        for (size_t i = 0; i < 2; i++)
            place[i] = gsl_vector_get(x, i);
        const gsl_vector_view at = gsl_vector_view_array(place, 2);
        gsl_vector_view below = gsl_vector_view_array(low, 2),
                        above = gsl_vector_view_array(high, 2);
        place[j] = gsl_vector_get(x, j) - step;
        int rc = search_off(&at.vector, user, &below.vector);
        place[j] = gsl_vector_get(x, j) + step;
        rc = rc ? rc : search_off(&at.vector, user, &above.vector);
        if (rc)
            return rc;
        for (size_t i = 0; i < 2; i++)
            gsl_matrix_set(slopes, i, j, (high[i] - low[i]) / (2 * step));
    }
    return GSL_SUCCESS;
}

static int search_both(const gsl_vector *x, void *user, gsl_vector *f, gsl_matrix *slopes)
{
    const int rc = search_slopes(x, user, slopes);
    return rc ? rc : search_off(x, user, f);
}

/* Returns GSL_SUCCESS when both equations hold; x is then the solver's. */
static int search_solve(search *s, gsl_multiroot_fdfsolver *solver)
{
    double begin[2] = {0, 0};
    const gsl_vector_view x = gsl_vector_view_array(begin, 2);
    gsl_multiroot_function_fdf f = {search_off, search_slopes, search_both, 2, s};
    int rc = gsl_multiroot_fdfsolver_set(solver, &f, &x.vector);
    for (int i = 0; rc == GSL_SUCCESS; i++) {
        rc = gsl_multiroot_test_residual(solver->f, enough);
        if (rc != GSL_CONTINUE || i == STEPS)
            return rc;
        rc = gsl_multiroot_fdfsolver_iterate(solver);
    }
    return rc;
}

/* What has no release and no peak cannot be tuned by them. */
static caber_status check_load(const caber_load *load, caber_message *message)
{
    const bool hub = load->hub.drive == CABER_TORQUE && load->hub.table.count == 0;
    const bool grip = load->grip.drive == CABER_TORQUE && load->grip.table.count == 0;
    if (hub && grip)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT,
                       "load.%s: a player re-tunes a torque program, neither a table nor a motion",
                       hub ? "grip" : "hub");
}

static caber_status fail(search *s, const gsl_multiroot_fdfsolver *solver, caber_message *message)
{
    if (s->status != CABER_OK)
        return message_set(message, s->status, "re-tuned to %.4g N m at the hub: %.900s",
                           s->setup->player.load.hub.peak, s->why.text);
    return message_set(
        message, CABER_NOT_CONVERGED,
        "no change of the hub's peak torque and of the release delivers %.2f m/s "
        "with a handle lean of %.2f deg; the nearest is off by %.2g m/s and %.2g deg",
        s->speed, s->lean * CABER_DEG, gsl_vector_get(solver->f, 0) * unit_speed,
        gsl_vector_get(solver->f, 1) * unit_lean * CABER_DEG);
}

static caber_status check_change(const gsl_vector *x, caber_message *message)
{
    const double a = gsl_vector_get(x, 0), b = gsl_vector_get(x, 1);
    if (fabs(a) <= most_a && fabs(b) <= most_b)
        return CABER_OK;
    return message_set(
        message, CABER_NOT_CONVERGED,
        "the same delivery would take %+.0f %% of the hub's peak torque and a release "
        "%.0f ms %s: that is another swing, not this one re-tuned",
        100 * expm1(unit_a * a), 1e3 * unit_b * fabs(b), b < 0 ? "earlier" : "later");
}

caber_status retune_run(caber_setup *setup, double speed, double lean, caber_retuning *out,
                        caber_swing *swing, caber_message *message)
{
    search s = {.setup = setup, .load = setup->player.load, .speed = speed, .lean = lean};
    caber_status status = check_load(&s.load, message);
    if (status != CABER_OK)
        return status;
    gsl_multiroot_fdfsolver *solver =
        gsl_multiroot_fdfsolver_alloc(gsl_multiroot_fdfsolver_hybridsj, 2);
    if (!solver)
        return message_set(message, CABER_NO_MEMORY, "out of memory to re-tune a swing");
    if (search_solve(&s, solver) != GSL_SUCCESS ||
        search_off(solver->x, &s, solver->f) != GSL_SUCCESS)
        status = fail(&s, solver, message);
    if (status == CABER_OK)
        status = check_change(solver->x, message);
    *out = search_change(solver->x);
    out->speed_off = s.swing.bent.head_speed - speed;
    out->lean_off = s.swing.bent.handle_lean - lean;
    out->swings = s.swings;
    *swing = s.swing;
    gsl_multiroot_fdfsolver_free(solver);
    return status;
}
