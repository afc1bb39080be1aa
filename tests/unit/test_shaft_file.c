/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Shafts with the errors of their profile: read, checked, written and read back to the same bits. */
#include "folder.h"

#include <signal.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "files/files.h"
#include "swing/check.h"

#define MODELS CABER_SOURCE_DIR "/models/"

static char *read_text(const char *name)
{
    FILE *in = fopen(folder_path(name), "rb");
    assert_non_null(in);
    char *text = calloc(1, 1 << 20);
    assert_non_null(text);
    assert_in_range(fread(text, 1, (1 << 20) - 1, in), 1, (1 << 20) - 2);
    fclose(in);
    return text;
}

/* A setup around the shaft of this file in the folder. */
static caber_status read_around(const char *shaft, const char *const *overrides, size_t count,
                                caber_setup **out, caber_message *message)
{
    char text[1024], name[128];
    snprintf(text, sizeof text,
             "kind: setup\nshaft: %s\nhead: " MODELS "heads/driver-10.yaml\ngrip: " MODELS
             "grips/standard.yaml\nplayer: " MODELS "players/smooth.yaml\n"
             "build: {tip_trim: 12 mm, butt_trim: 48 mm, hold: 120 mm}\n",
             shaft);
    snprintf(name, sizeof name, "%s/setup.yaml", folder);
    return files_read_text(name, text, strlen(text), overrides, count, out, message);
}

