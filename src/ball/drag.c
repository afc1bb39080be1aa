/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The published sets differ by a fifth in carry: balls, dimples and ways of measuring differ. None
 * is of a ball that anyone plays today. */
#include "ball/drag.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_interp2d.h>
#include <math.h>
#include <stdlib.h>

/* ------------------------------------------------------------------ Bearman & Harvey */

enum { SPEEDS = 10, SPINS = 21 };

/* P. W. Bearman and J. K. Harvey 1976, "Golf ball aerodynamics", Aeronautical Quarterly 27:112-122,
 * figures 7 and 8, a ball with hexagonal dimples in a wind tunnel. Quoted: read off as a table in
 * the course TKT4140 of the university in Trondheim, not seen in the original. */
static const double table_speeds[SPEEDS] = {13.7, 21.6, 29.9, 38.4, 46.9,
                                            55.2, 63.1, 71.9, 80.2, 88.1}; /* m/s */
static const double table_spins[SPINS] = {2000, 2200, 2400, 2600, 2800, 3000, 3200,
                                          3400, 3600, 3800, 4000, 4200, 4400, 4600,
                                          4800, 5000, 5200, 5400, 5600, 5800, 6000}; /* rpm */
/* clang-format off */
static const double table_drag[SPINS][SPEEDS] = {
    {0.3624, 0.2885, 0.2765, 0.2529, 0.2472, 0.2481, 0.2467, 0.2470, 0.2470, 0.2470},
    {0.3806, 0.3102, 0.2853, 0.2590, 0.2507, 0.2498, 0.2485, 0.2486, 0.2484, 0.2484},
    {0.3954, 0.3288, 0.2937, 0.2649, 0.2543, 0.2516, 0.2504, 0.2502, 0.2497, 0.2497},
    {0.4070, 0.3443, 0.3018, 0.2708, 0.2580, 0.2535, 0.2522, 0.2518, 0.2511, 0.2511},
    {0.4153, 0.3566, 0.3095, 0.2765, 0.2617, 0.2556, 0.2541, 0.2534, 0.2524, 0.2524},
    {0.4203, 0.3658, 0.3169, 0.2822, 0.2655, 0.2578, 0.2560, 0.2550, 0.2538, 0.2538},
    {0.4120, 0.3719, 0.3240, 0.2876, 0.2693, 0.2602, 0.2579, 0.2566, 0.2551, 0.2551},
    {0.3960, 0.3749, 0.3308, 0.2930, 0.2732, 0.2627, 0.2599, 0.2582, 0.2565, 0.2565},
    {0.3876, 0.3766, 0.3372, 0.2983, 0.2772, 0.2653, 0.2619, 0.2598, 0.2578, 0.2578},
    {0.4100, 0.3854, 0.3433, 0.3034, 0.2811, 0.2681, 0.2639, 0.2614, 0.2592, 0.2592},
    {0.4288, 0.4003, 0.3490, 0.3084, 0.2852, 0.2710, 0.2659, 0.2630, 0.2605, 0.2605},
    {0.4445, 0.4082, 0.3544, 0.3133, 0.2893, 0.2741, 0.2680, 0.2646, 0.2619, 0.2619},
    {0.4575, 0.4153, 0.3595, 0.3180, 0.2934, 0.2772, 0.2701, 0.2662, 0.2632, 0.2632},
    {0.4682, 0.4215, 0.3643, 0.3227, 0.2976, 0.2806, 0.2722, 0.2678, 0.2646, 0.2646},
    {0.4772, 0.4269, 0.3687, 0.3272, 0.3019, 0.2840, 0.2743, 0.2694, 0.2659, 0.2659},
    {0.4848, 0.4314, 0.3728, 0.3316, 0.3062, 0.2876, 0.2765, 0.2710, 0.2673, 0.2673},
    {0.4914, 0.4350, 0.3765, 0.3358, 0.3105, 0.2913, 0.2787, 0.2726, 0.2686, 0.2686},
    {0.4976, 0.4377, 0.3799, 0.3400, 0.3149, 0.2952, 0.2809, 0.2742, 0.2700, 0.2700},
    {0.5039, 0.4395, 0.3830, 0.3440, 0.3194, 0.2992, 0.2831, 0.2758, 0.2713, 0.2713},
    {0.5105, 0.4405, 0.3858, 0.3479, 0.3239, 0.3034, 0.2854, 0.2774, 0.2727, 0.2727},
    {0.5180, 0.4406, 0.3882, 0.3517, 0.3285, 0.3076, 0.2877, 0.2790, 0.2740, 0.2740}};
