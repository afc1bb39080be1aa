/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The reference of all files, from the field tables. */
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/files.h"
#include "swing/fields_table.h"

enum { LINE_SIZE = 400, NAME_WIDTH = 22, PAGE_WIDTH = 80 };

typedef struct page {
    FILE *out;
    bool scdoc;
} page;

/* Words of scdoc that would otherwise change the font, or begin an escape. */
static void put_words(const page *p, const char *text)
{
    for (; *text; text++) {
        if (p->scdoc && strchr("_*\\#<>~`", *text))
            fputc('\\', p->out);
        fputc(*text, p->out);
    }
}

/* Text in lines of the page's width, each `indent` in; scdoc wraps by itself. */
static void put_wrapped(const page *p, const char *text, size_t indent)
{
    if (p->scdoc) {
        put_words(p, text);
        fputc('\n', p->out);
        return;
    }
    size_t column = 0;
    while (*text) {
        size_t length = strcspn(text, " ");
        bool fits = column + 1 + length <= PAGE_WIDTH;
        if (column == 0 || !fits) {
            fprintf(p->out, "%s%*s", column ? "\n" : "", (int)indent, "");
            column = indent;
        } else {
            fputc(' ', p->out);
            column++;
        }
        fwrite(text, 1, length, p->out);
        column += length;
        text += length;
        text += *text == ' ';
    }
    fputc('\n', p->out);
}

static void put_heading(const page *p, const char *kind, const char *meaning)
{
    if (p->scdoc) {
        fputs("\n# ", p->out);
        for (; *kind; kind++)
            fputc(*kind >= 'a' && *kind <= 'z' ? *kind - 'a' + 'A' : *kind, p->out);
        fputs("\n\n", p->out);
        if (meaning[0]) {
            put_words(p, meaning);
            fputs("\n\n", p->out);
        }
        return;
    }
    fprintf(p->out, "%s%s%s\n", kind, meaning[0] ? ": " : "", meaning);
}

/* ------------------------------------------------------------------ one field */

static void describe_default(const field *f, const field_group *group, char *text, size_t size)
{
    char value[64];
    if (f->flags & FIELD_REQUIRED)
        snprintf(text, size, "required");
    else if (f->needed_text)
        snprintf(text, size, "required %s", f->needed_text);
    else if (f->fallback_text)
        snprintf(text, size, "default %s", f->fallback_text);
    else if (f->type == FIELD_QUANTITY && !group->fill) {
        quantity_write_short(f->fallback, unit_find(f->unit, f->dim), value, sizeof value);
        snprintf(text, size, "default %s", value);
    } else {
        snprintf(text, size, "may be left out");
    }
}

/* The default of a field whose group takes its defaults from a function. */
static void describe_filled(const field *f, const field_group *group, char *text, size_t size)
{
    caber_settings filled;
    group->fill(&filled);
    const char *at = (const char *)&filled + f->offset;
    double number;
    int integer;
    bool yes;
    char value[64];
    if (f->type == FIELD_QUANTITY) {
        memcpy(&number, at, sizeof number);
        quantity_write_short(number, unit_find(f->unit, f->dim), value, sizeof value);
        snprintf(text, size, "default %s", value);
    } else if (f->type == FIELD_INTEGER) {
        memcpy(&integer, at, sizeof integer);
        snprintf(text, size, "default %d", integer);
    } else {
        memcpy(&yes, at, sizeof yes);
        snprintf(text, size, "default %s", yes ? "yes" : "no");
    }
}

static void describe_kind(const field *f, char *text, size_t size)
{
    char part[200];
    switch (f->type) {
    case FIELD_QUANTITY:
        field_range(f, part, sizeof part);
        snprintf(text, size, "%s, %s", dimension_title(f->dim), part);
        break;
    case FIELD_INTEGER:
        snprintf(text, size, "a whole number, at least %.0f and at most %.0f", f->min, f->max);
        break;
    case FIELD_BOOLEAN:
        snprintf(text, size, "yes or no");
        break;
    case FIELD_WORD:
        field_words(f, part, sizeof part);
        snprintf(text, size, "%s", part);
        break;
    case FIELD_TEXT:
        snprintf(text, size, "text of at most %g bytes", f->max - 1);
        break;
    case FIELD_LIST:
        snprintf(text, size, "a list of at least %g and at most %g", f->min, f->max);
        break;
    case FIELD_TABLE:
        snprintf(text, size,
                 "a table of %d rows or more: the path of a CSV file, or "
                 "{time: [...], value: [...]}",
                 FIELD_TABLE_LEAST);
        break;
    case FIELD_ROWS:
        snprintf(text, size, "the path of a CSV file of at least %g and at most %g rows", f->min,
                 f->max);
        break;
    case FIELD_ERRORS:
        snprintf(text, size,
                 "the path of a CSV file of at most %g rows, lists under the names of its columns, "
                 "or none",
                 f->max);
        break;
    case FIELD_TEXTS:
        snprintf(text, size, "a list of at least %g and at most %g, each a text", f->min, f->max);
        break;
    case FIELD_GROUP:
        snprintf(text, size, "a mapping");
        break;
    }
}

