/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How long a study takes, and how much of it is the writing of its file.
 *
 *   bench_study STUDY THREADS FILE.h5 [PATH=VALUE]...
 *
 * Runs the cases as caber sweep does. Prints one JSON object: cases, failed; wall_s and cpu_s of all from the
 * opening of the file to its end; of them writer_wall_s and writer_cpu_s, what opening, each chunk and the end
 * take on the thread that does them, waiting for the disk included in the former. */
#include <stdio.h>

#include "app/app.h"
#include "files/files.h"
#include "study/store_plan.h"
#include "timing.h"

/* ms of one of the clocks */
static double clock_of(clockid_t which)
{
    struct timespec t;
    clock_gettime(which, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

typedef struct bench {
    caber_study *plan;
    store_plan_view *view;
    store_writer *writer;
    double wall, cpu; /* ms, of the writer */
    size_t cases, failed;
} bench;

typedef struct stopwatch {
    double wall, cpu;
} stopwatch;

static stopwatch watch_start(void)
{
    return (stopwatch){clock_of(CLOCK_MONOTONIC), clock_of(CLOCK_THREAD_CPUTIME_ID)};
}

static void watch_stop(const stopwatch *from, bench *b)
{
    const stopwatch to = watch_start();
    b->wall += to.wall - from->wall;
    b->cpu += to.cpu - from->cpu;
}

static caber_status open_file(bench *b, const char *path, caber_message *message)
{
    char *identity = NULL, *setup = NULL;
    size_t size;
    caber_status status = files_study_identity(b->plan, &identity, message);
    FILE *out = open_memstream(&setup, &size);
    if (status == CABER_OK)
        status = out ? files_write_setup(b->plan->base, out, message) : CABER_NO_MEMORY;
    if (out)
        fclose(out);
    if (status == CABER_OK)
        status = store_plan_create(b->plan, identity, setup, 1, 1, &b->view, message);
    if (status == CABER_OK)
        status = store_writer_create(path, store_plan_study(b->view), STORE_REPLACE, &b->writer,
                                     message);
    free(identity);
    free(setup);
    return status;
}

static bool wants(void *user, size_t chunk)
{
    return store_writer_wants(((bench *)user)->writer, chunk);
}

static caber_status take(void *user, const engine_result *result, caber_message *message)
{
    bench *b = user;
    const stopwatch watch = watch_start();
    const caber_status status = store_plan_write(b->writer, result, message);
    watch_stop(&watch, b);
    b->cases += result->count;
    for (size_t i = 0; i < result->count; i++)
        b->failed += result->status[i] != CABER_OK;
    return status;
}

static caber_status run(bench *b, const char *path, int threads, caber_message *message)
{
    const engine_sink sink = {.user = b, .wants = wants, .take = take};
    stopwatch watch = watch_start();
    caber_status status = open_file(b, path, message);
    watch_stop(&watch, b);
    if (status == CABER_OK)
        status = engine_run(b->plan, threads, &sink, message);
    watch = watch_start();
    if (status == CABER_OK)
        status = store_writer_finish(b->writer, message);
    watch_stop(&watch, b);
    return status;
}

int main(int argc, char **argv)
{
    const int threads = argc > 3 ? atoi(argv[2]) : 0;
    if (threads < 1) {
        fprintf(stderr, "usage: bench_study STUDY THREADS FILE.h5 [PATH=VALUE]...\n");
        return 2;
    }
    bench b = {0};
    caber_message message = {""};
    app_keep_memory();
    caber_status status = caber_study_read(argv[1], (const char *const *)argv + 4, (size_t)argc - 4,
                                           &b.plan, &message);
    const double wall = clock_of(CLOCK_MONOTONIC), cpu = clock_of(CLOCK_PROCESS_CPUTIME_ID);
    if (status == CABER_OK)
        status = run(&b, argv[3], threads, &message);
    if (status != CABER_OK)
        fprintf(stderr, "bench_study: %s\n", message.text);
    else
        printf("{\"cases\": %zu, \"failed\": %zu, \"wall_s\": %.4f, \"cpu_s\": %.4f, "
               "\"writer_wall_s\": %.4f, \"writer_cpu_s\": %.4f}\n",
               b.cases, b.failed, (clock_of(CLOCK_MONOTONIC) - wall) / 1e3,
               (clock_of(CLOCK_PROCESS_CPUTIME_ID) - cpu) / 1e3, b.wall / 1e3, b.cpu / 1e3);
    store_writer_free(b.writer);
    store_plan_free(b.view);
    caber_study_free(b.plan);
    return status != CABER_OK;
}
