/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>

#include <gsl/gsl_blas.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit_nlinear.h>

#include "base/message.h"
#include "shaft/fit.h"

/* Assumptions of ours: standard deviations of the second differences of log EI and log GJ over 80 mm that a
 * shaft may have; over other knots as for an integrated random walk, which the penalty is. */
static const double bend_least = 0.02, bend_most = 0.3, bend_knot = 0.08, bend_power = 1.5;
/* How a shaft may bend further at one place than elsewhere, see choose_local: m; degrees of freedom. */
static const double around = 0.1, own = 1.5;
/* Relative changes of the unknowns that are as good as none: between choices of the bends, and at last. */
static const double rough = 1e-2, settled = 1e-4;
/* The sum of squares that a step may still be worth, over the scatter of the readings, where the search
 * comes to no end: derivatives are those of the splines, and what lies between the stations follows
 * these only nearly. */
static const double no_worse = 0.1;
/* Stands for residuals where there is no prediction; any step there is refused. */
static const double void_residual = 1e100;
enum { ROUNDS = 12, STEPS = 100 };

/* ------------------------------------------------------------------ blocks of the problem */

/* Unknowns that share readings: EI, mass, p and q; or GJ. `normal`, `gradient` and `value` are of all but
 * the second differences of `which`, whose size is being tried. */
typedef struct block {
    int which;
    size_t first, count;
    size_t readings; /* used */
    gsl_matrix *normal, *factor;
    gsl_vector *gradient, *step, *row;
    double value;
    bool evaluated; /* the problem, for these readings, at the last unknowns */
} block;

static void block_free(block *b)
{
    if (b->normal)
        gsl_matrix_free(b->normal);
    if (b->factor)
        gsl_matrix_free(b->factor);
    if (b->gradient)
        gsl_vector_free(b->gradient);
    if (b->step)
        gsl_vector_free(b->step);
    if (b->row)
        gsl_vector_free(b->row);
}

static bool block_create(block *b, const fit_problem *m, int which)
{
    const size_t gj = m->curve[FIT_GJ].first;
    *b = (block){.which = which, .first = which == FIT_GJ ? gj : 0};
    b->count = which == FIT_GJ ? m->unknowns - gj : gj;
    b->normal = gsl_matrix_alloc(b->count, b->count);
    b->factor = gsl_matrix_alloc(b->count, b->count);
    b->gradient = gsl_vector_alloc(b->count);
    b->step = gsl_vector_alloc(b->count);
    b->row = gsl_vector_alloc(b->count);
    return b->normal && b->factor && b->gradient && b->step && b->row;
}

static bool block_has(const block *b, const fit_problem *m, size_t reading)
{
    const caber_reading *r = &m->readings->items[reading];
    return !r->left_out && fit_twists(r) == (b->which == FIT_GJ);
}

static bool is_bend(const fit_penalty *p, const fit_problem *m, int which)
{
    const fit_curve *c = &m->curve[which];
    return p->count == 3 && p->at[0] >= c->first && p->at[0] < c->first + c->count;
}

static bool penalty_in(const block *b, const fit_penalty *p)
{
    return p->at[0] >= b->first && p->at[0] < b->first + b->count;
}

static void add_penalty(const block *b, const fit_penalty *p, const gsl_vector *x,
                        gsl_matrix *normal, gsl_vector *gradient, double *value)
{
    if (!penalty_in(b, p))
        return;
    const double v = fit_penalty_value(p, x);
    *value += v * v;
    for (size_t i = 0; i < p->count; i++) {
        *gsl_vector_ptr(gradient, p->at[i] - b->first) += v * p->factor[i];
        for (size_t j = 0; j <= i; j++)
            *gsl_matrix_ptr(normal, p->at[i] - b->first, p->at[j] - b->first) +=
                p->factor[i] * p->factor[j];
    }
}

/* At x, where the problem has been evaluated. */
static void block_fill(block *b, const fit_problem *m, const gsl_vector *x)
{
    gsl_matrix_set_zero(b->normal);
    gsl_vector_set_zero(b->gradient);
    b->value = 0;
    b->readings = 0;
    for (size_t i = 0; i < m->readings->count; i++) {
        if (!block_has(b, m, i))
            continue;
        gsl_vector_const_view row = gsl_matrix_const_subrow(m->slope, i, b->first, b->count);
        const double off = (m->predicted[i] - m->readings->items[i].value) / m->sigma[i];
        gsl_blas_dsyr(CblasLower, 1, &row.vector, b->normal);
        gsl_blas_daxpy(off, &row.vector, b->gradient);
        b->value += off * off;
        b->readings++;
    }
    for (size_t i = 0; i < fit_penalty_count(m); i++) {
        const fit_penalty p = fit_penalty_at(m, i);
        if (!is_bend(&p, m, b->which))
            add_penalty(b, &p, x, b->normal, b->gradient, &b->value);
    }
}

