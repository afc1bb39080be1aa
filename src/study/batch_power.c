/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How many shots would tell two batches apart.
 *
 * A test calls a difference when |D|/e > t, t Student's quantile on f degrees, D the measured difference
 * and e its measured error. D has the mean d and the error e_0; e^2 has about the mean (x e_0)^2. So
 * D/e is about 1/x times a noncentral t, and
 *   power = P(T > x t) + P(T < -x t),  T noncentral t on f with delta = d / e_0.                     (1)
 *
 * Means, Welch: d the difference, e_0^2 = s_a^2/n_a + s_b^2/n_b, x = 1, f as Welch has it from the true
 * spreads. For equal spreads and counts that is Student's test and exact.
 *
 * Spreads, Brown & Forsythe: the same of the distances z = |x - median|, whose variance the test pools,
 * f = n_a + n_b - 2. With a the evenness (header), w the density at the median and the median taken from
 * the n shots themselves, to the first order in 1/n for symmetric shots:
 *   mean z = a s - 1/(4 w n),   var(mean z) = (1 - a^2) s^2/n,
 *   mean of sum (z - mean z)^2 = (n - 1)(1 - a^2) s^2 + 1/(4 w^2) - a s/(2 w).                      (2)
 * They follow from sum |x - median| = sum |x - m| - n w (median - m)^2, var(median) = 1/(4 w^2 n) and
 * cov(mean, median) = a s/(2 w n). For w stands what normal shots have, w a s = 1/pi. Without the terms
 * in w the plan promises 50 in 100 for twelve shots that give 38 (test_shots_coverage.c). */
#include "study/batch_power.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_roots.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

#include "base/message.h"
#include "study/batch_parts.h"

batch_power_settings batch_power_default(void)
{
    return (batch_power_settings){.alpha = 0.05, .power = 0.8};
}

typedef struct plan {
    bool spreads;
    double difference; /* of means */
    double sd_a, sd_b; /* of both */
    double evenness;   /* of spreads */
    double count_a, count_b;
    double alpha;
} plan;

/* What (1) is made of. */
typedef struct statistic {
    double difference, error, excess, df;
} statistic;

static statistic statistic_of_means(const plan *p)
{
    const double v_a = p->sd_a * p->sd_a / p->count_a, v_b = p->sd_b * p->sd_b / p->count_b;
    return (statistic){.difference = p->difference,
                       .error = sqrt(v_a + v_b),
                       .excess = 1,
                       .df = (v_a + v_b) * (v_a + v_b) /
                             (v_a * v_a / (p->count_a - 1) + v_b * v_b / (p->count_b - 1))};
}

/* (2) for one batch. */
typedef struct distances {
    double mean, variance, squares; /* variance of the mean */
} distances;

static distances distances_of(double sd, double a, double n)
{
    const double as = a * sd, scatter = (1 - a * a) * sd * sd;
    return (distances){.mean = as * (1 - M_PI_4 / n),
                       .variance = scatter / n,
                       .squares = (n - 1) * scatter + as * as * (M_PI * M_PI / 4 - M_PI_2)};
}

static statistic statistic_of_spreads(const plan *p)
{
    const distances a = distances_of(p->sd_a, p->evenness, p->count_a);
    const distances b = distances_of(p->sd_b, p->evenness, p->count_b);
    const double df = p->count_a + p->count_b - 2, error = sqrt(a.variance + b.variance);
    const double measured = sqrt((a.squares + b.squares) / df * (1 / p->count_a + 1 / p->count_b));
    return (statistic){
        .difference = a.mean - b.mean, .error = error, .excess = measured / error, .df = df};
}

static double plan_power(const plan *p)
{
    const statistic s = p->spreads ? statistic_of_spreads(p) : statistic_of_means(p);
    const double delta = s.difference / s.error;
    const double t = s.excess * gsl_cdf_tdist_Qinv(p->alpha / 2, s.df);
    /* far beyond any doubt, where the integral would have nothing to see */
    if (fabs(delta) > 40 + 4 * t)
        return 1;
    return 1 - batch_noncentral_t(t, s.df, delta) + batch_noncentral_t(-t, s.df, delta);
}

static bool alpha_fits(double alpha)
{
    return alpha >= 1e-6 && alpha <= 0.5;
}

