/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/engine.h"

#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "study/pool.h"

/* ------------------------------------------------------------------ chunks */

/* A study is about CHUNKS chunks, unless that makes them too small or too large. */
enum { CHUNKS = 1024, CASES_LEAST = 8, CASES_MOST = 256 };
/* Numbers of series in a chunk: 4 MB. */
enum { SERIES_MOST = 1 << 19 };

size_t engine_chunk_cases(const caber_study *plan)
{
    const size_t cases = plan_cases(plan), series = plan->series_count * plan->series_points;
    size_t n = cases / CHUNKS;
    n = n < CASES_LEAST ? CASES_LEAST : n > CASES_MOST ? CASES_MOST : n;
    if (series && n > SERIES_MOST / series)
        n = SERIES_MOST / series ? SERIES_MOST / series : 1;
    /* Whole points, for the usual swing of each is run once a chunk. */
    const size_t replicates = plan->replicates ? plan->replicates : 1;
    if (n > replicates)
        n -= n % replicates;
    return n < cases ? n : cases;
}

size_t engine_chunks(const caber_study *plan)
{
    const size_t n = engine_chunk_cases(plan);
    return (plan_cases(plan) + n - 1) / n;
}

size_t engine_chunk(const caber_study *plan, size_t chunk, size_t *count)
{
    const size_t n = engine_chunk_cases(plan), first = chunk * n, left = plan_cases(plan) - first;
    *count = left < n ? left : n;
    return first;
}

/* ------------------------------------------------------------------ a chunk's numbers */

size_t engine_columns(const caber_study *plan)
{
    return plan->output_count + RUNNER_COUNTS;
}

static size_t series_numbers(const caber_study *plan)
{
    return plan->series_count * plan->series_points;
}

