/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The designs of a study and the distributions of its factors. Numbers called SciPy's are those that
 * SciPy 1.10.1 printed; the call stands beside them. */
#include <gsl/gsl_integration.h>
#include <stdlib.h>

#include "check.h"
#include "study/design.h"

enum { N = 128 };

static const factor unit_range = {.from = 0, .to = 1, .levels = 3};

/* ------------------------------------------------------------------ distributions */

static double power_of_quantile(const factor *f, int power)
{
    /* 512 points of Gauss and Legendre over u. */
    gsl_integration_glfixed_table *t = gsl_integration_glfixed_table_alloc(512);
    double sum = 0;
    for (size_t i = 0; i < 512; i++) {
        double u, w;
        gsl_integration_glfixed_point(0, 1, i, &u, &w, t);
        sum += w * pow(factor_quantile(f, u), power);
    }
    gsl_integration_glfixed_table_free(t);
    return sum;
}

static void assert_distribution(const factor *f, const double quantile[3], double mean, double sd)
{
    static const double u[3] = {0.1, 0.5, 0.9};
    assert_int_equal(factor_check(f, NULL), CABER_OK);
    for (int i = 0; i < 3; i++)
        assert_close(factor_quantile(f, u[i]), quantile[i], 1e-12, 0);
    /* The inverse of a probability that is rounded: of the tail, to some 1e-16/1e-3 of its width. */
    assert_close(factor_quantile(f, 0), f->from, 1e-10, 0);
    assert_close(factor_quantile(f, 1), f->to, 1e-10, 0);
    assert_true(factor_quantile(f, 0) >= f->from && factor_quantile(f, 1) <= f->to);
    const double m = power_of_quantile(f, 1);
    assert_close(m, mean, 1e-5, 0);
    assert_close(sqrt(power_of_quantile(f, 2) - m * m), sd, 1e-4, 0);
}

static void distributions_are_scipys(void **state)
{
    (void)state;
    /* truncnorm((.12-.15)/.02, (.2-.15)/.02, loc=.15, scale=.02): ppf, mean, std */
    const factor normal = {
        .from = 0.12, .to = 0.2, .spread = FACTOR_NORMAL, .mean = 0.15, .sd = 0.02};
    assert_distribution(&normal,
                        (double[]){0.13007015493663196, 0.1515204181623629, 0.1757559790324837},
                        0.15241620998563196, 0.017071065298604752);
    /* truncnorm(3, 6) */
    const factor tail = {.from = 3, .to = 6, .spread = FACTOR_NORMAL, .mean = 0, .sd = 1};
    assert_distribution(&tail,
                        (double[]){3.0319472453660383, 3.2051547102438587, 3.6425205831723826},
                        3.2830965534232988, 0.26561848237328434);
    /* triang(.5/3, loc=1, scale=3) */
    const factor triangle = {.from = 1, .to = 4, .spread = FACTOR_TRIANGULAR, .peak = 1.5};
    assert_distribution(&triangle,
                        (double[]){1.3872983346207417, 2.0635083268962915, 3.1339745962155616},
                        2.166666666666667, 0.6561673228343177);
    /* loguniform(.5, 8) */
    const factor logs = {.from = 0.5, .to = 8, .spread = FACTOR_LOG_UNIFORM};
    assert_distribution(&logs, (double[]){0.6597539553864471, 2, 6.062866266041593},
                        2.7050532016668063, 2.0443001940116545);
    /* uniform: mean (a + b)/2, variance (b - a)^2/12 */
    const factor even = {.from = -2, .to = 4};
    assert_distribution(&even, (double[]){-1.4, 1, 3.4}, 1, 6 / sqrt(12));
}

/* A far lower tail keeps its digits as the upper one does: the normal distribution is even. */
static void tails_mirror(void **state)
{
    (void)state;
    const factor upper = {.from = 4, .to = 5, .spread = FACTOR_NORMAL, .mean = 0, .sd = 1};
    const factor lower = {.from = -5, .to = -4, .spread = FACTOR_NORMAL, .mean = 0, .sd = 1};
    for (int i = 1; i < 16; i++)
        assert_close(factor_quantile(&upper, i / 16.), -factor_quantile(&lower, 1 - i / 16.), 1e-12,
                     0);
}

