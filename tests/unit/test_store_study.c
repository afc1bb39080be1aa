/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The file of a study: what it takes and refuses, what comes back, and what damage does. How it is
 * read by others, killed and cut off from the disk is in tests/command/test_study_file.py. */
#include <fcntl.h>
#include <stdlib.h>
#include <strings.h>
#include <sys/stat.h>

#include "folder.h"
#include "study/store_chunk.h"
#include "study/store_journal.h"

enum { OUTPUTS = 3, FACTORS = 2, POINTS = 5, MOST = 64 };

static const store_column factors[FACTORS] = {
    {.name = "rise_ms", .units = "ms", .long_name = "rise", .factor = 1e3},
    {.name = "trims", .units = "1", .long_name = "trims", .factor = 1, .whole = true}};
static const store_column outputs[OUTPUTS] = {
    {.name = "speed_mps", .units = "m/s", .long_name = "speed", .factor = 1},
    {.name = "bend_point_m", .units = "m", .long_name = "bend", .factor = 1, .optional = true},
    {.name = "steps", .units = "1", .long_name = "steps", .factor = 1, .whole = true}};
static const store_column series[1] = {
    {.name = "lag_mm", .units = "mm", .long_name = "lag", .factor = 1e3}};
static const double at[POINTS] = {0, 0.1, 0.2, 0.3, 0.4};

/* A plan whose factors are all off by *user. */
static caber_status plan(void *user, size_t first, size_t count, double *values,
                         caber_message *message)
{
    (void)message;
    for (size_t i = 0; i < count; i++) {
        values[i] = 0.001 * (double)(first + i) + *(const double *)user;
        values[count + i] = (double)((first + i) % 3);
    }
    return CABER_OK;
}

static double no_offset = 0;

static store_study study_of(size_t cases, size_t chunk)
{
    return (store_study){.identity = "head: a\nrise: 0.05 s\nseed: 1\n",
                         .version = "1.0.0",
                         .cases = cases,
                         .chunk_cases = chunk,
                         .shard = 1,
                         .shards = 1,
                         .factors = factors,
                         .factor_count = FACTORS,
                         .plan = plan,
                         .plan_user = &no_offset,
                         .outputs = outputs,
                         .output_count = OUTPUTS,
                         .series = series,
                         .series_count = 1,
                         .grid = {{"time_s", "s", "time", 1, false, false}, POINTS, at}};
}

/* The numbers of a chunk: functions of the case. Case 4 fails. */
typedef struct numbers {
    double outputs[MOST * OUTPUTS], series[MOST * POINTS];
    int status[MOST];
    const char *reason[MOST];
} numbers;

static store_chunk chunk_of(const store_study *s, size_t chunk, numbers *n)
{
    size_t count, first = store_study_chunk(s, chunk, &count);
    memset(n, 0, sizeof *n);
    for (size_t i = 0; i < count; i++) {
        const double x = (double)(first + i);
        n->outputs[i * OUTPUTS] = 40 + x;
        n->outputs[i * OUTPUTS + 1] = 0.5 + x;
        n->outputs[i * OUTPUTS + 2] = 100 + x;
        for (size_t k = 0; k < POINTS; k++)
            n->series[i * POINTS + k] = x + 0.01 * (double)k;
        n->status[i] = first + i == 4 ? CABER_NOT_CONVERGED : CABER_OK;
        n->reason[i] = first + i == 4 ? "it did not converge" : NULL;
    }
    return (store_chunk){chunk, n->status, n->reason, n->outputs, n->series};
}

