/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "club/workshop.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_min.h>
#include <gsl/gsl_roots.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/message.h"
#include "club/address.h"
#include "shaft/modes.h"

enum { SPANS_MAX = sizeof(((caber_bench *)0)->span_at) / sizeof(double) };
static const double two_pi = 6.28318530717958647692;

/* ------------------------------------------------------------------ masses */

/* The whole club about the butt end, which is that of the grip. */
static club_body whole_club(const club *c)
{
    const double end = c->butt_at + c->cap;
    club_body b = club_shaft_body(c, c->end_at, c->butt_at, end, true);
    const beam_body *tip = &c->tip;
    const vec3 at = vec3_add(vec3_make(end - c->end_at, 0, 0), tip->centre);
    b.mass += tip->mass;
    b.moment = vec3_axpy(tip->mass, at, b.moment);
    b.inertia = mat3_add(&b.inertia, &tip->inertia);
    mat3_add_point_inertia(&b.inertia, tip->mass, at);
    return b;
}

static void measure_masses(const club *c, caber_bench *out)
{
    /* 14 in. Source: common practice of the trade. */
    const double fulcrum = 0.3556;
    const club_body shaft = club_shaft_body(c, c->tip_at, c->butt_at, c->butt_at, false);
    const club_body b = whole_club(c);
    const vec3 centre = vec3_scale(1 / b.mass, b.moment);
    out->tip_trim = c->tip_at;
    out->butt_trim = c->butt_trim;
    out->insertion = c->end_at - c->tip_at;
    out->mouth_diameter = 2 * profile_at(c->profile, c->end_at).radius;
    out->length = club_length(c);
    out->grip_diameter = c->grip_diameter;
    out->head_mass = c->head.mass;
    out->shaft_mass = shaft.mass;
    out->club_mass = b.mass;
    out->balance_point = centre.x;
    out->swing_moment = b.mass * (centre.x - fulcrum);
    out->inertia_butt = b.inertia.m[2][2];
    out->inertia_balance = b.inertia.m[2][2] - b.mass * (centre.x * centre.x + centre.y * centre.y);
    out->face_length = c->butt_at + c->cap - c->end_at + c->head.face_centre.x;
}

/* ------------------------------------------------------------------ the head on its shaft */

/* Loft, lie and face of the head as the sleeve has turned it, the shaft held at `lie` as if it had not:
 * angles against the head's own axes before. */
static void head_angles(const club *c, caber_bench *out)
{
    const double lie = c->head.lie;
    const vec3 up = {-sin(lie), 0, cos(lie)}, toe = {cos(lie), 0, sin(lie)};
    const vec3 n = c->head.normal;
    out->loft = asin(vec3_dot(n, up));
    out->face = atan2(vec3_dot(n, toe), n.y);
    out->lie = lie + asin(vec3_dot(c->head.toe, up));
}

/* What bends and turns when the club is held up by its handle, as soled. */
static caber_status at_address(const club *c, caber_bench *out, caber_message *message)
{
    address found;
    const caber_status status = address_find(c, &found, message);
    if (status != CABER_OK)
        return status;
    const vec3 up = c->head.up, toe = c->head.toe, ahead = vec3_cross(up, toe);
    const vec3 n = mat3_apply(&found.turn, c->head.normal), was = c->head.normal;
    const vec3 toe_now = mat3_apply(&found.turn, toe);
    out->address_droop = -found.place.z;
    out->address_lead = found.place.y;
    out->address_loft_change = asin(vec3_dot(n, up)) - asin(vec3_dot(was, up));
    out->address_lie_change = asin(vec3_dot(toe_now, up));
    out->address_face_rotation = atan2(vec3_dot(was, toe), vec3_dot(was, ahead)) -
                                 atan2(vec3_dot(n, toe), vec3_dot(n, ahead));
    return CABER_OK;
}

/* ------------------------------------------------------------------ frequencies */

/* The lowest frequencies whose tip moves more along e2 (lead) and more along e3 (droop); where two
 * planes are alike, both are that frequency. */
