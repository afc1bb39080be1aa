/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/store_render.h"

#include <hdf5_hl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "study/store_disk.h"
#include "study/store_hdf5.h"

/* About how many cases a chunk of HDF5 has, which is made of whole chunks of the study: enough for
 * a reader not to notice them. */
enum { RENDER_ROWS = 4096 };
/* Higher levels take longer and win nothing on such numbers. */
enum { RENDER_DEFLATE = 1 };

/* A render under way. */
typedef struct render {
    const store_study *study;
    store h;
    store_disk disk;
    size_t group; /* chunks of the study in a chunk of HDF5 */
    size_t rows;  /* cases in it */
    /* What one chunk of HDF5 has. */
    double *columns;  /* [column][rows] */
    int32_t *counts;  /* [rows] */
    int64_t *numbers; /* [rows] */
    int8_t *status;   /* [rows] */
    char *reason;     /* [rows][STORE_REASON_SIZE] */
    uint32_t *seal;   /* [chunks], of the whole study */
    store_bytes bytes;
    char *coordinates; /* the names of the factors */
    hid_t reason_type;
    hid_t cases, chunks, grid; /* scales */
    hid_t *column, *series;    /* datasets */
    hid_t statuses, reasons, seals;
} render;

/* ------------------------------------------------------------------ datasets */

/* Creation properties of a chunked dataset. Absent rows take no space. */
static hid_t render_chunked(render *r, int rank, const hsize_t *chunk, hid_t type, const void *fill)
{
    hid_t list = H5Pcopy(r->h.plain);
    store_worked(&r->h, list);
    if (r->h.ok) {
        store_worked(&r->h, H5Pset_chunk(list, rank, chunk));
        store_worked(&r->h, H5Pset_shuffle(list));
        store_worked(&r->h, H5Pset_deflate(list, RENDER_DEFLATE));
        store_worked(&r->h, H5Pset_fill_value(list, type, fill));
    }
    return list;
}

/* Makes a dataset at the root, with what it means. */
static hid_t render_dataset(render *r, const char *name, hid_t type, int rank,
                            const hsize_t *extent, hid_t creation, const char *units,
                            const char *long_name)
{
    if (!r->h.ok)
        return H5I_INVALID_HID;
    hid_t space = H5Screate_simple(rank, extent, NULL);
    hid_t access = H5Pcreate(H5P_DATASET_ACCESS);
    /* Chunks are written whole, so there is nothing to keep for later. */
    store_worked(&r->h, H5Pset_chunk_cache(access, 1, 0, 1));
    hid_t set = H5Dcreate2(r->h.file, name, type, space, H5P_DEFAULT, creation, access);
    H5Pclose(access);
    H5Sclose(space);
    if (store_worked(&r->h, set)) {
        store_text(&r->h, set, "units", units);
        store_text(&r->h, set, "long_name", long_name);
    }
    return set;
}

/* Makes a dataset of the cases, and of the grid when rank is 2. */
static hid_t render_of_cases(render *r, const char *name, hid_t type, const void *fill, int rank,
                             const char *units, const char *long_name)
{
    const store_study *s = r->study;
    const size_t whole = s->chunk_cases < s->cases ? s->chunk_cases : s->cases;
    const hsize_t extent[2] = {s->cases, s->grid.count};
    const hsize_t chunk[2] = {rank == 1 ? r->rows : whole, s->grid.count};
    hid_t creation = render_chunked(r, rank, chunk, type, fill);
    hid_t set = render_dataset(r, name, type, rank, extent, creation, units, long_name);
    if (creation >= 0)
        H5Pclose(creation);
    return set;
}

static void render_attach(render *r, hid_t set, int rank, hid_t first, hid_t second)
{
    if (r->h.ok)
        store_worked(&r->h, H5DSattach_scale(set, first, 0));
    if (r->h.ok && rank == 2)
        store_worked(&r->h, H5DSattach_scale(set, second, 1));
    if (r->h.ok && first == r->cases && r->coordinates)
        store_text(&r->h, set, "coordinates", r->coordinates);
}

static void render_scale(render *r, hid_t set, const char *name)
{
    if (r->h.ok)
        store_worked(&r->h, H5DSset_scale(set, name));
}

