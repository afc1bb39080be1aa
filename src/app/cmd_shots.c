/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber shots CSV...: measured shots of setups: whether they differ, and how many more would tell. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/given.h"
#include "app/json.h"
#include "app/shots.h"
#include "app/shots_csv.h"
#include "app/shots_json.h"
#include "app/shots_plot.h"
#include "app/shots_simulated.h"
#include "app/shots_table.h"
#include "base/message.h"
#include "files/source.h"

/* Everything a run needs and gives; freed together. */
typedef struct shots_job {
    caber_measured *measured;
    shots_study study;
    shots_simulated simulated;
    unsigned rules; /* those that set aside */
    char *csv, *plot;
    size_t csv_size, plot_size;
} shots_job;

static void shots_job_free(shots_job *job)
{
    shots_simulated_free(&job->simulated);
    shots_study_free(&job->study);
    caber_measured_free(job->measured);
    free(job->csv);
    free(job->plot);
}

/* ------------------------------------------------------------------ --set-aside, --keep */

enum { ITEM_SIZE = 600 };

/* One item of such a list: a rule, or a shot. */
typedef struct shots_item {
    int rule; /* -1 = a shot */
    char file[ITEM_SIZE];
    size_t line;
} shots_item;

static int rule_named(const char *word)
{
    for (int r = 0; r < CABER_CLEAN_BY_HAND; r++)
        if (!strcmp(word, shots_rule_word((caber_cleaning)r)))
            return r;
    return -1;
}

/* Takes the next item off *list; false at its end. What is neither rule nor shot has line 0. */
static bool next_item(const char **list, shots_item *out)
{
    if (!*list)
        return false;
    const size_t length = strcspn(*list, ",");
    *out = (shots_item){.rule = -1};
    if (length < sizeof out->file)
        memcpy(out->file, *list, length);
    *list = (*list)[length] ? *list + length + 1 : NULL;
    out->rule = rule_named(out->file);
    char *colon = strrchr(out->file, ':'), *end;
    if (out->rule >= 0 || !colon || colon == out->file || colon[1] < '0' || colon[1] > '9')
        return true;
    errno = 0;
    const long line = strtol(colon + 1, &end, 10);
    if (!*end && !errno && line > 0)
        out->line = (size_t)line;
    *colon = '\0';
    return true;
}

static app_exit check_list(const options *given, option_id id, const char *name)
{
    const char *list = given->text[id];
    shots_item item;
    while (next_item(&list, &item))
        if (item.rule < 0 && !item.line)
            return app_misused(given->command,
                               "%s takes impossible, mishit, outlier or FILE:LINE, and more after "
                               "commas, not '%s'",
                               name, given->text[id]);
    return APP_FINE;
}

static bool is_file_of(const caber_measured *m, const caber_measured_shot *s, const char *file)
{
    const char *path = m->files[s->file], *slash = strrchr(path, '/');
    return !strcmp(path, file) || (slash && !strcmp(slash + 1, file));
}

/* Marks the shots of a list: brought back, or set aside by hand. */
static app_exit mark_shots(shots_job *job, const char *list, bool keep)
{
    shots_item item;
    while (next_item(&list, &item)) {
        bool found = item.rule >= 0;
        for (size_t i = 0; item.rule < 0 && i < job->measured->count; i++) {
            caber_measured_shot *s = &job->measured->shots[i];
            if (s->line != item.line || !is_file_of(job->measured, s, item.file))
                continue;
            found = true;
            s->kept = keep;
            s->broken = keep ? 0 : s->broken | 1u << CABER_CLEAN_BY_HAND;
        }
        if (!found) {
            app_say("%s: there is no shot in line %zu of %s", keep ? "--keep" : "--set-aside",
                    item.line, item.file);
            return APP_BAD_INPUT;
        }
    }
    return APP_FINE;
}

