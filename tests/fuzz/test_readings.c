/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Thousands of damaged readings files, of the CSV files beside them and of shafts with errors, from
 * fixed seeds. Whatever the bytes, reading must end with a status and a message of its own, and what
 * it accepts must hold what it promises; run under the address and undefined-behaviour sanitizers it
 * must also touch and leak nothing. */
#include "folder.h"

#include <stdlib.h>

#include "damage.h"
#include "files/csv.h"
#include "files/files.h"
#include "shaft/reading.h"
#include "swing/check.h"

#define READINGS CABER_SOURCE_DIR "/models/readings/"

enum { ROUNDS = 800 };

/* The bytes in a block of exactly their size, so that a step beyond is seen. */
static char *exact_copy(const buffer *b)
{
    char *exact = malloc(b->size + !b->size);
    assert_non_null(exact);
    memcpy(exact, b->bytes, b->size);
    return exact;
}

static void assert_said(caber_status status, const caber_message *message)
{
    assert_true(status == CABER_BAD_INPUT || status == CABER_IO_ERROR);
    assert_string_not_equal(message->text, "untouched");
    assert_string_not_equal(message->text, "");
    assert_non_null(memchr(message->text, '\0', sizeof message->text));
}

/* ------------------------------------------------------------------ readings */

static void assert_sound(const caber_readings *r)
{
    caber_message message;
    assert_in_range(r->calliper_count, 1, 1000);
    for (size_t i = 0; i < r->calliper_count; i++)
        assert_true(i == 0 || r->callipers[i].at > r->callipers[i - 1].at);
    for (size_t i = 0; i < r->count; i++) {
        if (reading_check(r, &r->items[i], &message) != CABER_OK)
            fail_msg("accepted, but: %s", message.text);
        assert_non_null(memchr(r->items[i].source, '\0', sizeof r->items[i].source));
        assert_true(r->items[i].line > 0 || r->items[i].kind >= CABER_READ_MASS);
    }
}

static bool read_sheet(const buffer *b)
{
    char *exact = exact_copy(b);
    caber_readings *r = NULL;
    caber_message message = {"untouched"};
    caber_status status =
        files_read_readings(READINGS "fuzz.yaml", exact, b->size, NULL, 0, &r, &message);
    free(exact);
    if (status == CABER_OK) {
        assert_string_equal(message.text, "");
        assert_sound(r);
    } else {
        assert_null(r);
        assert_said(status, &message);
    }
    caber_readings_free(r);
    return status == CABER_OK;
}

/* Reads what it is given, damaged; returns whether it was accepted. */
typedef bool (*reader)(const buffer *b);

static void damage_and_read(const buffer *original, reader read, uint64_t seed, int rounds)
{
    uint64_t random = seed;
    buffer b = {malloc(MOST_BYTES), 0};
    int accepted = 0;
    assert_non_null(b.bytes);
    assert_true(read(original));
    for (int i = 0; i < rounds; i++) {
        memcpy(b.bytes, original->bytes, original->size);
        b.size = original->size;
        for (size_t k = 1 + below(&random, 4); k > 0; k--)
            damage_once(&b, &random);
        accepted += read(&b);
    }
    /* Damage that is never or always noticed would test nothing. */
    assert_in_range(accepted, 1, rounds - 1);
    free(b.bytes);
}

static void a_readings_file_damaged(void **state)
{
    (void)state;
    static const char *const names[] = {"neutral.yaml", "soft-tip.yaml", "firm-tip.yaml"};
    for (size_t i = 0; i < 3; i++) {
        char path[256];
        snprintf(path, sizeof path, READINGS "%s", names[i]);
        buffer b = whole_file(path);
        damage_and_read(&b, read_sheet, 0x9E3779B97F4A7C15u + i, ROUNDS);
        free(b.bytes);
    }
}

static void every_beginning_of_a_readings_file(void **state)
{
    (void)state;
    buffer b = whole_file(READINGS "neutral.yaml");
    const size_t size = b.size;
    for (b.size = 0; b.size < size; b.size += 1 + b.size % 3)
        read_sheet(&b);
    free(b.bytes);
}

/* ------------------------------------------------------------------ columns */

static const field_group *table_columns; /* of the table at hand */

static const field_group *columns_of(const char *list)
{
    const field_group *group = fields_kind_readings();
    for (size_t i = 0; i < group->count; i++)
        if (!strcmp(group->fields[i].name, list)) {
            const field_group *jig = group->fields[i].group;
            return jig->fields[jig->count - 1].group;
        }
    fail_msg("no list %s", list);
    return NULL;
}

