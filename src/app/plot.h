/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Figures: panels one below the other, each with its axes, curves, bands and points. PLplot draws them, and
 * plot.c alone knows it. The same figure gives the same bytes: no clock. In SVG texts are texts, set in the
 * reader's own sans-serif; in PNG they are drawn with this machine's. Texts are UTF-8. */
#ifndef APP_PLOT_H
#define APP_PLOT_H

#include "caber.h"

/* Colours that differ in lightness as well as in hue. */
typedef enum plot_ink {
    PLOT_BLUE,
    PLOT_ORANGE,
    PLOT_GREEN,
    PLOT_VIOLET,
    PLOT_OLIVE,
    PLOT_GREY,
    PLOT_INKS
} plot_ink;

typedef enum plot_shape {
    PLOT_LINE,   /* through (x, y) */
    PLOT_DASHES, /* the same, broken */
    PLOT_DOTTED, /* the same, in short strokes, as thick as a line */
    PLOT_MARK,   /* the same, in fine ones: what is no curve */
    PLOT_BAND,   /* between (x, y) and (x, y_2), pale */
    PLOT_POINTS, /* dots, with bars from y to y_2 either way where y_2 is given */
    PLOT_RINGS,  /* hollow dots */
    PLOT_CLOUD,  /* small dots, for hundreds of them */
    PLOT_BARS,   /* lying, from 0 to x, y_2 to either side of y */
} plot_shape;

/* Everything a figure is made of belongs to the caller. */
typedef struct plot_series {
    plot_shape shape;
    plot_ink ink;
    const char *label; /* in the legend; NULL = not there */
    int place;         /* in the legend: lower ones first, of equal ones lines before the others */
    size_t count;
    const double *x, *y;
    const double *y_2; /* of a band its other edge; of points how far their bars go, NULL = none;
                          of bars half their thickness */
} plot_series;

/* A text beside a point. */
typedef struct plot_note {
    double x, y;
    plot_ink ink;
    const char *text;
    double
        lift; /* points above it; where that is not 0, over it rather than beside it, if there is room */
} plot_note;

typedef struct plot_panel {
    const char *title; /* over the panel: what goes up, with its unit */
    const char
        *x_label; /* below it: what goes to the right, with its unit; NULL = the next panel has the
                            same axis and says so: no numbers either */
    double share; /* of the figure's height, beside the other panels' shares */
    double x_low, x_high, y_low, y_high;
    bool equal; /* a unit is as long up as to the right: the ranges are widened for it */
    size_t row_count;
    const char *const *rows; /* names at y = 1, 2... in place of numbers; no rows = numbers */
    size_t series_count;
    const plot_series *series; /* the first lies lowest */
    size_t note_count;
    const plot_note *notes;
} plot_panel;

typedef struct plot_figure {
    const char *title;    /* broken into lines where it is too long, and at '\n' */
    double width, height; /* points, 72 an inch; with one line of title, more make it higher */
    size_t panel_count;
    const plot_panel *panels;
} plot_figure;

/* Columns of numbers that series point into; begin with {.good = true}, free together. */
typedef struct plot_columns {
    size_t used;
    double *item[400];
    bool good; /* false once one could not be had */
} plot_columns;

/* Returns a new column of `count` zeros; it may hold one more. */
double *plot_columns_add(plot_columns *c, size_t count);
void plot_columns_free(plot_columns *c);

typedef enum plot_format { PLOT_SVG, PLOT_PNG } plot_format;

/* Dots an inch of a PNG. */
enum { PLOT_RESOLUTION = 150 };

/* Returns whether the library can draw it here; else *package is Debian's that is missing. */
bool plot_can_draw(plot_format format, const char **package);
/* Given the path of a file; returns what its ending asks for: .png, or else SVG. NULL is allowed. */
plot_format plot_format_of(const char *path);

/* Given a figure; returns it as a file of that format, to be freed with free(), and its length in *size.
 * Errors: CABER_NO_MEMORY, CABER_INTERNAL when the library refuses to draw. */
caber_status plot_draw(const plot_figure *figure, plot_format format, char **bytes, size_t *size,
                       caber_message *message);

#endif
