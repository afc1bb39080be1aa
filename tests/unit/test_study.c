/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Study files and the plans they become. Every case is held against the setup that the reader makes of the
 * base file with the same values by --set: the two ways share the field table, and nothing else. */
#include "folder.h"

#include <stdlib.h>

#include "files/files.h"
#include "study/cost.h"
#include "swing/model.h"
#include "swing/once.h"

#define MODELS CABER_SOURCE_DIR "/models"
#define HEAD "kind: study\nname: T\nsetup: " MODELS "/setups/neutral-smooth.yaml\n"
#define SECTION "set: [\"shaft.sections[0].from=0 mm\", \"shaft.sections[0].to=400 mm\"]\n"
#define TIP "{name: tip, path: \"shaft.sections[0].ei_scale\", from: 0.8, to: 1.2, levels: 3}"
#define RISE "{name: rise, path: load.grip.rise, from: 100 ms, to: 0.2 s, levels: 2}"

static caber_status read_text(const char *text, caber_study **out, caber_message *m)
{
    char name[64];
    snprintf(name, sizeof name, "%s/s.yaml", folder);
    return files_read_study(name, text, strlen(text), NULL, 0, out, m);
}

static caber_study *read_good(const char *text)
{
    caber_study *s = NULL;
    caber_message m;
    if (read_text(text, &s, &m) != CABER_OK)
        fail_msg("%s", m.text);
    assert_string_equal(m.text, "");
    return s;
}

static plan_case *case_create(const caber_study *s)
{
    plan_case *c;
    assert_int_equal(plan_case_create(s, &c, NULL), CABER_OK);
    return c;
}

static void fill(const caber_study *s, size_t point, plan_case *c)
{
    caber_message m;
    if (plan_case_fill(s, point, c, &m) != CABER_OK)
        fail_msg("%s", m.text);
}

/* ------------------------------------------------------------------ against the reader of setups */

static char *setup_text(const caber_setup *setup)
{
    char *text = NULL;
    size_t size;
    caber_message m;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    if (files_write_setup(setup, out, &m) != CABER_OK)
        fail_msg("%s", m.text);
    fclose(out);
    return text;
}

/* The same case from the base file, by --set. */
static caber_setup *read_case(const char *base, const char *const *set, size_t count,
                              const caber_study *s, const plan_case *c)
{
    char texts[16][640];
    const char *overrides[16];
    size_t n = 0;
    for (; n < count; n++)
        overrides[n] = set[n];
    for (size_t k = 0; k < s->factor_count; k++, n++) {
        const plan_factor *f = &s->factors[k];
        char value[400];
        if (f->chosen)
            snprintf(value, sizeof value, "%s", f->files[(size_t)c->values[k]]);
        else
            field_address_write(&f->at, c->values[k], value, sizeof value);
        snprintf(texts[n], sizeof texts[n], "%s=%.400s", f->chosen ? "shaft.file" : f->at.path,
                 value);
        overrides[n] = texts[n];
    }
    caber_setup *setup = NULL;
    caber_message m;
    if (caber_setup_read(base, overrides, n, &setup, &m) != CABER_OK)
        fail_msg("%s", m.text);
    return setup;
}

static void assert_cases_are_setups(const caber_study *s, const char *base, const char *const *set,
                                    size_t count, size_t step)
{
    plan_case *c = case_create(s);
    char *before = NULL;
    for (size_t i = 0; i < plan_points(s); i += step) {
        fill(s, i, c);
        caber_setup *read = read_case(base, set, count, s, c);
        char *filled = setup_text(&c->setup), *wanted = setup_text(read);
        assert_string_equal(filled, wanted);
        if (before)
            assert_string_not_equal(filled, before);
        free(before);
        before = filled;
        free(wanted);
        caber_setup_free(read);
    }
    free(before);
    plan_case_free(c);
}

static const char *const section[] = {"shaft.sections[0].from=0 mm", "shaft.sections[0].to=400 mm"};

static caber_study *read_model(const char *name)
{
    char path[256];
    caber_study *s = NULL;
    caber_message m;
    snprintf(path, sizeof path, MODELS "/studies/%s", name);
    if (caber_study_read(path, NULL, 0, &s, &m) != CABER_OK)
        fail_msg("%s", m.text);
    return s;
}

static void a_grid_of_setups(void **state)
{
    (void)state;
    caber_study *s = read_model("tip-and-rise.yaml");
    assert_int_equal(plan_cases(s), 42);
    assert_int_equal(s->output_count, 8);
    assert_cases_are_setups(s, MODELS "/setups/neutral-smooth.yaml", section, 2, 1);
    caber_study_free(s);
}

static void files_words_and_lists(void **state)
{
    (void)state;
    caber_study *s = read_model("what-drives-carry.yaml");
    assert_int_equal(plan_cases(s), 200 * 8);
    assert_cases_are_setups(s, MODELS "/setups/neutral-smooth.yaml", section, 2,
                            CHECK_SANITISED ? 401 : 41);
    caber_study_free(s);
    /* Whatever kind of input there is: in an entry of a list, a word, yes or no, a whole number. */
    s = read_good(HEAD "factors:\n"
                       " - {name: gravity, path: settings.gravity, values: [yes, no]}\n"
                       " - {name: drag, path: ball.coefficients, values: [smits-smith, lyu]}\n"
                       " - {name: modes, path: settings.modes, from: 6, to: 8, levels: 3}\n"
                       " - {name: ei, path: \"shaft.stations[2].ei\", values: [31 N m2, 35]}\n"
                       " - {name: r, path: \"player.repeat.together[0].correlation\", from: -0.5,"
                       " to: 0.5, levels: 2}\n"
                       "design: {kind: grid}\n");
    assert_int_equal(plan_cases(s), 2 * 2 * 3 * 2 * 2);
    assert_int_equal(s->output_count, caber_output_count());
    assert_cases_are_setups(s, MODELS "/setups/neutral-smooth.yaml", NULL, 0, 1);
    caber_study_free(s);
}

