/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/dynamics.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <string.h>

#include "base/message.h"
#include "swing/joints.h"

/* Rows of the largest matrix: 60 modes (the field table's limit) and the joints. */
enum { MATRIX_MAX = 60 + JOINT_COUNT };

/* ------------------------------------------------------------------ sums over the bodies */

/* A row of three per-mode values at j. */
static inline vec3 row_at(const double *rows, int stride, int j)
{
    return vec3_make(rows[j], rows[stride + j], rows[2 * stride + j]);
}

/* Adds a point of mass m at x with acceleration `a` (at zero z..) and Jacobian rows X [3][stride]:
 * to the body sums, P, L, bias and, times sqrt(m), to the rows of the mass matrix. */
static void add_point(const caber_model *model, caber_work *w, double m, vec3 x, vec3 a,
                      const double *restrict move, double *restrict row)
{
    const int s = model->rod->stride;
    const double *restrict x0 = move, *restrict x1 = move + s, *restrict x2 = move + 2 * s;
    double *restrict p = w->p, *restrict l = w->l, *restrict bias = w->bias;
    outboard *out = &w->now.out;
    const vec3 mx = vec3_scale(m, x), ma = vec3_scale(m, a);
    const double root = sqrt(m);

    out->body.mass += m;
    out->body.moment = vec3_add(out->body.moment, mx);
    mat3_add_point_inertia(&out->body.inertia, m, x);
    out->force = vec3_add(out->force, ma);
    out->moment = vec3_add(out->moment, vec3_cross(x, ma));
    for (int j = 0; j < s; j++) {
        p[j] += m * x0[j];
        p[s + j] += m * x1[j];
        p[2 * s + j] += m * x2[j];
        l[j] += mx.y * x2[j] - mx.z * x1[j];
        l[s + j] += mx.z * x0[j] - mx.x * x2[j];
        l[2 * s + j] += mx.x * x1[j] - mx.y * x0[j];
        bias[j] += ma.x * x0[j] + ma.y * x1[j] + ma.z * x2[j];
        row[j] = root * x0[j];
        row[s + j] = root * x1[j];
        row[2 * s + j] = root * x2[j];
    }
}

/* The turning inertia jp about the section's own axis t: momentum jp (w.t) t, its rate at zero z..
 * jp ((w'.t) t + (w.t) w x t), w the section's spin. */
static void add_polar(const caber_model *model, caber_work *w, double jp, const rod_point *point,
                      const double *restrict swivel, double *restrict row)
{
    const int s = model->rod->stride;
    outboard *out = &w->now.out;
    const vec3 t = mat3_column(&point->turn, 0), spin = w->now.handle.spin;
    const vec3 total = vec3_add(spin, point->spin);
    const vec3 rate = vec3_add(point->spin_rate, vec3_cross(spin, point->spin));
    const vec3 hd = vec3_scale(
        jp, vec3_axpy(vec3_dot(rate, t), t, vec3_scale(vec3_dot(total, t), vec3_cross(total, t))));
    const double *restrict w0 = swivel, *restrict w1 = swivel + s, *restrict w2 = swivel + 2 * s;
    double *restrict l = w->l, *restrict bias = w->bias;
    const double tv[3] = {t.x, t.y, t.z}, root = sqrt(jp);

    out->moment = vec3_add(out->moment, hd);
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 3; k++)
            out->body.inertia.m[i][k] += jp * tv[i] * tv[k];
    for (int j = 0; j < s; j++) {
        const double along = t.x * w0[j] + t.y * w1[j] + t.z * w2[j];
        l[j] += jp * t.x * along;
        l[s + j] += jp * t.y * along;
        l[2 * s + j] += jp * t.z * along;
        bias[j] += hd.x * w0[j] + hd.y * w1[j] + hd.z * w2[j];
        row[j] = root * along;
    }
}

/* Jacobian of a point at arm `d` (handle axes) from the tip: X + W x d. */
static void offset_jacobian(int s, const double *restrict move, const double *restrict swivel,
                            vec3 d, double *restrict out)
{
    for (int j = 0; j < s; j++) {
        const vec3 x = vec3_add(row_at(move, s, j), vec3_cross(row_at(swivel, s, j), d));
        out[j] = x.x;
        out[s + j] = x.y;
        out[2 * s + j] = x.z;
    }
}

