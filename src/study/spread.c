/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/spread.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "base/running.h"

static double normal_quantile(double level)
{
    return gsl_cdf_ugaussian_Qinv((1 - level) / 2);
}

static double student_quantile(double level, size_t n)
{
    return gsl_cdf_tdist_Qinv((1 - level) / 2, (double)n - 1);
}

static double mean_of(const double *x, size_t n)
{
    return gsl_stats_mean(x, 1, n);
}

/* Of n - 1, about a mean that is given. */
static double variance_about(const double *x, size_t n, double mean)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += (x[i] - mean) * (x[i] - mean);
    return sum / ((double)n - 1);
}

/* ------------------------------------------------------------------ one column */

spread_interval spread_mean(const double *x, size_t n, double level)
{
    const double mean = mean_of(x, n);
    const double half = student_quantile(level, n) * sqrt(variance_about(x, n, mean) / (double)n);
    return (spread_interval){mean, mean - half, mean + half};
}

spread_interval spread_sd(const double *x, size_t n, double level, double *work)
{
    const double mean = mean_of(x, n), variance = variance_about(x, n, mean);
    if (!(variance > 0))
        return (spread_interval){0, 0, 0};
    memcpy(work, x, n * sizeof *work);
    qsort(work, n, sizeof *work, order_doubles);
    const double count = (double)n;
    const double middle = gsl_stats_trmean_from_sorted_data(1 / (2 * sqrt(count - 4)), work, 1, n);
    double fourth = 0;
    for (size_t i = 0; i < n; i++)
        fourth += pow(x[i] - middle, 4);
    const double squares = variance * (count - 1);
    const double kurtosis = count * fourth / (squares * squares);
    const double z = normal_quantile(level), c = count / (count - z);
    const double e = c * sqrt(fmax(kurtosis - (count - 3) / count, 0) / (count - 1));
    return (spread_interval){sqrt(variance), sqrt(c * variance * exp(-z * e)),
                             sqrt(c * variance * exp(z * e))};
}

const double *caber_percentiles(void)
{
    static const double percentiles[CABER_PERCENTILES] = {5, 25, 50, 75, 95};
    return percentiles;
}

void spread_percentiles(const double *x, size_t n, double *work, double *out)
{
    memcpy(work, x, n * sizeof *work);
    qsort(work, n, sizeof *work, order_doubles);
    for (int i = 0; i < CABER_PERCENTILES; i++)
        out[i] = gsl_stats_quantile_from_sorted_data(work, 1, n, caber_percentiles()[i] / 100);
}

typedef struct beta_tail {
    double a, b, below;
} beta_tail;

static double beta_off(double x, void *user)
{
    const beta_tail *t = user;
    return gsl_cdf_beta_P(x, t->a, t->b) - t->below;
}

/* The quantile of a beta distribution, a and b at least 1, by Brent's bracketing: GSL's own inverse gives up
 * on some that are wanted here. NAN when out of memory. */
static double beta_quantile(double below, double a, double b)
{
    enum { MOST = 200 };
    beta_tail t = {a, b, below};
    gsl_function f = {beta_off, &t};
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    if (!solver)
        return (double)NAN;
    double x = (double)NAN;
    int status = gsl_root_fsolver_set(solver, &f, 0, 1);
    for (int i = 0; i < MOST && status == GSL_SUCCESS; i++) {
        status = gsl_root_fsolver_iterate(solver);
        x = gsl_root_fsolver_root(solver);
        if (gsl_root_test_interval(gsl_root_fsolver_x_lower(solver),
                                   gsl_root_fsolver_x_upper(solver), 1e-15, 1e-13) == GSL_SUCCESS)
            break;
    }
    gsl_root_fsolver_free(solver);
    return x;
}

caber_share spread_share(size_t count, size_t n, double level)
{
    const double tail = (1 - level) / 2, in = (double)count, out = (double)(n - count);
    return (caber_share){.count = count,
                         .share = in / (double)n,
                         .low = count ? beta_quantile(tail, in, out + 1) : 0,
                         .high = count < n ? beta_quantile(1 - tail, in + 1, out) : 1};
}

/* ------------------------------------------------------------------ two columns */

spread_interval spread_difference(const double *a, const double *b, size_t n, double level)
{
    double mean = 0, squares = 0;
    for (size_t i = 0; i < n; i++)
        mean += (b[i] - a[i]) / (double)n;
    for (size_t i = 0; i < n; i++)
        squares += (b[i] - a[i] - mean) * (b[i] - a[i] - mean);
    const double half = student_quantile(level, n) * sqrt(squares / ((double)n - 1) / (double)n);
    return (spread_interval){mean, mean - half, mean + half};
}

