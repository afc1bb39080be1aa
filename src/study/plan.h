/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The plan of a study: every case as a checked setup, without reading a file again.
 *
 * A case is a point of the design and, when the study has replicates, one of the player's varied swings
 * there: case = point x replicates + replicate. Replicate r is drawn from stream r of the seed, so it is
 * the same swing in every point (common random numbers; habit.h), and points differ by their factors
 * alone. A setup is filled in this order: files, then the values of the factors, then the habits.
 *
 * A plan is constant, and threads may share it; a plan_case is one thread's own. */
#ifndef STUDY_PLAN_H
#define STUDY_PLAN_H

#include "study/columns.h"
#include "study/design.h"
#include "swing/field_address.h"

/* The parts of a setup that have files. */
typedef enum plan_part { PLAN_SHAFT, PLAN_HEAD, PLAN_GRIP, PLAN_PLAYER, PLAN_PARTS } plan_part;

/* A factor. Its values are SI; of a word its place among the field's words, of yes and no 1 and 0, of a
 * choice of files the place in the list, from 0. */
typedef struct plan_factor {
    char name[CABER_NAME_SIZE];
    bool chosen;           /* a choice of files; else `at` is the input */
    plan_part part;        /* of a choice */
    char **files;          /* [file_count], their paths from the current directory; owned */
    char **named;          /* [file_count], their paths as the study has them; owned */
    caber_setup **choices; /* [file_count], the base setup with each of them; owned */
    size_t file_count;
    field_address at;
} plan_factor;

struct caber_study {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    char *text;       /* of the study's file, verbatim; owned */
    char **overrides; /* [override_count], those given besides the study's own, as given; owned */
    size_t override_count;
    caber_setup *base; /* owned */
    size_t factor_count;
    plan_factor *factors; /* owned */
    factor *ranges;       /* [factor_count], their values; owned */
    design_settings how;
    design *design; /* owned */
    int seed;
    size_t replicates;      /* 0 = the usual swing alone */
    size_t output_count;    /* columns that are kept */
    output_column *outputs; /* owned */
    size_t series_count;    /* 0 = none */
    series_column *series;  /* owned */
    double series_step;     /* s, of their grid, which is base->settings.sample as well */
    size_t series_points;
};

/* Cases in all, and points of the design. */
size_t plan_cases(const caber_study *plan);
size_t plan_points(const caber_study *plan);
size_t plan_point_of(const caber_study *plan, size_t index);
/* Of a case; 0 without replicates. */
size_t plan_replicate_of(const caber_study *plan, size_t index);

/* Point `i` of `looks`, at least 1, that are evenly spread over all points. */
size_t plan_spread_point(const caber_study *plan, size_t i, size_t looks);

/* Fills values[factor_count] of a point. */
void plan_values(const caber_study *plan, size_t point, double *values);
/* Given the values of two points; whether they swing the same club, so that one model serves both by
 * model_set_player, and whether they have the same swing as well, so that the ball alone differs. */
bool plan_same_club(const caber_study *plan, const double *a, const double *b);
bool plan_same_swing(const caber_study *plan, const double *a, const double *b);
/* Whether some output is of the ball, so that balls fly. */
bool plan_flies(const caber_study *plan);
/* Unit in which a factor is printed; "" = none. */
const char *plan_unit(const plan_factor *f);
/* Whether the values of a factor are places in a list: of files, words, or no and yes. */
bool plan_factor_is_word(const plan_factor *f);

/* One setup at a time, with what it owns. */
typedef struct plan_case {
    caber_setup
        setup;      /* of the last point that was filled in; its tables and errors are the plan's */
    double *values; /* [factor_count] */
    size_t point;
    caber_station *stations;
    caber_section *sections;
    caber_weight *weights;
    caber_pairing *pairings;
} plan_case;

/* Errors: CABER_NO_MEMORY. */
caber_status plan_case_create(const caber_study *plan, plan_case **out, caber_message *message);
void plan_case_free(plan_case *c); /* NULL is allowed */

/* Fills c->setup with the usual swing of a point, and checks it. Errors: CABER_BAD_INPUT for values that
 * are no setup together; the message begins with the field's path. */
caber_status plan_case_fill(const caber_study *plan, size_t point, plan_case *c,
                            caber_message *message);
/* Given a filled case and the usual swing of it; fills *varied, which borrows from the case, with the
 * player of a replicate, the ball lying where the usual swing met it. Errors: CABER_BAD_INPUT for a player
 * without habits, or a varied setup that cannot be. */
caber_status plan_case_vary(const caber_study *plan, const plan_case *c, const caber_swing *usual,
                            size_t replicate, caber_setup *varied, caber_message *message);

/* Points that plan_check looks at. */
enum { PLAN_CHECKED_MOST = 20000 };
/* Fills in points before anything runs: all, or PLAN_CHECKED_MOST of them, evenly spread. Errors:
 * CABER_BAD_INPUT, naming the first point that is no setup, its values and why; CABER_NO_MEMORY. */
caber_status plan_check(const caber_study *plan, caber_message *message);

/* Ends a plan, however far it was made; NULL is allowed. */
void plan_free(caber_study *plan);

#endif
