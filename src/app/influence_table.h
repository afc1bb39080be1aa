/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Which factors drive an output, as text: one table an output, at most 100 columns wide. */
#ifndef APP_INFLUENCE_TABLE_H
#define APP_INFLUENCE_TABLE_H

#include "study/influence.h"
#include "study/influence_morris.h"
#include "study/influence_regression.h"

/* What an output and its factors are called. Not owned; texts are UTF-8. */
typedef struct influence_view {
    size_t factor_count;
    const char *const *factors; /* as the study has them */
    const char *label,
        *unit;    /* of the output; its values are in this unit; "" for a plain number */
    int decimals; /* as caber_field has them */
    double level; /* of the intervals */
} influence_view;

/* Given the first of count numbers that stand `apart` bytes from each other, as in an array of structs; fills
 * order[count] with their places, the largest size first; equal ones as they stand. */
void influence_order(const double *first, size_t apart, size_t count, size_t *order);

/* Letters of a factor's name that are shown, and room for them in UTF-8. */
enum { INFLUENCE_NAME_WIDTH = 34, INFLUENCE_NAME_SIZE = 4 * INFLUENCE_NAME_WIDTH + 4 };
/* Copies a name, cut to INFLUENCE_NAME_WIDTH letters with "..." at the end where it is longer. Returns how
 * many letters it has then. */
size_t influence_name_clip(const char *name, char clipped[INFLUENCE_NAME_SIZE]);

/* Each prints the table of one output, the factor that matters most first, and what follows from it in
 * words. Returns false when out of memory, and has then printed nothing. */
bool influence_table_sobol(const influence_view *view, const influence_sobol *found);
bool influence_table_morris(const influence_view *view, const influence_morris *found);
bool influence_table_regression(const influence_view *view, const influence_regression *found);

#endif
