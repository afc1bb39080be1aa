/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "club/club.h"

#include <gsl/gsl_integration.h>
#include <gsl/gsl_math.h>
#include <stdlib.h>
#include <string.h>

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

static mat3 inertia_matrix(const double i[6])
{
    return (mat3){{{i[0], i[3], i[4]}, {i[3], i[1], i[5]}, {i[4], i[5], i[2]}}};
}

caber_head club_weighted_head(const caber_head *head)
{
    caber_head out = *head;
    out.weights = (caber_weights){0};
    if (head->weights.count == 0)
        return out;
    vec3 moment = vec3_scale(head->mass, from_array(head->centre_of_mass));
    for (size_t i = 0; i < head->weights.count; i++) {
        const caber_weight *w = &head->weights.items[i];
        out.mass += w->mass;
        moment = vec3_axpy(w->mass, from_array(w->at), moment);
    }
    const vec3 centre = vec3_scale(1 / out.mass, moment);
    mat3 inertia = inertia_matrix(head->inertia);
    mat3_add_point_inertia(&inertia, head->mass,
                           vec3_sub(from_array(head->centre_of_mass), centre));
    for (size_t i = 0; i < head->weights.count; i++) {
        const caber_weight *w = &head->weights.items[i];
        mat3_add_point_inertia(&inertia, w->mass, vec3_sub(from_array(w->at), centre));
    }
    const double c[3] = {centre.x, centre.y, centre.z};
    const double m[6] = {inertia.m[0][0], inertia.m[1][1], inertia.m[2][2],
                         inertia.m[0][1], inertia.m[0][2], inertia.m[1][2]};
    memcpy(out.centre_of_mass, c, sizeof c);
    memcpy(out.inertia, m, sizeof m);
    return out;
}

/* Turns the head about the sleeve's pivot on the shaft's axis. The side s = cos d e2 + sin d e3 rises
 * towards -e1: a rotation about s x -e1 = cos d e3 - sin d e2. */
static void turn_head(club_head *h, vec3 *sole, const caber_sleeve *sleeve)
{
    const double d = sleeve->direction;
    const mat3 turn = mat3_rotation(vec3_scale(sleeve->tilt, vec3_make(0, -sin(d), cos(d))));
    const vec3 pivot = {sleeve->pivot, 0, 0};
    const mat3 half = mat3_multiply(&turn, &h->inertia);
    h->normal = mat3_apply(&turn, h->normal);
    h->up = mat3_apply(&turn, h->up);
    h->toe = mat3_apply(&turn, h->toe);
    h->inertia = mat3_multiply_t(&half, &turn);
    vec3 *const place[] = {&h->face_centre, &h->centre, sole};
    for (int i = 0; i < 3; i++)
        *place[i] = vec3_add(pivot, mat3_apply(&turn, vec3_sub(*place[i], pivot)));
}

/* Where the plane through `sole` that holds the face direction and makes 60 degrees with the axis
 * crosses it: its normal is (-sin 60, 0, cos 60). A sole round from heel to toe touches it a little
 * elsewhere, R (1 - cos(60 deg - lie)) away: 0.1 mm for a driver. */
static double axis_reach(vec3 sole)
{
    return sole.x - sole.z / tan(M_PI / 3);
}

club_head club_head_in_tip_frame(const caber_head *given, const caber_sleeve *sleeve)
{
    const caber_head weighted = club_weighted_head(given), *head = &weighted;
    const mat3 axes = head_axes(head->lie);
    const mat3 inertia = inertia_matrix(head->inertia);
    const mat3 half = mat3_multiply(&axes, &inertia);
    /* Soled and looking along `forward`, the normal rises by the loft; an open face turns it about
     * `up` towards the toe. */
    const double lo = head->loft, fa = head->face_angle;
    const vec3 normal = {cos(lo) * cos(fa), sin(lo), cos(lo) * sin(fa)};
    club_head h = {.normal = mat3_apply(&axes, normal),
                   .up = mat3_column(&axes, 1),
                   .toe = mat3_column(&axes, 2),
                   .face_centre = mat3_apply(&axes, from_array(head->face_centre)),
                   .centre = mat3_apply(&axes, from_array(head->centre_of_mass)),
                   .inertia = mat3_multiply_t(&half, &axes),
                   .mass = head->mass,
                   .lie = head->lie};
    vec3 sole = mat3_apply(&axes, vec3_make(0, head->sole_up, head->sole_toe));
    if (sleeve->tilt != 0)
        turn_head(&h, &sole, sleeve);
    h.reach = head->sole_up < 0 ? axis_reach(sole) : (double)NAN;
    return h;
}

