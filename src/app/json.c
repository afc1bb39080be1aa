/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/json.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/profile.h"
#include "base/text.h"

json_t *json_app_impact(const caber_impact *impact, const caber_shot *shot, bool straight)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    json_t *object = json_object();
    int failed = !object;
    for (size_t i = 0; i < count; i++)
        if (!straight || fields[i].straight)
            failed |= json_object_set_new(object, fields[i].name,
                                          json_real(caber_impact_value(impact, &fields[i])));
    fields = caber_shot_fields(&count);
    for (size_t i = 0; i < count && shot; i++)
        failed |= json_object_set_new(object, fields[i].name,
                                      json_real(caber_shot_value(shot, &fields[i])));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

/* Of one club's ball: whether it flies, and beyond which sets' range, or why not. */
static json_t *json_app_ball_of(const caber_shot *shot, bool flies, const caber_message *why)
{
    if (!flies)
        return json_pack("{sb ss}", "flies", 0, "why", why->text);
    json_t *outside = json_array();
    int failed = !outside;
    for (int set = 0; set < CABER_COEFFICIENT_SETS; set++)
        if (shot->outside >> set & 1)
            failed |= json_array_append_new(
                outside, json_string(caber_coefficients_about((caber_coefficients)set).name));
    if (!failed)
        return json_pack("{sb so}", "flies", 1, "outside_range", outside);
    json_decref(outside);
    return NULL;
}

static json_t *json_app_ball(const caber_setup *setup, const caber_shot_pair *shots)
{
    return json_pack(
        "{ss so so}", "coefficients", caber_coefficients_about(setup->ball.coefficients).name,
        "impact", json_app_ball_of(&shots->bent, shots->bent_flies, &shots->bent_why), "straight",
        json_app_ball_of(&shots->straight, shots->straight_flies, &shots->straight_why));
}

static json_t *json_app_effort(const caber_effort *effort)
{
    return json_pack("{sIsIsIsI}", "steps", (json_int_t)effort->steps, "evaluations",
                     (json_int_t)effort->evaluations, "error_failures",
                     (json_int_t)effort->error_failures, "solver_failures",
                     (json_int_t)effort->solver_failures);
}

json_t *json_app_swing(const caber_setup *setup, const caber_swing *swing,
                       const caber_shot_pair *shots)
{
    const caber_shot *bent = shots->bent_flies ? &shots->bent : NULL;
    const caber_shot *straight = shots->straight_flies ? &shots->straight : NULL;
    return json_pack("{ss sb so so so so}", "setup", setup->name, "met_ball", (int)swing->met_ball,
                     "impact", json_app_impact(&swing->bent, bent, false), "straight",
                     json_app_impact(&swing->straight, straight, true), "ball",
                     json_app_ball(setup, shots), "effort", json_app_effort(&swing->effort));
}

/* ------------------------------------------------------------------ a profile */

static json_t *json_station(const caber_fit *fit, size_t i)
{
    const caber_station *s = &fit->shaft.stations[i];
    const caber_band *b = &fit->band[i];
    return json_pack("{sf sf sf sf sf sf sf sf sf sb sb}", "at_m", s->at, "ei_nm2", s->ei,
                     "ei_2_nm2", s->ei_2 > 0 ? s->ei_2 : s->ei, "ei_sd_percent", 100 * b->ei,
                     "gj_nm2", s->gj, "gj_sd_percent", 100 * b->gj, "mass_kg_m", s->mass,
                     "mass_sd_percent", 100 * b->mass, "diameter_mm", 1e3 * s->diameter,
                     "bend_seen", (int)!b->bend_unseen, "twist_seen", (int)!b->twist_unseen);
}

static json_t *json_reading(const caber_readings *readings, const caber_fit *fit, size_t i)
{
    const caber_reading *r = &readings->items[i];
    const profile_kind *kind = profile_kind_of(r);
    json_t *object = json_pack(
        "{ss ss si ss sf sf sf sf sf sb sb}", "kind", kind->name, "file", profile_file(r->source),
        "line", r->line, "unit", kind->unit, "value", r->value * kind->factor, "sigma",
        r->sigma * kind->factor, "predicted", fit->residual[i].predicted * kind->factor, "residual",
        fit->residual[i].sigmas, "leverage", fit->residual[i].leverage, "left_out",
        (int)r->left_out, "outlier", (int)profile_is_outlier(readings, fit, i));
    const bool bends = r->kind == CABER_READ_SPAN || r->kind == CABER_READ_CANTILEVER ||
                       r->kind == CABER_READ_FREQUENCY;
    if (object && bends)
        json_object_set_new(object, "orientation_deg",
                            isnan(r->orientation) ? json_null()
                                                  : json_real(r->orientation * CABER_DEG));
    if (object && r->kind == CABER_READ_SPAN)
        json_object_set_new(object, "apparent_ei_nm2", json_real(profile_apparent_ei(r)));
    return object;
}

