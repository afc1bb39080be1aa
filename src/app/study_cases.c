/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/study_cases.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/sheet.h"
#include "app/study_where.h"
#include "base/message.h"
#include "base/text.h"

/* Decimals of an output as caber prints it, of the straight club too. */
static int decimals_of(const store_column *stored)
{
    static const char straight[] = "straight.";
    const size_t length = sizeof straight - 1;
    const char *name = stored->name;
    if (stored->whole)
        return SHEET_WHOLE;
    const size_t i = caber_output_find(strncmp(name, straight, length) ? name : name + length);
    return i < caber_output_count() ? caber_output_field(i)->decimals : SHEET_SIX_DIGITS;
}

static const study_factor *factor_of(const study_notes *notes, const store_column *stored)
{
    for (size_t k = 0; notes && k < notes->factor_count; k++)
        if (notes->factors[k].column == stored)
            return &notes->factors[k];
    return NULL;
}

static void add_columns(study_cases *c, study_role role, const store_column *stored, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const bool plain = strcmp(stored[i].units, "1") == 0;
        c->columns[c->column_count++] = (study_column){.role = role,
                                                       .stored = &stored[i],
                                                       .name = stored[i].name,
                                                       .unit = plain ? "" : stored[i].units,
                                                       .decimals = decimals_of(&stored[i]),
                                                       .factor = factor_of(c->notes, &stored[i])};
    }
}

/* A file without a design is one that another program of this store made: its columns are there all the same. */
static bool has_plan(const store_study *study)
{
    for (size_t i = 0; i < study->note_count; i++)
        if (strcmp(study->notes[i].name, "design") == 0)
            return true;
    return false;
}

caber_status study_cases_open(study_cases *c, const char *path, const char *const *where,
                              size_t count, caber_message *message)
{
    *c = (study_cases){.path = path, .wanted = 1u << (1 + CABER_OK)};
    caber_status status = store_reader_create(path, &c->reader, message);
    if (status != CABER_OK)
        return status;
    const store_study *s = c->study = store_reader_study(c->reader);
    if (has_plan(s))
        status = study_notes_read(c->reader, path, &c->notes, message);
    if (status != CABER_OK)
        return status;
    c->columns =
        calloc(s->factor_count + s->output_count + s->series_count + 1, sizeof *c->columns);
    c->conditions = calloc(count + 1, sizeof *c->conditions);
    if (!c->columns || !c->conditions)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    add_columns(c, STUDY_COLUMN_FACTOR, s->factors, s->factor_count);
    add_columns(c, STUDY_COLUMN_OUTPUT, s->outputs, s->output_count);
    add_columns(c, STUDY_COLUMN_SERIES, s->series, s->series_count);
    for (size_t i = 0; i < count && status == CABER_OK; i++)
        status = study_where(c, where[i], message);
    return status;
}

void study_cases_free(study_cases *c)
{
    study_notes_free(c->notes);
    store_reader_free(c->reader);
    free(c->columns);
    free(c->conditions);
    *c = (study_cases){0};
}

/* ------------------------------------------------------------------ names and words */

static const char *nearest(const study_cases *c, const char *name)
{
    const char *found = NULL;
    size_t least = 4;
    for (size_t i = 0; i < c->column_count; i++) {
        const size_t distance = text_distance(name, c->columns[i].name, least);
        if (distance < least) {
            least = distance;
            found = c->columns[i].name;
        }
    }
    return found;
}

caber_status study_cases_find(const study_cases *c, const char *name, const study_column **out,
                              caber_message *message)
{
    for (size_t i = 0; i < c->column_count; i++)
        if (strcmp(c->columns[i].name, name) == 0) {
            *out = &c->columns[i];
            return CABER_OK;
        }
    char clip[TEXT_CLIP_SIZE];
    const char *near = nearest(c, name);
    return message_set(message, CABER_BAD_INPUT,
                       "%s: has no column '%s'%s%s%s; 'caber table %s' lists them", c->path,
                       text_clip(name, clip), near ? "; did you mean " : "", near ? near : "",
                       near ? "?" : "", c->path);
}

const char *study_column_word(const study_column *column, double value)
{
    return column->factor ? study_factor_word(column->factor, value) : NULL;
}

/* ------------------------------------------------------------------ blocks */

/* Begins anew with the first case. */
static void rewind_cases(study_cases *c)
{
    c->next = 0;
    c->end = c->study->cases;
    c->counts = (study_counts){0, 0, 0};
    for (size_t i = 0; i < c->condition_count; i++) {
        study_condition *w = &c->conditions[i];
        w->held = false;
        w->below = -INFINITY;
        w->above = INFINITY;
        if (w->column)
            continue;
        /* Only what can hold need be read. */
        if (ceil(w->low) > (double)c->next)
            c->next = w->low < (double)c->end ? (size_t)ceil(w->low) : c->end;
        if (w->high < (double)c->end - 1)
            c->end = w->high < 0 ? 0 : (size_t)floor(w->high) + 1;
    }
    if (c->next > c->end)
        c->next = c->end;
}

caber_status study_block_create(study_block *b, size_t room, caber_message *message)
{
    *b = (study_block){.room = room,
                       .status = malloc(room * sizeof *b->status),
                       .taken = malloc(room * sizeof *b->taken),
                       .scratch = malloc(room * sizeof *b->scratch)};
    return b->status && b->taken && b->scratch
               ? message_clear(message)
               : message_set(message, CABER_NO_MEMORY, "out of memory");
}

void study_block_free(study_block *b)
{
    free(b->status);
    free(b->taken);
    free(b->scratch);
    *b = (study_block){0};
}

