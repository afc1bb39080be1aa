/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/check.h"

#include <math.h>

#include "base/message.h"
#include "club/club.h"
#include "swing/fields_table.h"
#include "swing/repeat.h"

#define PI 3.14159265358979323846

/* Least length of shaft between hands and hosel, m; below it a beam is no model of it. */
static const double free_least = 0.3;
/* Radius of a face below which it is a ball, m; 0 means flat. */
static const double face_radius_least = 0.05;
/* What a sum of rounded decimals may miss, relative. */
static const double rounding = 1e-9;

static caber_status check_station_order(const caber_shaft *shaft, caber_message *message)
{
    const caber_station *s = shaft->stations;
    size_t last = shaft->station_count - 1;
    if (s[0].at != 0)
        return message_set(message, CABER_BAD_INPUT,
                           "shaft.stations[0].at: %g mm is not allowed; the first station must be "
                           "at the tip, 0 mm",
                           s[0].at * 1e3);
    for (size_t i = 1; i <= last; i++)
        if (s[i].at <= s[i - 1].at)
            return message_set(
                message, CABER_BAD_INPUT,
                "shaft.stations[%zu].at: %g mm is not allowed; stations must ascend, "
                "and the one before is at %g mm",
                i, s[i].at * 1e3, s[i - 1].at * 1e3);
    if (s[last].at < shaft->length * (1 - rounding))
        return message_set(message, CABER_BAD_INPUT,
                           "shaft.stations[%zu].at: the last station, %g mm, does not reach the "
                           "butt; it must be at least the length, %g mm",
                           last, s[last].at * 1e3, shaft->length * 1e3);
    return CABER_OK;
}

/* What the sections make of the mass at a place, at most. */
static double section_mass_scale(const caber_sections *sections, double at)
{
    double scale = 1;
    for (size_t i = 0; i < sections->count; i++)
        if (sections->items[i].from <= at && at <= sections->items[i].to)
            scale *= sections->items[i].mass_scale;
    return scale;
}

/* A tube of mass m per length, outer radius r and density rho has the inner radius
 * ri^2 = r^2 - m/(pi rho), which must not be negative. */
static caber_status check_walls(const caber_setup *setup, caber_message *message)
{
    const caber_shaft *shaft = &setup->shaft;
    for (size_t i = 0; i < shaft->station_count; i++) {
        const caber_station *s = &shaft->stations[i];
        double scale = section_mass_scale(&setup->sections, s->at);
        double solid = shaft->density * PI * s->diameter * s->diameter / 4;
        if (s->mass * scale > solid * (1 + rounding))
            return message_set(message, CABER_BAD_INPUT,
                               "shaft.stations[%zu].mass: %g g/m%s is not allowed; a solid rod of "
                               "%g mm and %g kg/m3 has %g g/m, and a tube must have less",
                               i, s->mass * scale * 1e3,
                               scale != 1 ? " with the scale of the sections" : "",
                               s->diameter * 1e3, shaft->density, solid * 1e3);
    }
    return CABER_OK;
}

static caber_status check_sections(const caber_setup *setup, caber_message *message)
{
    for (size_t i = 0; i < setup->sections.count; i++) {
        const caber_section *s = &setup->sections.items[i];
        if (s->from >= s->to)
            return message_set(message, CABER_BAD_INPUT,
                               "shaft.sections[%zu].from: %g mm is not allowed; it must be below "
                               "`to`, %g mm",
                               i, s->from * 1e3, s->to * 1e3);
        if (s->to > setup->shaft.length * (1 + rounding))
            return message_set(message, CABER_BAD_INPUT,
                               "shaft.sections[%zu].to: %g mm is not allowed; it must be at most "
                               "the shaft's length, %g mm",
                               i, s->to * 1e3, setup->shaft.length * 1e3);
    }
    return CABER_OK;
}

/* Whether the symmetric matrix (ff, uu, tt, fu, ft, ut) is positive definite: Sylvester. */
static bool positive_definite(const double m[6])
{
    double minor = m[0] * m[1] - m[3] * m[3];
    double determinant = m[0] * (m[1] * m[2] - m[5] * m[5]) - m[3] * (m[3] * m[2] - m[5] * m[4]) +
                         m[4] * (m[3] * m[5] - m[1] * m[4]);
    return m[0] > 0 && minor > 0 && determinant > 0;
}

/* I is the inertia of a solid when J = tr(I)/2 - I, the second moments of its mass, has no
 * negative eigenvalue: the same as the triangle inequality of the principal moments. Both are
 * scaled by the trace; a flat plate lies on the edge of what is allowed. */
