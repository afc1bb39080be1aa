/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Spreads: the interval of a standard deviation and of a ratio of two, and whether spreads differ.
 *
 * One sd: D. G. Bonett (2006), Approximate confidence interval for standard deviation of nonnormal
 * distributions, Comput. Statist. Data Anal. 50:775, doi 10.1016/j.csda.2004.10.003:
 *   ln(c s^2) -+ z se,  c = n/(n - z),  se = c sqrt((k - (n-3)/n)/(n-1)),
 *   k = n sum (x - m')^4 / (sum (x - m)^2)^2, m' the mean with the fraction 1/(2 sqrt(n-4)) trimmed off
 *   at each end (all but the median at n = 5).
 *
 * Two: D. G. Bonett (2006), Robust confidence interval for a ratio of standard deviations,
 * Appl. Psychol. Meas. 30:432, doi 10.1177/0146621605279551, with the kurtosis of both batches pooled at
 * the very ratio r that is asked about, as its author's R package `statpsych` (1.7) has it. The ends are
 *   r = sqrt(c s_a^2/s_b^2 exp(-+ z se(r))),     c = (n_a/(n_a - z)) ((n_b - z)/n_b)
 *   se(r)^2 = sum (k(r) - (n_i - 3)/n_i)/(n_i - 1)
 *   k(r) = (n_a + n_b) (q_a + r^4 q_b) / ((n_a - 1) s_a^2 + r^2 (n_b - 1) s_b^2)^2
 * with q the sum of fourth powers about the trimmed mean. In units of the batch's own sd, with
 * R = s_a/s_b and w = r/R, k = (n_a + n_b)(f_a + w^4 f_b) / (n_a - 1 + w^2 (n_b - 1))^2.
 *
 * Test: M. B. Brown & A. B. Forsythe (1974), J. Amer. Statist. Assoc. 69:364: the one-way analysis of
 * variance of the distances from each batch's median. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

#include "base/message.h"
#include "study/batch_parts.h"

/* ------------------------------------------------------------------ one standard deviation */

/* m' above. As R's mean(x, trim): floor(fraction n) shots off each end, the median when
 * that leaves none. */
static double trimmed_mean(const double *sorted, size_t n)
{
    const double fraction = 1 / (2 * sqrt((double)n - 4));
    const size_t off = (size_t)floor(fraction * (double)n);
    if (fraction >= 0.5 || 2 * off >= n)
        return batch_median(sorted, n);
    return gsl_stats_mean(sorted + off, 1, n - 2 * off);
}

bool batch_fourth(const batch *b, double *fourth)
{
    double *sorted = batch_sorted(b->value, b->count);
    if (!sorted)
        return false;
    const double m = trimmed_mean(sorted, b->count), s = gsl_stats_sd(sorted, 1, b->count);
    free(sorted);
    *fourth = 0;
    for (size_t i = 0; i < b->count; i++) {
        const double u = (b->value[i] - m) / s;
        *fourth += u * u * u * u;
    }
    return true;
}

batch_interval batch_sd_interval(const double *value, size_t count, double level)
{
    const double n = (double)count, z = gsl_cdf_ugaussian_Qinv((1 - level) / 2);
    double fourth;
    if (count < BATCH_BONETT_LEAST)
        return batch_interval_unknown(BATCH_FEW);
    if (batch_is_constant(value, count))
        return batch_interval_unknown(BATCH_CONSTANT);
    if (!batch_fourth(&(batch){.value = value, .count = count}, &fourth))
        return batch_interval_unknown(BATCH_UNSOLVED);
    const double kurtosis = n * fourth / ((n - 1) * (n - 1)), c = n / (n - z);
    const double error = c * sqrt((kurtosis - (n - 3) / n) / (n - 1));
    const double sd = gsl_stats_sd(value, 1, count), middle = log(c) / 2;
    return batch_interval_make(sd * exp(middle - z * error / 2), sd * exp(middle + z * error / 2),
                               BATCH_UNSOLVED);
}

/* ------------------------------------------------------------------ the ratio of two */

typedef struct ratio {
    double n_a, n_b, fourth_a, fourth_b;
    double z;  /* signed: minus for the lower end */
    double lc; /* ln c */
} ratio;

/* 0 where w = r/R is an end. */
static double ratio_miss(double log_w, void *context)
{
    const ratio *q = context;
    const double w2 = exp(2 * log_w), below = q->n_a - 1 + w2 * (q->n_b - 1);
    const double k = (q->n_a + q->n_b) * (q->fourth_a + w2 * w2 * q->fourth_b) / (below * below);
    const double se2 =
        (k - (q->n_a - 3) / q->n_a) / (q->n_a - 1) + (k - (q->n_b - 3) / q->n_b) / (q->n_b - 1);
    return 2 * log_w - q->lc - q->z * sqrt(fmax(se2, 0));
}

/* As w goes to 0 or infinity k tends to that of one batch, so the miss takes the sign of ln w. */
static double ratio_end(ratio *q)
{
    enum { STEPS = 200 };
    gsl_function f = {.function = ratio_miss, .params = q};
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    double reach = 1, end = NAN;
    while (reach < 200 && (ratio_miss(-reach, q) > 0 || ratio_miss(reach, q) < 0))
        reach *= 2;
    int status = GSL_CONTINUE;
    if (solver && gsl_root_fsolver_set(solver, &f, -reach, reach) == GSL_SUCCESS)
        for (int i = 0; i < STEPS && status == GSL_CONTINUE; i++) {
            if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS)
                break;
            status = gsl_root_test_interval(gsl_root_fsolver_x_lower(solver),
                                            gsl_root_fsolver_x_upper(solver), 1e-12, 0);
        }
    if (status == GSL_SUCCESS)
        end = exp(gsl_root_fsolver_root(solver));
    if (solver)
        gsl_root_fsolver_free(solver);
    return end;
}

