/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber_uncertainty_run, caber_bench_uncertainty_run: what the errors of a measured profile make of a
 * figure.
 *
 * Propagation of distributions by drawing from them, as JCGM 101:2008 has it (cited from memory): the
 * whole computation is run for each draw, so whatever is not in proportion to the errors shows.
 *
 * A draw is a shaft of its own, hence has a model of its own; threads share the draws (study/pool.h) and
 * write to a draw's row of the table. Everything said about the draws is computed from
 * the whole table, in its order, so it is the same for any number of threads. All statistics are of
 * deviations from the profile as fitted: without errors they are 0 to the last bit.
 *
 * The mesh is chosen for each draw as for any setup. Two draws on either side of a halving of its
 * elements differ by that in frequency by some 1e-5, far below what a bench leaves open. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/order.h"
#include "base/random.h"
#include "study/pool.h"
#include "swing/check.h"
#include "swing/once.h"

enum { CURVES = 3 };       /* EI, GJ, mass: the last index of caber_errors.share */
enum { FAILED_MOST = 20 }; /* one draw in so many may fail */

/* A stretch of doubles within a struct of answers; in bytes. */
typedef struct stretch {
    size_t from, to;
} stretch;

typedef struct study study;

/* What is asked of every draw. */
typedef struct question {
    size_t size; /* of the struct of answers */
    const stretch *numbers;
    size_t stretches;
    /* Fills the struct of answers for a setup. */
    caber_status (*answer)(const study *s, const caber_setup *setup, void *out,
                           caber_message *message);
} question;

struct study {
    const caber_setup *setup;
    const caber_jig *jig; /* of the bench */
    const question *question;
    const void *value; /* the answers for the profile as fitted */
    int draws, seed, threads;
    caber_watch watch;
    bool stopped;
    char *answers;        /* [draws][question->size] */
    caber_status *status; /* [draws] */
};

caber_uncertainty_settings caber_uncertainty_default(void)
{
    return (caber_uncertainty_settings){.draws = CABER_DRAWS_USUAL, .seed = 1, .threads = 0};
}

/* ------------------------------------------------------------------ a draw */

/* A setup whose shaft is drawn anew. */
typedef struct drawn {
    caber_setup setup;
    caber_station *stations; /* owned */
    double *logs;            /* [stations][CURVES], owned */
} drawn;

static void drawn_free(drawn *d)
{
    if (!d)
        return;
    free(d->stations);
    free(d->logs);
    free(d);
}

/* Returns NULL when out of memory. */
static drawn *drawn_create(const caber_setup *setup)
{
    const size_t n = setup->shaft.station_count;
    drawn *d = malloc(sizeof *d);
    if (!d)
        return NULL;
    d->setup = *setup;
    d->stations = malloc(n * sizeof *d->stations);
    d->logs = malloc(CURVES * n * sizeof *d->logs);
    d->setup.shaft.stations = d->stations;
    d->setup.shaft.errors = (caber_errors){0};
    if (d->stations && d->logs)
        return d;
    drawn_free(d);
    return NULL;
}

static void drawn_fill(drawn *d, const caber_shaft *fitted, int seed, int draw)
{
    const size_t n = fitted->station_count;
    const caber_errors *e = &fitted->errors;
    memset(d->logs, 0, CURVES * n * sizeof *d->logs);
    for (size_t k = 0; k < e->count; k++) {
        const double z = random_normal((uint64_t)seed, (uint64_t)draw, k);
        for (size_t i = 0; i < CURVES * n; i++)
            d->logs[i] += z * e->share[k * CURVES * n + i];
    }
    for (size_t i = 0; i < n; i++) {
        caber_station *s = &d->stations[i];
        *s = fitted->stations[i];
        s->ei *= exp(d->logs[CURVES * i]);
        s->ei_2 *= exp(d->logs[CURVES * i]);
        s->gj *= exp(d->logs[CURVES * i + 1]);
        s->mass *= exp(d->logs[CURVES * i + 2]);
    }
}

static double number_at(const void *answers, size_t at)
{
    double value;
    memcpy(&value, (const char *)answers + at, sizeof value);
    return value;
}

/* Whether a number stands wherever one does for the profile as fitted. */
static bool all_known(const study *s, const void *answers)
{
    const question *q = s->question;
    for (size_t r = 0; r < q->stretches; r++)
        for (size_t at = q->numbers[r].from; at < q->numbers[r].to; at += sizeof(double))
            if (isfinite(number_at(s->value, at)) && !isfinite(number_at(answers, at)))
                return false;
    return true;
}

