/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Vectors, rotations and the functions of the exponential map. */
#include "check.h"

#include <float.h>

#include "base/vec.h"

static const double pi = 3.14159265358979323846;

static vec3 unit(double x, double y, double z)
{
    const vec3 v = {x, y, z};
    return vec3_scale(1 / vec3_norm(v), v);
}

static const vec3 axes[] = {{1, 0, 0}, {0, -1, 0},   {0, 0, 1},
                            {1, 2, 3}, {-2, 1, 0.1}, {1e-3, -1, 1}};
enum { AXES = sizeof axes / sizeof axes[0] };

static void assert_vec(vec3 got, vec3 want, double allowed)
{
    assert_close(got.x, want.x, 0, allowed);
    assert_close(got.y, want.y, 0, allowed);
    assert_close(got.z, want.z, 0, allowed);
}

static void assert_mat(const mat3 *got, const mat3 *want, double allowed)
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            assert_close(got->m[i][j], want->m[i][j], 0, allowed);
}

/* Products against the identities that define them. */
static void products(void **state)
{
    (void)state;
    const vec3 a = {1, -2, 3}, b = {0.5, 4, -1}, c = {2, 2, 7};
    assert_vec(vec3_cross((vec3){1, 0, 0}, (vec3){0, 1, 0}), (vec3){0, 0, 1}, 0);
    assert_close(vec3_dot(a, vec3_cross(a, b)), 0, 0, 0);
    /* a x (b x c) = b (a.c) - c (a.b): small whole numbers and halves, exact */
    assert_vec(vec3_cross(a, vec3_cross(b, c)),
               vec3_sub(vec3_scale(vec3_dot(a, c), b), vec3_scale(vec3_dot(a, b), c)), 0);
    const mat3 k = mat3_cross(a);
    assert_vec(mat3_apply(&k, b), vec3_cross(a, b), 0);
    assert_vec(mat3_apply_t(&k, b), vec3_cross(b, a), 0);
    assert_vec(vec3_axpy(2, b, a), vec3_add(a, vec3_scale(2, b)), 0);
    assert_vec(mat3_column(&k, 1), mat3_apply(&k, (vec3){0, 1, 0}), 0);

    const mat3 l = mat3_cross(b), kl = mat3_multiply(&k, &l), klt = mat3_multiply_t(&k, &l);
    assert_vec(mat3_apply(&kl, c), mat3_apply(&k, mat3_apply(&l, c)), 0);
    assert_vec(mat3_apply(&klt, c), mat3_apply(&k, mat3_apply_t(&l, c)), 0);
    const mat3 sum = mat3_add(&k, &l);
    assert_vec(mat3_apply(&sum, c), vec3_cross(vec3_add(a, b), c), 0);
}

/* A point mass at d has the kinetic energy m |w x d|^2/2 = w'I w/2. */
static void inertia_of_a_point(void **state)
{
    (void)state;
    const vec3 d = {1, -2, 3}, w = {0.5, 4, -1};
    mat3 i = {0};
    mat3_add_point_inertia(&i, 2, d);
    const vec3 v = vec3_cross(w, d);
    assert_close(vec3_dot(w, mat3_apply(&i, w)), 2 * vec3_dot(v, v), 0, 0);
}

/* R R' = I, det R = 1, the axis stays, and a vector across it turns by the angle. */
static void rotation_turns_by_its_angle(void **state)
{
    (void)state;
    const double angles[] = {0, 1e-12, 1e-5, 0.09, 0.11, 0.99, 1.01, 2, 3.1, pi, 4, 6.2, 20};
    for (int i = 0; i < AXES; i++)
        for (size_t k = 0; k < sizeof angles / sizeof angles[0]; k++) {
            const vec3 n = unit(axes[i].x, axes[i].y, axes[i].z);
            const vec3 p = unit(n.y + 0.3, -n.z, n.x - 0.7);
            const vec3 across = vec3_sub(p, vec3_scale(vec3_dot(p, n), n));
            const mat3 r = mat3_rotation(vec3_scale(angles[k], n));
            const mat3 rr = mat3_multiply_t(&r, &r), one = mat3_identity();
            assert_mat(&rr, &one, 4e-15);
            assert_vec(mat3_apply(&r, n), n, 4e-15);
            const vec3 want = vec3_axpy(sin(angles[k]), vec3_cross(n, across),
                                        vec3_scale(cos(angles[k]), across));
            assert_vec(mat3_apply(&r, across), want, 1e-14);
            const vec3 c0 = mat3_column(&r, 0), c1 = mat3_column(&r, 1), c2 = mat3_column(&r, 2);
            assert_close(vec3_dot(c0, vec3_cross(c1, c2)), 1, 0, 4e-15);
        }
}

