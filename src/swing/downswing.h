/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One downswing by SUNDIALS CVODE: the only file that knows it.
 *
 * State y = (z, zd, work in, dissipated). Adams-Moulton formulas of variable order with Newton's
 * method: the modes are hardly damped, so backward differentiation of order 3 and more is unstable for
 * them and takes twice the steps, and functional iteration fails at the highest ones. Newton's
 * Jacobian is the stiff part only, d zdd/d q = -M^-1 K, d zdd/d qd = -M^-1 C, which is all it needs to
 * converge (the rest has the time scales of the swing itself), and is solved for in the structure of
 * the equations (dynamics_solve_stiff).
 * Roots: the face centre passes the ball; the largest lag; the largest handle moment (of the rate of
 * the moment the modes carry); the largest strain energy. */
#ifndef SWING_DOWNSWING_H
#define SWING_DOWNSWING_H

#include "swing/model.h"

typedef struct downswing downswing;

/* Given a model; returns a new integrator for it, or NULL when out of memory. */
downswing *downswing_create(const caber_model *model);
void downswing_free(downswing *d);

#endif
