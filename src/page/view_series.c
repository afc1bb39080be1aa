/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A swing through time. */
#include "app/cautions.h"
#include "app/json.h"
#include "app/swung.h"
#include "page/page.h"

void view_series(page *p, const page_ask *ask, server_reply *out)
{
    caber_setup *setup;
    swung s;
    caber_message message = {""};
    if (!ask_setup_alone(&p->folders, ask->body, &setup, out))
        return;
    caber_trace *trace = caber_trace_create();
    const caber_status status = trace ? swung_run(setup, trace, &s, &message) : CABER_NO_MEMORY;
    if (status == CABER_OK) {
        json_t *notes = json_array();
        swung_notes(&s, notes);
        reply_result_text(out, swung_series_text(setup, s.swing.met_ball, trace), notes,
                          cautions_all);
    } else {
        reply_failed(out, status, &message);
    }
    caber_trace_free(trace);
    caber_setup_free(setup);
}
