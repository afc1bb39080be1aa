/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Setups filled by hand: what the file reader would refuse is refused here too. */
#include "check.h"

#include <math.h>
#include <stdlib.h>

#include "swing/check.h"
#include "swing/fields_table.h"

#define DATA CABER_SOURCE_DIR "/tests/unit/data/"

static int open_setup(void **state)
{
    caber_setup *setup;
    caber_message message;
    if (caber_setup_read(DATA "layered.yaml", NULL, 0, &setup, &message) != CABER_OK) {
        print_error("%s\n", message.text);
        return -1;
    }
    *state = setup;
    return 0;
}

static int close_setup(void **state)
{
    caber_setup_free(*state);
    return 0;
}

static void assert_refused(const caber_setup *s, const char *expected)
{
    caber_message message;
    assert_int_equal(setup_check(s, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, expected);
    assert_int_equal(setup_check(s, NULL), CABER_BAD_INPUT);
}

static void a_setup_that_was_read_is_fine(void **state)
{
    caber_message message = {"untouched"};
    assert_int_equal(setup_check(*state, &message), CABER_OK);
    assert_string_equal(message.text, "");
}

static void counts_and_pointers(void **state)
{
    caber_setup *s = *state;
    size_t count = s->shaft.station_count;
    caber_station *stations = s->shaft.stations;
    s->shaft.station_count = 1;
    assert_refused(s, "shaft.stations: 1 entries are not allowed; there must be at least 2 and at "
                      "most 1000");
    s->shaft.station_count = count;
    s->shaft.stations = NULL;
    assert_refused(s, "shaft.stations: 5 entries are not allowed; there must be at least 2 and at "
                      "most 1000");
    s->shaft.stations = stations;
    s->sections.count = 101;
    assert_refused(s,
                   "shaft.sections: 101 entries are not allowed; there must be at least 0 and at "
                   "most 100");
    s->sections.count = 1;
    s->player.load.grip.table.count = 3;
    assert_refused(s,
                   "player.load.grip.table: 3 rows are not allowed; there must be at least 4 and "
                   "at most 100000");
    s->player.load.grip.table.count = 0;
    assert_refused(s,
                   "player.load.grip.table: 0 rows are not allowed; there must be at least 4 and "
                   "at most 100000 with drive: motion");
}

static void words_and_texts(void **state)
{
    caber_setup *s = *state;
    s->player.load.hub.drive = CABER_GEAR;
    assert_refused(s, "player.load.hub.drive: gear is not allowed; it must be torque, motion or "
                      "locked");
    s->player.load.hub.drive = (caber_drive)77;
    assert_refused(s, "player.load.hub.drive: this value is not allowed; it must be torque, motion "
                      "or locked");
    s->player.load.hub.drive = CABER_TORQUE;
    s->build.order = (caber_order)2;
    assert_refused(s, "build.order: this value is not allowed; it must be tip-first or butt-first");
    s->build.order = CABER_TIP_FIRST;
    s->build.bore = (caber_bore)2;
    assert_refused(s, "build.bore: this value is not allowed; it must be blind or through");
    s->build.bore = CABER_BLIND;
    s->head.weights.count = 21;
    assert_refused(s,
                   "head.weights: 21 entries are not allowed; there must be at least 0 and at most "
                   "20");
    s->head.weights.count = 2;
    memset(s->head.name, 'x', sizeof s->head.name);
    assert_refused(s, "head.name: must be UTF-8 of at most 95 bytes");
    strcpy(s->head.name, "\xFF");
    assert_refused(s, "head.name: must be UTF-8 of at most 95 bytes");
}

static void tables_row_by_row(void **state)
{
    caber_setup *s = *state;
    caber_table *t = &s->player.load.grip.table;
    t->value[2] = (double)NAN;
    assert_refused(s, "player.load.grip.table: row 3: times and values must be finite and at most "
                      "100000");
    t->value[2] = 0;
    t->time[3] = t->time[2];
    assert_refused(s, "player.load.grip.table: row 4: time 0.2 s does not ascend; it must be above "
                      "0.2 s");
    t->time[3] = 0.4;
    t->time[0] = 0.05;
    assert_refused(s, "player.load.grip.table: begins at 0.05 s; it must begin at or before 0 s");
    t->time[0] = -0.05;
    assert_int_equal(setup_check(s, NULL), CABER_OK);
}

static void drives_that_need_or_do_not_take_something(void **state)
{
    caber_setup *s = *state;
    s->player.load.grip.drive = CABER_LOCKED;
    assert_refused(s, "player.load.grip.table: is not allowed with drive: locked; it needs drive: "
                      "torque or motion");
    s->player.load.grip.drive = CABER_MOTION;
    s->player.load.roll.drive = CABER_MOTION;
    assert_refused(s,
                   "player.load.roll.table: 0 rows are not allowed; there must be at least 4 and "
                   "at most 100000 with drive: motion");
    s->player.load.roll.drive = CABER_LOCKED;
    s->player.load.roll.top = -1; /* allowed but for the gear */
    s->player.load.roll.closing = 0;
    assert_int_equal(setup_check(s, NULL), CABER_OK);
    s->player.load.roll.drive = CABER_GEAR;
    s->player.load.roll.top = 1;
    assert_refused(s, "player.load.roll.closing: 0 is not allowed; it must be above 0 and at most "
                      "10");
    s->player.load.roll.closing = 0.5;
    s->player.load.hub.omega_max = 0;
    assert_refused(s,
                   "player.load.hub.omega_max: 0 rad/s is not allowed; it must be above 0 and at "
                   "most 1000 rad/s");
    s->player.load.hub.drive = CABER_LOCKED;
    assert_int_equal(setup_check(s, NULL), CABER_OK);
}

/* Every number of every struct in turn: NaN, infinity and what lies outside its range. */
static void assert_range_is_kept(const caber_setup *s, const field *f, char *object,
                                 const field_path *path)
{
    double *at = (double *)(void *)(object + f->offset), kept = *at;
    if (!field_used(f, object))
        return;
    const double wrong[] = {(double)INFINITY, -(double)INFINITY, nextafter(f->max, INFINITY),
                            nextafter(f->min, -INFINITY), (double)NAN};
    size_t count = f->flags & FIELD_OPEN ? 4 : 5;
    for (size_t i = 0; i < count; i++) {
        caber_message message;
        *at = wrong[i];
        assert_int_equal(setup_check(s, &message), CABER_BAD_INPUT);
        assert_int_equal(strncmp(message.text, path->text, path->length), 0);
        assert_string_equal(strncmp(message.text + path->length, ": ", 2) ? "" : ": ", ": ");
    }
    *at = kept;
    assert_int_equal(setup_check(s, NULL), CABER_OK);
}

static size_t walk(const caber_setup *s, const field_group *group, char *object, field_path *path)
{
    size_t seen = 0;
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        size_t before = field_path_key(path, f->name);
        char *items;
        if (f->type == FIELD_QUANTITY) {
            assert_range_is_kept(s, f, object, path);
            seen++;
        } else if (f->type == FIELD_GROUP) {
            seen += walk(s, f->group, object + f->offset, path);
        } else if (f->type == FIELD_LIST) {
            memcpy(&items, object + f->offset, sizeof items);
            field_path_index(path, 0);
            seen += walk(s, f->group, items, path);
        }
        field_path_cut(path, before);
    }
    return seen;
}

