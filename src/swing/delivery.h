/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the head does at impact, for the bent club and for a rigid one with the same handle.
 *
 * With n the face normal, k the toe direction, v the velocity of the head's centre of mass, all in
 * the ground axes target T, up U, side S (away from the golfer):
 *   delivered loft = asin(n.U), face angle (open positive) = atan2(n.S, n.T), delivered lie = asin(k.U),
 *   closure rate = -d/dt atan2(n.S, n.T), n. = w x n,
 *   attack = asin(v.U/|v|), path (in-to-out positive) = atan2(v.S, v.T).
 * A left-handed player is computed as a mirror image, so S is away from that player too and every sign
 * keeps its meaning for the golfer.
 *
 * The shares of lead, droop and twist: the tip is turned by exp([psi]x); along exp([t psi]x),
 * t = 0..1, each angle changes at a rate that is linear in psi, and the integral over t of the part
 * of psi_3 (about e3: lead), psi_2 (droop) and psi_1 (twist) is that bending's share (the
 * Aumann-Shapley attribution, which adds up exactly and favours no order). */
#ifndef SWING_DELIVERY_H
#define SWING_DELIVERY_H

#include "swing/model.h"

/* The head's pose and motion in the plane frame. */
typedef struct delivery_pose {
    vec3 normal, toe;   /* unit */
    vec3 face_centre;   /* m from the hub */
    vec3 centre;        /* m, centre of mass */
    vec3 face_velocity; /* m/s */
    vec3 velocity;      /* m/s of the centre of mass */
    vec3 spin;          /* rad/s */
} delivery_pose;

/* From work->now.handle and work->rod as left by dynamics_pose or dynamics_assemble. */
delivery_pose delivery_head(const caber_model *model, const caber_work *work);

/* Tip of the bent shaft against the handle axis. */
typedef struct delivery_tip {
    double lead, droop;             /* m */
    double lag, lag_rate;           /* m, m/s, trailing in the swing plane */
    double out_of_plane;            /* m */
    double lead_slope, droop_slope; /* rad */
    double twist;                   /* rad, closing positive */
} delivery_tip;

delivery_tip delivery_tip_of(const caber_model *model, const caber_work *work);
/* m, how far a place of the bent shaft, in handle axes, is from the handle axis: trailing in the swing plane,
 * and along the plane's normal Z. With roll g of the handle e2 = cos g A + sin g Z and e3 = -sin g A + cos g Z,
 * A across the shaft in the plane, so trail = -(cos g y - sin g z) and out_of_plane = sin g y + cos g z. At the
 * tip they are lag and out_of_plane of delivery_tip. */
void delivery_offset(const handle_motion *h, vec3 place, double *trail, double *out_of_plane);
/* The lag and its rate alone, without the angles that cost arc tangents. */
void delivery_lag(const caber_model *model, const caber_work *work, double *lag, double *rate);

/* Given time and state; fills the delivery fields of out->bent and out->straight, and both heads (the
 * fields of the whole downswing are left alone). */
void delivery_fill(const caber_model *model, caber_work *work, double t, const double *z,
                   const double *zd, caber_swing *out);

#endif
