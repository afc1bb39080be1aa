/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Writes files of a synthetic study, whose numbers are functions of the case, for the tests to
 * kill, to damage and to read. No swing is run.
 *
 *   study_writer write FILE new|resume|replace [NAME=VALUE...]
 *   study_writer gather FILE SHARD...
 *   study_writer check FILE
 *
 * cases, chunk, shard, shards; points (of the series, 0 = none); change (a factor's identity),
 * version; from (the order: chunks begin with this one); stop (after so many chunks, without
 * finishing); sync (1: but render before stopping); wait (microseconds after each chunk; then it
 * also says when it has begun). */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/random.h"
#include "study/store_study.h"
#include "words.h"

enum { OUTPUTS = 42, FACTORS = 3, SERIES = 2 };

typedef struct options {
    size_t cases, chunk, shard, shards, points, from, stop, sync, wait;
    const char *change, *version;
} options;

static bool option_read(options *o, char *word)
{
    char *value = words_split(word);
    if (!value)
        return false;
    const words_number numbers[] = {
        {"cases", &o->cases},   {"chunk", &o->chunk},   {"shard", &o->shard},
        {"shards", &o->shards}, {"points", &o->points}, {"from", &o->from},
        {"stop", &o->stop},     {"sync", &o->sync},     {"wait", &o->wait}};
    if (words_set(numbers, sizeof numbers / sizeof *numbers, word, value))
        return true;
    if (strcmp(word, "change") == 0)
        o->change = value;
    else if (strcmp(word, "version") == 0)
        o->version = value;
    else
        return false;
    return true;
}

/* ------------------------------------------------------------------ the study */

static const store_column factors[FACTORS] = {
    {.name = "rise_ms", .units = "ms", .long_name = "rise of the load", .factor = 1e3},
    {.name = "head_mass_g", .units = "g", .long_name = "mass of the head", .factor = 1e3},
    {.name = "tip_trims",
     .units = "1",
     .long_name = "half inches cut off the tip",
     .factor = 1,
     .whole = true},
};

static const store_column series[SERIES] = {
    {.name = "lag_mm", .units = "mm", .long_name = "lag through the swing", .factor = 1e3},
    {.name = "handle_moment_nm", .units = "N m", .long_name = "moment at the hands", .factor = 1},
};

static caber_status plan(void *user, size_t first, size_t count, double *values,
                         caber_message *message)
{
    (void)user;
    (void)message;
    for (size_t i = 0; i < count; i++) {
        values[i] = 0.03 + 0.1 * random_even(7, 1, first + i);
        values[count + i] = 0.2 + 0.001 * (double)((first + i) % 9);
        values[2 * count + i] = (double)((first + i) / 9 % 4);
    }
    return CABER_OK;
}

/* Every 37th case fails, in one of two ways. */
static caber_status case_status(size_t i)
{
    return i % 37 != 5 ? CABER_OK : i % 2 ? CABER_BALL_NOT_REACHED : CABER_NOT_CONVERGED;
}

static void case_outputs(size_t i, double *outputs)
{
    for (size_t j = 0; j < OUTPUTS; j++)
        outputs[j] = 0.01 * (double)(j + 1) * (random_even(7, 100 + j, i) - 0.5);
    outputs[OUTPUTS - 2] = (double)(300 + i % 101); /* counts */
    outputs[OUTPUTS - 1] = (double)(i % 3);
    if (i % 11 == 0)
        outputs[0] = NAN; /* optional */
}

static void case_series(size_t i, size_t points, double *values)
{
    const double rise = 0.03 + 0.1 * random_even(7, 1, i);
    for (size_t k = 0; k < points; k++) {
        const double t = (double)k / (double)points;
        values[k] = 0.08 * sin(6 * t) * exp(-rise * t);
        values[points + k] = 30 * t * (1 - t) / rise;
    }
}

static caber_status chunk_write(store_writer *writer, const store_study *s, size_t chunk,
                                caber_message *message)
{
    size_t count, first = store_study_chunk(s, chunk, &count);
    const size_t along = s->series_count * s->grid.count;
    double *outputs = malloc(count * OUTPUTS * sizeof *outputs);
    double *curves = malloc((count * along + 1) * sizeof *curves);
    int *status = malloc(count * sizeof *status);
    const char **reason = malloc(count * sizeof *reason);
    for (size_t i = 0; i < count; i++) {
        case_outputs(first + i, outputs + i * OUTPUTS);
        if (along)
            case_series(first + i, s->grid.count, curves + i * along);
        status[i] = case_status(first + i);
        reason[i] = status[i] ? caber_status_text((caber_status)status[i]) : NULL;
    }
    const store_chunk given = {chunk, status, reason, outputs, curves};
    caber_status done = store_writer_write(writer, &given, message);
    free(outputs);
    free(curves);
    free(status);
    free(reason);
    return done;
}

/* ------------------------------------------------------------------ writing */

static caber_status chunks_write(store_writer *writer, const store_study *s, const options *o,
                                 caber_message *message)
{
    const size_t chunks = store_study_chunks(s);
    caber_status status = CABER_OK;
    size_t written = 0;
    for (size_t i = 0; i < chunks && written < o->stop && status == CABER_OK; i++) {
        const size_t chunk = (i + o->from) % chunks;
        if (!store_writer_wants(writer, chunk))
            continue;
        status = chunk_write(writer, s, chunk, message);
        written++;
        const struct timespec pause = {0, (long)o->wait * 1000};
        if (o->wait)
            nanosleep(&pause, NULL);
    }
    if (status != CABER_OK)
        return status;
    if (written == o->stop)
        return o->sync ? store_writer_sync(writer, message) : CABER_OK;
    return store_writer_finish(writer, message);
}

static caber_status study_write(const char *path, store_mode mode, const options *o,
                                caber_message *message)
{
    store_column outputs[OUTPUTS];
    char names[OUTPUTS][32], identity[128];
    for (size_t j = 0; j < OUTPUTS; j++) {
        snprintf(names[j], sizeof names[j], "answer_%02zu_mps", j);
        outputs[j] = (store_column){names[j], "m/s", "an answer", 2, j >= OUTPUTS - 2, j == 0};
        outputs[j].factor = outputs[j].whole ? 1 : 2;
    }
    double at[1024];
    for (size_t k = 0; k < o->points && k < 1024; k++)
        at[k] = 0.25 * (double)k / (double)o->points;
    const char *const overrides[] = {"load.grip.rise=0.05 s", "head=\u03b1.yaml"};
    const store_note notes[] = {
        {.name = "title", .text = "an invented study, of no swing"},
        {.name = "seed", .number = 7},
        {.name = "overrides", .texts = overrides, .count = 2},
    };
    snprintf(identity, sizeof identity, "model: invented\n  head: %s\nseed: 7\n", o->change);
    const store_study s = {
        .identity = identity,
        .version = o->version,
        .notes = notes,
        .note_count = sizeof notes / sizeof *notes,
        .cases = o->cases,
        .chunk_cases = o->chunk,
        .shard = o->shard,
        .shards = o->shards,
        .factors = factors,
        .factor_count = FACTORS,
        .plan = plan,
        .outputs = outputs,
        .output_count = OUTPUTS,
        .series = series,
        .series_count = o->points ? SERIES : 0,
        .grid = {{"time_ms", "ms", "time since the start", 1e3, false, false}, o->points, at}};
    store_writer *writer;
    caber_status status = store_writer_create(path, &s, mode, &writer, message);
    if (status != CABER_OK)
        return status;
    const store_progress before = store_writer_progress(writer);
    if (o->wait) {
        puts("begun");
        fflush(stdout);
    }
    status = chunks_write(writer, &s, o, message);
    const store_progress after = store_writer_progress(writer);
    printf("%zu of %zu chunks, %zu from before, %zu damaged\n", after.done, after.chunks,
           before.done, before.damaged);
    store_writer_free(writer);
    return status;
}

static caber_status study_check(const char *path, caber_message *message)
{
    store_reader *reader;
    store_progress progress;
    caber_status status = store_reader_create(path, &reader, message);
    if (status == CABER_OK)
        status = store_reader_check(reader, &progress, message);
    if (status == CABER_OK)
        printf("%zu of %zu chunks\n", progress.done, progress.chunks);
    store_reader_free(reader);
    return status;
}

int main(int argc, char **argv)
{
    options o = {1000, 32, 1, 1, 0, 0, SIZE_MAX, 0, 0, "plain", "1.2.3"};
    caber_message message;
    caber_status status = CABER_BAD_INPUT;
    snprintf(message.text, sizeof message.text, "usage: see the head of study_writer.c");
    if (argc > 3 && strcmp(argv[1], "write") == 0) {
        const char *const modes[] = {"new", "resume", "replace"};
        int mode = 0;
        while (mode < 2 && strcmp(modes[mode], argv[3]) != 0)
            mode++;
        bool fine = true;
        for (int i = 4; i < argc; i++)
            fine = fine && option_read(&o, argv[i]);
        if (fine)
            status = study_write(argv[2], (store_mode)mode, &o, &message);
    } else if (argc > 3 && strcmp(argv[1], "gather") == 0) {
        status = store_gather(argv[2], (const char *const *)(argv + 3), (size_t)argc - 3, false,
                              &message);
    } else if (argc == 3 && strcmp(argv[1], "check") == 0) {
        status = study_check(argv[2], &message);
    }
    if (status != CABER_OK)
        fprintf(stderr, "%s\n", message.text);
    return (int)status;
}
