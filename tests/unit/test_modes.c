/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The eigensolver's promises: orthonormal shapes, every frequency found as often as it occurs,
 * residuals, and elements fine enough. */
#include "beams.h"

#include <stdlib.h>

/* A stepped, spined shaft with an offset body. */
static caber_station stepped[3];

static test_beam club_like(double element)
{
    const double at[3] = {0, 0.4, 0.95};
    stepped[0] = test_station(20, 14, 0.045, 8e-7);
    stepped[1] = test_station(33, 20, 0.052, 1.2e-6);
    stepped[2] = test_station(70, 45, 0.065, 3e-6);
    for (int i = 0; i < 3; i++) {
        stepped[i].at = at[i];
        stepped[i].ei_2 = 0.9 * stepped[i].ei;
        stepped[i].ei_angle = 0.4;
    }
    return test_beam_create(stepped, 3, NULL, element);
}

static beam_body head(void)
{
    beam_body body = {.mass = 0.2, .centre = {0.02, 0.01, 0.04}};
    body.inertia = (mat3){{{3e-4, 2e-5, 1e-5}, {2e-5, 2e-4, -3e-5}, {1e-5, -3e-5, 4e-4}}};
    return body;
}

static double dot(size_t n, const double *a, const double *b)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

/* X'MX = I, X'KX = omega^2, and |omega^2 K^-1 M x - x| in the norm of M within `residual`. */
static void assert_modes(const beam *b, const modes *m, double residual)
{
    const size_t n = m->dof_count;
    assert_int_equal(n, b->dof_count);
    double *mx = malloc(n * sizeof *mx), *kx = malloc(n * sizeof *kx);
    for (size_t i = 0; i < m->count; i++) {
        const double *x = m->shape + i * n, w = m->omega[i];
        assert_true(i == 0 || w >= m->omega[i - 1] * (1 - 1e-14));
        beam_multiply(b, b->mass, x, mx);
        beam_multiply(b, b->stiffness, x, kx);
        for (size_t j = 0; j < m->count; j++) {
            const double *y = m->shape + j * n;
            assert_close(dot(n, y, mx), i == j, 0, 1e-12);
            /* K x is a difference of large numbers: its rounding is 3e-10 with 50 elements */
            assert_close(dot(n, y, kx) / (w * m->omega[j]), i == j, 0, 1e-8);
        }
        beam_solve(b, mx);
        for (size_t k = 0; k < n; k++)
            kx[k] = w * w * mx[k] - x[k];
        beam_multiply(b, b->mass, kx, mx);
        assert_true(sqrt(dot(n, kx, mx)) <= residual);
    }
    free(mx);
    free(kx);
}

static void shapes_are_orthonormal_eigenvectors(void **state)
{
    (void)state;
    static const size_t counts[] = {1, 2, 7, 12, 30};
    for (int with_head = 0; with_head < 2; with_head++)
        for (int i = 0; i < 5; i++) {
            test_beam t = club_like(0.02);
            const beam_body body = head();
            if (with_head)
                beam_add_body(t.beam, &body);
            modes *m = test_modes(t.beam, counts[i]);
            assert_int_equal(m->count, counts[i]);
            /* what modes.h promises, with room for the rounding of this second evaluation */
            assert_modes(t.beam, m, 1.01e-8);
            modes_free(m);
            test_beam_free(&t);
        }
}

/* The lowest modes do not depend on how many are asked for. */
static void fewer_modes_are_the_first_of_more(void **state)
{
    (void)state;
    test_beam t = club_like(0.02);
    const beam_body body = head();
    beam_add_body(t.beam, &body);
    modes *few = test_modes(t.beam, 3), *many = test_modes(t.beam, 20);
    for (size_t i = 0; i < 3; i++) {
        assert_close(few->omega[i], many->omega[i], 1e-11, 0);
        for (size_t k = 0; k < few->dof_count; k++)
            assert_close(few->shape[i * few->dof_count + k], many->shape[i * few->dof_count + k], 0,
                         1e-9); /* the residual 1e-8 of one times the other's; seen: 1e-12 */
    }
    modes_free(few);
    modes_free(many);
    test_beam_free(&t);
}

/* The same bending in both planes and, by the choice of gj, torsion at the first bending
 * frequency: one frequency three times. (1.87510407^2 sqrt(ei/m)/L^2 = (pi/2L) sqrt(gj/polar).) */
static void a_threefold_frequency_is_found_three_times(void **state)
{
    (void)state;
    const double length = 0.9, ei = 40, mass = 0.06, polar = 4e-7;
    const double omega = 1.87510407 * 1.87510407 * sqrt(ei / mass) / (length * length);
    const double speed = omega * 2 * length / 3.14159265358979323846, gj = polar * speed * speed;
    test_beam t = test_beam_uniform(test_station(ei, gj, mass, polar), length, length / 48);
    modes *m = test_modes(t.beam, 9);
    for (size_t i = 0; i < 3; i++)
        assert_close(m->omega[i], omega, 1e-6, 0);
    assert_true(m->omega[3] > 2 * omega);
    assert_modes(t.beam, m, 1.01e-8);
    modes_free(m);
    test_beam_free(&t);
}

