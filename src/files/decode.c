/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/decode.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/csv.h"
#include "files/errors.h"
#include "files/source.h"

const char *decode_shown_path(const decoding *d, const node *where, const char *path)
{
    bool in_setup = where->line == 0 || !strcmp(where->file, d->file);
    const char *point = strchr(path, '.');
    return in_setup || !point ? path : point + 1;
}

static const char *const node_words[] = {"a value", "a list", "a mapping"};

/* ------------------------------------------------------------------ keys */

static bool group_has_key(const field_group *group, const char *key)
{
    if (group->kind && !strcmp(key, "kind"))
        return true;
    for (size_t i = 0; i < group->count; i++)
        if (!strcmp(group->fields[i].name, key))
            return true;
    return false;
}

static void list_keys(const field_group *group, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i <= group->count && used < size; i++) {
        const char *key = i < group->count ? group->fields[i].name : group->also;
        if (!key)
            continue;
        int n = snprintf(text + used, size - used, "%s%s", used ? ", " : "", key);
        used += n > 0 ? (size_t)n : 0;
    }
}

static const char *nearest_key(const field_group *group, const char *key)
{
    const char *nearest = NULL;
    size_t least = 3;
    for (size_t i = 0; i < group->count; i++) {
        size_t distance = text_distance(key, group->fields[i].name, least);
        /* Two changes of a two-letter key would suggest anything. */
        if (distance < least && distance < strlen(key)) {
            least = distance;
            nearest = group->fields[i].name;
        }
    }
    return nearest;
}

static caber_status unknown_key(decoding *d, const field_group *group, const node *child)
{
    node place = *child;
    if (child->key_line) {
        place.line = child->key_line;
        place.column = child->key_column;
    }
    char keys[400], clip[TEXT_CLIP_SIZE];
    list_keys(group, keys, sizeof keys);
    const char *nearest = nearest_key(group, child->key);
    size_t before = field_path_key(&d->path, text_clip(child->key, clip));
    caber_status status = DECODE_FAIL(d, &place, "there is no such key%s%s%s; allowed are %s",
                                      nearest ? "; did you mean " : "", nearest ? nearest : "",
                                      nearest ? "?" : "", keys);
    field_path_cut(&d->path, before);
    return status;
}

static caber_status check_kind(decoding *d, const field_group *group, const node *kind)
{
    if (!kind || (kind->type == NODE_SCALAR && !strcmp(kind->text, group->kind)))
        return CABER_OK;
    char clip[TEXT_CLIP_SIZE];
    field_path_key(&d->path, "kind");
    return DECODE_FAIL(d, kind, "%s is not allowed; it must be %s",
                       kind->type == NODE_SCALAR ? text_clip(kind->text, clip)
                                                 : node_words[kind->type],
                       group->kind);
}

caber_status decode_check_kind(const node *root, const char *kind, caber_message *message)
{
    if (root->type != NODE_MAPPING)
        return node_error(root, "", message, "a mapping is wanted, beginning with kind: %s", kind);
    const node *given = node_get(root, "kind");
    if (!given)
        return node_error(root, "kind", message, "is missing; this file must say kind: %s", kind);
    if (given->type != NODE_SCALAR)
        return node_error(given, "kind", message, "a word is wanted; it must be %s", kind);
    char clip[TEXT_CLIP_SIZE];
    if (strcmp(given->text, kind))
        return node_error(given, "kind", message, "%s is not allowed; it must be %s",
                          text_clip(given->text, clip), kind);
    return CABER_OK;
}

caber_status decode_check_keys(decoding *d, const field_group *group, const node *n)
{
    for (size_t i = 0; i < n->count; i++)
        if (!group_has_key(group, n->items[i]->key))
            return unknown_key(d, group, n->items[i]);
    return group->kind ? check_kind(d, group, node_get(n, "kind")) : CABER_OK;
}

/* ------------------------------------------------------------------ single values */

/* Returns the text of a scalar, or NULL after a message. */
static const char *scalar_text(decoding *d, const node *n, const char *wanted, caber_status *status)
{
    *status = CABER_OK;
    if (n->type == NODE_SCALAR)
        return n->text;
    *status = DECODE_FAIL(d, n, "this is %s; %s is wanted", node_words[n->type], wanted);
    return NULL;
}

static caber_status check_range(decoding *d, const field *f, const node *n, double value)
{
    if (field_allows(f, value))
        return CABER_OK;
    char range[160], clip[TEXT_CLIP_SIZE];
    field_range(f, range, sizeof range);
    return DECODE_FAIL(d, n, "%s is not allowed; it must be %s", text_clip(n->text, clip), range);
}

