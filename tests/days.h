/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Simulated bench days: what an invented small workshop would read on a shaft that is known, with errors
 * drawn from what its jigs resolve and repeat. */
#ifndef TESTS_DAYS_H
#define TESTS_DAYS_H

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "shaft/reading.h"
#include "verification/setups.h"

typedef struct day {
    caber_shaft shaft; /* the truth; owned */
    profile *profile;
    caber_readings readings;
    double *exact; /* [readings.count], without error */
    gsl_rng *random;
} day;

/* Standard deviation of a reading of size `value`: half a step of the scale either way, evenly, and what
 * does not repeat, as a part of it. */
static inline double day_sigma(caber_reading_kind kind, double value)
{
    static const struct {
        double resolution, repeatability;
    } jig[CABER_READ_KINDS] = {[CABER_READ_SPAN] = {1e-5, 0.004},
                               [CABER_READ_CANTILEVER] = {5e-4, 0.003},
                               [CABER_READ_FREQUENCY] = {1.0 / 60, 0.001},
                               [CABER_READ_TWIST] = {0.05 * SETUPS_PI / 180, 0.005},
                               [CABER_READ_MASS] = {1e-4, 0},
                               [CABER_READ_BALANCE] = {1e-3, 0.0005}};
    return hypot(jig[kind].resolution / sqrt(12), jig[kind].repeatability * value);
}

static inline void day_add(day *d, caber_reading r)
{
    r.line = (int)d->readings.count + 3;
    snprintf(r.source, sizeof r.source, "day.csv");
    d->readings.items[d->readings.count++] = r;
}

/* A bend of the given kind in three directions a sixth of a turn apart. */
static inline void day_add_round(day *d, caber_reading r)
{
    for (int k = 0; k < 3; k++) {
        r.orientation = k * SETUPS_PI / 3;
        day_add(d, r);
    }
}

/* Spans of 200 mm every 50 mm, four clamps for cantilevers and frequencies, twist over 200 mm every 50 mm and
 * from the butt. */
static inline void day_add_jigs(day *d)
{
    const double length = d->shaft.length;
    for (int k = 0; 0.11 + 0.05 * k <= length - 0.1; k++) {
        const double middle = 0.11 + 0.05 * k;
        day_add_round(d, (caber_reading){.kind = CABER_READ_SPAN,
                                         .held_at = middle + 0.1,
                                         .rest_at = middle - 0.1,
                                         .load_at = middle,
                                         .read_at = middle,
                                         .load = 60});
    }
    for (int k = 0; k < 4; k++) {
        const double clamp = 0.5 + 0.18 * k;
        day_add_round(d, (caber_reading){.kind = CABER_READ_CANTILEVER,
                                         .held_at = clamp,
                                         .load_at = 0.02,
                                         .read_at = 0.02,
                                         .load = 5});
        day_add_round(
            d, (caber_reading){.kind = CABER_READ_FREQUENCY, .held_at = clamp, .load = 0.205});
    }
    for (int k = 0; k < 11; k++)
        day_add(d, (caber_reading){.kind = CABER_READ_TWIST,
                                   .held_at = length - 0.06,
                                   .load_at = 0.02 + 0.09 * k,
                                   .read_at = 0.02 + 0.09 * k,
                                   .load = 1.5,
                                   .orientation = NAN});
    for (int k = 0; 0.22 + 0.05 * k < length; k++)
        day_add(d, (caber_reading){.kind = CABER_READ_TWIST,
                                   .held_at = 0.22 + 0.05 * k,
                                   .load_at = 0.02 + 0.05 * k,
                                   .read_at = 0.02 + 0.05 * k,
                                   .load = 1.5,
                                   .orientation = NAN});
    day_add(d, (caber_reading){.kind = CABER_READ_MASS});
    day_add(d, (caber_reading){.kind = CABER_READ_BALANCE});
}

/* Takes over the shaft's stations; its principal EI become exp(e) and exp(-e) times what they are, the
 * stiffer at `angle`. */
static inline day *day_create(caber_shaft shaft, double e, double angle, unsigned long seed)
{
    enum { MOST = 300 };
    day *d = setups_array(1, sizeof *d);
    d->shaft = shaft;
    caber_readings *r = &d->readings;
    *r = (caber_readings){.length = shaft.length,
                          .density = shaft.density,
                          .damping = shaft.damping,
                          .pitch = 0.04,
                          .knot = 0.04};
    snprintf(r->name, sizeof r->name, "day");
    r->items = setups_array(MOST, sizeof *r->items);
    r->callipers = setups_array(shaft.station_count, sizeof *r->callipers);
    for (size_t i = 0; i < shaft.station_count; i++) {
        caber_station *s = &d->shaft.stations[i];
        s->ei_2 = s->ei * exp(-e);
        s->ei *= exp(e);
        s->ei_angle = angle;
        r->callipers[r->calliper_count++] = (caber_calliper){s->at, s->diameter};
    }
    caber_message message;
    setups_fine(profile_create(&d->shaft, NULL, &d->profile, &message), &message);
    day_add_jigs(d);
    d->exact = setups_array(MOST, sizeof *d->exact);
    for (size_t i = 0; i < r->count; i++) {
        setups_fine(
            reading_predict(d->profile, r->length, &r->items[i], &d->exact[i], NULL, &message),
            &message);
        r->items[i].value = d->exact[i];
        r->items[i].sigma = day_sigma(r->items[i].kind, d->exact[i]);
    }
    d->random = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(d->random, seed);
    return d;
}

static inline void day_free(day *d)
{
    free(d->shaft.stations);
    profile_free(d->profile);
    free(d->readings.items);
    free(d->readings.callipers);
    free(d->exact);
    gsl_rng_free(d->random);
    free(d);
}

/* The next day's readings. */
static inline void day_draw(day *d)
{
    for (size_t i = 0; i < d->readings.count; i++)
        d->readings.items[i].value =
            d->exact[i] + gsl_ran_gaussian(d->random, d->readings.items[i].sigma);
}

/* A copy of the shaft of a demo setup. */
static inline caber_shaft day_demo(const char *setup)
{
    caber_setup *s = setups_read(setup);
    caber_shaft shaft = s->shaft;
    shaft.stations = setups_array(shaft.station_count, sizeof *shaft.stations);
    memcpy(shaft.stations, s->shaft.stations, shaft.station_count * sizeof *shaft.stations);
    caber_setup_free(s);
    return shaft;
}

/* Invented, wilder than any demo: firm over the tip third and a quarter softer within 100 mm, and a slow
 * wave of 4 % besides. */
static inline caber_shaft day_wild(void)
{
    enum { STATIONS = 118 };
    caber_shaft s = {.name = "quick change",
                     .length = 1.168,
                     .density = 1550,
                     .damping = 0.008,
                     .station_count = STATIONS};
    s.stations = setups_array(STATIONS, sizeof *s.stations);
    for (int i = 0; i < STATIONS; i++) {
        const double at = i + 1 == STATIONS ? s.length : 0.01 * i, part = at / s.length;
        const double change = -0.15 * tanh((at - 0.36) / 0.05);
        s.stations[i] = (caber_station){.at = at,
                                        .ei = 24 * pow(70.0 / 24, part) *
                                              exp(change + 0.04 * sin(2 * SETUPS_PI * at / 0.45)),
                                        .gj = 15 * pow(38.0 / 15, part) * exp(0.7 * change),
                                        .mass = 0.05 + 0.008 * exp(-at / 0.2),
                                        .diameter = 0.0085 + 0.0067 * part};
    }
    return s;
}

#endif
