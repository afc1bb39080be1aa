/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/downswing.h"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <string.h>
#include <sundials/sundials_context.h>
#include <sundials/sundials_linearsolver.h>

#include "base/message.h"
#include "swing/delivery.h"
#include "swing/dynamics.h"
#include "swing/handle.h"
#include "swing/joints.h"
#include "swing/vector.h"

enum { ROOT_BALL, ROOT_LAG, ROOT_STRAIN, ROOT_COUNT };

struct downswing {
    SUNContext context;
    N_Vector y, tolerance, dense;
    SUNLinearSolver linear;
    void *cvode;
    double *zdd;             /* [unknowns]: accelerations, scratch */
    double best[ROOT_COUNT]; /* largest lag and strain energy so far */
    double seen_force;       /* N, grip force at the last evaluation of the equations */
    double seen_moment;      /* N m, handle moment, likewise */
    double seen_rate;        /* N m/s, its rate, likewise */
    double seen_along; /* cosine of the tip's axis to the handle's, at the last look for roots */
};

/* CVODE's clock reads this when the swing's reads 0. It looks for roots to 100 roundings of its clock:
 * soon after a start at 0 those are too few to move a root function off its 0, and it would fail. */
static const double clock_start = 1;

/* Swings as they are played never take more. A strong damper (the wrist stop's, on a light club) does:
 * Adams' formulas are the less stable the higher their order, the next one then takes ten times as
 * many steps as are needed, and does not leave that order again. */
enum { order_most = 5 };
/* A swing takes some 500, or 2000 a second; seconds of time on a computer. CVODE's own limit counts
 * the steps of one call, which is one step here. */
enum { steps_most = 1000000 };

/* s: nothing limits the step of a club at rest, and a load that came and went within one would never be
 * seen. Swings as they are played take steps of 1.2 ms at most. */
static const double step_most = 2e-3;

static double *data(N_Vector v)
{
    return N_VGetArrayPointer(v);
}

/* ------------------------------------------------------------------ what CVODE calls */

/* Keeps what the loads are at a state whose equations have just been solved. */
static void see_loads(const caber_model *m, caber_work *w, const double *z, const double *zd,
                      const double *zdd)
{
    const int nj = m->joints;
    downswing *d = w->solver;
    d->seen_force = vec3_norm(w->now.grip_force);
    d->seen_moment = handle_moment(&w->now);
    d->seen_rate = handle_moment_rate(m, &w->now.handle, z + nj, zd + nj, zdd + nj);
}

static int rates(realtype clock, N_Vector y, N_Vector ydot, void *user)
{
    caber_work *w = user;
    const caber_model *m = w->model;
    const size_t n = (size_t)m->unknowns;
    const double t = clock - clock_start, *z = data(y), *zd = z + n;
    double *out = data(ydot);
    if (!dynamics_solve(m, w, t, z, zd, out + n))
        return 1; /* recoverable: CVODE tries a shorter step */
    memcpy(out, zd, n * sizeof(double));
    dynamics_loads(m, w, zd, out + n);
    out[2 * n] = w->now.power;
    out[2 * n + 1] = w->now.loss;
    see_loads(m, w, z, zd, out + n);
    return 0;
}

static int weights(N_Vector y, N_Vector out, void *user)
{
    const caber_work *w = user;
    vector_weights(y, w->model->settings.tolerance, w->solver->tolerance, out);
    return 0;
}

/* Newton's linear system (I - gamma J) x = b with the stiff part of J and the newest M: a fraction of
 * an evaluation, so it is solved afresh each time and nothing of J is kept. */
static int newton_solve(SUNLinearSolver solver, SUNMatrix none, N_Vector x, N_Vector b,
                        realtype tolerance)
{
    (void)none, (void)tolerance;
    caber_work *w = solver->content;
    const caber_model *m = w->model;
    realtype gamma;
    if (CVodeGetCurrentGamma(w->solver->cvode, &gamma) != CV_SUCCESS)
        return SUNLS_MEM_NULL;
    if (x != b)
        N_VScale(1, b, x);
    double *z = data(x);
    return dynamics_solve_stiff(m, w, gamma, z, z + m->unknowns) ? SUNLS_SUCCESS
                                                                 : SUNLS_LUFACT_FAIL;
}

