/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How an output follows its factors, from cases of any design: standardised regression coefficients.
 *
 * Least squares of y = b_0 + sum b_i x_i over the cases; b_i s(x_i)/s(y) says by how many standard
 * deviations the output goes up with one of the factor, the others held. With correlations R between
 * factors and r of each with the output they solve
 *   R beta = r,  and R^2 = beta . r
 * is the share of the output's variance that the straight line explains (Draper & Smith, Applied
 * Regression Analysis, section "correlation form", from memory). Where factors are uncorrelated,
 * beta_i^2 are their shares of it.
 *
 * In ranks (Iman & Conover 1979, Technometrics 21:499, from memory) factors and output are first replaced
 * by their ranks: the coefficients then say how steadily the output rises or falls, be it bent or not.
 *
 * A factor that is a choice, of files say, has no order and so no slope: it is not for a regression.
 *
 * Variance inflation of factor i: the i-th diagonal element of R^-1, = 1/(1 - its own R^2 on the others);
 * 1 when it is uncorrelated with them. Its coefficient is that much less certain (variance).
 *
 * Intervals: bootstrap over the cases (resample.h); of ranks with the ranks held. */
#ifndef STUDY_INFLUENCE_REGRESSION_H
#define STUDY_INFLUENCE_REGRESSION_H

#include "study/resample.h"

/* Variance inflation from which a reader is to be warned: common practice. */
#define INFLUENCE_INFLATION_HIGH 10.0
/* R^2 below which coefficients do not tell the whole story: common practice. */
#define INFLUENCE_EXPLAINED_LOW 0.7

/* Of one factor. */
typedef struct influence_coefficient {
    resample_range standard; /* beta */
    double inflation;        /* at least 1 */
} influence_coefficient;

typedef struct influence_regression {
    size_t rows, dropped; /* cases that count, and that failed */
    double mean, sd;      /* of the output, over the cases that count; its unit, in ranks too */
    bool ranked;
    bool constant;            /* the output does not vary: all but the inflation is 0 */
    resample_range explained; /* R^2 */
    size_t count;
    influence_coefficient *factor; /* [count], owned */
} influence_regression;

/* Given factors x[rows][factors], each finite and in any unit, and the output y[rows], NaN where a case
 * failed; returns the coefficients, to be freed with influence_regression_free. names[factors], for
 * messages, may be NULL. Errors: CABER_BAD_INPUT for no factors, a value that is none, fewer than
 * factors + 10 cases that count, a factor that does not vary, factors that cannot be told apart, and
 * what resample_run refuses; CABER_NO_MEMORY; CABER_NOT_CONVERGED when GSL fails. */
caber_status influence_regression_run(const double *x, const double *y, size_t rows, size_t factors,
                                      bool ranked, const char *const *names,
                                      const resample_settings *settings, influence_regression **out,
                                      caber_message *message);
/* NULL is allowed. */
void influence_regression_free(influence_regression *regression);

#endif
