/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the text, the JSON and the plot of measured shots share: for every output what each batch says
 * of it, and what each pair of batches.
 *
 * Values are in printed units. Pairs are (later less earlier) in the order of the batches. Each of the
 * four families of tests (averages and spreads, as measured and at the same strike and head speed) is
 * corrected by Holm over all of its outputs and pairs. */
#ifndef APP_SHOTS_H
#define APP_SHOTS_H

#include "app/app.h"
#include "study/batch_adjust.h"
#include "study/batch_power.h"
#include "study/batch_stats.h"

enum { SHOTS_COVARIATES = 6, SHOTS_CAUTIONS = 40 };

/* What is asked for. */
typedef struct shots_request {
    const char *only;   /* names of outputs, NULL = all that were measured */
    const char *adjust; /* names of covariates, "none", NULL = those that were measured */
    batch_settings settings;
} shots_request;

/* A quantity that is removed by regression. */
typedef struct shots_covariate {
    char label[64]; /* "head speed", "squared distance off the middle" */
    char name[64];  /* as in JSON */
    int column;     /* -1 = the square of the distance */
} shots_covariate;

/* Two batches beside each other. */
typedef struct shots_pair {
    size_t later, earlier; /* batches */
    batch_pair stats;      /* later against earlier */
    batch_need need_mean, need_spread;
    /* At the same covariates: differences later less earlier; NULL when there are none. */
    const batch_adjusted_pair *adjusted; /* its a is the later one, its b the earlier */
} shots_pair;

typedef struct shots_output {
    int column; /* of the measured shots */
    const caber_measurable *about;
    double **value;         /* [batches], printed unit, those that are not set aside; owned */
    size_t *count;          /* [batches]; owned */
    batch_summary *summary; /* [batches], of those with shots; owned */
    shots_pair *pairs;      /* [pair_count], of batches that both have shots; owned */
    size_t pair_count;
    bool has_adjust;       /* it was asked for and makes sense for this output */
    batch_adjust adjust;   /* batches counted from the last; owned */
    size_t adjust_missing; /* shots that lack a covariate */
} shots_output;

typedef struct shots_study {
    const caber_measured *measured; /* cleaned; not owned */
    batch_settings settings;
    size_t covariate_count;
    shots_covariate covariates[SHOTS_COVARIATES];
    size_t output_count;
    shots_output *outputs;        /* owned */
    size_t tests, adjusted_tests; /* of each family that could be made: as many for spreads */
    size_t spread_tests;
    size_t caution_count;
    char cautions[SHOTS_CAUTIONS][400];
} shots_study;

/* Given cleaned shots; fills *out, to be emptied with shots_study_free whatever was returned. */
caber_status shots_study_run(const caber_measured *measured, const shots_request *request,
                             shots_study *out, caber_message *message);
void shots_study_free(shots_study *study);
/* Given a study and the same one with flagged shots set aside as well, whose number is `flagged`; adds
 * what that changes to the cautions of the first. */
void shots_study_doubt(shots_study *study, const shots_study *stricter, size_t flagged);

/* Given comma-separated names of measured columns, with or without units; returns whether all are there,
 * and writes the first that is not. */
bool shots_has_names(const caber_measured *measured, const char *names, char *missing, size_t size);

/* Whether each of these names is of head speed or of a strike; writes the first that is not. */
bool shots_can_adjust(const char *names, char *wrong, size_t size);

/* Whether a test tells two batches apart after the correction. */
bool shots_tells(const shots_study *study, const batch_test *test);
/* Writes a verdict in plain words: "told apart (p 0.003), large", "not told apart: 23 more each". */
void shots_verdict(const shots_study *study, const batch_test *test, const batch_need *need,
                   char *text, size_t size);

/* Returns the word of a rule, as on the command line. */
const char *shots_rule_word(caber_cleaning rule);
const char *shots_rule_text(caber_cleaning rule);
/* Writes why a shot breaks a rule: "ball speed 95.00 m/s". */
void shots_why(const caber_measured *measured, size_t shot, caber_cleaning rule, char *text,
               size_t size);

#endif
