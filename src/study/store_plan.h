/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A study's plan as the file of it: which datasets there are, and what its root says.
 *
 * Factors are datasets under their own names, in the units they are printed in; `point` and, where the study
 * has replicates, `replicate` come before them. A choice of files has the place in its list, from 0, and the
 * note `choices_NAME` lists the files. Outputs have the names that the study says, `swing_steps`,
 * `swing_evaluations` and `swing_error_failures` follow; series are `series.NAME` along `time_s`.
 *
 * Notes of the root, for readers (app/study_notes.h reads them back): `title`, `note`, `seed`, `design` (grid,
 * one-at-a-time, latin-hypercube, sobol, halton, saltelli, morris, cases), `points`, `replicates`, `rows` and
 * `both` (0 or 1) of saltelli pairs, `trajectories` and `levels` of morris, `factor_names`, `factor_paths`,
 * `factor_kinds` (number, word, choice), `choices_NAME` (the files of a choice; the words of a word, to which
 * yes and no count), `overrides`, `study_text` (the study's file verbatim), `setup_text` (the base setup as
 * one file, caber_setup_read reads it), `tolerance`. No clock, host or path of this machine but the files as
 * the study names them. */
#ifndef STUDY_STORE_PLAN_H
#define STUDY_STORE_PLAN_H

#include "study/engine.h"
#include "study/store_study.h"

typedef struct store_plan_view store_plan_view;

/* Given a plan, which must outlive the view, the text of files_study_identity and the base setup's text,
 * which are copied; returns what a writer wants, shard of shards (1 of 1 = all). Errors: CABER_NO_MEMORY,
 * CABER_BAD_INPUT when there are too many columns. */
caber_status store_plan_create(const caber_study *plan, const char *identity,
                               const char *setup_text, size_t shard, size_t shards,
                               store_plan_view **out, caber_message *message);
const store_study *store_plan_study(const store_plan_view *view);
void store_plan_free(store_plan_view *view); /* NULL is allowed */

/* Given a result of a chunk, gives it to a writer. */
caber_status store_plan_write(store_writer *writer, const engine_result *result,
                              caber_message *message);

#endif
