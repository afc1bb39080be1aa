/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The equations of motion, which are built by projecting rates of momentum, against Lagrange's,
 *   d/dt(dT/dzd) - dT/dz + dV/dz = Q,
 * of which only the energies are computed by the program (dynamics_energy, a sum over bodies that
 * needs no Jacobian) and all derivatives are taken here by differences. */
#include "swing/dynamics.h"
#include "swing/handle.h"
#include "verification/setups.h"

typedef struct fixture {
    caber_setup *setup;
    caber_model *model;
    caber_work *work;
    int n;
    double *z, *zd, *zdd, *r; /* [n] each */
} fixture;

static double roll_torque(double t)
{
    return 2 - 11 * t;
}

static double arm_motion(double t)
{
    return -2 + 4 * t + 30 * t * t;
}

/* A club with everything that couples: a spine, damping, a stop that is reached, a heavy grip. */
static fixture fixture_make(caber_drive hub, caber_drive roll, double ceiling)
{
    fixture f = {.setup = setups_read("neutral-quick-9")};
    caber_setup *s = f.setup;
    caber_load *l = &s->player.load;
    for (size_t i = 0; i < s->shaft.station_count; i++) {
        s->shaft.stations[i].ei_2 = 0.85 * s->shaft.stations[i].ei;
        s->shaft.stations[i].ei_angle = 0.3 + s->shaft.stations[i].at;
    }
    s->shaft.damping = 0.02;
    l->hub.drive = hub;
    if (hub == CABER_MOTION)
        setups_table(&l->hub.table, 200, 0.5, arm_motion);
    l->roll.drive = roll;
    if (roll == CABER_TORQUE)
        setups_table(&l->roll.table, 50, 0.5, roll_torque);
    l->stop.cock = -0.5;
    s->settings.modes = 8;
    s->settings.ceiling = ceiling;
    caber_message message;
    setups_fine(caber_model_create(s, &f.model, &message), &message);
    setups_fine(caber_work_create(f.model, &f.work, &message), &message);
    f.n = f.model->unknowns;
    f.z = setups_array(4 * (size_t)f.n, sizeof(double));
    f.zd = f.z + f.n;
    f.zdd = f.zd + f.n;
    f.r = f.zdd + f.n;
    return f;
}

static void fixture_free(fixture *f)
{
    free(f->z);
    caber_work_free(f->work);
    caber_model_free(f->model);
    caber_setup_free(f->setup);
}

/* A linear congruential generator (Knuth's MMIX constants), -1..1: the same states everywhere. */
static double random_at(uint64_t *seed)
{
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (double)(*seed >> 11) / 4503599627370496.0 - 1;
}

/* Bent by decimetres, moving by metres a second: q 0.1 and qd 2 are some 20 cm and 4 m/s of a
 * tip. */
static void fixture_shake(fixture *f, uint64_t seed)
{
    for (int i = 0; i < f->n; i++) {
        const bool joint = i < f->model->joints;
        const double soft =
            joint ? 1 : sqrt(f->model->stiffness[0] / f->model->stiffness[i - f->model->joints]);
        f->z[i] = (joint ? 1.5 : 0.1 * soft) * random_at(&seed);
        f->zd[i] = (joint ? 20 : 2 * soft) * random_at(&seed);
    }
}

/* ------------------------------------------------------------------ derivatives of the energies */

static double kinetic(const fixture *f, double t, const double *z, const double *zd)
{
    double ke, pe;
    dynamics_energy(f->model, f->work, t, z, zd, &ke, &pe);
    return ke;
}

static double potential(const fixture *f, double t, const double *z)
{
    double ke, pe;
    dynamics_energy(f->model, f->work, t, z, f->work->zero, &ke, &pe);
    return pe + handle_strain_energy(f->model, z + f->model->joints, THIRD_COUNT);
}

/* dT/dzd_i: exact by a central difference of any step, since T is quadratic in zd. */
static double momentum(const fixture *f, int i, double t, const double *z, const double *zd)
{
    double *x = setups_array((size_t)f->n, sizeof(double));
    memcpy(x, zd, (size_t)f->n * sizeof(double));
    x[i] = zd[i] + 1;
    const double up = kinetic(f, t, z, x);
    x[i] = zd[i] - 1;
    const double down = kinetic(f, t, z, x);
    free(x);
    return (up - down) / 2;
}

