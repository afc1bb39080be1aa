/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every number of every factor as a row, each with its unit. */
#include <stdio.h>

#include "app/csv_text.h"
#include "app/influence.h"
#include "base/message.h"

static void write_names(FILE *out, const influence_output *o, size_t k, const char *what,
                        const char *unit)
{
    csv_text_write(out, o->column->name);
    fputc(',', out);
    csv_text_write(out, o->view.factors[k]);
    fprintf(out, ",%s,", what);
    csv_text_write(out, unit[0] ? unit : "1");
}

static void write_range(FILE *out, const influence_output *o, size_t k, const char *what,
                        const char *unit, const resample_range *r)
{
    write_names(out, o, k, what, unit);
    fprintf(out, ",%.10g,%.10g,%.10g\n", r->value, r->low, r->high);
}

static void write_number(FILE *out, const influence_output *o, size_t k, const char *what,
                         const char *unit, double value)
{
    write_names(out, o, k, what, unit);
    fprintf(out, ",%.10g,,\n", value);
}

static void write_factor(FILE *out, const influence_output *o, size_t i)
{
    const char *unit = o->view.unit;
    if (o->sobol) {
        write_range(out, o, i, "first", "", &o->sobol->index[i].first);
        write_range(out, o, i, "total", "", &o->sobol->index[i].total);
    } else if (o->morris) {
        write_range(out, o, i, "mu_star", unit, &o->morris->effect[i].size);
        write_number(out, o, i, "mu", unit, o->morris->effect[i].mean);
        write_number(out, o, i, "sigma", unit, o->morris->effect[i].sd);
    } else if (o->regression) {
        write_range(out, o, i, "slope", "", &o->regression->factor[i].standard);
        write_number(out, o, i, "inflation", "", o->regression->factor[i].inflation);
    }
}

caber_status influence_csv(const influence_study *s, char **text, size_t *size,
                           caber_message *message)
{
    FILE *out = open_memstream(text, size);
    if (!out)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a table");
    fputs("output,factor,measure,unit,value,low,high\n", out);
    for (size_t o = 0; o < s->output_count; o++)
        for (size_t i = 0; i < s->used; i++)
            write_factor(out, &s->outputs[o], i);
    return csv_text_close(out, message);
}
