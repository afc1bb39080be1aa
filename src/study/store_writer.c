/* SPDX-License-Identifier: GPL-3.0-or-later */
#define _XOPEN_SOURCE 700 /* realpath */
#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/message.h"
#include "study/store_journal.h"
#include "study/store_reader.h"
#include "study/store_render.h"

/* The journal goes into the file when it has this many chunks, and then each time the file would
 * become this many times as large: so all renders together cost little more than the last one. */
enum { WRITER_FIRST_RENDER = 256, WRITER_GROWTH = 8 };

/* Where a chunk is. */
typedef enum writer_place { PLACE_NONE, PLACE_FILE, PLACE_JOURNAL } writer_place;

struct store_writer {
    const store_study *study;
    char *path, *key;
    store_journal journal;
    store_reader *reader; /* of the file, while chunks are wanted from it */
    uint8_t *place;       /* [chunks] */
    store_record *record; /* [chunks], of those in the journal */
    size_t in_file, in_journal;
    store_progress progress;
    store_bytes bytes;
};

static caber_status writer_no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

/* ------------------------------------------------------------------ the file from its parts */

static bool writer_has(void *user, size_t chunk)
{
    const store_writer *w = user;
    return w->place[chunk] != PLACE_NONE;
}

static caber_status writer_fetch(void *user, size_t chunk, store_bytes *bytes,
                                 caber_message *message)
{
    store_writer *w = user;
    if (w->place[chunk] == PLACE_FILE)
        return store_reader_fetch(w->reader, chunk, bytes, message);
    const store_record *record = &w->record[chunk];
    store_bytes_aim(bytes, chunk);
    caber_status status = CABER_OK;
    const bool fits = store_bytes_accept(bytes, record->size);
    if (fits)
        status = store_journal_fetch(&w->journal, record, bytes->block, message);
    if (status != CABER_OK)
        return status;
    if (!fits || store_crc(bytes->block, record->size) != record->crc)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: damaged: chunk %zu is not what was written", w->journal.path,
                           chunk);
    return message_clear(message);
}

/* Renders everything into the file. Only when that is on the disk is the journal emptied: what is
 * in both, after a kill in between, is the same. */
static caber_status writer_render(store_writer *w, caber_message *message)
{
    caber_status status = message_clear(message);
    if (w->in_file && !w->reader)
        status = store_reader_create(w->path, &w->reader, message);
    const store_source source = {w, writer_has, writer_fetch};
    if (status == CABER_OK)
        status = store_render(w->study, &source, w->path, message);
    store_reader_free(w->reader);
    w->reader = NULL;
    if (status != CABER_OK)
        return status;
    for (size_t i = 0; i < store_study_chunks(w->study); i++)
        if (w->place[i] == PLACE_JOURNAL)
            w->place[i] = PLACE_FILE;
    w->in_file += w->in_journal;
    w->in_journal = 0;
    return store_journal_begin(&w->journal, w->key, message);
}

/* ------------------------------------------------------------------ resuming */

static caber_status writer_other(const store_writer *w, const char *path, const char *key,
                                 caber_message *message)
{
    char difference[700];
    store_key_difference(key, w->key, difference, sizeof difference);
    return message_set(message, CABER_BAD_INPUT, "%s is of another study: %s", path, difference);
}

/* The first factor of the chunk just fetched that the plan now has otherwise. */
static caber_status writer_check_plan(store_writer *w, size_t chunk, double *scratch,
                                      caber_message *message)
{
    const store_study *s = w->study;
    size_t count;
    const size_t first = store_study_chunk(s, chunk, &count), size = s->factor_count * count;
    if (!size)
        return message_clear(message);
    memcpy(scratch, w->bytes.columns, size * sizeof *scratch);
    caber_status status = store_bytes_plan(&w->bytes, message);
    for (size_t i = 0; i < size && status == CABER_OK; i++)
        if (scratch[i] != w->bytes.columns[i])
            status = message_set(message, CABER_BAD_INPUT,
                                 "%s is of another study: case %zu has %s %.17g %s there, %.17g in "
                                 "this one",
                                 w->path, first + i % count, s->factors[i / count].name, scratch[i],
                                 s->factors[i / count].units, w->bytes.columns[i]);
    return status;
}

