/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber scatter SETUP [SETUP]: how much a player's swings differ, and with which of two clubs less. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/given.h"
#include "app/json.h"
#include "app/outputs.h"
#include "app/scatter.h"

size_t scatter_good(const scatter_view *view, size_t club)
{
    const caber_draws *d = &view->found->clubs[club].draws;
    return d->count - d->failed;
}

double scatter_habit(const scatter_view *view, size_t club, size_t swing, caber_habit habit)
{
    return view->found->clubs[club].drawn[swing * CABER_HABITS + habit] *
           caber_habit_sd(&view->setups[club]->player.repeat, habit) *
           caber_habit_about(habit).factor;
}

static app_exit scatter_read(const options *given, caber_scatter_settings *settings)
{
    *settings = caber_scatter_default();
    app_exit rc = given_swings(given, &settings->swings, &settings->seed, &settings->threads);
    if (rc == APP_FINE)
        rc = given_quantity(given, OPTION_FAIRWAY, "fairway", DIMENSION_LENGTH, &settings->fairway);
    if (rc == APP_FINE && !(settings->fairway >= 1 && settings->fairway <= 200)) {
        app_say("--fairway: '%s' is not from 1 m to 200 m", given->text[OPTION_FAIRWAY]);
        rc = APP_BAD_INPUT;
    }
    return rc;
}

/* No number that is none leaves the program. */
static bool scatter_is_finite(const caber_scatter *found)
{
    for (size_t c = 0; c < found->count; c++)
        for (size_t i = 0; i < caber_output_count(); i++) {
            const caber_spread *s = &found->clubs[c].spreads[i];
            const double numbers[] = {s->usual, s->mean,   s->mean_low, s->mean_high,
                                      s->sd,    s->sd_low, s->sd_high,  s->rest};
            for (size_t n = 0; n < sizeof numbers / sizeof *numbers; n++)
                if (!app_is_number(numbers[n], caber_output_field(i)->name))
                    return false;
        }
    return true;
}

static void scatter_say_failures(const scatter_view *view)
{
    for (size_t i = 0; i < view->count; i++) {
        const caber_draws *d = &view->found->clubs[i].draws;
        if (d->failed)
            app_say("%s: %zu of %zu swings failed and are left out; the first, swing %zu: %s",
                    view->names[i], d->failed, d->count, d->first_failed + 1, d->failure.text);
    }
}

/* Nothing is written before all that is to be written is there. */
static caber_status scatter_write_files(const scatter_view *view, const options *given,
                                        caber_message *message)
{
    char *csv = NULL, *plot = NULL;
    size_t csv_size = 0, plot_size = 0;
    caber_status status = CABER_OK;
    if (given->text[OPTION_CSV])
        status = scatter_csv(view, &csv, &csv_size, message);
    if (status == CABER_OK && given->text[OPTION_PLOT])
        status = scatter_plot(view, given_plot_format(given), &plot, &plot_size, message);
    if (status == CABER_OK)
        status = given_write_files(given, csv, csv_size, plot, plot_size, message);
    free(csv);
    free(plot);
    return status;
}

static app_exit scatter_show(const scatter_view *view, const options *given)
{
    caber_message message = {""};
    if (!scatter_is_finite(view->found))
        return APP_UNFINISHED;
    const caber_status status = scatter_write_files(view, given, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    scatter_say_failures(view);
    if (given->text[OPTION_JSON])
        return json_app_print(scatter_json(view));
    scatter_table(view);
    return APP_FINE;
}

static app_exit scatter_run(const options *given)
{
    scatter_view view = {.count = (size_t)given->operand_count};
    caber_scatter_settings settings;
    caber_message message = {""};
    app_exit rc = given_check_files(given);
    if (rc == APP_FINE)
        rc = scatter_read(given, &settings);
    if (rc == APP_FINE)
        rc = given_setups(given, view.setups, view.names);
    if (rc == APP_FINE) {
        const caber_status status = caber_scatter_run((const caber_setup *const *)view.setups,
                                                      view.count, &settings, &view.found, &message);
        rc = status == CABER_OK ? scatter_show(&view, given) : app_fail(status, &message);
    }
    caber_scatter_free(view.found);
    for (size_t i = 0; i < view.count; i++)
        caber_setup_free(view.setups[i]);
    return rc;
}

const app_command cmd_scatter = {
    .name = "scatter",
    .operands = "SETUP [SETUP]",
    .least = 1,
    .most = SCATTER_SETUPS,
    .summary = "Says how much a player's swings differ, and with which of two clubs less",
    .details =
        "SETUP is a setup file whose player has habits (repeat). Swings are drawn from them, and "
        "of\n"
        "each output the mean, the spread and what makes it vary are printed, and where the balls\n"
        "land. Two setups are swung on the same draws: which is the more consistent stands first.",
    .options = OPTION_BIT(OPTION_SET) | OPTION_BIT(OPTION_SEED) | OPTION_BIT(OPTION_THREADS) |
               OPTION_BIT(OPTION_SWINGS) | OPTION_BIT(OPTION_FAIRWAY) | OPTION_BIT(OPTION_CSV) |
               OPTION_BIT(OPTION_PLOT) | OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_HELP),
    .run = scatter_run,
};
