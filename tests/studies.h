/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Studies of the demo setups that are swung quickly, and the numbers of all their cases. */
#ifndef TESTS_STUDIES_H
#define TESTS_STUDIES_H

#include <stdlib.h>

#include "check.h"
#include "files/files.h"
#include "study/engine.h"

/* Paths in a study are from here. */
#define STUDIES_FOLDER CABER_SOURCE_DIR "/models/studies"
/* A swing of a millisecond; one that takes its player longer than the limit fails. */
#define STUDIES_QUICK                                                                              \
    "settings.modes=4, settings.stations=6, settings.elements=8, settings.tolerance=1e-5, "        \
    "settings.time_limit=0.4 s"
/* The beginning of a study, up to its lists. */
#define STUDIES_HEAD                                                                               \
    "kind: study\nname: T\nsetup: ../setups/neutral-smooth.yaml\n"                                 \
    "set: [\"shaft.sections[0].from=0 mm\", \"shaft.sections[0].to=400 mm\", " STUDIES_QUICK "]\n"

static inline caber_study *studies_read(const char *text)
{
    caber_study *plan = NULL;
    caber_message m;
    if (files_read_study(STUDIES_FOLDER "/s.yaml", text, strlen(text), NULL, 0, &plan, &m) !=
        CABER_OK)
        fail_msg("%s", m.text);
    return plan;
}

/* The numbers of all cases, in their order; and how they came. */
typedef struct numbers {
    const caber_study *plan;
    size_t cases, columns, points; /* points: of all series */
    int *status;
    char (*reason)[ENGINE_REASON_SIZE];
    double *outputs, *series;
    size_t asked, taken; /* chunks */
    size_t stop_after;   /* chunks that are taken before it is stopped; 0 = not stopped */
} numbers;

static inline numbers *numbers_create(const caber_study *plan)
{
    numbers *n = calloc(1, sizeof *n);
    assert_non_null(n);
    n->plan = plan;
    n->cases = plan_cases(plan);
    n->columns = engine_columns(plan);
    n->points = plan->series_count * plan->series_points;
    n->status = calloc(n->cases, sizeof *n->status);
    n->reason = calloc(n->cases, sizeof *n->reason);
    n->outputs = calloc(n->cases * n->columns, sizeof *n->outputs);
    n->series = calloc(n->cases * n->points + 1, sizeof *n->series);
    assert_true(n->status && n->reason && n->outputs && n->series);
    return n;
}

static inline void numbers_free(numbers *n)
{
    free(n->status);
    free(n->reason);
    free(n->outputs);
    free(n->series);
    free(n);
}

static inline void numbers_put(numbers *n, size_t first, const engine_result *r)
{
    memcpy(n->status + first, r->status, r->count * sizeof *n->status);
    memcpy(n->outputs + first * n->columns, r->outputs, r->count * n->columns * sizeof(double));
    memcpy(n->series + first * n->points, r->series, r->count * n->points * sizeof(double));
    for (size_t i = 0; i < r->count; i++)
        snprintf(n->reason[first + i], ENGINE_REASON_SIZE, "%s", r->reason[i] ? r->reason[i] : "");
}

static inline void numbers_equal(const numbers *a, const numbers *b)
{
    assert_int_equal(a->cases, b->cases);
    assert_memory_equal(a->status, b->status, a->cases * sizeof *a->status);
    assert_memory_equal(a->reason, b->reason, a->cases * sizeof *a->reason);
    assert_memory_equal(a->outputs, b->outputs, a->cases * a->columns * sizeof(double));
    assert_memory_equal(a->series, b->series, a->cases * a->points * sizeof(double));
}

/* Every chunk is wanted, in ascending order. */
static inline bool numbers_want(void *user, size_t chunk)
{
    numbers *n = user;
    return chunk == n->asked++;
}

static inline caber_status numbers_take(void *user, const engine_result *result,
                                        caber_message *message)
{
    numbers *n = user;
    (void)message;
    size_t count;
    const size_t first = engine_chunk(n->plan, result->chunk, &count);
    n->taken++;
    if (result->count == count)
        numbers_put(n, first, result);
    return CABER_OK;
}

static inline bool numbers_stop(void *user)
{
    const numbers *n = user;
    return n->stop_after && n->taken >= n->stop_after;
}

static inline numbers *numbers_run(const caber_study *plan, int threads)
{
    numbers *n = numbers_create(plan);
    const engine_sink sink = {n, numbers_want, numbers_take, numbers_stop};
    caber_message m;
    if (engine_run(plan, threads, &sink, &m) != CABER_OK)
        fail_msg("%s", m.text);
    assert_string_equal(m.text, "");
    assert_int_equal(n->taken, engine_chunks(plan));
    assert_int_equal(n->asked, engine_chunks(plan));
    return n;
}

#endif
