/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a file of a study says of its cases, read back from it: so it is all of the file, however many runs or
 * shards it took. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/json.h"
#include "app/study_notes.h"
#include "app/sweep_parts.h"
#include "app/table.h"
#include "study/columns.h"

/* Cases that are read at a time. */
enum { TALLY_BLOCK = 4096 };

/* ------------------------------------------------------------------ what failed */

/* A sentence without its numbers, which differ from case to case. */
static void tally_like(const char *text, char like[STORE_REASON_SIZE])
{
    size_t used = 0;
    for (const char *c = text; *c && used + 1 < STORE_REASON_SIZE;) {
        const bool begins = c == text || !isalnum((unsigned char)c[-1]);
        const char *digit = c + (*c == '-' || *c == '+');
        if (!begins || !isdigit((unsigned char)*digit)) {
            like[used++] = *c++;
            continue;
        }
        char *end;
        strtod(c, &end);
        like[used++] = '#';
        c = end;
    }
    like[used] = '\0';
}

/* A file keeps no sentence to any length: what is cut differs with the numbers before. */
enum { TALLY_ALIKE = 120 };

static void tally_failed(sweep_tally *t, size_t index, int status, const char *reason)
{
    char like[STORE_REASON_SIZE];
    tally_like(reason, like);
    t->failed++;
    size_t i = 0;
    while (i < t->failure_count && (t->failures[i].status != status ||
                                    strncmp(t->failures[i].like, like, TALLY_ALIKE) != 0))
        i++;
    if (i == SWEEP_FAILURES) {
        t->others++;
        return;
    }
    sweep_failure *f = &t->failures[i];
    if (i == t->failure_count) {
        t->failure_count++;
        *f = (sweep_failure){.status = status, .first = index};
        memcpy(f->like, like, sizeof like);
        snprintf(f->example, sizeof f->example, "%s", reason);
    }
    f->count++;
}

static int tally_order(const void *a, const void *b)
{
    const sweep_failure *x = a, *y = b;
    if (x->count != y->count)
        return x->count < y->count ? 1 : -1;
    return (x->first > y->first) - (x->first < y->first);
}

/* ------------------------------------------------------------------ reading */

typedef struct tally_block {
    int status[TALLY_BLOCK];
    double values[TALLY_BLOCK];
} tally_block;

/* Outputs of a ball, which is not always struck and does not always rise. */
static void tally_columns(sweep_tally *t, const store_study *s)
{
    for (size_t i = 0; i < s->output_count && t->missing_count < SWEEP_MISSING; i++) {
        output_column column;
        if (column_find(s->outputs[i].name, &column, NULL) != CABER_OK || !column.optional)
            continue;
        snprintf(t->missing[t->missing_count++].name, CABER_NAME_SIZE, "%s", s->outputs[i].name);
    }
}

static caber_status tally_block_read(sweep_tally *t, store_reader *reader, tally_block *b,
                                     size_t first, size_t count, caber_message *message)
{
    char reason[STORE_REASON_SIZE];
    caber_status status = store_reader_status(reader, first, count, b->status, message);
    for (size_t i = 0; i < count && status == CABER_OK; i++) {
        t->good += b->status[i] == CABER_OK;
        if (b->status[i] == CABER_OK || b->status[i] == STORE_NOT_RUN)
            continue;
        status = store_reader_reason(reader, first + i, reason, message);
        if (status == CABER_OK)
            tally_failed(t, first + i, b->status[i], reason);
    }
    for (size_t k = 0; k < t->missing_count && status == CABER_OK; k++) {
        status = store_reader_column(reader, t->missing[k].name, first, count, b->values, message);
        for (size_t i = 0; i < count && status == CABER_OK; i++)
            t->missing[k].count += b->status[i] == CABER_OK && isnan(b->values[i]);
    }
    return status;
}

