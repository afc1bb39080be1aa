/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The outputs of a case that a study keeps, chosen by name: those of caber_output_field, and with
 * "straight." before the name those of the rigid club that have a meaning for it. And the series through
 * time, on the grid 0, step, 2 step..., the same of every case: a trace whose sample time is the step has its
 * rows there, by the integrator's own interpolation, and nothing is interpolated again. */
#ifndef STUDY_COLUMNS_H
#define STUDY_COLUMNS_H

#include "caber.h"

typedef struct output_column {
    const caber_field *field; /* name without "straight.", unit, factor to the printed value */
    size_t output;            /* its number; of the straight club too */
    bool straight;
    bool optional; /* of the ball: a ball that is not struck or does not rise leaves NAN */
    char name[64]; /* as the study says it */
} output_column;

/* Finds a name. Errors: CABER_BAD_INPUT, with the nearest name. */
caber_status column_find(const char *name, output_column *out, caber_message *message);
/* Number i of all outputs of the bent club, less than caber_output_count. */
output_column column_at(size_t output);
/* Returns the value, SI. */
double column_value(const output_column *c, const caber_outcome *outcome);

typedef struct series_column {
    const caber_trace_field *field;
    char name[72]; /* "series." and the field's, for some have the name of an output */
} series_column;

/* Finds a name, without "series.". Errors: CABER_BAD_INPUT. */
caber_status series_find(const char *name, series_column *out, caber_message *message);
/* Given the trace of a setup with settings.sample = step; fills values[points], SI, NAN after the swing's
 * end. */
void series_fill(const series_column *c, const caber_trace *trace, double step, size_t points,
                 double *values);

#endif
