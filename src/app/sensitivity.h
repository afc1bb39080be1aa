/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Which part of the shaft does what, as a text table or as JSON. */
#ifndef APP_SENSITIVITY_H
#define APP_SENSITIVITY_H

#include <jansson.h>

#include "app/app.h"

/* Whether every number of it is one; says which is not. */
bool sensitivity_is_finite(const caber_sensitivity *found);
/* Returns it as JSON, or NULL when a number is none or memory is out. */
json_t *sensitivity_json(const caber_setup *setup, const caber_sensitivity *found);
/* Prints it as the options want it. */
app_exit sensitivity_print(const caber_setup *setup, const caber_sensitivity *found,
                           const options *given);

#endif
