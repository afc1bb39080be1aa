/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the ball does after a swing: the impact, then the flight.
 *
 * Ground axes T towards the target, U up, S to the side away from the golfer. With v the velocity
 * and w the spin of the ball as it leaves, d = v/|v|, h = (d x U)/|d x U| the level axis across
 * the launch and k = d x h the axis square to both:
 *   ball speed = |v|, smash = ball speed over the speed of the head's own centre of mass,
 *   launch angle = asin(d.U), launch direction = atan2(d.S, d.T),
 *   backspin = w.h, sidespin = w.k, spin axis = atan2(sidespin, backspin).
 * The lift of a spinning ball is along w x v (Robins, Magnus). h x d is d turned up by a quarter
 * turn, so positive backspin lifts; k x d = h, which is S for a ball that flies at the target, so
 * positive sidespin curves the ball away from the golfer. Spin about d itself is in neither; the
 * flight keeps it.
 *
 * A left-handed player is computed as a mirror image, so S is away from that player as well, and the
 * wind, which blows over the course, is mirrored. */
#ifndef STUDY_SHOT_H
#define STUDY_SHOT_H

#include "caber.h"

/* What a thread needs for any number of shots, of any setups. Opaque. */
typedef struct shot_work shot_work;

/* Errors: CABER_NO_MEMORY. */
caber_status shot_work_create(shot_work **out, caber_message *message);
void shot_work_free(shot_work *work); /* NULL is allowed */

/* As caber_shot_run. The same to the last bit whatever the work was used for before. */
caber_status shot_run(shot_work *work, const caber_setup *setup, const caber_arrival *head,
                      caber_place place, caber_shot *out, caber_message *message);
/* Makes every number of a shot NAN, as of a ball that does not fly. */
void shot_clear(caber_shot *shot);
/* As caber_shot_pair_run; a swing that met no ball needs no work. */
caber_status shot_pair_run(shot_work *work, const caber_setup *setup, const caber_swing *swing,
                           caber_shot_pair *out, caber_message *message);

#endif
