/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber report SETUP...: what the live page shows of one to four setups, as one file to take away. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/app.h"
#include "app/json.h"
#include "app/report.h"
#include "base/text.h"
#include "files/replace.h"
#include "page/asset.h"

enum { TITLE_SIZE = REPORT_SETUPS * (GIVEN_NAME_SIZE + 2) };

/* The page without data; NULL when it was not built into the program. */
static const char *report_bundled(void)
{
    for (size_t i = 0; i < asset_count; i++)
        if (strcmp(assets[i].path, "/report.part") == 0)
            return assets[i].bytes;
    return NULL;
}

/* What can be seen to be wrong before anything is read. */
static app_exit report_check(const options *given)
{
    const char *const *text = given->text;
    if (text[OPTION_JSON] && (text[OPTION_REPORT_FILE] || text[OPTION_REPLACE]))
        return app_misused(given->command, "--json writes no file: leave out --%s",
                           text[OPTION_REPORT_FILE] ? "output" : "replace");
    if (text[OPTION_REPORT_FILE] && !text_ends_with(text[OPTION_REPORT_FILE], ".html"))
        return app_misused(given->command, "--output writes FILE.html, not '%s'",
                           text[OPTION_REPORT_FILE]);
    if (text[OPTION_UNITS] && strcmp(text[OPTION_UNITS], "metric") &&
        strcmp(text[OPTION_UNITS], "trade"))
        return app_misused(given->command, "--units takes metric or trade, not '%s'",
                           text[OPTION_UNITS]);
    if (text[OPTION_QUESTION] && !text[OPTION_QUESTION][strspn(text[OPTION_QUESTION], " \t\n")])
        return app_misused(given->command, "--question takes a sentence, not '%s'",
                           text[OPTION_QUESTION]);
    if (text[OPTION_JSON] || report_bundled())
        return APP_FINE;
    app_say("the page of a report was not built into this program (node and npm were not there); "
            "--json prints what it would hold");
    return APP_UNFINISHED;
}

static app_exit report_read(const options *given, report_ask *ask)
{
    const caber_scatter_settings usual = caber_scatter_default();
    json_t *question = json_string(given->text[OPTION_QUESTION]);
    ask->count = (size_t)given->operand_count;
    ask->files = (const char *const *)given->operands;
    ask->overrides = given->overrides;
    ask->override_count = given->override_count;
    ask->question = given->text[OPTION_QUESTION];
    ask->units = given->text[OPTION_UNITS] ? given->text[OPTION_UNITS] : "metric";
    ask->swings = usual.swings;
    ask->seed = usual.seed;
    ask->threads = usual.threads;
    json_decref(question);
    if (ask->question && !question) {
        app_say("--question: is no text in UTF-8");
        return APP_BAD_INPUT;
    }
    const app_exit rc = given_keep(given, &ask->keep);
    return rc == APP_FINE ? given_swings(given, &ask->swings, &ask->seed, &ask->threads) : rc;
}

/* Where to: as given, or named after the first setup's file. To be freed with free(). */
static char *report_path(const options *given)
{
    const char *output = given->text[OPTION_REPORT_FILE], *stem;
    size_t length;
    given_stem(given->operands[0], &stem, &length);
    const size_t room = (output ? strlen(output) : length) + sizeof ".html";
    char *path = malloc(room);
    if (path && output)
        snprintf(path, room, "%s", output);
    else if (path)
        snprintf(path, room, "%.*s.html", (int)length, stem);
    return path;
}

/* Nothing that is there is written over unasked, and that is known before it is computed. */
static app_exit report_check_path(const options *given, const char *path)
{
    if (given->text[OPTION_REPLACE] || access(path, F_OK) != 0)
        return APP_FINE;
    app_say("%s: there is such a file already; --replace writes it anew", path);
    return APP_BAD_INPUT;
}

/* Writes the page and prints where it is. */
static app_exit report_write(const report_ask *ask, const json_t *data, const char *path)
{
    char title[TITLE_SIZE] = "", *text;
    size_t size;
    caber_message message = {""};
    report_title(ask, title, sizeof title);
    caber_status status = report_page(report_bundled(), title, data, &text, &size, &message);
    if (status == CABER_OK)
        status = replace_write(path, text, size, &message);
    free(text);
    if (status != CABER_OK)
        return app_fail(status, &message);
    puts(path);
    return APP_FINE;
}

static app_exit report_make(report_ask *ask, const options *given, const char *path)
{
    json_t *data, *warning;
    size_t i;
    caber_message message = {""};
    const caber_status status = report_json(ask, &data, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    json_array_foreach(json_object_get(data, "warnings"), i, warning)
    {
        app_say("%s", json_string_value(warning));
    }
    if (!data || given->text[OPTION_JSON])
        return json_app_print(data);
    const app_exit rc = report_write(ask, data, path);
    json_decref(data);
    return rc;
}

static app_exit report_run(const options *given)
{
    report_ask ask = {.keep = CABER_KEEP_LOAD};
    char *path = report_path(given);
    app_exit rc = path ? report_check(given) : app_fail(CABER_NO_MEMORY, &(caber_message){""});
    if (rc == APP_FINE)
        rc = report_read(given, &ask);
    if (rc == APP_FINE && !given->text[OPTION_JSON])
        rc = report_check_path(given, path);
    if (rc == APP_FINE)
        rc = given_setups(given, ask.setups, ask.names);
    if (rc == APP_FINE)
        rc = report_make(&ask, given, path);
    for (size_t i = 0; i < REPORT_SETUPS; i++)
        caber_setup_free(ask.setups[i]);
    free(path);
    return rc;
}

const app_command cmd_report = {
    .name = "report",
    .operands = "SETUP...",
    .least = 1,
    .most = REPORT_SETUPS,
    .summary = "Writes what the page shows of one to four setups as one HTML file",
    .details =
        "The file opens from the disk in a browser, with no network, and prints on A4 and Letter:\n"
        "the question, the shafts, the load, the figures at impact, pictures, the spread, limits "
        "and\n"
        "cautions. It holds all its numbers, and the same input gives the same file.",
    .options = OPTION_BIT(OPTION_SET) | OPTION_BIT(OPTION_KEEP) | OPTION_BIT(OPTION_REPORT_FILE) |
               OPTION_BIT(OPTION_REPLACE) | OPTION_BIT(OPTION_QUESTION) | OPTION_BIT(OPTION_UNITS) |
               OPTION_BIT(OPTION_SWINGS) | OPTION_BIT(OPTION_SEED) | OPTION_BIT(OPTION_THREADS) |
               OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_HELP),
    .run = report_run,
};
