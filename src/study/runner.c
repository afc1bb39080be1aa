/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/runner.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "study/habit.h"
#include "study/outputs.h"
#include "swing/model.h"

/* A club at hand; empty without a model. */
typedef struct hand {
    const caber_model *club; /* held */
    caber_model *model;      /* borrowed from it */
    caber_work *work;
    double *values; /* [factor_count], of a point that swings it */
    size_t used;    /* when last */
} hand;

struct runner {
    const caber_study *plan;
    clubs *all;
    bool flies; /* some output is of the ball */
    plan_case *c;
    shot_work *shot;
    caber_trace *trace; /* NULL without series */
    hand hands[RUNNER_CLUBS];
    size_t uses;
    /* The point that c has, and how its usual swing went. */
    bool there;
    size_t point;
    caber_status status;
    caber_message why;
    caber_swing usual;
    double *swung; /* [factor_count], of the point whose swing `usual` is */
    bool has_swung;
};

/* ------------------------------------------------------------------ making one */

static void hand_empty(runner *r, hand *h)
{
    caber_work_free(h->work);
    model_borrow_free(h->model);
    clubs_drop(r->all, h->club);
    *h = (hand){.values = h->values};
}

void runner_free(runner *r)
{
    if (!r)
        return;
    for (int i = 0; i < RUNNER_CLUBS; i++) {
        hand_empty(r, &r->hands[i]);
        free(r->hands[i].values);
    }
    plan_case_free(r->c);
    shot_work_free(r->shot);
    caber_trace_free(r->trace);
    free(r->swung);
    free(r);
}

caber_status runner_create(const caber_study *plan, clubs *all, runner **out,
                           caber_message *message)
{
    *out = NULL;
    runner *r = calloc(1, sizeof *r);
    if (!r)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    r->plan = plan;
    r->all = all;
    r->flies = plan_flies(plan);
    bool good = (r->swung = malloc(plan->factor_count * sizeof *r->swung)) != NULL;
    for (int i = 0; i < RUNNER_CLUBS; i++) {
        double *values = r->hands[i].values = malloc(plan->factor_count * sizeof *values);
        good = good && values;
    }
    good = good && (!plan->series_count || (r->trace = caber_trace_create()));
    good = good && plan_case_create(plan, &r->c, NULL) == CABER_OK &&
           shot_work_create(&r->shot, NULL) == CABER_OK;
    if (!good) {
        runner_free(r);
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    }
    *out = r;
    return message_clear(message);
}

/* ------------------------------------------------------------------ a club at hand */

static hand *hand_find(runner *r)
{
    for (int i = 0; i < RUNNER_CLUBS; i++)
        if (r->hands[i].model && plan_same_club(r->plan, r->hands[i].values, r->c->values))
            return &r->hands[i];
    return NULL;
}

/* The one that was not used for longest. */
static hand *hand_oldest(runner *r)
{
    hand *oldest = &r->hands[0];
    for (int i = 1; i < RUNNER_CLUBS; i++)
        if (r->hands[i].used < oldest->used)
            oldest = &r->hands[i];
    return oldest;
}

/* Takes the club of the case at hand. */
static caber_status hand_take(runner *r, hand **out, caber_message *message)
{
    hand *h = *out = hand_find(r);
    if (!h) {
        h = *out = hand_oldest(r);
        hand_empty(r, h);
        caber_status status = clubs_hold(r->all, r->c, &h->club, message);
        if (status == CABER_OK && !(h->model = model_borrow(h->club)))
            status = message_set(message, CABER_NO_MEMORY, "out of memory");
        if (status == CABER_OK)
            status = caber_work_create(h->model, &h->work, message);
        if (status != CABER_OK) {
            hand_empty(r, h);
            return status;
        }
        memcpy(h->values, r->c->values, r->plan->factor_count * sizeof *h->values);
    }
    h->used = ++r->uses;
    return CABER_OK;
}

/* ------------------------------------------------------------------ swings */

static caber_status swing(runner *r, const caber_setup *setup, caber_trace *trace, caber_swing *out,
                          caber_message *message)
{
    hand *h;
    const caber_status status = hand_take(r, &h, message);
    *out = (caber_swing){.met_ball = false};
    if (status != CABER_OK)
        return status;
    model_set_player(h->model, &setup->player);
    return caber_swing_run(h->model, h->work, out, trace, message);
}

/* The usual swing of the case; when ball and air alone differ from the last one's, it is that one. */
static caber_status swing_usual(runner *r, caber_message *message)
{
    const caber_study *plan = r->plan;
    if (r->has_swung && plan_same_swing(plan, r->swung, r->c->values))
        return CABER_OK;
    r->has_swung = false;
    const caber_status status =
        swing(r, &r->c->setup, plan->replicates ? NULL : r->trace, &r->usual, message);
    if (status == CABER_OK) {
        memcpy(r->swung, r->c->values, plan->factor_count * sizeof *r->swung);
        r->has_swung = true;
    }
    return status;
}

