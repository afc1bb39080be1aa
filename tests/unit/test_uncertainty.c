/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber_uncertainty_run and caber_bench_uncertainty_run: what they refuse, what they leave alone, what
 * becomes of draws that fail. The numbers are checked in verification/test_uncertainty.c. */
#include <stdlib.h>

#include "caber.h"
#include "check.h"
#include "verification/setups.h"

/* A demo setup made quick to compute, with four of the shaft's stations. */
static caber_setup *setup_read(const char *name)
{
    caber_setup *s = setups_read(name);
    s->settings.elements = 12;
    s->settings.modes = 4;
    s->settings.stations = 6;
    const size_t last = s->shaft.station_count - 1;
    for (size_t i = 1; i < 4; i++)
        s->shaft.stations[i] = s->shaft.stations[i * last / 3];
    s->shaft.station_count = 4;
    return s;
}

/* A bench that takes few readings. */
static caber_jig jig_make(void)
{
    caber_jig jig = caber_jig_default();
    jig.tip_mass = 0;
    jig.mode_count = 3;
    jig.span = 1;
    return jig;
}

/* Gives the shaft components of errors: all EI, all GJ, all mass, off by so much. */
static void set_errors(caber_setup *s, double ei, double gj, double mass)
{
    const double size[3] = {ei, gj, mass};
    const size_t n = s->shaft.station_count;
    caber_errors *e = &s->shaft.errors;
    free(e->share);
    e->count = 3;
    e->share = calloc(3 * n * 3, sizeof *e->share);
    assert_non_null(e->share);
    for (size_t k = 0; k < 3; k++)
        for (size_t i = 0; i < n; i++)
            e->share[(k * n + i) * 3 + k] = size[k];
}

/* A setup with errors of one in a hundred, whose swing is over soon. */
static caber_setup *setup_short(const char *name)
{
    caber_setup *s = setup_read(name);
    s->settings.until = 0.02;
    set_errors(s, 0.01, 0.01, 0.002);
    return s;
}

static const caber_uncertainty_settings least = {
    .draws = CABER_DRAWS_LEAST, .seed = 1, .threads = 1};

