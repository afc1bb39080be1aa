/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A readings file: its YAML through the field table, the rows of its CSV files as readings, each
 * with what its jig says and its own standard deviation. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/decode.h"
#include "files/files.h"
#include "files/override.h"
#include "files/source.h"
#include "shaft/reading.h"

/* One reading of a readings file. */
typedef struct sheet_reading {
    arena a;
    decoding d;
    const char *file;
    node *root;
    readings_sheet sheet;
    size_t capacity; /* of sheet.readings.items */
    caber_message *message;
    const source_fence *fence; /* where files may be; NULL = anywhere */
} sheet_reading;

static caber_status no_memory(const sheet_reading *r)
{
    return message_set(r->message, CABER_NO_MEMORY, "%s: out of memory", r->file);
}

/* ------------------------------------------------------------------ one row */

/* Column `column` of a row, or what its jig says; refuses a row where neither is given. */
typedef struct sheet_row {
    const char *list; /* key of the jigs */
    size_t index;     /* of the jig */
    const readings_jig *jig;
    const field_group *columns;
    size_t row;
    caber_message *message;
    caber_status status;
} sheet_row;

static double cell(const sheet_row *s, int column)
{
    return s->jig->rows.cell[s->row * s->columns->count + (size_t)column];
}

static double cell_or(sheet_row *s, int column, double jig)
{
    const double value = isnan(cell(s, column)) ? jig : cell(s, column);
    if (!isnan(value) || s->status != CABER_OK)
        return value;
    const field_rows *rows = &s->jig->rows;
    const size_t place = rows->place[s->row * s->columns->count + (size_t)column];
    const node where = {
        .file = rows->file, .line = rows->line[s->row], .column = place ? place : 1};
    s->status = node_error(&where, s->columns->fields[column].name, s->message,
                           "is missing; give it in a column, or once for all rows as %s[%zu].%s",
                           s->list, s->index, s->columns->fields[column].name);
    return value;
}

static caber_reading read_span(sheet_row *s)
{
    const double span = cell_or(s, SPAN_SPAN, s->jig->span), at = cell(s, SPAN_AT);
    const double load_at = cell_or(s, SPAN_LOAD_AT, at);
    return (caber_reading){.kind = CABER_READ_SPAN,
                           .held_at = at + span / 2,
                           .rest_at = at - span / 2,
                           .load_at = load_at,
                           .read_at = cell_or(s, SPAN_READ_AT, load_at),
                           .load = cell_or(s, SPAN_LOAD, s->jig->load),
                           .orientation = cell(s, SPAN_ORIENTATION),
                           .value = cell(s, SPAN_VALUE)};
}

static caber_reading read_bend(sheet_row *s)
{
    return (caber_reading){.kind = CABER_READ_CANTILEVER,
                           .held_at = cell_or(s, BEND_CLAMP, s->jig->clamp),
                           .load_at = cell_or(s, BEND_LOAD_AT, s->jig->load_at),
                           .read_at = cell_or(s, BEND_READ_AT, s->jig->read_at),
                           .load = cell_or(s, BEND_LOAD, s->jig->load),
                           .orientation = cell(s, BEND_ORIENTATION),
                           .value = cell(s, BEND_VALUE)};
}

static caber_reading read_ring(sheet_row *s)
{
    return (caber_reading){.kind = CABER_READ_FREQUENCY,
                           .held_at = cell_or(s, RING_CLAMP, s->jig->clamp),
                           .load = cell_or(s, RING_TIP_MASS, s->jig->load),
                           .orientation = cell(s, RING_ORIENTATION),
                           .value = cell(s, RING_VALUE)};
}

static caber_reading read_twist(sheet_row *s)
{
    return (caber_reading){.kind = CABER_READ_TWIST,
                           .held_at = cell_or(s, TWIST_CLAMP, s->jig->clamp),
                           .load_at = cell_or(s, TWIST_LEVER, s->jig->load_at),
                           .read_at = cell_or(s, TWIST_READ_AT, s->jig->read_at),
                           .load = cell_or(s, TWIST_COUPLE, s->jig->load),
                           .orientation = NAN,
                           .value = cell(s, TWIST_VALUE)};
}

/* ------------------------------------------------------------------ all rows */

