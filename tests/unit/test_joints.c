/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Joint angles to the handle's pose and motion: the frames as they are defined, and velocities and
 * accelerations against differences of places and axes. */
#include "check.h"
#include "swing/joints.h"

/* joints_move needs only these of a model. */
static caber_model model_with(caber_drive roll)
{
    caber_model m = {.joints = roll == CABER_TORQUE ? 3 : 2};
    m.player = (caber_player){.arm_length = 0.63, .start_arm = -2, .start_cock = -1.5};
    m.load.given.roll =
        (caber_roll_load){.drive = roll, .top = 1.6, .closing = 0.55, .square = -0.1};
    m.player.load = m.load.given;
    m.active[JOINT_ARM] = 0;
    m.active[JOINT_COCK] = 1;
    m.active[JOINT_ROLL] = roll == CABER_TORQUE ? 2 : -1;
    m.up = vec3_make(0, sin(0.9), cos(0.9));
    return m;
}

static const double angle0[3] = {-0.7, -1.1, 0.4}, rate0[3] = {11, 6, -9};
static const double acceleration[3] = {130, -90, 50};

/* The motion at t along angle0 + t rate0 + t^2/2 acceleration. */
static handle_motion along(const caber_model *m, double t)
{
    double angle[3], rate[3];
    for (int i = 0; i < 3; i++) {
        angle[i] = angle0[i] + t * (rate0[i] + t * acceleration[i] / 2);
        rate[i] = rate0[i] + t * acceleration[i];
    }
    handle_motion h;
    joints_move(m, 0, angle, rate, &h);
    return h;
}

static void assert_near(vec3 a, vec3 b, double within)
{
    assert_close(a.x, b.x, 0, within);
    assert_close(a.y, b.y, 0, within);
    assert_close(a.z, b.z, 0, within);
}

/* e1 along the club, e2 where the face looks, e3 to the toe: hanging down with no roll they are -Y,
 * X and Z; a quarter roll turns e2 to Z; e1 x e2 = e3. */
static void axes(void **state)
{
    (void)state;
    mat3 a = joints_axes(0, 0);
    assert_near(mat3_column(&a, 0), vec3_make(0, -1, 0), 1e-15);
    assert_near(mat3_column(&a, 1), vec3_make(1, 0, 0), 1e-15);
    assert_near(mat3_column(&a, 2), vec3_make(0, 0, 1), 1e-15);
    a = joints_axes(0, 1.57079632679489662);
    assert_near(mat3_column(&a, 1), vec3_make(0, 0, 1), 1e-15);
    a = joints_axes(1.57079632679489662, 0); /* level, pointing at the target */
    assert_near(mat3_column(&a, 0), vec3_make(1, 0, 0), 1e-15);
    a = joints_axes(-1.3, 0.8);
    assert_near(vec3_cross(mat3_column(&a, 0), mat3_column(&a, 1)), mat3_column(&a, 2), 1e-15);
    const mat3 one = mat3_multiply_t(&a, &a), identity = mat3_identity();
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            assert_close(one.m[i][j], identity.m[i][j], 0, 1e-15);
}

/* Vectors of a motion in the plane frame. */
static vec3 in_plane(const handle_motion *h, vec3 v)
{
    return mat3_apply(&h->axes, v);
}

/* omega from the axes: A' A^T = [omega]x. Central differences of 1e-6 s: h^2 of the third
 * derivative, some 1e-9 of 1e3, and rounding 1e-10. */
static void check_velocity(caber_drive roll)
{
    const caber_model m = model_with(roll);
    const double h = 1e-6;
    const handle_motion at = along(&m, 0), a = along(&m, -h), b = along(&m, h);
    assert_near(in_plane(&at, at.velocity), vec3_scale(0.5 / h, vec3_sub(b.hands, a.hands)), 1e-7);
    mat3 rate;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            rate.m[i][j] = (b.axes.m[i][j] - a.axes.m[i][j]) / (2 * h);
    const mat3 w = mat3_multiply_t(&rate, &at.axes);
    assert_near(in_plane(&at, at.spin), vec3_make(w.m[2][1], w.m[0][2], w.m[1][0]), 1e-7);
    assert_close(vec3_norm(at.hands), 0.63, 1e-15, 0);
    assert_near(in_plane(&at, at.up), m.up, 1e-15);
    assert_close(at.beta, angle0[0] + angle0[1], 1e-15, 0);
}

