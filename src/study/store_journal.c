/* SPDX-License-Identifier: GPL-3.0-or-later */
#define _GNU_SOURCE /* F_OFD_SETLK */
#include "study/store_journal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/message.h"
#include "study/store_chunk.h"

static const char journal_mark[8] = "CABERJ1\n";
static const uint32_t record_mark = 0x4b4e4843; /* "CHNK" */
/* How much may stand in the journal without having reached the disk: only the loss of the machine,
 * not of the process, could take it away. */
enum { JOURNAL_UNSAFE = 16 << 20 };

typedef struct journal_head {
    char mark[8];
    uint32_t size, crc; /* of the key */
} journal_head;

typedef struct record_head {
    uint32_t mark, chunk, size, crc; /* of the payload */
    uint32_t head_crc;               /* of the four before */
} record_head;

static caber_status journal_error(const store_journal *j, const char *what, caber_message *message)
{
    return message_set(message, CABER_IO_ERROR, "%s: cannot %s: %s", j->path, what,
                       strerror(errno));
}

static bool journal_read(const store_journal *j, off_t at, void *bytes, size_t size)
{
    char *to = bytes;
    while (size) {
        ssize_t got = pread(j->fd, to, size, at);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            return false;
        to += got;
        at += got;
        size -= (size_t)got;
    }
    return true;
}

static bool journal_put(const store_journal *j, off_t at, const void *bytes, size_t size)
{
    const char *from = bytes;
    while (size) {
        ssize_t put = pwrite(j->fd, from, size, at);
        if (put < 0 && errno == EINTR)
            continue;
        if (put <= 0)
            return false;
        from += put;
        at += put;
        size -= (size_t)put;
    }
    return true;
}

/* ------------------------------------------------------------------ opening */

/* Locks the open file, which no fork or other descriptor of this process can then give away. Some
 * file systems of clusters know no locks; there, nothing is kept apart. */
static bool journal_lock(const store_journal *j)
{
    struct flock lock = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    return fcntl(j->fd, F_OFD_SETLK, &lock) == 0 || (errno != EAGAIN && errno != EACCES);
}

/* Whether what is locked still has its name: who finishes a study removes the journal. */
static bool journal_is_named(const store_journal *j)
{
    struct stat open_one, named;
    return fstat(j->fd, &open_one) == 0 && stat(j->path, &named) == 0 &&
           open_one.st_ino == named.st_ino && open_one.st_dev == named.st_dev;
}

static caber_status journal_open_locked(store_journal *j, caber_message *message)
{
    for (;;) {
        j->fd = open(j->path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
        if (j->fd < 0)
            return journal_error(j, "write", message);
        if (!journal_lock(j))
            return message_set(message, CABER_BAD_INPUT,
                               "%s: another process is writing this study", j->path);
        if (journal_is_named(j))
            return message_clear(message);
        close(j->fd);
    }
}

/* Reads the key. A head that is cut short is of a journal that was never begun. */
static caber_status journal_read_head(store_journal *j, caber_message *message)
{
    struct stat about;
    journal_head head = {{0}, 0, 0};
    if (fstat(j->fd, &about) != 0)
        return journal_error(j, "read", message);
    const size_t there = (size_t)about.st_size;
    const size_t marked = there < sizeof head.mark ? there : sizeof head.mark;
    if (!journal_read(j, 0, &head, there < sizeof head ? there : sizeof head))
        return journal_error(j, "read", message);
    if (memcmp(head.mark, journal_mark, marked) != 0)
        return message_set(message, CABER_BAD_INPUT, "%s: not a journal of a study", j->path);
    j->end = 0;
    if (there < sizeof head + head.size || there < sizeof head)
        return message_clear(message);
    j->key = calloc(1, (size_t)head.size + 1);
    if (!j->key)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    if (!journal_read(j, sizeof head, j->key, head.size))
        return journal_error(j, "read", message);
    if (store_crc(j->key, head.size) != head.crc)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: damaged: its head is not what was written", j->path);
    j->end = (off_t)(sizeof head + head.size);
    return message_clear(message);
}

caber_status store_journal_open(const char *file, store_journal *j, caber_message *message)
{
    *j = (store_journal){.fd = -1};
    const size_t room = strlen(file) + sizeof ".journal";
    j->path = malloc(room);
    if (!j->path)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    snprintf(j->path, room, "%s.journal", file);
    caber_status status = journal_open_locked(j, message);
    if (status == CABER_OK)
        status = journal_read_head(j, message);
    if (status != CABER_OK)
        store_journal_close(j);
    return status;
}

void store_journal_close(store_journal *j)
{
    if (j->fd >= 0)
        close(j->fd);
    free(j->path);
    free(j->key);
    *j = (store_journal){.fd = -1};
}

caber_status store_journal_remove(store_journal *j, caber_message *message)
{
    if (unlink(j->path) != 0)
        return journal_error(j, "remove", message);
    return message_clear(message);
}

/* ------------------------------------------------------------------ records */

bool store_journal_next(store_journal *j, off_t *at, store_record *record)
{
    if (!j->key)
        return false;
    const off_t from = *at ? *at : (off_t)(sizeof(journal_head) + strlen(j->key));
    struct stat about;
    record_head head;
    j->end = from;
    if (fstat(j->fd, &about) != 0 || !journal_read(j, from, &head, sizeof head) ||
        head.mark != record_mark ||
        store_crc(&head, offsetof(record_head, head_crc)) != head.head_crc)
        return false;
    *record = (store_record){head.chunk, head.size, head.crc, from + (off_t)sizeof head};
    if (record->at + (off_t)head.size > about.st_size)
        return false;
    *at = j->end = record->at + (off_t)head.size;
    return true;
}

caber_status store_journal_fetch(store_journal *j, const store_record *record, void *payload,
                                 caber_message *message)
{
    if (!journal_read(j, record->at, payload, record->size))
        return journal_error(j, "read", message);
    return message_clear(message);
}

caber_status store_journal_begin(store_journal *j, const char *key, caber_message *message)
{
    char *copy = strdup(key);
    if (!copy)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    free(j->key);
    j->key = copy;
    journal_head head = {{0}, (uint32_t)strlen(key), store_crc(key, strlen(key))};
    memcpy(head.mark, journal_mark, sizeof head.mark);
    j->end = (off_t)(sizeof head + head.size);
    j->safe = 0;
    if (ftruncate(j->fd, 0) != 0 || !journal_put(j, 0, &head, sizeof head) ||
        !journal_put(j, sizeof head, key, head.size))
        return journal_error(j, "write", message);
    return message_clear(message);
}

caber_status store_journal_append(store_journal *j, store_record *record, const void *payload,
                                  caber_message *message)
{
    record_head head = {record_mark, record->chunk, record->size, record->crc, 0};
    head.head_crc = store_crc(&head, offsetof(record_head, head_crc));
    record->at = j->end + (off_t)sizeof head;
    const off_t end = record->at + (off_t)record->size;
    bool fine = journal_put(j, j->end, &head, sizeof head) &&
                journal_put(j, record->at, payload, record->size);
    if (fine && end - j->safe > JOURNAL_UNSAFE) {
        fine = fdatasync(j->fd) == 0;
        j->safe = end;
    }
    if (fine) {
        j->end = end;
        return message_clear(message);
    }
    caber_status status = journal_error(j, "write", message);
    /* Whether or not this works, a record that is not whole counts for nothing. */
    if (ftruncate(j->fd, j->end) != 0)
        return status;
    return status;
}
