/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/reading.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <gsl/gsl_integration.h>

#include "base/message.h"
#include "shaft/modes.h"

static const double two_pi = 6.28318530717958647692;
/* m, longest element of a jig: EI changes by a few per cent over it, and cubic elements follow that
 * to 1e-6. */
static const double element = 0.02;

/* ------------------------------------------------------------------ weights */

static bool weights_reserve(reading_weights *w, size_t count)
{
    w->count = 0;
    if (w->capacity >= count)
        return true;
    reading_weight *grown = realloc(w->items, count * sizeof *grown);
    if (!grown)
        return false;
    w->items = grown;
    w->capacity = count;
    return true;
}

void reading_weights_free(reading_weights *w)
{
    free(w->items);
    *w = (reading_weights){0};
}

/* The weights of k_a . dB k_u + dGJ phi_a' phi_u', times `sign`, and of -omega^2 dm (v^2 + w^2) when
 * `squared` is above 0. Sampled at the elements' Gauss points. */
static bool weigh(const beam *b, const double *a, const double *u, double sign, double squared,
                  reading_weights *w)
{
    if (!weights_reserve(w, b->point_count))
        return false;
    gsl_integration_glfixed_table *rule = gsl_integration_glfixed_table_alloc(BEAM_GAUSS);
    if (!rule)
        return false;
    for (size_t e = 0; e + 1 < b->node_count; e++)
        for (size_t g = 0; g < BEAM_GAUSS; g++) {
            double s, dx;
            gsl_integration_glfixed_point(b->node[e], b->node[e + 1], g, &s, &dx, rule);
            const beam_state x = beam_state_at(b, a, s), y = beam_state_at(b, u, s);
            const double c = sign * dx;
            w->items[w->count++] = (reading_weight){
                .at = b->held_at - s,
                .bend = {c * x.v_curvature * y.v_curvature, c * x.w_curvature * y.w_curvature,
                         c * (x.v_curvature * y.w_curvature + x.w_curvature * y.v_curvature)},
                .twist = c * x.twist_rate * y.twist_rate,
                .mass = -c * squared * (x.v * y.v + x.w * y.w)};
        }
    gsl_integration_glfixed_table_free(rule);
    return true;
}

/* ------------------------------------------------------------------ static readings */

/* f += a unit load at s, and what the second support of a span carries of it. */
static void add_unit(const beam *b, const caber_reading *r, double s, double *f)
{
    const double o = isnan(r->orientation) ? 0 : r->orientation;
    const double c = cos(o), n = sin(o);
    if (r->kind == CABER_READ_TWIST) {
        beam_add_twist(b, s, 1, f);
        return;
    }
    beam_add_force(b, s, c, n, f);
    if (r->kind == CABER_READ_SPAN)
        beam_add_end_load(b, -c * s / b->length, -n * s / b->length, vec3_make(0, 0, 0), f);
}

