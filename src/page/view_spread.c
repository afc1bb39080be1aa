/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The long runs: the spread from swing to swing, setups beside it, what the errors of a profile leave open, and
 * which part of the shaft does what. Each is what its command prints with --json. */
#include "app/cautions.h"
#include "app/compare.h"
#include "app/json.h"
#include "app/scatter.h"
#include "app/sensitivity.h"
#include "app/uncertainty.h"
#include "page/page.h"

/* ------------------------------------------------------------------ scatter */

static bool ask_scatter(const page *p, const page_ask *ask, caber_scatter_settings *s,
                        server_reply *out)
{
    *s = caber_scatter_default();
    s->threads = p->threads;
    s->watch = ask->watch;
    if (!ask_count(ask->body, "swings", CABER_SWINGS_LEAST, CABER_SWINGS_MOST, &s->swings, out) ||
        !ask_count(ask->body, "seed", 0, 0x7fffffff, &s->seed, out) ||
        !ask_quantity(ask->body, "fairway", DIMENSION_LENGTH, &s->fairway, out))
        return false;
    if (s->fairway >= 1 && s->fairway <= 200)
        return true;
    reply_wrong(out, "fairway", "1 m to 200 m is wanted");
    return false;
}

static void scatter_reply(scatter_view *view, server_reply *out)
{
    json_t *notes = json_array();
    scatter_notes(view, notes);
    json_t *result = scatter_json(view);
    if (result)
        json_object_set_new(result, "landing_points", scatter_points_json(view));
    reply_result(out, result, notes, cautions_all, NULL);
}

void view_scatter(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {"setups", "swings", "seed", "fairway", NULL};
    scatter_view view = {.count = 0};
    caber_setup *setups[ASK_SETUPS];
    caber_scatter_settings settings;
    caber_message message = {""};
    if (ask_only(ask->body, "", keys, out) && ask_scatter(p, ask, &settings, out) &&
        ask_setups(&p->folders, ask->body, "setups", 1, SCATTER_SETUPS, setups, &view.count, out)) {
        for (size_t i = 0; i < view.count; i++) {
            view.setups[i] = setups[i];
            given_name((const caber_setup *const *)setups, i, view.names[i]);
        }
        const caber_status status = caber_scatter_run((const caber_setup *const *)setups,
                                                      view.count, &settings, &view.found, &message);
        if (status == CABER_OK)
            scatter_reply(&view, out);
        else
            reply_failed(out, status, &message);
    }
    caber_scatter_free(view.found);
    for (size_t i = 0; i < view.count; i++)
        caber_setup_free(setups[i]);
}

/* ------------------------------------------------------------------ compare */

static void compare_reply(compare_view *view, server_reply *out)
{
    json_t *notes = json_array();
    compare_notes(view, notes);
    reply_result(out, compare_json(view), notes, cautions_all, NULL);
}

void view_compare(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {"setups", "keep", "swings", "seed", NULL};
    static const char *const words[] = {"load", "delivery", NULL};
    compare_view view = {.count = 0};
    caber_compare_settings s = caber_compare_default();
    caber_message message = {""};
    int keep = 0;
    if (ask_only(ask->body, "", keys, out) && ask_word(ask->body, "keep", words, &keep, out) &&
        ask_count(ask->body, "swings", CABER_SWINGS_LEAST, CABER_SWINGS_MOST, &s.swings, out) &&
        ask_count(ask->body, "seed", 0, 0x7fffffff, &s.seed, out) &&
        ask_setups(&p->folders, ask->body, "setups", CABER_COMPARE_LEAST, CABER_COMPARE_MOST,
                   view.setups, &view.count, out)) {
        s.keep = keep ? CABER_KEEP_DELIVERY : CABER_KEEP_LOAD;
        s.threads = p->threads;
        s.watch = ask->watch;
        for (size_t i = 0; i < view.count; i++)
            given_name((const caber_setup *const *)view.setups, i, view.names[i]);
        const caber_status status = caber_compare_run((const caber_setup *const *)view.setups,
                                                      view.count, &s, &view.found, &message);
        if (status == CABER_OK)
            compare_reply(&view, out);
        else
            reply_failed(out, status, &message);
    }
    caber_comparison_free(view.found);
    for (size_t i = 0; i < view.count; i++)
        caber_setup_free(view.setups[i]);
}

/* ------------------------------------------------------------------ uncertainty, sensitivity */

static void uncertainty_reply(const caber_setup *setup, const caber_uncertainty *found,
                              const caber_uncertainty_settings *settings, server_reply *out)
{
    json_t *notes = json_array();
    if (found->draws.failed)
        json_app_note(notes,
                      "%zu of %zu draws of the profile failed and are left out; the first, draw "
                      "%zu: %s",
                      found->draws.failed, found->draws.count, found->draws.first_failed,
                      found->draws.failure.text);
    json_app_note(notes,
                  "the spread covers the errors of the measured profile only: neither those of "
                  "head, grip and build, nor what a player does differently from swing to swing");
    reply_result(out, uncertainty_swing_json(setup, found, settings), notes, cautions_all, NULL);
}

void view_uncertainty(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {"setup", "draws", "seed", NULL};
    caber_setup *setup = NULL;
    caber_uncertainty found;
    caber_uncertainty_settings s = caber_uncertainty_default();
    caber_message message = {""};
    s.threads = p->threads;
    s.watch = ask->watch;
    if (ask_only(ask->body, "", keys, out) &&
        ask_count(ask->body, "draws", CABER_DRAWS_LEAST, CABER_DRAWS_MOST, &s.draws, out) &&
        ask_count(ask->body, "seed", 0, 0x7fffffff, &s.seed, out) &&
        ask_setup(&p->folders, ask->body, "setup", &setup, out)) {
        const caber_status status = caber_uncertainty_run(setup, &s, &found, &message);
        if (status == CABER_OK)
            uncertainty_reply(setup, &found, &s, out);
        else
            reply_failed(out, status, &message);
    }
    caber_setup_free(setup);
}

void view_sensitivity(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {"setup", "parts", NULL};
    caber_setup *setup = NULL;
    caber_sensitivity *found = NULL;
    caber_message message = {""};
    int parts = CABER_PARTS_USUAL;
    if (ask_only(ask->body, "", keys, out) &&
        ask_count(ask->body, "parts", CABER_PARTS_LEAST, CABER_PARTS_MOST, &parts, out) &&
        ask_setup(&p->folders, ask->body, "setup", &setup, out)) {
        const caber_status status =
            caber_sensitivity_run(setup, parts, &ask->watch, &found, &message);
        if (status == CABER_OK) {
            json_t *notes = json_array();
            json_app_note(notes,
                          "the rows hold for small changes; where \"anew\" is far from \"first\", "
                          "what rings in the shaft at impact has changed its phase");
            reply_result(out, sensitivity_json(setup, found), notes, cautions_all, NULL);
        } else {
            reply_failed(out, status, &message);
        }
    }
    caber_sensitivity_free(found);
    caber_setup_free(setup);
}
