/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Long runs: one thread works them off in order, each with all threads that the page may use. A job is begun by
 * a request, watched through a stream of events, and its result fetched; a bounded number of them is kept. */
#ifndef PAGE_JOBS_H
#define PAGE_JOBS_H

#include "page/page.h"

/* Kept at once, the oldest that has ended giving way; of them not ended; and how long one may run, s. */
enum { JOBS_MOST = 16, JOBS_WAITING = 4, JOBS_SECONDS = 600 };

/* Starts the thread. Returns NULL when out of memory. */
jobs *jobs_create(page *p);
/* Cancels all, and takes no more. */
void jobs_stop(jobs *j);
/* After jobs_stop: ends the thread. Returns false when a job had not ended `seconds` later: then all remains,
 * and only the end of the process may follow. */
bool jobs_free(jobs *j, double seconds);

/* Adds a job that calls `view` with this body (shared). Returns its number, 0 when too many wait. */
unsigned jobs_add(jobs *j, const char *run, page_view *view, json_t *body);
/* Returns all as JSON: [{job, run, state, done, total}]; or one of them, NULL when there is none. */
json_t *jobs_list(jobs *j);
json_t *jobs_about(jobs *j, unsigned number);
/* Cancels a job. Returns whether there is one that had not ended. */
bool jobs_cancel(jobs *j, unsigned number);
/* Copies its answer. Returns whether there is one. */
bool jobs_result(jobs *j, unsigned number, server_reply *out);

/* Who listens to a job; to be ended with free(). NULL when there is no such job or memory is out. */
typedef struct jobs_listener jobs_listener;
jobs_listener *jobs_listen(jobs *j, unsigned number);
/* Writes the events that are new: "event: progress" and last "event: end", each with what jobs_about says. As
 * server_hooks.stream. */
long jobs_hear(jobs *j, jobs_listener *listener, char *to, size_t size);
/* Whether there is something new. */
bool jobs_has_news(jobs *j, const jobs_listener *listener);

#endif
