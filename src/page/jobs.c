/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "page/jobs.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

typedef enum job_state {
    JOB_WAITING,
    JOB_RUNNING,
    JOB_DONE,
    JOB_FAILED,
    JOB_CANCELLED,
    JOB_GONE /* no more kept; only a listener sees it */
} job_state;

static const char *const state_names[] = {"waiting", "running",   "done",
                                          "failed",  "cancelled", "gone"};

typedef struct job {
    unsigned number; /* 0 = the place is free */
    const char *run;
    page_view *view;
    json_t *body;
    job_state state;
    bool cancel;
    size_t done, total;
    unsigned version; /* counts what a listener could hear */
    struct timespec began;
    server_reply reply;
    jobs *all;
} job;

struct jobs {
    page *page;
    pthread_mutex_t lock;
    pthread_cond_t work, over;
    pthread_t thread;
    bool stopping, ended;
    unsigned last;
    job items[JOBS_MOST];
};

struct jobs_listener {
    unsigned number, version;
    bool said, ended;
};

static bool has_ended(const job *k)
{
    return k->state >= JOB_DONE;
}

static void job_clear(job *k)
{
    json_decref(k->body);
    free(k->reply.body);
    memset(k, 0, sizeof *k);
}

/* With the lock held, as all that follows up to the thread. */
static job *job_find(jobs *j, unsigned number)
{
    for (int i = 0; number && i < JOBS_MOST; i++)
        if (j->items[i].number == number)
            return &j->items[i];
    return NULL;
}

/* The one of lowest number that has, or has not, ended; NULL = none. `waits`: that has not begun. */
static job *job_first(jobs *j, bool ended, bool waits)
{
    job *first = NULL;
    for (int i = 0; i < JOBS_MOST; i++) {
        job *k = &j->items[i];
        if (k->number && has_ended(k) == ended && (!waits || k->state == JOB_WAITING) &&
            (!first || k->number < first->number))
            first = k;
    }
    return first;
}

static json_t *job_json(const job *k)
{
    return json_pack("{sI ss ss sI sI}", "job", (json_int_t)k->number, "run", k->run, "state",
                     state_names[k->state], "done", (json_int_t)k->done, "total",
                     (json_int_t)k->total);
}

/* ------------------------------------------------------------------ the thread */

static double seconds_since(const struct timespec *then)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - then->tv_sec) + 1e-9 * (double)(now.tv_nsec - then->tv_nsec);
}

/* Called by the threads of a run. */
static bool job_progress(void *user, size_t done, size_t total)
{
    job *k = user;
    pthread_mutex_lock(&k->all->lock);
    if (done > k->done)
        k->done = done;
    k->total = total;
    k->version++;
    const bool on = !k->cancel && seconds_since(&k->began) < JOBS_SECONDS;
    pthread_mutex_unlock(&k->all->lock);
    return on;
}

/* The place of a job that runs stays its own. */
static void job_run(jobs *j, job *k)
{
    server_reply reply = {0};
    const page_ask ask = {.body = k->body, .watch = {job_progress, k}};
    pthread_mutex_unlock(&j->lock);
    k->view(j->page, &ask, &reply);
    pthread_mutex_lock(&j->lock);
    k->reply = reply;
    k->state = reply.status == REPLY_FINE ? JOB_DONE : k->cancel ? JOB_CANCELLED : JOB_FAILED;
    if (k->state == JOB_DONE)
        k->done = k->total;
    k->version++;
}

static void *jobs_work(void *user)
{
    jobs *j = user;
    pthread_mutex_lock(&j->lock);
    while (!j->stopping) {
        job *k = job_first(j, false, true);
        if (!k) {
            pthread_cond_wait(&j->work, &j->lock);
            continue;
        }
        k->state = JOB_RUNNING;
        k->version++;
        clock_gettime(CLOCK_MONOTONIC, &k->began);
        job_run(j, k);
    }
    j->ended = true;
    pthread_cond_broadcast(&j->over);
    pthread_mutex_unlock(&j->lock);
    return NULL;
}

jobs *jobs_create(page *p)
{
    jobs *j = calloc(1, sizeof *j);
    if (!j)
        return NULL;
    j->page = p;
    pthread_mutex_init(&j->lock, NULL);
    pthread_condattr_t clock;
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_cond_init(&j->work, &clock);
    pthread_cond_init(&j->over, &clock);
    pthread_condattr_destroy(&clock);
    if (pthread_create(&j->thread, NULL, jobs_work, j) == 0)
        return j;
    free(j);
    return NULL;
}

void jobs_stop(jobs *j)
{
    pthread_mutex_lock(&j->lock);
    j->stopping = true;
    for (int i = 0; i < JOBS_MOST; i++)
        j->items[i].cancel = true;
    pthread_cond_broadcast(&j->work);
    pthread_mutex_unlock(&j->lock);
}

