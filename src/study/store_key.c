/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Whether a study can be kept, and whether two are the same. */
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "study/store_chunk.h"

/* Names of datasets that every file has. */
static const char *const store_own[] = {"case", "chunk", "chunk_crc32", "reason", "status"};

/* Names of attributes of the root that every file has. */
static const char *const store_own_notes[] = {"chunk_cases", "factors", "identity",    "outputs",
                                              "program",     "series",  "series_grid", "shard",
                                              "shards",      "version"};

/* The most bytes of one chunk; a record says its size in 32 bits. */
static const double store_chunk_limit = 1 << 30;

static bool store_name_is_fine(const char *name)
{
    if (!name || !isalpha((unsigned char)*name) || strlen(name) >= CABER_NAME_SIZE)
        return false;
    for (const char *c = name; *c; c++)
        if (!isalnum((unsigned char)*c) && !strchr("_.-", *c))
            return false;
    return true;
}

static bool store_text_is_fine(const char *text)
{
    return text && text[text_utf8_end(text, strlen(text))] == '\0';
}

static bool store_name_is_one_of(const char *name, const char *const *names, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(name, names[i]) == 0)
            return true;
    return false;
}

bool store_note_name_is_fine(const char *name)
{
    return store_name_is_fine(name) &&
           !store_name_is_one_of(name, store_own_notes,
                                 sizeof store_own_notes / sizeof *store_own_notes);
}

static caber_status store_column_check(const store_column *column, const char **names,
                                       size_t *count, caber_message *message)
{
    char clip[TEXT_CLIP_SIZE];
    const char *name = column->name ? column->name : "";
    if (!store_name_is_fine(name) ||
        store_name_is_one_of(name, store_own, sizeof store_own / sizeof *store_own))
        return message_set(message, CABER_BAD_INPUT,
                           "'%s' cannot name a dataset: a letter, then letters, digits, '_', '.' "
                           "or '-', and none of the names that every file has",
                           text_clip(name, clip));
    if (store_name_is_one_of(name, names, *count))
        return message_set(message, CABER_BAD_INPUT, "'%s' names two datasets", name);
    if (!store_text_is_fine(column->units) || !store_text_is_fine(column->long_name))
        return message_set(message, CABER_BAD_INPUT, "%s: unit and meaning must be there, in UTF-8",
                           name);
    if (!isfinite(column->factor) || column->factor == 0)
        return message_set(message, CABER_BAD_INPUT, "%s: its factor is no number, or 0", name);
    names[(*count)++] = name;
    return message_clear(message);
}

static caber_status store_grid_check(const store_study *s, caber_message *message)
{
    if (!s->grid.count || !s->grid.at)
        return message_set(message, CABER_BAD_INPUT, "the series have no grid");
    for (size_t i = 0; i < s->grid.count; i++)
        if (!isfinite(s->grid.at[i]) || (i && s->grid.at[i] <= s->grid.at[i - 1]))
            return message_set(message, CABER_BAD_INPUT, "the grid of the series does not ascend");
    for (size_t i = 0; i < s->series_count; i++)
        if (s->series[i].whole)
            return message_set(message, CABER_BAD_INPUT, "%s: a series cannot be a count",
                               s->series[i].name);
    return message_clear(message);
}

static caber_status store_columns_check(const store_study *s, caber_message *message)
{
    const char *names[STORE_COLUMN_LIMIT + 1];
    size_t count = 0;
    const size_t columns = store_column_count(s);
    caber_status status = message_clear(message);
    for (size_t i = 0; i < columns && status == CABER_OK; i++)
        status = store_column_check(store_column_at(s, i), names, &count, message);
    for (size_t i = 0; i < s->series_count && status == CABER_OK; i++)
        status = store_column_check(&s->series[i], names, &count, message);
    if (status == CABER_OK && s->series_count) {
        status = store_column_check(&s->grid.column, names, &count, message);
        if (status == CABER_OK)
            status = store_grid_check(s, message);
    }
    return status;
}

