/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/delivery.h"

#include "swing/dynamics.h"

delivery_pose delivery_head(const caber_model *model, const caber_work *work)
{
    const handle_motion *h = &work->now.handle;
    const rod_point *tip = &work->rod.point[model->rod->stations];
    const club_head *head = &model->club->head;
    const vec3 face = mat3_apply(&tip->turn, head->face_centre);
    const vec3 centre = mat3_apply(&tip->turn, head->centre);
    const vec3 total = vec3_add(h->spin, tip->spin);
    /* Velocity of the shaft's end, then of the two points that turn with the head. */
    const vec3 end = vec3_add(h->velocity, vec3_add(tip->speed, vec3_cross(h->spin, tip->place)));
    const vec3 face_v = vec3_add(end, vec3_cross(total, face));
    const vec3 centre_v = vec3_add(end, vec3_cross(total, centre));
    return (delivery_pose){
        .normal = mat3_apply(&h->axes, mat3_apply(&tip->turn, head->normal)),
        .toe = mat3_apply(&h->axes, mat3_apply(&tip->turn, head->toe)),
        .face_centre = vec3_add(h->hands, mat3_apply(&h->axes, vec3_add(tip->place, face))),
        .centre = vec3_add(h->hands, mat3_apply(&h->axes, vec3_add(tip->place, centre))),
        .face_velocity = mat3_apply(&h->axes, face_v),
        .velocity = mat3_apply(&h->axes, centre_v),
        .spin = mat3_apply(&h->axes, total)};
}

/* In the swing plane across the shaft, and along the plane's normal; both directions turn with the
 * roll in handle axes. */
static void across_and_normal(const handle_motion *h, vec3 v, double *across, double *normal)
{
    const double sg = h->axes.m[2][1], cg = h->axes.m[2][2]; /* Z = (0, sin g, cos g) */
    *across = cg * v.y - sg * v.z;
    *normal = sg * v.y + cg * v.z;
}

void delivery_offset(const handle_motion *h, vec3 place, double *trail, double *out_of_plane)
{
    double across;
    across_and_normal(h, place, &across, out_of_plane);
    *trail = -across;
}

void delivery_lag(const caber_model *model, const caber_work *work, double *lag, double *rate)
{
    const handle_motion *h = &work->now.handle;
    const rod_point *tip = &work->rod.point[model->rod->stations];
    double across, normal, across_speed, normal_speed;
    across_and_normal(h, tip->place, &across, &normal);
    across_and_normal(h, tip->speed, &across_speed, &normal_speed);
    *lag = -across;
    *rate = h->rate[JOINT_ROLL] * normal - across_speed;
}

delivery_tip delivery_tip_of(const caber_model *model, const caber_work *work)
{
    const rod_point *tip = &work->rod.point[model->rod->stations];
    const vec3 axis = mat3_column(&tip->turn, 0);
    delivery_tip out = {.lead = tip->place.y,
                        .droop = -tip->place.z,
                        .lead_slope = atan2(axis.y, axis.x),
                        .droop_slope = atan2(-axis.z, axis.x),
                        .twist = -mat3_rotation_vector(&tip->turn).x};
    double across;
    across_and_normal(&work->now.handle, tip->place, &across, &out.out_of_plane);
    delivery_lag(model, work, &out.lag, &out.lag_rate);
    return out;
}

/* ------------------------------------------------------------------ angles against the ground */

typedef struct ground {
    double target, up, side;
} ground;

static ground to_ground(const caber_model *m, vec3 v)
{
    return (ground){vec3_dot(v, m->target), vec3_dot(v, m->up), vec3_dot(v, m->side)};
}

static double elevation(ground g)
{
    return atan2(g.up, hypot(g.target, g.side));
}

static double azimuth(ground g)
{
    return atan2(g.side, g.target);
}

static double elevation_rate(ground g, ground rate)
{
    return rate.up / sqrt(fmax(1 - g.up * g.up, 1e-30)); /* of a unit vector */
}

static double azimuth_rate(ground g, ground rate)
{
    return (rate.side * g.target - g.side * rate.target) / (g.target * g.target + g.side * g.side);
}

