/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mpi/crew.h"

#include <math.h>
#include <pthread.h>
#include <stdlib.h>
#include <time.h>

#include "base/message.h"

typedef enum hand_state { HAND_IDLE, HAND_GIVEN, HAND_DONE, HAND_SEEN, HAND_LEAVES } hand_state;

/* One thread. Its state changes under the crew's lock; what it has finished is read while it is DONE or
 * SEEN, and then it does not touch it. */
typedef struct hand {
    crew *of;
    pthread_t thread;
    pthread_cond_t given;
    bool started;
    hand_state state;
    runner *run;
    engine_result *result;
    size_t chunk;
    crew_done done;
} hand;

struct crew {
    const caber_study *plan;
    clubs *all;
    pthread_mutex_t lock;
    pthread_cond_t finished;
    int count, idle; /* `idle` is of the thread that gives, alone */
    hand *hands;     /* [count] */
};

static void *hand_work(void *user)
{
    hand *h = user;
    crew *c = h->of;
    pthread_mutex_lock(&c->lock);
    for (;;) {
        while (h->state != HAND_GIVEN && h->state != HAND_LEAVES)
            pthread_cond_wait(&h->given, &c->lock);
        if (h->state == HAND_LEAVES)
            break;
        pthread_mutex_unlock(&c->lock);
        h->done.result = h->result;
        h->done.status = engine_run_chunk(h->run, c->plan, h->chunk, h->result, &h->done.why);
        pthread_mutex_lock(&c->lock);
        /* Whoever ends the crew has set HAND_LEAVES meanwhile. */
        if (h->state == HAND_GIVEN)
            h->state = HAND_DONE;
        pthread_cond_signal(&c->finished);
    }
    pthread_mutex_unlock(&c->lock);
    return NULL;
}

static caber_status hand_start(hand *h, caber_message *message)
{
    caber_status status = runner_create(h->of->plan, h->of->all, &h->run, message);
    if (status == CABER_OK)
        status = engine_result_create(h->of->plan, &h->result, message);
    if (status != CABER_OK)
        return status;
    h->started = pthread_create(&h->thread, NULL, hand_work, h) == 0;
    return h->started ? CABER_OK
                      : message_set(message, CABER_INTERNAL, "a thread could not be started");
}

/* Waiting is by the clock that nobody sets. */
static void crew_locks(crew *c)
{
    pthread_condattr_t steady;
    pthread_condattr_init(&steady);
    pthread_condattr_setclock(&steady, CLOCK_MONOTONIC);
    pthread_cond_init(&c->finished, &steady);
    pthread_condattr_destroy(&steady);
    pthread_mutex_init(&c->lock, NULL);
    for (int i = 0; i < c->count; i++) {
        c->hands[i].of = c;
        pthread_cond_init(&c->hands[i].given, NULL);
    }
}

caber_status crew_create(const caber_study *plan, int threads, crew **out, caber_message *message)
{
    *out = NULL;
    crew *c = calloc(1, sizeof *c);
    hand *hands = calloc((size_t)threads, sizeof *hands);
    if (!c || !hands) {
        free(c);
        free(hands);
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    }
    *c = (crew){.plan = plan, .count = threads, .idle = threads, .hands = hands};
    crew_locks(c);
    caber_status status = clubs_create(plan, CLUBS_KEPT, &c->all, message);
    for (int i = 0; status == CABER_OK && i < threads; i++)
        status = hand_start(&hands[i], message);
    if (status != CABER_OK) {
        crew_free(c);
        return status;
    }
    *out = c;
    return message_clear(message);
}

void crew_free(crew *c)
{
    if (!c)
        return;
    pthread_mutex_lock(&c->lock);
    for (int i = 0; i < c->count; i++) {
        c->hands[i].state = HAND_LEAVES;
        pthread_cond_signal(&c->hands[i].given);
    }
    pthread_mutex_unlock(&c->lock);
    for (int i = 0; i < c->count; i++) {
        hand *h = &c->hands[i];
        if (h->started)
            pthread_join(h->thread, NULL);
        runner_free(h->run);
        engine_result_free(h->result);
        pthread_cond_destroy(&h->given);
    }
    clubs_free(c->all);
    pthread_cond_destroy(&c->finished);
    pthread_mutex_destroy(&c->lock);
    free(c->hands);
    free(c);
}

int crew_idle(const crew *c)
{
    return c->idle;
}

int crew_busy(const crew *c)
{
    return c->count - c->idle;
}

static hand *crew_first(crew *c, hand_state state)
{
    for (int i = 0; i < c->count; i++)
        if (c->hands[i].state == state)
            return &c->hands[i];
    return NULL;
}

void crew_give(crew *c, size_t chunk)
{
    pthread_mutex_lock(&c->lock);
    hand *h = crew_first(c, HAND_IDLE);
    h->chunk = chunk;
    h->state = HAND_GIVEN;
    c->idle--;
    pthread_cond_signal(&h->given);
    pthread_mutex_unlock(&c->lock);
}

static struct timespec crew_until(double seconds)
{
    struct timespec at;
    clock_gettime(CLOCK_MONOTONIC, &at);
    const double whole = floor(seconds);
    at.tv_sec += (time_t)whole;
    at.tv_nsec += (long)(1e9 * (seconds - whole));
    if (at.tv_nsec >= 1000000000) {
        at.tv_nsec -= 1000000000;
        at.tv_sec++;
    }
    return at;
}

const crew_done *crew_wait(crew *c, double most)
{
    const struct timespec until = crew_until(most);
    pthread_mutex_lock(&c->lock);
    hand *h = crew_first(c, HAND_DONE);
    while (!h && pthread_cond_timedwait(&c->finished, &c->lock, &until) == 0)
        h = crew_first(c, HAND_DONE);
    if (h)
        h->state = HAND_SEEN;
    pthread_mutex_unlock(&c->lock);
    return h ? &h->done : NULL;
}

void crew_release(crew *c, const crew_done *done)
{
    pthread_mutex_lock(&c->lock);
    for (int i = 0; i < c->count; i++)
        if (&c->hands[i].done == done)
            c->hands[i].state = HAND_IDLE;
    c->idle++;
    pthread_mutex_unlock(&c->lock);
}
