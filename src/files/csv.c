/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/csv.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/node.h"

enum { COLUMNS_MOST = 16, CELL_SIZE = 128, LIST_SIZE = 300 };

/* A place in the text, and what the first two rows said. */
typedef struct csv {
    const char *file;
    csv_lines lines;
    const field_group *group;
    size_t width; /* cells in each row, as in the first */
    char cells[COLUMNS_MOST][CELL_SIZE];
    size_t places[COLUMNS_MOST]; /* where each cell begins, from 1 */
    char names[COLUMNS_MOST][CELL_SIZE];
    size_t fields[COLUMNS_MOST]; /* which one of the group each column is */
    const unit *units[COLUMNS_MOST];
    size_t most, capacity;
    field_rows *rows;
    caber_message *message;
} csv;

/* A node carries the place for node_error. */
static node csv_place(const csv *c, size_t column)
{
    return (node){.file = c->file, .line = c->lines.line, .column = column};
}

/* Begins with the place of cell i of the row at hand, and the name of its column. */
#define FAIL_AT(c, i, ...)                                                                         \
    node_error(&(node){.file = (c)->file, .line = (c)->lines.line, .column = (c)->places[i]},      \
               text_clip((c)->names[i], (char[TEXT_CLIP_SIZE]){""}), (c)->message, __VA_ARGS__)

static bool is_blank(char ch)
{
    return ch == ' ' || ch == '\t' || ch == '\r';
}

/* ------------------------------------------------------------------ lines and cells */

bool csv_next_line(csv_lines *lines, const char **from, const char **to)
{
    while (lines->at < lines->end) {
        const char *newline = memchr(lines->at, '\n', (size_t)(lines->end - lines->at));
        *from = lines->at;
        *to = newline ? newline : lines->end;
        lines->at = newline ? newline + 1 : lines->end;
        lines->line++;
        const char *s = *from;
        while (s < *to && is_blank(*s))
            s++;
        if (s < *to && *s != '#')
            return true;
    }
    return false;
}

void csv_trim(const char **from, const char **to)
{
    while (*from < *to && is_blank(**from))
        (*from)++;
    while (*to > *from && is_blank((*to)[-1]))
        (*to)--;
}

/* Copies a cell without the blanks around it; false when it is too long. */
static bool csv_copy_cell(const char *from, const char *to, char cell[CELL_SIZE])
{
    csv_trim(&from, &to);
    size_t length = (size_t)(to - from);
    if (length >= CELL_SIZE)
        return false;
    memcpy(cell, from, length);
    cell[length] = '\0';
    return true;
}

size_t csv_column(const char *line, const char *at)
{
    size_t column = 1;
    for (; line < at; line++)
        column += ((unsigned char)*line & 0xC0) != 0x80;
    return column;
}

static caber_status csv_take_cell(csv *c, size_t i, const char *line, const char *from,
                                  const char *to)
{
    const char *text = from;
    while (text < to && is_blank(*text))
        text++;
    c->places[i] = csv_column(line, text);
    if (memchr(from, '\0', (size_t)(to - from)))
        return FAIL_AT(c, i, "this cell holds a zero byte");
    if (!csv_copy_cell(from, to, c->cells[i]))
        return FAIL_AT(c, i, "this cell is too long");
    return CABER_OK;
}

/* Splits a line at its commas into `width` cells; the first row (width 0) says how many. */
static caber_status csv_split(csv *c, const char *from, const char *to)
{
    const char *start = from;
    size_t count = 0, most = c->width ? c->width : COLUMNS_MOST;
    bool more = true;
    for (; more; count++) {
        node place = csv_place(c, csv_column(from, start));
        if (count == most)
            return node_error(&place, "", c->message,
                              "this row has more than %zu columns; a number has a decimal point, "
                              "not a comma",
                              most);
        const char *comma = memchr(start, ',', (size_t)(to - start));
        const char *stop = comma ? comma : to;
        caber_status status = csv_take_cell(c, count, from, start, stop);
        if (status != CABER_OK)
            return status;
        start = comma ? comma + 1 : to;
        more = comma != NULL;
    }
    node place = csv_place(c, c->places[0]);
    if (c->width && count < c->width)
        return node_error(&place, "", c->message,
                          "this row has %zu column%s; %zu are wanted, with commas between", count,
                          count == 1 ? "" : "s", c->width);
    c->width = count;
    return CABER_OK;
}

