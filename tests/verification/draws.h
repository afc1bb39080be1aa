/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Setups drawn at random, for properties that hold whatever the setup. `draws_near` changes a demo
 * setup as far as clubs and players differ, and beyond; `draws_far` makes up profile, head, grip,
 * build, drives and settings as well. All are physical: the checks of a setup let them through.
 * Freed with caber_setup_free. Every sequence of draws starts from a fixed seed. */
#ifndef TESTS_DRAWS_H
#define TESTS_DRAWS_H

#include <gsl/gsl_rng.h>

#include "base/vec.h"
#include "record.h"
#include "setups.h"
#include "swing/once.h"

/* How many draws a test makes: the address and thread sanitisers take some ten times as long, and look at paths. */
#define DRAWS(count) (CHECK_SANITISED ? ((count) + 9) / 10 : (count))

/* The next 1, 2 or 5 times a power of ten above: what is rounding or the integrator's scatter has no
 * digits to print. */
static inline double draws_rounded(double value)
{
    if (!(value > 0 && value < (double)HUGE_VAL))
        return value;
    const double decade = pow(10, floor(log10(value))), part = value / decade;
    return decade * (part <= 1 ? 1 : part <= 2 ? 2 : part <= 5 ? 5 : 10);
}

/* One row of the verification page: the largest violation of a law over all draws. */
static inline void draws_record(const char *problem, const char *law, const char *unit,
                                double violation, double allowed, const char *file, int line)
{
    const record_source source = {RECORD_LAW, law};
    if (!(violation <= allowed))
        print_error("%s: %.3g, allowed %.3g\n", problem, violation, allowed);
    record_bound(problem, source, unit, draws_rounded(fmax(violation, 0)), allowed, file, line);
}
#define DRAWS_RECORD(problem, law, unit, violation, allowed)                                       \
    draws_record((problem), (law), (unit), (violation), (allowed), __FILE__, __LINE__)

static inline gsl_rng *draws_begin(unsigned long seed)
{
    gsl_rng *g = gsl_rng_alloc(gsl_rng_mt19937);
    assert_non_null(g);
    gsl_rng_set(g, seed);
    return g;
}

static inline double draws_between(gsl_rng *g, double low, double high)
{
    return low + (high - low) * gsl_rng_uniform(g);
}

/* Evenly in the logarithm. */
static inline double draws_about(gsl_rng *g, double low, double high)
{
    return exp(draws_between(g, log(low), log(high)));
}

/* Takes the larger; not a number counts as above all. */
static inline void draws_raise(double *most, double value)
{
    if (!(value <= *most))
        *most = isnan(value) ? (double)HUGE_VAL : value;
}

static inline bool draws_chance(gsl_rng *g, double share)
{
    return gsl_rng_uniform(g) < share;
}

static inline size_t draws_below(gsl_rng *g, size_t count)
{
    return gsl_rng_uniform_int(g, count);
}

/* ------------------------------------------------------------------ two swings compared */

/* The largest difference of two swings and where it is; start with {0}. */
typedef struct draws_gap {
    double most;
    const char *field;
} draws_gap;

/* What differs is measured in parts of the larger of the value and what is usual for its unit. */
static inline double draws_usual(const char *unit)
{
    static const struct {
        const char *unit;
        double usual; /* in that unit */
    } sizes[] = {{"m/s", 10}, {"s", 0.1},     {"mm", 10}, {"deg", 10}, {"deg/s", 100},
                 {"N m", 10}, {"N m/s", 100}, {"N", 100}, {"J", 1}};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
        if (strcmp(unit, sizes[i].unit) == 0)
            return sizes[i].usual;
    return 1;
}

/* Widens the gap by |a - b|, in the printed unit of the field. */
static inline void draws_widen(draws_gap *gap, const caber_field *f, double a, double b)
{
    const bool turn = strcmp(f->unit, "deg") == 0; /* azimuths may differ by whole turns */
    const double off = fabs(turn ? remainder(a - b, 360) : a - b);
    const double part = off / fmax(fmax(fabs(a), fabs(b)), draws_usual(f->unit));
    if (!(part <= gap->most)) {
        gap->most = isnan(part) && isnan(a) && isnan(b) ? gap->most : part;
        gap->field = f->name;
    }
}

