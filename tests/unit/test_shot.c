/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The ball after a swing: the signs of what is said of it, by symmetry and by which way a club
 * sends a ball; what is refused; both clubs of a swing. What a strike and a flight are in numbers
 * is checked with impact and flight. */
#include <stdlib.h>

#include "caber.h"
#include "check.h"
#include "study/shot.h"
#include "swing/once.h"
#include "verification/setups.h"

static caber_swing swing_of(const caber_setup *s)
{
    caber_message message;
    caber_swing swing;
    setups_fine(swing_once(s, &swing, NULL, &message), &message);
    return swing;
}

/* How a head is held and swung: all angles in rad. */
typedef struct aim {
    double loft, open; /* of the face; open: it looks away from the golfer */
    double path;       /* in-to-out positive */
} aim;

/* A driver's head at 45 m/s, its face before and a little above its centre of mass. */
static caber_arrival head_at(aim a)
{
    const double loft[2] = {cos(a.loft), sin(a.loft)}, open[2] = {cos(a.open), sin(a.open)};
    return (caber_arrival){.mass = 0.205,
                           .inertia = {2.8e-4, 5.2e-4, 3.8e-4, 0.3e-4, 0.1e-4, -0.2e-4},
                           .velocity = {45 * cos(a.path), 0, 45 * sin(a.path)},
                           .speed = 45,
                           .face = {0.036, 0.002, 0},
                           .normal = {loft[0] * open[0], loft[1], loft[0] * open[1]},
                           .toe = {-open[1], 0, open[0]}};
}