static void whole_numbers_and_lists_are_equally_likely(void **state)
{
    (void)state;
    const factor whole = {.from = -1, .to = 3, .whole = true, .levels = 3};
    double values[] = {7, 5, 9};
    const factor list = {.listed = true, .count = 3, .values = values};
    int seen[5] = {0}, chosen[3] = {0};
    for (int i = 0; i < 300; i++) {
        const double u = (i + 0.5) / 300;
        seen[(int)factor_quantile(&whole, u) + 1]++;
        const double v = factor_quantile(&list, u);
        chosen[v == 7 ? 0 : v == 5 ? 1 : 2]++;
    }
    for (int i = 0; i < 5; i++)
        assert_int_equal(seen[i], 60);
    for (int i = 0; i < 3; i++)
        assert_int_equal(chosen[i], 100);
    assert_true(factor_quantile(&whole, 1) == 3 && factor_quantile(&list, 1) == 9);
    assert_true(factor_level(&whole, 0) == -1 && factor_level(&whole, 1) == 1 &&
                factor_level(&whole, 2) == 3);
}

static void levels_are_equally_far_apart(void **state)
{
    (void)state;
    const factor even = {.from = 0.1, .to = 0.3, .levels = 5};
    const factor logs = {.from = 0.01, .to = 100, .spread = FACTOR_LOG_UNIFORM, .levels = 5};
    for (int l = 0; l < 5; l++) {
        assert_close(factor_level(&even, (size_t)l), 0.1 + 0.05 * l, 1e-15, 0);
        assert_close(factor_level(&logs, (size_t)l), pow(10, l - 2), 1e-14, 0);
    }
    assert_true(factor_level(&even, 4) == 0.3 && factor_level(&logs, 4) == 100);
}

static void assert_refused(const factor *f, const char *says)
{
    caber_message m;
    assert_int_equal(factor_check(f, &m), CABER_BAD_INPUT);
    if (!strstr(m.text, says))
        fail_msg("\"%s\" does not say \"%s\"", m.text, says);
}

static void factors_that_make_no_sense(void **state)
{
    (void)state;
    assert_refused(&(factor){.from = 1, .to = 1}, "the range is empty");
    assert_refused(&(factor){.from = 2, .to = 1}, "the range is empty");
    assert_refused(&(factor){.from = NAN, .to = 1}, "the range is empty");
    assert_refused(&(factor){.listed = true}, "the list is empty");
    assert_refused(&(factor){.from = 0, .to = 1, .spread = FACTOR_LOG_UNIFORM}, "above 0");
    assert_refused(&(factor){.from = 0, .to = 1, .spread = FACTOR_NORMAL}, "sd must be above 0");
    assert_refused(&(factor){.from = 5, .to = 6, .spread = FACTOR_NORMAL, .mean = 0, .sd = 1},
                   "millionth");
    assert_refused(&(factor){.from = 0, .to = 1, .spread = FACTOR_TRIANGULAR, .peak = 1.1},
                   "peak must be within");
    assert_refused(&(factor){.from = 0, .to = 3, .whole = true, .spread = FACTOR_NORMAL, .sd = 1},
                   "can only be uniform");
    assert_refused(&(factor){.from = 0, .to = 3, .levels = 1}, "at least 2");
    assert_refused(&(factor){.from = 0, .to = 3, .whole = true, .levels = 5}, "only 4 whole");
}

/* ------------------------------------------------------------------ designs */

static design *create(design_settings how, const factor *factors, size_t count, const double *base,
                      const double *given)
{
    design *d = NULL;
    caber_message m;
    if (design_create(&how, factors, count, base, given, &d, &m) != CABER_OK)
        fail_msg("%s", m.text);
    return d;
}

static void assert_case(const design *d, size_t i, size_t count, const double *want)
{
    double values[DESIGN_FACTORS_MOST];
    design_values(d, i, values);
    for (size_t k = 0; k < count; k++)
        assert_close(values[k], want[k], 1e-14, 0);
}

