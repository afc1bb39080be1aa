/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A club's figures beside the limits of the Equipment Rules: a check before asking, never a ruling.
 * Source: The R&A and USGA, The Equipment Rules, part 2: length, 1c; bending and twisting, 2b; head,
 * 4b and 4c; test tolerances as published with the tests. */
#ifndef CLUB_RULES_H
#define CLUB_RULES_H

#include "club/club.h"

/* Given a checked setup and its club; fills CABER_RULES_COUNT rules. */
void rules_fill(const caber_setup *setup, const club *c, caber_rule *out);

#endif
