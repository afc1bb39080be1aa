/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A study file: its YAML through the field table, each factor's path and values through the field table of
 * a setup, the files that it chooses from, and the design. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "files/csv.h"
#include "files/decode.h"
#include "files/files.h"
#include "files/source.h"
#include "study/columns.h"
#include "study/habit.h"
#include "study/plan.h"

/* Of a CSV of cases; and the levels of morris when none are given: common practice. */
enum { CASES_BYTES = 1 << 28, MORRIS_LEVELS = 4 };

/* One reading of a study. */
typedef struct study_reading {
    arena a;
    decoding d;
    const char *file;
    node *root;
    study_sheet sheet;
    const char *
        *overrides; /* of the base setup: the study's own, then those given; one more has room */
    size_t override_count;
    caber_study *plan;
    caber_message *message;
} study_reading;

static caber_status no_memory(const study_reading *r)
{
    return message_set(r->message, CABER_NO_MEMORY, "%s: out of memory", r->file);
}

/* Fails at a path of the study file. */
#define FAIL_AT(r, path, ...)                                                                      \
    node_error(node_find((r)->root, (path)), (path), (r)->message, __VA_ARGS__)

/* Fails at a key of factor k. */
#define FAIL_FACTOR(r, k, key, ...)                                                                \
    do {                                                                                           \
        char path_[64];                                                                            \
        snprintf(path_, sizeof path_, (key)[0] ? "factors[%zu].%s" : "factors[%zu]", (k), (key));  \
        return FAIL_AT((r), path_, __VA_ARGS__);                                                   \
    } while (0)

/* ------------------------------------------------------------------ the base setup */

/* A file in an override of the study is named from the study's folder. */
static caber_status own_override(study_reading *r, size_t i, const char **out)
{
    const char *text = r->sheet.set.items[i];
    const char *equals = strchr(text, '=');
    char at[32];
    snprintf(at, sizeof at, "set[%zu]", i);
    if (!equals || equals == text)
        return FAIL_AT(r, at, "write path=value, such as load.grip.rise=0.05 s");
    char *path = arena_text(&r->a, text, (size_t)(equals - text));
    *out = text;
    if (!path)
        return no_memory(r);
    if (!files_names_part(path))
        return CABER_OK;
    const char *from = source_path(&r->a, r->file, equals + 1);
    const size_t size = from ? strlen(path) + strlen(from) + 2 : 0;
    char *whole = from ? arena_take(&r->a, size) : NULL;
    if (!whole)
        return no_memory(r);
    snprintf(whole, size, "%s=%s", path, from);
    *out = whole;
    return CABER_OK;
}

static caber_status read_base(study_reading *r, const char *const *given, size_t count)
{
    const field_texts *set = &r->sheet.set;
    r->overrides = arena_take(&r->a, (set->count + count + 1) * sizeof *r->overrides);
    if (!r->overrides)
        return no_memory(r);
    for (size_t i = 0; i < set->count; i++) {
        const caber_status status = own_override(r, i, &r->overrides[r->override_count++]);
        if (status != CABER_OK)
            return status;
    }
    for (size_t i = 0; i < count; i++)
        r->overrides[r->override_count++] = given[i];
    const char *path = source_path(&r->a, r->file, r->sheet.setup);
    if (!path)
        return no_memory(r);
    if (!r->sheet.setup[0])
        return FAIL_AT(r, "setup", "is empty; the path of a setup file is wanted");
    const caber_status status =
        caber_setup_read(path, r->overrides, r->override_count, &r->plan->base, r->message);
    if (status == CABER_OK && r->plan->base->settings.until > 0)
        return FAIL_AT(
            r, "setup",
            "%s has settings.until: %g s; it must be 0 here, so that every swing ends at "
            "the ball",
            path, r->plan->base->settings.until);
    return status;
}

/* ------------------------------------------------------------------ names */

static bool is_name(const char *name)
{
    bool good = isalpha((unsigned char)name[0]) && strlen(name) < 64;
    for (const char *s = name; *s && good; s++)
        good = (unsigned char)*s < 128 && (isalnum((unsigned char)*s) || *s == '_');
    return good;
}

