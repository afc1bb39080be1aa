/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the default settings cost: every reported number of every demo setup against the answer
 * converged in modes, stations, elements and tolerance, without a ceiling on the modes. */
#include "setups.h"

/* The limits that the defaults were chosen for, in printed units: lengths 0.2 mm, angles 0.02
 * deg, speeds 0.02 m/s, each a tenth or less of what differs from shaft to shaft; 0.1 ms of the
 * downswing, and 1 ms, a row of a series, of where a flat maximum lies. Rates, moments, forces
 * and shares have no such limit: 1 % of them. */
static double limit_of(const caber_field *f, double value)
{
    static const struct {
        const char *unit;
        double limit;
    } limits[] = {{"mm", 0.2}, {"m", 0.0002}, {"deg", 0.02}, {"m/s", 0.02}};
    for (size_t i = 0; i < sizeof limits / sizeof limits[0]; i++)
        if (strcmp(f->unit, limits[i].unit) == 0)
            return limits[i].limit;
    if (strcmp(f->unit, "s") == 0)
        return strncmp(f->name, "peak", 4) == 0 ? 1e-3 : 1e-4;
    if (strcmp(f->name, "energy_residual") == 0)
        return 1e-6;
    return 0.01 * fabs(value);
}

static void compare(const char *setup, const char *which, const caber_impact *got,
                    const caber_impact *want, bool straight, int *missed)
{
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++) {
        if (straight && !f[i].straight)
            continue;
        const double a = caber_impact_value(got, f + i), b = caber_impact_value(want, f + i);
        if (fabs(a - b) <= limit_of(f + i, b))
            continue;
        print_error("%s, %s: %s is %.6g, converged %.6g, allowed %.3g\n", setup, which, f[i].name,
                    a, b, limit_of(f + i, b));
        ++*missed;
    }
}

static void defaults_are_converged(void **state)
{
    (void)state;
    int missed = 0;
    const size_t count = CHECK_SANITISED ? 1 : SETUPS_DEMO_COUNT;
    for (size_t i = 0; i < count; i++) {
        caber_setup *s = setups_read(setups_demo[i]);
        const caber_swing got = setups_swing(s, NULL);
        s->settings.modes = 24;
        s->settings.stations = 40;
        s->settings.elements = 120;
        s->settings.tolerance = 1e-9;
        s->settings.ceiling = 0;
        const caber_swing want = setups_swing(s, NULL);
        compare(setups_demo[i], "bent", &got.bent, &want.bent, false, &missed);
        compare(setups_demo[i], "straight", &got.straight, &want.straight, true, &missed);
        caber_setup_free(s);
    }
    assert_int_equal(missed, 0);
}

/* And the answer that is called converged is: against twice as much of everything. */
static void converged_is_converged(void **state)
{
    (void)state;
    if (CHECK_SANITISED)
        skip(); /* the same again, finer */
    caber_setup *s = setups_read("soft-tip-quick");
    s->settings.modes = 24;
    s->settings.stations = 40;
    s->settings.elements = 120;
    s->settings.tolerance = 1e-9;
    s->settings.ceiling = 0;
    const caber_swing got = setups_swing(s, NULL);
    s->settings.modes = 36;
    s->settings.stations = 60;
    s->settings.elements = 240;
    s->settings.tolerance = 1e-10;
    const caber_swing want = setups_swing(s, NULL);
    assert_close(got.bent.lead_deflection, want.bent.lead_deflection, 0, 2e-5);
    assert_close(got.bent.droop, want.bent.droop, 0, 2e-5);
    assert_close(got.bent.peak_lag, want.bent.peak_lag, 0, 2e-5);
    assert_close(got.bent.head_speed, want.bent.head_speed, 0, 2e-3);
    assert_close(got.bent.delivered_loft * CABER_DEG, want.bent.delivered_loft * CABER_DEG, 0,
                 2e-3);
    assert_close(got.bent.face_angle * CABER_DEG, want.bent.face_angle * CABER_DEG, 0, 2e-3);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(defaults_are_converged),
                                       cmocka_unit_test(converged_is_converged)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
