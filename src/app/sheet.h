/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A table of any number of rows that comes row by row: its first rows as text, all of them as CSV, and as JSON.
 * Memory does not grow with the rows. */
#ifndef APP_SHEET_H
#define APP_SHEET_H

#include <jansson.h>

#include "caber.h"

/* Beside the decimals of caber_field: so many digits in all, and a count. */
enum { SHEET_SIX_DIGITS = -2, SHEET_THREE_DIGITS = -3, SHEET_WHOLE = -4 };

/* Texts are not owned, but copied by sheet_create. */
typedef struct sheet_column {
    const char *name, *unit; /* "" = none */
    int decimals;            /* in the text; -1 = scientific; or one of those above */
    bool words;              /* its cells are texts */
    bool stays;              /* in the text it is not parted from the column before */
} sheet_column;

typedef struct sheet_cell {
    double number; /* as printed; NAN = none */
    const char *text;
} sheet_cell;

/* What becomes of a sheet. */
typedef struct sheet_settings {
    size_t keys;     /* columns that the text repeats where a table is too wide for one */
    size_t most;     /* rows of the text */
    size_t every;    /* which has every so many-th row; at least 1 */
    bool notes;      /* the last column are sentences, which the text has below its rows */
    const char *csv; /* a path, or NULL */
    bool json;       /* whether JSON is wanted */
} sheet_settings;

typedef struct sheet sheet;

/* Errors: CABER_NO_MEMORY, CABER_IO_ERROR. */
caber_status sheet_create(const sheet_column *columns, size_t count, const sheet_settings *settings,
                          sheet **out, caber_message *message);
/* Takes a row, cells[count]. Errors: CABER_IO_ERROR, CABER_NO_MEMORY. */
caber_status sheet_add(sheet *s, const sheet_cell *cells, caber_message *message);
size_t sheet_rows(const sheet *s);
/* Puts the CSV under its path. Errors: CABER_IO_ERROR. */
caber_status sheet_save(sheet *s, caber_message *message);
/* Prints the first rows. */
void sheet_print(const sheet *s);
/* Prints an object with the keys of `head`, which is dropped, then "columns" and "rows". Returns an app_exit.
 */
int sheet_print_json(sheet *s, json_t *head);
/* NULL is allowed. A CSV that was not saved is dropped. */
void sheet_free(sheet *s);

/* Writes a number as a sheet's text has it, "-" for none. */
void sheet_number(char text[64], double value, int decimals);

/* Prints texts in columns, cells[rows][count], the first row being the heads; names to the left, numbers to the
 * right, the last column cut where it would reach beyond the page. What is too wide for one table goes into
 * several, each with the first `keys` columns. NULL is an empty cell. `left` and `stays` [count], NULL = none. */
void sheet_print_texts(const char *const *cells, size_t rows, size_t count, size_t keys,
                       const bool *left, const bool *stays);

#endif
