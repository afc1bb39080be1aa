/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A swing and its ball, as the views of it share them. */
#ifndef PAGE_SWUNG_H
#define PAGE_SWUNG_H

#include "page/page.h"

typedef struct swung {
    caber_swing swing;
    caber_shot_pair shots;
} swung;

/* Given a trace to fill, or NULL. Errors: those of caber_swing_run and caber_shot_pair_run. */
caber_status swung_run(const caber_setup *setup, caber_trace *trace, swung *out,
                       caber_message *message);
/* Adds what the command says on standard error. */
void swung_notes(const swung *s, json_t *notes);

#endif
