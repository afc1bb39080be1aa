/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/batch_parts.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/order.h"
#include "base/text.h"

static const double largest = 1e60, rounding = 1e-12, smallest = 1e-60;

const char *batch_reason_text(batch_reason reason)
{
    switch (reason) {
#define BATCH_REASON_CASE(symbol, text)                                                            \
    case symbol:                                                                                   \
        return text;
        BATCH_REASON_LIST(BATCH_REASON_CASE)
#undef BATCH_REASON_CASE
    }
    return "unknown";
}

batch_settings batch_settings_default(void)
{
    return (batch_settings){
        .level = 0.95, .resamples = BATCH_RESAMPLES_USUAL, .seed = 1, .stream = 0};
}

caber_status batch_settings_check(const batch_settings *settings, caber_message *message)
{
    if (!(settings->level >= 0.5 && settings->level <= 0.999))
        return message_set(message, CABER_BAD_INPUT,
                           "the level of the intervals must be 0.5 to 0.999");
    if (settings->resamples < BATCH_RESAMPLES_LEAST || settings->resamples > BATCH_RESAMPLES_MOST)
        return message_set(message, CABER_BAD_INPUT, "resamples must be %d to %d",
                           BATCH_RESAMPLES_LEAST, BATCH_RESAMPLES_MOST);
    return CABER_OK;
}

caber_status batch_check(const double *value, size_t count, const char *what,
                         caber_message *message)
{
    if (!value || count == 0)
        return message_set(message, CABER_BAD_INPUT, "%s has no shots", what);
    for (size_t i = 0; i < count; i++) {
        if (fabs(value[i]) <= largest)
            continue;
        const char *problem = isnan(value[i])   ? "is no number"
                              : isinf(value[i]) ? "is infinite"
                                                : "is larger than 1e60";
        return message_set(message, CABER_BAD_INPUT, "value %zu of %s %s", i + 1, what, problem);
    }
    return CABER_OK;
}

bool batch_is_constant(const double *value, size_t count)
{
    double least, most;
    gsl_stats_minmax(&least, &most, value, 1, count);
    return most - least <= fmax(rounding * fmax(fabs(least), fabs(most)), smallest);
}

double *batch_sorted(const double *value, size_t count)
{
    double *sorted = malloc(count * sizeof *sorted);
    if (!sorted)
        return NULL;
    memcpy(sorted, value, count * sizeof *sorted);
    qsort(sorted, count, sizeof *sorted, order_doubles);
    return sorted;
}

double batch_median(const double *sorted, size_t count)
{
    return gsl_stats_median_from_sorted_data(sorted, 1, count);
}

/* ------------------------------------------------------------------ intervals and tests */

batch_interval batch_interval_unknown(batch_reason reason)
{
    return (batch_interval){.reason = reason, .low = NAN, .high = NAN};
}

batch_interval batch_interval_make(double low, double high, batch_reason otherwise)
{
    if (!isfinite(low) || !isfinite(high))
        return batch_interval_unknown(otherwise);
    return (batch_interval){.reason = BATCH_KNOWN, .low = low, .high = high};
}

batch_interval batch_interval_t(double middle, double error, double df, double level)
{
    const double half = gsl_cdf_tdist_Qinv((1 - level) / 2, df) * error;
    return batch_interval_make(middle - half, middle + half, BATCH_UNSOLVED);
}

batch_test batch_test_unknown(batch_reason reason)
{
    return (batch_test){
        .reason = reason, .statistic = NAN, .df = NAN, .df_2 = NAN, .p = NAN, .holm = NAN};
}

static batch_test test_make(double statistic, double df, double df_2, double p)
{
    if (!isfinite(statistic) || !(p >= 0))
        return batch_test_unknown(BATCH_UNSOLVED);
    p = fmin(p, 1);
    return (batch_test){
        .reason = BATCH_KNOWN, .statistic = statistic, .df = df, .df_2 = df_2, .p = p, .holm = p};
}

batch_test batch_test_t(double t, double df)
{
    return test_make(t, df, 0, 2 * gsl_cdf_tdist_Q(fabs(t), df));
}

batch_test batch_test_f(double f, double df, double df_2)
{
    return test_make(f, df, df_2, gsl_cdf_fdist_Q(f, df, df_2));
}

/* ------------------------------------------------------------------ the noncentral t */

typedef struct noncentral {
    double t, df, delta;
} noncentral;

/* T = (Z + delta) / X with X = sqrt(chi-square_df / df), so, X having the density
 * 2 df x f(df x^2) with f that of chi-square,
 *   P(T <= t) = int_0^inf Phi(t x - delta) 2 df x f(df x^2) dx. */
static double noncentral_density(double x, void *context)
{
    const noncentral *n = context;
    return gsl_cdf_ugaussian_P(n->t * x - n->delta) * 2 * n->df * x *
           gsl_ran_chisq_pdf(n->df * x * x, n->df);
}

/* Phi rises from 0 to 1 around x = delta/t, quickly when t is large: pieces end there. */
static size_t noncentral_points(const noncentral *n, double from, double to, double point[4])
{
    static const double steep = 8; /* standard deviations on either side */
    const double end = (n->delta - copysign(steep, n->t)) / n->t;
    const double other = (n->delta + copysign(steep, n->t)) / n->t;
    size_t count = 0;
    point[count++] = from;
    if (end > from && end < to)
        point[count++] = end;
    if (other > point[count - 1] && other < to)
        point[count++] = other;
    point[count++] = to;
    return count;
}

double batch_noncentral_t(double t, double df, double delta)
{
    enum { PIECES = 100 };
    static const double error_most = 1e-6;
    gsl_set_error_handler_off();
    /* X has the mean 1 nearly and at most the standard deviation 1/sqrt(2 df), about 0.6 for df = 1;
     * what lies beyond is below 1e-12. */
    const double reach = 10 / sqrt(2 * df), from = fmax(0, 1 - reach), to = 1 + reach;
    noncentral context = {.t = t, .df = df, .delta = delta};
    gsl_function f = {.function = noncentral_density, .params = &context};
    double point[4];
    const size_t points = noncentral_points(&context, from, to, point);
    gsl_integration_workspace *work = gsl_integration_workspace_alloc(PIECES);
    double p = NAN, error = INFINITY;
    /* With many degrees the density itself has rounding; what counts is the error that is left. */
    if (work)
        gsl_integration_qagp(&f, point, points, 1e-12, 1e-9, PIECES, work, &p, &error);
    gsl_integration_workspace_free(work);
    return error < error_most ? fmin(fmax(p, 0), 1) : (double)NAN;
}
