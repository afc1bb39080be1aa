/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a workshop can measure as a figure, along the cut shaft: its stiffness, how a load on the tip bends it,
 * and how the clamped club swings; the frequencies by clamp or tip mass where several were given. */
#ifndef APP_BENCH_PLOT_H
#define APP_BENCH_PLOT_H

#include "app/plot.h"

typedef struct bench_view {
    const caber_setup *setup;
    const caber_jig *jig;
    const caber_bench *bench;              /* of that jig */
    const caber_bench_uncertainty *spread; /* NULL = not known */
    bool frequencies; /* draw the table of frequencies; bench_plot_has_several is true */
} bench_view;

/* Whether the table of frequencies has more than one clamp, or more than one mass on the tip. */
bool bench_plot_has_several(const caber_jig *jig);

/* Given what was measured; returns its figure as a file, to be freed with free(), and its length in *size.
 * Errors: those of plot_draw and caber_bench_run. */
caber_status bench_plot(const bench_view *view, plot_format format, char **bytes, size_t *size,
                        caber_message *message);

#endif