static caber_status csv_next_row(csv *c, bool *there)
{
    const char *from, *to;
    *there = csv_next_line(&c->lines, &from, &to);
    return *there ? csv_split(c, from, to) : CABER_OK;
}

/* ------------------------------------------------------------------ names */

/* "at, span, deflection": the names that there may be. */
static const char *csv_list_names(const csv *c, char text[LIST_SIZE])
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < c->group->count && used < LIST_SIZE; i++) {
        const char *name = c->group->fields[i].name;
        int n = snprintf(text + used, LIST_SIZE - used, "%s%s", used ? ", " : "",
                         name ? name : "one of values");
        used += n > 0 ? (size_t)n : 0;
    }
    return text;
}

static caber_status csv_too_short(csv *c, const char *what)
{
    node place = csv_place(c, 1);
    place.line += place.line == 0;
    char list[LIST_SIZE];
    return node_error(&place, "", c->message,
                      "the table ends before its %s; it begins with a row of names (%s) and a row "
                      "of units",
                      what, csv_list_names(c, list));
}

/* The field of a name, or of any name when there is one without; the count when there is none. */
static size_t csv_find_field(const csv *c, const char *name)
{
    size_t any = c->group->count;
    for (size_t i = 0; i < c->group->count; i++) {
        if (!c->group->fields[i].name)
            any = i;
        else if (!strcmp(c->group->fields[i].name, name))
            return i;
    }
    return any;
}

static const char *csv_nearest_name(const csv *c, const char *name)
{
    const char *nearest = NULL;
    size_t least = 3;
    for (size_t i = 0; i < c->group->count; i++) {
        const char *allowed = c->group->fields[i].name;
        size_t distance = allowed ? text_distance(name, allowed, least) : least;
        if (distance < least && distance < strlen(name)) {
            least = distance;
            nearest = allowed;
        }
    }
    return nearest;
}

static caber_status csv_unknown_name(csv *c, size_t i)
{
    char list[LIST_SIZE];
    csv_list_names(c, list);
    if (strpbrk(c->names[i], ";\t"))
        return FAIL_AT(c, i,
                       "there is no such column; a comma stands between two columns, and "
                       "allowed are %s",
                       list);
    const char *nearest = csv_nearest_name(c, c->names[i]);
    return FAIL_AT(c, i, "there is no such column%s%s%s; allowed are %s",
                   nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "",
                   list);
}

static caber_status csv_name(csv *c, size_t i)
{
    char clip[TEXT_CLIP_SIZE], list[LIST_SIZE];
    double number;
    const char *end;
    node place = csv_place(c, c->places[i]);
    if (!c->cells[i][0] || text_to_double(c->cells[i], &number, &end) == TEXT_NUMBER_FINE)
        return node_error(&place, "", c->message,
                          "\"%s\" is no name of a column; the first row gives the names: %s",
                          text_clip(c->cells[i], clip), csv_list_names(c, list));
    memcpy(c->names[i], c->cells[i], CELL_SIZE);
    c->fields[i] = csv_find_field(c, c->names[i]);
    if (c->fields[i] == c->group->count)
        return csv_unknown_name(c, i);
    for (size_t k = 0; k < i; k++)
        if (!strcmp(c->names[k], c->names[i]))
            return FAIL_AT(c, i, "this column was given before");
        else if (c->fields[k] == c->fields[i])
            return csv_unknown_name(c, i);
    return CABER_OK;
}

static caber_status csv_read_names(csv *c)
{
    bool there;
    caber_status status = csv_next_row(c, &there);
    if (status != CABER_OK || !there)
        return status != CABER_OK ? status : csv_too_short(c, "names");
    for (size_t i = 0; i < c->width && status == CABER_OK; i++)
        status = csv_name(c, i);
    for (size_t f = 0; f < c->group->count && status == CABER_OK; f++) {
        const field *wanted = &c->group->fields[f];
        bool found = !(wanted->flags & FIELD_REQUIRED);
        for (size_t i = 0; i < c->width; i++)
            found = found || c->fields[i] == f;
        node place = csv_place(c, 1);
        if (!found)
            status = node_error(&place, wanted->name ? wanted->name : "", c->message,
                                "this column is missing (%s)", wanted->meaning);
    }
    return status;
}

