/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "page/ask.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/files.h"

enum { SET_MOST = 400, WHERE_SIZE = 160 };

bool ask_parse(const char *body, size_t size, json_t **out, server_reply *reply)
{
    json_error_t error;
    *out = json_loadb(body, size, JSON_REJECT_DUPLICATES, &error);
    if (*out && json_is_object(*out))
        return true;
    if (*out)
        reply_error(reply, REPLY_MALFORMED, "the body is JSON, but no object");
    else
        reply_error(reply, REPLY_MALFORMED, "the body is no JSON: line %d, column %d: %s",
                    error.line, error.column, error.text);
    json_decref(*out);
    *out = NULL;
    return false;
}

/* "setup.parts": a key below a place; a long one is cut. */
static const char *below(char out[WHERE_SIZE], const char *where, const char *key)
{
    char clipped[TEXT_CLIP_SIZE];
    const int length =
        snprintf(out, WHERE_SIZE, "%s%s%s", where, *where ? "." : "", text_clip(key, clipped));
    if (length < 0 || length >= WHERE_SIZE)
        out[WHERE_SIZE - 1] = '\0';
    return out;
}

bool ask_only(const json_t *object, const char *where, const char *const *allowed,
              server_reply *reply)
{
    const char *key;
    json_t *value;
    char place[WHERE_SIZE];
    json_object_foreach((json_t *)(uintptr_t)object, key, value)
    {
        size_t i = 0;
        while (allowed[i] && strcmp(allowed[i], key))
            i++;
        if (allowed[i])
            continue;
        reply_wrong(reply, below(place, where, key), "there is no such key here");
        return false;
    }
    return true;
}

static bool want_object(const json_t *value, const char *where, server_reply *reply)
{
    if (json_is_object(value))
        return true;
    reply_wrong(reply, where, value ? "an object is wanted" : "is missing");
    return false;
}

/* ------------------------------------------------------------------ files by name */

/* Reads {folder, file} of an object; file may be absent when it is optional, and then is NULL. */
static bool ask_file(const folders *f, const json_t *object, const char *where, bool optional,
                     int *folder, const char **file, server_reply *reply)
{
    char place[WHERE_SIZE];
    const json_t *at = json_object_get(object, "folder"), *name = json_object_get(object, "file");
    *folder = at ? json_is_string(at) ? folders_find(f, json_string_value(at)) : -1 : FOLDER_MODELS;
    *file = json_string_value(name);
    if (*folder < 0) {
        reply_wrong(reply, below(place, where, "folder"), "must be \"models\"%s",
                    f->path[FOLDER_USER] ? " or \"user\"" : "; there is no other folder");
        return false;
    }
    if (!name && optional)
        return true;
    if (*file && folders_is_name(*file))
        return true;
    reply_wrong(reply, below(place, where, "file"),
                name ? "the name of a file is wanted, NAME.yaml, without a folder" : "is missing");
    return false;
}

/* ------------------------------------------------------------------ overrides */

/* Texts "path=value" as the reader of files takes them. */
typedef struct override_list {
    size_t count;
    char *items[SET_MOST + 8]; /* owned */
} override_list;

static void overrides_free(override_list *list)
{
    for (size_t i = 0; i < list->count; i++)
        free(list->items[i]);
}

static bool override_add(override_list *list, const char *path, const char *value,
                         server_reply *reply)
{
    const size_t size = strlen(path) + strlen(value) + 2;
    char *text = malloc(size);
    if (!text) {
        reply_error(reply, REPLY_BUSY, "out of memory");
        return false;
    }
    snprintf(text, size, "%s=%s", path, value);
    list->items[list->count++] = text;
    return true;
}

/* The text of a value, as a file would have it; NULL for what is none. */
static const char *value_text(const json_t *value, char number[TEXT_NUMBER_SIZE])
{
    if (json_is_string(value))
        return json_string_value(value);
    if (json_is_boolean(value))
        return json_is_true(value) ? "yes" : "no";
    if (json_is_integer(value))
        snprintf(number, TEXT_NUMBER_SIZE, "%lld", (long long)json_integer_value(value));
    else if (json_is_real(value))
        text_from_double(json_real_value(value), number);
    else
        return NULL;
    return number;
}

static bool add_set(override_list *list, const json_t *set, const char *where, server_reply *reply)
{
    const char *key;
    json_t *value;
    char place[WHERE_SIZE], number[TEXT_NUMBER_SIZE];
    if (set && !want_object(set, where, reply))
        return false;
    if (json_object_size(set) > SET_MOST) {
        reply_wrong(reply, where, "at most %d values may be set", SET_MOST);
        return false;
    }
    json_object_foreach((json_t *)(uintptr_t)set, key, value)
    {
        const char *text = value_text(value, number);
        const char *problem = NULL;
        if (!*key || strchr(key, '='))
            problem = "the path of a value is wanted, such as load.grip.rise";
        else if (files_names_part(key))
            problem = "another file is chosen with parts, not with set";
        else if (!text)
            problem = "a text, a number or true or false is wanted";
        if (problem) {
            reply_wrong(reply, below(place, where, key), "%s", problem);
            return false;
        }
        if (!override_add(list, key, text, reply))
            return false;
    }
    return true;
}

