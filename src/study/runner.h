/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One thread's way through the cases of a study: from the number of a case to its outputs. What a case gives
 * depends on the plan and on its number alone, to the last bit: not on the cases before it, nor on the
 * thread. */
#ifndef STUDY_RUNNER_H
#define STUDY_RUNNER_H

#include "study/clubs.h"

/* Clubs that a runner holds at most: the rows of a saltelli design go back and forth between the club of a
 * and those with a factor of b. */
enum { RUNNER_CLUBS = 4 };

/* What the integrator says of every case, besides its outputs. */
typedef enum runner_count {
    RUNNER_STEPS,
    RUNNER_EVALUATIONS,
    RUNNER_ERROR_FAILURES, /* steps taken again for their error */
    RUNNER_COUNTS
} runner_count;

typedef struct case_number {
    caber_status status;
    caber_message why;            /* of a case that failed, else "" */
    double *outputs;              /* [plan->output_count], SI, NAN where there is none */
    double counts[RUNNER_COUNTS]; /* 0 of a case that was not swung */
    double *series;               /* [plan->series_count][plan->series_points], SI */
} case_number;

typedef struct runner runner;

/* Given a plan and its clubs, which must outlive the runner. Errors: CABER_NO_MEMORY. */
caber_status runner_create(const caber_study *plan, clubs *all, runner **out,
                           caber_message *message);
void runner_free(runner *r); /* NULL is allowed */

/* Runs one case; out->outputs and out->series are given and are filled. With replicates the usual swing of
 * the point is run first, unless the case before was of the same point. A case that is no setup, or whose
 * swing fails, has its status and sentence in *out; a ball that is not struck or does not rise is no failure
 * of its case (columns.h). Returns CABER_OK, or CABER_NO_MEMORY when the run cannot go on. */
caber_status runner_run(runner *r, size_t index, case_number *out, caber_message *message);

#endif
