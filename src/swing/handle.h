/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the hands feel and where the shaft carries it: moments, forces, strain energy, bend point,
 * and one row of a trace.
 *
 * Signs: handle_moment is the moment of the handle on the flexible shaft about the plane's normal
 * Z, positive when it speeds the club. Loads come from momentum balance (dynamics_loads), not from
 * the curvature at the hands, which a few modes give less exactly. The rate of the moment is taken
 * of the part that the modes' stiffness carries, -omega_j^2 L_j qd_j, a function of the state. */
#ifndef SWING_HANDLE_H
#define SWING_HANDLE_H

#include "swing/model.h"

/* The in-plane moment that the modes carry at the hands and its rate, N m and N m/s; the handle's
 * motion is work->now.handle. */
void handle_elastic_moment(const caber_model *model, const handle_motion *h, const double *q,
                           const double *qd, double *moment, double *rate);
/* Strain energy, J, of all thirds when third is THIRD_COUNT, or of one; and the rate of the whole. */
double handle_strain_energy(const caber_model *model, const double *q, int third);
double handle_strain_rate(const caber_model *model, const double *q, const double *qd);
/* m from the tip: the place furthest from the chord between hands and tip, by the rod's points
 * (work->rod), where the shaft is parallel to the chord. */
double handle_bend_point(const caber_model *model, const caber_work *work);

/* After dynamics_solve and dynamics_loads at this state: fills a row but for the energies that
 * the integrator carries (work, dissipated). place_moment and place_curvature [stations + 1] may be NULL. */
void handle_trace_row(const caber_model *model, caber_work *work, double t, const double *z,
                      const double *zd, const double *zdd, caber_trace_row *row,
                      double *place_moment, double *place_curvature);

#endif
