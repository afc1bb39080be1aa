/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * All cases of a study, in chunks of a fixed size: what drivers share, be they threads of one process,
 * processes of a cluster or shards of a job array. Chunk c has the cases from c chunk_cases on. Nothing here
 * knows files, HDF5 or MPI. */
#ifndef STUDY_ENGINE_H
#define STUDY_ENGINE_H

#include "study/runner.h"

/* Cases a chunk, which depends on the plan alone: few enough that little is lost with a killed run and that
 * threads end together, many enough that a chunk's own cost is lost in its swings; and at most some
 * megabytes of series. */
size_t engine_chunk_cases(const caber_study *plan);
size_t engine_chunks(const caber_study *plan);
/* Returns the first case of a chunk, and how many it has in *count. */
size_t engine_chunk(const caber_study *plan, size_t chunk, size_t *count);

/* The most bytes of a reason with its 0; longer ones are cut. */
enum { ENGINE_REASON_SIZE = 256 };

/* The numbers of one chunk, in the shapes of store_chunk. Reasons are NULL where there is none. */
typedef struct engine_result {
    size_t chunk, count;
    int *status;         /* [count], a caber_status */
    const char **reason; /* [count], into `texts` */
    double *outputs;     /* [count][engine_columns], SI: the plan's outputs, then the counts */
    double *series;      /* [count][series_count][series_points], SI */
    char *texts;         /* owned */
} engine_result;

/* Output columns of a result: those of the plan and RUNNER_COUNTS. */
size_t engine_columns(const caber_study *plan);
/* Room for any chunk. Errors: CABER_NO_MEMORY. */
caber_status engine_result_create(const caber_study *plan, engine_result **out,
                                  caber_message *message);
void engine_result_free(engine_result *result); /* NULL is allowed */
/* A result as one block of bytes for another process of the same program on a like machine, and back. The
 * size depends on the plan alone. */
size_t engine_result_size(const caber_study *plan);
void engine_result_pack(const caber_study *plan, const engine_result *result, void *bytes);
/* Errors: CABER_INTERNAL for bytes that are no result of this plan. */
caber_status engine_result_unpack(const caber_study *plan, const void *bytes, engine_result *result,
                                  caber_message *message);

/* Runs one chunk on this thread. Errors: CABER_NO_MEMORY; cases that fail are in the result. */
caber_status engine_run_chunk(runner *r, const caber_study *plan, size_t chunk,
                              engine_result *result, caber_message *message);

/* What becomes of the chunks. Calls come from the threads of engine_run, one at a time. */
typedef struct engine_sink {
    void *user;
    /* Whether a chunk is wanted; each is asked for once, in ascending order. */
    bool (*wants)(void *user, size_t chunk);
    /* Takes a finished chunk, in any order. What it returns, if not CABER_OK, ends the run. */
    caber_status (*take)(void *user, const engine_result *result, caber_message *message);
    /* Whether to begin no further chunk: those that have begun are finished and taken. May be NULL. */
    bool (*stop)(void *user);
} engine_sink;

/* Runs all wanted chunks on `threads` threads (0 = one a processor). Returns CABER_OK too when it was
 * stopped. Errors: those of take; CABER_NO_MEMORY. */
caber_status engine_run(const caber_study *plan, int threads, const engine_sink *sink,
                        caber_message *message);

#endif
