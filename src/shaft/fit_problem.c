/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_errno.h>

#include "base/message.h"
#include "shaft/fit.h"

static const double pi = 3.14159265358979323846;
/* Assumptions of ours, see fit.h. */
static const double mass_bend_prior = 0.04, mass_slope_prior = 0.3, slope_prior = 3,
                    principal_prior = 0.2, unseen_prior = 1e-3;
/* m: a property is seen at a place when a change of it within this on either side is. */
static const double hat_width = 0.04;
enum { MASS_PIECES = 5 };

bool fit_twists(const caber_reading *r)
{
    return r->kind == CABER_READ_TWIST;
}

static bool bends(const caber_reading *r)
{
    return r->kind == CABER_READ_SPAN || r->kind == CABER_READ_CANTILEVER ||
           r->kind == CABER_READ_FREQUENCY;
}

/* ------------------------------------------------------------------ profile from unknowns */

/* exp(S) = cosh(e) I + sinh(e)/e S; its derivatives by the chain rule, with
 * d(cosh e)/dp = p sinh(e)/e and d(sinh(e)/e)/dp = p (cosh e - sinh(e)/e)/e^2. */
static fit_principal principal_of(double p, double q)
{
    fit_principal out = {.e = hypot(p, q), .angle = atan2(q, p) / 2};
    const double e = out.e, e2 = e * e;
    const double c = cosh(e), s = e > 1e-4 ? sinh(e) / e : 1 + e2 / 6;
    const double t = e > 1e-2 ? (c - s) / e2 : 1.0 / 3 + e2 / 30;
    const double unit[2][2] = {{1, 0}, {0, 1}}; /* dS/dp, dS/dq: vv (ww = -vv), vw */
    const double x[2] = {p, q};
    out.exponent[0] = c + s * p;
    out.exponent[1] = c - s * p;
    out.exponent[2] = s * q;
    for (int k = 0; k < 2; k++) {
        out.change[k][0] = x[k] * s + x[k] * t * p + s * unit[k][0];
        out.change[k][1] = x[k] * s - x[k] * t * p - s * unit[k][0];
        out.change[k][2] = x[k] * t * q + s * unit[k][1];
    }
    return out;
}

fit_principal fit_principal_at(const fit_problem *m, const gsl_vector *x)
{
    return m->directions ? principal_of(gsl_vector_get(x, m->first_principal),
                                        gsl_vector_get(x, m->first_principal + 1))
                         : principal_of(0, 0);
}

static double log_at_station(const fit_problem *m, const gsl_vector *x, int which, size_t station)
{
    const fit_curve *c = &m->curve[which];
    const double *row = m->basis + station * m->unknowns;
    double sum = 0;
    for (size_t j = c->first; j < c->first + c->count; j++)
        sum += row[j] * gsl_vector_get(x, j);
    return sum;
}

static void set_stations(fit_problem *m, const gsl_vector *x, const fit_principal *two)
{
    for (size_t i = 0; i < m->shaft.station_count; i++) {
        caber_station *s = &m->shaft.stations[i];
        const double ei = exp(log_at_station(m, x, FIT_EI, i));
        s->ei = ei * exp(two->e);
        s->ei_2 = m->directions ? ei * exp(-two->e) : 0;
        s->ei_angle = m->directions ? two->angle : 0;
        s->gj = exp(log_at_station(m, x, FIT_GJ, i));
        s->mass = exp(log_at_station(m, x, FIT_MASS, i));
    }
}

/* ------------------------------------------------------------------ predictions */

/* The nonzero splines of a curve at a place. */
static void spline_at(const fit_problem *m, int which, double at, size_t *first,
                      double value[FIT_ORDER])
{
    size_t last;
    gsl_vector_view v = gsl_vector_view_array(value, FIT_ORDER);
    gsl_bspline_eval_nonzero(fmin(fmax(at, 0), m->readings->length), &v.vector, first, &last,
                             m->curve[which].spline);
}

/* The places of a reading's weights stay where they are, so what the splines are there is kept. */
static bool places_keep(fit_problem *m, size_t reading)
{
    if (m->place[reading])
        return m->place_count[reading] == m->weights.count;
    fit_place *place = calloc(m->weights.count + 1, sizeof *place);
    if (!place)
        return false;
    for (size_t i = 0; i < m->weights.count; i++) {
        const double at = m->weights.items[i].at;
        const double part = at / m->readings->length * (double)(m->hats - 1);
        spline_at(m, FIT_EI, at, &place[i].first[0], place[i].value[0]);
        spline_at(m, FIT_MASS, at, &place[i].first[1], place[i].value[1]);
        place[i].hat = (size_t)fmin(fmax(floor(part), 0), (double)m->hats - 2);
        place[i].part = fmin(fmax(part - (double)place[i].hat, 0), 1);
    }
    m->place[reading] = place;
    m->place_count[reading] = m->weights.count;
    return true;
}

