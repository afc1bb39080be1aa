/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "files/arena.h"

#include <stdlib.h>
#include <string.h>

struct arena_block {
    arena_block *next;
    max_align_t bytes[];
};

void *arena_take(arena *a, size_t size)
{
    if (size > (size_t)-1 - sizeof(arena_block))
        return NULL;
    arena_block *block = calloc(1, sizeof *block + size);
    if (!block)
        return NULL;
    block->next = a->blocks;
    a->blocks = block;
    return block->bytes;
}

char *arena_text(arena *a, const char *text, size_t length)
{
    char *copy = arena_take(a, length + 1);
    if (copy)
        memcpy(copy, text, length);
    return copy;
}

void arena_free(arena *a)
{
    while (a->blocks) {
        arena_block *next = a->blocks->next;
        free(a->blocks);
        a->blocks = next;
    }
}
