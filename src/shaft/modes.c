/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/modes.h"

#include <gsl/gsl_eigen.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "shaft/band.h"

enum { BLOCK = BAND_SIDES, REFINE_MODES = 6, REFINE_STEPS = 8 };
/* Aimed at, and still taken where rounding in a very fine mesh allows no better. */
static const double residual_aim = 1e-8, residual_allowed = 1e-6;
static const double refine_allowed = 1e-4;

/* The growing space: columns q (M-orthonormal), M q, and K^-1 M q; LANE rows beyond `size` are 0, those
 * after them untouched, since the space seldom takes what it might. */
typedef struct krylov {
    size_t n, size, capacity; /* n: rows in whole lanes, 0 beyond the beam's */
    band matrices;
    double *q, *mq, *kmq; /* [capacity + LANE][n] */
    double *x, *mx;       /* [BLOCK][n], [n]: what is being added */
    double *share;        /* [capacity + LANE] */
} krylov;

/* Rows are taken LANE at a time. */
static size_t lane_rows(size_t count)
{
    return (count + LANE - 1) / LANE * LANE;
}

LANE_INLINE double dot(size_t n, const double *a, const double *b)
{
    lane even = lane_of(0), odd = lane_of(0);
    size_t i = 0;
    for (; i + 2 * LANE <= n; i += 2 * LANE) {
        even += lane_load(a + i) * lane_load(b + i);
        odd += lane_load(a + i + LANE) * lane_load(b + i + LANE);
    }
    for (; i < n; i += LANE)
        even += lane_load(a + i) * lane_load(b + i);
    return lane_sum(even + odd);
}

/* out[i] = rows_i.x, four rows a pass; count rounded up to whole lanes */
LANE_INLINE void dots(size_t n, size_t count, const double *rows, const double *x, double *out)
{
    for (size_t i = 0; i < count; i += LANE, rows += LANE * n) {
        lane sum[LANE] = {{0}};
        for (size_t k = 0; k < n; k += LANE)
            for (size_t r = 0; r < LANE; r++)
                sum[r] += lane_load(rows + r * n + k) * lane_load(x + k);
        for (size_t r = 0; r < LANE; r++)
            out[i + r] = lane_sum(sum[r]);
    }
}

/* x += sum_i share[i] rows_i, likewise */
LANE_INLINE void add_rows(size_t n, size_t count, const double *share, const double *rows,
                          double *x)
{
    for (size_t i = 0; i < count; i += LANE, rows += LANE * n, share += LANE)
        for (size_t k = 0; k < n; k += LANE) {
            lane sum = share[0] * lane_load(rows + k);
            for (size_t r = 1; r < LANE; r++)
                sum += share[r] * lane_load(rows + r * n + k);
            lane_store(x + k, lane_load(x + k) + sum);
        }
}

static void krylov_clear(krylov *k, size_t row)
{
    memset(k->q + row * k->n, 0, k->n * sizeof(double));
    memset(k->mq + row * k->n, 0, k->n * sizeof(double));
    memset(k->kmq + row * k->n, 0, k->n * sizeof(double));
}

static bool krylov_create(krylov *k, const beam *b, size_t capacity)
{
    *k = (krylov){.capacity = capacity};
    if (!band_create(b, &k->matrices))
        return false;
    const size_t n = k->n = k->matrices.padded, rows = capacity + LANE;
    k->q = malloc(rows * n * sizeof(double));
    k->mq = malloc(rows * n * sizeof(double));
    k->kmq = malloc(rows * n * sizeof(double));
    k->x = calloc(BLOCK * n, sizeof(double));
    k->mx = calloc(n, sizeof(double));
    k->share = calloc(rows, sizeof(double));
    if (!k->q || !k->mq || !k->kmq || !k->x || !k->mx || !k->share)
        return false;
    for (size_t i = 0; i < LANE; i++)
        krylov_clear(k, i);
    return true;
}

