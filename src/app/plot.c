/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/plot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <plplot/plplot.h>
#include <zlib.h>

#include "base/message.h"
#include "base/text.h"

/* ------------------------------------------------------------------ style */

/* A format of files, and how it is drawn. */
typedef struct plot_way {
    const char *driver;  /* PLplot's name of it */
    const char *package; /* of Debian, that has the driver */
    double scale;        /* its dots a point */
    double letters;      /* mm, their height as PLplot counts it; they come out as 9 points */
} plot_way;

static const plot_way plot_ways[] = {
    [PLOT_SVG] = {"svg", "libplplot17", 1, 2.35},
    [PLOT_PNG] = {"pngcairo", "plplot-driver-cairo", PLOT_RESOLUTION / 72.0, 2.13}};

/* PLplot's colours by number: paper, then the inks, then these, then the inks once more, pale. */
enum { COLOUR_INK = 1, COLOUR_GRID = COLOUR_INK + PLOT_INKS, COLOUR_TEXT, COLOUR_PALE };
enum { COLOUR_COUNT = COLOUR_PALE + PLOT_INKS };

static const int plot_inks[PLOT_INKS] = {0x1b3a5c, 0xc2571a, 0x3f8f6b,
                                         0x8c6bb1, 0xa08a1f, 0x5b5b5b};

/* Points, 72 an inch: what stands around a panel, and the radius of a dot. */
static const double margin_left = 42, margin_right = 10, margin_top = 26, margin_bottom = 36,
                    margin_unlabelled = 24, margin_bare = 4;
static const double title_height = 20, title_lift = 12, line_height = 13, dot = 1.9;
static const double paleness = 0.2;

static void set_colour(int number, int rgb, double opacity)
{
    plscol0a(number, rgb >> 16, rgb >> 8 & 0xff, rgb & 0xff, opacity);
}

static void set_style(void)
{
    plscmap0n(COLOUR_COUNT);
    set_colour(0, 0xffffff, 1);
    set_colour(COLOUR_GRID, 0xdddddd, 1);
    set_colour(COLOUR_TEXT, 0x222222, 1);
    for (int i = 0; i < PLOT_INKS; i++) {
        set_colour(COLOUR_INK + i, plot_inks[i], 1);
        set_colour(COLOUR_PALE + i, plot_inks[i], paleness);
    }
}

/* PLplot's letters are escaped by '#', which a name may hold. Returns a copy, to be freed. */
static char *escaped(const char *text)
{
    char *copy = malloc(2 * strlen(text) + 1), *to = copy;
    for (; copy && *text; text++) {
        if (*text == '#')
            *to++ = '#';
        *to++ = (unsigned char)*text < 0x20 ? '?' : *text;
    }
    if (copy)
        *to = '\0';
    return copy;
}

/* ------------------------------------------------------------------ one panel */

/* Where a panel lies, and the size of a point in what is drawn. */
typedef struct frame {
    const plot_panel *panel;
    double left, right, bottom, top; /* points, from the lower left corner of the figure */
    double x_point, y_point;         /* x and y of one point */
    double scale;                    /* of widths and letters: dots of the device a point */
    bool good;                       /* there was memory for all */
} frame;

static void set_width(const frame *f, double points)
{
    plwidth(points * f->scale);
}

static void draw_dot(const frame *f, double x, double y, plot_shape shape)
{
    enum { CORNERS = 12 };
    const int corners = shape == PLOT_CLOUD ? 8 : CORNERS;
    const double radius = dot * (shape == PLOT_RINGS ? 1.2 : shape == PLOT_CLOUD ? 0.6 : 1);
    double px[CORNERS + 1], py[CORNERS + 1];
    for (int i = 0; i <= corners; i++) {
        const double turn = 6.28318530717958647692 * i / corners;
        px[i] = x + radius * f->x_point * cos(turn);
        py[i] = y + radius * f->y_point * sin(turn);
    }
    if (shape == PLOT_RINGS)
        plline(corners + 1, px, py);
    else
        plfill(corners, px, py);
}

static void draw_points(const frame *f, const plot_series *s)
{
    set_width(f, 0.8);
    for (size_t i = 0; i < s->count; i++) {
        if (s->y_2)
            pljoin(s->x[i], s->y[i] - s->y_2[i], s->x[i], s->y[i] + s->y_2[i]);
        draw_dot(f, s->x[i], s->y[i], s->shape);
    }
}

