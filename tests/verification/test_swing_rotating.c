/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Rotating cantilevers: the full equations of the swing, linearised about steady rotation.
 *
 * Published (coincide digit for digit with the values as remembered; "from memory"): A. D.
 * Wright, C. E. Smith, R. W. Thresher, J. L. C. Wang 1982, J. Appl. Mech. 49:197; D. H. Hodges,
 * M. J. Rutkowski 1981, AIAA J. 19:1459. Frequencies and speed in units of sqrt(EI/m)/L^2 at the
 * root; the beams here have that unit equal to 1 rad/s. Flap is out of the plane of rotation,
 * lag within it: lag^2 = flap^2 - Omega^2 (exact). */
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_linalg.h>

#include "record.h"
#include "setups.h"
#include "swing/dynamics.h"

enum { WANTED = 3, MODES = 40, STATIONS = 120 };
static const double length = 2, mass = 0.05, unit_ei = 0.05 * 16; /* EI/(m L^4) = 1 */

static double speed; /* rad/s, of `turn` */
static double turn(double t)
{
    return speed * t;
}

typedef struct spectrum {
    double flap[WANTED], lag[WANTED]; /* rad/s */
    double rest;                      /* largest generalised force at q = 0, by omega_1^2 */
} spectrum;

/* The equations at q, qd (both zero but for one entry): F. */
static void force_at(const caber_model *m, caber_work *w, const double *q, const double *qd,
                     double *f)
{
    dynamics_assemble(m, w, 1.5, q, qd); /* inside the table of the drive */
    memcpy(f, w->rhs, (size_t)m->n * sizeof(double));
}

/* Column j of -dF/dx by central differences, x = q or qd. The step is 1e-5 of a soft mode's size,
 * so truncation (h^2) and rounding (1e-16/h) are both near 1e-10. */
static void slope_column(const caber_model *m, caber_work *w, int j, bool rate, double *column)
{
    const int n = m->n;
    double *x = setups_array(4 * (size_t)n, sizeof(double));
    double *zero = x + n, *up = zero + n, *down = up + n;
    const double h = 1e-5 * (rate ? 1 : sqrt(m->stiffness[0] / m->stiffness[j]));
    x[j] = h;
    force_at(m, w, rate ? zero : x, rate ? x : zero, up);
    x[j] = -h;
    force_at(m, w, rate ? zero : x, rate ? x : zero, down);
    for (int i = 0; i < n; i++)
        column[i] = -(up[i] - down[i]) / (2 * h);
    free(x);
}

/* A = [0 1; -M^-1 K, -M^-1 G]; M from the assembled upper triangle. */
static gsl_matrix *first_order(const caber_model *m, caber_work *w)
{
    const size_t n = (size_t)m->n;
    gsl_matrix *a = gsl_matrix_calloc(2 * n, 2 * n), *inertia = gsl_matrix_alloc(n, n);
    double *column = setups_array(2 * n, sizeof(double)), *zero = column + n;
    dynamics_assemble(m, w, 1.5, zero, zero);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++)
            gsl_matrix_set(inertia, i, j, w->matrix[j * (size_t)w->pitch + i]);
    assert_int_equal(gsl_linalg_cholesky_decomp1(inertia), 0);
    for (size_t j = 0; j < 2 * n; j++) {
        slope_column(m, w, (int)(j % n), j >= n, column);
        gsl_vector_view x = gsl_vector_view_array(column, n);
        gsl_linalg_cholesky_svx(inertia, &x.vector);
        for (size_t i = 0; i < n; i++)
            gsl_matrix_set(a, n + i, j, -column[i]);
        if (j >= n)
            gsl_matrix_set(a, j - n, j, 1);
    }
    free(column);
    gsl_matrix_free(inertia);
    return a;
}

typedef struct tone {
    double frequency; /* rad/s */
    bool flap;
} tone;

static int compare_tones(const void *a, const void *b)
{
    const double x = ((const tone *)a)->frequency, y = ((const tone *)b)->frequency;
    return (x > y) - (x < y);
}

