/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A player's habits: what is refused, how swings are drawn, what each habit changes, and where the ball
 * lies then. */
#include <stdlib.h>

#include "check.h"
#include "study/habit.h"
#include "swing/check.h"
#include "swing/once.h"
#include "swing/repeat.h"

enum { H = CABER_HABITS };

static int open_setup(void **state)
{
    caber_setup *s = NULL;
    caber_message message;
    if (caber_setup_read(CABER_SOURCE_DIR "/models/setups/neutral-late.yaml", NULL, 0, &s,
                         &message) != CABER_OK) {
        print_error("%s\n", message.text);
        return -1;
    }
    free(s->player.repeat.pairings);
    s->player.repeat.pairings = NULL;
    s->player.repeat.pairing_count = 0;
    *state = s;
    return 0;
}

static int close_setup(void **state)
{
    caber_setup *s = *state;
    s->player.repeat.pairings = NULL; /* the tests' own */
    caber_setup_free(s);
    return 0;
}

static void pair(caber_setup *s, caber_pairing *pairings, size_t count)
{
    s->player.repeat.pairings = pairings;
    s->player.repeat.pairing_count = count;
}

/* ------------------------------------------------------------------ what is refused */

static void pairs_that_cannot_be(void **state)
{
    caber_setup *s = *state;
    caber_message m;
    caber_pairing p[3] = {{CABER_HABIT_RISE, CABER_HABIT_PEAK, 0.5},
                          {CABER_HABIT_PEAK, CABER_HABIT_RISE, 0.5},
                          {CABER_HABIT_HUB, CABER_HABIT_HUB, 1}};
    pair(s, p, 1);
    assert_int_equal(setup_check(s, &m), CABER_OK);
    pair(s, p, 2);
    assert_int_equal(setup_check(s, &m), CABER_BAD_INPUT);
    assert_string_equal(m.text, "player.repeat.together[1]: peak and rise are not allowed twice; "
                                "entry 0 has them too, counted from 0");
    pair(s, p + 2, 1);
    assert_int_equal(setup_check(s, &m), CABER_BAD_INPUT);
    assert_string_equal(m.text, "player.repeat.together[0].with: hub is not allowed; it must be "
                                "another habit than `of`");
}

/* Three that go with each other by r each: eigenvalues 1 - r twice and 1 + 2 r. */
static void matrices_that_cannot_be(void **state)
{
    caber_setup *s = *state;
    caber_message m;
    caber_pairing p[3] = {{CABER_HABIT_RISE, CABER_HABIT_PEAK, -0.5},
                          {CABER_HABIT_PEAK, CABER_HABIT_OUT, -0.5},
                          {CABER_HABIT_OUT, CABER_HABIT_RISE, -0.5}};
    pair(s, p, 3);
    assert_int_equal(setup_check(s, &m), CABER_OK); /* the edge itself */
    for (int i = 0; i < 3; i++)
        p[i].correlation = -0.501;
    assert_int_equal(setup_check(s, &m), CABER_BAD_INPUT);
    assert_memory_equal(m.text, "player.repeat.together: no swings", 33);
    for (int i = 0; i < 3; i++)
        p[i].correlation = 1;
    assert_int_equal(setup_check(s, &m), CABER_OK);
}

static void assert_habit_refused(caber_setup *s, const char *begins)
{
    habits h;
    caber_message m;
    assert_int_equal(habits_create(&s->player, &h, &m), CABER_BAD_INPUT);
    if (strncmp(m.text, begins, strlen(begins)) != 0)
        fail_msg("'%s' does not begin with '%s'", m.text, begins);
}

static void loads_that_do_not_vary(void **state)
{
    caber_setup *s = *state;
    caber_repeat *r = &s->player.repeat;
    caber_load *l = &s->player.load, kept = *l;
    habits h;
    assert_int_equal(habits_create(&s->player, &h, NULL), CABER_OK);
    l->grip.drive = CABER_MOTION;
    assert_habit_refused(s,
                         "player.repeat.rise: 5 % is not allowed with drive: motion of load.grip");
    r->rise = 0;
    assert_habit_refused(s, "player.repeat.peak: 2 % is not allowed");
    r->peak = 0;
    assert_habit_refused(s, "player.repeat.release: 4 ms is not allowed");
    r->release = 0;
    assert_int_equal(habits_create(&s->player, &h, NULL), CABER_OK);
    l->hub.table.count = 4;
    assert_habit_refused(s,
                         "player.repeat.hub: 1.2 % is not allowed with drive: torque and a table");
    r->hub = 0;
    assert_int_equal(habits_create(&s->player, &h, NULL),
                     CABER_OK); /* its arm still starts there */
    l->hub.drive = CABER_MOTION;
    assert_habit_refused(s, "player.repeat.arm: 1 deg is not allowed with drive: motion");
    r->arm = 0;
    l->roll.drive = CABER_LOCKED;
    assert_habit_refused(s, "player.repeat.square: 1.5 deg is not allowed with drive: locked");
    r->square = 0;
    assert_int_equal(habits_create(&s->player, &h, NULL), CABER_OK);
    r->direction = r->ahead = r->out = r->height = 0;
    assert_habit_refused(s, "player.repeat: ");
    *l = kept;
}