/* Whether a name is in a list that ends in NULL. */
static inline bool draws_listed(const char *name, const char *const *list)
{
    for (; *list; list++)
        if (strcmp(name, *list) == 0)
            return true;
    return false;
}

/* What is scatter by nature: the residual, and when a moment was largest that may stay level. */
static const char *const draws_scattered[] = {"energy_residual", "peak_handle_moment_time_s", NULL};

/* Compares all other fields but those of a list. */
static inline void draws_compare(draws_gap *gap, const caber_swing *a, const caber_swing *b,
                                 const char *const *but)
{
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++) {
        if (draws_listed(f[i].name, draws_scattered) || draws_listed(f[i].name, but))
            continue;
        draws_widen(gap, f + i, caber_impact_value(&a->bent, f + i),
                    caber_impact_value(&b->bent, f + i));
        draws_widen(gap, f + i, caber_impact_value(&a->straight, f + i),
                    caber_impact_value(&b->straight, f + i));
    }
}

/* A copy of a setup's lists too, so that it can be changed and freed by itself. */
static inline void *draws_copy_of(const void *from, size_t size)
{
    if (size == 0)
        return NULL;
    void *to = setups_array(1, size);
    memcpy(to, from, size);
    return to;
}

static inline void draws_copy_table(caber_table *t)
{
    t->time = draws_copy_of(t->time, t->count * sizeof(double));
    t->value = draws_copy_of(t->value, t->count * sizeof(double));
}

static inline caber_setup *draws_copy(const caber_setup *s)
{
    caber_setup *c = draws_copy_of(s, sizeof *s);
    c->shaft.stations =
        draws_copy_of(s->shaft.stations, s->shaft.station_count * sizeof(caber_station));
    c->sections.items = draws_copy_of(s->sections.items, s->sections.count * sizeof(caber_section));
    draws_copy_table(&c->player.load.hub.table);
    draws_copy_table(&c->player.load.grip.table);
    draws_copy_table(&c->player.load.roll.table);
    c->player.repeat.pairings = draws_copy_of(
        s->player.repeat.pairings, s->player.repeat.pairing_count * sizeof(caber_pairing));
    return c;
}

/* ------------------------------------------------------------------ near a demo setup */

static inline void draws_near_club(gsl_rng *g, caber_setup *s)
{
    const double bend = draws_about(g, 0.3, 4), twist = draws_about(g, 0.3, 4);
    const double other = draws_chance(g, 0.5) ? 0 : draws_between(g, 0.7, 1.4);
    const double angle = draws_between(g, -3, 3);
    for (size_t i = 0; i < s->shaft.station_count; i++) {
        caber_station *p = &s->shaft.stations[i];
        p->ei *= bend;
        p->gj *= twist;
        p->ei_2 = other * p->ei;
        p->ei_angle = angle;
    }
    s->shaft.damping = draws_chance(g, 0.2) ? 0 : draws_about(g, 0.001, 0.05);
    const double size = draws_between(g, 0.6, 1.6);
    s->head.mass *= draws_between(g, 0.6, 1.6);
    for (int i = 0; i < 6; i++)
        s->head.inertia[i] *= size;
    for (int i = 0; i < 3; i++)
        s->head.centre_of_mass[i] *= draws_between(g, 0.3, 1.5);
    s->build.hold = draws_between(g, 0.05, 0.25);
    s->build.butt_trim = draws_between(g, 0, 0.1);
    s->build.tip_trim = draws_between(g, 0, 0.05);
}

