/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/band.h"

#include <stdlib.h>

enum {
    BELOW = BEAM_BAND + 1,        /* numbers of a column in the beam's layout */
    MARGIN = BELOW,               /* rows before and behind a vector that is being solved */
    PITCH = BELOW + 2 * LANE,     /* a column of L: LANE zeros, the diagonal (0), the rest, zeros */
    WHOLE = 2 * (BELOW + LANE),   /* a column of M, its diagonal in the middle */
    LANES = (BELOW + LANE) / LANE /* that a column of L spans from the lane of its diagonal on */
};
_Static_assert(BELOW % LANE == 0, "a band is whole lanes");

static void mass_fill(const beam *b, band *a)
{
    for (size_t j = 0; j < a->n; j++)
        for (size_t k = 0; k < BELOW && j + k < a->n; k++) {
            const double m = b->mass[j * BELOW + k];
            a->mass[j * WHOLE + WHOLE / 2 + k] = m;
            a->mass[(j + k) * WHOLE + WHOLE / 2 - k] = m;
        }
}

/* From the Cholesky factor C of the beam: L = C diag(C)^-1, D = diag(C)^2. */
static void factor_fill(const beam *b, band *a)
{
    for (size_t j = 0; j < a->n; j++) {
        const double *column = b->factor + j * BELOW, inverse = 1 / column[0];
        a->pivot[j] = inverse * inverse;
        for (size_t k = 1; k < BELOW && j + k < a->n; k++) {
            const double l = column[k] * inverse;
            a->down[j * PITCH + LANE + k] = l;
            a->up[(j + k) * PITCH + LANE + BELOW - k] = l;
        }
    }
}

bool band_create(const beam *b, band *a)
{
    const size_t n = b->dof_count, padded = (n + LANE - 1) / LANE * LANE;
    *a = (band){.n = n, .padded = padded};
    a->mass = calloc(padded * WHOLE, sizeof(double));
    a->down = calloc(padded * PITCH, sizeof(double));
    a->up = calloc(padded * PITCH, sizeof(double));
    a->pivot = calloc(padded, sizeof(double));
    a->room = calloc(BAND_SIDES * (padded + 2 * MARGIN), sizeof(double));
    if (!a->mass || !a->down || !a->up || !a->pivot || !a->room) {
        band_free(a);
        return false;
    }
    mass_fill(b, a);
    factor_fill(b, a);
    return true;
}

void band_free(band *a)
{
    free(a->mass);
    free(a->down);
    free(a->up);
    free(a->pivot);
    free(a->room);
    *a = (band){0};
}

LANE_CLONES void band_multiply(const band *a, const double *x, double *y)
{
    for (size_t i = 0; i < a->padded; i += LANE) {
        lane even = lane_of(0), odd = lane_of(0);
        const size_t first = i < BEAM_BAND ? 0 : (i - BEAM_BAND) & ~(size_t)1;
        const size_t end = i + LANE + BELOW < a->padded ? i + LANE + BELOW : a->padded;
        for (size_t j = first; j < end; j += 2) {
            const double *column = a->mass + j * WHOLE + WHOLE / 2 + i - j;
            even += x[j] * lane_load(column);
            odd += x[j + 1] * lane_load(column + WHOLE - 1);
        }
        lane_store(y + i, even + odd);
    }
}

/* Takes from the lanes `f` [LANES] what the four unknowns of one of them make of it, in turn. */
LANE_INLINE void block_take(const double *factor, lane *f, int from, int by, int own)
{
    for (int c = from; c >= 0 && c < LANE; c += by) {
        const double x = f[own][c];
        const double *column = factor + c * PITCH + LANE - c;
        for (int l = 0; l < LANES; l++)
            f[l] -= x * lane_load(column + l * LANE);
    }
}

LANE_INLINE void solve(const band *a, double *x, size_t apart, const int sides)
{
    const size_t length = a->padded + 2 * MARGIN;
    double *room = a->room + MARGIN;
    for (int s = 0; s < sides; s++)
        memcpy(room + s * length, x + s * apart, a->padded * sizeof(double));
    for (size_t i = 0; i < a->padded; i += LANE)
        for (int s = 0; s < sides; s++) {
            lane f[LANES];
            double *at = room + s * length + i;
            for (int l = 0; l < LANES; l++)
                f[l] = lane_load(at + l * LANE);
            block_take(a->down + i * PITCH, f, 0, 1, 0);
            for (int l = 0; l < LANES; l++)
                lane_store(at + l * LANE, f[l]);
        }
    for (size_t i = 0; i < a->padded; i += LANE)
        for (int s = 0; s < sides; s++) {
            double *at = room + s * length + i;
            lane_store(at, lane_load(at) * lane_load(a->pivot + i));
        }
    for (size_t i = a->padded; i > 0; i -= LANE)
        for (int s = 0; s < sides; s++) {
            lane f[LANES];
            double *at = room + s * length + i - LANES * LANE;
            for (int l = 0; l < LANES; l++)
                f[l] = lane_load(at + l * LANE);
            block_take(a->up + (i - LANE) * PITCH, f, LANE - 1, -1, LANES - 1);
            for (int l = 0; l < LANES; l++)
                lane_store(at + l * LANE, f[l]);
        }
    for (int s = 0; s < sides; s++)
        memcpy(x + s * apart, room + s * length, a->padded * sizeof(double));
}

LANE_CLONES void band_solve(const band *a, double *x, size_t apart, int sides)
{
    if (sides == BAND_SIDES) {
        solve(a, x, apart, BAND_SIDES);
        return;
    }
    for (int s = 0; s < sides; s++)
        solve(a, x + s * apart, apart, 1);
}
