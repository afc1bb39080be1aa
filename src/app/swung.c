/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/swung.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/json.h"
#include "base/text.h"
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

/* ------------------------------------------------------------------ through time
 *
 * Some 20,000 numbers: as values of the JSON library they would take three times as long as the swing itself, so
 * their text is written here. */

/* A list as it is written; `good` is false once a number was none. */
typedef struct series_text {
    FILE *to;
    bool good;
} series_text;

static void put_number(series_text *s, double value, bool first)
{
    char text[1 + TEXT_NUMBER_SIZE] = ",";
    s->good = s->good && isfinite(value);
    if (!s->good)
        return;
    char *end = text_put_ten(value, text + 1);
    fwrite(text + first, 1, (size_t)(end - text - first), s->to);
}

static void put_numbers(series_text *s, const double *values, size_t count, double factor)
{
    fputc('[', s->to);
    for (size_t i = 0; i < count; i++)
        put_number(s, values[i] * factor, i == 0);
    fputc(']', s->to);
}

static void put_column(series_text *s, const caber_trace *trace, const caber_trace_field *field)
{
    fputc('[', s->to);
    for (size_t i = 0; i < trace->count; i++) {
        double value;
        memcpy(&value, (const char *)&trace->rows[i] + field->offset, sizeof value);
        /* A shaft that is straight at an instant has no bend point then. */
        if (field->offset == offsetof(caber_trace_row, bend_point) && isnan(value))
            fputs(i ? ",null" : "null", s->to);
        else
            put_number(s, value * field->factor, i == 0);
    }
    fputc(']', s->to);
}

static void put_columns(series_text *s, const caber_trace *trace)
{
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    for (size_t f = 0; f < count; f++) {
        fprintf(s->to, "%s\"%s\":", f ? "," : "", fields[f].name);
        put_column(s, trace, &fields[f]);
    }
}

/* A row a time, in it a number a place along the shaft. */
static void put_matrix(series_text *s, const caber_trace *trace, const char *name,
                       const double *values, double factor)
{
    fprintf(s->to, ",\"%s\":[", name);
    for (size_t i = 0; i < trace->count; i++) {
        if (i)
            fputc(',', s->to);
        put_numbers(s, values + i * trace->place_count, trace->place_count, factor);
    }
    fputc(']', s->to);
}

char *swung_series_text(const caber_setup *setup, bool met_ball, const caber_trace *trace)
{
    char *text = NULL;
    size_t size = 0;
    json_t *name = json_string(setup->name);
    char *quoted = name ? json_dumps(name, JSON_ENCODE_ANY) : NULL;
    series_text s = {.to = quoted ? open_memstream(&text, &size) : NULL, .good = true};
    if (s.to) {
        fprintf(s.to, "{\"setup\":%s,\"met_ball\":%s,\"columns\":{", quoted,
                met_ball ? "true" : "false");
        put_columns(&s, trace);
        fputs("},\"places_m\":", s.to);
        put_numbers(&s, trace->place, trace->place_count, 1);
        put_matrix(&s, trace, "moment_nm", trace->moment, 1);
        put_matrix(&s, trace, "curvature_per_m", trace->curvature, 1);
        put_matrix(&s, trace, "trail_mm", trace->trail, 1e3);
        put_matrix(&s, trace, "out_of_plane_mm", trace->out_of_plane, 1e3);
        fputc('}', s.to);
        s.good = !ferror(s.to) && s.good;
        s.good = fclose(s.to) == 0 && s.good;
    }
    free(quoted);
    json_decref(name);
    if (s.to && s.good)
        return text;
    free(text);
    return NULL;
}

json_t *swung_series_json(const caber_setup *setup, bool met_ball, const caber_trace *trace)
{
    char *text = swung_series_text(setup, met_ball, trace);
    json_t *object = text ? json_loads(text, 0, NULL) : NULL;
    free(text);
    return object;
}
