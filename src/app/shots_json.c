/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shots_json.h"

#include <math.h>

#include "app/outputs.h"
#include "study/measured.h"

static json_t *interval(const batch_interval *i)
{
    return i->reason == BATCH_KNOWN
               ? json_pack("[o, o]", outputs_json(i->low), outputs_json(i->high))
               : json_null();
}

/* ------------------------------------------------------------------ batches and cleaning */

static json_t *batches_json(const caber_measured *m)
{
    json_t *list = json_array();
    for (size_t b = 0; list && b < m->batch_count; b++)
        json_array_append_new(list, json_pack("{ss sI sI}", "name", m->batches[b].name, "shots",
                                              (json_int_t)m->batches[b].count, "set_aside",
                                              (json_int_t)m->batches[b].set_aside));
    return list;
}

static json_t *flagged_json(const caber_measured *m, caber_cleaning rule)
{
    json_t *list = json_array();
    char why[160];
    for (size_t i = 0; list && i < m->count; i++) {
        const caber_measured_shot *s = &m->shots[i];
        if (!(s->broken & 1u << rule))
            continue;
        shots_why(m, i, rule, why, sizeof why);
        json_array_append_new(
            list, json_pack("{ss sI ss sb sb ss}", "file", measured_file(m, i), "line",
                            (json_int_t)s->line, "batch", m->batches[s->batch].name, "set_aside",
                            (int)s->set_aside, "brought_back", (int)s->kept, "why", why));
    }
    return list;
}

static json_t *cleaning_json(const caber_measured *m, unsigned rules)
{
    json_t *list = json_array();
    for (int r = 0; list && r < CABER_CLEANINGS; r++)
        json_array_append_new(list,
                              json_pack("{ss ss sb so}", "rule", shots_rule_word((caber_cleaning)r),
                                        "meaning", shots_rule_text((caber_cleaning)r), "sets_aside",
                                        (int)((rules & 1u << r) != 0), "shots",
                                        flagged_json(m, (caber_cleaning)r)));
    return list;
}

/* ------------------------------------------------------------------ outputs */

static json_t *summary_json(const char *name, size_t count, const batch_summary *s)
{
    if (!count)
        return json_pack("{ss si}", "batch", name, "shots", 0);
    return json_pack("{ss sI so so so so so so so so so so so so}", "batch", name, "shots",
                     (json_int_t)count, "mean", outputs_json(s->mean), "mean_interval",
                     interval(&s->mean_t), "mean_bootstrap", interval(&s->mean_bootstrap), "sd",
                     outputs_json(s->sd), "sd_interval", interval(&s->sd_interval), "median",
                     outputs_json(s->median), "median_interval", interval(&s->median_interval),
                     "robust_sd", outputs_json(count > 1 ? s->mad_sd : (double)NAN),
                     "robust_sd_interval", interval(&s->mad_sd_interval), "least",
                     outputs_json(s->least), "most", outputs_json(s->most), "quartiles",
                     json_pack("[o, o]", outputs_json(s->quartile_1), outputs_json(s->quartile_3)));
}

static json_t *test_json(const shots_study *s, const batch_test *t)
{
    if (t->reason != BATCH_KNOWN)
        return json_pack("{sb ss}", "tested", 0, "why", batch_reason_text(t->reason));
    return json_pack("{sb so so so so so sb}", "tested", 1, "statistic", outputs_json(t->statistic),
                     "df", outputs_json(t->df), "df_2", outputs_json(t->df_2), "p",
                     outputs_json(t->p), "p_corrected", outputs_json(t->holm), "told_apart",
                     (int)shots_tells(s, t));
}

/* more_each is null unless that many would settle it. */
static json_t *need_json(const batch_need *n)
{
    return json_pack("{so so so sb}", "more_each",
                     n->kind == BATCH_NEED_MORE ? json_integer(n->more) : json_null(), "power_now",
                     outputs_json(n->power_now), "detectable", outputs_json(n->detectable),
                     "too_alike", (int)(n->kind == BATCH_NEED_ALIKE));
}

