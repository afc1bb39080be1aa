/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Frequencies of the finite elements against exact and published ones: uniform and tapered
 * cantilevers, bodies on the end, torsion, two principal stiffnesses, and bending coupled with
 * torsion. betaL = sqrt(omega L^2 sqrt(m/EI)), lambda = betaL^2.
 *
 * Error of Hermite cubics: the relative error of omega is about (beta h)^4/1440, so 96 elements
 * hold the fourth mode (betaL < 11) to 1.2e-7. Demanded: 1e-6. */
#include "beams.h"

#include <gsl/gsl_linalg.h>
#include <gsl/gsl_math.h>

#include "record.h"

enum { FINE = 96 };
static const double demanded = 1e-6;

/* An arbitrary uniform shaft, so that no scale is 1 by luck. Its first torsional frequency,
 * (pi/2L) sqrt(gj/polar), lies above the fourth bending one. */
static const double length = 0.9, ei = 40, gj = 25, mass = 0.06, polar = 4e-7;

/* Smallest place of a sign change of f between a and b, which must hold one; to rounding. */
static double root_between(double (*f)(const void *, double), const void *c, double a, double b)
{
    double fa = f(c, a);
    assert_true(fa * f(c, b) < 0);
    for (int i = 0; i < 200 && b - a > 4e-16 * b; i++) {
        const double mid = (a + b) / 2, fm = f(c, mid);
        if ((fm < 0) == (fa < 0)) {
            a = mid;
            fa = fm;
        } else {
            b = mid;
        }
    }
    return (a + b) / 2;
}

/* ------------------------------------------------------------------ uniform, one plane */

typedef struct plane_tip {
    double mu, kappa, d; /* tip mass / beam mass, inertia / (m L^3), axial offset / L */
} plane_tip;

/* With w = A (cosh - cos) + B (sinh - sin) of beta x: the determinant of the two end conditions
 * EI w'' = omega^2 (M d (w + d w') + J w'), EI w''' = -omega^2 M (w + d w'). */
static double plane_equation(const void *tip, double b)
{
    const plane_tip *t = tip;
    const double ch = cosh(b), sh = sinh(b), c = cos(b), s = sin(b), b3 = b * b * b;
    double m[2][2];
    for (int i = 0; i < 2; i++) {
        const double w = i ? sh - s : ch - c, w1 = b * (i ? ch - c : sh + s);
        const double w2 = i ? sh + s : ch + c, w3 = i ? ch + c : sh - s;
        const double place = w + t->d * w1;
        m[0][i] = w2 - b * b * (t->mu * t->d * place + t->kappa * w1);
        m[1][i] = w3 + b * t->mu * place;
    }
    return (m[0][0] * m[1][1] - m[0][1] * m[1][0]) / (b3 * ch * ch);
}

static beam_body plane_body(const plane_tip *t)
{
    const double all = mass * length;
    beam_body body = {.mass = t->mu * all, .centre = {t->d * length, 0, 0}};
    body.inertia.m[1][1] = body.inertia.m[2][2] = t->kappa * all * length * length;
    return body;
}

static double to_beta(double omega)
{
    return sqrt(omega * length * length * sqrt(mass / ei));
}

static modes *uniform_modes(const plane_tip *tip, int elements, size_t count)
{
    test_beam t = test_beam_uniform(test_station(ei, gj, mass, polar), length, length / elements);
    const beam_body body = plane_body(tip);
    if (body.mass > 0)
        beam_add_body(t.beam, &body);
    modes *m = test_modes(t.beam, count);
    test_beam_free(&t);
    return m;
}

/* Exact roots (9 digits) of the equation above; R. D. Blevins 1979, Formulas for Natural
 * Frequency and Mode Shape; P. A. A. Laura, J. L. Pombo, E. A. Susemihl 1974, J. Sound Vib.
 * 37:161 (the printed values from memory, the roots coincide with them). The last row has no
 * printed source. */
static const record_source tip_body_source = {
    RECORD_EXACT,
    "root of the frequency equation, which the test also finds by bisection; the tables "
    "of R. D. Blevins 1979, Formulas for Natural Frequency and Mode Shape, and P. A. A. "
    "Laura, J. L. Pombo, E. A. Susemihl 1974, J. Sound Vib. 37:161, have the same digits, "
    "as remembered"};