static caber_status store_notes_check(const store_study *s, caber_message *message)
{
    for (size_t i = 0; i < s->note_count; i++) {
        const store_note *note = &s->notes[i];
        bool fine = store_note_name_is_fine(note->name);
        for (size_t j = 0; j < i && fine; j++)
            fine = strcmp(note->name, s->notes[j].name) != 0;
        if (!fine)
            return message_set(message, CABER_BAD_INPUT, "note %zu cannot have the name it has", i);
        fine = !note->text || store_text_is_fine(note->text);
        if (!note->text && note->texts) {
            fine = note->count && note->count < STORE_COLUMN_LIMIT;
            for (size_t j = 0; j < note->count && fine; j++)
                fine = store_text_is_fine(note->texts[j]);
        }
        if (!fine)
            return message_set(message, CABER_BAD_INPUT, "%s: no text in UTF-8", note->name);
    }
    return message_clear(message);
}

/* Guards every later product of sizes against overflow. */
static caber_status store_sizes_check(const store_study *s, caber_message *message)
{
    if (!s->cases || !s->chunk_cases || (double)s->cases / (double)s->chunk_cases >= INT32_MAX)
        return message_set(message, CABER_BAD_INPUT,
                           "%zu cases in chunks of %zu cannot be kept in a file", s->cases,
                           s->chunk_cases);
    if (!s->shards || s->shard < 1 || s->shard > s->shards || s->shards > INT32_MAX)
        return message_set(message, CABER_BAD_INPUT, "there is no shard %zu of %zu", s->shard,
                           s->shards);
    if (s->factor_count > STORE_COLUMN_LIMIT || s->output_count > STORE_COLUMN_LIMIT ||
        s->series_count > STORE_COLUMN_LIMIT ||
        s->factor_count + s->output_count + s->series_count > STORE_COLUMN_LIMIT)
        return message_set(message, CABER_BAD_INPUT, "more than %d factors, outputs and series",
                           STORE_COLUMN_LIMIT);
    const double numbers =
        (double)store_column_count(s) + (double)s->series_count * (double)s->grid.count;
    const size_t cases = s->chunk_cases < s->cases ? s->chunk_cases : s->cases;
    if ((double)cases * (8 * numbers + 1 + STORE_REASON_SIZE) > store_chunk_limit)
        return message_set(message, CABER_BAD_INPUT,
                           "chunks of %zu cases would be larger than 1 GiB", cases);
    return message_clear(message);
}

caber_status store_study_check(const store_study *s, caber_message *message)
{
    caber_status status = store_sizes_check(s, message);
    if (status != CABER_OK)
        return status;
    if (!store_text_is_fine(s->identity) || !store_text_is_fine(s->version))
        return message_set(message, CABER_BAD_INPUT,
                           "a study needs its identity and version, in UTF-8");
    status = store_columns_check(s, message);
    return status == CABER_OK ? store_notes_check(s, message) : status;
}

/* ------------------------------------------------------------------ the same study or not */

static void store_key_column(FILE *out, const char *kind, const store_column *column)
{
    fprintf(out, "%s: %s [%s]%s\n", kind, column->name, column->units,
            column->whole ? ", a count" : "");
}

static void store_key_lines(FILE *out, const store_study *s, bool with_shard)
{
    const size_t length = strlen(s->identity);
    fprintf(out, "version: %s\n%s%s", s->version, s->identity,
            length && s->identity[length - 1] != '\n' ? "\n" : "");
    fprintf(out, "cases: %zu\ncases a chunk: %zu\n", s->cases, s->chunk_cases);
    for (size_t i = 0; i < s->factor_count; i++)
        store_key_column(out, "factor", &s->factors[i]);
    for (size_t i = 0; i < s->output_count; i++)
        store_key_column(out, "output", &s->outputs[i]);
    for (size_t i = 0; i < s->series_count; i++)
        store_key_column(out, "series", &s->series[i]);
    if (s->series_count) {
        store_key_column(out, "grid", &s->grid.column);
        for (size_t i = 0; i < s->grid.count; i++) {
            char number[TEXT_NUMBER_SIZE];
            text_from_double(s->grid.at[i] * s->grid.column.factor, number);
            fprintf(out, "grid point: %s\n", number);
        }
    }
    if (with_shard)
        fprintf(out, "shard: %zu of %zu\n", s->shard, s->shards);
}

