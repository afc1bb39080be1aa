/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "record.h"

#include <stdlib.h>

#include <jansson.h>

#include "check.h"

static const char *const kind_texts[] = {"exact",           "published",  "quoted",
                                         "independent",     "converged",  "mechanics",
                                         "common practice", "from memory"};

/* <folder>/<test>.jsonl, for /.../test_<test>.c. */
static void path_of(const char *folder, const char *file, char *path, size_t size)
{
    const char *base = strrchr(file, '/');
    base = base ? base + 1 : file;
    if (strncmp(base, "test_", 5) == 0)
        base += 5;
    const char *dot = strrchr(base, '.');
    const int length = dot ? (int)(dot - base) : (int)strlen(base);
    snprintf(path, size, "%s/%.*s.jsonl", folder, length, base);
}

/* Appends the object, which it frees; the first line of a run begins the file anew. One test program
 * is one thread and one file. */
static void write_line(const char *file, json_t *line)
{
    static bool begun = false;
    const char *folder = getenv("CABER_RECORDS");
    if (folder && line) {
        char path[1024];
        path_of(folder, file, path, sizeof path);
        FILE *f = fopen(path, begun ? "a" : "w");
        if (!f)
            fail_msg("cannot write %s", path);
        begun = true;
        json_dumpf(line, f, JSON_COMPACT | JSON_REAL_PRECISION(17));
        fputc('\n', f);
        fclose(f);
    }
    json_decref(line);
}

static json_t *row(const char *problem, record_source source, const char *unit, double difference,
                   double allowed)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s, s:f, s:f}", "type", "row", "problem", problem,
                     "kind", kind_texts[source.kind], "source", source.text, "unit", unit,
                     "difference", difference, "allowed", allowed);
}

void record_check(const char *problem, record_source source, const char *unit, double got,
                  double want, double rel, double abs_, const char *file, int line)
{
    check_close(got, want, rel, abs_, problem, file, line);
    json_t *o = row(problem, source, unit, fabs(got - want), rel * fabs(want) + abs_);
    json_object_set_new(o, "got", json_real(got));
    json_object_set_new(o, "want", json_real(want));
    write_line(file, o);
}

void record_bound(const char *problem, record_source source, const char *unit, double difference,
                  double allowed, const char *file, int line)
{
    check_close(difference, 0, 0, allowed, problem, file, line);
    json_t *o = row(problem, source, unit, difference, allowed);
    json_object_set_new(o, "got", json_null());
    json_object_set_new(o, "want", json_null());
    write_line(file, o);
}

static json_t *numbers(const double *v, size_t count)
{
    json_t *a = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(a, json_real(v[i]));
    return a;
}

void record_draw_curve(const record_curve *c, const char *file)
{
    json_t *o = json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:b, s:s}", "type", "curve", "plot",
                          c->plot, "title", c->title, "x_label", c->x_label, "y_label", c->y_label,
                          "label", c->label, "points", c->points, "log", c->log ? c->log : "");
    json_object_set_new(o, "x", numbers(c->x, c->count));
    json_object_set_new(o, "y", numbers(c->y, c->count));
    write_line(file, o);
}
