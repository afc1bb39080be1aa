/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A struct as YAML, through a field table. */
#ifndef FILES_ENCODE_H
#define FILES_ENCODE_H

#include <stdio.h>

#include "swing/fields_table.h"

/* Writes the fields of `object`, one key a line, `indent` blanks in. What is not used and not
 * allowed, what is empty and what is left open is left out. Values read back to the same bits. */
void encode_group(FILE *out, const field_group *group, const void *object, int indent);

#endif