/* The factors of the first case of a kind of failure, so that it can be swung by itself. */
static caber_status tally_values(store_reader *reader, const study_notes *notes, sweep_failure *f,
                                 caber_message *message)
{
    size_t used = 0;
    double value;
    caber_status status = CABER_OK;
    if (notes->replicates)
        used = (size_t)snprintf(f->values, sizeof f->values, "replicate %zu",
                                f->first % notes->replicates);
    for (size_t k = 0; k < notes->factor_count && status == CABER_OK; k++) {
        const study_factor *of = &notes->factors[k];
        status = store_reader_column(reader, of->name, f->first, 1, &value, message);
        if (status != CABER_OK || used >= sizeof f->values)
            continue;
        const char *before = used ? ", " : "", *word = study_factor_word(of, value);
        const char *units = strcmp(of->column->units, "1") == 0 ? "" : of->column->units;
        const size_t room = sizeof f->values - used;
        used += (size_t)(word ? snprintf(f->values + used, room, "%s%s %s", before, of->name, word)
                              : snprintf(f->values + used, room, "%s%s %.6g%s%s", before, of->name,
                                         value, *units ? " " : "", units));
    }
    return status;
}

/* What the notes of a sweep tell; a file without them is still counted. */
static caber_status tally_notes(sweep_tally *t, store_reader *reader, const char *path,
                                caber_message *message)
{
    study_notes *notes;
    caber_status status = study_notes_read(reader, path, &notes, message);
    if (status == CABER_BAD_INPUT)
        return CABER_OK;
    if (status == CABER_OK)
        snprintf(t->title, sizeof t->title, "%s", notes->title);
    for (size_t i = 0; i < t->failure_count && status == CABER_OK; i++)
        status = tally_values(reader, notes, &t->failures[i], message);
    study_notes_free(notes);
    return status;
}

static caber_status tally_all(sweep_tally *t, store_reader *reader, const char *path,
                              caber_message *message)
{
    const store_study *s = store_reader_study(reader);
    tally_block *b = malloc(sizeof *b);
    caber_status status = b ? CABER_OK : CABER_NO_MEMORY;
    t->cases = s->cases;
    t->shard = s->shard;
    t->shards = s->shards;
    tally_columns(t, s);
    for (size_t at = 0; at < s->cases && status == CABER_OK; at += TALLY_BLOCK)
        status = tally_block_read(
            t, reader, b, at, s->cases - at < TALLY_BLOCK ? s->cases - at : TALLY_BLOCK, message);
    free(b);
    qsort(t->failures, t->failure_count, sizeof *t->failures, tally_order);
    return status == CABER_OK ? tally_notes(t, reader, path, message) : status;
}

caber_status sweep_tally_read(const char *path, sweep_tally *out, caber_message *message)
{
    memset(out, 0, sizeof *out);
    store_reader *reader;
    caber_status status = store_reader_create(path, &reader, message);
    if (status == CABER_OK)
        status = tally_all(out, reader, path, message);
    store_reader_free(reader);
    return status;
}

/* ------------------------------------------------------------------ as text */

/* Kinds of failure that are printed, some lines each. */
enum { TALLY_SHOWN = 4 };

static void tally_print_failures(const sweep_tally *t)
{
    if (!t->failed)
        return;
    table_group("Failed, by what they say; in the file `status` and `reason` say it of each case");
    size_t left = t->failed;
    for (size_t i = 0; i < t->failure_count && i < TALLY_SHOWN; i++) {
        const sweep_failure *f = &t->failures[i];
        printf("  %6zu  %s%s %zu\n", f->count, store_status_word(f->status),
               f->count == 1 ? ", case" : ", the first is case", f->first);
        if (f->values[0])
            table_wrapped(f->values, 10);
        table_wrapped(f->example[0] ? f->example : caber_status_text((caber_status)f->status), 10);
        left -= f->count;
    }
    if (left)
        printf("  %6zu  say something else\n", left);
}

