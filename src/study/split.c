/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The spread of an output by cause: see spread.h and caber_spread.
 *
 * The split is the structural and correlative one of Li et al. (2010), J. Phys. Chem. A 114:6022 (from
 * memory): with y = sum f_k + remainder, var(y) = sum cov(f_k, y) + cov(remainder, y), and least squares
 * make the remainder uncorrelated with every f_k, so the last is its variance. Shares by the increase of
 * R^2 (Shapley, LMG) are never negative, but they credit a habit that does nothing for what its
 * correlation with another one explains; a player wants to know what to work on. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

#include "study/spread.h"

struct split {
    size_t n, count;         /* rows, habits that vary */
    int habit[CABER_HABITS]; /* [count] */
    gsl_matrix *x;           /* [n][2 count], centred: z then z^2 of each */
    gsl_matrix *u, *v;       /* x = u diag(s) v' */
    gsl_vector *s, *y, *fit; /* y: [n]; fit: [2 count] */
};

/* Singular values below the largest times this are taken for 0: columns that are one and the same. */
static const double same = 1e-3;

void split_free(split *s)
{
    if (!s)
        return;
    gsl_matrix_free(s->x);
    gsl_matrix_free(s->u);
    gsl_matrix_free(s->v);
    gsl_vector_free(s->s);
    gsl_vector_free(s->y);
    gsl_vector_free(s->fit);

    free(s);
}

static void centre(double *x, size_t stride, size_t n)
{
    const double mean = gsl_stats_mean(x, stride, n);
    for (size_t i = 0; i < n; i++)
        x[i * stride] -= mean;
}

static bool decompose(split *s, const double *z)
{
    const size_t columns = 2 * s->count;
    for (size_t c = 0; c < columns; c++) {
        for (size_t i = 0; i < s->n; i++) {
            const double at = z[i * CABER_HABITS + (size_t)s->habit[c / 2]];
            gsl_matrix_set(s->x, i, c, c % 2 ? at * at : at);
        }
        centre(gsl_matrix_ptr(s->x, 0, c), columns, s->n);
    }
    gsl_matrix_memcpy(s->u, s->x);
    gsl_vector *work = gsl_vector_alloc(columns);
    const bool good = work && gsl_linalg_SV_decomp(s->u, s->v, s->s, work) == GSL_SUCCESS;
    gsl_vector_free(work);
    for (size_t c = 0; good && c < columns; c++)
        if (gsl_vector_get(s->s, c) < same * gsl_vector_get(s->s, 0))
            gsl_vector_set(s->s, c, 0);
    return good;
}

split *split_create(const double *z, size_t n, const bool varies[CABER_HABITS])
{
    split *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    gsl_set_error_handler_off();
    s->n = n;
    for (int k = 0; k < CABER_HABITS; k++)
        if (varies[k])
            s->habit[s->count++] = k;
    const size_t columns = 2 * s->count;
    s->x = gsl_matrix_alloc(n, columns);
    s->u = gsl_matrix_alloc(n, columns);
    s->v = gsl_matrix_alloc(columns, columns);
    s->s = gsl_vector_alloc(columns);
    s->y = gsl_vector_alloc(n);
    s->fit = gsl_vector_alloc(columns);

    if (s->x && s->u && s->v && s->s && s->y && s->fit && decompose(s, z))
        return s;
    split_free(s);
    return NULL;
}

/* Sums over the rows of f_k y and f_k^2; all columns have the mean 0. */
static void sums(const split *s, size_t k, double *with_y, double *alone)
{
    const double b = gsl_vector_get(s->fit, 2 * k), c = gsl_vector_get(s->fit, 2 * k + 1);
    *with_y = *alone = 0;
    for (size_t i = 0; i < s->n; i++) {
        const double f =
            b * gsl_matrix_get(s->x, i, 2 * k) + c * gsl_matrix_get(s->x, i, 2 * k + 1);
        *with_y += f * gsl_vector_get(s->y, i);
        *alone += f * f;
    }
}

void split_run(split *s, const double *y, double *share, double *own, double *rest)
{
    double total = 0, known = 0;
    for (int k = 0; k < CABER_HABITS; k++)
        share[k] = own[k] = 0;
    *rest = 0;
    for (size_t i = 0; i < s->n; i++)
        gsl_vector_set(s->y, i, y[i]);
    centre(s->y->data, s->y->stride, s->n);
    for (size_t i = 0; i < s->n; i++)
        total += gsl_vector_get(s->y, i) * gsl_vector_get(s->y, i);
    if (!(total > 0) || gsl_linalg_SV_solve(s->u, s->v, s->s, s->y, s->fit) != GSL_SUCCESS)
        return;
    for (size_t k = 0; k < s->count; k++) {
        double with_y, alone;
        sums(s, k, &with_y, &alone);
        share[s->habit[k]] = with_y / total;
        own[s->habit[k]] = alone / total;
        known += with_y / total;
    }
    *rest = 1 - known;
}
