/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber influence: what a study's file holds, which of its points count, and what was found of each output. */
#ifndef APP_INFLUENCE_H
#define APP_INFLUENCE_H

#include <jansson.h>

#include "app/app.h"
#include "app/influence_plot.h"
#include "app/study_notes.h"

/* More outputs than this are shown only when they are asked for. */
enum { INFLUENCE_OUTPUTS_USUAL = INFLUENCE_PANELS_MOST };

typedef enum influence_method {
    INFLUENCE_SOBOL,     /* of saltelli */
    INFLUENCE_MORRIS,    /* of morris */
    INFLUENCE_REGRESSION /* of all others, and of saltelli in ranks */
} influence_method;

/* What is asked. Not owned. */
typedef struct influence_request {
    const char *path;
    const char *only; /* names after commas; NULL = those that are usual */
    bool ranked;      /* a regression in ranks */
    bool spread;      /* of the standard deviation of a point's swings; else of their mean */
    resample_settings how;
} influence_request;

/* A factor. */
typedef struct influence_factor {
    const study_factor *about; /* of the notes */
    double low, high;          /* over the points that count, in its unit */
    const char *left_out;      /* why the regression is without it; NULL = it is in */
} influence_factor;

/* An output. */
typedef struct influence_output {
    const store_column *column; /* the reader's */
    char label[120];
    influence_view view;
    size_t missing; /* cases that went well and have no value */
    /* One of them, owned; all are NULL where `why` says what kept it away. */
    influence_sobol *sobol;
    influence_morris *morris;
    influence_regression *regression;
    caber_message why;
} influence_output;

typedef struct influence_study {
    influence_request asked;
    store_reader *reader; /* owned */
    study_notes *notes;   /* owned */
    influence_method method;
    size_t cases, run, failed, first_failed; /* of the file; failed: of those that were run */
    bool *good;                              /* [cases]; owned */
    size_t count, *points;                   /* the points that count, [count], ascending; owned */
    influence_factor *factors;               /* [notes->factor_count]; owned */
    size_t used;                             /* factors that are not left out */
    const char **names;                      /* [used]; owned */
    double *x; /* [count][used], of a regression their values, of morris coordinates;
                                  else NULL; owned */
    size_t output_count,
        output_room;           /* shown, and in the file but for what the integrator counts */
    influence_output *outputs; /* [output_count]; owned */
} influence_study;

/* Given what is asked; reads the file and finds the influences. *out is to be freed with influence_free
 * whatever is returned. Errors: CABER_BAD_INPUT for what is no finished study, a shard, an output that there
 * is not, and a design that does not go with what is asked; those of the readers; CABER_NO_MEMORY. */
caber_status influence_run(const influence_request *asked, influence_study *out,
                           caber_message *message);
void influence_free(influence_study *s);

/* Which points count, and the values of the factors there. As influence_run, which calls them. */
caber_status influence_read_points(influence_study *s, caber_message *message);
caber_status influence_read_factors(influence_study *s, caber_message *message);
/* Fills all[points] of the notes with the mean of each point's swings, or with their standard deviation;
 * NaN where fewer than half of them, or for a standard deviation fewer than 2, have a value. */
caber_status influence_read_output(influence_study *s, influence_output *o, double *all,
                                   caber_message *message);

const char *influence_method_word(influence_method method);

/* Prints everything as text. Returns false when out of memory. */
bool influence_print(const influence_study *s);
/* Returns all of it as JSON; NULL when out of memory. */
json_t *influence_json(const influence_study *s);
/* Returns a row for each number of each factor of each output, to be freed with free(). Errors:
 * CABER_NO_MEMORY. */
caber_status influence_csv(const influence_study *s, char **text, size_t *size,
                           caber_message *message);

#endif
