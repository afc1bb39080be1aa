/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The cases of a study's file and its columns by name: which cases are looked at, and their numbers, block by
 * block, so that memory does not grow with the cases.
 *
 * Numbers are in the unit a column is printed in. A condition holds to six digits, which is what tables show:
 * x = v when |x - v| <= 5e-6 |v| + 1e-12, and the ends of a range are as wide; counts hold exactly. */
#ifndef APP_STUDY_CASES_H
#define APP_STUDY_CASES_H

#include "app/study_notes.h"

typedef enum study_role {
    STUDY_COLUMN_FACTOR, /* and point and replicate */
    STUDY_COLUMN_OUTPUT,
    STUDY_COLUMN_SERIES
} study_role;

typedef struct study_column {
    study_role role;
    const store_column *stored;
    const char *name, *unit;    /* "" = a plain number */
    int decimals;               /* as sheet_column has them */
    const study_factor *factor; /* of the plan; NULL = none, or the file does not say */
} study_column;

/* What --where asks of a column; `status` and `case` are none. */
typedef struct study_condition {
    const char *text;           /* as given */
    const study_column *column; /* NULL: of the number of the case */
    double low, high;
    bool held;           /* by a case, of those that were read */
    double below, above; /* nearest values of the others; infinite = none */
} study_condition;

/* Of cases that hold to all conditions but that on the status. */
typedef struct study_counts {
    size_t taken, failed, not_run;
} study_counts;

typedef struct study_cases {
    const char *path;
    store_reader *reader;     /* owned */
    const store_study *study; /* the reader's */
    study_notes *notes;       /* owned; NULL = the file says nothing of a plan */
    size_t column_count;
    study_column *columns; /* factors, outputs, series; owned */
    size_t condition_count;
    study_condition *conditions; /* owned */
    unsigned wanted;             /* bit 1 + status; as begun CABER_OK alone */
    bool asked_status;           /* --where had a status */
    size_t next, end;            /* cases that blocks are still made of */
    study_counts counts;         /* of the blocks so far */
} study_cases;

/* Some cases that follow each other. Owned by its maker. */
typedef struct study_block {
    size_t first, count;
    size_t room;     /* cases a block has at most */
    int *status;     /* [count] */
    bool *taken;     /* [count]: looked at */
    size_t takes;    /* how many are */
    double *scratch; /* [room] */
} study_block;

/* Opens a file and reads the conditions of --where, which must outlive it. Errors: CABER_BAD_INPUT for a file that
 * is none, and for a condition that has no such column or value, saying what there is; CABER_IO_ERROR,
 * CABER_NO_MEMORY. Ended with study_cases_free whatever is returned. */
caber_status study_cases_open(study_cases *c, const char *path, const char *const *where,
                              size_t count, caber_message *message);
void study_cases_free(study_cases *c);

/* Finds a column. Errors: CABER_BAD_INPUT, with the nearest name. */
caber_status study_cases_find(const study_cases *c, const char *name, const study_column **out,
                              caber_message *message);

/* Returns the word or file that a value of a column stands for; NULL when it is a number. */
const char *study_column_word(const study_column *column, double value);

/* Room for blocks of at most `room` cases. Errors: CABER_NO_MEMORY. */
caber_status study_block_create(study_block *b, size_t room, caber_message *message);
void study_block_free(study_block *b);
/* Takes what a block holds; `user` is as it was given. */
typedef caber_status study_take(void *user, caber_message *message);
/* Goes through all cases from the first, a block at a time, and gives each block in which at least one case is
 * looked at to `take`. Errors: those of reading, and what `take` returns, which ends it. */
caber_status study_cases_each(study_cases *c, study_block *b, study_take *take, void *user,
                              caber_message *message);
/* Reads a factor or output of a block: values[count]. */
caber_status study_cases_read(study_cases *c, const study_block *b, const study_column *column,
                              double *values, caber_message *message);

/* After the last block: CABER_BAD_INPUT when no case was looked at, saying why; else CABER_OK. */
caber_status study_cases_found(const study_cases *c, caber_message *message);
/* Prints how many cases were left out for their status, if any, and how to see them. */
void study_cases_print_left(const study_cases *c);

#endif
