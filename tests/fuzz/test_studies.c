/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Damaged study files and CSVs of cases, from fixed seeds. Whatever the bytes, reading must end with a
 * status and a message of its own, and every case of what it accepts must be a setup. */
#include "folder.h"

#include <stdlib.h>

#include "damage.h"
#include "files/files.h"
#include "study/plan.h"
#include "swing/check.h"

#define MODELS CABER_SOURCE_DIR "/models"

enum { ROUNDS = CHECK_SANITISED ? 150 : 400, LOOKS = 20 };

/* A few cases of any size of plan. */
static void assert_sound(const caber_study *s)
{
    plan_case *c;
    caber_message m;
    const size_t points = plan_points(s), step = points / LOOKS + 1;
    assert_in_range(points, 1, DESIGN_CASES_MOST);
    assert_int_equal(plan_case_create(s, &c, &m), CABER_OK);
    for (size_t i = 0; i < points; i += step) {
        caber_status status = plan_case_fill(s, i, c, &m);
        if (points > PLAN_CHECKED_MOST && status == CABER_BAD_INPUT)
            continue; /* not looked at before */
        if (status == CABER_OK)
            status = setup_check(&c->setup, &m);
        if (status != CABER_OK)
            fail_msg("accepted, but case %zu: %s", i, m.text);
    }
    plan_case_free(c);
}

/* Reads a text as a study in the folder; returns whether it was accepted. */
static bool read_study(const char *bytes, size_t size)
{
    char name[64], *exact = malloc(size + !size);
    caber_study *s = NULL;
    caber_message m = {"untouched"};
    assert_non_null(exact);
    memcpy(exact, bytes, size);
    snprintf(name, sizeof name, "%s/s.yaml", folder);
    const caber_status status = files_read_study(name, exact, size, NULL, 0, &s, &m);
    free(exact);
    if (status == CABER_OK) {
        assert_string_equal(m.text, "");
        assert_sound(s);
    } else {
        assert_null(s);
        assert_true(status == CABER_BAD_INPUT || status == CABER_IO_ERROR);
        assert_string_not_equal(m.text, "untouched");
        assert_string_not_equal(m.text, "");
    }
    caber_study_free(s);
    return status == CABER_OK;
}

#define SETUP                                                                                      \
    "kind: study\nname: T\nsetup: " MODELS "/setups/neutral-smooth.yaml\n"                         \
    "set: [\"shaft.sections[0].from=0 mm\", \"shaft.sections[0].to=400 mm\"]\nseed: 7\n"

static const char *const studies[] = {
    SETUP "factors:\n"
          "  - {name: tip, path: \"shaft.sections[0].ei_scale\", from: 0.8, to: 1.4, levels: 5}\n"
          "  - {name: rise, path: load.grip.rise, from: 0.10 s, to: 0.20 s, levels: 3}\n"
          "  - {name: drag, path: ball.coefficients, values: [lyu, smits-smith]}\n"
          "design: {kind: grid}\noutputs: [carry_m, straight.head_speed_mps]\n",
    SETUP "replicates: 3\nfactors:\n"
          "  - {name: ei, path: \"shaft.stations[2].ei\", from: 30, to: 40, distribution: normal,\n"
          "     mean: 35, sd: 3}\n"
          "  - {name: mass, path: head.mass, from: 190 g, to: 210 g, distribution: triangular,\n"
          "     peak: 200 g}\n"
          "  - {name: head, path: head, files: [" MODELS "/heads/driver-9.yaml]}\n"
          "design: {kind: saltelli, rows: 9, both: yes}\n",
    SETUP "factors:\n"
          "  - {name: trim, path: build.tip_trim, from: 0 mm, to: 25 mm}\n"
          "  - {name: wind, path: air.wind_along, from: 1, to: 9, distribution: log-uniform}\n"
          "design: {kind: sobol, cases: 64, plain: no}\n",
    SETUP "factors:\n"
          "  - {name: trim, path: build.tip_trim, from: 0 mm, to: 25 mm}\n"
          "  - {name: wind, path: air.wind_along, values: [1, 3, 9]}\n"
          "design: {kind: morris, trajectories: 12, levels: 6}\n",
};

static void studies_damaged(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof studies / sizeof studies[0]; i++) {
        uint64_t random = 0x9E3779B97F4A7C15u + i;
        buffer b = {malloc(MOST_BYTES), 0};
        int accepted = 0;
        assert_non_null(b.bytes);
        assert_true(read_study(studies[i], strlen(studies[i])));
        for (int round = 0; round < ROUNDS; round++) {
            b.size = strlen(studies[i]);
            memcpy(b.bytes, studies[i], b.size);
            for (size_t k = 1 + below(&random, 3); k > 0; k--)
                damage_once(&b, &random);
            accepted += read_study(b.bytes, b.size);
        }
        /* Damage that is never or always noticed would test nothing. */
        assert_in_range(accepted, 1, ROUNDS - 1);
        free(b.bytes);
    }
}

static void every_beginning_of_a_study(void **state)
{
    (void)state;
    const size_t size = strlen(studies[1]);
    for (size_t end = 0; end < size; end += 7)
        read_study(studies[1], end);
}

static void cases_damaged(void **state)
{
    (void)state;
    static const char csv[] = "# invented\nrise,tip,head\nms,,\n100,0.9,1\n250.5,1.5,0\n90,1,1\n";
    static const char study[] =
        SETUP "factors:\n - {name: tip, path: \"shaft.sections[0].ei_scale\"}\n"
              " - {name: rise, path: load.grip.rise}\n"
              " - {name: head, path: head.file, files: [" MODELS "/heads/driver-9.yaml, " MODELS
              "/heads/driver-10.yaml]}\n"
              "design: {kind: cases, file: cases.csv}\n";
    uint64_t random = 0xD1B54A32D192ED03u;
    buffer b = {malloc(MOST_BYTES), 0};
    int accepted = 0;
    assert_non_null(b.bytes);
    for (int round = 0; round < ROUNDS; round++) {
        b.size = sizeof csv - 1;
        memcpy(b.bytes, csv, b.size);
        for (size_t k = round ? 1 + below(&random, 3) : 0; k > 0; k--)
            damage_once(&b, &random);
        FILE *out = fopen(folder_path("cases.csv"), "wb");
        assert_non_null(out);
        assert_int_equal(fwrite(b.bytes, 1, b.size, out), b.size);
        fclose(out);
        const bool good = read_study(study, sizeof study - 1);
        assert_true(good || round);
        accepted += good;
    }
    assert_in_range(accepted, 2, ROUNDS - 1);
    free(b.bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(studies_damaged),
        cmocka_unit_test(every_beginning_of_a_study),
        cmocka_unit_test(cases_damaged),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