caber_status engine_result_create(const caber_study *plan, engine_result **out,
                                  caber_message *message)
{
    const size_t n = engine_chunk_cases(plan);
    engine_result *r = *out = calloc(1, sizeof *r);
    if (r) {
        r->status = calloc(n, sizeof *r->status);
        r->reason = calloc(n, sizeof *r->reason);
        r->outputs = calloc(n * engine_columns(plan), sizeof *r->outputs);
        r->series = calloc(n * series_numbers(plan) + 1, sizeof *r->series);
        r->texts = calloc(n, ENGINE_REASON_SIZE);
        if (r->status && r->reason && r->outputs && r->series && r->texts)
            return message_clear(message);
    }
    engine_result_free(r);
    *out = NULL;
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

void engine_result_free(engine_result *result)
{
    if (!result)
        return;
    free(result->status);
    free(result->reason);
    free(result->outputs);
    free(result->series);
    free(result->texts);
    free(result);
}

/* ------------------------------------------------------------------ as bytes */

/* What stands in front of the bytes of a result. */
typedef struct packed_head {
    char kind[8];
    uint64_t chunk, count, columns, series;
} packed_head;

static packed_head head_of(const caber_study *plan, size_t chunk, size_t count)
{
    return (packed_head){.kind = "chunk 1",
                         .chunk = chunk,
                         .count = count,
                         .columns = engine_columns(plan),
                         .series = series_numbers(plan)};
}

/* Where the arrays of a result are among its bytes. */
typedef struct packed_places {
    size_t status, outputs, series, texts, end;
} packed_places;

static packed_places places_of(const caber_study *plan)
{
    const size_t n = engine_chunk_cases(plan);
    packed_places p = {.status = sizeof(packed_head)};
    p.outputs = p.status + n * sizeof(int);
    p.series = p.outputs + n * engine_columns(plan) * sizeof(double);
    p.texts = p.series + n * series_numbers(plan) * sizeof(double);
    p.end = p.texts + n * ENGINE_REASON_SIZE;
    return p;
}

size_t engine_result_size(const caber_study *plan)
{
    return places_of(plan).end;
}

void engine_result_pack(const caber_study *plan, const engine_result *result, void *bytes)
{
    const packed_head head = head_of(plan, result->chunk, result->count);
    const packed_places p = places_of(plan);
    char *to = bytes;
    memcpy(to, &head, sizeof head);
    memcpy(to + p.status, result->status, p.outputs - p.status);
    memcpy(to + p.outputs, result->outputs, p.series - p.outputs);
    memcpy(to + p.series, result->series, p.texts - p.series);
    memcpy(to + p.texts, result->texts, p.end - p.texts);
}

static void unpack(const caber_study *plan, const char *from, engine_result *result)
{
    const packed_places p = places_of(plan);
    memcpy(result->status, from + p.status, p.outputs - p.status);
    memcpy(result->outputs, from + p.outputs, p.series - p.outputs);
    memcpy(result->series, from + p.series, p.texts - p.series);
    memcpy(result->texts, from + p.texts, p.end - p.texts);
}

static void point_at_reasons(engine_result *r)
{
    for (size_t i = 0; i < r->count; i++) {
        const char *text = r->texts + i * ENGINE_REASON_SIZE;
        r->reason[i] = text[0] ? text : NULL;
    }
}

static bool result_is_whole(const engine_result *r)
{
    bool whole = true;
    for (size_t i = 0; i < r->count; i++)
        whole = whole && r->status[i] >= CABER_OK && r->status[i] <= CABER_INTERNAL &&
                !r->texts[(i + 1) * ENGINE_REASON_SIZE - 1];
    return whole;
}

caber_status engine_result_unpack(const caber_study *plan, const void *bytes, engine_result *result,
                                  caber_message *message)
{
    packed_head head;
    memcpy(&head, bytes, sizeof head);
    size_t count = 0;
    if (head.chunk < engine_chunks(plan))
        engine_chunk(plan, head.chunk, &count);
    const packed_head good = head_of(plan, head.chunk, count);
    if (count && memcmp(&head, &good, sizeof head) == 0) {
        result->chunk = head.chunk;
        result->count = count;
        unpack(plan, bytes, result);
        point_at_reasons(result);
        if (result_is_whole(result))
            return message_clear(message);
    }
    result->count = 0;
    return message_set(message, CABER_INTERNAL,
                       "what another process sent is no chunk of this study");
}

/* ------------------------------------------------------------------ one chunk */

caber_status engine_run_chunk(runner *r, const caber_study *plan, size_t chunk,
                              engine_result *result, caber_message *message)
{
    const size_t n = engine_chunk_cases(plan), columns = engine_columns(plan),
                 first = engine_chunk(plan, chunk, &result->count);
    result->chunk = chunk;
    memset(result->texts, 0, n * ENGINE_REASON_SIZE);
    for (size_t i = 0; i < result->count; i++) {
        double *row = result->outputs + i * columns;
        case_number out = {.outputs = row, .series = result->series + i * series_numbers(plan)};
        const caber_status status = runner_run(r, first + i, &out, message);
        if (status != CABER_OK)
            return status;
        result->status[i] = (int)out.status;
        memcpy(row + plan->output_count, out.counts, sizeof out.counts);
        snprintf(result->texts + i * ENGINE_REASON_SIZE, ENGINE_REASON_SIZE, "%.*s",
                 ENGINE_REASON_SIZE - 1, out.why.text);
    }
    point_at_reasons(result);
    return message_clear(message);
}

/* ------------------------------------------------------------------ all of them */

typedef struct engine {
    const caber_study *plan;
    const engine_sink *sink;
    clubs *all;
    pthread_mutex_t lock; /* of what follows, and of every call of the sink */
    size_t next;          /* the first chunk that the sink was not asked about */
    bool over;            /* no further chunk begins */
    caber_status status;
    caber_message why;
} engine;

/* What a thread has. */
typedef struct bench {
    runner *runner;
    engine_result *result;
} bench;

static void leave(void *user, void *own)
{
    (void)user;
    bench *b = own;
    if (!b)
        return;
    runner_free(b->runner);
    engine_result_free(b->result);
    free(b);
}

static void *enter(void *user)
{
    engine *e = user;
    bench *b = calloc(1, sizeof *b);
    if (b && runner_create(e->plan, e->all, &b->runner, NULL) == CABER_OK &&
        engine_result_create(e->plan, &b->result, NULL) == CABER_OK)
        return b;
    leave(user, b);
    return NULL;
}

/* The first failure ends the run. */
static void end_with(engine *e, caber_status status, const caber_message *why)
{
    e->over = true;
    if (e->status != CABER_OK)
        return;
    e->status = status;
    e->why = *why;
}

/* Returns the next chunk that is wanted, or the count of chunks when none is to begin. */
static size_t begin_next(engine *e)
{
    const engine_sink *sink = e->sink;
    const size_t chunks = engine_chunks(e->plan);
    pthread_mutex_lock(&e->lock);
    e->over = e->over || (sink->stop && sink->stop(sink->user));
    while (!e->over && e->next < chunks && !sink->wants(sink->user, e->next))
        e->next++;
    const size_t chunk = e->over || e->next >= chunks ? chunks : e->next++;
    pthread_mutex_unlock(&e->lock);
    return chunk;
}

/* The pool's items are turns, not chunks: those are asked for one after the other. */
static void run(void *user, void *own, size_t turn)
{
    (void)turn;
    engine *e = user;
    bench *b = own;
    caber_message why;
    const size_t chunk = begin_next(e);
    if (chunk == engine_chunks(e->plan))
        return;
    caber_status status = engine_run_chunk(b->runner, e->plan, chunk, b->result, &why);
    pthread_mutex_lock(&e->lock);
    if (status == CABER_OK && e->status == CABER_OK)
        status = e->sink->take(e->sink->user, b->result, &why);
    if (status != CABER_OK)
        end_with(e, status, &why);
    pthread_mutex_unlock(&e->lock);
}

caber_status engine_run(const caber_study *plan, int threads, const engine_sink *sink,
                        caber_message *message)
{
    engine e = {.plan = plan, .sink = sink};
    const caber_status status = clubs_create(plan, CLUBS_KEPT, &e.all, message);
    if (status != CABER_OK)
        return status;
    pthread_mutex_init(&e.lock, NULL);
    const pool_job job = {.count = engine_chunks(plan),
                          .threads = threads,
                          .user = &e,
                          .enter = enter,
                          .run = run,
                          .leave = leave};
    if (!pool_run(&job))
        end_with(&e, CABER_NO_MEMORY, &(caber_message){"out of memory"});
    pthread_mutex_destroy(&e.lock);
    clubs_free(e.all);
    return e.status == CABER_OK ? message_clear(message)
                                : message_set(message, e.status, "%s", e.why.text);
}
