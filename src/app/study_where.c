/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/study_where.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "app/sheet.h"
#include "base/message.h"
#include "base/text.h"
#include "base/units.h"

enum { VALUE_SIZE = 512 };

/* One condition as it is read. */
typedef struct where_reading {
    const char *text; /* all of it */
    char name[VALUE_SIZE];
    const char *value;
    caber_message *message;
} where_reading;

static caber_status refuse(const where_reading *r, const char *why)
{
    return message_set(r->message, CABER_BAD_INPUT, "--where %s: %s", r->text, why);
}

/* ------------------------------------------------------------------ status */

static caber_status read_status(study_cases *c, const where_reading *r)
{
    const unsigned ok = 1u << (1 + CABER_OK), not_run = 1u << (1 + STORE_NOT_RUN);
    unsigned mask = 0;
    if (strcmp(r->value, "all") == 0)
        mask = ~0u;
    else if (strcmp(r->value, "failed") == 0)
        mask = ~(ok | not_run);
    for (int status = STORE_NOT_RUN; status < STORE_STATUSES; status++)
        if (strcmp(r->value, store_status_word(status)) == 0)
            mask = 1u << (1 + status);
    if (!mask)
        return refuse(r,
                      "status is all, ok, failed, not_run, or one of the failures: bad_input, "
                      "ball_not_reached, shaft_wrapped, no_equilibrium, not_converged, internal");
    c->wanted = c->asked_status ? c->wanted & mask : mask;
    c->asked_status = true;
    return CABER_OK;
}

/* ------------------------------------------------------------------ words and files */

/* Whether a file of a list is meant: its path, its last part, or that without the ending. */
static bool is_file(const char *path, const char *text)
{
    const char *slash = strrchr(path, '/'), *last = slash ? slash + 1 : path;
    const char *dot = strrchr(last, '.');
    const size_t stem = dot ? (size_t)(dot - last) : strlen(last);
    return strcmp(path, text) == 0 || strcmp(last, text) == 0 ||
           (strlen(text) == stem && strncmp(last, text, stem) == 0);
}

static caber_status no_word(const where_reading *r, const study_factor *f)
{
    char list[600] = "";
    size_t used = 0, named = 0;
    for (size_t i = 0; i < f->word_count && used + 100 < sizeof list; i++) {
        if (!f->words[i][0])
            continue;
        const int n =
            snprintf(list + used, sizeof list - used, "%s%s", named++ ? ", " : "", f->words[i]);
        used += n > 0 ? (size_t)n : 0;
    }
    return message_set(r->message, CABER_BAD_INPUT, "--where %s: %s is one of: %s", r->text,
                       f->name, list);
}

static caber_status read_word(const where_reading *r, const study_factor *f, study_condition *w)
{
    size_t found = 0;
    for (size_t i = 0; i < f->word_count; i++) {
        const bool file = f->kind == STUDY_CHOICE;
        if (!f->words[i][0] ||
            !(file ? is_file(f->words[i], r->value) : strcmp(f->words[i], r->value) == 0))
            continue;
        found++;
        w->low = w->high = (double)i;
    }
    if (found > 1)
        return refuse(r, "several files are called so; write the whole path");
    return found ? CABER_OK : no_word(r, f);
}

/* ------------------------------------------------------------------ numbers */

static bool is_plain(const char *text)
{
    double x;
    const char *end;
    return text_to_double(text, &x, &end) == TEXT_NUMBER_FINE && end[strspn(end, " ")] == '\0';
}

/* What stands behind the number of a text, "" for nothing. */
static const char *unit_behind(const char *text)
{
    double x;
    const char *end;
    if (text_to_double(text, &x, &end) != TEXT_NUMBER_FINE)
        return "";
    return end + strspn(end, " ");
}

/* Reads a number in a unit that the closed table does not have, such as "N m/s". */
static caber_status read_odd_unit(const where_reading *r, const char *text, const char *symbol,
                                  double *value)
{
    char why[200];
    const char *end;
    if (text_to_double(text, value, &end) == TEXT_NUMBER_FINE &&
        strcmp(unit_behind(text), symbol) == 0)
        return CABER_OK;
    snprintf(why, sizeof why, "a number in %s is wanted", symbol);
    return refuse(r, why);
}

