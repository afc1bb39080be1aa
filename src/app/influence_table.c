/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/influence_table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/table.h"

/* A total index below which a factor could be held: common practice. */
static const double idle = 0.01;
/* Sum of first orders from which factors are said to act one by one: an assumption of ours. */
static const double nearly_all = 0.95;
enum { TEXT_SIZE = 2000 };

static double size_at(const double *first, size_t apart, size_t i)
{
    return fabs(*(const double *)(const void *)((const char *)first + i * apart));
}

void influence_order(const double *first, size_t apart, size_t count, size_t *order)
{
    for (size_t i = 0; i < count; i++) {
        size_t to = i;
        for (; to > 0 && size_at(first, apart, order[to - 1]) < size_at(first, apart, i); to--)
            order[to] = order[to - 1];
        order[to] = i;
    }
}

static bool begins_letter(char c)
{
    return ((unsigned char)c & 0xc0) != 0x80;
}

size_t influence_name_clip(const char *name, char clipped[INFLUENCE_NAME_SIZE])
{
    enum { MORE = 3, KEPT = INFLUENCE_NAME_WIDTH - MORE };
    size_t letters = 0, kept = 0, size = 0;
    for (; name[size] && size < INFLUENCE_NAME_SIZE - MORE - 1; size++) {
        if (begins_letter(name[size]) && letters++ == KEPT)
            kept = size;
        if (letters > INFLUENCE_NAME_WIDTH)
            break;
    }
    if (!name[size]) {
        snprintf(clipped, INFLUENCE_NAME_SIZE, "%s", name);
        return letters;
    }
    snprintf(clipped, INFLUENCE_NAME_SIZE, "%.*s...", (int)kept, name);
    return INFLUENCE_NAME_WIDTH;
}

/* ------------------------------------------------------------------ parts of a table */

static void print_name(const char *name)
{
    char clipped[INFLUENCE_NAME_SIZE];
    const size_t letters = influence_name_clip(name, clipped);
    printf("  ");
    app_print_text(clipped);
    printf("%*s", (int)(INFLUENCE_NAME_WIDTH - letters), "");
}

static void print_number(double value, int decimals, int width)
{
    char text[40];
    table_number(text, sizeof text, value, value == 0 && decimals < 0 ? 0 : decimals);
    printf("%*s", width, text);
}

/* "0.62   0.58 to 0.66" */
static void print_range(const resample_range *range, int decimals)
{
    print_number(range->value, decimals, 10);
    print_number(range->low, decimals, 9);
    printf(" to");
    print_number(range->high, decimals, decimals < 0 ? 9 : 6 + (decimals > 2 ? decimals - 2 : 0));
}

static void print_title(const influence_view *view)
{
    char title[200];
    snprintf(title, sizeof title, "%s%s%s", view->label, view->unit[0] ? ", " : "", view->unit);
    table_title(title);
}

static void print_head(const influence_view *view, double mean, double sd)
{
    char text[2][40];
    print_title(view);
    table_number(text[0], sizeof text[0], mean, view->decimals);
    table_number(text[1], sizeof text[1], sd, view->decimals < 0 ? -1 : view->decimals + 1);
    printf("  mean %s, standard deviation %s", text[0], text[1]);
}

/* Where the output varies by less than its table shows: what follows may be the scatter of the solver. */
static void print_faint(const influence_view *view, double sd)
{
    if (view->decimals >= 0 && sd < 0.5 * pow(10, -view->decimals - 1))
        puts("  It varies by less than is printed: what is below may be the scatter of the "
             "computation.");
}

static void print_constant(void)
{
    puts("\n  It does not vary: no factor matters.");
}

/* Adds to a text, as much as fits. */
static void add_text(char text[TEXT_SIZE], const char *more)
{
    const size_t used = strlen(text);
    snprintf(text + used, TEXT_SIZE - used, "%s", more);
}

/* Returns what influence_order gives, to be freed; NULL when out of memory. */
static size_t *order_create(const double *first, size_t apart, size_t count)
{
    size_t *order = malloc((count + 1) * sizeof *order);
    if (order)
        influence_order(first, apart, count, order);
    return order;
}

/* ------------------------------------------------------------------ Sobol indices */

/* What the factors do together, and which of them do nothing. */
static void sobol_words(const influence_view *view, const influence_sobol *found,
                        const size_t *order, char text[TEXT_SIZE])
{
    const resample_range *sum = &found->sum;
    bool any = false;
    snprintf(text, TEXT_SIZE, "The first orders add up to %.2f (%.2f to %.2f): ", sum->value,
             sum->low, sum->high);
    if (sum->value >= nearly_all)
        add_text(text, "the factors act nearly one by one.");
    else if (sum->high >= 1)
        add_text(text, "more rows would tell whether factors act together.");
    else
        snprintf(text + strlen(text), TEXT_SIZE - strlen(text),
                 "about %.0f %% of the variance is from factors acting together.",
                 100 * fmin(1 - sum->value, 1));
    for (size_t i = 0; i < found->count; i++) {
        if (!(found->index[order[i]].total.high < idle))
            continue;
        add_text(text, any ? ", "
                           : " Could be held, as the whole of its total interval is below "
                             "0.01: ");
        add_text(text, view->factors[order[i]]);
        any = true;
    }
    if (any)
        add_text(text, ".");
}

