/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/model.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_math.h>
#include <stdlib.h>
#include <string.h>

#include "base/lane.h"
#include "base/message.h"
#include "swing/check.h"
#include "swing/downswing.h"
#include "swing/dynamics.h"

static void number_joints(caber_model *m)
{
    const caber_load *l = &m->load.given;
    const caber_drive drive[JOINT_COUNT] = {l->hub.drive, l->grip.drive, l->roll.drive};
    for (int j = 0; j < JOINT_COUNT; j++)
        m->active[j] = drive[j] == CABER_TORQUE ? m->joints++ : -1;
}

/* Up, the target line and the side in the plane frame: with z_g = sin(incl) Z - cos(incl) Y, the
 * plane's X is the target line turned by `direction` towards z_g. */
static void orient(caber_model *m)
{
    const double si = sin(m->player.inclination), ci = cos(m->player.inclination);
    const double sd = sin(m->player.direction), cd = cos(m->player.direction);
    m->up = vec3_make(0, si, ci);
    m->target = vec3_make(cd, sd * ci, -sd * si);
    m->side = vec3_make(sd, -cd * ci, cd * si);
    m->gravity = m->settings.gravity ? CABER_GRAVITY : 0;
}

/* C C' = I for the tip body; setup_check has made sure that I is positive definite. A point mass
 * has I = 0, whose factor is 0. */
static void factor_tip(caber_model *m)
{
    const mat3 *inertia = &m->club->tip.inertia;
    mat3 c = {{{0}}};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j <= i; j++) {
            double sum = inertia->m[i][j];
            for (int k = 0; k < j; k++)
                sum -= c.m[i][k] * c.m[j][k];
            if (i == j)
                c.m[i][i] = sum > 0 ? sqrt(sum) : 0;
            else
                c.m[i][j] = c.m[j][j] > 0 ? sum / c.m[j][j] : 0;
        }
    m->tip_factor = c;
}

/* Bending stiffness matrix in (e2, e3) bending directions. */
static void section_fill(const profile_point *p, double out[3])
{
    const double c = cos(p->angle), s = sin(p->angle);
    out[0] = p->ei * c * c + p->ei_2 * s * s;
    out[1] = (p->ei - p->ei_2) * s * c;
    out[2] = p->ei * s * s + p->ei_2 * c * c;
}

static bool modal_fill(caber_model *m, const beam *b, const modes *found, double ratio)
{
    const size_t n = found->count, places = (size_t)m->rod->stations + 1;
    m->n = (int)n;
    m->unknowns = m->joints + m->n;
    m->stiffness = malloc(n * sizeof(double));
    m->damping = malloc(n * sizeof(double));
    m->inertia = calloc(n, sizeof(double));
    m->end_moment = calloc(3 * n, sizeof(double));
    m->section = malloc(3 * places * sizeof(double));
    bool good = m->stiffness && m->damping && m->inertia && m->end_moment && m->section;
    for (int third = 0; third < THIRD_COUNT; third++)
        good = (m->third[third] = malloc(n * n * sizeof(double))) && good;
    if (!good)
        return false;
    for (size_t j = 0; j < n; j++) {
        m->stiffness[j] = found->omega[j] * found->omega[j];
        m->damping[j] = 2 * ratio * found->omega[j];
        /* omega^2/(1 + inertia) = ceiling^2: the mode keeps its stiffness. */
        const double top = 2 * M_PI * m->settings.ceiling;
        if (top > 0 && found->omega[j] > top)
            m->inertia[j] = m->stiffness[j] / (top * top) - 1;
    }
    for (int third = 0; third < THIRD_COUNT; third++)
        beam_energy_matrix(b, found->shape, n, third * b->length / 3, (third + 1) * b->length / 3,
                           m->third[third]);
    for (size_t k = 0; k < places; k++) {
        const profile_point p = beam_section(b, k ? m->rod->s[k - 1] : 0);
        section_fill(&p, m->section + 3 * k);
    }
    for (int k = 0; k < m->rod->stations; k++)
        m->shaft_polar += m->rod->polar[k];
    return true;
}

/* The longest element that still gives the stations' quadrature five points each, and an element to
 * every mode (two a half wave, since the modes share two planes); the setting may ask for more. */
static double longest_element(const caber_model *m, double usual)
{
    int least = m->settings.elements;
    least = least > m->settings.modes ? least : m->settings.modes;
    least = least > m->settings.stations ? least : m->settings.stations;
    return fmin(m->settings.elements > 0 ? m->club->length : usual, m->club->length / least);
}

static caber_status build_shaft(caber_model *m, double ratio, caber_message *message)
{
    beam *b = NULL;
    modes *found = NULL;
    beam_shape shape = club_beam_shape(m->club, m->club->hold_at, m->club->end_at);
    caber_status status;
    shape.element = longest_element(m, shape.element);
    if (m->settings.elements > 0) {
        status = beam_create(&shape, &b, message);
        if (status == CABER_OK) {
            beam_add_body(b, &m->club->tip);
            status = modes_create(b, (size_t)m->settings.modes, &found, message);
        }
    } else {
        status =
            modes_refine_with(shape, &m->club->tip, (size_t)m->settings.modes, &b, &found, message);
    }
    if (status == CABER_OK)
        status = rod_create(b, found, m->settings.stations, &m->rod, message);
    if (status == CABER_OK && !modal_fill(m, b, found, ratio))
        status = message_set(message, CABER_NO_MEMORY, "out of memory");
    modes_free(found);
    beam_free(b);
    return status;
}

