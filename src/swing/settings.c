/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "caber.h"

/* Chosen by measurement (tests/verification/test_convergence.py): lengths within 0.2 mm, angles
 * within 0.02 deg and speeds within 0.02 m/s of converged ones, with a reserve of two, in every
 * demo setup.
 *   modes: with 9 the angles use nearly all of it;
 *   stations: fewer would do; these carry twice as many modes too;
 *   ceiling: lower, and load rates are off by more than 1 %;
 *   tolerance: coarser, and load rates and the energy residual scatter beyond 1 % and 1e-6. */
caber_settings caber_settings_default(void)
{
    return (caber_settings){.modes = 10,
                            .stations = 12,
                            .elements = 0,
                            .ceiling = 150,
                            .tolerance = 1e-7,
                            .gravity = true,
                            .until = 0,
                            .time_limit = 1.0,
                            .sample = 1e-3};
}

/* Mass and diameter: the limits of the Equipment Rules. A uniform sphere has 2/5 m r^2. */
caber_ball caber_ball_default(void)
{
    return (caber_ball){
        .mass = 0.04593, .diameter = 0.04267, .inertia = 0.4, .coefficients = CABER_BEARMAN_HARVEY};
}

/* Sea level of the standard atmosphere, ISO 2533:1975 (from memory). */
caber_air caber_air_default(void)
{
    return (caber_air){.temperature = 288.15, .altitude = 0, .pressure = NAN, .humidity = 0};
}
