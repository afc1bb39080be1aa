/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The scatter as a picture: where the balls land, seen from above with the target at the top, and
 * which habits make carry and side vary. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/landing_plot.h"
#include "app/outputs.h"
#include "app/plot.h"
#include "app/scatter.h"
#include "base/message.h"

/* Balls that are drawn; more would hide each other. */
enum { BALLS = 1000, CORNERS = 72, ROWS = CABER_HABITS + 1 };

static const plot_ink inks[SCATTER_SETUPS] = {PLOT_BLUE, PLOT_ORANGE};

/* Of one setup, in m: x to the right as one looks to the target, y towards it. */
typedef struct cloud {
    size_t count;
    double x[BALLS], y[BALLS];
    double ring_x[2][CORNERS + 1], ring_y[2][CORNERS + 1]; /* ellipses for 50 % and 90 % */
} cloud;

/* Of one output: the shares of its variance, a row a habit. */
typedef struct split {
    double at[SCATTER_SETUPS][ROWS], share[SCATTER_SETUPS][ROWS], half[ROWS];
    plot_series series[SCATTER_SETUPS];
    char title[80];
} split;

/* Everything the figure points to. */
typedef struct sheet {
    cloud clouds[SCATTER_SETUPS];
    landing_lines lines;
    plot_series landing[LANDING_LINES + 3 * SCATTER_SETUPS];
    size_t habits[CABER_HABITS], row_count;
    const char *rows[ROWS];
    split splits[2];
    plot_panel panels[3];
    char title[2 * SCATTER_NAME_SIZE + 48];
} sheet;

/* Away from the golfer is to the right of a right-handed one. */
static double right_of(const scatter_view *view, size_t club, double away)
{
    return view->setups[club]->player.handed == CABER_LEFT ? -away : away;
}

/* ------------------------------------------------------------------ the landing */

static void fill_cloud(cloud *c, const scatter_view *view, size_t club)
{
    const caber_scatter_club *from = &view->found->clubs[club];
    for (size_t i = 0; i < from->draws.count && c->count < BALLS; i++) {
        if (!from->good[i])
            continue;
        c->x[c->count] = right_of(view, club, from->outcomes[i].shot.side);
        c->y[c->count++] = from->outcomes[i].shot.carry;
    }
    const caber_landing *l = &from->landing;
    for (int ring = 0; ring < 2; ring++)
        for (int i = 0; i <= CORNERS; i++) {
            const double turn = 6.28318530717958647692 * i / CORNERS;
            const double scale = ring ? l->scale_90 : l->scale_50;
            const double a = scale * l->major * cos(turn), b = scale * l->minor * sin(turn);
            c->ring_x[ring][i] =
                right_of(view, club, l->side + a * sin(l->turn) + b * cos(l->turn));
            c->ring_y[ring][i] = l->carry + a * cos(l->turn) - b * sin(l->turn);
        }
}

static size_t add_balls(sheet *s, size_t n, const scatter_view *view)
{
    static const char *const which[SCATTER_SETUPS] = {"first", "second"};
    for (size_t club = 0; club < view->count; club++)
        s->landing[n++] = (plot_series){.shape = PLOT_CLOUD,
                                        .ink = inks[club],
                                        .label = view->count > 1 ? which[club] : "balls",
                                        .place = LANDING_BALLS,
                                        .count = s->clouds[club].count,
                                        .x = s->clouds[club].x,
                                        .y = s->clouds[club].y};
    return n;
}

static size_t add_rings(sheet *s, size_t n, const scatter_view *view)
{
    for (size_t club = 0; club < view->count; club++)
        for (int ring = 0; ring < 2; ring++)
            s->landing[n++] = (plot_series){.shape = ring ? PLOT_LINE : PLOT_DASHES,
                                            .ink = inks[club],
                                            .label = club   ? NULL
                                                     : ring ? "90 %"
                                                            : "50 %",
                                            .place = ring ? LANDING_90 : LANDING_50,
                                            .count = CORNERS + 1,
                                            .x = s->clouds[club].ring_x[ring],
                                            .y = s->clouds[club].ring_y[ring]};
    return n;
}

/* Which side of the golfer is to the right, where all of them stand alike. */
static const char *side_label(const scatter_view *view)
{
    size_t left = 0;
    for (size_t club = 0; club < view->count; club++)
        left += view->setups[club]->player.handed == CABER_LEFT;
    return left == 0             ? "side, m: right of the target line, away from the golfer"
           : left == view->count ? "side, m: right of the target line, towards the golfer"
                                 : "side, m: right of the target line";
}

