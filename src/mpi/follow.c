/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * All ranks but 0. */
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "mpi/brief.h"
#include "mpi/crew.h"
#include "mpi/mail.h"
#include "mpi/ranks.h"

/* What one of them has. */
typedef struct follower {
    brief_head head;
    caber_study *plan;
    crew *own;
    void *bytes; /* [size] */
    size_t size;
} follower;

static caber_status follower_create(follower *f, const char *block, caber_message *message)
{
    const caber_status status = brief_read(&f->head, block, &f->plan, message);
    if (status != CABER_OK)
        return status;
    f->size = engine_result_size(f->plan);
    f->bytes = malloc(f->size);
    if (!f->bytes)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    return crew_create(f->plan, f->head.threads, &f->own, message);
}

static void follower_verdict(const follower *f, caber_status status, const caber_message *why)
{
    ranks_verdict verdict;
    memset(&verdict, 0, sizeof verdict);
    verdict.status = status;
    verdict.why = *why;
    verdict.size = f->size;
    mail_send(0, MAIL_VERDICT, &verdict, sizeof verdict);
}

/* Reads the study, says how that went, and returns whether chunks may be asked for. */
static bool follower_prepare(follower *f)
{
    caber_message why = {""};
    char *block = malloc(f->head.size);
    if (!block)
        exit(APP_UNFINISHED); /* it cannot even take part in the broadcast: the job ends */
    mail_share(block, f->head.size);
    const caber_status status = follower_create(f, block, &why);
    follower_verdict(f, status, &why);
    free(block);
    mail what;
    mail_wait(&what);
    mail_take(&what, NULL);
    return what.kind == MAIL_GO;
}

static void follower_answer(follower *f, const crew_done *done)
{
    if (done->status == CABER_OK) {
        engine_result_pack(f->plan, done->result, f->bytes);
        mail_send(0, MAIL_RESULT, f->bytes, f->size);
    } else {
        follower_verdict(f, done->status, &done->why);
    }
}

/* Each thread's one message is under way, or rank 0's answer, or it has a chunk, or it was told the end. */
static void follower_run(follower *f)
{
    int open = f->head.threads;
    for (int i = 0; i < open; i++)
        mail_send(0, MAIL_ASK, NULL, 0);
    while (open > 0) {
        mail what;
        size_t chunk;
        if (mail_has(&what)) {
            mail_take(&what, &chunk);
            if (what.kind == MAIL_CHUNK)
                crew_give(f->own, chunk);
            else
                open--;
            continue;
        }
        const crew_done *done = crew_wait(f->own, MAIL_NAP);
        if (done) {
            follower_answer(f, done);
            crew_release(f->own, done);
        }
    }
}

void ranks_follow(void)
{
    follower f = {.own = NULL};
    mail what;
    mail_wait(&what);
    mail_take(&what, &f.head);
    if (what.kind == MAIL_START && follower_prepare(&f))
        follower_run(&f);
    crew_free(f.own);
    caber_study_free(f.plan);
    free(f.bytes);
}
