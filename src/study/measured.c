/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Shots as measured: what may be measured, and which shots are set aside. Nothing is ever taken out of
 * a batch: a shot is marked, with the rule and the column that say so.
 *
 * The rules are choices of ours; the limits behind them:
 *   A ball of mass m struck by a free head of mass M leaves it at v (1 + e)/(1 + m/M). With the
 *   heaviest driver heads, M = 0.22 kg, m = 0.0459 kg and even e = 0.92, which no club that conforms
 *   has, that is 1.59 v: a ball faster than 1.6 heads was misread.
 *   The robust standard deviation is 1.4826 times the median distance from the median, which for a
 *   normal distribution is the standard deviation (1.4826 = 1/0.67449, its upper quartile). One normal
 *   shot in 1.7 million is beyond 5 of it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_statistics_double.h>

#include "base/message.h"
#include "base/units.h"
#include "study/measured.h"

/* ------------------------------------------------------------------ what may be measured */

/* What only a device gives, in printed units. */
static const caber_measurable device_rows[] = {
    {"spin_rpm", "rpm", "of the ball about its own axis, however that lies", CABER_RPM, 0, "spin",
     0, 20000},
    {"total_m", "m", "along the target line to where the ball stops", 1, 1, "total", 0, 500},
    {"face_to_path_deg", "deg", "face angle less path", CABER_DEG, 2, "face to path", -45, 45},
};

/* What a golf shot can be at all, in printed units. */
static const struct possible {
    const char *name;
    double least, most;
} possible[] = {
    {"head_speed_mps", 1, 80},
    {"downswing_time_s", 0.05, 2},
    {"delivered_loft_deg", -20, 85},
    {"face_angle_deg", -45, 45},
    {"delivered_lie_deg", -45, 45},
    {"closure_rate_deg_s", -2000, 15000},
    {"attack_angle_deg", -30, 30},
    {"path_deg", -45, 45},
    {"strike_toe_mm", -80, 80},
    {"strike_high_mm", -80, 80},
    {"handle_lean_deg", -60, 60},
    {"struck_toe_mm", -80, 80},
    {"struck_high_mm", -80, 80},
    {"ball_speed_mps", 0.5, 110},
    {"smash_factor", 0.1, 1.6},
    {"launch_angle_deg", -20, 85},
    {"launch_direction_deg", -60, 60},
    {"backspin_rpm", -5000, 20000},
    {"sidespin_rpm", -12000, 12000},
    {"spin_axis_deg", -90, 90},
    {"carry_m", 0, 400},
    {"side_m", -200, 200},
    {"apex_m", 0, 120},
    {"flight_time_s", 0, 15},
    {"descent_angle_deg", 0, 90},
};

/* Outputs of the simulation that nobody measures. */
static const char *const not_measured[] = {"energy_residual", "carry_low_m", "carry_high_m"};

static bool is_measured(const caber_field *f)
{
    for (size_t i = 0; i < sizeof not_measured / sizeof not_measured[0]; i++)
        if (!strcmp(f->name, not_measured[i]))
            return false;
    return unit_find(f->unit, DIMENSION_NONE) != NULL;
}

/* "peak_lag_time_s" as "peak lag time". */
static void label_of_name(const char *name, char *label, size_t size)
{
    const char *last = strrchr(name, '_');
    const bool has_unit = last && strlen(last) <= 4;
    snprintf(label, size, "%.*s", has_unit ? (int)(last - name) : (int)strlen(name), name);
    for (char *c = label; *c; c++)
        if (*c == '_')
            *c = ' ';
}

static void row_of_field(const caber_field *f, caber_measurable *out)
{
    *out = (caber_measurable){.name = f->name,
                              .unit = f->unit,
                              .meaning = f->meaning,
                              .factor = f->factor,
                              .decimals = f->decimals,
                              .least = -HUGE_VAL,
                              .most = HUGE_VAL};
    snprintf(out->label, sizeof out->label, "%s", f->label);
    if (f->label[0] == ' ') /* in its table it says the rest of a label above */
        label_of_name(f->name, out->label, sizeof out->label);
    for (size_t i = 0; i < sizeof possible / sizeof possible[0]; i++)
        if (!strcmp(possible[i].name, f->name)) {
            out->least = possible[i].least / f->factor;
            out->most = possible[i].most / f->factor;
        }
}

/* Takes row `*row` of the measured ones of a table, or lowers *row by how many there are. */
static bool table_row(const caber_field *fields, size_t count, size_t *row, caber_measurable *out)
{
    for (size_t i = 0; i < count; i++) {
        if (!is_measured(&fields[i]))
            continue;
        if (*row == 0) {
            row_of_field(&fields[i], out);
            return true;
        }
        --*row;
    }
    return false;
}

bool caber_measurable_at(size_t row, caber_measurable *out)
{
    size_t impacts, shots;
    const caber_field *impact = caber_impact_fields(&impacts), *shot = caber_shot_fields(&shots);
    if (table_row(impact, impacts, &row, out) || table_row(shot, shots, &row, out))
        return true;
    if (row >= sizeof device_rows / sizeof device_rows[0])
        return false;
    *out = device_rows[row];
    out->least /= out->factor;
    out->most /= out->factor;
    return true;
}