static void fill_landing(sheet *s, const scatter_view *view)
{
    for (size_t club = 0; club < view->count; club++)
        fill_cloud(&s->clouds[club], view, club);
    const size_t n = add_rings(s, add_balls(s, LANDING_LINES, view), view);
    s->panels[0].x_label = side_label(view);
    landing_plot(&s->panels[0], s->landing, n, &s->lines, view->found->settings.fairway);
}

/* ------------------------------------------------------------------ the split */

static void widen(double value, double *low, double *high)
{
    *low = fmin(*low, value);
    *high = fmax(*high, value);
}

static double most_share(const scatter_view *view, size_t habit)
{
    static const char *const names[2] = {"carry_m", "side_m"};
    double most = 0;
    for (int i = 0; i < 2; i++)
        for (size_t club = 0; club < view->count; club++)
            most = fmax(
                most,
                fabs(view->found->clubs[club].spreads[caber_output_find(names[i])].share[habit]));
    return most;
}

/* Habits that take part in either, the first on top; rows are numbered from below. */
static void find_rows(sheet *s, const scatter_view *view)
{
    size_t count = 0;
    for (size_t k = 0; k < CABER_HABITS; k++)
        if (most_share(view, k) > 0.005)
            s->habits[count++] = k;
    s->row_count = count + 1;
    s->rows[0] = "jointly";
    for (size_t i = 0; i < count; i++)
        s->rows[count - i] = caber_habit_about((caber_habit)s->habits[i]).name;
}

static void fill_bars(split *p, const sheet *s, const scatter_view *view, size_t club,
                      const caber_spread *spread)
{
    const size_t count = s->row_count - 1;
    const double thick = view->count > 1 ? 0.19 : 0.3, off = view->count > 1 ? 0.2 : 0;
    for (size_t row = 0; row <= count; row++) {
        p->half[row] = thick;
        p->at[club][row] = (double)(row + 1) + (club ? -off : off);
        p->share[club][row] = 100 * (row ? spread->share[s->habits[count - row]] : spread->rest);
    }
    p->series[club] = (plot_series){.shape = PLOT_BARS,
                                    .ink = inks[club],
                                    .count = s->row_count,
                                    .x = p->share[club],
                                    .y = p->at[club],
                                    .y_2 = p->half};
}

static void fill_split(sheet *s, const scatter_view *view, int which)
{
    const size_t output = caber_output_find(which ? "side_m" : "carry_m");
    split *p = &s->splits[which];
    double low = 0, high = 0;
    for (size_t club = 0; club < view->count; club++) {
        fill_bars(p, s, view, club, &view->found->clubs[club].spreads[output]);
        for (size_t row = 0; row < s->row_count; row++)
            widen(p->share[club][row], &low, &high);
    }
    snprintf(p->title, sizeof p->title, "What makes the %s vary", which ? "side" : "carry");
    s->panels[1 + which] = (plot_panel){.title = p->title,
                                        .x_label = "share of the variance, %",
                                        .share = 62 + 13 * (double)s->row_count,
                                        .x_low = low < 0 ? low - 0.06 * (high - low) : 0,
                                        .x_high = high > 0 ? 1.06 * high : 1,
                                        .y_low = 0.4,
                                        .y_high = (double)s->row_count + 0.6,
                                        .row_count = s->row_count,
                                        .rows = s->rows,
                                        .series_count = view->count,
                                        .series = p->series};
}

/* ------------------------------------------------------------------ the figure */

/* Whether both do not fit into one line. */
static bool long_names(const scatter_view *view)
{
    return strlen(view->names[0]) + strlen(view->names[1]) > 50;
}

static void fill_title(sheet *s, const scatter_view *view)
{
    if (view->count > 1)
        snprintf(s->title, sizeof s->title,
                 long_names(view) ? "first: %s\nsecond: %s" : "%s (first) and %s (second)",
                 view->names[0], view->names[1]);
    else
        snprintf(s->title, sizeof s->title, "%s: %zu swings", view->names[0],
                 scatter_good(view, 0));
}

caber_status scatter_plot(const scatter_view *view, plot_format format, char **text, size_t *size,
                          caber_message *message)
{
    sheet *s = calloc(1, sizeof *s);
    *text = NULL;
    if (!s)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    fill_title(s, view);
    fill_landing(s, view);
    find_rows(s, view);
    fill_split(s, view, 0);
    fill_split(s, view, 1);
    const plot_figure figure = {.title = s->title,
                                .width = 504,
                                .height = 20 + s->panels[0].share + s->panels[1].share +
                                          s->panels[2].share,
                                .panel_count = 3,
                                .panels = s->panels};
    const caber_status status = plot_draw(&figure, format, text, size, message);
    free(s);
    return status;
}
