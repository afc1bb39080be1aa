/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a study's file says of its plan: the notes of study/store_plan.h read back, and held against each
 * other and against the datasets. Case = point x swings + replicate, as in study/plan.h. */
#ifndef APP_STUDY_NOTES_H
#define APP_STUDY_NOTES_H

#include "study/design.h"
#include "study/store_study.h"

typedef enum study_factor_kind {
    STUDY_NUMBER, /* a quantity, a whole number, or yes (1) and no (0) */
    STUDY_WORD,   /* the place of a word among those that the input allows, from 0 */
    STUDY_CHOICE  /* the place of a file in the study's list, from 0 */
} study_factor_kind;

/* Texts belong to the reader. */
typedef struct study_factor {
    const char *name, *path;
    study_factor_kind kind;
    const store_column *column; /* units and what it means */
    size_t word_count;
    const char *const *words; /* [word_count], of a choice, a word, or yes and no; else NULL */
} study_factor;

typedef struct study_notes {
    const char *title, *note; /* "" = none */
    design_kind design;
    size_t points;               /* of the design, at least 1 */
    size_t replicates;           /* as in the study: 0 = the usual swing alone */
    size_t swings;               /* cases a point, at least 1 */
    size_t rows;                 /* pairs of saltelli */
    bool both;                   /* of saltelli: b_1..b_k too */
    size_t trajectories, levels; /* of morris */
    double seed;
    size_t factor_count;   /* at least 1 */
    study_factor *factors; /* [factor_count], in the order of the design; owned */
} study_notes;

/* Given a reader, which must outlive the notes, and the file's path for messages; returns the notes, to be
 * freed with study_notes_free. Errors: CABER_BAD_INPUT for a file that has no such notes, as one that was
 * not swept has, and for notes that contradict each other or the datasets, naming them; CABER_NO_MEMORY. */
caber_status study_notes_read(const store_reader *reader, const char *path, study_notes **out,
                              caber_message *message);
void study_notes_free(study_notes *notes); /* NULL is allowed */

/* Returns the word or file that a value of a factor stands for; NULL when it is a number, and for a value
 * that has none. */
const char *study_factor_word(const study_factor *f, double value);

#endif
