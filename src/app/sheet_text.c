/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Texts in columns, as wide as a page. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/sheet.h"
#include "app/table.h"
#include "base/text.h"

enum { PAGE = 100, GAP = 2 };

void sheet_number(char text[64], double value, int decimals)
{
    char digits[TEXT_NUMBER_SIZE];
    if (isnan(value)) {
        snprintf(text, 64, "-");
    } else if (decimals == SHEET_SIX_DIGITS) {
        text_from_limit(value + 0.0, digits);
        snprintf(text, 64, "%s", digits);
    } else if (decimals == SHEET_THREE_DIGITS) {
        snprintf(text, 64, "%.3g", value + 0.0);
    } else if (decimals >= -1 && fabs(value) < 1e15) {
        table_number(text, 64, value, value == 0 && decimals < 0 ? 0 : decimals);
    } else {
        snprintf(text, 64, "%.*f", decimals == SHEET_WHOLE && fabs(value) < 1e15 ? 0 : 6, value);
        if (fabs(value) >= 1e15)
            snprintf(text, 64, "%.6g", value);
    }
}

static bool begins_letter(char c)
{
    return ((unsigned char)c & 0xc0) != 0x80;
}

/* Characters of UTF-8. */
static size_t letters(const char *text)
{
    size_t count = 0;
    for (; text && *text; text++)
        count += begins_letter(*text);
    return count;
}

/* Prints at most `room` letters, the last three of them dots when there are more. */
static void put_cut(const char *text, size_t room)
{
    char cut[4 * PAGE + 4];
    size_t size = 0;
    if (letters(text) > room) {
        for (size_t kept = 0; text[size] && size < sizeof cut - 4; size++)
            if (begins_letter(text[size]) && kept++ == room - 3)
                break;
        memcpy(cut, text, size);
        memcpy(cut + size, "...", 4);
        text = cut;
    }
    app_print_text(text);
}

static void put_cell(const char *text, size_t width, bool left, bool last)
{
    const size_t length = letters(text);
    const int blanks = (int)(width > length ? width - length : 0);
    if (!left)
        printf("%*s", blanks, "");
    if (text && length > width)
        put_cut(text, width);
    else if (text)
        app_print_text(text);
    if (left && !last)
        printf("%*s", blanks, "");
}

/* The columns of one of the tables. */
typedef struct texts_block {
    size_t columns[PAGE], count;
} texts_block;

static bool is_empty_from(const char *const *row, const texts_block *b, size_t from)
{
    for (size_t i = from; i < b->count; i++)
        if (row[b->columns[i]] && row[b->columns[i]][0])
            return false;
    return true;
}

static void put_row(const char *const *row, const texts_block *b, const size_t *width,
                    const bool *left)
{
    for (size_t i = 0; i < b->count && !is_empty_from(row, b, i); i++) {
        const size_t c = b->columns[i];
        printf("%*s", GAP, "");
        put_cell(row[c], width[c], left[c], is_empty_from(row, b, i + 1));
    }
    putchar('\n');
}

/* What is to be put on the page. */
typedef struct texts_page {
    size_t count, keys;
    size_t *width;            /* [count] */
    const bool *left, *stays; /* [count] */
} texts_page;

/* The column behind those that stay with `first`, and how wide all of them are. */
static size_t run_end(const texts_page *page, size_t first, size_t *wide)
{
    size_t end = first;
    *wide = 0;
    do
        *wide += GAP + page->width[end++];
    while (end < page->count && page->stays && page->stays[end]);
    return end;
}

/* Fills a block with the keys and as many columns from `next` on as go beside them, but at least one; returns
 * the next one. A last column of words is cut to what is left of the page. */
static size_t block_fill(texts_block *b, size_t next, const texts_page *page)
{
    const size_t least = 12;
    size_t used = 0, wide;
    b->count = 0;
    for (size_t k = 0; k < page->keys && k < PAGE / 4; k++) {
        b->columns[b->count++] = k;
        used += GAP + page->width[k];
    }
    for (const size_t first = next; next < page->count; used += wide) {
        const size_t end = run_end(page, next, &wide);
        const bool last = end == page->count && end == next + 1 && page->left[next];
        if (used + wide > PAGE && last && used + GAP + least <= PAGE) {
            page->width[next] = PAGE - used - GAP;
            wide = PAGE - used;
        }
        if ((used + wide > PAGE && next > first) || b->count + (end - next) > PAGE)
            break;
        while (next < end)
            b->columns[b->count++] = next++;
    }
    return next;
}

void sheet_print_texts(const char *const *cells, size_t rows, size_t count, size_t keys,
                       const bool *left, const bool *stays)
{
    size_t *width = calloc(count + 1, sizeof *width);
    if (!width)
        return;
    for (size_t c = 0; c < count; c++)
        for (size_t r = 0; r < rows; r++) {
            const size_t length = letters(cells[r * count + c]);
            width[c] = length > width[c] ? length : width[c];
        }
    const texts_page page = {count, keys < count ? keys : count, width, left, stays};
    texts_block block;
    size_t next = page.keys;
    bool first = true;
    do {
        next = block_fill(&block, next, &page);
        if (!first)
            putchar('\n');
        first = false;
        for (size_t r = 0; r < rows; r++)
            put_row(cells + r * count, &block, width, left);
    } while (next < count);
    free(width);
}
