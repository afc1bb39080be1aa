/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/rod.h"

#include <gsl/gsl_eigen.h>
#include <stdlib.h>
#include <string.h>

#include "base/lane.h"
#include "base/message.h"

/* What four segments do: in their own starting axes, then in handle axes. */
typedef struct rod_four {
    lane33 turn;      /* their own rotation */
    lane33 start;     /* their starting axes */
    lane3 d, dd, ddd; /* d = T lambda and its time derivatives */
    lane3 xi, xid;    /* T Omega. and its derivative: turning speed */
    lane3 a, b;
    lane h;
    lane33 t, ao;          /* T, A_O of the header */
    lane33 wa, wb, xa, xb; /* maps of da, db to the angular and linear steps, handle axes */
} rod_four;

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
                r->shape[((size_t)j * 6 + i) * r->padded + k] = c[i];
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
    r->stride = lane_round(r->n);
    r->stations = stations;
    r->padded = lane_round(stations + 1);
    r->length = b->length;
    r->s = malloc(count * sizeof(double));
    r->mass = malloc(count * sizeof(double));
    r->polar = malloc(count * sizeof(double));
    r->root = malloc(count * sizeof(double));
    r->polar_root = malloc(count * sizeof(double));
    r->h = calloc((size_t)r->padded, sizeof(double));
    r->shape = calloc(n * 6 * (size_t)r->padded, sizeof(double));
    r->part = calloc((count + 1) * 6 * (size_t)r->stride, sizeof(double));
    const bool memory =
        r->s && r->mass && r->polar && r->root && r->polar_root && r->h && r->shape && r->part;
    if (!memory || !gauss_stations(b, r)) {
        rod_free(r);
        return message_set(message, memory ? CABER_NOT_CONVERGED : CABER_NO_MEMORY,
                           "the mass stations along the shaft could not be placed");
    }
    for (size_t k = 0; k < count; k++) {
        r->root[k] = sqrt(r->mass[k]);
        r->polar_root[k] = sqrt(r->polar[k]);
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
    free(r->root);
    free(r->polar_root);
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
    state->strain = calloc(12 * (size_t)r->padded, sizeof(double));
    state->four = aligned_alloc(_Alignof(rod_four), (size_t)r->padded / LANE * sizeof(rod_four));
    if (state->point && state->move && state->swivel && state->strain && state->four)
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
    free(state->four);
    *state = (rod_state){0};
}

/* ------------------------------------------------------------------ one configuration */

/* How much is wanted of a configuration; each has all of those before it. */
typedef enum extent { TIP_ONLY, POINTS, JACOBIANS } extent;

/* a, b of every segment and their rates; three lanes a pass, so that a shape is read once for both. */
LANE_INLINE void strains(const rod *r, const double *q, const double *qd, double *restrict strain)
{
    enum { WIDE = 3 };
    const int rows = 6 * r->padded, n = r->n;
    for (int i = 0; i < rows; i += WIDE * LANE) { /* a multiple of six lanes */
        lane x[WIDE] = {{0}}, xd[WIDE] = {{0}};
        const double *s = r->shape + i;
        for (int j = 0; j < n; j++, s += rows)
            for (int c = 0; c < WIDE; c++) {
                const lane shape = lane_load(s + c * LANE);
                x[c] += q[j] * shape;
                xd[c] += qd[j] * shape;
            }
        for (int c = 0; c < WIDE; c++) {
            lane_store(strain + i + c * LANE, x[c]);
            lane_store(strain + rows + i + c * LANE, xd[c]);
        }
    }
}

/* expmap of four. */
typedef struct expmap4 {
    lane a, b, c, b1, c1, b2, c2;
} expmap4;

/* Value, first and second derivative of a polynomial (Horner). */
LANE_INLINE void series(const double *p, int terms, lane u, lane *f, lane *f1, lane *f2)
{
    lane v = {0}, d = {0}, h = {0};
    for (int k = terms - 1; k >= 0; k--) {
        h = h * u + d;
        d = d * u + v;
        v = v * u + p[k];
    }
    *f = v;
    *f1 = d;
    *f2 = 2 * h;
}

LANE_INLINE bool all_below(lane u, double limit)
{
    return u[0] < limit && u[1] < limit && u[2] < limit && u[3] < limit;
}

