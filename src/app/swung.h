/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One swing with its balls, as the page and the report show it. */
#ifndef APP_SWUNG_H
#define APP_SWUNG_H

#include <jansson.h>

#include "caber.h"

typedef struct swung {
    caber_swing swing;
    caber_shot_pair shots;
} swung;

/* Given a setup, and a trace to fill or NULL; swings it and flies both balls. Errors: those of
 * caber_swing_run and caber_shot_pair_run. */
caber_status swung_run(const caber_setup *setup, caber_trace *trace, swung *out,
                       caber_message *message);
/* Adds what the command says on standard error. */
void swung_notes(const swung *s, json_t *notes);
/* Returns the swing through time, {setup, met_ball, columns, places_m, moment_nm, curvature_per_m, trail_mm,
 * out_of_plane_mm} with ten digits a number, as text to be freed, or NULL when memory is out or a number is none. */
char *swung_series_text(const caber_setup *setup, bool met_ball, const caber_trace *trace);
/* The same as a value. */
json_t *swung_series_json(const caber_setup *setup, bool met_ball, const caber_trace *trace);

#endif
