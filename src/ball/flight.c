/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ball/flight.h"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <sundials/sundials_context.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include "ball/drag.h"
#include "base/message.h"

/* Of the state: place, velocity over the ground, spin over that of the launch. */
enum { PLACE = 0, VELOCITY = 3, SPIN = 6, STATE_SIZE = 7 };
enum { ROOT_APEX, ROOT_LANDING, ROOT_COUNT };

/* Quoted: flight.h. */
static const double spin_decay = 2e-5;

/* Carry within 1 mm of the converged one (tests/verification/test_flight.c). */
static const double tolerance_usual = 3e-8;
/* Held edges bend the forces abruptly, which high orders do not like: lower ones are nearer. */
enum { order_most = 5 };
/* s: a drive takes 7 s, a ball straight up at 90 m/s less than 20 s in a vacuum. */
static const double time_most = 120;
/* A flight takes some hundred. */
enum { steps_most = 100000 };

/* The flight of the moment, as the equations need it. */
typedef struct conditions {
    caber_coefficients set;
    vec3 spin, wind;      /* rad/s at the launch; m/s */
    double radius;        /* m */
    double reynolds_rate; /* s/m: Reynolds number a speed */
    double force_rate;    /* 1/m: acceleration a coefficient and speed squared */
} conditions;

struct flight_work {
    SUNContext context;
    N_Vector state, tolerance;
    SUNNonlinearSolver iteration;
    void *cvode;
    drag *drag;
    conditions now;
};

/* ------------------------------------------------------------------ what CVODE calls */

static vec3 vec3_at(const double *p)
{
    return (vec3){p[0], p[1], p[2]};
}

/* The coefficients at a state, with *through the velocity through the air and *lift the direction
 * of lift times |through|^2 CL. */
static drag_value forces_at(flight_work *w, const double *y, vec3 *through, vec3 *lift)
{
    const conditions *c = &w->now;
    const vec3 u = *through = vec3_sub(vec3_at(y + VELOCITY), c->wind);
    const double speed = vec3_norm(u);
    const vec3 across = vec3_scale(y[SPIN], vec3_cross(c->spin, u));
    const double turn = vec3_norm(across);
    const double parameter = speed > 0 ? c->radius * turn / (speed * speed) : 0;
    const drag_value v = drag_at(w->drag, c->set, c->reynolds_rate * speed, parameter);
    *lift = turn > 0 ? vec3_scale(v.cl * speed * speed / turn, across) : vec3_make(0, 0, 0);
    return v;
}

static int rates(realtype t, N_Vector state, N_Vector rate, void *user)
{
    (void)t;
    flight_work *w = user;
    const conditions *c = &w->now;
    const double *y = N_VGetArrayPointer(state);
    double *out = N_VGetArrayPointer(rate);
    vec3 u, lift;
    const drag_value v = forces_at(w, y, &u, &lift);
    const double speed = vec3_norm(u);
    const vec3 force = vec3_axpy(-speed * v.cd, u, lift);
    out[PLACE] = y[VELOCITY];
    out[PLACE + 1] = y[VELOCITY + 1];
    out[PLACE + 2] = y[VELOCITY + 2];
    out[VELOCITY] = c->force_rate * force.x;
    out[VELOCITY + 1] = c->force_rate * force.y - CABER_GRAVITY;
    out[VELOCITY + 2] = c->force_rate * force.z;
    out[SPIN] = -spin_decay * y[SPIN] * speed / c->radius;
    return 0;
}

static int roots(realtype t, N_Vector state, realtype *g, void *user)
{
    (void)t, (void)user;
    const double *y = N_VGetArrayPointer(state);
    g[ROOT_APEX] = y[VELOCITY + 1];
    g[ROOT_LANDING] = y[PLACE + 1];
    return 0;
}

/* CVODE's own messages would go to stderr: the status it returns says enough. */
static void quiet(int code, const char *module, const char *function, char *text, void *user)
{
    (void)code, (void)module, (void)function, (void)text, (void)user;
}

/* ------------------------------------------------------------------ set-up */

void flight_work_tolerance(flight_work *w, double tolerance)
{
    /* m, m/s, 1: tenths of what a drive has. */
    static const double sizes[STATE_SIZE] = {10, 10, 10, 10, 10, 10, 0.1};
    double *a = N_VGetArrayPointer(w->tolerance);
    for (int i = 0; i < STATE_SIZE; i++)
        a[i] = tolerance * sizes[i];
    CVodeSVtolerances(w->cvode, tolerance, w->tolerance);
}

static bool cvode_set_up(flight_work *w)
{
    int direction[ROOT_COUNT] = {-1, -1}; /* both on the way down */
    w->cvode = CVodeCreate(CV_ADAMS, w->context);
    w->iteration = SUNNonlinSol_FixedPoint(w->state, 0, w->context);
    if (!w->cvode || !w->iteration)
        return false;
    CVodeSetErrHandlerFn(w->cvode, quiet, NULL);
    if (CVodeInit(w->cvode, rates, 0, w->state) != CV_SUCCESS)
        return false;
    flight_work_tolerance(w, tolerance_usual);
    return CVodeSetNonlinearSolver(w->cvode, w->iteration) == CV_SUCCESS &&
           CVodeSetMaxOrd(w->cvode, order_most) == CV_SUCCESS &&
           CVodeSetUserData(w->cvode, w) == CV_SUCCESS &&
           CVodeRootInit(w->cvode, ROOT_COUNT, roots) == CV_SUCCESS &&
           CVodeSetRootDirection(w->cvode, direction) == CV_SUCCESS;
}

