/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Files of measured shots: CSV whose columns have our names, or the ones that a mapping file says.
 * The heads of all files are read first, for they say which columns there are; then the shots. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/csv.h"
#include "files/decode.h"
#include "files/files.h"
#include "files/source.h"

enum {
    SHEET_WIDTH = 200,      /* most columns */
    SHEET_LINE = 1 << 16,   /* most bytes of a line */
    SHEET_ROWS = 200000,    /* most shots in a file */
    SHEET_BYTES = 64 << 20, /* of a file */
    SHEET_BATCHES = 50,     /* most setups */
    MEASURABLES = 100,      /* room for rows of caber_measurable_at */
    NAME_SIZE = CABER_NAME_SIZE
};

/* What a column is. */
typedef enum use { USE_IGNORED, USE_SHOT, USE_SETUP, USE_SET_ASIDE, USE_QUANTITY } use;

typedef struct sheet_column {
    char name[NAME_SIZE]; /* as in the file, cut */
    use use;
    size_t row;    /* of caber_measurable_at, of a quantity */
    const unit *u; /* of its numbers; NULL until it is known */
    bool reversed;
} sheet_column;

/* One CSV file. */
typedef struct sheet {
    const char *file;
    csv_lines lines;
    const char *line;              /* at hand, as it stands in the file */
    size_t width;                  /* cells in each row, as in the first; 0 = not known */
    size_t count;                  /* cells of the line at hand */
    char *cell[SHEET_WIDTH];       /* in `text`, without quotes and blanks around */
    const char *from[SHEET_WIDTH]; /* where it begins in the line */
    sheet_column column[SHEET_WIDTH];
    bool has_setup;
    char text[SHEET_LINE + 1];
} sheet;

/* Everything that a reading needs. */
typedef struct gathering {
    arena a;
    mapping_sheet map;
    const char *map_file; /* NULL = no mapping */
    node *map_root;
    caber_measurable measurable[MEASURABLES];
    dimension dim[MEASURABLES];
    char key[MEASURABLES][NAME_SIZE]; /* the name without its unit */
    size_t measurables;
    size_t place[MEASURABLES]; /* column of the result of each, or MEASURABLES */
    sheet **sheets;            /* owned, each and all */
    caber_measured *out;
    size_t capacity, batch_capacity;
    caber_message *message;
} gathering;

static caber_status no_memory(const gathering *g)
{
    return message_set(g->message, CABER_NO_MEMORY, "out of memory");
}

/* Begins with the place of cell i of the row at hand, and the name of its column. */
#define FAIL_AT(g, s, i, ...)                                                                      \
    node_error(&(node){.file = (s)->file,                                                          \
                       .line = (s)->lines.line,                                                    \
                       .column = csv_column((s)->line, (s)->from[i])},                             \
               text_clip((s)->column[i].name, (char[TEXT_CLIP_SIZE]){""}), (g)->message,           \
               __VA_ARGS__)

/* ------------------------------------------------------------------ lines and cells */

static char separator_of(const gathering *g)
{
    static const char separators[] = {
        [MAPPING_COMMA] = ',', [MAPPING_SEMICOLON] = ';', [MAPPING_TAB] = '\t'};
    return g->map_file ? separators[g->map.separator] : ',';
}

/* Copies a cell in quotes, which begins at `from`, to *text; returns where it ends, NULL when it does
 * not. */
static const char *take_quoted(const char *from, const char *to, char **text)
{
    for (const char *at = from + 1; at < to; at++) {
        if (*at != '"')
            *(*text)++ = *at;
        else if (at + 1 < to && at[1] == '"')
            *(*text)++ = *at++;
        else
            return at + 1;
    }
    return NULL;
}

/* Ends the text of a cell, without the blanks around it. */
static void end_cell(sheet *s, char **text)
{
    const char *from = s->cell[s->count], *to = *text;
    csv_trim(&from, &to);
    s->cell[s->count] = s->text + (from - s->text);
    s->text[to - s->text] = '\0';
    s->count++;
    ++*text;
}

static caber_status take_cell(gathering *g, sheet *s, const char **at, const char *to, char **text)
{
    const char separator = separator_of(g), *from = *at;
    while (from < to && (*from == ' ' || (*from == '\t' && separator != '\t')))
        from++;
    s->from[s->count] = from;
    s->cell[s->count] = *text;
    if (from < to && *from == '"') {
        from = take_quoted(from, to, text);
        if (!from)
            return FAIL_AT(g, s, s->count, "the quotes of this cell are not closed in its line");
        while (from < to && (*from == ' ' || *from == '\r'))
            from++;
        if (from < to && *from != separator)
            return FAIL_AT(g, s, s->count, "there is something behind the quotes of this cell");
    }
    const char *stop = memchr(from, separator, (size_t)(to - from));
    stop = stop ? stop : to;
    memcpy(*text, from, (size_t)(stop - from));
    *text += stop - from;
    end_cell(s, text);
    *at = stop;
    return CABER_OK;
}

