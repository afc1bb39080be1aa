/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/bench.h"
#include "app/json.h"
#include "app/rules.h"
#include "app/uncertainty.h"

static json_t *bench_jig_json(const caber_jig *jig)
{
    return json_pack("{sf sf sf sf sf sf}", "clamp_m", jig->clamp, "tip_mass_kg", jig->tip_mass,
                     "torque_nm", jig->torque, "load_n", jig->load, "span_m", jig->span,
                     "span_load_n", jig->span_load);
}

/* A row a clamp, in cpm. */
static json_t *bench_cpm_json(const caber_jig *jig, const caber_bench *bench)
{
    json_t *rows = json_array();
    int failed = !rows;
    for (size_t i = 0; i < jig->clamp_count; i++)
        failed |=
            json_array_append_new(rows, json_app_numbers(bench->table[i], jig->tip_mass_count, 60));
    if (!failed)
        return rows;
    json_decref(rows);
    return NULL;
}

/* {"clamp_m": [...], "tip_mass_kg": [...], "cpm": [[...], ...]} */
static json_t *bench_table_json(const bench_answers *job)
{
    const caber_jig *jig = &job->jig;
    return json_pack("{so so so}", "clamp_m", json_app_numbers(jig->clamps, jig->clamp_count, 1),
                     "tip_mass_kg", json_app_numbers(jig->tip_masses, jig->tip_mass_count, 1),
                     "cpm", bench_cpm_json(jig, &job->bench));
}

/* Sets the numbers of the rows; the lists along the shaft and of modes. Return 0, or not. */
static int bench_set_rows(json_t *object, const caber_bench *bench)
{
    int failed = 0;
    size_t count;
    const bench_row *rows = bench_rows(&count);
    for (size_t i = 0; i < count; i++)
        failed |= json_object_set_new(
            object, rows[i].name,
            bench_knows(bench, &rows[i]) ? json_real(bench_value(bench, &rows[i])) : json_null());
    return failed;
}

static int bench_set_lists(json_t *object, const caber_bench *bench)
{
    int failed =
        json_object_set_new(object, "span_deflection_mm",
                            json_app_numbers(bench->span_deflection, bench->span_count, 1e3));
    failed |= json_object_set_new(object, "span_ei_nm2",
                                  json_app_numbers(bench->span_ei, bench->span_count, 1));
    failed |= json_object_set_new(object, "frequencies_hz",
                                  json_app_numbers(bench->frequencies, bench->mode_count, 1));
    return failed;
}

/* What the draws have of each figure. */
static json_t *bench_spread_json(const bench_answers *job)
{
    const caber_bench_uncertainty *u = job->spread;
    const struct {
        const char *key;
        const caber_bench *bench;
    } aspects[] = {{"sd", &u->sd}, {"mean", &u->mean}, {"low", &u->low}, {"high", &u->high}};
    json_t *object = uncertainty_json(&u->draws, &job->draws);
    int failed = !object;
    for (size_t a = 0; a < sizeof aspects / sizeof *aspects; a++) {
        json_t *inner = json_object();
        failed |= bench_set_rows(inner, aspects[a].bench);
        failed |= bench_set_lists(inner, aspects[a].bench);
        failed |= json_object_set_new(inner, "frequency_table",
                                      bench_cpm_json(&job->jig, aspects[a].bench));
        failed |= json_object_set_new(object, aspects[a].key, inner);
    }
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

json_t *bench_json(const bench_answers *job)
{
    const caber_bench *bench = &job->bench;
    json_t *object = json_pack("{ss ss so}", "setup", job->setup->name, "shaft",
                               job->setup->shaft.name, "jig", bench_jig_json(&job->jig));
    int failed = !object;
    failed |= bench_set_rows(object, bench);
    failed |= json_object_set_new(object, "swing_weight", json_string(job->swing_weight));
    failed |= json_object_set_new(object, "span_at_m",
                                  json_app_numbers(bench->span_at, bench->span_count, 1));
    failed |= bench_set_lists(object, bench);
    failed |= json_object_set_new(object, "frequency_table", bench_table_json(job));
    failed |= json_object_set_new(object, "rules", rules_json(job->rules));
    if (job->spread)
        failed |= json_object_set_new(object, "spread", bench_spread_json(job));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}