/* The scale of the chunks, written at once. */
static void render_chunk_scale(render *r, hsize_t count)
{
    r->chunks =
        render_dataset(r, "chunk", H5T_STD_I32LE, 1, &count, r->h.plain, "1",
                       "number of a run of neighbouring cases, finished and sealed at once");
    render_scale(r, r->chunks, "chunk");
    int32_t *number = malloc(count * sizeof *number);
    if (!number)
        r->h.ok = false;
    for (size_t i = 0; r->h.ok && i < count; i++)
        number[i] = (int32_t)i;
    if (r->h.ok)
        store_worked(&r->h,
                     H5Dwrite(r->chunks, H5T_NATIVE_INT32, H5S_ALL, H5S_ALL, H5P_DEFAULT, number));
    free(number);
}

static void render_grid(render *r)
{
    const store_grid *grid = &r->study->grid;
    const hsize_t count = grid->count;
    if (!r->study->series_count)
        return;
    r->grid = render_dataset(r, grid->column.name, H5T_IEEE_F64LE, 1, &count, r->h.plain,
                             grid->column.units, grid->column.long_name);
    render_scale(r, r->grid, grid->column.name);
    double *at = malloc(grid->count * sizeof *at);
    if (!at)
        r->h.ok = false;
    for (size_t i = 0; r->h.ok && i < grid->count; i++)
        at[i] = grid->at[i] * grid->column.factor;
    if (r->h.ok)
        store_worked(&r->h,
                     H5Dwrite(r->grid, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, at));
    free(at);
}

/* Makes one dataset a factor, output and series. */
static void render_columns(render *r)
{
    const store_study *s = r->study;
    const double none = NAN;
    const int32_t no_count = -1;
    for (size_t i = 0; i < store_column_count(s) + s->series_count && r->h.ok; i++) {
        const bool series = i >= store_column_count(s), factor = i < s->factor_count;
        const store_column *c =
            series ? &s->series[i - store_column_count(s)] : store_column_at(s, i);
        const hid_t type = c->whole ? H5T_STD_I32LE : H5T_IEEE_F64LE;
        const void *fill = c->whole ? (const void *)&no_count : &none;
        const int rank = series ? 2 : 1;
        hid_t set = render_of_cases(r, c->name, type, fill, rank, c->units, c->long_name);
        if (!factor)
            store_attribute(&r->h, set, "_FillValue", c->whole ? H5T_STD_I32LE : H5T_NATIVE_DOUBLE,
                            0, fill);
        if (factor) {
            /* A coordinate has no coordinates. */
            if (r->h.ok)
                store_worked(&r->h, H5DSattach_scale(set, r->cases, 0));
        } else {
            render_attach(r, set, rank, r->cases, r->grid);
        }
        *(series ? &r->series[i - store_column_count(s)] : &r->column[i]) = set;
    }
}

const char *store_status_word(int status)
{
    static const char *const words[] = {"ok",
                                        "bad_input",
                                        "io_error",
                                        "no_memory",
                                        "ball_not_reached",
                                        "shaft_wrapped",
                                        "no_equilibrium",
                                        "not_converged",
                                        "internal",
                                        "stopped"};
    _Static_assert(sizeof words / sizeof *words == STORE_STATUSES, "a word for every status");
    if (status == STORE_NOT_RUN)
        return "not_run";
    return status >= 0 && status < STORE_STATUSES ? words[status] : "unknown";
}

/* Says what the numbers of the status mean: one word each, as CF has it. */
static void render_status_flags(render *r)
{
    int8_t values[STORE_STATUSES + 1];
    char words[1024] = "";
    size_t used = 0;
    for (int i = 0; i <= STORE_STATUSES; i++) {
        const int status = STORE_NOT_RUN + i;
        values[i] = (int8_t)status;
        used += (size_t)snprintf(words + used, sizeof words - used, "%s%s", i ? " " : "",
                                 store_status_word(status));
    }
    store_attribute(&r->h, r->statuses, "flag_values", H5T_STD_I8LE, STORE_STATUSES + 1, values);
    store_text(&r->h, r->statuses, "flag_meanings", words);
}

