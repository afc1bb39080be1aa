/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/dynamics.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <string.h>

#include "base/lane.h"
#include "base/message.h"
#include "swing/joints.h"

/* The most unknowns, 60 modes (the field table's limit) and the joints, in whole lanes. */
enum { UNKNOWNS_PADDED = (60 + JOINT_COUNT + LANE - 1) / LANE * LANE };

/* ------------------------------------------------------------------ sums over the bodies */

/* What a point of mass m at x with acceleration `a` (at zero z..) is multiplied with. */
typedef struct point_sum {
    double mass, root; /* m and its root */
    vec3 mx, ma;
} point_sum;

LANE_INLINE point_sum add_point(outboard *out, double m, double root, vec3 x, vec3 a)
{
    const point_sum p = {m, root, vec3_scale(m, x), vec3_scale(m, a)};
    out->body.mass += m;
    out->body.moment = vec3_add(out->body.moment, p.mx);
    mat3_add_point_inertia(&out->body.inertia, m, x);
    out->force = vec3_add(out->force, p.ma);
    out->moment = vec3_add(out->moment, vec3_cross(x, p.ma));
    return p;
}

/* The same of the turning inertia jp about the section's own axis t: momentum jp (w.t) t, its rate at zero
 * z.. hd = jp ((w'.t) t + (w.t) w x t), w the section's spin. */
typedef struct polar_sum {
    vec3 root_t, hd; /* sqrt(jp) t */
    double root;
} polar_sum;

LANE_INLINE polar_sum add_polar(outboard *out, double root, vec3 spin, const rod_point *point)
{
    const vec3 t = mat3_column(&point->turn, 0), total = vec3_add(spin, point->spin);
    const vec3 rate = vec3_add(point->spin_rate, vec3_cross(spin, point->spin));
    const vec3 hd =
        vec3_scale(root * root, vec3_axpy(vec3_dot(rate, t), t,
                                          vec3_scale(vec3_dot(total, t), vec3_cross(total, t))));
    const vec3 rt = vec3_scale(root, t);
    const double v[3] = {rt.x, rt.y, rt.z};
    out->moment = vec3_add(out->moment, hd);
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 3; k++)
            out->body.inertia.m[i][k] += v[i] * v[k];
    return (polar_sum){rt, hd, root};
}

/* Turning inertia of the tip body about its centre of mass: momentum I w, rate I w' + w x I w. Its
 * rows of the mass matrix are C' R' W with I = C C' in the tip frame. */
typedef struct tip_sum {
    point_sum centre;
    vec3 arm; /* of the centre of mass from the tip, handle axes */
    mat3 half, inertia;
    vec3 hd;
} tip_sum;

LANE_INLINE tip_sum add_tip(const caber_model *model, outboard *out, vec3 spin,
                            const rod_point *tip)
{
    tip_sum t;
    const vec3 d = t.arm = mat3_apply(&tip->turn, model->club->tip.centre);
    const vec3 wd = vec3_cross(tip->spin, d);
    const vec3 x = vec3_add(tip->place, d), xd = vec3_add(tip->speed, wd);
    const vec3 xdd =
        vec3_add(tip->rush, vec3_add(vec3_cross(tip->spin_rate, d), vec3_cross(tip->spin, wd)));
    const double mass = model->club->tip.mass;
    t.centre = add_point(out, mass, sqrt(mass), x, dynamics_rest_acceleration(spin, x, xd, xdd));
    t.half = mat3_multiply(&tip->turn, &model->tip_factor);
    t.inertia = mat3_multiply_t(&t.half, &t.half);
    const vec3 total = vec3_add(spin, tip->spin);
    const vec3 rate = vec3_add(tip->spin_rate, vec3_cross(spin, tip->spin));
    t.hd = vec3_add(mat3_apply(&t.inertia, rate), vec3_cross(total, mat3_apply(&t.inertia, total)));
    out->moment = vec3_add(out->moment, t.hd);
    out->body.inertia = mat3_add(&out->body.inertia, &t.inertia);
    return t;
}

/* P, L and bias of four modes. */
typedef struct mode_sum {
    lane3 p, l;
    lane bias;
} mode_sum;

