/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/json.h"

json_t *json_app_impact(const caber_impact *impact, bool straight)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    json_t *object = json_object();
    int failed = !object;
    for (size_t i = 0; i < count; i++)
        if (!straight || fields[i].straight)
            failed |= json_object_set_new(object, fields[i].name,
                                          json_real(caber_impact_value(impact, &fields[i])));
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

static json_t *json_app_effort(const caber_effort *effort)
{
    return json_pack("{sIsIsIsI}", "steps", (json_int_t)effort->steps, "evaluations",
                     (json_int_t)effort->evaluations, "error_failures",
                     (json_int_t)effort->error_failures, "solver_failures",
                     (json_int_t)effort->solver_failures);
}

json_t *json_app_swing(const caber_setup *setup, const caber_swing *swing)
{
    return json_pack("{ss sb so so so}", "setup", setup->name, "met_ball", (int)swing->met_ball,
                     "impact", json_app_impact(&swing->bent, false), "straight",
                     json_app_impact(&swing->straight, true), "effort",
                     json_app_effort(&swing->effort));
}

app_exit json_app_print(json_t *value)
{
    if (!value) {
        app_say("the result could not be put into JSON");
        return APP_UNFINISHED;
    }
    /* A failed write shows when the program ends. */
    json_dumpf(value, stdout, JSON_INDENT(2) | JSON_REAL_PRECISION(17));
    putchar('\n');
    json_decref(value);
    return APP_FINE;
}
