/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/vec.h"

/* b(u) = sum (-u)^k/(2k+2)!, c(u) = sum (-u)^k/(2k+3)!: coefficients with their signs. */
const double expmap_b_series[EXPMAP_TERMS] = {1.0 / 2,
                                              -1.0 / 24,
                                              1.0 / 720,
                                              -1.0 / 40320,
                                              1.0 / 3628800,
                                              -1.0 / 479001600,
                                              1.0 / 87178291200.0,
                                              -1.0 / 20922789888000.0,
                                              1.0 / 6402373705728000.0,
                                              -1.0 / 2432902008176640000.0};
const double expmap_c_series[EXPMAP_TERMS] = {1.0 / 6,
                                              -1.0 / 120,
                                              1.0 / 5040,
                                              -1.0 / 362880,
                                              1.0 / 39916800,
                                              -1.0 / 6227020800.0,
                                              1.0 / 1307674368000.0,
                                              -1.0 / 355687428096000.0,
                                              1.0 / 121645100408832000.0,
                                              -1.0 / 51090942171709440000.0};

/* Value, first and second derivative of a polynomial of `terms` coefficients (Horner). */
static inline void series(const double *p, int terms, double u, double *f, double *f1, double *f2)
{
    double v = 0, d = 0, h = 0;
    for (int k = terms - 1; k >= 0; k--) {
        h = h * u + d;
        d = d * u + v;
        v = v * u + p[k];
    }
    *f = v;
    *f1 = d;
    *f2 = 2 * h;
}

expmap expmap_at(double u)
{
    expmap e;
    if (u < 1) {
        const int terms = u < EXPMAP_SMALL ? EXPMAP_TERMS_SMALL : EXPMAP_TERMS;
        series(expmap_b_series, terms, u, &e.b, &e.b1, &e.b2);
        series(expmap_c_series, terms, u, &e.c, &e.c1, &e.c2);
        e.a = 1 - u * e.c;
        return e;
    }
    const double t = sqrt(u), s = sin(t), k = cos(t);
    e.a = s / t;
    e.b = (1 - k) / u;
    e.c = (1 - e.a) / u;
    /* From a' = (k - a)/(2u), b' = (a/2 - b)/u, c' = (-a' - c)/u; again for the second. */
    const double a1 = (k - e.a) / (2 * u), k1 = -e.a / 2;
    const double a2 = (k1 - 3 * a1) / (2 * u);
    e.b1 = (e.a / 2 - e.b) / u;
    e.c1 = (-a1 - e.c) / u;
    e.b2 = (a1 / 2 - 2 * e.b1) / u;
    e.c2 = (-a2 - 2 * e.c1) / u;
    return e;
}

mat3 mat3_rotation(vec3 r)
{
    const expmap e = expmap_at(vec3_dot(r, r));
    const mat3 k = mat3_cross(r), kk = mat3_multiply(&k, &k);
    mat3 out = mat3_identity();
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            out.m[i][j] += e.a * k.m[i][j] + e.b * kk.m[i][j];
    return out;
}

/* From the quaternion, its largest component first (Shepperd 1978), so that angles near pi are
 * as exact as small ones. */
vec3 mat3_rotation_vector(const mat3 *a)
{
    const double d[4] = {a->m[0][0] + a->m[1][1] + a->m[2][2], a->m[0][0], a->m[1][1], a->m[2][2]};
    int best = 0;
    for (int i = 1; i < 4; i++)
        if (d[i] > d[best])
            best = i;
    double q[4];
    if (best == 0) {
        q[0] = 1 + d[0];
        q[1] = a->m[2][1] - a->m[1][2];
        q[2] = a->m[0][2] - a->m[2][0];
        q[3] = a->m[1][0] - a->m[0][1];
    } else {
        const int i = best - 1, j = (i + 1) % 3, k = (i + 2) % 3;
        q[0] = a->m[k][j] - a->m[j][k];
        q[i + 1] = 1 + 2 * a->m[i][i] - d[0];
        q[j + 1] = a->m[j][i] + a->m[i][j];
        q[k + 1] = a->m[k][i] + a->m[i][k];
    }
    vec3 v = {q[1], q[2], q[3]};
    const double n = vec3_norm(v);
    if (n == 0) /* so small that its square is 0 */
        return vec3_scale(2 / q[0], v);
    double angle = 2 * atan2(n, q[0]);
    if (angle > 3.14159265358979323846)
        angle -= 2 * 3.14159265358979323846;
    return vec3_scale(angle / n, v);
}
