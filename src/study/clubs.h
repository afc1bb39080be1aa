/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The models of a study's clubs, each made once for all threads: elements and modes are the same for every
 * case that swings the same club, whatever the player does.
 *
 * At most `most` clubs are kept, the ones that were used last; a study whose clubs come back later than that
 * makes them again, to the same bits. Any thread may hold and drop at any time. */
#ifndef STUDY_CLUBS_H
#define STUDY_CLUBS_H

#include "study/plan.h"

/* How many clubs are kept, when nothing else is asked for: 8 MB of models as they usually are. */
enum { CLUBS_KEPT = 256 };

typedef struct clubs clubs;

/* Given a plan, which must outlive the clubs; errors: CABER_NO_MEMORY. */
caber_status clubs_create(const caber_study *plan, size_t most, clubs **out,
                          caber_message *message);
void clubs_free(clubs *all); /* NULL is allowed; nothing may be held any more */

/* Given a filled case; *model is the model of its club, made by this call when it is not there, to be given
 * back with clubs_drop. It has the player of whoever made it: swing it through model_borrow and
 * model_set_player. Two threads that want one club wait for one making of it. A club that cannot be modelled
 * fails alike each time. Errors: those of caber_model_create. */
caber_status clubs_hold(clubs *all, const plan_case *c, const caber_model **model,
                        caber_message *message);
void clubs_drop(clubs *all, const caber_model *model);

/* How many models have been made. */
size_t clubs_made(const clubs *all);

#endif
