/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * All outputs of a swing and its ball in one list, by their numbers in caber.h.
 *
 * Angles that atan2 gives lie within half a turn and could jump by a whole one. Of the outputs only the
 * spin axis comes near: backspin that falls below 0 takes it past a quarter turn, and sidespin that
 * changes its sign there then takes it round. So statistics take every angle near another of the same
 * output, such as the usual swing's. */
#ifndef STUDY_OUTPUTS_H
#define STUDY_OUTPUTS_H

#include "caber.h"
#include "study/shot.h"

/* Given work for shots, a setup, a swing of it and where on the face its ball lies; fills *out. A ball
 * that is not struck or does not rise is an error here: the caller says what it makes of it; out->swing
 * is filled all the same, and every number of out->shot is NAN. Errors: those of shot_run; CABER_BAD_INPUT
 * for a swing that met no ball. */
caber_status outcome_fill(shot_work *work, const caber_setup *setup, const caber_swing *swing,
                          caber_place place, caber_outcome *out, caber_message *message);

/* Given a value of an output and another one, SI; returns the value, of an angle within half a turn of
 * the other. */
double output_near(size_t output, double value, double other);

#endif
