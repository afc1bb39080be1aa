/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/node.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <yaml.h>

#include "base/message.h"
#include "base/text.h"

/* ------------------------------------------------------------------ errors */

static caber_status place_error(const char *file, size_t line, size_t column, const char *field,
                                const char *problem, caber_message *message)
{
    const char *gap = field[0] ? ": " : "";
    if (line == 0)
        return message_set(message, CABER_BAD_INPUT, "%s: %s%s%s", file, field, gap, problem);
    return message_set(message, CABER_BAD_INPUT, "%s:%zu:%zu: %s%s%s", file, line, column, field,
                       gap, problem);
}

caber_status node_error(const node *where, const char *field, caber_message *message,
                        const char *format, ...)
{
    char problem[sizeof message->text];
    va_list args;
    va_start(args, format);
    vsnprintf(problem, sizeof problem, format, args);
    va_end(args);
    return place_error(where->file, where->line, where->column, field, problem, message);
}

/* ------------------------------------------------------------------ parsing */

typedef struct reading {
    arena *a;
    const char *file;
    yaml_parser_t *parser;
    size_t nodes;
    caber_message *message;
} reading;

static caber_status reading_error(reading *r, yaml_mark_t mark, const char *problem)
{
    return place_error(r->file, mark.line + 1, mark.column + 1, "", problem, r->message);
}

/* libyaml's own words, with its context when there is one. */
static caber_status reading_yaml_error(reading *r)
{
    const yaml_parser_t *p = r->parser;
    if (p->error == YAML_MEMORY_ERROR)
        return message_set(r->message, CABER_NO_MEMORY, "%s: out of memory", r->file);
    char problem[256];
    snprintf(problem, sizeof problem, "this is not YAML: %s%s%s", p->context ? p->context : "",
             p->context ? ", " : "", p->problem ? p->problem : "it cannot be read");
    /* The scanner reports through problem_mark, the byte reader only through an offset. */
    yaml_mark_t mark = p->error == YAML_READER_ERROR ? p->mark : p->problem_mark;
    return reading_error(r, mark, problem);
}

static caber_status reading_next(reading *r, yaml_event_t *event)
{
    return yaml_parser_parse(r->parser, event) ? CABER_OK : reading_yaml_error(r);
}

static node *reading_node(reading *r, node_type type, const yaml_event_t *event)
{
    node *n = arena_take(r->a, sizeof *n);
    if (!n)
        return NULL;
    n->type = type;
    n->file = r->file;
    n->line = event->start_mark.line + 1;
    n->column = event->start_mark.column + 1;
    return n;
}

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

static caber_status node_append(arena *a, node *parent, node *child)
{
    if (parent->count == parent->capacity) {
        size_t capacity = parent->capacity ? 2 * parent->capacity : 8;
        node **items = arena_take(a, capacity * sizeof *items);
        if (!items)
            return CABER_NO_MEMORY;
        if (parent->count)
            memcpy(items, parent->items, parent->count * sizeof *items);
        parent->items = items;
        parent->capacity = capacity;
    }
    parent->items[parent->count++] = child;
    return CABER_OK;
}

/* Anchors and tags would make a value mean something else than it says. */
static caber_status reading_refuse(reading *r, const yaml_event_t *event)
{
    const yaml_char_t *anchor = NULL, *tag = NULL;
    switch (event->type) {
    case YAML_ALIAS_EVENT:
        return reading_error(r, event->start_mark,
                             "an alias (*name) is not allowed; write the value itself");
    case YAML_SCALAR_EVENT:
        anchor = event->data.scalar.anchor;
        tag = event->data.scalar.tag;
        break;
    case YAML_SEQUENCE_START_EVENT:
        anchor = event->data.sequence_start.anchor;
        tag = event->data.sequence_start.tag;
        break;
    case YAML_MAPPING_START_EVENT:
        anchor = event->data.mapping_start.anchor;
        tag = event->data.mapping_start.tag;
        break;
    default:
        break;
    }
    if (anchor)
        return reading_error(r, event->start_mark,
                             "an anchor (&name) is not allowed; write the value where it is used");
    if (tag)
        return reading_error(r, event->start_mark, "a tag (!name) is not allowed");
    return CABER_OK;
}

static caber_status reading_value(reading *r, const yaml_event_t *event, int depth, node **out);

static caber_status reading_scalar(reading *r, const yaml_event_t *event, node **out)
{
    const char *text = (const char *)event->data.scalar.value;
    size_t length = event->data.scalar.length;
    if (memchr(text, '\0', length))
        return reading_error(r, event->start_mark, "a value may not hold a zero byte");
    node *n = reading_node(r, NODE_SCALAR, event);
    if (n)
        n->text = arena_text(r->a, text, length);
    *out = n;
    return n && n->text ? CABER_OK : no_memory(r->message);
}

