/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ball/impact.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <gsl/gsl_odeiv2.h>
#include <gsl/gsl_roots.h>
#include <pthread.h>
#include <stddef.h>
#include <string.h>

#include "base/message.h"

/* ------------------------------------------------------------------ the face */

static double sag(double x, double radius)
{
    return radius > 0 ? x * x / (radius + sqrt(radius * radius - x * x)) : 0;
}

static double slope(double x, double radius)
{
    return radius > 0 ? x / sqrt(radius * radius - x * x) : 0;
}

static bool on_arc(double x, double radius)
{
    return !(radius > 0) || fabs(x) < radius;
}

void impact_face_at(const impact_face *face, caber_place place, vec3 *point, vec3 *normal)
{
    const vec3 up = vec3_cross(face->toe, face->normal);
    const double deep = sag(place.toe, face->bulge) + sag(place.high, face->roll);
    vec3 p = vec3_axpy(place.toe, face->toe, face->middle);
    p = vec3_axpy(place.high, up, p);
    *point = vec3_axpy(-deep, face->normal, p);
    vec3 n = vec3_axpy(slope(place.toe, face->bulge), face->toe, face->normal);
    n = vec3_axpy(slope(place.high, face->roll), up, n);
    *normal = vec3_scale(1 / vec3_norm(n), n);
}

/* ------------------------------------------------------------------ two bodies in contact */

typedef struct mat2 {
    double m[2][2];
} mat2;

/* The two at the contact, in axes (n, t1, t2). Speeds over the closing speed, impulses over
 * closing/k_nn, so everything is of the order of 1. */
typedef struct pair {
    double k[2];         /* of K, over k_nn */
    mat2 t;              /* the same */
    double inverse[2];   /* T^-1 k */
    double friction, e2; /* 1, restitution squared */
    double slip;         /* before, along t1 */
    bool restoring;      /* whether the normal impulse works on the bodies now */
} pair;

/* Where the impulse has got to. */
typedef struct stage {
    double p, q[2], u, slip[2];  /* impulse along and across the normal, normal velocity, slip */
    double compressed, restored; /* work of the normal impulse, against and for the bodies */
    double rubbed;               /* work against friction */
    bool parted;
} stage;

/* As integrated. */
enum { SLIP_1, SLIP_2, IMPULSE, COMPRESSED, RESTORED, RUBBED, SLIDE_SIZE };

/* Slip below this is none, and so is what an impulse changes by less. To leave out a slip s changes
 * the impulse by T^-1 s, however long it would have gone on. */
static const double no_slip = 1e-11, no_change = 1e-12;

/* out = T^-1 (x, y) */
static void across_inverse(const mat2 *t, double x, double y, double out[2])
{
    const double det = t->m[0][0] * t->m[1][1] - t->m[0][1] * t->m[1][0];
    out[0] = (t->m[1][1] * x - t->m[0][1] * y) / det;
    out[1] = (t->m[0][0] * y - t->m[1][0] * x) / det;
}

/* From u = -1 + p + k.q and s = s(0) + k p + T q. */
static double normal_speed(const pair *c, const double *y)
{
    const double x = y[SLIP_1] - c->slip - c->k[0] * y[IMPULSE];
    const double z = y[SLIP_2] - c->k[1] * y[IMPULSE];
    return -1 + y[IMPULSE] + c->inverse[0] * x + c->inverse[1] * z;
}

/* Work that the normal impulse still has to give back. */
static double owed(const pair *c, const double *y)
{
    return c->e2 * y[COMPRESSED] - y[RESTORED];
}

/* ------------------------------------------------------------------ constant rates */

/* How all grows with p. */
typedef struct rates {
    double q[2], u;
    double line[2], growth; /* direction of the slip, unit, and how its size grows */
    double turn, settling;  /* of the slip by t, and how fast that dies away (below 0: it grows) */
} rates;

/* While it slides along d, with e across d: the slip turns by h = e.(k - mu T d), and by the angle
 * of d, dh/df = -d.k + mu (d'T d - e'T e) = -growth - mu e'T e. */
