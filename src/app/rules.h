/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The check against the Equipment Rules, as printed. */
#ifndef APP_RULES_H
#define APP_RULES_H

#include <jansson.h>

#include "caber.h"

/* Given CABER_RULES_COUNT rules; prints their table, or returns them as a new JSON list, NULL when out
 * of memory. */
void rules_print(const caber_rule *rules);
json_t *rules_json(const caber_rule *rules);

#endif
