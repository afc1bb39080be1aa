/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What caber scatter prints: what differs from swing to swing, with two setups which is the more
 * consistent, then every output, where the balls land, and what makes the outputs vary. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/outputs.h"
#include "app/scatter.h"
#include "app/table.h"
#include "app/uncertainty.h"

enum { CELL = 64 };

/* ------------------------------------------------------------------ what is drawn */

static void print_head(const scatter_view *view)
{
    char title[2 * SCATTER_NAME_SIZE + 32];
    snprintf(title, sizeof title, "%s%s%s, from swing to swing", view->names[0],
             view->count > 1 ? " and " : "", view->count > 1 ? view->names[1] : "");
    table_title(title);
    given_print_setups((const caber_setup *const *)view->setups, view->names, view->count);
    putchar('\n');
    app_print_cautions();
}

static void print_failures(const scatter_view *view)
{
    char text[sizeof(caber_message) + SCATTER_NAME_SIZE + 256];
    for (size_t i = 0; i < view->count; i++) {
        const caber_scatter_club *c = &view->found->clubs[i];
        if (!c->draws.failed)
            continue;
        snprintf(
            text, sizeof text,
            "Left out: %zu of %zu swings of %s, of which %zu met a ball that did not fly. The "
            "first, "
            "swing %zu: %s. Such swings are the worst of all, so the spreads are a little larger "
            "than what stands below.",
            c->draws.failed, c->draws.count, view->names[i], c->unflown, c->draws.first_failed + 1,
            c->draws.failure.text);
        table_paragraph(text);
    }
}

static void print_intro(const scatter_view *view)
{
    const caber_scatter_settings *s = &view->found->settings;
    char text[1024];
    snprintf(text, sizeof text,
             "No two swings of a player are alike. %d were drawn (seed %d) from what the player's "
             "file says of that (repeat, below)%s. \"sd\" is the standard deviation: about two "
             "swings in three lie within one of the mean. +- and .. say how well %d swings tell a "
             "mean and an sd: to %.4g %%. They do not say how well the habits in that file are "
             "known.",
             s->swings, s->seed,
             view->count > 1 ? ", the same for both setups, so that chance favours neither" : "",
             s->swings, 100 * s->level);
    table_paragraph(text);
    print_failures(view);
}

static void print_pairings(const caber_repeat *repeat)
{
    for (size_t i = 0; i < repeat->pairing_count; i++)
        printf("%s%s with %s %.4g",
               i ? ", " : "  together: ", caber_habit_about(repeat->pairings[i].of).name,
               caber_habit_about(repeat->pairings[i].with).name, repeat->pairings[i].correlation);
    if (repeat->pairing_count)
        putchar('\n');
}

static bool same_habits(const caber_repeat *a, const caber_repeat *b)
{
    bool same = a->pairing_count == b->pairing_count;
    for (int k = 0; k < CABER_HABITS; k++)
        same = same && caber_habit_sd(a, (caber_habit)k) == caber_habit_sd(b, (caber_habit)k);
    for (size_t i = 0; same && i < a->pairing_count; i++)
        same = a->pairings[i].of == b->pairings[i].of &&
               a->pairings[i].with == b->pairings[i].with &&
               a->pairings[i].correlation == b->pairings[i].correlation;
    return same;
}

static void print_habits_of(const caber_repeat *repeat, const char *name)
{
    char title[SCATTER_NAME_SIZE + 64];
    snprintf(title, sizeof title, "What differs from swing to swing, and its sd%s%s",
             name ? ": " : "", name ? name : "");
    table_group(title);
    for (int k = 0; k < CABER_HABITS; k++) {
        const caber_habit_note habit = caber_habit_about((caber_habit)k);
        const double sd = habit.factor * caber_habit_sd(repeat, (caber_habit)k);
        if (sd > 0)
            printf("  %-10s %8.4g %-4s %s\n", habit.name, sd, habit.unit, habit.meaning);
    }
    print_pairings(repeat);
}

