/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The profile drawn through readings: outliers named, sets that cannot tell refused, bands wide where
 * nothing is seen, the same answer every time. */
#include "days.h"

static const double turn = 2 * SETUPS_PI;

static caber_fit *fit(const day *d)
{
    caber_fit *f = NULL;
    caber_message message;
    setups_fine(caber_fit_run(&d->readings, &f, &message), &message);
    return f;
}

static day *neutral(unsigned long seed)
{
    day *d = day_create(day_demo("neutral-smooth"), 0.01, 0.6, seed);
    day_draw(d);
    return d;
}

static size_t worst(const day *d, const caber_fit *f)
{
    size_t most = 0;
    for (size_t i = 0; i < d->readings.count; i++)
        if (fabs(f->residual[i].sigmas) > fabs(f->residual[most].sigmas))
            most = i;
    return most;
}

static double off(const day *d, const caber_fit *f, size_t station)
{
    const caber_station *s = &f->shaft.stations[station];
    const profile_point q = profile_at(d->profile, s->at);
    return log(sqrt((s->ei_2 > 0 ? s->ei_2 : s->ei) * s->ei) / sqrt(q.ei * q.ei_2));
}

/* ------------------------------------------------------------------ what a good day gives */

/* Readings without error: the curve is off only where the shaft changes quicker than can be seen. */
static void exact_readings(void **state)
{
    (void)state;
    day *d = day_create(day_demo("neutral-smooth"), 0.01, 0.6, 1);
    caber_fit *f = fit(d);
    for (size_t i = 0; i < f->shaft.station_count; i++) {
        const caber_band *b = &f->band[i];
        assert_true(b->ei > 0.015 || fabs(off(d, f, i)) < 0.02);
        assert_true(b->bend_unseen || fabs(off(d, f, i)) < 2.5 * b->ei);
    }
    assert_close(f->widened, 1, 0, 0);
    assert_true(f->oriented);
    assert_close(f->ratio, expm1(0.02), 0.1, 0);
    assert_close(f->angle, 0.6, 0, 0.05);
    caber_fit_free(f);
    day_free(d);
}

/* The same bits twice; and readings left out are predicted but have no say. */
static void deterministic_and_left_out(void **state)
{
    (void)state;
    day *d = neutral(2);
    caber_fit *a = fit(d), *b = fit(d);
    assert_memory_equal(a->shaft.stations, b->shaft.stations,
                        a->shaft.station_count * sizeof *a->shaft.stations);
    assert_memory_equal(a->band, b->band, a->shaft.station_count * sizeof *a->band);
    caber_fit_free(b);
    const size_t index = 40;
    d->readings.items[index].left_out = true;
    b = fit(d);
    d->readings.items[index].value *= 1.5;
    caber_fit *c = fit(d);
    assert_int_equal(b->used, a->used - 1);
    assert_memory_equal(b->shaft.stations, c->shaft.stations,
                        b->shaft.station_count * sizeof *b->shaft.stations);
    assert_close(c->residual[index].predicted, d->exact[index], 0.02, 0);
    assert_close(c->residual[index].leverage, 0, 0, 0);
    assert_true(c->residual[index].sigmas > 20);
    caber_fit_free(a);
    caber_fit_free(b);
    caber_fit_free(c);
    day_free(d);
}

/* The components add up to the bands. */
static void components_are_the_bands(void **state)
{
    (void)state;
    day *d = neutral(3);
    caber_fit *f = fit(d);
    const caber_errors *e = &f->shaft.errors;
    const size_t n = f->shaft.station_count;
    assert_true(e->count > 10);
    for (size_t i = 0; i < n; i++) {
        double sum[3] = {0};
        for (size_t k = 0; k < e->count; k++)
            for (int p = 0; p < 3; p++)
                sum[p] += pow(e->share[(k * n + i) * 3 + (size_t)p], 2);
        assert_close(sqrt(sum[0]), f->band[i].ei, 2e-2, 0);
        assert_close(sqrt(sum[1]), f->band[i].gj, 2e-2, 0);
        assert_close(sqrt(sum[2]), f->band[i].mass, 2e-2, 0);
    }
    caber_fit_free(f);
    day_free(d);
}

/* ------------------------------------------------------------------ how smooth */

/* Each choice on a good day: the curves agree within their errors; discrepancy leaves the chi^2 of the errors;
 * only the likelihood's bands know that it could be otherwise. */
