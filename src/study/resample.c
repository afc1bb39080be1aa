/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/resample.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/order.h"
#include "base/random.h"

/* Streams of random numbers: of the groups that rows go into; of draw d, DRAWS_FROM + d. */
enum { GROUPS_STREAM = 0, DRAWS_FROM = 1 };
/* Groups: as many as rows up to GROUPS_MOST; fewer where a row is wide, so that the sums of all draws
 * take no more than WORK_MOST numbers each, but GROUPS_LEAST at least. */
enum { GROUPS_LEAST = 200, GROUPS_MOST = 1000, WORK_MOST = 400000 };

resample_settings resample_default(void)
{
    return (resample_settings){.draws = 1000, .seed = 1, .level = 0.95};
}

/* Room for a run. */
typedef struct work {
    const resample_problem *problem;
    size_t groups, wide; /* wide: width and, first, how many rows */
    double *sum;         /* [groups][wide] */
    double *total;       /* [wide] */
    double *mean;        /* [wide], of what is looked at; also a row's numbers */
    double *found;       /* [count] */
    double *drawn;       /* [count][draws] */
    double *without;     /* [count][groups] */
    unsigned *times;     /* [groups] */
} work;

static void work_free(work *w)
{
    free(w->sum);
    free(w->total);
    free(w->mean);
    free(w->found);
    free(w->drawn);
    free(w->without);
    free(w->times);
}

static bool work_create(work *w, const resample_problem *p, size_t draws)
{
    const size_t narrow = WORK_MOST / (p->width + 1);
    const size_t most = narrow < GROUPS_LEAST  ? GROUPS_LEAST
                        : narrow > GROUPS_MOST ? GROUPS_MOST
                                               : narrow;
    *w = (work){.problem = p, .groups = p->rows < most ? p->rows : most, .wide = p->width + 1};
    w->sum = calloc(w->groups * w->wide, sizeof *w->sum);
    w->total = calloc(w->wide, sizeof *w->total);
    w->mean = calloc(w->wide, sizeof *w->mean);
    w->found = calloc(p->count, sizeof *w->found);
    w->drawn = calloc(p->count * draws, sizeof *w->drawn);
    w->without = calloc(p->count * w->groups, sizeof *w->without);
    w->times = calloc(w->groups, sizeof *w->times);
    return w->sum && w->total && w->mean && w->found && w->drawn && w->without && w->times;
}

/* ------------------------------------------------------------------ sums */

static size_t place(double even, size_t count)
{
    const size_t at = (size_t)(even * (double)count);
    return at < count ? at : count - 1;
}

static void add(double *to, const double *numbers, double times, size_t count)
{
    for (size_t i = 0; i < count; i++)
        to[i] += times * numbers[i];
}

/* Sums the rows up; any order of the rows gives groups that are alike, a grid's order too. */
static void sum_rows(work *w, uint64_t seed)
{
    const resample_problem *p = w->problem;
    w->mean[0] = 1;
    for (size_t r = 0; r < p->rows; r++) {
        const size_t group =
            w->groups == p->rows ? r : place(random_even(seed, GROUPS_STREAM, r), w->groups);
        p->row(p->user, r, w->mean + 1);
        add(w->sum + group * w->wide, w->mean, 1, w->wide);
        add(w->total, w->mean, 1, w->wide);
    }
}

/* The statistics of the sum in w->mean, which becomes a mean; into found[count], `step` apart. */
static void look(work *w, double *out, size_t step)
{
    const size_t count = w->problem->count;
    const double rows = w->mean[0];
    for (size_t i = 0; i < w->wide; i++)
        w->mean[i] /= rows;
    for (size_t i = 0; i < count; i++)
        w->found[i] = NAN;
    if (rows > 0)
        w->problem->statistics(w->problem->user, w->mean + 1, w->found);
    for (size_t i = 0; i < count; i++)
        out[i * step] = w->found[i];
}

static void look_at_draws(work *w, const resample_settings *settings)
{
    for (size_t d = 0; d < settings->draws; d++) {
        memset(w->times, 0, w->groups * sizeof *w->times);
        for (size_t g = 0; g < w->groups; g++)
            w->times[place(random_even(settings->seed, DRAWS_FROM + d, g), w->groups)]++;
        memset(w->mean, 0, w->wide * sizeof *w->mean);
        for (size_t g = 0; g < w->groups; g++)
            if (w->times[g])
                add(w->mean, w->sum + g * w->wide, w->times[g], w->wide);
        look(w, w->drawn + d, settings->draws);
    }
}

