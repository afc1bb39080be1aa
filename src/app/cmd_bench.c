/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber bench SETUP: what a workshop can measure. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/bench.h"
#include "app/bench_plot.h"
#include "app/cautions.h"
#include "app/get.h"
#include "app/given.h"
#include "app/json.h"
#include "app/rules.h"
#include "app/table.h"
#include "app/trims.h"
#include "app/uncertainty.h"
#include "base/units.h"

static bool bench_is_finite(const caber_bench *bench)
{
    size_t count;
    const bench_row *rows = bench_rows(&count);
    for (size_t i = 0; i < count; i++)
        if (bench_knows(bench, &rows[i]) &&
            !app_is_number(bench_value(bench, &rows[i]), rows[i].name))
            return false;
    for (size_t i = 0; i < bench->span_count; i++)
        if (!app_is_number(bench->span_at[i], "span_at_m") ||
            !app_is_number(bench->span_deflection[i], "span_deflection_mm") ||
            !app_is_number(bench->span_ei[i], "span_ei_nm2"))
            return false;
    for (size_t i = 0; i < bench->mode_count; i++)
        if (!app_is_number(bench->frequencies[i], "frequencies_hz"))
            return false;
    for (size_t i = 0; i < CABER_JIG_MOST; i++)
        for (size_t j = 0; j < CABER_JIG_MOST; j++)
            if (!app_is_number(bench->table[i][j], "frequency_table"))
                return false;
    return true;
}

static bool bench_lookup(const void *context, const char *name, double *value)
{
    size_t count;
    const bench_row *rows = bench_rows(&count);
    for (size_t i = 0; i < count; i++) {
        if (strcmp(rows[i].name, name) != 0)
            continue;
        *value = bench_value(context, &rows[i]);
        return true;
    }
    return false;
}

/* ------------------------------------------------------------------ the table */

static void bench_print_head(const bench_answers *job)
{
    const caber_jig *jig = &job->jig;
    table_title(job->setup->name);
    table_name("shaft", job->setup->shaft.name);
    table_name("head", job->setup->head.name);
    table_name("grip", job->setup->grip.name);
    printf("  clamp   %.0f mm of butt, %s", jig->clamp * 1e3,
           jig->tip_mass > 0 ? "the bare shaft with " : "the club as built\n");
    if (jig->tip_mass > 0)
        printf("%.1f g on its tip\n", jig->tip_mass * 1e3);
    printf("  loads   %.3f N m of torque, %.2f N across the tip, %.2f N in the middle of %.0f mm\n",
           jig->torque, jig->load, jig->span_load, jig->span * 1e3);
    printf("\n%s\n", cautions_bench[0]);
    app_print_cautions();
    if (job->spread)
        uncertainty_print_intro(&job->spread->draws, &job->draws);
}

/* `spread`, such as " +- 0.12", is NULL when it was not asked for. */
static void bench_print_row(const char *label, const char *value, const char *spread,
                            const char *in, const char *meaning)
{
    if (spread)
        printf("  %-19s%10s%-11s %-6s %s\n", label, value, spread, in, meaning);
    else
        printf("  %-19s%10s  %-6s %s\n", label, value, in, meaning);
}

/* A row a clamp, a column a tip mass. */
static void bench_print_frequencies(const bench_answers *job)
{
    const caber_jig *jig = &job->jig;
    if (jig->clamp_count == 0 || jig->tip_mass_count == 0)
        return;
    table_group("Frequency in cpm by clamp and tip mass, face direction");
    printf("  %-10s", "clamp");
    for (size_t j = 0; j < jig->tip_mass_count; j++) {
        char mass[32] = "as built";
        if (jig->tip_masses[j] > 0)
            snprintf(mass, sizeof mass, "%.1f g", jig->tip_masses[j] * 1e3);
        printf("%10s", mass);
    }
    putchar('\n');
    for (size_t i = 0; i < jig->clamp_count; i++) {
        char clamp[32];
        snprintf(clamp, sizeof clamp, "%.1f mm", jig->clamps[i] * 1e3);
        printf("  %-10s", clamp);
        for (size_t j = 0; j < jig->tip_mass_count; j++)
            printf("%10.1f", job->bench.table[i][j] * 60);
        putchar('\n');
        if (!job->spread)
            continue;
        printf("  %-10s", "  +-");
        for (size_t j = 0; j < jig->tip_mass_count; j++)
            printf("%10.1f", job->spread->sd.table[i][j] * 60);
        putchar('\n');
    }
}