static rates rates_along(const pair *c, const double d[2])
{
    const double mu = c->friction, e[2] = {-d[1], d[0]};
    rates r = {.q = {-mu * d[0], -mu * d[1]}, .line = {d[0], d[1]}};
    double s[2], across = 0;
    for (int i = 0; i < 2; i++) {
        s[i] = c->k[i] + c->t.m[i][0] * r.q[0] + c->t.m[i][1] * r.q[1];
        across += e[i] * (c->t.m[i][0] * e[0] + c->t.m[i][1] * e[1]);
    }
    r.u = 1 + c->k[0] * r.q[0] + c->k[1] * r.q[1];
    r.growth = d[0] * s[0] + d[1] * s[1];
    r.turn = e[0] * s[0] + e[1] * s[1];
    r.settling = r.growth + mu * across;
    return r;
}

static void take(const pair *c, stage *now, const rates *r, double *slip, double more,
                 bool restoring)
{
    const double work = (now->u + r->u * more / 2) * more;
    if (restoring)
        now->restored += work;
    else
        now->compressed -= work;
    now->rubbed += c->friction * (*slip + r->growth * more / 2) * more;
    *slip += r->growth * more;
    now->u += r->u * more;
    now->p += more;
    now->q[0] += r->q[0] * more;
    now->q[1] += r->q[1] * more;
}

/* By how much p grows until all that is owed is given back: the root of u p + u' p^2/2 = owed. */
static double until_parted(const pair *c, const stage *now, const rates *r)
{
    const double owing = fmax(0, c->e2 * now->compressed - now->restored);
    const double square = now->u * now->u + 2 * r->u * owing;
    return owing > 0 ? square >= 0 ? 2 * owing / (now->u + sqrt(square)) : HUGE_VAL : 0;
}

/* Goes on at constant rates until they part or p has grown by `left`. `slip` is its first size. */
static void go_straight(const pair *c, stage *now, const rates *r, double slip, double left)
{
    while (left > 0) {
        const bool restoring = now->u > 0 || (now->u == 0 && r->u > 0);
        const double turn = -now->u / r->u; /* where u passes 0 */
        const double end = restoring ? until_parted(c, now, r) : HUGE_VAL;
        const double step = fmin(fmin(left, end), turn > 0 ? turn : HUGE_VAL);
        take(c, now, r, &slip, step, restoring);
        now->parted = step == end;
        if (now->parted)
            break;
        if (step == turn)
            now->u = 0;
        left -= step;
    }
    now->slip[0] = slip * r->line[0];
    now->slip[1] = slip * r->line[1];
}

/* ------------------------------------------------------------------ while the slip turns */

/* By t, dp = |s| dt. */
static int slide_rates(double t, const double *y, double *rate, void *params)
{
    (void)t;
    const pair *c = params;
    const double speed = sqrt(y[SLIP_1] * y[SLIP_1] + y[SLIP_2] * y[SLIP_2]);
    const double power = normal_speed(c, y) * speed;
    rate[SLIP_1] =
        speed * c->k[0] - c->friction * (c->t.m[0][0] * y[SLIP_1] + c->t.m[0][1] * y[SLIP_2]);
    rate[SLIP_2] =
        speed * c->k[1] - c->friction * (c->t.m[1][0] * y[SLIP_1] + c->t.m[1][1] * y[SLIP_2]);
    rate[IMPULSE] = speed;
    rate[COMPRESSED] = c->restoring ? 0 : -power;
    rate[RESTORED] = c->restoring ? power : 0;
    rate[RUBBED] = c->friction * speed * speed;
    return GSL_SUCCESS;
}

/* The integrator and one step of it, in which something happens. */
typedef struct slide {
    pair *pair;
    gsl_odeiv2_system system;
    gsl_odeiv2_step *step;
    gsl_odeiv2_control *control;
    gsl_odeiv2_evolve *evolve;
    gsl_root_fsolver *finder;
    double from[SLIDE_SIZE], to[SLIDE_SIZE];
    double (*event)(const pair *c, const double *y);
} slide;