static void add_spline(const fit_curve *c, const fit_place *place, int which, double scale,
                       double *slope)
{
    for (size_t k = 0; k < FIT_ORDER; k++)
        slope[c->first + place->first[which] + k] += scale * place->value[which][k];
}

/* The row of the reading's derivatives over sigma, from the weights that its prediction left; and what it
 * tells of each place alone: of a change of the shape of a hat. */
static void differentiate(fit_problem *m, const fit_principal *two, size_t index)
{
    const caber_reading *r = &m->readings->items[index];
    double *row = m->scratch, *local = m->scratch + m->unknowns;
    memset(m->scratch, 0, (m->unknowns + m->hats) * sizeof *row);
    const bool twists = fit_twists(r);
    for (size_t i = 0; i < m->weights.count; i++) {
        const reading_weight *w = &m->weights.items[i];
        const fit_place *place = &m->place[index][i];
        double change = w->twist;
        for (int k = 0; k < 3; k++)
            change += w->bend[k] * two->exponent[k];
        add_spline(&m->curve[twists ? FIT_GJ : FIT_EI], place, 0, change, row);
        if (w->mass != 0)
            add_spline(&m->curve[FIT_MASS], place, 1, w->mass, row);
        local[place->hat] += (1 - place->part) * change;
        local[place->hat + 1] += place->part * change;
        for (int d = 0; m->directions && d < 2; d++)
            for (int k = 0; k < 3; k++)
                row[m->first_principal + d] += w->bend[k] * two->change[d][k];
    }
    for (size_t j = 0; j < m->unknowns; j++)
        gsl_matrix_set(m->slope, index, j, row[j] / m->sigma[index]);
    for (size_t j = 0; j < m->hats && !r->left_out; j++)
        m->seen[(twists ? m->hats : 0) + j] +=
            local[j] * local[j] / (m->sigma[index] * m->sigma[index]);
}

static caber_status predict(fit_problem *m, const profile *p, const fit_principal *two,
                            size_t index, reading_jig *jig)
{
    caber_status status =
        reading_predict_on(jig, p, m->readings->length, &m->readings->items[index],
                           &m->predicted[index], &m->weights, m->message);
    if (status == CABER_OK && !places_keep(m, index))
        status = message_set(m->message, CABER_NO_MEMORY, "out of memory for the readings");
    if (status == CABER_OK)
        differentiate(m, two, index);
    return status;
}

caber_status fit_evaluate(fit_problem *m, const gsl_vector *x, int which)
{
    for (size_t j = 0; j < m->unknowns; j++)
        if (!(fabs(gsl_vector_get(x, j)) < 30))
            return CABER_NOT_CONVERGED; /* a step into the void; the solver refuses it */
    const fit_principal two = fit_principal_at(m, x);
    set_stations(m, x, &two);
    profile *p = NULL;
    reading_jig jig = {.all = m->readings};
    caber_status status = profile_create(&m->shaft, NULL, &p, m->message);
    memset(m->seen + (which == FIT_GJ ? m->hats : 0), 0, m->hats * sizeof *m->seen);
    for (size_t i = 0; status == CABER_OK && i < m->readings->count; i++)
        if (fit_twists(&m->readings->items[m->order[i]]) == (which == FIT_GJ))
            status = predict(m, p, &two, m->order[i], &jig);
    reading_jig_free(&jig);
    profile_free(p);
    return status;
}

/* To first order the compliance varies over the directions as 1 - e cos, a frequency half as much: e/sqrt 2. */
bool fit_set_sigma(fit_problem *m, double e)
{
    bool changed = false;
    for (size_t i = 0; i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        const double part = r->kind == CABER_READ_FREQUENCY ? 0.5 : 1;
        if (!bends(r) || !isnan(r->orientation))
            continue;
        m->sigma[i] = hypot(r->sigma, part * e / sqrt(2) * m->predicted[i]);
        changed = true;
    }
    return changed;
}

/* ------------------------------------------------------------------ penalties */

size_t fit_penalty_count(const fit_problem *m)
{
    size_t n = FIT_CURVES + (m->directions ? 2 : 0);
    for (int k = 0; k < FIT_CURVES; k++)
        n += m->curve[k].count - 2;
    return n;
}

