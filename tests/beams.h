/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Beams for tests, made through the library's own profile and elements. */
#ifndef TESTS_BEAMS_H
#define TESTS_BEAMS_H

#include "check.h"
#include "shaft/beam.h"
#include "shaft/modes.h"

typedef struct test_beam {
    profile *profile;
    beam *beam;
} test_beam;

/* A station with all its wall at the outside diameter (see test_beam_create), which makes the polar
 * inertia per length mass * (diameter/2)^2. */
static inline caber_station test_station(double ei, double gj, double mass, double polar)
{
    return (caber_station){
        .ei = ei, .gj = gj, .mass = mass, .diameter = mass > 0 ? 2 * sqrt(polar / mass) : 0};
}

/* Held at the last station, free at the first; a wall of endless density has no thickness. */
static inline test_beam test_beam_create(caber_station *stations, size_t count,
                                         const caber_sections *sections, double element)
{
    const double length = stations[count - 1].at;
    const caber_shaft shaft = {.name = "test",
                               .length = length,
                               .density = (double)INFINITY,
                               .station_count = count,
                               .stations = stations};
    test_beam t;
    caber_message message = {""};
    if (profile_create(&shaft, sections, &t.profile, &message) != CABER_OK)
        fail_msg("%s", message.text);
    const beam_shape shape = {.profile = t.profile, .held_at = length, .element = element};
    if (beam_create(&shape, &t.beam, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return t;
}

/* The same section everywhere. */
static inline test_beam test_beam_uniform(caber_station section, double length, double element)
{
    caber_station stations[2] = {section, section};
    stations[0].at = 0;
    stations[1].at = length;
    return test_beam_create(stations, 2, NULL, element);
}

static inline void test_beam_free(test_beam *t)
{
    beam_free(t->beam);
    profile_free(t->profile);
}

static inline modes *test_modes(const beam *b, size_t count)
{
    modes *m = NULL;
    caber_message message = {""};
    if (modes_create(b, count, &m, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return m;
}

#endif
