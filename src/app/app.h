/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What every command of the program shares: exit statuses, messages, the list of commands. */
#ifndef APP_APP_H
#define APP_APP_H

#include "app/options.h"
#include "caber.h"

/* How the program ends. */
typedef enum app_exit {
    APP_FINE = 0,
    APP_BAD_INPUT = 1,  /* a problem in the input, or a file or stream that cannot be written */
    APP_BAD_USAGE = 2,  /* the command line makes no sense */
    APP_UNFINISHED = 3, /* the computation could not finish */
} app_exit;

/* One command. Its options are those of options.h whose bit is set. */
typedef struct app_command {
    const char *name;
    const char *operands;       /* as shown after the name, such as "SETUP" */
    int least, most;            /* how many operands it takes */
    const char *summary;        /* one line, no full stop */
    const char *details;        /* a paragraph for --help */
    unsigned long long options; /* bits OPTION_BIT(...) */
    app_exit (*run)(const options *given);
} app_command;

extern const app_command cmd_profile, cmd_swing, cmd_bench, cmd_scatter, cmd_compare, cmd_shots,
    cmd_sweep, cmd_gather, cmd_table, cmd_influence, cmd_fields, cmd_report, cmd_serve;

/* The name of the program, as its messages begin; each program has its own, beside its main(). */
extern const char *const app_name;

/* How a program begins: signals that would end it in the middle of a write are errors of that write from
 * here on, and all standard streams are open. Returns false, after saying so, when standard output is
 * closed. */
bool app_begin(void);
/* How it ends: given its exit status; returns it, or says that what was printed has not arrived (a full disk
 * shows only here). */
app_exit app_end(app_exit rc);

/* Keeps what is freed for what is allocated next, which glibc otherwise gives back and asks for again, page
 * by page: for a study that makes a model a case that was two thirds of the making. For main() alone. */
void app_keep_memory(void);

/* Writes "caber: ..." and a newline to standard error. */
void app_say(const char *format, ...) __attribute__((format(printf, 1, 2)));
/* Given a failed call; says why on standard error and returns the exit status that fits it. */
app_exit app_fail(caber_status status, const caber_message *message);
/* Says what is wrong with the command line, and where help is; returns APP_BAD_USAGE.
 * command is NULL for the program itself. */
app_exit app_misused(const app_command *command, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Given a value to be printed under a name; returns whether it is a number, and says so when it is
 * not: no result that is not a number leaves the program. */
bool app_is_number(double value, const char *name);

/* Given text from a file, such as a name; prints it with control characters as '?'. */
void app_print_text(const char *text);
/* Prints what every result is read under. */
void app_print_cautions(void);

#endif
