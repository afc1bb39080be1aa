/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Static deflections: the finite elements against closed forms, and the rod's exact kinematics
 * against large deflections in the plane and in space. */
#include "beams.h"

#include <gsl/gsl_eigen.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_sf_ellint.h>
#include <stdlib.h>

#include "record.h"
#include "swing/rod.h"

/* ------------------------------------------------------------------ small deflections */

/* Every end load of a uniform cantilever: L^3/3EI, L^2/2EI, L/EI, L/GJ. Cubics hold the answer
 * exactly; rounding in K (24 elements) leaves 1e-11. */
static void end_loads_on_a_uniform_shaft(void **state)
{
    (void)state;
    const double l = 1.1, ei = 37, ei_2 = 29, gj = 21;
    caber_station s = test_station(ei, gj, 0.07, 4e-7);
    s.ei_2 = ei_2;
    test_beam t = test_beam_uniform(s, l, l / 24);
    double *u = calloc(t.beam->dof_count, sizeof *u);
    beam_add_end_load(t.beam, 3, -2, vec3_make(0.5, 0.7, -0.4), u);
    beam_solve(t.beam, u);
    double place = 0, slope = 0, twist = 0;
    for (double x = 0.1; x < 1.05; x += 0.3) {
        const double at = fmin(x * l, l);
        const beam_state b = beam_state_at(t.beam, u, at);
        const double x2 = at * at / 2, x3 = l * x2 - at * x2 / 3;
        record_most(&place, b.v * ei / (3 * x3 - 0.4 * x2) - 1);
        record_most(&slope, b.v_slope * ei / (3 * (l * at - x2) - 0.4 * at) - 1);
        assert_close(b.v_curvature, (3 * (l - at) - 0.4) / ei, 1e-8, 1e-9);
        /* theta_y = -w', so a couple about e2 is a force-like -w'. */
        record_most(&place, b.w * ei_2 / (-2 * x3 - 0.7 * x2) - 1);
        record_most(&slope, b.w_slope * ei_2 / (-2 * (l * at - x2) - 0.7 * at) - 1);
        record_most(&twist, b.phi * gj / (0.5 * at) - 1);
        assert_close(b.twist_rate, 0.5 / gj, 1e-9, 0);
    }
    static const record_source source = {RECORD_EXACT,
                                         "L^3/3EI, L^2/2EI, L/EI, L/GJ: the theory of beams"};
    verify_within(
        "deflection of a uniform cantilever under end forces and couples, four places, both "
        "planes, relative",
        source, "1", place, 1e-9);
    verify_within("its slope, relative", source, "1", slope, 1e-9);
    verify_within("its twist, relative", source, "1", twist, 1e-10);
    free(u);
    test_beam_free(&t);
}

/* A force at any place, not only at a node: v(x) = F x^2 (3a - x)/6EI up to it, straight beyond.
 * Nodes are exact (Hermite cubics reproduce them for any load), so the reciprocal theorem holds
 * as well. */
static void a_force_between_nodes(void **state)
{
    (void)state;
    const double l = 1.1, ei = 37, a = 0.613;
    test_beam t = test_beam_uniform(test_station(ei, 21, 0.07, 4e-7), l, l / 12);
    double *u = calloc(t.beam->dof_count, sizeof *u);
    beam_add_force(t.beam, a, 5, 0, u);
    beam_solve(t.beam, u);
    double most = 0;
    for (size_t k = 1; k < t.beam->node_count; k++) {
        const double x = t.beam->node[k];
        const double v = x < a ? x * x * (3 * a - x) / 6 : a * a * (3 * x - a) / 6;
        record_most(&most, beam_state_at(t.beam, u, x).v * ei / (5 * v) - 1);
    }
    static const record_source source = {RECORD_EXACT,
                                         "F x^2 (3a - x)/6EI, straight beyond the force"};
    verify_within("deflection at every node under a force between two nodes, relative", source, "1",
                  most, 1e-10);
    free(u);
    test_beam_free(&t);
}

/* EI linear from the tip to the held end, EI(x) = E1 - (E1 - E0) x/L. Under an end force
 * v(L) = F integral (L - x)^2/EI dx, closed form below; 96 elements. */