static SUNLinearSolver_Type newton_type(SUNLinearSolver solver)
{
    (void)solver;
    return SUNLINEARSOLVER_MATRIX_EMBEDDED;
}

static int newton_free(SUNLinearSolver solver)
{
    solver->content = NULL; /* the work's, not the solver's */
    SUNLinSolFreeEmpty(solver);
    return SUNLS_SUCCESS;
}

static SUNLinearSolver newton_create(SUNContext context)
{
    SUNLinearSolver s = SUNLinSolNewEmpty(context);
    if (s) {
        s->ops->gettype = newton_type;
        s->ops->solve = newton_solve;
        s->ops->free = newton_free;
    }
    return s;
}

/* The rate whose fall through 0 is a peak; well below the best peak so far no other is looked for,
 * and the rate counts as falling. */
static double worth_a_look(double value, double best, double rate)
{
    return value < best - 0.2 * fabs(best) ? -1 : rate;
}

static int roots(realtype clock, N_Vector y, realtype *g, void *user)
{
    caber_work *w = user;
    const caber_model *m = w->model;
    const int nj = m->joints;
    const double t = clock - clock_start, *z = data(y), *zd = z + m->unknowns;
    downswing *d = w->solver;
    dynamics_pose_tip(m, w, t, z, zd);
    g[ROOT_BALL] = delivery_head(m, w).face_centre.x - m->player.ball_ahead;
    double lag, lag_rate;
    delivery_lag(m, w, &lag, &lag_rate);
    g[ROOT_LAG] = worth_a_look(lag, d->best[ROOT_LAG], lag_rate);
    g[ROOT_STRAIN] = worth_a_look(handle_strain_energy(m, z + nj, THIRD_COUNT),
                                  d->best[ROOT_STRAIN], handle_strain_rate(m, z + nj, zd + nj));
    d->seen_along = w->rod.point[m->rod->stations].turn.m[0][0];
    return 0;
}

/* CVODE's own messages would go to stderr: the status it returns says enough. */
static void quiet(int code, const char *module, const char *function, char *text, void *user)
{
    (void)code, (void)module, (void)function, (void)text, (void)user;
}

/* ------------------------------------------------------------------ set-up */

/* Absolute tolerances: the relative one times a size that each unknown has in a swing. */
static void fill_tolerances(const caber_model *m, double *a)
{
    const double tol = m->settings.tolerance;
    const int n = m->unknowns;
    for (int i = 0; i < n; i++) {
        const bool joint = i < m->joints;
        a[i] = tol * (joint ? 1.0 : 0.1); /* rad; sqrt(kg) m: 0.1 is some 20 cm of the tip */
        a[n + i] = tol * 10;              /* rad/s; sqrt(kg) m/s */
    }
    a[2 * n] = a[2 * n + 1] = tol * 10; /* J */
}

static bool cvode_set_up(downswing *d)
{
    /* The face passes the ball forwards; a peak is where its rate falls through 0. */
    int direction[ROOT_COUNT] = {1, -1, -1};
    d->cvode = CVodeCreate(CV_ADAMS, d->context);
    if (!d->cvode)
        return false;
    CVodeSetErrHandlerFn(d->cvode, quiet, NULL);
    d->linear = newton_create(d->context);
    return d->linear && CVodeInit(d->cvode, rates, clock_start, d->y) == CV_SUCCESS &&
           CVodeWFtolerances(d->cvode, weights) == CV_SUCCESS &&
           CVodeSetLinearSolver(d->cvode, d->linear, NULL) == CV_SUCCESS &&
           CVodeRootInit(d->cvode, ROOT_COUNT, roots) == CV_SUCCESS &&
           CVodeSetRootDirection(d->cvode, direction) == CV_SUCCESS &&
           CVodeSetMaxOrd(d->cvode, order_most) == CV_SUCCESS &&
           CVodeSetMaxStep(d->cvode, step_most) == CV_SUCCESS &&
           CVodeSetNonlinConvCoef(d->cvode, 1) == CV_SUCCESS;
}

