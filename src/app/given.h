/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What scatter, compare, shots and report are given alike: setups, and files to write. */
#ifndef APP_GIVEN_H
#define APP_GIVEN_H

#include <jansson.h>

#include "app/app.h"
#include "app/plot.h"
#include "base/units.h"

enum { GIVEN_NAME_SIZE = CABER_NAME_SIZE + 24 };

/* Finds the name of a file without its folder and its ending: *length letters at *stem, within the path. */
void given_stem(const char *path, const char **stem, size_t *length);
/* Writes what to call setup `at`: its name, and its place behind it when an earlier one has that name. */
void given_name(const caber_setup *const *setups, size_t at, char name[GIVEN_NAME_SIZE]);
/* Reads the setups that the operands name, every --set applied to each, into setups[operand_count],
 * which are to be freed whatever is returned; and what to call them, different from each other. */
app_exit given_setups(const options *given, caber_setup **setups, char (*names)[GIVEN_NAME_SIZE]);
/* Prints of each its number, name, shaft, head and player. */
void given_print_setups(const caber_setup *const *setups, const char (*names)[GIVEN_NAME_SIZE],
                        size_t count);
/* Whether all of them have a player of one name. */
bool given_same_player(const caber_setup *const *setups, size_t count);
/* Adds how many of the draws failed, if any did, of `whose` setup ("" = the only one); that the players differ,
 * if they do. */
void given_note_draws(json_t *notes, const char *whose, const caber_draws *draws);
void given_note_players(json_t *notes, const caber_setup *const *setups, size_t count);
/* Says what is wrong with --plot before anything is computed: an ending that is neither .svg nor .png, or
 * nothing here that draws it. */
app_exit given_check_plot(const options *given);
/* What --plot asks for. */
plot_format given_plot_format(const options *given);
/* Says what is wrong with the names of --csv and --plot. */
app_exit given_check_files(const options *given);
/* Writes what --csv and --plot ask for, once both are made; a text that was not asked for is NULL.
 * Errors: CABER_IO_ERROR. */
caber_status given_write_files(const options *given, const char *csv, size_t csv_size,
                               const char *plot, size_t plot_size, caber_message *message);
/* Reads --keep, what setups have in common; what was not given stays. */
app_exit given_keep(const options *given, caber_keep *keep);
/* Reads --swings, --seed and --threads; what was not given stays. */
app_exit given_swings(const options *given, int *swings, int *seed, int *threads);
/* Reads a quantity into *si, which stays when none was given. `name` is the option's. */
app_exit given_quantity(const options *given, option_id id, const char *name, dimension what,
                        double *si);

#endif