static caber_uncertainty *run(const caber_setup *s, const caber_uncertainty_settings *settings)
{
    caber_message message;
    caber_uncertainty *found = malloc(sizeof *found);
    assert_non_null(found);
    memset(found, 0xff, sizeof *found);
    if (caber_uncertainty_run(s, settings, found, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_string_equal(message.text, "");
    return found;
}

static caber_bench_uncertainty *run_bench(const caber_setup *s,
                                          const caber_uncertainty_settings *settings)
{
    caber_message message;
    const caber_jig jig = jig_make();
    caber_bench_uncertainty *found = malloc(sizeof *found);
    assert_non_null(found);
    memset(found, 0xff, sizeof *found);
    if (caber_bench_uncertainty_run(s, &jig, settings, found, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_string_equal(message.text, "");
    return found;
}

static void assert_same(const caber_impact *got, const caber_impact *want)
{
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++)
        if (f[i].offset != offsetof(caber_impact, energy_residual))
            assert_true(caber_impact_value(got, f + i) == caber_impact_value(want, f + i));
    assert_true(got->energy_residual == 0);
}

/* ------------------------------------------------------------------ what comes out */

/* The value is that of a plain swing, and of a plain bench, to the last bit. */
static void the_value_is_the_plain_one(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-quick");
    caber_uncertainty *u = run(s, &least);
    caber_model *m = NULL;
    caber_work *w = NULL;
    caber_swing swing;
    assert_int_equal(caber_model_create(s, &m, NULL), CABER_OK);
    assert_int_equal(caber_work_create(m, &w, NULL), CABER_OK);
    assert_int_equal(caber_swing_run(m, w, &swing, NULL, NULL), CABER_OK);
    assert_memory_equal(&u->swing.bent, &swing.bent, sizeof swing.bent);
    assert_memory_equal(&u->swing.straight, &swing.straight, sizeof swing.straight);
    assert_int_equal(u->draws.count, 200);
    assert_int_equal(u->draws.failed, 0);
    assert_string_equal(u->draws.failure.text, "");
    assert_true(u->bent.sd.droop > 0 && u->straight.sd.head_speed > 0);
    assert_true(u->straight.sd.droop == 0);
    assert_true(u->bent.low.droop < swing.bent.droop && swing.bent.droop < u->bent.high.droop);
    caber_work_free(w);
    caber_model_free(m);
    free(u);

    caber_bench_uncertainty *b = run_bench(s, &least);
    const caber_jig jig = jig_make();
    caber_bench bench;
    assert_int_equal(caber_bench_run(s, &jig, &bench, NULL), CABER_OK);
    assert_memory_equal(&b->bench, &bench, sizeof bench);
    assert_int_equal(b->sd.span_count, bench.span_count);
    assert_int_equal(b->high.mode_count, bench.mode_count);
    assert_memory_equal(b->low.span_at, bench.span_at, sizeof bench.span_at);
    assert_true(b->sd.face_length == 0 && b->sd.frequency > 0 && b->sd.span_ei[0] > 0);
    free(b);
    caber_setup_free(s);
}

/* Errors of nothing move nothing, not by a bit. */
static void no_errors_no_spread(void **state)
{
    (void)state;
    if (CHECK_SANITISED)
        skip(); /* 200 swings and as many benches */
    caber_setup *s = setup_short("neutral-quick");
    set_errors(s, 0, 0, 0);
    caber_uncertainty *u = run(s, &least);
    static const caber_impact none;
    assert_memory_equal(&u->bent.sd, &none, sizeof none);
    assert_memory_equal(&u->straight.sd, &none, sizeof none);
    assert_same(&u->bent.mean, &u->swing.bent);
    assert_same(&u->bent.low, &u->swing.bent);
    assert_same(&u->bent.high, &u->swing.bent);
    assert_same(&u->straight.high, &u->swing.straight);
    free(u);
    caber_bench_uncertainty *b = run_bench(s, &least);
    caber_bench flat = b->bench;
    assert_memory_equal(&b->mean, &flat, sizeof flat);
    assert_memory_equal(&b->low, &flat, sizeof flat);
    assert_memory_equal(&b->high, &flat, sizeof flat);
    caber_bench zero = {.span_count = flat.span_count, .mode_count = flat.mode_count};
    memcpy(zero.span_at, flat.span_at, sizeof zero.span_at);
    assert_memory_equal(&b->sd, &zero, sizeof zero);
    free(b);
    caber_setup_free(s);
}

/* Same seed, same bytes; another seed, other draws of the same errors. */
static void seeds(void **state)
{
    (void)state;
    if (CHECK_SANITISED)
        skip(); /* 600 swings */
    caber_setup *s = setup_short("neutral-smooth");
    caber_uncertainty_settings other = least;
    other.seed = 0x7fffffff;
    caber_uncertainty *a = run(s, &least), *b = run(s, &least), *c = run(s, &other);
    assert_memory_equal(&a->bent, &b->bent, sizeof a->bent);
    assert_memory_equal(&a->straight, &b->straight, sizeof a->straight);
    assert_true(a->bent.sd.droop != c->bent.sd.droop);
    /* 200 draws know a standard deviation to a twentieth. */
    assert_close(a->bent.sd.droop, c->bent.sd.droop, 0.2, 0);
    free(a);
    free(b);
    free(c);
    caber_setup_free(s);
}

/* A left-handed player's spreads are the right-handed one's, to the last bit. */
static void left_is_right(void **state)
{
    (void)state;
    if (CHECK_SANITISED)
        skip(); /* 400 swings */
    caber_setup *s[2] = {setup_short("neutral-smooth"), setup_short("neutral-smooth-left")};
    caber_uncertainty *u[2] = {run(s[0], &least), run(s[1], &least)};
    assert_memory_equal(&u[0]->bent, &u[1]->bent, sizeof u[0]->bent);
    for (int i = 0; i < 2; i++) {
        free(u[i]);
        caber_setup_free(s[i]);
    }
}

static void the_setup_stays(void **state)
{
    (void)state;
    if (CHECK_SANITISED)
        skip(); /* 200 swings and as many benches */
    caber_setup *s = setup_short("neutral-smooth");
    const size_t n = s->shaft.station_count;
    const caber_setup before = *s;
    caber_station *stations = malloc(n * sizeof *stations);
    assert_non_null(stations);
    memcpy(stations, s->shaft.stations, n * sizeof *stations);
    free(run(s, &least));
    free(run_bench(s, &least));
    assert_memory_equal(&before, s, sizeof before);
    assert_memory_equal(stations, s->shaft.stations, n * sizeof *stations);
    free(stations);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ what is refused */

static void expect(const caber_setup *s, caber_uncertainty_settings settings, caber_status want,
                   const char *words)
{
    caber_message message = {""};
    const caber_jig jig = jig_make();
    static caber_uncertainty u;
    static caber_bench_uncertainty b;
    assert_int_equal(caber_uncertainty_run(s, &settings, &u, &message), want);
    if (!strstr(message.text, words))
        fail_msg("'%s' does not say '%s'", message.text, words);
    assert_int_equal(caber_uncertainty_run(s, &settings, &u, NULL), want);
    message = (caber_message){""};
    assert_int_equal(caber_bench_uncertainty_run(s, &jig, &settings, &b, &message), want);
    if (!strstr(message.text, words))
        fail_msg("'%s' does not say '%s'", message.text, words);
}

static void bad_input(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-smooth");
    caber_uncertainty_settings t = least;
    t.draws = CABER_DRAWS_LEAST - 1;
    expect(s, t, CABER_BAD_INPUT, "draws: 199 is not allowed; it must be from 200 to 10000");
    t.draws = CABER_DRAWS_MOST + 1;
    expect(s, t, CABER_BAD_INPUT, "draws: 10001");
    t = least;
    t.seed = -1;
    expect(s, t, CABER_BAD_INPUT, "seed: -1");
    t = least;
    t.threads = -1;
    expect(s, t, CABER_BAD_INPUT, "threads: -1");
    t.threads = CABER_THREADS_MOST + 1;
    expect(s, t, CABER_BAD_INPUT, "threads: 257");
    s->head.mass = -1;
    expect(s, least, CABER_BAD_INPUT, "head.mass");
    s->head.mass = 0.2;
    s->shaft.errors.share[3 * (s->shaft.station_count + 2)] = NAN;
    expect(s, least, CABER_BAD_INPUT, "shaft.errors: component 2 changes ei at station 3 by nan");
    s->shaft.errors.count = 0;
    expect(s, least, CABER_BAD_INPUT, "caber profile READINGS --output FILE");
    s->shaft.errors.count = 3;
    free(s->shaft.errors.share);
    s->shaft.errors.share = NULL;
    expect(s, least, CABER_BAD_INPUT, "shaft.errors");
    caber_setup_free(s);
}

/* A drawn shaft heavier than a solid one is no shaft. */
static void profiles_that_are_none(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-smooth");
    set_errors(s, 0.01, 0.01, 1);
    expect(s, least, CABER_BAD_INPUT, "of 200 draws of the profile");
    expect(s, least, CABER_BAD_INPUT, "a tube must have less");
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ draws that fail */

static void swings_that_fail(void **state)
{
    (void)state;
    caber_setup *s = setup_read("neutral-smooth");
    set_errors(s, 0.02, 0.02, 0.005);
    s->settings.time_limit = 0.1; /* not even the profile as fitted */
    caber_message message;
    caber_uncertainty out;
    assert_int_equal(caber_uncertainty_run(s, &least, &out, &message), CABER_BALL_NOT_REACHED);
    assert_null(strstr(message.text, "draw"));
    if (CHECK_SANITISED) {
        caber_setup_free(s);
        return; /* 600 whole swings follow; draws that fail are in profiles_that_are_none too */
    }

    s->settings.time_limit = 1;
    caber_uncertainty *all = run(s, &least);
    const double time = all->swing.bent.downswing_time, sd = all->bent.sd.downswing_time;
    assert_true(sd > 1e-7);
    /* Some one in fifty takes longer than this. */
    s->settings.time_limit = time + 2 * sd;
    caber_uncertainty *most = run(s, &least);
    assert_true(most->draws.failed > 0 && most->draws.failed <= 10);
    assert_true(most->draws.first_failed > 0 && most->draws.first_failed < 200);
    assert_non_null(strstr(most->draws.failure.text, "never reached the ball"));
    assert_true(most->bent.high.downswing_time <= s->settings.time_limit);
    assert_true(most->bent.sd.downswing_time < sd);
    assert_close(most->swing.bent.downswing_time, time, 1e-6, 0);
    free(most);
    free(all);
    /* And one in three longer than this. */
    s->settings.time_limit = time + 0.4 * sd;
    assert_int_equal(caber_uncertainty_run(s, &least, &out, &message), CABER_BALL_NOT_REACHED);
    assert_non_null(strstr(message.text, "of 200 draws of the profile"));
    assert_non_null(strstr(message.text, "more than 1 in 20"));
    assert_non_null(strstr(message.text, "never reached the ball"));
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_value_is_the_plain_one),
                                       cmocka_unit_test(no_errors_no_spread),
                                       cmocka_unit_test(seeds),
                                       cmocka_unit_test(left_is_right),
                                       cmocka_unit_test(the_setup_stays),
                                       cmocka_unit_test(bad_input),
                                       cmocka_unit_test(profiles_that_are_none),
                                       cmocka_unit_test(swings_that_fail)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
