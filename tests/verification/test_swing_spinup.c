/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Spin-up of a flexible arm: J. C. Simo, L. Vu-Quoc 1986, J. Appl. Mech. 53:849 (law and data
 * read). The hinge turns by
 *   psi = (Os/T) (t^2/2 + (T/2 pi)^2 (cos(2 pi t/T) - 1)) for t < T, then Os t - Os T/2,
 * Os = 6 rad/s, T = 15 s, L = 10 m, EI = 1.4e4 N m2, m = 1.2 kg/m. What happens, in units of L,
 * depends only on EI/(m L^4) and the law: the arm here has L = 2 m and m = 0.05 kg/m with the same
 * EI/(m L^4), so its deflections are a fifth of those. */
#include "record.h"
#include "setups.h"
#include "swing/dynamics.h"

static const double top_speed = 6, span = 15, scale = 5; /* rad/s, s, 10 m/2 m */
static const double sample = 0.01, until = 20;           /* s */

static double law(double t)
{
    const double w = 2 * SETUPS_PI / span;
    if (t >= span)
        return top_speed * t - top_speed * span / 2;
    return top_speed / span * (t * t / 2 + (cos(w * t) - 1) / (w * w));
}

static double law_rate(double t)
{
    const double w = 2 * SETUPS_PI / span;
    return t >= span ? top_speed : top_speed / span * (t - sin(w * t) / w);
}

static double law_acceleration(double t)
{
    return t >= span ? 0 : top_speed / span * (1 - cos(2 * SETUPS_PI / span * t));
}

/* Eight modes, all in the plane: across it and in torsion the arm is much stiffer. */
static caber_setup *arm(void)
{
    const double length = 2, mass = 0.05, ei = 1.4e4 / (1.2 * 1e4) * mass * 16;
    const setups_beam plain = {
        .stations = 2, .length = length, .mass = mass, .ei = ei, .ei_2 = 1000, .gj = 1000};
    caber_setup *s = setups_beam_make(&plain);
    /* The natural spline of 2 ms steps follows the law's acceleration to h^2/12 of its own second
     * derivative, 2e-8 rad/s2; that acceleration is 0 at both ends, as a natural spline's is. */
    setups_table(&s->player.load.grip.table, 10001, until, law);
    s->settings.modes = 8;
    s->settings.stations = 24;
    s->settings.elements = 60;
    s->settings.sample = sample;
    setups_until(s, until, 1e-9);
    return s;
}

static const record_source kirchhoff = {
    RECORD_INDEPENDENT,
    "inextensible Kirchhoff rod by another formulation, given to 3e-4; law and data of "
    "J. C. Simo, L. Vu-Quoc 1986, J. Appl. Mech. 53:849"};
/* tests/reference/test_swing.py, spin_up_by_angle(10, 1.2, 1.4e4, (1, 2, ..., 15), count=10). */
static const record_source by_angle = {
    RECORD_INDEPENDENT,
    "the section's angle as a series of Legendre polynomials, integrated apart from "
    "this program in tests/reference/test_swing.py; law and data as before"};
enum { SECONDS = 16 };
static const double by_angle_tip[SECONDS] = {
    0,          -0.0205431, -0.1023724, -0.217254,  -0.3422525, -0.4684355, -0.5435399, -0.5712194,
    -0.5427294, -0.4601414, -0.3626725, -0.2572473, -0.1508398, -0.0691636, -0.0202743, 0.0012748};

static void draw(const char *label, const double *x, const double *y, size_t count, bool points)
{
    const record_curve c = {.plot = "spin-up",
                            .title =
                                "Spin-up of a flexible arm of 10 m: displacement of the tip across "
                                "the turning line, computed, by another formulation, and by the "
                                "model without stiffening, which runs away.",
                            .x_label = "time, s",
                            .y_label = "tip, m",
                            .label = label,
                            .count = count,
                            .x = x,
                            .y = y,
                            .points = points};
    record_draw(&c);
}

static void draw_spin_up(const caber_trace *trace)
{
    enum { EVERY = 10, MOST = 201 };
    double t[MOST], u2[MOST], second[SECONDS];
    size_t count = 0;
    for (size_t i = 0; i < trace->count && count < MOST; i += EVERY, count++) {
        t[count] = trace->rows[i].time;
        u2[count] = scale * trace->rows[i].lead;
    }
    for (int i = 0; i < SECONDS; i++)
        second[i] = i;
    draw("computed", t, u2, count, false);
    draw("by the section's angle", second, by_angle_tip, SECONDS, true);
}

