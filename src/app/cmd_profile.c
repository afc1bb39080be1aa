/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber profile READINGS: bench readings to a profile with error bands. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/given.h"
#include "app/json.h"
#include "app/profile.h"
#include "app/profile_plot.h"
#include "app/profile_table.h"
#include "base/text.h"
#include "files/replace.h"

/* Everything a profile needs and gives; freed together. */
typedef struct profile_job {
    caber_readings *readings;
    caber_fit *fit;
    char *plot; /* NULL without --plot */
    size_t plot_size;
} profile_job;

static void profile_job_free(profile_job *job)
{
    free(job->plot);
    caber_fit_free(job->fit);
    caber_readings_free(job->readings);
}

/* ------------------------------------------------------------------ --without */

/* One reading that --without names. */
typedef struct omission {
    char file[CABER_NAME_SIZE]; /* last part of its path */
    int line;
} omission;

/* Takes the next FILE:LINE off *list; false at its end. What is none of that form has line 0. */
static bool next_omission(const char **list, omission *out)
{
    if (!*list)
        return false;
    const size_t length = strcspn(*list, ",");
    char item[CABER_NAME_SIZE + 16] = "", *end = item;
    if (length < sizeof item)
        memcpy(item, *list, length);
    char *colon = strrchr(item, ':');
    errno = 0;
    const long line = colon && colon[1] >= '0' && colon[1] <= '9' ? strtol(colon + 1, &end, 10) : 0;
    if (colon)
        *colon = '\0';
    snprintf(out->file, sizeof out->file, "%s", profile_file(item));
    out->line = out->file[0] && !*end && !errno && line > 0 && line <= 1000000 ? (int)line : 0;
    *list = (*list)[length] ? *list + length + 1 : NULL;
    return true;
}

static app_exit check_without(const options *given)
{
    const char *list = given->text[OPTION_WITHOUT];
    omission item;
    while (next_omission(&list, &item))
        if (item.line == 0)
            return app_misused(given->command,
                               "--without takes FILE:LINE and more after commas, not '%s'",
                               given->text[OPTION_WITHOUT]);
    return APP_FINE;
}

static app_exit leave_out(caber_readings *readings, const char *list)
{
    omission item;
    while (next_omission(&list, &item)) {
        bool found = false;
        for (size_t i = 0; i < readings->count; i++) {
            caber_reading *r = &readings->items[i];
            if (r->line == item.line && strcmp(profile_file(r->source), item.file) == 0)
                found = r->left_out = true;
        }
        if (found)
            continue;
        app_say("--without: there is no reading in line %d of %s", item.line, item.file);
        return APP_BAD_INPUT;
    }
    return APP_FINE;
}

/* ------------------------------------------------------------------ --output, --plot */

/* The readings themselves must not be written over. */
static bool is_same_file(const char *path, const char *other)
{
    struct stat a, b;
    return stat(path, &a) == 0 && stat(other, &b) == 0 && a.st_dev == b.st_dev &&
           a.st_ino == b.st_ino;
}

static app_exit check_paths(const options *given)
{
    const char *output = given->text[OPTION_OUTPUT];
    if (output && !text_ends_with(output, ".yaml"))
        return app_misused(given->command, "--output writes SHAFT.yaml, not '%s'", output);
    if (output && is_same_file(output, given->operands[0]))
        return app_misused(given->command, "--output would write over the readings");
    return given_check_plot(given);
}

static void comment_left_out(FILE *out, const caber_readings *readings)
{
    const char *before = "Left out:";
    for (size_t i = 0; i < readings->count; i++) {
        char title[2 * CABER_NAME_SIZE];
        if (!readings->items[i].left_out)
            continue;
        profile_reading_title(&readings->items[i], title, sizeof title);
        fprintf(out, "%s %s", before, title);
        before = ";";
    }
    if (*before == ';')
        fputs(".\n", out);
}

