/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber sweep --plan: what a study is, and what it will take. Nothing is written. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "app/json.h"
#include "app/sweep_parts.h"
#include "app/table.h"
#include "base/units.h"
#include "study/clubs.h"
#include "study/engine.h"
#include "study/store_chunk.h"
#include "study/store_plan.h"

/* Points that are tried for the times. */
enum { PLAN_LOOKS = 16 };

typedef struct plan_view {
    const sweep_settings *how;
    const caber_study *plan;
    int workers;
    cost_times times;
    cost whole;                /* of the whole study */
    size_t cases;              /* of the file */
    double swings, file, time; /* of the file; bytes, s */
    double memory;             /* bytes, about */
} plan_view;

static const char *const plan_spreads[] = {"uniform", "log-uniform", "normal", "triangular"};

/* ------------------------------------------------------------------ what it takes */

/* Bytes: what this process had at most until now, which is the program, the plan and one model at work, and
 * of a run the models that are kept, a chunk of each thread and those of the writer, and what is packed at a
 * time. */
static double plan_memory(const plan_view *v)
{
    enum { ROWS = 4096 }; /* of a dataset, packed at once (store_render.c) */
    /* A model of the default settings; measured, and rounded up. */
    const double model = 100e3;
    struct rusage used;
    getrusage(RUSAGE_SELF, &used);
    const double models = fmin(v->whole.clubs, CLUBS_KEPT);
    const double rows = fmin((double)plan_cases(v->plan), ROWS);
    const double row =
        8. * (double)(v->plan->factor_count + engine_columns(v->plan)) + (double)STORE_REASON_SIZE;
    return 1024. * (double)used.ru_maxrss + models * model + 2 * rows * row +
           (v->workers + 2.) * (double)engine_result_size(v->plan);
}

/* The share of a shard: its cases; factors stand in every shard's file, for all cases. */
static void plan_share(plan_view *v)
{
    const size_t all = plan_cases(v->plan);
    const store_study mine = {.cases = all,
                              .chunk_cases = engine_chunk_cases(v->plan),
                              .shard = v->how->shard,
                              .shards = v->how->shards};
    v->cases = 0;
    for (size_t c = 0; c < engine_chunks(v->plan); c++) {
        size_t count;
        engine_chunk(v->plan, c, &count);
        v->cases += store_chunk_is_mine(&mine, c) ? count : 0;
    }
    const double share = (double)v->cases / (double)all;
    const double factors = 8 * (double)all * (double)v->plan->factor_count;
    /* What describes the numbers, and its texts; measured. */
    const double columns = (double)(v->plan->factor_count + v->plan->output_count);
    const double around = 25e3 + 700 * (columns + (double)v->plan->series_count);
    v->swings = v->whole.swings * share;
    v->time = v->whole.time * share;
    v->file = around + factors + (v->whole.file - factors) * share;
}

static caber_status plan_look(plan_view *v, caber_message *message)
{
    const size_t points = plan_points(v->plan);
    const size_t looks = points < PLAN_LOOKS ? points : PLAN_LOOKS;
    const caber_status status = cost_measure(v->plan, looks, &v->times, message);
    if (status != CABER_OK)
        return status;
    v->whole = cost_estimate(v->plan, &v->times, v->workers);
    plan_share(v);
    v->memory = plan_memory(v);
    return status;
}

/* ------------------------------------------------------------------ factors */

/* A value of a factor as a user writes it. */
static void plan_value(const plan_factor *f, double value, char *text, size_t size)
{
    if (f->chosen)
        snprintf(text, size, "%s", f->named[(size_t)value]);
    else if (f->at.field->type == FIELD_WORD || f->at.field->type == FIELD_BOOLEAN)
        field_address_write(&f->at, value, text, size);
    else
        quantity_write_short(value, field_address_unit(&f->at), text, size);
}

/* Entries that are shown of a list. */
enum { PLAN_LIST = 8, PLAN_TEXT = 1200 };

static void plan_add(char text[PLAN_TEXT], const char *more)
{
    strncat(text, more, PLAN_TEXT - 1 - strlen(text));
}

