/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/factor.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#include "base/message.h"

/* Least share of a normal distribution that a range must hold: below, its values are those of a tail that
 * nobody means, and soon of rounding. An assumption of ours. */
static const double normal_share_least = 1e-6;

static double normal_share(const factor *f)
{
    const double a = (f->from - f->mean) / f->sd, b = (f->to - f->mean) / f->sd;
    return a > 0 ? gsl_cdf_ugaussian_Q(a) - gsl_cdf_ugaussian_Q(b)
                 : gsl_cdf_ugaussian_P(b) - gsl_cdf_ugaussian_P(a);
}

caber_status factor_check(const factor *f, caber_message *message)
{
    if (f->listed)
        return f->count ? CABER_OK : message_set(message, CABER_BAD_INPUT, "the list is empty");
    if (!(f->from < f->to))
        return message_set(message, CABER_BAD_INPUT, "the range is empty; from must be below to");
    if (f->whole && f->spread != FACTOR_UNIFORM)
        return message_set(message, CABER_BAD_INPUT,
                           "whole numbers can only be uniform; give others as a list of values");
    if (f->spread == FACTOR_LOG_UNIFORM && !(f->from > 0))
        return message_set(message, CABER_BAD_INPUT,
                           "log-uniform needs a range above 0, in the SI unit");
    if (f->spread == FACTOR_NORMAL && !(f->sd > 0))
        return message_set(message, CABER_BAD_INPUT, "sd must be above 0");
    if (f->spread == FACTOR_NORMAL && !(normal_share(f) >= normal_share_least))
        return message_set(message, CABER_BAD_INPUT,
                           "the range holds less than a millionth of this normal distribution");
    if (f->spread == FACTOR_TRIANGULAR && !(f->peak >= f->from && f->peak <= f->to))
        return message_set(message, CABER_BAD_INPUT, "peak must be within the range");
    if (f->levels == 1)
        return message_set(message, CABER_BAD_INPUT, "levels: a range has at least 2");
    if (f->levels && f->whole && f->levels > f->to - f->from + 1)
        return message_set(message, CABER_BAD_INPUT,
                           "levels: there are only %g whole numbers in the range",
                           f->to - f->from + 1);
    return CABER_OK;
}

static double clamp(const factor *f, double x)
{
    return fmin(fmax(x, f->from), f->to);
}

static double normal_quantile(const factor *f, double u)
{
    const double a = (f->from - f->mean) / f->sd, b = (f->to - f->mean) / f->sd;
    double z;
    if (a > 0) {
        const double qa = gsl_cdf_ugaussian_Q(a), qb = gsl_cdf_ugaussian_Q(b);
        z = gsl_cdf_ugaussian_Qinv(qa - u * (qa - qb));
    } else {
        const double pa = gsl_cdf_ugaussian_P(a), pb = gsl_cdf_ugaussian_P(b);
        z = gsl_cdf_ugaussian_Pinv(pa + u * (pb - pa));
    }
    return f->mean + f->sd * z;
}

static double triangular_quantile(const factor *f, double u)
{
    const double width = f->to - f->from, left = f->peak - f->from, right = f->to - f->peak;
    return u * width < left ? f->from + sqrt(u * width * left)
                            : f->to - sqrt((1 - u) * width * right);
}

static double along(const factor *f, double share)
{
    if (f->spread == FACTOR_LOG_UNIFORM)
        return f->from * pow(f->to / f->from, share);
    return f->from + share * (f->to - f->from);
}

double factor_quantile(const factor *f, double u)
{
    if (f->listed)
        return f->values[(size_t)fmin(floor(u * (double)f->count), (double)f->count - 1)];
    if (f->whole)
        return clamp(f, f->from + floor(u * (f->to - f->from + 1)));
    if (f->spread == FACTOR_NORMAL)
        return clamp(f, normal_quantile(f, u));
    return clamp(f, f->spread == FACTOR_TRIANGULAR ? triangular_quantile(f, u) : along(f, u));
}

double factor_place(const factor *f, size_t place, size_t places)
{
    const double u = (double)place / (double)(places - 1);
    if (f->listed)
        return factor_quantile(f, ((double)place + 0.5) / (double)places);
    if (f->whole)
        return clamp(f, f->from + round(u * (f->to - f->from)));
    return factor_quantile(f, u);
}

size_t factor_levels(const factor *f)
{
    return f->listed ? f->count : (size_t)f->levels;
}

double factor_level(const factor *f, size_t level)
{
    if (f->listed)
        return f->values[level];
    if (level + 1 == (size_t)f->levels)
        return f->to; /* to the last bit */
    const double value = along(f, (double)level / (f->levels - 1));
    return f->whole ? round(value) : clamp(f, value);
}
