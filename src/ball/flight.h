/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The flight of a spinning ball through still or moving air, to the height it left. What it does as
 * it lands, bounces and rolls is not computed.
 *
 * Axes: x towards the target, y up, z to the side away from the golfer (right-handed).
 *
 * A point of mass m that spins with w about an axis of fixed direction flies with velocity v over
 * the ground, u = v - wind through the air (density rho, viscosity mu), area A = pi r^2:
 *   m v' = -m g - rho/2 A |u| CD u + rho/2 A |u|^2 CL l,   l = (w x u)/|w x u|
 *   w'   = -2e-5 w |u|/r
 * CD and CL depend on the Reynolds number rho |u| 2 r/mu and on the spin parameter r |w x u|/|u|^2,
 * in which only the spin across the flow counts, as one of the sets of ball/drag.h says. The decay
 * of the spin is Smits & Smith's 1994 (quoted by Penner 2001, Am. J. Phys. 69:563, equation 16),
 * here with every set, and at every density of the air. Buoyancy is in no set's coefficients and is
 * left out: it carries a thousandth of the weight. The wind is the same everywhere, and does not
 * drop towards the ground as a real one does. */
#ifndef BALL_FLIGHT_H
#define BALL_FLIGHT_H

#include "base/vec.h"
#include "caber.h"

typedef struct flight_launch {
    vec3 velocity; /* m/s over the ground */
    vec3 spin;     /* rad/s, right-handed: backspin of a ball that flies along x is along z */
} flight_launch;

typedef struct flight_ball {
    double mass, radius; /* kg, m */
} flight_ball;

typedef struct flight_air {
    double density;   /* kg/m3; 0 = none, and the ball flies a parabola */
    double viscosity; /* Pa s, above 0 */
    vec3 wind;        /* m/s */
} flight_air;

typedef struct flight_result {
    double carry, side;   /* m along x and z, at the height of the launch */
    double apex;          /* m above the launch */
    double time;          /* s */
    double descent_angle; /* rad below the horizontal */
    double speed, spin;   /* m/s over the ground, rad/s, as it lands */
    bool outside;         /* it left the range of the set: by the ends of the integrator's steps */
} flight_result;

/* What a thread needs to fly balls: the integrator, made once. Opaque. A flight does not depend on
 * those flown before with the same work, to the last bit. */
typedef struct flight_work flight_work;
/* Errors: CABER_NO_MEMORY. */
caber_status flight_work_create(flight_work **out, caber_message *message);
void flight_work_free(flight_work *work); /* NULL is allowed */
/* For studies of convergence: the integrator's relative tolerance, from now on. */
void flight_work_tolerance(flight_work *work, double tolerance);

/* Errors: CABER_BAD_INPUT when the ball does not rise; CABER_NOT_CONVERGED, also when the ball has
 * not come down after two minutes. */
caber_status flight_run(flight_work *work, const flight_launch *launch, const flight_ball *ball,
                        const flight_air *air, caber_coefficients set, flight_result *out,
                        caber_message *message);

#endif