/* Adds a point with Jacobian X; its rows of the mass matrix. */
LANE_INLINE void sum_point(const point_sum *k, lane3 x, mode_sum *sum, double *row, int s)
{
    sum->p = lane3_add(sum->p, lane3_scale(lane_of(k->mass), x));
    sum->l.x += k->mx.y * x.z - k->mx.z * x.y;
    sum->l.y += k->mx.z * x.x - k->mx.x * x.z;
    sum->l.z += k->mx.x * x.y - k->mx.y * x.x;
    sum->bias += k->ma.x * x.x + k->ma.y * x.y + k->ma.z * x.z;
    lane3_store(row, s, lane3_scale(lane_of(k->root), x));
}

LANE_INLINE void sum_polar(const polar_sum *k, lane3 w, mode_sum *sum, double *row)
{
    const lane along = k->root_t.x * w.x + k->root_t.y * w.y + k->root_t.z * w.z;
    sum->l.x += k->root_t.x * along;
    sum->l.y += k->root_t.y * along;
    sum->l.z += k->root_t.z * along;
    sum->bias += k->hd.x * w.x + k->hd.y * w.y + k->hd.z * w.z;
    lane_store(row, along);
}

/* Rows of m times a three-row lane, with `m` transposed or not. */
LANE_INLINE lane3 apply_one(const mat3 *m, lane3 v, bool transposed)
{
    lane out[3];
    for (int i = 0; i < 3; i++)
        out[i] = transposed ? m->m[0][i] * v.x + m->m[1][i] * v.y + m->m[2][i] * v.z
                            : m->m[i][0] * v.x + m->m[i][1] * v.y + m->m[i][2] * v.z;
    return (lane3){out[0], out[1], out[2]};
}

LANE_INLINE void sum_tip(const tip_sum *k, lane3 x, lane3 w, mode_sum *sum, double *row, int s)
{
    /* The Jacobian of the centre of mass: X + W x arm. */
    x.x += w.y * k->arm.z - w.z * k->arm.y;
    x.y += w.z * k->arm.x - w.x * k->arm.z;
    x.z += w.x * k->arm.y - w.y * k->arm.x;
    sum_point(&k->centre, x, sum, row, s);
    sum->l = lane3_add(sum->l, apply_one(&k->inertia, w, false));
    sum->bias += k->hd.x * w.x + k->hd.y * w.y + k->hd.z * w.z;
    lane3_store(row + 3 * s, s, apply_one(&k->half, w, true));
}

/* What the sums over stations are multiplied with, the most that the field table allows. */
enum { STATIONS_MOST = 200 };
typedef struct body_sums {
    point_sum point[STATIONS_MOST];
    polar_sum polar[STATIONS_MOST];
    tip_sum tip;
} body_sums;

/* P, L, bias and the rows of the mass matrix, four modes at a time. */
LANE_INLINE void sum_modes(const caber_model *model, caber_work *w, const body_sums *k)
{
    const int s = model->rod->stride, stations = model->rod->stations, polar = w->polar_count;
    for (int j = 0; j < s; j += LANE) {
        mode_sum sum = {{{0}, {0}, {0}}, {{0}, {0}, {0}}, {0}};
        const double *x = w->rod.move + j, *turn = w->rod.swivel + j;
        double *row = w->rows + j;
        for (int i = 0; i < stations; i++, row += 3 * s)
            sum_point(&k->point[i], lane3_load(x + (size_t)i * 3 * s, s), &sum, row, s);
        for (int i = 0; i < polar; i++, row += s)
            sum_polar(&k->polar[i], lane3_load(turn + (size_t)i * 3 * s, s), &sum, row);
        const size_t last = (size_t)stations * 3 * s;
        sum_tip(&k->tip, lane3_load(x + last, s), lane3_load(turn + last, s), &sum, row, s);
        lane3_store(w->p + j, s, sum.p);
        lane3_store(w->l + j, s, sum.l);
        lane_store(w->bias + j, sum.bias);
    }
}

