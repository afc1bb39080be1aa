/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/fit.h"

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_blas.h>
#include <gsl/gsl_bspline.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <gsl/gsl_spline.h>

#include "base/message.h"

/* ------------------------------------------------------------------ what is unknown */

/* Three curves along the shaft. */
enum { CURVE_EI, CURVE_GJ, CURVE_MASS, CURVES };

typedef struct curve {
    gsl_bspline_workspace *spline;
    size_t first, count; /* of its coefficients among the unknowns */
    double smooth;       /* weight on the second differences */
} curve;

/* Assumptions of ours, see fit.h. */
static const double mass_bend_prior = 0.04, mass_slope_prior = 0.3, principal_prior = 0.2;
/* The least rms second difference of log EI and log GJ between knots that a shaft is believed to have:
 * smoother than that is not taken from a flat cross-validation. */
static const double bend_prior = 0.025;
/* A local change of a property that readings must be able to tell for it to count as seen. */
static const double seen_change = 0.2;
/* Mean scatter in sigmas beyond which readings contradict each other. */
static const double conflict = 3;
enum { ORDER = 4, MASS_PIECES = 5, ROUNDS = 6, ITERATIONS = 60 };

typedef struct problem {
    const caber_readings *readings;
    curve curve[CURVES];
    bool oriented;
    size_t first_principal; /* of p, q among the unknowns */
    size_t unknowns, used, rows;
    caber_shaft shaft; /* stations at the unknowns of the last evaluation */
    double *
        basis; /* [station][unknowns], of log EI, log GJ, log m at the stations, curve after curve */
    double *predicted; /* [reading] */
    gsl_matrix *slope; /* [reading][unknown], of the predictions over sigma */
    double *seen;      /* [2][station]: information on EI and GJ there alone, 1/relative^2 */
    gsl_vector *at;    /* where predicted and slope were computed; NULL content until then */
    bool fresh;
    reading_weights weights;
    double *hat; /* scratch [unknowns] */
    caber_status status;
    caber_message *message;
} problem;

static bool bends(caber_reading_kind kind)
{
    return kind == CABER_READ_SPAN || kind == CABER_READ_CANTILEVER || kind == CABER_READ_FREQUENCY;
}

/* ------------------------------------------------------------------ profile from unknowns */

typedef struct principal {
    double e, angle;     /* log ratio to the mean, rad of the stiffer direction */
    double change[2][3]; /* of exp(S) with p and q: vv, ww, vw */
    double exponent[3];  /* exp(S): vv, ww, vw */
} principal;

/* exp(S) = cosh(e) I + sinh(e)/e S; its derivatives by the chain rule, with
 * d(cosh e)/dp = p sinh(e)/e and d(sinh(e)/e)/dp = p (cosh e - sinh(e)/e)/e^2. */
static principal principal_of(double p, double q)
{
    principal out = {.e = hypot(p, q), .angle = atan2(q, p) / 2};
    const double e = out.e, e2 = e * e;
    const double c = cosh(e), s = e > 1e-4 ? sinh(e) / e : 1 + e2 / 6;
    const double t = e > 1e-2 ? (c - s) / e2 : 1.0 / 3 + e2 / 30;
    const double sheet[2][2] = {{1, 0}, {0, 1}}; /* dS/dp, dS/dq: vv (ww = -vv), vw */
    const double x[2] = {p, q};
    out.exponent[0] = c + s * p;
    out.exponent[1] = c - s * p;
    out.exponent[2] = s * q;
    for (int k = 0; k < 2; k++) {
        out.change[k][0] = x[k] * s + x[k] * t * p + s * sheet[k][0];
        out.change[k][1] = x[k] * s - x[k] * t * p - s * sheet[k][0];
        out.change[k][2] = x[k] * t * q + s * sheet[k][1];
    }
    return out;
}

static principal problem_principal(const problem *m, const gsl_vector *x)
{
    return m->oriented ? principal_of(gsl_vector_get(x, m->first_principal),
                                      gsl_vector_get(x, m->first_principal + 1))
                       : principal_of(0, 0);
}

static double log_at_station(const problem *m, const gsl_vector *x, int which, size_t station)
{
    const curve *c = &m->curve[which];
    const double *row = m->basis + station * m->unknowns;
    double sum = 0;
    for (size_t j = c->first; j < c->first + c->count; j++)
        sum += row[j] * gsl_vector_get(x, j);
    return sum;
}

static void set_stations(problem *m, const gsl_vector *x)
{
    const principal two = problem_principal(m, x);
    for (size_t i = 0; i < m->shaft.station_count; i++) {
        caber_station *s = &m->shaft.stations[i];
        const double ei = exp(log_at_station(m, x, CURVE_EI, i));
        s->ei = ei * exp(two.e);
        s->ei_2 = m->oriented ? ei * exp(-two.e) : 0;
        s->ei_angle = m->oriented ? two.angle : 0;
        s->gj = exp(log_at_station(m, x, CURVE_GJ, i));
        s->mass = exp(log_at_station(m, x, CURVE_MASS, i));
    }
}

/* ------------------------------------------------------------------ predictions */

