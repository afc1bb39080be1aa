/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/modes.h"

#include <gsl/gsl_eigen.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"

enum { BLOCK = 3, REFINE_MODES = 6, REFINE_STEPS = 8 };
/* Aimed at, and still taken where rounding in a very fine mesh allows no better. */
static const double residual_aim = 1e-8, residual_allowed = 1e-6;
static const double refine_allowed = 1e-4;

/* The growing space: columns q (M-orthonormal), M q, and K^-1 M q. */
typedef struct krylov {
    size_t n, size, capacity;
    double *q, *mq, *kmq; /* [capacity][n] */
} krylov;

static double dot(size_t n, const double *a, const double *b)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

static void axpy(size_t n, double s, const double *x, double *y)
{
    for (size_t i = 0; i < n; i++)
        y[i] += s * x[i];
}

static bool krylov_create(krylov *k, size_t n, size_t capacity)
{
    *k = (krylov){.n = n, .capacity = capacity};
    k->q = malloc(capacity * n * sizeof(double));
    k->mq = malloc(capacity * n * sizeof(double));
    k->kmq = malloc(capacity * n * sizeof(double));
    return k->q && k->mq && k->kmq;
}

static void krylov_free(krylov *k)
{
    free(k->q);
    free(k->mq);
    free(k->kmq);
}

/* Adds vector x (destroyed) unless it lies in the space already. */
static void krylov_add(krylov *k, const beam *b, double *x)
{
    const size_t n = k->n;
    if (k->size == k->capacity)
        return;
    double *q = k->q + k->size * n, *mq = k->mq + k->size * n;
    beam_multiply(b, b->mass, x, mq);
    const double before = dot(n, x, mq);
    if (!(before > 0))
        return;
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < k->size; i++)
            axpy(n, -dot(n, k->mq + i * n, x), k->q + i * n, x);
    beam_multiply(b, b->mass, x, mq);
    const double after = dot(n, x, mq);
    if (!(after > 1e-24 * before))
        return;
    const double scale = 1 / sqrt(after);
    for (size_t i = 0; i < n; i++) {
        q[i] = scale * x[i];
        mq[i] *= scale;
    }
    double *kmq = k->kmq + k->size * n;
    memcpy(kmq, mq, n * sizeof(double));
    beam_solve(b, kmq);
    k->size++;
}

/* First block: the static shapes of unit end loads in each field. */
static void krylov_start(krylov *k, const beam *b, double *x)
{
    for (int field = 0; field < BLOCK; field++) {
        memset(x, 0, k->n * sizeof(double));
        beam_add_end_load(b, field == 0, field == 1, vec3_make(field == 2, 0, 0), x);
        beam_solve(b, x);
        krylov_add(k, b, x);
    }
}

static void krylov_grow(krylov *k, const beam *b, size_t from, double *x)
{
    for (size_t i = from, end = k->size; i < end; i++) {
        memcpy(x, k->kmq + i * k->n, k->n * sizeof(double));
        krylov_add(k, b, x);
    }
}

/* Eigenpairs of Q' M K^-1 M Q, descending; 1/omega^2 each. */
static caber_status ritz(const krylov *k, gsl_vector *value, gsl_matrix *vector)
{
    gsl_matrix *t = gsl_matrix_alloc(k->size, k->size);
    gsl_eigen_symmv_workspace *w = gsl_eigen_symmv_alloc(k->size);
    caber_status status = CABER_NO_MEMORY;
    if (t && w) {
        for (size_t i = 0; i < k->size; i++)
            for (size_t j = 0; j <= i; j++) {
                const double a = dot(k->n, k->mq + i * k->n, k->kmq + j * k->n);
                gsl_matrix_set(t, i, j, a);
                gsl_matrix_set(t, j, i, a);
            }
        const bool good =
            gsl_eigen_symmv(t, value, vector, w) == GSL_SUCCESS &&
            gsl_eigen_symmv_sort(value, vector, GSL_EIGEN_SORT_VAL_DESC) == GSL_SUCCESS;
        status = good ? CABER_OK : CABER_NOT_CONVERGED;
    }
    if (t)
        gsl_matrix_free(t);
    if (w)
        gsl_eigen_symmv_free(w);
    return status;
}

/* Makes the tip's largest motion positive, so that shapes have one sign on every machine. */
static void normalise_sign(const beam *b, double *x)
{
    const double *end = x + b->dof_count - BEAM_NODE_DOFS;
    const double scale[BEAM_NODE_DOFS] = {1, b->length, 1, b->length, b->length, 0};
    double best = 0;
    for (int i = 0; i < BEAM_NODE_DOFS; i++)
        if (fabs(scale[i] * end[i]) > fabs(best) * (1 + 1e-6))
            best = scale[i] * end[i];
    if (best < 0)
        for (size_t i = 0; i < b->dof_count; i++)
            x[i] = -x[i];
}

