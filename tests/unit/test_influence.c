/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Which factors drive an output: what holds for any output, what is refused, and the parts alone: ranks,
 * resampling, the Morris design. Numbers are in tests/verification/test_influence*. */
#include <stdlib.h>

#include "base/random.h"
#include "check.h"
#include "study/influence.h"
#include "study/influence_morris.h"
#include "study/influence_regression.h"
#include "study/ranks.h"

static const resample_settings how = {.draws = 200, .seed = 3, .level = 0.95};

static void fine(caber_status status, const caber_message *message)
{
    if (status != CABER_OK)
        print_error("%s\n", message->text);
    assert_int_equal(status, CABER_OK);
}

static void refused(caber_status status, const caber_message *message, const char *part)
{
    assert_int_equal(status, CABER_BAD_INPUT);
    if (!strstr(message->text, part))
        print_error("no '%s' in '%s'\n", part, message->text);
    assert_non_null(strstr(message->text, part));
}

/* ------------------------------------------------------------------ Sobol indices */

enum { ROWS = 60, FACTORS = 3, PARTS = 2 + 2 * FACTORS };

/* x_1 + 2 x_1 x_2; x_3 does nothing. */
static double model(const double *x)
{
    return x[0] + 2 * x[0] * x[1];
}

/* All parts of a row, with b_i; without them the first 2 + FACTORS are the sample. */
static void fill(double *y)
{
    for (uint64_t r = 0; r < ROWS; r++) {
        double pair[2][FACTORS];
        for (uint64_t i = 0; i < 2 * FACTORS; i++)
            pair[i / FACTORS][i % FACTORS] = random_even(9, r, i);
        for (int part = 0; part < PARTS; part++) {
            const int base = part < 2 ? part : part >= 2 + FACTORS;
            double x[FACTORS];
            memcpy(x, pair[base], sizeof x);
            if (part >= 2)
                x[(part - 2) % FACTORS] = pair[!base][(part - 2) % FACTORS];
            y[r * PARTS + (uint64_t)part] = model(x);
        }
    }
}

/* The same rows, whether b_i are made use of or not. */
static influence_layout layout_of(bool both)
{
    return (influence_layout){ROWS, FACTORS, both, PARTS, 1};
}

static influence_sobol *sobol_of(const influence_layout *layout, const double *y)
{
    influence_sobol *found;
    caber_message message;
    fine(influence_sobol_run(layout, y, &how, &found, &message), &message);
    return found;
}

static void same_range(const resample_range *a, const resample_range *b, double tolerance)
{
    assert_close(a->value, b->value, tolerance, tolerance);
    assert_close(a->low, b->low, tolerance, tolerance);
    assert_close(a->high, b->high, tolerance, tolerance);
}

static void same_sobol(const influence_sobol *a, const influence_sobol *b, double tolerance)
{
    for (int i = 0; i < FACTORS; i++) {
        same_range(&a->index[i].first, &b->index[i].first, tolerance);
        same_range(&a->index[i].total, &b->index[i].total, tolerance);
    }
    same_range(&a->sum, &b->sum, tolerance);
}

static void both_layouts(void **state)
{
    (void)state;
    double y[ROWS * PARTS], turned[ROWS * PARTS];
    fill(y);
    for (size_t r = 0; r < ROWS; r++)
        for (size_t part = 0; part < PARTS; part++)
            turned[part * ROWS + r] = y[r * PARTS + part];
    const influence_layout by_row = influence_layout_by_row(ROWS, FACTORS, true);
    const influence_layout by_part = influence_layout_by_part(ROWS, FACTORS, true);
    assert_int_equal(influence_parts(FACTORS, true), PARTS);
    assert_int_equal(influence_parts(FACTORS, false), 2 + FACTORS);
    influence_sobol *a = sobol_of(&by_row, y), *b = sobol_of(&by_part, turned);
    same_sobol(a, b, 0);
    influence_sobol_free(a);
    influence_sobol_free(b);
}

