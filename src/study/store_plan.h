/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A study's plan as the file of it: which datasets there are, and what its root says.
 *
 * Factors are datasets under their own names, in the units they are printed in; `point` and, where the study
 * has replicates, `replicate` come before them, both from 0. A choice of files, a word and yes or no are kept
 * as the place in a list, from 0, and the note `choices_NAME` has that list: the files as the study names
 * them, or the words. Outputs have the names that the study says; `swing_steps`, `swing_evaluations` and
 * `swing_error_failures` follow, which a case that failed may have too; series are `series.NAME` along
 * `time_s`.
 *
 * Notes of the root, for readers (app/study_notes.h reads them back): `title`, `note` (perhaps ""), `seed`,
 * `design` (a word of design.h), `points`, `replicates` (0 = the usual swings alone), `rows` and `both`
 * (0 or 1) of saltelli pairs, `trajectories` and `levels` of morris, `factor_names`, `factor_paths` (of a
 * choice: shaft, head, grip or player), `factor_kinds` (number, word, choice), `choices_NAME`, `overrides`
 * (those given besides the study's own; not there when there are none), `study_text` (the study's file
 * verbatim), `setup_text` (the base setup as one file, which caber_setup_read reads), `tolerance`. No clock,
 * host or path of this machine but the files as the study names them. */
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
