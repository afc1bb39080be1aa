/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/bench_plot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/message.h"
#include "club/workshop.h"

enum { PLACES = 241, PANELS = 4, RANGES = 2, LABEL = 64 };
enum { CURVES = CABER_JIG_MOST };

/* Standard deviations either way that hold 95 % of a normal distribution. */
static const double wide = 1.95996398454005423552;

/* The profile as it is, and at either edge of its band. */
enum { FITTED, LOW, HIGH, PROFILES };

/* Everything the figure points to. */
typedef struct sheet {
    const bench_view *view;
    workshop_shapes shapes;
    double butt, clamp,
        hosel;         /* mm from the cut tip: its butt, the clamp's edge, the hosel's mouth */
    double at[PLACES]; /* mm */
    double ei[PROFILES][PLACES], ei_2[PLACES], gj[PROFILES][PLACES];
    double span_at[64], span_ei[64], span_bar[64];
    double bend_at[WORKSHOP_PLACES], bend[WORKSHOP_PLACES], mode_at[WORKSHOP_PLACES];
    double chord_x[2], chord_y[2], gap_x[2], gap_y[2], dot_x[2], dot_y[2], zero_x[2], zero_y[2];
    double held_x[RANGES][2], floor[PANELS][2], roof[PANELS][2];
    double cpm_x[CURVES][CABER_JIG_MOST], cpm[CURVES][CABER_JIG_MOST], bar[CURVES][CABER_JIG_MOST];
    plot_series series[PANELS][RANGES + 2 * CURVES + 2];
    char label[WORKSHOP_MODES + CURVES][LABEL], point[2][LABEL], text[LABEL];
    plot_note note;
    plot_panel panels[PANELS];
    char title[2 * CABER_NAME_SIZE + 120];
} sheet;

static void widen(double value, double *low, double *high)
{
    *low = fmin(*low, value);
    *high = fmax(*high, value);
}

static void hold(plot_panel *p, const double *y, size_t count)
{
    for (size_t i = 0; i < count; i++)
        widen(y[i], &p->y_low, &p->y_high);
}

/* Lines of a panel: the first, the second... each of another ink and stroke. */
static void set_style(plot_series *s, size_t number)
{
    static const plot_shape shapes[] = {PLOT_LINE, PLOT_DASHES, PLOT_DOTTED};
    static const plot_ink inks[] = {PLOT_BLUE,   PLOT_ORANGE, PLOT_GREEN,
                                    PLOT_VIOLET, PLOT_OLIVE,  PLOT_GREY};
    s->shape = shapes[number % 3];
    s->ink = inks[number % 6];
    s->place = (int)number;
}

static plot_series *add(sheet *s, size_t panel, plot_series series)
{
    plot_panel *p = &s->panels[panel];
    plot_series *to = &s->series[panel][p->series_count++];
    *to = series;
    return to;
}

/* ------------------------------------------------------------------ along the shaft */

/* A panel over the length of the cut shaft; what lies in the hosel and in the clamp is grey. */
static plot_panel *start_panel(sheet *s, size_t panel, const char *title, double share)
{
    plot_panel *p = &s->panels[panel];
    *p =
        (plot_panel){.title = title, .share = share, .x_high = s->butt, .series = s->series[panel]};
    for (int r = 0; r < RANGES; r++)
        add(s, panel,
            (plot_series){.shape = PLOT_BAND,
                          .ink = PLOT_GREY,
                          .label = panel == 0 && r == 1 ? "in hosel or clamp" : NULL,
                          .place = 9,
                          .count = 2,
                          .x = s->held_x[r],
                          .y = s->floor[panel],
                          .y_2 = s->roof[panel]});
    return p;
}

static void end_panel(sheet *s, size_t panel)
{
    plot_panel *p = &s->panels[panel];
    const double rim = fmax(0.07 * (p->y_high - p->y_low), 1e-12);
    p->y_low -= p->y_low < 0 ? rim : 0;
    p->y_high += rim;
    for (int i = 0; i < 2; i++) {
        s->floor[panel][i] = p->y_low;
        s->roof[panel][i] = p->y_high;
    }
}

