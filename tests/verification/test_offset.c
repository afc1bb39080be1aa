/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Bending and torsion coupled by mass off the axis along the whole beam.
 *
 * Case: J. R. Banerjee 1999, J. Sound Vib. (coupled bending-torsional dynamic stiffness of beams);
 * data and answers from memory, and the answers coincide with the roots of the exact equations
 *   EI w'''' = omega^2 m (w + x phi),  GJ phi'' = -omega^2 (I phi + m x w), clamped at one end, free
 * at the other, with x the offset of the mass axis from the elastic axis. */
#include "check.h"
#include "record.h"
#include "shaft/modes.h"

static const double ei = 9.75e6, gj = 9.88e5, mass = 35.75, about_axis = 8.65, offset = 0.18,
                    length = 6;
/* rad/s; from memory, see above */
static const double coupled[] = {49.61472, 97.03543, 248.87357, 355.58751, 451.45497};
static const record_source source = {
    RECORD_MEMORY,
    "J. R. Banerjee 1999, J. Sound Vib., a wing of 6 m; recomputed in test_remembered.py"};
enum { COUPLED = sizeof coupled / sizeof coupled[0], FOUND = 12 };

/* The elastic axis carries no mass of its own worth naming (1e-12 of the beam's); all of it is added
 * mass whose centre line is `y`, `z` off the axis. */
static size_t frequencies(double element, double y, double z, double omega[FOUND],
                          double side[FOUND])
{
    caber_station station[2];
    for (int i = 0; i < 2; i++)
        station[i] = (caber_station){
            .at = i * length, .ei = ei, .gj = gj, .mass = mass * 1e-12, .diameter = 0.01};
    const caber_shaft shaft = {
        .length = length, .density = 1500, .station_count = 2, .stations = station};
    profile *p = NULL;
    assert_int_equal(profile_create(&shaft, NULL, &p, NULL), CABER_OK);
    const double gyration = sqrt(about_axis / mass - offset * offset);
    const beam_shape shape = {.profile = p,
                              .held_at = length,
                              .end_at = 0,
                              .element = element,
                              .added = {.from_at = -1,
                                        .to_at = length + 1,
                                        .mass_from = mass,
                                        .mass_to = mass,
                                        .gyration = gyration,
                                        .offset_2 = y,
                                        .offset_3 = z}};
    beam *b = NULL;
    modes *m = NULL;
    assert_int_equal(beam_create(&shape, &b, NULL), CABER_OK);
    assert_int_equal(modes_create(b, FOUND, &m, NULL), CABER_OK);
    const size_t count = m->count;
    for (size_t j = 0; j < count; j++) {
        const beam_state s = beam_state_at(b, m->shape + j * m->dof_count, length);
        omega[j] = m->omega[j];
        /* Which lateral direction moves: 1 = only e3, 0 = only e2. */
        side[j] = fabs(s.w) / (fabs(s.w) + fabs(s.v));
    }
    modes_free(m);
    beam_free(b);
    profile_free(p);
    return count;
}

/* Mass off along e2 couples w with phi and leaves v alone. */
static void test_offset_along_lead(void **state)
{
    (void)state;
    double omega[FOUND], side[FOUND];
    const size_t count = frequencies(length / 40, offset, 0, omega, side);
    size_t next = 0;
    double most = 0;
    for (size_t j = 0; j < count && next < COUPLED; j++) {
        if (side[j] < 0.5)
            continue;
        /* The answers are given to seven or eight digits. */
        if (next == 0)
            verify("mode 1, mass 0.18 m beside the axis along e2", source, "rad/s", omega[j],
                   coupled[next], 1e-6, 0);
        record_most(&most, omega[j] / coupled[next] - 1);
        next++;
    }
    verify_within("modes 1 to 5 of it, relative", source, "1", most, 1e-6);
    assert_int_equal(next, COUPLED);
}

/* Off along e3 it couples v with phi, with the same frequencies. */
static void test_offset_along_toe(void **state)
{
    (void)state;
    double omega[FOUND], side[FOUND];
    const size_t count = frequencies(length / 40, 0, -offset, omega, side);
    size_t next = 0;
    double most = 0;
    for (size_t j = 0; j < count && next < COUPLED; j++) {
        if (side[j] > 0.5)
            continue;
        record_most(&most, omega[j] / coupled[next] - 1);
        next++;
    }
    assert_int_equal(next, COUPLED);
    verify_within("modes 1 to 5 with the mass beside the axis along -e3, relative", source, "1",
                  most, 1e-6);
}

/* Control: with the mass on the axis the answers are far away, so the test can fail. */
static void test_without_offset(void **state)
{
    (void)state;
    double omega[FOUND], side[FOUND];
    frequencies(length / 40, 0, 0, omega, side);
    assert_true(fabs(omega[0] - coupled[0]) > 0.01 * coupled[0]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_offset_along_lead),
                                       cmocka_unit_test(test_offset_along_toe),
                                       cmocka_unit_test(test_without_offset)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
