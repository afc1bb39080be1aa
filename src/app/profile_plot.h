/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A profile as a figure: EI and GJ with their bands, and how far each reading is off. */
#ifndef APP_PROFILE_PLOT_H
#define APP_PROFILE_PLOT_H

#include "app/plot.h"

/* Given a fit and its readings; returns its figure as a file, to be freed with free(), and its length in *size.
 * Errors: those of plot_draw. */
caber_status profile_plot(const caber_readings *readings, const caber_fit *fit, plot_format format,
                          char **text, size_t *size, caber_message *message);

#endif
