/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Rank 0. */
#include "mpi/ranks.h"

#include <stdlib.h>

#include "base/message.h"
#include "files/files.h"
#include "mpi/brief.h"
#include "mpi/crew.h"
#include "mpi/mail.h"

typedef struct leader {
    sweep *s;
    const caber_study *plan;
    crew *own;             /* NULL when it runs no chunks itself */
    engine_result *result; /* of another rank */
    void *bytes;           /* of it, as it came */
    size_t next, chunks;
    int threads;         /* of each rank */
    int open;            /* threads of other ranks that were not told the end */
    caber_status status; /* of the first error */
    caber_message *message;
} leader;

static void leader_fail(leader *l, caber_status status, const caber_message *why)
{
    if (l->status == CABER_OK)
        l->status = message_set(l->message, status, "%s", why->text);
}

static void leader_fail_at(leader *l, int rank, const ranks_verdict *verdict)
{
    if (l->status == CABER_OK)
        l->status =
            message_set(l->message, verdict->status, "rank %d: %s", rank, verdict->why.text);
}

/* Whether rank 0 runs chunks itself. */
static bool leader_runs(const ranks *r)
{
    return r->count <= RANKS_FEW;
}

/* Of each rank, given what --threads says. */
static int threads_of(int given)
{
    return given > 0 ? given : 1;
}

/* ------------------------------------------------------------------ chunks */

static bool leader_next(leader *l, size_t *chunk)
{
    if (l->status != CABER_OK || sweep_stopped(l->s))
        return false;
    while (l->next < l->chunks && !sweep_wants(l->s, l->next))
        l->next++;
    if (l->next == l->chunks)
        return false;
    *chunk = l->next++;
    return true;
}

static void leader_keep(leader *l, const engine_result *result)
{
    caber_message why;
    if (l->status != CABER_OK)
        return;
    const caber_status status = sweep_take(l->s, result, &why);
    if (status != CABER_OK)
        leader_fail(l, status, &why);
}

static void leader_unpack(leader *l, int rank)
{
    ranks_verdict verdict;
    verdict.status = engine_result_unpack(l->plan, l->bytes, l->result, &verdict.why);
    if (verdict.status == CABER_OK)
        leader_keep(l, l->result);
    else
        leader_fail_at(l, rank, &verdict);
}

/* Takes a message of a thread of another rank, and answers it. */
static void leader_serve(leader *l, const mail *what)
{
    ranks_verdict verdict;
    mail_take(what, what->kind == MAIL_RESULT ? l->bytes : (void *)&verdict);
    if (what->kind == MAIL_RESULT)
        leader_unpack(l, what->rank);
    else if (what->kind == MAIL_VERDICT)
        leader_fail_at(l, what->rank, &verdict);
    size_t chunk;
    if (leader_next(l, &chunk)) {
        mail_send(what->rank, MAIL_CHUNK, &chunk, sizeof chunk);
        return;
    }
    mail_send(what->rank, MAIL_END, NULL, 0);
    l->open--;
}

/* Takes what a thread of its own has finished, and gives work to those that have none. */
static void leader_work(leader *l, double most)
{
    const crew_done *done = crew_wait(l->own, most);
    if (done) {
        if (done->status == CABER_OK)
            leader_keep(l, done->result);
        else
            leader_fail(l, done->status, &done->why);
        crew_release(l->own, done);
    }
    size_t chunk;
    while (crew_idle(l->own) > 0 && leader_next(l, &chunk))
        crew_give(l->own, chunk);
}

static void leader_run(leader *l)
{
    if (l->own)
        leader_work(l, 0);
    while (l->open > 0 || (l->own && crew_busy(l->own) > 0)) {
        mail what;
        const bool came = l->open > 0 && mail_has(&what);
        if (came)
            leader_serve(l, &what);
        if (l->own)
            leader_work(l, came ? 0 : MAIL_NAP);
        else if (!came)
            mail_nap();
    }
}

/* ------------------------------------------------------------------ the study, to all */

static caber_status tell_study(const ranks *r, const caber_study *plan, int threads,
                               caber_message *message)
{
    char *identity;
    const caber_status status = files_study_identity(plan, &identity, message);
    if (status != CABER_OK)
        return status;
    brief_head head = {.threads = threads};
    char *block = brief_pack(r->path, r->overrides, r->override_count, identity, &head);
    free(identity);
    if (!block)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    for (int rank = 1; rank < r->count; rank++)
        mail_send(rank, MAIL_START, &head, sizeof head);
    mail_share(block, head.size);
    free(block);
    return CABER_OK;
}

/* Waits for what all say of the study. Of several errors that of the first rank counts, so that it is the
 * same each time. */
static caber_status hear_verdicts(const ranks *r, size_t size, caber_message *message)
{
    ranks_verdict verdict, first = {.status = CABER_OK};
    int from = r->count;
    for (int left = r->count - 1; left > 0; left--) {
        mail what;
        mail_wait(&what);
        mail_take(&what, &verdict);
        if (verdict.status == CABER_OK && verdict.size != size)
            verdict.status = message_set(&verdict.why, CABER_BAD_INPUT,
                                         "another build of the program runs there");
        if (verdict.status != CABER_OK && what.rank < from) {
            from = what.rank;
            first = verdict;
        }
    }
    return from < r->count ? message_set(message, first.status, "rank %d: %s", from, first.why.text)
                           : CABER_OK;
}

static caber_status ranks_begin(const caber_study *plan, int threads, void *user,
                                caber_message *message)
{
    const ranks *r = user;
    const size_t size = engine_result_size(plan);
    if (r->count == 1)
        return CABER_OK;
    if (size > MAIL_MOST)
        return message_set(message, CABER_BAD_INPUT,
                           "a chunk of this study has %zu bytes, more than one message takes; keep "
                           "fewer series, or a coarser step",
                           size);
    const caber_status status = tell_study(r, plan, threads_of(threads), message);
    return status == CABER_OK ? hear_verdicts(r, size, message) : status;
}

/* ------------------------------------------------------------------ all of it */

static caber_status leader_create(leader *l, const ranks *r, caber_message *message)
{
    l->plan = sweep_plan(l->s);
    l->threads = threads_of(sweep_threads(l->s));
    l->chunks = engine_chunks(l->plan);
    l->bytes = malloc(engine_result_size(l->plan));
    if (!l->bytes)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    caber_status status = engine_result_create(l->plan, &l->result, message);
    if (status == CABER_OK && leader_runs(r))
        status = crew_create(l->plan, l->threads, &l->own, message);
    return status;
}

static caber_status ranks_run(sweep *s, void *user, caber_message *message)
{
    ranks *r = user;
    leader l = {.s = s, .message = message};
    caber_status status = leader_create(&l, r, message);
    if (status == CABER_OK) {
        for (int rank = 1; rank < r->count; rank++)
            mail_send(rank, MAIL_GO, NULL, 0);
        r->dismissed = true;
        l.open = (r->count - 1) * l.threads;
        leader_run(&l);
        status = l.status;
    }
    crew_free(l.own);
    engine_result_free(l.result);
    free(l.bytes);
    return status == CABER_OK ? message_clear(message) : status;
}

const sweep_driver ranks_driver = {.begin = ranks_begin, .run = ranks_run};

void ranks_dismiss(ranks *r)
{
    for (int rank = 1; rank < r->count && !r->dismissed; rank++)
        mail_send(rank, MAIL_END, NULL, 0);
    r->dismissed = true;
}

int ranks_workers(const ranks *r, int given)
{
    return (leader_runs(r) ? r->count : r->count - 1) * threads_of(given);
}
