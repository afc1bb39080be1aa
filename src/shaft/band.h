/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Symmetric band matrices of a beam in the layout that is quick to multiply with and to solve: what the
 * modes are found with.
 *
 * Rows are worked on in whole lanes that begin at multiples of LANE, so that no lane is read that was
 * written in parts; columns are shifted towards them by zeros before and behind. The factors are those of
 * K = L D L', L with a unit diagonal, by columns for the way down and by rows for the way up. */
#ifndef SHAFT_BAND_H
#define SHAFT_BAND_H

#include "base/lane.h"
#include "shaft/beam.h"

/* Right-hand sides that are solved together: each waits for itself, so three take little more than one. */
enum { BAND_SIDES = 3 };

typedef struct band {
    size_t n, padded; /* rows; in whole lanes */
    double *mass;     /* [padded][2 BAND_PITCH...]: whole columns of M, see band.c */
    double *down, *up, *pivot;
    double *room; /* BAND_SIDES vectors with margins */
} band;

/* Given a beam with what it carries; errors: false when out of memory. */
bool band_create(const beam *b, band *out);
void band_free(band *a);
/* y = M x; both [padded], 0 beyond n. */
void band_multiply(const band *a, const double *x, double *y);
/* x = K^-1 x of `sides` vectors, `apart` numbers apart; sides <= BAND_SIDES. */
void band_solve(const band *a, double *x, size_t apart, int sides);

#endif
