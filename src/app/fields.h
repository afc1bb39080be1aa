/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The tables of results: what each value is called, its unit, and what it means. */
#ifndef APP_FIELDS_H
#define APP_FIELDS_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

/* What is common to a row of each table of results. */
typedef struct fields_row {
    const char *name, *unit, *meaning;
} fields_row;

/* A kind of results. `row` returns false behind the last one. */
typedef struct fields_kind {
    const char *name;
    const char *title;
    bool (*row)(size_t i, fields_row *out);
} fields_kind;

enum { FIELDS_KINDS = 5 };
extern const fields_kind fields_kinds[FIELDS_KINDS];

/* Returns the rows of a kind as JSON, or NULL when out of memory. */
json_t *fields_json(const fields_kind *kind);
/* Returns those of every kind by its name. */
json_t *fields_all_json(void);
/* Returns the units that texts may have: a list of {unit, of, si, times, over, zero}; SI value = number * times /
 * over + zero. */
json_t *fields_units_json(void);

#endif
