/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Measured shots from files: names, units and mappings, every way in which a file can be wrong, and
 * the rules by which shots are set aside. */
#include "folder.h"

#include "base/units.h"
#include "files/files.h"
#include "study/measured.h"
#include "swing/fields_table.h"

static caber_measured *read_text(const char *text, const char *mapping)
{
    caber_measured *m;
    caber_message message = {"untouched"};
    caber_status status = files_read_shots("t.csv", text, strlen(text), mapping,
                                           mapping ? strlen(mapping) : 0, &m, &message);
    if (status != CABER_OK)
        fail_msg("%s", message.text);
    assert_string_equal(message.text, "");
    return m;
}

static void assert_refused(const char *text, const char *mapping, const char *wanted)
{
    caber_measured *m;
    caber_message message = {"untouched"};
    caber_status status = files_read_shots("t.csv", text, strlen(text), mapping,
                                           mapping ? strlen(mapping) : 0, &m, &message);
    assert_int_equal(status, CABER_BAD_INPUT);
    assert_null(m);
    if (!strstr(message.text, wanted))
        fail_msg("\n got: %s\nwant: %s", message.text, wanted);
}

static double value(const caber_measured *m, size_t shot, const char *name)
{
    const int column = measured_column(m, name);
    assert_true(column >= 0);
    return m->value[shot * m->column_count + (size_t)column];
}

/* ------------------------------------------------------------------ what may be measured */

static void every_quantity_is_whole(void **state)
{
    (void)state;
    caber_measurable c, other;
    size_t n = 0;
    for (; caber_measurable_at(n, &c); n++) {
        assert_true(c.name[0] && c.label[0] && c.label[0] != ' ' && c.meaning[0]);
        assert_non_null(unit_find(c.unit, DIMENSION_NONE));
        assert_true(c.least < c.most && c.factor > 0);
        for (size_t k = 0; k < n; k++) {
            caber_measurable_at(k, &other);
            assert_string_not_equal(other.name, c.name);
            assert_string_not_equal(other.label, c.label);
        }
    }
    assert_in_range(n, 40, 100);
    assert_false(caber_measurable_at(n + 1, &c));
}

/* Every name reads with its own unit, and reads the printed unit as it is printed. */
static void every_name_reads(void **state)
{
    (void)state;
    caber_measurable c;
    for (size_t i = 0; caber_measurable_at(i, &c); i++) {
        char text[200];
        snprintf(text, sizeof text, "%s\n0.5\n", c.name);
        caber_measured *m = read_text(text, NULL);
        assert_int_equal(m->column_count, 1);
        assert_string_equal(m->columns[0].name, c.name);
        assert_close(m->value[0] * c.factor, 0.5, 1e-15, 0);
        caber_measured_free(m);
    }
}

/* ------------------------------------------------------------------ names and units */

/* 100 mph = 44.704 m/s and 200 yd = 182.88 m, exact by the yard of 1959. */
static void ways_to_give_a_unit(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "head_speed_mph,carry_yd\n100,200\n",
        "head speed [mph],carry [yd]\n100,200\n",
        "Head-Speed (mph) , CARRY(yd)\n100,200\n",
        "head_speed,carry\nmph,yd\n100,200\n",
        "head_speed,carry\n[mph],(yd)\n100,200\n",
        "head_speed_mps [m/s],carry_m\n44.704,182.88\n",
        "head_speed_kmh,carry_ft\n160.9344,600\n",
        "# a comment\n\nhead_speed_mph,carry_yd\n\n# another\n 100 ,\t200\r\n",
        "\xEF\xBB\xBF\"head_speed\",\"carry\"\nmph,yd\n\"100\",\"200\"\n",
        "carry_yd,note,head_speed_mph\n200,\"a, \"\"b\"\"\",100",
        "head_speed_mps,carry\nm/s,yd\n44.704,200\n",
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        caber_measured *m = read_text(texts[i], NULL);
        assert_int_equal(m->count, 1);
        assert_int_equal(m->column_count, 2);
        assert_close(value(m, 0, "head_speed_mps"), 44.704, 1e-14, 0);
        assert_close(value(m, 0, "carry_m"), 182.88, 1e-14, 0);
        caber_measured_free(m);
    }
}

