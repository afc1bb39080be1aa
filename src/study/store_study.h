/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The HDF5 file of a study: thousands to millions of cases, written by one writer, in chunks of
 * cases that arrive in any order.
 *
 * On disk. FILE is an HDF5 file that is only ever replaced as a whole, by a rename of FILE.part, so
 * it opens at every instant. What is written goes first to FILE.journal, one sealed record a chunk,
 * which a killed process cannot take back; now and then, and at the end, all of it is rendered into
 * a new FILE in one pass in the order of the cases. So the bytes of FILE depend on the study and on
 * its numbers alone: not on the order of the chunks, on kills, resumes or shards, and neither on
 * clock nor host. The journal goes when the study is finished; after a kill a reader sees
 * what was rendered last, and a resume all of it.
 *
 * In the file. Dimension scales `case` and `chunk`, and the grid of the series when there are any;
 * one dataset a factor and an output, [case]; one a series, [case][grid]; `status` and `reason` of
 * each case; `chunk_crc32`, the seal of each chunk. Every dataset has `units` and `long_name`;
 * those of the cases name the factors in `coordinates`, as CF does. The root has the provenance. A
 * case that was not run has the status -1, one that failed its caber_status, its sentence, and no
 * outputs.
 *
 * Memory: some chunks and a few bytes for each of the others, however many cases there are.
 * Threads: one call into this part at a time in a process, as HDF5 wants it. Little-endian
 * machines. */
#ifndef STUDY_STORE_STUDY_H
#define STUDY_STORE_STUDY_H

#include "caber.h"

/* The most bytes of a sentence that is kept for a case, with its 0; in ASCII, '?' for the rest. */
enum { STORE_REASON_SIZE = 256 };
/* The most factors, outputs and series of a study, all together. */
enum { STORE_COLUMN_LIMIT = 1000 };
/* The status of a case that was not run; all others are a caber_status. */
enum { STORE_NOT_RUN = -1 };
/* How many statuses a case that was run can have: 0 to STORE_STATUSES - 1. */
#define STORE_STATUS_ONE(symbol, text) +1
enum { STORE_STATUSES = 0 CABER_STATUS_LIST(STORE_STATUS_ONE) };
#undef STORE_STATUS_ONE
/* Returns the word of a status, as flag_meanings has it: "ok", "not_run"; "unknown" for another. */
const char *store_status_word(int status);

/* A dataset. All texts are UTF-8 and not owned. */
typedef struct store_column {
    const char *name;      /* a letter, then letters, digits, '_', '.' or '-'; unique */
    const char *units;     /* as printed; "1" for a plain number */
    const char *long_name; /* what it means, one line */
    double factor;         /* the value that is kept is the given one times this */
    bool whole;            /* a count: 0 to 2^31-1, kept as an integer; survives a failed case */
    bool optional;         /* need not exist in a case that went well (given as NaN) */
} store_column;

/* Provenance: an attribute of the root. */
typedef struct store_note {
    const char *name;
    const char *text;         /* when not NULL, the value */
    const char *const *texts; /* otherwise, when not NULL, the value is a list of `count` texts */
    size_t count;             /* at least 1 */
    double number;            /* otherwise the value */
} store_note;

/* Where along a series its values stand: time, or a place. The same for every case. */
typedef struct store_grid {
    store_column column;
    size_t count;
    const double *at; /* [count], ascending; times column.factor in the file */
} store_grid;

/* Gives the factors of cases first to first + count - 1 as values[factor][count], before factors
 * are applied. Called again for the same cases, it gives the same. */
typedef caber_status store_plan(void *user, size_t first, size_t count, double *values,
                                caber_message *message);

/* What a file holds. Nothing is owned; all of it stays as it is for as long as a writer uses it. */
typedef struct store_study {
    const char
        *identity;       /* lines that say all that determines the numbers: model, plan, settings */
    const char *version; /* of the program that makes the numbers */
    const store_note *notes;
    size_t note_count;
    size_t cases;         /* at least 1 */
    size_t chunk_cases;   /* cases a chunk; the last one may have fewer */
    size_t shard, shards; /* this file has the chunks of part `shard` (from 1) of `shards` */
    const store_column *factors;
    size_t factor_count;
    store_plan *plan; /* may be NULL when there are no factors */
    void *plan_user;
    const store_column *outputs;
    size_t output_count;
    const store_column *series; /* `whole` is not for them */
    size_t series_count;
    store_grid grid; /* of all series */
} store_study;

/* Given a study; returns the number of its chunks, over all shards. */
size_t store_study_chunks(const store_study *study);
/* Given a chunk of a study; returns its first case, and how many it has in *count. */
size_t store_study_chunk(const store_study *study, size_t chunk, size_t *count);

