/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What is said of the head at impact, against the same computed here from the head's pose with
 * other formulas, and the shares of lead, droop and twist. */
#include "record.h"
#include "setups.h"
#include "swing/delivery.h"
#include "swing/dynamics.h"

/* The three shares are an exact split: they add up to the change. */
static void shares_add_up(void **state)
{
    (void)state;
    double most = 0;
    for (size_t i = 0; i < SETUPS_DEMO_COUNT; i++) {
        caber_setup *s = setups_read(setups_demo[i]);
        const caber_swing swing = setups_swing(s, NULL);
        const caber_impact *b = &swing.bent;
        record_most(&most,
                    b->loft_from_lead + b->loft_from_droop + b->loft_from_twist - b->loft_change);
        record_most(&most,
                    b->face_from_lead + b->face_from_droop + b->face_from_twist - b->face_rotation);
        record_most(&most,
                    b->lie_from_lead + b->lie_from_droop + b->lie_from_twist - b->lie_change);
        /* Each belongs to its bending: lead makes most of the loft, droop most of the lie. */
        assert_true(fabs(b->loft_from_lead) > fabs(b->loft_change) / 2);
        assert_true(fabs(b->lie_from_droop) > fabs(b->lie_change) / 2);
        caber_setup_free(s);
    }
    static const record_source source = {RECORD_LAW, "parts that are called shares make the whole"};
    verify_within("shares of lead, droop and twist less the change of loft, face and lie, every "
                  "demonstration setup",
                  source, "deg", most * CABER_DEG, 1e-6);
}

static void changes_are_differences(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-quick");
    const caber_swing swing = setups_swing(s, NULL);
    const caber_impact *b = &swing.bent, *r = &swing.straight;
    assert_close(b->loft_change, b->delivered_loft - r->delivered_loft, 0, 1e-12);
    assert_close(b->face_rotation, r->face_angle - b->face_angle, 0, 1e-12); /* closing */
    assert_close(b->lie_change, b->delivered_lie - r->delivered_lie, 0, 1e-12);
    assert_close(b->shaft_speed_gain, b->head_speed - r->head_speed, 0, 1e-12);
    assert_close(b->handle_lean, r->handle_lean, 0, 0); /* the same handle */
    assert_close(b->arm_angle, r->arm_angle, 0, 0);
    caber_setup_free(s);
}

/* A handle at rest with a straight shaft, roll 0, club hanging down a plane that rises at the
 * head's lie: the head is soled, so it has the loft, face and lie that its file says (exact). */
static void soled_head_has_its_own_angles(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-quick-9");
    caber_player *p = &s->player;
    p->inclination = s->head.lie;
    p->direction = 0;
    p->load.hub.drive = p->load.grip.drive = p->load.roll.drive = CABER_LOCKED;
    p->load.roll.top = 0;
    p->start_arm = p->start_cock = 0;
    caber_message message;
    caber_model *m = NULL;
    caber_work *w = NULL;
    setups_fine(caber_model_create(s, &m, &message), &message);
    setups_fine(caber_work_create(m, &w, &message), &message);
    caber_swing swing = {0};
    delivery_fill(m, w, 0, w->zero, w->zero, &swing);
    const caber_impact bent = swing.bent, straight = swing.straight;
    static const record_source source = {RECORD_EXACT,
                                         "a soled head has the angles that its file gives"};
    verify("loft of a soled head", source, "rad", straight.delivered_loft, s->head.loft, 0, 1e-12);
    verify("its face angle", source, "rad", straight.face_angle, s->head.face_angle, 0, 1e-12);
    verify_within("its lie", source, "rad", fabs(straight.delivered_lie), 1e-12);
    assert_close(bent.delivered_loft, s->head.loft, 0, 1e-12);
    assert_close(bent.loft_from_lead, 0, 0, 1e-15);
    /* The hands above the face's centre, by the frames: the shaft rises at the lie. */
    const double hands = s->shaft.length - s->build.butt_trim - s->build.hold - s->build.tip_trim -
                         s->build.insertion;
    verify("height of the hands above the face's centre", source, "m", bent.hands_height,
           hands * sin(s->head.lie) - s->head.face_centre[1], 0, 1e-12);
    verify("hands ahead of it", source, "m", bent.hands_ahead, -s->head.face_centre[0], 0, 1e-12);
    caber_work_free(w);
    caber_model_free(m);
    caber_setup_free(s);
}

