/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every swing as a row: its setup and number, what the habits were, and all outputs. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/csv_text.h"
#include "app/scatter.h"
#include "base/message.h"

/* "%" is no part of a name. */
static const char *unit_suffix(const char *symbol)
{
    return strcmp(symbol, "%") == 0 ? "percent" : symbol;
}

static void write_head(FILE *out)
{
    const size_t outputs = caber_output_count();
    fputs("setup,shot", out);
    for (int k = 0; k < CABER_HABITS; k++) {
        const caber_habit_note habit = caber_habit_about((caber_habit)k);
        fprintf(out, ",habit_%s_%s", habit.name, unit_suffix(habit.unit));
    }
    for (size_t i = 0; i < outputs; i++)
        fprintf(out, ",%s", caber_output_field(i)->name);
    fputs("\n,", out);
    for (int k = 0; k < CABER_HABITS; k++)
        fprintf(out, ",%s", caber_habit_about((caber_habit)k).unit);
    for (size_t i = 0; i < outputs; i++)
        fprintf(out, ",%s", caber_output_field(i)->unit);
    fputc('\n', out);
}

/* Of a swing that failed only the habits are known: its other cells stay empty. */
static void write_row(FILE *out, const scatter_view *view, size_t club, size_t swing)
{
    const caber_scatter_club *c = &view->found->clubs[club];
    csv_text_write(out, view->names[club]);
    fprintf(out, ",%zu", swing + 1);
    for (int k = 0; k < CABER_HABITS; k++)
        fprintf(out, ",%.10g", scatter_habit(view, club, swing, (caber_habit)k));
    for (size_t i = 0; i < caber_output_count(); i++) {
        const double value = caber_outcome_number(&c->outcomes[swing], i);
        fputc(',', out);
        if (c->good[swing] && isfinite(value))
            fprintf(out, "%.10g", value * caber_output_field(i)->factor);
    }
    fputc('\n', out);
}

caber_status scatter_csv(const scatter_view *view, char **text, size_t *size,
                         caber_message *message)
{
    FILE *out = open_memstream(text, size);
    if (!out)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a table");
    write_head(out);
    for (size_t club = 0; club < view->count; club++)
        for (int i = 0; i < view->found->settings.swings; i++)
            write_row(out, view, club, (size_t)i);
    return csv_text_close(out, message);
}
