/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/table.h"

#include <math.h>
#include <string.h>

#include "app/app.h"
#include "app/uncertainty.h"

void table_title(const char *title)
{
    app_print_text(title);
    putchar('\n');
    for (const char *c = title; *c; c++)
        if (((unsigned char)*c & 0xc0) != 0x80) /* once a character of UTF-8 */
            putchar('=');
    putchar('\n');
}

void table_name(const char *word, const char *name)
{
    printf("  %-8s", word);
    app_print_text(name);
    putchar('\n');
}

void table_group(const char *title)
{
    printf("\n%s\n", title);
}

void table_number(char *text, size_t size, double value, int decimals)
{
    if (decimals < 0) {
        snprintf(text, size, "%.1e", value);
        return;
    }
    snprintf(text, size, "%.*f", decimals, value);
    if (text[0] == '-' && strspn(text + 1, "0.") == strlen(text + 1))
        memmove(text, text + 1, strlen(text));
}

/* ------------------------------------------------------------------ the swing */

/* A group of rows; a row is the place of its field in caber_impact. */
typedef struct table_section {
    const char *title;
    size_t count;
    size_t rows[24];
} table_section;

#define AT(member) offsetof(caber_impact, member)

static const table_section table_sections[] = {
    {"Delivery",
     15,
     {AT(head_speed), AT(shaft_speed_gain), AT(downswing_time), AT(delivered_loft), AT(face_angle),
      AT(closure_rate), AT(delivered_lie), AT(attack_angle), AT(path), AT(strike_toe),
      AT(strike_high), AT(handle_lean), AT(hands_ahead), AT(hands_height), AT(arm_angle)}},
    {"The shaft at impact",
     17,
     {AT(lead_deflection), AT(lead_slope), AT(droop), AT(droop_slope), AT(tip_twist),
      AT(loft_change), AT(loft_from_lead), AT(loft_from_droop), AT(loft_from_twist),
      AT(face_rotation), AT(face_from_lead), AT(face_from_droop), AT(face_from_twist),
      AT(lie_change), AT(lie_from_lead), AT(lie_from_droop), AT(lie_from_twist)}},
    {"How the handle was loaded",
     6,
     {AT(peak_handle_moment), AT(peak_handle_moment_time), AT(peak_load_rate), AT(peak_lag),
      AT(peak_lag_time), AT(grip_force)}},
    {"Where the shaft held its energy",
     5,
     {AT(strain_energy_peak), AT(energy_share_butt), AT(energy_share_middle), AT(energy_share_tip),
      AT(bend_point)}},
    {"Check", 1, {AT(energy_residual)}},
};

enum { SECTION_COUNT = sizeof table_sections / sizeof *table_sections };

/* A field whose sign has a word in the trade. */
typedef struct table_word {
    size_t row;
    const char *positive, *negative;
} table_word;

static const table_word table_words[] = {
    {AT(face_angle), "open", "closed"},       {AT(path), "in-to-out", "out-to-in"},
    {AT(attack_angle), "upward", "downward"}, {AT(strike_toe), "toe", "heel"},
    {AT(strike_high), "high", "low"},         {AT(face_rotation), "closing", "opening"},
    {AT(lead_deflection), "lead", "lag"},     {AT(delivered_lie), "toe up", "toe down"},
    {AT(lie_change), "toe up", "toe down"},
};

/* Returns the word for a value as it is printed: none when it reads as zero. */
static const char *table_word_for(size_t row, const char *printed)
{
    if (strspn(printed, "-0.") == strlen(printed))
        return NULL;
    for (size_t i = 0; i < sizeof table_words / sizeof *table_words; i++)
        if (table_words[i].row == row)
            return printed[0] == '-' ? table_words[i].negative : table_words[i].positive;
    return NULL;
}

/* One line of meaning; where the ball is, is the player's own choice if he has made one. */
static const char *table_meaning(const caber_field *field, const caber_setup *setup)
{
    const bool strike = field->offset == AT(strike_toe) || field->offset == AT(strike_high);
    const bool placed = !isnan(setup->player.ball_down) || !isnan(setup->player.ball_out);
    return strike && placed ? "off centre, ball where the player has it" : field->meaning;
}