static void every_number_keeps_its_range(void **state)
{
    caber_setup *s = *state;
    field_path path = {.length = 0};
    /* With torque programs in hub and grip, and a gear, every number is used. */
    s->player.load.grip.drive = CABER_TORQUE;
    s->player.load.grip.table.count = 0;
    caber_repeat *repeat = &s->player.repeat;
    repeat->pairings = calloc(1, sizeof *repeat->pairings);
    assert_non_null(repeat->pairings);
    repeat->pairings[0] = (caber_pairing){CABER_HABIT_RISE, CABER_HABIT_PEAK, 0.5};
    repeat->pairing_count = 1;
    /* Shaft 3, station 7, section 5, head 24, weight 4, grip 5, build 15, body and where the ball lies 13,
     * load 18, habits 10, pairing 1, ball 3, air 6, settings 5: every double of caber_setup. */
    assert_int_equal(walk(s, fields_kind_setup(), (char *)s, &path), 119);
}

static void integers_keep_their_range(void **state)
{
    caber_setup *s = *state;
    s->settings.modes = 0;
    assert_refused(s, "settings.modes: 0 is not allowed; it must be at least 1 and at most 60");
    s->settings.modes = 61;
    assert_refused(s, "settings.modes: 61 is not allowed; it must be at least 1 and at most 60");
    s->settings.modes = 7;
    s->settings.stations = 3;
    assert_refused(s, "settings.stations: 3 is not allowed; it must be at least 4 and at most 200");
    s->settings.modes = 24;
    s->settings.stations = 11;
    assert_refused(s, "settings.stations: 11 is not allowed; 24 modes need at least 12 stations");
    s->settings.stations = 12;
    s->build.tape.layers = -1;
    assert_refused(s, "build.tape.layers: -1 is not allowed; it must be at least 0 and at most 30");
    s->build.tape.layers = 31;
    assert_refused(s, "build.tape.layers: 31 is not allowed; it must be at least 0 and at most 30");
    s->build.tape.layers = 30;
    s->settings.ceiling = 59;
    assert_refused(s, "settings.ceiling: 59 Hz is not allowed; it must be 0 or at least 60 Hz");
}