/* With the curve's bend: its penalties added, in `factor` the Cholesky factor, in `step` the step to
 * the least of the linearised problem; *value is the sum of squares at x and *gain what the step takes off it.
 * False when it has no solution. */
static bool block_solve(block *b, const fit_problem *m, const gsl_vector *x, double *value,
                        double *gain)
{
    gsl_matrix_memcpy(b->factor, b->normal);
    gsl_vector_memcpy(b->step, b->gradient);
    *value = b->value;
    for (size_t i = 0; i < fit_penalty_count(m); i++) {
        const fit_penalty p = fit_penalty_at(m, i);
        if (is_bend(&p, m, b->which))
            add_penalty(b, &p, x, b->factor, b->step, value);
    }
    if (gsl_linalg_cholesky_decomp1(b->factor) != GSL_SUCCESS)
        return false;
    gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, b->factor, b->step);
    gsl_blas_ddot(b->step, b->step, gain);
    gsl_blas_dtrsv(CblasLower, CblasTrans, CblasNonUnit, b->factor, b->step);
    gsl_vector_scale(b->step, -1);
    return isfinite(*gain);
}

/* ------------------------------------------------------------------ least squares */

/* One block as gsl_multifit_nlinear sees it: rows of the readings used, then of the penalties. */
typedef struct search {
    fit_problem *m;
    block *b;
    gsl_vector *x;       /* all unknowns; the block's are those of the last evaluation */
    caber_status status; /* what keeps the search from going on */
} search;

static size_t row_count(const fit_problem *m, const block *b)
{
    size_t n = 0;
    for (size_t i = 0; i < m->readings->count; i++)
        n += block_has(b, m, i);
    for (size_t i = 0; i < fit_penalty_count(m); i++) {
        const fit_penalty p = fit_penalty_at(m, i);
        n += penalty_in(b, &p);
    }
    return n;
}

/* False where there is no prediction. */
static bool search_go(search *s, const gsl_vector *part)
{
    gsl_vector_view into = gsl_vector_subvector(s->x, s->b->first, s->b->count);
    if (s->b->evaluated && gsl_vector_equal(part, &into.vector))
        return true;
    gsl_vector_memcpy(&into.vector, part);
    const caber_status status = fit_evaluate(s->m, s->x, s->b->which);
    s->b->evaluated = status == CABER_OK;
    if (status != CABER_OK && status != CABER_NOT_CONVERGED)
        s->status = status;
    return s->b->evaluated;
}

static int residuals(const gsl_vector *part, void *context, gsl_vector *f)
{
    search *s = context;
    const fit_problem *m = s->m;
    size_t row = 0;
    if (!search_go(s, part)) {
        gsl_vector_set_all(f, void_residual);
        return s->status == CABER_OK ? GSL_SUCCESS : GSL_EFAILED;
    }
    for (size_t i = 0; i < m->readings->count; i++)
        if (block_has(s->b, m, i))
            gsl_vector_set(f, row++, (m->predicted[i] - m->readings->items[i].value) / m->sigma[i]);
    for (size_t i = 0; i < fit_penalty_count(m); i++) {
        const fit_penalty p = fit_penalty_at(m, i);
        if (penalty_in(s->b, &p))
            gsl_vector_set(f, row++, fit_penalty_value(&p, s->x));
    }
    return GSL_SUCCESS;
}

static int slopes(const gsl_vector *part, void *context, gsl_matrix *j)
{
    search *s = context;
    const fit_problem *m = s->m;
    size_t row = 0;
    if (!search_go(s, part))
        return GSL_EFAILED;
    gsl_matrix_set_zero(j);
    for (size_t i = 0; i < m->readings->count; i++)
        if (block_has(s->b, m, i)) {
            gsl_vector_const_view from =
                gsl_matrix_const_subrow(m->slope, i, s->b->first, s->b->count);
            gsl_matrix_set_row(j, row++, &from.vector);
        }
    for (size_t i = 0; i < fit_penalty_count(m); i++) {
        const fit_penalty p = fit_penalty_at(m, i);
        if (!penalty_in(s->b, &p))
            continue;
        for (size_t k = 0; k < p.count; k++)
            gsl_matrix_set(j, row, p.at[k] - s->b->first, p.factor[k]);
        row++;
    }
    return GSL_SUCCESS;
}