/* What else stands beside the factors in results. */
static bool is_taken(const char *name)
{
    static const char *const own[] = {"case",
                                      "point",
                                      "replicate",
                                      "status",
                                      "reason",
                                      "time",
                                      "time_s",
                                      "chunk",
                                      "chunk_crc32",
                                      "straight",
                                      "swing_steps",
                                      "swing_evaluations",
                                      "swing_error_failures"};
    for (size_t i = 0; i < sizeof own / sizeof own[0]; i++)
        if (!strcmp(own[i], name))
            return true;
    return caber_output_find(name) < caber_output_count();
}

static caber_status check_name(study_reading *r, size_t k)
{
    const char *name = r->sheet.factors[k].name;
    char clip[TEXT_CLIP_SIZE];
    text_clip(name, clip);
    if (!is_name(name))
        FAIL_FACTOR(
            r, k, "name",
            "\"%s\" is not allowed; it must be a letter, then letters, digits or _, at most "
            "63 of them",
            clip);
    if (is_taken(name))
        FAIL_FACTOR(r, k, "name", "\"%s\" is the name of something else in the results", clip);
    for (size_t i = 0; i < k; i++)
        if (!strcmp(r->sheet.factors[i].name, name))
            FAIL_FACTOR(r, k, "name", "\"%s\" is the name of factors[%zu] too", clip, i);
    return CABER_OK;
}

/* ------------------------------------------------------------------ a choice of files */

static caber_status read_choice(study_reading *r, size_t k, size_t i)
{
    const study_factor_sheet *s = &r->sheet.factors[k];
    plan_factor *f = &r->plan->factors[k];
    char at[64];
    snprintf(at, sizeof at, "factors[%zu].files[%zu]", k, i);
    if (!s->files.items[i][0])
        return FAIL_AT(r, at, "is empty; the path of a file is wanted");
    const char *path = source_path(&r->a, r->file, s->files.items[i]);
    const size_t size = path ? strlen(s->path) + strlen(path) + 2 : 0;
    char *override = path ? arena_take(&r->a, size) : NULL;
    f->files[i] = path ? strdup(path) : NULL;
    f->named[i] = strdup(s->files.items[i]);
    if (!override || !f->files[i] || !f->named[i])
        return no_memory(r);
    snprintf(override, size, "%s=%s", s->path, path);
    r->overrides[r->override_count] = override;
    const char *base = source_path(&r->a, r->file, r->sheet.setup);
    caber_message why;
    const caber_status status =
        base ? caber_setup_read(base, r->overrides, r->override_count + 1, &f->choices[i], &why)
             : no_memory(r);
    if (status != CABER_OK && base)
        FAIL_AT(r, at, "%.700s", why.text);
    return status;
}

static caber_status read_choices(study_reading *r, size_t k)
{
    const study_factor_sheet *s = &r->sheet.factors[k];
    plan_factor *f = &r->plan->factors[k];
    factor *range = &r->plan->ranges[k];
    static const char *const parts[PLAN_PARTS] = {"shaft", "head", "grip", "player"};
    if (!s->files.count)
        FAIL_FACTOR(r, k, "",
                    "files is missing: %s is a part of the setup, and a choice of it is "
                    "one of files",
                    s->path);
    if (s->from[0] || s->to[0] || s->values.count)
        FAIL_FACTOR(r, k, "files", "is not allowed together with from, to or values");
    f->chosen = true;
    while (strncmp(s->path, parts[f->part], strlen(parts[f->part])) != 0)
        f->part++;
    f->files = calloc(s->files.count, sizeof *f->files);
    f->named = calloc(s->files.count, sizeof *f->named);
    f->choices = calloc(s->files.count, sizeof *f->choices);
    range->values = calloc(s->files.count, sizeof *range->values);
    if (!f->files || !f->named || !f->choices || !range->values)
        return no_memory(r);
    range->listed = true;
    f->file_count = range->count = s->files.count;
    caber_status status = CABER_OK;
    for (size_t i = 0; i < f->file_count && status == CABER_OK; i++) {
        range->values[i] = (double)i;
        status = read_choice(r, k, i);
    }
    return status;
}

/* ------------------------------------------------------------------ an input */