static store_writer *writer_of(const char *path, const store_study *s, store_mode mode)
{
    caber_message message;
    store_writer *w;
    if (store_writer_create(path, s, mode, &w, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return w;
}

static void write_chunks(store_writer *w, const store_study *s, size_t from, size_t to)
{
    static numbers n;
    for (size_t c = from; c < to; c++) {
        const store_chunk given = chunk_of(s, c, &n);
        assert_true(store_writer_wants(w, c));
        assert_int_equal(store_writer_write(w, &given, NULL), CABER_OK);
        assert_false(store_writer_wants(w, c));
    }
}

static void write_file(const char *path, const store_study *s)
{
    store_writer *w = writer_of(path, s, STORE_NEW);
    for (size_t c = 0; c < store_study_chunks(s); c++)
        if (store_writer_wants(w, c))
            write_chunks(w, s, c, c + 1);
    assert_int_equal(store_writer_finish(w, NULL), CABER_OK);
    store_writer_free(w);
}

static void assert_refused(const char *path, const store_study *s, store_mode mode,
                           const char *want)
{
    caber_message message;
    store_writer *w;
    assert_int_equal(store_writer_create(path, s, mode, &w, &message), CABER_BAD_INPUT);
    assert_null(w);
    if (!strstr(message.text, want))
        fail_msg("'%s' is not in '%s'", want, message.text);
}

static size_t file_size(const char *path)
{
    struct stat about;
    return stat(path, &about) == 0 ? (size_t)about.st_size : 0;
}

static void flip_byte(const char *path, size_t place)
{
    FILE *file = fopen(path, "r+b");
    assert_non_null(file);
    fseek(file, (long)place, SEEK_SET);
    const int byte = fgetc(file);
    fseek(file, (long)place, SEEK_SET);
    fputc(byte ^ 0x10, file);
    fclose(file);
}

/* ------------------------------------------------------------------ round trip */

static void what_is_written_comes_back(void **state)
{
    (void)state;
    const store_study s = study_of(23, 8);
    const char *path = strdup(folder_path("round.h5"));
    write_file(path, &s);
    store_reader *r;
    assert_int_equal(store_reader_create(path, &r, NULL), CABER_OK);
    const store_study *read = store_reader_study(r);
    assert_int_equal(read->cases, 23);
    assert_int_equal(read->chunk_cases, 8);
    assert_string_equal(read->identity, s.identity);
    assert_string_equal(read->outputs[1].long_name, "bend");
    assert_true(read->outputs[2].whole);
    double value[23], curve[2 * POINTS];
    int status[23];
    assert_int_equal(store_reader_column(r, "rise_ms", 0, 23, value, NULL), CABER_OK);
    assert_close(value[22], 22, 1e-15, 0);
    assert_int_equal(store_reader_column(r, "speed_mps", 0, 23, value, NULL), CABER_OK);
    assert_close(value[22], 62, 0, 0);
    assert_true(isnan(value[4])); /* the case failed */
    assert_int_equal(store_reader_column(r, "steps", 0, 23, value, NULL), CABER_OK);
    assert_close(value[4], 104, 0, 0); /* and its count says how */
    assert_int_equal(store_reader_series(r, "lag_mm", 7, 2, curve, NULL), CABER_OK);
    assert_close(curve[POINTS + 1], 8010, 1e-15, 0);
    assert_int_equal(store_reader_status(r, 0, 23, status, NULL), CABER_OK);
    for (int i = 0; i < 23; i++)
        assert_int_equal(status[i], i == 4 ? CABER_NOT_CONVERGED : CABER_OK);
    char reason[STORE_REASON_SIZE];
    assert_int_equal(store_reader_reason(r, 4, reason, NULL), CABER_OK);
    assert_string_equal(reason, "it did not converge");
    assert_int_equal(store_reader_reason(r, 5, reason, NULL), CABER_OK);
    assert_string_equal(reason, "");
    caber_message message;
    assert_int_equal(store_reader_column(r, "none", 0, 1, value, &message), CABER_BAD_INPUT);
    assert_int_equal(store_reader_column(r, "steps", 20, 4, value, &message), CABER_BAD_INPUT);
    store_reader_free(r);
    assert_int_equal(file_size(folder_path("round.h5.journal")), 0);
    free((void *)(uintptr_t)path);
}

/* A fine case with a number that is none is not kept as fine; an optional one may be missing. */
static void a_case_is_never_silently_without_numbers(void **state)
{
    (void)state;
    const store_study s = study_of(8, 8);
    static numbers n;
    store_chunk given = chunk_of(&s, 0, &n);
    n.outputs[0] = NAN;
    n.outputs[OUTPUTS + 1] = NAN;          /* optional */
    n.outputs[2 * OUTPUTS + 1] = INFINITY; /* not even of an optional one */
    n.outputs[3 * OUTPUTS + 2] = 1.5;      /* no count */
    n.outputs[5 * OUTPUTS + 2] = 3e9;      /* beyond an integer of the file */
    n.series[6 * POINTS + 3] = NAN;
    n.status[7] = CABER_BALL_NOT_REACHED;
    n.reason[7] = "\xce\xb1 came\nto nothing";
    store_writer *w = writer_of(folder_path("nan.h5"), &s, STORE_NEW);
    assert_int_equal(store_writer_write(w, &given, NULL), CABER_OK);
    assert_int_equal(store_writer_finish(w, NULL), CABER_OK);
    store_writer_free(w);
    store_reader *r;
    assert_int_equal(store_reader_create(folder_path("nan.h5"), &r, NULL), CABER_OK);
    int status[8];
    assert_int_equal(store_reader_status(r, 0, 8, status, NULL), CABER_OK);
    const int want[8] = {
        CABER_INTERNAL,      CABER_OK,       CABER_INTERNAL, CABER_INTERNAL,
        CABER_NOT_CONVERGED, CABER_INTERNAL, CABER_INTERNAL, CABER_BALL_NOT_REACHED};
    assert_memory_equal(status, want, sizeof want);
    char reason[STORE_REASON_SIZE];
    store_reader_reason(r, 0, reason, NULL);
    assert_string_equal(reason, "speed_mps came out as nan");
    store_reader_reason(r, 7, reason, NULL);
    assert_string_equal(reason, "? came?to nothing");
    store_reader_free(r);
}

static void a_long_reason_is_cut(void **state)
{
    (void)state;
    const store_study s = study_of(8, 8);
    static numbers n;
    char text[2 * STORE_REASON_SIZE];
    memset(text, 'x', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    const store_chunk given = chunk_of(&s, 0, &n);
    n.reason[4] = text;
    store_bytes bytes;
    assert_int_equal(store_bytes_create(&s, &bytes, NULL), CABER_OK);
    assert_int_equal(store_bytes_take(&bytes, &given, NULL), CABER_OK);
    assert_int_equal(strlen(bytes.reason + 4 * STORE_REASON_SIZE), STORE_REASON_SIZE - 1);
    store_bytes_free(&bytes);
}

/* ------------------------------------------------------------------ refusals */

static void another_study_is_not_resumed(void **state)
{
    (void)state;
    const char *path = strdup(folder_path("other.h5"));
    const store_study s = study_of(40, 8);
    store_writer *w = writer_of(path, &s, STORE_NEW);
    write_chunks(w, &s, 0, 2);
    assert_int_equal(store_writer_sync(w, NULL), CABER_OK);
    write_chunks(w, &s, 2, 3);
    store_writer_free(w);
    assert_refused(path, &s, STORE_NEW, "there already");
    store_study other = s;
    other.identity = "head: a\nrise: 0.06 s\nseed: 1\n";
    assert_refused(path, &other, STORE_RESUME, "'rise: 0.05 s' there, 'rise: 0.06 s' in this one");
    other = s;
    other.version = "1.0.1";
    assert_refused(path, &other, STORE_RESUME, "'version: 1.0.0' there, 'version: 1.0.1'");
    other = s;
    other.chunk_cases = 4;
    assert_refused(path, &other, STORE_RESUME, "'cases a chunk: 8' there");
    other = s;
    other.shards = 2;
    assert_refused(path, &other, STORE_RESUME, "'shard: 1 of 1' there, 'shard: 1 of 2'");
    other = s;
    other.output_count = 2;
    assert_refused(path, &other, STORE_RESUME, "'output: steps [1], a count' is there");
    other = s;
    other.grid.count = POINTS - 1;
    assert_refused(path, &other, STORE_RESUME, "'grid point: 0.4");
    /* A plan that the identity says nothing of. */
    double offset = 1e-6;
    other = s;
    other.plan_user = &offset;
    assert_refused(path, &other, STORE_RESUME, "case 0 has rise_ms 0 ms there, 0.001 in this one");
    /* After all that it is as it was. */
    w = writer_of(path, &s, STORE_RESUME);
    assert_int_equal(store_writer_progress(w).done, 3);
    assert_int_equal(store_writer_finish(w, NULL), CABER_BAD_INPUT);
    store_writer_free(w);
    w = writer_of(path, &other, STORE_REPLACE);
    assert_int_equal(store_writer_progress(w).done, 0);
    store_writer_free(w);
    free((void *)(uintptr_t)path);
}

static void two_writers_are_kept_apart(void **state)
{
    (void)state;
    const store_study s = study_of(40, 8);
    store_writer *w = writer_of(folder_path("lock.h5"), &s, STORE_NEW);
    assert_refused(folder_path("lock.h5"), &s, STORE_RESUME, "another process is writing");
    assert_refused(folder_path("lock.h5"), &s, STORE_REPLACE, "another process is writing");
    write_chunks(w, &s, 0, 1);
    numbers n;
    const store_chunk again = chunk_of(&s, 0, &n);
    assert_int_equal(store_writer_write(w, &again, NULL), CABER_BAD_INPUT);
    store_writer_free(w);
    w = writer_of(folder_path("lock.h5"), &s, STORE_RESUME);
    assert_int_equal(store_writer_progress(w).done, 1);
    store_writer_free(w);
}

static void what_cannot_be_kept_is_refused(void **state)
{
    (void)state;
    const char *path = folder_path("refused.h5");
    store_column column = outputs[0];
    store_study s = study_of(10, 4);
    s.outputs = &column;
    s.output_count = 1;
    const char *const names[] = {"", "2x", "a/b", "a b", "status", "rise_ms", "time_s", "\xce\xb1"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        column.name = names[i];
        assert_refused(path, &s, STORE_NEW, names[i]);
    }
    column = outputs[0];
    column.units = "\xff";
    assert_refused(path, &s, STORE_NEW, "speed_mps: unit and meaning");
    column = outputs[0];
    column.factor = 0;
    assert_refused(path, &s, STORE_NEW, "its factor");
    s = study_of(0, 4);
    assert_refused(path, &s, STORE_NEW, "0 cases in chunks of 4");
    s = study_of((size_t)1 << 40, 1);
    assert_refused(path, &s, STORE_NEW, "cannot be kept");
    s = study_of((size_t)1 << 40, (size_t)1 << 39);
    assert_refused(path, &s, STORE_NEW, "larger than 1 GiB");
    s = study_of(10, 4);
    s.shard = 2;
    assert_refused(path, &s, STORE_NEW, "no shard 2 of 1");
    const double back[POINTS] = {0, 0.1, 0.1, 0.3, 0.4};
    s = study_of(10, 4);
    s.grid.at = back;
    assert_refused(path, &s, STORE_NEW, "does not ascend");
    s = study_of(10, 4);
    s.plan = NULL;
    assert_refused(path, &s, STORE_NEW, "no plan");
    double none = NAN;
    s = study_of(10, 4);
    s.plan_user = &none;
    assert_refused(path, &s, STORE_NEW, "case 0: rise_ms is no number");
    const store_note note = {.name = "identity", .text = "x"};
    s = study_of(10, 4);
    s.notes = &note;
    s.note_count = 1;
    assert_refused(path, &s, STORE_NEW, "note 0");
}

static void keys_differ_where_they_do(void **state)
{
    (void)state;
    const struct {
        const char *there, *now, *want;
    } cases[] = {
        {"a\nb\nc\n", "a\nx\nc\n", "'b' there, 'x' in this one"},
        {"a\nb\nc\n", "a\nc\n", "'b' is there and not in this one"},
        {"a\nc\n", "a\nb\nc\n", "'b' is new"},
        {"a\nb\nc\nd\n", "a\nx\nc\ny\n", "'b' there, 'x' in this one (the first of 3 lines)"},
        {"a\n", "x\n", "'a' there, 'x' in this one"},
        {"a\n", "a\n  b\n", "'b' is new (a)"},
        {"s:\n  p:\n    k: 1\n  q: 5\n    r: 6\n    k: 2\n",
         "s:\n  p:\n    k: 1\n  q: 5\n    r: 6\n    k: 3\n",
         "'k: 2' there, 'k: 3' in this one (s.q)"},
        {"s:\n  k: 1\n  l: 1\n", "s:\n  k: 2\n  l: 2\n",
         "'k: 1' there, 'k: 2' in this one (s; the first of 2 lines)"},
        {"a: 1\na: 1\n", "a: 1\n", "'a: 1' is there and not in this one"},
        {"ab\n", "b\n", "'ab' there, 'b' in this one"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[128];
        store_key_difference(cases[i].there, cases[i].now, text, sizeof text);
        assert_string_equal(text, cases[i].want);
    }
}

/* ------------------------------------------------------------------ damage */

/* Wherever a journal ends, the whole records before are found again, and no others. */
static void a_journal_that_is_cut_keeps_whole_records(void **state)
{
    (void)state;
    const char *path = strdup(folder_path("cut.h5"));
    const char *journal = strdup(folder_path("cut.h5.journal"));
    const store_study s = study_of(24, 8);
    store_writer *w = writer_of(path, &s, STORE_NEW);
    size_t end[4] = {file_size(journal)};
    for (size_t c = 0; c < 3; c++) {
        write_chunks(w, &s, c, c + 1);
        end[c + 1] = file_size(journal);
    }
    store_writer_free(w);
    for (size_t size = end[3]; size > end[0]; size -= size % 97 ? 1 : 7) {
        assert_int_equal(truncate(journal, (off_t)size), 0);
        if (size % 150 > 3 && size != end[1] && size != end[2])
            continue; /* not all of them: each opens a file of HDF5 */
        w = writer_of(path, &s, STORE_RESUME);
        const size_t want = size >= end[3] ? 3 : size >= end[2] ? 2 : size >= end[1] ? 1 : 0;
        assert_int_equal(store_writer_progress(w).done, want);
        store_writer_free(w);
    }
    /* A head that is cut short is a journal that was never begun. */
    assert_int_equal(truncate(journal, 11), 0);
    w = writer_of(path, &s, STORE_RESUME);
    write_chunks(w, &s, 0, 3);
    assert_int_equal(store_writer_finish(w, NULL), CABER_OK);
    store_writer_free(w);
    free((void *)(uintptr_t)path);
    free((void *)(uintptr_t)journal);
}

static void a_damaged_record_is_done_again(void **state)
{
    (void)state;
    const char *path = strdup(folder_path("flip.h5"));
    const char *journal = strdup(folder_path("flip.h5.journal"));
    const store_study s = study_of(24, 8);
    store_writer *w = writer_of(path, &s, STORE_NEW);
    write_chunks(w, &s, 0, 1);
    const size_t middle = file_size(journal) + 200;
    write_chunks(w, &s, 1, 3);
    store_writer_free(w);
    flip_byte(journal, middle);
    w = writer_of(path, &s, STORE_RESUME);
    const store_progress p = store_writer_progress(w);
    assert_int_equal(p.done, 2);
    assert_int_equal(p.damaged, 1);
    assert_true(store_writer_wants(w, 1));
    store_writer_free(w);
    FILE *file = fopen(journal, "wb");
    fputs("something else altogether", file);
    fclose(file);
    assert_refused(path, &s, STORE_RESUME, "not a journal of a study");
    assert_int_equal(file_size(journal), 25);
    free((void *)(uintptr_t)path);
    free((void *)(uintptr_t)journal);
}

/* A flipped bit, wherever it is, is found or hits nothing that counts: never a wrong number. */
static void silent_damage_is_found(void **state)
{
    (void)state;
    const char *path = strdup(folder_path("silent.h5"));
    store_study s = study_of(64, 16);
    s.identity = "x\n";
    write_file(path, &s);
    double want[64], got[64];
    store_reader *r;
    assert_int_equal(store_reader_create(path, &r, NULL), CABER_OK);
    assert_int_equal(store_reader_column(r, "speed_mps", 0, 64, want, NULL), CABER_OK);
    store_reader_free(r);
    const size_t size = file_size(path);
    size_t found = 0;
    for (size_t place = size - 1; place > 2503; place -= 2503) {
        flip_byte(path, place);
        caber_status status = store_reader_create(path, &r, NULL);
        if (status == CABER_OK)
            status = store_reader_check(r, NULL, NULL);
        if (status == CABER_OK) {
            assert_int_equal(store_reader_column(r, "speed_mps", 0, 64, got, NULL), CABER_OK);
            assert_memory_equal(got, want, sizeof got);
        }
        found += status != CABER_OK;
        store_reader_free(r);
        flip_byte(path, place);
    }
    assert_true(found > size / 2503 / 2);
    free((void *)(uintptr_t)path);
}

static void what_is_no_study_is_said_to_be_none(void **state)
{
    (void)state;
    const store_study s = study_of(24, 8);
    store_reader *r;
    caber_message message;
    assert_int_equal(store_reader_create(folder_path("absent.h5"), &r, &message), CABER_IO_ERROR);
    folder_write("text.h5", "no HDF5 at all");
    assert_int_equal(store_reader_create(folder_path("text.h5"), &r, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "not an HDF5 file"));
    assert_refused(folder_path("text.h5"), &s, STORE_RESUME, "not an HDF5 file");
    assert_int_equal(file_size(folder_path("text.h5.journal")), 0);
    write_file(folder_path("short.h5"), &s);
    const size_t size = file_size(folder_path("short.h5"));
    for (size_t i = 1; i < 8; i++) {
        assert_int_equal(truncate(folder_path("short.h5"), (off_t)(size - i * size / 8)), 0);
        assert_int_equal(store_reader_create(folder_path("short.h5"), &r, &message),
                         CABER_BAD_INPUT);
        assert_non_null(strstr(message.text, "cut short"));
    }
}

/* ------------------------------------------------------------------ shards */

static void shards_join_to_the_whole(void **state)
{
    (void)state;
    char path[3][128];
    const char *const paths[] = {path[2], path[0], path[1]};
    store_study s = study_of(61, 4);
    s.shards = 3;
    for (size_t i = 0; i < 3; i++) {
        snprintf(path[i], sizeof path[i], "%s/shard%zu.h5", folder, i);
        s.shard = i + 1;
        write_file(path[i], &s);
    }
    caber_message message;
    assert_int_equal(store_gather(folder_path("joined.h5"), paths, 3, false, &message), CABER_OK);
    assert_int_equal(store_gather(folder_path("joined.h5"), paths, 3, false, &message),
                     CABER_BAD_INPUT);
    assert_int_equal(store_gather(folder_path("joined.h5"), paths, 3, true, &message), CABER_OK);
    store_reader *r;
    store_progress progress;
    assert_int_equal(store_reader_create(folder_path("joined.h5"), &r, NULL), CABER_OK);
    assert_int_equal(store_reader_check(r, &progress, NULL), CABER_OK);
    assert_int_equal(progress.done, 16);
    assert_int_equal(progress.chunks, 16);
    store_reader_free(r);
    const char *const twice[] = {path[0], path[1], path[0]};
    assert_int_equal(store_gather(folder_path("j.h5"), twice, 3, false, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "both shard 1 of 3"));
    assert_int_equal(store_gather(folder_path("j.h5"), paths, 2, false, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "but 2 files were given"));
    assert_int_equal(access(folder_path("j.h5"), F_OK), -1);
    /* More shards than chunks: some have nothing to do, and are finished at once. */
    s = study_of(5, 4);
    s.shards = 3;
    for (size_t i = 0; i < 3; i++) {
        remove(path[i]);
        s.shard = i + 1;
        write_file(path[i], &s);
    }
    assert_int_equal(store_gather(folder_path("j.h5"), paths, 3, false, &message), CABER_OK);
}

/* The seal is the CRC-32 whose check value is known: 0xcbf43926 of "123456789" (from memory; it is
 * the one of ITU-T V.42). */
static void the_seal_is_a_known_one(void **state)
{
    (void)state;
    assert_int_equal(store_crc("123456789", 9), 0xcbf43926);
}

/* Words are the names of the statuses in small letters. */
static void words_are_those_of_the_statuses(void **state)
{
    (void)state;
    static const char *const symbols[] = {
#define SYMBOL(symbol, text) #symbol,
        CABER_STATUS_LIST(SYMBOL)
#undef SYMBOL
    };
    for (int i = 0; i < STORE_STATUSES; i++)
        assert_int_equal(strcasecmp(store_status_word(i), symbols[i] + strlen("CABER_")), 0);
    assert_string_equal(store_status_word(CABER_OK), "ok");
    assert_string_equal(store_status_word(STORE_NOT_RUN), "not_run");
    assert_string_equal(store_status_word(STORE_STATUSES), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_written_comes_back),
        cmocka_unit_test(a_case_is_never_silently_without_numbers),
        cmocka_unit_test(a_long_reason_is_cut),
        cmocka_unit_test(another_study_is_not_resumed),
        cmocka_unit_test(two_writers_are_kept_apart),
        cmocka_unit_test(what_cannot_be_kept_is_refused),
        cmocka_unit_test(keys_differ_where_they_do),
        cmocka_unit_test(a_journal_that_is_cut_keeps_whole_records),
        cmocka_unit_test(a_damaged_record_is_done_again),
        cmocka_unit_test(silent_damage_is_found),
        cmocka_unit_test(what_is_no_study_is_said_to_be_none),
        cmocka_unit_test(shards_join_to_the_whole),
        cmocka_unit_test(the_seal_is_a_known_one),
        cmocka_unit_test(words_are_those_of_the_statuses),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
