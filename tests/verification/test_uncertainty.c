/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What the errors of a profile make of each figure (caber_uncertainty_run, caber_bench_uncertainty_run):
 * against closed forms on the bench, against linear propagation by central differences for every output
 * of two swings, and against the sensitivity of the whole shaft. The errors here are invented.
 *
 * The draws' own random numbers are known (base/random.h), so a standard deviation over the draws is
 * held against that of the same draws through the closed form or the gradient: sampling cancels, and
 * what is left is the program's. How near the draws come to the distribution they are drawn from, with
 * sampling and all, is a row of its own. */
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>

#include "base/random.h"
#include "record.h"
#include "setups.h"

enum { DRAWS = 200, SEED = 1, CURVES = 3 };
static const caber_uncertainty_settings how = {.draws = DRAWS, .seed = SEED, .threads = 0};

/* ------------------------------------------------------------------ errors */

static double *errors_make(caber_setup *s, size_t count)
{
    free(s->shaft.errors.share);
    s->shaft.errors.count = count;
    s->shaft.errors.share = setups_array(count * s->shaft.station_count * CURVES, sizeof(double));
    return s->shaft.errors.share;
}

/* One component: the whole shaft's EI, GJ or mass. */
static void errors_global(caber_setup *s, int curve, double size)
{
    double *share = errors_make(s, 1);
    for (size_t i = 0; i < s->shaft.station_count; i++)
        share[CURVES * i + (size_t)curve] = size;
}

enum { COMPONENTS = 7 };

/* Waves along the shaft: four of EI, two of GJ, one of all mass, some of them in two properties at
 * once, as one reading may be wrong about both. */
static void errors_waves(caber_setup *s, double size)
{
    const size_t n = s->shaft.station_count;
    double *share = errors_make(s, COMPONENTS);
    for (size_t k = 0; k < COMPONENTS; k++)
        for (size_t i = 0; i < n; i++) {
            const double x = s->shaft.stations[i].at / s->shaft.length;
            double *e = share + (k * n + i) * CURVES;
            if (k < 4)
                e[0] = size * cos((double)k * SETUPS_PI * x);
            if (k == 4 || k == 5)
                e[1] = size * (k == 4 ? 1 : x);
            if (k == 2 || k == 6)
                e[2] = size * 0.3;
        }
}

/* Multiplies the stations as a draw of `z` times component k does. */
static void errors_apply(caber_setup *s, size_t k, double z)
{
    const size_t n = s->shaft.station_count;
    for (size_t i = 0; i < n; i++) {
        const double *e = s->shaft.errors.share + (k * n + i) * CURVES;
        caber_station *station = &s->shaft.stations[i];
        station->ei *= exp(z * e[0]);
        station->ei_2 *= exp(z * e[0]);
        station->gj *= exp(z * e[1]);
        station->mass *= exp(z * e[2]);
    }
}

/* ------------------------------------------------------------------ the bench: closed forms */

typedef struct sample {
    double sd, mean, low, high;
} sample;

/* Of base exp(power z_i), the z_i those of the draws. */
static sample sample_exponential(double base, double power)
{
    double x[DRAWS];
    for (uint64_t i = 0; i < DRAWS; i++)
        x[i] = base * exp(power * random_normal(SEED, i, 0));
    gsl_sort(x, 1, DRAWS);
    return (sample){.sd = gsl_stats_sd(x, 1, DRAWS),
                    .mean = gsl_stats_mean(x, 1, DRAWS),
                    .low = gsl_stats_quantile_from_sorted_data(x, 1, DRAWS, 0.025),
                    .high = gsl_stats_quantile_from_sorted_data(x, 1, DRAWS, 0.975)};
}

static double bench_number(const caber_bench *b, size_t member)
{
    double value;
    memcpy(&value, (const char *)b + member, sizeof value);
    return value;
}

/* Some 2,000 swings at fine tolerances, and as many benches; the sanitisers' builds run through the same in
 * unit/test_uncertainty.c. */
static const bool sanitised = CHECK_SANITISED;

/* The bare shaft on a bench is linear: deflection and slope go as 1/EI, twist as 1/GJ, the frequency
 * of a clamped shaft without a tip mass as the root of EI, and the shaft's mass as its mass. */