/* ------------------------------------------------------------------ units */

static caber_status csv_read_units(csv *c)
{
    bool there;
    caber_status status = csv_next_row(c, &there);
    if (status != CABER_OK || !there)
        return status != CABER_OK ? status : csv_too_short(c, "units");
    for (size_t i = 0; i < c->width; i++) {
        const dimension wanted = c->group->fields[c->fields[i]].dim;
        const unit *u = unit_find(c->cells[i], wanted);
        if (u && u->dim == wanted) {
            c->units[i] = u;
            continue;
        }
        char clip[TEXT_CLIP_SIZE], list[128];
        unit_list(wanted, list, sizeof list);
        return FAIL_AT(c, i,
                       "\"%s\" is no unit of %s; the second row gives the units, and allowed "
                       "are %s%s",
                       text_clip(c->cells[i], clip), dimension_title(wanted), list,
                       wanted == DIMENSION_NONE ? ", or none" : "");
    }
    return CABER_OK;
}

/* ------------------------------------------------------------------ numbers */

/* "a number in mm", "a plain number" */
static const char *csv_wanted(const csv *c, size_t i, char text[TEXT_CLIP_SIZE])
{
    const char *symbol = c->units[i]->symbol;
    snprintf(text, TEXT_CLIP_SIZE, "%s%s", symbol[0] ? "a number in " : "a plain number", symbol);
    return text;
}

static caber_status csv_read_number(csv *c, size_t i, double *out)
{
    const field *f = &c->group->fields[c->fields[i]];
    const char *cell = c->cells[i], *end;
    char clip[TEXT_CLIP_SIZE], wanted[TEXT_CLIP_SIZE], range[160];
    double number;
    text_number kind = text_to_double(cell, &number, &end);
    if (kind == TEXT_NUMBER_EMPTY && f->flags & FIELD_OPEN)
        return CABER_OK;
    csv_wanted(c, i, wanted);
    if (kind != TEXT_NUMBER_FINE)
        return FAIL_AT(c, i, "\"%s\" %s; %s is wanted", text_clip(cell, clip),
                       text_number_problem(kind), wanted);
    if (*end)
        return FAIL_AT(c, i, "\"%s\" has something behind its number; %s alone is wanted",
                       text_clip(cell, clip), wanted);
    *out = unit_to_si(c->units[i], number);
    if (!isfinite(*out))
        return FAIL_AT(c, i, "\"%s\" is too large", text_clip(cell, clip));
    if (field_allows(f, *out))
        return CABER_OK;
    field_range(f, range, sizeof range);
    const char *symbol = c->units[i]->symbol;
    return FAIL_AT(c, i, "%s%s%s is not allowed; it must be %s", text_clip(cell, clip),
                   symbol[0] && strcmp(symbol, "%") ? " " : "", symbol, range);
}

static bool csv_grow(csv *c)
{
    field_rows *r = c->rows;
    if (r->count < c->capacity)
        return true;
    size_t more = c->capacity ? 2 * c->capacity : 64;
    double *cell = realloc(r->cell, more * c->group->count * sizeof *cell);
    r->cell = cell ? cell : r->cell;
    size_t *place = realloc(r->place, more * c->group->count * sizeof *place);
    r->place = place ? place : r->place;
    size_t *line = realloc(r->line, more * sizeof *line);
    r->line = line ? line : r->line;
    if (!cell || !place || !line)
        return false;
    c->capacity = more;
    return true;
}

