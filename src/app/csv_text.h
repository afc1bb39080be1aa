/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Texts in a CSV that is written. */
#ifndef APP_CSV_TEXT_H
#define APP_CSV_TEXT_H

#include <stdio.h>

/* Writes a cell: in quotes where RFC 4180 wants them, control characters as '?'. */
void csv_text_write(FILE *out, const char *text);

#endif