bool jobs_free(jobs *j, double seconds)
{
    struct timespec end;
    clock_gettime(CLOCK_MONOTONIC, &end);
    end.tv_sec += (time_t)seconds;
    pthread_mutex_lock(&j->lock);
    while (!j->ended && pthread_cond_timedwait(&j->over, &j->lock, &end) != ETIMEDOUT)
        continue;
    const bool ended = j->ended;
    pthread_mutex_unlock(&j->lock);
    if (!ended)
        return false;
    pthread_join(j->thread, NULL);
    for (int i = 0; i < JOBS_MOST; i++)
        job_clear(&j->items[i]);
    pthread_cond_destroy(&j->over);
    pthread_cond_destroy(&j->work);
    pthread_mutex_destroy(&j->lock);
    free(j);
    return true;
}

/* ------------------------------------------------------------------ what requests do with them */

/* A place for a new job: a free one, or that of the oldest that has ended. NULL when too many wait. */
static job *job_place(jobs *j)
{
    int waiting = 0;
    job *place = NULL;
    for (int i = 0; i < JOBS_MOST; i++) {
        waiting += j->items[i].number && !has_ended(&j->items[i]);
        if (!j->items[i].number)
            place = &j->items[i];
    }
    if (waiting >= JOBS_WAITING || j->stopping)
        return NULL;
    return place ? place : job_first(j, true, false);
}

unsigned jobs_add(jobs *j, const char *run, page_view *view, json_t *body)
{
    pthread_mutex_lock(&j->lock);
    job *k = job_place(j);
    unsigned number = 0;
    if (k) {
        job_clear(k);
        number = ++j->last;
        *k = (job){.number = number, .run = run, .view = view, .body = json_incref(body), .all = j};
        pthread_cond_signal(&j->work);
    }
    pthread_mutex_unlock(&j->lock);
    return number;
}

json_t *jobs_list(jobs *j)
{
    json_t *list = json_array();
    pthread_mutex_lock(&j->lock);
    for (unsigned n = 1; n <= j->last; n++) {
        if (j->last - n >= 2 * JOBS_MOST)
            n = j->last - 2 * JOBS_MOST + 1; /* long gone, all of them */
        const job *k = job_find(j, n);
        if (k)
            json_array_append_new(list, job_json(k));
    }
    pthread_mutex_unlock(&j->lock);
    return list;
}

json_t *jobs_about(jobs *j, unsigned number)
{
    pthread_mutex_lock(&j->lock);
    const job *k = job_find(j, number);
    json_t *object = k ? job_json(k) : NULL;
    pthread_mutex_unlock(&j->lock);
    return object;
}

bool jobs_cancel(jobs *j, unsigned number)
{
    pthread_mutex_lock(&j->lock);
    job *k = job_find(j, number);
    const bool had = k && !has_ended(k);
    if (had) {
        k->cancel = true;
        if (k->state == JOB_WAITING) {
            k->state = JOB_CANCELLED;
            reply_error(&k->reply, REPLY_WRONG, "the job was cancelled before it began");
        }
        k->version++;
    }
    pthread_mutex_unlock(&j->lock);
    return had;
}

bool jobs_result(jobs *j, unsigned number, server_reply *out)
{
    bool good = false;
    pthread_mutex_lock(&j->lock);
    const job *k = job_find(j, number);
    if (k && has_ended(k)) {
        *out = k->reply;
        out->body = k->reply.body ? malloc(k->reply.size + 1) : NULL;
        if (out->body)
            memcpy(out->body, k->reply.body, k->reply.size + 1);
        good = out->body || k->reply.constant;
    }
    pthread_mutex_unlock(&j->lock);
    return good;
}

/* ------------------------------------------------------------------ listening */

jobs_listener *jobs_listen(jobs *j, unsigned number)
{
    jobs_listener *listener = NULL;
    pthread_mutex_lock(&j->lock);
    if (job_find(j, number) && (listener = calloc(1, sizeof *listener)))
        listener->number = number;
    pthread_mutex_unlock(&j->lock);
    return listener;
}

bool jobs_has_news(jobs *j, const jobs_listener *listener)
{
    pthread_mutex_lock(&j->lock);
    const job *k = job_find(j, listener->number);
    const bool news = listener->ended || !k || !listener->said || k->version != listener->version;
    pthread_mutex_unlock(&j->lock);
    return news;
}

long jobs_hear(jobs *j, jobs_listener *listener, char *to, size_t size)
{
    char text[256];
    if (listener->ended)
        return -1;
    if (!jobs_has_news(j, listener))
        return 0;
    pthread_mutex_lock(&j->lock);
    const job gone = {.number = listener->number, .run = "", .state = JOB_GONE};
    const job *found = job_find(j, listener->number), *k = found ? found : &gone;
    const bool ended = has_ended(k);
    const int length = snprintf(
        text, sizeof text,
        "event: %s\ndata: "
        "{\"job\":%u,\"run\":\"%s\",\"state\":\"%s\",\"done\":%zu,\"total\":%zu}\n\n",
        ended ? "end" : "progress", k->number, k->run, state_names[k->state], k->done, k->total);
    const unsigned version = k->version;
    pthread_mutex_unlock(&j->lock);
    if ((size_t)length > size)
        return 0;
    memcpy(to, text, (size_t)length);
    listener->said = true;
    listener->version = version;
    listener->ended = ended;
    return length;
}
