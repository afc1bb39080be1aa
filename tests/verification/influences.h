/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Functions whose Sobol indices are known in closed form, over factors even in (0, 1); and samples of
 * them as influence.h wants them. */
#ifndef TESTS_INFLUENCES_H
#define TESTS_INFLUENCES_H

#include <gsl/gsl_qrng.h>
#include <stdlib.h>

#include "base/random.h"
#include "check.h"
#include "study/influence.h"

enum { INFLUENCES_MOST = 8 };

typedef struct function {
    const char *name;
    size_t factors;
    double (*of)(const double *u);
    void (*exact)(double *first, double *total);
} function;

static const double influences_pi = 3.14159265358979323846;

/* Ishigami & Homma (1990): sin x + a sin^2 y + b z^4 sin x, each even in (-pi, pi), a = 7, b = 0.1. */
static double ishigami_of(const double *u)
{
    double x[3];
    for (int i = 0; i < 3; i++)
        x[i] = influences_pi * (2 * u[i] - 1);
    return sin(x[0]) + 7 * sin(x[1]) * sin(x[1]) + 0.1 * pow(x[2], 4) * sin(x[0]);
}

/* By integration, with E sin^2 = 1/2, E z^4 = pi^4/5, E z^8 = pi^8/9, var sin^2 = 1/8:
 * V_1 = (1 + b pi^4/5)^2/2, V_2 = a^2/8, V_13 = b^2 pi^8 (1/9 - 1/25)/2, the others 0. */
static void ishigami_exact(double *first, double *total)
{
    const double p4 = pow(influences_pi, 4);
    const double v1 = pow(1 + 0.1 * p4 / 5, 2) / 2, v2 = 49.0 / 8;
    const double v13 = 0.01 * p4 * p4 * (1.0 / 9 - 1.0 / 25) / 2, v = v1 + v2 + v13;
    first[0] = v1 / v;
    first[1] = total[1] = v2 / v;
    first[2] = 0;
    total[0] = (v1 + v13) / v;
    total[2] = v13 / v;
}

/* Sobol's g-function: the product of (|4 u_i - 2| + a_i)/(1 + a_i). */
static const double g_a[INFLUENCES_MOST] = {0, 1, 4.5, 9, 99, 99, 99, 99};

static double g_of(const double *u)
{
    double product = 1;
    for (int i = 0; i < INFLUENCES_MOST; i++)
        product *= (fabs(4 * u[i] - 2) + g_a[i]) / (1 + g_a[i]);
    return product;
}

/* Each part has the mean 1 and the variance v_i = 1/(3 (1 + a_i)^2), so V + 1 = prod (1 + v_i),
 * V_i = v_i, and W_i = v_i prod_(j != i) (1 + v_j). */
static void g_exact(double *first, double *total)
{
    double v[INFLUENCES_MOST], all = 1;
    for (int i = 0; i < INFLUENCES_MOST; i++) {
        v[i] = 1 / (3 * pow(1 + g_a[i], 2));
        all *= 1 + v[i];
    }
    for (int i = 0; i < INFLUENCES_MOST; i++) {
        first[i] = v[i] / (all - 1);
        total[i] = v[i] * all / (1 + v[i]) / (all - 1);
    }
}

static const function ishigami = {"Ishigami function", 3, ishigami_of, ishigami_exact};
static const function g_function = {"g-function", INFLUENCES_MOST, g_of, g_exact};

/* Fills the cases of a pair, a part after the other, from a[factors] and b[factors]. */
static inline void influences_pair(const function *f, bool both, const double *a, const double *b,
                                   double *y)
{
    const size_t k = f->factors;
    double x[INFLUENCES_MOST];
    y[0] = f->of(a);
    y[1] = f->of(b);
    for (size_t part = 0; part < (both ? 2 : 1) * k; part++) {
        const double *base = part < k ? a : b, *other = part < k ? b : a;
        for (size_t i = 0; i < k; i++)
            x[i] = base[i];
        x[part % k] = other[part % k];
        y[2 + part] = f->of(x);
    }
}

/* Fills [rows][parts], of random rows; `stream` sets one sample apart from another. */
static inline void influences_random(const function *f, size_t rows, bool both, uint64_t stream,
                                     double *y)
{
    const size_t k = f->factors;
    double x[2 * INFLUENCES_MOST];
    for (size_t r = 0; r < rows; r++) {
        for (size_t i = 0; i < 2 * k; i++)
            x[i] = random_even(77, stream, r * 2 * k + i);
        influences_pair(f, both, x, x + k, y + r * influence_parts(k, both));
    }
}

/* The same of Sobol's sequence in 2 k dimensions. */
static inline void influences_sequence(const function *f, size_t rows, bool both, double *y)
{
    const size_t k = f->factors;
    double x[2 * INFLUENCES_MOST];
    gsl_qrng *q = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)(2 * k));
    assert_non_null(q);
    for (size_t r = 0; r < rows; r++) {
        gsl_qrng_get(q, x);
        influences_pair(f, both, x, x + k, y + r * influence_parts(k, both));
    }
    gsl_qrng_free(q);
}

#endif