/* Adds scale B_j(at) to the unknowns of a curve. */
static void add_basis(const problem *m, int which, double at, double scale, double *slope)
{
    const curve *c = &m->curve[which];
    double value[ORDER];
    size_t first, last;
    gsl_vector_view v = gsl_vector_view_array(value, ORDER);
    const double x = fmin(fmax(at, 0), m->readings->length);
    if (gsl_bspline_eval_nonzero(x, &v.vector, &first, &last, c->spline) != GSL_SUCCESS)
        return;
    for (size_t j = first; j <= last; j++)
        slope[c->first + j] += scale * value[j - first];
}

/* Adds to the information that one reading holds on a property of each station alone: a change of the
 * shape of a hat between its neighbours. local[station] gathers the reading's change. */
static void add_local(const problem *m, double at, double scale, double *local)
{
    const size_t last = m->shaft.station_count - 1;
    const double part = at / m->readings->length * (double)last;
    const size_t i = (size_t)fmin(fmax(floor(part), 0), (double)last - 1);
    const double t = fmin(fmax(part - (double)i, 0), 1);
    local[i] += (1 - t) * scale;
    local[i + 1] += t * scale;
}

/* The row of the reading's derivatives over sigma, from the weights that its prediction left. */
static void differentiate(problem *m, const profile *p, const principal *two, size_t index,
                          double *local)
{
    const caber_reading *r = &m->readings->items[index];
    const size_t stations = m->shaft.station_count;
    for (size_t j = 0; j < m->unknowns; j++)
        m->hat[j] = 0;
    for (size_t j = 0; j < 2 * stations; j++)
        local[j] = 0;
    for (size_t i = 0; i < m->weights.count; i++) {
        const reading_weight *w = &m->weights.items[i];
        const profile_point q = profile_at(p, w->at);
        const double ei = m->oriented ? sqrt(q.ei * q.ei_2) : q.ei;
        double bend = 0;
        for (int k = 0; k < 3; k++)
            bend += w->bend[k] * two->exponent[k];
        add_basis(m, CURVE_EI, w->at, bend * ei, m->hat);
        add_basis(m, CURVE_GJ, w->at, w->twist * q.gj, m->hat);
        add_basis(m, CURVE_MASS, w->at, w->mass * q.mass, m->hat);
        add_local(m, w->at, bend * ei / r->sigma, local);
        add_local(m, w->at, w->twist * q.gj / r->sigma, local + stations);
        for (int d = 0; m->oriented && d < 2; d++)
            for (int k = 0; k < 3; k++)
                m->hat[m->first_principal + d] += w->bend[k] * two->change[d][k] * ei;
    }
    for (size_t j = 0; j < m->unknowns; j++)
        gsl_matrix_set(m->slope, index, j, m->hat[j] / r->sigma);
    for (size_t j = 0; j < 2 * stations && !r->left_out; j++)
        m->seen[j] += local[j] * local[j];
}

/* Predictions and derivatives at x, unless they are there already. */
static caber_status evaluate(problem *m, const gsl_vector *x)
{
    if (m->fresh && gsl_vector_equal(m->at, x))
        return CABER_OK;
    m->fresh = false;
    gsl_vector_memcpy(m->at, x);
    for (size_t j = 0; j < m->unknowns; j++)
        if (!(fabs(gsl_vector_get(x, j)) < 20))
            return CABER_NOT_CONVERGED; /* a step into the void; the solver shortens it */
    set_stations(m, x);
    profile *p = NULL;
    caber_status status = profile_create(&m->shaft, NULL, &p, m->message);
    double *local = calloc(2 * m->shaft.station_count, sizeof *local);
    if (status == CABER_OK && !local)
        status = message_set(m->message, CABER_NO_MEMORY, "out of memory");
    const principal two = problem_principal(m, x);
    for (size_t j = 0; j < 2 * m->shaft.station_count; j++)
        m->seen[j] = 0;
    for (size_t i = 0; status == CABER_OK && i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        status =
            reading_predict(p, m->readings->length, r, &m->predicted[i], &m->weights, m->message);
        if (status == CABER_OK)
            differentiate(m, p, &two, i, local);
    }
    free(local);
    profile_free(p);
    m->fresh = status == CABER_OK;
    return status;
}

/* ------------------------------------------------------------------ penalties */

/* One linear residual beside the readings': sum_k factor[k] x[at[k]]. */
typedef struct penalty {
    size_t count, at[3];
    double factor[3];
} penalty;

static size_t penalty_count(const problem *m)
{
    size_t n = 1 + (m->oriented ? 2 : 0);
    for (int k = 0; k < CURVES; k++)
        n += m->curve[k].count - 2;
    return n;
}

/* Number i: second differences of the three curves, the mass's slope, then p and q. */
static penalty penalty_at(const problem *m, size_t i)
{
    for (int k = 0; k < CURVES; k++) {
        const curve *c = &m->curve[k];
        if (i < c->count - 2) {
            const double w = sqrt(c->smooth);
            const size_t j = c->first + i;
            return (penalty){3, {j, j + 1, j + 2}, {w, -2 * w, w}};
        }
        i -= c->count - 2;
    }
    const curve *mass = &m->curve[CURVE_MASS];
    if (i == 0)
        return (penalty){2,
                         {mass->first, mass->first + mass->count - 1},
                         {-1 / mass_slope_prior, 1 / mass_slope_prior}};
    return (penalty){1, {m->first_principal + i - 1}, {1 / principal_prior}};
}

