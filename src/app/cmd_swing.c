/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber swing SETUP: one downswing. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/get.h"
#include "app/given.h"
#include "app/json.h"
#include "app/sensitivity.h"
#include "app/series.h"
#include "app/swing_plot.h"
#include "app/table.h"
#include "app/uncertainty.h"

/* Everything a swing needs and gives; freed together. */
typedef struct swing_job {
    caber_setup *setup;
    caber_model *model;
    caber_work *work;
    caber_trace *trace;
    caber_swing swing;
    caber_shot_pair shots;
} swing_job;

static void swing_job_free(swing_job *job)
{
    caber_trace_free(job->trace);
    caber_work_free(job->work);
    caber_model_free(job->model);
    caber_setup_free(job->setup);
}

/* Reads, builds and runs. */
static caber_status swing_job_run(swing_job *job, const options *given, caber_message *message)
{
    caber_status status = caber_setup_read(given->operands[0], given->overrides,
                                           given->override_count, &job->setup, message);
    if (status == CABER_OK)
        status = caber_model_create(job->setup, &job->model, message);
    if (status == CABER_OK)
        status = caber_work_create(job->model, &job->work, message);
    if (status == CABER_OK && (given->text[OPTION_SERIES] || given->text[OPTION_PLOT])) {
        job->trace = caber_trace_create();
        if (!job->trace)
            return CABER_NO_MEMORY;
    }
    if (status == CABER_OK)
        status = caber_swing_run(job->model, job->work, &job->swing, job->trace, message);
    if (status == CABER_OK)
        status = caber_shot_pair_run(job->setup, &job->swing, &job->shots, message);
    return status;
}

/* Figures of a swing that was stopped are no figures of an impact. */
static void swing_say_unless_met(const caber_swing *swing)
{
    if (!swing->met_ball)
        app_say("the swing was stopped by settings.until; it met no ball, and the figures are "
                "those of that instant");
}

/* A ball that does not fly is no failure of the swing. */
static void swing_say_unless_flies(const caber_swing *swing, const caber_shot_pair *shots)
{
    if (swing->met_ball && !shots->bent_flies)
        app_say("no flight of the club's ball: %s", shots->bent_why.text);
    if (swing->met_ball && !shots->straight_flies)
        app_say("no flight of the straight club's ball: %s", shots->straight_why.text);
}

static bool swing_is_finite(const caber_swing *swing, const caber_shot_pair *shots)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++)
        if (!app_is_number(caber_impact_value(&swing->bent, &fields[i]), fields[i].name) ||
            !app_is_number(caber_impact_value(&swing->straight, &fields[i]), fields[i].name))
            return false;
    fields = caber_shot_fields(&count);
    for (size_t i = 0; i < count; i++)
        if ((shots->bent_flies &&
             !app_is_number(caber_shot_value(&shots->bent, &fields[i]), fields[i].name)) ||
            (shots->straight_flies &&
             !app_is_number(caber_shot_value(&shots->straight, &fields[i]), fields[i].name)))
            return false;
    return true;
}

/* Returns the row that has this name, or NULL. */
static const caber_field *swing_field(const caber_field *fields, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(fields[i].name, name) == 0)
            return &fields[i];
    return NULL;
}

/* "name" is the club's value, "straight.name" the straight club's. */
static bool swing_lookup(const void *context, const char *name, double *value)
{
    static const char prefix[] = "straight.";
    const swing_job *job = context;
    bool straight = strncmp(name, prefix, sizeof prefix - 1) == 0;
    if (straight)
        name += sizeof prefix - 1;
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    const caber_field *field = swing_field(fields, count, name);
    if (field && straight && !field->straight)
        return false;
    if (field) {
        *value = caber_impact_value(straight ? &job->swing.straight : &job->swing.bent, field);
        return true;
    }
    fields = caber_shot_fields(&count);
    field = swing_field(fields, count, name);
    if (field)
        *value = caber_shot_value(straight ? &job->shots.straight : &job->shots.bent, field);
    return field != NULL;
}

