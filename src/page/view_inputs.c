/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Every input of a setup with its value, its unit and what it may be, and the load program as curves. */
#include "app/cautions.h"
#include "app/inputs_json.h"
#include "page/page.h"

void view_inputs(page *p, const page_ask *ask, server_reply *out)
{
    caber_setup *setup;
    json_t *inputs;
    caber_message message = {""};
    if (!ask_setup_alone(&p->folders, ask->body, &setup, out))
        return;
    const caber_status status = inputs_json(setup, &inputs, &message);
    if (status == CABER_OK)
        reply_result(out, inputs, NULL, cautions_all, NULL);
    else
        reply_failed(out, status, &message);
    caber_setup_free(setup);
}

void view_load(page *p, const page_ask *ask, server_reply *out)
{
    caber_setup *setup;
    json_t *load, *notes = json_array();
    caber_message message = {""};
    if (!ask_setup_alone(&p->folders, ask->body, &setup, out)) {
        json_decref(notes);
        return;
    }
    const caber_status status = load_json(setup, &load, notes, &message);
    if (status == CABER_OK) {
        reply_result(out, load, notes, cautions_all, NULL);
    } else {
        json_decref(notes);
        reply_failed(out, status, &message);
    }
    caber_setup_free(setup);
}
