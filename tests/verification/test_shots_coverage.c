/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How often the intervals and tests of shot batches are right, by simulation: shots are drawn from a
 * distribution that is known, and what is said of them is held against it. An interval of 95 % must hold
 * the truth in 95 of 100 batches, a test at 5 % must find a difference where none is in 5 of 100, and a
 * planned count must show a real difference as often as it promised.
 *
 * Shots: normal; skewed (lognormal, its logarithm of sd 0.5: skewness 1.75, kurtosis 8.9); with heavy
 * tails (Student's t on 5 degrees: kurtosis 9). Real shots lie between the first and the others.
 *
 * With N batches a rate p is seen within 3 sqrt(p (1-p)/N) but once in 370 times; where more is allowed,
 * it is because the method is known to fall short there, and the row says by how much. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_statistics_double.h>
#include <stdlib.h>

#include "base/order.h"
#include "base/random.h"
#include "check.h"
#include "record.h"
#include "study/batch_adjust.h"
#include "study/batch_power.h"

enum { SANITISED = CHECK_SANITISED, BATCHES = SANITISED ? 12 : 1000 };
enum { RESAMPLES = 250, SHOTS_MOST = 64, SIZES = 3, KINDS = 3 };

static const record_source says = {RECORD_EXACT, "what it says of itself"};
static const double level = 95;

typedef enum kind { NORMAL, SKEWED, HEAVY } kind;
static const char *const kind_names[KINDS] = {"normal", "skewed", "heavy-tailed"};
static const size_t sizes[SIZES] = {8, 12, 30};

/* One shot; both numbers say its place in all that is drawn. */
static double shot(kind k, uint64_t stream, uint64_t item)
{
    enum { SEED = 20 };
    switch (k) {
    case NORMAL:
        return random_normal(SEED, stream, item);
    case SKEWED:
        return exp(0.5 * random_normal(SEED, stream, item));
    case HEAVY:
        return gsl_cdf_tdist_Pinv(random_even(SEED, stream, item), 5);
    }
    return NAN;
}

static void shots(kind k, uint64_t stream, size_t count, double centre, double scale, double *out)
{
    for (size_t i = 0; i < count; i++)
        out[i] = centre + scale * shot(k, stream, i);
}

/* Streams that nothing else here uses. */
static uint64_t fresh(void)
{
    static uint64_t next = 1;
    return next++;
}

/* What is true of the distribution itself. */
typedef struct truth {
    double mean, sd, median, mad_sd;
} truth;

/* The m with P(|e^(z/2) - 1| <= m) = 1/2 times 1.4826: bisection on what rises with m. */
static double skewed_mad_sd(void)
{
    double low = 0, high = 1;
    for (int i = 0; i < 60; i++) {
        const double m = (low + high) / 2;
        const double p = gsl_cdf_ugaussian_P(2 * log(1 + m)) - gsl_cdf_ugaussian_P(2 * log(1 - m));
        if (p < 0.5)
            low = m;
        else
            high = m;
    }
    return low / gsl_cdf_ugaussian_Pinv(0.75);
}

static truth truth_of(kind k)
{
    const double v = 0.25; /* variance of the logarithm */
    switch (k) {
    case NORMAL:
        return (truth){.mean = 0, .sd = 1, .median = 0, .mad_sd = 1};
    case SKEWED:
        return (truth){.mean = exp(v / 2),
                       .sd = sqrt((exp(v) - 1) * exp(v)),
                       .median = 1,
                       .mad_sd = skewed_mad_sd()};
    case HEAVY:
        return (truth){.mean = 0,
                       .sd = sqrt(5.0 / 3),
                       .median = 0,
                       .mad_sd = gsl_cdf_tdist_Pinv(0.75, 5) / gsl_cdf_ugaussian_Pinv(0.75)};
    }
    return (truth){0};
}

static bool holds(batch_interval i, double value)
{
    return i.reason == BATCH_KNOWN && i.low <= value && value <= i.high;
}

static double per_cent(double of_batches)
{
    return 100 * of_batches / BATCHES;
}

/* ------------------------------------------------------------------ one batch */

typedef enum figure { MEAN_T, MEAN_BOOTSTRAP, SD, MEDIAN, MAD_SD, SD_RESAMPLED, FIGURES } figure;
static const char *const figure_names[FIGURES] = {
    "mean, Student's t", "mean, bootstrap's t",      "standard deviation, Bonett",
    "median, bootstrap", "robust spread, bootstrap", "standard deviation, bootstrap (not used)"};

/* Percentiles of resampled standard deviations, for the record why they are not used. */
static bool resampled_holds(const double *x, size_t n, double sd)
{
    enum { TIMES = 120 };
    double got[TIMES], y[SHOTS_MOST];
    const uint64_t stream = fresh();
    for (size_t k = 0; k < TIMES; k++) {
        for (size_t i = 0; i < n; i++)
            y[i] = x[(size_t)(random_even(3, stream, k * n + i) * (double)n)];
        got[k] = gsl_stats_sd(y, 1, n);
    }
    qsort(got, TIMES, sizeof *got, order_doubles);
    return got[TIMES / 40] <= sd && sd <= got[TIMES - 1 - TIMES / 40];
}

/* How often each interval holds, in per cent. */
static void count_one(kind k, size_t n, double rate[FIGURES])
{
    const truth t = truth_of(k);
    batch_settings s = batch_settings_default();
    s.resamples = RESAMPLES;
    double hits[FIGURES] = {0};
    for (int i = 0; i < BATCHES; i++) {
        double x[SHOTS_MOST];
        batch_summary r;
        s.stream = fresh();
        shots(k, s.stream, n, 0, 1, x);
        assert_int_equal(batch_summarise(x, n, &s, &r, NULL), CABER_OK);
        hits[MEAN_T] += holds(r.mean_t, t.mean);
        hits[MEAN_BOOTSTRAP] += holds(r.mean_bootstrap, t.mean);
        hits[SD] += holds(r.sd_interval, t.sd);
        hits[MEDIAN] += holds(r.median_interval, t.median);
        hits[MAD_SD] += holds(r.mad_sd_interval, t.mad_sd);
        hits[SD_RESAMPLED] += resampled_holds(x, n, t.sd);
    }
    for (int f = 0; f < FIGURES; f++)
        rate[f] = per_cent(hits[f]);
}

/* rate[kind][size][figure] as curves over the size. */
static void draw_rates(double rate[KINDS][SIZES][FIGURES])
{
    double x[SIZES], y[SIZES];
    for (int k = 0; k < KINDS; k++)
        for (int f = 0; f < FIGURES; f++) {
            char plot[60], title[160];
            snprintf(plot, sizeof plot, "shots-coverage-%s", kind_names[k]);
            snprintf(title, sizeof title, "How often intervals of 95 %% hold the truth: %s shots",
                     kind_names[k]);
            for (int i = 0; i < SIZES; i++) {
                x[i] = (double)sizes[i];
                y[i] = rate[k][i][f];
            }
            const record_curve curve = {.plot = plot,
                                        .title = title,
                                        .x_label = "shots in the batch",
                                        .y_label = "batches whose interval holds the truth, %",
                                        .label = figure_names[f],
                                        .count = SIZES,
                                        .x = x,
                                        .y = y};
            record_draw(&curve);
        }
}

/* The row of one figure and kind: the lowest rate over the sizes. */
static void verify_rate(double rate[KINDS][SIZES][FIGURES], kind k, figure f, double allowed)
{
    char problem[160];
    double least = 100;
    for (int i = 0; i < SIZES; i++)
        least = fmin(least, rate[k][i][f]);
    snprintf(problem, sizeof problem, "%s shots, n = 8, 12, 30: interval of the %s holds, least",
             kind_names[k], figure_names[f]);
    verify(problem, says, "%", least, level, 0, allowed);
}

static void one_batch(void **state)
{
    (void)state;
    static double rate[KINDS][SIZES][FIGURES];
    for (int k = 0; k < KINDS; k++)
        for (int i = 0; i < SIZES; i++)
            count_one((kind)k, sizes[i], rate[k][i]);
    if (SANITISED)
        return;
    draw_rates(rate);
    /* What chance explains is 3 sqrt(0.95 0.05/1000) = 2.1 %. Known to fall short: Student's t for few
     * skewed shots, the bootstrap's t for few shots with heavy tails, and Bonett's interval for skewed
     * shots, whose kurtosis no few shots show. */
    static const double allowed[KINDS][FIGURES] = {[NORMAL] = {2.1, 2.1, 2.1, 2.1, 2.1},
                                                   [SKEWED] = {6, 4, 10, 2.1, 2.1},
                                                   [HEAVY] = {2.1, 5, 6, 2.1, 2.1}};
    for (int k = 0; k < KINDS; k++)
        for (int f = 0; f < SD_RESAMPLED; f++)
            verify_rate(rate, (kind)k, (figure)f, allowed[k][f]);
    /* Why Bonett's was chosen: nearer to 95 % wherever it was looked. */
    for (int k = 0; k < KINDS; k++)
        for (int i = 0; i < SIZES; i++)
            assert_true(rate[k][i][SD] > rate[k][i][SD_RESAMPLED] + 5);
}

/* ------------------------------------------------------------------ two batches */

/* Two batches: a of n_a shots, ratio times the spread of b, its mean `shift` sds of b above. */
typedef struct two {
    kind k;
    size_t n_a, n_b;
    double ratio, shift;
} two;

static void draw_two(const two *w, double *a, double *b)
{
    const truth t = truth_of(w->k);
    shots(w->k, fresh(), w->n_a, w->shift * t.sd - t.mean * w->ratio, w->ratio, a);
    shots(w->k, fresh(), w->n_b, -t.mean, 1, b);
}

typedef struct two_rates {
    double difference, ratio, g, superiority; /* of intervals, how many hold */
} two_rates;

static two_rates count_two(const two *w)
{
    const double sd = truth_of(w->k).sd;
    const double g = w->shift / sqrt((w->ratio * w->ratio + 1) / 2);
    /* of normal shots, whose difference is normal */
    const double above = gsl_cdf_ugaussian_P(w->shift / sqrt(w->ratio * w->ratio + 1));
    const batch_settings s = batch_settings_default();
    two_rates hits = {0};
    for (int i = 0; i < BATCHES; i++) {
        double a[SHOTS_MOST], b[SHOTS_MOST];
        batch_pair r;
        draw_two(w, a, b);
        assert_int_equal(batch_pair_compare(a, w->n_a, b, w->n_b, &s, &r, NULL), CABER_OK);
        hits.difference += holds(r.difference_interval, w->shift * sd);
        hits.ratio += holds(r.sd_ratio_interval, w->ratio);
        hits.g += holds(r.g_interval, g);
        hits.superiority += holds(r.superiority_interval, above);
    }
    return (two_rates){.difference = per_cent(hits.difference),
                       .ratio = per_cent(hits.ratio),
                       .g = per_cent(hits.g),
                       .superiority = per_cent(hits.superiority)};
}

/* The lowest rates over pairs of one kind of shots. */
static two_rates least_of_two(kind k)
{
    static const two cases[] = {{.n_a = 8, .n_b = 8, .ratio = 1, .shift = 0.5},
                                {.n_a = 12, .n_b = 12, .ratio = 2, .shift = 1},
                                {.n_a = 8, .n_b = 30, .ratio = 2, .shift = 0.5},
                                {.n_a = 30, .n_b = 8, .ratio = 2, .shift = 0.5}};
    two_rates least = {100, 100, 100, 100};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        two w = cases[i];
        w.k = k;
        const two_rates r = count_two(&w);
        least.difference = fmin(least.difference, r.difference);
        least.ratio = fmin(least.ratio, r.ratio);
        least.g = fmin(least.g, r.g);
        least.superiority = fmin(least.superiority, r.superiority);
    }
    return least;
}