static bool slide_create(slide *s, pair *c)
{
    *s = (slide){.pair = c, .system = {slide_rates, NULL, SLIDE_SIZE, c}};
    s->step = gsl_odeiv2_step_alloc(gsl_odeiv2_step_rk8pd, SLIDE_SIZE);
    s->control = gsl_odeiv2_control_y_new(1e-13, 1e-13);
    s->evolve = gsl_odeiv2_evolve_alloc(SLIDE_SIZE);
    s->finder = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    return s->step && s->control && s->evolve && s->finder;
}

static void slide_free(slide *s)
{
    if (s->finder)
        gsl_root_fsolver_free(s->finder);
    if (s->evolve)
        gsl_odeiv2_evolve_free(s->evolve);
    if (s->control)
        gsl_odeiv2_control_free(s->control);
    if (s->step)
        gsl_odeiv2_step_free(s->step);
}

/* The event's function a part of the step on; leaves the state there in s->to. */
static double event_after(double part, void *params)
{
    slide *s = params;
    double error[SLIDE_SIZE];
    memcpy(s->to, s->from, sizeof s->to);
    gsl_odeiv2_step_apply(s->step, 0, part, s->to, error, NULL, NULL, &s->system);
    return s->event(s->pair, s->to);
}

/* Goes from s->from to where the event's function is zero, within the step that has been taken. */
static bool slide_to_event(slide *s, double step, double (*event)(const pair *c, const double *y))
{
    enum { TRIES = 100 };
    s->event = event;
    gsl_function f = {event_after, s};
    if (gsl_root_fsolver_set(s->finder, &f, 0, step) != GSL_SUCCESS)
        return false;
    int state = GSL_CONTINUE;
    for (int i = 0; i < TRIES && state == GSL_CONTINUE; i++) {
        if (gsl_root_fsolver_iterate(s->finder) != GSL_SUCCESS)
            return false;
        state = gsl_root_test_interval(gsl_root_fsolver_x_lower(s->finder),
                                       gsl_root_fsolver_x_upper(s->finder), 1e-15, 1e-15);
        if (fabs(event_after(gsl_root_fsolver_root(s->finder), s)) < 1e-15)
            break;
    }
    gsl_odeiv2_evolve_reset(s->evolve);
    gsl_odeiv2_step_reset(s->step);
    return state != GSL_CONTINUE || fabs(s->event(s->pair, s->to)) < 1e-15;
}

/* Whether the slip keeps its line from here on. It turns towards a line by the angle turn/settling
 * more, and changes the impulse meanwhile by less than that angle times the slip over settling. */
static bool straight_from(const pair *c, const double *y, rates *r)
{
    enum { NEWTON_STEPS = 4 };
    const double speed = hypot(y[SLIP_1], y[SLIP_2]), wide = 0.01;
    double d[2] = {y[SLIP_1] / speed, y[SLIP_2] / speed};
    *r = rates_along(c, d);
    const double off = fabs(r->turn / r->settling);
    if (!(r->settling > 0 && off < wide && off * speed < no_change * r->settling))
        return false;
    for (int i = 0; i < NEWTON_STEPS && r->turn != 0; i++) {
        const double more = r->turn / r->settling, size = hypot(1, more), x = d[0];
        d[0] = (d[0] - more * d[1]) / size;
        d[1] = (d[1] + more * x) / size;
        *r = rates_along(c, d);
    }
    return true;
}

/* What happens in the step just taken: sets *parted, or changes sides between compression and
 * restitution. With friction that turns, compression can begin anew. */
static bool slide_events(slide *s, double step, double *y, bool *parted)
{
    pair *c = s->pair;
    const bool given = c->restoring && owed(c, y) <= 0;
    if (!given && c->restoring == (normal_speed(c, y) > 0))
        return true;
    if (!slide_to_event(s, step, given ? owed : normal_speed))
        return false;
    memcpy(y, s->to, sizeof s->to);
    if (!given)
        c->restoring = !c->restoring;
    *parted = given || (c->restoring && owed(c, y) <= 0);
    return true;
}

