/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/sheet.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/csv_text.h"
#include "app/table.h"
#include "base/message.h"
#include "base/text.h"
#include "files/replace.h"

struct sheet {
    sheet_column *columns;
    size_t count;
    sheet_settings settings;
    size_t rows, kept; /* taken, and of them as texts */
    char **texts;      /* [2 + most][count]: names, units, the first rows */
    double *numbers;   /* [most][count], of the rows */
    replace_file *csv;
    FILE *
        json; /* the rows: a file that nobody else sees, as nothing is printed before all is read */
};

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory for a table");
}

/* ------------------------------------------------------------------ beginning and end */

static bool copy_columns(sheet *s, const sheet_column *columns)
{
    for (size_t c = 0; c < s->count; c++) {
        char *name = s->texts[c] = strdup(columns[c].name);
        char *unit = s->texts[s->count + c] = strdup(columns[c].unit);
        if (!name || !unit)
            return false;
        s->columns[c] = columns[c];
        s->columns[c].name = name;
        s->columns[c].unit = unit;
    }
    return true;
}

static void csv_heads(const sheet *s)
{
    FILE *out = replace_stream(s->csv);
    for (int unit = 0; unit < 2; unit++) {
        for (size_t c = 0; c < s->count; c++) {
            fputs(c ? "," : "", out);
            csv_text_write(out, unit ? s->columns[c].unit : s->columns[c].name);
        }
        fputc('\n', out);
    }
}

caber_status sheet_create(const sheet_column *columns, size_t count, const sheet_settings *settings,
                          sheet **out, caber_message *message)
{
    *out = NULL;
    sheet *s = calloc(1, sizeof *s);
    if (!s)
        return no_memory(message);
    s->count = count;
    s->settings = *settings;
    s->columns = calloc(count, sizeof *s->columns);
    s->texts = calloc((2 + settings->most) * count, sizeof *s->texts);
    s->numbers = calloc((settings->most + 1) * count, sizeof *s->numbers);
    caber_status status = s->columns && s->texts && s->numbers && copy_columns(s, columns)
                              ? CABER_OK
                              : no_memory(message);
    if (status == CABER_OK && settings->csv)
        status = replace_begin(settings->csv, &s->csv, message);
    if (status == CABER_OK && settings->json && !(s->json = tmpfile()))
        status = message_set(message, CABER_IO_ERROR, "cannot write a temporary file: %s",
                             strerror(errno));
    if (status == CABER_OK) {
        if (s->csv)
            csv_heads(s);
        *out = s;
        return message_clear(message);
    }
    sheet_free(s);
    return status;
}

void sheet_free(sheet *s)
{
    if (!s)
        return;
    for (size_t i = 0; s->texts && i < (2 + s->settings.most) * s->count; i++)
        free(s->texts[i]);
    free(s->texts);
    free(s->numbers);
    free(s->columns);
    replace_end(s->csv, false, NULL);
    if (s->json)
        fclose(s->json);
    free(s);
}

/* ------------------------------------------------------------------ rows */

static bool keep_texts(sheet *s, const sheet_cell *cells)
{
    char number[64];
    char **row = s->texts + (2 + s->kept) * s->count;
    for (size_t c = 0; c < s->count; c++) {
        s->numbers[s->kept * s->count + c] = cells[c].number;
        sheet_number(number, cells[c].number, s->columns[c].decimals);
        row[c] = strdup(cells[c].text ? cells[c].text : number);
        if (!row[c])
            return false;
    }
    s->kept++;
    return true;
}

static void write_csv(const sheet *s, const sheet_cell *cells)
{
    FILE *out = replace_stream(s->csv);
    char number[TEXT_NUMBER_SIZE];
    for (size_t c = 0; c < s->count; c++) {
        if (c)
            fputc(',', out);
        if (cells[c].text) {
            csv_text_write(out, cells[c].text);
        } else if (isfinite(cells[c].number)) {
            text_from_double(cells[c].number, number);
            fputs(number, out);
        }
    }
    fputc('\n', out);
}

static json_t *json_cell(const sheet_column *column, const sheet_cell *cell)
{
    if (cell->text)
        return json_string(cell->text);
    if (!isfinite(cell->number))
        return json_null();
    if (column->decimals == SHEET_WHOLE)
        return json_integer((json_int_t)cell->number);
    return json_real(cell->number);
}

static bool write_json(sheet *s, const sheet_cell *cells)
{
    json_t *row = json_object();
    bool fine = row != NULL;
    for (size_t c = 0; c < s->count && fine; c++)
        fine =
            json_object_set_new(row, s->columns[c].name, json_cell(&s->columns[c], &cells[c])) == 0;
    if (fine) {
        fputs(s->rows ? ",\n    " : "\n    ", s->json);
        fine = json_dumpf(row, s->json, JSON_REAL_PRECISION(17)) == 0;
    }
    json_decref(row);
    return fine;
}

caber_status sheet_add(sheet *s, const sheet_cell *cells, caber_message *message)
{
    if (s->kept < s->settings.most && s->rows % s->settings.every == 0 && !keep_texts(s, cells))
        return no_memory(message);
    errno = 0;
    if (s->json && !write_json(s, cells))
        return errno ? message_set(message, CABER_IO_ERROR, "cannot write a temporary file: %s",
                                   strerror(errno))
                     : no_memory(message);
    if (s->csv) {
        write_csv(s, cells);
        if (replace_failed(s->csv))
            return sheet_save(s, message);
    }
    s->rows++;
    return CABER_OK;
}