static void uniform_cantilevers_with_a_tip_body(void **state)
{
    (void)state;
    static const struct {
        plane_tip tip;
        double beta[4];
    } rows[] = {
        {{0, 0, 0}, {1.87510407, 4.69409113, 7.85475744, 10.9955407}},
        {{0.2, 0, 0}, {1.61639966, 4.26706157, 7.31837267, 10.4015626}},
        {{1, 0, 0}, {1.24791741, 4.03113944, 7.13413224, 10.2566211}},
        {{5, 0, 0}, {0.870021459, 3.94998049, 7.08253760, 10.2198649}},
        {{1, 0.01, 0}, {1.24244791, 3.63862454, 5.66300104, 8.17488081}},
    };
    static const char *const names[] = {
        "no tip mass", "tip mass 0.2 of the beam's", "tip mass equal to the beam's",
        "tip mass 5 times the beam's", "tip mass equal to the beam's, its inertia 0.01 m L^3"};
    double split = 0, table = 0, most = 0;
    for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
        modes *m = uniform_modes(&rows[r].tip, FINE, 8);
        for (size_t i = 0; i < 4; i++) {
            const double b = rows[r].beta[i];
            record_most(&most, to_beta(m->omega[2 * i]) / b - 1);
            /* Both planes, one frequency: the solver finds it twice. */
            record_most(&split, m->omega[2 * i + 1] / m->omega[2 * i] - 1);
            /* The table itself, to its last digit. */
            record_most(&table,
                        root_between(plane_equation, &rows[r].tip, b - 1e-3, b + 1e-3) / b - 1);
        }
        char text[128];
        snprintf(text, sizeof text, "beta L of mode 1, uniform cantilever, %s", names[r]);
        verify(text, tip_body_source, "1", to_beta(m->omega[0]), rows[r].beta[0], demanded, 0);
        modes_free(m);
    }
    verify_within("beta L of modes 1 to 4 of these five, relative", tip_body_source, "1", most,
                  demanded);
    assert_true(split <= 1e-11);
    assert_true(table <= 6e-9);
}

/* The centre of mass beyond the end of the shaft: roots of the same equation, found here. */
static void a_tip_body_ahead_of_the_end(void **state)
{
    (void)state;
    const plane_tip tip = {1.5, 0.004, 0.05};
    modes *m = uniform_modes(&tip, FINE, 8);
    int found = 0;
    double most = 0;
    for (double b = 0.1; b < 9; b += 0.01)
        if (plane_equation(&tip, b) * plane_equation(&tip, b + 0.01) < 0) {
            const double root = root_between(plane_equation, &tip, b, b + 0.01);
            if (found < 4)
                record_most(&most, to_beta(m->omega[2 * found]) / root - 1);
            found++;
        }
    assert_true(found >= 4);
    static const record_source source = {
        RECORD_EXACT, "roots of the frequency equation, found by bisection in the test"};
    verify_within(
        "beta L of modes 1 to 4, tip body with its centre 0.05 L beyond the end, relative", source,
        "1", most, demanded);
    modes_free(m);
}

/* omega from above, the error falling with the fourth power of the element length. */
static void frequencies_converge_with_the_fourth_power(void **state)
{
    (void)state;
    const plane_tip tip = {0.2, 0, 0};
    const double exact = root_between(plane_equation, &tip, 7.3, 7.4);
    enum { COUNT = 5, FIRST = 6 };
    double elements[COUNT], error[COUNT], bound[COUNT], most = 0;
    for (int i = 0; i < COUNT; i++) {
        const int n = FIRST << i;
        modes *m = uniform_modes(&tip, n, 8);
        const double bh = exact / n;
        elements[i] = n;
        error[i] = to_beta(m->omega[4]) / exact - 1;
        assert_true(error[i] > 0);
        /* (beta h)^4/1440 for omega is half of it for betaL; the tip mass takes a little off. */
        bound[i] = bh * bh * bh * bh / 2880;
        modes_free(m);
    }
    for (int i = 0; i < 3; i++) {
        assert_true(error[i] < 1.1 * bound[i]);
        if (i > 0)
            record_most(&most, log2(error[i - 1] / error[i]) - 4);
    }
    static const record_source source = {
        RECORD_LAW, "the error of Hermite cubics, (beta h)^4/1440 of the frequency"};
    verify_within("order of convergence of mode 3 over 6, 12, 24 elements, less 4", source, "1",
                  most, 0.1);
    record_curve c = {.plot = "element-error",
                      .title =
                          "Relative error of beta L of the third mode of a cantilever with a tip "
                          "mass, over the number of elements.",
                      .x_label = "elements",
                      .y_label = "relative error of $\\beta L$",
                      .label = "$(\\beta h)^4/2880$",
                      .count = COUNT,
                      .x = elements,
                      .y = bound,
                      .log = "xy"};
    record_draw(&c);
    c.label = "computed";
    c.y = error;
    c.points = 1;
    record_draw(&c);
}

