/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shots_plot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/landing_plot.h"
#include "app/plot.h"
#include "base/message.h"
#include "study/measured.h"

/* As many as a page holds and six inks tell apart. */
enum { STRIPS = 4, BATCHES = PLOT_INKS, SERIES = 6 * BATCHES, ELLIPSE = 60 };

/* Which outputs are drawn, the first four that were measured. */
static const char *const drawn[] = {"ball_speed_mps",
                                    "launch_angle_deg",
                                    "backspin_rpm",
                                    "spin_rpm",
                                    "carry_m",
                                    "side_m",
                                    "delivered_loft_deg",
                                    "face_angle_deg",
                                    "head_speed_mps",
                                    "launch_direction_deg"};

/* Everything the figure points to. */
typedef struct figure {
    plot_columns c;
    size_t panel_count, batches;
    plot_panel panels[STRIPS + 1];
    plot_series series[STRIPS + 1][SERIES];
    char title[STRIPS + 1][96];
    const char *rows[BATCHES];
    char numbers[BATCHES][32];
    landing_lines lines;
    char name[80 + BATCHES * (CABER_NAME_SIZE + 16)];
} figure;

static double printed(const caber_measured *m, size_t shot, int column)
{
    return m->value[shot * m->column_count + (size_t)column] * m->columns[column].factor;
}

static void panel_add(plot_panel *p, plot_series *all, plot_series s)
{
    if (p->series_count < SERIES && s.count)
        all[p->series_count++] = s;
}

static void widen(double *low, double *high, double value)
{
    *low = fmin(*low, value);
    *high = fmax(*high, value);
}

/* ------------------------------------------------------------------ strips */

/* A batch's dots, on the upper side of its row one above the other where they would hide each other. */
static plot_series strip_dots(figure *f, const shots_study *s, int column, size_t b, double row,
                              bool aside)
{
    const caber_measured *m = s->measured;
    double *x = plot_columns_add(&f->c, m->count), *y = plot_columns_add(&f->c, m->count);
    size_t n = 0;
    for (size_t i = 0; f->c.good && i < m->count; i++) {
        const double v = printed(m, i, column);
        if (m->shots[i].batch != b || m->shots[i].set_aside != aside || isnan(v))
            continue;
        x[n] = v;
        y[n] = row - 0.04 - 0.07 * (double)(n % 5);
        n++;
    }
    return (plot_series){
        .shape = aside ? PLOT_RINGS : PLOT_POINTS, .ink = (plot_ink)b, .count = n, .x = x, .y = y};
}

/* Level lines from `low` to `high`, and one end at each. */
static plot_series level(figure *f, double low, double high, double y, plot_shape shape,
                         plot_ink ink)
{
    double *x = plot_columns_add(&f->c, 2), *at = plot_columns_add(&f->c, 2);
    if (f->c.good) {
        x[0] = low;
        x[1] = high;
        at[0] = at[1] = y;
    }
    return (plot_series){.shape = shape, .ink = ink, .count = f->c.good ? 2 : 0, .x = x, .y = at};
}

static plot_series band(figure *f, double low, double high, double y, double half, plot_ink ink)
{
    double *x = plot_columns_add(&f->c, 2), *at = plot_columns_add(&f->c, 2),
           *to = plot_columns_add(&f->c, 2);
    if (f->c.good) {
        x[0] = low;
        x[1] = high;
        at[0] = at[1] = y - half;
        to[0] = to[1] = y + half;
    }
    return (plot_series){
        .shape = PLOT_BAND, .ink = ink, .count = f->c.good ? 2 : 0, .x = x, .y = at, .y_2 = to};
}

/* Above the dots: the mean with its interval, and pale one standard deviation either way. */
static void strip_batch(figure *f, plot_panel *p, plot_series *all, const shots_study *s,
                        const shots_output *o, size_t b)
{
    const double row = (double)(f->batches - b), up = row + 0.2;
    const batch_summary *sum = &o->summary[b];
    const plot_ink ink = (plot_ink)b;
    panel_add(p, all, strip_dots(f, s, o->column, b, row, false));
    panel_add(p, all, strip_dots(f, s, o->column, b, row, true));
    if (!o->count[b] || isnan(sum->sd))
        return;
    panel_add(p, all, band(f, sum->mean - sum->sd, sum->mean + sum->sd, up, 0.11, ink));
    panel_add(p, all, level(f, sum->mean_t.low, sum->mean_t.high, up, PLOT_LINE, ink));
    plot_series mean = level(f, sum->mean, sum->mean, up, PLOT_POINTS, ink);
    mean.count = mean.count ? 1 : 0;
    panel_add(p, all, mean);
}