static caber_status reading_sequence(reading *r, const yaml_event_t *start, int depth, node **out)
{
    node *n = *out = reading_node(r, NODE_SEQUENCE, start);
    if (!n)
        return no_memory(r->message);
    for (;;) {
        yaml_event_t event;
        caber_status status = reading_next(r, &event);
        if (status != CABER_OK)
            return status;
        bool end = event.type == YAML_SEQUENCE_END_EVENT;
        node *child = NULL;
        if (!end)
            status = reading_value(r, &event, depth + 1, &child);
        yaml_event_delete(&event);
        if (end || status != CABER_OK)
            return status;
        if (node_append(r->a, n, child) != CABER_OK)
            return no_memory(r->message);
    }
}

static caber_status reading_key_problem(reading *r, const node *mapping, const yaml_event_t *event)
{
    char problem[160], clip[TEXT_CLIP_SIZE];
    if (event->type != YAML_SCALAR_EVENT)
        return reading_error(r, event->start_mark, "a key must be a word");
    const char *key = (const char *)event->data.scalar.value;
    if (!key[0])
        return reading_error(r, event->start_mark, "a key may not be empty");
    const node *twin = node_get(mapping, key);
    if (twin) {
        snprintf(problem, sizeof problem, "%s: this key was given before, in line %zu",
                 text_clip(key, clip), twin->key_line);
        return reading_error(r, event->start_mark, problem);
    }
    if (mapping->count >= NODE_MOST_KEYS) {
        snprintf(problem, sizeof problem, "too many keys in one mapping; at most %d are allowed",
                 NODE_MOST_KEYS);
        return reading_error(r, event->start_mark, problem);
    }
    return CABER_OK;
}

/* Reads the value of a key whose event is given, and appends it to the mapping. */
static caber_status reading_entry(reading *r, node *mapping, const yaml_event_t *key, int depth)
{
    caber_status status = reading_refuse(r, key);
    if (status == CABER_OK)
        status = reading_key_problem(r, mapping, key);
    node *name = NULL, *value = NULL;
    if (status == CABER_OK)
        status = reading_scalar(r, key, &name);
    if (status != CABER_OK)
        return status;
    yaml_event_t event;
    status = reading_next(r, &event);
    if (status != CABER_OK)
        return status;
    status = reading_value(r, &event, depth + 1, &value);
    yaml_event_delete(&event);
    if (status != CABER_OK)
        return status;
    value->key = name->text;
    value->key_line = name->line;
    value->key_column = name->column;
    return node_append(r->a, mapping, value) == CABER_OK ? CABER_OK : no_memory(r->message);
}

static caber_status reading_mapping(reading *r, const yaml_event_t *start, int depth, node **out)
{
    node *n = *out = reading_node(r, NODE_MAPPING, start);
    if (!n)
        return no_memory(r->message);
    for (;;) {
        yaml_event_t event;
        caber_status status = reading_next(r, &event);
        if (status != CABER_OK)
            return status;
        bool end = event.type == YAML_MAPPING_END_EVENT;
        if (!end)
            status = reading_entry(r, n, &event, depth);
        yaml_event_delete(&event);
        if (end || status != CABER_OK)
            return status;
    }
}

static caber_status reading_value(reading *r, const yaml_event_t *event, int depth, node **out)
{
    char problem[128];
    caber_status status = reading_refuse(r, event);
    if (status != CABER_OK)
        return status;
    if (depth > NODE_MOST_DEPTH) {
        snprintf(problem, sizeof problem, "nested too deeply; at most %d levels are allowed",
                 NODE_MOST_DEPTH);
        return reading_error(r, event->start_mark, problem);
    }
    if (++r->nodes > NODE_MOST) {
        snprintf(problem, sizeof problem, "too many values; at most %d are allowed", NODE_MOST);
        return reading_error(r, event->start_mark, problem);
    }
    if (event->type == YAML_SCALAR_EVENT)
        return reading_scalar(r, event, out);
    if (event->type == YAML_SEQUENCE_START_EVENT)
        return reading_sequence(r, event, depth, out);
    return reading_mapping(r, event, depth, out);
}

/* Skips the event that must come next by YAML's grammar; fails on a second document. */
static caber_status reading_skip(reading *r, yaml_event_type_t wanted, const char *problem)
{
    yaml_event_t event;
    caber_status status = reading_next(r, &event);
    if (status != CABER_OK)
        return status;
    if (event.type != wanted)
        status = reading_error(r, event.start_mark, problem);
    yaml_event_delete(&event);
    return status;
}