static caber_status decode_number(decoding *d, const node *n, dimension dim, double *out)
{
    caber_status status;
    const char *text = scalar_text(d, n, dimension_title(dim), &status);
    if (!text)
        return status;
    caber_message problem;
    if (quantity_parse(text, dim, out, &problem) != CABER_OK)
        return DECODE_FAIL(d, n, "%s", problem.text);
    return CABER_OK;
}

static caber_status decode_quantity(decoding *d, const field *f, const node *n, char *at)
{
    double value;
    caber_status status = decode_number(d, n, f->dim, &value);
    if (status == CABER_OK)
        status = check_range(d, f, n, value);
    if (status == CABER_OK)
        memcpy(at, &value, sizeof value);
    return status;
}

static caber_status decode_integer(decoding *d, const field *f, const node *n, char *at)
{
    double value;
    caber_status status = decode_number(d, n, DIMENSION_NONE, &value);
    if (status == CABER_OK)
        status = check_range(d, f, n, value);
    if (status != CABER_OK)
        return status;
    char clip[TEXT_CLIP_SIZE];
    if (value != floor(value))
        return DECODE_FAIL(d, n, "%s is not allowed; it must be a whole number",
                           text_clip(n->text, clip));
    int integer = (int)value;
    memcpy(at, &integer, sizeof integer);
    return CABER_OK;
}

static caber_status decode_boolean(decoding *d, const node *n, char *at)
{
    caber_status status;
    const char *text = scalar_text(d, n, "yes or no", &status);
    if (!text)
        return status;
    bool yes = !strcmp(text, "yes") || !strcmp(text, "true");
    if (!yes && strcmp(text, "no") && strcmp(text, "false")) {
        char clip[TEXT_CLIP_SIZE];
        return DECODE_FAIL(d, n, "\"%s\" is not allowed; it must be yes or no",
                           text_clip(text, clip));
    }
    memcpy(at, &yes, sizeof yes);
    return CABER_OK;
}

static caber_status decode_word(decoding *d, const field *f, const node *n, char *at)
{
    caber_status status;
    char words[160], clip[TEXT_CLIP_SIZE];
    field_words(f, words, sizeof words);
    const char *text = scalar_text(d, n, words, &status);
    if (!text)
        return status;
    for (unsigned i = 0; f->words[i]; i++)
        if (f->words[i][0] && !strcmp(f->words[i], text)) {
            memcpy(at, &i, sizeof i);
            return CABER_OK;
        }
    return DECODE_FAIL(d, n, "\"%s\" is not allowed; it must be %s", text_clip(text, clip), words);
}

static caber_status decode_text(decoding *d, const field *f, const node *n, char *at)
{
    caber_status status;
    const char *text = scalar_text(d, n, "text", &status);
    if (!text)
        return status;
    size_t size = (size_t)f->max, length = strlen(text);
    if (length >= size)
        return DECODE_FAIL(d, n, "this text has %zu bytes; at most %zu are allowed", length,
                           size - 1);
    memcpy(at, text, length + 1);
    return CABER_OK;
}

/* ------------------------------------------------------------------ lists and tables */

static caber_status out_of_memory(decoding *d)
{
    return message_set(d->message, CABER_NO_MEMORY, "out of memory");
}

static caber_status decode_list(decoding *d, const field *f, const node *n, char *object)
{
    if (n->type != NODE_SEQUENCE)
        return DECODE_FAIL(d, n, "this is %s; a list is wanted, an entry (- ...) for each",
                           node_words[n->type]);
    if ((double)n->count < f->min || (double)n->count > f->max)
        return DECODE_FAIL(d, n,
                           "%zu entries are not allowed; there must be at least %g and at most %g",
                           n->count, f->min, f->max);
    if (n->count == 0)
        return CABER_OK;
    char *items = calloc(n->count, f->item_size);
    if (!items)
        return out_of_memory(d);
    memcpy(object + f->offset, &items, sizeof items);
    memcpy(object + f->count_offset, &n->count, sizeof n->count);
    for (size_t i = 0; i < n->count; i++) {
        size_t before = field_path_index(&d->path, i);
        caber_status status =
            decode_group(d, f->group, n->items[i], n->items[i], items + i * f->item_size);
        if (status != CABER_OK)
            return status;
        field_path_cut(&d->path, before);
    }
    return CABER_OK;
}

/* A CSV file that a scalar names. */
typedef struct named_file {
    const char *path, *text;
    size_t size;
} named_file;

