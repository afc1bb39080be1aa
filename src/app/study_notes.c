/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/study_notes.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"
#include "study/influence.h"
#include "study/influence_morris.h"

/* One reading. */
typedef struct notes_reading {
    const store_study *study;
    const char *path;
    study_notes *out;
    caber_message *message;
} notes_reading;

static const store_note *note_find(const store_study *s, const char *name)
{
    for (size_t i = 0; i < s->note_count; i++)
        if (!strcmp(s->notes[i].name, name))
            return &s->notes[i];
    return NULL;
}

static caber_status note_missing(const notes_reading *r, const char *name, const char *what)
{
    return message_set(
        r->message, CABER_BAD_INPUT,
        "%s: its root says no '%s' that is %s: it is no file of 'caber sweep', or was "
        "changed since",
        r->path, name, what);
}

static const char *note_text(const store_study *s, const char *name)
{
    const store_note *note = note_find(s, name);
    return note && note->text ? note->text : NULL;
}

/* Reads a whole number that is at least `least`. */
static caber_status note_count(const notes_reading *r, const char *name, size_t least, size_t *out)
{
    const store_note *note = note_find(r->study, name);
    const bool number = note && !note->text && !note->texts;
    if (!number || !(note->number >= (double)least) || note->number > DESIGN_CASES_MOST ||
        note->number != floor(note->number))
        return note_missing(r, name, least ? "a whole number above 0" : "a whole number");
    *out = (size_t)note->number;
    return CABER_OK;
}

/* Reads a list of `count` texts, of any length when it is 0. */
static caber_status note_list(const notes_reading *r, const char *name, size_t count,
                              const char *const **out)
{
    const store_note *note = note_find(r->study, name);
    if (!note || !note->texts)
        return note_missing(r, name, "a list of texts");
    if (count && note->count != count)
        return message_set(r->message, CABER_BAD_INPUT,
                           "%s: its root has %zu 'factor_names' and %zu '%s'", r->path, count,
                           note->count, name);
    *out = note->texts;
    return CABER_OK;
}

/* ------------------------------------------------------------------ factors */

static caber_status find_column(const notes_reading *r, study_factor *f)
{
    char clip[TEXT_CLIP_SIZE];
    for (size_t i = 0; i < r->study->factor_count; i++)
        if (!strcmp(r->study->factors[i].name, f->name))
            f->column = &r->study->factors[i];
    if (!f->column)
        return message_set(r->message, CABER_BAD_INPUT,
                           "%s: its root names a factor '%s', of which there is no dataset",
                           r->path, text_clip(f->name, clip));
    for (const study_factor *other = r->out->factors; other < f; other++)
        if (other->column == f->column)
            return message_set(r->message, CABER_BAD_INPUT,
                               "%s: its root names the factor '%s' twice", r->path,
                               text_clip(f->name, clip));
    return CABER_OK;
}

/* Words and files are listed alike; no and yes are numbers for whoever reads them. */
static caber_status find_words(const notes_reading *r, study_factor *f)
{
    char name[CABER_NAME_SIZE + 16];
    snprintf(name, sizeof name, "choices_%.80s", f->name);
    const caber_status status = note_list(r, name, 0, &f->words);
    if (status != CABER_OK)
        return status;
    f->word_count = note_find(r->study, name)->count;
    if (f->kind == STUDY_WORD && f->word_count == 2 && !strcmp(f->words[0], "no") &&
        !strcmp(f->words[1], "yes"))
        f->kind = STUDY_NUMBER;
    return CABER_OK;
}

static caber_status read_factor(const notes_reading *r, study_factor *f, const char *kind)
{
    static const char *const kinds[] = {"number", "word", "choice"};
    char clip[TEXT_CLIP_SIZE];
    caber_status status = find_column(r, f);
    if (status != CABER_OK)
        return status;
    size_t i = 0;
    while (i < sizeof kinds / sizeof *kinds && strcmp(kinds[i], kind) != 0)
        i++;
    if (i == sizeof kinds / sizeof *kinds)
        return message_set(r->message, CABER_BAD_INPUT,
                           "%s: its root calls a factor a '%s'; number, word and choice are known",
                           r->path, text_clip(kind, clip));
    f->kind = (study_factor_kind)i;
    return f->kind == STUDY_NUMBER ? CABER_OK : find_words(r, f);
}

