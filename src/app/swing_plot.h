/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One downswing as a figure: strips over its time, of the load on the handle, where the tip is, how it is
 * turned, the energy in the shaft and the speed of the head; and how the shaft lies at three instants. */
#ifndef APP_SWING_PLOT_H
#define APP_SWING_PLOT_H

#include "app/plot.h"

/* s: rows further apart than that are too far for a figure. */
#define SWING_PLOT_SAMPLE 1e-3

/* Given a swing and its trace; returns its figure as a file, to be freed with free(), and its length in
 * *size. Of a trace of more than 2000 rows as many are drawn, evenly spread. Errors: those of plot_draw. */
caber_status swing_plot(const caber_setup *setup, const caber_swing *swing,
                        const caber_trace *trace, plot_format format, char **bytes, size_t *size,
                        caber_message *message);

#endif