/* All sums over stations and tip for the present state of work->rod. */
LANE_INLINE void sum_bodies(const caber_model *model, caber_work *w)
{
    const rod *r = model->rod;
    const vec3 spin = w->now.handle.spin;
    body_sums sums;
    outboard *out = &w->now.out;
    *out = (outboard){0};
    for (int k = 0; k < r->stations; k++) {
        const rod_point *p = &w->rod.point[k];
        const vec3 a = dynamics_rest_acceleration(spin, p->place, p->speed, p->rush);
        sums.point[k] = add_point(out, r->mass[k], r->root[k], p->place, a);
    }
    for (int k = 0; k < w->polar_count; k++)
        sums.polar[k] = add_polar(out, r->polar_root[k], spin, &w->rod.point[k]);
    sums.tip = add_tip(model, out, spin, &w->rod.point[r->stations]);
    sum_modes(model, w, &sums);
}

/* ------------------------------------------------------------------ M and F */

/* rows' rows of four modes from i on and `lanes` lanes of modes from j on, into M. */
LANE_INLINE void mass_block(const caber_work *w, int s, int i, int j, int lanes, double *out)
{
    lane sum[LANE][3];
    for (int a = 0; a < LANE; a++)
        for (int c = 0; c < lanes; c++)
            sum[a][c] = lane_of(0);
    const double *row = w->rows;
    for (int r = 0; r < w->row_count; r++, row += s)
        for (int a = 0; a < LANE; a++)
            for (int c = 0; c < lanes; c++)
                sum[a][c] += row[i + a] * lane_load(row + j + c * LANE);
    for (int a = 0; a < LANE; a++)
        for (int c = 0; c < lanes; c++)
            lane_store(out + (size_t)a * w->pitch + j + c * LANE, sum[a][c]);
}

/* M_qq = rows' rows, upper triangle (and what else is in its lanes), into the block after the joints. */
LANE_INLINE void modal_mass(const caber_model *model, caber_work *w)
{
    const int s = model->rod->stride, nj = model->joints, pitch = w->pitch;
    for (int i = 0; i < s; i += LANE) {
        double *out = w->matrix + (size_t)(nj + i) * pitch + nj;
        int j = i;
        for (; j + 3 * LANE <= s; j += 3 * LANE)
            mass_block(w, s, i, j, 3, out);
        if (s - j == 2 * LANE)
            mass_block(w, s, i, j, 2, out);
        else if (s - j == LANE)
            mass_block(w, s, i, j, 1, out);
    }
    for (int i = 0; i < model->n; i++)
        w->matrix[(size_t)(nj + i) * pitch + nj + i] += model->inertia[i];
}

/* m a of a body about the hands at frame accelerations (V', omega'), handle axes. */
static void body_rates(const club_body *b, vec3 pull, vec3 twirl, vec3 *force, vec3 *moment)
{
    *force = vec3_axpy(b->mass, pull, vec3_cross(twirl, b->moment));
    *moment = vec3_add(vec3_cross(b->moment, pull), mat3_apply(&b->inertia, twirl));
}

/* Adds what a body that turns with the handle needs for its spin alone. */
static void add_spin_rates(const club_body *b, vec3 spin, vec3 *force, vec3 *moment)
{
    *force = vec3_add(*force, vec3_cross(spin, vec3_cross(spin, b->moment)));
    *moment = vec3_add(*moment, vec3_cross(spin, mat3_apply(&b->inertia, spin)));
}

static club_body body_sum(const club_body *a, const club_body *b)
{
    return (club_body){.mass = a->mass + b->mass,
                       .moment = vec3_add(a->moment, b->moment),
                       .inertia = mat3_add(&a->inertia, &b->inertia)};
}

/* Frame acceleration at zero z.., weight included as an upward acceleration. */
static inline vec3 lifted_rest(const caber_model *model, const handle_motion *h)
{
    return vec3_axpy(model->gravity, h->up, h->pull_rest);
}

/* Force and moment (about the hands) that the whole club needs at zero z..: outboard sums plus the
 * frame's own acceleration, plus the butt body's spin. */
static void rest_loads(const caber_model *model, const caber_work *w, const club_body *whole,
                       vec3 *force, vec3 *moment)
{
    const handle_motion *h = &w->now.handle;
    const club_body *butt = &model->club->butt;
    body_rates(whole, lifted_rest(model, h), h->twirl_rest, force, moment);
    add_spin_rates(butt, h->spin, force, moment);
    *force = vec3_add(*force, w->now.out.force);
    *moment = vec3_add(*moment, w->now.out.moment);
}