/* The rate of the momentum along z + s zd + s^2/2 zdd, zd + s zdd: fourth-order difference. */
static double momentum_rate(const fixture *f, int i, double t, const double *z, const double *zd,
                            const double *zdd)
{
    const double h = 2e-6, place[4] = {-2, -1, 1, 2}, weight[4] = {1, -8, 8, -1};
    double *x = setups_array(2 * (size_t)f->n, sizeof(double)), *xd = x + f->n, sum = 0;
    for (int k = 0; k < 4; k++) {
        const double s = place[k] * h;
        for (int j = 0; j < f->n; j++) {
            x[j] = z[j] + s * (zd[j] + s * zdd[j] / 2);
            xd[j] = zd[j] + s * zdd[j];
        }
        sum += weight[k] * momentum(f, i, t + s, x, xd);
    }
    free(x);
    return sum / (12 * h);
}

/* d(T - V)/dz_i, likewise. */
static double lagrangian_slope(const fixture *f, int i, double t, const double *z, const double *zd)
{
    const double h = 2e-4, place[4] = {-2, -1, 1, 2}, weight[4] = {1, -8, 8, -1};
    double *x = setups_array((size_t)f->n, sizeof(double)), sum = 0;
    memcpy(x, z, (size_t)f->n * sizeof(double));
    for (int k = 0; k < 4; k++) {
        x[i] = z[i] + place[k] * h;
        sum += weight[k] * (kinetic(f, t, x, zd) - potential(f, t, x));
    }
    free(x);
    return sum / (12 * h);
}

/* The generalised force that the motion needs, N m or so, and in *size the size of its parts. */
static double needed(const fixture *f, int i, double t, const double *z, const double *zd,
                     const double *zdd, double *size)
{
    const double a = momentum_rate(f, i, t, z, zd, zdd), b = lagrangian_slope(f, i, t, z, zd);
    *size = fabs(a) + fabs(b);
    return a - b;
}

/* What acts that has no potential. */
static double applied(const fixture *f, int i, double t, const double *z, const double *zd)
{
    const caber_model *m = f->model;
    if (i >= m->joints)
        return -m->damping[i - m->joints] * zd[i];
    const int cock = m->active[JOINT_COCK];
    if (i == cock)
        return load_grip_couple(&m->load, t) +
               load_wrist_stop(&m->load.given.stop, z[cock], zd[cock]).damper;
    if (i == m->active[JOINT_ARM])
        return load_hub_torque(&m->load, t, zd[i]);
    return load_roll_torque(&m->load, t);
}

/* ------------------------------------------------------------------ the checks */

/* Joints accelerate by up to 1e5 rad/s2 in these states: differences over 2e-6 s truncate at
 * 1e-8 of the force (they converge by 16 a halving), and energies of 1e3 J, known to 1e-14,
 * leave 1e-5 N m. */
static void check_lagrange(caber_drive hub, caber_drive roll, double ceiling)
{
    fixture f = fixture_make(hub, roll, ceiling);
    const double t = 0.13;
    for (uint64_t seed = 1; seed <= 5; seed++) {
        fixture_shake(&f, seed);
        assert_true(dynamics_solve(f.model, f.work, t, f.z, f.zd, f.zdd));
        for (int i = 0; i < f.n; i++) {
            double size;
            const double want = applied(&f, i, t, f.z, f.zd);
            const double got = needed(&f, i, t, f.z, f.zd, f.zdd, &size);
            assert_close(got, want, 0, 2e-8 * (size + fabs(want)) + 3e-5);
        }
    }
    fixture_free(&f);
}

static void lagrange_geared(void **state)
{
    (void)state;
    check_lagrange(CABER_TORQUE, CABER_GEAR, 0);
}

static void lagrange_free_roll(void **state)
{
    (void)state;
    check_lagrange(CABER_TORQUE, CABER_TORQUE, 0);
}