static void fill_angles(const caber_model *model, const delivery_pose *p, const handle_motion *h,
                        caber_impact *out)
{
    const ground n = to_ground(model, p->normal), toe = to_ground(model, p->toe);
    const ground v = to_ground(model, p->velocity);
    const ground n_rate = to_ground(model, vec3_cross(p->spin, p->normal));
    out->head_speed = vec3_norm(p->velocity);
    out->delivered_loft = elevation(n);
    out->face_angle = azimuth(n);
    out->delivered_lie = elevation(toe);
    out->closure_rate = -azimuth_rate(n, n_rate);
    out->attack_angle = elevation(v);
    out->path = azimuth(v);
    out->handle_lean = -h->beta;
    out->arm_angle = h->angle[JOINT_ARM];
}

/* ------------------------------------------------------------------ shares */

/* Loft, face (open positive) and lie change per unit t for a turn at rate w (plane frame). */
static void turn_rates(const caber_model *model, vec3 normal, vec3 toe, vec3 w, double out[3])
{
    const ground n = to_ground(model, normal), k = to_ground(model, toe);
    const ground nr = to_ground(model, vec3_cross(w, normal));
    out[0] = elevation_rate(n, nr);
    out[1] = azimuth_rate(n, nr);
    out[2] = elevation_rate(k, to_ground(model, vec3_cross(w, toe)));
}

enum { SHARE_POINTS = 8 };
/* Eight-point Gauss rule on (0, 1): halves of the nodes and weights in Abramowitz & Stegun 1964,
 * table 25.4, as 0.5 +- x. */
static const double share_x[SHARE_POINTS / 2] = {0.09171732124782490247, 0.26276620495816449290,
                                                 0.39833323870681336979, 0.48014492824876812150};
static const double share_w[SHARE_POINTS / 2] = {0.18134189168918099148, 0.15685332293894364367,
                                                 0.11119051722668723527, 0.05061426814518812957};

static void fill_shares(const caber_model *model, const caber_work *work, caber_impact *out)
{
    const handle_motion *h = &work->now.handle;
    const club_head *head = &model->club->head;
    const vec3 psi = mat3_rotation_vector(&work->rod.point[model->rod->stations].turn);
    const vec3 part[3] = {{0, 0, psi.z}, {0, psi.y, 0}, {psi.x, 0, 0}}; /* lead, droop, twist */
    double sum[3][3] = {{0}};
    for (int i = 0; i < SHARE_POINTS; i++) {
        const double x = share_x[i / 2], t = i % 2 ? 0.5 + x : 0.5 - x, w = share_w[i / 2];
        const mat3 turn = mat3_rotation(vec3_scale(t, psi));
        const mat3 axes = mat3_multiply(&h->axes, &turn);
        const vec3 n = mat3_apply(&axes, head->normal), k = mat3_apply(&axes, head->toe);
        for (int c = 0; c < 3; c++) {
            double rate[3];
            turn_rates(model, n, k, mat3_apply(&axes, part[c]), rate);
            for (int a = 0; a < 3; a++)
                sum[c][a] += w * rate[a];
        }
    }
    out->loft_from_lead = sum[0][0];
    out->loft_from_droop = sum[1][0];
    out->loft_from_twist = sum[2][0];
    out->face_from_lead = -sum[0][1];
    out->face_from_droop = -sum[1][1];
    out->face_from_twist = -sum[2][1];
    out->lie_from_lead = sum[0][2];
    out->lie_from_droop = sum[1][2];
    out->lie_from_twist = sum[2][2];
}

/* ------------------------------------------------------------------ for the ball */

static void put(ground g, double out[3])
{
    out[0] = g.target;
    out[1] = g.up;
    out[2] = g.side;
}

