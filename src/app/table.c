/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/table.h"

#include <math.h>
#include <string.h>

#include "app/app.h"
#include "app/shot_table.h"
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

void table_wrapped(const char *text, int indent)
{
    enum { WIDTH = 98 };
    size_t column = 0;
    while (*text) {
        const size_t word = strcspn(text, " ");
        if (column == 0 || column + 1 + word > WIDTH) {
            printf("%s%*s", column ? "\n" : "", indent, "");
            column = (size_t)indent;
        } else {
            putchar(' ');
            column++;
        }
        for (size_t i = 0; i < word; i++)
            putchar((unsigned char)text[i] < 0x20 || text[i] == 0x7f ? '?' : text[i]);
        column += word;
        text += word + (text[word] == ' ');
    }
    putchar('\n');
}

void table_paragraph(const char *text)
{
    putchar('\n');
    table_wrapped(text, 0);
}

/* ------------------------------------------------------------------ rows */

/* The cell of one club: the value, and in a table with spreads its " +- ..."; blanks when it has none. */
static void table_cell(char *text, size_t size, const table_row *row, int club, bool spread)
{
    char number[32] = "", more[32] = "";
    if (row->has[club])
        table_number(number, sizeof number, row->value[club], row->decimals);
    if (row->has[club] && spread)
        uncertainty_text(more, sizeof more, row->sd[club], row->decimals);
    snprintf(text, size, spread ? "%10s%-11s" : "%10s%s", number, more);
}

void table_row_print(const table_row *row, bool spread)
{
    char club[64], straight[64], line[256];
    table_cell(club, sizeof club, row, 0, spread);
    table_cell(straight, sizeof straight, row, 1, spread);
    int length =
        snprintf(line, sizeof line, "  %-19s%s%s  %-6s %-10s %s", row->label, club, straight,
                 row->unit, row->word ? row->word : "", spread ? "" : row->meaning);
    while (length > 0 && line[length - 1] == ' ')
        length--;
    printf("%.*s\n", length, line);
}

const char *table_word_of(double value, int decimals, const char *positive, const char *negative)
{
    char number[32];
    table_number(number, sizeof number, value, decimals);
    if (strspn(number, "-0.") == strlen(number))
        return NULL;
    return number[0] == '-' ? negative : positive;
}

/* ------------------------------------------------------------------ the swing */

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

const table_section *table_swing_sections(size_t *count)
{
    *count = SECTION_COUNT;
    return table_sections;
}

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

static const char *table_word_for(size_t row, double value, int decimals)
{
    for (size_t i = 0; i < sizeof table_words / sizeof *table_words; i++)
        if (table_words[i].row == row)
            return table_word_of(value, decimals, table_words[i].positive, table_words[i].negative);
    return NULL;
}

/* One line of meaning; where the ball is, is the player's own choice if the file has one. */
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
    const caber_shot_pair *shots;
    const caber_uncertainty *found; /* NULL = without "+-" */
} table_view;

/* Of a residual there is no spread. */
static void table_impact_row(const caber_field *field, const table_view *view)
{
    const caber_swing *swing = view->swing;
    const caber_uncertainty *found = view->found;
    table_row row = {.label = field->label,
                     .unit = field->unit,
                     .meaning = table_meaning(field, view->setup),
                     .decimals = field->decimals,
                     .has = {true, field->straight},
                     .value = {caber_impact_value(&swing->bent, field),
                               caber_impact_value(&swing->straight, field)}};
    row.word = table_word_for(field->offset, row.value[0], field->decimals);
    if (found && field->offset != AT(energy_residual)) {
        row.sd[0] = caber_impact_value(&found->bent.sd, field);
        row.sd[1] = caber_impact_value(&found->straight.sd, field);
    }
    table_row_print(&row, found != NULL);
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
                table_impact_row(&fields[f], view);
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
    for (size_t s = 0; s < SECTION_COUNT; s++) {
        /* The check of the whole stands last. */
        if (s == SECTION_COUNT - 1 && view->swing->met_ball)
            shot_table_print(view->setup, view->shots, view->found);
        table_section_print(&table_sections[s], fields, count, view);
    }
}

void table_swing(const caber_setup *setup, const caber_swing *swing, const caber_shot_pair *shots)
{
    const table_view view = {setup, swing, shots, NULL};
    table_swing_head(setup, swing);
    printf("\n  %-19s%10s%10s\n", "", "the club", "straight");
    table_sections_print(&view);
}

void table_swing_spread(const caber_setup *setup, const caber_uncertainty *found)
{
    const table_view view = {setup, &found->swing, &found->shots, found};
    printf("\n  %-19s%10s%21s\n", "", "the club", "straight");
    table_sections_print(&view);
}
