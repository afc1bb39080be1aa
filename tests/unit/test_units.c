/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Quantities: every unit against its definition, the strict number, and the way back. */
#include "check.h"

#include <float.h>
#include <locale.h>
#include <stdlib.h>

#include "base/random.h"
#include "base/text.h"
#include "base/units.h"

static double parsed(const char *text, dimension dim)
{
    double si = NAN;
    caber_message message = {""};
    if (quantity_parse(text, dim, &si, &message) != CABER_OK)
        fail_msg("%s: %s", text, message.text);
    assert_string_equal(message.text, "");
    return si;
}

static void assert_refused(const char *text, dimension dim, const char *expected)
{
    double si = 42;
    caber_message message;
    assert_int_equal(quantity_parse(text, dim, &si, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, expected);
    assert_true(si == 42);
}

/* SI values worked out from the definitions: inch 25.4 mm, pound 0.45359237 kg, gravity
 * 9.80665 m/s2, pi 3.14159265358979323846. */
static void every_unit_has_its_defined_size(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        dimension dim;
        double si;
    } rows[] = {
        {"0.007", DIMENSION_NONE, 0.007},
        {"0.7 %", DIMENSION_NONE, 0.007},
        {"1.13 m", DIMENSION_LENGTH, 1.13},
        {"45 mm", DIMENSION_LENGTH, 0.045},
        {"2.5 cm", DIMENSION_LENGTH, 0.025},
        {"45.25 in", DIMENSION_LENGTH, 1.14935},
        {"3 ft", DIMENSION_LENGTH, 0.9144},
        {"250 yd", DIMENSION_LENGTH, 228.6},
        {"0.2 kg", DIMENSION_MASS, 0.2},
        {"205 g", DIMENSION_MASS, 0.205},
        {"16 oz", DIMENSION_MASS, 0.45359237},
        {"1 lb", DIMENSION_MASS, 0.45359237},
        {"2 s", DIMENSION_TIME, 2},
        {"50 ms", DIMENSION_TIME, 0.05},
        {"3 N", DIMENSION_FORCE, 3},
        {"1 lbf", DIMENSION_FORCE, 4.4482216152605},
        {"2 N m", DIMENSION_TORQUE, 2},
        {"1500 N mm", DIMENSION_TORQUE, 1.5},
        {"1 ft lbf", DIMENSION_TORQUE, 1.3558179483314004},
        {"12 in lbf", DIMENSION_TORQUE, 1.3558179483314004},
        {"192 in ozf", DIMENSION_TORQUE, 1.3558179483314004},
        {"20 N m2", DIMENSION_STIFFNESS, 20},
        {"20e6 N mm2", DIMENSION_STIFFNESS, 20},
        {"1000 lbf in2", DIMENSION_STIFFNESS, 2.86981465730146418},
        {"1.15 kg m2", DIMENSION_INERTIA, 1.15},
        {"1 g m2", DIMENSION_INERTIA, 1e-3},
        {"1 kg cm2", DIMENSION_INERTIA, 1e-4},
        {"5900 g cm2", DIMENSION_INERTIA, 5.9e-4},
        {"0.05 kg/m", DIMENSION_MASS_PER_LENGTH, 0.05},
        {"50 g/m", DIMENSION_MASS_PER_LENGTH, 0.05},
        {"0.5 g/cm", DIMENSION_MASS_PER_LENGTH, 0.05},
        {"0.05 g/mm", DIMENSION_MASS_PER_LENGTH, 0.05},
        {"1.27 g/in", DIMENSION_MASS_PER_LENGTH, 0.05},
        {"1 kg m", DIMENSION_FIRST_MOMENT, 1},
        {"1 g m", DIMENSION_FIRST_MOMENT, 1e-3},
        {"1 g in", DIMENSION_FIRST_MOMENT, 2.54e-5},
        {"16 in oz", DIMENSION_FIRST_MOMENT, 0.45359237 * 0.0254},
        {"2 rad", DIMENSION_ANGLE, 2},
        {"180 deg", DIMENSION_ANGLE, 3.14159265358979323846},
        {"2 rad/s", DIMENSION_ANGULAR_SPEED, 2},
        {"90 deg/s", DIMENSION_ANGULAR_SPEED, 1.57079632679489661923},
        {"60 rpm", DIMENSION_ANGULAR_SPEED, 6.28318530717958647693},
        {"4.25 Hz", DIMENSION_FREQUENCY, 4.25},
        {"255 cpm", DIMENSION_FREQUENCY, 4.25},
        {"45 m/s", DIMENSION_SPEED, 45},
        {"36 km/h", DIMENSION_SPEED, 10},
        {"100 mph", DIMENSION_SPEED, 44.704},
        {"10 ft/s", DIMENSION_SPEED, 3.048},
        {"1550 kg/m3", DIMENSION_DENSITY, 1550},
        {"1.55 g/cm3", DIMENSION_DENSITY, 1550},
        {"200 N m/rad", DIMENSION_JOINT_STIFFNESS, 200},
        {"1 N m/deg", DIMENSION_JOINT_STIFFNESS, 57.295779513082320877},
        {"2 N m s/rad", DIMENSION_JOINT_DAMPING, 2},
        {"1 N m s/deg", DIMENSION_JOINT_DAMPING, 57.295779513082320877},
        {"0.003 s/m", DIMENSION_SLOWNESS, 0.003},
        {"288.15 K", DIMENSION_TEMPERATURE, 288.15},
        {"15 degC", DIMENSION_TEMPERATURE, 288.15},
        {"-40 degF", DIMENSION_TEMPERATURE, 233.15},
        {"101325 Pa", DIMENSION_PRESSURE, 101325},
        {"1013.25 hPa", DIMENSION_PRESSURE, 101325},
        {"101.325 kPa", DIMENSION_PRESSURE, 101325},
        {"1 inHg", DIMENSION_PRESSURE, 3386.388640341}, /* 13595.1 x 9.80665 x 0.0254, exact */
    };
    size_t tested = sizeof rows / sizeof rows[0], count;
    for (size_t i = 0; i < tested; i++)
        assert_close(parsed(rows[i].text, rows[i].dim), rows[i].si, 2.3e-16, 0);
    unit_table(&count);
    assert_int_equal(tested, count); /* a new unit needs a row here */
}