/* With the part itself as the path, what the setup says of its shaft goes: here there was nothing. */
static void parts_that_are_chosen(void **state)
{
    (void)state;
    caber_study *s = read_good(HEAD "factors:\n"
                                    " - {name: player, path: player, files: [" MODELS
                                    "/players/smooth.yaml, " MODELS "/players/quick.yaml]}\n"
                                    " - {name: head, path: head, files: [" MODELS
                                    "/heads/driver-9.yaml, " MODELS "/heads/driver-10.yaml]}\n"
                                    " - " RISE "\ndesign: {kind: one-at-a-time}\n");
    plan_case *c = case_create(s);
    assert_int_equal(plan_cases(s), 1 + 1 + 1 + 2);
    static const char *const players[] = {"Smooth", "Quick transition", "Smooth", "Smooth",
                                          "Smooth"};
    for (size_t i = 0; i < 5; i++) {
        fill(s, i, c);
        assert_string_equal(c->setup.player.name, players[i]);
        assert_close(c->setup.head.loft * CABER_DEG, i == 2 ? 10.5 : 9, 1e-12, 0);
    }
    assert_close(c->setup.player.load.grip.rise, 0.2, 1e-15, 0);
    plan_case_free(c);
    caber_study_free(s);
}

static void a_csv_of_cases(void **state)
{
    (void)state;
    folder_write("cases.csv", "# invented\nrise,tip,shaft\nms,,\n100,0.9,1\n250.5,1.5,0\n");
    const char *text =
        HEAD SECTION "factors:\n - {name: tip, path: \"shaft.sections[0].ei_scale\"}\n"
                     " - {name: rise, path: load.grip.rise}\n"
                     " - {name: shaft, path: shaft.file, files: [" MODELS
                     "/shafts/neutral.yaml, " MODELS "/shafts/firm-tip.yaml]}\n"
                     "design: {kind: cases, file: cases.csv}\n";
    caber_study *s = read_good(text);
    plan_case *c = case_create(s);
    assert_int_equal(plan_cases(s), 2);
    fill(s, 1, c);
    assert_close(c->values[0], 1.5, 0, 0);
    assert_close(c->values[1], 0.2505, 1e-15, 0);
    assert_cases_are_setups(s, MODELS "/setups/neutral-smooth.yaml", section, 2, 1);
    plan_case_free(c);
    caber_study_free(s);
    static const char *const bad[][2] = {
        {"rise,tip\nms,\n100,0.9\n", "shaft"},
        {"rise,tip,shaft\nmm,,\n100,0.9,1\n", "cases.csv:2:1: rise: "},
        {"rise,tip,shaft\nms,,\n100,0.9,2\n", "cases.csv:3:9: shaft: 2 is not allowed"},
        {"rise,tip,shaft\nms,,\n100,0.9,0.5\n", "cases.csv:3:9: shaft: it must be a whole number"},
        {"rise,tip,shaft\nms,,\n100,,1\n", "cases.csv:3:"},
        {"rise,tip,shaft\nms,,\n-1,0.9,1\n", "cases.csv:3:1: rise: "},
        {"rise,tip,shaft,more\nms,,,\n1,0.9,1,1\n", "more"},
        {"rise,tip,shaft\nms,,\n", "cases.csv"},
        {"", "cases.csv"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        caber_message m;
        folder_write("cases.csv", bad[i][0]);
        assert_int_equal(read_text(text, &s, &m), CABER_BAD_INPUT);
        assert_null(s);
        if (!strstr(m.text, bad[i][1]))
            fail_msg("\"%s\" does not say \"%s\"", m.text, bad[i][1]);
    }
}

/* ------------------------------------------------------------------ what cases share */

static void what_two_points_share(void **state)
{
    (void)state;
    caber_study *s =
        read_good(HEAD SECTION "factors:\n - " TIP "\n - " RISE "\n"
                               " - {name: wind, path: air.wind_along, values: [0, 1]}\n"
                               "design: {kind: grid}\n");
    double a[3], b[3];
    assert_int_equal(plan_points(s), 12);
    for (size_t i = 0; i < 12; i++)
        for (size_t j = 0; j < 12; j++) {
            plan_values(s, i, a);
            plan_values(s, j, b);
            assert_int_equal(plan_same_club(s, a, b), i / 4 == j / 4);
            assert_int_equal(plan_same_swing(s, a, b), i / 2 == j / 2);
        }
    assert_string_equal(plan_unit(&s->factors[1]), "s");
    assert_string_equal(plan_unit(&s->factors[0]), "");
    caber_study_free(s);
}

/* Every quantity of the player's table, 1 % off. */
static size_t change_player(const field_group *group, const char *path, caber_setup *s)
{
    size_t changed = 0;
    for (size_t i = 0; i < group->count; i++) {
        const field *f = &group->fields[i];
        char whole[128];
        snprintf(whole, sizeof whole, "%s.%s", path, f->name);
        if (f->type == FIELD_GROUP)
            changed += change_player(f->group, whole, s);
        if (f->type != FIELD_QUANTITY)
            continue;
        field_address a;
        assert_int_equal(field_address_find(whole, &a, NULL), CABER_OK);
        assert_int_equal(a.part, FIELD_PART_PLAYER);
        if (isnan(field_address_get(&a, s)) || !field_address_used(&a, s))
            continue;
        field_address_set(&a, s, field_address_get(&a, s) * 1.01);
        changed++;
    }
    return changed;
}

static const field_group *player_group(void)
{
    const field_group *setup = fields_kind_setup();
    for (size_t i = 0; i < setup->count; i++)
        if (!strcmp(setup->fields[i].name, "player"))
            return setup->fields[i].group;
    fail_msg("no player");
    return NULL;
}

/* What the parts of inputs are good for: the club's model serves another player to the last bit. */
static void a_model_serves_another_player(void **state)
{
    (void)state;
    caber_study *s = read_good(HEAD "factors: [" RISE "]\ndesign: {kind: grid}\n");
    plan_case *c = case_create(s);
    fill(s, 0, c);
    caber_model *first = NULL, *borrowed;
    caber_work *work = NULL;
    caber_swing before, after, fresh;
    caber_message m;
    assert_int_equal(caber_model_create(&c->setup, &first, NULL), CABER_OK);
    assert_non_null(borrowed = model_borrow(first));
    assert_int_equal(caber_work_create(borrowed, &work, NULL), CABER_OK);
    assert_int_equal(caber_swing_run(borrowed, work, &before, NULL, NULL), CABER_OK);
    assert_true(change_player(player_group(), "player", &c->setup) > 30);
    if (swing_once(&c->setup, &fresh, NULL, &m) != CABER_OK)
        fail_msg("%s", m.text);
    model_set_player(borrowed, &c->setup.player);
    assert_int_equal(caber_swing_run(borrowed, work, &after, NULL, NULL), CABER_OK);
    assert_true(after.bent.head_speed != before.bent.head_speed);
    assert_memory_equal(&after.bent, &fresh.bent, sizeof fresh.bent);
    assert_memory_equal(&after.straight, &fresh.straight, sizeof fresh.straight);
    assert_memory_equal(&after.head, &fresh.head, sizeof fresh.head);
    caber_work_free(work);
    model_borrow_free(borrowed);
    caber_model_free(first);
    plan_case_free(c);
    caber_study_free(s);
}

/* The same draws in every point, another in every replicate, the case itself untouched. */
static void replicates_are_common(void **state)
{
    (void)state;
    caber_study *s = read_good(HEAD "seed: 3\nreplicates: 2\nfactors:\n"
                                    " - {name: peak, path: load.hub.peak, values: [200 N m, 206]}\n"
                                    "design: {kind: grid}\n");
    assert_int_equal(plan_cases(s), 4);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(plan_point_of(s, i), i / 2);
        assert_int_equal(plan_replicate_of(s, i), i % 2);
    }
    double rise[2][2], hub[2][2];
    plan_case *c = case_create(s);
    caber_message m;
    for (size_t p = 0; p < 2; p++) {
        fill(s, p, c);
        char *before = setup_text(&c->setup);
        caber_swing usual;
        if (swing_once(&c->setup, &usual, NULL, &m) != CABER_OK)
            fail_msg("%s", m.text);
        for (size_t r = 0; r < 2; r++) {
            caber_setup varied;
            if (plan_case_vary(s, c, &usual, r, &varied, &m) != CABER_OK)
                fail_msg("%s", m.text);
            rise[p][r] = varied.player.load.grip.rise / c->setup.player.load.grip.rise;
            hub[p][r] = varied.player.load.hub.peak / c->setup.player.load.hub.peak;
        }
        char *after = setup_text(&c->setup);
        assert_string_equal(before, after);
        free(before);
        free(after);
    }
    for (size_t r = 0; r < 2; r++) {
        assert_close(rise[1][r], rise[0][r], 1e-14, 0);
        assert_close(hub[1][r], hub[0][r], 1e-14, 0);
        assert_true(rise[0][r] != 1 && hub[0][r] != 1);
    }
    assert_true(rise[0][0] != rise[0][1]);
    plan_case_free(c);
    caber_study_free(s);
}

