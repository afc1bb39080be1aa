/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/uncertainty.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "app/json.h"
#include "app/table.h"

app_exit uncertainty_check(const options *given)
{
    static const option_id only[] = {OPTION_DRAWS, OPTION_SEED, OPTION_THREADS};
    static const char *const names[] = {"draws", "seed", "threads"};
    static const option_id never[] = {OPTION_GET, OPTION_SERIES, OPTION_SENSITIVITY};
    static const char *const others[] = {"get", "series", "sensitivity"};
    const bool wanted = given->text[OPTION_UNCERTAINTY] != NULL;
    for (int i = 0; i < 3; i++) {
        if (!wanted && given->text[only[i]])
            return app_misused(given->command, "--%s goes with --uncertainty", names[i]);
        if (wanted && given->text[never[i]])
            return app_misused(given->command, "--uncertainty and --%s exclude each other",
                               others[i]);
    }
    return APP_FINE;
}

app_exit uncertainty_read(const options *given, caber_uncertainty_settings *settings)
{
    *settings = caber_uncertainty_default();
    int rc = options_read_count(given, OPTION_DRAWS, CABER_DRAWS_LEAST, CABER_DRAWS_MOST,
                                &settings->draws);
    if (rc == APP_FINE)
        rc = options_read_count(given, OPTION_SEED, 0, 0x7fffffff, &settings->seed);
    if (rc == APP_FINE)
        rc = options_read_count(given, OPTION_THREADS, 1, CABER_THREADS_MOST, &settings->threads);
    return (app_exit)rc;
}

/* ------------------------------------------------------------------ texts */

void uncertainty_text(char *text, size_t size, double sd, int decimals)
{
    char number[40];
    table_number(number, sizeof number, sd, decimals);
    if (!(sd > 0))
        *text = '\0';
    else if (strspn(number, "0.") == strlen(number))
        snprintf(text, size, " +- <%.*f", decimals, pow(10, -decimals));
    else
        snprintf(text, size, " +- %s", number);
}

void uncertainty_print_intro(const caber_draws *draws, const caber_uncertainty_settings *settings)
{
    const size_t good = draws->count - draws->failed;
    char text[sizeof draws->failure + 256];
    snprintf(
        text, sizeof text,
        "+- is one standard deviation, from %zu draws of the shaft's profile within its errors "
        "(seed %d), and itself known to %.0f %%. The true value is within it about two times "
        "in three, and within twice as much 19 times in 20. It covers the errors of the "
        "measured profile only: neither those of head, grip and build, nor what a player does "
        "differently from swing to swing.",
        good, settings->seed, 100 / sqrt(2 * (double)(good - 1)));
    table_paragraph(text);
    if (!draws->failed)
        return;
    snprintf(text, sizeof text,
             "%zu of %zu draws failed and are left out. The first, draw %zu: %s.", draws->failed,
             draws->count, draws->first_failed, draws->failure.text);
    table_paragraph(text);
}

void uncertainty_say_failures(const caber_draws *draws)
{
    if (draws->failed)
        app_say("%zu of %zu draws of the profile failed and are left out; the first, draw %zu: %s",
                draws->failed, draws->count, draws->first_failed, draws->failure.text);
}

void uncertainty_print_lean(const uncertainty_figure *f, bool *said)
{
    char value[40], mean[40], low[40], high[40];
    table_number(value, sizeof value, f->value, f->decimals);
    table_number(mean, sizeof mean, f->mean, f->decimals);
    if (!(fabs(f->mean - f->value) > f->sd / 3) || strcmp(value, mean) == 0)
        return;
    if (!*said)
        table_group("Where the draws lean to one side: their mean is off the value by more than a "
                    "third of the +-");
    *said = true;
    table_number(low, sizeof low, f->low, f->decimals);
    table_number(high, sizeof high, f->high, f->decimals);
    printf("  %-19s%10s  mean of the draws; 95 %% of them from %s to %s%s%s\n", f->label, mean, low,
           high, *f->unit ? " " : "", f->unit);
}

/* Of the integrator's own residual there is no spread. */
static bool field_counts(const caber_field *field)
{
    return field->offset != offsetof(caber_impact, energy_residual);
}