static double penalty_value(const penalty *p, const gsl_vector *x)
{
    double sum = 0;
    for (size_t k = 0; k < p->count; k++)
        sum += p->factor[k] * gsl_vector_get(x, p->at[k]);
    return sum;
}

/* ------------------------------------------------------------------ rows of the least squares */

static int residuals(const gsl_vector *x, void *context, gsl_vector *f)
{
    problem *m = context;
    m->status = evaluate(m, x);
    if (m->status == CABER_NOT_CONVERGED) { /* far off: large, so that the step is refused */
        gsl_vector_set_all(f, 1e10);
        return GSL_SUCCESS;
    }
    if (m->status != CABER_OK)
        return GSL_EFAILED;
    size_t row = 0;
    for (size_t i = 0; i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        if (!r->left_out)
            gsl_vector_set(f, row++, (m->predicted[i] - r->value) / r->sigma);
    }
    for (size_t i = 0; row < m->rows; i++, row++) {
        const penalty p = penalty_at(m, i);
        gsl_vector_set(f, row, penalty_value(&p, x));
    }
    return GSL_SUCCESS;
}

static int slopes(const gsl_vector *x, void *context, gsl_matrix *jacobian)
{
    problem *m = context;
    m->status = evaluate(m, x);
    if (m->status != CABER_OK)
        return GSL_EFAILED;
    gsl_matrix_set_zero(jacobian);
    size_t row = 0;
    for (size_t i = 0; i < m->readings->count; i++)
        if (!m->readings->items[i].left_out) {
            gsl_vector_view from = gsl_matrix_row(m->slope, i);
            gsl_matrix_set_row(jacobian, row++, &from.vector);
        }
    for (size_t i = 0; row < m->rows; i++, row++) {
        const penalty p = penalty_at(m, i);
        for (size_t k = 0; k < p.count; k++)
            gsl_matrix_set(jacobian, row, p.at[k], p.factor[k]);
    }
    return GSL_SUCCESS;
}

/* ------------------------------------------------------------------ linear algebra of the fit */

/* normal (lower half) = J'J of the readings used. */
static void data_normal(const problem *m, gsl_matrix *normal)
{
    gsl_matrix_set_zero(normal);
    for (size_t i = 0; i < m->readings->count; i++) {
        gsl_vector_const_view j = gsl_matrix_const_row(m->slope, i);
        if (!m->readings->items[i].left_out)
            gsl_blas_dsyr(CblasLower, 1, &j.vector, normal);
    }
}

/* inverse = (data + P'P)^-1; false when that is not positive definite. */
static bool penalised_inverse(const problem *m, const gsl_matrix *data, gsl_matrix *inverse)
{
    gsl_matrix_memcpy(inverse, data);
    for (size_t i = 0; i < penalty_count(m); i++) {
        const penalty p = penalty_at(m, i);
        for (size_t a = 0; a < p.count; a++)
            for (size_t b = 0; b <= a; b++)
                *gsl_matrix_ptr(inverse, p.at[a], p.at[b]) += p.factor[a] * p.factor[b];
    }
    return gsl_linalg_cholesky_decomp1(inverse) == GSL_SUCCESS &&
           gsl_linalg_cholesky_invert(inverse) == GSL_SUCCESS;
}

/* h = j' C j of a reading's row. */
static double quadratic(const problem *m, const gsl_matrix *c, size_t reading)
{
    gsl_vector_const_view j = gsl_matrix_const_row(m->slope, reading);
    gsl_vector_view scratch = gsl_vector_view_array(m->hat, m->unknowns);
    double out;
    gsl_blas_dsymv(CblasLower, 1, c, &j.vector, 0, &scratch.vector);
    gsl_blas_ddot(&j.vector, &scratch.vector, &out);
    return out;
}

/* ------------------------------------------------------------------ smoothness */

/* The problem linearised about x, for trying out smoothnesses. */
typedef struct trial {
    const gsl_vector *x;
    gsl_matrix *data, *inverse;
    gsl_vector *right, *change;
} trial;

static bool trial_create(trial *t, const problem *m, const gsl_vector *x)
{
    *t = (trial){.x = x,
                 .data = gsl_matrix_alloc(m->unknowns, m->unknowns),
                 .inverse = gsl_matrix_alloc(m->unknowns, m->unknowns),
                 .right = gsl_vector_alloc(m->unknowns),
                 .change = gsl_vector_alloc(m->unknowns)};
    if (!t->data || !t->inverse || !t->right || !t->change)
        return false;
    data_normal(m, t->data);
    return true;
}

static void trial_free(trial *t)
{
    if (t->data)
        gsl_matrix_free(t->data);
    if (t->inverse)
        gsl_matrix_free(t->inverse);
    if (t->right)
        gsl_vector_free(t->right);
    if (t->change)
        gsl_vector_free(t->change);
}

