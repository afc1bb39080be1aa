/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/joints.h"

mat3 joints_axes(double beta, double roll)
{
    const double sb = sin(beta), cb = cos(beta), sg = sin(roll), cg = cos(roll);
    return (mat3){{{sb, cg * cb, -sg * cb}, {-cb, cg * sb, -sg * sb}, {0, sg, cg}}};
}

static const load_table *table_of(const load *l, int joint)
{
    return joint == JOINT_ARM ? &l->hub : joint == JOINT_COCK ? &l->grip : &l->roll;
}

double joints_start_angle(const caber_player *p, int joint)
{
    return joint == JOINT_ARM    ? p->start_arm
           : joint == JOINT_COCK ? p->start_cock
                                 : p->load.roll.top;
}

/* Angle, rate and (for driven joints) acceleration of one joint. */
static void joint_move(const caber_model *model, int joint, double t, const double *angle,
                       const double *rate, handle_motion *out)
{
    const int i = model->active[joint];
    const load_table *table = table_of(&model->load, joint);
    out->driven[joint] = 0;
    if (i >= 0) {
        out->angle[joint] = angle[i];
        out->rate[joint] = rate[i];
    } else if (table->spline) {
        const load_motion m = load_table_motion(table, t);
        out->angle[joint] = m.angle;
        out->rate[joint] = m.rate;
        out->driven[joint] = m.acceleration;
    } else {
        out->angle[joint] = joints_start_angle(&model->player, joint);
        out->rate[joint] = 0;
    }
}

void joints_move(const caber_model *model, double t, const double *angle, const double *rate,
                 handle_motion *out)
{
    const bool geared = model->load.given.roll.drive == CABER_GEAR;
    joint_move(model, JOINT_ARM, t, angle, rate, out);
    joint_move(model, JOINT_COCK, t, angle, rate, out);
    out->beta = out->angle[JOINT_ARM] + out->angle[JOINT_COCK];
    out->beta_rate = out->rate[JOINT_ARM] + out->rate[JOINT_COCK];
    out->gear = (load_gear){0};
    if (geared) {
        out->gear = load_roll_gear(&model->load.given.roll, out->beta);
        out->angle[JOINT_ROLL] = out->gear.roll;
        out->rate[JOINT_ROLL] = out->gear.slope * out->beta_rate;
        out->driven[JOINT_ROLL] = 0;
    } else {
        joint_move(model, JOINT_ROLL, t, angle, rate, out);
    }

    const double th = out->angle[JOINT_ARM], thd = out->rate[JOINT_ARM];
    const double g = out->angle[JOINT_ROLL], gd = out->rate[JOINT_ROLL], bd = out->beta_rate;
    const double r = model->player.arm_length;
    out->axes = joints_axes(out->beta, g);
    const vec3 out_along = {sin(th), -cos(th), 0}, across = {cos(th), sin(th), 0};
    out->hands = vec3_scale(r, out_along);
    const vec3 across_h = mat3_apply_t(&out->axes, vec3_scale(r, across));
    const vec3 along_h = mat3_apply_t(&out->axes, vec3_scale(r, out_along));
    const vec3 z = {0, sin(g), cos(g)};

    out->velocity = vec3_scale(thd, across_h);
    out->spin = vec3_make(gd, bd * z.y, bd * z.z);
    const vec3 axis = {out->gear.slope, z.y, z.z};
    out->pull[JOINT_ARM] = across_h;
    out->pull[JOINT_COCK] = out->pull[JOINT_ROLL] = vec3_make(0, 0, 0);
    out->twirl[JOINT_ARM] = out->twirl[JOINT_COCK] = axis;
    out->twirl[JOINT_ROLL] = vec3_make(1, 0, 0);
    out->pull_rest = vec3_scale(-thd * thd, along_h);
    out->twirl_rest = vec3_make(out->gear.curve * bd * bd, bd * gd * z.z, -bd * gd * z.y);
    for (int j = 0; j < JOINT_COUNT; j++) {
        out->pull_rest = vec3_axpy(out->driven[j], out->pull[j], out->pull_rest);
        out->twirl_rest = vec3_axpy(out->driven[j], out->twirl[j], out->twirl_rest);
    }
    out->up = mat3_apply_t(&out->axes, model->up);
}
