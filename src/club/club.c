/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "club/club.h"

#include <gsl/gsl_integration.h>
#include <stdlib.h>

#include "base/message.h"
#include "base/order.h"

/* The head's axes in the tip frame, as columns (forward, up, toe). */
static mat3 head_axes(double lie)
{
    const double s = sin(lie), c = cos(lie);
    return (mat3){{{0, -s, c}, {1, 0, 0}, {0, c, s}}};
}

static vec3 from_array(const double v[3])
{
    return vec3_make(v[0], v[1], v[2]);
}

club_head club_head_in_tip_frame(const caber_head *head)
{
    const mat3 axes = head_axes(head->lie);
    const double *i = head->inertia;
    const mat3 inertia = {{{i[0], i[3], i[4]}, {i[3], i[1], i[5]}, {i[4], i[5], i[2]}}};
    const mat3 half = mat3_multiply(&axes, &inertia);
    /* Soled and looking along `forward`, the normal rises by the loft; an open face turns it about
     * `up` towards the toe. */
    const double lo = head->loft, fa = head->face_angle;
    const vec3 normal = {cos(lo) * cos(fa), sin(lo), cos(lo) * sin(fa)};
    return (club_head){.normal = mat3_apply(&axes, normal),
                       .up = mat3_column(&axes, 1),
                       .toe = mat3_column(&axes, 2),
                       .face_centre = mat3_apply(&axes, from_array(head->face_centre)),
                       .centre = mat3_apply(&axes, from_array(head->centre_of_mass)),
                       .inertia = mat3_multiply_t(&half, &axes),
                       .mass = head->mass};
}

/* Mass per length m(u) = (M/L) (1 + k (2u/L - 1)), u from the butt end; its centre is at
 * L/2 + k L/6. */
static beam_added grip_mass(const caber_grip *grip, double butt_at)
{
    if (!(grip->mass > 0))
        return (beam_added){0};
    const double centre = grip->centre_of_mass > 0 ? grip->centre_of_mass : grip->length / 2;
    const double k = 6 * centre / grip->length - 3, mean = grip->mass / grip->length;
    return (beam_added){.from_at = butt_at - grip->length,
                        .to_at = butt_at,
                        .mass_from = mean * (1 + k),
                        .mass_to = mean * (1 - k)};
}

/* Adds a slice of tube of mass m and polar inertia at distance x beyond the origin along e1. Its
 * transverse inertia about its own middle is that of a thin ring, polar/2. */
static void add_slice(club_body *b, double m, double polar, double x)
{
    b->mass += m;
    b->moment.x += m * x;
    b->inertia.m[0][0] += polar;
    b->inertia.m[1][1] += m * x * x + polar / 2;
    b->inertia.m[2][2] += m * x * x + polar / 2;
}

static void add_span(club_body *b, const club *c, double from, double to, double origin_at,
                     bool with_grip, const gsl_integration_glfixed_table *rule)
{
    /* beam_section adds the grip; the beam struct is only its argument here. */
    const beam view = {
        .held_at = 0, .profile = c->profile, .added = with_grip ? c->grip : (beam_added){0}};
    for (size_t i = 0; i < 8; i++) {
        double at, w;
        gsl_integration_glfixed_point(from, to, i, &at, &w, rule);
        const profile_point p = beam_section(&view, -at);
        add_slice(b, w * p.mass, w * p.polar, origin_at - at);
    }
}

club_body club_shaft_body(const club *c, double from_at, double to_at, double origin_at,
                          bool with_grip)
{
    club_body b = {0};
    const double *places;
    const size_t count = profile_places(c->profile, &places);
    double *cut = malloc((count + 3) * sizeof *cut);
    gsl_integration_glfixed_table *rule = gsl_integration_glfixed_table_alloc(8);
    if (cut && rule && to_at > from_at) {
        size_t n = 0;
        cut[n++] = from_at;
        for (size_t i = 0; i < count; i++)
            if (places[i] > from_at && places[i] < to_at)
                cut[n++] = places[i];
        if (with_grip && c->grip.from_at > from_at && c->grip.from_at < to_at)
            cut[n++] = c->grip.from_at;
        cut[n++] = to_at;
        qsort(cut, n, sizeof *cut, order_doubles);
        for (size_t i = 0; i + 1 < n; i++)
            if (cut[i + 1] > cut[i])
                add_span(&b, c, cut[i], cut[i + 1], origin_at, with_grip, rule);
    }
    free(cut);
    if (rule)
        gsl_integration_glfixed_table_free(rule);
    return b;
}

/* Joins the head to the inserted shaft, which lies along e1 beyond the end. */
static beam_body join_tip(const club_head *head, const club_body *inserted)
{
    beam_body t = {.mass = head->mass + inserted->mass};
    const vec3 sum = vec3_axpy(head->mass, head->centre, inserted->moment);
    t.centre = vec3_scale(1 / t.mass, sum);
    t.inertia = mat3_add(&head->inertia, &inserted->inertia);
    mat3_add_point_inertia(&t.inertia, head->mass, head->centre);
    mat3_add_point_inertia(&t.inertia, -t.mass, t.centre);
    return t;
}

caber_status club_create(const caber_setup *setup, club **out, caber_message *message)
{
    *out = NULL;
    club *c = calloc(1, sizeof *c);
    if (!c)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const caber_build *build = &setup->build;
    c->butt_at = setup->shaft.length - build->butt_trim;
    c->hold_at = c->butt_at - build->hold;
    c->tip_at = build->tip_trim;
    c->end_at = build->tip_trim + build->insertion;
    c->length = c->hold_at - c->end_at;
    const caber_status status =
        profile_create(&setup->shaft, &setup->sections, &c->profile, message);
    if (status != CABER_OK) {
        club_free(c);
        return status;
    }
    c->grip = grip_mass(&setup->grip, c->butt_at);
    /* The grip is a tube around the shaft: gyration^2 = (ro^2 + ri^2)/2, ri the shaft's mean. */
    const double inner = profile_at(c->profile, c->butt_at - setup->grip.length / 2).radius;
    c->grip.gyration = sqrt((setup->grip.diameter * setup->grip.diameter / 4 + inner * inner) / 2);
    c->butt = club_shaft_body(c, c->hold_at, c->butt_at, c->hold_at, true);
    c->head = club_head_in_tip_frame(&setup->head);
    const club_body inserted = club_shaft_body(c, c->tip_at, c->end_at, c->end_at, false);
    c->tip = join_tip(&c->head, &inserted);
    *out = c;
    return message_clear(message);
}

void club_free(club *c)
{
    if (!c)
        return;
    profile_free(c->profile);
    free(c);
}

beam_shape club_beam_shape(const club *c, double held_at, double end_at)
{
    return (beam_shape){.profile = c->profile,
                        .held_at = held_at,
                        .end_at = end_at,
                        .added = c->grip,
                        .element = (held_at - end_at) / 20};
}
