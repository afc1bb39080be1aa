/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Dimensional analysis: with every input multiplied as its dimension says for other units of length,
 * mass and time, every output is. Exact, so what does not scale shows a hidden absolute constant.
 * Standard gravity is one: with weight, lengths go with the square of times. Left as they are: the
 * absolute tolerances of the integrator, which are as many tolerances, and its longest step. */
#include "draws.h"

typedef struct units {
    double length, mass, time;
} units;

/* length^l mass^m time^t */
static double dimension_of(const units *u, int l, int m, int t)
{
    return pow(u->length, l) * pow(u->mass, m) * pow(u->time, t);
}

/* ------------------------------------------------------------------ inputs */

static void scale_shaft(caber_shaft *s, caber_sections *sections, const units *u)
{
    const double stiffness = dimension_of(u, 3, 1, -2);
    s->length *= u->length;
    s->density *= dimension_of(u, -3, 1, 0);
    for (size_t i = 0; i < s->station_count; i++) {
        caber_station *p = s->stations + i;
        p->at *= u->length;
        p->ei *= stiffness;
        p->ei_2 *= stiffness;
        p->gj *= stiffness;
        p->mass *= u->mass / u->length;
        p->diameter *= u->length;
    }
    for (size_t i = 0; i < sections->count; i++) {
        sections->items[i].from *= u->length;
        sections->items[i].to *= u->length;
    }
}

static void scale_club(caber_setup *s, const units *u)
{
    caber_head *h = &s->head;
    h->mass *= u->mass;
    h->bulge *= u->length;
    h->roll *= u->length;
    for (int i = 0; i < 3; i++) {
        h->centre_of_mass[i] *= u->length;
        h->face_centre[i] *= u->length;
    }
    for (int i = 0; i < 6; i++)
        h->inertia[i] *= dimension_of(u, 2, 1, 0);
    s->grip.mass *= u->mass;
    s->grip.length *= u->length;
    s->grip.centre_of_mass *= u->length;
    s->grip.diameter *= u->length;
    s->build.tip_trim *= u->length;
    s->build.butt_trim *= u->length;
    s->build.insertion *= u->length;
    s->build.hold *= u->length;
}

static void scale_table(caber_table *t, double time, double value)
{
    for (size_t i = 0; i < t->count; i++) {
        t->time[i] *= time;
        t->value[i] *= value;
    }
}

static void scale_load(caber_load *l, const units *u)
{
    const double torque = dimension_of(u, 2, 1, -2), time = u->time;
    l->hub.peak *= torque;
    l->hub.rise *= time;
    l->hub.omega_max /= time;
    l->grip.peak *= torque;
    l->grip.onset *= time;
    l->grip.rise *= time;
    l->grip.release *= time;
    l->grip.fall *= time;
    l->grip.late *= torque;
    l->grip.late_onset *= time;
    l->grip.late_rise *= time;
    scale_table(&l->hub.table, time, l->hub.drive == CABER_TORQUE ? torque : 1);
    scale_table(&l->grip.table, time, l->grip.drive == CABER_TORQUE ? torque : 1);
    scale_table(&l->roll.table, time, l->roll.drive == CABER_TORQUE ? torque : 1);
    l->stop.stiffness *= torque;
    l->stop.damping *= torque * time;
}

static void scale_setup(caber_setup *s, const units *u)
{
    caber_player *p = &s->player;
    scale_shaft(&s->shaft, &s->sections, u);
    scale_club(s, u);
    scale_load(&p->load, u);
    p->arm_length *= u->length;
    p->arm_inertia *= dimension_of(u, 2, 1, 0);
    p->arm_mass *= u->mass;
    p->arm_centre *= u->length;
    p->start_arm_speed /= u->time;
    p->start_cock_speed /= u->time;
    p->ball_ahead *= u->length;
    s->settings.ceiling /= u->time;
    s->settings.until *= u->time;
    s->settings.time_limit *= u->time;
}

