/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A profile as a figure: EI and GJ with their bands, and how far each reading is off. */
#ifndef APP_PROFILE_PLOT_H
#define APP_PROFILE_PLOT_H

#include "caber.h"

/* Given a fit and its readings; returns an SVG, to be freed with free(), and its length in *size.
 * Errors: those of plot_svg. */
caber_status profile_plot(const caber_readings *readings, const caber_fit *fit, char **text,
                          size_t *size, caber_message *message);

#endif
