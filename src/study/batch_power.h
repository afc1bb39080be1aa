/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How many shots would tell two batches apart: power of Welch's t test and of Brown and Forsythe's.
 *
 * Power is that of a two-sided test at p < alpha, by the noncentral t (equations in batch_power.c). For
 * means and equal spreads and counts it is exact; else it was within 3 in 100 of what simulated batches
 * gave, for spreads within 4, but 7 too low for heavy-tailed shots (test_shots_coverage.c).
 *
 * The plan takes what was measured for the truth. A measured difference is uncertain itself, and the
 * needed count goes with its inverse square: twice or half of it is no surprise. */
#ifndef STUDY_BATCH_POWER_H
#define STUDY_BATCH_POWER_H

#include "study/batch_stats.h"

/* Beyond so many more shots in each batch, nobody hits them for a fitting. */
enum { BATCH_MORE_MOST = 500 };

typedef struct batch_power_settings {
    /* 1, at which the test is made, 1e-6 .. 0.5. Of k tests corrected together, alpha / k is careful;
     * alpha itself promises too much. */
    double alpha;
    double power; /* 1, wanted chance to see the difference, 0.5 .. 0.999 */
} batch_power_settings;

/* alpha 0.05, power 0.8. */
batch_power_settings batch_power_default(void);

typedef enum batch_need_kind {
    BATCH_NEED_UNKNOWN, /* reason says why */
    BATCH_NEED_SETTLED, /* the test has told them apart already */
    BATCH_NEED_MORE,    /* `more` shots more in each batch */
    BATCH_NEED_ALIKE    /* more than BATCH_MORE_MOST more in each: too alike to settle */
} batch_need_kind;

typedef struct batch_need {
    batch_need_kind kind;
    batch_reason reason; /* BATCH_KNOWN unless kind is BATCH_NEED_UNKNOWN */
    int more;            /* shots more in each batch; 0 unless BATCH_NEED_MORE, then at least 1 */
    double power_now;    /* chance that such counts show such a difference; NAN if unknown */
    /* The least difference (or ratio of sds, above 1) that batches of these counts show with the wanted
     * power; NAN when unknown, or when they would show none, however large. */
    double detectable;
} batch_need;

/* Chance that Welch's test sees a difference of means. Given sds >= 0, not both 0, counts >= 2; NAN
 * for anything else. */
double batch_power_means(double difference, double sd_a, double sd_b, double count_a,
                         double count_b, double alpha);
/* Chance that Brown and Forsythe's test sees a ratio of sds. Given ratio > 0, counts >= 3 and
 * `evenness`, the mean distance from the median over the sd (normal shots: sqrt(2/pi) = 0.798; heavy
 * tails: less); NAN for anything else. */
double batch_power_spreads(double ratio, double evenness, double count_a, double count_b,
                           double alpha);

/* Given two batches as measured and whether their test has told them apart (after whatever correction
 * the caller makes); fills *out. CABER_BAD_INPUT as batch_pair_compare. */
caber_status batch_need_means(const batch *a, const batch *b, bool settled,
                              const batch_power_settings *settings, batch_need *out,
                              caber_message *message);
caber_status batch_need_spreads(const batch *a, const batch *b, bool settled,
                                const batch_power_settings *settings, batch_need *out,
                                caber_message *message);

/* "already settled", "12 more in each", "more than 500 more in each: too alike to settle" or "unknown:
 * ..." into text (any size; cut when too short). Returns text. */
const char *batch_need_text(const batch_need *need, char *text, size_t size);

#endif
