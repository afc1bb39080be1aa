/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A sweep as both programs run it, caber with threads and caber-mpi with ranks: the command line, the plan as
 * text, the file, progress and the end. What differs is the driver. */
#ifndef APP_SWEEP_H
#define APP_SWEEP_H

#include "app/app.h"
#include "study/store_plan.h"

typedef struct sweep sweep;

/* Runs all chunks that sweep_wants, and gives each to sweep_take, one call at a time; begins none once
 * sweep_stopped. Errors: those of sweep_take, and its own. */
typedef caber_status sweep_driver(sweep *s, void *user, caber_message *message);

const caber_study *sweep_plan(const sweep *s);
int sweep_threads(const sweep *s); /* as given with --threads, 0 when not */
bool sweep_wants(const sweep *s, size_t chunk);
caber_status sweep_take(sweep *s, const engine_result *result, caber_message *message);
bool sweep_stopped(const sweep *s); /* an interrupt asked for the end */

/* The whole command: reads the study, prints the plan (--plan) or opens the file, runs the driver and says
 * how it went. `program` is what the command to go on begins with, such as "caber" or "mpirun -n 8
 * caber-mpi". `workers` run cases side by side, for the plan's estimate; 0 = the threads of this process. */
app_exit sweep_run(const options *given, const char *program, int workers, sweep_driver *drive,
                   void *user);

/* The options that sweep_run reads. */
#define SWEEP_OPTIONS                                                                              \
    (OPTION_BIT(OPTION_SET) | OPTION_BIT(OPTION_STUDY_FILE) | OPTION_BIT(OPTION_PLAN) |            \
     OPTION_BIT(OPTION_SHARD) | OPTION_BIT(OPTION_RESUME) | OPTION_BIT(OPTION_REPLACE) |           \
     OPTION_BIT(OPTION_THREADS) | OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_HELP))

#endif
