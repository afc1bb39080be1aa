/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber bench --trim-table: what cutting the tip of the shaft does to the club and to the player's
 * swing. */
#ifndef APP_TRIMS_H
#define APP_TRIMS_H

#include <jansson.h>

#include "app/app.h"

/* Rows at most. */
enum { TRIMS_MOST = 10 };

/* One tip trim. What is left out of the shaft at the tip is left on at the butt, so the playing length,
 * as the trade keeps it, is that of the setup; a shaft too short for that has short > 0 and no values. */
typedef struct trim_row {
    double tip, butt; /* m */
    double short_by;  /* m */
    bool own;         /* the setup's own */
    caber_bench bench;
    caber_swing swing;
    char swing_weight[16];
} trim_row;

typedef struct trims {
    caber_jig jig; /* by which they were measured */
    size_t count;
    trim_row rows[TRIMS_MOST];
} trims;

/* Given a setup and a jig; builds and swings the club at every tip trim. Errors: those of caber_bench_run
 * and caber_swing_run, with the trim. */
caber_status trims_find(const caber_setup *setup, const caber_jig *jig, trims *out,
                        caber_message *message);
/* Whether every swing met the ball, and what to say when one did not. */
bool trims_met(const trims *found);
extern const char *const trims_unmet;
/* Returns them as JSON, or NULL when a number is none or memory is out. */
json_t *trims_json(const caber_setup *setup, const trims *found);

/* The same for the command: builds and swings the club at every tip trim and prints
 * the table, or JSON. */
app_exit trims_run(const caber_setup *setup, const caber_jig *jig, const options *given);

#endif
