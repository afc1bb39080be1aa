/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/bench.h"

#include <string.h>

#define ROW(title, member, factor, name, unit, decimals, label, meaning)                           \
    {                                                                                              \
        title, name, unit, label, meaning, factor, decimals, offsetof(caber_bench, member)         \
    }

static const bench_row bench_table[] = {
    ROW("Frequency and twist", frequency, 60, "cpm", "cpm", 1, "frequency",
        "face direction, clamped as above"),
    ROW(NULL, frequency_droop, 60, "cpm_droop", "cpm", 1, "frequency, droop",
        "the same, toe direction"),
    ROW(NULL, twist, CABER_DEG, "twist_deg", "deg", 2, "twist", "of the cut shaft, clamp to tip"),
    ROW("Weight and balance", shaft_mass, 1, "shaft_mass_kg", "kg", 4, "shaft", "as cut"),
    ROW(NULL, club_mass, 1, "club_mass_kg", "kg", 4, "club", "shaft, head and grip"),
    ROW(NULL, face_length, 1, "face_length_m", "m", 4, "length to the face",
        "butt end to the middle of the face, along the axis"),
    ROW(NULL, balance_point, 1, "balance_point_m", "m", 4, "balance point", "from the butt"),
    ROW(NULL, swing_moment, 1, "swing_moment_kgm", "kg m", 4, "swing moment",
        "about a point 14 in from the butt"),
    ROW(NULL, inertia_butt, 1, "inertia_butt_kgm2", "kg m2", 4, "inertia, butt",
        "of the club about its butt end"),
    ROW(NULL, inertia_balance, 1, "inertia_balance_kgm2", "kg m2", 4, "inertia, balance",
        "about its balance point"),
    ROW("Static bend", tip_deflection, 1e3, "tip_deflection_mm", "mm", 1, "tip deflection",
        "of the bare shaft under the load"),
    ROW(NULL, tip_slope, CABER_DEG, "tip_slope_deg", "deg", 2, "tip slope", "under the same load"),
    ROW(NULL, bend_point, 1, "bend_point_m", "m", 3, "bend point",
        "from the tip, furthest from the chord"),
    ROW(NULL, bend_point_curvature, 1, "bend_point_curvature_m", "m", 3, "sharpest bend",
        "from the tip, largest curvature"),
};

#undef ROW

const bench_row *bench_rows(size_t *count)
{
    *count = sizeof bench_table / sizeof *bench_table;
    return bench_table;
}

double bench_value(const caber_bench *bench, const bench_row *row)
{
    double value;
    memcpy(&value, (const char *)bench + row->offset, sizeof value);
    return value * row->factor;
}