/* The moment on the shaft at the hands that holds mode j: its momentum turns at -omega_j^2 L_j q_j,
 * the handle's couple is all that turns it. */
static caber_status end_moments(caber_model *m, caber_message *message)
{
    caber_work *w = NULL;
    const caber_status status = caber_work_create(m, &w, message);
    if (status != CABER_OK)
        return status;
    dynamics_assemble(m, w, 0, w->zero, w->zero);
    const int s = m->rod->stride;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < m->n; j++)
            m->end_moment[i * m->n + j] = -m->stiffness[j] * w->l[i * s + j];
    caber_work_free(w);
    return CABER_OK;
}

caber_status caber_model_create(const caber_setup *setup, caber_model **out, caber_message *message)
{
    *out = NULL;
    gsl_set_error_handler_off();
    caber_status status = setup_check(setup, message);
    if (status != CABER_OK)
        return status;
    caber_model *m = calloc(1, sizeof *m);
    if (!m)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    m->player = setup->player;
    m->settings = setup->settings;
    status = load_create(&setup->player.load, &m->load, message);
    m->player.load = m->load.given;
    if (status == CABER_OK)
        status = club_create(setup, &m->club, message);
    if (status == CABER_OK) {
        number_joints(m);
        orient(m);
        factor_tip(m);
        status = build_shaft(m, setup->shaft.damping, message);
    }
    if (status == CABER_OK)
        status = end_moments(m, message);
    if (status != CABER_OK) {
        caber_model_free(m);
        return status;
    }
    *out = m;
    return message_clear(message);
}

void caber_model_free(caber_model *model)
{
    if (!model)
        return;
    load_free(&model->load);
    club_free(model->club);
    rod_free(model->rod);
    free(model->stiffness);
    free(model->damping);
    free(model->inertia);
    free(model->end_moment);
    free(model->section);
    for (int third = 0; third < THIRD_COUNT; third++)
        free(model->third[third]);
    free(model);
}

/* ------------------------------------------------------------------ another player */

caber_model *model_borrow(const caber_model *base)
{
    caber_model *m = malloc(sizeof *m);
    if (m)
        *m = *base;
    return m;
}

void model_borrow_free(caber_model *model)
{
    free(model);
}

/* The modes are those of the club held at the hands, in handle axes: no player enters them. */
void model_set_player(caber_model *model, const caber_player *player)
{
    caber_load *given = &model->load.given;
    model->player = *player;
    *given = player->load;
    given->hub.table = given->grip.table = given->roll.table = (caber_table){0};
    model->player.load = *given;
    orient(model);
}

/* ------------------------------------------------------------------ work */

caber_status caber_work_create(const caber_model *model, caber_work **out, caber_message *message)
{
    *out = NULL;
    caber_work *w = calloc(1, sizeof *w);
    if (!w)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const rod *r = model->rod;
    const size_t s = (size_t)r->stride, n = (size_t)model->n, na = (size_t)model->unknowns;
    w->model = model;
    /* Three rows a station, one more for its torsion, six for the tip. */
    w->polar_count = model->shaft_polar > 0 ? r->stations : 0;
    w->row_count = 3 * r->stations + w->polar_count + 6;
    w->pitch = lane_round(model->joints + r->stride);
    const size_t pitch = (size_t)w->pitch, square = (na + LANE) * pitch;
    w->rows = calloc((size_t)w->row_count * s, sizeof(double));
    w->p = calloc(3 * s, sizeof(double));
    w->l = calloc(3 * s, sizeof(double));
    w->bias = calloc(s, sizeof(double));
    w->matrix = calloc(square, sizeof(double));
    w->factor = calloc(square, sizeof(double));
    w->rhs = calloc(pitch, sizeof(double));
    w->zero = calloc(na, sizeof(double));
    w->jacobian = calloc(n * n + 2 * n, sizeof(double));
    bool good = w->rows && w->p && w->l && w->bias && w->matrix && w->factor && w->rhs && w->zero &&
                w->jacobian && rod_state_create(r, &w->rod);
    good = good && (w->solver = downswing_create(model)) != NULL;
    if (!good) {
        caber_work_free(w);
        return message_set(message, CABER_NO_MEMORY, "out of memory for a swing");
    }
    *out = w;
    return message_clear(message);
}

void caber_work_free(caber_work *work)
{
    if (!work)
        return;
    downswing_free(work->solver);
    rod_state_free(&work->rod);
    free(work->rows);
    free(work->p);
    free(work->l);
    free(work->bias);
    free(work->matrix);
    free(work->factor);
    free(work->rhs);
    free(work->zero);
    free(work->jacobian);
    free(work);
}