static void render_datasets(render *r)
{
    const store_study *s = r->study;
    const int64_t zero = 0;
    const int8_t not_run = STORE_NOT_RUN;
    const char nothing[STORE_REASON_SIZE] = {0};
    r->cases =
        render_of_cases(r, "case", H5T_STD_I64LE, &zero, 1, "1", "number of the case, from 0");
    render_scale(r, r->cases, "case");
    render_chunk_scale(r, store_study_chunks(s));
    render_grid(r);
    render_columns(r);
    r->statuses = render_of_cases(r, "status", H5T_STD_I8LE, &not_run, 1, "1",
                                  "how the case ended; without numbers unless 0");
    render_attach(r, r->statuses, 1, r->cases, 0);
    if (r->h.ok)
        render_status_flags(r);
    r->reasons = render_of_cases(r, "reason", r->reason_type, nothing, 1, "1",
                                 "why the case has no numbers, as a sentence");
    render_attach(r, r->reasons, 1, r->cases, 0);
    const hsize_t chunks = store_study_chunks(s);
    r->seals = render_dataset(r, "chunk_crc32", H5T_STD_U32LE, 1, &chunks, r->h.plain, "1",
                              "CRC-32 of the numbers of the chunk; 0 when it is not finished");
    render_attach(r, r->seals, 1, r->chunks, 0);
}

/* ------------------------------------------------------------------ provenance */

static int render_order_notes(const void *a, const void *b)
{
    return strcmp((*(const store_note *const *)a)->name, (*(const store_note *const *)b)->name);
}

static void render_note(render *r, const store_note *note)
{
    if (note->text)
        store_text(&r->h, r->h.file, note->name, note->text);
    else if (note->texts)
        store_attribute(&r->h, r->h.file, note->name, r->h.text, note->count, note->texts);
    else
        store_number(&r->h, r->h.file, note->name, note->number);
}

/* In the order of their names, which is how who joins shards finds them. */
static void render_notes(render *r)
{
    const store_study *s = r->study;
    const store_note **sorted = malloc((s->note_count + 1) * sizeof *sorted);
    if (!sorted) {
        r->h.ok = false;
        return;
    }
    for (size_t i = 0; i < s->note_count; i++)
        sorted[i] = &s->notes[i];
    qsort(sorted, s->note_count, sizeof *sorted, render_order_notes);
    for (size_t i = 0; i < s->note_count; i++)
        render_note(r, sorted[i]);
    free(sorted);
}

static void render_names(render *r, const char *kind, const store_column *columns, size_t count)
{
    const char *names[STORE_COLUMN_LIMIT];
    for (size_t i = 0; i < count; i++)
        names[i] = columns[i].name;
    if (count)
        store_attribute(&r->h, r->h.file, kind, r->h.text, count, names);
}

static void render_whole(render *r, const char *name, size_t value)
{
    const int64_t number = (int64_t)value;
    store_attribute(&r->h, r->h.file, name, H5T_STD_I64LE, 0, &number);
}

static void render_root(render *r)
{
    const store_study *s = r->study;
    store_text(&r->h, r->h.file, "program", "caber");
    store_text(&r->h, r->h.file, "version", s->version);
    render_notes(r);
    store_text(&r->h, r->h.file, "identity", s->identity);
    render_whole(r, "chunk_cases", s->chunk_cases);
    render_whole(r, "shard", s->shard);
    render_whole(r, "shards", s->shards);
    render_names(r, "factors", s->factors, s->factor_count);
    render_names(r, "outputs", s->outputs, s->output_count);
    render_names(r, "series", s->series, s->series_count);
    if (s->series_count)
        store_text(&r->h, r->h.file, "series_grid", s->grid.column.name);
}

/* ------------------------------------------------------------------ numbers */

/* Writes some cases of a dataset. */
static void render_put(render *r, hid_t set, hid_t type, size_t first, size_t count, size_t width,
                       const void *values)
{
    if (!r->h.ok || r->disk.error)
        return;
    const int rank = width ? 2 : 1;
    const hsize_t start[2] = {first, 0}, extent[2] = {count, width};
    hid_t memory = H5Screate_simple(rank, extent, NULL);
    hid_t space = H5Dget_space(set);
    store_worked(&r->h, H5Sselect_hyperslab(space, H5S_SELECT_SET, start, NULL, extent, NULL));
    store_worked(&r->h, H5Dwrite(set, type, memory, space, H5P_DEFAULT, values));
    H5Sclose(space);
    H5Sclose(memory);
}

static void render_put_column(render *r, size_t column, size_t first, size_t count)
{
    const double *values = r->columns + column * r->rows;
    if (!store_column_at(r->study, column)->whole) {
        render_put(r, r->column[column], H5T_NATIVE_DOUBLE, first, count, 0, values);
        return;
    }
    for (size_t i = 0; i < count; i++)
        r->counts[i] = isnan(values[i]) ? -1 : (int32_t)values[i];
    render_put(r, r->column[column], H5T_NATIVE_INT32, first, count, 0, r->counts);
}