static void verify_two(kind k, const char *what, double least, double allowed)
{
    char problem[160];
    snprintf(problem, sizeof problem,
             "%s shots, 8:8, 12:12, 8:30, 30:8, sds 1:1 and 2:1: interval of the %s holds, least",
             kind_names[k], what);
    verify(problem, says, "%", least, level, 0, allowed);
}

static void two_batches(void **state)
{
    (void)state;
    for (int k = 0; k < KINDS; k++) {
        const two_rates least = least_of_two((kind)k);
        if (SANITISED)
            continue;
        /* 8 skewed shots of twice the spread of the 30 others are as good as alone: as Student's t */
        const double allowed = k == SKEWED ? 6 : 2.1;
        verify_two((kind)k, "difference of means", least.difference, allowed);
        verify_two((kind)k, "ratio of sds", least.ratio, 2.1);
        verify_two((kind)k, "effect g", least.g, allowed);
        if (k == NORMAL) /* of the others the truth is not known in closed form */
            verify_two((kind)k, "chance that one exceeds the other", least.superiority, 2.1);
    }
}

/* ------------------------------------------------------------------ tests where nothing differs */

enum { GROUPS = 4, PAIRS = GROUPS * (GROUPS - 1) / 2 };

typedef struct false_alarms {
    double pair_means, pair_spreads, all_means, all_spreads; /* runs with a difference */
    double any, any_holm; /* runs in which any of all pairs' tests finds a difference */
} false_alarms;

