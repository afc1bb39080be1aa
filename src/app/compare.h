/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What caber compare has found, and the ways in which it is shown: compare_table.c, compare_json.c,
 * compare_csv.c and compare_plot.c. */
#ifndef APP_COMPARE_H
#define APP_COMPARE_H

#include <jansson.h>

#include "app/given.h"

typedef struct compare_view {
    size_t count;
    caber_setup *setups[CABER_COMPARE_MOST];
    char names[CABER_COMPARE_MOST][GIVEN_NAME_SIZE]; /* of the setups, different from each other */
    caber_comparison *found;
} compare_view;

/* Returns "load" or "delivery". */
const char *compare_keep_name(caber_keep keep);

void compare_table(const compare_view *view);
json_t *compare_json(const compare_view *view);
/* Adds what the results are to be read with. */
void compare_notes(const compare_view *view, json_t *notes);
/* Each returns a new text in *text, to be freed with free(). */
caber_status compare_csv(const compare_view *view, char **text, size_t *size,
                         caber_message *message);
caber_status compare_plot(const compare_view *view, plot_format format, char **text, size_t *size,
                          caber_message *message);

#endif
