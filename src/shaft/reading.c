/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/reading.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/message.h"

static const double two_pi = 6.28318530717958647692;
/* m, longest element of a frequency jig: the lowest mode is good to 1e-6 with it. */
static const double element = 0.04;

/* Three-point Gauss rule on (0, 1): between stations a moment squared over EI is smooth, and for a
 * uniform shaft exact. */
enum { GAUSS = 3 };
static const double gauss_x[GAUSS] = {0.11270166537925831148, 0.5, 0.88729833462074168852};
static const double gauss_w[GAUSS] = {5.0 / 18, 8.0 / 18, 5.0 / 18};

/* ------------------------------------------------------------------ weights */

/* A new last one, all 0; NULL when there is no memory. */
static reading_weight *weights_add(reading_weights *w)
{
    if (w->count == w->capacity) {
        const size_t more = w->capacity ? 2 * w->capacity : 64;
        reading_weight *grown = realloc(w->items, more * sizeof *grown);
        if (!grown)
            return NULL;
        w->items = grown;
        w->capacity = more;
    }
    w->items[w->count] = (reading_weight){0};
    return &w->items[w->count++];
}

void reading_weights_free(reading_weights *w)
{
    free(w->items);
    *w = (reading_weights){0};
}

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory for a reading");
}

/* ------------------------------------------------------------------ pieces of the shaft */

/* Walks from one place to another by pieces that no station, jump or given place lies within. */
typedef struct walk {
    const double *place;
    size_t count, next;
    double stop[2];  /* two more places to stop at */
    double from, to; /* the piece */
    double end;      /* of the walk */
} walk;

static walk walk_start(const profile *p, double from, double end, double stop_a, double stop_b)
{
    walk w = {.stop = {stop_a, stop_b}, .to = from, .end = end};
    w.count = profile_places(p, &w.place);
    return w;
}

static bool walk_on(walk *w)
{
    w->from = w->to;
    if (!(w->from < w->end))
        return false;
    while (w->next < w->count && w->place[w->next] <= w->from)
        w->next++;
    w->to = w->next < w->count ? fmin(w->place[w->next], w->end) : w->end;
    for (int k = 0; k < 2; k++)
        if (w->stop[k] > w->from)
            w->to = fmin(w->to, w->stop[k]);
    return true;
}

/* ------------------------------------------------------------------ static readings */

/* Moment at `at` of a unit load at `load`, N m/N; of a unit couple, 1. */
static double moment(const caber_reading *r, double load, double at)
{
    if (r->kind == CABER_READ_TWIST)
        return at >= load ? 1 : 0;
    if (r->kind == CABER_READ_CANTILEVER)
        return fmax(at - load, 0);
    const double length = r->held_at - r->rest_at, a = load - r->rest_at, x = at - r->rest_at;
    return x < a ? x * (length - a) / length : a * (length - x) / length;
}

/* The compliances of a section in the reading's direction, and what they give to the weights. */
typedef struct direction {
    bool noted;
    double cosine, sine;
} direction;

static direction direction_of(const caber_reading *r)
{
    const bool noted = !isnan(r->orientation);
    return (direction){noted, noted ? cos(r->orientation) : 0, noted ? sin(r->orientation) : 0};
}

/* c' B^-1 c, or its mean over all directions; in bend[] k k' times EI, which weights a change of B. */
static double compliance(const profile_point *q, const direction *d, double bend[3])
{
    const double ca = cos(q->angle), sa = sin(q->angle), ei = sqrt(q->ei * q->ei_2);
    const double a = 1 / q->ei, b = 1 / q->ei_2;
    /* B^-1: vv, ww, vw. */
    const double inverse[3] = {a * ca * ca + b * sa * sa, a * sa * sa + b * ca * ca,
                               (a - b) * ca * sa};
    if (!d->noted) { /* the mean of k k' is B^-2 / 2 */
        bend[0] = ei * (inverse[0] * inverse[0] + inverse[2] * inverse[2]) / 2;
        bend[1] = ei * (inverse[1] * inverse[1] + inverse[2] * inverse[2]) / 2;
        bend[2] = ei * inverse[2] * (inverse[0] + inverse[1]);
        return (a + b) / 2;
    }
    const double v = inverse[0] * d->cosine + inverse[2] * d->sine;
    const double w = inverse[2] * d->cosine + inverse[1] * d->sine;
    bend[0] = ei * v * v;
    bend[1] = ei * w * w;
    bend[2] = 2 * ei * v * w;
    return v * d->cosine + w * d->sine;
}