/* One run: four batches of the same shots, every pair compared in means and spreads. */
static void run_alike(kind k, const size_t counts[GROUPS], false_alarms *f)
{
    double x[GROUPS][SHOTS_MOST];
    batch b[GROUPS];
    batch_overall pair[PAIRS], all;
    batch_test *tests[2 * PAIRS];
    size_t p = 0;
    for (size_t i = 0; i < GROUPS; i++) {
        shots(k, fresh(), counts[i], 0, 1, x[i]);
        b[i] = (batch){.value = x[i], .count = counts[i]};
    }
    for (size_t i = 0; i < GROUPS; i++)
        for (size_t j = i + 1; j < GROUPS; j++, p++) {
            const batch both[2] = {b[i], b[j]};
            assert_int_equal(batch_overall_compare(both, 2, &pair[p], NULL), CABER_OK);
            tests[2 * p] = &pair[p].means;
            tests[2 * p + 1] = &pair[p].spreads;
        }
    assert_int_equal(batch_overall_compare(b, GROUPS, &all, NULL), CABER_OK);
    assert_int_equal(batch_holm(tests, 2 * PAIRS, NULL), CABER_OK);
    bool any = false, any_holm = false;
    for (size_t i = 0; i < 2 * PAIRS; i++) {
        any = any || tests[i]->p < 0.05;
        any_holm = any_holm || tests[i]->holm < 0.05;
    }
    f->pair_means += (pair[0].means.p < 0.05);
    f->pair_spreads += (pair[0].spreads.p < 0.05);
    f->all_means += (all.means.p < 0.05);
    f->all_spreads += (all.spreads.p < 0.05);
    f->any += any;
    f->any_holm += any_holm;
}

