/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/store_reader.h"

#include <errno.h>
#include <fcntl.h>
#include <hdf5.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/message.h"
#include "study/store_disk.h"
#include "study/store_hdf5.h"

struct store_reader {
    char *path;
    store_study study;
    hid_t file;
    hid_t *column, *series; /* datasets */
    hid_t status, reason, reason_type;
    uint32_t *seal;       /* [chunks] */
    int8_t *first_status; /* [chunks], of the first case of each */
    void **owned;         /* what the study points to */
    size_t owned_count, owned_room;
};

static caber_status reader_damaged(const store_reader *r, const char *what, caber_message *message)
{
    return message_set(message, CABER_BAD_INPUT, "%s: damaged, or not a study of caber: %s",
                       r->path, what);
}

static caber_status reader_no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

/* Room that lives as long as the reader; NULL when there is none. */
static void *reader_keep(store_reader *r, size_t size)
{
    if (r->owned_count == r->owned_room) {
        const size_t room = 2 * r->owned_room + 16;
        void **more = realloc(r->owned, room * sizeof *more);
        if (!more)
            return NULL;
        r->owned = more;
        r->owned_room = room;
    }
    void *block = calloc(1, size + !size);
    if (block)
        r->owned[r->owned_count++] = block;
    return block;
}

static const char *reader_keep_text(store_reader *r, const char *text)
{
    const size_t size = strlen(text) + 1;
    char *copy = reader_keep(r, size);
    if (copy)
        memcpy(copy, text, size);
    return copy;
}

/* ------------------------------------------------------------------ attributes */

/* Reads an attribute of variable-length texts; returns how many there are, 0 when there is none
 * such. */
static size_t reader_texts(store_reader *r, hid_t at, const char *name, const char ***texts)
{
    if (H5Aexists(at, name) <= 0)
        return 0;
    hid_t attribute = H5Aopen(at, name, H5P_DEFAULT);
    hid_t type = H5Aget_type(attribute), space = H5Aget_space(attribute);
    const hssize_t points = H5Sget_simple_extent_npoints(space);
    size_t count = 0;
    if (H5Tis_variable_str(type) > 0 && points > 0 && points <= STORE_COLUMN_LIMIT) {
        char *read[STORE_COLUMN_LIMIT] = {0};
        const char **kept = reader_keep(r, (size_t)points * sizeof *kept);
        if (kept && H5Aread(attribute, type, read) >= 0) {
            for (count = 0; count < (size_t)points; count++)
                if (!(kept[count] = reader_keep_text(r, read[count] ? read[count] : "")))
                    break;
            count = count == (size_t)points ? count : 0;
            H5Dvlen_reclaim(type, space, H5P_DEFAULT, read);
        }
        *texts = kept;
    }
    H5Sclose(space);
    H5Tclose(type);
    H5Aclose(attribute);
    return count;
}

static const char *reader_text(store_reader *r, hid_t at, const char *name)
{
    const char **texts = NULL;
    return reader_texts(r, at, name, &texts) == 1 ? texts[0] : NULL;
}

/* Reads an attribute that is one number; false when there is none such. */
static bool reader_number(hid_t at, const char *name, hid_t type, void *value)
{
    if (H5Aexists(at, name) <= 0)
        return false;
    hid_t attribute = H5Aopen(at, name, H5P_DEFAULT);
    hid_t stored = H5Aget_type(attribute), space = H5Aget_space(attribute);
    const H5T_class_t kind = H5Tget_class(stored);
    const bool fine = (kind == H5T_INTEGER || kind == H5T_FLOAT) &&
                      H5Sget_simple_extent_npoints(space) == 1 &&
                      H5Aread(attribute, type, value) >= 0;
    H5Sclose(space);
    H5Tclose(stored);
    H5Aclose(attribute);
    return fine;
}

/* Reads a whole number of the root; 0 when there is none or it is negative. */
static size_t reader_whole(const store_reader *r, const char *name)
{
    int64_t value = 0;
    return reader_number(r->file, name, H5T_NATIVE_INT64, &value) && value > 0 ? (size_t)value : 0;
}