downswing *downswing_create(const caber_model *m)
{
    downswing *d = calloc(1, sizeof *d);
    if (!d)
        return NULL;
    const sunindextype n = 2 * m->unknowns + 2;
    bool good = SUNContext_Create(NULL, &d->context) == 0;
    if (good) {
        d->y = vector_create(n, d->context);
        d->tolerance = vector_create(n, d->context);
        d->dense = vector_create(n, d->context);
        d->zdd = calloc((size_t)m->unknowns, sizeof(double));
        good = d->y && d->tolerance && d->dense && d->zdd;
    }
    if (good) {
        fill_tolerances(m, data(d->tolerance));
        good = cvode_set_up(d);
    }
    if (!good) {
        downswing_free(d);
        return NULL;
    }
    return d;
}

void downswing_free(downswing *d)
{
    if (!d)
        return;
    if (d->cvode)
        CVodeFree(&d->cvode);
    if (d->linear)
        SUNLinSolFree(d->linear);
    if (d->y)
        N_VDestroy(d->y);
    if (d->tolerance)
        N_VDestroy(d->tolerance);
    if (d->dense)
        N_VDestroy(d->dense);
    free(d->zdd);
    if (d->context)
        SUNContext_Free(&d->context);
    free(d);
}

/* ------------------------------------------------------------------ one run */

/* The largest value of something that is known at the ends of steps only. */
typedef struct crest {
    double time[3], value[3]; /* of the last three steps */
    double most, when;
} crest;

typedef struct run {
    const caber_model *model;
    caber_work *work;
    downswing *d;
    caber_swing *out;
    caber_trace *trace;
    double t, next_row;
    double energy_0;
    double most_energy;        /* J: what the balance is held against */
    crest force, moment, rate; /* N, N m, N m/s: grip force, handle moment and its rate */
} run;

/* Total mechanical energy at a state, J. The balance is held against the most energy that was at
 * stake: work, motion or strain. Work alone may be next to nothing in the end, and what weight has
 * depends on where its zero is put. */
static double total_energy(run *r, const double *y)
{
    const caber_model *m = r->model;
    double kinetic, potential;
    dynamics_energy(m, r->work, r->t, y, y + m->unknowns, &kinetic, &potential);
    const double strain = handle_strain_energy(m, y + m->joints, THIRD_COUNT);
    r->most_energy = fmax(r->most_energy, fmax(kinetic, strain));
    return kinetic + potential + strain;
}

/* Accelerations (r->d->zdd) and loads (work->now) at a state; false when it cannot be solved. */
static bool loads_at(run *r, double t, const double *y)
{
    const double *zd = y + r->model->unknowns;
    if (!dynamics_solve(r->model, r->work, t, y, zd, r->d->zdd))
        return false;
    dynamics_loads(r->model, r->work, zd, r->d->zdd);
    return true;
}

/* Offers a state as the one of the largest lag or strain energy. */
static void offer_lag(run *r, double t, const double *y)
{
    const caber_model *m = r->model;
    dynamics_pose(m, r->work, t, y, y + m->unknowns, false);
    double lag, rate;
    delivery_lag(m, r->work, &lag, &rate);
    if (!(lag > r->d->best[ROOT_LAG]))
        return;
    r->out->bent.peak_lag = r->d->best[ROOT_LAG] = lag;
    r->out->bent.peak_lag_time = t;
    r->out->bent.bend_point = handle_bend_point(m, r->work);
}

static void offer_strain(run *r, const double *y)
{
    const caber_model *m = r->model;
    caber_impact *bent = &r->out->bent;
    const double *q = y + m->joints, energy = handle_strain_energy(m, q, THIRD_COUNT);
    if (!(energy > r->d->best[ROOT_STRAIN]))
        return;
    bent->strain_energy_peak = r->d->best[ROOT_STRAIN] = energy;
    const double share = energy > 0 ? 1 / energy : 0;
    bent->energy_share_butt = share * handle_strain_energy(m, q, THIRD_BUTT);
    bent->energy_share_middle = share * handle_strain_energy(m, q, THIRD_MIDDLE);
    bent->energy_share_tip = share * handle_strain_energy(m, q, THIRD_TIP);
}

static void offer_all(run *r, double t, const double *y)
{
    offer_lag(r, t, y);
    offer_strain(r, y);
}