/* What does nothing has no index at all, however few rows; what is the only one has all. */
static void none_and_all(void **state)
{
    (void)state;
    double y[ROWS * PARTS];
    for (int both = 0; both < 2; both++) {
        const influence_layout layout = layout_of(both);
        fill(y);
        influence_sobol *found = sobol_of(&layout, y);
        const influence_index *idle = &found->index[2];
        assert_close(idle->first.value, 0, 0, 1e-14);
        assert_close(idle->total.value, 0, 0, 1e-14);
        assert_close(idle->first.high - idle->first.low, 0, 0, 1e-13);
        influence_sobol_free(found);
        /* Only x_1: a_1 is b, b_1 is a, and the others are what they began as. */
        for (size_t r = 0; r < ROWS; r++)
            for (size_t part = 2; part < PARTS; part++) {
                const bool of_b = part >= 2 + FACTORS, first = (part - 2) % FACTORS == 0;
                y[r * PARTS + part] = y[r * PARTS + (of_b != first)];
            }
        found = sobol_of(&layout, y);
        assert_close(found->index[0].total.value, 1, 0, both ? 1e-14 : 0.05);
        assert_close(found->index[0].first.value, 1, 0, both ? 1e-14 : 0.05);
        assert_close(found->index[1].total.value, 0, 0, 1e-14);
        influence_sobol_free(found);
    }
}

/* One factor is behind everything: a_1 is b and b_1 is a. */
static void one_factor(void **state)
{
    (void)state;
    double y[ROWS * 4];
    for (uint64_t r = 0; r < ROWS; r++) {
        y[4 * r] = y[4 * r + 3] = exp(random_even(1, r, 0));
        y[4 * r + 1] = y[4 * r + 2] = exp(random_even(1, r, 1));
    }
    for (int both = 0; both < 2; both++) {
        const influence_layout layout = {ROWS, 1, both, 4, 1};
        influence_sobol *found = sobol_of(&layout, y);
        assert_close(found->index[0].first.value, 1, 0, both ? 1e-14 : 0.05);
        assert_close(found->index[0].total.value, 1, 0, both ? 1e-14 : 0.05);
        assert_close(found->sum.value, found->index[0].first.value, 1e-15, 0);
        influence_sobol_free(found);
    }
}

/* Another unit, another zero: the same indices. */
static void scale_and_shift(void **state)
{
    (void)state;
    double y[ROWS * PARTS], other[ROWS * PARTS];
    fill(y);
    for (size_t i = 0; i < ROWS * PARTS; i++)
        other[i] = 1e5 - 4e-3 * y[i];
    for (int both = 0; both < 2; both++) {
        const influence_layout layout = layout_of(both);
        influence_sobol *a = sobol_of(&layout, y), *b = sobol_of(&layout, other);
        same_sobol(a, b,
                   1e-6); /* 1e5/4e-3 times 1e-16, squared sums, some for the rank of a draw */
        assert_close(b->sd, 4e-3 * a->sd, 1e-8, 0);
        influence_sobol_free(a);
        influence_sobol_free(b);
    }
}

/* A failed case takes its row along, and nothing else. */
static void failed_cases(void **state)
{
    (void)state;
    double y[ROWS * PARTS], without[ROWS * PARTS];
    fill(y);
    memcpy(without, y, sizeof without);
    y[7 * PARTS + 3] = NAN;
    memmove(without + 7 * PARTS, without + 8 * PARTS, (ROWS - 8) * PARTS * sizeof *without);
    const influence_layout all = layout_of(true);
    influence_layout fewer = all;
    fewer.rows = ROWS - 1;
    influence_sobol *a = sobol_of(&all, y), *b = sobol_of(&fewer, without);
    assert_int_equal(a->rows, ROWS - 1);
    assert_int_equal(a->dropped, 1);
    same_sobol(a, b, 0);
    influence_sobol_free(a);
    influence_sobol_free(b);
}

