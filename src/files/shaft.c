/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A shaft as a file of its own, with its errors in a CSV beside it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/encode.h"
#include "files/errors.h"
#include "files/files.h"
#include "files/replace.h"
#include "swing/check.h"

/* A text that grows as it is written to. */
typedef struct memory_file {
    char *text;
    size_t size;
} memory_file;

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

static const field_group *shaft_group(void)
{
    return fields_kind(0);
}

static const field *errors_field(void)
{
    const field_group *group = shaft_group();
    size_t i = 0;
    while (group->fields[i].type != FIELD_ERRORS)
        i++;
    return &group->fields[i];
}

/* "DIR/NAME.yaml" to "DIR/NAME-errors.csv", to be freed. */
static char *errors_path(const char *path)
{
    static const char suffix[] = "-errors.csv", yaml[] = ".yaml";
    size_t length = strlen(path), end = sizeof yaml - 1;
    if (length >= end && !strcmp(path + length - end, yaml))
        length -= end;
    char *out = malloc(length + sizeof suffix);
    if (!out)
        return NULL;
    memcpy(out, path, length);
    memcpy(out + length, suffix, sizeof suffix);
    return out;
}

static caber_status write_csv(const caber_shaft *shaft, const char *path, caber_message *message)
{
    memory_file csv = {NULL, 0};
    FILE *out = open_memstream(&csv.text, &csv.size);
    if (out)
        errors_write_csv(out, errors_field(), shaft);
    const bool good = out && !ferror(out) && fclose(out) == 0;
    const caber_status status =
        good ? replace_write(path, csv.text, csv.size, message) : no_memory(message);
    free(csv.text);
    return status;
}

/* `errors` is the path of the CSV, or NULL. */
static caber_status write_yaml(const caber_shaft *shaft, const char *path, const char *comment,
                               const char *errors, caber_message *message)
{
    memory_file yaml = {NULL, 0};
    FILE *out = open_memstream(&yaml.text, &yaml.size);
    if (!out)
        return no_memory(message);
    caber_shaft alone = *shaft;
    alone.errors = (caber_errors){0, NULL};
    if (comment && comment[0])
        encode_comment(out, comment);
    fprintf(out, "kind: %s\n", shaft_group()->kind);
    encode_group(out, shaft_group(), &alone, 0);
    if (errors) {
        const char *slash = strrchr(errors, '/');
        fprintf(out, "%s: ", errors_field()->name);
        encode_text(out, slash ? slash + 1 : errors);
        fputc('\n', out);
    }
    const bool good = !ferror(out);
    const caber_status status = fclose(out) == 0 && good
                                    ? replace_write(path, yaml.text, yaml.size, message)
                                    : no_memory(message);
    free(yaml.text);
    return status;
}

caber_status caber_shaft_write(const caber_shaft *shaft, const char *path, const char *comment,
                               caber_message *message)
{
    /* A shaft that the reader would refuse is not written in the first place. */
    caber_status status = shaft_check(shaft, message);
    if (status != CABER_OK)
        return status;
    if (comment && comment[text_utf8_end(comment, strlen(comment))])
        return message_set(message, CABER_BAD_INPUT, "%s: the comment is not UTF-8", path);
    char *errors = NULL;
    if (shaft->errors.count) {
        /* The name stands in the file. */
        if (path[text_utf8_end(path, strlen(path))])
            return message_set(message, CABER_BAD_INPUT, "%s: the path is not UTF-8", path);
        errors = errors_path(path);
        status = errors ? write_csv(shaft, errors, message) : no_memory(message);
    }
    if (status == CABER_OK)
        status = write_yaml(shaft, path, comment, errors, message);
    free(errors);
    return status == CABER_OK ? message_clear(message) : status;
}