/* Splits a line into cells. */
static caber_status split(gathering *g, sheet *s, const char *from, const char *to)
{
    char *text = s->text;
    node place = {.file = s->file, .line = s->lines.line, .column = 1};
    s->line = from;
    s->count = 0;
    /* Each cell takes its bytes and a 0, which has the room of its separator. */
    if (to - from >= SHEET_LINE)
        return node_error(&place, "", g->message, "this line has more than %d bytes", SHEET_LINE);
    if (memchr(from, '\0', (size_t)(to - from)))
        return node_error(&place, "", g->message,
                          "this line holds a zero byte; a file of text is wanted");
    for (bool more = true; more;) {
        if (s->count == SHEET_WIDTH)
            return node_error(&place, "", g->message, "this row has more than %d columns",
                              SHEET_WIDTH);
        caber_status status = take_cell(g, s, &from, to, &text);
        if (status != CABER_OK)
            return status;
        more = from < to;
        from += more;
    }
    return CABER_OK;
}

static caber_status check_width(gathering *g, sheet *s)
{
    node place = {.file = s->file, .line = s->lines.line, .column = 1};
    if (s->count == s->width)
        return CABER_OK;
    return node_error(&place, "", g->message,
                      "this row has %zu column%s; %zu are wanted, as there are names%s", s->count,
                      s->count == 1 ? "" : "s", s->width,
                      s->count > s->width && separator_of(g) == ','
                          ? "; a number has a decimal point, not a comma"
                          : "");
}

/* Leaves out lines as they come, comments or not. */
static void skip_lines(sheet *s, int count)
{
    for (int i = 0; i < count && s->lines.at < s->lines.end; i++) {
        const char *newline = memchr(s->lines.at, '\n', (size_t)(s->lines.end - s->lines.at));
        s->lines.at = newline ? newline + 1 : s->lines.end;
        s->lines.line++;
    }
}

/* ------------------------------------------------------------------ names and units */

/* How a unit is written in a name: "deg/s" as "deg_s", "m/s" as "mps", "km/h" as "kmh". */
static void unit_suffix(const char *symbol, const char *slash, char *out)
{
    for (; *symbol; symbol++)
        if (*symbol == '/')
            out = strcpy(out, slash) + strlen(slash);
        else if (*symbol != ' ')
            *out++ = (char)tolower((unsigned char)*symbol);
    *out = '\0';
}

static bool is_suffix_of(const char *suffix, const char *symbol)
{
    static const char *const slashes[] = {"_", "p", ""};
    char written[64];
    for (size_t i = 0; symbol[0] && i < 3; i++) {
        unit_suffix(symbol, slashes[i], written);
        if (!strcmp(suffix, written))
            return true;
    }
    return false;
}

/* The unit of that dimension with such a suffix, or NULL. */
static const unit *unit_of_suffix(const char *suffix, dimension dim)
{
    size_t count;
    const unit *units = unit_table(&count);
    for (size_t i = 0; i < count; i++)
        if (units[i].dim == dim && is_suffix_of(suffix, units[i].symbol))
            return &units[i];
    return NULL;
}

static void cut_suffix(char *key, const char *symbol)
{
    for (char *at = key; (at = strchr(at, '_')); at++)
        if (is_suffix_of(at + 1, symbol)) {
            *at = '\0';
            return;
        }
}

static void fill_measurables(gathering *g)
{
    size_t n = 0;
    for (; n < MEASURABLES && caber_measurable_at(n, &g->measurable[n]); n++) {
        const caber_measurable *m = &g->measurable[n];
        g->dim[n] = unit_find(m->unit, DIMENSION_NONE)->dim;
        g->place[n] = MEASURABLES;
        snprintf(g->key[n], NAME_SIZE, "%s", m->name);
        cut_suffix(g->key[n], m->unit);
    }
    g->measurables = n;
}

/* "Ball Speed" as "ball_speed". */
static void plain_name(const char *from, size_t length, char out[NAME_SIZE])
{
    size_t used = 0;
    for (size_t i = 0; i < length && used + 1 < NAME_SIZE; i++) {
        const bool gap = from[i] == ' ' || from[i] == '-' || from[i] == '\t';
        out[used++] = gap ? '_' : (char)tolower((unsigned char)from[i]);
    }
    while (used > 0 && out[used - 1] == '_')
        used--;
    out[used] = '\0';
}

