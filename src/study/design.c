/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/design.h"

#include <gsl/gsl_qrng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/random.h"
#include "study/influence_morris.h"

struct design {
    design_settings how;
    const factor *factors;
    size_t count, cases;
    double *base;      /* [count] or NULL; owned */
    double *cells;     /* [how.cases][width] of sequences and given cases, or NULL; owned */
    uint32_t *stratum; /* [count][how.cases] of a latin hypercube, or NULL; owned */
};

/* Streams of random numbers; each has room for the factors. A Morris design counts its streams from 0 on,
 * so it has a seed of its own instead, above any of a file. */
static const uint64_t stream_rows = (uint64_t)1 << 62, seed_morris = (uint64_t)1 << 62;
enum { STREAM_STRATUM, STREAM_WITHIN, STREAM_SHIFT, STREAM_ROWS };

/* Stream `what` of column c: of the rows c is the case instead, in a block of its own. */
static uint64_t stream_of(int what, size_t c)
{
    return stream_rows + ((uint64_t)what << 40) + c;
}

const char *design_word(design_kind kind)
{
    static const char *const words[DESIGN_KINDS] = {"grid",   "one-at-a-time", "latin-hypercube",
                                                    "sobol",  "halton",        "saltelli",
                                                    "morris", "cases"};
    return (size_t)kind < DESIGN_KINDS ? words[kind] : NULL;
}

/* ------------------------------------------------------------------ how many */

static size_t parts_of(const design_settings *s, size_t count)
{
    if (s->kind == DESIGN_MORRIS)
        return count + 1;
    return s->kind == DESIGN_SALTELLI ? 2 + (s->both ? 2 : 1) * count : 1;
}

/* Numbers that are kept of each of s->cases. */
static size_t width_of(const design_settings *s, size_t count)
{
    switch (s->kind) {
    case DESIGN_LATIN_HYPERCUBE:
    case DESIGN_SOBOL:
    case DESIGN_HALTON:
    case DESIGN_CASES:
        return count;
    case DESIGN_SALTELLI:
        return s->rows == DESIGN_ROWS_SOBOL ? 2 * count : 0;
    case DESIGN_MORRIS:
        return (count + 1) * count;
    default:
        return 0;
    }
}

double design_cells(const design_settings *settings, size_t factors)
{
    return (double)settings->cases * (double)width_of(settings, factors);
}

static caber_status count_grid(design *d, double *cases, caber_message *message)
{
    *cases = 1;
    for (size_t k = 0; k < d->count; k++) {
        if (factor_levels(&d->factors[k]) == 0)
            return message_set(message, CABER_BAD_INPUT,
                               "factors[%zu]: a grid needs levels of a range, or a list", k);
        *cases *= (double)factor_levels(&d->factors[k]);
    }
    return CABER_OK;
}

/* The levels of a factor that are not its base. */
static size_t levels_off_base(const design *d, size_t k)
{
    size_t count = 0;
    for (size_t l = 0; l < factor_levels(&d->factors[k]); l++)
        count += factor_level(&d->factors[k], l) != d->base[k];
    return count;
}

static caber_status count_one_at_a_time(design *d, double *cases, caber_message *message)
{
    *cases = 1;
    for (size_t k = 0; k < d->count; k++) {
        if (factor_levels(&d->factors[k]) == 0)
            return message_set(message, CABER_BAD_INPUT,
                               "factors[%zu]: one-at-a-time needs levels of a range, or a list", k);
        *cases += (double)levels_off_base(d, k);
    }
    return CABER_OK;
}

static caber_status check_dimensions(const design *d, caber_message *message)
{
    const size_t width = width_of(&d->how, d->count);
    const bool sobol = d->how.kind == DESIGN_SOBOL || d->how.kind == DESIGN_SALTELLI;
    if (sobol && width > DESIGN_SOBOL_MOST)
        return message_set(message, CABER_BAD_INPUT,
                           "Sobol's sequence has at most %d dimensions, and %zu factors need %zu",
                           DESIGN_SOBOL_MOST, d->count, width);
    return CABER_OK;
}

static caber_status check_grid_levels(const design *d, caber_message *message)
{
    if (d->how.kind != DESIGN_GRID && d->how.kind != DESIGN_ONE_AT_A_TIME)
        return CABER_OK;
    for (size_t k = 0; k < d->count; k++) {
        const factor *f = &d->factors[k];
        if (!f->listed && f->spread != FACTOR_UNIFORM && f->spread != FACTOR_LOG_UNIFORM)
            return message_set(message, CABER_BAD_INPUT,
                               "factors[%zu]: levels are of a uniform or log-uniform range, or of "
                               "a list",
                               k);
    }
    return CABER_OK;
}