caber_status study_cases_read(study_cases *c, const study_block *b, const study_column *column,
                              double *values, caber_message *message)
{
    return store_reader_column(c->reader, column->name, b->first, b->count, values, message);
}

static caber_status hold(study_cases *c, study_block *b, study_condition *w, caber_message *message)
{
    if (!w->column)
        return CABER_OK; /* the range of cases has seen to it */
    caber_status status = study_cases_read(c, b, w->column, b->scratch, message);
    for (size_t i = 0; i < b->count && status == CABER_OK; i++) {
        const double x = b->scratch[i];
        const bool holds = x >= w->low && x <= w->high;
        if (x < w->low)
            w->below = fmax(w->below, x);
        if (x > w->high)
            w->above = fmin(w->above, x);
        w->held = w->held || holds;
        b->taken[i] = b->taken[i] && holds;
    }
    return status;
}

static void count_block(study_cases *c, study_block *b)
{
    b->takes = 0;
    for (size_t i = 0; i < b->count; i++) {
        if (!b->taken[i])
            continue;
        const int status = b->status[i];
        b->taken[i] =
            status >= STORE_NOT_RUN && status < 31 && (c->wanted >> (1 + status) & 1u) != 0;
        b->takes += b->taken[i];
        c->counts.not_run += !b->taken[i] && status == STORE_NOT_RUN;
        c->counts.failed += !b->taken[i] && status != STORE_NOT_RUN && status != CABER_OK;
    }
    c->counts.taken += b->takes;
}

/* Fills the block with the next cases of which at least one is looked at; count is 0 behind the last. */
static caber_status next_block(study_cases *c, study_block *b, caber_message *message)
{
    do {
        const size_t left = c->end - c->next;
        b->first = c->next;
        b->count = left < b->room ? left : b->room;
        b->takes = 0;
        c->next += b->count;
        if (!b->count)
            return message_clear(message);
        caber_status status =
            store_reader_status(c->reader, b->first, b->count, b->status, message);
        for (size_t i = 0; i < b->count; i++)
            b->taken[i] = true;
        for (size_t i = 0; i < c->condition_count && status == CABER_OK; i++)
            status = hold(c, b, &c->conditions[i], message);
        if (status != CABER_OK)
            return status;
        count_block(c, b);
    } while (!b->takes);
    return message_clear(message);
}

caber_status study_cases_each(study_cases *c, study_block *b, study_take *take, void *user,
                              caber_message *message)
{
    rewind_cases(c);
    caber_status status = next_block(c, b, message);
    while (status == CABER_OK && b->count) {
        status = take(user, message);
        if (status == CABER_OK)
            status = next_block(c, b, message);
    }
    return status;
}

/* ------------------------------------------------------------------ what was found */

/* A condition that no case holds to, and what there is instead. */
static caber_status nothing_holds(const study_cases *c, const study_condition *w,
                                  caber_message *message)
{
    char below[64], above[64];
    if (!w->column)
        return message_set(message, CABER_BAD_INPUT, "%s: no case is %s; they are 0 to %zu",
                           c->path, w->text, c->study->cases - 1);
    const bool under = isfinite(w->below), over = isfinite(w->above);
    sheet_number(below, w->below, w->column->decimals);
    sheet_number(above, w->above, w->column->decimals);
    if ((w->column->factor && w->column->factor->words) || !(under || over))
        return message_set(message, CABER_BAD_INPUT, "%s: no case has %s", c->path, w->text);
    return message_set(message, CABER_BAD_INPUT, "%s: no case has %s; the nearest %s %s%s%s%s%s",
                       c->path, w->text, under && over ? "are" : "is", under ? below : "",
                       under && over ? " and " : "", over ? above : "",
                       w->column->unit[0] ? " " : "", w->column->unit);
}

/* Whether no case holds to a condition; of a column that is known when all cases were read. */
static bool holds_never(const study_cases *c, const study_condition *w)
{
    if (w->column)
        return !w->held;
    return w->low > (double)(c->study->cases - 1) || w->high < 0 || ceil(w->low) > floor(w->high);
}

caber_status study_cases_found(const study_cases *c, caber_message *message)
{
    if (c->counts.taken)
        return message_clear(message);
    bool some = false; /* cases were chosen by number, and others not read */
    for (size_t i = 0; i < c->condition_count; i++)
        some = some || !c->conditions[i].column;
    for (size_t i = 0; i < c->condition_count; i++)
        if ((!some || c->condition_count == 1) && holds_never(c, &c->conditions[i]))
            return nothing_holds(c, &c->conditions[i], message);
    if (c->counts.failed + c->counts.not_run && !c->asked_status)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: of the cases that are asked for %zu failed and %zu were not run; "
                           "--where status=all shows them",
                           c->path, c->counts.failed, c->counts.not_run);
    return message_set(message, CABER_BAD_INPUT, "%s: no case is as --where asks%s", c->path,
                       c->condition_count + c->asked_status > 1 ? ", all of it together" : "");
}

void study_cases_print_left(const study_cases *c)
{
    const size_t failed = c->counts.failed, not_run = c->counts.not_run;
    if (c->asked_status || !(failed + not_run))
        return;
    fputs("\nLeft out: ", stdout);
    if (failed)
        printf("%zu case%s that failed (--where status=failed shows why)%s", failed,
               failed == 1 ? "" : "s", not_run ? ", " : ".\n");
    if (not_run)
        printf("%zu that %s not run.\n", not_run, not_run == 1 ? "was" : "were");
}