static void end_force_on_a_tapered_shaft(void **state)
{
    (void)state;
    const double l = 1.1, tip = 15, butt = 60, k = (butt - tip) / l;
    caber_station s[2] = {test_station(tip, 21, 0.07, 4e-7), test_station(butt, 21, 0.07, 4e-7)};
    s[1].at = l;
    test_beam t = test_beam_create(s, 2, NULL, l / 96);
    double *u = calloc(t.beam->dof_count, sizeof *u);
    beam_add_end_load(t.beam, 1, 0, vec3_make(0, 0, 0), u);
    beam_solve(t.beam, u);
    /* y = L - x: integral y^2/(tip + k y) */
    const double want =
        l * l / (2 * k) - tip * l / (k * k) + tip * tip / (k * k * k) * log(1 + k * l / tip);
    static const record_source source = {RECORD_EXACT, "F times the integral of (L - x)^2/EI"};
    verify("tip deflection under 1 N, EI from 60 to 15 N m2 linearly", source, "m",
           beam_state_at(t.beam, u, l).v, want, 1e-8, 0);
    free(u);
    test_beam_free(&t);
}

typedef struct twisted {
    double l, ei, ei_2, held, tip; /* held, tip: angles */
    int which;
} twisted;

static double twisted_integrand(double x, void *context)
{
    const twisted *t = context;
    const double a = t->held + (t->tip - t->held) * x / t->l, y = t->l - x;
    const double c = cos(a), s = sin(a);
    return y * y * (t->which ? s * c * (1 / t->ei - 1 / t->ei_2) : c * c / t->ei + s * s / t->ei_2);
}

/* Principal directions that turn along the shaft; the answer is that of the flexibility tensor
 * 1/ei a a' + 1/ei_2 b b', a = (cos, sin) of the angle from e2: a force along e2 also moves the end
 * along e3. Turned by a constant angle, the deflection turns with it. 24 elements are enough for
 * that, and rounding in K grows with the fourth power of their number. */
static void end_force_on_a_shaft_with_turning_spine(void **state)
{
    (void)state;
    static const double angles[][2] = {{0.6, 0.6}, {-0.3, 1.4}};
    static const record_source source = {
        RECORD_EXACT, "integral of the flexibility tensor along the shaft, by quadrature"};
    for (int i = 0; i < 2; i++) {
        twisted c = {1.1, 40, 28, angles[i][0], angles[i][1], 0};
        caber_station s[2] = {test_station(c.ei, 21, 0.07, 4e-7),
                              test_station(c.ei, 21, 0.07, 4e-7)};
        s[0].ei_2 = s[1].ei_2 = c.ei_2;
        s[0].ei_angle = c.tip;
        s[1].ei_angle = c.held;
        s[1].at = c.l;
        test_beam t = test_beam_create(s, 2, NULL, c.l / (i ? 64 : 24));
        double *u = calloc(t.beam->dof_count, sizeof *u);
        beam_add_end_load(t.beam, 1, 0, vec3_make(0, 0, 0), u);
        beam_solve(t.beam, u);
        const beam_state b = beam_state_at(t.beam, u, c.l);
        gsl_function f = {twisted_integrand, &c};
        double want, error;
        size_t evaluations;
        gsl_integration_qng(&f, 0, c.l, 0, 1e-10, &want, &error, &evaluations);
        verify(i ? "tip along the force, a spine that turns from -0.3 to 1.4 rad"
                 : "tip along the force of 1 N, a spine at 0.6 rad",
               source, "m", b.v, want, 1e-8, 0);
        c.which = 1;
        gsl_integration_qng(&f, 0, c.l, 0, 1e-10, &want, &error, &evaluations);
        assert_close(b.w, want, 1e-8, 0); /* across the force */
        free(u);
        test_beam_free(&t);
    }
}

/* u' K u is twice the strain energy F v, and the thirds add up to the whole. */
static void energy_by_thirds(void **state)
{
    (void)state;
    const double l = 1.1, ei = 37;
    test_beam t = test_beam_uniform(test_station(ei, 21, 0.07, 4e-7), l, l / 24);
    double *u = calloc(t.beam->dof_count, sizeof *u), part[3], all;
    beam_add_end_load(t.beam, 4, 0, vec3_make(0, 0, 0), u);
    beam_solve(t.beam, u);
    beam_energy_matrix(t.beam, u, 1, 0, l, &all);
    static const record_source source = {RECORD_EXACT, "integral of M^2/EI for an end force"};
    verify("twice the strain energy under an end force of 4 N", source, "J", all,
           16 * l * l * l / (3 * ei), 1e-9, 0);
    double most = 0;
    for (int i = 0; i < 3; i++) {
        beam_energy_matrix(t.beam, u, 1, i * l / 3, (i + 1) * l / 3, &part[i]);
        /* integral (F y)^2/EI over the third from the held end: ((3-i)^3 - (2-i)^3)/27 of it */
        const double share[3] = {19, 7, 1};
        record_most(&most, part[i] / (all * share[i] / 27) - 1);
    }
    verify_within("its thirds, 19:7:1 from the held end, relative", source, "1", most, 1e-9);
    free(u);
    test_beam_free(&t);
}

