/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/text.h"

#include <ctype.h>
#include <locale.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* strtod and printf obey the thread's locale, which belongs to the program that calls us. */
typedef struct c_locale {
    locale_t plain, before;
} c_locale;

static c_locale c_locale_enter(void)
{
    c_locale l = {newlocale(LC_ALL_MASK, "C", (locale_t)0), (locale_t)0};
    if (l.plain)
        l.before = uselocale(l.plain);
    return l;
}

static void c_locale_leave(c_locale l)
{
    if (!l.plain)
        return;
    uselocale(l.before);
    freelocale(l.plain);
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static const char *skip_digits(const char *s)
{
    while (is_digit(*s))
        s++;
    return s;
}

static text_number number_start_problem(const char *s)
{
    static const char *const words[] = {"nan", ".nan", "inf", ".inf"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (!strncasecmp(s, words[i], strlen(words[i])))
            return TEXT_NUMBER_NOT_FINITE;
    return *s == '.' ? TEXT_NUMBER_POINT : TEXT_NUMBER_NONE;
}

/* Finds the end of the number at s, or says why there is none. */
static text_number number_scan(const char *s, const char **end)
{
    if (*s == '+' || *s == '-')
        s++;
    if (!is_digit(*s) && !(*s == '.' && is_digit(s[1])))
        return number_start_problem(s);
    if (*s == '0' && (s[1] == 'x' || s[1] == 'X') && isxdigit((unsigned char)s[2]))
        return TEXT_NUMBER_HEX;
    s = skip_digits(s);
    if (*s == ',')
        return TEXT_NUMBER_COMMA;
    if (*s == '.') {
        if (!is_digit(s[1]))
            return TEXT_NUMBER_POINT;
        s = skip_digits(s + 1);
    }
    if (*s == ',')
        return TEXT_NUMBER_COMMA;
    if (*s == 'e' || *s == 'E') {
        const char *digits = s + 1 + (s[1] == '+' || s[1] == '-');
        if (is_digit(*digits))
            s = skip_digits(digits);
    }
    *end = s;
    return TEXT_NUMBER_FINE;
}

text_number text_to_double(const char *text, double *out, const char **end)
{
    *out = 0;
    *end = text;
    while (*text == ' ' || *text == '\t')
        text++;
    if (!*text)
        return TEXT_NUMBER_EMPTY;
    const char *stop = text;
    text_number kind = number_scan(text, &stop);
    if (kind != TEXT_NUMBER_FINE)
        return kind;
    c_locale l = c_locale_enter();
    char *read_to = NULL;
    double value = strtod(text, &read_to);
    c_locale_leave(l);
    if (read_to != stop)
        return TEXT_NUMBER_NONE;
    if (!isfinite(value))
        return TEXT_NUMBER_TOO_LARGE;
    *out = value;
    *end = stop;
    return TEXT_NUMBER_FINE;
}

const char *text_number_problem(text_number kind)
{
    switch (kind) {
    case TEXT_NUMBER_FINE:
        return "fine";
    case TEXT_NUMBER_EMPTY:
        return "is empty";
    case TEXT_NUMBER_NONE:
        return "is not a number";
    case TEXT_NUMBER_NOT_FINITE:
        return "is not a finite number";
    case TEXT_NUMBER_HEX:
        return "is hexadecimal; write a decimal number";
    case TEXT_NUMBER_COMMA:
        return "has a comma in its number; use a decimal point";
    case TEXT_NUMBER_POINT:
        return "has no digit behind its decimal point";
    case TEXT_NUMBER_TOO_LARGE:
        return "is too large for a number";
    }
    return "is not a number";
}

void text_from_double(double value, char text[TEXT_NUMBER_SIZE])
{
    c_locale l = c_locale_enter();
    for (int digits = 15; digits <= 17; digits++) {
        snprintf(text, TEXT_NUMBER_SIZE, "%.*g", digits, value);
        if (strtod(text, NULL) == value)
            break;
    }
    c_locale_leave(l);
}

enum { TEN = 10 }; /* digits */

/* Writes ten digits, without zeros at the end, with the point behind the first `whole` of them, which may be
 * 0 or less. Returns the end. */
static char *put_point(uint64_t n, int whole, char *to)
{
    char digits[TEN];
    int count = TEN;
    for (int i = TEN - 1; i >= 0; i--, n /= 10)
        digits[i] = (char)('0' + n % 10);
    while (digits[count - 1] == '0')
        count--;
    if (whole <= 0) {
        *to++ = '0';
        *to++ = '.';
    }
    for (int i = whole; i < 0; i++)
        *to++ = '0';
    for (int i = 0; i < count || i < whole; i++) {
        if (i > 0 && i == whole)
            *to++ = '.';
        *to++ = i < count ? digits[i] : '0';
    }
    *to = '\0';
    return to;
}

char *text_put_ten(double value, char text[TEXT_NUMBER_SIZE])
{
    /* All of them exact, so that a value is rounded once and then to ten digits. */
    static const double power[] = {1,    1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8, 1e9,
                                   1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18};
    const double size = fabs(value);
    if (value != 0 && !(size >= 1e-9 && size < 1e9)) {
        c_locale l = c_locale_enter();
        const int length = snprintf(text, TEXT_NUMBER_SIZE, "%.10g", value);
        c_locale_leave(l);
        return text + length;
    }
    if (value == 0) {
        strcpy(text, "0");
        return text + 1;
    }
    int whole = -8; /* digits in front of the point; the zeros behind it where negative */
    while (size >= (whole < 0 ? 1 / power[-whole] : power[whole]))
        whole++;
    uint64_t n = (uint64_t)llrint(size * power[TEN - whole]);
    if (n == 10000000000) {
        n /= 10;
        whole++;
    }
    *text = '-';
    return put_point(n, whole, text + (value < 0));
}

void text_from_limit(double value, char text[TEXT_NUMBER_SIZE])
{
    c_locale l = c_locale_enter();
    /* A million is easier to read than 1e+06. */
    bool whole = fabs(value) >= 1e6 && fabs(value) < 1e9 && value == round(value);
    snprintf(text, TEXT_NUMBER_SIZE, whole ? "%.0f" : "%.6g", value);
    c_locale_leave(l);
}

const char *text_clip(const char *text, char clipped[TEXT_CLIP_SIZE])
{
    enum { KEEP = 48 };
    size_t length = strnlen(text, KEEP + 1);
    bool cut = length > KEEP;
    if (cut) {
        length = KEEP;
        /* Never end inside a character: step back over its continuation bytes. */
        while (length > 0 && ((unsigned char)text[length] & 0xC0) == 0x80)
            length--;
    }
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        clipped[i] = c < 0x20 || c == 0x7F ? '?' : text[i];
    }
    strcpy(clipped + length, cut ? "..." : "");
    return clipped;
}

/* Length of the valid UTF-8 character at s (RFC 3629), or 0. */
static size_t utf8_length(const unsigned char *s, size_t size)
{
    if (s[0] < 0x80)
        return 1;
    size_t length = s[0] >= 0xC2 && s[0] <= 0xDF   ? 2
                    : s[0] >= 0xE0 && s[0] <= 0xEF ? 3
                    : s[0] >= 0xF0 && s[0] <= 0xF4 ? 4
                                                   : 0;
    if (!length || length > size)
        return 0;
    for (size_t i = 1; i < length; i++)
        if ((s[i] & 0xC0) != 0x80)
            return 0;
    /* Overlong forms, surrogates and what lies beyond U+10FFFF. */
    if ((s[0] == 0xE0 && s[1] < 0xA0) || (s[0] == 0xED && s[1] > 0x9F) ||
        (s[0] == 0xF0 && s[1] < 0x90) || (s[0] == 0xF4 && s[1] > 0x8F))
        return 0;
    return length;
}

size_t text_utf8_end(const char *bytes, size_t size)
{
    const unsigned char *s = (const unsigned char *)bytes;
    size_t at = 0;
    while (at < size) {
        size_t length = utf8_length(s + at, size - at);
        if (!length)
            return at;
        at += length;
    }
    return size;
}

/* Levenshtein's distance, row by row; long words are not worth a suggestion. */
size_t text_distance(const char *a, const char *b, size_t limit)
{
    enum { LONGEST = 40 };
    size_t m = strlen(a), n = strlen(b);
    if (m > LONGEST || n > LONGEST)
        return limit + 1;
    size_t row[LONGEST + 1];
    for (size_t j = 0; j <= n; j++)
        row[j] = j;
    for (size_t i = 1; i <= m; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= n; j++) {
            size_t change = diagonal + (a[i - 1] != b[j - 1]);
            diagonal = row[j];
            size_t shorter = row[j - 1] < row[j] ? row[j - 1] : row[j];
            row[j] = change < shorter + 1 ? change : shorter + 1;
        }
    }
    return row[n] > limit ? limit + 1 : row[n];
}

bool text_ends_with(const char *path, const char *end)
{
    const size_t length = strlen(path), tail = strlen(end);
    return length > tail && strcmp(path + length - tail, end) == 0;
}
