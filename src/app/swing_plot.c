/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/swing_plot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_errno.h>
#include <gsl/gsl_interp.h>

#include "base/message.h"

enum { STRIPS = 5, CURVES = 3, MARKS = 2, INSTANTS = 3, ROWS = 2000, POINTS = 60 };

/* A member of a trace's row over time. */
typedef struct curve {
    size_t member; /* its place in caber_trace_row */
    const char *label;
    plot_shape shape;
    plot_ink ink;
} curve;

#define MEMBER(name) offsetof(caber_trace_row, name)

static const struct strip {
    const char *title;
    double share;
    size_t count;
    curve curves[CURVES];
} strips[STRIPS] = {
    {"Handle moment, N m",
     3,
     2,
     {{MEMBER(handle_moment), "in the swing plane", PLOT_LINE, PLOT_BLUE},
      {MEMBER(handle_moment_out), "out of it", PLOT_DASHES, PLOT_ORANGE}}},
    {"Tip off the handle axis, mm",
     3,
     3,
     {{MEMBER(lead), "lead", PLOT_LINE, PLOT_BLUE},
      {MEMBER(droop), "droop", PLOT_DASHES, PLOT_ORANGE},
      {MEMBER(lag), "lag in the swing plane", PLOT_DOTTED, PLOT_GREEN}}},
    {"Tip twist, deg", 2.7, 1, {{MEMBER(twist), "closing the face", PLOT_LINE, PLOT_VIOLET}}},
    {"Strain energy, J",
     2.7,
     3,
     {{MEMBER(strain_butt), "butt third", PLOT_LINE, PLOT_BLUE},
      {MEMBER(strain_middle), "middle third", PLOT_DASHES, PLOT_ORANGE},
      {MEMBER(strain_tip), "tip third", PLOT_DOTTED, PLOT_GREEN}}},
    {"Head speed, m/s",
     4,
     2,
     {{MEMBER(head_speed), "the club", PLOT_LINE, PLOT_BLUE},
      {MEMBER(straight_head_speed), "a straight club", PLOT_DASHES, PLOT_ORANGE}}},
};

static const struct {
    plot_shape shape;
    plot_ink ink;
} instant_styles[INSTANTS] = {
    {PLOT_DOTTED, PLOT_GREEN}, {PLOT_LINE, PLOT_BLUE}, {PLOT_DASHES, PLOT_ORANGE}};

/* Everything the figure points to. */
typedef struct sheet {
    plot_columns columns;
    const caber_swing *swing;
    const caber_trace *trace;
    size_t rows, step; /* of the trace that are drawn, how far apart */
    double *time;      /* ms, [rows] */
    double mark_x[MARKS][2], mark_y[STRIPS][2];
    plot_series series[STRIPS][CURVES + MARKS + 1], shapes[INSTANTS];
    double crest_x[2], crest_y[2];
    plot_note notes[MARKS + 2], gain[1];
    char text[MARKS + 3][48], joint[100];
    plot_panel panels[STRIPS + 1];
} sheet;

/* The last row is always drawn: it is the swing's end. */
static const caber_trace_row *row_at(const sheet *s, size_t i)
{
    return &s->trace->rows[i + 1 == s->rows ? s->trace->count - 1 : i * s->step];
}

static double member_of(const caber_trace_row *row, size_t member)
{
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    double value;
    memcpy(&value, (const char *)row + member, sizeof value);
    for (size_t i = 0; i < count; i++)
        if (fields[i].offset == member)
            value *= fields[i].factor;
    return value;
}

static void set_times(sheet *s)
{
    const size_t count = s->trace->count;
    s->step = (count + ROWS - 1) / ROWS;
    s->rows = (count - 1 + s->step - 1) / s->step + 1;
    s->time = plot_columns_add(&s->columns, s->rows);
    for (size_t i = 0; s->columns.good && i < s->rows; i++)
        s->time[i] = row_at(s, i)->time * 1e3;
}

/* ------------------------------------------------------------------ strips */

static void widen(double value, double *low, double *high)
{
    *low = fmin(*low, value);
    *high = fmax(*high, value);
}

static plot_series curve_series(sheet *s, const curve *c, plot_panel *panel)
{
    double *y = plot_columns_add(&s->columns, s->rows);
    for (size_t i = 0; s->columns.good && i < s->rows; i++) {
        y[i] = member_of(row_at(s, i), c->member);
        widen(y[i], &panel->y_low, &panel->y_high);
    }
    return (plot_series){.shape = c->shape,
                         .ink = c->ink,
                         .label = c->label,
                         .count = s->rows,
                         .x = s->time,
                         .y = y};
}

