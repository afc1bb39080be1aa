/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The outputs of a swing and its ball, by their numbers in caber.h, as scatter and compare show them. */
#ifndef APP_OUTPUTS_H
#define APP_OUTPUTS_H

#include <jansson.h>

#include "caber.h"

enum { OUTPUTS_TITLE_SIZE = 40, OUTPUTS_KEYS = 12 };

/* Writes what an output is called where it stands alone: "loft change from lead". */
void outputs_title(size_t output, char text[OUTPUTS_TITLE_SIZE]);
/* Returns the numbers of the outputs that a fitter looks at first. */
const size_t *outputs_keys(size_t keys[OUTPUTS_KEYS]);
/* Given an output and an SI value of it, or a difference or a spread; returns it in the printed unit. */
double outputs_printed(size_t output, double value);

/* A group of outputs in a table. */
typedef struct outputs_group {
    const char *title;
    size_t count;
    size_t item[24];
} outputs_group;

enum { OUTPUTS_GROUPS = 8 };
/* Fills the groups, in which every output stands once, in the order of a swing's table; returns how many
 * there are. */
size_t outputs_groups(outputs_group groups[OUTPUTS_GROUPS]);

/* Returns the decimals with which a spread has 3 digits, at most 5. */
int outputs_spread_decimals(double printed);

/* Returns the number as JSON, null for what is none. */
json_t *outputs_json(double value);

#endif