static const double table_lift[SPINS][SPEEDS] = {
    {0.1040, 0.1846, 0.2460, 0.1984, 0.1762, 0.1538, 0.1418, 0.1360, 0.1280, 0.1276},
    {0.1936, 0.2318, 0.2590, 0.2089, 0.1824, 0.1603, 0.1476, 0.1405, 0.1321, 0.1324},
    {0.2608, 0.2694, 0.2715, 0.2191, 0.1886, 0.1668, 0.1533, 0.1450, 0.1362, 0.1367},
    {0.3090, 0.2986, 0.2835, 0.2289, 0.1949, 0.1731, 0.1589, 0.1494, 0.1403, 0.1404},
    {0.3418, 0.3205, 0.2947, 0.2384, 0.2011, 0.1794, 0.1646, 0.1539, 0.1444, 0.1436},
    {0.3624, 0.3362, 0.3049, 0.2475, 0.2073, 0.1856, 0.1702, 0.1584, 0.1485, 0.1464},
    {0.3743, 0.3470, 0.3140, 0.2562, 0.2135, 0.1916, 0.1757, 0.1629, 0.1526, 0.1488},
    {0.3808, 0.3541, 0.3217, 0.2644, 0.2197, 0.1976, 0.1813, 0.1673, 0.1567, 0.1508},
    {0.3854, 0.3584, 0.3280, 0.2722, 0.2259, 0.2035, 0.1868, 0.1718, 0.1608, 0.1524},
    {0.3915, 0.3614, 0.3325, 0.2795, 0.2322, 0.2092, 0.1923, 0.1763, 0.1649, 0.1539},
    {0.4005, 0.3640, 0.3347, 0.2862, 0.2384, 0.2149, 0.1977, 0.1807, 0.1690, 0.1582},
    {0.4010, 0.3696, 0.3380, 0.2925, 0.2446, 0.2205, 0.2032, 0.1852, 0.1731, 0.1624},
    {0.4026, 0.3748, 0.3412, 0.2982, 0.2508, 0.2259, 0.2086, 0.1897, 0.1772, 0.1666},
    {0.4050, 0.3797, 0.3440, 0.3033, 0.2570, 0.2313, 0.2139, 0.1941, 0.1813, 0.1707},
    {0.4084, 0.3845, 0.3468, 0.3078, 0.2632, 0.2366, 0.2193, 0.1986, 0.1854, 0.1749},
    {0.4130, 0.3894, 0.3496, 0.3119, 0.2695, 0.2418, 0.2246, 0.2031, 0.1895, 0.1791},
    {0.4192, 0.3947, 0.3527, 0.3149, 0.2757, 0.2469, 0.2298, 0.2076, 0.1936, 0.1833},
    {0.4271, 0.4004, 0.3563, 0.3184, 0.2819, 0.2518, 0.2351, 0.2120, 0.1977, 0.1875},
    {0.4371, 0.4069, 0.3607, 0.3233, 0.2881, 0.2567, 0.2403, 0.2165, 0.2018, 0.1916},
    {0.4494, 0.4143, 0.3660, 0.3300, 0.2943, 0.2615, 0.2455, 0.2210, 0.2059, 0.1958},
    {0.4644, 0.4227, 0.3724, 0.3393, 0.3005, 0.2662, 0.2507, 0.2254, 0.2100, 0.2000}};
/* clang-format on */

/* Speed and spin are those of a ball of this size in this air, by which they become the two numbers
 * that count in any air. The table does not say; that course flies a ball of the diameter of the
 * British one of that time in air of this viscosity, and with it the table spans Reynolds numbers
 * of 0.37e5 to 2.41e5, which fits the 0.4e5 to 2.4e5 of the paper's abstract (from memory). */
static const double table_diameter = 0.041;   /* m */
static const double table_viscosity = 1.5e-5; /* m2/s, kinematic */

/* Bicubic: through the table's points, with slopes that do not jump, as an integrator likes it. */
struct drag {
    gsl_interp2d *cd, *cl;
    gsl_interp_accel *speed, *spin;
};

drag *drag_create(void)
{
    gsl_set_error_handler_off();
    drag *d = calloc(1, sizeof *d);
    if (!d)
        return NULL;
    d->cd = gsl_interp2d_alloc(gsl_interp2d_bicubic, SPEEDS, SPINS);
    d->cl = gsl_interp2d_alloc(gsl_interp2d_bicubic, SPEEDS, SPINS);
    d->speed = gsl_interp_accel_alloc();
    d->spin = gsl_interp_accel_alloc();
    if (d->cd && d->cl && d->speed && d->spin &&
        !gsl_interp2d_init(d->cd, table_speeds, table_spins, table_drag[0], SPEEDS, SPINS) &&
        !gsl_interp2d_init(d->cl, table_speeds, table_spins, table_lift[0], SPEEDS, SPINS))
        return d;
    drag_free(d);
    return NULL;
}

