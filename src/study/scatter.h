/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A player's swings, drawn and swung. */
#ifndef STUDY_SCATTER_H
#define STUDY_SCATTER_H

#include "caber.h"

/* Given setups, how many swings of which seed, and how many threads share them; fills of every club all but
 * spreads and landing, to be freed with scatter_club_free even after an error. The club's model is made once
 * a setup; a thread swings all setups. Any number of swings is allowed here. Errors: those of
 * caber_scatter_run. */
caber_status scatter_draw(const caber_setup *const *setups, size_t count,
                          const caber_scatter_settings *settings, caber_scatter_club *clubs,
                          caber_message *message);
void scatter_club_free(caber_scatter_club *c);

#endif