/* ------------------------------------------------------------------ outputs */

static void outputs_by_name(void **state)
{
    (void)state;
    caber_study *s =
        read_good(HEAD "factors: [" RISE "]\ndesign: {kind: grid}\n"
                       "outputs: [carry_m, straight.head_speed_mps, head_speed_mps]\n");
    caber_outcome o = {.shot.carry = 200, .swing.bent.head_speed = 48};
    o.swing.straight.head_speed = 47;
    assert_int_equal(s->output_count, 3);
    assert_true(column_value(&s->outputs[0], &o) == 200 && s->outputs[0].optional);
    assert_true(column_value(&s->outputs[1], &o) == 47 && !s->outputs[1].optional);
    assert_true(column_value(&s->outputs[2], &o) == 48);
    assert_string_equal(s->outputs[1].name, "straight.head_speed_mps");
    caber_study_free(s);
}

/* Row by row what a swing traced on its own gives; nothing after the ball. */
static void series_on_a_grid(void **state)
{
    (void)state;
    enum { POINTS = 301 };
    caber_study *s =
        read_good(HEAD "factors: [" RISE "]\ndesign: {kind: grid}\n"
                       "series: {outputs: [handle_moment_nm, lag_mm], step: 1 ms, until: 0.3 s}\n");
    assert_int_equal(s->series_count, 2);
    assert_int_equal(s->series_points, POINTS);
    assert_string_equal(s->series[1].name, "series.lag_mm");
    plan_case *c = case_create(s);
    fill(s, 0, c);
    caber_swing swing;
    caber_message m;
    caber_trace *trace = caber_trace_create();
    if (swing_once(&c->setup, &swing, trace, &m) != CABER_OK)
        fail_msg("%s", m.text);
    double moment[POINTS], lag[POINTS];
    series_fill(&s->series[0], trace, s->series_step, POINTS, moment);
    series_fill(&s->series[1], trace, s->series_step, POINTS, lag);
    const double end = trace->rows[trace->count - 1].time;
    assert_true(end > 0.1 && end < 0.3);
    for (size_t i = 0; i < POINTS; i++) {
        const double t = 1e-3 * (double)i;
        assert_true(isnan(moment[i]) == (t > end) && isnan(lag[i]) == (t > end));
        if (t > end)
            continue;
        assert_close(trace->rows[i].time, t, 1e-15, 0);
        assert_true(moment[i] == trace->rows[i].handle_moment && lag[i] == trace->rows[i].lag);
    }
    const cost cost_of = cost_estimate(s, &(cost_times){.swing = 1}, 1);
    assert_close(cost_of.file, 2. * (8 * (1. + (double)s->output_count + 2 * POINTS) + 4 * 4 + 25),
                 1e-15, 0);
    caber_trace_free(trace);
    plan_case_free(c);
    caber_study_free(s);
}

