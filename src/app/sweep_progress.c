/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How far a sweep is, on standard error. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#include "app/sweep_parts.h"

/* How long nothing is shown: a line that is rewritten, and one that stays, s. */
static const double progress_short = 0.25, progress_long = 10;

/* ------------------------------------------------------------------ amounts as text */

void sweep_time_text(double seconds, char text[SWEEP_TEXT_SIZE])
{
    static const struct {
        double large, small;
        const char *names[2];
    } pairs[] = {{86400, 3600, {"d", "h"}}, {3600, 60, {"h", "min"}}, {60, 1, {"min", "s"}}};
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        const double parts = round(seconds / pairs[i].small),
                     each = pairs[i].large / pairs[i].small, whole = floor(parts / each);
        if (whole < 1)
            continue;
        snprintf(text, SWEEP_TEXT_SIZE, "%.0f %s %.0f %s", whole, pairs[i].names[0],
                 parts - whole * each, pairs[i].names[1]);
        return;
    }
    snprintf(text, SWEEP_TEXT_SIZE, seconds < 9.95 ? "%.1f s" : "%.0f s", seconds);
}

void sweep_bytes_text(double bytes, char text[SWEEP_TEXT_SIZE])
{
    static const char *const units[] = {"B", "kB", "MB", "GB", "TB"};
    size_t u = 0;
    while (bytes >= 999.5 && u + 1 < sizeof units / sizeof *units) {
        bytes /= 1000;
        u++;
    }
    snprintf(text, SWEEP_TEXT_SIZE, u && bytes < 9.95 ? "%.1f %s" : "%.0f %s", bytes, units[u]);
}

/* ------------------------------------------------------------------ progress */

static double progress_now(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

double sweep_progress_time(const sweep_progress *p)
{
    return progress_now() - p->began;
}

void sweep_progress_begin(sweep_progress *p, size_t cases, size_t before)
{
    *p = (sweep_progress){.cases = cases, .before = before};
    p->began = p->shown = progress_now();
    p->terminal = isatty(STDERR_FILENO) == 1;
}

/* What was done before this run, and took no time in it, is in no rate. */
static void progress_text(const sweep_progress *p, char *text, size_t size)
{
    const double time = sweep_progress_time(p), rate = (double)p->done / fmax(time, 1e-3);
    const size_t done = p->before + p->done;
    const bool over = done >= p->cases;
    char rest[SWEEP_TEXT_SIZE];
    sweep_time_text(over ? time : (double)(p->cases - done) / rate, rest);
    snprintf(text, size, "%zu of %zu cases, %.*f a second, %s%s%s", done, p->cases,
             rate < 9.95 ? 1 : 0, rate, over ? "in " : "", rest, over ? "" : " left");
}

/* A line that is longer than the terminal is wide would not be rewritten, but added. */
static void progress_rewrite(sweep_progress *p, const char *text)
{
    struct winsize window;
    int length = (int)strlen(text), most = 79;
    if (ioctl(STDERR_FILENO, TIOCGWINSZ, &window) == 0 && window.ws_col > 1)
        most = window.ws_col - 1;
    if (length > most)
        length = most;
    fprintf(stderr, "\r%.*s%*s", length, text, p->width > length ? p->width - length : 0, "");
    if (!*text)
        fputc('\r', stderr);
    fflush(stderr);
    p->width = length;
}

static void progress_show(sweep_progress *p)
{
    char text[160];
    progress_text(p, text, sizeof text);
    if (p->terminal)
        progress_rewrite(p, text);
    else
        app_say("%s", text);
    p->shown = progress_now();
    p->said = true;
}

void sweep_progress_add(sweep_progress *p, size_t cases)
{
    p->done += cases;
    if (progress_now() - p->shown >= (p->terminal ? progress_short : progress_long))
        progress_show(p);
}

void sweep_progress_write(sweep_progress *p)
{
    if (!p->said)
        return;
    progress_show(p);
    if (p->terminal)
        progress_rewrite(p, "writing the file");
}

void sweep_progress_end(sweep_progress *p)
{
    if (p->said && p->terminal)
        progress_rewrite(p, "");
}