static void print_habits(const scatter_view *view)
{
    const caber_repeat *first = &view->setups[0]->player.repeat;
    const bool same = view->count < 2 || same_habits(first, &view->setups[1]->player.repeat);
    print_habits_of(first, same ? NULL : view->setups[0]->player.name);
    if (same)
        return;
    print_habits_of(&view->setups[1]->player.repeat, view->setups[1]->player.name);
    table_paragraph("The habits of the two players differ: what differs below is of players and "
                    "clubs together.");
}

/* ------------------------------------------------------------------ one setup, every output */

/* "0.42..0.48" with so many decimals. */
static void text_range(char text[CELL], double low, double high, int decimals)
{
    char from[24], to[24];
    table_number(from, sizeof from, low, decimals);
    table_number(to, sizeof to, high, decimals);
    snprintf(text, CELL, "%s..%s", from, to);
}

static void print_output(size_t output, const caber_spread *s)
{
    const caber_field *f = caber_output_field(output);
    const double k = f->factor;
    const int decimals = outputs_spread_decimals(k * s->sd);
    char usual[24], mean[24], half[24], sd[24], range[CELL], low[24], high[24];
    table_number(usual, sizeof usual, k * s->usual, f->decimals);
    table_number(mean, sizeof mean, k * s->mean, f->decimals);
    uncertainty_text(half, sizeof half, k * (s->mean_high - s->mean_low) / 2, f->decimals);
    table_number(sd, sizeof sd, k * s->sd, decimals);
    text_range(range, k * s->sd_low, k * s->sd_high, decimals);
    table_number(low, sizeof low, k * s->percentile[0], f->decimals);
    table_number(high, sizeof high, k * s->percentile[CABER_PERCENTILES - 1], f->decimals);
    printf("  %-19s %-6s%8s%9s%-11s%8s  %-16s%9s%9s\n", f->label, f->unit, usual, mean, half, sd,
           range, low, high);
}

static void print_outputs(const scatter_view *view)
{
    outputs_group groups[OUTPUTS_GROUPS];
    const size_t count = outputs_groups(groups);
    printf("\n  %-19s %-6s%8s%9s%-11s%8s  %-16s%9s%9s\n", "", "", "usual", "mean", "", "sd", "",
           "5 %", "95 %");
    for (size_t g = 0; g < count; g++) {
        table_group(groups[g].title);
        for (size_t i = 0; i < groups[g].count; i++)
            print_output(groups[g].item[i], &view->found->clubs[0].spreads[groups[g].item[i]]);
    }
}

/* ------------------------------------------------------------------ where the balls land */

/* "62.0 % (57.1..66.8)" */
static void text_share(char text[CELL], const caber_share *s)
{
    snprintf(text, CELL, "%.1f %% (%.1f..%.1f)", 100 * s->share, 100 * s->low, 100 * s->high);
}

/* The side away from the golfer, as it is called: right of the target for a right-handed one. */
static const char *side_word(const caber_setup *setup, double away)
{
    return (away > 0) != (setup->player.handed == CABER_LEFT) ? "right" : "left";
}

static void print_ellipse(const caber_setup *setup, const caber_landing *l, int held, double scale,
                          const caber_share *within)
{
    char share[CELL];
    text_share(share, within);
    printf("  ellipse for %d %%      half axes %.1f and %.1f m, the longer one turned %.0f deg to "
           "the %s\n",
           held, scale * l->major, scale * l->minor, fabs(l->turn) * CABER_DEG,
           side_word(setup, l->turn));
    printf("                        %s of the balls are in it\n", share);
}

