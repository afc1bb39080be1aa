/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a jig would read on a shaft of a given profile, and how that reading changes with the profile.
 *
 * Everything comes from the elements that every bench number comes from (beam.h), held where the
 * jig's clamp is, or a span's support nearer the butt. A unit load on the shaft is a row of nodal forces f;
 * so is what is read of the displacements, g. A cantilever has a force in each, a twist a couple. A span of length L
 * has, besides a force at x from the held support, -x/L of it on the other support: that is what the support
 * answers, and the same row turns the shaft, clamped at the one, about it onto the other. So with the
 * stiffness matrix K
 *   reading = P g' K^-1 f,   d(reading) = -P z' dK u,   u = K^-1 f, z = K^-1 g,
 * and with curvatures k and twist rates t of u and z at the Gauss points
 *   z' dK u = integral( k_z' dB k_u + t_z dGJ t_u ) dx,
 * B the 2 x 2 bending stiffness: exactly the change of what the elements say. Loads, readings and stations
 * are nodes; where the shaft is uniform deflections are exact. Elsewhere they are off by the fourth power of
 * the elements' length: with 40 mm by 3e-5 at most on any demo shaft, a hundredth of what a reading is off,
 * against the unit-load theorem's integral of moments and compliance (tests/verification/test_jigs.c).
 *
 * Pulled in the direction c and let go, the shaft moves in both its planes, its tip along c as sum_j a_j cos(w_j t) with a_j = (c.d_j)^2, d_j the
 * direction of mode j's tip. While the planes are near each other, which they are on any shaft, a jig that
 * times the first swings sees one frequency, w^2 = sum_j a_j w_j^2 (to second order in their difference
 * the mean of w_j and the frequency of the compliance along c besides): Rayleigh's quotient of x = sum_j
 * (c.d_j) x_j, the shape that moves the tip along c only. With x'Mx = 1
 *   d(w^2) = x' dK x - w^2 x' dM x = integral( k_x' dB k_x - w^2 dm (v^2 + w^2) ) dx,
 * right where the two frequencies are equal, too; the change of the polar inertia is left out (a shaft's
 * turning does not show in its bending).
 *
 * An orientation that was not noted counts as the mean over all directions.
 * Source: reciprocity of a symmetric K; Rayleigh's quotient. Any text on the mechanics of materials. */
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

/* A shaft in its clamp, kept for the next reading that holds it at the same place. Start with {.all =
 * the readings that will be asked for}, whose places become nodes; or with {0} for one alone. */
typedef struct reading_jig {
    const caber_readings *all;
    const profile *profile; /* not owned; must outlive the jig */
    double held_at, mass;   /* m; kg, with which `modes` are */
    beam *beam;             /* owned */
    modes *modes;           /* owned, NULL until a frequency was read; free with reading_jig_free */
} reading_jig;

/* The same as reading_predict, on a shaft that may be in its clamp already. */
caber_status reading_predict_on(reading_jig *jig, const profile *p, double length,
                                const caber_reading *r, double *out, reading_weights *weights,
                                caber_message *message);
void reading_jig_free(reading_jig *jig);

/* Given readings; says by file and line what is impossible in one: places out of order or off the
 * shaft, a load, value or sigma that is not above 0. */
caber_status reading_check(const caber_readings *all, const caber_reading *r,
                           caber_message *message);
/* "neutral-span.csv, line 16", or "reading 3" where it has no file. `index` from 0. */
void reading_title(const caber_readings *all, size_t index, char *text, size_t size);

#endif
