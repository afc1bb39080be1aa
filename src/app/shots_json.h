/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber shots as JSON. */
#ifndef APP_SHOTS_JSON_H
#define APP_SHOTS_JSON_H

#include <jansson.h>

#include "app/shots_simulated.h"

/* Returns a new value, or NULL when out of memory; what is not known is null. */
json_t *shots_json(const shots_study *study, unsigned rules, const shots_simulated *simulated);

#endif
