/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the hands feel and where the shaft carries it: a loaded cantilever whose answers are in
 * any text on strength of materials (S. P. Timoshenko, Strength of Materials, part I), and the
 * peaks of a swing against its own finely sampled history. */
#include "record.h"
#include "setups.h"

static const double length = 1.2, ei = 100, tip_mass = 0.2, beam_mass = 1e-3; /* SI; mass per m */

/* Held level, pointing at the target, in a vertical plane: a weight on the tip, which sinks by
 * 11 mm: effects of large deflection are 1e-4. e2 is up. */
static caber_setup *level_beam(void)
{
    const setups_beam plain = {.stations = 2,
                               .length = length,
                               .mass = beam_mass,
                               .ei = ei,
                               .gj = 50,
                               .tip_mass = tip_mass};
    caber_setup *s = setups_beam_make(&plain);
    s->player.inclination = SETUPS_PI / 2;
    s->player.load.grip.drive = CABER_LOCKED;
    s->player.start_arm = 0;
    s->player.start_cock = SETUPS_PI / 2;
    s->settings.gravity = true;
    s->settings.modes = 24;
    s->settings.stations = 40;
    s->settings.elements = 60;
    setups_until(s, 0.01, 1e-9);
    return s;
}

/* Integral of M^2/(2 EI) from the tip to x, M = P x + w x^2/2. */
static double bending_energy(double x)
{
    const double p = tip_mass * CABER_GRAVITY, w = beam_mass * CABER_GRAVITY;
    return (p * p * x * x * x / 3 + p * w * x * x * x * x / 4 + w * w * pow(x, 5) / 20) / (2 * ei);
}

static const record_source materials = {
    RECORD_EXACT,
    "a loaded cantilever: any text on strength of materials, S. P. Timoshenko, Strength of "
    "Materials, part I"};

/* The beam's own weight, 0.6 % of the tip's, is allowed for where the formula has room for it. */
static void level_cantilever(void **state)
{
    (void)state;
    caber_setup *s = level_beam();
    caber_trace *trace = caber_trace_create();
    setups_swing(s, trace);
    const caber_trace_row *r = trace->rows;
    const double p = tip_mass * CABER_GRAVITY, w = beam_mass * CABER_GRAVITY, l = length;
    /* P L^3/(3 EI) + w L^4/(8 EI); slope P L^2/(2 EI) + w L^3/(6 EI). */
    verify("level club: lead of the tip", materials, "m", r->lead,
           -(p * l * l * l / 3 + w * l * l * l * l / 8) / ei, 1e-4, 0);
    verify("its slope", materials, "rad", r->lead_slope, -(p * l * l / 2 + w * l * l * l / 6) / ei,
           1e-4, 0);
    assert_close(r->lag, -r->lead, 1e-12, 0);
    assert_close(r->droop, 0, 0, 1e-12);
    /* The handle holds the shaft up: its moment would speed the club. */
    /* Bent, it is shorter by 3/5 lead^2/L, and so is the weight's lever. */
    const double lever = l - 0.6 * r->lead * r->lead / l;
    verify("moment at the handle, weight times lever", materials, "N m", r->handle_moment,
           p * lever + w * l * l / 2, 1e-6, 0);
    assert_close(r->handle_moment_out, 0, 0, 1e-9);
    assert_close(r->handle_twist_moment, 0, 0, 1e-9);
    assert_close(r->grip_couple, r->handle_moment, 1e-9, 0); /* nothing above the hinge */
    verify("force at the hands, the weight", materials, "N", r->grip_force, p + w * l, 1e-7, 0);
    assert_close(r->grip_force_along, 0, 0, 1e-6);
    const double whole = bending_energy(l), tip = bending_energy(l / 3);
    verify("strain energy", materials, "J", r->strain, whole, 1e-3, 0);
    verify("of it in the tip third", materials, "J", r->strain_tip, tip, 1e-3, 0);
    verify("in the middle third", materials, "J", r->strain_middle, bending_energy(2 * l / 3) - tip,
           1e-3, 0);
    verify("in the butt third", materials, "J", r->strain_butt, whole - bending_energy(2 * l / 3),
           1e-3, 0);
    assert_close(tip / whole, 1.0 / 27, 0.01, 0); /* of an end load alone */
    /* Slope equal to the chord's: (L - x)^2 = L^2/3 (for the end load alone). */
    verify("bend point from the tip, L/sqrt 3", materials, "m", r->bend_point, l / sqrt(3), 3e-3,
           0);
    double share = 0;
    for (size_t k = 0; k < trace->place_count; k++) {
        const double x = trace->place[k], m = p * x + w * x * x / 2;
        record_most(&share, (trace->moment[k] - m) / (1e-3 * m + 1e-3));
        assert_close(trace->curvature[k], trace->moment[k] / ei, 1e-9, 0);
        /* Sag of the same cantilever at s from the hands, to 1e-4 of that of its tip as above:
         * P s^2 (3 L - s)/(6 EI) + w s^2 (6 L^2 - 4 L s + s^2)/(24 EI). */
        const double s_at = l - x;
        const double sag =
            s_at * s_at *
            (p * (3 * l - s_at) / 6 + w * (6 * l * l - 4 * l * s_at + s_at * s_at) / 24) / ei;
        assert_close(trace->trail[k], sag, 0, 1e-4 * r->lag);
    }
    verify_within("moment along the shaft, apart by 0.001 of itself + 0.001 N m", materials, "1",
                  share, 1);
    caber_trace_free(trace);
    caber_setup_free(s);
}