static caber_status reading_document(reading *r, node **out)
{
    caber_status status = reading_skip(r, YAML_STREAM_START_EVENT, "this is not YAML");
    if (status == CABER_OK)
        status = reading_skip(r, YAML_DOCUMENT_START_EVENT, "this file is empty");
    yaml_event_t event;
    if (status == CABER_OK)
        status = reading_next(r, &event);
    if (status != CABER_OK)
        return status;
    status = reading_value(r, &event, 1, out);
    yaml_event_delete(&event);
    if (status == CABER_OK)
        status = reading_skip(r, YAML_DOCUMENT_END_EVENT, "this is not YAML");
    if (status == CABER_OK)
        status = reading_skip(r, YAML_STREAM_END_EVENT,
                              "a second document begins here; a file holds one");
    return status;
}

caber_status node_check_bytes(const char *file, const char *text, size_t size,
                              caber_message *message)
{
    if (size > NODE_MOST_BYTES)
        return message_set(message, CABER_BAD_INPUT, "%s: has %zu bytes; at most %d are allowed",
                           file, size, NODE_MOST_BYTES);
    return node_check_utf8(file, text, size, message);
}

caber_status node_check_utf8(const char *file, const char *text, size_t size,
                             caber_message *message)
{
    size_t end = text_utf8_end(text, size);
    if (end == size)
        return CABER_OK;
    size_t line = 1, column = 1;
    for (size_t i = 0; i < end; i++) {
        bool newline = text[i] == '\n';
        line += newline;
        column = newline ? 1 : column + (((unsigned char)text[i] & 0xC0) != 0x80);
    }
    char problem[96];
    snprintf(problem, sizeof problem, "the byte 0x%02X here is not UTF-8; save the file as UTF-8",
             (unsigned char)text[end]);
    return place_error(file, line, column, "", problem, message);
}

caber_status node_parse(arena *a, const char *file, const char *text, size_t size, node **out,
                        caber_message *message)
{
    *out = NULL;
    caber_status status = node_check_bytes(file, text, size, message);
    if (status != CABER_OK)
        return status;
    /* Without its byte-order mark, the first line has its columns where an editor shows them. */
    size_t mark = size >= 3 && !memcmp(text, "\xEF\xBB\xBF", 3) ? 3 : 0;
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser))
        return no_memory(message);
    reading r = {.a = a, .parser = &parser, .message = message};
    r.file = arena_text(a, file, strlen(file));
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, (const unsigned char *)text + mark, size - mark);
    status = r.file ? reading_document(&r, out) : no_memory(message);
    yaml_parser_delete(&parser);
    return status;
}

/* ------------------------------------------------------------------ mappings */

static size_t node_index(const node *n, const char *key)
{
    size_t i = 0;
    while (i < n->count && strcmp(n->items[i]->key, key))
        i++;
    return i;
}

node *node_get(const node *n, const char *key)
{
    if (!n || n->type != NODE_MAPPING)
        return NULL;
    size_t i = node_index(n, key);
    return i < n->count ? n->items[i] : NULL;
}

node *node_take(node *n, const char *key)
{
    if (!n || n->type != NODE_MAPPING)
        return NULL;
    size_t i = node_index(n, key);
    if (i == n->count)
        return NULL;
    node *taken = n->items[i];
    n->count--;
    memmove(n->items + i, n->items + i + 1, (n->count - i) * sizeof *n->items);
    return taken;
}

caber_status node_put(arena *a, node *mapping, const char *key, node *value)
{
    size_t i = node_index(mapping, key);
    value->key = i < mapping->count ? mapping->items[i]->key : arena_text(a, key, strlen(key));
    if (!value->key)
        return CABER_NO_MEMORY;
    if (i == mapping->count)
        return node_append(a, mapping, value);
    mapping->items[i] = value;
    return CABER_OK;
}

caber_status node_merge(arena *a, node *base, node *over)
{
    for (size_t i = 0; i < over->count; i++) {
        node *value = over->items[i];
        node *old = node_get(base, value->key);
        bool both = old && old->type == NODE_MAPPING && value->type == NODE_MAPPING;
        caber_status status =
            both ? node_merge(a, old, value) : node_put(a, base, value->key, value);
        if (status != CABER_OK)
            return status;
    }
    return CABER_OK;
}

/* ------------------------------------------------------------------ paths */

/* One step of a path: a key, or an index. */
typedef struct path_step {
    char key[64];
    size_t index;
    bool is_index;
} path_step;

static bool is_key_char(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
           c == '-';
}

static bool path_read_index(const char **at, path_step *step)
{
    const char *s = *at + 1;
    size_t index = 0, digits = 0;
    for (; *s >= '0' && *s <= '9' && digits < 7; s++, digits++)
        index = 10 * index + (size_t)(*s - '0');
    if (!digits || *s != ']')
        return false;
    step->is_index = true;
    step->index = index;
    *at = s + 1;
    return true;
}

