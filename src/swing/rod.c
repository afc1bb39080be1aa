/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/rod.h"

#include <gsl/gsl_eigen.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"

/* ------------------------------------------------------------------ stations */

/* Recurrence coefficients alpha, beta of the polynomials orthogonal under the beam's point masses
 * (Stieltjes), then nodes and weights from the Jacobi matrix (Golub & Welsch 1969). */
static bool recurrence(const beam *b, int n, double *alpha, double *beta)
{
    const size_t count = b->point_count;
    double *p = calloc(2 * count, sizeof *p); /* p_{k-1}, p_k at the points */
    if (!p)
        return false;
    double *before = p, *now = p + count, last = 1;
    for (size_t i = 0; i < count; i++)
        now[i] = 1;
    for (int k = 0; k < n; k++) {
        double norm = 0, first = 0;
        for (size_t i = 0; i < count; i++) {
            const double w = b->point[i].mass * now[i] * now[i];
            norm += w;
            first += w * b->point[i].s;
        }
        alpha[k] = first / norm;
        beta[k] = k ? norm / last : norm;
        last = norm;
        for (size_t i = 0; i < count; i++) {
            const double next = (b->point[i].s - alpha[k]) * now[i] - (k ? beta[k] : 0) * before[i];
            before[i] = now[i];
            now[i] = next;
        }
    }
    free(p);
    return true;
}

/* Gives each point's turning inertia about the axis to the two stations around it, by its distance from
 * them. What stands at the stations alone would leap when one passes the end of the grip. */
static void share_polar(const beam *b, rod *r)
{
    for (int k = 0; k < r->stations; k++)
        r->polar[k] = 0;
    int next = 0;
    for (size_t i = 0; i < b->point_count; i++) {
        const double s = b->point[i].s, polar = b->point[i].polar;
        while (next < r->stations && r->s[next] < s)
            next++;
        if (next == 0 || next == r->stations) {
            r->polar[next ? next - 1 : 0] += polar;
            continue;
        }
        const double x = (s - r->s[next - 1]) / (r->s[next] - r->s[next - 1]);
        r->polar[next - 1] += (1 - x) * polar;
        r->polar[next] += x * polar;
    }
}

/* The measure has as many points as the elements give it, so it bears fewer stations only. */
static bool gauss_stations(const beam *b, rod *r)
{
    if (3 * (size_t)r->stations > 2 * b->point_count)
        return false;
    const size_t n = (size_t)r->stations;
    double *alpha = malloc(2 * n * sizeof *alpha);
    gsl_matrix *t = gsl_matrix_calloc(n, n), *v = gsl_matrix_alloc(n, n);
    gsl_vector *x = gsl_vector_alloc(n);
    gsl_eigen_symmv_workspace *w = gsl_eigen_symmv_alloc(n);
    bool good = alpha && t && v && x && w && recurrence(b, r->stations, alpha, alpha + n);
    if (good) {
        for (size_t i = 0; i < n; i++) {
            gsl_matrix_set(t, i, i, alpha[i]);
            if (i) {
                gsl_matrix_set(t, i, i - 1, sqrt(alpha[n + i]));
                gsl_matrix_set(t, i - 1, i, sqrt(alpha[n + i]));
            }
        }
        good = gsl_eigen_symmv(t, x, v, w) == 0 &&
               gsl_eigen_symmv_sort(x, v, GSL_EIGEN_SORT_VAL_ASC) == 0;
        for (size_t i = 0; good && i < n; i++) {
            const double first = gsl_matrix_get(v, 0, i);
            r->s[i] = gsl_vector_get(x, i);
            r->mass[i] = alpha[n] * first * first;
        }
        if (good)
            share_polar(b, r);
    }
    free(alpha);
    if (t)
        gsl_matrix_free(t);
    if (v)
        gsl_matrix_free(v);
    if (x)
        gsl_vector_free(x);
    if (w)
        gsl_eigen_symmv_free(w);
    return good;
}

/* ------------------------------------------------------------------ the constant part */

/* a and b of mode j on the segment s0..s0 + h: integral kappa is the change of rotation;
 * integral (s - middle) kappa = h (mean of the end rotations) - integral of the rotation. For the
 * slopes the last integral is the change of displacement; for phi it is Simpson's rule, exact for
 * the quadratic phi of one element and fourth order across several. */
