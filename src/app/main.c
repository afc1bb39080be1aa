/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber: the program. Finds the command and runs it; every command returns its exit status. */
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "app/app.h"
#include "app/cautions.h"

static const app_command *const commands[] = {
    &cmd_profile, &cmd_swing,  &cmd_bench, &cmd_scatter,   &cmd_compare, &cmd_shots,
    &cmd_sweep,   &cmd_gather, &cmd_table, &cmd_influence, &cmd_serve,   &cmd_fields};

enum { COMMAND_COUNT = sizeof commands / sizeof *commands };

void app_say(const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fputs("caber: ", stderr);
    vfprintf(stderr, format, args);
    fputc('\n', stderr);
    va_end(args);
}

app_exit app_fail(caber_status status, const caber_message *message)
{
    app_say("%s", message->text[0] ? message->text : caber_status_text(status));
    return status == CABER_BAD_INPUT || status == CABER_IO_ERROR ? APP_BAD_INPUT : APP_UNFINISHED;
}

app_exit app_misused(const app_command *command, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fputs("caber: ", stderr);
    vfprintf(stderr, format, args);
    va_end(args);
    fprintf(stderr, "; try 'caber %s%s--help'\n", command ? command->name : "", command ? " " : "");
    return APP_BAD_USAGE;
}

bool app_is_number(double value, const char *name)
{
    if (isfinite(value))
        return true;
    app_say("the computation gave no number for %s; nothing is printed", name);
    return false;
}

void app_print_text(const char *text)
{
    for (const unsigned char *c = (const unsigned char *)text; *c; c++)
        putchar(*c < 0x20 || *c == 0x7f ? '?' : *c);
}

void app_print_cautions(void)
{
    for (size_t i = 0; cautions_all[i]; i++)
        puts(cautions_all[i]);
}

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

/* A closed standard stream would be given to the next file that is opened, and results would be
 * written into that file. Returns whether standard output is there. */
static bool main_open_streams(void)
{
    bool output = fcntl(STDOUT_FILENO, F_GETFD) != -1;
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) == -1 && open("/dev/null", O_RDWR) != fd)
            return false;
    return output;
}

/* Everything printed must have arrived: a full disk shows only here. */
static app_exit main_close_output(app_exit rc)
{
    errno = 0;
    bool failed = ferror(stdout) != 0;
    failed |= fflush(stdout) != 0;
    int reason = errno;
    failed |= fclose(stdout) != 0;
    if (!failed)
        return rc;
    app_say("cannot write to standard output%s%s", reason ? ": " : "",
            reason ? strerror(reason) : "");
    return rc == APP_FINE ? APP_BAD_INPUT : rc;
}

int main(int argc, char **argv)
{
    /* A reader that went away, or a limit on the size of files, is an error of a write, not a
     * sudden end. */
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
    if (!main_open_streams()) {
        app_say("standard output is closed");
        return APP_BAD_INPUT;
    }
    return main_close_output(main_run(argc, argv));
}