/* `also` says what else may stand there. */
static caber_status read_named_file(decoding *d, const node *n, const char *also, named_file *out)
{
    const char *named_in = n->line ? n->file : "";
    out->path = source_path(d->a, named_in, n->text);
    if (!out->path)
        return out_of_memory(d);
    if (!n->text[0])
        return DECODE_FAIL(d, n, "is empty; the path of a CSV file is wanted%s", also);
    caber_message problem;
    caber_status status =
        source_read_within(d->a, d->fence, out->path, &out->text, &out->size, &problem);
    if (status != CABER_OK)
        DECODE_FAIL(d, n, "%s", problem.text);
    return status;
}

caber_status decode_csv(decoding *d, const field *f, const node *n, const char *also,
                        field_rows *out)
{
    named_file csv;
    caber_status status = read_named_file(d, n, also, &csv);
    if (status == CABER_OK)
        status = csv_read(csv.path, csv.text, csv.size, f->group, (size_t)f->min, (size_t)f->max,
                          out, d->message);
    if (status == CABER_OK && !(out->path = strdup(n->text)))
        status = out_of_memory(d);
    return status;
}

static caber_status decode_table_file(decoding *d, const node *n, dimension dim, caber_table *out)
{
    named_file csv;
    caber_status status = read_named_file(d, n, ", or {time: [...], value: [...]}", &csv);
    if (status != CABER_OK)
        return status;
    return csv_parse(csv.path, csv.text, csv.size, dim, out, d->message);
}

static caber_status decode_rows(decoding *d, const field *f, const node *n, char *object)
{
    caber_status status;
    field_rows rows = {0};
    if (scalar_text(d, n, "the path of a CSV file", &status))
        status = decode_csv(d, f, n, "", &rows);
    memcpy(object + f->offset, &rows, sizeof rows);
    return status;
}

static caber_status decode_texts(decoding *d, const field *f, const node *n, char *object)
{
    caber_status status = CABER_OK;
    field_texts texts = {0};
    if (n->type != NODE_SEQUENCE)
        return DECODE_FAIL(d, n, "this is %s; a list is wanted, as [..., ...]",
                           node_words[n->type]);
    if ((double)n->count < f->min || (double)n->count > f->max)
        return DECODE_FAIL(d, n,
                           "%zu entries are not allowed; there must be at least %g and at most %g",
                           n->count, f->min, f->max);
    texts.items = calloc(n->count + 1, sizeof *texts.items);
    for (size_t i = 0; texts.items && i < n->count && status == CABER_OK; i++) {
        const size_t before = field_path_index(&d->path, i);
        const char *text = scalar_text(d, n->items[i], "text", &status);
        if (status == CABER_OK)
            field_path_cut(&d->path, before);
        texts.items[i] = text ? strdup(text) : NULL;
        if (text && !texts.items[i])
            status = out_of_memory(d);
        texts.count += texts.items[i] != NULL;
    }
    memcpy(object + f->offset, &texts, sizeof texts);
    return texts.items ? status : out_of_memory(d);
}

caber_status decode_numbers(decoding *d, const node *n, dimension dim, double *out)
{
    for (size_t i = 0; i < n->count; i++) {
        size_t before = field_path_index(&d->path, i);
        caber_status status = decode_number(d, n->items[i], dim, &out[i]);
        if (status != CABER_OK)
            return status;
        field_path_cut(&d->path, before);
    }
    return CABER_OK;
}

static caber_status check_table_shape(decoding *d, const node *n)
{
    const node *time = node_get(n, "time"), *value = node_get(n, "value");
    if (n->count != 2 || !time || !value || time->type != NODE_SEQUENCE ||
        value->type != NODE_SEQUENCE)
        return DECODE_FAIL(
            d, n,
            "a table has two lists, {time: [...], value: [...]}, or is the path of a "
            "CSV file");
    if (time->count != value->count)
        return DECODE_FAIL(d, n, "time has %zu entries and value %zu; they must be as many",
                           time->count, value->count);
    if (time->count < FIELD_TABLE_LEAST || time->count > FIELD_TABLE_MOST)
        return DECODE_FAIL(d, n,
                           "%zu rows are not allowed; there must be at least %d and at most %d",
                           time->count, FIELD_TABLE_LEAST, FIELD_TABLE_MOST);
    return CABER_OK;
}

