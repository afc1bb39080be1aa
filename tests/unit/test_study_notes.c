/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The notes of a study's file, read back: what store_plan.h says comes out, and a file that has no such
 * notes, or whose notes contradict each other or its datasets, is refused by name. */
#include <stdlib.h>

#include "app/study_notes.h"
#include "folder.h"

enum { FACTORS = 4, NOTES_MOST = 20, CASES = 12 };

static const store_column columns[FACTORS + 2] = {
    {.name = "point", .units = "1", .long_name = "point", .factor = 1, .whole = true},
    {.name = "replicate", .units = "1", .long_name = "replicate", .factor = 1, .whole = true},
    {.name = "rise", .units = "s", .long_name = "rise", .factor = 1},
    {.name = "drag", .units = "1", .long_name = "drag", .factor = 1, .whole = true},
    {.name = "bowed", .units = "1", .long_name = "a wrist", .factor = 1, .whole = true},
    {.name = "shaft", .units = "1", .long_name = "a shaft", .factor = 1, .whole = true}};
static const store_column output = {
    .name = "speed_mps", .units = "m/s", .long_name = "speed", .factor = 1};

static const char *const names[] = {"rise", "drag", "bowed", "shaft"};
static const char *const paths[] = {"load.grip.rise", "ball.coefficients", "set.by.nobody",
                                    "shaft.file"};
static const char *const kinds[] = {"number", "word", "word", "choice"};
static const char *const sets[] = {"bearman-harvey", "lyu", "smits-smith"};
static const char *const answers[] = {"no", "yes"};
static const char *const shafts[] = {"a.yaml", "b.yaml"};

static caber_status plan(void *user, size_t first, size_t count, double *values,
                         caber_message *message)
{
    (void)user;
    (void)first;
    (void)message;
    memset(values, 0, count * (FACTORS + 2) * sizeof *values);
    return CABER_OK;
}

/* The notes of a Latin hypercube of 6 points with 2 swings each. */
static size_t notes_fill(store_note *notes)
{
    const store_note all[] = {
        {.name = "title", .text = "Invented"},
        {.name = "seed", .number = 7},
        {.name = "design", .text = "latin-hypercube"},
        {.name = "points", .number = 6},
        {.name = "replicates", .number = 2},
        {.name = "rows", .number = 1},
        {.name = "both", .number = 0},
        {.name = "trajectories", .number = 2},
        {.name = "levels", .number = 4},
        {.name = "factor_names", .texts = names, .count = FACTORS},
        {.name = "factor_paths", .texts = paths, .count = FACTORS},
        {.name = "factor_kinds", .texts = kinds, .count = FACTORS},
        {.name = "choices_shaft", .texts = shafts, .count = 2},
        {.name = "choices_drag", .texts = sets, .count = 3},
        {.name = "choices_bowed", .texts = answers, .count = 2},
    };
    memcpy(notes, all, sizeof all);
    return sizeof all / sizeof *all;
}

/* Writes a file of no numbers with these notes. */
static void file_write(const store_note *notes, size_t count)
{
    const store_study s = {.identity = "invented\n",
                           .version = "1",
                           .notes = notes,
                           .note_count = count,
                           .cases = CASES,
                           .chunk_cases = CASES,
                           .shard = 1,
                           .shards = 1,
                           .factors = columns,
                           .factor_count = FACTORS + 2,
                           .plan = plan,
                           .outputs = &output,
                           .output_count = 1};
    store_writer *w;
    caber_message m;
    if (store_writer_create(folder_path("s.h5"), &s, STORE_REPLACE, &w, &m) != CABER_OK)
        fail_msg("%s", m.text);
    assert_int_equal(store_writer_sync(w, NULL), CABER_OK);
    store_writer_free(w);
}

static caber_status notes_back(study_notes **out, caber_message *m, store_reader **reader)
{
    assert_int_equal(store_reader_create(folder_path("s.h5"), reader, m), CABER_OK);
    return study_notes_read(*reader, "s.h5", out, m);
}

static void notes_come_back(void **state)
{
    (void)state;
    store_note notes[NOTES_MOST];
    store_reader *reader;
    study_notes *n;
    caber_message m;
    file_write(notes, notes_fill(notes));
    if (notes_back(&n, &m, &reader) != CABER_OK)
        fail_msg("%s", m.text);
    assert_string_equal(n->title, "Invented");
    assert_string_equal(n->note, "");
    assert_int_equal(n->design, DESIGN_LATIN_HYPERCUBE);
    assert_int_equal(n->points, 6);
    assert_int_equal(n->replicates, 2);
    assert_int_equal(n->swings, 2);
    assert_true(n->seed == 7);
    assert_int_equal(n->factor_count, FACTORS);
    for (size_t k = 0; k < FACTORS; k++) {
        assert_string_equal(n->factors[k].name, names[k]);
        assert_string_equal(n->factors[k].path, paths[k]);
        assert_string_equal(n->factors[k].column->name, names[k]);
    }
    assert_int_equal(n->factors[0].kind, STUDY_NUMBER);
    assert_null(study_factor_word(&n->factors[0], 0));
    assert_int_equal(n->factors[1].kind, STUDY_WORD);
    assert_string_equal(study_factor_word(&n->factors[1], 1), "lyu");
    assert_null(study_factor_word(&n->factors[1], 0.5));
    assert_int_equal(n->factors[2].kind, STUDY_NUMBER);
    assert_string_equal(study_factor_word(&n->factors[2], 1), "yes");
    assert_int_equal(n->factors[3].kind, STUDY_CHOICE);
    assert_string_equal(study_factor_word(&n->factors[3], 1), "b.yaml");
    assert_null(study_factor_word(&n->factors[3], 2));
    assert_null(study_factor_word(&n->factors[3], -1));
    assert_null(study_factor_word(&n->factors[3], NAN));
    study_notes_free(n);
    store_reader_free(reader);
}