double batch_power_means(double difference, double sd_a, double sd_b, double count_a,
                         double count_b, double alpha)
{
    if (!isfinite(difference) || !(sd_a >= 0 && sd_b >= 0 && sd_a + sd_b > 0) ||
        !isfinite(sd_a + sd_b) || !(count_a >= 2 && count_b >= 2) || !alpha_fits(alpha))
        return NAN;
    return plan_power(&(plan){.difference = difference,
                              .sd_a = sd_a,
                              .sd_b = sd_b,
                              .count_a = count_a,
                              .count_b = count_b,
                              .alpha = alpha});
}

double batch_power_spreads(double ratio, double evenness, double count_a, double count_b,
                           double alpha)
{
    if (!(ratio > 0 && isfinite(ratio)) || !(evenness > 0 && evenness < 1) ||
        !(count_a >= 3 && count_b >= 3) || !alpha_fits(alpha))
        return NAN;
    return plan_power(&(plan){.spreads = true,
                              .sd_a = ratio,
                              .sd_b = 1,
                              .evenness = evenness,
                              .count_a = count_a,
                              .count_b = count_b,
                              .alpha = alpha});
}

/* ------------------------------------------------------------------ how many more */

static double power_after(plan p, int more)
{
    p.count_a += more;
    p.count_b += more;
    return plan_power(&p);
}

/* Power grows with the count, so the least count that has enough of it can be closed in on. */
static void need_more(const plan *p, double wanted, batch_need *out)
{
    if (!(power_after(*p, BATCH_MORE_MOST) >= wanted)) {
        out->kind = BATCH_NEED_ALIKE;
        return;
    }
    int few = 0, enough = BATCH_MORE_MOST;
    while (enough - few > 1) {
        const int middle = (few + enough) / 2;
        if (power_after(*p, middle) >= wanted)
            enough = middle;
        else
            few = middle;
    }
    out->kind = BATCH_NEED_MORE;
    out->more = enough;
}

/* ------------------------------------------------------------------ the least that would be seen */

typedef struct sought {
    plan plan;
    double wanted;
} sought;

/* x: the difference, or the logarithm of the ratio. */
static double sought_miss(double x, void *context)
{
    const sought *s = context;
    plan p = s->plan;
    if (p.spreads) {
        p.sd_a = exp(x);
        p.sd_b = 1;
    } else {
        p.difference = x;
    }
    return plan_power(&p) - s->wanted;
}

/* The root between 0 and `most`, NAN when there is none. */
static double find(sought *s, double most)
{
    enum { STEPS = 200 };
    gsl_function f = {.function = sought_miss, .params = s};
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    int status = GSL_CONTINUE;
    double found = NAN;
    if (solver && gsl_root_fsolver_set(solver, &f, 0, most) == GSL_SUCCESS)
        for (int i = 0; i < STEPS && status == GSL_CONTINUE; i++) {
            if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS)
                break;
            status = gsl_root_test_interval(gsl_root_fsolver_x_lower(solver),
                                            gsl_root_fsolver_x_upper(solver), 0, 1e-6);
        }
    if (status == GSL_SUCCESS)
        found = gsl_root_fsolver_root(solver);
    if (solver)
        gsl_root_fsolver_free(solver);
    return found;
}

/* A difference so large that any test would see it, for the bracket. */
static double beyond(const plan *p)
{
    const double least = fmin(p->count_a, p->count_b) - 1;
    const double t = gsl_cdf_tdist_Qinv(p->alpha / 2, least);
    return 20 * (1 + t) * statistic_of_means(p).error;
}

/* ------------------------------------------------------------------ from measured batches */

static caber_status need_check(const batch *a, const batch *b, const batch_power_settings *s,
                               batch_need *out, caber_message *message)
{
    message_clear(message);
    *out = (batch_need){.reason = BATCH_FEW, .power_now = NAN, .detectable = NAN};
    if (!alpha_fits(s->alpha))
        return message_set(message, CABER_BAD_INPUT, "alpha must be 1e-6 to 0.5");
    if (!(s->power >= 0.5 && s->power <= 0.999))
        return message_set(message, CABER_BAD_INPUT, "the wanted power must be 0.5 to 0.999");
    const caber_status status = batch_check(a->value, a->count, "the first batch", message);
    if (status != CABER_OK)
        return status;
    gsl_set_error_handler_off();
    return batch_check(b->value, b->count, "the second batch", message);
}

static void need_fill(const plan *p, bool settled, double wanted, batch_need *out)
{
    out->power_now = plan_power(p);
    out->reason = isnan(out->power_now) ? BATCH_UNSOLVED : BATCH_KNOWN;
    if (out->reason != BATCH_KNOWN)
        return;
    if (settled)
        out->kind = BATCH_NEED_SETTLED;
    else
        need_more(p, wanted, out);
}

