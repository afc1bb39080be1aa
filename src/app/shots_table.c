/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shots_table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "app/table.h"
#include "study/measured.h"

/* How many shots of a rule the text names; the CSV has all. */
enum { NAMED_MOST = 12 };

/* "A", "B"; beyond "Z" the number. */
static const char *letter(size_t b, char text[24])
{
    if (b < 26)
        snprintf(text, 24, "%c", (char)('A' + b));
    else
        snprintf(text, 24, "%zu", b + 1);
    return text;
}

void shots_table_number(int width, double value, int decimals)
{
    char text[40] = "";
    if (isfinite(value))
        table_number(text, sizeof text, value, decimals < 0 ? 3 : decimals);
    printf("%*s", width, text);
}

static void put_label(const shots_output *o, int width)
{
    char text[80];
    snprintf(text, sizeof text, "%s%s%s", o->about->label, o->about->unit[0] ? ", " : "",
             o->about->unit);
    printf("  %-*.*s", width - 2, width - 2, text);
}

/* ------------------------------------------------------------------ batches and cleaning */

static void print_batch(const caber_measured *m, size_t b)
{
    char text[24];
    const caber_batch *own = &m->batches[b];
    size_t last = m->file_count;
    printf("  %-3s", letter(b, text));
    app_print_text(own->name);
    printf(": %zu shot%s", own->count, own->count == 1 ? "" : "s");
    if (own->set_aside)
        printf(", %zu of them set aside", own->set_aside);
    for (size_t i = 0; i < m->count; i++) {
        if (m->shots[i].batch != b || m->shots[i].file == last)
            continue;
        fputs(last == m->file_count ? ", from " : " and ", stdout);
        app_print_text(measured_file(m, i));
        last = m->shots[i].file;
    }
    putchar('\n');
}

static void print_head(const shots_study *s)
{
    const caber_measured *m = s->measured;
    table_title("Measured shots");
    for (size_t b = 0; b < m->batch_count; b++)
        print_batch(m, b);
}

static void print_shot(const caber_measured *m, size_t i, caber_cleaning rule, bool aside)
{
    char why[160];
    const caber_measured_shot *s = &m->shots[i];
    shots_why(m, i, rule, why, sizeof why);
    printf("    %-12s", s->kept        ? "brought back"
                        : aside        ? "set aside"
                        : s->set_aside ? "see above"
                                       : "kept");
    printf(" ");
    app_print_text(measured_file(m, i));
    printf(":%zu", s->line);
    if (why[0])
        printf("  %s", why);
    putchar('\n');
}

static void print_way_back(caber_cleaning rule, bool aside)
{
    if (rule == CABER_CLEAN_BY_HAND)
        puts("    --keep FILE:LINE brings one back.");
    else if (aside)
        printf("    --keep FILE:LINE brings one back, --keep %s all of them.\n",
               shots_rule_word(rule));
    else
        printf(
            "    Kept, only flagged; --set-aside %s sets them aside, --set-aside FILE:LINE one.\n",
            shots_rule_word(rule));
}

static void print_rule(const caber_measured *m, caber_cleaning rule, bool aside)
{
    size_t count = 0;
    for (size_t i = 0; i < m->count; i++)
        count += (m->shots[i].broken & 1u << rule) != 0;
    if (rule == CABER_CLEAN_BY_HAND && !count)
        return;
    printf("  %-11s %zu shot%s: %s\n", shots_rule_word(rule), count, count == 1 ? "" : "s",
           shots_rule_text(rule));
    size_t named = 0;
    for (size_t i = 0; i < m->count && named < NAMED_MOST; i++) {
        if (!(m->shots[i].broken & 1u << rule))
            continue;
        print_shot(m, i, rule, aside);
        named++;
    }
    if (count > named)
        printf("    and %zu more: --csv FILE writes all of them\n", count - named);
    if (count)
        print_way_back(rule, aside);
}