static caber_status csv_store_row(csv *c)
{
    field_rows *r = c->rows;
    node row = csv_place(c, c->places[0]);
    if (r->count >= c->most)
        return node_error(&row, "", c->message, "the table has more than %zu rows", c->most);
    if (!csv_grow(c))
        return message_set(c->message, CABER_NO_MEMORY, "out of memory");
    const size_t n = c->group->count;
    double *cell = r->cell + r->count * n;
    size_t *place = r->place + r->count * n;
    for (size_t i = 0; i < n; i++) {
        cell[i] = NAN;
        place[i] = 0;
    }
    for (size_t i = 0; i < c->width; i++) {
        caber_status status = csv_read_number(c, i, &cell[c->fields[i]]);
        if (status != CABER_OK)
            return status;
        place[c->fields[i]] = c->places[i];
    }
    r->line[r->count++] = c->lines.line;
    return CABER_OK;
}

static caber_status csv_read_rows(csv *c, size_t least)
{
    for (;;) {
        bool there;
        caber_status status = csv_next_row(c, &there);
        if (status == CABER_OK && there)
            status = csv_store_row(c);
        if (status != CABER_OK)
            return status;
        if (!there)
            break;
    }
    node place = csv_place(c, 1);
    if (c->rows->count < least)
        return node_error(
            &place, "", c->message, "the table has %zu row%s of numbers; at least %zu %s wanted",
            c->rows->count, c->rows->count == 1 ? "" : "s", least, least == 1 ? "is" : "are");
    return CABER_OK;
}

caber_status csv_read(const char *file, const char *text, size_t size, const field_group *columns,
                      size_t least, size_t most, field_rows *out, caber_message *message)
{
    csv c = {.file = file,
             .lines = {.at = text, .end = text + size},
             .group = columns,
             .most = most,
             .rows = out,
             .message = message};
    *out = (field_rows){0};
    if (size >= 3 && !memcmp(text, "\xEF\xBB\xBF", 3))
        c.lines.at += 3;
    caber_status status = node_check_bytes(file, text, size, message);
    if (status == CABER_OK)
        status = csv_read_names(&c);
    if (status == CABER_OK)
        status = csv_read_units(&c);
    if (status == CABER_OK)
        status = csv_read_rows(&c, least);
    if (status == CABER_OK && !(out->file = strdup(file)))
        status = message_set(message, CABER_NO_MEMORY, "out of memory");
    if (status != CABER_OK)
        field_rows_free(out);
    return status;
}

/* ------------------------------------------------------------------ tables of time and value */

static caber_status csv_fill_table(const field_rows *rows, caber_table *t, caber_message *message)
{
    t->time = calloc(rows->count, sizeof *t->time);
    t->value = calloc(rows->count, sizeof *t->value);
    if (!t->time || !t->value)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    t->count = rows->count;
    for (size_t i = 0; i < t->count; i++) {
        t->time[i] = rows->cell[2 * i];
        t->value[i] = rows->cell[2 * i + 1];
        node place = {.file = rows->file, .line = rows->line[i], .column = rows->place[2 * i]};
        if (i > 0 && t->time[i] <= t->time[i - 1])
            return node_error(&place, "time", message,
                              "%g s does not ascend; it must be above the time in the row before",
                              t->time[i]);
    }
    return CABER_OK;
}

caber_status csv_parse(const char *file, const char *text, size_t size, dimension value_dimension,
                       caber_table *out, caber_message *message)
{
    const field pair[] = {{.name = "time",
                           .flags = FIELD_REQUIRED,
                           .dim = DIMENSION_TIME,
                           .unit = "s",
                           .min = -HUGE_VAL,
                           .max = HUGE_VAL,
                           .meaning = "ascending"},
                          {.flags = FIELD_REQUIRED,
                           .dim = value_dimension,
                           .unit = dimension_si(value_dimension),
                           .min = -HUGE_VAL,
                           .max = HUGE_VAL,
                           .meaning = "beside time, one of values"}};
    const field_group columns = {.fields = pair, .count = 2};
    field_rows rows;
    *out = (caber_table){0};
    caber_status status =
        csv_read(file, text, size, &columns, FIELD_TABLE_LEAST, FIELD_TABLE_MOST, &rows, message);
    if (status != CABER_OK)
        return status;
    status = csv_fill_table(&rows, out, message);
    field_rows_free(&rows);
    if (status != CABER_OK)
        csv_table_free(out);
    return status;
}

void csv_table_free(caber_table *table)
{
    free(table->time);
    free(table->value);
    *table = (caber_table){0};
}
