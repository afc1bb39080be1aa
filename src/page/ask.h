/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a request asks for, read out of its JSON. Each function that returns bool returns false after it has
 * answered with an error that names the field. */
#ifndef PAGE_ASK_H
#define PAGE_ASK_H

#include <jansson.h>

#include "base/units.h"
#include "page/folders.h"
#include "page/reply.h"

/* Setups of one request at most. */
enum { ASK_SETUPS = CABER_COMPARE_MOST };

/* Reads a body into *out, an object, to be dropped with json_decref. */
bool ask_parse(const char *body, size_t size, json_t **out, server_reply *reply);
/* Refuses keys that are not among `allowed` (ends with NULL). `where` stands before the key ("" = nothing). */
bool ask_only(const json_t *object, const char *where, const char *const *allowed,
              server_reply *reply);

/* Reads object[key] as a setup, {folder, file | text, parts, set}, to be freed with caber_setup_free. All files
 * are read within the folders, and what would make a swing last or grow without bounds is refused. */
bool ask_setup(const folders *f, const json_t *object, const char *key, caber_setup **out,
               server_reply *reply);
/* The same of a body that has a setup and nothing else. */
bool ask_setup_alone(const folders *f, const json_t *body, caber_setup **out, server_reply *reply);
/* Reads object[key] as a list of `least` to `most` setups. *count are to be freed, whatever is returned. */
bool ask_setups(const folders *f, const json_t *object, const char *key, size_t least, size_t most,
                caber_setup *setups[ASK_SETUPS], size_t *count, server_reply *reply);
/* Reads object[key] as readings, {folder, file, set}, to be freed with caber_readings_free. */
bool ask_readings(const folders *f, const json_t *object, const char *key, caber_readings **out,
                  server_reply *reply);

/* Each reads object[key], and leaves *value as it is when there is none. A quantity is a number in SI or a text
 * with its unit. */
bool ask_count(const json_t *object, const char *key, int least, int most, int *value,
               server_reply *reply);
bool ask_quantity(const json_t *object, const char *key, dimension what, double *value,
                  server_reply *reply);
/* A list of at most `most` of them, or one. *count stays when there is none. */
bool ask_quantities(const json_t *object, const char *key, dimension what, size_t most,
                    double *values, size_t *count, server_reply *reply);
/* One of `words` (ends with NULL); *value is its number. */
bool ask_word(const json_t *object, const char *key, const char *const *words, int *value,
              server_reply *reply);

/* Checks that a setup stays within what the page allows: times, rows of a series, modes and mass stations.
 * Errors: CABER_BAD_INPUT. */
caber_status ask_check_effort(const caber_setup *setup, caber_message *message);

#endif
