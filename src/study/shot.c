/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/shot.h"

#include <math.h>
#include <stdlib.h>

#include "ball/air.h"
#include "ball/flight.h"
#include "ball/impact.h"
#include "base/message.h"

struct shot_work {
    flight_work *flight;
};

caber_status shot_work_create(shot_work **out, caber_message *message)
{
    *out = calloc(1, sizeof **out);
    if (!*out)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    const caber_status status = flight_work_create(&(*out)->flight, message);
    if (status == CABER_OK)
        return CABER_OK;
    free(*out);
    *out = NULL;
    return status;
}

void shot_work_free(shot_work *work)
{
    if (!work)
        return;
    flight_work_free(work->flight);
    free(work);
}

/* ------------------------------------------------------------------ the impact */

static vec3 vec3_of(const double a[3])
{
    return vec3_make(a[0], a[1], a[2]);
}

static impact_head head_of(const caber_arrival *head)
{
    const double *i = head->inertia; /* tt, uu, ss, tu, ts, us */
    return (impact_head){.mass = head->mass,
                         .inertia = {{{i[0], i[3], i[4]}, {i[3], i[1], i[5]}, {i[4], i[5], i[2]}}},
                         .velocity = vec3_of(head->velocity),
                         .spin = vec3_of(head->spin)};
}

static caber_status strike(const caber_setup *setup, const caber_arrival *arrival,
                           caber_place place, impact_result *out, caber_message *message)
{
    const caber_head *h = &setup->head;
    const double radius = setup->ball.diameter / 2;
    const impact_head head = head_of(arrival);
    const impact_face face = {.middle = vec3_of(arrival->face),
                              .normal = vec3_of(arrival->normal),
                              .toe = vec3_of(arrival->toe),
                              .bulge = h->bulge,
                              .roll = h->roll};
    const impact_ball ball = {.mass = setup->ball.mass,
                              .radius = radius,
                              .inertia = setup->ball.inertia * setup->ball.mass * radius * radius};
    const impact_contact contact = {.restitution = h->restitution,
                                    .speed = h->restitution_speed,
                                    .loss = h->restitution_loss,
                                    .friction = h->friction};
    return impact_run(&head, &face, place, &ball, &contact, out, message);
}

/* As the header has it. */
static void fill_launch(vec3 velocity, vec3 spin, double head_speed, caber_shot *out)
{
    const vec3 up = {0, 1, 0};
    const double speed = vec3_norm(velocity);
    const vec3 along = vec3_scale(1 / speed, velocity);
    const vec3 level = vec3_cross(along, up);
    const vec3 across = vec3_scale(1 / vec3_norm(level), level);
    out->ball_speed = speed;
    out->smash = speed / head_speed;
    out->launch_angle = asin(along.y);
    out->launch_direction = atan2(along.z, along.x);
    out->backspin = vec3_dot(spin, across);
    out->sidespin = vec3_dot(spin, vec3_cross(along, across));
    out->spin_axis = atan2(out->sidespin, out->backspin);
}

/* ------------------------------------------------------------------ the flight */

static flight_air air_of(const caber_setup *setup)
{
    const double away = setup->player.handed == CABER_LEFT ? -1 : 1;
    flight_air air = {.wind = {setup->air.wind_along, 0, away * setup->air.wind_across}};
    air_state(&setup->air, &air.density, &air.viscosity);
    return air;
}

/* Flies the ball by every set, and keeps the whole flight of the chosen one. */
static caber_status fly(shot_work *work, const caber_setup *setup, const impact_result *struck,
                        caber_shot *out, caber_message *message)
{
    const flight_launch launch = {struck->ball_velocity, struck->ball_spin};
    const flight_ball ball = {setup->ball.mass, setup->ball.diameter / 2};
    const flight_air air = air_of(setup);
    out->carry_low = INFINITY;
    out->carry_high = -INFINITY;
    for (int set = 0; set < CABER_COEFFICIENT_SETS; set++) {
        flight_result flown;
        const caber_status status = flight_run(work->flight, &launch, &ball, &air,
                                               (caber_coefficients)set, &flown, message);
        if (status != CABER_OK)
            return status;
        out->carry_low = fmin(out->carry_low, flown.carry);
        out->carry_high = fmax(out->carry_high, flown.carry);
        out->outside |= (flown.outside ? 1u : 0u) << set;
        if (set != (int)setup->ball.coefficients)
            continue;
        out->carry = flown.carry;
        out->side = flown.side;
        out->apex = flown.apex;
        out->flight_time = flown.time;
        out->descent_angle = flown.descent_angle;
    }
    return CABER_OK;
}

