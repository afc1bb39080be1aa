/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Numbers as text, whatever the locale of the calling program, and text for messages. */
#ifndef BASE_TEXT_H
#define BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* Enough for any double written by text_from_double, and for a clipped text. */
enum { TEXT_NUMBER_SIZE = 32, TEXT_CLIP_SIZE = 64 };

typedef enum text_number {
    TEXT_NUMBER_FINE,
    TEXT_NUMBER_EMPTY,      /* nothing, or only blanks */
    TEXT_NUMBER_NONE,       /* does not begin like a number */
    TEXT_NUMBER_NOT_FINITE, /* nan, inf or infinity, spelled out */
    TEXT_NUMBER_HEX,        /* 0x... */
    TEXT_NUMBER_COMMA,      /* a comma right behind a digit */
    TEXT_NUMBER_POINT,      /* a decimal point without a digit behind it */
    TEXT_NUMBER_TOO_LARGE   /* beyond a double */
} text_number;

/* Given text; reads the decimal number it begins with: sign, digits, point, exponent, nothing
 * else. On TEXT_NUMBER_FINE *out is finite and *end is the first byte behind the number. */
text_number text_to_double(const char *text, double *out, const char **end);
/* Given a kind of failure; returns what is wrong, for a message (never NULL). */
const char *text_number_problem(text_number kind);

/* Writes the shortest decimal of 15 to 17 digits that reads back as the same double. */
void text_from_double(double value, char text[TEXT_NUMBER_SIZE]);
/* Writes a finite value with ten significant digits, as "%.10g" does but ten times as fast; where the eleventh
 * digit on is a five and zeros, the tenth may be the other one. Returns the end of the text. */
char *text_put_ten(double value, char text[TEXT_NUMBER_SIZE]);
/* Writes a value for a message, with at most 6 digits (whole millions with all of them). */
void text_from_limit(double value, char text[TEXT_NUMBER_SIZE]);

/* Copies text for a message: at most 48 bytes, whole UTF-8 characters, control characters as '?',
 * "..." behind it when it was cut. Returns `clipped`. */
const char *text_clip(const char *text, char clipped[TEXT_CLIP_SIZE]);

/* Given bytes; returns the offset of the first that is not valid UTF-8, or size when all are. */
size_t text_utf8_end(const char *bytes, size_t size);

/* How many single-letter changes lead from a to b, at most `limit` + 1. */
size_t text_distance(const char *a, const char *b, size_t limit);

/* Whether a path ends with such an ending, ".csv", and has something before it. */
bool text_ends_with(const char *path, const char *end);

#endif
