/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "club/rules.h"

#define UNKNOWN ((double)NAN)
#define NO_LIMIT ((double)NAN)

/* The limits; figures and verdicts follow. */
static const caber_rule limits[CABER_RULES_COUNT] = {
    {.name = "length_m",
     .label = "length",
     .unit = "m",
     .text = "0.457 to 1.219 m, sole against a 60 deg plane",
     .factor = 1,
     .decimals = 4,
     .least = 0.457,
     .most = 1.219},
    {.name = "length_local_m",
     .label = "length, local rule",
     .unit = "m",
     .text = "at most 1.168 m, where that local rule is set",
     .factor = 1,
     .decimals = 4,
     .least = NO_LIMIT,
     .most = 1.168},
    {.name = "bending_difference_percent",
     .label = "bends alike",
     .unit = "%",
     .text = "the same however turned: larger EI over smaller",
     .factor = 100,
     .decimals = 2,
     .least = NO_LIMIT,
     .most = 0},
    {.name = "twisting_difference_percent",
     .label = "twists alike",
     .unit = "%",
     .text = "the same both ways: no reading here tells",
     .factor = 100,
     .decimals = 2,
     .least = NO_LIMIT,
     .most = 0},
    {.name = "head_volume_cm3",
     .label = "head volume",
     .unit = "cm3",
     .text = "at most 460 (+10) cm3: no input gives it",
     .factor = 1e6,
     .decimals = 0,
     .least = NO_LIMIT,
     .most = 460e-6,
     .tolerance = 10e-6},
    {.name = "head_inertia_gcm2",
     .label = "head inertia",
     .unit = "g cm2",
     .text = "at most 5900 (+100) g cm2, about its vertical axis",
     .factor = 1e7,
     .decimals = 0,
     .least = NO_LIMIT,
     .most = 5900e-7,
     .tolerance = 100e-7},
    {.name = "characteristic_time_us",
     .label = "characteristic time",
     .unit = "us",
     .text = "at most 239 (+18) us: no input gives it",
     .factor = 1e6,
     .decimals = 0,
     .least = NO_LIMIT,
     .most = 239e-6,
     .tolerance = 18e-6},
};

/* The largest EI over the smallest, less 1, between the cuts: at the stations, between which both follow
 * the same kind of curve, and at the cuts. Not known where no station gives two. */
static double bending_difference(const caber_shaft *shaft, const club *c)
{
    bool turned = false;
    double most = 0;
    for (size_t i = 0; i < shaft->station_count + 2; i++) {
        const bool station = i < shaft->station_count;
        const double at = station                     ? shaft->stations[i].at
                          : i == shaft->station_count ? c->tip_at
                                                      : c->butt_at;
        turned = turned || (station && shaft->stations[i].ei_2 > 0);
        if (at < c->tip_at || at > c->butt_at)
            continue;
        const profile_point p = profile_at(c->profile, at);
        most = fmax(most, fmax(p.ei, p.ei_2) / fmin(p.ei, p.ei_2) - 1);
    }
    return turned ? most : UNKNOWN;
}

static caber_verdict verdict(const caber_rule *r)
{
    if (isnan(r->figure))
        return CABER_RULE_UNKNOWN;
    /* A hundred-millionth is rounding. */
    const bool beyond = r->figure > (r->most + r->tolerance) * (1 + 1e-9) + 1e-12;
    return beyond || r->figure < r->least ? CABER_RULE_BEYOND : CABER_RULE_WITHIN;
}

void rules_fill(const caber_setup *setup, const club *c, caber_rule *out)
{
    const double figures[CABER_RULES_COUNT] = {
        club_length(c), club_length(c), bending_difference(&setup->shaft, c),
        UNKNOWN,        UNKNOWN,        club_weighted_head(&setup->head).inertia[1],
        UNKNOWN};
    for (int i = 0; i < CABER_RULES_COUNT; i++) {
        out[i] = limits[i];
        out[i].figure = figures[i];
        out[i].verdict = verdict(&out[i]);
    }
}