/* ------------------------------------------------------------------ large bends: the means */

enum { ELEMENTS = 120, STATIONS = 48, MOST = 33 };

/* The first integral of the Legendre polynomial P_k(2x - 1) from 0, or with order 2 the second. */
static double legendre_integral(int k, int order, double x)
{
    if (order == 2 && k == 0)
        return x * x / 2;
    if (order == 0) {
        double before = 1, now = 2 * x - 1;
        if (k == 0)
            return 1;
        for (int i = 1; i < k; i++) {
            const double next = ((2 * i + 1) * (2 * x - 1) * now - i * before) / (i + 1);
            before = now;
            now = next;
        }
        return now;
    }
    if (k == 0)
        return x;
    return (legendre_integral(k + 1, order - 1, x) - legendre_integral(k - 1, order - 1, x)) /
           (2 * (2 * k + 1));
}

/* Nodal values of a field ('v', 'w' or 't'wist) whose curvature or twist rate is
 * P_k(2s/L - 1)/L. */
static void legendre_field(const beam *b, char field, int k, double *u)
{
    const double l = b->length;
    for (size_t i = 0; i < b->dof_count; i++)
        u[i] = 0;
    for (size_t e = 1; e < b->node_count; e++) {
        double *node = u + (e - 1) * BEAM_NODE_DOFS;
        const double x = b->node[e] / l, mid = (b->node[e - 1] + b->node[e]) / (2 * l);
        const double one = legendre_integral(k, 1, x), two = legendre_integral(k, 2, x);
        if (field == 't') {
            node[BEAM_PHI] = one;
            node[BEAM_PHI_MID] = legendre_integral(k, 1, mid);
        } else {
            node[field == 'v' ? BEAM_V : BEAM_W] = l * two;
            node[field == 'v' ? BEAM_V_SLOPE : BEAM_W_SLOPE] = one;
        }
    }
}

/* A rod on the end of which a dead force acts. Coordinates [0, given) are prescribed and free of
 * strain: the shape the rod is made with. */
typedef struct problem {
    test_beam t;
    modes *shapes;
    rod *rod;
    rod_state state;
    int n, given;
    double *k, *q;
} problem;

/* fields: a letter a field; `degree` + 1 polynomials each. A first letter in capitals stands for
 * one prescribed constant curvature. */