/* A grip: mass that rides along without stiffening. All along the shaft it lowers every bending
 * frequency by the square root of the mass ratio; over a
 * part, the mesh has nodes at its ends, so that linear mass and its moment are exact. */
static void mass_that_rides_along(void **state)
{
    (void)state;
    test_beam t = test_beam_uniform(test_station(ei, gj, mass, polar), length, length / 24);
    beam_shape shape = {.profile = t.profile, .held_at = length, .element = length / 24};
    shape.added = (beam_added){.from_at = -1,
                               .to_at = 2 * length,
                               .mass_from = 2 * mass,
                               .mass_to = 2 * mass,
                               .gyration = 0.01};
    beam *b = NULL;
    assert_int_equal(beam_create(&shape, &b, NULL), CABER_OK);
    modes *light = test_modes(t.beam, 4), *heavy = test_modes(b, 4);
    double most = 0;
    for (size_t i = 0; i < 4; i++)
        record_most(&most, light->omega[i] / heavy->omega[i] / sqrt(3) - 1);
    static const record_source ratio = {RECORD_EXACT, "the square root of the ratio of masses"};
    verify_within("frequencies with three times the mass riding along, relative", ratio, "1", most,
                  1e-9);
    assert_close(beam_section(b, 0.3).polar, polar + 2 * mass * 1e-4, 1e-14, 0);
    modes_free(light);
    modes_free(heavy);
    beam_free(b);

    const double from = 0.613, to = 0.871; /* m from the tip */
    shape.added = (beam_added){.from_at = from, .to_at = to, .mass_from = 0.1, .mass_to = 0.3};
    assert_int_equal(beam_create(&shape, &b, NULL), CABER_OK);
    double all = 0, moment = 0;
    for (size_t i = 0; i < b->point_count; i++) {
        all += b->point[i].mass;
        moment += b->point[i].mass * (length - b->point[i].s);
    }
    const double grip = (to - from) * 0.2;
    /* a trapezium's centre: (to - from)/3 (0.1 + 2 * 0.3)/(0.1 + 0.3) from its light end */
    const double centre = from + (to - from) / 3 * 0.7 / 0.4;
    assert_close(all, mass * length + grip, 1e-14, 0);
    assert_close(moment, mass * length * length / 2 + grip * centre, 1e-14, 0);
    beam_free(b);
    test_beam_free(&t);
}

/* ------------------------------------------------------------------ torsion */

static double torsion_equation(const void *eta, double l)
{
    return cos(l) - *(const double *)eta * l * sin(l);
}

static double torsion_numbers(double eta, int elements, size_t count, double *l)
{
    /* Bending is out of the way: stiff. */
    test_beam t = test_beam_uniform(test_station(1e7, gj, mass, polar), length, length / elements);
    beam_body body = {0};
    body.inertia.m[0][0] = eta * polar * length;
    beam_add_body(t.beam, &body);
    modes *m = test_modes(t.beam, count);
    for (size_t i = 0; i < count; i++)
        l[i] = m->omega[i] * length * sqrt(polar / gj);
    modes_free(m);
    test_beam_free(&t);
    return l[0];
}

/* Roots of cos l = eta l sin l, to 9 digits (exact); the second by bisection here. */
static void torsion_with_end_inertia(void **state)
{
    (void)state;
    static const double rows[][2] = {
        {0, 1.57079633}, {0.5, 1.07687399}, {1, 0.860333589}, {10, 0.311052848}};
    static const record_source source = {
        RECORD_EXACT, "root of cos l = eta l sin l, l = omega L sqrt(mass inertia/GJ)"};
    double most = 0;
    for (size_t r = 0; r < 4; r++) {
        double l[2];
        torsion_numbers(rows[r][0], FINE, 2, l);
        record_most(&most, l[0] / rows[r][1] - 1);
        if (rows[r][0] == 0.5)
            verify("l of torsion mode 1, end inertia half of the shaft's", source, "1", l[0],
                   rows[r][1], 1e-8, 0);
        const double second = root_between(torsion_equation, &rows[r][0], 3.1, 4.8);
        record_most(&most, l[1] / second - 1);
    }
    verify_within("modes 1 and 2, end inertia 0, 0.5, 1 and 10 of the shaft's, relative", source,
                  "1", most, 1e-8);
}

