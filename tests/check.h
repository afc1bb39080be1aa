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

/* Whether a sanitiser watches, which takes some five to ten times as long: each path once is enough then.
 * What many swings, fits or draws are there for, their numbers, the release build checks. */
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
enum { CHECK_SANITISED = 1 };
#else
enum { CHECK_SANITISED = 0 };
#endif

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
