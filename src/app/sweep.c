/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A sweep from its command line to its file. */
#include "app/sweep.h"

#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/sweep_parts.h"
#include "base/text.h"
#include "files/files.h"
#include "study/store_chunk.h"

struct sweep {
    sweep_settings how;
    caber_study *plan;
    store_plan_view *view;
    store_writer *writer;
    sweep_progress progress;
    size_t swings; /* in this run */
};

/* ------------------------------------------------------------------ interrupts */

_Static_assert(ATOMIC_INT_LOCK_FREE == 2, "what a signal sets, it must set at once");
static atomic_int sweep_interrupted;

static const int sweep_signals[] = {SIGINT, SIGTERM};
enum { SWEEP_SIGNALS = sizeof sweep_signals / sizeof *sweep_signals };

/* The second one ends the program at once: what was finished is in the journal. */
static void sweep_interrupt(int number)
{
    (void)number;
    atomic_store(&sweep_interrupted, 1);
    for (size_t i = 0; i < SWEEP_SIGNALS; i++)
        signal(sweep_signals[i], SIG_DFL);
}

/* A signal that whoever began the program had ignored stays so. */
static void sweep_listen(struct sigaction before[SWEEP_SIGNALS])
{
    struct sigaction action = {.sa_handler = sweep_interrupt, .sa_flags = SA_RESTART};
    sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < SWEEP_SIGNALS; i++) {
        sigaction(sweep_signals[i], NULL, &before[i]);
        if (before[i].sa_handler != SIG_IGN)
            sigaction(sweep_signals[i], &action, NULL);
    }
}

/* ------------------------------------------------------------------ for the driver */

const caber_study *sweep_plan(const sweep *s)
{
    return s->plan;
}

int sweep_threads(const sweep *s)
{
    return s->how.threads;
}

bool sweep_wants(const sweep *s, size_t chunk)
{
    return store_writer_wants(s->writer, chunk);
}

bool sweep_stopped(const sweep *s)
{
    (void)s;
    return atomic_load(&sweep_interrupted) != 0;
}

caber_status sweep_take(sweep *s, const engine_result *result, caber_message *message)
{
    const caber_status status = store_plan_write(s->writer, result, message);
    if (status != CABER_OK)
        return status;
    s->swings += result->count;
    if (s->plan->replicates) {
        /* The usual swing of each point that the chunk has a part of. */
        size_t count;
        const size_t first = engine_chunk(s->plan, result->chunk, &count);
        s->swings += plan_point_of(s->plan, first + count - 1) - plan_point_of(s->plan, first) + 1;
    }
    sweep_progress_add(&s->progress, result->count);
    return CABER_OK;
}

/* ------------------------------------------------------------------ opening */

static caber_status sweep_setup_text(const sweep *s, char **text, caber_message *message)
{
    size_t size;
    *text = NULL;
    FILE *out = open_memstream(text, &size);
    caber_status status = out ? CABER_OK : CABER_NO_MEMORY;
    if (out) {
        status = files_write_setup(s->plan->base, out, message);
        if (fclose(out) != 0 && status == CABER_OK)
            status = CABER_NO_MEMORY;
    }
    return status;
}

static caber_status sweep_view(sweep *s, caber_message *message)
{
    char *identity = NULL, *setup = NULL;
    caber_status status = files_study_identity(s->plan, &identity, message);
    if (status == CABER_OK)
        status = sweep_setup_text(s, &setup, message);
    if (status == CABER_OK)
        status = store_plan_create(s->plan, identity, setup, s->how.shard, s->how.shards, &s->view,
                                   message);
    free(identity);
    free(setup);
    return status;
}

static app_exit sweep_open(sweep *s)
{
    caber_message message = {""};
    caber_status status = sweep_view(s, &message);
    if (status == CABER_OK)
        status = store_writer_create(s->how.path, store_plan_study(s->view), s->how.mode,
                                     &s->writer, &message);
    if (status == CABER_OK)
        return APP_FINE;
    if (s->how.mode != STORE_NEW || !text_ends_with(message.text, "is there already"))
        return app_fail(status, &message);
    app_say("%s; --resume goes on with it, --replace begins anew", message.text);
    return APP_BAD_INPUT;
}