static void lagrange_locked_roll(void **state)
{
    (void)state;
    check_lagrange(CABER_TORQUE, CABER_LOCKED, 0);
}

static void lagrange_driven_arm(void **state)
{
    (void)state;
    check_lagrange(CABER_MOTION, CABER_GEAR, 0);
    check_lagrange(CABER_MOTION, CABER_TORQUE, 0);
}

/* Modes above the ceiling have more inertia, in the equations as in the kinetic energy. */
static void lagrange_with_a_ceiling(void **state)
{
    (void)state;
    check_lagrange(CABER_TORQUE, CABER_GEAR, 80);
}

/* M_ij = T(e_i + e_j) - T(e_i) - T(e_j), exact. */
static void mass_matrix_is_that_of_the_kinetic_energy(void **state)
{
    (void)state;
    for (int roll = CABER_TORQUE; roll <= CABER_LOCKED; roll++) {
        if (roll == CABER_MOTION)
            continue;
        fixture f = fixture_make(CABER_TORQUE, (caber_drive)roll, 100);
        fixture_shake(&f, 7);
        dynamics_assemble(f.model, f.work, 0, f.z, f.zd);
        double *x = setups_array((size_t)f.n, sizeof(double));
        for (int i = 0; i < f.n; i++)
            for (int j = 0; j <= i; j++) {
                const double got = f.work->matrix[(size_t)j * (size_t)f.work->pitch + (size_t)i];
                x[i] += 1;
                const double one = kinetic(&f, 0, f.z, x);
                x[j] += 1;
                const double both = kinetic(&f, 0, f.z, x);
                x[i] -= 1;
                const double other = kinetic(&f, 0, f.z, x);
                x[j] = 0;
                /* i = j: T(2 e_i) - 2 T(e_i) = M_ii as well. */
                assert_close(got, both - one - other, 1e-12, 1e-12);
            }
        free(x);
        fixture_free(&f);
    }
}

/* dynamics_solve solves the equations that dynamics_assemble writes. */
static void solved_is_solved(void **state)
{
    (void)state;
    fixture f = fixture_make(CABER_TORQUE, CABER_TORQUE, 0);
    fixture_shake(&f, 3);
    const size_t n = (size_t)f.n, pitch = (size_t)f.work->pitch;
    assert_true(dynamics_solve(f.model, f.work, 0.1, f.z, f.zd, f.zdd));
    dynamics_assemble(f.model, f.work, 0.1, f.z, f.zd);
    for (size_t i = 0; i < n; i++) {
        double sum = 0, size = 0;
        for (size_t j = 0; j < n; j++) {
            const double m = f.work->matrix[i <= j ? i * pitch + j : j * pitch + i];
            sum += m * f.zdd[j];
            size += fabs(m * f.zdd[j]);
        }
        assert_close(sum, f.work->rhs[i], 0, 1e-12 * size);
    }
    fixture_free(&f);
}

/* x - gamma v = x0 and M v + gamma (K x + C v) = M v0, put back into themselves; with and
 * without the spring of the stop. */
static void stiff_part_is_solved(void **state)
{
    (void)state;
    fixture f = fixture_make(CABER_TORQUE, CABER_TORQUE, 0);
    const size_t n = (size_t)f.n, nj = (size_t)f.model->joints, pitch = (size_t)f.work->pitch;
    const double gamma = 2e-3;
    double *x0 = setups_array(4 * n, sizeof(double)), *v0 = x0 + n, *x = v0 + n, *v = x + n;
    for (int stopped = 0; stopped < 2; stopped++) {
        fixture_shake(&f, 21);
        f.z[1] = stopped ? -0.8 : 0.8;
        assert_true(dynamics_solve(f.model, f.work, 0.1, f.z, f.zd, f.zdd));
        const double spring = f.work->now.stop.stiffness, damper = f.work->now.stop.damping;
        assert_true(stopped ? spring > 0 && damper > 0 : spring == 0 && damper == 0);
        uint64_t seed = 4;
        for (size_t i = 0; i < 2 * n; i++)
            x[i] = x0[i] = random_at(&seed); /* x and v follow x0 and v0 */
        assert_true(dynamics_solve_stiff(f.model, f.work, gamma, x, v));
        dynamics_assemble(f.model, f.work, 0.1, f.z, f.zd);
        for (size_t i = 0; i < n; i++) {
            double sum = 0, size = 0;
            for (size_t j = 0; j < n; j++) {
                const double m = f.work->matrix[i <= j ? i * pitch + j : j * pitch + i];
                sum += m * (v[j] - v0[j]);
                size += fabs(m * v[j]) + fabs(m * v0[j]);
            }
            const double k = i >= nj ? f.model->stiffness[i - nj] : i == 1 ? spring : 0;
            const double c = i >= nj ? f.model->damping[i - nj] : i == 1 ? damper : 0;
            const double pull = gamma * (k * x[i] + c * v[i]);
            assert_close(sum + pull, 0, 0, 1e-12 * (size + fabs(pull)));
            assert_close(x[i] - gamma * v[i], x0[i], 0, 1e-13);
        }
    }
    free(x0);
    fixture_free(&f);
}

