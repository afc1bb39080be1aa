/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Which factors drive an output (influence.h, influence_morris.h, influence_regression.h): against closed
 * forms, published values and a published worked example; and, by many repeats, whether intervals hold
 * the truth as often as they say, and whether no published estimator is nearer to it. */
#include <gsl/gsl_statistics_double.h>
#include <math.h>

#include "draws.h"
#include "influences.h"
#include "study/influence_morris.h"
#include "study/influence_regression.h"

static const char plain[] = "";

static influence_sobol *run(const influence_layout *layout, const double *y, size_t draws,
                            uint64_t seed)
{
    const resample_settings how = {.draws = draws, .seed = seed, .level = 0.95};
    influence_sobol *found = NULL;
    caber_message message;
    setups_fine(influence_sobol_run(layout, y, &how, &found, &message), &message);
    assert_int_equal(found->dropped, 0);
    return found;
}

static double *cases(const function *f, size_t rows, bool both)
{
    return setups_array(rows * influence_parts(f->factors, both), sizeof(double));
}

/* ------------------------------------------------------------------ Sobol indices, closed forms */

/* Rows of Sobol's sequence: they leave less than 0.001, where random rows would leave 0.01. */
enum { MANY = 8192 };

static void closed_form(const function *f, const char *cited, bool both)
{
    double first[INFLUENCES_MOST], total[INFLUENCES_MOST], most[2] = {0, 0};
    double *y = cases(f, MANY, both);
    const influence_layout layout = influence_layout_by_row(MANY, f->factors, both);
    char problem[112];
    const record_source source = {RECORD_EXACT, cited};
    f->exact(first, total);
    influences_sequence(f, MANY, both, y);
    influence_sobol *found = run(&layout, y, RESAMPLE_DRAWS_LEAST, 1);
    for (size_t i = 0; i < f->factors; i++) {
        record_most(&most[0], found->index[i].first.value - first[i]);
        record_most(&most[1], found->index[i].total.value - total[i]);
    }
    for (int t = 0; t < 2; t++) {
        snprintf(problem, sizeof problem, "%s indices, %s, all factors, 8192 rows%s",
                 t ? "total" : "first-order", f->name, both ? ", with b_i" : "");
        verify_within(problem, source, plain, most[t], 0.002);
    }
    influence_sobol_free(found);
    free(y);
}

static void closed_forms(void **state)
{
    (void)state;
    for (int both = 0; both < 2; both++) {
        closed_form(&ishigami, "Ishigami & Homma (1990): integrals in influences.h", both);
        closed_form(&g_function, "Sobol's g-function, a = 0, 1, 4.5, 9, 99 (4 times): product form",
                    both);
    }
}

/* Read in the documentation of another program's Ishigami function, which quotes the book. */
static void quoted(void **state)
{
    (void)state;
    static const double want[] = {0.3139, 0.4424, 0.0};
    const record_source book = {RECORD_QUOTED,
                                "Saltelli et al. (2008), Global Sensitivity Analysis: The Primer"};
    double *y = cases(&ishigami, MANY, true);
    const influence_layout layout = influence_layout_by_row(MANY, 3, true);
    influences_sequence(&ishigami, MANY, true, y);
    influence_sobol *found = run(&layout, y, RESAMPLE_DRAWS_LEAST, 1);
    for (int i = 0; i < 3; i++) {
        char problem[64];
        snprintf(problem, sizeof problem, "first-order index of factor %d, Ishigami function",
                 i + 1);
        verify(problem, book, plain, found->index[i].first.value, want[i], 0, 0.005);
    }
    influence_sobol_free(found);
    free(y);
}

/* ------------------------------------------------------------------ many repeats */

/* A sample is repeated so often, with so many draws for an interval. */
enum { REPEATS = DRAWS(300), FEW_DRAWS = 250 };

/* How far a share of REPEATS may be from its mean: 3 binomial standard deviations. */
static double binomial(double share)
{
    return 3 * sqrt(share * (1 - share) / REPEATS);
}

static bool holds(const resample_range *range, double truth)
{
    return range->low <= truth && truth <= range->high;
}

/* Squared errors of the first order by way of a, b, a_i: ours, and the two published estimators. */
typedef struct errors {
    double ours, janon, saltelli;
} errors;