/* (J'J + P'P) change = -(J'r + P'P x). */
static bool trial_solve(trial *t, const problem *m)
{
    if (!penalised_inverse(m, t->data, t->inverse))
        return false;
    gsl_vector_set_zero(t->right);
    for (size_t i = 0; i < penalty_count(m); i++) {
        const penalty p = penalty_at(m, i);
        const double value = penalty_value(&p, t->x);
        for (size_t k = 0; k < p.count; k++)
            *gsl_vector_ptr(t->right, p.at[k]) -= value * p.factor[k];
    }
    for (size_t i = 0; i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        gsl_vector_const_view j = gsl_matrix_const_row(m->slope, i);
        if (!r->left_out)
            gsl_blas_daxpy(-(m->predicted[i] - r->value) / r->sigma, &j.vector, t->right);
    }
    gsl_blas_dsymv(CblasLower, 1, t->inverse, t->right, 0, t->change);
    return true;
}

/* GCV over the readings that see the curve. */
static double cross_validation(trial *t, const problem *m, int which)
{
    if (!trial_solve(t, m))
        return HUGE_VAL;
    double squares = 0, trace = 0, n = 0;
    for (size_t i = 0; i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        if (r->left_out || (which == CURVE_GJ) != (r->kind == CABER_READ_TWIST))
            continue;
        gsl_vector_const_view j = gsl_matrix_const_row(m->slope, i);
        double change;
        gsl_blas_ddot(&j.vector, t->change, &change);
        const double residual = (m->predicted[i] - r->value) / r->sigma + change;
        squares += residual * residual;
        trace += quadratic(m, t->inverse, i);
        n++;
    }
    return n - trace > 0.5 ? n * squares / ((n - trace) * (n - trace)) : HUGE_VAL;
}

/* Sets the curve's smoothness to the least GCV on a grid of quarter decades; returns whether it
 * changed. */
static bool choose_smoothness(problem *m, const gsl_vector *x, int which)
{
    enum { STEPS = 16 };
    curve *c = &m->curve[which];
    const double before = c->smooth;
    double best = before, least = HUGE_VAL;
    trial t;
    if (trial_create(&t, m, x))
        for (int step = 0; step < STEPS; step++) {
            c->smooth = pow(10, -step / 4.0) / (bend_prior * bend_prior);
            const double value = cross_validation(&t, m, which);
            if (value < least) {
                least = value;
                best = c->smooth;
            }
        }
    trial_free(&t);
    c->smooth = best;
    return fabs(log(best / before)) > 1e-9;
}

/* ------------------------------------------------------------------ the solver */

static caber_status solve_once(problem *m, gsl_vector *x)
{
    gsl_multifit_nlinear_parameters settings = gsl_multifit_nlinear_default_parameters();
    gsl_multifit_nlinear_fdf fdf = {
        .f = residuals, .df = slopes, .n = m->rows, .p = m->unknowns, .params = m};
    gsl_multifit_nlinear_workspace *w =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &settings, m->rows, m->unknowns);
    if (!w)
        return message_set(m->message, CABER_NO_MEMORY, "out of memory");
    int info = 0;
    int code = gsl_multifit_nlinear_init(x, &fdf, w);
    if (code == GSL_SUCCESS)
        code = gsl_multifit_nlinear_driver(ITERATIONS, 1e-7, 1e-7, 0, NULL, NULL, &info, w);
    gsl_vector_memcpy(x, gsl_multifit_nlinear_position(w));
    gsl_multifit_nlinear_free(w);
    if (m->status != CABER_OK && m->status != CABER_NOT_CONVERGED)
        return m->status;
    /* No further progress is an end as good as any: the last digits are rounding. */
    if (code != GSL_SUCCESS && code != GSL_ENOPROG)
        return message_set(m->message, CABER_NOT_CONVERGED,
                           "no profile was found that follows the readings (%s)",
                           gsl_strerror(code));
    return evaluate(m, x);
}

static caber_status solve(problem *m, gsl_vector *x)
{
    for (int round = 0; round < ROUNDS; round++) {
        const caber_status status = solve_once(m, x);
        if (status != CABER_OK)
            return status;
        const bool ei = choose_smoothness(m, x, CURVE_EI);
        const bool gj = choose_smoothness(m, x, CURVE_GJ);
        if (!ei && !gj)
            return CABER_OK;
    }
    return solve_once(m, x);
}

/* ------------------------------------------------------------------ setting up */

static bool curve_create(curve *c, size_t pieces, double length, size_t *unknowns)
{
    c->spline = gsl_bspline_alloc(ORDER, pieces + 1);
    if (!c->spline || gsl_bspline_knots_uniform(0, length, c->spline) != GSL_SUCCESS)
        return false;
    c->first = *unknowns;
    c->count = gsl_bspline_ncoeffs(c->spline);
    c->smooth = 1;
    *unknowns += c->count;
    return true;
}

/* Diameters between the callipers' readings, straight between two, level beyond the ends. */
static double diameter_at(const caber_readings *r, double at)
{
    const caber_calliper *c = r->callipers;
    size_t i = 0;
    if (at <= c[0].at)
        return c[0].diameter;
    while (i + 1 < r->calliper_count && c[i + 1].at < at)
        i++;
    if (i + 1 == r->calliper_count)
        return c[i].diameter;
    const double part = (at - c[i].at) / (c[i + 1].at - c[i].at);
    return c[i].diameter + part * (c[i + 1].diameter - c[i].diameter);
}