static void nothing_differs(void **state)
{
    (void)state;
    static const size_t even[GROUPS] = {12, 12, 12, 12}, uneven[GROUPS] = {8, 12, 20, 30};
    false_alarms worst = {0};
    double skewed_means = 0, least_any = 100;
    for (int k = 0; k < KINDS; k++)
        for (int i = 0; i < 2; i++) {
            false_alarms f = {0};
            for (int r = 0; r < BATCHES; r++)
                run_alike((kind)k, i == 0 ? even : uneven, &f);
            double *all_means = k == SKEWED ? &skewed_means : &worst.all_means;
            *all_means = fmax(*all_means, per_cent(f.all_means));
            worst.pair_means = fmax(worst.pair_means, per_cent(f.pair_means));
            worst.pair_spreads = fmax(worst.pair_spreads, per_cent(f.pair_spreads));
            worst.all_spreads = fmax(worst.all_spreads, per_cent(f.all_spreads));
            worst.any_holm = fmax(worst.any_holm, per_cent(f.any_holm));
            least_any = fmin(least_any, per_cent(f.any));
        }
    if (SANITISED)
        return;
    verify("batches alike in all, 8 to 30 shots, three distributions: Welch's test calls a "
           "difference, most",
           says, "%", worst.pair_means, 5, 0, 2.1);
    verify("the same, Brown and Forsythe's test", says, "%", worst.pair_spreads, 5, 0, 2.1);
    verify("the same, Welch's over four batches, normal and heavy-tailed shots", says, "%",
           worst.all_means, 5, 0, 2.1);
    /* in 6000 runs 6.3: few skewed shots again, to which chance comes */
    verify("the same, Welch's over four batches, skewed shots", says, "%", skewed_means, 5, 0, 4);
    verify("the same, Brown and Forsythe's over four batches", says, "%", worst.all_spreads, 5, 0,
           2.1);
    verify("the same, any of 12 tests corrected by Holm, most", says, "%", worst.any_holm, 5, 0,
           2.1);
    /* Without the correction: more than four times as often, so it is needed. */
    assert_true(least_any > 20);
}