/* Slides until the slip turns no more, has stopped, or the two part; *r is how it goes on. */
static bool slide_on(slide *s, double *y, rates *r, bool *parted)
{
    enum { STEPS = 1000 };
    double t = 0, h = 0.1;
    for (int i = 0; i < STEPS; i++) {
        if (*parted || hypot(y[SLIP_1], y[SLIP_2]) < no_slip || straight_from(s->pair, y, r))
            return true;
        const double before = t;
        memcpy(s->from, y, sizeof s->from);
        if (gsl_odeiv2_evolve_apply(s->evolve, s->control, s->step, &s->system, &t, before + 1e3,
                                    &h, y) != GSL_SUCCESS ||
            !slide_events(s, t - before, y, parted))
            return false;
    }
    return false;
}

static const char *const unfound = "the slip of the ball on the face was not found";

static caber_status slide_run(pair *c, stage *now, rates *r, caber_message *message)
{
    slide s;
    double y[SLIDE_SIZE] = {[SLIP_1] = now->slip[0], [SLIP_2] = now->slip[1]};
    const bool made = slide_create(&s, c);
    const bool good = made && slide_on(&s, y, r, &now->parted);
    slide_free(&s);
    if (!made)
        return message_set(message, CABER_NO_MEMORY, "no memory for the impact");
    if (!good)
        return message_set(message, CABER_NOT_CONVERGED, "%s", unfound);
    now->p = y[IMPULSE];
    now->u = normal_speed(c, y);
    now->slip[0] = y[SLIP_1];
    now->slip[1] = y[SLIP_2];
    across_inverse(&c->t, y[SLIP_1] - c->slip - c->k[0] * now->p, y[SLIP_2] - c->k[1] * now->p,
                   now->q);
    now->compressed = y[COMPRESSED];
    now->restored = y[RESTORED];
    now->rubbed = y[RUBBED];
    return CABER_OK;
}

/* ------------------------------------------------------------------ once the slip has stopped */

/* d = (mu T + c)^-1 k */
static void line_at(const pair *c, double growth, double d[2])
{
    mat2 shifted;
    for (int i = 0; i < 2; i++)
        for (int j = 0; j < 2; j++)
            shifted.m[i][j] = c->friction * c->t.m[i][j] + (i == j ? growth : 0);
    across_inverse(&shifted, c->k[0], c->k[1], d);
}

/* 1/|d| - 1: nearly straight in c, so that the root is found in a few steps. */
static double line_excess(double growth, void *params)
{
    double d[2];
    line_at(params, growth, d);
    return 1 / hypot(d[0], d[1]) - 1;
}

/* The line along which it slides on. */
static bool line_find(pair *c, double d[2])
{
    enum { TRIES = 100 };
    gsl_function f = {line_excess, c};
    gsl_root_fsolver *finder = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    /* Friction takes from |k| at least nothing, at most mu times the trace of T. */
    const double most = hypot(c->k[0], c->k[1]);
    const double least = fmax(0, most - c->friction * (c->t.m[0][0] + c->t.m[1][1]));
    int state = finder ? gsl_root_fsolver_set(finder, &f, least / 2, 2 * most) : GSL_ENOMEM;
    if (state == GSL_SUCCESS)
        state = GSL_CONTINUE;
    for (int i = 0; i < TRIES && state == GSL_CONTINUE; i++) {
        state = gsl_root_fsolver_iterate(finder);
        if (state == GSL_SUCCESS)
            state = gsl_root_test_interval(gsl_root_fsolver_x_lower(finder),
                                           gsl_root_fsolver_x_upper(finder), 1e-15, 1e-15);
    }
    if (state == GSL_SUCCESS) {
        line_at(c, gsl_root_fsolver_root(finder), d);
        const double size = hypot(d[0], d[1]);
        d[0] /= size;
        d[1] /= size;
    }
    if (finder)
        gsl_root_fsolver_free(finder);
    return state == GSL_SUCCESS;
}

