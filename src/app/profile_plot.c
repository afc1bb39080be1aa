/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/profile_plot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/plot.h"
#include "app/profile.h"
#include "base/message.h"

/* Standard deviations either way that hold 95 % of a normal distribution. */
static const double wide = 1.95996398454005423552;
/* Sigmas beyond which a reading is drawn at the edge, so that one does not flatten the others. */
static const double farthest = 9;
enum { KINDS = CABER_READ_KINDS, NOTES = 6 };

/* ------------------------------------------------------------------ EI and GJ */

/* One stiffness along the shaft. */
typedef struct curve {
    size_t count;
    double *x, *y, *low, *high;
    double most; /* what its panel must reach */
} curve;

static bool is_unseen(const caber_fit *fit, size_t i, bool twist)
{
    return twist ? fit->band[i].twist_unseen : fit->band[i].bend_unseen;
}

/* Where nothing is seen, curve and band may go where they like: they do not flatten the rest. */
static double curve_most(const curve *c, const caber_fit *fit, bool twist)
{
    double seen = 0, all = 0;
    for (size_t i = 0; i < c->count; i++) {
        all = fmax(all, c->y[i]);
        if (!is_unseen(fit, i, twist))
            seen = fmax(seen, fmin(c->high[i], 1.3 * c->y[i]));
    }
    return seen > 0 ? fmax(seen, fmin(all, 1.3 * seen)) : all;
}

static curve curve_of(plot_columns *c, const caber_fit *fit, bool twist)
{
    const size_t n = fit->shaft.station_count;
    curve out = {n,
                 plot_columns_add(c, n),
                 plot_columns_add(c, n),
                 plot_columns_add(c, n),
                 plot_columns_add(c, n),
                 0};
    if (!c->good)
        return out;
    for (size_t i = 0; i < n; i++) {
        const caber_station *s = &fit->shaft.stations[i];
        const double sd = twist ? fit->band[i].gj : fit->band[i].ei;
        out.x[i] = s->at * 1e3;
        out.y[i] = twist ? s->gj : profile_mean_ei(s);
        out.low[i] = out.y[i] * exp(-wide * sd);
        out.high[i] = out.y[i] * exp(wide * sd);
    }
    out.most = curve_most(&out, fit, twist);
    return out;
}

enum { PIECES = 20 };

/* The curve in pieces: broken where no reading sees it. A piece goes on to the first station of the
 * next. Returns how many series there are. */
static size_t add_pieces(plot_series *out, const curve *c, const caber_fit *fit, bool twist,
                         plot_ink ink)
{
    size_t n = 0;
    bool labelled[2] = {false, false};
    for (size_t i = 0; i + 1 < c->count && n < PIECES;) {
        const bool gone = is_unseen(fit, i, twist) || is_unseen(fit, i + 1, twist);
        size_t j = i + 1;
        while (j + 1 < c->count && (n + 1 == PIECES || (is_unseen(fit, j, twist) ||
                                                        is_unseen(fit, j + 1, twist)) == gone))
            j++;
        out[n++] = (plot_series){.shape = gone ? PLOT_DASHES : PLOT_LINE,
                                 .ink = ink,
                                 .label = labelled[gone] ? NULL
                                          : gone         ? "unseen"
                                                         : "fitted",
                                 .count = j - i + 1,
                                 .x = c->x + i,
                                 .y = c->y + i};
        labelled[gone] = true;
        i = j;
    }
    return n;
}

static plot_series band_of(const curve *c, plot_ink ink)
{
    return (plot_series){.shape = PLOT_BAND,
                         .ink = ink,
                         .label = "95 % band",
                         .count = c->count,
                         .x = c->x,
                         .y = c->low,
                         .y_2 = c->high};
}

