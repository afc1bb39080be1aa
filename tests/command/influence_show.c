/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Prints the tables of src/app/influence_table.c and writes the figure of influence_plot.c, of a small
 * invented study, for test_influence_show.py.
 *
 * Usage: influence_show FILE.svg */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/app.h"
#include "app/influence_plot.h"
#include "base/random.h"
#include "files/replace.h"

const char *const app_name = "influence_show";

/* ------------------------------------------------------------------ the study */

enum { FACTORS = 4, ROWS = 200, PARTS = 2 + FACTORS, TRAJECTORIES = 12, LEVELS = 4 };

static const char *const factors[FACTORS] = {
    "load.grip.rise", "shaft.sections[0].ei_scale",
    "a factor of a name – ÄÖÜ – longer than its column is wide", "build.tip_trim"};

/* Invented: no swing at all. The last factor does nothing. */
static double loft(const double *x)
{
    return 12 + 2 * x[0] + 4 * x[1] * x[2];
}

static caber_message message;
static const resample_settings how = {.draws = 400, .seed = 2, .level = 0.95};

static void need(caber_status status)
{
    if (status == CABER_OK)
        return;
    fprintf(stderr, "influence_show: %s\n", message.text);
    exit(1);
}

/* Of an output that varies `scale` times as much. */
static influence_sobol *sobol_make(double scale)
{
    static double y[ROWS * PARTS];
    const influence_layout layout = influence_layout_by_row(ROWS, FACTORS, false);
    influence_sobol *found;
    for (uint64_t r = 0; r < ROWS; r++)
        for (size_t part = 0; part < PARTS; part++) {
            double x[FACTORS];
            for (uint64_t i = 0; i < FACTORS; i++)
                x[i] = random_even(4, r, i + (part == 1 || part == 2 + i ? FACTORS : 0));
            y[r * PARTS + part] = 12 + scale * (loft(x) - 12);
        }
    y[5] = NAN;
    need(influence_sobol_run(&layout, y, &how, &found, &message));
    return found;
}

static influence_morris *morris_make(void)
{
    enum { CASES = TRAJECTORIES * (FACTORS + 1) };
    static double x[CASES * FACTORS], y[CASES];
    influence_morris *found;
    need(influence_morris_design(FACTORS, TRAJECTORIES, LEVELS, 3, x, &message));
    for (size_t c = 0; c < CASES; c++)
        y[c] = c == 7 ? (double)NAN : loft(x + c * FACTORS);
    need(influence_morris_run(x, y, FACTORS, TRAJECTORIES, factors, &how, &found, &message));
    return found;
}

/* `scatter` hides what the factors do; x_4 follows x_1 closely. */
static influence_regression *regression_make(bool ranked, double scatter)
{
    static double x[ROWS * FACTORS], y[ROWS];
    influence_regression *found;
    for (uint64_t r = 0; r < ROWS; r++) {
        for (uint64_t i = 0; i < FACTORS; i++)
            x[r * FACTORS + i] = random_even(4, r, i);
        x[r * FACTORS + 3] = x[r * FACTORS] + 0.1 * x[r * FACTORS + 3];
        y[r] = loft(x + r * FACTORS) + scatter * random_normal(4, r, FACTORS);
    }
    need(influence_regression_run(x, y, ROWS, FACTORS, ranked, factors, &how, &found, &message));
    return found;
}

static void need_memory(bool good)
{
    if (!good)
        exit(1);
}

int main(int count, char **words)
{
    const influence_view view = {FACTORS, factors, "Delivered loft", "deg", 2, how.level};
    const influence_view powers = {FACTORS, factors, "Delivered loft", "turns", -1, 0.9};
    influence_sobol *sobol = sobol_make(1), *constant = sobol_make(0), *faint = sobol_make(1e-5);
    influence_morris *morris = morris_make();
    influence_regression *plain = regression_make(false, 0), *ranked = regression_make(true, 4);
    const influence_panel panels[] = {{.view = view, .sobol = sobol},
                                      {.view = view, .morris = morris},
                                      {.view = view, .regression = plain},
                                      {.view = view, .sobol = constant}};
    char *text;
    size_t size;
    if (count != 2)
        return 2;
    need_memory(influence_table_sobol(&view, sobol));
    putchar('\n');
    need_memory(influence_table_sobol(&view, constant));
    putchar('\n');
    need_memory(influence_table_sobol(&view, faint));
    putchar('\n');
    need_memory(influence_table_morris(&view, morris));
    putchar('\n');
    need_memory(influence_table_regression(&view, plain));
    putchar('\n');
    need_memory(influence_table_regression(&view, ranked));
    putchar('\n');
    need_memory(influence_table_morris(&powers, morris));
    need(influence_plot("What drives what, invented", panels, 4, &text, &size, &message));
    need(replace_write(words[1], text, size, &message));
    free(text);
    influence_sobol_free(sobol);
    influence_sobol_free(constant);
    influence_sobol_free(faint);
    influence_morris_free(morris);
    influence_regression_free(plain);
    influence_regression_free(ranked);
    return 0;
}