static bool stations_create(problem *m)
{
    const caber_readings *r = m->readings;
    const size_t n = (size_t)ceil(r->length / r->pitch - 1e-9) + 1;
    m->shaft = (caber_shaft){.length = r->length, .density = r->density, .damping = r->damping};
    memcpy(m->shaft.name, r->name, sizeof m->shaft.name);
    m->shaft.stations = calloc(n, sizeof(caber_station));
    m->basis = calloc(n * m->unknowns, sizeof(double));
    m->seen = calloc(2 * n, sizeof(double));
    if (!m->shaft.stations || !m->basis || !m->seen)
        return false;
    m->shaft.station_count = n;
    for (size_t i = 0; i < n; i++) {
        const double at = i + 1 == n ? r->length : r->length * (double)i / (double)(n - 1);
        m->shaft.stations[i].at = at;
        m->shaft.stations[i].diameter = diameter_at(r, at);
        for (int k = 0; k < CURVES; k++)
            add_basis(m, k, at, 1, m->basis + i * m->unknowns);
    }
    return true;
}

/* Whether loads lie in three directions or more, at least 20 deg apart: two cannot tell the size of
 * a difference from its direction. A direction and its opposite are one. */
static bool oriented(const caber_readings *r)
{
    static const double half_turn = 3.14159265358979323846, apart = 0.35;
    double found[3];
    int n = 0;
    for (size_t i = 0; i < r->count && n < 3; i++) {
        const caber_reading *q = &r->items[i];
        if (!bends(q->kind) || isnan(q->orientation) || q->left_out)
            continue;
        bool other = true;
        for (int k = 0; k < n; k++) {
            const double turn = fabs(remainder(q->orientation - found[k], half_turn));
            other = other && turn > apart;
        }
        if (other)
            found[n++] = q->orientation;
    }
    return n == 3;
}

static bool problem_create(problem *m, const caber_readings *r, caber_message *message)
{
    m->readings = r;
    m->message = message;
    m->oriented = oriented(r);
    const size_t pieces = (size_t)fmax(ceil(r->length / r->knot - 1e-9), 2);
    if (!curve_create(&m->curve[CURVE_EI], pieces, r->length, &m->unknowns) ||
        !curve_create(&m->curve[CURVE_GJ], pieces, r->length, &m->unknowns) ||
        !curve_create(&m->curve[CURVE_MASS], MASS_PIECES, r->length, &m->unknowns))
        return false;
    m->curve[CURVE_MASS].smooth = 1 / (mass_bend_prior * mass_bend_prior);
    m->first_principal = m->unknowns;
    m->unknowns += m->oriented ? 2 : 0;
    for (size_t i = 0; i < r->count; i++)
        m->used += !r->items[i].left_out;
    m->rows = m->used + penalty_count(m);
    m->predicted = calloc(r->count, sizeof(double));
    m->slope = gsl_matrix_calloc(r->count, m->unknowns);
    m->at = gsl_vector_calloc(m->unknowns);
    m->hat = calloc(m->unknowns, sizeof(double));
    return m->predicted && m->slope && m->at && m->hat && stations_create(m);
}

static void problem_free(problem *m)
{
    for (int k = 0; k < CURVES; k++)
        if (m->curve[k].spline)
            gsl_bspline_free(m->curve[k].spline);
    if (m->slope)
        gsl_matrix_free(m->slope);
    if (m->at)
        gsl_vector_free(m->at);
    reading_weights_free(&m->weights);
    free(m->shaft.stations);
    free(m->basis);
    free(m->seen);
    free(m->predicted);
    free(m->hat);
}

/* A level shaft that the readings agree with on average: static readings go like 1/EI or 1/GJ. */
static caber_status start(problem *m, gsl_vector *x)
{
    const caber_readings *r = m->readings;
    double sum[CURVES] = {0}, count[CURVES] = {0}, mass = 0.06;
    for (size_t i = 0; i < r->count; i++)
        if (r->items[i].kind == CABER_READ_MASS && !r->items[i].left_out)
            mass = r->items[i].value;
    gsl_vector_set_zero(x);
    for (int k = 0; k < CURVES; k++)
        for (size_t j = 0; j < m->curve[k].count; j++)
            gsl_vector_set(x, m->curve[k].first + j,
                           k == CURVE_MASS ? log(mass / r->length) : log(20));
    const caber_status status = evaluate(m, x);
    for (size_t i = 0; status == CABER_OK && i < r->count; i++) {
        const caber_reading *q = &r->items[i];
        const int k = q->kind == CABER_READ_TWIST ? CURVE_GJ : CURVE_EI;
        const bool fixed = q->kind == CABER_READ_MASS || q->kind == CABER_READ_BALANCE;
        if (q->left_out || fixed)
            continue;
        /* A frequency goes like the root of EI. */
        const double power = q->kind == CABER_READ_FREQUENCY ? -2 : 1;
        sum[k] += power * log(m->predicted[i] / q->value);
        count[k] += 1;
    }
    for (int k = 0; status == CABER_OK && k < CURVE_MASS; k++)
        for (size_t j = 0; count[k] > 0 && j < m->curve[k].count; j++)
            gsl_vector_set(x, m->curve[k].first + j, log(20) + sum[k] / count[k]);
    return status;
}