/* Couples that hold a driven, locked or geared joint to its motion: what Lagrange's equations of
 * the same club with all three joints free need for the same motion. */
static void check_couples(caber_drive hub, caber_drive roll)
{
    fixture f = fixture_make(hub, roll, 0), all = fixture_make(CABER_TORQUE, CABER_TORQUE, 0);
    const double t = 0.2;
    const int nj = f.model->joints, n = f.model->n;
    fixture_shake(&f, 11);
    assert_true(dynamics_solve(f.model, f.work, t, f.z, f.zd, f.zdd));
    dynamics_loads(f.model, f.work, f.zd, f.zdd);
    const motion now = f.work->now;
    for (int j = 0; j < JOINT_COUNT; j++) {
        const int i = f.model->active[j];
        all.z[j] = now.handle.angle[j];
        all.zd[j] = now.handle.rate[j];
        all.zdd[j] = i >= 0 ? f.zdd[i] : now.handle.driven[j];
    }
    const load_gear g = now.handle.gear;
    if (roll == CABER_GEAR)
        all.zdd[JOINT_ROLL] = g.curve * now.handle.beta_rate * now.handle.beta_rate +
                              g.slope * (all.zdd[JOINT_ARM] + all.zdd[JOINT_COCK]);
    for (int j = 0; j < n; j++) {
        all.z[JOINT_COUNT + j] = f.z[nj + j];
        all.zd[JOINT_COUNT + j] = f.zd[nj + j];
        all.zdd[JOINT_COUNT + j] = f.zdd[nj + j];
    }
    double power = 0;
    for (int j = 0; j < JOINT_COUNT; j++) {
        double size, got = now.couple[j];
        const double want = needed(&all, j, t, all.z, all.zd, all.zdd, &size);
        if (j == JOINT_COCK)
            got += now.stop.damper;
        /* A geared roll is turned by the club: arm and wrist supply what it lends. */
        if (roll == CABER_GEAR && j != JOINT_ROLL)
            got -= g.slope * now.couple[JOINT_ROLL];
        assert_close(got, want, 0, 2e-8 * (size + fabs(want)) + 3e-5);
        power += want * all.zd[j];
    }
    /* Power of the joints, with what the stop's damper takes. */
    assert_close(now.power + now.stop.damper * now.handle.rate[JOINT_COCK], power, 1e-6, 1e-3);
    fixture_free(&f);
    fixture_free(&all);
}

static void couples_of_held_joints(void **state)
{
    (void)state;
    check_couples(CABER_TORQUE, CABER_GEAR);
    check_couples(CABER_TORQUE, CABER_LOCKED);
    check_couples(CABER_MOTION, CABER_GEAR);
    check_couples(CABER_MOTION, CABER_TORQUE);
    check_couples(CABER_LOCKED, CABER_LOCKED);
}

