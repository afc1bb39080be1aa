/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a workshop would measure, as caber bench --json prints it, and what cutting the tip does. */
#include <stdlib.h>

#include "app/bench.h"
#include "app/cautions.h"
#include "app/json.h"
#include "app/trims.h"
#include "app/uncertainty.h"
#include "page/page.h"

#define JIG_KEYS "setup", "clamp", "tip_mass", "torque", "load", "span", "span_load", "modes"

/* Reads how the bench is set; what is not given stays as a workshop commonly sets it. */
static bool ask_jig(const json_t *body, caber_jig *jig, server_reply *out)
{
    enum { MOST = sizeof((caber_bench *)0)->frequencies / sizeof(double) };
    *jig = caber_jig_default();
    const bool clamp = json_object_get(body, "clamp"), mass = json_object_get(body, "tip_mass");
    const bool good = ask_quantities(body, "clamp", DIMENSION_LENGTH, CABER_JIG_MOST, jig->clamps,
                                     &jig->clamp_count, out) &&
                      ask_quantities(body, "tip_mass", DIMENSION_MASS, CABER_JIG_MOST,
                                     jig->tip_masses, &jig->tip_mass_count, out) &&
                      ask_quantity(body, "torque", DIMENSION_TORQUE, &jig->torque, out) &&
                      ask_quantity(body, "load", DIMENSION_FORCE, &jig->load, out) &&
                      ask_quantity(body, "span", DIMENSION_LENGTH, &jig->span, out) &&
                      ask_quantity(body, "span_load", DIMENSION_FORCE, &jig->span_load, out) &&
                      ask_count(body, "modes", 1, MOST, &jig->mode_count, out);
    if (good && clamp)
        jig->clamp = jig->clamps[0];
    if (good && mass)
        jig->tip_mass = jig->tip_masses[0];
    return good;
}

/* The cautions of the bench and of the rules, whose check stands in the result. */
static const char *const *bench_cautions(const char *list[8])
{
    size_t n = 0;
    for (size_t i = 0; cautions_bench[i]; i++)
        list[n++] = cautions_bench[i];
    for (size_t i = 0; cautions_rules[i]; i++)
        list[n++] = cautions_rules[i];
    list[n] = NULL;
    return list;
}

static void bench_reply(bench_answers *view, server_reply *out)
{
    caber_message message = {""};
    const char *list[8];
    const caber_status status = caber_rules_check(view->setup, view->rules, &message);
    if (status != CABER_OK) {
        reply_failed(out, status, &message);
        return;
    }
    json_t *notes = json_array();
    if (view->spread && view->spread->draws.failed)
        json_app_note(notes,
                      "%zu of %zu draws of the profile failed and are left out; the first, draw "
                      "%zu: %s",
                      view->spread->draws.failed, view->spread->draws.count,
                      view->spread->draws.first_failed, view->spread->draws.failure.text);
    caber_swing_weight(view->bench.swing_moment, view->swing_weight, sizeof view->swing_weight);
    reply_result(out, bench_json(view), notes, cautions_all, bench_cautions(list));
}

void view_bench(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {JIG_KEYS, NULL};
    caber_message message = {""};
    bench_answers *view = calloc(1, sizeof *view);
    if (!view) {
        reply_error(out, REPLY_BUSY, "out of memory");
        return;
    }
    if (ask_only(ask->body, "", keys, out) && ask_jig(ask->body, &view->jig, out) &&
        ask_setup(&p->folders, ask->body, "setup", &view->setup, out)) {
        const caber_status status =
            caber_bench_run(view->setup, &view->jig, &view->bench, &message);
        if (status == CABER_OK)
            bench_reply(view, out);
        else
            reply_failed(out, status, &message);
    }
    caber_setup_free(view->setup);
    free(view);
}

void view_bench_uncertainty(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {JIG_KEYS, "draws", "seed", NULL};
    caber_message message = {""};
    bench_answers *view = calloc(1, sizeof *view);
    caber_bench_uncertainty *found = malloc(sizeof *found);
    if (!view || !found) {
        reply_error(out, REPLY_BUSY, "out of memory");
    } else if (ask_only(ask->body, "", keys, out) && ask_jig(ask->body, &view->jig, out)) {
        view->draws = caber_uncertainty_default();
        view->draws.threads = p->threads;
        view->draws.watch = ask->watch;
        if (ask_count(ask->body, "draws", CABER_DRAWS_LEAST, CABER_DRAWS_MOST, &view->draws.draws,
                      out) &&
            ask_count(ask->body, "seed", 0, 0x7fffffff, &view->draws.seed, out) &&
            ask_setup(&p->folders, ask->body, "setup", &view->setup, out)) {
            const caber_status status =
                caber_bench_uncertainty_run(view->setup, &view->jig, &view->draws, found, &message);
            view->bench = found->bench;
            view->spread = found;
            if (status == CABER_OK)
                bench_reply(view, out);
            else
                reply_failed(out, status, &message);
        }
    }
    if (view)
        caber_setup_free(view->setup);
    free(found);
    free(view);
}

void view_trims(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {JIG_KEYS, NULL};
    caber_message message = {""};
    caber_setup *setup = NULL;
    caber_jig jig;
    trims *found = malloc(sizeof *found);
    if (!found) {
        reply_error(out, REPLY_BUSY, "out of memory");
    } else if (ask_only(ask->body, "", keys, out) && ask_jig(ask->body, &jig, out) &&
               ask_setup(&p->folders, ask->body, "setup", &setup, out)) {
        const caber_status status = trims_find(setup, &jig, found, &message);
        if (status == CABER_OK) {
            json_t *notes = json_array();
            if (!trims_met(found))
                json_app_note(notes, "%s", trims_unmet);
            reply_result(out, trims_json(setup, found), notes, cautions_all, cautions_trims);
        } else {
            reply_failed(out, status, &message);
        }
    }
    caber_setup_free(setup);
    free(found);
}