/* ------------------------------------------------------------------ what comes out */

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory for the profile");
}

/* Standard deviation of a curve at a station. */
static double deviation(const problem *m, const gsl_matrix *c, int which, size_t station)
{
    gsl_vector_view row = gsl_vector_view_array(m->hat, m->unknowns);
    gsl_vector_set_zero(&row.vector);
    for (size_t j = m->curve[which].first; j < m->curve[which].first + m->curve[which].count; j++)
        m->hat[j] = m->basis[station * m->unknowns + j];
    gsl_vector *y = gsl_vector_alloc(m->unknowns);
    if (!y)
        return NAN;
    double sum;
    gsl_blas_dsymv(CblasLower, 1, c, &row.vector, 0, y);
    gsl_blas_ddot(&row.vector, y, &sum);
    gsl_vector_free(y);
    return sqrt(sum);
}

static void fill_bands(const problem *m, const gsl_matrix *c, caber_fit *out)
{
    const double least = 1 / (seen_change * seen_change);
    const size_t n = m->shaft.station_count;
    for (size_t i = 0; i < n; i++)
        out->band[i] = (caber_band){.ei = deviation(m, c, CURVE_EI, i),
                                    .gj = deviation(m, c, CURVE_GJ, i),
                                    .mass = deviation(m, c, CURVE_MASS, i),
                                    .bend_unseen = m->seen[i] < least,
                                    .twist_unseen = m->seen[n + i] < least};
}

static void fill_residuals(const problem *m, const gsl_matrix *c, caber_fit *out)
{
    for (size_t i = 0; i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        const double h = quadratic(m, c, i) / (out->widened * out->widened);
        const double off = (r->value - m->predicted[i]) / r->sigma;
        const double variance = r->left_out ? 1 + h : fmax(1 - h, 1e-9);
        out->residual[i] =
            (caber_residual){m->predicted[i], off / sqrt(variance), r->left_out ? 0 : h};
    }
}

static void fill_principal(const problem *m, const gsl_matrix *c, const gsl_vector *x,
                           caber_fit *out)
{
    out->oriented = m->oriented;
    if (!m->oriented)
        return;
    const size_t k = m->first_principal;
    const double p = gsl_vector_get(x, k), q = gsl_vector_get(x, k + 1), e = hypot(p, q);
    const double pp = gsl_matrix_get(c, k, k), qq = gsl_matrix_get(c, k + 1, k + 1),
                 pq = gsl_matrix_get(c, k + 1, k);
    out->ratio = expm1(2 * e);
    out->angle = atan2(q, p) / 2;
    /* Along and across (p, q). */
    const double u = e > 0 ? p / e : 1, v = e > 0 ? q / e : 0;
    out->ratio_sd = 2 * exp(2 * e) * sqrt(u * u * pp + 2 * u * v * pq + v * v * qq);
    const double across = sqrt(v * v * pp - 2 * u * v * pq + u * u * qq);
    out->angle_sd = fmin(across / (2 * fmax(e, 1e-12)), 3.14159265358979323846 / 2);
}

/* The covariance of the three logarithms at the stations as independent components, the largest
 * first, down to a thousandth of the largest standard deviation. */
static caber_status fill_errors(const problem *m, const gsl_matrix *c, caber_fit *out,
                                caber_message *message)
{
    const size_t n = m->shaft.station_count, p = m->unknowns;
    gsl_matrix *root = gsl_matrix_alloc(p, p), *t = gsl_matrix_calloc(CURVES * n, p),
               *u = gsl_matrix_alloc(CURVES * n > p ? CURVES * n : p, p),
               *v = gsl_matrix_alloc(p, p);
    gsl_vector *s = gsl_vector_alloc(p), *scratch = gsl_vector_alloc(p);
    caber_errors *e = &out->shaft.errors;
    bool good = root && t && u && v && s && scratch;
    if (good) {
        gsl_matrix_memcpy(root, c);
        good = gsl_linalg_cholesky_decomp1(root) == GSL_SUCCESS;
        for (size_t i = 0; i < n; i++)
            for (int k = 0; k < CURVES; k++)
                for (size_t j = 0; j < m->curve[k].count; j++) {
                    const size_t at = m->curve[k].first + j;
                    gsl_matrix_set(t, CURVES * i + (size_t)k, at, m->basis[i * p + at]);
                }
        /* u = t root, with rows of zeros where there are fewer rows than columns. */
        gsl_matrix_set_zero(u);
        gsl_matrix_view top = gsl_matrix_submatrix(u, 0, 0, CURVES * n, p);
        gsl_matrix_memcpy(&top.matrix, t);
        gsl_blas_dtrmm(CblasRight, CblasLower, CblasNoTrans, CblasNonUnit, 1, root, &top.matrix);
        good = good && gsl_linalg_SV_decomp(u, v, s, scratch) == GSL_SUCCESS;
    }
    if (good) {
        while (e->count < p && gsl_vector_get(s, e->count) > 1e-3 * gsl_vector_get(s, 0))
            e->count++;
        e->share = calloc(e->count * n * CURVES, sizeof *e->share);
        good = e->share != NULL;
        for (size_t k = 0; good && k < e->count; k++)
            for (size_t i = 0; i < CURVES * n; i++)
                e->share[k * CURVES * n + i] = gsl_vector_get(s, k) * gsl_matrix_get(u, i, k);
    }
    gsl_matrix *matrices[] = {root, t, u, v};
    for (size_t i = 0; i < 4; i++)
        if (matrices[i])
            gsl_matrix_free(matrices[i]);
    if (s)
        gsl_vector_free(s);
    if (scratch)
        gsl_vector_free(scratch);
    return good ? CABER_OK : no_memory(message);
}

