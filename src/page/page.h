/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the views of the page share, and what a view is. */
#ifndef PAGE_PAGE_H
#define PAGE_PAGE_H

#include <pthread.h>

#include "page/ask.h"

typedef struct jobs jobs;

/* Constant while the server runs, but for what `keep` and the jobs guard themselves. */
typedef struct page {
    folders folders;
    int threads; /* that share a long run */
    jobs *jobs;
    pthread_mutex_t keep; /* one file is kept at a time */
    server_settings limits;
} page;

/* What a view is asked. */
typedef struct page_ask {
    const json_t *body; /* an object, or NULL for a request without one */
    const char *text;   /* a body that is no JSON */
    size_t size;
    char words[3][128]; /* of the path, in the order of its braces */
    caber_watch watch;  /* who watches a long run */
} page_ask;

/* Fills *out with a result or an error. */
typedef void page_view(page *p, const page_ask *ask, server_reply *out);

/* One a view; all but the last group compute. */
page_view view_swing, view_swings, view_series, view_inputs, view_load, view_shaft, view_profile,
    view_bench, view_trims;
/* Long runs. */
page_view view_scatter, view_compare, view_uncertainty, view_bench_uncertainty, view_sensitivity;
/* Files and jobs. */
page_view view_files, view_file, view_keep, view_jobs, view_job, view_job_begin, view_job_cancel,
    view_job_result, view_job_events, view_fields, view_units;

#endif
