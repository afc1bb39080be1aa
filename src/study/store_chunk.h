/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One chunk of a study as bytes: what the journal records, what a seal is taken of, and what the
 * file is rendered from. */
#ifndef STUDY_STORE_CHUNK_H
#define STUDY_STORE_CHUNK_H

#include <stdint.h>

#include "study/store_study.h"

/* One block of memory: columns, series, status, reasons. */
typedef struct store_bytes {
    const store_study *study;
    size_t chunk, count; /* which, and how many cases it has */
    double *columns;     /* [factors, then outputs][count], as kept; no number: the one NaN */
    double *series;      /* [series][count][grid.count] */
    int8_t *status;      /* [count] */
    char *reason;        /* [count][STORE_REASON_SIZE], 0 behind the text */
    void *block;         /* owned; begins with `columns` */
    size_t room;         /* of a full chunk */
} store_bytes;

/* A place that chunks come from. */
typedef struct store_source {
    void *user;
    bool (*has)(void *user, size_t chunk);
    caber_status (*fetch)(void *user, size_t chunk, store_bytes *bytes, caber_message *message);
} store_source;

/* The number of factors and outputs together. */
size_t store_column_count(const store_study *study);
/* Factor or output number i. */
const store_column *store_column_at(const store_study *study, size_t i);
/* Whether a chunk is of the shard of the study. */
bool store_chunk_is_mine(const store_study *study, size_t chunk);

/* Makes room for any chunk of a study; ends with store_bytes_free. */
caber_status store_bytes_create(const store_study *study, store_bytes *bytes,
                                caber_message *message);
void store_bytes_free(store_bytes *bytes);
/* Sets the parts for a chunk. */
void store_bytes_aim(store_bytes *bytes, size_t chunk);
/* How many bytes count: without the reasons when there are none. */
size_t store_bytes_size(const store_bytes *bytes);
/* Whether a record of `size` bytes can be of the chunk aimed at; if so, and it is the shorter kind,
 * empties the reasons. */
bool store_bytes_accept(store_bytes *bytes, size_t size);
/* The seal: CRC-32 (ISO 3309, as in zlib) of those bytes. */
uint32_t store_bytes_seal(const store_bytes *bytes);
uint32_t store_crc(const void *bytes, size_t size);

/* Sets the factors of the chunk aimed at, as kept, from the plan. */
caber_status store_bytes_plan(store_bytes *bytes, caber_message *message);
/* Takes what a caller gives, factors as well. */
caber_status store_bytes_take(store_bytes *bytes, const store_chunk *given, caber_message *message);

/* Fails with CABER_BAD_INPUT when the study cannot be kept in a file. */
caber_status store_study_check(const store_study *study, caber_message *message);

/* Whether a note can have this name: none of the attributes that every file has. */
bool store_note_name_is_fine(const char *name);

/* All that must agree between the runs of a study, line by line, to be freed with free(); NULL when
 * there is no memory. The shard is the last line, and only there when asked for. */
char *store_key(const store_study *study, bool with_shard);
/* Says where two keys differ first, what is there and what is now, and what that line is indented under, in
 * a buffer. */
void store_key_difference(const char *there, const char *now, char *text, size_t size);

#endif
