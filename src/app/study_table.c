/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/study_table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/sheet.h"
#include "app/study_where.h"
#include "app/table.h"

enum { LINE_SIZE = 1024 };

static const char *plural(size_t count)
{
    return count == 1 ? "" : "s";
}

/* ------------------------------------------------------------------ what the file is */

static void print_design(const study_notes *n)
{
    char line[LINE_SIZE];
    size_t used =
        (size_t)snprintf(line, sizeof line, "%s of %zu factor%s, %zu point%s",
                         n->design == DESIGN_CASES ? "listed cases" : design_word(n->design),
                         n->factor_count, plural(n->factor_count), n->points, plural(n->points));
    if (n->replicates)
        snprintf(line + used, sizeof line - used, ", %zu varied swing%s at each, seed %.0f",
                 n->replicates, plural(n->replicates), n->seed);
    table_name("design", line);
}

static void print_cases(const study_overview *o)
{
    char line[LINE_SIZE];
    const store_study *s = o->cases->study;
    const study_progress *p = &o->progress;
    size_t used = (size_t)snprintf(line, sizeof line, "%zu", s->cases);
    if (s->shards > 1)
        used += (size_t)snprintf(line + used, sizeof line - used,
                                 "; this is shard %zu of %zu, with %zu of them", s->shard,
                                 s->shards, p->mine);
    if (p->run == p->mine)
        snprintf(line + used, sizeof line - used, ", all of them run");
    else
        snprintf(line + used, sizeof line - used, ", %zu run and %zu still to run (%.0f %% done)",
                 p->run, p->mine - p->run, 100 * (double)p->run / (double)p->mine);
    table_name("cases", line);
}

static void print_failed(const study_overview *o)
{
    char line[LINE_SIZE];
    const study_progress *p = &o->progress;
    if (!p->failed)
        return;
    snprintf(line, sizeof line, "%zu; --where status=failed shows them", p->failed);
    table_name("failed", line);
    for (int status = CABER_OK + 1; status + 1 < STUDY_STATUS_MOST; status++) {
        const size_t count = p->count[1 + status];
        const char *reason = p->reason[1 + status];
        if (!count)
            continue;
        const char *text = caber_status_text((caber_status)status);
        const bool more = reason[0] && strcmp(reason, text) != 0;
        snprintf(line, sizeof line, "%zu %s: %s; the first is case %zu%s%s", count,
                 store_status_word(status), text, p->first[1 + status], more ? ": " : "",
                 more ? reason : "");
        table_wrapped(line, 10);
    }
}

static const char *note_text(const study_cases *c, const char *name)
{
    for (size_t i = 0; i < c->study->note_count; i++)
        if (strcmp(c->study->notes[i].name, name) == 0 && c->study->notes[i].text)
            return c->study->notes[i].text;
    return "";
}

static void print_file(const study_overview *o)
{
    char line[LINE_SIZE];
    const study_cases *c = o->cases;
    const char *title = note_text(c, "title"), *note = note_text(c, "note");
    table_title(title[0] ? title : c->path);
    if (note[0])
        table_wrapped(note, 0);
    putchar('\n');
    if (c->notes)
        print_design(c->notes);
    print_cases(o);
    print_failed(o);
    snprintf(line, sizeof line, "caber %.60s", c->study->version);
    table_name("made by", line);
}

/* ------------------------------------------------------------------ a line a column */

enum { CELLS = 8, CELL_SIZE = 400 };

/* The texts of one of the tables. */
typedef struct overview_lines {
    size_t rows, count;      /* columns of the table */
    char (*text)[CELL_SIZE]; /* [rows][count]; owned */
} overview_lines;

static char *line_cell(overview_lines *l, size_t cell)
{
    return l->text[l->rows * l->count + cell];
}

/* point and replicate are said above. */
static bool is_place(const study_summary *s)
{
    return s->column->role == STUDY_COLUMN_FACTOR && !s->column->factor &&
           (strcmp(s->column->name, "point") == 0 || strcmp(s->column->name, "replicate") == 0);
}

static void put_head(overview_lines *l, study_role role)
{
    const char *const heads[] = {
        "", "", "smallest", "mean", "largest", role == STUDY_COLUMN_FACTOR ? "values" : "none", ""};
    for (size_t i = 0; i < l->count; i++)
        snprintf(line_cell(l, i), CELL_SIZE, "%s", heads[i]);
    l->rows++;
}

static void put_count(const study_summary *s, char text[CELL_SIZE])
{
    if (s->column->role != STUDY_COLUMN_FACTOR)
        snprintf(text, CELL_SIZE, "%zu", s->none);
    else if (s->values > STUDY_VALUES_MOST)
        snprintf(text, CELL_SIZE, "many");
    else
        snprintf(text, CELL_SIZE, "%zu", s->values);
}

