/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The ball in the table of a swing: as it leaves, its flight, and what these figures rest on. */
#ifndef APP_SHOT_TABLE_H
#define APP_SHOT_TABLE_H

#include "app/table.h"
#include "caber.h"

/* found: NULL = without "+-". Says why where a ball does not fly. */
void shot_table_print(const caber_setup *setup, const caber_shot_pair *shots,
                      const caber_uncertainty *found);

/* Returns the groups of the fields of caber_shot. */
const table_section *shot_table_sections(size_t *count);

#endif