/* Outputs that are missing in as many cases stand together: those of a ball that was not struck. */
static void tally_print_alike(const sweep_tally *t, size_t first, bool shown[SWEEP_MISSING])
{
    char text[SWEEP_MISSING * (CABER_NAME_SIZE + 2)];
    size_t used = 0;
    for (size_t i = first; i < t->missing_count; i++) {
        if (t->missing[i].count != t->missing[first].count)
            continue;
        shown[i] = true;
        used += (size_t)snprintf(text + used, sizeof text - used, "%s%s", i == first ? "" : ", ",
                                 t->missing[i].name);
    }
    printf("  %6zu  without ", t->missing[first].count);
    if (used < 80) {
        puts(text);
    } else {
        puts("these:");
        table_wrapped(text, 10);
    }
}

static void tally_print_missing(const sweep_tally *t)
{
    bool shown[SWEEP_MISSING] = {false}, any = false;
    for (size_t i = 0; i < t->missing_count; i++) {
        if (shown[i] || !t->missing[i].count)
            continue;
        if (!any)
            table_group("Went well, but the ball was not struck or did not rise");
        any = true;
        tally_print_alike(t, i, shown);
    }
}

static void tally_print_text(const sweep_tally *t, const char *path, const sweep_work *work)
{
    char time[SWEEP_TEXT_SIZE];
    table_title(t->title[0] ? t->title : path);
    fputs("  file       ", stdout);
    app_print_text(path);
    printf("\n  cases      %zu", t->good + t->failed);
    if (t->shards > 1)
        printf(" of %zu: shard %zu of %zu", t->cases, t->shard, t->shards);
    printf("\n  went well  %zu\n", t->good);
    if (t->failed)
        printf("  failed     %zu\n", t->failed);
    if (work && !work->cases)
        puts("  this run   nothing was left to do");
    if (work && work->cases) {
        sweep_time_text(work->time, time);
        printf("  this run   %zu cases in %s: %.0f swings a second\n", work->cases, time,
               (double)work->swings / fmax(work->time, 1e-3));
    }
    tally_print_failures(t);
    tally_print_missing(t);
}

/* ------------------------------------------------------------------ as JSON */

static json_t *tally_json(const sweep_tally *t, const char *path, const sweep_work *work)
{
    json_t *failures = json_array(), *missing = json_object();
    for (size_t i = 0; i < t->failure_count; i++) {
        const sweep_failure *f = &t->failures[i];
        json_array_append_new(failures,
                              json_pack("{sI ss sI ss}", "count", (json_int_t)f->count, "status",
                                        store_status_word(f->status), "first_case",
                                        (json_int_t)f->first, "reason", f->example));
    }
    for (size_t i = 0; i < t->missing_count; i++)
        if (t->missing[i].count)
            json_object_set_new(missing, t->missing[i].name,
                                json_integer((json_int_t)t->missing[i].count));
    json_t *object = json_pack(
        "{ss ss sI sI sI sI sI so sI so}", "study", t->title, "file", path, "cases",
        (json_int_t)(t->good + t->failed), "shard", (json_int_t)t->shard, "shards",
        (json_int_t)t->shards, "good", (json_int_t)t->good, "failed", (json_int_t)t->failed,
        "failures", failures, "failures_of_other_kinds", (json_int_t)t->others, "missing", missing);
    if (object && work)
        json_object_set_new(object, "run",
                            json_pack("{sI sI sf sf}", "cases", (json_int_t)work->cases, "swings",
                                      (json_int_t)work->swings, "time_s", work->time,
                                      "swings_per_second",
                                      (double)work->swings / fmax(work->time, 1e-3)));
    return object;
}

app_exit sweep_tally_print(const sweep_tally *t, const char *path, const sweep_work *work,
                           bool json)
{
    if (json)
        return json_app_print(tally_json(t, path, work));
    tally_print_text(t, path, work);
    return APP_FINE;
}
