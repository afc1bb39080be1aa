/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdlib.h>
#include <string.h>

#include "app/study_sheets.h"
#include "base/message.h"

enum { NAME_SIZE = 256 };

/* How many names a list can have. */
static size_t list_count(const char *list)
{
    size_t count = list != NULL;
    for (; list && *list; list++)
        count += *list == ',';
    return count;
}

/* Takes the next name off *list; false behind its last. */
static bool list_next(const char **list, char name[NAME_SIZE])
{
    if (!*list)
        return false;
    const size_t length = strcspn(*list, ","), kept = length < NAME_SIZE ? length : NAME_SIZE - 1;
    memcpy(name, *list, kept);
    name[kept] = '\0';
    *list = (*list)[length] ? *list + length + 1 : NULL;
    return true;
}

static caber_status add_name(const study_cases *c, const char *option, const char *name,
                             const study_column **columns, size_t *count, caber_message *message)
{
    const study_column *column;
    caber_status status = study_cases_find(c, name, &column, message);
    if (status != CABER_OK)
        return status;
    for (size_t i = 0; i < *count; i++)
        if (columns[i] == column)
            return message_set(message, CABER_BAD_INPUT, "%s: '%s' is given twice", option, name);
    columns[(*count)++] = column;
    return CABER_OK;
}

static caber_status read_only(const study_cases *c, const char *list, study_request *out,
                              caber_message *message)
{
    char name[NAME_SIZE];
    caber_status status = CABER_OK;
    while (status == CABER_OK && list_next(&list, name)) {
        if (strcmp(name, "status") == 0)
            out->status = true;
        else if (strcmp(name, "reason") == 0)
            out->reason = true;
        else if (strcmp(name, "case") != 0)
            status = add_name(c, "--only", name, out->only, &out->only_count, message);
    }
    return status;
}

static caber_status read_by(const study_cases *c, const char *list, study_request *out,
                            caber_message *message)
{
    char name[NAME_SIZE];
    caber_status status = CABER_OK;
    while (status == CABER_OK && list_next(&list, name)) {
        status = add_name(c, "--by", name, out->by, &out->by_count, message);
        if (status == CABER_OK && out->by[out->by_count - 1]->role != STUDY_COLUMN_FACTOR)
            status = message_set(message, CABER_BAD_INPUT, "--by: '%s' is no factor", name);
    }
    return status;
}

bool study_request_along(const study_request *request)
{
    return request->only_count > 0 && request->only[0]->role == STUDY_COLUMN_SERIES;
}

/* Series stand along their grid, all else along the cases. */
static caber_status check_together(const study_request *q, caber_message *message)
{
    size_t series = 0;
    for (size_t i = 0; i < q->only_count; i++)
        series += q->only[i]->role == STUDY_COLUMN_SERIES;
    if (series && (series < q->only_count || q->status || q->reason))
        return message_set(message, CABER_BAD_INPUT,
                           "--only: series and columns of cases do not go into one table");
    if (q->by_count && (q->status || q->reason))
        return message_set(
            message, CABER_BAD_INPUT,
            "--only: a group has no status and no reason; --where status=... chooses");
    if (series && q->by_count)
        return message_set(message, CABER_BAD_INPUT,
                           "--by: does not go with series; --where chooses whose mean is taken");
    return CABER_OK;
}

/* When none was named: of groups all outputs, else the factors as well. */
static void take_all(const study_cases *c, study_request *out)
{
    for (size_t i = 0; i < c->column_count; i++)
        if (c->columns[i].role == STUDY_COLUMN_OUTPUT ||
            (c->columns[i].role == STUDY_COLUMN_FACTOR && !out->by_count))
            out->only[out->only_count++] = &c->columns[i];
}

caber_status study_request_read(const study_cases *c, const char *only, const char *by,
                                study_request *out, caber_message *message)
{
    *out =
        (study_request){.only = calloc(list_count(only) + c->column_count + 1, sizeof *out->only),
                        .by = calloc(list_count(by) + 1, sizeof *out->by)};
    if (!out->only || !out->by)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    caber_status status = read_only(c, only, out, message);
    if (status == CABER_OK)
        status = read_by(c, by, out, message);
    if (status == CABER_OK && !only)
        take_all(c, out);
    return status == CABER_OK ? check_together(out, message) : status;
}

void study_request_free(study_request *request)
{
    free(request->only);
    free(request->by);
    *request = (study_request){0};
}