static void sobol_refuses(void **state)
{
    (void)state;
    double y[ROWS * PARTS];
    influence_layout layout = layout_of(true);
    influence_sobol *found;
    caber_message message;
    fill(y);
    for (size_t r = INFLUENCE_ROWS_LEAST - 1; r < ROWS; r++)
        y[r * PARTS + r % PARTS] = NAN;
    refused(influence_sobol_run(&layout, y, &how, &found, &message), &message,
            "19 of 60 base rows are without a failed case");
    assert_null(found);
    layout.factors = 0;
    refused(influence_sobol_run(&layout, y, &how, &found, &message), &message, "no factors");
    layout = layout_of(true);
    fill(y);
    const resample_settings few = {.draws = 10, .seed = 1, .level = 0.95};
    refused(influence_sobol_run(&layout, y, &few, &found, &message), &message, "10 draws");
    const resample_settings sure = {.draws = 200, .seed = 1, .level = 1};
    refused(influence_sobol_run(&layout, y, &sure, &found, &message), &message, "level of 1");
}

static void constant_output(void **state)
{
    (void)state;
    double y[ROWS * PARTS];
    for (size_t i = 0; i < ROWS * PARTS; i++)
        y[i] = 0.1 * 3 * (i % 2 ? 1 : 1 + 1e-16);
    const influence_layout layout = layout_of(false);
    influence_sobol *found = sobol_of(&layout, y);
    assert_true(found->constant);
    assert_true(found->index[0].first.value == 0 && found->sum.high == 0);
    influence_sobol_free(found);
}

/* ------------------------------------------------------------------ Morris */

enum { TRAJECTORIES = 200, LEVELS = 4 };

static double *design_of(size_t factors, size_t trajectories, size_t levels, uint64_t seed)
{
    const size_t count = influence_morris_cases(factors, trajectories) * factors;
    double *x = malloc(count * sizeof *x);
    caber_message message;
    assert_non_null(x);
    fine(influence_morris_design(factors, trajectories, levels, seed, x, &message), &message);
    return x;
}

/* Every place is as likely as any other (chi-square of 3 degrees beyond 16.3 once in 1000: tables), also
 * up and down; a longer design begins as a shorter one; another seed gives another design. */
static void design_places(void **state)
{
    (void)state;
    double *x = design_of(FACTORS, TRAJECTORIES, LEVELS, 1);
    int place[LEVELS] = {0}, up = 0;
    for (size_t t = 0; t < TRAJECTORIES; t++) {
        const double *first = x + t * (FACTORS + 1) * FACTORS;
        for (size_t i = 0; i < FACTORS; i++) {
            const double at = first[i] * (LEVELS - 1);
            const double step = first[FACTORS * FACTORS + i] - first[i];
            assert_close(at, round(at), 0, 1e-12);
            assert_close(fabs(step), LEVELS / (2.0 * (LEVELS - 1)), 1e-12, 0);
            place[lround(at)]++;
            up += step > 0;
        }
    }
    double chi_square = 0;
    const double even = TRAJECTORIES * FACTORS / (double)LEVELS;
    for (int l = 0; l < LEVELS; l++)
        chi_square += (place[l] - even) * (place[l] - even) / even;
    assert_true(chi_square < 16.3);
    assert_true(abs(2 * up - TRAJECTORIES * FACTORS) < 4 * sqrt(TRAJECTORIES * FACTORS));
    double *shorter = design_of(FACTORS, 10, LEVELS, 1), *other = design_of(FACTORS, 10, LEVELS, 2);
    assert_memory_equal(x, shorter, 10 * (FACTORS + 1) * FACTORS * sizeof *x);
    assert_memory_not_equal(other, shorter, 10 * (FACTORS + 1) * FACTORS * sizeof *x);
    free(x);
    free(shorter);
    free(other);
}

/* The first to move is as often any factor: 200 trajectories, 3 factors, chi-square of 2 degrees beyond
 * 13.8 once in 1000 (tables). */
static void design_order(void **state)
{
    (void)state;
    double *x = design_of(FACTORS, TRAJECTORIES, LEVELS, 1), chi_square = 0;
    int first[FACTORS] = {0};
    for (size_t t = 0; t < TRAJECTORIES; t++) {
        const double *from = x + t * (FACTORS + 1) * FACTORS;
        for (size_t i = 0; i < FACTORS; i++)
            first[i] += from[FACTORS + i] != from[i];
    }
    assert_int_equal(first[0] + first[1] + first[2], TRAJECTORIES);
    for (int i = 0; i < FACTORS; i++)
        chi_square += pow(first[i] - TRAJECTORIES / 3.0, 2) / (TRAJECTORIES / 3.0);
    assert_true(chi_square < 13.8);
    free(x);
}

