/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Joints driven in other ways than by a torque program, and how a swing begins and ends. */
#include "record.h"
#include "setups.h"
#include "swing/dynamics.h"
#include "swing/handle.h"

/* ------------------------------------------------------------------ motion for torque */

typedef struct column {
    size_t angle, speed; /* offsets in a row */
} column;
static const column arm = {offsetof(caber_trace_row, arm_angle),
                           offsetof(caber_trace_row, arm_speed)};
static const column handle = {offsetof(caber_trace_row, club_angle),
                              offsetof(caber_trace_row, club_speed)};
static const column roll = {offsetof(caber_trace_row, roll), offsetof(caber_trace_row, roll_speed)};

static double value_at(const caber_trace_row *row, size_t offset)
{
    double x;
    memcpy(&x, (const char *)row + offset, sizeof x);
    return x;
}

enum { LEAD_IN = 20 };

/* A motion table of every row of a trace but the last, which is off the even grid. The shaft's
 * start rests on the acceleration at t = 0: to have it as exact as any other, the table begins
 * LEAD_IN rows early, continued backwards as the first rows bend. `less` is subtracted. */
static void table_from(caber_table *t, const caber_trace *trace, column c, const column *less)
{
    const caber_trace_row *r = trace->rows;
    const double h = r[1].time - r[0].time;
    t->count = LEAD_IN + trace->count - 1;
    t->time = setups_array(t->count, sizeof(double));
    t->value = setups_array(t->count, sizeof(double));
    double speed[3], first;
    for (int i = 0; i < 3; i++)
        speed[i] = value_at(r + i, c.speed) - (less ? value_at(r + i, less->speed) : 0);
    first = value_at(r, c.angle) - (less ? value_at(r, less->angle) : 0);
    const double rate = (-3 * speed[0] + 4 * speed[1] - speed[2]) / (2 * h);
    const double jerk = (speed[0] - 2 * speed[1] + speed[2]) / (h * h);
    for (size_t i = 0; i < t->count; i++) {
        const double at = h * ((double)i - LEAD_IN);
        const caber_trace_row *row = r + (i < LEAD_IN ? 0 : i - LEAD_IN);
        t->time[i] = i < LEAD_IN ? at : row->time;
        t->value[i] = i < LEAD_IN
                          ? first + at * (speed[0] + at * (rate / 2 + at * jerk / 6))
                          : value_at(row, c.angle) - (less ? value_at(row, less->angle) : 0);
    }
}

static caber_setup *torque_driven(void)
{
    caber_setup *s = setups_read("neutral-quick");
    s->settings.sample = 2.5e-4;
    setups_until(s, 0.2505, 1e-9);
    return s;
}

/* Rows between 30 and 230 ms: near its ends a spline knows the acceleration less well. */
static bool inner(const caber_trace_row *r)
{
    return r->time > 0.030 && r->time < 0.230;
}

/* A geared roll takes its torque from the club: arm and wrist then supply Gamma' tau_roll more than
 * with a roll that has a drive of its own. Returns what of that belongs to a row. */
static double lent_to_roll(const caber_trace_row *r)
{
    return r->roll_speed / r->club_speed * r->roll_torque;
}

enum { HUB = 1, GRIP = 2, ROLL = 4 };

static void drive_by_motion(caber_setup *s, const caber_trace *want, int driven)
{
    caber_load *l = &s->player.load;
    if (driven & HUB) {
        l->hub.drive = CABER_MOTION;
        table_from(&l->hub.table, want, arm, NULL);
    }
    if (driven & GRIP) {
        l->grip.drive = CABER_MOTION;
        table_from(&l->grip.table, want, handle, &arm);
    }
    if (driven & ROLL) {
        l->roll.drive = CABER_MOTION;
        table_from(&l->roll.table, want, roll, NULL);
    }
}

/* The spline of quarter milliseconds misses (omega h)^2/12 of an acceleration, 0.5 % at the
 * ceiling of 150 Hz and less below: the tip within 0.15 mm, couples within 0.05 N m of up to 17
 * and 270. */
static const record_source given_motion = {
    RECORD_LAW, "the motion that torques made, given as tables of motion, gives the torques back"};

