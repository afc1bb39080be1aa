/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What caber report shows: a question, and of one to four setups all that the live page has of them, as one
 * document; and the page that this is put into. */
#ifndef APP_REPORT_H
#define APP_REPORT_H

#include <jansson.h>

#include "app/given.h"

enum { REPORT_SETUPS = 4 };

/* What is asked for. */
typedef struct report_ask {
    size_t count;
    caber_setup *setups[REPORT_SETUPS]; /* whose load is changed where the delivery is to be kept */
    char names[REPORT_SETUPS][GIVEN_NAME_SIZE];
    const char *const *files;     /* [count], as they were given */
    const char *const *overrides; /* [override_count], every --set */
    size_t override_count;
    const char *question; /* NULL = one is made */
    const char *units;    /* "metric" or "trade": how it is shown at first */
    caber_keep keep;
    int swings, seed, threads; /* as in caber_scatter_settings */
} report_ask;

/* Given what is asked; computes all of it. Fills *out on CABER_OK, with NULL when memory is out or a number is
 * none. Its `warnings` are what the other commands say on standard error. What there is no spread of, or of whose
 * errors nothing is known, is null, and a warning or a note says why.
 * Errors: those of a swing, a comparison and a bench, with the setup. */
caber_status report_json(report_ask *ask, json_t **out, caber_message *message);

/* What to call the page of a report. */
void report_title(const report_ask *ask, char *title, size_t size);
/* Given the page as it is bundled, without data and title, which must hold each of their marks once; returns it
 * with both in a new text, to be freed with free(). A text of the data never becomes markup. Errors:
 * CABER_NO_MEMORY, CABER_INTERNAL for a page without marks. */
caber_status report_page(const char *bundled, const char *title, const json_t *data, char **text,
                         size_t *size, caber_message *message);

#endif
