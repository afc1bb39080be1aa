/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/influence.h"
#include "app/outputs.h"
#include "base/message.h"
#include "base/text.h"

/* Until it is known how much an output varies. */
enum { DECIMALS_UNKNOWN = -2 };

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

const char *influence_method_word(influence_method method)
{
    static const char *const words[] = {"variance-shares", "elementary-effects", "regression"};
    return words[method];
}

/* ------------------------------------------------------------------ the file */

static caber_status open_file(influence_study *s, caber_message *message)
{
    const char *path = s->asked.path;
    caber_status status = store_reader_create(path, &s->reader, message);
    if (status != CABER_OK)
        return status;
    const store_study *file = store_reader_study(s->reader);
    if (file->shards > 1)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: is shard %zu of %zu; 'caber gather' joins them", path, file->shard,
                           file->shards);
    status = store_reader_check(s->reader, NULL, message);
    return status == CABER_OK ? study_notes_read(s->reader, path, &s->notes, message) : status;
}

static caber_status choose_method(influence_study *s, caber_message *message)
{
    const influence_request *asked = &s->asked;
    const design_kind kind = s->notes->design;
    if (kind == DESIGN_MORRIS && asked->ranked)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: --ranks: the points of morris hang together and are no sample for "
                           "a regression",
                           asked->path);
    if (asked->spread && s->notes->swings < 2)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: --spread: the study has no replicates, at least 2 swings a point",
                           asked->path);
    s->method = kind == DESIGN_MORRIS                       ? INFLUENCE_MORRIS
                : kind == DESIGN_SALTELLI && !asked->ranked ? INFLUENCE_SOBOL
                                                            : INFLUENCE_REGRESSION;
    return CABER_OK;
}

/* ------------------------------------------------------------------ which outputs */

/* What the integrator says of a case is no output of the swing. */
static bool is_usual(const store_column *c)
{
    return strncmp(c->name, "swing_", 6) != 0 || !c->whole;
}

/* "Carry", "Carry (straight club)", "Spread of carry", or what the file says. */
static void name_output(influence_output *o, bool spread)
{
    static const char prefix[] = "straight.";
    const bool straight = !strncmp(o->column->name, prefix, sizeof prefix - 1);
    const char *plain = o->column->name + (straight ? sizeof prefix - 1 : 0);
    const size_t output = caber_output_find(plain);
    char title[OUTPUTS_TITLE_SIZE];
    o->view.decimals = o->column->whole ? 0 : DECIMALS_UNKNOWN;
    if (output < caber_output_count()) {
        const caber_field *f = caber_output_field(output);
        outputs_title(output, title);
        o->view.decimals = f->decimals;
    }
    snprintf(o->label, sizeof o->label, "%s%.70s%s", spread ? "Spread of " : "",
             output < caber_output_count() ? title : o->column->long_name,
             straight ? " (straight club)" : "");
    if (o->label[0] >= 'a' && o->label[0] <= 'z')
        o->label[0] = (char)(o->label[0] - 'a' + 'A');
    if (spread && o->view.decimals >= 0)
        o->view.decimals++;
}

/* Of an output of another program: so many that what it varies by has 3 digits where it can. */
static void find_decimals(influence_output *o)
{
    double size = o->sobol ? o->sobol->sd : o->regression ? o->regression->sd : 0;
    for (size_t i = 0; o->morris && i < o->morris->count; i++)
        size = fmax(size, o->morris->effect[i].size.value);
    const int spread = size < 1e-4 ? 0 : outputs_spread_decimals(size);
    o->view.decimals = spread ? spread - 1 : size < 1e-4 && size > 0 ? -1 : 0;
}

static void add_output(influence_study *s, const store_column *c)
{
    influence_output *o = &s->outputs[s->output_count++];
    o->column = c;
    name_output(o, s->asked.spread);
    influence_view *view = &o->view;
    view->factor_count = s->used;
    view->factors = s->names;
    view->label = o->label;
    view->unit = strcmp(c->units, "1") != 0 ? c->units : "";
    view->level = s->asked.how.level;
}

static const store_column *find_column(const influence_study *s, const char *name, size_t length)
{
    const store_study *file = store_reader_study(s->reader);
    for (size_t i = 0; i < file->output_count; i++)
        if (!strncmp(file->outputs[i].name, name, length) && !file->outputs[i].name[length])
            return &file->outputs[i];
    return NULL;
}

/* What the file has, for a message: as many as fit. */
static void list_outputs(const influence_study *s, char *text, size_t size)
{
    const store_study *file = store_reader_study(s->reader);
    size_t used = 0;
    for (size_t i = 0; i < file->output_count && used < size; i++) {
        const int n =
            snprintf(text + used, size - used, "%s%s", i ? ", " : "", file->outputs[i].name);
        used += n > 0 ? (size_t)n : 0;
    }
}