static caber_status decode_table_here(decoding *d, const node *n, dimension dim, caber_table *out)
{
    caber_status status = check_table_shape(d, n);
    if (status != CABER_OK)
        return status;
    const node *time = node_get(n, "time"), *value = node_get(n, "value");
    out->count = time->count;
    out->time = calloc(out->count, sizeof *out->time);
    out->value = calloc(out->count, sizeof *out->value);
    if (!out->time || !out->value)
        return out_of_memory(d);
    size_t before = field_path_key(&d->path, "time");
    status = decode_numbers(d, time, DIMENSION_TIME, out->time);
    if (status != CABER_OK)
        return status;
    field_path_cut(&d->path, before);
    field_path_key(&d->path, "value");
    status = decode_numbers(d, value, dim, out->value);
    if (status == CABER_OK)
        field_path_cut(&d->path, before);
    return status;
}

static caber_status decode_table(decoding *d, const field *f, const node *n, char *object)
{
    dimension dim = field_table_dimension(object);
    caber_table table = {0};
    caber_status status = CABER_OK;
    if (n->type == NODE_SCALAR)
        status = decode_table_file(d, n, dim, &table);
    else if (n->type == NODE_MAPPING)
        status = decode_table_here(d, n, dim, &table);
    else
        status = check_table_shape(d, n);
    memcpy(object + f->offset, &table, sizeof table);
    return status;
}

/* ------------------------------------------------------------------ fields and groups */

static caber_status missing(decoding *d, const field *f, const node *where)
{
    char allowed[200] = "", range[160];
    if (f->type == FIELD_QUANTITY) {
        field_range(f, range, sizeof range);
        snprintf(allowed, sizeof allowed, "; it must be %s", range);
    }
    return DECODE_FAIL(d, where, "is missing%s%s (%s)%s", f->needed_text ? ", but needed " : "",
                       f->needed_text ? f->needed_text : "", f->meaning, allowed);
}

static caber_status decode_absent(decoding *d, const field_group *group, const field *f,
                                  const node *where, char *object)
{
    if (f->type == FIELD_GROUP)
        return decode_group(d, f->group, NULL, where, object + f->offset);
    if (field_needed(f, object))
        return missing(d, f, where);
    unsigned word = (unsigned)f->fallback;
    if (f->type == FIELD_QUANTITY && !group->fill)
        memcpy(object + f->offset, &f->fallback, sizeof f->fallback);
    if (f->type == FIELD_WORD)
        memcpy(object + f->offset, &word, sizeof word);
    return CABER_OK;
}

static caber_status decode_present(decoding *d, const field *f, const node *n, char *object)
{
    char *at = object + f->offset;
    switch (f->type) {
    case FIELD_QUANTITY:
        return decode_quantity(d, f, n, at);
    case FIELD_INTEGER:
        return decode_integer(d, f, n, at);
    case FIELD_BOOLEAN:
        return decode_boolean(d, n, at);
    case FIELD_WORD:
        return decode_word(d, f, n, at);
    case FIELD_TEXT:
        return decode_text(d, f, n, at);
    case FIELD_GROUP:
        return decode_group(d, f->group, n, n, at);
    case FIELD_LIST:
        return decode_list(d, f, n, object);
    case FIELD_TABLE:
        return decode_table(d, f, n, object);
    case FIELD_ROWS:
        return decode_rows(d, f, n, object);
    case FIELD_ERRORS:
        return errors_decode(d, f, n, object);
    case FIELD_TEXTS:
        return decode_texts(d, f, n, object);
    }
    return message_set(d->message, CABER_INTERNAL, "a field of an unknown type");
}

static caber_status check_is_mapping(decoding *d, const field_group *group, const node *n)
{
    if (n->type == NODE_MAPPING)
        return CABER_OK;
    char keys[400];
    list_keys(group, keys, sizeof keys);
    bool empty = n->type == NODE_SCALAR && !n->text[0];
    return DECODE_FAIL(d, n, "this is %s; a mapping is wanted, with the keys %s",
                       empty ? "empty" : node_words[n->type], keys);
}

caber_status decode_group(decoding *d, const field_group *group, const node *n, const node *where,
                          void *object)
{
    caber_status status = n ? check_is_mapping(d, group, n) : CABER_OK;
    if (status == CABER_OK && n)
        status = decode_check_keys(d, group, n);
    if (status != CABER_OK)
        return status;
    if (group->fill)
        group->fill(object);
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        const node *child = node_get(n, f->name);
        size_t before = field_path_key(&d->path, f->name);
        status =
            child ? decode_present(d, f, child, object) : decode_absent(d, group, f, where, object);
        if (status != CABER_OK)
            return status;
        field_path_cut(&d->path, before);
    }
    return CABER_OK;
}
