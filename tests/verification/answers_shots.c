/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Prints as JSON what the statistics of shot batches are for data on standard input: an array of
 * questions there, an array of answers in the same order here. A question is an object, its "ask"
 * one of
 *   summary: value, level, resamples      pair: a, b, level
 *   overall: batches                      holm: p
 *   adjust: value, batch, covariate       noncentral: t, df, delta
 *   power_means: difference, sd_a, sd_b, count_a, count_b, alpha
 *   power_spreads: ratio, evenness, count_a, count_b, alpha
 *   need_means, need_spreads: a, b
 * Numbers that are not known are null. */
#include <gsl/gsl_errno.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study/batch_adjust.h"
#include "study/batch_parts.h"
#include "study/batch_power.h"

static void need(bool good, const char *what)
{
    if (good)
        return;
    fprintf(stderr, "answers_shots: %s\n", what);
    exit(1);
}

static void fine(caber_status status, const caber_message *message)
{
    need(status == CABER_OK, message->text);
}

/* ------------------------------------------------------------------ reading */

static double number(const json_t *q, const char *key)
{
    const json_t *n = json_object_get(q, key);
    need(json_is_number(n), key);
    return json_number_value(n);
}

static batch array(const json_t *a)
{
    need(json_is_array(a), "an array is missing");
    const size_t count = json_array_size(a);
    double *value = calloc(count + 1, sizeof *value);
    need(value != NULL, "out of memory");
    for (size_t i = 0; i < count; i++)
        value[i] = json_number_value(json_array_get(a, i));
    return (batch){.value = value, .count = count};
}

static void array_free(batch b)
{
    double *owned;
    memcpy(&owned, &b.value, sizeof owned);
    free(owned);
}

static batch_settings settings(const json_t *q)
{
    batch_settings s = batch_settings_default();
    if (json_object_get(q, "level"))
        s.level = number(q, "level");
    if (json_object_get(q, "resamples"))
        s.resamples = (int)number(q, "resamples");
    return s;
}

/* ------------------------------------------------------------------ writing */

static void put(json_t *o, const char *key, double value)
{
    json_object_set_new(o, key, isfinite(value) ? json_real(value) : json_null());
}

static void put_interval(json_t *o, const char *key, batch_interval i)
{
    json_t *out = json_object();
    json_object_set_new(out, "reason", json_string(batch_reason_text(i.reason)));
    put(out, "low", i.low);
    put(out, "high", i.high);
    json_object_set_new(o, key, out);
}

static void put_test(json_t *o, const char *key, batch_test t)
{
    json_t *out = json_object();
    json_object_set_new(out, "reason", json_string(batch_reason_text(t.reason)));
    put(out, "statistic", t.statistic);
    put(out, "df", t.df);
    put(out, "df_2", t.df_2);
    put(out, "p", t.p);
    put(out, "holm", t.holm);
    json_object_set_new(o, key, out);
}

/* ------------------------------------------------------------------ questions */

static void ask_summary(const json_t *q, json_t *o)
{
    const batch_settings s = settings(q);
    const batch b = array(json_object_get(q, "value"));
    batch_summary r;
    caber_message message;
    fine(batch_summarise(b.value, b.count, &s, &r, &message), &message);
    put(o, "mean", r.mean);
    put(o, "median", r.median);
    put(o, "quartile_1", r.quartile_1);
    put(o, "quartile_3", r.quartile_3);
    put(o, "mad_sd", r.mad_sd);
    put(o, "sd", r.sd);
    put(o, "standard_error", r.standard_error);
    put_interval(o, "mean_t", r.mean_t);
    put_interval(o, "mean_bootstrap", r.mean_bootstrap);
    put_interval(o, "sd_interval", r.sd_interval);
    put_interval(o, "median_interval", r.median_interval);
    put_interval(o, "mad_sd_interval", r.mad_sd_interval);
    array_free(b);
}

