/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/study_sheets.h"
#include "base/message.h"
#include "base/running.h"

/* Numbers that are read at once, 8 bytes each. */
static const size_t block_numbers = 1 << 18;
enum { NAME_SIZE = 280 };

typedef struct along_work {
    study_cases *cases;
    const study_request *request;
    size_t points;
    double *values;   /* [room of the block][points] */
    running *numbers; /* [only_count][points] */
    study_block block;
    char (*names)[NAME_SIZE];
    sheet_column *columns;
    sheet_cell *cells;
} along_work;

static caber_status along_begin(along_work *w, caber_message *message)
{
    const size_t only = w->request->only_count, room = block_numbers / w->points + 1;
    w->values = malloc(room * w->points * sizeof *w->values);
    w->numbers = calloc(only * w->points, sizeof *w->numbers);
    w->names = calloc(only, sizeof *w->names);
    w->columns = calloc(2 * only + 2, sizeof *w->columns);
    w->cells = calloc(2 * only + 2, sizeof *w->cells);
    if (!w->values || !w->numbers || !w->names || !w->columns || !w->cells)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    return study_block_create(&w->block, room, message);
}

static void along_end(along_work *w)
{
    study_block_free(&w->block);
    free(w->values);
    free(w->numbers);
    free(w->names);
    free(w->columns);
    free(w->cells);
}

/* Only the rows from the first to the last case that is looked at are read. */
static caber_status add_series(along_work *w, size_t series, caber_message *message)
{
    const study_block *b = &w->block;
    size_t from = 0, to = b->count;
    while (!b->taken[from])
        from++;
    while (!b->taken[to - 1])
        to--;
    caber_status status = store_reader_series(w->cases->reader, w->request->only[series]->name,
                                              b->first + from, to - from, w->values, message);
    running *numbers = w->numbers + series * w->points;
    for (size_t i = from; i < to && status == CABER_OK; i++)
        for (size_t p = 0; p < w->points && b->taken[i]; p++) {
            const double value = w->values[(i - from) * w->points + p];
            if (!isnan(value))
                running_add(&numbers[p], value);
        }
    return status;
}

static caber_status add_block(void *user, caber_message *message)
{
    along_work *w = user;
    caber_status status = CABER_OK;
    for (size_t k = 0; k < w->request->only_count && status == CABER_OK; k++)
        status = add_series(w, k, message);
    return status;
}

/* ------------------------------------------------------------------ the sheet */

static size_t fill_columns(along_work *w, bool single)
{
    const study_request *q = w->request;
    const store_column *grid = &w->cases->study->grid.column;
    size_t n = 0;
    w->columns[n++] = (sheet_column){grid->name, strcmp(grid->units, "1") ? grid->units : "",
                                     SHEET_SIX_DIGITS, false, false};
    if (!single)
        w->columns[n++] = (sheet_column){"cases", "", SHEET_WHOLE, false, false};
    for (size_t k = 0; k < q->only_count; k++) {
        const study_column *c = q->only[k];
        w->columns[n++] = (sheet_column){c->name, c->unit, SHEET_SIX_DIGITS, false, false};
        if (single)
            continue;
        snprintf(w->names[k], NAME_SIZE, "%s.sd", c->name);
        w->columns[n++] = (sheet_column){w->names[k], c->unit, SHEET_THREE_DIGITS, false, true};
    }
    return n;
}

static caber_status add_place(const along_work *w, size_t p, bool single, sheet *s,
                              caber_message *message)
{
    sheet_cell *cell = w->cells;
    *cell++ = (sheet_cell){w->cases->study->grid.at[p], NULL};
    if (!single)
        *cell++ = (sheet_cell){w->numbers[p].count, NULL};
    for (size_t k = 0; k < w->request->only_count; k++) {
        const running *numbers = &w->numbers[k * w->points + p];
        *cell++ = (sheet_cell){running_mean(numbers), NULL};
        if (!single)
            *cell++ = (sheet_cell){running_sd(numbers), NULL};
    }
    return sheet_add(s, w->cells, message);
}

/* Places up to the last one where a series goes on. */
static size_t places(const along_work *w)
{
    size_t last = 0;
    for (size_t i = 0; i < w->request->only_count * w->points; i++)
        if (w->numbers[i].count > 0 && i % w->points >= last)
            last = i % w->points + 1;
    return last;
}

static caber_status fill_sheet(along_work *w, sheet **out, caber_message *message)
{
    const bool single = w->cases->counts.taken == 1;
    const size_t columns = fill_columns(w, single), some = places(w);
    const size_t every =
        some > STUDY_ROWS_MOST ? (some + STUDY_ROWS_MOST - 1) / STUDY_ROWS_MOST : 1;
    const sheet_settings settings = {.keys = single ? 1 : 2,
                                     .most = (some + every - 1) / every,
                                     .every = every,
                                     .csv = w->request->csv,
                                     .json = w->request->json};
    caber_status status = sheet_create(w->columns, columns, &settings, out, message);
    for (size_t p = 0; p < w->points && status == CABER_OK; p++)
        status = add_place(w, p, single, *out, message);
    return status;
}

caber_status study_along(study_cases *c, const study_request *request, sheet **out,
                         caber_message *message)
{
    along_work w = {.cases = c, .request = request, .points = c->study->grid.count};
    *out = NULL;
    caber_status status = along_begin(&w, message);
    if (status == CABER_OK)
        status = study_cases_each(c, &w.block, add_block, &w, message);
    if (status == CABER_OK)
        status = study_cases_found(c, message);
    if (status == CABER_OK)
        status = fill_sheet(&w, out, message);
    along_end(&w);
    if (status != CABER_OK) {
        sheet_free(*out);
        *out = NULL;
    }
    return status;
}
