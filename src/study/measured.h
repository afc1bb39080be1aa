/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Measured shots: small helpers beside caber_measured_clean and caber_measurable_at. */
#ifndef STUDY_MEASURED_H
#define STUDY_MEASURED_H

#include "caber.h"

/* Returns the column of that name, or -1. */
int measured_column(const caber_measured *measured, const char *name);
/* Returns the last part of the path of a shot's file. */
const char *measured_file(const caber_measured *measured, size_t shot);

#endif