static void arm_spins_up(void **state)
{
    (void)state;
    caber_setup *s = arm();
    caber_trace *trace = caber_trace_create();
    assert_non_null(trace);
    setups_swing(s, trace);
    double most = 0, when = 0, after = 0, apart = 0;
    for (size_t i = 0; i < trace->count; i++) {
        const double u2 = scale * trace->rows[i].lead, t = trace->rows[i].time;
        if (u2 < most) {
            most = u2;
            when = t;
        }
        if (t > span)
            after = fmax(after, fabs(u2));
        assert_close(trace->rows[i].droop, 0, 0, 1e-9);
        assert_close(trace->rows[i].cock, law(t), 0, 1e-9);
    }
    verify("furthest that the tip trails, arm of 10 m", kirchhoff, "m", most, -0.57376, 3e-4, 0);
    verify("when", kirchhoff, "s", when, 6.76, 0, 0.03); /* it is flat: 0.03 s off is 1e-5 lower */
    assert_close(trace->rows[500].time, 5, 0, 1e-9);
    verify("tip at 5 s", by_angle, "m", scale * trace->rows[500].lead, by_angle_tip[5], 5e-5, 0);
    assert_close(scale * trace->rows[500].lead, -0.4685, 3e-4, 0);
    verify("tip at 10 s", by_angle, "m", scale * trace->rows[1000].lead, by_angle_tip[10], 5e-5, 0);
    for (int i = 0; i < SECONDS; i++)
        record_most(&apart, scale * trace->rows[100 * i].lead - by_angle_tip[i]);
    verify_within("tip at every full second to 15 s", by_angle, "m", apart, 3e-5);
    /* Undamped, it goes on trembling about the straight arm, by no more than this. */
    assert_true(after <= 0.0037);
    assert_true(after > 0.0030);
    draw_spin_up(trace);
    caber_trace_free(trace);
    caber_setup_free(s);
}

/* The negative control: the same modes as small deflections in the turning frame, without the
 * stiffening by tension, q_j.. = -(omega_j^2 - psi.^2) q_j - psi.. integral(m s v_j ds). As soon as
 * psi. passes omega_1 = 3.80 rad/s it runs away; classical fourth-order Runge-Kutta. */
static void control_rate(const caber_model *m, const double *turn, double t, const double *y,
                         double *yd)
{
    const int n = m->n;
    for (int j = 0; j < n; j++) {
        const double speed = law_rate(t);
        yd[j] = y[n + j];
        yd[n + j] = -(m->stiffness[j] - speed * speed) * y[j] - law_acceleration(t) * turn[j];
    }
}

static void control_step(const caber_model *m, const double *turn, double t, double h, double *y)
{
    enum { MOST = 16 };
    const int n = 2 * m->n;
    const double at[4] = {0, 0.5, 0.5, 1}, weight[4] = {1, 2, 2, 1};
    double k[MOST] = {0}, sum[MOST] = {0}, x[MOST];
    for (int stage = 0; stage < 4; stage++) {
        for (int i = 0; i < n; i++)
            x[i] = y[i] + at[stage] * h * k[i];
        control_rate(m, turn, t + at[stage] * h, x, k);
        for (int i = 0; i < n; i++)
            sum[i] += weight[stage] * k[i];
    }
    for (int i = 0; i < n; i++)
        y[i] += h / 6 * sum[i];
}

static void without_stiffening_it_diverges(void **state)
{
    (void)state;
    caber_setup *s = arm();
    caber_message message;
    caber_model *m = NULL;
    caber_work *w = NULL;
    setups_fine(caber_model_create(s, &m, &message), &message);
    setups_fine(caber_work_create(m, &w, &message), &message);
    assert_int_equal(m->n, 8);
    dynamics_assemble(m, w, 0, w->zero, w->zero);
    const int stride = m->rod->stride;
    enum { DRAWN = 160 }; /* twentieths of a second, as long as it is on the paper */
    double turn[8], tip[8], y[16] = {0}, at_two = 0, last = 0;
    for (int j = 0; j < 8; j++) {
        turn[j] = w->l[2 * stride + j];
        tip[j] = w->rod.move[(size_t)(3 * m->rod->stations + 1) * (size_t)stride + j];
    }
    const double h = 5e-4; /* s; omega_8 h = 0.3 */
    const int steps = 30000;
    double drawn_t[DRAWN], drawn[DRAWN];
    size_t drawn_count = 0;
    for (int i = 0; i < steps; i++) {
        control_step(m, turn, i * h, h, y);
        last = 0;
        for (int j = 0; j < 8; j++)
            last += scale * tip[j] * y[j];
        if (i % 100 == 99 && fabs(last) < 0.9 && drawn_count < DRAWN && i < 100 * DRAWN) {
            drawn_t[drawn_count] = (i + 1) * h;
            drawn[drawn_count++] = last;
        }
        if (i == 3999)
            at_two = last;
    }
    /* While it turns slowly the two models agree: that the control is the same arm. */
    caber_trace *trace = caber_trace_create();
    s->settings.until = 2;
    setups_swing(s, trace);
    assert_close(at_two, scale * trace->rows[200].lead, 0.01, 0);
    draw("without stiffening", drawn_t, drawn, drawn_count, false);
    assert_true(fabs(last) > 1e3); /* m, of an arm of 10 m */
    caber_trace_free(trace);
    caber_work_free(w);
    caber_model_free(m);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(arm_spins_up),
                                       cmocka_unit_test(without_stiffening_it_diverges)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