/* Quadratic phi: (l h)^4/1440 too. */
static void torsion_converges_with_the_fourth_power(void **state)
{
    (void)state;
    const double eta = 0.5, exact = root_between(torsion_equation, &eta, 3.2, 4);
    double last = 0, most = 0, l[2];
    for (int n = 3; n <= 12; n *= 2) {
        torsion_numbers(eta, n, 2, l);
        const double e = l[1] / exact - 1;
        assert_true(e > 0);
        if (last > 0)
            record_most(&most, log2(last / e) - 4);
        last = e;
    }
    static const record_source source = {RECORD_LAW,
                                         "the error of quadratic twist, (l h)^4/1440 likewise"};
    verify_within("order of convergence of torsion mode 2 over 3, 6, 12 elements, less 4", source,
                  "1", most, 0.15);
}

/* ------------------------------------------------------------------ two principal stiffnesses */

/* Each plane has its own frequencies, in the ratio sqrt(ei/ei_2), wherever the planes point. The
 * error of the elements (5e-7 for the second mode of 24) is the same in both and leaves the
 * ratio; what is left is rounding in K, 1e-11 here, which grows with the fourth power of the
 * number of elements. */
static void principal_planes_split_the_frequencies(void **state)
{
    (void)state;
    const double ratio = 1.3, angles[] = {0, 0.4, -1.1, M_PI / 2};
    double apart = 0, turned = 0, level = 0;
    for (int i = 0; i < 4; i++) {
        caber_station s = test_station(ei, gj, mass, polar);
        s.ei_2 = ei / ratio;
        s.ei_angle = angles[i];
        test_beam t = test_beam_uniform(s, length, length / 24);
        modes *m = test_modes(t.beam, 4);
        record_most(&level, to_beta(m->omega[1]) / 1.87510407 - 1);
        record_most(&level, to_beta(m->omega[3]) / 4.69409113 - 1);
        record_most(&apart, m->omega[1] / m->omega[0] / sqrt(ratio) - 1);
        record_most(&apart, m->omega[3] / m->omega[2] / sqrt(ratio) - 1);
        /* The stiffer mode moves along the direction of `ei`. */
        const double *end = m->shape + 2 * m->dof_count - BEAM_NODE_DOFS;
        const double across = -sin(angles[i]) * end[BEAM_V] + cos(angles[i]) * end[BEAM_W];
        const double along = cos(angles[i]) * end[BEAM_V] + sin(angles[i]) * end[BEAM_W];
        record_most(&turned, across / along);
        modes_free(m);
        test_beam_free(&t);
    }
    static const record_source source = {
        RECORD_EXACT, "each plane has its own frequencies, in the ratio sqrt(EI/EI_2)"};
    verify_within("beta L of the stiffer plane's modes 1 and 2, at four spine angles, relative",
                  tip_body_source, "1", level, demanded);
    verify_within("ratio of the two planes' frequencies, EI/EI_2 = 1.3, relative", source, "1",
                  apart, 1e-9);
    verify_within("direction of the stiffer mode off its principal plane", source, "rad", turned,
                  1e-8);
}

/* ------------------------------------------------------------------ taper */

typedef struct taper {
    double c;
    int area, second; /* powers of 1 - c x of mass and EI; x = 0 is held */
    double mu;        /* tip mass / beam mass */
    double lambda[3]; /* from the held end's mass and EI */
} taper;

static void taper_lambda(const taper *row, size_t gaps, double *out)
{
    enum { MOST = 241 };
    caber_station stations[MOST];
    assert_true(gaps < MOST);
    for (size_t i = 0; i <= gaps; i++) {
        const double x = 1 - (double)i / (double)gaps, y = 1 - row->c * x;
        stations[i] = test_station(ei * pow(y, row->second), 1e4, mass * pow(y, row->area), polar);
        stations[i].diameter = 0.01;
        stations[i].at = length * (double)i / (double)gaps;
    }
    test_beam t = test_beam_create(stations, gaps + 1, NULL, length);
    double all = 0;
    for (size_t i = 0; i < t.beam->point_count; i++)
        all += t.beam->point[i].mass;
    const beam_body body = {.mass = row->mu * all};
    if (row->mu > 0)
        beam_add_body(t.beam, &body);
    modes *m = test_modes(t.beam, 6);
    for (int i = 0; i < 3; i++)
        out[i] = m->omega[2 * i] * length * length * sqrt(mass / ei);
    modes_free(m);
    test_beam_free(&t);
}