static void design_refuses(void **state)
{
    (void)state;
    double x[64];
    caber_message message;
    refused(influence_morris_design(2, 2, 5, 1, x, &message), &message, "5 levels");
    refused(influence_morris_design(2, 2, 0, 1, x, &message), &message, "even numbers from 2 to");
    refused(influence_morris_design(2, 2, 102, 1, x, &message), &message, "102 levels");
    refused(influence_morris_design(0, 2, 4, 1, x, &message), &message, "factors");
    refused(influence_morris_design(2, 0, 4, 1, x, &message), &message, "trajectories");
}

/* Straight, straight, none, one way (effects 2/3 or 4/3), both ways (effects 1/3 or -1/3). */
static double shapes(const double *x)
{
    return 5 * x[0] - 3 * x[1] + x[3] * x[3] + x[4] - x[4] * x[4];
}

static void morris_shapes(void **state)
{
    (void)state;
    enum { MANY = 5, RUNS = 12 };
    static const influence_shape want[MANY] = {INFLUENCE_STRAIGHT, INFLUENCE_STRAIGHT,
                                               INFLUENCE_NONE, INFLUENCE_ONE_WAY,
                                               INFLUENCE_BOTH_WAYS};
    double *x = design_of(MANY, RUNS, LEVELS, 4), y[RUNS * (MANY + 1)];
    influence_morris *found;
    caber_message message;
    for (size_t c = 0; c < RUNS * (MANY + 1); c++)
        y[c] = shapes(x + c * MANY);
    fine(influence_morris_run(x, y, MANY, RUNS, NULL, &how, &found, &message), &message);
    for (int i = 0; i < MANY; i++)
        assert_int_equal(found->effect[i].shape, want[i]);
    assert_close(found->effect[0].mean, 5, 1e-12, 0);
    assert_close(found->effect[1].mean, -3, 1e-12, 0);
    assert_close(found->effect[1].size.value, 3, 1e-12, 0);
    assert_close(found->effect[1].sd, 0, 0, 1e-12);
    assert_close(found->effect[4].size.value, 1.0 / 3, 1e-12, 0);
    influence_morris_free(found);
    /* A failed case takes the effects at its side along: the last case of a trajectory has one. */
    y[MANY] = NAN;
    y[3 * (MANY + 1) + 2] = NAN;
    fine(influence_morris_run(x, y, MANY, RUNS, NULL, &how, &found, &message), &message);
    size_t effects = 0;
    for (int i = 0; i < MANY; i++)
        effects += found->effect[i].count;
    assert_int_equal(effects, MANY * RUNS - 3);
    assert_int_equal(found->failed, 2);
    assert_close(found->effect[0].mean, 5, 1e-12, 0);
    influence_morris_free(found);
    free(x);
}

static void morris_refuses(void **state)
{
    (void)state;
    enum { RUNS = 5, CASES = RUNS * (FACTORS + 1) };
    static const char *const names[FACTORS] = {"grip.rise", "tip.ei", "wrist"};
    double *x = design_of(FACTORS, RUNS, LEVELS, 4), y[CASES] = {0};
    influence_morris *found;
    caber_message message;
    x[FACTORS] += 0.5; /* moves, or moves back, beside the one that is to move */
    x[FACTORS + 1] += 0.25;
    refused(influence_morris_run(x, y, FACTORS, RUNS, names, &how, &found, &message), &message,
            "cases 0 and 1");
    assert_null(found);
    free(x);
    x = design_of(FACTORS, RUNS, LEVELS, 4);
    for (int c = 0; c < CASES; c += 4)
        y[c] = NAN;
    for (int c = 1; c < CASES; c += 4)
        y[c] = NAN;
    refused(influence_morris_run(x, y, FACTORS, RUNS, names, &how, &found, &message), &message,
            "4 are needed");
    free(x);
}

/* ------------------------------------------------------------------ regression */

