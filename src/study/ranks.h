/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Ranks of numbers. */
#ifndef STUDY_RANKS_H
#define STUDY_RANKS_H

#include "caber.h"

/* Given x[count] without NaN; fills rank[count]: 1 for the least. Equal numbers share the mean of their
 * ranks. x and rank may be the same. Errors: CABER_NO_MEMORY. */
caber_status ranks_fill(const double *x, size_t count, double *rank, caber_message *message);

#endif
