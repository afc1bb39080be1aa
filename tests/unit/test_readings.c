/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Bench readings from files: every value where it belongs, every way in which a file can be wrong,
 * and the demo records. */
#include "folder.h"

#include <stdlib.h>

#include "base/text.h"
#include "files/csv.h"
#include "files/files.h"
#include "shaft/profile.h"
#include "swing/fields_table.h"

#define DEG(x) ((x)*3.14159265358979323846 / 180)

/* Lines are numbered for the messages below. */
static const char good[] = "kind: readings\n"                                        /* 1 */
                           "name: whole\n"                                           /* 2 */
                           "note: for the test\n"                                    /* 3 */
                           "length: 1.1 m\n"                                         /* 4 */
                           "mass: 60 g\n"                                            /* 5 */
                           "mass_error: 0.1 g\n"                                     /* 6 */
                           "balance: 520 mm\n"                                       /* 7 */
                           "balance_error: 1 mm\n"                                   /* 8 */
                           "diameters:\n"                                            /* 9 */
                           "  - {at: 0 mm, diameter: 8.5 mm}\n"                      /* 10 */
                           "  - {at: 1100 mm, diameter: 15 mm}\n"                    /* 11 */
                           "spans:\n"                                                /* 12 */
                           "  - {span: 200 mm, load: 100 N, resolution: 0.01 mm,\n"  /* 13 */
                           "     repeatability: 0.5 %, table: spans.csv}\n"          /* 14 */
                           "cantilevers:\n"                                          /* 15 */
                           "  - {clamp: 1050 mm, load_at: 10 mm, read_at: 20 mm,\n"  /* 16 */
                           "     load: 5 N, resolution: 0.1 mm, table: bends.csv}\n" /* 17 */
                           "frequencies:\n"                                          /* 18 */
                           "  - {clamp: 1 m, tip_mass: 205 g, resolution: 1 cpm,\n"  /* 19 */
                           "     table: rings.csv}\n"                                /* 20 */
                           "twists:\n"                                               /* 21 */
                           "  - {clamp: 1050 mm, lever: 30 mm, read_at: 40 mm,\n"    /* 22 */
                           "     couple: 2 ft lbf, repeatability: 1 %, table: twists.csv}\n"
                           "leave_out:\n"                       /* 24 */
                           "  - {table: spans.csv, line: 5}\n"; /* 25 */

static const struct {
    const char *name, *text;
} tables[] = {
    {"spans.csv", "at,span,load,load_at,read_at,orientation,deflection\n"
                  "mm,mm,N,mm,mm,deg,mm\n"
                  "200,300,120,210,190,60,1.5\n"
                  "# a comment\n"
                  "400,,,,,,0.5\n"},
    {"bends.csv", "clamp,load_at,read_at,load,orientation,deflection\n"
                  "mm,mm,mm,N,deg,mm\n"
                  "900,15,25,6,120,30\n"
                  ",,,,,44\n"},
    {"rings.csv", "clamp,tip_mass,orientation,frequency\n"
                  "mm,g,deg,cpm\n"
                  "900,200,90,300\n"
                  ",,,240\n"},
    {"twists.csv", "clamp,lever,read_at,couple,angle\n"
                   "mm,mm,mm,N m,deg\n"
                   "900,50,60,2,3\n"
                   ",,,,7\n"},
};
enum { TABLES = sizeof tables / sizeof tables[0] };

static void write_good(void)
{
    folder_write("bench.yaml", good);
    for (size_t i = 0; i < TABLES; i++)
        folder_write(tables[i].name, tables[i].text);
}

static caber_status read_bench(const char *const *overrides, size_t count, caber_readings **out,
                               caber_message *message)
{
    char path[128];
    snprintf(path, sizeof path, "%s/bench.yaml", folder);
    caber_status status = caber_readings_read(path, overrides, count, out, message);
    if (status == CABER_OK)
        assert_string_equal(message->text, "");
    else
        assert_null(*out);
    return status;
}

