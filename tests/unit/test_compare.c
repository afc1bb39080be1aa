/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Setups side by side: what is refused, and a player who re-tunes to a load that is known. */
#include <math.h>
#include <string.h>

#include "check.h"
#include "study/retune.h"
#include "swing/once.h"
#include "verification/setups.h"

static void refused(const caber_setup *const *setups, size_t count, caber_compare_settings settings,
                    const char *word)
{
    caber_comparison *found = (caber_comparison *)(void *)&settings;
    caber_message message = {""};
    assert_int_equal(caber_compare_run(setups, count, &settings, &found, &message),
                     CABER_BAD_INPUT);
    assert_null(found);
    assert_non_null(strstr(message.text, word));
}

static void settings_out_of_range(void **state)
{
    (void)state;
    caber_setup *setup = setups_read("neutral-smooth");
    const caber_setup *setups[CABER_COMPARE_MOST + 1];
    for (size_t i = 0; i <= CABER_COMPARE_MOST; i++)
        setups[i] = setup;
    const caber_compare_settings usual = caber_compare_default();
    refused(setups, 0, usual, "setups");
    refused(setups, 1, usual, "setups");
    refused(setups, CABER_COMPARE_MOST + 1, usual, "setups");
    caber_compare_settings wrong = usual;
    wrong.swings = CABER_SWINGS_LEAST - 1;
    refused(setups, 2, wrong, "swings");
    wrong.swings = CABER_SWINGS_MOST + 1;
    refused(setups, 2, wrong, "swings");
    wrong = usual, wrong.seed = -1;
    refused(setups, 2, wrong, "seed");
    wrong = usual, wrong.threads = -1;
    refused(setups, 2, wrong, "threads");
    wrong = usual, wrong.keep = (caber_keep)7;
    refused(setups, 2, wrong, "keep");
    caber_comparison_free(NULL);
    caber_setup_free(setup);
}

/* Of one and the same club the load that delivers what a known load delivers is that load: where the
 * player's is changed first, re-tuning must find the way back. */
static void finds_back(void **state)
{
    (void)state;
    caber_setup *setup = setups_read("neutral-smooth");
    const caber_load known = setup->player.load;
    caber_swing wanted, found;
    caber_retuning r;
    caber_message message = {""};
    assert_int_equal(swing_once(setup, &wanted, NULL, &message), CABER_OK);
    const struct {
        double scale, shift;
    } changes[] = {{1.03, 0}, {1, 2e-3}, {0.96, -3e-3}, {1.02, 1e-3}};
    for (size_t i = 0; i < sizeof changes / sizeof *changes; i++) {
        setup->player.load = known;
        setup->player.load.hub.peak *= changes[i].scale;
        setup->player.load.grip.release += changes[i].shift;
        setup->player.load.grip.late_onset += changes[i].shift;
        assert_int_equal(retune_run(setup, wanted.bent.head_speed, wanted.bent.handle_lean, &r,
                                    &found, &message),
                         CABER_OK);
        /* Both equations hold within 1e-4 of their units, which a hundredth of a per cent of torque and
         * a hundredth of a millisecond move by more. */
        assert_close(r.scale, 1 / changes[i].scale, 1e-4, 0);
        assert_close(r.shift, -changes[i].shift, 0, 1e-5);
        assert_close(setup->player.load.hub.peak, known.hub.peak, 1e-4, 0);
        assert_close(found.bent.head_speed, wanted.bent.head_speed, 0, 1e-4);
        assert_close(found.bent.handle_lean, wanted.bent.handle_lean, 0, 1e-4 / CABER_DEG);
        assert_close(r.speed_off, found.bent.head_speed - wanted.bent.head_speed, 0, 1e-15);
    }
    caber_setup_free(setup);
}

static void says_what_cannot_be_tuned(void **state)
{
    (void)state;
    caber_setup *setup = setups_read("neutral-smooth");
    const caber_load known = setup->player.load;
    caber_swing swing;
    caber_retuning r;
    caber_message message = {""};
    setup->player.load.hub.drive = CABER_MOTION;
    assert_int_equal(retune_run(setup, 40, 0.1, &r, &swing, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "load.hub"));
    setup->player.load = known;
    setup->player.load.grip.table.count = 5; /* looked at, not into */
    assert_int_equal(retune_run(setup, 40, 0.1, &r, &swing, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "load.grip"));
    setup->player.load = known;
    /* No club comes through at 80 m/s. */
    const caber_status status = retune_run(setup, 80, 0.1, &r, &swing, &message);
    assert_true(status == CABER_NOT_CONVERGED || status == CABER_BALL_NOT_REACHED);
    assert_true(message.text[0] != '\0');
    caber_setup_free(setup);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(settings_out_of_range),
        cmocka_unit_test(finds_back),
        cmocka_unit_test(says_what_cannot_be_tuned),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
