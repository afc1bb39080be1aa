/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What caber compare prints: in short what a fitter looks at first, then every output, that which changed
 * most first. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "app/compare.h"
#include "app/outputs.h"
#include "app/table.h"

enum { WORDS = 64 };

/* ------------------------------------------------------------------ whose it is */

static void print_head(const compare_view *view)
{
    char title[GIVEN_NAME_SIZE + 32];
    if (view->count == 2)
        snprintf(title, sizeof title, "%s and another", view->names[0]);
    else
        snprintf(title, sizeof title, "%s and %zu others", view->names[0], view->count - 1);
    table_title(title);
    given_print_setups((const caber_setup *const *)view->setups, view->names, view->count);
    putchar('\n');
    app_print_cautions();
}

static void print_intro(const compare_view *view)
{
    const caber_comparison *c = view->found;
    char text[sizeof(caber_message) + 512];
    table_paragraph(c->settings.keep == CABER_KEEP_LOAD
                        ? "Each setup is swung with the torques that its player's file has."
                        : "The player re-tunes the swing to every club: head speed and handle lean "
                          "at impact are those with setup 1.");
    if (!given_same_player((const caber_setup *const *)view->setups, view->count))
        table_paragraph("The players differ: so the differences are of players and clubs together. "
                        "--set player=FILE gives all setups the same one.");
    if (c->spread_known)
        snprintf(text, sizeof text,
                 "Beside each difference stands what the player's swings vary by: the standard "
                 "deviation (sd) of that output over %zu swings with setup 1 (seed %d), drawn from "
                 "the habits in the player's file. A difference of less than one sd is hidden by "
                 "what one swing differs from the next; it shows in the mean of many.",
                 c->draws.count - c->draws.failed, c->settings.seed);
    else
        snprintf(
            text, sizeof text,
            "There is no spread to hold the differences against: %s. They stand in per cent of "
            "the larger of the two values.",
            c->no_spread.text);
    table_paragraph(text);
}

static void print_retuning(const compare_view *view)
{
    if (view->found->settings.keep != CABER_KEEP_DELIVERY)
        return;
    table_group("What the player changes");
    for (size_t i = 1; i < view->count; i++) {
        const caber_retuning *r = &view->found->setups[i].retuning;
        printf("  %zu  peak torque of the shoulders %+.2f %%, release %.2f ms %s\n", i + 1,
               100 * (r->scale - 1), 1e3 * fabs(r->shift), r->shift < 0 ? "earlier" : "later");
    }
}

static void print_unflown(const compare_view *view)
{
    char text[sizeof(caber_message) + GIVEN_NAME_SIZE + 64];
    for (size_t i = 0; i < view->count; i++) {
        if (view->found->setups[i].outcome.flies)
            continue;
        snprintf(text, sizeof text, "No flight of the ball of %s: %s.", view->names[i],
                 view->found->setups[i].why.text);
        table_paragraph(text);
    }
}

/* ------------------------------------------------------------------ in words */

/* How a difference stands to what swings vary by. */
static void words_of(char text[WORDS], const compare_view *view, double times)
{
    const double size = fabs(times);
    if (times == 0)
        snprintf(text, WORDS, "none");
    else if (!view->found->spread_known)
        snprintf(text, WORDS, size < 0.001 ? "under 0.1 %%" : "%.1f %%", 100 * size);
    else if (isinf(size))
        snprintf(text, WORDS, "swings do not vary");
    else if (size < 0.1)
        snprintf(text, WORDS, "less than a tenth");
    else if (size < 0.5)
        snprintf(text, WORDS, "less than half");
    else if (size < 0.8)
        snprintf(text, WORDS, "more than half");
    else if (size < 1.25)
        snprintf(text, WORDS, "about as much");
    else
        snprintf(text, WORDS, size < 9.95 ? "%.1f times" : "%.0f times", size);
}

/* What follows such words in a sentence. */
static const char *words_end(const compare_view *view, double times)
{
    const double size = fabs(times);
    if (!view->found->spread_known || times == 0 || isinf(size))
        return "";
    return size < 0.8    ? " of what the player's swings vary by"
           : size < 1.25 ? " as the player's swings vary by"
                         : " what the player's swings vary by";
}

/* A sentence about a key output. */
static void print_short(const compare_view *view, size_t output, size_t setup)
{
    const caber_field *f = caber_output_field(output);
    const caber_change_of_output *o = &view->found->outputs[output];
    char title[OUTPUTS_TITLE_SIZE], number[32], more[40], words[WORDS];
    outputs_title(output, title);
    words_of(words, view, o->times[setup]);
    table_number(number, sizeof number, f->factor * o->difference[setup], f->decimals);
    snprintf(more, sizeof more, "%s%s",
             strspn(number, "-0.") == strlen(number) || *number == '-' ? "" : "+", number);
    printf("  %-19s%9s %-5s  %s%s\n", title, more, f->unit, words,
           words_end(view, o->times[setup]));
}

