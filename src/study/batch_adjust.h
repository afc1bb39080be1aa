/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What is left of the differences between batches when measured covariates (where the ball was struck,
 * head speed) are removed by regression.
 *
 *   y_i = m_batch(i) + sum_j slope_j (x_ij - mean x_j) + e_i                                     (1)
 *
 * by least squares, the slopes common to all batches, so m_b is the mean of batch b as it would be at
 * the mean of every covariate over all shots (analysis of covariance). Standard errors allow for unequal
 * spreads: HC3 of J. G. MacKinnon & H. White (1985), J. Econometrics 29:305 (from memory), with t at
 * shots - batches - covariates degrees of freedom. Whether one slope serves all batches is tested by
 * giving every batch its own and asking whether these differ, a Wald F test with the same errors.
 *
 * Adjusting answers "at the same strike"; where a shaft changes the strike itself, that part of its
 * effect is removed too. So both differences, with and without, belong in a report.
 *
 * In test_shots_coverage.c, 3 batches of 12 and one covariate, intervals of 95 % of an adjusted difference
 * held in 94 to 96 of 100, 93 for skewed shots of unequal spread; the tests called 4 to 6 at 5 %. */
#ifndef STUDY_BATCH_ADJUST_H
#define STUDY_BATCH_ADJUST_H

#include "study/batch_stats.h"

/* Shots that must be left over after every parameter is paid for. */
enum { BATCH_ADJUST_SPARE = 5 };

/* What is asked; nothing is owned. */
typedef struct batch_adjust_data {
    size_t count;        /* shots */
    const double *value; /* [count] */
    const size_t *batch; /* [count], 0 .. batches - 1; every batch has at least 2 shots */
    size_t batches;      /* at least 1; with 1 only slopes and spread are told */
    size_t covariates;   /* at least 1 */
    const double *const *covariate;    /* [covariates] arrays of [count] */
    const char *const *covariate_name; /* [covariates], for messages; NULL: "covariate 1", ... */
} batch_adjust_data;

/* One covariate. */
typedef struct batch_slope {
    double mean;             /* of the covariate over all shots, unit of the covariate */
    double slope, error;     /* unit of the value over that of the covariate; HC3 standard error */
    batch_interval interval; /* of the slope */
    batch_test test;         /* t: slope against 0 */
    /* F: is the slope the same in every batch? Unknown with one batch, with too few shots for a slope a
     * batch, or with a covariate that is constant in one. */
    batch_test same;
} batch_slope;

/* One batch. */
typedef struct batch_adjusted {
    size_t count;
    double raw_mean, mean;   /* before, and at the common mean of the covariates */
    double error;            /* HC3 standard error of mean */
    batch_interval interval; /* of mean */
    double raw_sd;           /* spread before */
    double sd; /* with the part of the covariates removed; divisor n - 1 less its share of slopes */
    batch_interval sd_interval; /* Bonett, of adjusted values; unaware that slopes were fitted */
} batch_adjusted;

/* Batches a < b, differences a minus b. */
typedef struct batch_adjusted_pair {
    size_t a, b;
    double raw_difference, difference;
    double error;            /* HC3 */
    batch_interval interval; /* of difference */
    batch_test test;         /* t */
    double explained; /* raw_difference - difference: the covariates' part of the difference */
    /* explained / raw_difference: outside 0 .. 1 when adjusting widens or turns the difference, NAN when
     * raw_difference is 0. */
    double explained_share;
    batch_test spreads;               /* Brown-Forsythe of the two on adjusted values */
    double sd_ratio;                  /* of batch_adjusted.sd; NAN unless both are above 0 */
    batch_interval sd_ratio_interval; /* Bonett, of the adjusted values */
} batch_adjusted_pair;

typedef struct batch_adjust {
    batch_reason reason; /* not BATCH_KNOWN: refused, and nothing below but why is filled */
    caber_message why;   /* the refusal as a sentence, naming the covariate; empty if not refused */
    size_t count, batches, covariates, pairs;
    double df;           /* shots - batches - covariates */
    double sd;           /* residual, all batches together */
    double share_within; /* of the variance within batches, what the covariates explain, 0 .. 1 */
    bool slopes_differ;  /* any `same` has p < 1 - level, uncorrected: the adjustment is doubtful */
    caber_message doubt; /* then the sentence that says so; else empty */
    batch_test overall;  /* F (Wald, HC3): do any adjusted means differ? Unknown with one batch */
    batch_test spreads;  /* Brown-Forsythe over all on the adjusted values */
    batch_slope *slope;  /* [covariates] */
    batch_adjusted *batch;     /* [batches] */
    batch_adjusted_pair *pair; /* [pairs], (0,1), (0,2), ... (1,2), ...; NULL with one batch */
    double *adjusted;          /* [count], value - sum_j slope_j (x_ij - mean x_j) */
} batch_adjust;

/* Given data and settings (level alone is used); fills *out, to be emptied with batch_adjust_free
 * whatever was returned. Refused (CABER_OK, with out->reason and out->why) when a covariate is constant
 * or is told by the batch and the other covariates, or when fewer than BATCH_ADJUST_SPARE shots would
 * be left over. CABER_BAD_INPUT for infinite or NaN values and impossible counts. */
caber_status batch_adjust_run(const batch_adjust_data *data, const batch_settings *settings,
                              batch_adjust *out, caber_message *message);
/* Frees what *out owns and empties it; safe on an empty one. */
void batch_adjust_free(batch_adjust *out);

#endif
