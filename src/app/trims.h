/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber bench --trim-table: what cutting the tip of the shaft does to the club and to the player's
 * swing. */
#ifndef APP_TRIMS_H
#define APP_TRIMS_H

#include "app/app.h"

/* Given a setup, a jig and what was asked for; builds and swings the club at every tip trim and prints
 * the table, or JSON. */
app_exit trims_run(const caber_setup *setup, const caber_jig *jig, const options *given);

#endif
