/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/store_plan.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/units.h"

_Static_assert((int)ENGINE_REASON_SIZE >= (int)STORE_REASON_SIZE,
               "what a file keeps of a reason is there");

/* Notes that are not of one factor. */
enum { NOTES_MOST = 20 };
enum { LONG_NAME_SIZE = 256 };

/* The texts of one factor. */
typedef struct factor_texts {
    char note[CABER_NAME_SIZE]; /* the name of its note */
    const char **words;         /* of a word; owned */
} factor_texts;

struct store_plan_view {
    const caber_study *plan;
    store_study study;
    char *identity, *setup_text;
    store_column *factors, *outputs, *series;
    char (*long_names)[LONG_NAME_SIZE]; /* of the outputs */
    double *grid;
    store_note *notes;
    factor_texts *texts;
    const char **names, **paths, **kinds; /* of the factors */
};

/* ------------------------------------------------------------------ columns */

/* Columns before the factors: point, and perhaps replicate. */
static size_t places(const caber_study *plan)
{
    return plan->replicates ? 2 : 1;
}

static const char *unit_or_one(const char *symbol)
{
    return symbol[0] ? symbol : "1";
}

static void factors_fill(store_plan_view *v)
{
    const caber_study *plan = v->plan;
    store_column *c = v->factors;
    *c++ = (store_column){"point", "1", "point of the design, from 0", 1, .whole = true};
    if (plan->replicates)
        *c++ = (store_column){"replicate", "1", "varied swing of the player at the point, from 0",
                              1, .whole = true};
    static const char *const chosen[PLAN_PARTS] = {
        "which file of the shaft, from 0", "which file of the head, from 0",
        "which file of the grip, from 0", "which file of the player, from 0"};
    for (size_t k = 0; k < plan->factor_count; k++, c++) {
        const plan_factor *f = &plan->factors[k];
        *c = (store_column){.name = f->name,
                            .units = unit_or_one(plan_unit(f)),
                            .long_name = f->chosen ? chosen[f->part] : f->at.field->meaning,
                            .factor = 1,
                            .whole = plan_factor_is_word(f)};
    }
}

static const store_column counts[RUNNER_COUNTS] = {
    [RUNNER_STEPS] = {"swing_steps", "1", "steps of the integrator in the swing", 1, .whole = true},
    [RUNNER_EVALUATIONS] = {"swing_evaluations", "1",
                            "evaluations of the equations of motion in the swing", 1,
                            .whole = true},
    [RUNNER_ERROR_FAILURES] = {"swing_error_failures", "1",
                               "steps of the swing that were taken again for their error", 1,
                               .whole = true}};

static void outputs_fill(store_plan_view *v)
{
    const caber_study *plan = v->plan;
    for (size_t i = 0; i < plan->output_count; i++) {
        const output_column *c = &plan->outputs[i];
        snprintf(v->long_names[i], LONG_NAME_SIZE, "%s%s", c->straight ? "straight club: " : "",
                 c->field->meaning);
        v->outputs[i] = (store_column){.name = c->name,
                                       .units = unit_or_one(c->field->unit),
                                       .long_name = v->long_names[i],
                                       .factor = c->field->factor,
                                       .optional = c->optional};
    }
    memcpy(v->outputs + plan->output_count, counts, sizeof counts);
}

/* After the swing's end a series has no value. */
static void series_fill_columns(store_plan_view *v)
{
    const caber_study *plan = v->plan;
    for (size_t i = 0; i < plan->series_count; i++) {
        const series_column *c = &plan->series[i];
        v->series[i] = (store_column){.name = c->name,
                                      .units = unit_or_one(c->field->unit),
                                      .long_name = c->field->meaning,
                                      .factor = c->field->factor,
                                      .optional = true};
    }
    for (size_t i = 0; i < plan->series_points; i++)
        v->grid[i] = plan->series_step * (double)i;
}

/* ------------------------------------------------------------------ the values of the factors */

static double printed(const plan_factor *f, double value)
{
    return plan_factor_is_word(f) ? value : unit_from_si(field_address_unit(&f->at), value);
}