/* Reads a number into the column's unit; a plain one is in `symbol`, "" = the column's. */
static caber_status read_number(const where_reading *r, const study_column *column,
                                const char *text, const char *symbol, double *value)
{
    char full[2 * VALUE_SIZE];
    caber_message problem = {""};
    const char *end;
    if (is_plain(text)) {
        if (!symbol[0]) {
            text_to_double(text, value, &end);
            return CABER_OK;
        }
        snprintf(full, sizeof full, "%s %s", text, symbol);
        text = full;
    }
    const unit *own = unit_find(column->unit, DIMENSION_NONE);
    if (column->unit[0] && !own)
        return read_odd_unit(r, text, column->unit, value);
    double si;
    if (quantity_parse(text, own ? own->dim : DIMENSION_NONE, &si, &problem) != CABER_OK)
        return refuse(r, problem.text);
    *value = own ? unit_from_si(own, si) : si;
    return CABER_OK;
}

/* As wide as what a table shows. */
static void widen(const study_column *column, study_condition *w)
{
    if (column->decimals == SHEET_WHOLE)
        return;
    w->low -= 5e-6 * fabs(w->low) + 1e-12;
    w->high += 5e-6 * fabs(w->high) + 1e-12;
}

static caber_status read_range(const where_reading *r, const study_column *column,
                               study_condition *w)
{
    const char *dots = strstr(r->value, "..");
    caber_status status = CABER_OK;
    if (!dots) {
        status = read_number(r, column, r->value, "", &w->low);
        w->high = w->low;
    } else {
        char low[VALUE_SIZE];
        const char *high = dots + 2;
        snprintf(low, sizeof low, "%.*s", (int)(dots - r->value), r->value);
        if (!low[0] && !high[0])
            return refuse(r, "a range has a LOW or a HIGH");
        w->low = -INFINITY;
        w->high = INFINITY;
        if (low[0])
            status = read_number(r, column, low, unit_behind(high), &w->low);
        if (status == CABER_OK && high[0])
            status = read_number(r, column, high, "", &w->high);
    }
    if (status == CABER_OK && w->low > w->high)
        return refuse(r, "LOW is above HIGH");
    if (status == CABER_OK)
        widen(column, w);
    return status;
}

/* ------------------------------------------------------------------ one condition */

static caber_status split(where_reading *r)
{
    const char *equals = strchr(r->text, '=');
    const size_t length = equals ? (size_t)(equals - r->text) : 0;
    if (!length || length >= sizeof r->name || !equals[1] || strlen(equals) > VALUE_SIZE)
        return refuse(r, "NAME=VALUE or NAME=LOW..HIGH is wanted");
    memcpy(r->name, r->text, length);
    r->name[length] = '\0';
    r->value = equals + 1;
    return CABER_OK;
}

caber_status study_where(study_cases *c, const char *text, caber_message *message)
{
    static const study_column of_case = {.name = "case", .unit = "", .decimals = SHEET_WHOLE};
    where_reading r = {.text = text, .message = message};
    caber_status status = split(&r);
    if (status == CABER_OK && strcmp(r.name, "status") == 0)
        return read_status(c, &r);
    if (status != CABER_OK)
        return status;
    study_condition w = {.text = text};
    if (strcmp(r.name, "case") == 0) {
        status = read_range(&r, &of_case, &w);
    } else {
        status = study_cases_find(c, r.name, &w.column, message);
        if (status != CABER_OK)
            return status;
        if (w.column->role == STUDY_COLUMN_SERIES)
            return refuse(&r, "a series has many values a case, and selects none");
        const study_factor *f = w.column->factor;
        status = f && f->words ? read_word(&r, f, &w) : read_range(&r, w.column, &w);
    }
    if (status == CABER_OK)
        c->conditions[c->condition_count++] = w;
    return status;
}
