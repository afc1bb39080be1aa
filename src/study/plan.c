/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/plan.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "study/habit.h"
#include "swing/check.h"

size_t plan_points(const caber_study *plan)
{
    return design_count(plan->design);
}

static size_t swings_a_point(const caber_study *plan)
{
    return plan->replicates ? plan->replicates : 1;
}

size_t plan_cases(const caber_study *plan)
{
    return plan_points(plan) * swings_a_point(plan);
}

size_t plan_point_of(const caber_study *plan, size_t index)
{
    return index / swings_a_point(plan);
}

size_t plan_replicate_of(const caber_study *plan, size_t index)
{
    return index % swings_a_point(plan);
}

size_t plan_spread_point(const caber_study *plan, size_t i, size_t looks)
{
    const double last = (double)(plan_points(plan) - 1);
    return looks < 2 ? 0 : (size_t)((double)i * last / (double)(looks - 1));
}

void plan_values(const caber_study *plan, size_t point, double *values)
{
    design_values(plan->design, point, values);
}

/* ------------------------------------------------------------------ what is the same */

/* A player's file may bring other drives and tables, which a model keeps. */
static field_part part_of(const plan_factor *f)
{
    return f->chosen ? FIELD_PART_CLUB : f->at.part;
}

/* Whether all factors of a part up to `last` have the same values. */
static bool same_up_to(const caber_study *plan, field_part last, const double *a, const double *b)
{
    for (size_t k = 0; k < plan->factor_count; k++)
        if (part_of(&plan->factors[k]) <= last && memcmp(&a[k], &b[k], sizeof a[k]) != 0)
            return false;
    return true;
}

_Static_assert(FIELD_PART_CLUB < FIELD_PART_PLAYER && FIELD_PART_PLAYER < FIELD_PART_FLIGHT,
               "parts stand in the order in which they are computed");

bool plan_same_club(const caber_study *plan, const double *a, const double *b)
{
    return same_up_to(plan, FIELD_PART_CLUB, a, b);
}

bool plan_same_swing(const caber_study *plan, const double *a, const double *b)
{
    return same_up_to(plan, FIELD_PART_PLAYER, a, b);
}

bool plan_flies(const caber_study *plan)
{
    bool any = false;
    for (size_t i = 0; i < plan->output_count; i++)
        any = any || plan->outputs[i].optional;
    return any;
}

const char *plan_unit(const plan_factor *f)
{
    return f->chosen ? "" : field_address_unit(&f->at)->symbol;
}

bool plan_factor_is_word(const plan_factor *f)
{
    return f->chosen || f->at.field->type == FIELD_WORD || f->at.field->type == FIELD_BOOLEAN;
}

/* ------------------------------------------------------------------ one case */

/* The most entries that any setup of the plan has in its lists. */
typedef struct room {
    size_t stations, sections, weights, pairings;
} room;

static size_t more(size_t a, size_t b)
{
    return a > b ? a : b;
}

static void room_for(room *r, const caber_setup *s)
{
    r->stations = more(r->stations, s->shaft.station_count);
    r->sections = more(r->sections, s->sections.count);
    r->weights = more(r->weights, s->head.weights.count);
    r->pairings = more(r->pairings, s->player.repeat.pairing_count);
}

