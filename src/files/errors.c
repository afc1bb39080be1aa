/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/errors.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"

/* How far the place in a row may be from its station, m: such places are written to 6 digits. */
static const double place_slack = 1e-6;

/* ------------------------------------------------------------------ reading */

static caber_status out_of_memory(decoding *d)
{
    return message_set(d->message, CABER_NO_MEMORY, "out of memory");
}

/* `given` is the mapping of lists that the rows were read from, or NULL for a CSV. */
typedef struct source_rows {
    field_rows rows;
    const node *given;
} source_rows;

static caber_status row_error(decoding *d, const source_rows *s, size_t row, int column,
                              const char *problem)
{
    static const char *const names[] = {[ERRORS_COMPONENT] = "component", [ERRORS_AT] = "at"};
    node place = {.file = s->rows.file};
    if (s->given) {
        place = *node_get(s->given, names[column])->items[row];
        field_path_key(&d->path, names[column]);
        field_path_index(&d->path, row);
        return DECODE_FAIL(d, &place, "%s", problem);
    }
    place.line = s->rows.line[row];
    place.column = s->rows.place[row * ERRORS_COLUMNS + (size_t)column];
    return node_error(&place, names[column], d->message, "%s", problem);
}

/* Every component, from 1, gives every station, in their order. */
static caber_status check_row(decoding *d, const caber_shaft *shaft, const source_rows *s, size_t i)
{
    const field_rows *rows = &s->rows;
    const size_t n = shaft->station_count, component = i / n + 1;
    const double given = rows->cell[i * ERRORS_COLUMNS + ERRORS_COMPONENT];
    const double at = rows->cell[i * ERRORS_COLUMNS + ERRORS_AT];
    const double wanted = shaft->stations[i % n].at;
    char problem[200];
    if (given != (double)component) {
        if (i % n)
            snprintf(problem, sizeof problem,
                     "%g is not allowed here; component %zu still lacks the station at %g mm, and "
                     "every component must give every station",
                     given, component, 1e3 * wanted);
        else
            snprintf(problem, sizeof problem,
                     "%g is not allowed here; it must be %zu: components count from 1, and the one "
                     "before has given every station",
                     given, component);
        return row_error(d, s, i, ERRORS_COMPONENT, problem);
    }
    if (fabs(at - wanted) <= place_slack)
        return CABER_OK;
    snprintf(problem, sizeof problem,
             "%g mm is not allowed here; it must be %g mm, the next station of component %zu",
             1e3 * at, 1e3 * wanted, component);
    return row_error(d, s, i, ERRORS_AT, problem);
}

static caber_status take_rows(decoding *d, const source_rows *s, caber_shaft *shaft)
{
    const field_rows *rows = &s->rows;
    const size_t n = shaft->station_count;
    for (size_t i = 0; i < rows->count; i++) {
        caber_status status = check_row(d, shaft, s, i);
        if (status != CABER_OK)
            return status;
    }
    if (rows->count % n) {
        char problem[200];
        snprintf(problem, sizeof problem,
                 "the last component lacks the station at %g mm; every component must give every "
                 "station",
                 1e3 * shaft->stations[rows->count % n].at);
        return row_error(d, s, rows->count - 1, ERRORS_COMPONENT, problem);
    }
    shaft->errors = (caber_errors){rows->count / n, calloc(rows->count, 3 * sizeof(double))};
    if (!shaft->errors.share)
        return out_of_memory(d);
    for (size_t i = 0; i < rows->count; i++)
        memcpy(shaft->errors.share + 3 * i, rows->cell + i * ERRORS_COLUMNS + ERRORS_EI,
               3 * sizeof(double));
    return CABER_OK;
}

static caber_status check_shape(decoding *d, const field *f, const node *n)
{
    bool good = n->type == NODE_MAPPING && n->count == ERRORS_COLUMNS;
    for (size_t i = 0; i < ERRORS_COLUMNS && good; i++) {
        const node *list = node_get(n, f->group->fields[i].name);
        good = list && list->type == NODE_SEQUENCE;
    }
    if (!good)
        return DECODE_FAIL(d, n,
                           "the path of a CSV file, {component: [...], at: [...], ei: [...], gj: "
                           "[...], mass: [...]}, or none is wanted");
    for (size_t i = 0; i < ERRORS_COLUMNS; i++) {
        const size_t count = node_get(n, f->group->fields[i].name)->count;
        if (count < 1 || (double)count > f->max || count != n->items[0]->count)
            return DECODE_FAIL(d, n,
                               "%zu entries of %s are not allowed; each list must have as many, at "
                               "least 1 and at most %g",
                               count, f->group->fields[i].name, f->max);
    }
    return CABER_OK;
}