static double dot(const double *a, const double *b, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

static caber_status predict_static(const profile *p, const caber_reading *r, double *out,
                                   reading_weights *weights, caber_message *message)
{
    const double end = r->kind == CABER_READ_SPAN ? r->rest_at : fmin(r->load_at, r->read_at);
    const beam_shape shape = {.profile = p,
                              .held_at = r->held_at,
                              .end_at = end,
                              .element = element,
                              .load_at = r->load_at};
    beam *b = NULL;
    caber_status status = beam_create(&shape, &b, message);
    if (status != CABER_OK)
        return status;
    const size_t n = b->dof_count;
    double *u = calloc(3 * n, sizeof *u);
    bool good = u != NULL;
    if (good) {
        double *a = u + n, *g = a + n;
        add_unit(b, r, r->held_at - r->load_at, u);
        add_unit(b, r, r->held_at - r->read_at, g);
        for (size_t i = 0; i < n; i++)
            a[i] = g[i];
        beam_solve(b, u);
        beam_solve(b, a);
        *out = r->load * dot(g, u, n);
        good = !weights || weigh(b, a, u, -r->load, 0, weights);
    }
    free(u);
    beam_free(b);
    return good ? CABER_OK : message_set(message, CABER_NO_MEMORY, "out of memory for a reading");
}

/* ------------------------------------------------------------------ frequency */

/* The bending mode whose tip moves most in the direction of the orientation, of the lowest two. */
static const double *lowest(const beam *b, const modes *m, double orientation, double *omega)
{
    const double o = isnan(orientation) ? 0 : orientation;
    size_t best = 0;
    double most = -1;
    for (size_t j = 0; j < m->count && j < 2; j++) {
        const beam_state s = beam_state_at(b, m->shape + j * m->dof_count, b->length);
        const double share = fabs(s.v * cos(o) + s.w * sin(o)) / hypot(s.v, s.w);
        if (share > most) {
            most = share;
            best = j;
        }
    }
    *omega = m->omega[best];
    return m->shape + best * m->dof_count;
}

static caber_status predict_frequency(const profile *p, const caber_reading *r, double *out,
                                      reading_weights *weights, caber_message *message)
{
    const beam_shape shape = {.profile = p, .held_at = r->held_at, .end_at = 0, .element = element};
    const beam_body body = {.mass = r->load};
    beam *b = NULL;
    modes *m = NULL;
    caber_status status = beam_create(&shape, &b, message);
    if (status == CABER_OK) {
        beam_add_body(b, &body);
        status = modes_create(b, 2, &m, message);
    }
    if (status == CABER_OK) {
        double omega;
        const double *x = lowest(b, m, r->orientation, &omega);
        *out = omega / two_pi;
        /* d(omega) = d(omega^2)/(2 omega). */
        if (weights && !weigh(b, x, x, 1 / (2 * omega * two_pi), omega * omega, weights))
            status = message_set(message, CABER_NO_MEMORY, "out of memory for a reading");
    }
    modes_free(m);
    beam_free(b);
    return status;
}

/* ------------------------------------------------------------------ mass and balance */

/* Both are integrals of the profile; places are its own, so that no jump is stepped over. */
static caber_status predict_mass(const profile *p, double length, const caber_reading *r,
                                 double *out, reading_weights *weights, caber_message *message)
{
    const double *place;
    const size_t n = profile_places(p, &place);
    gsl_integration_glfixed_table *rule = gsl_integration_glfixed_table_alloc(BEAM_GAUSS);
    if (!rule || (weights && !weights_reserve(weights, n * BEAM_GAUSS))) {
        if (rule)
            gsl_integration_glfixed_table_free(rule);
        return message_set(message, CABER_NO_MEMORY, "out of memory for a reading");
    }
    double mass = 0, moment = 0;
    for (size_t i = 0; i + 1 < n; i++)
        for (size_t g = 0; g < BEAM_GAUSS && place[i] < length; g++) {
            double x, dx;
            gsl_integration_glfixed_point(place[i], fmin(place[i + 1], length), g, &x, &dx, rule);
            const double dm = profile_at(p, x).mass * dx;
            mass += dm;
            moment += x * dm;
            if (weights)
                weights->items[weights->count++] = (reading_weight){.at = x, .mass = dx};
        }
    gsl_integration_glfixed_table_free(rule);
    *out = r->kind == CABER_READ_MASS ? mass : moment / mass;
    if (weights && r->kind == CABER_READ_BALANCE)
        for (size_t i = 0; i < weights->count; i++)
            weights->items[i].mass *= (weights->items[i].at - *out) / mass;
    return CABER_OK;
}

/* ------------------------------------------------------------------ all kinds */

caber_status reading_predict(const profile *p, double length, const caber_reading *r, double *out,
                             reading_weights *weights, caber_message *message)
{
    switch (r->kind) {
    case CABER_READ_SPAN:
    case CABER_READ_CANTILEVER:
    case CABER_READ_TWIST:
        return predict_static(p, r, out, weights, message);
    case CABER_READ_FREQUENCY:
        return predict_frequency(p, r, out, weights, message);
    default:
        return predict_mass(p, length, r, out, weights, message);
    }
}

void reading_title(const caber_readings *all, size_t index, char *text, size_t size)
{
    const caber_reading *r = &all->items[index];
    if (r->line > 0)
        snprintf(text, size, "%s, line %d", r->source, r->line);
    else
        snprintf(text, size, "reading %zu", index + 1);
}

/* One rule of a place: what it is called, where it is, and between what it must lie. */
typedef struct place_rule {
    const char *name;
    double at, low, high;
} place_rule;

static caber_status check_places(const char *title, const place_rule *rule, size_t count,
                                 caber_message *message)
{
    for (size_t i = 0; i < count; i++)
        if (!(rule[i].at >= rule[i].low && rule[i].at <= rule[i].high))
            return message_set(
                message, CABER_BAD_INPUT,
                "%s: the %s at %.6g mm from the tip is not possible; it must lie from "
                "%.6g to %.6g mm",
                title, rule[i].name, 1e3 * rule[i].at, 1e3 * rule[i].low, 1e3 * rule[i].high);
    return CABER_OK;
}

caber_status reading_check(const caber_readings *all, const caber_reading *r,
                           caber_message *message)
{
    /* m: less than this between clamp and load is no beam. */
    const double least = 0.02;
    char title[2 * CABER_NAME_SIZE];
    reading_title(all, (size_t)(r - all->items), title, sizeof title);
    if (!((int)r->kind >= 0 && r->kind < CABER_READ_KINDS))
        return message_set(message, CABER_BAD_INPUT, "%s: there is no such kind of reading", title);
    if (!(r->value > 0 && isfinite(r->value)))
        return message_set(message, CABER_BAD_INPUT,
                           "%s: a reading of %g is not possible; it must be above 0", title,
                           r->value);
    if (!(r->sigma > 0 && isfinite(r->sigma)))
        return message_set(
            message, CABER_BAD_INPUT,
            "%s: the reading's error must be above 0; give its jig a resolution or a "
            "repeatability",
            title);
    if (r->kind == CABER_READ_MASS)
        return CABER_OK;
    if (r->kind == CABER_READ_BALANCE) {
        const place_rule rule = {"balance point", r->value, 0, all->length};
        return check_places(title, &rule, 1, message);
    }
    if (!(r->load >= (r->kind == CABER_READ_FREQUENCY ? 0 : 1e-6) && r->load <= 5000))
        return message_set(message, CABER_BAD_INPUT,
                           "%s: a load of %g is not allowed; it must be %s 0 and at most 5000",
                           title, r->load, r->kind == CABER_READ_FREQUENCY ? "at least" : "above");
    const double inner = r->kind == CABER_READ_SPAN ? r->rest_at : 0;
    const place_rule rule[] = {{r->kind == CABER_READ_SPAN ? "support nearer the butt" : "clamp",
                                r->held_at, inner + least, all->length},
                               {"support nearer the tip", inner, 0, all->length},
                               {"load", r->load_at, inner + (r->kind == CABER_READ_SPAN ? 1e-6 : 0),
                                r->held_at - (r->kind == CABER_READ_SPAN ? 1e-6 : least)},
                               {"place of reading",
                                r->kind == CABER_READ_FREQUENCY ? r->load_at : r->read_at, inner,
                                r->held_at - 1e-6}};
    return check_places(title, rule, sizeof rule / sizeof rule[0], message);
}