/* Upright lines, under everything else. */
static void add_marks(sheet *s, size_t strip)
{
    for (int m = 0; m < MARKS; m++)
        s->series[strip][m] = (plot_series){.shape = PLOT_MARK,
                                            .ink = PLOT_GREY,
                                            .count = 2,
                                            .x = s->mark_x[m],
                                            .y = s->mark_y[strip]};
}

static void set_range(plot_panel *p, double above)
{
    const double rim = fmax(0.06 * (p->y_high - p->y_low), 1e-9);
    p->y_low -= p->y_low < 0 ? rim : 0;
    p->y_high += fmax(rim, above * (p->y_high - p->y_low));
}

static void fill_strip(sheet *s, size_t strip)
{
    const struct strip *of = &strips[strip];
    plot_panel *p = &s->panels[strip];
    const double end = s->swing->bent.downswing_time * 1e3;
    *p = (plot_panel){.title = of->title,
                      .x_label = strip + 1 < STRIPS ? NULL : "from the start of the downswing, ms",
                      .share = of->share,
                      .x_high = 1.02 * end,
                      .series_count = MARKS + of->count,
                      .series = s->series[strip]};
    add_marks(s, strip);
    for (size_t c = 0; c < of->count; c++)
        s->series[strip][MARKS + c] = curve_series(s, &of->curves[c], p);
    set_range(p, strip == 0 ? 0.45 : 0); /* room for what is written there */
    s->mark_y[strip][0] = p->y_low;
    s->mark_y[strip][1] = p->y_high;
}

/* ------------------------------------------------------------------ what is written */

static const caber_trace_row *fastest_load(const caber_trace *trace)
{
    const caber_trace_row *best = trace->rows;
    for (size_t i = 1; i < trace->count; i++)
        if (trace->rows[i].load_rate > best->load_rate)
            best = &trace->rows[i];
    return best;
}

/* The peak of the handle moment and where it grows fastest, as dots with their numbers; which instants the
 * upright lines are. */
static void write_loads(sheet *s)
{
    const caber_impact *bent = &s->swing->bent;
    plot_panel *p = &s->panels[0];
    const caber_trace_row *fast = fastest_load(s->trace);
    const double high = p->y_high - 0.08 * (p->y_high - p->y_low);
    s->crest_x[0] = bent->peak_handle_moment_time * 1e3;
    s->crest_y[0] = bent->peak_handle_moment;
    s->crest_x[1] = fast->time * 1e3;
    s->crest_y[1] = fast->handle_moment;
    snprintf(s->text[0], sizeof s->text[0], "%.1f N m", bent->peak_handle_moment);
    snprintf(s->text[1], sizeof s->text[1], "grows by %.0f N m/s", bent->peak_load_rate);
    snprintf(s->text[2], sizeof s->text[2], "peak lag");
    snprintf(s->text[3], sizeof s->text[3], s->swing->met_ball ? "impact" : "stopped");
    /* Too near each other for a label each. */
    const bool near = s->mark_x[1][0] - s->mark_x[0][0] < 0.12 * p->x_high;
    if (near)
        snprintf(s->joint, sizeof s->joint, "%s, %s", s->text[2], s->text[3]);
    for (int i = 0; i < 2; i++) {
        s->notes[i] =
            (plot_note){s->crest_x[i], s->crest_y[i], PLOT_BLUE, s->text[i], i == 0 ? 9 : 0};
        s->notes[2 + i] = (plot_note){s->mark_x[i][0], high, PLOT_GREY, s->text[2 + i], 0};
    }
    s->series[0][p->series_count++] = (plot_series){
        .shape = PLOT_POINTS, .ink = PLOT_BLUE, .count = 2, .x = s->crest_x, .y = s->crest_y};
    if (near)
        s->notes[2].x = s->mark_x[1][0], s->notes[2].text = s->joint;
    p->note_count = near ? 3 : 4;
    p->notes = s->notes;
}

/* What the shaft adds in the end. */
static void write_gain(sheet *s)
{
    const caber_impact *bent = &s->swing->bent;
    plot_panel *p = &s->panels[STRIPS - 1];
    snprintf(s->text[4], sizeof s->text[4], "%+.2f m/s from the shaft", bent->shaft_speed_gain);
    s->gain[0] = (plot_note){bent->downswing_time * 1e3, 0.1 * p->y_high, PLOT_BLUE, s->text[4], 0};
    p->note_count = 1;
    p->notes = s->gain;
}

