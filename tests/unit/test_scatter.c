/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A player's swings: the list of outputs, one swing of many against the same swing made by itself, what is
 * refused, failures, and what must hold whatever the figures. */
#include <stdlib.h>

#include "check.h"
#include "study/habit.h"
#include "study/outputs.h"
#include "study/scatter.h"
#include "study/spread.h"
#include "swing/once.h"
#include "verification/setups.h"

enum { H = CABER_HABITS };

/* A demo setup that is swung quickly. */
static caber_setup *setup_make(const char *name)
{
    caber_setup *s = setups_read(name);
    s->settings.modes = 4;
    s->settings.stations = 6;
    s->settings.elements = 8;
    s->settings.tolerance = 1e-5;
    return s;
}

/* ------------------------------------------------------------------ the list of outputs */

static void every_output_once(void **state)
{
    (void)state;
    size_t impact, shot;
    caber_impact_fields(&impact);
    caber_shot_fields(&shot);
    const size_t count = caber_output_count();
    assert_int_equal(count, impact - 1 + shot);
    caber_outcome o;
    memset(&o, 0, sizeof o);
    for (size_t i = 0; i < count; i++) {
        const caber_field *f = caber_output_field(i);
        assert_string_not_equal(f->name, "energy_residual");
        assert_int_equal(caber_output_find(f->name), i);
        assert_int_equal(caber_output_of_ball(i), i >= impact - 1);
        char *in = caber_output_of_ball(i) ? (char *)&o.shot : (char *)&o.swing.bent;
        *(double *)(void *)(in + f->offset) = 1 + (double)i;
    }
    for (size_t i = 0; i < count; i++)
        assert_true(caber_outcome_number(&o, i) == 1 + (double)i);
    assert_int_equal(caber_output_find("energy_residual"), count);
    assert_true(o.swing.bent.head_speed == 1 && o.shot.descent_angle == (double)count);
}

static void angles_that_go_round(void **state)
{
    (void)state;
    const size_t axis = caber_output_find("spin_axis_deg"), carry = caber_output_find("carry_m");
    const size_t rate = caber_output_find("closure_rate_deg_s");
    const double turn = 360 / CABER_DEG;
    assert_close(output_near(axis, -3.1, 3.1), turn - 3.1, 1e-15, 0);
    assert_close(output_near(axis, 3.1, -3.1), 3.1 - turn, 1e-15, 0);
    assert_true(output_near(axis, 0.3, -0.1) == 0.3);
    assert_true(output_near(carry, 200, 1) == 200);
    assert_true(output_near(rate, 40, 1) == 40); /* a speed */
}

/* ------------------------------------------------------------------ one swing of many */

static void assert_same_outcome(const caber_outcome *a, const caber_outcome *b)
{
    assert_memory_equal(&a->swing.bent, &b->swing.bent, sizeof(caber_impact));
    assert_memory_equal(&a->swing.straight, &b->swing.straight, sizeof(caber_impact));
    assert_memory_equal(&a->shot, &b->shot, offsetof(caber_shot, outside));
    assert_int_equal(a->shot.outside, b->shot.outside);
}

/* A borrowed club, used for many players, against a model of its own; and the place on the face, which
 * for a usual swing in the middle is the strike off the usual one. */
