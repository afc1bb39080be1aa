/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What every rank must know to run the same study: the path, the overrides and the identity that rank 0 has
 * read. As one block of bytes, for mail_share. */
#ifndef MPI_BRIEF_H
#define MPI_BRIEF_H

#include "caber.h"

/* What is sent before the block. */
typedef struct brief_head {
    size_t size;      /* of the block */
    size_t overrides; /* how many */
    int threads;      /* that run chunks, of each rank */
} brief_head;

/* Given the texts; fills head's size and overrides, and returns the block, to be freed with free(), or NULL
 * for want of memory. */
char *brief_pack(const char *path, const char *const *overrides, size_t override_count,
                 const char *identity, brief_head *head);
/* Given a block as it came; reads the study. Errors: those of caber_study_read; CABER_BAD_INPUT with the
 * difference when its identity is another one. */
caber_status brief_read(const brief_head *head, const char *block, caber_study **plan,
                        caber_message *message);

#endif