/* Energy in = kinetic + potential + strain + lost, at an instant: d(T + V)/dt = power - loss. */
static void power_balances(void **state)
{
    (void)state;
    fixture f = fixture_make(CABER_MOTION, CABER_GEAR, 100);
    fixture_shake(&f, 5);
    const double t = 0.2, h = 1e-5;
    assert_true(dynamics_solve(f.model, f.work, t, f.z, f.zd, f.zdd));
    dynamics_loads(f.model, f.work, f.zd, f.zdd);
    const double net = f.work->now.power - f.work->now.loss;
    const double place[4] = {-2, -1, 1, 2}, weight[4] = {1, -8, 8, -1};
    double sum = 0, *x = setups_array(2 * (size_t)f.n, sizeof(double)), *xd = x + f.n;
    for (int k = 0; k < 4; k++) {
        const double s = place[k] * h;
        for (int j = 0; j < f.n; j++) {
            x[j] = f.z[j] + s * (f.zd[j] + s * f.zdd[j] / 2);
            xd[j] = f.zd[j] + s * f.zdd[j];
        }
        sum += weight[k] * (kinetic(&f, t + s, x, xd) + potential(&f, t + s, x));
    }
    assert_close(sum / (12 * h), net, 1e-7, 1e-4);
    assert_true(f.work->now.loss > 1);
    free(x);
    fixture_free(&f);
}

/* The static start: with the joints accelerating as they do, no mode is accelerated. */
static void static_start_is_in_equilibrium(void **state)
{
    (void)state;
    fixture f = fixture_make(CABER_TORQUE, CABER_TORQUE, 0);
    caber_message message;
    f.z[0] = -2.1;
    f.z[1] = -0.4; /* short of the stop */
    f.z[2] = 1.6;
    f.zd[0] = 4; /* turning back fast: spin stretches and bends it */
    f.zd[1] = -9;
    setups_fine(dynamics_static_start(f.model, f.work, f.z, f.zd, &message), &message);
    assert_true(dynamics_solve(f.model, f.work, 0, f.z, f.zd, f.zdd));
    double bend = 0;
    for (int j = 0; j < f.model->n; j++) {
        const int i = f.model->joints + j;
        /* The start is found to 1e-12 with the joints held; free joints leave a mode some
         * fiftieth of its inertia. */
        assert_close(f.zdd[i] / f.model->stiffness[j], 0, 0, 1e-10);
        bend = fmax(bend, fabs(f.z[i]));
    }
    assert_true(bend > 1e-3);
    fixture_free(&f);
}

/* The pose of the tip alone is the tip of the whole pose. */
static void tip_alone_is_the_tip(void **state)
{
    (void)state;
    fixture f = fixture_make(CABER_TORQUE, CABER_GEAR, 0);
    fixture_shake(&f, 9);
    const rod_point *tip = &f.work->rod.point[f.model->rod->stations];
    dynamics_pose(f.model, f.work, 0, f.z, f.zd, false);
    const rod_point whole = *tip;
    dynamics_pose(f.model, f.work, 0, f.z, f.work->zero, true);
    assert_close(tip->place.x, f.model->rod->length, 1e-15, 0); /* straight */
    assert_close(vec3_norm(tip->speed), 0, 0, 0);
    dynamics_pose_tip(f.model, f.work, 0, f.z, f.zd);
    assert_close(vec3_norm(vec3_sub(tip->place, whole.place)), 0, 0, 1e-14);
    assert_close(vec3_norm(vec3_sub(tip->speed, whole.speed)), 0, 0, 1e-12);
    assert_close(vec3_norm(vec3_sub(tip->spin, whole.spin)), 0, 0, 1e-12);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            assert_close(tip->turn.m[i][j], whole.turn.m[i][j], 0, 1e-14);
    fixture_free(&f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(lagrange_geared),
                                       cmocka_unit_test(lagrange_free_roll),
                                       cmocka_unit_test(lagrange_locked_roll),
                                       cmocka_unit_test(lagrange_driven_arm),
                                       cmocka_unit_test(lagrange_with_a_ceiling),
                                       cmocka_unit_test(mass_matrix_is_that_of_the_kinetic_energy),
                                       cmocka_unit_test(solved_is_solved),
                                       cmocka_unit_test(stiff_part_is_solved),
                                       cmocka_unit_test(couples_of_held_joints),
                                       cmocka_unit_test(power_balances),
                                       cmocka_unit_test(static_start_is_in_equilibrium),
                                       cmocka_unit_test(tip_alone_is_the_tip)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
