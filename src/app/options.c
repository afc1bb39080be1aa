/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/options.h"

#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"

typedef struct option_row {
    const char *name, *argument, *help;
} option_row;

static const option_row option_rows[OPTION_COUNT] = {
#define OPTION_ROW(symbol, name, argument, help) {name, argument, help},
    OPTION_LIST(OPTION_ROW)
#undef OPTION_ROW
};

/* getopt_long returns this plus the index in option_rows. */
enum { OPTION_BASE = 256 };

/* Fills getopt's table with the options the command has. */
static void options_table(const app_command *command, struct option *table)
{
    size_t n = 0;
    for (int id = 0; id < OPTION_COUNT; id++) {
        if (!(command->options & OPTION_BIT(id)))
            continue;
        table[n].name = option_rows[id].name;
        table[n].has_arg = option_rows[id].argument ? required_argument : no_argument;
        table[n].flag = NULL;
        table[n].val = OPTION_BASE + id;
        n++;
    }
    memset(&table[n], 0, sizeof table[n]);
}

static int options_keep(options *out, int id, const char *text)
{
    out->text[id] = text ? text : "";
    if (id != OPTION_SET && id != OPTION_WHERE)
        return APP_FINE;
    const char *equals = strchr(text, '=');
    if (!equals || equals == text)
        return app_misused(out->command, "--%s takes %s, not '%s'", option_rows[id].name,
                           id == OPTION_SET ? "path=value" : "name=value", text);
    if (id == OPTION_SET)
        out->overrides[out->override_count++] = text;
    else
        out->conditions[out->condition_count++] = text;
    return APP_FINE;
}

/* Says which word getopt_long did not know. A single letter stands in optopt, not at optind. */
static int options_unknown(const app_command *command, char **argv)
{
    if (optopt > 0 && optopt < OPTION_BASE)
        return app_misused(command, "%s has no option '-%c'", command->name, optopt);
    const char *word = argv[optind - 1];
    if (optopt >= OPTION_BASE)
        return app_misused(command, "'%s': this option takes no value", word);
    return app_misused(command, "%s has no option '%s'", command->name, word);
}

static int options_check_operands(const options *given)
{
    const app_command *command = given->command;
    if (given->text[OPTION_HELP])
        return APP_FINE;
    if (given->operand_count < command->least)
        return app_misused(command, "%s needs %s", command->name, command->operands);
    if (given->operand_count > command->most)
        return app_misused(command, "%s takes at most %d operand%s, not '%s' as well",
                           command->name, command->most, command->most == 1 ? "" : "s",
                           given->operands[command->most]);
    return APP_FINE;
}

int options_read(const app_command *command, int argc, char **argv, options *out)
{
    memset(out, 0, sizeof *out);
    out->command = command;
    out->overrides = calloc((size_t)argc + 1, sizeof *out->overrides);
    out->conditions = calloc((size_t)argc + 1, sizeof *out->conditions);
    if (!out->overrides || !out->conditions) {
        app_say("out of memory");
        return APP_UNFINISHED;
    }
    struct option table[OPTION_COUNT + 1];
    options_table(command, table);
    opterr = 0;
    optind = 1;
    for (;;) {
        int got = getopt_long(argc, argv, ":", table, NULL);
        if (got == -1)
            break;
        if (got == ':')
            return app_misused(command, "%s needs a value", argv[optind - 1]);
        if (got < OPTION_BASE)
            return options_unknown(command, argv);
        int rc = options_keep(out, got - OPTION_BASE, optarg);
        if (rc != APP_FINE)
            return rc;
    }
    out->operands = argv + optind;
    out->operand_count = argc - optind;
    return options_check_operands(out);
}

void options_free(options *given)
{
    free(given->overrides);
    given->overrides = NULL;
    free(given->conditions);
    given->conditions = NULL;
}

int options_read_count(const options *given, option_id id, int least, int most, int *value)
{
    const char *text = given->text[id];
    if (!text)
        return APP_FINE;
    char *end;
    errno = 0;
    const long count = strtol(text, &end, 10);
    if (errno || end == text || *end || count < least || count > most) {
        app_say("--%s: '%s' is not a whole number from %d to %d", option_rows[id].name, text, least,
                most);
        return APP_BAD_INPUT;
    }
    *value = (int)count;
    return APP_FINE;
}

void options_print_help(const app_command *command)
{
    printf("Usage: caber %s%s%s [OPTION]...\n", command->name, *command->operands ? " " : "",
           command->operands);
    printf("%s.\n\n%s\n\nOptions:\n", command->summary, command->details);
    for (int id = 0; id < OPTION_COUNT; id++) {
        if (!(command->options & OPTION_BIT(id)))
            continue;
        const option_row *row = &option_rows[id];
        char left[64];
        snprintf(left, sizeof left, "--%s%s%s", row->name, row->argument ? " " : "",
                 row->argument ? row->argument : "");
        printf("  %-21s %s\n", left, row->help);
    }
}
