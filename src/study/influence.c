/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/influence.h"

#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/message.h"

/* What rounding makes of equal numbers, relative to the largest. */
static const double rounding = 1e-12;

size_t influence_parts(size_t factors, bool both)
{
    return 2 + (both ? 2 : 1) * factors;
}

influence_layout influence_layout_by_row(size_t rows, size_t factors, bool both)
{
    return (influence_layout){rows, factors, both, influence_parts(factors, both), 1};
}

influence_layout influence_layout_by_part(size_t rows, size_t factors, bool both)
{
    return (influence_layout){rows, factors, both, 1, rows};
}

bool influence_varies(double sd, double largest)
{
    return sd > rounding * largest;
}

const char *influence_name(const char *const *names, size_t i, char text[32])
{
    if (names)
        return names[i];
    snprintf(text, 32, "%zu", i + 1);
    return text;
}

/* ------------------------------------------------------------------ numbers of a pair */

/* What the statistics are made from. */
typedef struct pairs {
    const influence_layout *layout;
    const double *output;
    double centre; /* taken off every value, so that squares lose no digits */
    size_t count;
    size_t *row; /* [count], the rows that count */
} pairs;

static double value_of(const pairs *p, size_t row, size_t part)
{
    const influence_layout *at = p->layout;
    return p->output[row * at->row_step + part * at->part_step] - p->centre;
}

/* Numbers of a pair with a_i only: those that all factors share, then each factor's. */
enum { SHARED = 5, EACH = 4, EACH_BOTH = 3 };

static void numbers_one(void *user, size_t index, double *numbers)
{
    const pairs *p = user;
    const size_t row = p->row[index];
    const double a = value_of(p, row, 0), b = value_of(p, row, 1);
    const double shared[SHARED] = {a, b, a * a, b * b, a * b};
    for (int i = 0; i < SHARED; i++)
        numbers[i] = shared[i];
    for (size_t i = 0; i < p->layout->factors; i++) {
        const double u = value_of(p, row, 2 + i);
        double *n = numbers + SHARED + EACH * i;
        n[0] = u;
        n[1] = u * u;
        n[2] = a * u;
        n[3] = b * u;
    }
}

static double positive(double x)
{
    return x > 0 ? x : (double)NAN;
}

static double within(double x, double most)
{
    return fmin(fmax(x, 0), most);
}

/* S_i and T_i of all factors, and the sum of the S_i. */
static void statistics_one(void *user, const double *mean, double *out)
{
    const pairs *p = user;
    const double a = mean[0], b = mean[1], aa = mean[2], bb = mean[3], ab = mean[4];
    double sum = 0;
    for (size_t i = 0; i < p->layout->factors; i++) {
        const double *m = mean + SHARED + EACH * i;
        const double u = m[0], uu = m[1], au = m[2], bu = m[3], chance = ab - a * b;
        const double var_au = positive(aa - a * a + uu - u * u) / 2;
        const double var_bu = positive(bb - b * b + uu - u * u) / 2;
        const double jansen = (aa - 2 * au + uu) / (2 * var_au);
        const double first = (bu - b * u - within(1 - jansen, 1) * chance) / var_bu;
        out[2 * i] = first;
        out[2 * i + 1] = jansen + within(first, fmin(jansen, 1)) * chance / var_au;
        sum += first;
    }
    out[2 * p->layout->factors] = sum;
}

static void numbers_both(void *user, size_t index, double *numbers)
{
    const pairs *p = user;
    const size_t row = p->row[index], k = p->layout->factors;
    const double a = value_of(p, row, 0), b = value_of(p, row, 1);
    for (size_t i = 0; i < k; i++) {
        const double ai = value_of(p, row, 2 + i), bi = value_of(p, row, 2 + k + i);
        double *n = numbers + EACH_BOTH * i;
        n[0] = (bi - b) * (a - ai);
        n[1] = (b - bi) * (b - bi) + (a - ai) * (a - ai);
        n[2] = (a - b) * (a - b) + (bi - ai) * (bi - ai);
    }
}

static void statistics_both(void *user, const double *mean, double *out)
{
    const pairs *p = user;
    double sum = 0;
    for (size_t i = 0; i < p->layout->factors; i++) {
        const double *m = mean + EACH_BOTH * i, whole = positive(m[2]);
        out[2 * i] = 2 * m[0] / whole;
        out[2 * i + 1] = m[1] / whole;
        sum += out[2 * i];
    }
    out[2 * p->layout->factors] = sum;
}

