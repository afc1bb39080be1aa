/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/encode.h"

#include <math.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/errors.h"
#include "files/files.h"
#include "swing/check.h"

/* How many numbers of a table stand in a line. */
enum { NUMBERS_A_LINE = 8, QUANTITY_SIZE = 64 };

/* ------------------------------------------------------------------ text */

/* The code point at s, which is valid UTF-8; *length is its bytes. */
static unsigned long utf8_point(const unsigned char *s, int *length)
{
    *length = s[0] < 0x80 ? 1 : s[0] < 0xE0 ? 2 : s[0] < 0xF0 ? 3 : 4;
    unsigned long point = *length == 1 ? s[0] : s[0] & (0x7Fu >> *length);
    for (int i = 1; i < *length; i++)
        point = point << 6 | (s[i] & 0x3Fu);
    return point;
}

/* What YAML does not take as it is, or folds like a line end. */
static bool point_needs_escape(unsigned long point)
{
    return point < 0x20 || (point >= 0x7F && point < 0xA0) || point == 0x2028 || point == 0x2029 ||
           point == 0xFEFF || point == 0xFFFE || point == 0xFFFF;
}

void encode_text(FILE *out, const char *text)
{
    const unsigned char *s = (const unsigned char *)text;
    fputc('"', out);
    while (*s) {
        int length;
        unsigned long point = utf8_point(s, &length);
        if (point_needs_escape(point))
            fprintf(out, "\\u%04lX", point);
        else if (*s == '"' || *s == '\\')
            fprintf(out, "\\%c", *s);
        else
            fwrite(s, 1, (size_t)length, out);
        s += length;
    }
    fputc('"', out);
}

void encode_comment(FILE *out, const char *text)
{
    const unsigned char *s = (const unsigned char *)text;
    fputs("# ", out);
    while (*s) {
        int length;
        unsigned long point = utf8_point(s, &length);
        /* What YAML takes as the end of a line would end the comment too. */
        if (*s == '\n')
            fputs(s[1] ? "\n# " : "", out);
        else if (point_needs_escape(point))
            fputc(' ', out);
        else
            fwrite(s, 1, (size_t)length, out);
        s += length;
    }
    fputc('\n', out);
}

/* ------------------------------------------------------------------ fields */

static double number_at(const field *f, const char *object)
{
    double value;
    memcpy(&value, object + f->offset, sizeof value);
    return value;
}

/* Whether the field says anything that may stand in a file. */
static bool field_is_written(const field *f, const char *object)
{
    size_t count;
    switch (f->type) {
    case FIELD_QUANTITY:
        return !isnan(number_at(f, object)) &&
               (field_used(f, object) || field_allows(f, number_at(f, object)));
    case FIELD_TEXT:
        return object[f->offset] != '\0';
    case FIELD_LIST:
        memcpy(&count, object + f->count_offset, sizeof count);
        return count > 0;
    case FIELD_TABLE:
        memcpy(&count, object + f->offset + offsetof(caber_table, count), sizeof count);
        return count > 0;
    case FIELD_ERRORS:
        memcpy(&count, object + f->offset + offsetof(caber_errors, count), sizeof count);
        return count > 0;
    default:
        return true;
    }
}

static bool group_is_flat(const field_group *group)
{
    for (size_t i = 0; i < group->count; i++)
        if (group->fields[i].type != FIELD_QUANTITY)
            return false;
    return true;
}

static void encode_quantity(FILE *out, const field *f, const char *object)
{
    char text[QUANTITY_SIZE];
    quantity_write(number_at(f, object), unit_find(f->unit, f->dim), text, sizeof text);
    fputs(text, out);
}

/* A field on one line that is no group. */
static void encode_value(FILE *out, const field *f, const char *object)
{
    const char *at = object + f->offset;
    int integer;
    unsigned word;
    bool yes;
    switch (f->type) {
    case FIELD_INTEGER:
        memcpy(&integer, at, sizeof integer);
        fprintf(out, "%d", integer);
        break;
    case FIELD_BOOLEAN:
        memcpy(&yes, at, sizeof yes);
        fputs(yes ? "yes" : "no", out);
        break;
    case FIELD_WORD:
        memcpy(&word, at, sizeof word);
        fputs(f->words[word], out);
        break;
    case FIELD_TEXT:
        encode_text(out, at);
        break;
    default:
        encode_quantity(out, f, object);
    }
}

