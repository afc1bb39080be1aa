/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shots_simulated.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/given.h"
#include "app/outputs.h"
#include "app/shots_table.h"
#include "app/table.h"

/* ------------------------------------------------------------------ reading and swinging */

app_exit shots_simulated_check(const options *given)
{
    const char *list = given->text[OPTION_SIMULATED];
    if (list && !*list)
        return app_misused(given->command, "--simulated needs a setup");
    if (list)
        return APP_FINE;
    if (given->override_count)
        return app_misused(given->command, "--set is of the setup of --simulated");
    if (given->text[OPTION_SWINGS])
        return app_misused(given->command, "--swings is of the setup of --simulated");
    if (given->text[OPTION_THREADS])
        return app_misused(given->command, "--threads is of the setup of --simulated");
    return APP_FINE;
}

static app_exit read_setups(const options *given, shots_simulated *out)
{
    caber_message message = {""};
    char path[1024];
    for (const char *list = given->text[OPTION_SIMULATED]; *list;) {
        const size_t length = strcspn(list, ",");
        if (out->count == CABER_SCATTER_MOST) {
            app_say("--simulated: at most %d setups", CABER_SCATTER_MOST);
            return APP_BAD_INPUT;
        }
        snprintf(path, sizeof path, "%.*s", (int)length, list);
        const caber_status status = caber_setup_read(path, given->overrides, given->override_count,
                                                     &out->setups[out->count], &message);
        if (status != CABER_OK)
            return app_fail(status, &message);
        out->count++;
        list += length + (list[length] != '\0');
    }
    return APP_FINE;
}

app_exit shots_simulated_run(const options *given, const shots_study *study, shots_simulated *out)
{
    caber_message message = {""};
    const size_t batches = study->measured->batch_count;
    caber_scatter_settings settings = caber_scatter_default();
    *out = (shots_simulated){.count = 0};
    if (!given->text[OPTION_SIMULATED])
        return APP_FINE;
    app_exit rc = given_swings(given, &settings.swings, &settings.seed, &settings.threads);
    if (rc == APP_FINE)
        rc = read_setups(given, out);
    if (rc != APP_FINE)
        return rc;
    if (out->count != 1 && out->count != batches) {
        app_say(
            "--simulated: %zu setups for %zu batch%s; give one for all of them, or one for each",
            out->count, batches, batches == 1 ? "" : "es");
        return APP_BAD_INPUT;
    }
    const caber_status status = caber_scatter_run((const caber_setup *const *)out->setups,
                                                  out->count, &settings, &out->found, &message);
    return status == CABER_OK ? APP_FINE : app_fail(status, &message);
}

void shots_simulated_free(shots_simulated *s)
{
    caber_scatter_free(s->found);
    for (size_t i = 0; i < s->count; i++)
        caber_setup_free(s->setups[i]);
    *s = (shots_simulated){.count = 0};
}

/* ------------------------------------------------------------------ beside each other */

/* An output both measured and simulated. */
typedef struct both {
    const shots_output *measured;
    const batch_summary *batch;
    size_t output;
    const caber_spread *simulated;
    double mean, sd; /* simulated, printed unit */
    const char *verdict;
} both;

/* By the interval of the measured standard deviation: that of the simulated one is far narrower. */
static const char *spread_verdict(const batch_summary *b, double sd)
{
    if (b->sd_interval.reason != BATCH_KNOWN)
        return "not known";
    return sd < b->sd_interval.low    ? "measured more"
           : sd > b->sd_interval.high ? "measured less"
                                      : "as measured";
}

static size_t club_of(const shots_simulated *s, size_t batch_index)
{
    return s->count == 1 ? 0 : batch_index;
}

/* Whether output i of the study was measured in that batch and is simulated. */
static bool both_at(const shots_simulated *s, const shots_study *study, size_t b, size_t i,
                    both *out)
{
    const shots_output *o = &study->outputs[i];
    const size_t output = caber_output_find(o->about->name);
    if (output >= caber_output_count() || !o->count[b])
        return false;
    const caber_spread *spread = &s->found->clubs[club_of(s, b)].spreads[output];
    *out = (both){.measured = o,
                  .batch = &o->summary[b],
                  .output = output,
                  .simulated = spread,
                  .mean = outputs_printed(output, spread->mean),
                  .sd = outputs_printed(output, spread->sd)};
    out->verdict = spread_verdict(out->batch, out->sd);
    return true;
}

static void print_row(const both *row)
{
    char label[80];
    const caber_measurable *c = row->measured->about;
    const int places = c->decimals;
    snprintf(label, sizeof label, "%s%s%s", c->label, c->unit[0] ? ", " : "", c->unit);
    printf("  %-23.23s", label);
    shots_table_number(9, row->batch->mean, places);
    shots_table_number(11, row->mean, places);
    shots_table_number(10, row->batch->sd, places);
    shots_table_number(8, row->batch->sd_interval.low, places);
    shots_table_number(8, row->batch->sd_interval.high, places);
    shots_table_number(11, row->sd, places);
    printf("  %s\n", row->verdict);
}

static void print_batch(const shots_simulated *s, const shots_study *study, size_t b)
{
    const size_t club = club_of(s, b);
    const caber_draws *draws = &s->found->clubs[club].draws;
    fputs("\nSimulated beside measured: ", stdout);
    app_print_text(study->measured->batches[b].name);
    fputs(" and the setup ", stdout);
    app_print_text(s->setups[club]->name);
    printf(", %zu swings", draws->count - draws->failed);
    if (draws->failed)
        printf(" (%zu more failed)", draws->failed);
    printf("\n%25s%20s%37s\n", "", "------- mean -------", "---------- standard deviation ------");
    printf("%25s%9s%11s%10s%8s%8s%11s  %s\n", "", "measured", "simulated", "measured", "from", "to",
           "simulated", "spread");
    both row;
    for (size_t i = 0; i < study->output_count; i++)
        if (both_at(s, study, b, i, &row))
            print_row(&row);
}

void shots_simulated_table(const shots_simulated *s, const shots_study *study)
{
    if (!s->found)
        return;
    for (size_t b = 0; b < study->measured->batch_count; b++)
        print_batch(s, study, b);
    table_wrapped(
        "Means agree only once the load in the player's file is matched to these shots. The "
        "measured spreads hold the errors of the device too.",
        0);
}

/* ------------------------------------------------------------------ JSON */

static json_t *batch_json(const shots_simulated *s, const shots_study *study, size_t b)
{
    json_t *outputs = json_array();
    const size_t club = club_of(s, b);
    const caber_draws *draws = &s->found->clubs[club].draws;
    both row;
    for (size_t i = 0; outputs && i < study->output_count; i++)
        if (both_at(s, study, b, i, &row))
            json_array_append_new(
                outputs,
                json_pack("{ss so so so so ss}", "name", row.measured->about->name, "measured_mean",
                          outputs_json(row.batch->mean), "simulated_mean", outputs_json(row.mean),
                          "measured_sd", outputs_json(row.batch->sd), "simulated_sd",
                          outputs_json(row.sd), "spread", row.verdict));
    return json_pack("{ss ss sI sI so}", "batch", study->measured->batches[b].name, "setup",
                     s->setups[club]->name, "swings", (json_int_t)draws->count, "failed",
                     (json_int_t)draws->failed, "outputs", outputs);
}

json_t *shots_simulated_json(const shots_simulated *s, const shots_study *study)
{
    if (!s->found)
        return NULL;
    json_t *list = json_array();
    for (size_t b = 0; list && b < study->measured->batch_count; b++)
        json_array_append_new(list, batch_json(s, study, b));
    return list;
}