/* Janon et al. (2014) and Saltelli et al. (2010), written out. */
static void add_errors(errors *e, const double *y, size_t rows, size_t parts, size_t i, double mean,
                       double ours, double truth)
{
    double v = 0, v_10 = 0, sum = 0, square = 0, product = 0;
    for (size_t r = 0; r < rows; r++) {
        const double a = y[r * parts] - mean, b = y[r * parts + 1] - mean;
        const double u = y[r * parts + 2 + i] - mean;
        v += (a * a + b * b) / 2;
        v_10 += b * (u - a);
        sum += (b + u) / 2;
        square += (b * b + u * u) / 2;
        product += b * u;
    }
    sum *= sum / (double)rows;
    e->ours += pow(ours - truth, 2);
    e->saltelli += pow(v_10 / v - truth, 2);
    e->janon += pow((product - sum) / (square - sum) - truth, 2);
}

typedef struct tally {
    int first[INFLUENCES_MOST], total[INFLUENCES_MOST]; /* intervals that hold the truth */
    errors error[INFLUENCES_MOST];
} tally;

static void repeat(const function *f, size_t rows, bool both, tally *out)
{
    const influence_layout layout = influence_layout_by_row(rows, f->factors, both);
    const size_t parts = influence_parts(f->factors, both);
    double first[INFLUENCES_MOST], total[INFLUENCES_MOST], *y = cases(f, rows, both);
    *out = (tally){{0}, {0}, {{0, 0, 0}}};
    f->exact(first, total);
    for (uint64_t sample = 0; sample < REPEATS; sample++) {
        influences_random(f, rows, both, sample, y);
        influence_sobol *found = run(&layout, y, FEW_DRAWS, sample);
        for (size_t i = 0; i < f->factors; i++) {
            const influence_index *index = &found->index[i];
            out->first[i] += holds(&index->first, first[i]);
            out->total[i] += holds(&index->total, total[i]);
            add_errors(&out->error[i], y, rows, parts, i, found->mean, index->first.value,
                       first[i]);
        }
        influence_sobol_free(found);
    }
    free(y);
}

/* The share of intervals, of all factors and both indices, that hold the truth. Products of deviations
 * have long tails, which few rows do not show: with 100 rows `short_of` is 5 %, with 400 it is 1 %. */
static void record_coverage(const function *f, const tally *t, size_t rows, bool both,
                            double short_of)
{
    double low = 1, high = 0;
    char problem[128], cited[128];
    for (size_t i = 0; i < f->factors; i++) {
        low = fmin(low, (double)(t->first[i] < t->total[i] ? t->first[i] : t->total[i]) / REPEATS);
        high =
            fmax(high, (double)(t->first[i] > t->total[i] ? t->first[i] : t->total[i]) / REPEATS);
    }
    snprintf(cited, sizeof cited,
             "the level; allowed: 3 binomial deviations, and %.0f %% for %zu rows", 100 * short_of,
             rows);
    const record_source level = {RECORD_EXACT, cited};
    snprintf(problem, sizeof problem,
             "95 %% intervals over repeats, short of 95 %%, the worst index, %s, %zu rows%s",
             f->name, rows, both ? ", with b_i" : "");
    verify_within(problem, level, "of 100 %", 0.95 - low, short_of + binomial(0.95 - short_of));
    assert_true(high <= fmin(0.95 + binomial(0.95), 1));
}

/* Of errors that had nothing in common, the ratio would scatter by 1/sqrt(repeats); these are of the same
 * rows. */
static void record_errors(const function *f, const tally *t)
{
    double worst = 0;
    char problem[128];
    const record_source others = {RECORD_INDEPENDENT,
                                  "Janon et al. (2014), Saltelli et al. (2010), the better one for "
                                  "each factor"};
    for (size_t i = 0; i < f->factors; i++)
        record_most(&worst, sqrt(t->error[i].ours / fmin(t->error[i].janon, t->error[i].saltelli)));
    snprintf(problem, sizeof problem,
             "root mean square error of the first order, 100 rows, over that of others, %s",
             f->name);
    verify_within(problem, others, plain, worst, 1 + 1 / sqrt(REPEATS));
}