static void segment_shape(const beam *b, const double *u, double s0, double h, double out[6])
{
    const beam_state p = beam_state_at(b, u, s0), q = beam_state_at(b, u, s0 + h);
    const double middle = beam_state_at(b, u, s0 + h / 2).phi;
    const double c0[3] = {q.phi - p.phi, p.w_slope - q.w_slope, q.v_slope - p.v_slope};
    const double c1[3] = {h * (p.phi + q.phi) / 2 - h * (p.phi + 4 * middle + q.phi) / 6,
                          -(h * (p.w_slope + q.w_slope) / 2 - (q.w - p.w)),
                          h * (p.v_slope + q.v_slope) / 2 - (q.v - p.v)};
    for (int i = 0; i < 3; i++) {
        out[i] = c0[i];
        out[3 + i] = c1[i] / h; /* b = (h^2/12) (12/h^3) c1 */
    }
}

static void shapes_fill(rod *r, const beam *b, const modes *m)
{
    const int segments = r->stations + 1;
    double s0 = 0;
    for (int k = 0; k < segments; k++) {
        const double s1 = k < r->stations ? r->s[k] : r->length;
        r->h[k] = s1 - s0;
        for (int j = 0; j < r->n; j++) {
            double c[6];
            segment_shape(b, m->shape + (size_t)j * m->dof_count, s0, r->h[k], c);
            for (int i = 0; i < 6; i++) {
                r->shape[(size_t)j * 6 * segments + 6 * k + i] = c[i];
                r->part[((size_t)k * 6 + i) * r->stride + j] = c[i];
            }
        }
        s0 = s1;
    }
}

caber_status rod_create(const beam *b, const modes *m, int stations, rod **out,
                        caber_message *message)
{
    *out = NULL;
    rod *r = calloc(1, sizeof *r);
    if (!r)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const size_t n = m->count, count = (size_t)stations;
    r->n = (int)n;
    r->stride = (r->n + 1) / 2 * 2;
    r->stations = stations;
    r->length = b->length;
    r->s = malloc(count * sizeof(double));
    r->mass = malloc(count * sizeof(double));
    r->polar = malloc(count * sizeof(double));
    r->h = malloc((count + 1) * sizeof(double));
    r->shape = calloc(n * 6 * (count + 1), sizeof(double));
    r->part = calloc((count + 1) * 6 * (size_t)r->stride, sizeof(double));
    const bool memory = r->s && r->mass && r->polar && r->h && r->shape && r->part;
    if (!memory || !gauss_stations(b, r)) {
        rod_free(r);
        return message_set(message, memory ? CABER_NOT_CONVERGED : CABER_NO_MEMORY,
                           "the mass stations along the shaft could not be placed");
    }
    shapes_fill(r, b, m);
    *out = r;
    return message_clear(message);
}

void rod_free(rod *r)
{
    if (!r)
        return;
    free(r->s);
    free(r->mass);
    free(r->polar);
    free(r->h);
    free(r->shape);
    free(r->part);
    free(r);
}

bool rod_state_create(const rod *r, rod_state *state)
{
    const size_t points = (size_t)r->stations + 1, row = 3 * (size_t)r->stride;
    state->point = calloc(points, sizeof *state->point);
    state->move = calloc(points * row, sizeof(double));
    state->swivel = calloc(points * row, sizeof(double));
    state->strain = calloc(12 * points, sizeof(double));
    if (state->point && state->move && state->swivel && state->strain)
        return true;
    rod_state_free(state);
    return false;
}

void rod_state_free(rod_state *state)
{
    free(state->point);
    free(state->move);
    free(state->swivel);
    free(state->strain);
    *state = (rod_state){0};
}

/* ------------------------------------------------------------------ one configuration */

/* a, b of every segment and their rates; four modes a pass, since the sums' own traffic is what
 * costs here. */
static void strains(const rod *r, const double *q, const double *qd, double *restrict strain)
{
    const int rows = 6 * (r->stations + 1), n = r->n;
    double *restrict rate = strain + rows;
    memset(strain, 0, 2 * (size_t)rows * sizeof(double));
    for (int j = 0; j < n; j += 4) {
        const double *restrict s[4];
        double x[4], xd[4];
        for (int i = 0; i < 4; i++) { /* beyond the last mode: any row, times 0 */
            const bool there = j + i < n;
            s[i] = r->shape + (size_t)(there ? j + i : j) * rows;
            x[i] = there ? q[j + i] : 0;
            xd[i] = there ? qd[j + i] : 0;
        }
        for (int i = 0; i < rows; i++) {
            const double a = s[0][i], b = s[1][i], c = s[2][i], d = s[3][i];
            strain[i] += (x[0] * a + x[1] * b) + (x[2] * c + x[3] * d);
            rate[i] += (xd[0] * a + xd[1] * b) + (xd[2] * c + xd[3] * d);
        }
    }
}

