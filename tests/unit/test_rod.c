/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Kinematics of the bent shaft: exact curves, order of the step, derivatives against finite
 * differences, and the mass stations. */
#include "beams.h"

#include <stdlib.h>

#include "swing/rod.h"

enum { MOST = 12 };
static const double pi = 3.14159265358979323846;

typedef struct bent {
    test_beam t;
    modes *shapes;
    rod *rod;
    rod_state state;
} bent;

static bent bent_create(test_beam t, modes *shapes, int stations)
{
    bent b = {.t = t, .shapes = shapes};
    caber_message message = {""};
    if (rod_create(t.beam, shapes, stations, &b.rod, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_true(rod_state_create(b.rod, &b.state));
    return b;
}

static void bent_free(bent *b)
{
    rod_state_free(&b->state);
    rod_free(b->rod);
    modes_free(b->shapes);
    test_beam_free(&b->t);
}

/* ------------------------------------------------------------------ given curvatures */

/* kappa(s) = at_hands + slope s: linear, so that the elements' cubics and quadratics hold it
 * exactly. */
typedef struct curvature {
    vec3 at_hands, slope;
} curvature;

/* A uniform beam with the one shape whose curvature that is. */
static bent bent_to(curvature c, double length, int stations)
{
    test_beam t = test_beam_uniform(test_station(40, 25, 0.06, 4e-7), length, length / 48);
    modes *m = calloc(1, sizeof *m);
    m->count = 1;
    m->dof_count = t.beam->dof_count;
    m->omega = calloc(1, sizeof(double));
    m->shape = calloc(m->dof_count, sizeof(double));
    for (size_t e = 1; e < t.beam->node_count; e++) {
        double *u = m->shape + (e - 1) * BEAM_NODE_DOFS;
        const double s = t.beam->node[e], mid = (s + t.beam->node[e - 1]) / 2;
        u[BEAM_V] = s * s * (c.at_hands.z / 2 + c.slope.z * s / 6);
        u[BEAM_V_SLOPE] = s * (c.at_hands.z + c.slope.z * s / 2);
        u[BEAM_W] = -s * s * (c.at_hands.y / 2 + c.slope.y * s / 6);
        u[BEAM_W_SLOPE] = -s * (c.at_hands.y + c.slope.y * s / 2);
        u[BEAM_PHI] = s * (c.at_hands.x + c.slope.x * s / 2);
        u[BEAM_PHI_MID] = mid * (c.at_hands.x + c.slope.x * mid / 2);
    }
    bent b = bent_create(t, m, stations);
    const double one = 1, rest = 0;
    rod_move(b.rod, &one, &rest, &b.state);
    return b;
}

static double point_at(const bent *b, int k)
{
    return k < b->rod->stations ? b->rod->s[k] : b->rod->length;
}

/* Constant curvature: a circle. The chord of an arc s is (2/kappa) sin(kappa s/2), exact in a
 * few steps of any length, in either plane. */
static void a_circle_is_exact(void **state)
{
    (void)state;
    const double length = 0.9, turns[] = {0.01, 0.3, 1};
    for (int i = 0; i < 3; i++)
        for (int plane = 0; plane < 2; plane++) {
            const double k = 2 * pi * turns[i] / length;
            const vec3 kappa = plane ? vec3_make(0, k, 0) : vec3_make(0, 0, k);
            bent b = bent_to((curvature){kappa, {0, 0, 0}}, length, 3);
            for (int p = 0; p <= 3; p++) {
                const double s = point_at(&b, p);
                const vec3 r = b.state.point[p].place;
                assert_close(vec3_norm(r), 2 / k * sin(k * s / 2), 0, 1e-14);
                assert_close(r.x, sin(k * s) / k, 0, 1e-14);
                /* kappa_2 = -w'': bends towards -e3 */
                assert_close(plane ? -r.z : r.y, (1 - cos(k * s)) / k, 0, 1e-14);
            }
            bent_free(&b);
        }
}

/* Constant curvature and twist: a helix about n = kappa/|kappa|,
 * r = (n.e1) s n + sin(|k| s)/|k| (e1 - (n.e1) n) + (1 - cos(|k| s))/|k| n x e1. */
static void a_helix_is_exact(void **state)
{
    (void)state;
    const vec3 kappa = {2.1, -0.8, 1.7}, e1 = {1, 0, 0};
    const double k = vec3_norm(kappa);
    const vec3 n = vec3_scale(1 / k, kappa);
    bent b = bent_to((curvature){kappa, {0, 0, 0}}, 0.9, 4);
    for (int p = 0; p <= 4; p++) {
        const double s = point_at(&b, p);
        vec3 r = vec3_scale(n.x * s, n);
        r = vec3_axpy(sin(k * s) / k, vec3_axpy(-n.x, n, e1), r);
        r = vec3_axpy((1 - cos(k * s)) / k, vec3_cross(n, e1), r);
        const rod_point *at = &b.state.point[p];
        assert_close(vec3_norm(vec3_sub(at->place, r)), 0, 0, 1e-14);
        const mat3 turn = mat3_rotation(vec3_scale(s, kappa)),
                   d = mat3_multiply_t(&at->turn, &turn);
        assert_close(vec3_norm(mat3_rotation_vector(&d)), 0, 0, 1e-14);
    }
    bent_free(&b);
}

/* R' = R [kappa]x, r' = R e1 by Runge-Kutta with steps so fine (length/4000) that its error, of
 * the fourth order too, is some 1e-13. */
static rod_point fine_end(curvature c, double length)
{
    enum { STEPS = 4000 };
    const double h = length / STEPS;
    rod_point p = {.turn = mat3_identity()};
    for (int i = 0; i < STEPS; i++) {
        mat3 rate[4], at = p.turn;
        vec3 move[4];
        for (int k = 0; k < 4; k++) {
            const double s = (i + (k == 0 ? 0 : k == 3 ? 1 : 0.5)) * h;
            const mat3 kx = mat3_cross(vec3_axpy(s, c.slope, c.at_hands));
            if (k)
                for (int j = 0; j < 9; j++)
                    at.m[j / 3][j % 3] = p.turn.m[j / 3][j % 3] +
                                         (k == 3 ? 1 : 0.5) * h * rate[k - 1].m[j / 3][j % 3];
            rate[k] = mat3_multiply(&at, &kx);
            move[k] = mat3_column(&at, 0);
        }
        for (int k = 0; k < 4; k++) {
            const double weight = h * (k == 1 || k == 2 ? 2 : 1) / 6;
            for (int j = 0; j < 9; j++)
                p.turn.m[j / 3][j % 3] += weight * rate[k].m[j / 3][j % 3];
            p.place = vec3_axpy(weight, move[k], p.place);
        }
    }
    return p;
}

/* The error of place and turn at the tip falls with the fourth power of the number of segments. */
static void the_step_is_of_fourth_order(void **state)
{
    (void)state;
    const curvature c = {{1.2, -0.7, 0.9}, {-2.0, 3.1, 2.4}};
    const rod_point want = fine_end(c, 0.9);
    double place_before = 0, turn_before = 0;
    for (int n = 15; n <= 63; n = 2 * n + 1) { /* 16, 32, 64 segments */
        bent b = bent_to(c, 0.9, n);
        const rod_point *tip = &b.state.point[n];
        const double place = vec3_norm(vec3_sub(tip->place, want.place));
        const mat3 d = mat3_multiply_t(&tip->turn, &want.turn);
        const double turn = vec3_norm(mat3_rotation_vector(&d));
        assert_true(place > 1e-12 && turn > 1e-12); /* above the reference's own error */
        if (n > 15) {
            assert_close(log2(place_before / place), 4, 0, 0.3);
            assert_close(log2(turn_before / turn), 4, 0, 0.3);
        } else {
            assert_true(place < 1e-5);
        }
        place_before = place;
        turn_before = turn;
        bent_free(&b);
    }
}

/* No step is longer than its arc, up to the step's own error: |T Lambda| <= |Lambda| =
 * h sqrt(1 + b2^2 + b3^2), b = h^2/12 times the slope of kappa. Where it bends, it is shorter. */
static void no_step_is_longer_than_its_arc(void **state)
{
    (void)state;
    const curvature c = {{1.2, -0.7, 0.9}, {-2.0, 3.1, 2.4}};
    bent b = bent_to(c, 0.9, 20);
    vec3 last = {0, 0, 0};
    double chords = 0;
    for (int p = 0; p <= 20; p++) {
        const double h = b.rod->h[p];
        const double chord = vec3_norm(vec3_sub(b.state.point[p].place, last));
        const double b2 = h * h / 12 * c.slope.y, b3 = h * h / 12 * c.slope.z;
        assert_true(chord <= h * sqrt(1 + b2 * b2 + b3 * b3) * (1 + 1e-15));
        /* chord = h (1 - (kappa h)^2/24), kappa the bending in the middle, to the next order */
        const double middle = point_at(&b, p) - h / 2;
        const vec3 k = vec3_axpy(middle, c.slope, c.at_hands);
        const double fall = h * h * (k.y * k.y + k.z * k.z) / 24;
        assert_close(1 - chord / h, fall, 0.01, 2e-6);
        chords += chord;
        last = b.state.point[p].place;
    }
    assert_true(chords < 0.9);
    bent_free(&b);
}

/* ------------------------------------------------------------------ derivatives */

/* A stepped, spined shaft with an offset body: all modes move in every direction. */
static bent club_like(int stations)
{
    caber_station s[] = {test_station(20, 14, 0.045, 8e-7), test_station(33, 20, 0.052, 1.2e-6),
                         test_station(70, 45, 0.065, 3e-6)};
    const double at[3] = {0, 0.4, 0.95};
    for (int i = 0; i < 3; i++) {
        s[i].at = at[i];
        s[i].ei_2 = 0.9 * s[i].ei;
        s[i].ei_angle = 0.4;
    }
    test_beam t = test_beam_create(s, 3, NULL, 0.04);
    beam_body body = {.mass = 0.2, .centre = {0.02, 0.01, 0.04}};
    body.inertia = (mat3){{{3e-4, 2e-5, 1e-5}, {2e-5, 2e-4, -3e-5}, {1e-5, -3e-5, 4e-4}}};
    beam_add_body(t.beam, &body);
    return bent_create(t, test_modes(t.beam, 7), stations);
}

/* How far the section turns along the whole shaft for a unit of coordinate j: the scale of q. */
static double turning(const rod *r, int j)
{
    const int p = r->padded;
    double sum = 0;
    for (int k = 0; k <= r->stations; k++) {
        const double *a = r->shape + (size_t)j * 6 * r->padded + k;
        sum += sqrt(a[0] * a[0] + a[p] * a[p] + a[2 * p] * a[2 * p]);
    }
    return sum;
}

/* Three configurations: a shaft in a swing; far more bent than a shaft can be; and two segments
 * of over a radian each, so that every branch of the exponential map is taken. */
static const struct {
    int stations;
    double size; /* rad of turning, per coordinate */
} cases[] = {{20, 0.05}, {20, 1.5}, {1, 2.5}};
enum { CASES = 3 };

static void case_values(const bent *b, double size, double *q, double *qd)
{
    static const double pattern[MOST] = {1, -0.7, 0.5, 0.8, -0.6, 0.4, -0.9};
    static const double rates[MOST] = {-0.6, 1, 0.9, -0.5, 0.7, -0.8, 0.3};
    for (int j = 0; j < b->rod->n; j++) {
        q[j] = size * pattern[j] / turning(b->rod, j);
        qd[j] = rates[j] / turning(b->rod, j);
    }
}

/* Points at q + step d for step = -2h..2h. */
typedef struct stencil {
    rod_point *at[5];
} stencil;

static stencil stencil_create(bent *b, const double *q, const double *d, double h)
{
    const size_t points = (size_t)b->rod->stations + 1;
    stencil s;
    for (int i = 0; i < 5; i++) {
        double x[MOST];
        for (int j = 0; j < b->rod->n; j++)
            x[j] = q[j] + (i - 2) * h * d[j];
        rod_move(b->rod, x, d, &b->state);
        s.at[i] = malloc(points * sizeof(rod_point));
        memcpy(s.at[i], b->state.point, points * sizeof(rod_point));
    }
    return s;
}

static void stencil_free(stencil *s)
{
    for (int i = 0; i < 5; i++)
        free(s->at[i]);
}

static const double first[5] = {1.0 / 12, -8.0 / 12, 0, 8.0 / 12, -1.0 / 12};
static const double second[5] = {-1.0 / 12, 16.0 / 12, -30.0 / 12, 16.0 / 12, -1.0 / 12};

static vec3 difference_of_place(const stencil *s, int p, const double weight[5])
{
    vec3 sum = {0, 0, 0};
    for (int i = 0; i < 5; i++)
        sum = vec3_axpy(weight[i], s->at[i][p].place, sum);
    return sum;
}

static vec3 difference_of_spin(const stencil *s, int p)
{
    vec3 sum = {0, 0, 0};
    for (int i = 0; i < 5; i++)
        sum = vec3_axpy(first[i], s->at[i][p].spin, sum);
    return sum;
}

/* The vector w with [w]x = dR R'. */
static vec3 difference_of_turn(const stencil *s, int p)
{
    mat3 sum = {0};
    for (int i = 0; i < 5; i++)
        for (int j = 0; j < 9; j++)
            sum.m[j / 3][j % 3] += first[i] * s->at[i][p].turn.m[j / 3][j % 3];
    const mat3 w = mat3_multiply_t(&sum, &s->at[2][p].turn);
    return vec3_scale(
        0.5, vec3_make(w.m[2][1] - w.m[1][2], w.m[0][2] - w.m[2][0], w.m[1][0] - w.m[0][1]));
}

static vec3 column(const double *rows, const rod *r, int p, int j)
{
    const double *x = rows + (size_t)p * 3 * r->stride + j;
    return vec3_make(x[0], x[r->stride], x[2 * r->stride]);
}

/* X_j and W_j. The coordinate moves by 2e-3 rad of turning: fourth-order differences leave
 * (2e-3)^4/30 = 5e-13 times some derivatives, rounding 1e-16/2e-3. */
static void jacobians_are_the_derivatives(void **state)
{
    (void)state;
    for (int i = 0; i < CASES; i++) {
        bent b = club_like(cases[i].stations);
        double q[MOST] = {0}, qd[MOST] = {0};
        case_values(&b, cases[i].size, q, qd);
        const int n = b.rod->n;
        for (int j = 0; j < n; j++) {
            double d[MOST] = {0};
            d[j] = 1 / turning(b.rod, j);
            const double h = 2e-3;
            stencil s = stencil_create(&b, q, d, h);
            rod_move_with_jacobians(b.rod, q, qd, &b.state);
            for (int p = 0; p <= b.rod->stations; p++) {
                const vec3 x = vec3_scale(d[j], column(b.state.move, b.rod, p, j));
                const vec3 w = vec3_scale(d[j], column(b.state.swivel, b.rod, p, j));
                const vec3 fx = vec3_scale(1 / h, difference_of_place(&s, p, first));
                const vec3 fw = vec3_scale(1 / h, difference_of_turn(&s, p));
                /* of a turning of 1 rad on a shaft of 1 m */
                assert_close(vec3_norm(vec3_sub(x, fx)), 0, 0, 1e-10);
                assert_close(vec3_norm(vec3_sub(w, fw)), 0, 0, 1e-10);
            }
            stencil_free(&s);
        }
        bent_free(&b);
    }
}

/* Along q + t qd: speed and spin are first derivatives; they are also X qd and W qd. rush is the
 * second derivative of place, spin_rate that of spin. Differences with t = 5e-3: (5e-3)^4/90 and
 * 5e-16/(5e-3)^2 = 2e-11, times rates of some rad/s each of seven coordinates. */
static void rates_are_the_derivatives(void **state)
{
    (void)state;
    for (int i = 0; i < CASES; i++) {
        bent b = club_like(cases[i].stations);
        double q[MOST] = {0}, qd[MOST] = {0};
        case_values(&b, cases[i].size, q, qd);
        const double h = 5e-3;
        stencil s = stencil_create(&b, q, qd, h);
        rod_move_with_jacobians(b.rod, q, qd, &b.state);
        for (int p = 0; p <= b.rod->stations; p++) {
            const rod_point *at = &b.state.point[p];
            vec3 x = {0, 0, 0}, w = {0, 0, 0};
            for (int j = 0; j < b.rod->n; j++) {
                x = vec3_axpy(qd[j], column(b.state.move, b.rod, p, j), x);
                w = vec3_axpy(qd[j], column(b.state.swivel, b.rod, p, j), w);
            }
            assert_close(vec3_norm(vec3_sub(at->speed, x)), 0, 0, 1e-13);
            assert_close(vec3_norm(vec3_sub(at->spin, w)), 0, 0, 1e-13);
            const vec3 fx = vec3_scale(1 / h, difference_of_place(&s, p, first));
            const vec3 fw = vec3_scale(1 / h, difference_of_turn(&s, p));
            const vec3 fxx = vec3_scale(1 / (h * h), difference_of_place(&s, p, second));
            const vec3 fww = vec3_scale(1 / h, difference_of_spin(&s, p));
            assert_close(vec3_norm(vec3_sub(at->speed, fx)), 0, 0, 1e-8);
            assert_close(vec3_norm(vec3_sub(at->spin, fw)), 0, 0, 1e-8);
            assert_close(vec3_norm(vec3_sub(at->rush, fxx)), 0, 1e-8, 1e-8);
            assert_close(vec3_norm(vec3_sub(at->spin_rate, fww)), 0, 1e-8, 1e-8);
        }
        /* All three ways to move bring the tip to the same place. */
        const rod_point tip = b.state.point[b.rod->stations];
        rod_move(b.rod, q, qd, &b.state);
        assert_memory_equal(&tip, &b.state.point[b.rod->stations], sizeof tip);
        memset(&b.state.point[b.rod->stations], 0, sizeof tip);
        rod_move_tip(b.rod, q, qd, &b.state);
        const rod_point *again = &b.state.point[b.rod->stations];
        const mat3 turned = mat3_multiply_t(&again->turn, &tip.turn);
        assert_close(vec3_norm(vec3_sub(again->place, tip.place)), 0, 0, 1e-14);
        assert_close(vec3_norm(vec3_sub(again->speed, tip.speed)), 0, 0, 1e-13);
        assert_close(vec3_norm(vec3_sub(again->spin, tip.spin)), 0, 0, 1e-13);
        assert_close(vec3_norm(mat3_rotation_vector(&turned)), 0, 0, 1e-14);
        stencil_free(&s);
        bent_free(&b);
    }
}

/* For small q the rod is the finite elements' beam: (v, w) and the turn (phi, -w', v') at every
 * station, however few. Second order is left: 1e-7 of turning. */
static void small_bends_are_those_of_the_elements(void **state)
{
    (void)state;
    bent b = club_like(5);
    for (int j = 0; j < b.rod->n; j++) {
        double q[MOST] = {0}, qd[MOST] = {0};
        const double scale = 1e-7 / turning(b.rod, j);
        q[j] = scale;
        rod_move(b.rod, q, qd, &b.state);
        for (int p = 0; p <= b.rod->stations; p++) {
            const rod_point *at = &b.state.point[p];
            const beam_state e = beam_state_at(
                b.t.beam, b.shapes->shape + (size_t)j * b.shapes->dof_count, point_at(&b, p));
            const vec3 turn = mat3_rotation_vector(&at->turn);
            assert_close(at->place.x, point_at(&b, p), 0, 1e-13);
            assert_close(at->place.y / 1e-7, scale * e.v / 1e-7, 0, 1e-6);
            assert_close(at->place.z / 1e-7, scale * e.w / 1e-7, 0, 1e-6);
            assert_close(turn.x / 1e-7, scale * e.phi / 1e-7, 0, 1e-6);
            assert_close(turn.y / 1e-7, -scale * e.w_slope / 1e-7, 0, 1e-6);
            assert_close(turn.z / 1e-7, scale * e.v_slope / 1e-7, 0, 1e-6);
        }
    }
    bent_free(&b);
}

/* ------------------------------------------------------------------ mass stations */

/* A mass that is linear along the shaft and 2.5 times that between 0.3 m and 0.5 m from the tip.
 * Its moments about the hands, integral s^k m ds with m = a - b s, are known; N stations hold
 * the first 2N of them and miss the next. */
static double exact_moment(int k, double length, double tip, double butt)
{
    const double b = (butt - tip) / length, a = butt;
    const double ends[3][3] = {
        {0, length - 0.5, 1}, {length - 0.5, length - 0.3, 2.5}, {length - 0.3, length, 1}};
    double sum = 0;
    for (int i = 0; i < 3; i++)
        for (int side = 0; side < 2; side++) {
            const double s = ends[i][side], sign = side ? 1 : -1;
            sum += sign * ends[i][2] * (a * pow(s, k + 1) / (k + 1) - b * pow(s, k + 2) / (k + 2));
        }
    return sum;
}

static void stations_hold_the_moments_of_mass(void **state)
{
    (void)state;
    const double length = 0.95;
    static const int counts[] = {1, 2, 3, 8, 16, 24};
    for (int i = 0; i < 6; i++) {
        const int n = counts[i];
        caber_station s[2] = {test_station(20, 14, 0.04, 8e-7), test_station(60, 40, 0.07, 1.4e-6)};
        s[1].at = length;
        caber_section item = {0.3, 0.5, 1, 1, 2.5};
        const caber_sections sections = {1, &item};
        test_beam t = test_beam_create(s, 2, &sections, 0.03);
        bent b = bent_create(t, test_modes(t.beam, 3), n);
        for (int k = 0; k <= 2 * n; k++) {
            double sum = 0;
            for (int j = 0; j < n; j++)
                sum += b.rod->mass[j] * pow(b.rod->s[j], k);
            const double want = exact_moment(k, length, 0.04, 0.07);
            if (k < 2 * n)
                assert_close(sum, want, 1e-11, 0); /* rounding of the smallest weights: 1e-12 */
            else if (n <= 3)
                assert_true(fabs(sum / want - 1) > 1e-6);
        }
        double last = 0, polar = 0, polar_beam = 0, lengths = b.rod->h[n];
        for (int j = 0; j < n; j++) {
            assert_true(b.rod->mass[j] > 0 && b.rod->s[j] > last && b.rod->s[j] < length);
            last = b.rod->s[j];
            polar += b.rod->polar[j];
            lengths += b.rod->h[j];
        }
        for (size_t j = 0; j < t.beam->point_count; j++)
            polar_beam += t.beam->point[j].polar;
        assert_close(lengths, length, 1e-14, 0);
        /* the same radius of gyration everywhere here, so that polar inertia is exact too */
        assert_close(polar, polar_beam, 1e-12, 0);
        bent_free(&b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_circle_is_exact),
        cmocka_unit_test(a_helix_is_exact),
        cmocka_unit_test(the_step_is_of_fourth_order),
        cmocka_unit_test(no_step_is_longer_than_its_arc),
        cmocka_unit_test(jacobians_are_the_derivatives),
        cmocka_unit_test(rates_are_the_derivatives),
        cmocka_unit_test(small_bends_are_those_of_the_elements),
        cmocka_unit_test(stations_hold_the_moments_of_mass),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
