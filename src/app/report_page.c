/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The page of a report: what was bundled, with title and data in it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/report.h"
#include "base/message.h"

static const char title_mark[] = "<!--title-->", data_mark[] = "<!--data-->";

void report_title(const report_ask *ask, char *title, size_t size)
{
    size_t length = 0;
    for (size_t i = 0; i < ask->count && length < size; i++) {
        const int more =
            snprintf(title + length, size - length, "%s%s", i ? "; " : "", ask->names[i]);
        length += more < 0 ? size : (size_t)more;
    }
}

/* As text between tags. */
static void write_text(FILE *out, const char *text)
{
    for (const unsigned char *c = (const unsigned char *)text; *c; c++)
        if (*c == '<' || *c == '>' || *c == '&' || *c == '"')
            fprintf(out, "&#%d;", *c);
        else
            fputc(*c < 0x20 || *c == 0x7f ? '?' : *c, out);
}

/* JSON that holds nothing an HTML parser, or one of scripts, would take for its own. The letters in question
 * stand in strings only, where they may be written by number. */
static void write_data(FILE *out, const char *json)
{
    for (const unsigned char *c = (const unsigned char *)json; *c; c++)
        if (*c == '<' || *c == '>' || *c == '&')
            fprintf(out, "\\u%04x", *c);
        else if (c[0] == 0xe2 && c[1] == 0x80 && (c[2] == 0xa8 || c[2] == 0xa9)) {
            fprintf(out, "\\u20%02x", c[2] - 0x80);
            c += 2;
        } else
            fputc(*c, out);
}

static bool has_once(const char *text, const char *mark)
{
    const char *at = strstr(text, mark);
    return at && !strstr(at + 1, mark);
}

/* Writes up to the mark, and returns what is behind it. */
static const char *write_until(FILE *out, const char *text, const char *mark)
{
    const char *at = strstr(text, mark);
    fwrite(text, 1, (size_t)(at - text), out);
    return at + strlen(mark);
}

static bool write_all(FILE *out, const char *bundled, const char *title, const char *json)
{
    bundled = write_until(out, bundled, title_mark);
    write_text(out, title);
    bundled = write_until(out, bundled, data_mark);
    write_data(out, json);
    fputs(bundled, out);
    const bool failed = ferror(out) != 0;
    return fclose(out) == 0 && !failed;
}

caber_status report_page(const char *bundled, const char *title, const json_t *data, char **text,
                         size_t *size, caber_message *message)
{
    *text = NULL;
    if (!has_once(bundled, title_mark) || !has_once(bundled, data_mark) ||
        strstr(bundled, title_mark) > strstr(bundled, data_mark))
        return message_set(message, CABER_INTERNAL, "the page of a report has no place for data");
    char *json = json_dumps(data, JSON_COMPACT | JSON_REAL_PRECISION(17));
    FILE *out = json ? open_memstream(text, size) : NULL;
    const bool written = out && write_all(out, bundled, title, json);
    free(json);
    if (written)
        return message_clear(message);
    free(*text);
    *text = NULL;
    return message_set(message, CABER_NO_MEMORY, "out of memory for the report");
}
