/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/trims.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/cautions.h"
#include "app/json.h"
#include "app/table.h"
#include "base/message.h"
#include "swing/once.h"

/* 0 to 2 in by quarters, and the setup's own trim among them. */
enum { QUARTERS = TRIMS_MOST - 1 };
static const double quarter = 0.25 * 0.0254;
/* Trims this near are one, m. */
static const double same = 1e-6;

const char *const trims_unmet =
    "the swings were stopped by settings.until; they met no ball, and the loft change and lead are "
    "those of that instant";

/* A printed value of a row. */
typedef struct trim_value {
    const char *name, *unit;
    int decimals;
    double value;
} trim_value;

enum { VALUE_COUNT = 7 };

static void trim_values(const trim_row *row, trim_value out[VALUE_COUNT])
{
    const caber_bench *b = &row->bench;
    const caber_impact *s = &row->swing.bent;
    const trim_value values[VALUE_COUNT] = {
        {"mouth_diameter_mm", "mm", 2, b->mouth_diameter * 1e3},
        {"cpm", "cpm", 1, b->frequency * 60},
        {"twist_deg", "deg", 2, b->twist * CABER_DEG},
        {"swing_moment_kgm", "kg m", 4, b->swing_moment},
        {"loft_change_deg", "deg", 2, s->loft_change * CABER_DEG},
        {"peak_handle_moment_nm", "N m", 2, s->peak_handle_moment},
        {"lead_deflection_mm", "mm", 1, s->lead_deflection * 1e3},
    };
    memcpy(out, values, sizeof values);
}

static caber_status trim_fill(const caber_setup *setup, const caber_jig *jig, trim_row *row,
                              caber_message *message)
{
    caber_setup cut = *setup;
    cut.build.length = 0;
    cut.build.tip_trim = row->tip;
    cut.build.butt_trim = row->butt;
    caber_status status = caber_bench_run(&cut, jig, &row->bench, message);
    if (status == CABER_OK)
        status = swing_once(&cut, &row->swing, NULL, message);
    if (status == CABER_OK)
        caber_swing_weight(row->bench.swing_moment, row->swing_weight, sizeof row->swing_weight);
    return status;
}

/* The trims in order. Returns how many. */
static size_t trim_list(double own, double both, trim_row *rows)
{
    size_t n = 0;
    bool placed = false;
    for (int i = 0; i < QUARTERS; i++) {
        const double tip = i * quarter;
        if (!placed && own < tip - same) {
            rows[n++] = (trim_row){.tip = own, .own = true};
            placed = true;
        }
        const bool is_own = fabs(own - tip) <= same;
        placed = placed || is_own;
        rows[n++] = (trim_row){.tip = is_own ? own : tip, .own = is_own};
    }
    if (!placed)
        rows[n++] = (trim_row){.tip = own, .own = true};
    for (size_t i = 0; i < n; i++) {
        rows[i].butt = fmax(0, both - rows[i].tip);
        rows[i].short_by = rows[i].tip - both > same ? rows[i].tip - both : 0;
    }
    return n;
}

static bool trim_is_finite(const trim_row *row)
{
    trim_value values[VALUE_COUNT];
    trim_values(row, values);
    for (int i = 0; i < VALUE_COUNT; i++)
        if (!app_is_number(values[i].value, values[i].name))
            return false;
    return true;
}

static caber_status trim_compute(const caber_setup *setup, const caber_jig *jig, trims *out,
                                 caber_message *message)
{
    for (size_t i = 0; i < out->count; i++) {
        caber_message why = {""};
        if (out->rows[i].short_by > 0)
            continue;
        const caber_status status = trim_fill(setup, jig, &out->rows[i], &why);
        if (status != CABER_OK)
            return message_set(message, status, "with a tip trim of %.2f mm: %.900s",
                               out->rows[i].tip * 1e3, why.text);
    }
    return CABER_OK;
}

caber_status trims_find(const caber_setup *setup, const caber_jig *jig, trims *out,
                        caber_message *message)
{
    *out = (trims){.jig = *jig};
    out->jig.clamp_count = 0; /* no table of frequencies each time */
    caber_bench *as_is = malloc(sizeof *as_is);
    if (!as_is)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    caber_status status = caber_bench_run(setup, &out->jig, as_is, message);
    if (status == CABER_OK) {
        out->count = trim_list(as_is->tip_trim, as_is->tip_trim + as_is->butt_trim, out->rows);
        status = trim_compute(setup, &out->jig, out, message);
    }
    free(as_is);
    return status;
}

/* ------------------------------------------------------------------ printing */

#define TRIM_FORMAT "%9s%8s%7s%8s%8s%9s%8s%s\n"

