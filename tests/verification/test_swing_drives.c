/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Joints driven in other ways than by a torque program, and how a swing begins and ends. */
#include "setups.h"
#include "swing/dynamics.h"
#include "swing/handle.h"

/* ------------------------------------------------------------------ motion for torque */

typedef struct column {
    size_t angle, speed; /* offsets in a row */
} column;
static const column arm = {offsetof(caber_trace_row, arm_angle),
                           offsetof(caber_trace_row, arm_speed)};
static const column handle = {offsetof(caber_trace_row, club_angle),
                            offsetof(caber_trace_row, club_speed)};
static const column roll = {offsetof(caber_trace_row, roll), offsetof(caber_trace_row, roll_speed)};

static double value_at(const caber_trace_row *row, size_t offset)
{
    double x;
    memcpy(&x, (const char *)row + offset, sizeof x);
    return x;
}

enum { LEAD_IN = 20 };

/* A motion table of every row of a trace but the last, which is off the even grid. A natural spline
 * has no acceleration at its end, which would start the shaft in another equilibrium: the table begins
 * LEAD_IN rows early, continued backwards as the first rows bend. `less` is subtracted. */
static void table_from(caber_table *t, const caber_trace *trace, column c, const column *less)
{
    const caber_trace_row *r = trace->rows;
    const double h = r[1].time - r[0].time;
    t->count = LEAD_IN + trace->count - 1;
    t->time = setups_array(t->count, sizeof(double));
    t->value = setups_array(t->count, sizeof(double));
    double speed[3], first;
    for (int i = 0; i < 3; i++)
        speed[i] = value_at(r + i, c.speed) - (less ? value_at(r + i, less->speed) : 0);
    first = value_at(r, c.angle) - (less ? value_at(r, less->angle) : 0);
    const double rate = (-3 * speed[0] + 4 * speed[1] - speed[2]) / (2 * h);
    const double jerk = (speed[0] - 2 * speed[1] + speed[2]) / (h * h);
    for (size_t i = 0; i < t->count; i++) {
        const double at = h * ((double)i - LEAD_IN);
        const caber_trace_row *row = r + (i < LEAD_IN ? 0 : i - LEAD_IN);
        t->time[i] = i < LEAD_IN ? at : row->time;
        t->value[i] = i < LEAD_IN ? first + at * (speed[0] + at * (rate / 2 + at * jerk / 6))
                                  : value_at(row, c.angle) - (less ? value_at(row, less->angle) : 0);
    }
}

static caber_setup *torque_driven(void)
{
    caber_setup *s = setups_read("neutral-quick");
    s->settings.sample = 2.5e-4;
    setups_until(s, 0.2505, 1e-9);
    return s;
}

/* Rows between 30 and 230 ms: near its ends a natural spline has not the swing's acceleration. */
static bool inner(const caber_trace_row *r)
{
    return r->time > 0.030 && r->time < 0.230;
}

/* Largest |x - y| of a column over the inner rows. */
#define FURTHEST(member, a, b)                                                                     \
    furthest((a), (b), offsetof(caber_trace_row, member))
static double furthest(const caber_trace *a, const caber_trace *b, size_t offset)
{
    double most = 0;
    for (size_t i = 0; i < a->count - 1; i++) {
        if (!inner(a->rows + i))
            continue;
        double x, y;
        memcpy(&x, (const char *)(a->rows + i) + offset, sizeof x);
        memcpy(&y, (const char *)(b->rows + i) + offset, sizeof y);
        most = fmax(most, fabs(x - y));
    }
    return most;
}

static void motion_reproduces_torque(void **state)
{
    (void)state;
    enum { HUB = 1, GRIP = 2, ROLL = 4 };
    caber_setup *s = torque_driven();
    caber_trace *want = caber_trace_create();
    setups_swing(s, want);
    for (int driven = 1; driven < 8; driven++) {
        caber_setup *copy = torque_driven();
        caber_load *l = &copy->player.load;
        if (driven & HUB) {
            l->hub.drive = CABER_MOTION;
            table_from(&l->hub.table, want, arm, NULL);
        }
        if (driven & GRIP) {
            l->grip.drive = CABER_MOTION;
            table_from(&l->grip.table, want, handle, &arm);
        }
        if (driven & ROLL) {
            l->roll.drive = CABER_MOTION;
            table_from(&l->roll.table, want, roll, NULL);
        }
        copy->settings.until = 0.25;
        caber_trace *got = caber_trace_create();
        setups_swing(copy, got);
        print_message("%d: %g %g %g | %g %g %g | %g %g | %g\n", driven, FURTHEST(lead, want, got), FURTHEST(droop, want, got), FURTHEST(twist, want, got), FURTHEST(hub_torque, want, got), FURTHEST(grip_couple, want, got), FURTHEST(roll_torque, want, got), FURTHEST(arm_angle, want, got), FURTHEST(club_angle, want, got), FURTHEST(work, want, got));
        caber_trace_free(got);
        caber_setup_free(copy);
    }
    caber_trace_free(want);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(motion_reproduces_torque)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