static caber_readings *read_good(const char *const *overrides, size_t count)
{
    caber_readings *r;
    caber_message message = {"untouched"};
    if (read_bench(overrides, count, &r, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return r;
}

/* Returns `text` with the first `from` replaced, to be freed. */
static char *changed(const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);
    assert_non_null(at);
    char *out = malloc(strlen(text) + strlen(to) + 1);
    assert_non_null(out);
    memcpy(out, text, (size_t)(at - text));
    strcpy(out + (at - text), to);
    strcat(out, at + strlen(from));
    return out;
}

/* Expected messages have @ for the folder. */
static void assert_refused(caber_status wanted, const char *expected)
{
    caber_readings *r;
    caber_message message;
    assert_int_equal(read_bench(NULL, 0, &r, &message), wanted);
    char whole[1200];
    size_t used = 0;
    for (const char *s = expected; *s; s++)
        used += (size_t)snprintf(whole + used, sizeof whole - used, "%s%.*s",
                                 *s == '@' ? folder : "", 1, *s == '@' ? "/" : s);
    assert_string_equal(message.text, whole);
}

typedef struct mistake {
    const char *file, *from, *to, *message;
} mistake;

static void assert_mistake(const mistake *m)
{
    const char *text = good;
    for (size_t i = 0; i < TABLES; i++)
        if (!strcmp(tables[i].name, m->file))
            text = tables[i].text;
    char *wrong = changed(text, m->from, m->to);
    write_good();
    folder_write(m->file, wrong);
    free(wrong);
    assert_refused(CABER_BAD_INPUT, m->message);
}

#define ASSERT_MISTAKES(rows)                                                                      \
    for (size_t row = 0; row < sizeof(rows) / sizeof(rows)[0]; row++)                              \
    assert_mistake(&(rows)[row])

/* ------------------------------------------------------------------ what is read */

typedef struct expected {
    caber_reading_kind kind;
    double held_at, rest_at, load_at, read_at, load, orientation, value, sigma;
    int line;
    const char *source;
} expected;

static void assert_reading(const caber_reading *got, const expected *want)
{
    assert_int_equal(got->kind, want->kind);
    assert_close(got->held_at, want->held_at, 1e-14, 0);
    assert_close(got->rest_at, want->rest_at, 1e-14, 1e-16);
    assert_close(got->load_at, want->load_at, 1e-14, 0);
    assert_close(got->read_at, want->read_at, 1e-14, 0);
    assert_close(got->load, want->load, 1e-14, 0);
    assert_int_equal(isnan(got->orientation), isnan(want->orientation));
    if (!isnan(want->orientation))
        assert_close(got->orientation, want->orientation, 1e-14, 0);
    assert_close(got->value, want->value, 1e-14, 0);
    assert_close(got->sigma, want->sigma, 1e-12, 0);
    assert_int_equal(got->line, want->line);
    assert_string_equal(got->source, want->source);
}

static void every_value_arrives(void **state)
{
    (void)state;
    const double ft_lbf = 0.3048 * 4.4482216152605, step = 1 / sqrt(12);
    const expected want[] = {
        {CABER_READ_SPAN, 0.35, 0.05, 0.21, 0.19, 120, DEG(60), 1.5e-3,
         hypot(1e-5 * step, 0.005 * 1.5e-3), 3, "spans.csv"},
        {CABER_READ_SPAN, 0.5, 0.3, 0.4, 0.4, 100, NAN, 0.5e-3, hypot(1e-5 * step, 0.005 * 0.5e-3),
         5, "spans.csv"},
        {CABER_READ_CANTILEVER, 0.9, 0, 0.015, 0.025, 6, DEG(120), 0.03, 1e-4 * step, 3,
         "bends.csv"},
        {CABER_READ_CANTILEVER, 1.05, 0, 0.01, 0.02, 5, NAN, 0.044, 1e-4 * step, 4, "bends.csv"},
        {CABER_READ_FREQUENCY, 0.9, 0, 0, 0, 0.2, DEG(90), 5, step / 60, 3, "rings.csv"},
        {CABER_READ_FREQUENCY, 1, 0, 0, 0, 0.205, NAN, 4, step / 60, 4, "rings.csv"},
        {CABER_READ_TWIST, 0.9, 0, 0.05, 0.06, 2, NAN, DEG(3), 0.01 * DEG(3), 3, "twists.csv"},
        {CABER_READ_TWIST, 1.05, 0, 0.03, 0.04, 2 * ft_lbf, NAN, DEG(7), 0.01 * DEG(7), 4,
         "twists.csv"},
        {CABER_READ_MASS, 0, 0, 0, 0, 0, NAN, 0.06, 1e-4, 5, "bench.yaml"},
        {CABER_READ_BALANCE, 0, 0, 0, 0, 0, NAN, 0.52, 1e-3, 7, "bench.yaml"},
    };
    write_good();
    caber_readings *r = read_good(NULL, 0);
    assert_string_equal(r->name, "whole");
    assert_string_equal(r->note, "for the test");
    assert_true(r->length == 1.1 && r->density == 1550 && r->damping == 0.007);
    assert_true(r->pitch == 0.04 && r->knot == 0.04);
    assert_int_equal(r->calliper_count, 2);
    assert_true(r->callipers[1].at == 1.1 && r->callipers[1].diameter == 0.015);
    assert_int_equal(r->count, sizeof want / sizeof want[0]);
    for (size_t i = 0; i < r->count; i++) {
        assert_reading(&r->items[i], &want[i]);
        assert_int_equal(r->items[i].left_out, i == 1);
    }
    caber_readings_free(r);
}

static void columns_in_any_order_with_marks_of_other_systems(void **state)
{
    (void)state;
    write_good();
    folder_write("spans.csv", "\xEF\xBB\xBF# from a spreadsheet\r\n deflection , at\r\ncm,in\r\n"
                              "\r\n0.15 , 10\r\n0.05,20\r\n");
    const char *const overrides[] = {"leave_out[0].line=6"};
    caber_readings *r = read_good(overrides, 1);
    assert_int_equal(r->items[0].line, 5);
    assert_close(r->items[0].held_at, 0.354, 1e-14, 0);
    assert_close(r->items[0].value, 1.5e-3, 1e-14, 0);
    assert_true(isnan(r->items[0].orientation));
    assert_true(r->items[0].load == 100 && r->items[1].left_out);
    caber_readings_free(r);
}

static void what_may_be_left_out(void **state)
{
    (void)state;
    write_good();
    folder_write("bench.yaml", "kind: readings\nlength: 1100 mm\nmass: 60 g\nmass_error: 0.1 g\n"
                               "diameters: [{at: 0, diameter: 9 mm}]\n");
    caber_readings *r = read_good(NULL, 0);
    assert_int_equal(r->count, 1);
    assert_int_equal(r->items[0].kind, CABER_READ_MASS);
    assert_string_equal(r->name, "");
    caber_readings_free(r);
}

static void overrides_reach_the_header(void **state)
{
    (void)state;
    const char *const overrides[] = {"length=1.15 m",
                                     "damping=1 %",
                                     "density=1.6 g/cm3",
                                     "pitch=50 mm",
                                     "knot=10 cm",
                                     "spans[0].load=90",
                                     "diameters[1].diameter=16 mm",
                                     "name=other = name",
                                     "mass=61 g",
                                     "leave_out[1].table=bench.yaml",
                                     "leave_out[1].line=7"};
    write_good();
    caber_readings *r = read_good(overrides, sizeof overrides / sizeof overrides[0]);
    assert_true(r->length == 1.15 && r->damping == 0.01 && r->density == 1600 && r->pitch == 0.05 &&
                r->knot == 0.1);
    assert_true(r->items[0].load == 120 && r->items[1].load == 90);
    assert_true(r->callipers[1].diameter == 0.016);
    assert_string_equal(r->name, "other = name");
    assert_true(r->items[8].value == 0.061 && r->items[8].line == 0);
    assert_true(r->items[1].left_out && r->items[9].left_out && !r->items[8].left_out);
    caber_readings_free(r);
}

static void tables_are_found_beside_the_file_or_from_here(void **state)
{
    (void)state;
    char absolute[128], line[256];
    write_good();
    snprintf(absolute, sizeof absolute, "spans[0].table=%s/spans.csv", folder);
    const char *const overrides[] = {absolute, "leave_out[0].table=spans.csv"};
    caber_readings *r = read_good(overrides, 2);
    snprintf(line, sizeof line, "%s/spans.csv", folder);
    assert_string_equal(r->items[0].source, line);
    assert_true(r->items[1].left_out);
    caber_readings_free(r);
    /* A path that is too long for a message gives way to its last part. */
    char dots[200] = "spans[0].table=";
    strcat(dots, folder);
    while (strlen(dots) < 150)
        strcat(dots, "/.");
    strcat(dots, "/spans.csv");
    const char *const long_path[] = {dots};
    r = read_good(long_path, 1);
    assert_string_equal(r->items[0].source, "spans.csv");
    caber_readings_free(r);
}

/* ------------------------------------------------------------------ what is refused: the header */

static void wrong_headers(void **state)
{
    (void)state;
    static const mistake rows[] = {
        {"bench.yaml", "kind: readings", "kind: shaft",
         "@bench.yaml:1:7: kind: shaft is not allowed; it must be readings"},
        {"bench.yaml", "kind: readings\n", "",
         "@bench.yaml:1:1: kind: is missing; this file must say kind: readings"},
        {"bench.yaml", "mass_error: 0.1 g\n", "",
         "@bench.yaml:1:1: mass_error: is missing (its standard deviation); it must be above 0 and "
         "at most 100 g"},
        {"bench.yaml", "balance_error: 1 mm\n", "",
         "@bench.yaml:1:1: balance_error: is missing, but needed with balance (its standard "
         "deviation); it must be above 0 and at most 500 mm"},
        {"bench.yaml", "length: 1.1 m", "lenght: 1.1 m",
         "@bench.yaml:4:1: lenght: there is no such key; did you mean length?; allowed are name, "
         "note, length, density, damping, pitch, knot, smoothness, mass, mass_error, balance, "
         "balance_error, "
         "diameters, spans, cantilevers, frequencies, twists, leave_out"},
        {"bench.yaml", "{clamp: 1 m, ", "{clamp: 1 m, lever: 1 m, ",
         "@bench.yaml:19:18: frequencies[0].lever: there is no such key; allowed are clamp, "
         "tip_mass, resolution, repeatability, table"},
        {"bench.yaml", "spans:\n  - {", "spans:\n    {",
         "@bench.yaml:13:5: spans: this is a mapping; a list is wanted, an entry (- ...) for each"},
        {"bench.yaml", ",\n     table: rings.csv", "",
         "@bench.yaml:19:5: frequencies[0].table: is missing (the readings)"},
        {"bench.yaml", "table: rings.csv", "table: ",
         "@bench.yaml:20:13: frequencies[0].table: is empty; the path of a CSV file is wanted"},
        {"bench.yaml", "table: rings.csv", "table: {time: [1]}",
         "@bench.yaml:20:13: frequencies[0].table: this is a mapping; the path of a CSV file is "
         "wanted"},
        {"bench.yaml", "at: 1100 mm, d", "at: 0 mm, d",
         "@bench.yaml:11:10: diameters[1].at: 0 mm is not allowed; diameters must ascend, and the "
         "one before is at 0 mm"},
        {"bench.yaml", "at: 1100 mm, d", "at: 1101 mm, d",
         "@bench.yaml:11:10: diameters[1].at: 1101 mm is not allowed; it must be at most the "
         "length, 1100 mm"},
        {"bench.yaml", "line: 5", "line: 4",
         "@bench.yaml:25:5: leave_out[0]: there is no reading in line 4 of spans.csv"},
        {"bench.yaml", "line: 5", "line: 0",
         "@bench.yaml:25:30: leave_out[0].line: 0 is not allowed; it must be at least 1 and at "
         "most "
         "1000000"},
        {"bench.yaml", ", line: 5", "",
         "@bench.yaml:25:5: leave_out[0].line: is missing (its line in that file)"},
        {"bench.yaml", "{table: spans.csv, line", "{table: span.csv, line",
         "@bench.yaml:25:5: leave_out[0]: there is no reading in line 5 of span.csv"},
        {"bench.yaml", "balance: 520 mm", "balance: 1.2 m",
         "bench.yaml, line 7: the balance point at 1200 mm from the tip is not possible; it must "
         "lie from 0 to 1100 mm"},
    };
    ASSERT_MISTAKES(rows);
}

static void files_that_cannot_be_opened(void **state)
{
    (void)state;
    write_good();
    char *text = changed(good, "rings.csv", "none.csv");
    folder_write("bench.yaml", text);
    free(text);
    assert_refused(CABER_IO_ERROR, "@bench.yaml:20:13: frequencies[0].table: @none.csv: there is "
                                   "no such file");
    text = changed(good, "table: rings.csv", "table: .");
    folder_write("bench.yaml", text);
    free(text);
    caber_readings *r;
    caber_message message;
    assert_int_equal(read_bench(NULL, 0, &r, &message), CABER_IO_ERROR);
    assert_non_null(strstr(message.text, "this is a directory; a file is wanted"));
    assert_int_equal(caber_readings_read("/nowhere/at/all.yaml", NULL, 0, &r, &message),
                     CABER_IO_ERROR);
    assert_string_equal(message.text, "/nowhere/at/all.yaml: there is no such file");
    const char *const overrides[] = {"length"};
    write_good();
    assert_int_equal(read_bench(overrides, 1, &r, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text,
                        "--set length: write path=value, such as load.grip.rise=\"0.05 s\"");
}

/* Sets a field to what it may not be; the message must name it, and nothing may be returned. */
static void assert_override_refused(const char *path, const char *value)
{
    char text[256];
    caber_readings *r;
    caber_message message;
    snprintf(text, sizeof text, "%s=%s", path, value);
    const char *const overrides[] = {text};
    assert_int_equal(read_bench(overrides, 1, &r, &message), CABER_BAD_INPUT);
    snprintf(text, sizeof text, "--set %s: %s: ", path, path);
    if (strncmp(message.text, text, strlen(text)))
        fail_msg("%s=%s: %s", path, value, message.text);
}

static void assert_quantity_guarded(const field *f, const char *path)
{
    static const char *const never[] = {"",     "x",   "1,5",      "1e999", "nan",
                                        "-inf", "0x1", "1 parsec", "[1]",   "1 2"};
    char value[64], text[TEXT_NUMBER_SIZE];
    for (size_t i = 0; i < sizeof never / sizeof never[0]; i++)
        assert_override_refused(path, never[i]);
    const char *other = f->dim == DIMENSION_TIME ? "1 m" : "1 s";
    assert_override_refused(path, other);
    text_from_double(f->flags & FIELD_ABOVE ? f->min : f->min - 1, text);
    assert_override_refused(path, text);
    text_from_double(2 * f->max + 1, text);
    snprintf(value, sizeof value, "%s", text);
    assert_override_refused(path, value);
}

/* Every field of the header, by the table that the reader works from. Returns how many. */
static size_t assert_group_guarded(const field_group *group, const char *prefix)
{
    size_t count = 0;
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        char path[128];
        snprintf(path, sizeof path, "%s%s", prefix, f->name);
        if (f->type == FIELD_QUANTITY)
            assert_quantity_guarded(f, path);
        else if (f->type == FIELD_INTEGER)
            assert_override_refused(path, "1.5");
        else if (f->type == FIELD_LIST)
            assert_override_refused(path, "5");
        else if (f->type == FIELD_TEXT && f->max < 300)
            assert_override_refused(
                path, "a text of ninety-six bytes or more, which is one too long, and "
                      "so it is refused with a clear word");
        if (f->type == FIELD_LIST) {
            snprintf(path, sizeof path, "%s%s[0].", prefix, f->name);
            count += assert_group_guarded(f->group, path);
        }
        count++;
    }
    return count;
}

static void every_field_of_the_header_is_guarded(void **state)
{
    (void)state;
    write_good();
    assert_in_range(assert_group_guarded(fields_kind_readings(), ""), 40, 100);
}

/* ------------------------------------------------------------------ what is refused: the tables */

static void wrong_tables(void **state)
{
    (void)state;
    static const mistake rows[] = {
        {"spans.csv", "at,span,load,load_at,read_at,orientation,deflection",
         "at,span,load,load_at,read_at,orientation,deflecton",
         "@spans.csv:1:42: deflecton: there is no such column; did you mean deflection?; allowed "
         "are at, span, load, load_at, read_at, orientation, deflection"},
        {"spans.csv", "at,span,load,load_at", "at,span,load,span",
         "@spans.csv:1:14: span: this column was given before"},
        {"spans.csv", "at,span", "at;span",
         "@spans.csv:1:1: at;span: there is no such column; a comma stands between two columns, "
         "and "
         "allowed are at, span, load, load_at, read_at, orientation, deflection"},
        {"spans.csv", "at,span", "at,",
         "@spans.csv:1:4: \"\" is no name of a column; the "
         "first row gives the names: at, span, load, load_at, "
         "read_at, orientation, deflection"},
        {"twists.csv", "clamp,lever,read_at,couple,angle", "clamp,lever,read_at,couple",
         "@twists.csv:1:1: angle: this column is missing (what was read)"},
        {"rings.csv", "mm,g,deg,cpm\n", "mm,,deg,cpm\n",
         "@rings.csv:2:4: tip_mass: \"\" is no unit of a mass; the second row gives the units, and "
         "allowed are kg, g, oz, lb"},
        {"rings.csv", "mm,g,deg,cpm\n", "mm,N,deg,cpm\n",
         "@rings.csv:2:4: tip_mass: \"N\" is no unit of a mass; the second row gives the units, "
         "and "
         "allowed are kg, g, oz, lb"},
        {"rings.csv", "mm,g,deg,cpm\n", "",
         "@rings.csv:2:1: clamp: \"900\" is no unit of a length; the second row gives the units, "
         "and allowed are m, mm, cm, in, ft, yd"},
        {"rings.csv", "900,200,90,300\n", "900,200,90\n",
         "@rings.csv:3:1: this row has 3 columns; 4 are wanted, with commas between"},
        {"rings.csv", "900,200,90,300\n", "900,200,90,300,5\n",
         "@rings.csv:3:16: this row has more than 4 columns; a number has a decimal point, not a "
         "comma"},
        {"rings.csv", "900,200,90,300\n", "900,200,90,\n",
         "@rings.csv:3:12: frequency: \"\" is empty; a number in cpm is wanted"},
        {"rings.csv", "900,200,90,300\n", "900,200,90,300 cpm\n",
         "@rings.csv:3:12: frequency: \"300 cpm\" has something behind its number; a number in cpm "
         "alone is wanted"},
        {"rings.csv", "900,200,90,300\n", "900,200,400,300\n",
         "@rings.csv:3:9: orientation: 400 deg is not allowed; it must be at least -360 and at "
         "most "
         "360 deg"},
        {"rings.csv", "900,200,90,300\n,,,240\n", "",
         "@rings.csv:2:1: the table has 0 rows of numbers; at least 1 is wanted"},
        /* What neither the row nor the jig says. */
        {"bench.yaml", "{span: 200 mm, load", "{load",
         "@spans.csv:5:5: span: is missing; give it in a column, or once for all rows as "
         "spans[0].span"},
        {"bench.yaml", "load_at: 10 mm, read_at: 20 mm,", "load_at: 10 mm,",
         "@bends.csv:4:3: read_at: is missing; give it in a column, or once for all rows as "
         "cantilevers[0].read_at"},
        {"bench.yaml", "lever: 30 mm, ", "",
         "@twists.csv:4:2: lever: is missing; give it in a column, or once for all rows as "
         "twists[0].lever"},
        {"bench.yaml", ",\n     couple: 2 ft lbf, repeat", ",\n     repeat",
         "@twists.csv:4:4: couple: is missing; give it in a column, or once for all rows as "
         "twists[0].couple"},
        {"bench.yaml", ", read_at: 40 mm", "",
         "@twists.csv:4:3: read_at: is missing; give it in a column, or once for all rows as "
         "twists[0].read_at"},
        {"bench.yaml", "clamp: 1 m, ", "",
         "@rings.csv:4:1: clamp: is missing; give it in a column, or once for all rows as "
         "frequencies[0].clamp"},
        {"bench.yaml", "load: 5 N, ", "",
         "@bends.csv:4:4: load: is missing; give it in a column, or once for all rows as "
         "cantilevers[0].load"},
        /* What no jig can be. */
        {"bench.yaml", "     repeatability: 0.5 %, table: spans",
         "     resolution_: 1, table: spans",
         "@bench.yaml:14:6: spans[0].resolution_: there is no such key; did you mean resolution?; "
         "allowed are span, load, resolution, repeatability, table"},
        {"bench.yaml", "repeatability: 1 %, table: twists", "table: twists",
         "twists.csv, line 3: the reading's error must be above 0; give its jig a resolution or a "
         "repeatability"},
        {"spans.csv", "200,300,120,210", "140,300,120,210",
         "spans.csv, line 3: the support nearer the tip at -10 mm from the tip is not possible; it "
         "must lie from 0 to 1100 mm"},
        {"bends.csv", "900,15,25", "900,890,25",
         "bends.csv, line 3: the load at 890 mm from the tip is not possible; it must lie from 0 "
         "to "
         "880 mm"},
        {"twists.csv", "900,50,60", "900,50,901",
         "twists.csv, line 3: the place of reading at 901 mm from the tip is not possible; it must "
         "lie from 0 to 899.999 mm"},
        {"rings.csv", "900,200,90", "1200,200,90",
         "rings.csv, line 3: the clamp at 1200 mm from the tip is not possible; it must lie from "
         "20 "
         "to 1100 mm"},
    };
    ASSERT_MISTAKES(rows);
}

/* A value that each column may have. */
static void write_cell(const field *f, char *text, size_t size)
{
    const unit *u = unit_find(f->unit, f->dim);
    const double low = f->min < 0 ? 0 : f->min;
    snprintf(text, size, "%.6g", (low + 0.1 * (f->max - low)) * u->over / u->times);
}

/* Writes a table of these columns: `cell` stands in column `which` of the third row, `name` and
 * `unit_text` in the rows before (NULL = as they should be). */
static char *table_with(const field_group *columns, size_t which, const char *name,
                        const char *unit_text, const char *cell)
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    for (int row = 0; row < 4; row++)
        for (size_t i = 0; i < columns->count; i++) {
            const field *f = &columns->fields[i];
            char value[64];
            write_cell(f, value, sizeof value);
            const char *normal = row == 0 ? f->name : row == 1 ? f->unit : value;
            const char *other = row == 0 ? name : row == 1 ? unit_text : row == 3 ? cell : NULL;
            fprintf(out, "%s%s", i == which && other ? other : normal,
                    i + 1 < columns->count ? "," : "\n");
        }
    fclose(out);
    return text;
}

