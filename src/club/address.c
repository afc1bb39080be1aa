/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "club/address.h"

#include <stdlib.h>

#include "base/message.h"

/* Cells along the shaft, each with its load and curvature in the middle, which is good to some 1e-6; its
 * weight is a mean over parts of it, since the grip's may end inside. */
enum { CELLS = 400, PARTS = 8, TRIES = 3000 };
/* What the curvatures may still change, 1/m: 1e-12 of the tip's deflection or so. */
static const double settled = 1e-13;

/* One cell. */
typedef struct cell {
    double b22, b23, b33, gj; /* N m2: bending along e2 and e3, as v'' and w'' */
    double weight;            /* N */
    vec3 curvature;           /* 1/m: twist, -w'', v'' */
    vec3 place;               /* m, of its middle */
    mat3 turn;                /* there */
} cell;

typedef struct hanging {
    cell *cell;
    double length; /* m, of a cell */
    vec3 down;     /* unit vector, handle frame */
    vec3 end;      /* m, place of the tip */
    mat3 end_turn;
} hanging;

static void fill_cells(const club *c, hanging *h)
{
    const beam view = {.held_at = c->hold_at, .profile = c->profile, .added = c->grip};
    for (int i = 0; i < CELLS; i++) {
        const profile_point p = beam_section(&view, (i + 0.5) * h->length);
        const double n = cos(p.angle), s = sin(p.angle);
        double mass = 0;
        for (int j = 0; j < PARTS; j++)
            mass += beam_section(&view, (i + (j + 0.5) / PARTS) * h->length).mass / PARTS;
        h->cell[i] = (cell){.b22 = p.ei * n * n + p.ei_2 * s * s,
                            .b23 = (p.ei - p.ei_2) * s * n,
                            .b33 = p.ei * s * s + p.ei_2 * n * n,
                            .gj = p.gj,
                            .weight = CABER_GRAVITY * mass * h->length};
    }
}

/* Places and rotations from the curvatures. */
static void lay_out(hanging *h)
{
    const double l = h->length;
    h->end = vec3_make(0, 0, 0);
    h->end_turn = mat3_identity();
    for (int i = 0; i < CELLS; i++) {
        cell *c = &h->cell[i];
        const mat3 quarter = mat3_rotation(vec3_scale(l / 4, c->curvature));
        const mat3 half = mat3_rotation(vec3_scale(l / 2, c->curvature));
        const mat3 early = mat3_multiply(&h->end_turn, &quarter);
        c->turn = mat3_multiply(&h->end_turn, &half);
        c->place = vec3_axpy(l / 2, mat3_column(&early, 0), h->end);
        h->end = vec3_axpy(l, mat3_column(&c->turn, 0), h->end);
        h->end_turn = mat3_multiply(&c->turn, &half);
    }
}

/* What a cell's stiffness makes of a moment in its own axes. */
static vec3 bend_under(const cell *c, vec3 m)
{
    /* (v'', w'') of the moments (m3, -m2) that do work on them. */
    const double determinant = c->b22 * c->b33 - c->b23 * c->b23;
    const double v = (c->b33 * m.z + c->b23 * m.y) / determinant;
    const double w = (-c->b22 * m.y - c->b23 * m.z) / determinant;
    return vec3_make(m.x / c->gj, -w, v);
}

/* Moves every curvature by `part` of the way to what the moments ask for; returns the largest way. */
static double follow_moments(const club *c, hanging *h, double part)
{
    const beam_body *tip = &c->tip;
    /* Weight beyond, and its first moment about the hands. */
    double weight = CABER_GRAVITY * tip->mass;
    vec3 moment = vec3_scale(weight, vec3_add(h->end, mat3_apply(&h->end_turn, tip->centre)));
    double most = 0;
    for (int i = CELLS - 1; i >= 0; i--) {
        cell *k = &h->cell[i];
        /* Of its own weight the outer half is beyond, a quarter of a cell on. */
        const vec3 outer = vec3_axpy(h->length / 4, mat3_column(&k->turn, 0), k->place);
        const double w = weight + k->weight / 2;
        const vec3 first = vec3_axpy(k->weight / 2, outer, moment);
        const vec3 bending = vec3_cross(vec3_axpy(-w, k->place, first), h->down);
        const vec3 want = bend_under(k, mat3_apply_t(&k->turn, bending));
        const vec3 way = vec3_sub(want, k->curvature);
        most = fmax(most, vec3_norm(way));
        k->curvature = vec3_axpy(part, way, k->curvature);
        weight += k->weight;
        moment = vec3_axpy(k->weight, k->place, moment);
    }
    return most;
}

caber_status address_find(const club *c, address *out, caber_message *message)
{
    hanging h = {.cell = malloc(CELLS * sizeof(cell)),
                 .length = c->length / CELLS,
                 .down = vec3_scale(-1, c->head.up)};
    if (!h.cell)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    fill_cells(c, &h);
    /* Each round takes the weight along the shaft from the shape before. The softer the shaft, the more
     * that overshoots: then smaller steps. */
    double part = 1, before = (double)INFINITY, way = before;
    for (int i = 0; i < TRIES && way > settled; i++) {
        lay_out(&h);
        way = follow_moments(c, &h, part);
        if (i > 0 && way > 0.98 * before)
            part = fmax(0.7 * part, 0.02);
        before = way;
    }
    lay_out(&h);
    *out = (address){.place = vec3_sub(h.end, vec3_make(c->length, 0, 0)), .turn = h.end_turn};
    free(h.cell);
    if (way <= settled)
        return CABER_OK;
    return message_set(message, CABER_NOT_CONVERGED,
                       "the club held at address was not found at rest: its shaft is too soft");
}
