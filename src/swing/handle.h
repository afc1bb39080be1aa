/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the hands feel and where the shaft carries it: moments, forces, strain energy, bend point,
 * and one row of a trace.
 *
 * Signs: handle_moment is the moment of the handle on the flexible shaft about the plane's normal
 * Z, positive when it speeds the club. Loads come from momentum balance (dynamics_loads), not from
 * the curvature at the hands, which a few modes give less exactly. Only the rate of the moment is
 * summed over the modes, -L_j (omega_j^2 qd_j + 2 zeta omega_j qdd_j): its sign finds the peak, the
 * momentum balance gives the peak's value. */
#ifndef SWING_HANDLE_H
#define SWING_HANDLE_H

#include "swing/model.h"

/* N m, the in-plane moment of the handle on the shaft, after dynamics_loads. */
double handle_moment(const motion *m);
/* Rate, N m/s, of the in-plane moment that the modes carry at the hands by stiffness and damping; the
 * handle's motion is work->now.handle. */
double handle_moment_rate(const caber_model *model, const handle_motion *h, const double *q,
                          const double *qd, const double *qdd);
/* Strain energy, J, of all thirds when third is THIRD_COUNT, or of one; and the rate of the whole. */
double handle_strain_energy(const caber_model *model, const double *q, int third);
double handle_strain_rate(const caber_model *model, const double *q, const double *qd);
/* m from the tip: the place furthest from the chord between hands and tip, by the rod's points
 * (work->rod), where the shaft is parallel to the chord. */
double handle_bend_point(const caber_model *model, const caber_work *work);

/* After dynamics_solve and dynamics_loads at this state: fills the row trace->count, for which there is
 * room, and what the trace has along the shaft, but not the energies that the integrator carries (work,
 * dissipated). */
void handle_trace_row(const caber_model *model, caber_work *work, double t, const double *z,
                      const double *zd, const double *zdd, caber_trace *trace);

#endif