static void bench_print_lists(const caber_bench *bench)
{
    if (bench->span_count) {
        table_group("Three-point bend");
        printf("  %-19s%10s%10s\n", "middle, from the tip", "sag", "EI");
        printf("  %-19s %10s%10s\n", "m", "mm", "N m2");
    }
    for (size_t i = 0; i < bench->span_count; i++)
        printf("  %-19.3f %10.3f%10.2f\n", bench->span_at[i], bench->span_deflection[i] * 1e3,
               bench->span_ei[i]);
    if (bench->mode_count)
        table_group("Frequencies of the clamped club, with its head");
    for (size_t i = 0; i < bench->mode_count; i++)
        printf("  %-19zu%10.2f  Hz\n", i + 1, bench->frequencies[i]);
}

/* The same lists with "+-". */
static void bench_print_lists_spread(const caber_bench_uncertainty *u)
{
    char value[32], more[32], ei[32], ei_more[32];
    if (u->bench.span_count) {
        table_group("Three-point bend");
        printf("  %-19s%10s%21s\n", "middle, from the tip", "sag", "EI");
        printf("  %-19s %10s%21s\n", "m", "mm", "N m2");
    }
    for (size_t i = 0; i < u->bench.span_count; i++) {
        table_number(value, sizeof value, u->bench.span_deflection[i] * 1e3, 3);
        uncertainty_text(more, sizeof more, u->sd.span_deflection[i] * 1e3, 3);
        table_number(ei, sizeof ei, u->bench.span_ei[i], 2);
        uncertainty_text(ei_more, sizeof ei_more, u->sd.span_ei[i], 2);
        printf("  %-19.3f %10s%-11s%10s%s\n", u->bench.span_at[i], value, more, ei, ei_more);
    }
    if (u->bench.mode_count)
        table_group("Frequencies of the clamped club, with its head");
    for (size_t i = 0; i < u->bench.mode_count; i++) {
        table_number(value, sizeof value, u->bench.frequencies[i], 2);
        uncertainty_text(more, sizeof more, u->sd.frequencies[i], 2);
        printf("  %-19zu%10s%-11s Hz\n", i + 1, value, more);
    }
}

static void bench_print_leans(const caber_bench_uncertainty *u)
{
    bool said = false;
    size_t count;
    const bench_row *rows = bench_rows(&count);
    for (size_t i = 0; i < count; i++) {
        const bench_row *row = &rows[i];
        const uncertainty_figure figure = {.label = row->label,
                                           .unit = row->unit,
                                           .decimals = row->decimals,
                                           .value = bench_value(&u->bench, row),
                                           .sd = bench_value(&u->sd, row),
                                           .mean = bench_value(&u->mean, row),
                                           .low = bench_value(&u->low, row),
                                           .high = bench_value(&u->high, row)};
        uncertainty_print_lean(&figure, &said);
    }
}

/* A swing weight's "+-", in points. */
static void bench_swing_weight_spread(char *text, size_t size, const caber_bench_uncertainty *u)
{
    /* kg m: 1.75 oz in, as caber_swing_weight has it. */
    static const double point = 1.75 * 0.028349523125 * 0.0254;
    uncertainty_text(text, size, u->sd.swing_moment / point, 1);
}

static void bench_print_table(const bench_answers *job)
{
    const caber_bench_uncertainty *u = job->spread;
    bench_print_head(job);
    size_t count;
    const bench_row *rows = bench_rows(&count);
    for (size_t i = 0; i < count; i++) {
        const bench_row *row = &rows[i];
        char value[32], more[32];
        if (row->title)
            table_group(row->title);
        if (bench_knows(&job->bench, row))
            table_number(value, sizeof value, bench_value(&job->bench, row), row->decimals);
        else
            snprintf(value, sizeof value, "not known");
        if (u)
            uncertainty_text(more, sizeof more, bench_value(&u->sd, row), row->decimals);
        bench_print_row(row->label, value, u ? more : NULL, row->unit, row->meaning);
        if (row->offset != offsetof(caber_bench, swing_moment))
            continue;
        if (u)
            bench_swing_weight_spread(more, sizeof more, u);
        bench_print_row("swing weight", job->swing_weight, u ? more : NULL, "",
                        "the same as a letter and points");
    }
    bench_print_frequencies(job);
    if (u)
        bench_print_lists_spread(u);
    else
        bench_print_lists(&job->bench);
    rules_print(job->rules);
    if (u)
        bench_print_leans(u);
}

/* ------------------------------------------------------------------ the command */

/* Reads one quantity of the command line into *value when it was given. */
static app_exit bench_read_option(const options *given, option_id id, dimension what,
                                  const char *name, double *value)
{
    caber_message message = {""};
    const char *text = given->text[id];
    if (!text || quantity_parse(text, what, value, &message) == CABER_OK)
        return APP_FINE;
    app_say("--%s: %s", name, message.text);
    return APP_BAD_INPUT;
}

/* Reads a list of quantities, "5 in,7 in", into values of the table of frequencies; *first is the
 * first of them. In a list each has its unit, so that a decimal comma makes no list. */
