/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * batch_adjust_run: differences between batches with covariates removed.
 *
 * Columns of the model: one a batch (1 for its shots, else 0), then the covariates, centred by their
 * mean and scaled by their sd. A model has N rows, P columns, residuals e and leverages
 * h_i = x_i' A x_i with A = (X'X)^-1. The covariance of its parameters is that of HC3,
 *   V = A (sum_i x_i x_i' (e_i/(1 - h_i))^2) A,                                                  (1)
 * a contrast c has the standard error sqrt(c'V c) with t on N - P degrees of freedom, and q contrasts,
 * the rows of C, together (A. Wald)
 *   F = (C b)' (C V C')^-1 (C b) / q   on q and N - P.                                           (2)
 *
 * The second model, for the question whether slopes differ, has the covariates once a batch. */
#include "study/batch_adjust.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>

#include "base/message.h"
#include "study/batch_parts.h"

/* A covariate of whose variance less than this is its own is told by the rest. */
static const double own_least = 1e-6;
/* Columns are dependent when a singular value over the largest is below this. */
static const double dependent = 1e-7;
static const double leverage_most = 1 - 1e-8;

/* ------------------------------------------------------------------ least squares with HC3 */

typedef struct fit {
    size_t rows, columns, rank;
    gsl_matrix *x, *v; /* [rows][columns]; [columns][columns] of (1) */
    gsl_vector *b, *e, *h;
    double squares; /* of e */
} fit;

static void fit_free(fit *f)
{
    gsl_matrix_free(f->x);
    gsl_matrix_free(f->v);
    gsl_vector_free(f->b);
    gsl_vector_free(f->e);
    gsl_vector_free(f->h);
}

static bool fit_create(size_t rows, size_t columns, fit *f)
{
    *f = (fit){.rows = rows, .columns = columns};
    f->x = gsl_matrix_calloc(rows, columns);
    f->v = gsl_matrix_calloc(columns, columns);
    f->b = gsl_vector_calloc(columns);
    f->e = gsl_vector_calloc(rows);
    f->h = gsl_vector_calloc(rows);
    return f->x && f->v && f->b && f->e && f->h;
}

/* Parameters, residuals, and in v the covariance that least squares gives, s^2 A. */
static bool fit_solve(fit *f, const double *value)
{
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(f->rows, f->columns);
    const gsl_vector_const_view y = gsl_vector_const_view_array(value, f->rows);
    const bool fine = work &&
                      gsl_multifit_linear_tsvd(f->x, &y.vector, dependent, f->b, f->v, &f->squares,
                                               &f->rank, work) == GSL_SUCCESS &&
                      gsl_multifit_linear_residuals(f->x, &y.vector, f->b, f->e) == GSL_SUCCESS;
    gsl_multifit_linear_free(work);
    return fine;
}

/* From s^2 A in v to the leverages and (1). False when one shot has all the leverage: its residual is
 * 0 whatever it is, so nothing is known of its error. */
static bool fit_spread(fit *f, gsl_matrix *meat, gsl_matrix *half)
{
    gsl_matrix_scale(f->v, (double)(f->rows - f->columns) / f->squares);
    gsl_matrix_set_zero(meat);
    for (size_t i = 0; i < f->rows; i++) {
        const gsl_vector_const_view x = gsl_matrix_const_row(f->x, i);
        gsl_vector_view ax = gsl_matrix_row(half, 0);
        double h;
        gsl_blas_dgemv(CblasNoTrans, 1, f->v, &x.vector, 0, &ax.vector);
        gsl_blas_ddot(&x.vector, &ax.vector, &h);
        gsl_vector_set(f->h, i, h);
        if (!(h < leverage_most))
            return false;
        const double u = gsl_vector_get(f->e, i) / (1 - h);
        gsl_blas_dger(u * u, &x.vector, &x.vector, meat);
    }
    gsl_blas_dgemm(CblasNoTrans, CblasNoTrans, 1, f->v, meat, 0, half);
    gsl_blas_dgemm(CblasNoTrans, CblasNoTrans, 1, half, f->v, 0, meat);
    gsl_matrix_memcpy(f->v, meat);
    return true;
}

/* Given filled x; sets everything else. BATCH_UNSOLVED also without memory. */
static batch_reason fit_run(fit *f, const double *value)
{
    if (!fit_solve(f, value))
        return BATCH_UNSOLVED;
    if (f->rank < f->columns)
        return BATCH_COVARIATE_TOLD;
    const double all = gsl_stats_tss(value, 1, f->rows);
    if (!(f->squares > 1e-20 * all))
        return BATCH_FIT_EXACT;
    gsl_matrix *meat = gsl_matrix_calloc(f->columns, f->columns);
    gsl_matrix *half = gsl_matrix_calloc(f->columns, f->columns);
    batch_reason reason = BATCH_UNSOLVED;
    if (meat && half)
        reason = fit_spread(f, meat, half) ? BATCH_KNOWN : BATCH_ONE_SHOT;
    gsl_matrix_free(meat);
    gsl_matrix_free(half);
    return reason;
}

static double fit_df(const fit *f)
{
    return (double)(f->rows - f->columns);
}

/* Parameter i less parameter j; i alone when they are the same. */
static double fit_value(const fit *f, size_t i, size_t j)
{
    return gsl_vector_get(f->b, i) - (i == j ? 0 : gsl_vector_get(f->b, j));
}

static double fit_error(const fit *f, size_t i, size_t j)
{
    const double own = gsl_matrix_get(f->v, i, i);
    if (i == j)
        return sqrt(own);
    return sqrt(own + gsl_matrix_get(f->v, j, j) - 2 * gsl_matrix_get(f->v, i, j));
}

/* (2): whether the parameters first, first + step, ... (count of them) are all the same. */
static batch_test fit_same(const fit *f, size_t first, size_t step, size_t count)
{
    const size_t q = count - 1;
    gsl_matrix *m = gsl_matrix_alloc(q, q);
    gsl_vector *d = gsl_vector_alloc(q), *solved = gsl_vector_alloc(q);
    batch_test test = batch_test_unknown(BATCH_UNSOLVED);
    if (m && d && solved) {
        for (size_t i = 0; i < q; i++) {
            const size_t at = first + (i + 1) * step;
            gsl_vector_set(d, i, fit_value(f, at, first));
            for (size_t j = 0; j < q; j++) {
                const size_t other = first + (j + 1) * step;
                gsl_matrix_set(m, i, j,
                               gsl_matrix_get(f->v, at, other) - gsl_matrix_get(f->v, at, first) -
                                   gsl_matrix_get(f->v, first, other) +
                                   gsl_matrix_get(f->v, first, first));
            }
        }
        double sum;
        if (gsl_linalg_cholesky_decomp1(m) == GSL_SUCCESS &&
            gsl_linalg_cholesky_solve(m, d, solved) == GSL_SUCCESS &&
            gsl_blas_ddot(d, solved, &sum) == GSL_SUCCESS)
            test = batch_test_f(sum / (double)q, (double)q, fit_df(f));
    }
    gsl_matrix_free(m);
    gsl_vector_free(d);
    gsl_vector_free(solved);
    return test;
}

/* ------------------------------------------------------------------ refusing */

static const char *covariate_name(const batch_adjust_data *d, size_t j, char text[40])
{
    if (d->covariate_name && d->covariate_name[j])
        return d->covariate_name[j];
    snprintf(text, 40, "covariate %zu", j + 1);
    return text;
}

static void refuse(batch_adjust *out, batch_reason reason, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static void refuse(batch_adjust *out, batch_reason reason, const char *format, ...)
{
    va_list arguments;
    out->reason = reason;
    va_start(arguments, format);
    vsnprintf(out->why.text, sizeof out->why.text, format, arguments);
    va_end(arguments);
}

/* Of the covariate's variance, what neither batch nor the covariates before it tell, is nothing. */
static bool covariate_told(const batch_adjust_data *d, const fit *f, size_t j, bool *told)
{
    const size_t columns = d->batches + j;
    const gsl_matrix_const_view x = gsl_matrix_const_submatrix(f->x, 0, 0, f->rows, columns);
    const gsl_vector_const_view y = gsl_matrix_const_column(f->x, columns);
    gsl_multifit_linear_workspace *work = gsl_multifit_linear_alloc(f->rows, columns);
    gsl_vector *b = gsl_vector_alloc(columns);
    gsl_matrix *v = gsl_matrix_alloc(columns, columns);
    double left = 0;
    const bool fine = work && b && v &&
                      gsl_multifit_linear(&x.matrix, &y.vector, b, v, &left, work) == GSL_SUCCESS;
    gsl_multifit_linear_free(work);
    gsl_vector_free(b);
    gsl_matrix_free(v);
    /* columns have unit variance */
    *told = !(left > own_least * (double)f->rows);
    return fine;
}

static caber_status refuse_told(const batch_adjust_data *d, const fit *f, batch_adjust *out,
                                caber_message *message)
{
    char text[40];
    for (size_t j = 0; j < d->covariates; j++) {
        bool told;
        if (!covariate_told(d, f, j, &told))
            return message_set(message, CABER_NO_MEMORY, "no memory for the regression");
        if (!told)
            continue;
        refuse(out, BATCH_COVARIATE_TOLD,
               j > 0 ? "%s follows from the batch and the other quantities to be removed, so its "
                       "part cannot be told from theirs"
                     : "%s does not change within the batches, so its part cannot be told from "
                       "that of the batch",
               covariate_name(d, j, text));
        return CABER_OK;
    }
    return CABER_OK;
}

static void refuse_few(const batch_adjust_data *d, size_t parameters, batch_adjust *out)
{
    refuse(out, BATCH_FEW,
           "%zu shots are too few to remove %zu %s from %zu %s: %zu are needed at least", d->count,
           d->covariates, d->covariates == 1 ? "quantity" : "quantities", d->batches,
           d->batches == 1 ? "batch" : "batches", parameters + BATCH_ADJUST_SPARE);
}

static void refuse_fit(batch_reason reason, batch_adjust *out)
{
    if (reason == BATCH_FIT_EXACT)
        refuse(out, reason,
               "what is removed explains the shots to the last digit, so nothing is "
               "left to compare");
    else if (reason == BATCH_ONE_SHOT)
        refuse(out, reason,
               "one shot alone decides a slope: a quantity to be removed is the same "
               "in all others of its batch");
    else
        refuse(out, reason, "the regression found no solution");
}

/* ------------------------------------------------------------------ checking */

static caber_status check_batches(const batch_adjust_data *d, size_t *counts,
                                  caber_message *message)
{
    for (size_t i = 0; i < d->count; i++) {
        if (d->batch[i] >= d->batches)
            return message_set(message, CABER_BAD_INPUT, "shot %zu is of batch %zu of %zu", i + 1,
                               d->batch[i] + 1, d->batches);
        counts[d->batch[i]]++;
    }
    return CABER_OK;
}

static caber_status check_numbers(const batch_adjust_data *d, const batch_settings *settings,
                                  caber_message *message)
{
    if (d->batches == 0 || d->covariates == 0 || !d->batch || !d->covariate)
        return message_set(message, CABER_BAD_INPUT,
                           "adjusting needs a batch and a quantity to remove");
    caber_status status = batch_settings_check(settings, message);
    if (status == CABER_OK)
        status = batch_check(d->value, d->count, "the shots", message);
    for (size_t j = 0; status == CABER_OK && j < d->covariates; j++) {
        char text[40];
        status = batch_check(d->covariate[j], d->count, covariate_name(d, j, text), message);
    }
    return status;
}

/* What can be seen before any regression. */
static void refuse_early(const batch_adjust_data *d, const size_t *counts, batch_adjust *out)
{
    const size_t parameters = d->batches + d->covariates;
    char text[40];
    if (d->count < parameters + BATCH_ADJUST_SPARE) {
        refuse_few(d, parameters, out);
        return;
    }
    for (size_t b = 0; b < d->batches; b++)
        if (counts[b] < 2) {
            refuse(out, BATCH_FEW, "batch %zu has %zu %s: 2 are needed at least", b + 1, counts[b],
                   counts[b] == 1 ? "shot" : "shots");
            return;
        }
    for (size_t j = 0; j < d->covariates; j++)
        if (batch_is_constant(d->covariate[j], d->count)) {
            refuse(out, BATCH_COVARIATE_CONSTANT,
                   "%s is the same in every shot, so there is nothing to remove",
                   covariate_name(d, j, text));
            return;
        }
    if (batch_is_constant(d->value, d->count))
        refuse(out, BATCH_CONSTANT, "every shot has the same value");
}

/* ------------------------------------------------------------------ the two models */

typedef struct scaled {
    double mean, sd;
} scaled;

static scaled covariate_scale(const batch_adjust_data *d, size_t j)
{
    const double mean = gsl_stats_mean(d->covariate[j], 1, d->count);
    return (scaled){.mean = mean, .sd = gsl_stats_sd_m(d->covariate[j], 1, d->count, mean)};
}

static void fill_common(const batch_adjust_data *d, fit *f)
{
    for (size_t i = 0; i < d->count; i++)
        gsl_matrix_set(f->x, i, d->batch[i], 1);
    for (size_t j = 0; j < d->covariates; j++) {
        const scaled s = covariate_scale(d, j);
        for (size_t i = 0; i < d->count; i++)
            gsl_matrix_set(f->x, i, d->batches + j, (d->covariate[j][i] - s.mean) / s.sd);
    }
}

/* Parameter batches + b covariates + j: slope j of batch b. */
static void fill_own(const batch_adjust_data *d, fit *f)
{
    for (size_t i = 0; i < d->count; i++)
        gsl_matrix_set(f->x, i, d->batch[i], 1);
    for (size_t j = 0; j < d->covariates; j++) {
        const scaled s = covariate_scale(d, j);
        for (size_t i = 0; i < d->count; i++)
            gsl_matrix_set(f->x, i, d->batches + d->batch[i] * d->covariates + j,
                           (d->covariate[j][i] - s.mean) / s.sd);
    }
}

/* ------------------------------------------------------------------ what it gives */

static void fill_slopes(const batch_adjust_data *d, const fit *f, double level, batch_adjust *out)
{
    for (size_t j = 0; j < d->covariates; j++) {
        const scaled s = covariate_scale(d, j);
        const size_t at = d->batches + j;
        batch_slope *o = &out->slope[j];
        o->mean = s.mean;
        o->slope = fit_value(f, at, at) / s.sd;
        o->error = fit_error(f, at, at) / s.sd;
        o->interval = batch_interval_t(o->slope, o->error, out->df, level);
        o->test = batch_test_t(o->slope / o->error, out->df);
        o->same = batch_test_unknown(BATCH_FEW);
    }
}

static void fill_adjusted(const batch_adjust_data *d, const fit *f, batch_adjust *out)
{
    for (size_t i = 0; i < d->count; i++)
        out->adjusted[i] = gsl_vector_get(f->b, d->batch[i]) + gsl_vector_get(f->e, i);
}

/* Whether slopes differ, by the second model. */
static caber_status compare_slopes(const batch_adjust_data *d, double level, batch_adjust *out,
                                   caber_message *message)
{
    const size_t columns = d->batches * (1 + d->covariates);
    char text[40];
    if (d->batches < 2 || d->count < columns + BATCH_ADJUST_SPARE)
        return CABER_OK;
    fit own;
    if (!fit_create(d->count, columns, &own)) {
        fit_free(&own);
        return message_set(message, CABER_NO_MEMORY, "no memory for the regression");
    }
    fill_own(d, &own);
    const batch_reason reason = fit_run(&own, d->value);
    for (size_t j = 0; j < d->covariates; j++) {
        batch_test *same = &out->slope[j].same;
        *same = reason == BATCH_KNOWN ? fit_same(&own, d->batches + j, d->covariates, d->batches)
                                      : batch_test_unknown(reason);
        if (same->reason != BATCH_KNOWN || same->p >= 1 - level || out->slopes_differ)
            continue;
        out->slopes_differ = true;
        snprintf(out->doubt.text, sizeof out->doubt.text,
                 "the slope against %s differs between the batches (p = %.2g), so what is left of "
                 "their difference depends on where it is taken: the adjustment is doubtful",
                 covariate_name(d, j, text), same->p);
    }
    fit_free(&own);
    return CABER_OK;
}

/* One after the other, batch by batch; batches [batches] refer to it. */
typedef struct sorted {
    double *raw, *adjusted;       /* [count] each, one block owned by raw */
    batch *raw_batch, *new_batch; /* [batches] each, owned by raw_batch */
} sorted;

static void sorted_free(sorted *s)
{
    free(s->raw);
    free(s->raw_batch);
}

static bool sorted_create(const batch_adjust_data *d, const double *adjusted, sorted *s)
{
    s->raw = malloc(2 * d->count * sizeof *s->raw);
    s->raw_batch = calloc(2 * d->batches, sizeof *s->raw_batch);
    if (!s->raw || !s->raw_batch)
        return false;
    s->adjusted = s->raw + d->count;
    s->new_batch = s->raw_batch + d->batches;
    size_t at = 0;
    for (size_t b = 0; b < d->batches; b++) {
        const size_t from = at;
        for (size_t i = 0; i < d->count; i++)
            if (d->batch[i] == b) {
                s->raw[at] = d->value[i];
                s->adjusted[at++] = adjusted[i];
            }
        s->raw_batch[b] = (batch){.value = s->raw + from, .count = at - from};
        s->new_batch[b] = (batch){.value = s->adjusted + from, .count = at - from};
    }
    return true;
}

/* Residual squares of a batch have the mean s^2 sum (1 - h), hence the divisor. */
static double residual_sd(const batch_adjust_data *d, const fit *f, size_t b)
{
    double squares = 0, left = 0;
    for (size_t i = 0; i < d->count; i++)
        if (d->batch[i] == b) {
            squares += gsl_vector_get(f->e, i) * gsl_vector_get(f->e, i);
            left += 1 - gsl_vector_get(f->h, i);
        }
    return sqrt(squares / left);
}

static void fill_batches(const batch_adjust_data *d, const fit *f, const sorted *s, double level,
                         batch_adjust *out)
{
    double within = 0;
    for (size_t b = 0; b < d->batches; b++) {
        batch_adjusted *o = &out->batch[b];
        const batch *raw = &s->raw_batch[b], *adjusted = &s->new_batch[b];
        o->count = raw->count;
        o->raw_mean = gsl_stats_mean(raw->value, 1, raw->count);
        o->raw_sd = gsl_stats_sd_m(raw->value, 1, raw->count, o->raw_mean);
        o->mean = fit_value(f, b, b);
        o->error = fit_error(f, b, b);
        o->interval = batch_interval_t(o->mean, o->error, out->df, level);
        o->sd = residual_sd(d, f, b);
        o->sd_interval = batch_sd_interval(adjusted->value, adjusted->count, level);
        within += gsl_stats_tss_m(raw->value, 1, raw->count, o->raw_mean);
    }
    out->sd = sqrt(f->squares / out->df);
    out->share_within = within > 0 ? fmin(fmax(1 - f->squares / within, 0), 1) : 0;
}

static caber_status fill_pair(const fit *f, const sorted *s, double level, const batch_adjust *all,
                              batch_adjusted_pair *o, caber_message *message)
{
    const batch_adjusted *a = &all->batch[o->a], *b = &all->batch[o->b];
    const batch both[2] = {s->new_batch[o->a], s->new_batch[o->b]};
    o->raw_difference = a->raw_mean - b->raw_mean;
    o->difference = fit_value(f, o->a, o->b);
    o->error = fit_error(f, o->a, o->b);
    o->interval = batch_interval_t(o->difference, o->error, all->df, level);
    o->test = batch_test_t(o->difference / o->error, all->df);
    o->explained = o->raw_difference - o->difference;
    o->explained_share = o->raw_difference == 0 ? (double)NAN : o->explained / o->raw_difference;
    o->sd_ratio = a->sd > 0 && b->sd > 0 ? a->sd / b->sd : (double)NAN;
    o->sd_ratio_interval = batch_sd_ratio_interval(&both[0], &both[1], level);
    return batch_spreads_test(both, 2, &o->spreads, message);
}

static caber_status fill_pairs(const batch_adjust_data *d, const fit *f, const sorted *s,
                               double level, batch_adjust *out, caber_message *message)
{
    caber_status status = CABER_OK;
    batch_adjusted_pair *o = out->pair;
    for (size_t a = 0; status == CABER_OK && a < d->batches; a++)
        for (size_t b = a + 1; status == CABER_OK && b < d->batches; b++, o++) {
            o->a = a;
            o->b = b;
            status = fill_pair(f, s, level, out, o, message);
        }
    out->overall = batch_test_unknown(BATCH_FEW);
    out->spreads = batch_test_unknown(BATCH_FEW);
    if (status != CABER_OK || d->batches < 2)
        return status;
    out->overall = fit_same(f, 0, 1, d->batches);
    return batch_spreads_test(s->new_batch, d->batches, &out->spreads, message);
}

static caber_status fill_all(const batch_adjust_data *d, const fit *f, double level,
                             batch_adjust *out, caber_message *message)
{
    sorted s = {0};
    out->df = fit_df(f);
    fill_slopes(d, f, level, out);
    fill_adjusted(d, f, out);
    caber_status status = CABER_NO_MEMORY;
    if (sorted_create(d, out->adjusted, &s)) {
        fill_batches(d, f, &s, level, out);
        status = fill_pairs(d, f, &s, level, out, message);
    }
    sorted_free(&s);
    return status == CABER_OK ? compare_slopes(d, level, out, message) : status;
}

/* ------------------------------------------------------------------ all of it */

void batch_adjust_free(batch_adjust *out)
{
    free(out->slope);
    free(out->batch);
    free(out->pair);
    free(out->adjusted);
    *out = (batch_adjust){0};
}

static bool create(const batch_adjust_data *d, batch_adjust *out)
{
    out->count = d->count;
    out->batches = d->batches;
    out->covariates = d->covariates;
    out->pairs = d->batches * (d->batches - 1) / 2;
    out->slope = calloc(d->covariates, sizeof *out->slope);
    out->batch = calloc(d->batches, sizeof *out->batch);
    out->pair = out->pairs > 0 ? calloc(out->pairs, sizeof *out->pair) : NULL;
    out->adjusted = malloc(d->count * sizeof *out->adjusted);
    return out->slope && out->batch && (out->pair || out->pairs == 0) && out->adjusted;
}

/* The regression, once what can be refused before it is not. */
static caber_status regress(const batch_adjust_data *d, double level, batch_adjust *out,
                            caber_message *message)
{
    fit common = {0};
    caber_status status = CABER_NO_MEMORY;
    if (create(d, out) && fit_create(d->count, d->batches + d->covariates, &common)) {
        fill_common(d, &common);
        status = refuse_told(d, &common, out, message);
        if (status == CABER_OK && out->reason == BATCH_KNOWN) {
            const batch_reason reason = fit_run(&common, d->value);
            if (reason != BATCH_KNOWN)
                refuse_fit(reason, out);
            else
                status = fill_all(d, &common, level, out, message);
        }
    }
    fit_free(&common);
    return status;
}

/* Keeps the refusal alone. */
static void keep_refusal(batch_adjust *out)
{
    const batch_reason reason = out->reason;
    const caber_message why = out->why;
    batch_adjust_free(out);
    out->reason = reason;
    out->why = why;
}

caber_status batch_adjust_run(const batch_adjust_data *data, const batch_settings *settings,
                              batch_adjust *out, caber_message *message)
{
    message_clear(message);
    *out = (batch_adjust){0};
    caber_status status = check_numbers(data, settings, message);
    if (status != CABER_OK)
        return status;
    gsl_set_error_handler_off();
    size_t *counts = calloc(data->batches, sizeof *counts);
    status = counts ? check_batches(data, counts, message) : CABER_NO_MEMORY;
    if (status == CABER_OK)
        refuse_early(data, counts, out);
    free(counts);
    if (status == CABER_OK && out->reason == BATCH_KNOWN)
        status = regress(data, settings->level, out, message);
    if (status == CABER_OK && out->reason != BATCH_KNOWN)
        keep_refusal(out);
    if (status == CABER_OK)
        return status;
    batch_adjust_free(out);
    return status == CABER_NO_MEMORY
               ? message_set(message, status, "no memory for %zu shots", data->count)
               : status;
}
