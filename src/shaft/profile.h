/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A measured profile as smooth functions of the distance from the uncut tip.
 *
 * Between stations every property follows Steffen's monotone cubic (M. Steffen 1990, Astron.
 * Astrophys. 239:443; in GSL), which never overshoots a reading. Sections then scale EI, GJ and
 * mass between two distances, which makes jumps; profile_jumps lists them for the mesh. */
#ifndef SHAFT_PROFILE_H
#define SHAFT_PROFILE_H

#include "caber.h"

typedef struct profile profile;

/* The shaft's cross-section at one place. */
typedef struct profile_point {
    double ei, ei_2; /* N m2, principal */
    double angle;    /* rad, about e1 from e2 to the bending direction of ei */
    double gj;       /* N m2 */
    double mass;     /* kg/m */
    double radius;   /* m, outside */
    double polar;    /* kg m, inertia about the axis per length */
} profile_point;

/* Given a checked shaft and sections (copied); returns a new profile. */
caber_status profile_create(const caber_shaft *shaft, const caber_sections *sections, profile **out,
                            caber_message *message);
void profile_free(profile *p);
/* Given `at` in m from the uncut tip, inside the stations; returns the cross-section. */
profile_point profile_at(const profile *p, double at);
/* Ascending places, m from the uncut tip, at which a mesh needs a node: stations and section
 * ends. Returns their number; *places stays owned by the profile. */
size_t profile_places(const profile *p, const double **places);

/* The section ends alone, m from the uncut tip, in any order: where EI, GJ and mass may jump. Returns
 * their number; *jumps stays owned by the profile. */
size_t profile_jumps(const profile *p, const double **jumps);

/* Polar inertia per length of a tube about its axis, kg m: mass m per length, outer radius r, wall
 * of density rho. m (r^2 + ri^2)/2 with ri^2 = r^2 - m/(pi rho). */
double profile_tube_polar(double mass, double radius, double density);

#endif
