/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Tables of time and value: what is read, and every way in which one can be wrong. */
#include "check.h"

#include <stdlib.h>

#include "files/csv.h"

static caber_status parse(const char *text, size_t size, dimension dim, caber_table *table,
                          caber_message *message)
{
    return csv_parse("t.csv", text, size, dim, table, message);
}

static void assert_refused(const char *text, const char *expected)
{
    caber_table table;
    caber_message message;
    assert_int_equal(parse(text, strlen(text), DIMENSION_TORQUE, &table, &message),
                     CABER_BAD_INPUT);
    assert_string_equal(message.text, expected);
    assert_int_equal(table.count, 0);
    assert_null(table.time);
    assert_null(table.value);
}

static void assert_table(const char *text, dimension dim)
{
    static const double time[] = {-0.1, 0, 0.05, 0.1};
    caber_table table;
    caber_message message = {""};
    if (parse(text, strlen(text), dim, &table, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_int_equal(table.count, 4);
    for (size_t i = 0; i < 4; i++) {
        assert_true(table.time[i] == time[i]);
        assert_true(table.value[i] == 1.5 * (double)i - 1);
    }
    csv_table_free(&table);
    assert_null(table.time);
}

static void tables_are_read(void **state)
{
    (void)state;
    assert_table("time,torque\ns,N m\n-0.1,-1\n0,0.5\n0.05,2\n0.1,3.5\n", DIMENSION_TORQUE);
    assert_table("time, torque\nms, N mm\n-100, -1000\n0, 500\n50, 2e3\n100, 3500",
                 DIMENSION_TORQUE);
    assert_table(
        "\xEF\xBB\xBF# a comment\r\n\r\ntime , angle\r\ns , rad\r\n -0.1 , -1\r\n# more\r\n"
        "0,.5\r\n\r\n0.05,+2\r\n0.1,3.5\r\n   \r\n",
        DIMENSION_ANGLE);
}

#define HEAD "time,torque\ns,N m\n"

static void tables_that_are_wrong(void **state)
{
    (void)state;
    assert_refused("", "t.csv:1:1: the table ends before its names; it begins with a row of names "
                       "(time, one of values) and a row of units");
    assert_refused("time,torque\n", "t.csv:1:1: the table ends before its units; it begins with a "
                                    "row of names (time, one of values) and a row of units");
    assert_refused("0,1\n1,2\n", "t.csv:1:1: \"0\" is no name of a column; the first row gives the "
                                 "names: time, one of values");
    assert_refused("t,torque\ns,N m\n",
                   "t.csv:1:3: torque: there is no such column; allowed are time, one of values");
    assert_refused("torque\nN m\n", "t.csv:1:1: time: this column is missing (ascending)");
    assert_refused("time\ns\n", "t.csv:1:1: this column is missing (beside time, one of values)");
    assert_refused(
        "time,torque\n0,1\n",
        "t.csv:2:1: time: \"0\" is no unit of a time; the second row gives the units, and "
        "allowed are s, ms");
    assert_refused(
        "time,torque\ns, \n",
        "t.csv:2:4: torque: \"\" is no unit of a torque; the second row gives the units, "
        "and allowed are N m, N mm, ft lbf, in lbf, in ozf");
    assert_refused("time,torque\ns, deg\n",
                   "t.csv:2:4: torque: \"deg\" is no unit of a torque; the second row gives the "
                   "units, and allowed are N m, N mm, ft lbf, in lbf, in ozf");
    assert_refused(HEAD "0,1\n1\n",
                   "t.csv:4:1: this row has 1 column; 2 are wanted, with commas between");
    assert_refused(HEAD "0,1,5\n", "t.csv:3:5: this row has more than 2 columns; a number has a "
                                   "decimal point, not a comma");
    assert_refused(HEAD "0, 1x\n", "t.csv:3:4: torque: \"1x\" has something behind its number; a "
                                   "number in N m alone is wanted");
    assert_refused(HEAD "0,1 N m\n",
                   "t.csv:3:3: torque: \"1 N m\" has something behind its number; "
                   "a number in N m alone is wanted");
    assert_refused(HEAD "0,\n", "t.csv:3:3: torque: \"\" is empty; a number in N m is wanted");
    assert_refused(HEAD "0,nan\n",
                   "t.csv:3:3: torque: \"nan\" is not a finite number; a number in N m is wanted");
    assert_refused(HEAD "0,1e999\n", "t.csv:3:3: torque: \"1e999\" is too large for a number; a "
                                     "number in N m is wanted");
    assert_refused("time,torque\ns,ft lbf\n0,1e308\n", "t.csv:3:3: torque: \"1e308\" is too large");
    assert_refused(HEAD "0,1\n0.1,1\n# no\n0.1,1\n0.2,1\n",
                   "t.csv:6:1: time: 0.1 s does not ascend; it must "
                   "be above the time in the row before");
    assert_refused(HEAD "0,1\n0.1,1\n0.2,1\n",
                   "t.csv:5:1: the table has 3 rows of numbers; at least 4 are wanted");
}

static void cells_that_are_hostile(void **state)
{
    (void)state;
    static const char with_zero[] = HEAD "0,1\0\n";
    caber_table table;
    caber_message message;
    assert_int_equal(parse(with_zero, sizeof with_zero - 1, DIMENSION_TORQUE, &table, &message),
                     CABER_BAD_INPUT);
    assert_string_equal(message.text, "t.csv:3:3: torque: this cell holds a zero byte");
    assert_refused(HEAD "0,1\n\xFF,1\n",
                   "t.csv:4:1: the byte 0xFF here is not UTF-8; save the file as UTF-8");
    char text[1000];
    snprintf(text, sizeof text, HEAD "0,%0500d\n", 1);
    assert_refused(text, "t.csv:3:3: torque: this cell is too long");
}

static void too_many_rows(void **state)
{
    (void)state;
    size_t size = 2000000, used;
    char *text = malloc(size);
    assert_non_null(text);
    used = (size_t)snprintf(text, size, HEAD);
    for (int i = 0; i <= 100000; i++)
        used += (size_t)snprintf(text + used, size - used, "%d,1\n", i);
    assert_refused(text, "t.csv:100003:1: the table has more than 100000 rows");
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tables_are_read),
        cmocka_unit_test(tables_that_are_wrong),
        cmocka_unit_test(cells_that_are_hostile),
        cmocka_unit_test(too_many_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