/* The body on the tip, head and inserted shaft together, in ground axes. */
static void fill_arrival(const caber_model *model, const caber_work *work, const delivery_pose *p,
                         caber_arrival *out)
{
    const handle_motion *h = &work->now.handle;
    const rod_point *tip = &work->rod.point[model->rod->stations];
    const beam_body *body = &model->club->tip;
    const mat3 axes = mat3_multiply(&h->axes, &tip->turn);
    const vec3 centre = mat3_apply(&axes, vec3_sub(body->centre, model->club->head.centre));
    const vec3 face = mat3_apply(&axes, vec3_sub(model->club->head.face_centre, body->centre));
    const vec3 toe = vec3_axpy(-vec3_dot(p->toe, p->normal), p->normal, p->toe);
    out->mass = body->mass;
    put(to_ground(model, vec3_add(p->velocity, vec3_cross(p->spin, centre))), out->velocity);
    put(to_ground(model, p->spin), out->spin);
    out->speed = vec3_norm(p->velocity);
    put(to_ground(model, face), out->face);
    put(to_ground(model, p->normal), out->normal);
    put(to_ground(model, vec3_scale(1 / vec3_norm(toe), toe)), out->toe);
    /* The rows of `axes` in ground directions: turn the tensor by them on both sides. */
    double turn[3][3];
    for (int c = 0; c < 3; c++) {
        double column[3];
        put(to_ground(model, mat3_column(&axes, c)), column);
        for (int r = 0; r < 3; r++)
            turn[r][c] = column[r];
    }
    static const int row[6] = {0, 1, 2, 0, 0, 1}, column[6] = {0, 1, 2, 1, 2, 2};
    for (int k = 0; k < 6; k++) {
        out->inertia[k] = 0;
        for (int i = 0; i < 3; i++)
            for (int j = 0; j < 3; j++)
                out->inertia[k] += turn[row[k]][i] * body->inertia.m[i][j] * turn[column[k]][j];
    }
}

/* ------------------------------------------------------------------ the whole */

/* Where the ball sits: as the player's file says, otherwise where the straight club's face centre
 * is beside it for the same handle. */
static vec3 ball_place(const caber_model *model, const delivery_pose *straight)
{
    const caber_player *p = &model->player;
    return vec3_make(p->ball_ahead, isnan(p->ball_down) ? straight->face_centre.y : -p->ball_down,
                     isnan(p->ball_out) ? straight->face_centre.z : p->ball_out);
}

static void fill_strike(const caber_model *model, const delivery_pose *bent,
                        const delivery_pose *straight, const handle_motion *h, caber_swing *swing)
{
    caber_impact *out = &swing->bent;
    const vec3 ball = ball_place(model, straight);
    swing->ball[0] = ball.x;
    swing->ball[1] = ball.y;
    swing->ball[2] = ball.z;
    const vec3 off = vec3_sub(ball, bent->face_centre);
    /* Along the face: the toe direction made square to the normal, and up the face. */
    const vec3 toe = vec3_axpy(-vec3_dot(bent->toe, bent->normal), bent->normal, bent->toe);
    const vec3 high = vec3_cross(toe, bent->normal);
    out->strike_toe = vec3_dot(off, toe) / vec3_norm(toe);
    out->strike_high = vec3_dot(off, high) / vec3_norm(high);
    const ground hands = to_ground(model, vec3_sub(h->hands, bent->face_centre));
    out->hands_ahead = hands.target;
    out->hands_height = hands.up;
}

void delivery_fill(const caber_model *model, caber_work *work, double t, const double *z,
                   const double *zd, caber_swing *out)
{
    caber_impact *bent = &out->bent, *straight = &out->straight;
    dynamics_pose(model, work, t, z, zd, true);
    const delivery_pose rigid = delivery_head(model, work);
    fill_angles(model, &rigid, &work->now.handle, straight);
    fill_arrival(model, work, &rigid, &out->straight_head);

    dynamics_pose(model, work, t, z, zd, false);
    const delivery_pose pose = delivery_head(model, work);
    const delivery_tip tip = delivery_tip_of(model, work);
    fill_angles(model, &pose, &work->now.handle, bent);
    fill_shares(model, work, bent);
    fill_strike(model, &pose, &rigid, &work->now.handle, out);
    fill_arrival(model, work, &pose, &out->head);
    bent->lead_deflection = tip.lead;
    bent->droop = tip.droop;
    bent->tip_twist = tip.twist;
    bent->lead_slope = tip.lead_slope;
    bent->droop_slope = tip.droop_slope;
    bent->shaft_speed_gain = bent->head_speed - straight->head_speed;
    bent->loft_change = bent->delivered_loft - straight->delivered_loft;
    bent->face_rotation =
        -remainder(bent->face_angle - straight->face_angle, 2 * 3.14159265358979323846);
    bent->lie_change = bent->delivered_lie - straight->delivered_lie;
}