static void choices_of_smoothness(void **state)
{
    (void)state;
    day *d = neutral(3);
    caber_fit *f[3];
    for (int k = 0; k < 3; k++) {
        d->readings.smoothness = (caber_smoothness)k;
        f[k] = fit(d);
        assert_close(f[k]->widened, 1, 0.1, 0);
    }
    for (size_t i = 0; i < f[0]->shaft.station_count; i++)
        for (int k = 1; k < 3; k++)
            assert_true(f[0]->band[i].bend_unseen || f[k]->band[i].bend_unseen ||
                        fabs(off(d, f[k], i) - off(d, f[0], i)) <
                            3 * hypot(f[0]->band[i].ei, f[k]->band[i].ei));
    assert_true(f[1]->smooth_ei != f[0]->smooth_ei && f[2]->smooth_ei != f[1]->smooth_ei);
    /* Of EI and of GJ apart, and so of both, unless an end of the range is met. */
    assert_close(f[2]->chi_square, (double)f[2]->used - f[2]->parameters, 0.05, 0);
    for (int k = 0; k < 3; k++)
        caber_fit_free(f[k]);
    caber_message message;
    d->readings.smoothness = (caber_smoothness)3;
    assert_int_equal(caber_fit_run(&d->readings, &f[0], &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "no such choice of smoothness"));
    day_free(d);
}

/* What is handed over is what a file would say: six digits, places to 0.01 mm. */
static void rounded_as_written(void **state)
{
    (void)state;
    day *d = neutral(9);
    caber_fit *f = fit(d);
    for (size_t i = 0; i < f->shaft.station_count; i++) {
        const caber_station *s = &f->shaft.stations[i];
        const double value[4] = {s->ei, s->ei_2, s->gj, 1000 * s->mass};
        for (int k = 0; k < 4; k++) {
            char text[32];
            snprintf(text, sizeof text, "%.6g", value[k]);
            assert_close(strtod(text, NULL), value[k], 1e-15, 0);
        }
        assert_close(round(1e5 * s->at), 1e5 * s->at, 0, 1e-9);
    }
    caber_fit_free(f);
    day_free(d);
}

/* ------------------------------------------------------------------ outliers */

/* One reading six sigma off among them: it is the one furthest off, the bands widen; left out, all is
 * as it was. Tried on readings of every kind that others check. */
static void one_outlier(void **state)
{
    (void)state;
    day *d = neutral(4);
    for (size_t i = 0; i < d->readings.count; i += CHECK_SANITISED ? 56 : 7) {
        caber_reading *r = &d->readings.items[i];
        if (r->kind == CABER_READ_MASS || r->kind == CABER_READ_BALANCE)
            continue;
        const double good = r->value;
        r->left_out = true;
        caber_fit *without = fit(d);
        r->left_out = false;
        r->value = d->exact[i] + 6 * r->sigma;
        caber_fit *with = fit(d);
        if (worst(d, with) != i)
            fail_msg("reading %zu was spoilt, %zu is furthest off", i, worst(d, with));
        assert_true(with->residual[i].sigmas > 3.5);
        assert_true(with->widened > 1 && with->widened > without->widened);
        r->left_out = true;
        caber_fit *again = fit(d);
        assert_memory_equal(again->shaft.stations, without->shaft.stations,
                            again->shaft.station_count * sizeof *again->shaft.stations);
        r->left_out = false;
        r->value = good;
        caber_fit_free(without);
        caber_fit_free(with);
        caber_fit_free(again);
    }
    day_free(d);
}

/* A larger one: the curve does not run after it, and no band is narrower for it. */
static void a_gross_outlier_widens_the_bands(void **state)
{
    (void)state;
    day *d = neutral(5);
    caber_fit *good = fit(d);
    caber_reading *r = &d->readings.items[31];
    r->value = d->exact[31] + 15 * r->sigma;
    caber_fit *bad = fit(d);
    assert_int_equal(worst(d, bad), 31);
    assert_true(bad->widened > 1.3);
    assert_true(bad->smooth_ei > good->smooth_ei / 3);
    for (size_t i = 0; i < good->shaft.station_count; i++) {
        assert_true(bad->band[i].ei > good->band[i].ei);
        assert_true(bad->band[i].bend_unseen || fabs(off(d, bad, i)) < 3 * bad->band[i].ei);
    }
    caber_fit_free(good);
    caber_fit_free(bad);
    day_free(d);
}