static caber_status draw_answer(const study *s, drawn *d, int draw, void *out,
                                caber_message *message)
{
    drawn_fill(d, &s->setup->shaft, s->seed, draw);
    const caber_status status = s->question->answer(s, &d->setup, out, message);
    if (status != CABER_OK || all_known(s, out))
        return status;
    return message_set(message, CABER_NOT_CONVERGED, "a figure of it is no number");
}

static void *draw_enter(void *user)
{
    const study *s = user;
    return drawn_create(s->setup);
}

static void draw_run(void *user, void *own, size_t draw)
{
    study *s = user;
    s->status[draw] = draw_answer(s, own, (int)draw, s->answers + draw * s->question->size, NULL);
}

static void draw_leave(void *user, void *own)
{
    (void)user;
    drawn_free(own);
}

static void draw_all(study *s)
{
    const pool_job job = {.count = (size_t)s->draws,
                          .threads = s->threads,
                          .user = s,
                          .enter = draw_enter,
                          .run = draw_run,
                          .leave = draw_leave,
                          .watch = s->watch,
                          .stopped = &s->stopped};
    for (int i = 0; i < s->draws; i++)
        s->status[i] = CABER_NO_MEMORY; /* of those that nobody can take */
    pool_run(&job);
}

/* ------------------------------------------------------------------ failures */

/* Runs a draw again, to hear why it fails. */
static void failure_hear(const study *s, int draw, caber_message *message)
{
    drawn *d = drawn_create(s->setup);
    void *answers = malloc(s->question->size);
    *message = (caber_message){""};
    if (d && answers)
        draw_answer(s, d, draw, answers, message);
    drawn_free(d);
    free(answers);
}

static caber_status count_failures(const study *s, caber_draws *out, caber_message *message)
{
    *out = (caber_draws){.count = (size_t)s->draws};
    for (int i = s->draws - 1; i >= 0; i--) {
        if (s->status[i] == CABER_NO_MEMORY)
            return message_set(message, CABER_NO_MEMORY, "out of memory");
        if (s->status[i] == CABER_OK)
            continue;
        out->failed++;
        out->first_failed = (size_t)i;
    }
    if (!out->failed)
        return CABER_OK;
    failure_hear(s, (int)out->first_failed, &out->failure);
    if (out->failed * FAILED_MOST <= out->count)
        return CABER_OK;
    return message_set(message, s->status[out->first_failed],
                       "%zu of %zu draws of the profile from its errors failed, more than 1 in %d; "
                       "the first, draw %zu: %.850s",
                       out->failed, out->count, FAILED_MOST, out->first_failed, out->failure.text);
}

/* ------------------------------------------------------------------ statistics */

/* What is said of one number, as deviations from its value. */
typedef struct spread {
    double sd, mean, low, high;
} spread;

/* off[count]: at least two; is sorted. */
static spread spread_of(double *off, size_t count)
{
    double sum = 0, squares = 0;
    for (size_t i = 0; i < count; i++)
        sum += off[i];
    const double mean = sum / (double)count;
    for (size_t i = 0; i < count; i++)
        squares += (off[i] - mean) * (off[i] - mean);
    qsort(off, count, sizeof *off, order_doubles);
    return (spread){.sd = sqrt(squares / (double)(count - 1)),
                    .mean = mean,
                    .low = gsl_stats_quantile_from_sorted_data(off, 1, count, 0.025),
                    .high = gsl_stats_quantile_from_sorted_data(off, 1, count, 0.975)};
}

/* The structs of the answers' statistics, in the order of `spread`. */
enum { SD, MEAN, LOW, HIGH, ASPECTS };

/* What is not known for the profile as fitted is so in each. */
static void number_spread(const study *s, size_t at, double *off, char *const out[ASPECTS])
{
    size_t count = 0;
    const double base = number_at(s->value, at);
    for (int i = 0; i < s->draws; i++)
        if (s->status[i] == CABER_OK)
            off[count++] = number_at(s->answers + (size_t)i * s->question->size, at) - base;
    const spread f = isfinite(base) ? spread_of(off, count) : (spread){.sd = base};
    const double put[ASPECTS] = {f.sd, base + f.mean, base + f.low, base + f.high};
    for (int a = 0; a < ASPECTS; a++)
        memcpy(out[a] + at, &put[a], sizeof put[a]);
}

