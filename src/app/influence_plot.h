/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Which factors drive some outputs, as a figure: a panel an output, bars of the factors with their
 * intervals, the one that matters most on top. */
#ifndef APP_INFLUENCE_PLOT_H
#define APP_INFLUENCE_PLOT_H

#include "app/influence_table.h"
#include "app/plot.h"

/* More panels make a page too long to be read: INFLUENCE_PANELS_MOST outputs at most. */
enum { INFLUENCE_PANELS_MOST = 12 };

/* What one panel shows: exactly one of the three is not NULL. Not owned. */
typedef struct influence_panel {
    influence_view view;
    const influence_sobol *sobol;
    const influence_morris *morris;
    const influence_regression *regression;
} influence_panel;

/* Given panels, [count], 1 to INFLUENCE_PANELS_MOST; returns the figure as a file, to be freed with free(), and its
 * length. Errors: those of plot_draw; CABER_BAD_INPUT for another count. */
caber_status influence_plot(const char *title, const influence_panel *panels, size_t count,
                            plot_format format, char **text, size_t *size, caber_message *message);

#endif
