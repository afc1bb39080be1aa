/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/reading.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"

static const double two_pi = 6.28318530717958647692;
/* m, longest element: the lowest mode is good to 1e-6 with it, deflections to 3e-5, see reading.h. */
static const double element = 0.04;

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

/* One of 0 for each of the beam's Gauss points; false when there is no memory. */
static bool weights_start(const beam *b, reading_weights *weights)
{
    for (size_t i = 0; i < b->point_count; i++) {
        reading_weight *weight = weights_add(weights);
        if (!weight)
            return false;
        weight->at = b->held_at - b->point[i].s;
    }
    return true;
}

/* Adds scale times the change of x' K y to the weights of the Gauss points, and, with `squared` omega^2,
 * takes off that of omega^2 x' M y. */
static void weigh(const beam *b, const double *x, const double *y, double squared, double scale,
                  reading_weight *items)
{
    for (size_t i = 0; i < b->point_count; i++) {
        const beam_point *point = &b->point[i];
        const beam_state p = beam_state_at(b, x, point->s);
        const beam_state q = x == y ? p : beam_state_at(b, y, point->s);
        const double bend = scale * point->over * point->ei;
        items[i].bend[0] += bend * p.v_curvature * q.v_curvature;
        items[i].bend[1] += bend * p.w_curvature * q.w_curvature;
        items[i].bend[2] += bend * (p.v_curvature * q.w_curvature + p.w_curvature * q.v_curvature);
        items[i].twist += scale * point->over * point->gj * p.twist_rate * q.twist_rate;
        if (squared > 0)
            items[i].mass -= scale * squared * point->mass * (p.v * q.v + p.w * q.w);
    }
}

/* ------------------------------------------------------------------ static readings */

/* f = the nodal forces of a unit load or couple at `at` in the direction (c, s), with what the other
 * support of a span answers: held at the one, the shaft is turned about it onto the other. They are
 * also what takes displacements to what is read at `at`. */
static void unit_load(const beam *b, const caber_reading *r, double at, double c, double s,
                      double *f)
{
    const double place = b->held_at - at;
    memset(f, 0, b->dof_count * sizeof *f);
    if (r->kind == CABER_READ_TWIST) {
        beam_add_couple(b, place, 1, f);
        return;
    }
    beam_add_force(b, place, c, s, f);
    if (r->kind == CABER_READ_SPAN) {
        const double rest = b->held_at - r->rest_at, part = place / rest;
        beam_add_force(b, rest, -part * c, -part * s, f);
    }
}

/* Of a unit load in one direction; x and y are scratch, as long as the beam has freedoms. */
static double read_static_along(const beam *b, const caber_reading *r, double c, double s,
                                double scale, double *x, double *y, reading_weight *items)
{
    const bool apart = r->read_at != r->load_at;
    double out = 0;
    unit_load(b, r, r->load_at, c, s, x);
    unit_load(b, r, r->read_at, c, s, y);
    beam_solve(b, x);
    for (size_t i = 0; i < b->dof_count; i++)
        out += y[i] * x[i];
    if (items) {
        if (apart)
            beam_solve(b, y);
        weigh(b, x, apart ? y : x, 0, -scale, items);
    }
    return scale * out;
}

