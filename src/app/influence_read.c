/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A study's file as numbers of its points, one column after the other: of a million cases a few megabytes
 * a column. */
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/influence.h"
#include "base/message.h"

/* Cases that are read at once, as far as whole points allow. */
enum { BLOCK = 65536 };

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

static size_t block_points(const influence_study *s)
{
    const size_t points = BLOCK / s->notes->swings;
    return points ? points : 1;
}

/* ------------------------------------------------------------------ which points count */

/* Points that only count together: a pair of rows with all its parts, a trajectory, or one. */
static size_t group_points(const influence_study *s)
{
    const study_notes *n = s->notes;
    return n->design == DESIGN_SALTELLI ? influence_parts(n->factor_count, n->both)
           : n->design == DESIGN_MORRIS ? n->factor_count + 1
                                        : 1;
}

/* Reads the statuses; run[point] says whether all swings of a point have been tried. */
static caber_status read_status(influence_study *s, bool *run, caber_message *message)
{
    const study_notes *n = s->notes;
    const size_t room = block_points(s);
    int *status = malloc(room * n->swings * sizeof *status);
    caber_status read = status ? CABER_OK : no_memory(message);
    for (size_t point = 0; point < n->points && read == CABER_OK; point += room) {
        const size_t points = n->points - point < room ? n->points - point : room;
        const size_t first = point * n->swings, count = points * n->swings;
        read = store_reader_status(s->reader, first, count, status, message);
        for (size_t i = 0; i < count && read == CABER_OK; i++) {
            const bool tried = status[i] != STORE_NOT_RUN;
            s->good[first + i] = status[i] == CABER_OK;
            if (tried && status[i] != CABER_OK && !s->failed++)
                s->first_failed = first + i;
            s->run += tried;
            run[point + i / n->swings] &= tried;
        }
    }
    free(status);
    return read;
}

/* Of designs whose points are not drawn, some of them are no sample of the whole. */
static caber_status check_finished(const influence_study *s, caber_message *message)
{
    const design_kind kind = s->notes->design;
    const bool whole = kind == DESIGN_GRID || kind == DESIGN_ONE_AT_A_TIME || kind == DESIGN_CASES;
    if (s->run == 0)
        return message_set(message, CABER_BAD_INPUT, "%s: none of its %zu cases has been run",
                           s->asked.path, s->cases);
    if (s->run == s->cases || !whole)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT,
                       "%s: only %zu of its %zu cases have been run, and some points of a design "
                       "'%s' do not stand for all; 'caber sweep --resume' goes on",
                       s->asked.path, s->run, s->cases, design_word(kind));
}

/* Of pairs of rows a regression takes the two independent ones. */
static void choose_points(influence_study *s, const bool *run)
{
    const size_t group = group_points(s);
    const bool pairs = s->notes->design == DESIGN_SALTELLI && s->method == INFLUENCE_REGRESSION;
    const size_t taken = pairs ? 2 : group;
    for (size_t first = 0; first < s->notes->points; first += group) {
        bool all = true;
        for (size_t i = 0; i < group; i++)
            all = all && run[first + i];
        for (size_t i = 0; i < taken && all; i++)
            s->points[s->count++] = first + i;
    }
}

caber_status influence_read_points(influence_study *s, caber_message *message)
{
    const size_t points = s->notes->points;
    s->cases = store_reader_study(s->reader)->cases;
    s->good = malloc(s->cases * sizeof *s->good);
    s->points = malloc(points * sizeof *s->points);
    bool *run = malloc(points * sizeof *run);
    caber_status status = s->good && s->points && run ? CABER_OK : no_memory(message);
    if (status == CABER_OK) {
        memset(run, true, points * sizeof *run);
        status = read_status(s, run, message);
    }
    if (status == CABER_OK)
        status = check_finished(s, message);
    if (status == CABER_OK)
        choose_points(s, run);
    free(run);
    return status;
}

/* ------------------------------------------------------------------ factors */