static void draw_band(frame *f, const plot_series *s)
{
    const size_t n = s->count;
    double *x = malloc(4 * n * sizeof *x), *y = x + 2 * n;
    f->good = f->good && x;
    if (!x)
        return;
    for (size_t i = 0; i < n; i++) {
        x[i] = x[2 * n - 1 - i] = s->x[i];
        y[i] = s->y[i];
        y[2 * n - 1 - i] = s->y_2[i];
    }
    plcol0(COLOUR_PALE + (int)s->ink);
    set_width(f, 0); /* of the rim, which would make it larger */
    plfill((PLINT)(2 * n), x, y);
    free(x);
}

static void draw_bars(const frame *f, const plot_series *s)
{
    set_width(f, 0);
    for (size_t i = 0; i < s->count; i++) {
        const double low = s->y[i] - s->y_2[i], high = s->y[i] + s->y_2[i];
        const double x[4] = {0, s->x[i], s->x[i], 0}, y[4] = {low, low, high, high};
        plfill(4, x, y);
    }
}

static void draw_line(const frame *f, const plot_series *s)
{
    static const struct {
        double width;    /* points */
        PLINT on, space; /* um of a page; 0 = unbroken */
    } styles[] = {[PLOT_LINE] = {1.4, 0, 0},
                  [PLOT_DASHES] = {0.9, 1500, 1200},
                  [PLOT_DOTTED] = {1.6, 500, 700},
                  [PLOT_MARK] = {0.6, 900, 700}};
    const PLINT on = (PLINT)(styles[s->shape].on * f->scale);
    const PLINT space = (PLINT)(styles[s->shape].space * f->scale);
    set_width(f, styles[s->shape].width);
    plstyl(on > 0, &on, &space);
    plline((PLINT)s->count, s->x, s->y);
    plstyl(0, &on, &space);
}

static void draw_series(frame *f, const plot_series *s)
{
    if (s->count == 0)
        return;
    plcol0(COLOUR_INK + (int)s->ink);
    switch (s->shape) {
    case PLOT_BAND:
        draw_band(f, s);
        break;
    case PLOT_LINE:
    case PLOT_DASHES:
    case PLOT_DOTTED:
    case PLOT_MARK:
        draw_line(f, s);
        break;
    case PLOT_POINTS:
    case PLOT_RINGS:
    case PLOT_CLOUD:
        draw_points(f, s);
        break;
    case PLOT_BARS:
        draw_bars(f, s);
        break;
    }
}

/* How wide a text comes out, in points: the reader's font is not known here, so on the wide side. */
static double text_width(const char *text)
{
    double letters_of = 0;
    for (; *text; text++)
        letters_of += ((unsigned char)*text & 0xc0) != 0x80;
    return 4.7 * letters_of;
}

/* On the side of the point where there is more room. */
static void draw_note(frame *f, const plot_note *note)
{
    const plot_panel *p = f->panel;
    char *text = escaped(note->text);
    f->good = f->good && text;
    if (!text)
        return;
    const double half = text_width(note->text) / 2 * f->x_point;
    const bool left = note->x > (p->x_low + p->x_high) / 2;
    const bool over = note->lift != 0 && note->x - half > p->x_low && note->x + half < p->x_high;
    plcol0(COLOUR_INK + (int)note->ink);
    plptex(note->x + (over   ? 0
                      : left ? -5
                             : 5) *
                         f->x_point,
           note->y + note->lift * f->y_point, 1, 0,
           over   ? 0.5
           : left ? 1
                  : 0,
           text);
    free(text);
}

/* ------------------------------------------------------------------ legend */

static bool is_dots(plot_shape shape)
{
    return shape == PLOT_POINTS || shape == PLOT_RINGS || shape == PLOT_CLOUD;
}

static double legend_sample(const plot_series *s)
{
    return is_dots(s->shape) ? 2 * dot : s->shape == PLOT_BARS ? 8 : 18;
}

static double legend_width(const plot_series *s)
{
    const double sample = legend_sample(s);
    return sample + 4 + text_width(s->label) + 10;
}

