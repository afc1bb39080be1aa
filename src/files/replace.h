/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Whole files: read at once, or written so that a failure leaves the old file as it was. */
#ifndef FILES_REPLACE_H
#define FILES_REPLACE_H

#include "caber.h"

/* Given the path of a file; returns its bytes with a 0 after them, to be freed with free(). */
caber_status replace_read(const char *path, char **text, size_t *size, caber_message *message);

/* Given bytes; puts them under `path`: written beside it under another name, then renamed. */
caber_status replace_write(const char *path, const void *bytes, size_t size,
                           caber_message *message);

#endif
