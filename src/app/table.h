/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The text tables: what a fitter reads, at most 100 columns wide. */
#ifndef APP_TABLE_H
#define APP_TABLE_H

#include "caber.h"

/* Prints the title of a table, underlined, and a name after a word, such as "  shaft  ...". */
void table_title(const char *title);
void table_name(const char *word, const char *name);
/* Prints the head of a group of rows. */
void table_group(const char *title);
/* Writes a value as tables do: `decimals` places, -1 = scientific; never "-0.00". */
void table_number(char *text, size_t size, double value, int decimals);

/* Prints a paragraph, broken between words, each line `indent` in; control characters as '?'. */
void table_wrapped(const char *text, int indent);
/* The same after a blank line and from the margin. */
void table_paragraph(const char *text);

/* A row of a table with a column for the club and one for the straight club. */
typedef struct table_row {
    const char *label, *unit, *meaning;
    const char *word; /* of the club's value; NULL = none */
    int decimals;
    bool has[2];     /* the club, the straight one */
    double value[2]; /* as printed */
    double sd[2];    /* with spreads; 0 = the value stands alone */
} table_row;

/* Prints a row, with spreads in place of what it means, or without. */
void table_row_print(const table_row *row, bool spread);
/* Returns the word for a value as it is printed: NULL when it reads as zero. */
const char *table_word_of(double value, int decimals, const char *positive, const char *negative);

/* A group of rows of the table of a swing or its ball; a row is the place of its field in its struct. */
typedef struct table_section {
    const char *title;
    size_t count;
    size_t rows[24];
} table_section;

/* Returns the groups of the fields of caber_impact. */
const table_section *table_swing_sections(size_t *count);

/* Prints whose swing it is and what its figures are read under; then the table of a swing. */
void table_swing_head(const caber_setup *setup, const caber_swing *swing);
void table_swing(const caber_setup *setup, const caber_swing *swing, const caber_shot_pair *shots);
/* Prints the same rows with "+-" behind each value, and without what the rows mean. */
void table_swing_spread(const caber_setup *setup, const caber_uncertainty *found);

#endif