static void plain_numbers_are_si_and_decimals_are_nearest(void **state)
{
    (void)state;
    assert_true(parsed("1.13", DIMENSION_LENGTH) == 1.13);
    assert_true(parsed("  -2.5e-3 ", DIMENSION_LENGTH) == -2.5e-3);
    assert_true(parsed("+.5", DIMENSION_LENGTH) == 0.5);
    assert_true(parsed("45 mm", DIMENSION_LENGTH) == 0.045);
    assert_true(parsed("508 g/m", DIMENSION_MASS_PER_LENGTH) == 0.508);
    assert_true(parsed("1e-400 m", DIMENSION_LENGTH) == 0);
}

static void spellings_of_one_unit_are_one(void **state)
{
    (void)state;
    static const char *const torque[] = {"12 N m", "12N m", "12 N*m", "12 N\xC2\xB7m", "12\tN  m "};
    for (size_t i = 0; i < 5; i++)
        assert_true(parsed(torque[i], DIMENSION_TORQUE) == 12);
    assert_true(parsed("3 N*m^2", DIMENSION_STIFFNESS) == 3);
    assert_true(parsed("3 N m\xC2\xB2", DIMENSION_STIFFNESS) == 3);
    assert_true(parsed("3 kg / m\xC2\xB3", DIMENSION_DENSITY) == 3);
}

static void numbers_are_strict(void **state)
{
    (void)state;
    assert_refused("", DIMENSION_LENGTH, "\"\" is empty; a length such as \"1.25 m\" is wanted");
    assert_refused("1,5 m", DIMENSION_LENGTH,
                   "\"1,5 m\" has a comma in its number; use a decimal point; a length such as "
                   "\"1.25 m\" is wanted");
    assert_refused("1e999", DIMENSION_MASS,
                   "\"1e999\" is too large for a number; a mass such as \"1.25 kg\" is wanted");
    assert_refused("1e308 ft", DIMENSION_LENGTH,
                   "\"1e308 ft\" is too large for a number; a length such as \"1.25 m\" is wanted");
    assert_refused("0x10", DIMENSION_NONE,
                   "\"0x10\" is hexadecimal; write a decimal number; a plain number such as "
                   "\"1.25\" is wanted");
    assert_refused("1.", DIMENSION_NONE,
                   "\"1.\" has no digit behind its decimal point; a plain number such as \"1.25\" "
                   "is wanted");
    assert_refused("heavy", DIMENSION_MASS,
                   "\"heavy\" is not a number; a mass such as \"1.25 kg\" is wanted");
    static const char *const not_finite[] = {"nan", "NaN", "-inf", "Infinity", ".nan", "+.inf"};
    for (size_t i = 0; i < 6; i++) {
        caber_message message;
        double si;
        assert_int_equal(quantity_parse(not_finite[i], DIMENSION_MASS, &si, &message),
                         CABER_BAD_INPUT);
        assert_non_null(strstr(message.text, "is not a finite number"));
    }
}