static void batches_lines_and_gaps(void **state)
{
    (void)state;
    caber_measured *m = read_text("shot,setup,carry_m,side_m\n"
                                  "3,soft,200,\n"
                                  "# a pause\n"
                                  "4,firm,,-2\n"
                                  ",soft,201,1e0\n",
                                  NULL);
    assert_int_equal(m->count, 3);
    assert_int_equal(m->batch_count, 2);
    assert_string_equal(m->batches[0].name, "soft");
    assert_string_equal(m->batches[1].name, "firm");
    assert_int_equal(m->batches[0].count, 2);
    assert_int_equal(m->shots[1].batch, 1);
    assert_int_equal(m->shots[1].line, 4);
    assert_close(m->shots[0].number, 3, 0, 0);
    assert_true(isnan(m->shots[2].number));
    assert_true(isnan(value(m, 0, "side_m")) && isnan(value(m, 1, "carry_m")));
    assert_close(value(m, 1, "side_m"), -2, 0, 0);
    caber_measured_free(m);
}

static const char mapping[] =
    "kind: mapping\n"
    "separator: semicolon\n"
    "skip: 2\n"
    "missing: \"-\"\n"
    "columns:\n"
    "  - {column: V, quantity: ball_speed, unit: km/h}\n" /* 6 */
    "  - {column: Dir, quantity: launch direction, unit: deg, reversed: yes}\n"
    "  - {column: Who, quantity: setup}\n"
    "  - {column: Memo, quantity: ignore}\n";

static void a_mapping(void **state)
{
    (void)state;
    caber_measured *m = read_text("two lines, of;anything\n\"\nV;Dir;Who;Memo;carry_m\n"
                                  "252;2;a;x,y;200\n-;-3;b;;201\n",
                                  mapping);
    assert_int_equal(m->count, 2);
    assert_close(value(m, 0, "ball_speed_mps"), 70, 1e-14, 0);
    assert_true(isnan(value(m, 1, "ball_speed_mps")));
    assert_close(value(m, 0, "launch_direction_deg"), -2 / CABER_DEG, 1e-14, 0);
    assert_close(value(m, 1, "launch_direction_deg"), 3 / CABER_DEG, 1e-14, 0);
    assert_close(value(m, 1, "carry_m"), 201, 0, 0);
    assert_string_equal(m->batches[1].name, "b");
    caber_measured_free(m);
    /* A tab, a row that is no unit, and columns that nobody asked for. */
    m = read_text("Up\tWhat\tOther\nin degrees\t\t7\n11.5\tz\t8\n",
                  "kind: mapping\nseparator: tab\nothers: ignore\nskip_after: 1\n"
                  "columns: [{column: Up, quantity: launch_angle, unit: deg}]\n");
    assert_int_equal(m->count, 1);
    assert_close(value(m, 0, "launch_angle_deg"), 11.5 / CABER_DEG, 1e-14, 0);
    caber_measured_free(m);
}

/* ------------------------------------------------------------------ what is wrong with a file */

