/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The plan of a study as its file: run, written, and read back. Values of factors are those of the study's
 * text, by hand in the units that caber fields lists; names and notes are as study/store_plan.h says. */
#include "folder.h"
#include "studies.h"

#include "study/store_plan.h"

#define STUDY                                                                                      \
    STUDIES_HEAD                                                                                   \
    "note: >-\n  Two\n  lines.\nseed: 5\nreplicates: 2\n"                                          \
    "factors:\n"                                                                                   \
    "  - {name: shaft, path: shaft.file, files: [../shafts/neutral.yaml, "                         \
    "../shafts/soft-tip.yaml]}\n"                                                                  \
    "  - {name: rise, path: load.grip.rise, from: 120 ms, to: 0.15 s, levels: 2}\n"                \
    "  - {name: strike, path: player.ball.strike, values: [centred, placed]}\n"                    \
    "  - {name: weight, path: settings.gravity, values: [no, yes]}\n"                              \
    "  - {name: warmth, path: air.temperature, values: [10 degC, 25 degC]}\n"                      \
    "  - {name: arm, path: player.arm.inertia, values: [1.15 kg m2, 9 kg m2]}\n"                   \
    "design: {kind: grid}\n"                                                                       \
    "outputs: [carry_m, straight.delivered_loft_deg, head_speed_mps]\n"                            \
    "series: {outputs: [lead_deflection_mm], until: 0.5 s, step: 0.1 s}\n"
enum { FACTORS = 6, CASES = 128 };

typedef struct kept {
    caber_study *plan;
    store_plan_view *view;
    numbers *n;
    store_reader *reader;
} kept;

static void fine(caber_status status, const caber_message *m)
{
    if (status != CABER_OK)
        fail_msg("%s", m->text);
}

typedef struct writing {
    store_writer *writer;
    numbers *n;
} writing;

static bool wants(void *user, size_t chunk)
{
    return store_writer_wants(((writing *)user)->writer, chunk);
}

static caber_status take(void *user, const engine_result *result, caber_message *message)
{
    writing *w = user;
    numbers_take(w->n, result, message);
    return store_plan_write(w->writer, result, message);
}

static store_plan_view *view_of(const caber_study *plan)
{
    store_plan_view *view;
    caber_message m;
    char *identity;
    fine(files_study_identity(plan, &identity, &m), &m);
    fine(store_plan_create(plan, identity, "kind: setup\n", 1, 1, &view, &m), &m);
    free(identity);
    return view;
}

static int write_and_read(void **state)
{
    static kept k;
    writing w;
    caber_message m;
    static const char *const overrides[] = {"load.roll.square=-9 deg"};
    if (folder_make(state))
        return -1;
    fine(files_read_study(STUDIES_FOLDER "/s.yaml", STUDY, sizeof STUDY - 1, overrides, 1, &k.plan,
                          &m),
         &m);
    k.view = view_of(k.plan);
    w.n = k.n = numbers_create(k.plan);
    fine(store_writer_create(folder_path("s.h5"), store_plan_study(k.view), STORE_NEW, &w.writer,
                             &m),
         &m);
    const engine_sink sink = {&w, wants, take, NULL};
    fine(engine_run(k.plan, 2, &sink, &m), &m);
    fine(store_writer_finish(w.writer, &m), &m);
    store_writer_free(w.writer);
    fine(store_reader_create(folder_path("s.h5"), &k.reader, &m), &m);
    fine(store_reader_check(k.reader, NULL, &m), &m);
    *state = &k;
    return 0;
}

static int end(void **state)
{
    kept *k = *state;
    store_reader_free(k->reader);
    numbers_free(k->n);
    store_plan_free(k->view);
    caber_study_free(k->plan);
    return folder_remove(state);
}

static void assert_column(const store_column *c, const char *name, const char *units, bool whole)
{
    assert_string_equal(c->name, name);
    assert_string_equal(c->units, units);
    assert_true(strlen(c->long_name) > 3);
    assert_int_equal(c->whole, whole);
}