/* A change of the notes: note `name` is replaced, or left out when `with` has no name. */
typedef struct change {
    const char *name;
    store_note with;
    const char *says;
} change;

static const char *const twice[] = {"rise", "drag", "rise", "shaft"};
static const char *const stranger[] = {"rise", "drag", "bowed", "head"};
static const char *const odd[] = {"number", "word", "shape", "choice"};

static const change changes[] = {
    {"design",
     {0},
     "s.h5: its root says no 'design' that is a text: it is no file of 'caber sweep'"},
    {"design", {.name = "design", .number = 3}, "no 'design' that is a text"},
    {"design", {.name = "design", .text = "spiral"}, "calls its design 'spiral'"},
    {"points", {0}, "no 'points' that is a whole number above 0"},
    {"points", {.name = "points", .number = 2.5}, "no 'points'"},
    {"points", {.name = "points", .number = 0}, "no 'points'"},
    {"points", {.name = "points", .number = -1}, "no 'points'"},
    {"points", {.name = "points", .number = 1e300}, "no 'points'"},
    {"points", {.name = "points", .number = 5}, "5 points of 2 swings, and its datasets have 12"},
    {"replicates", {0}, "no 'replicates' that is a whole number"},
    {"replicates", {.name = "replicates", .number = 0}, "6 points of 1 swings"},
    {"factor_names", {0}, "no 'factor_names' that is a list"},
    {"factor_names", {.name = "factor_names", .text = "rise"}, "no 'factor_names'"},
    {"factor_names", {.name = "factor_names", .texts = names, .count = 3}, "has 3 'factor_names'"},
    {"factor_names", {.name = "factor_names", .texts = twice, .count = FACTORS}, "'rise' twice"},
    {"factor_names",
     {.name = "factor_names", .texts = stranger, .count = FACTORS},
     "a factor 'head', of which there is no dataset"},
    {"factor_paths", {0}, "no 'factor_paths'"},
    {"factor_kinds", {.name = "factor_kinds", .texts = odd, .count = FACTORS}, "a 'shape'"},
    {"choices_shaft", {0}, "no 'choices_shaft' that is a list"},
    {"choices_drag", {0}, "no 'choices_drag' that is a list"},
    /* 1 row of 4 factors has 6 points, 2 trajectories have 10. */
    {"rows", {.name = "rows", .number = 2}, NULL},
    {"both", {.name = "both", .number = 1}, NULL},
};

/* The design becomes `as`, when that is not NULL. */
static void assert_refused(const change *c, const char *as, const char *says)
{
    store_note notes[NOTES_MOST];
    size_t count = notes_fill(notes);
    for (size_t i = 0; i < count; i++) {
        if (as && !strcmp(notes[i].name, "design"))
            notes[i].text = as;
        if (strcmp(notes[i].name, c->name) != 0)
            continue;
        if (c->with.name)
            notes[i] = c->with;
        else
            notes[i] = notes[--count];
    }
    file_write(notes, count);
    store_reader *reader;
    study_notes *n;
    caber_message m = {""};
    assert_int_equal(notes_back(&n, &m, &reader), says ? CABER_BAD_INPUT : CABER_OK);
    assert_true((n == NULL) == (says != NULL));
    if (says && !strstr(m.text, says))
        fail_msg("'%s' is not in '%s'", says, m.text);
    study_notes_free(n);
    store_reader_free(reader);
}

static void notes_that_cannot_be(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof changes / sizeof *changes; i++)
        assert_refused(&changes[i], NULL, changes[i].says);
}

static void notes_of_designs_that_cannot_be(void **state)
{
    (void)state;
    const change none = {.name = "title", .with = {.name = "title", .text = "T"}};
    assert_refused(&none, "saltelli", NULL); /* 1 row of 4 factors: 6 points */
    assert_refused(&(change){"rows", {.name = "rows", .number = 2}, NULL}, "saltelli",
                   "6 points of a design 'saltelli' of 4 factors, which has 12");
    assert_refused(&(change){"both", {.name = "both", .number = 1}, NULL}, "saltelli",
                   "which has 10");
    assert_refused(&(change){"rows", {0}, NULL}, "saltelli", "no 'rows'");
    assert_refused(&none, "morris", "of 4 factors, which has 10");
    assert_refused(&(change){"levels", {.name = "levels", .number = 3}, NULL}, "morris",
                   "no 'levels' that is an even number");
    assert_refused(&(change){"trajectories", {0}, NULL}, "morris", "no 'trajectories'");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(notes_come_back),
        cmocka_unit_test(notes_that_cannot_be),
        cmocka_unit_test(notes_of_designs_that_cannot_be),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
