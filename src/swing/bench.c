/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber_bench_run: a checked setup's club in the workshop. */
#include <gsl/gsl_errno.h>

#include "base/message.h"
#include "club/workshop.h"
#include "swing/check.h"

caber_status caber_bench_run(const caber_setup *setup, const caber_jig *jig, caber_bench *out,
                             caber_message *message)
{
    gsl_set_error_handler_off();
    caber_status status = setup_check(setup, message);
    club *c = NULL;
    if (status == CABER_OK)
        status = club_create(setup, &c, message);
    if (status == CABER_OK)
        status = workshop_measure(c, jig, out, message);
    club_free(c);
    return status == CABER_OK ? message_clear(message) : status;
}
