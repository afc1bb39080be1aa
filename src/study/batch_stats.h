/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Batches of measured shots: what one batch says of a column, and whether two or more batches differ.
 *
 * A batch is a plain array of finite numbers, one a shot, in any unit (results are in the same unit);
 * the caller has left out missing shots. Nothing here keeps state: two threads may call with different
 * results, and the same data, settings and stream give the same bits on any number of threads.
 *
 * How far to trust it (test_shots_coverage.c, 8 to 30 shots): intervals of 95 % held in 93 to 98 of 100
 * simulated batches, tests at 5 % called a difference where none was in 3 to 6, but for skewed shots
 * (lognormal, sd 0.5 of the logarithm): there Student's interval of the mean held in 91 at 8 shots,
 * Bonett's of the sd in 91 at 12 and 87 at 30 (heavy tails: 91 at 30), that of a difference in 92 when 8
 * such shots scatter twice as much as 30 others; Welch's test over four batches called 6 to 8. Bootstrap
 * intervals of the sd held in 58 to 86 and are not offered.
 *
 * What cannot be known (the spread of one shot, a test on a constant column) is not a failure: the
 * function returns CABER_OK, and the figure carries the reason; its numbers are then NAN. A status other
 * than CABER_OK (an infinite or NaN value, no shots, settings out of range, no memory) leaves the result
 * empty and a sentence in the message. */
#ifndef STUDY_BATCH_STATS_H
#define STUDY_BATCH_STATS_H

#include <stdint.h>

#include "caber.h"

/* X(symbol, text): why a figure is missing. */
#define BATCH_REASON_LIST(X)                                                                       \
    X(BATCH_KNOWN, "known")                                                                        \
    X(BATCH_FEW, "too few shots")                                                                  \
    X(BATCH_CONSTANT, "every shot has the same value")                                             \
    X(BATCH_ONE_CONSTANT, "every shot of one batch has the same value")                            \
    X(BATCH_TIES, "too few different values")                                                      \
    X(BATCH_APART, "the batches do not overlap at all")                                            \
    X(BATCH_COVARIATE_CONSTANT, "the quantity to be removed does not change")                      \
    X(BATCH_COVARIATE_TOLD, "the quantity to be removed follows from the batch and the others")    \
    X(BATCH_ONE_SHOT, "one shot alone decides")                                                    \
    X(BATCH_FIT_EXACT, "what is removed leaves nothing over")                                      \
    X(BATCH_UNSOLVED, "a solver did not converge")

typedef enum batch_reason {
#define BATCH_REASON_ENUM(symbol, text) symbol,
    BATCH_REASON_LIST(BATCH_REASON_ENUM)
#undef BATCH_REASON_ENUM
} batch_reason;

/* Returns the constant text of a reason, a clause without capital or stop (never NULL). */
const char *batch_reason_text(batch_reason reason);

enum { BATCH_RESAMPLES_LEAST = 200, BATCH_RESAMPLES_MOST = 100000, BATCH_RESAMPLES_USUAL = 4000 };

typedef struct batch_settings {
    double level;    /* 1, of intervals, 0.5 .. 0.999; tests call a difference at p < 1 - level */
    int resamples;   /* of the bootstrap, BATCH_RESAMPLES_LEAST .. _MOST */
    uint64_t seed;   /* of base/random.h */
    uint64_t stream; /* give every batch and column its own, so that they do not share resamples */
} batch_settings;

/* level 0.95, BATCH_RESAMPLES_USUAL, seed 1, stream 0. */
batch_settings batch_settings_default(void);

/* Two ends, NAN unless reason is BATCH_KNOWN. */
typedef struct batch_interval {
    batch_reason reason;
    double low, high;
} batch_interval;

/* A test of "no difference". Numbers are NAN unless reason is BATCH_KNOWN; then 0 <= p <= 1. */
typedef struct batch_test {
    batch_reason reason;
    double statistic; /* t, signed as first minus second, or F */
    double df;        /* degrees of freedom, of t or above the line of F */
    double df_2;      /* below the line of F; 0 for t */
    double p;         /* two-sided, of this test alone */
    double holm;      /* p corrected for all tests of a run: set by batch_holm, until then p */
} batch_test;

/* ------------------------------------------------------------------ one batch */