static void as_by_itself(void **state)
{
    (void)state;
    const caber_scatter_settings how = {.swings = 12, .seed = 4, .threads = 2, .level = 0.95};
    caber_setup *s = setup_make("neutral-quick");
    const caber_setup *const setups[] = {s};
    caber_message m;
    for (int placed = 0; placed < 2; placed++) {
        s->player.strike = placed ? CABER_PLACED : CABER_CENTRED;
        caber_scatter_club club = {0};
        if (scatter_draw(setups, 1, &how, &club, &m) != CABER_OK)
            fail_msg("%s", m.text);
        const caber_impact *usual = &club.usual.swing.bent;
        assert_true(club.usual.flies);
        habits h;
        assert_int_equal(habits_create(&s->player, &h, &m), CABER_OK);
        caber_setup alone = *s;
        habits_fix_ball(&alone.player, &club.usual.swing);
        const caber_player fixed = alone.player;
        for (size_t i = 0; i < 12; i += 5) {
            double z[H];
            caber_outcome got = {.flies = true};
            habits_draw(&h, 4, i, z);
            assert_memory_equal(z, club.drawn + i * H, sizeof z);
            habits_apply(&h, &fixed, z, &alone.player);
            assert_int_equal(swing_once(&alone, &got.swing, NULL, &m), CABER_OK);
            const double back = placed ? 0 : 1;
            const caber_place place = {got.swing.bent.strike_toe - back * usual->strike_toe,
                                       got.swing.bent.strike_high - back * usual->strike_high};
            assert_close(place.toe, club.outcomes[i].shot.struck_toe, 0, 1e-15);
            assert_close(place.high, club.outcomes[i].shot.struck_high, 0, 1e-15);
            const caber_place met = {club.outcomes[i].shot.struck_toe,
                                     club.outcomes[i].shot.struck_high};
            assert_int_equal(caber_shot_run(&alone, &got.swing.head, met, &got.shot, &m), CABER_OK);
            assert_same_outcome(&got, &club.outcomes[i]);
        }
        scatter_club_free(&club);
    }
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ what is refused */

static void assert_refused(const caber_setup *const *setups, size_t count,
                           const caber_scatter_settings *how, const char *begins)
{
    caber_message m;
    caber_scatter *out = (caber_scatter *)(void *)&m;
    assert_int_equal(caber_scatter_run(setups, count, how, &out, &m), CABER_BAD_INPUT);
    assert_null(out);
    if (strncmp(m.text, begins, strlen(begins)) != 0)
        fail_msg("'%s' does not begin with '%s'", m.text, begins);
}

static void wrong_settings(void **state)
{
    (void)state;
    caber_setup *s = setup_make("neutral-late");
    const caber_setup *const setups[] = {s, s};
    caber_scatter_settings how = caber_scatter_default();
    assert_refused(setups, 0, &how, "setups: 0 are not allowed; there must be from 1 to 8");
    how.swings = 99;
    assert_refused(setups, 1, &how, "swings: 99 is not allowed; it must be from 100 to 20000");
    how = caber_scatter_default();
    how.seed = -1;
    assert_refused(setups, 1, &how, "seed: -1 is not allowed");
    how = caber_scatter_default();
    how.threads = 257;
    assert_refused(setups, 1, &how, "threads: 257 is not allowed");
    how = caber_scatter_default();
    how.fairway = (double)NAN;
    assert_refused(setups, 1, &how, "fairway: nan m is not allowed");
    how = caber_scatter_default();
    how.level = 1;
    assert_refused(setups, 1, &how, "level: 100 % is not allowed; it must be from 50 to 99.9 %");
    how = caber_scatter_default();
    how.worth = -0.1;
    assert_refused(setups, 1, &how, "worth: -10 % is not allowed; it must be from 0 to 100 %");
    caber_setup_free(s);
}

static void wrong_setups(void **state)
{
    (void)state;
    caber_setup *s = setup_make("neutral-late"), *other = setup_make("neutral-quick");
    const caber_setup *const setups[] = {s, other};
    const caber_scatter_settings how = caber_scatter_default();
    other->settings.until = 0.1;
    assert_refused(setups, 2, &how,
                   "setup 2 of 2, 'Neutral, quick': settings.until: 0.1 s is not allowed here");
    other->settings.until = 0;
    other->player.load.hub.drive = CABER_LOCKED;
    assert_refused(setups + 1, 1, &how, "player.repeat.hub: 1.8 % is not allowed");
    caber_setup_free(s);
    caber_setup_free(other);
}

/* ------------------------------------------------------------------ swings that fail */

/* The ball moves far enough to be missed: a third of the swings, then few of them. */
static void swings_that_fail(void **state)
{
    (void)state;
    caber_setup *s = setup_make("neutral-late");
    const caber_setup *const setups[] = {s};
    const caber_scatter_settings how = {.swings = 60, .seed = 1, .threads = 1, .level = 0.95};
    const size_t pairings = s->player.repeat.pairing_count;
    caber_pairing *const kept = s->player.repeat.pairings;
    caber_message m;
    caber_scatter_club club = {0};
    s->player.repeat = (caber_repeat){.height = 0.05, .pairings = kept, .pairing_count = pairings};
    assert_int_equal(scatter_draw(setups, 1, &how, &club, &m), CABER_BAD_INPUT);
    assert_non_null(strstr(m.text, " of 60 swings failed, more than 1 in 20; the first, swing "));
    assert_non_null(strstr(m.text, "the ball does not rise"));
    scatter_club_free(&club);
    s->player.repeat.height = 0.014;
    club = (caber_scatter_club){0};
    if (scatter_draw(setups, 1, &how, &club, &m) != CABER_OK)
        fail_msg("%s", m.text);
    assert_in_range(club.draws.failed, 1, 3);
    assert_int_equal(club.unflown, club.draws.failed);
    assert_non_null(strstr(club.draws.failure.text, "the ball does not rise"));
    size_t failed = 0;
    for (size_t i = 60; i-- > 0;)
        if (!club.good[i]) {
            failed++;
            assert_true(club.outcomes[i].swing.bent.head_speed == 0);
            if (failed == club.draws.failed)
                assert_int_equal(i, club.draws.first_failed);
        }
    assert_int_equal(failed, club.draws.failed);
    scatter_club_free(&club);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ the whole */

static void assert_club(const caber_scatter_club *c, size_t swings, double fairway)
{
    const caber_landing *l = &c->landing;
    size_t in = 0;
    double side = 0;
    for (size_t i = 0; i < swings; i++) {
        assert_true(c->good[i]);
        in += fabs(c->outcomes[i].shot.side) <= fairway / 2;
        side += c->outcomes[i].shot.side / (double)swings;
    }
    assert_int_equal(l->fairway.count, in);
    assert_close(l->side, side, 1e-12, 0);
    assert_true(l->fairway.low < l->fairway.share && l->fairway.share < l->fairway.high);
    assert_true(l->within_50.count < l->within_90.count && l->within_90.share > 0.7);
    /* The axes are those of the covariance: trace, determinant, and no covariance across them. */
    const double *s = l->covariance, co = cos(l->turn), si = sin(l->turn);
    assert_close(l->major * l->major + l->minor * l->minor, s[0] + s[1], 1e-12, 0);
    assert_close(l->major * l->minor, sqrt(s[0] * s[1] - s[2] * s[2]), 1e-12, 0);
    assert_close((s[1] - s[0]) * co * si + s[2] * (co * co - si * si), 0, 0, 1e-9);
    assert_close(s[0] * co * co + 2 * s[2] * co * si + s[1] * si * si, l->major * l->major, 1e-9,
                 0);
    const caber_spread *p = &c->spreads[caber_output_find("side_m")];
    assert_close(p->mean, side, 1e-12, 0);
    assert_close(p->sd * p->sd, s[1], 1e-10, 0);
    for (size_t o = 0; o < caber_output_count(); o++) {
        double sum = c->spreads[o].rest;
        for (int k = 0; k < H; k++)
            sum += c->spreads[o].share[k];
        assert_close(sum, 1, 1e-12, 0);
        assert_true(c->spreads[o].rest > -1e-9);
        for (int i = 1; i < CABER_PERCENTILES; i++)
            assert_true(c->spreads[o].percentile[i - 1] < c->spreads[o].percentile[i]);
    }
}

static void assert_mirrored(const caber_contrast *a, const caber_contrast *b, bool ratio)
{
    assert_close(a->value, ratio ? 1 / b->value : -b->value, 1e-9, 1e-12);
    assert_close(a->low, ratio ? 1 / b->high : -b->high, 1e-9, 1e-12);
    assert_close(a->high, ratio ? 1 / b->low : -b->low, 1e-9, 1e-12);
}

static caber_steadier turned(caber_steadier s)
{
    return s == CABER_FIRST_STEADIER   ? CABER_OTHER_STEADIER
           : s == CABER_OTHER_STEADIER ? CABER_FIRST_STEADIER
                                       : s;
}

/* A, B and A again: A beside A is nothing to tell apart, B beside A is A beside B turned over. */
static void shafts_beside_each_other(void **state)
{
    (void)state;
    caber_setup *a = setup_make("soft-tip-quick"), *b = setup_make("firm-tip-quick");
    const caber_setup *const ab[] = {a, b, a}, *const ba[] = {b, a};
    caber_scatter_settings how = caber_scatter_default();
    how.swings = 100;
    caber_scatter *one, *other;
    caber_message m;
    a->player.repeat.height = b->player.repeat.height = 0.004; /* every ball flies */
    if (caber_scatter_run(ab, 3, &how, &one, &m) != CABER_OK ||
        caber_scatter_run(ba, 2, &how, &other, &m) != CABER_OK)
        fail_msg("%s", m.text);
    assert_club(&one->clubs[0], 100, how.fairway);
    assert_club(&one->clubs[1], 100, how.fairway);
    const caber_scatter_contrast *p = &one->contrasts[0], *q = &other->contrasts[0];
    assert_int_equal(p->pairs, 100);
    for (size_t o = 0; o < caber_output_count(); o++) {
        assert_mirrored(&p->outputs[o].difference, &q->outputs[o].difference, false);
        assert_mirrored(&p->outputs[o].ratio, &q->outputs[o].ratio, true);
        assert_close(p->outputs[o].p, q->outputs[o].p, 1e-6, 1e-12);
        const caber_output_contrast *same = &one->contrasts[1].outputs[o];
        assert_true(same->difference.low == 0 && same->difference.high == 0);
        assert_true(same->ratio.low == 1 && same->ratio.high == 1 && same->p == 1);
        assert_int_equal(same->steadier, CABER_NOT_TOLD_APART);
        assert_true(same->alike);
    }
    assert_mirrored(&p->area, &q->area, true);
    assert_mirrored(&p->aimed, &q->aimed, false);
    assert_mirrored(&p->fairway, &q->fairway, false);
    assert_int_equal(p->overall, turned(q->overall));
    assert_int_equal(p->alike, q->alike);
    assert_int_equal(one->contrasts[1].overall, CABER_NOT_TOLD_APART);
    assert_true(one->contrasts[1].alike);
    caber_scatter_free(one);
    caber_scatter_free(other);
    caber_setup_free(a);
    caber_setup_free(b);
}

/* What no habit changes does not vary, to the last bit, and has no causes. */
static void what_does_not_vary(void **state)
{
    (void)state;
    caber_setup *s = setup_make("neutral-smooth");
    const caber_setup *const setups[] = {s, s};
    caber_pairing *const kept = s->player.repeat.pairings;
    s->player.repeat = (caber_repeat){.out = 0.006, .pairings = kept};
    caber_scatter_settings how = caber_scatter_default();
    how.swings = 100;
    caber_scatter *out;
    caber_message m;
    if (caber_scatter_run(setups, 1, &how, &out, &m) != CABER_OK)
        fail_msg("%s", m.text);
    const caber_spread *speed = &out->clubs[0].spreads[caber_output_find("head_speed_mps")];
    const caber_spread *toe = &out->clubs[0].spreads[caber_output_find("struck_toe_mm")];
    assert_true(speed->sd == 0 && speed->sd_low == 0 && speed->sd_high == 0);
    assert_true(speed->mean == speed->usual && speed->mean_high == speed->usual);
    assert_true(speed->rest == 0 && speed->share[CABER_HABIT_OUT] == 0);
    assert_close(toe->share[CABER_HABIT_OUT], 1, 1e-9, 0);
    assert_close(toe->own[CABER_HABIT_OUT], 1, 1e-9, 0);
    const double none[10] = {0}, some[10] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 11};
    const spread_pair pair = spread_ratio(none, some, 10, 0.95);
    assert_true(isnan(pair.ratio.value) && pair.p == 1);
    assert_true(spread_beyond(&pair, 10, 0) == 1 && spread_within(&pair, 10, 1) == 1);
    caber_scatter_free(out);
    s->player.repeat.pairing_count = 0;
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_output_once),  cmocka_unit_test(angles_that_go_round),
        cmocka_unit_test(as_by_itself),       cmocka_unit_test(wrong_settings),
        cmocka_unit_test(wrong_setups),       cmocka_unit_test(swings_that_fail),
        cmocka_unit_test(what_does_not_vary), cmocka_unit_test(shafts_beside_each_other)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