/* ------------------------------------------------------------------ identity */

static char *identity(const char *text)
{
    caber_study *s = read_good(text);
    char *lines;
    assert_int_equal(files_study_identity(s, &lines, NULL), CABER_OK);
    caber_study_free(s);
    return lines;
}

#define SAMPLE(set, seed, factor, design, more)                                                    \
    HEAD "set: [" set "]\nseed: " seed "\nfactors: [" factor "]\ndesign: {" design "}\n" more
#define RANGE "{name: a, path: load.grip.rise, from: 0.1, to: 0.2}"
#define FILES(path, first)                                                                         \
    "{name: f, path: " path ", files: [" MODELS "/heads/" first ".yaml, " MODELS                   \
    "/heads/driver-10.yaml]}"

/* Each differs from the first in one thing that changes numbers. */
static const char *const others[] = {
    SAMPLE("head.mass=201 g", "1", RANGE, "kind: sobol, cases: 8", ""),
    SAMPLE("", "2", RANGE, "kind: sobol, cases: 8", ""),
    SAMPLE("", "1", "{name: a, path: load.grip.rise, from: 0.1, to: 0.3}", "kind: sobol, cases: 8",
           ""),
    SAMPLE("", "1", "{name: a, path: load.grip.fall, from: 0.1, to: 0.2}", "kind: sobol, cases: 8",
           ""),
    SAMPLE("", "1", "{name: b, path: load.grip.rise, from: 0.1, to: 0.2}", "kind: sobol, cases: 8",
           ""),
    SAMPLE("", "1",
           "{name: a, path: load.grip.rise, from: 0.1, to: 0.2, distribution: log-uniform}",
           "kind: sobol, cases: 8", ""),
    SAMPLE("", "1", RANGE, "kind: sobol, cases: 9", ""),
    SAMPLE("", "1", RANGE, "kind: sobol, cases: 8, plain: yes", ""),
    SAMPLE("", "1", RANGE, "kind: halton, cases: 8", ""),
    SAMPLE("", "1", RANGE, "kind: latin-hypercube, cases: 8", ""),
    SAMPLE("", "1", RANGE, "kind: morris, trajectories: 4", ""),
    SAMPLE("", "1", RANGE, "kind: morris, trajectories: 4, levels: 6", ""),
    SAMPLE("", "1", RANGE, "kind: morris, trajectories: 5", ""),
    SAMPLE("", "1", RANGE ", " FILES("head", "driver-9"), "kind: sobol, cases: 8", ""),
    SAMPLE("", "1", RANGE ", " FILES("head", "driver-10"), "kind: sobol, cases: 8", ""),
    SAMPLE("", "1", RANGE, "kind: sobol, cases: 8", "replicates: 2\n"),
    SAMPLE("", "1", RANGE, "kind: sobol, cases: 8", "outputs: [carry_m]\n"),
    SAMPLE("", "1", RANGE, "kind: sobol, cases: 8", "outputs: [ball_speed_mps]\n"),
    SAMPLE("settings.tolerance=1e-5", "1", RANGE, "kind: sobol, cases: 8", ""),
    SAMPLE("", "1", RANGE, "kind: sobol, cases: 8", "series: {outputs: [lag_mm]}\n"),
    SAMPLE("", "1", RANGE, "kind: sobol, cases: 8", "series: {outputs: [lag_mm], step: 1 ms}\n"),
    SAMPLE("", "1", RANGE, "kind: sobol, cases: 8", "series: {outputs: [droop_mm]}\n"),
};

static void an_identity_says_what_determines_the_numbers(void **state)
{
    (void)state;
    enum { OTHERS = sizeof others / sizeof others[0] };
    char *texts[OTHERS + 1];
    texts[OTHERS] = identity(SAMPLE("", "1", RANGE, "kind: sobol, cases: 8", ""));
    for (size_t i = 0; i < OTHERS; i++)
        texts[i] = identity(others[i]);
    for (size_t i = 0; i <= OTHERS; i++)
        for (size_t j = 0; j < i; j++)
            assert_string_not_equal(texts[i], texts[j]);
    /* What changes no number: names, notes, units, and a path to the same file. */
    char *same =
        identity("kind: study\nname: Other\nnote: N\nsetup: " MODELS
                 "/setups/../setups/neutral-smooth.yaml\nset: [name=X, shaft.note=Y]\nseed: 1\n"
                 "factors: [{name: a, path: player.load.grip.rise, from: 100 ms, to: 200 ms}]\n"
                 "design: {kind: sobol, cases: 8}\n");
    assert_string_equal(same, texts[OTHERS]);
    assert_null(strstr(same, "models"));
    free(same);
    for (size_t i = 0; i <= OTHERS; i++)
        free(texts[i]);
}