static caber_status read_factors(const notes_reading *r)
{
    const char *const *names = NULL, *const *paths = NULL, *const *kinds = NULL;
    caber_status status = note_list(r, "factor_names", 0, &names);
    if (status != CABER_OK)
        return status;
    const size_t count = note_find(r->study, "factor_names")->count;
    status = note_list(r, "factor_paths", count, &paths);
    if (status == CABER_OK)
        status = note_list(r, "factor_kinds", count, &kinds);
    if (status != CABER_OK)
        return status;
    r->out->factors = calloc(count, sizeof *r->out->factors);
    if (!r->out->factors)
        return message_set(r->message, CABER_NO_MEMORY, "out of memory");
    r->out->factor_count = count;
    for (size_t k = 0; k < count && status == CABER_OK; k++) {
        study_factor *f = &r->out->factors[k];
        f->name = names[k];
        f->path = paths[k];
        status = read_factor(r, f, kinds[k]);
    }
    return status;
}

/* ------------------------------------------------------------------ the design */

static caber_status read_kind(const notes_reading *r)
{
    char clip[TEXT_CLIP_SIZE];
    const char *word = note_text(r->study, "design");
    if (!word)
        return note_missing(r, "design", "a text");
    for (int kind = 0; kind < DESIGN_KINDS; kind++)
        if (!strcmp(design_word((design_kind)kind), word)) {
            r->out->design = (design_kind)kind;
            return CABER_OK;
        }
    return message_set(r->message, CABER_BAD_INPUT,
                       "%s: its root calls its design '%s', which is none of a study", r->path,
                       text_clip(word, clip));
}

static caber_status check_points(const notes_reading *r, size_t wanted)
{
    if (r->out->points == wanted)
        return CABER_OK;
    return message_set(
        r->message, CABER_BAD_INPUT,
        "%s: its root says %zu points of a design '%s' of %zu factors, which has %zu", r->path,
        r->out->points, design_word(r->out->design), r->out->factor_count, wanted);
}

static caber_status read_pairs(const notes_reading *r)
{
    study_notes *n = r->out;
    size_t both = 0;
    caber_status status = note_count(r, "rows", 1, &n->rows);
    if (status == CABER_OK)
        status = note_count(r, "both", 0, &both);
    n->both = both > 0;
    return status == CABER_OK ? check_points(r, n->rows * influence_parts(n->factor_count, n->both))
                              : status;
}

static caber_status read_trajectories(const notes_reading *r)
{
    study_notes *n = r->out;
    caber_status status = note_count(r, "trajectories", 1, &n->trajectories);
    if (status == CABER_OK)
        status = note_count(r, "levels", INFLUENCE_LEVELS_LEAST, &n->levels);
    if (status == CABER_OK && n->levels % 2)
        status = note_missing(r, "levels", "an even number");
    return status == CABER_OK
               ? check_points(r, influence_morris_cases(n->factor_count, n->trajectories))
               : status;
}

static caber_status read_design(const notes_reading *r)
{
    study_notes *n = r->out;
    caber_status status = read_kind(r);
    if (status == CABER_OK)
        status = note_count(r, "points", 1, &n->points);
    if (status == CABER_OK)
        status = note_count(r, "replicates", 0, &n->replicates);
    if (status != CABER_OK)
        return status;
    n->swings = n->replicates ? n->replicates : 1;
    if ((double)n->points * (double)n->swings != (double)r->study->cases)
        return message_set(r->message, CABER_BAD_INPUT,
                           "%s: its root says %zu points of %zu swings, and its datasets have %zu "
                           "cases",
                           r->path, n->points, n->swings, r->study->cases);
    if (n->design == DESIGN_SALTELLI)
        return read_pairs(r);
    return n->design == DESIGN_MORRIS ? read_trajectories(r) : CABER_OK;
}

/* ------------------------------------------------------------------ all of it */

caber_status study_notes_read(const store_reader *reader, const char *path, study_notes **out,
                              caber_message *message)
{
    notes_reading r = {store_reader_study(reader), path, calloc(1, sizeof *r.out), message};
    *out = NULL;
    if (!r.out)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const char *title = note_text(r.study, "title"), *note = note_text(r.study, "note");
    const store_note *seed = note_find(r.study, "seed");
    r.out->title = title ? title : "";
    r.out->note = note ? note : "";
    r.out->seed = seed && !seed->text && !seed->texts ? seed->number : 0;
    caber_status status = read_factors(&r);
    if (status == CABER_OK)
        status = read_design(&r);
    if (status == CABER_OK) {
        *out = r.out;
        return message_clear(message);
    }
    study_notes_free(r.out);
    return status;
}

void study_notes_free(study_notes *notes)
{
    if (!notes)
        return;
    free(notes->factors);
    free(notes);
}

const char *study_factor_word(const study_factor *f, double value)
{
    if (!f->words || !(value >= 0 && value < (double)f->word_count) || value != floor(value))
        return NULL;
    const char *word = f->words[(size_t)value];
    return word[0] ? word : NULL;
}
