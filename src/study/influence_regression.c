/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/influence_regression.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "study/influence.h"
#include "study/ranks.h"

/* Cases beyond the number of factors below which the fit means nothing: an assumption of ours. */
enum { SPARE = 10 };
/* Least eigenvalue of the correlations at which factors can be told apart: what is lost in solving is
 * then 1e-16/1e-6. */
static const double apart = 1e-6;

/* Columns of the cases that count, then room for the solving. */
typedef struct columns {
    size_t rows, factors;
    double *item; /* [factors + 1][rows], the output last; of mean 0 and standard deviation 1 */
    gsl_matrix *r;
    gsl_vector *b, *beta;
} columns;

static double *column(const columns *c, size_t i)
{
    return c->item + i * c->rows;
}

static void columns_free(columns *c)
{
    free(c->item);
    if (c->r)
        gsl_matrix_free(c->r);
    if (c->b)
        gsl_vector_free(c->b);
    if (c->beta)
        gsl_vector_free(c->beta);
}

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory for a regression");
}

static caber_status columns_create(columns *c, const double *x, const double *y, size_t rows,
                                   size_t factors, caber_message *message)
{
    *c = (columns){.factors = factors};
    for (size_t row = 0; row < rows; row++)
        c->rows += isfinite(y[row]) != 0;
    if (c->rows < factors + SPARE)
        return message_set(message, CABER_BAD_INPUT,
                           "%zu of %zu cases have not failed: a regression on %zu factors needs "
                           "%zu",
                           c->rows, rows, factors, factors + SPARE);
    c->item = malloc((factors + 1) * c->rows * sizeof *c->item);
    c->r = gsl_matrix_alloc(factors, factors);
    c->b = gsl_vector_alloc(factors);
    c->beta = gsl_vector_alloc(factors);
    if (!c->item || !c->r || !c->b || !c->beta)
        return no_memory(message);
    for (size_t row = 0, to = 0; row < rows; row++) {
        if (!isfinite(y[row]))
            continue;
        for (size_t i = 0; i < factors; i++)
            column(c, i)[to] = x[row * factors + i];
        column(c, factors)[to++] = y[row];
    }
    return CABER_OK;
}

static double largest_of(const double *x, size_t count)
{
    double most = 0;
    for (size_t i = 0; i < count; i++)
        most = fmax(most, fabs(x[i]));
    return most;
}

static caber_status check_factors(const columns *c, const char *const *names,
                                  caber_message *message)
{
    char text[32];
    for (size_t i = 0; i < c->factors; i++) {
        const double *x = column(c, i), largest = largest_of(x, c->rows);
        for (size_t row = 0; row < c->rows; row++)
            if (!isfinite(x[row]))
                return message_set(message, CABER_BAD_INPUT, "factor %s has a value that is none",
                                   influence_name(names, i, text));
        if (!influence_varies(gsl_stats_sd(x, 1, c->rows), largest))
            return message_set(message, CABER_BAD_INPUT,
                               "factor %s is the same in all %zu cases that count: it has no "
                               "coefficient",
                               influence_name(names, i, text), c->rows);
    }
    return CABER_OK;
}

/* Makes mean 0 and standard deviation 1 of every column that varies. */
static caber_status standardise(columns *c, bool ranked, influence_regression *out,
                                caber_message *message)
{
    const double *y = column(c, c->factors);
    out->mean = gsl_stats_mean(y, 1, c->rows);
    out->sd = gsl_stats_sd_m(y, 1, c->rows, out->mean);
    out->constant = !influence_varies(out->sd, largest_of(y, c->rows));
    for (size_t i = 0; i <= c->factors; i++) {
        double *x = column(c, i);
        const caber_status status = ranked ? ranks_fill(x, c->rows, x, message) : CABER_OK;
        if (status != CABER_OK)
            return status;
        const double mean = gsl_stats_mean(x, 1, c->rows);
        const double sd = gsl_stats_sd_m(x, 1, c->rows, mean);
        for (size_t row = 0; row < c->rows; row++)
            x[row] = sd > 0 ? (x[row] - mean) / sd : 0;
    }
    return CABER_OK;
}

