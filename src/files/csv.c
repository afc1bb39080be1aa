/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/csv.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/node.h"
#include "swing/fields_table.h"

enum { COLUMNS = 2, CELL_SIZE = 128 };

/* A place in the text, and what the first two rows said. */
typedef struct csv {
    const char *file;
    const char *at, *end;
    size_t line;
    char cells[COLUMNS][CELL_SIZE];
    size_t columns[COLUMNS]; /* where each cell begins, from 1 */
    char names[COLUMNS][CELL_SIZE];
    const unit *units[COLUMNS];
    caber_message *message;
} csv;

/* A node carries the place for node_error. */
static node csv_place(const csv *c, size_t column)
{
    return (node){.file = c->file, .line = c->line, .column = column};
}

static bool is_blank(char ch)
{
    return ch == ' ' || ch == '\t' || ch == '\r';
}

/* Finds the next line that holds something; false at the end. */
static bool csv_next_line(csv *c, const char **from, const char **to)
{
    while (c->at < c->end) {
        const char *newline = memchr(c->at, '\n', (size_t)(c->end - c->at));
        *from = c->at;
        *to = newline ? newline : c->end;
        c->at = newline ? newline + 1 : c->end;
        c->line++;
        const char *s = *from;
        while (s < *to && is_blank(*s))
            s++;
        if (s < *to && *s != '#')
            return true;
    }
    return false;
}

/* Copies a cell without the blanks around it; false when it is too long. */
static bool csv_copy_cell(const char *from, const char *to, char cell[CELL_SIZE])
{
    while (from < to && is_blank(*from))
        from++;
    while (to > from && is_blank(to[-1]))
        to--;
    size_t length = (size_t)(to - from);
    if (length >= CELL_SIZE)
        return false;
    memcpy(cell, from, length);
    cell[length] = '\0';
    return true;
}

static size_t csv_column(const char *from, const char *at)
{
    size_t column = 1;
    for (; from < at; from++)
        column += ((unsigned char)*from & 0xC0) != 0x80;
    return column;
}

static caber_status csv_split(csv *c, const char *from, const char *to)
{
    const char *start = from;
    for (size_t i = 0; i < COLUMNS; i++) {
        const char *comma = memchr(start, ',', (size_t)(to - start));
        const char *stop = comma ? comma : to;
        const char *text = start;
        while (text < stop && is_blank(*text))
            text++;
        c->columns[i] = csv_column(from, text);
        node place = csv_place(c, c->columns[i]);
        bool last = i == COLUMNS - 1;
        if (!last && !comma)
            return node_error(&place, "", c->message,
                              "this row has one column; two are wanted, with a comma between");
        if (last && comma)
            return node_error(&place, "", c->message,
                              "this row has more than two columns; a number has a decimal point, "
                              "not a comma");
        char name[TEXT_CLIP_SIZE];
        text_clip(c->names[i], name);
        if (memchr(start, '\0', (size_t)(stop - start)))
            return node_error(&place, name, c->message, "this cell holds a zero byte");
        if (!csv_copy_cell(start, stop, c->cells[i]))
            return node_error(&place, name, c->message, "this cell is too long");
        start = comma ? comma + 1 : to;
    }
    return CABER_OK;
}

static caber_status csv_next_row(csv *c, bool *there)
{
    const char *from, *to;
    *there = csv_next_line(c, &from, &to);
    return *there ? csv_split(c, from, to) : CABER_OK;
}

static caber_status csv_too_short(csv *c, const char *what)
{
    node place = csv_place(c, 1);
    place.line += place.line == 0;
    return node_error(&place, "", c->message,
                      "the table ends before its %s; it begins with a row of names, such as "
                      "time, value, and a row of units",
                      what);
}

static caber_status csv_read_names(csv *c)
{
    bool there;
    caber_status status = csv_next_row(c, &there);
    if (status != CABER_OK || !there)
        return status != CABER_OK ? status : csv_too_short(c, "names");
    memcpy(c->names, c->cells, sizeof c->names);
    char clip[TEXT_CLIP_SIZE];
    for (size_t i = 0; i < COLUMNS; i++) {
        node place = csv_place(c, c->columns[i]);
        double number;
        const char *end;
        if (!c->cells[i][0] || text_to_double(c->cells[i], &number, &end) == TEXT_NUMBER_FINE)
            return node_error(&place, "", c->message,
                              "\"%s\" is no name of a column; the first row gives the names, such "
                              "as time, value",
                              text_clip(c->cells[i], clip));
    }
    if (!strcmp(c->names[0], "time"))
        return CABER_OK;
    node place = csv_place(c, c->columns[0]);
    return node_error(&place, "", c->message, "the first column is \"%s\"; it must be \"time\"",
                      text_clip(c->names[0], clip));
}

