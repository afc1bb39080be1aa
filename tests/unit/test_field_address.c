/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Inputs found by their paths. What the reader of setups makes of --set is the other way to the same
 * struct, and what the addresses are held against. */
#include <stdlib.h>

#include "check.h"
#include "swing/field_address.h"

#define SETUP CABER_SOURCE_DIR "/models/setups/neutral-smooth.yaml"

static caber_setup *read_setup(const char *extra)
{
    static const char *const base[] = {"shaft.sections[0].from=0 mm", "shaft.sections[0].to=400 mm",
                                       "shaft.sections[1].from=0 mm", "shaft.sections[1].to=300 mm",
                                       "head.weights[0].mass=5 g",    "head.weights[0].forward=0",
                                       "head.weights[0].up=0",        "head.weights[0].toe=0"};
    enum { BASE = sizeof base / sizeof base[0] };
    const char *overrides[BASE + 1];
    memcpy(overrides, base, sizeof base);
    overrides[BASE] = extra;
    caber_setup *s = NULL;
    caber_message m;
    if (caber_setup_read(SETUP, overrides, BASE + (extra != NULL), &s, &m) != CABER_OK)
        fail_msg("%s", m.text);
    return s;
}

static field_address find(const char *path)
{
    field_address a;
    caber_message m;
    if (field_address_find(path, &a, &m) != CABER_OK)
        fail_msg("%s", m.text);
    return a;
}

/* Of every kind of place: each must be what --set reaches, to the bit, and what nothing else changes. */
static const struct {
    const char *path, *value;
    field_part part;
} inputs[] = {
    {"load.grip.rise", "0.137 s", FIELD_PART_PLAYER},
    {"player.load.grip.rise", "0.137 s", FIELD_PART_PLAYER},
    {"player.arm.length", "61 cm", FIELD_PART_PLAYER},
    {"player.repeat.rise", "4 %", FIELD_PART_PLAYER},
    {"player.repeat.together[1].correlation", "-0.25", FIELD_PART_PLAYER},
    {"player.handed", "left", FIELD_PART_CLUB},
    {"shaft.damping", "0.011", FIELD_PART_CLUB},
    {"shaft.stations[3].ei", "33 N m2", FIELD_PART_CLUB},
    {"shaft.sections[1].ei_scale", "1.7", FIELD_PART_CLUB},
    {"head.mass", "201 g", FIELD_PART_CLUB},
    {"head.inertia.toe", "2700 g cm2", FIELD_PART_CLUB},
    {"head.centre_of_mass.up", "-21 mm", FIELD_PART_CLUB},
    {"head.weights[0].toe", "11 mm", FIELD_PART_CLUB},
    {"grip.mass", "47 g", FIELD_PART_CLUB},
    {"build.tip_trim", "19 mm", FIELD_PART_CLUB},
    {"settings.modes", "9", FIELD_PART_CLUB},
    {"settings.gravity", "no", FIELD_PART_CLUB},
    {"air.temperature", "31 degC", FIELD_PART_FLIGHT},
    {"ball.coefficients", "lyu", FIELD_PART_FLIGHT},
};
enum { INPUTS = sizeof inputs / sizeof inputs[0] };

static void an_address_reaches_what_set_reaches(void **state)
{
    (void)state;
    caber_setup *plain = read_setup(NULL);
    for (size_t i = 0; i < INPUTS; i++) {
        char text[128], override[256];
        caber_message m;
        snprintf(override, sizeof override, "%s=%s", inputs[i].path, inputs[i].value);
        caber_setup *set = read_setup(override);
        const field_address a = find(inputs[i].path);
        assert_int_equal(a.part, inputs[i].part);
        assert_true(field_address_exists(&a, plain) && field_address_used(&a, plain));
        double value;
        if (field_address_parse(&a, inputs[i].value, &value, &m) != CABER_OK)
            fail_msg("%s: %s", inputs[i].path, m.text);
        const double before = field_address_get(&a, plain);
        assert_true(before != value);
        assert_true(field_address_get(&a, set) == value);
        for (size_t j = 0; j < INPUTS; j++) { /* the others are as they were */
            const field_address other = find(inputs[j].path);
            if (strcmp(a.path, other.path) != 0)
                assert_true(field_address_get(&other, set) == field_address_get(&other, plain));
        }
        field_address_set(&a, plain, value);
        assert_true(field_address_get(&a, plain) == value);
        field_address_set(&a, plain, before);
        field_address_write(&a, value, text, sizeof text);
        double again;
        assert_int_equal(field_address_parse(&a, text, &again, &m), CABER_OK);
        assert_true(again == value);
        caber_setup_free(set);
    }
    caber_setup_free(plain);
}