static void strip(figure *f, const shots_study *s, const shots_output *o)
{
    const caber_measured *m = s->measured;
    const size_t k = f->panel_count++;
    plot_panel *p = &f->panels[k];
    double low = HUGE_VAL, high = -HUGE_VAL;
    snprintf(f->title[k], sizeof f->title[k], "%s%s%s", o->about->label,
             o->about->unit[0] ? ", " : "", o->about->unit);
    for (size_t b = 0; b < f->batches; b++)
        strip_batch(f, p, f->series[k], s, o, b);
    for (size_t b = 0; b < f->batches; b++)
        if (o->count[b]) {
            widen(&low, &high, o->summary[b].least);
            widen(&low, &high, o->summary[b].most);
        }
    /* Intervals of few shots can be many times as wide as these: as far as they lie near. */
    const double least = low, most = high, near = 0.4 * (high - low);
    for (size_t b = 0; b < f->batches; b++)
        if (o->count[b] > 1) {
            widen(&low, &high, fmax(o->summary[b].mean_t.low, least - near));
            widen(&low, &high, fmin(o->summary[b].mean_t.high, most + near));
        }
    /* What is set aside is drawn as far as it lies near; it must not flatten the rest. */
    const double room = high > low ? 0.08 * (high - low) : 1.2;
    for (size_t i = 0; i < m->count; i++) {
        const double v = printed(m, i, o->column);
        if (m->shots[i].set_aside && v > low - 6 * room && v < high + 6 * room)
            widen(&low, &high, v);
    }
    *p = (plot_panel){.title = f->title[k],
                      .x_label = "",
                      .share = 57 + 35 * (double)f->batches,
                      .x_low = low - room,
                      .x_high = high + room,
                      .y_low = 0.4,
                      .y_high = (double)f->batches + 0.55,
                      .row_count = f->batches,
                      .rows = f->rows,
                      .series_count = p->series_count,
                      .series = f->series[k]};
}

static const shots_output *output_named(const shots_study *s, const char *name)
{
    for (size_t i = 0; i < s->output_count; i++)
        if (!strcmp(s->outputs[i].about->name, name))
            return &s->outputs[i];
    return NULL;
}

static bool has_shots(const shots_output *o, size_t batches)
{
    for (size_t b = 0; b < batches; b++)
        if (o->count[b])
            return true;
    return false;
}

static void strips(figure *f, const shots_study *s)
{
    for (size_t i = 0; i < sizeof drawn / sizeof drawn[0] && f->panel_count < STRIPS; i++) {
        const shots_output *o = output_named(s, drawn[i]);
        if (o && has_shots(o, f->batches))
            strip(f, s, o);
    }
    /* None of them: then what there is. */
    for (size_t i = 0; f->panel_count == 0 && i < s->output_count; i++)
        if (has_shots(&s->outputs[i], f->batches))
            strip(f, s, &s->outputs[i]);
}

/* ------------------------------------------------------------------ where balls landed */

static plot_series landings(figure *f, const shots_study *s, size_t b, bool aside)
{
    const caber_measured *m = s->measured;
    const int side = measured_column(m, "side_m"), carry = measured_column(m, "carry_m");
    double *x = plot_columns_add(&f->c, m->count), *y = plot_columns_add(&f->c, m->count);
    size_t n = 0;
    for (size_t i = 0; f->c.good && i < m->count; i++) {
        const caber_measured_shot *shot = &m->shots[i];
        if (shot->batch != b || shot->set_aside != aside || isnan(printed(m, i, side)) ||
            isnan(printed(m, i, carry)))
            continue;
        x[n] = printed(m, i, side);
        y[n++] = printed(m, i, carry);
    }
    return (plot_series){.shape = aside ? PLOT_RINGS : PLOT_POINTS,
                         .ink = (plot_ink)b,
                         .label = aside || !n ? NULL : f->rows[f->batches - 1 - b],
                         .place = LANDING_BALLS,
                         .count = n,
                         .x = x,
                         .y = y};
}

/* The ellipse in which half of the shots land if they are normal: r^2 = 2 ln 2 in standard units, the
 * median of chi-square with 2 degrees of freedom. Along its angle t, with the Cholesky factor of the
 * covariance: x = r sx cos t, y = r (c/sx cos t + sqrt(sy^2 - c^2/sx^2) sin t). */