static void crest_start(crest *c, double value)
{
    *c = (crest){.time = {-2, -1, 0}, .value = {-HUGE_VAL, -HUGE_VAL, value}, .most = value};
}

static void crest_offer(crest *c, double time, double value)
{
    if (!(value > c->most))
        return;
    c->most = value;
    c->when = time;
}

/* Takes the next value; where the one before is above both its neighbours, the top of the parabola
 * through the three. */
static void crest_follow(crest *c, double time, double value)
{
    for (int i = 0; i < 2; i++) {
        c->time[i] = c->time[i + 1];
        c->value[i] = c->value[i + 1];
    }
    c->time[2] = time;
    c->value[2] = value;
    crest_offer(c, time, value);
    const double a = c->time[0] - c->time[1], b = time - c->time[1];
    const double rise = c->value[0] - c->value[1], fall = value - c->value[1];
    if (!(rise < 0 && fall < 0 && isfinite(rise)))
        return;
    const double curve = (rise / a - fall / b) / (a - b), slope = rise / a - curve * a;
    crest_offer(c, c->time[1] - slope / (2 * curve), c->value[1] - slope * slope / (4 * curve));
}

/* After a step, at no cost: what its last evaluation saw. */
static void watch_step(run *r, double t, const double *y)
{
    crest_follow(&r->force, t, r->d->seen_force);
    crest_follow(&r->moment, t, r->d->seen_moment);
    crest_follow(&r->rate, t, r->d->seen_rate);
    r->most_energy = fmax(r->most_energy, fabs(y[2 * r->model->unknowns]));
}

/* ------------------------------------------------------------------ rows of a trace */

static caber_status trace_start(run *r, caber_message *message)
{
    caber_trace *trace = r->trace;
    const rod *shaft = r->model->rod;
    trace->count = 0;
    const size_t places = (size_t)shaft->stations + 1;
    double *place = realloc(trace->place, places * sizeof *place);
    if (!place)
        return message_set(message, CABER_NO_MEMORY, "out of memory for the trace");
    trace->place = place;
    if (trace->place_count != places)
        trace->capacity = 0; /* rows of another width */
    trace->place_count = places;
    place[0] = shaft->length;
    for (size_t k = 1; k < places; k++)
        place[k] = shaft->length - shaft->s[k - 1];
    return CABER_OK;
}

static bool trace_grow(caber_trace *trace)
{
    if (trace->count < trace->capacity)
        return true;
    const size_t capacity = trace->capacity ? 2 * trace->capacity : 512;
    caber_trace_row *rows = realloc(trace->rows, capacity * sizeof *rows);
    if (rows)
        trace->rows = rows;
    double **const along[] = {&trace->moment, &trace->curvature, &trace->trail,
                              &trace->out_of_plane};
    bool good = rows != NULL;
    for (size_t k = 0; k < sizeof along / sizeof *along; k++) {
        double *values = realloc(*along[k], capacity * trace->place_count * sizeof *values);
        if (values)
            *along[k] = values;
        good = good && values;
    }
    if (good)
        trace->capacity = capacity;
    return good;
}

static caber_status trace_add(run *r, double t, const double *y, caber_message *message)
{
    caber_trace *trace = r->trace;
    const caber_model *m = r->model;
    const int n = m->unknowns;
    if (!trace_grow(trace))
        return message_set(message, CABER_NO_MEMORY, "out of memory for the trace");
    if (!loads_at(r, t, y))
        return message_set(message, CABER_SHAFT_WRAPPED, "%s (at %.4f s)",
                           caber_status_text(CABER_SHAFT_WRAPPED), t);
    handle_trace_row(m, r->work, t, y, y + n, r->d->zdd, trace);
    trace->rows[trace->count].work = y[2 * n];
    trace->rows[trace->count].dissipated = y[2 * n + 1];
    trace->count++;
    return CABER_OK;
}

/* Rows at whole multiples of the sample time, by CVODE's own interpolation, up to time t. */
static caber_status trace_up_to(run *r, double t, caber_message *message)
{
    while (r->trace && r->next_row < t) {
        if (CVodeGetDky(r->d->cvode, clock_start + r->next_row, 0, r->d->dense) != CV_SUCCESS)
            return message_set(message, CABER_INTERNAL, "no state at %.6f s", r->next_row);
        const caber_status status = trace_add(r, r->next_row, data(r->d->dense), message);
        if (status != CABER_OK)
            return status;
        r->next_row = r->model->settings.sample * (double)r->trace->count;
    }
    return CABER_OK;
}

