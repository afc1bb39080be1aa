/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * "path=value" from the command line, to be set on a tree before it is read. */
#ifndef FILES_OVERRIDE_H
#define FILES_OVERRIDE_H

#include "files/node.h"

/* The parts of an override; all belong to the arena or to the text given. */
typedef struct override_text {
    char *path;
    const char *value;
    const char *origin; /* "--set path", as it stands in messages */
} override_text;

/* Errors: CABER_BAD_INPUT when it is not of that form, or not UTF-8. */
caber_status override_split(arena *a, const char *text, override_text *out, caber_message *message);

#endif