/* What one segment does, in its own starting axes. */
typedef struct step {
    vec3 omega, lambda, d; /* d = T lambda */
    vec3 p1, p2;           /* omega x lambda, omega x p1 */
    expmap e;
    double h;
    vec3 a, b;
} step;

/* T(omega) x */
static inline vec3 step_t(const step *s, vec3 x)
{
    const vec3 ox = vec3_cross(s->omega, x);
    return vec3_axpy(s->e.c, vec3_cross(s->omega, ox), vec3_axpy(s->e.b, ox, x));
}

static inline step step_make(double h, const double *c)
{
    step s;
    s.h = h;
    s.a = vec3_make(c[0], c[1], c[2]);
    s.b = vec3_make(c[3], c[4], c[5]);
    s.omega = vec3_add(s.a, vec3_cross(s.a, s.b));
    s.lambda = vec3_make(h, -h * s.b.z, h * s.b.y);
    s.e = expmap_at(vec3_dot(s.omega, s.omega));
    s.p1 = vec3_cross(s.omega, s.lambda);
    s.p2 = vec3_cross(s.omega, s.p1);
    s.d = vec3_axpy(s.e.c, s.p2, vec3_axpy(s.e.b, s.p1, s.lambda));
    return s;
}

/* exp([omega]x) = I + a [omega]x + b [omega]x^2 */
static inline mat3 step_rotation(const step *s)
{
    const vec3 o = s->omega;
    const double a = s->e.a, b = s->e.b, u = vec3_dot(o, o);
    return (mat3){{{1 + b * (o.x * o.x - u), b * o.x * o.y - a * o.z, b * o.x * o.z + a * o.y},
                   {b * o.x * o.y + a * o.z, 1 + b * (o.y * o.y - u), b * o.y * o.z - a * o.x},
                   {b * o.x * o.z - a * o.y, b * o.y * o.z + a * o.x, 1 + b * (o.z * o.z - u)}}};
}

/* Moves from one point to the next along q(t) with constant rates: the first and second time
 * derivatives of exp and T lambda, by the product rule on P1, P2 and u = omega^2. */
static inline void step_advance(const step *s, const double *rate, const rod_point *from,
                                rod_point *to)
{
    const vec3 ad = vec3_make(rate[0], rate[1], rate[2]);
    const vec3 bd = vec3_make(rate[3], rate[4], rate[5]);
    const vec3 od = vec3_add(ad, vec3_add(vec3_cross(ad, s->b), vec3_cross(s->a, bd)));
    const vec3 odd = vec3_scale(2, vec3_cross(ad, bd));
    const vec3 ld = vec3_make(0, -s->h * bd.z, s->h * bd.y);
    const vec3 o = s->omega;
    const expmap *e = &s->e;
    const double ud = 2 * vec3_dot(o, od), udd = 2 * (vec3_dot(od, od) + vec3_dot(o, odd));

    /* d = lambda + b p1 + c p2 and its derivatives */
    const vec3 p1d = vec3_add(vec3_cross(od, s->lambda), vec3_cross(o, ld));
    const vec3 p1dd = vec3_axpy(2, vec3_cross(od, ld), vec3_cross(odd, s->lambda));
    const vec3 p2d = vec3_add(vec3_cross(od, s->p1), vec3_cross(o, p1d));
    const vec3 p2dd =
        vec3_add(vec3_axpy(2, vec3_cross(od, p1d), vec3_cross(odd, s->p1)), vec3_cross(o, p1dd));
    const double bt = e->b1 * ud, btt = e->b2 * ud * ud + e->b1 * udd;
    const double ct = e->c1 * ud, ctt = e->c2 * ud * ud + e->c1 * udd;
    const vec3 dd =
        vec3_axpy(ct, s->p2, vec3_axpy(e->c, p2d, vec3_axpy(bt, s->p1, vec3_axpy(e->b, p1d, ld))));
    const vec3 ddd =
        vec3_axpy(ctt, s->p2,
                  vec3_axpy(2 * ct, p2d,
                            vec3_axpy(e->c, p2dd,
                                      vec3_axpy(btt, s->p1,
                                                vec3_axpy(2 * bt, p1d, vec3_scale(e->b, p1dd))))));

    /* xi = T od and its derivative */
    const vec3 k1 = vec3_cross(o, od), k2 = vec3_cross(o, k1);
    const vec3 xi = vec3_axpy(e->c, k2, vec3_axpy(e->b, k1, od));
    vec3 xid = step_t(s, odd);
    xid = vec3_axpy(e->c, vec3_cross(od, k1), xid);
    xid = vec3_axpy(bt, k1, vec3_axpy(ct, k2, xid));

    const mat3 *r = &from->turn;
    const vec3 rd = mat3_apply(r, s->d), rdd = mat3_apply(r, dd), rddd = mat3_apply(r, ddd);
    const vec3 rxi = mat3_apply(r, xi), rxid = mat3_apply(r, xid);
    const vec3 w = from->spin;
    const vec3 w_rd = vec3_cross(w, rd);
    to->place = vec3_add(from->place, rd);
    to->speed = vec3_add(from->speed, vec3_add(w_rd, rdd));
    to->rush = vec3_add(from->rush, vec3_add(vec3_cross(from->spin_rate, rd), vec3_cross(w, w_rd)));
    to->rush = vec3_add(to->rush, vec3_axpy(2, vec3_cross(w, rdd), rddd));
    to->spin = vec3_add(w, rxi);
    to->spin_rate = vec3_add(from->spin_rate, vec3_add(vec3_cross(w, rxi), rxid));
    const mat3 turn = step_rotation(s);
    to->turn = mat3_multiply(r, &turn);
}