static caber_status no_profile(fit_problem *m)
{
    return message_set(m->message, CABER_NOT_CONVERGED,
                       "no profile was found that follows the readings");
}

/* Whether a step from x, where the block has been evaluated, is worth no more than what is allowed. */
static bool at_rest(const fit_problem *m, block *b, const gsl_vector *x)
{
    double value, gain;
    block_fill(b, m, x);
    return block_solve(b, m, x, &value, &gain) &&
           gain <= no_worse * fmax(1, value / (double)b->readings);
}

/* From x to the least sum of squares of the block, where it has been evaluated then. */
static caber_status descend(fit_problem *m, block *b, gsl_vector *x, double until)
{
    search s = {.m = m, .b = b, .x = x, .status = CABER_OK};
    gsl_multifit_nlinear_parameters how = gsl_multifit_nlinear_default_parameters();
    how.trs = gsl_multifit_nlinear_trs_lm;
    how.solver = gsl_multifit_nlinear_solver_qr;
    gsl_multifit_nlinear_fdf f = {
        .f = residuals, .df = slopes, .n = row_count(m, b), .p = b->count, .params = &s};
    gsl_multifit_nlinear_workspace *w =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &how, f.n, f.p);
    if (!w)
        return message_set(m->message, CABER_NO_MEMORY, "out of memory for the profile");
    gsl_vector_const_view from = gsl_vector_const_subvector(x, b->first, b->count);
    gsl_vector_memcpy(b->step, &from.vector);
    int info, rc = gsl_multifit_nlinear_init(b->step, &f, w);
    if (rc == GSL_SUCCESS)
        rc = gsl_multifit_nlinear_driver(STEPS, until, 0, 0, NULL, NULL, &info, w);
    const bool found = s.status == CABER_OK && search_go(&s, gsl_multifit_nlinear_position(w));
    gsl_multifit_nlinear_free(w);
    if (s.status != CABER_OK)
        return s.status;
    return found && (rc == GSL_SUCCESS || at_rest(m, b, x)) ? CABER_OK : no_profile(m);
}

/* ------------------------------------------------------------------ how far the curves may bend */

static double bend_at(const fit_curve *c, int k)
{
    return bend_least * pow(bend_most / bend_least, (double)k / (FIT_GRID - 1)) *
           pow(c->knot / bend_knot, bend_power);
}

/* Takes a bend as if it were known. */
static void believe(fit_problem *m, int which, double bend)
{
    fit_grid *grid = &m->grid[which];
    *grid = (fit_grid){.bend[0] = bend, .weight[0] = 1};
    m->curve[which].bend = bend;
}

/* Log of the marginal likelihood of the curve's bend, but for a constant:
 *   -(Q/f + n log f + log det H + 2 (count - 2) log bend)/2,
 * Q the least sum of squares, H its matrix, n the readings beyond the dimensions without a prior and f = Q/n
 * or 1, whichever is larger: the factor on sigma^2 that the readings' own scatter asks for. */
static double likelihood(block *b, const fit_problem *m, const gsl_vector *x)
{
    double value, gain;
    if (!block_solve(b, m, x, &value, &gain))
        return -HUGE_VAL;
    const fit_curve *c = &m->curve[b->which];
    const double free_dimensions = b->which == FIT_GJ ? 2 : 3; /* level and slope; total mass */
    const double n = fmax((double)b->readings - free_dimensions, 1);
    const double least = fmax(value - gain, 0), f = fmax(least / n, 1);
    double half = 0; /* of log det H */
    for (size_t i = 0; i < b->count; i++)
        half += log(gsl_matrix_get(b->factor, i, i));
    return -(least / f + n * log(f)) / 2 - half - (double)(c->count - 2) * log(c->bend);
}

