/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shots_csv.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/csv_text.h"
#include "app/shots.h"
#include "base/message.h"
#include "base/text.h"
#include "base/units.h"
#include "study/measured.h"

static void put_heads(FILE *out, const caber_measured *m)
{
    fputs("shot,setup", out);
    for (size_t c = 0; c < m->column_count; c++)
        fprintf(out, ",%s", m->columns[c].name);
    fputs(",set_aside,why,from\n", out);
    fputc(',', out);
    for (size_t c = 0; c < m->column_count; c++)
        fprintf(out, ",%s", m->columns[c].unit);
    fputs(",,,\n", out);
}

/* "impossible: carry -3.0 m; outlier: ..." */
static void put_why(FILE *out, const caber_measured *m, size_t shot)
{
    char text[600] = "", why[160];
    size_t used = 0;
    for (int r = 0; r < CABER_CLEANINGS; r++) {
        if (!(m->shots[shot].broken & 1u << r) || used >= sizeof text)
            continue;
        shots_why(m, shot, (caber_cleaning)r, why, sizeof why);
        const int n = snprintf(text + used, sizeof text - used, "%s%s%s%s", used ? "; " : "",
                               shots_rule_word((caber_cleaning)r), why[0] ? ": " : "", why);
        used += n > 0 ? (size_t)n : 0;
    }
    if (text[0])
        csv_text_write(out, text);
}

static void put_plain(FILE *out, double value)
{
    char text[TEXT_NUMBER_SIZE];
    if (!isnan(value)) {
        text_from_double(value, text);
        fputs(text, out);
    }
}

/* The shortest number that reads back to the same value. */
static void put_number(FILE *out, double si, const caber_measurable *c)
{
    const unit *u = unit_find(c->unit, DIMENSION_NONE);
    const double number = unit_from_si(u, si);
    char text[TEXT_NUMBER_SIZE];
    if (isnan(si))
        return;
    for (int digits = 5; digits <= 17; digits++) {
        snprintf(text, sizeof text, "%.*g", digits, number);
        if (unit_to_si(u, strtod(text, NULL)) == si)
            break;
    }
    fputs(text, out);
}

static void put_shot(FILE *out, const caber_measured *m, size_t i)
{
    const caber_measured_shot *s = &m->shots[i];
    char from[600];
    put_plain(out, s->number);
    fputc(',', out);
    csv_text_write(out, m->batches[s->batch].name);
    for (size_t c = 0; c < m->column_count; c++) {
        fputc(',', out);
        put_number(out, m->value[i * m->column_count + c], &m->columns[c]);
    }
    fprintf(out, ",%s,", s->set_aside ? "yes" : "no");
    put_why(out, m, i);
    fputc(',', out);
    snprintf(from, sizeof from, "%s:%zu", measured_file(m, i), s->line);
    csv_text_write(out, from);
    fputc('\n', out);
}

caber_status shots_csv(const caber_measured *m, char **text, size_t *size, caber_message *message)
{
    *text = NULL;
    FILE *out = open_memstream(text, size);
    if (!out)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    fprintf(out, "# Measured shots as caber %s read them; from: file and line of each.\n",
            caber_version());
    put_heads(out, m);
    for (size_t i = 0; i < m->count; i++)
        put_shot(out, m, i);
    return csv_text_close(out, message);
}