/* Reads it; a message must name line and column and its name. */
static void assert_cell_refused(const field_group *columns, size_t which, const char *name,
                                const char *unit_text, const char *cell, int line)
{
    char *text = table_with(columns, which, name, unit_text, cell), begin[96];
    field_rows rows;
    caber_message message = {""};
    caber_status status = csv_read("t.csv", text, strlen(text), columns, 1, 10, &rows, &message);
    snprintf(begin, sizeof begin, "t.csv:%d:", line);
    const char *shown = name ? name : columns->fields[which].name;
    if (status != CABER_BAD_INPUT || strncmp(message.text, begin, strlen(begin)) ||
        !strstr(message.text, shown))
        fail_msg("%s\n%s", text, message.text);
    assert_null(rows.cell);
    assert_int_equal(rows.count, 0);
    free(text);
}

static void assert_column_guarded(const field_group *columns, size_t which)
{
    static const char *const never[] = {"x", "1e999", "nan", "inf", "0x1", "1 2", "1.", "--1", "+"};
    const field *f = &columns->fields[which];
    const unit *u = unit_find(f->unit, f->dim);
    char value[64];
    for (size_t i = 0; i < sizeof never / sizeof never[0]; i++)
        assert_cell_refused(columns, which, NULL, NULL, never[i], 4);
    snprintf(value, sizeof value, "%.17g", (2 * f->max + 1) * u->over / u->times);
    assert_cell_refused(columns, which, NULL, NULL, value, 4);
    snprintf(value, sizeof value, "%.17g",
             (f->flags & FIELD_ABOVE ? f->min : f->min - 1) * u->over / u->times);
    assert_cell_refused(columns, which, NULL, NULL, value, 4);
    assert_cell_refused(columns, which, "no_such", NULL, NULL, 1);
    assert_cell_refused(columns, which, NULL, f->dim == DIMENSION_TIME ? "m" : "s", NULL, 2);
    assert_cell_refused(columns, which, NULL, "parsec", NULL, 2);
    if (f->dim != DIMENSION_NONE)
        assert_cell_refused(columns, which, NULL, "", NULL, 2);
    if (f->flags & FIELD_REQUIRED)
        assert_cell_refused(columns, which, NULL, NULL, "", 4);
    if (columns->count > 1)
        assert_cell_refused(columns, which, columns->fields[which ? 0 : 1].name, NULL, NULL, 1);
    char *comma = table_with(columns, which, NULL, NULL, "1,5");
    field_rows rows;
    caber_message message;
    assert_int_equal(csv_read("t.csv", comma, strlen(comma), columns, 1, 10, &rows, &message),
                     CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "a number has a decimal point, not a comma"));
    free(comma);
}

