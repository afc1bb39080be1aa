/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Measured shots as a figure: strips of dots with means and their intervals, and where balls landed. */
#ifndef APP_SHOTS_PLOT_H
#define APP_SHOTS_PLOT_H

#include "app/plot.h"
#include "app/shots.h"

/* Given a study; returns its figure as a file, to be freed with free(), and its length in *size. */
caber_status shots_plot(const shots_study *study, plot_format format, char **text, size_t *size,
                        caber_message *message);

#endif