static void habits_as_printed(void **state)
{
    const caber_setup *s = *state;
    static const double printed[H] = {5,   2,   4, 1.2, 1,
                                      1.5, 1.1, 7, 7,   5}; /* as late.yaml has them */
    static const char *const unit[H] = {"%", "%", "ms", "%", "deg", "deg", "deg", "mm", "mm", "mm"};
    for (int k = 0; k < H; k++) {
        const caber_habit_note note = caber_habit_about((caber_habit)k);
        assert_string_equal(note.unit, unit[k]);
        assert_close(caber_habit_sd(&s->player.repeat, (caber_habit)k) * note.factor, printed[k],
                     1e-14, 0);
    }
    assert_string_equal(caber_habit_about(CABER_HABIT_OUT).name, "out");
}

/* ------------------------------------------------------------------ drawing */

/* Two of them: L = (1, 0; r, sqrt(1 - r^2)). */
static void two_that_go_together(void **state)
{
    caber_setup *s = *state;
    caber_pairing p = {CABER_HABIT_HEIGHT, CABER_HABIT_PEAK, 0.6};
    habits h, plain;
    double z[H], e[H];
    assert_int_equal(habits_create(&s->player, &plain, NULL), CABER_OK);
    pair(s, &p, 1);
    assert_int_equal(habits_create(&s->player, &h, NULL), CABER_OK);
    for (size_t i = 0; i < 20; i++) {
        habits_draw(&h, 3, i, z);
        habits_draw(&plain, 3, i, e);
        for (int k = 0; k < H - 1; k++)
            assert_close(z[k], e[k], 1e-8, 0);
        assert_close(z[CABER_HABIT_HEIGHT], 0.6 * e[CABER_HABIT_PEAK] + 0.8 * e[CABER_HABIT_HEIGHT],
                     0, 1e-8);
    }
}

/* A swing is drawn alike whatever was drawn before, and whatever another habit's size. */
static void common_numbers(void **state)
{
    caber_setup *s = *state;
    habits h, other;
    double z[H], again[H], next[H];
    assert_int_equal(habits_create(&s->player, &h, NULL), CABER_OK);
    s->player.repeat.hub = 0;
    s->head.mass *= 1.1;
    assert_int_equal(habits_create(&s->player, &other, NULL), CABER_OK);
    habits_draw(&h, 1, 7, z);
    habits_draw(&other, 1, 8, next);
    habits_draw(&other, 1, 7, again);
    assert_memory_equal(z, again, sizeof z);
    for (int k = 0; k < H; k++)
        assert_true(z[k] != next[k]);
    habits_draw(&h, 2, 7, again);
    for (int k = 0; k < H; k++)
        assert_true(z[k] != again[k]);
}

/* ------------------------------------------------------------------ what each habit changes */

/* The usual player with one habit at z, and that the rest is as it was once `back` is copied over. */
static caber_player one(const caber_setup *s, caber_habit k, double z)
{
    habits h;
    double all[H] = {0};
    caber_player out;
    assert_int_equal(habits_create(&s->player, &h, NULL), CABER_OK);
    habits_apply(&h, &s->player, all, &out);
    assert_memory_equal(&out, &s->player, sizeof out); /* z = 0: the usual swing */
    all[k] = z;
    habits_apply(&h, &s->player, all, &out);
    return out;
}

static void loads(void **state)
{
    caber_setup *s = *state;
    const caber_player *u = &s->player;
    s->player.ball_down = 1.3;
    s->player.ball_out = -0.02;
    caber_player v = one(s, CABER_HABIT_RISE, 2);
    assert_close(v.load.grip.rise, u->load.grip.rise * exp(0.1), 1e-14, 0);
    v.load.grip.rise = u->load.grip.rise;
    assert_memory_equal(&v, u, sizeof v);
    v = one(s, CABER_HABIT_PEAK, -1);
    assert_close(v.load.grip.peak, u->load.grip.peak * exp(-0.02), 1e-14, 0);
    v.load.grip.peak = u->load.grip.peak;
    assert_memory_equal(&v, u, sizeof v);
    v = one(s, CABER_HABIT_RELEASE, 1.5);
    assert_close(v.load.grip.release, u->load.grip.release + 6e-3, 1e-14, 0);
    assert_close(v.load.grip.late_onset, u->load.grip.late_onset + 6e-3, 1e-14, 0);
    v.load.grip.release = u->load.grip.release;
    v.load.grip.late_onset = u->load.grip.late_onset;
    assert_memory_equal(&v, u, sizeof v);
    v = one(s, CABER_HABIT_HUB, 1);
    assert_close(v.load.hub.peak, u->load.hub.peak * exp(0.012), 1e-14, 0);
    v.load.hub.peak = u->load.hub.peak;
    assert_memory_equal(&v, u, sizeof v);
}

