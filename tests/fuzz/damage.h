/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Damage to files from fixed seeds, for the tests that read them. */
#ifndef TESTS_FUZZ_DAMAGE_H
#define TESTS_FUZZ_DAMAGE_H

#include <stdlib.h>

#include "check.h"

enum { MOST_BYTES = 1 << 16 };

/* xorshift64 (Marsaglia 2003): the same damage on every machine. */
static inline uint64_t next_random(uint64_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return *state;
}

static inline size_t below(uint64_t *state, size_t limit)
{
    return (size_t)(next_random(state) % limit);
}

/* Pieces that mean something to YAML, to numbers or to the field tables. */
static const char *const damage_pieces[] = {
    "{",
    "}",
    "[",
    "]",
    ": ",
    "- ",
    "\n",
    ",",
    "\"",
    "'",
    "&a ",
    "*a",
    "!t ",
    "---\n",
    "...\n",
    "#",
    "|\n",
    ">-\n",
    "?",
    "%",
    "\t",
    "\x00",
    "\xFF",
    "\xC3\xA9",
    "\xE2\x80\xA8",
    "nan",
    "inf",
    "1e999",
    "-1",
    "0",
    "1e-320",
    " mm",
    " deg",
    "0x1",
    "1,5",
    "gear",
    "motion",
    "locked",
    "torque",
    "file: ",
    "table: ",
    "kind: ",
    "load: ",
    "<<: *a",
    "\xEF\xBB\xBF",
    "99999999999999999999",
    "sections: [{from: 0, to: 1}]",
    "table: {time: [0,1,2,3], value: [0,1,2,3]}",
    "errors: ",
    "none",
    ",,",
    "\r\n",
    "%",
    "cpm",
    "orientation",
};

typedef struct buffer {
    char *bytes;
    size_t size;
} buffer;

static inline void buffer_replace(buffer *b, size_t at, size_t gone, const char *text,
                                  size_t length)
{
    if (at + gone > b->size || b->size - gone + length > MOST_BYTES)
        return;
    memmove(b->bytes + at + length, b->bytes + at + gone, b->size - at - gone);
    memcpy(b->bytes + at, text, length);
    b->size = b->size - gone + length;
}

static inline void damage_once(buffer *b, uint64_t *random)
{
    size_t at = below(random, b->size + 1);
    size_t run = below(random, 24);
    char copy[24], byte = (char)next_random(random);
    const char *piece =
        damage_pieces[below(random, sizeof damage_pieces / sizeof damage_pieces[0])];
    switch (below(random, 9)) {
    case 0: /* another byte */
        buffer_replace(b, at, 1, &byte, 1);
        break;
    case 1: /* one bit */
        if (at < b->size)
            b->bytes[at] = (char)(b->bytes[at] ^ (1 << below(random, 8)));
        break;
    case 2: /* a run less */
        buffer_replace(b, at, run, "", 0);
        break;
    case 3: /* a run twice, somewhere else */
        if (at + run <= b->size) {
            memcpy(copy, b->bytes + at, run);
            buffer_replace(b, below(random, b->size + 1), 0, copy, run);
        }
        break;
    case 4: /* another digit, in the next number: other values, inside their ranges and outside */
    case 5:
    case 6:
        while (at < b->size && (b->bytes[at] < '0' || b->bytes[at] > '9'))
            at++;
        if (at < b->size)
            b->bytes[at] = (char)('0' + below(random, 10));
        break;
    default: /* a piece in between, or in place of a run */
        buffer_replace(b, at, below(random, 2) ? run : 0, piece, piece[0] ? strlen(piece) : 1);
    }
}

static inline buffer whole_file(const char *path)
{
    buffer b = {malloc(MOST_BYTES), 0};
    FILE *in = fopen(path, "rb");
    assert_non_null(b.bytes);
    assert_non_null(in);
    b.size = fread(b.bytes, 1, MOST_BYTES, in);
    fclose(in);
    assert_in_range(b.size, 1, MOST_BYTES - 1);
    return b;
}

#endif