/* ------------------------------------------------------------------ what cannot be told */

typedef void change(day *d);

static void keep_if(day *d, bool (*keep)(const caber_reading *))
{
    size_t n = 0;
    for (size_t i = 0; i < d->readings.count; i++)
        if (keep(&d->readings.items[i]))
            d->readings.items[n++] = d->readings.items[i];
    d->readings.count = n;
}

static bool other_or(const caber_reading *r, bool span)
{
    return r->kind == CABER_READ_SPAN
               ? span
               : r->kind != CABER_READ_CANTILEVER && r->kind != CABER_READ_FREQUENCY;
}

static bool near_the_butt(const caber_reading *r)
{
    return other_or(r, r->rest_at > 0.7);
}

static bool in_one_place(const caber_reading *r)
{
    return other_or(r, fabs(r->load_at - 0.56) < 1e-6);
}

static bool one_cantilever(const caber_reading *r)
{
    return r->kind == CABER_READ_CANTILEVER ? r->held_at > 1 : other_or(r, false);
}

static bool a_few(const caber_reading *r)
{
    return other_or(r, r->orientation == 0 && (r->line - 3) % 30 == 0);
}

static bool no_mass(const caber_reading *r)
{
    return r->kind != CABER_READ_MASS;
}

static bool no_twist(const caber_reading *r)
{
    return r->kind != CABER_READ_TWIST;
}

static bool twist_at_one_end(const caber_reading *r)
{
    return r->kind != CABER_READ_TWIST || r->held_at < 0.5;
}

static bool no_bending(const caber_reading *r)
{
    return other_or(r, false);
}

static void drop_butt(day *d)
{
    keep_if(d, near_the_butt);
}

static void drop_span(day *d)
{
    keep_if(d, in_one_place);
}

static void drop_to_one_cantilever(day *d)
{
    keep_if(d, one_cantilever);
}

static void drop_to_few(day *d)
{
    keep_if(d, a_few);
}

static void drop_mass(day *d)
{
    keep_if(d, no_mass);
}

static void drop_twist(day *d)
{
    keep_if(d, no_twist);
}

static void drop_twist_but_tip(day *d)
{
    keep_if(d, twist_at_one_end);
}

static void drop_bending(day *d)
{
    keep_if(d, no_bending);
}

static void leave_all_out(day *d)
{
    for (size_t i = 0; i < d->readings.count; i++)
        d->readings.items[i].left_out = true;
}

static void blunt(day *d)
{
    for (size_t i = 0; i < d->readings.count; i++)
        d->readings.items[i].sigma = d->readings.items[i].value;
}

/* Cantilevers as with twice the load. */
static void contradict(day *d)
{
    for (size_t i = 0; i < d->readings.count; i++)
        if (d->readings.items[i].kind == CABER_READ_CANTILEVER)
            d->readings.items[i].value *= 2;
}

/* Every other span in the first direction a fifth larger than its neighbours say. */
static void contradict_in_one_direction(day *d)
{
    for (size_t i = 0; i < d->readings.count; i += 6)
        if (d->readings.items[i].kind == CABER_READ_SPAN)
            d->readings.items[i].value *= 1.2;
}

/* A decimal point out of place. */
static void mistype(day *d)
{
    d->readings.items[24].value *= 10;
}

static void weigh_wrong(day *d)
{
    for (size_t i = 0; i < d->readings.count; i++)
        if (d->readings.items[i].kind == CABER_READ_MASS)
            d->readings.items[i].value *= 10;
}

/* The load of all spans ten times what hung there. */
static void load_wrong(day *d)
{
    for (size_t i = 0; i < d->readings.count; i++)
        if (d->readings.items[i].kind == CABER_READ_SPAN)
            d->readings.items[i].load *= 10;
}

/* The spans 180 mm instead of 200. */
static void span_wrong(day *d)
{
    for (size_t i = 0; i < d->readings.count; i++)
        if (d->readings.items[i].kind == CABER_READ_SPAN) {
            d->readings.items[i].held_at -= 0.01;
            d->readings.items[i].rest_at += 0.01;
        }
}