/* The mean of log(bend) over the grid as the likelihood weighs it. */
static double mean_bend(fit_problem *m, block *b, const gsl_vector *x)
{
    fit_curve *c = &m->curve[b->which];
    fit_grid *grid = &m->grid[b->which];
    double most = -HUGE_VAL, sum = 0, mean = 0;
    for (int k = 0; k < FIT_GRID; k++) {
        grid->bend[k] = c->bend = bend_at(c, k);
        grid->weight[k] = likelihood(b, m, x);
        most = fmax(most, grid->weight[k]);
    }
    for (int k = 0; k < FIT_GRID; k++) {
        grid->weight[k] = exp(grid->weight[k] - most);
        sum += grid->weight[k];
        mean += grid->weight[k] * log(grid->bend[k]);
    }
    for (int k = 0; k < FIT_GRID; k++)
        grid->weight[k] /= sum;
    return exp(mean / sum);
}

/* Leverage of a reading of the block as it is solved. */
static double leverage(block *b, const fit_problem *m, size_t reading)
{
    gsl_vector_const_view row = gsl_matrix_const_subrow(m->slope, reading, b->first, b->count);
    double hat;
    gsl_vector_memcpy(b->row, &row.vector);
    gsl_blas_dtrsv(CblasLower, CblasNoTrans, CblasNonUnit, b->factor, b->row);
    gsl_blas_ddot(b->row, b->row, &hat);
    return hat;
}

/* Of the linearised fit with the curve's bend: chi^2, and the degrees of freedom it leaves. */
static bool misfit(block *b, const fit_problem *m, const gsl_vector *x, double *chi_square,
                   double *freedom)
{
    double value, gain;
    *chi_square = 0;
    *freedom = (double)b->readings;
    if (!block_solve(b, m, x, &value, &gain))
        return false;
    for (size_t i = 0; i < m->readings->count; i++) {
        if (!block_has(b, m, i))
            continue;
        gsl_vector_const_view row = gsl_matrix_const_subrow(m->slope, i, b->first, b->count);
        double change;
        gsl_blas_ddot(&row.vector, b->step, &change);
        const double off = (m->predicted[i] - m->readings->items[i].value) / m->sigma[i] + change;
        *chi_square += off * off;
        *freedom -= leverage(b, m, i);
    }
    return true;
}

/* Of generalised cross-validation the least, n chi^2/freedom^2 (P. Craven and G. Wahba 1979, Numer. Math.
 * 31:377; from memory). */
static double crossed_bend(fit_problem *m, block *b, const gsl_vector *x)
{
    fit_curve *c = &m->curve[b->which];
    double least = HUGE_VAL, best = c->bend;
    for (int k = 0; k < FIT_GRID; k++) {
        double chi_square, freedom;
        c->bend = bend_at(c, k);
        if (!misfit(b, m, x, &chi_square, &freedom) || !(freedom > 0))
            continue;
        const double score = chi_square / (freedom * freedom);
        if (score < least) {
            least = score;
            best = c->bend;
        }
    }
    return best;
}

/* Of the discrepancy principle: the smoothest whose chi^2 is the degrees of freedom it leaves, between two
 * of the grid by their logarithms; the end of the grid where chi^2 is below, or above, at all (V. A. Morozov
 * 1966, Soviet Math. Dokl. 7:414; from memory). */
static double discrepant_bend(fit_problem *m, block *b, const gsl_vector *x)
{
    fit_curve *c = &m->curve[b->which];
    double last = NAN, last_bend = NAN;
    for (int k = 0; k < FIT_GRID; k++) {
        double chi_square, freedom;
        c->bend = bend_at(c, k);
        if (!misfit(b, m, x, &chi_square, &freedom))
            continue;
        const double over = chi_square / freedom - 1;
        if (over <= 0)
            return k == 0 || isnan(last)
                       ? c->bend
                       : last_bend * pow(c->bend / last_bend, last / (last - over));
        last = over;
        last_bend = c->bend;
    }
    return c->bend;
}

/* Chooses the curve's bend and fills its grid at x; returns by what factor that changed, as a log. */
static double choose_bend(fit_problem *m, block *b, const gsl_vector *x)
{
    fit_curve *c = &m->curve[b->which];
    const double before = c->bend;
    block_fill(b, m, x);
    if (m->readings->smoothness == CABER_LIKELIHOOD)
        c->bend = mean_bend(m, b, x);
    else
        believe(m, b->which,
                m->readings->smoothness == CABER_DISCREPANCY ? discrepant_bend(m, b, x)
                                                             : crossed_bend(m, b, x));
    return fabs(log(c->bend / before));
}

