/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What mechanics lets rise or fall only, for any profile.
 *   Rayleigh (from memory: The Theory of Sound, vol. 1, chapter IV): more stiffness anywhere lowers no
 *   frequency, more mass raises none, a constraint lowers none; c more rows of mass or of constraint
 *   move the j-th past the (j - c)-th or (j + c)-th of before in no case.
 *   Castigliano: under one load a structure made stiffer anywhere gives way less where it is loaded.
 * Both sides have the same nodes, so that rounding is all that may go the other way. */
#include "draws.h"

/* What rounding may do to a result of a fine mesh: its elements are 1e6 times as stiff as the shaft. */
static const double rounding = 1e-6;

enum { CLUBS = 60 };

/* A made-up club whose last section may be changed: it reaches over a random part of the shaft. */
static caber_setup *with_section(gsl_rng *g)
{
    caber_setup *s = draws_far(g);
    const double l = s->shaft.length, a = draws_between(g, 0, 0.9);
    const double b = fmin(1, a + draws_between(g, 0.05, 0.5));
    assert_true(s->sections.count < 4); /* as many as draws_far_sections makes room for */
    s->sections.items[s->sections.count++] = (caber_section){a * l, b * l, 1, 1, 1};
    return s;
}

static caber_section *section_of(caber_setup *s)
{
    return s->sections.items + s->sections.count - 1;
}

static caber_bench bench_of(const caber_setup *s, const caber_jig *jig)
{
    caber_bench b;
    caber_message message;
    setups_fine(caber_bench_run(s, jig, &b, &message), &message);
    return b;
}

/* How far a frequency is below another, at most over the list; and raises the largest rise. */
static void compare_frequencies(const caber_bench *low, const caber_bench *high, double *below,
                                double *rise)
{
    assert_int_equal(low->mode_count, high->mode_count);
    for (size_t j = 0; j < low->mode_count; j++) {
        const double part = high->frequencies[j] / low->frequencies[j] - 1;
        draws_raise(below, -part);
        *rise = fmax(*rise, part);
    }
}

static void stiffer_rings_higher_and_bends_less(void **state)
{
    (void)state;
    double below = -1, deflection = -1, twist = -1, rise = 0;
    const caber_jig jig = caber_jig_default();
    gsl_rng *g = draws_begin(50);
    for (size_t i = 0; i < DRAWS(CLUBS); i++) {
        caber_setup *s = with_section(g);
        const caber_bench soft = bench_of(s, &jig);
        section_of(s)->ei_scale = draws_about(g, 1.02, 5);
        section_of(s)->gj_scale = draws_about(g, 1.02, 5);
        const caber_bench stiff = bench_of(s, &jig);
        compare_frequencies(&soft, &stiff, &below, &rise);
        draws_raise(&deflection, stiff.tip_deflection / soft.tip_deflection - 1);
        draws_raise(&twist, stiff.twist / soft.twist - 1);
        assert_int_equal(stiff.span_count, soft.span_count);
        for (size_t j = 0; j < soft.span_count; j++)
            draws_raise(&deflection, stiff.span_deflection[j] / soft.span_deflection[j] - 1);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(rise > 0.05); /* something must have changed for this to mean anything */
    DRAWS_RECORD("60 made-up clubs, stiffer somewhere: fall of any of six frequencies", "Rayleigh",
                 "1", below, rounding);
    DRAWS_RECORD("the same: rise of the bend under a tip load and over any span", "Castigliano",
                 "1", deflection, rounding);
    DRAWS_RECORD("the same: rise of the twist under a torque", "Castigliano", "1", twist, rounding);
}

/* A heavier head of the same inertia about its centre is three rows of motion with more mass, so the
 * j-th frequency stays above the (j - 3)-th without. */
static void heavier_rings_lower(void **state)
{
    (void)state;
    enum { ROWS = 3 };
    double rise = -1, past = -1, fall = 0;
    const caber_jig jig = caber_jig_default();
    gsl_rng *g = draws_begin(51);
    for (size_t i = 0; i < DRAWS(CLUBS); i++) {
        caber_setup *s = with_section(g);
        const caber_bench first = bench_of(s, &jig);
        section_of(s)->mass_scale = draws_between(g, 0.7, 0.98);
        const caber_bench lighter = bench_of(s, &jig);
        compare_frequencies(&first, &lighter, &rise, &fall);
        section_of(s)->mass_scale = 1;
        s->head.mass *= draws_between(g, 1.02, 2);
        const caber_bench heavier = bench_of(s, &jig);
        compare_frequencies(&heavier, &first, &rise, &fall);
        for (size_t j = ROWS; j < heavier.mode_count; j++)
            draws_raise(&past, 1 - heavier.frequencies[j] / first.frequencies[j - ROWS]);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(fall > 0.05);
    DRAWS_RECORD("60 made-up clubs, heavier in head or shaft: rise of any of six frequencies",
                 "Rayleigh", "1", rise, rounding);
    DRAWS_RECORD("the same, heavier in the head: fall of any past the third below it", "Rayleigh",
                 "1", past, rounding);
}

static void clamped_further_rings_higher(void **state)
{
    (void)state;
    double below = -1, rise = 0;
    gsl_rng *g = draws_begin(52);
    for (size_t i = 0; i < DRAWS(CLUBS); i++) {
        caber_setup *s = draws_far(g);
        caber_jig jig = caber_jig_default();
        const caber_bench less = bench_of(s, &jig);
        jig.clamp += draws_between(g, 0.01, 0.3);
        const caber_bench more = bench_of(s, &jig);
        compare_frequencies(&less, &more, &below, &rise);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(rise > 0.05);
    DRAWS_RECORD("60 made-up clubs clamped further: fall of any of six frequencies", "Rayleigh",
                 "1", below, rounding);
}

/* ------------------------------------------------------------------ the bent rod of the swing */

/* All joints held, as stiff as it is or stiffer: what weight bends at the start. */
static caber_setup *held(gsl_rng *g)
{
    caber_setup *s = draws_near(g);
    caber_load *l = &s->player.load;
    l->hub.drive = l->grip.drive = l->roll.drive = CABER_LOCKED;
    s->settings.until = 1e-4;
    return s;
}

static void stiffer_sags_less(void **state)
{
    (void)state;
    double most = -1, fall = 0;
    gsl_rng *g = draws_begin(53);
    for (size_t i = 0; i < DRAWS(CLUBS); i++) {
        caber_setup *s = held(g);
        const caber_swing soft = setups_swing(s, NULL);
        setups_stiffen(s, draws_about(g, 1.02, 5));
        const caber_swing stiff = setups_swing(s, NULL);
        const double part = stiff.bent.strain_energy_peak / soft.bent.strain_energy_peak - 1;
        assert_true(soft.bent.strain_energy_peak > 1e-5);
        draws_raise(&most, part);
        fall = fmax(fall, -part);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(fall > 0.05);
    DRAWS_RECORD("60 held clubs, stiffer all along: rise of the energy that weight bends into them",
                 "Castigliano", "1", most, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(stiffer_rings_higher_and_bends_less),
                                       cmocka_unit_test(heavier_rings_lower),
                                       cmocka_unit_test(clamped_further_rings_higher),
                                       cmocka_unit_test(stiffer_sags_less)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
