/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Arm, wrist and roll: from joint angles to the handle's pose and motion.
 *
 * Joint coordinates are theta (arm), c = beta - theta (cock) and gamma (roll); theta, beta, gamma of
 * the model are the same up to this shear, in which a wrist drive is a drive of one coordinate and
 * the couple of the hands, reacted on the arms, is its generalised force. Handle axes in the plane:
 *   e1 = (sin b, -cos b, 0), e2 = cos g (cos b, sin b, 0) + sin g Z, e3 = -sin g (cos b, sin b, 0) + cos g Z;
 * Z in handle axes is (0, sin g, cos g). Angular velocity b. Z + g. e1, so per unit theta.. or c..
 * the angular acceleration is Z (+ Gamma' e1 when the roll is geared, g = Gamma(b)), per unit g..
 * it is e1, and at zero joint acceleration it is b. g. (0, cos g, -sin g) (+ Gamma'' b.^2 e1).
 * Hands at R (sin th, -cos th, 0): acceleration th.. R (cos th, sin th, 0) + th.^2 R (-sin th, cos th, 0). */
#ifndef SWING_JOINTS_H
#define SWING_JOINTS_H

#include "swing/model.h"

/* Given the unknown joints' angles and rates (in the order of model->active) and the time, s;
 * returns the handle's motion. */
void joints_move(const caber_model *model, double t, const double *angle, const double *rate,
                 handle_motion *out);
/* Angle, rad, at which a joint starts, or stays when it is locked. */
double joints_start_angle(const caber_player *p, int joint);
/* Axes of the handle for a club angle and a roll. */
mat3 joints_axes(double beta, double roll);

#endif
