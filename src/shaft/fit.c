/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/fit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_blas.h>
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>

#include "base/message.h"

/* A local change of a property that readings must be able to tell for it to count as seen. */
static const double seen_change = 0.2;
/* Mean scatter in sigmas beyond which readings contradict each other. */
static const double conflict = 3;

/* ------------------------------------------------------------------ what comes out */

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory for the profile");
}

/* Six digits: more than the errors leave, and what is written is what was meant. */
static double rounded(double x)
{
    if (x == 0)
        return 0;
    const double digits = 5 - floor(log10(fabs(x)));
    const double scale = pow(10, fabs(digits));
    return digits >= 0 ? round(x * scale) / scale : round(x / scale) * scale;
}

/* Standard deviation of a curve at a station; y is scratch. */
static double deviation(const fit_problem *m, const gsl_matrix *c, int which, size_t station,
                        gsl_vector *y)
{
    const fit_curve *curve = &m->curve[which];
    gsl_vector_const_view row =
        gsl_vector_const_view_array(m->basis + station * m->unknowns + curve->first, curve->count);
    gsl_matrix_const_view part =
        gsl_matrix_const_submatrix(c, curve->first, curve->first, curve->count, curve->count);
    gsl_vector_view into = gsl_vector_subvector(y, 0, curve->count);
    double sum;
    gsl_blas_dsymv(CblasLower, 1, &part.matrix, &row.vector, 0, &into.vector);
    gsl_blas_ddot(&row.vector, &into.vector, &sum);
    return sqrt(sum);
}

static bool fill_bands(const fit_problem *m, const gsl_matrix *c, caber_fit *out)
{
    const double least = 1 / (seen_change * seen_change);
    gsl_vector *y = gsl_vector_alloc(m->unknowns);
    for (size_t i = 0; y && i < m->shaft.station_count; i++) {
        const size_t hat = fit_hat_of(m, m->shaft.stations[i].at);
        caber_band *band = &out->band[i];
        *band = (caber_band){.ei = deviation(m, c, FIT_EI, i, y),
                             .gj = deviation(m, c, FIT_GJ, i, y),
                             .mass = deviation(m, c, FIT_MASS, i, y)};
        band->bend_unseen = m->seen[hat] < least || band->ei > seen_change;
        band->twist_unseen = m->seen[m->hats + hat] < least || band->gj > seen_change;
    }
    if (y)
        gsl_vector_free(y);
    return y != NULL;
}

/* hat[reading] are the leverages. */
static void fill_residuals(const fit_problem *m, const double *hat, caber_fit *out)
{
    for (size_t i = 0; i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        const double off = (r->value - m->predicted[i]) / m->sigma[i];
        const double variance = r->left_out ? 1 + hat[i] : fmax(1 - hat[i], 1e-9);
        out->residual[i] =
            (caber_residual){m->predicted[i], off / sqrt(variance), r->left_out ? 0 : hat[i]};
    }
}

