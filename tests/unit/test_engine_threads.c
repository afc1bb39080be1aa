/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The cases of a study shared by threads: the same bits for any number of them, each club made once, and
 * the calls of a sink one at a time. Also run under the thread sanitiser. */
#include "studies.h"

#include <stdatomic.h>

#include "study/pool.h"

#if defined(__SANITIZE_THREAD__)
/* Slow, and it looks for races alone. */
static const int threads[] = {3};
#define LEVELS "2"
#else
static const int threads[] = {1, 2, 3, 5};
#define LEVELS "4"
#endif

/* Clubs, some swings that never arrive, winds, and a player who varies. */
#define SHARED                                                                                     \
    "factors: [{name: shaft, path: shaft, files: [../shafts/neutral.yaml, "                        \
    "../shafts/soft-tip.yaml]}, {name: arm, path: player.arm.inertia, values: [1.15 kg m2, "       \
    "9 kg m2]}, {name: trim, path: build.tip_trim, from: 0 mm, to: 20 mm, levels: " LEVELS "}, "   \
    "{name: wind, path: air.wind_along, values: [-3 m/s, 4 m/s]}]\ndesign: {kind: grid}\n"         \
    "series: {outputs: [lead_deflection_mm], until: 0.5 s, step: 20 ms}\n"

static void assert_threads_share(const char *text)
{
    caber_study *plan = studies_read(text);
    numbers *one = numbers_run(plan, 1);
    size_t fine = 0;
    for (size_t i = 0; i < one->cases; i++)
        fine += one->status[i] == CABER_OK;
    assert_int_equal(2 * fine, one->cases);
    for (size_t t = 0; t < sizeof threads / sizeof threads[0]; t++) {
        numbers *n = numbers_run(plan, threads[t]);
        numbers_equal(n, one);
        numbers_free(n);
    }
    numbers_free(one);
    caber_study_free(plan);
}

static void threads_share_cases(void **state)
{
    (void)state;
    assert_threads_share(STUDIES_HEAD SHARED);
    assert_threads_share(STUDIES_HEAD SHARED "replicates: 3\nseed: 3\n");
}

/* ------------------------------------------------------------------ clubs */

enum { TURNS = 60 };

typedef struct locker {
    const caber_study *plan;
    clubs *all;
    atomic_size_t wrong;
} locker;

static void *enter(void *user)
{
    const locker *l = user;
    plan_case *c;
    return plan_case_create(l->plan, &c, NULL) == CABER_OK ? c : NULL;
}

static void leave(void *user, void *own)
{
    (void)user;
    plan_case_free(own);
}

/* Holds two clubs at once; a third cannot be. */
static void hold_some(void *user, void *own, size_t turn)
{
    locker *l = user;
    plan_case *c = own;
    const caber_model *first, *second, *none;
    const size_t points = plan_points(l->plan);
    bool good = plan_case_fill(l->plan, turn / 5 % points, c, NULL) == CABER_OK &&
                clubs_hold(l->all, c, &first, NULL) == CABER_OK;
    good = good && plan_case_fill(l->plan, turn % points, c, NULL) == CABER_OK &&
           clubs_hold(l->all, c, &second, NULL) == CABER_OK;
    if (!good) {
        atomic_fetch_add(&l->wrong, 1);
        return;
    }
    clubs_drop(l->all, first);
    c->values[0] = -1;
    c->setup.head.mass = -1;
    if (clubs_hold(l->all, c, &none, NULL) != CABER_BAD_INPUT || none)
        atomic_fetch_add(&l->wrong, 1);
    clubs_drop(l->all, second);
}

static size_t hold_by_threads(const caber_study *plan, size_t most)
{
    locker l = {.plan = plan};
    assert_int_equal(clubs_create(plan, most, &l.all, NULL), CABER_OK);
    const pool_job job = {
        .count = TURNS, .threads = 4, .user = &l, .enter = enter, .run = hold_some, .leave = leave};
    assert_true(pool_run(&job));
    assert_int_equal(l.wrong, 0);
    const size_t made = clubs_made(l.all);
    clubs_free(l.all);
    return made;
}

static void threads_share_clubs(void **state)
{
    (void)state;
    caber_study *plan = studies_read(
        STUDIES_HEAD "factors: [{name: trim, path: build.tip_trim, from: 0 mm, to: 20 mm, "
                     "levels: 6}]\ndesign: {kind: grid}\n");
    /* As soon as all have room, each is made once, however many threads want it at the same time. */
    assert_int_equal(hold_by_threads(plan, 12), 6);
    assert_true(hold_by_threads(plan, 1) > 6);
    caber_study_free(plan);
}

/* ------------------------------------------------------------------ a sink's calls */

/* Not guarded: the sanitiser sees a second thread in a call. */
typedef struct guest {
    numbers n;
    size_t calls, wanted;
    bool ended;
} guest;

static bool guest_wants(void *user, size_t chunk)
{
    guest *g = user;
    g->calls++;
    if (g->ended || chunk != g->n.asked++)
        g->wanted = SIZE_MAX / 2;
    g->wanted++;
    return true;
}

static bool guest_stop(void *user)
{
    guest *g = user;
    g->calls++;
    g->ended = g->ended || numbers_stop(&g->n);
    return g->ended;
}

static caber_status guest_take(void *user, const engine_result *result, caber_message *message)
{
    guest *g = user;
    g->calls++;
    return numbers_take(&g->n, result, message);
}

static void what_has_begun_is_taken(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD SHARED "replicates: 3\n");
    numbers *n = numbers_create(plan);
    guest g = {.n = *n};
    const engine_sink sink = {&g, guest_wants, guest_take, guest_stop};
    assert_true(engine_chunks(plan) > 4);
    g.n.stop_after = 1;
    assert_int_equal(engine_run(plan, 2, &sink, NULL), CABER_OK);
    /* One of the two was taken first; the other thread had its chunk. */
    assert_int_equal(g.n.taken, g.wanted);
    assert_true(g.wanted == 1 || g.wanted == 2);
    assert_true(g.ended);
    numbers_free(n);
    caber_study_free(plan);
}

static caber_status guest_refuses(void *user, const engine_result *result, caber_message *message)
{
    guest *g = user;
    (void)result;
    g->calls++;
    g->n.taken++;
    g->ended = true;
    snprintf(message->text, sizeof message->text, "no room");
    return CABER_IO_ERROR;
}

static void a_refusal_ends_all_threads(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD SHARED "replicates: 3\n");
    numbers *n = numbers_create(plan);
    guest g = {.n = *n};
    const engine_sink sink = {&g, guest_wants, guest_refuses, NULL};
    caber_message m;
    assert_int_equal(engine_run(plan, 3, &sink, &m), CABER_IO_ERROR);
    assert_string_equal(m.text, "no room");
    assert_int_equal(g.n.taken, 1);
    assert_true(g.wanted >= 1 && g.wanted <= 3);
    numbers_free(n);
    caber_study_free(plan);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(threads_share_cases),
        cmocka_unit_test(threads_share_clubs),
        cmocka_unit_test(what_has_begun_is_taken),
        cmocka_unit_test(a_refusal_ends_all_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
