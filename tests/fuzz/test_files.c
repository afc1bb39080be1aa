/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Thousands of damaged setups from fixed seeds. Whatever the bytes, reading must end with a status
 * and a message of its own, and what it accepts must pass the check; run under the address and
 * undefined-behaviour sanitizers it must also touch and leak nothing. */
#include "check.h"

#include <glob.h>
#include <stdlib.h>

#include "damage.h"
#include "files/csv.h"
#include "files/files.h"
#include "swing/check.h"

#define DATA CABER_SOURCE_DIR "/tests/unit/data/"

enum { ROUNDS = 1200 };

/* A setup written as one file, with every kind inside. */
static buffer written_setup(const char *path)
{
    caber_setup *setup;
    caber_message message;
    if (caber_setup_read(path, NULL, 0, &setup, &message) != CABER_OK)
        fail_msg("%s", message.text);
    buffer b = {malloc(MOST_BYTES), 0};
    assert_non_null(b.bytes);
    FILE *out = fmemopen(b.bytes, MOST_BYTES, "w");
    assert_non_null(out);
    assert_int_equal(files_write_setup(setup, out, &message), CABER_OK);
    b.size = (size_t)ftell(out);
    fclose(out);
    caber_setup_free(setup);
    return b;
}

/* With a list and a table, too. */
static buffer whole_setup(void)
{
    return written_setup(DATA "layered.yaml");
}

/* What was accepted can be written, and the writing is accepted and written the same. */
static void assert_writable(const caber_setup *setup)
{
    char *first = NULL, *second = NULL;
    size_t size, again;
    caber_message message;
    caber_setup *back;
    FILE *out = open_memstream(&first, &size);
    assert_int_equal(files_write_setup(setup, out, &message), CABER_OK);
    fclose(out);
    if (files_read_text("written", first, size, NULL, 0, &back, &message) != CABER_OK)
        fail_msg("%s", message.text);
    out = open_memstream(&second, &again);
    assert_int_equal(files_write_setup(back, out, &message), CABER_OK);
    fclose(out);
    assert_string_equal(first, second);
    caber_setup_free(back);
    free(first);
    free(second);
}

/* Reads the bytes from a block of exactly their size, so that a step beyond is seen. */
static bool read_once(const buffer *b, const char *const *overrides, size_t count)
{
    char *exact = malloc(b->size + !b->size);
    assert_non_null(exact);
    memcpy(exact, b->bytes, b->size);
    caber_setup *setup = NULL;
    caber_message message = {"untouched"};
    caber_status status =
        files_read_text(DATA "fuzz.yaml", exact, b->size, overrides, count, &setup, &message);
    free(exact);
    if (status == CABER_OK) {
        assert_non_null(setup);
        assert_string_equal(message.text, "");
        if (setup_check(setup, &message) != CABER_OK)
            fail_msg("accepted, but: %s", message.text);
        assert_writable(setup);
    } else {
        assert_null(setup);
        assert_true(status == CABER_BAD_INPUT || status == CABER_IO_ERROR);
        assert_string_not_equal(message.text, "untouched");
        assert_string_not_equal(message.text, "");
        assert_non_null(memchr(message.text, '\0', sizeof message.text));
    }
    caber_setup_free(setup);
    return status == CABER_OK;
}

static void damage_and_read(const buffer *original, uint64_t seed, int rounds)
{
    uint64_t random = seed;
    buffer b = {malloc(MOST_BYTES), 0};
    int accepted = 0;
    assert_non_null(b.bytes);
    for (int i = 0; i < rounds; i++) {
        memcpy(b.bytes, original->bytes, original->size);
        b.size = original->size;
        for (size_t k = 1 + below(&random, 4); k > 0; k--)
            damage_once(&b, &random);
        accepted += read_once(&b, NULL, 0);
    }
    /* Damage that is never or always noticed would test nothing. */
    assert_in_range(accepted, 1, rounds - 1);
    free(b.bytes);
}

static void a_self_contained_setup_damaged(void **state)
{
    (void)state;
    buffer b = whole_setup();
    assert_true(read_once(&b, NULL, 0));
    damage_and_read(&b, 0x9E3779B97F4A7C15u, ROUNDS);
    free(b.bytes);
}