static bool work_set_up(flight_work *w)
{
    w->drag = drag_create();
    if (!w->drag || SUNContext_Create(NULL, &w->context) != 0)
        return false;
    w->state = N_VNew_Serial(STATE_SIZE, w->context);
    w->tolerance = N_VNew_Serial(STATE_SIZE, w->context);
    if (!w->state || !w->tolerance)
        return false;
    N_VConst(0, w->state);
    return cvode_set_up(w);
}

caber_status flight_work_create(flight_work **out, caber_message *message)
{
    *out = calloc(1, sizeof **out);
    if (*out && work_set_up(*out))
        return message_clear(message);
    flight_work_free(*out);
    *out = NULL;
    return message_set(message, CABER_NO_MEMORY, "out of memory for the flight");
}

void flight_work_free(flight_work *w)
{
    if (!w)
        return;
    if (w->cvode)
        CVodeFree(&w->cvode);
    if (w->iteration)
        SUNNonlinSolFree(w->iteration);
    if (w->state)
        N_VDestroy(w->state);
    if (w->tolerance)
        N_VDestroy(w->tolerance);
    if (w->context)
        SUNContext_Free(&w->context);
    drag_free(w->drag);
    free(w);
}

/* ------------------------------------------------------------------ one flight */

static void set_conditions(flight_work *w, const flight_launch *launch, const flight_ball *ball,
                           const flight_air *air, caber_coefficients set)
{
    static const double pi = 3.14159265358979323846;
    const double area = pi * ball->radius * ball->radius;
    w->now = (conditions){.set = set,
                          .spin = launch->spin,
                          .wind = air->wind,
                          .radius = ball->radius,
                          .reynolds_rate = air->density * 2 * ball->radius / air->viscosity,
                          .force_rate = air->density * area / (2 * ball->mass)};
}

static bool start(flight_work *w, const flight_launch *launch)
{
    double *y = N_VGetArrayPointer(w->state);
    const vec3 v = launch->velocity;
    const double at_launch[STATE_SIZE] = {0, 0, 0, v.x, v.y, v.z, 1};
    for (int i = 0; i < STATE_SIZE; i++)
        y[i] = at_launch[i];
    return CVodeReInit(w->cvode, 0, w->state) == CV_SUCCESS;
}

static bool is_outside(flight_work *w)
{
    vec3 u, lift;
    return forces_at(w, N_VGetArrayPointer(w->state), &u, &lift).outside;
}

/* To the landing, step by step so that none of the range's edges is passed unseen; false when it
 * was not reached. */
static bool fly(flight_work *w, flight_result *out)
{
    const double *y = N_VGetArrayPointer(w->state);
    for (long step = 0; step < steps_most && out->time < time_most; step++) {
        const int flag = CVode(w->cvode, time_most, w->state, &out->time, CV_ONE_STEP);
        if (flag < 0)
            return false;
        out->outside = out->outside || is_outside(w);
        int found[ROOT_COUNT] = {0, 0};
        if (flag == CV_ROOT_RETURN && CVodeGetRootInfo(w->cvode, found) != CV_SUCCESS)
            return false;
        if (found[ROOT_APEX])
            out->apex = fmax(out->apex, y[PLACE + 1]);
        /* A root within rounding of the start (a launch all but level) may be lost. */
        if (found[ROOT_LANDING] || y[PLACE + 1] < 0)
            return true;
    }
    return false;
}

static void describe_landing(const flight_work *w, flight_result *out)
{
    const double *y = N_VGetArrayPointer(w->state);
    const vec3 v = vec3_at(y + VELOCITY);
    out->carry = y[PLACE];
    out->side = y[PLACE + 2];
    out->descent_angle = atan2(-v.y, hypot(v.x, v.z));
    out->speed = vec3_norm(v);
    out->spin = y[SPIN] * vec3_norm(w->now.spin);
}

caber_status flight_run(flight_work *w, const flight_launch *launch, const flight_ball *ball,
                        const flight_air *air, caber_coefficients set, flight_result *out,
                        caber_message *message)
{
    *out = (flight_result){.outside = false};
    if (!(launch->velocity.y > 0))
        return message_set(message, CABER_BAD_INPUT,
                           "the ball does not rise: it leaves at %.2f m/s downwards",
                           -launch->velocity.y);
    set_conditions(w, launch, ball, air, set);
    if (!start(w, launch))
        return message_set(message, CABER_INTERNAL, "the flight could not be started");
    out->outside = is_outside(w);
    if (!fly(w, out))
        return message_set(message, CABER_NOT_CONVERGED,
                           "the flight did not come to an end: stopped at %.2f s", out->time);
    describe_landing(w, out);
    return message_clear(message);
}