/* The unit in brackets at the end of a name: returns where the bracket begins, and the unit. */
static size_t bracket_of(const char *name, char symbol[NAME_SIZE])
{
    const size_t length = strlen(name);
    const char last = length ? name[length - 1] : '\0';
    const char *open = last == ']' ? strrchr(name, '[') : last == ')' ? strrchr(name, '(') : NULL;
    symbol[0] = '\0';
    if (!open)
        return length;
    const char *from = open + 1, *to = name + length - 1;
    csv_trim(&from, &to);
    if (to - from < NAME_SIZE) {
        memcpy(symbol, from, (size_t)(to - from));
        symbol[to - from] = '\0';
    }
    return (size_t)(open - name);
}

/* Finds the quantity of a plain name, and its unit where the name ends in one; false when there is none. */
static bool find_quantity(const gathering *g, const char *name, size_t *row, const unit **u)
{
    for (size_t i = 0; i < g->measurables; i++) {
        const size_t length = strlen(g->key[i]);
        *row = i;
        *u = NULL;
        if (!strcmp(name, g->key[i]))
            return true;
        if (strncmp(name, g->key[i], length) || name[length] != '_')
            continue;
        *u = unit_of_suffix(name + length + 1, g->dim[i]);
        if (*u)
            return true;
    }
    return false;
}

/* The name nearest to what was written, with or without its unit; NULL when none is near. */
static const char *nearest_key(const gathering *g, const char *name)
{
    const char *nearest = NULL;
    size_t least = 3;
    for (size_t i = 0; i < 2 * g->measurables; i++) {
        const char *known = i % 2 ? g->measurable[i / 2].name : g->key[i / 2];
        const size_t distance = text_distance(name, known, least);
        if (distance < least && distance < strlen(name)) {
            least = distance;
            nearest = known;
        }
    }
    return nearest;
}

static caber_status unknown_name(gathering *g, const sheet *s, size_t i, const char *plain)
{
    if (!s->cell[i][0])
        return FAIL_AT(g, s, i, "this column has no name");
    if (s->count == 1 && strpbrk(s->cell[i], ";\t"))
        return FAIL_AT(g, s, i,
                       "there is no such quantity; a comma is wanted between two columns, or a "
                       "mapping file that says which separator there is");
    const char *nearest = nearest_key(g, plain);
    return FAIL_AT(g, s, i,
                   "there is no such quantity%s%s%s; 'caber fields measured' lists them, and a "
                   "mapping file says what other columns are, or that they are to be ignored",
                   nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "");
}

/* Which of a mapping's columns this one is, or NULL. */
static const mapping_column *mapped(const gathering *g, const char *name)
{
    for (size_t i = 0; i < g->map.column_count; i++)
        if (!strcmp(g->map.columns[i].column, name))
            return &g->map.columns[i];
    return NULL;
}