/* Copies what is in `bytes` to its place in the chunk of HDF5, and its series to the file. */
static void render_stage(render *r, size_t begin, bool finished)
{
    const store_study *s = r->study;
    const store_bytes *b = &r->bytes;
    size_t count, first = store_study_chunk(s, b->chunk, &count);
    const size_t columns = finished ? store_column_count(s) : s->factor_count;
    for (size_t j = 0; j < columns; j++)
        memcpy(r->columns + j * r->rows + first - begin, b->columns + j * count,
               count * sizeof *r->columns);
    if (!finished)
        return;
    memcpy(r->status + first - begin, b->status, count);
    memcpy(r->reason + (first - begin) * STORE_REASON_SIZE, b->reason, count * STORE_REASON_SIZE);
    r->seal[b->chunk] = store_bytes_seal(b);
    for (size_t j = 0; j < s->series_count; j++)
        render_put(r, r->series[j], H5T_NATIVE_DOUBLE, first, count, s->grid.count,
                   b->series + j * count * s->grid.count);
}

static void render_reset(render *r)
{
    for (size_t i = 0; i < store_column_count(r->study) * r->rows; i++)
        r->columns[i] = NAN;
    memset(r->status, STORE_NOT_RUN, r->rows);
    memset(r->reason, 0, r->rows * STORE_REASON_SIZE);
}

static bool render_has_reason(const render *r, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (r->reason[i * STORE_REASON_SIZE])
            return true;
    return false;
}

/* Writes one chunk of HDF5: all of it, its factors alone when no case of it was run, or nothing
 * when it is another shard's. */
static caber_status render_group(render *r, const store_source *source, size_t from, size_t to,
                                 caber_message *message)
{
    const store_study *s = r->study;
    size_t last, count;
    const size_t begin = store_study_chunk(s, from, &last);
    count = store_study_chunk(s, to - 1, &last) - begin;
    count += last;
    bool mine = false, finished = false;
    render_reset(r);
    for (size_t chunk = from; chunk < to; chunk++) {
        const bool has = source->has(source->user, chunk);
        if (!has && !store_chunk_is_mine(s, chunk))
            continue;
        store_bytes_aim(&r->bytes, chunk);
        caber_status status = has ? source->fetch(source->user, chunk, &r->bytes, message)
                                  : store_bytes_plan(&r->bytes, message);
        if (status != CABER_OK)
            return status;
        render_stage(r, begin, has);
        mine = true;
        finished |= has;
    }
    for (size_t i = 0; i < count; i++)
        r->numbers[i] = (int64_t)(begin + i);
    render_put(r, r->cases, H5T_NATIVE_INT64, begin, count, 0, r->numbers);
    const size_t columns = finished ? store_column_count(s) : mine ? s->factor_count : 0;
    for (size_t j = 0; j < columns; j++)
        render_put_column(r, j, begin, count);
    if (finished)
        render_put(r, r->statuses, H5T_NATIVE_INT8, begin, count, 0, r->status);
    if (finished && render_has_reason(r, count))
        render_put(r, r->reasons, r->reason_type, begin, count, 0, r->reason);
    return message_clear(message);
}

static caber_status render_numbers(render *r, const store_source *source, caber_message *message)
{
    const size_t chunks = store_study_chunks(r->study);
    caber_status status = message_clear(message);
    for (size_t c = 0; c < chunks && status == CABER_OK && r->h.ok && !r->disk.error; c += r->group)
        status = render_group(r, source, c, chunks - c < r->group ? chunks : c + r->group, message);
    return status;
}

/* The seals, once all of them are known. */
static void render_seals(render *r)
{
    if (r->h.ok && !r->disk.error)
        store_worked(&r->h,
                     H5Dwrite(r->seals, H5T_NATIVE_UINT32, H5S_ALL, H5S_ALL, H5P_DEFAULT, r->seal));
}

/* ------------------------------------------------------------------ beginning and end */

static bool render_coordinates(render *r)
{
    const store_study *s = r->study;
    size_t room = 1;
    for (size_t i = 0; i < s->factor_count; i++)
        room += strlen(s->factors[i].name) + 1;
    if (room == 1)
        return true;
    r->coordinates = calloc(1, room);
    for (size_t i = 0; r->coordinates && i < s->factor_count; i++) {
        strcat(r->coordinates, i ? " " : "");
        strcat(r->coordinates, s->factors[i].name);
    }
    return r->coordinates != NULL;
}

