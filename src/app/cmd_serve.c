/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber serve: the live page on the loopback interface. The commands stand above src/page, which stands above
 * the tables and JSON of this folder. */
#define _XOPEN_SOURCE 700 /* realpath */
#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/app.h"
#include "page/jobs.h"
#include "page/routes.h"

extern char **environ;

enum { THREADS_MOST = 64, PATH_SIZE = 4096 };
/* For jobs to end after they were told to, s. */
static const double patience = 5;

static bool is_folder(const char *path)
{
    struct stat info;
    return stat(path, &info) == 0 && S_ISDIR(info.st_mode);
}

/* The models beside the program as it is installed: .../bin/caber, .../share/caber/models. */
static bool installed_models(char path[PATH_SIZE])
{
    static const char models[] = "/share/caber/models";
    const ssize_t length = readlink("/proc/self/exe", path, PATH_SIZE - sizeof models);
    if (length <= 0 || length >= (ssize_t)(PATH_SIZE - sizeof models))
        return false;
    path[length] = '\0';
    for (int up = 0; up < 2; up++) {
        char *slash = strrchr(path, '/');
        if (!slash)
            return false;
        *slash = '\0';
    }
    strcat(path, models);
    return is_folder(path);
}

static app_exit serve_folders(const options *given, folders *out)
{
    char installed[PATH_SIZE];
    caber_message message = {""};
    const char *models = given->text[OPTION_MODELS];
    if (!models && is_folder("models"))
        models = "models";
    if (!models && installed_models(installed))
        models = installed;
    if (!models) {
        app_say("there is no folder 'models' here; --models says where the model files are");
        return APP_BAD_INPUT;
    }
    const caber_status status = folders_open(models, given->text[OPTION_FOLDER], out, &message);
    return status == CABER_OK ? APP_FINE : app_fail(status, &message);
}

static app_exit serve_read(const options *given, page *p)
{
    const long processors = sysconf(_SC_NPROCESSORS_ONLN);
    p->threads = processors < 1 ? 1 : processors > 16 ? 16 : (int)processors;
    p->limits = server_settings_default();
    int rc = options_read_count(given, OPTION_PORT, 1, 65535, &p->limits.port);
    if (rc == APP_FINE)
        rc = options_read_count(given, OPTION_THREADS, 1, THREADS_MOST, &p->threads);
    p->limits.workers = p->threads;
    return (app_exit)rc;
}

/* A browser that does not open is no reason to end. */
static void serve_open(const char *address)
{
    char program[] = "xdg-open", *words[] = {program, NULL, NULL};
    pid_t child;
    char *copy = strdup(address);
    words[1] = copy;
    signal(SIGCHLD, SIG_IGN);
    const int reason = copy ? posix_spawnp(&child, program, NULL, NULL, words, environ) : ENOMEM;
    if (reason)
        app_say("the browser cannot be opened (xdg-open: %s)", strerror(reason));
    free(copy);
}

/* Prints the address and waits to be told to stop. */
static app_exit serve_until(const server *s, const options *given, const sigset_t *ends)
{
    char address[64];
    int caught;
    snprintf(address, sizeof address, "http://127.0.0.1:%d/", server_port(s));
    puts(address);
    if (fflush(stdout) != 0)
        return APP_BAD_INPUT; /* said when the program ends */
    if (given->text[OPTION_OPEN])
        serve_open(address);
    while (sigwait(ends, &caught) != 0)
        continue;
    return APP_FINE;
}

static app_exit serve_page(page *p, const options *given)
{
    sigset_t ends;
    server *s;
    caber_message message = {""};
    sigemptyset(&ends);
    sigaddset(&ends, SIGINT);
    sigaddset(&ends, SIGTERM);
    /* Before the threads begin, which take it over. */
    pthread_sigmask(SIG_BLOCK, &ends, NULL);
    json_object_seed(0);
    p->jobs = jobs_create(p);
    if (!p->jobs)
        return app_fail(CABER_NO_MEMORY, &message);
    const server_hooks hooks = routes_hooks(p);
    const caber_status status = server_start(&p->limits, &hooks, &s, &message);
    const app_exit rc =
        status == CABER_OK ? serve_until(s, given, &ends) : app_fail(status, &message);
    jobs_stop(p->jobs);
    /* What will not end in time goes with the process. */
    if ((status == CABER_OK && !server_stop(s)) || !jobs_free(p->jobs, patience))
        _exit(fflush(stdout) == 0 ? (int)rc : APP_BAD_INPUT);
    return rc;
}

static app_exit serve_run(const options *given)
{
    page p = {.threads = 1};
    app_exit rc = serve_read(given, &p);
    if (rc == APP_FINE)
        rc = serve_folders(given, &p.folders);
    if (rc != APP_FINE)
        return rc;
    pthread_mutex_init(&p.keep, NULL);
    rc = serve_page(&p, given);
    pthread_mutex_destroy(&p.keep);
    folders_close(&p.folders);
    return rc;
}

const app_command cmd_serve = {
    .name = "serve",
    .operands = "",
    .least = 0,
    .most = 0,
    .summary = "Serves the live page on 127.0.0.1 and prints its address",
    .details =
        "The page and the interface it talks to are served to this machine only, and nothing is\n"
        "fetched from any network. Files are read below the models and the folder given with\n"
        "--folder, and written in the latter only. It ends on Ctrl-C, once begun work is done.",
    .options = OPTION_BIT(OPTION_THREADS) | OPTION_BIT(OPTION_PORT) | OPTION_BIT(OPTION_FOLDER) |
               OPTION_BIT(OPTION_MODELS) | OPTION_BIT(OPTION_OPEN) | OPTION_BIT(OPTION_HELP),
    .run = serve_run,
};
