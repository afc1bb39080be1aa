/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Drag and lift of a golf ball by published measurements. */
#ifndef BALL_DRAG_H
#define BALL_DRAG_H

#include <stdbool.h>

#include "caber.h"

/* The interpolated table with its place of the last look-up; one a thread. Opaque. */
typedef struct drag drag;

/* NULL when out of memory. */
drag *drag_create(void);
void drag_free(drag *d); /* NULL is allowed */

/* Forces over density/2 times speed squared times the area of the ball's outline. */
typedef struct drag_value {
    double cd, cl; /* 1 */
    bool outside;  /* the range of the set: held at its edge */
} drag_value;

/* Given a set, Reynolds number (density speed diameter/viscosity) and spin parameter (radius times
 * the spin across the flow over the speed, not below 0); returns the coefficients. Outside the
 * range of the set they are those of the edge nearest in each of the two numbers, except that below
 * the least spin the lift falls in proportion to the spin: a ball without spin has none. */
drag_value drag_at(drag *d, caber_coefficients set, double reynolds, double spin);

#endif
