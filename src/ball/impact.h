/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A ball struck by a free rigid head: the impulse in three dimensions.
 *
 * All vectors are in one inertial frame of the caller's, right-handed. */
#ifndef BALL_IMPACT_H
#define BALL_IMPACT_H

#include "base/vec.h"
#include "caber.h"

/* The head, rigid and free, just before. */
typedef struct impact_head {
    double mass;         /* kg */
    mat3 inertia;        /* kg m2 about its centre of mass */
    vec3 velocity, spin; /* m/s of the centre of mass, rad/s */
} impact_head;

/* The face: where its middle is and how it curves. */
typedef struct impact_face {
    vec3 middle;        /* m from the head's centre of mass */
    vec3 normal, toe;   /* unit, square to each other; up the face = toe x normal */
    double bulge, roll; /* m, radii heel-toe and up-down; 0 = flat */
} impact_face;

/* The ball, at rest before. */
typedef struct impact_ball {
    double mass, radius; /* kg, m */
    double inertia;      /* kg m2 */
} impact_ball;

/* What the two are made of. */
typedef struct impact_contact {
    double restitution, speed, loss; /* 1, m/s, s/m: as caber_head has them */
    double friction;                 /* 1 */
} impact_contact;

typedef struct impact_result {
    vec3 point, normal;            /* m from the head's centre of mass; unit, where they touch */
    vec3 impulse;                  /* N s on the ball */
    vec3 ball_velocity, ball_spin; /* m/s, rad/s */
    vec3 head_velocity, head_spin; /* m/s of its centre of mass, rad/s */
    double closing;                /* m/s, at which the two met along the normal */
    double restitution;            /* 1, as used */
    bool sliding;                  /* whether the ball still slid as it left */
    double lost;                   /* J, kinetic energy lost */
} impact_result;

/* Where a place on the face is and how the face looks there. */
void impact_face_at(const impact_face *face, caber_place place, vec3 *point, vec3 *normal);

/* Errors: CABER_BAD_INPUT when the place is off the curved face, the face moves away from the ball, or
 * the restitution is below 0 or above 1 at that speed. */
caber_status impact_run(const impact_head *head, const impact_face *face, caber_place place,
                        const impact_ball *ball, const impact_contact *contact, impact_result *out,
                        caber_message *message);

#endif