static bool path_read_key(const char **at, path_step *step)
{
    const char *s = *at;
    size_t length = 0;
    while (is_key_char(s[length]))
        length++;
    if (!length || length >= sizeof step->key)
        return false;
    memcpy(step->key, s, length);
    step->key[length] = '\0';
    step->is_index = false;
    *at = s + length;
    return true;
}

/* Reads the next step; `first` tells the beginning of the path. False when it is malformed. */
static bool path_next(const char **at, bool first, path_step *step)
{
    if (**at == '[' && !first)
        return path_read_index(at, step);
    if (!first && **at != '.')
        return false;
    *at += !first;
    return path_read_key(at, step);
}

static bool path_is_well_formed(const char *path)
{
    path_step step;
    const char *at = path;
    do {
        if (!path_next(&at, at == path, &step))
            return false;
    } while (*at);
    return true;
}

/* Where a path is being set. */
typedef struct setting {
    arena *a;
    const char *origin;
    caber_message *message;
} setting;

static node *setting_node(const setting *s, node_type type)
{
    node *n = arena_take(s->a, sizeof *n);
    if (n) {
        n->type = type;
        n->file = s->origin;
    }
    return n;
}

static caber_status setting_step_problem(const setting *s, const node *at, const path_step *step)
{
    static const char *const what[] = {"a value", "a list", "a mapping"};
    if (!step->is_index)
        return message_set(s->message, CABER_BAD_INPUT,
                           "%s: \"%s\" cannot be set: what stands before it is %s, not a mapping",
                           s->origin, step->key, what[at->type]);
    if (at->type != NODE_SEQUENCE)
        return message_set(s->message, CABER_BAD_INPUT,
                           "%s: [%zu] cannot be set: what stands before it is %s, not a list",
                           s->origin, step->index, what[at->type]);
    return message_set(s->message, CABER_BAD_INPUT,
                       "%s: [%zu] cannot be set: the list has %zu entries, so the index is at most "
                       "%zu, which appends",
                       s->origin, step->index, at->count, at->count);
}

/* Returns in *out what stands at the step below `at`, NULL when nothing does. */
static caber_status setting_look(const setting *s, const node *at, const path_step *step,
                                 node **out)
{
    *out = NULL;
    bool fits = step->is_index ? at->type == NODE_SEQUENCE && step->index <= at->count
                               : at->type == NODE_MAPPING;
    if (!fits)
        return setting_step_problem(s, at, step);
    if (step->is_index)
        *out = step->index < at->count ? at->items[step->index] : NULL;
    else
        *out = node_get(at, step->key);
    return CABER_OK;
}

static caber_status setting_store(const setting *s, node *at, const path_step *step, node *value)
{
    if (!value)
        return no_memory(s->message);
    caber_status status = CABER_OK;
    if (!step->is_index)
        status = node_put(s->a, at, step->key, value);
    else if (step->index == at->count)
        status = node_append(s->a, at, value);
    else
        at->items[step->index] = value;
    return status == CABER_OK ? status : no_memory(s->message);
}

caber_status node_set_path(arena *a, node *root, const char *path, const char *text,
                           const char *origin, caber_message *message)
{
    setting s = {.a = a, .message = message};
    s.origin = arena_text(a, origin, strlen(origin));
    if (!s.origin)
        return no_memory(message);
    if (!path_is_well_formed(path))
        return message_set(message, CABER_BAD_INPUT,
                           "%s: the path is malformed; write keys with points and indices in "
                           "brackets, such as shaft.stations[0].ei",
                           s.origin);
    node *at = root;
    path_step step;
    for (const char *rest = path; *rest;) {
        path_next(&rest, rest == path, &step);
        node *next;
        caber_status status = setting_look(&s, at, &step, &next);
        if (status == CABER_OK && (!*rest || !next)) {
            next = setting_node(&s, !*rest         ? NODE_SCALAR
                                    : *rest == '[' ? NODE_SEQUENCE
                                                   : NODE_MAPPING);
            if (next && !*rest)
                next->text = arena_text(a, text, strlen(text));
            if (next && !*rest && !next->text)
                return no_memory(message);
            status = setting_store(&s, at, &step, next);
        }
        if (status != CABER_OK)
            return status;
        at = next;
    }
    return CABER_OK;
}

const node *node_find(const node *root, const char *path)
{
    const node *at = root;
    path_step step;
    for (const char *rest = path; *rest;) {
        if (!path_next(&rest, rest == path, &step))
            return at;
        const node *next = NULL;
        if (!step.is_index)
            next = node_get(at, step.key);
        else if (at->type == NODE_SEQUENCE && step.index < at->count)
            next = at->items[step.index];
        if (!next)
            return at;
        at = next;
    }
    return at;
}
