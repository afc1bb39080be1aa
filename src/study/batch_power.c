/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How many shots would tell two batches apart.
 *
 * With e^2 = v_a/n_a + v_b/n_b the statistic is about noncentral t with delta = difference / e, and
 *   power = P(T > t_(1-alpha/2)) + P(T < -t_(1-alpha/2)).                                          (1)
 * Means: v are the batches' variances, the degrees of freedom Welch's at them. Equal spreads: (1) is
 * exact for Student's test, to which Welch's comes near.
 *
 * Spreads: the test compares distances from the median, of mean a s and variance (1 - a^2) s^2, a the
 * evenness (header). It pools their variance, so e^2 is the pooled one, on n_a + n_b - 2 degrees. */
#include "study/batch_power.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
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

/* What is compared: means of something with these variances. */
typedef struct plan {
    double difference;
    double variance_a, variance_b;
    double count_a, count_b;
    bool pooled;
    double alpha;
} plan;

static double plan_power(const plan *p)
{
    const double v_a = p->variance_a / p->count_a, v_b = p->variance_b / p->count_b;
    double df = p->count_a + p->count_b - 2, error = sqrt(v_a + v_b);
    if (!p->pooled)
        df = (v_a + v_b) * (v_a + v_b) /
             (v_a * v_a / (p->count_a - 1) + v_b * v_b / (p->count_b - 1));
    else
        error = sqrt(((p->count_a - 1) * p->variance_a + (p->count_b - 1) * p->variance_b) / df *
                     (1 / p->count_a + 1 / p->count_b));
    const double delta = p->difference / error, t = gsl_cdf_tdist_Qinv(p->alpha / 2, df);
    /* far beyond any doubt, where the integral would have nothing to see */
    if (fabs(delta) > 40 + 4 * t)
        return 1;
    return fmin(1, 1 - batch_noncentral_t(t, df, delta) + batch_noncentral_t(-t, df, delta));
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
                              .variance_a = sd_a * sd_a,
                              .variance_b = sd_b * sd_b,
                              .count_a = count_a,
                              .count_b = count_b,
                              .alpha = alpha});
}

static plan spreads_plan(double ratio, double evenness, double count_a, double count_b,
                         double alpha)
{
    const double scatter = 1 - evenness * evenness;
    return (plan){.difference = evenness * (ratio - 1),
                  .variance_a = scatter * ratio * ratio,
                  .variance_b = scatter,
                  .count_a = count_a,
                  .count_b = count_b,
                  .pooled = true,
                  .alpha = alpha};
}

double batch_power_spreads(double ratio, double evenness, double count_a, double count_b,
                           double alpha)
{
    if (!(ratio > 0 && isfinite(ratio)) || !(evenness > 0 && evenness < 1) ||
        !(count_a >= 3 && count_b >= 3) || !alpha_fits(alpha))
        return NAN;
    const plan p = spreads_plan(ratio, evenness, count_a, count_b, alpha);
    return plan_power(&p);
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
    double evenness, wanted;
} sought;

static double means_miss(double x, void *context)
{
    sought *s = context;
    s->plan.difference = x;
    return plan_power(&s->plan) - s->wanted;
}

static double spreads_miss(double log_ratio, void *context)
{
    const sought *s = context;
    const plan p =
        spreads_plan(exp(log_ratio), s->evenness, s->plan.count_a, s->plan.count_b, s->plan.alpha);
    return plan_power(&p) - s->wanted;
}

/* The root between 0 and `most`, NAN when there is none. */
static double find(double (*miss)(double, void *), sought *s, double most)
{
    enum { STEPS = 200 };
    gsl_function f = {.function = miss, .params = s};
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
    return 20 * (1 + t) * sqrt(p->variance_a / p->count_a + p->variance_b / p->count_b);
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
    out->reason = BATCH_KNOWN;
    out->power_now = plan_power(p);
    if (settled)
        out->kind = BATCH_NEED_SETTLED;
    else
        need_more(p, wanted, out);
}

static double variance_of(const batch *b)
{
    return batch_is_constant(b->value, b->count) ? 0 : gsl_stats_variance(b->value, 1, b->count);
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
                    .variance_a = variance_of(a),
                    .variance_b = variance_of(b),
                    .count_a = (double)a->count,
                    .count_b = (double)b->count,
                    .alpha = settings->alpha};
    if (!(s.plan.variance_a + s.plan.variance_b > 0)) {
        out->reason = BATCH_CONSTANT;
        return CABER_OK;
    }
    need_fill(&s.plan, settled, settings->power, out);
    out->detectable = find(means_miss, &s, beyond(&s.plan));
    return CABER_OK;
}

/* Mean distance from the median as an estimate for the whole: n/(n-1) times that of the shots, since
 * the median was taken from them (exact for the normal to the first order in 1/n). */
static double mean_distance(const double *distance, size_t count)
{
    return gsl_stats_mean(distance, 1, count) * (double)count / ((double)count - 1);
}

static void need_spreads(const batch *a, const batch *b, const double *d_a, const double *d_b,
                         bool settled, const batch_power_settings *settings, batch_need *out)
{
    sought s = {.wanted = settings->power};
    s.plan =
        (plan){.difference = gsl_stats_mean(d_a, 1, a->count) - gsl_stats_mean(d_b, 1, b->count),
               .variance_a = gsl_stats_variance(d_a, 1, a->count),
               .variance_b = gsl_stats_variance(d_b, 1, b->count),
               .count_a = (double)a->count,
               .count_b = (double)b->count,
               .pooled = true,
               .alpha = settings->alpha};
    const double sd_a = sqrt(variance_of(a)), sd_b = sqrt(variance_of(b));
    out->reason = BATCH_TIES;
    if (!(s.plan.variance_a + s.plan.variance_b > 0))
        return;
    need_fill(&s.plan, settled, settings->power, out);
    s.evenness = (mean_distance(d_a, a->count) + mean_distance(d_b, b->count)) / (sd_a + sd_b);
    if (s.evenness < 1)
        out->detectable = exp(find(spreads_miss, &s, log(1e6)));
}

caber_status batch_need_spreads(const batch *a, const batch *b, bool settled,
                                const batch_power_settings *settings, batch_need *out,
                                caber_message *message)
{
    const caber_status status = need_check(a, b, settings, out, message);
    if (status != CABER_OK || a->count < 3 || b->count < 3)
        return status;
    if (batch_is_constant(a->value, a->count) || batch_is_constant(b->value, b->count)) {
        out->reason = variance_of(a) + variance_of(b) > 0 ? BATCH_ONE_CONSTANT : BATCH_CONSTANT;
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
