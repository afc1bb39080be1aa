/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * scatter_draw: swings of a player who varies. */
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "study/habit.h"
#include "study/outputs.h"
#include "study/pool.h"
#include "study/scatter.h"
#include "swing/check.h"
#include "swing/model.h"

enum { FAILED_MOST = 20 }; /* one swing in so many may fail */

/* What is the same for all swings of one club. */
typedef struct stand {
    caber_setup setup; /* the caller's, with the ball where the usual swing meets it */
    habits habits;
    caber_model *model;
    caber_scatter_club *club;
    caber_status *status; /* [swings] */
} stand;

typedef struct volley {
    const caber_scatter_settings *settings;
    size_t count;
    stand *stands; /* [count] */
} volley;

/* What a thread has for one club. */
typedef struct hand {
    caber_model *model;
    caber_work *work;
} hand;

typedef struct hands {
    shot_work *shot;
    hand club[CABER_SCATTER_MOST];
} hands;

/* ------------------------------------------------------------------ one swing */

/* A swing by the model that has the player already; where it meets the ball as study/habit.h has it. */
static caber_status swing_and_strike(const stand *s, const caber_setup *setup, const hand *h,
                                     shot_work *shot, caber_outcome *out, caber_message *message)
{
    caber_swing swing;
    const caber_status status = caber_swing_run(h->model, h->work, &swing, NULL, message);
    if (status != CABER_OK)
        return status;
    const caber_place place = habits_place(s->club->place, &s->club->usual.swing, &swing);
    return outcome_fill(shot, setup, &swing, place, out, message);
}

static caber_status swing_varied(const stand *s, size_t swing, const hand *h, shot_work *shot,
                                 caber_outcome *out, caber_message *message)
{
    caber_setup varied = s->setup;
    habits_apply(&s->habits, &s->setup.player, s->club->drawn + swing * CABER_HABITS,
                 &varied.player);
    const caber_status status = setup_check(&varied, message);
    if (status != CABER_OK)
        return status;
    model_set_player(h->model, &varied.player);
    return swing_and_strike(s, &varied, h, shot, out, message);
}

/* ------------------------------------------------------------------ many of them */

static void leave(void *user, void *own)
{
    const volley *v = user;
    hands *h = own;
    if (!h)
        return;
    for (size_t c = 0; c < v->count; c++) {
        caber_work_free(h->club[c].work);
        model_borrow_free(h->club[c].model);
    }
    shot_work_free(h->shot);
    free(h);
}

static void *enter(void *user)
{
    const volley *v = user;
    hands *h = calloc(1, sizeof *h);
    bool good = h && shot_work_create(&h->shot, NULL) == CABER_OK;
    for (size_t c = 0; good && c < v->count; c++) {
        hand *of = &h->club[c];
        of->model = model_borrow(v->stands[c].model);
        good = of->model && caber_work_create(of->model, &of->work, NULL) == CABER_OK;
    }
    if (good)
        return h;
    leave(user, h);
    return NULL;
}

static void run(void *user, void *own, size_t item)
{
    volley *v = user;
    hands *h = own;
    const size_t swings = (size_t)v->settings->swings, c = item / swings, i = item % swings;
    stand *s = &v->stands[c];
    caber_scatter_club *to = s->club;
    s->status[i] = swing_varied(s, i, &h->club[c], h->shot, &to->outcomes[i], NULL);
    to->good[i] = s->status[i] == CABER_OK;
}

static caber_status run_all(volley *v, caber_message *message)
{
    const size_t swings = (size_t)v->settings->swings;
    bool stopped = false;
    const pool_job job = {.count = v->count * swings,
                          .threads = v->settings->threads,
                          .user = v,
                          .enter = enter,
                          .run = run,
                          .leave = leave,
                          .watch = v->settings->watch,
                          .stopped = &stopped};
    if (!pool_run(&job))
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    return stopped ? message_set(message, CABER_STOPPED, "stopped as wished") : CABER_OK;
}

/* ------------------------------------------------------------------ failures */

/* Runs a swing again, to hear why it fails. */
static void failure_hear(volley *v, const stand *s, size_t swing, caber_message *message)
{
    caber_outcome again;
    hands *h = enter(v);
    *message = (caber_message){""};
    if (h)
        swing_varied(s, swing, &h->club[s - v->stands], h->shot, &again, message);
    leave(v, h);
}

