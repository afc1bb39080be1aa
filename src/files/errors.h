/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The errors of a shaft's profile: rows of component, station and three shares, in a CSV file or,
 * where a file is to stand alone, as lists. */
#ifndef FILES_ERRORS_H
#define FILES_ERRORS_H

#include <stdio.h>

#include "files/decode.h"

/* Reads the node of a FIELD_ERRORS into the shaft `object`, whose stations have been read. */
caber_status errors_decode(decoding *d, const field *f, const node *n, void *object);

/* Writes them as lists, `indent` blanks in, each value so that it reads back to the same bits. */
void errors_encode(FILE *out, const field *f, const caber_shaft *shaft, int indent);
/* Writes them as a CSV, likewise. */
void errors_write_csv(FILE *out, const field *f, const caber_shaft *shaft);

#endif