static void print_landing(const scatter_view *view, size_t club)
{
    const caber_landing *l = &view->found->clubs[club].landing;
    const caber_setup *setup = view->setups[club];
    char title[SCATTER_NAME_SIZE + 32] = "Where the balls land", share[CELL];
    if (view->count > 1)
        snprintf(title, sizeof title, "Where the balls of %s land", view->names[club]);
    table_group(title);
    printf("  in the mean           %.1f m along the target line, %.1f m %s of it\n", l->carry,
           fabs(l->side), side_word(setup, l->side));
    print_ellipse(setup, l, 50, l->scale_50, &l->within_50);
    print_ellipse(setup, l, 90, l->scale_90, &l->within_90);
    printf("                        its area is %.0f m2\n", l->area_90);
    text_share(share, &l->fairway);
    printf("  on the fairway        %s land on one %.4g m wide along the target line\n", share,
           view->found->settings.fairway);
    text_share(share, &l->aimed);
    printf("                        %s would, aimed so that the mean is in its middle\n", share);
}

/* ------------------------------------------------------------------ what makes them vary */

/* Of an output: a habit, or what two do only together. */
typedef struct cause {
    const char *name;
    double share;
} cause;

static int more_share(const void *a, const void *b)
{
    const double x = ((const cause *)a)->share, y = ((const cause *)b)->share;
    return (x < y) - (x > y);
}

static void print_causes(size_t output, const caber_spread *s)
{
    enum { WIDTH = 97, LEAST = 1 };
    cause causes[CABER_HABITS + 1];
    char title[OUTPUTS_TITLE_SIZE], sd[24];
    const double printed = outputs_printed(output, s->sd);
    for (int k = 0; k < CABER_HABITS; k++)
        causes[k] = (cause){caber_habit_about((caber_habit)k).name, 100 * s->share[k]};
    causes[CABER_HABITS] = (cause){"jointly", 100 * s->rest};
    qsort(causes, CABER_HABITS + 1, sizeof *causes, more_share);
    outputs_title(output, title);
    table_number(sd, sizeof sd, printed, outputs_spread_decimals(printed));
    int column = printf("  %-17s%8s %-4s", title, sd, caber_output_field(output)->unit);
    for (int k = 0; k <= CABER_HABITS; k++) {
        char text[CELL];
        if (fabs(causes[k].share) < LEAST / 2.0)
            continue;
        const int length =
            snprintf(text, sizeof text, "  %s %.0f %%", causes[k].name, causes[k].share);
        if (column + length > WIDTH)
            break;
        column += printf("%s", text);
    }
    putchar('\n');
}

static void print_split(const scatter_view *view, size_t club)
{
    size_t keys[OUTPUTS_KEYS];
    char title[SCATTER_NAME_SIZE + 80];
    snprintf(title, sizeof title,
             "What makes it vary%s%s: the sd, and shares of its square, largest first",
             view->count > 1 ? " with " : "", view->count > 1 ? view->names[club] : "");
    table_group(title);
    outputs_keys(keys);
    for (size_t i = 0; i < OUTPUTS_KEYS; i++)
        print_causes(keys[i], &view->found->clubs[club].spreads[keys[i]]);
}

static void print_split_note(void)
{
    table_paragraph(
        "A habit that goes together with others can take some of their spread away, and "
        "its share is then below 0. \"jointly\" is what habits do only with one another. "
        "--json has the split of every output, and what each habit would leave alone.");
}

/* ------------------------------------------------------------------ which is the more consistent */

/* How much less the steadier of the two spreads, in per cent. */
static double less_of(caber_steadier steadier, const caber_contrast *ratio)
{
    return 100 * (1 - (steadier == CABER_FIRST_STEADIER ? 1 / ratio->value : ratio->value));
}