int measured_column(const caber_measured *m, const char *name)
{
    for (size_t i = 0; i < m->column_count; i++)
        if (!strcmp(m->columns[i].name, name))
            return (int)i;
    return -1;
}

void caber_measured_free(caber_measured *m)
{
    if (!m)
        return;
    for (size_t i = 0; i < m->file_count; i++)
        free(m->files[i]);
    free(m->files);
    free(m->batches);
    free(m->columns);
    free(m->shots);
    free(m->value);
    free(m);
}

/* ------------------------------------------------------------------ impossible */

static const double fastest_ball = 1.6; /* heads */
/* Of a column's values in a batch: when more are impossible, its unit is wrong, not its shots. */
static const double mostly = 0.5;
enum { MOSTLY_LEAST = 3, JUDGED_LEAST = 5 };

static double value_at(const caber_measured *m, size_t shot, int column)
{
    return column < 0 ? (double)NAN : m->value[shot * m->column_count + (size_t)column];
}

static void mark(caber_measured_shot *s, caber_cleaning rule, int column)
{
    if (!(s->broken & 1u << rule))
        s->column[rule] = column;
    s->broken |= 1u << rule;
}

static const char *file_part(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* How often a batch breaks a bound in a column. */
typedef struct tally {
    size_t count, bad, first; /* shots with a value, those beyond, the first of them */
} tally;

static void tally_add(tally *t, size_t shot, bool bad)
{
    if (bad && !t->bad)
        t->first = shot;
    t->count++;
    t->bad += bad;
}

static bool tally_is_most(const tally *t)
{
    return t->bad >= MOSTLY_LEAST && (double)t->bad > mostly * (double)t->count;
}

static caber_status wrong_unit(const caber_measured *m, const tally *t, int column,
                               caber_message *message)
{
    const caber_measurable *c = &m->columns[column];
    const caber_measured_shot *s = &m->shots[t->first];
    return message_set(message, CABER_BAD_INPUT,
                       "%s:%zu: %s: %zu of %zu values of %s are impossible, such as %g%s%s here; "
                       "is the unit right?",
                       m->files[s->file], s->line, c->name, t->bad, t->count,
                       m->batches[s->batch].name, value_at(m, t->first, column) * c->factor,
                       c->unit[0] ? " " : "", c->unit);
}

static caber_status check_column(caber_measured *m, int column, tally *tallies,
                                 caber_message *message)
{
    const caber_measurable *c = &m->columns[column];
    memset(tallies, 0, m->batch_count * sizeof *tallies);
    for (size_t i = 0; i < m->count; i++) {
        const double v = value_at(m, i, column);
        if (isnan(v))
            continue;
        const bool bad = v < c->least || v > c->most;
        tally_add(&tallies[m->shots[i].batch], i, bad);
        if (bad)
            mark(&m->shots[i], CABER_CLEAN_IMPOSSIBLE, column);
    }
    for (size_t b = 0; b < m->batch_count; b++)
        if (tally_is_most(&tallies[b]))
            return wrong_unit(m, &tallies[b], column, message);
    return CABER_OK;
}

static caber_status wrong_speeds(const caber_measured *m, const tally *t, caber_message *message)
{
    const caber_measured_shot *s = &m->shots[t->first];
    return message_set(message, CABER_BAD_INPUT,
                       "%s:%zu: ball_speed_mps: in %zu of %zu shots of %s the ball is faster than "
                       "%g times the head; are the units of both right?",
                       m->files[s->file], s->line, t->bad, t->count, m->batches[s->batch].name,
                       fastest_ball);
}

static caber_status check_speeds(caber_measured *m, tally *tallies, caber_message *message)
{
    const int ball = measured_column(m, "ball_speed_mps"),
              head = measured_column(m, "head_speed_mps");
    memset(tallies, 0, m->batch_count * sizeof *tallies);
    for (size_t i = 0; i < m->count; i++) {
        const double v = value_at(m, i, ball), from = value_at(m, i, head);
        if (isnan(v) || isnan(from))
            continue;
        const bool bad = v > fastest_ball * from;
        tally_add(&tallies[m->shots[i].batch], i, bad);
        if (bad)
            mark(&m->shots[i], CABER_CLEAN_IMPOSSIBLE, ball);
    }
    for (size_t b = 0; b < m->batch_count; b++)
        if (tally_is_most(&tallies[b]))
            return wrong_speeds(m, &tallies[b], message);
    return CABER_OK;
}

static caber_status mark_impossible(caber_measured *m, caber_message *message)
{
    tally *tallies = calloc(m->batch_count + 1, sizeof *tallies);
    if (!tallies)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    caber_status status = CABER_OK;
    for (size_t c = 0; c < m->column_count && status == CABER_OK; c++)
        status = check_column(m, (int)c, tallies, message);
    if (status == CABER_OK)
        status = check_speeds(m, tallies, message);
    free(tallies);
    return status;
}

/* ------------------------------------------------------------------ mishits and outliers */

static const double poor_smash = 0.93, poor_ball = 0.9; /* of the batch's median */
static const double far_out = 5;                        /* robust standard deviations */

/* The shots of one batch that are possible, and room for their values. */
typedef struct judged {
    caber_measured *m;
    size_t count;
    size_t *shot;
    double *value, *sorted;
} judged;

/* Ball over head; else what the column of smash factors says. */
static double smash_of(const caber_measured *m, size_t shot)
{
    const double ball = value_at(m, shot, measured_column(m, "ball_speed_mps")),
                 head = value_at(m, shot, measured_column(m, "head_speed_mps"));
    return isnan(ball / head) ? value_at(m, shot, measured_column(m, "smash_factor")) : ball / head;
}

/* Copies the values that are there to `sorted`; returns how many. */
static size_t take_values(judged *j)
{
    size_t n = 0;
    for (size_t i = 0; i < j->count; i++)
        if (!isnan(j->value[i]))
            j->sorted[n++] = j->value[i];
    return n;
}

static void mark_below(judged *j, double share, int column)
{
    const size_t n = take_values(j);
    if (n < JUDGED_LEAST)
        return;
    const double limit = share * gsl_stats_median(j->sorted, 1, n);
    for (size_t i = 0; i < j->count; i++)
        if (j->value[i] < limit) /* false of NAN */
            mark(&j->m->shots[j->shot[i]], CABER_CLEAN_MISHIT, column);
}

static void mark_mishits(judged *j)
{
    const int ball = measured_column(j->m, "ball_speed_mps");
    bool any = false;
    for (size_t i = 0; i < j->count; i++) {
        j->value[i] = smash_of(j->m, j->shot[i]);
        any = any || !isnan(j->value[i]);
    }
    if (any) {
        mark_below(j, poor_smash, -1);
        return;
    }
    for (size_t i = 0; i < j->count; i++)
        j->value[i] = value_at(j->m, j->shot[i], ball);
    mark_below(j, poor_ball, ball);
}

static void mark_outliers(judged *j, int column)
{
    for (size_t i = 0; i < j->count; i++)
        j->value[i] = value_at(j->m, j->shot[i], column);
    const size_t n = take_values(j);
    if (n < JUDGED_LEAST)
        return;
    double *work = j->sorted + j->count;
    const double middle = gsl_stats_median(j->sorted, 1, n);
    const double sd = gsl_stats_mad(j->sorted, 1, n, work); /* GSL's is 1.4826 times the distance */
    for (size_t i = 0; i < j->count && sd > 0; i++)
        if (fabs(j->value[i] - middle) > far_out * sd)
            mark(&j->m->shots[j->shot[i]], CABER_CLEAN_OUTLIER, column);
}

static void judge_batch(judged *j, size_t batch)
{
    j->count = 0;
    for (size_t i = 0; i < j->m->count; i++)
        if (j->m->shots[i].batch == batch &&
            !(j->m->shots[i].broken & 1u << CABER_CLEAN_IMPOSSIBLE))
            j->shot[j->count++] = i;
    mark_mishits(j);
    for (size_t c = 0; c < j->m->column_count; c++)
        mark_outliers(j, (int)c);
}

static caber_status judge(caber_measured *m, caber_message *message)
{
    judged j = {.m = m,
                .shot = calloc(m->count + 1, sizeof *j.shot),
                .value = calloc(m->count + 1, sizeof *j.value),
                .sorted = calloc(2 * m->count + 1, sizeof *j.sorted)};
    const bool good = j.shot && j.value && j.sorted;
    for (size_t b = 0; good && b < m->batch_count; b++)
        judge_batch(&j, b);
    free(j.shot);
    free(j.value);
    free(j.sorted);
    return good ? CABER_OK : message_set(message, CABER_NO_MEMORY, "out of memory");
}

/* ------------------------------------------------------------------ all rules */

static void forget(caber_measured *m)
{
    for (size_t i = 0; i < m->count; i++) {
        caber_measured_shot *s = &m->shots[i];
        s->broken &= 1u << CABER_CLEAN_BY_HAND;
        for (int r = 0; r < CABER_CLEANINGS; r++)
            s->column[r] = -1;
    }
}

caber_status caber_measured_clean(caber_measured *m, unsigned rules, caber_message *message)
{
    forget(m);
    caber_status status = mark_impossible(m, message);
    if (status == CABER_OK)
        status = judge(m, message);
    for (size_t b = 0; b < m->batch_count; b++)
        m->batches[b].count = m->batches[b].set_aside = 0;
    rules |= 1u << CABER_CLEAN_BY_HAND;
    for (size_t i = 0; i < m->count; i++) {
        caber_measured_shot *s = &m->shots[i];
        s->set_aside = s->broken & rules && !s->kept;
        m->batches[s->batch].count++;
        m->batches[s->batch].set_aside += s->set_aside;
    }
    return status == CABER_OK ? message_clear(message) : status;
}

const char *measured_file(const caber_measured *m, size_t shot)
{
    return file_part(m->files[m->shots[shot].file]);
}