static app_exit bench_read_list(const options *given, option_id id, dimension what,
                                const char *name, double *values, size_t *count, double *first)
{
    const char *rest = given->text[id];
    if (!rest)
        return APP_FINE;
    const bool many = strchr(rest, ',') != NULL;
    *count = 0;
    while (rest) {
        char part[64];
        caber_message message = {""};
        const size_t length = strcspn(rest, ",");
        if (*count == CABER_JIG_MOST) {
            app_say("--%s: at most %d values are allowed", name, CABER_JIG_MOST);
            return APP_BAD_INPUT;
        }
        snprintf(part, sizeof part, "%.*s", (int)(length < sizeof part ? length : sizeof part - 1),
                 rest);
        if (quantity_parse(part, what, &values[*count], &message) != CABER_OK) {
            app_say("--%s: %s", name, message.text);
            return APP_BAD_INPUT;
        }
        if (many && strspn(part, "+-.0123456789eE ") == strlen(part)) {
            app_say("--%s: '%s' has no unit; in a list each value has its unit", name, part);
            return APP_BAD_INPUT;
        }
        ++*count;
        rest = rest[length] ? rest + length + 1 : NULL;
    }
    *first = values[0];
    return APP_FINE;
}

static app_exit bench_read_lists(const options *given, caber_jig *jig)
{
    const app_exit rc = bench_read_list(given, OPTION_CLAMP, DIMENSION_LENGTH, "clamp", jig->clamps,
                                        &jig->clamp_count, &jig->clamp);
    return rc != APP_FINE ? rc
                          : bench_read_list(given, OPTION_TIP_MASS, DIMENSION_MASS, "tip-mass",
                                            jig->tip_masses, &jig->tip_mass_count, &jig->tip_mass);
}

static app_exit bench_read_jig(const options *given, caber_jig *jig)
{
    const struct {
        option_id id;
        dimension what;
        const char *name;
        double *value;
    } rows[] = {
        {OPTION_TORQUE, DIMENSION_TORQUE, "torque", &jig->torque},
        {OPTION_LOAD, DIMENSION_FORCE, "load", &jig->load},
        {OPTION_SPAN, DIMENSION_LENGTH, "span", &jig->span},
        {OPTION_SPAN_LOAD, DIMENSION_FORCE, "span-load", &jig->span_load},
    };
    *jig = caber_jig_default();
    const app_exit lists = bench_read_lists(given, jig);
    if (lists != APP_FINE)
        return lists;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        app_exit rc =
            bench_read_option(given, rows[i].id, rows[i].what, rows[i].name, rows[i].value);
        if (rc != APP_FINE)
            return rc;
    }
    /* Single values need no table, unless its lists are to be checked. */
    if (given->text[OPTION_GET] && !given->text[OPTION_CLAMP] && !given->text[OPTION_TIP_MASS])
        jig->clamp_count = 0;
    enum { MOST = sizeof((caber_bench *)0)->frequencies / sizeof(double) };
    return (app_exit)options_read_count(given, OPTION_MODES, 1, MOST, &jig->mode_count);
}

/* A value that is not known cannot be got. */
static app_exit bench_check_known(const bench_answers *job, const options *given)
{
    size_t count;
    const bench_row *rows = bench_rows(&count);
    for (size_t i = 0; given->text[OPTION_GET] && i < count; i++)
        if (!bench_knows(&job->bench, &rows[i]) &&
            get_names(given->text[OPTION_GET], rows[i].name)) {
            app_say("%s is not known: the head file does not say where the sole is (head.sole)",
                    rows[i].name);
            return APP_BAD_INPUT;
        }
    return APP_FINE;
}

static app_exit bench_print(const bench_answers *job, const options *given)
{
    if (given->text[OPTION_GET])
        return get_print(given->text[OPTION_GET], bench_lookup, &job->bench);
    if (given->text[OPTION_JSON])
        return json_app_print(bench_json(job));
    bench_print_table(job);
    return APP_FINE;
}

static app_exit bench_check(const options *given)
{
    static const caber_bench none;
    const app_exit rc = uncertainty_check(given);
    if (rc != APP_FINE)
        return rc;
    if (given->text[OPTION_TRIM_TABLE] && given->text[OPTION_UNCERTAINTY])
        return app_misused(given->command, "--trim-table and --uncertainty exclude each other");
    if (given->text[OPTION_TRIM_TABLE] && given->text[OPTION_GET])
        return app_misused(given->command, "--trim-table goes without --get");
    if (given->text[OPTION_TRIM_TABLE] && given->text[OPTION_PLOT])
        return app_misused(given->command, "--trim-table goes without --plot");
    if (!given->text[OPTION_GET])
        return given_check_plot(given);
    if (given->text[OPTION_JSON])
        return app_misused(given->command, "--get and --json exclude each other");
    const app_exit named = get_check(given->command, given->text[OPTION_GET], bench_lookup, &none);
    return named == APP_FINE ? given_check_plot(given) : named;
}

