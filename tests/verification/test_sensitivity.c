/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What 10 % more EI and GJ in each tenth of a shaft does (caber_sensitivity_run): against the integrals
 * of a cantilever that is held still, and against what mechanics demands of a whole swing. */
#include "record.h"
#include "setups.h"

static const record_source integrals = {
    RECORD_EXACT, "-integral of M m/EI over the tenth, 0.1 of it (unit load; linear EI and GJ)"};

enum { PARTS = 10 };

static caber_sensitivity *sensitivity_of(const caber_setup *s, int parts)
{
    caber_sensitivity *found = NULL;
    caber_message message;
    setups_fine(caber_sensitivity_run(s, parts, NULL, &found, &message), &message);
    return found;
}

/* ------------------------------------------------------------------ held still */

/* A shaft without weight, level and held still, whose EI and GJ rise linearly from tip to butt; a head
 * of small weight W on its tip, its centre x_c beyond the end and z_c to the side of it. With x from
 * the end towards the hands and m the moment of a unit load at the end:
 *   deflection  integral W (x + x_c) x / EI dx,   slope  integral W (x + x_c) / EI dx,
 *   twist  integral W z_c / GJ dx,   strain energy  half of integral W^2 (x + x_c)^2/EI + (W z_c)^2/GJ.
 * The shaft's own weight is 1e-6 of the head's; squares of slopes are 1e-8. */
static const double weight = 0.02 * CABER_GRAVITY, x_c = 0.03, z_c = 0.05;
static const double tip_ei = 300, butt_ei = 900, tip_gj = 200, butt_gj = 400;

static caber_setup *still_setup(bool droop)
{
    caber_setup *s = setups_array(1, sizeof *s);
    *s = (caber_setup){.name = "held still"};
    s->shaft = (caber_shaft){.length = 1.15, .density = 20000, .station_count = 2};
    s->shaft.stations = setups_array(2, sizeof(caber_station));
    s->shaft.stations[0] =
        (caber_station){.ei = tip_ei, .gj = tip_gj, .mass = 2e-8, .diameter = 0.002};
    s->shaft.stations[1] =
        (caber_station){.at = 1.15, .ei = butt_ei, .gj = butt_gj, .mass = 2e-8, .diameter = 0.002};
    /* Upright lie: forward = e2, up = -e1, toe = e3. */
    s->head = (caber_head){
        .mass = 0.02, .lie = SETUPS_PI / 2, .loft = 0.2, .inertia = {1e-5, 1e-5, 1e-5, 0, 0, 0}};
    s->head.centre_of_mass[1] = -x_c;
    s->head.centre_of_mass[droop ? 0 : 2] = z_c;
    s->grip = (caber_grip){.length = 0.1, .diameter = 0.02};
    s->build = (caber_build){.tip_trim = 0.01, .butt_trim = 0.02, .insertion = 0.03, .hold = 0.12};
    /* Arms level towards the target in a vertical plane; roll -90 deg turns e3 up. */
    s->player = (caber_player){.arm_length = 0.5,
                               .arm_inertia = 1,
                               .inclination = SETUPS_PI / 2,
                               .start_arm = SETUPS_PI / 2,
                               .ball_down = NAN,
                               .ball_out = NAN};
    s->player.load.hub.drive = s->player.load.grip.drive = CABER_LOCKED;
    s->player.load.roll.drive = CABER_LOCKED;
    s->player.load.roll.top = droop ? -SETUPS_PI / 2 : 0;
    s->settings = caber_settings_default();
    s->ball = caber_ball_default();
    s->air = caber_air_default();
    /* A step: within 20 ms the integrator is allowed to move the twist by 2e-10 rad, which would show. */
    s->settings.until = 0.001;
    return s;
}

/* integral of x^n / (a + b x) from 0 to x, n = 0, 1, 2. */
static double over_linear(int n, double a, double b, double x)
{
    const double zero = log1p(b * x / a) / b;
    const double one = (x - a * zero) / b;
    return n == 0 ? zero : n == 1 ? one : (x * x / 2 - a * one) / b;
}

/* integral of (c0 + c1 x + c2 x^2)/(stiffness) between two places from the uncut tip. */
static double between(const double c[3], double tip, double butt, double from, double to)
{
    const double end = 0.04, hands = 1.15 - 0.02 - 0.12, rise = (butt - tip) / 1.15;
    from = fmin(fmax(from, end), hands) - end;
    to = fmin(fmax(to, end), hands) - end;
    double sum = 0;
    for (int n = 0; n < 3; n++)
        sum += c[n] * (over_linear(n, tip + rise * end, rise, to) -
                       over_linear(n, tip + rise * end, rise, from));
    return sum;
}

/* The largest difference of a list of answers, over the largest of them. */
typedef struct worst {
    double off, size;
} worst;

static void compare(worst *w, double got, double want)
{
    w->off = fmax(w->off, fabs(got - want));
    w->size = fmax(w->size, fabs(want));
}