/* Torque of weight on the arms about the hub. */
static double arm_weight(const caber_model *model, double arm)
{
    const caber_player *p = &model->player;
    const vec3 across = {cos(arm), sin(arm), 0};
    return -p->arm_mass * model->gravity * p->arm_centre * vec3_dot(model->up, across);
}

/* Couples that act whatever the accelerations: programs, stop. */
static void program_couples(const caber_model *model, caber_work *w, double t)
{
    const caber_load *given = &model->load.given;
    const handle_motion *h = &w->now.handle;
    double *couple = w->now.couple;
    couple[JOINT_ARM] = couple[JOINT_COCK] = couple[JOINT_ROLL] = 0;
    w->now.stop = (load_stop){0};
    if (given->hub.drive == CABER_TORQUE)
        couple[JOINT_ARM] = load_hub_torque(&model->load, t, h->rate[JOINT_ARM]);
    if (given->grip.drive == CABER_TORQUE) {
        couple[JOINT_COCK] = load_grip_couple(&model->load, t);
        w->now.stop = load_wrist_stop(&given->stop, h->angle[JOINT_COCK], h->rate[JOINT_COCK]);
    }
    if (given->roll.drive == CABER_TORQUE)
        couple[JOINT_ROLL] = load_roll_torque(&model->load, t);
}

static double joint_force(const caber_model *model, const caber_work *w, int joint)
{
    double f = w->now.couple[joint];
    if (joint == JOINT_COCK)
        f += w->now.stop.spring + w->now.stop.damper;
    if (joint == JOINT_ARM)
        f += arm_weight(model, w->now.handle.angle[JOINT_ARM]);
    return f;
}

/* Lanes of v.P + u.L, from j on. */
LANE_INLINE lane along_modes(const caber_work *w, int s, int j, vec3 v, vec3 u)
{
    const double *p = w->p + j, *l = w->l + j;
    return (v.x * lane_load(p) + v.y * lane_load(p + s) + v.z * lane_load(p + 2 * s)) +
           (u.x * lane_load(l) + u.y * lane_load(l + s) + u.z * lane_load(l + 2 * s));
}

LANE_INLINE void joint_rows(const caber_model *model, caber_work *w)
{
    const int s = model->rod->stride, nj = model->joints;
    const handle_motion *h = &w->now.handle;
    const club_body whole = body_sum(&w->now.out.body, &model->club->butt);
    vec3 force, moment;
    rest_loads(model, w, &whole, &force, &moment);
    for (int a = 0; a < JOINT_COUNT; a++) {
        const int ia = model->active[a];
        if (ia < 0)
            continue;
        const vec3 va = h->pull[a], wa = h->twirl[a];
        double *row = w->matrix + (size_t)ia * w->pitch;
        vec3 fa, ma;
        body_rates(&whole, va, wa, &fa, &ma);
        for (int b = a; b < JOINT_COUNT; b++)
            if (model->active[b] >= 0)
                row[model->active[b]] = vec3_dot(h->pull[b], fa) + vec3_dot(h->twirl[b], ma);
        if (a == JOINT_ARM)
            row[ia] += model->player.arm_inertia;
        for (int j = 0; j < s; j += LANE)
            lane_store(row + nj + j, along_modes(w, s, j, va, wa));
        w->rhs[ia] = joint_force(model, w, a) - vec3_dot(va, force) - vec3_dot(wa, moment);
    }
}

LANE_INLINE void modal_forces(const caber_model *model, caber_work *w, const double *q,
                              const double *qd)
{
    const int s = model->rod->stride;
    const vec3 pull = lifted_rest(model, &w->now.handle), twirl = w->now.handle.twirl_rest;
    double *f = w->rhs + model->joints;
    for (int j = 0; j < s; j += LANE)
        lane_store(f + j, -lane_load(w->bias + j) - along_modes(w, s, j, pull, twirl));
    for (int j = 0; j < model->n; j++)
        f[j] -= model->stiffness[j] * q[j] + model->damping[j] * qd[j];
}

