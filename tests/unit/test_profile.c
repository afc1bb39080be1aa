/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The measured profile as functions of the place, and its sections. */
#include "check.h"

#include "shaft/profile.h"

static const double pi = 3.14159265358979323846;

/* An uneven, rising profile with a plateau and a steep step. */
static caber_station readings[] = {
    {.at = 0, .ei = 18, .gj = 14, .mass = 0.041, .diameter = 8.6e-3},
    {.at = 0.10, .ei = 20, .gj = 14.5, .mass = 0.043, .diameter = 9.0e-3},
    {.at = 0.16, .ei = 20, .gj = 15, .mass = 0.044, .diameter = 9.2e-3},
    {.at = 0.45, .ei = 34, .gj = 22, .mass = 0.052, .diameter = 11.0e-3},
    {.at = 0.50, .ei = 52, .gj = 30, .mass = 0.060, .diameter = 11.3e-3},
    {.at = 1.10, .ei = 74, .gj = 46, .mass = 0.066, .diameter = 15.0e-3},
};
enum { COUNT = sizeof readings / sizeof readings[0] };

static profile *made(caber_station *stations, size_t count, const caber_sections *sections)
{
    const caber_shaft shaft = {.name = "test",
                               .length = 1.1,
                               .density = 1600,
                               .station_count = count,
                               .stations = stations};
    profile *p = NULL;
    caber_message message = {"x"};
    assert_int_equal(profile_create(&shaft, sections, &p, &message), CABER_OK);
    assert_string_equal(message.text, "");
    return p;
}

static void exact_at_the_stations(void **state)
{
    (void)state;
    profile *p = made(readings, COUNT, NULL);
    for (size_t i = 0; i < COUNT; i++) {
        const caber_station *s = &readings[i];
        const profile_point q = profile_at(p, s->at);
        assert_close(q.ei, s->ei, 1e-15, 0);
        assert_close(q.ei_2, s->ei, 1e-15, 0); /* not given: the same */
        assert_close(q.gj, s->gj, 1e-15, 0);
        assert_close(q.mass, s->mass, 1e-15, 0);
        assert_close(q.radius, s->diameter / 2, 1e-15, 0);
        assert_close(q.angle, 0, 0, 0);
        assert_close(q.polar, profile_tube_polar(s->mass, s->diameter / 2, 1600), 1e-14, 0);
    }
    profile_free(p);
}

/* Between two readings every value stays between them and never turns back; the slope has no
 * jump at a reading (Steffen's interpolant is continuously differentiable). */
static void monotone_between_stations(void **state)
{
    (void)state;
    profile *p = made(readings, COUNT, NULL);
    for (size_t i = 0; i + 1 < COUNT; i++) {
        const double a = readings[i].at, h = readings[i + 1].at - a;
        profile_point last = profile_at(p, a);
        for (int k = 1; k <= 200; k++) {
            const profile_point q = profile_at(p, k == 200 ? a + h : a + h * k / 200);
            /* one unit of rounding of the largest value */
            assert_true(q.ei >= last.ei - 2e-14 && q.ei <= readings[i + 1].ei + 2e-14);
            assert_true(q.gj >= last.gj - 2e-14 && q.gj <= readings[i + 1].gj + 2e-14);
            assert_true(q.mass >= last.mass - 2e-17 && q.radius >= last.radius - 2e-18);
            last = q;
        }
        if (i > 0) {
            const double d = 1e-6;
            const double at = profile_at(p, a).ei, low = (at - profile_at(p, a - d).ei) / d;
            const double high = (profile_at(p, a + d).ei - at) / d;
            /* secants differ by d times the second derivative, at most 2e4 */
            assert_close(high, low, 0, 0.05);
        }
    }
    profile_free(p);
}

static void two_stations_are_a_line(void **state)
{
    (void)state;
    caber_station two[2] = {readings[0], readings[COUNT - 1]};
    two[0].ei_angle = -0.2;
    two[1].ei_angle = 0.5;
    two[0].ei_2 = 17;
    two[1].ei_2 = 70;
    profile *p = made(two, 2, NULL);
    for (double x = 0; x < 1.01; x += 0.1) {
        const profile_point q = profile_at(p, 1.1 * x);
        assert_close(q.ei, 18 + 56 * fmin(x, 1), 1e-14, 0);
        assert_close(q.ei_2, 17 + 53 * fmin(x, 1), 1e-14, 0);
        assert_close(q.angle, -0.2 + 0.7 * fmin(x, 1), 0, 1e-15);
        assert_close(q.mass, 0.041 + 0.025 * fmin(x, 1), 1e-14, 0);
    }
    profile_free(p);
}

