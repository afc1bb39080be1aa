/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How sure the figures are: what swing and bench share of --uncertainty. "+-" in a text is one standard
 * deviation. */
#ifndef APP_UNCERTAINTY_H
#define APP_UNCERTAINTY_H

#include <jansson.h>

#include "app/app.h"

/* Given what was written on a command line; says what makes no sense with --uncertainty or without. */
app_exit uncertainty_check(const options *given);
/* Reads its options into *settings. */
app_exit uncertainty_read(const options *given, caber_uncertainty_settings *settings);

/* Writes " +- 0.12": "<0.01" where it is below the last place; nothing where the draws do not
 * move the value at all. */
void uncertainty_text(char *text, size_t size, double sd, int decimals);
/* Prints what a "+-" is, what it covers, and how many draws failed. */
void uncertainty_print_intro(const caber_draws *draws, const caber_uncertainty_settings *settings);
/* Says on standard error that draws failed, if any did. */
void uncertainty_say_failures(const caber_draws *draws);

/* One number with its spread, in the printed unit. */
typedef struct uncertainty_figure {
    const char *label, *unit;
    int decimals;
    double value, sd, mean, low, high;
} uncertainty_figure;

/* Prints a line for a figure whose draws lean to one side: whose mean is off its value by more than a
 * third of the standard deviation, and reads otherwise. *said is whether such lines have their title already. */
void uncertainty_print_lean(const uncertainty_figure *figure, bool *said);

/* Returns {draws, failed, seed} and, when some failed, first_failed and failure; more is to be set. */
json_t *uncertainty_json(const caber_draws *draws, const caber_uncertainty_settings *settings);

/* Returns what caber swing --uncertainty has found as JSON, NULL when a number is none. */
json_t *uncertainty_swing_json(const caber_setup *setup, const caber_uncertainty *found,
                               const caber_uncertainty_settings *settings);
/* Prints what caber swing --uncertainty has found as the options want it. */
app_exit uncertainty_print(const caber_setup *setup, const caber_uncertainty *found,
                           const caber_uncertainty_settings *settings, const options *given);

#endif