/* Goes to a point. */
static void go_to(runner *r, size_t point)
{
    if (r->there && r->point == point)
        return;
    r->point = point;
    r->status = plan_case_fill(r->plan, point, r->c, &r->why);
    if (r->status == CABER_OK) {
        r->status = swing_usual(r, &r->why);
    } else {
        r->has_swung = false;
        r->usual = (caber_swing){.met_ball = false};
    }
    r->there = r->status != CABER_NO_MEMORY;
}

/* ------------------------------------------------------------------ outputs */

static void out_clear(const runner *r, case_number *out)
{
    for (size_t i = 0; i < r->plan->output_count; i++)
        out->outputs[i] = NAN;
    for (size_t i = 0; i < r->plan->series_count * r->plan->series_points; i++)
        out->series[i] = NAN;
}

/* The ball of a swing. One that is not struck or does not rise leaves NAN. */
static caber_status fly(runner *r, const caber_setup *setup, const caber_swing *swung,
                        caber_place place, caber_outcome *out, caber_message *message)
{
    caber_message why;
    out->swing = *swung;
    if (!r->flies)
        return CABER_OK;
    const caber_status status = outcome_fill(r->shot, setup, swung, place, out, &why);
    if (status == CABER_OK || status == CABER_BAD_INPUT)
        return CABER_OK;
    return message_set(message, status, "the ball off the club: %.900s", why.text);
}

static caber_status outputs_fill(const runner *r, const caber_outcome *outcome, case_number *out,
                                 caber_message *message)
{
    const caber_study *plan = r->plan;
    for (size_t i = 0; i < plan->output_count; i++) {
        const output_column *c = &plan->outputs[i];
        const double value = out->outputs[i] = column_value(c, outcome);
        if (!isfinite(value) && !(c->optional && isnan(value)))
            return message_set(message, CABER_INTERNAL, "%s came out as %g", c->name, value);
    }
    for (size_t i = 0; i < plan->series_count; i++)
        series_fill(&plan->series[i], r->trace, plan->series_step, plan->series_points,
                    out->series + i * plan->series_points);
    return CABER_OK;
}

/* ------------------------------------------------------------------ one case */

static void counts_fill(const caber_swing *swung, case_number *out)
{
    out->counts[RUNNER_STEPS] = (double)swung->effort.steps;
    out->counts[RUNNER_EVALUATIONS] = (double)swung->effort.evaluations;
    out->counts[RUNNER_ERROR_FAILURES] = (double)swung->effort.error_failures;
}

static caber_status finish(runner *r, const caber_setup *setup, const caber_swing *swung,
                           caber_place place, case_number *out)
{
    caber_outcome outcome;
    const caber_status status = fly(r, setup, swung, place, &outcome, &out->why);
    return status == CABER_OK ? outputs_fill(r, &outcome, out, &out->why) : status;
}

static caber_status run_usual(runner *r, case_number *out)
{
    counts_fill(&r->usual, out);
    if (r->status != CABER_OK) {
        out->why = r->why;
        return r->status;
    }
    const caber_place place = caber_shot_place(&r->c->setup, &r->usual);
    return finish(r, &r->c->setup, &r->usual, place, out);
}

static caber_status run_replicate(runner *r, size_t replicate, case_number *out)
{
    if (r->status != CABER_OK)
        return message_set(&out->why, r->status, "the usual swing: %.900s", r->why.text);
    caber_setup varied;
    caber_swing swung;
    caber_status status = plan_case_vary(r->plan, r->c, &r->usual, replicate, &varied, &out->why);
    if (status != CABER_OK)
        return status;
    status = swing(r, &varied, r->trace, &swung, &out->why);
    counts_fill(&swung, out);
    if (status != CABER_OK)
        return status;
    const caber_place usual = caber_shot_place(&r->c->setup, &r->usual);
    return finish(r, &varied, &swung, habits_place(usual, &r->usual, &swung), out);
}

caber_status runner_run(runner *r, size_t index, case_number *out, caber_message *message)
{
    out->why = (caber_message){""};
    for (int i = 0; i < RUNNER_COUNTS; i++)
        out->counts[i] = 0;
    out_clear(r, out);
    go_to(r, plan_point_of(r->plan, index));
    out->status = r->plan->replicates ? run_replicate(r, plan_replicate_of(r->plan, index), out)
                                      : run_usual(r, out);
    if (out->status == CABER_OK)
        return message_clear(message);
    out_clear(r, out);
    if (out->status != CABER_NO_MEMORY)
        return message_clear(message);
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}
