/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Answers questions about the influence of factors, in lines of numbers.
 *
 * Usage: answers_influence sobol ROWS FACTORS BOTH < outputs, row by row: prints of each factor S_i and
 * T_i, then the mean and standard deviation of the output, each without intervals.
 *        answers_influence morris TRAJECTORIES FACTORS < cases of factors and output: of each factor mu,
 * mu*, sigma.
 *        answers_influence regression ROWS FACTORS RANKED DRAWS < the same: of each factor beta with its
 * interval and inflation, then R2 with its interval.
 *        answers_influence ratio ROWS DRAWS < pairs: the mean of the first and the ratio of the means,
 * each with its interval. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/influence.h"
#include "study/influence_morris.h"
#include "study/influence_regression.h"

static resample_settings how = {.draws = RESAMPLE_DRAWS_LEAST, .seed = 1, .level = 0.95};
static caber_message message;

static void need(bool good)
{
    if (good)
        return;
    fprintf(stderr, "answers_influence: %s\n", message.text);
    exit(1);
}

static double *numbers_read(size_t count)
{
    double *x = calloc(count + 1, sizeof *x);
    need(x != NULL);
    for (size_t i = 0; i < count; i++)
        need(scanf("%lf", &x[i]) == 1);
    return x;
}

static void show(const double *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        printf("%.17g%c", x[i], i + 1 < n ? ' ' : '\n');
}

static void answer_sobol(size_t rows, size_t factors, bool both)
{
    const influence_layout layout = influence_layout_by_row(rows, factors, both);
    double *y = numbers_read(rows * influence_parts(factors, both));
    influence_sobol *found;
    need(influence_sobol_run(&layout, y, &how, &found, &message) == CABER_OK);
    for (size_t i = 0; i < factors; i++)
        show((double[]){found->index[i].first.value, found->index[i].total.value}, 2);
    show((double[]){found->mean, found->sd}, 2);
    influence_sobol_free(found);
    free(y);
}

/* Rows of factors and output, apart. */
static double *cases_read(size_t rows, size_t factors, double **y)
{
    double *all = numbers_read(rows * (factors + 1)), *x = calloc(rows * factors + 1, sizeof *x);
    *y = calloc(rows + 1, sizeof **y);
    need(x && *y);
    for (size_t r = 0; r < rows; r++) {
        memcpy(x + r * factors, all + r * (factors + 1), factors * sizeof *x);
        (*y)[r] = all[r * (factors + 1) + factors];
    }
    free(all);
    return x;
}

static void answer_morris(size_t trajectories, size_t factors)
{
    double *y, *x = cases_read(influence_morris_cases(factors, trajectories), factors, &y);
    influence_morris *found;
    need(influence_morris_run(x, y, factors, trajectories, NULL, &how, &found, &message) ==
         CABER_OK);
    for (size_t i = 0; i < factors; i++) {
        const influence_effect *e = &found->effect[i];
        show((double[]){e->mean, e->size.value, e->sd}, 3);
    }
    influence_morris_free(found);
    free(x);
    free(y);
}

static void answer_regression(size_t rows, size_t factors, bool ranked, size_t draws)
{
    how.draws = draws;
    double *y, *x = cases_read(rows, factors, &y);
    influence_regression *found;
    need(influence_regression_run(x, y, rows, factors, ranked, NULL, &how, &found, &message) ==
         CABER_OK);
    for (size_t i = 0; i < factors; i++) {
        const influence_coefficient *c = &found->factor[i];
        show((double[]){c->standard.value, c->standard.low, c->standard.high, c->inflation}, 4);
    }
    show((double[]){found->explained.value, found->explained.low, found->explained.high}, 3);
    influence_regression_free(found);
    free(x);
    free(y);
}

static void pair_numbers(void *user, size_t row, double *numbers)
{
    memcpy(numbers, (const double *)user + 2 * row, 2 * sizeof *numbers);
}

static void pair_statistics(void *user, const double *mean, double *out)
{
    (void)user;
    out[0] = mean[0];
    out[1] = mean[0] / mean[1];
}

static void answer_ratio(size_t rows, size_t draws)
{
    double *pairs = numbers_read(2 * rows);
    const resample_problem problem = {.rows = rows,
                                      .width = 2,
                                      .count = 2,
                                      .row = pair_numbers,
                                      .statistics = pair_statistics,
                                      .user = pairs};
    resample_range range[2];
    how.draws = draws;
    need(resample_run(&problem, &how, range, &message) == CABER_OK);
    for (int i = 0; i < 2; i++)
        show((double[]){range[i].value, range[i].low, range[i].high}, 3);
    free(pairs);
}

int main(int count, char **words)
{
    size_t n[4] = {0};
    for (int i = 2; i < count && i < 6; i++)
        n[i - 2] = strtoul(words[i], NULL, 10);
    if (count == 5 && strcmp(words[1], "sobol") == 0)
        answer_sobol(n[0], n[1], n[2] != 0);
    else if (count == 4 && strcmp(words[1], "morris") == 0)
        answer_morris(n[0], n[1]);
    else if (count == 6 && strcmp(words[1], "regression") == 0)
        answer_regression(n[0], n[1], n[2] != 0, n[3]);
    else if (count == 4 && strcmp(words[1], "ratio") == 0)
        answer_ratio(n[0], n[1]);
    else
        return 2;
    return 0;
}