enum { DEFLECTION, SLOPE, TWIST, ENERGY_EI, ENERGY_GJ, MOMENT, ANSWERS };

/* One part, or the whole; `sign` is that of the deflection as it is counted. */
static void compare_part(worst w[ANSWERS], const caber_part *p, bool droop)
{
    const double deflect[3] = {0, weight * x_c, weight}, slope[3] = {weight * x_c, weight, 0};
    const double twist[3] = {weight * z_c, 0, 0}, moment_twist[3] = {twist[0] * twist[0] / 2, 0, 0};
    const double energy[3] = {slope[0] * slope[0] / 2, slope[0] * slope[1],
                              slope[1] * slope[1] / 2};
    const caber_impact *ei = &p->ei.first, *gj = &p->gj.first;
    /* A level club with the weight along -e2 lags; along -e3 it droops. */
    const double sign = droop ? 1 : -1;
    compare(&w[DEFLECTION], droop ? ei->droop : ei->lead_deflection,
            -0.1 * sign * between(deflect, tip_ei, butt_ei, p->from, p->to));
    compare(&w[SLOPE], droop ? ei->droop_slope : ei->lead_slope,
            -0.1 * sign * between(slope, tip_ei, butt_ei, p->from, p->to));
    /* About e1 the couple is -W y_c when the weight is along -e3 and W z_c when it is along -e2; a
     * closing twist is against e1. */
    compare(&w[TWIST], gj->tip_twist,
            -0.1 * sign * between(twist, tip_gj, butt_gj, p->from, p->to));
    compare(&w[ENERGY_EI], ei->strain_energy_peak,
            -0.1 * between(energy, tip_ei, butt_ei, p->from, p->to));
    compare(&w[ENERGY_GJ], gj->strain_energy_peak,
            -0.1 * between(moment_twist, tip_gj, butt_gj, p->from, p->to));
    /* The moment at the hands is given by statics alone. */
    compare(&w[MOMENT], ei->peak_handle_moment, 0);
    compare(&w[MOMENT], gj->peak_handle_moment, 0);
}

static void held_still(bool droop)
{
    static const char *const lead_names[ANSWERS] = {"level club held still, 10 % more EI: lead",
                                                    "lead slope",
                                                    "the same, 10 % more GJ: twist",
                                                    "strain energy, EI",
                                                    "strain energy, GJ",
                                                    "moment at the hands"};
    static const char *const droop_names[ANSWERS] = {
        "the same, weight towards the heel, 10 % more EI: droop",
        "droop slope",
        "the same, 10 % more GJ: twist",
        "strain energy, EI",
        "strain energy, GJ",
        "moment at the hands"};
    caber_setup *s = still_setup(droop);
    caber_sensitivity *found = sensitivity_of(s, PARTS);
    worst w[ANSWERS] = {{0, 0}};
    for (size_t i = 0; i < found->count; i++)
        compare_part(w, &found->parts[i], droop);
    compare_part(w, &found->whole, droop);
    w[MOMENT].size = weight * (0.97 + x_c);
    for (int a = 0; a < ANSWERS; a++) {
        assert_true(w[a].size > 0);
        verify_within((droop ? droop_names : lead_names)[a], integrals,
                      "of the largest, worst of ten tenths and the whole", w[a].off / w[a].size,
                      1e-5);
    }
    caber_sensitivity_free(found);
    caber_setup_free(s);
}

static void lead_held_still(void **state)
{
    (void)state;
    held_still(false);
}

static void droop_held_still(void **state)
{
    (void)state;
    held_still(true);
}

/* ------------------------------------------------------------------ whole swings */

/* Outputs that have no force in their dimension, and how far in the printed unit two ways to the same
 * derivative may be apart: a twentieth of the last place that `caber swing --sensitivity` prints. */
static const struct {
    const char *name;
    double allowed;
} kinematic[] = {{"loft_change_deg", 5e-5},    {"face_rotation_deg", 5e-5},
                 {"lead_deflection_mm", 5e-4}, {"droop_mm", 5e-4},
                 {"head_speed_mps", 5e-5},     {"peak_lag_mm", 5e-4}};
enum { KINEMATIC = sizeof kinematic / sizeof kinematic[0] };

static const caber_field *field_called(const char *name)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++)
        if (!strcmp(fields[i].name, name))
            return fields + i;
    fail_msg("no output %s", name);
    return NULL;
}

/* The tenths against the whole, which is found from smaller steps by swings of its own. Returns the
 * largest difference over what is allowed. */
static double sums_off(const caber_sensitivity *found)
{
    double worst_ratio = 0;
    for (int k = 0; k < KINEMATIC; k++) {
        const caber_field *f = field_called(kinematic[k].name);
        double ei = -caber_impact_value(&found->whole.ei.first, f);
        double gj = -caber_impact_value(&found->whole.gj.first, f);
        for (size_t i = 0; i < found->count; i++) {
            ei += caber_impact_value(&found->parts[i].ei.first, f);
            gj += caber_impact_value(&found->parts[i].gj.first, f);
        }
        worst_ratio = fmax(worst_ratio, fmax(fabs(ei), fabs(gj)) / kinematic[k].allowed);
    }
    return worst_ratio;
}