static inline void draws_near_load(gsl_rng *g, caber_load *l)
{
    l->hub.peak *= draws_between(g, 0.4, 2);
    l->hub.rise = draws_about(g, 0.01, 0.2);
    l->hub.omega_max *= draws_between(g, 0.8, 2);
    l->grip.peak = draws_between(g, -10, 40);
    l->grip.onset = draws_between(g, 0, 0.1);
    l->grip.rise = draws_about(g, 0.01, 0.2);
    l->grip.release = draws_between(g, 0.05, 0.3);
    l->grip.fall = draws_about(g, 0.01, 0.1);
    l->grip.late = draws_between(g, -40, 20);
    l->grip.late_onset = draws_between(g, 0.05, 0.3);
    l->grip.late_rise = draws_about(g, 0.01, 0.1);
    const caber_drive roll[] = {CABER_GEAR, CABER_GEAR, CABER_LOCKED, CABER_TORQUE};
    l->roll.drive = roll[draws_below(g, 4)];
    l->roll.top = draws_between(g, 0.5, 2);
    l->roll.closing = draws_between(g, 0.2, 1.2);
    l->stop.stiffness = draws_chance(g, 0.3) ? 0 : draws_about(g, 20, 2000);
}

static inline caber_setup *draws_near(gsl_rng *g)
{
    caber_setup *s = setups_read(setups_demo[draws_below(g, SETUPS_DEMO_COUNT)]);
    draws_near_club(g, s);
    draws_near_load(g, &s->player.load);
    caber_player *p = &s->player;
    p->start_arm += draws_between(g, -0.5, 0.5);
    p->start_cock += draws_between(g, -0.4, 0.6);
    p->start_arm_speed = draws_between(g, -3, 1);
    p->start_cock_speed = draws_between(g, -10, 3);
    p->inclination = draws_between(g, 0.6, 1.2);
    p->ball_ahead = draws_between(g, -0.2, 0.4);
    return s;
}

/* ------------------------------------------------------------------ far from any */

/* A profile that stiffens from tip to butt, with waves, seams, and stations where they fall. */
static inline void draws_far_shaft(gsl_rng *g, caber_shaft *shaft)
{
    const size_t n = 2 + draws_below(g, 40);
    free(shaft->stations);
    shaft->stations = setups_array(n, sizeof(caber_station));
    shaft->station_count = n;
    shaft->length = draws_between(g, 0.9, 1.3);
    const bool steel = draws_chance(g, 0.3), seam = draws_chance(g, 0.4);
    const bool rough = draws_chance(g, 0.3), turning = draws_chance(g, 0.3);
    shaft->density = steel ? 7850 : draws_between(g, 1300, 1800);
    shaft->damping = draws_chance(g, 0.2) ? 0 : draws_about(g, 0.001, 0.05);
    const double tip = draws_about(g, 6, 60), butt = draws_about(g, 30, 200);
    const double twist = draws_between(g, 0.3, 1), wave = draws_between(g, 0, 0.4);
    const double phase = draws_between(g, 0, 6), waves = draws_between(g, 1, 12);
    const double mass = steel ? draws_between(g, 0.08, 0.13) : draws_between(g, 0.035, 0.07);
    const double other = draws_between(g, 0.6, 1.6), angle = draws_between(g, -1.5, 1.5);
    const double turn = turning ? draws_between(g, -1.5, 1.5) : 0;
    double at = 0;
    for (size_t i = 0; i < n; i++) {
        caber_station *p = &shaft->stations[i];
        at += i ? draws_between(g, rough ? 1e-3 : 0.5, 1) : 0;
        p->at = at;
    }
    for (size_t i = 0; i < n; i++) {
        caber_station *p = &shaft->stations[i];
        const double x = p->at / at;
        p->at = i + 1 < n ? x * shaft->length : shaft->length;
        const double w = 1 + wave * sin(waves * x + phase);
        p->ei = tip * pow(butt / tip, x) * w * (rough ? draws_between(g, 0.7, 1.3) : 1);
        p->ei_2 = seam ? other * p->ei * (rough ? draws_between(g, 0.9, 1.1) : 1) : 0;
        p->ei_angle = angle + turn * x;
        p->gj = twist * p->ei * (rough ? draws_between(g, 0.7, 1.3) : 1);
        p->diameter = 0.0085 + x * 0.0065;
        p->mass = mass * w / (1 + wave);
    }
}