static problem problem_create(caber_station section, double l, const char *fields, int degree)
{
    problem p = {.t = test_beam_uniform(section, l, l / ELEMENTS)};
    const beam *b = p.t.beam;
    p.shapes = calloc(1, sizeof *p.shapes);
    p.shapes->dof_count = b->dof_count;
    p.shapes->shape = calloc(MOST * b->dof_count, sizeof(double));
    p.shapes->omega = calloc(MOST, sizeof(double));
    for (const char *f = fields; *f; f++)
        if (*f == 'V') {
            p.given = 1;
            legendre_field(b, 'v', 0, p.shapes->shape + b->dof_count * p.shapes->count++);
        } else {
            for (int k = 0; k <= degree; k++)
                legendre_field(b, *f, k, p.shapes->shape + b->dof_count * p.shapes->count++);
        }
    assert_in_range(p.shapes->count, 1, MOST);
    p.n = (int)p.shapes->count;
    p.k = calloc((size_t)p.n * p.n, sizeof(double));
    p.q = calloc((size_t)p.n, sizeof(double));
    beam_energy_matrix(b, p.shapes->shape, p.shapes->count, 0, l, p.k);
    caber_message message = {""};
    if (rod_create(b, p.shapes, STATIONS, &p.rod, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_true(rod_state_create(p.rod, &p.state));
    return p;
}

static void problem_free(problem *p)
{
    rod_state_free(&p->state);
    rod_free(p->rod);
    modes_free(p->shapes);
    test_beam_free(&p->t);
    free(p->k);
    free(p->q);
}

static const rod_point *problem_tip(const problem *p)
{
    return &p->state.point[STATIONS];
}

/* X_tip' F at q. */
static void end_force(problem *p, const double *q, vec3 force, double *out)
{
    static const double rest[MOST] = {0};
    rod_move_with_jacobians(p->rod, q, rest, &p->state);
    const double *x = p->state.move + (size_t)STATIONS * 3 * p->rod->stride;
    const int stride = p->rod->stride;
    for (int j = 0; j < p->n; j++)
        out[j] = x[j] * force.x + x[stride + j] * force.y + x[2 * stride + j] * force.z;
}

/* d(X' F)/dq by central differences, symmetrised as the second derivative of F . r that it is. */
static void force_stiffness(problem *p, const double *q, vec3 force, double *g)
{
    const double step = 1e-5;
    double at[MOST], high[MOST], low[MOST];
    memcpy(at, q, (size_t)p->n * sizeof(double));
    for (int j = 0; j < p->n; j++) {
        at[j] = q[j] + step;
        end_force(p, at, force, high);
        at[j] = q[j] - step;
        end_force(p, at, force, low);
        at[j] = q[j];
        for (int i = 0; i < p->n; i++)
            g[i * p->n + j] = (high[i] - low[i]) / (2 * step);
    }
    for (int i = 0; i < p->n; i++)
        for (int j = 0; j < i; j++)
            g[i * p->n + j] = g[j * p->n + i] = (g[i * p->n + j] + g[j * p->n + i]) / 2;
}

/* One Newton step of K (q - q_given) = X' F over the free coordinates; returns its size. */
static double newton_step(problem *p, vec3 force)
{
    double g[MOST * MOST], f[MOST], size = 0;
    force_stiffness(p, p->q, force, g);
    end_force(p, p->q, force, f);
    const size_t free_count = (size_t)(p->n - p->given);
    gsl_matrix *a = gsl_matrix_alloc(free_count, free_count);
    gsl_vector *r = gsl_vector_alloc(free_count), *x = gsl_vector_alloc(free_count);
    gsl_permutation *perm = gsl_permutation_alloc(free_count);
    for (int i = p->given; i < p->n; i++) {
        double sum = f[i];
        for (int j = p->given; j < p->n; j++) {
            sum -= p->k[i * p->n + j] * p->q[j];
            gsl_matrix_set(a, i - p->given, j - p->given, p->k[i * p->n + j] - g[i * p->n + j]);
        }
        gsl_vector_set(r, i - p->given, sum);
    }
    int sign;
    gsl_linalg_LU_decomp(a, perm, &sign);
    gsl_linalg_LU_solve(a, perm, r, x);
    for (int i = p->given; i < p->n; i++) {
        p->q[i] += gsl_vector_get(x, i - p->given);
        size = fmax(size, fabs(gsl_vector_get(x, i - p->given)));
    }
    gsl_permutation_free(perm);
    gsl_vector_free(r);
    gsl_vector_free(x);
    gsl_matrix_free(a);
    return size;
}

/* The equilibrium under an end force, in `parts` increments. */
static void problem_solve(problem *p, vec3 force, int parts)
{
    for (int i = 1; i <= parts; i++) {
        double size = 1;
        for (int k = 0; k < 20 && size > 1e-11; k++)
            size = newton_step(p, vec3_scale((double)i / parts, force));
        assert_true(size <= 1e-11);
    }
    double f[MOST];
    end_force(p, p->q, force, f); /* leaves the state at the answer */
}

/* ------------------------------------------------------------------ large bends: the answers */

/* For a tip angle a: sqrt(P L^2/EI) = K(k) - F(k, t), k^2 = (1 + sin a)/2, sin t = 1/(k sqrt 2),
 * and w/L = 1 - 2 (E(k) - E(k, t))/(K - F), 1 - u/L = sqrt(2 sin a)/(K - F).
 * K. E. Bisshopp, D. C. Drucker 1945, Q. Appl. Math. 3:272. */
static void elastica_exact(double a, double *load, double *w, double *u)
{
    const double k = sqrt((1 + sin(a)) / 2), t = asin(1 / (k * M_SQRT2));
    const double f =
        gsl_sf_ellint_Kcomp(k, GSL_PREC_DOUBLE) - gsl_sf_ellint_F(t, k, GSL_PREC_DOUBLE);
    const double e =
        gsl_sf_ellint_Ecomp(k, GSL_PREC_DOUBLE) - gsl_sf_ellint_E(t, k, GSL_PREC_DOUBLE);
    *load = f * f;
    *w = 1 - 2 * e / f;
    *u = 1 - sqrt(2 * sin(a)) / f;
}

/* K. Mattiasson 1981, Int. J. Num. Meth. Eng. 17:145 (five digits read; the further ones are of the
 * elliptic integrals above, to which they are held here). Along e2 and along e3. */
static const record_source elastica_source = {
    RECORD_PUBLISHED,
    "K. Mattiasson 1981, Int. J. Num. Meth. Eng. 17:145, five digits; further ones from "
    "the elliptic integrals of K. E. Bisshopp, D. C. Drucker 1945, Q. Appl. Math. 3:272"};

/* The way of the tip as the force grows, with the table's points. */
static void draw_elastica(const double rows[4][4])
{
    enum { POINTS = 41 };
    const double l = 1.1, ei = 37;
    problem p = problem_create(test_station(ei, 21, 0.07, 4e-7), l, "v", 12);
    double load[POINTS], w[POINTS], u[POINTS], at[4], deflection[4], shortening[4];
    for (int i = 0; i < POINTS; i++) {
        load[i] = 10.0 * i / (POINTS - 1);
        problem_solve(&p, vec3_make(0, load[i] * ei / (l * l), 0), 1);
        w[i] = problem_tip(&p)->place.y / l;
        u[i] = 1 - problem_tip(&p)->place.x / l;
    }
    for (int i = 0; i < 4; i++) {
        at[i] = rows[i][0];
        deflection[i] = rows[i][1];
        shortening[i] = rows[i][2];
    }
    record_curve c = {.plot = "elastica",
                      .title = "Tip of a cantilever under an end force that keeps its direction: "
                               "computed, and the published table.",
                      .x_label = "load, $P L^2/EI$",
                      .y_label = "displacement by length",
                      .label = "deflection w/L",
                      .count = POINTS,
                      .x = load,
                      .y = w};
    record_draw(&c);
    c.label = "shortening u/L";
    c.y = u;
    record_draw(&c);
    c = (record_curve){.plot = c.plot,
                       .title = c.title,
                       .x_label = c.x_label,
                       .y_label = c.y_label,
                       .label = "w/L, published",
                       .count = 4,
                       .x = at,
                       .y = deflection,
                       .points = 1};
    record_draw(&c);
    c.label = "u/L, published";
    c.y = shortening;
    record_draw(&c);
    problem_free(&p);
}

static void elastica_under_an_end_force(void **state)
{
    (void)state;
    static const double rows[][4] = {
        {1, 0.301720774, 0.0564332363, 0.461351950},
        {2, 0.493457480, 0.160641721, 0.781749832},
        {5, 0.713791524, 0.387628361, 1.21536812},
        {10, 0.810609025, 0.554995598, 1.43028554},
    };
    const double l = 1.1, ei = 37;
    double most[2] = {0};
    for (int plane = 0; plane < 2; plane++) {
        problem p = problem_create(test_station(ei, 21, 0.07, 4e-7), l, plane ? "w" : "v", 12);
        for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
            const double force = rows[r][0] * ei / (l * l);
            double load, w, u;
            elastica_exact(rows[r][3], &load, &w, &u);
            assert_close(load, rows[r][0], 1e-7, 0); /* of 9 digits of the angle, near pi/2 */
            assert_close(w, rows[r][1], 1e-8, 0);
            assert_close(u, rows[r][2], 1e-8, 0);

            problem_solve(&p, plane ? vec3_make(0, 0, force) : vec3_make(0, force, 0), 4);
            const rod_point *tip = problem_tip(&p);
            const vec3 e1 = mat3_column(&tip->turn, 0);
            const double got[3] = {(plane ? tip->place.z : tip->place.y) / l, 1 - tip->place.x / l,
                                   atan2(plane ? e1.z : e1.y, e1.x)};
            char text[64];
            snprintf(text, sizeof text, "elastica, P L^2/EI = %g: deflection w/L", rows[r][0]);
            if (!plane)
                verify(text, elastica_source, "1", got[0], rows[r][1], 1e-6, 0);
            for (int i = 0; i < 3; i++)
                record_most(&most[plane], got[i] / rows[r][i + 1] - 1);
        }
        problem_free(&p);
    }
    verify_within("deflection, shortening and angle of the tip under these four loads, relative",
                  elastica_source, "1", most[0], 1e-6);
    verify_within("the same twelve along the other direction, relative", elastica_source, "1",
                  most[1], 1e-6);
    draw_elastica(rows);
}

/* A couple bends the rod to a circle of curvature C/EI; here to a full turn, so the end comes
 * home. The first polynomial alone holds it, and every step of the rod is exact. */
static void a_couple_bends_to_a_full_circle(void **state)
{
    (void)state;
    problem p = problem_create(test_station(37, 21, 0.07, 4e-7), 1.1, "v", 0);
    const double q = 2 * M_PI, rest = 0;
    rod_move(p.rod, &q, &rest, &p.state);
    static const record_source source = {RECORD_EXACT, "a circle of curvature C/EI"};
    verify_within("distance of the end from home, bent to a full circle, L = 1.1 m", source, "m",
                  vec3_norm(problem_tip(&p)->place), 1e-11);
    verify("the couple that does it", source, "N m", p.k[0] * q, 37 * 2 * M_PI / 1.1, 1e-9, 0);
    problem_free(&p);
}

/* A second way to the same answer: with the end's place e known, the moment is (e - r) x F
 * everywhere, so r' = R e1, R' = R [kappa0 + R'm/D]x can be integrated from the clamp
 * (Runge-Kutta); e must come out. Returns the end for a given e. */
typedef struct curved {
    double length, ei, gj, curvature; /* about e3 */
    vec3 force;
} curved;

static void curved_rate(const curved *c, vec3 end, const double y[12], double out[12])
{
    mat3 r;
    for (int i = 0; i < 9; i++)
        r.m[i / 3][i % 3] = y[3 + i];
    const vec3 arm = vec3_sub(end, vec3_make(y[0], y[1], y[2]));
    const vec3 m = mat3_apply_t(&r, vec3_cross(arm, c->force));
    const mat3 k = mat3_cross(vec3_make(m.x / c->gj, m.y / c->ei, c->curvature + m.z / c->ei));
    const mat3 rk = mat3_multiply(&r, &k);
    for (int i = 0; i < 3; i++)
        out[i] = r.m[i][0];
    for (int i = 0; i < 9; i++)
        out[3 + i] = rk.m[i / 3][i % 3];
}

static vec3 curved_end(const curved *c, vec3 end)
{
    enum { STEPS = 400 };
    const double h = c->length / STEPS, at[4] = {0, 0.5, 0.5, 1}, share[4] = {1, 2, 2, 1};
    double y[12] = {[3] = 1, [7] = 1, [11] = 1};
    for (int i = 0; i < STEPS; i++) {
        double k[12] = {0}, sum[12] = {0}, x[12];
        for (int stage = 0; stage < 4; stage++) {
            for (int j = 0; j < 12; j++)
                x[j] = y[j] + at[stage] * h * k[j];
            curved_rate(c, end, x, k);
            for (int j = 0; j < 12; j++)
                sum[j] += share[stage] * k[j];
        }
        for (int j = 0; j < 12; j++)
            y[j] += h * sum[j] / 6;
    }
    return vec3_make(y[0], y[1], y[2]);
}

/* K. J. Bathe, S. Bolourchi 1979, Int. J. Num. Meth. Eng. 14:961: a bend of 45 deg, R = 100, of
 * a 1 x 1 section with E = 1e7, nu = 0, under 600 across its plane. Published (-23.5, 13.4,
 * 53.4), read, to three digits and of straight elements: held to 0.5 % of the largest. The answer
 * of the inextensible, unshearable rod with EI = 1e7/12 and GJ = 8.333e5 is (-23.55944, 13.60427,
 * 53.46863), by the second way above in two programs; with EA = 1e7 and GA = 5e6 it is
 * (-23.5603, 13.6045, 53.4749). */
static const record_source bend_published = {
    RECORD_PUBLISHED,
    "K. J. Bathe, S. Bolourchi 1979, Int. J. Num. Meth. Eng. 14:961; three digits, of "
    "straight elements that stretch and shear"};
static const record_source bend_integrated = {
    RECORD_INDEPENDENT, "the exact rod integrated from the clamp with the moment (e - r) x F"};
static const double bend_exact[3] = {-23.55944, 13.60427, 53.46863};

/* The curvature that the rod is made with is the prescribed coordinate. */
static problem bend_create(int degree)
{
    const double radius = 100, angle = M_PI / 4;
    problem p =
        problem_create(test_station(1e7 / 12, 8.333e5, 1, 1), radius * angle, "Vvwt", degree);
    p.q[0] = -angle; /* bends towards -e2 */
    return p;
}

/* Where the tip goes to with more and more polynomials. */
static void draw_bend(vec3 before)
{
    enum { COUNT = 8 };
    double degree[COUNT], error[3][COUNT];
    for (int i = 0; i < COUNT; i++) {
        problem p = bend_create(i + 1);
        problem_solve(&p, vec3_make(0, 0, 600), 6);
        const vec3 moved = vec3_sub(problem_tip(&p)->place, before);
        degree[i] = i + 2;
        error[0][i] = fabs(moved.x - bend_exact[0]);
        error[1][i] = fabs(moved.y - bend_exact[1]);
        error[2][i] = fabs(moved.z - bend_exact[2]);
        problem_free(&p);
    }
    for (int k = 0; k < 3; k++) {
        const record_curve c = {
            .plot = "bend-45",
            .title = "The bend of 45 degrees: distance of the tip from the integrated rod's as the "
                     "polynomials of each strain become more. The last digit given is 1e-5.",
            .x_label = "polynomials for each of two curvatures and twist",
            .y_label = "error of the displacement",
            .label = (const char *[]){"along the root", "in its plane", "across its plane"}[k],
            .count = COUNT,
            .x = degree,
            .y = error[k],
            .log = "y"};
        record_draw(&c);
    }
}

static void a_bend_of_45_degrees_under_a_force_across_it(void **state)
{
    (void)state;
    const double radius = 100, angle = M_PI / 4, l = radius * angle, stiffness = 1e7 / 12;
    const vec3 force = {0, 0, 600};
    problem p = bend_create(8);
    const double rest[MOST] = {0};
    rod_move(p.rod, p.q, rest, &p.state);
    const vec3 before = problem_tip(&p)->place;
    assert_close(before.x, radius * sin(angle), 1e-9, 0);
    assert_close(before.y, -radius * (1 - cos(angle)), 1e-9, 0);
    problem_solve(&p, force, 6);
    const vec3 tip = problem_tip(&p)->place, moved = vec3_sub(tip, before);
    const double got[3] = {moved.x, moved.y, moved.z}, axis[3] = {-23.5, 13.4, 53.4};
    for (int i = 0; i < 3; i++) {
        char text[96];
        snprintf(text, sizeof text, "bend of 45 deg, R = 100, force of 600 across it: %s",
                 (const char *[]){"along the root", "in its plane", "across its plane"}[i]);
        verify(text, bend_published, "length", got[i], axis[i], 0, 0.005 * 53.4);
        snprintf(text, sizeof text, "the same, inextensible and unshearable");
        verify(text, bend_integrated, "length", got[i], bend_exact[i], 0, 1e-5);
    }

    const curved c = {l, stiffness, 8.333e5, -1 / radius, force};
    const vec3 again = curved_end(&c, tip);
    verify_within("distance from the end that integrating from the clamp gives", bend_integrated,
                  "length", vec3_norm(vec3_sub(again, tip)), 1e-5);
    draw_bend(before);
    /* Not a condition that any place would meet: */
    const vec3 off = vec3_make(tip.x, tip.y, tip.z + 0.01);
    assert_true(vec3_norm(vec3_sub(curved_end(&c, off), off)) > 5e-3);
    problem_free(&p);
}

/* The load at which a straight cantilever with EI >> EI_2 tips over sideways: P L^2/sqrt(EI_2
 * GJ) = 4.01259934, from J_{-1/4}(P L^2/(2 sqrt(EI_2 GJ))) = 0 (S. P. Timoshenko, J. M. Gere
 * 1961, Theory of Elastic Stability, section 6.3). The tangent K - P d(X'e2)/dq about the
 * straight rod is singular there; its geometric part is all in the coupling of w and twist. */
static const record_source buckling_source = {
    RECORD_EXACT,
    "J_{-1/4}(P L^2/(2 sqrt(EI_2 GJ))) = 0: S. P. Timoshenko, J. M. Gere 1961, Theory of "
    "Elastic Stability, section 6.3"};

static void lateral_buckling_of_a_cantilever(void **state)
{
    (void)state;
    const double l = 1.1, ei_2 = 3, gj = 2;
    problem p = problem_create(test_station(ei_2, gj, 0.07, 4e-7), l, "wt", 10);
    const size_t n = (size_t)p.n;
    double g[MOST * MOST];
    force_stiffness(&p, p.q, vec3_make(0, 1, 0), g);
    /* G x = (1/P) K x: the largest 1/P is the smallest load. */
    gsl_matrix *a = gsl_matrix_alloc(n, n), *b = gsl_matrix_alloc(n, n);
    gsl_vector *value = gsl_vector_alloc(n);
    gsl_eigen_gensymm_workspace *w = gsl_eigen_gensymm_alloc(n);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
            gsl_matrix_set(a, i, j, g[i * n + j]);
            gsl_matrix_set(b, i, j, p.k[i * n + j]);
        }
    assert_int_equal(gsl_eigen_gensymm(a, b, value, w), 0);
    /* Either sign of the load buckles the rod: eigenvalues come in pairs. */
    const double high = gsl_vector_max(value), low = gsl_vector_min(value);
    assert_close(low, -high, 1e-6, 0);
    verify("lateral buckling of a cantilever, P L^2/sqrt(EI_2 GJ), from the tangent",
           buckling_source, "1", l * l / (high * sqrt(ei_2 * gj)), 4.01259934, 1e-6, 0);
    gsl_eigen_gensymm_free(w);
    gsl_vector_free(value);
    gsl_matrix_free(a);
    gsl_matrix_free(b);
    problem_free(&p);
}

