/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * From setup files to structs and back, and every way in which a file can be wrong: what the
 * message says of file, line, column, field and what is allowed. */
#include "check.h"

#include <math.h>
#include <stdlib.h>

#include "files/files.h"
#include "swing/check.h"
#include "swing/fields_table.h"

#define DATA CABER_SOURCE_DIR "/tests/unit/data/"
#define DEG(x) ((x)*3.14159265358979323846 / 180)

static caber_setup *read_file(const char *path, const char *const *overrides, size_t count)
{
    caber_setup *setup;
    caber_message message = {"untouched"};
    caber_status status = caber_setup_read(path, overrides, count, &setup, &message);
    if (status != CABER_OK)
        fail_msg("%s", message.text);
    assert_string_equal(message.text, "");
    return setup;
}

/* ------------------------------------------------------------------ what is read */

static void every_value_arrives(void **state)
{
    (void)state;
    caber_setup *s = read_file(DATA "setup.yaml", NULL, 0);
    assert_string_equal(s->name, "test setup");
    assert_string_equal(s->shaft.name, "test shaft");
    assert_string_equal(s->shaft.note, "invented, for tests");
    assert_true(s->shaft.length == 1.13);
    assert_true(s->shaft.density == 1550);
    assert_true(s->shaft.damping == 0.007);
    assert_int_equal(s->shaft.station_count, 5);
    const caber_station *station = &s->shaft.stations[2];
    assert_true(station->at == 0.6 && station->ei == 39 && station->ei_2 == 38);
    assert_close(station->ei_angle, DEG(30), 1e-15, 0);
    assert_true(station->gj == 14 && station->mass == 0.053 && station->diameter == 0.011);
    assert_true(s->shaft.stations[4].ei == 67 && s->shaft.stations[4].ei_2 == 0);
    assert_int_equal(s->sections.count, 0);
    assert_true(s->head.mass == 0.2 && s->head.bulge == 0.3 && s->head.face_angle == 0);
    assert_close(s->head.loft, DEG(10.5), 1e-15, 0);
    assert_true(s->head.centre_of_mass[0] == -0.02 && s->head.centre_of_mass[1] == 0.005 &&
                s->head.centre_of_mass[2] == 0.025 && s->head.face_centre[0] == 0.02);
    assert_true(s->head.inertia[0] == 2.8e-4 && s->head.inertia[1] == 4.8e-4 &&
                s->head.inertia[2] == 3.5e-4 && s->head.inertia[3] == -1e-5 &&
                s->head.inertia[4] == 0 && s->head.inertia[5] == 0);
    assert_true(s->grip.mass == 0.05 && s->grip.length == 0.27 && s->grip.centre_of_mass == 0.12 &&
                s->grip.diameter == 0.023);
    caber_setup_free(s);
}

static void the_player_and_its_load_arrive(void **state)
{
    (void)state;
    caber_setup *s = read_file(DATA "setup.yaml", NULL, 0);
    const caber_player *p = &s->player;
    assert_int_equal(p->handed, CABER_RIGHT);
    assert_true(p->arm_length == 0.62 && p->arm_inertia == 1.15 && p->arm_mass == 7 &&
                p->arm_centre == 0.3);
    assert_close(p->inclination, DEG(50), 1e-15, 0);
    assert_close(p->start_arm, DEG(-130), 1e-15, 0);
    assert_true(p->direction == 0 && p->start_arm_speed == 0 && p->ball_ahead == 0);
    assert_true(isnan(p->ball_down) && isnan(p->ball_out));
    const caber_load *l = &p->load;
    assert_int_equal(l->hub.drive, CABER_TORQUE);
    assert_int_equal(l->grip.drive, CABER_TORQUE);
    assert_int_equal(l->roll.drive, CABER_GEAR);
    assert_true(l->hub.peak == 180 && l->hub.rise == 0.04 && l->hub.omega_max == 30);
    assert_true(l->grip.peak == 15 && l->grip.onset == 0 && l->grip.rise == 0.06 &&
                l->grip.release == 0.18 && l->grip.fall == 0.06 && l->grip.late == -8 &&
                l->grip.late_onset == 0.2 && l->grip.late_rise == 0.05);
    assert_true(l->roll.closing == 0.6 && l->stop.stiffness == 200 && l->stop.damping == 2);
    assert_close(l->stop.cock, DEG(-115), 1e-15, 0);
    assert_int_equal(l->hub.table.count, 0);
    caber_setup_free(s);
}

static void absent_keys_have_their_defaults(void **state)
{
    (void)state;
    caber_setup *s = read_file(DATA "setup.yaml", NULL, 0);
    assert_true(s->build.insertion == 0.030 && s->build.hold == 0.100 && s->build.tip_trim == 0 &&
                s->build.butt_trim == 0);
    const caber_build *b = &s->build;
    assert_true(b->length == 0 && b->order == CABER_TIP_FIRST && b->bore == CABER_BLIND);
    assert_true(b->ferrule.mass == 0 && b->ferrule.length == 0.025 && b->hosel_weight.mass == 0);
    assert_true(b->tape.layers == 0 && b->tape.mass == 0.005 && b->tape.thickness == 0.00013);
    assert_true(b->sleeve.tilt == 0 && s->grip.cap == 0 && s->head.weights.count == 0);
    assert_true(s->head.sole_up == 0 && s->head.sole_toe == 0);
    caber_settings defaults = caber_settings_default();
    assert_int_equal(s->settings.modes, defaults.modes);
    assert_int_equal(s->settings.stations, defaults.stations);
    assert_int_equal(s->settings.elements, defaults.elements);
    assert_true(s->settings.tolerance == defaults.tolerance &&
                s->settings.gravity == defaults.gravity && s->settings.until == defaults.until &&
                s->settings.time_limit == defaults.time_limit &&
                s->settings.sample == defaults.sample);
    caber_setup_free(s);
}

