/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/study_table.h"
#include "base/message.h"
#include "study/store_chunk.h"

enum { BLOCK = 4096 };

/* Numbers of series beyond which they are not read for a first look: half a gigabyte, some seconds. */
static const double series_most = 6e7;
/* Numbers of series that are read at once. */
static const size_t series_block = 1 << 18;

/* ------------------------------------------------------------------ how the cases ended */

static size_t cases_of_shard(const store_study *s)
{
    size_t mine = 0, count;
    for (size_t chunk = 0; chunk < store_study_chunks(s); chunk++) {
        store_study_chunk(s, chunk, &count);
        mine += store_chunk_is_mine(s, chunk) ? count : 0;
    }
    return mine;
}

static caber_status note_status(const study_cases *c, study_progress *p, size_t index, int status,
                                caber_message *message)
{
    const size_t at = (size_t)(1 + status);
    if (status < STORE_NOT_RUN || at >= STUDY_STATUS_MOST)
        return message_set(message, CABER_BAD_INPUT, "%s: damaged: case %zu has the status %d",
                           c->path, index, status);
    p->run += status != STORE_NOT_RUN;
    p->failed += status != STORE_NOT_RUN && status != CABER_OK;
    if (p->count[at]++)
        return CABER_OK;
    p->first[at] = index;
    return status > CABER_OK ? store_reader_reason(c->reader, index, p->reason[at], message)
                             : CABER_OK;
}

static caber_status read_progress(const study_cases *c, study_progress *p, caber_message *message)
{
    int block[BLOCK];
    caber_status status = CABER_OK;
    p->mine = cases_of_shard(c->study);
    for (size_t first = 0; first < c->study->cases && status == CABER_OK; first += BLOCK) {
        const size_t left = c->study->cases - first, count = left < BLOCK ? left : BLOCK;
        status = store_reader_status(c->reader, first, count, block, message);
        for (size_t i = 0; i < count && status == CABER_OK; i++)
            status = note_status(c, p, first + i, block[i], message);
    }
    return status;
}

/* ------------------------------------------------------------------ what the columns hold */

static void count_value(study_summary *s, double value)
{
    size_t i = 0;
    while (i < s->values && s->value[i] < value)
        i++;
    if (i < s->values && s->value[i] == value) {
        s->cases[i]++;
        return;
    }
    if (s->values == STUDY_VALUES_MOST) {
        s->values++;
        return;
    }
    memmove(s->value + i + 1, s->value + i, (s->values - i) * sizeof *s->value);
    memmove(s->cases + i + 1, s->cases + i, (s->values - i) * sizeof *s->cases);
    s->value[i] = value;
    s->cases[i] = 1;
    s->values++;
}

static void add_value(study_summary *s, double value)
{
    if (isnan(value)) {
        s->none++;
        return;
    }
    s->least = fmin(s->least, value);
    s->most = fmax(s->most, value);
    running_add(&s->numbers, value);
    if (s->column->role == STUDY_COLUMN_FACTOR && s->values <= STUDY_VALUES_MOST)
        count_value(s, value);
}

/* Once through the cases. */
typedef struct passage {
    study_overview *overview;
    study_block block;
    double *values;
} passage;

static caber_status add_columns(void *user, caber_message *message)
{
    const passage *p = user;
    study_overview *o = p->overview;
    const study_block *b = &p->block;
    double *values = p->values;
    caber_status status = CABER_OK;
    for (size_t k = 0; k < o->cases->column_count && status == CABER_OK; k++) {
        study_summary *s = &o->columns[k];
        if (s->column->role == STUDY_COLUMN_SERIES)
            continue;
        status = study_cases_read(o->cases, b, s->column, values, message);
        for (size_t i = 0; i < b->count && status == CABER_OK; i++)
            if (b->taken[i])
                add_value(s, values[i]);
    }
    return status;
}

static caber_status add_series(void *user, caber_message *message)
{
    const passage *p = user;
    study_overview *o = p->overview;
    const study_block *b = &p->block;
    double *values = p->values;
    const size_t points = o->cases->study->grid.count;
    caber_status status = CABER_OK;
    for (size_t k = 0; k < o->cases->column_count && status == CABER_OK; k++) {
        study_summary *s = &o->columns[k];
        if (s->column->role != STUDY_COLUMN_SERIES)
            continue;
        status = store_reader_series(o->cases->reader, s->column->name, b->first, b->count, values,
                                     message);
        for (size_t i = 0; i < b->count * points && status == CABER_OK; i++)
            if (b->taken[i / points])
                add_value(s, values[i]);
    }
    return status;
}

/* Goes through the cases once, by blocks of `room` with `width` numbers each. */
static caber_status go_through(study_overview *o, size_t room, size_t width, study_take *take,
                               caber_message *message)
{
    passage p = {.overview = o, .values = malloc(room * width * sizeof *p.values)};
    caber_status status = study_block_create(&p.block, room, message);
    if (!p.values)
        status = message_set(message, CABER_NO_MEMORY, "out of memory");
    if (status == CABER_OK)
        status = study_cases_each(o->cases, &p.block, take, &p, message);
    study_block_free(&p.block);
    free(p.values);
    return status;
}

caber_status study_overview_read(study_cases *c, study_overview *out, caber_message *message)
{
    *out = (study_overview){.cases = c, .columns = calloc(c->column_count, sizeof *out->columns)};
    if (!out->columns)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    for (size_t k = 0; k < c->column_count; k++)
        out->columns[k] = (study_summary){.column = &c->columns[k], .least = NAN, .most = NAN};
    const store_study *s = c->study;
    caber_status status = read_progress(c, &out->progress, message);
    if (status == CABER_OK)
        status = go_through(out, BLOCK, 1, add_columns, message);
    if (status != CABER_OK || !s->series_count)
        return status;
    out->skipped =
        (double)c->counts.taken * (double)s->series_count * (double)s->grid.count > series_most;
    return out->skipped ? CABER_OK
                        : go_through(out, series_block / s->grid.count + 1, s->grid.count,
                                     add_series, message);
}

void study_overview_free(study_overview *o)
{
    free(o->columns);
    *o = (study_overview){0};
}
