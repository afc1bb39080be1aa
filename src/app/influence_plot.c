/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/influence_plot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "app/plot.h"
#include "base/message.h"

/* Points: the height of a row, and of what stands above and below a panel's rows. */
static const double row_height = 17, around = 62, title_height = 20;
/* Half the thickness of a bar where it is alone in its row, and where there are two: rows. */
static const double thick = 0.3, thin = 0.16, apart = 0.2;
enum { KINDS = 2 }; /* bars of a factor at most: first order and total */

/* Bars of one kind. Lengths are in x, their places in y, half their thickness in half. */
typedef struct bars {
    double *x, *y, *half;
    double *end_x, *end_y; /* [2 count], the ends of the intervals */
} bars;

/* What a panel points to. */
typedef struct sheet {
    size_t count;      /* factors */
    double *numbers;   /* owned: room for all columns */
    size_t *order;     /* [count] */
    const char **rows; /* [count], from the bottom */
    char (*names)[INFLUENCE_NAME_SIZE];
    bars of[KINDS];
    plot_series *series; /* bars, then a line a factor, of each kind */
    char title[200];
} sheet;

static void sheet_free(sheet *s)
{
    free(s->numbers);
    free(s->order);
    free(s->rows);
    free(s->names);
    free(s->series);
}

enum { COLUMNS = 7 }; /* of a kind: x, y, half, two each for the ends */

static bool sheet_create(sheet *s, size_t count)
{
    *s = (sheet){.count = count};
    s->numbers = calloc(KINDS * COLUMNS * count + 1, sizeof *s->numbers);
    s->order = calloc(count + 1, sizeof *s->order);
    s->rows = calloc(count + 1, sizeof *s->rows);
    s->names = calloc(count + 1, sizeof *s->names);
    s->series = calloc(KINDS * (count + 1), sizeof *s->series);
    for (int kind = 0; kind < KINDS && s->numbers; kind++) {
        double *at = s->numbers + (size_t)kind * COLUMNS * count;
        s->of[kind] = (bars){at, at + count, at + 2 * count, at + 3 * count, at + 5 * count};
    }
    return s->numbers && s->order && s->rows && s->names && s->series;
}

static bool is_constant(const influence_panel *p)
{
    return p->sobol ? p->sobol->constant : p->regression ? p->regression->constant : false;
}

static int kinds_of(const influence_panel *p)
{
    return p->sobol ? 2 : 1;
}

/* What the rows are ordered by comes first. */
static const resample_range *range_of(const influence_panel *p, size_t factor, int kind)
{
    if (p->sobol)
        return kind ? &p->sobol->index[factor].first : &p->sobol->index[factor].total;
    if (p->morris)
        return &p->morris->effect[factor].size;
    return &p->regression->factor[factor].standard;
}

/* Bytes from one factor's to the next one's. */
static size_t apart_of(const influence_panel *p)
{
    return p->sobol    ? sizeof *p->sobol->index
           : p->morris ? sizeof *p->morris->effect
                       : sizeof *p->regression->factor;
}

static const char *label_of(const influence_panel *p, int kind)
{
    return !p->sobol || is_constant(p) ? NULL : kind ? "first order" : "total";
}

/* ------------------------------------------------------------------ a panel */

static void fill_rows(sheet *s, const influence_panel *p)
{
    if (s->count)
        influence_order(&range_of(p, 0, 0)->value, apart_of(p), s->count, s->order);
    for (size_t i = 0; i < s->count; i++) {
        influence_name_clip(p->view.factors[s->order[i]], s->names[i]);
        s->rows[s->count - 1 - i] = s->names[i];
    }
}