static void plan_list(const plan_factor *f, const factor *range, char text[PLAN_TEXT])
{
    char value[320];
    for (size_t i = 0; i < range->count && i < PLAN_LIST; i++) {
        plan_value(f, range->values[i], value, sizeof value);
        plan_add(text, i ? ", " : "");
        plan_add(text, value);
    }
    if (range->count > PLAN_LIST) {
        snprintf(value, sizeof value, "... (%zu in all)", range->count);
        plan_add(text, ", ");
        plan_add(text, value);
    }
}

static void plan_range(const plan_view *v, const plan_factor *f, const factor *range,
                       char text[PLAN_TEXT])
{
    char from[96], to[96], more[256] = "", at[96], sd[96];
    plan_value(f, range->from, from, sizeof from);
    plan_value(f, range->to, to, sizeof to);
    const design_kind kind = v->plan->how.kind;
    if (kind == DESIGN_GRID || kind == DESIGN_ONE_AT_A_TIME) {
        snprintf(more, sizeof more, ", %d levels%s", range->levels,
                 range->spread == FACTOR_LOG_UNIFORM ? " by ratio" : "");
    } else if (range->whole) {
        snprintf(more, sizeof more, ", whole numbers");
    } else if (range->spread == FACTOR_NORMAL) {
        plan_value(f, range->mean, at, sizeof at);
        plan_value(f, range->sd, sd, sizeof sd);
        snprintf(more, sizeof more, ", normal, mean %s, sd %s", at, sd);
    } else if (range->spread == FACTOR_TRIANGULAR) {
        plan_value(f, range->peak, at, sizeof at);
        snprintf(more, sizeof more, ", triangular, peak %s", at);
    } else {
        snprintf(more, sizeof more, ", %s", plan_spreads[range->spread]);
    }
    snprintf(text, PLAN_TEXT, "%s to %s%s", from, to, more);
}

/* The least and the largest value of a factor whose cases were given one by one. */
static void plan_extent(const caber_study *plan, size_t k, double *least, double *most)
{
    double values[DESIGN_FACTORS_MOST];
    *least = INFINITY;
    *most = -INFINITY;
    for (size_t i = 0; i < plan_points(plan); i++) {
        plan_values(plan, i, values);
        *least = fmin(*least, values[k]);
        *most = fmax(*most, values[k]);
    }
}

static void plan_factor_text(const plan_view *v, size_t k, char text[PLAN_TEXT])
{
    const plan_factor *f = &v->plan->factors[k];
    const factor *range = &v->plan->ranges[k];
    text[0] = '\0';
    if (v->plan->how.kind == DESIGN_CASES && !f->chosen) {
        double least, most;
        char from[96], to[96];
        plan_extent(v->plan, k, &least, &most);
        plan_value(f, least, from, sizeof from);
        plan_value(f, most, to, sizeof to);
        snprintf(text, PLAN_TEXT, "%s to %s, as given", from, to);
    } else if (range->listed) {
        plan_list(f, range, text);
    } else {
        plan_range(v, f, range, text);
    }
}

static const char *plan_path(const plan_factor *f)
{
    static const char *const parts[PLAN_PARTS] = {"shaft", "head", "grip", "player"};
    return f->chosen ? parts[f->part] : f->at.path;
}

static void plan_print_factors(const plan_view *v)
{
    enum { WIDTH = 98 };
    const caber_study *plan = v->plan;
    size_t name = 0, path = 0;
    for (size_t k = 0; k < plan->factor_count; k++) {
        const size_t n = strlen(plan->factors[k].name), p = strlen(plan_path(&plan->factors[k]));
        name = n > name ? n : name;
        path = p > path ? p : path;
    }
    table_group("Factors");
    char text[PLAN_TEXT];
    for (size_t k = 0; k < plan->factor_count; k++) {
        const plan_factor *f = &plan->factors[k];
        plan_factor_text(v, k, text);
        const bool fits = 2 + name + 2 + path + 2 + strlen(text) <= WIDTH;
        printf("  %-*s  %-*s", (int)name, f->name, fits ? (int)path : 0, plan_path(f));
        if (fits) {
            fputs("  ", stdout);
            app_print_text(text);
            putchar('\n');
        } else {
            putchar('\n');
            table_wrapped(text, (int)name + 4);
        }
    }
}