/* One clamp of the cantilevers noted 60 mm too near the tip. */
static void clamp_wrong(day *d)
{
    for (size_t i = 0; i < d->readings.count; i++)
        if (d->readings.items[i].kind == CABER_READ_CANTILEVER &&
            fabs(d->readings.items[i].held_at - 0.86) < 1e-6)
            d->readings.items[i].held_at = 0.8;
}

static void refusals(void **state)
{
    (void)state;
    static const struct {
        change *spoil;
        caber_status status;
        const char *message;
    } set[] = {
        {drop_butt, CABER_BAD_INPUT, "see too little of EI"},
        {drop_span, CABER_BAD_INPUT, "see too little of EI"},
        {drop_to_one_cantilever, CABER_BAD_INPUT, "see too little of EI"},
        {drop_to_few, CABER_BAD_INPUT, "too few for a profile"},
        {drop_mass, CABER_BAD_INPUT, "the shaft's mass is needed"},
        {drop_twist, CABER_BAD_INPUT, "0 twist readings are too few"},
        {drop_twist_but_tip, CABER_BAD_INPUT, "see too little of GJ"},
        {drop_bending, CABER_BAD_INPUT, "0 spans and cantilevers are too few"},
        {leave_all_out, CABER_BAD_INPUT, "the shaft's mass is needed"},
        {blunt, CABER_BAD_INPUT, "see too little of EI"},
        {contradict, CABER_BAD_INPUT, "Without the 12 readings of day.csv, which read 1.99 times"},
        {contradict_in_one_direction, CABER_BAD_INPUT, "contradict each other"},
        {mistype, CABER_BAD_INPUT, "Without day.csv, line 27, which reads 9.9"},
        {weigh_wrong, CABER_BAD_INPUT, "Without the mass, which reads"},
        {load_wrong, CABER_BAD_INPUT, "readings of day.csv, which read 0.1 times"},
        {span_wrong, CABER_BAD_INPUT, "readings of day.csv, which read 1.3"},
        {clamp_wrong, CABER_BAD_INPUT, "3 readings of day.csv with the clamp at 800 mm"},
    };
    for (size_t i = 0; i < sizeof set / sizeof set[0]; i++) {
        day *d = neutral(6);
        caber_fit *f = NULL;
        caber_message message = {""};
        set[i].spoil(d);
        const caber_status status = caber_fit_run(&d->readings, &f, &message);
        if (status != set[i].status || !strstr(message.text, set[i].message))
            fail_msg("set %zu: %s: %s", i, caber_status_text(status), message.text);
        assert_null(f);
        day_free(d);
    }
}

static void bad_settings(void **state)
{
    (void)state;
    day *d = neutral(7);
    struct {
        double *field;
        double value;
        const char *message;
    } set[] = {{&d->readings.length, 9, "a length of 9"},
               {&d->readings.density, 1, "a density of 1"},
               {&d->readings.damping, -1, "a damping of -1"},
               {&d->readings.pitch, 1e-4, "a pitch of 0.0001"},
               {&d->readings.knot, (double)NAN, "a knot of nan"},
               {&d->readings.callipers[1].at, 0, "diameter 2 of 8.5 mm at 0 mm"}};
    for (size_t i = 0; i < sizeof set / sizeof set[0]; i++) {
        caber_fit *f = NULL;
        caber_message message = {""};
        const double good = *set[i].field;
        *set[i].field = set[i].value;
        assert_int_equal(caber_fit_run(&d->readings, &f, &message), CABER_BAD_INPUT);
        if (!strstr(message.text, set[i].message))
            fail_msg("%s", message.text);
        *set[i].field = good;
    }
    d->readings.calliper_count = 0;
    caber_fit *f = NULL;
    caber_message message;
    assert_int_equal(caber_fit_run(&d->readings, &f, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "outside diameter"));
    day_free(d);
}

/* ------------------------------------------------------------------ what may be missing */

static bool below_the_grip(const caber_reading *r)
{
    return r->kind == CABER_READ_MASS || r->kind == CABER_READ_BALANCE || r->held_at < 0.95;
}

/* The butt not read, as with a grip on: allowed, with the butt said to be unseen and its bands wide enough to
 * hold it. */