/* A sample of the series and what it is, from x on; the middle of the row is y = 0. */
static void legend_entry(frame *f, const plot_series *s, double x)
{
    const bool dots = is_dots(s->shape);
    const bool bar = s->shape == PLOT_BARS, thick = s->shape == PLOT_BAND;
    const double half = thick ? 4 : 0, width = legend_sample(s);
    const double px[2] = {dots ? x + dot : x, x + width}, py[2] = {-half, -half};
    const double high[2] = {half, half}, corner_x[4] = {x, x + width, x + width, x},
                 corner_y[4] = {-3, -3, 3, 3};
    const plot_series sample = {.shape = s->shape,
                                .ink = s->ink,
                                .count = dots ? 1 : 2,
                                .x = px,
                                .y = py,
                                .y_2 = thick ? high : NULL};
    char *text = escaped(s->label);
    f->good = f->good && text;
    if (!bar)
        draw_series(f, &sample);
    plcol0(COLOUR_INK + (int)s->ink);
    set_width(f, 0);
    if (bar)
        plfill(4, corner_x, corner_y);
    plcol0(COLOUR_TEXT);
    if (text)
        plptex(x + width + 4, 0, 1, 0, 0, text);
    free(text);
}

/* More labels than a figure can use. */
enum { LEGEND = 24 };

static int legend_rank(const plot_series *s)
{
    return 2 * s->place + (s->shape != PLOT_LINE);
}

/* Fills `order` with the series that are in the legend, by their places; returns how many. */
static size_t legend_order(const plot_panel *p, const plot_series *order[LEGEND])
{
    size_t count = 0;
    for (size_t i = 0; i < p->series_count && count < LEGEND; i++) {
        const plot_series *s = &p->series[i];
        size_t at = s->label ? count++ : count;
        for (; s->label && at > 0 && legend_rank(order[at - 1]) > legend_rank(s); at--)
            order[at] = order[at - 1];
        if (s->label)
            order[at] = s;
    }
    return count;
}

/* How many of the entries from order[first] on go into a row; one does always. */
static size_t legend_fit(const plot_series *const *order, size_t first, size_t count, double room)
{
    size_t n = first;
    for (; n < count && (n == first || legend_width(order[n]) <= room); n++)
        room -= legend_width(order[n]);
    return n - first;
}

/* What the title of a panel leaves of the first row. */
static double legend_room(const plot_panel *p, double width, bool first)
{
    return width - (first ? text_width(p->title) + 10 : 0);
}

static size_t legend_rows(const plot_panel *p, double width)
{
    const plot_series *order[LEGEND];
    const size_t count = legend_order(p, order);
    size_t rows = 0;
    for (size_t i = 0; i < count; rows++)
        i += legend_fit(order, i, count, legend_room(p, width, rows == 0));
    return rows ? rows : 1;
}

/* What stands over a panel: its title with the legend, in as many rows as that takes. */
static double head_height(const plot_panel *p, double width)
{
    return margin_top + line_height * (double)(legend_rows(p, width) - 1);
}

/* A window over the panel where a unit is a point and y = 0 lies `up` above the panel. */
static void head_window(frame *f, const plot_figure *figure, double up)
{
    const double width = figure->width - f->left, height = head_height(f->panel, width);
    plvpor(f->left / figure->width, 1, f->top / figure->height, (f->top + height) / figure->height);
    plwind(0, width, -up, height - up);
    f->x_point = f->y_point = 1;
}

/* Up to the right edge; rows below the first come nearer to the panel. */
static void draw_legend(frame *f, const plot_figure *figure)
{
    const plot_panel *p = f->panel;
    const double width = figure->width - f->left;
    const double first = title_lift + line_height * (double)(legend_rows(p, width) - 1);
    const plot_series *order[LEGEND];
    const size_t count = legend_order(p, order);
    size_t row = 0;
    for (size_t i = 0; i < count; row++) {
        const size_t n = legend_fit(order, i, count, legend_room(p, width, row == 0));
        head_window(f, figure, first - line_height * (double)row);
        double x = width;
        for (size_t k = 0; k < n; k++)
            x -= legend_width(order[i + k]);
        for (size_t k = 0; k < n; k++, x += legend_width(order[i++]))
            legend_entry(f, order[i], x);
    }
}

static void draw_head(frame *f, const plot_figure *figure)
{
    char *title = escaped(f->panel->title);
    const size_t rows = legend_rows(f->panel, figure->width - f->left);
    head_window(f, figure, title_lift + line_height * (double)(rows - 1));
    f->good = f->good && title;
    plcol0(COLOUR_TEXT);
    if (title)
        plptex(0, 0, 1, 0, 0, title);
    free(title);
    draw_legend(f, figure);
}

