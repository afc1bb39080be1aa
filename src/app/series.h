/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The swing through time as a file: CSV or HDF5, by the end of the file's name. */
#ifndef APP_SERIES_H
#define APP_SERIES_H

#include "app/app.h"

/* Given the path of --series; says what is wrong with it, before anything is computed. Returns
 * APP_FINE or APP_BAD_USAGE. */
app_exit series_check_path(const app_command *command, const char *path);

/* Whether every value of a trace is a number that must be one; says the first that is not. */
bool series_is_finite(const caber_trace *trace);

/* Given such a trace and the setup it belongs to (setup_path: its file); writes the series under `path`.
 * An existing file is replaced only once the new one is complete. Says what goes wrong. */
app_exit series_write(const char *path, const caber_trace *trace, const caber_setup *setup,
                      const char *setup_path, const options *given);

#endif
