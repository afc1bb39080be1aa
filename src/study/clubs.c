/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/clubs.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"

/* A club, in a list with the one used last in front. */
typedef struct entry {
    struct entry *next;
    double *values;      /* [factor_count], of a point that swings it */
    size_t held;         /* by whom waits for it too */
    bool tried;          /* its making has ended */
    caber_status status; /* of that */
    caber_message why;
    caber_model *model;
} entry;

struct clubs {
    const caber_study *plan;
    size_t most, count;
    atomic_size_t made;
    pthread_mutex_t lock; /* of the list and all in it; not held while a model is made */
    pthread_cond_t ready; /* some entry has been tried */
    entry *first;
};

caber_status clubs_create(const caber_study *plan, size_t most, clubs **out, caber_message *message)
{
    clubs *all = *out = calloc(1, sizeof *all);
    if (!all)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    all->plan = plan;
    all->most = most;
    pthread_mutex_init(&all->lock, NULL);
    pthread_cond_init(&all->ready, NULL);
    return message_clear(message);
}

static void entry_free(entry *e)
{
    caber_model_free(e->model);
    free(e->values);
    free(e);
}

void clubs_free(clubs *all)
{
    if (!all)
        return;
    for (entry *e = all->first, *next; e; e = next) {
        next = e->next;
        entry_free(e);
    }
    pthread_cond_destroy(&all->ready);
    pthread_mutex_destroy(&all->lock);
    free(all);
}

size_t clubs_made(const clubs *all)
{
    return atomic_load(&all->made);
}

/* ------------------------------------------------------------------ the list, under the lock */

static void take_out(clubs *all, entry **at)
{
    entry *e = *at;
    *at = e->next;
    all->count--;
    entry_free(e);
}

/* Leaves the clubs that are held, and of the others those used last, as far as there is room. */
static void trim(clubs *all)
{
    while (all->count > all->most) {
        entry **oldest = NULL;
        for (entry **at = &all->first; *at; at = &(*at)->next)
            if ((*at)->held == 0)
                oldest = at;
        if (!oldest)
            return;
        take_out(all, oldest);
    }
}

static void let_go(clubs *all, entry *e)
{
    e->held--;
    /* There may be memory another time. */
    if (e->held == 0 && e->tried && e->status == CABER_NO_MEMORY)
        for (entry **at = &all->first; *at; at = &(*at)->next)
            if (*at == e) {
                take_out(all, at);
                break;
            }
    trim(all);
}

/* Returns the club of these values, now in front; NULL when it is not there. */
static entry *find(clubs *all, const double *values)
{
    for (entry **at = &all->first; *at; at = &(*at)->next) {
        entry *e = *at;
        if (!plan_same_club(all->plan, e->values, values))
            continue;
        *at = e->next;
        e->next = all->first;
        return all->first = e;
    }
    return NULL;
}

static entry *add(clubs *all, const double *values)
{
    entry *e = calloc(1, sizeof *e);
    const size_t size = all->plan->factor_count * sizeof *values;
    if (!e || !(e->values = malloc(size))) {
        free(e);
        return NULL;
    }
    memcpy(e->values, values, size);
    e->next = all->first;
    all->first = e;
    all->count++;
    return e;
}

/* ------------------------------------------------------------------ holding one */

/* Makes a club that this thread alone has seen to be wanting. */
static void make(clubs *all, entry *e, const caber_setup *setup)
{
    caber_model *model;
    caber_message why;
    pthread_mutex_unlock(&all->lock);
    const caber_status status = caber_model_create(setup, &model, &why);
    pthread_mutex_lock(&all->lock);
    e->model = model;
    e->status = status;
    e->why = why;
    e->tried = true;
    atomic_fetch_add(&all->made, status == CABER_OK);
    pthread_cond_broadcast(&all->ready);
}

caber_status clubs_hold(clubs *all, const plan_case *c, const caber_model **model,
                        caber_message *message)
{
    *model = NULL;
    pthread_mutex_lock(&all->lock);
    entry *e = find(all, c->values);
    const bool fresh = !e;
    if (fresh)
        e = add(all, c->values);
    if (!e) {
        pthread_mutex_unlock(&all->lock);
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    }
    e->held++;
    if (fresh)
        make(all, e, &c->setup);
    while (!e->tried)
        pthread_cond_wait(&all->ready, &all->lock);
    const caber_status status = e->status;
    *model = e->model;
    if (status != CABER_OK) {
        message_set(message, status, "%s", e->why.text);
        let_go(all, e);
    }
    trim(all);
    pthread_mutex_unlock(&all->lock);
    return status == CABER_OK ? message_clear(message) : status;
}

void clubs_drop(clubs *all, const caber_model *model)
{
    if (!model)
        return;
    pthread_mutex_lock(&all->lock);
    for (entry *e = all->first; e; e = e->next)
        if (e->model == model) {
            let_go(all, e);
            break;
        }
    pthread_mutex_unlock(&all->lock);
}
