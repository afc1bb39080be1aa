/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Setups that several verification programs share: the demo setups of models/, and plain beams
 * that turn about the hands' hinge. Everything made here is freed with caber_setup_free. */
#ifndef TESTS_SETUPS_H
#define TESTS_SETUPS_H

#include <stdlib.h>

#include "caber.h"
#include "check.h"

#define SETUPS_PI 3.14159265358979323846

/* Every setup in models/setups. */
static const char *const setups_demo[] = {
    "firm-tip-late", "firm-tip-quick",  "firm-tip-smooth", "neutral-late",
    "neutral-quick", "neutral-quick-9", "neutral-smooth",  "neutral-smooth-left",
    "soft-tip-late", "soft-tip-quick",  "soft-tip-smooth"};
enum { SETUPS_DEMO_COUNT = sizeof setups_demo / sizeof setups_demo[0] };

static inline void setups_fine(caber_status status, const caber_message *message)
{
    if (status != CABER_OK)
        fail_msg("%s: %s", caber_status_text(status), message->text);
}

static inline void *setups_array(size_t count, size_t size)
{
    void *a = calloc(count, size);
    assert_non_null(a);
    return a;
}

/* models/setups/<name>.yaml. */
static inline caber_setup *setups_read(const char *name)
{
    char path[512];
    snprintf(path, sizeof path, "%s/models/setups/%s.yaml", CABER_SOURCE_DIR, name);
    caber_message message;
    caber_setup *s = NULL;
    setups_fine(caber_setup_read(path, NULL, 0, &s, &message), &message);
    return s;
}

/* Multiplies EI and GJ of the whole shaft; a section may scale by 100, so more of them multiply. */
static inline void setups_stiffen(caber_setup *s, double factor)
{
    enum { MOST = 4 };
    caber_section *items = realloc(s->sections.items, (s->sections.count + MOST) * sizeof *items);
    assert_non_null(items);
    s->sections.items = items;
    while (factor != 1) {
        const double step = fmin(fmax(factor, 0.01), 100);
        items[s->sections.count++] = (caber_section){
            .from = 0, .to = s->shaft.length, .ei_scale = step, .gj_scale = step, .mass_scale = 1};
        factor /= step;
    }
}

/* Fills a table with `law` at `count` even times from 0 to `until`. */
static inline void setups_table(caber_table *t, size_t count, double until, double (*law)(double))
{
    free(t->time);
    free(t->value);
    t->count = count;
    t->time = setups_array(count, sizeof(double));
    t->value = setups_array(count, sizeof(double));
    for (size_t i = 0; i < count; i++) {
        t->time[i] = until * (double)i / (double)(count - 1);
        t->value[i] = law(t->time[i]);
    }
}

/* One model, one swing; the trace may be NULL. */
static inline caber_swing setups_swing(const caber_setup *s, caber_trace *trace)
{
    caber_message message;
    caber_model *m = NULL;
    caber_work *w = NULL;
    caber_swing out;
    setups_fine(caber_model_create(s, &m, &message), &message);
    setups_fine(caber_work_create(m, &w, &message), &message);
    setups_fine(caber_swing_run(m, w, &out, trace, &message), &message);
    caber_work_free(w);
    caber_model_free(m);
    return out;
}

/* Makes a demo setup swing without a ball until t, and with the given tolerance. */
static inline void setups_until(caber_setup *s, double until, double tolerance)
{
    s->settings.until = until;
    s->settings.tolerance = tolerance;
}

/* ------------------------------------------------------------------ plain beams */

/* A beam along the whole shaft from the hinge, x = 0 there and 1 at the tip. All SI. */
typedef struct setups_beam {
    size_t stations; /* of the table */
    double length;
    double mass, ei; /* per length and bending stiffness at the hinge */
    double ei_2, gj; /* at the hinge; ei_2 = 0: as ei */
    double taper;    /* c: mass ~ 1 - c x, stiffness ~ (1 - c x)^3 */
    double tip_mass; /* a point */
    double roll;     /* rad, at which the handle is locked */
} setups_beam;

/* The thinnest tube that the checks of a setup let through, so that its own turning inertia about
 * its axis, which a beam does not have, is some 1e-7 of m L^2. The head is a point; no head is
 * allowed to have no mass, so it has 1e-9 of the beam's. Hub locked, wrist to be driven. */
static inline caber_setup *setups_beam_make(const setups_beam *b)
{
    caber_setup *s = setups_array(1, sizeof *s);
    *s = (caber_setup){.name = "plain beam"};
    s->shaft = (caber_shaft){.length = b->length, .density = 20000, .damping = 0};
    s->shaft.station_count = b->stations;
    s->shaft.stations = setups_array(b->stations, sizeof(caber_station));
    for (size_t i = 0; i < b->stations; i++) {
        const double part = (double)i / (double)(b->stations - 1), k = 1 - b->taper * (1 - part);
        s->shaft.stations[i] = (caber_station){.at = b->length * part,
                                               .ei = b->ei * k * k * k,
                                               .ei_2 = b->ei_2 * k * k * k,
                                               .gj = b->gj * k * k * k,
                                               .mass = b->mass * k,
                                               .diameter = 0.002};
    }
    const double little = 1e-9 * b->mass * b->length;
    const double inertia = 1e-6 * little * b->length * b->length;
    s->head = (caber_head){
        .mass = b->tip_mass + little, .lie = 1, .inertia = {inertia, inertia, inertia, 0, 0, 0}};
    s->grip = (caber_grip){.mass = 0, .length = 0.1, .diameter = 0.02};
    s->player = (caber_player){
        .arm_length = 0.1, .arm_inertia = 1, .inclination = 0.9, .ball_down = NAN, .ball_out = NAN};
    s->player.load.hub.drive = CABER_LOCKED;
    s->player.load.grip.drive = CABER_MOTION;
    s->player.load.roll = (caber_roll_load){.drive = CABER_LOCKED, .top = b->roll};
    s->settings = caber_settings_default();
    s->ball = caber_ball_default();
    s->air = caber_air_default();
    s->settings.gravity = false;
    s->settings.ceiling = 0; /* the beam as it is */
    return s;
}

#endif
