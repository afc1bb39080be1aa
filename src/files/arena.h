/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Memory that lives as long as one reading: trees share nodes, and an error frees all at once. */
#ifndef FILES_ARENA_H
#define FILES_ARENA_H

#include <stddef.h>

typedef struct arena_block arena_block;

typedef struct arena {
    arena_block *blocks; /* owned; start with {NULL} */
} arena;

/* Returns `size` bytes of zeros that live until arena_free, or NULL when out of memory. */
void *arena_take(arena *a, size_t size);
/* Returns a copy of `length` bytes with a 0 behind, or NULL when out of memory. */
char *arena_text(arena *a, const char *text, size_t length);
void arena_free(arena *a);

#endif