static void units_are_closed_and_of_one_dimension(void **state)
{
    (void)state;
    assert_refused(
        "0.1x", DIMENSION_LENGTH,
        "\"0.1x\": \"x\" is no unit of a length; allowed are m, mm, cm, in, ft, yd, or a "
        "number alone in SI");
    assert_refused(
        "1 2 m", DIMENSION_LENGTH,
        "\"1 2 m\": \"2 m\" is no unit of a length; allowed are m, mm, cm, in, ft, yd, or a "
        "number alone in SI");
    assert_refused(
        "1e", DIMENSION_TIME,
        "\"1e\": \"e\" is no unit of a time; allowed are s, ms, or a number alone in SI");
    assert_refused("20 N m", DIMENSION_STIFFNESS,
                   "\"20 N m\" is a torque, but a bending or twisting stiffness is wanted (N m2, N "
                   "mm2, lbf in2)");
    assert_refused(
        "255 cpm", DIMENSION_ANGULAR_SPEED,
        "\"255 cpm\" is a frequency, but an angular speed is wanted (rad/s, deg/s, rpm)");
    assert_refused("20 deg", DIMENSION_NONE,
                   "\"20 deg\" is an angle, but a plain number is wanted (%)");
    caber_message message;
    double si;
    /* Case matters: "Mm" and "KG" are other units or none. */
    assert_int_equal(quantity_parse("1 MM", DIMENSION_LENGTH, &si, &message), CABER_BAD_INPUT);
    assert_int_equal(quantity_parse("1 a very long unit that is in no table at all",
                                    DIMENSION_LENGTH, &si, &message),
                     CABER_BAD_INPUT);
}

static void written_values_read_back_to_the_same_bits(void **state)
{
    (void)state;
    size_t count;
    const unit *units = unit_table(&count);
    uint64_t bits = 88172645463325252u;
    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < 400; k++) {
            bits ^= bits << 13; /* xorshift64, Marsaglia 2003 */
            bits ^= bits >> 7;
            bits ^= bits << 17;
            double si = ((double)(bits >> 11) * 0x1p-53 - 0.5) * pow(10, (int)(bits % 12) - 6);
            char text[64];
            quantity_write(si, &units[i], text, sizeof text);
            assert_true(parsed(text, units[i].dim) == si);
        }
}

static void written_values_are_short(void **state)
{
    (void)state;
    static const struct {
        double si;
        const char *unit;
        dimension dim;
        const char *text;
    } rows[] = {
        {0.1, "", DIMENSION_NONE, "0.1"},
        {0.01, "%", DIMENSION_NONE, "1%"},
        {0.045, "mm", DIMENSION_LENGTH, "45 mm"},
        {1.14935, "in", DIMENSION_LENGTH, "45.25 in"},
        {0, "mm", DIMENSION_LENGTH, "0 mm"},
        {10.5 * 3.14159265358979323846 / 180, "deg", DIMENSION_ANGLE, "10.5 deg"},
        {1e300, "m", DIMENSION_LENGTH, "1e+300 m"},
        {4.25, "cpm", DIMENSION_FREQUENCY, "255 cpm"},
        {1.0 / 3, "m", DIMENSION_LENGTH, "0.3333333333333333 m"},
    };
    char text[64];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        quantity_write(rows[i].si, unit_find(rows[i].unit, rows[i].dim), text, sizeof text);
        assert_string_equal(text, rows[i].text);
    }
}

/* Makes a locale with decimal commas in a new folder and sets it; false when there is no localedef
 * on this machine. */
static bool locale_with_commas(char *folder, char *command, size_t size)
{
    if (!mkdtemp(folder))
        return false;
    snprintf(
        command, size,
        "cd %s && printf 'LC_NUMERIC\\ndecimal_point \",\"\\nthousands_sep \".\"\\n"
        "grouping 3;3\\nEND LC_NUMERIC\\n' >source && localedef -c -i source ./comma >log 2>&1; "
        "test -e comma/LC_NUMERIC",
        folder);
    if (system(command) != 0)
        return false;
    setenv("LOCPATH", folder, 1);
    return setlocale(LC_NUMERIC, "comma") != NULL;
}

/* A program that has set a locale with decimal commas must read and write the same files. */
static void the_locale_changes_nothing(void **state)
{
    (void)state;
    char folder[] = "/tmp/caber-locale-XXXXXX", command[320], text[64], printed[8];
    bool set = locale_with_commas(folder, command, sizeof command);
    snprintf(printed, sizeof printed, "%.1f", 0.5);
    bool read = parsed("45.25 in", DIMENSION_LENGTH) == 1.14935;
    quantity_write(0.0455, unit_find("mm", DIMENSION_LENGTH), text, sizeof text);
    setlocale(LC_NUMERIC, "C");
    unsetenv("LOCPATH");
    snprintf(command, sizeof command, "rm -rf %s", folder);
    assert_int_equal(system(command), 0);
    if (!set) {
        print_message("skipped: localedef could not make a locale with decimal commas here\n");
        skip();
    }
    assert_string_equal(printed, "0,5"); /* the locale was really in force */
    assert_true(read);
    assert_string_equal(text, "45.5 mm");
}