LANE_INLINE void assemble(const caber_model *model, caber_work *work, double t, const double *z,
                          const double *zd)
{
    const int nj = model->joints;
    joints_move(model, t, z, zd, &work->now.handle);
    rod_move_with_jacobians(model->rod, z + nj, zd + nj, &work->rod);
    sum_bodies(model, work);
    modal_mass(model, work);
    program_couples(model, work, t);
    joint_rows(model, work);
    modal_forces(model, work, z + nj, zd + nj);
}

LANE_CLONES void dynamics_assemble(const caber_model *model, caber_work *work, double t,
                                   const double *z, const double *zd)
{
    assemble(model, work, t, z, zd);
}

/* ------------------------------------------------------------------ solving */

/* Room for n numbers in whole lanes, 0 beyond n; the rest of the array is not touched. */
LANE_INLINE void vector_clear(double *x, int n)
{
    for (int j = 0; j < lane_round(n); j += LANE)
        lane_store(x + j, lane_of(0));
}

LANE_INLINE void vector_copy(const double *from, int n, double *x)
{
    vector_clear(x, n);
    for (int j = 0; j < n; j++)
        x[j] = from[j];
}

/* The lanes of the upper triangle. */
LANE_INLINE void matrix_copy(const double *from, int n, int pitch, double *to)
{
    for (int i = 0; i < n; i++)
        for (int j = i / LANE * LANE; j < lane_round(n); j += LANE)
            lane_store(to + (size_t)i * pitch + j, lane_load(from + (size_t)i * pitch + j));
}

/* M = U' D U in place in the upper triangle of n rows `pitch` apart, and 1/D after them; row by row: each
 * takes its outer product off the rest, so that the inner loop has no sum to wait for. Whole lanes are
 * worked on, which may hold anything left of the diagonal; U is left with 0 there and on it. The matrices
 * have about a dozen rows, where a library call costs more than the arithmetic. */
LANE_INLINE bool factor(double *m, int n, int pitch)
{
    const int end = lane_round(n);
    double u[UNKNOWNS_PADDED], *pivot = m + (size_t)n * pitch;
    for (int k = 0; k < n; k++) {
        double *top = m + (size_t)k * pitch;
        const int first = k / LANE * LANE;
        if (!(top[k] > 0) || top[k] > 1e300)
            return false;
        const double inverse = pivot[k] = 1 / top[k];
        for (int j = first; j < end; j += LANE)
            lane_store(u + j, inverse * lane_load(top + j));
        for (int i = k + 1; i < n; i++) {
            double *row = m + (size_t)i * pitch;
            for (int j = i / LANE * LANE; j < end; j += LANE)
                lane_store(row + j, lane_load(row + j) - u[i] * lane_load(top + j));
        }
        for (int j = first; j <= k; j++)
            u[j] = 0;
        for (int j = first; j < end; j += LANE)
            lane_store(top + j, lane_load(u + j));
    }
    return true;
}

/* x = M^-1 x; x has room for whole lanes, 0 beyond n. */
LANE_INLINE void factor_solve(const double *m, int n, int pitch, double *x)
{
    const int end = lane_round(n);
    for (int k = 0; k < n; k++) {
        const double *u = m + (size_t)k * pitch, now = x[k];
        for (int j = k / LANE * LANE; j < end; j += LANE)
            lane_store(x + j, lane_load(x + j) - now * lane_load(u + j));
    }
    const double *pivot = m + (size_t)n * pitch;
    for (int k = n - 1; k >= 0; k--) {
        const double *u = m + (size_t)k * pitch;
        double sum = pivot[k] * x[k];
        for (int j = n - 1; j > k; j--) /* the newest last */
            sum -= u[j] * x[j];
        x[k] = sum;
    }
}