static void verify_reproduced(const double apart[4])
{
    static const struct {
        const char *what, *unit;
        double allowed;
    } rows[] = {{"lead and droop; arm, wrist, both, and both with the roll by motion", "m", 1.5e-4},
                {"wrist couple (up to 17)", "N m", 0.05},
                {"hub torque (up to 270)", "N m", 0.05},
                {"moment at the handle", "N m", 0.05}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        verify_within(rows[i].what, given_motion, rows[i].unit, apart[i], rows[i].allowed);
    }
}

static void check_reproduced(const caber_trace *want, int driven, double apart[4])
{
    caber_setup *s = torque_driven();
    caber_trace *got = caber_trace_create();
    drive_by_motion(s, want, driven);
    s->settings.until = 0.25;
    setups_swing(s, got);
    size_t rows = 0;
    for (size_t i = 0; i < got->count - 1; i++) {
        const caber_trace_row *a = want->rows + i, *b = got->rows + i;
        if (!inner(a))
            continue;
        rows++;
        const double lent = driven & ROLL ? lent_to_roll(b) : 0;
        record_most(&apart[0], b->lead - a->lead);
        record_most(&apart[0], b->droop - a->droop);
        assert_close(b->twist, a->twist, 0, 2e-5);
        assert_close(b->arm_angle, a->arm_angle, 0, 1e-4);
        assert_close(b->club_angle, a->club_angle, 0, 1e-4);
        record_most(&apart[1], b->grip_couple + lent - a->grip_couple);
        record_most(&apart[2], b->hub_torque + lent - a->hub_torque);
        assert_close(b->roll_torque, a->roll_torque, 0, 0.001);
        record_most(&apart[3], b->handle_moment - a->handle_moment);
        assert_close(b->grip_force, a->grip_force, 1e-3, 0.05);
        assert_close(b->work, a->work, 0, 0.05);
    }
    assert_true(rows > 700);
    caber_trace_free(got);
    caber_setup_free(s);
}

/* A table that begins with the swing: the hub torque sets in abruptly, so the acceleration rings by
 * some 2 rad/s2 from the first instant and its start is known to about half of that, 0.2 N m of couple
 * on 0.2 kg m2. That is 1 mm of the tip; with no acceleration at the table's end it was 13 mm. */
static void a_motion_may_begin_with_the_swing(void **state)
{
    (void)state;
    caber_setup *s = torque_driven();
    caber_trace *want = caber_trace_create(), *got = caber_trace_create();
    setups_swing(s, want);
    drive_by_motion(s, want, GRIP);
    caber_table *t = &s->player.load.grip.table;
    t->count -= LEAD_IN;
    memmove(t->time, t->time + LEAD_IN, t->count * sizeof *t->time);
    memmove(t->value, t->value + LEAD_IN, t->count * sizeof *t->value);
    s->settings.until = 0.25;
    setups_swing(s, got);
    double most = 0;
    for (size_t i = 0; i < got->count - 1; i++) {
        record_most(&most, got->rows[i].lead - want->rows[i].lead);
        record_most(&most, got->rows[i].droop - want->rows[i].droop);
    }
    verify_within("a table that begins with the swing: lead and droop", given_motion, "m", most,
                  1e-3);
    caber_trace_free(want);
    caber_trace_free(got);
    caber_setup_free(s);
}

