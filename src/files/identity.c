/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What determines the numbers of a study, as lines of text in one order: equal texts mean equal numbers,
 * and of two that differ, the lines that differ say how. Values are written so that they read back to the
 * same bits; paths of files are not in it, what the files say is. */
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/encode.h"
#include "files/files.h"
#include "study/plan.h"

static void put_number(FILE *out, const char *before, double value)
{
    char text[TEXT_NUMBER_SIZE];
    text_from_double(value, text);
    fprintf(out, "%s%s", before, text);
}

/* ------------------------------------------------------------------ setups */

/* What things are called changes no number. */
static void leave_out_names(caber_setup *s)
{
    char *const texts[] = {s->name,        s->note,       s->shaft.name, s->shaft.note,
                           s->head.name,   s->head.note,  s->grip.name,  s->grip.note,
                           s->player.name, s->player.note};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        texts[i][0] = '\0';
}

static void put_setup(FILE *out, const caber_setup *setup)
{
    caber_setup plain = *setup;
    leave_out_names(&plain);
    fputs("setup:\n", out);
    encode_group(out, fields_kind_setup(), &plain, 2);
}

/* The one part of a setup that was chosen. */
static void put_choice(FILE *out, const caber_setup *setup, plan_part part)
{
    static const char *const parts[PLAN_PARTS] = {"shaft", "head", "grip", "player"};
    const field_group *kind = fields_kind_setup();
    caber_setup plain = *setup;
    leave_out_names(&plain);
    for (size_t i = 0; i < kind->count; i++) {
        const field_group only = {.fields = &kind->fields[i], .count = 1};
        if (!strcmp(kind->fields[i].name, parts[part]))
            encode_group(out, &only, &plain, 6);
    }
}

/* ------------------------------------------------------------------ factors */

static void put_range(FILE *out, const factor *f, bool levels)
{
    static const char *const spreads[] = {"uniform", "log-uniform", "normal", "triangular"};
    fprintf(out, "    distribution: %s\n", spreads[f->spread]);
    put_number(out, "    from: ", f->from);
    put_number(out, "\n    to: ", f->to);
    if (f->spread == FACTOR_NORMAL) {
        put_number(out, "\n    mean: ", f->mean);
        put_number(out, "\n    sd: ", f->sd);
    }
    if (f->spread == FACTOR_TRIANGULAR)
        put_number(out, "\n    peak: ", f->peak);
    if (levels)
        fprintf(out, "\n    levels: %d", f->levels);
    fputc('\n', out);
}

/* Of given cases it is the values that count, and not the range. */
static void put_factor(FILE *out, const caber_study *s, size_t k)
{
    const plan_factor *f = &s->factors[k];
    const factor *range = &s->ranges[k];
    const bool leveled = s->how.kind == DESIGN_GRID || s->how.kind == DESIGN_ONE_AT_A_TIME;
    fprintf(out, "  %s: %s\n", f->name, f->chosen ? "a choice" : f->at.path);
    if (f->chosen) {
        for (size_t i = 0; i < f->file_count; i++) {
            fprintf(out, "    choice %zu:\n", i);
            put_choice(out, f->choices[i], f->part);
        }
    } else if (s->how.kind != DESIGN_CASES && range->listed) {
        for (size_t i = 0; i < range->count; i++)
            put_number(out, i ? ", " : "    values: ", range->values[i]);
        fputc('\n', out);
    } else if (s->how.kind != DESIGN_CASES) {
        put_range(out, range, leveled);
    }
}

/* ------------------------------------------------------------------ the design */

static void put_given(FILE *out, const caber_study *s)
{
    double values[DESIGN_FACTORS_MOST];
    for (size_t i = 0; i < plan_points(s); i++) {
        plan_values(s, i, values);
        for (size_t k = 0; k < s->factor_count; k++)
            put_number(out, k ? ", " : "  - ", values[k]);
        fputc('\n', out);
    }
}

static void put_design(FILE *out, const caber_study *s)
{
    fprintf(out, "design: %s\n  points: %zu\n  replicates: %zu\n  seed: %d\n",
            design_word(s->how.kind), plan_points(s), s->replicates, s->seed);
    if (s->how.kind == DESIGN_MORRIS)
        fprintf(out, "  levels: %zu\n", s->how.levels);
    if (s->how.kind == DESIGN_SALTELLI)
        fprintf(out, "  rows: %s\n  both: %s\n",
                s->how.rows == DESIGN_ROWS_SOBOL ? "sobol" : "random", s->how.both ? "yes" : "no");
    if (s->how.kind == DESIGN_SOBOL || s->how.kind == DESIGN_HALTON)
        fprintf(out, "  plain: %s\n", s->how.plain ? "yes" : "no");
    if (s->how.kind == DESIGN_CASES)
        put_given(out, s);
}

static void put_series(FILE *out, const caber_study *s)
{
    if (s->series_count == 0)
        return;
    put_number(out, "series:\n  step: ", s->series_step);
    fprintf(out, "\n  points: %zu\n", s->series_points);
    for (size_t i = 0; i < s->series_count; i++)
        fprintf(out, "  %s\n", s->series[i].name);
}

caber_status files_study_identity(const caber_study *study, char **text, caber_message *message)
{
    size_t size;
    *text = NULL;
    FILE *out = open_memstream(text, &size);
    if (!out)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    fprintf(out, "program: caber %s\n", caber_version());
    put_design(out, study);
    fputs("factors:\n", out);
    for (size_t k = 0; k < study->factor_count; k++)
        put_factor(out, study, k);
    fputs("outputs:\n", out);
    for (size_t i = 0; i < study->output_count; i++)
        fprintf(out, "  %s\n", study->outputs[i].name);
    put_series(out, study);
    put_setup(out, study->base);
    const bool failed = ferror(out);
    if (!fclose(out) && !failed)
        return message_clear(message);
    free(*text);
    *text = NULL;
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}
