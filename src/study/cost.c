/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/cost.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/message.h"
#include "study/outputs.h"
#include "swing/model.h"

/* Points whose clubs are counted. */
enum { COUNTED_MOST = 1000000 };

static double seconds(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* What the looks share; no trace without series. */
typedef struct look_work {
    shot_work *shot;
    caber_trace *trace;
} look_work;

/* One case from its setup to its ball; adds what each stage takes. */
static caber_status run_timed(const caber_setup *setup, look_work *w, cost_times *sum)
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
        status = caber_swing_run(model, work, &swing, w->trace, NULL);
    const double swung = seconds();
    if (status == CABER_OK)
        status =
            outcome_fill(w->shot, setup, &swing, caber_shot_place(setup, &swing), &outcome, NULL);
    sum->model += made - begin;
    sum->swing += swung - made;
    sum->flight += seconds() - swung;
    caber_work_free(work);
    caber_model_free(model);
    return status;
}

static caber_status look_work_create(const caber_study *plan, look_work *w, caber_message *message)
{
    if (plan->series_count && !(w->trace = caber_trace_create()))
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    return shot_work_create(&w->shot, message);
}

caber_status cost_measure(const caber_study *plan, size_t looks, cost_times *out,
                          caber_message *message)
{
    plan_case *c = NULL;
    look_work w = {0};
    cost_times sum = {.looks = looks};
    caber_status status = plan_case_create(plan, &c, message);
    if (status == CABER_OK)
        status = look_work_create(plan, &w, message);
    for (size_t i = 0; i < looks && status == CABER_OK; i++) {
        caber_status of = plan_case_fill(plan, plan_spread_point(plan, i, looks), c, NULL);
        if (of == CABER_OK)
            of = run_timed(&c->setup, &w, &sum);
        sum.failed += of != CABER_OK;
        if (of == CABER_NO_MEMORY)
            status = message_set(message, of, "out of memory");
    }
    shot_work_free(w.shot);
    caber_trace_free(w.trace);
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
static bool is_kept(uint64_t kept[CLUBS_KEPT], size_t *count, uint64_t number)
{
    size_t i = 0;
    while (i < *count && kept[i] != number)
        i++;
    const bool found = i < *count;
    if (!found && *count < CLUBS_KEPT)
        ++*count;
    if (i == CLUBS_KEPT)
        i--;
    memmove(kept + 1, kept, i * sizeof *kept);
    kept[0] = number;
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

/* ------------------------------------------------------------------ swings and flights */

/* Usual swings that a run makes, point after point. */
static double count_usual(const caber_study *plan)
{
    const size_t points = plan_points(plan), most = points < COUNTED_MOST ? points : COUNTED_MOST;
    double before[DESIGN_FACTORS_MOST], values[DESIGN_FACTORS_MOST];
    size_t swung = 0;
    for (size_t i = 0; i < most; i++) {
        plan_values(plan, i, values);
        swung += i == 0 || !plan_same_swing(plan, before, values);
        memcpy(before, values, plan->factor_count * sizeof *values);
    }
    return (double)swung * ((double)points / (double)most);
}

/* ------------------------------------------------------------------ how large */

/* Source: malloc's own count, glibc 2.36, for 10 modes and 12 stations, 20 and 40, 30 and 64. */
static double bytes_of(const caber_settings *s, double fixed, double each)
{
    return fixed + each * (double)s->modes * (double)s->stations;
}

double cost_model_bytes(const caber_settings *settings)
{
    return bytes_of(settings, 18e3, 110);
}

double cost_work_bytes(const caber_settings *settings)
{
    return bytes_of(settings, 45e3, 132);
}

/* Numbers of a case, without its series, and of them those that are whole. */
static void count_columns(const caber_study *plan, double *numbers, double *whole)
{
    *whole = RUNNER_COUNTS + (plan->replicates ? 2 : 1);
    *numbers = (double)plan->output_count;
    for (size_t k = 0; k < plan->factor_count; k++)
        *(plan_factor_is_word(&plan->factors[k]) ? whole : numbers) += 1;
}

static double file_bytes(const caber_study *plan)
{
    double numbers, whole;
    count_columns(plan, &numbers, &whole);
    numbers += (double)plan->series_count * (double)plan->series_points;
    return (double)plan_cases(plan) * (8 * numbers + 4 * whole + 25);
}

/* What one thread has. */
static double thread_bytes(const caber_study *plan)
{
    const caber_settings *s = &plan->base->settings;
    const double shot = 30e3, places = s->stations + 2;
    /* A trace doubles its room when it is full. */
    const double trace = plan->series_count ? 2 * (double)plan->series_points *
                                                  ((double)sizeof(caber_trace_row) + 3 * 8 * places)
                                            : 0;
    return RUNNER_CLUBS * (cost_work_bytes(s) + (double)sizeof(caber_model)) + shot + trace +
           (double)engine_result_size(plan);
}

/* Of store_writer.c and store_render.c: blocks of a chunk, columns of some thousand cases, a seal a chunk,
 * and HDF5. Source of the last: the largest resident set with and without a file. */
static double writer_bytes(const caber_study *plan)
{
    const double hdf5 = 13e6, rows = fmin(5000, (double)plan_cases(plan));
    double numbers, whole;
    count_columns(plan, &numbers, &whole);
    return hdf5 + 3 * (double)engine_result_size(plan) + rows * (8 * (numbers + whole) + 280) +
           32 * (double)engine_chunks(plan);
}

static double plan_bytes(const caber_study *plan)
{
    double setups = 1, stations = (double)plan->base->shaft.station_count;
    for (size_t k = 0; k < plan->factor_count; k++)
        setups += (double)plan->factors[k].file_count;
    return 8 * design_cells(&plan->how, plan->factor_count) +
           setups * ((double)sizeof(caber_setup) + stations * (double)sizeof(caber_station));
}

/* Clubs that come and go leave gaps, which malloc keeps: as much again, after 20000 clubs on two threads. */
static double memory_bytes(const caber_study *plan, double different, int threads)
{
    const double kept = fmin(different, CLUBS_KEPT + (double)threads * RUNNER_CLUBS);
    return plan_bytes(plan) + 2 * kept * cost_model_bytes(&plan->base->settings) +
           threads * thread_bytes(plan) + writer_bytes(plan);
}

cost cost_estimate(const caber_study *plan, const cost_times *times, int threads)
{
    cost c = {.points = plan_points(plan), .cases = plan_cases(plan)};
    count_clubs(plan, &c);
    c.swings = count_usual(plan) + (plan->replicates ? (double)c.cases : 0);
    c.flights = plan_flies(plan) ? (double)c.cases : 0;
    c.file = file_bytes(plan);
    c.memory = memory_bytes(plan, c.clubs, threads);
    c.time =
        (c.models * times->model + c.swings * times->swing + c.flights * times->flight) / threads;
    return c;
}