/* pull, twirl: accelerations of the hands and of omega in the plane frame, as sums over the joints
 * plus what is left at zero joint acceleration. */
static void check_acceleration(caber_drive roll)
{
    const caber_model m = model_with(roll);
    const double h = 1e-6;
    const handle_motion at = along(&m, 0), a = along(&m, -h), b = along(&m, h);
    vec3 pull = at.pull_rest, twirl = at.twirl_rest;
    for (int j = 0; j < JOINT_COUNT; j++)
        if (m.active[j] >= 0) {
            pull = vec3_axpy(acceleration[m.active[j]], at.pull[j], pull);
            twirl = vec3_axpy(acceleration[m.active[j]], at.twirl[j], twirl);
        }
    const vec3 va = in_plane(&a, a.velocity), vb = in_plane(&b, b.velocity);
    assert_near(in_plane(&at, pull), vec3_scale(0.5 / h, vec3_sub(vb, va)), 1e-6);
    const vec3 wa = in_plane(&a, a.spin), wb = in_plane(&b, b.spin);
    assert_near(in_plane(&at, twirl), vec3_scale(0.5 / h, vec3_sub(wb, wa)), 1e-5);
}

static void free_roll(void **state)
{
    (void)state;
    check_velocity(CABER_TORQUE);
    check_acceleration(CABER_TORQUE);
}

static void geared_roll(void **state)
{
    (void)state;
    check_velocity(CABER_GEAR);
    check_acceleration(CABER_GEAR);
    const caber_model m = model_with(CABER_GEAR);
    const handle_motion at = along(&m, 0);
    const load_gear g = load_roll_gear(&m.load.given.roll, at.beta);
    assert_close(at.angle[JOINT_ROLL], g.roll, 1e-15, 0);
    assert_close(at.rate[JOINT_ROLL], g.slope * at.beta_rate, 1e-15, 0);
}

static void locked_roll(void **state)
{
    (void)state;
    check_velocity(CABER_LOCKED);
    check_acceleration(CABER_LOCKED);
    const caber_model m = model_with(CABER_LOCKED);
    const handle_motion at = along(&m, 0);
    assert_close(at.angle[JOINT_ROLL], 1.6, 0, 0); /* held at its start angle */
    assert_close(at.rate[JOINT_ROLL], 0, 0, 0);
}

/* A driven joint moves as its table says, whatever the unknowns are. */
static void driven_arm(void **state)
{
    (void)state;
    enum { ROWS = 50 };
    double time[ROWS], value[ROWS];
    for (int i = 0; i < ROWS; i++) {
        time[i] = 0.01 * i;
        value[i] = -2 + 3 * time[i] + 20 * time[i] * time[i];
    }
    caber_model m = model_with(CABER_LOCKED);
    m.load.given.hub.drive = CABER_MOTION;
    m.load.given.hub.table = (caber_table){ROWS, time, value};
    const caber_load given = m.load.given;
    caber_message message;
    assert_int_equal(load_create(&given, &m.load, &message), CABER_OK);
    m.active[JOINT_ARM] = -1;
    m.active[JOINT_COCK] = 0;
    m.joints = 1;
    handle_motion h;
    const double cock = -1, rate = 5;
    joints_move(&m, 0.25, &cock, &rate, &h);
    assert_close(h.angle[JOINT_ARM], -2 + 0.75 + 1.25, 0, 1e-9);
    assert_close(h.rate[JOINT_ARM], 13, 1e-6, 0);
    assert_close(h.driven[JOINT_ARM], 40, 1e-4, 0); /* ends of a natural spline reach far */
    assert_close(h.beta_rate, 18, 1e-6, 0);
    /* Its acceleration is in the rest: 40 R along the arm's turn, less the centripetal part. */
    assert_close(vec3_norm(h.pull_rest), 0.63 * hypot(40, 13 * 13), 1e-5, 0);
    load_free(&m.load);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(axes), cmocka_unit_test(free_roll),
                                       cmocka_unit_test(geared_roll), cmocka_unit_test(locked_roll),
                                       cmocka_unit_test(driven_arm)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