/* Turning inertia of the tip body about its centre of mass: momentum I w, rate I w' + w x I w. Its
 * rows of the mass matrix are C' R' W with I = C C' in the tip frame. */
static void add_tip_inertia(const caber_model *model, caber_work *w, const rod_point *tip,
                            const double *restrict swivel, double *restrict row)
{
    const int s = model->rod->stride;
    outboard *out = &w->now.out;
    const mat3 half = mat3_multiply(&tip->turn, &model->tip_factor);
    const mat3 inertia = mat3_multiply_t(&half, &half);
    const vec3 spin = w->now.handle.spin, total = vec3_add(spin, tip->spin);
    const vec3 rate = vec3_add(tip->spin_rate, vec3_cross(spin, tip->spin));
    const vec3 hd =
        vec3_add(mat3_apply(&inertia, rate), vec3_cross(total, mat3_apply(&inertia, total)));
    out->moment = vec3_add(out->moment, hd);
    out->body.inertia = mat3_add(&out->body.inertia, &inertia);
    for (int j = 0; j < s; j++) {
        const vec3 wj = row_at(swivel, s, j), h = mat3_apply(&inertia, wj);
        const vec3 r = mat3_apply_t(&half, wj);
        w->l[j] += h.x;
        w->l[s + j] += h.y;
        w->l[2 * s + j] += h.z;
        w->bias[j] += vec3_dot(hd, wj);
        row[j] = r.x;
        row[s + j] = r.y;
        row[2 * s + j] = r.z;
    }
}

/* All of the above for the present state of work->rod. */
static void sum_bodies(const caber_model *model, caber_work *w)
{
    const rod *r = model->rod;
    const int s = r->stride;
    const vec3 spin = w->now.handle.spin;
    double *row = w->rows;
    memset(w->p, 0, 3 * (size_t)s * sizeof(double));
    memset(w->l, 0, 3 * (size_t)s * sizeof(double));
    memset(w->bias, 0, (size_t)s * sizeof(double));
    w->now.out = (outboard){0};
    for (int k = 0; k < r->stations; k++, row += 3 * s) {
        const rod_point *p = &w->rod.point[k];
        const vec3 a = dynamics_rest_acceleration(spin, p->place, p->speed, p->rush);
        add_point(model, w, r->mass[k], p->place, a, w->rod.move + (size_t)k * 3 * s, row);
    }
    if (model->shaft_polar > 0)
        for (int k = 0; k < r->stations; k++, row += s)
            add_polar(model, w, r->polar[k], &w->rod.point[k], w->rod.swivel + (size_t)k * 3 * s,
                      row);

    const rod_point *tip = &w->rod.point[r->stations];
    const double *move = w->rod.move + (size_t)r->stations * 3 * s;
    const double *swivel = w->rod.swivel + (size_t)r->stations * 3 * s;
    const vec3 d = mat3_apply(&tip->turn, model->club->tip.centre);
    const vec3 wd = vec3_cross(tip->spin, d);
    const vec3 x = vec3_add(tip->place, d), xd = vec3_add(tip->speed, wd);
    const vec3 xdd =
        vec3_add(tip->rush, vec3_add(vec3_cross(tip->spin_rate, d), vec3_cross(tip->spin, wd)));
    double *scratch = row + 6 * s;
    offset_jacobian(s, move, swivel, d, scratch);
    add_point(model, w, model->club->tip.mass, x, dynamics_rest_acceleration(spin, x, xd, xdd),
              scratch, row);
    add_tip_inertia(model, w, tip, swivel, row + 3 * s);
}

/* ------------------------------------------------------------------ M and F */

