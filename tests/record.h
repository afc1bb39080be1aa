/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a check leaves for the verification page (tests/verification/README.md): the C side of
 * tests/record.py, same lines, same file. A check is asserted whether or not it is recorded.
 * Lines go to $CABER_RECORDS/<test>.jsonl, <test> being the test's file without "test_" and ".c";
 * without that variable nothing is written. */
#ifndef TESTS_RECORD_H
#define TESTS_RECORD_H

#include <math.h>
#include <stddef.h>

/* Where a value that ours is held against comes from. */
typedef enum record_kind {
    RECORD_EXACT,       /* a closed form, derived or cited in the test */
    RECORD_PUBLISHED,   /* read in the source itself */
    RECORD_QUOTED,      /* published, but read in another text that quotes it */
    RECORD_INDEPENDENT, /* computed by other means: another program or formulation */
    RECORD_CONVERGED,   /* ours with every setting refined */
    RECORD_LAW,         /* what mechanics demands whatever the setup: balance, symmetry, scaling */
    RECORD_PRACTICE,    /* common practice */
    RECORD_MEMORY       /* from memory */
} record_kind;

typedef struct record_source {
    record_kind kind;
    const char *text; /* author, year, where; or how it follows */
} record_source;

/* One row: ours against one value, both in `unit`. Fails the test unless
 * |got - want| <= rel |want| + abs_. NaN never passes. */
#define verify(problem, source, unit, got, want, rel, abs_)                                        \
    record_check((problem), (source), (unit), (got), (want), (rel), (abs_), __FILE__, __LINE__)
/* One row: the largest difference of many values, a time series say. Fails unless
 * difference <= allowed. NaN never passes. */
#define verify_within(problem, source, unit, difference, allowed)                                  \
    record_bound((problem), (source), (unit), (difference), (allowed), __FILE__, __LINE__)

void record_check(const char *problem, record_source source, const char *unit, double got,
                  double want, double rel, double abs_, const char *file, int line);
void record_bound(const char *problem, record_source source, const char *unit, double difference,
                  double allowed, const char *file, int line);

/* For the rows of verify_within: keeps the largest size of what it is given; once NaN, always NaN. */
static inline void record_most(double *most, double difference)
{
    const double size = fabs(difference);
    if (!isnan(*most) && !(size <= *most))
        *most = size;
}

/* A curve of a plot that the page draws: lines that share `plot` share its axes. `title` says what
 * the plot shows; x and y have `count` values, `x_label` and `y_label` their units. Points only when
 * `points`, else a line. `log`: the logarithmic axes, "x", "y" or "xy"; NULL is none. */
typedef struct record_curve {
    const char *plot, *title, *x_label, *y_label, *label;
    size_t count;
    const double *x, *y;
    int points;
    const char *log;
} record_curve;
#define record_draw(curve) record_draw_curve((curve), __FILE__)
void record_draw_curve(const record_curve *curve, const char *file);

#endif
