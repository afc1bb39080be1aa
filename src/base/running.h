/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Mean and spread of numbers that come one at a time, without cancellation. GSL's gsl_rstat carries an
 * estimate of the median along, ten times the memory and the time. */
#ifndef BASE_RUNNING_H
#define BASE_RUNNING_H

#include <math.h>

/* Begins as zeros. */
typedef struct running {
    double count, mean, squares; /* squares: sum of squares about the mean */
} running;

/* Source: Welford 1962, Technometrics 4:419. */
static inline void running_add(running *r, double value)
{
    const double off = value - r->mean;
    r->count++;
    r->mean += off / r->count;
    r->squares += off * (value - r->mean);
}

/* Returns the mean, NAN of no number; and the standard deviation with n - 1, NAN of less than two. */
static inline double running_mean(const running *r)
{
    if (r->count > 0)
        return r->mean;
    return NAN;
}

static inline double running_sd(const running *r)
{
    if (r->count > 1)
        return sqrt(r->squares / (r->count - 1));
    return NAN;
}

#endif
