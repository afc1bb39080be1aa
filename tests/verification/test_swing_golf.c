/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Facts of golf that were measured or computed by others, held against the demo clubs. The shafts
 * and players are invented, so magnitudes are bounds, and signs are what is checked. More of them,
 * side by side with the studies' own set-ups: test_golf_studies.py. */
#include "record.h"
#include "setups.h"
#include "shaft/modes.h"

/* ------------------------------------------------------------------ cpm */

/* The invented profile: EI over the distance from the tip; 60 g on 1.13 m. The last row, inside the
 * clamp, only ends the table. */
static const double profile_at_m[] = {0, .1, .2, .3, .4, .5, .6, .7, .8, .9, 1.0, 1.1, 1.13};
static const double profile_ei[] = {20, 21, 23, 27, 31, 35, 39, 44, 50, 56, 62, 66, 67.2};
enum { PROFILE_ROWS = sizeof profile_ei / sizeof profile_ei[0] };

/* Cycles a minute with 127 mm of butt clamped and a point of 205 g on the tip, the assumption under
 * which the profile has 239 cpm. EI is scaled over the tip `over` m. */
static double cpm(double ei_scale, double over)
{
    caber_station rows[PROFILE_ROWS];
    for (int i = 0; i < PROFILE_ROWS; i++)
        rows[i] = (caber_station){.at = profile_at_m[i],
                                  .ei = profile_ei[i],
                                  .gj = profile_ei[i] / 2,
                                  .mass = 0.060 / 1.13,
                                  .diameter = 0.010};
    const caber_shaft shaft = {
        .length = 1.13, .density = 1550, .station_count = PROFILE_ROWS, .stations = rows};
    caber_section item = {
        .from = 0, .to = over, .ei_scale = ei_scale, .gj_scale = 1, .mass_scale = 1};
    const caber_sections sections = {1, &item};
    caber_message message;
    profile *p = NULL;
    beam *b = NULL;
    modes *found = NULL;
    setups_fine(profile_create(&shaft, &sections, &p, &message), &message);
    const beam_shape shape = {.profile = p, .held_at = 1.13 - 0.127, .end_at = 0, .element = 0.05};
    const beam_body point = {.mass = 0.205};
    setups_fine(modes_refine(shape, &point, &b, &message), &message);
    setups_fine(modes_create(b, 2, &found, &message), &message);
    const double out = 60 * found->omega[0] / (2 * SETUPS_PI);
    modes_free(found);
    beam_free(b);
    profile_free(p);
    return out;
}

/* Three drivers alike but for stiffness measured 217, 245 and 272 cpm (N. F. Betzler 2010, PhD
 * thesis, Edinburgh Napier University, abstract, read): 0.83, 1.05 and 1.30 times the EI of the
 * profile of 239 cpm, whose scale factors have two digits: 1 cpm. */
static void three_stiffnesses(void **state)
{
    (void)state;
    assert_close(cpm(1, 1.13), 239, 0, 0.5);
    assert_close(cpm(0.83, 1.13), 217, 0, 1);
    assert_close(cpm(1.05, 1.13), 245, 0, 1);
    assert_close(cpm(1.30, 1.13), 272, 0, 1);
}

/* Flexibility of the profile under an end force, integral(x^2/EI dx) from the tip to the clamp, by
 * the midpoint rule on the polygon of the readings. */
static double flexibility(double ei_scale, double over)
{
    enum { STEPS = 20000 };
    const double free_length = 1.13 - 0.127, h = free_length / STEPS;
    double sum = 0;
    for (int i = 0; i < STEPS; i++) {
        const double x = (i + 0.5) * h;
        int k = 0;
        while (profile_at_m[k + 1] < x)
            k++;
        const double part = (x - profile_at_m[k]) / (profile_at_m[k + 1] - profile_at_m[k]);
        const double ei = profile_ei[k] + part * (profile_ei[k + 1] - profile_ei[k]);
        sum += h * x * x / (x < over ? ei_scale * ei : ei);
    }
    return sum;
}

/* cpm cannot see a firm tip. With nearly all the mass on the tip the frequency goes like the
 * root of the stiffness under an end force (Rayleigh), of which the tip 300 mm have a twentieth. */
static void cpm_does_not_see_a_firm_tip(void **state)
{
    (void)state;
    const double rise = cpm(1.2, 0.3) / cpm(1, 0.3) - 1;
    const record_source rayleigh = {RECORD_INDEPENDENT,
                                    "Rayleigh: root of the stiffness under an end force"};
    verify("+20 % EI over the tip 300 mm: rise of the frequency", rayleigh, "%", 100 * rise,
           100 * (sqrt(flexibility(1, 0.3) / flexibility(1.2, 0.3)) - 1), 0.1, 0);
    assert_true(rise > 0 && rise < 0.01);
}

