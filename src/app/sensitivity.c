/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/sensitivity.h"

#include <math.h>
#include <string.h>

#include "app/json.h"
#include "app/table.h"

/* A stiffness, and where its changes stand in a part. */
typedef struct stiffness {
    const char *name, *key, *title;
    size_t offset;
} stiffness;

static const stiffness stiffnesses[] = {
    {"EI", "ei", "10 % more EI, against bending", offsetof(caber_part, ei)},
    {"GJ", "gj", "10 % more GJ, against twisting", offsetof(caber_part, gj)},
};

enum { STIFFNESS_COUNT = sizeof stiffnesses / sizeof *stiffnesses };

static const caber_change *change_of(const caber_part *part, const stiffness *what)
{
    return (const caber_change *)(const void *)((const char *)part + what->offset);
}

/* What a change consists of; offsets in caber_change. */
typedef struct aspect {
    const char *key;
    size_t offset;
} aspect;

enum { ASPECT_FIRST, ASPECT_APART, ASPECT_ANEW, ASPECT_COUNT };

static const aspect aspects[ASPECT_COUNT] = {{"first", offsetof(caber_change, first)},
                                             {"apart", offsetof(caber_change, apart)},
                                             {"anew", offsetof(caber_change, anew)}};

static double aspect_value(const caber_change *change, const aspect *what, const caber_field *field)
{
    const char *at = (const char *)change + what->offset;
    return caber_impact_value((const caber_impact *)(const void *)at, field);
}

/* Of the integrator's own residual there is no sensitivity. */
static bool field_counts(const caber_field *field)
{
    return field->offset != offsetof(caber_impact, energy_residual);
}

static double sum_of(const caber_sensitivity *found, const stiffness *what, const aspect *which,
                     const caber_field *field)
{
    double sum = 0;
    for (size_t i = 0; i < found->count; i++)
        sum += aspect_value(change_of(&found->parts[i], what), which, field);
    return sum;
}

static bool part_is_finite(const caber_part *part, const caber_field *field)
{
    for (int s = 0; s < STIFFNESS_COUNT; s++)
        for (int a = 0; a < ASPECT_COUNT; a++)
            if (!app_is_number(aspect_value(change_of(part, &stiffnesses[s]), &aspects[a], field),
                               field->name))
                return false;
    return true;
}

bool sensitivity_is_finite(const caber_sensitivity *found)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t f = 0; f < count; f++) {
        if (!app_is_number(caber_impact_value(&found->swing.bent, &fields[f]), fields[f].name) ||
            !part_is_finite(&found->whole, &fields[f]))
            return false;
        for (size_t i = 0; i < found->count; i++)
            if (!part_is_finite(&found->parts[i], &fields[f]))
                return false;
    }
    return true;
}

/* ------------------------------------------------------------------ JSON */

/* A list of a number of each part, in mm. */
static json_t *json_places(const caber_sensitivity *found, size_t offset)
{
    json_t *list = json_array();
    for (size_t i = 0; list && i < found->count; i++) {
        double value;
        memcpy(&value, (const char *)&found->parts[i] + offset, sizeof value);
        if (json_array_append_new(list, json_real(value * 1e3)) == 0)
            continue;
        json_decref(list);
        list = NULL;
    }
    return list;
}

/* One number a part. */
static json_t *json_list(const caber_sensitivity *found, const stiffness *what, const aspect *which,
                         const caber_field *field)
{
    json_t *list = json_array();
    for (size_t i = 0; list && i < found->count; i++) {
        const double value = aspect_value(change_of(&found->parts[i], what), which, field);
        if (json_array_append_new(list, json_real(value)) == 0)
            continue;
        json_decref(list);
        list = NULL;
    }
    return list;
}

/* One aspect of every output: lists over the parts, or single numbers of the whole shaft. */
static json_t *json_aspect(const caber_sensitivity *found, const stiffness *what,
                           const aspect *which, bool whole)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    json_t *object = json_object();
    int failed = !object;
    for (size_t i = 0; i < count; i++) {
        if (!field_counts(&fields[i]))
            continue;
        json_t *value =
            whole ? json_real(aspect_value(change_of(&found->whole, what), which, &fields[i]))
                  : json_list(found, what, which, &fields[i]);
        failed |= json_object_set_new(object, fields[i].name, value);
    }
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