/* Half of the places on there must be another value, or a move would be none. */
static caber_status check_places(const design *d, caber_message *message)
{
    if (d->how.kind != DESIGN_MORRIS)
        return CABER_OK;
    for (size_t k = 0; k < d->count; k++) {
        const factor *f = &d->factors[k];
        if (!f->listed)
            continue;
        if (f->count < 2 || f->count > d->how.levels)
            return message_set(message, CABER_BAD_INPUT,
                               "factors[%zu]: a list of %zu; with the design's %zu levels morris "
                               "takes lists of 2 to %zu",
                               k, f->count, d->how.levels, d->how.levels);
        for (size_t i = 0; i < f->count; i++)
            for (size_t j = 0; j < i; j++)
                if (f->values[i] == f->values[j])
                    return message_set(message, CABER_BAD_INPUT,
                                       "factors[%zu]: a value is given twice, and morris needs "
                                       "every move to change it",
                                       k);
    }
    return CABER_OK;
}

static caber_status count_cases(design *d, caber_message *message)
{
    double cases = (double)d->how.cases * (double)parts_of(&d->how, d->count);
    caber_status status = check_grid_levels(d, message);
    if (status == CABER_OK && d->how.kind == DESIGN_GRID)
        status = count_grid(d, &cases, message);
    else if (status == CABER_OK && d->how.kind == DESIGN_ONE_AT_A_TIME)
        status = count_one_at_a_time(d, &cases, message);
    if (status == CABER_OK)
        status = check_dimensions(d, message);
    if (status == CABER_OK)
        status = check_places(d, message);
    if (status != CABER_OK)
        return status;
    if (!(cases >= 1 && cases <= DESIGN_CASES_MOST))
        return message_set(message, CABER_BAD_INPUT,
                           "%.0f cases are not allowed; there must be from 1 to %d", cases,
                           DESIGN_CASES_MOST);
    if (design_cells(&d->how, d->count) > DESIGN_CELLS_MOST)
        return message_set(message, CABER_BAD_INPUT,
                           "%zu cases of %zu factors are too many for this design; at most %zu are "
                           "allowed",
                           d->how.cases, d->count, DESIGN_CELLS_MOST / width_of(&d->how, d->count));
    d->cases = (size_t)cases;
    return CABER_OK;
}

/* ------------------------------------------------------------------ what is drawn once */

/* Fisher & Yates's shuffle, from the far end. */
static bool draw_strata(design *d)
{
    const size_t n = d->how.cases;
    d->stratum = malloc(n * d->count * sizeof *d->stratum);
    if (!d->stratum)
        return false;
    for (size_t k = 0; k < d->count; k++) {
        uint32_t *p = d->stratum + k * n;
        for (size_t i = 0; i < n; i++)
            p[i] = (uint32_t)i;
        for (size_t i = n; i-- > 1;) {
            const double u = random_even(d->how.seed, stream_of(STREAM_STRATUM, k), i);
            const size_t j = (size_t)(u * (double)(i + 1));
            const uint32_t kept = p[i];
            p[i] = p[j];
            p[j] = kept;
        }
    }
    return true;
}

/* Both in [0, 1). Sobol's points are multiples of 2^-30, so 52 digits hold them; the half keeps the result
 * off 0. */
static double shift_digits(double x, double by)
{
    const uint64_t digits = (uint64_t)ldexp(x, 52) ^ (uint64_t)ldexp(by, 52);
    return ldexp((double)digits + 0.5, -52);
}

static double shift_around(double x, double by)
{
    return x + by < 1 ? x + by : x + by - 1;
}

static bool draw_sequence(design *d, const gsl_qrng_type *type)
{
    const size_t width = width_of(&d->how, d->count);
    const bool sobol = type == gsl_qrng_sobol;
    gsl_qrng *q = gsl_qrng_alloc(type, (unsigned)width);
    d->cells = calloc(d->how.cases * width, sizeof *d->cells); /* the origin is there */
    for (size_t i = 1; q && d->cells && i < d->how.cases; i++)
        gsl_qrng_get(q, d->cells + i * width);
    for (size_t c = 0; q && d->cells && c < width && !d->how.plain; c++) {
        const double by = random_even(d->how.seed, stream_of(STREAM_SHIFT, c), 0);
        for (size_t i = 0; i < d->how.cases; i++) {
            double *x = &d->cells[i * width + c];
            *x = sobol ? shift_digits(*x, by) : shift_around(*x, by);
        }
    }
    const bool good = q && d->cells;
    if (q)
        gsl_qrng_free(q);
    return good;
}

static bool keep_given(design *d, const double *given)
{
    const size_t size = d->how.cases * d->count * sizeof *d->cells;
    d->cells = malloc(size);
    if (d->cells)
        memcpy(d->cells, given, size);
    return d->cells != NULL;
}

static caber_status draw_trajectories(design *d, caber_message *message)
{
    d->cells = malloc(d->cases * d->count * sizeof *d->cells);
    if (!d->cells)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    return influence_morris_design(d->count, d->how.cases, d->how.levels, d->how.seed + seed_morris,
                                   d->cells, message);
}