/* ------------------------------------------------------------------ covariates */

enum { ADJUST_GROUPS = 3, ADJUST_EACH = 12, ADJUST_ALL = ADJUST_GROUPS * ADJUST_EACH };

typedef struct adjusted_rates {
    double difference, slope; /* runs whose interval holds */
    double overall, same;     /* false alarms */
} adjusted_rates;

/* Shots whose strike (normal, off by half a sd from batch to batch) costs 1.5 a unit, the batches'
 * spreads sd[]; at the same strike the batches do not differ. */
static void run_adjusted(kind k, const double sd[ADJUST_GROUPS], adjusted_rates *rates)
{
    double y[ADJUST_ALL], x[ADJUST_ALL];
    size_t which[ADJUST_ALL];
    const truth t = truth_of(k);
    const double slope = -1.5;
    for (size_t i = 0; i < ADJUST_ALL; i++) {
        const size_t b = i / ADJUST_EACH;
        which[i] = b;
        if (i % ADJUST_EACH == 0) {
            shots(NORMAL, fresh(), ADJUST_EACH, 0.5 * (double)b, 1, x + i);
            shots(k, fresh(), ADJUST_EACH, -t.mean / t.sd * sd[b], sd[b] / t.sd, y + i);
        }
    }
    for (size_t i = 0; i < ADJUST_ALL; i++)
        y[i] += slope * x[i];
    const double *covariate[1] = {x};
    const batch_adjust_data data = {.count = ADJUST_ALL,
                                    .value = y,
                                    .batch = which,
                                    .batches = ADJUST_GROUPS,
                                    .covariates = 1,
                                    .covariate = covariate};
    const batch_settings s = batch_settings_default();
    batch_adjust r;
    assert_int_equal(batch_adjust_run(&data, &s, &r, NULL), CABER_OK);
    assert_int_equal(r.reason, BATCH_KNOWN);
    rates->difference += holds(r.pair[1].interval, 0); /* first against last */
    rates->slope += holds(r.slope[0].interval, slope);
    rates->overall += (r.overall.p < 0.05);
    rates->same += (r.slope[0].same.p < 0.05);
    batch_adjust_free(&r);
}

static void covariates(void **state)
{
    (void)state;
    static const double sds[2][ADJUST_GROUPS] = {{1, 1, 1}, {1, 1, 3}};
    adjusted_rates worst = {.difference = level, .slope = level};
    double skewed_difference = level;
    for (int k = 0; k < KINDS; k++)
        for (int i = 0; i < 2; i++) {
            adjusted_rates r = {0};
            for (int n = 0; n < BATCHES; n++)
                run_adjusted((kind)k, sds[i], &r);
            double *difference = k == SKEWED ? &skewed_difference : &worst.difference;
            *difference = fmin(*difference, per_cent(r.difference));
            worst.slope = fmin(worst.slope, per_cent(r.slope));
            worst.overall = fmax(worst.overall, per_cent(r.overall));
            worst.same = fmax(worst.same, per_cent(r.same));
        }
    if (SANITISED)
        return;
    verify("3 batches of 12, sds 1:1:1 and 1:1:3: interval of an adjusted difference holds, normal "
           "and heavy-tailed shots, least",
           says, "%", worst.difference, level, 0, 2.1);
    /* in 6000 runs 93.1, to which chance comes */
    verify("the same, skewed shots", says, "%", skewed_difference, level, 0, 4);
    verify("the same, interval of the slope, all three distributions", says, "%", worst.slope,
           level, 0, 2.1);
    verify("the same, no difference once adjusted: the test over all calls one, most", says, "%",
           worst.overall, 5, 0, 2.1);
    verify("the same, one slope for all: the test of slopes denies it, most", says, "%", worst.same,
           5, 0, 2.1);
}

/* ------------------------------------------------------------------ planned counts */

/* How often the two tests find what is there, %. */
static void count_found(const two *w, int runs, double *means, double *spreads)
{
    *means = *spreads = 0;
    for (int i = 0; i < runs; i++) {
        double a[SHOTS_MOST], b[SHOTS_MOST];
        batch_overall r;
        draw_two(w, a, b);
        const batch both[2] = {{.value = a, .count = w->n_a}, {.value = b, .count = w->n_b}};
        assert_int_equal(batch_overall_compare(both, 2, &r, NULL), CABER_OK);
        *means += 100.0 / runs * (r.means.p < 0.05);
        *spreads += 100.0 / runs * (r.spreads.p < 0.05);
    }
}