static inline void draws_far_sections(gsl_rng *g, caber_setup *s)
{
    s->sections.count = draws_below(g, 4);
    free(s->sections.items);
    s->sections.items = setups_array(4, sizeof(caber_section));
    for (size_t i = 0; i < s->sections.count; i++) {
        const double a = gsl_rng_uniform(g), b = gsl_rng_uniform(g);
        s->sections.items[i] = (caber_section){.from = fmin(a, b) * s->shaft.length,
                                               .to = fmax(a, b) * s->shaft.length,
                                               .ei_scale = draws_about(g, 0.7, 1.4),
                                               .gj_scale = draws_about(g, 0.7, 1.4),
                                               .mass_scale = draws_about(g, 0.9, 1.1)};
    }
}

/* A box of a head, turned, with its inertia from its sides. */
static inline void draws_far_head(gsl_rng *g, caber_head *h)
{
    h->mass = draws_between(g, 0.15, 0.35);
    const double a = draws_between(g, 0.02, 0.12), b = draws_between(g, 0.02, 0.07);
    const double c = draws_between(g, 0.05, 0.13), m = h->mass / 12;
    const mat3 box = {
        {{m * (b * b + c * c), 0, 0}, {0, m * (a * a + c * c), 0}, {0, 0, m * (a * a + b * b)}}};
    const mat3 turn = mat3_rotation(vec3_make(
        draws_between(g, -0.3, 0.3), draws_between(g, -0.3, 0.3), draws_between(g, -0.3, 0.3)));
    const mat3 half = mat3_multiply(&turn, &box), i = mat3_multiply_t(&half, &turn);
    const double inertia[6] = {i.m[0][0], i.m[1][1], i.m[2][2], i.m[0][1], i.m[0][2], i.m[1][2]};
    memcpy(h->inertia, inertia, sizeof inertia);
    h->loft = draws_between(g, 0.1, 0.8);
    h->lie = draws_between(g, 0.9, 1.2);
    h->face_angle = draws_between(g, -0.05, 0.05);
    const double toe = draws_between(g, 0.02, 0.07), up = draws_between(g, -0.05, -0.02);
    const double centre[3] = {draws_between(g, -0.04, 0.01), up, toe};
    const double face[3] = {draws_between(g, 0, 0.03), up, toe};
    memcpy(h->centre_of_mass, centre, sizeof centre);
    memcpy(h->face_centre, face, sizeof face);
}

static inline void draws_far_build(gsl_rng *g, caber_setup *s)
{
    s->grip = (caber_grip){.mass = draws_chance(g, 0.1) ? 0 : draws_between(g, 0.02, 0.09),
                           .length = draws_between(g, 0.2, 0.35),
                           .diameter = draws_between(g, 0.018, 0.03)};
    if (draws_chance(g, 0.5))
        s->grip.centre_of_mass = s->grip.length * draws_between(g, 0.35, 0.65);
    s->build = (caber_build){.tip_trim = draws_between(g, 0, 0.08),
                             .butt_trim = draws_between(g, 0, 0.1),
                             .insertion = draws_chance(g, 0.1) ? 0 : draws_between(g, 0.01, 0.05),
                             .hold = draws_chance(g, 0.1) ? 0 : draws_between(g, 0.03, 0.3)};
}

/* A table of even times to 0.6 s; `from` and `to` smoothly over the time between. */
static inline void draws_table(gsl_rng *g, caber_table *t, double from, double to, double over)
{
    const double begin = draws_between(g, 0, 0.1);
    t->count = 30 + draws_below(g, 60);
    t->time = setups_array(t->count, sizeof(double));
    t->value = setups_array(t->count, sizeof(double));
    for (size_t i = 0; i < t->count; i++) {
        t->time[i] = 0.6 * (double)i / (double)(t->count - 1);
        const double x = fmin(fmax((t->time[i] - begin) / over, 0), 1);
        t->value[i] = from + (to - from) * x * x * x * (10 - x * (15 - 6 * x));
    }
}