/* ------------------------------------------------------------------ whether to believe it */

/* Writes "0-35 mm and 1090-1168 mm": where a property was not seen. Returns the share of the shaft. */
static double unseen(const caber_fit *f, bool twist, char *text, size_t size)
{
    const size_t n = f->shaft.station_count;
    size_t used = 0, gone = 0;
    text[0] = '\0';
    for (size_t i = 0; i < n; i++) {
        if (!(twist ? f->band[i].twist_unseen : f->band[i].bend_unseen))
            continue;
        size_t j = i;
        while (j + 1 < n && (twist ? f->band[j + 1].twist_unseen : f->band[j + 1].bend_unseen))
            j++;
        const int k = snprintf(text + used, size - used, "%s%.0f-%.0f mm", used ? ", " : "",
                               1e3 * f->shaft.stations[i].at, 1e3 * f->shaft.stations[j].at);
        used = k > 0 && used + (size_t)k < size ? used + (size_t)k : used;
        gone += j - i + 1;
        i = j;
    }
    return (double)gone / (double)n;
}

static caber_status check_seen(const caber_fit *f, caber_message *message)
{
    /* More than this of the shaft guessed is no measured profile. */
    const double most = 0.4;
    for (int twist = 0; twist < 2; twist++) {
        char where[300];
        if (unseen(f, twist, where, sizeof where) > most)
            return message_set(message, CABER_BAD_INPUT,
                               "the readings see too little of %s: none would tell a fifth more or "
                               "less at %s from the tip; add %s there",
                               twist ? "GJ" : "EI", where,
                               twist ? "twist readings with clamp and lever on either side"
                                     : "spans or cantilevers that bend the shaft");
    }
    return CABER_OK;
}

/* Writes the readings that are furthest off: "a.csv, line 16 (-6.2 sigma)". */
static void worst(const caber_readings *r, const caber_fit *f, char *text, size_t size)
{
    double below = HUGE_VAL;
    size_t used = 0;
    text[0] = '\0';
    for (int k = 0; k < 3; k++) {
        size_t best = r->count;
        for (size_t i = 0; i < r->count; i++) {
            const double off = fabs(f->residual[i].sigmas);
            if (!r->items[i].left_out && off < below &&
                (best == r->count || off > fabs(f->residual[best].sigmas)))
                best = i;
        }
        if (best == r->count)
            return;
        below = fabs(f->residual[best].sigmas);
        char title[2 * CABER_NAME_SIZE];
        reading_title(r, best, title, sizeof title);
        const int n = snprintf(text + used, size - used, "%s%s (%+.1f sigma)", k ? "; " : "", title,
                               f->residual[best].sigmas);
        used = n > 0 && used + (size_t)n < size ? used + (size_t)n : used;
    }
}

static caber_status check_agreement(const caber_readings *r, const caber_fit *f,
                                    caber_message *message)
{
    if (f->widened <= conflict)
        return CABER_OK;
    char text[600];
    worst(r, f, text, sizeof text);
    return message_set(
        message, CABER_BAD_INPUT,
        "the readings contradict each other: they scatter by %.1f times their stated "
        "errors about the best profile. Furthest off: %s. Check them, leave them "
        "out, or state larger errors",
        f->widened, text);
}

/* ------------------------------------------------------------------ checks before the fit */

static size_t count_kind(const caber_readings *r, bool twist)
{
    size_t n = 0;
    for (size_t i = 0; i < r->count; i++) {
        const caber_reading *q = &r->items[i];
        const bool wanted = twist ? q->kind == CABER_READ_TWIST
                                  : q->kind == CABER_READ_SPAN || q->kind == CABER_READ_CANTILEVER;
        n += wanted && !q->left_out;
    }
    return n;
}