LANE_INLINE expmap4 expmap4_at(lane u)
{
    expmap4 e;
    if (all_below(u, EXPMAP_SMALL)) {
        series(expmap_b_series, EXPMAP_TERMS_SMALL, u, &e.b, &e.b1, &e.b2);
        series(expmap_c_series, EXPMAP_TERMS_SMALL, u, &e.c, &e.c1, &e.c2);
        e.a = 1 - u * e.c;
        return e;
    }
    for (int i = 0; i < LANE; i++) {
        const expmap one = expmap_at(u[i]);
        e.a[i] = one.a;
        e.b[i] = one.b;
        e.c[i] = one.c;
        e.b1[i] = one.b1;
        e.c1[i] = one.c1;
        e.b2[i] = one.b2;
        e.c2[i] = one.c2;
    }
    return e;
}

/* exp([o]x) = I + a [o]x + b [o]x^2, u = o.o */
LANE_INLINE lane33 rotation(lane3 o, lane u, lane a, lane b)
{
    return (lane33){{{1 + b * (o.x * o.x - u), b * o.x * o.y - a * o.z, b * o.x * o.z + a * o.y},
                     {b * o.x * o.y + a * o.z, 1 + b * (o.y * o.y - u), b * o.y * o.z - a * o.x},
                     {b * o.x * o.z - a * o.y, b * o.y * o.z + a * o.x, 1 + b * (o.z * o.z - u)}}};
}

/* T and A_O of the header; both have [o]x [v]x = v o' - (o.v) I. */
LANE_INLINE void tangents(const expmap4 *e, lane3 o, lane u, lane3 lambda, lane3 p1, lane3 p2,
                          rod_four *f)
{
    const lane ol = lane3_dot(o, lambda);
    const lane ov[3] = {o.x, o.y, o.z}, lv[3] = {lambda.x, lambda.y, lambda.z};
    const lane pv[3] = {p1.x, p1.y, p1.z}, p2v[3] = {p2.x, p2.y, p2.z};
    lane g[3]; /* of omega' */
    for (int i = 0; i < 3; i++) {
        g[i] = 2 * (e->b1 * pv[i] + e->c1 * p2v[i]) - e->c * lv[i];
        for (int j = 0; j < 3; j++) {
            f->t.m[i][j] = e->c * (ov[i] * ov[j]);
            f->ao.m[i][j] = g[i] * ov[j];
        }
        f->t.m[i][i] += 1 - e->c * u;
        f->ao.m[i][i] += e->c * ol;
    }
    for (int i = 0; i < 3; i++) { /* [v]x has v_k at (j, i) and -v_k at (i, j), i, j, k in turn */
        const int j = (i + 1) % 3, k = (i + 2) % 3;
        const lane bo = e->b * ov[k], bl = e->b * lv[k] + e->c * pv[k];
        f->t.m[j][i] += bo;
        f->t.m[i][j] -= bo;
        f->ao.m[j][i] -= bl;
        f->ao.m[i][j] += bl;
    }
}

/* Four segments in their own starting axes, with the first and second time derivatives along q(t) of
 * constant rates: the product rule on d = lambda + b p1 + c p2, p1 = omega x lambda, p2 = omega x p1,
 * u = omega^2 and on xi = T omega. */