/* Mean distance from the median over sd. Heavy tails: E|T| = 2 sqrt(5)/(4 B(5/2, 1/2)) = 0.9490. */
static double evenness_of(kind k)
{
    const double tails = 0.9490;
    return k == HEAVY ? tails / truth_of(k).sd : sqrt(2 / 3.14159265358979323846);
}

/* The largest difference between what is planned and what is found. */
static void planned_of(const two *cases, size_t count, double *off_means, double *off_spreads)
{
    for (size_t i = 0; i < count; i++) {
        const two *w = &cases[i];
        const double sd = truth_of(w->k).sd, n_a = (double)w->n_a, n_b = (double)w->n_b;
        double means, spreads;
        count_found(w, 2 * BATCHES, &means, &spreads);
        record_most(off_means, means - 100 * batch_power_means(w->shift * sd, w->ratio * sd, sd,
                                                               n_a, n_b, 0.05));
        record_most(off_spreads, spreads - 100 * batch_power_spreads(w->ratio, evenness_of(w->k),
                                                                     n_a, n_b, 0.05));
    }
}

/* The ratio of spreads that two batches of 20 are said to show, from what they look like themselves: the
 * median over pairs, which are alike. */
static double detectable_ratio(void)
{
    enum { EACH = 20 };
    const batch_power_settings s = batch_power_default();
    double ratio[BATCHES];
    for (int i = 0; i < BATCHES; i++) {
        double a[EACH], b[EACH];
        batch_need need;
        draw_two(&(two){NORMAL, EACH, EACH, 1, 0}, a, b);
        const batch first = {.value = a, .count = EACH}, second = {.value = b, .count = EACH};
        assert_int_equal(batch_need_spreads(&first, &second, true, &s, &need, NULL), CABER_OK);
        ratio[i] = need.detectable;
    }
    qsort(ratio, BATCHES, sizeof *ratio, order_doubles);
    return ratio[BATCHES / 2];
}

/* 3 sqrt(0.5 0.5/2000) = 3.4 % is chance. */
static void planned(void **state)
{
    (void)state;
    static const two normal[] = {{NORMAL, 12, 12, 1, 1.2},   {NORMAL, 12, 12, 2, 1.5},
                                 {NORMAL, 10, 40, 2, 2},     {NORMAL, 30, 30, 1.7, 0.8},
                                 {NORMAL, 60, 60, 1.5, 0.6}, {NORMAL, 8, 8, 3, 2}};
    static const two heavy[] = {{HEAVY, 30, 30, 2, 1}, {HEAVY, 60, 60, 1.7, 0.5}};
    double means = 0, spreads = 0, heavy_means = 0, heavy_spreads = 0;
    planned_of(normal, sizeof normal / sizeof *normal, &means, &spreads);
    planned_of(heavy, sizeof heavy / sizeof *heavy, &heavy_means, &heavy_spreads);
    const double ratio = detectable_ratio();
    if (SANITISED)
        return;
    verify(
        "ratio of spreads that pairs of 20 normal shots say they show in 80 of 100, the middle of "
        "1000 pairs: its true power",
        says, "%", 100 * batch_power_spreads(ratio, evenness_of(NORMAL), 20, 20, 0.05), 80, 0, 2);
    verify_within("chance to see a difference of means, as planned and as found in 2000 normal "
                  "pairs, counts 8 to 60, sds 1:1 to 3:1",
                  says, "%", means, 3.4);
    verify_within("the same of a ratio of spreads", says, "%", spreads, 4.5);
    verify_within("heavy-tailed shots, counts 30 and 60: means", says, "%", heavy_means, 3.4);
    /* in 6000 runs 7, to which chance comes: distances with heavy tails are skewed themselves */
    verify_within("heavy-tailed shots: spreads (found more often than planned)", says, "%",
                  heavy_spreads, 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_batch),       cmocka_unit_test(two_batches),
        cmocka_unit_test(nothing_differs), cmocka_unit_test(covariates),
        cmocka_unit_test(planned),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