/* Reads a quantity of a factor's input; `within`: it must be one that the input may have. */
static caber_status read_value(study_reading *r, size_t k, const char *key, const char *text,
                               bool within, double *out)
{
    const field_address *at = &r->plan->factors[k].at;
    caber_message why;
    const caber_status status = within
                                    ? field_address_parse(at, text, out, &why)
                                    : quantity_parse(text, field_address_unit(at)->dim, out, &why);
    if (status != CABER_OK)
        FAIL_FACTOR(r, k, key, "%s", why.text);
    return CABER_OK;
}

static caber_status read_list(study_reading *r, size_t k)
{
    const study_factor_sheet *s = &r->sheet.factors[k];
    factor *range = &r->plan->ranges[k];
    range->listed = true;
    range->values = calloc(s->values.count, sizeof *range->values);
    if (!range->values)
        return no_memory(r);
    range->count = s->values.count;
    for (size_t i = 0; i < range->count; i++) {
        char key[32];
        snprintf(key, sizeof key, "values[%zu]", i);
        const caber_status status =
            read_value(r, k, key, s->values.items[i], true, &range->values[i]);
        if (status != CABER_OK)
            return status;
    }
    return CABER_OK;
}

/* What a distribution needs beside the range. */
static caber_status read_shape(study_reading *r, size_t k)
{
    const study_factor_sheet *s = &r->sheet.factors[k];
    factor *range = &r->plan->ranges[k];
    const struct {
        const char *key, *text;
        double *to;
        factor_spread of;
    } shapes[] = {{"mean", s->mean, &range->mean, FACTOR_NORMAL},
                  {"sd", s->sd, &range->sd, FACTOR_NORMAL},
                  {"peak", s->peak, &range->peak, FACTOR_TRIANGULAR}};
    range->spread = (factor_spread)s->distribution;
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++) {
        const bool wanted = range->spread == shapes[i].of;
        if (wanted && !shapes[i].text[0])
            FAIL_FACTOR(r, k, "distribution", "%s is missing, which this distribution needs",
                        shapes[i].key);
        if (!wanted && shapes[i].text[0])
            FAIL_FACTOR(r, k, shapes[i].key, "is not allowed with this distribution");
        if (!wanted)
            continue;
        const caber_status status =
            read_value(r, k, shapes[i].key, shapes[i].text, false, shapes[i].to);
        if (status != CABER_OK)
            return status;
    }
    return CABER_OK;
}

static caber_status read_range(study_reading *r, size_t k)
{
    const study_factor_sheet *s = &r->sheet.factors[k];
    const field_type type = r->plan->factors[k].at.field->type;
    factor *range = &r->plan->ranges[k];
    if (!s->from[0] || !s->to[0])
        FAIL_FACTOR(r, k, "", "%s is missing: a range has from and to", s->from[0] ? "to" : "from");
    if (type == FIELD_WORD || type == FIELD_BOOLEAN)
        FAIL_FACTOR(r, k, "from", "is not allowed: %s has no range; give values", s->path);
    range->whole = type == FIELD_INTEGER;
    range->levels = s->levels;
    caber_status status = read_value(r, k, "from", s->from, true, &range->from);
    if (status == CABER_OK)
        status = read_value(r, k, "to", s->to, true, &range->to);
    return status == CABER_OK ? read_shape(r, k) : status;
}

static caber_status check_input(study_reading *r, size_t k)
{
    const plan_factor *f = &r->plan->factors[k];
    const caber_setup *base = r->plan->base;
    if (!field_address_exists(&f->at, base))
        FAIL_FACTOR(r, k, "path", "the setup has no such entry in its list %s", f->at.list->name);
    if (!field_address_used(&f->at, base))
        FAIL_FACTOR(r, k, "path", "the setup does not use this input, with the drive that it has");
    if (!strcmp(f->at.path, "settings.until"))
        FAIL_FACTOR(r, k, "path", "is not allowed: every swing of a study ends at the ball");
    for (size_t i = 0; i < k; i++)
        if (!r->plan->factors[i].chosen && !strcmp(r->plan->factors[i].at.path, f->at.path))
            FAIL_FACTOR(r, k, "path", "is the path of factors[%zu] too", i);
    return CABER_OK;
}

