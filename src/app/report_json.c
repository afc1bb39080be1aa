/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The document of a report: what the interface of the live page answers of each setup, and of all together. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/bench.h"
#include "app/cautions.h"
#include "app/compare.h"
#include "app/fields.h"
#include "app/inputs_json.h"
#include "app/json.h"
#include "app/report.h"
#include "app/scatter.h"
#include "app/shaft_json.h"
#include "app/swing_plot.h"
#include "app/swung.h"
#include "app/trims.h"
#include "app/uncertainty.h"
#include "base/message.h"
#include "files/files.h"
#include "study/retune.h"

/* Rows of a series at most: what a chart can show. */
enum { ROWS_MOST = 600 };

/* A document that is being made. */
typedef struct report {
    report_ask *ask;
    json_t *document;
    json_t *warnings, *notes; /* in the document */
} report;

/* Adds a sentence, of a setup when there are several, unless it is there already. */
static void add_note(const report *r, json_t *list, size_t which, const char *text)
{
    char whole[2 * sizeof(caber_message)];
    size_t i;
    json_t *there;
    const bool several = r->ask->count > 1 && which < r->ask->count;
    snprintf(whole, sizeof whole, "%s%s%s", several ? r->ask->names[which] : "",
             several ? ": " : "", text);
    json_array_foreach(list, i, there)
    {
        if (strcmp(json_string_value(there), whole) == 0)
            return;
    }
    json_app_note(list, "%s", whole);
}

/* Moves sentences into a list of the document. */
static void take_notes(const report *r, json_t *list, size_t which, json_t *from)
{
    size_t i;
    json_t *note;
    json_array_foreach(from, i, note)
    {
        add_note(r, list, which, json_string_value(note));
    }
    json_decref(from);
}

/* ------------------------------------------------------------------ one setup */

static caber_status add_inputs(const report *r, size_t which, json_t *of, caber_message *message)
{
    json_t *inputs = NULL;
    const caber_status status = inputs_json(r->ask->setups[which], &inputs, message);
    json_object_set_new(of, "inputs", inputs);
    return status;
}

/* The swing as it is, and through time: every millisecond, or at as many instants as a chart can show. */
static caber_status add_swing(const report *r, size_t which, json_t *of, caber_message *message)
{
    const caber_setup *setup = r->ask->setups[which];
    caber_setup even = *setup; /* what it owns is only read */
    swung s;
    caber_status status = swung_run(setup, NULL, &s, message);
    if (status != CABER_OK)
        return status;
    json_t *said = json_array();
    swung_notes(&s, said);
    take_notes(r, r->warnings, which, said);
    json_object_set_new(of, "swing", json_app_swing(setup, &s.swing, &s.shots));
    for (even.settings.sample = SWING_PLOT_SAMPLE;
         s.swing.bent.downswing_time > ROWS_MOST * even.settings.sample;)
        even.settings.sample *= 2;
    caber_trace *trace = caber_trace_create();
    status = trace ? swung_run(&even, trace, &s, message) : CABER_NO_MEMORY;
    if (status == CABER_OK)
        json_object_set_new(of, "series", swung_series_json(&even, s.swing.met_ball, trace));
    caber_trace_free(trace);
    return status;
}

static caber_status add_shaft(const report *r, size_t which, json_t *of, caber_message *message)
{
    json_t *shaft = NULL, *load = NULL, *notes = json_array();
    const caber_setup *setup = r->ask->setups[which];
    caber_status status = shaft_json(setup, &shaft, notes, message);
    take_notes(r, r->notes, which, notes);
    if (status != CABER_OK)
        return status;
    json_object_set_new(of, "shaft", shaft);
    notes = json_array();
    status = load_json(setup, &load, notes, message);
    take_notes(r, r->notes, r->ask->count, notes);
    if (status == CABER_OK)
        json_object_set_new(of, "load", load);
    return status;
}

static caber_status add_bench(const report *r, size_t which, json_t *of, caber_message *message)
{
    bench_answers *view = calloc(1, sizeof *view);
    if (!view)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    view->setup = r->ask->setups[which];
    view->jig = caber_jig_default();
    caber_status status = caber_bench_run(view->setup, &view->jig, &view->bench, message);
    if (status == CABER_OK)
        status = caber_rules_check(view->setup, view->rules, message);
    if (status == CABER_OK) {
        caber_swing_weight(view->bench.swing_moment, view->swing_weight, sizeof view->swing_weight);
        json_object_set_new(of, "bench", bench_json(view));
    }
    free(view);
    return status;
}