/* Measures, with a spread when one is wanted: found then holds it. */
static caber_status bench_measure(bench_answers *job, const options *given,
                                  caber_bench_uncertainty *found, caber_message *message)
{
    if (!given->text[OPTION_UNCERTAINTY])
        return caber_bench_run(job->setup, &job->jig, &job->bench, message);
    const caber_status status =
        caber_bench_uncertainty_run(job->setup, &job->jig, &job->draws, found, message);
    job->bench = found->bench;
    job->spread = found;
    return status;
}

/* The table of frequencies is drawn where more than one was asked for. */
static app_exit bench_write(const bench_answers *job, const options *given)
{
    const caber_jig *jig = &job->jig;
    const bool asked = given->text[OPTION_CLAMP] || given->text[OPTION_TIP_MASS];
    const bench_view view = {.setup = job->setup,
                             .jig = jig,
                             .bench = &job->bench,
                             .spread = job->spread,
                             .frequencies = asked && bench_plot_has_several(jig)};
    caber_message message = {""};
    char *plot = NULL;
    size_t size = 0;
    if (!given->text[OPTION_PLOT])
        return APP_FINE;
    caber_status status = bench_plot(&view, given_plot_format(given), &plot, &size, &message);
    if (status == CABER_OK)
        status = given_write_files(given, NULL, 0, plot, size, &message);
    free(plot);
    return status == CABER_OK ? APP_FINE : app_fail(status, &message);
}

static app_exit bench_run(const options *given)
{
    bench_answers job = {0};
    caber_bench_uncertainty found;
    app_exit rc = bench_check(given);
    if (rc == APP_FINE)
        rc = bench_read_jig(given, &job.jig);
    if (rc == APP_FINE)
        rc = uncertainty_read(given, &job.draws);
    if (rc != APP_FINE)
        return rc;
    caber_message message = {""};
    caber_status status = caber_setup_read(given->operands[0], given->overrides,
                                           given->override_count, &job.setup, &message);
    if (status == CABER_OK && given->text[OPTION_TRIM_TABLE])
        rc = trims_run(job.setup, &job.jig, given);
    if (status != CABER_OK || given->text[OPTION_TRIM_TABLE]) {
        caber_setup_free(job.setup);
        return status == CABER_OK ? rc : app_fail(status, &message);
    }
    status = bench_measure(&job, given, &found, &message);
    if (status == CABER_OK)
        status = caber_rules_check(job.setup, job.rules, &message);
    if (status != CABER_OK)
        rc = app_fail(status, &message);
    else if (!bench_is_finite(&job.bench))
        rc = APP_UNFINISHED;
    if (rc == APP_FINE && job.spread)
        uncertainty_say_failures(&job.spread->draws);
    if (rc == APP_FINE) {
        caber_swing_weight(job.bench.swing_moment, job.swing_weight, sizeof job.swing_weight);
        rc = bench_check_known(&job, given);
        if (rc == APP_FINE)
            rc = bench_write(&job, given);
        if (rc == APP_FINE)
            rc = bench_print(&job, given);
    }
    caber_setup_free(job.setup);
    return rc;
}

const app_command cmd_bench = {
    .name = "bench",
    .operands = "SETUP",
    .least = 1,
    .most = 1,
    .summary = "Prints what a workshop would measure on the club and its shaft",
    .details = "SETUP is a setup file: which shaft, head, grip and build. The options say how the\n"
               "bench is set; each takes a number with a unit, such as --tip-mass \"205 g\".\n"
               "Of several clamps or tip masses the table of frequencies has all pairs, and every\n"
               "other value is read with the first.",
    .options = OPTION_BIT(OPTION_SET) | OPTION_BIT(OPTION_CLAMP) | OPTION_BIT(OPTION_TIP_MASS) |
               OPTION_BIT(OPTION_TORQUE) | OPTION_BIT(OPTION_LOAD) | OPTION_BIT(OPTION_SPAN) |
               OPTION_BIT(OPTION_SPAN_LOAD) | OPTION_BIT(OPTION_MODES) |
               OPTION_BIT(OPTION_TRIM_TABLE) | OPTION_BIT(OPTION_PLOT) |
               OPTION_BIT(OPTION_UNCERTAINTY) | OPTION_BIT(OPTION_DRAWS) | OPTION_BIT(OPTION_SEED) |
               OPTION_BIT(OPTION_THREADS) | OPTION_BIT(OPTION_GET) | OPTION_BIT(OPTION_JSON) |
               OPTION_BIT(OPTION_HELP),
    .run = bench_run,
};