/* ------------------------------------------------------------------ the figure */

/* A round step, 1, 2 or 5 times a power of ten, that leaves at least `room` points between ticks. */
static double tick_step(double low, double high, double points, double room)
{
    const double least = (high - low) * room / points, power = pow(10, floor(log10(least)));
    const double digits = least / power;
    return power * (digits <= 1 ? 1 : digits <= 2 ? 2 : digits <= 5 ? 5 : 10);
}

/* Of a low panel a closer step, where one would leave a single number, which tells no scale. */
static double upward_step(const frame *f)
{
    const plot_panel *p = f->panel;
    const double points = f->top - f->bottom, step = tick_step(p->y_low, p->y_high, points, 22);
    const double ticks = floor(p->y_high / step) - ceil(p->y_low / step) + 1;
    return ticks < 2 ? tick_step(p->y_low, p->y_high, points, 14) : step;
}

static void draw_axes(const frame *f, bool grid)
{
    const plot_panel *p = f->panel;
    const double x = tick_step(p->x_low, p->x_high, f->right - f->left, 50);
    const double y = upward_step(f);
    const bool named = p->row_count > 0;
    const bool bare = !p->x_label;
    set_width(f, grid ? 0.5 : 0.8);
    plcol0(grid ? COLOUR_GRID : COLOUR_TEXT);
    plbox(grid   ? "g"
          : bare ? "bt"
                 : "bnt",
          x, 0, named ? (grid ? "" : "b") : (grid ? "g" : "bntv"), y, 0);
}

/* Where lying bars begin, when some go the other way and the axis is elsewhere. */
static void draw_zero(const frame *f)
{
    const plot_panel *p = f->panel;
    bool bars = false;
    for (size_t i = 0; i < p->series_count; i++)
        bars = bars || p->series[i].shape == PLOT_BARS;
    set_width(f, 0.8);
    plcol0(COLOUR_TEXT);
    if (bars && p->x_low < 0 && p->x_high > 0)
        pljoin(0, p->y_low, 0, p->y_high);
}

/* The names of the rows, left of the panel. */
static void draw_rows(frame *f)
{
    const plot_panel *p = f->panel;
    plcol0(COLOUR_TEXT);
    for (size_t i = 0; i < p->row_count; i++) {
        char *text = escaped(p->rows[i]);
        f->good = f->good && text;
        if (text) /* "lv": upright at a place along the left edge, a letter's height off it */
            plmtex("lv", 0.7, ((double)(i + 1) - p->y_low) / (p->y_high - p->y_low), 1, text);
        free(text);
    }
}

static void draw_x_label(frame *f)
{
    if (!f->panel->x_label)
        return;
    char *label = escaped(f->panel->x_label);
    f->good = f->good && label;
    plcol0(COLOUR_TEXT);
    if (label)
        plmtex("b", 3, 1, 1, label);
    free(label);
}

static void draw_panel(frame *f, const plot_figure *figure)
{
    const plot_panel *p = f->panel;
    plvpor(f->left / figure->width, f->right / figure->width, f->bottom / figure->height,
           f->top / figure->height);
    plwind(p->x_low, p->x_high, p->y_low, p->y_high);
    f->x_point = (p->x_high - p->x_low) / (f->right - f->left);
    f->y_point = (p->y_high - p->y_low) / (f->top - f->bottom);
    draw_axes(f, true);
    for (size_t i = 0; i < p->series_count; i++)
        draw_series(f, &p->series[i]);
    draw_axes(f, false);
    draw_zero(f);
    draw_rows(f);
    for (size_t i = 0; i < p->note_count; i++)
        draw_note(f, &p->notes[i]);
    draw_x_label(f);
    draw_head(f, figure);
}

/* Widens one range about its middle, so that a unit is as long up as to the right. */
static void make_equal(plot_panel *p, double width, double height)
{
    const double x = (p->x_high - p->x_low) / width, y = (p->y_high - p->y_low) / height;
    const double more_x = x < y ? (y - x) * width / 2 : 0,
                 more_y = y < x ? (x - y) * height / 2 : 0;
    p->x_low -= more_x;
    p->x_high += more_x;
    p->y_low -= more_y;
    p->y_high += more_y;
}