/* Given cases are in it value by value, to the bit. */
static void an_identity_of_given_cases(void **state)
{
    (void)state;
    const char *text = HEAD "factors:\n - {name: rise, path: load.grip.rise}\n"
                            "design: {kind: cases, file: cases.csv}\n";
    folder_write("cases.csv", "rise\ns\n0.1\n0.2\n");
    char *one = identity(text);
    folder_write("cases.csv", "# again\nrise\nms\n100\n200\n");
    char *same = identity(text);
    folder_write("cases.csv", "rise\ns\n0.1\n0.20000000000000001\n0.2\n");
    char *more = identity(text);
    folder_write("cases.csv", "rise\ns\n0.1\n0.20000000000000004\n");
    char *other = identity(text);
    assert_string_equal(one, same);
    assert_string_not_equal(one, more);
    assert_string_not_equal(one, other);
    free(one);
    free(same);
    free(more);
    free(other);
}

/* ------------------------------------------------------------------ cost */

static cost estimate(const char *text, const cost_times *times, int threads)
{
    caber_study *s = read_good(text);
    const cost c = cost_estimate(s, times, threads);
    caber_study_free(s);
    return c;
}

static void what_a_study_takes(void **state)
{
    (void)state;
    const cost_times times = {.model = 4, .swing = 2, .flight = 1};
    /* 3 tips with 2 rises each, in either order: each club is made once. */
    cost c = estimate(HEAD SECTION "outputs: [carry_m, ball_speed_mps]\nfactors: [" TIP ", " RISE
                                   "]\ndesign: {kind: grid}\n",
                      &times, 2);
    assert_int_equal(c.points, 6);
    assert_int_equal(c.cases, 6);
    assert_true(c.models == 3 && c.swings == 6 && c.flights == 6);
    assert_close(c.time, (3 * 4 + 6 * 2 + 6) / 2., 1e-15, 0);
    /* 2 factors and 2 outputs; the point and 3 counts. */
    assert_close(c.file, 6 * (4 * 8 + 4 * 4 + 25), 1e-15, 0);
    /* Each point has its usual swing, of which the ball is of no use, and 4 more. */
    c = estimate(HEAD SECTION "replicates: 4\nfactors: [" RISE ", " TIP "]\ndesign: {kind: grid}\n",
                 &times, 1);
    assert_int_equal(c.cases, 24);
    assert_true(c.models == 3 && c.swings == 30 && c.flights == 24);
    assert_close(c.time, 3 * 4 + 30 * 2 + 24, 1e-15, 0);
    /* In another wind a ball of the same swing; without outputs of the ball none flies. */
    c = estimate(HEAD "factors: [" RISE
                      ", {name: wind, path: air.wind_along, values: [0 m/s, 1 m/s, "
                      "2 m/s]}, {name: loft, path: head.loft, values: [8 deg]}]\ndesign: {kind: "
                      "grid}\noutputs: [head_speed_mps]\n",
                 &times, 1);
    assert_true(c.cases == 6 && c.models == 1 && c.swings == 2 && c.flights == 0);
    assert_close(c.file, 6 * (4 * 8 + 4 * 4 + 25), 1e-15, 0);
}

/* Clubs that come back are there while CLUBS_KEPT others have not been swung since. */
static void clubs_that_come_back(void **state)
{
    (void)state;
    const cost_times times = {.model = 1};
    for (int levels = CLUBS_KEPT - 1; levels <= CLUBS_KEPT + 1; levels++) {
        char text[1000];
        snprintf(text, sizeof text,
                 HEAD "factors: [" RISE
                      ", {name: trim, path: build.tip_trim, from: 0 mm, to: 20 mm, "
                      "levels: %d}]\ndesign: {kind: grid}\n",
                 levels);
        const cost c = estimate(text, &times, 1);
        assert_true(c.clubs == levels && c.models == (levels > CLUBS_KEPT ? 2 * levels : levels));
    }
}

#define HALTON(n) "factors: [" RISE ", " TIP "]\ndesign: {kind: halton, cases: " #n "}\n"

static void what_a_study_keeps(void **state)
{
    (void)state;
    const cost_times times = {.model = 1};
    const caber_settings usual = caber_settings_default();
    const double model = cost_model_bytes(&usual), work = cost_work_bytes(&usual);
    /* More points: 2 numbers each, and some bytes a chunk for the writer. */
    const cost few = estimate(HEAD SECTION HALTON(6000), &times, 1),
               many = estimate(HEAD SECTION HALTON(8000), &times, 1);
    assert_true(few.models == 6000);
    assert_close(many.memory - few.memory, 2 * 8 * 2000, 0, 1e4);
    /* Another thread: four clubs more, and the work for four. */
    const cost two = estimate(HEAD SECTION HALTON(6000), &times, 2);
    assert_close(two.memory - few.memory, 4 * (2 * model + work), 0.1, 1e5);
    /* Far below what any computer has. */
    assert_true(few.memory > CLUBS_KEPT * model && two.memory < 60e6);
}

#if defined(__GLIBC__) && defined(__GLIBC_PREREQ)
#if __GLIBC_PREREQ(2, 33)
#include <malloc.h>
#define COUNTS_BYTES
#endif
#endif

#ifdef COUNTS_BYTES
enum { MODELS_MADE = 4 };

/* Bytes of a model and of the work for it, by malloc's own count, to which what it keeps in reserve counts:
 * hence several, after a first one. */
