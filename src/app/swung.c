/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/swung.h"

#include <math.h>
#include <string.h>

#include "app/json.h"
#include "swing/once.h"

caber_status swung_run(const caber_setup *setup, caber_trace *trace, swung *out,
                       caber_message *message)
{
    const caber_status status = swing_once(setup, &out->swing, trace, message);
    return status == CABER_OK ? caber_shot_pair_run(setup, &out->swing, &out->shots, message)
                              : status;
}

/* What the command says on standard error. */
void swung_notes(const swung *s, json_t *notes)
{
    if (!s->swing.met_ball)
        json_app_note(notes,
                      "the swing was stopped by settings.until; it met no ball, and the figures "
                      "are those of that instant");
    if (s->swing.met_ball && !s->shots.bent_flies)
        json_app_note(notes, "no flight of the club's ball: %s", s->shots.bent_why.text);
    if (s->swing.met_ball && !s->shots.straight_flies)
        json_app_note(notes, "no flight of the straight club's ball: %s",
                      s->shots.straight_why.text);
}

/* ------------------------------------------------------------------ through time */

static double trace_value(const caber_trace_row *row, const caber_trace_field *field)
{
    double value;
    memcpy(&value, (const char *)row + field->offset, sizeof value);
    return value * field->factor;
}

/* A shaft that is straight at an instant has no bend point then. */
static json_t *trace_number(double value, const caber_trace_field *field)
{
    const bool absent = field->offset == offsetof(caber_trace_row, bend_point) && isnan(value);
    return absent ? json_null() : json_real(value);
}

static json_t *trace_columns(const caber_trace *trace)
{
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    json_t *object = json_object();
    int failed = !object;
    for (size_t f = 0; f < count; f++) {
        json_t *list = json_array();
        for (size_t i = 0; i < trace->count; i++)
            failed |= json_array_append_new(
                list, trace_number(trace_value(&trace->rows[i], &fields[f]), &fields[f]));
        failed |= json_object_set_new(object, fields[f].name, list);
    }
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

/* A row a time, in it a number a place along the shaft. */
static json_t *trace_matrix(const caber_trace *trace, const double *values, double factor)
{
    json_t *rows = json_array();
    int failed = !rows;
    for (size_t i = 0; i < trace->count; i++)
        failed |= json_array_append_new(
            rows, json_app_numbers(values + i * trace->place_count, trace->place_count, factor));
    if (!failed)
        return rows;
    json_decref(rows);
    return NULL;
}

json_t *swung_series_json(const caber_setup *setup, const caber_swing *swing,
                          const caber_trace *trace)
{
    return json_pack("{ss sb so so so so so}", "setup", setup->name, "met_ball",
                     (int)swing->met_ball, "columns", trace_columns(trace), "places_m",
                     json_app_numbers(trace->place, trace->place_count, 1), "moment_nm",
                     trace_matrix(trace, trace->moment, 1), "curvature_per_m",
                     trace_matrix(trace, trace->curvature, 1), "trail_mm",
                     trace_matrix(trace, trace->trail, 1e3));
}
