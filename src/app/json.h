/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Results as JSON. Numbers are printed so that reading them gives the same double again. */
#ifndef APP_JSON_H
#define APP_JSON_H

#include <jansson.h>

#include "app/app.h"

/* Each returns a new value, or NULL when out of memory; keys keep the order in which they are set.
 * A missing value makes json_app_print fail, so calls need not be checked one by one. */
/* straight: only what the straight club has; shot: of the same club, NULL without one. */
json_t *json_app_impact(const caber_impact *impact, const caber_shot *shot, bool straight);
json_t *json_app_swing(const caber_setup *setup, const caber_swing *swing,
                       const caber_shot_pair *shots);
json_t *json_app_profile(const caber_readings *readings, const caber_fit *fit);
/* A list of values[count], each times the factor. */
json_t *json_app_numbers(const double *values, size_t count, double factor);

/* A list of sentences from lists[count] of them, each of which ends with NULL; NULL when memory is out. */
json_t *json_app_sentences(const char *const *const lists[], size_t count);

/* Adds a sentence to a list of notes. */
void json_app_note(json_t *notes, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Prints a value and drops it. Returns APP_FINE, or APP_UNFINISHED after saying why. */
app_exit json_app_print(json_t *value);

#endif