static void angles(void **state)
{
    caber_setup *s = *state;
    const caber_player *u = &s->player;
    s->player.ball_down = 1.3;
    s->player.ball_out = -0.02;
    const double deg = 1 / CABER_DEG;
    caber_player v = one(s, CABER_HABIT_ARM, 2);
    assert_close(v.start_arm, u->start_arm + 2 * deg, 1e-14, 0);
    v.start_arm = u->start_arm;
    assert_memory_equal(&v, u, sizeof v);
    v = one(s, CABER_HABIT_SQUARE, -2);
    assert_close(v.load.roll.square, u->load.roll.square - 3 * deg, 1e-14, 0);
    v.load.roll.square = u->load.roll.square;
    assert_memory_equal(&v, u, sizeof v);
    v = one(s, CABER_HABIT_DIRECTION, 1);
    assert_close(v.direction, u->direction + 1.1 * deg, 1e-14, 0);
    v.direction = u->direction;
    assert_memory_equal(&v, u, sizeof v);
}

/* Up is sin(incl) Y + cos(incl) Z; what `out` does is level, square to X, and as long as it says. */
static void the_ball(void **state)
{
    caber_setup *s = *state;
    const caber_player *u = &s->player;
    s->player.ball_down = 1.3;
    s->player.ball_out = -0.02;
    const double si = sin(u->inclination), ci = cos(u->inclination);
    caber_player v = one(s, CABER_HABIT_AHEAD, 1);
    assert_close(v.ball_ahead, u->ball_ahead + 7e-3, 1e-14, 0);
    v.ball_ahead = u->ball_ahead;
    assert_memory_equal(&v, u, sizeof v);
    v = one(s, CABER_HABIT_HEIGHT, 1);
    double y = u->ball_down - v.ball_down, z = v.ball_out - u->ball_out;
    assert_close(y * si + z * ci, 5e-3, 1e-12, 0);
    assert_close(y * ci - z * si, 0, 0, 1e-15);
    v = one(s, CABER_HABIT_OUT, 1);
    y = u->ball_down - v.ball_down, z = v.ball_out - u->ball_out;
    assert_close(y * si + z * ci, 0, 0, 1e-15);
    assert_close(hypot(y, z), 7e-3, 1e-12, 0);
    assert_true(z > 0);
    assert_true(v.ball_ahead == u->ball_ahead);
}

/* ------------------------------------------------------------------ the strike */

static caber_swing swing(const caber_setup *s)
{
    caber_swing out;
    caber_message m;
    if (swing_once(s, &out, NULL, &m) != CABER_OK)
        fail_msg("%s", m.text);
    return out;
}

/* The ball laid down is the one that the open places mean: the same strike. Moved, it is met off that by
 * its move along the face. The shaft bends alike, since the ball enters nothing but the strike. */
static void the_ball_stays(void **state)
{
    caber_setup *s = *state;
    s->settings.modes = 4;
    s->settings.stations = 8;
    s->settings.elements = 8;
    const caber_swing open = swing(s);
    assert_true(open.ball[0] == s->player.ball_ahead);
    habits_fix_ball(&s->player, &open);
    const caber_swing fixed = swing(s);
    assert_memory_equal(&fixed.bent, &open.bent, sizeof fixed.bent);
    assert_memory_equal(fixed.ball, open.ball, sizeof fixed.ball);
    /* X, up and square to both, in ground axes (target, up, side). */
    const double d = s->player.direction, across[3] = {-sin(d), 0, cos(d)};
    const double *n = open.head.normal, *t = open.head.toe;
    const double high[3] = {t[1] * n[2] - t[2] * n[1], t[2] * n[0] - t[0] * n[2],
                            t[0] * n[1] - t[1] * n[0]};
    const caber_player usual = s->player;
    s->player = one(s, CABER_HABIT_OUT, 1);
    caber_swing moved = swing(s);
    assert_close(moved.bent.strike_toe - open.bent.strike_toe,
                 7e-3 * (across[0] * t[0] + across[2] * t[2]), 0, 1e-12);
    assert_close(moved.bent.strike_high - open.bent.strike_high,
                 7e-3 * (across[0] * high[0] + across[2] * high[2]), 0, 1e-12);
    s->player = usual;
    s->player = one(s, CABER_HABIT_HEIGHT, -1);
    moved = swing(s);
    assert_close(moved.bent.strike_toe - open.bent.strike_toe, -5e-3 * t[1], 0, 1e-12);
    assert_close(moved.bent.strike_high - open.bent.strike_high, -5e-3 * high[1], 0, 1e-12);
    assert_true(moved.bent.head_speed == open.bent.head_speed);
    s->player = usual;
}

#define CASE(test) cmocka_unit_test_setup_teardown(test, open_setup, close_setup)

int main(void)
{
    const struct CMUnitTest tests[] = {CASE(pairs_that_cannot_be),
                                       CASE(matrices_that_cannot_be),
                                       CASE(loads_that_do_not_vary),
                                       CASE(habits_as_printed),
                                       CASE(two_that_go_together),
                                       CASE(common_numbers),
                                       CASE(loads),
                                       CASE(angles),
                                       CASE(the_ball),
                                       CASE(the_ball_stays)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
