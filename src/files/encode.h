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

/* Writes a text in quotes, as YAML. */
void encode_text(FILE *out, const char *text);
/* Writes a text, which is UTF-8, as lines of comment. */
void encode_comment(FILE *out, const char *text);

#endif
