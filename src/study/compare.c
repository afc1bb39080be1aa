/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber_compare_run: setups side by side.
 *
 * The yardstick of a difference d of an output is its standard deviation s from swing to swing with the first
 * setup: d/s is how many times what that player's swings vary by. It says nothing of whether a difference is
 * real: both swings are computed, so it is. It says whether a player could ever notice. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>

#include "base/message.h"
#include "study/outputs.h"
#include "study/retune.h"
#include "swing/once.h"

/* Below this share of itself an output's spread is the integrator's. */
static const double unmoved = 1e-6;

caber_compare_settings caber_compare_default(void)
{
    const caber_scatter_settings usual = caber_scatter_default();
    return (caber_compare_settings){.keep = CABER_KEEP_LOAD,
                                    .swings = usual.swings,
                                    .seed = usual.seed,
                                    .threads = usual.threads};
}

/* ------------------------------------------------------------------ each setup */

/* Swings a setup, re-tuned to the first one's delivery or as it is. */
static caber_status swing_setup(const caber_setup *setup, const caber_comparison *c, size_t which,
                                caber_compared *out, caber_swing *swing, caber_message *message)
{
    out->retuning.scale = 1;
    if (c->settings.keep == CABER_KEEP_LOAD || which == 0)
        return swing_once(setup, swing, NULL, message);
    caber_setup own = *setup; /* what it owns is only read */
    const caber_impact *first = &c->setups[0].outcome.swing.bent;
    return retune_run(&own, first->head_speed, first->handle_lean, &out->retuning, swing, message);
}

static caber_status run_setup(shot_work *shots, const caber_setup *setup, caber_comparison *c,
                              size_t which, caber_message *message)
{
    caber_swing swing;
    caber_compared *out = &c->setups[which];
    caber_status status = swing_setup(setup, c, which, out, &swing, message);
    if (status != CABER_OK)
        return status;
    status = outcome_fill(shots, setup, &swing, caber_shot_place(setup, &swing), &out->outcome,
                          &out->why);
    if (status == CABER_OK)
        return message_clear(&out->why);
    return status == CABER_BAD_INPUT ? CABER_OK : message_set(message, status, "%s", out->why.text);
}

static caber_status run_setups(const caber_setup *const *setups, caber_comparison *c,
                               caber_message *message)
{
    shot_work *shots;
    caber_message why = {""};
    caber_status status = shot_work_create(&shots, message);
    if (status != CABER_OK)
        return status;
    for (size_t i = 0; i < c->count && status == CABER_OK; i++) {
        status = run_setup(shots, setups[i], c, i, &why);
        if (status != CABER_OK)
            message_set(message, status, "setup %zu, %s: %.800s", i + 1, setups[i]->name, why.text);
    }
    shot_work_free(shots);
    return status;
}

/* ------------------------------------------------------------------ the yardstick */

static bool has_habits(const caber_repeat *repeat)
{
    for (int k = 0; k < CABER_HABITS; k++)
        if (caber_habit_sd(repeat, (caber_habit)k) > 0)
            return true;
    return false;
}

static caber_status find_spread(const caber_setup *first, caber_comparison *c,
                                caber_message *message)
{
    if (!has_habits(&first->player.repeat)) {
        message_set(&c->no_spread, CABER_OK, "player %s has no habits (repeat)",
                    first->player.name);
        return CABER_OK;
    }
    if (!c->setups[0].outcome.flies) {
        c->no_spread = c->setups[0].why;
        return CABER_OK;
    }
    caber_scatter *scatter;
    caber_scatter_settings settings = caber_scatter_default();
    settings.swings = c->settings.swings;
    settings.seed = c->settings.seed;
    settings.threads = c->settings.threads;
    settings.watch = c->settings.watch;
    const caber_status status = caber_scatter_run(&first, 1, &settings, &scatter, message);
    if (status != CABER_OK)
        return status;
    c->spread_known = true;
    c->draws = scatter->clubs[0].draws;
    for (size_t i = 0; i < caber_output_count(); i++)
        c->outputs[i].sd = scatter->clubs[0].spreads[i].sd;
    caber_scatter_free(scatter);
    return CABER_OK;
}

/* ------------------------------------------------------------------ differences */