static void put_numbers(const study_summary *s, overview_lines *l)
{
    char number[64];
    const int decimals = s->column->decimals;
    sheet_number(number, s->least, decimals);
    snprintf(line_cell(l, 2), CELL_SIZE, "%s", number);
    sheet_number(number, running_mean(&s->numbers), decimals == SHEET_WHOLE ? 1 : decimals);
    snprintf(line_cell(l, 3), CELL_SIZE, "%s", number);
    sheet_number(number, s->most, decimals);
    snprintf(line_cell(l, 4), CELL_SIZE, "%s", number);
}

static void put_line(const study_summary *s, overview_lines *l, bool skipped)
{
    const study_column *c = s->column;
    snprintf(line_cell(l, 0), CELL_SIZE, "%s", c->name);
    snprintf(line_cell(l, 1), CELL_SIZE, "%s", c->unit);
    if (!skipped && !(c->factor && c->factor->words))
        put_numbers(s, l);
    if (!skipped)
        put_count(s, line_cell(l, 5));
    snprintf(line_cell(l, 6), CELL_SIZE, "%s%s%s", c->factor ? c->factor->path : "",
             c->factor ? ": " : "", c->stored->long_name);
    l->rows++;
}

/* Which words or files a factor takes, and how often. */
static void print_words(const study_summary *s)
{
    char line[4 * LINE_SIZE];
    size_t used = (size_t)snprintf(line, sizeof line, "%s:", s->column->name);
    for (size_t i = 0; i < s->values && i < STUDY_VALUES_MOST && used + 200 < sizeof line; i++) {
        const char *word = study_column_word(s->column, s->value[i]);
        used += (size_t)snprintf(line + used, sizeof line - used, "%s %.150s (%zu)", i ? "," : "",
                                 word ? word : "?", s->cases[i]);
    }
    table_wrapped(line, 4);
}

static bool print_columns(const study_overview *o, study_role role)
{
    static const bool left[] = {true, true, false, false, false, false, true};
    const size_t columns = o->cases->column_count;
    overview_lines l = {.count = sizeof left / sizeof *left};
    l.text = calloc((columns + 1) * l.count, sizeof *l.text);
    const char **cells = calloc((columns + 1) * l.count, sizeof *cells);
    const bool fine = l.text && cells;
    if (fine) {
        put_head(&l, role);
        for (size_t k = 0; k < columns; k++)
            if (o->columns[k].column->role == role && !is_place(&o->columns[k]))
                put_line(&o->columns[k], &l, role == STUDY_COLUMN_SERIES && o->skipped);
        for (size_t i = 0; i < l.rows * l.count; i++)
            cells[i] = l.text[i];
        sheet_print_texts(cells, l.rows, l.count, 1, left, NULL);
    }
    free(cells);
    free(l.text);
    for (size_t k = 0; k < columns && fine; k++)
        if (o->columns[k].column->role == role && o->columns[k].column->factor &&
            o->columns[k].column->factor->words)
            print_words(&o->columns[k]);
    return fine;
}

static void print_series_head(const study_overview *o)
{
    char text[2][64];
    const store_grid *g = &o->cases->study->grid;
    sheet_number(text[0], g->at[0], SHEET_SIX_DIGITS);
    sheet_number(text[1], g->at[g->count - 1], SHEET_SIX_DIGITS);
    printf("\nSeries along %s, %s to %s %s in %zu places\n", g->column.name, text[0], text[1],
           g->column.units, g->count);
    if (o->skipped)
        puts(
            "  Not read for this first look, as they are many; --only and --where choose of them.");
}

/* Says of which cases the numbers are, when it is not all that were run. */
static void print_taken(const study_overview *o)
{
    const study_cases *c = o->cases;
    const size_t taken = c->counts.taken;
    if (c->condition_count || c->asked_status)
        printf("\nOf the %zu case%s that --where asks for:\n", taken, plural(taken));
    else if (taken < o->progress.mine)
        printf("\nOf the %zu case%s that went well:\n", taken, plural(taken));
}

bool study_overview_print(const study_overview *o)
{
    const store_study *s = o->cases->study;
    print_file(o);
    print_taken(o);
    bool fine = true;
    if (s->factor_count) {
        puts("\nFactors");
        fine = print_columns(o, STUDY_COLUMN_FACTOR);
    }
    if (fine && s->output_count) {
        puts("\nOutputs");
        fine = print_columns(o, STUDY_COLUMN_OUTPUT);
    }
    if (fine && s->series_count) {
        print_series_head(o);
        fine = print_columns(o, STUDY_COLUMN_SERIES);
    }
    return fine;
}