/* Where the profile comes from, for the head of its file; to be freed, NULL when out of memory. */
static char *comment_text(const profile_job *job, const options *given)
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return NULL;
    fprintf(out,
            "Drawn by caber %s through the bench readings in %s:\n%zu readings, %zu of them in "
            "the fit.\n",
            caber_version(), profile_file(given->operands[0]), job->readings->count,
            job->fit->used);
    comment_left_out(out, job->readings);
    for (size_t i = 0; i < given->override_count; i++)
        fprintf(out, "With --set %s\n", given->overrides[i]);
    fprintf(out, "Reduced chi-square %.2f, effective parameters %.1f.\n",
            profile_reduced_chi_square(job->fit), job->fit->parameters);
    const bool failed = ferror(out) != 0;
    if (fclose(out) == 0 && !failed)
        return text;
    free(text);
    return NULL;
}

static caber_status write_shaft(profile_job *job, const options *given, caber_message *message)
{
    char *comment = comment_text(job, given);
    if (!comment)
        return CABER_NO_MEMORY;
    /* What the readings say of themselves, such as that they are invented, goes along. */
    if (!job->fit->shaft.note[0])
        memcpy(job->fit->shaft.note, job->readings->note, sizeof job->fit->shaft.note);
    const caber_status status =
        caber_shaft_write(&job->fit->shaft, given->text[OPTION_OUTPUT], comment, message);
    free(comment);
    return status;
}

/* Nothing is written before all that is to be written is there. */
static caber_status write_files(profile_job *job, const options *given, caber_message *message)
{
    caber_status status = CABER_OK;
    if (given->text[OPTION_PLOT])
        status = profile_plot(job->readings, job->fit, given_plot_format(given), &job->plot,
                              &job->plot_size, message);
    if (status == CABER_OK && given->text[OPTION_OUTPUT])
        status = write_shaft(job, given, message);
    if (status == CABER_OK && job->plot)
        status = replace_write(given->text[OPTION_PLOT], job->plot, job->plot_size, message);
    return status;
}

/* ------------------------------------------------------------------ the command */

static app_exit profile_print(const profile_job *job, const options *given)
{
    if (given->text[OPTION_JSON])
        return json_app_print(json_app_profile(job->readings, job->fit));
    return profile_table(job->readings, job->fit);
}

static app_exit profile_run_job(profile_job *job, const options *given)
{
    caber_message message = {""};
    caber_status status = caber_readings_read(given->operands[0], given->overrides,
                                              given->override_count, &job->readings, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    app_exit rc = leave_out(job->readings, given->text[OPTION_WITHOUT]);
    if (rc != APP_FINE)
        return rc;
    status = caber_fit_run(job->readings, &job->fit, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    if (!profile_is_finite(job->readings, job->fit))
        return APP_UNFINISHED;
    status = write_files(job, given, &message);
    return status == CABER_OK ? profile_print(job, given) : app_fail(status, &message);
}

static app_exit profile_run(const options *given)
{
    app_exit rc = check_without(given);
    if (rc == APP_FINE)
        rc = check_paths(given);
    if (rc != APP_FINE)
        return rc;
    profile_job job = {0};
    rc = profile_run_job(&job, given);
    profile_job_free(&job);
    return rc;
}

const app_command cmd_profile = {
    .name = "profile",
    .operands = "READINGS",
    .least = 1,
    .most = 1,
    .summary = "Draws a profile through bench readings, with error bands",
    .details =
        "READINGS is a readings file: which jigs, and the tables of what they read. The profile "
        "of\n"
        "EI, GJ and mass that follows all of them best is printed with its errors, and how far "
        "off\n"
        "each jig and each bad reading is. A shaft under load springs back: wear eye protection.",
    .options = OPTION_BIT(OPTION_SET) | OPTION_BIT(OPTION_WITHOUT) | OPTION_BIT(OPTION_OUTPUT) |
               OPTION_BIT(OPTION_PLOT) | OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_HELP),
    .run = profile_run,
};