static bool read_columns(const buffer *b)
{
    char *exact = exact_copy(b);
    field_rows rows;
    caber_message message = {"untouched"};
    caber_status status =
        csv_read("t.csv", exact, b->size, table_columns, 1, 2000, &rows, &message);
    free(exact);
    if (status != CABER_OK) {
        assert_said(status, &message);
        assert_null(rows.cell);
        return false;
    }
    assert_in_range(rows.count, 1, 2000);
    for (size_t i = 0; i < rows.count * table_columns->count; i++) {
        const field *f = &table_columns->fields[i % table_columns->count];
        assert_true(field_allows(f, rows.cell[i]));
        assert_true(rows.place[i] > 0 || isnan(rows.cell[i]));
    }
    field_rows_free(&rows);
    return true;
}

static void the_tables_damaged(void **state)
{
    (void)state;
    static const struct {
        const char *list, *file;
    } rows[] = {{"spans", "neutral-spans.csv"},
                {"cantilevers", "soft-tip-cantilevers.csv"},
                {"frequencies", "firm-tip-frequencies.csv"},
                {"twists", "neutral-twists.csv"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char path[256];
        snprintf(path, sizeof path, READINGS "%s", rows[i].file);
        buffer b = whole_file(path);
        table_columns = columns_of(rows[i].list);
        damage_and_read(&b, read_columns, 0xD1B54A32D192ED03u + i, 2 * ROUNDS);
        free(b.bytes);
    }
}

/* ------------------------------------------------------------------ shafts with errors */

static void put_file(const char *name, const buffer *b)
{
    FILE *out = fopen(folder_path(name), "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(b->bytes, 1, b->size, out), b->size);
    fclose(out);
}

/* A setup around the shaft in the folder. */
static bool read_around(void)
{
    static const char text[] =
        "kind: setup\nshaft: shaft.yaml\nhead: " CABER_SOURCE_DIR "/models/heads/driver-10.yaml\n"
        "grip: " CABER_SOURCE_DIR "/models/grips/standard.yaml\n"
        "player: " CABER_SOURCE_DIR "/models/players/smooth.yaml\n"
        "build: {tip_trim: 12 mm, butt_trim: 48 mm, hold: 120 mm}\n";
    caber_setup *setup = NULL;
    caber_message message = {"untouched"};
    char name[128];
    snprintf(name, sizeof name, "%s/setup.yaml", folder);
    caber_status status = files_read_text(name, text, sizeof text - 1, NULL, 0, &setup, &message);
    if (status == CABER_OK) {
        if (setup_check(setup, &message) != CABER_OK)
            fail_msg("accepted, but: %s", message.text);
        /* One in eight, for each waits until it is on the disk. */
        static int accepted;
        if (accepted++ % 8 == 0 &&
            caber_shaft_write(&setup->shaft, folder_path("again.yaml"), NULL, &message) != CABER_OK)
            fail_msg("accepted, but not written: %s", message.text);
    } else {
        assert_null(setup);
        assert_said(status, &message);
    }
    caber_setup_free(setup);
    return status == CABER_OK;
}

static bool read_shaft(const buffer *b)
{
    put_file("shaft.yaml", b);
    return read_around();
}

static bool read_errors(const buffer *b)
{
    put_file("shaft-errors.csv", b);
    return read_around();
}

static void a_shaft_and_its_errors_damaged(void **state)
{
    (void)state;
    enum { STATIONS = 8, COMPONENTS = 5 };
    caber_station stations[STATIONS];
    double share[3 * STATIONS * COMPONENTS];
    for (int i = 0; i < STATIONS; i++)
        stations[i] = (caber_station){.at = 1.168 * i / (STATIONS - 1),
                                      .ei = 20 + 7 * i,
                                      .gj = 12 + 4 * i,
                                      .mass = 0.05,
                                      .diameter = 0.009 + 0.0008 * i};
    for (int i = 0; i < 3 * STATIONS * COMPONENTS; i++)
        share[i] = 0.01 / (1 + i);
    const caber_shaft s = {.length = 1.168,
                           .density = 1550,
                           .station_count = STATIONS,
                           .stations = stations,
                           .errors = {COMPONENTS, share}};
    caber_message message;
    if (caber_shaft_write(&s, folder_path("shaft.yaml"), NULL, &message) != CABER_OK)
        fail_msg("%s", message.text);
    buffer yaml = whole_file(folder_path("shaft.yaml"));
    buffer csv = whole_file(folder_path("shaft-errors.csv"));
    damage_and_read(&yaml, read_shaft, 0xA0761D6478BD642Fu, ROUNDS);
    put_file("shaft.yaml", &yaml);
    damage_and_read(&csv, read_errors, 0xE7037ED1A0B428DBu, ROUNDS);
    free(yaml.bytes);
    free(csv.bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_readings_file_damaged),
        cmocka_unit_test(every_beginning_of_a_readings_file),
        cmocka_unit_test(the_tables_damaged),
        cmocka_unit_test(a_shaft_and_its_errors_damaged),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