static void refused_files(void **state)
{
    (void)state;
    static const struct {
        const char *text, *wanted;
    } cases[] = {
        {"", "t.csv:1:1: there is nothing in this file"},
        {"# only\n\n", "t.csv:2:1: there is nothing in this file"},
        {"carry_m\n", "t.csv:1:1: there is no shot below the names"},
        {"carry\nm\n", "t.csv:2:1: there is no shot below the names"},
        {"shot,setup\n1,a\n", "t.csv:1:1: there is no column of a measured quantity"},
        {"carry_m,carry_m\n1,2\n", "t.csv:1:9: carry_m: this column was given before"},
        {"carry_m,carry [yd]\n1,2\n",
         "t.csv:1:9: carry [yd]: the column \"carry_m\" is that already"},
        {"carry_m,\n1,2\n", "t.csv:1:9: this column has no name"},
        {"1,2\n3,4\n", "t.csv:1:1: 1: this is no name of a column"},
        {"carri_m\n1\n", "t.csv:1:1: carri_m: there is no such quantity; did you mean carry_m?"},
        {"carry_m;side_m\n1;2\n", "a comma is wanted between two columns, or a mapping file"},
        {"carry\n200\n", "t.csv:1:1: carry: its unit is not given; write it behind the name, as in "
                         "\"carry [m]\", or in a row below the names; allowed are m,"},
        {"carry [furlong]\n1\n", "t.csv:1:1: carry [furlong]: \"furlong\" is no unit of a length"},
        {"carry [mph]\n1\n", "\"mph\" is no unit of a length"},
        {"carry_m [yd]\n1\n", "two units are given: m and yd"},
        {"carry_m\nyd\n200\n", "t.csv:2:1: carry_m: two units are given: m, and yd in the row"},
        {"carry\nknots\n200\n", "t.csv:2:1: carry: \"knots\" is no unit of a length"},
        {"carry_m,side_m\n1,2\n3\n",
         "t.csv:3:1: this row has 1 column; 2 are wanted, as there are names"},
        {"carry_m,side_m\n1,2\n200,5,3,1\n",
         "this row has 4 columns; 2 are wanted, as there are names; a number has a decimal point"},
        {"carry_m,side_m\n1,2\nx,4\n",
         "t.csv:3:1: carry_m: \"x\" is not a number; a number in m is "
         "wanted, or nothing where none was measured"},
        {"carry_m\n1\nnan\n", "t.csv:3:1: carry_m: \"nan\" is not a finite number"},
        {"carry_m\n1\n1e999\n", "\"1e999\" is too large for a number"},
        {"carry_m\n1\n0x1F\n", "hexadecimal"},
        {"carry_m\n1\n200 yd\n", "\"200 yd\" has something behind its number; a number in m alone"},
        {"carry_m\n1\n\"200,5\"\n", "has a comma in its number; use a decimal point"},
        {"carry_m\n1\n\"200\n", "t.csv:3:1: carry_m: the quotes of this cell are not closed"},
        {"carry_m\n1\n\"200\"5\n", "there is something behind the quotes"},
        {"carry_m,side_m\n1,\xC3\xA9\xC3\xA9,2\n", "t.csv:2:1: this row has 3 columns"},
        {"side_m,carry_m\n1,2\n \xC3\xA9,x\n", "t.csv:3:2: side_m:"},
        {"carry_m\n1\n\xFF\n", "t.csv:3:1: the byte 0xFF here is not UTF-8"},
        {"setup,carry_m\na,1\n,2\n", "t.csv:3:1: setup: is blank"},
        {"carry_m,set_aside\n1,maybe\n", "\"maybe\" is not allowed; it must be yes or no"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_refused(cases[i].text, NULL, cases[i].wanted);
}

static void bytes_that_are_no_text(void **state)
{
    (void)state;
    caber_measured *m;
    caber_message message;
    static const char zero[] = "carry_m\n1\n2\0\n";
    assert_int_equal(files_read_shots("t.csv", zero, sizeof zero - 1, NULL, 0, &m, &message),
                     CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "t.csv:3:1: this line holds a zero byte"));
    char *wide = malloc(1 << 17);
    assert_non_null(wide);
    memset(wide, 'a', 1 << 17);
    assert_int_equal(files_read_shots("t.csv", wide, 1 << 17, NULL, 0, &m, &message),
                     CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "this line has more than 65536 bytes"));
    memset(wide, ',', 1 << 17);
    assert_int_equal(files_read_shots("t.csv", wide, 1000, NULL, 0, &m, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "this row has more than 200 columns"));
    free(wide);
}

