/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Mirror symmetry. Reflected across the plane X = 0 of the swing plane frame, every law of the
 * model keeps its form (exact). Then e1 and e3 are reflected and e2, which the frames make of
 * them as a right hand does, changes sign besides: angles about Z and e1, the forward components
 * of the head and its products with forward, and couples about Z and e1 change sign; components
 * along e1 and e3 and energies do not. Gamma is odd in beta - square and in the mirror again
 * falls with beta, so of the gear only `square` changes sign. */
#include "record.h"
#include "setups.h"

static double hub_torque(double t)
{
    return 230 * (1 - exp(-t / 0.06)) * (1 - t);
}

static double grip_couple(double t)
{
    return 15 * sin(9 * t) - 10 * t;
}

static double roll_torque(double t)
{
    return -0.8 - 3 * t;
}

static void negate(double *a, size_t n)
{
    for (size_t i = 0; i < n; i++)
        a[i] = -a[i];
}

/* Torque tables, since the program of the hub is one-sided, and no stop, likewise. */
static caber_setup *one_hand(caber_drive roll)
{
    caber_setup *s = setups_read("neutral-quick-9"); /* a head with a face angle */
    caber_load *l = &s->player.load;
    setups_table(&l->hub.table, 40, 0.4, hub_torque);
    setups_table(&l->grip.table, 40, 0.4, grip_couple);
    l->roll.drive = roll;
    if (roll == CABER_TORQUE)
        setups_table(&l->roll.table, 40, 0.4, roll_torque);
    l->stop.stiffness = 0;
    for (size_t i = 0; i < s->shaft.station_count; i++) { /* a spine, so that its angle counts */
        s->shaft.stations[i].ei_2 = 0.9 * s->shaft.stations[i].ei;
        s->shaft.stations[i].ei_angle = 0.4;
    }
    setups_until(s, 0.27, 1e-10);
    return s;
}

static void reflect(caber_setup *s)
{
    caber_player *p = &s->player;
    caber_load *l = &p->load;
    p->start_arm = -p->start_arm;
    p->start_cock = -p->start_cock;
    p->start_arm_speed = -p->start_arm_speed;
    p->start_cock_speed = -p->start_cock_speed;
    negate(l->hub.table.value, l->hub.table.count);
    negate(l->grip.table.value, l->grip.table.count);
    negate(l->roll.table.value, l->roll.table.count);
    if (l->roll.drive != CABER_GEAR)
        l->roll.top = -l->roll.top;
    l->roll.square = -l->roll.square;
    s->head.centre_of_mass[0] = -s->head.centre_of_mass[0];
    s->head.face_centre[0] = -s->head.face_centre[0];
    s->head.inertia[3] = -s->head.inertia[3];
    s->head.inertia[4] = -s->head.inertia[4];
    for (size_t i = 0; i < s->shaft.station_count; i++)
        s->shaft.stations[i].ei_angle = -s->shaft.stations[i].ei_angle;
    /* The target line leaves the plane's X by `direction`; its mirror image the other way. */
    p->direction = -p->direction;
}

/* Integrator tolerance 1e-10 over some 1000 steps: 1e-7 of what each column is. */
static const record_source source = {
    RECORD_LAW,
    "the swing of the mirrored setup is the mirror image of the swing, over its whole history"};

typedef struct apart {
    double angle, place, moment, speed, energy; /* the largest of all rows; energy relative */
} apart;

static void check_reflected(caber_drive roll, apart *w)
{
    caber_setup *s = one_hand(roll);
    caber_trace *a = caber_trace_create(), *b = caber_trace_create();
    setups_swing(s, a);
    reflect(s);
    setups_swing(s, b);
    assert_int_equal(a->count, b->count);
    for (size_t i = 0; i < a->count; i++) {
        const caber_trace_row *x = a->rows + i, *y = b->rows + i;
        record_most(&w->angle, x->arm_angle + y->arm_angle);
        record_most(&w->angle, x->club_angle + y->club_angle);
        record_most(&w->angle, x->roll + y->roll);
        record_most(&w->place, x->lead + y->lead);
        record_most(&w->place, x->droop - y->droop);
        record_most(&w->place, x->lag + y->lag);
        record_most(&w->place, x->out_of_plane - y->out_of_plane);
        record_most(&w->moment, x->handle_moment + y->handle_moment);
        record_most(&w->moment, x->handle_moment_out - y->handle_moment_out);
        record_most(&w->moment, x->roll_torque + y->roll_torque);
        record_most(&w->speed, x->head_speed - y->head_speed);
        record_most(&w->energy, (x->kinetic - y->kinetic) / (x->kinetic + 1));
        assert_close(x->club_speed, -y->club_speed, 0, 1e-5);
        assert_close(x->twist, -y->twist, 0, 1e-8);
        assert_close(x->grip_force, y->grip_force, 1e-6, 1e-4);
        assert_close(x->head_ahead, -y->head_ahead, 0, 1e-7);
        assert_close(x->head_up, y->head_up, 0, 1e-7);
        assert_close(x->strain, y->strain, 1e-6, 1e-8);
    }
    const caber_trace_row *last = a->rows + a->count - 1;
    assert_true(fabs(last->lead) > 1e-3 && fabs(last->droop) > 1e-3 && last->head_speed > 20);
    caber_trace_free(a);
    caber_trace_free(b);
    caber_setup_free(s);
}

static void reflected(void **state)
{
    (void)state;
    apart w = {0};
    check_reflected(CABER_GEAR, &w);
    check_reflected(CABER_LOCKED, &w);
    check_reflected(CABER_TORQUE, &w);
    const struct {
        const char *what, *unit;
        double apart, allowed;
    } rows[] = {
        {"angles of arm, club and roll, roll geared, locked and driven", "rad", w.angle, 1e-7},
        {"lead, droop, lag, out of plane", "m", w.place, 1e-8},
        {"moments at the handle, roll torque", "N m", w.moment, 1e-4},
        {"head speed", "m/s", w.speed, 1e-6},
        {"kinetic energy, relative", "1", w.energy, 1e-7}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        verify_within(rows[i].what, source, rows[i].unit, rows[i].apart, rows[i].allowed);
    }
}

/* A left-handed player is computed as the mirror image of himself: every number, which is the
 * golfer's own, is the same to the last bit. */
static void left_is_right(void **state)
{
    (void)state;
    caber_setup *right = setups_read("neutral-smooth"), *left = setups_read("neutral-smooth-left");
    assert_int_equal(left->player.handed, CABER_LEFT);
    assert_int_equal(right->player.handed, CABER_RIGHT);
    const caber_swing a = setups_swing(right, NULL), b = setups_swing(left, NULL);
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    size_t other = 0;
    for (size_t i = 0; i < count; i++) {
        other += caber_impact_value(&a.bent, f + i) != caber_impact_value(&b.bent, f + i);
        other += caber_impact_value(&a.straight, f + i) != caber_impact_value(&b.straight, f + i);
    }
    static const record_source same = {
        RECORD_LAW,
        "a left-handed player is a right-handed one in the mirror; his numbers are his own"};
    verify_within("outputs of a left-handed player that differ in any bit", same, "outputs",
                  (double)other, 0);
    caber_setup_free(right);
    caber_setup_free(left);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(reflected),
                                       cmocka_unit_test(left_is_right)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