static void count_bytes(const caber_setup *setup, double *model, double *work)
{
    caber_model *made[MODELS_MADE + 1];
    caber_work *worked[MODELS_MADE];
    assert_int_equal(caber_model_create(setup, &made[MODELS_MADE], NULL), CABER_OK);
    const double before = (double)mallinfo2().uordblks;
    for (int i = 0; i < MODELS_MADE; i++)
        assert_int_equal(caber_model_create(setup, &made[i], NULL), CABER_OK);
    const double then = (double)mallinfo2().uordblks;
    for (int i = 0; i < MODELS_MADE; i++)
        assert_int_equal(caber_work_create(made[i], &worked[i], NULL), CABER_OK);
    *model = (then - before) / MODELS_MADE;
    *work = ((double)mallinfo2().uordblks - then) / MODELS_MADE;
    for (int i = 0; i < MODELS_MADE; i++)
        caber_work_free(worked[i]);
    for (int i = 0; i <= MODELS_MADE; i++)
        caber_model_free(made[i]);
}
#endif

static void what_a_model_keeps(void **state)
{
    (void)state;
#ifdef COUNTS_BYTES
    static const int sizes[][2] = {{10, 12}, {6, 30}, {20, 40}, {30, 64}};
    for (int i = 0; i < 4 && !CHECK_SANITISED; i++) {
        caber_setup *setup;
        double model, work;
        assert_int_equal(
            caber_setup_read(MODELS "/setups/neutral-smooth.yaml", NULL, 0, &setup, NULL),
            CABER_OK);
        setup->settings.modes = sizes[i][0];
        setup->settings.stations = sizes[i][1];
        setup->settings.elements = 100; /* quickly: elements are not kept */
        count_bytes(setup, &model, &work);
        assert_close(cost_model_bytes(&setup->settings), model, 0.15, 0);
        assert_close(cost_work_bytes(&setup->settings), work, 0.15, 0);
        caber_setup_free(setup);
    }
#endif
}

static void what_a_case_takes(void **state)
{
    (void)state;
    caber_study *s = read_model("tip-and-rise.yaml");
    cost_times t;
    caber_message m;
    assert_int_equal(cost_measure(s, 2, &t, &m), CABER_OK);
    assert_int_equal(t.looks, 2);
    assert_int_equal(t.failed, 0);
    assert_true(t.model > 0 && t.swing > 0 && t.flight > 0);
    /* A step of the integrator is more than a microsecond's work, and a swing has hundreds. */
    assert_true(t.swing > 1e-4);
    caber_study_free(s);
}

/* ------------------------------------------------------------------ what is refused */

#define ONE(factor) HEAD "factors: [" factor "]\ndesign: {kind: grid}\n"
#define WITH(design) HEAD SECTION "factors: [" TIP ", " RISE "]\ndesign: " design "\n"

