/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the text, the JSON and the plot of a profile share: how each kind of reading is printed, and how
 * the readings of each jig stand beside the profile. */
#ifndef APP_PROFILE_H
#define APP_PROFILE_H

#include "caber.h"

/* Standard deviations beyond which a reading is named: one good reading in sixteen thousand is that far
 * off. */
#define PROFILE_OUTLIER 4.0

/* How readings of a kind are printed. */
typedef struct profile_kind {
    const char *name;  /* in JSON */
    const char *label; /* in texts, of one reading or many */
    const char *unit;
    double factor; /* SI value times factor is the printed value */
    int decimals;
    const char *check; /* what to look at when a reading is far off */
} profile_kind;

/* Given a reading; returns how its kind is printed (constant). */
const profile_kind *profile_kind_of(const caber_reading *reading);

/* The readings that came from one table; of the mass and the balance point, the one that there is. */
typedef struct profile_jig {
    caber_reading_kind kind;
    const char *file; /* last part of its path; belongs to the readings; "" = none */
    size_t used, left_out;
    double rms, mean; /* in standard deviations, of those used; 0 without any */
    size_t furthest;  /* index of the one used that is furthest off; SIZE_MAX = none used */
} profile_jig;

/* Returns the jigs in the order of their first readings, to be freed with free(), and how many in
 * *count; NULL when out of memory. */
profile_jig *profile_jigs(const caber_readings *readings, const caber_fit *fit, size_t *count);

/* Last part of a path. */
const char *profile_file(const char *path);
/* Writes "neutral-spans.csv, line 16"; of mass and balance point, what they are called. */
void profile_reading_title(const caber_reading *reading, char *text, size_t size);
bool profile_is_outlier(const caber_readings *readings, const caber_fit *fit, size_t index);
/* Whether all that is printed of the fit is numbers; says so when not. */
bool profile_is_finite(const caber_readings *readings, const caber_fit *fit);
/* Chi-square over the degrees of freedom. */
double profile_reduced_chi_square(const caber_fit *fit);
/* Mean bending stiffness of a station over the directions, N m2. */
double profile_mean_ei(const caber_station *station);
/* Given a span; returns the EI, N m2, that a shaft alike all along would need for its reading: of a
 * load in the middle, load span^3/(48 deflection). */
double profile_apparent_ei(const caber_reading *span);

#endif
