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

/* A file that is written bit by bit, and stands under its path only once it is whole. */
typedef struct replace_file replace_file;

/* Given a path; returns a file to be ended with replace_end, whose stream is to be written to. Errors:
 * CABER_IO_ERROR, CABER_NO_MEMORY; then there is none. */
caber_status replace_begin(const char *path, replace_file **out, caber_message *message);
FILE *replace_stream(const replace_file *file);
/* Whether a write has failed; called right after one, the message of replace_end says why it did. */
bool replace_failed(replace_file *file);
/* Puts what was written under the path when `keep` is set, else drops it; frees the file either way, and
 * NULL is allowed. Errors: CABER_IO_ERROR; the old file is as it was. */
caber_status replace_end(replace_file *file, bool keep, caber_message *message);

#endif
