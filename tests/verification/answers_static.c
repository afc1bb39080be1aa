/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Prints as JSON what `caber` itself does not: large bends of the bare cut shaft in the bench's
 * clamp, its frequencies with a point mass on the tip, and those frequencies while it turns
 * steadily about an axis through the hands.
 *
 * Usage: answers_static SETUP FORCE COUPLE MASS RATE... (N, N m, kg, rad/s; a rate above 0, as at
 * rest the two planes are not told apart) */
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_linalg.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "club/club.h"
#include "swing/dynamics.h"

enum { SHAPES = 10, BEND_STATIONS = 60, MODES = 30, SPIN_STATIONS = 80, HERTZ = 12, PLANE = 3 };
static const double two_pi = 6.28318530717958647692;

static void fine(caber_status status, const caber_message *message)
{
    if (status == CABER_OK)
        return;
    fprintf(stderr, "answers_static: %s: %s\n", caber_status_text(status), message->text);
    exit(1);
}

static void need(bool good, const char *what)
{
    if (good)
        return;
    fprintf(stderr, "answers_static: %s\n", what);
    exit(1);
}

static void *array(size_t count)
{
    double *a = calloc(count, sizeof *a);
    need(a != NULL, "out of memory");
    return a;
}

/* The cut shaft without grip, from the bench's clamp to its own tip, as `caber bench` bends it. */
static beam_shape bare_shape(const club *c)
{
    beam_shape s = club_beam_shape(c, c->butt_at - caber_jig_default().clamp, c->tip_at);
    s.added = (beam_added){0};
    return s;
}

/* ------------------------------------------------------------------ large bends */

/* Bends of one plane that a load on the end can need: those under an end couple, an end force and
 * loads spread as the Legendre polynomials of 2s/L - 1. Their moments are all polynomials of s,
 * which the moment of the bent shaft nearly is. Each has strain energy 1/2. */
static modes *bends(const beam *b)
{
    modes *m = calloc(1, sizeof *m);
    need(m != NULL, "out of memory");
    m->count = SHAPES;
    m->dof_count = b->dof_count;
    m->omega = array(SHAPES);
    m->shape = array(SHAPES * b->dof_count);
    for (int j = 0; j < SHAPES; j++) {
        double *u = m->shape + (size_t)j * b->dof_count, energy;
        if (j == 0)
            beam_add_end_load(b, 0, 0, vec3_make(0, 0, 1), u);
        if (j == 1)
            beam_add_end_load(b, 1, 0, vec3_make(0, 0, 0), u);
        for (size_t i = 0; j > 1 && i < b->point_count; i++) {
            const beam_point *p = &b->point[i];
            const double x = 2 * p->s / b->length - 1;
            double before = 0, now = 1;
            for (int k = 1; k <= j - 2; k++) {
                const double next = ((2 * k - 1) * x * now - (k - 1) * before) / k;
                before = now;
                now = next;
            }
            beam_add_force(b, p->s, now * p->mass / beam_section(b, p->s).mass, 0, u);
        }
        beam_solve(b, u);
        beam_energy_matrix(b, u, 1, 0, b->length, &energy);
        for (size_t i = 0; i < b->dof_count; i++)
            u[i] /= sqrt(energy);
    }
    return m;
}

typedef struct bent {
    rod *rod;
    rod_state state;
    double force, couple; /* on the end, along e2 and about e3, dead */
    double stiffness[SHAPES * SHAPES];
} bent;

/* What the loads do on each shape: X' F + W' C at q. */
static void work_of_loads(bent *b, const double *q, double *out)
{
    static const double rest[SHAPES] = {0};
    const size_t s = (size_t)b->rod->stride, last = (size_t)b->rod->stations * 3 * s;
    rod_move_with_jacobians(b->rod, q, rest, &b->state);
    for (size_t j = 0; j < SHAPES; j++)
        out[j] =
            b->state.move[last + s + j] * b->force + b->state.swivel[last + 2 * s + j] * b->couple;
}

/* One Newton step of K q = X' F + W' C, the loads' own stiffness by central differences; returns
 * its size. */
static double newton_step(bent *b, double *q)
{
    double at[SHAPES], high[SHAPES], low[SHAPES], size = 0;
    gsl_matrix *a = gsl_matrix_alloc(SHAPES, SHAPES);
    gsl_vector *r = gsl_vector_alloc(SHAPES);
    gsl_permutation *p = gsl_permutation_alloc(SHAPES);
    memcpy(at, q, sizeof at);
    for (size_t j = 0; j < SHAPES; j++) {
        const double step = 1e-5;
        at[j] = q[j] + step;
        work_of_loads(b, at, high);
        at[j] = q[j] - step;
        work_of_loads(b, at, low);
        at[j] = q[j];
        for (size_t i = 0; i < SHAPES; i++)
            gsl_matrix_set(a, i, j, b->stiffness[i * SHAPES + j] - (high[i] - low[i]) / (2 * step));
    }
    work_of_loads(b, q, high);
    for (size_t i = 0; i < SHAPES; i++) {
        double sum = high[i];
        for (size_t j = 0; j < SHAPES; j++)
            sum -= b->stiffness[i * SHAPES + j] * q[j];
        gsl_vector_set(r, i, sum);
    }
    int sign;
    need(!gsl_linalg_LU_decomp(a, p, &sign) && !gsl_linalg_LU_svx(a, p, r), "no Newton step");
    for (size_t i = 0; i < SHAPES; i++) {
        q[i] += gsl_vector_get(r, i);
        size = fmax(size, fabs(gsl_vector_get(r, i)));
    }
    gsl_permutation_free(p);
    gsl_vector_free(r);
    gsl_matrix_free(a);
    return size;
}