/* ------------------------------------------------------------------ datasets */

/* Opens a dataset with room for one of its chunks, so that reading on costs no chunk twice. */
static hid_t reader_open(const store_reader *r, const char *name)
{
    hid_t set = H5Lexists(r->file, name, H5P_DEFAULT) > 0 ? H5Dopen2(r->file, name, H5P_DEFAULT)
                                                          : H5I_INVALID_HID;
    if (set < 0)
        return H5I_INVALID_HID;
    hid_t creation = H5Dget_create_plist(set), type = H5Dget_type(set);
    hsize_t chunk[2] = {1, 1};
    const size_t size = H5Tget_size(type);
    if (H5Pget_layout(creation) == H5D_CHUNKED && H5Pget_chunk(creation, 2, chunk) > 0) {
        H5Dclose(set);
        hid_t access = H5Pcreate(H5P_DATASET_ACCESS);
        H5Pset_chunk_cache(access, 3, (size_t)(chunk[0] * chunk[1]) * size, 1);
        set = H5Dopen2(r->file, name, access);
        H5Pclose(access);
    }
    H5Tclose(type);
    H5Pclose(creation);
    return set;
}

/* Opens a dataset whose elements are of this kind; -1 unless its extent is as wanted, 0 = any. */
static hid_t reader_open_shaped(const store_reader *r, const char *name, H5T_class_t kind, int rank,
                                hsize_t *extent)
{
    hid_t set = reader_open(r, name);
    if (set < 0)
        return set;
    hid_t space = H5Dget_space(set), type = H5Dget_type(set);
    hsize_t found[2] = {0, 0};
    bool fine = H5Tget_class(type) == kind && H5Sget_simple_extent_ndims(space) == rank &&
                H5Sget_simple_extent_dims(space, found, NULL) == rank;
    for (int i = 0; i < rank && fine; i++)
        fine = found[i] && (!extent[i] || extent[i] == found[i]);
    for (int i = 0; i < rank && fine; i++)
        extent[i] = found[i];
    H5Tclose(type);
    H5Sclose(space);
    if (fine)
        return set;
    H5Dclose(set);
    return H5I_INVALID_HID;
}

/* Reads some rows of a dataset, every `stride`-th. */
static bool reader_get(hid_t set, hid_t type, size_t first, size_t stride, size_t count,
                       size_t width, void *values)
{
    const int rank = width ? 2 : 1;
    const hsize_t start[2] = {first, 0}, extent[2] = {count, width}, step[2] = {stride, 1};
    hid_t memory = H5Screate_simple(rank, extent, NULL), space = H5Dget_space(set);
    const bool fine = memory >= 0 && space >= 0 &&
                      H5Sselect_hyperslab(space, H5S_SELECT_SET, start, step, extent, NULL) >= 0 &&
                      H5Dread(set, type, memory, space, H5P_DEFAULT, values) >= 0;
    H5Sclose(space);
    H5Sclose(memory);
    return fine;
}

/* Reads doubles; a count that does not exist is -1 in the file. */
static bool reader_get_column(hid_t set, bool whole, size_t first, size_t count, double *values)
{
    if (!reader_get(set, H5T_NATIVE_DOUBLE, first, 1, count, 0, values))
        return false;
    for (size_t i = 0; whole && i < count; i++)
        if (values[i] < 0)
            values[i] = NAN;
    return true;
}

/* ------------------------------------------------------------------ what the file holds */

/* Reads what one dataset of the cases is; false when it is not there or not as it should be. */
static bool reader_column(store_reader *r, const char *name, int rank, hsize_t *extent,
                          store_column *column, hid_t *set)
{
    *column = (store_column){.name = name, .factor = 1};
    *set = reader_open_shaped(r, name, H5T_FLOAT, rank, extent);
    if (*set < 0) {
        *set = reader_open_shaped(r, name, H5T_INTEGER, rank, extent);
        column->whole = true;
    }
    if (*set < 0)
        return false;
    column->units = reader_text(r, *set, "units");
    column->long_name = reader_text(r, *set, "long_name");
    if (column->units && column->long_name)
        return true;
    H5Dclose(*set);
    *set = H5I_INVALID_HID;
    return false;
}