static caber_status add_asked(influence_study *s, caber_message *message)
{
    for (const char *name = s->asked.only, *next; name; name = next) {
        const size_t length = strcspn(name, ",");
        next = name[length] ? name + length + 1 : NULL;
        const store_column *c = find_column(s, name, length);
        char clip[TEXT_CLIP_SIZE], has[600], word[128];
        snprintf(word, sizeof word, "%.*s", (int)(length < 120 ? length : 120), name);
        if (!c) {
            list_outputs(s, has, sizeof has);
            return message_set(message, CABER_BAD_INPUT, "--only: %s has no output '%s'; it has %s",
                               s->asked.path, text_clip(word, clip), has);
        }
        for (size_t i = 0; i < s->output_count; i++)
            if (s->outputs[i].column == c)
                return message_set(message, CABER_BAD_INPUT, "--only: '%s' is given twice",
                                   text_clip(word, clip));
        add_output(s, c);
    }
    return CABER_OK;
}

/* All, or of many those that a fitter looks at first, or else the first ones. */
static void add_usual(influence_study *s)
{
    const store_study *file = store_reader_study(s->reader);
    size_t keys[OUTPUTS_KEYS];
    outputs_keys(keys);
    for (size_t i = 0; i < OUTPUTS_KEYS && s->output_room > INFLUENCE_OUTPUTS_USUAL; i++) {
        const char *name = caber_output_field(keys[i])->name;
        const store_column *c = find_column(s, name, strlen(name));
        if (c)
            add_output(s, c);
    }
    if (s->output_count)
        return;
    for (size_t i = 0; i < file->output_count; i++)
        if (is_usual(&file->outputs[i]) && s->output_count < INFLUENCE_OUTPUTS_USUAL)
            add_output(s, &file->outputs[i]);
}

static caber_status choose_outputs(influence_study *s, caber_message *message)
{
    const store_study *file = store_reader_study(s->reader);
    s->outputs = calloc(file->output_count + 1, sizeof *s->outputs);
    if (!s->outputs)
        return no_memory(message);
    for (size_t i = 0; i < file->output_count; i++)
        s->output_room += is_usual(&file->outputs[i]);
    if (s->asked.only)
        return add_asked(s, message);
    add_usual(s);
    if (s->output_count)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT, "%s: has no outputs", s->asked.path);
}

/* ------------------------------------------------------------------ one output */

static caber_status run_method(const influence_study *s, const double *y, influence_output *o,
                               caber_message *message)
{
    const study_notes *n = s->notes;
    if (s->method == INFLUENCE_SOBOL) {
        const size_t rows = s->count / influence_parts(n->factor_count, n->both);
        const influence_layout layout = influence_layout_by_row(rows, n->factor_count, n->both);
        return influence_sobol_run(&layout, y, &s->asked.how, &o->sobol, message);
    }
    if (s->method == INFLUENCE_MORRIS)
        return influence_morris_run(s->x, y, s->used, s->count / (s->used + 1), s->names,
                                    &s->asked.how, &o->morris, message);
    return influence_regression_run(s->x, y, s->count, s->used, s->asked.ranked, s->names,
                                    &s->asked.how, &o->regression, message);
}

/* `all` has room for the points of the design. An output of too few values is no failure of the others. */
static caber_status run_output(influence_study *s, influence_output *o, double *all,
                               caber_message *message)
{
    caber_status status = influence_read_output(s, o, all, message);
    if (status != CABER_OK)
        return status;
    for (size_t j = 0; j < s->count; j++)
        all[j] = all[s->points[j]]; /* points[j] is not below j */
    status = run_method(s, all, o, &o->why);
    if (o->view.decimals == DECIMALS_UNKNOWN)
        find_decimals(o);
    if (status == CABER_OK || status == CABER_BAD_INPUT)
        return CABER_OK;
    return message_set(message, status, "%s: %.900s", o->column->name, o->why.text);
}

static caber_status run_outputs(influence_study *s, caber_message *message)
{
    double *all = malloc(s->notes->points * sizeof *all);
    caber_status status = all ? CABER_OK : no_memory(message);
    bool any = false;
    for (size_t i = 0; i < s->output_count && status == CABER_OK; i++) {
        status = run_output(s, &s->outputs[i], all, message);
        any = any || !s->outputs[i].why.text[0];
    }
    free(all);
    if (status == CABER_OK && !any)
        status = message_set(message, CABER_BAD_INPUT, "%s: %s: %.800s", s->asked.path,
                             s->outputs[0].column->name, s->outputs[0].why.text);
    return status;
}

/* ------------------------------------------------------------------ all of it */

caber_status influence_run(const influence_request *asked, influence_study *out,
                           caber_message *message)
{
    *out = (influence_study){.asked = *asked};
    caber_status status = open_file(out, message);
    if (status == CABER_OK)
        status = choose_method(out, message);
    if (status == CABER_OK)
        status = influence_read_points(out, message);
    if (status == CABER_OK)
        status = influence_read_factors(out, message);
    if (status == CABER_OK)
        status = choose_outputs(out, message);
    return status == CABER_OK ? run_outputs(out, message) : status;
}

void influence_free(influence_study *s)
{
    for (size_t i = 0; i < s->output_count; i++) {
        influence_sobol_free(s->outputs[i].sobol);
        influence_morris_free(s->outputs[i].morris);
        influence_regression_free(s->outputs[i].regression);
    }
    free(s->outputs);
    free(s->x);
    free(s->names);
    free(s->factors);
    free(s->points);
    free(s->good);
    study_notes_free(s->notes);
    store_reader_free(s->reader);
}