static void fill_principal(const fit_problem *m, const gsl_matrix *c, const gsl_vector *x,
                           caber_fit *out)
{
    out->oriented = m->directions > 2;
    if (!out->oriented)
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

/* t[station, property][unknowns] takes the unknowns to the logarithms of EI, GJ and mass, in the order of
 * caber_errors. */
static void fill_rows(const fit_problem *m, gsl_matrix *t)
{
    static const int order[FIT_CURVES] = {FIT_EI, FIT_GJ, FIT_MASS};
    gsl_matrix_set_zero(t);
    for (size_t i = 0; i < m->shaft.station_count; i++)
        for (size_t k = 0; k < FIT_CURVES; k++) {
            const fit_curve *c = &m->curve[order[k]];
            for (size_t j = c->first; j < c->first + c->count; j++)
                gsl_matrix_set(t, FIT_CURVES * i + k, j, m->basis[i * m->unknowns + j]);
        }
}

/* Components t v_k, v_k the eigenvectors of root' t' t root, the largest first. */
static bool components(gsl_matrix *t, const gsl_matrix *root, gsl_matrix *v, gsl_vector *squares)
{
    const size_t p = root->size1;
    gsl_matrix *square = gsl_matrix_calloc(p, p);
    gsl_eigen_symmv_workspace *w = gsl_eigen_symmv_alloc(p);
    bool good = square && w;
    if (good) {
        gsl_blas_dtrmm(CblasRight, CblasLower, CblasNoTrans, CblasNonUnit, 1, root, t);
        gsl_blas_dsyrk(CblasLower, CblasTrans, 1, t, 0, square);
        good = gsl_eigen_symmv(square, squares, v, w) == GSL_SUCCESS &&
               gsl_eigen_symmv_sort(squares, v, GSL_EIGEN_SORT_VAL_DESC) == GSL_SUCCESS;
    }
    if (square)
        gsl_matrix_free(square);
    if (w)
        gsl_eigen_symmv_free(w);
    return good;
}

static bool fill_shares(const gsl_matrix *t, const gsl_matrix *v, const gsl_vector *squares,
                        caber_errors *e)
{
    /* Down to a thousandth of the largest standard deviation. */
    const double least = 1e-6 * gsl_vector_get(squares, 0);
    while (e->count < squares->size && gsl_vector_get(squares, e->count) > least)
        e->count++;
    e->share = calloc(e->count * t->size1, sizeof *e->share);
    for (size_t k = 0; e->share && k < e->count; k++) {
        gsl_vector_view into = gsl_vector_view_array(e->share + k * t->size1, t->size1);
        gsl_vector_const_view column = gsl_matrix_const_column(v, k);
        gsl_blas_dgemv(CblasNoTrans, 1, t, &column.vector, 0, &into.vector);
        for (size_t i = 0; i < t->size1; i++)
            gsl_vector_set(&into.vector, i, rounded(gsl_vector_get(&into.vector, i)));
    }
    return e->share != NULL;
}

/* The covariance of the three logarithms at the stations as independent components. */
static bool fill_errors(const fit_problem *m, const gsl_matrix *c, caber_fit *out)
{
    const size_t p = m->unknowns;
    gsl_matrix *root = gsl_matrix_alloc(p, p), *v = gsl_matrix_alloc(p, p),
               *t = gsl_matrix_alloc(FIT_CURVES * m->shaft.station_count, p);
    gsl_vector *squares = gsl_vector_alloc(p);
    bool good = root && v && t && squares;
    if (good) {
        gsl_matrix_memcpy(root, c);
        fill_rows(m, t);
        good = gsl_linalg_cholesky_decomp1(root) == GSL_SUCCESS &&
               components(t, root, v, squares) && fill_shares(t, v, squares, &out->shaft.errors);
    }
    if (root)
        gsl_matrix_free(root);
    if (v)
        gsl_matrix_free(v);
    if (t)
        gsl_matrix_free(t);
    if (squares)
        gsl_vector_free(squares);
    return good;
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
    if (!((int)r->smoothness >= 0 && r->smoothness <= CABER_DISCREPANCY))
        return message_set(message, CABER_BAD_INPUT,
                           "readings: there is no such choice of smoothness");
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

static void fill_scatter(const fit_problem *m, const double *hat, caber_fit *f)
{
    f->used = m->used;
    for (size_t i = 0; i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        if (r->left_out)
            continue;
        const double off = (m->predicted[i] - r->value) / m->sigma[i];
        f->chi_square += off * off;
        f->parameters += hat[i];
    }
    f->widened = fmax(1, sqrt(f->chi_square / fmax((double)f->used - f->parameters, 1)));
    f->smooth_ei = 1 / (m->curve[FIT_EI].bend * m->curve[FIT_EI].bend);
    f->smooth_gj = 1 / (m->curve[FIT_GJ].bend * m->curve[FIT_GJ].bend);
}

static void round_stations(caber_shaft *shaft)
{
    /* In the units that they are written in. */
    static const double thousand = 1000, degree = 3.14159265358979323846 / 180;
    for (size_t i = 0; i < shaft->station_count; i++) {
        caber_station *s = &shaft->stations[i];
        s->ei = rounded(s->ei);
        s->ei_2 = rounded(s->ei_2);
        s->ei_angle = round(1e2 * (s->ei_angle / degree)) / 1e2 * degree;
        s->gj = rounded(s->gj);
        s->mass = rounded(thousand * s->mass) / thousand;
        s->diameter = rounded(thousand * s->diameter) / thousand;
    }
}

/* Fills f from the solution x; the stations are handed over. */
static caber_status finish(fit_problem *m, const gsl_vector *x, caber_fit *f,
                           caber_message *message)
{
    gsl_matrix *c = gsl_matrix_alloc(m->unknowns, m->unknowns);
    double *hat = calloc(m->readings->count, sizeof *hat);
    caber_status status = c && hat ? fit_covariance(m, x, c, hat) : no_memory(message);
    if (status == CABER_OK) {
        round_stations(&m->shaft);
        fill_scatter(m, hat, f);
        gsl_matrix_scale(c, f->widened * f->widened);
        fill_residuals(m, hat, f);
        fill_principal(m, c, x, f);
        const bool good = fill_bands(m, c, f) && fill_errors(m, c, f);
        const caber_errors errors = f->shaft.errors;
        f->shaft = m->shaft;
        f->shaft.errors = errors;
        m->shaft.stations = NULL;
        status = good ? CABER_OK : no_memory(message);
    }
    free(hat);
    if (c)
        gsl_matrix_free(c);
    return status;
}

static caber_status run(fit_problem *m, caber_fit *f, caber_message *message)
{
    f->band = calloc(m->shaft.station_count, sizeof *f->band);
    f->residual = calloc(m->readings->count, sizeof *f->residual);
    gsl_vector *x = gsl_vector_alloc(m->unknowns);
    caber_status status = f->band && f->residual && x ? fit_solve(m, x) : no_memory(message);
    if (status == CABER_OK)
        status = finish(m, x, f, message);
    if (x)
        gsl_vector_free(x);
    if (status == CABER_NOT_CONVERGED)
        return fit_conflict(m->readings, NULL, NAN, conflict, message);
    if (status == CABER_OK && f->widened > conflict)
        return fit_conflict(m->readings, f->residual, f->widened, conflict, message);
    return status == CABER_OK ? check_seen(f, message) : status;
}

caber_status caber_fit_run(const caber_readings *readings, caber_fit **out, caber_message *message)
{
    *out = NULL;
    gsl_set_error_handler_off();
    caber_status status = check_readings(readings, message);
    if (status != CABER_OK)
        return status;
    fit_problem m = {0};
    caber_fit *f = calloc(1, sizeof *f);
    status =
        f && fit_problem_create(&m, readings, message) ? run(&m, f, message) : no_memory(message);
    fit_problem_free(&m);
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
