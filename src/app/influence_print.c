/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What caber influence prints: the study, how it was analysed, which values the factors took, and a table an
 * output. */
#include <stdio.h>
#include <string.h>

#include "app/influence.h"
#include "app/table.h"
#include "base/text.h"

/* The width of what a factor took, and of its path behind it. */
enum { LINE = 1200, VALUES = 28, PATH = 32 };

static void print_design(const influence_study *s)
{
    const study_notes *n = s->notes;
    printf("  %s", n->design == DESIGN_CASES ? "listed cases" : design_word(n->design));
    if (n->design == DESIGN_SALTELLI)
        printf(", %zu rows%s", n->rows, n->both ? " exchanged both ways" : "");
    if (n->design == DESIGN_MORRIS)
        printf(", %zu trajectories, %zu levels", n->trajectories, n->levels);
    printf(", %zu point%s", n->points, n->points == 1 ? "" : "s");
    if (n->replicates)
        printf(" of %zu swing%s each", n->swings, n->swings == 1 ? "" : "s");
    printf("; %zu factor%s\n", n->factor_count, n->factor_count == 1 ? "" : "s");
}

/* What the numbers are, and of what. */
static void print_method(const influence_study *s)
{
    static const char *const says[] = {
        "Shares of the variance of each output. First: the share that would go if the factor alone "
        "were known. Total: the share that would stay if all others were known. A total above its "
        "first order is what the factor does together with others.",
        "Elementary effects: each factor is moved while the others stay, from many places. An "
        "effect is the change of the output were the factor to go through its whole range: mu* is "
        "their mean size, mu their mean, sigma their scatter. Straight: sigma is at most a tenth "
        "of mu*. One way: they differ in size, and none in sign. Where they differ, the output is "
        "bent in the factor, or others change what it does.",
        "Regression: how far each output follows the factors along a straight line. A slope says "
        "by how many standard deviations the output goes up with one of the factor."};
    char text[LINE];
    const char *what = says[s->method];
    if (s->method == INFLUENCE_REGRESSION && s->asked.ranked)
        what = "Regression in ranks: how steadily each output rises or falls with the factors, be "
               "it along a straight line or not. A slope says by how many standard deviations of "
               "its rank the output goes up with one of the factor's.";
    snprintf(text, sizeof text, "%s%s", what,
             s->asked.spread ? " Each output is here the standard deviation of the swings of a "
                               "point: what makes them scatter."
             : s->notes->swings > 1 ? " Each output is the mean of the swings of a point."
                                    : "");
    table_paragraph(text);
    snprintf(
        text, sizeof text,
        "The intervals are to hold the truth in %.4g %% of studies like this one (bootstrap, "
        "%zu draws, seed %llu); with few rows it is a little less. All of it is of this setup, "
        "and of factors in these ranges:",
        100 * s->asked.how.level, s->asked.how.draws, (unsigned long long)s->asked.how.seed);
    table_paragraph(text);
}

/* ------------------------------------------------------------------ factors */

static const char *file_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* The words or files that a factor took. */
static void list_words(const influence_factor *f, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = (size_t)f->low; i <= (size_t)f->high && used < size; i++) {
        const char *word = study_factor_word(f->about, (double)i);
        const int n = snprintf(text + used, size - used, "%s%s", used ? ", " : "",
                               word ? file_name(word) : "?");
        used += n > 0 ? (size_t)n : 0;
    }
}

static void print_factor(const influence_factor *f)
{
    char name[INFLUENCE_NAME_SIZE], text[400];
    const char *unit = f->about->column->units;
    const size_t letters = influence_name_clip(f->about->name, name);
    if (f->about->words && f->low >= 0 && f->high < (double)f->about->word_count)
        list_words(f, text, sizeof text);
    else
        snprintf(text, sizeof text, "%.5g to %.5g%s%.40s", f->low, f->high,
                 strcmp(unit, "1") != 0 ? " " : "", strcmp(unit, "1") != 0 ? unit : "");
    printf("  ");
    app_print_text(name);
    printf("%*s  ", (int)(INFLUENCE_NAME_WIDTH - letters), "");
    char clip[TEXT_CLIP_SIZE];
    const bool beside = strlen(text) <= VALUES && strlen(f->about->path) <= PATH;
    app_print_text(strlen(text) <= VALUES + PATH ? text : text_clip(text, clip));
    if (beside) {
        printf("%*s  ", (int)(VALUES - strlen(text)), "");
        app_print_text(f->about->path);
    }
    putchar('\n');
}

static void print_factors(const influence_study *s)
{
    char text[LINE] = "Left out of the regression: ";
    bool any = false;
    putchar('\n');
    for (size_t k = 0; k < s->notes->factor_count; k++)
        print_factor(&s->factors[k]);
    for (size_t k = 0; k < s->notes->factor_count; k++) {
        const influence_factor *f = &s->factors[k];
        const size_t used = strlen(text);
        if (f->left_out)
            snprintf(text + used, sizeof text - used, "%s%s (%s)", any ? ", " : "", f->about->name,
                     f->left_out);
        any = any || f->left_out;
    }
    if (any)
        table_paragraph(strcat(text, "."));
}

/* ------------------------------------------------------------------ outputs */

static bool print_output(const influence_output *o)
{
    char text[LINE];
    putchar('\n');
    if (o->sobol)
        return influence_table_sobol(&o->view, o->sobol);
    if (o->morris)
        return influence_table_morris(&o->view, o->morris);
    if (o->regression)
        return influence_table_regression(&o->view, o->regression);
    table_title(o->label);
    snprintf(text, sizeof text, "Nothing can be said of it: %s.", o->why.text);
    table_wrapped(text, 2);
    return true;
}

bool influence_print(const influence_study *s)
{
    char title[CABER_NAME_SIZE + 64];
    snprintf(title, sizeof title, "%.*s: what drives what", CABER_NAME_SIZE,
             s->notes->title[0] ? s->notes->title : "A study");
    table_title(title);
    print_design(s);
    putchar('\n');
    app_print_cautions();
    print_method(s);
    print_factors(s);
    bool good = true;
    for (size_t i = 0; i < s->output_count && good; i++)
        good = print_output(&s->outputs[i]);
    return good;
}