/* Says which value of --get belongs to a ball that does not fly, if one does. */
static bool swing_get_flies(const swing_job *job, const char *names)
{
    size_t count;
    const caber_field *fields = caber_shot_fields(&count);
    for (size_t i = 0; i < count; i++) {
        char straight[96];
        snprintf(straight, sizeof straight, "straight.%s", fields[i].name);
        const bool bent = !job->shots.bent_flies && get_names(names, fields[i].name);
        if (!bent && (job->shots.straight_flies || !get_names(names, straight)))
            continue;
        app_say("there is no %s: %s", bent ? fields[i].name : straight,
                bent ? job->shots.bent_why.text : job->shots.straight_why.text);
        return false;
    }
    return true;
}

/* The figure of the trace, or of another run where the settings have its rows too far apart. */
static caber_status swing_draw(const swing_job *job, const options *given, char **plot,
                               size_t *size, caber_message *message)
{
    caber_setup fine = *job->setup;
    swing_job other = {0};
    if (fine.settings.sample <= SWING_PLOT_SAMPLE)
        return swing_plot(job->setup, &job->swing, job->trace, given_plot_format(given), plot, size,
                          message);
    fine.settings.sample = SWING_PLOT_SAMPLE;
    other.trace = caber_trace_create();
    caber_status status =
        other.trace ? caber_model_create(&fine, &other.model, message) : CABER_NO_MEMORY;
    if (status == CABER_OK)
        status = caber_work_create(other.model, &other.work, message);
    if (status == CABER_OK)
        status = caber_swing_run(other.model, other.work, &other.swing, other.trace, message);
    if (status == CABER_OK)
        status = swing_plot(&fine, &other.swing, other.trace, given_plot_format(given), plot, size,
                            message);
    swing_job_free(&other);
    return status;
}

/* Writes what --series and --plot ask for. */
static app_exit swing_write(const swing_job *job, const options *given)
{
    caber_message message = {""};
    app_exit rc = APP_FINE;
    char *plot = NULL;
    size_t size = 0;
    if (!job->trace)
        return APP_FINE;
    if (!series_is_finite(job->trace))
        return APP_UNFINISHED;
    caber_status status = CABER_OK;
    if (given->text[OPTION_PLOT])
        status = swing_draw(job, given, &plot, &size, &message);
    if (status == CABER_OK && given->text[OPTION_SERIES])
        rc = series_write(given->text[OPTION_SERIES], job->trace, job->setup, given->operands[0],
                          given);
    if (status == CABER_OK && rc == APP_FINE && plot)
        status = given_write_files(given, NULL, 0, plot, size, &message);
    free(plot);
    return status == CABER_OK ? rc : app_fail(status, &message);
}

static app_exit swing_print(const swing_job *job, const options *given)
{
    if (given->text[OPTION_GET] && !swing_get_flies(job, given->text[OPTION_GET]))
        return APP_UNFINISHED;
    if (given->text[OPTION_GET])
        return get_print(given->text[OPTION_GET], swing_lookup, job);
    if (given->text[OPTION_JSON])
        return json_app_print(json_app_swing(job->setup, &job->swing, &job->shots));
    table_swing(job->setup, &job->swing, &job->shots);
    return APP_FINE;
}

/* What can be seen to be wrong before anything is computed. */
static app_exit swing_check(const options *given)
{
    static const swing_job none;
    if (given->text[OPTION_GET] && given->text[OPTION_JSON])
        return app_misused(given->command, "--get and --json exclude each other");
    if (given->text[OPTION_PARTS] && !given->text[OPTION_SENSITIVITY])
        return app_misused(given->command, "--parts goes with --sensitivity");
    if (given->text[OPTION_SENSITIVITY] && (given->text[OPTION_GET] || given->text[OPTION_SERIES]))
        return app_misused(given->command, "--sensitivity goes with neither --get nor --series");
    if (given->text[OPTION_PLOT] &&
        (given->text[OPTION_SENSITIVITY] || given->text[OPTION_UNCERTAINTY]))
        return app_misused(given->command,
                           "--plot goes with neither --sensitivity nor --uncertainty");
    app_exit rc = uncertainty_check(given);
    if (rc == APP_FINE && given->text[OPTION_SERIES])
        rc = series_check_path(given->command, given->text[OPTION_SERIES]);
    if (rc == APP_FINE)
        rc = given_check_plot(given);
    if (rc != APP_FINE)
        return rc;
    if (given->text[OPTION_GET])
        return get_check(given->command, given->text[OPTION_GET], swing_lookup, &none);
    return APP_FINE;
}