LANE_CLONES bool dynamics_solve_stiff(const caber_model *model, caber_work *work, double gamma,
                                      double *x, double *v)
{
    const int n = model->unknowns, nj = model->joints, cock = model->active[JOINT_COCK];
    const int pitch = work->pitch;
    double *s = work->factor, b[UNKNOWNS_PADDED];
    matrix_copy(work->matrix, n, pitch, s);
    vector_clear(b, n);
    for (int j = 0; j < model->n; j++) {
        const int i = nj + j;
        const double k = gamma * model->stiffness[j], c = gamma * (model->damping[j] + k);
        s[(size_t)i * pitch + i] += c;
        b[i] = -(c * v[i] + k * x[i]);
    }
    if (cock >= 0) {
        const double k = gamma * work->now.stop.stiffness, c = gamma * (work->now.stop.damping + k);
        s[(size_t)cock * pitch + cock] += c;
        b[cock] = -(c * v[cock] + k * x[cock]);
    }
    if (!factor(s, n, pitch))
        return false;
    factor_solve(s, n, pitch, b);
    for (int i = 0; i < n; i++) {
        v[i] += b[i];
        x[i] += gamma * v[i];
    }
    return true;
}

LANE_CLONES bool dynamics_solve(const caber_model *model, caber_work *work, double t,
                                const double *z, const double *zd, double *zdd)
{
    const int n = model->unknowns;
    double x[UNKNOWNS_PADDED];
    dynamics_assemble(model, work, t, z, zd);
    vector_copy(work->rhs, n, x);
    matrix_copy(work->matrix, n, work->pitch, work->factor);
    if (!factor(work->factor, n, work->pitch))
        return false;
    factor_solve(work->factor, n, work->pitch, x);
    memcpy(zdd, x, (size_t)n * sizeof(double));
    for (int i = 0; i < n; i++)
        if (!isfinite(zdd[i]))
            return false;
    return true;
}

/* ------------------------------------------------------------------ loads, energy */

/* Sums over the modes of P_j x_j and L_j x_j; x in whole lanes, 0 beyond n. */
LANE_INLINE void contract(const caber_work *w, int s, const double *x, vec3 *linear, vec3 *angular)
{
    lane3 p = {{0}, {0}, {0}}, l = p;
    for (int j = 0; j < s; j += LANE) {
        const lane xj = lane_load(x + j);
        p = lane3_axpy(xj, lane3_load(w->p + j, s), p);
        l = lane3_axpy(xj, lane3_load(w->l + j, s), l);
    }
    *linear = vec3_make(lane_sum(p.x), lane_sum(p.y), lane_sum(p.z));
    *angular = vec3_make(lane_sum(l.x), lane_sum(l.y), lane_sum(l.z));
}

void dynamics_frame(const caber_model *model, const caber_work *work, const double *zdd, vec3 *pull,
                    vec3 *twirl)
{
    const handle_motion *h = &work->now.handle;
    *pull = lifted_rest(model, h);
    *twirl = h->twirl_rest;
    for (int a = 0; a < JOINT_COUNT; a++)
        if (model->active[a] >= 0) {
            *pull = vec3_axpy(zdd[model->active[a]], h->pull[a], *pull);
            *twirl = vec3_axpy(zdd[model->active[a]], h->twirl[a], *twirl);
        }
}

LANE_CLONES void dynamics_loads(const caber_model *model, caber_work *work, const double *zd,
                                const double *zdd)
{
    const int nj = model->joints;
    motion *m = &work->now;
    const handle_motion *h = &m->handle;
    vec3 pull, twirl, force, moment, modal_force, modal_moment;
    double qdd[UNKNOWNS_PADDED];
    vector_copy(zdd + nj, model->n, qdd);
    dynamics_frame(model, work, zdd, &pull, &twirl);
    body_rates(&m->out.body, pull, twirl, &force, &moment);
    contract(work, model->rod->stride, qdd, &modal_force, &modal_moment);
    m->shaft_force = vec3_add(force, vec3_add(m->out.force, modal_force));
    m->shaft_moment = vec3_add(moment, vec3_add(m->out.moment, modal_moment));

    const club_body *butt = &model->club->butt;
    vec3 butt_force, butt_moment;
    body_rates(butt, pull, twirl, &butt_force, &butt_moment);
    add_spin_rates(butt, h->spin, &butt_force, &butt_moment);
    m->grip_force = vec3_add(m->shaft_force, butt_force);
    const vec3 couple = vec3_add(m->shaft_moment, butt_moment);

    /* What a driven or geared joint must supply: the momentum its direction needs. */
    const bool geared = model->load.given.roll.drive == CABER_GEAR;
    for (int a = 0; a < JOINT_COUNT; a++) {
        if (model->active[a] >= 0)
            continue;
        m->couple[a] = vec3_dot(h->pull[a], m->grip_force) + vec3_dot(h->twirl[a], couple);
        if (a == JOINT_ARM)
            m->couple[a] +=
                model->player.arm_inertia * h->driven[a] - arm_weight(model, h->angle[a]);
    }
    m->power = 0;
    for (int a = 0; a < JOINT_COUNT; a++)
        if (!(geared && a == JOINT_ROLL))
            m->power += m->couple[a] * h->rate[a];
    m->loss = -m->stop.damper * h->rate[JOINT_COCK];
    for (int j = 0; j < model->n; j++)
        m->loss += model->damping[j] * zd[nj + j] * zd[nj + j];
}