static void print_kept(const caber_measured *m)
{
    bool any = false;
    for (size_t i = 0; i < m->count; i++) {
        if (!m->shots[i].kept)
            continue;
        printf(any ? ", " : "  brought back by --keep: ");
        any = true;
        app_print_text(measured_file(m, i));
        printf(":%zu", m->shots[i].line);
    }
    if (any)
        putchar('\n');
}

static void print_cleaning(const caber_measured *m, unsigned rules)
{
    table_group("Which shots count");
    for (int r = 0; r < CABER_CLEANINGS; r++)
        print_rule(m, (caber_cleaning)r, (rules & 1u << r) != 0);
    print_kept(m);
}

/* ------------------------------------------------------------------ each batch */

static void print_summary(const shots_output *o, size_t b, bool first)
{
    char text[24];
    const batch_summary *sum = &o->summary[b];
    const int places = o->about->decimals;
    if (first)
        put_label(o, 25);
    else
        printf("%25s", "");
    printf("%-3s%7zu", letter(b, text), o->count[b]);
    if (o->count[b]) {
        shots_table_number(10, sum->mean, places);
        shots_table_number(8, (sum->mean_t.high - sum->mean_t.low) / 2, places);
        shots_table_number(9, sum->sd, places);
        shots_table_number(9, sum->sd_interval.low, places);
        shots_table_number(8, sum->sd_interval.high, places);
        shots_table_number(10, sum->median, places);
        shots_table_number(8, o->count[b] > 1 ? sum->mad_sd : (double)NAN, places);
    }
    putchar('\n');
}

static void print_summaries(const shots_study *s)
{
    char title[80];
    snprintf(title, sizeof title, "Each batch; intervals of %.0f %%", 100 * s->settings.level);
    table_group(title);
    printf("%25s%-3s%7s%10s%8s%9s%9s%8s%10s%8s\n", "", "", "shots", "mean", "+-", "sd", "from",
           "to", "median", "robust");
    for (size_t i = 0; i < s->output_count; i++)
        for (size_t b = 0; b < s->measured->batch_count; b++)
            print_summary(&s->outputs[i], b, b == 0);
    puts("robust: a standard deviation that single wild shots do not move (1.4826 MAD).");
}

/* ------------------------------------------------------------------ pairs */

/* One line: what, its value, its interval, how large, and the verdict. */
typedef struct line {
    double value, low, high;
    int decimals;
    const char *size, *verdict; /* size: NULL = there is no such column */
} line;

static void put_line(const line *l)
{
    shots_table_number(9, l->value, l->decimals);
    if (isnan(l->low)) {
        printf("  %s\n", l->verdict);
        return;
    }
    shots_table_number(9, l->low, l->decimals);
    shots_table_number(9, l->high, l->decimals);
    printf("  %-*s%s\n", l->size ? 11 : 0, l->size ? l->size : "", l->verdict);
}

static int places_of(const shots_output *o)
{
    return o->about->decimals < 0 ? 3 : o->about->decimals;
}

static void print_mean(const shots_study *s, const shots_output *o, const shots_pair *p)
{
    char verdict[120];
    shots_verdict(s, &p->stats.means, &p->need_mean, verdict, sizeof verdict);
    put_label(o, 25);
    put_line(&(line){p->stats.difference, p->stats.difference_interval.low,
                     p->stats.difference_interval.high, places_of(o),
                     p->stats.g_reason == BATCH_KNOWN ? batch_effect_text(p->stats.effect) : "",
                     verdict});
    if (!o->has_adjust)
        return;
    printf("%-25s", "    adjusted");
    if (!p->adjusted) {
        printf("           %s\n", o->adjust.why.text[0] ? "not known" : "not told");
        return;
    }
    shots_verdict(s, &p->adjusted->test, NULL, verdict, sizeof verdict);
    put_line(&(line){p->adjusted->difference, p->adjusted->interval.low, p->adjusted->interval.high,
                     places_of(o), "", verdict});
}

