/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The load program: what drives each joint, as smooth functions of time and state. */
#ifndef SWING_LOAD_H
#define SWING_LOAD_H

#include <gsl/gsl_spline.h>

#include "caber.h"

/* A joint's table as a function of time. Torque: Steffen's monotone cubic, constant beyond the
 * ends. Motion: a cubic spline (continuous acceleration), straight beyond the ends. The spline is
 * natural for what is left of the table after the cubic p with
 *   p'' = a + (b - a) x/T,  p = a x^2/2 + (b - a) x^3/(6 T),  x = t - first, T = last - first,
 * so its accelerations at the ends are a and b, those of the cubic through the four outermost rows.
 * A plain natural spline has none there, and a swing that begins with the table would start wrong. */
typedef struct load_table {
    gsl_spline *spline; /* NULL = no table */
    double first, last; /* s */
    double a, b;        /* rad/s2 at the ends of a motion; 0 for a torque */
} load_table;

/* The load of one player; constant. */
typedef struct load {
    caber_load given;
    load_table hub, grip, roll;
} load;

/* A driven angle. */
typedef struct load_motion {
    double angle, rate, acceleration; /* rad, rad/s, rad/s2 */
} load_motion;

/* The wrist stop at one cock. */
typedef struct load_stop {
    double spring;    /* N m, conservative, positive */
    double damper;    /* N m, minus the rate's sign */
    double energy;    /* J in the spring */
    double stiffness; /* N m/rad, -d spring/d cock */
    double damping;   /* N m s/rad, -d damper/d rate */
} load_stop;

/* The gear of roll to the club angle: Gamma and its first and second derivatives by beta. */
typedef struct load_gear {
    double roll, slope, curve;
} load_gear;

/* Given a checked load; copies its tables into splines. */
caber_status load_create(const caber_load *given, load *out, caber_message *message);
void load_free(load *l);

/* 6 x^5 - 15 x^4 + 10 x^3 between 0 and 1, clamped: the quintic smoothstep. */
double load_smoothstep(double x);
/* N m at time t, s, and arm rate, rad/s. */
double load_hub_torque(const load *l, double t, double arm_rate);
/* N m at time t: the couple of the hands on the handle about Z, without the stop. */
double load_grip_couple(const load *l, double t);
/* N m at time t about the handle's axis; 0 without a table. */
double load_roll_torque(const load *l, double t);
/* A motion table at t. */
load_motion load_table_motion(const load_table *table, double t);
load_stop load_wrist_stop(const caber_stop *stop, double cock, double cock_rate);
load_gear load_roll_gear(const caber_roll_load *roll, double beta);

#endif