void dynamics_pose(const caber_model *model, caber_work *work, double t, const double *z,
                   const double *zd, bool straight)
{
    const int nj = model->joints;
    joints_move(model, t, z, zd, &work->now.handle);
    rod_move(model->rod, straight ? work->zero : z + nj, straight ? work->zero : zd + nj,
             &work->rod);
}

void dynamics_pose_tip(const caber_model *model, caber_work *work, double t, const double *z,
                       const double *zd)
{
    joints_move(model, t, z, zd, &work->now.handle);
    rod_move_tip(model->rod, z + model->joints, zd + model->joints, &work->rod);
}

static double point_energy(double m, vec3 v)
{
    return m * vec3_dot(v, v) / 2;
}

void dynamics_energy(const caber_model *model, caber_work *work, double t, const double *z,
                     const double *zd, double *kinetic, double *potential)
{
    const rod *r = model->rod;
    const caber_player *p = &model->player;
    dynamics_pose(model, work, t, z, zd, false);
    const handle_motion *h = &work->now.handle;
    const club_body *butt = &model->club->butt;
    const vec3 arm = {sin(h->angle[JOINT_ARM]), -cos(h->angle[JOINT_ARM]), 0};
    double ke = p->arm_inertia * h->rate[JOINT_ARM] * h->rate[JOINT_ARM] / 2;
    double moment = p->arm_mass * p->arm_centre * vec3_dot(model->up, arm);

    ke += point_energy(butt->mass, h->velocity) +
          vec3_dot(h->velocity, vec3_cross(h->spin, butt->moment)) +
          vec3_dot(h->spin, mat3_apply(&butt->inertia, h->spin)) / 2;
    double mass = butt->mass;
    vec3 first = butt->moment;
    for (int k = 0; k < r->stations; k++) {
        const rod_point *q = &work->rod.point[k];
        const vec3 v = vec3_add(h->velocity, vec3_add(q->speed, vec3_cross(h->spin, q->place)));
        const vec3 axis = mat3_column(&q->turn, 0);
        const double about = vec3_dot(axis, vec3_add(h->spin, q->spin));
        ke += point_energy(r->mass[k], v) + r->polar[k] * about * about / 2;
        mass += r->mass[k];
        first = vec3_axpy(r->mass[k], q->place, first);
    }
    const rod_point *tip = &work->rod.point[r->stations];
    const beam_body *body = &model->club->tip;
    const vec3 d = mat3_apply(&tip->turn, body->centre), x = vec3_add(tip->place, d);
    const vec3 total = vec3_add(h->spin, tip->spin);
    const vec3 v = vec3_add(vec3_add(h->velocity, vec3_cross(h->spin, x)),
                            vec3_add(tip->speed, vec3_cross(tip->spin, d)));
    const vec3 local = mat3_apply_t(&tip->turn, total);
    ke += point_energy(body->mass, v) + vec3_dot(local, mat3_apply(&body->inertia, local)) / 2;
    mass += body->mass;
    first = vec3_axpy(body->mass, x, first);
    moment += mass * vec3_dot(model->up, h->hands) + vec3_dot(h->up, first);
    for (int j = 0; j < model->n; j++)
        ke += model->inertia[j] * zd[model->joints + j] * zd[model->joints + j] / 2;
    *kinetic = ke;
    *potential = model->gravity * moment;
    if (model->load.given.grip.drive == CABER_TORQUE)
        *potential += load_wrist_stop(&model->load.given.stop, h->angle[JOINT_COCK], 0).energy;
}

