/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The limit of a rigid shaft: a double pendulum, whose equations are written out and integrated
 * here apart from the program, and how the bending goes to nothing on the way there. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_odeiv2.h>
#include <gsl/gsl_spline.h>

#include "record.h"
#include "setups.h"

/* ------------------------------------------------------------------ the club as one rigid body */

typedef struct pendulum {
    const caber_setup *setup;
    double mass, along, across, inertia; /* of the club about the hands: kg, kg m, kg m, kg m2 */
} pendulum;

typedef struct line_mass {
    gsl_spline *spline; /* kg/m over the distance from the uncut tip */
    double from;        /* m, where the arm is measured from */
    int power;
} line_mass;

static double line_moment(double at, void *user)
{
    const line_mass *l = user;
    return gsl_spline_eval(l->spline, at, NULL) * pow(l->from - at, l->power);
}

static double shaft_moment(const caber_setup *s, double hands, int power)
{
    const size_t n = s->shaft.station_count;
    double *at = setups_array(2 * n, sizeof(double)), *mass = at + n;
    for (size_t i = 0; i < n; i++) {
        at[i] = s->shaft.stations[i].at;
        mass[i] = s->shaft.stations[i].mass;
    }
    line_mass l = {gsl_spline_alloc(gsl_interp_steffen, n), hands, power};
    gsl_spline_init(l.spline, at, mass, n);
    gsl_integration_workspace *space = gsl_integration_workspace_alloc(1000);
    gsl_function f = {line_moment, &l};
    double sum, error;
    assert_int_equal(gsl_integration_qag(&f, s->build.tip_trim,
                                         s->shaft.length - s->build.butt_trim, 0, 1e-10, 1000,
                                         GSL_INTEG_GAUSS61, space, &sum, &error),
                     0);
    gsl_integration_workspace_free(space);
    gsl_spline_free(l.spline);
    free(at);
    return sum;
}

/* A line of mass a + b u from the butt, u = 0..length, with its centre where the grip's is. */
static double grip_moment(const caber_setup *s, int power)
{
    const caber_grip *g = &s->grip;
    const double l = g->length, c = g->centre_of_mass, hold = s->build.hold;
    const double b = 12 * g->mass * (c - l / 2) / (l * l * l), a = g->mass / l - b * l / 2;
    const double m0 = g->mass, m1 = g->mass * c, m2 = a * l * l * l / 3 + b * l * l * l * l / 4;
    return power == 0 ? m0 : power == 1 ? m1 - hold * m0 : m2 - 2 * hold * m1 + hold * hold * m0;
}

/* Roll 0: e3 = Z. From the head's frame: e1 = -sin(lie) up + cos(lie) toe, e3 = cos(lie) up +
 * sin(lie) toe, e2 = forward. */
static pendulum pendulum_of(const caber_setup *s)
{
    const caber_head *h = &s->head;
    const double *c = h->centre_of_mass, *j = h->inertia, sl = sin(h->lie), cl = cos(h->lie);
    const double hands = s->shaft.length - s->build.butt_trim - s->build.hold;
    const double end = hands - s->build.tip_trim - s->build.insertion;
    const double x = end - sl * c[1] + cl * c[2], lead = c[0];
    const double about_z = cl * cl * j[1] + sl * sl * j[2] + 2 * sl * cl * j[5];
    return (pendulum){.setup = s,
                      .mass = shaft_moment(s, hands, 0) + grip_moment(s, 0) + h->mass,
                      .along = shaft_moment(s, hands, 1) + grip_moment(s, 1) + h->mass * x,
                      .across = h->mass * lead,
                      .inertia = shaft_moment(s, hands, 2) + grip_moment(s, 2) +
                                 h->mass * (x * x + lead * lead) + about_z};
}

static double smooth(double x)
{
    x = fmin(fmax(x, 0), 1);
    return x * x * x * (10 - 15 * x + 6 * x * x);
}

/* y = theta, beta and their rates. Hands at R (sin th, -cos th); the club's centre of mass along
 * (sin be, -cos be) and (cos be, sin be); weight g sin(inclination) down the plane. */
static int pendulum_rate(double t, const double y[], double yd[], void *user)
{
    const pendulum *p = user;
    const caber_player *player = &p->setup->player;
    const caber_hub_load *hub = &player->load.hub;
    const caber_grip_load *grip = &player->load.grip;
    const double r = player->arm_length, g = CABER_GRAVITY * sin(player->inclination);
    const double d = y[1] - y[0];
    const double m12 = r * (p->along * cos(d) - p->across * sin(d));
    const double h = r * (-p->along * sin(d) - p->across * cos(d)); /* d m12/d d */
    const double shoulder = hub->peak * (1 - exp(-t / hub->rise)) * (1 - y[2] / hub->omega_max);
    const double wrist = grip->peak * smooth((t - grip->onset) / grip->rise) *
                             (1 - smooth((t - grip->release) / grip->fall)) +
                         grip->late * smooth((t - grip->late_onset) / grip->late_rise);
    const double f1 = shoulder - wrist - h * y[3] * y[3] -
                      g * (p->mass * r + player->arm_mass * player->arm_centre) * sin(y[0]);
    const double f2 = wrist + h * y[2] * y[2] - g * (p->along * sin(y[1]) + p->across * cos(y[1]));
    const double m11 = player->arm_inertia + p->mass * r * r, m22 = p->inertia;
    const double det = m11 * m22 - m12 * m12;
    yd[0] = y[2];
    yd[1] = y[3];
    yd[2] = (m22 * f1 - m12 * f2) / det;
    yd[3] = (m11 * f2 - m12 * f1) / det;
    return GSL_SUCCESS;
}