/* Bessel solutions (8 digits; from memory, computed ones coincide): H. H. Mabie, C. B. Rogers
 * 1972; B. Downs 1977; the sharp wedge G. Kirchhoff. A thin tube of constant wall and linear
 * taper has mass ~ y and EI ~ y^3: the wedge rows.
 *
 * The stations sample the taper, Steffen's cubic fills in. Inside, its slopes are good to second
 * order and its error changes sign within a gap; in the two end gaps the slope is the secant's,
 * in error by h y''/2, which over one gap costs h^3 in the frequency. Of 240 gaps 2e-8 is left,
 * and 1.5e-7 in the third mode of the sharp wedge, whose EI vanishes at the tip. */
static const taper tapers[] = {
    {0.3, 1, 3, 0, {3.6667495, 19.8806064, 53.3221989}},
    {0.5, 1, 3, 0, {3.8237848, 18.3172609, 47.264827}},
    {0.5, 2, 4, 0, {4.6251503, 19.5476132, 48.5788993}},
    {1, 1, 3, 0, {5.3150994, 15.207168, 30.0198091}},
    {0.5, 1, 3, 1, {1.4527237, 12.7984727, 38.001436}},
};

static const record_source taper_source = {
    RECORD_MEMORY,
    "Bessel solutions: H. H. Mabie, C. B. Rogers 1972; B. Downs 1977; G. Kirchhoff (the "
    "sharp wedge); recomputed in test_remembered.py"};

static void tapered_cantilevers(void **state)
{
    (void)state;
    static const char *const names[] = {"wedge, c = 0.3", "wedge, c = 0.5", "cone, c = 0.5",
                                        "sharp wedge, c = 1",
                                        "wedge, c = 0.5, tip mass equal to the beam's"};
    double most = 0;
    for (size_t r = 0; r < sizeof tapers / sizeof tapers[0]; r++) {
        double lambda[3];
        char text[128];
        taper_lambda(&tapers[r], 240, lambda);
        for (int i = 1; i < 3; i++)
            record_most(&most, lambda[i] / tapers[r].lambda[i] - 1);
        snprintf(text, sizeof text, "omega L^2 sqrt(m/EI) of mode 1, %s", names[r]);
        verify(text, taper_source, "1", lambda[0], tapers[r].lambda[0], demanded, 0);
    }
    verify_within("modes 2 and 3 of these five, relative", taper_source, "1", most, demanded);
}

/* 15, 30, 60 gaps, whose errors are well above the last digit of the published value. */
static void sampled_taper_converges_with_the_third_power(void **state)
{
    (void)state;
    double last = 0, most = 0, lambda[3];
    for (size_t gaps = 15; gaps <= 60; gaps *= 2) {
        taper_lambda(&tapers[1], gaps, lambda);
        const double e = fabs(lambda[0] / tapers[1].lambda[0] - 1);
        if (last > 0)
            record_most(&most, log2(last / e) - 3);
        last = e;
    }
    static const record_source source = {
        RECORD_LAW, "the error of Steffen's monotone cubic, of third order from its end gaps"};
    verify_within("order of convergence of a wedge's mode 1 over 15, 30, 60 gaps between stations, "
                  "less 3",
                  source, "1", most, 0.15);
}

/* ------------------------------------------------------------------ coupled bending and torsion */

/* A uniform shaft with a different stiffness in each plane and any body on its end. */
typedef struct coupled {
    double ei_v, ei_w;
    double tip[5][5]; /* inertia of the body for (v, v', w, w', phi) of the end */
} coupled;

/* v = A (cosh - cos) + B (sinh - sin), w likewise, phi = C sin: the determinant of the five end
 * conditions (-EI v''', EI v'', -EI w''', EI w'', GJ phi') = omega^2 tip (v, v', w, w', phi). */
