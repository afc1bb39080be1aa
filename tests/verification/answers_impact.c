/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Prints as JSON strikes and what becomes of them, one object a line: the invented driver, the
 * same with a flat face, then struck in the middle, then smooth, lofted and swung across, then
 * draws of random strikes.
 *
 * Usage: answers_impact DRAW... (numbers of draws) */
#include "check.h"
#include "strikes.h"

#include <jansson.h>
#include <stdlib.h>

static json_t *vector(vec3 v)
{
    return json_pack("[f, f, f]", v.x, v.y, v.z);
}

static json_t *matrix(const mat3 *a)
{
    json_t *rows = json_array();
    for (int i = 0; i < 3; i++)
        json_array_append_new(rows, vector(vec3_make(a->m[i][0], a->m[i][1], a->m[i][2])));
    return rows;
}

static json_t *given(const strike *s)
{
    return json_pack("{s:f, s:o, s:o, s:o, s:o, s:o, s:o, s:f, s:f, s:f, s:f, s:f, s:f, s:f, s:f, "
                     "s:f, s:f, s:f}",
                     "head_mass", s->head.mass, "head_inertia", matrix(&s->head.inertia),
                     "head_velocity", vector(s->head.velocity), "head_spin", vector(s->head.spin),
                     "middle", vector(s->face.middle), "normal", vector(s->face.normal), "toe",
                     vector(s->face.toe), "bulge", s->face.bulge, "roll", s->face.roll, "place_toe",
                     s->place.toe, "place_high", s->place.high, "ball_mass", s->ball.mass,
                     "ball_radius", s->ball.radius, "ball_inertia", s->ball.inertia, "restitution",
                     s->contact.restitution, "speed", s->contact.speed, "loss", s->contact.loss,
                     "friction", s->contact.friction);
}

/* False when it fails, which it must not. */
static bool print_strike(const char *name, const strike *s)
{
    impact_result r;
    caber_message message;
    if (impact_run(&s->head, &s->face, s->place, &s->ball, &s->contact, &r, &message) != CABER_OK) {
        fprintf(stderr, "answers_impact: %s: %s\n", name, message.text);
        return false;
    }
    json_t *o = json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:b, s:f, s:f, s:f}", "name", name,
                          "given", given(s), "ball_velocity", vector(r.ball_velocity), "ball_spin",
                          vector(r.ball_spin), "head_velocity", vector(r.head_velocity),
                          "head_spin", vector(r.head_spin), "sliding", r.sliding, "lost", r.lost,
                          "compressed", r.compressed, "rubbed", r.rubbed);
    json_dumpf(o, stdout, JSON_COMPACT | JSON_REAL_PRECISION(17));
    putchar('\n');
    json_decref(o);
    return true;
}

int main(int argc, char **argv)
{
    strike s = strike_driver();
    bool good = print_strike("a driver, low on the toe side", &s);
    s.face.bulge = s.face.roll = 0;
    good = good && print_strike("a driver with a flat face", &s);
    const caber_place away = s.place;
    s.place = (caber_place){0, 0};
    good = good && print_strike("a driver with a flat face, struck in the middle", &s);
    s.place = away;
    const double loft = 0.98;
    s.face.normal = vec3_make(cos(loft), sin(loft), 0);
    s.head.velocity = vec3_make(33, -6, 9);
    s.contact = (impact_contact){.restitution = 0.75, .friction = 0.12};
    good = good && print_strike("a smooth wedge, cut across", &s);
    for (int i = 1; i < argc; i++) {
        char name[40];
        const unsigned long n = strtoul(argv[i], NULL, 10);
        snprintf(name, sizeof name, "draw %lu", n);
        s = strike_any(n);
        good = good && print_strike(name, &s);
    }
    return good ? 0 : 1;
}