static caber_status read_input(study_reading *r, size_t k)
{
    const study_factor_sheet *s = &r->sheet.factors[k];
    caber_message why;
    if (field_address_find(s->path, &r->plan->factors[k].at, &why) != CABER_OK)
        FAIL_FACTOR(r, k, "path", "%s", why.text);
    const caber_status status = check_input(r, k);
    if (status != CABER_OK)
        return status;
    const bool ranged = s->from[0] || s->to[0];
    if (s->files.count)
        FAIL_FACTOR(r, k, "files", "is not allowed: %s is no part of the setup that is a file",
                    s->path);
    if (ranged && s->values.count)
        FAIL_FACTOR(r, k, "values", "is not allowed together with from and to");
    if (!ranged && s->distribution)
        FAIL_FACTOR(r, k, "distribution", "is not allowed without a range, from and to");
    if (!ranged && s->levels)
        FAIL_FACTOR(r, k, "levels", "is not allowed without a range, from and to");
    if (ranged)
        return read_range(r, k);
    if (s->values.count)
        return read_list(r, k);
    if (r->sheet.design.kind == DESIGN_CASES)
        return CABER_OK;
    FAIL_FACTOR(r, k, "", "neither from and to nor values are given");
}

static caber_status read_factor(study_reading *r, size_t k)
{
    const study_factor_sheet *s = &r->sheet.factors[k];
    plan_factor *f = &r->plan->factors[k];
    factor *range = &r->plan->ranges[k];
    caber_status status = check_name(r, k);
    if (status != CABER_OK)
        return status;
    snprintf(f->name, sizeof f->name, "%s", s->name);
    status = files_names_part(s->path) ? read_choices(r, k) : read_input(r, k);
    if (status != CABER_OK || (!range->listed && !s->from[0]))
        return status;
    for (size_t i = 0; f->chosen && i < k; i++)
        if (r->plan->factors[i].chosen && r->plan->factors[i].part == f->part)
            FAIL_FACTOR(r, k, "path", "factors[%zu] chooses this part too", i);
    caber_message why;
    if (factor_check(range, &why) != CABER_OK)
        FAIL_FACTOR(r, k, "", "%s", why.text);
    return CABER_OK;
}

static caber_status read_factors(study_reading *r)
{
    const size_t count = r->sheet.factor_count;
    r->plan->factors = calloc(count, sizeof *r->plan->factors);
    r->plan->ranges = calloc(count, sizeof *r->plan->ranges);
    if (!r->plan->factors || !r->plan->ranges)
        return no_memory(r);
    r->plan->factor_count = count;
    caber_status status = CABER_OK;
    for (size_t k = 0; k < count && status == CABER_OK; k++)
        status = read_factor(r, k);
    return status;
}

/* ------------------------------------------------------------------ cases from a CSV */

/* The column of a factor: its range is that of the input. */
static field case_column(const plan_factor *f, double entries)
{
    const field *input = f->chosen ? NULL : f->at.field;
    field column = {.name = f->name,
                    .type = FIELD_QUANTITY,
                    .flags = FIELD_REQUIRED,
                    .unit = "",
                    .max = entries - 1,
                    .meaning = "a factor"};
    if (input && input->type == FIELD_WORD)
        column.max = (double)field_word_count(input) - 1;
    if (input && input->type == FIELD_BOOLEAN)
        column.max = 1;
    if (!input || input->type == FIELD_WORD || input->type == FIELD_BOOLEAN)
        return column;
    column.flags |= input->flags & (FIELD_ABOVE | FIELD_BELOW);
    column.min = input->min;
    column.max = input->max;
    column.dim = field_address_unit(&f->at)->dim;
    column.unit = field_address_unit(&f->at)->symbol;
    return column;
}

