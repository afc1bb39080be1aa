/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/handle.h"

#include <gsl/gsl_poly.h>

#include "swing/delivery.h"
#include "swing/dynamics.h"

double handle_moment(const motion *m)
{
    const double roll = m->handle.angle[JOINT_ROLL];
    return sin(roll) * m->shaft_moment.y + cos(roll) * m->shaft_moment.z;
}

/* end_moment holds -omega_j^2 L_j, and a mode's damping is damping_j/stiffness_j times its
 * stiffness, on the rate. */
double handle_moment_rate(const caber_model *model, const handle_motion *h, const double *q,
                          const double *qd, const double *qdd)
{
    const int n = model->n;
    const double *m2 = model->end_moment + n, *m3 = model->end_moment + 2 * n;
    double a = 0, b = 0, ad = 0, bd = 0;
    for (int j = 0; j < n; j++) {
        const double lag = model->damping[j] / model->stiffness[j];
        const double x = q[j] + lag * qd[j], xd = qd[j] + lag * qdd[j];
        a += m2[j] * x;
        b += m3[j] * x;
        ad += m2[j] * xd;
        bd += m3[j] * xd;
    }
    const double sg = sin(h->angle[JOINT_ROLL]), cg = cos(h->angle[JOINT_ROLL]);
    return sg * ad + cg * bd + h->rate[JOINT_ROLL] * (cg * a - sg * b);
}

double handle_strain_energy(const caber_model *model, const double *q, int third)
{
    const int n = model->n;
    double sum = 0;
    for (int i = 0; i < n; i++) {
        if (third == THIRD_COUNT) {
            sum += model->stiffness[i] * q[i] * q[i];
            continue;
        }
        for (int j = 0; j < n; j++)
            sum += q[i] * model->third[third][i * n + j] * q[j];
    }
    return sum / 2;
}

double handle_strain_rate(const caber_model *model, const double *q, const double *qd)
{
    double sum = 0;
    for (int j = 0; j < model->n; j++)
        sum += model->stiffness[j] * q[j] * qd[j];
    return sum;
}

/* A place along the shaft: how far it lies off the chord, and the slope of that. */
typedef struct off_chord {
    double s, off, slope;
} off_chord;

/* Point p of the bent shaft: 0 = the hands, then the stations, then the tip. */
static off_chord off_chord_at(const caber_model *model, const caber_work *work, vec3 across, int p)
{
    const rod *r = model->rod;
    if (p == 0)
        return (off_chord){0, 0, across.x};
    const rod_point *at = &work->rod.point[p - 1];
    return (off_chord){p <= r->stations ? r->s[p - 1] : r->length, vec3_dot(at->place, across),
                       vec3_dot(mat3_column(&at->turn, 0), across)};
}

/* Where the shaft is furthest from the chord between points k - 1 and k: the slope of the Hermite
 * interpolant on up to four points around passes 0 there, found by halving. */
static double furthest_between(const caber_model *model, const caber_work *work, vec3 across, int k)
{
    enum { POINTS = 4, SIZE = 2 * POINTS, HALVINGS = 40 };
    const int last = model->rod->stations + 1;
    int first = k - 2 < 0 ? 0 : k - 2;
    if (first + POINTS - 1 > last)
        first = last - (POINTS - 1);
    double s[POINTS], off[POINTS], slope[POINTS], z[SIZE], dd[SIZE], taylor[SIZE], scratch[SIZE];
    for (int i = 0; i < POINTS; i++) {
        const off_chord p = off_chord_at(model, work, across, first + i);
        s[i] = p.s;
        off[i] = p.off;
        slope[i] = p.slope;
    }
    gsl_poly_dd_hermite_init(dd, z, s, off, slope, POINTS);
    double low = s[k - 1 - first], high = s[k - first];
    for (int i = 0; i < HALVINGS; i++) {
        const double middle = (low + high) / 2;
        gsl_poly_dd_taylor(taylor, middle, dd, z, SIZE, scratch);
        if (taylor[1] > 0)
            low = middle;
        else
            high = middle;
    }
    return (low + high) / 2;
}

double handle_bend_point(const caber_model *model, const caber_work *work)
{
    const rod *r = model->rod;
    const rod_point *tip = &work->rod.point[r->stations];
    const vec3 chord = tip->place;
    /* The direction across the chord, towards which the handle axis leaves it. */
    const vec3 e1 = {1, 0, 0};
    vec3 across = vec3_axpy(-chord.x / vec3_dot(chord, chord), chord, e1);
    const double size = vec3_norm(across);
    if (!(size > 1e-9))
        return NAN; /* a straight shaft has no bend point */
    across = vec3_scale(1 / size, across);
    double slope = off_chord_at(model, work, across, 0).slope;
    for (int k = 1; k <= r->stations + 1; k++) {
        slope = off_chord_at(model, work, across, k).slope;
        if (slope <= 0)
            return r->length - furthest_between(model, work, across, k);
    }
    return slope > 0 ? 0 : NAN;
}

/* ------------------------------------------------------------------ loads along the shaft */

/* Bending moment and curvature magnitudes at the hands and the stations, from the outer end
 * inwards: force F and moment M (about the running place) that the rest beyond needs. */