static const char *const refused[][2] = {
    {"kind: setup\n", "s.yaml:1:7: kind: setup is not allowed; it must be study"},
    {"kind: study\n", "setup: is missing"},
    {HEAD "design: {kind: grid}\n", "factors: is missing"},
    {HEAD "factors: []\ndesign: {kind: grid}\n", "factors: 0 entries are not allowed"},
    {HEAD "factors: [" RISE "]\n", "design.kind: is missing"},
    {WITH("{kind: mesh}"), "s.yaml:6:16: design.kind: \"mesh\" is not allowed; it must be grid"},
    {WITH("{kind: grid, cases: 5}"), "s.yaml:6:29: design.cases: is not allowed with this kind"},
    {WITH("{kind: sobol}"), "design.cases: is missing"},
    {WITH("{kind: sobol, cases: 5, rows: 5}"), "design.rows: is not allowed"},
    {WITH("{kind: saltelli}"), "design.rows: is missing"},
    {WITH("{kind: saltelli, rows: 5, plain: yes}"), "design.plain: is not allowed"},
    {WITH("{kind: sobol, cases: 5, both: yes}"), "design.both: is not allowed"},
    {WITH("{kind: sobol, cases: 5, sampling: sobol}"), "design.sampling: is not allowed"},
    {WITH("{kind: morris}"), "design.trajectories: is missing"},
    {WITH("{kind: morris, trajectories: 3}"), "it must be at least 4"},
    {WITH("{kind: morris, trajectories: 9, levels: 5}"),
     "design.levels: 5 is not allowed; it must"},
    {WITH("{kind: morris, trajectories: 9, rows: 5}"), "design.rows: is not allowed"},
    {WITH("{kind: grid, levels: 4}"), "design.levels: is not allowed"},
    {HEAD "factors: [{name: a, path: load.grip.rise, values: [0.1]}]\n"
          "design: {kind: morris, trajectories: 9}\n",
     "s.yaml:4:11: factors[0]: a list of 1"},
    {WITH("{kind: cases}"), "design.file: is missing"},
    {WITH("{kind: grid, file: x.csv}"), "design.file: is not allowed"},
    {WITH("{kind: sobol, cases: 0}"), "design.cases: 0 is not allowed; it must be at least 1"},
    {WITH("{kind: sobol, cases: 2.5}"), "whole number"},
    {WITH("{kind: grid}\noutputs: [carry]"), "s.yaml:7:11: outputs[0]: \"carry\" is no output"},
    {WITH("{kind: grid}\noutputs: [carry_n]"), "did you mean carry_m?"},
    {WITH("{kind: grid}\noutputs: [straight.carry_m]"), "no meaning for the straight club"},
    {WITH("{kind: grid}\noutputs: [carry_m, carry_m]"), "outputs[1]: carry_m is given twice"},
    {WITH("{kind: grid}\noutputs: carry_m"), "outputs: this is a value; a list is wanted"},
    {WITH("{kind: grid}\nseed: -1"), "seed: -1 is not allowed"},
    {WITH("{kind: grid}\nreplicates: 10001"), "replicates: 10001 is not allowed"},
    {WITH("{kind: sobol, cases: 20000}\nreplicates: 10000"), "too many"},
    {WITH("{kind: grid}\nset: [x]"), "this key was given before"},
    {ONE(RISE ", " RISE), "s.yaml:4:90: factors[1].name: \"rise\" is the name of factors[0] too"},
    {ONE(RISE ", {name: b, path: player.load.grip.rise, values: [0.1]}"),
     "factors[1].path: is the path of factors[0] too"},
    {ONE("{name: carry_m, path: load.grip.rise, values: [0.1]}"), "the name of something else"},
    {ONE("{name: status, path: load.grip.rise, values: [0.1]}"), "the name of something else"},
    {ONE("{name: \"a b\", path: load.grip.rise, values: [0.1]}"), "a letter, then letters"},
    {ONE("{name: 1a, path: load.grip.rise, values: [0.1]}"), "a letter, then letters"},
    {ONE("{name: \"\", path: load.grip.rise, values: [0.1]}"), "a letter, then letters"},
    {ONE("{path: load.grip.rise, values: [0.1]}"), "factors[0].name: is missing"},
    {ONE("{name: a, values: [0.1]}"), "factors[0].path: is missing"},
    {ONE("{name: a, path: load.grip.rize, values: [0.1]}"),
     "s.yaml:4:27: factors[0].path: \"load.grip.rize\": there is no such input"},
    {ONE("{name: a, path: \"shaft.sections[0].ei_scale\", values: [1]}"),
     "the setup has no such entry in its list sections"},
    {ONE("{name: a, path: settings.until, values: [0.1 s]}"), "every swing of a study ends at"},
    {ONE("{name: a, path: load.grip.rise}"), "neither from and to nor values are given"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1}"), "to is missing"},
    {ONE("{name: a, path: load.grip.rise, to: 0.1}"), "from is missing"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2, values: [1]}"),
     "not allowed together"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2}"), "a grid needs levels"},
    {ONE("{name: a, path: load.grip.rise, from: 0.2, to: 0.1, levels: 2}"), "the range is empty"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2, levels: 1}"), "levels: 1 is not"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1 m, to: 0.2, levels: 2}"), "factors[0].from: "},
    {ONE("{name: a, path: load.grip.rise, from: -0.1, to: 0.2, levels: 2}"),
     "s.yaml:4:49: factors[0].from: -0.1 s is not allowed; it must be "},
    {ONE("{name: a, path: load.grip.rise, values: [0.1, 0.1x]}"), "factors[0].values[1]: "},
    {ONE("{name: a, path: load.grip.rise, values: []}"), "0 entries are not allowed"},
    {ONE("{name: a, path: load.grip.rise, values: [[1]]}"), "values[0]: this is a list"},
    {ONE("{name: a, path: load.grip.rise, values: [0.1], distribution: normal}"),
     "without a range"},
    {ONE("{name: a, path: load.grip.rise, values: [0.1], levels: 3}"), "without a range"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2, distribution: bell}"),
     "it must be uni"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2, distribution: normal}"),
     "mean is missing"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2, distribution: normal, mean: 0.1}"),
     "sd is missing"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2, distribution: normal, mean: 0.1, "
         "sd: 1 m}"),
     "factors[0].sd: "},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2, peak: 0.1}"),
     "factors[0].peak: is not allowed with this distribution"},
    {ONE("{name: a, path: load.grip.rise, from: 0.1, to: 0.2, distribution: triangular, peak: 3}"),
     "peak must be within"},
    {ONE("{name: a, path: load.grip.rise, files: [x.yaml]}"), "no part of the setup"},
    {ONE("{name: a, path: settings.gravity, from: 0, to: 1, levels: 2}"), "has no range"},
    {ONE("{name: a, path: settings.gravity, values: [maybe]}"), "it must be yes or no"},
    {ONE("{name: a, path: settings.modes, from: 2, to: 4, levels: 4}"), "only 3 whole"},
    {ONE("{name: a, path: settings.modes, values: [2.5]}"), "whole number"},
    {ONE("{name: a, path: head, values: [1]}"), "files is missing"},
    {ONE("{name: a, path: head, files: [none.yaml]}"), "factors[0].files[0]: "},
    {ONE("{name: a, path: head, files: [\"\"]}"), "factors[0].files[0]: is empty"},
    {ONE("{name: a, path: head, files: [" MODELS "/grips/standard.yaml]}"), "it must be head"},
    {ONE("{name: a, path: head, files: [" MODELS "/heads/driver-9.yaml], from: 1}"),
     "not allowed together"},
    {ONE("{name: a, path: head, files: [" MODELS
         "/heads/driver-9.yaml]}, {name: b, path: head.file, "
         "files: [" MODELS "/heads/driver-9.yaml]}"),
     "factors[0] chooses this part too"},
    /* Each value is allowed, but not together: the clamp would be beyond what is left of the shaft. */
    {ONE("{name: trim, path: build.tip_trim, values: [12 mm, 250 mm]}, {name: butt, path: "
         "build.butt_trim, values: [48 mm, 900 mm]}"),
     "s.yaml:5:9: design: case "},
    {"kind: study\nname: T\nsetup: none.yaml\nfactors: [" RISE "]\ndesign: {kind: grid}\n",
     "none.yaml"},
    {"kind: study\nname: T\nsetup: \"\"\nfactors: [" RISE "]\ndesign: {kind: grid}\n",
     "setup: is empty"},
    {HEAD "set: [rise]\nfactors: [" RISE "]\ndesign: {kind: grid}\n",
     "s.yaml:4:7: set[0]: write path=value"},
    {HEAD "set: [settings.until=0.1]\nfactors: [" RISE "]\ndesign: {kind: grid}\n",
     "it must be 0 here"},
    {HEAD "set: [load.grip.rise=1 m]\nfactors: [" RISE "]\ndesign: {kind: grid}\n",
     "load.grip.rise"},
    {HEAD "wings: 2\n", "there is no such key"},
    {WITH("{kind: grid}\nseries: {}"), "series: outputs is missing"},
    {WITH("{kind: grid}\nseries: {outputs: [lag]}"), "series.outputs[0]: \"lag\" is no series"},
    {WITH("{kind: grid}\nseries: {outputs: [time_s]}"), "time_s is the grid itself"},
    {WITH("{kind: grid}\nseries: {outputs: [lag_mm, lag_mm]}"), "lag_mm is given twice"},
    {WITH("{kind: grid}\nseries: {outputs: [lag_mm], step: 1 s}"), "at least one step"},
    {WITH("{kind: grid}\nseries: {outputs: [lag_mm], step: 1e-6, until: 1}"), "1000001 points"},
    {ONE("{name: a, path: settings.sample, values: [0.01]}") "series: {outputs: [lag_mm]}\n",
     "factors[0].path: is not allowed together with series"},
};

