/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The table of what the bench reads: one list for the text table, JSON, --get and the reference. */
#ifndef APP_BENCH_H
#define APP_BENCH_H

#include <jansson.h>

#include "caber.h"

/* One reading of the bench. A title opens a group of the table before its row. */
typedef struct bench_row {
    const char *title;
    const char *name; /* its unit is the suffix */
    const char *unit, *label, *meaning;
    double factor; /* SI value times factor is the printed value */
    int decimals;
    size_t offset; /* of the double in caber_bench */
    bool open;     /* it may not be known: NAN */
} bench_row;

/* Returns the table, and its length in *count. */
const bench_row *bench_rows(size_t *count);
/* Given a bench and a row; returns the value in the printed unit. */
double bench_value(const caber_bench *bench, const bench_row *row);
/* Returns whether that value is known. */
bool bench_knows(const caber_bench *bench, const bench_row *row);

/* Answers of one run, and how the bench was set. */
typedef struct bench_answers {
    caber_setup *setup;
    caber_jig jig;
    caber_bench bench;
    caber_rule rules[CABER_RULES_COUNT];
    char swing_weight[16];
    const caber_bench_uncertainty *spread; /* NULL = not asked for */
    caber_uncertainty_settings draws;
} bench_answers;

/* Returns all of it as JSON, or NULL when a number is none or memory is out. */
json_t *bench_json(const bench_answers *view);

#endif
