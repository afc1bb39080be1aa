/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Two descriptions of one swing, or of its mirror image, give one answer, whatever the setup: the
 * golfer's hand, the direction of the plane, the plane's slope without weight, principal axes
 * exchanged, stations between stations, sections that change nothing, a start earlier, work space
 * used before, and the mirror. All exact; what differs is rounding, the mesh or the integrator. */
#include "draws.h"

typedef void other_description(gsl_rng *g, caber_setup *a, caber_setup *b);

typedef struct symmetry {
    other_description *describe; /* changes b, and a where both must be of a kind */
    drawing *draw;
    double tolerance;       /* of the integrator, 0 = as it is by default */
    const char *const *but; /* fields that may differ, ends in NULL */
} symmetry;

static const char *const none[] = {NULL};

/* Half of the swings end before the ball, at any phase. */
static caber_setup *draw_one(gsl_rng *g, const symmetry *y)
{
    caber_setup *s = y->draw(g);
    if (y->tolerance > 0)
        s->settings.tolerance = y->tolerance;
    if (s->settings.until == 0 && draws_chance(g, 0.5))
        s->settings.until = draws_between(g, 0.1, 0.3);
    return s;
}

/* The largest difference over `count` pairs that are swings. */
static double compare_many(const symmetry *y, unsigned long seed, size_t count)
{
    draws_gap gap = {0};
    gsl_rng *g = draws_begin(seed);
    size_t swings = 0;
    for (size_t i = 0; i < count; i++) {
        caber_setup *a = draw_one(g, y), *b = draws_copy(a);
        caber_message message;
        caber_swing one, two;
        y->describe(g, a, b);
        const caber_status first = swing_once(a, &one, NULL, &message);
        assert_int_equal(swing_once(b, &two, NULL, &message), first);
        if (first == CABER_OK) {
            swings++;
            draws_compare(&gap, &one, &two, y->but);
        }
        caber_setup_free(a);
        caber_setup_free(b);
    }
    gsl_rng_free(g);
    assert_true(swings > count / 2);
    if (gap.most > 1e-4)
        print_message("most in %s\n", gap.field);
    return gap.most;
}

/* ------------------------------------------------------------------ exact to the last bits */

static void other_hand(gsl_rng *g, caber_setup *a, caber_setup *b)
{
    (void)g;
    b->player.handed = a->player.handed == CABER_LEFT ? CABER_RIGHT : CABER_LEFT;
}

/* A left-handed player is computed as the mirror image of himself: every number is the golfer's own. */
static void left_is_right(void **state)
{
    (void)state;
    const symmetry y = {other_hand, draws_far, 0, none};
    DRAWS_RECORD("40 swings of a left-handed golfer against a right-handed", "mirror image", "1",
                 compare_many(&y, 30, DRAWS(40)), 0);
}

static void other_direction(gsl_rng *g, caber_setup *a, caber_setup *b)
{
    (void)a;
    b->player.direction = draws_between(g, -0.7, 0.7);
}

static void a_turned_plane_turns_azimuths(void **state)
{
    (void)state;
    static const char *const azimuths[] = {"path_deg", "face_angle_deg", "hands_ahead_mm", NULL};
    const symmetry y = {other_direction, draws_far, 0, azimuths};
    DRAWS_RECORD("40 swings in planes turned about the vertical: all but azimuths",
                 "weight is the same all around", "1", compare_many(&y, 31, DRAWS(40)), 1e-12);
}

static void other_slope(gsl_rng *g, caber_setup *a, caber_setup *b)
{
    a->settings.gravity = b->settings.gravity = false;
    b->player.inclination = draws_between(g, 0.3, 1.4);
}

static void slope_is_weight_and_ground(void **state)
{
    (void)state;
    static const char *const ground[] = {
        "delivered_loft_deg",  "loft_change_deg",     "loft_from_lead_deg",
        "loft_from_droop_deg", "loft_from_twist_deg", "face_angle_deg",
        "face_rotation_deg",   "face_from_lead_deg",  "face_from_droop_deg",
        "face_from_twist_deg", "delivered_lie_deg",   "lie_change_deg",
        "lie_from_lead_deg",   "lie_from_droop_deg",  "lie_from_twist_deg",
        "closure_rate_deg_s",  "attack_angle_deg",    "path_deg",
        "hands_ahead_mm",      "hands_height_mm",     NULL};
    const symmetry y = {other_slope, draws_far, 0, ground};
    DRAWS_RECORD(
        "40 weightless swings in planes of another slope: all that is not against the ground",
        "without weight no direction is up", "1", compare_many(&y, 32, DRAWS(40)), 0);
}