static plot_series half_of(figure *f, const plot_series *dots)
{
    const double n = (double)dots->count;
    double mx = 0, my = 0, sxx = 0, syy = 0, sxy = 0;
    double *x = plot_columns_add(&f->c, ELLIPSE), *y = plot_columns_add(&f->c, ELLIPSE);
    for (size_t i = 0; i < dots->count; i++) {
        mx += dots->x[i] / n;
        my += dots->y[i] / n;
    }
    for (size_t i = 0; i < dots->count; i++) {
        sxx += pow(dots->x[i] - mx, 2) / (n - 1);
        syy += pow(dots->y[i] - my, 2) / (n - 1);
        sxy += (dots->x[i] - mx) * (dots->y[i] - my) / (n - 1);
    }
    if (!f->c.good || dots->count < 5 || !(sxx > 0))
        return (plot_series){.count = 0};
    const double r = sqrt(2 * log(2)), rest = sqrt(fmax(syy - sxy * sxy / sxx, 0));
    for (size_t i = 0; i < ELLIPSE; i++) {
        const double t = 6.28318530717958647692 * (double)i / (ELLIPSE - 1);
        x[i] = mx + r * sqrt(sxx) * cos(t);
        y[i] = my + r * (sxy / sqrt(sxx) * cos(t) + rest * sin(t));
    }
    return (plot_series){.shape = PLOT_DASHES,
                         .ink = dots->ink,
                         .place = LANDING_50,
                         .count = ELLIPSE,
                         .x = x,
                         .y = y};
}

/* Of whom the shots are is not in their file: a side is measured away from the golfer. */
static void landing(figure *f, const shots_study *s)
{
    if (measured_column(s->measured, "side_m") < 0 || measured_column(s->measured, "carry_m") < 0)
        return;
    plot_panel *p = &f->panels[f->panel_count];
    plot_series *all = f->series[f->panel_count];
    bool ringed = false;
    p->series_count = LANDING_LINES;
    for (size_t b = 0; b < f->batches; b++) {
        const plot_series dots = landings(f, s, b, false);
        plot_series ring = half_of(f, &dots);
        ring.label = ring.count && !ringed ? "50 %" : NULL;
        ringed = ringed || ring.count;
        panel_add(p, all, dots);
        panel_add(p, all, ring);
        panel_add(p, all, landings(f, s, b, true));
    }
    p->x_label = "side, m: away from the golfer, right of the target line for a right-handed one";
    if (landing_plot(p, all, p->series_count, &f->lines, 0))
        f->panel_count++;
}

/* ------------------------------------------------------------------ the figure */

/* Letters beyond which a name would leave too little room for the strip beside it. */
static const size_t longest = 24;

/* The rows are named after the batches, or numbered, and then the names stand over all. */
static void name_batches(figure *f, const caber_measured *m)
{
    bool fit = true;
    int n = snprintf(f->name, sizeof f->name,
                     "Measured shots; over them mean and 95 %% interval, "
                     "pale one standard deviation");
    if (m->batch_count > BATCHES)
        n = snprintf(f->name, sizeof f->name, "The first %d of %zu batches of measured shots",
                     BATCHES, m->batch_count);
    for (size_t b = 0; b < f->batches; b++)
        fit = fit && strlen(m->batches[b].name) <= longest;
    for (size_t b = 0; b < f->batches; b++) {
        snprintf(f->numbers[b], sizeof f->numbers[b], "batch %zu", b + 1);
        f->rows[f->batches - 1 - b] = fit ? m->batches[b].name : f->numbers[b];
        if (!fit)
            n += snprintf(f->name + n, sizeof f->name - (size_t)n, "\nbatch %zu: %s", b + 1,
                          m->batches[b].name);
    }
}

caber_status shots_plot(const shots_study *s, plot_format format, char **text, size_t *size,
                        caber_message *message)
{
    figure *f = calloc(1, sizeof *f);
    *text = NULL;
    if (!f)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    f->c.good = true;
    f->batches = s->measured->batch_count < BATCHES ? s->measured->batch_count : BATCHES;
    name_batches(f, s->measured);
    strips(f, s);
    landing(f, s);
    double height = 20;
    for (size_t i = 0; i < f->panel_count; i++)
        height += f->panels[i].share;
    const plot_figure all = {.title = f->name,
                             .width = 504,
                             .height = height,
                             .panel_count = f->panel_count,
                             .panels = f->panels};
    caber_status status = f->c.good
                              ? plot_draw(&all, format, text, size, message)
                              : message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    plot_columns_free(&f->c);
    free(f);
    return status;
}