static unsigned rules_of(const options *given)
{
    unsigned rules = 0;
    shots_item item;
#define USUAL(symbol, word, usual, text) rules |= (usual) ? 1u << symbol : 0;
    CABER_CLEANING_LIST(USUAL)
#undef USUAL
    for (const char *list = given->text[OPTION_SET_ASIDE]; next_item(&list, &item);)
        rules |= item.rule >= 0 ? 1u << item.rule : 0;
    for (const char *list = given->text[OPTION_KEEP_SHOTS]; next_item(&list, &item);)
        rules &= item.rule >= 0 ? ~(1u << item.rule) : ~0u;
    return rules;
}

static app_exit clean(shots_job *job, const options *given, caber_message *message)
{
    job->rules = rules_of(given);
    app_exit rc = mark_shots(job, given->text[OPTION_SET_ASIDE], false);
    if (rc == APP_FINE)
        rc = mark_shots(job, given->text[OPTION_KEEP_SHOTS], true);
    if (rc != APP_FINE)
        return rc;
    const caber_status status = caber_measured_clean(job->measured, job->rules, message);
    return status == CABER_OK ? APP_FINE : app_fail(status, message);
}

/* ------------------------------------------------------------------ what is asked */

static app_exit check_path(const options *given, option_id id, const char *name)
{
    for (int i = 0; given->text[id] && i < given->operand_count; i++)
        if (source_is_same(given->text[id], given->operands[i]))
            return app_misused(given->command, "%s would write over the shots", name);
    return APP_FINE;
}

static app_exit check_words(const options *given)
{
    app_exit rc = check_list(given, OPTION_SET_ASIDE, "--set-aside");
    if (rc == APP_FINE)
        rc = check_list(given, OPTION_KEEP_SHOTS, "--keep");
    if (rc == APP_FINE)
        rc = given_check_files(given);
    if (rc == APP_FINE)
        rc = check_path(given, OPTION_CSV, "--csv");
    if (rc == APP_FINE)
        rc = check_path(given, OPTION_PLOT, "--plot");
    return rc == APP_FINE ? shots_simulated_check(given) : rc;
}

/* Names in --only and --adjust are known once the files are read. */
static app_exit check_names(const shots_job *job, const options *given)
{
    char missing[96];
    const char *only = given->text[OPTION_ONLY], *adjust = given->text[OPTION_ADJUST];
    if (only && !shots_has_names(job->measured, only, missing, sizeof missing)) {
        app_say("--only: no file has '%s'; it takes names of columns that were measured", missing);
        return APP_BAD_INPUT;
    }
    if (!adjust || !strcmp(adjust, "none"))
        return APP_FINE;
    if (!shots_has_names(job->measured, adjust, missing, sizeof missing)) {
        app_say("--adjust: no file has '%s'; it takes names of columns that were measured",
                missing);
        return APP_BAD_INPUT;
    }
    if (shots_can_adjust(adjust, missing, sizeof missing))
        return APP_FINE;
    app_say("--adjust: '%s' is no head speed or place of the strike", missing);
    return APP_BAD_INPUT;
}

static app_exit read_request(const options *given, shots_request *out)
{
    *out = (shots_request){.only = given->text[OPTION_ONLY],
                           .adjust = given->text[OPTION_ADJUST],
                           .settings = batch_settings_default()};
    int seed = 1;
    const app_exit rc = (app_exit)options_read_count(given, OPTION_SEED, 0, 0x7fffffff, &seed);
    out->settings.seed = (uint64_t)seed;
    return rc;
}

/* ------------------------------------------------------------------ what hangs on flagged shots */

/* Beyond so many shots a single one hardly counts. */
static const size_t doubt_most = 2000;