/* "Soft tip spreads 14.2 % less", "the two are alike (4.4 % apart)", or that it is not known. */
static void text_direction(char text[SCATTER_NAME_SIZE + CELL], const scatter_view *view,
                           caber_steadier steadier, bool alike, const caber_contrast *ratio)
{
    const double apart = 100 * (fmax(ratio->value, 1 / ratio->value) - 1);
    if (steadier != CABER_NOT_TOLD_APART)
        snprintf(text, SCATTER_NAME_SIZE + CELL, "%s spreads %.1f %% less",
                 view->names[steadier == CABER_OTHER_STEADIER], less_of(steadier, ratio));
    else if (alike)
        snprintf(text, SCATTER_NAME_SIZE + CELL, "the two are alike (%.1f %% apart)", apart);
    else
        snprintf(text, SCATTER_NAME_SIZE + CELL, "that is not told (%.1f %% apart)", apart);
}

/* In a word or two, or in a sentence. */
static void text_overall(char text[SCATTER_NAME_SIZE + CELL], const scatter_view *view)
{
    const caber_scatter_contrast *c = view->found->contrasts;
    if (c->overall != CABER_NOT_TOLD_APART)
        snprintf(text, SCATTER_NAME_SIZE + CELL, "%s",
                 view->names[c->overall == CABER_OTHER_STEADIER]);
    else if (c->carry != CABER_NOT_TOLD_APART && c->side != CABER_NOT_TOLD_APART)
        snprintf(text, SCATTER_NAME_SIZE + CELL, "Neither in all");
    else if (c->alike)
        snprintf(text, SCATTER_NAME_SIZE + CELL, "Neither: they are alike");
    else
        snprintf(text, SCATTER_NAME_SIZE + CELL, "Not told apart by %zu swings", c->pairs);
}

/* On a range there are no common draws. Of n balls with either club the logarithm of the ratio of the two
 * spreads has the standard error 1/sqrt(n) where landings spread normally; a test at 5 % sees (1.96 + 0.84)
 * of them four times in five. */
static void print_overall(const scatter_view *view, const caber_contrast *carry,
                          const caber_contrast *side)
{
    const caber_scatter_contrast *c = view->found->contrasts;
    const double worth = view->found->settings.worth, balls = pow(2.80 / log1p(worth), 2);
    const double round = pow(10, floor(log10(balls)));
    char along[SCATTER_NAME_SIZE + CELL], across[sizeof along], verdict[sizeof along];
    char text[3 * sizeof along + 512];
    text_direction(along, view, c->carry, c->carry_alike, carry);
    text_direction(across, view, c->side, c->side_alike, side);
    text_overall(verdict, view);
    snprintf(
        text, sizeof text,
        "Which is the more consistent for %s? %s. Along the target line %s; across it "
        "%s. Spreads that are less than %.4g %% apart count as alike: on a range, where no two "
        "swings are the same, it takes some %.0f balls with each club to see that much four times "
        "in five.",
        given_same_player((const caber_setup *const *)view->setups, view->count)
            ? "this player"
            : "these two players",
        verdict, along, across, 100 * worth, floor(balls / round + 0.5) * round);
    table_paragraph(text);
}

/* A row of the verdict: a figure of both, and the ratio or difference with its interval. */
static void print_beside(const char *label, double first, double second, int decimals,
                         const caber_contrast *c, double factor, int places)
{
    char one[24], other[24], value[24], range[CELL];
    table_number(one, sizeof one, first, decimals);
    table_number(other, sizeof other, second, decimals);
    table_number(value, sizeof value, factor * c->value, places);
    text_range(range, factor * c->low, factor * c->high, places);
    printf("  %-26s%10s%10s%9s  %s\n", label, one, other, value, range);
}

