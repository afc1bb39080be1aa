/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * An empty arena for every test of what is built in one. */
#ifndef TESTS_ARENAS_H
#define TESTS_ARENAS_H

#include <stdlib.h>

#include "files/arena.h"

static inline int open_arena(void **state)
{
    *state = calloc(1, sizeof(arena));
    return *state == NULL;
}

static inline int close_arena(void **state)
{
    arena_free(*state);
    free(*state);
    return 0;
}

#endif
