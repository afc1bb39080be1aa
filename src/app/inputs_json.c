/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/inputs_json.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/json.h"
#include "base/units.h"
#include "files/files.h"
#include "swing/fields_table.h"
#include "swing/load.h"

/* ------------------------------------------------------------------ the inputs */

static json_t *in_unit(const field *f, double si)
{
    const unit *u = unit_find(f->unit, f->dim);
    return isfinite(si) ? json_real(u ? unit_from_si(u, si) : si) : json_null();
}

static int add_number(json_t *row, const field *f, double si)
{
    return json_object_set_new(row, "value", in_unit(f, si)) |
           json_object_set_new(row, "unit", json_string(f->unit ? f->unit : "")) |
           json_object_set_new(row, "least", in_unit(f, f->min)) |
           json_object_set_new(row, "most", in_unit(f, f->max));
}

static int add_integer(json_t *row, const field *f, int value)
{
    return json_object_set_new(row, "value", json_integer(value)) |
           json_object_set_new(row, "least", json_integer((json_int_t)f->min)) |
           json_object_set_new(row, "most", json_integer((json_int_t)f->max));
}

static int add_word(json_t *row, const field *f, const char *at)
{
    unsigned which;
    memcpy(&which, at, sizeof which);
    json_t *words = json_array();
    int failed = json_object_set_new(
        row, "value", which < field_word_count(f) ? json_string(f->words[which]) : json_null());
    for (size_t i = 0; f->words[i]; i++)
        if (f->words[i][0])
            failed |= json_array_append_new(words, json_string(f->words[i]));
    return failed | json_object_set_new(row, "words", words);
}

/* A table through time, in SI. */
static int add_table(json_t *row, const char *at)
{
    caber_table table;
    memcpy(&table, at, sizeof table);
    json_t *time = json_array(), *value = json_array();
    int failed = 0;
    for (size_t i = 0; i < table.count; i++)
        failed |= json_array_append_new(time, json_real(table.time[i])) |
                  json_array_append_new(value, json_real(table.value[i]));
    return failed | json_object_set_new(row, "value",
                                        json_pack("{so so}", "time_s", time, "value_si", value));
}

/* What a field holds. Returns whether it is one that stands in the list. */
static bool add_value(json_t *row, const field *f, const char *object, int *failed)
{
    const char *at = object + f->offset;
    double number;
    int integer;
    bool yes;
    switch (f->type) {
    case FIELD_QUANTITY:
        memcpy(&number, at, sizeof number);
        *failed |= add_number(row, f, number);
        return true;
    case FIELD_INTEGER:
        memcpy(&integer, at, sizeof integer);
        *failed |= add_integer(row, f, integer);
        return true;
    case FIELD_BOOLEAN:
        memcpy(&yes, at, sizeof yes);
        *failed |= json_object_set_new(row, "value", json_boolean(yes));
        return true;
    case FIELD_WORD:
        *failed |= add_word(row, f, at);
        return true;
    case FIELD_TEXT:
        *failed |= json_object_set_new(row, "value", json_string(at));
        return true;
    case FIELD_TABLE:
        *failed |= add_table(row, at);
        return true;
    default:
        return false;
    }
}

static int add_group(json_t *list, const field_group *group, const char *object, field_path *path);

/* The entries of a list; those of a profile are the shaft's view. */
static int add_list(json_t *list, const field *f, const char *object, field_path *path)
{
    size_t count;
    const char *items;
    int failed = 0;
    memcpy(&count, object + f->count_offset, sizeof count);
    memcpy(&items, object + f->offset, sizeof items);
    for (size_t i = 0; i < count && strcmp(f->name, "stations"); i++) {
        const size_t length = field_path_index(path, i);
        failed |= add_group(list, f->group, items + i * f->item_size, path);
        field_path_cut(path, length);
    }
    return failed;
}

static int add_row(json_t *list, const field *f, const char *object, const field_path *path)
{
    json_t *row = json_pack("{ss ss sb}", "path", path->text, "meaning", f->meaning, "used",
                            (int)field_used(f, object));
    int failed = !row;
    if (add_value(row, f, object, &failed))
        return failed | json_array_append_new(list, row);
    json_decref(row);
    return failed;
}

static int add_group(json_t *list, const field_group *group, const char *object, field_path *path)
{
    int failed = 0;
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        const size_t length = field_path_key(path, f->name);
        if (f->type == FIELD_GROUP)
            failed |= add_group(list, f->group, object + f->offset, path);
        else if (f->type == FIELD_LIST)
            failed |= add_list(list, f, object, path);
        else
            failed |= add_row(list, f, object, path);
        field_path_cut(path, length);
    }
    return failed;
}