caber_status plan_case_create(const caber_study *plan, plan_case **out, caber_message *message)
{
    room r = {0};
    room_for(&r, plan->base);
    for (size_t k = 0; k < plan->factor_count; k++)
        for (size_t i = 0; i < plan->factors[k].file_count; i++)
            room_for(&r, plan->factors[k].choices[i]);
    plan_case *c = *out = calloc(1, sizeof *c);
    if (c) {
        c->values = calloc(plan->factor_count, sizeof *c->values);
        c->stations = calloc(r.stations + 1, sizeof *c->stations);
        c->sections = calloc(r.sections + 1, sizeof *c->sections);
        c->weights = calloc(r.weights + 1, sizeof *c->weights);
        c->pairings = calloc(r.pairings + 1, sizeof *c->pairings);
        if (c->values && c->stations && c->sections && c->weights && c->pairings)
            return CABER_OK;
    }
    plan_case_free(c);
    *out = NULL;
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

void plan_case_free(plan_case *c)
{
    if (!c)
        return;
    free(c->values);
    free(c->stations);
    free(c->sections);
    free(c->weights);
    free(c->pairings);
    free(c);
}

/* Copies the entries of a list, which belongs to the plan. */
static void *own(void *to, const void *from, size_t count, size_t size)
{
    if (count)
        memcpy(to, from, count * size);
    return to;
}

static void fill_parts(const caber_study *plan, plan_case *c)
{
    const caber_setup *from[PLAN_PARTS] = {plan->base, plan->base, plan->base, plan->base};
    for (size_t k = 0; k < plan->factor_count; k++)
        if (plan->factors[k].chosen)
            from[plan->factors[k].part] = plan->factors[k].choices[(size_t)c->values[k]];
    caber_setup *s = &c->setup;
    *s = *plan->base;
    s->shaft = from[PLAN_SHAFT]->shaft;
    s->sections = from[PLAN_SHAFT]->sections;
    s->head = from[PLAN_HEAD]->head;
    s->grip = from[PLAN_GRIP]->grip;
    s->player = from[PLAN_PLAYER]->player;
    s->shaft.stations =
        own(c->stations, s->shaft.stations, s->shaft.station_count, sizeof *c->stations);
    s->sections.items = own(c->sections, s->sections.items, s->sections.count, sizeof *c->sections);
    s->head.weights.items =
        own(c->weights, s->head.weights.items, s->head.weights.count, sizeof *c->weights);
    caber_repeat *repeat = &s->player.repeat;
    repeat->pairings =
        own(c->pairings, repeat->pairings, repeat->pairing_count, sizeof *c->pairings);
}

caber_status plan_case_fill(const caber_study *plan, size_t point, plan_case *c,
                            caber_message *message)
{
    c->point = point;
    plan_values(plan, point, c->values);
    fill_parts(plan, c);
    for (size_t k = 0; k < plan->factor_count; k++) {
        const plan_factor *f = &plan->factors[k];
        if (f->chosen)
            continue;
        if (!field_address_exists(&f->at, &c->setup))
            return message_set(message, CABER_BAD_INPUT, "%s: there is no such entry", f->at.path);
        field_address_set(&f->at, &c->setup, c->values[k]);
    }
    return setup_check(&c->setup, message);
}

caber_status plan_case_vary(const caber_study *plan, const plan_case *c, const caber_swing *usual,
                            size_t replicate, caber_setup *varied, caber_message *message)
{
    habits h;
    double z[CABER_HABITS];
    const caber_status status = habits_create(&c->setup.player, &h, message);
    if (status != CABER_OK)
        return status;
    caber_player player = c->setup.player;
    habits_fix_ball(&player, usual);
    habits_draw(&h, plan->seed, replicate, z);
    *varied = c->setup;
    habits_apply(&h, &player, z, &varied->player);
    return setup_check(varied, message);
}

/* ------------------------------------------------------------------ all cases */

static void list_values(const caber_study *plan, const plan_case *c, char *text, size_t size)
{
    size_t used = 0;
    for (size_t k = 0; k < plan->factor_count && used < size; k++) {
        const plan_factor *f = &plan->factors[k];
        char value[96];
        if (f->chosen)
            snprintf(value, sizeof value, "%.80s", f->files[(size_t)c->values[k]]);
        else if (plan_factor_is_word(f))
            field_address_write(&f->at, c->values[k], value, sizeof value);
        else
            quantity_write_short(c->values[k], field_address_unit(&f->at), value, sizeof value);
        const int n =
            snprintf(text + used, size - used, "%s%s = %s", k ? ", " : "", f->name, value);
        used += n > 0 ? (size_t)n : 0;
    }
}

caber_status plan_check(const caber_study *plan, caber_message *message)
{
    const size_t points = plan_points(plan);
    const size_t looks = points < PLAN_CHECKED_MOST ? points : PLAN_CHECKED_MOST;
    plan_case *c;
    caber_status status = plan_case_create(plan, &c, message);
    for (size_t i = 0; i < looks && status == CABER_OK; i++) {
        const size_t point = plan_spread_point(plan, i, looks);
        caber_message why;
        status = plan_case_fill(plan, point, c, &why);
        if (status == CABER_OK)
            continue;
        char values[400];
        list_values(plan, c, values, sizeof values);
        message_set(message, status, "case %zu of %zu (%s): %.500s", point + 1, points, values,
                    why.text);
    }
    plan_case_free(c);
    return status == CABER_OK ? message_clear(message) : status;
}

static void texts_free(char **texts, size_t count)
{
    for (size_t i = 0; texts && i < count; i++)
        free(texts[i]);
    free(texts);
}

void plan_free(caber_study *plan)
{
    if (!plan)
        return;
    free(plan->text);
    texts_free(plan->overrides, plan->override_count);
    for (size_t k = 0; plan->factors && k < plan->factor_count; k++) {
        plan_factor *f = &plan->factors[k];
        for (size_t i = 0; f->choices && i < f->file_count; i++)
            caber_setup_free(f->choices[i]);
        texts_free(f->files, f->file_count);
        texts_free(f->named, f->file_count);
        free(f->choices);
        if (plan->ranges)
            free(plan->ranges[k].values);
    }
    free(plan->factors);
    free(plan->ranges);
    design_free(plan->design);
    free(plan->outputs);
    free(plan->series);
    caber_setup_free(plan->base);
    free(plan);
}