/* ------------------------------------------------------------------ factors among themselves */

/* Factors that a vector of no variance holds, for a message. */
static void name_alike(const gsl_vector *v, const char *const *names, char *text, size_t size)
{
    double most = 0;
    size_t used = 0;
    *text = '\0';
    for (size_t i = 0; i < v->size; i++)
        most = fmax(most, fabs(gsl_vector_get(v, i)));
    for (size_t i = 0; i < v->size && used < size; i++) {
        char number[32];
        if (fabs(gsl_vector_get(v, i)) > 0.1 * most)
            used += (size_t)snprintf(text + used, size - used, "%s%s", used ? ", " : "",
                                     influence_name(names, i, number));
    }
}

/* Inflation by R = Q diag(lambda) Q': (R^-1)_ii = sum Q_ij^2/lambda_j. */
static caber_status inflate(const gsl_vector *lambda, const gsl_matrix *q, const char *const *names,
                            influence_regression *out, caber_message *message)
{
    const size_t least = gsl_vector_min_index(lambda);
    if (!(gsl_vector_get(lambda, least) > apart)) {
        char text[400];
        const gsl_vector_const_view v = gsl_matrix_const_column(q, least);
        name_alike(&v.vector, names, text, sizeof text);
        return message_set(message, CABER_BAD_INPUT,
                           "factors %s go together in all cases: what each does cannot be told",
                           text);
    }
    for (size_t i = 0; i < lambda->size; i++) {
        out->factor[i].inflation = 0;
        for (size_t j = 0; j < lambda->size; j++)
            out->factor[i].inflation +=
                gsl_pow_2(gsl_matrix_get(q, i, j)) / gsl_vector_get(lambda, j);
    }
    return CABER_OK;
}

static caber_status tell_apart(columns *c, const char *const *names, influence_regression *out,
                               caber_message *message)
{
    const size_t k = c->factors;
    const gsl_matrix_const_view x = gsl_matrix_const_view_array(c->item, k, c->rows);
    gsl_eigen_symmv_workspace *work = gsl_eigen_symmv_alloc(k);
    gsl_vector *lambda = gsl_vector_alloc(k);
    gsl_matrix *q = gsl_matrix_alloc(k, k);
    caber_status status = no_memory(message);
    if (work && lambda && q) {
        gsl_blas_dsyrk(CblasLower, CblasNoTrans, 1 / (double)(c->rows - 1), &x.matrix, 0, c->r);
        status = gsl_eigen_symmv(c->r, lambda, q, work) == GSL_SUCCESS
                     ? inflate(lambda, q, names, out, message)
                     : message_set(message, CABER_NOT_CONVERGED, "no eigenvalues were found");
    }
    if (work)
        gsl_eigen_symmv_free(work);
    if (lambda)
        gsl_vector_free(lambda);
    if (q)
        gsl_matrix_free(q);
    return status;
}

/* ------------------------------------------------------------------ the fit */

/* Numbers of a case: w = all columns, then the products w_i w_j, j <= i. */
static size_t width_of(size_t factors)
{
    const size_t m = factors + 1;
    return m + m * (m + 1) / 2;
}

static void case_numbers(void *user, size_t row, double *numbers)
{
    const columns *c = user;
    const size_t m = c->factors + 1;
    double *product = numbers + m;
    for (size_t i = 0; i < m; i++) {
        numbers[i] = column(c, i)[row];
        for (size_t j = 0; j <= i; j++)
            *product++ = numbers[i] * numbers[j];
    }
}

/* Covariance of columns i and j, j <= i, from the means. */
static double covariance(const double *mean, size_t m, size_t i, size_t j)
{
    return mean[m + i * (i + 1) / 2 + j] - mean[i] * mean[j];
}

