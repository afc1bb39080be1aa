/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/landing_plot.h"

#include <math.h>

/* Points: how wide the axes are, about, and how high they may be with what stands around them. */
static const double width = 440, around = 62, lowest = 170, highest = 400;

static void widen(double value, double *low, double *high)
{
    *low = fmin(*low, value);
    *high = fmax(*high, value);
}

static void hold(plot_panel *p, const plot_series *s)
{
    for (size_t i = 0; i < s->count; i++) {
        widen(s->x[i], &p->x_low, &p->x_high);
        widen(s->y[i], &p->y_low, &p->y_high);
    }
}

/* A ball that is set aside must not flatten the others: it may widen the ranges by a quarter. */
static void hold_near(plot_panel *p, const plot_series *s)
{
    const double x = 0.25 * (p->x_high - p->x_low), y = 0.25 * (p->y_high - p->y_low);
    const plot_panel all = *p;
    for (size_t i = 0; i < s->count; i++)
        if (s->x[i] > all.x_low - x && s->x[i] < all.x_high + x && s->y[i] > all.y_low - y &&
            s->y[i] < all.y_high + y) {
            widen(s->x[i], &p->x_low, &p->x_high);
            widen(s->y[i], &p->y_low, &p->y_high);
        }
}

static bool find_ranges(plot_panel *p, const plot_series *series, size_t count, double fairway)
{
    p->x_low = -fairway / 2;
    p->x_high = fairway / 2;
    p->y_low = HUGE_VAL;
    p->y_high = -HUGE_VAL;
    for (size_t i = LANDING_LINES; i < count; i++)
        if (series[i].shape != PLOT_RINGS)
            hold(p, &series[i]);
    if (!(p->y_high >= p->y_low))
        return false;
    for (size_t i = LANDING_LINES; i < count; i++)
        if (series[i].shape == PLOT_RINGS)
            hold_near(p, &series[i]);
    const double rim = fmax(0.04 * fmax(p->x_high - p->x_low, p->y_high - p->y_low), 2);
    p->x_low -= rim, p->x_high += rim;
    p->y_low -= rim, p->y_high += rim;
    return true;
}

/* They run over the whole panel, whatever is made of its ranges. */
static void draw_lines(plot_series *series, landing_lines *lines, const plot_panel *p,
                       double fairway)
{
    const double more = fmax(p->y_high - p->y_low, p->x_high - p->x_low) * width / lowest;
    lines->y[0] = p->y_low - more;
    lines->y[1] = p->y_high + more;
    for (int i = 0; i < LANDING_LINES; i++) {
        const bool target = i == LANDING_LINES - 1;
        lines->x[i][0] = lines->x[i][1] = target ? 0 : (i - 0.5) * fairway;
        series[i] = (plot_series){.shape = target ? PLOT_DASHES : PLOT_LINE,
                                  .ink = target ? PLOT_GREY : PLOT_GREEN,
                                  .place = target ? LANDING_TARGET : LANDING_FAIRWAY,
                                  .count = target || fairway > 0 ? 2 : 0,
                                  .x = lines->x[i],
                                  .y = lines->y};
    }
    series[0].label = fairway > 0 ? "fairway" : NULL;
    series[LANDING_LINES - 1].label = "target line";
}

bool landing_plot(plot_panel *panel, plot_series *series, size_t count, landing_lines *lines,
                  double fairway)
{
    if (!find_ranges(panel, series, count, fairway))
        return false;
    draw_lines(series, lines, panel, fairway);
    const double tall = (panel->y_high - panel->y_low) / (panel->x_high - panel->x_low);
    panel->title = "Carry, m";
    panel->share = fmax(lowest, fmin(around + tall * width, highest));
    panel->equal = true;
    panel->series_count = count;
    panel->series = series;
    return true;
}