static caber_status values_fill(void *user, size_t first, size_t count, double *values,
                                caber_message *message)
{
    const store_plan_view *v = user;
    const caber_study *plan = v->plan;
    double point[DESIGN_FACTORS_MOST];
    for (size_t i = 0; i < count; i++) {
        const size_t at = plan_point_of(plan, first + i);
        size_t row = 0;
        values[row++ * count + i] = (double)at;
        if (plan->replicates)
            values[row++ * count + i] = (double)plan_replicate_of(plan, first + i);
        plan_values(plan, at, point);
        for (size_t k = 0; k < plan->factor_count; k++)
            values[row++ * count + i] = printed(&plan->factors[k], point[k]);
    }
    return message_clear(message);
}

/* ------------------------------------------------------------------ notes */

static void note_text(store_plan_view *v, const char *name, const char *text)
{
    v->notes[v->study.note_count++] = (store_note){.name = name, .text = text};
}

static void note_number(store_plan_view *v, const char *name, double number)
{
    v->notes[v->study.note_count++] = (store_note){.name = name, .number = number};
}

static void note_texts(store_plan_view *v, const char *name, const char *const *texts, size_t count)
{
    v->notes[v->study.note_count++] = (store_note){.name = name, .texts = texts, .count = count};
}

static void design_notes(store_plan_view *v)
{
    const caber_study *plan = v->plan;
    note_number(v, "seed", plan->seed);
    note_text(v, "design", design_word(plan->how.kind));
    note_number(v, "points", (double)plan_points(plan));
    note_number(v, "replicates", (double)plan->replicates);
    if (plan->how.kind == DESIGN_SALTELLI) {
        note_number(v, "rows", (double)plan->how.cases);
        note_number(v, "both", plan->how.both);
    }
    if (plan->how.kind == DESIGN_MORRIS) {
        note_number(v, "trajectories", (double)plan->how.cases);
        note_number(v, "levels", (double)plan->how.levels);
    }
}

/* The words that the values of a factor are the places of; returns how many. */
static bool words_fill(const plan_factor *f, factor_texts *t, size_t *count)
{
    static const char *const answers[] = {"no", "yes", NULL};
    const char *const *words = f->at.field->type == FIELD_WORD ? f->at.field->words : answers;
    for (*count = 0; words[*count];)
        ++*count;
    t->words = malloc(*count * sizeof *t->words);
    for (size_t i = 0; t->words && i < *count; i++)
        t->words[i] = words[i];
    return t->words != NULL;
}

static bool factor_notes(store_plan_view *v)
{
    const caber_study *plan = v->plan;
    static const char *const parts[PLAN_PARTS] = {"shaft", "head", "grip", "player"};
    for (size_t k = 0; k < plan->factor_count; k++) {
        const plan_factor *f = &plan->factors[k];
        factor_texts *t = &v->texts[k];
        v->names[k] = f->name;
        v->paths[k] = f->chosen ? parts[f->part] : f->at.path;
        v->kinds[k] = f->chosen ? "choice" : plan_factor_is_word(f) ? "word" : "number";
        snprintf(t->note, sizeof t->note, "choices_%.80s", f->name);
        size_t count = 0;
        if (f->chosen)
            note_texts(v, t->note, (const char *const *)f->named, f->file_count);
        else if (plan_factor_is_word(f) && words_fill(f, t, &count))
            note_texts(v, t->note, t->words, count);
        else if (plan_factor_is_word(f))
            return false;
    }
    note_texts(v, "factor_names", v->names, plan->factor_count);
    note_texts(v, "factor_paths", v->paths, plan->factor_count);
    note_texts(v, "factor_kinds", v->kinds, plan->factor_count);
    return true;
}

static bool notes_fill(store_plan_view *v)
{
    const caber_study *plan = v->plan;
    note_text(v, "title", plan->name);
    note_text(v, "note", plan->note);
    design_notes(v);
    if (plan->override_count)
        note_texts(v, "overrides", (const char *const *)plan->overrides, plan->override_count);
    note_text(v, "study_text", plan->text);
    note_text(v, "setup_text", v->setup_text);
    note_number(v, "tolerance", plan->base->settings.tolerance);
    return factor_notes(v);
}