/* ------------------------------------------------------------------ the swing */

static caber_swing swing_scaled(const char *name, double factor)
{
    caber_setup *s = setups_read(name);
    setups_stiffen(s, factor);
    const caber_swing out = setups_swing(s, NULL);
    caber_setup_free(s);
    return out;
}

/* Of the three drivers, and of the rows of this file's swings. */
static const double stiffness[] = {0.83, 1.05, 1.30};
static const char *const players[] = {"neutral-quick", "neutral-late", "neutral-smooth"};

/* The same torques with the three stiffnesses above: 0.1 m/s or less apart (S. J. MacKenzie
 * 2005, PhD thesis, Saskatchewan, read). Golfers: 0.45 % with the softer (N. F. Betzler et al.
 * 2012, Sports Biomech. 11:223, abstract, read), which 0.1 m/s is well within. */
static void speed_hardly_follows_stiffness(void **state)
{
    (void)state;
    const record_source thesis = {
        RECORD_PUBLISHED, "S. J. MacKenzie 2005, PhD thesis, Saskatchewan: 0.1 m/s or less"};
    double spread = 0;
    for (size_t i = 0; i < 3; i++) {
        double least = HUGE_VAL, most = 0;
        for (int k = 0; k < 3; k++) {
            const double v = swing_scaled(players[i], stiffness[k]).bent.head_speed;
            least = fmin(least, v);
            most = fmax(most, v);
        }
        spread = fmax(spread, most - least);
    }
    verify_within("head speed over 217, 245, 272 cpm, EI and GJ scaled: largest spread of three "
                  "players",
                  thesis, "m/s", spread, 0.1);
}

/* A rigid shaft costs much less than the kick (MacKenzie 2005, read: a kick of some 10 m/s, yet
 * only 1.87 m/s lost): the hands are faster where no shaft straightens. Here, with the same
 * torques, a rigid shaft even gains a little, as the wrist's couple is given and does not notice a
 * spring in series; against a wrist stop, with the timing chosen for each shaft, it loses as
 * published (test_golf_studies.py). What is held to here is that the difference is less than
 * half of what straightening adds to the head at that moment. */
static void kick_is_not_additive(void **state)
{
    (void)state;
    for (size_t i = 0; i < 3; i++) {
        const caber_swing real = swing_scaled(players[i], 1), rigid = swing_scaled(players[i], 100);
        const double kick = real.bent.shaft_speed_gain;
        const double lost = real.bent.head_speed - rigid.bent.head_speed;
        assert_true(kick > 1);
        assert_close(rigid.bent.shaft_speed_gain, 0, 0, 0.1);
        assert_true(fabs(lost) < kick / 2);
        /* And by so much the hands are slower with the real shaft. */
        assert_close(rigid.straight.head_speed - real.straight.head_speed, kick - lost, 0, 0.1);
    }
}

/* A softer shaft gives more loft and lie change from bending (S. J. MacKenzie, D. E. Boucher 2016,
 * J. Sports Sci., abstract, read, P < .001), all else equal. */
static void softer_gives_more_loft(void **state)
{
    (void)state;
    for (size_t i = 0; i < 3; i++) {
        caber_impact before = {.loft_change = HUGE_VAL, .lie_change = -HUGE_VAL};
        for (int k = 0; k < 3; k++) {
            const caber_impact now = swing_scaled(players[i], stiffness[k]).bent;
            assert_true(now.loft_change > 0 && now.loft_change < before.loft_change);
            assert_true(now.lie_change < 0 && now.lie_change > before.lie_change);
            before = now;
        }
    }
}

/* The same of the tip alone: the three demo shafts differ in nothing but it. */
static void softer_tip_gives_more_loft(void **state)
{
    (void)state;
    static const char *const loads[] = {"quick", "late", "smooth"};
    static const char *const tips[] = {"soft-tip", "neutral", "firm-tip"};
    for (size_t i = 0; i < 3; i++) {
        double before = HUGE_VAL;
        for (size_t k = 0; k < 3; k++) {
            char name[64];
            snprintf(name, sizeof name, "%s-%s", tips[k], loads[i]);
            const double now = swing_scaled(name, 1).bent.loft_change;
            assert_true(now < before);
            before = now;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(three_stiffnesses),
                                       cmocka_unit_test(cpm_does_not_see_a_firm_tip),
                                       cmocka_unit_test(speed_hardly_follows_stiffness),
                                       cmocka_unit_test(kick_is_not_additive),
                                       cmocka_unit_test(softer_gives_more_loft),
                                       cmocka_unit_test(softer_tip_gives_more_loft)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
