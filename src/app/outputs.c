/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/outputs.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "app/shot_table.h"
#include "app/table.h"

void outputs_title(size_t output, char text[OUTPUTS_TITLE_SIZE])
{
    const char *label = caber_output_field(output)->label, *own = label + strspn(label, " ");
    size_t head = output;
    while (head > 0 && *caber_output_field(head)->label == ' ')
        head--;
    snprintf(text, OUTPUTS_TITLE_SIZE, "%s%s%s",
             head == output ? "" : caber_output_field(head)->label, head == output ? "" : " ", own);
}

const size_t *outputs_keys(size_t keys[OUTPUTS_KEYS])
{
    static const char *const names[OUTPUTS_KEYS] = {
        "head_speed_mps", "attack_angle_deg", "path_deg",       "delivered_loft_deg",
        "face_angle_deg", "struck_toe_mm",    "ball_speed_mps", "launch_angle_deg",
        "backspin_rpm",   "sidespin_rpm",     "carry_m",        "side_m"};
    for (size_t i = 0; i < OUTPUTS_KEYS; i++)
        keys[i] = caber_output_find(names[i]);
    return keys;
}

double outputs_printed(size_t output, double value)
{
    return value * caber_output_field(output)->factor;
}

/* The output of a row of a table, by its place in caber_impact or caber_shot; the count if there is none. */
static size_t outputs_at(size_t row, bool of_ball)
{
    const size_t count = caber_output_count();
    for (size_t i = 0; i < count; i++)
        if (caber_output_of_ball(i) == of_ball && caber_output_field(i)->offset == row)
            return i;
    return count;
}

static size_t outputs_add(outputs_group *groups, size_t n, const table_section *sections,
                          size_t count, bool of_ball)
{
    for (size_t s = 0; s < count && n < OUTPUTS_GROUPS; s++) {
        outputs_group *g = &groups[n];
        *g = (outputs_group){.title = sections[s].title};
        for (size_t r = 0; r < sections[s].count; r++) {
            const size_t output = outputs_at(sections[s].rows[r], of_ball);
            if (output < caber_output_count())
                g->item[g->count++] = output;
        }
        n += g->count > 0;
    }
    return n;
}

size_t outputs_groups(outputs_group groups[OUTPUTS_GROUPS])
{
    size_t swing, shot;
    const table_section *swing_sections = table_swing_sections(&swing);
    const table_section *sections = shot_table_sections(&shot);
    const size_t n = outputs_add(groups, 0, swing_sections, swing, false);
    return outputs_add(groups, n, sections, shot, true);
}

int outputs_spread_decimals(double printed)
{
    if (!(printed > 0) || !isfinite(printed))
        return 2;
    return (int)fmax(0, fmin(5, 2 - floor(log10(printed))));
}

json_t *outputs_json(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}
