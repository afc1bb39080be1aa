/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Writes study files as store_plan.h describes them, whose outputs are functions with known influences, for
 * test_influence.py. No swing is run.
 *
 *   influence_writer FILE DESIGN [NAME=NUMBER...]
 *
 * cases (of a design that has them; rows of saltelli, trajectories), both, levels, seed, replicates; choice (1: a
 * fourth factor, of two files); fail (every so many cases), blank (carry_m has no value in every so many);
 * stop (after so many chunks, without finishing), shards (this is the first of so many), extra (more outputs);
 * faint (1: an output that varies by next to nothing); wrong (1: the notes call
 * the design saltelli; 2: morris).
 * Of the design `cases` the third factor follows the first closely.
 *
 * Factors x_1 to x_3 go from -pi to pi, evenly. Outputs of the mean swing:
 *   ishigami         sin x_1 + 7 sin^2 x_2 + 0.1 x_3^4 sin x_1
 *   g_function       product of (|4 u_i - 2| + a_i)/(1 + a_i), u_i = (x_i + pi)/2pi, a = 0, 1, 4.5
 *   carry_m          200 + 10 x_1 - 4 x_2 + x_2 x_3 + 8 choice
 *   straight.delivered_loft_deg   10 degrees
 * Replicate r adds x_3^2 z_r to carry_m; the z_r of a point add up to 0. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/random.h"
#include "study/design.h"
#include "study/store_study.h"
#include "words.h"

static const double pi = 3.14159265358979323846;
enum { NUMBERS = 3, FACTORS_MOST = 4, OUTPUTS = 5, EXTRA_MOST = 20, CHUNK = 64 };

typedef struct writing {
    size_t cases, both, levels, seed, replicates, choice, fail, blank, stop, shards, extra, faint,
        wrong;
    size_t factors, swings;
    design *points;
} writing;

static bool read_word(writing *w, char *word)
{
    char *value = words_split(word);
    if (!value)
        return false;
    const words_number numbers[] = {
        {"cases", &w->cases},   {"both", &w->both},   {"levels", &w->levels},
        {"seed", &w->seed},     {"fail", &w->fail},   {"replicates", &w->replicates},
        {"choice", &w->choice}, {"blank", &w->blank}, {"stop", &w->stop},
        {"shards", &w->shards}, {"extra", &w->extra}, {"faint", &w->faint},
        {"wrong", &w->wrong}};
    return words_set(numbers, sizeof numbers / sizeof *numbers, word, value);
}

/* ------------------------------------------------------------------ the cases */

static caber_status plan(void *user, size_t first, size_t count, double *values,
                         caber_message *message)
{
    const writing *w = user;
    (void)message;
    for (size_t i = 0; i < count; i++) {
        const size_t point = (first + i) / w->swings, replicate = (first + i) % w->swings;
        double x[FACTORS_MOST];
        size_t at = 0;
        design_values(w->points, point, x);
        values[at++ * count + i] = (double)point;
        if (w->replicates)
            values[at++ * count + i] = (double)replicate;
        for (size_t k = 0; k < w->factors; k++)
            values[at++ * count + i] = x[k];
    }
    return CABER_OK;
}

static double g_function(const double *x)
{
    static const double a[NUMBERS] = {0, 1, 4.5};
    double product = 1;
    for (int i = 0; i < NUMBERS; i++)
        product *= (fabs(4 * (x[i] + pi) / (2 * pi) - 2) + a[i]) / (1 + a[i]);
    return product;
}

/* Replicates come in pairs of opposite signs; of an odd number the last is 0. */
static double deviate(const writing *w, size_t replicate)
{
    if (replicate + 1 == w->swings && w->swings % 2)
        return 0;
    return random_normal(5, 0, replicate / 2) * (replicate % 2 ? -1 : 1);
}