/* Number i: second differences and slope of the three curves, then p and q, turned to the difference
 * that two directions see and the one across. */
fit_penalty fit_penalty_at(const fit_problem *m, size_t i)
{
    for (int k = 0; k < FIT_CURVES; k++) {
        const fit_curve *c = &m->curve[k];
        if (i < c->count - 2) {
            const size_t j = c->first + i;
            const double w = 1 / (c->bend * c->local[i]);
            return (fit_penalty){3, {j, j + 1, j + 2}, {w, -2 * w, w}};
        }
        i -= c->count - 2;
        if (i == 0) {
            const double w = 1 / (k == FIT_MASS ? mass_slope_prior : slope_prior);
            return (fit_penalty){2, {c->first, c->first + c->count - 1}, {-w, w}};
        }
        i--;
    }
    const double c = cos(m->direction), s = sin(m->direction);
    const size_t p = m->first_principal;
    if (i == 0)
        return (fit_penalty){2, {p, p + 1}, {c / principal_prior, s / principal_prior}};
    const double across = m->directions == 2 ? unseen_prior : principal_prior;
    return (fit_penalty){2, {p, p + 1}, {-s / across, c / across}};
}

double fit_penalty_value(const fit_penalty *p, const gsl_vector *x)
{
    double sum = 0;
    for (size_t k = 0; k < p->count; k++)
        sum += p->factor[k] * gsl_vector_get(x, p->at[k]);
    return sum;
}

/* ------------------------------------------------------------------ setting up */