static void krylov_free(krylov *k)
{
    band_free(&k->matrices);
    free(k->q);
    free(k->mq);
    free(k->kmq);
    free(k->x);
    free(k->mx);
    free(k->share);
}

/* x less what of it lies in the space, by classical Gram-Schmidt; twice is enough. */
LANE_CLONES static void orthogonalise(krylov *k, double *x)
{
    for (int pass = 0; pass < 2; pass++) {
        dots(k->n, k->size, k->mq, x, k->share);
        for (size_t i = 0; i < k->size; i++)
            k->share[i] = -k->share[i];
        add_rows(k->n, k->size, k->share, k->q, x);
    }
}

/* Adds a vector (destroyed) unless it lies in the space already, without K^-1 M q. */
static void krylov_add(krylov *k, double *x)
{
    const size_t n = k->n;
    if (k->size == k->capacity)
        return;
    double *q = k->q + k->size * n, *mq = k->mq + k->size * n;
    band_multiply(&k->matrices, x, k->mx);
    const double before = dot(n, x, k->mx);
    if (!(before > 0))
        return;
    orthogonalise(k, x);
    band_multiply(&k->matrices, x, k->mx);
    const double after = dot(n, x, k->mx);
    if (!(after > 1e-24 * before))
        return;
    const double scale = 1 / sqrt(after);
    for (size_t i = 0; i < n; i++) {
        q[i] = scale * x[i];
        mq[i] = scale * k->mx[i];
    }
    k->size++;
    krylov_clear(k, k->size + LANE - 1);
}

/* Adds up to BLOCK vectors of k->x, with K^-1 M q. */
static void krylov_add_block(krylov *k, size_t count)
{
    const size_t n = k->n, from = k->size;
    for (size_t i = 0; i < count; i++)
        krylov_add(k, k->x + i * n);
    const size_t added = k->size - from;
    memcpy(k->kmq + from * n, k->mq + from * n, added * n * sizeof(double));
    band_solve(&k->matrices, k->kmq + from * n, n, (int)added);
}

/* First block: the static shapes of unit end loads in each field. */
static void krylov_start(krylov *k, const beam *b)
{
    for (int field = 0; field < BLOCK; field++)
        beam_add_end_load(b, field == 0, field == 1, vec3_make(field == 2, 0, 0),
                          k->x + (size_t)field * k->n);
    band_solve(&k->matrices, k->x, k->n, BLOCK);
    krylov_add_block(k, BLOCK);
}

static void krylov_grow(krylov *k, size_t from)
{
    for (size_t i = from, end = k->size; i < end; i += BLOCK) {
        const size_t count = end - i < BLOCK ? end - i : BLOCK;
        memcpy(k->x, k->kmq + i * k->n, count * k->n * sizeof(double));
        krylov_add_block(k, count);
    }
}