/* caber swing --sensitivity */
static app_exit swing_run_sensitivity(const options *given)
{
    caber_setup *setup = NULL;
    caber_sensitivity *found = NULL;
    caber_message message = {""};
    int parts = CABER_PARTS_USUAL;
    app_exit rc = (app_exit)options_read_count(given, OPTION_PARTS, CABER_PARTS_LEAST,
                                               CABER_PARTS_MOST, &parts);
    if (rc != APP_FINE)
        return rc;
    caber_status status = caber_setup_read(given->operands[0], given->overrides,
                                           given->override_count, &setup, &message);
    if (status == CABER_OK)
        status = caber_sensitivity_run(setup, parts, NULL, &found, &message);
    if (status != CABER_OK)
        rc = app_fail(status, &message);
    else if (!sensitivity_is_finite(found))
        rc = APP_UNFINISHED;
    if (rc == APP_FINE) {
        swing_say_unless_met(&found->swing);
        rc = sensitivity_print(setup, found, given);
    }
    caber_sensitivity_free(found);
    caber_setup_free(setup);
    return rc;
}

/* caber swing --uncertainty */
static app_exit swing_run_uncertainty(const options *given)
{
    caber_setup *setup = NULL;
    caber_uncertainty found;
    caber_uncertainty_settings settings;
    caber_message message = {""};
    app_exit rc = uncertainty_read(given, &settings);
    if (rc != APP_FINE)
        return rc;
    caber_status status = caber_setup_read(given->operands[0], given->overrides,
                                           given->override_count, &setup, &message);
    if (status == CABER_OK)
        status = caber_uncertainty_run(setup, &settings, &found, &message);
    if (status != CABER_OK)
        rc = app_fail(status, &message);
    else if (!swing_is_finite(&found.swing, &found.shots))
        rc = APP_UNFINISHED;
    if (rc == APP_FINE) {
        swing_say_unless_met(&found.swing);
        swing_say_unless_flies(&found.swing, &found.shots);
        uncertainty_say_failures(&found.draws);
        rc = uncertainty_print(setup, &found, &settings, given);
    }
    caber_setup_free(setup);
    return rc;
}

static app_exit swing_run(const options *given)
{
    app_exit rc = swing_check(given);
    if (rc != APP_FINE)
        return rc;
    if (given->text[OPTION_SENSITIVITY])
        return swing_run_sensitivity(given);
    if (given->text[OPTION_UNCERTAINTY])
        return swing_run_uncertainty(given);
    swing_job job = {0};
    caber_message message = {""};
    caber_status status = swing_job_run(&job, given, &message);
    if (status != CABER_OK)
        rc = app_fail(status, &message);
    else if (!swing_is_finite(&job.swing, &job.shots))
        rc = APP_UNFINISHED;
    if (rc == APP_FINE) {
        swing_say_unless_met(&job.swing);
        if (!given->text[OPTION_GET]) /* which says so itself when it matters */
            swing_say_unless_flies(&job.swing, &job.shots);
    }
    if (rc == APP_FINE)
        rc = swing_write(&job, given);
    if (rc == APP_FINE)
        rc = swing_print(&job, given);
    swing_job_free(&job);
    return rc;
}

const app_command cmd_swing = {
    .name = "swing",
    .operands = "SETUP",
    .least = 1,
    .most = 1,
    .summary = "Runs one downswing and prints what head and ball do at impact",
    .details =
        "SETUP is a setup file: which shaft, head, grip, build and player.\n"
        "Beside each value of the club stands that of a straight club, one that cannot bend,\n"
        "at the same handle position and speed.",
    .options = OPTION_BIT(OPTION_SET) | OPTION_BIT(OPTION_SERIES) | OPTION_BIT(OPTION_PLOT) |
               OPTION_BIT(OPTION_SENSITIVITY) | OPTION_BIT(OPTION_PARTS) |
               OPTION_BIT(OPTION_UNCERTAINTY) | OPTION_BIT(OPTION_DRAWS) | OPTION_BIT(OPTION_SEED) |
               OPTION_BIT(OPTION_THREADS) | OPTION_BIT(OPTION_GET) | OPTION_BIT(OPTION_JSON) |
               OPTION_BIT(OPTION_HELP),
    .run = swing_run,
};
