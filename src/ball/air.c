/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Density: each gas fills the room as if alone, rho = (p_dry M_dry + p_vapour M_water)/(R T), the
 * vapour's pressure being the humidity times that of saturation.
 *
 * The standard atmosphere's pressure follows from p' = -rho g with T falling by a constant rate
 * from sea level up to 11 km: p = p0 (T/T0)^(g M_dry/(R rate)), over the geopotential altitude H =
 * r h/(r + h), in which g is constant.
 *
 * Against the formula of the metrologists (CIPM-2007, with the gases' non-ideal part) the density
 * is within 0.1 % (tests/verification/test_flight_reference.py). */
#include "ball/air.h"

#include <math.h>

/* ISO 2533:1975, Standard Atmosphere (constants from memory). */
static const double gas_constant = 8.31432;         /* J/(mol K), as that standard has it */
static const double dry_mass = 28.964420e-3;        /* kg/mol */
static const double sea_pressure = 101325;          /* Pa */
static const double sea_temperature = 288.15;       /* K */
static const double lapse = 6.5e-3;                 /* K/m, geopotential */
static const double earth_radius = 6356766;         /* m */
static const double sutherland_factor = 1.458e-6;   /* kg/(m s sqrt(K)) */
static const double sutherland_temperature = 110.4; /* K */
/* Of water, IAPWS (from memory). */
static const double water_mass = 18.015268e-3; /* kg/mol */
static const double ice_point = 273.15;        /* K */

static double standard_pressure(double altitude)
{
    const double height = earth_radius * altitude / (earth_radius + altitude);
    const double power = CABER_GRAVITY * dry_mass / (gas_constant * lapse);
    return sea_pressure * pow(1 - lapse * height / sea_temperature, power);
}

/* Pa, over water, -20 to 50 degC within 0.2 %. A. L. Buck 1981, J. Appl. Meteorol. 20:1527,
 * equation for water in that range (from memory), without its factor for air in place of vapour
 * alone, 1.004. */
static double saturation_pressure(double temperature)
{
    const double t = temperature - ice_point;
    return 611.21 * exp(17.502 * t / (240.97 + t));
}

void air_state(const caber_air *air, double *density, double *viscosity)
{
    const double t = air->temperature;
    const double p = isnan(air->pressure) ? standard_pressure(air->altitude) : air->pressure;
    const double vapour = fmin(air->humidity * saturation_pressure(t), p);
    *density = ((p - vapour) * dry_mass + vapour * water_mass) / (gas_constant * t);
    /* Sutherland's, of dry air: vapour makes it a hundredth less at most, on a hot wet day. */
    *viscosity = sutherland_factor * t * sqrt(t) / (t + sutherland_temperature);
}