static void keys_are_laid_over_files(void **state)
{
    (void)state;
    caber_setup *s = read_file(DATA "layered.yaml", NULL, 0);
    assert_string_equal(s->name, "layered \"setup\": tee");
    assert_true(s->shaft.damping == 0.01 && s->shaft.length == 1.13);
    assert_int_equal(s->sections.count, 1);
    assert_true(s->sections.items[0].from == 0 && s->sections.items[0].to == 0.3 &&
                s->sections.items[0].ei_scale == 1.2 && s->sections.items[0].gj_scale == 1 &&
                s->sections.items[0].mass_scale == 1);
    assert_true(s->head.mass == 0.203 && s->head.inertia[0] == 2.8e-4 &&
                s->head.inertia[1] == 5e-4);
    assert_true(s->player.load.hub.peak == 190 && s->player.load.hub.rise == 0.05 &&
                s->player.load.hub.omega_max == 30);
    const caber_build *b = &s->build;
    assert_true(b->tip_trim == 0.0127 && b->insertion == 0.032 && b->length == 0);
    assert_true(b->ferrule.mass == 0.0017 && b->ferrule.length == 0.023 && b->ferrule.at == 0.001);
    assert_true(b->hosel_weight.mass == 0.004 && b->hosel_weight.depth == 0.011);
    assert_true(b->tape.layers == 2 && b->tape.mass == 0.0047 && b->tape.thickness == 0.000127);
    assert_true(b->sleeve.pivot == 0.015);
    assert_close(b->sleeve.tilt, DEG(0.7), 1e-15, 0);
    assert_close(b->sleeve.direction, DEG(120), 1e-15, 0);
    assert_true(s->grip.cap == 0.004 && s->head.sole_up == -0.028 && s->head.sole_toe == 0.02);
    assert_int_equal(s->head.weights.count, 2);
    assert_true(s->head.weights.items[0].mass == 0.0063 &&
                s->head.weights.items[0].at[0] == -0.0551 &&
                s->head.weights.items[1].at[1] == -0.017 && s->head.weights.items[1].at[2] == 0.06);
    assert_int_equal(s->settings.modes, 9);
    assert_true(!s->settings.gravity && s->settings.tolerance == 1e-8);
    const caber_table *t = &s->player.load.grip.table;
    assert_int_equal(s->player.load.grip.drive, CABER_MOTION);
    assert_int_equal(t->count, 4);
    assert_true(t->time[1] == 0.1);
    assert_close(t->value[1], DEG(-101.5), 1e-15, 0);
    caber_setup_free(s);
}

static void overrides_reach_everything(void **state)
{
    (void)state;
    const char *const overrides[] = {"load.grip.rise=0.05 s",
                                     "load.hub.peak=12 ft lbf",
                                     "shaft.stations[1].ei=28",
                                     "shaft.sections[0].from=100 mm",
                                     "shaft.sections[0].to=0.2",
                                     "player.load.hub.rise=45 ms",
                                     "head.centre_of_mass.toe=26 mm",
                                     "settings.gravity=no",
                                     "player.ball.down=1.5 m",
                                     "name=other = name",
                                     "player.handed=left",
                                     "build.hold=110 mm"};
    caber_setup *s = read_file(DATA "setup.yaml", overrides, 12);
    assert_true(s->player.load.grip.rise == 0.05);
    assert_close(s->player.load.hub.peak, 16.2698153799768048, 1e-15, 0);
    assert_true(s->shaft.stations[1].ei == 28 && s->shaft.stations[0].ei == 20);
    assert_int_equal(s->sections.count, 1);
    assert_true(s->sections.items[0].from == 0.1 && s->sections.items[0].to == 0.2);
    assert_true(s->player.load.hub.rise == 0.045 && s->head.centre_of_mass[2] == 0.026);
    assert_true(!s->settings.gravity && s->player.ball_down == 1.5 && s->build.hold == 0.11);
    assert_string_equal(s->name, "other = name");
    assert_int_equal(s->player.handed, CABER_LEFT);
    caber_setup_free(s);
}

static void overrides_name_other_files(void **state)
{
    (void)state;
    /* From the current directory, not the setup's folder: hence an absolute path here. */
    const char *const whole[] = {"shaft=" DATA "parts/shaft.yaml"};
    caber_setup *s = read_file(DATA "layered.yaml", whole, 1);
    assert_int_equal(s->sections.count, 0); /* the setup's keys went with the mapping */
    caber_setup_free(s);
    const char *const file[] = {"shaft.file=" DATA "parts/shaft.yaml", "shaft.damping=0.02"};
    s = read_file(DATA "layered.yaml", file, 2);
    assert_int_equal(s->sections.count, 1); /* and stay when only the file is another */
    assert_true(s->shaft.damping == 0.02);
    caber_setup_free(s);
    const char *const beside[] = {"head.mass=0.19", "head.file=" DATA "parts/head.yaml"};
    s = read_file(DATA "setup.yaml", beside, 2); /* which names the head by a path alone */
    assert_true(s->head.mass == 0.19 && s->head.bulge == 0.3);
    caber_setup_free(s);
    const char *const table[] = {"load.grip.drive=motion",
                                 "load.grip.table=" DATA "parts/cock.csv"};
    s = read_file(DATA "setup.yaml", table, 2);
    assert_int_equal(s->player.load.grip.table.count, 4);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ one self-contained setup */

/* Lines are numbered for the messages below. */
static const char good[] =
    "kind: setup\n"                                                                 /* 1 */
    "name: whole\n"                                                                 /* 2 */
    "shaft:\n"                                                                      /* 3 */
    "  length: 1.1 m\n"                                                             /* 4 */
    "  stations:\n"                                                                 /* 5 */
    "    - {at: 0 mm, ei: 20 N m2, gj: 8 N m2, mass: 50 g/m, diameter: 9 mm}\n"     /* 6 */
    "    - {at: 500 mm, ei: 40 N m2, gj: 14 N m2, mass: 52 g/m, diameter: 11 mm}\n" /* 7 */
    "    - {at: 1.1 m, ei: 65 N m2, gj: 26 N m2, mass: 55 g/m, diameter: 15 mm}\n"  /* 8 */
    "head:\n"                                                                       /* 9 */
    "  mass: 200 g\n"                                                               /* 10 */
    "  loft: 10 deg\n"                                                              /* 11 */
    "  lie: 58 deg\n"                                                               /* 12 */
    "  centre_of_mass: {forward: -20 mm, up: 5 mm, toe: 25 mm}\n"                   /* 13 */
    "  face_centre: {forward: 20 mm, up: 0 mm, toe: 25 mm}\n"                       /* 14 */
    "  inertia: {forward: 2800 g cm2, up: 4800 g cm2, toe: 3500 g cm2}\n"           /* 15 */
    "grip: {mass: 50 g, length: 270 mm, diameter: 23 mm}\n"                         /* 16 */
    "player:\n"                                                                     /* 17 */
    "  arm: {length: 0.62 m, inertia: 1.15 kg m2, mass: 7 kg, centre: 0.3 m}\n"     /* 18 */
    "  plane: {inclination: 50 deg}\n"                                              /* 19 */
    "  start: {arm: -130 deg, cock: -100 deg}\n"                                    /* 20 */
    "  ball: {ahead: 0 mm}\n"                                                       /* 21 */
    "  load:\n"                                                                     /* 22 */
    "    hub: {peak: 180 N m, rise: 40 ms, omega_max: 30 rad/s}\n"                  /* 23 */
    "    grip: {peak: 15 N m, rise: 60 ms, release: 180 ms, fall: 60 ms}\n"         /* 24 */
    "    roll: {top: 95 deg, closing: 0.6}\n"                                       /* 25 */
    "build: {hold: 100 mm}\n"                                                       /* 26 */
    "settings: {modes: 7}\n";                                                       /* 27 */

/* Returns `good` with the first `from` replaced, to be freed. */
static char *changed(const char *from, const char *to)
{
    const char *at = strstr(good, from);
    assert_non_null(at);
    char *text = malloc(sizeof good + strlen(to));
    assert_non_null(text);
    size_t before = (size_t)(at - good);
    memcpy(text, good, before);
    strcpy(text + before, to);
    strcat(text, at + strlen(from));
    return text;
}

static caber_status read_text(const char *text, caber_setup **setup, caber_message *message)
{
    return files_read_text(DATA "here.yaml", text, strlen(text), NULL, 0, setup, message);
}

/* Expected messages leave the test's folder out. */
static void assert_message(const char *got, const char *expected)
{
    char whole[2048];
    size_t used = 0;
    for (const char *s = expected; *s && used + sizeof DATA + 1 < sizeof whole;) {
        if (*s == '@') {
            memcpy(whole + used, DATA, sizeof DATA - 1);
            used += sizeof DATA - 1;
            s++;
        } else {
            whole[used++] = *s++;
        }
    }
    whole[used] = '\0';
    assert_string_equal(got, whole);
}

typedef struct mistake {
    const char *from, *to, *message;
} mistake;

static void assert_mistakes(const mistake *rows, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        char *text = changed(rows[i].from, rows[i].to);
        caber_setup *setup;
        caber_message message;
        caber_status status = read_text(text, &setup, &message);
        free(text);
        assert_int_equal(status, CABER_BAD_INPUT);
        assert_null(setup);
        assert_message(message.text, rows[i].message);
    }
}

