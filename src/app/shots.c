/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shots.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "study/measured.h"

static caber_status no_memory(caber_message *message)
{
    return message_set(message, CABER_NO_MEMORY, "out of memory");
}

/* ------------------------------------------------------------------ names */

/* Takes the next name off *names; false at the end. */
static bool next_name(const char **names, char *name, size_t size)
{
    if (!*names)
        return false;
    const size_t length = strcspn(*names, ",");
    snprintf(name, size, "%.*s", (int)(length < size ? length : size - 1), *names);
    *names = (*names)[length] ? *names + length + 1 : NULL;
    return true;
}

/* "ball_speed" is "ball_speed_mps" too, where no other column begins so. */
static bool is_name_of(const caber_measurable *c, const char *name)
{
    const size_t length = strlen(name);
    if (!strcmp(c->name, name))
        return true;
    return length && c->unit[0] && !strncmp(c->name, name, length) && c->name[length] == '_' &&
           c->name[length + 1] == tolower((unsigned char)c->unit[0]);
}

static bool list_names(const char *names, const caber_measurable *c)
{
    char name[96];
    while (next_name(&names, name, sizeof name))
        if (is_name_of(c, name))
            return true;
    return false;
}

bool shots_has_names(const caber_measured *m, const char *names, char *missing, size_t size)
{
    while (next_name(&names, missing, size)) {
        bool found = false;
        for (size_t c = 0; c < m->column_count; c++)
            found = found || is_name_of(&m->columns[c], missing);
        if (!found)
            return false;
    }
    return true;
}

const char *shots_rule_word(caber_cleaning rule)
{
    static const char *const words[] = {
#define WORD(symbol, word, usual, text) word,
        CABER_CLEANING_LIST(WORD)
#undef WORD
    };
    return words[rule];
}

const char *shots_rule_text(caber_cleaning rule)
{
    static const char *const texts[] = {
#define TEXT(symbol, word, usual, text) text,
        CABER_CLEANING_LIST(TEXT)
#undef TEXT
    };
    return texts[rule];
}

static double printed(const caber_measured *m, size_t shot, int column)
{
    return m->value[shot * m->column_count + (size_t)column] * m->columns[column].factor;
}

void shots_why(const caber_measured *m, size_t shot, caber_cleaning rule, char *text, size_t size)
{
    const int column = m->shots[shot].column[rule];
    const int ball = measured_column(m, "ball_speed_mps"),
              head = measured_column(m, "head_speed_mps");
    if (column >= 0) {
        const caber_measurable *c = &m->columns[column];
        const double value = printed(m, shot, column);
        const bool beyond = value < c->least * c->factor || value > c->most * c->factor;
        int n = snprintf(text, size, "%s %.*f%s%s", c->label, c->decimals < 0 ? 3 : c->decimals,
                         value, c->unit[0] ? " " : "", c->unit);
        if (rule == CABER_CLEAN_IMPOSSIBLE && !beyond && n > 0 && (size_t)n < size)
            snprintf(text + n, size - (size_t)n, " at head speed %.2f m/s", printed(m, shot, head));
        return;
    }
    text[0] = '\0';
    if (rule != CABER_CLEAN_MISHIT)
        return;
    const int smash = measured_column(m, "smash_factor");
    const double of =
        ball >= 0 && head >= 0 ? printed(m, shot, ball) / printed(m, shot, head) : (double)NAN;
    snprintf(text, size, "smash factor %.3f",
             isnan(of) && smash >= 0 ? printed(m, shot, smash) : of);
}

/* ------------------------------------------------------------------ cautions */

