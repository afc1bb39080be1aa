/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A factor of a study: which values it takes, and how often.
 *
 * A range [a, b] with a distribution is given by its quantile function x(u), u in [0, 1]:
 *   uniform      x = a + u (b - a)
 *   log-uniform  x = a (b/a)^u, a > 0: the logarithm is uniform
 *   normal       mean m and standard deviation s, cut off outside [a, b]:
 *                x = m + s P^-1(P(za) + u [P(zb) - P(za)]), za = (a - m)/s, zb = (b - m)/s, P the normal
 *                distribution; from the upper tail's side where za > 0, which keeps the digits there
 *   triangular   peak c: with F = (c - a)/(b - a), x = a + sqrt(u (b - a)(c - a)) for u < F, else
 *                x = b - sqrt((1 - u)(b - a)(b - c))
 * Whole numbers a..b are equally likely: x = a + floor(u (b - a + 1)). A list of n: entry floor(u n).
 * Source of the normal distribution and its inverse: GSL. The rest follows from u = F(x). */
#ifndef STUDY_FACTOR_H
#define STUDY_FACTOR_H

#include <stdbool.h>
#include <stddef.h>

#include "caber.h"

/* In the order of the words in a file. */
typedef enum factor_spread {
    FACTOR_UNIFORM,
    FACTOR_LOG_UNIFORM,
    FACTOR_NORMAL,
    FACTOR_TRIANGULAR
} factor_spread;

typedef struct factor {
    bool listed;          /* a list of values; else a range */
    factor_spread spread; /* of a range */
    bool whole;           /* a range of whole numbers: uniform only */
    double from, to;      /* SI; from < to */
    double mean, sd;      /* SI, of FACTOR_NORMAL before it is cut off */
    double peak;          /* SI, of FACTOR_TRIANGULAR */
    int levels;     /* of a range in a grid or one at a time, from `from` to `to`; 0 = not given */
    size_t count;   /* of a list, at least 1 */
    double *values; /* [count]; owned by whoever made it */
} factor;

/* Errors: CABER_BAD_INPUT for a range that is empty, a logarithm of what is not above 0, a peak outside
 * the range, no standard deviation, a range in which the normal distribution has next to nothing. */
caber_status factor_check(const factor *f, caber_message *message);

/* Given u in [0, 1]; returns the value that a share u of all values lies below. */
double factor_quantile(const factor *f, double u);

/* Given place 0 to places - 1 of an even number of places, which a Morris design has; returns the value
 * there: that of u = place/(places - 1), so from `from` to `to` whatever the distribution; of whole numbers
 * the nearest to as far along; of a list the entry at the middle of the place, (place + 1/2)/places. Where
 * the list has at most as many entries as there are places, each stands at one, and half of the places on is
 * always another entry. */
double factor_place(const factor *f, size_t place, size_t places);

/* How many levels the factor has in a grid: of a range its `levels`, of a list its entries. */
size_t factor_levels(const factor *f);
/* Given a level from 0; of a range they are equally far apart, as logarithms when it is log-uniform. */
double factor_level(const factor *f, size_t level);

#endif
