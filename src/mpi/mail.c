/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mpi/mail.h"

#include <mpi.h>
#include <time.h>

void mail_begin(int *argc, char ***argv, int *rank, int *count)
{
    int level;
    MPI_Init_thread(argc, argv, MPI_THREAD_FUNNELED, &level);
    MPI_Comm_rank(MPI_COMM_WORLD, rank);
    MPI_Comm_size(MPI_COMM_WORLD, count);
}

void mail_end(void)
{
    MPI_Finalize();
}

void mail_send(int rank, mail_kind kind, const void *bytes, size_t size)
{
    MPI_Send(bytes, (int)size, MPI_BYTE, rank, (int)kind, MPI_COMM_WORLD);
}

bool mail_has(mail *what)
{
    int there, size;
    MPI_Status status;
    MPI_Iprobe(MPI_ANY_SOURCE, MPI_ANY_TAG, MPI_COMM_WORLD, &there, &status);
    if (!there)
        return false;
    MPI_Get_count(&status, MPI_BYTE, &size);
    *what = (mail){status.MPI_SOURCE, (mail_kind)status.MPI_TAG, (size_t)size};
    return true;
}

void mail_wait(mail *what)
{
    while (!mail_has(what))
        mail_nap();
}

void mail_take(const mail *what, void *bytes)
{
    MPI_Recv(bytes, (int)what->size, MPI_BYTE, what->rank, (int)what->kind, MPI_COMM_WORLD,
             MPI_STATUS_IGNORE);
}

void mail_share(void *bytes, size_t size)
{
    char *at = bytes;
    for (size_t part; size > 0; size -= part, at += part) {
        part = size < MAIL_MOST ? size : MAIL_MOST;
        MPI_Bcast(at, (int)part, MPI_BYTE, 0, MPI_COMM_WORLD);
    }
}

void mail_nap(void)
{
    const struct timespec moment = {.tv_nsec = (long)(1e9 * MAIL_NAP)};
    nanosleep(&moment, NULL);
}