static void bench_powers(void **state)
{
    (void)state;
    if (sanitised)
        return;
    static const struct {
        int curve;
        double power; /* of exp(size z) */
        size_t member;
        const char *label, *unit;
        double factor, rel;
    } rows[] = {
        {0, -1, offsetof(caber_bench, tip_deflection), "tip deflection, EI", "mm", 1e3, 1e-9},
        {0, -1, offsetof(caber_bench, tip_slope), "tip slope, EI", "deg", CABER_DEG, 1e-9},
        {0, -1, offsetof(caber_bench, span_deflection), "span deflection, EI", "mm", 1e3, 1e-9},
        {0, 1, offsetof(caber_bench, span_ei), "EI from a span, EI", "N m2", 1, 1e-9},
        /* 205 g on the tip and the shaft's own mass stay as they are. */
        {0, 0.5, offsetof(caber_bench, frequency), "frequency, EI", "cpm", 60, 1e-6},
        {1, -1, offsetof(caber_bench, twist), "twist, GJ", "deg", CABER_DEG, 1e-9},
        {2, 1, offsetof(caber_bench, shaft_mass), "mass of the shaft, mass", "g", 1e3, 1e-9},
    };
    const record_source exact = {RECORD_EXACT,
                                 "the power law of a linear beam, at the same random numbers"};
    const double size = 0.03;
    const caber_jig jig = caber_jig_default();
    caber_bench_uncertainty u[CURVES];
    caber_setup *s = setups_read("neutral-smooth");
    for (size_t i = 0; i < s->shaft.station_count; i++) { /* two principal EI, askew */
        s->shaft.stations[i].ei_2 = 0.95 * s->shaft.stations[i].ei;
        s->shaft.stations[i].ei_angle = 0.4;
    }
    for (int c = 0; c < CURVES; c++) {
        caber_message message;
        errors_global(s, c, size);
        setups_fine(caber_bench_uncertainty_run(s, &jig, &how, &u[c], &message), &message);
        assert_int_equal(u[c].draws.failed, 0);
    }
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const caber_bench_uncertainty *f = &u[rows[i].curve];
        const sample want =
            sample_exponential(bench_number(&f->bench, rows[i].member), rows[i].power * size);
        const double k = rows[i].factor, rel = rows[i].rel;
        char problem[96];
        snprintf(problem, sizeof problem, "standard deviation of %s known to 3 %%", rows[i].label);
        verify(problem, exact, rows[i].unit, k * bench_number(&f->sd, rows[i].member), k * want.sd,
               rel, 0);
        assert_close(bench_number(&f->mean, rows[i].member), want.mean, rel, 0);
        assert_close(bench_number(&f->low, rows[i].member), want.low, rel, 0);
        assert_close(bench_number(&f->high, rows[i].member), want.high, rel, 0);
    }
    /* What has nothing to do with it stays. */
    assert_true(u[0].sd.twist == 0 && u[0].sd.club_mass == 0 && u[1].sd.tip_deflection == 0);
    assert_true(u[2].sd.twist == 0 && u[2].sd.frequency > 0 && u[0].sd.face_length == 0);
    caber_setup_free(s);
}