enum { CASES = 40 };

static void fill_cases(double *x, double *y)
{
    for (uint64_t r = 0; r < CASES; r++) {
        for (uint64_t i = 0; i < FACTORS; i++)
            x[r * FACTORS + i] = random_even(5, r, i);
        y[r] = 7 + 2 * x[r * FACTORS] - 3 * x[r * FACTORS + 1];
    }
}

/* A straight line is explained wholly, its ranks nearly; other units change nothing. */
static void regression_line(void **state)
{
    (void)state;
    double x[CASES * FACTORS], y[CASES];
    influence_regression *a, *b;
    caber_message message;
    fill_cases(x, y);
    fine(influence_regression_run(x, y, CASES, FACTORS, false, NULL, &how, &a, &message), &message);
    assert_close(a->explained.value, 1, 1e-12, 0);
    assert_close(a->explained.low, 1, 1e-12, 0);
    assert_close(a->factor[2].standard.value, 0, 0, 1e-12);
    assert_true(a->factor[0].standard.low > 0 && a->factor[1].standard.high < 0);
    for (int r = 0; r < CASES; r++) {
        x[r * FACTORS] = 5 - 1e6 * x[r * FACTORS];
        y[r] = 1e-3 * y[r] + 2;
    }
    fine(influence_regression_run(x, y, CASES, FACTORS, false, NULL, &how, &b, &message), &message);
    assert_close(b->factor[0].standard.value, -a->factor[0].standard.value, 1e-10, 0);
    assert_close(b->factor[1].standard.value, a->factor[1].standard.value, 1e-10, 0);
    influence_regression_free(a);
    influence_regression_free(b);
    /* Bent, but rising: in ranks it is straight. */
    for (int r = 0; r < CASES; r++)
        y[r] = exp(20 * x[r * FACTORS + 1]);
    fine(influence_regression_run(x, y, CASES, FACTORS, false, NULL, &how, &a, &message), &message);
    fine(influence_regression_run(x, y, CASES, FACTORS, true, NULL, &how, &b, &message), &message);
    assert_true(a->explained.value < 0.7 && !a->ranked && b->ranked);
    assert_close(b->explained.value, 1, 1e-12, 0);
    assert_close(b->factor[1].standard.value, 1, 1e-12, 0);
    influence_regression_free(a);
    influence_regression_free(b);
}

static void regression_refuses(void **state)
{
    (void)state;
    static const char *const names[FACTORS] = {"grip.rise", "tip.ei", "wrist"};
    double x[CASES * FACTORS], y[CASES];
    influence_regression *found;
    caber_message message;
    fill_cases(x, y);
    for (int r = 0; r < CASES; r++)
        x[r * FACTORS + 1] = 0.1;
    refused(influence_regression_run(x, y, CASES, FACTORS, false, names, &how, &found, &message),
            &message, "factor tip.ei is the same in all 40 cases");
    assert_null(found);
    fill_cases(x, y);
    for (int r = 0; r < CASES; r++)
        x[r * FACTORS + 2] = 4 - 3 * x[r * FACTORS];
    refused(influence_regression_run(x, y, CASES, FACTORS, false, names, &how, &found, &message),
            &message, "factors grip.rise, wrist go together");
    fill_cases(x, y);
    for (int r = 12; r < CASES; r++)
        y[r] = NAN;
    refused(influence_regression_run(x, y, CASES, FACTORS, false, names, &how, &found, &message),
            &message, "12 of 40 cases have not failed");
    fill_cases(x, y);
    x[5] = INFINITY;
    refused(influence_regression_run(x, y, CASES, FACTORS, false, NULL, &how, &found, &message),
            &message, "factor 3 has a value that is none");
    refused(influence_regression_run(x, y, CASES, 0, false, NULL, &how, &found, &message), &message,
            "no factors");
}