/* Fills the numbers of out[], each a struct of answers. */
static caber_status spread_fill(const study *s, char *const out[ASPECTS], caber_message *message)
{
    const question *q = s->question;
    double *off = malloc((size_t)s->draws * sizeof *off);
    if (!off)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    for (size_t r = 0; r < q->stretches; r++)
        for (size_t at = q->numbers[r].from; at < q->numbers[r].to; at += sizeof(double))
            number_spread(s, at, off, out);
    free(off);
    return CABER_OK;
}

/* ------------------------------------------------------------------ all of it */

static caber_status check_settings(const caber_uncertainty_settings *settings,
                                   caber_message *message)
{
    const struct {
        const char *name;
        int value, least, most;
    } rule[] = {{"draws", settings->draws, CABER_DRAWS_LEAST, CABER_DRAWS_MOST},
                {"seed", settings->seed, 0, 0x7fffffff},
                {"threads", settings->threads, 0, CABER_THREADS_MOST}};
    for (size_t i = 0; i < sizeof rule / sizeof *rule; i++)
        if (rule[i].value < rule[i].least || rule[i].value > rule[i].most)
            return message_set(message, CABER_BAD_INPUT,
                               "%s: %d is not allowed; it must be from %d to %d", rule[i].name,
                               rule[i].value, rule[i].least, rule[i].most);
    return CABER_OK;
}

static caber_status check_errors(const caber_shaft *shaft, caber_message *message)
{
    if (!shaft->errors.count)
        return message_set(message, CABER_BAD_INPUT,
                           "shaft.errors: the profile of '%s' says nothing of its errors, so "
                           "nothing can be said of what they do; 'caber profile READINGS --output "
                           "FILE' draws a profile through bench readings and writes it with them",
                           shaft->name);
    return CABER_OK;
}

static caber_status study_create(study *s, const caber_uncertainty_settings *settings,
                                 caber_message *message)
{
    gsl_set_error_handler_off();
    caber_status status = check_settings(settings, message);
    if (status == CABER_OK)
        status = setup_check(s->setup, message);
    if (status == CABER_OK)
        status = check_errors(&s->setup->shaft, message);
    if (status != CABER_OK)
        return status;
    s->draws = settings->draws;
    s->seed = settings->seed;
    s->threads = settings->threads;
    s->watch = settings->watch;
    s->answers = calloc((size_t)s->draws, s->question->size);
    s->status = calloc((size_t)s->draws, sizeof *s->status);
    return s->answers && s->status ? CABER_OK
                                   : message_set(message, CABER_NO_MEMORY, "out of memory");
}

/* Fills *value, for the profile as fitted, then the draws' spread. */
static caber_status study_run(study *s, const caber_uncertainty_settings *settings, void *value,
                              caber_draws *draws, char *const out[ASPECTS], caber_message *message)
{
    caber_status status = study_create(s, settings, message);
    if (status == CABER_OK)
        status = s->question->answer(s, s->setup, value, message);
    s->value = value;
    if (status == CABER_OK) {
        draw_all(s);
        status = s->stopped ? message_set(message, CABER_STOPPED, "stopped as wished")
                            : count_failures(s, draws, message);
    }
    if (status == CABER_OK)
        status = spread_fill(s, out, message);
    free(s->answers);
    free(s->status);
    return status == CABER_OK ? message_clear(message) : status;
}

/* ------------------------------------------------------------------ the swing */

/* A swing and what its ball does. */
typedef struct swung {
    caber_swing swing;
    caber_shot_pair shots;
} swung;

/* A ball that flies for the profile as fitted must fly for a draw. */
static caber_status check_flies(const caber_shot_pair *shots, const caber_shot_pair *fitted,
                                caber_message *message)
{
    if (fitted->bent_flies && !shots->bent_flies)
        return message_set(message, CABER_NOT_CONVERGED, "no flight of the club's ball: %.800s",
                           shots->bent_why.text);
    if (fitted->straight_flies && !shots->straight_flies)
        return message_set(message, CABER_NOT_CONVERGED,
                           "no flight of the straight club's ball: %.800s",
                           shots->straight_why.text);
    return CABER_OK;
}