/* How large a difference is beside what is known of the output. */
static double times_of(const caber_comparison *c, double sd, double first, double other,
                       double difference)
{
    const double size = fmax(fabs(first), fabs(other));
    if (isnan(difference) || difference == 0)
        return difference;
    if (!c->spread_known)
        return difference / size;
    return sd > unmoved * size ? difference / sd : copysign(INFINITY, difference);
}

static void find_differences(caber_comparison *c)
{
    for (size_t i = 0; i < caber_output_count(); i++) {
        caber_change_of_output *o = &c->outputs[i];
        const double first = caber_outcome_number(&c->setups[0].outcome, i);
        for (size_t k = 1; k < c->count; k++) {
            const double other =
                output_near(i, caber_outcome_number(&c->setups[k].outcome, i), first);
            o->difference[k] = other - first;
            o->times[k] = times_of(c, o->sd, first, other, o->difference[k]);
        }
    }
}

/* The largest of any setup; what has no number comes last. */
static double largest_times(const caber_comparison *c, size_t output)
{
    double most = -1;
    for (size_t k = 1; k < c->count; k++)
        most = fmax(most, fabs(c->outputs[output].times[k]));
    return most;
}

/* Insertion, which keeps the order of outputs that are alike. */
static void find_order(caber_comparison *c)
{
    for (size_t i = 0; i < caber_output_count(); i++) {
        const double times = largest_times(c, i);
        size_t at = i;
        for (; at > 0 && largest_times(c, c->order[at - 1]) < times; at--)
            c->order[at] = c->order[at - 1];
        c->order[at] = i;
    }
}

/* ------------------------------------------------------------------ the whole */

static caber_status check(size_t count, const caber_compare_settings *s, caber_message *message)
{
    if (count < CABER_COMPARE_LEAST || count > CABER_COMPARE_MOST)
        return message_set(message, CABER_BAD_INPUT, "%zu setups: %d to %d can be compared", count,
                           CABER_COMPARE_LEAST, CABER_COMPARE_MOST);
    if (s->keep != CABER_KEEP_LOAD && s->keep != CABER_KEEP_DELIVERY)
        return message_set(message, CABER_BAD_INPUT, "keep: %d is none of caber_keep",
                           (int)s->keep);
    if (s->swings < CABER_SWINGS_LEAST || s->swings > CABER_SWINGS_MOST)
        return message_set(message, CABER_BAD_INPUT, "swings: %d is not from %d to %d", s->swings,
                           CABER_SWINGS_LEAST, CABER_SWINGS_MOST);
    if (s->seed < 0)
        return message_set(message, CABER_BAD_INPUT, "seed: %d is below 0", s->seed);
    if (s->threads < 0 || s->threads > CABER_THREADS_MOST)
        return message_set(message, CABER_BAD_INPUT, "threads: %d is not from 0 to %d", s->threads,
                           CABER_THREADS_MOST);
    return CABER_OK;
}

static caber_comparison *create(size_t count, const caber_compare_settings *settings)
{
    const size_t outputs = caber_output_count();
    caber_comparison *c = calloc(1, sizeof *c);
    if (!c)
        return NULL;
    c->settings = *settings;
    c->count = count;
    c->setups = calloc(count, sizeof *c->setups);
    c->outputs = calloc(outputs, sizeof *c->outputs);
    c->order = calloc(outputs, sizeof *c->order);
    for (size_t i = 0; c->outputs && i < outputs; i++)
        c->outputs[i].sd = NAN;
    return c;
}

caber_status caber_compare_run(const caber_setup *const *setups, size_t count,
                               const caber_compare_settings *settings, caber_comparison **out,
                               caber_message *message)
{
    *out = NULL;
    gsl_set_error_handler_off();
    caber_status status = check(count, settings, message);
    if (status != CABER_OK)
        return status;
    caber_comparison *c = create(count, settings);
    if (!c || !c->setups || !c->outputs || !c->order)
        status = message_set(message, CABER_NO_MEMORY, "out of memory to compare setups");
    if (status == CABER_OK)
        status = run_setups(setups, c, message);
    if (status == CABER_OK)
        status = find_spread(setups[0], c, message);
    if (status != CABER_OK) {
        caber_comparison_free(c);
        return status;
    }
    find_differences(c);
    find_order(c);
    *out = c;
    return message_clear(message);
}

void caber_comparison_free(caber_comparison *comparison)
{
    if (!comparison)
        return;
    free(comparison->setups);
    free(comparison->outputs);
    free(comparison->order);
    free(comparison);
}
