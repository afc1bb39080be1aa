/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber sweep STUDY: all cases of a study, on the threads of this process. */
#include "app/sweep.h"
#include "study/engine.h"

static bool driver_wants(void *user, size_t chunk)
{
    return sweep_wants(user, chunk);
}

static caber_status driver_take(void *user, const engine_result *result, caber_message *message)
{
    return sweep_take(user, result, message);
}

static bool driver_stop(void *user)
{
    return sweep_stopped(user);
}

static caber_status driver_run(sweep *s, void *user, caber_message *message)
{
    (void)user;
    const engine_sink sink = {s, driver_wants, driver_take, driver_stop};
    return engine_run(sweep_plan(s), sweep_threads(s), &sink, message);
}

static app_exit sweep_command(const options *given)
{
    return sweep_run(given, "caber", 0, driver_run, NULL);
}

const app_command cmd_sweep = {
    .name = "sweep",
    .operands = "STUDY",
    .least = 1,
    .most = 1,
    .summary = "Runs all cases of a study into one HDF5 file",
    .details =
        "STUDY is a study file: a setup, what is varied in it and how, and what is kept. Every\n"
        "finished case is safe: what was interrupted, killed or ran out of disk goes on with\n"
        "--resume. The file is the same for any number of threads, parts and interruptions.",
    .options = SWEEP_OPTIONS,
    .run = sweep_command,
};
