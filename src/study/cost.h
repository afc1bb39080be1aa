/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a study will take, before it runs. */
#ifndef STUDY_COST_H
#define STUDY_COST_H

#include "study/plan.h"

/* Of one thread, s, the mean of some points: making the model of a club, one swing, one flight. */
typedef struct cost_times {
    double model, swing, flight;
    size_t looks,
        failed; /* points that were tried, and of them how many have no swing or no flight */
} cost_times;

typedef struct cost {
    size_t points, cases;
    double clubs; /* different ones; of more than a million points the first million's share */
    double
        models; /* likewise how often one is made, with the CLUBS_KEPT last used kept (clubs.h) */
    double swings; /* with the usual one of each point that has replicates */
    double file;   /* bytes before they are packed: 8 a number of a case, its series among them, and
                      25 for its own number, point, status and the integrator's counts */
    double memory; /* bytes that the plan keeps, beyond the size of a setup */
    double time;   /* s, with every thread busy */
} cost;

/* Tries `looks` points (at least 1), evenly spread, on this thread. A case that fails counts with the time
 * that it took. Errors: CABER_NO_MEMORY. */
caber_status cost_measure(const caber_study *plan, size_t looks, cost_times *out,
                          caber_message *message);

/* Given the measured times, and how many threads there will be (at least 1). Without memory to count them
 * in, every point is taken to have a club of its own. */
cost cost_estimate(const caber_study *plan, const cost_times *times, int threads);

#endif
