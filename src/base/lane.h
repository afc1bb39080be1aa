/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Four numbers at a time, and vectors and matrices of them: element by element what the same formulas give
 * one after another, to the last bit, whatever registers the processor has.
 *
 * The vectors are those of GCC and clang. Functions are inlined into their callers, so that a function
 * marked LANE_CLONES is compiled for several processors with all that it calls; which one runs is decided
 * when the program starts. No clone contracts products and sums, so all give the same bits. */
#ifndef BASE_LANE_H
#define BASE_LANE_H

#include <string.h>

#ifdef CABER_CLONES
#define LANE_CLONES __attribute__((target_clones("avx2", "default")))
#else
#define LANE_CLONES
#endif
#define LANE_INLINE static inline __attribute__((always_inline))

enum { LANE = 4 };
/* Without `aligned` GCC thinks differently of its alignment from clone to clone. */
typedef double lane __attribute__((vector_size(4 * sizeof(double)), aligned(4 * sizeof(double))));

typedef struct lane3 {
    lane x, y, z;
} lane3;

typedef struct lane33 {
    lane m[3][3]; /* [row][column] */
} lane33;

/* Rounded up to whole lanes. */
static inline int lane_round(int count)
{
    return (count + LANE - 1) / LANE * LANE;
}

LANE_INLINE lane lane_of(double x)
{
    return (lane){x, x, x, x};
}

LANE_INLINE lane lane_load(const double *p)
{
    lane v;
    memcpy(&v, p, sizeof v);
    return v;
}

LANE_INLINE void lane_store(double *p, lane v)
{
    memcpy(p, &v, sizeof v);
}

LANE_INLINE double lane_sum(lane v)
{
    return (v[0] + v[1]) + (v[2] + v[3]);
}

LANE_INLINE lane3 lane3_load(const double *p, int stride)
{
    return (lane3){lane_load(p), lane_load(p + stride), lane_load(p + 2 * stride)};
}

LANE_INLINE void lane3_store(double *p, int stride, lane3 v)
{
    lane_store(p, v.x);
    lane_store(p + stride, v.y);
    lane_store(p + 2 * stride, v.z);
}

LANE_INLINE lane3 lane3_add(lane3 a, lane3 b)
{
    return (lane3){a.x + b.x, a.y + b.y, a.z + b.z};
}

LANE_INLINE lane3 lane3_scale(lane s, lane3 a)
{
    return (lane3){s * a.x, s * a.y, s * a.z};
}

/* a + s b */
LANE_INLINE lane3 lane3_axpy(lane s, lane3 b, lane3 a)
{
    return (lane3){a.x + s * b.x, a.y + s * b.y, a.z + s * b.z};
}

LANE_INLINE lane lane3_dot(lane3 a, lane3 b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

LANE_INLINE lane3 lane3_cross(lane3 a, lane3 b)
{
    return (lane3){a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}

LANE_INLINE lane3 lane33_apply(const lane33 *a, lane3 v)
{
    return (lane3){a->m[0][0] * v.x + a->m[0][1] * v.y + a->m[0][2] * v.z,
                   a->m[1][0] * v.x + a->m[1][1] * v.y + a->m[1][2] * v.z,
                   a->m[2][0] * v.x + a->m[2][1] * v.y + a->m[2][2] * v.z};
}

LANE_INLINE lane33 lane33_multiply(const lane33 *a, const lane33 *b)
{
    lane33 c;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            c.m[i][j] = a->m[i][0] * b->m[0][j] + a->m[i][1] * b->m[1][j] + a->m[i][2] * b->m[2][j];
    return c;
}

/* a [v]x */
LANE_INLINE lane33 lane33_times_cross(const lane33 *a, lane3 v)
{
    lane33 out;
    for (int i = 0; i < 3; i++) {
        out.m[i][0] = a->m[i][1] * v.z - a->m[i][2] * v.y;
        out.m[i][1] = a->m[i][2] * v.x - a->m[i][0] * v.z;
        out.m[i][2] = a->m[i][0] * v.y - a->m[i][1] * v.x;
    }
    return out;
}

#endif