static void a_grid(void **state)
{
    (void)state;
    double list[] = {5, 4};
    const factor f[] = {unit_range, {.listed = true, .count = 2, .values = list}};
    design *d = create((design_settings){.kind = DESIGN_GRID}, f, 2, NULL, NULL);
    static const double want[6][2] = {{0, 5}, {0, 4}, {.5, 5}, {.5, 4}, {1, 5}, {1, 4}};
    assert_int_equal(design_count(d), 6);
    for (size_t i = 0; i < 6; i++)
        assert_case(d, i, 2, want[i]);
    design_free(d);
}

static void one_at_a_time(void **state)
{
    (void)state;
    double list[] = {5, 4};
    const factor f[] = {unit_range, {.listed = true, .count = 2, .values = list}};
    static const double base[2] = {0.5, 5};
    design *d = create((design_settings){.kind = DESIGN_ONE_AT_A_TIME}, f, 2, base, NULL);
    static const double want[4][2] = {{.5, 5}, {0, 5}, {1, 5}, {.5, 4}};
    assert_int_equal(design_count(d), 4);
    for (size_t i = 0; i < 4; i++)
        assert_case(d, i, 2, want[i]);
    design_free(d);
}

/* How many of the N cases lie in each of N equal strata of each factor: one, by definition. */
static void assert_stratified(const design *d, size_t count)
{
    for (size_t k = 0; k < count; k++) {
        int seen[N] = {0};
        for (size_t i = 0; i < N; i++) {
            double values[DESIGN_FACTORS_MOST];
            design_values(d, i, values);
            assert_true(values[k] >= 0 && values[k] < 1);
            seen[(int)floor(values[k] * N)]++;
        }
        for (int s = 0; s < N; s++)
            assert_int_equal(seen[s], 1);
    }
}

static double correlation(const design *d, size_t j, size_t k)
{
    double sum = 0, values[DESIGN_FACTORS_MOST];
    for (size_t i = 0; i < N; i++) {
        design_values(d, i, values);
        sum += (values[j] - 0.5) * (values[k] - 0.5);
    }
    return sum / N * 12;
}

static void a_latin_hypercube(void **state)
{
    (void)state;
    const factor f[4] = {unit_range, unit_range, unit_range, unit_range};
    design_settings how = {.kind = DESIGN_LATIN_HYPERCUBE, .cases = N, .seed = 5};
    design *d = create(how, f, 4, NULL, NULL), *same = create(how, f, 4, NULL, NULL);
    how.seed = 6;
    design *other = create(how, f, 4, NULL, NULL);
    assert_stratified(d, 4);
    double a[4], b[4], c[4];
    int differ = 0;
    for (size_t i = 0; i < N; i++) {
        design_values(d, i, a);
        design_values(same, i, b);
        design_values(other, i, c);
        assert_memory_equal(a, b, sizeof a);
        differ += a[0] != c[0];
    }
    assert_int_equal(differ, N);
    /* Permutations of their own: correlations have the standard deviation 1/sqrt(N - 1). */
    for (size_t k = 1; k < 4; k++)
        assert_true(fabs(correlation(d, 0, k)) < 4 / sqrt(N - 1.));
    design_free(d);
    design_free(same);
    design_free(other);
}

static void plain_sequences_are_scipys(void **state)
{
    (void)state;
    const factor f[4] = {unit_range, unit_range, unit_range, unit_range};
    design_settings how = {.kind = DESIGN_SOBOL, .cases = 8, .plain = true};
    /* qmc.Sobol(2, scramble=False).random(8); from the third dimension on sequences choose their
     * direction numbers differently. */
    static const double sobol[8][2] = {{0, 0},       {.5, .5},     {.75, .25},   {.25, .75},
                                       {.375, .375}, {.875, .875}, {.625, .125}, {.125, .625}};
    design *d = create(how, f, 2, NULL, NULL);
    for (size_t i = 0; i < 8; i++)
        assert_case(d, i, 2, sobol[i]);
    design_free(d);
    /* qmc.Halton(4, scramble=False).random(6): bases 2, 3, 5, 7 */
    how.kind = DESIGN_HALTON;
    how.cases = 6;
    d = create(how, f, 4, NULL, NULL);
    static const double halton[6][4] = {{0, 0, 0, 0},
                                        {1 / 2., 1 / 3., 1 / 5., 1 / 7.},
                                        {1 / 4., 2 / 3., 2 / 5., 2 / 7.},
                                        {3 / 4., 1 / 9., 3 / 5., 3 / 7.},
                                        {1 / 8., 4 / 9., 4 / 5., 4 / 7.},
                                        {5 / 8., 7 / 9., 1 / 25., 5 / 7.}};
    for (size_t i = 0; i < 6; i++)
        assert_case(d, i, 4, halton[i]);
    design_free(d);
}

