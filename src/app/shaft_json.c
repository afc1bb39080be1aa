/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shaft_json.h"

#include <math.h>
#include <stdlib.h>

#include "app/json.h"
#include "shaft/profile.h"

enum { CURVE_STEPS = 160 };

/* One standard deviation of a station's EI, GJ or mass (quantity 0, 1, 2), relative: the root of the squares of
 * the independent shares. */
static double station_sd(const caber_shaft *shaft, size_t station, size_t quantity)
{
    double squares = 0;
    for (size_t k = 0; k < shaft->errors.count; k++) {
        const double share =
            shaft->errors.share[(k * shaft->station_count + station) * 3 + quantity];
        squares += share * share;
    }
    return sqrt(squares);
}

static json_t *percent(const caber_shaft *shaft, size_t station, size_t quantity)
{
    return shaft->errors.count ? json_real(100 * station_sd(shaft, station, quantity))
                               : json_null();
}

/* As a station of a profile, as measured. */
static json_t *station_json(const caber_shaft *shaft, size_t i)
{
    const caber_station *s = &shaft->stations[i];
    return json_pack("{sf sf sf so sf so sf so sf}", "at_m", s->at, "ei_nm2", s->ei, "ei_2_nm2",
                     s->ei_2 > 0 ? s->ei_2 : s->ei, "ei_sd_percent", percent(shaft, i, 0), "gj_nm2",
                     s->gj, "gj_sd_percent", percent(shaft, i, 1), "mass_kg_m", s->mass,
                     "mass_sd_percent", percent(shaft, i, 2), "diameter_mm", 1e3 * s->diameter);
}

static json_t *sections_json(const caber_sections *sections)
{
    json_t *list = json_array();
    for (size_t i = 0; i < sections->count; i++) {
        const caber_section *s = &sections->items[i];
        json_array_append_new(list, json_pack("{sf sf sf sf sf}", "from_m", s->from, "to_m", s->to,
                                              "ei_scale", s->ei_scale, "gj_scale", s->gj_scale,
                                              "mass_scale", s->mass_scale));
    }
    return list;
}

/* A column of the curve. */
enum { CURVE_AT, CURVE_EI, CURVE_EI_2, CURVE_GJ, CURVE_MASS, CURVE_DIAMETER, CURVE_COLUMNS };
static const char *const curve_names[CURVE_COLUMNS] = {"at_m",   "ei_nm2",    "ei_2_nm2",
                                                       "gj_nm2", "mass_kg_m", "diameter_mm"};

static int curve_add(const profile *p, double at, json_t *const columns[CURVE_COLUMNS])
{
    const profile_point x = profile_at(p, at);
    const double values[CURVE_COLUMNS] = {at, x.ei, x.ei_2, x.gj, x.mass, 2e3 * x.radius};
    int failed = 0;
    for (int c = 0; c < CURVE_COLUMNS; c++)
        failed |= json_array_append_new(columns[c], json_real(values[c]));
    return failed;
}

static int order(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The profile with its sections, evenly along the shaft and on both sides of every jump. */
static int curve_fill(const caber_setup *setup, const profile *p,
                      json_t *const columns[CURVE_COLUMNS])
{
    static const double beside = 1e-6; /* m */
    const double *jumps, length = setup->shaft.length;
    const size_t count = profile_jumps(p, &jumps);
    double *at = malloc((CURVE_STEPS + 1 + 2 * count) * sizeof *at);
    size_t n = 0;
    int failed = !at;
    for (int i = 0; at && i <= CURVE_STEPS; i++)
        at[n++] = length * i / CURVE_STEPS;
    for (size_t j = 0; at && j < count; j++) {
        at[n++] = fmax(0, fmin(length, jumps[j] - beside));
        at[n++] = fmax(0, fmin(length, jumps[j] + beside));
    }
    if (at)
        qsort(at, n, sizeof *at, order);
    for (size_t i = 0; at && i < n; i++)
        failed |= curve_add(p, at[i], columns);
    free(at);
    return failed;
}

static json_t *curve_json(const caber_setup *setup, caber_status *status, caber_message *message)
{
    json_t *object = json_object(), *columns[CURVE_COLUMNS];
    profile *p = NULL;
    int failed = !object;
    *status = profile_create(&setup->shaft, &setup->sections, &p, message);
    for (int c = 0; c < CURVE_COLUMNS; c++) {
        columns[c] = json_array();
        failed |= json_object_set_new(object, curve_names[c], columns[c]);
    }
    if (*status == CABER_OK && !failed)
        failed |= curve_fill(setup, p, columns);
    profile_free(p);
    if (!failed && *status == CABER_OK)
        return object;
    json_decref(object);
    return NULL;
}

static json_t *shaft_fill(const caber_setup *setup, json_t *curve)
{
    const caber_shaft *s = &setup->shaft;
    json_t *stations = json_array();
    int failed = !stations;
    for (size_t i = 0; i < s->station_count; i++)
        failed |= json_array_append_new(stations, station_json(s, i));
    if (failed) {
        json_decref(stations);
        stations = NULL;
    }
    return json_pack("{ss ss ss sf sf sf sf sb so so so}", "setup", setup->name, "shaft", s->name,
                     "note", s->note, "length_m", s->length, "tip_trim_m", setup->build.tip_trim,
                     "butt_trim_m", setup->build.butt_trim, "hold_m", setup->build.hold,
                     "errors_known", s->errors.count > 0, "stations", stations, "sections",
                     sections_json(&setup->sections), "curve", curve);
}

caber_status shaft_json(const caber_setup *setup, json_t **out, json_t *notes,
                        caber_message *message)
{
    caber_status status;
    json_t *curve = curve_json(setup, &status, message);
    if (status != CABER_OK)
        return status;
    if (!setup->shaft.errors.count)
        json_app_note(notes, "the profile says nothing of its errors: it has no bands");
    if (setup->build.length > 0)
        json_app_note(notes, "a length of the club is wanted, so one of the cuts follows from it: "
                             "ask the bench what is cut");
    *out = shaft_fill(setup, curve);
    return CABER_OK;
}