static bool draw(design *d, const double *given)
{
    switch (d->how.kind) {
    case DESIGN_LATIN_HYPERCUBE:
        return draw_strata(d);
    case DESIGN_SOBOL:
        return draw_sequence(d, gsl_qrng_sobol);
    case DESIGN_HALTON:
        return draw_sequence(d, gsl_qrng_halton);
    case DESIGN_SALTELLI:
        return d->how.rows == DESIGN_ROWS_RANDOM || draw_sequence(d, gsl_qrng_sobol);
    case DESIGN_CASES:
        return keep_given(d, given);
    default:
        return true;
    }
}

caber_status design_create(const design_settings *settings, const factor *factors, size_t count,
                           const double *base, const double *given, design **out,
                           caber_message *message)
{
    *out = NULL;
    if (count < 1 || count > DESIGN_FACTORS_MOST)
        return message_set(message, CABER_BAD_INPUT,
                           "%zu factors are not allowed; there must be from 1 to %d", count,
                           DESIGN_FACTORS_MOST);
    design *d = calloc(1, sizeof *d);
    if (!d)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    *d = (design){.how = *settings, .factors = factors, .count = count};
    bool good = true;
    if (base) {
        d->base = malloc(count * sizeof *d->base);
        good = d->base != NULL;
        if (good)
            memcpy(d->base, base, count * sizeof *d->base);
    }
    caber_status status = good ? count_cases(d, message) : CABER_OK;
    if (good && status == CABER_OK && settings->kind == DESIGN_MORRIS)
        status = draw_trajectories(d, message);
    good = good && status == CABER_OK && draw(d, given);
    if (good) {
        *out = d;
        return message_clear(message);
    }
    design_free(d);
    return status != CABER_OK ? status : message_set(message, CABER_NO_MEMORY, "out of memory");
}

void design_free(design *d)
{
    if (!d)
        return;
    free(d->base);
    free(d->cells);
    free(d->stratum);
    free(d);
}

size_t design_count(const design *d)
{
    return d->cases;
}

/* ------------------------------------------------------------------ one case */

static void grid_values(const design *d, size_t i, double *values)
{
    for (size_t k = d->count; k-- > 0;) {
        const size_t levels = factor_levels(&d->factors[k]);
        values[k] = factor_level(&d->factors[k], i % levels);
        i /= levels;
    }
}

static void one_at_a_time_values(const design *d, size_t i, double *values)
{
    memcpy(values, d->base, d->count * sizeof *values);
    if (i-- == 0)
        return;
    for (size_t k = 0; k < d->count; k++)
        for (size_t l = 0; l < factor_levels(&d->factors[k]); l++) {
            const double value = factor_level(&d->factors[k], l);
            if (value == d->base[k])
                continue;
            if (i-- == 0) {
                values[k] = value;
                return;
            }
        }
}

/* u of factor k in row `row` of a (half 0) or b (half 1). */
static double row_even(const design *d, size_t row, int half, size_t k)
{
    const size_t place = (half ? d->count : 0) + k;
    return d->cells ? d->cells[row * 2 * d->count + place]
                    : random_even(d->how.seed, stream_of(STREAM_ROWS, row), place);
}

static void saltelli_values(const design *d, size_t i, double *values)
{
    const size_t parts = parts_of(&d->how, d->count), row = i / parts, part = i % parts;
    const bool mixed = part >= 2;
    const size_t exchanged = mixed ? (part - 2) % d->count : 0;
    const int half = mixed ? part - 2 >= d->count : (int)part;
    for (size_t k = 0; k < d->count; k++) {
        const int from = mixed && k == exchanged ? !half : half;
        values[k] = factor_quantile(&d->factors[k], row_even(d, row, from, k));
    }
}

static void morris_values(const design *d, size_t i, double *values)
{
    const double last = (double)(d->how.levels - 1);
    for (size_t k = 0; k < d->count; k++) {
        const size_t place = (size_t)lround(d->cells[i * d->count + k] * last);
        values[k] = factor_place(&d->factors[k], place, d->how.levels);
    }
}

static double case_even(const design *d, size_t i, size_t k)
{
    if (d->how.kind != DESIGN_LATIN_HYPERCUBE)
        return d->cells[i * d->count + k];
    const double within = random_even(d->how.seed, stream_of(STREAM_WITHIN, k), i);
    return (d->stratum[k * d->how.cases + i] + within) / (double)d->how.cases;
}

void design_values(const design *d, size_t i, double *values)
{
    switch (d->how.kind) {
    case DESIGN_GRID:
        grid_values(d, i, values);
        return;
    case DESIGN_ONE_AT_A_TIME:
        one_at_a_time_values(d, i, values);
        return;
    case DESIGN_SALTELLI:
        saltelli_values(d, i, values);
        return;
    case DESIGN_MORRIS:
        morris_values(d, i, values);
        return;
    case DESIGN_CASES:
        memcpy(values, d->cells + i * d->count, d->count * sizeof *values);
        return;
    default:
        for (size_t k = 0; k < d->count; k++)
            values[k] = factor_quantile(&d->factors[k], case_even(d, i, k));
    }
}