static caber_status swing_answer(const study *s, const caber_setup *setup, void *out,
                                 caber_message *message)
{
    swung *o = out;
    const swung *fitted = s->value;
    caber_status status = swing_once(setup, &o->swing, NULL, message);
    if (status == CABER_OK)
        status = caber_shot_pair_run(setup, &o->swing, &o->shots, message);
    if (status == CABER_OK && fitted)
        status = check_flies(&o->shots, &fitted->shots, message);
    return status;
}

/* The first `size` bytes of a member. */
#define NUMBERS(member, size)                                                                      \
    {                                                                                              \
        offsetof(swung, member), offsetof(swung, member) + (size)                                  \
    }

static void swung_spread(const swung found[ASPECTS], caber_uncertainty *out)
{
    out->bent = (caber_impact_spread){found[SD].swing.bent, found[MEAN].swing.bent,
                                      found[LOW].swing.bent, found[HIGH].swing.bent};
    out->straight = (caber_impact_spread){found[SD].swing.straight, found[MEAN].swing.straight,
                                          found[LOW].swing.straight, found[HIGH].swing.straight};
    out->bent_shot = (caber_shot_spread){found[SD].shots.bent, found[MEAN].shots.bent,
                                         found[LOW].shots.bent, found[HIGH].shots.bent};
    out->straight_shot = (caber_shot_spread){found[SD].shots.straight, found[MEAN].shots.straight,
                                             found[LOW].shots.straight, found[HIGH].shots.straight};
    out->bent.sd.energy_residual = out->bent.mean.energy_residual = 0;
    out->bent.low.energy_residual = out->bent.high.energy_residual = 0;
}

caber_status caber_uncertainty_run(const caber_setup *setup,
                                   const caber_uncertainty_settings *settings,
                                   caber_uncertainty *out, caber_message *message)
{
    static const stretch numbers[] = {NUMBERS(swing.bent, sizeof(caber_impact)),
                                      NUMBERS(swing.straight, sizeof(caber_impact)),
                                      NUMBERS(shots.bent, offsetof(caber_shot, outside)),
                                      NUMBERS(shots.straight, offsetof(caber_shot, outside))};
    static const question asked = {sizeof(swung), numbers, 4, swing_answer};
    swung *all = calloc(ASPECTS + 1, sizeof *all), *value = all + ASPECTS;
    *out = (caber_uncertainty){0};
    if (!all)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    char *const into[ASPECTS] = {(char *)&all[SD], (char *)&all[MEAN], (char *)&all[LOW],
                                 (char *)&all[HIGH]};
    study s = {.setup = setup, .question = &asked};
    const caber_status status = study_run(&s, settings, value, &out->draws, into, message);
    if (status == CABER_OK) {
        out->swing = value->swing;
        out->shots = value->shots;
        swung_spread(all, out);
    }
    free(all);
    return status;
}

#undef NUMBERS

/* ------------------------------------------------------------------ the bench */

static caber_status bench_answer(const study *s, const caber_setup *setup, void *out,
                                 caber_message *message)
{
    return caber_bench_run(setup, s->jig, out, message);
}

caber_status caber_bench_uncertainty_run(const caber_setup *setup, const caber_jig *jig,
                                         const caber_uncertainty_settings *settings,
                                         caber_bench_uncertainty *out, caber_message *message)
{
    /* All but the counts is doubles; what is not filled is 0 in each. */
    static const stretch numbers[] = {
        {0, offsetof(caber_bench, span_count)},
        {offsetof(caber_bench, span_at), offsetof(caber_bench, mode_count)},
        {offsetof(caber_bench, frequencies), sizeof(caber_bench)}};
    static const question measured = {sizeof(caber_bench), numbers, 3, bench_answer};
    *out = (caber_bench_uncertainty){0};
    char *const into[ASPECTS] = {(char *)&out->sd, (char *)&out->mean, (char *)&out->low,
                                 (char *)&out->high};
    study s = {.setup = setup, .jig = jig, .question = &measured};
    const caber_status status = study_run(&s, settings, &out->bench, &out->draws, into, message);
    if (status != CABER_OK)
        return status;
    caber_bench *const each[] = {&out->sd, &out->mean, &out->low, &out->high};
    for (int a = 0; a < ASPECTS; a++) {
        each[a]->span_count = out->bench.span_count;
        each[a]->mode_count = out->bench.mode_count;
        memcpy(each[a]->span_at, out->bench.span_at, sizeof out->bench.span_at);
    }
    return CABER_OK;
}