static caber_setup *read_good(const char *shaft)
{
    caber_setup *setup;
    caber_message message;
    if (read_around(shaft, NULL, 0, &setup, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return setup;
}

static void assert_same_shaft(const caber_shaft *a, const caber_shaft *b)
{
    assert_string_equal(a->name, b->name);
    assert_string_equal(a->note, b->note);
    assert_true(a->length == b->length && a->density == b->density && a->damping == b->damping);
    assert_int_equal(a->station_count, b->station_count);
    assert_memory_equal(a->stations, b->stations, a->station_count * sizeof *a->stations);
    assert_int_equal(a->errors.count, b->errors.count);
    if (a->errors.count)
        assert_memory_equal(a->errors.share, b->errors.share,
                            3 * a->errors.count * a->station_count * sizeof(double));
}

/* xorshift64 (Marsaglia 2003). */
static double next_part(uint64_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return (double)(*state >> 11) / 9007199254740992.0;
}

/* A shaft whose numbers are no short decimals. */
static void fill_shaft(caber_shaft *s, size_t stations, size_t components, uint64_t seed)
{
    *s = (caber_shaft){.name = "drawn \"here\": #1",
                       .note = "two\nlines",
                       .length = 1.1 + next_part(&seed) / 10,
                       .density = 1500 + next_part(&seed),
                       .damping = next_part(&seed) / 100,
                       .station_count = stations};
    s->stations = calloc(stations, sizeof *s->stations);
    s->errors = (caber_errors){
        components, components ? calloc(3 * components * stations, sizeof(double)) : NULL};
    assert_non_null(s->stations);
    for (size_t i = 0; i < stations; i++)
        s->stations[i] = (caber_station){
            .at = i + 1 == stations ? s->length : s->length * (double)i / (double)(stations - 1),
            .ei = 20 + 50 * next_part(&seed),
            .ei_2 = seed % 3 ? 20 + 50 * next_part(&seed) : 0,
            .ei_angle = 3 * (next_part(&seed) - 0.5),
            .gj = 10 + 20 * next_part(&seed),
            .mass = 0.05 + next_part(&seed) / 1000,
            .diameter = 0.008 + next_part(&seed) / 100};
    for (size_t i = 0; i < 3 * components * stations; i++)
        s->errors.share[i] = (next_part(&seed) - 0.5) * pow(10, -10 * next_part(&seed));
    if (components)
        s->errors.share[3] = 0;
}

static void free_shaft(caber_shaft *s)
{
    free(s->stations);
    free(s->errors.share);
}

/* ------------------------------------------------------------------ writing */

static void written_shafts_read_back_bit_for_bit(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        caber_shaft s;
        caber_message message = {"untouched"};
        fill_shaft(&s, 2 + seed, seed % 7, seed * 0x9E3779B97F4A7C15u);
        if (caber_shaft_write(&s, folder_path("drawn.yaml"), "a comment", &message) != CABER_OK)
            fail_msg("%s", message.text);
        assert_string_equal(message.text, "");
        caber_setup *setup = read_good("drawn.yaml");
        assert_same_shaft(&s, &setup->shaft);
        caber_setup_free(setup);
        free_shaft(&s);
    }
}

/* A setup with such a shaft stands alone, and reads back the same. */
static void setups_carry_the_errors_with_them(void **state)
{
    (void)state;
    caber_shaft s;
    caber_message message;
    fill_shaft(&s, 31, 9, 77);
    assert_int_equal(caber_shaft_write(&s, folder_path("drawn.yaml"), NULL, &message), CABER_OK);
    caber_setup *setup = read_good("drawn.yaml"), *back;
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(files_write_setup(setup, out, &message), CABER_OK);
    fclose(out);
    if (files_read_text("alone", text, size, NULL, 0, &back, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_same_shaft(&s, &back->shaft);
    free(text);
    caber_setup_free(back);
    caber_setup_free(setup);
    free_shaft(&s);
}

static void the_demo_shafts_survive(void **state)
{
    (void)state;
    static const char *const names[] = {"neutral", "soft-tip", "firm-tip"};
    for (size_t i = 0; i < 3; i++) {
        char path[256];
        caber_message message;
        snprintf(path, sizeof path, MODELS "shafts/%s.yaml", names[i]);
        caber_setup *setup = read_good(path);
        assert_int_equal(caber_shaft_write(&setup->shaft, folder_path("copy.yaml"), NULL, &message),
                         CABER_OK);
        caber_setup *back = read_good("copy.yaml");
        assert_same_shaft(&setup->shaft, &back->shaft);
        caber_setup_free(setup);
        caber_setup_free(back);
        assert_int_not_equal(access(folder_path("copy-errors.csv"), F_OK), 0);
    }
}

static void what_is_written_is_plain(void **state)
{
    (void)state;
    caber_station stations[] = {{0, 20, 0, 0, 10, 0.05, 0.0085},
                                {1.168, 60, 0, 0, 30, 0.05, 0.015}};
    double share[] = {0.01, 0.02, 0, -0.01, 0.005, 1e-5};
    const caber_shaft s = {.name = "two",
                           .length = 1.168,
                           .density = 1550,
                           .damping = 0.008,
                           .station_count = 2,
                           .stations = stations,
                           .errors = {1, share}};
    caber_message message;
    assert_int_equal(caber_shaft_write(&s, folder_path("two.yaml"),
                                       "first\nsecond\rline\xC2\x85of \xC3\xA9\n", &message),
                     CABER_OK);
    char *text = read_text("two.yaml");
    assert_string_equal(
        text,
        "# first\n# second line of \xC3\xA9\nkind: shaft\nname: \"two\"\nlength: 1168 mm\n"
        "density: 1550 kg/m3\ndamping: 0.008\nstations:\n"
        "  - {at: 0 mm, ei: 20 N m2, ei_2: 0 N m2, ei_angle: 0 deg, gj: 10 N m2, mass: 50 g/m, "
        "diameter: 8.5 mm}\n"
        "  - {at: 1168 mm, ei: 60 N m2, ei_2: 0 N m2, ei_angle: 0 deg, gj: 30 N m2, mass: 50 "
        "g/m, diameter: 15 mm}\n"
        "errors: \"two-errors.csv\"\n");
    free(text);
    text = read_text("two-errors.csv");
    assert_string_equal(text, "component,at,ei,gj,mass\n,mm,,,\n1,0,0.01,0.02,0\n"
                              "1,1168,-0.01,0.005,1e-05\n");
    free(text);
    caber_setup_free(read_good("two.yaml"));
}

static size_t files_folder_path(void)
{
    char pattern[64];
    glob_t found;
    snprintf(pattern, sizeof pattern, "%s/*", folder);
    const size_t count = glob(pattern, 0, NULL, &found) == 0 ? found.gl_pathc : 0;
    globfree(&found);
    return count;
}

/* A disk that is full: the old file is left as it was, and nothing beside it. */
static void a_failure_leaves_the_old_files(void **state)
{
    (void)state;
    caber_shaft s;
    caber_message message;
    struct rlimit before;
    fill_shaft(&s, 40, 20, 5);
    assert_int_equal(caber_shaft_write(&s, folder_path("kept.yaml"), NULL, &message), CABER_OK);
    char *yaml = read_text("kept.yaml"), *csv = read_text("kept-errors.csv");
    const size_t count = files_folder_path();
    s.stations[0].ei = 33;
    s.errors.share[0] = 0.4;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    const struct rlimit full = {500, before.rlim_max};
    signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &full), 0);
    caber_status status = caber_shaft_write(&s, folder_path("kept.yaml"), NULL, &message);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    assert_int_equal(status, CABER_IO_ERROR);
    assert_non_null(strstr(message.text, "kept-errors.csv: cannot write"));
    assert_int_equal(files_folder_path(), count);
    char *yaml_now = read_text("kept.yaml"), *csv_now = read_text("kept-errors.csv");
    assert_string_equal(yaml, yaml_now);
    assert_string_equal(csv, csv_now);
    free(yaml);
    free(csv);
    free(yaml_now);
    free(csv_now);
    free_shaft(&s);
}

static void places_that_cannot_be_written(void **state)
{
    (void)state;
    caber_shaft s;
    caber_message message;
    fill_shaft(&s, 3, 0, 5);
    assert_int_equal(caber_shaft_write(&s, folder_path("none/a.yaml"), NULL, &message),
                     CABER_IO_ERROR);
    assert_non_null(strstr(message.text, "none/a.yaml: cannot write"));
    assert_int_equal(caber_shaft_write(&s, folder, NULL, &message), CABER_IO_ERROR);
    assert_non_null(strstr(message.text, "not an ordinary file"));
    assert_int_equal(caber_shaft_write(&s, "/dev/null", NULL, NULL), CABER_IO_ERROR);
    free_shaft(&s);
}

static void impossible_shafts_are_not_written(void **state)
{
    (void)state;
    caber_shaft s;
    caber_message message;
    fill_shaft(&s, 3, 1, 5);
    assert_int_equal(caber_shaft_write(&s, folder_path("bad.yaml"), "\xFF", &message),
                     CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "the comment is not UTF-8"));
    s.errors.share[4] = NAN;
    assert_int_equal(caber_shaft_write(&s, folder_path("bad.yaml"), NULL, &message),
                     CABER_BAD_INPUT);
    assert_string_equal(message.text, "shaft.errors: component 1 changes gj at station 2 by nan %; "
                                      "it must be at least -300 and at most 300%");
    s.errors.share[4] = 0;
    s.stations[1].ei = -1;
    assert_int_equal(caber_shaft_write(&s, folder_path("bad.yaml"), NULL, &message),
                     CABER_BAD_INPUT);
    assert_string_equal(message.text, "shaft.stations[1].ei: -1 N m2 is not allowed; it must be "
                                      "above 0 and at most 1000 N m2");
    assert_int_not_equal(access(folder_path("bad.yaml"), F_OK), 0);
    assert_int_not_equal(access(folder_path("bad-errors.csv"), F_OK), 0);
    free_shaft(&s);
}

