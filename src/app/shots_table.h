/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber shots as a text. */
#ifndef APP_SHOTS_TABLE_H
#define APP_SHOTS_TABLE_H

#include "app/shots_simulated.h"

/* Prints batches, cleaning, what differs and by how much. `rules`: those that set aside. */
app_exit shots_table(const shots_study *study, unsigned rules, const shots_simulated *simulated);

/* Prints a value with its places, right-aligned; blank when it is not known. */
void shots_table_number(int width, double value, int decimals);

#endif