/* 2^m points of a Sobol sequence: one in each of 2^m strata of each dimension, and of the first two one in
 * each box of area 2^-m (a net of t = 0: Sobol 1967, from memory). The shift must keep both. */
static void a_shift_keeps_the_net(void **state)
{
    (void)state;
    factor f[DESIGN_SOBOL_MOST];
    for (int k = 0; k < DESIGN_SOBOL_MOST; k++)
        f[k] = unit_range;
    for (uint64_t seed = 0; seed < 3; seed++) {
        const design_settings how = {
            .kind = DESIGN_SOBOL, .cases = N, .plain = seed == 0, .seed = seed};
        design *d = create(how, f, DESIGN_SOBOL_MOST, NULL, NULL);
        assert_stratified(d, DESIGN_SOBOL_MOST);
        for (int wide = 1; wide <= N; wide *= 2) {
            int seen[N] = {0};
            double v[DESIGN_SOBOL_MOST];
            for (size_t i = 0; i < N; i++) {
                design_values(d, i, v);
                seen[(int)(v[0] * wide) * (N / wide) + (int)(v[1] * (N / wide))]++;
            }
            for (int s = 0; s < N; s++)
                assert_int_equal(seen[s], 1);
        }
        design_free(d);
    }
}

static void a_shift_moves_every_point(void **state)
{
    (void)state;
    const factor f[3] = {unit_range, unit_range, unit_range};
    const design_kind kinds[] = {DESIGN_SOBOL, DESIGN_HALTON};
    for (int kind = 0; kind < 2; kind++) {
        design_settings how = {.kind = kinds[kind], .cases = N, .seed = 1};
        design *one = create(how, f, 3, NULL, NULL);
        how.seed = 2;
        design *two = create(how, f, 3, NULL, NULL);
        double mean[3] = {0}, a[3], b[3];
        for (size_t i = 0; i < N; i++) {
            design_values(one, i, a);
            design_values(two, i, b);
            for (int k = 0; k < 3; k++) {
                assert_true(a[k] > 0 && a[k] < 1 && a[k] != b[k]);
                mean[k] += a[k] / N;
            }
        }
        /* Discrepancy bounds the error of the mean; (log2 N)/N is generous for one dimension. */
        for (int k = 0; k < 3; k++)
            assert_close(mean[k], 0.5, 0, 7. / N);
        design_free(one);
        design_free(two);
    }
}

/* Row r: a, b, a with factor i of b, and b with factor i of a. */
static void assert_saltelli(bool both, design_rows rows)
{
    enum { K = 3, ROWS = 20 };
    const factor f[K] = {unit_range, unit_range, unit_range};
    const design_settings how = {
        .kind = DESIGN_SALTELLI, .cases = ROWS, .both = both, .rows = rows, .seed = 9};
    design *d = create(how, f, K, NULL, NULL);
    const size_t parts = both ? 2 * K + 2 : K + 2;
    assert_int_equal(design_count(d), ROWS * parts);
    for (size_t r = 0; r < ROWS; r++) {
        double a[K], b[K], mixed[K];
        design_values(d, r * parts, a);
        design_values(d, r * parts + 1, b);
        for (size_t p = 2; p < parts; p++) {
            const size_t i = (p - 2) % K;
            const double *own = p - 2 < K ? a : b, *taken = p - 2 < K ? b : a;
            design_values(d, r * parts + p, mixed);
            for (size_t k = 0; k < K; k++) {
                assert_true(a[k] != b[k]);
                assert_true(mixed[k] == (k == i ? taken : own)[k]);
            }
        }
    }
    design_free(d);
}

static void saltelli_rows(void **state)
{
    (void)state;
    assert_saltelli(false, DESIGN_ROWS_RANDOM);
    assert_saltelli(true, DESIGN_ROWS_RANDOM);
    assert_saltelli(false, DESIGN_ROWS_SOBOL);
    assert_saltelli(true, DESIGN_ROWS_SOBOL);
}