/* ------------------------------------------------------------------ reading */

static const char shaft_yaml[] =
    "kind: shaft\n"
    "length: 1168 mm\n"
    "stations:\n"
    "  - {at: 0 mm, ei: 20 N m2, gj: 12 N m2, mass: 55 g/m, diameter: 9 mm}\n"
    "  - {at: 600 mm, ei: 40 N m2, gj: 22 N m2, mass: 50 g/m, diameter: 12 mm}\n"
    "  - {at: 1168 mm, ei: 70 N m2, gj: 38 N m2, mass: 50 g/m, diameter: 15 mm}\n"
    "errors: e.csv\n";
static const char errors_csv[] = "component,at,ei,gj,mass\n"
                                 ",mm,%,%,%\n"
                                 "1,0,2,1,-0.5\n"
                                 "1,600,1,2,0\n"
                                 "1,1168,0.5,3,0\n"
                                 "# the next\n"
                                 "2,0,-1,0,0\n"
                                 "2,600,1,0,0\n"
                                 "2,1168,3,0,0.1\n";

static void write_good(void)
{
    folder_write("s.yaml", shaft_yaml);
    folder_write("e.csv", errors_csv);
}

static void errors_arrive(void **state)
{
    (void)state;
    static const double want[] = {0.02,  0.01, -0.005, 0.01, 0.02, 0, 0.005, 0.03, 0,
                                  -0.01, 0,    0,      0.01, 0,    0, 0.03,  0,    0.001};
    write_good();
    caber_setup *setup = read_good("s.yaml");
    assert_int_equal(setup->shaft.errors.count, 2);
    for (size_t i = 0; i < 18; i++)
        assert_close(setup->shaft.errors.share[i], want[i], 1e-15, 0);
    caber_setup_free(setup);
    /* Without them, with others, with them in the file. */
    caber_message message;
    const char *const none[] = {"shaft.errors=none"};
    assert_int_equal(read_around("s.yaml", none, 1, &setup, &message), CABER_OK);
    assert_int_equal(setup->shaft.errors.count, 0);
    assert_null(setup->shaft.errors.share);
    caber_setup_free(setup);
    setup = read_good("{file: s.yaml, errors: {component: [1, 1, 1], at: [0, 600 mm, 1168 mm], ei: "
                      "[1 %, 0.02, 3 %], gj: [0, 0, 0], mass: [0, 0, 0]}}");
    assert_int_equal(setup->shaft.errors.count, 1);
    assert_close(setup->shaft.errors.share[3], 0.02, 1e-15, 0);
    caber_setup_free(setup);
}

