/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * NAME=VALUE on the command lines of the writers of the tests. */
#ifndef TESTS_COMMAND_WORDS_H
#define TESTS_COMMAND_WORDS_H

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

typedef struct words_number {
    const char *name;
    size_t *number;
} words_number;

/* Ends the word where its value begins, which is returned; NULL for a word without one. */
static inline char *words_split(char *word)
{
    char *value = strchr(word, '=');
    if (value)
        *value++ = '\0';
    return value;
}

/* Sets the number of that name; returns whether there is one. */
static inline bool words_set(const words_number *numbers, size_t count, const char *name,
                             const char *value)
{
    for (size_t i = 0; i < count; i++)
        if (!strcmp(numbers[i].name, name)) {
            *numbers[i].number = (size_t)strtoull(value, NULL, 10);
            return true;
        }
    return false;
}

#endif
