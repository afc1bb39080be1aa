/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "app/json.h"
#include "app/outputs.h"
#include "app/scatter.h"

static json_t *json_share(const caber_share *share)
{
    return json_pack("{sI sf sf sf}", "count", (json_int_t)share->count, "share", share->share,
                     "low", share->low, "high", share->high);
}

static json_t *json_habits(const caber_repeat *repeat)
{
    json_t *object = json_object();
    for (int k = 0; k < CABER_HABITS; k++) {
        const caber_habit_note habit = caber_habit_about((caber_habit)k);
        json_object_set_new(object, habit.name,
                            json_pack("{sf ss ss}", "sd",
                                      habit.factor * caber_habit_sd(repeat, (caber_habit)k), "unit",
                                      habit.unit, "meaning", habit.meaning));
    }
    return object;
}

/* By habit: share or own. */
static json_t *json_causes(const double *value)
{
    json_t *object = json_object();
    for (int k = 0; k < CABER_HABITS; k++)
        json_object_set_new(object, caber_habit_about((caber_habit)k).name, json_real(value[k]));
    return object;
}

static json_t *json_percentiles(size_t output, const caber_spread *s)
{
    json_t *list = json_array();
    for (int p = 0; p < CABER_PERCENTILES; p++)
        json_array_append_new(list, outputs_json(outputs_printed(output, s->percentile[p])));
    return list;
}

