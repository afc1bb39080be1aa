/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber fields [KIND]: the reference of the model files and of the results, from the same tables
 * that read the files and print the results. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/fields.h"
#include "app/json.h"
#include "files/files.h"

static void fields_print_text(const fields_kind *kind)
{
    printf("%s\n\n", kind->title);
    fields_row row;
    for (size_t i = 0; kind->row(i, &row); i++)
        printf("  %-26s %-6s %s\n", row.name, row.unit, row.meaning);
}

/* Prints a text as scdoc source: its special characters escaped. */
static void fields_print_scdoc_text(const char *text)
{
    for (; *text; text++) {
        if (strchr("_*\\", *text))
            putchar('\\');
        putchar(*text);
    }
}

static void fields_print_scdoc(const fields_kind *kind)
{
    printf("\n# ");
    for (const char *c = kind->title; *c; c++)
        putchar(*c >= 'a' && *c <= 'z' ? *c - 'a' + 'A' : *c);
    printf("\n\n");
    fields_row row;
    for (size_t i = 0; kind->row(i, &row); i++) {
        putchar('*');
        fields_print_scdoc_text(row.name);
        printf("*%s%s\n\t", *row.unit ? ", " : "", row.unit);
        fields_print_scdoc_text(row.meaning);
        printf("\n\n");
    }
}

/* Returns the reference of all files, or of one kind of them when `kind` is not NULL, to be freed, or
 * NULL after saying why. There is no text when there is no such kind. */
static char *fields_files_text(files_format format, const char *kind)
{
    caber_message message = {""};
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    caber_status status = CABER_NO_MEMORY;
    if (out)
        status = kind ? files_reference_kind(out, kind, &message)
                      : files_reference(out, format, &message);
    if (out && fclose(out) != 0 && status == CABER_OK)
        status = CABER_NO_MEMORY;
    if (status == CABER_OK)
        return text;
    app_fail(status, &message);
    free(text);
    return NULL;
}

static app_exit fields_print_files(const char *kind)
{
    char *text = fields_files_text(FILES_TEXT, kind);
    if (!text)
        return APP_UNFINISHED;
    fputs(text, stdout);
    free(text);
    return APP_FINE;
}

/* The values of results stand before the last section of the page. */
static app_exit fields_man(const options *given)
{
    if (given->operand_count || given->text[OPTION_JSON])
        return app_misused(given->command, "--man stands alone");
    char *text = fields_files_text(FILES_SCDOC, NULL);
    if (!text)
        return APP_UNFINISHED;
    const char *last = strstr(text, "\n# SEE ALSO");
    if (!last)
        last = text + strlen(text);
    fwrite(text, 1, (size_t)(last - text), stdout);
    for (size_t k = 0; k < FIELDS_KINDS; k++)
        fields_print_scdoc(&fields_kinds[k]);
    fputs(last, stdout);
    free(text);
    return APP_FINE;
}

/* name NULL = every kind of results. */
static app_exit fields_print_json(const char *name)
{
    json_t *object = json_object();
    int failed = !object;
    for (size_t k = 0; k < FIELDS_KINDS; k++)
        if (!name || strcmp(name, fields_kinds[k].name) == 0)
            failed |=
                json_object_set_new(object, fields_kinds[k].name, fields_json(&fields_kinds[k]));
    if (failed) {
        json_decref(object);
        object = NULL;
    }
    return json_app_print(object);
}

static app_exit fields_run(const options *given)
{
    if (given->text[OPTION_MAN])
        return fields_man(given);
    const char *name = given->operand_count ? given->operands[0] : NULL;
    const bool one = name && files_has_kind(name); /* of the files */
    bool files = !name || one || strcmp(name, "files") == 0, found = files;
    for (size_t k = 0; name && k < FIELDS_KINDS; k++)
        found |= strcmp(name, fields_kinds[k].name) == 0;
    if (!found)
        return app_misused(
            given->command,
            "there is no kind '%s': files, impact, shot, series, bench, measured, or "
            "a kind of file such as readings",
            name);
    if (given->text[OPTION_JSON]) {
        if (name && files)
            return app_misused(given->command,
                               "--json is for impact, shot, series, bench and measured");
        return fields_print_json(name);
    }
    app_exit rc = files ? fields_print_files(one ? name : NULL) : APP_FINE;
    for (size_t k = 0; rc == APP_FINE && k < FIELDS_KINDS; k++) {
        if (name && strcmp(name, fields_kinds[k].name) != 0)
            continue;
        if (!name)
            putchar('\n');
        fields_print_text(&fields_kinds[k]);
    }
    return rc;
}

const app_command cmd_fields = {
    .name = "fields",
    .operands = "[KIND]",
    .least = 0,
    .most = 1,
    .summary = "Prints the reference of the model files and of the results",
    .details =
        "KIND is files, for every key of the model files, or one kind of them: shaft, head, grip,\n"
        "player, setup, readings, mapping or study; or it is impact, shot, series or bench, for "
        "the "
        "values\n"
        "that swing and bench give, or measured, for what shots may tell. Without KIND all of it "
        "is\n"
        "printed.",
    .options = OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_MAN) | OPTION_BIT(OPTION_HELP),
    .run = fields_run,
};