static bool find_use(const char *plain, use *out)
{
    static const struct {
        const char *word;
        use use;
    } words[] = {{"shot", USE_SHOT},     {"setup", USE_SETUP},  {"set_aside", USE_SET_ASIDE},
                 {"why", USE_IGNORED},   {"from", USE_IGNORED}, {"note", USE_IGNORED},
                 {"ignore", USE_IGNORED}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (!strcmp(plain, words[i].word)) {
            *out = words[i].use;
            return true;
        }
    return false;
}

/* Whether something is a number, or was meant as one. */
static bool is_number(const char *text)
{
    double number;
    const char *end;
    const text_number kind = text_to_double(text, &number, &end);
    return kind != TEXT_NUMBER_EMPTY && kind != TEXT_NUMBER_NONE;
}

/* What a mapping says of a column. Its words were checked with the mapping. */
static void map_column(const gathering *g, const mapping_column *m, sheet_column *c)
{
    char plain[NAME_SIZE];
    plain_name(m->quantity, strlen(m->quantity), plain);
    c->reversed = m->reversed;
    if (find_use(plain, &c->use))
        return;
    c->use = USE_QUANTITY;
    find_quantity(g, plain, &c->row, &c->u);
    if (m->unit[0])
        c->u = unit_find(m->unit, g->dim[c->row]);
}

/* What a column is whose name the mapping does not have. */
static caber_status find_column(gathering *g, sheet *s, size_t i, const char *plain)
{
    sheet_column *c = &s->column[i];
    if (is_number(s->cell[i]))
        return FAIL_AT(g, s, i,
                       "this is no name of a column; a row of names is wanted before the shots");
    if (find_use(plain, &c->use) && strcmp(plain, "ignore") != 0)
        return CABER_OK;
    c->use = USE_QUANTITY;
    if (find_quantity(g, plain, &c->row, &c->u))
        return CABER_OK;
    c->use = USE_IGNORED;
    return g->map_file && g->map.others == MAPPING_IGNORE ? CABER_OK : unknown_name(g, s, i, plain);
}

/* The unit in brackets behind a name. With a mapping that gives one it may be anything. */
static caber_status take_bracket(gathering *g, sheet *s, size_t i, const char *symbol)
{
    sheet_column *c = &s->column[i];
    const dimension dim = g->dim[c->row];
    const unit *u = unit_find(symbol, dim);
    const bool fits = u && u->dim == dim;
    char clip[TEXT_CLIP_SIZE], list[128];
    if (fits && c->u && c->u != u)
        return FAIL_AT(g, s, i, "two units are given: %s and %s", c->u->symbol, u->symbol);
    if (!fits && !c->u) {
        unit_list(dim, list, sizeof list);
        return FAIL_AT(g, s, i, "\"%s\" is no unit of %s; allowed are %s", text_clip(symbol, clip),
                       dimension_title(dim), list);
    }
    c->u = fits ? u : c->u;
    return CABER_OK;
}

static caber_status name_column(gathering *g, sheet *s, size_t i)
{
    sheet_column *c = &s->column[i];
    char symbol[NAME_SIZE], plain[NAME_SIZE];
    const char *name = s->cell[i];
    snprintf(c->name, sizeof c->name, "%s", name);
    c->name[text_utf8_end(c->name, strlen(c->name))] = '\0';
    plain_name(name, bracket_of(name, symbol), plain);
    const mapping_column *m = g->map_file ? mapped(g, name) : NULL;
    caber_status status = CABER_OK;
    if (m)
        map_column(g, m, c);
    else
        status = find_column(g, s, i, plain);
    if (status != CABER_OK || c->use != USE_QUANTITY || !symbol[0])
        return status;
    return take_bracket(g, s, i, symbol);
}

/* Two columns of one name, or of one quantity. */
static caber_status check_twice(gathering *g, const sheet *s, size_t i)
{
    const sheet_column *c = &s->column[i];
    for (size_t k = 0; k < i; k++) {
        const sheet_column *before = &s->column[k];
        if (c->use == USE_IGNORED || before->use != c->use ||
            (c->use == USE_QUANTITY && before->row != c->row))
            continue;
        char clip[TEXT_CLIP_SIZE];
        if (!strcmp(before->name, c->name))
            return FAIL_AT(g, s, i, "this column was given before");
        return FAIL_AT(g, s, i, "the column \"%s\" is that already", text_clip(before->name, clip));
    }
    return CABER_OK;
}

static caber_status check_all_mapped(gathering *g, const sheet *s)
{
    for (size_t m = 0; m < g->map.column_count; m++) {
        bool found = false;
        for (size_t i = 0; i < s->width; i++)
            found = found || !strcmp(s->cell[i], g->map.columns[m].column);
        if (found)
            continue;
        char path[64], clip[TEXT_CLIP_SIZE];
        snprintf(path, sizeof path, "columns[%zu].column", m);
        return node_error(node_find(g->map_root, path), path, g->message,
                          "there is no column \"%s\" in line %zu of %s",
                          text_clip(g->map.columns[m].column, clip), s->lines.line, s->file);
    }
    return CABER_OK;
}

static caber_status read_names(gathering *g, sheet *s)
{
    const char *from, *to;
    skip_lines(s, g->map.skip);
    if (!csv_next_line(&s->lines, &from, &to)) {
        node place = {.file = s->file, .line = s->lines.line + (s->lines.line == 0), .column = 1};
        return node_error(&place, "", g->message,
                          "there is nothing in this file; a row of names and a row for each shot "
                          "are wanted");
    }
    caber_status status = split(g, s, from, to);
    s->width = s->count;
    if (status == CABER_OK && g->map_file)
        status = check_all_mapped(g, s);
    bool any = false;
    for (size_t i = 0; i < s->width && status == CABER_OK; i++) {
        status = name_column(g, s, i);
        if (status == CABER_OK)
            status = check_twice(g, s, i);
        any = any || s->column[i].use == USE_QUANTITY;
        s->has_setup = s->has_setup || s->column[i].use == USE_SETUP;
    }
    node place = {.file = s->file, .line = s->lines.line, .column = 1};
    if (status == CABER_OK && !any)
        status = node_error(&place, "", g->message, "there is no column of a measured quantity");
    return status;
}

/* Whether the line at hand holds units and no shot: no quantity has a number there, and one of them
 * has something. */
static bool is_row_of_units(const sheet *s)
{
    bool something = false;
    for (size_t i = 0; i < s->width; i++) {
        if (s->column[i].use != USE_QUANTITY)
            continue;
        if (is_number(s->cell[i]))
            return false;
        something = something || s->cell[i][0];
    }
    return something;
}

static caber_status take_unit(gathering *g, sheet *s, size_t i)
{
    sheet_column *c = &s->column[i];
    const dimension dim = g->dim[c->row];
    char clip[TEXT_CLIP_SIZE], list[128], *symbol = s->cell[i];
    const size_t length = strlen(symbol);
    if (length > 1 && (symbol[0] == '[' || symbol[0] == '(')) {
        symbol[length - 1] = '\0';
        symbol++;
    }
    const unit *u = unit_find(symbol, dim);
    const bool fits = u && u->dim == dim;
    if (fits && c->u && c->u != u && symbol[0])
        return FAIL_AT(g, s, i, "two units are given: %s, and %s in the row of units", c->u->symbol,
                       u->symbol);
    if (!fits && symbol[0] && !(c->u && g->map_file)) {
        unit_list(dim, list, sizeof list);
        return FAIL_AT(g, s, i,
                       "\"%s\" is no unit of %s; the row below the names gives the units, and "
                       "allowed are %s",
                       text_clip(symbol, clip), dimension_title(dim), list);
    }
    c->u = c->u || !fits ? c->u : u;
    return CABER_OK;
}

static caber_status check_unit(gathering *g, sheet *s, size_t i)
{
    sheet_column *c = &s->column[i];
    char list[128];
    if (c->use != USE_QUANTITY || c->u)
        return CABER_OK;
    c->u = unit_find("", g->dim[c->row]);
    if (c->u && c->u->dim == g->dim[c->row])
        return CABER_OK;
    unit_list(g->dim[c->row], list, sizeof list);
    return FAIL_AT(
        g, s, i,
        "its unit is not given; write it behind the name, as in \"%s [%s]\", or in a row "
        "below the names; allowed are %s",
        g->key[c->row], g->measurable[c->row].unit, list);
}

/* Takes the row of units, if there is one, and leaves the place before the first shot. */
static caber_status read_units(gathering *g, sheet *s)
{
    const char *from, *to;
    const csv_lines names = s->lines;
    const char *name_line = s->line;
    const char *name_from[SHEET_WIDTH];
    memcpy(name_from, s->from, sizeof name_from);
    skip_lines(s, g->map.skip_after);
    csv_lines before = s->lines;
    caber_status status = CABER_OK;
    const bool there = csv_next_line(&s->lines, &from, &to);
    if (there)
        status = split(g, s, from, to);
    const bool units = there && status == CABER_OK && s->count == s->width && is_row_of_units(s);
    for (size_t i = 0; units && i < s->width && status == CABER_OK; i++)
        if (s->column[i].use == USE_QUANTITY)
            status = take_unit(g, s, i);
    if (status != CABER_OK)
        return status;
    before = units ? s->lines : before;
    s->lines = names; /* where the names stand, for messages */
    s->line = name_line;
    memcpy(s->from, name_from, sizeof name_from);
    for (size_t i = 0; i < s->width && status == CABER_OK; i++)
        status = check_unit(g, s, i);
    s->lines = before;
    return status;
}

/* Reads names and units of a file; *out is to be freed either way. */
static caber_status open_sheet(gathering *g, const char *file, const char *text, size_t size,
                               sheet **out)
{
    sheet *s = *out = calloc(1, sizeof *s);
    if (!s)
        return no_memory(g);
    s->file = file;
    s->lines = (csv_lines){.at = text, .end = text + size};
    if (size >= 3 && !memcmp(text, "\xEF\xBB\xBF", 3))
        s->lines.at += 3;
    caber_status status = node_check_utf8(file, text, size, g->message);
    if (status == CABER_OK)
        status = read_names(g, s);
    if (status == CABER_OK)
        status = read_units(g, s);
    return status;
}

/* ------------------------------------------------------------------ shots */

/* The batch of that name, or the count. */
static size_t find_batch(const caber_measured *m, const char *name, size_t last)
{
    if (last < m->batch_count && !strcmp(m->batches[last].name, name))
        return last;
    size_t i = 0;
    while (i < m->batch_count && strcmp(m->batches[i].name, name))
        i++;
    return i;
}

static caber_status batch_named(gathering *g, const char *name, size_t *out)
{
    caber_measured *m = g->out;
    char cut[NAME_SIZE];
    snprintf(cut, sizeof cut, "%s", name);
    cut[text_utf8_end(cut, strlen(cut))] = '\0';
    *out = find_batch(m, cut, *out);
    if (*out < m->batch_count)
        return CABER_OK;
    if (m->batch_count == g->batch_capacity) {
        const size_t more = g->batch_capacity + 16;
        caber_batch *batches = realloc(m->batches, more * sizeof *batches);
        if (!batches)
            return no_memory(g);
        m->batches = batches;
        g->batch_capacity = more;
    }
    caber_batch *b = &m->batches[m->batch_count++];
    *b = (caber_batch){.count = 0};
    memcpy(b->name, cut, sizeof cut);
    return CABER_OK;
}

/* The file's name without its folder and ".csv"; its path when another file of that name came before. */
static const char *file_batch(const gathering *g, size_t file, char name[NAME_SIZE])
{
    const char *path = g->sheets[file]->file, *slash = strrchr(path, '/');
    const char *last = slash ? slash + 1 : path;
    for (size_t i = 0; i < file; i++) {
        const char *other = g->sheets[i]->file, *cut = strrchr(other, '/');
        if (!strcmp(last, cut ? cut + 1 : other))
            return path;
    }
    const char *point = strrchr(last, '.');
    const size_t length = point && point > last ? (size_t)(point - last) : strlen(last);
    snprintf(name, NAME_SIZE, "%.*s", (int)(length < NAME_SIZE ? length : NAME_SIZE - 1), last);
    return name;
}

static caber_status grow(gathering *g)
{
    caber_measured *m = g->out;
    if (m->count < g->capacity)
        return CABER_OK;
    const size_t more = g->capacity ? 2 * g->capacity : 64;
    caber_measured_shot *shots = realloc(m->shots, more * sizeof *shots);
    m->shots = shots ? shots : m->shots;
    double *value = realloc(m->value, more * (m->column_count + 1) * sizeof *value);
    m->value = value ? value : m->value;
    if (!shots || !value)
        return no_memory(g);
    g->capacity = more;
    return CABER_OK;
}

static caber_status read_value(gathering *g, const sheet *s, size_t i, double *out)
{
    const sheet_column *c = &s->column[i];
    const char *cell = s->cell[i], *end;
    char clip[TEXT_CLIP_SIZE], wanted[TEXT_CLIP_SIZE];
    double number;
    *out = NAN;
    if (!cell[0] || (g->map.missing[0] && !strcmp(cell, g->map.missing)))
        return CABER_OK;
    const text_number kind = text_to_double(cell, &number, &end);
    const char *symbol = c->use == USE_QUANTITY ? c->u->symbol : "";
    snprintf(wanted, sizeof wanted, "%s%s", symbol[0] ? "a number in " : "a plain number", symbol);
    if (kind != TEXT_NUMBER_FINE)
        return FAIL_AT(g, s, i, "\"%s\" %s; %s is wanted, or nothing where none was measured",
                       text_clip(cell, clip), text_number_problem(kind), wanted);
    if (*end)
        return FAIL_AT(g, s, i, "\"%s\" has something behind its number; %s alone is wanted",
                       text_clip(cell, clip), wanted);
    *out = c->use == USE_QUANTITY ? unit_to_si(c->u, number) : number;
    if (!isfinite(*out))
        return FAIL_AT(g, s, i, "\"%s\" is too large", text_clip(cell, clip));
    *out = c->reversed ? 0 - *out : *out;
    return CABER_OK;
}

static caber_status read_set_aside(gathering *g, const sheet *s, size_t i,
                                   caber_measured_shot *shot)
{
    char clip[TEXT_CLIP_SIZE];
    if (!strcmp(s->cell[i], "yes"))
        shot->broken |= 1u << CABER_CLEAN_BY_HAND;
    else if (s->cell[i][0] && strcmp(s->cell[i], "no") != 0)
        return FAIL_AT(g, s, i, "\"%s\" is not allowed; it must be yes or no",
                       text_clip(s->cell[i], clip));
    return CABER_OK;
}

static caber_status read_setup(gathering *g, const sheet *s, size_t i, caber_measured_shot *shot)
{
    if (!s->cell[i][0])
        return FAIL_AT(g, s, i, "is blank; it says which setup the shot belongs to");
    const caber_status status = batch_named(g, s->cell[i], &shot->batch);
    if (status == CABER_OK && g->out->batch_count > SHEET_BATCHES)
        return FAIL_AT(g, s, i, "there are more than %d setups", SHEET_BATCHES);
    return status;
}

static caber_status read_cell(gathering *g, const sheet *s, size_t i, caber_measured_shot *shot,
                              double *value)
{
    switch (s->column[i].use) {
    case USE_IGNORED:
        return CABER_OK;
    case USE_SHOT:
        return read_value(g, s, i, &shot->number);
    case USE_SETUP:
        return read_setup(g, s, i, shot);
    case USE_SET_ASIDE:
        return read_set_aside(g, s, i, shot);
    case USE_QUANTITY:
        return read_value(g, s, i, &value[g->place[s->column[i].row]]);
    }
    return CABER_OK;
}

static caber_status read_shot(gathering *g, sheet *s, size_t file, size_t *batch)
{
    caber_measured *m = g->out;
    caber_status status = check_width(g, s);
    if (status == CABER_OK)
        status = grow(g);
    if (status != CABER_OK)
        return status;
    double *value = m->value + m->count * m->column_count;
    caber_measured_shot *shot = &m->shots[m->count];
    *shot =
        (caber_measured_shot){.batch = *batch, .file = file, .line = s->lines.line, .number = NAN};
    for (int r = 0; r < CABER_CLEANINGS; r++)
        shot->column[r] = -1;
    for (size_t c = 0; c < m->column_count; c++)
        value[c] = NAN;
    for (size_t i = 0; i < s->width && status == CABER_OK; i++)
        status = read_cell(g, s, i, shot, value);
    *batch = shot->batch;
    m->count++;
    return status;
}

static caber_status read_shots(gathering *g, size_t file)
{
    sheet *s = g->sheets[file];
    char name[NAME_SIZE];
    const char *from, *to;
    const size_t first = g->out->count;
    size_t batch = 0;
    caber_status status = CABER_OK;
    if (!s->has_setup)
        status = batch_named(g, file_batch(g, file, name), &batch);
    while (status == CABER_OK && csv_next_line(&s->lines, &from, &to)) {
        status = split(g, s, from, to);
        if (status == CABER_OK && g->out->count - first == SHEET_ROWS)
            status = FAIL_AT(g, s, 0, "this file has more than %d shots", SHEET_ROWS);
        if (status == CABER_OK)
            status = read_shot(g, s, file, &batch);
    }
    node place = {.file = s->file, .line = s->lines.line, .column = 1};
    if (status == CABER_OK && g->out->count == first)
        status = node_error(&place, "", g->message, "there is no shot below the names");
    return status;
}

/* ------------------------------------------------------------------ the mapping */

/* Fails at a key of column i of the mapping. */
static caber_status fail_mapped(gathering *g, size_t i, const char *key, const char *problem)
{
    char path[64];
    snprintf(path, sizeof path, "columns[%zu].%s", i, key);
    return node_error(node_find(g->map_root, path), path, g->message, "%s", problem);
}

/* `u`: the unit that stands in the quantity's name, or NULL. */
static caber_status check_mapped_unit(gathering *g, size_t i, size_t row, const unit *u)
{
    const char *written = g->map.columns[i].unit;
    const unit *given = written[0] ? unit_find(written, g->dim[row]) : NULL;
    const bool fits = given && given->dim == g->dim[row];
    char clip[TEXT_CLIP_SIZE], list[128], problem[300];
    if (!written[0] || (fits && (!u || u == given)))
        return CABER_OK;
    unit_list(g->dim[row], list, sizeof list);
    if (fits)
        snprintf(problem, sizeof problem, "two units are given: %s, and %s in the quantity's name",
                 given->symbol, u->symbol);
    else
        snprintf(problem, sizeof problem, "\"%s\" is no unit of %s; allowed are %s",
                 text_clip(written, clip), dimension_title(g->dim[row]), list);
    return fail_mapped(g, i, "unit", problem);
}

static caber_status check_mapped(gathering *g, size_t i)
{
    const mapping_column *m = &g->map.columns[i];
    char plain[NAME_SIZE], clip[TEXT_CLIP_SIZE], problem[300];
    size_t row;
    use word;
    const unit *u;
    for (size_t k = 0; k < i; k++)
        if (!strcmp(g->map.columns[k].column, m->column)) {
            snprintf(problem, sizeof problem, "\"%s\" was mapped before",
                     text_clip(m->column, clip));
            return fail_mapped(g, i, "column", problem);
        }
    plain_name(m->quantity, strlen(m->quantity), plain);
    if (find_use(plain, &word))
        return CABER_OK;
    if (find_quantity(g, plain, &row, &u))
        return check_mapped_unit(g, i, row, u);
    const char *nearest = nearest_key(g, plain);
    snprintf(problem, sizeof problem,
             "\"%s\" is no quantity%s%s%s; 'caber fields measured' lists them, and setup, shot and "
             "ignore are allowed",
             text_clip(m->quantity, clip), nearest ? "; did you mean " : "", nearest ? nearest : "",
             nearest ? "?" : "");
    return fail_mapped(g, i, "quantity", problem);
}

static caber_status read_mapping(gathering *g, const char *file, const char *text, size_t size)
{
    const field_group *kind = fields_kind_mapping();
    decoding d = {.a = &g->a, .file = file, .message = g->message};
    caber_status status = node_parse(&g->a, file, text, size, &g->map_root, g->message);
    if (status == CABER_OK)
        status = decode_check_kind(g->map_root, kind->kind, g->message);
    if (status == CABER_OK)
        status = decode_group(&d, kind, g->map_root, g->map_root, &g->map);
    for (size_t i = 0; i < g->map.column_count && status == CABER_OK; i++)
        status = check_mapped(g, i);
    g->map_file = file;
    return status;
}

/* ------------------------------------------------------------------ all files */

static caber_status begin(gathering *g, size_t files)
{
    fill_measurables(g);
    g->sheets = calloc(files + 1, sizeof *g->sheets);
    g->out = calloc(1, sizeof *g->out);
    if (!g->sheets || !g->out)
        return no_memory(g);
    g->out->files = calloc(files + 1, sizeof *g->out->files);
    return g->out->files ? CABER_OK : no_memory(g);
}

static caber_status add_sheet(gathering *g, const char *path, const char *text, size_t size)
{
    caber_measured *m = g->out;
    const size_t i = m->file_count;
    for (size_t k = 0; k < i; k++)
        if (!strcmp(m->files[k], path) || source_is_same(m->files[k], path))
            return message_set(g->message, CABER_BAD_INPUT,
                               "%s: this file is given twice; its shots would count twice", path);
    m->files[i] = strdup(path);
    if (!m->files[i])
        return no_memory(g);
    m->file_count++;
    return open_sheet(g, m->files[i], text, size, &g->sheets[i]);
}

/* The columns of all files, in the order of caber_measurable_at. */
static caber_status make_columns(gathering *g)
{
    caber_measured *m = g->out;
    m->columns = calloc(g->measurables + 1, sizeof *m->columns);
    if (!m->columns)
        return no_memory(g);
    for (size_t row = 0; row < g->measurables; row++) {
        bool there = false;
        for (size_t f = 0; f < m->file_count; f++)
            for (size_t i = 0; i < g->sheets[f]->width; i++)
                there = there || (g->sheets[f]->column[i].use == USE_QUANTITY &&
                                  g->sheets[f]->column[i].row == row);
        if (!there)
            continue;
        g->place[row] = m->column_count;
        m->columns[m->column_count++] = g->measurable[row];
    }
    return CABER_OK;
}

static caber_status read_all(gathering *g)
{
    caber_status status = make_columns(g);
    for (size_t f = 0; f < g->out->file_count && status == CABER_OK; f++)
        status = read_shots(g, f);
    for (size_t i = 0; i < g->out->count && status == CABER_OK; i++)
        g->out->batches[g->out->shots[i].batch].count++;
    return status;
}

/* Frees all but the result, which is handed over when all went well. */
static caber_status finish(gathering *g, size_t files, caber_status status, caber_measured **out)
{
    if (status == CABER_OK)
        *out = g->out;
    else
        caber_measured_free(g->out);
    for (size_t i = 0; g->sheets && i < files; i++)
        free(g->sheets[i]);
    free(g->sheets);
    free(g->map.columns);
    arena_free(&g->a);
    return status == CABER_OK ? message_clear(g->message) : status;
}

caber_status files_read_shots(const char *name, const char *text, size_t size, const char *mapping,
                              size_t mapping_size, caber_measured **out, caber_message *message)
{
    gathering g = {.message = message};
    *out = NULL;
    caber_status status = begin(&g, 1);
    if (status == CABER_OK && mapping)
        status = read_mapping(&g, "mapping.yaml", mapping, mapping_size);
    if (status == CABER_OK)
        status = add_sheet(&g, name, text, size);
    if (status == CABER_OK)
        status = read_all(&g);
    return finish(&g, 1, status, out);
}

caber_status caber_measured_read(const char *const *paths, size_t count, const char *mapping,
                                 caber_measured **out, caber_message *message)
{
    gathering g = {.message = message};
    const char *text;
    size_t size;
    *out = NULL;
    caber_status status = begin(&g, count);
    if (status == CABER_OK && mapping)
        status = source_read(&g.a, mapping, &text, &size, message);
    if (status == CABER_OK && mapping)
        status = read_mapping(&g, mapping, text, size);
    for (size_t i = 0; i < count && status == CABER_OK; i++) {
        status = source_read_most(&g.a, paths[i], SHEET_BYTES, &text, &size, message);
        if (status == CABER_OK)
            status = add_sheet(&g, paths[i], text, size);
    }
    if (status == CABER_OK && count == 0)
        status = message_set(message, CABER_BAD_INPUT, "no file of shots was given");
    if (status == CABER_OK)
        status = read_all(&g);
    return finish(&g, count, status, out);
}