/* square[i] = the mean square of the curve's second difference i over what is left open about it, its
 * estimate squared and its variance, over bend^2. */
static bool mean_squares(const fit_problem *m, block *b, const gsl_vector *x, double *square)
{
    static const double factor[3] = {1, -2, 1};
    const fit_curve *c = &m->curve[b->which];
    double value, gain;
    if (!block_solve(b, m, x, &value, &gain) ||
        gsl_linalg_cholesky_invert(b->factor) != GSL_SUCCESS)
        return false;
    for (size_t i = 0; i + 2 < c->count; i++) {
        const size_t first = c->first - b->first + i;
        double difference = 0, variance = 0;
        for (size_t j = 0; j < 3; j++) {
            difference += factor[j] * gsl_vector_get(x, c->first + i + j);
            for (size_t k = 0; k < 3; k++)
                variance +=
                    factor[j] * factor[k] *
                    gsl_matrix_get(b->factor, first + (j > k ? j : k), first + (j > k ? k : j));
        }
        square[i] = (difference * difference + variance) / (c->bend * c->bend);
    }
    return true;
}

/* Sets how much further than elsewhere the curve may bend at each place: from the mean squares within
 * `around`, weighted less the further, beside `own` degrees of freedom that say as far as elsewhere. */
static void choose_local(fit_problem *m, block *b, const gsl_vector *x)
{
    fit_curve *c = &m->curve[b->which];
    double *square = m->scratch;
    if (!mean_squares(m, b, x, square))
        return;
    for (size_t i = 0; i + 2 < c->count; i++) {
        double sum = own, count = own;
        for (size_t j = 0; j + 2 < c->count; j++) {
            const double apart = c->knot * fabs((double)i - (double)j);
            const double weight = fmax(1 - apart / around, 0);
            sum += weight * square[j];
            count += weight;
        }
        c->local[i] = fmin(sqrt(fmax(sum / count, 1)), bend_at(c, FIT_GRID - 1) / c->bend);
        if (b->which == FIT_GJ) /* the same wall, on the same knots */
            c->local[i] = fmax(c->local[i], m->curve[FIT_EI].local[i]);
    }
}

/* ------------------------------------------------------------------ all of it */

static double level_mass(const caber_readings *r)
{
    for (size_t i = 0; i < r->count; i++)
        if (r->items[i].kind == CABER_READ_MASS && !r->items[i].left_out)
            return r->items[i].value;
    return 0.06;
}

/* A level shaft that the readings agree with on average: static readings go like 1/EI or 1/GJ. */
static caber_status start(fit_problem *m, gsl_vector *x)
{
    static const double level = 3; /* log of 20 N m2 */
    const caber_readings *r = m->readings;
    double sum[FIT_CURVES] = {0}, count[FIT_CURVES] = {0};
    gsl_vector_set_zero(x);
    for (int k = 0; k < FIT_CURVES; k++)
        for (size_t j = 0; j < m->curve[k].count; j++)
            gsl_vector_set(x, m->curve[k].first + j,
                           k == FIT_MASS ? log(level_mass(r) / r->length) : level);
    caber_status status = fit_evaluate(m, x, FIT_EI);
    if (status == CABER_OK)
        status = fit_evaluate(m, x, FIT_GJ);
    for (size_t i = 0; status == CABER_OK && i < r->count; i++) {
        const caber_reading *q = &r->items[i];
        if (q->left_out || q->kind == CABER_READ_MASS || q->kind == CABER_READ_BALANCE)
            continue;
        const int k = fit_twists(q) ? FIT_GJ : FIT_EI;
        /* A frequency goes like the root of EI. */
        const double power = q->kind == CABER_READ_FREQUENCY ? -2 : 1;
        sum[k] += power * log(m->predicted[i] / q->value);
        count[k] += 1;
    }
    for (int k = 0; status == CABER_OK && k < FIT_CURVES; k++)
        for (size_t j = 0; count[k] > 0 && j < m->curve[k].count; j++)
            gsl_vector_set(x, m->curve[k].first + j, level + sum[k] / count[k]);
    return status;
}

/* Sum of squares of the block's readings and penalties, where it has been evaluated. */
static double total(const fit_problem *m, block *b, const gsl_vector *x)
{
    double value = 0;
    block_fill(b, m, x);
    for (size_t i = 0; i < fit_penalty_count(m); i++) {
        const fit_penalty p = fit_penalty_at(m, i);
        if (is_bend(&p, m, b->which))
            value += fit_penalty_value(&p, x) * fit_penalty_value(&p, x);
    }
    return value + b->value;
}