static void print_spread(const shots_study *s, const shots_output *o, const shots_pair *p)
{
    char verdict[120];
    shots_verdict(s, &p->stats.spreads, &p->need_spread, verdict, sizeof verdict);
    put_label(o, 25);
    put_line(&(line){p->stats.sd_ratio, p->stats.sd_ratio_interval.low,
                     p->stats.sd_ratio_interval.high, 2, NULL, verdict});
    if (!p->adjusted)
        return;
    printf("%-25s", "    adjusted");
    shots_verdict(s, &p->adjusted->spreads, NULL, verdict, sizeof verdict);
    put_line(&(line){p->adjusted->sd_ratio, p->adjusted->sd_ratio_interval.low,
                     p->adjusted->sd_ratio_interval.high, 2, NULL, verdict});
}

static void print_pair_title(const shots_study *s, const char *what, const char *word,
                             const shots_pair *p, const char *size)
{
    char later[24], earlier[24];
    const caber_measured *m = s->measured;
    printf("\n%s: %s (", what, letter(p->later, later));
    app_print_text(m->batches[p->later].name);
    printf(") %s %s (", word, letter(p->earlier, earlier));
    app_print_text(m->batches[p->earlier].name);
    putchar(')');
    printf("\n%25s%9s%9s%9s  %-*s%s\n", "", *size ? "by" : "ratio", "from", "to", *size ? 11 : 0,
           size, "verdict");
}

static const shots_pair *pair_of(const shots_output *o, size_t later, size_t earlier)
{
    for (size_t k = 0; k < o->pair_count; k++)
        if (o->pairs[k].later == later && o->pairs[k].earlier == earlier)
            return &o->pairs[k];
    return NULL;
}

static void print_pair(const shots_study *s, size_t later, size_t earlier)
{
    for (int spread = 0; spread < 2; spread++) {
        bool titled = false;
        for (size_t i = 0; i < s->output_count; i++) {
            const shots_output *o = &s->outputs[i];
            const shots_pair *p = pair_of(o, later, earlier);
            if (!p)
                continue;
            if (!titled)
                print_pair_title(s, spread ? "Spreads" : "Averages", spread ? "over" : "less", p,
                                 spread ? "" : "size");
            titled = true;
            (spread ? print_spread : print_mean)(s, o, p);
        }
    }
}

static void print_not_adjusted(const shots_output *o)
{
    char text[sizeof o->about->label + sizeof o->adjust.why.text + 32];
    snprintf(text, sizeof text, "%s: not adjusted: %s", o->about->label, o->adjust.why.text);
    table_wrapped(text, 2);
}

static void print_adjusted_note(const shots_study *s)
{
    char text[700];
    size_t used = 0, missing = 0;
    bool any = false;
    for (size_t i = 0; i < s->output_count; i++)
        any = any || s->outputs[i].has_adjust;
    if (!any)
        return;
    int n = snprintf(text, sizeof text, "adjusted: at the same ");
    used = (size_t)n;
    for (size_t k = 0; k < s->covariate_count && used < sizeof text; k++) {
        const bool last = k + 1 == s->covariate_count;
        n = snprintf(text + used, sizeof text - used, "%s%s",
                     k == 0 ? ""
                     : last ? " and "
                            : ", ",
                     s->covariates[k].label);
        used += n > 0 ? (size_t)n : 0;
    }
    if (used < sizeof text)
        snprintf(text + used, sizeof text - used,
                 ", by regression, so that strike and speed do not pass for the shaft. Where the "
                 "shaft itself moves the strike, that part of what it does is taken out too.");
    table_wrapped(text, 0);
    for (size_t i = 0; i < s->output_count; i++) {
        const shots_output *o = &s->outputs[i];
        if (o->has_adjust && o->adjust.why.text[0])
            print_not_adjusted(o);
        missing = o->adjust_missing > missing ? o->adjust_missing : missing;
    }
    if (missing)
        printf("  Without %zu shot%s of which not all of that was measured.\n", missing,
               missing == 1 ? "" : "s");
}