static void sobol_rows(const influence_view *view, const influence_sobol *found,
                       const size_t *order)
{
    char level[24];
    snprintf(level, sizeof level, "%.4g %% interval", 100 * view->level);
    printf("\n  %-*s%10s%18s%10s%18s\n", INFLUENCE_NAME_WIDTH, "factor", "first", level, "total",
           level);
    for (size_t i = 0; i < found->count; i++) {
        print_name(view->factors[order[i]]);
        print_range(&found->index[order[i]].first, 2);
        print_range(&found->index[order[i]].total, 2);
        putchar('\n');
    }
}

bool influence_table_sobol(const influence_view *view, const influence_sobol *found)
{
    size_t *order = order_create(&found->index->total.value, sizeof *found->index, found->count);
    const bool good = order != NULL;
    if (good) {
        char text[TEXT_SIZE];
        print_head(view, found->mean, found->sd);
        printf(", over %zu base rows", found->rows);
        if (found->dropped)
            printf("; %zu left out, where a case has no value", found->dropped);
        putchar('\n');
        if (found->constant) {
            print_constant();
        } else {
            print_faint(view, found->sd);
            sobol_rows(view, found, order);
            sobol_words(view, found, order, text);
            table_paragraph(text);
        }
    }
    free(order);
    return good;
}

/* ------------------------------------------------------------------ elementary effects */

static const char *shape_word(influence_shape shape)
{
    switch (shape) {
    case INFLUENCE_NONE:
        return "nothing";
    case INFLUENCE_STRAIGHT:
        return "straight";
    case INFLUENCE_ONE_WAY:
        return "one way";
    case INFLUENCE_BOTH_WAYS:
        return "both ways";
    }
    return "";
}

static void morris_rows(const influence_view *view, const influence_morris *found,
                        const size_t *order)
{
    char level[24];
    const int decimals = view->decimals < 0 ? -1 : view->decimals + 1;
    snprintf(level, sizeof level, "%.4g %% interval", 100 * view->level);
    printf("\n  %-*s%10s%18s%10s%10s  %s\n", INFLUENCE_NAME_WIDTH, "factor", "mu*", level, "mu",
           "sigma", "it acts");
    for (size_t i = 0; i < found->count; i++) {
        const influence_effect *e = &found->effect[order[i]];
        print_name(view->factors[order[i]]);
        print_range(&e->size, decimals);
        print_number(e->mean, decimals, 10);
        print_number(e->sd, decimals, 10);
        printf("  %s\n", shape_word(e->shape));
    }
}

bool influence_table_morris(const influence_view *view, const influence_morris *found)
{
    size_t *order = order_create(&found->effect->size.value, sizeof *found->effect, found->count);
    const bool good = order != NULL;
    if (good) {
        print_title(view);
        printf("  %zu trajectories", found->trajectories);
        if (found->failed)
            printf("; %zu case%s without a value: the effects beside are left out", found->failed,
                   found->failed == 1 ? "" : "s");
        putchar('\n');
        if (found->count)
            print_faint(view, found->effect[order[0]].size.value);
        morris_rows(view, found, order);
    }
    free(order);
    return good;
}

/* ------------------------------------------------------------------ regression */

static void regression_rows(const influence_view *view, const influence_regression *found,
                            const size_t *order)
{
    char level[24];
    snprintf(level, sizeof level, "%.4g %% interval", 100 * view->level);
    printf("\n  %-*s%10s%18s%11s\n", INFLUENCE_NAME_WIDTH, "factor", "slope", level, "inflation");
    for (size_t i = 0; i < found->count; i++) {
        const influence_coefficient *c = &found->factor[order[i]];
        print_name(view->factors[order[i]]);
        print_range(&c->standard, 2);
        print_number(c->inflation, 1, 11);
        puts(c->inflation > INFLUENCE_INFLATION_HIGH ? "  goes with others" : "");
    }
}

static void regression_words(const influence_regression *found, char text[TEXT_SIZE])
{
    bool together = false;
    snprintf(text, TEXT_SIZE, "Together they explain %.0f %% of %s variance (%.0f to %.0f %%)%s",
             100 * found->explained.value, found->ranked ? "the ranks'" : "its",
             100 * found->explained.low, 100 * found->explained.high,
             found->explained.value < INFLUENCE_EXPLAINED_LOW
                 ? ": too little for the slopes to tell the whole story."
                 : ".");
    for (size_t i = 0; i < found->count; i++)
        together = together || found->factor[i].inflation > INFLUENCE_INFLATION_HIGH;
    if (together)
        add_text(text, " Factors that go with others (inflation above 10) share what they do in a "
                       "way that chance decides.");
}

bool influence_table_regression(const influence_view *view, const influence_regression *found)
{
    size_t *order =
        order_create(&found->factor->standard.value, sizeof *found->factor, found->count);
    const bool good = order != NULL;
    if (good) {
        char text[TEXT_SIZE];
        print_head(view, found->mean, found->sd);
        printf(", over %zu cases", found->rows);
        if (found->dropped)
            printf("; %zu left out, without a value", found->dropped);
        puts(found->ranked ? "; in ranks" : "");
        if (found->constant) {
            print_constant();
        } else {
            print_faint(view, found->sd);
            regression_rows(view, found, order);
            regression_words(found, text);
            table_paragraph(text);
        }
    }
    free(order);
    return good;
}
