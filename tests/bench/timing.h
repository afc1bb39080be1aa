/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the benches share: a clock, and the middle of several repeats. */
#ifndef TESTS_TIMING_H
#define TESTS_TIMING_H

#include <stdlib.h>
#include <time.h>

enum { MOST_REPEATS = 10000 };

/* ms */
static inline double timing_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static inline int timing_ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Of values[repeats], which are sorted. */
static inline double timing_median(double *values, int repeats)
{
    qsort(values, (size_t)repeats, sizeof *values, timing_ascending);
    return values[repeats / 2];
}

#endif
