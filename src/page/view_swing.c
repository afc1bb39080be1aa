/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One swing: its impact, as caber swing --json prints it, and its course through time. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/cautions.h"
#include "app/json.h"
#include "page/page.h"
#include "swing/once.h"

/* A swing and its ball. */
typedef struct swung {
    caber_swing swing;
    caber_shot_pair shots;
} swung;

static caber_status swing_run(const caber_setup *setup, caber_trace *trace, swung *out,
                              caber_message *message)
{
    const caber_status status = swing_once(setup, &out->swing, trace, message);
    return status == CABER_OK ? caber_shot_pair_run(setup, &out->swing, &out->shots, message)
                              : status;
}

/* What the command says on standard error. */
static void swing_notes(const swung *s, json_t *notes)
{
    if (!s->swing.met_ball)
        reply_note(notes,
                   "the swing was stopped by settings.until; it met no ball, and the figures "
                   "are those of that instant");
    if (s->swing.met_ball && !s->shots.bent_flies)
        reply_note(notes, "no flight of the club's ball: %s", s->shots.bent_why.text);
    if (s->swing.met_ball && !s->shots.straight_flies)
        reply_note(notes, "no flight of the straight club's ball: %s", s->shots.straight_why.text);
}

void view_swing(page *p, const page_ask *ask, server_reply *out)
{
    caber_setup *setup;
    swung s;
    caber_message message = {""};
    if (!ask_setup_alone(&p->folders, ask->body, &setup, out))
        return;
    const caber_status status = swing_run(setup, NULL, &s, &message);
    if (status == CABER_OK) {
        json_t *notes = json_array();
        swing_notes(&s, notes);
        reply_result(out, json_app_swing(setup, &s.swing, &s.shots), notes, cautions_all, NULL);
    } else {
        reply_failed(out, status, &message);
    }
    caber_setup_free(setup);
}

/* ------------------------------------------------------------------ several at once */

/* Swings one of several into the lists. Returns whether it could. */
static bool swings_add(const caber_setup *setup, size_t which, json_t *list, json_t *notes,
                       server_reply *out)
{
    swung s;
    caber_message message = {""};
    const caber_status status = swing_run(setup, NULL, &s, &message);
    if (status != CABER_OK) {
        caber_message said = {""};
        snprintf(said.text, sizeof said.text, "setup %zu, %s: %.800s", which + 1, setup->name,
                 message.text);
        reply_failed(out, status, &said);
        return false;
    }
    json_t *own = json_array();
    swing_notes(&s, own);
    size_t i;
    json_t *note;
    json_array_foreach(own, i, note)
    {
        reply_note(notes, "setup %zu, %s: %s", which + 1, setup->name, json_string_value(note));
    }
    json_decref(own);
    json_array_append_new(list, json_app_swing(setup, &s.swing, &s.shots));
    return true;
}

void view_swings(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {"setups", NULL};
    caber_setup *setups[ASK_SETUPS];
    size_t count = 0;
    bool good = ask_only(ask->body, "", keys, out) &&
                ask_setups(&p->folders, ask->body, "setups", 1, ASK_SETUPS, setups, &count, out);
    json_t *list = json_array(), *notes = json_array();
    for (size_t i = 0; good && i < count; i++)
        good = swings_add(setups[i], i, list, notes, out);
    if (good && json_array_size(list) < count) {
        json_decref(list); /* a number is none */
        list = NULL;
    }
    if (good) {
        reply_result(out, list, notes, cautions_all, NULL);
    } else {
        json_decref(list);
        json_decref(notes);
    }
    for (size_t i = 0; i < count; i++)
        caber_setup_free(setups[i]);
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

static json_t *trace_json(const caber_setup *setup, const caber_swing *swing,
                          const caber_trace *trace)
{
    return json_pack("{ss sb so so so so so so}", "setup", setup->name, "met_ball",
                     (int)swing->met_ball, "columns", trace_columns(trace), "places_m",
                     json_app_numbers(trace->place, trace->place_count, 1), "moment_nm",
                     trace_matrix(trace, trace->moment, 1), "curvature_per_m",
                     trace_matrix(trace, trace->curvature, 1), "trail_mm",
                     trace_matrix(trace, trace->trail, 1e3), "out_of_plane_mm",
                     trace_matrix(trace, trace->out_of_plane, 1e3));
}

void view_series(page *p, const page_ask *ask, server_reply *out)
{
    caber_setup *setup;
    swung s;
    caber_message message = {""};
    if (!ask_setup_alone(&p->folders, ask->body, &setup, out))
        return;
    caber_trace *trace = caber_trace_create();
    const caber_status status = trace ? swing_run(setup, trace, &s, &message) : CABER_NO_MEMORY;
    if (status == CABER_OK) {
        json_t *notes = json_array();
        swing_notes(&s, notes);
        reply_result(out, trace_json(setup, &s.swing, trace), notes, cautions_all, NULL);
    } else {
        reply_failed(out, status, &message);
    }
    caber_trace_free(trace);
    caber_setup_free(setup);
}