static void pick_planes(const beam *b, const modes *m, double *lead_hz, double *droop_hz)
{
    bool lead = false, droop = false;
    *lead_hz = m->omega[0] / two_pi;
    *droop_hz = m->omega[m->count > 1 ? 1 : 0] / two_pi;
    for (size_t j = 0; j < m->count && !(lead && droop); j++) {
        const beam_state s = beam_state_at(b, m->shape + j * m->dof_count, b->length);
        if (!lead && fabs(s.v) >= fabs(s.w)) {
            *lead_hz = m->omega[j] / two_pi;
            lead = true;
        } else if (!droop && fabs(s.w) > fabs(s.v)) {
            *droop_hz = m->omega[j] / two_pi;
            droop = true;
        }
    }
}

static caber_status club_modes(const club *c, const caber_jig *jig, caber_bench *out,
                               caber_message *message)
{
    beam *b = NULL;
    modes *m = NULL;
    caber_status status = modes_refine_with(club_beam_shape(c, c->butt_at - jig->clamp, c->end_at),
                                            &c->tip, (size_t)jig->mode_count, &b, &m, message);
    if (status == CABER_OK) {
        out->mode_count = m->count;
        for (size_t j = 0; j < m->count; j++)
            out->frequencies[j] = m->omega[j] / two_pi;
        if (!(jig->tip_mass > 0))
            pick_planes(b, m, &out->frequency, &out->frequency_droop);
    }
    modes_free(m);
    beam_free(b);
    return status;
}

/* The cut shaft without grip, from the clamp to its own tip. */
static beam_shape bare_shape(const club *c, double held_at, double end_at)
{
    beam_shape s = club_beam_shape(c, held_at, end_at);
    s.added = (beam_added){0};
    return s;
}

/* Of the cut shaft with a point on its tip, or with tip_mass 0 of the club as built. */
static caber_status clamped_frequency(const club *c, double clamp, double tip_mass, double *lead_hz,
                                      double *droop_hz, caber_message *message)
{
    beam *b = NULL;
    modes *m = NULL;
    const beam_body mass = {.mass = tip_mass};
    const double held_at = c->butt_at - clamp;
    const bool bare = tip_mass > 0;
    const caber_status status = modes_refine_with(bare ? bare_shape(c, held_at, c->tip_at)
                                                       : club_beam_shape(c, held_at, c->end_at),
                                                  bare ? &mass : &c->tip, 4, &b, &m, message);
    if (status == CABER_OK)
        pick_planes(b, m, lead_hz, droop_hz);
    modes_free(m);
    beam_free(b);
    return status;
}

static caber_status frequency_table(const club *c, const caber_jig *jig, caber_bench *out,
                                    caber_message *message)
{
    for (size_t i = 0; i < jig->clamp_count; i++)
        for (size_t j = 0; j < jig->tip_mass_count; j++) {
            double droop;
            const caber_status status = clamped_frequency(c, jig->clamps[i], jig->tip_masses[j],
                                                          &out->table[i][j], &droop, message);
            if (status != CABER_OK)
                return status;
        }
    return CABER_OK;
}

/* ------------------------------------------------------------------ static bend and twist */

typedef struct bend {
    const beam *b;
    const double *u;
    double chord; /* v(L)/L */
} bend;

static double chord_slope(double s, void *p)
{
    const bend *d = p;
    return beam_state_at(d->b, d->u, s).v_slope - d->chord;
}

/* Lead curvature of an end load in the lead direction, per N: (L - s) times the compliance. */
static double end_load_curvature(const beam *b, double s)
{
    const profile_point p = beam_section(b, s);
    const double c = cos(p.angle), n = sin(p.angle);
    return (b->length - s) * (c * c / p.ei + n * n / p.ei_2);
}

static double minus_curvature(double s, void *p)
{
    const bend *d = p;
    return -end_load_curvature(d->b, s);
}

/* m from the clamp: v' starts at 0 below the chord's slope and ends above it. */
static caber_status chord_point(bend *d, double *s, caber_message *message)
{
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    gsl_function f = {chord_slope, d};
    bool good = solver && gsl_root_fsolver_set(solver, &f, 0, d->b->length) == GSL_SUCCESS;
    for (int i = 0; good && i < 100; i++) {
        good = gsl_root_fsolver_iterate(solver) == GSL_SUCCESS;
        *s = gsl_root_fsolver_root(solver);
        if (gsl_root_test_interval(gsl_root_fsolver_x_lower(solver),
                                   gsl_root_fsolver_x_upper(solver), 1e-9, 0) == GSL_SUCCESS)
            break;
    }
    if (solver)
        gsl_root_fsolver_free(solver);
    return good ? CABER_OK
                : message_set(message, CABER_NOT_CONVERGED, "the bend point was not found");
}