/* Counts a chunk in, if what is there of it is what was written. */
static caber_status writer_admit(store_writer *w, size_t chunk, writer_place place, double *scratch,
                                 caber_message *message)
{
    const uint8_t before = w->place[chunk];
    w->place[chunk] = (uint8_t)place;
    const caber_status fetched = writer_fetch(w, chunk, &w->bytes, message);
    if (fetched == CABER_BAD_INPUT) {
        w->place[chunk] = before;
        w->progress.damaged++;
        return message_clear(message);
    }
    return fetched == CABER_OK ? writer_check_plan(w, chunk, scratch, message) : fetched;
}

static caber_status writer_resume_file(store_writer *w, double *scratch, caber_message *message)
{
    caber_status status = store_reader_create(w->path, &w->reader, message);
    if (status != CABER_OK)
        return status;
    char *key = store_key(store_reader_study(w->reader), true);
    if (!key)
        return writer_no_memory(message);
    if (strcmp(key, w->key) != 0)
        status = writer_other(w, w->path, key, message);
    free(key);
    for (size_t c = 0; c < store_study_chunks(w->study) && status == CABER_OK; c++)
        if (store_reader_has(w->reader, c))
            status = writer_admit(w, c, PLACE_FILE, scratch, message);
    return status;
}

static caber_status writer_resume_journal(store_writer *w, double *scratch, caber_message *message)
{
    if (w->journal.key && strcmp(w->journal.key, w->key) != 0)
        return writer_other(w, w->journal.path, w->journal.key, message);
    caber_status status = message_clear(message);
    off_t at = 0;
    store_record record;
    while (status == CABER_OK && store_journal_next(&w->journal, &at, &record)) {
        /* What the file has already was rendered just before a kill. */
        if (record.chunk >= store_study_chunks(w->study) || w->place[record.chunk] != PLACE_NONE)
            continue;
        w->record[record.chunk] = record;
        status = writer_admit(w, record.chunk, PLACE_JOURNAL, scratch, message);
    }
    return status;
}

static void writer_count(store_writer *w)
{
    w->progress.chunks = w->progress.done = w->in_file = w->in_journal = 0;
    for (size_t c = 0; c < store_study_chunks(w->study); c++) {
        w->progress.chunks += store_chunk_is_mine(w->study, c);
        w->progress.done += w->place[c] != PLACE_NONE;
        w->in_file += w->place[c] == PLACE_FILE;
        w->in_journal += w->place[c] == PLACE_JOURNAL;
    }
}

static caber_status writer_resume(store_writer *w, bool file, caber_message *message)
{
    const size_t room =
        (w->study->factor_count + 1) *
        (w->study->chunk_cases < w->study->cases ? w->study->chunk_cases : w->study->cases);
    double *scratch = malloc(room * sizeof *scratch);
    if (!scratch)
        return writer_no_memory(message);
    caber_status status = file ? writer_resume_file(w, scratch, message) : message_clear(message);
    if (status == CABER_OK)
        status = writer_resume_journal(w, scratch, message);
    free(scratch);
    writer_count(w);
    return status;
}

/* ------------------------------------------------------------------ beginning */

/* The path with its links followed, as a rename would replace the link. */
static caber_status writer_path(store_writer *w, const char *path, bool *file,
                                caber_message *message)
{
    struct stat there;
    *file = stat(path, &there) == 0;
    if (!*file && errno != ENOENT)
        return message_set(message, CABER_IO_ERROR, "%s: cannot write: %s", path, strerror(errno));
    if (*file && !S_ISREG(there.st_mode))
        return message_set(message, CABER_BAD_INPUT, "%s: not an ordinary file", path);
    w->path = *file ? realpath(path, NULL) : strdup(path);
    return w->path ? message_clear(message) : writer_no_memory(message);
}

static caber_status writer_room(store_writer *w, caber_message *message)
{
    const size_t chunks = store_study_chunks(w->study);
    w->key = store_key(w->study, true);
    w->place = calloc(chunks, sizeof *w->place);
    w->record = calloc(chunks, sizeof *w->record);
    if (!w->key || !w->place || !w->record)
        return writer_no_memory(message);
    return store_bytes_create(w->study, &w->bytes, message);
}

static bool writer_journal_has_chunk(store_writer *w)
{
    off_t at = 0;
    store_record record;
    return store_journal_next(&w->journal, &at, &record);
}