/* ------------------------------------------------------------------ both */

caber_status shot_run(shot_work *work, const caber_setup *setup, const caber_arrival *head,
                      caber_place place, caber_shot *out, caber_message *message)
{
    impact_result struck;
    *out = (caber_shot){.struck_toe = place.toe, .struck_high = place.high};
    const caber_status status = strike(setup, head, place, &struck, message);
    if (status != CABER_OK)
        return status;
    fill_launch(struck.ball_velocity, struck.ball_spin, head->speed, out);
    if (!(out->launch_angle > 0))
        return message_set(message, CABER_BAD_INPUT,
                           "the ball does not rise: it leaves the face at %.1f m/s, %.2f deg below "
                           "the horizontal",
                           out->ball_speed, -out->launch_angle * CABER_DEG);
    return fly(work, setup, &struck, out, message);
}

caber_place caber_shot_place(const caber_setup *setup, const caber_swing *swing)
{
    if (setup->player.strike == CABER_CENTRED)
        return (caber_place){0, 0};
    return (caber_place){swing->bent.strike_toe, swing->bent.strike_high};
}

caber_status caber_shot_run(const caber_setup *setup, const caber_arrival *head, caber_place place,
                            caber_shot *out, caber_message *message)
{
    shot_work *work;
    caber_status status = shot_work_create(&work, message);
    if (status != CABER_OK)
        return status;
    status = shot_run(work, setup, head, place, out, message);
    shot_work_free(work);
    return status == CABER_OK ? message_clear(message) : status;
}

/* ------------------------------------------------------------------ both clubs of a swing */

void shot_clear(caber_shot *shot)
{
    size_t count;
    const caber_field *fields = caber_shot_fields(&count);
    *shot = (caber_shot){.outside = 0};
    for (size_t i = 0; i < count; i++)
        *(double *)(void *)((char *)shot + fields[i].offset) = NAN;
}

/* Runs one club's shot; a ball that does not fly is told of in *flies and *why. */
static caber_status shot_try(shot_work *work, const caber_setup *setup, const caber_arrival *head,
                             caber_place place, caber_shot *shot, bool *flies, caber_message *why)
{
    const caber_status status = shot_run(work, setup, head, place, shot, why);
    *flies = status == CABER_OK;
    if (*flies)
        return message_clear(why);
    shot_clear(shot);
    return status == CABER_BAD_INPUT ? CABER_OK : status;
}

/* No ball was met. */
static caber_status shot_none(const caber_setup *setup, caber_shot_pair *out)
{
    *out = (caber_shot_pair){.bent_flies = false};
    shot_clear(&out->bent);
    shot_clear(&out->straight);
    message_set(&out->bent_why, CABER_OK,
                "the swing was stopped %g s after its start by settings.until and met no ball",
                setup->settings.until);
    out->straight_why = out->bent_why;
    return CABER_OK;
}

caber_status shot_pair_run(shot_work *work, const caber_setup *setup, const caber_swing *swing,
                           caber_shot_pair *out, caber_message *message)
{
    *out = (caber_shot_pair){.bent_flies = false};
    if (!swing->met_ball)
        return shot_none(setup, out);
    caber_status status = shot_try(work, setup, &swing->head, caber_shot_place(setup, swing),
                                   &out->bent, &out->bent_flies, &out->bent_why);
    if (status != CABER_OK)
        return message_set(message, status, "the ball off the club: %s", out->bent_why.text);
    status = shot_try(work, setup, &swing->straight_head, (caber_place){0, 0}, &out->straight,
                      &out->straight_flies, &out->straight_why);
    if (status != CABER_OK)
        return message_set(message, status, "the ball off the straight club: %s",
                           out->straight_why.text);
    return CABER_OK;
}

caber_status caber_shot_pair_run(const caber_setup *setup, const caber_swing *swing,
                                 caber_shot_pair *out, caber_message *message)
{
    shot_work *work = NULL; /* as swings that were stopped need none */
    caber_status status = swing->met_ball ? shot_work_create(&work, message) : CABER_OK;
    if (status != CABER_OK)
        return status;
    status = shot_pair_run(work, setup, swing, out, message);
    shot_work_free(work);
    return status == CABER_OK ? message_clear(message) : status;
}