static void the_columns(void **state)
{
    const kept *k = *state;
    const store_study *s = store_reader_study(k->reader);
    assert_int_equal(s->cases, CASES);
    assert_int_equal(s->factor_count, FACTORS + 2);
    assert_column(&s->factors[0], "point", "1", true);
    assert_column(&s->factors[1], "replicate", "1", true);
    assert_column(&s->factors[2], "shaft", "1", true);
    assert_column(&s->factors[3], "rise", "s", false);
    assert_column(&s->factors[4], "strike", "1", true);
    assert_column(&s->factors[5], "weight", "1", true);
    assert_column(&s->factors[6], "warmth", "degC", false);
    assert_column(&s->factors[7], "arm", "kg m2", false);
    assert_int_equal(s->output_count, 6);
    assert_column(&s->outputs[0], "carry_m", "m", false);
    assert_column(&s->outputs[1], "straight.delivered_loft_deg", "deg", false);
    assert_column(&s->outputs[2], "head_speed_mps", "m/s", false);
    assert_column(&s->outputs[3], "swing_steps", "1", true);
    assert_column(&s->outputs[4], "swing_evaluations", "1", true);
    assert_column(&s->outputs[5], "swing_error_failures", "1", true);
    assert_non_null(strstr(s->outputs[1].long_name, "straight club: "));
    assert_int_equal(s->series_count, 1);
    assert_column(&s->series[0], "series.lead_deflection_mm", "mm", false);
    assert_column(&s->grid.column, "time_s", "s", false);
    assert_int_equal(s->grid.count, 6);
    for (size_t i = 0; i < 6; i++)
        assert_close(s->grid.at[i], 0.1 * (double)i, 1e-15, 0);
}

static void read_column(const kept *k, const char *name, double *values)
{
    caber_message m;
    fine(store_reader_column(k->reader, name, 0, CASES, values, &m), &m);
}

/* The last factor goes fastest, behind the replicates. */
static void the_values_of_factors(void **state)
{
    const kept *k = *state;
    static const char *const names[] = {"arm", "warmth", "weight", "strike", "rise", "shaft"};
    static const double levels[][2] = {{1.15, 9}, {10, 25}, {0, 1}, {0, 1}, {0.12, 0.15}, {0, 1}};
    double values[CASES];
    read_column(k, "point", values);
    for (size_t i = 0; i < CASES; i++)
        assert_true(values[i] == (double)(i / 2));
    read_column(k, "replicate", values);
    for (size_t i = 0; i < CASES; i++)
        assert_true(values[i] == (double)(i % 2));
    for (size_t f = 0; f < FACTORS; f++) {
        read_column(k, names[f], values);
        for (size_t i = 0; i < CASES; i++)
            assert_close(values[i], levels[f][(i / 2) >> f & 1], 1e-14, 0);
    }
}

static void assert_same(double got, double want)
{
    assert_true(isnan(want) ? isnan(got) : got == want);
}

static void the_numbers(void **state)
{
    const kept *k = *state;
    const store_study *s = store_reader_study(k->reader);
    static const double printed[] = {1, CABER_DEG, 1, 1, 1, 1};
    double values[CASES], rows[6];
    int status[CASES];
    caber_message m;
    fine(store_reader_status(k->reader, 0, CASES, status, &m), &m);
    assert_memory_equal(status, k->n->status, sizeof status);
    for (size_t j = 0; j < s->output_count; j++) {
        read_column(k, s->outputs[j].name, values);
        for (size_t i = 0; i < CASES; i++)
            assert_same(values[i], k->n->outputs[i * 6 + j] * printed[j]);
    }
    size_t failed = 0;
    for (size_t i = 0; i < CASES; i++) {
        char reason[STORE_REASON_SIZE];
        fine(store_reader_reason(k->reader, i, reason, &m), &m);
        assert_string_equal(reason, k->n->reason[i]);
        assert_int_equal(status[i] == CABER_OK, reason[0] == '\0');
        failed += status[i] != CABER_OK;
        fine(store_reader_series(k->reader, "series.lead_deflection_mm", i, 1, rows, &m), &m);
        for (size_t j = 0; j < 6; j++)
            assert_same(rows[j], k->n->series[i * 6 + j] * 1e3);
    }
    assert_int_equal(failed, CASES / 2); /* the arm that is too heavy for its time */
}

static const store_note *note(const store_study *s, const char *name)
{
    for (size_t i = 0; i < s->note_count; i++)
        if (!strcmp(s->notes[i].name, name))
            return &s->notes[i];
    return NULL;
}

static void assert_texts(const store_study *s, const char *name, const char *const *want,
                         size_t count)
{
    const store_note *n = note(s, name);
    assert_non_null(n);
    assert_non_null(n->texts);
    assert_int_equal(n->count, count);
    for (size_t i = 0; i < count; i++)
        assert_string_equal(n->texts[i], want[i]);
}

