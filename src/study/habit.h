/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A player's varied swings.
 *
 * Drawing: z = L e with L L' the correlations of the habits and e_k independent normal numbers, number k
 * of stream i of the seed. So z of swing i depends on nothing but the seed, i and the player's
 * correlations: setups that differ in shaft, head, grip or build get the same swings (common random
 * numbers), and a habit keeps its e_k when another one's standard deviation changes.
 *
 * Applying: with s_k the standard deviations and x_k = s_k z_k,
 *   rise, peak, hub: the load's value times exp(x);
 *   release: the release of the couple and the onset of the late one move together by x;
 *   arm, square, direction: the angle plus x;
 *   ahead, out, height: the ball moves by x along X, along the level direction square to it,
 *     -cos(incl) Y + sin(incl) Z, and up, sin(incl) Y + cos(incl) Z.
 * exp(x) has its mean at exp(s^2/2): 1 % above 1 for s = 14 %. The usual swing is where every z is 0, the
 * median of each.
 *
 * The ball. A file that leaves ball_down and ball_out open means the place where the straight club meets
 * it; that is a place of the usual swing, and the ball stays there for the varied ones. With s(u) and s(v)
 * where the usual and a varied swing strike that one ball, and p the place on the face where the player
 * stands to meet it in the usual swing, the varied swing meets it at p + s(v) - s(u): the player stands
 * p - s(u) off, which is a shift along the face of both. */
#ifndef STUDY_HABIT_H
#define STUDY_HABIT_H

#include "caber.h"

/* How a player's swings are drawn. */
typedef struct habits {
    double sd[CABER_HABITS];                    /* SI */
    double factor[CABER_HABITS * CABER_HABITS]; /* L, row by row */
} habits;

/* Given a player of a setup that setup_check lets through. Errors: CABER_BAD_INPUT for one without
 * habits, or with one whose load it cannot vary. */
caber_status habits_create(const caber_player *player, habits *out, caber_message *message);

/* Fills z, mean 0 and standard deviation 1 each, of one swing of a seed. */
void habits_draw(const habits *h, int seed, size_t swing, double z[CABER_HABITS]);

/* Lays the player's ball down where the usual swing met it. */
void habits_fix_ball(caber_player *player, const caber_swing *usual);

/* Given the usual player, whose ball has been laid down; fills the varied one, whose tables are those of
 * the usual. */
void habits_apply(const habits *h, const caber_player *usual, const double z[CABER_HABITS],
                  caber_player *out);

/* Given the place on the face where the player stands to meet the ball in the usual swing, and that swing
 * and a varied one of the same ball; returns where the varied one meets it. */
caber_place habits_place(caber_place usual_place, const caber_swing *usual,
                         const caber_swing *varied);

#endif
