/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/profile.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_spline.h>
#include <stdlib.h>

#include "base/message.h"
#include "base/order.h"

enum { EI, EI_2, ANGLE, GJ, MASS, DIAMETER, COLUMN_COUNT };

struct profile {
    gsl_spline *column[COLUMN_COUNT];
    double first, last;
    double density;
    size_t section_count;
    caber_section *sections;
    size_t place_count;
    double *places; /* owned; the jumps stand behind them in the same block */
    double *jumps;
};

static double station_value(const caber_station *s, int column)
{
    switch (column) {
    case EI:
        return s->ei;
    case EI_2:
        return s->ei_2 > 0 ? s->ei_2 : s->ei;
    case ANGLE:
        return s->ei_angle;
    case GJ:
        return s->gj;
    case MASS:
        return s->mass;
    default:
        return s->diameter;
    }
}

/* Steffen's spline needs three points; two stations are a straight line. */
static gsl_spline *column_create(const caber_shaft *shaft, int column)
{
    const size_t n = shaft->station_count;
    double *x = malloc(2 * n * sizeof *x);
    gsl_spline *spline =
        x ? gsl_spline_alloc(n >= 3 ? gsl_interp_steffen : gsl_interp_linear, n) : NULL;
    if (spline) {
        for (size_t i = 0; i < n; i++) {
            x[i] = shaft->stations[i].at;
            x[n + i] = station_value(&shaft->stations[i], column);
        }
        if (gsl_spline_init(spline, x, x + n, n) != GSL_SUCCESS) {
            gsl_spline_free(spline);
            spline = NULL;
        }
    }
    free(x);
    return spline;
}

static bool places_create(profile *p, const caber_shaft *shaft)
{
    const size_t jumps = 2 * p->section_count;
    p->places = malloc((shaft->station_count + 2 * jumps) * sizeof *p->places);
    if (!p->places)
        return false;
    size_t n = 0;
    for (size_t i = 0; i < shaft->station_count; i++)
        p->places[n++] = shaft->stations[i].at;
    for (size_t i = 0; i < p->section_count; i++) {
        p->places[n++] = p->sections[i].from;
        p->places[n++] = p->sections[i].to;
    }
    p->jumps = p->places + n;
    for (size_t i = 0; i < jumps; i++)
        p->jumps[i] = p->places[shaft->station_count + i];
    qsort(p->places, n, sizeof *p->places, order_doubles);
    p->place_count = n;
    return true;
}

caber_status profile_create(const caber_shaft *shaft, const caber_sections *sections, profile **out,
                            caber_message *message)
{
    *out = NULL;
    profile *p = calloc(1, sizeof *p);
    if (!p)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    p->density = shaft->density;
    p->first = shaft->stations[0].at;
    p->last = shaft->stations[shaft->station_count - 1].at;
    p->section_count = sections ? sections->count : 0;
    bool good = true;
    if (p->section_count) {
        p->sections = malloc(p->section_count * sizeof *p->sections);
        good = p->sections != NULL;
        for (size_t i = 0; good && i < p->section_count; i++)
            p->sections[i] = sections->items[i];
    }
    for (int c = 0; good && c < COLUMN_COUNT; c++)
        good = (p->column[c] = column_create(shaft, c)) != NULL;
    if (!good || !places_create(p, shaft)) {
        profile_free(p);
        return message_set(message, CABER_NO_MEMORY, "the profile of shaft '%s' could not be built",
                           shaft->name);
    }
    *out = p;
    return message_clear(message);
}

void profile_free(profile *p)
{
    if (!p)
        return;
    for (int c = 0; c < COLUMN_COUNT; c++)
        if (p->column[c])
            gsl_spline_free(p->column[c]);
    free(p->sections);
    free(p->places);
    free(p);
}

double profile_tube_polar(double mass, double radius, double density)
{
    return mass * (2 * radius * radius - mass / (M_PI * density)) / 2;
}

profile_point profile_at(const profile *p, double at)
{
    const double x = fmin(fmax(at, p->first), p->last);
    double value[COLUMN_COUNT];
    for (int c = 0; c < COLUMN_COUNT; c++)
        value[c] = gsl_spline_eval(p->column[c], x, NULL);
    profile_point q = {.ei = value[EI],
                       .ei_2 = value[EI_2],
                       .angle = value[ANGLE],
                       .gj = value[GJ],
                       .mass = value[MASS],
                       .radius = value[DIAMETER] / 2};
    double mass_scale = 1;
    for (size_t i = 0; i < p->section_count; i++) {
        const caber_section *s = &p->sections[i];
        if (at < s->from || at >= s->to)
            continue;
        q.ei *= s->ei_scale;
        q.ei_2 *= s->ei_scale;
        q.gj *= s->gj_scale;
        mass_scale *= s->mass_scale;
    }
    /* The radius of gyration stays that of the measured wall: a mass scale adds no diameter. */
    q.polar = mass_scale * profile_tube_polar(q.mass, q.radius, p->density);
    q.mass *= mass_scale;
    return q;
}

size_t profile_places(const profile *p, const double **places)
{
    *places = p->places;
    return p->place_count;
}

size_t profile_jumps(const profile *p, const double **jumps)
{
    *jumps = p->jumps;
    return 2 * p->section_count;
}