static double coupled_equation(const void *context, double omega)
{
    const coupled *c = context;
    double end[5][5] = {{0}}, load[5][5] = {{0}}; /* [quantity][unknown] */
    for (int p = 0; p < 2; p++) {
        const double e = p ? c->ei_w : c->ei_v;
        const double b = sqrt(omega * sqrt(mass / e)), x = b * length, scale = 1 / cosh(x);
        const double ch = 1, sh = tanh(x), co = cos(x) * scale, si = sin(x) * scale;
        const double w[2] = {ch - co, sh - si}, w1[2] = {b * (sh + si), b * (ch - co)};
        const double w2[2] = {b * b * (ch + co), b * b * (sh + si)};
        const double w3[2] = {b * b * b * (sh - si), b * b * b * (ch + co)};
        for (int i = 0; i < 2; i++) {
            end[2 * p][2 * p + i] = w[i];
            end[2 * p + 1][2 * p + i] = w1[i];
            load[2 * p][2 * p + i] = -e * w3[i];
            load[2 * p + 1][2 * p + i] = e * w2[i];
        }
    }
    const double g = omega * sqrt(polar / gj);
    end[4][4] = sin(g * length);
    load[4][4] = gj * g * cos(g * length);
    gsl_matrix *a = gsl_matrix_alloc(5, 5);
    gsl_permutation *perm = gsl_permutation_alloc(5);
    for (size_t i = 0; i < 5; i++)
        for (size_t j = 0; j < 5; j++) {
            double x = load[i][j];
            for (int k = 0; k < 5; k++)
                x -= omega * omega * c->tip[i][k] * end[k][j];
            gsl_matrix_set(a, i, j, x);
        }
    int sign;
    gsl_linalg_LU_decomp(a, perm, &sign);
    const double det = gsl_linalg_LU_det(a, sign);
    gsl_matrix_free(a);
    gsl_permutation_free(perm);
    return det;
}

/* A lump of five point masses: its motion needs nothing but r. = u + theta x d. */
enum { POINTS = 5 };
static const double lump_mass[POINTS] = {0.05, 0.03, 0.06, 0.02, 0.04};
static const vec3 lump_at[POINTS] = {{0.01, 0.02, 0.08},
                                     {0.04, -0.01, 0.02},
                                     {0.03, 0.03, 0.05},
                                     {-0.02, 0.01, -0.03},
                                     {0.05, -0.02, 0.06}};

static beam_body lump_body(void)
{
    beam_body body = {0};
    for (int i = 0; i < POINTS; i++) {
        body.mass += lump_mass[i];
        body.centre = vec3_axpy(lump_mass[i], lump_at[i], body.centre);
    }
    body.centre = vec3_scale(1 / body.mass, body.centre);
    for (int i = 0; i < POINTS; i++)
        mat3_add_point_inertia(&body.inertia, lump_mass[i], vec3_sub(lump_at[i], body.centre));
    return body;
}

/* sum m r.(x) . r.(y) for end motions x, y = (v, v', w, w', phi). */
static double lump_product(const double *x, const double *y)
{
    double sum = 0;
    for (int i = 0; i < POINTS; i++) {
        const vec3 r[2] = {vec3_add(vec3_make(0, x[0], x[2]),
                                    vec3_cross(vec3_make(x[4], -x[3], x[1]), lump_at[i])),
                           vec3_add(vec3_make(0, y[0], y[2]),
                                    vec3_cross(vec3_make(y[4], -y[3], y[1]), lump_at[i]))};
        sum += lump_mass[i] * vec3_dot(r[0], r[1]);
    }
    return sum;
}

/* Every frequency of the offset body's shaft up to a limit, against the exact equation: no more, no
 * fewer, and where they belong. All five motions take part. */