static caber_status check_readings(const caber_readings *r, caber_message *message)
{
    enum { LEAST = 3 };
    const struct {
        const char *name;
        double value, low, high;
    } rule[] = {{"length", r->length, 0.3, 3},
                {"density", r->density, 500, 20000},
                {"damping", r->damping, 0, 0.5},
                {"pitch", r->pitch, 0.005, 0.2},
                {"knot", r->knot, 0.02, 1}};
    for (size_t i = 0; i < sizeof rule / sizeof rule[0]; i++)
        if (!(rule[i].value >= rule[i].low && rule[i].value <= rule[i].high))
            return message_set(message, CABER_BAD_INPUT,
                               "readings: a %s of %g is not allowed; it must be from %g to %g",
                               rule[i].name, rule[i].value, rule[i].low, rule[i].high);
    if (r->calliper_count < 1)
        return message_set(message, CABER_BAD_INPUT,
                           "readings: at least one outside diameter is needed");
    for (size_t i = 0; i < r->calliper_count; i++)
        if (!(r->callipers[i].diameter >= 0.002 && r->callipers[i].diameter <= 0.1) ||
            (i > 0 && !(r->callipers[i].at > r->callipers[i - 1].at)))
            return message_set(message, CABER_BAD_INPUT,
                               "readings: diameter %zu of %g mm at %g mm is not allowed; diameters "
                               "are from 2 to 100 mm, at ascending places",
                               i + 1, 1e3 * r->callipers[i].diameter, 1e3 * r->callipers[i].at);
    for (size_t i = 0; i < r->count; i++) {
        const caber_status status = reading_check(r, &r->items[i], message);
        if (status != CABER_OK)
            return status;
    }
    bool weighed = false;
    for (size_t i = 0; i < r->count; i++)
        weighed = weighed || (r->items[i].kind == CABER_READ_MASS && !r->items[i].left_out);
    if (!weighed)
        return message_set(message, CABER_BAD_INPUT,
                           "readings: the shaft's mass is needed; no other reading tells it");
    for (int twist = 0; twist < 2; twist++)
        if (count_kind(r, twist) < LEAST)
            return message_set(
                message, CABER_BAD_INPUT,
                "readings: %zu %s are too few for a profile; at least %d are needed, "
                "spread over the shaft",
                count_kind(r, twist), twist ? "twist readings" : "spans and cantilevers", LEAST);
    return CABER_OK;
}

/* ------------------------------------------------------------------ all of it */

static caber_status finish(problem *m, const gsl_vector *x, caber_fit *f, caber_message *message)
{
    gsl_matrix *c = gsl_matrix_alloc(m->unknowns, m->unknowns);
    gsl_matrix *data = gsl_matrix_alloc(m->unknowns, m->unknowns);
    bool good = c && data;
    if (good) {
        data_normal(m, data);
        good = penalised_inverse(m, data, c);
    }
    if (data)
        gsl_matrix_free(data);
    if (!good) {
        if (c)
            gsl_matrix_free(c);
        return message_set(message, CABER_NOT_CONVERGED,
                           "the errors of the profile were not found");
    }
    for (size_t i = 0; i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        if (r->left_out)
            continue;
        const double off = (m->predicted[i] - r->value) / r->sigma;
        f->chi_square += off * off;
        f->parameters += quadratic(m, c, i);
    }
    f->used = m->used;
    const double freedom = (double)f->used - f->parameters;
    f->widened = fmax(1, sqrt(f->chi_square / fmax(freedom, 1)));
    gsl_matrix_scale(c, f->widened * f->widened);
    f->smooth_ei = m->curve[CURVE_EI].smooth;
    f->smooth_gj = m->curve[CURVE_GJ].smooth;
    set_stations(m, x);
    f->shaft = m->shaft;
    m->shaft.stations = NULL; /* handed over */
    fill_bands(m, c, f);
    fill_residuals(m, c, f);
    fill_principal(m, c, x, f);
    const caber_status status = fill_errors(m, c, f, message);
    gsl_matrix_free(c);
    return status;
}

static caber_status run(problem *m, caber_fit *f, caber_message *message)
{
    f->band = calloc(m->shaft.station_count, sizeof *f->band);
    f->residual = calloc(m->readings->count, sizeof *f->residual);
    gsl_vector *x = gsl_vector_alloc(m->unknowns);
    if (!f->band || !f->residual || !x) {
        if (x)
            gsl_vector_free(x);
        return no_memory(message);
    }
    caber_status status = start(m, x);
    if (status == CABER_OK)
        status = solve(m, x);
    if (status == CABER_OK)
        status = finish(m, x, f, message);
    gsl_vector_free(x);
    if (status == CABER_OK)
        status = check_seen(f, message);
    return status == CABER_OK ? check_agreement(m->readings, f, message) : status;
}

caber_status caber_fit_run(const caber_readings *readings, caber_fit **out, caber_message *message)
{
    *out = NULL;
    gsl_set_error_handler_off();
    caber_status status = check_readings(readings, message);
    if (status != CABER_OK)
        return status;
    problem m = {0};
    caber_fit *f = calloc(1, sizeof *f);
    status = f && problem_create(&m, readings, message) ? run(&m, f, message) : no_memory(message);
    problem_free(&m);
    if (status != CABER_OK) {
        caber_fit_free(f);
        return status;
    }
    *out = f;
    return message_clear(message);
}

void caber_fit_free(caber_fit *fit)
{
    if (!fit)
        return;
    free(fit->shaft.stations);
    free(fit->shaft.errors.share);
    free(fit->band);
    free(fit->residual);
    free(fit);
}

void caber_readings_free(caber_readings *readings)
{
    if (!readings)
        return;
    free(readings->items);
    free(readings->callipers);
    free(readings);
}
