/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "shaft/fit.h"

/* Readings that one mistake would spoil together. */
enum { ALONE, LOAD, PLACE, TABLE };
typedef struct suspect {
    int extent;   /* how far the mistake would go */
    size_t first; /* one of its readings */
    size_t count;
    double scatter; /* of the others, in their stated errors; NAN when they tell nothing */
    double ratio;   /* what they read over what the others lead to expect, geometric mean */
} suspect;

/* Beside the furthest readings, each alone: most of the suspects looked at. */
enum { FURTHEST = 3, SUSPECTS = 60 };
/* Suspects without which the others agree this much worse than without another are as likely. */
static const double alike = 1.3;

static bool is_whole(const caber_reading *r)
{
    return r->kind == CABER_READ_MASS || r->kind == CABER_READ_BALANCE;
}

/* The clamp's place, which readings on it share; of a span its length. */
static double place_of(const caber_reading *r)
{
    return r->kind == CABER_READ_SPAN ? r->held_at - r->rest_at : r->held_at;
}

static bool belongs(const caber_readings *all, const suspect *s, size_t index)
{
    const caber_reading *a = &all->items[s->first], *b = &all->items[index];
    if (s->extent == ALONE || is_whole(a))
        return index == s->first;
    return a->kind == b->kind && strcmp(a->source, b->source) == 0 &&
           (s->extent != LOAD || a->load == b->load) &&
           (s->extent != PLACE || fabs(place_of(a) - place_of(b)) < 1e-9);
}

/* ------------------------------------------------------------------ without a suspect */

/* Of the readings used by what they are predicted at the solution x, in their stated errors. */
static double scatter_of(fit_problem *m, const gsl_vector *x)
{
    gsl_matrix *c = gsl_matrix_alloc(m->unknowns, m->unknowns);
    double *hat = calloc(m->readings->count, sizeof *hat), chi_square = 0, parameters = 0;
    const bool good = c && hat && fit_covariance(m, x, c, hat) == CABER_OK;
    for (size_t i = 0; good && i < m->readings->count; i++) {
        const caber_reading *r = &m->readings->items[i];
        if (r->left_out)
            continue;
        chi_square += pow((m->predicted[i] - r->value) / m->sigma[i], 2);
        parameters += hat[i];
    }
    free(hat);
    if (c)
        gsl_matrix_free(c);
    /* Where nearly every reading has a parameter of its own, they agree whatever they are. */
    const double freedom = (double)m->used - parameters;
    return good && freedom >= 3 ? sqrt(chi_square / freedom) : (double)NAN;
}

/* Fits the readings but for those of the suspect, which are marked in `others`. */
static void fit_others(caber_readings *others, suspect *s)
{
    fit_problem m = {0};
    caber_message ignored;
    gsl_vector *x = NULL;
    double sum = 0;
    s->scatter = NAN;
    if (fit_problem_create(&m, others, &ignored) && (x = gsl_vector_alloc(m.unknowns)) != NULL &&
        fit_solve(&m, x) == CABER_OK)
        s->scatter = scatter_of(&m, x);
    for (size_t i = 0; !isnan(s->scatter) && i < others->count; i++)
        if (belongs(others, s, i))
            sum += log(others->items[i].value / m.predicted[i]);
    s->ratio = exp(sum / (double)s->count);
    if (x)
        gsl_vector_free(x);
    fit_problem_free(&m);
}

/* False when there is no memory. */
static bool try_without(const caber_readings *all, suspect *s)
{
    caber_readings others = *all;
    others.items = malloc(all->count * sizeof *others.items);
    if (!others.items)
        return false;
    memcpy(others.items, all->items, all->count * sizeof *others.items);
    for (size_t i = 0; i < all->count; i++)
        if (belongs(all, s, i))
            others.items[i].left_out = true;
    fit_others(&others, s);
    free(others.items);
    return true;
}

/* ------------------------------------------------------------------ suspects */

static size_t count_used(const caber_readings *all, const suspect *s)
{
    size_t n = 0;
    for (size_t i = 0; i < all->count; i++)
        n += !all->items[i].left_out && belongs(all, s, i);
    return n;
}

/* Adds a suspect unless its readings are all those of one that is there, or it shares nothing with any. */
static void add_suspect(const caber_readings *all, suspect *list, size_t *count, int extent,
                        size_t first)
{
    suspect s = {.extent = extent, .first = first};
    s.count = count_used(all, &s);
    if ((extent == LOAD || extent == PLACE) && s.count < 2)
        return;
    for (size_t i = 0; i < *count; i++)
        if (list[i].count == s.count && belongs(all, &list[i], first))
            return;
    if (*count < SUSPECTS)
        list[(*count)++] = s;
}

/* The readings furthest off, the whole tables, then what in a table shares a load or a place. */
static size_t find_suspects(const caber_readings *all, const caber_residual *residual,
                            suspect list[SUSPECTS])
{
    size_t count = 0;
    double below = HUGE_VAL;
    for (int k = 0; residual && k < FURTHEST; k++) {
        size_t best = all->count;
        for (size_t i = 0; i < all->count; i++) {
            const double off = fabs(residual[i].sigmas);
            if (!all->items[i].left_out && off < below &&
                (best == all->count || off > fabs(residual[best].sigmas)))
                best = i;
        }
        if (best == all->count)
            break;
        below = fabs(residual[best].sigmas);
        add_suspect(all, list, &count, ALONE, best);
    }
    static const int extents[3] = {TABLE, LOAD, PLACE};
    for (int k = 0; k < 3; k++)
        for (size_t i = 0; i < all->count; i++)
            if (!all->items[i].left_out)
                add_suspect(all, list, &count, is_whole(&all->items[i]) ? ALONE : extents[k], i);
    return count;
}

