/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A sweep shared by the processes ("ranks") of an MPI job. Rank 0 has the command line, the file and all
 * that is printed; the others are told what to run. Each reads the study itself, and a rank that finds
 * another one is an error: whatever rank 0 writes comes from the study that it has said.
 *
 * In order: rank 0 sends START and broadcasts the study's path, the overrides and its identity; every other
 * rank answers with its VERDICT; rank 0 opens the file and sends GO, or END if there is nothing to run. Then
 * each free thread of a rank has exactly one message under way: ASK, RESULT or VERDICT (an error) to rank 0,
 * answered by CHUNK, or by END when there is no more or the run ends early. So rank 0 knows when the last
 * thread has stopped, and no chunk that was begun is lost. A rank that is lost ends the job, as MPI does; what
 * was written is there for a resume.
 *
 * Rank 0 never waits in MPI while it has a thread of its own that runs chunks, and nobody spins: waiting is
 * by short sleeps, so that a rank that has nothing to do leaves its processor to others. */
#ifndef MPI_RANKS_H
#define MPI_RANKS_H

#include "app/sweep.h"

/* Beyond so many ranks rank 0 runs no chunks itself. Of 64 ranks whose cases take 5 ms each the file takes a
 * seventh of its processor (examples/cluster/README.md); with more, the swings it could still run are less than
 * one part in 64 of all, and the others would wait for its answers. */
enum { RANKS_FEW = 64 };

/* The ranks of this job, as one of them sees it. */
typedef struct ranks {
    int rank, count;
    const char *path;             /* of the study, on rank 0 */
    const char *const *overrides; /* on rank 0, [override_count] */
    size_t override_count;
    bool dismissed; /* nobody is left who waits for START or GO */
} ranks;

/* What a rank says of the study that it has read, or of a chunk that cannot be run. */
typedef struct ranks_verdict {
    caber_status status; /* CABER_OK, or why not */
    caber_message why;
    size_t size; /* engine_result_size */
} ranks_verdict;

/* Threads of all ranks that run chunks, given what --threads says (0 = nothing). */
int ranks_workers(const ranks *r, int given);

/* On rank 0: how sweep_run runs a sweep on all ranks; `user` is a ranks. Errors: those of any rank, with its
 * number. */
extern const sweep_driver ranks_driver;
/* On rank 0, at the end: lets the others go, should they still wait. */
void ranks_dismiss(ranks *r);
/* On another rank: does what rank 0 says until it says the end. Prints nothing. */
void ranks_follow(void);

#endif