static json_t *json_jigs(const caber_readings *readings, const caber_fit *fit)
{
    size_t count;
    profile_jig *jigs = profile_jigs(readings, fit, &count);
    json_t *list = jigs ? json_array() : NULL;
    for (size_t i = 0; list && i < count; i++) {
        const caber_reading any = {.kind = jigs[i].kind};
        json_array_append_new(list,
                              json_pack("{ss ss sI sI sf sf}", "kind", profile_kind_of(&any)->name,
                                        "file", jigs[i].file, "used", (json_int_t)jigs[i].used,
                                        "left_out", (json_int_t)jigs[i].left_out, "rms",
                                        jigs[i].rms, "mean", jigs[i].mean));
    }
    free(jigs);
    return list;
}

/* Null when the readings do not tell directions apart. */
static json_t *json_symmetry(const caber_fit *fit)
{
    if (!fit->oriented)
        return json_null();
    return json_pack("{sf sf sf sf}", "difference_percent", 100 * fit->ratio,
                     "difference_sd_percent", 100 * fit->ratio_sd, "angle_deg",
                     fit->angle * CABER_DEG, "angle_sd_deg", fit->angle_sd * CABER_DEG);
}

json_t *json_app_profile(const caber_readings *readings, const caber_fit *fit)
{
    json_t *stations = json_array(), *list = json_array();
    for (size_t i = 0; i < fit->shaft.station_count; i++)
        json_array_append_new(stations, json_station(fit, i));
    for (size_t i = 0; i < readings->count; i++)
        json_array_append_new(list, json_reading(readings, fit, i));
    const bool complete = json_array_size(stations) == fit->shaft.station_count &&
                          json_array_size(list) == readings->count;
    json_t *object = json_pack(
        "{ss sf sI sI sf sf sf sf sf sf so so so so}", "shaft", readings->name, "length_m",
        readings->length, "used", (json_int_t)fit->used, "left_out",
        (json_int_t)(readings->count - fit->used), "parameters", fit->parameters, "chi_square",
        fit->chi_square, "reduced_chi_square", profile_reduced_chi_square(fit), "widened",
        fit->widened, "smoothness_ei_percent", 100 / sqrt(fit->smooth_ei), "smoothness_gj_percent",
        100 / sqrt(fit->smooth_gj), "symmetry", json_symmetry(fit), "stations", stations, "jigs",
        json_jigs(readings, fit), "readings", list);
    if (complete)
        return object;
    json_decref(object);
    return NULL;
}

json_t *json_app_numbers(const double *values, size_t count, double factor)
{
    json_t *list = json_array();
    int failed = !list;
    for (size_t i = 0; i < count; i++)
        failed |= json_array_append_new(list, json_real(values[i] * factor));
    if (!failed)
        return list;
    json_decref(list);
    return NULL;
}

app_exit json_app_print(json_t *value)
{
    if (!value) {
        app_say("the result could not be put into JSON");
        return APP_UNFINISHED;
    }
    /* A failed write shows when the program ends. */
    json_dumpf(value, stdout, JSON_INDENT(2) | JSON_REAL_PRECISION(17));
    putchar('\n');
    json_decref(value);
    return APP_FINE;
}

json_t *json_app_sentences(const char *const *const lists[], size_t count)
{
    json_t *all = json_array();
    for (size_t k = 0; k < count; k++)
        for (size_t i = 0; lists[k][i]; i++)
            json_array_append_new(all, json_string(lists[k][i]));
    return all;
}

void json_app_note(json_t *notes, const char *format, ...)
{
    char text[2 * sizeof(caber_message)];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    text[text_utf8_end(text, strlen(text))] = '\0';
    json_array_append_new(notes, json_string(text));
}
