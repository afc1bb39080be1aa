/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber_bench_run and caber_rules_check: a checked setup's club in the workshop, and beside the rules. */
#include <gsl/gsl_errno.h>

#include "base/message.h"
#include "club/rules.h"
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

caber_status caber_rules_check(const caber_setup *setup, caber_rule *out, caber_message *message)
{
    gsl_set_error_handler_off();
    caber_status status = setup_check(setup, message);
    club *c = NULL;
    if (status == CABER_OK)
        status = club_create(setup, &c, message);
    if (status == CABER_OK)
        rules_fill(setup, c, out);
    club_free(c);
    return status == CABER_OK ? message_clear(message) : status;
}
