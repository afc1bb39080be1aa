/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Tests over two or more batches, and the correction for many tests.
 *
 * Means: B. L. Welch (1951), Biometrika 38:330. With w = n/s^2, W = sum w, m the mean weighted by w and
 * L = sum (1 - w/W)^2/(n - 1):
 *   F = sum w (m_i - m)^2 / ((k-1)(1 + 2 (k-2) L/(k^2-1)))  on  k - 1 and (k^2-1)/(3 L).
 *
 * Spreads: batch_spread.c. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

#include "base/message.h"
#include "study/batch_parts.h"

/* ------------------------------------------------------------------ means */

static batch_reason weights_known(const batch *batches, size_t count)
{
    size_t constant = 0;
    for (size_t i = 0; i < count; i++) {
        if (batches[i].count < 2)
            return BATCH_FEW;
        constant += batch_is_constant(batches[i].value, batches[i].count);
    }
    return constant == 0 ? BATCH_KNOWN : constant == count ? BATCH_CONSTANT : BATCH_ONE_CONSTANT;
}

static double weight(const batch *b)
{
    return (double)b->count / gsl_stats_variance(b->value, 1, b->count);
}

static batch_test means_test(const batch *batches, size_t count)
{
    const batch_reason reason = weights_known(batches, count);
    if (reason != BATCH_KNOWN)
        return batch_test_unknown(reason);
    const double k = (double)count;
    double all = 0, mean = 0, between = 0, lack = 0;
    for (size_t i = 0; i < count; i++) {
        const double w = weight(&batches[i]);
        all += w;
        mean += w * (gsl_stats_mean(batches[i].value, 1, batches[i].count) - mean) / all;
    }
    for (size_t i = 0; i < count; i++) {
        const double w = weight(&batches[i]);
        const double off = gsl_stats_mean(batches[i].value, 1, batches[i].count) - mean;
        between += w * off * off;
        lack += (1 - w / all) * (1 - w / all) / ((double)batches[i].count - 1);
    }
    const double f = between / ((k - 1) * (1 + 2 * (k - 2) * lack / (k * k - 1)));
    return batch_test_f(f, k - 1, (k * k - 1) / (3 * lack));
}

caber_status batch_overall_compare(const batch *batches, size_t count, batch_overall *out,
                                   caber_message *message)
{
    message_clear(message);
    *out = (batch_overall){.means = batch_test_unknown(BATCH_FEW),
                           .spreads = batch_test_unknown(BATCH_FEW)};
    if (count < 2)
        return message_set(message, CABER_BAD_INPUT, "a comparison needs two batches at least");
    for (size_t i = 0; i < count; i++) {
        char what[40];
        snprintf(what, sizeof what, "batch %zu", i + 1);
        const caber_status status = batch_check(batches[i].value, batches[i].count, what, message);
        if (status != CABER_OK)
            return status;
    }
    gsl_set_error_handler_off();
    out->means = means_test(batches, count);
    return batch_spreads_test(batches, count, &out->spreads, message);
}

/* ------------------------------------------------------------------ many tests */

static int order_tests(const void *a, const void *b)
{
    const batch_test *x = *(batch_test *const *)a, *y = *(batch_test *const *)b;
    return (x->p > y->p) - (x->p < y->p);
}

caber_status batch_holm(batch_test *const *tests, size_t count, caber_message *message)
{
    message_clear(message);
    if (count == 0)
        return CABER_OK;
    batch_test **known = malloc(count * sizeof *known);
    if (!known)
        return message_set(message, CABER_NO_MEMORY, "no memory for %zu tests", count);
    size_t tested = 0;
    for (size_t i = 0; i < count; i++)
        if (tests[i]->reason == BATCH_KNOWN)
            known[tested++] = tests[i];
    qsort(known, tested, sizeof *known, order_tests);
    double holm = 0;
    for (size_t i = 0; i < tested; i++) {
        holm = fmax(holm, fmin(1, (double)(tested - i) * known[i]->p));
        known[i]->holm = holm;
    }
    free(known);
    return CABER_OK;
}
