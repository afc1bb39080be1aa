/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The statistics of shot batches give the same bits on any number of threads; run under the thread
 * sanitiser too. */
#include <pthread.h>

#include "base/random.h"
#include "check.h"
#include "study/batch_stats.h"

enum { SHOTS = 15, BATCHES = 40, THREADS = 3 };

/* One thread's share of many batches. */
typedef struct share {
    size_t from, step, count;
    batch_summary *out;
} share;

static void *summarise_share(void *context)
{
    const share *w = context;
    for (size_t k = w->from; k < w->count; k += w->step) {
        double value[SHOTS];
        batch_settings s = batch_settings_default();
        s.stream = k;
        s.resamples = BATCH_RESAMPLES_LEAST;
        for (size_t i = 0; i < SHOTS; i++)
            value[i] = random_normal(5, k, i);
        if (batch_summarise(value, SHOTS, &s, &w->out[k], NULL) != CABER_OK)
            w->out[k].count = 0;
    }
    return NULL;
}

static void any_number_of_threads(void **state)
{
    (void)state;
    static batch_summary alone[BATCHES], shared[BATCHES];
    pthread_t thread[THREADS];
    share shares[THREADS], all = {.from = 0, .step = 1, .count = BATCHES, .out = alone};
    summarise_share(&all);
    for (size_t i = 0; i < THREADS; i++) {
        shares[i] = (share){.from = i, .step = THREADS, .count = BATCHES, .out = shared};
        assert_int_equal(pthread_create(&thread[i], NULL, summarise_share, &shares[i]), 0);
    }
    for (size_t i = 0; i < THREADS; i++)
        pthread_join(thread[i], NULL);
    for (size_t k = 0; k < BATCHES; k++) {
        assert_int_equal(alone[k].count, SHOTS);
        assert_close(shared[k].mean_bootstrap.low, alone[k].mean_bootstrap.low, 0, 0);
        assert_close(shared[k].median_interval.high, alone[k].median_interval.high, 0, 0);
        assert_close(shared[k].mad_sd_interval.high, alone[k].mad_sd_interval.high, 0, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_number_of_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