/* Fills all[points] with the values of a factor, which the swings of a point share. */
static caber_status read_factor(influence_study *s, const char *name, double *all,
                                caber_message *message)
{
    const study_notes *n = s->notes;
    const size_t room = block_points(s);
    double *values = malloc(room * n->swings * sizeof *values);
    caber_status status = values ? CABER_OK : no_memory(message);
    for (size_t point = 0; point < n->points && status == CABER_OK; point += room) {
        const size_t points = n->points - point < room ? n->points - point : room;
        status = store_reader_column(s->reader, name, point * n->swings, points * n->swings, values,
                                     message);
        for (size_t i = 0; i < points && status == CABER_OK; i++)
            all[point + i] = values[i * n->swings];
    }
    free(values);
    return status;
}

static caber_status no_design(const influence_study *s, size_t k, size_t point,
                              caber_message *message)
{
    return message_set(message, CABER_BAD_INPUT,
                       "%s: its root calls its design '%s', and %s at point %zu is not as in one",
                       s->asked.path, design_word(s->notes->design), s->factors[k].about->name,
                       point);
}

/* Whether factor k is what it is to be in all parts of each pair. */
static caber_status check_pairs(const influence_study *s, size_t k, const double *all,
                                caber_message *message)
{
    const size_t parts = group_points(s), factors = s->notes->factor_count;
    for (size_t row = 0; row < s->notes->points / parts; row++) {
        const double *of = all + row * parts;
        for (size_t p = 2; p < parts; p++) {
            const size_t own = (p - 2) / factors; /* 0 of a_i, 1 of b_i */
            const bool exchanged = (p - 2) % factors == k;
            if (of[p] != of[exchanged ? 1 - own : own])
                return no_design(s, k, row * parts + p, message);
        }
    }
    return CABER_OK;
}

/* Whether a factor of morris is even along its values, as files, words, whole numbers and lists of two are.
 * Of those two places may have one value, so that moves differ from half of the levels. */
static bool is_even(const influence_study *s, const influence_factor *f, const double *all)
{
    if (f->about->kind != STUDY_NUMBER || f->about->column->whole)
        return true;
    for (size_t j = 0; j < s->count; j++)
        if (all[s->points[j]] != f->low && all[s->points[j]] != f->high)
            return false;
    return true;
}

/* The coordinates of influence_morris.h but for where they begin: only their changes count, and a value that
 * grows is a coordinate that does, by half of the levels. */
static void fill_coordinates(const influence_study *s, size_t k, const double *all)
{
    const influence_factor *f = &s->factors[k];
    const size_t levels = s->notes->levels, steps = s->notes->factor_count;
    const double half = (double)levels / (2 * (double)(levels - 1));
    const bool even = is_even(s, f, all);
    for (size_t j = 0; j < s->count; j++) {
        double *x = &s->x[j * s->used + k];
        *x = 0;
        if (j % (steps + 1) == 0)
            continue;
        const double change = all[s->points[j]] - all[s->points[j - 1]];
        const double move = change == 0 ? 0
                            : even      ? change / (f->high - f->low)
                                        : copysign(half, change);
        *x = s->x[(j - 1) * s->used + k] + move;
    }
}

static caber_status find_range(const influence_study *s, influence_factor *f, const double *all,
                               caber_message *message)
{
    f->low = INFINITY;
    f->high = -INFINITY;
    for (size_t j = 0; j < s->count; j++) {
        const double value = all[s->points[j]];
        if (!isfinite(value))
            return message_set(message, CABER_BAD_INPUT, "%s: %s has no value at point %zu",
                               s->asked.path, f->about->name, s->points[j]);
        f->low = fmin(f->low, value);
        f->high = fmax(f->high, value);
    }
    return CABER_OK;
}

/* Why a regression is without a factor, or NULL. */
static const char *left_out(const influence_factor *f)
{
    if (f->about->kind == STUDY_CHOICE)
        return "a choice of files has no order";
    if (f->about->kind == STUDY_WORD)
        return "words have no order";
    return f->low < f->high ? NULL : "it does not vary";
}

