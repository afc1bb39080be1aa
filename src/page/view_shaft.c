/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The shaft of a setup with its bands and sections, and a profile through bench readings, as caber profile
 * --json prints it. */
#include <string.h>

#include "app/cautions.h"
#include "app/json.h"
#include "app/profile.h"
#include "app/shaft_json.h"
#include "page/page.h"

void view_shaft(page *p, const page_ask *ask, server_reply *out)
{
    caber_setup *setup;
    json_t *shaft, *notes = json_array();
    caber_message message = {""};
    if (!ask_setup_alone(&p->folders, ask->body, &setup, out)) {
        json_decref(notes);
        return;
    }
    const caber_status status = shaft_json(setup, &shaft, notes, &message);
    if (status == CABER_OK) {
        reply_result(out, shaft, notes, cautions_all, NULL);
    } else {
        json_decref(notes);
        reply_failed(out, status, &message);
    }
    caber_setup_free(setup);
}

/* ------------------------------------------------------------------ readings */

/* Leaves out the reading of one line of one file. */
static bool leave_out(caber_readings *readings, const json_t *item, server_reply *out)
{
    static const char *const keys[] = {"file", "line", NULL};
    const char *file = json_string_value(json_object_get(item, "file"));
    const json_t *line = json_object_get(item, "line");
    bool found = false;
    if (!json_is_object(item) || !file || !json_is_integer(line)) {
        reply_wrong(out, "without", "a list of {file, line} is wanted");
        return false;
    }
    if (!ask_only(item, "without", keys, out))
        return false;
    for (size_t i = 0; i < readings->count; i++) {
        caber_reading *r = &readings->items[i];
        if (r->line > 0 && r->line == json_integer_value(line) &&
            strcmp(profile_file(r->source), file) == 0)
            found = r->left_out = true;
    }
    if (!found)
        reply_wrong(out, "without", "there is no reading in line %lld of %.100s",
                    (long long)json_integer_value(line), file);
    return found;
}

static bool leave_all_out(caber_readings *readings, const json_t *list, server_reply *out)
{
    size_t i;
    json_t *item;
    if (list && !json_is_array(list)) {
        reply_wrong(out, "without", "a list of {file, line} is wanted");
        return false;
    }
    json_array_foreach(list, i, item)
    {
        if (!leave_out(readings, item, out))
            return false;
    }
    return true;
}

void view_profile(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {"readings", "without", NULL};
    caber_readings *readings = NULL;
    caber_fit *fit = NULL;
    caber_message message = {""};
    if (ask_only(ask->body, "", keys, out) &&
        ask_readings(&p->folders, ask->body, "readings", &readings, out) &&
        leave_all_out(readings, json_object_get(ask->body, "without"), out)) {
        const caber_status status = caber_fit_run(readings, &fit, &message);
        folders_shorten(&p->folders, &message);
        if (status == CABER_OK)
            reply_result(out, json_app_profile(readings, fit), NULL, cautions_profile, NULL);
        else
            reply_failed(out, status, &message);
    }
    caber_fit_free(fit);
    caber_readings_free(readings);
}