static caber_shot shot_of(const caber_setup *s, const caber_arrival *head, caber_place place)
{
    caber_message message;
    caber_shot shot;
    if (caber_shot_run(s, head, place, &shot, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return shot;
}

/* To the last bit. */
static void assert_same(const caber_shot *a, const caber_shot *b)
{
    assert_memory_equal(a, b, offsetof(caber_shot, outside));
    assert_int_equal(a->outside, b->outside);
}

static const double deg = 1 / CABER_DEG;
static const caber_place middle = {0, 0};

/* How far from the line of its launch the ball lands, away from the golfer positive. */
static double curved(const caber_shot *shot)
{
    return shot->side - shot->carry * tan(shot->launch_direction);
}

/* ------------------------------------------------------------------ symmetry */

/* The mirror image across the vertical plane of the target. Toe is turned about, so that up the
 * face stays up. */
static caber_arrival mirrored(const caber_arrival *h)
{
    caber_arrival m = *h;
    m.velocity[2] *= -1;
    m.face[2] *= -1;
    m.normal[2] *= -1;
    m.spin[0] *= -1; /* an axial vector */
    m.spin[1] *= -1;
    m.inertia[4] *= -1;
    m.inertia[5] *= -1;
    m.toe[0] *= -1;
    m.toe[1] *= -1;
    return m;
}

/* Every number is that of the image: what points to the side changes its sign, nothing else. */
static void a_mirrored_strike_flies_the_mirrored_way(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    s->air.wind_along = 3;
    s->air.wind_across = 4;
    caber_arrival head = head_at((aim){11 * deg, 2 * deg, -3 * deg});
    head.spin[0] = 8;
    head.spin[1] = -35;
    head.spin[2] = 20;
    const caber_shot a = shot_of(s, &head, (caber_place){0.012, 0.008});
    s->air.wind_across = -4;
    const caber_arrival other = mirrored(&head);
    const caber_shot b = shot_of(s, &other, (caber_place){-0.012, 0.008});
    static const size_t turned[] = {offsetof(caber_shot, struck_toe),
                                    offsetof(caber_shot, sidespin),
                                    offsetof(caber_shot, launch_direction),
                                    offsetof(caber_shot, spin_axis), offsetof(caber_shot, side)};
    size_t count;
    const caber_field *fields = caber_shot_fields(&count);
    for (size_t i = 0; i < count; i++) {
        double sign = 1;
        for (size_t k = 0; k < sizeof turned / sizeof *turned; k++)
            if (fields[i].offset == turned[k])
                sign = -1;
        const double value = caber_shot_value(&a, &fields[i]);
        assert_true(isfinite(value) && value != 0);
        assert_close(sign * caber_shot_value(&b, &fields[i]), value, 1e-8, 0);
    }
    caber_setup_free(s);
}

/* A left-handed player is a mirror image; the wind over the course is not mirrored with him. */
static void a_left_handed_player_has_the_same_numbers(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    const caber_arrival head = head_at((aim){11 * deg, 1 * deg, 0});
    const caber_shot still = shot_of(s, &head, middle);
    s->air.wind_across = 6;
    const caber_shot right = shot_of(s, &head, middle);
    s->player.handed = CABER_LEFT;
    const caber_shot left = shot_of(s, &head, middle);
    s->air.wind_across = -6;
    const caber_shot left_mirrored = shot_of(s, &head, middle);
    assert_same(&right, &left_mirrored);
    /* From left to right: away from the right-handed one, towards the left-handed one. */
    assert_true(right.side > still.side + 5);
    assert_true(left.side < still.side - 5);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ where a club sends the ball */

static void a_square_strike_flies_straight(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    s->head.bulge = s->head.roll = 0;
    caber_arrival head = head_at((aim){11 * deg, 0, 0});
    head.inertia[4] = head.inertia[5] = 0; /* nothing that would turn it aside */
    const caber_shot shot = shot_of(s, &head, middle);
    assert_close(shot.launch_direction, 0, 0, 1e-12);
    assert_close(shot.sidespin, 0, 0, 1e-9);
    assert_close(shot.side, 0, 0, 1e-9);
    assert_true(shot.backspin > 0);
    /* The ball leaves between where the head goes and where the face looks. */
    assert_true(shot.launch_angle > 0 && shot.launch_angle < 11 * deg);
    assert_close(shot.smash, shot.ball_speed / 45, 1e-15, 0);
    caber_setup_free(s);
}

static void more_loft_launches_higher_and_spins_more(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    caber_shot last = {.launch_angle = 0};
    for (int loft = 5; loft <= 20; loft += 5) {
        const caber_arrival head = head_at((aim){loft * deg, 0, 0});
        const caber_shot shot = shot_of(s, &head, middle);
        assert_true(shot.launch_angle > last.launch_angle);
        assert_true(shot.backspin > last.backspin);
        assert_true(shot.apex > last.apex);
        assert_true(shot.descent_angle > last.descent_angle);
        last = shot;
    }
    caber_setup_free(s);
}

/* The ball starts nearly where the face looks and curves away from the path. */
static void an_open_face_sends_the_ball_away_and_curves_it_further(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    for (int sign = -1; sign <= 1; sign += 2) {
        const caber_arrival head = head_at((aim){11 * deg, sign * 4 * deg, 0});
        const caber_shot shot = shot_of(s, &head, middle);
        assert_true(sign * shot.launch_direction > 2 * deg);
        assert_true(sign * shot.launch_direction < 4 * deg);
        assert_true(sign * shot.sidespin > 30);
        assert_true(sign * shot.spin_axis > 0);
        assert_true(sign * curved(&shot) > 5);
        /* The face square to the target, the path the other way: it still curves to that side. */
        const caber_arrival across = head_at((aim){11 * deg, 0, sign * -4 * deg});
        const caber_shot cut = shot_of(s, &across, middle);
        assert_true(sign * cut.launch_direction < 0);
        assert_true(sign * cut.sidespin > 30);
        assert_true(sign * curved(&cut) > 5);
    }
    caber_setup_free(s);
}

/* Off the toe the head is turned open, its face drags the ball's the other way (gear effect), and
 * the bulge starts it out to the toe's side: it curves back. From common practice. */
static void a_ball_off_the_toe_curves_back(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    s->head.bulge = s->head.roll = 0.3;
    for (int sign = -1; sign <= 1; sign += 2) {
        const caber_arrival head = head_at((aim){11 * deg, 0, 0});
        const caber_shot centred = shot_of(s, &head, middle);
        const caber_shot shot = shot_of(s, &head, (caber_place){sign * 0.02, 0});
        assert_true(sign * (shot.launch_direction - centred.launch_direction) > 1 * deg);
        assert_true(sign * (shot.sidespin - centred.sidespin) < -10);
        assert_true(sign * (curved(&shot) - curved(&centred)) < -3);
        assert_true(shot.ball_speed < centred.ball_speed);
    }
    caber_setup_free(s);
}

/* Likewise up and down: high on the face launches higher and spins less. From common practice. */
static void a_ball_high_on_the_face_spins_less(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    const caber_arrival head = head_at((aim){11 * deg, 0, 0});
    const caber_shot high = shot_of(s, &head, (caber_place){0, 0.01});
    const caber_shot low = shot_of(s, &head, (caber_place){0, -0.01});
    assert_true(high.launch_angle > low.launch_angle + 2 * deg);
    assert_true(high.backspin < low.backspin - 50);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ the sets and the air */

static void the_sets_bound_the_carry(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    const caber_arrival head = head_at((aim){11 * deg, 1 * deg, 0});
    double low = INFINITY, high = 0;
    caber_shot by[CABER_COEFFICIENT_SETS];
    for (int set = 0; set < CABER_COEFFICIENT_SETS; set++) {
        s->ball.coefficients = (caber_coefficients)set;
        by[set] = shot_of(s, &head, middle);
        low = fmin(low, by[set].carry);
        high = fmax(high, by[set].carry);
    }
    assert_true(high > low);
    for (int set = 0; set < CABER_COEFFICIENT_SETS; set++) {
        assert_true(by[set].carry_low == low && by[set].carry_high == high);
        assert_int_equal(by[set].outside, by[0].outside);
        assert_true(by[set].backspin == by[0].backspin);
    }
    caber_setup_free(s);
}

/* Smits & Smith's formulas are for a rim that turns at 0.08 to 0.2 of the ball's speed: a ball that
 * hardly spins is outside of that. */
static void a_ball_outside_a_range_is_marked(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    const caber_arrival head = head_at((aim){11 * deg, 0, 0});
    s->head.friction = 0.001;
    assert_true(shot_of(s, &head, middle).outside >> CABER_SMITS_SMITH & 1);
    caber_setup_free(s);
}

static void wind_along_lengthens_or_shortens(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    const caber_arrival head = head_at((aim){11 * deg, 0, 0});
    const caber_shot still = shot_of(s, &head, middle);
    s->air.wind_along = 5;
    const caber_shot helped = shot_of(s, &head, middle);
    s->air.wind_along = -5;
    const caber_shot hindered = shot_of(s, &head, middle);
    assert_true(hindered.carry < still.carry - 5 && still.carry + 5 < helped.carry);
    assert_true(hindered.descent_angle > still.descent_angle);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ refused */

static void what_cannot_be_struck_or_flown_is_said(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    caber_message message;
    caber_shot shot;
    caber_arrival head = head_at((aim){-3 * deg, 0, 0});
    assert_int_equal(caber_shot_run(s, &head, middle, &shot, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "does not rise"));
    assert_non_null(strstr(message.text, "deg below the horizontal"));

    head = head_at((aim){11 * deg, 0, 0});
    assert_int_equal(caber_shot_run(s, &head, (caber_place){0.4, 0}, &shot, &message),
                     CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "400.0 mm to the toe"));

    head.velocity[0] = -head.velocity[0];
    assert_int_equal(caber_shot_run(s, &head, middle, &shot, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "away from the ball"));

    head = head_at((aim){11 * deg, 0, 0});
    s->head.restitution = 1;
    s->head.restitution_loss = 0.01;
    assert_int_equal(caber_shot_run(s, &head, middle, &shot, NULL), CABER_BAD_INPUT);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ both clubs of a swing */

static void assert_no_number(const caber_shot *shot)
{
    size_t count;
    const caber_field *fields = caber_shot_fields(&count);
    for (size_t i = 0; i < count; i++)
        assert_true(isnan(caber_shot_value(shot, &fields[i])));
    assert_int_equal(shot->outside, 0);
}

static caber_shot_pair pair_of(const caber_setup *s, const caber_swing *swing)
{
    caber_message message;
    caber_shot_pair pair;
    if (caber_shot_pair_run(s, swing, &pair, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_int_equal(message.text[0], 0);
    return pair;
}

static void both_clubs_of_a_swing(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    const caber_swing swing = swing_of(s);
    const caber_shot_pair centred = pair_of(s, &swing);
    assert_true(centred.bent_flies && centred.straight_flies);
    assert_true(centred.bent.struck_toe == 0 && centred.bent.struck_high == 0);
    assert_close(centred.bent.smash, centred.bent.ball_speed / swing.bent.head_speed, 1e-14, 0);
    assert_close(centred.straight.smash, centred.straight.ball_speed / swing.straight.head_speed,
                 1e-14, 0);
    const caber_shot bent = shot_of(s, &swing.head, middle);
    const caber_shot straight = shot_of(s, &swing.straight_head, middle);
    assert_same(&centred.bent, &bent);
    assert_same(&centred.straight, &straight);

    s->player.strike = CABER_PLACED;
    const caber_shot_pair placed = pair_of(s, &swing);
    assert_true(placed.bent.struck_toe == swing.bent.strike_toe);
    assert_true(placed.bent.struck_high == swing.bent.strike_high);
    assert_true(placed.bent.ball_speed != centred.bent.ball_speed);
    assert_same(&placed.straight, &straight);
    caber_setup_free(s);
}

/* The same to the last bit, whatever the work flew before. */
static void work_is_reused(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    caber_message message;
    shot_work *work;
    caber_shot first, again, between;
    const caber_arrival one = head_at((aim){11 * deg, 0, 0}),
                        two = head_at((aim){18 * deg, 0.05, 0});
    assert_int_equal(shot_work_create(&work, &message), CABER_OK);
    assert_int_equal(shot_run(work, s, &one, middle, &first, &message), CABER_OK);
    assert_int_equal(shot_run(work, s, &two, middle, &between, &message), CABER_OK);
    const caber_arrival down = head_at((aim){-3 * deg, 0, 0});
    assert_int_equal(shot_run(work, s, &down, middle, &between, &message), CABER_BAD_INPUT);
    assert_int_equal(shot_run(work, s, &one, middle, &again, &message), CABER_OK);
    assert_same(&first, &again);
    shot_work_free(work);
    shot_work_free(NULL);
    caber_setup_free(s);
}

static void a_ball_that_does_not_fly_is_no_error(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    caber_swing swing = {.met_ball = true,
                         .head = head_at((aim){11 * deg, 0, 0}),
                         .straight_head = head_at((aim){-3 * deg, 0, 0})};
    caber_shot_pair pair = pair_of(s, &swing);
    assert_true(pair.bent_flies && !pair.straight_flies);
    assert_int_equal(pair.bent_why.text[0], 0);
    assert_non_null(strstr(pair.straight_why.text, "does not rise"));
    assert_no_number(&pair.straight);
    assert_true(pair.bent.carry > 0);

    s->settings.until = 0.1;
    swing.met_ball = false;
    pair = pair_of(s, &swing);
    assert_false(pair.bent_flies || pair.straight_flies);
    assert_non_null(strstr(pair.bent_why.text, "0.1 s"));
    assert_non_null(strstr(pair.straight_why.text, "settings.until"));
    assert_no_number(&pair.bent);
    assert_no_number(&pair.straight);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_mirrored_strike_flies_the_mirrored_way),
        cmocka_unit_test(a_left_handed_player_has_the_same_numbers),
        cmocka_unit_test(a_square_strike_flies_straight),
        cmocka_unit_test(more_loft_launches_higher_and_spins_more),
        cmocka_unit_test(an_open_face_sends_the_ball_away_and_curves_it_further),
        cmocka_unit_test(a_ball_off_the_toe_curves_back),
        cmocka_unit_test(a_ball_high_on_the_face_spins_less),
        cmocka_unit_test(the_sets_bound_the_carry),
        cmocka_unit_test(a_ball_outside_a_range_is_marked),
        cmocka_unit_test(wind_along_lengthens_or_shortens),
        cmocka_unit_test(what_cannot_be_struck_or_flown_is_said),
        cmocka_unit_test(both_clubs_of_a_swing),
        cmocka_unit_test(work_is_reused),
        cmocka_unit_test(a_ball_that_does_not_fly_is_no_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