/* ------------------------------------------------------------------ EI and GJ */

/* The shaft with every stiffness off by so many of its standard deviations. */
static caber_status read_profile(const caber_setup *setup, double off, profile **out,
                                 caber_message *message)
{
    caber_shaft shaft = setup->shaft;
    const size_t n = shaft.station_count;
    caber_station *stations = malloc(n * sizeof *stations);
    if (!stations)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    for (size_t i = 0; i < n; i++) {
        double square[2] = {0, 0};
        for (size_t k = 0; k < shaft.errors.count; k++)
            for (int c = 0; c < 2; c++) {
                const double share = shaft.errors.share[(k * n + i) * 3 + (size_t)c];
                square[c] += share * share;
            }
        stations[i] = shaft.stations[i];
        stations[i].ei *= exp(off * sqrt(square[0]));
        stations[i].ei_2 *= exp(off * sqrt(square[0]));
        stations[i].gj *= exp(off * sqrt(square[1]));
    }
    shaft.stations = stations;
    const caber_status status = profile_create(&shaft, &setup->sections, out, message);
    free(stations);
    return status;
}

static caber_status read_profiles(sheet *s, double tip_at, caber_message *message)
{
    static const double off[PROFILES] = {[FITTED] = 0, [LOW] = -1, [HIGH] = 1};
    for (int k = 0; k < PROFILES; k++) {
        profile *p = NULL;
        const caber_status status = read_profile(s->view->setup, wide * off[k], &p, message);
        if (status != CABER_OK)
            return status;
        for (int i = 0; i < PLACES; i++) {
            s->at[i] = s->butt * i / (PLACES - 1);
            const profile_point here = profile_at(p, tip_at + s->at[i] * 1e-3);
            s->ei[k][i] = here.ei;
            s->gj[k][i] = here.gj;
            if (k == FITTED)
                s->ei_2[i] = here.ei_2;
        }
        profile_free(p);
    }
    return CABER_OK;
}

static void add_band(sheet *s, const double *low, const double *high, plot_ink ink)
{
    add(s, 0,
        (plot_series){.shape = PLOT_BAND,
                      .ink = ink,
                      .label = ink == PLOT_BLUE ? "95 % band" : NULL,
                      .place = 5,
                      .count = PLACES,
                      .x = s->at,
                      .y = low,
                      .y_2 = high});
}

static void add_curve(sheet *s, const double *y, const char *label, plot_shape shape, plot_ink ink)
{
    add(s, 0,
        (plot_series){
            .shape = shape, .ink = ink, .label = label, .count = PLACES, .x = s->at, .y = y});
    hold(&s->panels[0], y, PLACES);
}

/* What a three-point jig would call EI there. */
static void add_spans(sheet *s)
{
    const caber_bench *b = s->view->bench;
    for (size_t i = 0; i < b->span_count; i++) {
        s->span_at[i] = b->span_at[i] * 1e3;
        s->span_ei[i] = b->span_ei[i];
        if (s->view->spread)
            s->span_bar[i] = wide * s->view->spread->sd.span_ei[i];
    }
    add(s, 0,
        (plot_series){.shape = PLOT_POINTS,
                      .ink = PLOT_ORANGE,
                      .label = b->span_count ? "three-point bend" : NULL,
                      .place = 3,
                      .count = b->span_count,
                      .x = s->span_at,
                      .y = s->span_ei,
                      .y_2 = s->view->spread ? s->span_bar : NULL});
}

