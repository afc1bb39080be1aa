/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"

#define PI 3.14159265358979323846

/* Where factors come from. The inch, foot, mile, pound and ounce are exact by the international
 * yard and pound agreement of 1959 (inch = 0.0254 m, pound = 0.45359237 kg); a pound-force is a
 * pound under standard gravity, 9.80665 m/s2 (CGPM 1901). */
#define SI "SI"
#define SI_PREFIX "SI prefix, exact"
#define INCH "inch 0.0254 m, exact (1959)"
#define POUND "pound 0.45359237 kg, exact (1959)"
#define FORCE "pound 0.45359237 kg (1959), gravity 9.80665 m/s2 (CGPM 1901), exact"
#define ROUND "a turn is 2 pi rad, 360 deg"
#define CLOCK "a minute is 60 s, an hour 3600 s, exact"
#define CELSIUS "0 degC is 273.15 K, exact (SI)"
#define FAHRENHEIT "32 degF is 0 degC, 180 degF are 100 K"
#define MERCURY "conventional mercury, 13595.1 kg/m3 under 9.80665 m/s2"

/* A pound-force in newtons is 0.45359237 x 9.80665 = 4.4482216152605, exactly; an ounce is a
 * sixteenth of a pound. */
#define LBF 44482216152605.0
#define LBF_OVER 1e13

static const unit units[] = {
    {"", DIMENSION_NONE, 1, 1, SI, 0},
    {"%", DIMENSION_NONE, 1, 100, "a hundredth", 0},

    {"m", DIMENSION_LENGTH, 1, 1, SI, 0},
    {"mm", DIMENSION_LENGTH, 1, 1000, SI_PREFIX, 0},
    {"cm", DIMENSION_LENGTH, 1, 100, SI_PREFIX, 0},
    {"in", DIMENSION_LENGTH, 254, 10000, INCH, 0},
    {"ft", DIMENSION_LENGTH, 3048, 10000, INCH, 0},
    {"yd", DIMENSION_LENGTH, 9144, 10000, INCH, 0},

    {"kg", DIMENSION_MASS, 1, 1, SI, 0},
    {"g", DIMENSION_MASS, 1, 1000, SI_PREFIX, 0},
    {"oz", DIMENSION_MASS, 45359237, 16e8, POUND, 0},
    {"lb", DIMENSION_MASS, 45359237, 1e8, POUND, 0},

    {"s", DIMENSION_TIME, 1, 1, SI, 0},
    {"ms", DIMENSION_TIME, 1, 1000, SI_PREFIX, 0},

    {"N", DIMENSION_FORCE, 1, 1, SI, 0},
    {"lbf", DIMENSION_FORCE, LBF, LBF_OVER, FORCE, 0},

    {"N m", DIMENSION_TORQUE, 1, 1, SI, 0},
    {"N mm", DIMENSION_TORQUE, 1, 1000, SI_PREFIX, 0},
    {"ft lbf", DIMENSION_TORQUE, LBF * 0.3048, LBF_OVER, FORCE, 0},
    {"in lbf", DIMENSION_TORQUE, LBF * 0.0254, LBF_OVER, FORCE, 0},
    {"in ozf", DIMENSION_TORQUE, LBF * 0.0254, 16 * LBF_OVER, FORCE, 0},

    {"N m2", DIMENSION_STIFFNESS, 1, 1, SI, 0},
    {"N mm2", DIMENSION_STIFFNESS, 1, 1e6, SI_PREFIX, 0},
    {"lbf in2", DIMENSION_STIFFNESS, LBF *(0.0254 * 0.0254), LBF_OVER, FORCE, 0},

    {"kg m2", DIMENSION_INERTIA, 1, 1, SI, 0},
    {"g m2", DIMENSION_INERTIA, 1, 1000, SI_PREFIX, 0},
    {"kg cm2", DIMENSION_INERTIA, 1, 1e4, SI_PREFIX, 0},
    {"g cm2", DIMENSION_INERTIA, 1, 1e7, SI_PREFIX, 0},

    {"kg/m", DIMENSION_MASS_PER_LENGTH, 1, 1, SI, 0},
    {"g/m", DIMENSION_MASS_PER_LENGTH, 1, 1000, SI_PREFIX, 0},
    {"g/cm", DIMENSION_MASS_PER_LENGTH, 1, 10, SI_PREFIX, 0},
    {"g/mm", DIMENSION_MASS_PER_LENGTH, 1, 1, SI_PREFIX, 0},
    {"g/in", DIMENSION_MASS_PER_LENGTH, 10, 254, INCH, 0},

    {"kg m", DIMENSION_FIRST_MOMENT, 1, 1, SI, 0},
    {"g m", DIMENSION_FIRST_MOMENT, 1, 1000, SI_PREFIX, 0},
    {"g in", DIMENSION_FIRST_MOMENT, 254, 1e7, INCH, 0},
    {"in oz", DIMENSION_FIRST_MOMENT, 45359237.0 * 254, 16e12, POUND, 0},

    {"rad", DIMENSION_ANGLE, 1, 1, SI, 0},
    {"deg", DIMENSION_ANGLE, PI, 180, ROUND, 0},

    {"rad/s", DIMENSION_ANGULAR_SPEED, 1, 1, SI, 0},
    {"deg/s", DIMENSION_ANGULAR_SPEED, PI, 180, ROUND, 0},
    {"rpm", DIMENSION_ANGULAR_SPEED, PI, 30, ROUND, 0},

    {"Hz", DIMENSION_FREQUENCY, 1, 1, SI, 0},
    {"cpm", DIMENSION_FREQUENCY, 1, 60, CLOCK, 0},

    {"m/s", DIMENSION_SPEED, 1, 1, SI, 0},
    {"km/h", DIMENSION_SPEED, 10, 36, CLOCK, 0},
    {"mph", DIMENSION_SPEED, 1609344, 3600000, INCH, 0},
    {"ft/s", DIMENSION_SPEED, 3048, 10000, INCH, 0},

    {"kg/m3", DIMENSION_DENSITY, 1, 1, SI, 0},
    {"g/cm3", DIMENSION_DENSITY, 1000, 1, SI_PREFIX, 0},

    {"N m/rad", DIMENSION_JOINT_STIFFNESS, 1, 1, SI, 0},
    {"N m/deg", DIMENSION_JOINT_STIFFNESS, 180, PI, ROUND, 0},

    {"N m s/rad", DIMENSION_JOINT_DAMPING, 1, 1, SI, 0},
    {"N m s/deg", DIMENSION_JOINT_DAMPING, 180, PI, ROUND, 0},

    {"s/m", DIMENSION_SLOWNESS, 1, 1, SI, 0},

    {"K", DIMENSION_TEMPERATURE, 1, 1, SI, 0},
    {"degC", DIMENSION_TEMPERATURE, 1, 1, CELSIUS, 273.15},
    {"degF", DIMENSION_TEMPERATURE, 5, 9, FAHRENHEIT, 273.15 - 32 * 5 / 9.0},

    {"Pa", DIMENSION_PRESSURE, 1, 1, SI, 0},
    {"hPa", DIMENSION_PRESSURE, 100, 1, SI_PREFIX, 0},
    {"kPa", DIMENSION_PRESSURE, 1000, 1, SI_PREFIX, 0},
    {"inHg", DIMENSION_PRESSURE, 13595.1 * 9.80665 * 0.0254, 1, MERCURY, 0},
};