/* The same study with all that is flagged set aside, beside this one. */
static caber_status doubt(shots_job *job, const shots_request *request, caber_message *message)
{
    size_t flagged = 0;
    for (size_t i = 0; i < job->measured->count; i++) {
        const caber_measured_shot *s = &job->measured->shots[i];
        flagged += s->broken && !s->set_aside && !s->kept;
    }
    if (!flagged || job->measured->count > doubt_most)
        return CABER_OK;
    shots_study stricter = {0};
    caber_status status = caber_measured_clean(job->measured, ~0u, message);
    if (status == CABER_OK)
        status = shots_study_run(job->measured, request, &stricter, message);
    if (status == CABER_OK)
        shots_study_doubt(&job->study, &stricter, flagged);
    shots_study_free(&stricter);
    /* A batch of which nothing is left is no error here. */
    if (status == CABER_OK || status == CABER_BAD_INPUT)
        status = caber_measured_clean(job->measured, job->rules, message);
    return status;
}

/* ------------------------------------------------------------------ the command */

/* Nothing is written before all that is to be written is there. */
static caber_status write_files(shots_job *job, const options *given, caber_message *message)
{
    const char *csv = given->text[OPTION_CSV], *plot = given->text[OPTION_PLOT];
    caber_status status = CABER_OK;
    if (csv)
        status = shots_csv(job->measured, &job->csv, &job->csv_size, message);
    if (status == CABER_OK && plot)
        status =
            shots_plot(&job->study, given_plot_format(given), &job->plot, &job->plot_size, message);
    return status == CABER_OK ? given_write_files(given, job->csv, job->csv_size, job->plot,
                                                  job->plot_size, message)
                              : status;
}

static app_exit shots_print(const shots_job *job, const options *given)
{
    if (given->text[OPTION_JSON])
        return json_app_print(shots_json(&job->study, job->rules, &job->simulated));
    return shots_table(&job->study, job->rules, &job->simulated);
}

static app_exit shots_run_job(shots_job *job, const options *given, const shots_request *request)
{
    caber_message message = {""};
    caber_status status =
        caber_measured_read((const char *const *)given->operands, (size_t)given->operand_count,
                            given->text[OPTION_MAPPING], &job->measured, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    app_exit rc = clean(job, given, &message);
    if (rc == APP_FINE)
        rc = check_names(job, given);
    if (rc != APP_FINE)
        return rc;
    status = shots_study_run(job->measured, request, &job->study, &message);
    if (status == CABER_OK)
        status = doubt(job, request, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    rc = shots_simulated_run(given, &job->study, &job->simulated);
    if (rc != APP_FINE)
        return rc;
    status = write_files(job, given, &message);
    return status == CABER_OK ? shots_print(job, given) : app_fail(status, &message);
}

static app_exit shots_run(const options *given)
{
    shots_request request;
    shots_job job = {0};
    app_exit rc = check_words(given);
    if (rc == APP_FINE)
        rc = read_request(given, &request);
    if (rc != APP_FINE)
        return rc;
    rc = shots_run_job(&job, given, &request);
    shots_job_free(&job);
    return rc;
}

const app_command cmd_shots = {
    .name = "shots",
    .operands = "CSV...",
    .least = 1,
    .most = 100,
    .summary = "Says whether measured shots of setups differ, and how many more would tell",
    .details =
        "Each CSV holds the measured shots of one setup, or of several with a column setup. "
        "Printed\n"
        "are averages and spreads, which of them differ between the setups by more than chance, "
        "also\n"
        "at the same head speed and strike, and how many more shots would settle it. No shot is\n"
        "dropped without a word.",
    .options = OPTION_BIT(OPTION_MAPPING) | OPTION_BIT(OPTION_SET_ASIDE) |
               OPTION_BIT(OPTION_KEEP_SHOTS) | OPTION_BIT(OPTION_ONLY) | OPTION_BIT(OPTION_ADJUST) |
               OPTION_BIT(OPTION_SEED) | OPTION_BIT(OPTION_SIMULATED) | OPTION_BIT(OPTION_SET) |
               OPTION_BIT(OPTION_SWINGS) | OPTION_BIT(OPTION_THREADS) | OPTION_BIT(OPTION_CSV) |
               OPTION_BIT(OPTION_PLOT) | OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_HELP),
    .run = shots_run,
};
