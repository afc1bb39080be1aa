/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Equations of motion of arms, handle, bent shaft and head.
 *
 * Unknowns z = (unknown joints, q). In handle axes a point at x of the shaft moves with
 *   v = V + omega x x + x.,  a = V' + omega' x x + omega x (omega x x) + 2 omega x x. + x..,
 * V, omega the hands' velocity and the handle's spin (joints.h), x, x., x..(q.. = 0) and
 * X_j = dx/dq_j from rod.h. With sums over stations, tip body and their turning inertia
 *   P_j = sum m X_j, L_j = sum m x x X_j + ..., S = sum m x, I = inertia about the hands,
 *   f, mu, phi_j = sums of m a, x x m a, X_j.m a at zero acceleration,
 * the kinetic energy's equations are M z.. = F:
 *   M_ab = V_a.(m V_b + w_b x S) + w_a.(S x V_b + I w_b) (+ arm inertia),
 *   M_aj = V_a.P_j + w_a.L_j,  M_ij = sum m X_i.X_j + ...,
 *   F_a = couple_a - V_a.f - w_a.mu,  F_j = -phi_j - omega_j^2 q_j - 2 zeta omega_j qd_j,
 * V_a, w_a the hands' acceleration and the handle's angular acceleration per unit acceleration of
 * joint a. Weight enters as an upward acceleration g of the frame. Driven joints and a geared roll
 * add their known part to V', omega'; what they need is then the balance of their own row.
 * Modes above settings.ceiling get extra inertia in M_jj (selective mass scaling): they only follow
 * their load there, at the same stiffness, and would otherwise set the integrator's steps. What that
 * changes is measured by the test of the defaults.
 * A section of the shaft turns about its own axis t with inertia jp: momentum jp (w.t) t.
 *
 * Source: T. R. Kane, D. A. Levinson 1985, Dynamics: Theory and Applications (projection of
 * momentum rates); A. A. Shabana 2013, Dynamics of Multibody Systems, chapter 5. */
#ifndef SWING_DYNAMICS_H
#define SWING_DYNAMICS_H

#include "swing/model.h"

/* Evaluates the equations at time t, s, for positions z and rates zd [unknowns]; leaves M, its
 * factors and work->now, and writes zdd [unknowns]. Returns false when M cannot be
 * factored or a value is not finite (the shaft has wrapped up). */
bool dynamics_solve(const caber_model *model, caber_work *work, double t, const double *z,
                    const double *zd, double *zdd);

/* The same up to M (upper triangle in work->matrix) and F (work->rhs). */
void dynamics_assemble(const caber_model *model, caber_work *work, double t, const double *z,
                       const double *zd);

/* Acceleration of the hands, weight included, and of the handle's turning for accelerations zdd; handle
 * axes. */
void dynamics_frame(const caber_model *model, const caber_work *work, const double *zdd, vec3 *pull,
                    vec3 *twirl);

/* Acceleration at zero z.. of a point at x moving with xd, xdd relative to the handle. */
static inline vec3 dynamics_rest_acceleration(vec3 spin, vec3 x, vec3 xd, vec3 xdd)
{
    const vec3 swirl = vec3_axpy(2, xd, vec3_cross(spin, x));
    return vec3_add(xdd, vec3_cross(spin, swirl));
}

/* After dynamics_solve: fills the loads of work->now (couples of driven joints, power, loss, grip
 * force, shaft moment) for the accelerations zdd. */
void dynamics_loads(const caber_model *model, caber_work *work, const double *zd,
                    const double *zdd);

/* Solves the stiff part of an implicit step, with M as left by the last evaluation:
 *   x - gamma v = x0,  v + gamma M^-1 (K x + C v) = v0,
 * K, C the diagonal stiffness and damping of the modes (and of the wrist stop), that is
 *   (M + gamma C + gamma^2 K) v = M v0 - gamma K x0,  x = x0 + gamma v.
 * x, v [unknowns] hold x0, v0 and are overwritten. Returns false when the matrix cannot be factored. */
bool dynamics_solve_stiff(const caber_model *model, caber_work *work, double gamma, double *x,
                          double *v);

/* Kinetic energy and potential energy (weight from the hub's level, wrist stop), J, at z, zd. */
void dynamics_energy(const caber_model *model, caber_work *work, double t, const double *z,
                     const double *zd, double *kinetic, double *potential);

/* Static start: q with q. = q.. = 0 under weight, spin and the joints' own accelerations. z holds
 * the joints' angles; its modes are filled. */
caber_status dynamics_static_start(const caber_model *model, caber_work *work, double *z,
                                   const double *zd, caber_message *message);

/* Pose and motion of the tip alone: joints and rod without Jacobians, into work->now.handle and
 * work->rod. With `straight` the shaft is rigid (q = qd = 0). */
void dynamics_pose(const caber_model *model, caber_work *work, double t, const double *z,
                   const double *zd, bool straight);

/* The same for the tip alone of the bent shaft: the other points of work->rod are left as they are. */
void dynamics_pose_tip(const caber_model *model, caber_work *work, double t, const double *z,
                       const double *zd);

#endif