static void print_verdict(const scatter_view *view)
{
    const caber_scatter *found = view->found;
    const caber_scatter_contrast *c = found->contrasts;
    const caber_landing *a = &found->clubs[0].landing, *b = &found->clubs[1].landing;
    const size_t carry = caber_output_find("carry_m"), side = caber_output_find("side_m");
    const caber_contrast *along = &c->outputs[carry].ratio, *across = &c->outputs[side].ratio;
    print_overall(view, along, across);
    printf("\n  %-26s%10s%10s%9s\n", "", "first", "second", "ratio");
    print_beside("sd of the carry, m", found->clubs[0].spreads[carry].sd,
                 found->clubs[1].spreads[carry].sd, 2, along, 1, 3);
    print_beside("sd of the side, m", found->clubs[0].spreads[side].sd,
                 found->clubs[1].spreads[side].sd, 2, across, 1, 3);
    print_beside("ellipse for 90 %, m2", a->area_90, b->area_90, 0, &c->area, 1, 3);
    printf("  %-26s%10s%10s%9s\n", "", "", "", "more");
    print_beside("on the fairway, %", 100 * a->fairway.share, 100 * b->fairway.share, 1,
                 &c->fairway, 100, 1);
    print_beside("the same, aimed at it, %", 100 * a->aimed.share, 100 * b->aimed.share, 1,
                 &c->aimed, 100, 1);
}

/* ------------------------------------------------------------------ two setups, every output */

static const char *steadier_word(const caber_output_contrast *c)
{
    return c->steadier == CABER_FIRST_STEADIER   ? "  first"
           : c->steadier == CABER_OTHER_STEADIER ? "  second"
           : c->alike                            ? "  alike"
                                                 : "";
}

static void print_both(size_t output, const scatter_view *view)
{
    const caber_field *f = caber_output_field(output);
    const caber_spread *a = &view->found->clubs[0].spreads[output];
    const caber_spread *b = &view->found->clubs[1].spreads[output];
    const caber_output_contrast *c = &view->found->contrasts->outputs[output];
    const double k = f->factor;
    const int decimals = outputs_spread_decimals(k * fmax(a->sd, b->sd));
    char mean[24], sd[2][24], more[24], half[24], ratio[24] = "-", range[CELL] = "";
    table_number(mean, sizeof mean, k * a->mean, f->decimals);
    table_number(sd[0], sizeof sd[0], k * a->sd, decimals);
    table_number(sd[1], sizeof sd[1], k * b->sd, decimals);
    table_number(more, sizeof more, k * c->difference.value, f->decimals);
    uncertainty_text(half, sizeof half, k * (c->difference.high - c->difference.low) / 2,
                     f->decimals);
    if (isfinite(c->ratio.value)) {
        table_number(ratio, sizeof ratio, c->ratio.value, 3);
        text_range(range, c->ratio.low, c->ratio.high, 3);
    }
    printf("  %-19s %-6s%8s%8s%-11s%8s%8s%7s%s%s%s\n", f->label, f->unit, mean, more, half, sd[0],
           sd[1], ratio, *range ? "  " : "", range, steadier_word(c));
}

static void print_outputs_of_both(const scatter_view *view)
{
    outputs_group groups[OUTPUTS_GROUPS];
    const size_t count = outputs_groups(groups);
    char text[512];
    snprintf(
        text, sizeof text,
        "Of every output: the first setup's mean, how much more the second's is, both sd, the "
        "second's over the first's, and which spreads less, or that they are alike, where that is "
        "told though all %zu outputs were looked at.",
        caber_output_count());
    table_paragraph(text);
    printf("\n  %-19s %-6s%8s%8s%-11s%8s%8s%7s  %-12s  %s\n", "", "", "mean", "more", "", "sd 1",
           "sd 2", "ratio", "", "less");
    for (size_t g = 0; g < count; g++) {
        table_group(groups[g].title);
        for (size_t i = 0; i < groups[g].count; i++)
            print_both(groups[g].item[i], view);
    }
}

void scatter_table(const scatter_view *view)
{
    print_head(view);
    print_intro(view);
    if (view->count > 1)
        print_verdict(view);
    print_habits(view);
    if (view->count > 1)
        print_outputs_of_both(view);
    else
        print_outputs(view);
    for (size_t i = 0; i < view->count; i++)
        print_landing(view, i);
    for (size_t i = 0; i < view->count; i++)
        print_split(view, i);
    print_split_note();
}