static void look_without_each(work *w)
{
    for (size_t g = 0; g < w->groups; g++) {
        memcpy(w->mean, w->total, w->wide * sizeof *w->mean);
        add(w->mean, w->sum + g * w->wide, -1, w->wide);
        look(w, w->without + g, w->groups);
    }
}

/* ------------------------------------------------------------------ intervals */

size_t resample_keep_numbers(double *x, size_t count)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++)
        if (isfinite(x[i]))
            x[kept++] = x[i];
    return kept;
}

/* c of the header; 0 where nothing varies. */
static double acceleration(const double *without, size_t count)
{
    const double mean = count ? gsl_stats_mean(without, 1, count) : 0;
    double square = 0, cube = 0;
    for (size_t i = 0; i < count; i++) {
        const double u = mean - without[i];
        square += u * u;
        cube += u * u * u;
    }
    return square > 0 ? cube / (6 * pow(square, 1.5)) : 0;
}

/* z0 of the header, of sorted draws; where all lie on one side, as if half a draw did not. */
static double median_bias(const double *drawn, size_t count, double value)
{
    double below = 0;
    for (size_t i = 0; i < count; i++)
        below += drawn[i] < value ? 1 : drawn[i] == value ? 0.5 : 0;
    return gsl_cdf_ugaussian_Pinv(fmin(fmax(below, 0.5), (double)count - 0.5) / (double)count);
}

/* a(p) of the header; beyond the point where the formula turns back, the last draw. */
static double adjusted(double p, double z0, double c)
{
    const double z = z0 + gsl_cdf_ugaussian_Pinv(p), bend = 1 - c * z;
    if (bend <= 0)
        return p < 0.5 ? 0 : 1;
    return gsl_cdf_ugaussian_P(z0 + z / bend);
}

static caber_status interval(work *w, size_t statistic, const resample_settings *settings,
                             resample_range *out, caber_message *message)
{
    double *drawn = w->drawn + statistic * settings->draws;
    double *without = w->without + statistic * w->groups;
    const size_t count = resample_keep_numbers(drawn, settings->draws);
    if (!isfinite(out->value) || 2 * count < settings->draws)
        return message_set(message, CABER_BAD_INPUT,
                           "%zu rows are too few, or too much alike, for an interval",
                           w->problem->rows);
    qsort(drawn, count, sizeof *drawn, order_doubles);
    const double c = acceleration(without, resample_keep_numbers(without, w->groups));
    const double z0 = median_bias(drawn, count, out->value), tail = (1 - settings->level) / 2;
    out->low = gsl_stats_quantile_from_sorted_data(drawn, 1, count, adjusted(tail, z0, c));
    out->high = gsl_stats_quantile_from_sorted_data(drawn, 1, count, adjusted(1 - tail, z0, c));
    return CABER_OK;
}

static caber_status check(const resample_problem *p, const resample_settings *s,
                          caber_message *message)
{
    if (s->draws < RESAMPLE_DRAWS_LEAST || s->draws > RESAMPLE_DRAWS_MOST)
        return message_set(message, CABER_BAD_INPUT, "%zu draws: allowed are %d to %d", s->draws,
                           RESAMPLE_DRAWS_LEAST, RESAMPLE_DRAWS_MOST);
    if (!(s->level >= 0.5 && s->level <= 0.999))
        return message_set(message, CABER_BAD_INPUT, "a level of %g: allowed is 0.5 to 0.999",
                           s->level);
    if (p->rows < 2)
        return message_set(message, CABER_BAD_INPUT, "an interval needs 2 rows at least");
    return CABER_OK;
}

caber_status resample_run(const resample_problem *problem, const resample_settings *settings,
                          resample_range *out, caber_message *message)
{
    work w;
    caber_status status = check(problem, settings, message);
    if (status != CABER_OK)
        return status;
    if (!work_create(&w, problem, settings->draws)) {
        work_free(&w);
        return message_set(message, CABER_NO_MEMORY, "out of memory for intervals");
    }
    sum_rows(&w, settings->seed);
    look_at_draws(&w, settings);
    look_without_each(&w);
    memcpy(w.mean, w.total, w.wide * sizeof *w.mean);
    look(&w, w.found, 1);
    for (size_t i = 0; i < problem->count; i++)
        out[i].value = w.found[i];
    for (size_t i = 0; status == CABER_OK && i < problem->count; i++)
        status = interval(&w, i, settings, &out[i], message);
    work_free(&w);
    return status == CABER_OK ? message_clear(message) : status;
}
