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

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
enum { BATCHES = 12, SANITISED = 1 };
#else
enum { BATCHES = 1000, SANITISED = 0 };
#endif
enum { RESAMPLES = 400, SHOTS_MOST = 64, SIZES = 3, KINDS = 3 };

__attribute__((unused)) static const record_source says = {RECORD_EXACT, "what it says of itself"};
__attribute__((unused)) static const double level = 95;

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
        const double p =
            gsl_cdf_ugaussian_P(2 * log(1 + m)) - gsl_cdf_ugaussian_P(2 * log(1 - m));
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
                       .mad_sd =
                           gsl_cdf_tdist_Pinv(0.75, 5) / gsl_cdf_ugaussian_Pinv(0.75)};
    }
    return (truth){0};
}

static bool holds(batch_interval i, double value)
{
    return i.reason == BATCH_KNOWN && i.low <= value && value <= i.high;
}

/* ------------------------------------------------------------------ one batch */

typedef enum figure { MEAN_T, MEAN_BOOTSTRAP, SD, MEDIAN, MAD_SD, SD_RESAMPLED, FIGURES } figure;
__attribute__((unused)) static const char *const figure_names[FIGURES] = {
    "mean, Student's t", "mean, bootstrap's t",      "standard deviation, Bonett",
    "median, bootstrap", "robust spread, bootstrap", "standard deviation, bootstrap (not used)"};

/* Percentiles of resampled standard deviations, for the record why they are not used. */
static bool resampled_holds(const double *x, size_t n, double sd)
{
    enum { TIMES = 200 };
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
        rate[f] = 100 * hits[f] / BATCHES;
}

static void one_batch(void **state)
{
    (void)state;
    for (int k = 0; k < KINDS; k++)
        for (int i = 0; i < SIZES; i++) {
            double rate[FIGURES];
            count_one((kind)k, sizes[i], rate);
            printf("%s %zu:", kind_names[k], sizes[i]);
            for (int f = 0; f < FIGURES; f++)
                printf(" %.1f", rate[f]);
            printf("\n");
        }
}

/* ------------------------------------------------------------------ two batches */

typedef struct two {
    kind k;
    size_t n_a, n_b;
    double sd_ratio;
    double shift; /* of a, sds of b */
} two;

static void pairs(const two *w)
{
    const truth t = truth_of(w->k);
    batch_settings s = batch_settings_default();
    s.resamples = RESAMPLES;
    double d = 0, sr = 0, g = 0, sup = 0, fm = 0, fs = 0, ps = 0;
    /* pooled sd of the distribution */
    const double pooled = t.sd * sqrt((((double)w->n_a - 1) * w->sd_ratio * w->sd_ratio + (double)w->n_b - 1) / (double)(w->n_a + w->n_b - 2));
    {
        int above = 0, all = 200000;
        for (int i = 0; i < all; i++)
            above += (shot(w->k, 1u << 30, (uint64_t)i) - t.mean) * w->sd_ratio + w->shift * t.sd > shot(w->k, 1u << 31, (uint64_t)i) - t.mean;
        ps = (double)above / all;
    }
    for (int i = 0; i < BATCHES; i++) {
        double x[SHOTS_MOST], y[SHOTS_MOST];
        batch_pair r;
        shots(w->k, fresh(), w->n_a, w->shift * t.sd - t.mean * w->sd_ratio, w->sd_ratio, x);
        shots(w->k, fresh(), w->n_b, -t.mean, 1, y);
        assert_int_equal(batch_pair_compare(x, w->n_a, y, w->n_b, &s, &r, NULL), CABER_OK);
        d += holds(r.difference_interval, w->shift * t.sd);
        sr += holds(r.sd_ratio_interval, w->sd_ratio);
        g += holds(r.g_interval, w->shift * t.sd / pooled);
        sup += holds(r.superiority_interval, ps);
        fm += r.means.p < 0.05;
        fs += r.spreads.p < 0.05;
    }
    printf("%s %zu/%zu ratio %.1f shift %.1f: diff %.1f sdratio %.1f g %.1f sup %.1f | welch %.1f bf %.1f\n", kind_names[w->k], w->n_a, w->n_b, w->sd_ratio, w->shift, 100 * d / BATCHES, 100 * sr / BATCHES, 100 * g / BATCHES, 100 * sup / BATCHES, 100 * fm / BATCHES, 100 * fs / BATCHES);
}

static void two_batches(void **state)
{
    (void)state;
    for (int k = 0; k < KINDS; k++) {
        pairs(&(two){k, 8, 8, 1, 0});
        pairs(&(two){k, 12, 12, 1, 0});
        pairs(&(two){k, 12, 12, 1, 1});
        pairs(&(two){k, 12, 12, 2, 0.5});
        pairs(&(two){k, 8, 30, 2, 0.5});
        pairs(&(two){k, 30, 8, 2, 0.5});
        pairs(&(two){k, 30, 30, 1, 0.5});
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_batch),
        cmocka_unit_test(two_batches),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
