/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Damaged files of measured shots and damaged mappings, from fixed seeds: reading and cleaning must end
 * with a status and a message of their own, and what is accepted must hold what it promises. */
#include "check.h"

#include "damage.h"
#include "files/files.h"

#define SHOTS CABER_SOURCE_DIR "/models/shots/"

enum { ROUNDS = 250 };

static void assert_sound(caber_measured *m, caber_message *message)
{
    assert_true(m->count > 0 && m->batch_count > 0 && m->column_count > 0);
    for (size_t i = 0; i < m->count; i++) {
        assert_true(m->shots[i].batch < m->batch_count && m->shots[i].file < m->file_count);
        assert_true(m->shots[i].line > 0);
        for (size_t c = 0; c < m->column_count; c++)
            assert_false(isinf(m->value[i * m->column_count + c]));
    }
    size_t count = 0, aside = 0;
    if (caber_measured_clean(m, ~0u, message) == CABER_OK) {
        for (size_t b = 0; b < m->batch_count; b++) {
            assert_non_null(memchr(m->batches[b].name, '\0', sizeof m->batches[b].name));
            count += m->batches[b].count;
        }
        for (size_t i = 0; i < m->count; i++) {
            aside += m->shots[i].set_aside;
            assert_int_equal(m->shots[i].set_aside, m->shots[i].broken != 0);
        }
        assert_int_equal(count, m->count);
        assert_true(aside <= count);
    } else {
        assert_string_not_equal(message->text, "");
    }
}

static bool read_both(const buffer *csv, const buffer *map)
{
    /* Blocks of exactly their size, so that a step beyond is seen. */
    char *exact = malloc(csv->size + !csv->size), *exact_map = NULL;
    assert_non_null(exact);
    memcpy(exact, csv->bytes, csv->size);
    if (map) {
        exact_map = malloc(map->size + !map->size);
        assert_non_null(exact_map);
        memcpy(exact_map, map->bytes, map->size);
    }
    caber_measured *m = NULL;
    caber_message message = {"untouched"};
    const caber_status status = files_read_shots("fuzz.csv", exact, csv->size, exact_map,
                                                 map ? map->size : 0, &m, &message);
    free(exact);
    free(exact_map);
    if (status == CABER_OK) {
        assert_sound(m, &message);
    } else {
        assert_null(m);
        assert_int_equal(status, CABER_BAD_INPUT);
        assert_string_not_equal(message.text, "untouched");
        assert_non_null(memchr(message.text, '\0', sizeof message.text));
    }
    caber_measured_free(m);
    return status == CABER_OK;
}

/* Damages one of the two in turn. */
static void damage_and_read(const char *csv_name, const char *map_name, uint64_t seed)
{
    buffer csv = whole_file(csv_name), map = {NULL, 0}, b = {malloc(MOST_BYTES), 0};
    uint64_t random = seed;
    int accepted = 0;
    assert_non_null(b.bytes);
    if (map_name)
        map = whole_file(map_name);
    assert_true(read_both(&csv, map_name ? &map : NULL));
    for (int i = 0; i < ROUNDS; i++) {
        const buffer *original = map_name && i % 2 ? &map : &csv;
        memcpy(b.bytes, original->bytes, original->size);
        b.size = original->size;
        for (size_t k = 1 + below(&random, 4); k > 0; k--)
            damage_once(&b, &random);
        accepted += original == &csv ? read_both(&b, map_name ? &map : NULL) : read_both(&csv, &b);
    }
    /* Damage that is never or always noticed would test nothing. */
    assert_in_range(accepted, 1, ROUNDS - 1);
    free(b.bytes);
    free(csv.bytes);
    free(map.bytes);
}

static void our_names(void **state)
{
    (void)state;
    damage_and_read(SHOTS "soft-tip.csv", NULL, 0x9E3779B97F4A7C15u);
    damage_and_read(SHOTS "firm-tip.csv", NULL, 0xD1B54A32D192ED03u);
}

static void mapped_names(void **state)
{
    (void)state;
    damage_and_read(SHOTS "evening-session.csv", SHOTS "mapping-evening-session.yaml",
                    0xA0761D6478BD642Fu);
}

static void every_beginning(void **state)
{
    (void)state;
    buffer csv = whole_file(SHOTS "evening-session.csv");
    buffer mapping = whole_file(SHOTS "mapping-evening-session.yaml");
    const size_t size = csv.size;
    for (csv.size = 0; csv.size < size; csv.size += 1 + csv.size % 5)
        read_both(&csv, &mapping);
    free(csv.bytes);
    free(mapping.bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(our_names),
        cmocka_unit_test(mapped_names),
        cmocka_unit_test(every_beginning),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
