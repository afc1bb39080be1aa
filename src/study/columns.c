/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/columns.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"

static const char straight_prefix[] = "straight.";

static output_column make(size_t output, bool straight)
{
    output_column c = {.field = caber_output_field(output),
                       .output = output,
                       .straight = straight,
                       .optional = caber_output_of_ball(output)};
    snprintf(c.name, sizeof c.name, "%s%s", straight ? straight_prefix : "", c.field->name);
    return c;
}

output_column column_at(size_t output)
{
    return make(output, false);
}

static const char *nearest(const char *name)
{
    const char *found = NULL;
    size_t least = 4;
    for (size_t i = 0; i < caber_output_count(); i++) {
        const char *candidate = caber_output_field(i)->name;
        const size_t distance = text_distance(name, candidate, least);
        if (distance < least) {
            least = distance;
            found = candidate;
        }
    }
    return found;
}

caber_status column_find(const char *name, output_column *out, caber_message *message)
{
    const size_t length = sizeof straight_prefix - 1;
    const bool straight = !strncmp(name, straight_prefix, length);
    const char *plain = name + (straight ? length : 0);
    const size_t output = caber_output_find(plain);
    char clip[TEXT_CLIP_SIZE];
    text_clip(name, clip);
    if (output == caber_output_count()) {
        const char *near = nearest(plain);
        return message_set(message, CABER_BAD_INPUT,
                           "\"%s\" is no output%s%s%s%s; 'caber fields impact' and 'caber fields "
                           "shot' list them",
                           clip, near ? "; did you mean " : "", near && straight ? "straight." : "",
                           near ? near : "", near ? "?" : "");
    }
    if (straight && (caber_output_of_ball(output) || !caber_output_field(output)->straight))
        return message_set(message, CABER_BAD_INPUT,
                           "\"%s\": this output has no meaning for the straight club", clip);
    *out = make(output, straight);
    return CABER_OK;
}

double column_value(const output_column *c, const caber_outcome *outcome)
{
    double value;
    if (!c->straight)
        return caber_outcome_number(outcome, c->output);
    memcpy(&value, (const char *)&outcome->swing.straight + c->field->offset, sizeof value);
    return value;
}

/* ------------------------------------------------------------------ series */

caber_status series_find(const char *name, series_column *out, caber_message *message)
{
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    char clip[TEXT_CLIP_SIZE];
    text_clip(name, clip);
    for (size_t i = 0; i < count; i++) {
        if (strcmp(fields[i].name, name) != 0)
            continue;
        if (fields[i].offset == offsetof(caber_trace_row, time))
            return message_set(message, CABER_BAD_INPUT, "%s is the grid itself", clip);
        out->field = &fields[i];
        snprintf(out->name, sizeof out->name, "series.%s", name);
        return CABER_OK;
    }
    return message_set(message, CABER_BAD_INPUT,
                       "\"%s\" is no series; 'caber fields series' lists them", clip);
}

void series_fill(const series_column *c, const caber_trace *trace, double step, size_t points,
                 double *values)
{
    for (size_t i = 0; i < points; i++) {
        values[i] = NAN;
        /* The last row is the swing's end, wherever that lies. */
        if (i < trace->count && (i + 1 < trace->count || trace->rows[i].time == step * (double)i))
            memcpy(&values[i], (const char *)&trace->rows[i] + c->field->offset, sizeof values[i]);
    }
}