static void fill_stiffness(sheet *s)
{
    bool two = false;
    for (int i = 0; i < PLACES; i++)
        two = two || s->ei_2[i] != s->ei[FITTED][i];
    start_panel(s, 0, "EI and GJ, N m²", 4);
    if (s->view->setup->shaft.errors.count) {
        add_band(s, s->ei[LOW], s->ei[HIGH], PLOT_BLUE);
        add_band(s, s->gj[LOW], s->gj[HIGH], PLOT_VIOLET);
    }
    add_curve(s, s->ei[FITTED], "EI", PLOT_LINE, PLOT_BLUE);
    if (two)
        add_curve(s, s->ei_2, "EI across", PLOT_DOTTED, PLOT_BLUE);
    add_curve(s, s->gj[FITTED], "GJ", PLOT_DASHES, PLOT_VIOLET);
    add_spans(s);
    hold(&s->panels[0], s->span_ei, s->view->bench->span_count);
    end_panel(s, 0);
}

/* ------------------------------------------------------------------ static bend */

static double bend_near(const sheet *s, double at)
{
    int best = 0;
    for (int i = 1; i < WORKSHOP_PLACES; i++)
        if (fabs(s->bend_at[i] - at) < fabs(s->bend_at[best] - at))
            best = i;
    return s->bend[best];
}

/* The chord, and its longest distance from the shaft: the bend point; where the shaft is bent most. */
static void add_bend_points(sheet *s)
{
    const caber_bench *b = s->view->bench;
    plot_panel *p = &s->panels[1];
    s->chord_x[1] = s->clamp;
    s->chord_y[0] = s->bend[0];
    s->dot_x[0] = b->bend_point * 1e3;
    s->dot_x[1] = b->bend_point_curvature * 1e3;
    for (int i = 0; i < 2; i++) {
        s->dot_y[i] = bend_near(s, s->dot_x[i]);
        s->gap_x[i] = s->dot_x[0];
    }
    s->gap_y[0] = s->dot_y[0];
    s->gap_y[1] = s->bend[0] * (1 - s->dot_x[0] / s->clamp);
    add(s, 1,
        (plot_series){
            .shape = PLOT_MARK, .ink = PLOT_GREY, .count = 2, .x = s->chord_x, .y = s->chord_y});
    add(s, 1,
        (plot_series){
            .shape = PLOT_MARK, .ink = PLOT_GREY, .count = 2, .x = s->gap_x, .y = s->gap_y});
    for (int i = 0; i < 2; i++) {
        snprintf(s->point[i], LABEL, i ? "sharpest bend, %.0f mm" : "bend point, %.0f mm",
                 s->dot_x[i]);
        add(s, 1,
            (plot_series){.shape = i ? PLOT_RINGS : PLOT_POINTS,
                          .ink = PLOT_ORANGE,
                          .label = s->point[i],
                          .place = i,
                          .count = 1,
                          .x = s->dot_x + i,
                          .y = s->dot_y + i});
    }
    snprintf(s->text, LABEL, "%.3g mm", s->bend[0]);
    s->note = (plot_note){0, s->bend[0], PLOT_BLUE, s->text, 6};
    p->note_count = 1;
    p->notes = &s->note;
}

static void fill_bend(sheet *s)
{
    plot_panel *p = start_panel(s, 1, "Bend under the load on the tip, mm", 3.4);
    for (int i = 0; i < WORKSHOP_PLACES; i++) {
        s->bend_at[i] = s->shapes.bend_at[i] * 1e3;
        s->bend[i] = s->shapes.bend[i] * 1e3;
    }
    hold(p, s->bend, WORKSHOP_PLACES);
    p->y_low = -0.03 * p->y_high; /* a dot on the axis is a whole dot */
    p->y_high *= 1.08;
    end_panel(s, 1);
    add(s, 1,
        (plot_series){.shape = PLOT_LINE,
                      .ink = PLOT_BLUE,
                      .count = WORKSHOP_PLACES,
                      .x = s->bend_at,
                      .y = s->bend});
    add_bend_points(s);
}

/* ------------------------------------------------------------------ modes */