static double sd_of(const batch *b)
{
    return batch_is_constant(b->value, b->count) ? 0 : gsl_stats_sd(b->value, 1, b->count);
}

caber_status batch_need_means(const batch *a, const batch *b, bool settled,
                              const batch_power_settings *settings, batch_need *out,
                              caber_message *message)
{
    const caber_status status = need_check(a, b, settings, out, message);
    if (status != CABER_OK || a->count < 2 || b->count < 2)
        return status;
    sought s = {.wanted = settings->power};
    s.plan = (plan){.difference = gsl_stats_mean(a->value, 1, a->count) -
                                  gsl_stats_mean(b->value, 1, b->count),
                    .sd_a = sd_of(a),
                    .sd_b = sd_of(b),
                    .count_a = (double)a->count,
                    .count_b = (double)b->count,
                    .alpha = settings->alpha};
    if (!(s.plan.sd_a + s.plan.sd_b > 0)) {
        out->reason = BATCH_CONSTANT;
        return CABER_OK;
    }
    need_fill(&s.plan, settled, settings->power, out);
    out->detectable = find(&s, beyond(&s.plan));
    return CABER_OK;
}

/* Mean distance from the median, a s of (2), from the measured one. */
static double mean_distance(const double *distance, size_t count)
{
    return gsl_stats_mean(distance, 1, count) / (1 - M_PI_4 / (double)count);
}

/* Square of the evenness of one batch. That of the estimated mean distance is too large by its variance,
 * (1 - a^2) s^2/n. */
static double evenness_square(double mean, double sd, size_t count)
{
    const double n = (double)count, square = mean / sd * (mean / sd);
    return square * (1 + 1 / n) - 1 / n;
}

/* The plan takes the ratio of mean distances, which is what the test compares, not that of the sds. */
static void need_spreads(const batch *a, const batch *b, const double *d_a, const double *d_b,
                         bool settled, const batch_power_settings *settings, batch_need *out)
{
    static const double least = 0.09, most = 0.96; /* no tails are so heavy; two values have 1 */
    sought s = {.wanted = settings->power};
    const double m_a = mean_distance(d_a, a->count), m_b = mean_distance(d_b, b->count);
    const double square =
        (evenness_square(m_a, sd_of(a), a->count) + evenness_square(m_b, sd_of(b), b->count)) / 2;
    s.plan = (plan){.spreads = true,
                    .sd_a = m_a,
                    .sd_b = m_b,
                    .evenness = sqrt(fmin(fmax(square, least), most)),
                    .count_a = (double)a->count,
                    .count_b = (double)b->count,
                    .alpha = settings->alpha};
    need_fill(&s.plan, settled, settings->power, out);
    out->detectable = exp(find(&s, log(1e6)));
}

caber_status batch_need_spreads(const batch *a, const batch *b, bool settled,
                                const batch_power_settings *settings, batch_need *out,
                                caber_message *message)
{
    const caber_status status = need_check(a, b, settings, out, message);
    if (status != CABER_OK || a->count < 3 || b->count < 3)
        return status;
    if (batch_is_constant(a->value, a->count) || batch_is_constant(b->value, b->count)) {
        out->reason = sd_of(a) + sd_of(b) > 0 ? BATCH_ONE_CONSTANT : BATCH_CONSTANT;
        return CABER_OK;
    }
    double *distance = malloc((a->count + b->count) * sizeof *distance);
    const bool fine =
        distance && batch_distances(a, distance) && batch_distances(b, distance + a->count);
    if (fine)
        need_spreads(a, b, distance, distance + a->count, settled, settings, out);
    free(distance);
    return fine ? CABER_OK
                : message_set(message, CABER_NO_MEMORY, "no memory for %zu shots",
                              a->count + b->count);
}

const char *batch_need_text(const batch_need *need, char *text, size_t size)
{
    switch (need->kind) {
    case BATCH_NEED_SETTLED:
        snprintf(text, size, "already settled");
        break;
    case BATCH_NEED_MORE:
        snprintf(text, size, "%d more in each", need->more);
        break;
    case BATCH_NEED_ALIKE:
        snprintf(text, size, "more than %d more in each: too alike to settle", BATCH_MORE_MOST);
        break;
    case BATCH_NEED_UNKNOWN:
        snprintf(text, size, "unknown: %s", batch_reason_text(need->reason));
        break;
    }
    return text;
}