#define ASSERT_MISTAKES(rows) assert_mistakes((rows), sizeof(rows) / sizeof(rows)[0])

static void the_good_setup_is_good(void **state)
{
    (void)state;
    caber_setup *setup;
    caber_message message;
    if (read_text(good, &setup, &message) != CABER_OK)
        fail_msg("%s", message.text);
    caber_setup_free(setup);
}

static void wrong_keys(void **state)
{
    (void)state;
    static const mistake rows[] = {
        {"  loft: 10 deg", "  lofft: 10 deg",
         "@here.yaml:11:3: head.lofft: there is no such key; did you mean loft?; allowed are name, "
         "note, mass, loft, lie, face_angle, bulge, roll, restitution, restitution_speed, "
         "restitution_loss, friction, centre_of_mass, face_centre, inertia, "
         "sole, weights"},
        {"{modes: 7}", "{modes: 7, speed: fast}",
         "@here.yaml:27:22: settings.speed: there is no such key; allowed are modes, stations, "
         "elements, ceiling, tolerance, gravity, until, time_limit, sample"},
        {"name: whole", "nam: whole",
         "@here.yaml:2:1: nam: there is no such key; did you mean name?; allowed are name, note, "
         "shaft, head, grip, build, player, ball, air, settings, load"},
        {"  length: 1.1 m\n", "  length: 1.1 m\n  length: 1.2 m\n",
         "@here.yaml:5:3: length: this key was given before, in line 4"},
        {"ei: 40 N m2", "ei: 40 N m2, ei: 41",
         "@here.yaml:7:33: ei: this key was given before, in line 7"},
        {"kind: setup\n", "", "@here.yaml:1:1: kind: is missing; this file must say kind: setup"},
        {"kind: setup", "kind: shaft",
         "@here.yaml:1:7: kind: shaft is not allowed; it must be setup"},
        {"kind: setup", "kind: [setup]",
         "@here.yaml:1:7: kind: a word is wanted; it must be setup"},
        {"  mass: 200 g", "  kind: grip\n  mass: 200 g",
         "@here.yaml:10:9: head.kind: grip is not allowed; it must be head"},
    };
    ASSERT_MISTAKES(rows);
}

static void wrong_quantities(void **state)
{
    (void)state;
    static const mistake rows[] = {
        {"mass: 200 g", "mass: 200 grains",
         "@here.yaml:10:9: head.mass: \"200 grains\": \"grains\" is no unit of a mass; allowed are "
         "kg, g, oz, lb, or a number alone in SI"},
        {"mass: 200 g", "mass: 200 mm",
         "@here.yaml:10:9: head.mass: \"200 mm\" is a length, but a mass is wanted (kg, g, oz, "
         "lb)"},
        {"mass: 200 g", "mass: 0.1x",
         "@here.yaml:10:9: head.mass: \"0.1x\": \"x\" is no unit of a mass; allowed are kg, g, oz, "
         "lb, or a number alone in SI"},
        {"mass: 200 g", "mass: 0,2 kg",
         "@here.yaml:10:9: head.mass: \"0,2 kg\" has a comma in its number; use a decimal point; a "
         "mass such as \"1.25 kg\" is wanted"},
        {"mass: 200 g", "mass: 1e999",
         "@here.yaml:10:9: head.mass: \"1e999\" is too large for a number; a mass such as \"1.25 "
         "kg\" is wanted"},
        {"mass: 200 g", "mass: .nan",
         "@here.yaml:10:9: head.mass: \".nan\" is not a finite number; a mass such as \"1.25 kg\" "
         "is wanted"},
        {"mass: 200 g", "mass:",
         "@here.yaml:10:8: head.mass: \"\" is empty; a mass such as \"1.25 kg\" is wanted"},
        {"mass: 200 g", "mass: [200 g]",
         "@here.yaml:10:9: head.mass: this is a list; a mass is wanted"},
        {"ei: 65 N m2", "ei: 0.0 N m2",
         "@here.yaml:8:23: shaft.stations[2].ei: 0.0 N m2 is not allowed; it must be above 0 and "
         "at "
         "most 1000 N m2"},
        {"loft: 10 deg", "loft: 10",
         "@here.yaml:11:9: head.loft: 10 is not allowed; it must be at least -10 and at most 80 "
         "deg"},
        {"at: 0 mm", "at: -1 mm",
         "@here.yaml:6:12: shaft.stations[0].at: -1 mm is not allowed; it must be at least 0 and "
         "at "
         "most 3000 mm"},
    };
    ASSERT_MISTAKES(rows);
}

