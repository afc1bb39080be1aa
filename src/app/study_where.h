/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What --where asks: NAME=VALUE, NAME=LOW..HIGH, NAME=LOW.., NAME=..HIGH, of a factor, an output, the number of
 * the case, or its status. */
#ifndef APP_STUDY_WHERE_H
#define APP_STUDY_WHERE_H

#include "app/study_cases.h"

/* Adds a condition, for which there is room. A plain number is in the column's unit; a plain LOW before a HIGH
 * with a unit in that. Errors: CABER_BAD_INPUT. */
caber_status study_where(study_cases *c, const char *text, caber_message *message);

#endif
