/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber shots --simulated SETUP,...: the simulated scatter of setups beside the measured batches. */
#ifndef APP_SHOTS_SIMULATED_H
#define APP_SHOTS_SIMULATED_H

#include <jansson.h>

#include "app/shots.h"

typedef struct shots_simulated {
    size_t count; /* of setups: one for all batches, or one a batch in their order */
    caber_setup *setups[CABER_SCATTER_MOST];
    caber_scatter *found;
} shots_simulated;

/* Says what makes no sense with --simulated or without; before anything is read. */
app_exit shots_simulated_check(const options *given);
/* Reads the setups of --simulated, if it was given, and runs their swings; *out is to be freed with
 * shots_simulated_free whatever is returned. Says what is wrong. */
app_exit shots_simulated_run(const options *given, const shots_study *study, shots_simulated *out);
void shots_simulated_free(shots_simulated *simulated);

/* Both do nothing, or return NULL, when nothing was simulated. */
void shots_simulated_table(const shots_simulated *simulated, const shots_study *study);
json_t *shots_simulated_json(const shots_simulated *simulated, const shots_study *study);

#endif