static void trim_print_heads(void)
{
    puts("");
    printf("  %-13s%8s" TRIM_FORMAT, "cut from tip", "butt", "at the", "", "twist", "swing", "loft",
           "handle", "lead", "");
    printf("  %-13s%8s%9s%8s%7s%8s%8s%9s\n", "", "", "hosel", "", "", "weight", "change", "moment");
    printf("  %5s%8s%8s" TRIM_FORMAT, "in", "mm", "mm", "mm", "cpm", "deg", "", "deg", "N m", "mm",
           "");
}

static void trim_print_row(const trim_row *row)
{
    printf("  %5.2f%8.2f%8.2f", row->tip / 0.0254, row->tip * 1e3, row->butt * 1e3);
    if (row->short_by > 0) {
        printf("  the shaft is %.1f mm too short for this length\n", row->short_by * 1e3);
        return;
    }
    trim_value v[VALUE_COUNT];
    trim_values(row, v);
    char text[VALUE_COUNT][32];
    for (int i = 0; i < VALUE_COUNT; i++)
        table_number(text[i], sizeof text[i], v[i].value, v[i].decimals);
    printf(TRIM_FORMAT, text[0], text[1], text[2], row->swing_weight, text[4], text[5], text[6],
           row->own ? "  as it is" : "");
}

static void trim_print(const caber_setup *setup, const caber_jig *jig, const trim_row *rows,
                       size_t count)
{
    table_title(setup->name);
    table_name("shaft", setup->shaft.name);
    table_name("head", setup->head.name);
    table_name("player", setup->player.name);
    printf(
        "\nOne shaft tipped more and more. Kept are the playing length (what is cut more from the "
        "tip is cut\nless from the butt), head, grip and player. cpm: %.0f mm of butt clamped, ",
        jig->clamp * 1e3);
    if (jig->tip_mass > 0)
        printf("%.1f g on the tip.\n", jig->tip_mass * 1e3);
    else
        puts("the club as built.");
    for (size_t i = 0; cautions_trims[i]; i++)
        puts(cautions_trims[i]);
    app_print_cautions();
    trim_print_heads();
    for (size_t i = 0; i < count; i++)
        trim_print_row(&rows[i]);
}

static json_t *trim_row_json(const trim_row *row)
{
    json_t *object = json_pack("{sf sf sb}", "tip_trim_mm", row->tip * 1e3, "butt_trim_mm",
                               row->butt * 1e3, "as_it_is", (int)row->own);
    int failed = !object;
    if (row->short_by > 0) {
        failed |= json_object_set_new(object, "short_mm", json_real(row->short_by * 1e3));
    } else {
        trim_value v[VALUE_COUNT];
        trim_values(row, v);
        for (int i = 0; i < VALUE_COUNT; i++)
            failed |= json_object_set_new(object, v[i].name, json_real(v[i].value));
        failed |= json_object_set_new(object, "swing_weight", json_string(row->swing_weight));
        failed |= json_object_set_new(object, "met_ball", json_boolean(row->swing.met_ball));
    }
    if (!failed)
        return object;
    json_decref(object);
    return NULL;
}

json_t *trims_json(const caber_setup *setup, const trims *found)
{
    const caber_jig *jig = &found->jig;
    json_t *list = json_array();
    int failed = !list;
    for (size_t i = 0; i < found->count; i++)
        failed |= json_array_append_new(list, trim_row_json(&found->rows[i]));
    if (failed) {
        json_decref(list);
        list = NULL;
    }
    return json_pack("{ss ss s{sf sf sf} ss so}", "setup", setup->name, "shaft", setup->shaft.name,
                     "jig", "clamp_m", jig->clamp, "tip_mass_kg", jig->tip_mass, "torque_nm",
                     jig->torque, "kept", "playing length", "trims", list);
}

bool trims_met(const trims *found)
{
    for (size_t i = 0; i < found->count; i++)
        if (!(found->rows[i].short_by > 0) && !found->rows[i].swing.met_ball)
            return false;
    return true;
}

app_exit trims_run(const caber_setup *setup, const caber_jig *jig, const options *given)
{
    caber_message message = {""};
    trims *found = malloc(sizeof *found);
    const caber_status status = found ? trims_find(setup, jig, found, &message) : CABER_NO_MEMORY;
    app_exit rc = status == CABER_OK ? APP_FINE : app_fail(status, &message);
    for (size_t i = 0; rc == APP_FINE && i < found->count; i++)
        if (!(found->rows[i].short_by > 0) && !trim_is_finite(&found->rows[i]))
            rc = APP_UNFINISHED;
    if (rc == APP_FINE && !trims_met(found))
        app_say("%s", trims_unmet);
    if (rc == APP_FINE && given->text[OPTION_JSON])
        rc = json_app_print(trims_json(setup, found));
    else if (rc == APP_FINE)
        trim_print(setup, &found->jig, found->rows, found->count);
    free(found);
    return rc;
}
