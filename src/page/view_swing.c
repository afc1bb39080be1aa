/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Swings to their impact, as caber swing --json prints it. */
#include <stdio.h>

#include "app/cautions.h"
#include "app/json.h"
#include "app/swung.h"
#include "page/page.h"

void view_swing(page *p, const page_ask *ask, server_reply *out)
{
    caber_setup *setup;
    swung s;
    caber_message message = {""};
    if (!ask_setup_alone(&p->folders, ask->body, &setup, out))
        return;
    const caber_status status = swung_run(setup, NULL, &s, &message);
    if (status == CABER_OK) {
        json_t *notes = json_array();
        swung_notes(&s, notes);
        reply_result(out, json_app_swing(setup, &s.swing, &s.shots), notes, cautions_all, NULL);
    } else {
        reply_failed(out, status, &message);
    }
    caber_setup_free(setup);
}

/* ------------------------------------------------------------------ several at once */

/* Swings one of several into the lists. Returns whether it could. */
static bool swings_add(const caber_setup *setup, size_t which, json_t *list, json_t *notes,
                       server_reply *out)
{
    swung s;
    caber_message message = {""};
    const caber_status status = swung_run(setup, NULL, &s, &message);
    if (status != CABER_OK) {
        caber_message said = {""};
        snprintf(said.text, sizeof said.text, "setup %zu, %s: %.800s", which + 1, setup->name,
                 message.text);
        reply_failed(out, status, &said);
        return false;
    }
    json_t *own = json_array();
    swung_notes(&s, own);
    size_t i;
    json_t *note;
    json_array_foreach(own, i, note)
    {
        json_app_note(notes, "setup %zu, %s: %s", which + 1, setup->name, json_string_value(note));
    }
    json_decref(own);
    json_array_append_new(list, json_app_swing(setup, &s.swing, &s.shots));
    return true;
}

void view_swings(page *p, const page_ask *ask, server_reply *out)
{
    static const char *const keys[] = {"setups", NULL};
    caber_setup *setups[ASK_SETUPS];
    size_t count = 0;
    bool good = ask_only(ask->body, "", keys, out) &&
                ask_setups(&p->folders, ask->body, "setups", 1, ASK_SETUPS, setups, &count, out);
    json_t *list = json_array(), *notes = json_array();
    for (size_t i = 0; good && i < count; i++)
        good = swings_add(setups[i], i, list, notes, out);
    if (good && json_array_size(list) < count) {
        json_decref(list); /* a number is none */
        list = NULL;
    }
    if (good) {
        reply_result(out, list, notes, cautions_all, NULL);
    } else {
        json_decref(list);
        json_decref(notes);
    }
    for (size_t i = 0; i < count; i++)
        caber_setup_free(setups[i]);
}
