/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber gather FILE.h5 SHARD.h5...: the parts of a study as one file. */
#include <limits.h>
#include <stdlib.h>

#include "app/app.h"
#include "app/sweep_parts.h"
#include "base/text.h"

/* Operands that are taken. */
enum { GATHER_MOST = 100001 };

static app_exit gather_result(const char *path, bool json)
{
    caber_message message = {""};
    sweep_tally *tally = malloc(sizeof *tally);
    const caber_status status = tally ? sweep_tally_read(path, tally, &message) : CABER_NO_MEMORY;
    const app_exit rc = status == CABER_OK ? sweep_tally_print(tally, path, NULL, json)
                                           : app_fail(status, &message);
    free(tally);
    return rc;
}

static app_exit gather_command(const options *given)
{
    const char *path = given->operands[0];
    if (!text_ends_with(path, ".h5"))
        return app_misused(given->command, "gather writes FILE.h5 first, not '%s'", path);
    caber_message message = {""};
    const caber_status status =
        store_gather(path, (const char *const *)given->operands + 1,
                     (size_t)given->operand_count - 1, given->text[OPTION_REPLACE], &message);
    if (status == CABER_OK)
        return gather_result(path, given->text[OPTION_JSON]);
    if (!text_ends_with(message.text, "is there already"))
        return app_fail(status, &message);
    app_say("%s; --replace writes it anew", message.text);
    return APP_BAD_INPUT;
}

const app_command cmd_gather = {
    .name = "gather",
    .operands = "FILE.h5 SHARD...",
    .least = 2,
    .most = GATHER_MOST,
    .summary = "Joins the parts of a study into one file",
    .details = "The parts were run with caber sweep --shard, all of them, and are given in any\n"
               "order. FILE.h5 is what one run without parts would have written, byte by byte.",
    .options = OPTION_BIT(OPTION_REPLACE) | OPTION_BIT(OPTION_JSON) | OPTION_BIT(OPTION_HELP),
    .run = gather_command,
};