/* Out and back. Tiny angles keep all their digits, because off-diagonal terms are sin(angle).
 * Near pi the vector comes from the quaternion, so its error is a few roundings of pi. */
static void rotation_vector_comes_back(void **state)
{
    (void)state;
    const double angles[] = {1e-300, 1e-150, 1e-9,      1e-4,      0.1,       1,
                             2,      3,      pi - 1e-3, pi - 1e-6, pi - 1e-9, pi - 1e-12};
    for (int i = 0; i < AXES; i++)
        for (size_t k = 0; k < sizeof angles / sizeof angles[0]; k++) {
            const vec3 v = vec3_scale(angles[k], unit(axes[i].x, axes[i].y, axes[i].z));
            const mat3 r = mat3_rotation(v);
            const vec3 back = mat3_rotation_vector(&r);
            /* |back - v| within 8 units of the last place of |v|; squares of 1e-300 vanish, so by
             * component */
            assert_vec(back, v, 8 * DBL_EPSILON * angles[k]);
        }
}

/* Beyond pi the shorter way round is given; at pi either sign. */
static void rotation_vector_is_the_short_way(void **state)
{
    (void)state;
    for (int i = 0; i < AXES; i++) {
        const vec3 n = unit(axes[i].x, axes[i].y, axes[i].z);
        mat3 r = mat3_rotation(vec3_scale(pi + 0.3, n));
        assert_vec(mat3_rotation_vector(&r), vec3_scale(0.3 - pi, n), 1e-14);
        r = mat3_rotation(vec3_scale(2 * pi - 1e-3, n));
        assert_vec(mat3_rotation_vector(&r), vec3_scale(-1e-3, n), 1e-14);
        r = mat3_rotation(vec3_scale(pi, n));
        const vec3 v = mat3_rotation_vector(&r);
        assert_close(vec3_norm(v), pi, 4e-15, 0);
        const mat3 again = mat3_rotation(v);
        assert_mat(&again, &r, 4e-15);
    }
    const mat3 one = mat3_identity();
    assert_vec(mat3_rotation_vector(&one), (vec3){0, 0, 0}, 0);
}

/* ------------------------------------------------------------------ exponential map */

/* The power series in long double, far beyond the terms needed for u <= 40:
 * a, b, c = sum (-u)^k/(2k + 1 + i)!, i = 0, 1, 2. */
static void reference(double u, long double f[3][3])
{
    for (int i = 0; i < 3; i++) {
        long double term = i == 2 ? 1.0L / 6 : i == 1 ? 0.5L : 1;
        f[i][0] = f[i][1] = f[i][2] = 0;
        long double up = term, before = 0,
                    before2 = 0; /* coefficient times u^k, u^(k-1), u^(k-2) */
        for (int k = 0; k < 60; k++) {
            f[i][0] += up;
            f[i][1] += k * before;
            f[i][2] += (long double)k * (k - 1) * before2;
            const long double step = -1 / ((2.0L * k + 2 + i) * (2.0L * k + 3 + i));
            before2 = before * step;
            before = up * step;
            up *= u * step;
        }
    }
}

/* The derivatives in closed form (u >= 1) come from differences of numbers of order 1, so their
 * error is a rounding of 1, not of their own size (c2 is 4e-4 there: 2e-13 of itself). */
static const double closed_form = 2 * DBL_EPSILON;

/* Both branches and both sides of the switches at 0.01 and 1. a passes through 0 and b, c come
 * near it, so the measure of these is their size at 0. */