static caber_status check_cell(study_reading *r, const field_rows *rows, size_t row, size_t k)
{
    const size_t cell = row * r->plan->factor_count + k;
    const plan_factor *f = &r->plan->factors[k];
    const double value = rows->cell[cell];
    caber_message why = {"it must be a whole number, the place in the list of files"};
    const bool good =
        f->chosen ? value == floor(value) : field_address_check(&f->at, value, &why) == CABER_OK;
    if (good)
        return CABER_OK;
    const node where = {.file = rows->file, .line = rows->line[row], .column = rows->place[cell]};
    return node_error(&where, f->name, r->message, "%s", why.text);
}

static caber_status read_cases(study_reading *r, field_rows *rows)
{
    const size_t count = r->plan->factor_count;
    const char *path = source_path(&r->a, r->file, r->sheet.design.file), *text;
    field *columns = arena_take(&r->a, count * sizeof *columns);
    size_t size;
    if (!path || !columns)
        return no_memory(r);
    caber_message why;
    caber_status status = source_read_most(&r->a, path, CASES_BYTES, &text, &size, &why);
    if (status != CABER_OK) {
        FAIL_AT(r, "design.file", "%s", why.text);
        return status;
    }
    for (size_t k = 0; k < count; k++)
        columns[k] = case_column(&r->plan->factors[k], (double)r->plan->factors[k].file_count);
    const field_group group = {.fields = columns, .count = count};
    status = csv_read(path, text, size, &group, 1, DESIGN_CASES_MOST, rows, r->message);
    for (size_t i = 0; status == CABER_OK && i < rows->count; i++)
        for (size_t k = 0; status == CABER_OK && k < count; k++)
            status = check_cell(r, rows, i, k);
    return status;
}

/* ------------------------------------------------------------------ the design */

/* Which keys a kind of design uses. */
static caber_status check_design_keys(study_reading *r)
{
    const study_design_sheet *s = &r->sheet.design;
    const bool saltelli = s->kind == DESIGN_SALTELLI;
    const bool morris = s->kind == DESIGN_MORRIS;
    const bool sequence = s->kind == DESIGN_SOBOL || s->kind == DESIGN_HALTON;
    const struct {
        const char *key;
        bool given, used, needed;
    } keys[] = {
        {"design.cases", s->cases > 0, sequence || s->kind == DESIGN_LATIN_HYPERCUBE, true},
        {"design.rows", s->rows > 0, saltelli, true},
        {"design.sampling", s->sampling > 0, saltelli, false},
        {"design.both", s->both, saltelli, false},
        {"design.trajectories", s->trajectories > 0, morris, true},
        {"design.levels", s->levels > 0, morris, false},
        {"design.plain", s->plain, sequence, false},
        {"design.file", s->file[0] != '\0', s->kind == DESIGN_CASES, true},
    };
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (keys[i].given && !keys[i].used)
            return FAIL_AT(r, keys[i].key, "is not allowed with this kind of design");
        if (!keys[i].given && keys[i].used && keys[i].needed)
            return FAIL_AT(r, keys[i].key, "is missing, and this kind of design needs it");
    }
    if (s->levels % 2)
        return FAIL_AT(r, "design.levels", "%d is not allowed; it must be an even number",
                       s->levels);
    return CABER_OK;
}

/* The message of a design may begin with the factor. */
static caber_status design_failed(study_reading *r, caber_status status, caber_message *why)
{
    char *colon = strstr(why->text, ": ");
    if (strncmp(why->text, "factors[", 8) != 0 || !colon) {
        FAIL_AT(r, "design", "%s", why->text);
        return status;
    }
    *colon = '\0';
    FAIL_AT(r, why->text, "%s", colon + 2);
    return status;
}

static caber_status make_design(study_reading *r)
{
    caber_study *p = r->plan;
    const study_design_sheet *s = &r->sheet.design;
    field_rows rows = {0};
    double *base = arena_take(&r->a, p->factor_count * sizeof *base);
    if (!base)
        return no_memory(r);
    for (size_t k = 0; k < p->factor_count; k++)
        base[k] = p->factors[k].chosen ? 0 : field_address_get(&p->factors[k].at, p->base);
    caber_status status = check_design_keys(r);
    if (status == CABER_OK && s->kind == DESIGN_CASES)
        status = read_cases(r, &rows);
    if (status == CABER_OK) {
        const int cases = s->kind == DESIGN_SALTELLI ? s->rows
                          : s->kind == DESIGN_MORRIS ? s->trajectories
                                                     : s->cases;
        p->how = (design_settings){.kind = (design_kind)s->kind,
                                   .cases = rows.count ? rows.count : (size_t)cases,
                                   .rows = (design_rows)s->sampling,
                                   .both = s->both,
                                   .plain = s->plain,
                                   .levels = s->levels ? (size_t)s->levels : MORRIS_LEVELS,
                                   .seed = (uint64_t)p->seed};
        caber_message why;
        status =
            design_create(&p->how, p->ranges, p->factor_count, base, rows.cell, &p->design, &why);
        if (status != CABER_OK)
            design_failed(r, status, &why);
    }
    field_rows_free(&rows);
    return status;
}

