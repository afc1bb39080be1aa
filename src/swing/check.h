/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Whether a setup can be swung at all. */
#ifndef SWING_CHECK_H
#define SWING_CHECK_H

#include "caber.h"

/* Given a setup, read or filled by hand; checks every field by its own range and then what fields
 * must be to each other: stations that reach the butt, walls that fit their tube, an inertia that
 * a solid can have, a club with enough free shaft, drives with what they need. What a drive does
 * not use is not looked at.
 * Errors: CABER_BAD_INPUT; the message begins with the field's path as in a file and ": ". */
caber_status setup_check(const caber_setup *setup, caber_message *message);

/* Given a shaft alone; checks it in the same way, for itself. */
caber_status shaft_check(const caber_shaft *shaft, caber_message *message);

#endif