/* A shaft without polar inertia: torsion has no frequency of its own until a body gives it one,
 * sqrt(GJ/(L J)). */
static void torsion_without_inertia(void **state)
{
    (void)state;
    const double length = 0.9, ei = 40, gj = 25, mass = 0.06;
    test_beam t = test_beam_uniform(test_station(ei, gj, mass, 0), length, length / 24);
    modes *m = test_modes(t.beam, 8);
    for (size_t i = 0; i < m->count; i++)
        for (size_t k = 0; k < m->dof_count; k++)
            if (k % BEAM_NODE_DOFS == BEAM_PHI)
                assert_close(m->shape[i * m->dof_count + k], 0, 0, 1e-12);
    /* pairs of bending, betaL 1.875104 and so on, none lost */
    static const double beta[4] = {1.87510407, 4.69409113, 7.85475744, 10.9955407};
    for (size_t i = 0; i < 8; i++)
        assert_close(sqrt(m->omega[i] * length * length * sqrt(mass / ei)), beta[i / 2], 2e-5, 0);
    modes_free(m);

    const double j = 3e-4;
    beam_body body = {0};
    body.inertia.m[0][0] = j;
    beam_add_body(t.beam, &body);
    m = test_modes(t.beam, 8);
    int found = 0;
    for (size_t i = 0; i < m->count; i++)
        if (fabs(m->omega[i] / sqrt(gj / (length * j)) - 1) < 1e-10)
            found++;
    assert_int_equal(found, 1);
    modes_free(m);
    test_beam_free(&t);
}

/* Three elements without polar inertia move in 12 ways at most. */
static void no_more_modes_than_the_mesh_has(void **state)
{
    (void)state;
    test_beam t = test_beam_uniform(test_station(40, 25, 0.06, 0), 0.9, 0.3);
    modes *m = test_modes(t.beam, 30);
    assert_in_range(m->count, 6, 12);
    assert_modes(t.beam, m, 1e-6);
    modes_free(m);
    test_beam_free(&t);
}

static void the_largest_motion_of_the_tip_is_positive(void **state)
{
    (void)state;
    test_beam t = club_like(0.02);
    const beam_body body = head();
    beam_add_body(t.beam, &body);
    modes *m = test_modes(t.beam, 12);
    for (size_t i = 0; i < m->count; i++) {
        const double *end = m->shape + (i + 1) * m->dof_count - BEAM_NODE_DOFS;
        const double l = t.beam->length;
        const double move[5] = {end[BEAM_V], l * end[BEAM_V_SLOPE], end[BEAM_W],
                                l * end[BEAM_W_SLOPE], l * end[BEAM_PHI]};
        double best = 0;
        for (int k = 0; k < 5; k++)
            if (fabs(move[k]) > fabs(best))
                best = move[k];
        assert_true(best > 0);
    }
    modes_free(m);
    test_beam_free(&t);
}

/* Six frequencies within 1e-4 of the next coarser mesh, so, at the fourth order, within 1e-5 of
 * the exact ones, here those of a mesh four times as fine. Rough first guesses end alike. */
static void refined_elements_hold_six_frequencies(void **state)
{
    (void)state;
    const beam_body body = head();
    for (int with_head = 0; with_head < 2; with_head++) {
        test_beam t = club_like(0.1);
        beam_shape shape = {.profile = t.profile, .held_at = 0.95, .element = 0.4};
        beam *b = NULL;
        caber_message message = {"x"};
        assert_int_equal(modes_refine(shape, with_head ? &body : NULL, &b, &message), CABER_OK);
        assert_string_equal(message.text, "");
        shape.element = 0.95 / (double)(b->node_count - 1) / 4;
        beam *fine = NULL;
        assert_int_equal(beam_create(&shape, &fine, &message), CABER_OK);
        if (with_head)
            beam_add_body(fine, &body);
        modes *m = test_modes(b, 6), *exact = test_modes(fine, 6);
        for (size_t i = 0; i < 6; i++)
            assert_close(m->omega[i], exact->omega[i], 1e-5, 0);
        modes_free(m);
        modes_free(exact);
        beam_free(fine);
        beam_free(b);
        test_beam_free(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shapes_are_orthonormal_eigenvectors),
        cmocka_unit_test(fewer_modes_are_the_first_of_more),
        cmocka_unit_test(a_threefold_frequency_is_found_three_times),
        cmocka_unit_test(torsion_without_inertia),
        cmocka_unit_test(no_more_modes_than_the_mesh_has),
        cmocka_unit_test(the_largest_motion_of_the_tip_is_positive),
        cmocka_unit_test(refined_elements_hold_six_frequencies),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