static void files_that_make_no_sense(void **state)
{
    (void)state;
    int wrong = 0;
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
        caber_study *s = NULL;
        caber_message m = {""};
        const caber_status status = read_text(refused[i][0], &s, &m);
        const bool good = (status == CABER_BAD_INPUT || status == CABER_IO_ERROR) && !s &&
                          strstr(m.text, refused[i][1]);
        if (!good)
            print_error("%s\n-> %d \"%s\"\n   does not say \"%s\"\n", refused[i][0], status, m.text,
                        refused[i][1]);
        wrong += !good;
        caber_study_free(s);
    }
    assert_int_equal(wrong, 0);
}

/* A case that is no setup is named with its values. */
static void the_case_that_cannot_be_is_named(void **state)
{
    (void)state;
    caber_study *s = NULL;
    caber_message m;
    assert_int_equal(read_text(ONE("{name: trim, path: build.tip_trim, values: [12 mm, 250 mm]}, "
                                   "{name: butt, path: build.butt_trim, values: [48 mm, 900 mm]}"),
                               &s, &m),
                     CABER_BAD_INPUT);
    assert_non_null(strstr(m.text, "(trim = 12 mm, butt = 900 mm): build"));
}

static void a_player_without_habits(void **state)
{
    (void)state;
    folder_write("steady.yaml", "kind: setup\nname: S\nshaft: " MODELS "/shafts/neutral.yaml\n"
                                "head: " MODELS "/heads/driver-10.yaml\n"
                                "grip: " MODELS "/grips/standard.yaml\n"
                                "player: {file: " MODELS "/players/smooth.yaml, repeat: {rise: 0, "
                                "peak: 0, release: 0, hub: 0, arm: 0, square: 0, direction: 0, "
                                "ahead: 0, out: 0, height: 0, together: []}}\n"
                                "build: {tip_trim: 12 mm, butt_trim: 48 mm, hold: 120 mm}\n");
    caber_study *s = NULL;
    caber_message m;
    assert_int_equal(
        read_text("kind: study\nname: T\nsetup: steady.yaml\nreplicates: 2\nfactors: [" RISE
                  "]\ndesign: {kind: grid}\n",
                  &s, &m),
        CABER_BAD_INPUT);
    assert_non_null(
        strstr(m.text, "s.yaml:4:13: replicates: player.repeat: 'Smooth' has no habits"));
}

/* --set of the command line lies over the study's own. */
static void overrides_lie_over_the_study(void **state)
{
    (void)state;
    static const char *const over[] = {"head.mass=203 g", "shaft.sections[0].to=300 mm"};
    caber_study *s = NULL;
    caber_message m;
    if (caber_study_read(MODELS "/studies/tip-and-rise.yaml", over, 2, &s, &m) != CABER_OK)
        fail_msg("%s", m.text);
    assert_close(s->base->head.mass, 0.203, 1e-15, 0);
    assert_close(s->base->sections.items[0].to, 0.3, 1e-15, 0);
    caber_study_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_grid_of_setups),
        cmocka_unit_test(files_words_and_lists),
        cmocka_unit_test(parts_that_are_chosen),
        cmocka_unit_test(a_csv_of_cases),
        cmocka_unit_test(what_two_points_share),
        cmocka_unit_test(a_model_serves_another_player),
        cmocka_unit_test(replicates_are_common),
        cmocka_unit_test(outputs_by_name),
        cmocka_unit_test(series_on_a_grid),
        cmocka_unit_test(an_identity_says_what_determines_the_numbers),
        cmocka_unit_test(an_identity_of_given_cases),
        cmocka_unit_test(what_a_study_takes),
        cmocka_unit_test(clubs_that_come_back),
        cmocka_unit_test(what_a_study_keeps),
        cmocka_unit_test(what_a_model_keeps),
        cmocka_unit_test(what_a_case_takes),
        cmocka_unit_test(files_that_make_no_sense),
        cmocka_unit_test(the_case_that_cannot_be_is_named),
        cmocka_unit_test(a_player_without_habits),
        cmocka_unit_test(overrides_lie_over_the_study),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