static void an_offset_body_couples_both_planes_and_torsion(void **state)
{
    (void)state;
    coupled c = {.ei_v = ei, .ei_w = 1.4 * ei};
    for (int i = 0; i < 5; i++)
        for (int j = 0; j < 5; j++) {
            double x[5] = {0}, y[5] = {0};
            x[i] = y[j] = 1;
            c.tip[i][j] = lump_product(x, y);
        }
    caber_station s = test_station(c.ei_v, gj, mass, polar);
    s.ei_2 = c.ei_w;
    test_beam t = test_beam_uniform(s, length, length / FINE);
    const beam_body body = lump_body();
    beam_add_body(t.beam, &body);
    modes *m = test_modes(t.beam, 9);
    const double last = (m->omega[7] + m->omega[8]) / 2, step = last / 20000;
    size_t found = 0;
    double most = 0, first = 0, before = coupled_equation(&c, step);
    for (double omega = 2 * step; omega <= last; omega += step) {
        const double now = coupled_equation(&c, omega);
        if (before * now < 0) {
            const double root = root_between(coupled_equation, &c, omega - step, omega);
            assert_in_range(found, 0, 7);
            first = found == 0 ? root : first;
            record_most(&most, m->omega[found] / root - 1);
            found++;
        }
        before = now;
    }
    assert_int_equal(found, 8);
    static const record_source source = {
        RECORD_EXACT,
        "roots of the determinant of the five end conditions (v, v', w, w', twist), found "
        "by bisection in the test"};
    verify("mode 1 of a shaft with two unequal planes and a body off its axis", source, "rad/s",
           m->omega[0], first, demanded, 0);
    verify_within("all eight modes up to a limit (no more, no fewer), relative", source, "1", most,
                  demanded);
    modes_free(m);
    test_beam_free(&t);
}

/* On a shaft without mass the same body has five frequencies: omega^2 of C M, with the
 * flexibility C of a cantilever's end (L^3/3EI, L^2/2EI, L/EI, L/GJ). Here det(1/omega^2 - C M)
 * = 0 is tested. */
static void a_shaft_without_mass_leaves_the_rigid_body(void **state)
{
    (void)state;
    caber_station s = test_station(ei, gj, 0, 0);
    s.ei_2 = 1.4 * ei;
    test_beam t = test_beam_uniform(s, length, length / 12);
    const beam_body body = lump_body();
    beam_add_body(t.beam, &body);
    modes *m = test_modes(t.beam, 5);
    assert_int_equal(m->count, 5);
    double flex[5][5] = {{0}};
    for (int p = 0; p < 2; p++) {
        const double e = p ? 1.4 * ei : ei;
        flex[2 * p][2 * p] = length * length * length / (3 * e);
        flex[2 * p + 1][2 * p + 1] = length / e;
        flex[2 * p][2 * p + 1] = flex[2 * p + 1][2 * p] = length * length / (2 * e);
    }
    flex[4][4] = length / gj;
    static const int dof[5] = {BEAM_V, BEAM_V_SLOPE, BEAM_W, BEAM_W_SLOPE, BEAM_PHI};
    double most = 0;
    for (size_t k = 0; k < 5; k++) {
        /* The end's motion x must be omega^2 C M x. */
        const double *end = m->shape + (k + 1) * m->dof_count - BEAM_NODE_DOFS;
        double x[5], mx[5], size = 0;
        for (int i = 0; i < 5; i++) {
            x[i] = end[dof[i]];
            size = fmax(size, fabs(x[i]));
        }
        for (int i = 0; i < 5; i++) {
            double unit[5] = {0};
            unit[i] = 1;
            mx[i] = lump_product(unit, x);
        }
        for (int i = 0; i < 5; i++) {
            double y = 0;
            for (int j = 0; j < 5; j++)
                y += m->omega[k] * m->omega[k] * flex[i][j] * mx[j];
            record_most(&most, (y - x[i]) / size);
        }
    }
    static const record_source source = {
        RECORD_EXACT, "omega^2 C M x = x, C the flexibility of a cantilever's end"};
    verify_within(
        "the five modes of the same body on a shaft without mass, residual by the largest "
        "component",
        source, "1", most, 1e-8);
    modes_free(m);
    test_beam_free(&t);
}

/* J. R. Banerjee 1999, J. Sound Vib.: a wing whose mass lies x_alpha from its elastic axis all
 * along (data and answers from memory; the roots of the exact equation coincide). I_alpha is
 * about the elastic axis. */
static const double wing_span = 6, wing_mass = 35.75, wing_polar = 8.65, wing_offset = 0.18;
static const double wing_omega[5] = {49.61472, 97.03543, 248.87357, 355.58751, 451.45497};
static const record_source wing_source = {
    RECORD_MEMORY,
    "J. R. Banerjee 1999, J. Sound Vib., a wing of 6 m; recomputed in test_remembered.py"};

/* Without mass of its own; a plane that does not couple (angle 0: w, for an offset along e3) is
 * out of the way. */
static caber_station wing_section(double angle)
{
    caber_station s = test_station(9.75e6, 9.88e5, 0, 0);
    s.ei_2 = 1e5 * s.ei;
    s.ei_angle = angle;
    return s;
}