/* m from the clamp: the best of a fine scan, refined between its neighbours. */
static double curvature_point(bend *d)
{
    enum { SCAN = 400 };
    const double h = d->b->length / SCAN;
    double best = 0, value = -1;
    for (int i = 0; i < SCAN; i++) {
        const double k = end_load_curvature(d->b, i * h);
        if (k > value) {
            value = k;
            best = i * h;
        }
    }
    gsl_min_fminimizer *solver = gsl_min_fminimizer_alloc(gsl_min_fminimizer_brent);
    gsl_function f = {minus_curvature, d};
    if (solver && best > 0 &&
        gsl_min_fminimizer_set(solver, &f, best, best - h, best + h) == GSL_SUCCESS)
        for (int i = 0; i < 100 && gsl_min_test_interval(gsl_min_fminimizer_x_lower(solver),
                                                         gsl_min_fminimizer_x_upper(solver), 1e-7,
                                                         0) == GSL_CONTINUE;
             i++) {
            gsl_min_fminimizer_iterate(solver);
            best = gsl_min_fminimizer_x_minimum(solver);
        }
    if (solver)
        gsl_min_fminimizer_free(solver);
    return best;
}

/* The bare cut shaft in the clamp and, in the first of two vectors, how the load on its tip bends it; the
 * second is 0. To be freed, both. */
static caber_status bent_beam(const club *c, const caber_jig *jig, beam **b, double **u,
                              caber_message *message)
{
    beam_shape shape = bare_shape(c, c->butt_at - jig->clamp, c->tip_at);
    shape.element = (shape.held_at - shape.end_at) / 48;
    *u = NULL;
    const caber_status status = beam_create(&shape, b, message);
    if (status != CABER_OK)
        return status;
    *u = calloc(2 * (*b)->dof_count, sizeof **u);
    if (!*u)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    beam_add_end_load(*b, jig->load, 0, vec3_make(0, 0, 0), *u);
    beam_solve(*b, *u);
    return CABER_OK;
}

static caber_status static_bend(const club *c, const caber_jig *jig, caber_bench *out,
                                caber_message *message)
{
    beam *b = NULL;
    double *u = NULL;
    caber_status status = bent_beam(c, jig, &b, &u, message);
    if (status == CABER_OK) {
        double *twist = u + b->dof_count, s = 0;
        beam_add_end_load(b, 0, 0, vec3_make(jig->torque, 0, 0), twist);
        beam_solve(b, twist);
        const beam_state tip = beam_state_at(b, u, b->length);
        bend d = {b, u, tip.v / b->length};
        status = chord_point(&d, &s, message);
        out->tip_deflection = tip.v;
        out->tip_slope = tip.v_slope;
        out->twist = beam_state_at(b, twist, b->length).phi;
        out->bend_point = b->length - s;
        out->bend_point_curvature = b->length - curvature_point(&d);
    }
    free(u);
    beam_free(b);
    return status;
}

/* ------------------------------------------------------------------ three-point bend */

static caber_status span_bend(const club *c, const caber_jig *jig, double middle_at, double *out,
                              caber_message *message)
{
    beam *b = NULL;
    beam_shape shape = bare_shape(c, middle_at + jig->span / 2, middle_at - jig->span / 2);
    shape.element = jig->span / 30;
    shape.loaded = &middle_at;
    shape.loaded_count = 1;
    const caber_status status = beam_create(&shape, &b, message);
    if (status != CABER_OK)
        return status;
    double *u = calloc(b->dof_count, sizeof *u);
    if (u) {
        beam_add_force(b, b->length / 2, jig->span_load, 0, u);
        beam_add_end_load(b, -jig->span_load / 2, 0, vec3_make(0, 0, 0), u);
        beam_solve(b, u);
        *out = beam_state_at(b, u, b->length / 2).v - beam_state_at(b, u, b->length).v / 2;
    }
    free(u);
    beam_free(b);
    return u ? CABER_OK : message_set(message, CABER_NO_MEMORY, "out of memory");
}