static caber_status count_failures(volley *v, stand *s, caber_message *message)
{
    caber_scatter_club *to = s->club;
    caber_draws *d = &to->draws;
    *d = (caber_draws){.count = (size_t)v->settings->swings};
    for (size_t i = d->count; i-- > 0;) {
        if (to->good[i])
            continue;
        if (s->status[i] == CABER_NO_MEMORY)
            return message_set(message, CABER_NO_MEMORY, "out of memory");
        d->failed++;
        d->first_failed = i;
        to->unflown += to->outcomes[i].swing.met_ball;
        memset(&to->outcomes[i], 0, sizeof to->outcomes[i]);
    }
    if (!d->failed)
        return CABER_OK;
    failure_hear(v, s, d->first_failed, &d->failure);
    if (d->failed * FAILED_MOST <= d->count)
        return CABER_OK;
    return message_set(message, s->status[d->first_failed],
                       "%zu of %zu swings failed, more than 1 in %d; the first, swing %zu: %.800s",
                       d->failed, d->count, FAILED_MOST, d->first_failed + 1, d->failure.text);
}

/* ------------------------------------------------------------------ the usual swing */

static caber_status check_setup(const caber_setup *setup, caber_message *message)
{
    const caber_status status = setup_check(setup, message);
    if (status != CABER_OK || !(setup->settings.until > 0))
        return status;
    return message_set(message, CABER_BAD_INPUT,
                       "settings.until: %g s is not allowed here; it must be 0, so that the swing "
                       "ends at the ball",
                       setup->settings.until);
}

/* Swings as usual, and lays down the ball. */
static caber_status swing_usual(stand *s, caber_message *message)
{
    caber_scatter_club *to = s->club;
    caber_swing *swing = &to->usual.swing;
    shot_work *shot = NULL;
    caber_work *work = NULL;
    caber_status status = caber_model_create(&s->setup, &s->model, message);
    if (status == CABER_OK)
        status = caber_work_create(s->model, &work, message);
    if (status == CABER_OK)
        status = shot_work_create(&shot, message);
    if (status == CABER_OK)
        status = caber_swing_run(s->model, work, swing, NULL, message);
    if (status == CABER_OK) {
        to->place = caber_shot_place(&s->setup, swing);
        habits_fix_ball(&s->setup.player, swing);
        const caber_swing found = *swing;
        status = outcome_fill(shot, &s->setup, &found, to->place, &to->usual, message);
    }
    shot_work_free(shot);
    caber_work_free(work);
    return status;
}

/* ------------------------------------------------------------------ all of it */

static caber_status stand_create(const caber_setup *setup, const caber_scatter_settings *how,
                                 caber_scatter_club *to, stand *s, caber_message *message)
{
    const size_t n = (size_t)how->swings;
    s->setup = *setup;
    s->club = to;
    caber_status status = check_setup(setup, message);
    if (status == CABER_OK)
        status = habits_create(&setup->player, &s->habits, message);
    if (status == CABER_OK)
        status = swing_usual(s, message);
    if (status != CABER_OK)
        return status;
    s->status = calloc(n, sizeof *s->status);
    to->good = calloc(n, sizeof *to->good);
    to->drawn = calloc(n * CABER_HABITS, sizeof *to->drawn);
    to->outcomes = calloc(n, sizeof *to->outcomes);
    if (!s->status || !to->good || !to->drawn || !to->outcomes)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    for (size_t i = 0; i < n; i++)
        habits_draw(&s->habits, how->seed, i, to->drawn + i * CABER_HABITS);
    return CABER_OK;
}

/* With several setups, says which one a message is about. */
static caber_status of_setup(const caber_setup *const *setups, size_t count, size_t c,
                             caber_status status, caber_message *message)
{
    if (status == CABER_OK || count < 2 || !message)
        return status;
    const caber_message why = *message;
    return message_set(message, status, "setup %zu of %zu, '%s': %.850s", c + 1, count,
                       setups[c]->name, why.text);
}

static caber_status draw(const caber_setup *const *setups, volley *v, caber_scatter_club *clubs,
                         caber_message *message)
{
    caber_status status = CABER_OK;
    for (size_t c = 0; c < v->count && status == CABER_OK; c++) {
        status = stand_create(setups[c], v->settings, &clubs[c], &v->stands[c], message);
        status = of_setup(setups, v->count, c, status, message);
    }
    if (status == CABER_OK)
        status = run_all(v, message);
    for (size_t c = 0; c < v->count && status == CABER_OK; c++) {
        status = count_failures(v, &v->stands[c], message);
        status = of_setup(setups, v->count, c, status, message);
    }
    return status;
}

caber_status scatter_draw(const caber_setup *const *setups, size_t count,
                          const caber_scatter_settings *settings, caber_scatter_club *clubs,
                          caber_message *message)
{
    volley v = {.settings = settings, .count = count, .stands = calloc(count, sizeof *v.stands)};
    if (!v.stands)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const caber_status status = draw(setups, &v, clubs, message);
    for (size_t c = 0; c < count; c++) {
        caber_model_free(v.stands[c].model);
        free(v.stands[c].status);
    }
    free(v.stands);
    return status == CABER_OK ? message_clear(message) : status;
}

void scatter_club_free(caber_scatter_club *c)
{
    free(c->good);
    free(c->drawn);
    free(c->outcomes);
    free(c->spreads);
}