static void pendulum_run(pendulum *p, double until, double y[4])
{
    const caber_player *player = &p->setup->player;
    y[0] = player->start_arm;
    y[1] = player->start_arm + player->start_cock;
    y[2] = player->start_arm_speed;
    y[3] = player->start_arm_speed + player->start_cock_speed;
    gsl_odeiv2_system system = {pendulum_rate, NULL, 4, p};
    gsl_odeiv2_driver *d =
        gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd, 1e-4, 1e-12, 1e-12);
    double t = 0;
    assert_int_equal(gsl_odeiv2_driver_apply(d, &t, until, y), GSL_SUCCESS);
    gsl_odeiv2_driver_free(d);
}

/* ------------------------------------------------------------------ the program */

static caber_setup *planar(void)
{
    caber_setup *s = setups_read("neutral-quick");
    s->player.load.roll = (caber_roll_load){.drive = CABER_LOCKED, .top = 0};
    s->player.load.stop.stiffness = 0; /* the stop is checked in test_load and test_swing_drives */
    s->settings.modes = 4;
    s->settings.ceiling = 0;
    setups_until(s, 0.25, 1e-8);
    return s;
}

static void stiff_shaft_is_a_double_pendulum(void **state)
{
    (void)state;
    caber_setup *s = planar();
    setups_stiffen(s, 1e4);
    pendulum p = pendulum_of(s);
    double want[4];
    pendulum_run(&p, s->settings.until, want);
    caber_trace *trace = caber_trace_create();
    setups_swing(s, trace);
    const caber_trace_row *last = trace->rows + trace->count - 1;
    /* 1e-4: a shaft of 1e4 times the stiffness still bends by 1e-4 of what a real one does. */
    static const record_source source = {
        RECORD_INDEPENDENT,
        "a double pendulum, whose equations the test writes out and integrates by an "
        "eighth-order Runge-Kutta method"};
    verify("arm angle after 0.25 s, shaft 1e4 times as stiff", source, "rad", last->arm_angle,
           want[0], 1e-4, 0);
    verify("club angle", source, "rad", last->club_angle, want[1], 1e-4, 0);
    verify("arm speed", source, "rad/s", last->arm_speed, want[2], 1e-4, 0);
    verify("club speed", source, "rad/s", last->club_speed, want[3], 1e-4, 0);
    assert_true(want[1] - s->player.start_arm - s->player.start_cock > 2); /* it has swung, rad */
    caber_trace_free(trace);
    caber_setup_free(s);
}

/* Deflections go like 1/EI, and the bent club becomes the straight one. Swung with the roll geared,
 * as it comes. Ten times the stiffness: a tenth of the bending, within the change of what the
 * shaft does to the swing itself, which goes like 1/EI too. */
static void bending_vanishes_with_stiffness(void **state)
{
    (void)state;
    const double stiffness[] = {1e2, 1e3, 1e4};
    caber_impact before = {0};
    double bend = 0, angle = 0, speed = 0;
    for (size_t i = 0; i < 3; i++) {
        caber_setup *s = setups_read("neutral-quick");
        s->settings.modes = 4;
        s->settings.ceiling = 0;
        s->settings.tolerance = 1e-9;
        setups_stiffen(s, stiffness[i]);
        const caber_swing swing = setups_swing(s, NULL);
        const caber_impact *b = &swing.bent;
        if (i > 0) {
            const double by = 10 * stiffness[i - 1];
            record_most(&bend, by * (b->lead_deflection / before.lead_deflection - 0.1));
            record_most(&bend, by * (b->droop / before.droop - 0.1));
            record_most(&bend, by * (b->loft_change / before.loft_change - 0.1));
            record_most(&bend, by * (b->peak_lag / before.peak_lag - 0.1));
        }
        before = *b;
        size_t count;
        const caber_field *f = caber_impact_fields(&count);
        for (size_t k = 0; k < count; k++)
            if (f[k].straight && strcmp(f[k].unit, "deg") == 0)
                record_most(&angle, stiffness[i] * (caber_impact_value(b, f + k) -
                                                    caber_impact_value(&swing.straight, f + k)));
        record_most(&speed, stiffness[i] * (b->head_speed / swing.straight.head_speed - 1));
        caber_setup_free(s);
    }
    static const record_source vanish = {RECORD_LAW, "deflections go like 1/EI as EI grows"};
    verify_within(
        "ten times the stiffness, a tenth of the bending, relative, times the lower factor "
        "(1e2, 1e3)",
        vanish, "1", bend, 3);
    /* A real shaft turns the head by some 6 deg. */
    verify_within("any angle of the head apart from the straight club's, times the factor (to 1e4)",
                  vanish, "deg", angle, 40);
    verify_within("head speed apart from the straight club's, relative, times the factor", vanish,
                  "1", speed, 1);
    assert_true(fabs(before.lead_deflection) > 1e-8); /* it was not simply 0 */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(stiff_shaft_is_a_double_pendulum),
                                       cmocka_unit_test(bending_vanishes_with_stiffness)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
