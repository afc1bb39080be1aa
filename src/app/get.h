/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * --get NAME,...: single values for shell scripts, on one line, separated by blanks. */
#ifndef APP_GET_H
#define APP_GET_H

#include "app/app.h"

/* Given whatever holds the values and a name; writes the value in its printed unit and returns
 * whether there is such a name. */
typedef bool get_lookup(const void *context, const char *name, double *value);

/* Says which of the names does not exist; returns APP_FINE or APP_BAD_USAGE. */
app_exit get_check(const app_command *command, const char *names, get_lookup *lookup,
                   const void *context);
/* Prints the values of names that get_check has passed. */
app_exit get_print(const char *names, get_lookup *lookup, const void *context);

/* Returns whether `name` is among the names. */
bool get_names(const char *names, const char *name);

#endif
