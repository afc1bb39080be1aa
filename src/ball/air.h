/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The air over a course. */
#ifndef BALL_AIR_H
#define BALL_AIR_H

#include "caber.h"

/* Given what a weather station reads; returns density, kg/m3, and viscosity, Pa s, of moist air as
 * a mixture of two ideal gases. Where no pressure is given it is that of the standard atmosphere at
 * the altitude, whatever the temperature. */
void air_state(const caber_air *air, double *density, double *viscosity);

#endif