/* From no slip to where they part. */
static caber_status finish(pair *c, stage *now, caber_message *message)
{
    const double *b = c->inverse;
    rates r = {.q = {-b[0], -b[1]}, .u = 1 - c->k[0] * b[0] - c->k[1] * b[1]};
    if (hypot(b[0], b[1]) > c->friction) {
        double d[2];
        if (!line_find(c, d))
            return message_set(message, CABER_NOT_CONVERGED, "%s", unfound);
        r = rates_along(c, d);
    }
    go_straight(c, now, &r, 0, HUGE_VAL);
    return CABER_OK;
}

/* From the first touch to where they part. */
static caber_status collide(pair *c, stage *now, caber_message *message)
{
    *now = (stage){.u = -1, .slip = {c->slip, 0}};
    if (c->slip > no_slip) {
        rates r;
        const caber_status status = slide_run(c, now, &r, message);
        if (status != CABER_OK)
            return status;
        const double speed = hypot(now->slip[0], now->slip[1]);
        if (!now->parted && speed >= no_slip)
            go_straight(c, now, &r, speed, r.growth < 0 ? -speed / r.growth : HUGE_VAL);
    }
    return now->parted ? CABER_OK : finish(c, now, message);
}

/* ------------------------------------------------------------------ the whole */

/* False unless the matrix is symmetric and positive definite. */
static bool inverse_of(const mat3 *inertia, mat3 *out)
{
    *out = *inertia;
    const double(*a)[3] = inertia->m;
    const double size = a[0][0] + a[1][1] + a[2][2];
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < i; j++)
            if (!(fabs(a[i][j] - a[j][i]) <= 1e-9 * size))
                return false;
    gsl_matrix_view view = gsl_matrix_view_array(&out->m[0][0], 3, 3);
    return gsl_linalg_cholesky_decomp1(&view.matrix) == GSL_SUCCESS &&
           gsl_linalg_cholesky_invert(&view.matrix) == GSL_SUCCESS;
}

/* The place, the axes there, and what turns an impulse into speed. */
typedef struct meeting {
    vec3 axis[3]; /* n, t1 along the first slip, t2 */
    vec3 point;
    mat3 inverse; /* of the head's inertia */
    double slip;  /* m/s along t1 */
    double closing;
} meeting;

/* K x */
static vec3 speed_of(const meeting *at, const impact_head *head, const impact_ball *ball, vec3 x)
{
    const vec3 n = at->axis[0];
    const vec3 turned = mat3_apply(&at->inverse, vec3_cross(at->point, x));
    const vec3 across = vec3_axpy(-vec3_dot(n, x), n, x);
    const vec3 v = vec3_axpy(1 / ball->mass + 1 / head->mass, x, vec3_cross(turned, at->point));
    return vec3_axpy(ball->radius * ball->radius / ball->inertia, across, v);
}

static vec3 any_across(vec3 n)
{
    const vec3 a = fabs(n.x) < 0.6 ? vec3_make(1, 0, 0) : vec3_make(0, 1, 0);
    const vec3 b = vec3_cross(n, a);
    return vec3_scale(1 / vec3_norm(b), b);
}

static caber_status meet(const impact_head *head, const impact_face *face, caber_place place,
                         meeting *at, caber_message *message)
{
    if (!on_arc(place.toe, face->bulge) || !on_arc(place.high, face->roll))
        return message_set(message, CABER_BAD_INPUT,
                           "the ball lies %.1f mm to the %s and %.1f mm %s from the middle of the "
                           "face, beyond the radius of its bulge or roll",
                           fabs(place.toe) * 1e3, place.toe < 0 ? "heel" : "toe",
                           fabs(place.high) * 1e3, place.high < 0 ? "down" : "up");
    if (!inverse_of(&head->inertia, &at->inverse))
        return message_set(message, CABER_BAD_INPUT,
                           "the head's inertia is that of no body: it must be symmetric and "
                           "positive definite");
    vec3 *n = &at->axis[0];
    impact_face_at(face, place, &at->point, n);
    const vec3 head_speed = vec3_add(head->velocity, vec3_cross(head->spin, at->point));
    at->closing = vec3_dot(*n, head_speed);
    if (!(at->closing > 0))
        return message_set(message, CABER_BAD_INPUT, "the face moves away from the ball");
    const vec3 slip = vec3_sub(vec3_scale(at->closing, *n), head_speed);
    at->slip = vec3_norm(slip);
    at->axis[1] =
        at->slip > no_slip * at->closing ? vec3_scale(1 / at->slip, slip) : any_across(*n);
    at->axis[2] = vec3_cross(*n, at->axis[1]);
    return CABER_OK;
}