typedef struct batch_summary {
    size_t count;
    double least, most;
    double mean, median;
    double quartile_1; /* both linear between ordered shots: type 7 of Hyndman & Fan (1996) */
    double quartile_3;
    double mad_sd; /* median distance from the median x 1.4826: for normal shots it tends to sd */
    batch_reason sd_reason; /* BATCH_KNOWN, or BATCH_FEW for one shot */
    double sd;              /* divisor n - 1; NAN for one shot */
    double standard_error;  /* of the mean, sd / sqrt(n); NAN for one shot */
    batch_interval mean_t;  /* Student's t; the one to print */
    /* The bootstrap's t: nearer to the truth for few skewed shots, not for heavy tails (92 of 100). It
     * and all below need 5 shots. */
    batch_interval mean_bootstrap;
    batch_interval sd_interval;     /* Bonett (2006) */
    batch_interval median_interval; /* bootstrap, expanded percentiles */
    batch_interval mad_sd_interval; /* the same; holds in 95 to 98 of 100, may reach down to 0 */
} batch_summary;

/* Given the shots of one batch, count >= 1; fills *out. */
caber_status batch_summarise(const double *value, size_t count, const batch_settings *settings,
                             batch_summary *out, caber_message *message);

/* ------------------------------------------------------------------ two batches */

/* In words: below 0.2, 0.5, 0.8 in size or not. Thresholds: J. Cohen (1988), Statistical power analysis
 * for the behavioral sciences, 2nd ed. (from memory). */
typedef enum batch_effect { BATCH_NEGLIGIBLE, BATCH_SMALL, BATCH_MEDIUM, BATCH_LARGE } batch_effect;

/* Given a standardised difference; returns its class, of the size alone. */
batch_effect batch_effect_of(double g);
/* Returns "negligible", "small", "medium" or "large". */
const char *batch_effect_text(batch_effect effect);

/* a against b: differences are a minus b, ratios a over b. */
typedef struct batch_pair {
    size_t count_a, count_b;
    double difference;                  /* of the means */
    double difference_error;            /* its standard error without pooling; NAN if unknown */
    batch_interval difference_interval; /* Welch */
    batch_test means;                   /* Welch's t test; at least 2 shots in each */
    double sd_ratio;                    /* NAN unless both sds are above 0 */
    batch_interval sd_ratio_interval;   /* Bonett (2006); at least 5 shots in each */
    batch_test spreads; /* Brown & Forsythe (1974): F on distances from the medians; 3 in each */
    batch_reason g_reason;
    double g; /* Hedges: difference over the root of the mean variance, unbiased; NAN if unknown */
    batch_interval g_interval; /* Bonett (2008), unequal spreads allowed */
    batch_effect effect; /* class of g; BATCH_NEGLIGIBLE when g is unknown: look at g_reason */
    double superiority;  /* chance that a shot of a exceeds one of b, ties counted half */
    batch_interval superiority_interval; /* Brunner & Munzel (2000) on the logit */
} batch_pair;

/* Given two batches, each of at least one shot; fills *out. */
caber_status batch_pair_compare(const double *a, size_t count_a, const double *b, size_t count_b,
                                const batch_settings *settings, batch_pair *out,
                                caber_message *message);

/* ------------------------------------------------------------------ two or more batches */

/* One batch as an array, not owned. */
typedef struct batch {
    const double *value;
    size_t count; /* at least 1 */
} batch;

/* Over all batches at once: does any differ? With two batches the same answers as batch_pair (F = t^2). */
typedef struct batch_overall {
    batch_test means;   /* Welch (1951), unequal spreads allowed; at least 2 shots in each */
    batch_test spreads; /* Brown & Forsythe (1974); at least 3 shots in each */
} batch_overall;

/* Given batches, count >= 2; fills *out. */
caber_status batch_overall_compare(const batch *batches, size_t count, batch_overall *out,
                                   caber_message *message);

/* Corrects all tests of a run together, by S. Holm (1979), Scand. J. Statist. 6:65: sets `holm` of each
 * test whose reason is BATCH_KNOWN, the others are passed over. The chance that any of the true "no
 * difference" is denied is then at most 1 - level, however the tests hang together.
 * Given pointers to the tests (the same test not twice); fails only with CABER_NO_MEMORY. */
caber_status batch_holm(batch_test *const *tests, size_t count, caber_message *message);

#endif
