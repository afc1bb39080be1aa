/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * CSV files: a row of column names, a row of units, then numbers in those units. Lines that begin
 * with # are comments. A cell is blank where nothing is given. */
#ifndef FILES_CSV_H
#define FILES_CSV_H

#include "swing/fields_table.h"

/* A place in a text: what is left of it, and the number of the last line taken. */
typedef struct csv_lines {
    const char *at, *end;
    size_t line;
} csv_lines;

/* Takes the next line that holds something, without its end, and is no comment; false at the end. */
bool csv_next_line(csv_lines *lines, const char **from, const char **to);
/* Moves `from` and `to` past the blanks around what stands between them. */
void csv_trim(const char **from, const char **to);
/* Returns which character of a line `at` is, from 1. */
size_t csv_column(const char *line, const char *at);

/* Given a name for messages, `size` bytes of text, the columns that there may be (quantities, in
 * any order in the text; one without a name takes any name) and how many rows there must be; returns
 * the cells in SI, in the order of the group, each within its column's range, or NAN where a column
 * that may be left open is blank or not there. *out owns them; field_rows_free.
 * Errors: CABER_BAD_INPUT with "file:line:column: column: what is wrong". */
caber_status csv_read(const char *file, const char *text, size_t size, const field_group *columns,
                      size_t least, size_t most, field_rows *out, caber_message *message);

/* The same for a table of `time` and one other column of the given dimension; returns the table in
 * SI, whose arrays the caller frees. Time ascends. */
caber_status csv_parse(const char *file, const char *text, size_t size, dimension value_dimension,
                       caber_table *out, caber_message *message);

/* Frees the arrays of a table and empties it. */
void csv_table_free(caber_table *table);

#endif