/* ------------------------------------------------------------------ start, step, finish */

static caber_status start(run *r, caber_message *message)
{
    const caber_model *m = r->model;
    const caber_player *p = &m->player;
    const int n = m->unknowns;
    double *y = data(r->d->y);
    N_VConst(0, r->d->y);
    const double rate[JOINT_COUNT] = {p->start_arm_speed, p->start_cock_speed, 0};
    for (int j = 0; j < JOINT_COUNT; j++)
        if (m->active[j] >= 0) {
            y[m->active[j]] = joints_start_angle(p, j);
            y[n + m->active[j]] = rate[j];
        }
    const caber_status status = dynamics_static_start(m, r->work, y, y + n, message);
    if (status != CABER_OK)
        return status;
    r->energy_0 = total_energy(r, y);
    r->d->linear->content = r->work;
    if (CVodeSetUserData(r->d->cvode, r->work) != CV_SUCCESS ||
        CVodeReInit(r->d->cvode, clock_start, r->d->y) != CV_SUCCESS)
        return message_set(message, CABER_INTERNAL, "the integrator could not start");
    const double stop = m->settings.until > 0 ? m->settings.until : m->settings.time_limit;
    CVodeSetStopTime(r->d->cvode, clock_start + stop);
    for (int i = 0; i < ROOT_COUNT; i++)
        r->d->best[i] = -HUGE_VAL;
    offer_all(r, 0, y);
    r->d->seen_along = 1;
    if (!loads_at(r, 0, y))
        return message_set(message, CABER_INTERNAL, "no accelerations at the start");
    see_loads(m, r->work, y, y + n, r->d->zdd);
    crest_start(&r->force, r->d->seen_force);
    crest_start(&r->moment, r->d->seen_moment);
    crest_start(&r->rate, r->d->seen_rate);
    r->next_row = 0;
    if (!r->trace)
        return CABER_OK;
    const caber_status ready = trace_start(r, message);
    if (ready != CABER_OK)
        return ready;
    r->next_row = m->settings.sample;
    return trace_add(r, 0, y, message);
}

/* What was reached, for a swing that did not end at the ball. */
static caber_status not_reached(run *r, caber_status status, const char *why,
                                caber_message *message)
{
    const caber_model *m = r->model;
    const double *y = data(r->d->y);
    dynamics_pose(m, r->work, r->t, y, y + m->unknowns, false);
    const delivery_pose head = delivery_head(m, r->work);
    const handle_motion *h = &r->work->now.handle;
    return message_set(
        message, status,
        "%s: at %.4f s the arm was at %.1f deg, the club at %.1f deg, the head at %.2f m/s and the "
        "face %.3f m %s the ball (ball.ahead = %.3f m); see load, start and ball",
        why, r->t, h->angle[JOINT_ARM] * CABER_DEG, h->beta * CABER_DEG, vec3_norm(head.velocity),
        fabs(head.face_centre.x - m->player.ball_ahead),
        head.face_centre.x < m->player.ball_ahead ? "short of" : "beyond", m->player.ball_ahead);
}

/* Whether the face is at the ball: below the hub and rising through it. */
static bool at_ball(run *r, const int *found)
{
    const double *y = data(r->d->y);
    if (!found[ROOT_BALL] || r->model->settings.until > 0)
        return false;
    dynamics_pose_tip(r->model, r->work, r->t, y, y + r->model->unknowns);
    return delivery_head(r->model, r->work).face_centre.y < 0;
}

/* Whether the tip has turned square to the handle, as no shaft survives. */
static bool wrapped(const run *r)
{
    return !(r->d->seen_along > 0);
}

