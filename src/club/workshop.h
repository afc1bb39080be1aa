/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What a workshop measures on a club, from the same elements as the swing.
 *
 * Three-point bend: a span on two supports with P in its middle. By statics each support carries
 * P/2 wherever EI goes, so with u the deflection of the span clamped at the first support under P in
 * the middle and -P/2 on the other end, the supported span is u turned back onto the second support:
 * y(s) = u(s) - u(L) s/L. Bend point: where the shaft under an end load is furthest from its chord,
 * v'(s) = v(L)/L; and where M/EI is largest. */
#ifndef CLUB_WORKSHOP_H
#define CLUB_WORKSHOP_H

#include "club/club.h"

/* Given a club and a checked jig; returns what a workshop would read. */
caber_status workshop_measure(const club *c, const caber_jig *jig, caber_bench *out,
                              caber_message *message);

#endif