/* Whether the tip of mode k moves more along the normal than across the shaft in the plane. */
static bool is_flap(const caber_model *m, const caber_work *w, const gsl_matrix_complex *vector,
                    size_t k)
{
    const size_t s = (size_t)m->rod->stride;
    const double *move = w->rod.move + (size_t)m->rod->stations * 3 * s;
    const double sg = sin(m->player.load.roll.top), cg = cos(m->player.load.roll.top);
    double out_re = 0, out_im = 0, in_re = 0, in_im = 0;
    for (size_t j = 0; j < (size_t)m->n; j++) {
        const gsl_complex x = gsl_matrix_complex_get(vector, j, k);
        const double normal = sg * move[s + j] + cg * move[2 * s + j];
        const double across = cg * move[s + j] - sg * move[2 * s + j];
        out_re += normal * GSL_REAL(x);
        out_im += normal * GSL_IMAG(x);
        in_re += across * GSL_REAL(x);
        in_im += across * GSL_IMAG(x);
    }
    return hypot(out_re, out_im) > hypot(in_re, in_im);
}

/* The lowest of each kind, from tones in ascending order. Two equal frequencies (a beam at rest)
 * are one of each, whatever mixture their eigenvectors are. */
static void pick(tone *tones, size_t count, spectrum *out)
{
    size_t flaps = 0, lags = 0;
    for (size_t k = 0; k < count; k++) {
        if (k + 1 < count &&
            tones[k + 1].frequency - tones[k].frequency < 1e-7 * tones[k].frequency) {
            tones[k].flap = true;
            tones[k + 1].flap = false;
        }
        if (tones[k].flap && flaps < WANTED)
            out->flap[flaps++] = tones[k].frequency;
        if (!tones[k].flap && lags < WANTED)
            out->lag[lags++] = tones[k].frequency;
    }
    assert_true(flaps == WANTED && lags == WANTED);
}

static void sort(const caber_model *m, const caber_work *w, gsl_matrix *a, spectrum *out)
{
    const size_t n = (size_t)m->n;
    gsl_vector_complex *value = gsl_vector_complex_alloc(2 * n);
    gsl_matrix_complex *vector = gsl_matrix_complex_alloc(2 * n, 2 * n);
    gsl_eigen_nonsymmv_workspace *space = gsl_eigen_nonsymmv_alloc(2 * n);
    tone *tones = setups_array(2 * n, sizeof *tones);
    size_t count = 0;
    gsl_eigen_nonsymmv_params(1, space);
    assert_int_equal(gsl_eigen_nonsymmv(a, value, vector, space), 0);
    for (size_t k = 0; k < 2 * n; k++) {
        const gsl_complex l = gsl_vector_complex_get(value, k);
        if (!(GSL_IMAG(l) > 0))
            continue;
        assert_close(GSL_REAL(l) / GSL_IMAG(l), 0, 0, 1e-6); /* nothing damps */
        tones[count++] = (tone){GSL_IMAG(l), is_flap(m, w, vector, k)};
    }
    qsort(tones, count, sizeof *tones, compare_tones);
    pick(tones, count, out);
    free(tones);
    gsl_eigen_nonsymmv_free(space);
    gsl_matrix_complex_free(vector);
    gsl_vector_complex_free(value);
}

static spectrum spectrum_of(const setups_beam *plain, double eta, bool hub, int kept)
{
    caber_setup *setup = setups_beam_make(plain);
    caber_message message;
    caber_model *m = NULL;
    caber_work *w = NULL;
    speed = eta;
    if (hub) { /* the hands go round at one length of the beam from the hub */
        setup->player.arm_length = length;
        setup->player.load.hub.drive = CABER_MOTION;
        setup->player.load.grip.drive = CABER_LOCKED;
        setups_table(&setup->player.load.hub.table, 4, 3, turn);
    } else {
        setups_table(&setup->player.load.grip.table, 4, 3, turn);
    }
    setup->settings.modes = kept;
    setup->settings.stations = STATIONS;
    setup->settings.elements = 60;
    setups_fine(caber_model_create(setup, &m, &message), &message);
    setups_fine(caber_work_create(m, &w, &message), &message);
    assert_int_equal(m->unknowns, m->n); /* every joint is driven or locked */
    spectrum out = {.rest = 0};
    gsl_matrix *a = first_order(m, w);
    dynamics_assemble(m, w, 1.5, w->zero, w->zero);
    for (int j = 0; j < m->n; j++)
        out.rest = fmax(out.rest, fabs(w->rhs[j]) / m->stiffness[0]);
    sort(m, w, a, &out);
    gsl_matrix_free(a);
    caber_work_free(w);
    caber_model_free(m);
    caber_setup_free(setup);
    return out;
}