static size_t assert_columns_guarded(const field_group *group)
{
    size_t count = 0;
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        if (f->type == FIELD_ROWS || f->type == FIELD_ERRORS) {
            char *text = table_with(f->group, 0, NULL, NULL, NULL);
            field_rows rows;
            caber_message message;
            if (csv_read("t.csv", text, strlen(text), f->group, 1, 10, &rows, &message) != CABER_OK)
                fail_msg("%s", message.text);
            assert_int_equal(rows.count, 2);
            field_rows_free(&rows);
            free(text);
            for (size_t k = 0; k < f->group->count; k++, count++)
                assert_column_guarded(f->group, k);
        } else if (f->group) {
            count += assert_columns_guarded(f->group);
        }
    }
    return count;
}

static void every_column_is_guarded(void **state)
{
    (void)state;
    assert_int_equal(assert_columns_guarded(fields_kind_readings()), 7 + 6 + 4 + 5);
    assert_int_equal(assert_columns_guarded(fields_kind(0)), 5);
}

/* ------------------------------------------------------------------ the demo records */

/* The demo records: where the mis-set reading stands, and the principal EI that they were drawn with,
 * about the EI of the demo shaft. */
static const struct {
    const char *name, *outlier;
    int line;
    double ratio, angle; /* 1, deg */
} demos[] = {
    {"neutral", "neutral-spans.csv", 44, 0.015, 20},
    {"soft-tip", "soft-tip-cantilevers.csv", 14, 0.012, 65},
    {"firm-tip", "firm-tip-twists.csv", 10, 0.018, -15},
};
enum { DEMOS = sizeof demos / sizeof demos[0] };

