/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Which of many factors matter at all: elementary effects. Morris (1991), Technometrics 33:161;
 * Campolongo, Cariboni & Saltelli (2007), Environ. Model. Softw. 22:1509, for mu* (both from memory; a
 * published worked example is a test).
 *
 * Each factor has a coordinate in [0, 1] with `levels` places, an even number p: 0, 1/(p - 1), .., 1. A
 * trajectory begins at a random place and moves one factor after the other, in random order, each once,
 * by D = p/(2(p - 1)): up from one of the lower p/2 places, or down to it. So every place is as likely
 * as any other, which needs p to be even. k factors, r trajectories: r (k + 1) cases, and of each factor
 * r independent elementary effects
 *   e = (f after - f before)/(coordinate after - coordinate before):
 * the output's change were the factor to go through its whole range at this slope.
 *   mu    mean of e: its sign says which way
 *   mu*   mean of |e|: how much the factor matters; to be ranked by
 *   sigma standard deviation of e: 0 when the output is straight in the factor and nothing else changes
 *         how; it does not tell curvature from interaction.
 * Interval of mu*: bootstrap over the effects (resample.h). */
#ifndef STUDY_INFLUENCE_MORRIS_H
#define STUDY_INFLUENCE_MORRIS_H

#include "study/resample.h"

enum { INFLUENCE_LEVELS_LEAST = 2, INFLUENCE_LEVELS_MOST = 100 };
/* Effects of a factor below which sigma and an interval mean nothing: an assumption of ours. */
enum { INFLUENCE_EFFECTS_LEAST = 4 };

/* How many cases a design has: trajectories (factors + 1). */
size_t influence_morris_cases(size_t factors, size_t trajectories);

/* Fills x[cases][factors], the coordinates: the factors + 1 cases of a trajectory follow one another.
 * The first trajectories of a longer design are those of a shorter one. Errors: CABER_BAD_INPUT for no
 * factors or trajectories, and for levels that are odd or out of range; CABER_NO_MEMORY. */
caber_status influence_morris_design(size_t factors, size_t trajectories, size_t levels,
                                     uint64_t seed, double *x, caber_message *message);

/* What the effects of a factor look like. */
typedef enum influence_shape {
    INFLUENCE_NONE,     /* all 0 */
    INFLUENCE_STRAIGHT, /* sigma is at most a tenth of mu* */
    INFLUENCE_ONE_WAY,  /* they differ in size, and none in sign */
    INFLUENCE_BOTH_WAYS /* some up, some down */
} influence_shape;

/* Of one factor; all in the unit of the output. */
typedef struct influence_effect {
    size_t count;        /* elementary effects that count: none beside a case that failed */
    double mean;         /* mu */
    double sd;           /* sigma */
    resample_range size; /* mu* */
    influence_shape shape;
} influence_effect;

typedef struct influence_morris {
    size_t trajectories, failed; /* failed: cases */
    size_t count;
    influence_effect *effect; /* [count], of the factors; owned */
} influence_morris;

/* Given the coordinates of all cases, x[cases][factors], in which effects are counted, and the output,
 * y[cases], NaN where a case failed; returns the effects, to be freed with influence_morris_free.
 * Errors: CABER_BAD_INPUT for cases that are no such design, for a factor with too few effects that
 * count (named; names[factors] may be NULL), and what resample_run refuses; CABER_NO_MEMORY. */
caber_status influence_morris_run(const double *x, const double *y, size_t factors,
                                  size_t trajectories, const char *const *names,
                                  const resample_settings *settings, influence_morris **out,
                                  caber_message *message);
/* NULL is allowed. */
void influence_morris_free(influence_morris *morris);

#endif