/* What a cut of the tip does. A club that cannot be cut so, or not be swung when it is, is no reason to have no
 * report. */
static caber_status add_trims(const report *r, size_t which, json_t *of, caber_message *message)
{
    const caber_jig jig = caber_jig_default();
    caber_message why = {""};
    trims *found = malloc(sizeof *found);
    if (!found)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const caber_status status = trims_find(r->ask->setups[which], &jig, found, &why);
    if (status == CABER_OK && !trims_met(found))
        add_note(r, r->warnings, which, trims_unmet);
    if (status != CABER_OK)
        add_note(r, r->warnings, which, why.text);
    json_object_set_new(
        of, "trims", status == CABER_OK ? trims_json(r->ask->setups[which], found) : json_null());
    free(found);
    return status == CABER_NO_MEMORY ? status : CABER_OK;
}

/* How sure the figures are, of a shaft that says how sure its profile is. */
static caber_status add_uncertainty(const report *r, size_t which, json_t *of,
                                    caber_message *message)
{
    const caber_setup *setup = r->ask->setups[which];
    caber_message why = {""};
    if (!setup->shaft.errors.count) {
        json_object_set_new(of, "uncertainty", json_null());
        return CABER_OK;
    }
    caber_uncertainty_settings settings = caber_uncertainty_default();
    settings.seed = r->ask->seed;
    settings.threads = r->ask->threads;
    caber_uncertainty *found = malloc(sizeof *found);
    if (!found)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const caber_status status = caber_uncertainty_run(setup, &settings, found, &why);
    if (status != CABER_OK)
        add_note(r, r->warnings, which, why.text);
    json_object_set_new(of, "uncertainty",
                        status == CABER_OK ? uncertainty_swing_json(setup, found, &settings)
                                           : json_null());
    free(found);
    return status == CABER_NO_MEMORY ? status : CABER_OK;
}

static const char *file_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static caber_status add_setup(const report *r, size_t which, json_t *list, caber_message *message)
{
    static caber_status (*const parts[])(const report *, size_t, json_t *, caber_message *) = {
        add_inputs, add_swing, add_shaft, add_bench, add_trims, add_uncertainty};
    caber_message why = {""};
    json_t *of =
        json_pack("{ss ss}", "name", r->ask->names[which], "file", file_name(r->ask->files[which]));
    caber_status status = of ? CABER_OK : CABER_NO_MEMORY;
    for (size_t i = 0; i < sizeof parts / sizeof *parts && status == CABER_OK; i++)
        status = parts[i](r, which, of, &why);
    json_array_append_new(list, of);
    if (status == CABER_OK)
        return CABER_OK;
    if (r->ask->count == 1)
        return message_set(message, status, "%s", why.text);
    return message_set(message, status, "setup %zu, %s: %.800s", which + 1, r->ask->names[which],
                       why.text);
}

/* ------------------------------------------------------------------ all together */

/* Sets the setups side by side; where the delivery is kept, each is swung as it was re-tuned from here on. */
static caber_status add_compare(const report *r, caber_message *message)
{
    report_ask *ask = r->ask;
    compare_view view = {.count = ask->count};
    caber_compare_settings s = caber_compare_default();
    if (ask->count < CABER_COMPARE_LEAST) {
        json_object_set_new(r->document, "compare", json_null());
        return CABER_OK;
    }
    s.keep = ask->keep;
    s.swings = ask->swings;
    s.seed = ask->seed;
    s.threads = ask->threads;
    memcpy(view.setups, ask->setups, sizeof ask->setups);
    memcpy(view.names, ask->names, sizeof ask->names);
    const caber_status status = caber_compare_run((const caber_setup *const *)view.setups,
                                                  view.count, &s, &view.found, message);
    if (status != CABER_OK)
        return status;
    json_t *said = json_array();
    compare_notes(&view, said);
    take_notes(r, r->warnings, ask->count, said);
    json_object_set_new(r->document, "compare", compare_json(&view));
    for (size_t i = 1; i < ask->count; i++)
        retune_apply(&ask->setups[i]->player.load, &view.found->setups[i].retuning);
    caber_comparison_free(view.found);
    return CABER_OK;
}