/* ------------------------------------------------------------------ which pairs count */

static bool is_whole(const pairs *p, size_t row)
{
    const size_t parts = influence_parts(p->layout->factors, p->layout->both);
    for (size_t part = 0; part < parts; part++)
        if (!isfinite(value_of(p, row, part)))
            return false;
    return true;
}

static caber_status choose_pairs(pairs *p, caber_message *message)
{
    p->row = malloc((p->layout->rows + 1) * sizeof *p->row);
    if (!p->row)
        return message_set(message, CABER_NO_MEMORY, "out of memory for indices");
    for (size_t row = 0; row < p->layout->rows; row++)
        if (is_whole(p, row))
            p->row[p->count++] = row;
    if (p->count >= INFLUENCE_ROWS_LEAST)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT,
                       "%zu of %zu base rows are without a failed case: Sobol indices need %d",
                       p->count, p->layout->rows, INFLUENCE_ROWS_LEAST);
}

/* Mean and standard deviation over a and b. */
static caber_status spread_of(pairs *p, influence_sobol *out, caber_message *message)
{
    const size_t count = 2 * p->count;
    double *x = malloc(count * sizeof *x), largest = 0;
    if (!x)
        return message_set(message, CABER_NO_MEMORY, "out of memory for indices");
    for (size_t i = 0; i < count; i++) {
        x[i] = value_of(p, p->row[i / 2], i % 2);
        largest = fmax(largest, fabs(x[i]));
    }
    out->mean = gsl_stats_mean(x, 1, count);
    out->sd = gsl_stats_sd_m(x, 1, count, out->mean);
    out->constant = !influence_varies(out->sd, largest);
    free(x);
    return CABER_OK;
}

/* ------------------------------------------------------------------ the indices */

static caber_status indices_of(pairs *p, const resample_settings *settings, influence_sobol *out,
                               caber_message *message)
{
    const size_t k = p->layout->factors;
    const bool both = p->layout->both;
    const resample_problem problem = {.rows = p->count,
                                      .width = both ? EACH_BOTH * k : SHARED + EACH * k,
                                      .count = 2 * k + 1,
                                      .row = both ? numbers_both : numbers_one,
                                      .statistics = both ? statistics_both : statistics_one,
                                      .user = p};
    resample_range *found = calloc(problem.count, sizeof *found);
    if (!found)
        return message_set(message, CABER_NO_MEMORY, "out of memory for indices");
    const caber_status status = resample_run(&problem, settings, found, message);
    for (size_t i = 0; status == CABER_OK && i < k; i++)
        out->index[i] = (influence_index){found[2 * i], found[2 * i + 1]};
    out->sum = found[2 * k];
    free(found);
    return status;
}

static caber_status run(pairs *p, const resample_settings *settings, influence_sobol *out,
                        caber_message *message)
{
    caber_status status = choose_pairs(p, message);
    if (status == CABER_OK)
        status = spread_of(p, out, message);
    if (status != CABER_OK)
        return status;
    out->rows = p->count;
    out->dropped = p->layout->rows - p->count;
    p->centre = out->mean;
    return out->constant ? message_clear(message) : indices_of(p, settings, out, message);
}

caber_status influence_sobol_run(const influence_layout *layout, const double *output,
                                 const resample_settings *settings, influence_sobol **out,
                                 caber_message *message)
{
    *out = NULL;
    if (layout->factors == 0)
        return message_set(message, CABER_BAD_INPUT, "there are no factors");
    influence_sobol *found = calloc(1, sizeof *found);
    if (found)
        found->index = calloc(layout->factors, sizeof *found->index);
    if (!found || !found->index) {
        influence_sobol_free(found);
        return message_set(message, CABER_NO_MEMORY, "out of memory for indices");
    }
    found->count = layout->factors;
    pairs p = {.layout = layout, .output = output};
    const caber_status status = run(&p, settings, found, message);
    free(p.row);
    if (status == CABER_OK)
        *out = found;
    else
        influence_sobol_free(found);
    return status;
}

void influence_sobol_free(influence_sobol *sobol)
{
    if (!sobol)
        return;
    free(sobol->index);
    free(sobol);
}