/* Models own what they need of a shaft: neither frees the other's errors. */
static void models_and_setups_are_independent(void **state)
{
    (void)state;
    write_good();
    caber_setup *setup = read_good("s.yaml");
    caber_model *model, *other;
    caber_message message;
    if (caber_model_create(setup, &model, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_int_equal(caber_model_create(setup, &other, &message), CABER_OK);
    caber_model_free(model);
    assert_close(setup->shaft.errors.share[0], 0.02, 1e-15, 0);
    caber_setup_free(setup);
    caber_work *work;
    assert_int_equal(caber_work_create(other, &work, &message), CABER_OK);
    caber_work_free(work);
    caber_model_free(other);
}

static void assert_refused(const char *shaft, caber_status wanted, const char *expected)
{
    caber_setup *setup;
    caber_message message;
    assert_int_equal(read_around(shaft, NULL, 0, &setup, &message), wanted);
    assert_null(setup);
    char whole[1200];
    size_t used = 0;
    for (const char *s = expected; *s; s++)
        used += (size_t)snprintf(whole + used, sizeof whole - used, "%s%.*s",
                                 *s == '@' ? folder : "", 1, *s == '@' ? "/" : s);
    assert_string_equal(message.text, whole);
}

static void wrong_errors(void **state)
{
    (void)state;
    static const struct {
        const char *from, *to, *message;
    } rows[] = {
        {"1,600,1,2,0\n", "",
         "@e.csv:4:3: at: 1168 mm is not allowed here; it must be 600 mm, the next station of "
         "component 1"},
        {"1,1168,0.5,3,0\n", "",
         "@e.csv:6:1: component: 2 is not allowed here; component 1 still lacks the station at "
         "1168 "
         "mm, and every component must give every station"},
        {"2,1168,3,0,0.1\n", "",
         "@e.csv:8:1: component: the last component lacks the station at 1168 mm; every component "
         "must give every station"},
        {"2,0,-1,0,0\n", "3,0,-1,0,0\n",
         "@e.csv:7:1: component: 3 is not allowed here; it must be 2: components count from 1, and "
         "the one before has given every station"},
        {"1,600,1", "1,601,1",
         "@e.csv:4:3: at: 601 mm is not allowed here; it must be 600 mm, the next station of "
         "component 1"},
        {"1,600,1", "1.5,600,1",
         "@e.csv:4:1: component: 1.5 is not allowed here; component 1 still lacks the station at "
         "600 mm, and every component must give every station"},
        {"1,600,1,2,0", "1,600,400,2,0",
         "@e.csv:4:7: ei: 400% is not allowed; it must be at least -300 and at most 300%"},
        {"1,600,1,2,0", "1,600,1,,0", "@e.csv:4:9: gj: \"\" is empty; a number in % is wanted"},
        {"1,600,1,2,0", "1,600,1,nan,0",
         "@e.csv:4:9: gj: \"nan\" is not a finite number; a number in % is wanted"},
        {",mm,%,%,%", ",mm,N m2,%,%",
         "@e.csv:2:5: ei: \"N m2\" is no unit of a plain number; the second row gives the units, "
         "and allowed are %, or none"},
        {",mm,%", ",,%",
         "@e.csv:2:2: at: \"\" is no unit of a length; the second row gives the units, and allowed "
         "are m, mm, cm, in, ft, yd"},
        {"gj,mass\n", "gj,weight\n",
         "@e.csv:1:20: weight: there is no such column; allowed are component, at, ei, gj, mass"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[512];
        const char *at = strstr(errors_csv, rows[i].from);
        assert_non_null(at);
        snprintf(text, sizeof text, "%.*s%s%s", (int)(at - errors_csv), errors_csv, rows[i].to,
                 at + strlen(rows[i].from));
        write_good();
        folder_write("e.csv", text);
        assert_refused("s.yaml", CABER_BAD_INPUT, rows[i].message);
    }
}

static void wrong_errors_in_place(void **state)
{
    (void)state;
    static const struct {
        const char *errors, *message;
    } rows[] = {
        {"[1]", "@setup.yaml:2:31: shaft.errors: the path of a CSV file, {component: [...], at: "
                "[...], ei: [...], gj: [...], mass: [...]}, or none is wanted"},
        {"{component: [1]}",
         "@setup.yaml:2:31: shaft.errors: the path of a CSV file, {component: [...], at: [...], "
         "ei: [...], gj: [...], mass: [...]}, or none is wanted"},
        {"{component: [1], at: [0, 1], ei: [0], gj: [0], mass: [0]}",
         "@setup.yaml:2:31: shaft.errors: 2 entries of at are not allowed; each list must have as "
         "many, at least 1 and at most 30000"},
        {"{component: [1], at: [0], ei: [x], gj: [0], mass: [0]}",
         "@setup.yaml:2:62: shaft.errors.ei[0]: \"x\" is not a number; a plain number such as "
         "\"1.25\" is wanted"},
        {"{component: [1], at: [0], ei: [4], gj: [0], mass: [0]}",
         "@setup.yaml:2:62: shaft.errors.ei[0]: 4 is not allowed; it must be at least -300 and at "
         "most 300%"},
        {"{component: [1, 2], at: [0, 0], ei: [1, 1], gj: [0, 0], mass: [0, 0]}",
         "@setup.yaml:2:47: shaft.errors.component[1]: 2 is not allowed here; component 1 still "
         "lacks the station at 600 mm, and every component must give every station"},
        {"{component: [1, 1], at: [0, 1], ei: [1, 1], gj: [0, 0], mass: [0, 0]}",
         "@setup.yaml:2:59: shaft.errors.at[1]: 1000 mm is not allowed here; it must be 600 mm, "
         "the "
         "next station of component 1"},
    };
    write_good();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[256];
        snprintf(text, sizeof text, "{file: s.yaml, errors: %s}", rows[i].errors);
        assert_refused(text, CABER_BAD_INPUT, rows[i].message);
    }
    assert_refused("{file: s.yaml, errors: }", CABER_BAD_INPUT,
                   "@setup.yaml:2:31: shaft.errors: is empty; the path of a CSV file is wanted, or "
                   "{component: [...], ...}, or none");
    remove(folder_path("e.csv"));
    assert_refused("s.yaml", CABER_IO_ERROR, "@s.yaml:7:9: errors: @e.csv: there is no such file");
}

/* Setups filled by hand are checked too. */
static void errors_by_hand_are_checked(void **state)
{
    (void)state;
    write_good();
    caber_setup *setup = read_good("s.yaml");
    caber_message message;
    setup->shaft.errors.share[17] = -3.01;
    assert_int_equal(setup_check(setup, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "shaft.errors: component 2 changes mass at station 3 by -301 "
                                      "%; it must be at least -300 and at most 300%");
    setup->shaft.errors.share[17] = INFINITY;
    assert_int_equal(setup_check(setup, &message), CABER_BAD_INPUT);
    setup->shaft.errors.share[17] = 0;
    setup->shaft.errors.count = 10001;
    assert_int_equal(setup_check(setup, &message), CABER_BAD_INPUT);
    assert_string_equal(
        message.text, "shaft.errors: 10001 components at 3 stations are not allowed; there may be "
                      "at most 30000 of them at all stations together");
    double *share = setup->shaft.errors.share;
    setup->shaft.errors = (caber_errors){2, NULL};
    assert_int_equal(setup_check(setup, &message), CABER_BAD_INPUT);
    setup->shaft.errors = (caber_errors){2, share};
    assert_int_equal(setup_check(setup, &message), CABER_OK);
    caber_setup_free(setup);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(written_shafts_read_back_bit_for_bit),
        cmocka_unit_test(setups_carry_the_errors_with_them),
        cmocka_unit_test(the_demo_shafts_survive),
        cmocka_unit_test(what_is_written_is_plain),
        cmocka_unit_test(a_failure_leaves_the_old_files),
        cmocka_unit_test(places_that_cannot_be_written),
        cmocka_unit_test(impossible_shafts_are_not_written),
        cmocka_unit_test(errors_arrive),
        cmocka_unit_test(models_and_setups_are_independent),
        cmocka_unit_test(wrong_errors),
        cmocka_unit_test(wrong_errors_in_place),
        cmocka_unit_test(errors_by_hand_are_checked),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