/* Work space used before, by another swing of the model, leaves nothing behind; nor does a trace. */
static void a_swing_again_is_the_same(void **state)
{
    (void)state;
    gsl_rng *g = draws_begin(33);
    for (size_t i = 0; i < DRAWS(20); i++) {
        caber_setup *s = draws_far(g);
        caber_message message;
        caber_model *m = NULL;
        caber_work *w = NULL;
        caber_swing one, two;
        caber_trace *t = caber_trace_create();
        setups_fine(caber_model_create(s, &m, &message), &message);
        setups_fine(caber_work_create(m, &w, &message), &message);
        const caber_status first = caber_swing_run(m, w, &one, NULL, &message);
        assert_int_equal(caber_swing_run(m, w, &two, t, &message), first);
        draws_gap gap = {0};
        if (first == CABER_OK)
            draws_compare(&gap, &one, &two, none);
        assert_true(gap.most == 0);
        caber_trace_free(t);
        caber_work_free(w);
        caber_model_free(m);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
}

/* ------------------------------------------------------------------ to rounding and the integrator */

/* The two principal stiffnesses exchanged and their axes a right angle further, either way, to stay
 * within half a turn. */
static void principal_axes_exchanged(gsl_rng *g, caber_setup *a, caber_setup *b)
{
    (void)g, (void)a;
    const double turn = b->shaft.stations[0].ei_angle > 0 ? -SETUPS_PI / 2 : SETUPS_PI / 2;
    for (size_t i = 0; i < b->shaft.station_count; i++) {
        caber_station *p = b->shaft.stations + i;
        const double ei = p->ei;
        p->ei = p->ei_2 > 0 ? p->ei_2 : ei;
        p->ei_2 = ei;
        p->ei_angle += turn;
    }
}

static void axes_have_no_order(void **state)
{
    (void)state;
    const symmetry y = {principal_axes_exchanged, draws_near, 1e-10, none};
    DRAWS_RECORD("40 swings with the principal axes of EI exchanged", "two names of one stiffness",
                 "1", compare_many(&y, 34, DRAWS(40)), 1e-4);
}

/* Elements fine enough that other nodes do not show. */
static void fine_mesh(caber_setup *a, caber_setup *b)
{
    a->settings.elements = b->settings.elements = 60;
}

/* Anywhere, and where they are worst: half a millimetre from the grip's end and from a third of what
 * bends, nearer than two nodes may be. */
static void sections_of_one(gsl_rng *g, caber_setup *a, caber_setup *b)
{
    enum { MORE = 3 };
    fine_mesh(a, b);
    b->sections.items =
        realloc(b->sections.items, (b->sections.count + MORE) * sizeof *b->sections.items);
    assert_non_null(b->sections.items);
    const double butt = b->shaft.length - b->build.butt_trim, held = butt - b->build.hold;
    const double bends = held - b->build.tip_trim - b->build.insertion;
    const double ends[MORE] = {butt - b->grip.length - 5e-4, held - bends / 3 + 5e-4,
                               b->shaft.length * draws_between(g, 0.6, 1)};
    for (int i = 0; i < MORE; i++)
        b->sections.items[b->sections.count++] =
            (caber_section){ends[i] * draws_between(g, 0.2, 0.9), ends[i], 1, 1, 1};
}

static void sections_of_one_change_nothing(void **state)
{
    (void)state;
    const symmetry y = {sections_of_one, draws_near, 1e-10, none};
    DRAWS_RECORD("30 swings with three sections of scale 1", "a factor of one", "1",
                 compare_many(&y, 35, DRAWS(30)), 1e-4);
}

static double part_way(double from, double to, double x)
{
    return from + x * (to - from);
}

static double second_ei(const caber_station *p)
{
    return p->ei_2 > 0 ? p->ei_2 : p->ei;
}

/* A shaft of two stations, and the same with more on the straight line between, which a monotone cubic
 * reproduces. */
static void stations_between(gsl_rng *g, caber_setup *a, caber_setup *b)
{
    fine_mesh(a, b);
    const size_t last = a->shaft.station_count - 1, n = 3 + draws_below(g, 10);
    a->shaft.stations[1] = a->shaft.stations[last];
    a->shaft.station_count = 2;
    const caber_station *p = a->shaft.stations, *q = p + 1;
    free(b->shaft.stations);
    b->shaft.stations = setups_array(n, sizeof *b->shaft.stations);
    b->shaft.station_count = n;
    for (size_t i = 0; i < n; i++) {
        const double even = (double)i / (double)(n - 1), off = draws_between(g, -0.4, 0.4);
        const double x = i == 0 || i == n - 1 ? even : even + off / (double)(n - 1);
        b->shaft.stations[i] = (caber_station){.at = part_way(p->at, q->at, x),
                                               .ei = part_way(p->ei, q->ei, x),
                                               .ei_2 = part_way(second_ei(p), second_ei(q), x),
                                               .ei_angle = part_way(p->ei_angle, q->ei_angle, x),
                                               .gj = part_way(p->gj, q->gj, x),
                                               .mass = part_way(p->mass, q->mass, x),
                                               .diameter = part_way(p->diameter, q->diameter, x)};
    }
}

static void stations_on_the_line_change_nothing(void **state)
{
    (void)state;
    const symmetry y = {stations_between, draws_near, 1e-10, none};
    DRAWS_RECORD("30 swings of straight profiles with more stations on the line",
                 "Steffen's cubic through a line is the line", "1", compare_many(&y, 36, DRAWS(30)),
                 1e-4);
}

/* ------------------------------------------------------------------ later */

/* At rest without weight until the loads begin; with them later, all is later. */
static caber_setup *at_rest(gsl_rng *g)
{
    caber_setup *s = draws_near(g);
    caber_player *p = &s->player;
    s->settings.gravity = false;
    s->settings.tolerance = 1e-10;
    p->start_arm_speed = p->start_cock_speed = 0;
    p->load.hub.drive = CABER_LOCKED;
    p->load.stop.stiffness = 0;
    if (p->load.roll.drive == CABER_TORQUE)
        p->load.roll.drive = CABER_LOCKED;
    p->load.grip.late_onset = p->load.grip.onset + draws_between(g, 0, 0.2);
    p->load.grip.release = p->load.grip.onset + draws_between(g, 0, 0.2);
    s->settings.until = p->load.grip.onset + draws_between(g, 0.05, 0.3);
    return s;
}

static void begin_later(caber_setup *s, double later)
{
    caber_grip_load *l = &s->player.load.grip;
    l->onset += later;
    l->release += later;
    l->late_onset += later;
    s->settings.until += later;
}

static void a_later_load_is_a_later_swing(void **state)
{
    (void)state;
    static const char *const times[] = {"downswing_time_s", "peak_lag_time_s", NULL};
    draws_gap gap = {0};
    double times_off = 0;
    gsl_rng *g = draws_begin(37);
    for (size_t i = 0; i < DRAWS(30); i++) {
        caber_setup *s = at_rest(g);
        const double later = draws_between(g, 0.05, 0.5);
        caber_message message;
        caber_swing one, two;
        const caber_status first = swing_once(s, &one, NULL, &message);
        begin_later(s, later);
        assert_int_equal(swing_once(s, &two, NULL, &message), first);
        if (first == CABER_OK) {
            assert_true(one.bent.head_speed > 0.01);
            draws_compare(&gap, &one, &two, times);
            draws_raise(&times_off,
                        fabs(two.bent.downswing_time - one.bent.downswing_time - later));
        }
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(times_off < 1e-12);
    DRAWS_RECORD("30 swings from rest with all loads later", "time has no origin", "1", gap.most,
                 1e-4);
}

/* ------------------------------------------------------------------ the mirror */

/* Reflected across the plane X = 0 of the swing plane frame, every law of the model keeps its form
 * (exact). Then e1 and e3 are reflected and e2, which the frames make of them as a right hand does,
 * changes sign besides: angles about Z and e1, the forward components of the head and its products
 * with forward, and couples about Z and e1 change sign; components along e1 and e3 and energies do
 * not. Gamma is odd in beta - square and in the mirror again falls with beta, so of the gear only
 * `square` changes sign. */
static void negate(caber_table *t)
{
    for (size_t i = 0; i < t->count; i++)
        t->value[i] = -t->value[i];
}

static void reflect(caber_setup *s)
{
    caber_player *p = &s->player;
    caber_load *l = &p->load;
    p->start_arm = -p->start_arm;
    p->start_cock = -p->start_cock;
    p->start_arm_speed = -p->start_arm_speed;
    p->start_cock_speed = -p->start_cock_speed;
    negate(&l->hub.table);
    negate(&l->grip.table);
    negate(&l->roll.table);
    l->grip.peak = -l->grip.peak;
    l->grip.late = -l->grip.late;
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

/* A table for the hub, since its program is one-sided, and no stop, likewise. */
static caber_setup *two_sided(gsl_rng *g)
{
    caber_setup *s = draws_far(g);
    caber_load *l = &s->player.load;
    if (l->hub.drive == CABER_TORQUE && l->hub.table.count == 0)
        draws_table(g, &l->hub.table, 0, draws_between(g, 100, 400), draws_between(g, 0.03, 0.3));
    l->stop.stiffness = 0;
    setups_until(s, draws_between(g, 0.1, 0.25), 1e-10);
    return s;
}

/* A column of both traces, one times `sign`, in parts of what is usual for it. */
static void raise(double *most, double a, double b, double sign, double usual)
{
    draws_raise(most, fabs(a - sign * b) / fmax(fabs(a), usual));
}

static void compare_reflected(double *most, const caber_trace *a, const caber_trace *b)
{
    assert_int_equal(a->count, b->count);
    for (size_t i = 0; i < a->count; i++) {
        const caber_trace_row *x = a->rows + i, *y = b->rows + i;
        raise(most, x->arm_angle, y->arm_angle, -1, 1);
        raise(most, x->club_angle, y->club_angle, -1, 1);
        raise(most, x->roll, y->roll, -1, 1);
        raise(most, x->club_speed, y->club_speed, -1, 10);
        raise(most, x->lead, y->lead, -1, 0.01);
        raise(most, x->droop, y->droop, 1, 0.01);
        raise(most, x->lag, y->lag, -1, 0.01);
        raise(most, x->out_of_plane, y->out_of_plane, 1, 0.01);
        raise(most, x->twist, y->twist, -1, 0.1);
        raise(most, x->hub_torque, y->hub_torque, -1, 10);
        raise(most, x->grip_couple, y->grip_couple, -1, 10);
        raise(most, x->roll_torque, y->roll_torque, -1, 10);
        raise(most, x->handle_moment, y->handle_moment, -1, 10);
        raise(most, x->handle_moment_out, y->handle_moment_out, 1, 10);
        raise(most, x->grip_force, y->grip_force, 1, 100);
        raise(most, x->head_ahead, y->head_ahead, -1, 1);
        raise(most, x->head_up, y->head_up, 1, 1);
        raise(most, x->head_out, y->head_out, 1, 1);
        raise(most, x->head_speed, y->head_speed, 1, 10);
        raise(most, x->kinetic, y->kinetic, 1, 10);
        raise(most, x->strain, y->strain, 1, 1);
    }
}

static void a_mirror_swings_alike(void **state)
{
    (void)state;
    double most = 0;
    size_t swings = 0;
    gsl_rng *g = draws_begin(38);
    for (size_t i = 0; i < DRAWS(60); i++) {
        caber_setup *s = two_sided(g);
        caber_trace *a = caber_trace_create(), *b = caber_trace_create();
        caber_message message;
        caber_swing one, two;
        const caber_status first = swing_once(s, &one, a, &message);
        reflect(s);
        assert_int_equal(swing_once(s, &two, b, &message), first);
        if (first == CABER_OK) {
            swings++;
            compare_reflected(&most, a, b);
            assert_true(fabs(one.bent.lead_deflection) > 1e-6 && one.bent.head_speed > 0.01);
        }
        caber_trace_free(a);
        caber_trace_free(b);
        caber_setup_free(s);
    }
    gsl_rng_free(g);
    assert_true(2 * swings > DRAWS(60));
    DRAWS_RECORD("60 swings and their mirror images, all drives, row by row", "mirror image", "1",
                 most, 1e-5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(left_is_right),
                                       cmocka_unit_test(a_turned_plane_turns_azimuths),
                                       cmocka_unit_test(slope_is_weight_and_ground),
                                       cmocka_unit_test(a_swing_again_is_the_same),
                                       cmocka_unit_test(axes_have_no_order),
                                       cmocka_unit_test(sections_of_one_change_nothing),
                                       cmocka_unit_test(stations_on_the_line_change_nothing),
                                       cmocka_unit_test(a_later_load_is_a_later_swing),
                                       cmocka_unit_test(a_mirror_swings_alike)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