static json_t *json_aspects(const caber_sensitivity *found, const stiffness *what, bool whole)
{
    json_t *object = json_object();
    int failed = !object;
    for (int a = 0; a < ASPECT_COUNT; a++)
        failed |= json_object_set_new(object, aspects[a].key,
                                      json_aspect(found, what, &aspects[a], whole));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

json_t *sensitivity_json(const caber_setup *setup, const caber_sensitivity *found)
{
    json_t *inner = json_pack("{ss sb so so so so}", "setup", setup->name, "met_ball",
                              (int)found->swing.met_ball, "impact",
                              json_app_impact(&found->swing.bent, NULL, false), "from_mm",
                              json_places(found, offsetof(caber_part, from)), "to_mm",
                              json_places(found, offsetof(caber_part, to)), "bends_mm",
                              json_places(found, offsetof(caber_part, bends)));
    int failed = !inner;
    for (int s = 0; s < STIFFNESS_COUNT; s++)
        failed |= json_object_set_new(
            inner, stiffnesses[s].key,
            json_pack("{so so}", "parts", json_aspects(found, &stiffnesses[s], false), "whole",
                      json_aspects(found, &stiffnesses[s], true)));
    if (!failed)
        return json_pack("{so}", "sensitivity", inner);
    json_decref(inner);
    return NULL;
}

/* ------------------------------------------------------------------ the table */

/* A column: an output, what stands over it, and as many places as are worth reading. */
typedef struct column {
    size_t offset;
    const char *over, *under;
    int decimals;
} column;

static const column columns[] = {
    {offsetof(caber_impact, loft_change), "loft", "change", 3},
    {offsetof(caber_impact, face_rotation), "face", "rotation", 3},
    {offsetof(caber_impact, lead_deflection), "", "lead", 2},
    {offsetof(caber_impact, droop), "", "droop", 2},
    {offsetof(caber_impact, head_speed), "head", "speed", 3},
    {offsetof(caber_impact, peak_lag), "peak", "lag", 2},
    {offsetof(caber_impact, peak_handle_moment), "peak", "moment", 2},
};

enum { COLUMN_COUNT = sizeof columns / sizeof *columns };

static const caber_field *column_field(const column *c)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++)
        if (fields[i].offset == c->offset)
            return &fields[i];
    return NULL;
}

/* A value of a column; with a "~" before it when what it was made from disagrees by more than a
 * unit of its last place. Returns whether it is marked. */
static bool print_cell(const column *c, double value, double apart)
{
    char text[40] = "~";
    const bool marked = apart > pow(10, -c->decimals);
    table_number(text + marked, sizeof text - 1, value, c->decimals);
    printf("%10s", text);
    return marked;
}

static bool print_change(const caber_change *change)
{
    bool marked = false;
    for (int c = 0; c < COLUMN_COUNT; c++) {
        const caber_field *field = column_field(&columns[c]);
        marked |= print_cell(&columns[c], caber_impact_value(&change->first, field),
                             caber_impact_value(&change->apart, field));
    }
    putchar('\n');
    return marked;
}

static void print_heads(const caber_sensitivity *found)
{
    printf("\n  %-26s", "");
    for (int c = 0; c < COLUMN_COUNT; c++)
        printf("%10s", columns[c].over);
    printf("\n  %-4s%7s%7s%8s", "", "from", "to", "bends");
    for (int c = 0; c < COLUMN_COUNT; c++)
        printf("%10s", columns[c].under);
    printf("\n  %-4s%7s%7s%8s", "", "mm", "mm", "mm");
    for (int c = 0; c < COLUMN_COUNT; c++)
        printf("%10s", column_field(&columns[c])->unit);
    printf("\n  %-26s", "the swing as it is");
    for (int c = 0; c < COLUMN_COUNT; c++)
        print_cell(&columns[c], caber_impact_value(&found->swing.bent, column_field(&columns[c])),
                   0);
    putchar('\n');
}

