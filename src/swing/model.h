/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Everything constant through a swing (struct caber_model) and what one thread needs beside it
 * (struct caber_work). */
#ifndef SWING_MODEL_H
#define SWING_MODEL_H

#include "club/club.h"
#include "swing/load.h"
#include "swing/rod.h"

enum { JOINT_ARM, JOINT_COCK, JOINT_ROLL, JOINT_COUNT };
enum { THIRD_BUTT, THIRD_MIDDLE, THIRD_TIP, THIRD_COUNT };

struct caber_model {
    caber_player player; /* its tables are empty: see load */
    caber_settings settings;
    load load;
    club *club;
    rod *rod;
    int n;                      /* modes */
    double *stiffness;          /* [n], omega^2 */
    double *damping;            /* [n], 2 zeta omega */
    double *inertia;            /* [n], extra modal inertia above the ceiling, else 0 */
    double *third[THIRD_COUNT]; /* [n][n], strain energy of a third = q' third q / 2 */
    double *end_moment; /* [3][n], moment on the shaft at the hands per unit q, straight; handle
                                   axes */
    double *section;    /* [stations + 1][3]: EI matrix b22, b23, b33 in (e2, e3) bending
                                   directions, at the hands and at the mass stations */
    mat3 tip_factor;    /* lower Cholesky factor of the tip body's inertia */
    double shaft_polar; /* kg m2, of all stations; 0 = no torsional inertia of the shaft */
    int active[JOINT_COUNT]; /* index among the unknowns, or -1 when driven or geared */
    int joints;              /* unknown joints */
    int unknowns;            /* joints + n */
    vec3 up;                 /* unit vector up, plane frame */
    vec3 target, side; /* horizontal unit vectors along the target line and away from the golfer */
    double gravity;    /* m/s2, 0 when it is switched off */
};

/* Where the handle is and how it moves; vectors in handle axes unless said. */
typedef struct handle_motion {
    double angle[JOINT_COUNT], rate[JOINT_COUNT]; /* arm, cock, roll */
    double beta, beta_rate;
    mat3 axes;                  /* columns e1, e2, e3 in the plane frame */
    vec3 hands;                 /* m, plane frame */
    vec3 velocity;              /* m/s of the hands */
    vec3 spin;                  /* rad/s of the handle */
    vec3 pull[JOINT_COUNT];     /* hands' acceleration per unit joint acceleration */
    vec3 twirl[JOINT_COUNT];    /* handle's angular acceleration per unit joint acceleration */
    vec3 pull_rest, twirl_rest; /* the rest, with driven joints' accelerations, without weight */
    double driven[JOINT_COUNT]; /* rad/s2 of driven joints, else 0 */
    load_gear gear;
    vec3 up; /* in handle axes */
} handle_motion;

/* Sums over the bent shaft and the tip body about the hands, handle axes. */
typedef struct outboard {
    club_body body;     /* mass, first moment, inertia */
    vec3 force, moment; /* rates of momentum at zero joint and modal acceleration */
} outboard;

/* One evaluation of the equations of motion. */
typedef struct motion {
    handle_motion handle;
    outboard out;
    double couple[JOINT_COUNT]; /* N m in each joint: the program's where it drives by torque, the
                                   needed one where it drives by motion; gear: the constraint's */
    load_stop stop;
    double power;      /* W put in by the joints */
    double loss;       /* W lost in dampers */
    vec3 grip_force;   /* N, hands on the club */
    vec3 shaft_moment; /* N m, handle on the flexible shaft, about the hands */
    vec3 shaft_force;  /* N, likewise */
} motion;

struct caber_work {
    const caber_model *model;
    rod_state rod;
    double *rows; /* [row_count][stride]: mass-weighted Jacobians */
    int row_count;
    int polar_count;  /* stations with a turning inertia: all or none */
    int pitch;        /* the row length of the matrices, whole lanes */
    double *p, *l;    /* [3][stride] each: linear and angular momentum per unit qd */
    double *bias;     /* [stride] */
    double *matrix;   /* [unknowns][pitch], upper triangle of M */
    double *factor;   /* likewise, the factors of the last solve, see dynamics.c */
    double *rhs;      /* [pitch] */
    double *zero;     /* [unknowns], stays 0: a straight shaft */
    double *jacobian; /* scratch for the start */
    motion now;
    struct downswing *solver; /* owned, see downswing.h */
};

/* Given a model, which must outlive the new one; returns one with the same club and modes, which it
 * borrows, or NULL when out of memory: for a thread that swings one club by many players. */
caber_model *model_borrow(const caber_model *base);
void model_borrow_free(caber_model *model);
/* Gives such a model another player, between swings of its work. The player must have been checked, and
 * drive every joint as the first one did, by the same tables. */
void model_set_player(caber_model *model, const caber_player *player);

#endif