/* What each span alone would say, with 95 % of its own error. */
static plot_series spans_of(plot_columns *c, const caber_readings *readings, bool left_out,
                            double *most)
{
    const size_t n = readings->count;
    double *x = plot_columns_add(c, n), *y = plot_columns_add(c, n), *bar = plot_columns_add(c, n);
    size_t count = 0;
    for (size_t i = 0; c->good && i < n; i++) {
        const caber_reading *r = &readings->items[i];
        if (r->kind != CABER_READ_SPAN || r->left_out != left_out)
            continue;
        x[count] = r->load_at * 1e3;
        y[count] = profile_apparent_ei(r);
        bar[count] = wide * y[count] * r->sigma / r->value;
        *most = fmax(*most, y[count]);
        count++;
    }
    return (plot_series){.shape = left_out ? PLOT_RINGS : PLOT_POINTS,
                         .ink = PLOT_ORANGE,
                         .label = count == 0 ? NULL
                                  : left_out ? "left out"
                                             : "load·span³/48 deflection",
                         .count = count,
                         .x = x,
                         .y = y,
                         .y_2 = left_out ? NULL : bar};
}

static plot_panel stiffness_panel(const caber_fit *fit, bool twist, const plot_series *series,
                                  size_t count, double most)
{
    return (plot_panel){.title = twist ? "GJ, N m²" : "EI, N m²",
                        .x_label = "from the tip, mm",
                        .share = twist ? 2.6 : 3.4,
                        .x_low = 0,
                        .x_high = fit->shaft.length * 1e3,
                        .y_low = 0,
                        .y_high = 1.06 * most,
                        .series_count = count,
                        .series = series};
}

/* ------------------------------------------------------------------ residuals */

static const struct {
    const char *label;
    plot_ink ink;
} kind_styles[KINDS] = {
    [CABER_READ_SPAN] = {"spans", PLOT_ORANGE},
    [CABER_READ_CANTILEVER] = {"cantilevers", PLOT_BLUE},
    [CABER_READ_FREQUENCY] = {"frequencies", PLOT_GREEN},
    [CABER_READ_TWIST] = {"twists", PLOT_VIOLET},
    [CABER_READ_MASS] = {"mass", PLOT_OLIVE},
    [CABER_READ_BALANCE] = {"balance", PLOT_GREY},
};

static double shown(const caber_fit *fit, size_t i)
{
    return fmax(-farthest, fmin(farthest, fit->residual[i].sigmas));
}

static plot_series kind_series(plot_columns *c, const caber_readings *readings,
                               const caber_fit *fit, int kind, bool left_out)
{
    double *x = plot_columns_add(c, readings->count), *y = plot_columns_add(c, readings->count);
    size_t count = 0;
    for (size_t i = 0; c->good && i < readings->count; i++) {
        const caber_reading *r = &readings->items[i];
        if ((int)r->kind != kind || r->left_out != left_out)
            continue;
        x[count] = (double)(i + 1);
        y[count++] = shown(fit, i);
    }
    return (plot_series){.shape = left_out ? PLOT_RINGS : PLOT_POINTS,
                         .ink = kind_styles[kind].ink,
                         .label = count && !left_out ? kind_styles[kind].label : NULL,
                         .count = count,
                         .x = x,
                         .y = y};
}

/* The levels that residuals are judged by: how many series. */
static size_t add_levels(plot_series *out, plot_columns *c, const caber_readings *readings)
{
    double *x = plot_columns_add(c, 2), *inner = plot_columns_add(c, 4),
           *outer = plot_columns_add(c, 4);
    if (!c->good)
        return 0;
    x[1] = (double)readings->count + 1;
    for (int i = 0; i < 4; i++) {
        inner[i] = i < 2 ? -2 : 2;
        outer[i] = i < 2 ? -PROFILE_OUTLIER : PROFILE_OUTLIER;
    }
    out[0] = (plot_series){.shape = PLOT_BAND,
                           .ink = PLOT_GREY,
                           .label = "19 in 20",
                           .count = 2,
                           .x = x,
                           .y = inner,
                           .y_2 = inner + 2};
    for (int i = 0; i < 2; i++)
        out[1 + i] = (plot_series){
            .shape = PLOT_DASHES, .ink = PLOT_GREY, .count = 2, .x = x, .y = outer + 2 * i};
    return 3;
}