static json_t *json_spread(size_t output, const caber_spread *s)
{
    const struct {
        const char *name;
        double value;
    } numbers[] = {{"usual", s->usual},         {"mean", s->mean}, {"mean_low", s->mean_low},
                   {"mean_high", s->mean_high}, {"sd", s->sd},     {"sd_low", s->sd_low},
                   {"sd_high", s->sd_high}};
    json_t *object = json_object();
    int failed = !object;
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        failed |= json_object_set_new(object, numbers[i].name,
                                      outputs_json(outputs_printed(output, numbers[i].value)));
    failed |= json_object_set_new(object, "percentiles", json_percentiles(output, s));
    failed |= json_object_set_new(object, "share", json_causes(s->share));
    failed |= json_object_set_new(object, "own", json_causes(s->own));
    failed |= json_object_set_new(object, "rest", json_real(s->rest));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

static json_t *json_landing(const caber_landing *l)
{
    return json_pack("{sf sf so sf sf sf sf sf sf so so so so}", "carry_m", l->carry, "side_m",
                     l->side, "covariance_m2",
                     json_pack("[fff]", l->covariance[0], l->covariance[1], l->covariance[2]),
                     "major_m", l->major, "minor_m", l->minor, "turn_deg", l->turn * CABER_DEG,
                     "scale_50", l->scale_50, "scale_90", l->scale_90, "area_90_m2", l->area_90,
                     "within_50", json_share(&l->within_50), "within_90", json_share(&l->within_90),
                     "fairway", json_share(&l->fairway), "aimed", json_share(&l->aimed));
}

static json_t *json_club(const scatter_view *view, size_t club)
{
    const caber_scatter_club *c = &view->found->clubs[club];
    const caber_setup *setup = view->setups[club];
    json_t *outputs = json_object();
    int failed = !outputs;
    for (size_t i = 0; i < caber_output_count(); i++)
        failed |= json_object_set_new(outputs, caber_output_field(i)->name,
                                      json_spread(i, &c->spreads[i]));
    json_t *object = json_pack("{ss ss sI sI sI}", "setup", setup->name, "player",
                               setup->player.name, "swings", (json_int_t)c->draws.count, "failed",
                               (json_int_t)c->draws.failed, "unflown", (json_int_t)c->unflown);
    if (c->draws.failed) {
        failed |= json_object_set_new(object, "first_failed",
                                      json_integer((json_int_t)c->draws.first_failed + 1));
        failed |= json_object_set_new(object, "failure", json_string(c->draws.failure.text));
    }
    failed |= json_object_set_new(object, "habits", json_habits(&setup->player.repeat));
    failed |= json_object_set_new(object, "outputs", outputs);
    failed |= json_object_set_new(object, "landing", json_landing(&c->landing));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

/* ------------------------------------------------------------------ two setups */

static json_t *json_steadier(caber_steadier steadier)
{
    return steadier == CABER_NOT_TOLD_APART
               ? json_null()
               : json_string(steadier == CABER_FIRST_STEADIER ? "first" : "second");
}

static json_t *json_contrast(const caber_contrast *c, double factor)
{
    return json_pack("{so so so}", "value", outputs_json(factor * c->value), "low",
                     outputs_json(factor * c->low), "high", outputs_json(factor * c->high));
}

static json_t *json_beside(const caber_scatter_contrast *contrast)
{
    json_t *outputs = json_object();
    int failed = !outputs;
    for (size_t i = 0; i < caber_output_count(); i++) {
        const caber_output_contrast *c = &contrast->outputs[i];
        failed |= json_object_set_new(
            outputs, caber_output_field(i)->name,
            json_pack("{so so so so sb}", "mean_difference",
                      json_contrast(&c->difference, caber_output_field(i)->factor), "sd_ratio",
                      json_contrast(&c->ratio, 1), "p", outputs_json(c->p), "steadier",
                      json_steadier(c->steadier), "alike", (int)c->alike));
    }
    json_t *object = json_pack(
        "{sI so so so sb sb sb so so so}", "pairs", (json_int_t)contrast->pairs, "steadier",
        json_steadier(contrast->overall), "steadier_carry", json_steadier(contrast->carry),
        "steadier_side", json_steadier(contrast->side), "alike", (int)contrast->alike,
        "alike_carry", (int)contrast->carry_alike, "alike_side", (int)contrast->side_alike,
        "area_ratio", json_contrast(&contrast->area, 1), "fairway_difference",
        json_contrast(&contrast->fairway, 1), "aimed_difference",
        json_contrast(&contrast->aimed, 1));
    failed |= json_object_set_new(object, "outputs", outputs);
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

json_t *scatter_json(const scatter_view *view)
{
    const caber_scatter_settings *s = &view->found->settings;
    json_t *clubs = json_array(), *percentiles = json_array();
    int failed = 0;
    for (size_t i = 0; i < view->count; i++)
        failed |= json_array_append_new(clubs, json_club(view, i));
    for (int p = 0; p < CABER_PERCENTILES; p++)
        failed |= json_array_append_new(percentiles, json_real(caber_percentiles()[p]));
    json_t *object = json_pack("{si si sf sf sf so so}", "swings", s->swings, "seed", s->seed,
                               "fairway_m", s->fairway, "level", s->level, "worth", s->worth,
                               "percentiles", percentiles, "setups", clubs);
    if (view->count > 1)
        failed |= json_object_set_new(object, "contrast", json_beside(view->found->contrasts));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

/* ------------------------------------------------------------------ beside it */

json_t *scatter_points_json(const scatter_view *view)
{
    const size_t carry = caber_output_find("carry_m"), side = caber_output_find("side_m");
    json_t *all = json_array();
    for (size_t c = 0; c < view->count; c++) {
        const caber_scatter_club *club = &view->found->clubs[c];
        json_t *along = json_array(), *across = json_array();
        for (int i = 0; i < view->found->settings.swings; i++) {
            if (!club->good[i])
                continue;
            json_array_append_new(
                along,
                json_real(outputs_printed(carry, caber_outcome_number(&club->outcomes[i], carry))));
            json_array_append_new(
                across,
                json_real(outputs_printed(side, caber_outcome_number(&club->outcomes[i], side))));
        }
        json_array_append_new(all, json_pack("{so so}", "carry_m", along, "side_m", across));
    }
    return all;
}

void scatter_notes(const scatter_view *view, json_t *notes)
{
    for (size_t i = 0; i < view->count; i++)
        given_note_draws(notes, view->names[i], &view->found->clubs[i].draws);
    given_note_players(notes, (const caber_setup *const *)view->setups, view->count);
    json_app_note(notes, "the intervals say how well so many swings tell a mean and a spread, not "
                         "how well the habits in the player's file are known");
}