static void regression_constant(void **state)
{
    (void)state;
    double x[CASES * FACTORS], y[CASES];
    fill_cases(x, y);
    for (int ranked = 0; ranked < 2; ranked++) {
        influence_regression *found;
        caber_message message;
        for (int r = 0; r < CASES; r++)
            y[r] = 3;
        y[4] = NAN;
        fine(influence_regression_run(x, y, CASES, FACTORS, ranked, NULL, &how, &found, &message),
             &message);
        assert_true(found->constant && found->factor[0].standard.value == 0);
        assert_true(found->factor[0].inflation >= 1 && found->dropped == 1 && found->mean == 3);
        influence_regression_free(found);
    }
}

/* ------------------------------------------------------------------ ranks, resampling */

static void ranks_tied(void **state)
{
    (void)state;
    double x[] = {3, 1, 3, -2, 3, 1};
    static const double want[] = {5, 2.5, 5, 1, 5, 2.5};
    caber_message message;
    fine(ranks_fill(x, 6, x, &message), &message); /* in place */
    for (int i = 0; i < 6; i++)
        assert_close(x[i], want[i], 0, 0);
    fine(ranks_fill(x, 0, x, &message), &message);
}

static void row_number(void *user, size_t row, double *numbers)
{
    numbers[0] = random_even(*(const uint64_t *)user, 1, row);
}

/* Even numbers in their order, as a grid has them: no group may be of neighbours. */
static void row_in_order(void *user, size_t row, double *numbers)
{
    numbers[0] = ((double)row + 0.5) / (double)*(const uint64_t *)user;
}

static void mean_itself(void *user, const double *mean, double *out)
{
    (void)user;
    out[0] = mean[0];
}

static void no_mean(void *user, const double *mean, double *out)
{
    (void)user;
    (void)mean;
    out[0] = NAN;
}

/* The interval of a mean of even numbers is 1.96/sqrt(12 n) either way, of rows and of groups of rows;
 * with 2000 draws its ends are known to about 4 % (quantile of a normal sample), groups add 3 %. */
static void resample_groups(void **state)
{
    (void)state;
    uint64_t seed = 1;
    const resample_settings many = {.draws = 2000, .seed = 8, .level = 0.95};
    resample_problem p = {.width = 1, .count = 1, .row = row_number, .statistics = mean_itself};
    p.user = &seed;
    for (p.rows = 900; p.rows < 100000; p.rows *= 10) {
        resample_range range, again;
        caber_message message;
        fine(resample_run(&p, &many, &range, &message), &message);
        const double want = 1.96 / sqrt(12 * (double)p.rows);
        assert_close(range.high - range.value, want, 0.15, 0);
        assert_close(range.value - range.low, want, 0.15, 0);
        fine(resample_run(&p, &many, &again, &message), &message);
        assert_memory_equal(&range, &again, sizeof range);
    }
    p.rows = 20000;
    uint64_t rows = p.rows;
    p.row = row_in_order;
    p.user = &rows;
    resample_range range;
    caber_message message;
    fine(resample_run(&p, &many, &range, &message), &message);
    assert_close(range.high - range.low, 2 * 1.96 / sqrt(12 * (double)rows), 0.15, 0);
}

static void resample_refuses(void **state)
{
    (void)state;
    uint64_t seed = 1;
    resample_range range;
    caber_message message;
    resample_problem p = {
        .rows = 1, .width = 1, .count = 1, .row = row_number, .statistics = no_mean};
    p.user = &seed;
    refused(resample_run(&p, &how, &range, &message), &message, "2 rows");
    p.rows = 50;
    refused(resample_run(&p, &how, &range, &message), &message, "50 rows are too few");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_layouts),        cmocka_unit_test(none_and_all),
        cmocka_unit_test(one_factor),          cmocka_unit_test(scale_and_shift),
        cmocka_unit_test(failed_cases),        cmocka_unit_test(sobol_refuses),
        cmocka_unit_test(constant_output),     cmocka_unit_test(design_places),
        cmocka_unit_test(design_order),        cmocka_unit_test(design_refuses),
        cmocka_unit_test(morris_shapes),       cmocka_unit_test(morris_refuses),
        cmocka_unit_test(regression_line),     cmocka_unit_test(regression_refuses),
        cmocka_unit_test(regression_constant), cmocka_unit_test(ranks_tied),
        cmocka_unit_test(resample_groups),     cmocka_unit_test(resample_refuses)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
