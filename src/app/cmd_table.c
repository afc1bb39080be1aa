/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber table FILE.h5: what is in a study's file. */
#include <stdio.h>

#include "app/app.h"
#include "app/given.h"
#include "app/json.h"
#include "app/study_sheets.h"
#include "app/study_table.h"
#include "app/table.h"
#include "files/source.h"

/* Everything a run needs and gives; freed together. */
typedef struct table_job {
    study_cases cases;
    study_request request;
    sheet *sheet;
} table_job;

static const char *plural(size_t count)
{
    return count == 1 ? "" : "s";
}

/* ------------------------------------------------------------------ what is printed */

/* What stands above a sheet: whose it is, and of how many cases. */
static void print_head(const table_job *job, const char *by)
{
    const study_cases *c = &job->cases;
    const size_t taken = c->counts.taken;
    table_title(c->notes && c->notes->title[0] ? c->notes->title : c->path);
    if (study_request_along(&job->request) && taken > 1)
        printf("  mean of %zu cases\n", taken);
    else if (by)
        printf("  %zu case%s in %zu group%s; .sd is the standard deviation in a group\n", taken,
               plural(taken), sheet_rows(job->sheet), plural(sheet_rows(job->sheet)));
    else
        printf("  %zu case%s\n", taken, plural(taken));
    putchar('\n');
}

static void print_more(const table_job *job, const char *by)
{
    const size_t rows = sheet_rows(job->sheet);
    const size_t all = by ? rows : job->cases.counts.taken;
    if (study_request_along(&job->request)) {
        if (rows > STUDY_ROWS_MOST)
            printf("\nThis is a selection of %zu places; --csv FILE.csv writes all.\n", rows);
    } else if (all > STUDY_ROWS_MOST) {
        printf("\nand %zu more: --csv FILE.csv writes all, --where chooses.\n",
               all - STUDY_ROWS_MOST);
    }
}

static app_exit print_sheet(table_job *job, const options *given)
{
    const char *by = given->text[OPTION_BY];
    if (given->text[OPTION_JSON])
        return (app_exit)sheet_print_json(job->sheet, study_cases_json(&job->cases));
    print_head(job, by);
    sheet_print(job->sheet);
    print_more(job, by);
    study_cases_print_left(&job->cases);
    return APP_FINE;
}

static app_exit print_overview(table_job *job, const options *given)
{
    study_overview o;
    caber_message message = {""};
    app_exit rc = APP_FINE;
    caber_status status = study_overview_read(&job->cases, &o, &message);
    const bool asked = job->cases.condition_count || job->cases.asked_status;
    if (status == CABER_OK && asked)
        status = study_cases_found(&job->cases, &message);
    if (status == CABER_OK && job->sheet)
        status = sheet_save(job->sheet, &message);
    if (status != CABER_OK) {
        rc = app_fail(status, &message);
    } else if (given->text[OPTION_JSON]) {
        rc = json_app_print(study_overview_json(&o));
    } else if (!study_overview_print(&o)) {
        app_say("out of memory");
        rc = APP_UNFINISHED;
    } else if (asked) {
        study_cases_print_left(&job->cases);
    }
    study_overview_free(&o);
    return rc;
}

/* ------------------------------------------------------------------ the command */

static app_exit check_words(const options *given)
{
    const char *csv = given->text[OPTION_CSV];
    app_exit rc = given_check_files(given);
    if (rc == APP_FINE && csv && source_is_same(csv, given->operands[0]))
        return app_misused(given->command, "--csv would write over the study");
    return rc;
}

static caber_status make_sheet(table_job *job, const options *given, caber_message *message)
{
    study_cases *c = &job->cases;
    if (given->text[OPTION_BY])
        return study_groups(c, &job->request, &job->sheet, message);
    if (study_request_along(&job->request))
        return study_along(c, &job->request, &job->sheet, message);
    return study_rows(c, &job->request, &job->sheet, message);
}

static app_exit run_job(table_job *job, const options *given)
{
    caber_message message = {""};
    const char *only = given->text[OPTION_ONLY_COLUMNS], *by = given->text[OPTION_BY];
    caber_status status = study_cases_open(&job->cases, given->operands[0], given->conditions,
                                           given->condition_count, &message);
    if (status == CABER_OK)
        status = study_request_read(&job->cases, only, by, &job->request, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    const bool overview = !only && !by;
    job->request.csv = given->text[OPTION_CSV];
    job->request.json = given->text[OPTION_JSON] && !overview;
    if (!overview || job->request.csv)
        status = make_sheet(job, given, &message);
    if (status == CABER_OK && overview)
        return print_overview(job, given);
    if (status == CABER_OK)
        status = sheet_save(job->sheet, &message);
    return status == CABER_OK ? print_sheet(job, given) : app_fail(status, &message);
}

static app_exit table_run(const options *given)
{
    table_job job = {0};
    app_exit rc = check_words(given);
    if (rc != APP_FINE)
        return rc;
    rc = run_job(&job, given);
    sheet_free(job.sheet);
    study_request_free(&job.request);
    study_cases_free(&job.cases);
    return rc;
}

const app_command cmd_table = {
    .name = "table",
    .operands = "FILE.h5",
    .least = 1,
    .most = 1,
    .summary = "Prints what is in a study's file",
    .details =
        "FILE.h5 is what caber sweep writes. Without options: what it is, how far it has come, "
        "and\n"
        "of each factor, output and series its unit, smallest value, mean and largest. With them:\n"
        "chosen cases, averages of groups of cases, or a series. Cases that failed are left out "
        "of\n"
        "averages, and said.",
    .options = OPTION_BIT(OPTION_ONLY_COLUMNS) | OPTION_BIT(OPTION_WHERE) | OPTION_BIT(OPTION_BY) |
               OPTION_BIT(OPTION_CSV) | OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_HELP),
    .run = table_run,
};