static void wrong_types_and_words(void **state)
{
    (void)state;
    static const mistake rows[] = {
        {"{modes: 7}", "{modes: 7.5}",
         "@here.yaml:27:19: settings.modes: 7.5 is not allowed; it must be a whole number"},
        {"{modes: 7}", "{modes: 61}",
         "@here.yaml:27:19: settings.modes: 61 is not allowed; it must be at least 1 and at most "
         "60"},
        {"{modes: 7}", "{gravity: 1}",
         "@here.yaml:27:21: settings.gravity: \"1\" is not allowed; it must be yes or no"},
        {"hub: {peak", "hub: {drive: gear, peak",
         "@here.yaml:23:18: player.load.hub.drive: \"gear\" is not allowed; it must be torque, "
         "motion or locked"},
        {"  arm: {len", "  handed: both\n  arm: {len",
         "@here.yaml:18:11: player.handed: \"both\" is not allowed; it must be right or left"},
        {"build: {hold: 100 mm}", "build:",
         "@here.yaml:26:7: build: this is empty; a mapping is wanted, with the keys tip_trim, "
         "butt_trim, length, order, bore, insertion, hold, ferrule, hosel_weight, tape, sleeve"},
        {"build: {hold: 100 mm}", "build: [1]",
         "@here.yaml:26:8: build: this is a list; a mapping is wanted, with the keys tip_trim, "
         "butt_trim, length, order, bore, insertion, hold, ferrule, hosel_weight, tape, sleeve"},
        {"name: whole", "name: {a: b}", "@here.yaml:2:7: name: this is a mapping; text is wanted"},
        {"name: whole",
         "name: a name of ninety-six bytes is one too long, and so this one is refused with a "
         "clear "
         "message.....",
         "@here.yaml:2:7: name: this text has 96 bytes; at most 95 are allowed"},
        {"grip: {mass: 50 g, length: 270 mm, diameter: 23 mm}", "grip: 5",
         "@here.yaml:16:7: grip: @5: there is no such file"},
    };
    for (size_t i = 0; i + 1 < sizeof rows / sizeof rows[0]; i++)
        assert_mistakes(&rows[i], 1);
    /* The last is another status: a text in that place is a path. */
    const mistake *last = &rows[sizeof rows / sizeof rows[0] - 1];
    char *text = changed(last->from, last->to);
    caber_setup *setup;
    caber_message message;
    assert_int_equal(read_text(text, &setup, &message), CABER_IO_ERROR);
    assert_message(message.text, last->message);
    free(text);
}

static void wrong_lists_and_loads(void **state)
{
    (void)state;
    static const mistake rows[] = {
        {"  length: 1.1 m", "  sections: 5\n  length: 1.1 m",
         "@here.yaml:4:13: shaft.sections: this is a value; a list is wanted, an entry (- ...) for "
         "each"},
        {"    - {at: 500 mm, ei: 40 N m2, gj: 14 N m2, mass: 52 g/m, diameter: 11 mm}\n"
         "    - {at: 1.1 m, ei: 65 N m2, gj: 26 N m2, mass: 55 g/m, diameter: 15 mm}\n",
         "",
         "@here.yaml:6:5: shaft.stations: 1 entries are not allowed; there must be at least 2 and "
         "at "
         "most 1000"},
        {"{at: 500 mm, ei: 40 N m2, gj: 14 N m2, mass: 52 g/m, diameter: 11 mm}", "text",
         "@here.yaml:7:7: shaft.stations[1]: this is a value; a mapping is wanted, with the keys "
         "at, ei, ei_2, ei_angle, gj, mass, diameter"},
        {"settings: {modes: 7}", "load: 5",
         "@here.yaml:27:7: load: a mapping is wanted, with the keys hub, grip, roll, stop"},
        {"settings: {modes: 7}", "load: {grip: {peek: 1}}",
         "@here.yaml:27:15: player.load.grip.peek: there is no such key; did you mean peak?; "
         "allowed "
         "are drive, table, peak, onset, rise, release, fall, late, late_onset, late_rise"},
        {"name: whole", "name: whole\nload:\n  hub: {rise: 0}",
         "@here.yaml:4:15: player.load.hub.rise: 0 is not allowed; it must be above 0 and at most "
         "5 "
         "s"},
    };
    ASSERT_MISTAKES(rows);
    char *text = changed("  length: 1.1 m", "  sections: []\n  length: 1.1 m");
    caber_setup *setup;
    caber_message message;
    assert_int_equal(read_text(text, &setup, &message), CABER_OK);
    assert_int_equal(setup->sections.count, 0);
    caber_setup_free(setup);
    free(text);
}

static void what_is_missing(void **state)
{
    (void)state;
    static const mistake rows[] = {
        {"  length: 1.1 m\n", "",
         "@here.yaml:4:3: shaft.length: is missing (uncut length, tip to butt); it must be at "
         "least "
         "300 and at most 3000 mm"},
        {", gj: 14 N m2", "",
         "@here.yaml:7:7: shaft.stations[1].gj: is missing (twisting stiffness GJ); it must be "
         "above 0 and at most 1000 N m2"},
        {"  inertia: {forward: 2800 g cm2, up: 4800 g cm2, toe: 3500 g cm2}\n", "",
         "@here.yaml:10:3: head.inertia.forward: is missing (about the forward axis); it must be "
         "above 0 and at most 1000000 g cm2"},
        {"grip: {mass: 50 g, length: 270 mm, diameter: 23 mm}\n", "",
         "@here.yaml:1:1: grip: is missing; give the path of a grip file, or a mapping"},
        {"peak: 180 N m, ", "",
         "@here.yaml:23:10: player.load.hub.peak: is missing, but needed with drive: torque and no "
         "table (torque at standstill, once it has risen); it must be at least 0 and at most 2000 "
         "N m"},
        {"hub: {peak", "hub: {drive: motion, peak",
         "@here.yaml:23:10: player.load.hub.table: is missing, but needed with drive: motion "
         "(torque at the hub, or with drive: motion the arm angle, through time)"},
        {"fall: 60 ms", "fall: 60 ms, late: -5",
         "@here.yaml:24:11: player.load.grip.late_onset: is missing, but needed with late (when "
         "the "
         "late couple begins); it must be at least -2 and at most 10 s"},
        {", closing: 0.6", "",
         "@here.yaml:25:11: player.load.roll.closing: is missing, but needed with drive: gear "
         "(degrees of roll a degree of club rotation, as the face comes square); it must be above "
         "0 "
         "and at most 10"},
        {"    roll: {top: 95 deg, closing: 0.6}\n",
         "    roll: {top: 95 deg, closing: 0.6}\n    stop: {stiffness: 100}\n",
         "@here.yaml:26:11: player.load.stop.cock: is missing, but needed with stiffness (where "
         "the "
         "wrists stop); it must be at least -180 and at most 0 deg"},
    };
    ASSERT_MISTAKES(rows);
}

