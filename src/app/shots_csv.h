/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Measured shots as one CSV in our own names and printed units, with whether and why each is set aside.
 * caber shots reads it again: what is set aside stays so. */
#ifndef APP_SHOTS_CSV_H
#define APP_SHOTS_CSV_H

#include "caber.h"

/* Given cleaned shots; returns the CSV, to be freed with free(), and its length in *size. */
caber_status shots_csv(const caber_measured *measured, char **text, size_t *size,
                       caber_message *message);

#endif
