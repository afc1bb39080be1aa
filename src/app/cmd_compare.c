/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber compare SETUP SETUP...: setups side by side, held against what the player's swings vary by. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/compare.h"
#include "app/json.h"

const char *compare_keep_name(caber_keep keep)
{
    return keep == CABER_KEEP_DELIVERY ? "delivery" : "load";
}

/* What can be seen to be wrong before anything is read. */
static app_exit compare_check(const options *given, caber_compare_settings *settings)
{
    *settings = caber_compare_default();
    app_exit rc = given_keep(given, &settings->keep);
    if (rc == APP_FINE)
        rc = given_check_files(given);
    if (rc != APP_FINE)
        return rc;
    return given_swings(given, &settings->swings, &settings->seed, &settings->threads);
}

/* The numbers of setups themselves; a ball that does not fly has none, which is said. */
static bool compare_is_finite(const caber_comparison *found)
{
    for (size_t k = 0; k < found->count; k++)
        for (size_t i = 0; i < caber_output_count(); i++) {
            const bool flown = found->setups[k].outcome.flies || !caber_output_of_ball(i);
            if (flown && !app_is_number(caber_outcome_number(&found->setups[k].outcome, i),
                                        caber_output_field(i)->name))
                return false;
        }
    return true;
}

/* Nothing is written before all that is to be written is there. */
static caber_status compare_write_files(const compare_view *view, const options *given,
                                        caber_message *message)
{
    char *csv = NULL, *plot = NULL;
    size_t csv_size = 0, plot_size = 0;
    caber_status status = CABER_OK;
    if (given->text[OPTION_CSV])
        status = compare_csv(view, &csv, &csv_size, message);
    if (status == CABER_OK && given->text[OPTION_PLOT])
        status = compare_plot(view, given_plot_format(given), &plot, &plot_size, message);
    if (status == CABER_OK)
        status = given_write_files(given, csv, csv_size, plot, plot_size, message);
    free(csv);
    free(plot);
    return status;
}

static app_exit compare_show(const compare_view *view, const options *given)
{
    caber_message message = {""};
    const caber_draws *draws = &view->found->draws;
    if (!compare_is_finite(view->found))
        return APP_UNFINISHED;
    const caber_status status = compare_write_files(view, given, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    if (draws->failed)
        app_say("%zu of %zu swings failed and are left out; the first, swing %zu: %s",
                draws->failed, draws->count, draws->first_failed + 1, draws->failure.text);
    if (given->text[OPTION_JSON])
        return json_app_print(compare_json(view));
    compare_table(view);
    return APP_FINE;
}

static app_exit compare_run(const options *given)
{
    compare_view view = {.count = (size_t)given->operand_count};
    caber_compare_settings settings;
    caber_message message = {""};
    app_exit rc = compare_check(given, &settings);
    if (rc == APP_FINE)
        rc = given_setups(given, view.setups, view.names);
    if (rc == APP_FINE) {
        const caber_status status = caber_compare_run((const caber_setup *const *)view.setups,
                                                      view.count, &settings, &view.found, &message);
        rc = status == CABER_OK ? compare_show(&view, given) : app_fail(status, &message);
    }
    caber_comparison_free(view.found);
    for (size_t i = 0; i < view.count; i++)
        caber_setup_free(view.setups[i]);
    return rc;
}

const app_command cmd_compare = {
    .name = "compare",
    .operands = "SETUP SETUP...",
    .least = CABER_COMPARE_LEAST,
    .most = CABER_COMPARE_MOST,
    .summary = "Sets setups side by side, beside what the player's swings vary by",
    .details = "Two to six setups are swung as usual, and every output of the later ones is set "
               "beside that\n"
               "of the first: sorted by the difference beside what the first player's swings vary "
               "by (repeat).",
    .options = OPTION_BIT(OPTION_SET) | OPTION_BIT(OPTION_KEEP) | OPTION_BIT(OPTION_SWINGS) |
               OPTION_BIT(OPTION_SEED) | OPTION_BIT(OPTION_THREADS) | OPTION_BIT(OPTION_CSV) |
               OPTION_BIT(OPTION_PLOT) | OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_HELP),
    .run = compare_run,
};
