/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/influence_morris.h"

#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

#include "base/message.h"
#include "base/random.h"
#include "study/influence.h"

/* Of the size of the effects: as good as straight. */
static const double straight = 0.1;
/* A coordinate that differs by less has not moved. */
static const double still = 1e-9;

size_t influence_morris_cases(size_t factors, size_t trajectories)
{
    return trajectories * (factors + 1);
}

/* ------------------------------------------------------------------ the design */

/* Whole number in [0, count), number `item` of a trajectory. */
static size_t pick(uint64_t seed, size_t trajectory, size_t item, size_t count)
{
    const size_t at = (size_t)(random_even(seed, trajectory, item) * (double)count);
    return at < count ? at : count - 1;
}

/* Items of a trajectory: places, directions, order. */
static void fill_trajectory(size_t k, size_t trajectory, size_t levels, uint64_t seed,
                            size_t *order, double *x)
{
    const double pitch = 1.0 / (double)(levels - 1);
    for (size_t i = 0; i < k; i++) {
        const size_t low = pick(seed, trajectory, i, levels / 2);
        const size_t up = pick(seed, trajectory, k + i, 2) ? levels / 2 : 0;
        x[i] = (double)(low + up) * pitch;
        order[i] = i;
    }
    for (size_t i = 0; i < k; i++) {
        const size_t j = i + pick(seed, trajectory, 2 * k + i, k - i), moved = order[j];
        order[j] = order[i];
        order[i] = moved;
    }
    for (size_t step = 0; step < k; step++) {
        const double *before = x + step * k;
        double *after = x + (step + 1) * k;
        for (size_t i = 0; i < k; i++)
            after[i] = before[i];
        const size_t place = (size_t)lround(before[order[step]] / pitch);
        after[order[step]] =
            (double)(place < levels / 2 ? place + levels / 2 : place - levels / 2) * pitch;
    }
}

caber_status influence_morris_design(size_t factors, size_t trajectories, size_t levels,
                                     uint64_t seed, double *x, caber_message *message)
{
    if (factors == 0 || trajectories == 0)
        return message_set(message, CABER_BAD_INPUT,
                           "a Morris design needs factors and trajectories");
    if (levels < INFLUENCE_LEVELS_LEAST || levels > INFLUENCE_LEVELS_MOST || levels % 2)
        return message_set(message, CABER_BAD_INPUT,
                           "%zu levels: allowed are even numbers from %d to %d", levels,
                           INFLUENCE_LEVELS_LEAST, INFLUENCE_LEVELS_MOST);
    size_t *order = malloc(factors * sizeof *order);
    if (!order)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a design");
    for (size_t t = 0; t < trajectories; t++)
        fill_trajectory(factors, t, levels, seed, order, x + t * (factors + 1) * factors);
    free(order);
    return message_clear(message);
}

/* ------------------------------------------------------------------ the effects */

/* Elementary effects, [factors][trajectories]; NaN where there is none. */
typedef struct effects {
    size_t factors, trajectories;
    double *item;
} effects;

/* The one factor that moves between two cases; `k` when it is not one. */
static size_t moved_between(const double *before, const double *after, size_t k)
{
    size_t found = k;
    for (size_t i = 0; i < k; i++) {
        if (fabs(after[i] - before[i]) <= still)
            continue;
        if (found < k)
            return k;
        found = i;
    }
    return found;
}

static caber_status fill_effects(const double *x, const double *y, const effects *e,
                                 caber_message *message)
{
    const size_t k = e->factors;
    for (size_t i = 0; i < k * e->trajectories; i++)
        e->item[i] = INFINITY; /* not moved yet */
    for (size_t t = 0; t < e->trajectories; t++)
        for (size_t step = 0; step < k; step++) {
            const size_t at = t * (k + 1) + step;
            const double *before = x + at * k, *after = before + k;
            const size_t i = moved_between(before, after, k);
            if (i == k || !isinf(e->item[i * e->trajectories + t]))
                return message_set(
                    message, CABER_BAD_INPUT,
                    "cases %zu and %zu: in a trajectory of a Morris design each case "
                    "moves one factor, and each factor moves once",
                    at, at + 1);
            const double change = y[at + 1] - y[at];
            e->item[i * e->trajectories + t] =
                isfinite(change) ? change / (after[i] - before[i]) : (double)NAN;
        }
    return CABER_OK;
}

