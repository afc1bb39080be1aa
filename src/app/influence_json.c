/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/influence.h"
#include "app/outputs.h"

static json_t *json_range(const resample_range *r)
{
    return json_pack("{sf sf sf}", "value", r->value, "low", r->low, "high", r->high);
}

/* Drops an object that could not be filled. */
static json_t *json_whole(json_t *object, int failed)
{
    if (object && !failed)
        return object;
    json_decref(object);
    return NULL;
}

static const char *shape_word(influence_shape shape)
{
    static const char *const words[] = {"nothing", "straight", "one-way", "both-ways"};
    return words[shape];
}

/* ------------------------------------------------------------------ one output */

static int add_sobol(json_t *object, json_t *factors, const influence_output *o)
{
    const influence_sobol *f = o->sobol;
    int failed = json_object_set_new(object, "rows", json_integer((json_int_t)f->rows));
    failed |= json_object_set_new(object, "dropped", json_integer((json_int_t)f->dropped));
    failed |= json_object_set_new(object, "mean", outputs_json(f->mean));
    failed |= json_object_set_new(object, "sd", outputs_json(f->sd));
    failed |= json_object_set_new(object, "varies", json_boolean(!f->constant));
    failed |= json_object_set_new(object, "first_sum", json_range(&f->sum));
    for (size_t i = 0; i < f->count; i++)
        failed |= json_object_set_new(factors, o->view.factors[i],
                                      json_pack("{so so}", "first", json_range(&f->index[i].first),
                                                "total", json_range(&f->index[i].total)));
    return failed;
}

static int add_morris(json_t *object, json_t *factors, const influence_output *o)
{
    const influence_morris *f = o->morris;
    int failed =
        json_object_set_new(object, "trajectories", json_integer((json_int_t)f->trajectories));
    failed |= json_object_set_new(object, "failed", json_integer((json_int_t)f->failed));
    for (size_t i = 0; i < f->count; i++) {
        const influence_effect *e = &f->effect[i];
        failed |= json_object_set_new(
            factors, o->view.factors[i],
            json_pack("{so sf sf sI ss}", "mu_star", json_range(&e->size), "mu", e->mean, "sigma",
                      e->sd, "effects", (json_int_t)e->count, "acts", shape_word(e->shape)));
    }
    return failed;
}

static int add_regression(json_t *object, json_t *factors, const influence_output *o)
{
    const influence_regression *f = o->regression;
    int failed = json_object_set_new(object, "rows", json_integer((json_int_t)f->rows));
    failed |= json_object_set_new(object, "dropped", json_integer((json_int_t)f->dropped));
    failed |= json_object_set_new(object, "mean", outputs_json(f->mean));
    failed |= json_object_set_new(object, "sd", outputs_json(f->sd));
    failed |= json_object_set_new(object, "varies", json_boolean(!f->constant));
    failed |= json_object_set_new(object, "explained", json_range(&f->explained));
    for (size_t i = 0; i < f->count; i++)
        failed |=
            json_object_set_new(factors, o->view.factors[i],
                                json_pack("{so sf}", "slope", json_range(&f->factor[i].standard),
                                          "inflation", f->factor[i].inflation));
    return failed;
}

static json_t *json_output(const influence_output *o)
{
    json_t *factors = json_object();
    json_t *object = json_pack("{ss ss sI}", "label", o->label, "unit", o->view.unit, "missing",
                               (json_int_t)o->missing);
    int failed = !object || !factors;
    if (!failed && o->sobol)
        failed |= add_sobol(object, factors, o);
    else if (!failed && o->morris)
        failed |= add_morris(object, factors, o);
    else if (!failed && o->regression)
        failed |= add_regression(object, factors, o);
    else if (!failed)
        failed |= json_object_set_new(object, "why", json_string(o->why.text));
    failed |= json_object_set_new(object, "factors", factors);
    return json_whole(object, failed);
}

/* ------------------------------------------------------------------ the study */

static json_t *json_factor(const influence_factor *f)
{
    json_t *object = json_pack("{ss ss ss ss sf sf}", "name", f->about->name, "path",
                               f->about->path, "meaning", f->about->column->long_name, "unit",
                               f->about->column->units, "low", f->low, "high", f->high);
    json_t *words = json_array();
    int failed = !object || !words;
    for (size_t i = 0; i < f->about->word_count; i++)
        failed |= json_array_append_new(words, json_string(f->about->words[i]));
    if (f->about->words)
        failed |= json_object_set(object, "values", words);
    json_decref(words);
    if (f->left_out)
        failed |= json_object_set_new(object, "left_out", json_string(f->left_out));
    return json_whole(object, failed);
}

json_t *influence_json(const influence_study *s)
{
    const study_notes *n = s->notes;
    json_t *factors = json_array(), *outputs = json_object();
    int failed = 0;
    for (size_t k = 0; k < n->factor_count; k++)
        failed |= json_array_append_new(factors, json_factor(&s->factors[k]));
    for (size_t i = 0; i < s->output_count; i++)
        failed |=
            json_object_set_new(outputs, s->outputs[i].column->name, json_output(&s->outputs[i]));
    json_t *object =
        json_pack("{ss ss ss sb ss sI sI sI sI sI sI sI sf so so}", "study", n->title, "design",
                  design_word(n->design), "method", influence_method_word(s->method), "ranks",
                  (int)s->asked.ranked, "of", s->asked.spread ? "spread" : "mean", "points",
                  (json_int_t)n->points, "swings", (json_int_t)n->swings, "cases",
                  (json_int_t)s->cases, "run", (json_int_t)s->run, "failed", (json_int_t)s->failed,
                  "draws", (json_int_t)s->asked.how.draws, "seed", (json_int_t)s->asked.how.seed,
                  "level", s->asked.how.level, "factors", factors, "outputs", outputs);
    return json_whole(object, failed);
}
