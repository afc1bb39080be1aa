/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Vectors and 3 x 3 matrices by value. Right-handed; a matrix acts on columns. */
#ifndef BASE_VEC_H
#define BASE_VEC_H

#include <math.h>

typedef struct vec3 {
    double x, y, z;
} vec3;

typedef struct mat3 {
    double m[3][3]; /* [row][column] */
} mat3;

static inline vec3 vec3_make(double x, double y, double z)
{
    return (vec3){x, y, z};
}

static inline vec3 vec3_add(vec3 a, vec3 b)
{
    return (vec3){a.x + b.x, a.y + b.y, a.z + b.z};
}

static inline vec3 vec3_sub(vec3 a, vec3 b)
{
    return (vec3){a.x - b.x, a.y - b.y, a.z - b.z};
}

static inline vec3 vec3_scale(double s, vec3 a)
{
    return (vec3){s * a.x, s * a.y, s * a.z};
}

/* a + s b */
static inline vec3 vec3_axpy(double s, vec3 b, vec3 a)
{
    return (vec3){a.x + s * b.x, a.y + s * b.y, a.z + s * b.z};
}

static inline double vec3_dot(vec3 a, vec3 b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

static inline vec3 vec3_cross(vec3 a, vec3 b)
{
    return (vec3){a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}

static inline double vec3_norm(vec3 a)
{
    return sqrt(vec3_dot(a, a));
}

static inline mat3 mat3_identity(void)
{
    return (mat3){{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
}

static inline vec3 mat3_apply(const mat3 *a, vec3 v)
{
    return (vec3){a->m[0][0] * v.x + a->m[0][1] * v.y + a->m[0][2] * v.z,
                  a->m[1][0] * v.x + a->m[1][1] * v.y + a->m[1][2] * v.z,
                  a->m[2][0] * v.x + a->m[2][1] * v.y + a->m[2][2] * v.z};
}

/* transpose(a) v */
static inline vec3 mat3_apply_t(const mat3 *a, vec3 v)
{
    return (vec3){a->m[0][0] * v.x + a->m[1][0] * v.y + a->m[2][0] * v.z,
                  a->m[0][1] * v.x + a->m[1][1] * v.y + a->m[2][1] * v.z,
                  a->m[0][2] * v.x + a->m[1][2] * v.y + a->m[2][2] * v.z};
}

static inline vec3 mat3_column(const mat3 *a, int j)
{
    return (vec3){a->m[0][j], a->m[1][j], a->m[2][j]};
}

static inline mat3 mat3_multiply(const mat3 *a, const mat3 *b)
{
    mat3 c;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            c.m[i][j] = a->m[i][0] * b->m[0][j] + a->m[i][1] * b->m[1][j] + a->m[i][2] * b->m[2][j];
    return c;
}

/* a transpose(b) */
static inline mat3 mat3_multiply_t(const mat3 *a, const mat3 *b)
{
    mat3 c;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            c.m[i][j] = a->m[i][0] * b->m[j][0] + a->m[i][1] * b->m[j][1] + a->m[i][2] * b->m[j][2];
    return c;
}

static inline mat3 mat3_add(const mat3 *a, const mat3 *b)
{
    mat3 c;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            c.m[i][j] = a->m[i][j] + b->m[i][j];
    return c;
}

/* [v]x: the matrix with [v]x u = v x u */
static inline mat3 mat3_cross(vec3 v)
{
    return (mat3){{{0, -v.z, v.y}, {v.z, 0, -v.x}, {-v.y, v.x, 0}}};
}

/* a += s (|d|^2 I - d d'): the inertia of a point of mass s at d, added to a (Huygens-Steiner) */
static inline void mat3_add_point_inertia(mat3 *a, double s, vec3 d)
{
    const double v[3] = {d.x, d.y, d.z}, dd = vec3_dot(d, d);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            a->m[i][j] += s * ((i == j ? dd : 0) - v[i] * v[j]);
}

/* Rotation about the unit or any other vector r by |r|: Rodrigues. */
mat3 mat3_rotation(vec3 r);
/* The rotation vector of a rotation matrix; |r| <= pi. */
vec3 mat3_rotation_vector(const mat3 *a);

/* The three functions of u = angle^2 in the exponential map and their derivatives by u:
 *   a = sin t / t, b = (1 - cos t)/t^2, c = (t - sin t)/t^3, t = sqrt(u),
 *   exp([v]x) = I + a [v]x + b [v]x^2,  T(v) = I + b [v]x + c [v]x^2. */
typedef struct expmap {
    double a, b, c, b1, c1, b2, c2;
} expmap;

/* The coefficients of b and c by powers of u, signs included, for u < 1; for u < EXPMAP_SMALL the first
 * few do. What is left out is below 1e-17 of the first term. */
enum { EXPMAP_TERMS = 10, EXPMAP_TERMS_SMALL = 6 };
#define EXPMAP_SMALL 0.01
extern const double expmap_b_series[EXPMAP_TERMS], expmap_c_series[EXPMAP_TERMS];

/* Given u >= 0; returns the functions to rounding, by their power series (u < 1) or in closed
 * form. b1, c1 are first and b2, c2 second derivatives by u. */
expmap expmap_at(double u);

#endif