static void assert_ten(double value)
{
    char text[TEXT_NUMBER_SIZE], *end = text_put_ten(value, text);
    assert_ptr_equal(end, text + strlen(text));
    const double back = strtod(text, NULL);
    /* Half of the last of ten digits, or a little more where that is a half itself. */
    const double last = pow(10, floor(log10(fabs(value))) - 9);
    if (!(fabs(back - value) <= 0.500001 * last))
        fail_msg("%.17g was written as %s", value, text);
    int digits = 0;
    for (const char *c = text + strspn(text, "-0."); *c && *c != 'e'; c++)
        digits += *c != '.';
    assert_true(digits <= 10);
}

static void ten_digits(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *text;
    } rows[] = {{0, "0"},
                {1, "1"},
                {-1, "-1"},
                {0.1, "0.1"},
                {1.0 / 3, "0.3333333333"},
                {-200.0 / 3, "-66.66666667"},
                {1e8, "100000000"},
                {1e9, "1000000000"},
                {12345678901.0, "1.23456789e+10"},
                {0.00012, "0.00012"},
                {1e-9, "0.000000001"},
                {99999999.994, "99999999.99"},
                {999999999.99, "1000000000"},
                {0.99999999999, "1"},
                {0.099999999999, "0.1"},
                {-1e-300, "-1e-300"},
                {1.5e300, "1.5e+300"}};
    char text[TEXT_NUMBER_SIZE];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        text_put_ten(rows[i].value, text);
        assert_string_equal(text, rows[i].text);
    }
    for (int power = -14; power <= 14; power++)
        for (int i = 0; i < 2000; i++) {
            const double part = 1 + 9 * random_even(1, 0, (uint64_t)i);
            assert_ten((i % 2 ? -1 : 1) * part * pow(10, power));
        }
}

static void text_for_messages_is_clipped_between_characters(void **state)
{
    (void)state;
    char clip[TEXT_CLIP_SIZE], longer[101];
    assert_string_equal(text_clip("a\nb", clip), "a?b");
    for (int i = 0; i < 100; i += 2)
        memcpy(longer + i, "\xC3\xA9", 2);
    longer[100] = '\0';
    text_clip(longer + 1, clip); /* begins inside a character, so 48 bytes end inside one */
    assert_string_equal(clip + strlen(clip) - 3, "...");
    assert_int_equal(text_utf8_end(clip + 1, strlen(clip) - 1), strlen(clip) - 1);
}

static void utf8_is_checked(void **state)
{
    (void)state;
    static const struct {
        const char *bytes;
        size_t size, end;
    } rows[] = {
        {"plain", 5, 5},
        {"\xC3\xA9", 2, 2},
        {"\xE2\x82\xAC", 3, 3},
        {"\xF0\x9F\x8F\x8C", 4, 4},
        {"a\xFF", 2, 1},
        {"\xC0\x80", 2, 0},
        {"\xED\xA0\x80", 3, 0},
        {"\xF4\x90\x80\x80", 4, 0},
        {"ab\xE2\x82", 4, 2},
        {"\xE0\x80\x80", 3, 0},
        {"\xF0\x80\x80\x80", 4, 0},
        {"\x80", 1, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(text_utf8_end(rows[i].bytes, rows[i].size), rows[i].end);
}

static void distances_of_words(void **state)
{
    (void)state;
    assert_int_equal(text_distance("mass", "mass", 5), 0);
    assert_int_equal(text_distance("moss", "mass", 5), 1);
    assert_int_equal(text_distance("kitten", "sitting", 5), 3);
    assert_int_equal(text_distance("kitten", "sitting", 2), 3);
    assert_int_equal(text_distance("", "abc", 5), 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_unit_has_its_defined_size),
        cmocka_unit_test(plain_numbers_are_si_and_decimals_are_nearest),
        cmocka_unit_test(spellings_of_one_unit_are_one),
        cmocka_unit_test(numbers_are_strict),
        cmocka_unit_test(units_are_closed_and_of_one_dimension),
        cmocka_unit_test(written_values_read_back_to_the_same_bits),
        cmocka_unit_test(written_values_are_short),
        cmocka_unit_test(the_locale_changes_nothing),
        cmocka_unit_test(ten_digits),
        cmocka_unit_test(text_for_messages_is_clipped_between_characters),
        cmocka_unit_test(utf8_is_checked),
        cmocka_unit_test(distances_of_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