static caber_status decode_column(decoding *d, const field *column, const node *list, size_t i,
                                  field_rows *rows)
{
    double *value = calloc(list->count, sizeof *value);
    if (!value)
        return out_of_memory(d);
    size_t before = field_path_key(&d->path, column->name);
    caber_status status = decode_numbers(d, list, column->dim, value);
    for (size_t k = 0; k < list->count && status == CABER_OK; k++) {
        char range[160], clip[TEXT_CLIP_SIZE];
        field_range(column, range, sizeof range);
        const size_t list_path = field_path_index(&d->path, k);
        if (!field_allows(column, value[k]))
            status = DECODE_FAIL(d, list->items[k], "%s is not allowed; it must be %s",
                                 text_clip(list->items[k]->text, clip), range);
        field_path_cut(&d->path, list_path);
        rows->cell[k * ERRORS_COLUMNS + i] = value[k];
    }
    free(value);
    if (status == CABER_OK)
        field_path_cut(&d->path, before);
    return status;
}

static caber_status decode_here(decoding *d, const field *f, const node *n, field_rows *rows)
{
    caber_status status = check_shape(d, f, n);
    if (status != CABER_OK)
        return status;
    rows->count = n->items[0]->count;
    rows->cell = calloc(rows->count, ERRORS_COLUMNS * sizeof *rows->cell);
    if (!rows->cell)
        return out_of_memory(d);
    for (size_t i = 0; i < ERRORS_COLUMNS && status == CABER_OK; i++) {
        const field *column = &f->group->fields[i];
        status = decode_column(d, column, node_get(n, column->name), i, rows);
    }
    return status;
}

caber_status errors_decode(decoding *d, const field *f, const node *n, void *object)
{
    if (n->type == NODE_SCALAR && !strcmp(n->text, "none"))
        return CABER_OK;
    source_rows s = {.given = n->type == NODE_SCALAR ? NULL : n};
    caber_status status =
        s.given ? decode_here(d, f, n, &s.rows)
                : decode_csv(d, f, n, ", or {component: [...], ...}, or none", &s.rows);
    if (status == CABER_OK)
        status = take_rows(d, &s, object);
    field_rows_free(&s.rows);
    return status;
}

/* ------------------------------------------------------------------ writing */

/* Value k of a column, SI. */
static double value_at(const caber_shaft *shaft, size_t column, size_t k)
{
    const size_t n = shaft->station_count;
    if (column == ERRORS_COMPONENT)
        return (double)(k / n + 1);
    if (column == ERRORS_AT)
        return shaft->stations[k % n].at;
    return shaft->errors.share[3 * k + column - ERRORS_EI];
}

void errors_encode(FILE *out, const field *f, const caber_shaft *shaft, int indent)
{
    enum { VALUES_A_LINE = 8 };
    for (size_t i = 0; i < ERRORS_COLUMNS; i++) {
        const field *column = &f->group->fields[i];
        const unit *u = unit_find(column->unit, column->dim);
        fprintf(out, "%*s%s: [", indent, "", column->name);
        for (size_t k = 0; k < shaft->errors.count * shaft->station_count; k++) {
            char text[64];
            quantity_write(value_at(shaft, i, k), u, text, sizeof text);
            if (k > 0)
                fputc(',', out);
            if (k > 0 && k % VALUES_A_LINE == 0)
                fprintf(out, "\n%*s", indent + 2, "");
            else if (k > 0)
                fputc(' ', out);
            fputs(text, out);
        }
        fputs("]\n", out);
    }
}

void errors_write_csv(FILE *out, const field *f, const caber_shaft *shaft)
{
    const size_t n = shaft->station_count;
    for (size_t i = 0; i < ERRORS_COLUMNS; i++)
        fprintf(out, "%s%s", i ? "," : "", f->group->fields[i].name);
    /* Plain numbers, for not every one has a decimal in per cent that reads back to its bits. */
    fputs("\n,mm,,,\n", out);
    for (size_t k = 0; k < shaft->errors.count * n; k++) {
        char text[TEXT_NUMBER_SIZE];
        text_from_double(round(shaft->stations[k % n].at * 1e9) / 1e6, text);
        fprintf(out, "%zu,%s", k / n + 1, text);
        for (size_t i = 0; i < 3; i++) {
            text_from_double(shaft->errors.share[3 * k + i], text);
            fprintf(out, ",%s", text);
        }
        fputc('\n', out);
    }
}