static void what_fields_must_be_to_each_other(void **state)
{
    (void)state;
    static const mistake rows[] = {
        {"at: 0 mm", "at: 5 mm",
         "@here.yaml:6:12: shaft.stations[0].at: 5 mm is not allowed; the first station must be at "
         "the tip, 0 mm"},
        {"at: 500 mm", "at: 0 mm",
         "@here.yaml:7:12: shaft.stations[1].at: 0 mm is not allowed; stations must ascend, and "
         "the "
         "one before is at 0 mm"},
        {"length: 1.1 m", "length: 1.2 m",
         "@here.yaml:8:12: shaft.stations[2].at: the last station, 1100 mm, does not reach the "
         "butt; it must be at least the length, 1200 mm"},
        {"mass: 50 g/m", "mass: 0.1 kg/m",
         "@here.yaml:6:49: shaft.stations[0].mass: 100 g/m is not allowed; a solid rod of 9 mm and "
         "1550 kg/m3 has 98.6067 g/m, and a tube must have less"},
        {"up: 4800 g cm2", "up: 6400 g cm2",
         "@here.yaml:15:12: head.inertia: no solid has this inertia; no principal moment may be "
         "above the sum of the other two"},
        {"up: 4800 g cm2", "up: 4800 g cm2, forward_up: 4000 g cm2",
         "@here.yaml:15:12: head.inertia: no solid has this inertia; the matrix must be positive "
         "definite (the products are too large for the moments)"},
        {"  lie: 58 deg", "  lie: 58 deg\n  bulge: 3 mm",
         "@here.yaml:13:10: head.bulge: 3 mm is not allowed; it must be 0 for a flat face, or at "
         "least 50 mm"},
        {"length: 270 mm", "length: 270 mm, centre_of_mass: 185 mm",
         "@here.yaml:16:52: grip.centre_of_mass: 185 mm is not allowed; it must be 0 for the "
         "middle, or above 90 and below 180 mm, a third and two thirds of the grip's length"},
        {"hold: 100 mm", "hold: 100 mm, tip_trim: 400 mm, butt_trim: 300 mm",
         "@here.yaml:26:8: build: trims of 400 and 300 mm, insertion of 30 mm and hold of 100 mm "
         "leave 270 mm of the 1100 mm shaft to bend; they must leave at least 300 mm"},
        {"centre: 0.3 m", "centre: 0.7 m",
         "@here.yaml:18:66: player.arm.centre: 700 mm is not allowed; it must be at most the arm's "
         "length, 620 mm"},
        {"inertia: 1.15 kg m2", "inertia: 0.5 kg m2",
         "@here.yaml:18:34: player.arm.inertia: 0.5 kg m2 is not allowed; 7 kg with its centre at "
         "300 mm has at least 0.63 kg m2"},
        {"top: 95 deg", "top: -95 deg",
         "@here.yaml:25:17: player.load.roll.top: -95 deg is not allowed; it must be above 0 with "
         "drive: gear"},
        {"  length: 1.1 m", "  sections: [{from: 0.3, to: 0.2}]\n  length: 1.1 m",
         "@here.yaml:4:21: shaft.sections[0].from: 300 mm is not allowed; it must be below `to`, "
         "200 mm"},
        {"  length: 1.1 m", "  sections: [{from: 0.3, to: 1.2}]\n  length: 1.1 m",
         "@here.yaml:4:30: shaft.sections[0].to: 1200 mm is not allowed; it must be at most the "
         "shaft's length, 1100 mm"},
        {"  length: 1.1 m", "  sections: [{from: 0, to: 0.2, mass_scale: 2}]\n  length: 1.1 m",
         "@here.yaml:7:49: shaft.stations[0].mass: 100 g/m with the scale of the sections is not "
         "allowed; a solid rod of 9 mm and 1550 kg/m3 has 98.6067 g/m, and a tube must have less"},
    };
    ASSERT_MISTAKES(rows);
}

static void wrong_tables_in_place(void **state)
{
    (void)state;
#define HUB "peak: 180 N m, rise: 40 ms, omega_max: 30 rad/s"
    static const mistake rows[] = {
        {HUB, "table: {time: [0, 1, 2]}",
         "@here.yaml:23:18: player.load.hub.table: a table has two lists, {time: [...], value: "
         "[...]}, or is the path of a CSV file"},
        {HUB, "table: [1, 2]",
         "@here.yaml:23:18: player.load.hub.table: a table has two lists, {time: [...], value: "
         "[...]}, or is the path of a CSV file"},
        {HUB, "table: {time: [0, 1, 2, 3], value: [1, 2, 3]}",
         "@here.yaml:23:18: player.load.hub.table: time has 4 entries and value 3; they must be as "
         "many"},
        {HUB, "table: {time: [0, 1, 2], value: [1, 2, 3]}",
         "@here.yaml:23:18: player.load.hub.table: 3 rows are not allowed; there must be at least "
         "4 "
         "and at most 100000"},
        {HUB, "table: {time: [0, 1, 2, 3], value: [1, 2, 3 deg, 4]}",
         "@here.yaml:23:53: player.load.hub.table.value[2]: \"3 deg\" is an angle, but a torque is "
         "wanted (N m, N mm, ft lbf, in lbf, in ozf)"},
        {HUB, "table: {time: [0, 1, 1, 3], value: [1, 2, 3, 4]}",
         "@here.yaml:23:18: player.load.hub.table: row 3: time 1 s does not ascend; it must be "
         "above "
         "1 s"},
        {HUB, "table: {time: [1, 2, 3, 4], value: [1, 2, 3, 4]}",
         "@here.yaml:23:18: player.load.hub.table: begins at 1 s; it must begin at or before 0 s"},
        {HUB, "table: {time: [0, 1, 2, 3], value: [1, 2, 3, 1e9]}",
         "@here.yaml:23:18: player.load.hub.table: row 4: times and values must be finite and at "
         "most 100000"},
        {"top: 95 deg", "top: 95 deg, table: {time: [0, 1, 2, 3], value: [1, 2, 3, 4]}",
         "@here.yaml:25:32: player.load.roll.table: is not allowed with drive: gear; it needs "
         "drive: "
         "torque or motion"},
    };
    ASSERT_MISTAKES(rows);
}

