/* SPDX-License-Identifier: GPL-3.0-or-later */
#define _XOPEN_SOURCE 700 /* tsearch */
#include <math.h>
#include <search.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/study_sheets.h"
#include "base/message.h"
#include "base/running.h"

enum { BLOCK = 2048, NAME_SIZE = 280 };

/* Numbers of one column in one group. */
typedef struct group_column {
    running numbers;
    size_t none;
} group_column;

typedef struct group {
    size_t key_count, cases;
    double *keys;          /* [key_count], in the same block of memory */
    group_column *columns; /* [only_count], likewise */
} group;

typedef struct groups_work {
    study_cases *cases;
    const study_request *request;
    double *keys, *values; /* [by_count][BLOCK], [only_count][BLOCK] */
    double *key;           /* [by_count], of one case */
    study_block block;
    void *tree;     /* of tsearch */
    group **groups; /* [STUDY_GROUPS_MOST] */
    size_t count;
    group *last; /* the one found last: cases of a group often follow each other */
    char (*names)[NAME_SIZE];
    bool *none; /* [only_count]: a case of some group has no number there */
    sheet_column *columns;
    sheet_cell *cells;
} groups_work;

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

static int group_order(const void *a, const void *b)
{
    const group *x = a, *y = b;
    for (size_t k = 0; k < x->key_count; k++)
        if (x->keys[k] != y->keys[k])
            return x->keys[k] < y->keys[k] ? -1 : 1;
    return 0;
}

static int group_order_pointers(const void *a, const void *b)
{
    return group_order(*(group *const *)a, *(group *const *)b);
}

/* ------------------------------------------------------------------ filling */

static group *group_create(const groups_work *w, const double *keys)
{
    const size_t by = w->request->by_count, only = w->request->only_count;
    group *g = calloc(1, sizeof *g + only * sizeof *g->columns + by * sizeof *g->keys);
    if (!g)
        return NULL;
    g->columns = (group_column *)(g + 1);
    g->keys = (double *)(g->columns + only);
    g->key_count = by;
    memcpy(g->keys, keys, by * sizeof *keys);
    return g;
}

static caber_status group_find(groups_work *w, group **out, caber_message *message)
{
    const group wanted = {.key_count = w->request->by_count, .keys = w->key};
    if (w->last && group_order(w->last, &wanted) == 0) {
        *out = w->last;
        return CABER_OK;
    }
    group *const *found = tfind(&wanted, &w->tree, group_order);
    if (!found && w->count == STUDY_GROUPS_MOST)
        return message_set(message, CABER_BAD_INPUT,
                           "--by: that gives more than %d groups; --by is for factors with few "
                           "values, --where chooses among them",
                           STUDY_GROUPS_MOST);
    if (!found) {
        group *g = group_create(w, w->key);
        found = g ? tsearch(g, &w->tree, group_order) : NULL;
        if (!found) {
            free(g);
            return no_memory(message);
        }
        w->groups[w->count++] = g;
    }
    *out = w->last = *found;
    return CABER_OK;
}

static caber_status add_case(groups_work *w, size_t i, caber_message *message)
{
    const study_request *q = w->request;
    for (size_t k = 0; k < q->by_count; k++)
        w->key[k] = w->keys[k * BLOCK + i] + 0.0; /* -0 is 0 */
    group *g = NULL;
    caber_status status = group_find(w, &g, message);
    if (status != CABER_OK)
        return status;
    g->cases++;
    for (size_t k = 0; k < q->only_count; k++) {
        const double value = w->values[k * BLOCK + i];
        if (isnan(value))
            g->columns[k].none++;
        else
            running_add(&g->columns[k].numbers, value);
    }
    return CABER_OK;
}

static caber_status add_block(void *user, caber_message *message)
{
    groups_work *w = user;
    const study_request *q = w->request;
    caber_status status = CABER_OK;
    for (size_t k = 0; k < q->by_count && status == CABER_OK; k++)
        status = study_cases_read(w->cases, &w->block, q->by[k], w->keys + k * BLOCK, message);
    for (size_t k = 0; k < q->only_count && status == CABER_OK; k++)
        status = study_cases_read(w->cases, &w->block, q->only[k], w->values + k * BLOCK, message);
    for (size_t i = 0; i < w->block.count && status == CABER_OK; i++)
        if (w->block.taken[i])
            status = add_case(w, i, message);
    return status;
}

/* ------------------------------------------------------------------ the sheet */

/* A spread is printed a place finer than its mean. */
static int finer(int decimals)
{
    return decimals >= 0 ? decimals + 1 : decimals == -1 ? -1 : SHEET_THREE_DIGITS;
}

static void find_none(const groups_work *w)
{
    for (size_t g = 0; g < w->count; g++)
        for (size_t k = 0; k < w->request->only_count; k++)
            w->none[k] = w->none[k] || w->groups[g]->columns[k].none > 0;
}