/* m along the axis from the hosel's mouth to the ground under the soled head. */
static double through_depth(const caber_head *head)
{
    return head->sole_up < 0 ? -head->sole_up / sin(head->lie) : (double)NAN;
}

club_cut club_cut_of(const caber_setup *setup)
{
    const caber_build *b = &setup->build;
    club_cut cut = {b->tip_trim, b->butt_trim, b->insertion};
    if (b->bore == CABER_THROUGH)
        cut.insertion = through_depth(&setup->head);
    if (!(b->length > 0))
        return cut;
    const double reach = club_head_in_tip_frame(&setup->head, &b->sleeve).reach;
    /* Of the uncut shaft, what is left when all but the two cuts is taken away. */
    const double both = setup->shaft.length - cut.insertion - (b->length - setup->grip.cap - reach);
    double *later = b->order == CABER_TIP_FIRST ? &cut.butt_trim : &cut.tip_trim;
    *later = both - (b->order == CABER_TIP_FIRST ? cut.tip_trim : cut.butt_trim);
    /* The length that the uncut shaft just gives, in decimals. */
    if (fabs(*later) < 1e-12)
        *later = 0;
    return cut;
}

double club_length(const club *c)
{
    return c->butt_at + c->cap - c->end_at + c->head.reach;
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

/* The tape lies under the whole grip: its mass is even along it, and it moves the grip outwards. Both
 * turn with one radius of gyration, that of all of it. */
static void add_tape(beam_added *added, const caber_grip *grip, const caber_tape *tape,
                     double butt_at, double inner)
{
    if (!(tape->layers > 0))
        return;
    const double thick = tape->layers * tape->thickness, each = tape->layers * tape->mass;
    const double outer = grip->diameter / 2 + thick, between = inner + thick;
    const double of_grip = grip->mass * (outer * outer + between * between) / 2;
    const double of_tape = each * grip->length * (between * between + inner * inner) / 2;
    const double total = grip->mass + each * grip->length;
    added->from_at = butt_at - grip->length; /* of a grip without mass they are not set */
    added->to_at = butt_at;
    added->mass_from += each;
    added->mass_to += each;
    if (total > 0)
        added->gyration = sqrt((of_grip + of_tape) / total);
}

/* Ferrule and hosel weight, about the end of the flexible shaft. */
static void add_fittings(club_body *b, const club *c, const caber_build *build)
{
    const caber_ferrule *f = &build->ferrule;
    if (f->mass > 0) {
        const double middle = f->at + f->length / 2;
        const double r = profile_at(c->profile, c->end_at + middle).radius;
        add_slice(b, f->mass, f->mass * r * r, -middle);
        b->inertia.m[1][1] += f->mass * f->length * f->length / 12;
        b->inertia.m[2][2] += f->mass * f->length * f->length / 12;
    }
    const caber_hosel_weight *w = &build->hosel_weight;
    if (w->mass > 0)
        add_slice(b, w->mass, 0, w->depth > 0 ? w->depth : (c->end_at - c->tip_at) / 2);
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
    const club_cut cut = club_cut_of(setup);
    c->butt_at = setup->shaft.length - cut.butt_trim;
    c->hold_at = c->butt_at - build->hold;
    c->tip_at = cut.tip_trim;
    c->end_at = cut.tip_trim + cut.insertion;
    c->length = c->hold_at - c->end_at;
    const caber_status status =
        profile_create(&setup->shaft, &setup->sections, &c->profile, message);
    if (status != CABER_OK) {
        club_free(c);
        return status;
    }
    c->butt_trim = cut.butt_trim;
    c->cap = setup->grip.cap;
    c->grip_diameter = setup->grip.diameter + 2 * build->tape.layers * build->tape.thickness;
    c->grip = grip_mass(&setup->grip, c->butt_at);
    /* The grip is a tube around the shaft: gyration^2 = (ro^2 + ri^2)/2, ri the shaft's mean. */
    const double inner = profile_at(c->profile, c->butt_at - setup->grip.length / 2).radius;
    c->grip.gyration = sqrt((setup->grip.diameter * setup->grip.diameter / 4 + inner * inner) / 2);
    add_tape(&c->grip, &setup->grip, &build->tape, c->butt_at, inner);
    c->butt = club_shaft_body(c, c->hold_at, c->butt_at, c->hold_at, true);
    c->head = club_head_in_tip_frame(&setup->head, &build->sleeve);
    club_body inserted = club_shaft_body(c, c->tip_at, c->end_at, c->end_at, false);
    add_fittings(&inserted, c, build);
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