static void a_part_that_is_not_seen(void **state)
{
    (void)state;
    day *d = neutral(8);
    keep_if(d, below_the_grip);
    caber_fit *f = fit(d);
    const size_t last = f->shaft.station_count - 1;
    assert_true(f->band[last].bend_unseen && f->band[last].twist_unseen);
    assert_false(f->band[last / 2].bend_unseen);
    assert_true(f->band[last].ei > 10 * f->band[last / 2].ei);
    for (size_t i = 0; i <= last; i++)
        assert_true(fabs(off(d, f, i)) < 3 * f->band[i].ei);
    caber_fit_free(f);
    day_free(d);
}

static bool across(const caber_reading *r)
{
    return isnan(r->orientation) || r->orientation < 1.5 || r->kind == CABER_READ_MASS;
}

/* Two directions across each other: no direction of the stiffer one, but their difference is no contradiction.
 * Stiffer by 2 % along the first. */
static void two_directions(void **state)
{
    (void)state;
    day *d = day_create(day_demo("neutral-smooth"), 0.02, 0, 9);
    keep_if(d, across);
    size_t n = 0;
    for (size_t i = 0; i < d->readings.count; i++) {
        caber_reading *r = &d->readings.items[i];
        caber_message message;
        /* 0 and 60 deg were kept; read the second at 90. */
        r->orientation = r->orientation > 0.5 ? turn / 4 : r->orientation;
        setups_fine(reading_predict(d->profile, d->readings.length, r, &r->value, NULL, &message),
                    &message);
        r->value += gsl_ran_gaussian(d->random, r->sigma);
        n += r->orientation > 0.5;
    }
    assert_true(n > 20);
    caber_fit *f = fit(d);
    assert_false(f->oriented);
    assert_true(f->widened < 1.3);
    const caber_station *s = &f->shaft.stations[f->shaft.station_count / 2];
    assert_close(log(s->ei / s->ei_2) / 2, 0.02, 0, 0.005);
    assert_close(remainder(s->ei_angle, turn / 2), 0, 0, 0.02);
    caber_fit_free(f);
    day_free(d);
}

/* Cantilevers whose direction nobody noted, on a shaft 6 % stiffer one way: their errors have the scatter
 * over directions, and all holds together. */
static void unnoted_directions(void **state)
{
    (void)state;
    day *d = day_create(day_demo("neutral-smooth"), 0.03, 0.6, 10);
    day_draw(d);
    for (size_t i = 0; i < d->readings.count; i++) {
        caber_reading *r = &d->readings.items[i];
        if (r->kind == CABER_READ_CANTILEVER || r->kind == CABER_READ_FREQUENCY)
            r->orientation = NAN;
    }
    caber_fit *f = fit(d);
    assert_true(f->widened < 1.3);
    assert_close(f->ratio, expm1(0.06), 0, 3 * f->ratio_sd);
    for (size_t i = 0; i < f->shaft.station_count; i++)
        assert_true(fabs(off(d, f, i)) < 3.5 * f->band[i].ei);
    caber_fit_free(f);
    day_free(d);
}

/* Stations close together see as much as far apart. */
static void pitch_does_not_matter(void **state)
{
    (void)state;
    day *d = neutral(11);
    caber_fit *coarse = fit(d);
    d->readings.pitch = 0.005;
    caber_fit *fine = fit(d);
    const size_t n = coarse->shaft.station_count - 1, m = fine->shaft.station_count - 1;
    assert_true(m > 3 * n);
    assert_close(fine->band[m / 2].ei, coarse->band[n / 2].ei, 0.3, 0);
    assert_int_equal(fine->band[m / 2].bend_unseen, false);
    assert_int_equal(fine->band[0].bend_unseen, coarse->band[0].bend_unseen);
    assert_close(fine->parameters, coarse->parameters, 0.05, 0);
    caber_fit_free(coarse);
    caber_fit_free(fine);
    day_free(d);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(exact_readings),
                                       cmocka_unit_test(deterministic_and_left_out),
                                       cmocka_unit_test(components_are_the_bands),
                                       cmocka_unit_test(choices_of_smoothness),
                                       cmocka_unit_test(rounded_as_written),
                                       cmocka_unit_test(one_outlier),
                                       cmocka_unit_test(a_gross_outlier_widens_the_bands),
                                       cmocka_unit_test(refusals),
                                       cmocka_unit_test(bad_settings),
                                       cmocka_unit_test(a_part_that_is_not_seen),
                                       cmocka_unit_test(two_directions),
                                       cmocka_unit_test(unnoted_directions),
                                       cmocka_unit_test(pitch_does_not_matter)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