static bool curve_create(fit_curve *c, size_t pieces, double length, size_t *unknowns)
{
    c->spline = gsl_bspline_alloc(FIT_ORDER, pieces + 1);
    if (!c->spline || gsl_bspline_knots_uniform(0, length, c->spline) != GSL_SUCCESS)
        return false;
    c->first = *unknowns;
    c->count = gsl_bspline_ncoeffs(c->spline);
    c->knot = length / (double)pieces;
    c->bend = mass_bend_prior;
    c->local = malloc(c->count * sizeof *c->local);
    for (size_t i = 0; c->local && i < c->count; i++)
        c->local[i] = 1;
    *unknowns += c->count;
    return c->local != NULL;
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

/* As asked for, and close enough to follow what the shortest span sees: within a fifth of it. */
static double knot_of(const caber_readings *r)
{
    static const double least = 0.02;
    double knot = r->knot;
    for (size_t i = 0; i < r->count; i++)
        if (r->items[i].kind == CABER_READ_SPAN && !r->items[i].left_out)
            knot = fmin(knot, (r->items[i].held_at - r->items[i].rest_at) / 5);
    return fmax(knot, fmin(least, r->knot));
}

/* To 0.01 mm, as it is written and printed. */
static double station_at(double at)
{
    return round(at * 1e5) / 100 / 1000;
}

static bool stations_create(fit_problem *m)
{
    const caber_readings *r = m->readings;
    /* Stations as close as knots: what follows the stations is then near enough what follows the splines for
     * the derivatives to be those of the splines. */
    const double pitch = fmin(r->pitch, knot_of(r));
    const size_t n = (size_t)ceil(r->length / pitch - 1e-9) + 1;
    m->shaft = (caber_shaft){.length = r->length, .density = r->density, .damping = r->damping};
    memcpy(m->shaft.name, r->name, sizeof m->shaft.name);
    m->shaft.stations = calloc(n, sizeof(caber_station));
    m->basis = calloc(n * m->unknowns, sizeof(double));
    if (!m->shaft.stations || !m->basis)
        return false;
    m->shaft.station_count = n;
    for (size_t i = 0; i < n; i++) {
        const double at =
            i + 1 == n ? r->length : station_at(r->length * (double)i / (double)(n - 1));
        m->shaft.stations[i].at = at;
        m->shaft.stations[i].diameter = diameter_at(r, at);
        for (int k = 0; k < FIT_CURVES; k++) {
            double value[FIT_ORDER];
            size_t first;
            spline_at(m, k, at, &first, value);
            for (size_t j = 0; j < FIT_ORDER; j++)
                m->basis[i * m->unknowns + m->curve[k].first + first + j] = value[j];
        }
    }
    return true;
}

/* Counts the directions that loads lie in, at least 20 deg apart, up to three; a direction and its opposite
 * are one. The compliance along o is to first order 1 - p cos 2o - q sin 2o: two see the difference along
 * (cos 2a - cos 2b, sin 2a - sin 2b), which is sin(b - a) times (sin(a + b), -cos(a + b)) twice over. */
static void find_directions(fit_problem *m)
{
    static const double apart = 0.35;
    double found[3];
    size_t n = 0;
    for (size_t i = 0; i < m->readings->count && n < 3; i++) {
        const caber_reading *r = &m->readings->items[i];
        if (!bends(r) || isnan(r->orientation) || r->left_out)
            continue;
        bool other = true;
        for (size_t k = 0; k < n; k++)
            other = other && fabs(remainder(r->orientation - found[k], pi)) > apart;
        if (other)
            found[n++] = r->orientation;
    }
    m->directions = n < 2 ? 0 : n;
    m->direction = n == 2 ? found[0] + found[1] - pi / 2 : 0;
}

typedef struct rank {
    const caber_reading *reading;
    size_t index;
} rank;

static int rank_compare(const void *a, const void *b)
{
    const rank *x = a, *y = b;
    const double key[2][3] = {{x->reading->held_at, x->reading->kind, x->reading->load},
                              {y->reading->held_at, y->reading->kind, y->reading->load}};
    for (int k = 0; k < 3; k++)
        if (key[0][k] != key[1][k])
            return key[0][k] < key[1][k] ? -1 : 1;
    return x->index < y->index ? -1 : 1;
}

/* Readings that share a beam, and those that share its modes, one after the other. */
static bool find_order(fit_problem *m)
{
    const caber_readings *r = m->readings;
    rank *ranks = malloc(r->count * sizeof *ranks);
    for (size_t i = 0; ranks && i < r->count; i++)
        ranks[i] = (rank){&r->items[i], i};
    if (ranks)
        qsort(ranks, r->count, sizeof *ranks, rank_compare);
    for (size_t i = 0; ranks && i < r->count; i++)
        m->order[i] = ranks[i].index;
    const bool good = ranks != NULL;
    free(ranks);
    return good;
}

static bool arrays_create(fit_problem *m)
{
    const size_t n = m->readings->count;
    m->hats = (size_t)ceil(m->readings->length / hat_width) + 1;
    m->predicted = calloc(n, sizeof(double));
    m->sigma = calloc(n, sizeof(double));
    m->order = calloc(n, sizeof *m->order);
    m->slope = gsl_matrix_calloc(n, m->unknowns);
    m->place_count = calloc(n, sizeof *m->place_count);
    m->place = calloc(n, sizeof *m->place);
    m->seen = calloc(2 * m->hats, sizeof(double));
    m->scratch = calloc(m->unknowns + m->hats, sizeof(double));
    return m->predicted && m->sigma && m->order && m->slope && m->place_count && m->place &&
           m->seen && m->scratch;
}

size_t fit_hat_of(const fit_problem *m, double at)
{
    return (size_t)fmin(fmax(floor(at / m->readings->length * (double)(m->hats - 1) + 0.5), 0),
                        (double)m->hats - 1);
}

bool fit_problem_create(fit_problem *m, const caber_readings *r, caber_message *message)
{
    *m = (fit_problem){.readings = r, .message = message};
    find_directions(m);
    const size_t pieces = (size_t)fmax(ceil(r->length / knot_of(r) - 1e-9), 2);
    bool good = curve_create(&m->curve[FIT_EI], pieces, r->length, &m->unknowns) &&
                curve_create(&m->curve[FIT_MASS], MASS_PIECES, r->length, &m->unknowns);
    m->first_principal = m->unknowns;
    m->unknowns += m->directions ? 2 : 0;
    good = good && curve_create(&m->curve[FIT_GJ], pieces, r->length, &m->unknowns) &&
           arrays_create(m) && stations_create(m) && find_order(m);
    for (size_t i = 0; good && i < r->count; i++) {
        m->used += !r->items[i].left_out;
        m->sigma[i] = r->items[i].sigma;
    }
    return good;
}

void fit_problem_free(fit_problem *m)
{
    for (int k = 0; k < FIT_CURVES; k++) {
        free(m->curve[k].local);
        if (m->curve[k].spline)
            gsl_bspline_free(m->curve[k].spline);
    }
    if (m->slope)
        gsl_matrix_free(m->slope);
    for (size_t i = 0; m->place && i < m->readings->count; i++)
        free(m->place[i]);
    reading_weights_free(&m->weights);
    free(m->shaft.stations);
    free(m->basis);
    free(m->sigma);
    free(m->order);
    free(m->predicted);
    free(m->place_count);
    free(m->place);
    free(m->seen);
    free(m->scratch);
}
