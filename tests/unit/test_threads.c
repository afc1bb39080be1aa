/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One model, two threads, each with its own work: the same bits as alone. Also run under the thread
 * sanitizer, where a write to the model would show. */
#include <pthread.h>
#include <stdlib.h>

#include "caber.h"
#include "check.h"
#include "verification/setups.h"

enum { RUNS = 3, THREADS = 2 };

typedef struct task {
    const caber_model *model;
    caber_swing swing[RUNS];
    caber_trace *trace;
    caber_status status;
} task;

/* No assertion in here: cmocka's belong to the main thread. */
static void *run(void *user)
{
    task *t = user;
    caber_work *w = NULL;
    t->status = caber_work_create(t->model, &w, NULL);
    for (int i = 0; i < RUNS && t->status == CABER_OK; i++)
        t->status = caber_swing_run(t->model, w, &t->swing[i], i ? NULL : t->trace, NULL);
    caber_work_free(w);
    return NULL;
}

static void assert_same(const caber_swing *a, const caber_swing *b)
{
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++) {
        const double x = caber_impact_value(&a->bent, f + i);
        const double y = caber_impact_value(&b->bent, f + i);
        const double u = caber_impact_value(&a->straight, f + i);
        const double v = caber_impact_value(&b->straight, f + i);
        assert_memory_equal(&x, &y, sizeof x);
        assert_memory_equal(&u, &v, sizeof u);
    }
    assert_int_equal(a->effort.steps, b->effort.steps);
    assert_int_equal(a->effort.evaluations, b->effort.evaluations);
}

static void threads_share_a_model(void **state)
{
    (void)state;
    caber_message message;
    caber_setup *setup = NULL;
    caber_model *model = NULL;
    assert_int_equal(caber_setup_read(CABER_SOURCE_DIR "/models/setups/neutral-quick.yaml", NULL, 0,
                                      &setup, &message),
                     CABER_OK);
    assert_int_equal(caber_model_create(setup, &model, &message), CABER_OK);
    caber_setup_free(setup); /* the model keeps nothing of it */
    task alone = {.model = model, .trace = caber_trace_create()};
    run(&alone);
    assert_int_equal(alone.status, CABER_OK);

    task tasks[THREADS];
    pthread_t threads[THREADS];
    for (int i = 0; i < THREADS; i++) {
        tasks[i] = (task){.model = model, .trace = caber_trace_create()};
        assert_int_equal(pthread_create(&threads[i], NULL, run, &tasks[i]), 0);
    }
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(pthread_join(threads[i], NULL), 0);
    for (int i = 0; i < THREADS; i++) {
        assert_int_equal(tasks[i].status, CABER_OK);
        for (int k = 0; k < RUNS; k++)
            assert_same(&tasks[i].swing[k], &alone.swing[0]); /* a work keeps nothing of a run */
        assert_int_equal(tasks[i].trace->count, alone.trace->count);
        assert_memory_equal(tasks[i].trace->rows, alone.trace->rows,
                            alone.trace->count * sizeof *alone.trace->rows);
        caber_trace_free(tasks[i].trace);
    }
    caber_trace_free(alone.trace);
    caber_model_free(model);
}

/* Models made at the same time: nothing is shared behind them either. */
static void *make(void *user)
{
    caber_setup *setup = NULL;
    caber_model *model = NULL;
    task *t = user;
    t->status = caber_setup_read(CABER_SOURCE_DIR "/models/setups/soft-tip-late.yaml", NULL, 0,
                                 &setup, NULL);
    if (t->status == CABER_OK)
        t->status = caber_model_create(setup, &model, NULL);
    caber_setup_free(setup);
    if (t->status == CABER_OK) {
        t->model = model;
        run(t);
    }
    caber_model_free(model);
    return NULL;
}

static void threads_make_models(void **state)
{
    (void)state;
    task tasks[THREADS] = {{0}};
    pthread_t threads[THREADS];
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, make, &tasks[i]), 0);
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(pthread_join(threads[i], NULL), 0);
    assert_int_equal(tasks[0].status, CABER_OK);
    assert_int_equal(tasks[1].status, CABER_OK);
    assert_same(&tasks[0].swing[0], &tasks[1].swing[0]);
}

/* The bench of one setup. */
typedef struct measuring {
    const caber_setup *setup;
    caber_bench bench;
    caber_status status;
} measuring;

static void *measure(void *user)
{
    measuring *m = user;
    const caber_jig jig = caber_jig_default();
    m->status = caber_bench_run(m->setup, &jig, &m->bench, NULL);
    return NULL;
}

static void threads_measure_a_setup(void **state)
{
    (void)state;
    caber_setup *setup = setups_read("neutral-quick");
    measuring alone = {.setup = setup}, both[THREADS];
    measure(&alone);
    pthread_t threads[THREADS];
    for (int i = 0; i < THREADS; i++) {
        both[i] = (measuring){.setup = setup};
        assert_int_equal(pthread_create(&threads[i], NULL, measure, &both[i]), 0);
    }
    for (int i = 0; i < THREADS; i++)
        assert_int_equal(pthread_join(threads[i], NULL), 0);
    assert_int_equal(alone.status, CABER_OK);
    for (int i = 0; i < THREADS; i++) {
        assert_int_equal(both[i].status, CABER_OK);
        assert_memory_equal(&both[i].bench, &alone.bench, sizeof alone.bench);
    }
    caber_setup_free(setup);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(threads_share_a_model),
                                       cmocka_unit_test(threads_make_models),
                                       cmocka_unit_test(threads_measure_a_setup)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
