/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A row for each output of each setup, that which changed most first. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/compare.h"
#include "app/csv_text.h"
#include "base/message.h"

/* What is not known, or not finite, is an empty cell. */
static void write_number(FILE *out, double value)
{
    fputc(',', out);
    if (isfinite(value))
        fprintf(out, "%.10g", value);
}

static void write_row(FILE *out, const compare_view *view, size_t output, size_t setup)
{
    const caber_field *f = caber_output_field(output);
    const caber_change_of_output *o = &view->found->outputs[output];
    csv_text_write(out, view->names[setup]);
    fprintf(out, ",%s,%s", f->name, f->unit);
    write_number(out,
                 f->factor * caber_outcome_number(&view->found->setups[setup].outcome, output));
    write_number(out, f->factor * o->difference[setup]);
    write_number(out, f->factor * o->sd);
    write_number(out, o->times[setup]);
    fputc('\n', out);
}

caber_status compare_csv(const compare_view *view, char **text, size_t *size,
                         caber_message *message)
{
    FILE *out = open_memstream(text, size);
    if (!out)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a table");
    fputs("setup,output,unit,value,difference,sd,times\n", out);
    for (size_t i = 0; i < caber_output_count(); i++)
        for (size_t setup = 0; setup < view->count; setup++)
            write_row(out, view, view->found->order[i], setup);
    return csv_text_close(out, message);
}