/* u_i of the header, from d'S^-1 d. */
static double left_out(double distance, size_t n)
{
    const double rest = (double)n - 1;
    return log1p(-(double)n * distance / (rest * rest));
}

/* Of n - 1 degrees, beyond x standard errors; an error of 0 is no error. */
static double student_tail(double x, double error, size_t n)
{
    if (error > 0)
        return gsl_cdf_tdist_Q(x / error, (double)n - 1);
    return x > 0 ? 0 : x < 0 ? 1 : 0.5;
}

/* Ratio exp(log) with its jackknife interval. */
static spread_pair jackknife(double log_ratio, const running *w, double level)
{
    const size_t n = (size_t)w->count;
    const double e = sqrt((w->count - 1) / w->count * w->squares);
    const double t = student_quantile(level, n);
    return (spread_pair){.ratio = {exp(log_ratio), exp(log_ratio - t * e), exp(log_ratio + t * e)},
                         .log = log_ratio,
                         .error = e,
                         .p = 2 * student_tail(fabs(log_ratio), e, n),
                         .known = true};
}

static const spread_pair unknown = {.ratio = {NAN, NAN, NAN}, .p = 1};

spread_pair spread_ratio(const double *a, const double *b, size_t n, double level)
{
    const double mean_a = mean_of(a, n), mean_b = mean_of(b, n);
    const double va = variance_about(a, n, mean_a), vb = variance_about(b, n, mean_b);
    if (!(va > 0 && vb > 0))
        return unknown;
    running w = {0};
    for (size_t i = 0; i < n; i++) {
        const double da = a[i] - mean_a, db = b[i] - mean_b;
        running_add(&w, 0.5 * (left_out(db * db / vb, n) - left_out(da * da / va, n)));
    }
    return isfinite(w.squares) ? jackknife(0.5 * log(vb / va), &w, level) : unknown;
}

double spread_beyond(const spread_pair *pair, size_t n, double w)
{
    const double size = fabs(pair->log);
    return pair->known ? fmin(1, student_tail(size - w, pair->error, n) +
                                     student_tail(size + w, pair->error, n))
                       : 1;
}

double spread_within(const spread_pair *pair, size_t n, double w)
{
    return pair->known ? student_tail(w - fabs(pair->log), pair->error, n) : 1;
}

void spread_plane(const double *x, size_t n, double mean[2], double covariance[3])
{
    mean[0] = gsl_stats_mean(x, 2, n);
    mean[1] = gsl_stats_mean(x + 1, 2, n);
    covariance[0] = covariance[1] = covariance[2] = 0;
    for (size_t i = 0; i < n; i++) {
        const double d = x[2 * i] - mean[0], e = x[2 * i + 1] - mean[1];
        covariance[0] += d * d;
        covariance[1] += e * e;
        covariance[2] += d * e;
    }
    for (int k = 0; k < 3; k++)
        covariance[k] /= (double)n - 1;
}

/* d'S^-1 d of a row. */
static double distance(const double *row, const double mean[2], const double s[3])
{
    const double d = row[0] - mean[0], e = row[1] - mean[1];
    return (d * d * s[1] - 2 * d * e * s[2] + e * e * s[0]) / (s[0] * s[1] - s[2] * s[2]);
}

spread_interval spread_area(const double *a, const double *b, size_t n, double level)
{
    double mean_a[2], mean_b[2], sa[3], sb[3];
    spread_plane(a, n, mean_a, sa);
    spread_plane(b, n, mean_b, sb);
    const double det_a = sa[0] * sa[1] - sa[2] * sa[2], det_b = sb[0] * sb[1] - sb[2] * sb[2];
    /* A line has the determinant of its roundings. */
    if (!(det_a > 1e-12 * sa[0] * sa[1] && det_b > 1e-12 * sb[0] * sb[1]))
        return unknown.ratio;
    running w = {0};
    for (size_t i = 0; i < n; i++)
        running_add(&w, 0.5 * (left_out(distance(b + 2 * i, mean_b, sb), n) -
                               left_out(distance(a + 2 * i, mean_a, sa), n)));
    return isfinite(w.squares) ? jackknife(0.5 * log(det_b / det_a), &w, level).ratio
                               : unknown.ratio;
}

spread_interval spread_share_difference(const bool *a, const bool *b, size_t n, double level)
{
    double only_a = 0, only_b = 0;
    for (size_t i = 0; i < n; i++) {
        only_a += a[i] && !b[i];
        only_b += b[i] && !a[i];
    }
    const double m = (double)n + 2, off = only_b - only_a;
    const double half = normal_quantile(level) * sqrt(only_a + only_b + 1 - off * off / m) / m;
    return (spread_interval){off / (double)n, fmax(off / m - half, -1), fmin(off / m + half, 1)};
}