/* The inertia of solids lies inside what is allowed, up to its edge. */
static void inertias_of_solids(void **state)
{
    caber_setup *s = *state;
    static const double fine[][6] = {
        {1e-4, 1e-4, 1e-4, 0, 0, 0},
        {1e-4, 2e-4, 3e-4, 0, 0, 0}, /* a plate: on the edge */
        {2e-4, 2e-4, 1e-4, 5e-5, 0, 0},
        {1e-9, 1e-9, 1e-9, 0, 0, 0},
        {2843e-7, 5679e-7, 4085e-7, -733e-7, 5302e-8, 5e-8},
    };
    static const double impossible[][6] = {
        {1e-4, 2e-4, 3.01e-4, 0, 0, 0},   /* beyond a plate */
        {1e-4, 1e-4, 1e-4, 6e-5, 0, 0},   /* principal 0.4, 1, 1.6: 1.6 > 1.4 */
        {1e-4, 1e-4, 1e-4, 1.1e-4, 0, 0}, /* a negative principal moment */
        {1e-4, 1e-4, 1e-4, 9e-5, -9e-5, 9e-5},
    };
    for (size_t i = 0; i < sizeof fine / sizeof fine[0]; i++) {
        memcpy(s->head.inertia, fine[i], sizeof fine[i]);
        assert_int_equal(setup_check(s, NULL), CABER_OK);
    }
    for (size_t i = 0; i < sizeof impossible / sizeof impossible[0]; i++) {
        caber_message message;
        memcpy(s->head.inertia, impossible[i], sizeof impossible[i]);
        assert_int_equal(setup_check(s, &message), CABER_BAD_INPUT);
        assert_int_equal(strncmp(message.text, "head.inertia: no solid", 22), 0);
    }
}