/* The cases of this file, and how many of them are done. */
static void sweep_count(const sweep *s, size_t *cases, size_t *done)
{
    *cases = *done = 0;
    for (size_t c = 0; c < engine_chunks(s->plan); c++) {
        size_t count;
        engine_chunk(s->plan, c, &count);
        if (!store_chunk_is_mine(store_plan_study(s->view), c))
            continue;
        *cases += count;
        *done += store_writer_wants(s->writer, c) ? 0 : count;
    }
}

/* ------------------------------------------------------------------ the end */

/* Says in one line why it ended, what is kept, and how to go on. */
static app_exit sweep_unfinished(const sweep *s, const char *why)
{
    size_t cases, done;
    sweep_count(s, &cases, &done);
    char *command = sweep_settings_resume(&s->how);
    app_say("%s; %zu of %zu cases are done and kept; to go on: %s", why, done, cases,
            command ? command : "--resume");
    free(command);
    return APP_UNFINISHED;
}

static app_exit sweep_result(const sweep *s, double time)
{
    caber_message message = {""};
    sweep_tally *tally = malloc(sizeof *tally);
    const caber_status status =
        tally ? sweep_tally_read(s->how.path, tally, &message) : CABER_NO_MEMORY;
    const sweep_work work = {s->progress.done, s->swings, time};
    const app_exit rc = status == CABER_OK ? sweep_tally_print(tally, s->how.path, &work,
                                                               s->how.given->text[OPTION_JSON])
                                           : app_fail(status, &message);
    free(tally);
    return rc;
}

static app_exit sweep_close(sweep *s, caber_status driven, const caber_message *why)
{
    caber_message message = *why;
    caber_status status = driven;
    size_t cases, done;
    sweep_count(s, &cases, &done);
    sweep_progress_write(&s->progress);
    if (status == CABER_OK)
        status = done == cases ? store_writer_finish(s->writer, &message)
                               : store_writer_sync(s->writer, &message);
    const double time = sweep_progress_time(&s->progress);
    sweep_progress_end(&s->progress);
    if (status != CABER_OK)
        return sweep_unfinished(s, message.text[0] ? message.text : caber_status_text(status));
    if (done < cases)
        return sweep_unfinished(s, sweep_stopped(s) ? "interrupted" : "not finished");
    return sweep_result(s, time);
}

static app_exit sweep_cases(sweep *s, sweep_driver *drive, void *user)
{
    caber_message why = {""};
    size_t cases, done;
    const size_t damaged = store_writer_progress(s->writer).damaged;
    if (damaged)
        app_say("%s: %zu chunk%s of cases not what was written, and will be done again",
                s->how.path, damaged, damaged == 1 ? " is" : "s are");
    sweep_count(s, &cases, &done);
    sweep_progress_begin(&s->progress, cases, done);
    const caber_status status = done < cases ? drive(s, user, &why) : CABER_OK;
    return sweep_close(s, status, &why);
}

/* ------------------------------------------------------------------ the command */

static int sweep_workers(const sweep *s, int workers)
{
    if (workers > 0)
        return workers;
    const long processors = sysconf(_SC_NPROCESSORS_ONLN);
    if (s->how.threads)
        return s->how.threads;
    return processors < 1                    ? 1
           : processors > CABER_THREADS_MOST ? CABER_THREADS_MOST
                                             : (int)processors;
}

static app_exit sweep_study(sweep *s, int workers, sweep_driver *drive, void *user)
{
    const options *given = s->how.given;
    caber_message message = {""};
    const caber_status status =
        caber_study_read(s->how.study, given->overrides, given->override_count, &s->plan, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    if (given->text[OPTION_PLAN])
        return sweep_plan_print(&s->how, s->plan, sweep_workers(s, workers));
    struct sigaction before[SWEEP_SIGNALS];
    sweep_listen(before);
    app_exit rc = sweep_open(s);
    if (rc == APP_FINE)
        rc = sweep_cases(s, drive, user);
    for (size_t i = 0; i < SWEEP_SIGNALS; i++)
        sigaction(sweep_signals[i], &before[i], NULL);
    return rc;
}

app_exit sweep_run(const options *given, const char *program, int workers, sweep_driver *drive,
                   void *user)
{
    sweep s = {0};
    app_exit rc = sweep_settings_read(given, program, &s.how);
    if (rc == APP_FINE)
        rc = sweep_study(&s, workers, drive, user);
    store_writer_free(s.writer);
    store_plan_free(s.view);
    caber_study_free(s.plan);
    free(s.how.path);
    return rc;
}
