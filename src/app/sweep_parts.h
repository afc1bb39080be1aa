/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The parts of a sweep: what was given, the plan as text, progress, and what a file says at the end. */
#ifndef APP_SWEEP_PARTS_H
#define APP_SWEEP_PARTS_H

#include "app/app.h"
#include "study/cost.h"
#include "study/store_study.h"

/* ------------------------------------------------------------------ what was given */

typedef struct sweep_settings {
    const options *given;
    const char *program; /* what the command to go on begins with */
    const char *study;   /* path of the study */
    char *path;          /* of the file; owned */
    store_mode mode;
    size_t shard, shards; /* 1 of 1 = all */
    int threads;          /* 0 = not given */
} sweep_settings;

/* Reads the options, which is all that can be wrong usage. The path is to be freed either way. */
app_exit sweep_settings_read(const options *given, const char *program, sweep_settings *out);
/* Returns the command that goes on with a sweep, for a shell; to be freed with free(). NULL when there is
 * no memory. */
char *sweep_settings_resume(const sweep_settings *how);

/* ------------------------------------------------------------------ amounts as text */

enum { SWEEP_TEXT_SIZE = 32 };

/* "0.4 s", "12 s", "3 min 20 s", "5 h 10 min", "3 d 4 h". */
void sweep_time_text(double seconds, char text[SWEEP_TEXT_SIZE]);
/* "340 B", "6.2 kB", "14 MB": two digits or three. */
void sweep_bytes_text(double bytes, char text[SWEEP_TEXT_SIZE]);

/* ------------------------------------------------------------------ the plan */

/* Prints what the study is and what it will take, measured on some of its points. */
app_exit sweep_plan_print(const sweep_settings *how, const caber_study *plan, int workers);

/* ------------------------------------------------------------------ progress */

/* To standard error: on a terminal a line that is rewritten, elsewhere a line now and then. */
typedef struct sweep_progress {
    size_t cases;        /* of the file */
    size_t before;       /* of them done before this run */
    size_t done;         /* in this run */
    double began, shown; /* s */
    bool terminal;
    int width; /* of what stands on the terminal's line */
    bool said; /* a line was printed */
} sweep_progress;

void sweep_progress_begin(sweep_progress *p, size_t cases, size_t before);
/* Some cases more are done. */
void sweep_progress_add(sweep_progress *p, size_t cases);
/* No case more comes, and the file is written, which takes a while when it is large. */
void sweep_progress_write(sweep_progress *p);
/* Leaves the terminal's line empty. */
void sweep_progress_end(sweep_progress *p);
/* Seconds since the beginning. */
double sweep_progress_time(const sweep_progress *p);

/* ------------------------------------------------------------------ the end */

enum { SWEEP_FAILURES = 64, SWEEP_MISSING = 64, SWEEP_VALUES_SIZE = 400 };

/* Failed cases that say the same, but for the numbers in it. */
typedef struct sweep_failure {
    int status;
    size_t count, first;            /* the first of these cases */
    char values[SWEEP_VALUES_SIZE]; /* of its factors: "rise 0.15 s, shaft soft-tip.yaml" */
    char like[STORE_REASON_SIZE],
        example[STORE_REASON_SIZE]; /* without its numbers; of the first */
} sweep_failure;

/* An output that some cases do not have although they went well. */
typedef struct sweep_missing {
    char name[CABER_NAME_SIZE];
    size_t count;
} sweep_missing;

/* What a file of a study says of its cases. */
typedef struct sweep_tally {
    char title[CABER_NAME_SIZE];
    size_t shard, shards;
    size_t cases; /* of the whole study */
    size_t good, failed;
    size_t failure_count;
    sweep_failure failures[SWEEP_FAILURES]; /* the most frequent first */
    size_t others;                          /* failed cases that say something else again */
    size_t missing_count;
    sweep_missing missing[SWEEP_MISSING];
} sweep_tally;

/* Reads a file. Errors: those of store_reader_create; CABER_NO_MEMORY. */
caber_status sweep_tally_read(const char *path, sweep_tally *out, caber_message *message);
/* What this run did of it; all 0 when none. */
typedef struct sweep_work {
    size_t cases, swings; /* in this run */
    double time;          /* s */
} sweep_work;
/* Prints the file, its cases and what failed, as a text or JSON. `work` may be NULL. */
app_exit sweep_tally_print(const sweep_tally *t, const char *path, const sweep_work *work,
                           bool json);

#endif