static void the_notes(void **state)
{
    const kept *k = *state;
    const store_study *s = store_reader_study(k->reader);
    static const char *const names[] = {"shaft", "rise", "strike", "weight", "warmth", "arm"};
    static const char *const paths[] = {
        "shaft",           "player.load.grip.rise", "player.ball.strike", "settings.gravity",
        "air.temperature", "player.arm.inertia"};
    static const char *const kinds[] = {"choice", "number", "word", "word", "number", "number"};
    static const char *const files[] = {"../shafts/neutral.yaml", "../shafts/soft-tip.yaml"};
    static const char *const strikes[] = {"centred", "placed"}, *const yes_no[] = {"no", "yes"};
    static const char *const given[] = {"load.roll.square=-9 deg"};
    assert_string_equal(note(s, "title")->text, "T");
    assert_string_equal(note(s, "note")->text, "Two lines.");
    assert_string_equal(note(s, "design")->text, "grid");
    assert_string_equal(note(s, "study_text")->text, STUDY);
    assert_string_equal(note(s, "setup_text")->text, "kind: setup\n");
    assert_true(note(s, "seed")->number == 5);
    assert_true(note(s, "points")->number == 64);
    assert_true(note(s, "replicates")->number == 2);
    assert_true(note(s, "tolerance")->number == 1e-5);
    assert_texts(s, "factor_names", names, FACTORS);
    assert_texts(s, "factor_paths", paths, FACTORS);
    assert_texts(s, "factor_kinds", kinds, FACTORS);
    assert_texts(s, "choices_shaft", files, 2);
    assert_texts(s, "choices_strike", strikes, 2);
    assert_texts(s, "choices_weight", yes_no, 2);
    assert_texts(s, "overrides", given, 1);
    assert_null(note(s, "choices_rise"));
    assert_null(note(s, "rows"));
    assert_true(strlen(s->identity) > 500);
}

/* Without replicates, series and overrides; and the pairs of an analysis of sensitivity. */
static void another_study(void **state)
{
    (void)state;
    caber_study *plan = studies_read(
        STUDIES_HEAD "factors: [{name: rise, path: load.grip.rise, from: 0.1 s, to: 0.2 s}]\n"
                     "design: {kind: saltelli, rows: 4, both: yes}\n");
    store_plan_view *view = view_of(plan);
    const store_study *s = store_plan_study(view);
    assert_int_equal(s->factor_count, 2);
    assert_int_equal(s->output_count, caber_output_count() + RUNNER_COUNTS);
    assert_int_equal(s->series_count, 0);
    assert_int_equal(s->chunk_cases, engine_chunk_cases(plan));
    assert_string_equal(note(s, "design")->text, "saltelli");
    assert_true(note(s, "rows")->number == 4);
    assert_true(note(s, "both")->number == 1);
    assert_string_equal(note(s, "note")->text, "");
    assert_null(note(s, "overrides"));
    store_plan_free(view);
    caber_study_free(plan);
}

/* Nothing that a factor may be called is the name of something else in the file. */
static void names_of_factors(void **state)
{
    (void)state;
    static const char *const taken[] = {"point",
                                        "replicate",
                                        "status",
                                        "reason",
                                        "case",
                                        "chunk",
                                        "chunk_crc32",
                                        "time_s",
                                        "swing_steps",
                                        "carry_m",
                                        "swing_evaluations",
                                        "swing_error_failures"};
    for (size_t i = 0; i < sizeof taken / sizeof taken[0]; i++) {
        char text[1000];
        caber_study *plan;
        caber_message m;
        snprintf(text, sizeof text,
                 STUDIES_HEAD "factors: [{name: %s, path: load.grip.rise, from: 0.1 s, to: 0.2 s, "
                              "levels: 2}]\ndesign: {kind: grid}\n",
                 taken[i]);
        assert_int_equal(
            files_read_study(STUDIES_FOLDER "/s.yaml", text, strlen(text), NULL, 0, &plan, &m),
            CABER_BAD_INPUT);
        assert_non_null(strstr(m.text, "is the name of something else in the results"));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_columns),   cmocka_unit_test(the_values_of_factors),
        cmocka_unit_test(the_numbers),   cmocka_unit_test(the_notes),
        cmocka_unit_test(another_study), cmocka_unit_test(names_of_factors),
    };
    return cmocka_run_group_tests(tests, write_and_read, end);
}