/* ------------------------------------------------------------------ the view */

static bool take_room(store_plan_view *v, const char *identity, const char *setup_text)
{
    const caber_study *plan = v->plan;
    const size_t factors = plan->factor_count;
    v->identity = strdup(identity);
    v->setup_text = strdup(setup_text);
    v->factors = calloc(places(plan) + factors, sizeof *v->factors);
    v->outputs = calloc(engine_columns(plan), sizeof *v->outputs);
    v->series = calloc(plan->series_count + 1, sizeof *v->series);
    v->long_names = calloc(plan->output_count, sizeof *v->long_names);
    v->grid = calloc(plan->series_points + 1, sizeof *v->grid);
    v->notes = calloc(NOTES_MOST + factors, sizeof *v->notes);
    v->texts = calloc(factors, sizeof *v->texts);
    v->names = calloc(factors, sizeof *v->names);
    v->paths = calloc(factors, sizeof *v->paths);
    v->kinds = calloc(factors, sizeof *v->kinds);
    return v->identity && v->setup_text && v->factors && v->outputs && v->series && v->long_names &&
           v->grid && v->notes && v->texts && v->names && v->paths && v->kinds;
}

static void study_fill(store_plan_view *v, size_t shard, size_t shards)
{
    const caber_study *plan = v->plan;
    v->study = (store_study){.identity = v->identity,
                             .version = caber_version(),
                             .notes = v->notes,
                             .cases = plan_cases(plan),
                             .chunk_cases = engine_chunk_cases(plan),
                             .shard = shard,
                             .shards = shards,
                             .factors = v->factors,
                             .factor_count = places(plan) + plan->factor_count,
                             .plan = values_fill,
                             .plan_user = v,
                             .outputs = v->outputs,
                             .output_count = engine_columns(plan),
                             .series = v->series,
                             .series_count = plan->series_count};
    v->study.grid = (store_grid){.column = {"time_s", "s", "time from the start of the swing", 1},
                                 .count = plan->series_points,
                                 .at = v->grid};
    factors_fill(v);
    outputs_fill(v);
    series_fill_columns(v);
}

caber_status store_plan_create(const caber_study *plan, const char *identity,
                               const char *setup_text, size_t shard, size_t shards,
                               store_plan_view **out, caber_message *message)
{
    *out = NULL;
    const size_t columns =
        places(plan) + plan->factor_count + engine_columns(plan) + plan->series_count;
    if (columns > STORE_COLUMN_LIMIT)
        return message_set(message, CABER_BAD_INPUT,
                           "%zu factors, outputs and series are too many; a file has at most %d",
                           columns, STORE_COLUMN_LIMIT);
    store_plan_view *v = calloc(1, sizeof *v);
    if (v) {
        v->plan = plan;
        if (take_room(v, identity, setup_text)) {
            study_fill(v, shard, shards);
            if (notes_fill(v)) {
                *out = v;
                return message_clear(message);
            }
        }
    }
    store_plan_free(v);
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

const store_study *store_plan_study(const store_plan_view *view)
{
    return &view->study;
}

void store_plan_free(store_plan_view *v)
{
    if (!v)
        return;
    for (size_t k = 0; v->texts && k < v->plan->factor_count; k++)
        free(v->texts[k].words);
    free(v->identity);
    free(v->setup_text);
    free(v->factors);
    free(v->outputs);
    free(v->series);
    free(v->long_names);
    free(v->grid);
    free(v->notes);
    free(v->texts);
    free(v->names);
    free(v->paths);
    free(v->kinds);
    free(v);
}

caber_status store_plan_write(store_writer *writer, const engine_result *result,
                              caber_message *message)
{
    const store_chunk chunk = {.chunk = result->chunk,
                               .status = result->status,
                               .reason = result->reason,
                               .outputs = result->outputs,
                               .series = result->series};
    return store_writer_write(writer, &chunk, message);
}