/* Names of rows need more room than numbers; all panels of a figure have their left edge in line. */
static double left_margin(const plot_figure *figure)
{
    double widest = margin_left;
    for (size_t i = 0; i < figure->panel_count; i++)
        for (size_t r = 0; r < figure->panels[i].row_count; r++)
            widest = fmax(widest, text_width(figure->panels[i].rows[r]) + 12);
    return widest;
}

static double title_width(const plot_figure *figure)
{
    return figure->width - left_margin(figure) - margin_right;
}

/* Returns a copy with line ends where a line of bold letters would be wider, to be freed: after a space
 * where there is one. *lines = how many there are. */
static char *broken(const char *text, double width, size_t *lines)
{
    const size_t most = width > 53 ? (size_t)(width / 5.3) : 10;
    char *copy = malloc(2 * strlen(text) + 1), *to = copy, *space = NULL;
    size_t letters_in = 0, since = 0; /* in the line, and after its last space */
    for (*lines = 1; copy && *text; text++) {
        const bool starts = ((unsigned char)*text & 0xc0) != 0x80;
        letters_in += starts, since += starts;
        if (*text != '\n' && *text != ' ' && starts && letters_in > most) {
            if (space)
                *space = '\n', letters_in = since;
            else
                *to++ = '\n', letters_in = since = 1;
            space = NULL;
            ++*lines;
        }
        if (*text == ' ')
            space = to, since = 0;
        if (*text == '\n')
            space = NULL, letters_in = since = 0, ++*lines;
        *to++ = *text;
    }
    if (copy)
        *to = '\0';
    return copy;
}

/* Returns how many lines there are, 0 without memory. */
static size_t draw_title(const plot_figure *figure, double left)
{
    size_t lines = 0, done = 0;
    char *all = broken(figure->title, title_width(figure), &lines), *line = all, *end = all;
    plcol0(COLOUR_TEXT);
    plsfont(PL_FCI_SANS, PL_FCI_UPRIGHT, PL_FCI_BOLD);
    for (; end; line = end + 1, done++) {
        end = strchr(line, '\n');
        if (end)
            *end = '\0';
        char *text = escaped(line);
        if (!text)
            break;
        const double down = 0.7 * title_height + line_height * (double)done;
        plvpor(left / figure->width, 1, 0, 1 - down / figure->height);
        plwind(0, 1, 0, 1);
        plmtex("t", 0, 0, 0, text);
        free(text);
    }
    plsfont(PL_FCI_SANS, PL_FCI_UPRIGHT, PL_FCI_MEDIUM);
    free(all);
    return done == lines ? lines : 0;
}

/* What stands below a panel. */
static double foot_height(const plot_panel *p)
{
    return !p->x_label ? margin_bare : p->x_label[0] ? margin_bottom : margin_unlabelled;
}

static void draw_panels(const plot_figure *figure, double top, double left, double scale,
                        bool *good)
{
    double shares = 0;
    const double height = top;
    for (size_t i = 0; i < figure->panel_count; i++)
        shares += figure->panels[i].share;
    for (size_t i = 0; i < figure->panel_count; i++) {
        const double bottom = top - height * figure->panels[i].share / shares;
        plot_panel panel = figure->panels[i];
        frame f = {.panel = &panel,
                   .left = left,
                   .right = figure->width - margin_right,
                   .bottom = bottom + foot_height(&panel),
                   .top = top - head_height(&panel, figure->width - left),
                   .scale = scale,
                   .good = true};
        if (panel.equal)
            make_equal(&panel, f.right - f.left, f.top - f.bottom);
        draw_panel(&f, figure);
        *good = *good && f.good;
        top = bottom;
    }
}

static bool draw_figure(const plot_figure *figure, const plot_way *way)
{
    const double left = left_margin(figure);
    plschr(way->letters * way->scale, 1);
    plsmaj(0, 0); /* the grid says where the numbers are; ticks beside it would be too much */
    const size_t lines = draw_title(figure, left);
    bool good = lines > 0;
    if (good)
        draw_panels(figure, figure->height - title_height - line_height * (double)(lines - 1), left,
                    way->scale, &good);
    return good;
}

/* Returns the figure with the height of further lines of its title. */
static plot_figure grown(const plot_figure *figure)
{
    plot_figure out = *figure;
    size_t lines = 1;
    free(broken(figure->title, title_width(figure), &lines));
    out.height += line_height * (double)(lines - 1);
    return out;
}