/* Every 50 mm (or wider, to fit the table) from the first full span at the tip to the last at the
 * butt. */
static caber_status spans(const club *c, const caber_jig *jig, caber_bench *out,
                          caber_message *message)
{
    const double first = c->tip_at + jig->span / 2, last = c->butt_at - jig->span / 2;
    const double room = last - first;
    const double step = fmax(0.05, room / (SPANS_MAX - 1));
    out->span_count = 0;
    for (size_t i = 0; i < SPANS_MAX && (double)i * step <= room + 1e-9; i++) {
        const double at = fmin(first + (double)i * step, last);
        const caber_status status = span_bend(c, jig, at, &out->span_deflection[i], message);
        if (status != CABER_OK)
            return status;
        out->span_at[i] = at - c->tip_at;
        out->span_ei[i] =
            jig->span_load * jig->span * jig->span * jig->span / (48 * out->span_deflection[i]);
        out->span_count++;
    }
    return CABER_OK;
}

/* ------------------------------------------------------------------ all of it */

static caber_status check_jig_value(const char *name, double value, double low, double high,
                                    const char *unit, caber_message *message)
{
    if (value >= low && value <= high)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT,
                       "bench: a %s of %g %s is not allowed; it must be from %g to %g %s", name,
                       value, unit, low, high, unit);
}

static caber_status check_jig(const club *c, const caber_jig *jig, caber_message *message)
{
    const double length = c->butt_at - c->tip_at, clamp_most = c->butt_at - c->end_at - 0.2;
    const struct {
        const char *name;
        double value, low, high;
        const char *unit;
    } rule[] = {{"clamp", jig->clamp, 0.01, clamp_most, "m"},
                {"tip mass", jig->tip_mass, 0, 5, "kg"},
                {"torque", jig->torque, 1e-6, 100, "N m"},
                {"load", jig->load, 1e-6, 1000, "N"},
                {"span", jig->span, 0.05, length, "m"},
                {"span load", jig->span_load, 1e-6, 5000, "N"},
                {"number of modes", jig->mode_count, 1, 40, ""},
                {"number of clamps", (double)jig->clamp_count, 0, CABER_JIG_MOST, ""},
                {"number of tip masses", (double)jig->tip_mass_count, 0, CABER_JIG_MOST, ""}};
    caber_status status = CABER_OK;
    for (size_t i = 0; i < sizeof rule / sizeof rule[0] && status == CABER_OK; i++)
        status = check_jig_value(rule[i].name, rule[i].value, rule[i].low, rule[i].high,
                                 rule[i].unit, message);
    for (size_t i = 0; status == CABER_OK && i < jig->clamp_count; i++)
        status = check_jig_value("clamp", jig->clamps[i], 0.01, clamp_most, "m", message);
    for (size_t i = 0; status == CABER_OK && i < jig->tip_mass_count; i++)
        status = check_jig_value("tip mass", jig->tip_masses[i], 0, 5, "kg", message);
    return status;
}

caber_status workshop_measure(const club *c, const caber_jig *jig, caber_bench *out,
                              caber_message *message)
{
    *out = (caber_bench){0};
    caber_status status = check_jig(c, jig, message);
    if (status != CABER_OK)
        return status;
    measure_masses(c, out);
    head_angles(c, out);
    status = club_modes(c, jig, out, message);
    if (status == CABER_OK && jig->tip_mass > 0)
        status = clamped_frequency(c, jig->clamp, jig->tip_mass, &out->frequency,
                                   &out->frequency_droop, message);
    if (status == CABER_OK)
        status = frequency_table(c, jig, out, message);
    if (status == CABER_OK)
        status = static_bend(c, jig, out, message);
    if (status == CABER_OK)
        status = at_address(c, out, message);
    if (status == CABER_OK)
        status = spans(c, jig, out, message);
    return status;
}

/* ------------------------------------------------------------------ shapes */

