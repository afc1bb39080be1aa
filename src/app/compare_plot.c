/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The comparison as a picture: of the outputs that changed most, the differences as multiples of what the
 * player's swings vary by. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/compare.h"
#include "app/outputs.h"
#include "app/plot.h"
#include "base/message.h"

enum { ROWS = 28 };
/* Beyond these, in sd and in per cent, a bar is cut and its number stands behind it: one must not flatten
 * the others. */
static const double farthest = 6, farthest_percent = 20;

static const plot_ink inks[CABER_COMPARE_MOST] = {PLOT_GREY,  PLOT_BLUE,   PLOT_ORANGE,
                                                  PLOT_GREEN, PLOT_VIOLET, PLOT_OLIVE};

/* Everything the figure points to. */
typedef struct sheet {
    size_t row_count, output[ROWS];
    char titles[ROWS][OUTPUTS_TITLE_SIZE], labels[CABER_COMPARE_MOST][GIVEN_NAME_SIZE];
    const char *rows[ROWS];
    double band_x[2], band_low[2], band_high[2];
    double at[CABER_COMPARE_MOST][ROWS], bar[CABER_COMPARE_MOST][ROWS], half[ROWS];
    plot_series series[CABER_COMPARE_MOST + 1];
    plot_note notes[CABER_COMPARE_MOST * ROWS];
    char note_text[CABER_COMPARE_MOST * ROWS][24];
    plot_panel panel;
    char x_label[96];
    char title[2 * GIVEN_NAME_SIZE + 48];
} sheet;

/* Outputs that changed at all and have a number, the most changed on top: rows are numbered from below. */
static void find_rows(sheet *s, const compare_view *view)
{
    size_t found[ROWS], n = 0;
    for (size_t i = 0; i < caber_output_count() && n < ROWS; i++) {
        const size_t output = view->found->order[i];
        double most = 0;
        for (size_t k = 1; k < view->count; k++)
            most = fmax(most, fabs(view->found->outputs[output].times[k]));
        if (most > 0 && isfinite(most))
            found[n++] = output;
    }
    s->row_count = n;
    for (size_t row = 0; row < n; row++) {
        s->output[row] = found[n - 1 - row];
        outputs_title(s->output[row], s->titles[row]);
        s->rows[row] = s->titles[row];
    }
}

/* In sd, or in per cent without them. */
static double length_of(const compare_view *view, size_t output, size_t setup)
{
    const double times = view->found->outputs[output].times[setup];
    return isfinite(times) ? times * (view->found->spread_known ? 1 : 100) : 0;
}

static double cut_at(const compare_view *view)
{
    return view->found->spread_known ? farthest : farthest_percent;
}

/* Its place is found with the ranges. */
static void add_note(sheet *s, double length, double y, plot_ink ink)
{
    plot_note *note = &s->notes[s->panel.note_count];
    char *text = s->note_text[s->panel.note_count++];
    snprintf(text, sizeof s->note_text[0], "%.1f", length);
    *note = (plot_note){.x = length, .y = y, .ink = ink, .text = text};
}

static void fill_bars(sheet *s, const compare_view *view, size_t setup)
{
    const double slot = 0.8 / (double)(view->count - 1), most = cut_at(view);
    for (size_t row = 0; row < s->row_count; row++) {
        const double length = length_of(view, s->output[row], setup);
        s->half[row] = 0.45 * slot;
        s->at[setup][row] = (double)(row + 1) + 0.4 - slot * ((double)setup - 0.5);
        s->bar[setup][row] = fmax(-most, fmin(most, length));
        if (fabs(length) > most)
            add_note(s, length, s->at[setup][row], inks[setup]);
    }
    snprintf(s->labels[setup], sizeof s->labels[setup], "setup %zu", setup + 1);
    s->series[setup] = (plot_series){.shape = PLOT_BARS,
                                     .ink = inks[setup],
                                     .label = view->count > 2 ? s->labels[setup] : NULL,
                                     .count = s->row_count,
                                     .x = s->bar[setup],
                                     .y = s->at[setup],
                                     .y_2 = s->half};
}

