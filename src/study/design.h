/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Designs: which values the factors of a study take together, case by case.
 *
 *   grid             every level of every factor with every other, the last factor fastest
 *   one-at-a-time    the base, then each level of each factor with the others at their base; levels that
 *                    are the base are not run again
 *   latin-hypercube  n cases; of each factor one in each of n equally likely strata: u = (p(i) + e)/n, p a
 *                    random permutation, e even in (0, 1) (McKay, Beckman & Conover 1979, Technometrics
 *                    21:239, from memory)
 *   sobol, halton    points 0 to n - 1 of the sequences of GSL, the origin, which GSL leaves out, among
 *                    them: without it no 2^m of Sobol's points are a net. Shifted by the seed, so that no
 *                    point is on the edge and another seed is another sample: Sobol's digit by digit
 *                    (exclusive or), which keeps the net; Halton's modulo 1. Unless plain
 *   saltelli         n rows a and b and, for each factor, a with it from b (and b with it from a), for
 *                    indices of sensitivity; a row's cases follow each other: a, b, a_1..a_k[, b_1..b_k].
 *                    a and b are random, or the two halves of Sobol's points of 2 k dimensions
 *   morris           n trajectories, in each of which every factor moves once, the others held, for
 *                    elementary effects (influence_morris.h has the coordinates); a trajectory's cases
 *                    follow each other
 *   cases            as given
 *
 * u becomes a value by factor_quantile, a coordinate of morris by factor_place. All is a function of the settings and the case; threads may share
 * a design. Random numbers are those of base/random.h, in streams from 2^62 on, away from the swings' own. */
#ifndef STUDY_DESIGN_H
#define STUDY_DESIGN_H

#include <stdint.h>

#include "study/factor.h"

/* In the order of the words in a file. */
typedef enum design_kind {
    DESIGN_GRID,
    DESIGN_ONE_AT_A_TIME,
    DESIGN_LATIN_HYPERCUBE,
    DESIGN_SOBOL,
    DESIGN_HALTON,
    DESIGN_SALTELLI,
    DESIGN_MORRIS,
    DESIGN_CASES,
    DESIGN_KINDS
} design_kind;

/* Where the rows of DESIGN_SALTELLI come from; likewise in the order of the words. */
typedef enum design_rows { DESIGN_ROWS_RANDOM, DESIGN_ROWS_SOBOL } design_rows;

enum {
    DESIGN_FACTORS_MOST = 50,
    DESIGN_SOBOL_MOST = 40, /* dimensions; source: gsl_qrng.h, gsl_qrng_sobol */
    DESIGN_CASES_MOST = 100000000,
    DESIGN_CELLS_MOST = 200000000 /* numbers kept for one: 1.6 GB */
};

typedef struct design_settings {
    design_kind kind;
    size_t cases; /* of latin-hypercube, sobol, halton and cases; rows of saltelli; trajectories */
    design_rows rows;
    bool both;     /* saltelli: b_1..b_k as well */
    bool plain;    /* sobol, halton: without the shift */
    size_t levels; /* of morris, an even number */
    uint64_t seed;
} design_settings;

typedef struct design design;

/* Returns the word for a kind, as in a file; NULL beyond. */
const char *design_word(design_kind kind);

/* Given settings and `count` factors that factor_check lets through (which must outlive the design), the
 * factors' base values (one-at-a-time), and the given cases [cases][count] (DESIGN_CASES; copied). What a
 * kind does not need may be NULL. Errors: CABER_BAD_INPUT for a factor that has no levels or is of no
 * use in this design, for too few cases or too many; CABER_NO_MEMORY. */
caber_status design_create(const design_settings *settings, const factor *factors, size_t count,
                           const double *base, const double *given, design **out,
                           caber_message *message);
void design_free(design *d); /* NULL is allowed */

/* Returns the word of a kind in a study file. */
const char *design_word(design_kind kind);

size_t design_count(const design *d); /* cases */
/* Given the settings; returns how many numbers the design would keep in memory, 8 bytes each at most. */
double design_cells(const design_settings *settings, size_t factors);
/* Fills values[count] of case i. */
void design_values(const design *d, size_t i, double *values);

#endif
