/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a jig would read on a shaft of a given profile, and how that reading changes with the profile.
 *
 * Static jigs are statically determinate: the moments follow from where load and supports are,
 * whatever the stiffness. So by the unit-load theorem a reading is exactly an average of the compliance,
 *   deflection = P integral( m(x) M(x) c' B(x)^-1 c ) dx,   angle = T integral( 1/GJ(x) ) dx,
 * M the moment of a unit load, m that of a unit load where the deflection is read, B the 2 x 2 bending
 * stiffness, c = (cos o, sin o) the direction of load and reading; and with k = B^-1 c
 *   d(deflection) = -P integral( m M k' dB k ) dx.
 * Between two supports, at 0 and L, a unit load at a has the moment x (L - a)/L before it and a (L - x)/L
 * beyond; on a cantilever x, from the load towards the clamp.
 *
 * A frequency comes from the elements that everything else comes from. Pulled in the direction c and let go,
 * the shaft moves in both its planes, its tip along c as sum_j a_j cos(w_j t) with a_j = (c.d_j)^2, d_j the
 * direction of mode j's tip. While the planes are near each other, which they are on any shaft, a jig that
 * times the first swings sees one frequency, w^2 = sum_j a_j w_j^2 (to second order in their difference
 * the mean of w_j and the frequency of the compliance along c besides): Rayleigh's quotient of x = sum_j
 * (c.d_j) x_j, the shape that moves the tip along c only. With x'Mx = 1
 *   d(w^2) = x' dK x - w^2 x' dM x = integral( k_x' dB k_x - w^2 dm (v^2 + w^2) ) dx,
 * right where the two frequencies are equal, too; the change of the polar inertia is left out (a shaft's
 * turning does not show in its bending).
 *
 * An orientation that was not noted counts as the mean over all directions.
 * Source: the unit-load theorem; Rayleigh's quotient. Any text on the mechanics of materials. */
#ifndef SHAFT_READING_H
#define SHAFT_READING_H

#include "shaft/modes.h"

/* What a relative change of the profile at one place is weighted by: the change of the reading is the
 * sum over `count` of bend . dB/EI + twist dGJ/GJ + mass dm/m, EI the root of the two principal ones. */
typedef struct reading_weight {
    double at;      /* m from the uncut tip; the same for every profile with the same stations */
    double bend[3]; /* on dB_vv, dB_ww, dB_vw (both off-diagonals) */
    double twist, mass;
} reading_weight;

/* Filled by reading_predict; grown as needed. Start with {0}. */
typedef struct reading_weights {
    size_t count, capacity;
    reading_weight *items; /* owned; free with reading_weights_free */
} reading_weights;

/* Given a profile of the uncut shaft, its length and a reading (its value and sigma are not looked
 * at); returns in *out what the jig would read, in the unit of caber_reading.value, and in
 * *weights (NULL is allowed) how it changes. Errors: CABER_NO_MEMORY, CABER_NOT_CONVERGED. */
caber_status reading_predict(const profile *p, double length, const caber_reading *r, double *out,
                             reading_weights *weights, caber_message *message);
void reading_weights_free(reading_weights *w);

/* The modes of the last frequency jig, for readings on it in other directions. Start with {0}. */
typedef struct reading_modes {
    const profile *profile;
    double held_at, mass;
    beam *beam;   /* owned */
    modes *modes; /* owned; free with reading_modes_free */
} reading_modes;

/* The same, with modes kept from one call to the next; the profile must outlive them. */
caber_status reading_predict_kept(const profile *p, double length, const caber_reading *r,
                                  double *out, reading_weights *weights, reading_modes *kept,
                                  caber_message *message);
void reading_modes_free(reading_modes *kept);

/* Given readings; says by file and line what is impossible in one: places out of order or off the
 * shaft, a load, value or sigma that is not above 0. */
caber_status reading_check(const caber_readings *all, const caber_reading *r,
                           caber_message *message);
/* "neutral-span.csv, line 16", or "reading 3" where it has no file. `index` from 0. */
void reading_title(const caber_readings *all, size_t index, char *text, size_t size);

#endif
