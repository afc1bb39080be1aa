/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Messages between the processes ("ranks") of an MPI job. mail.c alone knows MPI. An error of MPI itself
 * ends the job, as MPI does by default. Only the thread that called mail_begin may call any of it. */
#ifndef MPI_MAIL_H
#define MPI_MAIL_H

#include <stdbool.h>
#include <stddef.h>

/* What the messages are; ranks.h says in which order. */
typedef enum mail_kind {
    MAIL_START,   /* to all others: a brief_head; a study follows, as mail_share */
    MAIL_VERDICT, /* to rank 0: a ranks_verdict, of the study or of a chunk; its thread is free */
    MAIL_GO,      /* from rank 0: chunks may be asked for */
    MAIL_ASK,     /* to rank 0: a thread is free */
    MAIL_CHUNK,   /* from rank 0: a chunk's number, as size_t */
    MAIL_RESULT,  /* to rank 0: a chunk's numbers; its thread is free */
    MAIL_END      /* from rank 0: no more */
} mail_kind;

/* A message that has come and was not taken. */
typedef struct mail {
    int rank; /* from whom */
    mail_kind kind;
    size_t size; /* bytes */
} mail;

/* The first call; gives this process's rank and how many there are. */
void mail_begin(int *argc, char ***argv, int *rank, int *count);
/* The last call; waits for all ranks. */
void mail_end(void);

/* Given a rank and at most MAIL_MOST bytes (NULL of none); sends them, perhaps waiting until they are
 * taken. */
void mail_send(int rank, mail_kind kind, const void *bytes, size_t size);
/* Whether a message has come, from any rank. */
bool mail_has(mail *what);
/* Waits for a message, without spinning. */
void mail_wait(mail *what);
/* Given a message that has come, room for its bytes. */
void mail_take(const mail *what, void *bytes);
/* Called by all ranks: gives the bytes of rank 0 to all. */
void mail_share(void *bytes, size_t size);
/* Leaves the processor to others for a moment. */
void mail_nap(void);

/* The most bytes of one message. */
enum { MAIL_MOST = 1 << 30 };
/* How long a moment is, s: a thousandth of what a chunk takes, and nothing to a processor. */
#define MAIL_NAP 1e-3

#endif
