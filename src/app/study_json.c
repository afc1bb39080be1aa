/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <string.h>

#include "app/study_table.h"
#include "app/study_where.h"

static json_t *number_or_null(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

json_t *study_cases_json(const study_cases *c)
{
    return json_pack("{ss sI sI sI}", "file", c->path, "cases", (json_int_t)c->counts.taken,
                     "failed_left_out", (json_int_t)c->counts.failed, "not_run_left_out",
                     (json_int_t)c->counts.not_run);
}

/* The values of a factor with few of them, words by their name. */
static json_t *json_values(const study_summary *s)
{
    if (s->values > STUDY_VALUES_MOST)
        return json_null();
    json_t *list = json_array();
    for (size_t i = 0; i < s->values; i++) {
        const char *word = study_column_word(s->column, s->value[i]);
        json_array_append_new(list, json_pack("{so sI}", "value",
                                              word ? json_string(word) : json_real(s->value[i]),
                                              "cases", (json_int_t)s->cases[i]));
    }
    return list;
}

static json_t *json_column(const study_summary *s)
{
    const study_column *c = s->column;
    const bool words = c->factor && c->factor->words; /* places in a list have no mean */
    json_t *object = json_pack("{ss ss ss sI}", "name", c->name, "unit", c->unit, "meaning",
                               c->stored->long_name, "none", (json_int_t)s->none);
    if (object && !words) {
        json_object_set_new(object, "smallest", number_or_null(s->least));
        json_object_set_new(object, "mean", number_or_null(running_mean(&s->numbers)));
        json_object_set_new(object, "largest", number_or_null(s->most));
    }
    if (object && c->factor)
        json_object_set_new(object, "path", json_string(c->factor->path));
    if (object && c->role == STUDY_COLUMN_FACTOR)
        json_object_set_new(object, "values", json_values(s));
    return object;
}

static json_t *json_columns(const study_overview *o, study_role role)
{
    json_t *list = json_array();
    for (size_t k = 0; k < o->cases->column_count; k++)
        if (o->columns[k].column->role == role && !(role == STUDY_COLUMN_SERIES && o->skipped))
            json_array_append_new(list, json_column(&o->columns[k]));
    return list;
}

static json_t *json_failures(const study_progress *p)
{
    json_t *list = json_array();
    for (int status = CABER_OK + 1; status + 1 < STUDY_STATUS_MOST; status++)
        if (p->count[1 + status])
            json_array_append_new(
                list, json_pack("{ss sI sI ss}", "status", store_status_word(status), "cases",
                                (json_int_t)p->count[1 + status], "first_case",
                                (json_int_t)p->first[1 + status], "reason", p->reason[1 + status]));
    return list;
}

static void add_plan(json_t *object, const study_notes *n)
{
    json_object_set_new(object, "title", json_string(n->title));
    json_object_set_new(object, "note", json_string(n->note));
    json_object_set_new(object, "design", json_string(design_word(n->design)));
    json_object_set_new(object, "points", json_integer((json_int_t)n->points));
    json_object_set_new(object, "replicates", json_integer((json_int_t)n->replicates));
    json_object_set_new(object, "seed", json_real(n->seed));
}

/* Where the series stand. */
static json_t *json_grid(const store_study *s)
{
    if (!s->series_count)
        return json_null();
    return json_pack("{ss ss sI sf sf}", "name", s->grid.column.name, "unit", s->grid.column.units,
                     "places", (json_int_t)s->grid.count, "from", s->grid.at[0], "to",
                     s->grid.at[s->grid.count - 1]);
}

json_t *study_overview_json(const study_overview *o)
{
    const store_study *s = o->cases->study;
    const study_progress *p = &o->progress;
    json_t *object = study_cases_json(o->cases);
    if (!object)
        return NULL;
    if (o->cases->notes)
        add_plan(object, o->cases->notes);
    json_object_set_new(object, "run",
                        json_pack("{sI sI sI sI sI sI so}", "all_cases", (json_int_t)s->cases,
                                  "shard", (json_int_t)s->shard, "shards", (json_int_t)s->shards,
                                  "cases_of_shard", (json_int_t)p->mine, "run", (json_int_t)p->run,
                                  "failed", (json_int_t)p->failed, "failures", json_failures(p)));
    json_object_set_new(object, "version", json_string(s->version));
    json_object_set_new(object, "factors", json_columns(o, STUDY_COLUMN_FACTOR));
    json_object_set_new(object, "outputs", json_columns(o, STUDY_COLUMN_OUTPUT));
    json_object_set_new(object, "series", json_columns(o, STUDY_COLUMN_SERIES));
    json_object_set_new(object, "series_grid", json_grid(s));
    return object;
}
