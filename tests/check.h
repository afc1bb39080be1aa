/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What every test file includes: cmocka with its prerequisites, and comparison of doubles as doubles. */
#ifndef TESTS_CHECK_H
#define TESTS_CHECK_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* Fails unless |got - want| <= rel |want| + abs_. NaN never passes. */
#define assert_close(got, want, rel, abs_)                                                         \
    check_close((got), (want), (rel), (abs_), #got, __FILE__, __LINE__)

static inline void check_close(double got, double want, double rel, double abs_, const char *what,
                               const char *file, int line)
{
    if (fabs(got - want) <= rel * fabs(want) + abs_)
        return;
    print_error("%s = %.12g, want %.12g (off by %.3g, allowed %.3g)\n", what, got, want, got - want,
                rel * fabs(want) + abs_);
    _fail(file, line);
}

#endif
