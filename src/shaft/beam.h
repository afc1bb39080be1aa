/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Finite elements of a shaft that is held at one end and carries a rigid body on the other.
 * Every bench number and the swing's modes come from this one assembly.
 *
 * Coordinates: s in m from the held section (s = 0) to the end of the flexible shaft (s = L);
 * deflections v along e2 (lead) and w along e3 (towards the toe), rotation phi about e1. Small
 * rotations of a section are (phi, -w', v'); curvatures are kappa = (phi', -w'', v'').
 *
 * Elements: Hermite cubic for v and w (Euler-Bernoulli: no shear, no transverse rotary inertia),
 * quadratic for phi. With kappa_a = v'' cos(alpha) + w'' sin(alpha) the bending towards the direction
 * of `ei` and kappa_b = -v'' sin(alpha) + w'' cos(alpha):
 *   2 U = integral( ei kappa_a^2 + ei_2 kappa_b^2 + gj phi'^2 ) ds
 *   2 T = integral( m (v.^2 + w.^2) + jp phi.^2 ) ds + the body's
 * integrated by five Gauss points a cell, the properties taken where the points lie; a cell is an
 * element, or a part of one where a property jumps inside.
 * Body of mass M, centre of mass d and inertia I about it (tip frame): its velocity is
 * (0, v., w.) + theta. x d with theta = (phi, -w', v'), so bending and torsion couple.
 *
 * Source: any text on finite elements, e.g. K.-J. Bathe, Finite Element Procedures, chapter 4. */
#ifndef SHAFT_BEAM_H
#define SHAFT_BEAM_H

#include "base/vec.h"
#include "shaft/profile.h"

/* Degrees of freedom of a node, in this order. */
enum {
    BEAM_V,
    BEAM_V_SLOPE,
    BEAM_W,
    BEAM_W_SLOPE,
    BEAM_PHI,
    BEAM_PHI_MID, /* phi in the middle of the element that ends at the node */
    BEAM_NODE_DOFS
};
enum { BEAM_GAUSS = 5, BEAM_BAND = 2 * BEAM_NODE_DOFS - 1 };

/* Mass that rides on the shaft without stiffening it (the grip), linear between two places. Where
 * its centre lies off the axis, at (y, z) along (e2, e3), it moves with (v - z phi, w + y phi), so
 * bending and torsion couple along the shaft too. */
typedef struct beam_added {
    double from_at, to_at;     /* m from the uncut tip, from < to; outside it there is none */
    double mass_from, mass_to; /* kg/m at these ends */
    double gyration;           /* m, radius of gyration about its own centre line */
    double offset_2, offset_3; /* m, of the centre line from the shaft's axis along e2, e3 */
} beam_added;

/* What is meshed. */
typedef struct beam_shape {
    const profile *profile;
    double held_at, end_at; /* m from the uncut tip, held_at > end_at */
    beam_added added;       /* all 0 = none */
    double element;         /* m, the longest element allowed */
    const double *loaded;   /* [loaded_count] m from the uncut tip: nodes for loads and readings */
    size_t loaded_count;    /* between the ends; those on or beyond the ends are passed over */
    bool still;             /* never moves: its mass matrix stays 0 */
} beam_shape;

/* A rigid body on the end of the shaft, in the tip frame (e1, e2, e3). */
typedef struct beam_body {
    double mass;  /* kg */
    vec3 centre;  /* m from the end */
    mat3 inertia; /* kg m2 about the centre of mass */
} beam_body;

/* A point of the mass distribution: the Gauss points of all cells in order of s. */
typedef struct beam_point {
    double s;                /* m */
    double over;             /* m, the rule's weight */
    double ei, gj;           /* N m2; ei the root of the two principal ones */
    double mass;             /* kg, mass per length times weight */
    double polar;            /* kg m2, likewise */
    double first_2, first_3; /* kg m, first moments of the added mass along e2, e3 */
} beam_point;

/* A section's displacement and rotation; shapes of v(s), w(s), phi(s) at one s. */
typedef struct beam_state {
    double v, v_slope, w, w_slope, phi;
    double v_curvature, w_curvature, twist_rate;
} beam_state;

typedef struct beam {
    double length;      /* m, held section to end */
    double held_at;     /* m from the uncut tip */
    size_t node_count;  /* with the held node 0 */
    double *node;       /* m, s of the nodes, ascending */
    size_t dof_count;   /* BEAM_NODE_DOFS (node_count - 1) */
    double *stiffness;  /* [dof][BEAM_BAND + 1]: a(i + k, i) at [i][k] (GSL's lower band) */
    double *mass;       /* likewise, with the body once it is added */
    double *factor;     /* Cholesky factor of stiffness, likewise */
    size_t *cell;       /* [node_count]: the first cell of each element, and how many there are */
    double *edge;       /* m, s where the cells begin, and the end: a cell has no jump inside */
    size_t point_count; /* BEAM_GAUSS a cell */
    beam_point *point;
    profile_point *section; /* [point_count], with the added mass */
    const profile *profile; /* not owned; must outlive the beam */
    beam_added added;
} beam;

/* Given a shape; returns a new beam without a body on its end. */
caber_status beam_create(const beam_shape *shape, beam **out, caber_message *message);
void beam_free(beam *b);
/* Adds the body's inertia to the mass matrix at the end of the shaft. */
void beam_add_body(beam *b, const beam_body *body);

/* Cross-section at s, with the added mass in `mass` and `polar`. */
profile_point beam_section(const beam *b, double s);
/* Given nodal values u[dof_count]; returns the state at s in 0..length. */
beam_state beam_state_at(const beam *b, const double *u, double s);
/* x = K^-1 f in place; f[dof_count]. */
void beam_solve(const beam *b, double *f);
/* y = A x with A a band matrix of this beam (stiffness or mass). */
void beam_multiply(const beam *b, const double *band, const double *x, double *y);
/* f += the consistent nodal forces of a lateral force at s, along e2 (v) and e3 (w). Displacements
 * under it are exact for a uniform shaft where s is a node (beam_shape.loaded). */
void beam_add_force(const beam *b, double s, double force_v, double force_w, double *f);
/* The same of a couple about the axis. */
void beam_add_couple(const beam *b, double s, double couple, double *f);
/* Adds a force (e2, e3) and a couple (e1, e2, e3) on the end of the shaft to f. */
void beam_add_end_load(const beam *b, double force_v, double force_w, vec3 couple, double *f);
/* Strain energy between s0 and s1 as a quadratic form of `count` shapes [count][dof_count]:
 * out[i * count + j] = u_i K u_j over what lies between. */
void beam_energy_matrix(const beam *b, const double *shapes, size_t count, double s0, double s1,
                        double *out);

#endif