/* The same load seen from equilibrium: a little sideways force moves the end of a loaded beam as
 * 1/(1 - (P/Pc)^2) near Pc, so 1/deflection over P^2 points to Pc. Bending down beforehand
 * raises it by the order of EI_2/EI, here 1/1600 (it is neglected in 4.0126); extrapolating
 * costs 2e-4 more. */
static void sideways_response_points_to_the_critical_load(void **state)
{
    (void)state;
    const double l = 1.1, ei_2 = 3, gj = 2, critical = 4.01259934 * sqrt(ei_2 * gj) / (l * l);
    caber_station s = test_station(1600 * ei_2, gj, 0.07, 4e-7);
    s.ei_2 = ei_2;
    problem p = problem_create(s, l, "vwt", 8);
    const double share[3] = {0.1, 0.99, 0.995}, side = 1e-7 * critical;
    double square[3], stiffness[3];
    for (int i = 0; i < 3; i++) {
        problem_solve(&p, vec3_make(0, share[i] * critical, side), 4);
        square[i] = share[i] * share[i];
        stiffness[i] = side / problem_tip(&p)->place.z;
    }
    assert_close(stiffness[0], 3 * ei_2 / (l * l * l), 0.02, 0);
    const double slope = (stiffness[2] - stiffness[1]) / (square[2] - square[1]);
    const double found = sqrt(square[2] - stiffness[2] / slope);
    assert_true(found > 1);
    verify("buckling load to which sideways deflections point, by the exact one", buckling_source,
           "1", found, 1, 1e-3, 0);
    problem_free(&p);
}