static void case_outputs(const writing *w, size_t i, double *y)
{
    double x[FACTORS_MOST] = {0};
    design_values(w->points, i / w->swings, x);
    y[0] = sin(x[0]) + 7 * pow(sin(x[1]), 2) + 0.1 * pow(x[2], 4) * sin(x[0]);
    y[1] = g_function(x);
    y[2] = 200 + 10 * x[0] - 4 * x[1] + x[1] * x[2] + 8 * x[3] +
           (w->replicates ? x[2] * x[2] * deviate(w, i % w->swings) : 0);
    if (w->blank && i % w->blank == 3)
        y[2] = NAN;
    y[3] = (10 + (w->faint ? 1e-6 * x[0] : 0)) / CABER_DEG;
    y[4] = 300;
    for (size_t j = 0; j < w->extra; j++)
        y[OUTPUTS + j] = (double)j * x[0];
}

static caber_status write_chunk(const writing *w, const store_study *s, store_writer *writer,
                                size_t chunk, caber_message *message)
{
    static double outputs[CHUNK * (OUTPUTS + EXTRA_MOST)];
    static int status[CHUNK];
    static const char *reason[CHUNK];
    size_t count, first = store_study_chunk(s, chunk, &count);
    for (size_t i = 0; i < count; i++) {
        const bool fails = w->fail && (first + i) % w->fail == 7;
        case_outputs(w, first + i, outputs + i * s->output_count);
        status[i] = fails ? CABER_BALL_NOT_REACHED : CABER_OK;
        reason[i] = fails ? "the ball was not reached" : NULL;
    }
    const store_chunk given = {chunk, status, reason, outputs, NULL};
    return store_writer_write(writer, &given, message);
}

static caber_status write_file(const char *path, const writing *w, const store_study *s,
                               caber_message *message)
{
    store_writer *writer;
    caber_status status = store_writer_create(path, s, STORE_NEW, &writer, message);
    if (status != CABER_OK)
        return status;
    for (size_t c = 0; c < store_study_chunks(s) && c < w->stop && status == CABER_OK; c++)
        if (store_writer_wants(writer, c))
            status = write_chunk(w, s, writer, c, message);
    if (status == CABER_OK)
        status = w->stop < store_study_chunks(s) ? store_writer_sync(writer, message)
                                                 : store_writer_finish(writer, message);
    store_writer_free(writer);
    return status;
}

/* ------------------------------------------------------------------ the study */

static size_t fill_outputs(const writing *w, store_column *columns, char (*names)[32])
{
    static const store_column own[OUTPUTS] = {
        {"ishigami", "1", "Ishigami's function", 1, false, false},
        {"g_function", "1", "Sobol's g-function", 1, false, false},
        {"carry_m", "m", "carry", 1, false, true},
        {"straight.delivered_loft_deg", "deg", "loft", CABER_DEG, false, false},
        {"swing_steps", "1", "steps", 1, true, false}};
    memcpy(columns, own, sizeof own);
    for (size_t j = 0; j < w->extra; j++) {
        snprintf(names[j], sizeof names[j], "extra_%zu", j);
        columns[OUTPUTS + j] = (store_column){names[j], "m", "one more", 1, false, false};
    }
    return OUTPUTS + w->extra;
}