/* ------------------------------------------------------------------ the shaft at three instants */

static size_t row_nearest(const caber_trace *trace, double time)
{
    size_t best = 0;
    for (size_t i = 1; i < trace->count; i++)
        if (fabs(trace->rows[i].time - time) < fabs(trace->rows[best].time - time))
            best = i;
    return best;
}

/* A smooth curve through the places of the trace, from the tip, whose place is 0, to the hands. */
static bool smooth(const caber_trace *t, size_t row, double *x, double *y)
{
    const size_t n = t->place_count + 1;
    double *at = malloc(2 * n * sizeof *at), *trail = at + n;
    gsl_interp *through = gsl_interp_alloc(gsl_interp_steffen, n);
    for (size_t i = 0; at && i < n; i++) {
        at[i] = i ? t->place[n - 1 - i] * 1e3 : 0;
        trail[i] = (i ? t->trail[row * (n - 1) + n - 1 - i] : t->rows[row].lag) * 1e3;
    }
    const bool good = at && through && gsl_interp_init(through, at, trail, n) == GSL_SUCCESS;
    for (int i = 0; good && i < POINTS; i++) {
        x[i] = at[n - 1] * i / (POINTS - 1);
        y[i] = gsl_interp_eval(through, at, trail, fmin(x[i], at[n - 1]), NULL);
    }
    gsl_interp_free(through);
    free(at);
    return good;
}

static plot_series shape_series(sheet *s, int instant, size_t row, const char *name)
{
    double *x = plot_columns_add(&s->columns, POINTS), *y = plot_columns_add(&s->columns, POINTS);
    plot_panel *p = &s->panels[STRIPS];
    s->columns.good = s->columns.good && smooth(s->trace, row, x, y);
    for (size_t i = 0; s->columns.good && i < POINTS; i++)
        widen(y[i], &p->y_low, &p->y_high);
    return (plot_series){.shape = instant_styles[instant].shape,
                         .ink = instant_styles[instant].ink,
                         .label = name,
                         .place = instant,
                         .count = POINTS,
                         .x = x,
                         .y = y};
}

static void fill_shapes(sheet *s)
{
    plot_panel *p = &s->panels[STRIPS];
    const size_t lag = row_nearest(s->trace, s->swing->bent.peak_lag_time);
    *p = (plot_panel){.title = "Shaft behind the handle axis in the swing plane, mm",
                      .x_label = "from the hosel up the shaft to the hands, mm",
                      .share = 4,
                      .x_high = s->trace->place[0] * 1e3,
                      .series_count = INSTANTS,
                      .series = s->shapes};
    s->shapes[0] = shape_series(s, 0, 0, "start");
    s->shapes[1] = shape_series(s, 1, lag, "peak lag");
    s->shapes[2] = shape_series(s, 2, s->trace->count - 1, s->text[3]);
    set_range(p, 0);
}

/* ------------------------------------------------------------------ the figure */

static void fill(sheet *s, const caber_swing *swing, const caber_trace *trace)
{
    s->swing = swing;
    s->trace = trace;
    s->columns.good = true;
    set_times(s);
    for (int i = 0; i < 2; i++) {
        s->mark_x[0][i] = swing->bent.peak_lag_time * 1e3;
        s->mark_x[1][i] = swing->bent.downswing_time * 1e3;
    }
    for (size_t strip = 0; strip < STRIPS; strip++)
        fill_strip(s, strip);
    write_loads(s);
    write_gain(s);
    fill_shapes(s);
}

caber_status swing_plot(const caber_setup *setup, const caber_swing *swing,
                        const caber_trace *trace, plot_format format, char **bytes, size_t *size,
                        caber_message *message)
{
    sheet *s = calloc(1, sizeof *s);
    *bytes = NULL;
    char title[CABER_NAME_SIZE + 32];
    snprintf(title, sizeof title, "%s: one downswing", setup->name);
    if (s)
        fill(s, swing, trace);
    caber_status status;
    if (s && s->columns.good) {
        const plot_figure figure = {.title = title,
                                    .width = 504,
                                    .height = 720,
                                    .panel_count = STRIPS + 1,
                                    .panels = s->panels};
        status = plot_draw(&figure, format, bytes, size, message);
    } else {
        status = message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    }
    if (s)
        plot_columns_free(&s->columns);
    free(s);
    return status;
}
