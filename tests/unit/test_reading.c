/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Predictions of readings: against the elements, their derivatives against differences, and what is refused. */
#include <stdlib.h>

#include "beams.h"
#include "shaft/reading.h"

enum { STATIONS = 81 };
static const double length = 1.16, tau = 6.28318530717958647692;

/* A tapered shaft with two principal EI, each station scaled as given. */
static profile *tapered(const double *ei_scale, const double *gj_scale, const double *mass_scale,
                        double difference, double angle)
{
    caber_station s[STATIONS];
    for (int i = 0; i < STATIONS; i++) {
        const double part = (double)i / (STATIONS - 1);
        const double k = ei_scale ? ei_scale[i] : 1;
        s[i] = (caber_station){.at = part * length,
                               .ei = k * exp(difference) * 20 * (1 + 2 * part * part),
                               .ei_2 = k * exp(-difference) * 20 * (1 + 2 * part * part),
                               .ei_angle = angle,
                               .gj = (gj_scale ? gj_scale[i] : 1) * 12 * (1 + 2 * part),
                               .mass = (mass_scale ? mass_scale[i] : 1) * 0.06 * (1 - 0.2 * part),
                               .diameter = 0.01};
    }
    const caber_shaft shaft = {.name = "test",
                               .length = length,
                               .density = 1500,
                               .station_count = STATIONS,
                               .stations = s};
    profile *p = NULL;
    caber_message message;
    if (profile_create(&shaft, NULL, &p, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return p;
}

/* Every kind of jig, load and reading apart. */
static const caber_reading jigs[] = {
    {.kind = CABER_READ_SPAN,
     .held_at = 0.73,
     .rest_at = 0.41,
     .load_at = 0.6,
     .read_at = 0.52,
     .load = 50},
    {.kind = CABER_READ_SPAN,
     .held_at = 0.3,
     .rest_at = 0.1,
     .load_at = 0.2,
     .read_at = 0.2,
     .load = 50},
    {.kind = CABER_READ_CANTILEVER, .held_at = 1.03, .load_at = 0.11, .read_at = 0.37, .load = 5},
    {.kind = CABER_READ_CANTILEVER, .held_at = 0.8, .load_at = 0.33, .read_at = 0.02, .load = 5},
    {.kind = CABER_READ_FREQUENCY, .held_at = 1.03, .load = 0.2},
    {.kind = CABER_READ_FREQUENCY, .held_at = 0.55, .load = 0},
    {.kind = CABER_READ_TWIST, .held_at = 1.05, .load_at = 0.03, .read_at = 0.44, .load = 2},
    {.kind = CABER_READ_MASS},
    {.kind = CABER_READ_BALANCE}};
enum { JIGS = sizeof jigs / sizeof jigs[0] };

static double predict(const profile *p, const caber_reading *r, reading_weights *w)
{
    double out = NAN;
    caber_message message;
    if (reading_predict(p, length, r, &out, w, &message) != CABER_OK)
        fail_msg("%s", message.text);
    return out;
}

/* The change that weights promise when log EI, log GJ and log m change by `change` at each place and B
 * by exp(S) with S = [p q; q -p] small. */
static double promised(const reading_weights *w, double (*change)(double), int property)
{
    double sum = 0;
    for (size_t i = 0; i < w->count; i++) {
        const reading_weight *x = &w->items[i];
        /* B = EI I here: the relative change of its elements is that of EI. */
        const double weight = property == 0   ? x->bend[0] + x->bend[1]
                              : property == 1 ? x->twist
                                              : x->mass;
        sum += weight * change(x->at);
    }
    return sum;
}

/* Smooth, so that what lies between the stations follows it. */
static double wave(double at)
{
    return 0.3 + sin(3 * at) * at;
}

static void derivatives_of_the_curves(void **state)
{
    (void)state;
    const double step = 1e-4;
    double up[STATIONS], down[STATIONS];
    for (int i = 0; i < STATIONS; i++) {
        up[i] = exp(step * wave(length * i / (STATIONS - 1)));
        down[i] = 1 / up[i];
    }
    reading_weights w = {0};
    for (int property = 0; property < 3; property++) {
        profile *p[3];
        p[0] = tapered(NULL, NULL, NULL, 0, 0);
        for (int k = 0; k < 2; k++) {
            const double *scale = k ? up : down;
            p[1 + k] = tapered(property == 0 ? scale : NULL, property == 1 ? scale : NULL,
                               property == 2 ? scale : NULL, 0, 0);
        }
        for (int j = 0; j < JIGS; j++)
            for (int turn = 0; turn < 3; turn++) {
                caber_reading r = jigs[j];
                r.orientation = turn == 2 ? (double)NAN : 0.7 * turn;
                const double value = predict(p[0], &r, &w);
                const double got = promised(&w, wave, property) / value;
                const double want =
                    (predict(p[2], &r, NULL) - predict(p[1], &r, NULL)) / (2 * step * value);
                /* Steffen's splines between the stations do not follow the wave exactly. */
                assert_close(got, want, 2e-3, 1e-6);
            }
        for (int k = 0; k < 3; k++)
            profile_free(p[k]);
    }
    reading_weights_free(&w);
}

/* The elements of B one at a time, everywhere, about a B with two principal values. */
static void derivatives_of_the_stiffness_matrix(void **state)
{
    (void)state;
    const double d = 0.1, angle = 0.5, step = 1e-3;
    /* B over EI and its changes: vv, ww, vw. */
    const double b[3] = {exp(d) * pow(cos(angle), 2) + exp(-d) * pow(sin(angle), 2),
                         exp(d) * pow(sin(angle), 2) + exp(-d) * pow(cos(angle), 2),
                         (exp(d) - exp(-d)) * cos(angle) * sin(angle)};
    reading_weights w = {0};
    for (int j = 0; j < 6; j++)
        for (int turn = 0; turn < 5; turn++)
            for (int k = 0; k < 3; k++) {
                caber_reading r = jigs[j];
                r.orientation = turn == 4 ? (double)NAN : angle + 0.4 * turn;
                double value[2], got = 0;
                for (int side = 0; side < 2; side++) {
                    double c[3] = {b[0], b[1], b[2]};
                    c[k] += side ? step : -step;
                    const double mean = (c[0] + c[1]) / 2, half = (c[0] - c[1]) / 2;
                    const double radius = hypot(half, c[2]);
                    double scale[STATIONS];
                    const double root = sqrt((mean + radius) * (mean - radius));
                    for (int i = 0; i < STATIONS; i++)
                        scale[i] = root;
                    profile *p = tapered(scale, NULL, NULL, log((mean + radius) / root),
                                         atan2(c[2], half) / 2);
                    value[side] = predict(p, &r, NULL);
                    profile_free(p);
                }
                profile *p = tapered(NULL, NULL, NULL, d, angle);
                const double at = predict(p, &r, &w);
                profile_free(p);
                for (size_t i = 0; i < w.count; i++)
                    got += w.items[i].bend[k];
                /* A frequency's is right to the difference of the planes. Elements of a few mm round
                 * deflections at 1e-8, which the step makes 1e-5 of. */
                const double allowed = r.kind == CABER_READ_FREQUENCY ? 4e-3 : 1e-5;
                assert_close(got / at, (value[1] - value[0]) / (2 * step * at), 0, allowed);
            }
    reading_weights_free(&w);
}

/* As one would do it by hand with the beam: one force, the support's answer, and the shaft turned back. */
static void readings_are_what_the_elements_say(void **state)
{
    (void)state;
    profile *p = tapered(NULL, NULL, NULL, 0.05, 0.4);
    caber_message message;
    for (int j = 0; j < 4; j++) {
        caber_reading r = jigs[j];
        r.orientation = 0.9;
        const bool span = r.kind == CABER_READ_SPAN;
        const beam_shape shape = {.profile = p,
                                  .held_at = r.held_at,
                                  .end_at = span ? r.rest_at : 0,
                                  .element = 0.005,
                                  .loaded = &r.load_at,
                                  .loaded_count = 1};
        beam *b = NULL;
        assert_int_equal(beam_create(&shape, &b, &message), CABER_OK);
        const double c = cos(0.9), s = sin(0.9), at = r.held_at - r.load_at;
        double *u = calloc(b->dof_count, sizeof *u);
        assert_non_null(u);
        beam_add_force(b, at, r.load * c, r.load * s, u);
        /* The other support of a span carries P a/L; the shaft, clamped at the first, is turned back onto it. */
        const double carried = span ? -r.load * at / b->length : 0;
        beam_add_end_load(b, carried * c, carried * s, vec3_make(0, 0, 0), u);
        beam_solve(b, u);
        const beam_state read = beam_state_at(b, u, r.held_at - r.read_at),
                         end = beam_state_at(b, u, b->length);
        const double turned = span ? (r.held_at - r.read_at) / b->length : 0;
        assert_close(predict(p, &r, NULL),
                     c * (read.v - turned * end.v) + s * (read.w - turned * end.w), 1e-6, 0);
        free(u);
        beam_free(b);
    }
    profile_free(p);
}

/* Pulled along a principal direction a shaft swings with that plane's frequency, pulled half-way with
 * the root of the mean square; on a round shaft with the same everywhere. */
static void frequency_in_a_direction(void **state)
{
    (void)state;
    caber_reading r = jigs[4];
    profile *round = tapered(NULL, NULL, NULL, 0, 0);
    const double same = predict(round, &r, NULL);
    for (int k = 0; k < 8; k++) {
        r.orientation = k * tau / 16;
        assert_close(predict(round, &r, NULL), same, 1e-9, 0);
    }
    r.orientation = NAN;
    assert_close(predict(round, &r, NULL), same, 1e-9, 0);
    profile_free(round);
    profile *p = tapered(NULL, NULL, NULL, 0.02, 0.3);
    double f[4];
    for (int k = 0; k < 4; k++) {
        r.orientation = 0.3 + k * tau / 8;
        f[k] = predict(p, &r, NULL);
    }
    assert_true(f[0] > f[2]);
    assert_close(f[0] / f[2], exp(0.02), 1e-6, 0);
    assert_close(f[1] * f[1], (f[0] * f[0] + f[2] * f[2]) / 2, 1e-9, 0);
    assert_close(f[3], f[1], 1e-9, 0);
    r.orientation = NAN;
    assert_close(predict(p, &r, NULL), f[1], 1e-9, 0);
    /* A small step of the direction changes it little: no jump from mode to mode. */
    r.orientation = 0.3 + tau / 8 + 1e-4;
    assert_close(predict(p, &r, NULL), f[1], 1e-5, 0);
    profile_free(p);
}

/* An unnoted orientation is the mean over the directions of all the readings it may be. */
static void unnoted_orientation_is_the_mean(void **state)
{
    (void)state;
    profile *p = tapered(NULL, NULL, NULL, 0.1, 0.3);
    for (int j = 0; j < 4; j++) {
        caber_reading r = jigs[j];
        double mean = 0;
        for (int k = 0; k < 8; k++) {
            r.orientation = k * tau / 16;
            mean += predict(p, &r, NULL) / 8;
        }
        r.orientation = NAN;
        assert_close(predict(p, &r, NULL), mean, 1e-12, 0);
    }
    profile_free(p);
}

static void refuses_what_is_impossible(void **state)
{
    (void)state;
    static const struct {
        caber_reading reading;
        const char *message;
    } bad[] = {
        {{.kind = (caber_reading_kind)17, .value = 1, .sigma = 1}, "no such kind of reading"},
        {{.kind = CABER_READ_MASS, .value = -1, .sigma = 1}, "must be above 0"},
        {{.kind = CABER_READ_MASS, .value = (double)NAN, .sigma = 1}, "must be above 0"},
        {{.kind = CABER_READ_MASS, .value = 0.06}, "give its jig a resolution"},
        {{.kind = CABER_READ_BALANCE, .value = 1.3, .sigma = 1e-3}, "the balance point at 1300 mm"},
        {{.kind = CABER_READ_SPAN, .value = 1e-3, .sigma = 1e-5, .load = 0}, "a load of 0"},
        {{.kind = CABER_READ_SPAN,
          .value = 1e-3,
          .sigma = 1e-5,
          .load = 60,
          .held_at = 0.3,
          .rest_at = 0.4,
          .load_at = 0.35,
          .read_at = 0.35},
         "the support nearer the butt at 300 mm"},
        {{.kind = CABER_READ_SPAN,
          .value = 1e-3,
          .sigma = 1e-5,
          .load = 60,
          .held_at = 0.4,
          .rest_at = 0.2,
          .load_at = 0.1,
          .read_at = 0.3},
         "the load at 100 mm"},
        {{.kind = CABER_READ_SPAN,
          .value = 1e-3,
          .sigma = 1e-5,
          .load = 60,
          .held_at = 0.4,
          .rest_at = 0.2,
          .load_at = 0.3,
          .read_at = 0.5},
         "the place of reading at 500 mm"},
        {{.kind = CABER_READ_CANTILEVER, .value = 1e-3, .sigma = 1e-5, .load = 6, .held_at = 1.5},
         "the clamp at 1500 mm"},
        {{.kind = CABER_READ_FREQUENCY, .value = 4, .sigma = 1e-3, .load = -1, .held_at = 1},
         "a load of -1"},
        {{.kind = CABER_READ_TWIST,
          .value = 0.1,
          .sigma = 1e-3,
          .load = 2,
          .held_at = 0.5,
          .load_at = 0.7},
         "the load at 700 mm"},
        {{.kind = CABER_READ_TWIST,
          .value = 0.1,
          .sigma = 1e-3,
          .load = 2,
          .held_at = 0.5,
          .orientation = (double)INFINITY},
         "an orientation must be a number"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        caber_reading item = bad[i].reading;
        item.line = 7;
        snprintf(item.source, sizeof item.source, "a.csv");
        const caber_readings all = {.length = length, .count = 1, .items = &item};
        caber_message message;
        assert_int_equal(reading_check(&all, &item, &message), CABER_BAD_INPUT);
        if (!strstr(message.text, bad[i].message) || !strstr(message.text, "a.csv, line 7: "))
            fail_msg("%zu: %s", i, message.text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(derivatives_of_the_curves),
                                       cmocka_unit_test(derivatives_of_the_stiffness_matrix),
                                       cmocka_unit_test(readings_are_what_the_elements_say),
                                       cmocka_unit_test(frequency_in_a_direction),
                                       cmocka_unit_test(unnoted_orientation_is_the_mean),
                                       cmocka_unit_test(refuses_what_is_impossible)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
