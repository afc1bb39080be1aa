/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Ordering of doubles for qsort. */
#ifndef BASE_ORDER_H
#define BASE_ORDER_H

/* Ascending; for qsort on doubles without NaN. */
static inline int order_doubles(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

#endif
