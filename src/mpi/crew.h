/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The threads of one process that run chunks of a study. They are given chunks one at a time, by the thread
 * that made them, and only by it: that thread is free meanwhile to speak to other processes. Nothing here
 * knows MPI. */
#ifndef MPI_CREW_H
#define MPI_CREW_H

#include "study/engine.h"

typedef struct crew crew;

/* Given a plan, which must outlive the crew, and how many threads, at least 1. Errors: CABER_NO_MEMORY, and
 * CABER_INTERNAL when a thread cannot be had. */
caber_status crew_create(const caber_study *plan, int threads, crew **out, caber_message *message);
/* Waits for the chunks that have begun. NULL is allowed. */
void crew_free(crew *c);

/* How many threads have nothing to do, and how many have a chunk, finished or not. */
int crew_idle(const crew *c);
int crew_busy(const crew *c);
/* Given a chunk, for a thread that has nothing to do; there must be one. */
void crew_give(crew *c, size_t chunk);

/* A chunk that a thread has ended with. */
typedef struct crew_done {
    const engine_result *result;
    caber_status status; /* CABER_OK, or why the run cannot go on */
    caber_message why;
} crew_done;

/* Waits for a chunk to be finished, at most `most` seconds. Returns it, or NULL; it is the caller's to read
 * until crew_release, which makes its thread idle. */
const crew_done *crew_wait(crew *c, double most);
void crew_release(crew *c, const crew_done *done);

#endif