/* ------------------------------------------------------------------ references */

static void assert_file_error(const char *text, caber_status expected_status, const char *expected)
{
    caber_setup *setup;
    caber_message message;
    assert_int_equal(read_text(text, &setup, &message), expected_status);
    assert_null(setup);
    assert_message(message.text, expected);
}

#define PARTS(shaft, table)                                                                        \
    "kind: setup\nshaft: " shaft "\nhead: parts/head.yaml\ngrip: parts/grip.yaml\n"                \
    "player: parts/player.yaml\nload: {grip: {table: " table "}}\n"

static void references_that_fail(void **state)
{
    (void)state;
    assert_file_error(PARTS("nowhere.yaml", "x"), CABER_IO_ERROR,
                      "@here.yaml:2:8: shaft: @nowhere.yaml: there is no such file");
    assert_file_error(PARTS("{file: parts}", "x"), CABER_IO_ERROR,
                      "@here.yaml:2:15: shaft: @parts: this is a directory; a file is wanted");
    assert_file_error(PARTS("''", "x"), CABER_BAD_INPUT,
                      "@here.yaml:2:8: shaft: the path of a shaft file is wanted");
    assert_file_error(PARTS("{file: [a]}", "x"), CABER_BAD_INPUT,
                      "@here.yaml:2:15: shaft: the path of a shaft file is wanted");
    assert_file_error(PARTS("parts/head.yaml", "x"), CABER_BAD_INPUT,
                      "@parts/head.yaml:2:7: kind: head is not allowed; it must be shaft");
    assert_file_error(PARTS("parts/shaft.yaml", "nowhere.csv"), CABER_IO_ERROR,
                      "@here.yaml:6:22: player.load.grip.table: @nowhere.csv: there is no such "
                      "file");
    assert_file_error(PARTS("parts/shaft.yaml", "parts/cock.csv"), CABER_BAD_INPUT,
                      "@parts/cock.csv:3:4: cock: \"deg\" is no unit of a torque; the second row "
                      "gives the units, and allowed are N m, N mm, ft lbf, in lbf, in ozf");
    assert_file_error(
        PARTS("parts/sections.yaml", "x"), CABER_BAD_INPUT,
        "@parts/sections.yaml:4:11: sections: is not allowed in the shaft's own file; "
        "a setup has it, beside the key file");
    assert_file_error(
        PARTS("parts/../parts/zero_ei.yaml", "x"), CABER_BAD_INPUT,
        "@parts/zero_ei.yaml:6:20: stations[1].ei: 0 is not allowed; it must be above "
        "0 and at most 1000 N m2");
    assert_file_error(PARTS("parts/short.yaml", "parts/couple.csv"), CABER_BAD_INPUT,
                      "@parts/short.yaml:5:10: stations[1].at: the last station, 900 mm, does not "
                      "reach the butt; it must be at least the length, 1130 mm");
}

static void a_file_that_names_itself(void **state)
{
    (void)state;
    caber_setup *setup;
    caber_message message;
    assert_int_equal(caber_setup_read(DATA "cycle.yaml", NULL, 0, &setup, &message),
                     CABER_BAD_INPUT);
    assert_message(message.text, "@cycle.yaml:4:7: head: @cycle.yaml: this is the setup itself; a "
                                 "head file is wanted");
}

static void setups_that_cannot_be_opened(void **state)
{
    (void)state;
    caber_setup *setup;
    caber_message message;
    assert_int_equal(caber_setup_read(DATA "none.yaml", NULL, 0, &setup, &message), CABER_IO_ERROR);
    assert_message(message.text, "@none.yaml: there is no such file");
    assert_int_equal(caber_setup_read(DATA "parts", NULL, 0, &setup, &message), CABER_IO_ERROR);
    assert_message(message.text, "@parts: this is a directory; a file is wanted");
    assert_int_equal(caber_setup_read(DATA "setup.yaml/x", NULL, 0, &setup, &message),
                     CABER_IO_ERROR);
    assert_message(message.text, "@setup.yaml/x: there is no such file");
    assert_int_equal(caber_setup_read("/dev/null", NULL, 0, &setup, &message), CABER_IO_ERROR);
    assert_message(message.text, "/dev/null: this is not an ordinary file");
    assert_int_equal(caber_setup_read(DATA "none.yaml", NULL, 0, &setup, NULL), CABER_IO_ERROR);
    assert_int_equal(caber_setup_read(DATA "bad.yaml", NULL, 0, &setup, &message), CABER_BAD_INPUT);
    assert_message(message.text,
                   "@bad.yaml:4:5: this is not YAML: while parsing a flow mapping, did "
                   "not find expected ',' or '}'");
}