static caber_readings *read_demo(const char *name)
{
    char path[256];
    caber_readings *r;
    caber_message message;
    snprintf(path, sizeof path, CABER_SOURCE_DIR "/models/readings/%s.yaml", name);
    if (caber_readings_read(path, NULL, 0, &r, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return r;
}

static void the_demo_records_are_complete(void **state)
{
    (void)state;
    for (size_t d = 0; d < DEMOS; d++) {
        caber_readings *r = read_demo(demos[d].name);
        size_t kinds[CABER_READ_KINDS] = {0}, blank = 0;
        bool outlier = false;
        for (size_t i = 0; i < r->count; i++) {
            const caber_reading *q = &r->items[i];
            kinds[q->kind]++;
            const bool bends = q->kind <= CABER_READ_FREQUENCY;
            blank += bends && isnan(q->orientation);
            outlier |= !strcmp(q->source, demos[d].outlier) && q->line == demos[d].line;
        }
        assert_int_equal(kinds[CABER_READ_SPAN], 75);
        assert_int_equal(kinds[CABER_READ_CANTILEVER], 24);
        assert_int_equal(kinds[CABER_READ_FREQUENCY], 12);
        assert_int_equal(kinds[CABER_READ_TWIST], 15);
        assert_int_equal(kinds[CABER_READ_MASS], 1);
        assert_int_equal(kinds[CABER_READ_BALANCE], 1);
        assert_int_equal(blank, 1);
        assert_true(outlier);
        assert_non_null(strstr(r->note, "Invented"));
        caber_readings_free(r);
    }
}

/* The profile that is drawn is the demo shaft's within its error bars, where readings see it. */
static void assert_recovered(const char *name, const caber_fit *f)
{
    char path[256];
    caber_setup *setup;
    caber_message message;
    profile *truth;
    snprintf(path, sizeof path, CABER_SOURCE_DIR "/models/setups/%s-smooth.yaml", name);
    assert_int_equal(caber_setup_read(path, NULL, 0, &setup, &message), CABER_OK);
    assert_int_equal(profile_create(&setup->shaft, &setup->sections, &truth, &message), CABER_OK);
    assert_close(f->shaft.length, setup->shaft.length, 1e-12, 0);
    for (size_t i = 0; i < f->shaft.station_count; i++) {
        const caber_station *s = &f->shaft.stations[i];
        const caber_band *b = &f->band[i];
        const profile_point p = profile_at(truth, s->at);
        if (!b->bend_unseen)
            assert_close(sqrt(s->ei * s->ei_2), p.ei, 4 * b->ei, 0);
        if (!b->twist_unseen)
            assert_close(s->gj, p.gj, 4 * b->gj, 0);
        assert_close(s->mass, p.mass, 4 * b->mass, 0);
        assert_close(s->diameter, 2 * p.radius, 0, 1e-4);
    }
    profile_free(truth);
    caber_setup_free(setup);
}

static caber_fit *fit_demo(const char *name, const caber_readings *r)
{
    caber_fit *f;
    caber_message message;
    if (caber_fit_run(r, &f, &message) != CABER_OK)
        fail_msg("%s: %s", name, message.text);
    return f;
}

/* The fit of each succeeds, and the mis-set reading stands out by far. Without it the profile is the
 * one that the readings were drawn from. */
static void the_outlier_is_the_worst_and_the_shaft_is_found(void **state)
{
    (void)state;
    for (size_t d = 0; d < DEMOS; d++) {
        caber_readings *r = read_demo(demos[d].name);
        caber_fit *f = fit_demo(demos[d].name, r);
        double outlier = 0, next = 0;
        for (size_t i = 0; i < r->count; i++) {
            const double off = fabs(f->residual[i].sigmas);
            const bool it =
                r->items[i].line == demos[d].line && !strcmp(r->items[i].source, demos[d].outlier);
            r->items[i].left_out = it;
            if (it)
                outlier = off;
            else
                next = fmax(next, off);
        }
        assert_true(outlier > 4.5 && outlier < 9);
        assert_true(outlier > 1.4 * next);
        caber_fit_free(f);
        f = fit_demo(demos[d].name, r);
        assert_int_equal(f->used, r->count - 1);
        assert_true(f->oriented && f->ratio > 3 * f->ratio_sd);
        assert_close(f->ratio, demos[d].ratio, 0, 4 * f->ratio_sd);
        assert_close(f->angle, DEG(demos[d].angle), 0, 4 * f->angle_sd);
        assert_recovered(demos[d].name, f);
        caber_fit_free(f);
        caber_readings_free(r);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_value_arrives),
        cmocka_unit_test(columns_in_any_order_with_marks_of_other_systems),
        cmocka_unit_test(what_may_be_left_out),
        cmocka_unit_test(overrides_reach_the_header),
        cmocka_unit_test(tables_are_found_beside_the_file_or_from_here),
        cmocka_unit_test(wrong_headers),
        cmocka_unit_test(files_that_cannot_be_opened),
        cmocka_unit_test(every_field_of_the_header_is_guarded),
        cmocka_unit_test(wrong_tables),
        cmocka_unit_test(every_column_is_guarded),
        cmocka_unit_test(the_demo_records_are_complete),
        cmocka_unit_test(the_outlier_is_the_worst_and_the_shaft_is_found),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