static json_t *adjusted_json(const shots_study *s, const batch_adjusted_pair *p)
{
    if (!p)
        return json_null();
    return json_pack("{so so so so so so so}", "difference", outputs_json(p->difference),
                     "difference_interval", interval(&p->interval), "explained",
                     outputs_json(p->explained), "means", test_json(s, &p->test), "sd_ratio",
                     outputs_json(p->sd_ratio), "sd_ratio_interval",
                     interval(&p->sd_ratio_interval), "spreads", test_json(s, &p->spreads));
}

static json_t *pair_json(const shots_study *s, const shots_pair *p)
{
    const caber_measured *m = s->measured;
    const batch_pair *b = &p->stats;
    const bool known = b->g_reason == BATCH_KNOWN;
    return json_pack(
        "{ss ss so so so so so so so so so so so so so}", "of", m->batches[p->later].name, "less",
        m->batches[p->earlier].name, "difference", outputs_json(b->difference),
        "difference_interval", interval(&b->difference_interval), "means", test_json(s, &b->means),
        "means_need", need_json(&p->need_mean), "effect_g",
        known ? outputs_json(b->g) : json_null(), "effect_g_interval", interval(&b->g_interval),
        "effect", known ? json_string(batch_effect_text(b->effect)) : json_null(), "superiority",
        outputs_json(b->superiority), "sd_ratio", outputs_json(b->sd_ratio), "sd_ratio_interval",
        interval(&b->sd_ratio_interval), "spreads", test_json(s, &b->spreads), "spreads_need",
        need_json(&p->need_spread), "adjusted", adjusted_json(s, p->adjusted));
}

static json_t *slopes_json(const shots_study *s, const shots_output *o)
{
    json_t *list = json_array();
    for (size_t k = 0; list && o->adjust.slope && k < o->adjust.covariates; k++) {
        const batch_slope *b = &o->adjust.slope[k];
        json_array_append_new(list, json_pack("{ss so so}", "per", s->covariates[k].name, "slope",
                                              outputs_json(b->slope), "interval",
                                              interval(&b->interval)));
    }
    return list;
}

static json_t *output_json(const shots_study *s, const shots_output *o)
{
    const caber_measured *m = s->measured;
    json_t *batches = json_array(), *pairs = json_array();
    for (size_t b = 0; batches && b < m->batch_count; b++)
        json_array_append_new(batches,
                              summary_json(m->batches[b].name, o->count[b], &o->summary[b]));
    for (size_t k = 0; pairs && k < o->pair_count; k++)
        json_array_append_new(pairs, pair_json(s, &o->pairs[k]));
    json_t *object = json_pack("{ss ss so so}", "name", o->about->name, "unit", o->about->unit,
                               "batches", batches, "pairs", pairs);
    if (!object || !o->has_adjust)
        return object;
    json_object_set_new(object, "slopes", slopes_json(s, o));
    json_object_set_new(object, "shots_without_covariates",
                        json_integer((json_int_t)o->adjust_missing));
    if (o->adjust.why.text[0])
        json_object_set_new(object, "not_adjusted", json_string(o->adjust.why.text));
    return object;
}

json_t *shots_json(const shots_study *s, unsigned rules, const shots_simulated *simulated)
{
    json_t *outputs = json_array(), *covariates = json_array(), *cautions = json_array();
    for (size_t i = 0; outputs && i < s->output_count; i++)
        json_array_append_new(outputs, output_json(s, &s->outputs[i]));
    for (size_t k = 0; covariates && k < s->covariate_count; k++)
        json_array_append_new(covariates, json_string(s->covariates[k].name));
    for (size_t i = 0; cautions && i < s->caution_count; i++)
        json_array_append_new(cautions, json_string(s->cautions[i]));
    const bool complete = json_array_size(outputs) == s->output_count &&
                          json_array_size(covariates) == s->covariate_count &&
                          json_array_size(cautions) == s->caution_count;
    json_t *object =
        json_pack("{so so sf sI sI sI so so so}", "batches", batches_json(s->measured), "cleaning",
                  cleaning_json(s->measured, rules), "level", s->settings.level, "seed",
                  (json_int_t)s->settings.seed, "tests_of_means", (json_int_t)s->tests,
                  "tests_of_spreads", (json_int_t)s->spread_tests, "adjusted_for", covariates,
                  "outputs", outputs, "cautions", cautions);
    if (object && simulated->found)
        json_object_set_new(object, "simulated", shots_simulated_json(simulated, s));
    if (complete)
        return object;
    json_decref(object);
    return NULL;
}
