/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/pool.h"

#include <pthread.h>
#include <stdatomic.h>
#include <unistd.h>

typedef struct pool {
    const pool_job *job;
    atomic_size_t next; /* the first item that nobody has taken */
    atomic_size_t done;
    atomic_bool stopped;
    atomic_bool served; /* whether a thread came to the end of the items */
} pool;

/* A thread's work: items, until none is left. */
static void *work_on(void *user)
{
    pool *p = user;
    const pool_job *job = p->job;
    void *own = job->enter ? job->enter(job->user) : NULL;
    if (job->enter && !own)
        return NULL;
    size_t item;
    while (!atomic_load(&p->stopped) && (item = atomic_fetch_add(&p->next, 1)) < job->count) {
        job->run(job->user, own, item);
        const size_t done = atomic_fetch_add(&p->done, 1) + 1;
        if (job->watch.progress && !job->watch.progress(job->watch.user, done, job->count))
            atomic_store(&p->stopped, true);
    }
    atomic_store(&p->served, true);
    if (job->leave)
        job->leave(job->user, own);
    return NULL;
}

static int threads_of(const pool_job *job)
{
    const long processors = sysconf(_SC_NPROCESSORS_ONLN);
    const long wanted = job->threads > 0 ? job->threads : processors;
    return wanted < 1 ? 1 : wanted > CABER_THREADS_MOST ? CABER_THREADS_MOST : (int)wanted;
}

bool pool_run(const pool_job *job)
{
    pthread_t thread[CABER_THREADS_MOST];
    pool p = {.job = job};
    const int wanted = threads_of(job);
    int started = 0;
    while (started + 1 < wanted && (size_t)started + 1 < job->count &&
           pthread_create(&thread[started], NULL, work_on, &p) == 0)
        started++;
    work_on(&p);
    for (int i = 0; i < started; i++)
        pthread_join(thread[i], NULL);
    if (job->stopped && atomic_load(&p.stopped))
        *job->stopped = true;
    return atomic_load(&p.served);
}
