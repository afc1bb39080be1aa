/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The file of a study, written in one pass from where its chunks are. */
#ifndef STUDY_STORE_RENDER_H
#define STUDY_STORE_RENDER_H

#include "study/store_chunk.h"

/* Given a study and where its finished chunks come from (in the order of their cases); puts the
 * file in the place of what is there, whole or not at all. Its bytes depend on these numbers
 * alone. */
caber_status store_render(const store_study *study, const store_source *source, const char *path,
                          caber_message *message);

#endif
