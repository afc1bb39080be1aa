/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Swings of two setups shared among threads: the same bits for any number of them. Also run under the
 * thread sanitizer. */
#include <stdatomic.h>
#include <stdlib.h>

#include "check.h"
#include "study/outputs.h"
#include "study/pool.h"
#include "study/scatter.h"
#include "verification/setups.h"

#if defined(__SANITIZE_THREAD__)
/* Slow, and it looks for races alone. */
enum { ROUNDS = 1 };
static const int threads[ROUNDS] = {3};
#else
enum { ROUNDS = 3 };
static const int threads[ROUNDS] = {1, 2, 3};
#endif
enum { SWINGS = 6, SETUPS = 2 };

static caber_setup *setup_make(const char *name)
{
    caber_setup *s = setups_read(name);
    s->settings.modes = 3;
    s->settings.stations = 5;
    s->settings.elements = 6;
    s->settings.tolerance = 1e-4;
    return s;
}

static void swings(void **state)
{
    (void)state;
    caber_setup *a = setup_make("neutral-late"), *b = setup_make("firm-tip-late");
    const caber_setup *const setups[SETUPS] = {a, b};
    caber_scatter_club club[ROUNDS][SETUPS] = {0};
    caber_message m;
    for (int r = 0; r < ROUNDS; r++) {
        const caber_scatter_settings how = {
            .swings = SWINGS, .seed = 2, .threads = threads[r], .level = 0.95};
        if (scatter_draw(setups, SETUPS, &how, club[r], &m) != CABER_OK)
            fail_msg("%s", m.text);
        for (int c = 0; c < SETUPS; c++)
            for (size_t i = 0; i < SWINGS; i++)
                for (size_t o = 0; o < caber_output_count(); o++) {
                    const double got = caber_outcome_number(&club[r][c].outcomes[i], o);
                    const double want = caber_outcome_number(&club[0][c].outcomes[i], o);
                    assert_memory_equal(&got, &want, sizeof got);
                }
    }
    const size_t carry = caber_output_find("carry_m");
    assert_true(caber_outcome_number(&club[0][0].outcomes[0], carry) > 100);
    assert_true(caber_outcome_number(&club[0][0].outcomes[0], carry) !=
                caber_outcome_number(&club[0][1].outcomes[0], carry));
    for (int r = 0; r < ROUNDS; r++)
        for (int c = 0; c < SETUPS; c++)
            scatter_club_free(&club[r][c]);
    caber_setup_free(a);
    caber_setup_free(b);
}

/* ------------------------------------------------------------------ the pool itself */

enum { ITEMS = 500 };

typedef struct bench {
    int done[ITEMS];
    atomic_int entered, left; /* of threads that had what they need */
    int refused;              /* how many threads may not */
} bench;

static void *enter(void *user)
{
    bench *b = user;
    if (atomic_fetch_add(&b->entered, 1) < b->refused)
        return NULL;
    return b;
}

static void run(void *user, void *own, size_t item)
{
    bench *b = user;
    b->done[item] += own == user;
}

static void leave(void *user, void *own)
{
    bench *b = user;
    atomic_fetch_add(&b->left, own == user);
}

/* Every item once, even when threads cannot have what they need; none of them: that is said. */
static void items(void **state)
{
    (void)state;
    for (int refused = 0; refused <= 3; refused++) {
        bench b = {.refused = refused};
        const pool_job job = {
            .count = ITEMS, .threads = 3, .user = &b, .enter = enter, .run = run, .leave = leave};
        assert_int_equal(pool_run(&job), refused < 3);
        assert_int_equal(b.entered, 3);
        assert_int_equal(b.left, 3 - refused);
        for (int i = 0; i < ITEMS; i++)
            assert_int_equal(b.done[i], refused < 3);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(swings), cmocka_unit_test(items)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