LANE_INLINE void four_move(const rod *r, const double *strain, int at, extent wanted, rod_four *f)
{
    const int p = r->padded;
    const double *rate = strain + 6 * p + at;
    const lane h = lane_load(r->h + at);
    const lane3 a = lane3_load(strain + at, p), b = lane3_load(strain + 3 * p + at, p);
    const lane3 ad = lane3_load(rate, p), bd = lane3_load(rate + 3 * p, p);
    const lane3 o = lane3_add(a, lane3_cross(a, b));
    const lane3 od = lane3_add(ad, lane3_add(lane3_cross(ad, b), lane3_cross(a, bd)));
    const lane3 l = {h, -h * b.z, h * b.y};
    const lane3 ld = {{0}, -h * bd.z, h * bd.y};
    const lane u = lane3_dot(o, o), ud = 2 * lane3_dot(o, od);
    const expmap4 e = expmap4_at(u);
    const lane3 p1 = lane3_cross(o, l), p2 = lane3_cross(o, p1);
    const lane3 p1d = lane3_add(lane3_cross(od, l), lane3_cross(o, ld));
    const lane3 p2d = lane3_add(lane3_cross(od, p1), lane3_cross(o, p1d));
    const lane bt = e.b1 * ud, ct = e.c1 * ud;
    const lane3 k1 = lane3_cross(o, od), k2 = lane3_cross(o, k1);

    f->turn = rotation(o, u, e.a, e.b);
    f->d = lane3_axpy(e.c, p2, lane3_axpy(e.b, p1, l));
    f->dd = lane3_axpy(ct, p2, lane3_axpy(e.c, p2d, lane3_axpy(bt, p1, lane3_axpy(e.b, p1d, ld))));
    f->xi = lane3_axpy(e.c, k2, lane3_axpy(e.b, k1, od));
    if (wanted == TIP_ONLY)
        return;

    const lane two = lane_of(2);
    const lane3 odd = lane3_scale(two, lane3_cross(ad, bd));
    const lane udd = 2 * (lane3_dot(od, od) + lane3_dot(o, odd));
    const lane3 p1dd = lane3_axpy(two, lane3_cross(od, ld), lane3_cross(odd, l));
    const lane3 p2dd = lane3_add(lane3_axpy(two, lane3_cross(od, p1d), lane3_cross(odd, p1)),
                                 lane3_cross(o, p1dd));
    const lane btt = e.b2 * ud * ud + e.b1 * udd, ctt = e.c2 * ud * ud + e.c1 * udd;
    f->ddd = lane3_axpy(
        ctt, p2,
        lane3_axpy(
            2 * ct, p2d,
            lane3_axpy(e.c, p2dd,
                       lane3_axpy(btt, p1, lane3_axpy(2 * bt, p1d, lane3_scale(e.b, p1dd))))));
    const lane3 o1 = lane3_cross(o, odd);
    const lane3 xid = lane3_axpy(e.c, lane3_cross(o, o1), lane3_axpy(e.b, o1, odd));
    f->xid = lane3_axpy(bt, k1, lane3_axpy(ct, k2, lane3_axpy(e.c, lane3_cross(od, k1), xid)));
    if (wanted == POINTS)
        return;
    f->a = a;
    f->b = b;
    f->h = h;
    tangents(&e, o, u, l, p1, p2, f);
}

/* The axes at every segment's start and at the points. */
LANE_INLINE void turn_all(const rod *r, rod_state *state)
{
    mat3 turn = mat3_identity();
    for (int k = 0; k <= r->stations; k++) {
        rod_four *f = state->four + k / LANE;
        const int i = k % LANE;
        mat3 own;
        for (int row = 0; row < 3; row++)
            for (int column = 0; column < 3; column++) {
                f->start.m[row][column][i] = turn.m[row][column];
                own.m[row][column] = f->turn.m[row][column][i];
            }
        state->point[k].turn = turn = mat3_multiply(&turn, &own);
    }
}

/* From the segments' own axes to those of the handle, with
 * dOmega = da + da x b + a x db = (I - [b]x) da + [a]x db, dLambda = h [e1]x db. */
LANE_INLINE void four_turn(rod_four *f, extent wanted)
{
    f->d = lane33_apply(&f->start, f->d);
    f->dd = lane33_apply(&f->start, f->dd);
    f->xi = lane33_apply(&f->start, f->xi);
    if (wanted == TIP_ONLY)
        return;
    f->ddd = lane33_apply(&f->start, f->ddd);
    f->xid = lane33_apply(&f->start, f->xid);
    if (wanted == POINTS)
        return;
    const lane33 rt = lane33_multiply(&f->start, &f->t);
    const lane33 ra = lane33_multiply(&f->start, &f->ao);
    const lane33 rtb = lane33_times_cross(&rt, f->b), rab = lane33_times_cross(&ra, f->b);
    f->wb = lane33_times_cross(&rt, f->a);
    f->xb = lane33_times_cross(&ra, f->a);
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            f->wa.m[i][j] = rt.m[i][j] - rtb.m[i][j];
            f->xa.m[i][j] = ra.m[i][j] - rab.m[i][j];
        }
        f->xb.m[i][1] += f->h * rt.m[i][2];
        f->xb.m[i][2] -= f->h * rt.m[i][1];
    }
}

static inline vec3 one_of(const lane3 *v, int i)
{
    return vec3_make(v->x[i], v->y[i], v->z[i]);
}

/* From point to point: places, spins and speeds, and with `points` their rates. The running values stay out
 * of memory: a point that is written piece by piece and read as a whole waits for its pieces. */