static void refused_mappings(void **state)
{
    (void)state;
    static const char shots[] = "x\ny\nV;Dir;Who;Memo\n252;2;a;\n";
#define COLUMNS "kind: mapping\ncolumns:\n  - "
    static const struct {
        const char *mapping, *wanted;
    } cases[] = {
        {"kind: shaft\n", "mapping.yaml:1:7: kind: shaft is not allowed; it must be mapping"},
        {"kind: mapping\n", "columns: is missing"},
        {COLUMNS "{column: V}\n", "columns[0].quantity: is missing"},
        {COLUMNS "{column: V, quantity: bal_speed}\n",
         "mapping.yaml:3:27: columns[0].quantity: \"bal_speed\" is no quantity; did you mean "
         "ball_speed?"},
        {COLUMNS "{column: V, quantity: ball_speed, unit: yd}\n",
         "mapping.yaml:3:45: columns[0].unit: \"yd\" is no unit of a speed; allowed are m/s"},
        {COLUMNS "{column: V, quantity: ball_speed_mps, unit: mph}\n", "two units are given: mph"},
        {COLUMNS "{column: V, quantity: setup}\n  - {column: V, quantity: shot}\n",
         "mapping.yaml:4:14: columns[1].column: \"V\" was mapped before"},
        {COLUMNS "{column: W, quantity: setup}\nseparator: semicolon\nskip: 2\n",
         "mapping.yaml:3:14: columns[0].column: there is no column \"W\" in line 3 of t.csv"},
        {COLUMNS "{column: V, quantity: ball_speed}\nseparator: semicolon\nskip: 2\n",
         "t.csv:3:3: Dir: there is no such quantity"},
        {COLUMNS "{column: V, quantity: ball_speed}\nseparator: semicolon\nskip: 2\n"
                 "others: ignore\n",
         "t.csv:3:1: V: its unit is not given"},
        {COLUMNS "{column: V, quantity: ball_speed}\nseparator: pipe\n",
         "\"pipe\" is not allowed; it must be comma, semicolon or tab"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_refused(shots, cases[i].mapping, cases[i].wanted);
    }
}

/* ------------------------------------------------------------------ files */

static void several_files(void **state)
{
    (void)state;
    folder_write("soft.csv", "carry_m,side_m\n200,1\n");
    folder_write("firm.csv", "carry_yd,apex_m\n200,30\n210,31\n");
    char soft[128], firm[128];
    snprintf(soft, sizeof soft, "%s", folder_path("soft.csv"));
    snprintf(firm, sizeof firm, "%s", folder_path("firm.csv"));
    const char *const paths[] = {soft, firm, soft};
    caber_measured *m;
    caber_message message;
    assert_int_equal(caber_measured_read(paths, 2, NULL, &m, &message), CABER_OK);
    assert_int_equal(m->column_count, 3);
    assert_int_equal(m->count, 3);
    assert_string_equal(m->batches[0].name, "soft");
    assert_string_equal(m->batches[1].name, "firm");
    assert_true(isnan(value(m, 0, "apex_m")) && isnan(value(m, 1, "side_m")));
    assert_close(value(m, 2, "carry_m"), 210 * 0.9144, 1e-14, 0);
    caber_measured_free(m);
    assert_int_equal(caber_measured_read(paths, 3, NULL, &m, &message), CABER_BAD_INPUT);
    assert_null(m);
    assert_non_null(strstr(message.text, "soft.csv: this file is given twice"));
    const char *const gone[] = {"/nowhere/at/all.csv"};
    assert_int_equal(caber_measured_read(gone, 1, NULL, &m, &message), CABER_IO_ERROR);
    assert_int_equal(caber_measured_read(paths, 2, "/nowhere.yaml", &m, &message), CABER_IO_ERROR);
    assert_int_equal(caber_measured_read(NULL, 0, NULL, &m, &message), CABER_BAD_INPUT);
}

/* ------------------------------------------------------------------ cleaning */

static void clean(caber_measured *m, unsigned rules)
{
    caber_message message;
    if (caber_measured_clean(m, rules, &message) != CABER_OK)
        fail_msg("%s", message.text);
}

enum {
    IMPOSSIBLE = 1 << CABER_CLEAN_IMPOSSIBLE,
    MISHIT = 1 << CABER_CLEAN_MISHIT,
    OUTLIER = 1 << CABER_CLEAN_OUTLIER
};

static void impossible_shots(void **state)
{
    (void)state;
    /* 1.6 heads is 72 m/s: just within, just beyond; a carry below 0; a blank head speed. */
    caber_measured *m = read_text("head_speed_mps,ball_speed_mps,carry_m\n45,72,200\n45,72.01,200\n"
                                  "45,66,-1\n,66,200\n45,66,\n45,66,400\n45,66,400.5\n",
                                  NULL);
    clean(m, IMPOSSIBLE);
    const bool wanted[] = {false, true, true, false, false, false, true};
    for (size_t i = 0; i < m->count; i++)
        assert_int_equal(m->shots[i].set_aside, wanted[i]);
    assert_int_equal(m->batches[0].set_aside, 3);
    assert_string_equal(m->columns[m->shots[1].column[0]].name, "ball_speed_mps");
    assert_string_equal(m->columns[m->shots[2].column[0]].name, "carry_m");
    /* Brought back by hand, the others by the rule; nothing is ever lost. */
    m->shots[1].kept = true;
    clean(m, IMPOSSIBLE);
    assert_int_equal(m->batches[0].set_aside, 2);
    assert_true(m->shots[1].broken & IMPOSSIBLE);
    clean(m, 0);
    assert_int_equal(m->batches[0].set_aside, 0);
    m->shots[4].broken |= 1u << CABER_CLEAN_BY_HAND;
    clean(m, 0);
    assert_true(m->shots[4].set_aside);
    assert_int_equal(m->count, 7);
    caber_measured_free(m);
}

static void a_wrong_unit_is_an_error(void **state)
{
    (void)state;
    caber_message message;
    caber_measured *m = read_text("ball_speed [m/s]\n145\n150\n66\n148\n", NULL);
    assert_int_equal(caber_measured_clean(m, IMPOSSIBLE, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "t.csv:2: ball_speed_mps: 3 of 4 values of t are impossible, "
                                      "such as 145 m/s here; is the unit right?");
    caber_measured_free(m);
    m = read_text("head_speed_mph,ball_speed_mps\n40,66\n40,66\n40,66\n", NULL);
    assert_int_equal(caber_measured_clean(m, IMPOSSIBLE, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "in 3 of 3 shots of t the ball is faster than 1.6 times"));
    caber_measured_free(m);
}

/* Median 1.48 by hand: limit 0.93 x 1.48 = 1.3764. */
static void mishits(void **state)
{
    (void)state;
    caber_measured *m =
        read_text("smash_factor\n1.47\n1.48\n1.48\n1.49\n1.377\n1.376\n1.48\n", NULL);
    clean(m, IMPOSSIBLE);
    for (size_t i = 0; i < m->count; i++) {
        assert_int_equal((m->shots[i].broken & MISHIT) != 0, i == 5);
        assert_false(m->shots[i].set_aside);
    }
    clean(m, MISHIT);
    assert_true(m->shots[5].set_aside);
    caber_measured_free(m);
    /* Without smash or head speed: 0.9 of the median ball speed, 60 of 66.7. */
    m = read_text("ball_speed_mps\n66\n66.7\n67\n66.7\n60.02\n60.04\n66.9\n66.7\n", NULL);
    clean(m, MISHIT);
    for (size_t i = 0; i < m->count; i++)
        assert_int_equal(m->shots[i].set_aside, i == 4);
    caber_measured_free(m);
    /* Of four shots nothing is told. */
    m = read_text("smash_factor\n1.48\n1.48\n1.48\n0.9\n", NULL);
    clean(m, MISHIT | OUTLIER);
    assert_int_equal(m->batches[0].set_aside, 0);
    caber_measured_free(m);
}

/* By hand: of 1, 2, 3, 4, 5, x the median is 3.5; with x far out the distances from it are 2.5, 1.5,
 * 0.5, 0.5, 1.5, large: their median 1.5, times 1.4826 = 2.2239; five of these 11.12: beyond 14.62. */
static void outliers(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        bool out;
    } cases[] = {{"side_m\n1\n2\n3\n4\n5\n14.6\n", false}, {"side_m\n1\n2\n3\n4\n5\n14.7\n", true}};
    for (size_t k = 0; k < 2; k++) {
        caber_measured *m = read_text(cases[k].text, NULL);
        clean(m, OUTLIER);
        for (size_t i = 0; i < m->count; i++)
            assert_int_equal(m->shots[i].set_aside, i == 5 && cases[k].out);
        caber_measured_free(m);
    }
    /* Each batch by its own middle; a constant one by none. */
    caber_measured *m = read_text("setup,side_m\na,0\na,1\na,2\na,1\na,1\na,0\nb,50\nb,51\nb,50.5\n"
                                  "b,50\nb,51\nc,1\nc,1\nc,1\nc,1\nc,1\nc,9\n",
                                  NULL);
    clean(m, OUTLIER);
    for (size_t b = 0; b < 3; b++)
        assert_int_equal(m->batches[b].set_aside, 0);
    caber_measured_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_quantity_is_whole),
        cmocka_unit_test(every_name_reads),
        cmocka_unit_test(ways_to_give_a_unit),
        cmocka_unit_test(batches_lines_and_gaps),
        cmocka_unit_test(a_mapping),
        cmocka_unit_test(refused_files),
        cmocka_unit_test(bytes_that_are_no_text),
        cmocka_unit_test(refused_mappings),
        cmocka_unit_test(several_files),
        cmocka_unit_test(impossible_shots),
        cmocka_unit_test(a_wrong_unit_is_an_error),
        cmocka_unit_test(mishits),
        cmocka_unit_test(outliers),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