/* Morris (1991), from memory: k + 1 cases a trajectory, each factor moves once, by p/2 of its p places, up or
 * down; every place is as likely as any other. */
static void morris_trajectories(void **state)
{
    enum { K = 4, P = 4, TRAJECTORIES = 400 };
    double list[] = {7, 5, 9};
    const factor f[K] = {unit_range,
                         {.from = 0.5, .to = 8, .spread = FACTOR_LOG_UNIFORM},
                         {.from = 1, .to = 3, .whole = true},
                         {.listed = true, .count = 3, .values = list}};
    /* a (b/a)^u at thirds: 0.5 16^u; of whole numbers 1, 1.67, 2.33, 3 rounded; of the list the entries at
     * 1/8, 3/8, 5/8 and 7/8. */
    const double places[K][P] = {{0, 1 / 3., 2 / 3., 1},
                                 {0.5, 0.5 * pow(16, 1 / 3.), 0.5 * pow(16, 2 / 3.), 8},
                                 {1, 2, 2, 3},
                                 {7, 5, 5, 9}};
    int seen[K][P] = {{0}}, down = 0;
    (void)state;
    const design_settings how = {
        .kind = DESIGN_MORRIS, .cases = TRAJECTORIES, .levels = P, .seed = 3};
    design *d = create(how, f, K, NULL, NULL);
    assert_int_equal(design_count(d), TRAJECTORIES * (K + 1));
    for (size_t t = 0; t < TRAJECTORIES; t++) {
        int moved[K] = {0};
        double before[K], after[K];
        design_values(d, t * (K + 1), before);
        for (size_t step = 1; step <= K; step++) {
            design_values(d, t * (K + 1) + step, after);
            int moves = 0;
            for (size_t k = 0; k < K; k++) {
                moves += before[k] != after[k];
                moved[k] += before[k] != after[k];
                down += k == 0 && after[k] < before[k];
            }
            assert_int_equal(moves, 1);
            if (before[0] != after[0])
                assert_close(fabs(before[0] - after[0]), 2 / 3., 1e-14, 0);
            memcpy(before, after, sizeof before);
        }
        for (size_t k = 0; k < K; k++) {
            assert_int_equal(moved[k], 1);
            for (int p = 0; p < P; p++)
                seen[k][p] += fabs(after[k] - places[k][p]) <= 1e-14 * 8;
        }
    }
    /* 100 of 400 expected, and 200 where two places have one value; standard deviations 8.7 and 10. */
    for (size_t k = 0; k < K; k++)
        for (int p = 0; p < P; p++)
            assert_close(seen[k][p], k >= 2 && (p == 1 || p == 2) ? 200 : 100, 0, 45);
    assert_close(down, 200, 0, 45);
    design_free(d);
}

static void morris_is_its_seeds(void **state)
{
    enum { K = 3, CASES = 5 * (K + 1) };
    const factor f[K] = {unit_range, unit_range, unit_range};
    double a[K], b[K], c[K];
    int differ = 0;
    (void)state;
    design_settings how = {.kind = DESIGN_MORRIS, .cases = 5, .levels = 6, .seed = 3};
    design *d = create(how, f, K, NULL, NULL), *same = create(how, f, K, NULL, NULL);
    how.seed = 4;
    design *other = create(how, f, K, NULL, NULL);
    for (size_t i = 0; i < CASES; i++) {
        design_values(d, i, a);
        design_values(same, i, b);
        design_values(other, i, c);
        assert_memory_equal(a, b, sizeof a);
        differ += memcmp(a, c, sizeof a) != 0;
    }
    assert_true(differ > CASES / 2);
    design_free(d);
    design_free(same);
    design_free(other);
}

static void given_cases(void **state)
{
    (void)state;
    const factor f[2] = {unit_range, unit_range};
    static const double given[3][2] = {{1, 2}, {3, 4}, {5, 6}};
    design *d = create((design_settings){.kind = DESIGN_CASES, .cases = 3}, f, 2, NULL, given[0]);
    assert_int_equal(design_count(d), 3);
    for (size_t i = 0; i < 3; i++)
        assert_case(d, i, 2, given[i]);
    design_free(d);
}