/* What the table of a swing is made from. */
typedef struct table_view {
    const caber_setup *setup;
    const caber_swing *swing;
    const caber_uncertainty *found; /* NULL = without "+-" */
} table_view;

static void table_row_plain(const caber_field *field, const caber_setup *setup,
                            const caber_swing *swing)
{
    char bent[32], straight[32] = "";
    table_number(bent, sizeof bent, caber_impact_value(&swing->bent, field), field->decimals);
    if (field->straight)
        table_number(straight, sizeof straight, caber_impact_value(&swing->straight, field),
                     field->decimals);
    const char *word = table_word_for(field->offset, bent);
    printf("  %-19s%10s%10s  %-6s %-10s %s\n", field->label, bent, straight, field->unit,
           word ? word : "", table_meaning(field, setup));
}

/* A value and its " +- ..."; empty when there is none. Of a residual there is no spread. */
static void table_with_spread(char *text, size_t size, const caber_field *field,
                              const caber_impact *value, const caber_impact *sd)
{
    char number[32], more[32] = "";
    table_number(number, sizeof number, caber_impact_value(value, field), field->decimals);
    if (field->offset != AT(energy_residual))
        uncertainty_text(more, sizeof more, caber_impact_value(sd, field), field->decimals);
    snprintf(text, size, "%10s%-11s", number, more);
}

static void table_row_spread(const caber_field *field, const caber_uncertainty *found)
{
    char bent[64], straight[64] = "", number[32], line[256];
    table_number(number, sizeof number, caber_impact_value(&found->swing.bent, field),
                 field->decimals);
    table_with_spread(bent, sizeof bent, field, &found->swing.bent, &found->bent.sd);
    if (field->straight)
        table_with_spread(straight, sizeof straight, field, &found->swing.straight,
                          &found->straight.sd);
    const char *word = table_word_for(field->offset, number);
    int length = snprintf(line, sizeof line, "  %-19s%21s%-21s  %-6s %s", field->label, bent,
                          straight, field->unit, word ? word : "");
    while (length > 0 && line[length - 1] == ' ')
        length--;
    printf("%.*s\n", length, line);
}

static void table_row(const caber_field *field, const table_view *view)
{
    if (view->found)
        table_row_spread(field, view->found);
    else
        table_row_plain(field, view->setup, view->swing);
}

/* Without a ball there is no place on the face where it was struck. */
static bool table_row_applies(size_t row, const caber_swing *swing)
{
    return swing->met_ball || (row != AT(strike_toe) && row != AT(strike_high));
}

/* Prints the rows of a section; the field list says what each is called. */
static void table_section_print(const table_section *section, const caber_field *fields,
                                size_t field_count, const table_view *view)
{
    table_group(section->title);
    for (size_t r = 0; r < section->count; r++)
        for (size_t f = 0; f < field_count; f++)
            if (fields[f].offset == section->rows[r] &&
                table_row_applies(section->rows[r], view->swing))
                table_row(&fields[f], view);
}

#undef AT

void table_swing_head(const caber_setup *setup, const caber_swing *swing)
{
    table_title(setup->name);
    table_name("shaft", setup->shaft.name);
    table_name("head", setup->head.name);
    table_name("player", setup->player.name);
    putchar('\n');
    app_print_cautions();
    if (!swing->met_ball)
        printf("\nThe swing was stopped %.4f s after its start (settings.until) and met no ball: "
               "the figures\nare those of that instant, not of an impact.\n",
               setup->settings.until);
}

static void table_sections_print(const table_view *view)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t s = 0; s < SECTION_COUNT; s++)
        table_section_print(&table_sections[s], fields, count, view);
}

void table_swing(const caber_setup *setup, const caber_swing *swing)
{
    const table_view view = {setup, swing, NULL};
    table_swing_head(setup, swing);
    printf("\n  %-19s%10s%10s\n", "", "the club", "straight");
    table_sections_print(&view);
}

void table_swing_spread(const caber_setup *setup, const caber_uncertainty *found)
{
    const table_view view = {setup, &found->swing, found};
    printf("\n  %-19s%10s%21s\n", "", "the club", "straight");
    table_sections_print(&view);
}