/* ------------------------------------------------------------------ outputs */

static void plan_print_outputs(const plan_view *v)
{
    const caber_study *plan = v->plan;
    char title[64], step[64], text[STORE_COLUMN_LIMIT * 72];
    snprintf(title, sizeof title, "Outputs: %zu", plan->output_count);
    table_group(title);
    size_t used = 0;
    for (size_t i = 0; i < plan->output_count && used < sizeof text; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "%s%s", i ? ", " : "",
                                 plan->outputs[i].name);
    table_wrapped(text, 2);
    if (!plan->series_count)
        return;
    snprintf(title, sizeof title, "Series: %zu", plan->series_count);
    table_group(title);
    used = 0;
    for (size_t i = 0; i < plan->series_count && used < sizeof text; i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "%s%s", i ? ", " : "",
                                 plan->series[i].name);
    quantity_write_short(plan->series_step, unit_find("ms", DIMENSION_TIME), step, sizeof step);
    snprintf(text + used, used < sizeof text ? sizeof text - used : 0, "; %zu times, %s apart",
             plan->series_points, step);
    table_wrapped(text, 2);
}

/* ------------------------------------------------------------------ all of it as text */

static void plan_print_head(const plan_view *v)
{
    const caber_study *plan = v->plan;
    const char *word = design_word(plan->how.kind);
    char text[200];
    table_title(plan->name[0] ? plan->name : v->how->study);
    if (plan->note[0])
        table_wrapped(plan->note, 2);
    table_name("setup", plan->base->name);
    if (plan->how.kind == DESIGN_SALTELLI)
        snprintf(text, sizeof text, "%s, %zu rows", word, plan->how.cases);
    else if (plan->how.kind == DESIGN_MORRIS)
        snprintf(text, sizeof text, "%s, %zu trajectories over %zu levels", word, plan->how.cases,
                 plan->how.levels);
    else
        snprintf(text, sizeof text, "%s", word);
    table_name("design", text);
    if (!plan->replicates)
        return;
    snprintf(text, sizeof text, "%zu of the player's swings at each point", plan->replicates);
    table_name("swings", text);
}

static void plan_print_takes(const plan_view *v)
{
    char text[SWEEP_TEXT_SIZE], memory[SWEEP_TEXT_SIZE];
    table_group("What it takes; times and sizes are estimates");
    printf("  points    %zu\n  cases     %zu\n", v->whole.points, plan_cases(v->plan));
    if (v->how->shards > 1)
        printf("  shard     %zu of %zu, which has %zu of the cases\n", v->how->shard,
               v->how->shards, v->cases);
    printf("  clubs     %.0f%s\n  swings    %.0f\n", v->whole.clubs,
           v->how->shards > 1 ? " in the whole study" : "", v->swings);
    sweep_bytes_text(v->file, text);
    fputs("  file      ", stdout);
    app_print_text(v->how->path);
    printf(", %s before it is packed; up to twice that while it runs\n", text);
    sweep_bytes_text(v->memory, memory);
    sweep_time_text(v->time, text);
    printf("  memory    %s\n  time      %s with %d thread%s\n", memory, text, v->workers,
           v->workers == 1 ? "" : "s");
    printf("            as %zu points took: %.1f ms a club, %.1f ms a swing, %.1f ms a ball\n",
           v->times.looks, 1e3 * v->times.model, 1e3 * v->times.swing, 1e3 * v->times.flight);
    if (v->times.failed)
        printf("  failed    %zu of those %zu points have no swing or no flight\n", v->times.failed,
               v->times.looks);
}

/* ------------------------------------------------------------------ all of it as JSON */