/* The numbers of one chunk. Not owned. */
typedef struct store_chunk {
    size_t chunk;
    const int *status;         /* [count], a caber_status */
    const char *const *reason; /* [count], NULL = none; or NULL when no case has one */
    const double *outputs;     /* [count][output_count] */
    const double *series;      /* [count][series_count][grid.count] */
} store_chunk;

typedef struct store_writer store_writer;

typedef enum store_mode {
    STORE_NEW,    /* fails when there is a file, or a journal with finished chunks */
    STORE_RESUME, /* goes on with what is there; begins when nothing is */
    STORE_REPLACE /* begins anew, whatever is there */
} store_mode;

/* How far a file has come. */
typedef struct store_progress {
    size_t chunks;  /* of this shard */
    size_t done;    /* of them, finished */
    size_t damaged; /* found, on resuming, not to be what was written; they are to be done again */
} store_progress;

/* Given a path and a study; returns a writer to be ended with store_writer_free, and a file that
 * opens. Fails with CABER_BAD_INPUT when the study cannot be kept so, when the file is there
 * (STORE_NEW), or is of another study, model, version, plan, shard or kind of file (STORE_RESUME;
 * the message shows the difference), or when another process writes it; with CABER_IO_ERROR when
 * it cannot be written or read; with CABER_NO_MEMORY or CABER_INTERNAL. */
caber_status store_writer_create(const char *path, const store_study *study, store_mode mode,
                                 store_writer **writer, caber_message *message);

/* Returns how far the writer is. */
store_progress store_writer_progress(const store_writer *writer);

/* Returns whether a chunk is of this shard and not finished. */
bool store_writer_wants(const store_writer *writer, size_t chunk);

/* Takes one wanted chunk; once it returns CABER_OK, no kill loses it. A case whose status is
 * CABER_OK although a number is missing that is not optional, or a count is none, is kept as
 * CABER_INTERNAL with a reason. Fails with CABER_BAD_INPUT when the chunk is not wanted, with
 * CABER_IO_ERROR when the disk is full or fails: what was taken before stays, and a resume later
 * goes on from there. */
caber_status store_writer_write(store_writer *writer, const store_chunk *chunk,
                                caber_message *message);

/* Renders all that was written into the file; after it neither the loss of the process nor of the
 * machine loses any of it. For a pause; finishing needs no call before it. */
caber_status store_writer_sync(store_writer *writer, caber_message *message);

/* As sync, then removes the journal. Fails with CABER_BAD_INPUT when a chunk is not finished. */
caber_status store_writer_finish(store_writer *writer, caber_message *message);

/* Ends a writer; NULL is allowed. What was written and neither synced nor finished stays in the
 * journal, for a resume. */
void store_writer_free(store_writer *writer);

typedef struct store_reader store_reader;

/* Given the path of a study's file; returns a reader, to be ended with store_reader_free. Fails
 * with CABER_IO_ERROR when it cannot be read, CABER_BAD_INPUT when it is no HDF5, damaged or no
 * study. */
caber_status store_reader_create(const char *path, store_reader **reader, caber_message *message);

/* Returns what the file holds, owned by the reader: `plan` is NULL, factors are 1, since what is
 * read is in the printed units, `identity` and `version` as they were given. */
const store_study *store_reader_study(const store_reader *reader);

/* Reads a factor or an output, given by name, of `count` cases from `first` on: values[count], in
 * the printed unit, NaN where there is none. */
caber_status store_reader_column(store_reader *reader, const char *name, size_t first, size_t count,
                                 double *values, caber_message *message);
/* The same of a series: values[count][grid.count]. */
caber_status store_reader_series(store_reader *reader, const char *name, size_t first, size_t count,
                                 double *values, caber_message *message);
/* The same of the status: a caber_status or STORE_NOT_RUN. */
caber_status store_reader_status(store_reader *reader, size_t first, size_t count, int *status,
                                 caber_message *message);
/* The sentence of one case; empty when it has none. */
caber_status store_reader_reason(store_reader *reader, size_t index, char reason[STORE_REASON_SIZE],
                                 caber_message *message);

/* Holds every finished chunk against its seal. Fails with CABER_BAD_INPUT when one is not what was
 * written, naming it; otherwise *progress (may be NULL) says how many there are. */
caber_status store_reader_check(store_reader *reader, store_progress *progress,
                                caber_message *message);

/* NULL is allowed. */
void store_reader_free(store_reader *reader);

/* Joins shards, given in any order, into the file that one run without shards would have left,
 * byte by byte. Each is held against its seals first. Fails with CABER_BAD_INPUT, and leaves `path`
 * as it was, when a shard is missing, given twice, not finished, damaged or of another study
 * (naming it, and the difference), and when `path` is there and `replace` is not set. */
caber_status store_gather(const char *path, const char *const *shards, size_t count, bool replace,
                          caber_message *message);

#endif