/* {shaft: {folder, file}, ...} */
static bool add_parts(override_list *list, const folders *f, const json_t *parts, const char *where,
                      server_reply *reply)
{
    static const char *const kinds[] = {"shaft", "head", "grip", "player", NULL};
    static const char *const keys[] = {"folder", "file", NULL};
    char place[WHERE_SIZE];
    if (!parts)
        return true;
    if (!want_object(parts, where, reply) || !ask_only(parts, where, kinds, reply))
        return false;
    for (size_t k = 0; kinds[k]; k++) {
        const json_t *part = json_object_get(parts, kinds[k]);
        int folder;
        const char *file;
        below(place, where, kinds[k]);
        if (!part)
            continue;
        if (!want_object(part, place, reply) || !ask_only(part, place, keys, reply) ||
            !ask_file(f, part, place, false, &folder, &file, reply))
            return false;
        char *path = folders_path(f, folder, kinds[k], file);
        const bool added = path && override_add(list, kinds[k], path, reply);
        free(path);
        if (!added)
            return false;
    }
    return true;
}

/* ------------------------------------------------------------------ setups */

caber_status ask_check_effort(const caber_setup *setup, caber_message *message)
{
    const caber_settings *s = &setup->settings;
    const struct {
        const char *name;
        double value, least, most;
        const char *text;
    } rules[] = {
        {"settings.time_limit", s->time_limit, 0, 3, "at most 3 s are allowed here"},
        {"settings.until", s->until, 0, 1, "at most 1 s is allowed here"},
        {"settings.sample", s->sample, 1e-4, 1, "at least 0.1 ms is allowed here"},
        {"settings.tolerance", s->tolerance, 1e-11, 1, "at least 1e-11 is allowed here"},
        {"settings.modes", s->modes, 1, 30, "at most 30 are allowed here"},
        {"settings.stations", s->stations, 1, 60, "at most 60 are allowed here"},
        {"settings.elements", s->elements, 0, 400, "at most 400 are allowed here"},
    };
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++)
        if (!(rules[i].value >= rules[i].least && rules[i].value <= rules[i].most))
            return message_set(message, CABER_BAD_INPUT, "%s: %s", rules[i].name, rules[i].text);
    return message_clear(message);
}

/* Reads the setup that the object names, or holds. */
static caber_status read_setup(const folders *f, const json_t *object, int folder, const char *file,
                               const override_list *set, caber_setup **out, caber_message *message)
{
    const char *const *overrides = (const char *const *)set->items;
    const json_t *inner = json_object_get(object, "text");
    char *path = folders_path(f, folder, "setup", file ? file : "setup");
    caber_status status = CABER_NO_MEMORY;
    *out = NULL;
    *message = (caber_message){""};
    if (path && file)
        status = files_read_setup_within(&f->fence, path, overrides, set->count, out, message);
    else if (path)
        status =
            files_read_text_within(&f->fence, path, json_string_value(inner),
                                   json_string_length(inner), overrides, set->count, out, message);
    free(path);
    if (status == CABER_OK)
        status = ask_check_effort(*out, message);
    if (status != CABER_OK) {
        caber_setup_free(*out);
        *out = NULL;
    }
    folders_shorten(f, message);
    return status;
}

static bool ask_one(const folders *f, const json_t *object, const char *where, caber_setup **out,
                    server_reply *reply)
{
    static const char *const keys[] = {"folder", "file", "text", "parts", "set", NULL};
    char place[WHERE_SIZE];
    int folder;
    const char *file;
    *out = NULL;
    if (!want_object(object, where, reply) || !ask_only(object, where, keys, reply) ||
        !ask_file(f, object, where, json_object_get(object, "text") != NULL, &folder, &file, reply))
        return false;
    const json_t *text = json_object_get(object, "text");
    if (text && (file || !json_is_string(text))) {
        reply_wrong(reply, below(place, where, "text"),
                    file ? "stands in place of file, not beside it" : "a text is wanted");
        return false;
    }
    override_list set = {0};
    caber_message message;
    bool good =
        add_parts(&set, f, json_object_get(object, "parts"), below(place, where, "parts"), reply) &&
        add_set(&set, json_object_get(object, "set"), below(place, where, "set"), reply);
    if (good) {
        const caber_status status = read_setup(f, object, folder, file, &set, out, &message);
        good = status == CABER_OK;
        if (!good)
            reply_failed(reply, status, &message);
    }
    overrides_free(&set);
    return good;
}