/* The journal is locked. Leaves a file that opens and a journal that can be appended to. */
static caber_status writer_begin(store_writer *w, store_mode mode, bool file,
                                 caber_message *message)
{
    if (mode == STORE_NEW && (file || writer_journal_has_chunk(w)))
        return message_set(message, CABER_BAD_INPUT, "%s is there already",
                           file ? w->path : w->journal.path);
    caber_status status = message_clear(message);
    if (mode == STORE_RESUME)
        status = writer_resume(w, file, message);
    if (status != CABER_OK)
        return status;
    writer_count(w);
    if (mode != STORE_RESUME || !w->journal.key)
        status = store_journal_begin(&w->journal, w->key, message);
    if (status == CABER_OK && (mode == STORE_REPLACE || !file))
        status = writer_render(w, message);
    return status;
}

caber_status store_writer_create(const char *path, const store_study *study, store_mode mode,
                                 store_writer **writer, caber_message *message)
{
    *writer = NULL;
    caber_status status = store_study_check(study, message);
    if (status != CABER_OK)
        return status;
    if (study->factor_count && !study->plan)
        return message_set(message, CABER_BAD_INPUT, "the study has factors and no plan");
    store_writer *w = calloc(1, sizeof *w);
    if (!w)
        return writer_no_memory(message);
    w->study = study;
    w->journal.fd = -1;
    bool file = false;
    status = writer_path(w, path, &file, message);
    if (status == CABER_OK)
        status = writer_room(w, message);
    if (status == CABER_OK)
        status = store_journal_open(w->path, &w->journal, message);
    if (status == CABER_OK) {
        /* It may have come or gone while the journal was another's. */
        file = access(w->path, F_OK) == 0;
        status = writer_begin(w, mode, file, message);
    }
    if (status == CABER_OK) {
        *writer = w;
        return status;
    }
    /* Nothing is left behind where nothing was. */
    if (w->journal.fd >= 0 && !w->journal.key)
        store_journal_remove(&w->journal, NULL);
    store_writer_free(w);
    return status;
}

void store_writer_free(store_writer *w)
{
    if (!w)
        return;
    store_reader_free(w->reader);
    store_journal_close(&w->journal);
    store_bytes_free(&w->bytes);
    free(w->path);
    free(w->key);
    free(w->place);
    free(w->record);
    free(w);
}

/* ------------------------------------------------------------------ writing */

store_progress store_writer_progress(const store_writer *w)
{
    return w->progress;
}

bool store_writer_wants(const store_writer *w, size_t chunk)
{
    return chunk < store_study_chunks(w->study) && store_chunk_is_mine(w->study, chunk) &&
           w->place[chunk] == PLACE_NONE;
}

caber_status store_writer_write(store_writer *w, const store_chunk *given, caber_message *message)
{
    if (!store_writer_wants(w, given->chunk))
        return message_set(message, CABER_BAD_INPUT, "%s: chunk %zu is not wanted", w->path,
                           given->chunk);
    caber_status status = store_bytes_take(&w->bytes, given, message);
    if (status != CABER_OK)
        return status;
    store_record record = {.chunk = (uint32_t)given->chunk,
                           .size = (uint32_t)store_bytes_size(&w->bytes),
                           .crc = store_bytes_seal(&w->bytes)};
    status = store_journal_append(&w->journal, &record, w->bytes.block, message);
    if (status != CABER_OK)
        return status;
    w->record[given->chunk] = record;
    w->place[given->chunk] = PLACE_JOURNAL;
    w->in_journal++;
    w->progress.done++;
    const size_t least = (WRITER_GROWTH - 1) * w->in_file;
    if (w->in_journal >= (least > WRITER_FIRST_RENDER ? least : WRITER_FIRST_RENDER))
        status = writer_render(w, message);
    return status;
}

caber_status store_writer_sync(store_writer *w, caber_message *message)
{
    return w->in_journal ? writer_render(w, message) : message_clear(message);
}

caber_status store_writer_finish(store_writer *w, caber_message *message)
{
    if (w->progress.done < w->progress.chunks)
        return message_set(message, CABER_BAD_INPUT, "%s: %zu of %zu chunks are not finished",
                           w->path, w->progress.chunks - w->progress.done, w->progress.chunks);
    caber_status status = store_writer_sync(w, message);
    return status == CABER_OK ? store_journal_remove(&w->journal, message) : status;
}
