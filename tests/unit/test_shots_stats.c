/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Edge cases of the statistics of shot batches: what cannot be known says why, and is never a number.
 * That the numbers are right is for tests/verification/test_shots_stats.py and test_shots_coverage.c. */
#include "base/random.h"
#include "check.h"
#include "study/batch_adjust.h"
#include "study/batch_power.h"

#define COUNT(array) (sizeof(array) / sizeof *(array))

static const double ordinary[] = {4.1, 3.2, 5.6, 4.8, 2.9, 4.4, 5.1, 3.7};
static const double constant[] = {7.3, 7.3, 7.3, 7.3, 7.3, 7.3};

static void assert_known(batch_interval i)
{
    assert_int_equal(i.reason, BATCH_KNOWN);
    assert_true(isfinite(i.low) && isfinite(i.high) && i.low <= i.high);
}

static void assert_unknown(batch_interval i, batch_reason reason)
{
    assert_int_equal(i.reason, reason);
    assert_true(isnan(i.low) && isnan(i.high));
}

static void assert_tested(batch_test t)
{
    assert_int_equal(t.reason, BATCH_KNOWN);
    assert_true(isfinite(t.statistic) && t.df > 0 && t.p >= 0 && t.p <= 1);
}

static void assert_untested(batch_test t, batch_reason reason)
{
    assert_int_equal(t.reason, reason);
    assert_true(isnan(t.statistic) && isnan(t.df) && isnan(t.p) && isnan(t.holm));
}

static batch_summary summary(const double *value, size_t count)
{
    const batch_settings s = batch_settings_default();
    batch_summary r;
    caber_message message;
    assert_int_equal(batch_summarise(value, count, &s, &r, &message), CABER_OK);
    assert_string_equal(message.text, "");
    return r;
}

static batch_pair pair(const double *a, size_t count_a, const double *b, size_t count_b)
{
    const batch_settings s = batch_settings_default();
    batch_pair r;
    caber_message message;
    assert_int_equal(batch_pair_compare(a, count_a, b, count_b, &s, &r, &message), CABER_OK);
    assert_string_equal(message.text, "");
    return r;
}

/* ------------------------------------------------------------------ texts and settings */

static void texts(void **state)
{
    (void)state;
    assert_string_equal(batch_reason_text(BATCH_FEW), "too few shots");
    assert_string_equal(batch_reason_text((batch_reason)999), "unknown");
    /* thresholds: J. Cohen (1988), from memory */
    assert_int_equal(batch_effect_of(0), BATCH_NEGLIGIBLE);
    assert_int_equal(batch_effect_of(-0.19), BATCH_NEGLIGIBLE);
    assert_int_equal(batch_effect_of(0.2), BATCH_SMALL);
    assert_int_equal(batch_effect_of(-0.5), BATCH_MEDIUM);
    assert_int_equal(batch_effect_of(0.8), BATCH_LARGE);
    assert_string_equal(batch_effect_text(BATCH_MEDIUM), "medium");
}

static void settings_out_of_range(void **state)
{
    (void)state;
    batch_summary r;
    caber_message message;
    batch_settings s = batch_settings_default();
    s.level = 1;
    assert_int_equal(batch_summarise(ordinary, COUNT(ordinary), &s, &r, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "0.5 to 0.999"));
    s.level = NAN;
    assert_int_equal(batch_summarise(ordinary, COUNT(ordinary), &s, &r, NULL), CABER_BAD_INPUT);
    s = batch_settings_default();
    s.resamples = 10;
    assert_int_equal(batch_summarise(ordinary, COUNT(ordinary), &s, &r, &message), CABER_BAD_INPUT);
    assert_non_null(strstr(message.text, "200 to 100000"));
    assert_int_equal(r.count, 0);
}

