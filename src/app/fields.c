/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/fields.h"

#include "app/bench.h"
#include "base/units.h"
#include "caber.h"

static bool row_at(const caber_field *fields, size_t count, size_t i, fields_row *out)
{
    if (i < count)
        *out = (fields_row){fields[i].name, fields[i].unit, fields[i].meaning};
    return i < count;
}

static bool fields_impact_row(size_t i, fields_row *out)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    return row_at(fields, count, i, out);
}

static bool fields_shot_row(size_t i, fields_row *out)
{
    size_t count;
    const caber_field *fields = caber_shot_fields(&count);
    return row_at(fields, count, i, out);
}

static bool fields_series_row(size_t i, fields_row *out)
{
    size_t count;
    const caber_trace_field *fields = caber_trace_fields(&count);
    if (i < count)
        *out = (fields_row){fields[i].name, fields[i].unit, fields[i].meaning};
    return i < count;
}

static bool fields_bench_row(size_t i, fields_row *out)
{
    size_t count;
    const bench_row *rows = bench_rows(&count);
    if (i < count)
        *out = (fields_row){rows[i].name, rows[i].unit, rows[i].meaning};
    return i < count;
}

/* The table makes its rows as they are asked for; the texts behind a row's pointers stay. */
static bool fields_measured_row(size_t i, fields_row *out)
{
    caber_measurable row;
    if (!caber_measurable_at(i, &row))
        return false;
    *out = (fields_row){row.name, row.unit, row.meaning};
    return true;
}

const fields_kind fields_kinds[FIELDS_KINDS] = {
    {"impact", "Values of a swing at impact, and of its handle", fields_impact_row},
    {"shot", "Values of the ball after a swing", fields_shot_row},
    {"series", "Values of a swing through time", fields_series_row},
    {"bench", "Values of the bench", fields_bench_row},
    {"measured", "What may be measured of a shot", fields_measured_row},
};

json_t *fields_json(const fields_kind *kind)
{
    json_t *list = json_array();
    int failed = !list;
    fields_row row;
    for (size_t i = 0; kind->row(i, &row); i++)
        failed |= json_array_append_new(list, json_pack("{ss ss ss}", "name", row.name, "unit",
                                                        row.unit, "meaning", row.meaning));
    if (!failed)
        return list;
    json_decref(list);
    return NULL;
}

json_t *fields_all_json(void)
{
    json_t *object = json_object();
    int failed = !object;
    for (size_t k = 0; k < FIELDS_KINDS; k++)
        failed |= json_object_set_new(object, fields_kinds[k].name, fields_json(&fields_kinds[k]));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

json_t *fields_units_json(void)
{
    size_t count;
    const unit *units = unit_table(&count);
    json_t *list = json_array();
    int failed = !list;
    for (size_t i = 0; i < count; i++)
        failed |= json_array_append_new(
            list, json_pack("{ss ss ss sf sf sf}", "unit", units[i].symbol, "of",
                            dimension_title(units[i].dim), "si", dimension_si(units[i].dim),
                            "times", units[i].times, "over", units[i].over, "zero", units[i].zero));
    if (!failed)
        return list;
    json_decref(list);
    return NULL;
}