static setups_beam uniform(void)
{
    return (setups_beam){.stations = 2, .length = length, .mass = mass, .ei = unit_ei, .gj = 50};
}

typedef struct row {
    const char *what;
    double eta, flap[WANTED], lag;
} row;

static const record_source wright = {
    RECORD_MEMORY,
    "A. D. Wright, C. E. Smith, R. W. Thresher, J. L. C. Wang 1982, J. Appl. Mech. 49:197; D. "
    "H. Hodges, M. J. Rutkowski 1981, AIAA J. 19:1459; recomputed in test_remembered.py. "
    "Frequencies and Omega in sqrt(EI/m)/L^2"};
static const record_source planes = {
    RECORD_EXACT, "lag^2 = flap^2 - Omega^2, whatever the beam that turns about its own root"};

static struct {
    double tones, planes; /* relative, of the table's and of lag^2 = flap^2 - Omega^2, so far */
} worst;

/* 1e-5: the tables have six to eight digits, 40 modes are converged to some 1e-6 (see
 * more_modes_converge), and the tube's own turning inertia counts 1e-7. */
static spectrum check_row(const setups_beam *plain, bool hub, const row *want)
{
    const spectrum got = spectrum_of(plain, want->eta, hub, MODES);
    double apart = 0;
    assert_close(got.rest, 0, 0, 1e-12); /* the straight beam is in equilibrium */
    for (int i = 0; i < WANTED; i++)
        record_most(&worst.tones, got.flap[i] / want->flap[i] - 1);
    if (want->lag > 0)
        record_most(&worst.tones, got.lag[0] / want->lag - 1);
    for (int i = 0; !hub && i < WANTED; i++)
        record_most(
            &apart,
            (got.lag[i] * got.lag[i] + want->eta * want->eta) / (got.flap[i] * got.flap[i]) - 1);
    assert_true(apart <= 2e-6);
    record_most(&worst.planes, apart);
    return got;
}

/* The first flap and lag with a row each on the page. */
static void verify_row(const setups_beam *plain, bool hub, const row *want)
{
    char text[128];
    const spectrum got = check_row(plain, hub, want);
    snprintf(text, sizeof text, "%s, Omega = %g: flap 1", want->what, want->eta);
    verify(text, wright, "1", got.flap[0], want->flap[0], 1e-5, 0);
    if (want->lag > 0) {
        snprintf(text, sizeof text, "%s, Omega = %g: lag 1", want->what, want->eta);
        verify(text, wright, "1", got.lag[0], want->lag, 1e-5, 0);
    }
}

/* Three flaps and the first lag, all that there are in the table; then begins anew. */
static void verify_all(const char *what)
{
    verify_within(what, wright, "1", worst.tones, 1e-5);
    worst.tones = 0;
}

/* Wright et al. 1982, uniform beam, no hub: flap 1-3, lag 1. */
static const row uniform_rows[] = {{"uniform", 0, {3.516015, 22.034492, 61.697214}, 3.516015},
                                   {"uniform", 1, {3.681647, 22.181011, 61.841763}, 3.543236},
                                   {"uniform", 5, {6.449545, 25.446080, 65.205041}, 4.073896},
                                   {"uniform", 10, {11.202328, 33.640366, 74.649295}, 5.048975},
                                   {"uniform", 12, {13.170150, 37.603112, 79.614478}, 5.427049}};

static void draw(const char *label, const double *x, const double *y, size_t count, bool points)
{
    const record_curve c = {
        .plot = "rotating-beam",
        .title =
            "Frequencies of a rotating uniform cantilever over the rate of rotation, both in units "
            "of sqrt(EI/m)/L^2: the swing's equations, linearised, and the published table as "
            "remembered and recomputed.",
        .x_label = "rate of rotation, $\\sqrt{EI/m}\\,/L^2$",
        .y_label = "frequency, $\\sqrt{EI/m}\\,/L^2$",
        .label = label,
        .count = count,
        .x = x,
        .y = y,
        .points = points};
    record_draw(&c);
}