static caber_status check_inertia(const caber_head *head, caber_message *message)
{
    double trace = head->inertia[0] + head->inertia[1] + head->inertia[2];
    double inertia[6], moments[6];
    for (int i = 0; i < 6; i++) {
        inertia[i] = head->inertia[i] / trace;
        moments[i] = (i < 3 ? 0.5 + rounding : 0) - inertia[i];
    }
    if (!positive_definite(inertia))
        return message_set(message, CABER_BAD_INPUT,
                           "head.inertia: no solid has this inertia; the matrix must be positive "
                           "definite (the products are too large for the moments)");
    if (!positive_definite(moments))
        return message_set(message, CABER_BAD_INPUT,
                           "head.inertia: no solid has this inertia; no principal moment may be "
                           "above the sum of the other two");
    return CABER_OK;
}

static caber_status check_face_radius(const char *name, double radius, caber_message *message)
{
    if (radius == 0 || radius >= face_radius_least)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT,
                       "head.%s: %g mm is not allowed; it must be 0 for a flat face, or at least "
                       "%g mm",
                       name, radius * 1e3, face_radius_least * 1e3);
}

/* Below some 60 Hz a ceiling would slow modes that ring in a swing. */
static caber_status check_ceiling(const caber_settings *settings, caber_message *message)
{
    if (settings->ceiling == 0 || settings->ceiling >= 60)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT,
                       "settings.ceiling: %g Hz is not allowed; it must be 0 or at least 60 Hz",
                       settings->ceiling);
}

/* Fewer stations than some 0.4 of the modes cannot carry them: the mass matrix nears singularity and load
 * rates go wrong by per cents, then by powers of ten. Measured. */
static caber_status check_stations(const caber_settings *settings, caber_message *message)
{
    if (2 * settings->stations >= settings->modes)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT,
                       "settings.stations: %d is not allowed; %d modes need at least %d stations",
                       settings->stations, settings->modes, (settings->modes + 1) / 2);
}

static caber_status check_head(const caber_head *head, caber_message *message)
{
    if (head->sole_toe != 0 && head->sole_up == 0)
        return message_set(message, CABER_BAD_INPUT,
                           "head.sole.up: is missing, but needed with head.sole.toe; it must be "
                           "below 0 mm");
    caber_status status = check_face_radius("bulge", head->bulge, message);
    if (status == CABER_OK)
        status = check_face_radius("roll", head->roll, message);
    return status == CABER_OK ? check_inertia(head, message) : status;
}

/* Mass per length varies linearly, so its centre lies in the middle third. */
static caber_status check_grip(const caber_grip *grip, caber_message *message)
{
    double centre = grip->centre_of_mass;
    if (centre == 0 || (centre > grip->length / 3 && centre < 2 * grip->length / 3))
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT,
                       "grip.centre_of_mass: %g mm is not allowed; it must be 0 for the middle, or "
                       "above %g and below %g mm, a third and two thirds of the grip's length",
                       centre * 1e3, grip->length / 3 * 1e3, 2 * grip->length / 3 * 1e3);
}

/* What needs the place of the sole, and what a wanted length takes over. */
static caber_status check_build_needs(const caber_setup *setup, caber_message *message)
{
    const caber_build *b = &setup->build;
    if ((b->length > 0 || b->bore == CABER_THROUGH) && !(setup->head.sole_up < 0))
        return message_set(message, CABER_BAD_INPUT,
                           "head.sole.up: is missing, but needed with %s: how far the sole lies "
                           "below the hosel's mouth; it must be below 0 mm",
                           b->length > 0 ? "build.length" : "bore: through");
    if (b->bore == CABER_THROUGH && b->sleeve.tilt > 0)
        return message_set(message, CABER_BAD_INPUT,
                           "build.sleeve.tilt: %g deg is not allowed with bore: through; a sleeve "
                           "is a blind hosel",
                           b->sleeve.tilt * 180 / PI);
    const bool tip_first = b->order == CABER_TIP_FIRST;
    const double later = tip_first ? b->butt_trim : b->tip_trim;
    if (b->length > 0 && later > 0)
        return message_set(message, CABER_BAD_INPUT,
                           "build.%s: %g mm is not allowed with a length; %s it follows from the "
                           "length, and must be left out or 0",
                           tip_first ? "butt_trim" : "tip_trim", later * 1e3,
                           tip_first ? "tip-first" : "butt-first");
    return CABER_OK;
}