static void clubs_that_cannot_be_built(void **state)
{
    caber_setup *s = *state;
    s->build.hold = 0.5;
    s->build.butt_trim = 0.4;
    assert_refused(s,
                   "build: trims of 12.7 and 400 mm, insertion of 32 mm and hold of 500 mm leave "
                   "185.3 mm of the 1130 mm shaft to bend; they must leave at least 300 mm");
    s->build.hold = 0.1;
    s->build.butt_trim = 0.5;
    s->grip.length = 0.6;
    s->grip.centre_of_mass = 0;
    assert_refused(s, "grip.length: 600 mm is not allowed; the cut shaft has only 585.3 mm outside "
                      "the hosel");
}

/* A wanted length, and bores: what is missing, what contradicts, what cannot be cut. */
static void lengths_and_bores(void **state)
{
    caber_setup *s = *state;
    caber_build *b = &s->build;
    b->length = 1.1;
    assert_int_equal(setup_check(s, NULL), CABER_OK);
    b->butt_trim = 0.02;
    assert_refused(s,
                   "build.butt_trim: 20 mm is not allowed with a length; tip-first it follows from "
                   "the length, and must be left out or 0");
    b->order = CABER_BUTT_FIRST;
    assert_refused(s, "build.tip_trim: 12.7 mm is not allowed with a length; butt-first it follows "
                      "from the length, and must be left out or 0");
    b->tip_trim = 0;
    assert_int_equal(setup_check(s, NULL), CABER_OK);
    b->length = 1.3;
    caber_message message;
    assert_int_equal(setup_check(s, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text,
                           "build.length: 1300 mm is not allowed; with a butt trim of "
                           "20 mm the shaft is "));
    b->length = 0.4;
    assert_int_equal(setup_check(s, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "they must leave at least 300 mm"));
    b->length = 1.05;
    s->head.sole_toe = 0;
    s->head.sole_up = 0;
    assert_refused(s,
                   "head.sole.up: is missing, but needed with build.length: how far the sole lies "
                   "below the hosel's mouth; it must be below 0 mm");
    b->length = 0;
    assert_int_equal(setup_check(s, NULL), CABER_OK);
    b->bore = CABER_THROUGH;
    assert_refused(s,
                   "head.sole.up: is missing, but needed with bore: through: how far the sole lies "
                   "below the hosel's mouth; it must be below 0 mm");
    s->head.sole_toe = 0.02;
    assert_refused(
        s, "head.sole.up: is missing, but needed with head.sole.toe; it must be below 0 mm");
    s->head.sole_up = -0.06;
    assert_refused(s, "build.sleeve.tilt: 0.7 deg is not allowed with bore: through; a sleeve is a "
                      "blind hosel");
    b->sleeve.tilt = 0;
    assert_int_equal(setup_check(s, NULL), CABER_OK);
    b->insertion = 9; /* not used, and so no obstacle */
    assert_int_equal(setup_check(s, NULL), CABER_OK);
    s->head.sole_up = -0.19;
    assert_refused(
        s, "head.sole.up: -190 mm is not allowed with bore: through; it takes 224.044 mm of "
           "shaft into the head, and at most 200 mm are allowed");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_setup_that_was_read_is_fine, open_setup, close_setup),
        cmocka_unit_test_setup_teardown(counts_and_pointers, open_setup, close_setup),
        cmocka_unit_test_setup_teardown(words_and_texts, open_setup, close_setup),
        cmocka_unit_test_setup_teardown(tables_row_by_row, open_setup, close_setup),
        cmocka_unit_test_setup_teardown(drives_that_need_or_do_not_take_something, open_setup,
                                        close_setup),
        cmocka_unit_test_setup_teardown(every_number_keeps_its_range, open_setup, close_setup),
        cmocka_unit_test_setup_teardown(integers_keep_their_range, open_setup, close_setup),
        cmocka_unit_test_setup_teardown(inertias_of_solids, open_setup, close_setup),
        cmocka_unit_test_setup_teardown(clubs_that_cannot_be_built, open_setup, close_setup),
        cmocka_unit_test_setup_teardown(lengths_and_bores, open_setup, close_setup),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
