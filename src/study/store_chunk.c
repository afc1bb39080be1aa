/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/store_chunk.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "base/message.h"

_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "seals are of little-endian numbers");

size_t store_study_chunks(const store_study *study)
{
    return (study->cases + study->chunk_cases - 1) / study->chunk_cases;
}

size_t store_study_chunk(const store_study *study, size_t chunk, size_t *count)
{
    const size_t first = chunk * study->chunk_cases, left = study->cases - first;
    *count = left < study->chunk_cases ? left : study->chunk_cases;
    return first;
}

size_t store_column_count(const store_study *study)
{
    return study->factor_count + study->output_count;
}

const store_column *store_column_at(const store_study *study, size_t i)
{
    return i < study->factor_count ? &study->factors[i] : &study->outputs[i - study->factor_count];
}

/* Shards are runs of neighbouring chunks, so that a shard's file is small. */
bool store_chunk_is_mine(const store_study *study, size_t chunk)
{
    const size_t chunks = store_study_chunks(study);
    return chunk >= chunks * (study->shard - 1) / study->shards &&
           chunk < chunks * study->shard / study->shards;
}

/* ------------------------------------------------------------------ the block */

static size_t store_bytes_numbers(const store_study *s)
{
    return store_column_count(s) + s->series_count * s->grid.count;
}

caber_status store_bytes_create(const store_study *study, store_bytes *bytes,
                                caber_message *message)
{
    const size_t cases = study->chunk_cases < study->cases ? study->chunk_cases : study->cases;
    const size_t numbers = store_bytes_numbers(study);
    const size_t room = cases * (numbers * sizeof(double) + 1 + STORE_REASON_SIZE);
    *bytes = (store_bytes){.study = study, .block = calloc(1, room), .room = room};
    if (!bytes->block)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    return message_clear(message);
}

void store_bytes_free(store_bytes *bytes)
{
    free(bytes->block);
    bytes->block = NULL;
}

void store_bytes_aim(store_bytes *bytes, size_t chunk)
{
    const store_study *s = bytes->study;
    bytes->chunk = chunk;
    store_study_chunk(s, chunk, &bytes->count);
    bytes->columns = bytes->block;
    bytes->series = bytes->columns + store_column_count(s) * bytes->count;
    bytes->status = (int8_t *)(bytes->columns + store_bytes_numbers(s) * bytes->count);
    bytes->reason = (char *)bytes->status + bytes->count;
}

static size_t store_bytes_bare(const store_bytes *bytes)
{
    return (size_t)(bytes->reason - (const char *)bytes->block);
}

size_t store_bytes_size(const store_bytes *bytes)
{
    for (size_t i = 0; i < bytes->count; i++)
        if (bytes->reason[i * STORE_REASON_SIZE])
            return store_bytes_bare(bytes) + bytes->count * STORE_REASON_SIZE;
    return store_bytes_bare(bytes);
}

bool store_bytes_accept(store_bytes *bytes, size_t size)
{
    const size_t bare = store_bytes_bare(bytes), reasons = bytes->count * STORE_REASON_SIZE;
    if (size == bare)
        memset(bytes->reason, 0, reasons);
    return size == bare || size == bare + reasons;
}

uint32_t store_crc(const void *bytes, size_t size)
{
    return (uint32_t)crc32_z(crc32_z(0, NULL, 0), bytes, size);
}

uint32_t store_bytes_seal(const store_bytes *bytes)
{
    return store_crc(bytes->block, store_bytes_size(bytes));
}

/* ------------------------------------------------------------------ what a caller gives */

/* Copies a sentence, cut when it is too long, with '?' for each character that is not ASCII: Octave
 * reads no other texts. */
static void store_reason_set(char reason[STORE_REASON_SIZE], const char *text)
{
    memset(reason, 0, STORE_REASON_SIZE);
    size_t length = 0;
    for (const char *c = text ? text : ""; *c && length < STORE_REASON_SIZE - 1; c++) {
        if ((*c & 0xc0) == 0x80)
            continue; /* the rest of a character of UTF-8 */
        reason[length++] = (char)(*c & 0x80 || *c < ' ' ? '?' : *c);
    }
}