static caber_status write_study(const char *path, const writing *w, design_kind kind,
                                caber_message *message)
{
    static const char *const names[] = {"x_1", "x_2", "x_3",
                                        "shaft_of_a_name_longer_than_its_column"};
    static const char *const paths[] = {"load.grip.rise", "load.grip.fall", "head.mass",
                                        "shaft.file"};
    static const char *const kinds[] = {"number", "number", "number", "choice"};
    static const char *const files[] = {"../shafts/soft.yaml", "../shafts/firm.yaml"};
    const char *const words[] = {design_word(kind), "saltelli", "morris"};
    const size_t parts[] = {1, w->factors + 2, w->factors + 1};
    store_column columns[FACTORS_MOST + 2], outputs[OUTPUTS + EXTRA_MOST];
    char texts[EXTRA_MOST][32];
    size_t at = 0;
    columns[at++] = (store_column){"point", "1", "point of the design", 1, true, false};
    if (w->replicates)
        columns[at++] = (store_column){"replicate", "1", "swing of the point", 1, true, false};
    for (size_t k = 0; k < w->factors; k++)
        columns[at++] = (store_column){
            names[k], k < NUMBERS ? "rad" : "1", "an invented factor", 1, k >= NUMBERS, false};
    const store_note notes[] = {
        {.name = "title", .text = "functions, invented"},
        {.name = "seed", .number = (double)w->seed},
        {.name = "design", .text = words[w->wrong]},
        {.name = "points", .number = (double)design_count(w->points)},
        {.name = "replicates", .number = (double)w->replicates},
        {.name = "rows", .number = (double)(w->cases / parts[w->wrong])},
        {.name = "both", .number = (double)w->both},
        {.name = "trajectories", .number = (double)(w->cases / parts[w->wrong])},
        {.name = "levels", .number = (double)w->levels},
        {.name = "factor_names", .texts = names, .count = w->factors},
        {.name = "factor_paths", .texts = paths, .count = w->factors},
        {.name = "factor_kinds", .texts = kinds, .count = w->factors},
        {.name = "choices_shaft_of_a_name_longer_than_its_column", .texts = files, .count = 2},
    };
    const store_study s = {.identity = "functions, invented\n",
                           .version = "1.2.3",
                           .notes = notes,
                           .note_count = sizeof notes / sizeof *notes,
                           .cases = design_count(w->points) * w->swings,
                           .chunk_cases = CHUNK,
                           .shard = 1,
                           .shards = w->shards,
                           .factors = columns,
                           .factor_count = at,
                           .plan = plan,
                           .plan_user = (void *)(size_t)w,
                           .outputs = outputs,
                           .output_count = fill_outputs(w, outputs, texts)};
    return write_file(path, w, &s, message);
}

/* Values for the design `cases`. */
static double *given_create(const writing *w)
{
    double *x = malloc(w->cases * w->factors * sizeof *x);
    for (size_t i = 0; x && i < w->cases; i++) {
        double *row = x + i * w->factors;
        for (size_t k = 0; k < w->factors; k++)
            row[k] = k < NUMBERS ? pi * (2 * random_even(w->seed, 9, i * w->factors + k) - 1) : 0;
        row[2] = row[0] + 0.05 * row[2];
    }
    return x;
}

int main(int argc, char **argv)
{
    double two[] = {0, 1};
    const factor range = {.from = -pi, .to = pi, .levels = 5};
    const factor all[] = {range, range, range, {.listed = true, .count = 2, .values = two}};
    writing w = {.cases = 128, .levels = 4, .seed = 1, .stop = SIZE_MAX, .shards = 1};
    caber_message message = {"usage: see the head of influence_writer.c"};
    int kind = 0;
    bool good = argc > 2;
    while (good && kind < DESIGN_KINDS && strcmp(design_word((design_kind)kind), argv[2]) != 0)
        kind++;
    good = good && kind < DESIGN_KINDS;
    for (int i = 3; i < argc; i++)
        good = good && read_word(&w, argv[i]);
    w.factors = NUMBERS + (w.choice > 0);
    w.swings = w.replicates ? w.replicates : 1;
    const design_settings how = {.kind = (design_kind)kind,
                                 .cases = w.cases,
                                 .both = w.both > 0,
                                 .levels = w.levels,
                                 .seed = w.seed};
    const double base[FACTORS_MOST] = {0};
    double *given = given_create(&w);
    caber_status status = CABER_BAD_INPUT;
    if (good && given && w.extra <= EXTRA_MOST && w.wrong <= 2)
        status = design_create(&how, all, w.factors, base, given, &w.points, &message);
    if (status == CABER_OK)
        status = write_study(argv[1], &w, (design_kind)kind, &message);
    design_free(w.points);
    free(given);
    if (status != CABER_OK)
        fprintf(stderr, "%s\n", message.text);
    return (int)status;
}