static json_t *large_bend(bent *b, double force, double couple)
{
    double q[SHAPES] = {0}, unused[SHAPES];
    for (int part = 1; part <= 8; part++) {
        double size = 1;
        b->force = force * part / 8;
        b->couple = couple * part / 8;
        for (int k = 0; k < 20 && size > 1e-10; k++)
            size = newton_step(b, q);
        need(size <= 1e-10, "no equilibrium of the bent shaft");
    }
    work_of_loads(b, q, unused); /* leaves the state at the answer */
    const rod_point *tip = &b->state.point[b->rod->stations];
    const vec3 e1 = mat3_column(&tip->turn, 0);
    return json_pack("{s:f, s:f, s:f}", "deflection_m", tip->place.y, "shortening_m",
                     b->rod->length - tip->place.x, "slope_rad", atan2(e1.y, e1.x));
}

static void large_bends(const club *c, double force, double couple, json_t *out)
{
    caber_message message;
    beam *b = NULL;
    beam_shape shape = bare_shape(c);
    shape.element = 0.01;
    fine(beam_create(&shape, &b, &message), &message);
    modes *m = bends(b);
    bent bend = {0};
    beam_energy_matrix(b, m->shape, SHAPES, 0, b->length, bend.stiffness);
    fine(rod_create(b, m, BEND_STATIONS, &bend.rod, &message), &message);
    need(rod_state_create(bend.rod, &bend.state), "out of memory");
    json_object_set_new(out, "clamped_length_m", json_real(b->length));
    json_object_set_new(out, "force", large_bend(&bend, force, 0));
    json_object_set_new(out, "couple", large_bend(&bend, 0, couple));
    rod_state_free(&bend.state);
    rod_free(bend.rod);
    modes_free(m);
    beam_free(b);
}

/* ------------------------------------------------------------------ frequencies at rest */

static json_t *frequencies(const club *c, double mass)
{
    caber_message message;
    beam *b = NULL;
    modes *m = NULL;
    const beam_body body = {.mass = mass};
    fine(modes_refine(bare_shape(c), &body, &b, &message), &message);
    fine(modes_create(b, HERTZ, &m, &message), &message);
    json_t *out = json_array();
    for (size_t j = 0; j < m->count; j++)
        json_array_append_new(out, json_real(m->omega[j] / two_pi));
    modes_free(m);
    beam_free(b);
    return out;
}

/* ------------------------------------------------------------------ frequencies while turning */

/* The setup as a bare shaft with a point mass on its cut tip that turns about the hands' hinge, all
 * joints driven or locked, undamped and without weight. */
static void make_turning(caber_setup *s, double mass, double rate)
{
    const double little = 1e-10;
    caber_load *drive = &s->player.load;
    s->head.mass = mass;
    for (int i = 0; i < 6; i++)
        s->head.inertia[i] = i < 3 ? little : 0;
    for (int i = 0; i < 3; i++)
        s->head.centre_of_mass[i] = 0;
    s->grip.mass = 0;
    s->build.insertion = 0;
    s->shaft.damping = 0;
    drive->hub.drive = CABER_LOCKED;
    drive->roll.drive = CABER_LOCKED;
    drive->roll.top = 0; /* e2 lies in the plane of rotation, e3 along its axis */
    drive->grip.drive = CABER_MOTION;
    caber_table *t = &drive->grip.table;
    free(t->time);
    free(t->value);
    t->count = 4;
    t->time = array(t->count);
    t->value = array(t->count);
    for (size_t i = 0; i < t->count; i++) {
        t->time[i] = (double)i / 3;
        t->value[i] = rate * t->time[i];
    }
    s->settings.modes = MODES;
    s->settings.stations = SPIN_STATIONS;
    s->settings.elements = 2 * SPIN_STATIONS;
    s->settings.ceiling = 0;
    s->settings.gravity = false;
}