/* The tip angle whose exact load is `load`. */
static double elastica_angle(double load)
{
    double a = 1e-3, b = M_PI / 2 - 1e-3, at, w, u;
    for (int i = 0; i < 60; i++) {
        const double mid = (a + b) / 2;
        elastica_exact(mid, &at, &w, &u);
        if (at < load)
            a = mid;
        else
            b = mid;
    }
    return (a + b) / 2;
}

/* E. H. Dowell, J. Traybar 1975 (the Princeton beam experiment; data read): L = 0.508 m, EI =
 * 36.2794 and 2.42873, GJ = 3.10338 N m2, 13.345 N on the end at 90 deg, so it bends about the
 * weak axis alone: 0.2006873 m. That is the elastica to every digit, so the figure as read is a
 * computed one, not a measurement, and is held to its last digit. */
static void princeton_beam_under_the_largest_load(void **state)
{
    (void)state;
    const double l = 0.508, ei_2 = 2.42873;
    caber_station s = test_station(36.2794, 3.10338, 0.07, 4e-7);
    s.ei_2 = ei_2;
    problem p = problem_create(s, l, "vwt", 8);
    problem_solve(&p, vec3_make(0, 0, 13.345), 4);
    const vec3 tip = problem_tip(&p)->place;
    static const record_source source = {
        RECORD_PUBLISHED,
        "E. H. Dowell, J. Traybar 1975, the Princeton beam; the figure as read is a "
        "computed one, not a measurement"};
    verify("Princeton beam, 13.345 N at 90 deg: tip", source, "m", tip.z, 0.2006873, 0, 6e-8);
    assert_close(tip.y, 0, 0, 1e-9);
    double load, w, u;
    elastica_exact(elastica_angle(13.345 * l * l / ei_2), &load, &w, &u);
    static const record_source integrals = {RECORD_EXACT, "the elastica's elliptic integrals"};
    verify("the same by its length", integrals, "1", tip.z / l, w, 1e-7, 0);
    problem_free(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(end_loads_on_a_uniform_shaft),
        cmocka_unit_test(a_force_between_nodes),
        cmocka_unit_test(end_force_on_a_tapered_shaft),
        cmocka_unit_test(end_force_on_a_shaft_with_turning_spine),
        cmocka_unit_test(energy_by_thirds),
        cmocka_unit_test(elastica_under_an_end_force),
        cmocka_unit_test(a_couple_bends_to_a_full_circle),
        cmocka_unit_test(a_bend_of_45_degrees_under_a_force_across_it),
        cmocka_unit_test(lateral_buckling_of_a_cantilever),
        cmocka_unit_test(sideways_response_points_to_the_critical_load),
        cmocka_unit_test(princeton_beam_under_the_largest_load),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