/* Setting through an address and reading the file that is set give one and the same struct. */
static void a_set_setup_is_the_read_one(void **state)
{
    (void)state;
    for (size_t i = 0; i < INPUTS; i++) {
        char override[256];
        double value;
        snprintf(override, sizeof override, "%s=%s", inputs[i].path, inputs[i].value);
        caber_setup *plain = read_setup(NULL), *set = read_setup(override);
        const field_address a = find(inputs[i].path);
        assert_int_equal(field_address_parse(&a, inputs[i].value, &value, NULL), CABER_OK);
        field_address_set(&a, plain, value);
        assert_memory_equal(&plain->head.mass, &set->head.mass,
                            offsetof(caber_head, weights) - offsetof(caber_head, mass));
        assert_memory_equal(&plain->player.arm_length, &set->player.arm_length,
                            offsetof(caber_player, strike) - offsetof(caber_player, arm_length));
        assert_memory_equal(&plain->air, &set->air, sizeof plain->air);
        assert_memory_equal(plain->shaft.stations, set->shaft.stations,
                            plain->shaft.station_count * sizeof *plain->shaft.stations);
        assert_memory_equal(plain->sections.items, set->sections.items,
                            2 * sizeof *plain->sections.items);
        caber_setup_free(plain);
        caber_setup_free(set);
    }
}

static void entries_that_are_not_there(void **state)
{
    (void)state;
    caber_setup *s = read_setup(NULL);
    field_address a = find("shaft.sections[2].ei_scale");
    assert_false(field_address_exists(&a, s));
    a = find("shaft.stations[999].ei");
    assert_false(field_address_exists(&a, s));
    /* What a drive by torque does not use. */
    a = find("load.hub.omega_max");
    assert_true(field_address_used(&a, s));
    s->player.load.hub.drive = CABER_MOTION;
    assert_false(field_address_used(&a, s));
    caber_setup_free(s);
}

static void paths_that_are_none(void **state)
{
    (void)state;
    static const char *const bad[][2] = {
        {"", "no single value"},
        {"shaft", "no single value"},
        {"load", "no such input"},
        {"load.grip", "no single value"},
        {"load.grip.rize", "did you mean rise?"},
        {"loda.grip.rise", "no such input"},
        {"load..rise", "is no path"},
        {"load.grip.rise.", "is no path"},
        {".load", "is no path"},
        {"load.grip.rise.more", "nothing stands below rise"},
        {"load.grip[0].rise", "grip is no list"},
        {"shaft.sections.ei_scale", "sections is a list; say which entry"},
        {"shaft.sections[].ei_scale", "is no path"},
        {"shaft.sections[-1].ei_scale", "is no path"},
        {"shaft.sections[0]ei_scale", "is no path"},
        {"shaft.sections[0", "is no path"},
        {"shaft.sections[0][0].ei_scale", "is no path"},
        {"shaft.sections[9999999].ei_scale", "is no path"},
        {"shaft.sections[0]", "no single value"},
        {"shaft.errors", "no single value"},
        {"load.hub.table", "no single value"},
        {"name", "no single value"},
        {"shaft.\xC3\xA9", "no such input"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        field_address a;
        caber_message m;
        assert_int_equal(field_address_find(bad[i][0], &a, &m), CABER_BAD_INPUT);
        if (!strstr(m.text, bad[i][1]))
            fail_msg("\"%s\": \"%s\" does not say \"%s\"", bad[i][0], m.text, bad[i][1]);
    }
    char longest[400];
    memset(longest, 'a', sizeof longest);
    longest[sizeof longest - 1] = '\0';
    field_address a;
    assert_int_equal(field_address_find(longest, &a, NULL), CABER_BAD_INPUT);
}

static void values_that_are_not_allowed(void **state)
{
    (void)state;
    static const char *const bad[][3] = {
        {"load.grip.rise", "5 m", "s"},
        {"load.grip.rise", "-1 s", "must be"},
        {"load.grip.rise", "1e9 s", "must be"},
        {"load.grip.rise", "soon", "soon"},
        {"settings.modes", "2.5", "whole number"},
        {"settings.modes", "0", "at least 1"},
        {"settings.gravity", "perhaps", "yes or no"},
        {"player.handed", "both", "left"},
        {"ball.coefficients", "0", "lyu"},
        {"head.mass", "0 g", "above 0"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        const field_address a = find(bad[i][0]);
        double value;
        caber_message m;
        assert_int_equal(field_address_parse(&a, bad[i][1], &value, &m), CABER_BAD_INPUT);
        if (!strstr(m.text, bad[i][2]))
            fail_msg("\"%s\" does not say \"%s\"", m.text, bad[i][2]);
    }
    const field_address word = find("ball.coefficients"), yes = find("settings.gravity"),
                        ball = find("player.ball.down");
    assert_int_equal(field_address_check(&word, 3, NULL), CABER_BAD_INPUT);
    assert_int_equal(field_address_check(&word, -1, NULL), CABER_BAD_INPUT);
    assert_int_equal(field_address_check(&word, 2, NULL), CABER_OK);
    assert_int_equal(field_address_check(&yes, 2, NULL), CABER_BAD_INPUT);
    assert_int_equal(field_address_check(&ball, NAN, NULL), CABER_BAD_INPUT);
    assert_int_equal(field_address_check(&ball, INFINITY, NULL), CABER_BAD_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_address_reaches_what_set_reaches),
        cmocka_unit_test(a_set_setup_is_the_read_one),
        cmocka_unit_test(entries_that_are_not_there),
        cmocka_unit_test(paths_that_are_none),
        cmocka_unit_test(values_that_are_not_allowed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