static size_t fill_columns(groups_work *w)
{
    const study_request *q = w->request;
    size_t n = 0;
    for (size_t k = 0; k < q->by_count; k++) {
        const study_column *c = q->by[k];
        w->columns[n++] =
            (sheet_column){c->name, c->unit, c->decimals, c->factor && c->factor->words, false};
    }
    w->columns[n++] = (sheet_column){"cases", "", SHEET_WHOLE, false, false};
    for (size_t k = 0; k < q->only_count; k++) {
        const study_column *c = q->only[k];
        const int decimals = c->decimals == SHEET_WHOLE ? SHEET_SIX_DIGITS : c->decimals;
        w->columns[n++] = (sheet_column){c->name, c->unit, decimals, false, false};
        snprintf(w->names[2 * k], NAME_SIZE, "%s.sd", c->name);
        w->columns[n++] = (sheet_column){w->names[2 * k], c->unit, finer(decimals), false, true};
        if (!w->none[k])
            continue;
        snprintf(w->names[2 * k + 1], NAME_SIZE, "%s.none", c->name);
        w->columns[n++] = (sheet_column){w->names[2 * k + 1], "", SHEET_WHOLE, false, true};
    }
    return n;
}

static caber_status add_group(const groups_work *w, const group *g, sheet *s,
                              caber_message *message)
{
    const study_request *q = w->request;
    sheet_cell *cell = w->cells;
    for (size_t k = 0; k < q->by_count; k++)
        *cell++ = (sheet_cell){g->keys[k], study_column_word(q->by[k], g->keys[k])};
    *cell++ = (sheet_cell){(double)g->cases, NULL};
    for (size_t k = 0; k < q->only_count; k++) {
        *cell++ = (sheet_cell){running_mean(&g->columns[k].numbers), NULL};
        *cell++ = (sheet_cell){running_sd(&g->columns[k].numbers), NULL};
        if (w->none[k])
            *cell++ = (sheet_cell){(double)g->columns[k].none, NULL};
    }
    return sheet_add(s, w->cells, message);
}

static caber_status fill_sheet(groups_work *w, sheet **out, caber_message *message)
{
    const study_request *q = w->request;
    qsort(w->groups, w->count, sizeof(group *), group_order_pointers);
    find_none(w);
    const size_t columns = fill_columns(w);
    const sheet_settings settings = {.keys = q->by_count + 1,
                                     .most = STUDY_ROWS_MOST,
                                     .every = 1,
                                     .csv = q->csv,
                                     .json = q->json};
    caber_status status = sheet_create(w->columns, columns, &settings, out, message);
    for (size_t g = 0; g < w->count && status == CABER_OK; g++)
        status = add_group(w, w->groups[g], *out, message);
    return status;
}

/* ------------------------------------------------------------------ all of it */

static caber_status groups_begin(groups_work *w, caber_message *message)
{
    const size_t by = w->request->by_count, only = w->request->only_count;
    const size_t columns = by + 1 + 3 * only;
    w->keys = malloc(by * BLOCK * sizeof *w->keys);
    w->key = malloc(by * sizeof *w->key);
    w->values = malloc((only + 1) * BLOCK * sizeof *w->values);
    w->groups = malloc(STUDY_GROUPS_MOST * sizeof(group *));
    w->names = calloc(2 * only + 1, sizeof *w->names);
    w->none = calloc(only + 1, sizeof *w->none);
    w->columns = calloc(columns, sizeof *w->columns);
    w->cells = calloc(columns, sizeof *w->cells);
    if (!w->keys || !w->key || !w->values || !w->groups || !w->names || !w->none || !w->columns ||
        !w->cells)
        return no_memory(message);
    return study_block_create(&w->block, BLOCK, message);
}

static void groups_end(groups_work *w)
{
    for (size_t g = 0; g < w->count; g++) {
        tdelete(w->groups[g], &w->tree, group_order);
        free(w->groups[g]);
    }
    study_block_free(&w->block);
    free(w->keys);
    free(w->key);
    free(w->values);
    free(w->groups);
    free(w->names);
    free(w->none);
    free(w->columns);
    free(w->cells);
}

caber_status study_groups(study_cases *c, const study_request *request, sheet **out,
                          caber_message *message)
{
    groups_work w = {.cases = c, .request = request};
    *out = NULL;
    caber_status status = groups_begin(&w, message);
    if (status == CABER_OK)
        status = study_cases_each(c, &w.block, add_block, &w, message);
    if (status == CABER_OK)
        status = study_cases_found(c, message);
    if (status == CABER_OK)
        status = fill_sheet(&w, out, message);
    groups_end(&w);
    if (status != CABER_OK) {
        sheet_free(*out);
        *out = NULL;
    }
    return status;
}