static void expmap_is_right_to_rounding(void **state)
{
    (void)state;
    static const double places[] = {
        0, 1e-300,          1e-20, 1e-8, 1e-3, 0.0099999999999,    0.01, 0.3, 0.77, 0.9999999999999,
        1, 1.0000000000001, 2,     5,    9,    9.8696044010893586, 16,   25};
    for (size_t p = 0; p < sizeof places / sizeof places[0]; p++) {
        const double u = places[p], some = 4 * DBL_EPSILON;
        const expmap e = expmap_at(u);
        long double f[3][3];
        reference(u, f);
        assert_close(e.a, (double)f[0][0], 0, some);
        assert_close(e.b, (double)f[1][0], 0, some / 2);
        assert_close(e.c, (double)f[2][0], 0, some / 6);
        const double lost = u < 1 ? 0 : closed_form;
        assert_close(e.b1, (double)f[1][1], 2 * some, lost);
        assert_close(e.c1, (double)f[2][1], 2 * some, lost);
        assert_close(e.b2, (double)f[1][2], 2 * some, lost);
        assert_close(e.c2, (double)f[2][2], 2 * some, lost);
    }
}

/* The step at a switch: by 1e-14 of the value, but at 1 the derivatives as above. */
static void expmap_is_continuous(void **state)
{
    (void)state;
    const double switches[] = {0.01, 1};
    for (int i = 0; i < 2; i++) {
        const double lost = i ? closed_form : 0;
        const expmap low = expmap_at(switches[i] * (1 - DBL_EPSILON)),
                     high = expmap_at(switches[i]);
        assert_close(low.a, high.a, 1e-14, 0);
        assert_close(low.b, high.b, 1e-14, 0);
        assert_close(low.c, high.c, 1e-14, 0);
        assert_close(low.b1, high.b1, 1e-14, lost);
        assert_close(low.c1, high.c1, 1e-14, lost);
        assert_close(low.b2, high.b2, 1e-14, lost);
        assert_close(low.c2, high.c2, 1e-14, lost);
    }
}

/* Fourth-order central differences; step 0.01 u leaves (0.01)^4/30 of the fifth derivative, some
 * 1e-9, and 1e-14/0.01 of rounding. */
static void expmap_derivatives_are_those_of_its_values(void **state)
{
    (void)state;
    const double places[] = {0.005, 0.2, 0.9, 1.2, 4, 12};
    for (int p = 0; p < 6; p++) {
        const double u = places[p], h = 0.01 * u;
        const expmap m2 = expmap_at(u - 2 * h), m1 = expmap_at(u - h), e = expmap_at(u);
        const expmap p1 = expmap_at(u + h), p2 = expmap_at(u + 2 * h);
#define SLOPE(x) ((m2.x - 8 * m1.x + 8 * p1.x - p2.x) / (12 * h))
        /* b1 about 1/24 u of b = 1/2: rounding is 1e-16/(h b1), so the absolute part */
        assert_close(SLOPE(b), e.b1, 1e-8, 1e-16 / h);
        assert_close(SLOPE(c), e.c1, 1e-8, 1e-16 / h);
        assert_close(SLOPE(b1), e.b2, 1e-8, 1e-16 / h);
        assert_close(SLOPE(c1), e.c2, 1e-8, 1e-16 / h);
#undef SLOPE
    }
}

/* T(v) is the integral of exp(x [v]x) over x in 0..1 (Simpson's rule on 64 panels, 1e-9). */
static void expmap_t_is_the_mean_rotation(void **state)
{
    (void)state;
    for (int i = 0; i < AXES; i++) {
        const vec3 v = vec3_scale(1.7, unit(axes[i].x, axes[i].y, axes[i].z));
        const vec3 x = {0.3, -1, 0.6};
        vec3 sum = {0, 0, 0};
        for (int k = 0; k <= 64; k++) {
            const mat3 r = mat3_rotation(vec3_scale(k / 64.0, v));
            const double weight = (k == 0 || k == 64 ? 1 : k % 2 ? 4 : 2) / (3 * 64.0);
            sum = vec3_axpy(weight, mat3_apply(&r, x), sum);
        }
        const expmap e = expmap_at(vec3_dot(v, v));
        const vec3 vx = vec3_cross(v, x);
        const vec3 t = vec3_axpy(e.c, vec3_cross(v, vx), vec3_axpy(e.b, vx, x));
        assert_vec(t, sum, 1e-8);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(products),
        cmocka_unit_test(inertia_of_a_point),
        cmocka_unit_test(rotation_turns_by_its_angle),
        cmocka_unit_test(rotation_vector_comes_back),
        cmocka_unit_test(rotation_vector_is_the_short_way),
        cmocka_unit_test(expmap_is_right_to_rounding),
        cmocka_unit_test(expmap_is_continuous),
        cmocka_unit_test(expmap_derivatives_are_those_of_its_values),
        cmocka_unit_test(expmap_t_is_the_mean_rotation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