static void coverage(void **state)
{
    (void)state;
    const function *functions[] = {&ishigami, &g_function};
    tally t;
    for (int f = 0; f < 2; f++) {
        repeat(functions[f], 100, false, &t);
        record_coverage(functions[f], &t, 100, false, 0.05);
        record_errors(functions[f], &t);
    }
    repeat(&ishigami, 400, true, &t);
    record_coverage(&ishigami, &t, 400, true, 0.01);
}

/* ------------------------------------------------------------------ elementary effects */

/* x_1 + x_2^2 + x_2 sin x_3 + 0 x_4, with the trajectories of the source in thirds. */
static void worked_example(void **state)
{
    (void)state;
    enum { FACTORS = 4, TRAJECTORIES = 4, CASES = 20 };
    static const int thirds[CASES][FACTORS] = {
        {0, 1, 1, 0}, {2, 1, 1, 0}, {2, 3, 1, 0}, {2, 3, 1, 2}, {2, 3, 3, 2},
        {1, 0, 1, 1}, {1, 0, 3, 1}, {1, 0, 3, 3}, {3, 0, 3, 3}, {3, 2, 3, 3},
        {0, 0, 0, 1}, {0, 0, 0, 3}, {0, 0, 2, 3}, {0, 2, 2, 3}, {2, 2, 2, 3},
        {1, 1, 0, 0}, {1, 1, 2, 0}, {3, 1, 2, 0}, {3, 1, 2, 2}, {3, 3, 2, 2}};
    static const double mean[] = {1, 1.6, 0.27, 0}, sd[] = {0, 0.28, 0.36, 0};
    const record_source toolkit = {RECORD_PUBLISHED,
                                   "MUCM Toolkit, Example: Using the Morris method, two digits"};
    double x[CASES][FACTORS], y[CASES];
    const resample_settings how = resample_default();
    influence_morris *found;
    caber_message message;
    for (int c = 0; c < CASES; c++) {
        for (int i = 0; i < FACTORS; i++)
            x[c][i] = thirds[c][i] / 3.0;
        y[c] = x[c][0] + x[c][1] * x[c][1] + x[c][1] * sin(x[c][2]);
    }
    setups_fine(influence_morris_run(x[0], y, FACTORS, TRAJECTORIES, NULL, &how, &found, &message),
                &message);
    for (int i = 0; i < FACTORS; i++) {
        char problem[64];
        const double digit = i == 1 ? 0.05 : 0.005;
        snprintf(problem, sizeof problem, "worked example, mu of factor %d", i + 1);
        verify(problem, toolkit, plain, found->effect[i].mean, mean[i], 0, digit);
        snprintf(problem, sizeof problem, "worked example, mu* of factor %d", i + 1);
        verify(problem, toolkit, plain, found->effect[i].size.value, mean[i], 0, digit);
        snprintf(problem, sizeof problem, "worked example, sigma of factor %d", i + 1);
        verify(problem, toolkit, plain, found->effect[i].sd, sd[i], 0, 0.005);
    }
    influence_morris_free(found);
}

enum { QUADRATIC = 4 };
/* Coefficients of x_i, and of x_i x_j, i <= j, of a sum. */
static const double linear[QUADRATIC] = {0.05, -40, 10, 0.2};
static const double product[QUADRATIC][QUADRATIC] = {
    {0, 80, 60, 40}, {0, 30, 0.7, 0.2}, {0, 0, 0.6, 0.9}, {0, 0, 0, 0}};

static double quadratic(const double *x)
{
    double y = 0;
    for (int i = 0; i < QUADRATIC; i++) {
        y += linear[i] * x[i];
        for (int j = i; j < QUADRATIC; j++)
            y += product[i][j] * x[i] * x[j];
    }
    return y;
}

/* e_i = b_i + b_ii (2 low + D) + sum b_ij x_j: with all places of x_j as likely, mean 1/2 and variance
 * (p + 1)/(12 (p - 1)), and those of low as likely, 2 low + D of mean 1 and variance
 * 4 (p^2/4 - 1)/(12 (p - 1)^2). */
static void quadratic_exact(size_t i, double p, double *mean, double *sd)
{
    double variance = pow(product[i][i], 2) * (p * p / 4 - 1) / (3 * (p - 1) * (p - 1));
    *mean = linear[i] + product[i][i];
    for (size_t j = 0; j < QUADRATIC; j++) {
        const double b = j == i ? 0 : product[i < j ? i : j][i < j ? j : i];
        *mean += b / 2;
        variance += b * b * (p + 1) / (12 * (p - 1));
    }
    *sd = sqrt(variance);
}