typedef double value_of(const void *values, const caber_field *field);

static double impact_value(const void *values, const caber_field *field)
{
    return caber_impact_value(values, field);
}

static double shot_value(const void *values, const caber_field *field)
{
    return caber_shot_value(values, field);
}

/* values: as fitted, then sd, mean, low and high. */
static void print_lean_of(const caber_field *f, const void *const values[5], value_of *value,
                          bool *said)
{
    const uncertainty_figure figure = {.label = f->label + strspn(f->label, " "),
                                       .unit = f->unit,
                                       .decimals = f->decimals,
                                       .value = value(values[0], f),
                                       .sd = value(values[1], f),
                                       .mean = value(values[2], f),
                                       .low = value(values[3], f),
                                       .high = value(values[4], f)};
    uncertainty_print_lean(&figure, said);
}

static void print_leans(const caber_uncertainty *found)
{
    const caber_impact_spread *i = &found->bent;
    const caber_shot_spread *b = &found->bent_shot;
    const void *const impact[5] = {&found->swing.bent, &i->sd, &i->mean, &i->low, &i->high};
    const void *const shot[5] = {&found->shots.bent, &b->sd, &b->mean, &b->low, &b->high};
    bool said = false;
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t k = 0; k < count; k++)
        if (field_counts(&fields[k]))
            print_lean_of(&fields[k], impact, impact_value, &said);
    fields = caber_shot_fields(&count);
    for (size_t k = 0; k < count && found->shots.bent_flies; k++)
        print_lean_of(&fields[k], shot, shot_value, &said);
}

/* ------------------------------------------------------------------ JSON */

json_t *uncertainty_json(const caber_draws *draws, const caber_uncertainty_settings *settings)
{
    json_t *object = json_pack("{sI sI si}", "draws", (json_int_t)draws->count, "failed",
                               (json_int_t)draws->failed, "seed", settings->seed);
    if (object && draws->failed) {
        json_object_set_new(object, "first_failed", json_integer((json_int_t)draws->first_failed));
        json_object_set_new(object, "failure", json_string(draws->failure.text));
    }
    return object;
}

/* shot is NULL when no ball flies. */
static json_t *json_aspect(const caber_impact *impact, const caber_shot *shot, bool straight)
{
    json_t *object = json_app_impact(impact, shot, straight);
    json_object_del(object, "energy_residual");
    return object;
}

static json_t *json_spread(const caber_impact_spread *spread, const caber_shot_spread *shots,
                           bool straight)
{
    return json_pack("{so so so so}", "sd",
                     json_aspect(&spread->sd, shots ? &shots->sd : NULL, straight), "mean",
                     json_aspect(&spread->mean, shots ? &shots->mean : NULL, straight), "low",
                     json_aspect(&spread->low, shots ? &shots->low : NULL, straight), "high",
                     json_aspect(&spread->high, shots ? &shots->high : NULL, straight));
}

json_t *uncertainty_swing_json(const caber_setup *setup, const caber_uncertainty *found,
                               const caber_uncertainty_settings *settings)
{
    const caber_shot_spread *bent = found->shots.bent_flies ? &found->bent_shot : NULL;
    const caber_shot_spread *straight = found->shots.straight_flies ? &found->straight_shot : NULL;
    json_t *object = json_app_swing(setup, &found->swing, &found->shots);
    json_t *spread = uncertainty_json(&found->draws, settings);
    int failed = json_object_set_new(spread, "impact", json_spread(&found->bent, bent, false));
    failed |=
        json_object_set_new(spread, "straight", json_spread(&found->straight, straight, true));
    failed |= json_object_set_new(object, "spread", spread);
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

app_exit uncertainty_print(const caber_setup *setup, const caber_uncertainty *found,
                           const caber_uncertainty_settings *settings, const options *given)
{
    if (given->text[OPTION_JSON])
        return json_app_print(uncertainty_swing_json(setup, found, settings));
    table_swing_head(setup, &found->swing);
    uncertainty_print_intro(&found->draws, settings);
    table_swing_spread(setup, found);
    print_leans(found);
    return APP_FINE;
}
