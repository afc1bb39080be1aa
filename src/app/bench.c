/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/bench.h"

#include <math.h>
#include <string.h>

#define OPEN_ROW(title, member, factor, name, unit, decimals, label, meaning, open)                \
    {                                                                                              \
        title, name, unit, label, meaning, factor, decimals, offsetof(caber_bench, member), open   \
    }
#define ROW(title, member, factor, name, unit, decimals, label, meaning)                           \
    OPEN_ROW(title, member, factor, name, unit, decimals, label, meaning, false)

static const bench_row bench_table[] = {
    ROW("As it is cut and built", tip_trim, 1e3, "tip_trim_mm", "mm", 1, "tip trim",
        "cut from the tip; the profile moves with the cut"),
    ROW(NULL, butt_trim, 1e3, "butt_trim_mm", "mm", 1, "butt trim", "cut from the butt"),
    ROW(NULL, insertion, 1e3, "insertion_mm", "mm", 1, "in the hosel",
        "of the shaft, rigid with the head"),
    ROW(NULL, mouth_diameter, 1e3, "mouth_diameter_mm", "mm", 2, "at the hosel",
        "diameter of the shaft where it enters the bore"),
    OPEN_ROW(NULL, length, 1, "playing_length_m", "m", 4, "playing length",
             "end of grip to the sole against a 60 deg plane", true),
    OPEN_ROW(NULL, length, 1 / 0.0254, "playing_length_in", "in", 2, "", "the same", true),
    ROW(NULL, grip_diameter, 1e3, "grip_diameter_mm", "mm", 2, "grip",
        "mean diameter, over the layers of tape"),
    ROW(NULL, loft, CABER_DEG, "loft_deg", "deg", 2, "loft",
        "of the head on its shaft, held at the head's lie"),
    ROW(NULL, lie, CABER_DEG, "lie_deg", "deg", 2, "lie", "likewise; moves with the loft"),
    ROW(NULL, face, CABER_DEG, "face_deg", "deg", 2, "face", "likewise, open positive"),
    ROW("Frequency and twist", frequency, 60, "cpm", "cpm", 1, "frequency",
        "face direction, clamped as above"),
    ROW(NULL, frequency_droop, 60, "cpm_droop", "cpm", 1, "frequency, droop",
        "the same, toe direction"),
    ROW(NULL, twist, CABER_DEG, "twist_deg", "deg", 2, "twist", "of the cut shaft, clamp to tip"),
    ROW("Weight and balance", shaft_mass, 1, "shaft_mass_kg", "kg", 4, "shaft", "as cut"),
    ROW(NULL, head_mass, 1, "head_mass_kg", "kg", 4, "head", "with its weights"),
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
    ROW("At address, held at the hands with the head off the ground", address_droop, 1e3,
        "address_droop_mm", "mm", 2, "droop", "tip below the handle axis, by weight alone"),
    ROW(NULL, address_lead, 1e3, "address_lead_mm", "mm", 2, "lead",
        "tip ahead of the handle axis"),
    ROW(NULL, address_lie_change, CABER_DEG, "address_lie_change_deg", "deg", 2, "lie change",
        "toe up positive, against a rigid shaft"),
    ROW(NULL, address_loft_change, CABER_DEG, "address_loft_change_deg", "deg", 2, "loft change",
        "against a rigid shaft"),
    ROW(NULL, address_face_rotation, CABER_DEG, "address_face_rotation_deg", "deg", 2,
        "face rotation", "closing positive"),
};

#undef ROW
#undef OPEN_ROW

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

bool bench_knows(const caber_bench *bench, const bench_row *row)
{
    return !row->open || !isnan(bench_value(bench, row));
}
