/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Answers questions about the statistics of swings, in lines of numbers.
 *
 * Usage: answers_scatter LEVEL < ROWS, of a, b, c, d and a z for each habit. Prints of a: mean, standard
 * deviation (each with its interval), percentiles; of a and b: difference of means, ratio of standard
 * deviations, p, and the p of ln ratio beyond and within 0.02; ratio of the areas of (b, d) and (a, c); difference of the shares of b and a above 0; of
 * a by the z: shares, what each leaves alone, rest.
 *        answers_scatter LEVEL share COUNT N...  prints shares with their intervals. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "study/spread.h"

enum { MOST = 2000, H = CABER_HABITS };
static const double worth = 0.02; /* of ln ratio */
static double a[MOST], b[MOST], ac[2 * MOST], bd[2 * MOST], z[MOST * H], work[MOST];

static void show(const char *what, const double *x, size_t n)
{
    printf("%s", what);
    for (size_t i = 0; i < n; i++)
        printf(" %.17g", x[i]);
    printf("\n");
}

static void show_interval(const char *what, spread_interval i)
{
    show(what, (const double[]){i.value, i.low, i.high}, 3);
}

static size_t rows_read(void)
{
    size_t n = 0;
    double row[4 + H];
    while (n < MOST) {
        for (int i = 0; i < 4 + H; i++)
            if (scanf("%lf", &row[i]) != 1)
                return n;
        a[n] = ac[2 * n] = row[0];
        b[n] = bd[2 * n] = row[1];
        ac[2 * n + 1] = row[2];
        bd[2 * n + 1] = row[3];
        memcpy(z + n * H, row + 4, H * sizeof *z);
        n++;
    }
    return n;
}

static void answer_split(size_t n)
{
    bool varies[H];
    for (int k = 0; k < H; k++)
        varies[k] = true;
    split *s = split_create(z, n, varies);
    double share[H], own[H], rest;
    if (!s)
        exit(1);
    split_run(s, a, share, own, &rest);
    show("share", share, H);
    show("own", own, H);
    show("rest", &rest, 1);
    split_free(s);
}

static void answer_rows(double level)
{
    const size_t n = rows_read();
    double percentiles[CABER_PERCENTILES];
    bool in_a[MOST], in_b[MOST];
    for (size_t i = 0; i < n; i++) {
        in_a[i] = a[i] > 0;
        in_b[i] = b[i] > 0;
    }
    show_interval("mean", spread_mean(a, n, level));
    show_interval("sd", spread_sd(a, n, level, work));
    spread_percentiles(a, n, work, percentiles);
    show("percentiles", percentiles, CABER_PERCENTILES);
    show_interval("difference", spread_difference(a, b, n, level));
    const spread_pair pair = spread_ratio(a, b, n, level);
    show_interval("ratio", pair.ratio);
    show("p", &pair.p, 1);
    show("beyond", (const double[]){spread_beyond(&pair, n, worth)}, 1);
    show("within", (const double[]){spread_within(&pair, n, worth)}, 1);
    show_interval("area", spread_area(ac, bd, n, level));
    show_interval("shares", spread_share_difference(in_a, in_b, n, level));
    answer_split(n);
}

static void answer_shares(double level, int count, char **of)
{
    for (int i = 0; i + 1 < count; i += 2) {
        const caber_share s = spread_share((size_t)atoi(of[i]), (size_t)atoi(of[i + 1]), level);
        show("share", (const double[]){s.share, s.low, s.high}, 3);
    }
}

int main(int argc, char **argv)
{
    if (argc < 2)
        return 2;
    const double level = atof(argv[1]);
    if (argc == 2)
        answer_rows(level);
    else
        answer_shares(level, argc - 3, argv + 3);
    return 0;
}