static void print_pairs(const shots_study *s)
{
    const size_t batches = s->measured->batch_count;
    if (batches < 2) {
        puts("\nOne batch: there is nothing to compare it with.");
        return;
    }
    for (size_t i = 0; i < batches; i++)
        for (size_t k = i + 1; k < batches; k++)
            print_pair(s, k, i);
    char text[700];
    snprintf(
        text, sizeof text,
        "told apart: p below %.2g, after Holm's correction for every test made here (averages %zu, "
        "spreads %zu), by Welch's and by Brown and Forsythe's test. A difference that is not told "
        "apart is not shown to be none: the interval says what it may be. Intervals are not "
        "corrected: among many, some leave out \"no difference\" by chance.",
        1 - s->settings.level, s->tests, s->spread_tests);
    putchar('\n');
    table_wrapped(text, 0);
    table_wrapped(
        "more each: how many more shots of each batch would show such a difference four "
        "times in five. It takes the measured one for the true one, so twice or half of it "
        "is no surprise.",
        0);
    print_adjusted_note(s);
}

/* ------------------------------------------------------------------ in short */

/* Which of the tests of a pair tell it apart. */
static bool tells(const shots_study *s, const shots_pair *p, bool spread, bool adjusted)
{
    if (adjusted)
        return p->adjusted && shots_tells(s, spread ? &p->adjusted->spreads : &p->adjusted->test);
    return shots_tells(s, spread ? &p->stats.spreads : &p->stats.means);
}

static void print_found(const shots_output *o, const shots_pair *p, bool spread, bool adjusted)
{
    char later[24], earlier[24];
    const double by = adjusted ? p->adjusted->difference : p->stats.difference;
    letter(p->later, later);
    letter(p->earlier, earlier);
    printf("  %s of %s: %s", spread ? "spread" : "average", o->about->label, later);
    if (spread)
        printf(" %.2f times %s", adjusted ? p->adjusted->sd_ratio : p->stats.sd_ratio, earlier);
    else
        printf(" is %.*f%s%s %s than %s", places_of(o), fabs(by), o->about->unit[0] ? " " : "",
               o->about->unit, by < 0 ? "lower" : "higher", earlier);
}

static size_t print_told(const shots_study *s, bool spread)
{
    size_t told = 0;
    for (size_t i = 0; i < s->output_count; i++)
        for (size_t k = 0; k < s->outputs[i].pair_count; k++) {
            const shots_pair *p = &s->outputs[i].pairs[k];
            const bool plain = tells(s, p, spread, false), adjusted = tells(s, p, spread, true);
            if (!plain && !adjusted)
                continue;
            print_found(&s->outputs[i], p, spread, !plain);
            puts(!p->adjusted ? ""
                 : !plain     ? "; only at the same strike and speed"
                 : adjusted   ? "; at the same strike and speed too"
                              : "; not at the same strike and speed");
            told++;
        }
    return told;
}

static void print_short(const shots_study *s)
{
    if (s->measured->batch_count < 2)
        return;
    table_group("Told apart");
    if (!print_told(s, false))
        puts("  no average: if the setups change one, it is by less than these shots can show");
    if (!print_told(s, true))
        puts("  no spread");
}

app_exit shots_table(const shots_study *s, unsigned rules, const shots_simulated *simulated)
{
    print_head(s);
    print_cleaning(s->measured, rules);
    print_short(s);
    print_summaries(s);
    print_pairs(s);
    shots_simulated_table(simulated, s);
    table_group("Cautions");
    for (size_t i = 0; i < s->caution_count; i++)
        table_wrapped(s->cautions[i], 2);
    table_wrapped("Shots of one player on one day with one device say what they say of these.", 2);
    return APP_FINE;
}
