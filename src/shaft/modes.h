/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The lowest modes of a held beam with what it carries: K x = omega^2 M x, x' M x = 1.
 *
 * Rayleigh-Ritz on a block Krylov space of K^-1 M: starting from the three fields v, w and phi
 * apart, each block is K^-1 M times the last, made M-orthonormal against all before (twice), so
 * equal frequencies in the two planes are all found. The small eigenproblem is GSL's. The space
 * grows until every wanted mode holds |omega^2 K^-1 M x - x| <= 1e-8 in the norm of M; 1e-6 is taken
 * where rounding allows no better, more is an error.
 * Source: Y. Saad, Numerical Methods for Large Eigenvalue Problems, 2nd ed., chapter 6. */
#ifndef SHAFT_MODES_H
#define SHAFT_MODES_H

#include "shaft/beam.h"

typedef struct modes {
    size_t count;
    size_t dof_count;
    double *omega; /* rad/s, ascending */
    double *shape; /* [count][dof_count], mass-normalised, sign: largest tip motion positive */
} modes;

/* Given a beam and how many modes; returns at most that many (fewer when the mesh has fewer). */
caber_status modes_create(const beam *b, size_t count, modes **out, caber_message *message);
void modes_free(modes *m);

/* Given a shape whose `element` is set to a first guess, and a body (NULL = none); returns a beam
 * whose element length has been halved until its six lowest frequencies hold to 1e-4. */
caber_status modes_refine(beam_shape shape, const beam_body *body, beam **out,
                          caber_message *message);
/* The same with `count` of its modes (or fewer, as modes_create), found on the way. */
caber_status modes_refine_with(beam_shape shape, const beam_body *body, size_t count, beam **out,
                               modes **found, caber_message *message);

#endif
