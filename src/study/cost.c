/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/cost.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/message.h"
#include "study/clubs.h"
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

/* ------------------------------------------------------------------ clubs */

/* Which factors make another club. */
static void find_club_factors(const caber_study *plan, bool *of_club)
{
    double one[DESIGN_FACTORS_MOST] = {0}, other[DESIGN_FACTORS_MOST] = {0};
    for (size_t k = 0; k < plan->factor_count; k++) {
        other[k] = 1;
        of_club[k] = !plan_same_club(plan, one, other);
        other[k] = 0;
    }
}

/* One number for all values of a club; two clubs have the same by chance once in 2^64. FNV-1a of Fowler,
 * Noll and Vo, from memory. */
static uint64_t club_number(const caber_study *plan, const bool *of_club, size_t point)
{
    double values[DESIGN_FACTORS_MOST];
    uint64_t h = 14695981039346656037u;
    plan_values(plan, point, values);
    for (size_t k = 0; k < plan->factor_count; k++) {
        unsigned char bytes[sizeof values[k]];
        memcpy(bytes, &values[k], sizeof bytes);
        for (size_t i = 0; of_club[k] && i < sizeof bytes; i++)
            h = (h ^ bytes[i]) * 1099511628211u;
    }
    return h;
}

/* Whether a club is among those that are kept; it is the last used then. */
static bool is_kept(uint64_t kept[CLUBS_KEPT], size_t *count, uint64_t club)
{
    size_t i = 0;
    while (i < *count && kept[i] != club)
        i++;
    const bool found = i < *count;
    if (!found && *count < CLUBS_KEPT)
        ++*count;
    if (i == CLUBS_KEPT)
        i--;
    memmove(kept + 1, kept, i * sizeof *kept);
    kept[0] = club;
    return found;
}

static int order_numbers(const void *a, const void *b)
{
    const uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
    return (x > y) - (x < y);
}

static void count_clubs(const caber_study *plan, cost *c)
{
    const size_t points = plan_points(plan), most = points < COUNTED_MOST ? points : COUNTED_MOST;
    bool of_club[DESIGN_FACTORS_MOST];
    uint64_t kept[CLUBS_KEPT], *numbers = malloc(most * sizeof *numbers);
    size_t kept_count = 0, models = 0, different = 0;
    c->clubs = c->models = (double)points;
    if (!numbers)
        return;
    find_club_factors(plan, of_club);
    for (size_t i = 0; i < most; i++) {
        numbers[i] = club_number(plan, of_club, i);
        models += !is_kept(kept, &kept_count, numbers[i]);
    }
    qsort(numbers, most, sizeof *numbers, order_numbers);
    for (size_t i = 0; i < most; i++)
        different += i == 0 || numbers[i] != numbers[i - 1];
    free(numbers);
    c->clubs = (double)different * ((double)points / (double)most);
    c->models = (double)models * ((double)points / (double)most);
}

cost cost_estimate(const caber_study *plan, const cost_times *times, int threads)
{
    const double columns = (double)(plan->factor_count + plan->output_count);
    cost c = {.points = plan_points(plan), .cases = plan_cases(plan)};
    count_clubs(plan, &c);
    c.swings = (double)c.points * (plan->replicates ? 1 + (double)plan->replicates : 1);
    c.file =
        (double)c.cases * (8 * (columns + (double)(plan->series_count * plan->series_points)) + 25);
    c.memory = 8 * design_cells(&plan->how, plan->factor_count);
    c.time = (c.models * times->model + c.swings * (times->swing + times->flight)) / threads;
    return c;
}