static caber_status csv_read_units(csv *c, dimension value_dimension)
{
    const dimension wanted[COLUMNS] = {DIMENSION_TIME, value_dimension};
    bool there;
    caber_status status = csv_next_row(c, &there);
    if (status != CABER_OK || !there)
        return status != CABER_OK ? status : csv_too_short(c, "units");
    for (size_t i = 0; i < COLUMNS; i++) {
        const unit *u = unit_find(c->cells[i], wanted[i]);
        if (u && u->dim == wanted[i]) {
            c->units[i] = u;
            continue;
        }
        char clip[TEXT_CLIP_SIZE], name[TEXT_CLIP_SIZE], list[128];
        unit_list(wanted[i], list, sizeof list);
        node place = csv_place(c, c->columns[i]);
        return node_error(&place, text_clip(c->names[i], name), c->message,
                          "\"%s\" is no unit of %s; the second row gives the units, and allowed "
                          "are %s",
                          text_clip(c->cells[i], clip), dimension_title(wanted[i]), list);
    }
    return CABER_OK;
}

static caber_status csv_read_number(csv *c, size_t i, double *out)
{
    const char *cell = c->cells[i], *end;
    char clip[TEXT_CLIP_SIZE], name[TEXT_CLIP_SIZE];
    node place = csv_place(c, c->columns[i]);
    double number;
    text_number kind = text_to_double(cell, &number, &end);
    if (kind != TEXT_NUMBER_FINE)
        return node_error(&place, text_clip(c->names[i], name), c->message,
                          "\"%s\" %s; a number in %s is wanted", text_clip(cell, clip),
                          text_number_problem(kind), c->units[i]->symbol);
    if (*end)
        return node_error(&place, text_clip(c->names[i], name), c->message,
                          "\"%s\" has something behind its number; a number alone is wanted, in %s",
                          text_clip(cell, clip), c->units[i]->symbol);
    *out = number * c->units[i]->times / c->units[i]->over;
    if (!isfinite(*out))
        return node_error(&place, text_clip(c->names[i], name), c->message, "\"%s\" is too large",
                          text_clip(cell, clip));
    return CABER_OK;
}

static caber_status csv_grow(caber_table *t, size_t *capacity, caber_message *message)
{
    if (t->count < *capacity)
        return CABER_OK;
    size_t more = *capacity ? 2 * *capacity : 64;
    double *time = realloc(t->time, more * sizeof *time);
    if (time)
        t->time = time;
    double *value = time ? realloc(t->value, more * sizeof *value) : NULL;
    if (!value)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    t->value = value;
    *capacity = more;
    return CABER_OK;
}

static caber_status csv_store_row(csv *c, caber_table *t, size_t *capacity)
{
    caber_status status = csv_grow(t, capacity, c->message);
    for (size_t i = 0; i < COLUMNS && status == CABER_OK; i++)
        status = csv_read_number(c, i, i == 0 ? &t->time[t->count] : &t->value[t->count]);
    if (status != CABER_OK)
        return status;
    node place = csv_place(c, c->columns[0]);
    if (t->count > 0 && t->time[t->count] <= t->time[t->count - 1])
        return node_error(&place, "time", c->message,
                          "%s does not ascend; it must be above the time in the row before",
                          c->cells[0]);
    if (t->count >= FIELD_TABLE_MOST)
        return node_error(&place, "", c->message, "the table has more than %d rows",
                          FIELD_TABLE_MOST);
    t->count++;
    return CABER_OK;
}

static caber_status csv_read_rows(csv *c, caber_table *t)
{
    size_t capacity = 0;
    for (;;) {
        bool there;
        caber_status status = csv_next_row(c, &there);
        if (status == CABER_OK && there)
            status = csv_store_row(c, t, &capacity);
        if (status != CABER_OK)
            return status;
        if (!there)
            break;
    }
    if (t->count >= FIELD_TABLE_LEAST)
        return CABER_OK;
    node place = csv_place(c, 1);
    return node_error(&place, "", c->message,
                      "the table has %zu rows of numbers; at least %d are wanted", t->count,
                      FIELD_TABLE_LEAST);
}

caber_status csv_parse(const char *file, const char *text, size_t size, dimension value_dimension,
                       caber_table *out, caber_message *message)
{
    csv c = {.file = file, .at = text, .end = text + size, .message = message};
    *out = (caber_table){0};
    if (size >= 3 && !memcmp(text, "\xEF\xBB\xBF", 3))
        c.at += 3;
    caber_status status = node_check_bytes(file, text, size, message);
    if (status == CABER_OK)
        status = csv_read_names(&c);
    if (status == CABER_OK)
        status = csv_read_units(&c, value_dimension);
    if (status == CABER_OK)
        status = csv_read_rows(&c, out);
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