/* One place's share of a reading; its weight in *weight unless that is NULL. */
static double share(const profile_point *q, const caber_reading *r, const direction *d,
                    double scale, reading_weight *weight)
{
    if (r->kind == CABER_READ_TWIST) {
        if (weight)
            weight->twist = -scale / q->gj;
        return scale / q->gj;
    }
    double bend[3];
    const double value = scale * compliance(q, d, bend);
    for (int k = 0; weight && k < 3; k++)
        weight->bend[k] = -scale * bend[k];
    return value;
}

static caber_status predict_static(const profile *p, const caber_reading *r, double *out,
                                   reading_weights *weights, caber_message *message)
{
    const bool span = r->kind == CABER_READ_SPAN;
    const direction d = direction_of(r);
    /* Between the clamp and the nearer of load and reading nothing else bends or twists. */
    walk w = walk_start(p, span ? r->rest_at : fmax(r->load_at, r->read_at), r->held_at, r->load_at,
                        r->read_at);
    *out = 0;
    while (walk_on(&w))
        for (int g = 0; g < GAUSS; g++) {
            const double at = w.from + gauss_x[g] * (w.to - w.from);
            const double scale = r->load * gauss_w[g] * (w.to - w.from) *
                                 moment(r, r->load_at, at) * moment(r, r->read_at, at);
            const profile_point q = profile_at(p, at);
            reading_weight *weight = weights ? weights_add(weights) : NULL;
            if (weights && !weight)
                return no_memory(message);
            if (weight)
                weight->at = at;
            *out += share(&q, r, &d, scale, weight);
        }
    return CABER_OK;
}

/* ------------------------------------------------------------------ frequency */

/* shape = the lowest two modes, together moving the tip along (c, s) only; returns its omega^2. */
static double pull(const beam *b, const modes *m, double c, double s, double *shape)
{
    double squared = 0, sum = 0;
    for (size_t i = 0; i < m->dof_count; i++)
        shape[i] = 0;
    for (size_t j = 0; j < m->count; j++) {
        const double *x = m->shape + j * m->dof_count;
        const beam_state tip = beam_state_at(b, x, b->length);
        const double part = (tip.v * c + tip.w * s) / hypot(tip.v, tip.w);
        squared += part * part * m->omega[j] * m->omega[j];
        sum += part * part;
        for (size_t i = 0; i < m->dof_count; i++)
            shape[i] += part * x[i];
    }
    const double scale = 1 / sqrt(sum);
    for (size_t i = 0; i < m->dof_count; i++)
        shape[i] *= scale;
    return squared / sum;
}

/* The weights of d(omega^2) of a shape, times `scale`, added to those of the elements' Gauss points. */
static void weigh(const beam *b, const double *x, double squared, double scale,
                  reading_weight *items)
{
    for (size_t i = 0; i < b->point_count; i++) {
        const beam_point *point = &b->point[i];
        const profile_point q = beam_section(b, point->s);
        const beam_state y = beam_state_at(b, x, point->s);
        /* The points' masses hold the rule's weights: mass = m dx. */
        const double bend = scale * point->mass / q.mass * sqrt(q.ei * q.ei_2);
        items[i].bend[0] += bend * y.v_curvature * y.v_curvature;
        items[i].bend[1] += bend * y.w_curvature * y.w_curvature;
        items[i].bend[2] += 2 * bend * y.v_curvature * y.w_curvature;
        items[i].mass -= scale * squared * point->mass * (y.v * y.v + y.w * y.w);
    }
}

/* The frequency in one direction, or the root of the mean square of two across each other, which
 * is that over all. */