static void put_field(const page *p, const field_group *group, const field *f,
                      const field_path *path)
{
    char kind[LINE_SIZE], absent[LINE_SIZE], line[3 * LINE_SIZE];
    describe_kind(f, kind, sizeof kind);
    if (group->fill)
        describe_filled(f, group, absent, sizeof absent);
    else
        describe_default(f, group, absent, sizeof absent);
    snprintf(line, sizeof line, "%s; %s.", kind, absent);
    if (p->scdoc) {
        fputc('*', p->out);
        put_words(p, path->text);
        fputs("*\n\t", p->out);
        put_words(p, f->meaning);
        fputs(".++\n", p->out);
        put_wrapped(p, line, 0);
        fputc('\n', p->out);
        return;
    }
    fprintf(p->out, "  %s\n", path->text);
    put_wrapped(p, f->meaning, 6);
    put_wrapped(p, line, 6);
}

static void put_group(const page *p, const field_group *group, field_path *path)
{
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        size_t before = field_path_key(path, f->name);
        if (f->type != FIELD_GROUP)
            put_field(p, group, f, path);
        if (f->type == FIELD_LIST) {
            /* Entries stand for any index. */
            strncat(path->text, "[]", sizeof path->text - path->length - 1);
            path->length = strlen(path->text);
        }
        if (f->group && !f->group->kind)
            put_group(p, f->group, path);
        field_path_cut(path, before);
    }
}

/* ------------------------------------------------------------------ what stands around */

static const char *const introduction[] = {
    "A file is YAML in UTF-8: one document, without anchors, aliases, tags or repeated keys. Its "
    "key kind says what it is: shaft, head, grip, player, setup, readings, mapping or study.",
    "A quantity is a plain number in SI, or a number and a unit, such as 45.25 in, 205 g, 12 ft "
    "lbf "
    "or 20 deg. Numbers have a decimal point. A power may also be written N m^2, and a product "
    "N*m2.",
    "A setup names the shaft, the head, the grip and the player: each is the path of a file, from "
    "the folder of the file that names it, or a mapping with the keys of that kind. With the key "
    "file, a mapping is laid over the file it names: its keys replace the ones there, mappings are "
    "merged, lists replaced. The key load of a setup is laid over the player's load.",
    "On the command line, --set path=value sets any key of a setup, such as shaft.damping, "
    "shaft.stations[3].ei, player.arm.length or load.grip.rise. An index one beyond the end of a "
    "list adds an entry. A path of a file given so is taken from the current directory.",
    "A CSV file has a row of column names, a row of units, and rows of numbers in those units; the "
    "columns may stand in any order, and lines that begin with # are comments. Below, what stands "
    "behind a key that names a CSV are its columns. A column that is not required may be left out, "
    "and its cells may be blank.",
    "A table through time has the column time and one other. Time ascends, and begins at or before "
    "0 s.",
    "Readings are what was read on the bench on one shaft: a key for each kind of jig, with what "
    "stays the same on it, and the CSV of what was read. A column that the jig's own key replaces "
    "may be left out; a cell that is not blank comes before the key. Each reading's standard "
    "deviation is the root of the squares of resolution/sqrt(12) and repeatability times the "
    "reading, and must be above 0. Places are from the tip of the uncut shaft.",
    "A mapping says what the columns of a file of measured shots are, where they have names of "
    "their "
    "own. Such a CSV has a row of names, perhaps a row of units, and a row a shot; the mapping "
    "says "
    "what stands between its cells and which lines to leave out.",
    "A study names a setup, the inputs of it that are varied, and the design: which values they "
    "take "
    "together. A factor's path is that of --set, and its values have units as anywhere. A file "
    "that is "
    "chosen is read as if it stood in the setup: shaft replaces what the setup says of its shaft, "
    "shaft.file lets the setup's own keys lie over it.",
};

