/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/app.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "app/cautions.h"

void app_say(const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fprintf(stderr, "%s: ", app_name);
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
    fprintf(stderr, "%s: ", app_name);
    vfprintf(stderr, format, args);
    va_end(args);
    fprintf(stderr, "; try '%s %s%s--help'\n", app_name, command ? command->name : "",
            command ? " " : "");
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

/* A closed standard stream would be given to the next file that is opened, and results would be
 * written into that file. Returns whether standard output is there. */
static bool app_open_streams(void)
{
    bool output = fcntl(STDOUT_FILENO, F_GETFD) != -1;
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) == -1 && open("/dev/null", O_RDWR) != fd)
            return false;
    return output;
}

bool app_begin(void)
{
    /* A reader that went away, or a limit on the size of files, is an error of a write, not a
     * sudden end. */
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
    app_keep_memory();
    if (app_open_streams())
        return true;
    app_say("standard output is closed");
    return false;
}

app_exit app_end(app_exit rc)
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
