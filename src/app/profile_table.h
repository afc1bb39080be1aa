/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A profile as a text: what a fitter reads, at most 100 columns wide. */
#ifndef APP_PROFILE_TABLE_H
#define APP_PROFILE_TABLE_H

#include "app/app.h"

/* Prints the profile, how well the readings agree with it, what no reading sees, and the symmetry
 * check. Returns APP_FINE, or APP_UNFINISHED after saying why. */
app_exit profile_table(const caber_readings *readings, const caber_fit *fit);

#endif