/* Fills m from the space; returns the largest residual of a mode. */
static double extract(const krylov *k, const beam *b, const gsl_vector *value,
                      const gsl_matrix *vector, modes *m, double *r, double *mr)
{
    const size_t n = k->n;
    double worst = 0;
    for (size_t j = 0; j < m->count; j++) {
        double *x = m->shape + j * n;
        const double theta = gsl_vector_get(value, j);
        memset(x, 0, n * sizeof(double));
        memset(r, 0, n * sizeof(double));
        for (size_t i = 0; i < k->size; i++) {
            axpy(n, gsl_matrix_get(vector, i, j), k->q + i * n, x);
            axpy(n, gsl_matrix_get(vector, i, j), k->kmq + i * n, r);
        }
        m->omega[j] = sqrt(1 / theta);
        axpy(n, -theta, x, r);
        beam_multiply(b, b->mass, r, mr);
        worst = fmax(worst, sqrt(fmax(dot(n, r, mr), 0)) / theta);
        normalise_sign(b, x);
    }
    return worst;
}

/* Grows the space by whole blocks, trying it out whenever it has grown by half the wanted count. */
static caber_status solve(krylov *k, const beam *b, modes *m, double *x)
{
    size_t last = 0, next = 2 * m->count + 4 * BLOCK;
    const size_t wanted = m->count;
    krylov_start(k, b, x);
    for (;;) {
        const size_t before = k->size;
        krylov_grow(k, b, last, x);
        last = before;
        const bool exhausted = k->size == before || k->size == k->capacity;
        if (k->size < next && !exhausted)
            continue;
        if (k->size == 0)
            return CABER_NOT_CONVERGED;
        m->count = wanted < k->size ? wanted : k->size;
        gsl_vector *value = gsl_vector_alloc(k->size);
        gsl_matrix *vector = gsl_matrix_alloc(k->size, k->size);
        const caber_status found = value && vector ? ritz(k, value, vector) : CABER_NO_MEMORY;
        const double residual =
            found == CABER_OK ? extract(k, b, value, vector, m, x, x + k->n) : (double)INFINITY;
        if (value)
            gsl_vector_free(value);
        if (vector)
            gsl_matrix_free(vector);
        if (found != CABER_OK)
            return found;
        if (residual <= residual_aim || exhausted)
            return residual <= residual_allowed ? CABER_OK : CABER_NOT_CONVERGED;
        next = k->size + wanted / 2 + BLOCK;
    }
}

caber_status modes_create(const beam *b, size_t count, modes **out, caber_message *message)
{
    *out = NULL;
    const size_t n = b->dof_count;
    size_t capacity = 6 * count + 10 * BLOCK;
    if (capacity > n)
        capacity = n;
    if (count > capacity)
        count = capacity;
    modes *m = calloc(1, sizeof *m);
    krylov k = {0};
    double *x = malloc(2 * n * sizeof(double));
    bool good = m && x && krylov_create(&k, n, capacity);
    if (good) {
        m->count = count;
        m->dof_count = n;
        m->omega = malloc(count * sizeof(double));
        m->shape = malloc(count * n * sizeof(double));
        good = m->omega && m->shape;
    }
    const caber_status status = good ? solve(&k, b, m, x) : CABER_NO_MEMORY;
    if (status != CABER_OK)
        message_set(message, status,
                    status == CABER_NO_MEMORY ? "out of memory for the shaft's modes"
                                              : "the shaft's modes were not found");
    krylov_free(&k);
    free(x);
    if (status != CABER_OK) {
        modes_free(m);
        return status;
    }
    *out = m;
    return message_clear(message);
}

void modes_free(modes *m)
{
    if (!m)
        return;
    free(m->omega);
    free(m->shape);
    free(m);
}

static bool close_enough(const modes *a, const modes *b)
{
    for (size_t i = 0; i < a->count && i < b->count; i++)
        if (fabs(a->omega[i] - b->omega[i]) > refine_allowed * b->omega[i])
            return false;
    return true;
}

caber_status modes_refine(beam_shape shape, const beam_body *body, beam **out,
                          caber_message *message)
{
    modes *last = NULL;
    *out = NULL;
    for (int step = 0; step < REFINE_STEPS; step++, shape.element /= 2) {
        beam *b = NULL;
        modes *m = NULL;
        caber_status status = beam_create(&shape, &b, message);
        if (status == CABER_OK && body)
            beam_add_body(b, body);
        if (status == CABER_OK)
            status = modes_create(b, REFINE_MODES, &m, message);
        const bool done = status != CABER_OK || (last && close_enough(last, m));
        modes_free(last);
        last = m;
        if (done) {
            modes_free(m);
            if (status != CABER_OK)
                beam_free(b);
            else
                *out = b;
            return status;
        }
        beam_free(b);
    }
    modes_free(last);
    return message_set(message, CABER_NOT_CONVERGED,
                       "the shaft's six lowest frequencies still change by more than 1e-4 after "
                       "%d halvings of the elements",
                       REFINE_STEPS);
}