static void overrides_that_fail(void **state)
{
    (void)state;
    static const struct {
        const char *text, *message;
    } rows[] = {
        {"head.mass", "--set head.mass: write path=value, such as load.grip.rise=\"0.05 s\""},
        {"=1", "--set =1: write path=value, such as load.grip.rise=\"0.05 s\""},
        {"head..mass=1", "--set head..mass: the path is malformed; write keys with points and "
                         "indices in brackets, such as shaft.stations[0].ei"},
        {"head.mass=heavy", "--set head.mass: head.mass: \"heavy\" is not a number; a mass such as "
                            "\"1.25 kg\" is wanted"},
        {"load.hub.peak=-1",
         "--set load.hub.peak: player.load.hub.peak: -1 is not allowed; it must "
         "be at least 0 and at most 2000 N m"},
        {"shaft.sections[1].to=1", "--set shaft.sections[1].to: [1] cannot be set: the list has 0 "
                                   "entries, so the index is at most 0, which appends"},
        {"build.hold=0.5 m\xFF", "--set: the text is not UTF-8"},
        {"load=5", "--set load: player.load: this is a value; a mapping is wanted, with the keys "
                   "hub, grip, roll, stop"},
        {"build.hold.x=1", "--set build.hold.x: build.hold: this is a mapping; a length is wanted"},
        {"shaft.stations[0].at=1 mm",
         "--set shaft.stations[0].at: shaft.stations[0].at: 1 mm is not "
         "allowed; the first station must be at the tip, 0 mm"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        caber_setup *setup;
        caber_message message;
        assert_int_equal(caber_setup_read(DATA "setup.yaml", &rows[i].text, 1, &setup, &message),
                         CABER_BAD_INPUT);
        assert_null(setup);
        assert_string_equal(message.text, rows[i].message);
    }
}

/* ------------------------------------------------------------------ writing */

static void assert_same_field(const field *f, const char *a, const char *b);

static void assert_same_group(const field_group *group, const char *a, const char *b)
{
    for (size_t i = 0; i < group->count; i++)
        assert_same_field(&group->fields[i], a, b);
}

static void assert_same_table(const caber_table *a, const caber_table *b)
{
    assert_int_equal(a->count, b->count);
    if (a->count == 0)
        return;
    assert_memory_equal(a->time, b->time, a->count * sizeof *a->time);
    assert_memory_equal(a->value, b->value, a->count * sizeof *a->value);
}

static void assert_same_errors(const caber_shaft *a, const caber_shaft *b)
{
    assert_int_equal(a->errors.count, b->errors.count);
    if (a->errors.count > 0)
        assert_memory_equal(a->errors.share, b->errors.share,
                            3 * a->errors.count * a->station_count * sizeof(double));
}

static void assert_same_list(const field *f, const char *a, const char *b)
{
    size_t m, n;
    const char *left, *right;
    memcpy(&m, a + f->count_offset, sizeof m);
    memcpy(&n, b + f->count_offset, sizeof n);
    memcpy(&left, a + f->offset, sizeof left);
    memcpy(&right, b + f->offset, sizeof right);
    assert_int_equal(m, n);
    for (size_t i = 0; i < n; i++)
        assert_same_group(f->group, left + i * f->item_size, right + i * f->item_size);
}

static void assert_same_field(const field *f, const char *a, const char *b)
{
    static const size_t sizes[] = {[FIELD_QUANTITY] = sizeof(double),
                                   [FIELD_INTEGER] = sizeof(int),
                                   [FIELD_BOOLEAN] = sizeof(bool),
                                   [FIELD_WORD] = sizeof(caber_drive)};
    if (f->type == FIELD_GROUP)
        assert_same_group(f->group, a + f->offset, b + f->offset);
    else if (f->type == FIELD_LIST)
        assert_same_list(f, a, b);
    else if (f->type == FIELD_TABLE)
        assert_same_table((const caber_table *)(const void *)(a + f->offset),
                          (const caber_table *)(const void *)(b + f->offset));
    else if (f->type == FIELD_ERRORS)
        assert_same_errors((const caber_shaft *)(const void *)a,
                           (const caber_shaft *)(const void *)b);
    else if (f->type == FIELD_TEXT)
        assert_string_equal(a + f->offset, b + f->offset);
    else
        assert_memory_equal(a + f->offset, b + f->offset, sizes[f->type]);
}

/* Writes a setup, reads it back and compares every field bit by bit. */
static void assert_round_trip(const caber_setup *setup)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    caber_message message;
    caber_setup *back;
    assert_non_null(out);
    caber_status status = files_write_setup(setup, out, &message);
    fclose(out);
    if (status != CABER_OK)
        fail_msg("%s", message.text);
    /* No folder: nothing in it may refer to a file. */
    if (files_read_text("written", text, size, NULL, 0, &back, &message) != CABER_OK)
        fail_msg("%s\n%s", message.text, text);
    assert_same_group(fields_kind_setup(), (const char *)setup, (const char *)back);
    caber_setup_free(back);
    free(text);
}

static void written_setups_read_back_bit_for_bit(void **state)
{
    (void)state;
    caber_setup *s = read_file(DATA "setup.yaml", NULL, 0);
    assert_round_trip(s);
    caber_setup_free(s);
    s = read_file(DATA "layered.yaml", NULL, 0);
    assert_round_trip(s);
    caber_repeat *repeat = &s->player.repeat;
    repeat->pairings = calloc(2, sizeof *repeat->pairings);
    assert_non_null(repeat->pairings);
    repeat->pairings[0] = (caber_pairing){CABER_HABIT_RISE, CABER_HABIT_HEIGHT, -1 / 3.0};
    repeat->pairings[1] = (caber_pairing){CABER_HABIT_HUB, CABER_HABIT_PEAK, 0};
    repeat->pairing_count = 2;
    s->player.strike = CABER_PLACED;
    s->ball.coefficients = CABER_LYU;
    /* Doubles that are no short decimals, in every printed unit. */
    for (int i = 1; i < 200; i++) {
        s->head.mass = 0.2 + i / 3333.0;
        s->head.loft = 0.1 + i / 999.7;
        s->head.inertia[4] = -1e-5 / i;
        s->player.start_arm_speed = -1.0 / (7 * i);
        s->player.load.grip.table.value[2] = -1.0 - 1 / (i + 0.1);
        s->player.ball_down = i % 2 ? (double)NAN : 1.5 + 1.0 / i;
        s->settings.tolerance = 1e-9 + 1e-12 / i;
        s->shaft.stations[1].mass = 0.052 + 1e-5 / i;
        s->air.temperature = 250 + i / 3.3;
        s->air.pressure = i % 2 ? (double)NAN : 9e4 + 1e3 / i;
        s->air.humidity = i / 333.3;
        s->ball.mass = 0.045 + 1e-3 / i;
        s->head.restitution_loss = 1e-2 / i;
        repeat->release = 1e-3 + 1e-2 / i;
        assert_round_trip(s);
    }
    caber_setup_free(s);
}

static void long_tables_survive(void **state)
{
    (void)state;
    enum { ROWS = 1000 };
    caber_setup *s = read_file(DATA "setup.yaml", NULL, 0);
    caber_table *t = &s->player.load.hub.table;
    t->time = calloc(ROWS, sizeof *t->time);
    t->value = calloc(ROWS, sizeof *t->value);
    t->count = ROWS;
    assert_non_null(t->time);
    assert_non_null(t->value);
    for (int i = 0; i < ROWS; i++) {
        t->time[i] = i / 3001.0;
        t->value[i] = 200 * sin(i / 77.0);
    }
    assert_round_trip(s);
    caber_setup_free(s);
}