enum { UNIT_COUNT = sizeof units / sizeof units[0], SYMBOL_SIZE = 24 };

const char *dimension_title(dimension dim)
{
    static const char *const titles[] = {
#define DIMENSION_TITLE(symbol, title, si) title,
        DIMENSION_LIST(DIMENSION_TITLE)
#undef DIMENSION_TITLE
    };
    return titles[dim];
}

const char *dimension_si(dimension dim)
{
    static const char *const symbols[] = {
#define DIMENSION_SI(symbol, title, si) si,
        DIMENSION_LIST(DIMENSION_SI)
#undef DIMENSION_SI
    };
    return symbols[dim];
}

const unit *unit_table(size_t *count)
{
    *count = UNIT_COUNT;
    return units;
}

/* Other spellings of what stands between and behind the letters of a unit. */
static const struct spelling {
    const char *from, *to;
} spellings[] = {
    {"\xC2\xB2", "2"}, {"\xC2\xB3", "3"}, {"^", ""}, {"\xC2\xB7", " "}, {"*", " "}, {"\t", " "},
};

static const char *spelling_of(const char **at)
{
    for (size_t i = 0; i < sizeof spellings / sizeof spellings[0]; i++) {
        size_t length = strlen(spellings[i].from);
        if (!strncmp(*at, spellings[i].from, length)) {
            *at += length;
            return spellings[i].to;
        }
    }
    return NULL;
}

/* Appends c unless it is a blank where none is needed; false when the symbol is too long. */
static bool symbol_append(char *out, size_t *length, char c)
{
    bool after_gap = *length == 0 || out[*length - 1] == ' ' || out[*length - 1] == '/';
    if (c == ' ' && after_gap)
        return true;
    if (c == '/' && *length > 0 && out[*length - 1] == ' ')
        --*length;
    if (*length + 1 >= SYMBOL_SIZE)
        return false;
    out[(*length)++] = c;
    return true;
}

/* Writes a symbol the way the table does; false when it is too long to be in it. */
static bool symbol_normalise(const char *text, char out[SYMBOL_SIZE])
{
    size_t length = 0;
    while (*text) {
        char single[2] = {*text, '\0'};
        const char *to = spelling_of(&text);
        if (!to) {
            to = single;
            text++;
        }
        for (; *to; to++)
            if (!symbol_append(out, &length, *to))
                return false;
    }
    while (length > 0 && out[length - 1] == ' ')
        length--;
    out[length] = '\0';
    return true;
}