/* ------------------------------------------------------------------ the static start */

/* Residual r = F_q - M_qJ a with M_JJ a = F_J (joints free, modes held); returns its size in q,
 * max |r_j| / omega_j^2. */
static double start_residual(const caber_model *model, caber_work *work, const double *z,
                             const double *zd, double *r)
{
    const int nj = model->joints, pitch = work->pitch;
    dynamics_assemble(model, work, 0, z, zd);
    double a[LANE] = {0}, m[(JOINT_COUNT + 1) * LANE] = {0};
    for (int i = 0; i < nj; i++) {
        a[i] = work->rhs[i];
        for (int j = i; j < nj; j++)
            m[i * LANE + j] = work->matrix[(size_t)i * pitch + j];
    }
    if (nj && factor(m, nj, LANE))
        factor_solve(m, nj, LANE, a);
    double worst = 0;
    for (int j = 0; j < model->n; j++) {
        r[j] = work->rhs[nj + j];
        for (int i = 0; i < nj; i++)
            r[j] -= work->matrix[(size_t)i * pitch + nj + j] * a[i];
        worst = fmax(worst, fabs(r[j]) / model->stiffness[j]);
    }
    return worst;
}

/* One step of Newton's method with a finite-difference Jacobian; false when it is singular. */
static bool start_newton_step(const caber_model *model, caber_work *work, double *z,
                              const double *zd, double *r, double *moved)
{
    const int n = model->n, nj = model->joints;
    const double eps = 1e-6;
    for (int j = 0; j < n; j++) {
        const double keep = z[nj + j];
        z[nj + j] = keep + eps;
        start_residual(model, work, z, zd, moved);
        z[nj + j] = keep;
        for (int i = 0; i < n; i++)
            work->jacobian[(size_t)i * n + j] = (moved[i] - r[i]) / eps;
    }
    gsl_permutation *order = gsl_permutation_alloc((size_t)n);
    if (!order)
        return false;
    gsl_matrix_view a = gsl_matrix_view_array(work->jacobian, (size_t)n, (size_t)n);
    gsl_vector_view b = gsl_vector_view_array(r, (size_t)n);
    int sign;
    const bool good = gsl_linalg_LU_decomp(&a.matrix, order, &sign) == GSL_SUCCESS &&
                      gsl_linalg_LU_svx(&a.matrix, order, &b.vector) == GSL_SUCCESS;
    gsl_permutation_free(order);
    for (int j = 0; good && j < n; j++)
        z[nj + j] -= r[j];
    return good;
}

caber_status dynamics_static_start(const caber_model *model, caber_work *work, double *z,
                                   const double *zd, caber_message *message)
{
    enum { RELAX_STEPS = 40, NEWTON_STEPS = 30 };
    const int n = model->n, nj = model->joints;
    double *r = work->jacobian + (size_t)n * n, *moved = r + n;
    memset(z + nj, 0, (size_t)n * sizeof(double));
    double before = INFINITY, error = INFINITY;
    /* The modes' own stiffness is nearly all of the Jacobian for a club: a few relaxations do. */
    for (int k = 0; k < RELAX_STEPS; k++) {
        error = start_residual(model, work, z, zd, r);
        if (error < 1e-13)
            return message_clear(message);
        if (!(error < before))
            break;
        before = error;
        for (int j = 0; j < n; j++)
            z[nj + j] += r[j] / model->stiffness[j];
    }
    for (int k = 0; k < NEWTON_STEPS; k++) {
        error = start_residual(model, work, z, zd, r);
        if (error < 1e-12)
            return message_clear(message);
        if (!isfinite(error) || !start_newton_step(model, work, z, zd, r, moved))
            break;
    }
    return message_set(message, CABER_NO_EQUILIBRIUM,
                       "no static start: the shaft finds no equilibrium with gravity and the "
                       "joint accelerations at t = 0 (remaining imbalance %.3g)",
                       error);
}