static caber_status count_used(influence_study *s, caber_message *message)
{
    s->used = 0;
    for (size_t k = 0; k < s->notes->factor_count; k++) {
        influence_factor *f = &s->factors[k];
        f->left_out = s->method == INFLUENCE_REGRESSION ? left_out(f) : NULL;
        if (!f->left_out)
            s->names[s->used++] = f->about->name;
    }
    if (s->used)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT, "%s: no factor is left for a regression: %s: %s",
                       s->asked.path, s->factors[0].about->name, s->factors[0].left_out);
}

/* With every factor's range known, fills what the method needs of their values. */
static caber_status fill_factors(influence_study *s, double *all, caber_message *message)
{
    caber_status status = CABER_OK;
    size_t at = 0;
    if (s->method != INFLUENCE_SOBOL) {
        s->x = malloc((s->count * s->used + 1) * sizeof *s->x);
        if (!s->x)
            return no_memory(message);
    }
    for (size_t k = 0; k < s->notes->factor_count && status == CABER_OK; k++) {
        if (s->factors[k].left_out)
            continue;
        status = read_factor(s, s->factors[k].about->name, all, message);
        if (status == CABER_OK && s->method == INFLUENCE_SOBOL)
            status = check_pairs(s, k, all, message);
        else if (status == CABER_OK && s->method == INFLUENCE_MORRIS)
            fill_coordinates(s, k, all);
        else
            for (size_t j = 0; j < s->count && status == CABER_OK; j++)
                s->x[j * s->used + at] = all[s->points[j]];
        at++;
    }
    return status;
}

caber_status influence_read_factors(influence_study *s, caber_message *message)
{
    const study_notes *n = s->notes;
    double *all = malloc(n->points * sizeof *all);
    s->factors = calloc(n->factor_count, sizeof *s->factors);
    s->names = calloc(n->factor_count, sizeof *s->names);
    caber_status status = all && s->factors && s->names ? CABER_OK : no_memory(message);
    for (size_t k = 0; k < n->factor_count && status == CABER_OK; k++) {
        s->factors[k].about = &n->factors[k];
        status = read_factor(s, n->factors[k].name, all, message);
        if (status == CABER_OK)
            status = find_range(s, &s->factors[k], all, message);
    }
    if (status == CABER_OK)
        status = count_used(s, message);
    if (status == CABER_OK)
        status = fill_factors(s, all, message);
    free(all);
    return status;
}

/* ------------------------------------------------------------------ outputs */

/* Of the swings of a point, which this reorders. */
static double point_value(double *values, size_t swings, bool spread)
{
    const size_t count = resample_keep_numbers(values, swings);
    if (count == 0 || 2 * count < swings || (spread && count < 2))
        return NAN;
    return spread ? gsl_stats_sd(values, 1, count) : gsl_stats_mean(values, 1, count);
}

caber_status influence_read_output(influence_study *s, influence_output *o, double *all,
                                   caber_message *message)
{
    const study_notes *n = s->notes;
    const size_t room = block_points(s);
    double *values = malloc(room * n->swings * sizeof *values);
    caber_status status = values ? CABER_OK : no_memory(message);
    for (size_t point = 0; point < n->points && status == CABER_OK; point += room) {
        const size_t points = n->points - point < room ? n->points - point : room;
        const size_t first = point * n->swings, count = points * n->swings;
        status = store_reader_column(s->reader, o->column->name, first, count, values, message);
        for (size_t i = 0; i < count && status == CABER_OK; i++) {
            if (!s->good[first + i])
                values[i] = NAN; /* counts are there of failed cases too */
            else if (!isfinite(values[i]))
                o->missing++;
        }
        for (size_t i = 0; i < points && status == CABER_OK; i++)
            all[point + i] = point_value(values + i * n->swings, n->swings, s->asked.spread);
    }
    free(values);
    return status;
}