void drag_free(drag *d)
{
    if (!d)
        return;
    if (d->cd)
        gsl_interp2d_free(d->cd);
    if (d->cl)
        gsl_interp2d_free(d->cl);
    if (d->speed)
        gsl_interp_accel_free(d->speed);
    if (d->spin)
        gsl_interp_accel_free(d->spin);
    free(d);
}

static double held(double x, double least, double most)
{
    return x < least ? least : x > most ? most : x;
}

static drag_value bearman_harvey(drag *d, double reynolds, double spin)
{
    const double least = table_spins[0];
    const double flow = reynolds * table_viscosity / table_diameter;
    const double speed = held(flow, table_speeds[0], table_speeds[SPEEDS - 1]);
    const double turns = spin * speed / (table_diameter / 2) * CABER_RPM;
    const double rpm = held(turns, least, table_spins[SPINS - 1]);
    drag_value v = {.outside = flow != speed || turns != rpm};
    gsl_interp2d_eval_e(d->cd, table_speeds, table_spins, table_drag[0], speed, rpm, d->speed,
                        d->spin, &v.cd);
    gsl_interp2d_eval_e(d->cl, table_speeds, table_spins, table_lift[0], speed, rpm, d->speed,
                        d->spin, &v.cl);
    if (turns < least)
        v.cl *= turns / least;
    return v;
}

/* ------------------------------------------------------------------ fitted formulas */

typedef struct range {
    double reynolds_least, reynolds_most, spin_least, spin_most;
} range;

/* A. J. Smits and D. R. Smith 1994, "A new aerodynamic model of a golf ball in flight", Science and
 * Golf II, 340-347 (quoted): wind tunnel; for drives. */
static const range smits_smith_range = {7e4, 2.1e5, 0.08, 0.2};

static drag_value smits_smith(double reynolds, double spin)
{
    static const double pi = 3.14159265358979323846;
    return (drag_value){.cd = 0.24 + 0.18 * spin + 0.06 * sin(pi * (reynolds - 9e4) / 2e5),
                        .cl = 0.54 * pow(spin, 0.4)};
}

/* B. Lyu, J. Kensrud, L. Smith, T. Tosaya 2018, "Aerodynamics of golf balls in still air",
 * Proceedings 2(6):238 (quoted): balls shot through still air, means over thirteen kinds. Range of
 * Reynolds numbers as of the drag; of spin as of the points in the figure of lift. */
static const range lyu_range = {7.5e4, 2e5, 0.045, 0.32};

static drag_value lyu(double reynolds, double spin)
{
    return (drag_value){.cd = (1.91e-11 * reynolds - 5.40e-6) * reynolds + 0.56,
                        .cl = (1.99 - 3.25 * spin) * spin};
}

static drag_value formula(const range *r, drag_value (*of)(double, double), double reynolds,
                          double spin)
{
    const double re = held(reynolds, r->reynolds_least, r->reynolds_most);
    const double s = held(spin, r->spin_least, r->spin_most);
    drag_value v = of(re, s);
    v.outside = re != reynolds || s != spin;
    if (spin < s)
        v.cl *= spin / s;
    return v;
}

/* ------------------------------------------------------------------ all of them */

drag_value drag_at(drag *d, caber_coefficients set, double reynolds, double spin)
{
    switch (set) {
    case CABER_SMITS_SMITH:
        return formula(&smits_smith_range, smits_smith, reynolds, spin);
    case CABER_LYU:
        return formula(&lyu_range, lyu, reynolds, spin);
    default:
        return bearman_harvey(d, reynolds, spin);
    }
}

caber_coefficients_note caber_coefficients_about(caber_coefficients set)
{
    switch (set) {
    case CABER_BEARMAN_HARVEY:
        return (caber_coefficients_note){
            "bearman-harvey",
            "Bearman and Harvey 1976, Aeronautical Quarterly 27:112, wind tunnel, a table (quoted)",
            "Reynolds number 37 000 to 241 000, 2000 to 6000 rpm of a 41 mm ball at 13.7 to 88.1 "
            "m/s"};
    case CABER_SMITS_SMITH:
        return (caber_coefficients_note){
            "smits-smith",
            "Smits and Smith 1994, Science and Golf II, 340, wind tunnel, formulas (quoted)",
            "Reynolds number 70 000 to 210 000, spin parameter 0.08 to 0.2"};
    case CABER_LYU:
        return (caber_coefficients_note){
            "lyu",
            "Lyu et al. 2018, Proceedings 2(6):238, shot through still air, formulas (quoted)",
            "Reynolds number 75 000 to 200 000, spin parameter 0.045 to 0.32"};
    default:
        return (caber_coefficients_note){"", "", ""};
    }
}