/* R, lower, and r. Returns whether everything varies. */
static bool fill_correlations(const columns *c, const double *mean)
{
    const size_t k = c->factors, m = k + 1;
    const double y = covariance(mean, m, k, k);
    for (size_t i = 0; i < k; i++) {
        const double x = covariance(mean, m, i, i);
        if (!(x > 0 && y > 0))
            return false;
        for (size_t j = 0; j < i; j++)
            gsl_matrix_set(c->r, i, j,
                           covariance(mean, m, i, j) / sqrt(x * covariance(mean, m, j, j)));
        gsl_matrix_set(c->r, i, i, 1);
        gsl_vector_set(c->b, i, covariance(mean, m, k, i) / sqrt(x * y));
    }
    return true;
}

/* Whether R = L L' of ones on its diagonal tells its factors apart: L_ii^2 is what is left of factor i
 * when those before it are known. */
static bool is_regular(const gsl_matrix *l)
{
    for (size_t i = 0; i < l->size1; i++)
        if (!(gsl_pow_2(gsl_matrix_get(l, i, i)) > apart))
            return false;
    return true;
}

/* beta of all factors, and R^2; nothing, that is NaN, where there are none. */
static void case_statistics(void *user, const double *mean, double *out)
{
    const columns *c = user;
    double explained;
    if (!fill_correlations(c, mean) || gsl_linalg_cholesky_decomp1(c->r) != GSL_SUCCESS ||
        !is_regular(c->r) || gsl_linalg_cholesky_solve(c->r, c->b, c->beta) != GSL_SUCCESS)
        return;
    gsl_blas_ddot(c->beta, c->b, &explained);
    for (size_t i = 0; i < c->factors; i++)
        out[i] = gsl_vector_get(c->beta, i);
    out[c->factors] = explained;
}

static caber_status fit(columns *c, const resample_settings *settings, influence_regression *out,
                        caber_message *message)
{
    const size_t k = c->factors;
    const resample_problem problem = {.rows = c->rows,
                                      .width = width_of(k),
                                      .count = k + 1,
                                      .row = case_numbers,
                                      .statistics = case_statistics,
                                      .user = c};
    resample_range *found = calloc(problem.count, sizeof *found);
    if (!found)
        return no_memory(message);
    const caber_status status = resample_run(&problem, settings, found, message);
    for (size_t i = 0; i < k; i++)
        out->factor[i].standard = found[i];
    out->explained = found[k];
    free(found);
    return status;
}

static caber_status run(columns *c, bool ranked, const char *const *names,
                        const resample_settings *settings, influence_regression *out,
                        caber_message *message)
{
    caber_status status = check_factors(c, names, message);
    if (status == CABER_OK)
        status = standardise(c, ranked, out, message);
    if (status == CABER_OK)
        status = tell_apart(c, names, out, message);
    if (status != CABER_OK)
        return status;
    return out->constant ? message_clear(message) : fit(c, settings, out, message);
}

caber_status influence_regression_run(const double *x, const double *y, size_t rows, size_t factors,
                                      bool ranked, const char *const *names,
                                      const resample_settings *settings, influence_regression **out,
                                      caber_message *message)
{
    *out = NULL;
    if (factors == 0)
        return message_set(message, CABER_BAD_INPUT, "there are no factors");
    gsl_set_error_handler_off();
    influence_regression *found = calloc(1, sizeof *found);
    if (found)
        found->factor = calloc(factors, sizeof *found->factor);
    columns c = {0};
    caber_status status = CABER_OK;
    if (!found || !found->factor)
        status = no_memory(message);
    else
        status = columns_create(&c, x, y, rows, factors, message);
    if (status == CABER_OK) {
        found->count = factors;
        found->ranked = ranked;
        found->rows = c.rows;
        found->dropped = rows - c.rows;
        status = run(&c, ranked, names, settings, found, message);
    }
    columns_free(&c);
    if (status == CABER_OK)
        *out = found;
    else
        influence_regression_free(found);
    return status;
}

void influence_regression_free(influence_regression *regression)
{
    if (!regression)
        return;
    free(regression->factor);
    free(regression);
}
