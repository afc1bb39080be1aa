/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The panel of where balls land, the same in every figure: seen from above with the target at the top, a
 * metre as long to the side as along the target line. */
#ifndef APP_LANDING_PLOT_H
#define APP_LANDING_PLOT_H

#include "app/plot.h"

/* Series that lie below all others: the edges of the fairway and the target line. */
enum { LANDING_LINES = 3 };

/* Places in the legend, for plot_series.place. */
enum { LANDING_BALLS, LANDING_50, LANDING_90, LANDING_FAIRWAY, LANDING_TARGET };

/* What those series point to; belongs to the caller, as long as the panel. */
typedef struct landing_lines {
    double x[LANDING_LINES][2], y[2];
} landing_lines;

/* Given `count` series, m, of which the first LANDING_LINES are still empty and the others hold x the side
 * and y the carry; fills those, and all of the panel but its x_label. The ranges hold the target line, the
 * fairway and what is drawn, hollow dots only where they lie near the rest. `fairway` is its width in m,
 * 0 = none. The panel's share is the height in points that suits it in a figure of 504 points' width.
 * Returns whether there was anything to draw. */
bool landing_plot(plot_panel *panel, plot_series *series, size_t count, landing_lines *lines,
                  double fairway);

#endif