/* ------------------------------------------------------------------ replicates and outputs */

static caber_status check_habits(study_reading *r)
{
    habits h;
    caber_message why;
    if (r->plan->replicates == 0)
        return CABER_OK;
    if (plan_points(r->plan) * r->plan->replicates > DESIGN_CASES_MOST)
        return FAIL_AT(r, "replicates",
                       "%zu cases of %zu swings each are too many; at most %d swings "
                       "are allowed in all",
                       plan_points(r->plan), r->plan->replicates, DESIGN_CASES_MOST);
    if (habits_create(&r->plan->base->player, &h, &why) != CABER_OK)
        return FAIL_AT(r, "replicates", "%s", why.text);
    for (size_t k = 0; k < r->plan->factor_count; k++)
        for (size_t i = 0; i < r->plan->factors[k].file_count; i++)
            if (habits_create(&r->plan->factors[k].choices[i]->player, &h, &why) != CABER_OK)
                FAIL_FACTOR(r, k, "files", "entry %zu: %s", i, why.text);
    return CABER_OK;
}

static caber_status read_outputs(study_reading *r)
{
    caber_study *p = r->plan;
    const field_texts *names = &r->sheet.outputs;
    const size_t count = names->count ? names->count : caber_output_count();
    p->outputs = calloc(count, sizeof *p->outputs);
    if (!p->outputs)
        return no_memory(r);
    p->output_count = count;
    for (size_t i = 0; i < count; i++) {
        char at[32];
        caber_message why;
        snprintf(at, sizeof at, "outputs[%zu]", i);
        if (!names->count)
            p->outputs[i] = column_at(i);
        else if (column_find(names->items[i], &p->outputs[i], &why) != CABER_OK)
            return FAIL_AT(r, at, "%s", why.text);
        for (size_t j = 0; j < i; j++)
            if (!strcmp(p->outputs[j].name, p->outputs[i].name))
                return FAIL_AT(r, at, "%s is given twice", p->outputs[i].name);
    }
    return CABER_OK;
}

/* The points of the grid from 0 to `until`, which may miss a multiple of the step by rounding. */
static caber_status read_grid(study_reading *r)
{
    enum { POINTS_MOST = 100000 };
    const study_series_sheet *s = &r->sheet.series;
    const double steps = floor(s->until / s->step * (1 + 1e-12));
    if (steps < 1)
        return FAIL_AT(r, "series.until", "must be at least one step, %g s", s->step);
    if (steps >= POINTS_MOST)
        return FAIL_AT(r, "series", "%.0f points are not allowed; there may be at most %d",
                       steps + 1, POINTS_MOST);
    for (size_t k = 0; k < r->plan->factor_count; k++)
        if (!strcmp(r->plan->factors[k].at.path, "settings.sample"))
            FAIL_FACTOR(r, k, "path", "is not allowed together with series, which have one grid");
    r->plan->series_points = (size_t)steps + 1;
    r->plan->series_step = s->step;
    r->plan->base->settings.sample = s->step;
    return CABER_OK;
}

