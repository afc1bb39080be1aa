/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * batch_pair_compare: two batches.
 *
 * Means: B. L. Welch (1947), Biometrika 34:28: t = (m_a - m_b) / e, e^2 = v_a + v_b with v = s^2/n, on
 * (v_a + v_b)^2 / (v_a^2/(n_a-1) + v_b^2/(n_b-1)) degrees of freedom.
 *
 * Effect: g = J d, d = (m_a - m_b)/s, s^2 = (s_a^2 + s_b^2)/2, with the correction for bias of
 * L. V. Hedges (1981), J. Educ. Statist. 6:107, J = Gamma(f/2) / (sqrt(f/2) Gamma((f-1)/2)) on
 * f = n_a + n_b - 2. For equal counts it is Hedges' g; for unequal ones his pooled sd leans on the larger
 * batch, and its interval held the truth in 81 of 100 when that one had half the spread. The interval is
 * that of D. G. Bonett (2008), Psychol. Methods 13:99, doi 10.1037/1082-989X.13.2.99 (quoted: in his R
 * package `statpsych`), which asks for no equal spreads: d -+ z e,
 *   e^2 = d^2 (s_a^4/(n_a-1) + s_b^4/(n_b-1))/(8 s^4) + (s_a^2/(n_a-1) + s_b^2/(n_b-1))/s^2.
 *
 * Superiority: E. Brunner & U. Munzel (2000), Biom. J. 42:17. With each shot's placement u (the share of
 * the other batch that is below it, ties half), its mean p = mean u_a, e^2 = var u_a/n_a + var u_b/n_b
 * and degrees of freedom as Welch's; the interval is t's on ln(p/(1-p)), so stays within 0 and 1.
 *
 * Spreads: batch_spread.c. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_gamma.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

#include "base/message.h"
#include "study/batch_parts.h"

/* Cohen (1988), from memory: see the header. */
static const double small = 0.2, medium = 0.5, large = 0.8;

batch_effect batch_effect_of(double g)
{
    const double size = fabs(g);
    return size >= large    ? BATCH_LARGE
           : size >= medium ? BATCH_MEDIUM
           : size >= small  ? BATCH_SMALL
                            : BATCH_NEGLIGIBLE;
}

const char *batch_effect_text(batch_effect effect)
{
    static const char *const texts[] = {[BATCH_NEGLIGIBLE] = "negligible",
                                        [BATCH_SMALL] = "small",
                                        [BATCH_MEDIUM] = "medium",
                                        [BATCH_LARGE] = "large"};
    return texts[effect];
}

/* What is known of one of the two. */
typedef struct side {
    batch of;
    double n, mean, variance; /* NAN for one shot */
    bool constant;
} side;

static side side_make(const double *value, size_t count)
{
    side s = {.of = {.value = value, .count = count}, .n = (double)count};
    s.mean = gsl_stats_mean(value, 1, count);
    s.constant = batch_is_constant(value, count);
    s.variance = count < 2 ? (double)NAN : s.constant ? 0 : gsl_stats_variance(value, 1, count);
    return s;
}

/* Degrees of freedom for the sum of two squared errors. */
static double welch_df(double v_a, double n_a, double v_b, double n_b)
{
    const double share = v_a / (v_a + v_b);
    return 1 / (share * share / (n_a - 1) + (1 - share) * (1 - share) / (n_b - 1));
}

/* BATCH_KNOWN when two sides have spread enough for a test of means. */
static batch_reason comparable(const side *a, const side *b)
{
    if (a->of.count < 2 || b->of.count < 2)
        return BATCH_FEW;
    return a->constant && b->constant ? BATCH_CONSTANT : BATCH_KNOWN;
}

static void compare_means(const side *a, const side *b, double level, batch_pair *out)
{
    out->difference = a->mean - b->mean;
    const double v_a = a->variance / a->n, v_b = b->variance / b->n;
    out->difference_error = sqrt(v_a + v_b);
    const batch_reason reason = comparable(a, b);
    if (reason != BATCH_KNOWN) {
        out->means = batch_test_unknown(reason);
        out->difference_interval = batch_interval_unknown(reason);
        return;
    }
    const double df = welch_df(v_a, a->n, v_b, b->n);
    out->means = batch_test_t(out->difference / out->difference_error, df);
    out->difference_interval = batch_interval_t(out->difference, out->difference_error, df, level);
}

/* ------------------------------------------------------------------ spreads */

static caber_status compare_spreads(const side *a, const side *b, double level, batch_pair *out,
                                    caber_message *message)
{
    const batch both[2] = {a->of, b->of};
    out->sd_ratio =
        a->variance > 0 && b->variance > 0 ? sqrt(a->variance / b->variance) : (double)NAN;
    out->sd_ratio_interval = batch_sd_ratio_interval(&a->of, &b->of, level);
    return batch_spreads_test(both, 2, &out->spreads, message);
}

