/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Tables of a study's cases: case by case, in groups, and along a series. Each gives a sheet, to be freed, from
 * the cases that are looked at; none of them prints. Errors: CABER_BAD_INPUT, as when no case is as asked;
 * CABER_IO_ERROR, CABER_NO_MEMORY. */
#ifndef APP_STUDY_SHEETS_H
#define APP_STUDY_SHEETS_H

#include "app/sheet.h"
#include "app/study_cases.h"

enum {
    STUDY_ROWS_MOST = 40,      /* of a text */
    STUDY_GROUPS_MOST = 100000 /* of --by */
};

/* What is asked for. */
typedef struct study_request {
    size_t only_count, by_count;
    const study_column **only; /* in the order of --only; owned */
    const study_column **by;   /* owned */
    bool status, reason;       /* as columns */
    const char *csv;           /* NULL = none */
    bool json;
} study_request;

/* Given --only and --by, NULL when not given. Errors: CABER_BAD_INPUT for names that there are not, or that do
 * not go together. To be ended with study_request_free whatever is returned. */
caber_status study_request_read(const study_cases *c, const char *only, const char *by,
                                study_request *out, caber_message *message);
void study_request_free(study_request *request);
/* Whether series are asked for. */
bool study_request_along(const study_request *request);

/* A row a case: its number, the columns. */
caber_status study_rows(study_cases *c, const study_request *request, sheet **out,
                        caber_message *message);
/* A row a group of cases whose factors `by` have the same values, ascending: these, how many cases, and of each
 * column mean, standard deviation with n - 1, and, where some of them have none, how many those are. */
caber_status study_groups(study_cases *c, const study_request *request, sheet **out,
                          caber_message *message);
/* A row a place along the series: of one case its values, of several mean, standard deviation, and how many go
 * on there. */
caber_status study_along(study_cases *c, const study_request *request, sheet **out,
                         caber_message *message);

#endif
