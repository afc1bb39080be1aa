/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/study_sheets.h"
#include "app/study_where.h"
#include "base/message.h"

enum { BLOCK = 2048 };

/* Everything the rows are made with. */
typedef struct rows_work {
    study_cases *cases;
    const study_request *request;
    bool status, reason;
    size_t count;          /* of columns of the sheet */
    sheet_column *columns; /* [count] */
    sheet_cell *cells;     /* [count] */
    double *values;        /* [only_count][BLOCK] */
    study_block block;
    sheet *sheet;
} rows_work;

static void add_column(rows_work *w, const char *name, const char *unit, int decimals, bool words)
{
    w->columns[w->count++] = (sheet_column){name, unit, decimals, words, false};
}

static caber_status rows_begin(rows_work *w, caber_message *message)
{
    const study_request *q = w->request;
    w->status = q->status || w->cases->asked_status;
    w->reason = q->reason || w->cases->asked_status;
    w->columns = calloc(q->only_count + 3, sizeof *w->columns);
    w->cells = calloc(q->only_count + 3, sizeof *w->cells);
    w->values = malloc((q->only_count + 1) * BLOCK * sizeof *w->values);
    if (!w->columns || !w->cells || !w->values)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    add_column(w, "case", "", SHEET_WHOLE, false);
    if (w->status)
        add_column(w, "status", "", SHEET_WHOLE, true);
    for (size_t i = 0; i < q->only_count; i++) {
        const study_column *c = q->only[i];
        add_column(w, c->name, c->unit, c->decimals, c->factor && c->factor->words);
    }
    if (w->reason)
        add_column(w, "reason", "", SHEET_WHOLE, true);
    const sheet_settings settings = {.keys = 1,
                                     .most = STUDY_ROWS_MOST,
                                     .every = 1,
                                     .notes = w->reason,
                                     .csv = q->csv,
                                     .json = q->json};
    caber_status status = study_block_create(&w->block, BLOCK, message);
    return status == CABER_OK ? sheet_create(w->columns, w->count, &settings, &w->sheet, message)
                              : status;
}

static caber_status add_row(rows_work *w, size_t i, caber_message *message)
{
    const study_request *q = w->request;
    char reason[STORE_REASON_SIZE] = "";
    sheet_cell *cell = w->cells;
    *cell++ = (sheet_cell){(double)(w->block.first + i), NULL};
    if (w->status)
        *cell++ = (sheet_cell){NAN, store_status_word(w->block.status[i])};
    for (size_t k = 0; k < q->only_count; k++) {
        const double value = w->values[k * BLOCK + i];
        *cell++ = (sheet_cell){value, study_column_word(q->only[k], value)};
    }
    caber_status status = CABER_OK;
    if (w->reason && w->block.status[i] != CABER_OK)
        status = store_reader_reason(w->cases->reader, w->block.first + i, reason, message);
    if (w->reason)
        *cell++ = (sheet_cell){NAN, reason};
    return status == CABER_OK ? sheet_add(w->sheet, w->cells, message) : status;
}

/* Whether a row more makes a difference. */
static bool wants_rows(const rows_work *w)
{
    return w->request->csv || w->request->json || sheet_rows(w->sheet) < STUDY_ROWS_MOST;
}

static caber_status add_block(void *user, caber_message *message)
{
    rows_work *w = user;
    caber_status status = CABER_OK;
    if (!wants_rows(w))
        return CABER_OK;
    for (size_t k = 0; k < w->request->only_count && status == CABER_OK; k++)
        status = study_cases_read(w->cases, &w->block, w->request->only[k], w->values + k * BLOCK,
                                  message);
    for (size_t i = 0; i < w->block.count && status == CABER_OK; i++)
        if (w->block.taken[i] && wants_rows(w))
            status = add_row(w, i, message);
    return status;
}

static void rows_end(rows_work *w)
{
    study_block_free(&w->block);
    free(w->columns);
    free(w->cells);
    free(w->values);
}

caber_status study_rows(study_cases *c, const study_request *request, sheet **out,
                        caber_message *message)
{
    rows_work w = {.cases = c, .request = request};
    *out = NULL;
    caber_status status = rows_begin(&w, message);
    if (status == CABER_OK)
        status = study_cases_each(c, &w.block, add_block, &w, message);
    if (status == CABER_OK)
        status = study_cases_found(c, message);
    rows_end(&w);
    if (status == CABER_OK)
        *out = w.sheet;
    else
        sheet_free(w.sheet);
    return status;
}