/* The part of step_advance that gives place, axes, spin and speed. */
static inline void step_follow(const step *s, const double *rate, rod_point *p)
{
    const vec3 ad = vec3_make(rate[0], rate[1], rate[2]);
    const vec3 bd = vec3_make(rate[3], rate[4], rate[5]);
    const vec3 od = vec3_add(ad, vec3_add(vec3_cross(ad, s->b), vec3_cross(s->a, bd)));
    const vec3 ld = vec3_make(0, -s->h * bd.z, s->h * bd.y);
    const vec3 o = s->omega;
    const expmap *e = &s->e;
    const double ud = 2 * vec3_dot(o, od);
    const vec3 p1d = vec3_add(vec3_cross(od, s->lambda), vec3_cross(o, ld));
    const vec3 p2d = vec3_add(vec3_cross(od, s->p1), vec3_cross(o, p1d));
    const vec3 dd =
        vec3_axpy(e->c1 * ud, s->p2,
                  vec3_axpy(e->c, p2d, vec3_axpy(e->b1 * ud, s->p1, vec3_axpy(e->b, p1d, ld))));
    const mat3 *r = &p->turn;
    const vec3 rd = mat3_apply(r, s->d), rdd = mat3_apply(r, dd);
    const vec3 rxi = mat3_apply(r, step_t(s, od));
    p->place = vec3_add(p->place, rd);
    p->speed = vec3_add(p->speed, vec3_add(vec3_cross(p->spin, rd), rdd));
    p->spin = vec3_add(p->spin, rxi);
    const mat3 turn = step_rotation(s);
    p->turn = mat3_multiply(r, &turn);
}

static const rod_point hands = {.turn = {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}};

void rod_move(const rod *r, const double *q, const double *qd, rod_state *state)
{
    const int segments = r->stations + 1;
    strains(r, q, qd, state->strain);
    const rod_point *from = &hands;
    for (int k = 0; k < segments; k++) {
        const step s = step_make(r->h[k], state->strain + 6 * k);
        step_advance(&s, state->strain + 6 * (segments + k), from, &state->point[k]);
        from = &state->point[k];
    }
}

void rod_move_tip(const rod *r, const double *q, const double *qd, rod_state *state)
{
    const int segments = r->stations + 1;
    strains(r, q, qd, state->strain);
    rod_point tip = hands;
    for (int k = 0; k < segments; k++) {
        const step s = step_make(r->h[k], state->strain + 6 * k);
        step_follow(&s, state->strain + 6 * (segments + k), &tip);
    }
    state->point[segments - 1] = tip;
}

/* Maps of da, db to the angular and linear steps in the handle frame. */
typedef struct step_maps {
    mat3 wa, wb, xa, xb;
} step_maps;

/* [u]x [v]x = v u' - (u.v) I */
static inline mat3 cross_cross(vec3 u, vec3 v)
{
    const double d = vec3_dot(u, v);
    return (mat3){{{v.x * u.x - d, v.x * u.y, v.x * u.z},
                   {v.y * u.x, v.y * u.y - d, v.y * u.z},
                   {v.z * u.x, v.z * u.y, v.z * u.z - d}}};
}

