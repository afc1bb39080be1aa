/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the statistics of batches share among themselves. */
#ifndef STUDY_BATCH_PARTS_H
#define STUDY_BATCH_PARTS_H

#include "study/batch_stats.h"

/* Fails with CABER_BAD_INPUT unless there are values and all are numbers of a size up to 1e60, so
 * that no fourth power overflows. `what` begins the sentence ("the batch"). */
caber_status batch_check(const double *value, size_t count, const char *what,
                         caber_message *message);
caber_status batch_settings_check(const batch_settings *settings, caber_message *message);

/* Whether all values are the same, but for rounding (1e-12 of the largest size). */
bool batch_is_constant(const double *value, size_t count);
/* Returns the values in ascending order, to be freed with free(); NULL when out of memory. */
double *batch_sorted(const double *value, size_t count);
double batch_median(const double *sorted, size_t count);

/* Unknown, for a reason. */
batch_interval batch_interval_unknown(batch_reason reason);
batch_test batch_test_unknown(batch_reason reason);
/* BATCH_KNOWN, or `otherwise` when an end is not finite. */
batch_interval batch_interval_make(double low, double high, batch_reason otherwise);
/* middle -+ quantile of Student's t x error. */
batch_interval batch_interval_t(double middle, double error, double df, double level);
batch_test batch_test_t(double t, double df);
batch_test batch_test_f(double f, double df, double df_2);

/* Distribution function of the noncentral t: P(T <= t) for df > 0 degrees and noncentrality delta.
 * NAN when the integration fails. */
double batch_noncentral_t(double t, double df, double delta);

enum { BATCH_BONETT_LEAST = 5 }; /* his trimming needs more than 4 shots */
/* Sum of ((x - trimmed mean) / sd)^4, what Bonett's kurtosis is made of; false without memory. Needs
 * BATCH_BONETT_LEAST shots that are not constant. */
bool batch_fourth(const batch *b, double *fourth);
/* Bonett's interval of a standard deviation, value known to be finite. */
batch_interval batch_sd_interval(const double *value, size_t count, double level);
/* Bonett's interval of the ratio of two, values known to be finite. BATCH_UNSOLVED without memory. */
batch_interval batch_sd_ratio_interval(const batch *a, const batch *b, double level);

/* Brown and Forsythe's test; CABER_NO_MEMORY only. */
caber_status batch_spreads_test(const batch *batches, size_t count, batch_test *out,
                                caber_message *message);
/* Distances from the batch's median into out [count]; false without memory. */
bool batch_distances(const batch *b, double *out);

#endif
