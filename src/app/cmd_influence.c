/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber influence FILE.h5: which factors of a study drive which outputs. */
#include <stdio.h>
#include <stdlib.h>

#include "app/given.h"
#include "app/influence.h"
#include "app/json.h"
#include "base/message.h"

static app_exit influence_read(const options *given, influence_request *asked)
{
    int draws = 1000, seed = 1;
    *asked = (influence_request){.path = given->operands[0],
                                 .only = given->text[OPTION_ONLY_OUTPUTS],
                                 .ranked = given->text[OPTION_RANKS] != NULL,
                                 .spread = given->text[OPTION_SPREAD] != NULL,
                                 .how = resample_default()};
    int rc = options_read_count(given, OPTION_RESAMPLES, RESAMPLE_DRAWS_LEAST, RESAMPLE_DRAWS_MOST,
                                &draws);
    if (rc == APP_FINE)
        rc = options_read_count(given, OPTION_SEED, 0, 0x7fffffff, &seed);
    asked->how.draws = (size_t)draws;
    asked->how.seed = (uint64_t)seed;
    return (app_exit)rc;
}

static void say_left_out(const influence_study *s)
{
    char reason[STORE_REASON_SIZE] = "";
    caber_message message;
    if (s->run < s->cases)
        app_say("%s: is not finished: %zu of its %zu cases have been run; this is of those, as far "
                "as their rows are whole",
                s->asked.path, s->run, s->cases);
    if (s->failed && store_reader_reason(s->reader, s->first_failed, reason, &message) == CABER_OK)
        app_say("%s: %zu of %zu cases failed and are left out; the first, case %zu: %s",
                s->asked.path, s->failed, s->run, s->first_failed, reason);
    for (size_t i = 0; i < s->output_count; i++)
        if (s->outputs[i].missing)
            app_say("%s: %s has no value in %zu cases that went well; they are left out",
                    s->asked.path, s->outputs[i].column->name, s->outputs[i].missing);
    if (!s->asked.only && s->output_count < s->output_room)
        app_say("%s: has %zu outputs, of which %zu are shown; --only asks for others",
                s->asked.path, s->output_room, s->output_count);
}

static caber_status influence_draw(const influence_study *s, plot_format format, char **text,
                                   size_t *size, caber_message *message)
{
    influence_panel panels[INFLUENCE_PANELS_MOST];
    size_t count = 0;
    char title[CABER_NAME_SIZE + 64];
    if (s->output_count > INFLUENCE_PANELS_MOST)
        return message_set(message, CABER_BAD_INPUT,
                           "--plot: a figure shows at most %d outputs, not %zu; --only chooses",
                           INFLUENCE_PANELS_MOST, s->output_count);
    for (size_t i = 0; i < s->output_count; i++) {
        const influence_output *o = &s->outputs[i];
        if (!o->why.text[0])
            panels[count++] = (influence_panel){o->view, o->sobol, o->morris, o->regression};
    }
    snprintf(title, sizeof title, "%.*s: what drives what", CABER_NAME_SIZE,
             s->notes->title[0] ? s->notes->title : "A study");
    return influence_plot(title, panels, count, format, text, size, message);
}

/* Nothing is written before all that is to be written is there. */
static caber_status influence_write_files(const influence_study *s, const options *given,
                                          caber_message *message)
{
    char *csv = NULL, *plot = NULL;
    size_t csv_size = 0, plot_size = 0;
    caber_status status = CABER_OK;
    if (given->text[OPTION_CSV])
        status = influence_csv(s, &csv, &csv_size, message);
    if (status == CABER_OK && given->text[OPTION_PLOT])
        status = influence_draw(s, given_plot_format(given), &plot, &plot_size, message);
    if (status == CABER_OK)
        status = given_write_files(given, csv, csv_size, plot, plot_size, message);
    free(csv);
    free(plot);
    return status;
}

static app_exit influence_show(const influence_study *s, const options *given)
{
    caber_message message = {""};
    const caber_status status = influence_write_files(s, given, &message);
    if (status != CABER_OK)
        return app_fail(status, &message);
    say_left_out(s);
    if (given->text[OPTION_JSON])
        return json_app_print(influence_json(s));
    if (influence_print(s))
        return APP_FINE;
    app_say("out of memory");
    return APP_UNFINISHED;
}

static app_exit influence_main(const options *given)
{
    influence_request asked;
    influence_study s;
    caber_message message = {""};
    app_exit rc = given_check_files(given);
    if (rc == APP_FINE)
        rc = influence_read(given, &asked);
    if (rc != APP_FINE)
        return rc;
    const caber_status status = influence_run(&asked, &s, &message);
    rc = status == CABER_OK ? influence_show(&s, given) : app_fail(status, &message);
    influence_free(&s);
    return rc;
}

const app_command cmd_influence = {
    .name = "influence",
    .operands = "FILE.h5",
    .least = 1,
    .most = 1,
    .summary = "Says which factors of a study drive which outputs",
    .details =
        "FILE.h5 is what 'caber sweep' wrote. The design decides how: saltelli gives shares of "
        "the\n"
        "variance, morris elementary effects, any other a regression; each with intervals. With\n"
        "replicates the mean of a point's swings is explained, or with --spread how they scatter.",
    .options = OPTION_BIT(OPTION_ONLY_OUTPUTS) | OPTION_BIT(OPTION_RANKS) |
               OPTION_BIT(OPTION_SPREAD) | OPTION_BIT(OPTION_RESAMPLES) | OPTION_BIT(OPTION_SEED) |
               OPTION_BIT(OPTION_CSV) | OPTION_BIT(OPTION_PLOT) | OPTION_BIT(OPTION_JSON) |
               OPTION_BIT(OPTION_HELP),
    .run = influence_main,
};