/* m [v]x */
static inline mat3 times_cross(const mat3 *m, vec3 v)
{
    mat3 out;
    for (int i = 0; i < 3; i++) {
        out.m[i][0] = m->m[i][1] * v.z - m->m[i][2] * v.y;
        out.m[i][1] = m->m[i][2] * v.x - m->m[i][0] * v.z;
        out.m[i][2] = m->m[i][0] * v.y - m->m[i][1] * v.x;
    }
    return out;
}

static inline step_maps step_jacobian(const step *s, const mat3 *turn)
{
    const expmap *e = &s->e;
    const mat3 oo = cross_cross(s->omega, s->omega), ol = cross_cross(s->omega, s->lambda);
    const mat3 ox = mat3_cross(s->omega), lx = mat3_cross(s->lambda), px = mat3_cross(s->p1);
    const vec3 g = vec3_scale(2, vec3_axpy(e->b1, s->p1, vec3_scale(e->c1, s->p2)));
    const double gv[3] = {g.x, g.y, g.z}, ov[3] = {s->omega.x, s->omega.y, s->omega.z};
    mat3 t, ao;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            t.m[i][j] = (i == j) + e->b * ox.m[i][j] + e->c * oo.m[i][j];
            ao.m[i][j] = gv[i] * ov[j] - e->b * lx.m[i][j] - e->c * (px.m[i][j] + ol.m[i][j]);
        }
    const mat3 rt = mat3_multiply(turn, &t), ra = mat3_multiply(turn, &ao);
    /* dOmega = da + da x b + a x db = (I - [b]x) da + [a]x db; dLambda = h [e1]x db */
    const mat3 rtb = times_cross(&rt, s->b), rab = times_cross(&ra, s->b);
    step_maps m;
    m.wb = times_cross(&rt, s->a);
    m.xb = times_cross(&ra, s->a);
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            m.wa.m[i][j] = rt.m[i][j] - rtb.m[i][j];
            m.xa.m[i][j] = ra.m[i][j] - rab.m[i][j];
        }
        m.xb.m[i][1] += s->h * rt.m[i][2];
        m.xb.m[i][2] -= s->h * rt.m[i][1];
    }
    return m;
}

/* X and W of the next point from those of the last (NULL at the hands). */
static void jacobian_advance(const step_maps *m, vec3 rd, const double *restrict part, int stride,
                             const double *restrict x0, const double *restrict w0,
                             double *restrict x1, double *restrict w1)
{
    const double *a0 = part, *a1 = part + stride, *a2 = part + 2 * stride;
    const double *b0 = part + 3 * stride, *b1 = part + 4 * stride, *b2 = part + 5 * stride;
    for (int i = 0; i < 3; i++) {
        const double *wa = m->wa.m[i], *wb = m->wb.m[i], *xa = m->xa.m[i], *xb = m->xb.m[i];
        /* (W x rd) of this row: W_{i+1} rd_{i+2} - W_{i+2} rd_{i+1} */
        const double rdv[3] = {rd.x, rd.y, rd.z};
        const int p = (i + 1) % 3, n = (i + 2) % 3;
        const double rp = rdv[p], rn = rdv[n];
        for (int j = 0; j < stride; j++) {
            w1[i * stride + j] = w0[i * stride + j] + wa[0] * a0[j] + wa[1] * a1[j] +
                                 wa[2] * a2[j] + wb[0] * b0[j] + wb[1] * b1[j] + wb[2] * b2[j];
            x1[i * stride + j] = x0[i * stride + j] + w0[p * stride + j] * rn -
                                 w0[n * stride + j] * rp + xa[0] * a0[j] + xa[1] * a1[j] +
                                 xa[2] * a2[j] + xb[0] * b0[j] + xb[1] * b1[j] + xb[2] * b2[j];
        }
    }
}

void rod_move_with_jacobians(const rod *r, const double *q, const double *qd, rod_state *state)
{
    static const double zero[3 * 64] = {0};
    const int segments = r->stations + 1, row = 3 * r->stride;
    strains(r, q, qd, state->strain);
    const rod_point *from = &hands;
    const double *x0 = zero, *w0 = zero;
    for (int k = 0; k < segments; k++) {
        const step s = step_make(r->h[k], state->strain + 6 * k);
        const step_maps maps = step_jacobian(&s, &from->turn);
        double *x1 = state->move + (size_t)k * row, *w1 = state->swivel + (size_t)k * row;
        jacobian_advance(&maps, mat3_apply(&from->turn, s.d), r->part + (size_t)k * 6 * r->stride,
                         r->stride, x0, w0, x1, w1);
        step_advance(&s, state->strain + 6 * (segments + k), from, &state->point[k]);
        from = &state->point[k];
        x0 = x1;
        w0 = w1;
    }
}