static caber_status read_series(study_reading *r)
{
    caber_study *p = r->plan;
    const field_texts *names = &r->sheet.series.outputs;
    if (!node_get(r->root, "series"))
        return CABER_OK;
    if (!names->count)
        return FAIL_AT(r, "series", "outputs is missing");
    p->series = calloc(names->count, sizeof *p->series);
    if (!p->series)
        return no_memory(r);
    p->series_count = names->count;
    for (size_t i = 0; i < names->count; i++) {
        char at[48];
        caber_message why;
        snprintf(at, sizeof at, "series.outputs[%zu]", i);
        if (series_find(names->items[i], &p->series[i], &why) != CABER_OK)
            return FAIL_AT(r, at, "%s", why.text);
        for (size_t j = 0; j < i; j++)
            if (p->series[j].field == p->series[i].field)
                return FAIL_AT(r, at, "%s is given twice", names->items[i]);
    }
    return read_grid(r);
}

/* ------------------------------------------------------------------ all of it */

static caber_status read_sheet(study_reading *r, const char *text, size_t size)
{
    const field_group *kind = fields_kind_study();
    r->d = (decoding){.a = &r->a, .file = r->file, .message = r->message};
    caber_status status = node_parse(&r->a, r->file, text, size, &r->root, r->message);
    if (status == CABER_OK)
        status = decode_check_kind(r->root, kind->kind, r->message);
    return status == CABER_OK ? decode_group(&r->d, kind, r->root, r->root, &r->sheet) : status;
}

static caber_status check_cases(study_reading *r)
{
    caber_message why;
    const caber_status status = plan_check(r->plan, &why);
    if (status != CABER_OK)
        FAIL_AT(r, "design", "%s", why.text);
    return status;
}

/* Keeps where the plan comes from. */
static caber_status keep_given(study_reading *r, const char *text, size_t size,
                               const char *const *overrides, size_t count)
{
    caber_study *p = r->plan;
    p->text = strndup(text, size);
    p->overrides = calloc(count + 1, sizeof *p->overrides);
    if (!p->text || !p->overrides)
        return no_memory(r);
    for (; p->override_count < count; p->override_count++)
        if (!(p->overrides[p->override_count] = strdup(overrides[p->override_count])))
            return no_memory(r);
    return CABER_OK;
}

static caber_status read_plan(study_reading *r, const char *text, size_t size,
                              const char *const *overrides, size_t count)
{
    caber_study *p = r->plan = calloc(1, sizeof *r->plan);
    if (!p)
        return no_memory(r);
    memcpy(p->name, r->sheet.name, sizeof p->name);
    memcpy(p->note, r->sheet.note, sizeof p->note);
    p->seed = r->sheet.seed;
    p->replicates = (size_t)r->sheet.replicates;
    caber_status status = keep_given(r, text, size, overrides, count);
    if (status == CABER_OK)
        status = read_base(r, overrides, count);
    if (status == CABER_OK)
        status = read_factors(r);
    if (status == CABER_OK)
        status = make_design(r);
    if (status == CABER_OK)
        status = check_habits(r);
    if (status == CABER_OK)
        status = read_outputs(r);
    if (status == CABER_OK)
        status = read_series(r);
    return status == CABER_OK ? check_cases(r) : status;
}

static caber_status finish(study_reading *r, caber_status status, caber_study **out)
{
    if (status == CABER_OK)
        *out = r->plan;
    else
        plan_free(r->plan);
    study_sheet_free(&r->sheet);
    arena_free(&r->a);
    return status == CABER_OK ? message_clear(r->message) : status;
}

caber_status files_read_study(const char *name, const char *text, size_t size,
                              const char *const *overrides, size_t override_count,
                              caber_study **out, caber_message *message)
{
    study_reading r = {.file = name, .message = message};
    *out = NULL;
    caber_status status = read_sheet(&r, text, size);
    if (status == CABER_OK)
        status = read_plan(&r, text, size, overrides, override_count);
    return finish(&r, status, out);
}

caber_status caber_study_read(const char *path, const char *const *overrides, size_t override_count,
                              caber_study **out, caber_message *message)
{
    study_reading r = {.file = path, .message = message};
    const char *text;
    size_t size;
    *out = NULL;
    caber_status status = source_read(&r.a, path, &text, &size, message);
    if (status == CABER_OK)
        status = read_sheet(&r, text, size);
    if (status == CABER_OK)
        status = read_plan(&r, text, size, overrides, override_count);
    return finish(&r, status, out);
}

void caber_study_free(caber_study *study)
{
    plan_free(study);
}