/* Of the first setup, or of the first two on the same draws. */
static caber_status add_scatter(const report *r, caber_message *message)
{
    const report_ask *ask = r->ask;
    scatter_view view = {.count = ask->count < SCATTER_SETUPS ? ask->count : SCATTER_SETUPS};
    caber_scatter_settings s = caber_scatter_default();
    caber_message why = {""};
    s.swings = ask->swings;
    s.seed = ask->seed;
    s.threads = ask->threads;
    for (size_t i = 0; i < view.count; i++) {
        view.setups[i] = ask->setups[i];
        memcpy(view.names[i], ask->names[i], sizeof view.names[i]);
    }
    const caber_status status = caber_scatter_run((const caber_setup *const *)view.setups,
                                                  view.count, &s, &view.found, &why);
    if (status != CABER_OK) {
        char text[sizeof why + 64];
        snprintf(text, sizeof text, "there is no spread from swing to swing: %s", why.text);
        add_note(r, r->warnings, ask->count, text);
        json_object_set_new(r->document, "scatter", json_null());
        return status == CABER_NO_MEMORY ? message_set(message, status, "%s", why.text) : CABER_OK;
    }
    json_t *said = json_array(), *found = scatter_json(&view);
    scatter_notes(&view, said);
    take_notes(r, r->notes, ask->count, said);
    json_object_set_new(found, "landing_points", scatter_points_json(&view));
    json_object_set_new(r->document, "scatter", found);
    caber_scatter_free(view.found);
    return CABER_OK;
}

/* ------------------------------------------------------------------ the whole */

static json_t *question_json(const report_ask *ask)
{
    static const char *const words[] = {"", "", "two", "three", "four"};
    if (ask->question)
        return json_string(ask->question);
    if (ask->count == 1)
        return json_string("What does this club do in this player's hands?");
    return json_sprintf(
        "Which of these %s clubs, and does the difference show over what the player "
        "varies by anyway?",
        words[ask->count]);
}

/* Every --set; of another file its name alone, for where it lay is nobody's business but the writer's. */
static json_t *set_json(const report_ask *ask)
{
    json_t *list = json_array();
    for (size_t i = 0; i < ask->override_count; i++) {
        const char *text = ask->overrides[i], *equals = strchr(text, '=');
        char path[256];
        snprintf(path, sizeof path, "%.*s", (int)(equals - text), text);
        json_array_append_new(list, files_names_part(path)
                                        ? json_sprintf("%s=%s", path, file_name(equals + 1))
                                        : json_string(text));
    }
    return list;
}

static json_t *cautions_json(void)
{
    const char *const *const all[] = {cautions_all, cautions_bench, cautions_trims, cautions_rules};
    return json_app_sentences(all, sizeof all / sizeof *all);
}

static json_t *document_begin(const report_ask *ask)
{
    return json_pack("{ss ss si so ss ss si si so so so so}", "program", "caber", "version",
                     caber_version(), "report", 1, "question", question_json(ask), "keep",
                     compare_keep_name(ask->keep), "units", ask->units, "swings", ask->swings,
                     "seed", ask->seed, "set", set_json(ask), "fields", fields_all_json(),
                     "unit_table", fields_units_json(), "cautions", cautions_json());
}

/* Whether a value is there for every key. */
static bool is_whole(const json_t *document)
{
    static const char *const keys[] = {"compare", "scatter", "setups", "warnings", "notes"};
    static const char *const own[] = {"inputs", "swing", "series", "shaft",
                                      "load",   "bench", "trims",  "uncertainty"};
    const json_t *setups = json_object_get(document, "setups");
    for (size_t k = 0; k < sizeof keys / sizeof *keys; k++)
        if (!json_object_get(document, keys[k]))
            return false;
    for (size_t i = 0; i < json_array_size(setups); i++)
        for (size_t k = 0; k < sizeof own / sizeof *own; k++)
            if (!json_object_get(json_array_get(setups, i), own[k]))
                return false;
    return true;
}

caber_status report_json(report_ask *ask, json_t **out, caber_message *message)
{
    report r = {.ask = ask,
                .document = document_begin(ask),
                .warnings = json_array(),
                .notes = json_array()};
    json_t *setups = json_array();
    *out = NULL;
    json_object_set_new(r.document, "warnings", r.warnings);
    json_object_set_new(r.document, "notes", r.notes);
    json_object_set_new(r.document, "setups", setups);
    caber_status status = r.document && r.warnings && r.notes && setups
                              ? add_compare(&r, message)
                              : message_set(message, CABER_NO_MEMORY, "out of memory");
    if (status == CABER_OK)
        status = add_scatter(&r, message);
    for (size_t i = 0; i < ask->count && status == CABER_OK; i++)
        status = add_setup(&r, i, setups, message);
    if (status == CABER_OK && is_whole(r.document))
        *out = json_incref(r.document);
    json_decref(r.document);
    return status;
}
