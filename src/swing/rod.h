/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The bent shaft: an inextensible, unshearable rod whose strains are the unknowns.
 *
 * kappa(s) = sum_j Psi_j(s) q_j, with kappa = (twist rate, -w'', v'') in the section's own axes and
 * Psi_j the curvatures of mode j. Orientation R and position r in the handle frame follow from
 *   R' = R [kappa]x,   r' = R e1,   R(0) = I, r(0) = 0,
 * integrated from the hands to the tip over segments of length h whose ends are the mass stations.
 * On a segment let c0 = (1/h) integral kappa, c1 = (12/h^3) integral (s - middle) kappa; both are
 * linear in q and come from the finite elements' own slopes and displacements. With
 *   a = h c0,  b = (h^2/12) c1,  Omega = a + a x b,  Lambda = h e1 - h b x e1:
 *   R+ = R exp([Omega]x),   r+ = r + R T(Omega) Lambda,
 * the fourth-order Magnus step on SE(3) for R' = R A (the sign of the commutator is that of a
 * right action), exact for any kappa in the linear limit.
 * Sources: A. Iserles, S. P. Norsett 1999, Phil. Trans. R. Soc. A 357:983 (Magnus);
 * J. C. Simo, L. Vu-Quoc 1986, Comput. Methods Appl. Mech. Eng. 58:79 (rod kinematics, T).
 *
 * Derivatives are those of the step itself, not of the continuous rod, so that the discrete
 * system conserves energy to the integrator's tolerance:
 *   W_j = (dR/dq_j R')v (angular, handle frame), X_j = dr/dq_j,
 *   W+ = W + R T dOmega,  X+ = X + W x (R d) + R (A_O dOmega + T dLambda),  d = T Lambda,
 *   A_O = -b[Lambda]x - c([P1]x + [Omega]x[Lambda]x) + 2 (b1 P1 + c1 P2) Omega',
 *   P1 = Omega x Lambda, P2 = Omega x P1.
 *
 * Mass: the N nodes and weights of the Gauss rule for the measure m(s) ds, which integrates
 * polynomials of degree 2N - 1 exactly however m jumps (discretised Stieltjes procedure; W. Gautschi
 * 2004, Orthogonal Polynomials, section 2.2). */
#ifndef SWING_ROD_H
#define SWING_ROD_H

#include "base/vec.h"
#include "shaft/modes.h"

/* Constant: geometry and mode integrals. Arrays owned. */
typedef struct rod {
    int n;        /* generalised strains (modes) */
    int stride;   /* n rounded up to whole lanes, the row length of mode arrays; 0 beyond n */
    int stations; /* mass stations; segments = stations + 1 */
    int padded;   /* segments rounded up to whole lanes, the row length of segment arrays */
    double length;
    double *s;          /* [stations], m from the hands */
    double *mass;       /* [stations], kg; their sum is the mass of the flexible shaft */
    double *polar;      /* [stations], kg m2 about the axis */
    double *root;       /* [stations], sqrt(kg) */
    double *polar_root; /* [stations], sqrt(kg) m */
    double *h;          /* [padded], m; 0 beyond the tip */
    /* a and b of every segment per unit q: [n][6][padded], rows ax ay az bx by bz; 0 beyond the tip. */
    double *shape;
    /* The same by segment: [stations + 1][6][stride]. */
    double *part;
} rod;

/* One configuration and its rates; one per thread. `point` stations + 1 is the tip. */
typedef struct rod_point {
    mat3 turn;      /* section axes in the handle frame */
    vec3 place;     /* m */
    vec3 spin;      /* rad/s relative to the handle */
    vec3 speed;     /* m/s relative to the handle */
    vec3 spin_rate; /* rad/s2 at zero q.. */
    vec3 rush;      /* m/s2 at zero q.. */
} rod_point;

typedef struct rod_state {
    rod_point *point;      /* [stations + 1]; the last is the tip */
    double *move;          /* [stations + 1][3][stride]: X_j */
    double *swivel;        /* [stations + 1][3][stride]: W_j */
    double *strain;        /* [2][6][padded]: a, b and their rates */
    struct rod_four *four; /* [padded/LANE]: what the segments do, four at once */
} rod_state;

/* Given a beam, shapes to use as strains and a station count; returns a new rod. */
caber_status rod_create(const beam *b, const modes *m, int stations, rod **out,
                        caber_message *message);
void rod_free(rod *r);
bool rod_state_create(const rod *r, rod_state *state);
void rod_state_free(rod_state *state);

/* Positions and rates for q, qd [n]. */
void rod_move(const rod *r, const double *q, const double *qd, rod_state *state);
/* Place, axes, spin and speed of the tip alone (the last point of `state`); the rest is left as it is. */
void rod_move_tip(const rod *r, const double *q, const double *qd, rod_state *state);
/* As rod_move, with X_j and W_j. */
void rod_move_with_jacobians(const rod *r, const double *q, const double *qd, rod_state *state);

#endif