/* Reads the datasets that an attribute of the root names. */
static caber_status reader_columns(store_reader *r, const char *kind, int rank, hsize_t *extent,
                                   const store_column **columns, size_t *count, hid_t **sets,
                                   caber_message *message)
{
    const char **names = NULL;
    const size_t n = reader_texts(r, r->file, kind, &names);
    store_column *list = reader_keep(r, n * sizeof *list);
    *sets = malloc((n + 1) * sizeof **sets);
    if (!list || !*sets)
        return reader_no_memory(message);
    *columns = list;
    for (*count = 0; *count < n; (*count)++)
        if (!reader_column(r, names[*count], rank, extent, &list[*count], &(*sets)[*count]))
            return reader_damaged(r, names[*count], message);
    return message_clear(message);
}

/* Factors and outputs, whose datasets stand one behind the other. */
static caber_status reader_scalars(store_reader *r, hsize_t cases, caber_message *message)
{
    store_study *s = &r->study;
    hid_t *factors = NULL, *outputs = NULL;
    caber_status status =
        reader_columns(r, "factors", 1, &cases, &s->factors, &s->factor_count, &factors, message);
    if (status == CABER_OK)
        status = reader_columns(r, "outputs", 1, &cases, &s->outputs, &s->output_count, &outputs,
                                message);
    const size_t n = s->factor_count, m = s->output_count;
    r->column = malloc((n + m + 1) * sizeof *r->column);
    if (r->column) {
        for (size_t i = 0; i < n; i++)
            r->column[i] = factors[i];
        for (size_t i = 0; i < m; i++)
            r->column[n + i] = outputs[i];
    } else {
        s->factor_count = s->output_count = 0; /* leaks ids, as there is no memory for them */
        status = reader_no_memory(message);
    }
    free(factors);
    free(outputs);
    return status;
}

static caber_status reader_grid(store_reader *r, hsize_t cases, caber_message *message)
{
    store_study *s = &r->study;
    hsize_t extent[2] = {cases, 0};
    caber_status status =
        reader_columns(r, "series", 2, extent, &s->series, &s->series_count, &r->series, message);
    if (status != CABER_OK || !s->series_count)
        return status;
    const char *name = reader_text(r, r->file, "series_grid");
    hsize_t points = extent[1];
    hid_t set = H5I_INVALID_HID;
    const bool found = name && reader_column(r, name, 1, &points, &s->grid.column, &set);
    double *at = found ? reader_keep(r, points * sizeof *at) : NULL;
    const bool fine = at && reader_get_column(set, false, 0, points, at);
    if (set >= 0)
        H5Dclose(set);
    if (!fine)
        return reader_damaged(r, "the grid of its series", message);
    s->grid.at = at;
    s->grid.count = points;
    return message_clear(message);
}

/* What reader_note is called with for every attribute of the root. */
typedef struct reader_notes {
    store_reader *reader;
    store_note *notes;
    size_t count, room;
} reader_notes;

static herr_t reader_note(hid_t at, const char *name, const H5A_info_t *info, void *user)
{
    (void)info;
    reader_notes *n = user;
    if (!n->notes) {
        n->room++; /* the first time, they are only counted */
        return 0;
    }
    if (n->count == n->room || !store_note_name_is_fine(name))
        return 0;
    store_note note = {.name = reader_keep_text(n->reader, name)};
    const char **texts = NULL;
    note.count = reader_texts(n->reader, at, name, &texts);
    hid_t attribute = H5Aopen(at, name, H5P_DEFAULT);
    hid_t space = H5Aget_space(attribute);
    const bool scalar = H5Sget_simple_extent_ndims(space) == 0;
    H5Sclose(space);
    H5Aclose(attribute);
    if (note.count && scalar)
        note.text = texts[0];
    else if (note.count)
        note.texts = texts;
    else if (!reader_number(at, name, H5T_NATIVE_DOUBLE, &note.number))
        return 0; /* of a kind that no study has; somebody added it */
    if (note.name)
        n->notes[n->count++] = note;
    return 0;
}