static inline void draws_far_drives(gsl_rng *g, caber_player *p)
{
    caber_load *l = &p->load;
    const double hub = gsl_rng_uniform(g), grip = gsl_rng_uniform(g), roll = gsl_rng_uniform(g);
    if (hub < 0.1) {
        l->hub.drive = CABER_MOTION;
        draws_table(g, &l->hub.table, p->start_arm, p->start_arm + draws_between(g, 1.5, 3.5),
                    draws_between(g, 0.2, 0.4));
    } else if (hub < 0.2) {
        draws_table(g, &l->hub.table, 0, draws_between(g, 100, 400), draws_between(g, 0.03, 0.3));
    } else if (hub < 0.23) {
        l->hub.drive = CABER_LOCKED;
    }
    if (grip < 0.1) {
        l->grip.drive = CABER_MOTION;
        draws_table(g, &l->grip.table, p->start_cock, draws_between(g, -0.3, 0.3),
                    draws_between(g, 0.15, 0.35));
    } else if (grip < 0.2) {
        draws_table(g, &l->grip.table, draws_between(g, 0, 30), draws_between(g, -30, 20),
                    draws_between(g, 0.05, 0.3));
    } else if (grip < 0.23) {
        l->grip.drive = CABER_LOCKED;
    }
    if (roll < 0.1) {
        l->roll.drive = CABER_MOTION;
        draws_table(g, &l->roll.table, draws_between(g, 1, 2), draws_between(g, -0.5, 0.2),
                    draws_between(g, 0.15, 0.35));
    } else if (roll < 0.15) {
        l->roll.drive = CABER_TORQUE;
        draws_table(g, &l->roll.table, 0, draws_between(g, -1, 0.5), draws_between(g, 0.1, 0.3));
    }
    l->stop.width = draws_about(g, 0.02, 0.5);
    /* At most a little into the stop at the start: a shaft held against all of it would fold. */
    l->stop.cock = fmin(draws_between(g, -2.2, -1.5), p->start_cock + 0.3 * l->stop.width);
    l->stop.damping = draws_chance(g, 0.3) ? 0 : draws_about(g, 0.1, 20);
}

static inline void draws_far_player(gsl_rng *g, caber_player *p)
{
    draws_near_load(g, &p->load);
    p->handed = draws_chance(g, 0.5) ? CABER_LEFT : CABER_RIGHT;
    p->arm_length = draws_between(g, 0.5, 0.8);
    p->arm_mass = draws_between(g, 3, 12);
    p->arm_centre = draws_between(g, 0.3, 0.6) * p->arm_length;
    p->arm_inertia = p->arm_mass * p->arm_centre * p->arm_centre * draws_between(g, 1.1, 2.5);
    p->inclination = draws_between(g, 0.5, 1.3);
    p->direction = draws_between(g, -0.2, 0.2);
    p->start_arm = draws_between(g, -2.8, -1.2);
    p->start_cock = draws_between(g, -2, -0.8);
    p->start_arm_speed = draws_chance(g, 0.2) ? 0 : draws_between(g, -4, 1);
    p->start_cock_speed = draws_chance(g, 0.2) ? 0 : draws_between(g, -10, 3);
    p->ball_ahead = draws_between(g, -0.3, 0.5);
    draws_far_drives(g, p);
}

/* One of these two. */
typedef caber_setup *drawing(gsl_rng *g);

static inline caber_setup *draws_far(gsl_rng *g)
{
    caber_setup *s = setups_read(setups_demo[draws_below(g, SETUPS_DEMO_COUNT)]);
    draws_far_shaft(g, &s->shaft);
    draws_far_sections(g, s);
    draws_far_head(g, &s->head);
    draws_far_build(g, s);
    draws_far_player(g, &s->player);
    if (draws_chance(g, 0.2))
        s->settings.gravity = false;
    if (draws_chance(g, 0.2))
        s->settings.until = draws_between(g, 0.05, 0.4);
    return s;
}

#endif