static void a_setup_with_references_damaged(void **state)
{
    (void)state;
    buffer b = whole_file(DATA "layered.yaml");
    assert_true(read_once(&b, NULL, 0));
    damage_and_read(&b, 0xD1B54A32D192ED03u, ROUNDS / 2);
    free(b.bytes);
}

static void the_demo_setups_damaged(void **state)
{
    (void)state;
    glob_t found;
    assert_int_equal(glob(CABER_SOURCE_DIR "/models/setups/*.yaml", 0, NULL, &found), 0);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        buffer b = written_setup(found.gl_pathv[i]);
        damage_and_read(&b, 0xE7037ED1A0B428DBu + i, ROUNDS / 24);
        free(b.bytes);
    }
    globfree(&found);
}

static void every_beginning_of_a_setup(void **state)
{
    (void)state;
    buffer b = whole_setup();
    size_t size = b.size;
    for (b.size = 0; b.size < size; b.size += 1 + b.size % 3)
        read_once(&b, NULL, 0);
    free(b.bytes);
}

/* A table must be refused with a message, or be one that a load may have but for its start. */
static void read_table(const buffer *b, dimension dim)
{
    char *exact = malloc(b->size + !b->size);
    assert_non_null(exact);
    memcpy(exact, b->bytes, b->size);
    caber_table table;
    caber_message message = {""};
    caber_status status = csv_parse("t.csv", exact, b->size, dim, &table, &message);
    free(exact);
    if (status != CABER_OK) {
        assert_int_equal(status, CABER_BAD_INPUT);
        assert_string_not_equal(message.text, "");
        return;
    }
    assert_in_range(table.count, 4, MOST_BYTES);
    for (size_t i = 0; i < table.count; i++) {
        assert_true(isfinite(table.time[i]) && isfinite(table.value[i]));
        assert_true(i == 0 || table.time[i] > table.time[i - 1]);
    }
    csv_table_free(&table);
}

static void a_table_damaged(void **state)
{
    (void)state;
    buffer original = whole_file(DATA "parts/cock.csv"), b = {malloc(MOST_BYTES), 0};
    uint64_t random = 0xA0761D6478BD642Fu;
    assert_non_null(b.bytes);
    for (int i = 0; i < ROUNDS; i++) {
        memcpy(b.bytes, original.bytes, original.size);
        b.size = original.size;
        for (size_t k = 1 + below(&random, 3); k > 0; k--)
            damage_once(&b, &random);
        read_table(&b, i % 8 ? DIMENSION_ANGLE : DIMENSION_TORQUE);
    }
    free(original.bytes);
    free(b.bytes);
}

static void overrides_damaged(void **state)
{
    (void)state;
    static const char *const texts[] = {"shaft.stations[1].ei=30 N m2", "load.grip.table=a.csv",
                                        "shaft.sections[0].from=100 mm",
                                        "head.file=parts/head.yaml", "load.hub={time: [0]}"};
    uint64_t random = 0x2545F4914F6CDD1Du;
    buffer setup = whole_setup(), b = {malloc(MOST_BYTES + 1), 0};
    assert_non_null(b.bytes);
    for (int i = 0; i < ROUNDS / 4; i++) {
        const char *text = texts[below(&random, sizeof texts / sizeof texts[0])];
        b.size = strlen(text);
        memcpy(b.bytes, text, b.size);
        for (size_t k = 1 + below(&random, 3); k > 0; k--)
            damage_once(&b, &random);
        b.bytes[b.size] = '\0';
        const char *const overrides[] = {b.bytes, "shaft.damping=0.01"};
        read_once(&setup, overrides, 2);
    }
    free(setup.bytes);
    free(b.bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_self_contained_setup_damaged),
        cmocka_unit_test(a_setup_with_references_damaged),
        cmocka_unit_test(the_demo_setups_damaged),
        cmocka_unit_test(every_beginning_of_a_setup),
        cmocka_unit_test(a_table_damaged),
        cmocka_unit_test(overrides_damaged),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
