/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Many items shared by threads: each takes the next item that nobody has taken. What an item gives goes
 * to a place of its own, so the results are the same for any number of threads, as long as an item
 * depends on its number alone. */
#ifndef STUDY_POOL_H
#define STUDY_POOL_H

#include <stdbool.h>
#include <stddef.h>

#include "caber.h"

typedef struct pool_job {
    size_t count; /* items */
    int threads;  /* 0 = one a processor; at most CABER_THREADS_MOST */
    void *user;   /* shared by the threads, which write to places of their items only */
    /* Makes what one thread needs; returns NULL when it cannot be had. May be NULL: nothing is needed, and
     * `run` and `leave` are given NULL. */
    void *(*enter)(void *user);
    void (*run)(void *user, void *own, size_t item);
    void (*leave)(void *user, void *own); /* may be NULL */
    caber_watch watch; /* is told of every item; when it wishes so, no further item is begun */
    bool *stopped;     /* set when it does; may be NULL */
} pool_job;

/* Runs every item once; returns false when no thread could have what it needs, and then items may have
 * been left out. A thread that cannot be had leaves its share to the others; the caller's own is one of
 * them. */
bool pool_run(const pool_job *job);

#endif