/* The same in a plane that rises by 30 degrees, the handle rolled by 40: the weight bends it straight down, by
 * as much as ever, of which sin 30 is in the plane and cos 30 against its normal, whatever the roll. */
static void tilted_cantilever(void **state)
{
    (void)state;
    const double rise = SETUPS_PI / 6, roll = 40 / CABER_DEG, l = length;
    caber_setup *s = level_beam();
    s->player.inclination = rise;
    s->player.load.roll.top = roll;
    caber_trace *trace = caber_trace_create();
    setups_swing(s, trace);
    const caber_trace_row *r = trace->rows;
    const double p = tip_mass * CABER_GRAVITY, w = beam_mass * CABER_GRAVITY;
    const double most = (p * l * l * l / 3 + w * l * l * l * l / 8) / ei;
    verify("tilted plane, rolled: trail of the tip", materials, "m", r->lag, most * sin(rise), 1e-4,
           0);
    verify("its place out of the plane", materials, "m", r->out_of_plane, -most * cos(rise), 1e-4,
           0);
    double trail = 0, out = 0;
    for (size_t k = 0; k < trace->place_count; k++) {
        const double at = l - trace->place[k];
        const double sag =
            at * at * (p * (3 * l - at) / 6 + w * (6 * l * l - 4 * l * at + at * at) / 24) / ei;
        record_most(&trail, (trace->trail[k] - sag * sin(rise)) / most);
        record_most(&out, (trace->out_of_plane[k] + sag * cos(rise)) / most);
    }
    verify_within("trail along the shaft, of the sag of the tip", materials, "1", trail, 1e-4);
    verify_within("out of the plane along the shaft, of the same", materials, "1", out, 1e-4);
    caber_trace_free(trace);
    caber_setup_free(s);
}

/* The same held with the shaft upright: nothing bends, the weight is along the handle. */
static void hanging_pulls(void **state)
{
    (void)state;
    caber_setup *s = level_beam();
    s->player.start_cock = 0;
    caber_trace *trace = caber_trace_create();
    setups_swing(s, trace);
    const caber_trace_row *r = trace->rows;
    const double weight = (tip_mass + beam_mass * length) * CABER_GRAVITY;
    /* Pulling outward is positive. */
    verify("hanging club: pull along the handle", materials, "N", r->grip_force_along, weight, 1e-7,
           0);
    assert_close(r->grip_force, weight, 1e-7, 0);
    assert_close(r->handle_moment, 0, 0, 1e-12);
    assert_close(r->lead, 0, 0, 1e-12);
    caber_trace_free(trace);
    caber_setup_free(s);
}

/* Every peak is the largest of the history. Rows stand 0.05 ms apart, so a smooth peak between
 * two is higher by at most (omega h)^2/8, 3e-4 at 150 Hz, and not lower. */
static const record_source history = {
    RECORD_LAW, "a peak is the largest of its history, here sampled every 0.05 ms"};
static struct {
    double lag, time, strain, moment, force, rate; /* relative, but the time in s */
} worst;

static caber_swing check_peaks(caber_setup *s)
{
    s->settings.sample = 5e-5;
    s->settings.tolerance = 1e-9;
    caber_trace *trace = caber_trace_create();
    const caber_swing swing = setups_swing(s, trace);
    const caber_impact *b = &swing.bent;
    double lag = -HUGE_VAL, moment = -HUGE_VAL, force = 0, strain = 0, rate = 0, lag_time = 0;
    const caber_trace_row *strained = trace->rows;
    assert_close(trace->rows[trace->count - 1].straight_head_speed, swing.straight.head_speed,
                 1e-12, 0);
    for (size_t k = 0; k < trace->count; k++) {
        const caber_trace_row *r = trace->rows + k;
        assert_true(trace->trail[k * trace->place_count] == 0); /* the hands */
        assert_true(trace->out_of_plane[k * trace->place_count] == 0);
        if (r->lag > lag) {
            lag = r->lag;
            lag_time = r->time;
        }
        if (r->strain > strain) {
            strain = r->strain;
            strained = r;
        }
        moment = fmax(moment, r->handle_moment);
        force = fmax(force, r->grip_force);
        rate = fmax(rate, r->load_rate);
        assert_close(r->strain_butt + r->strain_middle + r->strain_tip, r->strain, 1e-6, 1e-9);
        assert_close(trace->moment[k * trace->place_count],
                     hypot(r->handle_moment, r->handle_moment_out), 1e-9, 1e-9);
        assert_close(r->lag * r->lag + r->out_of_plane * r->out_of_plane,
                     r->lead * r->lead + r->droop * r->droop, 1e-9, 1e-15);
    }
    assert_true(b->peak_lag >= lag - 1e-9 * fabs(lag));
    record_most(&worst.lag, b->peak_lag / lag - 1);
    record_most(&worst.time, b->peak_lag_time - lag_time);
    assert_true(b->strain_energy_peak >= strain * (1 - 1e-6));
    record_most(&worst.strain, b->strain_energy_peak / strain - 1);
    assert_close(b->energy_share_butt, strained->strain_butt / strained->strain, 1e-3, 0);
    assert_close(b->energy_share_butt + b->energy_share_middle + b->energy_share_tip, 1, 1e-6, 0);
    /* Taken at the root of the modes' part of the moment, and at the steps. */
    record_most(&worst.moment, b->peak_handle_moment / moment - 1);
    record_most(&worst.force, b->grip_force / force - 1);
    record_most(&worst.rate, b->peak_load_rate / rate - 1);
    const caber_trace_row *last = trace->rows + trace->count - 1;
    assert_close(last->lead, b->lead_deflection, 0, 1e-12);
    assert_close(last->head_speed, b->head_speed, 1e-12, 0);
    assert_close(last->time, b->downswing_time, 0, 0);
    caber_trace_free(trace);
    caber_setup_free(s);
    return swing;
}