static void along_shaft(const caber_model *model, const caber_work *w, const double *zdd,
                        double *place_moment, double *place_curvature)
{
    const rod *r = model->rod;
    const handle_motion *h = &w->now.handle;
    const int s = r->stride, n = model->n, nj = model->joints;
    vec3 pull, twirl;
    dynamics_frame(model, w, zdd, &pull, &twirl);
    vec3 force = w->now.shaft_force, moment = w->now.shaft_moment, last = {0, 0, 0};
    for (int k = 0; k <= r->stations; k++) {
        if (k > 0) {
            /* Step outwards to station k - 1, then leave its mass behind. */
            const rod_point *p = &w->rod.point[k - 1];
            moment = vec3_sub(moment, vec3_cross(vec3_sub(p->place, last), force));
            last = p->place;
        }
        const mat3 *turn = k ? &w->rod.point[k - 1].turn : NULL;
        const vec3 m = turn ? mat3_apply_t(turn, moment) : moment;
        const double *b = model->section + 3 * (size_t)k;
        /* Moment components (m.y about e2, m.z about e3) bend towards (-e3, e2). */
        const double toward_2 = m.z, toward_3 = -m.y, det = b[0] * b[2] - b[1] * b[1];
        const double k2 = (b[2] * toward_2 - b[1] * toward_3) / det;
        const double k3 = (b[0] * toward_3 - b[1] * toward_2) / det;
        place_moment[k] = hypot(m.y, m.z);
        place_curvature[k] = hypot(k2, k3);
        if (k > 0) {
            const rod_point *p = &w->rod.point[k - 1];
            const double *move = w->rod.move + (size_t)(k - 1) * 3 * s;
            vec3 a = dynamics_rest_acceleration(h->spin, p->place, p->speed, p->rush);
            a = vec3_add(a, vec3_add(pull, vec3_cross(twirl, p->place)));
            for (int j = 0; j < n; j++)
                a = vec3_axpy(zdd[nj + j], vec3_make(move[j], move[s + j], move[2 * s + j]), a);
            force = vec3_axpy(-r->mass[k - 1], a, force);
        }
    }
}

/* How far the shaft is from the handle axis at the hands and the stations. */
static void offsets(const caber_model *model, const caber_work *w, double *trail, double *out)
{
    trail[0] = out[0] = 0;
    for (int k = 0; k < model->rod->stations; k++)
        delivery_offset(&w->now.handle, w->rod.point[k].place, &trail[k + 1], &out[k + 1]);
}

void handle_trace_row(const caber_model *model, caber_work *work, double t, const double *z,
                      const double *zd, const double *zdd, caber_trace *trace)
{
    caber_trace_row *row = &trace->rows[trace->count];
    const size_t at = trace->count * trace->place_count;
    const int nj = model->joints;
    const double *q = z + nj, *qd = zd + nj;
    const motion *m = &work->now;
    const handle_motion *h = &m->handle;
    const double sg = sin(h->angle[JOINT_ROLL]), cg = cos(h->angle[JOINT_ROLL]);

    *row = (caber_trace_row){.time = t,
                             .arm_angle = h->angle[JOINT_ARM],
                             .club_angle = h->beta,
                             .cock = h->angle[JOINT_COCK],
                             .roll = h->angle[JOINT_ROLL],
                             .arm_speed = h->rate[JOINT_ARM],
                             .club_speed = h->beta_rate,
                             .roll_speed = h->rate[JOINT_ROLL]};
    row->hub_torque = m->couple[JOINT_ARM];
    row->grip_couple = m->couple[JOINT_COCK] + m->stop.spring + m->stop.damper;
    row->roll_torque = m->couple[JOINT_ROLL];
    row->handle_moment = handle_moment(m);
    row->handle_moment_out = cg * m->shaft_moment.y - sg * m->shaft_moment.z;
    row->handle_twist_moment = m->shaft_moment.x;
    row->load_rate = handle_moment_rate(model, h, q, qd, zdd + nj);
    row->grip_force = vec3_norm(m->grip_force);
    row->grip_force_along = -m->grip_force.x;
    row->strain_butt = handle_strain_energy(model, q, THIRD_BUTT);
    row->strain_middle = handle_strain_energy(model, q, THIRD_MIDDLE);
    row->strain_tip = handle_strain_energy(model, q, THIRD_TIP);
    row->strain = handle_strain_energy(model, q, THIRD_COUNT);
    along_shaft(model, work, zdd, trace->moment + at, trace->curvature + at);
    offsets(model, work, trace->trail + at, trace->out_of_plane + at);

    const delivery_tip tip = delivery_tip_of(model, work);
    row->lead = tip.lead;
    row->droop = tip.droop;
    row->lag = tip.lag;
    row->out_of_plane = tip.out_of_plane;
    row->twist = tip.twist;
    row->lead_slope = tip.lead_slope;
    row->droop_slope = tip.droop_slope;
    row->bend_point = handle_bend_point(model, work);
    const delivery_pose head = delivery_head(model, work);
    row->head_speed = vec3_norm(head.velocity);
    row->head_ahead = vec3_dot(head.face_centre, model->target);
    row->head_up = vec3_dot(head.face_centre, model->up);
    row->head_out = vec3_dot(head.face_centre, model->side);
    /* Last, since these move work->rod, without Jacobians. */
    dynamics_energy(model, work, t, z, zd, &row->kinetic, &row->potential);
    dynamics_pose(model, work, t, z, zd, true);
    row->straight_head_speed = vec3_norm(delivery_head(model, work).velocity);
}
