/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A plan that threads share: each fills cases of its own, and every case is the same as on one thread. Also
 * run under the thread sanitiser. */
#include <stdlib.h>

#include "check.h"
#include "study/plan.h"
#include "study/pool.h"

enum { FACTORS = 6 };

typedef struct sharing {
    const caber_study *plan;
    double *found; /* [points][FACTORS], read back from the setups */
    bool *good;    /* [points] */
} sharing;

static void *enter(void *user)
{
    const sharing *s = user;
    plan_case *c;
    return plan_case_create(s->plan, &c, NULL) == CABER_OK ? c : NULL;
}

static void run(void *user, void *own, size_t point)
{
    sharing *s = user;
    plan_case *c = own;
    s->good[point] = plan_case_fill(s->plan, point, c, NULL) == CABER_OK;
    for (size_t k = 0; k < FACTORS; k++) {
        const plan_factor *f = &s->plan->factors[k];
        s->found[point * FACTORS + k] =
            f->chosen ? c->setup.shaft.stations[0].ei : field_address_get(&f->at, &c->setup);
    }
}

static void leave(void *user, void *own)
{
    (void)user;
    plan_case_free(own);
}

static void fill_all(const caber_study *plan, int threads, double *found, bool *good)
{
    sharing s = {.plan = plan, .found = found, .good = good};
    const pool_job job = {.count = plan_points(plan),
                          .threads = threads,
                          .user = &s,
                          .enter = enter,
                          .run = run,
                          .leave = leave};
    assert_true(pool_run(&job));
}

static void threads_share_a_plan(void **state)
{
    (void)state;
    caber_study *plan = NULL;
    caber_message m;
    if (caber_study_read(CABER_SOURCE_DIR "/models/studies/what-drives-carry.yaml", NULL, 0, &plan,
                         &m) != CABER_OK)
        fail_msg("%s", m.text);
    const size_t points = plan_points(plan);
    assert_int_equal(plan->factor_count, FACTORS);
    double *one = calloc(points * FACTORS, sizeof *one),
           *four = calloc(points * FACTORS, sizeof *four);
    bool *good = calloc(points, sizeof *good);
    assert_true(one && four && good);
    fill_all(plan, 1, one, good);
    fill_all(plan, 4, four, good);
    assert_memory_equal(one, four, points * FACTORS * sizeof *one);
    double values[FACTORS];
    for (size_t i = 0; i < points; i++) {
        assert_true(good[i]);
        plan_values(plan, i, values);
        for (size_t k = 0; k < FACTORS; k++) {
            const plan_factor *f = &plan->factors[k];
            assert_true(
                four[i * FACTORS + k] ==
                (f->chosen ? f->choices[(size_t)values[k]]->shaft.stations[0].ei : values[k]));
        }
    }
    free(one);
    free(four);
    free(good);
    caber_study_free(plan);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(threads_share_a_plan)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