/* Multiplies everything with a force in its dimension but EI and GJ. */
static void scale_forces(caber_setup *s, double k)
{
    for (size_t i = 0; i < s->shaft.station_count; i++)
        s->shaft.stations[i].mass *= k;
    s->shaft.density *= k;
    s->head.mass *= k;
    for (int i = 0; i < 6; i++)
        s->head.inertia[i] *= k;
    s->grip.mass *= k;
    s->player.arm_inertia *= k;
    s->player.arm_mass *= k;
    caber_load *l = &s->player.load;
    l->hub.peak *= k;
    l->grip.peak *= k;
    l->grip.late *= k;
    l->stop.stiffness *= k;
    l->stop.damping *= k;
}

static caber_impact scaled_swing(double k)
{
    caber_setup *s = setups_read("neutral-quick");
    scale_forces(s, k);
    s->settings.tolerance = 1e-10;
    const caber_swing swing = setups_swing(s, NULL);
    caber_setup_free(s);
    return swing.bent;
}

/* A swing with k times all masses and torques moves like one with 1/k times EI and GJ: so the whole
 * shaft's EI and GJ together undo what masses and torques together do. Plain swings at two step widths,
 * extrapolated. Of the demo players this one's shaft rings most at impact. */
static void masses_and_torques(void **state)
{
    (void)state;
    if (CHECK_SANITISED)
        skip(); /* a hundred swings, for their numbers */
    caber_setup *s = setups_read("neutral-quick");
    caber_sensitivity *found = sensitivity_of(s, PARTS);
    const double h = log(1.1) / 8;
    const caber_impact up = scaled_swing(exp(h)), down = scaled_swing(exp(-h));
    const caber_impact half_up = scaled_swing(exp(h / 2)), half_down = scaled_swing(exp(-h / 2));
    const record_source law = {RECORD_LAW, "10 % more of all masses and torques undoes it"};
    for (int i = 0; i < KINEMATIC; i++) {
        const caber_field *f = field_called(kinematic[i].name);
        const double wide = (caber_impact_value(&up, f) - caber_impact_value(&down, f)) / (2 * h);
        const double narrow =
            (caber_impact_value(&half_up, f) - caber_impact_value(&half_down, f)) / h;
        char problem[96];
        snprintf(problem, sizeof problem, "10 %% more EI and GJ, quick transition: %s", f->label);
        verify(problem, law, f->unit,
               caber_impact_value(&found->whole.ei.first, f) +
                   caber_impact_value(&found->whole.gj.first, f),
               -0.1 * (4 * narrow - wide) / 3, 0, kinematic[i].allowed);
    }
    const record_source sums = {RECORD_LAW, "the sum of the tenths is the whole shaft's"};
    verify_within("10 % more EI, GJ, quick transition: six outputs", sums,
                  "of what is allowed, a twentieth of the printed place", sums_off(found), 1);
    caber_sensitivity_free(found);
    caber_setup_free(s);
}

/* Replaces the load of a joint by its angle through a swing. */
static void drive_by_motion(caber_drive *drive, caber_table *t, const caber_trace *trace,
                            size_t member)
{
    *drive = CABER_MOTION;
    t->count = trace->count;
    t->time = setups_array(t->count, sizeof(double));
    t->value = setups_array(t->count, sizeof(double));
    for (size_t i = 0; i < t->count; i++) {
        t->time[i] = trace->rows[i].time;
        memcpy(&t->value[i], (const char *)&trace->rows[i] + member, sizeof(double));
    }
}

/* A player whose hands move as they did with the shaft as it is: the parts add up to the whole there
 * too, and now the shaft changes the load on the handle. A table's rates have kinks at its rows, where
 * the integrator errs more: a quarter of the printed place. */
static void driven_by_motion(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-quick");
    caber_trace *trace = caber_trace_create();
    assert_non_null(trace);
    s->settings.sample = 0.01;
    setups_swing(s, trace);
    caber_load *l = &s->player.load;
    drive_by_motion(&l->hub.drive, &l->hub.table, trace, offsetof(caber_trace_row, arm_angle));
    drive_by_motion(&l->grip.drive, &l->grip.table, trace, offsetof(caber_trace_row, cock));
    s->settings.until = 0.25; /* the table ends at impact */
    caber_sensitivity *found = sensitivity_of(s, 2);
    assert_true(sums_off(found) < 5);
    assert_true(fabs(found->whole.ei.first.peak_handle_moment) > 0.1);
    caber_sensitivity_free(found);
    caber_trace_free(trace);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lead_held_still), cmocka_unit_test(droop_held_still),
        cmocka_unit_test(masses_and_torques), cmocka_unit_test(driven_by_motion)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
