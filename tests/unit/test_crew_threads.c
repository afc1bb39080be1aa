/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The threads of one process of caber-mpi: given chunks in any order they give the numbers that engine_run
 * gives, and are not left hanging when nobody waits for them. Also run under the thread sanitiser. */
#include "studies.h"

#include "mpi/crew.h"

#define STUDY                                                                                      \
    STUDIES_HEAD                                                                                   \
    "factors: [{name: rise, path: load.grip.rise, from: 0.10 s, to: 0.20 s, levels: 6}, "          \
    "{name: tip_ei, path: \"shaft.sections[0].ei_scale\", values: [0.8, 1, 1.3]}]\n"               \
    "design: {kind: grid}\nreplicates: 3\nseed: 4\n"

static void keep(crew *c, numbers *n, double most)
{
    const crew_done *done = crew_wait(c, most);
    if (!done)
        return;
    assert_int_equal(done->status, CABER_OK);
    size_t count;
    const size_t first = engine_chunk(n->plan, done->result->chunk, &count);
    assert_int_equal(done->result->count, count);
    numbers_put(n, first, done->result);
    n->taken++;
    crew_release(c, done);
}

/* From the last chunk to the first, each to whichever thread is idle. */
static void gives_what_the_engine_gives(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDY);
    numbers *want = numbers_run(plan, 1);
    for (int threads = 1; threads <= 3; threads += 2) {
        numbers *n = numbers_create(plan);
        crew *c;
        assert_int_equal(crew_create(plan, threads, &c, NULL), CABER_OK);
        for (size_t left = engine_chunks(plan); left > 0 || crew_busy(c) > 0;) {
            assert_int_equal(crew_idle(c) + crew_busy(c), threads);
            while (left > 0 && crew_idle(c) > 0)
                crew_give(c, --left);
            keep(c, n, 1e-3);
        }
        assert_int_equal(n->taken, engine_chunks(plan));
        assert_null(crew_wait(c, 0));
        numbers_equal(n, want);
        crew_free(c);
        numbers_free(n);
    }
    numbers_free(want);
    caber_study_free(plan);
}

/* With a chunk that was looked at and not released, one under way, and an idle thread; and with nothing. */
static void ends_at_any_time(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDY);
    crew *c;
    assert_int_equal(crew_create(plan, 3, &c, NULL), CABER_OK);
    crew_give(c, 0);
    assert_non_null(crew_wait(c, 60));
    crew_give(c, 1);
    crew_free(c);
    assert_int_equal(crew_create(plan, 2, &c, NULL), CABER_OK);
    crew_free(c);
    crew_free(NULL);
    caber_study_free(plan);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_what_the_engine_gives),
        cmocka_unit_test(ends_at_any_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