/* Steps to the ball or to the stop time. */
static caber_status integrate(run *r, bool *met, caber_message *message)
{
    double *y = data(r->d->y);
    *met = false;
    for (long steps = 0; steps < steps_most; steps++) {
        realtype clock;
        const int flag = CVode(r->d->cvode, 1e9, r->d->y, &clock, CV_ONE_STEP);
        r->t = clock - clock_start;
        if (flag < 0)
            return not_reached(r,
                               wrapped(r) || flag == CV_RHSFUNC_FAIL || flag == CV_REPTD_RHSFUNC_ERR
                                   ? CABER_SHAFT_WRAPPED
                                   : CABER_NOT_CONVERGED,
                               "the integrator gave up", message);
        const caber_status status = trace_up_to(r, r->t, message);
        if (status != CABER_OK)
            return status;
        if (flag == CV_SUCCESS) /* a whole step, so that its last evaluation was at its end */
            watch_step(r, r->t, y);
        if (wrapped(r))
            return not_reached(r, CABER_SHAFT_WRAPPED, caber_status_text(CABER_SHAFT_WRAPPED),
                               message);
        if (flag == CV_ROOT_RETURN) {
            int found[ROOT_COUNT];
            CVodeGetRootInfo(r->d->cvode, found);
            if (found[ROOT_LAG])
                offer_lag(r, r->t, y);
            if (found[ROOT_STRAIN])
                offer_strain(r, y);
            if (at_ball(r, found)) {
                *met = true;
                return CABER_OK;
            }
        }
        if (flag == CV_TSTOP_RETURN)
            return CABER_OK;
    }
    return not_reached(r, CABER_NOT_CONVERGED, "the integrator took too many steps", message);
}

/* What was watched, with the state in the end. */
static void finish_crests(run *r, const double *y)
{
    const caber_model *m = r->model;
    caber_impact *bent = &r->out->bent;
    if (loads_at(r, r->t, y)) {
        see_loads(m, r->work, y, y + m->unknowns, r->d->zdd);
        watch_step(r, r->t, y);
    }
    bent->grip_force = r->force.most;
    bent->peak_handle_moment = r->moment.most;
    bent->peak_handle_moment_time = r->moment.when;
    bent->peak_load_rate = r->rate.most;
}

static void finish(run *r, bool met)
{
    const caber_model *m = r->model;
    const double *y = data(r->d->y);
    const int n = m->unknowns;
    caber_impact *bent = &r->out->bent;
    offer_all(r, r->t, y);
    finish_crests(r, y);
    delivery_fill(m, r->work, r->t, y, y + n, r->out);
    bent->downswing_time = r->t;
    const double missed = fabs(total_energy(r, y) - r->energy_0 - y[2 * n] + y[2 * n + 1]);
    bent->energy_residual = missed > 0 ? missed / r->most_energy : 0;
    r->out->met_ball = met;
}

/* Of a swing that failed too. */
static void fill_effort(run *r)
{
    caber_effort *e = &r->out->effort;
    long linear = 0;
    CVodeGetNumSteps(r->d->cvode, &e->steps);
    CVodeGetNumRhsEvals(r->d->cvode, &e->evaluations);
    CVodeGetNumErrTestFails(r->d->cvode, &e->error_failures);
    CVodeGetNumNonlinSolvConvFails(r->d->cvode, &linear);
    e->solver_failures = linear;
}

caber_status caber_swing_run(const caber_model *model, caber_work *work, caber_swing *out,
                             caber_trace *trace, caber_message *message)
{
    run r = {.model = model, .work = work, .d = work->solver, .out = out, .trace = trace};
    *out = (caber_swing){0};
    caber_status status = start(&r, message);
    if (status != CABER_OK)
        return status;
    bool met;
    status = integrate(&r, &met, message);
    fill_effort(&r);
    if (status != CABER_OK)
        return status;
    if (!met && !(model->settings.until > 0))
        return not_reached(&r, CABER_BALL_NOT_REACHED, caber_status_text(CABER_BALL_NOT_REACHED),
                           message);
    finish(&r, met);
    if (trace)
        status = trace_add(&r, r.t, data(r.d->y), message);
    return status == CABER_OK ? message_clear(message) : status;
}

caber_trace *caber_trace_create(void)
{
    return calloc(1, sizeof(caber_trace));
}

void caber_trace_free(caber_trace *trace)
{
    if (!trace)
        return;
    free(trace->rows);
    free(trace->place);
    free(trace->moment);
    free(trace->curvature);
    free(trace->trail);
    free(trace->out_of_plane);
    free(trace);
}