const unit *unit_find(const char *symbol, dimension wanted)
{
    char plain[SYMBOL_SIZE];
    if (!symbol_normalise(symbol, plain))
        return NULL;
    const unit *found = NULL;
    for (size_t i = 0; i < UNIT_COUNT; i++) {
        if (strcmp(units[i].symbol, plain))
            continue;
        if (units[i].dim == wanted)
            return &units[i];
        found = &units[i];
    }
    return found;
}

void unit_list(dimension dim, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < UNIT_COUNT && used + 1 < size; i++) {
        if (units[i].dim != dim || !units[i].symbol[0])
            continue;
        int n = snprintf(text + used, size - used, "%s%s", used ? ", " : "", units[i].symbol);
        used += n > 0 ? (size_t)n : 0;
    }
}

double unit_to_si(const unit *u, double number)
{
    return number * u->times / u->over + u->zero;
}

double unit_from_si(const unit *u, double si)
{
    return (si - u->zero) * u->over / u->times;
}

static caber_status unit_problem(const char *text, const char *symbol, const unit *found,
                                 dimension wanted, caber_message *message)
{
    char clip[TEXT_CLIP_SIZE], part[TEXT_CLIP_SIZE], list[128];
    text_clip(text, clip);
    text_clip(symbol, part);
    unit_list(wanted, list, sizeof list);
    const char *title = dimension_title(wanted);
    if (found)
        return message_set(message, CABER_BAD_INPUT, "\"%s\" is %s, but %s is wanted (%s)", clip,
                           dimension_title(found->dim), title, list);
    return message_set(message, CABER_BAD_INPUT,
                       "\"%s\": \"%s\" is no unit of %s; allowed are %s, or a number alone in SI",
                       clip, part, title, list);
}

static caber_status number_problem(const char *text, text_number kind, dimension wanted,
                                   caber_message *message)
{
    char clip[TEXT_CLIP_SIZE];
    const char *si = dimension_si(wanted);
    return message_set(message, CABER_BAD_INPUT, "\"%s\" %s; %s such as \"%s%s%s\" is wanted",
                       text_clip(text, clip), text_number_problem(kind), dimension_title(wanted),
                       "1.25", si[0] ? " " : "", si);
}

caber_status quantity_parse(const char *text, dimension wanted, double *si, caber_message *message)
{
    double number;
    const char *symbol;
    text_number kind = text_to_double(text, &number, &symbol);
    if (kind != TEXT_NUMBER_FINE)
        return number_problem(text, kind, wanted, message);
    while (*symbol == ' ' || *symbol == '\t')
        symbol++;
    if (!*symbol) {
        *si = number;
        return message_clear(message);
    }
    const unit *u = unit_find(symbol, wanted);
    if (!u || u->dim != wanted || !u->symbol[0])
        return unit_problem(text, symbol, u && u->symbol[0] ? u : NULL, wanted, message);
    double value = unit_to_si(u, number);
    if (!isfinite(value))
        return number_problem(text, TEXT_NUMBER_TOO_LARGE, wanted, message);
    *si = value;
    return message_clear(message);
}

/* Writes `number` and the unit's symbol; true when that reads back as `si`. */
static bool quantity_try(double number, double si, const unit *u, char *text, size_t size)
{
    char digits[TEXT_NUMBER_SIZE];
    text_from_double(number, digits);
    snprintf(text, size, u->symbol[0] && strcmp(u->symbol, "%") ? "%s %s" : "%s%s", digits,
             u->symbol);
    double back;
    return unit_to_si(u, number) == si && quantity_parse(text, u->dim, &back, NULL) == CABER_OK &&
           back == si;
}

/* The decimals of few digits near si in the unit, then the doubles beside it. */
static bool quantity_search(double si, const unit *u, char *text, size_t size)
{
    double number = unit_from_si(u, si);
    char digits[TEXT_NUMBER_SIZE];
    for (int n = 14; n <= 16 && isfinite(number); n++) {
        double scale = pow(10, n - 1 - floor(log10(fabs(number))));
        double rounded = round(number * scale) / scale;
        if (isfinite(rounded) && quantity_try(rounded, si, u, text, size))
            return true;
    }
    double near[] = {number, nextafter(number, -INFINITY), nextafter(number, INFINITY)};
    for (size_t i = 0; i < 3; i++) {
        text_from_double(near[i], digits);
        if (quantity_try(near[i], si, u, text, size))
            return true;
    }
    return false;
}

void quantity_write(double si, const unit *u, char *text, size_t size)
{
    if (si == 0 ? quantity_try(si, si, u, text, size) : quantity_search(si, u, text, size))
        return;
    char digits[TEXT_NUMBER_SIZE];
    text_from_double(si, digits);
    const char *symbol = dimension_si(u->dim);
    snprintf(text, size, "%s%s%s", digits, symbol[0] ? " " : "", symbol);
}

void quantity_write_short(double si, const unit *u, char *text, size_t size)
{
    char digits[TEXT_NUMBER_SIZE];
    text_from_limit(unit_from_si(u, si), digits);
    const char *gap = u->symbol[0] && strcmp(u->symbol, "%") ? " " : "";
    snprintf(text, size, "%s%s%s", digits, gap, u->symbol);
}