size_t sheet_rows(const sheet *s)
{
    return s->rows;
}

caber_status sheet_save(sheet *s, caber_message *message)
{
    replace_file *csv = s->csv;
    s->csv = NULL;
    return replace_end(csv, true, message);
}

/* ------------------------------------------------------------------ what is printed */

/* Decimals with which the largest number of a column has so many digits, without the zeros at the end of all;
 * -1 when small numbers beside it would be lost. */
static int common_decimals(const sheet *s, size_t c, int digits)
{
    double largest = 0, smallest = INFINITY;
    for (size_t r = 0; r < s->kept; r++) {
        const double size = fabs(s->numbers[r * s->count + c]);
        largest = fmax(largest, size);
        smallest = size > 0 ? fmin(smallest, size) : smallest;
    }
    if (!(largest < pow(10, digits)) || smallest < largest * pow(10, 2 - digits))
        return -1;
    int decimals = largest > 0 ? digits - 1 - (int)floor(log10(largest)) : 0;
    for (bool zeros = decimals <= 12; zeros && decimals > 0; decimals -= zeros)
        for (size_t r = 0; r < s->kept && zeros; r++) {
            char text[64];
            const double value = s->numbers[r * s->count + c];
            snprintf(text, sizeof text, "%.*f", decimals, value);
            zeros = isnan(value) || text[strlen(text) - 1] == '0';
        }
    return decimals <= 12 ? decimals : -1;
}

/* Numbers below each other with the point in one place. */
static void align(const sheet *s, size_t c)
{
    const int kind = s->columns[c].decimals;
    if (s->columns[c].words || (kind != SHEET_SIX_DIGITS && kind != SHEET_THREE_DIGITS))
        return;
    const int decimals = common_decimals(s, c, kind == SHEET_SIX_DIGITS ? 6 : 3);
    for (size_t r = 0; r < s->kept && decimals >= 0; r++) {
        char number[64], **text = &s->texts[(2 + r) * s->count + c];
        sheet_number(number, s->numbers[r * s->count + c], decimals);
        char *copy = strdup(number);
        if (!copy)
            continue; /* it stays as it was */
        free(*text);
        *text = copy;
    }
}

/* The sentences of the last column, each once for rows that follow each other, after what stands first there. */
static void print_notes(const sheet *s)
{
    char line[1024];
    char *const *first = s->texts + 2 * s->count, *const *note = first + s->count - 1;
    for (size_t r = 0, end; r < s->kept; r = end) {
        const char *text = note[r * s->count];
        for (end = r + 1; end < s->kept && strcmp(note[end * s->count], text) == 0;)
            end++;
        if (!text[0])
            continue;
        const bool more = end > r + 1;
        snprintf(line, sizeof line, "%s %s%s%s: %s", s->columns[0].name, first[r * s->count],
                 more ? " to " : "", more ? first[(end - 1) * s->count] : "", text);
        table_paragraph(line);
    }
}

void sheet_print(const sheet *s)
{
    const size_t shown = s->count - s->settings.notes, rows = 2 + s->kept;
    bool *left = calloc(s->count, sizeof *left), *stays = calloc(s->count, sizeof *stays);
    const char **cells = calloc(rows * shown + 1, sizeof *cells);
    for (size_t c = 0; left && stays && cells && c < shown; c++) {
        left[c] = s->columns[c].words;
        stays[c] = s->columns[c].stays;
        align(s, c);
        for (size_t r = 0; r < rows; r++)
            cells[r * shown + c] = s->texts[r * s->count + c];
    }
    if (left && stays && cells)
        sheet_print_texts(cells, rows, shown, s->settings.keys, left, stays);
    if (s->settings.notes)
        print_notes(s);
    free(left);
    free(stays);
    free(cells);
}

static json_t *json_columns(const sheet *s)
{
    json_t *list = json_array();
    for (size_t c = 0; c < s->count; c++)
        json_array_append_new(
            list, json_pack("{ss ss}", "name", s->columns[c].name, "unit", s->columns[c].unit));
    return list;
}

/* The text of an object without its last brace; to be freed. */
static char *json_open(json_t *head)
{
    char *text = head ? json_dumps(head, JSON_INDENT(2) | JSON_REAL_PRECISION(17)) : NULL;
    char *brace = text ? strrchr(text, '}') : NULL;
    if (brace)
        *brace = '\0';
    json_decref(head);
    return text;
}

int sheet_print_json(sheet *s, json_t *head)
{
    if (head)
        json_object_set_new(head, "columns", json_columns(s));
    char *text = json_open(head);
    if (!text || fflush(s->json) != 0) {
        app_say("the result could not be put into JSON");
        free(text);
        return APP_UNFINISHED;
    }
    const size_t length = strlen(text);
    printf("%.*s,\n  \"rows\": [", (int)(length ? length - 1 : 0), text);
    free(text);
    rewind(s->json);
    char block[1 << 14];
    for (size_t got; (got = fread(block, 1, sizeof block, s->json)) > 0;)
        fwrite(block, 1, got, stdout);
    puts("\n  ]\n}");
    return APP_FINE;
}