/* ------------------------------------------------------------------ outputs */

/* The factor of a printed unit. */
static double factor_of(const char *unit, const units *u)
{
    static const struct {
        const char *unit;
        int l, m, t;
    } rows[] = {{"m/s", 1, 0, -1}, {"s", 0, 0, 1},  {"mm", 1, 0, 0},     {"m", 1, 0, 0},
                {"deg", 0, 0, 0},  {"", 0, 0, 0},   {"deg/s", 0, 0, -1}, {"N m", 2, 1, -2},
                {"J", 2, 1, -2},   {"N", 1, 1, -2}, {"N m/s", 2, 1, -3}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (strcmp(unit, rows[i].unit) == 0)
            return dimension_of(u, rows[i].l, rows[i].m, rows[i].t);
    fail_msg("no dimension of '%s'", unit);
    return 0;
}

/* Puts a scaled swing back into the units of the first. */
static void unscale_swing(caber_swing *s, const units *u)
{
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++) {
        const double factor = factor_of(f[i].unit, u);
        *(double *)((char *)&s->bent + f[i].offset) /= factor;
        *(double *)((char *)&s->straight + f[i].offset) /= factor;
    }
}

/* ------------------------------------------------------------------ swings */

/* Units between which every input stays within its range. */
static units draw_units(gsl_rng *g, bool gravity)
{
    units u = {.length = draws_about(g, 0.75, 1.35),
               .mass = draws_about(g, 0.6, 1.7),
               .time = draws_about(g, 0.75, 1.35)};
    if (gravity)
        u.length = u.time * u.time;
    return u;
}

/* Whether both setups are swings, and their gap. */
static bool compare_scaled(const caber_setup *s, const units *u, draws_gap *gap)
{
    static const char *const none[] = {NULL};
    caber_setup *other = draws_copy(s);
    caber_message message;
    caber_swing one, two;
    scale_setup(other, u);
    const caber_status first = swing_once(s, &one, NULL, &message);
    const caber_status second = swing_once(other, &two, NULL, &message);
    caber_setup_free(other);
    if (second == CABER_BAD_INPUT)
        return false; /* out of some range */
    assert_int_equal(second, first);
    if (first != CABER_OK)
        return false;
    unscale_swing(&two, u);
    draws_compare(gap, &one, &two, none);
    return true;
}

