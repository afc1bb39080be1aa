/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/cost.h"

#include <math.h>
#include <string.h>
#include <time.h>

#include "base/message.h"
#include "study/outputs.h"

/* Points whose clubs are counted. */
enum { COUNTED_MOST = 1000000 };

static double seconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* One case from its setup to its ball; adds what each stage takes. */
static caber_status run_timed(const caber_setup *setup, shot_work *shot, cost_times *sum)
{
    caber_model *model = NULL;
    caber_work *work = NULL;
    caber_swing swing;
    caber_outcome outcome;
    const double begin = seconds();
    caber_status status = caber_model_create(setup, &model, NULL);
    if (status == CABER_OK)
        status = caber_work_create(model, &work, NULL);
    const double made = seconds();
    if (status == CABER_OK)
        status = caber_swing_run(model, work, &swing, NULL, NULL);
    const double swung = seconds();
    if (status == CABER_OK)
        status = outcome_fill(shot, setup, &swing, caber_shot_place(setup, &swing), &outcome, NULL);
    sum->model += made - begin;
    sum->swing += swung - made;
    sum->flight += seconds() - swung;
    caber_work_free(work);
    caber_model_free(model);
    return status;
}

caber_status cost_measure(const caber_study *plan, size_t looks, cost_times *out,
                          caber_message *message)
{
    plan_case *c = NULL;
    shot_work *shot = NULL;
    cost_times sum = {.looks = looks};
    caber_status status = plan_case_create(plan, &c, message);
    if (status == CABER_OK)
        status = shot_work_create(&shot, message);
    for (size_t i = 0; i < looks && status == CABER_OK; i++) {
        caber_status of = plan_case_fill(plan, plan_spread_point(plan, i, looks), c, NULL);
        if (of == CABER_OK)
            of = run_timed(&c->setup, shot, &sum);
        sum.failed += of != CABER_OK;
        if (of == CABER_NO_MEMORY)
            status = message_set(message, of, "out of memory");
    }
    shot_work_free(shot);
    plan_case_free(c);
    sum.model /= (double)looks;
    sum.swing /= (double)looks;
    sum.flight /= (double)looks;
    *out = sum;
    return status;
}

static double count_models(const caber_study *plan)
{
    const size_t points = plan_points(plan), most = points < COUNTED_MOST ? points : COUNTED_MOST;
    double before[DESIGN_FACTORS_MOST], values[DESIGN_FACTORS_MOST];
    size_t models = 0;
    for (size_t i = 0; i < most; i++) {
        plan_values(plan, i, values);
        models += i == 0 || !plan_same_club(plan, before, values);
        memcpy(before, values, plan->factor_count * sizeof *values);
    }
    return (double)models * ((double)points / (double)most);
}

cost cost_estimate(const caber_study *plan, const cost_times *times, int threads)
{
    const double columns = (double)(plan->factor_count + plan->output_count);
    cost c = {.points = plan_points(plan), .cases = plan_cases(plan), .models = count_models(plan)};
    c.swings = (double)c.points * (plan->replicates ? 1 + (double)plan->replicates : 1);
    c.file =
        (double)c.cases * (8 * (columns + (double)(plan->series_count * plan->series_points)) + 25);
    c.memory = 8 * design_cells(&plan->how, plan->factor_count);
    c.time = (c.models * times->model + c.swings * (times->swing + times->flight)) / threads;
    return c;
}
