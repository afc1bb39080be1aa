/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What caber scatter has found, and the ways in which it is shown: scatter_table.c, scatter_json.c,
 * scatter_csv.c and scatter_plot.c. */
#ifndef APP_SCATTER_H
#define APP_SCATTER_H

#include <jansson.h>

#include "app/given.h"

/* How many setups the command takes. */
enum { SCATTER_SETUPS = 2, SCATTER_NAME_SIZE = GIVEN_NAME_SIZE };

typedef struct scatter_view {
    size_t count;
    caber_setup *setups[SCATTER_SETUPS];
    char names[SCATTER_SETUPS]
              [SCATTER_NAME_SIZE]; /* of the setups, made different from each other */
    caber_scatter *found;
} scatter_view;

/* How many swings count for a setup. */
size_t scatter_good(const scatter_view *view, size_t club);
/* What habit k was in swing i, in the unit of caber_habit_about. */
double scatter_habit(const scatter_view *view, size_t club, size_t swing, caber_habit habit);

void scatter_table(const scatter_view *view);
json_t *scatter_json(const scatter_view *view);
/* Returns where each good swing's ball lands, a list a setup of {carry_m, side_m}. */
json_t *scatter_points_json(const scatter_view *view);
/* Adds what the results are to be read with. */
void scatter_notes(const scatter_view *view, json_t *notes);
/* Each returns a new text in *text, to be freed with free(). */
caber_status scatter_csv(const scatter_view *view, char **text, size_t *size,
                         caber_message *message);
caber_status scatter_plot(const scatter_view *view, plot_format format, char **text, size_t *size,
                          caber_message *message);

#endif
