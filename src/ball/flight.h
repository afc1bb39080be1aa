/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The flight of a spinning ball through still or moving air, to the height it left.
 *
 * Axes: x towards the target, y up, z to the side away from the golfer (right-handed). */
#ifndef BALL_FLIGHT_H
#define BALL_FLIGHT_H

#include "base/vec.h"
#include "caber.h"

typedef struct flight_launch {
    vec3 velocity; /* m/s over the ground */
    vec3 spin;     /* rad/s */
} flight_launch;

typedef struct flight_ball {
    double mass, radius; /* kg, m */
} flight_ball;

typedef struct flight_air {
    double density;   /* kg/m3 */
    double viscosity; /* Pa s */
    vec3 wind;        /* m/s */
} flight_air;

typedef struct flight_result {
    double carry, side;   /* m along x and z, at the height of the launch */
    double apex;          /* m */
    double time;          /* s */
    double descent_angle; /* rad below the horizontal */
    double speed, spin;   /* m/s, rad/s, as it lands */
    bool outside;         /* it left the range of the set */
} flight_result;

/* What a thread needs to fly balls: the integrator, made once. Opaque. */
typedef struct flight_work flight_work;
caber_status flight_work_create(flight_work **out, caber_message *message);
void flight_work_free(flight_work *work);

/* Errors: CABER_BAD_INPUT when the ball does not rise; CABER_NOT_CONVERGED. */
caber_status flight_run(flight_work *work, const flight_launch *launch, const flight_ball *ball,
                        const flight_air *air, caber_coefficients set, flight_result *out,
                        caber_message *message);

/* Density and viscosity of the air over a course. */
void air_state(const caber_air *air, double *density, double *viscosity);

#endif