static json_t *plan_number_json(const plan_factor *f, double value)
{
    if (f->chosen)
        return json_string(f->named[(size_t)value]);
    if (f->at.field->type == FIELD_BOOLEAN)
        return json_boolean(value != 0);
    if (f->at.field->type == FIELD_WORD)
        return json_string(f->at.field->words[(size_t)value]);
    return json_real(unit_from_si(field_address_unit(&f->at), value));
}

static void plan_set(json_t *object, const char *key, const plan_factor *f, double value)
{
    json_object_set_new(object, key, plan_number_json(f, value));
}

static json_t *plan_factor_json(const plan_view *v, size_t k)
{
    const plan_factor *f = &v->plan->factors[k];
    const factor *range = &v->plan->ranges[k];
    json_t *object =
        json_pack("{ss ss ss}", "name", f->name, "path", plan_path(f), "unit", plan_unit(f));
    if (v->plan->how.kind == DESIGN_CASES && !f->chosen) {
        double least, most;
        plan_extent(v->plan, k, &least, &most);
        plan_set(object, "from", f, least);
        plan_set(object, "to", f, most);
    } else if (range->listed) {
        json_t *values = json_array();
        for (size_t i = 0; i < range->count; i++)
            json_array_append_new(values, plan_number_json(f, range->values[i]));
        json_object_set_new(object, "values", values);
    } else {
        plan_set(object, "from", f, range->from);
        plan_set(object, "to", f, range->to);
        json_object_set_new(object, "distribution", json_string(plan_spreads[range->spread]));
        if (range->levels)
            json_object_set_new(object, "levels", json_integer(range->levels));
        if (range->spread == FACTOR_NORMAL) {
            plan_set(object, "mean", f, range->mean);
            plan_set(object, "sd", f, range->sd);
        }
        if (range->spread == FACTOR_TRIANGULAR)
            plan_set(object, "peak", f, range->peak);
    }
    return object;
}

static json_t *plan_json(const plan_view *v)
{
    const caber_study *plan = v->plan;
    json_t *factors = json_array(), *outputs = json_array(), *series = json_array();
    for (size_t k = 0; k < plan->factor_count; k++)
        json_array_append_new(factors, plan_factor_json(v, k));
    for (size_t i = 0; i < plan->output_count; i++)
        json_array_append_new(outputs, json_string(plan->outputs[i].name));
    for (size_t i = 0; i < plan->series_count; i++)
        json_array_append_new(series, json_string(plan->series[i].name));
    return json_pack(
        "{ss ss ss si sI so so so sI sI sI sI sI sI sI ss sf sf sf si s{sI sI sf sf sf}}", "study",
        plan->name, "setup", plan->base->name, "design", design_word(plan->how.kind), "seed",
        plan->seed, "replicates", (json_int_t)plan->replicates, "factors", factors, "outputs",
        outputs, "series", series, "series_times", (json_int_t)plan->series_points, "points",
        (json_int_t)v->whole.points, "cases", (json_int_t)plan_cases(plan), "shard",
        (json_int_t)v->how->shard, "shards", (json_int_t)v->how->shards, "cases_of_file",
        (json_int_t)v->cases, "clubs", (json_int_t)v->whole.clubs, "file", v->how->path, "swings",
        v->swings, "file_bytes", v->file, "time_s", v->time, "threads", v->workers, "tried",
        "points", (json_int_t)v->times.looks, "failed", (json_int_t)v->times.failed, "club_s",
        v->times.model, "swing_s", v->times.swing, "ball_s", v->times.flight);
}

app_exit sweep_plan_print(const sweep_settings *how, const caber_study *plan, int workers)
{
    plan_view v = {.how = how, .plan = plan, .workers = workers};
    caber_message message = {""};
    const caber_status status = plan_look(&v, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    if (how->given->text[OPTION_JSON]) {
        json_t *object = plan_json(&v);
        if (object)
            json_object_set_new(object, "memory_bytes", json_real(v.memory));
        return json_app_print(object);
    }
    plan_print_head(&v);
    plan_print_factors(&v);
    plan_print_outputs(&v);
    plan_print_takes(&v);
    return APP_FINE;
}
