/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/profile.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"

static const profile_kind profile_kinds[CABER_READ_KINDS] = {
    [CABER_READ_SPAN] = {"span", "three-point bend", "mm", 1e3, 3,
                         "the load, the span and the indicator's zero"},
    [CABER_READ_CANTILEVER] = {"cantilever", "cantilever", "mm", 1e3, 2,
                               "the load, the clamp's edge and the zero"},
    [CABER_READ_FREQUENCY] = {"frequency", "frequency", "cpm", 60, 1,
                              "the tip mass, the clamp, and that the tip swings in one plane"},
    [CABER_READ_TWIST] = {"twist", "twist", "deg", CABER_DEG, 3,
                          "the weight and arm of the lever, the clamp and the zero"},
    [CABER_READ_MASS] = {"mass", "mass", "g", 1e3, 1, "the scale's zero, and what else lay on it"},
    [CABER_READ_BALANCE] = {"balance", "balance point", "mm", 1e3, 1,
                            "that it was measured from the tip"},
};

const profile_kind *profile_kind_of(const caber_reading *reading)
{
    return &profile_kinds[reading->kind];
}

const char *profile_file(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* Of the whole shaft, and not from the table of a jig. */
static bool is_whole(caber_reading_kind kind)
{
    return kind == CABER_READ_MASS || kind == CABER_READ_BALANCE;
}

void profile_reading_title(const caber_reading *reading, char *text, size_t size)
{
    if (is_whole(reading->kind))
        snprintf(text, size, "%s", profile_kind_of(reading)->label);
    else
        snprintf(text, size, "%s, line %d", profile_file(reading->source), reading->line);
}

bool profile_is_outlier(const caber_readings *readings, const caber_fit *fit, size_t index)
{
    return !readings->items[index].left_out && fabs(fit->residual[index].sigmas) > PROFILE_OUTLIER;
}

bool profile_is_finite(const caber_readings *readings, const caber_fit *fit)
{
    bool good = app_is_number(fit->chi_square, "chi_square") &&
                app_is_number(fit->parameters, "parameters") &&
                app_is_number(fit->ratio, "difference_percent") &&
                app_is_number(fit->ratio_sd, "difference_sd_percent") &&
                app_is_number(fit->angle_sd, "angle_sd_deg");
    for (size_t i = 0; good && i < fit->shaft.station_count; i++)
        good = app_is_number(profile_mean_ei(&fit->shaft.stations[i]), "ei_nm2") &&
               app_is_number(fit->shaft.stations[i].gj, "gj_nm2") &&
               app_is_number(fit->shaft.stations[i].mass, "mass_kg_m") &&
               app_is_number(fit->band[i].ei, "ei_sd_percent") &&
               app_is_number(fit->band[i].gj, "gj_sd_percent") &&
               app_is_number(fit->band[i].mass, "mass_sd_percent");
    for (size_t i = 0; good && i < readings->count; i++)
        good = app_is_number(fit->residual[i].predicted, "predicted") &&
               app_is_number(fit->residual[i].sigmas, "residual");
    return good;
}

double profile_reduced_chi_square(const caber_fit *fit)
{
    return fit->chi_square / fmax((double)fit->used - fit->parameters, 1);
}

double profile_mean_ei(const caber_station *station)
{
    return station->ei_2 > 0 ? sqrt(station->ei * station->ei_2) : station->ei;
}

double profile_apparent_ei(const caber_reading *span)
{
    const double length = span->held_at - span->rest_at;
    const double load = span->load_at - span->rest_at, read = span->read_at - span->rest_at;
    /* From the support on the side of the load where it is read: a from there to the reading, b from
     * the other one to the load. */
    const double a = read <= load ? read : length - read, b = read <= load ? length - load : load;
    return span->load * a * b * (length * length - a * a - b * b) / (6 * length * span->value);
}

/* ------------------------------------------------------------------ jigs */

static profile_jig *find_jig(profile_jig *jigs, size_t *count, const caber_reading *reading)
{
    const char *file = is_whole(reading->kind) ? "" : profile_file(reading->source);
    for (size_t i = 0; i < *count; i++)
        if (jigs[i].kind == reading->kind && strcmp(jigs[i].file, file) == 0)
            return &jigs[i];
    jigs[*count] = (profile_jig){.kind = reading->kind, .file = file, .furthest = SIZE_MAX};
    return &jigs[(*count)++];
}

static void add_to_jig(profile_jig *jig, const caber_fit *fit, size_t index)
{
    const double off = fit->residual[index].sigmas;
    jig->used++;
    jig->rms += off * off;
    jig->mean += off;
    if (jig->furthest == SIZE_MAX || fabs(off) > fabs(fit->residual[jig->furthest].sigmas))
        jig->furthest = index;
}

profile_jig *profile_jigs(const caber_readings *readings, const caber_fit *fit, size_t *count)
{
    profile_jig *jigs = calloc(readings->count + 1, sizeof *jigs);
    *count = 0;
    for (size_t i = 0; jigs && i < readings->count; i++) {
        profile_jig *jig = find_jig(jigs, count, &readings->items[i]);
        if (readings->items[i].left_out)
            jig->left_out++;
        else
            add_to_jig(jig, fit, i);
    }
    for (size_t i = 0; i < *count; i++)
        if (jigs[i].used) {
            jigs[i].rms = sqrt(jigs[i].rms / (double)jigs[i].used);
            jigs[i].mean /= (double)jigs[i].used;
        }
    return jigs;
}