char *store_key(const store_study *study, bool with_shard)
{
    char *key = NULL;
    size_t size;
    FILE *out = open_memstream(&key, &size);
    if (!out)
        return NULL;
    store_key_lines(out, study, with_shard);
    const bool failed = ferror(out) != 0;
    if (fclose(out) == 0 && !failed)
        return key;
    free(key);
    return NULL;
}

/* The line that begins at `line`, without blanks around it, cut to what fits in a message. */
static void store_key_line(const char *line, char *text, size_t size)
{
    line += strspn(line, " ");
    size_t length = strcspn(line, "\n");
    if (length >= size) {
        length = size - 1;
        while (length && ((unsigned char)line[length] & 0xc0) == 0x80)
            length--;
    }
    memcpy(text, line, length);
    text[length] = '\0';
}

static size_t store_key_count(const char *text, const char *end)
{
    size_t lines = 0;
    for (; text < end; text++)
        lines += *text == '\n';
    return lines;
}

/* Where two texts, alike up to `a` and `b`, are alike again to their ends: at whole lines. */
static void store_key_tails(const char *a, const char *b, const char **end_a, const char **end_b)
{
    const char *x = a + strlen(a), *y = b + strlen(b);
    *end_a = x;
    *end_b = y;
    while (x > a && y > b && x[-1] == y[-1]) {
        x--;
        y--;
        if (*x == '\n') {
            *end_a = x + 1;
            *end_b = y + 1;
        }
    }
    if ((x == a || x[-1] == '\n') && (y == b || y[-1] == '\n')) {
        *end_a = x;
        *end_b = y;
    }
}

/* Where a line of `text` stands: the keys of the lines that it is indented under, "setup.shaft". */
static void store_key_place(const char *text, const char *line, char *place, size_t size)
{
    size_t indent = strspn(line, " "), used = 0;
    place[0] = '\0';
    while (indent && line > text) {
        line--;
        while (line > text && line[-1] != '\n')
            line--;
        const size_t above = strspn(line, " ");
        if (above >= indent)
            continue;
        indent = above;
        /* It goes before what is there, as the walk leads outwards. */
        const size_t length = strcspn(line + above, ":\n"), more = length + (used > 0);
        if (used + more + 1 > size)
            return;
        memmove(place + more, place, used + 1);
        memcpy(place, line + above, length);
        if (used)
            place[length] = '.';
        used += more;
    }
}

void store_key_difference(const char *there, const char *now, char *text, size_t size)
{
    size_t begin = 0;
    for (size_t i = 0; there[i] && there[i] == now[i]; i++)
        if (there[i] == '\n')
            begin = i + 1;
    const char *a = there + begin, *b = now + begin, *end_a, *end_b;
    store_key_tails(a, b, &end_a, &end_b);
    char was[200], is[200];
    store_key_line(a, was, sizeof was);
    store_key_line(b, is, sizeof is);
    const size_t more_a = store_key_count(a, end_a), more_b = store_key_count(b, end_b);
    const size_t more = more_a > more_b ? more_a : more_b;
    int used;
    if (end_a == a)
        used = snprintf(text, size, "'%s' is new", is);
    else if (end_b == b)
        used = snprintf(text, size, "'%s' is there and not in this one", was);
    else
        used = snprintf(text, size, "'%s' there, '%s' in this one", was, is);
    char place[160], first[64] = "";
    store_key_place(end_a == a ? now : there, end_a == a ? b : a, place, sizeof place);
    if (more > 1)
        snprintf(first, sizeof first, "%sthe first of %zu lines", place[0] ? "; " : "", more);
    if ((place[0] || first[0]) && used > 0 && (size_t)used < size)
        snprintf(text + used, size - (size_t)used, " (%s%s)", place, first);
}