static void fill_modes(sheet *s)
{
    plot_panel *p = start_panel(s, 2, "Clamped club's modes, face direction, largest 1", 3.4);
    p->x_label = "from the tip of the cut shaft, mm";
    s->zero_x[1] = s->butt;
    add(s, 2,
        (plot_series){
            .shape = PLOT_MARK, .ink = PLOT_GREY, .count = 2, .x = s->zero_x, .y = s->zero_y});
    for (int i = 0; i < WORKSHOP_PLACES; i++)
        s->mode_at[i] = s->shapes.mode_at[i] * 1e3;
    for (size_t m = 0; m < s->shapes.mode_count; m++) {
        snprintf(s->label[m], LABEL, "%.2f Hz", s->shapes.frequency[m]);
        hold(p, s->shapes.mode[m], WORKSHOP_PLACES);
        set_style(add(s, 2,
                      (plot_series){.label = s->label[m],
                                    .count = WORKSHOP_PLACES,
                                    .x = s->mode_at,
                                    .y = s->shapes.mode[m]}),
                  m);
    }
    end_panel(s, 2);
}

/* ------------------------------------------------------------------ frequencies */

/* Numbers of values in ascending order. */
static void ascending(const double *values, size_t count, size_t order[CABER_JIG_MOST])
{
    for (size_t i = 0; i < count; i++) {
        size_t at = i;
        for (; at > 0 && values[order[at - 1]] > values[i]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}

static void mass_label(double mass, char text[LABEL])
{
    if (mass > 0)
        snprintf(text, LABEL, "%.1f g", mass * 1e3);
    else
        snprintf(text, LABEL, "as built");
}

/* A curve through the points of the table that it has; with several clamps curve `k` is tip mass k, else
 * there is one over the tip masses. */
static size_t cpm_points(sheet *s, size_t k, bool by_clamp)
{
    const caber_jig *jig = s->view->jig;
    const double *values = by_clamp ? jig->clamps : jig->tip_masses;
    const size_t count = by_clamp ? jig->clamp_count : jig->tip_mass_count;
    size_t order[CABER_JIG_MOST], n = 0;
    ascending(values, count, order);
    for (size_t i = 0; i < count; i++) {
        const size_t clamp = by_clamp ? order[i] : 0, mass = by_clamp ? k : order[i];
        if (!by_clamp && !(values[order[i]] > 0))
            continue; /* no mass: the built club, a line of its own */
        s->cpm_x[k][n] = values[order[i]] * 1e3;
        s->cpm[k][n] = s->view->bench->table[clamp][mass] * 60;
        if (s->view->spread)
            s->bar[k][n] = wide * s->view->spread->sd.table[clamp][mass] * 60;
        n++;
    }
    return n;
}

static void add_cpm(sheet *s, size_t k, size_t count, const char *label)
{
    plot_series line = {.label = label, .count = count, .x = s->cpm_x[k], .y = s->cpm[k]};
    set_style(&line, k);
    add(s, 3, line);
    line.label = NULL;
    line.shape = PLOT_POINTS;
    line.y_2 = s->view->spread ? s->bar[k] : NULL;
    add(s, 3, line);
    for (size_t i = 0; i < count; i++) {
        widen(s->cpm[k][i] - s->bar[k][i], &s->panels[3].y_low, &s->panels[3].y_high);
        widen(s->cpm[k][i] + s->bar[k][i], &s->panels[3].y_low, &s->panels[3].y_high);
        widen(s->cpm_x[k][i], &s->panels[3].x_low, &s->panels[3].x_high);
    }
}

/* The built club beside several tip masses: level, and no points, as it has no such mass. */
static void add_built(sheet *s, size_t mass)
{
    plot_panel *p = &s->panels[3];
    const double cpm = s->view->bench->table[0][mass] * 60;
    plot_series line = {.label = "the club as built", .count = 2, .x = s->cpm_x[1], .y = s->cpm[1]};
    s->cpm_x[1][0] = p->x_low;
    s->cpm_x[1][1] = p->x_high;
    s->cpm[1][0] = s->cpm[1][1] = cpm;
    set_style(&line, 1);
    add(s, 3, line);
    widen(cpm, &p->y_low, &p->y_high);
}

static void fill_frequencies(sheet *s)
{
    const caber_jig *jig = s->view->jig;
    const bool by_clamp = jig->clamp_count > 1;
    plot_panel *p = &s->panels[3];
    *p = (plot_panel){.title = "Frequency, cpm",
                      .x_label = by_clamp ? "butt in the clamp, mm" : "mass on the tip, g",
                      .share = 3.4,
                      .x_low = HUGE_VAL,
                      .x_high = -HUGE_VAL,
                      .y_low = HUGE_VAL,
                      .y_high = -HUGE_VAL,
                      .series = s->series[3]};
    for (size_t k = 0; k < (by_clamp ? jig->tip_mass_count : 1); k++) {
        if (by_clamp)
            mass_label(jig->tip_masses[k], s->label[WORKSHOP_MODES + k]);
        add_cpm(s, k, cpm_points(s, k, by_clamp),
                by_clamp ? s->label[WORKSHOP_MODES + k] : "bare shaft");
    }
    size_t built = 0;
    while (built < jig->tip_mass_count && jig->tip_masses[built] > 0)
        built++;
    if (!by_clamp && built < jig->tip_mass_count)
        add_built(s, built);
    const double x = fmax(0.04 * (p->x_high - p->x_low), 1),
                 y = fmax(0.08 * (p->y_high - p->y_low), 1);
    p->x_low -= x, p->x_high += x;
    p->y_low -= y, p->y_high += y;
}

/* ------------------------------------------------------------------ the figure */

static void set_title(sheet *s)
{
    const caber_bench *b = s->view->bench;
    char weight[16], mass[LABEL];
    caber_swing_weight(b->swing_moment, weight, sizeof weight);
    mass_label(s->view->jig->tip_mass, mass);
    snprintf(s->title, sizeof s->title, "%s: on the bench\n%.1f cpm %s%s, twist %.2f deg, %s",
             s->view->setup->name, b->frequency * 60, s->view->jig->tip_mass > 0 ? "with " : "",
             mass, b->twist * CABER_DEG, weight);
}

bool bench_plot_has_several(const caber_jig *jig)
{
    size_t masses = 0;
    for (size_t i = 0; i < jig->tip_mass_count; i++)
        masses += jig->tip_masses[i] > 0;
    return jig->clamp_count > 1 || masses > 1;
}

static caber_status fill(sheet *s, const bench_view *view, const club *c, caber_message *message)
{
    s->view = view;
    s->butt = (c->butt_at - c->tip_at) * 1e3;
    s->clamp = s->butt - view->jig->clamp * 1e3;
    s->hosel = (c->end_at - c->tip_at) * 1e3;
    s->held_x[0][1] = s->hosel;
    s->held_x[1][0] = s->clamp;
    s->held_x[1][1] = s->butt;
    caber_status status = workshop_shapes_find(c, view->jig, &s->shapes, message);
    if (status == CABER_OK)
        status = read_profiles(s, c->tip_at, message);
    if (status != CABER_OK)
        return status;
    fill_stiffness(s);
    fill_bend(s);
    fill_modes(s);
    if (view->frequencies)
        fill_frequencies(s);
    set_title(s);
    return CABER_OK;
}

caber_status bench_plot(const bench_view *view, plot_format format, char **bytes, size_t *size,
                        caber_message *message)
{
    sheet *s = calloc(1, sizeof *s);
    club *c = NULL;
    *bytes = NULL;
    caber_status status = s ? club_create(view->setup, &c, message)
                            : message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    if (status == CABER_OK)
        status = fill(s, view, c, message);
    if (status == CABER_OK) {
        const plot_figure figure = {.title = s->title,
                                    .width = 504,
                                    .height = view->frequencies ? 700 : 560,
                                    .panel_count = view->frequencies ? 4 : 3,
                                    .panels = s->panels};
        status = plot_draw(&figure, format, bytes, size, message);
    }
    club_free(c);
    free(s);
    return status;
}
