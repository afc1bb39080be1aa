/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Draws shared among threads: the same bits for any number of them. Also run under the thread
 * sanitizer. */
#include <stdlib.h>

#include "caber.h"
#include "check.h"
#include "verification/setups.h"

/* A sanitiser is slow, and looks for races or what becomes of memory: once, by several. */
enum { ROUNDS = CHECK_SANITISED ? 1 : 3 };
static const int threads[3] = {3, 2, 1};

/* A setup that is swung and measured quickly, with an error of its own at each of three stations. */
static caber_setup *setup_make(void)
{
    caber_setup *s = setups_read("neutral-quick");
    s->settings.until = 0.01;
    s->settings.elements = 8;
    s->settings.modes = 4;
    s->settings.stations = 6;
    const size_t n = 3;
    s->shaft.stations[1] = s->shaft.stations[s->shaft.station_count / 2];
    s->shaft.stations[2] = s->shaft.stations[s->shaft.station_count - 1];
    s->shaft.station_count = n;
    s->shaft.errors.count = n;
    s->shaft.errors.share = calloc(n * n * 3, sizeof(double));
    assert_non_null(s->shaft.errors.share);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < 3; j++)
            s->shaft.errors.share[(i * n + i) * 3 + j] = 0.01;
    return s;
}

/* Some draws fail: they are counted the same too, and the first of them is the same. */
static void swings(void **state)
{
    (void)state;
    caber_setup *s = setup_make();
    static caber_uncertainty found[ROUNDS];
    /* Nearly as heavy as a solid rod, which some of the draws are heavier than: two of the errors'
     * standard deviations. */
    caber_station *tip = &s->shaft.stations[0];
    tip->mass =
        s->shaft.density * 3.14159265358979 * tip->diameter * tip->diameter / 4 * exp(-0.02);
    for (int i = 0; i < ROUNDS; i++) {
        const caber_uncertainty_settings how = {.draws = 200, .seed = 5, .threads = threads[i]};
        assert_int_equal(caber_uncertainty_run(s, &how, &found[i], NULL), CABER_OK);
        assert_true(found[i].draws.failed > 0);
        assert_int_equal(found[i].draws.failed, found[0].draws.failed);
        assert_int_equal(found[i].draws.first_failed, found[0].draws.first_failed);
        assert_string_equal(found[i].draws.failure.text, found[0].draws.failure.text);
        assert_memory_equal(&found[i].bent, &found[0].bent, sizeof found->bent);
        assert_memory_equal(&found[i].straight, &found[0].straight, sizeof found->straight);
    }
    assert_non_null(strstr(found[0].draws.failure.text, "shaft.stations[0].mass"));
    assert_true(found[0].bent.sd.peak_lag > 0);
    caber_setup_free(s);
}

#ifndef __SANITIZE_THREAD__
static void benches(void **state)
{
    (void)state;
    caber_setup *s = setup_make();
    caber_jig jig = caber_jig_default();
    jig.mode_count = 2;
    jig.tip_mass = 0;
    jig.span = 1.1; /* few places */
    static caber_bench_uncertainty found[ROUNDS];
    for (int i = 0; i < ROUNDS; i++) {
        const caber_uncertainty_settings how = {.draws = 200, .seed = 5, .threads = threads[i]};
        assert_int_equal(caber_bench_uncertainty_run(s, &jig, &how, &found[i], NULL), CABER_OK);
        assert_memory_equal(&found[i].sd, &found[0].sd, sizeof found->sd);
        assert_memory_equal(&found[i].mean, &found[0].mean, sizeof found->mean);
        assert_memory_equal(&found[i].low, &found[0].low, sizeof found->low);
        assert_memory_equal(&found[i].high, &found[0].high, sizeof found->high);
    }
    assert_true(found[0].sd.frequency > 0);
    caber_setup_free(s);
}
#endif

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(swings),
#ifndef __SANITIZE_THREAD__ /* unit.threads has benches in threads, by two and not by hundreds */
        cmocka_unit_test(benches),
#endif
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