/* Behind the bars: a standard deviation either way. */
static void fill_band(sheet *s, const compare_view *view)
{
    s->band_x[0] = -1, s->band_x[1] = 1;
    for (int i = 0; i < 2; i++) {
        s->band_low[i] = 0.4;
        s->band_high[i] = (double)s->row_count + 0.6;
    }
    s->series[0] = (plot_series){.shape = PLOT_BAND,
                                 .ink = PLOT_GREY,
                                 .label = view->found->spread_known ? "two swings in three" : NULL,
                                 .place = 1,
                                 .count = view->found->spread_known ? 2 : 0,
                                 .x = s->band_x,
                                 .y = s->band_low,
                                 .y_2 = s->band_high};
}

/* Room at the sides, more where a number stands behind a bar. */
static void find_ranges(sheet *s, const compare_view *view)
{
    double low = 0, high = 0;
    for (size_t k = 1; k < view->count; k++)
        for (size_t row = 0; row < s->row_count; row++) {
            low = fmin(low, s->bar[k][row]);
            high = fmax(high, s->bar[k][row]);
        }
    if (view->found->spread_known) {
        low = fmin(low, -1.1);
        high = fmax(high, 1.1);
    }
    const double rim = 0.03 * (high - low) + 1e-9, more = 0.14 * (high - low), cut = cut_at(view);
    s->panel.x_low = low - (low <= -cut ? more : rim);
    s->panel.x_high = high + (high >= cut ? more : rim);
    for (size_t i = 0; i < s->panel.note_count; i++)
        s->notes[i].x = s->notes[i].x > 0 ? s->panel.x_high : s->panel.x_low;
}

static void fill_panel(sheet *s, const compare_view *view)
{
    fill_band(s, view);
    for (size_t k = 1; k < view->count; k++)
        fill_bars(s, view, k);
    find_ranges(s, view);
    s->panel.title = "Difference from setup 1";
    const bool known = view->found->spread_known;
    snprintf(s->x_label, sizeof s->x_label, "%s",
             known ? "times what the player's swings vary by (sd)"
                   : "% of the larger of the two values");
    if (s->panel.note_count)
        snprintf(s->x_label + strlen(s->x_label), sizeof s->x_label - strlen(s->x_label),
                 "; bars beyond %.0f are cut", cut_at(view));
    s->panel.x_label = s->x_label;
    s->panel.share = 1;
    s->panel.y_low = 0.4;
    s->panel.y_high = (double)s->row_count + 0.6;
    s->panel.row_count = s->row_count;
    s->panel.rows = s->rows;
    s->panel.series_count = view->count;
    s->panel.series = s->series;
    s->panel.notes = s->notes;
}

caber_status compare_plot(const compare_view *view, plot_format format, char **text, size_t *size,
                          caber_message *message)
{
    sheet *s = calloc(1, sizeof *s);
    *text = NULL;
    if (!s)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    if (view->count == 2)
        snprintf(s->title, sizeof s->title, "%s%cbeside %s", view->names[1],
                 strlen(view->names[0]) + strlen(view->names[1]) > 40 ? '\n' : ' ', view->names[0]);
    else
        snprintf(s->title, sizeof s->title, "%zu setups beside %s", view->count - 1,
                 view->names[0]);
    find_rows(s, view);
    fill_panel(s, view);
    const double row = fmax(16, 9.5 * (double)(view->count - 1));
    const plot_figure figure = {.title = s->title,
                                .width = 504,
                                .height = 90 + row * (double)(s->row_count + 1),
                                .panel_count = 1,
                                .panels = &s->panel};
    const caber_status status = plot_draw(&figure, format, text, size, message);
    free(s);
    return status;
}