/* Head speed, attack and path from the place of the head a moment before and after; closure from
 * its face angle likewise: central differences along the motion, second order in 1e-6 s. */
static void rates_are_those_of_the_places(void **state)
{
    (void)state;
    caber_setup *s = setups_read("soft-tip-late");
    caber_message message;
    caber_model *m = NULL;
    caber_work *w = NULL;
    setups_fine(caber_model_create(s, &m, &message), &message);
    setups_fine(caber_work_create(m, &w, &message), &message);
    const int n = m->unknowns;
    double *z = setups_array(4 * (size_t)n, sizeof(double)), *zd = z + n, *x = zd + n;
    z[0] = 0.4, z[1] = -0.45, zd[0] = 9, zd[1] = 25;
    for (int j = m->joints; j < n; j++) {
        z[j] = 0.02 / (1 + j - m->joints);
        zd[j] = (j % 2 ? 1 : -1) * 1.5 / (1 + j - m->joints);
    }
    caber_swing at_all, side_all[2];
    caber_impact at, side[2];
    vec3 place[2];
    const double h = 1e-6;
    for (int k = 0; k < 2; k++) {
        for (int j = 0; j < n; j++)
            x[j] = z[j] + (k ? h : -h) * zd[j];
        delivery_fill(m, w, 0, x, zd, &side_all[k]);
        side[k] = side_all[k].bent;
        dynamics_pose(m, w, 0, x, zd, false);
        place[k] = delivery_head(m, w).centre;
    }
    delivery_fill(m, w, 0, z, zd, &at_all);
    at = at_all.bent;
    const vec3 v = vec3_scale(1 / (2 * h), vec3_sub(place[1], place[0]));
    static const record_source source = {
        RECORD_INDEPENDENT,
        "central differences of the head's place and face a microsecond before and after"};
    verify("head speed at a made-up state", source, "m/s", at.head_speed, vec3_norm(v), 1e-8, 0);
    verify("sine of the attack angle", source, "1", sin(at.attack_angle),
           vec3_dot(v, m->up) / vec3_norm(v), 0, 1e-8);
    verify("tangent of the path", source, "1", tan(at.path),
           vec3_dot(v, m->side) / vec3_dot(v, m->target), 0, 1e-8);
    verify("closure rate", source, "rad/s", at.closure_rate,
           -(side[1].face_angle - side[0].face_angle) / (2 * h), 1e-7, 1e-6);
    assert_true(fabs(at.closure_rate) > 1);
    free(z);
    caber_work_free(w);
    caber_model_free(m);
    caber_setup_free(s);
}

/* Target, up and side: orthonormal, up out of the ground, the plane rising at its inclination and
 * turned about the vertical (exact). */
static void ground_axes(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-late");
    s->player.direction = 0.2;
    s->player.inclination = 0.8;
    caber_message message;
    caber_model *m = NULL;
    setups_fine(caber_model_create(s, &m, &message), &message);
    assert_close(vec3_dot(m->up, m->up), 1, 0, 1e-15);
    assert_close(vec3_dot(m->up, m->target), 0, 0, 1e-15);
    assert_close(vec3_norm(vec3_sub(vec3_cross(m->up, m->side), m->target)), 0, 0, 1e-15);
    assert_close(m->up.x, 0, 0, 0);
    assert_close(m->up.y, sin(0.8), 0, 1e-15);
    assert_close(m->target.x, cos(0.2), 0, 1e-15); /* X is horizontal, in-to-out by 0.2 rad */
    assert_close(m->side.x, sin(0.2), 0, 1e-15);
    caber_model_free(m);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shares_add_up), cmocka_unit_test(changes_are_differences),
        cmocka_unit_test(soled_head_has_its_own_angles),
        cmocka_unit_test(rates_are_those_of_the_places), cmocka_unit_test(ground_axes)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