/* The mass as a grip's, beside the axis along e3, where it couples v, and along e2, where it
 * couples w. */
static void a_wing_with_its_mass_beside_the_axis(void **state)
{
    (void)state;
    double most = 0;
    for (int i = 0; i < 4; i++) {
        const double angle = i * M_PI / 2, y = -sin(angle), z = cos(angle);
        test_beam t = test_beam_uniform(wing_section(angle), wing_span, wing_span / FINE);
        beam_shape shape = {
            .profile = t.profile, .held_at = wing_span, .element = wing_span / FINE};
        shape.added =
            (beam_added){.from_at = -1,
                         .to_at = wing_span + 1,
                         .mass_from = wing_mass,
                         .mass_to = wing_mass,
                         .gyration = sqrt(wing_polar / wing_mass - wing_offset * wing_offset),
                         .offset_2 = y * wing_offset,
                         .offset_3 = z * wing_offset};
        beam *b = NULL;
        assert_int_equal(beam_create(&shape, &b, NULL), CABER_OK);
        modes *m = test_modes(b, 5);
        for (size_t k = 0; k < 5; k++)
            record_most(&most, m->omega[k] / wing_omega[k] - 1);
        modes_free(m);
        beam_free(b);
        test_beam_free(&t);
    }
    verify_within(
        "modes 1 to 5 of a wing with its mass beside the axis, in four directions, relative",
        wing_source, "1", most, demanded);
}

/* The same as rigid bodies at the nodes, put on by the function that puts the head on the end,
 * with the weights of the trapezoidal rule. */
static void lumped_wing_frequencies(int elements, double omega[5])
{
    test_beam t = test_beam_uniform(wing_section(0), wing_span, wing_span / elements);
    assert_int_equal(t.beam->node_count, elements + 1);
    for (size_t k = 1; k < t.beam->node_count; k++) {
        const double weight = (k + 1 == t.beam->node_count ? 0.5 : 1) * wing_span / elements;
        beam_body body = {.mass = weight * wing_mass, .centre = {0, 0, wing_offset}};
        body.inertia.m[0][0] = weight * (wing_polar - wing_mass * wing_offset * wing_offset);
        beam up_to_here = *t.beam;
        up_to_here.dof_count = BEAM_NODE_DOFS * k;
        beam_add_body(&up_to_here, &body);
    }
    modes *m = test_modes(t.beam, 5);
    for (size_t i = 0; i < 5; i++)
        omega[i] = m->omega[i];
    modes_free(m);
    test_beam_free(&t);
}

/* Deflections under forces at nodes are exact at the nodes, so the only error is that of lumping, a
 * series in h^2, h^4, ...: two steps of Richardson leave h^6. */
static void a_wing_cut_into_bodies(void **state)
{
    (void)state;
    double w[3][5];
    for (int k = 0; k < 3; k++)
        lumped_wing_frequencies(24 << k, w[k]);
    double most = 0;
    for (size_t i = 0; i < 5; i++) {
        assert_close((w[1][i] - w[0][i]) / (w[2][i] - w[1][i]), 4, 0, 0.2);
        const double a = (4 * w[1][i] - w[0][i]) / 3, b = (4 * w[2][i] - w[1][i]) / 3;
        record_most(&most, (16 * b - a) / 15 / wing_omega[i] - 1);
    }
    verify_within("the same with its mass cut into rigid bodies, extrapolated, relative",
                  wing_source, "1", most, demanded);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uniform_cantilevers_with_a_tip_body),
        cmocka_unit_test(a_tip_body_ahead_of_the_end),
        cmocka_unit_test(frequencies_converge_with_the_fourth_power),
        cmocka_unit_test(mass_that_rides_along),
        cmocka_unit_test(torsion_with_end_inertia),
        cmocka_unit_test(torsion_converges_with_the_fourth_power),
        cmocka_unit_test(principal_planes_split_the_frequencies),
        cmocka_unit_test(tapered_cantilevers),
        cmocka_unit_test(sampled_taper_converges_with_the_third_power),
        cmocka_unit_test(an_offset_body_couples_both_planes_and_torsion),
        cmocka_unit_test(a_shaft_without_mass_leaves_the_rigid_body),
        cmocka_unit_test(a_wing_with_its_mass_beside_the_axis),
        cmocka_unit_test(a_wing_cut_into_bodies),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