/* K = -dF/dq at q = 0 by central differences, symmetrised; M as assembled. */
static void linearise(const caber_model *m, caber_work *w, gsl_matrix *k, gsl_matrix *inertia)
{
    const size_t n = (size_t)m->n;
    const double time = 0.5; /* inside the table of the drive */
    double *x = array(2 * n), *up = x + n;
    for (size_t j = 0; j < n; j++) {
        const double h = 1e-5 * sqrt(m->stiffness[0] / m->stiffness[j]);
        x[j] = h;
        dynamics_assemble(m, w, time, x, w->zero);
        memcpy(up, w->rhs, n * sizeof *up);
        x[j] = -h;
        dynamics_assemble(m, w, time, x, w->zero);
        x[j] = 0;
        for (size_t i = 0; i < n; i++)
            gsl_matrix_set(k, i, j, (w->rhs[i] - up[i]) / (2 * h));
    }
    dynamics_assemble(m, w, time, x, w->zero);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            const double mean = (gsl_matrix_get(k, i, j) + gsl_matrix_get(k, j, i)) / 2;
            gsl_matrix_set(k, i, j, mean);
            gsl_matrix_set(k, j, i, mean);
            gsl_matrix_set(inertia, i, j, w->matrix[j * (size_t)w->pitch + i]);
            gsl_matrix_set(inertia, j, i, w->matrix[j * (size_t)w->pitch + i]);
        }
    free(x);
}

/* The lowest frequencies of either plane, by where the tip moves: e2 in the plane of rotation, e3
 * out of it. */
static json_t *sort(const caber_model *m, const caber_work *w, const gsl_vector *square,
                    const gsl_matrix *vector)
{
    const size_t s = (size_t)m->rod->stride;
    const double *tip = w->rod.move + (size_t)m->rod->stations * 3 * s;
    json_t *in = json_array(), *out = json_array();
    for (size_t k = 0; k < (size_t)m->n; k++) {
        double lead = 0, droop = 0;
        for (size_t j = 0; j < (size_t)m->n; j++) {
            lead += tip[s + j] * gsl_matrix_get(vector, j, k);
            droop += tip[2 * s + j] * gsl_matrix_get(vector, j, k);
        }
        json_t *list = fabs(lead) > fabs(droop) ? in : out;
        need(gsl_vector_get(square, k) > 0, "a turning shaft that does not come back");
        if (json_array_size(list) < PLANE)
            json_array_append_new(list, json_real(sqrt(gsl_vector_get(square, k)) / two_pi));
    }
    need(json_array_size(in) == PLANE && json_array_size(out) == PLANE, "too few modes");
    return json_pack("{s:o, s:o}", "in_plane_hz", in, "out_of_plane_hz", out);
}

/* The full equations of the swing, linearised about steady rotation: M q.. + G q. + K q = 0. A
 * point of a straight shaft moves across it, along e2 or e3, and turns about e3; twice the spin
 * across either velocity is along e1 or nothing, and no mode moves along e1 to first order. So G
 * holds only the turning inertia of the sections about e1, which changes a frequency by some 1e-9,
 * and is left out. */
static json_t *turning(const char *path, double mass, double rate)
{
    caber_message message;
    caber_setup *setup = NULL;
    caber_model *m = NULL;
    caber_work *w = NULL;
    fine(caber_setup_read(path, NULL, 0, &setup, &message), &message);
    make_turning(setup, mass, rate);
    fine(caber_model_create(setup, &m, &message), &message);
    fine(caber_work_create(m, &w, &message), &message);
    need(m->unknowns == m->n, "a joint is free");
    const size_t n = (size_t)m->n;
    gsl_matrix *k = gsl_matrix_alloc(n, n), *inertia = gsl_matrix_alloc(n, n);
    gsl_matrix *vector = gsl_matrix_alloc(n, n);
    gsl_vector *square = gsl_vector_alloc(n);
    gsl_eigen_gensymmv_workspace *space = gsl_eigen_gensymmv_alloc(n);
    linearise(m, w, k, inertia);
    need(!gsl_eigen_gensymmv(k, inertia, square, vector, space), "no frequencies");
    gsl_eigen_gensymmv_sort(square, vector, GSL_EIGEN_SORT_VAL_ASC);
    json_t *out = sort(m, w, square, vector);
    json_object_set_new(out, "rate_rad_s", json_real(rate));
    json_object_set_new(out, "length_m", json_real(m->rod->length));
    gsl_eigen_gensymmv_free(space);
    gsl_vector_free(square);
    gsl_matrix_free(vector);
    gsl_matrix_free(inertia);
    gsl_matrix_free(k);
    caber_work_free(w);
    caber_model_free(m);
    caber_setup_free(setup);
    return out;
}

int main(int argc, char **argv)
{
    need(argc > 5, "usage: answers_static SETUP FORCE COUPLE MASS RATE...");
    const double force = atof(argv[2]), couple = atof(argv[3]), mass = atof(argv[4]);
    caber_message message;
    caber_setup *setup = NULL;
    club *c = NULL;
    fine(caber_setup_read(argv[1], NULL, 0, &setup, &message), &message);
    fine(club_create(setup, &c, &message), &message);
    json_t *out = json_object(), *turns = json_array();
    large_bends(c, force, couple, out);
    json_object_set_new(out, "point_mass_hz", frequencies(c, mass));
    for (int i = 5; i < argc; i++) {
        need(atof(argv[i]) > 0, "a rate must be above 0");
        json_array_append_new(turns, turning(argv[1], mass, atof(argv[i])));
    }
    json_object_set_new(out, "turning", turns);
    json_dumpf(out, stdout, JSON_INDENT(2));
    putchar('\n');
    json_decref(out);
    club_free(c);
    caber_setup_free(setup);
    return 0;
}
