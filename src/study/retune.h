/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A player who re-tunes the swing to another club.
 *
 * Two figures of the load are free, and two of the delivery are wanted. With the hub's peak torque scaled by
 * e^a, and the release of the grip's couple, with its late part, moved by b,
 *   speed(a, b) = wanted speed,   lean(a, b) = wanted lean,
 * of the head and of the handle at impact. More torque at the hub brings mostly speed; a
 * later release mostly lean, since the hands are then further ahead when the head comes through. The
 * equations are solved by Powell's hybrid method as GSL has it, with derivatives from central differences:
 * steps of 0.2 % and 0.2 ms, large beside the integrator's 1e-8 and small beside what a player does. */
#ifndef STUDY_RETUNE_H
#define STUDY_RETUNE_H

#include "caber.h"

/* Given a setup, the speed (m/s) and the handle lean (rad) wanted; changes its load until it delivers them,
 * within 1e-4 m/s and 1e-4 deg, and fills *out and the swing that it then makes.
 * Errors: CABER_BAD_INPUT when hub or grip is driven otherwise than by a torque program;
 * CABER_NOT_CONVERGED with how close it came, or when it takes more than 20 % of the torque or 30 ms; those of the swing as it is. */
caber_status retune_run(caber_setup *setup, double speed, double lean, caber_retuning *out,
                        caber_swing *swing, caber_message *message);

/* Changes a load as re-tuning has found that it is to be changed. */
void retune_apply(caber_load *load, const caber_retuning *how);

#endif