/* What PLplot has refused to do, of the first time in a figure; it has no other way to say so. */
static char plot_refusal[200];

static void keep_refusal(const char *text)
{
    if (!plot_refusal[0])
        snprintf(plot_refusal, sizeof plot_refusal, "%s", text);
}

/* ------------------------------------------------------------------ files */

/* Without its driver PLplot would ask the user for another. */
bool plot_can_draw(plot_format format, const char **package)
{
    enum { MOST = 100 };
    const char *menu[MOST], *name[MOST], **menus = menu, **names = name;
    int count = MOST;
    plgDevs(&menus, &names, &count);
    *package = plot_ways[format].package;
    for (int i = 0; i < count; i++)
        if (strcmp(name[i], plot_ways[format].driver) == 0)
            return true;
    return false;
}

plot_format plot_format_of(const char *path)
{
    return path && text_ends_with(path, ".png") ? PLOT_PNG : PLOT_SVG;
}

/* PLplot draws into it and closes it. Returns what PLplot was given room for. */
static bool draw_to(FILE *out, const plot_figure *figure, const plot_way *way)
{
    const plot_figure whole = grown(figure);
    plsdev(way->driver);
    plsfile(out);
    plspage(0, 0, (PLINT)lround(whole.width * way->scale), (PLINT)lround(whole.height * way->scale),
            0, 0);
    set_style();
    plsfont(PL_FCI_SANS, PL_FCI_UPRIGHT, PL_FCI_MEDIUM);
    plinit();
    pladv(0);
    const bool good = draw_figure(&whole, way);
    plend();
    return good;
}

static void put_big_endian(unsigned char *to, unsigned long number)
{
    for (int i = 0; i < 4; i++)
        to[i] = (unsigned char)(number >> (24 - 8 * i) & 0xff);
}

/* Says in a PNG how large it is on a page, which is not in what the driver writes: the chunk pHYs, behind the
 * first chunk. Source: ISO/IEC 15948, 11.3.5.3. Returns whether there was memory. */
static bool add_resolution(char **bytes, size_t *size)
{
    enum { FIRST = 8 + 12 + 13, CHUNK = 12 + 9 }; /* signature and IHDR; pHYs */
    const unsigned long per_metre = (unsigned long)lround(PLOT_RESOLUTION / 0.0254);
    unsigned char chunk[CHUNK] = {0, 0, 0, 9, 'p', 'H', 'Y', 's'};
    char *more = *size >= FIRST ? realloc(*bytes, *size + CHUNK) : NULL;
    if (!more)
        return false;
    put_big_endian(chunk + 8, per_metre);
    put_big_endian(chunk + 12, per_metre);
    chunk[16] = 1; /* a metre */
    put_big_endian(chunk + 17, crc32(0, chunk + 4, 13));
    memmove(more + FIRST + CHUNK, more + FIRST, *size - FIRST);
    memcpy(more + FIRST, chunk, CHUNK);
    *bytes = more;
    *size += CHUNK;
    return true;
}

caber_status plot_draw(const plot_figure *figure, plot_format format, char **bytes, size_t *size,
                       caber_message *message)
{
    *bytes = NULL;
    *size = 0;
    plsabort(keep_refusal);
    plot_refusal[0] = '\0';
    const char *package;
    if (!plot_can_draw(format, &package))
        return message_set(message, CABER_INTERNAL, "PLplot lacks what %s has", package);
    FILE *out = open_memstream(bytes, size);
    if (!out)
        return message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
    bool good = draw_to(out, figure, &plot_ways[format]) && *bytes;
    if (good && !plot_refusal[0] && format == PLOT_PNG)
        good = add_resolution(bytes, size);
    if (good && !plot_refusal[0])
        return message_clear(message);
    free(*bytes);
    *bytes = NULL;
    return plot_refusal[0] ? message_set(message, CABER_INTERNAL, "a plot: %s", plot_refusal)
                           : message_set(message, CABER_NO_MEMORY, "out of memory for a plot");
}

double *plot_columns_add(plot_columns *c, size_t count)
{
    const size_t most = sizeof c->item / sizeof *c->item;
    double *column = c->used < most ? calloc(count + 1, sizeof *column) : NULL;
    c->good = c->good && column;
    if (column)
        c->item[c->used++] = column;
    return column;
}

void plot_columns_free(plot_columns *c)
{
    for (size_t i = 0; i < c->used; i++)
        free(c->item[i]);
}