LANE_INLINE void walk(const rod *r, rod_state *state, bool points)
{
    vec3 place = {0, 0, 0}, speed = place, rush = place, spin = place, spin_rate = place;
    for (int k = 0; k <= r->stations; k++) {
        const rod_four *f = state->four + k / LANE;
        const int i = k % LANE;
        const vec3 d = one_of(&f->d, i), dd = one_of(&f->dd, i), xi = one_of(&f->xi, i);
        const vec3 wd = vec3_cross(spin, d);
        place = vec3_add(place, d);
        speed = vec3_add(speed, vec3_add(wd, dd));
        if (points) {
            /* w x (w x d) + 2 w x dd = w x (wd + 2 dd) */
            const vec3 swirl = vec3_cross(spin, vec3_axpy(2, dd, wd));
            rush = vec3_add(
                rush, vec3_add(vec3_add(vec3_cross(spin_rate, d), swirl), one_of(&f->ddd, i)));
            spin_rate = vec3_add(spin_rate, vec3_add(vec3_cross(spin, xi), one_of(&f->xid, i)));
        }
        spin = vec3_add(spin, xi);
        if (!points && k < r->stations)
            continue;
        rod_point *p = &state->point[k];
        p->place = place;
        p->speed = speed;
        p->spin = spin;
        p->rush = rush;
        p->spin_rate = spin_rate;
    }
}

/* W and X of all points, four modes at a time. */
LANE_INLINE void jacobians(const rod *r, rod_state *state)
{
    const int s = r->stride;
    for (int j = 0; j < s; j += LANE) {
        lane3 w = {{0}, {0}, {0}}, x = w;
        const double *part = r->part + j;
        double *swivel = state->swivel + j, *move = state->move + j;
        for (int k = 0; k <= r->stations; k++, part += 6 * s, swivel += 3 * s, move += 3 * s) {
            const rod_four *f = state->four + k / LANE;
            const int i = k % LANE;
            const lane a[3] = {lane_load(part), lane_load(part + s), lane_load(part + 2 * s)};
            const lane b[3] = {lane_load(part + 3 * s), lane_load(part + 4 * s),
                               lane_load(part + 5 * s)};
            const double dx = f->d.x[i], dy = f->d.y[i], dz = f->d.z[i];
            lane turn[3], step[3];
            for (int c = 0; c < 3; c++) {
                const lane *wa = f->wa.m[c], *wb = f->wb.m[c], *xa = f->xa.m[c], *xb = f->xb.m[c];
                turn[c] = (wa[0][i] * a[0] + wa[1][i] * a[1] + wa[2][i] * a[2]) +
                          (wb[0][i] * b[0] + wb[1][i] * b[1] + wb[2][i] * b[2]);
                step[c] = (xa[0][i] * a[0] + xa[1][i] * a[1] + xa[2][i] * a[2]) +
                          (xb[0][i] * b[0] + xb[1][i] * b[1] + xb[2][i] * b[2]);
            }
            x.x += (dz * w.y - dy * w.z) + step[0];
            x.y += (dx * w.z - dz * w.x) + step[1];
            x.z += (dy * w.x - dx * w.y) + step[2];
            w.x += turn[0];
            w.y += turn[1];
            w.z += turn[2];
            lane3_store(swivel, s, w);
            lane3_store(move, s, x);
        }
    }
}

LANE_INLINE void move(const rod *r, const double *q, const double *qd, rod_state *state,
                      extent wanted)
{
    const int fours = r->padded / LANE;
    strains(r, q, qd, state->strain);
    for (int k = 0; k < fours; k++)
        four_move(r, state->strain, k * LANE, wanted, state->four + k);
    turn_all(r, state);
    for (int k = 0; k < fours; k++)
        four_turn(state->four + k, wanted);
    walk(r, state, wanted != TIP_ONLY);
    if (wanted == JACOBIANS)
        jacobians(r, state);
}

LANE_CLONES void rod_move(const rod *r, const double *q, const double *qd, rod_state *state)
{
    move(r, q, qd, state, POINTS);
}

LANE_CLONES void rod_move_tip(const rod *r, const double *q, const double *qd, rod_state *state)
{
    move(r, q, qd, state, TIP_ONLY);
}

LANE_CLONES void rod_move_with_jacobians(const rod *r, const double *q, const double *qd,
                                         rod_state *state)
{
    move(r, q, qd, state, JACOBIANS);
}
