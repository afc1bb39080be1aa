/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/load.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_poly.h>
#include <stdlib.h>

#include "base/message.h"

/* The cubic p at x = t - first, with its first and second derivatives. */
static load_motion table_cubic(const load_table *table, double x)
{
    const double span = table->last - table->first, rate = (table->b - table->a) / span;
    return (load_motion){.angle = x * x * (table->a / 2 + rate * x / 6),
                         .rate = x * (table->a + rate * x / 2),
                         .acceleration = table->a + rate * x};
}

/* Second derivative at t[0] or t[3] (`at`) of the cubic through four rows. */
static double end_acceleration(const double *t, const double *value, double at)
{
    double dd[4], taylor[4], work[4];
    gsl_poly_dd_init(dd, t, value, 4);
    gsl_poly_dd_taylor(taylor, at, dd, t, 4, work);
    return 2 * taylor[2];
}

static bool table_create(const caber_table *given, caber_drive drive, load_table *out)
{
    *out = (load_table){0};
    const size_t n = given->count;
    if (n == 0)
        return true;
    const double *t = given->time, *value = given->value;
    out->first = t[0];
    out->last = t[n - 1];
    if (drive != CABER_MOTION) {
        out->spline = gsl_spline_alloc(gsl_interp_steffen, n);
        return out->spline && gsl_spline_init(out->spline, t, value, n) == GSL_SUCCESS;
    }
    out->a = end_acceleration(t, value, out->first);
    out->b = end_acceleration(t + n - 4, value + n - 4, out->last);
    double *rest = malloc(n * sizeof *rest);
    out->spline = gsl_spline_alloc(gsl_interp_cspline, n);
    bool good = rest && out->spline;
    for (size_t i = 0; good && i < n; i++)
        rest[i] = value[i] - table_cubic(out, t[i] - out->first).angle;
    good = good && gsl_spline_init(out->spline, t, rest, n) == GSL_SUCCESS;
    free(rest);
    return good;
}

caber_status load_create(const caber_load *given, load *out, caber_message *message)
{
    *out = (load){.given = *given};
    out->given.hub.table = out->given.grip.table = out->given.roll.table = (caber_table){0};
    if (table_create(&given->hub.table, given->hub.drive, &out->hub) &&
        table_create(&given->grip.table, given->grip.drive, &out->grip) &&
        table_create(&given->roll.table, given->roll.drive, &out->roll))
        return message_clear(message);
    load_free(out);
    return message_set(message, CABER_BAD_INPUT, "load: a table could not be interpolated");
}

void load_free(load *l)
{
    gsl_spline *splines[] = {l->hub.spline, l->grip.spline, l->roll.spline};
    for (size_t i = 0; i < 3; i++)
        if (splines[i])
            gsl_spline_free(splines[i]);
    *l = (load){0};
}

double load_smoothstep(double x)
{
    if (x <= 0)
        return 0;
    if (x >= 1)
        return 1;
    return x * x * x * (10 + x * (6 * x - 15));
}

static double table_value(const load_table *table, double t)
{
    return gsl_spline_eval(table->spline, fmin(fmax(t, table->first), table->last), NULL);
}

double load_hub_torque(const load *l, double t, double arm_rate)
{
    if (l->hub.spline)
        return table_value(&l->hub, t);
    const caber_hub_load *h = &l->given.hub;
    const double start = h->rise > 0 ? -expm1(-t / h->rise) : 1;
    return h->peak * start * (1 - arm_rate / h->omega_max);
}

/* S((t - from)/over); a step when `over` is 0. */
static double ramp(double t, double from, double over)
{
    if (over > 0)
        return load_smoothstep((t - from) / over);
    return t >= from;
}

double load_grip_couple(const load *l, double t)
{
    if (l->grip.spline)
        return table_value(&l->grip, t);
    const caber_grip_load *g = &l->given.grip;
    return g->peak * ramp(t, g->onset, g->rise) * (1 - ramp(t, g->release, g->fall)) +
           g->late * ramp(t, g->late_onset, g->late_rise);
}

double load_roll_torque(const load *l, double t)
{
    return l->roll.spline ? table_value(&l->roll, t) : 0;
}

load_motion load_table_motion(const load_table *table, double t)
{
    const double inside = fmin(fmax(t, table->first), table->last);
    load_motion m = table_cubic(table, inside - table->first);
    m.angle += gsl_spline_eval(table->spline, inside, NULL);
    m.rate += gsl_spline_eval_deriv(table->spline, inside, NULL);
    m.acceleration += gsl_spline_eval_deriv2(table->spline, inside, NULL);
    if (t != inside)
        m.acceleration = 0;
    m.angle += m.rate * (t - inside);
    return m;
}

/* With x = (stop - cock)/width: spring k w f(x), f = x^3 - x^4/2 below 1 and x - 1/2 beyond, twice
 * continuously differentiable; energy k w^2 F(x), F = x^4/4 - x^5/10 and x^2/2 - x/2 + 3/20. */
load_stop load_wrist_stop(const caber_stop *stop, double cock, double cock_rate)
{
    load_stop s = {0};
    const double x = (stop->cock - cock) / stop->width;
    if (stop->stiffness <= 0 || !(x > 0))
        return s;
    const double f = x < 1 ? x * x * x * (1 - x / 2) : x - 0.5;
    const double f1 = x < 1 ? x * x * (3 - 2 * x) : 1;
    const double energy = x < 1 ? x * x * x * x * (0.25 - x / 10) : x * (x - 1) / 2 + 0.15;
    s.spring = stop->stiffness * stop->width * f;
    s.stiffness = stop->stiffness * f1;
    s.energy = stop->stiffness * stop->width * stop->width * energy;
    s.damping = stop->damping * f1;
    s.damper = -s.damping * cock_rate;
    return s;
}

/* z = sqrt(pi)/2 closing (square - beta)/top; Gamma = top erf(z), Gamma' = -closing exp(-z^2),
 * Gamma'' = 2 z closing exp(-z^2) dz/dbeta, dz/dbeta = -sqrt(pi)/2 closing/top. */
load_gear load_roll_gear(const caber_roll_load *roll, double beta)
{
    const double rate = M_SQRTPI / 2 * roll->closing / roll->top;
    const double z = rate * (roll->square - beta), e = exp(-z * z);
    return (load_gear){.roll = roll->top * erf(z),
                       .slope = -roll->closing * e,
                       .curve = -2 * z * rate * roll->closing * e};
}
