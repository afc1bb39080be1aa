/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/compare.h"
#include "app/json.h"
#include "app/outputs.h"

static json_t *json_retuning(const caber_retuning *r)
{
    return json_pack("{sf sf sf sf si}", "hub_peak_scale", r->scale, "release_shift_ms",
                     1e3 * r->shift, "speed_off_mps", r->speed_off, "lean_off_deg",
                     r->lean_off * CABER_DEG, "swings", r->swings);
}

static json_t *json_setup(const compare_view *view, size_t i)
{
    const caber_setup *setup = view->setups[i];
    const caber_compared *c = &view->found->setups[i];
    json_t *object =
        json_pack("{ss ss ss ss sb}", "setup", setup->name, "shaft", setup->shaft.name, "head",
                  setup->head.name, "player", setup->player.name, "flies", (int)c->outcome.flies);
    int failed = !object;
    if (!c->outcome.flies)
        failed |= json_object_set_new(object, "why", json_string(c->why.text));
    if (view->found->settings.keep == CABER_KEEP_DELIVERY && i > 0)
        failed |= json_object_set_new(object, "retuning", json_retuning(&c->retuning));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

/* Null where a number is not known or not finite. */
static json_t *json_output(const compare_view *view, size_t output)
{
    const caber_change_of_output *o = &view->found->outputs[output];
    const caber_field *f = caber_output_field(output);
    json_t *values = json_array(), *differences = json_array(), *times = json_array();
    int failed = 0;
    for (size_t i = 0; i < view->count; i++) {
        const double value = caber_outcome_number(&view->found->setups[i].outcome, output);
        failed |= json_array_append_new(values, outputs_json(f->factor * value));
        failed |= json_array_append_new(differences, outputs_json(f->factor * o->difference[i]));
        failed |= json_array_append_new(times, outputs_json(o->times[i]));
    }
    json_t *object = json_pack("{ss ss so so so so}", "name", f->name, "unit", f->unit, "sd",
                               outputs_json(f->factor * o->sd), "values", values, "differences",
                               differences, "times", times);
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

static json_t *json_spread(const compare_view *view)
{
    const caber_comparison *c = view->found;
    if (!c->spread_known)
        return json_pack("{sb ss}", "known", 0, "why", c->no_spread.text);
    return json_pack("{sb sI sI si}", "known", 1, "swings", (json_int_t)c->draws.count, "failed",
                     (json_int_t)c->draws.failed, "seed", c->settings.seed);
}

json_t *compare_json(const compare_view *view)
{
    json_t *setups = json_array(), *outputs = json_array();
    int failed = 0;
    for (size_t i = 0; i < view->count; i++)
        failed |= json_array_append_new(setups, json_setup(view, i));
    for (size_t i = 0; i < caber_output_count(); i++)
        failed |= json_array_append_new(outputs, json_output(view, view->found->order[i]));
    json_t *object =
        json_pack("{ss so so so}", "keep", compare_keep_name(view->found->settings.keep), "spread",
                  json_spread(view), "setups", setups, "outputs", outputs);
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

void compare_notes(const compare_view *view, json_t *notes)
{
    const caber_comparison *c = view->found;
    given_note_draws(notes, "", &c->draws);
    given_note_players(notes, (const caber_setup *const *)view->setups, view->count);
    if (!c->spread_known)
        json_app_note(notes, "there is no spread to hold the differences against: %s",
                      c->no_spread.text);
    for (size_t i = 0; i < view->count; i++)
        if (!c->setups[i].outcome.flies)
            json_app_note(notes, "no flight of the ball of %s: %s", view->names[i],
                          c->setups[i].why.text);
}
