/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/load.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_math.h>

#include "base/message.h"

static bool table_create(const caber_table *given, caber_drive drive, load_table *out)
{
    *out = (load_table){0};
    if (given->count == 0)
        return true;
    out->spline = gsl_spline_alloc(drive == CABER_MOTION ? gsl_interp_cspline : gsl_interp_steffen,
                                   given->count);
    if (!out->spline)
        return false;
    out->first = given->time[0];
    out->last = given->time[given->count - 1];
    return gsl_spline_init(out->spline, given->time, given->value, given->count) == GSL_SUCCESS;
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
    load_motion m = {.angle = gsl_spline_eval(table->spline, inside, NULL),
                     .rate = gsl_spline_eval_deriv(table->spline, inside, NULL)};
    if (t == inside)
        m.acceleration = gsl_spline_eval_deriv2(table->spline, inside, NULL);
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
    s.damper = -stop->damping * f1 * cock_rate;
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