/* The key outputs that differ, that which changed most first; returns how many there are. */
static size_t keys_by_change(const compare_view *view, size_t setup, size_t keys[OUTPUTS_KEYS])
{
    size_t all[OUTPUTS_KEYS], n = 0;
    outputs_keys(all);
    for (int k = 0; k < OUTPUTS_KEYS; k++) {
        const double times = fabs(view->found->outputs[all[k]].times[setup]);
        if (!(times > 0)) /* nothing is to be said of what is the same */
            continue;
        size_t at = n++;
        for (; at > 0 && fabs(view->found->outputs[keys[at - 1]].times[setup]) < times; at--)
            keys[at] = keys[at - 1];
        keys[at] = all[k];
    }
    return n;
}

static void print_in_short(const compare_view *view)
{
    enum { FEW = 4 };
    size_t keys[OUTPUTS_KEYS];
    char title[2 * GIVEN_NAME_SIZE + 64];
    for (size_t setup = 1; setup < view->count; setup++) {
        snprintf(title, sizeof title, "In short: %s beside %s", view->names[setup], view->names[0]);
        table_group(title);
        const size_t n = keys_by_change(view, setup, keys);
        for (size_t k = 0; k < n && (view->count == 2 || k < FEW); k++)
            print_short(view, keys[k], setup);
        if (n == 0)
            puts("  no difference");
    }
}

/* ------------------------------------------------------------------ every output */

/* Blank where there is no number. */
static void number_or_blank(char *text, size_t size, double value, int decimals)
{
    *text = '\0';
    if (!isnan(value))
        table_number(text, size, value, decimals);
}

/* A difference is shown with the decimals of its output, or more, so that it does not read as 0. */
static int difference_decimals(const caber_field *f, double printed)
{
    const double size = fabs(printed);
    if (!(size > 0) || size >= 0.5 * pow(10, -f->decimals))
        return f->decimals;
    return f->decimals + 1;
}

static void print_label(size_t output)
{
    char title[OUTPUTS_TITLE_SIZE];
    outputs_title(output, title);
    printf("  %-31s %-6s", title, caber_output_field(output)->unit);
}

static void print_sd(const compare_view *view, size_t output)
{
    char sd[32] = "";
    const double printed = outputs_printed(output, view->found->outputs[output].sd);
    number_or_blank(sd, sizeof sd, printed, outputs_spread_decimals(printed));
    printf("%9s", sd);
}

static void print_pair(const compare_view *view, size_t output)
{
    const caber_field *f = caber_output_field(output);
    const caber_change_of_output *o = &view->found->outputs[output];
    char value[2][32], more[32], words[WORDS] = "";
    for (size_t i = 0; i < 2; i++)
        number_or_blank(value[i], sizeof value[i],
                        f->factor * caber_outcome_number(&view->found->setups[i].outcome, output),
                        f->decimals);
    const double printed = f->factor * o->difference[1];
    number_or_blank(more, sizeof more, printed, difference_decimals(f, printed));
    if (!isnan(printed))
        words_of(words, view, o->times[1]);
    print_label(output);
    printf("%9s%9s%9s", value[0], value[1], more);
    if (view->found->spread_known)
        print_sd(view, output);
    printf("%s%s\n", *words ? "  " : "", words);
}

static void print_pairs(const compare_view *view)
{
    table_group("Every output, that which changed most first");
    printf("  %-31s %-6s%9s%9s%9s%s\n", "", "", "1", "2", "2 less 1",
           view->found->spread_known ? "       sd  beside the sd" : "  of the larger");
    for (size_t i = 0; i < caber_output_count(); i++)
        print_pair(view, view->found->order[i]);
}

/* Differences of all setups, in the unit of the output or in sd. */
static void print_differences(const compare_view *view, size_t output, bool in_sd)
{
    const caber_field *f = caber_output_field(output);
    const caber_change_of_output *o = &view->found->outputs[output];
    char number[32];
    print_label(output);
    number_or_blank(number, sizeof number,
                    f->factor * caber_outcome_number(&view->found->setups[0].outcome, output),
                    f->decimals);
    printf("%9s", number);
    for (size_t i = 1; i < view->count; i++) {
        const double printed = f->factor * o->difference[i];
        if (in_sd && isinf(o->times[i]))
            snprintf(number, sizeof number, "-");
        else if (in_sd)
            number_or_blank(number, sizeof number,
                            o->times[i] * (view->found->spread_known ? 1 : 100), 2);
        else
            number_or_blank(number, sizeof number, printed, difference_decimals(f, printed));
        printf("%9s", number);
    }
    putchar('\n');
}

static void print_columns(const compare_view *view, const char *title, bool in_sd)
{
    table_group(title);
    printf("  %-31s %-6s%9s", "", "", "1");
    for (size_t i = 1; i < view->count; i++)
        printf("%2s%zu less 1", "", i + 1);
    putchar('\n');
    for (size_t i = 0; i < caber_output_count(); i++)
        print_differences(view, view->found->order[i], in_sd);
}

void compare_table(const compare_view *view)
{
    print_head(view);
    print_intro(view);
    print_retuning(view);
    print_unflown(view);
    print_in_short(view);
    if (view->count == 2) {
        print_pairs(view);
        return;
    }
    print_columns(view, "Every output, that which changed most first", false);
    print_columns(view,
                  view->found->spread_known
                      ? "The differences as multiples of what the player's swings vary by (sd)"
                      : "The differences in per cent of the larger of the two values",
                  true);
}
