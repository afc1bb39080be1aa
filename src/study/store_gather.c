/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/message.h"
#include "study/store_journal.h"
#include "study/store_reader.h"
#include "study/store_render.h"

/* Shards under way to one file. */
typedef struct gather {
    const char *const *path;
    store_reader **reader; /* [shards], the one of shard i + 1 at i */
    const char **name;     /* [shards], its path */
    size_t shards;
    char *key; /* of the first one read, without its shard */
    const char *first;
} gather;

/* The reader of the shard that a chunk belongs to. */
static store_reader *gather_reader(const gather *g, size_t chunk)
{
    const size_t chunks = store_study_chunks(store_reader_study(g->reader[0]));
    size_t i = chunk * g->shards / chunks;
    while (!store_chunk_is_mine(store_reader_study(g->reader[i]), chunk))
        i++;
    return g->reader[i];
}

static bool gather_has(void *user, size_t chunk)
{
    (void)user;
    (void)chunk;
    return true;
}

/* Every chunk is held against its seal on its way. */
static caber_status gather_fetch(void *user, size_t chunk, store_bytes *bytes,
                                 caber_message *message)
{
    return store_reader_fetch(gather_reader(user, chunk), chunk, bytes, message);
}

/* Whether a shard is finished. */
static caber_status gather_check_done(const store_reader *r, const char *path,
                                      caber_message *message)
{
    const store_study *s = store_reader_study(r);
    size_t mine = 0, done = 0;
    for (size_t c = 0; c < store_study_chunks(s); c++) {
        mine += store_chunk_is_mine(s, c);
        done += store_chunk_is_mine(s, c) && store_reader_has(r, c);
    }
    if (done == mine)
        return message_clear(message);
    return message_set(message, CABER_BAD_INPUT,
                       "%s: %zu of the %zu chunks of shard %zu are not finished", path, mine - done,
                       mine, s->shard);
}

/* Whether a shard belongs to the first one. */
static caber_status gather_check_same(gather *g, const store_reader *r, const char *path,
                                      caber_message *message)
{
    char *key = store_key(store_reader_study(r), false);
    if (!key)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    if (!g->key) {
        g->key = key;
        g->first = path;
        return message_clear(message);
    }
    caber_status status = message_clear(message);
    if (strcmp(key, g->key) != 0) {
        char difference[700];
        store_key_difference(g->key, key, difference, sizeof difference);
        status = message_set(message, CABER_BAD_INPUT,
                             "%s is not of the study of %s, but has a difference: %s", path,
                             g->first, difference);
    }
    free(key);
    return status;
}

/* Gives a shard its place; takes the reader. */
static caber_status gather_place(gather *g, store_reader *r, const char *path,
                                 caber_message *message)
{
    const store_study *s = store_reader_study(r);
    caber_status status = gather_check_same(g, r, path, message);
    if (status == CABER_OK && s->shards != g->shards)
        status = message_set(message, CABER_BAD_INPUT,
                             "%s is shard %zu of %zu, but %zu files were given", path, s->shard,
                             s->shards, g->shards);
    else if (status == CABER_OK && g->reader[s->shard - 1])
        status = message_set(message, CABER_BAD_INPUT, "%s and %s are both shard %zu of %zu",
                             g->name[s->shard - 1], path, s->shard, s->shards);
    if (status == CABER_OK)
        status = gather_check_done(r, path, message);
    if (status != CABER_OK) {
        store_reader_free(r);
        return status;
    }
    g->reader[s->shard - 1] = r;
    g->name[s->shard - 1] = path;
    return status;
}

/* With as many shards as there are places, each in its own, none is missing. */
static caber_status gather_open(gather *g, caber_message *message)
{
    caber_status status = message_clear(message);
    for (size_t i = 0; i < g->shards && status == CABER_OK; i++) {
        store_reader *r;
        status = store_reader_create(g->path[i], &r, message);
        if (status == CABER_OK)
            status = gather_place(g, r, g->path[i], message);
    }
    return status;
}

/* The lock of whoever writes this file keeps it ours meanwhile. */
static caber_status gather_write(gather *g, const char *path, bool replace, caber_message *message)
{
    store_journal lock;
    caber_status status = store_journal_open(path, &lock, message);
    if (status != CABER_OK)
        return status;
    if (!replace && access(path, F_OK) == 0)
        status = message_set(message, CABER_BAD_INPUT, "%s is there already", path);
    off_t at = 0;
    store_record record;
    const bool others = store_journal_next(&lock, &at, &record);
    if (status == CABER_OK && others && !replace)
        status = message_set(message, CABER_BAD_INPUT, "%s is there already", lock.path);
    if (status == CABER_OK) {
        store_study whole = *store_reader_study(g->reader[0]);
        whole.shard = whole.shards = 1;
        const store_source source = {g, gather_has, gather_fetch};
        status = store_render(&whole, &source, path, message);
    }
    if (status == CABER_OK || !lock.key)
        store_journal_remove(&lock, NULL);
    store_journal_close(&lock);
    return status;
}

caber_status store_gather(const char *path, const char *const *shards, size_t count, bool replace,
                          caber_message *message)
{
    if (!count)
        return message_set(message, CABER_BAD_INPUT, "no shards were given");
    gather g = {.path = shards, .shards = count};
    g.reader = calloc(count, sizeof *g.reader);
    g.name = calloc(count, sizeof *g.name);
    caber_status status = g.reader && g.name
                              ? gather_open(&g, message)
                              : message_set(message, CABER_NO_MEMORY, "out of memory");
    if (status == CABER_OK)
        status = gather_write(&g, path, replace, message);
    for (size_t i = 0; g.reader && i < count; i++)
        store_reader_free(g.reader[i]);
    free(g.reader);
    free(g.name);
    free(g.key);
    return status;
}