/* The motion that torques made gives the torques back. */
static void motion_reproduces_torque(void **state)
{
    (void)state;
    caber_setup *s = torque_driven();
    caber_trace *want = caber_trace_create();
    setups_swing(s, want);
    double apart[4] = {0};
    check_reproduced(want, HUB, apart);
    check_reproduced(want, GRIP, apart);
    check_reproduced(want, HUB | GRIP, apart);
    check_reproduced(want, HUB | GRIP | ROLL, apart);
    verify_reproduced(apart);
    caber_trace_free(want);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ tables of torque */

static const caber_grip_load *program;
static double ramp(double t, double from, double over)
{
    const double x = fmin(fmax((t - from) / over, 0), 1);
    return x * x * x * (10 - 15 * x + 6 * x * x);
}
static double couple(double t)
{
    const caber_grip_load *g = program;
    return g->peak * ramp(t, g->onset, g->rise) * (1 - ramp(t, g->release, g->fall)) +
           g->late * ramp(t, g->late_onset, g->late_rise);
}

static void table_is_its_program(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-late");
    setups_until(s, 0, 1e-9);
    const caber_swing want = setups_swing(s, NULL);
    const caber_grip_load grip = s->player.load.grip;
    program = &grip;
    setups_table(&s->player.load.grip.table, 801, 0.4, couple);
    /* With a table the program is not looked at. */
    s->player.load.grip.peak = 300;
    const caber_swing got = setups_swing(s, NULL);
    /* Half a millisecond: the monotone cubic misses at most (h/rise)^2 of 17 N m, 1e-3 N m. */
    static const record_source table = {
        RECORD_LAW,
        "a table of a torque program's values, every half millisecond, is that program"};
    verify("program as a table: head speed", table, "m/s", got.bent.head_speed,
           want.bent.head_speed, 1e-5, 0);
    verify("the same: lead", table, "m", got.bent.lead_deflection, want.bent.lead_deflection, 0,
           1e-5);
    verify("the same: peak handle moment", table, "N m", got.bent.peak_handle_moment,
           want.bent.peak_handle_moment, 0, 5e-3);
    assert_close(got.bent.downswing_time, want.bent.downswing_time, 1e-5, 0);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ the wrist stop */

/* How far beyond the stop the wrist goes without a damper, in widths. */
static double overshoot(double stiffness, double damping, double *dissipated)
{
    caber_setup *s = setups_read("neutral-quick");
    s->player.load.hub.peak = 0;
    s->player.load.grip.peak = s->player.load.grip.late = 0;
    s->shaft.damping = 0;
    s->player.start_cock_speed = -12;
    const caber_stop stop = {
        .cock = -1.7, .stiffness = stiffness, .width = 0.26, .damping = damping};
    s->player.load.stop = stop;
    setups_until(s, 0.2, 1e-9);
    caber_trace *trace = caber_trace_create();
    setups_swing(s, trace);
    double least = 0;
    for (size_t i = 0; i < trace->count; i++) {
        const caber_trace_row *r = trace->rows + i;
        least = fmin(least, r->cock);
        /* The spring can hold no more than there is: kinetic energy, what weight gave and the
         * shaft. */
        const load_stop l = load_wrist_stop(&stop, r->cock, 0);
        assert_true(l.energy <= trace->rows[0].kinetic + trace->rows[0].potential +
                                    trace->rows[0].strain + r->work - (r->potential - l.energy) +
                                    1e-9);
        /* Its couple is in the trace, with the damper's. */
        const double rate = r->club_speed - r->arm_speed;
        const load_stop full = load_wrist_stop(&stop, r->cock, rate);
        assert_close(r->grip_couple, full.spring + full.damper, 1e-9, 1e-9);
    }
    *dissipated = trace->rows[trace->count - 1].dissipated;
    caber_trace_free(trace);
    caber_setup_free(s);
    return (stop.cock - least) / stop.width;
}

static void wrist_stop_holds(void **state)
{
    (void)state;
    double lost, before = HUGE_VAL;
    for (double k = 100; k < 1e5; k *= 10) {
        const double beyond = overshoot(k, 0, &lost);
        assert_true(beyond > 0 && beyond < before);
        assert_close(lost, 0, 0, 1e-12);
        before = beyond;
    }
    assert_true(before < 0.5);
    const double hard = overshoot(400, 0, &lost), soft = overshoot(400, 2, &lost);
    assert_true(soft < hard); /* the damper takes some of it */
    assert_true(lost > 0.1);
}

/* ------------------------------------------------------------------ begin and end */

static void runs_until(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-quick");
    const caber_swing whole = setups_swing(s, NULL);
    assert_true(whole.met_ball);
    s->settings.until = 0.35; /* past the ball */
    s->settings.time_limit = 0.1;
    const caber_swing past = setups_swing(s, NULL);
    assert_false(past.met_ball);
    assert_close(past.bent.downswing_time, 0.35, 0, 1e-12);
    assert_true(past.bent.arm_angle > whole.bent.arm_angle);
    s->settings.until = whole.bent.downswing_time; /* just to it */
    const caber_swing there = setups_swing(s, NULL);
    assert_false(there.met_ball);
    assert_close(there.bent.head_speed, whole.bent.head_speed, 1e-6, 0);
    assert_close(there.bent.peak_lag, whole.bent.peak_lag, 1e-6, 0);
    caber_setup_free(s);
}

/* The message says what was reached; the numbers are those of the same swing's trace. */
static void ball_never_reached(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-quick");
    s->settings.time_limit = 0.15;
    s->settings.sample = 1e-4;
    caber_message message;
    caber_model *m = NULL;
    caber_work *w = NULL;
    caber_swing out;
    setups_fine(caber_model_create(s, &m, &message), &message);
    setups_fine(caber_work_create(m, &w, &message), &message);
    caber_trace *trace = caber_trace_create();
    assert_int_equal(caber_swing_run(m, w, &out, trace, &message), CABER_BALL_NOT_REACHED);
    const caber_trace_row *last = trace->rows + trace->count - 1;
    double t, arm_deg, club_deg, speed, off;
    const char *at = strstr(message.text, ": at ");
    assert_non_null(at);
    assert_int_equal(sscanf(at,
                            ": at %lf s the arm was at %lf deg, the club at %lf deg, the head at "
                            "%lf m/s and the face %lf m short of the ball",
                            &t, &arm_deg, &club_deg, &speed, &off),
                     5);
    assert_close(t, 0.15, 0, 5e-5);
    assert_close(arm_deg, last->arm_angle * CABER_DEG, 0, 0.2); /* a row is 0.1 ms */
    assert_close(club_deg, last->club_angle * CABER_DEG, 0, 0.2);
    assert_close(speed, last->head_speed, 0, 0.05);
    assert_true(off > 0.5);
    caber_trace_free(trace);
    caber_work_free(w);
    caber_model_free(m);
    /* A work that ended so can be used again: the same model with a longer limit. */
    s->settings.time_limit = 1;
    assert_true(setups_swing(s, NULL).met_ball);
    caber_setup_free(s);
}

/* Locked joints: the shaft hangs in equilibrium and stays there, to 1e-8 m of a tip that droops by
 * millimetres; no ringing. */
static void static_start_does_not_ring(void **state)
{
    (void)state;
    caber_setup *s = setups_read("soft-tip-quick");
    s->player.load.hub.drive = s->player.load.grip.drive = CABER_LOCKED;
    s->player.load.roll.drive = CABER_LOCKED;
    s->player.start_arm = 1;
    s->player.start_cock = 0.3;
    setups_until(s, 0.1, 1e-8);
    caber_trace *trace = caber_trace_create();
    setups_swing(s, trace);
    const caber_trace_row *first = trace->rows;
    assert_true(hypot(first->lead, first->droop) > 2e-3);
    double most = 0;
    for (size_t i = 0; i < trace->count; i++) {
        const caber_trace_row *r = trace->rows + i;
        record_most(&most, r->lead - first->lead);
        record_most(&most, r->droop - first->droop);
        assert_close(r->twist, first->twist, 0, 1e-8);
        assert_close(r->head_speed, 0, 0, 1e-6);
    }
    static const record_source source = {RECORD_LAW, "what starts in equilibrium stays there"};
    verify_within("locked joints, a hanging shaft: lead and droop over 0.1 s", source, "m", most,
                  1e-8);
    caber_trace_free(trace);
    caber_setup_free(s);
}

/* Free joints under loads that hardly change at first: the modes follow them without ringing.
 * What a ringing start would be: the same from a straight shaft would swing by its whole static
 * bend. */
static void swing_starts_without_ringing(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-quick");
    s->settings.sample = 1e-3;
    setups_until(s, 0.02, 1e-9);
    s->player.load.hub.rise = 2; /* quasi-static: 2 N m in 20 ms */
    s->player.load.grip.rise = 2;
    caber_trace *trace = caber_trace_create();
    setups_swing(s, trace);
    const caber_trace_row *first = trace->rows;
    const double bend = hypot(first->lead, first->droop);
    assert_true(bend > 1e-3);
    double most = 0;
    for (size_t i = 0; i < trace->count; i++) {
        record_most(&most, (trace->rows[i].lead - first->lead) / bend);
        record_most(&most, (trace->rows[i].droop - first->droop) / bend);
    }
    static const record_source source = {
        RECORD_LAW, "a swing begins in the shape that its loads hold, so it does not ring"};
    verify_within("slowly growing loads: change of lead and droop by the bend at the start", source,
                  "1", most, 0.01);
    caber_trace_free(trace);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(motion_reproduces_torque),
                                       cmocka_unit_test(a_motion_may_begin_with_the_swing),
                                       cmocka_unit_test(table_is_its_program),
                                       cmocka_unit_test(wrist_stop_holds),
                                       cmocka_unit_test(runs_until),
                                       cmocka_unit_test(ball_never_reached),
                                       cmocka_unit_test(static_start_does_not_ring),
                                       cmocka_unit_test(swing_starts_without_ringing)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