static void put_introduction(const page *p)
{
    if (p->scdoc)
        fputs("caber-files(5)\n\n# NAME\n\ncaber-files - shafts, heads, grips, players, setups, "
              "readings and mappings as files\n",
              p->out);
    put_heading(p, p->scdoc ? "description" : "Files", "");
    for (size_t i = 0; i < sizeof introduction / sizeof introduction[0]; i++) {
        if (p->scdoc || i > 0)
            fputc('\n', p->out);
        put_wrapped(p, introduction[i], 2);
    }
}

static void put_units(const page *p)
{
    put_heading(p, p->scdoc ? "units" : "\nUnits", "");
    for (int i = 0; i < DIMENSION_COUNT; i++) {
        dimension dim = (dimension)i;
        char list[LINE_SIZE];
        unit_list(dim, list, sizeof list);
        if (p->scdoc) {
            fputs("*", p->out);
            put_words(p, dimension_title(dim));
            fputs("*\n\t", p->out);
            put_wrapped(p, list, 0);
            fputc('\n', p->out);
        } else {
            fprintf(p->out, "  %-32s %s\n", dimension_title(dim), list);
        }
    }
}

/* The keys of a setup that the reader resolves before the table is used. */
static void put_setup_parts(const page *p)
{
    static const char *const parts[][2] = {
        {"shaft, head, grip, player",
         "the path of a file of that kind, or a mapping with its keys, "
         "with or without the key file; required"},
        {"load", "laid over the load of the player; may be left out"},
    };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        fputs(p->scdoc ? "*" : "  ", p->out);
        put_words(p, parts[i][0]);
        fputs(p->scdoc ? "*\n\t" : "\n", p->out);
        put_wrapped(p, parts[i][1], 6);
        if (p->scdoc)
            fputc('\n', p->out);
    }
}

static const field *field_named(const field_group *group, const char *name)
{
    for (size_t i = 0; i < group->count; i++)
        if (!strcmp(group->fields[i].name, name))
            return &group->fields[i];
    return NULL;
}

static void put_kind(const page *p, const field_group *group)
{
    field_path path = {.length = 0};
    put_heading(p, group->kind, group->meaning);
    if (group != fields_kind_setup()) {
        put_group(p, group, &path);
        return;
    }
    put_setup_parts(p);
    put_group(p, group, &path);
    /* The one key that a shaft has only inside a setup. */
    const field_group *shaft = field_named(group, "shaft")->group;
    const field *sections = field_named(shaft, "sections");
    const field_group only = {.fields = sections, .count = 1};
    field_path_key(&path, "shaft");
    put_group(p, &only, &path);
}

static caber_status finish(FILE *out, caber_message *message)
{
    if (fflush(out) || ferror(out))
        return message_set(message, CABER_IO_ERROR, "the reference could not be written");
    return message_clear(message);
}

static const field_group *kind_named(const char *kind)
{
    const field_group *group = NULL;
    for (size_t i = 0; (group = fields_kind(i)) && strcmp(group->kind, kind); i++)
        continue;
    return group;
}

bool files_has_kind(const char *kind)
{
    return kind_named(kind) != NULL;
}

caber_status files_reference_kind(FILE *out, const char *kind, caber_message *message)
{
    const page p = {.out = out};
    const field_group *group = kind_named(kind);
    if (!group)
        return message_set(message, CABER_BAD_INPUT, "%s: there is no such kind of file", kind);
    put_kind(&p, group);
    return finish(out, message);
}

caber_status files_reference(FILE *out, files_format format, caber_message *message)
{
    page p = {.out = out, .scdoc = format == FILES_SCDOC};
    put_introduction(&p);
    const field_group *group;
    for (size_t i = 0; (group = fields_kind(i)); i++) {
        if (!p.scdoc)
            fputc('\n', out);
        put_kind(&p, group);
    }
    put_units(&p);
    if (p.scdoc)
        fputs("\n# SEE ALSO\n\n*caber*(1), *caber-profile*(1)\n", out);
    return finish(out, message);
}