static void numbers_that_are_none(void **state)
{
    (void)state;
    const batch_settings s = batch_settings_default();
    const double infinite[] = {1, 2, INFINITY}, none[] = {1, NAN}, huge[] = {1, 1e80};
    batch_summary r;
    batch_pair p;
    caber_message message;
    assert_int_equal(batch_summarise(infinite, 3, &s, &r, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "value 3 of the batch is infinite");
    assert_int_equal(batch_summarise(none, 2, &s, &r, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "value 2 of the batch is no number");
    assert_int_equal(batch_summarise(huge, 2, &s, &r, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "value 2 of the batch is larger than 1e60");
    assert_int_equal(batch_summarise(ordinary, 0, &s, &r, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "the batch has no shots");
    assert_int_equal(batch_pair_compare(ordinary, 8, infinite, 3, &s, &p, &message),
                     CABER_BAD_INPUT);
    assert_string_equal(message.text, "value 3 of the second batch is infinite");
    assert_int_equal(p.count_a, 0);
}

/* ------------------------------------------------------------------ one batch */

static void one_shot(void **state)
{
    (void)state;
    const batch_summary r = summary(ordinary, 1);
    assert_close(r.mean, 4.1, 0, 0);
    assert_close(r.median, 4.1, 0, 0);
    assert_close(r.quartile_1, 4.1, 0, 0);
    assert_close(r.mad_sd, 0, 0, 0);
    assert_int_equal(r.sd_reason, BATCH_FEW);
    assert_true(isnan(r.sd) && isnan(r.standard_error));
    assert_unknown(r.mean_t, BATCH_FEW);
    assert_unknown(r.mean_bootstrap, BATCH_FEW);
    assert_unknown(r.sd_interval, BATCH_FEW);
    assert_unknown(r.median_interval, BATCH_FEW);
    assert_unknown(r.mad_sd_interval, BATCH_FEW);
}

static void two_shots(void **state)
{
    (void)state;
    const batch_summary r = summary(ordinary, 2);
    assert_int_equal(r.sd_reason, BATCH_KNOWN);
    assert_close(r.sd, 0.9 / sqrt(2), 1e-14, 0);
    /* Student's t on one degree: the tangent of 0.475 pi = 12.706 */
    assert_known(r.mean_t);
    assert_close((r.mean_t.high - r.mean_t.low) / 2, 0.45 * tan(0.475 * 3.14159265358979), 1e-9, 0);
    assert_unknown(r.sd_interval, BATCH_FEW);
    assert_unknown(r.median_interval, BATCH_FEW);
}

static void few_shots(void **state)
{
    (void)state;
    const batch_summary four = summary(ordinary, 4), five = summary(ordinary, 5);
    assert_unknown(four.sd_interval, BATCH_FEW);
    assert_unknown(four.mean_bootstrap, BATCH_FEW);
    assert_known(five.sd_interval);
    assert_known(five.median_interval);
    assert_known(five.mad_sd_interval);
}

static void constant_column(void **state)
{
    (void)state;
    const batch_summary r = summary(constant, COUNT(constant));
    assert_close(r.sd, 0, 0, 0);
    assert_int_equal(r.sd_reason, BATCH_KNOWN);
    assert_close(r.mad_sd, 0, 0, 0);
    assert_unknown(r.mean_t, BATCH_CONSTANT);
    assert_unknown(r.sd_interval, BATCH_CONSTANT);
    assert_unknown(r.median_interval, BATCH_CONSTANT);
    /* the same but for rounding */
    const double nearly[] = {0.1 + 0.2, 0.3, 0.3, 0.1 + 0.2, 0.3};
    assert_unknown(summary(nearly, COUNT(nearly)).mean_t, BATCH_CONSTANT);
}

static void ties(void **state)
{
    (void)state;
    /* all but one the same: intervals are known or say why, none is NaN without a reason */
    const double tied[] = {2, 2, 2, 2, 2, 2, 2, 9};
    const batch_summary r = summary(tied, COUNT(tied));
    assert_known(r.mean_t);
    assert_known(r.sd_interval);
    assert_known(r.median_interval);
    assert_close(r.median_interval.low, 2, 0, 0);
    assert_known(r.mad_sd_interval);
    /* a third of the resamples have no spread, so the bootstrap's t has no end on that side */
    assert_unknown(r.mean_bootstrap, BATCH_TIES);
}

static void order_of_shots(void **state)
{
    (void)state;
    double turned[COUNT(ordinary)];
    for (size_t i = 0; i < COUNT(ordinary); i++)
        turned[i] = ordinary[COUNT(ordinary) - 1 - i];
    const batch_summary r = summary(ordinary, COUNT(ordinary)), t = summary(turned, COUNT(turned));
    assert_memory_equal(&r.mean_bootstrap, &t.mean_bootstrap, sizeof r.mean_bootstrap);
    assert_memory_equal(&r.mad_sd_interval, &t.mad_sd_interval, sizeof r.mad_sd_interval);
    assert_close(r.mean, t.mean, 0, 0);
}

static void streams(void **state)
{
    (void)state;
    double value[40];
    for (size_t i = 0; i < COUNT(value); i++)
        value[i] = random_normal(1, 2, i);
    batch_settings s = batch_settings_default();
    batch_summary first, again, other;
    assert_int_equal(batch_summarise(value, COUNT(value), &s, &first, NULL), CABER_OK);
    assert_int_equal(batch_summarise(value, COUNT(value), &s, &again, NULL), CABER_OK);
    s.stream = 1;
    assert_int_equal(batch_summarise(value, COUNT(value), &s, &other, NULL), CABER_OK);
    assert_close(again.mean_bootstrap.low, first.mean_bootstrap.low, 0, 0);
    assert_true(other.mean_bootstrap.low != first.mean_bootstrap.low);
    assert_close(other.mean_bootstrap.low, first.mean_bootstrap.low, 0, 0.05);
}

/* ------------------------------------------------------------------ two batches */

static void pair_of_one_shot(void **state)
{
    (void)state;
    const batch_pair r = pair(ordinary, 1, ordinary + 1, 7);
    assert_close(r.difference, 4.1 - 29.7 / 7, 1e-12, 0);
    assert_true(isnan(r.difference_error) && isnan(r.sd_ratio) && isnan(r.g));
    assert_untested(r.means, BATCH_FEW);
    assert_untested(r.spreads, BATCH_FEW);
    assert_unknown(r.difference_interval, BATCH_FEW);
    assert_unknown(r.g_interval, BATCH_FEW);
    assert_int_equal(r.g_reason, BATCH_FEW);
    assert_int_equal(r.effect, BATCH_NEGLIGIBLE);
    assert_unknown(r.superiority_interval, BATCH_FEW);
    assert_unknown(r.sd_ratio_interval, BATCH_FEW);
}

static void pair_of_two_shots(void **state)
{
    (void)state;
    const batch_pair r = pair(ordinary, 2, ordinary + 2, 2);
    assert_tested(r.means);
    assert_known(r.difference_interval);
    assert_known(r.g_interval);
    assert_untested(r.spreads, BATCH_FEW);
    assert_int_equal(r.superiority == 0, 1);
    assert_unknown(r.superiority_interval, BATCH_APART);
}

static void one_constant(void **state)
{
    (void)state;
    const batch_pair r = pair(ordinary, 8, constant, 6);
    /* The constant's error is 0: Student's test of the other against its value, on 7 degrees. */
    assert_tested(r.means);
    assert_close(r.means.df, 7, 1e-12, 0);
    assert_close(r.means.statistic, (r.difference) / summary(ordinary, 8).standard_error, 1e-12, 0);
    assert_true(isnan(r.sd_ratio));
    assert_unknown(r.sd_ratio_interval, BATCH_ONE_CONSTANT);
    assert_tested(r.spreads);
    assert_known(r.g_interval);
    const batch both[2] = {{.value = ordinary, .count = 8}, {.value = constant, .count = 6}};
    batch_overall all;
    assert_int_equal(batch_overall_compare(both, 2, &all, NULL), CABER_OK);
    assert_untested(all.means, BATCH_ONE_CONSTANT);
    assert_tested(all.spreads);
}

static void both_constant(void **state)
{
    (void)state;
    const double other[] = {6, 6, 6, 6, 6, 6};
    const batch_pair r = pair(constant, 6, other, 6), same = pair(constant, 6, constant, 6);
    assert_close(r.difference, 1.3, 1e-12, 0);
    assert_untested(r.means, BATCH_CONSTANT);
    assert_untested(r.spreads, BATCH_CONSTANT);
    assert_int_equal(r.g_reason, BATCH_CONSTANT);
    assert_unknown(r.sd_ratio_interval, BATCH_CONSTANT);
    assert_close(r.superiority, 1, 0, 0);
    assert_unknown(r.superiority_interval, BATCH_APART);
    assert_close(same.superiority, 0.5, 0, 0);
    assert_unknown(same.superiority_interval, BATCH_CONSTANT);
}

static void distances_that_do_not_vary(void **state)
{
    (void)state;
    const double near[] = {-1, 1, -1, 1}, far[] = {-2, 2, -2, 2};
    assert_untested(pair(near, 4, far, 4).spreads, BATCH_TIES);
}

static void same_batch(void **state)
{
    (void)state;
    const batch_pair r = pair(ordinary, 8, ordinary, 8);
    assert_close(r.difference, 0, 0, 0);
    assert_close(r.means.p, 1, 0, 0);
    assert_close(r.spreads.p, 1, 0, 0);
    assert_close(r.g, 0, 0, 0);
    assert_close(r.sd_ratio, 1, 0, 0);
    assert_close(r.superiority, 0.5, 0, 0);
    assert_close(r.sd_ratio_interval.low * r.sd_ratio_interval.high, 1, 1e-9, 0);
}

static void overall_wants_two(void **state)
{
    (void)state;
    const batch one = {.value = ordinary, .count = 8};
    const batch holed[2] = {one, {.value = ordinary, .count = 0}};
    batch_overall r;
    caber_message message;
    assert_int_equal(batch_overall_compare(&one, 1, &r, &message), CABER_BAD_INPUT);
    assert_int_equal(batch_overall_compare(holed, 2, &r, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "batch 2 has no shots");
    assert_untested(r.means, BATCH_FEW);
}

/* Holm's steps by hand: 0.01 x 4, then max(0.04, 0.02 x 3), then 0.03 x 2 = 0.06, then 0.04 -> 0.06. */
static void holm(void **state)
{
    (void)state;
    batch_test t[5];
    batch_test *all[5];
    const double p[5] = {0.03, 0.01, NAN, 0.04, 0.02}, want[5] = {0.06, 0.04, NAN, 0.06, 0.06};
    for (size_t i = 0; i < 5; i++) {
        t[i] = (batch_test){.reason = i == 2 ? BATCH_FEW : BATCH_KNOWN, .p = p[i], .holm = p[i]};
        all[i] = &t[i];
    }
    assert_int_equal(batch_holm(all, 5, NULL), CABER_OK);
    for (size_t i = 0; i < 5; i++)
        if (i != 2)
            assert_close(t[i].holm, want[i], 1e-14, 0);
    assert_true(isnan(t[2].holm));
    assert_int_equal(batch_holm(NULL, 0, NULL), CABER_OK);
}

/* ------------------------------------------------------------------ covariates */

enum { ROWS = 16 };

/* Two batches of eight, y = 2 + 3 [second] + 1.5 x, x and noise from the streams. */
typedef struct table {
    double y[ROWS], x[ROWS], z[ROWS];
    size_t which[ROWS];
    const double *covariate[2];
    const char *name[2];
    batch_adjust_data data;
} table;

static void table_fill(table *t, double noise)
{
    for (size_t i = 0; i < ROWS; i++) {
        t->which[i] = i / (ROWS / 2);
        t->x[i] = random_normal(8, 1, i) + (double)t->which[i];
        t->z[i] = random_normal(8, 2, i);
        t->y[i] = 2 + 3 * (double)t->which[i] + 1.5 * t->x[i] + noise * random_normal(8, 3, i);
    }
    t->covariate[0] = t->x;
    t->covariate[1] = t->z;
    t->name[0] = "strike_toe_mm";
    t->name[1] = NULL;
    t->data = (batch_adjust_data){.count = ROWS,
                                  .value = t->y,
                                  .batch = t->which,
                                  .batches = 2,
                                  .covariates = 2,
                                  .covariate = t->covariate,
                                  .covariate_name = t->name};
}

static batch_adjust adjust(const table *t)
{
    const batch_settings s = batch_settings_default();
    batch_adjust r;
    caber_message message;
    assert_int_equal(batch_adjust_run(&t->data, &s, &r, &message), CABER_OK);
    assert_string_equal(message.text, "");
    return r;
}

static void assert_refused(table *t, batch_reason reason, const char *part)
{
    batch_adjust r = adjust(t);
    assert_int_equal(r.reason, reason);
    assert_non_null(strstr(r.why.text, part));
    assert_null(r.slope);
    assert_null(r.adjusted);
    batch_adjust_free(&r);
}

static void adjusted(void **state)
{
    (void)state;
    table t;
    table_fill(&t, 0.1);
    batch_adjust r = adjust(&t);
    assert_int_equal(r.reason, BATCH_KNOWN);
    assert_string_equal(r.why.text, "");
    assert_close(r.df, ROWS - 4, 0, 0);
    assert_close(r.slope[0].slope, 1.5, 0, 0.15);
    assert_close(r.pair[0].difference, -3, 0, 0.2);
    assert_close(r.pair[0].explained, r.pair[0].raw_difference - r.pair[0].difference, 1e-12, 0);
    assert_tested(r.overall);
    assert_tested(r.slope[1].same);
    /* two batches: F over all is t squared */
    assert_close(r.overall.statistic, r.pair[0].test.statistic * r.pair[0].test.statistic, 1e-9, 0);
    for (size_t b = 0; b < 2; b++) {
        double mean = 0;
        for (size_t i = 0; i < ROWS; i++)
            mean += t.which[i] == b ? r.adjusted[i] / (ROWS / 2) : 0;
        assert_close(r.batch[b].mean, mean, 1e-12, 0);
    }
    batch_adjust_free(&r);
    batch_adjust_free(&r);
}

static void slopes_that_differ(void **state)
{
    (void)state;
    table t;
    table_fill(&t, 0.1);
    for (size_t i = 0; i < ROWS; i++)
        t.y[i] += t.which[i] == 1 ? -3 * t.x[i] : 0;
    batch_adjust r = adjust(&t);
    assert_true(r.slopes_differ);
    assert_non_null(strstr(r.doubt.text, "strike_toe_mm"));
    assert_non_null(strstr(r.doubt.text, "doubtful"));
    batch_adjust_free(&r);
    table_fill(&t, 0.1);
    r = adjust(&t);
    assert_false(r.slopes_differ);
    assert_string_equal(r.doubt.text, "");
    batch_adjust_free(&r);
}

static void refusals(void **state)
{
    (void)state;
    table t;
    table_fill(&t, 0.1);
    for (size_t i = 0; i < ROWS; i++)
        t.x[i] = 12;
    assert_refused(&t, BATCH_COVARIATE_CONSTANT, "strike_toe_mm is the same in every shot");
    for (size_t i = 0; i < ROWS; i++)
        t.x[i] = t.which[i] == 0 ? 1 : 2;
    assert_refused(&t, BATCH_COVARIATE_TOLD, "strike_toe_mm does not change within the batches");
    table_fill(&t, 0.1);
    for (size_t i = 0; i < ROWS; i++)
        t.z[i] = 3 * t.x[i] - 7 + (double)t.which[i];
    assert_refused(&t, BATCH_COVARIATE_TOLD, "covariate 2 follows from the batch");
    table_fill(&t, 0);
    assert_refused(&t, BATCH_FIT_EXACT, "to the last digit");
    table_fill(&t, 0.1);
    for (size_t i = 0; i < ROWS; i++)
        t.z[i] = i == 3;
    assert_refused(&t, BATCH_ONE_SHOT, "one shot alone");
    table_fill(&t, 0.1);
    t.data.count = 8;
    assert_refused(&t, BATCH_FEW, "9 are needed at least");
    table_fill(&t, 0.1);
    for (size_t i = 1; i < ROWS; i++)
        t.which[i] = 1;
    assert_refused(&t, BATCH_FEW, "batch 1 has 1 shot:");
    table_fill(&t, 0.1);
    for (size_t i = 0; i < ROWS; i++)
        t.y[i] = 5;
    assert_refused(&t, BATCH_CONSTANT, "every shot has the same value");
}

static void one_batch_adjusted(void **state)
{
    (void)state;
    table t;
    table_fill(&t, 0.1);
    for (size_t i = 0; i < ROWS; i++)
        t.which[i] = 0;
    t.data.batches = 1;
    batch_adjust r = adjust(&t);
    assert_int_equal(r.reason, BATCH_KNOWN);
    assert_int_equal(r.pairs, 0);
    assert_null(r.pair);
    assert_untested(r.overall, BATCH_FEW);
    assert_untested(r.slope[0].same, BATCH_FEW);
    assert_tested(r.slope[0].test);
    assert_known(r.batch[0].interval);
    batch_adjust_free(&r);
}

static void wrong_tables(void **state)
{
    (void)state;
    const batch_settings s = batch_settings_default();
    batch_adjust r;
    caber_message message;
    table t;
    table_fill(&t, 0.1);
    t.x[4] = INFINITY;
    assert_int_equal(batch_adjust_run(&t.data, &s, &r, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "value 5 of strike_toe_mm is infinite");
    batch_adjust_free(&r);
    table_fill(&t, 0.1);
    t.which[2] = 2;
    assert_int_equal(batch_adjust_run(&t.data, &s, &r, &message), CABER_BAD_INPUT);
    assert_string_equal(message.text, "shot 3 is of batch 3 of 2");
    table_fill(&t, 0.1);
    t.data.covariates = 0;
    assert_int_equal(batch_adjust_run(&t.data, &s, &r, &message), CABER_BAD_INPUT);
}

/* ------------------------------------------------------------------ how many more */

static batch_need need(const double *a, size_t count_a, const double *b, size_t count_b,
                       bool settled, bool spreads)
{
    const batch first = {.value = a, .count = count_a}, second = {.value = b, .count = count_b};
    const batch_power_settings s = batch_power_default();
    batch_need r;
    caber_message message;
    assert_int_equal((spreads ? batch_need_spreads : batch_need_means)(&first, &second, settled, &s,
                                                                       &r, &message),
                     CABER_OK);
    return r;
}

static void assert_need(batch_need n, batch_need_kind kind, const char *text)
{
    char got[100];
    assert_int_equal(n.kind, kind);
    assert_string_equal(batch_need_text(&n, got, sizeof got), text);
    assert_int_equal(n.kind == BATCH_NEED_UNKNOWN, n.reason != BATCH_KNOWN);
    assert_int_equal(n.kind == BATCH_NEED_UNKNOWN, isnan(n.power_now));
}

static void needs(void **state)
{
    (void)state;
    double off[8], wide[8], nearly[8];
    for (size_t i = 0; i < 8; i++) {
        off[i] = ordinary[i] + 0.6;
        nearly[i] = ordinary[i] + 0.001;
        wide[i] = 1.5 * ordinary[i];
    }
    assert_need(need(ordinary, 8, off, 8, true, false), BATCH_NEED_SETTLED, "already settled");
    assert_need(need(ordinary, 8, nearly, 8, false, false), BATCH_NEED_ALIKE,
                "more than 500 more in each: too alike to settle");
    assert_need(need(ordinary, 8, ordinary, 8, false, true), BATCH_NEED_ALIKE,
                "more than 500 more in each: too alike to settle");
    assert_need(need(ordinary, 1, off, 8, false, false), BATCH_NEED_UNKNOWN,
                "unknown: too few shots");
    assert_need(need(ordinary, 2, off, 8, false, true), BATCH_NEED_UNKNOWN,
                "unknown: too few shots");
    assert_need(need(constant, 6, constant, 6, false, false), BATCH_NEED_UNKNOWN,
                "unknown: every shot has the same value");
    assert_need(need(constant, 6, ordinary, 8, false, true), BATCH_NEED_UNKNOWN,
                "unknown: every shot of one batch has the same value");
    const batch_need means = need(ordinary, 8, off, 8, false, false);
    const batch_need spreads = need(ordinary, 8, wide, 8, false, true);
    assert_int_equal(means.kind, BATCH_NEED_MORE);
    assert_int_equal(spreads.kind, BATCH_NEED_MORE);
    assert_true(means.detectable > 0.6 && spreads.detectable > 1.5);
    /* the count that is named has the power, one less has not */
    const double sd = summary(ordinary, 8).sd, n = 8 + means.more;
    assert_true(batch_power_means(0.6, sd, sd, n, n, 0.05) >= 0.8);
    assert_true(batch_power_means(0.6, sd, sd, n - 1, n - 1, 0.05) < 0.8);
    assert_close(batch_power_means(means.detectable, sd, sd, 8, 8, 0.05), 0.8, 0, 1e-5);
}

static void power_limits(void **state)
{
    (void)state;
    assert_close(batch_power_means(0, 1, 1, 10, 10, 0.05), 0.05, 0, 1e-9);
    assert_close(batch_power_means(1e9, 1, 1, 2, 2, 0.05), 1, 0, 1e-9);
    assert_close(batch_power_means(1, 1, 2, 8, 30, 0.05), batch_power_means(-1, 2, 1, 30, 8, 0.05),
                 1e-9, 0);
    assert_close(batch_power_spreads(2, 0.8, 8, 30, 0.05),
                 batch_power_spreads(0.5, 0.8, 30, 8, 0.05), 1e-9, 0);
    assert_true(isnan(batch_power_means(1, 0, 0, 10, 10, 0.05)));
    assert_true(isnan(batch_power_means(1, 1, 1, 1, 10, 0.05)));
    assert_true(isnan(batch_power_means(NAN, 1, 1, 10, 10, 0.05)));
    assert_true(isnan(batch_power_means(1, 1, 1, 10, 10, 0)));
    assert_true(isnan(batch_power_spreads(-2, 0.8, 10, 10, 0.05)));
    assert_true(isnan(batch_power_spreads(2, 1, 10, 10, 0.05)));
    double before = 0;
    for (int n = 3; n < 200; n += 7) {
        const double now = batch_power_spreads(1.6, 0.8, n, n, 0.05);
        assert_true(now > before);
        before = now;
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts),
        cmocka_unit_test(settings_out_of_range),
        cmocka_unit_test(numbers_that_are_none),
        cmocka_unit_test(one_shot),
        cmocka_unit_test(two_shots),
        cmocka_unit_test(few_shots),
        cmocka_unit_test(constant_column),
        cmocka_unit_test(ties),
        cmocka_unit_test(order_of_shots),
        cmocka_unit_test(streams),
        cmocka_unit_test(pair_of_one_shot),
        cmocka_unit_test(pair_of_two_shots),
        cmocka_unit_test(one_constant),
        cmocka_unit_test(both_constant),
        cmocka_unit_test(distances_that_do_not_vary),
        cmocka_unit_test(same_batch),
        cmocka_unit_test(overall_wants_two),
        cmocka_unit_test(holm),
        cmocka_unit_test(adjusted),
        cmocka_unit_test(slopes_that_differ),
        cmocka_unit_test(refusals),
        cmocka_unit_test(one_batch_adjusted),
        cmocka_unit_test(wrong_tables),
        cmocka_unit_test(needs),
        cmocka_unit_test(power_limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
