/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A ball struck by a free rigid head: the impulse in three dimensions.
 *
 * All vectors are in one inertial frame of the caller's, right-handed.
 *
 * Where they touch. From the middle of the face, a towards the toe and b up it:
 *   point = middle + a toe + b up - (sag(a, bulge) + sag(b, roll)) normal,
 *   sag(x, R) = R - sqrt(R^2 - x^2),
 * an arc of the stated radius in either direction (with both radii R it differs from a sphere by
 * a^2 b^2/(4 R^3), 1.5 um at 20 mm each way and 300 mm), whose normal is along
 *   normal + a/sqrt(bulge^2 - a^2) toe + b/sqrt(roll^2 - b^2) up.
 *
 * How they move. n points from the face into the ball; r goes from the head's centre of mass to the
 * contact, -R n from the ball's. An impulse P on the ball (and -P on the head) changes the velocity
 * of the ball's contact point against the head's by K P,
 *   K = (1/m + 1/M) 1 - [r]x I^-1 [r]x + R^2/J (1 - n n'),
 * m, J, R of the ball, M, I of the head: symmetric and positive definite. With the normal part of
 * the impulse, p, as the clock (Keller 1986), u the normal velocity (-closing at first), s the slip
 * in the plane across n and q the part of the impulse in it:
 *   u' = k_nn + k.q',   s' = k + T q',   k = the part of K n in the plane, T = the part of K in it.
 * Coulomb: q' = -mu s/|s| while it slides. Because of k the slip turns as the impulse grows, and no
 * formula for P in terms of the first slip is right. Where s = 0, either it sticks,
 *   q' = -T^-1 k, when |T^-1 k| <= mu;
 * or it slides on along one straight line d, s' = c d: (mu T + c) d = k with |d| = 1, c > 0. The
 * length of (mu T + c)^-1 k falls with c, from more than 1 at c = 0 (that is what "cannot stick"
 * says), so there is one such c. In both u' is constant and above 0: it is k_nn - k'T^-1 k > 0
 * where it sticks, K being positive definite, and more where it slides on, mu k.d <= k'T^-1 k.
 * To slide up to s = 0 is singular in p; with dp = |s| dt, d and e along and across s, f its angle,
 *   ds/dt = |s| k - mu T s:   d ln|s|/dt = d.k - mu d'T d,   df/dt = e.k - mu e'T d,
 * smooth, and s = 0 is reached as t grows (Batlle 1996). This is integrated (GSL, Prince & Dormand
 * 8/9) to 1e-13 of the closing speed until f has settled; the rest is in closed form.
 *
 * When they part. By the energy (Stronge 1990): the normal impulse works against the two while
 * u < 0, and gives e^2 of that back while u > 0. Unlike a ratio of speeds or of impulses this makes
 * no energy whatever the friction; where the rates are constant all three agree.
 *
 * Sources, from memory: W. J. Stronge, Impact Mechanics, 2000, and 1990, Proc. R. Soc. Lond. A 431,
 * rigid body collisions with friction; J. B. Keller 1986, J. Appl. Mech. 53, impact with friction;
 * J. A. Batlle 1996, J. Appl. Mech. 63, the sliding velocity flow of three-dimensional collisions.
 *
 * What is left out, with its size (from memory: contact of 0.45 ms; EI 20 N m2 and 0.05 kg/m at the
 * tip; a pull of 250 N along the shaft):
 * - The shaft. In so short a time a bending wave runs up it by (EI/mass)^(1/4) sqrt(t) = 0.09 m; a
 *   long beam on whose end the speed rises steadily resists there like
 *   2/3 sqrt(2 t/pi) (EI mass^3)^(1/4) = 2.5 g, twice that where its end does not turn: 0.2-0.5 %
 *   of the ball's speed. (Measured speeds of balls ask for less than 3 g more: Proceedings 2020,
 *   49(1):47, abstract.) Its pull is 0.1 N s, across the ball's 3 N s.
 * - That head and ball move meanwhile. The impulse acts at once, at the pose in which they meet; a
 *   head that turns by 30 rad/s, and more as it is struck off its middle, turns by 1-2 deg during a
 *   contact. Launch and direction change by some 0.5 deg in the middle of a driver's face, by 1 deg
 *   20 mm off it (tests/verification/test_impact_reference.py).
 * - That ball and face give along the face too: a ball wound up by friction can leave with more
 *   spin than one that rolls off (from memory). */
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
    bool sliding;                  /* whether the ball still slid as it left; else it rolled off */
    double lost;                   /* J, kinetic energy lost */
    double compressed; /* J, the work of the normal impulse in compression, as a loss: what it
                                      gives back is restitution^2 of it */
    double rubbed;     /* J, lost by friction; lost = (1 - restitution^2) compressed + rubbed */
} impact_result;

/* Where a place on the face is and how the face looks there; NAN when it is off the curved face,
 * that is, as far from the middle as the radius of bulge or roll. */
void impact_face_at(const impact_face *face, caber_place place, vec3 *point, vec3 *normal);

/* Given a head, its face, the place where that touches the ball, the ball and what they are made
 * of; fills *out. Some 20 us. Several threads may call it at once.
 * Errors: CABER_BAD_INPUT when the place is off the curved face, the face moves away from the ball,
 * the restitution is below 0 or above 1 at that speed, or the head's inertia is that of no body;
 * CABER_NO_MEMORY; CABER_NOT_CONVERGED. *out is then as it was. */
caber_status impact_run(const impact_head *head, const impact_face *face, caber_place place,
                        const impact_ball *ball, const impact_contact *contact, impact_result *out,
                        caber_message *message);

#endif
