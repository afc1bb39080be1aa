/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Whole files in memory, and paths relative to the file that names them. */
#ifndef FILES_SOURCE_H
#define FILES_SOURCE_H

#include <stddef.h>

#include "caber.h"
#include "files/arena.h"

/* Given a path; returns its bytes with a 0 behind, owned by the arena.
 * Errors: CABER_IO_ERROR (missing, a directory, not readable), CABER_BAD_INPUT (too long). */
caber_status source_read(arena *a, const char *path, const char **text, size_t *size,
                         caber_message *message);

/* Folders below which files may be read: absolute paths without links, dots or a slash at the end. */
typedef struct source_fence {
    size_t count;
    const char *const *folders;
} source_fence;

/* As source_read, of a file that lies below a folder of the fence (NULL: of any file). The way down from
 * the folder is followed name by name: a symbolic link on it, or in the file's place, is refused, so what
 * was checked is what is read. Errors: as well CABER_BAD_INPUT for a path that leads elsewhere. */
caber_status source_read_within(arena *a, const source_fence *fence, const char *path,
                                const char **text, size_t *size, caber_message *message);

/* The same of a file of up to `most` bytes. */
caber_status source_read_most(arena *a, const char *path, size_t most, const char **text,
                              size_t *size, caber_message *message);

/* Given the name of the file in which `path` stands ("" for none); returns the path from the
 * current directory, without "x/.." where that is the same file, or NULL when out of memory. */
const char *source_path(arena *a, const char *named_in, const char *path);

/* Returns whether both paths are the same file on disk. */
bool source_is_same(const char *a, const char *b);

#endif