static void any_text_survives(void **state)
{
    (void)state;
    static const char *const names[] = {
        "plain",
        "#5 \"stiff\" \\ 'tip': {x}, [y]",
        "two\nlines\n",
        " blanks ",
        "\xC3\xA9t\xC3\xA9 \xF0\x9F\x8F\x8C",
        "tab\tand\x01\x1F\x7F",
        "\xC2\x85",
        "\xE2\x80\xA8\xE2\x80\xA9",
        "\xEF\xBB\xBF\xEF\xBF\xBE",
        "null",
        "- a",
        "---",
        "long words that a writer might fold somewhere in the middle of the line, but must not",
    };
    caber_setup *s = read_file(DATA "setup.yaml", NULL, 0);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        strcpy(s->name, names[i]);
        strcpy(s->head.note, names[i]);
        assert_round_trip(s);
    }
    caber_setup_free(s);
}

static void what_is_not_used_is_no_obstacle(void **state)
{
    (void)state;
    caber_setup *s = read_file(DATA "layered.yaml", NULL, 0);
    s->player.load.grip.rise = 0; /* not allowed, but the grip is driven by motion */
    s->player.load.stop = (caber_stop){0};
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    caber_message message;
    assert_int_equal(files_write_setup(s, out, &message), CABER_OK);
    fclose(out);
    caber_setup *back;
    assert_int_equal(files_read_text("written", text, size, NULL, 0, &back, &message), CABER_OK);
    free(text);
    caber_setup_free(back);
    caber_setup_free(s);
}

static void impossible_setups_are_not_written(void **state)
{
    (void)state;
    caber_setup *s = read_file(DATA "setup.yaml", NULL, 0);
    s->head.mass = -1;
    FILE *out = tmpfile();
    caber_message message;
    assert_int_equal(files_write_setup(s, out, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text,
                        "head.mass: -1000 g is not allowed; it must be above 0 and at most 1000 g");
    assert_int_equal(ftell(out), 0);
    fclose(out);
    caber_setup_free(s);
}

static void full_disks_are_noticed(void **state)
{
    (void)state;
    FILE *full = fopen("/dev/full", "w");
    if (!full)
        skip();
    caber_setup *s = read_file(DATA "setup.yaml", NULL, 0);
    caber_message message;
    assert_int_equal(files_write_setup(s, full, &message), CABER_IO_ERROR);
    fclose(full);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ the reference */

static char *reference(files_format format)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    assert_int_equal(files_reference(out, format, NULL), CABER_OK);
    fclose(out);
    return text;
}

static void assert_documented(const field_group *group, const char *text)
{
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        assert_non_null(f->meaning);
        if (f->type != FIELD_GROUP) {
            assert_non_null(strstr(text, f->name));
            assert_non_null(strstr(text, f->meaning));
        }
        if (f->group)
            assert_documented(f->group, text);
    }
}

/* Wrapping puts line ends into meanings: undo it. */
static void unwrap(char *text)
{
    char *to = text;
    for (const char *from = text; *from; from++) {
        bool blank = *from == ' ' || *from == '\n';
        if (!blank)
            *to++ = *from;
        else if (to > text && to[-1] != ' ')
            *to++ = ' ';
    }
    *to = '\0';
}

static void the_reference_has_every_key(void **state)
{
    (void)state;
    char *text = reference(FILES_TEXT);
    for (const char *line = text; *line; line = strchr(line, '\n') + 1)
        assert_in_range(strcspn(line, "\n"), 0, 80);
    unwrap(text);
    for (size_t i = 0; fields_kind(i); i++)
        assert_documented(fields_kind(i), text);
    free(text);
    char *page = reference(FILES_SCDOC);
    assert_int_equal(strncmp(page, "caber-files(5)\n", 15), 0);
    assert_non_null(strstr(page, "\n# SHAFT\n"));
    assert_non_null(strstr(page, "*stations[].ei\\_angle*\n\t"));
    free(page);
}

/* A default must itself be allowed, or be absent in a file and missing in the struct. */
static void assert_defaults_allowed(const field_group *group)
{
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        if (f->type == FIELD_QUANTITY)
            assert_non_null(unit_find(f->unit, f->dim));
        if (f->type == FIELD_QUANTITY)
            assert_int_equal(unit_find(f->unit, f->dim)->dim, f->dim);
        bool free_choice = !(f->flags & FIELD_REQUIRED) && !f->needed && !group->fill;
        if (f->type == FIELD_QUANTITY && free_choice && !field_allows(f, f->fallback))
            fail_msg("the default of %s is outside its range", f->name);
        if (f->group)
            assert_defaults_allowed(f->group);
    }
}

static void defaults_are_allowed(void **state)
{
    (void)state;
    for (size_t i = 0; fields_kind(i); i++)
        assert_defaults_allowed(fields_kind(i));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_value_arrives),
        cmocka_unit_test(the_player_and_its_load_arrive),
        cmocka_unit_test(absent_keys_have_their_defaults),
        cmocka_unit_test(keys_are_laid_over_files),
        cmocka_unit_test(overrides_reach_everything),
        cmocka_unit_test(overrides_name_other_files),
        cmocka_unit_test(the_good_setup_is_good),
        cmocka_unit_test(wrong_keys),
        cmocka_unit_test(wrong_quantities),
        cmocka_unit_test(wrong_types_and_words),
        cmocka_unit_test(wrong_lists_and_loads),
        cmocka_unit_test(what_is_missing),
        cmocka_unit_test(what_fields_must_be_to_each_other),
        cmocka_unit_test(wrong_tables_in_place),
        cmocka_unit_test(references_that_fail),
        cmocka_unit_test(a_file_that_names_itself),
        cmocka_unit_test(setups_that_cannot_be_opened),
        cmocka_unit_test(overrides_that_fail),
        cmocka_unit_test(written_setups_read_back_bit_for_bit),
        cmocka_unit_test(long_tables_survive),
        cmocka_unit_test(any_text_survives),
        cmocka_unit_test(what_is_not_used_is_no_obstacle),
        cmocka_unit_test(impossible_setups_are_not_written),
        cmocka_unit_test(full_disks_are_noticed),
        cmocka_unit_test(the_reference_has_every_key),
        cmocka_unit_test(defaults_are_allowed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
