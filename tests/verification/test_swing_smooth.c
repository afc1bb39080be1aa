/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A small change of an input makes a small change of every result, in proportion: what a difference of
 * two swings says of a stiffness must not be the mesh's, a root's or a step's. Along a line through five
 * or more even steps a smooth function has fourth differences of next to nothing; a leap of size d has
 * some of 3 d, scatter of size d some of 16 d. */
#include "draws.h"

enum { POINTS = 9, ORDER = 4 };

typedef void change(caber_setup *s, double factor);

static void change_ei(caber_setup *s, double factor)
{
    for (size_t i = 0; i < s->shaft.station_count; i++) {
        s->shaft.stations[i].ei *= factor;
        s->shaft.stations[i].ei_2 *= factor;
    }
}

static void change_gj(caber_setup *s, double factor)
{
    for (size_t i = 0; i < s->shaft.station_count; i++)
        s->shaft.stations[i].gj *= factor;
}

/* A tip section that is stiffer. */
static void change_tip(caber_setup *s, double factor)
{
    const double l = s->shaft.length;
    s->sections.items = setups_array(1, sizeof(caber_section));
    s->sections.count = 1;
    s->sections.items[0] = (caber_section){0.1 * l, 0.4 * l, factor, 1, 1};
}

static void change_head(caber_setup *s, double factor)
{
    s->head.mass *= factor;
    for (int i = 0; i < 6; i++)
        s->head.inertia[i] *= factor;
}

static void change_hold(caber_setup *s, double factor)
{
    s->build.hold *= factor;
}

static void change_trim(caber_setup *s, double factor)
{
    s->build.tip_trim *= factor;
}

static void change_rise(caber_setup *s, double factor)
{
    s->player.load.grip.rise *= factor;
}

static void change_hub(caber_setup *s, double factor)
{
    s->player.load.hub.peak *= factor;
}

/* The largest ORDER-th difference of the values, in parts of 2^ORDER: the size of scatter. */
static double scatter_of(const double v[POINTS])
{
    double d[POINTS], most = 0;
    memcpy(d, v, sizeof d);
    for (int k = 1; k <= ORDER; k++)
        for (int i = 0; i + k < POINTS; i++)
            d[i] = d[i + 1] - d[i];
    for (int i = 0; i + ORDER < POINTS; i++)
        draws_raise(&most, fabs(d[i]) / 16);
    return most;
}

/* One draw along one line; false when an end of it is no swing. */
static bool follow(gsl_rng *g, change *vary, double step, draws_gap *gap)
{
    caber_setup *s = draws_near(g);
    caber_swing x[POINTS];
    bool good = true;
    s->settings.tolerance = 1e-10;
    for (int k = 0; good && k < POINTS; k++) {
        caber_setup *c = draws_copy(s);
        caber_message message;
        vary(c, 1 + step * (k - POINTS / 2));
        good = swing_once(c, x + k, NULL, &message) == CABER_OK;
        caber_setup_free(c);
    }
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    for (size_t i = 0; good && i < count; i++) {
        if (draws_listed(f[i].name, draws_scattered))
            continue;
        double v[POINTS];
        for (int k = 0; k < POINTS; k++)
            v[k] = caber_impact_value(&x[k].bent, f + i);
        draws_widen(gap, f + i, v[0], v[0] + scatter_of(v));
    }
    caber_setup_free(s);
    return good;
}

static void results_are_smooth(void **state)
{
    (void)state;
    static const struct {
        const char *problem;
        change *vary;
    } lines[] = {{"scatter of a swing's results as EI grows by 1e-4 of itself, 8 draws", change_ei},
                 {"the same, GJ", change_gj},
                 {"the same, EI of a part of the shaft", change_tip},
                 {"the same, mass of the head", change_head},
                 {"the same, length held", change_hold},
                 {"the same, tip trim", change_trim},
                 {"the same, rise of the couple", change_rise},
                 {"the same, torque of the hub", change_hub}};
    const size_t count = sizeof lines / sizeof lines[0];
    size_t swings = 0;
    for (size_t i = 0; i < count; i++) {
        gsl_rng *g = draws_begin(60 + i);
        draws_gap gap = {0};
        for (size_t k = 0; k < DRAWS(8); k++)
            swings += follow(g, lines[i].vary, 1e-4, &gap);
        gsl_rng_free(g);
        if (gap.most > 2e-5)
            print_message("most in %s\n", gap.field);
        DRAWS_RECORD(lines[i].problem, "mechanics is smooth", "1", gap.most, 2e-5);
    }
    assert_true(2 * swings > count * DRAWS(8));
}

/* Between these two lengths held a mass station passes the end of the grip, where the turning inertia
 * leaps along the shaft. With the handle free to roll it counts. */
static void a_station_passes_the_grip(void **state)
{
    (void)state;
    enum { LINES = 5, BETWEEN = POINTS - ORDER, ALL = LINES * BETWEEN + ORDER };
    double lead[ALL], scatter = 0;
    for (size_t k = 0; k < ALL; k++) {
        caber_setup *s = setups_read("neutral-quick");
        s->player.load.roll.drive = CABER_TORQUE;
        s->build.hold = 0.08 + 0.03 * (double)k / (ALL - 1);
        setups_until(s, 0.2, 1e-10);
        lead[k] = setups_swing(s, NULL).bent.lead_deflection * 1e3;
        caber_setup_free(s);
    }
    for (size_t line = 0; line < LINES; line++)
        draws_raise(&scatter, scatter_of(lead + line * BETWEEN));
    assert_true(fabs(lead[ALL - 1] - lead[0]) > 1);
    DRAWS_RECORD("scatter of the lead as the length held grows from 80 to 110 mm",
                 "mechanics is smooth", "mm", scatter, 1e-4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(results_are_smooth),
                                       cmocka_unit_test(a_station_passes_the_grip)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