/* ------------------------------------------------------------------ size of the effect */

static void compare_size(const side *a, const side *b, double level, batch_pair *out)
{
    const double f = a->n + b->n - 2, v = (a->variance + b->variance) / 2;
    out->g = NAN;
    out->effect = BATCH_NEGLIGIBLE;
    out->g_reason = comparable(a, b);
    out->g_interval = batch_interval_unknown(out->g_reason);
    if (out->g_reason != BATCH_KNOWN)
        return;
    const double d = out->difference / sqrt(v);
    out->g = d * exp(gsl_sf_lngamma(f / 2) - gsl_sf_lngamma((f - 1) / 2)) / sqrt(f / 2);
    out->effect = batch_effect_of(out->g);
    const double r_a = a->variance / v, r_b = b->variance / v; /* in units of s^2 */
    const double error = sqrt(d * d * (r_a * r_a / (a->n - 1) + r_b * r_b / (b->n - 1)) / 8 +
                              r_a / (a->n - 1) + r_b / (b->n - 1));
    const double half = gsl_cdf_ugaussian_Qinv((1 - level) / 2) * error;
    out->g_interval = batch_interval_make(d - half, d + half, BATCH_UNSOLVED);
}

/* ------------------------------------------------------------------ superiority */

/* The share of `other` (ascending) below each of `own` (ascending), ties half. */
static void placements(const double *own, size_t count, const double *other, size_t others,
                       double *out)
{
    size_t below = 0, not_above = 0;
    for (size_t i = 0; i < count; i++) {
        while (below < others && other[below] < own[i])
            below++;
        while (not_above < others && other[not_above] <= own[i])
            not_above++;
        out[i] = (double)(below + not_above) / (2 * (double)others);
    }
}

static batch_interval superiority_interval(const double *u_a, const double *u_b, const side *a,
                                           const side *b, double p, double level)
{
    if (a->of.count < 2 || b->of.count < 2)
        return batch_interval_unknown(BATCH_FEW);
    if (p <= 0 || p >= 1)
        return batch_interval_unknown(BATCH_APART);
    const double v_a = gsl_stats_variance(u_a, 1, a->of.count) / a->n;
    const double v_b = gsl_stats_variance(u_b, 1, b->of.count) / b->n;
    if (!(v_a + v_b > 0))
        return batch_interval_unknown(comparable(a, b) == BATCH_KNOWN ? BATCH_TIES
                                                                      : BATCH_CONSTANT);
    const batch_interval logit = batch_interval_t(log(p / (1 - p)), sqrt(v_a + v_b) / (p * (1 - p)),
                                                  welch_df(v_a, a->n, v_b, b->n), level);
    return batch_interval_make(1 / (1 + exp(-logit.low)), 1 / (1 + exp(-logit.high)),
                               BATCH_UNSOLVED);
}

static caber_status compare_order(const side *a, const side *b, double level, batch_pair *out,
                                  caber_message *message)
{
    const size_t n_a = a->of.count, n_b = b->of.count;
    double *sorted_a = batch_sorted(a->of.value, n_a), *sorted_b = batch_sorted(b->of.value, n_b);
    double *u = malloc((n_a + n_b) * sizeof *u);
    const bool fine = sorted_a && sorted_b && u;
    if (fine) {
        placements(sorted_a, n_a, sorted_b, n_b, u);
        placements(sorted_b, n_b, sorted_a, n_a, u + n_a);
        out->superiority = gsl_stats_mean(u, 1, n_a);
        out->superiority_interval = superiority_interval(u, u + n_a, a, b, out->superiority, level);
    }
    free(sorted_a);
    free(sorted_b);
    free(u);
    return fine ? CABER_OK
                : message_set(message, CABER_NO_MEMORY, "no memory for %zu shots", n_a + n_b);
}

caber_status batch_pair_compare(const double *a, size_t count_a, const double *b, size_t count_b,
                                const batch_settings *settings, batch_pair *out,
                                caber_message *message)
{
    message_clear(message);
    *out = (batch_pair){0};
    caber_status status = batch_settings_check(settings, message);
    if (status == CABER_OK)
        status = batch_check(a, count_a, "the first batch", message);
    if (status == CABER_OK)
        status = batch_check(b, count_b, "the second batch", message);
    if (status != CABER_OK)
        return status;
    gsl_set_error_handler_off();
    const side first = side_make(a, count_a), second = side_make(b, count_b);
    out->count_a = count_a;
    out->count_b = count_b;
    compare_means(&first, &second, settings->level, out);
    compare_size(&first, &second, settings->level, out);
    status = compare_spreads(&first, &second, settings->level, out, message);
    if (status == CABER_OK)
        status = compare_order(&first, &second, settings->level, out, message);
    if (status != CABER_OK)
        *out = (batch_pair){0};
    return status;
}