static void size_row(void *user, size_t row, double *numbers)
{
    const double *effect = user;
    numbers[0] = fabs(effect[row]);
}

static void size_mean(void *user, const double *mean, double *out)
{
    (void)user;
    out[0] = mean[0];
}

static influence_shape shape_of(const double *effect, const influence_effect *of)
{
    bool up = false, down = false;
    for (size_t i = 0; i < of->count; i++) {
        up = up || effect[i] > 0;
        down = down || effect[i] < 0;
    }
    if (!up && !down)
        return INFLUENCE_NONE;
    if (of->sd <= straight * of->size.value)
        return INFLUENCE_STRAIGHT;
    return up && down ? INFLUENCE_BOTH_WAYS : INFLUENCE_ONE_WAY;
}

/* Of the effects of one factor, [count] of them, none NaN. */
static caber_status effect_of(double *effect, const resample_settings *settings,
                              influence_effect *out, caber_message *message)
{
    const resample_problem problem = {.rows = out->count,
                                      .width = 1,
                                      .count = 1,
                                      .row = size_row,
                                      .statistics = size_mean,
                                      .user = effect};
    out->mean = gsl_stats_mean(effect, 1, out->count);
    out->sd = gsl_stats_sd_m(effect, 1, out->count, out->mean);
    const caber_status status = resample_run(&problem, settings, &out->size, message);
    if (!influence_varies(out->sd, out->size.value))
        out->sd = 0;
    if (status == CABER_OK)
        out->shape = shape_of(effect, out);
    return status;
}

static caber_status summarise(const effects *e, const char *const *names,
                              const resample_settings *settings, influence_morris *out,
                              caber_message *message)
{
    for (size_t i = 0; i < e->factors; i++) {
        double *of = e->item + i * e->trajectories;
        char text[32];
        out->effect[i].count = resample_keep_numbers(of, e->trajectories);
        if (out->effect[i].count < INFLUENCE_EFFECTS_LEAST)
            return message_set(message, CABER_BAD_INPUT,
                               "factor %s has %zu elementary effects without a failed case: %d are "
                               "needed",
                               influence_name(names, i, text), out->effect[i].count,
                               INFLUENCE_EFFECTS_LEAST);
        const caber_status status = effect_of(of, settings, &out->effect[i], message);
        if (status != CABER_OK)
            return status;
    }
    return message_clear(message);
}

caber_status influence_morris_run(const double *x, const double *y, size_t factors,
                                  size_t trajectories, const char *const *names,
                                  const resample_settings *settings, influence_morris **out,
                                  caber_message *message)
{
    *out = NULL;
    const effects e = {factors, trajectories,
                       malloc((factors * trajectories + 1) * sizeof(double))};
    influence_morris *found = calloc(1, sizeof *found);
    if (found)
        found->effect = calloc(factors + 1, sizeof *found->effect);
    caber_status status = CABER_OK;
    if (!found || !found->effect || !e.item)
        status = message_set(message, CABER_NO_MEMORY, "out of memory for effects");
    else
        status = fill_effects(x, y, &e, message);
    if (status == CABER_OK) {
        found->count = factors;
        found->trajectories = trajectories;
        for (size_t i = 0; i < influence_morris_cases(factors, trajectories); i++)
            found->failed += !isfinite(y[i]);
        status = summarise(&e, names, settings, found, message);
    }
    free(e.item);
    if (status == CABER_OK)
        *out = found;
    else
        influence_morris_free(found);
    return status;
}

void influence_morris_free(influence_morris *morris)
{
    if (!morris)
        return;
    free(morris->effect);
    free(morris);
}
