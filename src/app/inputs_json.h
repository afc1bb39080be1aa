/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every input of a setup with its value, its unit and what it may be, from the tables that read the files; and
 * the load program as curves. */
#ifndef APP_INPUTS_JSON_H
#define APP_INPUTS_JSON_H

#include <jansson.h>

#include "caber.h"

/* Each fills *out on CABER_OK, with NULL when memory is out or a number is none. */

/* {setup, shaft, head, grip, player, inputs: [{path, value, unit, least, most, meaning, used, words}], text: the
 * setup as one file}. Errors: those of writing it. */
caber_status inputs_json(const caber_setup *setup, json_t **out, caber_message *message);
/* {player, inputs: as above, time_s, curves: {hub, grip, roll: {unit, value}}}; adds to the notes how the curves
 * are to be read. Errors: those of a load that makes no sense. */
caber_status load_json(const caber_setup *setup, json_t **out, json_t *notes,
                       caber_message *message);

#endif
