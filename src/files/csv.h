/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Tables of time and value as CSV: a row of names, a row of units, then numbers in those units.
 * Lines that begin with # are comments. */
#ifndef FILES_CSV_H
#define FILES_CSV_H

#include "base/units.h"

/* Given a name for messages, `size` bytes of text and the dimension of the second column; returns
 * the table in SI, whose arrays the caller frees.
 * Errors: CABER_BAD_INPUT with "file:line:column: column: what is wrong". */
caber_status csv_parse(const char *file, const char *text, size_t size, dimension value_dimension,
                       caber_table *out, caber_message *message);

/* Frees the arrays of a table and empties it. */
void csv_table_free(caber_table *table);

#endif