/* The fewest readings without which the others agree about as well as they can; the best of these. */
static const suspect *worst_of(const suspect *list, size_t count, double least)
{
    const suspect *worst = NULL;
    for (size_t i = 0; i < count; i++) {
        const suspect *s = &list[i];
        if (s->scatter <= alike * least &&
            (!worst || s->count < worst->count ||
             (s->count == worst->count && s->scatter < worst->scatter)))
            worst = s;
    }
    return worst;
}

/* ------------------------------------------------------------------ what is said */

/* Whose readings, as far as the mistake goes. */
static void describe_which(const caber_readings *all, const suspect *s, char *text, size_t size)
{
    /* Word, unit and factor of what loads a jig. */
    static const struct {
        const char *word, *unit;
        double factor;
    } load[CABER_READ_KINDS] = {[CABER_READ_SPAN] = {"load", "N", 1},
                                [CABER_READ_CANTILEVER] = {"load", "N", 1},
                                [CABER_READ_FREQUENCY] = {"tip mass", "g", 1e3},
                                [CABER_READ_TWIST] = {"couple", "N m", 1}};
    const caber_reading *r = &all->items[s->first];
    if (is_whole(r))
        snprintf(text, size, "the %s", r->kind == CABER_READ_MASS ? "mass" : "balance point");
    else if (s->extent == ALONE)
        reading_title(all, s->first, text, size);
    else if (s->extent == TABLE)
        snprintf(text, size, "the %zu readings of %s", s->count, r->source);
    else if (s->extent == LOAD)
        snprintf(text, size, "the %zu readings of %s with a %s of %.6g %s", s->count, r->source,
                 load[r->kind].word, load[r->kind].factor * r->load, load[r->kind].unit);
    else
        snprintf(text, size, "the %zu readings of %s with %s %.6g mm", s->count, r->source,
                 r->kind == CABER_READ_SPAN ? "a span of" : "the clamp at", 1e3 * place_of(r));
}

static void describe(const caber_readings *all, const suspect *s, char *text, size_t size)
{
    static const char *const check[CABER_READ_KINDS] = {
        [CABER_READ_SPAN] = "load, span and zero",
        [CABER_READ_CANTILEVER] = "load, clamp and zero",
        [CABER_READ_FREQUENCY] = "tip mass and clamp",
        [CABER_READ_TWIST] = "couple, clamp and lever",
        [CABER_READ_MASS] = "the scale's zero, and what else lay on it",
        [CABER_READ_BALANCE] = "that it was measured from the tip"};
    char which[2 * CABER_NAME_SIZE + 60];
    describe_which(all, s, which, sizeof which);
    snprintf(text, size,
             "%s, which %s %.3g times what the others lead to expect, the others scatter by %.1f "
             "times theirs: check %s",
             which, s->count == 1 ? "reads" : "read", s->ratio, s->scatter,
             check[all->items[s->first].kind]);
}

/* Mass and balance, when nothing but many numbers can be wrong, are no help. */
static void furthest(const caber_readings *all, const caber_residual *residual, char *text,
                     size_t size)
{
    size_t best = all->count;
    for (size_t i = 0; residual && i < all->count; i++)
        if (!all->items[i].left_out && !is_whole(&all->items[i]) &&
            (best == all->count || fabs(residual[i].sigmas) > fabs(residual[best].sigmas)))
            best = i;
    text[0] = '\0';
    if (best == all->count)
        return;
    char title[2 * CABER_NAME_SIZE];
    reading_title(all, best, title, sizeof title);
    snprintf(text, size, ". Furthest off is %s (%+.1f sigma)", title, residual[best].sigmas);
}

caber_status fit_conflict(const caber_readings *all, const caber_residual *residual, double scatter,
                          double allowed, caber_message *message)
{
    suspect list[SUSPECTS];
    const size_t count = find_suspects(all, residual, list);
    double least = HUGE_VAL;
    for (size_t i = 0; i < count; i++) {
        if (!try_without(all, &list[i]))
            return message_set(message, CABER_NO_MEMORY, "out of memory for the profile");
        least = fmin(least, list[i].scatter);
    }
    char text[700], how[80] = "no profile follows them";
    if (!isnan(scatter))
        snprintf(how, sizeof how,
                 "they scatter by %.1f times their stated errors about the best profile", scatter);
    const suspect *worst = worst_of(list, count, least);
    if (worst && worst->scatter <= allowed) {
        describe(all, worst, text, sizeof text);
        return message_set(message, CABER_BAD_INPUT,
                           "the readings contradict each other: %s. Without %s", how, text);
    }
    furthest(all, residual, text, sizeof text);
    return message_set(message, CABER_BAD_INPUT,
                       "the readings contradict each other: %s, and without no one table or "
                       "reading do the others agree%s. Check the loads, spans and clamps",
                       how, text);
}