static caber_status reader_root(store_reader *r, caber_message *message)
{
    store_study *s = &r->study;
    s->identity = reader_text(r, r->file, "identity");
    s->version = reader_text(r, r->file, "version");
    s->chunk_cases = reader_whole(r, "chunk_cases");
    s->shard = reader_whole(r, "shard");
    s->shards = reader_whole(r, "shards");
    if (!s->identity || !s->version || !s->chunk_cases || !s->shard || !s->shards)
        return reader_damaged(r, "attributes of its root are missing", message);
    reader_notes notes = {.reader = r};
    if (H5Aiterate2(r->file, H5_INDEX_NAME, H5_ITER_INC, NULL, reader_note, &notes) < 0)
        return reader_damaged(r, "its root cannot be read", message);
    notes.notes = reader_keep(r, notes.room * sizeof *notes.notes);
    if (!notes.notes)
        return reader_no_memory(message);
    if (H5Aiterate2(r->file, H5_INDEX_NAME, H5_ITER_INC, NULL, reader_note, &notes) < 0)
        return reader_damaged(r, "its root cannot be read", message);
    s->notes = notes.notes;
    s->note_count = notes.count;
    return message_clear(message);
}

/* Reads which chunks are finished, and their seals. */
static caber_status reader_seals(store_reader *r, caber_message *message)
{
    const store_study *s = &r->study;
    hsize_t chunks = store_study_chunks(s);
    r->seal = calloc(chunks, sizeof *r->seal);
    r->first_status = calloc(chunks, 1);
    if (!r->seal || !r->first_status)
        return reader_no_memory(message);
    hid_t set = reader_open_shaped(r, "chunk_crc32", H5T_INTEGER, 1, &chunks);
    const bool fine =
        set >= 0 && reader_get(set, H5T_NATIVE_UINT32, 0, 1, chunks, 0, r->seal) &&
        reader_get(r->status, H5T_NATIVE_INT8, 0, s->chunk_cases, chunks, 0, r->first_status);
    if (set >= 0)
        H5Dclose(set);
    return fine ? message_clear(message) : reader_damaged(r, "chunk_crc32", message);
}

static caber_status reader_read(store_reader *r, caber_message *message)
{
    caber_status status = reader_root(r, message);
    if (status != CABER_OK)
        return status;
    hsize_t cases = 0;
    r->status = reader_open_shaped(r, "status", H5T_INTEGER, 1, &cases);
    r->reason = reader_open_shaped(r, "reason", H5T_STRING, 1, &cases);
    if (r->status < 0 || r->reason < 0)
        return reader_damaged(r, r->status < 0 ? "status" : "reason", message);
    r->reason_type = H5Dget_type(r->reason);
    if (H5Tis_variable_str(r->reason_type) != 0 || H5Tget_size(r->reason_type) != STORE_REASON_SIZE)
        return reader_damaged(r, "reason", message);
    r->study.cases = cases;
    status = reader_scalars(r, cases, message);
    if (status == CABER_OK)
        status = reader_grid(r, cases, message);
    if (status != CABER_OK)
        return status;
    caber_message problem;
    if (store_study_check(&r->study, &problem) != CABER_OK)
        return reader_damaged(r, problem.text, message);
    return reader_seals(r, message);
}

/* ------------------------------------------------------------------ beginning and end */

static caber_status reader_open_file(store_reader *r, caber_message *message)
{
    int fd = open(r->path, O_RDONLY | O_CLOEXEC);
    char byte;
    const ssize_t got = fd < 0 ? -1 : read(fd, &byte, 1);
    const int error = errno;
    const bool sound = got < 0 || store_disk_check(fd);
    if (fd >= 0)
        close(fd);
    if (got < 0)
        return message_set(message, CABER_IO_ERROR, "%s: cannot read: %s", r->path,
                           strerror(error));
    if (!sound)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: damaged: what describes its numbers is not what was written",
                           r->path);
    hid_t access = H5Pcreate(H5P_FILE_ACCESS);
