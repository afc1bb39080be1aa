/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/repeat.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>

#include "base/message.h"
#include "base/units.h"

typedef struct habit_row {
    const char *name, *unit, *meaning;
    dimension dim;
    size_t offset; /* in caber_repeat */
} habit_row;

static const habit_row rows[CABER_HABITS] = {
#define HABIT_ROW(symbol, member, si, dimension, unit, most, text)                                 \
    [symbol] = {#member, unit, text, DIMENSION_##dimension, offsetof(caber_repeat, member)},
    CABER_HABIT_LIST(HABIT_ROW)
#undef HABIT_ROW
};

caber_habit_note caber_habit_about(caber_habit habit)
{
    const habit_row *row = &rows[habit];
    return (caber_habit_note){row->name, row->unit, row->meaning,
                              unit_from_si(unit_find(row->unit, row->dim), 1)};
}

double caber_habit_sd(const caber_repeat *repeat, caber_habit habit)
{
    return *(const double *)(const void *)((const char *)repeat + rows[habit].offset);
}

/* ------------------------------------------------------------------ correlations */

void repeat_correlations(const caber_repeat *repeat, double out[CABER_HABITS * CABER_HABITS])
{
    for (int i = 0; i < CABER_HABITS * CABER_HABITS; i++)
        out[i] = i % (CABER_HABITS + 1) == 0;
    for (size_t i = 0; i < repeat->pairing_count; i++) {
        const caber_pairing *p = &repeat->pairings[i];
        out[p->of * CABER_HABITS + p->with] = p->correlation;
        out[p->with * CABER_HABITS + p->of] = p->correlation;
    }
}

bool repeat_factor(double c[CABER_HABITS * CABER_HABITS])
{
    const double edge = 1e-9;
    for (int i = 0; i < CABER_HABITS * CABER_HABITS; i++)
        if (i % (CABER_HABITS + 1))
            c[i] /= 1 + edge;
    gsl_matrix_view m = gsl_matrix_view_array(c, CABER_HABITS, CABER_HABITS);
    gsl_set_error_handler_off();
    if (gsl_linalg_cholesky_decomp1(&m.matrix) != GSL_SUCCESS)
        return false;
    for (int i = 0; i < CABER_HABITS; i++)
        for (int j = i + 1; j < CABER_HABITS; j++)
            c[i * CABER_HABITS + j] = 0;
    return true;
}

static bool same_pair(const caber_pairing *a, const caber_pairing *b)
{
    return (a->of == b->of && a->with == b->with) || (a->of == b->with && a->with == b->of);
}

static caber_status check_pairs(const caber_repeat *repeat, caber_message *message)
{
    for (size_t i = 0; i < repeat->pairing_count; i++) {
        const caber_pairing *p = &repeat->pairings[i];
        if (p->of == p->with)
            return message_set(message, CABER_BAD_INPUT,
                               "player.repeat.together[%zu].with: %s is not allowed; it must be "
                               "another habit than `of`",
                               i, rows[p->with].name);
        for (size_t j = 0; j < i; j++)
            if (same_pair(p, &repeat->pairings[j]))
                return message_set(message, CABER_BAD_INPUT,
                                   "player.repeat.together[%zu]: %s and %s are not allowed twice; "
                                   "entry %zu has them too, counted from 0",
                                   i, rows[p->of].name, rows[p->with].name, j);
    }
    return CABER_OK;
}

static caber_status check_matrix(const caber_repeat *repeat, caber_message *message)
{
    double c[CABER_HABITS * CABER_HABITS];
    repeat_correlations(repeat, c);
    if (repeat_factor(c))
        return CABER_OK;
    return message_set(
        message, CABER_BAD_INPUT,
        "player.repeat.together: no swings have all these correlations at once; their matrix, in "
        "which pairs that are not given have 0, must have no negative eigenvalue (two habits that "
        "both go closely with a third must go with each other)");
}

caber_status repeat_check(const caber_repeat *repeat, caber_message *message)
{
    const caber_status status = check_pairs(repeat, message);
    return status == CABER_OK ? check_matrix(repeat, message) : status;
}

/* ------------------------------------------------------------------ what they vary */

static const char *drive_word(caber_drive drive)
{
    static const char *const words[] = {"torque", "motion", "gear", "locked"};
    return words[drive];
}

/* Which drive a habit needs, and whether it is there. */
typedef struct need {
    caber_habit habit;
    const char *of;    /* the load's part */
    caber_drive drive; /* as it is */
    size_t rows;       /* of its table */
    bool met;
    const char *wanted; /* in words */
} need;

static caber_status check_need(const caber_repeat *repeat, const need *n, caber_message *message)
{
    const caber_habit_note note = caber_habit_about(n->habit);
    const double sd = caber_habit_sd(repeat, n->habit);
    if (n->met || !(sd > 0))
        return CABER_OK;
    return message_set(
        message, CABER_BAD_INPUT,
        "player.repeat.%s: %g %s is not allowed with drive: %s%s of load.%s; it varies "
        "%s, which needs %s: leave it out or 0",
        note.name, sd * note.factor, note.unit, drive_word(n->drive), n->rows ? " and a table" : "",
        n->of, note.meaning, n->wanted);
}

caber_status repeat_check_drives(const caber_player *player, caber_message *message)
{
    const caber_load *l = &player->load;
    const size_t hub = l->hub.table.count, grip = l->grip.table.count;
    const bool program = l->grip.drive == CABER_TORQUE && !grip;
    const char *const wanted = "drive: torque without a table";
    const need needs[] = {
        {CABER_HABIT_RISE, "grip", l->grip.drive, grip, program, wanted},
        {CABER_HABIT_PEAK, "grip", l->grip.drive, grip, program, wanted},
        {CABER_HABIT_RELEASE, "grip", l->grip.drive, grip, program, wanted},
        {CABER_HABIT_HUB, "hub", l->hub.drive, hub, l->hub.drive == CABER_TORQUE && !hub, wanted},
        {CABER_HABIT_ARM, "hub", l->hub.drive, hub, l->hub.drive != CABER_MOTION,
         "another drive than motion, whose table has the start"},
        {CABER_HABIT_SQUARE, "roll", l->roll.drive, l->roll.table.count,
         l->roll.drive == CABER_GEAR, "drive: gear"}};
    for (size_t i = 0; i < sizeof needs / sizeof *needs; i++) {
        const caber_status status = check_need(&player->repeat, &needs[i], message);
        if (status != CABER_OK)
            return status;
    }
    return CABER_OK;
}
