/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber: the program. Finds the command and runs it; every command returns its exit status. */
#include <stdio.h>
#include <string.h>

#include "app/app.h"

static const app_command *const commands[] = {
    &cmd_profile, &cmd_swing, &cmd_bench,     &cmd_scatter, &cmd_compare, &cmd_shots, &cmd_sweep,
    &cmd_gather,  &cmd_table, &cmd_influence, &cmd_report,  &cmd_serve,   &cmd_fields};

enum { COMMAND_COUNT = sizeof commands / sizeof *commands };

const char *const app_name = "caber";

static void main_print_help(void)
{
    puts("Usage: caber COMMAND [OPERAND]... [OPTION]...\n"
         "Golf-shaft dynamics: from bench readings and a stiffness profile to the head at "
         "impact.\n\n"
         "Commands:");
    for (size_t i = 0; i < COMMAND_COUNT; i++) {
        char left[64];
        snprintf(left, sizeof left, "%s %s", commands[i]->name, commands[i]->operands);
        printf("  %-23s %s\n", left, commands[i]->summary);
    }
    puts("  help [COMMAND]          Prints this, or the help of a command\n\n"
         "Options:\n"
         "  --help           print this and exit\n"
         "  --version        print the version and exit\n\n"
         "Exit status: 0 fine, 1 a problem in the input, 2 wrong usage, 3 the computation\n"
         "could not finish. Manual pages: caber(1), caber-files(5).");
}

static const app_command *main_find(const char *name)
{
    for (size_t i = 0; i < COMMAND_COUNT; i++)
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    return NULL;
}

static app_exit main_help(int argc, char **argv)
{
    if (argc > 2)
        return app_misused(NULL, "help takes one command at most");
    if (argc < 2) {
        main_print_help();
        return APP_FINE;
    }
    const app_command *command = main_find(argv[1]);
    if (!command)
        return app_misused(NULL, "there is no command '%s'", argv[1]);
    options_print_help(command);
    return APP_FINE;
}

static app_exit main_run(int argc, char **argv)
{
    if (argc < 2)
        return app_misused(NULL, "no command was given");
    const char *word = argv[1];
    if (strcmp(word, "help") == 0)
        return main_help(argc - 1, argv + 1);
    if (word[0] == '-') {
        bool help = strcmp(word, "--help") == 0, version = strcmp(word, "--version") == 0;
        if (!help && !version)
            return app_misused(NULL, "there is no option '%s'", word);
        if (argc > 2)
            return app_misused(NULL, "%s stands alone", word);
        if (help)
            main_print_help();
        else
            printf("caber %s\n", caber_version());
        return APP_FINE;
    }
    const app_command *command = main_find(word);
    if (!command)
        return app_misused(NULL, "there is no command '%s'", word);
    options given;
    app_exit rc = (app_exit)options_read(command, argc - 1, argv + 1, &given);
    if (rc == APP_FINE && given.text[OPTION_HELP])
        options_print_help(command);
    else if (rc == APP_FINE)
        rc = command->run(&given);
    options_free(&given);
    return rc;
}

int main(int argc, char **argv)
{
    if (!app_begin())
        return APP_BAD_INPUT;
    return app_end(main_run(argc, argv));
}