#if H5_VERSION_GE(1, 10, 7)
    /* The file never changes in place, and some file systems know no locks. */
    H5Pset_file_locking(access, false, true);
#endif
    r->file = H5Fopen(r->path, H5F_ACC_RDONLY, access);
    H5Pclose(access);
    if (r->file >= 0)
        return message_clear(message);
    if (H5Fis_hdf5(r->path) > 0)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: damaged, or cut short: HDF5 cannot open it", r->path);
    return message_set(message, CABER_BAD_INPUT, "%s: not an HDF5 file", r->path);
}

caber_status store_reader_create(const char *path, store_reader **reader, caber_message *message)
{
    *reader = NULL;
    store_reader *r = calloc(1, sizeof *r);
    if (!r)
        return reader_no_memory(message);
    r->file = r->status = r->reason = r->reason_type = H5I_INVALID_HID;
    r->path = strdup(path);
    store_quiet quiet = store_hush();
    caber_status status = r->path ? reader_open_file(r, message) : reader_no_memory(message);
    if (status == CABER_OK)
        status = reader_read(r, message);
    store_unhush(quiet);
    if (status == CABER_OK)
        *reader = r;
    else
        store_reader_free(r);
    return status;
}

static void reader_close_sets(const hid_t *sets, size_t count)
{
    for (size_t i = 0; sets && i < count; i++)
        if (sets[i] >= 0)
            H5Dclose(sets[i]);
}

void store_reader_free(store_reader *r)
{
    if (!r)
        return;
    store_quiet quiet = store_hush();
    reader_close_sets(r->column, store_column_count(&r->study));
    reader_close_sets(r->series, r->study.series_count);
    if (r->status >= 0)
        H5Dclose(r->status);
    if (r->reason >= 0)
        H5Dclose(r->reason);
    if (r->reason_type >= 0)
        H5Tclose(r->reason_type);
    if (r->file >= 0)
        H5Fclose(r->file);
    store_unhush(quiet);
    for (size_t i = 0; i < r->owned_count; i++)
        free(r->owned[i]);
    free(r->owned);
    free(r->column);
    free(r->series);
    free(r->seal);
    free(r->first_status);
    free(r->path);
    free(r);
}

/* ------------------------------------------------------------------ chunks */

const store_study *store_reader_study(const store_reader *reader)
{
    return &reader->study;
}

bool store_reader_has(const store_reader *r, size_t chunk)
{
    return r->first_status[chunk] != STORE_NOT_RUN || r->seal[chunk] != 0;
}

static bool reader_fetch(const store_reader *r, size_t chunk, store_bytes *b)
{
    const store_study *s = &r->study;
    store_bytes_aim(b, chunk);
    size_t count, first = store_study_chunk(s, chunk, &count);
    for (size_t j = 0; j < store_column_count(s); j++)
        if (!reader_get_column(r->column[j], store_column_at(s, j)->whole, first, count,
                               b->columns + j * count))
            return false;
    for (size_t j = 0; j < s->series_count; j++)
        if (!reader_get(r->series[j], H5T_NATIVE_DOUBLE, first, 1, count, s->grid.count,
                        b->series + j * count * s->grid.count))
            return false;
    return reader_get(r->status, H5T_NATIVE_INT8, first, 1, count, 0, b->status) &&
           reader_get(r->reason, r->reason_type, first, 1, count, 0, b->reason);
}

caber_status store_reader_fetch(store_reader *r, size_t chunk, store_bytes *bytes,
                                caber_message *message)
{
    store_quiet quiet = store_hush();
    const bool read = reader_fetch(r, chunk, bytes);
    store_unhush(quiet);
    size_t count;
    const size_t first = store_study_chunk(&r->study, chunk, &count);
    if (read && store_bytes_seal(bytes) == r->seal[chunk])
        return message_clear(message);
    return message_set(message, CABER_BAD_INPUT,
                       "%s: damaged: cases %zu to %zu are not what was written", r->path, first,
                       first + count - 1);
}

