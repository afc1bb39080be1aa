/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "page/reply.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"

const char reply_json_type[] = "application/json";

static char *json_text(json_t *value)
{
    char *text = value ? json_dumps(value, JSON_COMPACT | JSON_REAL_PRECISION(17)) : NULL;
    json_decref(value);
    return text;
}

/* `text` is owned; NULL = there is none. */
static void reply_text(server_reply *out, int status, char *text)
{
    out->status = text ? status : REPLY_INTERNAL;
    out->type = reply_json_type;
    out->body = text;
    out->size = text ? strlen(text) : 0;
    if (text)
        return;
    out->constant =
        "{\"error\":{\"message\":\"the result could not be put into JSON: a number of it is "
        "none, or memory is out\",\"file\":null,\"line\":null,\"column\":null,\"field\":null}}";
    out->size = strlen(out->constant);
}

void reply_json(server_reply *out, int status, json_t *value)
{
    reply_text(out, status, json_text(value));
}

static int append_all(json_t *list, const char *const *texts)
{
    int failed = 0;
    for (size_t i = 0; texts && texts[i]; i++)
        failed |= json_array_append_new(list, json_string(texts[i]));
    return failed;
}

void reply_result(server_reply *out, json_t *result, json_t *notes, const char *const *cautions,
                  const char *const *more)
{
    json_t *list = json_array();
    const int failed = append_all(list, cautions) | append_all(list, more);
    json_t *object = json_pack("{so so so}", "result", result, "notes",
                               notes ? notes : json_array(), "cautions", list);
    if (failed) {
        json_decref(object);
        object = NULL;
    }
    reply_json(out, REPLY_FINE, object);
}

void reply_result_text(server_reply *out, char *result, json_t *notes, const char *const *cautions)
{
    static const char head[] = "{\"result\":";
    json_t *list = json_array();
    const int failed = append_all(list, cautions);
    char *rest =
        json_text(json_pack("{so so}", "notes", notes ? notes : json_array(), "cautions", list));
    const size_t size = result && rest ? sizeof head + strlen(result) + strlen(rest) : 0;
    char *text = size && !failed ? malloc(size) : NULL;
    if (text)
        snprintf(text, size, "%s%s,%s", head, result, rest + 1); /* without its brace */
    free(result);
    free(rest);
    reply_text(out, REPLY_FINE, text);
}

/* ------------------------------------------------------------------ errors */

/* Reads ":12" at *at. */
static long take_number(const char **at)
{
    const char *c = *at;
    long number = 0;
    if (*c != ':' || c[1] < '1' || c[1] > '9')
        return 0;
    for (c++; *c >= '0' && *c <= '9' && number < 100000000; c++)
        number = 10 * number + (*c - '0');
    *at = c;
    return number;
}

/* Where a message says that something is. */
typedef struct reply_place {
    char file[256], field[128]; /* "" = not known */
    long line, column;          /* 0 = not known */
} reply_place;

/* A word of letters, digits and "_.[]" in front of ": ". */
static void take_field(const char *at, char *out, size_t size)
{
    const size_t length =
        strspn(at, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
                   "_.[]");
    if (length > 0 && length < size && !strncmp(at + length, ": ", 2)) {
        memcpy(out, at, length);
        out[length] = '\0';
    }
}

/* Takes the place out of a message as the reader of files writes it. */
static void find_place(const char *text, reply_place *out)
{
    static const char set[] = "--set ";
    *out = (reply_place){.line = 0};
    if (!strncmp(text, set, sizeof set - 1)) {
        take_field(text + sizeof set - 1, out->field, sizeof out->field);
        return;
    }
    /* The first ":12" that is followed by ": ", with or without a column. */
    for (const char *at = strchr(text, ':'); at; at = strchr(at + 1, ':')) {
        const char *after = at;
        const long line = take_number(&after);
        const long column = line ? take_number(&after) : 0;
        const size_t length = (size_t)(at - text);
        if (!line || strncmp(after, ": ", 2) || length >= sizeof out->file)
            continue;
        memcpy(out->file, text, length);
        out->line = line;
        out->column = column;
        take_field(after + 2, out->field, sizeof out->field);
        return;
    }
    take_field(text, out->field, sizeof out->field);
}

static json_t *text_or_null(const char *text)
{
    return *text ? json_string(text) : json_null();
}

static json_t *number_or_null(long number)
{
    return number ? json_integer(number) : json_null();
}

static void reply_placed(server_reply *out, int status, const char *text, const reply_place *place)
{
    /* A message that was cut within a letter is no text. */
    const size_t end = text_utf8_end(text, strlen(text));
    reply_json(out, status,
               json_pack("{s{ss% so so so so}}", "error", "message", text, end, "file",
                         text_or_null(place->file), "line", number_or_null(place->line), "column",
                         number_or_null(place->column), "field", text_or_null(place->field)));
}

void reply_error(server_reply *out, int status, const char *format, ...)
{
    static const reply_place nowhere;
    char text[512];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    reply_placed(out, status, text, &nowhere);
}

void reply_wrong(server_reply *out, const char *field, const char *format, ...)
{
    char text[512];
    reply_place place = {.line = 0};
    snprintf(place.field, sizeof place.field, "%s", field);
    const int length = snprintf(text, sizeof text, "%s: ", place.field);
    va_list args;
    va_start(args, format);
    vsnprintf(text + length, sizeof text - (size_t)length, format, args);
    va_end(args);
    reply_placed(out, REPLY_WRONG, text, &place);
}

void reply_failed(server_reply *out, caber_status status, const caber_message *message)
{
    reply_place place;
    const char *text = message->text[0] ? message->text : caber_status_text(status);
    find_place(text, &place);
    reply_placed(out,
                 status == CABER_NO_MEMORY  ? REPLY_BUSY
                 : status == CABER_INTERNAL ? REPLY_INTERNAL
                                            : REPLY_WRONG,
                 text, &place);
}