/* M_qq = rows' rows, lower triangle, into the block that starts after the joints. */
static void modal_mass(const caber_model *model, caber_work *w)
{
    const int s = model->rod->stride, n = model->n, na = model->unknowns, nj = model->joints;
    for (int i = 0; i < n; i++)
        memset(w->matrix + (size_t)(nj + i) * na + nj, 0, ((size_t)i + 1) * sizeof(double));
    int r = 0;
    for (; r + 4 <= w->row_count; r += 4) {
        const double *restrict a = w->rows + (size_t)r * s, *restrict b = a + s;
        const double *restrict c = b + s, *restrict d = c + s;
        for (int i = 0; i < n; i++) {
            double *restrict m = w->matrix + (size_t)(nj + i) * na + nj;
            const double ai = a[i], bi = b[i], ci = c[i], di = d[i];
            for (int j = 0; j <= i; j++)
                m[j] += (ai * a[j] + bi * b[j]) + (ci * c[j] + di * d[j]);
        }
    }
    for (; r < w->row_count; r++) {
        const double *restrict a = w->rows + (size_t)r * s;
        for (int i = 0; i < n; i++) {
            double *restrict m = w->matrix + (size_t)(nj + i) * na + nj;
            for (int j = 0; j <= i; j++)
                m[j] += a[i] * a[j];
        }
    }
    for (int i = 0; i < n; i++)
        w->matrix[(size_t)(nj + i) * na + nj + i] += model->inertia[i];
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

static void joint_rows(const caber_model *model, caber_work *w)
{
    const int s = model->rod->stride, n = model->n, na = model->unknowns;
    const handle_motion *h = &w->now.handle;
    const club_body whole = body_sum(&w->now.out.body, &model->club->butt);
    vec3 force, moment;
    rest_loads(model, w, &whole, &force, &moment);
    for (int a = 0; a < JOINT_COUNT; a++) {
        const int ia = model->active[a];
        if (ia < 0)
            continue;
        const vec3 va = h->pull[a], wa = h->twirl[a];
        vec3 fa, ma;
        body_rates(&whole, va, wa, &fa, &ma);
        for (int b = 0; b <= a; b++)
            if (model->active[b] >= 0)
                w->matrix[(size_t)ia * na + model->active[b]] =
                    vec3_dot(h->pull[b], fa) + vec3_dot(h->twirl[b], ma);
        if (a == JOINT_ARM)
            w->matrix[(size_t)ia * na + ia] += model->player.arm_inertia;
        for (int j = 0; j < n; j++)
            w->matrix[(size_t)(model->joints + j) * na + ia] =
                vec3_dot(va, row_at(w->p, s, j)) + vec3_dot(wa, row_at(w->l, s, j));
        w->rhs[ia] = joint_force(model, w, a) - vec3_dot(va, force) - vec3_dot(wa, moment);
    }
}

static void modal_forces(const caber_model *model, caber_work *w, const double *q, const double *qd)
{
    const int s = model->rod->stride;
    const vec3 pull = lifted_rest(model, &w->now.handle), twirl = w->now.handle.twirl_rest;
    double *f = w->rhs + model->joints;
    for (int j = 0; j < model->n; j++)
        f[j] = -w->bias[j] - vec3_dot(pull, row_at(w->p, s, j)) -
               vec3_dot(twirl, row_at(w->l, s, j)) - model->stiffness[j] * q[j] -
               model->damping[j] * qd[j];
}

void dynamics_assemble(const caber_model *model, caber_work *work, double t, const double *z,
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

/* ------------------------------------------------------------------ solving */

/* Cholesky in place, one column after another: each takes its outer product off the rest, so that
 * the inner loop has no sum to wait for. The diagonal is left inverted. The matrices have about a
 * dozen rows, where a library call costs more than the arithmetic. */
static bool factor(double *restrict m, int n)
{
    double column[MATRIX_MAX];
    for (int k = 0; k < n; k++) {
        const double d = m[(size_t)k * n + k];
        if (!(d > 0) || d > 1e300)
            return false;
        const double scale = 1 / sqrt(d);
        m[(size_t)k * n + k] = scale;
        for (int i = k + 1; i < n; i++)
            column[i] = m[(size_t)i * n + k] *= scale;
        for (int i = k + 1; i < n; i++) {
            double *restrict row = m + (size_t)i * n;
            const double c = column[i];
            for (int j = k + 1; j <= i; j++)
                row[j] -= c * column[j];
        }
    }
    return true;
}

static void factor_solve(const double *restrict m, int n, double *restrict x)
{
    for (int i = 0; i < n; i++) {
        x[i] *= m[(size_t)i * n + i];
        for (int k = i + 1; k < n; k++)
            x[k] -= m[(size_t)k * n + i] * x[i];
    }
    for (int i = n - 1; i >= 0; i--) {
        x[i] *= m[(size_t)i * n + i];
        for (int k = 0; k < i; k++)
            x[k] -= m[(size_t)i * n + k] * x[i];
    }
}

/* y = M x from the lower triangle. */
static void mass_times(const double *m, int n, const double *x, double *y)
{
    for (int i = 0; i < n; i++) {
        const double *ri = m + (size_t)i * n;
        double sum = ri[i] * x[i];
        for (int k = 0; k < i; k++) {
            sum += ri[k] * x[k];
            y[k] += ri[k] * x[i];
        }
        y[i] = sum;
    }
}

bool dynamics_solve_stiff(const caber_model *model, caber_work *work, double gamma, double *x,
                          double *v)
{
    const int n = model->unknowns, nj = model->joints, cock = model->active[JOINT_COCK];
    double *s = work->factor, *b = work->rhs;
    memcpy(s, work->matrix, (size_t)n * n * sizeof(double));
    mass_times(work->matrix, n, v, b);
    for (int j = 0; j < model->n; j++) {
        const double k = gamma * model->stiffness[j];
        s[(size_t)(nj + j) * n + nj + j] += gamma * (model->damping[j] + k);
        b[nj + j] -= k * x[nj + j];
    }
    if (cock >= 0) {
        const double k = gamma * work->now.stop.stiffness;
        s[(size_t)cock * n + cock] += gamma * (work->now.stop.damping + k);
        b[cock] -= k * x[cock];
    }
    if (!factor(s, n))
        return false;
    factor_solve(s, n, b);
    for (int i = 0; i < n; i++) {
        v[i] = b[i];
        x[i] += gamma * v[i];
    }
    return true;
}

bool dynamics_solve(const caber_model *model, caber_work *work, double t, const double *z,
                    const double *zd, double *zdd)
{
    dynamics_assemble(model, work, t, z, zd);
    const int n = model->unknowns;
    memcpy(zdd, work->rhs, (size_t)n * sizeof(double));
    memcpy(work->factor, work->matrix, (size_t)n * n * sizeof(double));
    if (!factor(work->factor, n))
        return false;
    factor_solve(work->factor, n, zdd);
    for (int i = 0; i < n; i++)
        if (!isfinite(zdd[i]))
            return false;
    return true;
}

/* ------------------------------------------------------------------ loads, energy */

/* Sum_j row_j x_j for a [3][stride] array. */
static vec3 contract(const double *rows, int stride, int n, const double *x)
{
    vec3 sum = {0, 0, 0};
    for (int j = 0; j < n; j++)
        sum = vec3_axpy(x[j], row_at(rows, stride, j), sum);
    return sum;
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

void dynamics_loads(const caber_model *model, caber_work *work, const double *zd, const double *zdd)
{
    const int nj = model->joints, s = model->rod->stride;
    motion *m = &work->now;
    const handle_motion *h = &m->handle;
    vec3 pull, twirl, force, moment;
    dynamics_frame(model, work, zdd, &pull, &twirl);
    body_rates(&m->out.body, pull, twirl, &force, &moment);
    m->shaft_force =
        vec3_add(force, vec3_add(m->out.force, contract(work->p, s, model->n, zdd + nj)));
    m->shaft_moment =
        vec3_add(moment, vec3_add(m->out.moment, contract(work->l, s, model->n, zdd + nj)));

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
    const int nj = model->joints, na = model->unknowns;
    dynamics_assemble(model, work, 0, z, zd);
    double a[JOINT_COUNT], m[JOINT_COUNT * JOINT_COUNT];
    for (int i = 0; i < nj; i++) {
        a[i] = work->rhs[i];
        for (int j = 0; j <= i; j++)
            m[i * nj + j] = work->matrix[(size_t)i * na + j];
    }
    if (nj && factor(m, nj))
        factor_solve(m, nj, a);
    double worst = 0;
    for (int j = 0; j < model->n; j++) {
        r[j] = work->rhs[nj + j];
        for (int i = 0; i < nj; i++)
            r[j] -= work->matrix[(size_t)(nj + j) * na + i] * a[i];
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