static caber_status rounds(fit_problem *m, block *b, gsl_vector *x)
{
    static const double near = 0.05; /* of log(bend) */
    /* Mean scatter in sigmas beyond which it is no use to ask how far the curve bends. */
    static const double hopeless = 6;
    caber_status status = CABER_OK;
    believe(m, b->which, bend_at(&m->curve[b->which], FIT_GRID / 2));
    for (int round = 0; status == CABER_OK && round < ROUNDS; round++) {
        status = descend(m, b, x, rough);
        if (status != CABER_OK || total(m, b, x) > hopeless * hopeless * (double)b->readings)
            break;
        const double change = choose_bend(m, b, x);
        choose_local(m, b, x);
        if (b->which == FIT_EI && fit_set_sigma(m, fit_principal_at(m, x).e))
            b->evaluated = false;
        if (change < near)
            break;
    }
    return status == CABER_OK ? descend(m, b, x, settled) : status;
}

/* EI first: where it bends further GJ may, too. */
caber_status fit_solve(fit_problem *m, gsl_vector *x)
{
    static const int which[2] = {FIT_EI, FIT_GJ};
    caber_status status = start(m, x);
    for (int k = 0; status == CABER_OK && k < 2; k++) {
        block b;
        status = block_create(&b, m, which[k])
                     ? rounds(m, &b, x)
                     : message_set(m->message, CABER_NO_MEMORY, "out of memory for the profile");
        block_free(&b);
    }
    return status;
}

/* ------------------------------------------------------------------ covariance */

/* Adds weight (H^-1 + step step') of the block as it is solved. */
static bool add_component(block *b, double weight, gsl_matrix *into)
{
    if (gsl_linalg_cholesky_invert(b->factor) != GSL_SUCCESS)
        return false;
    gsl_blas_dsyr(CblasLower, 1, b->step, b->factor);
    for (size_t i = 0; i < b->count; i++)
        for (size_t j = 0; j <= i; j++)
            *gsl_matrix_ptr(into, i, j) += weight * gsl_matrix_get(b->factor, i, j);
    return true;
}

/* The leverages j' H^-1 j of the block's readings, left out or not, at the bend that the fit was made with. */
static bool leverages(block *b, fit_problem *m, const gsl_vector *x, double *hat)
{
    double value, gain;
    if (!block_solve(b, m, x, &value, &gain))
        return false;
    for (size_t i = 0; i < m->readings->count; i++) {
        if (fit_twists(&m->readings->items[i]) != (b->which == FIT_GJ))
            continue;
        hat[i] = leverage(b, m, i);
    }
    return true;
}

static bool block_covariance(block *b, fit_problem *m, const gsl_vector *x, gsl_matrix *covariance,
                             double *hat)
{
    /* Components less likely than this are left away. */
    static const double least = 1e-5;
    fit_curve *c = &m->curve[b->which];
    const fit_grid *grid = &m->grid[b->which];
    const double bend = c->bend;
    gsl_matrix_view into = gsl_matrix_submatrix(covariance, b->first, b->first, b->count, b->count);
    block_fill(b, m, x);
    bool good = leverages(b, m, x, hat);
    for (int k = 0; good && k < FIT_GRID; k++) {
        double value, gain;
        if (grid->weight[k] < least)
            continue;
        c->bend = grid->bend[k];
        good =
            block_solve(b, m, x, &value, &gain) && add_component(b, grid->weight[k], &into.matrix);
    }
    c->bend = bend;
    return good;
}

caber_status fit_covariance(fit_problem *m, const gsl_vector *x, gsl_matrix *covariance,
                            double *hat)
{
    block blocks[2] = {{0}};
    bool good = block_create(&blocks[0], m, FIT_EI) && block_create(&blocks[1], m, FIT_GJ);
    gsl_matrix_set_zero(covariance);
    for (int k = 0; good && k < 2; k++)
        good = block_covariance(&blocks[k], m, x, covariance, hat);
    for (int k = 0; k < 2; k++)
        block_free(&blocks[k]);
    return good ? CABER_OK
                : message_set(m->message, CABER_NOT_CONVERGED,
                              "the errors of the profile were not found");
}
