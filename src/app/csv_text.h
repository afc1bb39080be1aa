/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Texts in a CSV that is written. */
#ifndef APP_CSV_TEXT_H
#define APP_CSV_TEXT_H

#include <stdio.h>

#include "caber.h"

/* Writes a cell: in quotes where RFC 4180 wants them, control characters as '?'. */
void csv_text_write(FILE *out, const char *text);

/* Closes a table that was written to memory. Errors: CABER_NO_MEMORY; its text is to be freed all
 * the same. */
caber_status csv_text_close(FILE *out, caber_message *message);

#endif