/* Outside the stations (rounding of a trim) the end values stand. */
static void constant_outside_the_stations(void **state)
{
    (void)state;
    profile *p = made(readings, COUNT, NULL);
    assert_close(profile_at(p, -1e-9).ei, 18, 1e-15, 0);
    assert_close(profile_at(p, 1.1 + 1e-9).ei, 74, 1e-15, 0);
    profile_free(p);
}

/* A section scales from its `from` on and up to, not at, its `to`; two that overlap multiply. */
static void sections_scale_inside_only(void **state)
{
    (void)state;
    caber_section items[] = {{0.2, 0.4, 1.1, 0.8, 1.5}, {0.3, 0.6, 0.5, 1, 2}};
    const caber_sections sections = {2, items};
    profile *plain = made(readings, COUNT, NULL), *p = made(readings, COUNT, &sections);
    items[0].ei_scale = 99; /* the profile has its own copy */
    static const struct {
        double at, ei, gj, mass;
    } rows[] = {
        {0, 1, 1, 1},        {0.199999, 1, 1, 1},      {0.2, 1.1, 0.8, 1.5}, {0.25, 1.1, 0.8, 1.5},
        {0.3, 0.55, 0.8, 3}, {0.399999, 0.55, 0.8, 3}, {0.4, 0.5, 1, 2},     {0.599999, 0.5, 1, 2},
        {0.6, 1, 1, 1},      {1.1, 1, 1, 1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const profile_point a = profile_at(plain, rows[i].at), b = profile_at(p, rows[i].at);
        assert_close(b.ei, rows[i].ei * a.ei, 1e-15, 0);
        assert_close(b.ei_2, rows[i].ei * a.ei_2, 1e-15, 0);
        assert_close(b.gj, rows[i].gj * a.gj, 1e-15, 0);
        assert_close(b.mass, rows[i].mass * a.mass, 1e-15, 0);
        /* more mass in the same wall: the radius of gyration stays */
        assert_close(b.polar / b.mass, a.polar / a.mass, 1e-14, 0);
        assert_close(b.radius, a.radius, 0, 0);
    }
    const double *places;
    const size_t count = profile_places(p, &places);
    assert_int_equal(count, COUNT + 4);
    for (size_t i = 1; i < count; i++)
        assert_true(places[i] >= places[i - 1]);
    assert_close(places[0], 0, 0, 0);
    assert_close(places[3], 0.2, 0, 0);
    assert_close(places[count - 1], 1.1, 0, 0);
    profile_free(p);
    profile_free(plain);
}

/* The tube with these radii: mass pi rho (r^2 - ri^2), polar pi rho (r^4 - ri^4)/2. */
static void polar_inertia_of_a_tube(void **state)
{
    (void)state;
    const double rho = 1600, r = 6e-3;
    for (double ri = 0; ri < r; ri += 1e-3) {
        const double mass = pi * rho * (r * r - ri * ri);
        const double polar = pi * rho * (r * r * r * r - ri * ri * ri * ri) / 2;
        assert_close(profile_tube_polar(mass, r, rho), polar, 1e-14, 0);
    }
    /* a hoop, all mass at r; a full bar, m r^2/2 */
    assert_close(profile_tube_polar(0.05, r, (double)INFINITY), 0.05 * r * r, 1e-15, 0);
    assert_close(profile_tube_polar(pi * rho * r * r, r, rho), pi * rho * r * r * r * r / 2, 1e-14,
                 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exact_at_the_stations),
        cmocka_unit_test(monotone_between_stations),
        cmocka_unit_test(two_stations_are_a_line),
        cmocka_unit_test(constant_outside_the_stations),
        cmocka_unit_test(sections_scale_inside_only),
        cmocka_unit_test(polar_inertia_of_a_tube),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
