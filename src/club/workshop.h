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

/* What a figure of the bench needs beside the numbers: shapes at places evenly spread, ascending, m from the
 * cut tip. */
enum { WORKSHOP_PLACES = 121, WORKSHOP_MODES = 3 };
typedef struct workshop_shapes {
    double bend_at[WORKSHOP_PLACES]; /* m, from the tip to the clamp */
    double bend
        [WORKSHOP_PLACES]; /* m, towards the load, of the bare shaft under the load on its tip */
    double mode_at[WORKSHOP_PLACES]; /* m, from the hosel's mouth to the clamp */
    size_t
        mode_count; /* of those of caber_bench.frequencies that bend more towards the face than to
                          the toe, the lowest */
    double frequency[WORKSHOP_MODES]; /* Hz, as there */
    double mode[WORKSHOP_MODES]
               [WORKSHOP_PLACES]; /* 1, towards the face, the largest deflection being 1 */
} workshop_shapes;

caber_status workshop_shapes_find(const club *c, const caber_jig *jig, workshop_shapes *out,
                                  caber_message *message);

#endif
