/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The shaft of a setup with its bands and sections. */
#ifndef APP_SHAFT_JSON_H
#define APP_SHAFT_JSON_H

#include <jansson.h>

#include "caber.h"

/* Fills *out on CABER_OK with {setup, shaft, note, length_m, tip_trim_m, butt_trim_m, hold_m, errors_known,
 * stations: as measured, sd in per cent or null; sections; curve: columns with the sections in}, or with NULL
 * when memory is out or a number is none; adds to the notes what it has not. Errors: those of a profile that
 * makes no sense. */
caber_status shaft_json(const caber_setup *setup, json_t **out, json_t *notes,
                        caber_message *message);

#endif