/* The setup as one file that refers to no other. */
static json_t *text_json(const caber_setup *setup, caber_status *status, caber_message *message)
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    *status = out ? files_write_setup(setup, out, message) : CABER_NO_MEMORY;
    if (out && fclose(out) != 0 && *status == CABER_OK)
        *status = CABER_NO_MEMORY;
    json_t *value = *status == CABER_OK ? json_stringn(text, size) : NULL;
    free(text);
    return value;
}

caber_status inputs_json(const caber_setup *setup, json_t **out, caber_message *message)
{
    caber_status status;
    json_t *text = text_json(setup, &status, message);
    if (status != CABER_OK)
        return status;
    field_path path = {.length = 0};
    json_t *list = json_array();
    if (add_group(list, fields_kind_setup(), (const char *)setup, &path)) {
        json_decref(list);
        list = NULL;
    }
    *out = json_pack("{ss ss ss ss ss so so}", "setup", setup->name, "shaft", setup->shaft.name,
                     "head", setup->head.name, "grip", setup->grip.name, "player",
                     setup->player.name, "inputs", list, "text", text);
    return CABER_OK;
}

/* ------------------------------------------------------------------ the load */

enum { LOAD_STEPS = 200 };

/* One curve at one time: a couple in N m, an angle in degrees, or nothing that depends on time alone. */
static json_t *curve_point(const load *l, int joint, double t)
{
    const caber_drive drives[] = {l->given.hub.drive, l->given.grip.drive, l->given.roll.drive};
    const load_table *const tables[] = {&l->hub, &l->grip, &l->roll};
    if (drives[joint] == CABER_MOTION)
        return json_real(load_table_motion(tables[joint], t).angle * CABER_DEG);
    if (drives[joint] != CABER_TORQUE)
        return json_null();
    return json_real(joint == 0   ? load_hub_torque(l, t, 0)
                     : joint == 1 ? load_grip_couple(l, t)
                                  : load_roll_torque(l, t));
}

static const char *curve_unit(caber_drive drive)
{
    return drive == CABER_MOTION ? "deg" : drive == CABER_TORQUE ? "N m" : "";
}

/* As far as the program changes, and half a second at least. */
static double load_end(const caber_load *l)
{
    const double ends[] = {0.5,
                           l->grip.onset + l->grip.rise,
                           l->grip.release + l->grip.fall,
                           l->grip.late_onset + l->grip.late_rise,
                           l->hub.table.count ? l->hub.table.time[l->hub.table.count - 1] : 0,
                           l->grip.table.count ? l->grip.table.time[l->grip.table.count - 1] : 0,
                           l->roll.table.count ? l->roll.table.time[l->roll.table.count - 1] : 0};
    double end = 0;
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++)
        end = fmax(end, ends[i]);
    return fmin(end, 3);
}

static json_t *load_fill(const caber_setup *setup, const load *l)
{
    static const char *const names[] = {"hub", "grip", "roll"};
    const caber_load *given = &setup->player.load;
    const caber_drive drives[] = {given->hub.drive, given->grip.drive, given->roll.drive};
    const double end = load_end(given);
    json_t *time = json_array(), *curves = json_object();
    int failed = 0;
    for (int i = 0; i <= LOAD_STEPS; i++)
        failed |= json_array_append_new(time, json_real(end * i / LOAD_STEPS));
    for (int j = 0; j < 3; j++) {
        json_t *list = json_array();
        for (int i = 0; i <= LOAD_STEPS; i++)
            failed |= json_array_append_new(list, curve_point(l, j, end * i / LOAD_STEPS));
        failed |= json_object_set_new(
            curves, names[j], json_pack("{ss so}", "unit", curve_unit(drives[j]), "value", list));
    }
    field_path path = {.length = 0};
    json_t *list = json_array();
    field_path_key(&path, "player");
    for (size_t i = 0; fields_kind(i); i++)
        if (strcmp(fields_kind(i)->kind, "player") == 0)
            failed |= add_group(list, fields_kind(i), (const char *)&setup->player, &path);
    json_t *object =
        json_pack("{ss ss so so so}", "setup", setup->name, "player", setup->player.name, "inputs",
                  list, "time_s", time, "curves", curves);
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

caber_status load_json(const caber_setup *setup, json_t **out, json_t *notes,
                       caber_message *message)
{
    load l = {0};
    const caber_status status = load_create(&setup->player.load, &l, message);
    if (status != CABER_OK)
        return status;
    json_app_note(notes, "the torque of the hub is that of arms at rest; it falls in proportion to "
                         "their speed, to 0 at load.hub.omega_max; the series has it as it was");
    *out = load_fill(setup, &l);
    load_free(&l);
    return CABER_OK;
}
