/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The long runs: the spread from swing to swing, setups beside it, what the errors of a profile leave open, and
 * which part of the shaft does what. Each is what its command prints with --json. */
#include <math.h>

#include "app/cautions.h"
#include "app/compare.h"
#include "app/outputs.h"
#include "app/scatter.h"
#include "app/sensitivity.h"
#include "app/uncertainty.h"
#include "page/page.h"

static void note_draws(json_t *notes, const char *whose, const caber_draws *draws)
{
    if (draws->failed)
        reply_note(notes, "%s%s%zu of %zu swings failed and are left out; the first, swing %zu: %s",
                   whose, *whose ? ": " : "", draws->failed, draws->count, draws->first_failed + 1,
                   draws->failure.text);
}

static void note_players(json_t *notes, const caber_setup *const *setups, size_t count)
{
    if (!given_same_player(setups, count))
        reply_note(notes,
                   "the players differ: so the differences are of players and clubs together");
}

/* ------------------------------------------------------------------ scatter */

/* Where each good swing's ball lands, one list a setup: what the plot of the command shows. */
static json_t *landing_points(const scatter_view *view)
{
    const size_t carry = caber_output_find("carry_m"), side = caber_output_find("side_m");
    json_t *all = json_array();
    for (size_t c = 0; c < view->count; c++) {
        const caber_scatter_club *club = &view->found->clubs[c];
        json_t *along = json_array(), *across = json_array();
        for (int i = 0; i < view->found->settings.swings; i++) {
            if (!club->good[i])
                continue;
            json_array_append_new(
                along,
                json_real(outputs_printed(carry, caber_outcome_number(&club->outcomes[i], carry))));
            json_array_append_new(
                across,
                json_real(outputs_printed(side, caber_outcome_number(&club->outcomes[i], side))));
        }
        json_array_append_new(all, json_pack("{so so}", "carry_m", along, "side_m", across));
    }
    return all;
}

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
    for (size_t i = 0; i < view->count; i++)
        note_draws(notes, view->names[i], &view->found->clubs[i].draws);
    note_players(notes, (const caber_setup *const *)view->setups, view->count);
    reply_note(notes, "the intervals say how well so many swings tell a mean and a spread, not how "
                      "well the habits in the player's file are known");
    json_t *result = scatter_json(view);
    if (result)
        json_object_set_new(result, "landing_points", landing_points(view));
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
    note_draws(notes, "", &view->found->draws);
    note_players(notes, (const caber_setup *const *)view->setups, view->count);
    if (!view->found->spread_known)
        reply_note(notes, "there is no spread to hold the differences against: %s",
                   view->found->no_spread.text);
    for (size_t i = 0; i < view->count; i++)
        if (!view->found->setups[i].outcome.flies)
            reply_note(notes, "no flight of the ball of %s: %s", view->names[i],
                       view->found->setups[i].why.text);
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
        reply_note(notes,
                   "%zu of %zu draws of the profile failed and are left out; the first, draw "
                   "%zu: %s",
                   found->draws.failed, found->draws.count, found->draws.first_failed,
                   found->draws.failure.text);
    reply_note(notes,
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
            reply_note(notes,
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
