/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Density and viscosity of the air. */
#include "ball/air.h"
#include "check.h"

static double density_of(caber_air air)
{
    double density, viscosity;
    air_state(&air, &density, &viscosity);
    assert_true(density > 0 && viscosity > 0);
    return density;
}

static double viscosity_of(caber_air air)
{
    double density, viscosity;
    air_state(&air, &density, &viscosity);
    return viscosity;
}

/* ISO 2533:1975, from memory: 1.225 kg/m3 and 1.7894e-5 Pa s at sea level. */
static void standard_air(void **state)
{
    (void)state;
    assert_close(density_of(caber_air_default()), 1.225, 1e-6, 0);
    assert_close(viscosity_of(caber_air_default()), 1.7894e-5, 3e-5, 0);
}

/* A barometer on the course says more than the height. */
static void pressure_counts_before_altitude(void **state)
{
    (void)state;
    caber_air low = caber_air_default(), high = low;
    low.pressure = high.pressure = 95000;
    high.altitude = 2000;
    assert_true(density_of(low) == density_of(high));
    high.pressure = NAN;
    assert_true(density_of(high) < density_of(low));
}

/* In proportion to the pressure when dry, and to the inverse of the temperature: an ideal gas. */
static void dry_air_is_an_ideal_gas(void **state)
{
    (void)state;
    caber_air a = caber_air_default(), b = a;
    a.pressure = 101325;
    b.pressure = 2 * 101325.0;
    assert_close(density_of(b), 2 * density_of(a), 1e-14, 0);
    b = a;
    b.temperature *= 1.1;
    assert_close(density_of(b), density_of(a) / 1.1, 1e-14, 0);
}

/* What saturation takes off the density is e (M_dry - M_water)/(R T): e at 0, 20 and 40 degC by the
 * steam tables (from memory: 611.2, 2339 and 7384 Pa). */
static void vapour_of_saturated_air(void **state)
{
    (void)state;
    static const double rows[][2] = {{0, 611.2}, {20, 2339}, {40, 7384}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        caber_air dry = caber_air_default(), wet = dry;
        dry.temperature = wet.temperature = 273.15 + rows[i][0];
        wet.humidity = 1;
        const double lost = density_of(dry) - density_of(wet);
        assert_close(lost * 8.31446 * wet.temperature / (28.9644e-3 - 18.0153e-3), rows[i][1], 2e-3,
                     0);
    }
}

static void humid_warm_and_high_air_is_lighter(void **state)
{
    (void)state;
    caber_air before = caber_air_default(), air = before;
    for (int i = 1; i <= 10; i++, before = air) {
        air.humidity = 0.1 * i;
        assert_true(density_of(air) < density_of(before));
    }
    for (int i = 1; i <= 10; i++, before = air) {
        air.temperature += 2;
        assert_true(density_of(air) < density_of(before));
        assert_true(viscosity_of(air) > viscosity_of(before));
    }
    for (int i = 1; i <= 10; i++, before = air) {
        air.altitude += 300;
        assert_true(density_of(air) < density_of(before));
    }
    air = caber_air_default();
    air.altitude = -400; /* the shore of the Dead Sea */
    assert_true(density_of(air) > 1.225);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(standard_air),
        cmocka_unit_test(pressure_counts_before_altitude),
        cmocka_unit_test(dry_air_is_an_ideal_gas),
        cmocka_unit_test(vapour_of_saturated_air),
        cmocka_unit_test(humid_warm_and_high_air_is_lighter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