static void trajectories(void **state)
{
    (void)state;
    enum { COUNT = 4000, LEVELS = 6 };
    const size_t count = influence_morris_cases(QUADRATIC, COUNT);
    double *x = setups_array(count * QUADRATIC, sizeof *x), *y = setups_array(count, sizeof *y);
    const resample_settings how = {.draws = RESAMPLE_DRAWS_LEAST, .seed = 1, .level = 0.95};
    const record_source moments = {RECORD_EXACT, "moments of the places, see the test"};
    double apart[2] = {0, 0};
    influence_morris *found;
    caber_message message;
    setups_fine(influence_morris_design(QUADRATIC, COUNT, LEVELS, 5, x, &message), &message);
    for (size_t c = 0; c < count; c++)
        y[c] = quadratic(x + c * QUADRATIC);
    setups_fine(influence_morris_run(x, y, QUADRATIC, COUNT, NULL, &how, &found, &message),
                &message);
    for (size_t i = 0; i < QUADRATIC; i++) {
        double mean, sd;
        quadratic_exact(i, LEVELS, &mean, &sd);
        record_most(&apart[0], (found->effect[i].mean - mean) / (4 * sd / sqrt(COUNT)));
        record_most(&apart[1], (found->effect[i].sd / sd - 1) / (4 / sqrt(2 * COUNT)));
    }
    verify_within("mu of a quadratic, 4 factors, 4000 trajectories", moments,
                  "of 4 sampling errors", apart[0], 1);
    verify_within("sigma of the same", moments, "of 4 sampling errors", apart[1], 1);
    influence_morris_free(found);
    free(x);
    free(y);
}

/* ------------------------------------------------------------------ regression */

/* 3 x_1 + 2 x_2 + 0 x_3 + 6 (x_1 - 1/2)(x_3 - 1/2), even in (0, 1): the product has no correlation with
 * any factor and the variance 36/144, so the coefficients are as of a sum, and R^2 is its share. */
static void regression_coverage(void **state)
{
    (void)state;
    enum { ROWS = 100, FACTORS = 3 };
    static const double b[FACTORS] = {3, 2, 0};
    const double variance = 13.0 / 12 + 36.0 / 144;
    const record_source level = {RECORD_EXACT, "95 %, the level; allowed: 3 binomial deviations, "
                                               "and 3 % for so few rows"};
    double x[ROWS][FACTORS], y[ROWS], most = 0, off[REPEATS];
    int held[FACTORS + 1] = {0};
    for (uint64_t sample = 0; sample < REPEATS; sample++) {
        const resample_settings how = {.draws = FEW_DRAWS, .seed = sample, .level = 0.95};
        influence_regression *found;
        caber_message message;
        for (uint64_t r = 0; r < ROWS; r++) {
            for (uint64_t i = 0; i < FACTORS; i++)
                x[r][i] = random_even(78, sample, r * FACTORS + i);
            y[r] = 3 * x[r][0] + 2 * x[r][1] + 6 * (x[r][0] - 0.5) * (x[r][2] - 0.5);
        }
        setups_fine(
            influence_regression_run(x[0], y, ROWS, FACTORS, false, NULL, &how, &found, &message),
            &message);
        for (int i = 0; i < FACTORS; i++)
            held[i] += holds(&found->factor[i].standard, b[i] / sqrt(12 * variance));
        held[FACTORS] += holds(&found->explained, 13.0 / 12 / variance);
        off[sample] = found->factor[0].standard.value - b[0] / sqrt(12 * variance);
        influence_regression_free(found);
    }
    for (int i = 0; i <= FACTORS; i++)
        record_most(&most, held[i] / (double)REPEATS - 0.95);
    verify_within("95 % intervals of regression coefficients and R2 over repeats, 100 cases", level,
                  "of 100 %", most, 0.03 + binomial(0.95));
    assert_true(fabs(gsl_stats_mean(off, 1, REPEATS)) <
                4 * gsl_stats_sd(off, 1, REPEATS) / sqrt(REPEATS));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(closed_forms), cmocka_unit_test(quoted),
        cmocka_unit_test(coverage),     cmocka_unit_test(worked_example),
        cmocka_unit_test(trajectories), cmocka_unit_test(regression_coverage)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
