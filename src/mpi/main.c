/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber-mpi: a study's cases on the processes of an MPI job. Rank 0 is the program, and the others run
 * chunks for it. */
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "mpi/mail.h"
#include "mpi/ranks.h"

const char *const app_name = "caber-mpi";

static const char details[] =
    "As caber sweep, on the processes of an MPI job: mpirun -n N caber-mpi sweep STUDY. The\n"
    "file is the same, byte for byte. Every process reads the study, from the same path, and\n"
    "must find the same one. Process 0 hands out the cases and alone writes the file and\n"
    "prints; up to 64 processes it runs cases as well. --threads is of each process, 1 if not\n"
    "given. SIGINT, SIGTERM and SIGUSR1 to process 0 (or SIGUSR1 to mpirun, which passes it\n"
    "on) end the run once the cases that have begun are in the file; --resume goes on from\n"
    "there, and likewise after a process was lost.";

static void main_print_help(void)
{
    puts("Usage: mpirun -n PROCESSES caber-mpi sweep STUDY [OPTION]...\n"
         "A study's swings on the processes of an MPI job.\n\n"
         "Commands:\n"
         "  sweep STUDY      see caber-mpi sweep --help\n\n"
         "Options:\n"
         "  --help           print this and exit\n"
         "  --version        print the version and exit\n\n"
         "Exit status: 0 fine, 1 a problem in the input, 2 wrong usage, 3 the computation\n"
         "could not finish. Manual page: caber-mpi(1).");
}

static app_exit main_sweep(const app_command *command, const options *given, ranks *r)
{
    int threads = 0;
    const app_exit rc =
        (app_exit)options_read_count(given, OPTION_THREADS, 1, CABER_THREADS_MOST, &threads);
    if (rc != APP_FINE)
        return rc;
    if (given->text[OPTION_HELP]) {
        options_print_help(command);
        return APP_FINE;
    }
    r->path = given->operands[0];
    r->overrides = given->overrides;
    r->override_count = given->override_count;
    char program[64] = "caber-mpi";
    if (r->count > 1)
        snprintf(program, sizeof program, "mpirun -n %d caber-mpi", r->count);
    return sweep_run(given, program, ranks_workers(r, threads), &ranks_driver, r);
}

static app_exit main_run(int argc, char **argv, ranks *r)
{
    app_command command = cmd_sweep;
    command.details = details;
    const char *word = argc > 1 ? argv[1] : "";
    if (strcmp(word, "--help") == 0 && argc == 2) {
        main_print_help();
        return APP_FINE;
    }
    if (strcmp(word, "--version") == 0 && argc == 2) {
        printf("caber-mpi %s\n", caber_version());
        return APP_FINE;
    }
    if (!*word)
        return app_misused(NULL, "no command was given");
    if (strcmp(word, command.name) != 0)
        return app_misused(NULL, "the one command is sweep, not '%s'", word);
    options given;
    app_exit rc = (app_exit)options_read(&command, argc - 1, argv + 1, &given);
    if (rc == APP_FINE)
        rc = main_sweep(&command, &given, r);
    options_free(&given);
    return rc;
}

/* mpirun passes these two on, where it turns the signals that ask for an end into a killed job. */
static void main_on_user_signal(int number)
{
    (void)number;
    raise(SIGTERM);
}

/* Rank 0 alone decides when the run ends; the others are told. */
static void main_signals(int rank)
{
    if (rank > 0) {
        signal(SIGINT, SIG_IGN);
        signal(SIGTERM, SIG_IGN);
    }
    void (*const act)(int) = rank > 0 ? SIG_IGN : main_on_user_signal;
    signal(SIGUSR1, act);
    signal(SIGUSR2, act);
}

int main(int argc, char **argv)
{
    if (!app_begin())
        return APP_BAD_INPUT;
    ranks r = {.dismissed = false};
    mail_begin(&argc, &argv, &r.rank, &r.count);
    main_signals(r.rank);
    app_exit rc = APP_FINE;
    if (r.rank == 0) {
        rc = app_end(main_run(argc, argv, &r));
        ranks_dismiss(&r);
    } else {
        ranks_follow();
    }
    mail_end();
    return rc;
}
