/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/field_address.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"

/* ------------------------------------------------------------------ finding */

/* One step of a path: "sections[0]". */
typedef struct step {
    char key[64];
    bool indexed;
    size_t index;
} step;

/* Takes the next step; returns false when the text is no step. */
static bool take_step(const char **at, step *out)
{
    const size_t length = strcspn(*at, ".[");
    if (length == 0 || length >= sizeof out->key)
        return false;
    memcpy(out->key, *at, length);
    out->key[length] = '\0';
    *at += length;
    out->indexed = **at == '[';
    if (out->indexed) {
        const size_t digits = strspn(*at + 1, "0123456789");
        if (digits == 0 || digits > 6 || (*at)[1 + digits] != ']')
            return false;
        out->index = strtoul(*at + 1, NULL, 10);
        *at += digits + 2;
    }
    if (**at == '.')
        return *++*at != '\0';
    return **at == '\0';
}

static const field *find_key(const field_group *group, const char *key)
{
    for (size_t i = 0; i < group->count; i++)
        if (!strcmp(group->fields[i].name, key))
            return &group->fields[i];
    return NULL;
}

static const char *nearest(const field_group *group, const char *key)
{
    const char *found = NULL;
    size_t least = 3;
    for (size_t i = 0; i < group->count; i++) {
        const size_t distance = text_distance(key, group->fields[i].name, least);
        if (distance < least && distance < strlen(key)) {
            least = distance;
            found = group->fields[i].name;
        }
    }
    return found;
}

static caber_status no_key(const field_group *group, const step *s, const char *whole,
                           caber_message *message)
{
    char key[TEXT_CLIP_SIZE], clip[TEXT_CLIP_SIZE];
    const char *near = nearest(group, s->key);
    return message_set(message, CABER_BAD_INPUT,
                       "\"%s\": there is no such input; nothing is called %s there%s%s%s",
                       text_clip(whole, clip), text_clip(s->key, key),
                       near ? "; did you mean " : "", near ? near : "", near ? "?" : "");
}

static bool is_single(field_type type)
{
    return type == FIELD_QUANTITY || type == FIELD_INTEGER || type == FIELD_BOOLEAN ||
           type == FIELD_WORD;
}

/* Goes one field down. `group` becomes NULL at a single value. */
static caber_status go_down(const field *f, const step *s, const field_group **group,
                            field_address *a, const char *whole, caber_message *message)
{
    char clip[TEXT_CLIP_SIZE];
    text_clip(whole, clip);
    if (s->indexed != (f->type == FIELD_LIST))
        return message_set(message, CABER_BAD_INPUT,
                           s->indexed
                               ? "\"%s\": %s is no list and has no [%zu]"
                               : "\"%s\": %s is a list; say which entry, as [0], counted from 0",
                           clip, f->name, s->index);
    if (f->type == FIELD_LIST) {
        a->list = f;
        a->holder = a->owner;
        a->index = s->index;
        a->owner = 0;
    } else if (f->type == FIELD_GROUP) {
        a->owner += f->offset;
    } else if (!is_single(f->type)) {
        return message_set(message, CABER_BAD_INPUT,
                           "\"%s\": this is no single value; a factor needs a quantity, a whole "
                           "number, yes or no, or a word",
                           clip);
    }
    *group = is_single(f->type) ? NULL : f->group;
    a->field = f;
    return CABER_OK;
}

static field_part part_of(const field_address *a)
{
    if (!strncmp(a->path, "player.", 7))
        return a->field->type == FIELD_WORD ? FIELD_PART_CLUB : FIELD_PART_PLAYER;
    return !strncmp(a->path, "ball.", 5) || !strncmp(a->path, "air.", 4) ? FIELD_PART_FLIGHT
                                                                         : FIELD_PART_CLUB;
}

caber_status field_address_find(const char *path, field_address *out, caber_message *message)
{
    char clip[TEXT_CLIP_SIZE];
    const bool load = !strncmp(path, "load.", 5);
    *out = (field_address){.owner = 0};
    if (strlen(path) + sizeof "player." > sizeof out->path)
        return message_set(message, CABER_BAD_INPUT, "\"%s\": this path is too long",
                           text_clip(path, clip));
    snprintf(out->path, sizeof out->path, "%s%s", load ? "player." : "", path);
    const field_group *group = fields_kind_setup();
    step s;
    for (const char *at = out->path; *at;) {
        if (!take_step(&at, &s))
            return message_set(message, CABER_BAD_INPUT,
                               "\"%s\" is no path; write it as load.grip.rise or "
                               "shaft.sections[0].ei_scale",
                               text_clip(path, clip));
        const field *f = group ? find_key(group, s.key) : NULL;
        if (!group)
            return message_set(message, CABER_BAD_INPUT, "\"%s\": nothing stands below %s",
                               text_clip(path, clip), out->field->name);
        if (!f)
            return no_key(group, &s, path, message);
        const caber_status status = go_down(f, &s, &group, out, path, message);
        if (status != CABER_OK)
            return status;
    }
    if (group)
        return message_set(message, CABER_BAD_INPUT,
                           "\"%s\": this is no single value; go on to one of its keys",
                           text_clip(path, clip));
    out->part = part_of(out);
    return message_clear(message);
}

/* ------------------------------------------------------------------ in a setup */

bool field_address_exists(const field_address *a, const caber_setup *setup)
{
    size_t count;
    if (!a->list)
        return true;
    memcpy(&count, (const char *)setup + a->holder + a->list->count_offset, sizeof count);
    return a->index < count;
}