static caber_status bend_shape(const club *c, const caber_jig *jig, workshop_shapes *out,
                               caber_message *message)
{
    beam *b = NULL;
    double *u = NULL;
    const caber_status status = bent_beam(c, jig, &b, &u, message);
    for (int i = 0; status == CABER_OK && i < WORKSHOP_PLACES; i++) {
        const double s = b->length * (WORKSHOP_PLACES - 1 - i) / (WORKSHOP_PLACES - 1);
        out->bend_at[i] = b->length - s;
        out->bend[i] = beam_state_at(b, u, s).v;
    }
    free(u);
    beam_free(b);
    return status;
}

/* Lead deflection of a mode at all places, the largest being 1; whether it is one that bends that way. */
static bool lead_shape(const beam *b, const double *u, double *shape)
{
    double most = 0, most_droop = 0;
    for (int i = 0; i < WORKSHOP_PLACES; i++) {
        const double s = b->length * (WORKSHOP_PLACES - 1 - i) / (WORKSHOP_PLACES - 1);
        const beam_state at = beam_state_at(b, u, s);
        shape[i] = at.v;
        most = fabs(at.v) > fabs(most) ? at.v : most;
        most_droop = fmax(most_droop, fabs(at.w));
    }
    for (int i = 0; fabs(most) > 0 && i < WORKSHOP_PLACES; i++)
        shape[i] /= most;
    return fabs(most) > 0 && fabs(most) >= most_droop;
}

static caber_status mode_shapes(const club *c, const caber_jig *jig, workshop_shapes *out,
                                caber_message *message)
{
    beam *b = NULL;
    modes *m = NULL;
    caber_status status = modes_refine_with(club_beam_shape(c, c->butt_at - jig->clamp, c->end_at),
                                            &c->tip, (size_t)jig->mode_count, &b, &m, message);
    for (int i = 0; status == CABER_OK && i < WORKSHOP_PLACES; i++)
        out->mode_at[i] = c->end_at - c->tip_at + b->length * i / (WORKSHOP_PLACES - 1);
    for (size_t j = 0; status == CABER_OK && j < m->count && out->mode_count < WORKSHOP_MODES;
         j++) {
        if (!lead_shape(b, m->shape + j * m->dof_count, out->mode[out->mode_count]))
            continue;
        out->frequency[out->mode_count++] = m->omega[j] / two_pi;
    }
    modes_free(m);
    beam_free(b);
    return status;
}

caber_status workshop_shapes_find(const club *c, const caber_jig *jig, workshop_shapes *out,
                                  caber_message *message)
{
    *out = (workshop_shapes){0};
    caber_status status = check_jig(c, jig, message);
    if (status == CABER_OK)
        status = bend_shape(c, jig, out, message);
    return status == CABER_OK ? mode_shapes(c, jig, out, message) : status;
}

/* ------------------------------------------------------------------ what is common */

caber_jig caber_jig_default(void)
{
    /* 5 in clamp and 205 g: common practice. 1 ft lbf for the twist: common practice. Other clamps and
     * masses that are met with, and the club as built: common practice. */
    return (caber_jig){.clamp = 0.127,
                       .tip_mass = 0.205,
                       .torque = 1.3558179483314004,
                       .load = 10,
                       .span = 0.3,
                       .span_load = 50,
                       .mode_count = 6,
                       .clamp_count = 3,
                       .clamps = {0.127, 0.1524, 0.1778},
                       .tip_mass_count = 3,
                       .tip_masses = {0.195, 0.205, 0}};
}

void caber_swing_weight(double moment, char *text, size_t size)
{
    const double ounce_inch = 0.028349523125 * 0.0254; /* kg m; both exact by definition */
    /* Points from A0: ten a letter, D0 is the thirtieth. Tenths first, so that C9.96 reads D0.0. */
    const double points = 30 + (moment / ounce_inch - 213.5) / 1.75;
    const double tenths = floor(10 * points + 0.5);
    if (!(tenths >= 0 && tenths < 1000)) {
        snprintf(text, size, "%s", tenths < 0 ? "below A0" : "beyond J9");
        return;
    }
    const int whole = (int)tenths;
    snprintf(text, size, "%c%d.%d", "ABCDEFGHIJ"[whole / 100], whole / 10 % 10, whole % 10);
}