/* Fills c; returns k_nn, 1/kg. */
static double pair_of(const meeting *at, const impact_head *head, const impact_ball *ball, pair *c)
{
    vec3 column[3];
    for (int i = 0; i < 3; i++)
        column[i] = speed_of(at, head, ball, at->axis[i]);
    const double nn = vec3_dot(at->axis[0], column[0]);
    for (int i = 0; i < 2; i++) {
        c->k[i] = vec3_dot(at->axis[i + 1], column[0]) / nn;
        for (int j = 0; j < 2; j++)
            c->t.m[i][j] = vec3_dot(at->axis[i + 1], column[j + 1]) / nn;
    }
    across_inverse(&c->t, c->k[0], c->k[1], c->inverse);
    c->slip = at->slip / at->closing;
    return nn;
}

static void result_of(const meeting *at, double nn, const impact_head *head,
                      const impact_ball *ball, const stage *now, impact_result *out)
{
    const double unit = at->closing / nn, work = at->closing * unit;
    const vec3 n = at->axis[0];
    vec3 p = vec3_scale(now->p * unit, n);
    p = vec3_axpy(now->q[0] * unit, at->axis[1], p);
    p = vec3_axpy(now->q[1] * unit, at->axis[2], p);
    out->point = at->point;
    out->normal = n;
    out->impulse = p;
    out->ball_velocity = vec3_scale(1 / ball->mass, p);
    out->ball_spin = vec3_scale(-ball->radius / ball->inertia, vec3_cross(n, p));
    out->head_velocity = vec3_axpy(-1 / head->mass, p, head->velocity);
    out->head_spin = vec3_sub(head->spin, mat3_apply(&at->inverse, vec3_cross(at->point, p)));
    out->sliding = now->slip[0] != 0 || now->slip[1] != 0;
    out->compressed = now->compressed * work;
    out->rubbed = now->rubbed * work;
    /* The impulse works by the mean of the velocities before and after (Kelvin). */
    const vec3 before = vec3_axpy(at->slip, at->axis[1], vec3_scale(-at->closing, n));
    const vec3 mean = vec3_axpy(0.5, speed_of(at, head, ball, p), before);
    out->lost = -vec3_dot(mean, p);
}

static pthread_once_t quiet = PTHREAD_ONCE_INIT;

/* GSL's own handler would abort. */
static void make_quiet(void)
{
    gsl_set_error_handler_off();
}

caber_status impact_run(const impact_head *head, const impact_face *face, caber_place place,
                        const impact_ball *ball, const impact_contact *contact, impact_result *out,
                        caber_message *message)
{
    pthread_once(&quiet, make_quiet);
    meeting at;
    caber_status status = meet(head, face, place, &at, message);
    if (status != CABER_OK)
        return status;
    const double e = contact->restitution - contact->loss * (at.closing - contact->speed);
    if (!(e >= 0 && e <= 1))
        return message_set(message, CABER_BAD_INPUT,
                           "the restitution at a closing speed of %.1f m/s would be %.3f; it must "
                           "lie from 0 to 1",
                           at.closing, e);
    pair c = {.friction = contact->friction, .e2 = e * e};
    const double nn = pair_of(&at, head, ball, &c);
    stage now;
    status = collide(&c, &now, message);
    if (status != CABER_OK)
        return status;
    out->closing = at.closing;
    out->restitution = e;
    result_of(&at, nn, head, ball, &now, out);
    return message_clear(message);
}