/* Fewer modes than the checks have: 1e-4 is enough for the eye. */
static void draw_rotating(const setups_beam *plain)
{
    enum { SPEEDS = 13, KEPT = 16, ROWS = sizeof uniform_rows / sizeof uniform_rows[0] };
    static const char *const labels[] = {"flap 3", "flap 2", "flap 1", "lag 1"};
    double eta[SPEEDS], line[4][SPEEDS], at[4 * ROWS], point[4 * ROWS];
    for (int i = 0; i < SPEEDS; i++) {
        eta[i] = i;
        const spectrum got = spectrum_of(plain, eta[i], false, KEPT);
        for (int k = 0; k < 3; k++)
            line[k][i] = got.flap[2 - k];
        line[3][i] = got.lag[0];
    }
    for (int k = 0; k < 4; k++)
        draw(labels[k], eta, line[k], SPEEDS, false);
    for (int r = 0; r < ROWS; r++)
        for (int k = 0; k < 4; k++) {
            at[4 * r + k] = uniform_rows[r].eta;
            point[4 * r + k] = k < 3 ? uniform_rows[r].flap[k] : uniform_rows[r].lag;
        }
    draw("table", at, point, (size_t)4 * ROWS, true);
}

static void uniform_beam_stiffens(void **state)
{
    (void)state;
    const setups_beam plain = uniform();
    for (size_t i = 0; i < sizeof uniform_rows / sizeof uniform_rows[0]; i++)
        verify_row(&plain, false, &uniform_rows[i]);
    verify_all("flap 1 to 3 and lag 1 at these five speeds, relative");
    verify_within("lag^2 + Omega^2 by flap^2 of their three modes, less 1", planes, "1",
                  worst.planes, 2e-6);
    draw_rotating(&plain);
}

/* The same with the handle rolled by 90 deg: flap is now the lead direction. */
static void roll_changes_nothing(void **state)
{
    (void)state;
    setups_beam plain = uniform();
    plain.roll = SETUPS_PI / 2;
    check_row(&plain, false, &uniform_rows[3]);
    plain.roll = 0.7; /* flap and lag are both mixtures of lead and droop */
    check_row(&plain, false, &uniform_rows[2]);
    verify_all("the same with the handle rolled by 90 deg and 0.7 rad, relative");
}

/* Wright et al. 1982: hub radius equal to the length. */
static void hub_radius(void **state)
{
    (void)state;
    const setups_beam plain = uniform();
    const row want = {"root at L from the hub", 10, {16.606363, 44.368224, 89.156329}, 0};
    verify_row(&plain, true, &want);
    verify_all("its three flaps and, if given, lag 1, relative");
}

/* Wright et al. 1982: wedge with c = 0.5 (linear taper of the depth). */
static void wedge(void **state)
{
    (void)state;
    setups_beam plain = uniform();
    plain.stations = 241; /* the table is interpolated by cubics, not by (1 - x/2)^3 */
    plain.taper = 0.5;
    const row want = {"wedge, c = 0.5", 10, {11.501549, 30.182744, 60.56388}, 0};
    verify_row(&plain, false, &want);
    verify_all("its three flaps and, if given, lag 1, relative");
}

/* Tip mass equal to the beam's (exact equation; coincides). */
static void tip_mass(void **state)
{
    (void)state;
    setups_beam plain = uniform();
    plain.tip_mass = mass * length;
    const row want = {
        "tip mass equal to the beam's", 5, {5.521853, 26.041526, 63.522342}, 2.343258};
    verify_row(&plain, false, &want);
    verify_all("its three flaps and, if given, lag 1, relative");
}

/* The strains are those of the beam at rest, which the rotating one has not: more of them converge
 * to the table, from above (Rayleigh). */
static void more_modes_converge(void **state)
{
    (void)state;
    const setups_beam plain = uniform();
    const row *want = &uniform_rows[4];
    const int kept[] = {6, 12, 24, 40};
    double before = HUGE_VAL;
    for (size_t i = 0; i < 4; i++) {
        const spectrum got = spectrum_of(&plain, want->eta, false, kept[i]);
        const double error = got.flap[2] / want->flap[2] - 1;
        assert_true(error > 0 && error < before / 3);
        before = error;
    }
    assert_true(before < 2e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(uniform_beam_stiffens),
                                       cmocka_unit_test(roll_changes_nothing),
                                       cmocka_unit_test(hub_radius),
                                       cmocka_unit_test(wedge),
                                       cmocka_unit_test(tip_mass),
                                       cmocka_unit_test(more_modes_converge)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
