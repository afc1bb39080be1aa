/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The text tables: what a fitter reads, at most 100 columns wide. */
#ifndef APP_TABLE_H
#define APP_TABLE_H

#include "caber.h"

/* Prints the title of a table, underlined, and a name after a word, such as "  shaft  ...". */
void table_title(const char *title);
void table_name(const char *word, const char *name);
/* Prints the head of a group of rows. */
void table_group(const char *title);
/* Writes a value as tables do: `decimals` places, -1 = scientific; never "-0.00". */
void table_number(char *text, size_t size, double value, int decimals);

/* Prints whose swing it is and what its figures are read under; then the table of a swing. */
void table_swing_head(const caber_setup *setup, const caber_swing *swing);
void table_swing(const caber_setup *setup, const caber_swing *swing);
/* Prints the same rows with "+-" behind each value, and without what the rows mean. */
void table_swing_spread(const caber_setup *setup, const caber_uncertainty *found);

#endif
