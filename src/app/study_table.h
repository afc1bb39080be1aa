/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a study's file is, and what is in its columns. */
#ifndef APP_STUDY_TABLE_H
#define APP_STUDY_TABLE_H

#include <jansson.h>

#include "app/study_cases.h"
#include "base/running.h"

enum {
    STUDY_VALUES_MOST = 64, /* different values of a factor that are counted */
    STUDY_STATUS_MOST = 32
};

/* Numbers of a column in the cases that are looked at. */
typedef struct study_summary {
    const study_column *column;
    running numbers;
    double least, most; /* NAN when there are none */
    size_t none;
    size_t values; /* different ones; STUDY_VALUES_MOST + 1 = more than that */
    double value[STUDY_VALUES_MOST];
    size_t cases[STUDY_VALUES_MOST]; /* of each */
} study_summary;

/* How the cases of the whole file ended. */
typedef struct study_progress {
    size_t mine;                                       /* cases of this shard */
    size_t run, failed;                                /* of them */
    size_t count[STUDY_STATUS_MOST];                   /* by 1 + status */
    size_t first[STUDY_STATUS_MOST];                   /* the first such case */
    char reason[STUDY_STATUS_MOST][STORE_REASON_SIZE]; /* of it */
} study_progress;

typedef struct study_overview {
    study_cases *cases;
    study_progress progress;
    study_summary *columns; /* [cases->column_count]; owned */
    bool skipped;           /* the series, as there are too many numbers for a first look */
} study_overview;

/* Reads all that. Errors: CABER_BAD_INPUT, CABER_NO_MEMORY. Ended with study_overview_free whatever is returned. */
caber_status study_overview_read(study_cases *c, study_overview *out, caber_message *message);
void study_overview_free(study_overview *o);

/* Prints what the file is, then a line a column. Returns false when out of memory. */
bool study_overview_print(const study_overview *o);
json_t *study_overview_json(const study_overview *o);
/* The file, how many cases are looked at, and how many are left out: what every JSON of a table begins with. */
json_t *study_cases_json(const study_cases *c);

#endif