/* Eigenpairs of Q' M K^-1 M Q, descending; 1/omega^2 each. */
LANE_CLONES static caber_status ritz(krylov *k, gsl_vector *value, gsl_matrix *vector)
{
    gsl_matrix *t = gsl_matrix_alloc(k->size, k->size);
    gsl_eigen_symmv_workspace *w = gsl_eigen_symmv_alloc(k->size);
    caber_status status = CABER_NO_MEMORY;
    if (t && w) {
        for (size_t i = 0; i < k->size; i++) {
            dots(k->n, i + 1, k->kmq, k->mq + i * k->n, k->share);
            for (size_t j = 0; j <= i; j++) {
                gsl_matrix_set(t, i, j, k->share[j]);
                gsl_matrix_set(t, j, i, k->share[j]);
            }
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
LANE_CLONES static double extract(krylov *k, const beam *b, const gsl_vector *value,
                                  const gsl_matrix *vector, modes *m)
{
    const size_t n = k->n;
    double *x = k->x, *r = k->x + n, worst = 0;
    for (size_t j = 0; j < m->count; j++) {
        const double theta = gsl_vector_get(value, j);
        for (size_t i = 0; i < lane_rows(k->size); i++)
            k->share[i] = i < k->size ? gsl_matrix_get(vector, i, j) : 0;
        memset(x, 0, 2 * n * sizeof(double));
        add_rows(n, k->size, k->share, k->q, x);
        add_rows(n, k->size, k->share, k->kmq, r);
        m->omega[j] = sqrt(1 / theta);
        for (size_t i = 0; i < n; i++)
            r[i] -= theta * x[i];
        band_multiply(&k->matrices, r, k->mx);
        worst = fmax(worst, sqrt(fmax(dot(n, r, k->mx), 0)) / theta);
        normalise_sign(b, x);
        memcpy(m->shape + j * m->dof_count, x, m->dof_count * sizeof(double));
    }
    return worst;
}

/* Grows the space by whole blocks, trying it out whenever it has grown by half the wanted count. */
static caber_status solve(krylov *k, const beam *b, modes *m)
{
    size_t last = 0, next = 2 * m->count + 4 * BLOCK;
    const size_t wanted = m->count;
    krylov_start(k, b);
    for (;;) {
        const size_t before = k->size;
        krylov_grow(k, last);
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
            found == CABER_OK ? extract(k, b, value, vector, m) : (double)INFINITY;
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
    bool good = m && krylov_create(&k, b, capacity);
    if (good) {
        m->count = count;
        m->dof_count = n;
        m->omega = malloc(count * sizeof(double));
        m->shape = malloc(count * n * sizeof(double));
        good = m->omega && m->shape;
    }
    const caber_status status = good ? solve(&k, b, m) : CABER_NO_MEMORY;
    if (status != CABER_OK)
        message_set(message, status,
                    status == CABER_NO_MEMORY ? "out of memory for the shaft's modes"
                                              : "the shaft's modes were not found");
    krylov_free(&k);
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
    for (size_t i = 0; i < a->count && i < b->count && i < REFINE_MODES; i++)
        if (fabs(a->omega[i] - b->omega[i]) > refine_allowed * b->omega[i])
            return false;
    return true;
}

/* A beam of one mesh with its lowest modes. */
static caber_status mesh_modes(const beam_shape *shape, const beam_body *body, size_t count,
                               beam **out, modes **found, caber_message *message)
{
    caber_status status = beam_create(shape, out, message);
    if (status == CABER_OK && body)
        beam_add_body(*out, body);
    if (status == CABER_OK)
        status = modes_create(*out, count, found, message);
    if (status != CABER_OK) {
        beam_free(*out);
        *out = NULL;
    }
    return status;
}

caber_status modes_refine_with(beam_shape shape, const beam_body *body, size_t count, beam **out,
                               modes **found, caber_message *message)
{
    modes *last = NULL;
    *out = NULL;
    *found = NULL;
    for (int step = 0; step < REFINE_STEPS; step++, shape.element /= 2) {
        beam *b = NULL;
        modes *m = NULL;
        /* The first mesh is never the last one: it needs no more than what is compared. */
        const size_t sought = step && count > REFINE_MODES ? count : REFINE_MODES;
        const caber_status status = mesh_modes(&shape, body, sought, &b, &m, message);
        const bool done = status == CABER_OK && last && close_enough(last, m);
        modes_free(last);
        last = m;
        if (done) {
            m->count = m->count < count ? m->count : count;
            *out = b;
            *found = m;
            return CABER_OK;
        }
        beam_free(b);
        if (status != CABER_OK)
            return status;
    }
    modes_free(last);
    return message_set(message, CABER_NOT_CONVERGED,
                       "the shaft's six lowest frequencies still change by more than 1e-4 after "
                       "%d halvings of the elements",
                       REFINE_STEPS);
}

caber_status modes_refine(beam_shape shape, const beam_body *body, beam **out,
                          caber_message *message)
{
    modes *found;
    const caber_status status = modes_refine_with(shape, body, 0, out, &found, message);
    modes_free(found);
    return status;
}