static bool print_part(const caber_sensitivity *found, size_t i, const stiffness *what)
{
    const caber_part *part = &found->parts[i];
    printf("  %-4s%7.0f%7.0f%8.0f",
           i == 0                  ? "tip"
           : i + 1 == found->count ? "butt"
                                   : "",
           part->from * 1e3, part->to * 1e3, part->bends * 1e3);
    if (part->bends > 0)
        return print_change(change_of(part, what));
    printf("    %s\n", i < found->count / 2 ? "in the hosel" : "in the hands");
    return false;
}

/* The rows of one stiffness; returns whether a value is marked. */
static bool print_rows(const caber_sensitivity *found, const stiffness *what)
{
    const caber_change *whole = change_of(&found->whole, what);
    bool marked = false;
    table_group(what->title);
    for (size_t i = 0; i < found->count; i++)
        marked |= print_part(found, i, what);
    printf("  %-26s", "sum of these");
    for (int c = 0; c < COLUMN_COUNT; c++) {
        const caber_field *field = column_field(&columns[c]);
        marked |= print_cell(&columns[c], sum_of(found, what, &aspects[ASPECT_FIRST], field),
                             sum_of(found, what, &aspects[ASPECT_APART], field));
    }
    printf("\n  %-26s", "the whole shaft");
    marked |= print_change(whole);
    printf("  %-26s", "the whole, swung anew");
    for (int c = 0; c < COLUMN_COUNT; c++)
        print_cell(&columns[c], caber_impact_value(&whole->anew, column_field(&columns[c])), 0);
    putchar('\n');
    return marked;
}

/* What moves an output most, in a sentence. */
static void print_greatest(const caber_sensitivity *found, const column *c)
{
    const caber_field *field = column_field(c);
    const caber_part *part = NULL;
    const stiffness *what = NULL;
    double most = 0;
    for (int s = 0; s < STIFFNESS_COUNT; s++)
        for (size_t i = 0; i < found->count; i++) {
            const double value =
                caber_impact_value(&change_of(&found->parts[i], &stiffnesses[s])->first, field);
            if (fabs(value) <= fabs(most))
                continue;
            most = value;
            part = &found->parts[i];
            what = &stiffnesses[s];
        }
    char size[32];
    table_number(size, sizeof size, fabs(most), c->decimals);
    printf("  %-19s ", field->label);
    if (!part || strspn(size, "0.") == strlen(size))
        printf("no part moves it by as much as can be seen here\n");
    else
        printf("%s from %.0f to %.0f mm: 10 %% more there %s %s %s\n", what->name, part->from * 1e3,
               part->to * 1e3, most > 0 ? "adds" : "takes off", size, field->unit);
}

static void print_intro(const caber_sensitivity *found)
{
    printf(
        "\nWhat 10 %% more stiffness in a part of the shaft does, in %zu parts from the cut tip to "
        "the cut butt,\nto first order: small changes of several parts add up. Places are from "
        "the tip of the uncut\nshaft, as in its file. Only what lies between hosel and hands "
        "bends.\n",
        found->count);
}

static void print_table(const caber_setup *setup, const caber_sensitivity *found)
{
    bool marked = false;
    table_swing_head(setup, &found->swing);
    print_intro(found);
    print_heads(found);
    for (int s = 0; s < STIFFNESS_COUNT; s++)
        marked |= print_rows(found, &stiffnesses[s]);
    table_group("What each answers to most");
    for (int c = 0; c < COLUMN_COUNT; c++)
        print_greatest(found, &columns[c]);
    puts("\n\"The whole, swung anew\" is a swing with 10 % more everywhere, less the swing as it "
         "is. "
         "Where\nit is far from the row above, what rings in the shaft at impact has changed its "
         "phase, and the\nrows hold for small changes only.");
    if (marked)
        puts("~ Two estimates differ by more than the last place.");
}

app_exit sensitivity_print(const caber_setup *setup, const caber_sensitivity *found,
                           const options *given)
{
    if (given->text[OPTION_JSON])
        return json_app_print(sensitivity_json(setup, found));
    print_table(setup, found);
    return APP_FINE;
}
