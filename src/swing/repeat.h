/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A player's habits as numbers: standard deviations and the matrix of their correlations. */
#ifndef SWING_REPEAT_H
#define SWING_REPEAT_H

#include "caber.h"

/* Fills the symmetric matrix of correlations, 1 on its diagonal, row by row. */
void repeat_correlations(const caber_repeat *repeat, double out[CABER_HABITS * CABER_HABITS]);

/* Given such a matrix; replaces it by L, lower triangular, with L L' = (C + e I)/(1 + e), e = 1e-9, so that
 * habits that go together entirely have one too. Returns false when C has an eigenvalue below -e: no
 * numbers have such correlations. */
bool repeat_factor(double c[CABER_HABITS * CABER_HABITS]);

/* Given habits whose fields have been checked one by one; checks that they can be had together. Errors:
 * CABER_BAD_INPUT, and a message that begins with the field's path in a setup. */
caber_status repeat_check(const caber_repeat *repeat, caber_message *message);
/* Checks that what the habits vary is there: a single swing does not need it, so a player may be given a
 * motion in place of a program for it. Errors as above. */
caber_status repeat_check_drives(const caber_player *player, caber_message *message);

#endif