static void ask_pair(const json_t *q, json_t *o)
{
    const batch_settings s = settings(q);
    const batch a = array(json_object_get(q, "a")), b = array(json_object_get(q, "b"));
    batch_pair r;
    caber_message message;
    fine(batch_pair_compare(a.value, a.count, b.value, b.count, &s, &r, &message), &message);
    put(o, "difference", r.difference);
    put(o, "difference_error", r.difference_error);
    put_interval(o, "difference_interval", r.difference_interval);
    put_test(o, "means", r.means);
    put(o, "sd_ratio", r.sd_ratio);
    put_interval(o, "sd_ratio_interval", r.sd_ratio_interval);
    put_test(o, "spreads", r.spreads);
    put(o, "g", r.g);
    put_interval(o, "g_interval", r.g_interval);
    json_object_set_new(o, "effect", json_string(batch_effect_text(r.effect)));
    put(o, "superiority", r.superiority);
    put_interval(o, "superiority_interval", r.superiority_interval);
    array_free(a);
    array_free(b);
}

static void ask_overall(const json_t *q, json_t *o)
{
    const json_t *all = json_object_get(q, "batches");
    const size_t count = json_array_size(all);
    batch *batches = calloc(count + 1, sizeof *batches);
    need(batches != NULL, "out of memory");
    for (size_t i = 0; i < count; i++)
        batches[i] = array(json_array_get(all, i));
    batch_overall r;
    caber_message message;
    fine(batch_overall_compare(batches, count, &r, &message), &message);
    put_test(o, "means", r.means);
    put_test(o, "spreads", r.spreads);
    for (size_t i = 0; i < count; i++)
        array_free(batches[i]);
    free(batches);
}

static void ask_holm(const json_t *q, json_t *o)
{
    const batch p = array(json_object_get(q, "p"));
    batch_test *tests = calloc(p.count + 1, sizeof *tests);
    batch_test **pointers = calloc(p.count + 1, sizeof *pointers);
    caber_message message;
    need(tests && pointers, "out of memory");
    for (size_t i = 0; i < p.count; i++) {
        tests[i] = (batch_test){.reason = BATCH_KNOWN, .p = p.value[i]};
        pointers[i] = &tests[i];
    }
    fine(batch_holm(pointers, p.count, &message), &message);
    json_t *holm = json_array();
    for (size_t i = 0; i < p.count; i++)
        json_array_append_new(holm, json_real(tests[i].holm));
    json_object_set_new(o, "holm", holm);
    free(tests);
    free(pointers);
    array_free(p);
}

static void put_adjust(const batch_adjust *r, json_t *o)
{
    json_t *slopes = json_array(), *batches = json_array(), *pairs = json_array();
    json_object_set_new(o, "reason", json_string(batch_reason_text(r->reason)));
    put(o, "df", r->df);
    put(o, "sd", r->sd);
    put(o, "share_within", r->share_within);
    put_test(o, "overall", r->overall);
    put_test(o, "spreads", r->spreads);
    for (size_t j = 0; j < r->covariates; j++) {
        json_t *s = json_object();
        put(s, "slope", r->slope[j].slope);
        put(s, "error", r->slope[j].error);
        put_interval(s, "interval", r->slope[j].interval);
        put_test(s, "test", r->slope[j].test);
        put_test(s, "same", r->slope[j].same);
        json_array_append_new(slopes, s);
    }
    for (size_t b = 0; b < r->batches; b++) {
        json_t *s = json_object();
        put(s, "mean", r->batch[b].mean);
        put(s, "error", r->batch[b].error);
        put(s, "sd", r->batch[b].sd);
        json_array_append_new(batches, s);
    }
    for (size_t p = 0; p < r->pairs; p++) {
        json_t *s = json_object();
        put(s, "difference", r->pair[p].difference);
        put(s, "error", r->pair[p].error);
        put(s, "explained", r->pair[p].explained);
        put_interval(s, "interval", r->pair[p].interval);
        put_test(s, "test", r->pair[p].test);
        put_test(s, "spreads", r->pair[p].spreads);
        json_array_append_new(pairs, s);
    }
    json_object_set_new(o, "slope", slopes);
    json_object_set_new(o, "batch", batches);
    json_object_set_new(o, "pair", pairs);
}