/* ------------------------------------------------------------------ what is refused */

static void assert_no_design(design_settings how, const factor *f, size_t count, const char *says)
{
    static const double base[DESIGN_FACTORS_MOST];
    design *d = NULL;
    caber_message m;
    assert_int_equal(design_create(&how, f, count, base, NULL, &d, &m), CABER_BAD_INPUT);
    assert_null(d);
    if (!strstr(m.text, says))
        fail_msg("\"%s\" does not say \"%s\"", m.text, says);
}

static void designs_that_cannot_be(void **state)
{
    (void)state;
    factor f[DESIGN_FACTORS_MOST];
    for (int k = 0; k < DESIGN_FACTORS_MOST; k++)
        f[k] = (factor){.from = 0, .to = 1, .levels = 3};
    const design_settings grid = {.kind = DESIGN_GRID}, one = {.kind = DESIGN_ONE_AT_A_TIME};
    assert_no_design(grid, f, 0, "from 1 to 50");
    assert_no_design(grid, f, 51, "from 1 to 50");
    assert_no_design(grid, f, 17, "129140163 cases"); /* 3^17 */
    assert_no_design(grid, f, 50, "cases are not allowed");
    f[1].levels = 0;
    assert_no_design(grid, f, 2, "factors[1]: a grid needs levels");
    assert_no_design(one, f, 2, "factors[1]: one-at-a-time needs levels");
    f[1] = (factor){.from = 0, .to = 1, .levels = 3, .spread = FACTOR_NORMAL, .sd = 1};
    assert_no_design(grid, f, 2, "factors[1]: levels are of a uniform");
    f[1] = f[0];
    assert_no_design((design_settings){.kind = DESIGN_SOBOL, .cases = 0}, f, 2, "from 1 to");
    assert_no_design((design_settings){.kind = DESIGN_SOBOL, .cases = 8}, f, 41,
                     "41 factors need 41");
    const design_settings saltelli = {
        .kind = DESIGN_SALTELLI, .cases = 8, .rows = DESIGN_ROWS_SOBOL};
    assert_no_design(saltelli, f, 21, "21 factors need 42");
    assert_no_design((design_settings){.kind = DESIGN_HALTON, .cases = 99999999}, f, 3,
                     "at most 66666666");
    assert_no_design((design_settings){.kind = DESIGN_SALTELLI, .cases = 99999999}, f, 3,
                     "499999995 cases");
    const design_settings morris = {.kind = DESIGN_MORRIS, .cases = 8, .levels = 4};
    double five[] = {1, 2, 3, 4, 5}, equal[] = {1, 2, 1};
    f[1] = (factor){.listed = true, .count = 5, .values = five};
    assert_no_design(morris, f, 2, "factors[1]: a list of 5");
    f[1].count = 1;
    assert_no_design(morris, f, 2, "factors[1]: a list of 1");
    f[1] = (factor){.listed = true, .count = 3, .values = equal};
    assert_no_design(morris, f, 2, "factors[1]: a value is given twice");
    assert_no_design((design_settings){.kind = DESIGN_MORRIS, .cases = 8, .levels = 3}, f, 1,
                     "even numbers from 2 to 100");
    assert_no_design((design_settings){.kind = DESIGN_MORRIS, .cases = 99999999, .levels = 4}, f, 1,
                     "cases are not allowed");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distributions_are_scipys),
        cmocka_unit_test(tails_mirror),
        cmocka_unit_test(whole_numbers_and_lists_are_equally_likely),
        cmocka_unit_test(levels_are_equally_far_apart),
        cmocka_unit_test(factors_that_make_no_sense),
        cmocka_unit_test(a_grid),
        cmocka_unit_test(one_at_a_time),
        cmocka_unit_test(a_latin_hypercube),
        cmocka_unit_test(plain_sequences_are_scipys),
        cmocka_unit_test(a_shift_keeps_the_net),
        cmocka_unit_test(a_shift_moves_every_point),
        cmocka_unit_test(saltelli_rows),
        cmocka_unit_test(morris_trajectories),
        cmocka_unit_test(morris_is_its_seeds),
        cmocka_unit_test(given_cases),
        cmocka_unit_test(designs_that_cannot_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