static bool render_room(render *r)
{
    const store_study *s = r->study;
    const size_t columns = store_column_count(s), chunks = store_study_chunks(s);
    r->group = s->chunk_cases < RENDER_ROWS ? RENDER_ROWS / s->chunk_cases : 1;
    r->rows = r->group * s->chunk_cases < s->cases ? r->group * s->chunk_cases : s->cases;
    r->columns = malloc((columns * r->rows + 1) * sizeof *r->columns);
    r->counts = malloc(r->rows * sizeof *r->counts);
    r->numbers = malloc(r->rows * sizeof *r->numbers);
    r->status = malloc(r->rows);
    r->reason = malloc(r->rows * STORE_REASON_SIZE);
    r->seal = calloc(chunks, sizeof *r->seal);
    r->column = malloc((columns + 1) * sizeof *r->column);
    r->series = malloc((s->series_count + 1) * sizeof *r->series);
    for (size_t i = 0; r->column && i < columns; i++)
        r->column[i] = H5I_INVALID_HID;
    for (size_t i = 0; r->series && i < s->series_count; i++)
        r->series[i] = H5I_INVALID_HID;
    return r->columns && r->counts && r->numbers && r->status && r->reason && r->seal &&
           r->column && r->series && render_coordinates(r);
}

static void render_close(const hid_t *sets, size_t count)
{
    for (size_t i = 0; sets && i < count; i++)
        if (sets[i] >= 0)
            H5Dclose(sets[i]);
}

/* Closes all but the file. */
static void render_end(render *r)
{
    const hid_t own[] = {r->cases, r->chunks, r->grid, r->statuses, r->reasons, r->seals};
    render_close(own, sizeof own / sizeof *own);
    render_close(r->column, store_column_count(r->study));
    render_close(r->series, r->study->series_count);
    if (r->reason_type >= 0)
        H5Tclose(r->reason_type);
    store_end(&r->h);
    store_bytes_free(&r->bytes);
    free(r->columns);
    free(r->counts);
    free(r->numbers);
    free(r->status);
    free(r->reason);
    free(r->seal);
    free(r->column);
    free(r->series);
    free(r->coordinates);
}

static void render_types(render *r)
{
    store_begin(&r->h);
    r->cases = r->chunks = r->grid = r->statuses = r->reasons = r->seals = H5I_INVALID_HID;
    r->reason_type = H5Tcopy(H5T_C_S1);
    store_worked(&r->h, r->reason_type);
    if (r->h.ok) {
        store_worked(&r->h, H5Tset_size(r->reason_type, STORE_REASON_SIZE));
        store_worked(&r->h, H5Tset_strpad(r->reason_type, H5T_STR_NULLPAD));
    }
}

static caber_status render_all(render *r, const store_source *source, const char *path,
                               caber_message *message)
{
    hid_t creation = H5Pcreate(H5P_FILE_CREATE);
    store_worked(&r->h, H5Pset_obj_track_times(creation, 0));
    caber_status status = store_disk_begin(path, creation, &r->disk, message);
    H5Pclose(creation);
    if (status != CABER_OK)
        return status;
    r->h.file = r->disk.file;
    render_root(r);
    render_datasets(r);
    if (r->h.ok)
        store_disk_described(&r->disk);
    status = render_numbers(r, source, message);
    render_seals(r);
    if (status == CABER_OK && !r->h.ok)
        status = message_set(message, CABER_INTERNAL, "%s: HDF5 could not write the file", path);
    return status;
}

caber_status store_render(const store_study *study, const store_source *source, const char *path,
                          caber_message *message)
{
    store_quiet quiet = store_hush();
    render r = {.study = study};
    render_types(&r);
    caber_status status = store_bytes_create(study, &r.bytes, message);
    if (status == CABER_OK && !render_room(&r))
        status = message_set(message, CABER_NO_MEMORY, "out of memory");
    if (status == CABER_OK) {
        status = render_all(&r, source, path, message);
        render_end(&r);
        if (r.disk.path)
            status = status == CABER_OK ? store_disk_commit(&r.disk, message)
                                        : store_disk_abandon(&r.disk, status, message);
    } else {
        render_end(&r);
    }
    store_unhush(quiet);
    return status;
}