/* The distribution itself: the deflection is lognormal. 2 sampling errors of what is compared. */
static void bench_lognormal(void **state)
{
    (void)state;
    if (sanitised)
        return;
    const double sigma = 0.05;
    const caber_jig jig = caber_jig_default();
    caber_uncertainty_settings many = how;
    many.draws = 1000;
    caber_bench_uncertainty u;
    caber_message message;
    caber_setup *s = setups_read("neutral-smooth");
    errors_global(s, 0, sigma);
    setups_fine(caber_bench_uncertainty_run(s, &jig, &many, &u, &message), &message);
    const double n = many.draws, base = 1e3 * u.bench.tip_deflection;
    const double mean = base * exp(sigma * sigma / 2);
    const double sd = mean * sqrt(expm1(sigma * sigma));
    const record_source law = {RECORD_EXACT,
                               "lognormal: mean d e^(s^2/2), deviation of it sqrt(e^(s^2) - 1)"};
    verify("mean of 1000 deflections, EI known to 5 %", law, "mm", 1e3 * u.mean.tip_deflection,
           mean, 0, 2 * sd / sqrt(n));
    verify("their standard deviation", law, "mm", 1e3 * u.sd.tip_deflection, sd, 2 / sqrt(2 * n),
           0);
    /* The density at the 2.5 percentile of a normal is 0.0584: its error is sqrt(0.025 0.975/n)/0.0584. */
    const double tail = sqrt(0.025 * 0.975 / n) / 0.0584 * sigma;
    verify("what 2.5 % of them are below", law, "mm", 1e3 * u.low.tip_deflection,
           base * exp(-1.959964 * sigma), 2 * tail, 0);
    verify("what 2.5 % of them are above", law, "mm", 1e3 * u.high.tip_deflection,
           base * exp(1.959964 * sigma), 2 * tail, 0);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ the swing: linear propagation */

static const char percent[] = "of what is allowed, 2 % and 1/500 of the printed place";
/* Of each component: with a hundredth, what rings in the shaft at impact shows that it is not linear. */
static const double small = 0.003;

static void settle(caber_setup *s)
{
    s->settings.tolerance = 1e-10;
    s->settings.elements = 40; /* the same mesh for all */
}

/* d output / d z_k at 0 for every component, by central differences of two widths, extrapolated. */
static void gradient(caber_setup *s, const caber_field *f, size_t count, double *out)
{
    const size_t n = s->shaft.station_count;
    caber_station *keep = setups_array(n, sizeof *keep);
    memcpy(keep, s->shaft.stations, n * sizeof *keep);
    for (size_t k = 0; k < s->shaft.errors.count; k++) {
        static const double z[4] = {2, -2, 1, -1};
        caber_impact at[4];
        for (int i = 0; i < 4; i++) {
            errors_apply(s, k, z[i]);
            at[i] = setups_swing(s, NULL).bent;
            memcpy(s->shaft.stations, keep, n * sizeof *keep);
        }
        for (size_t i = 0; i < count; i++) {
            double v[4];
            for (int j = 0; j < 4; j++)
                v[j] = caber_impact_value(&at[j], f + i);
            out[k * count + i] = (4 * (v[2] - v[3]) / 2 - (v[0] - v[1]) / 4) / 3;
        }
    }
    free(keep);
}

/* Standard deviation over the draws of sum_k g_k z_k; *whole: of the distribution. */
static double linear_sd(const double *g, size_t stride, size_t components, double *whole)
{
    double x[DRAWS] = {0}, squares = 0;
    for (size_t k = 0; k < components; k++) {
        squares += g[k * stride] * g[k * stride];
        for (uint64_t i = 0; i < DRAWS; i++)
            x[i] += g[k * stride] * random_normal(SEED, i, k);
    }
    *whole = sqrt(squares);
    return gsl_stats_sd(x, 1, DRAWS);
}

/* The integrator's own residual has no spread; and the largest moment is so flat a peak that its instant
 * is known to a step of the integrator only, which is more than errors this small move it by. */
static bool counts(const caber_field *f)
{
    return f->offset != offsetof(caber_impact, energy_residual) &&
           f->offset != offsetof(caber_impact, peak_handle_moment_time);
}

/* How far two standard deviations of an output are apart, of what is allowed: a share of the second,
 * and what the integrator leaves open, 1/500 of the printed place, or 1/50 where a peak is looked for
 * from step to step. */
static double apart(const caber_field *f, double got, double want, double share)
{
    const bool stepwise = f->offset == offsetof(caber_impact, peak_handle_moment) ||
                          f->offset == offsetof(caber_impact, peak_load_rate);
    const double open = (stepwise ? 0.02 : 0.002) * pow(10, -f->decimals);
    return fabs(got - want) / (share * want + open);
}

static caber_uncertainty *run(const caber_setup *s)
{
    caber_uncertainty *u = setups_array(1, sizeof *u);
    caber_message message;
    setups_fine(caber_uncertainty_run(s, &how, u, &message), &message);
    assert_int_equal(u->draws.failed, 0);
    return u;
}

/* All outputs of a setup, with small errors: the draws against the gradient. */
static caber_uncertainty *propagation(caber_setup *s, const char *words)
{
    settle(s);
    errors_waves(s, small);
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    double *g = setups_array(COMPONENTS * count, sizeof *g);
    gradient(s, f, count, g);
    caber_uncertainty *u = run(s);
    double same = 0, sampled = 0;
    for (size_t i = 0; i < count; i++) {
        double whole;
        if (!counts(f + i))
            continue;
        const double linear = linear_sd(g + i, count, COMPONENTS, &whole);
        const double got = caber_impact_value(&u->bent.sd, f + i);
        record_most(&same, apart(f + i, got, linear, 0.02));
        record_most(&sampled, apart(f + i, got, whole, 3 / sqrt(2 * DRAWS)));
    }
    char problem[112];
    const record_source chain = {RECORD_LAW,
                                 "gradient by central differences, same random numbers"};
    snprintf(problem, sizeof problem, "standard deviations of all outputs over 200 draws, %s",
             words);
    verify_within(problem, chain, percent, same, 1);
    const record_source sum = {RECORD_LAW, "root of the sum of squared gradients"};
    verify_within(problem, sum, "of 3 sampling errors, 15 %", sampled, 1);
    free(g);
    return u;
}

/* Twice the errors, twice the spread, to first order: from half of the small ones to all of them. */
static void doubling(caber_setup *s, const caber_uncertainty *twice)
{
    errors_waves(s, small / 2);
    caber_uncertainty *once = run(s);
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    double most = 0;
    for (size_t i = 0; i < count; i++)
        if (counts(f + i))
            record_most(&most, apart(f + i, caber_impact_value(&twice->bent.sd, f + i),
                                     2 * caber_impact_value(&once->bent.sd, f + i), 0.02));
    const record_source law = {RECORD_LAW, "twice the errors, to first order twice the deviations"};
    verify_within("standard deviations of all outputs, smooth transition, errors doubled", law,
                  percent, most, 1);
    free(once);
}

static void propagation_smooth(void **state)
{
    (void)state;
    if (sanitised)
        return;
    caber_setup *s = setups_read("neutral-smooth");
    caber_uncertainty *u = propagation(s, "smooth transition");
    doubling(s, u);
    free(u);
    caber_setup_free(s);
}

static void propagation_quick(void **state)
{
    (void)state;
    if (sanitised)
        return;
    caber_setup *s = setups_read("soft-tip-quick");
    free(propagation(s, "quick transition"));
    caber_setup_free(s);
}

/* One component, the whole shaft's EI (GJ): what caber_sensitivity_run says of the whole shaft, which is
 * 0.1 of the derivative, from steps of its own. */
static void whole_shaft(void **state)
{
    (void)state;
    if (sanitised)
        return;
    static const char *const names[] = {"EI", "GJ"};
    const sample z = sample_exponential(1, 1e-7); /* 1 + 1e-7 z */
    caber_setup *s = setups_read("soft-tip-quick");
    settle(s);
    caber_sensitivity *found = NULL;
    caber_message message;
    setups_fine(caber_sensitivity_run(s, CABER_PARTS_LEAST, NULL, &found, &message), &message);
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    for (int c = 0; c < 2; c++) {
        const caber_impact *first = c ? &found->whole.gj.first : &found->whole.ei.first;
        errors_global(s, c, small);
        caber_uncertainty *u = run(s);
        double most = 0;
        for (size_t i = 0; i < count; i++)
            if (counts(f + i))
                record_most(
                    &most, apart(f + i, caber_impact_value(&u->bent.sd, f + i),
                                 fabs(caber_impact_value(first, f + i)) / 0.1 * small * z.sd / 1e-7,
                                 0.02));
        char problem[112];
        snprintf(problem, sizeof problem,
                 "standard deviations of all outputs, quick transition, all %s known to 0.3 %%",
                 names[c]);
        const record_source other = {RECORD_LAW, "the sensitivity of the whole shaft, times that"};
        verify_within(problem, other, percent, most, 1);
        free(u);
    }
    caber_sensitivity_free(found);
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bench_powers), cmocka_unit_test(bench_lognormal),
        cmocka_unit_test(propagation_smooth), cmocka_unit_test(propagation_quick),
        cmocka_unit_test(whole_shaft)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