static size_t in_entry(const field_address *a)
{
    return a->index * a->list->item_size + a->owner;
}

static const char *owner_of(const field_address *a, const caber_setup *setup)
{
    const char *from = (const char *)setup, *items;
    if (!a->list)
        return from + a->owner;
    memcpy(&items, from + a->holder + a->list->offset, sizeof items);
    return items + in_entry(a);
}

bool field_address_used(const field_address *a, const caber_setup *setup)
{
    return field_used(a->field, owner_of(a, setup));
}

double field_address_get(const field_address *a, const caber_setup *setup)
{
    const char *at = owner_of(a, setup) + a->field->offset;
    double number;
    int integer;
    unsigned word;
    bool yes;
    switch (a->field->type) {
    case FIELD_INTEGER:
        memcpy(&integer, at, sizeof integer);
        return integer;
    case FIELD_WORD:
        memcpy(&word, at, sizeof word);
        return word;
    case FIELD_BOOLEAN:
        memcpy(&yes, at, sizeof yes);
        return yes;
    default:
        memcpy(&number, at, sizeof number);
        return number;
    }
}

void field_address_set(const field_address *a, caber_setup *setup, double value)
{
    char *at = (char *)setup, *items;
    if (a->list) {
        memcpy(&items, at + a->holder + a->list->offset, sizeof items);
        at = items + in_entry(a);
    } else {
        at += a->owner;
    }
    at += a->field->offset;
    const int integer = a->field->type == FIELD_INTEGER ? (int)value : 0;
    const unsigned word = a->field->type == FIELD_WORD ? (unsigned)value : 0;
    const bool yes = value != 0;
    switch (a->field->type) {
    case FIELD_INTEGER:
        memcpy(at, &integer, sizeof integer);
        break;
    case FIELD_WORD:
        memcpy(at, &word, sizeof word);
        break;
    case FIELD_BOOLEAN:
        memcpy(at, &yes, sizeof yes);
        break;
    default:
        memcpy(at, &value, sizeof value);
    }
}

/* ------------------------------------------------------------------ values */

static bool word_allowed(const field *f, double value)
{
    return value >= 0 && value < (double)field_word_count(f) && f->words[(size_t)value][0] != '\0';
}

caber_status field_address_check(const field_address *a, double value, caber_message *message)
{
    const field *f = a->field;
    char range[200], text[80];
    const bool whole = f->type != FIELD_QUANTITY;
    quantity_write_short(value, field_address_unit(a), text, sizeof text);
    if (!isfinite(value))
        return message_set(message, CABER_BAD_INPUT, "a finite value is wanted");
    if (whole && value != floor(value))
        return message_set(message, CABER_BAD_INPUT, "%s is not allowed; it must be a whole number",
                           text);
    if (f->type == FIELD_BOOLEAN && value != 0 && value != 1)
        return message_set(message, CABER_BAD_INPUT,
                           "%s is not allowed; it must be 1 (yes) or 0 (no)", text);
    if (f->type == FIELD_WORD && !word_allowed(f, value)) {
        field_words(f, range, sizeof range);
        return message_set(message, CABER_BAD_INPUT,
                           "%s is not allowed; it must be the place, from 0, of %s", text, range);
    }
    if ((f->type == FIELD_QUANTITY || f->type == FIELD_INTEGER) && !field_allows(f, value)) {
        field_range(f, range, sizeof range);
        return message_set(message, CABER_BAD_INPUT, "%s is not allowed; it must be %s", text,
                           range);
    }
    return CABER_OK;
}

static caber_status parse_word(const field *f, const char *text, double *value,
                               caber_message *message)
{
    char words[160], clip[TEXT_CLIP_SIZE];
    for (size_t i = 0; f->words[i]; i++)
        if (f->words[i][0] && !strcmp(f->words[i], text)) {
            *value = (double)i;
            return CABER_OK;
        }
    field_words(f, words, sizeof words);
    return message_set(message, CABER_BAD_INPUT, "\"%s\" is not allowed; it must be %s",
                       text_clip(text, clip), words);
}

static caber_status parse_boolean(const char *text, double *value, caber_message *message)
{
    char clip[TEXT_CLIP_SIZE];
    *value = !strcmp(text, "yes") || !strcmp(text, "true");
    if (*value != 0 || !strcmp(text, "no") || !strcmp(text, "false"))
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT, "\"%s\" is not allowed; it must be yes or no",
                       text_clip(text, clip));
}

caber_status field_address_parse(const field_address *a, const char *text, double *value,
                                 caber_message *message)
{
    const field *f = a->field;
    if (f->type == FIELD_WORD)
        return parse_word(f, text, value, message);
    if (f->type == FIELD_BOOLEAN)
        return parse_boolean(text, value, message);
    const caber_status status = quantity_parse(text, field_address_unit(a)->dim, value, message);
    return status == CABER_OK ? field_address_check(a, *value, message) : status;
}

const unit *field_address_unit(const field_address *a)
{
    const bool quantity = a->field->type == FIELD_QUANTITY;
    return unit_find(quantity ? a->field->unit : "", quantity ? a->field->dim : DIMENSION_NONE);
}

void field_address_write(const field_address *a, double value, char *text, size_t size)
{
    if (a->field->type == FIELD_WORD)
        snprintf(text, size, "%s", a->field->words[(size_t)value]);
    else if (a->field->type == FIELD_BOOLEAN)
        snprintf(text, size, "%s", value != 0 ? "yes" : "no");
    else
        quantity_write(value, field_address_unit(a), text, size);
}