static void swings_scale(void **state)
{
    (void)state;
    draws_gap gap = {0};
    size_t swings = 0;
    gsl_rng *g = draws_begin(40);
    for (size_t i = 0; i < DRAWS(90); i++) {
        caber_setup *s = draws_near(g);
        s->settings.tolerance = 1e-10;
        s->settings.gravity = draws_chance(g, 0.5);
        if (draws_chance(g, 0.5))
            s->settings.until = draws_between(g, 0.1, 0.3);
        const units u = draw_units(g, s->settings.gravity);
        swings += compare_scaled(s, &u, &gap);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(2 * swings > DRAWS(90));
    if (gap.most > 1e-4)
        print_message("most in %s\n", gap.field);
    DRAWS_RECORD("90 swings in other units of length, mass and time", "dimensional analysis", "1",
                 gap.most, 1e-4);
}

/* ------------------------------------------------------------------ the bench */

typedef struct reading {
    const char *what;
    double value;
    int l, m, t;
} reading;

enum { READINGS = 22 };

static void read_bench(const caber_bench *b, reading out[READINGS])
{
    const reading rows[READINGS] = {{"frequency", b->frequency, 0, 0, -1},
                                    {"droop frequency", b->frequency_droop, 0, 0, -1},
                                    {"twist", b->twist, 0, 0, 0},
                                    {"shaft mass", b->shaft_mass, 0, 1, 0},
                                    {"club mass", b->club_mass, 0, 1, 0},
                                    {"face length", b->face_length, 1, 0, 0},
                                    {"balance point", b->balance_point, 1, 0, 0},
                                    {"inertia about the butt", b->inertia_butt, 2, 1, 0},
                                    {"inertia about the balance", b->inertia_balance, 2, 1, 0},
                                    {"deflection", b->tip_deflection, 1, 0, 0},
                                    {"slope", b->tip_slope, 0, 0, 0},
                                    {"bend point", b->bend_point, 1, 0, 0},
                                    {"span", b->span_at[0], 1, 0, 0},
                                    {"span deflection", b->span_deflection[0], 1, 0, 0},
                                    {"span EI", b->span_ei[0], 3, 1, -2},
                                    {"modes", (double)b->mode_count, 0, 0, 0},
                                    {"frequency 1", b->frequencies[0], 0, 0, -1},
                                    {"frequency 2", b->frequencies[1], 0, 0, -1},
                                    {"frequency 3", b->frequencies[2], 0, 0, -1},
                                    {"frequency 4", b->frequencies[3], 0, 0, -1},
                                    {"frequency 5", b->frequencies[4], 0, 0, -1},
                                    {"frequency 6", b->frequencies[5], 0, 0, -1}};
    memcpy(out, rows, sizeof rows);
}

static caber_jig scale_jig(caber_jig j, const units *u)
{
    const double force = dimension_of(u, 1, 1, -2);
    j.clamp *= u->length;
    j.tip_mass *= u->mass;
    j.torque *= force * u->length;
    j.load *= force;
    j.span *= u->length;
    j.span_load *= force;
    return j;
}

/* Whether the other units are within the ranges; raises the difference. */
static bool compare_benches(const caber_setup *s, const units *u, double *most)
{
    const caber_jig jig = caber_jig_default(), other_jig = scale_jig(jig, u);
    caber_setup *other = draws_copy(s);
    caber_bench one, two;
    caber_message message;
    reading a[READINGS], b[READINGS];
    scale_setup(other, u);
    setups_fine(caber_bench_run(s, &jig, &one, &message), &message);
    const caber_status status = caber_bench_run(other, &other_jig, &two, &message);
    caber_setup_free(other);
    if (status == CABER_BAD_INPUT)
        return false;
    setups_fine(status, &message);
    read_bench(&one, a);
    read_bench(&two, b);
    for (int i = 0; i < READINGS; i++) {
        const double back = b[i].value / dimension_of(u, a[i].l, a[i].m, a[i].t);
        draws_raise(most, fabs(back / a[i].value - 1));
    }
    return true;
}

static void benches_scale(void **state)
{
    (void)state;
    double most = 0;
    size_t benches = 0;
    gsl_rng *g = draws_begin(41);
    for (size_t i = 0; i < DRAWS(80); i++) {
        caber_setup *s = draws_far(g);
        const units u = draw_units(g, false);
        benches += compare_benches(s, &u, &most);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(2 * benches > DRAWS(80));
    /* Rounding: the finest meshes have elements a thousandth of the shaft, 1e9 times as stiff. */
    DRAWS_RECORD("80 made-up clubs on the bench in other units", "dimensional analysis", "1", most,
                 1e-5);
}

/* Powers of two are exact in binary numbers, so what is computed once is the same to the last bit. */
static void powers_of_two_scale_exactly(void **state)
{
    (void)state;
    double most = 0;
    gsl_rng *g = draws_begin(42);
    for (size_t i = 0; i < DRAWS(20); i++) {
        caber_setup *s = draws_near(g);
        const units u = {.length = 1, .mass = draws_chance(g, 0.5) ? 4 : 0.25, .time = 2};
        s->settings.ceiling = 0;
        compare_benches(s, &u, &most);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    DRAWS_RECORD("20 clubs on the bench in units that are powers of two", "dimensional analysis",
                 "1", most, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(swings_scale),
                                       cmocka_unit_test(benches_scale),
                                       cmocka_unit_test(powers_of_two_scale_exactly)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
