/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * batch_summarise: one batch.
 *
 * Which interval is printed was chosen by how often it covers the truth (test_shots_coverage.c).
 *
 * Mean: Student's t; beside it the bootstrap's own t: with m*, s* of a resample,
 *   t* = (m* - m) / (s* / sqrt(n)),   interval m - t*_(1-a/2) s/sqrt(n) .. m - t*_(a/2) s/sqrt(n)
 * B. Efron & R. J. Tibshirani (1993), An introduction to the bootstrap, section 12.5 (from memory).
 * Percentiles of the resampled mean itself are too narrow by sqrt((n-1)/n) and by taking the normal's
 * tails for Student's.
 *
 * Median and robust spread: the percentiles of resamples, taken as far out as makes up for just that:
 *   a'/2 = Phi(-sqrt(n/(n-1)) t_(n-1, 1-a/2))
 * "expanded percentile", T. C. Hesterberg (2015), What teachers should know about the bootstrap,
 * American Statistician 69:371, doi 10.1080/00031305.2015.1089789 (from memory).
 *
 * Standard deviation: Bonett's (batch_spread.c). The bootstrap's own covers 75-85 % at a dozen shots where
 * it says 95. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/random.h"
#include "study/batch_parts.h"

enum { BOOTSTRAP_LEAST = 5 }; /* fewer shots make too few different resamples */

/* ------------------------------------------------------------------ the bootstrap */

/* What the resamples gave, each [resamples]. */
typedef struct resamples {
    double *t, *median, *mad_sd; /* one block, owned by t */
    double *shot, *work, *times; /* [count], owned by t as well */
} resamples;

static bool resamples_create(size_t count, size_t most, resamples *r)
{
    double *all = malloc((3 * most + 3 * count) * sizeof *all);
    *r = (resamples){.t = all};
    if (!all)
        return false;
    r->median = all + most;
    r->mad_sd = all + 2 * most;
    r->shot = all + 3 * most;
    r->work = r->shot + count;
    r->times = r->work + count;
    return true;
}

/* Draws resample k, in order, by counting how often each shot comes. One block of random words gives
 * four shots; a word w stands for shot floor(w n / 2^32), evenly but for n in 2^32. */
static void resample_draw(const double *sorted, size_t n, const batch_settings *s, size_t k,
                          resamples *r)
{
    enum { WORDS = 4 };
    const uint32_t key[2] = {(uint32_t)s->seed, (uint32_t)(s->seed >> 32)};
    uint32_t word[WORDS];
    memset(r->times, 0, n * sizeof *r->times);
    for (size_t i = 0; i < n; i++) {
        if (i % WORDS == 0) {
            const uint64_t block = k * ((n + WORDS - 1) / WORDS) + i / WORDS;
            const uint32_t counter[4] = {(uint32_t)block, (uint32_t)(block >> 32),
                                         (uint32_t)s->stream, (uint32_t)(s->stream >> 32)};
            random_block(counter, key, word);
        }
        r->times[(uint64_t)word[i % WORDS] * n >> 32]++;
    }
    for (size_t i = 0, j = 0; j < n; j++)
        for (double left = r->times[j]; left > 0; left--)
            r->shot[i++] = sorted[j];
}

static void resamples_fill(const double *sorted, size_t n, double mean, const batch_settings *s,
                           resamples *r)
{
    for (size_t k = 0; k < (size_t)s->resamples; k++) {
        resample_draw(sorted, n, s, k, r);
        const double m = gsl_stats_mean(r->shot, 1, n);
        const double error = gsl_stats_sd_m(r->shot, 1, n, m) / sqrt((double)n);
        /* one value n times: as far out as can be, on its side of the mean */
        r->t[k] = error > 0 ? (m - mean) / error : copysign(INFINITY, m - mean);
        r->median[k] = batch_median(r->shot, n);
        r->mad_sd[k] = gsl_stats_mad(r->shot, 1, n, r->work);
    }
}

/* Quantile f of what the resamples gave: one of them, without arithmetic on what may be infinite. */
static double quantile(double *values, size_t count, double f)
{
    return gsl_stats_select(values, 1, count, (size_t)lround(f * (double)(count - 1)));
}

static batch_interval between(double *values, size_t count, double tail)
{
    const double low = quantile(values, count, tail), high = quantile(values, count, 1 - tail);
    return batch_interval_make(low, high, BATCH_TIES);
}