static caber_status read_static(const beam *b, const caber_reading *r, double *out,
                                reading_weights *weights, caber_message *message)
{
    const bool anywhere = isnan(r->orientation) && r->kind != CABER_READ_TWIST;
    const double angle = isnan(r->orientation) ? 0 : r->orientation, c = cos(angle), s = sin(angle);
    double *x = malloc(2 * b->dof_count * sizeof *x);
    if (!x || (weights && !weights_start(b, weights))) {
        free(x);
        return no_memory(message);
    }
    reading_weight *items = weights ? weights->items : NULL;
    /* The mean over all directions is that over two across each other. */
    const double scale = anywhere ? r->load / 2 : r->load;
    *out = read_static_along(b, r, c, s, scale, x, x + b->dof_count, items);
    if (anywhere)
        *out += read_static_along(b, r, -s, c, scale, x, x + b->dof_count, items);
    free(x);
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

/* The frequency in one direction, or the root of the mean square of two across each other, which
 * is that over all. */
static caber_status read_frequency(const beam *b, const modes *m, const caber_reading *r,
                                   double *out, reading_weights *weights, caber_message *message)
{
    const int count = isnan(r->orientation) ? 2 : 1;
    const double angle = count == 2 ? 0 : r->orientation, c = cos(angle), s = sin(angle);
    double *shape = malloc((size_t)count * m->dof_count * sizeof *shape), squared[2], mean = 0;
    if (!shape || (weights && !weights_start(b, weights))) {
        free(shape);
        return no_memory(message);
    }
    for (int k = 0; k < count; k++) {
        squared[k] = pull(b, m, k ? -s : c, k ? c : s, shape + (size_t)k * m->dof_count);
        mean += squared[k] / count;
    }
    *out = sqrt(mean) / two_pi;
    /* d(frequency) = d(omega^2)/(2 omega 2 pi). */
    for (int k = 0; weights && k < count; k++) {
        const double *x = shape + (size_t)k * m->dof_count;
        weigh(b, x, x, squared[k], 1 / (2 * two_pi * two_pi * *out * count), weights->items);
        for (size_t i = 0; i < weights->count; i++)
            weights->items[i].twist = 0;
    }
    free(shape);
    return CABER_OK;
}

/* ------------------------------------------------------------------ mass and balance */

static caber_status read_mass(const beam *b, const caber_reading *r, double *out,
                              reading_weights *weights, caber_message *message)
{
    double mass = 0, first = 0;
    for (size_t i = 0; i < b->point_count; i++) {
        mass += b->point[i].mass;
        first += b->point[i].mass * (b->held_at - b->point[i].s);
    }
    const double balance = first / mass;
    *out = r->kind == CABER_READ_MASS ? mass : balance;
    if (!weights)
        return CABER_OK;
    if (!weights_start(b, weights))
        return no_memory(message);
    for (size_t i = 0; i < weights->count; i++) {
        reading_weight *w = &weights->items[i];
        w->mass = b->point[i].mass;
        if (r->kind == CABER_READ_BALANCE)
            w->mass *= (w->at - balance) / mass;
    }
    return CABER_OK;
}

/* ------------------------------------------------------------------ the shaft in its clamp */

void reading_jig_free(reading_jig *jig)
{
    modes_free(jig->modes);
    beam_free(jig->beam);
    *jig = (reading_jig){.all = jig->all};
}

/* What holds the shaft: a clamp, a support; its butt when it is weighed. */
static double held_at(const caber_reading *r, double length)
{
    return r->kind == CABER_READ_MASS || r->kind == CABER_READ_BALANCE ? length : r->held_at;
}

/* The places that a reading needs nodes at; the last is where the shaft may end. */
static size_t reading_places(const caber_reading *r, double place[3])
{
    switch (r->kind) {
    case CABER_READ_SPAN:
        place[0] = r->load_at;
        place[1] = r->read_at;
        place[2] = r->rest_at;
        return 3;
    case CABER_READ_CANTILEVER:
    case CABER_READ_TWIST:
        place[0] = fmax(r->load_at, r->read_at);
        place[1] = fmin(r->load_at, r->read_at);
        return 2;
    default:
        place[0] = 0;
        return 1;
    }
}

/* The beam for all readings that hold the shaft at one place: as far as the furthest reaches. */
static caber_status beam_for(const profile *p, double length, const caber_readings *all,
                             double held, beam **out, caber_message *message)
{
    double *place = malloc((3 * all->count + 1) * sizeof *place);
    size_t count = 0;
    beam_shape shape = {
        .profile = p, .held_at = held, .end_at = held, .element = element, .still = true};
    for (size_t i = 0; place && i < all->count; i++) {
        if (held_at(&all->items[i], length) != held)
            continue;
        count += reading_places(&all->items[i], place + count);
        shape.end_at = fmin(shape.end_at, place[count - 1]);
        shape.still = shape.still && all->items[i].kind != CABER_READ_FREQUENCY;
    }
    shape.loaded = place;
    shape.loaded_count = count;
    const caber_status status = place ? beam_create(&shape, out, message) : no_memory(message);
    free(place);
    return status;
}

/* Leaves the reading's beam, and the modes of a frequency jig, unless they are there. */
static caber_status jig_set(const profile *p, double length, const caber_reading *r,
                            reading_jig *jig, caber_message *message)
{
    caber_reading copy = *r;
    const caber_readings alone = {.count = 1, .items = &copy};
    const double held = held_at(r, length);
    const bool swings = r->kind == CABER_READ_FREQUENCY;
    caber_status status = CABER_OK;
    if (!(jig->beam && jig->profile == p && jig->held_at == held) ||
        (swings && jig->modes && jig->mass != r->load)) {
        reading_jig_free(jig);
        status = beam_for(p, length, jig->all ? jig->all : &alone, held, &jig->beam, message);
        jig->profile = p;
        jig->held_at = held;
    }
    if (status == CABER_OK && swings && !jig->modes) {
        const beam_body body = {.mass = r->load};
        beam_add_body(jig->beam, &body);
        jig->mass = r->load;
        status = modes_create(jig->beam, 2, &jig->modes, message);
    }
    if (status != CABER_OK)
        reading_jig_free(jig);
    return status;
}

/* ------------------------------------------------------------------ all kinds */

caber_status reading_predict_on(reading_jig *jig, const profile *p, double length,
                                const caber_reading *r, double *out, reading_weights *weights,
                                caber_message *message)
{
    if (weights)
        weights->count = 0;
    const caber_status status = jig_set(p, length, r, jig, message);
    if (status != CABER_OK)
        return status;
    switch (r->kind) {
    case CABER_READ_SPAN:
    case CABER_READ_CANTILEVER:
    case CABER_READ_TWIST:
        return read_static(jig->beam, r, out, weights, message);
    case CABER_READ_FREQUENCY:
        return read_frequency(jig->beam, jig->modes, r, out, weights, message);
    default:
        return read_mass(jig->beam, r, out, weights, message);
    }
}

caber_status reading_predict(const profile *p, double length, const caber_reading *r, double *out,
                             reading_weights *weights, caber_message *message)
{
    reading_jig jig = {0};
    const caber_status status = reading_predict_on(&jig, p, length, r, out, weights, message);
    reading_jig_free(&jig);
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
    const place_rule rule[] = {{"support nearer the tip", inner, 0, all->length},
                               {r->kind == CABER_READ_SPAN ? "support nearer the butt" : "clamp",
                                r->held_at, inner + least, all->length},
                               {"load", r->load_at, inner + (r->kind == CABER_READ_SPAN ? 1e-6 : 0),
                                r->held_at - (r->kind == CABER_READ_SPAN ? 1e-6 : least)},
                               {"place of reading",
                                r->kind == CABER_READ_FREQUENCY ? r->load_at : r->read_at, inner,
                                r->held_at - 1e-6}};
    return check_places(title, rule, sizeof rule / sizeof rule[0], message);
}