static void peaks_are_peaks(void **state)
{
    (void)state;
    for (size_t i = 0; i < SETUPS_DEMO_COUNT; i += CHECK_SANITISED ? 4 : 1)
        check_peaks(setups_read(setups_demo[i]));
}

/* Past the ball the pull on the hands has been at its largest and falls again. */
static void peaks_within_a_swing(void **state)
{
    (void)state;
    for (size_t i = 0; i < SETUPS_DEMO_COUNT; i += CHECK_SANITISED ? 8 : 4) {
        caber_setup *s = setups_read(setups_demo[i]);
        s->settings.until = 0.4;
        check_peaks(s);
    }
}

/* Of every check_peaks so far. */
static void verify_peaks(void)
{
    const struct {
        const char *what, *unit;
        double apart, allowed;
    } rows[] = {
        {"peak lag, every demonstration setup, some beyond the ball, one held back, relative", "1",
         worst.lag, 3e-4},
        {"its time", "s", worst.time, 1e-4},
        {"peak strain energy, relative", "1", worst.strain, 3e-4},
        {"peak handle moment, relative", "1", worst.moment, 1e-3},
        {"largest grip force, relative", "1", worst.force, 1e-3},
        {"largest load rate, relative", "1", worst.rate, 0.01}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        verify_within(rows[i].what, history, rows[i].unit, rows[i].apart, rows[i].allowed);
    }
}

/* A club that is held back from the start: lag and moment stay negative, and their largest values
 * with them. */
static void peaks_below_zero(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    s->player.load.hub.peak = 0;
    s->player.load.grip.onset = -0.3; /* in full from the start */
    s->player.load.grip.rise = 0.2;
    s->player.load.grip.peak = -15;
    s->player.load.grip.late = 8;
    s->player.load.grip.late_onset = 0.01;
    s->player.load.grip.late_rise = 0.005;
    s->player.load.grip.release = 1;
    s->settings.until = 0.06;
    const caber_swing swing = check_peaks(s);
    assert_true(swing.bent.peak_lag < 0 && swing.bent.peak_lag_time > 0.01);
    assert_true(swing.bent.peak_handle_moment < 0);
    verify_peaks();
}

/* The load rate is the rate of the moment that the modes carry, so its integral follows the moment,
 * which comes from the balance of momentum, as far as the modes go. */
static void load_rate_integrates_to_the_moment(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-quick");
    s->settings.sample = 1e-4;
    s->settings.modes = 24;
    s->settings.ceiling = 0;
    setups_until(s, 0.25, 1e-9);
    caber_trace *trace = caber_trace_create();
    setups_swing(s, trace);
    double sum = 0, apart = 0;
    for (size_t k = 1; k < trace->count; k++) {
        const caber_trace_row *a = trace->rows + k - 1, *b = trace->rows + k;
        sum += (b->time - a->time) * (a->load_rate + b->load_rate) / 2;
        record_most(&apart, trace->rows->handle_moment + sum - b->handle_moment);
    }
    /* 24 modes carry the moment at the hands to 0.02 of 17 N m. */
    static const record_source source = {
        RECORD_LAW,
        "the integral of a rate is what it is the rate of; the moment itself comes from the "
        "balance of momentum"};
    verify_within("handle moment less the integral of its rate", source, "N m", apart, 0.03);
    caber_trace_free(trace);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(level_cantilever),
                                       cmocka_unit_test(tilted_cantilever),
                                       cmocka_unit_test(hanging_pulls),
                                       cmocka_unit_test(peaks_are_peaks),
                                       cmocka_unit_test(peaks_within_a_swing),
                                       cmocka_unit_test(peaks_below_zero),
                                       cmocka_unit_test(load_rate_integrates_to_the_moment)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