static void ask_adjust(const json_t *q, json_t *o)
{
    enum { MOST = 8 };
    const batch value = array(json_object_get(q, "value"));
    const batch which = array(json_object_get(q, "batch"));
    const json_t *columns = json_object_get(q, "covariate");
    batch covariate[MOST];
    const double *pointers[MOST];
    size_t *of = calloc(which.count + 1, sizeof *of), batches = 0;
    need(of && json_array_size(columns) <= MOST, "too many covariates");
    for (size_t j = 0; j < json_array_size(columns); j++) {
        covariate[j] = array(json_array_get(columns, j));
        pointers[j] = covariate[j].value;
    }
    for (size_t i = 0; i < which.count; i++) {
        of[i] = (size_t)which.value[i];
        batches = of[i] + 1 > batches ? of[i] + 1 : batches;
    }
    const batch_adjust_data data = {.count = value.count,
                                    .value = value.value,
                                    .batch = of,
                                    .batches = batches,
                                    .covariates = json_array_size(columns),
                                    .covariate = pointers};
    const batch_settings s = settings(q);
    batch_adjust r;
    caber_message message;
    fine(batch_adjust_run(&data, &s, &r, &message), &message);
    put_adjust(&r, o);
    batch_adjust_free(&r);
    for (size_t j = 0; j < data.covariates; j++)
        array_free(covariate[j]);
    array_free(value);
    array_free(which);
    free(of);
}

static void ask_noncentral(const json_t *q, json_t *o)
{
    put(o, "p", batch_noncentral_t(number(q, "t"), number(q, "df"), number(q, "delta")));
}

static void ask_power_means(const json_t *q, json_t *o)
{
    put(o, "power",
        batch_power_means(number(q, "difference"), number(q, "sd_a"), number(q, "sd_b"),
                          number(q, "count_a"), number(q, "count_b"), number(q, "alpha")));
}

static void ask_power_spreads(const json_t *q, json_t *o)
{
    put(o, "power",
        batch_power_spreads(number(q, "ratio"), number(q, "evenness"), number(q, "count_a"),
                            number(q, "count_b"), number(q, "alpha")));
}

static void ask_need(const json_t *q, bool spreads, json_t *o)
{
    const batch_power_settings s = batch_power_default();
    const batch a = array(json_object_get(q, "a")), b = array(json_object_get(q, "b"));
    batch_need r;
    caber_message message;
    char text[100];
    fine((spreads ? batch_need_spreads : batch_need_means)(&a, &b, false, &s, &r, &message),
         &message);
    json_object_set_new(o, "text", json_string(batch_need_text(&r, text, sizeof text)));
    json_object_set_new(o, "more", json_integer(r.more));
    put(o, "power_now", r.power_now);
    put(o, "detectable", r.detectable);
    array_free(a);
    array_free(b);
}

static json_t *answer(const json_t *q)
{
    json_t *o = json_object();
    const char *ask = json_string_value(json_object_get(q, "ask"));
    need(ask != NULL, "a question without \"ask\"");
    if (strcmp(ask, "summary") == 0)
        ask_summary(q, o);
    else if (strcmp(ask, "pair") == 0)
        ask_pair(q, o);
    else if (strcmp(ask, "overall") == 0)
        ask_overall(q, o);
    else if (strcmp(ask, "holm") == 0)
        ask_holm(q, o);
    else if (strcmp(ask, "adjust") == 0)
        ask_adjust(q, o);
    else if (strcmp(ask, "noncentral") == 0)
        ask_noncentral(q, o);
    else if (strcmp(ask, "power_means") == 0)
        ask_power_means(q, o);
    else if (strcmp(ask, "power_spreads") == 0)
        ask_power_spreads(q, o);
    else if (strcmp(ask, "need_means") == 0)
        ask_need(q, false, o);
    else if (strcmp(ask, "need_spreads") == 0)
        ask_need(q, true, o);
    else
        need(false, "an unknown question");
    return o;
}

int main(void)
{
    json_error_t error;
    json_t *questions = json_loadf(stdin, 0, &error), *answers = json_array();
    need(json_is_array(questions), "standard input is no JSON array");
    gsl_set_error_handler_off();
    for (size_t i = 0; i < json_array_size(questions); i++)
        json_array_append_new(answers, answer(json_array_get(questions, i)));
    json_dumpf(answers, stdout, JSON_REAL_PRECISION(17));
    putchar('\n');
    json_decref(questions);
    json_decref(answers);
    return 0;
}