static caber_status read_frequency(const beam *b, const modes *m, const caber_reading *r,
                                   double *out, reading_weights *weights, caber_message *message)
{
    const int count = isnan(r->orientation) ? 2 : 1;
    const direction d = direction_of(r);
    double *shape = malloc((size_t)count * m->dof_count * sizeof *shape), squared[2], mean = 0;
    for (size_t i = 0; shape && weights && i < b->point_count; i++) {
        reading_weight *weight = weights_add(weights);
        if (!weight) {
            free(shape);
            return no_memory(message);
        }
        weight->at = b->held_at - b->point[i].s;
    }
    if (!shape)
        return no_memory(message);
    for (int k = 0; k < count; k++) {
        squared[k] = pull(b, m, d.noted ? d.cosine : k == 0, d.noted ? d.sine : k == 1,
                          shape + (size_t)k * m->dof_count);
        mean += squared[k] / count;
    }
    *out = sqrt(mean) / two_pi;
    /* d(frequency) = d(omega^2)/(2 omega 2 pi). */
    for (int k = 0; weights && k < count; k++)
        weigh(b, shape + (size_t)k * m->dof_count, squared[k],
              1 / (2 * two_pi * two_pi * *out * count), weights->items);
    free(shape);
    return CABER_OK;
}

void reading_modes_free(reading_modes *k)
{
    modes_free(k->modes);
    beam_free(k->beam);
    *k = (reading_modes){0};
}

/* Fills what is kept with the modes of the reading's jig, unless it is those. */
static caber_status modes_keep(const profile *p, const caber_reading *r, reading_modes *kept,
                               caber_message *message)
{
    if (kept->modes && kept->profile == p && kept->held_at == r->held_at && kept->mass == r->load)
        return CABER_OK;
    reading_modes_free(kept);
    const beam_shape shape = {.profile = p, .held_at = r->held_at, .element = element};
    const beam_body body = {.mass = r->load};
    caber_status status = beam_create(&shape, &kept->beam, message);
    if (status == CABER_OK) {
        beam_add_body(kept->beam, &body);
        status = modes_create(kept->beam, 2, &kept->modes, message);
    }
    if (status != CABER_OK) {
        reading_modes_free(kept);
        return status;
    }
    kept->profile = p;
    kept->held_at = r->held_at;
    kept->mass = r->load;
    return CABER_OK;
}

/* ------------------------------------------------------------------ mass and balance */

static caber_status predict_mass(const profile *p, double length, const caber_reading *r,
                                 double *out, reading_weights *weights, caber_message *message)
{
    double mass = 0, first = 0;
    walk w = walk_start(p, 0, length, 0, 0);
    while (walk_on(&w))
        for (int g = 0; g < GAUSS; g++) {
            const double at = w.from + gauss_x[g] * (w.to - w.from);
            const double dm = gauss_w[g] * (w.to - w.from) * profile_at(p, at).mass;
            reading_weight *weight = weights ? weights_add(weights) : NULL;
            if (weights && !weight)
                return no_memory(message);
            if (weight)
                *weight = (reading_weight){.at = at, .mass = dm};
            mass += dm;
            first += at * dm;
        }
    *out = r->kind == CABER_READ_MASS ? mass : first / mass;
    for (size_t i = 0; weights && r->kind == CABER_READ_BALANCE && i < weights->count; i++)
        weights->items[i].mass *= (weights->items[i].at - *out) / mass;
    return CABER_OK;
}

/* ------------------------------------------------------------------ all kinds */

caber_status reading_predict_kept(const profile *p, double length, const caber_reading *r,
                                  double *out, reading_weights *weights, reading_modes *kept,
                                  caber_message *message)
{
    if (weights)
        weights->count = 0;
    switch (r->kind) {
    case CABER_READ_SPAN:
    case CABER_READ_CANTILEVER:
    case CABER_READ_TWIST:
        return predict_static(p, r, out, weights, message);
    case CABER_READ_FREQUENCY: {
        const caber_status status = modes_keep(p, r, kept, message);
        return status == CABER_OK
                   ? read_frequency(kept->beam, kept->modes, r, out, weights, message)
                   : status;
    }
    default:
        return predict_mass(p, length, r, out, weights, message);
    }
}

caber_status reading_predict(const profile *p, double length, const caber_reading *r, double *out,
                             reading_weights *weights, caber_message *message)
{
    reading_modes kept = {0};
    const caber_status status = reading_predict_kept(p, length, r, out, weights, &kept, message);
    reading_modes_free(&kept);
    return status;
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
    if (isinf(r->orientation))
        return message_set(message, CABER_BAD_INPUT, "%s: an orientation must be a number", title);
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