/* "{at: 0 mm, ei: 20 N m2}" or "{of: rise, with: peak, correlation: 0.3}" */
static void encode_flat(FILE *out, const field_group *group, const char *object)
{
    const char *gap = "";
    fputc('{', out);
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        if (!field_is_written(f, object))
            continue;
        fprintf(out, "%s%s: ", gap, f->name);
        encode_value(out, f, object);
        gap = ", ";
    }
    fputc('}', out);
}

static void encode_numbers(FILE *out, const char *name, const double *values, size_t count,
                           const unit *u, int indent)
{
    fprintf(out, "%*s%s: [", indent, "", name);
    for (size_t i = 0; i < count; i++) {
        char text[QUANTITY_SIZE];
        quantity_write(values[i], u, text, sizeof text);
        if (i > 0)
            fputs(i % NUMBERS_A_LINE ? ", " : ",", out);
        if (i > 0 && i % NUMBERS_A_LINE == 0)
            fprintf(out, "\n%*s", indent + 2, "");
        fputs(text, out);
    }
    fputs("]\n", out);
}

static void encode_table(FILE *out, const field *f, const char *object, int indent)
{
    caber_table table;
    memcpy(&table, object + f->offset, sizeof table);
    dimension dim = field_table_dimension(object);
    fputc('\n', out);
    encode_numbers(out, "time", table.time, table.count, unit_find("s", DIMENSION_TIME), indent);
    const char *symbol = dim == DIMENSION_ANGLE ? "deg" : dimension_si(dim);
    encode_numbers(out, "value", table.value, table.count, unit_find(symbol, dim), indent);
}

static void encode_list(FILE *out, const field *f, const char *object, int indent)
{
    size_t count;
    const char *items;
    memcpy(&count, object + f->count_offset, sizeof count);
    memcpy(&items, object + f->offset, sizeof items);
    fputc('\n', out);
    for (size_t i = 0; i < count; i++) {
        fprintf(out, "%*s- ", indent, "");
        encode_flat(out, f->group, items + i * f->item_size);
        fputc('\n', out);
    }
}

static void encode_line(FILE *out, const field *f, const char *object)
{
    fputc(' ', out);
    if (f->type == FIELD_GROUP)
        encode_flat(out, f->group, object + f->offset);
    else
        encode_value(out, f, object);
    fputc('\n', out);
}

static void encode_field(FILE *out, const field *f, const char *object, int indent)
{
    fprintf(out, "%*s%s:", indent, "", f->name);
    if (f->type == FIELD_TABLE) {
        encode_table(out, f, object, indent + 2);
    } else if (f->type == FIELD_LIST) {
        encode_list(out, f, object, indent + 2);
    } else if (f->type == FIELD_ERRORS) {
        fputc('\n', out);
        errors_encode(out, f, (const caber_shaft *)(const void *)object, indent + 2);
    } else if (f->type == FIELD_GROUP && !group_is_flat(f->group)) {
        fputc('\n', out);
        encode_group(out, f->group, object + f->offset, indent + 2);
    } else {
        encode_line(out, f, object);
    }
}

void encode_group(FILE *out, const field_group *group, const void *object, int indent)
{
    for (size_t i = 0; i < group->count; i++)
        if (field_is_written(&group->fields[i], object))
            encode_field(out, &group->fields[i], object, indent);
}

caber_status files_write_setup(const caber_setup *setup, FILE *out, caber_message *message)
{
    /* A setup that the reader would refuse is not written in the first place. */
    caber_status status = setup_check(setup, message);
    if (status != CABER_OK)
        return status;
    const field_group *group = fields_kind_setup();
    fprintf(out, "kind: %s\n", group->kind);
    encode_group(out, group, setup, 0);
    if (fflush(out) || ferror(out))
        return message_set(message, CABER_IO_ERROR, "the setup could not be written");
    return message_clear(message);
}