/* Texts of the notes beside readings that are far off. */
typedef struct notes {
    size_t count;
    plot_note item[NOTES];
    char text[NOTES][2 * CABER_NAME_SIZE + 40];
} notes;

static void notes_fill(notes *out, const caber_readings *readings, const caber_fit *fit)
{
    out->count = 0;
    for (size_t i = 0; i < readings->count && out->count < NOTES; i++) {
        const caber_reading *r = &readings->items[i];
        if (fabs(fit->residual[i].sigmas) <= PROFILE_OUTLIER)
            continue;
        char title[2 * CABER_NAME_SIZE];
        profile_reading_title(r, title, sizeof title);
        char *text = out->text[out->count];
        snprintf(text, sizeof out->text[0], "%s%s: %+.1f", title, r->left_out ? ", left out" : "",
                 fit->residual[i].sigmas);
        out->item[out->count++] = (plot_note){.x = (double)(i + 1),
                                              .y = shown(fit, i),
                                              .ink = kind_styles[r->kind].ink,
                                              .text = text};
    }
}

static double residual_range(const caber_readings *readings, const caber_fit *fit)
{
    double most = PROFILE_OUTLIER + 0.6;
    for (size_t i = 0; i < readings->count; i++)
        most = fmax(most, fabs(shown(fit, i)) + 0.8);
    return most;
}

/* ------------------------------------------------------------------ the figure */

/* Everything the figure points to. */
typedef struct sheet {
    plot_series bend[PIECES + 3], twist[PIECES + 1], off[3 + 2 * KINDS];
    notes notes;
    plot_panel panels[3];
} sheet;

static void fill_stiffness(sheet *s, plot_columns *c, const caber_readings *readings,
                           const caber_fit *fit)
{
    const curve ei = curve_of(c, fit, false), gj = curve_of(c, fit, true);
    double most = ei.most;
    if (!c->good)
        return;
    s->bend[0] = band_of(&ei, PLOT_BLUE);
    size_t n = 1 + add_pieces(s->bend + 1, &ei, fit, false, PLOT_BLUE);
    s->bend[n++] = spans_of(c, readings, false, &most);
    s->bend[n++] = spans_of(c, readings, true, &most);
    s->panels[0] = stiffness_panel(fit, false, s->bend, n, most);
    s->twist[0] = band_of(&gj, PLOT_VIOLET);
    n = 1 + add_pieces(s->twist + 1, &gj, fit, true, PLOT_VIOLET);
    s->panels[1] = stiffness_panel(fit, true, s->twist, n, gj.most);
}

static void fill_residuals(sheet *s, plot_columns *c, const caber_readings *readings,
                           const caber_fit *fit)
{
    size_t n = add_levels(s->off, c, readings);
    for (int kind = 0; kind < KINDS; kind++)
        for (int left_out = 0; left_out < 2; left_out++)
            s->off[n++] = kind_series(c, readings, fit, kind, left_out);
    notes_fill(&s->notes, readings, fit);
    const double range = residual_range(readings, fit);
    s->panels[2] = (plot_panel){.title = "Off by, σ",
                                .x_label = "reading, in the order of the files",
                                .share = 2.6,
                                .x_low = 0,
                                .x_high = (double)readings->count + 1,
                                .y_low = -range,
                                .y_high = range,
                                .series_count = n,
                                .series = s->off,
                                .note_count = s->notes.count,
                                .notes = s->notes.item};
}

caber_status profile_plot(const caber_readings *readings, const caber_fit *fit, plot_format format,
                          char **text, size_t *size, caber_message *message)
{
    plot_columns c = {.good = true};
    sheet *s = calloc(1, sizeof *s);
    *text = NULL;
    if (s) {
        fill_stiffness(s, &c, readings, fit);
        fill_residuals(s, &c, readings, fit);
    }
    caber_status status;
    if (s && c.good) {
        const plot_figure figure = {.title = readings->name,
                                    .width = 504,
                                    .height = 640,
                                    .panel_count = 3,
                                    .panels = s->panels};
        status = plot_draw(&figure, format, text, size, message);
    } else {
        status = message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    }
    plot_columns_free(&c);
    free(s);
    return status;
}