static const char *last_part(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* Copies a path for messages: whole if it fits, else its last part, cut. */
static void set_source(caber_reading *r, const char *path)
{
    const char *shown = strlen(path) < sizeof r->source ? path : last_part(path);
    snprintf(r->source, sizeof r->source, "%s", shown);
    r->source[text_utf8_end(r->source, strlen(r->source))] = '\0';
}

static caber_status append(sheet_reading *r, const caber_reading *reading)
{
    caber_readings *all = &r->sheet.readings;
    if (all->count == r->capacity) {
        const size_t more = r->capacity ? 2 * r->capacity : 64;
        caber_reading *items = realloc(all->items, more * sizeof *items);
        if (!items)
            return no_memory(r);
        all->items = items;
        r->capacity = more;
    }
    all->items[all->count] = *reading;
    return reading_check(all, &all->items[all->count++], r->message);
}

/* A scale that is read in steps is off by up to half a step either way, evenly: 1/sqrt(12) of it. */
static double deviation(double resolution, double repeatability, double value)
{
    return hypot(resolution / sqrt(12), repeatability * value);
}

static caber_status take_row(sheet_reading *r, sheet_row *s, caber_reading (*read)(sheet_row *))
{
    caber_reading reading = read(s);
    if (s->status != CABER_OK)
        return s->status;
    const readings_jig *jig = s->jig;
    reading.sigma = deviation(jig->resolution, jig->repeatability, reading.value);
    reading.line = (int)jig->rows.line[s->row];
    set_source(&reading, jig->rows.path);
    return append(r, &reading);
}

static const field *field_named(const field_group *group, const char *name)
{
    for (size_t i = 0; i < group->count; i++)
        if (!strcmp(group->fields[i].name, name))
            return &group->fields[i];
    return NULL;
}

static caber_status take_jigs(sheet_reading *r, const char *list, const readings_jigs *jigs,
                              caber_reading (*read)(sheet_row *))
{
    const field_group *jig = field_named(fields_kind_readings(), list)->group;
    const field_group *columns = field_named(jig, "table")->group;
    for (size_t i = 0; i < jigs->count; i++)
        for (size_t k = 0; k < jigs->items[i].rows.count; k++) {
            sheet_row s = {.list = list,
                           .index = i,
                           .jig = &jigs->items[i],
                           .columns = columns,
                           .row = k,
                           .message = r->message};
            caber_status status = take_row(r, &s, read);
            if (status != CABER_OK)
                return status;
        }
    return CABER_OK;
}

/* Mass and balance stand in the YAML itself, which their source names. */
static caber_status take_whole(sheet_reading *r, caber_reading_kind kind, const char *key,
                               double value, double sigma)
{
    const node *where = node_get(r->root, key);
    caber_reading reading = {.kind = kind,
                             .orientation = NAN,
                             .value = value,
                             .sigma = sigma,
                             .line = where ? (int)where->line : 0};
    set_source(&reading, last_part(r->file));
    return append(r, &reading);
}

/* ------------------------------------------------------------------ what is left out */

/* Marks the readings of this line in the table of this name; with `short_name` a name without its
 * folder will do. Returns whether there is one. */
static bool mark(caber_readings *all, const readings_omission *o, bool short_name)
{
    bool found = false;
    for (size_t i = 0; i < all->count; i++) {
        caber_reading *r = &all->items[i];
        const char *name = short_name ? last_part(r->source) : r->source;
        if (r->line == o->line && !strcmp(name, short_name ? last_part(o->table) : o->table))
            found = r->left_out = true;
    }
    return found;
}

static caber_status leave_out(sheet_reading *r, size_t index)
{
    const readings_omission *o = &r->sheet.omissions[index];
    if (mark(&r->sheet.readings, o, false) || mark(&r->sheet.readings, o, true))
        return CABER_OK;
    char path[64], clip[TEXT_CLIP_SIZE];
    snprintf(path, sizeof path, "leave_out[%zu]", index);
    return node_error(node_find(r->root, path), path, r->message,
                      "there is no reading in line %d of %s", o->line, text_clip(o->table, clip));
}

/* ------------------------------------------------------------------ all of it */

static caber_status check_diameters(sheet_reading *r)
{
    const caber_readings *all = &r->sheet.readings;
    for (size_t i = 0; i < all->calliper_count; i++) {
        const double at = all->callipers[i].at, before = i > 0 ? all->callipers[i - 1].at : -1;
        char path[64];
        snprintf(path, sizeof path, "diameters[%zu].at", i);
        const node *where = node_find(r->root, path);
        if (at > all->length)
            return node_error(where, path, r->message,
                              "%g mm is not allowed; it must be at most the length, %g mm",
                              1e3 * at, 1e3 * all->length);
        if (at <= before)
            return node_error(where, path, r->message,
                              "%g mm is not allowed; diameters must ascend, and the one before is "
                              "at %g mm",
                              1e3 * at, 1e3 * before);
    }
    return CABER_OK;
}

static caber_status take_all(sheet_reading *r)
{
    readings_sheet *s = &r->sheet;
    caber_status status = check_diameters(r);
    if (status == CABER_OK)
        status = take_jigs(r, "spans", &s->spans, read_span);
    if (status == CABER_OK)
        status = take_jigs(r, "cantilevers", &s->cantilevers, read_bend);
    if (status == CABER_OK)
        status = take_jigs(r, "frequencies", &s->frequencies, read_ring);
    if (status == CABER_OK)
        status = take_jigs(r, "twists", &s->twists, read_twist);
    if (status == CABER_OK)
        status = take_whole(r, CABER_READ_MASS, "mass", s->mass, s->mass_error);
    if (status == CABER_OK && !isnan(s->balance))
        status = take_whole(r, CABER_READ_BALANCE, "balance", s->balance, s->balance_error);
    for (size_t i = 0; i < s->omission_count && status == CABER_OK; i++)
        status = leave_out(r, i);
    return status;
}

static caber_status read_tree(sheet_reading *r, const char *text, size_t size,
                              const char *const *overrides, size_t count)
{
    const char *kind = fields_kind_readings()->kind;
    caber_status status = node_parse(&r->a, r->file, text, size, &r->root, r->message);
    if (status == CABER_OK)
        status = decode_check_kind(r->root, kind, r->message);
    for (size_t i = 0; i < count && status == CABER_OK; i++) {
        override_text o;
        status = override_split(&r->a, overrides[i], &o, r->message);
        if (status == CABER_OK)
            status = node_set_path(&r->a, r->root, o.path, o.value, o.origin, r->message);
    }
    return status;
}

static void free_jigs(readings_jigs *jigs)
{
    for (size_t i = 0; i < jigs->count; i++)
        field_rows_free(&jigs->items[i].rows);
    free(jigs->items);
}

/* Moves what was read into a new object for the caller. */
static caber_status hand_over(sheet_reading *r, caber_readings **out)
{
    *out = malloc(sizeof **out);
    if (!*out)
        return no_memory(r);
    **out = r->sheet.readings;
    r->sheet.readings = (caber_readings){.count = 0};
    return message_clear(r->message);
}

static caber_status read_sheet(sheet_reading *r, const char *text, size_t size,
                               const char *const *overrides, size_t count, caber_readings **out)
{
    r->d = (decoding){.a = &r->a, .file = r->file, .fence = r->fence, .message = r->message};
    caber_status status = read_tree(r, text, size, overrides, count);
    if (status == CABER_OK)
        status = decode_group(&r->d, fields_kind_readings(), r->root, r->root, &r->sheet);
    if (status == CABER_OK)
        status = take_all(r);
    if (status == CABER_OK)
        status = hand_over(r, out);
    readings_sheet *s = &r->sheet;
    free(s->readings.items);
    free(s->readings.callipers);
    free(s->omissions);
    free_jigs(&s->spans);
    free_jigs(&s->cantilevers);
    free_jigs(&s->frequencies);
    free_jigs(&s->twists);
    return status;
}

static caber_status read_text(const source_fence *fence, const char *name, const char *text,
                              size_t size, const char *const *overrides, size_t override_count,
                              caber_readings **out, caber_message *message)
{
    *out = NULL;
    sheet_reading r = {.file = name, .fence = fence, .message = message};
    caber_status status = read_sheet(&r, text, size, overrides, override_count, out);
    arena_free(&r.a);
    return status;
}

caber_status files_read_readings(const char *name, const char *text, size_t size,
                                 const char *const *overrides, size_t override_count,
                                 caber_readings **out, caber_message *message)
{
    return read_text(NULL, name, text, size, overrides, override_count, out, message);
}

caber_status files_read_readings_within(const source_fence *fence, const char *path,
                                        const char *const *overrides, size_t override_count,
                                        caber_readings **out, caber_message *message)
{
    *out = NULL;
    arena a = {NULL};
    const char *text;
    size_t size;
    caber_status status = source_read_within(&a, fence, path, &text, &size, message);
    if (status == CABER_OK)
        status = read_text(fence, path, text, size, overrides, override_count, out, message);
    arena_free(&a);
    return status;
}

caber_status caber_readings_read(const char *path, const char *const *overrides,
                                 size_t override_count, caber_readings **out,
                                 caber_message *message)
{
    return files_read_readings_within(NULL, path, overrides, override_count, out, message);
}