/* The value as it is kept. All that is no number becomes the one NaN, so that equal is the same
 * bytes. */
static double store_column_keep(const store_column *column, double value)
{
    const double kept = value * column->factor;
    if (!isfinite(kept))
        return NAN;
    if (column->whole && !(kept >= 0 && kept <= INT32_MAX && floor(kept) == kept))
        return NAN;
    return kept + 0.0; /* no negative zero, which a count could not keep */
}

/* A fine case without a number that it must have is not fine. */
static void store_case_judge(store_bytes *bytes, size_t i, const store_column *column, double kept,
                             double given)
{
    const bool excused = column->optional && isnan(given);
    if (!isnan(kept) || excused || bytes->status[i] != CABER_OK)
        return;
    char text[STORE_REASON_SIZE];
    snprintf(text, sizeof text, "%s came out as %g", column->name, given * column->factor);
    bytes->status[i] = CABER_INTERNAL;
    store_reason_set(bytes->reason + i * STORE_REASON_SIZE, text);
}

/* Takes the numbers of case i, then takes away those of a case that failed. */
static void store_case_take(store_bytes *bytes, const store_chunk *given, size_t i)
{
    const store_study *s = bytes->study;
    double *output = bytes->columns + s->factor_count * bytes->count + i;
    for (size_t j = 0; j < s->output_count; j++) {
        const double value = given->outputs[i * s->output_count + j];
        output[j * bytes->count] = store_column_keep(&s->outputs[j], value);
        store_case_judge(bytes, i, &s->outputs[j], output[j * bytes->count], value);
    }
    for (size_t j = 0; j < s->series_count; j++)
        for (size_t k = 0; k < s->grid.count; k++) {
            const double value = given->series[(i * s->series_count + j) * s->grid.count + k];
            double *kept = &bytes->series[(j * bytes->count + i) * s->grid.count + k];
            *kept = store_column_keep(&s->series[j], value);
            store_case_judge(bytes, i, &s->series[j], *kept, value);
        }
    if (bytes->status[i] == CABER_OK)
        return;
    for (size_t j = 0; j < s->output_count; j++)
        if (!s->outputs[j].whole)
            output[j * bytes->count] = NAN;
    for (size_t j = 0; j < s->series_count; j++)
        for (size_t k = 0; k < s->grid.count; k++)
            bytes->series[(j * bytes->count + i) * s->grid.count + k] = NAN;
}

caber_status store_bytes_plan(store_bytes *bytes, caber_message *message)
{
    const store_study *s = bytes->study;
    if (!s->factor_count)
        return message_clear(message);
    size_t count, first = store_study_chunk(s, bytes->chunk, &count);
    caber_status status = s->plan(s->plan_user, first, count, bytes->columns, message);
    for (size_t j = 0; j < s->factor_count && status == CABER_OK; j++)
        for (size_t i = 0; i < count && status == CABER_OK; i++) {
            double *value = &bytes->columns[j * count + i];
            *value = store_column_keep(&s->factors[j], *value);
            if (isnan(*value))
                status = message_set(message, CABER_BAD_INPUT, "case %zu: %s is no number",
                                     first + i, s->factors[j].name);
        }
    return status;
}

caber_status store_bytes_take(store_bytes *bytes, const store_chunk *given, caber_message *message)
{
    store_bytes_aim(bytes, given->chunk);
    caber_status status = store_bytes_plan(bytes, message);
    for (size_t i = 0; i < bytes->count && status == CABER_OK; i++) {
        if (given->status[i] < 0 || given->status[i] > INT8_MAX)
            return message_set(message, CABER_BAD_INPUT, "%d is no status of a case",
                               given->status[i]);
        bytes->status[i] = (int8_t)given->status[i];
        store_reason_set(bytes->reason + i * STORE_REASON_SIZE,
                         given->reason ? given->reason[i] : NULL);
        store_case_take(bytes, given, i);
    }
    return status;
}