/* Of one kind; returns how many series there are. */
static size_t fill_bars(sheet *s, const influence_panel *p, int kind, size_t used)
{
    const bars *b = &s->of[kind];
    const bool alone = kinds_of(p) == 1;
    s->series[used++] = (plot_series){.shape = PLOT_BARS,
                                      .ink = kind || alone ? PLOT_BLUE : PLOT_ORANGE,
                                      .label = label_of(p, kind),
                                      .count = s->count,
                                      .x = b->x,
                                      .y = b->y,
                                      .y_2 = b->half};
    for (size_t i = 0; i < s->count; i++) {
        const resample_range *range = range_of(p, s->order[i], kind);
        b->x[i] = range->value;
        b->y[i] = (double)(s->count - i) + (alone ? 0 : kind ? apart : -apart);
        b->half[i] = alone ? thick : thin;
        b->end_x[2 * i] = range->low;
        b->end_x[2 * i + 1] = range->high;
        b->end_y[2 * i] = b->end_y[2 * i + 1] = b->y[i];
        s->series[used++] = (plot_series){.shape = PLOT_LINE,
                                          .ink = PLOT_GREY,
                                          .count = 2,
                                          .x = b->end_x + 2 * i,
                                          .y = b->end_y + 2 * i};
    }
    return used;
}

/* Shares from 0 to 1, slopes from -1 to 1, effects from 0, and whatever the intervals need. */
static void find_range(const influence_panel *p, const sheet *s, plot_panel *out)
{
    out->x_low = p->regression ? -1 : 0;
    out->x_high = p->morris ? 0 : 1;
    for (size_t i = 0; i < s->count; i++)
        for (int kind = 0; kind < kinds_of(p); kind++) {
            const resample_range *range = range_of(p, i, kind);
            out->x_low = fmin(out->x_low, fmin(range->low, range->value));
            out->x_high = fmax(out->x_high, fmax(range->high, range->value));
        }
    if (!(out->x_high > out->x_low))
        out->x_high = out->x_low + 1; /* effects that are all 0 */
    const double rim = 0.02 * (out->x_high - out->x_low);
    out->x_low -= out->x_low < 0 ? rim : 0;
    out->x_high += rim;
}

/* What its bars are. */
static const char *measure_of(const influence_panel *p)
{
    return p->sobol                ? "share of the variance"
           : p->morris             ? "mu*, mean size of the effects over the whole range"
           : p->regression->ranked ? "standard deviations a standard deviation, in ranks"
                                   : "standard deviations a standard deviation";
}

static plot_panel panel_of(sheet *s, const influence_panel *p)
{
    plot_panel out = {.title = s->title, .x_label = measure_of(p)};
    size_t used = 0;
    snprintf(s->title, sizeof s->title, "%s%s%s%s", p->view.label, p->view.unit[0] ? ", " : "",
             p->view.unit, is_constant(p) ? ": does not vary" : "");
    fill_rows(s, p);
    for (int kind = kinds_of(p) - 1; kind >= 0; kind--)
        used = fill_bars(s, p, kind, used);
    find_range(p, s, &out);
    out.share = around + row_height * (double)s->count;
    out.y_low = 0.4;
    out.y_high = (double)s->count + 0.6;
    out.row_count = s->count;
    out.rows = s->rows;
    out.series_count = used;
    out.series = s->series;
    return out;
}

caber_status influence_plot(const char *title, const influence_panel *panels, size_t count,
                            plot_format format, char **text, size_t *size, caber_message *message)
{
    sheet sheets[INFLUENCE_PANELS_MOST] = {{0}};
    plot_panel drawn[INFLUENCE_PANELS_MOST];
    plot_figure figure = {
        .title = title, .width = 504, .height = title_height, .panel_count = 0, .panels = drawn};
    caber_status status = CABER_OK;
    *text = NULL;
    *size = 0;
    if (count == 0 || count > INFLUENCE_PANELS_MOST)
        return message_set(message, CABER_BAD_INPUT, "a figure of %zu outputs: allowed are 1 to %d",
                           count, INFLUENCE_PANELS_MOST);
    for (size_t i = 0; i < count && status == CABER_OK; i++) {
        if (!sheet_create(&sheets[i], panels[i].view.factor_count)) {
            status = message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
            break;
        }
        drawn[i] = panel_of(&sheets[i], &panels[i]);
        figure.height += drawn[i].share;
        figure.panel_count++;
    }
    if (status == CABER_OK)
        status = plot_draw(&figure, format, text, size, message);
    for (size_t i = 0; i < INFLUENCE_PANELS_MOST; i++)
        sheet_free(&sheets[i]);
    return status;
}
