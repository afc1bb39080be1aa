/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a jig would read on a shaft of a given profile, from the same elements as everything else,
 * and how that reading changes with the profile.
 *
 * A static reading is y = g'u with K u = f: f is the load, g says where it is read. Span on two
 * supports, a load P at distance a from the first of L: by statics the second carries P a/L
 * wherever EI goes. With u the shaft clamped at the first support under P and -P a/L on the other
 * end, the supported span is u turned back onto the second support, y(s) = u(s) - u(L) s/L; so g is
 * a unit load at s with -s/L at L, and f and g are the same kind of vector.
 * Load and reading lie in one direction, (cos o, sin o) across (e2, e3).
 * With a = K^-1 g, a change of K changes the reading by
 *   dy = -a' dK u = -integral( k_a . dB k_u + dGJ phi_a' phi_u' ) ds,
 * k the two curvatures and B the 2 x 2 bending stiffness. A frequency: omega^2 = x'Kx with x'Mx = 1,
 *   d(omega^2) = integral( k_x . dB k_x + dGJ phi_x'^2 - omega^2 (dm (v^2 + w^2)) ) ds,
 * the change of the polar inertia left out (a shaft's turning does not show in its bending).
 * Source: the unit-load theorem; Rayleigh's quotient. Any text on the mechanics of materials. */
#ifndef SHAFT_READING_H
#define SHAFT_READING_H

#include "shaft/beam.h"

/* What a change of the profile is weighted by, at one place: the reading's derivative is the sum
 * over `count` of bend . dB + twist dGJ + mass dm. */
typedef struct reading_weight {
    double at;      /* m from the uncut tip */
    double bend[3]; /* on dB_vv, dB_ww, dB_vw (both off-diagonals), with the sign of the change */
    double twist;   /* on dGJ */
    double mass;    /* on dm */
} reading_weight;

/* Filled by reading_predict; grown as needed. Start with {0}. */
typedef struct reading_weights {
    size_t count, capacity;
    reading_weight *items; /* owned; free with reading_weights_free */
} reading_weights;

/* Given a profile of the uncut shaft, its length and a reading (its value and sigma are not looked
 * at); returns in *out what the jig would read, in the unit of caber_reading.value, and in
 * *weights (NULL is allowed) how it changes. An orientation that was not noted counts as 0.
 * Errors: CABER_NO_MEMORY, CABER_NOT_CONVERGED. */
caber_status reading_predict(const profile *p, double length, const caber_reading *r, double *out,
                             reading_weights *weights, caber_message *message);
void reading_weights_free(reading_weights *w);

/* Given readings; says by file and line what is impossible in one: places out of order or off the
 * shaft, a load, value or sigma that is not above 0. */
caber_status reading_check(const caber_readings *all, const caber_reading *r,
                           caber_message *message);
/* "neutral-span.csv, line 16", or "reading 3" where it has no file. `index` from 0. */
void reading_title(const caber_readings *all, size_t index, char *text, size_t size);

#endif