batch_interval batch_sd_ratio_interval(const batch *a, const batch *b, double level)
{
    if (a->count < BATCH_BONETT_LEAST || b->count < BATCH_BONETT_LEAST)
        return batch_interval_unknown(BATCH_FEW);
    const bool constant_a = batch_is_constant(a->value, a->count),
               constant_b = batch_is_constant(b->value, b->count);
    if (constant_a || constant_b)
        return batch_interval_unknown(constant_a && constant_b ? BATCH_CONSTANT
                                                               : BATCH_ONE_CONSTANT);
    const double z = gsl_cdf_ugaussian_Qinv((1 - level) / 2);
    const double measured =
        gsl_stats_sd(a->value, 1, a->count) / gsl_stats_sd(b->value, 1, b->count);
    ratio q = {.n_a = (double)a->count, .n_b = (double)b->count};
    q.lc = log(q.n_a / (q.n_a - z) * ((q.n_b - z) / q.n_b));
    if (!batch_fourth(a, &q.fourth_a) || !batch_fourth(b, &q.fourth_b))
        return batch_interval_unknown(BATCH_UNSOLVED);
    q.z = -z;
    const double low = measured * ratio_end(&q);
    q.z = z;
    return batch_interval_make(low, measured * ratio_end(&q), BATCH_UNSOLVED);
}

/* ------------------------------------------------------------------ whether spreads differ */

bool batch_distances(const batch *b, double *out)
{
    double *sorted = batch_sorted(b->value, b->count);
    if (!sorted)
        return false;
    const double median = batch_median(sorted, b->count);
    free(sorted);
    for (size_t i = 0; i < b->count; i++)
        out[i] = fabs(b->value[i] - median);
    return true;
}

/* distance: the batches' one after the other, `all` of them. */
static batch_test distances_test(const batch *batches, size_t count, const double *distance,
                                 size_t all)
{
    const double mean = gsl_stats_mean(distance, 1, all);
    double between = 0, within = 0;
    const double *d = distance;
    for (size_t i = 0; i < count; d += batches[i].count, i++) {
        const double n = (double)batches[i].count, m = gsl_stats_mean(d, 1, batches[i].count);
        between += n * (m - mean) * (m - mean);
        within += gsl_stats_tss_m(d, 1, batches[i].count, m);
    }
    const double df = (double)count - 1, df_2 = (double)(all - count);
    /* distances that are the same but for rounding */
    if (!(within > 1e-20 * (double)all * mean * mean))
        return batch_test_unknown(BATCH_TIES);
    return batch_test_f(between / df / (within / df_2), df, df_2);
}

caber_status batch_spreads_test(const batch *batches, size_t count, batch_test *out,
                                caber_message *message)
{
    size_t all = 0, least = SIZE_MAX, constant = 0;
    for (size_t i = 0; i < count; i++) {
        all += batches[i].count;
        least = batches[i].count < least ? batches[i].count : least;
        constant += batch_is_constant(batches[i].value, batches[i].count);
    }
    *out = batch_test_unknown(least < 3 ? BATCH_FEW : BATCH_CONSTANT);
    if (least < 3 || constant == count)
        return CABER_OK;
    double *distance = malloc(all * sizeof *distance), *at = distance;
    bool fine = distance;
    for (size_t i = 0; fine && i < count; at += batches[i].count, i++)
        fine = batch_distances(&batches[i], at);
    if (fine)
        *out = distances_test(batches, count, distance, all);
    free(distance);
    return fine ? CABER_OK : message_set(message, CABER_NO_MEMORY, "no memory for %zu shots", all);
}