/* What follows must be a cut, and a depth that a hosel can have. */
static caber_status check_cut(const caber_setup *setup, const club_cut *cut, caber_message *message)
{
    const caber_build *b = &setup->build;
    const bool tip_first = b->order == CABER_TIP_FIRST;
    const double later = tip_first ? cut->butt_trim : cut->tip_trim;
    if (cut->insertion > 0.2)
        return message_set(message, CABER_BAD_INPUT,
                           "head.sole.up: %g mm is not allowed with bore: through; it takes %g mm "
                           "of shaft into the head, and at most 200 mm are allowed",
                           setup->head.sole_up * 1e3, cut->insertion * 1e3);
    if (b->length > 0 && later < 0)
        return message_set(message, CABER_BAD_INPUT,
                           "build.length: %g mm is not allowed; with a %s trim of %g mm the shaft "
                           "is %g mm too short for it",
                           b->length * 1e3, tip_first ? "tip" : "butt",
                           (tip_first ? cut->tip_trim : cut->butt_trim) * 1e3, -later * 1e3);
    return CABER_OK;
}

static caber_status check_build(const caber_setup *setup, caber_message *message)
{
    const caber_build *b = &setup->build;
    caber_status status = check_build_needs(setup, message);
    if (status != CABER_OK)
        return status;
    const club_cut trims = club_cut_of(setup);
    status = check_cut(setup, &trims, message);
    if (status != CABER_OK)
        return status;
    double cut = setup->shaft.length - trims.tip_trim - trims.butt_trim;
    double left = cut - trims.insertion - b->hold;
    if (left < free_least)
        return message_set(
            message, CABER_BAD_INPUT,
            "build: trims of %g and %g mm, insertion of %g mm and hold of %g mm leave "
            "%g mm of the %g mm shaft to bend; they must leave at least %g mm",
            trims.tip_trim * 1e3, trims.butt_trim * 1e3, trims.insertion * 1e3, b->hold * 1e3,
            left * 1e3, setup->shaft.length * 1e3, free_least * 1e3);
    if (setup->grip.length > cut - trims.insertion)
        return message_set(
            message, CABER_BAD_INPUT,
            "grip.length: %g mm is not allowed; the cut shaft has only %g mm outside "
            "the hosel",
            setup->grip.length * 1e3, (cut - trims.insertion) * 1e3);
    return CABER_OK;
}

static caber_status check_player(const caber_player *player, caber_message *message)
{
    if (player->arm_centre > player->arm_length)
        return message_set(message, CABER_BAD_INPUT,
                           "player.arm.centre: %g mm is not allowed; it must be at most the arm's "
                           "length, %g mm",
                           player->arm_centre * 1e3, player->arm_length * 1e3);
    /* A body of mass m whose centre is at c has at least m c^2 about the hub. */
    double least = player->arm_mass * player->arm_centre * player->arm_centre;
    if (player->arm_inertia < least * (1 - rounding))
        return message_set(message, CABER_BAD_INPUT,
                           "player.arm.inertia: %g kg m2 is not allowed; %g kg with its centre at "
                           "%g mm has at least %g kg m2",
                           player->arm_inertia, player->arm_mass, player->arm_centre * 1e3, least);
    if (player->load.roll.drive == CABER_GEAR && player->load.roll.top <= 0)
        return message_set(message, CABER_BAD_INPUT,
                           "player.load.roll.top: %g deg is not allowed; it must be above 0 with "
                           "drive: gear",
                           player->load.roll.top * 180 / PI);
    return repeat_check(&player->repeat, message);
}

static caber_status check_shaft(const caber_setup *setup, caber_message *message)
{
    caber_status status = check_station_order(&setup->shaft, message);
    if (status == CABER_OK)
        status = check_sections(setup, message);
    return status == CABER_OK ? check_walls(setup, message) : status;
}

caber_status shaft_check(const caber_shaft *shaft, caber_message *message)
{
    const caber_setup alone = {.shaft = *shaft};
    field_path path = {.length = 0};
    field_path_key(&path, "shaft");
    caber_status status = fields_check(fields_kind(0), shaft, &path, message);
    if (status == CABER_OK)
        status = check_shaft(&alone, message);
    return status == CABER_OK ? message_clear(message) : status;
}

caber_status setup_check(const caber_setup *setup, caber_message *message)
{
    field_path path = {.length = 0};
    caber_status status = fields_check(fields_kind_setup(), setup, &path, message);
    if (status == CABER_OK)
        status = check_shaft(setup, message);
    if (status == CABER_OK)
        status = check_head(&setup->head, message);
    if (status == CABER_OK)
        status = check_grip(&setup->grip, message);
    if (status == CABER_OK)
        status = check_build(setup, message);
    if (status == CABER_OK)
        status = check_player(&setup->player, message);
    if (status == CABER_OK)
        status = check_ceiling(&setup->settings, message);
    if (status == CABER_OK)
        status = check_stations(&setup->settings, message);
    return status == CABER_OK ? message_clear(message) : status;
}
