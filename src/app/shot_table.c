/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/shot_table.h"

#include <stdio.h>
#include <string.h>

#include "app/table.h"

#define AT(member) offsetof(caber_shot, member)

static const table_section shot_sections[] = {
    {"The ball as it leaves",
     9,
     {AT(struck_toe), AT(struck_high), AT(ball_speed), AT(smash), AT(launch_angle),
      AT(launch_direction), AT(backspin), AT(sidespin), AT(spin_axis)}},
    {"Its flight",
     7,
     {AT(carry), AT(carry_low), AT(carry_high), AT(side), AT(apex), AT(flight_time),
      AT(descent_angle)}},
};

const table_section *shot_table_sections(size_t *count)
{
    *count = sizeof shot_sections / sizeof *shot_sections;
    return shot_sections;
}

/* The word for a sign; away from the golfer is right of the target for a right-handed one. */
static const char *shot_word(const caber_field *field, double value, bool left_handed)
{
    const char *away = left_handed ? "left" : "right", *towards = left_handed ? "right" : "left";
    const struct {
        size_t row;
        const char *positive, *negative;
    } words[] = {{AT(struck_toe), "toe", "heel"},       {AT(struck_high), "high", "low"},
                 {AT(launch_direction), away, towards}, {AT(side), away, towards},
                 {AT(sidespin), "fade", "draw"},        {AT(spin_axis), "fade", "draw"}};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (words[i].row == field->offset)
            return table_word_of(value, field->decimals, words[i].positive, words[i].negative);
    return NULL;
}

static void shot_row(const caber_field *field, const caber_setup *setup,
                     const caber_shot_pair *shots, const caber_uncertainty *found)
{
    table_row row = {.label = field->label,
                     .unit = field->unit,
                     .meaning = field->meaning,
                     .decimals = field->decimals,
                     .has = {shots->bent_flies, shots->straight_flies},
                     .value = {caber_shot_value(&shots->bent, field),
                               caber_shot_value(&shots->straight, field)}};
    if (row.has[0])
        row.word = shot_word(field, row.value[0], setup->player.handed == CABER_LEFT);
    if (found) {
        row.sd[0] = caber_shot_value(&found->bent_shot.sd, field);
        row.sd[1] = caber_shot_value(&found->straight_shot.sd, field);
    }
    table_row_print(&row, found != NULL);
}

static void shot_section_print(const table_section *section, const caber_setup *setup,
                               const caber_shot_pair *shots, const caber_uncertainty *found)
{
    size_t count;
    const caber_field *fields = caber_shot_fields(&count);
    table_group(section->title);
    for (size_t r = 0; r < section->count; r++)
        for (size_t f = 0; f < count; f++)
            if (fields[f].offset == section->rows[r])
                shot_row(&fields[f], setup, shots, found);
}

/* ------------------------------------------------------------------ what the figures rest on */

/* Where a set stands to the range in which it was measured; empty without a flight. */
static const char *shot_range(const caber_shot *shot, bool flies, int set)
{
    if (!flies)
        return "";
    return shot->outside >> set & 1 ? "outside" : "within";
}

static void shot_ranges_print(const caber_setup *setup, const caber_shot_pair *shots, bool spread)
{
    table_group("The range in which drag and lift were measured");
    for (int set = 0; set < CABER_COEFFICIENT_SETS; set++) {
        const bool chosen = set == (int)setup->ball.coefficients;
        char line[128];
        int length = snprintf(line, sizeof line, spread ? "  %-19s%10s%21s" : "  %-19s%10s%10s",
                              caber_coefficients_about((caber_coefficients)set).name,
                              shot_range(&shots->bent, shots->bent_flies, set),
                              shot_range(&shots->straight, shots->straight_flies, set));
        if (chosen)
            length += snprintf(line + length, sizeof line - (size_t)length, "%*s%s",
                               spread ? 13 : 20, "", "by which the ball flies");
        while (length > 0 && line[length - 1] == ' ')
            length--;
        printf("%.*s\n", length, line);
    }
}

static void shot_say_basis(const caber_setup *setup, const caber_shot_pair *shots, bool spread)
{
    const unsigned outside = (shots->bent_flies ? shots->bent.outside : 0) |
                             (shots->straight_flies ? shots->straight.outside : 0);
    char text[512];
    snprintf(text, sizeof text,
             "%s%s%s The ball lands at the height it left; bounce and roll are not computed.",
             spread ? "Least and most tell how far published drag and lift disagree; +- does not. "
                    : "",
             outside ? "Outside its range a set is held at the nearest values it has. " : "",
             setup->player.strike == CABER_CENTRED
                 ? "The player stands so that the ball is struck in the middle of the face "
                   "(player.ball.strike)."
                 : "The club strikes the ball where it lies (player.ball.strike), the straight "
                   "club in the middle of its face.");
    table_paragraph(text);
}

static void shot_say_why_not(const char *whose, const caber_message *why)
{
    char text[sizeof why->text + 64];
    snprintf(text, sizeof text, "No flight of %s: %s.", whose, why->text);
    table_paragraph(text);
}

void shot_table_print(const caber_setup *setup, const caber_shot_pair *shots,
                      const caber_uncertainty *found)
{
    if (shots->bent_flies || shots->straight_flies) {
        for (size_t s = 0; s < sizeof shot_sections / sizeof *shot_sections; s++)
            shot_section_print(&shot_sections[s], setup, shots, found);
        shot_ranges_print(setup, shots, found != NULL);
        shot_say_basis(setup, shots, found != NULL);
    }
    if (!shots->bent_flies)
        shot_say_why_not("the club's ball", &shots->bent_why);
    if (!shots->straight_flies)
        shot_say_why_not("the straight club's ball", &shots->straight_why);
}

#undef AT