static void bootstrap_known(const batch_settings *s, const resamples *r, batch_summary *out)
{
    const size_t times = (size_t)s->resamples;
    const double tail = (1 - s->level) / 2, n = (double)out->count;
    const double expanded =
        gsl_cdf_ugaussian_Q(sqrt(n / (n - 1)) * gsl_cdf_tdist_Qinv(tail, n - 1));
    const batch_interval t = between(r->t, times, tail);
    out->mean_bootstrap =
        t.reason == BATCH_KNOWN
            ? batch_interval_make(out->mean - t.high * out->standard_error,
                                  out->mean - t.low * out->standard_error, BATCH_TIES)
            : t;
    out->median_interval = between(r->median, times, expanded);
    out->mad_sd_interval = between(r->mad_sd, times, expanded);
}

static caber_status bootstrap(const double *sorted, const batch_settings *s, batch_summary *out,
                              caber_message *message)
{
    resamples r;
    if (!resamples_create(out->count, (size_t)s->resamples, &r))
        return message_set(message, CABER_NO_MEMORY, "no memory for %d resamples of %zu shots",
                           s->resamples, out->count);
    resamples_fill(sorted, out->count, out->mean, s, &r);
    bootstrap_known(s, &r, out);
    free(r.t);
    return CABER_OK;
}

/* ------------------------------------------------------------------ all of it */

static void all_unknown(batch_summary *out, batch_reason reason)
{
    out->mean_t = out->mean_bootstrap = out->sd_interval = out->median_interval =
        out->mad_sd_interval = batch_interval_unknown(reason);
}

/* What needs one shot only. */
static caber_status place(const double *sorted, batch_summary *out, caber_message *message)
{
    const size_t n = out->count;
    double *work = malloc(n * sizeof *work);
    if (!work)
        return message_set(message, CABER_NO_MEMORY, "no memory for %zu shots", n);
    out->least = sorted[0];
    out->most = sorted[n - 1];
    out->mean = gsl_stats_mean(sorted, 1, n);
    out->median = batch_median(sorted, n);
    out->quartile_1 = gsl_stats_quantile_from_sorted_data(sorted, 1, n, 0.25);
    out->quartile_3 = gsl_stats_quantile_from_sorted_data(sorted, 1, n, 0.75);
    out->mad_sd = gsl_stats_mad(sorted, 1, n, work);
    free(work);
    return CABER_OK;
}

static caber_status spread(const double *sorted, const batch_settings *s, batch_summary *out,
                           caber_message *message)
{
    const size_t n = out->count;
    const bool constant = n > 1 && batch_is_constant(sorted, n);
    out->sd_reason = n > 1 ? BATCH_KNOWN : BATCH_FEW;
    out->sd = n < 2 ? (double)NAN : constant ? 0 : gsl_stats_sd(sorted, 1, n);
    out->standard_error = out->sd / sqrt((double)n);
    all_unknown(out, constant ? BATCH_CONSTANT : BATCH_FEW);
    if (n < 2 || constant)
        return CABER_OK;
    out->mean_t = batch_interval_t(out->mean, out->standard_error, (double)n - 1, s->level);
    out->sd_interval = batch_sd_interval(sorted, n, s->level);
    return n < BOOTSTRAP_LEAST ? CABER_OK : bootstrap(sorted, s, out, message);
}

/* All is computed from the ordered shots, so the order in which they were hit changes no bit. */
caber_status batch_summarise(const double *value, size_t count, const batch_settings *settings,
                             batch_summary *out, caber_message *message)
{
    message_clear(message);
    *out = (batch_summary){0};
    caber_status status = batch_settings_check(settings, message);
    if (status == CABER_OK)
        status = batch_check(value, count, "the batch", message);
    if (status != CABER_OK)
        return status;
    gsl_set_error_handler_off();
    double *sorted = batch_sorted(value, count);
    if (!sorted)
        return message_set(message, CABER_NO_MEMORY, "no memory for %zu shots", count);
    out->count = count;
    status = place(sorted, out, message);
    if (status == CABER_OK)
        status = spread(sorted, settings, out, message);
    free(sorted);
    if (status != CABER_OK)
        *out = (batch_summary){0};
    return status;
}