caber_status store_reader_check(store_reader *r, store_progress *progress, caber_message *message)
{
    store_progress found = {0, 0, 0};
    store_bytes bytes;
    caber_status status = store_bytes_create(&r->study, &bytes, message);
    for (size_t c = 0; c < store_study_chunks(&r->study) && status == CABER_OK; c++) {
        found.chunks += store_chunk_is_mine(&r->study, c);
        if (!store_reader_has(r, c))
            continue;
        status = store_reader_fetch(r, c, &bytes, message);
        found.done++;
    }
    store_bytes_free(&bytes);
    if (progress)
        *progress = found;
    return status;
}

/* ------------------------------------------------------------------ columns */

static caber_status reader_range(const store_reader *r, size_t first, size_t count,
                                 caber_message *message)
{
    if (first <= r->study.cases && count <= r->study.cases - first)
        return message_clear(message);
    return message_set(message, CABER_BAD_INPUT, "%s: has %zu cases; none up to %zu", r->path,
                       r->study.cases, first + count);
}

static caber_status reader_result(const store_reader *r, bool fine, const char *name,
                                  caber_message *message)
{
    return fine ? message_clear(message)
                : message_set(message, CABER_BAD_INPUT, "%s: damaged: %s cannot be read", r->path,
                              name);
}

caber_status store_reader_column(store_reader *r, const char *name, size_t first, size_t count,
                                 double *values, caber_message *message)
{
    caber_status status = reader_range(r, first, count, message);
    if (status != CABER_OK || !count)
        return status;
    for (size_t i = 0; i < store_column_count(&r->study); i++) {
        const store_column *c = store_column_at(&r->study, i);
        if (strcmp(c->name, name) != 0)
            continue;
        store_quiet quiet = store_hush();
        const bool fine = reader_get_column(r->column[i], c->whole, first, count, values);
        store_unhush(quiet);
        return reader_result(r, fine, name, message);
    }
    return message_set(message, CABER_BAD_INPUT, "%s: has no factor or output '%s'", r->path, name);
}

caber_status store_reader_series(store_reader *r, const char *name, size_t first, size_t count,
                                 double *values, caber_message *message)
{
    caber_status status = reader_range(r, first, count, message);
    if (status != CABER_OK || !count)
        return status;
    for (size_t i = 0; i < r->study.series_count; i++) {
        if (strcmp(r->study.series[i].name, name) != 0)
            continue;
        store_quiet quiet = store_hush();
        const bool fine = reader_get(r->series[i], H5T_NATIVE_DOUBLE, first, 1, count,
                                     r->study.grid.count, values);
        store_unhush(quiet);
        return reader_result(r, fine, name, message);
    }
    return message_set(message, CABER_BAD_INPUT, "%s: has no series '%s'", r->path, name);
}

caber_status store_reader_status(store_reader *r, size_t first, size_t count, int *status,
                                 caber_message *message)
{
    caber_status ranged = reader_range(r, first, count, message);
    if (ranged != CABER_OK || !count)
        return ranged;
    store_quiet quiet = store_hush();
    const bool fine = reader_get(r->status, H5T_NATIVE_INT, first, 1, count, 0, status);
    store_unhush(quiet);
    return reader_result(r, fine, "status", message);
}

caber_status store_reader_reason(store_reader *r, size_t index, char reason[STORE_REASON_SIZE],
                                 caber_message *message)
{
    caber_status status = reader_range(r, index, 1, message);
    if (status != CABER_OK)
        return status;
    store_quiet quiet = store_hush();
    const bool fine = reader_get(r->reason, r->reason_type, index, 1, 1, 0, reason);
    store_unhush(quiet);
    reason[STORE_REASON_SIZE - 1] = '\0';
    return reader_result(r, fine, "reason", message);
}
