/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a study will take, before it runs. */
#ifndef STUDY_COST_H
#define STUDY_COST_H

#include "study/engine.h"

/* Of one thread, s, the mean of some points: making the model of a club, one swing (with its series, if the
 * study has them), one flight. */
typedef struct cost_times {
    double model, swing, flight;
    size_t looks,
        failed; /* points that were tried, and of them how many have no swing or no flight */
} cost_times;

/* What a run makes. Of more than a million points the first million's share counts. */
typedef struct cost {
    size_t points, cases;
    double clubs;  /* different ones */
    double models; /* how often one is made, with the CLUBS_KEPT last used kept (clubs.h) */
    /* With the usual one of each point that has replicates. Points that follow each other and differ by
     * ball and air alone share one. */
    double swings;
    double flights; /* 0 when no output is of the ball */
    /* Bytes before they are packed: of a case 8 a number, 4 a count or choice, its series among them, and 25
     * for its own number, status and reason. */
    double file;
    /* Bytes, about, beside those of the program itself: the plan, the clubs, what each thread has, and the
     * file's writer. */
    double memory;
    double time; /* s, with every thread busy */
} cost;

/* About what malloc gives a model and the work for it; measured. */
double cost_model_bytes(const caber_settings *settings);
double cost_work_bytes(const caber_settings *settings);

/* Tries `looks` points (at least 1), evenly spread, on this thread. A case that fails counts with the time
 * that it took. Errors: CABER_NO_MEMORY. */
caber_status cost_measure(const caber_study *plan, size_t looks, cost_times *out,
                          caber_message *message);

/* Given the measured times, and how many threads there will be (at least 1). Without memory to count them
 * in, every point is taken to have a club of its own. */
cost cost_estimate(const caber_study *plan, const cost_times *times, int threads);

#endif