bool ask_setup(const folders *f, const json_t *object, const char *key, caber_setup **out,
               server_reply *reply)
{
    return ask_one(f, json_object_get(object, key), key, out, reply);
}

bool ask_setup_alone(const folders *f, const json_t *body, caber_setup **out, server_reply *reply)
{
    static const char *const keys[] = {"setup", NULL};
    return ask_only(body, "", keys, reply) && ask_setup(f, body, "setup", out, reply);
}

bool ask_setups(const folders *f, const json_t *object, const char *key, size_t least, size_t most,
                caber_setup *setups[ASK_SETUPS], size_t *count, server_reply *reply)
{
    const json_t *list = json_object_get(object, key);
    *count = 0;
    if (!json_is_array(list) || json_array_size(list) < least || json_array_size(list) > most) {
        reply_wrong(reply, key, "a list of %zu to %zu setups is wanted", least, most);
        return false;
    }
    while (*count < json_array_size(list)) {
        char where[WHERE_SIZE];
        snprintf(where, sizeof where, "%s[%zu]", key, *count);
        if (!ask_one(f, json_array_get(list, *count), where, &setups[*count], reply))
            return false;
        ++*count;
    }
    return true;
}

bool ask_readings(const folders *f, const json_t *object, const char *key, caber_readings **out,
                  server_reply *reply)
{
    static const char *const keys[] = {"folder", "file", "set", NULL};
    const json_t *inner = json_object_get(object, key);
    int folder;
    const char *file;
    char place[WHERE_SIZE];
    *out = NULL;
    if (!want_object(inner, key, reply) || !ask_only(inner, key, keys, reply) ||
        !ask_file(f, inner, key, false, &folder, &file, reply))
        return false;
    override_list set = {0};
    bool good = add_set(&set, json_object_get(inner, "set"), below(place, key, "set"), reply);
    if (good) {
        caber_message message = {""};
        char *path = folders_path(f, folder, "readings", file);
        const caber_status status =
            path ? files_read_readings_within(&f->fence, path, (const char *const *)set.items,
                                              set.count, out, &message)
                 : CABER_NO_MEMORY;
        free(path);
        folders_shorten(f, &message);
        good = status == CABER_OK;
        if (!good)
            reply_failed(reply, status, &message);
    }
    overrides_free(&set);
    return good;
}

/* ------------------------------------------------------------------ numbers and words */

bool ask_count(const json_t *object, const char *key, int least, int most, int *value,
               server_reply *reply)
{
    const json_t *given = json_object_get(object, key);
    if (!given)
        return true;
    if (!json_is_integer(given) || json_integer_value(given) < least ||
        json_integer_value(given) > most) {
        reply_wrong(reply, key, "a whole number from %d to %d is wanted", least, most);
        return false;
    }
    *value = (int)json_integer_value(given);
    return true;
}

/* A number in SI, or a text with a unit. */
static bool read_quantity(const json_t *given, const char *where, dimension what, double *value,
                          server_reply *reply)
{
    caber_message message = {""};
    if (json_is_number(given)) {
        *value = json_number_value(given);
        return true;
    }
    if (!json_is_string(given)) {
        reply_wrong(reply, where, "%s is wanted: a number in %s, or a text with a unit",
                    dimension_title(what), dimension_si(what));
        return false;
    }
    if (quantity_parse(json_string_value(given), what, value, &message) == CABER_OK)
        return true;
    reply_wrong(reply, where, "%s", message.text);
    return false;
}

bool ask_quantity(const json_t *object, const char *key, dimension what, double *value,
                  server_reply *reply)
{
    const json_t *given = json_object_get(object, key);
    return !given || read_quantity(given, key, what, value, reply);
}

bool ask_quantities(const json_t *object, const char *key, dimension what, size_t most,
                    double *values, size_t *count, server_reply *reply)
{
    const json_t *given = json_object_get(object, key);
    const size_t size = json_is_array(given) ? json_array_size(given) : 1;
    if (!given)
        return true;
    if (size < 1 || size > most) {
        reply_wrong(reply, key, "1 to %zu values are wanted", most);
        return false;
    }
    for (size_t i = 0; i < size; i++) {
        const json_t *one = json_is_array(given) ? json_array_get(given, i) : given;
        if (!read_quantity(one, key, what, &values[i], reply))
            return false;
    }
    *count = size;
    return true;
}

bool ask_word(const json_t *object, const char *key, const char *const *words, int *value,
              server_reply *reply)
{
    const json_t *given = json_object_get(object, key);
    char all[256] = "";
    if (!given)
        return true;
    for (int i = 0; words[i]; i++) {
        if (json_is_string(given) && strcmp(json_string_value(given), words[i]) == 0) {
            *value = i;
            return true;
        }
        snprintf(all + strlen(all), sizeof all - strlen(all), "%s\"%s\"", i ? ", " : "", words[i]);
    }
    reply_wrong(reply, key, "one of %s is wanted", all);
    return false;
}