static void caution(shots_study *s, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void caution(shots_study *s, const char *format, ...)
{
    if (s->caution_count == SHOTS_CAUTIONS) {
        snprintf(s->cautions[SHOTS_CAUTIONS - 1], sizeof s->cautions[0],
                 "There are more cautions than these.");
        return;
    }
    va_list args;
    va_start(args, format);
    vsnprintf(s->cautions[s->caution_count++], sizeof s->cautions[0], format, args);
    va_end(args);
}

/* Whether the shots of the batches follow each other in blocks, a batch in each. */
static bool is_in_blocks(const caber_measured *m)
{
    size_t changes = 0;
    for (size_t i = 1; i < m->count; i++)
        changes += m->shots[i].batch != m->shots[i - 1].batch;
    return changes < m->batch_count;
}

static void caution_batches(shots_study *s)
{
    const caber_measured *m = s->measured;
    if (m->batch_count > 1 && is_in_blocks(m))
        caution(s,
                "By these files the batches were hit one after the other: what changes from "
                "the first to the last, such as warming up, tiring, wind or wear, then looks like "
                "the shaft. Change clubs every few shots.");
    for (size_t b = 0; b < m->batch_count; b++) {
        const caber_batch *own = &m->batches[b];
        const size_t left = own->count - own->set_aside;
        if (left < 8)
            caution(s, "%s has only %zu shot%s: a spread of so few is hardly known.", own->name,
                    left, left == 1 ? "" : "s");
        if (own->set_aside * 5 > own->count)
            caution(s, "%zu of %zu shots of %s are set aside: look at how they were measured.",
                    own->set_aside, own->count, own->name);
    }
}

/* A column whose batches are so far from each other that their units may differ. */
static void caution_units(shots_study *s, const shots_output *o)
{
    static const char *const names[] = {"head_speed_mps", "ball_speed_mps", "carry_m"};
    double least = HUGE_VAL, most = 0;
    for (size_t b = 0; b < s->measured->batch_count; b++) {
        if (!o->count[b])
            continue;
        least = fmin(least, o->summary[b].median);
        most = fmax(most, o->summary[b].median);
    }
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (!strcmp(o->about->name, names[i]) && most > 1.5 * least)
            caution(s,
                    "The %s of one batch is %.1f times that of another: are the units of both "
                    "right?",
                    o->about->label, most / least);
}

static void caution_output(shots_study *s, const shots_output *o)
{
    const caber_measured *m = s->measured;
    for (size_t b = 0; b < m->batch_count; b++) {
        const batch_summary *sum = &o->summary[b];
        if (o->count[b] == 0)
            caution(s, "%s has no %s.", m->batches[b].name, o->about->label);
        else if (o->count[b] > 2 && sum->least == sum->most)
            caution(s, "%s has the same %s in every shot: no measurement repeats so well.",
                    m->batches[b].name, o->about->label);
    }
    caution_units(s, o);
    if (o->has_adjust && o->adjust.slopes_differ)
        caution(s, "%s: %s", o->about->label, o->adjust.doubt.text);
}

/* ------------------------------------------------------------------ one output */

static caber_status take_values(const caber_measured *m, shots_output *o, caber_message *message)
{
    const size_t batches = m->batch_count;
    o->value = calloc(batches + 1, sizeof *o->value);
    o->count = calloc(batches + 1, sizeof *o->count);
    o->summary = calloc(batches + 1, sizeof *o->summary);
    if (!o->value || !o->count || !o->summary)
        return no_memory(message);
    for (size_t b = 0; b < batches; b++)
        if (!(o->value[b] = calloc(m->batches[b].count + 1, sizeof *o->value[b])))
            return no_memory(message);
    for (size_t i = 0; i < m->count; i++) {
        const size_t b = m->shots[i].batch;
        const double v = printed(m, i, o->column);
        if (!m->shots[i].set_aside && !isnan(v))
            o->value[b][o->count[b]++] = v;
    }
    return CABER_OK;
}

/* So that a hundred thousand shots take seconds: their intervals hang less on the resamples. */
static int resamples_for(const batch_settings *settings, size_t count)
{
    const double most = 4e6 / (double)(count + 1);
    const double some = fmin(settings->resamples, fmax(most, BATCH_RESAMPLES_LEAST));
    return (int)some;
}

static caber_status summarise(const shots_study *s, shots_output *o, caber_message *message)
{
    caber_status status = CABER_OK;
    for (size_t b = 0; b < s->measured->batch_count && status == CABER_OK; b++) {
        batch_settings settings = s->settings;
        settings.stream = (uint64_t)o->column * 1000 + b;
        settings.resamples = resamples_for(&settings, o->count[b]);
        if (o->count[b])
            status = batch_summarise(o->value[b], o->count[b], &settings, &o->summary[b], message);
    }
    return status;
}

static caber_status compare(const shots_study *s, shots_output *o, caber_message *message)
{
    const size_t batches = s->measured->batch_count;
    o->pairs = calloc(batches * (batches - 1) / 2 + 1, sizeof *o->pairs);
    if (!o->pairs)
        return no_memory(message);
    caber_status status = CABER_OK;
    for (size_t i = 0; i < batches; i++)
        for (size_t k = i + 1; k < batches && status == CABER_OK; k++) {
            if (!o->count[i] || !o->count[k])
                continue;
            shots_pair *p = &o->pairs[o->pair_count++];
            p->later = k;
            p->earlier = i;
            status = batch_pair_compare(o->value[k], o->count[k], o->value[i], o->count[i],
                                        &s->settings, &p->stats, message);
        }
    return status;
}

/* ------------------------------------------------------------------ at the same covariates */

/* What is removed, in this order. */
static const struct {
    const char *name, *label;
} covariates[] = {{"head_speed_mps", "head speed"},
                  {"struck_toe_mm", "strike to the toe side"},
                  {"struck_high_mm", "height of the strike"},
                  {"strike_toe_mm", "strike to the toe side"},
                  {"strike_high_mm", "height of the strike"}};
enum { COVARIATE_COLUMNS = sizeof covariates / sizeof covariates[0] };
static const char *const distance_name = "off_middle_squared_mm2";

/* What a ball does follows from the strike; how the head arrives does not. */
static bool follows_the_strike(const caber_measurable *c)
{
    static const char *const names[] = {"spin_rpm", "total_m"};
    size_t count;
    const caber_field *fields = caber_shot_fields(&count);
    if (!strncmp(c->name, "struck_", 7))
        return false;
    for (size_t i = 0; i < count; i++)
        if (!strcmp(fields[i].name, c->name))
            return true;
    return !strcmp(c->name, names[0]) || !strcmp(c->name, names[1]);
}

static void add_covariate(shots_study *s, int column, size_t i)
{
    shots_covariate *out = &s->covariates[s->covariate_count++];
    out->column = column;
    snprintf(out->label, sizeof out->label, "%s", covariates[i].label);
    snprintf(out->name, sizeof out->name, "%s", covariates[i].name);
}

static bool in_all_batches(const caber_measured *m, int column)
{
    for (size_t b = 0; b < m->batch_count; b++) {
        size_t there = 0;
        for (size_t i = 0; i < m->count; i++)
            there += m->shots[i].batch == b && !m->shots[i].set_aside &&
                     !isnan(m->value[i * m->column_count + (size_t)column]);
        if (there < 2)
            return false;
    }
    return true;
}

/* Off the middle either way a ball is slower: a straight line in the place cannot see it, its square
 * can. */
static void choose_covariates(shots_study *s, const char *adjust)
{
    bool strike = false;
    if (adjust && !strcmp(adjust, "none"))
        return;
    for (size_t i = 0; i < COVARIATE_COLUMNS; i++) {
        const int column = measured_column(s->measured, covariates[i].name);
        if (column < 0 || (adjust && !list_names(adjust, &s->measured->columns[column])) ||
            !in_all_batches(s->measured, column))
            continue;
        /* Two pairs of columns for one strike are one too many. */
        if (i > 2 && strike && measured_column(s->measured, covariates[i - 2].name) >= 0)
            continue;
        add_covariate(s, column, i);
        strike = strike || i > 0;
    }
    if (!strike)
        return;
    shots_covariate *out = &s->covariates[s->covariate_count++];
    out->column = -1;
    snprintf(out->label, sizeof out->label, "squared distance off the middle");
    snprintf(out->name, sizeof out->name, "%s", distance_name);
}

bool shots_can_adjust(const char *names, char *wrong, size_t size)
{
    while (next_name(&names, wrong, size)) {
        bool found = false;
        for (size_t i = 0; i < COVARIATE_COLUMNS; i++) {
            const size_t length = strlen(wrong);
            found = found || (!strncmp(covariates[i].name, wrong, length) &&
                              (!covariates[i].name[length] || covariates[i].name[length] == '_'));
        }
        if (!found)
            return false;
    }
    return true;
}

static double covariate_value(const shots_study *s, size_t shot, const shots_covariate *c)
{
    if (c->column >= 0)
        return printed(s->measured, shot, c->column);
    double square = 0;
    for (size_t k = 0; k < s->covariate_count; k++)
        if (s->covariates[k].column >= 0 && strncmp(s->covariates[k].name, "head", 4) != 0)
            square += pow(printed(s->measured, shot, s->covariates[k].column), 2);
    return square;
}

/* Rows of the regression of one output. */
typedef struct rows {
    size_t count, batches;
    double *value, *covariate[SHOTS_COVARIATES];
    size_t *batch, *of; /* of: which batch each is of those of the study, the last first */
} rows;

static void rows_free(rows *r)
{
    free(r->value);
    free(r->batch);
    free(r->of);
    for (size_t k = 0; k < SHOTS_COVARIATES; k++)
        free(r->covariate[k]);
}

static bool rows_make(const shots_study *s, rows *r)
{
    const size_t n = s->measured->count + 1;
    r->value = calloc(n, sizeof *r->value);
    r->batch = calloc(n, sizeof *r->batch);
    r->of = calloc(s->measured->batch_count + 1, sizeof *r->of);
    bool good = r->value && r->batch && r->of;
    for (size_t k = 0; k < s->covariate_count; k++)
        good = (r->covariate[k] = calloc(n, sizeof(double))) && good;
    return good;
}

static bool is_complete(const shots_study *s, const shots_output *o, size_t shot, bool *lacks)
{
    *lacks = false;
    if (s->measured->shots[shot].set_aside || isnan(printed(s->measured, shot, o->column)))
        return false;
    for (size_t k = 0; k < s->covariate_count; k++)
        *lacks = *lacks || isnan(covariate_value(s, shot, &s->covariates[k]));
    return !*lacks;
}

static void add_row(const shots_study *s, const shots_output *o, rows *r, size_t shot, size_t of)
{
    r->value[r->count] = printed(s->measured, shot, o->column);
    r->batch[r->count] = of;
    for (size_t k = 0; k < s->covariate_count; k++)
        r->covariate[k][r->count] = covariate_value(s, shot, &s->covariates[k]);
    r->count++;
}

/* The last batch first, so that differences are later less earlier; without those of too few shots. */
static void rows_fill(const shots_study *s, shots_output *o, rows *r)
{
    const caber_measured *m = s->measured;
    bool lacks;
    for (size_t b = m->batch_count; b-- > 0;) {
        const size_t before = r->count;
        for (size_t i = 0; i < m->count; i++) {
            if (m->shots[i].batch != b)
                continue;
            if (is_complete(s, o, i, &lacks))
                add_row(s, o, r, i, r->batches);
            o->adjust_missing += lacks;
        }
        if (r->count - before < 2)
            r->count = before;
        else
            r->of[r->batches++] = b;
    }
}

static shots_pair *pair_of(const shots_output *o, size_t later, size_t earlier)
{
    for (size_t i = 0; i < o->pair_count; i++)
        if (o->pairs[i].later == later && o->pairs[i].earlier == earlier)
            return &o->pairs[i];
    return NULL;
}

static caber_status run_adjust(const shots_study *s, shots_output *o, const rows *r,
                               caber_message *message)
{
    const double *covariate[SHOTS_COVARIATES];
    const char *name[SHOTS_COVARIATES];
    for (size_t k = 0; k < s->covariate_count; k++) {
        covariate[k] = r->covariate[k];
        name[k] = s->covariates[k].label;
    }
    const batch_adjust_data data = {.count = r->count,
                                    .value = r->value,
                                    .batch = r->batch,
                                    .batches = r->batches,
                                    .covariates = s->covariate_count,
                                    .covariate = covariate,
                                    .covariate_name = name};
    o->has_adjust = true;
    caber_status status = batch_adjust_run(&data, &s->settings, &o->adjust, message);
    for (size_t i = 0; status == CABER_OK && o->adjust.pair && i < o->adjust.pairs; i++) {
        const batch_adjusted_pair *p = &o->adjust.pair[i];
        shots_pair *own = pair_of(o, r->of[p->a], r->of[p->b]);
        if (own)
            own->adjusted = p;
    }
    return status;
}

static caber_status adjust(const shots_study *s, shots_output *o, caber_message *message)
{
    if (!s->covariate_count || !follows_the_strike(o->about))
        return CABER_OK;
    rows r = {.count = 0};
    caber_status status = rows_make(s, &r) ? CABER_OK : no_memory(message);
    if (status == CABER_OK) {
        rows_fill(s, o, &r);
        if (r.batches >= 2)
            status = run_adjust(s, o, &r, message);
    }
    rows_free(&r);
    return status;
}

/* ------------------------------------------------------------------ all tests */

/* Tests of one family, for batch_holm. */
typedef enum family { MEANS, SPREADS, ADJUSTED_MEANS, ADJUSTED_SPREADS, FAMILIES } family;

static batch_test *test_of(shots_output *o, shots_pair *p, family f)
{
    batch_adjusted_pair *adjusted = NULL;
    if (p->adjusted)
        adjusted = &o->adjust.pair[p->adjusted - o->adjust.pair];
    switch (f) {
    case MEANS:
        return &p->stats.means;
    case SPREADS:
        return &p->stats.spreads;
    case ADJUSTED_MEANS:
        return adjusted ? &adjusted->test : NULL;
    default:
        return adjusted ? &adjusted->spreads : NULL;
    }
}

static caber_status correct(shots_study *s, family f, size_t *known, caber_message *message)
{
    size_t pairs = 0, n = 0;
    for (size_t i = 0; i < s->output_count; i++)
        pairs += s->outputs[i].pair_count;
    batch_test **tests = calloc(pairs + 1, sizeof *tests);
    if (!tests)
        return no_memory(message);
    *known = 0;
    for (size_t i = 0; i < s->output_count; i++)
        for (size_t k = 0; k < s->outputs[i].pair_count; k++) {
            batch_test *t = test_of(&s->outputs[i], &s->outputs[i].pairs[k], f);
            if (!t)
                continue;
            *known += t->reason == BATCH_KNOWN;
            tests[n++] = t;
        }
    caber_status status = n ? batch_holm(tests, n, message) : CABER_OK;
    free(tests);
    return status;
}

static caber_status correct_all(shots_study *s, caber_message *message)
{
    size_t ignored;
    caber_status status = correct(s, MEANS, &s->tests, message);
    if (status == CABER_OK)
        status = correct(s, SPREADS, &s->spread_tests, message);
    if (status == CABER_OK)
        status = correct(s, ADJUSTED_MEANS, &s->adjusted_tests, message);
    if (status == CABER_OK)
        status = correct(s, ADJUSTED_SPREADS, &ignored, message);
    return status;
}

/* Planned for the strictest step of Holm, so that the shots settle it whatever the other tests say. */
static double planned_alpha(const shots_study *s, size_t tests)
{
    return fmax((1 - s->settings.level) / (double)(tests ? tests : 1), 1e-6);
}

static caber_status plan(const shots_study *s, shots_output *o, shots_pair *p,
                         caber_message *message)
{
    const batch later = {o->value[p->later], o->count[p->later]};
    const batch earlier = {o->value[p->earlier], o->count[p->earlier]};
    batch_power_settings power = batch_power_default();
    power.alpha = planned_alpha(s, s->tests);
    caber_status status = batch_need_means(&later, &earlier, shots_tells(s, &p->stats.means),
                                           &power, &p->need_mean, message);
    power.alpha = planned_alpha(s, s->spread_tests);
    if (status == CABER_OK)
        status = batch_need_spreads(&later, &earlier, shots_tells(s, &p->stats.spreads), &power,
                                    &p->need_spread, message);
    return status;
}

static caber_status plan_all(shots_study *s, caber_message *message)
{
    caber_status status = CABER_OK;
    for (size_t i = 0; i < s->output_count; i++)
        for (size_t k = 0; k < s->outputs[i].pair_count && status == CABER_OK; k++)
            status = plan(s, &s->outputs[i], &s->outputs[i].pairs[k], message);
    return status;
}

/* ------------------------------------------------------------------ all of it */

static caber_status study_output(shots_study *s, shots_output *o, caber_message *message)
{
    caber_status status = take_values(s->measured, o, message);
    if (status == CABER_OK)
        status = summarise(s, o, message);
    if (status == CABER_OK)
        status = compare(s, o, message);
    return status == CABER_OK ? adjust(s, o, message) : status;
}

static caber_status check_left(const caber_measured *m, caber_message *message)
{
    for (size_t b = 0; b < m->batch_count; b++)
        if (m->batches[b].set_aside == m->batches[b].count)
            return message_set(message, CABER_BAD_INPUT, "%s: all of its %zu shots are set aside",
                               m->batches[b].name, m->batches[b].count);
    return CABER_OK;
}

caber_status shots_study_run(const caber_measured *m, const shots_request *request,
                             shots_study *out, caber_message *message)
{
    *out = (shots_study){.measured = m, .settings = request->settings};
    caber_status status = check_left(m, message);
    if (status != CABER_OK)
        return status;
    out->outputs = calloc(m->column_count + 1, sizeof *out->outputs);
    if (!out->outputs)
        return no_memory(message);
    choose_covariates(out, request->adjust);
    caution_batches(out);
    for (size_t c = 0; c < m->column_count && status == CABER_OK; c++) {
        if (request->only && !list_names(request->only, &m->columns[c]))
            continue;
        shots_output *o = &out->outputs[out->output_count++];
        o->column = (int)c;
        o->about = &m->columns[c];
        status = study_output(out, o, message);
        if (status == CABER_OK)
            caution_output(out, o);
    }
    if (status == CABER_OK)
        status = correct_all(out, message);
    return status == CABER_OK ? plan_all(out, message) : status;
}

void shots_study_free(shots_study *s)
{
    for (size_t i = 0; s->outputs && i < s->output_count; i++) {
        shots_output *o = &s->outputs[i];
        for (size_t b = 0; o->value && b < s->measured->batch_count; b++)
            free(o->value[b]);
        free(o->value);
        free(o->count);
        free(o->summary);
        free(o->pairs);
        batch_adjust_free(&o->adjust);
    }
    free(s->outputs);
    *s = (shots_study){.output_count = 0};
}

/* ------------------------------------------------------------------ what hangs on flagged shots */

/* Appends "average of carry" to a list. */
static void append(char *text, size_t size, const shots_output *o, bool spread)
{
    const size_t used = strlen(text);
    snprintf(text + used, size - used, "%s%s of %s", used ? ", " : "",
             spread ? "spread" : "average", o->about->label);
}

void shots_study_doubt(shots_study *s, const shots_study *stricter, size_t flagged)
{
    char more[160] = "", fewer[160] = "";
    if (s->measured->batch_count < 2) /* one alone has no verdicts */
        return;
    for (size_t i = 0; i < s->output_count; i++) {
        const shots_output *o = &s->outputs[i];
        for (size_t k = 0; k < o->pair_count; k++)
            for (int spread = 0; spread < 2; spread++) {
                const shots_pair *p = &o->pairs[k];
                const shots_pair *q = pair_of(&stricter->outputs[i], p->later, p->earlier);
                const bool before = shots_tells(s, spread ? &p->stats.spreads : &p->stats.means);
                const bool after =
                    q && shots_tells(stricter, spread ? &q->stats.spreads : &q->stats.means);
                if (before != after)
                    append(after ? more : fewer, sizeof more, o, spread);
            }
    }
    if (!more[0] && !fewer[0])
        caution(s, "Setting the %zu flagged shot%s aside would change no verdict.", flagged,
                flagged == 1 ? "" : "s");
    if (more[0])
        caution(s, "With the %zu flagged shot%s set aside, told apart as well: %s.", flagged,
                flagged == 1 ? "" : "s", more);
    if (fewer[0])
        caution(s, "With the %zu flagged shot%s set aside, no longer told apart: %s.", flagged,
                flagged == 1 ? "" : "s", fewer);
}

/* ------------------------------------------------------------------ verdicts */

bool shots_tells(const shots_study *s, const batch_test *test)
{
    return test->reason == BATCH_KNOWN && test->holm < 1 - s->settings.level;
}

void shots_verdict(const shots_study *s, const batch_test *test, const batch_need *need, char *text,
                   size_t size)
{
    if (test->reason != BATCH_KNOWN)
        snprintf(text, size, "not tested: %s", batch_reason_text(test->reason));
    else if (shots_tells(s, test))
        snprintf(text, size, test->holm < 0.001 ? "told apart, p < 0.001" : "told apart, p %.3f",
                 test->holm);
    else if (need && need->kind == BATCH_NEED_MORE)
        snprintf(text, size, "not told apart: about %d more each", need->more);
    else if (need && need->kind == BATCH_NEED_ALIKE)
        snprintf(text, size, "not told apart: too alike to tell");
    else
        snprintf(text, size, "not told apart");
}
