/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How the cases of a study are run. A case is held, bit by bit, against the swing and the ball of the setup
 * that the reader makes of the base file with the same values by --set, and a replicate against the swing
 * that scatter draws; then that nothing depends on what was run before, failures, and the chunks. */
#include "studies.h"

#include "study/outputs.h"
#include "study/scatter.h"
#include "swing/model.h"

static const char base_path[] = STUDIES_FOLDER "/../setups/neutral-smooth.yaml";
static const char *const base_set[] = {
    "shaft.sections[0].from=0 mm", "shaft.sections[0].to=400 mm", "settings.modes=4",
    "settings.stations=6",         "settings.elements=8",         "settings.tolerance=1e-5",
    "settings.time_limit=0.4 s"};
enum { BASE_SET = sizeof base_set / sizeof base_set[0], SET_MOST = 16 };

/* A case, with room for its numbers. */
typedef struct one {
    case_number out;
    size_t outputs, series;
} one;

static one *one_create(const caber_study *plan)
{
    one *n = calloc(1, sizeof *n);
    assert_non_null(n);
    n->outputs = plan->output_count;
    n->series = plan->series_count * plan->series_points;
    n->out.outputs = calloc(n->outputs, sizeof(double));
    n->out.series = calloc(n->series + 1, sizeof(double));
    assert_true(n->out.outputs && n->out.series);
    return n;
}

static void one_free(one *n)
{
    free(n->out.outputs);
    free(n->out.series);
    free(n);
}

static void one_equal(const one *a, const one *b)
{
    assert_int_equal(a->out.status, b->out.status);
    assert_string_equal(a->out.why.text, b->out.why.text);
    assert_memory_equal(a->out.counts, b->out.counts, sizeof a->out.counts);
    assert_memory_equal(a->out.outputs, b->out.outputs, a->outputs * sizeof(double));
    assert_memory_equal(a->out.series, b->out.series, a->series * sizeof(double));
}

/* A runner with clubs of its own. */
typedef struct lane {
    clubs *all;
    runner *r;
} lane;

static lane lane_create(const caber_study *plan)
{
    lane l;
    assert_int_equal(clubs_create(plan, CLUBS_KEPT, &l.all, NULL), CABER_OK);
    assert_int_equal(runner_create(plan, l.all, &l.r, NULL), CABER_OK);
    return l;
}

static void lane_free(lane *l)
{
    runner_free(l->r);
    clubs_free(l->all);
}

static void lane_run(lane *l, size_t index, one *out)
{
    caber_message m;
    assert_int_equal(runner_run(l->r, index, &out->out, &m), CABER_OK);
    assert_string_equal(m.text, "");
}

/* ------------------------------------------------------------------ against a setup that is read */

/* The setup of a point from the base file, by --set. */
static caber_setup *read_point(const caber_study *plan, size_t point)
{
    static const char *const parts[PLAN_PARTS] = {"shaft", "head", "grip", "player"};
    char texts[SET_MOST][640];
    const char *overrides[SET_MOST + BASE_SET];
    double values[DESIGN_FACTORS_MOST];
    memcpy(overrides, base_set, sizeof base_set);
    plan_values(plan, point, values);
    assert_true(plan->factor_count <= SET_MOST);
    for (size_t k = 0; k < plan->factor_count; k++) {
        const plan_factor *f = &plan->factors[k];
        char value[400];
        if (f->chosen)
            snprintf(value, sizeof value, "%s", f->files[(size_t)values[k]]);
        else
            field_address_write(&f->at, values[k], value, sizeof value);
        snprintf(texts[k], sizeof texts[k], "%s=%.400s", f->chosen ? parts[f->part] : f->at.path,
                 value);
        overrides[BASE_SET + k] = texts[k];
    }
    caber_setup *setup = NULL;
    caber_message m;
    if (caber_setup_read(base_path, overrides, BASE_SET + plan->factor_count, &setup, &m) !=
        CABER_OK)
        fail_msg("%s", m.text);
    return setup;
}

/* As caber swing has it. */
static void swing_alone(const caber_setup *setup, caber_outcome *out, caber_trace *trace)
{
    caber_model *model;
    caber_work *work;
    caber_message m;
    assert_int_equal(caber_model_create(setup, &model, &m), CABER_OK);
    assert_int_equal(caber_work_create(model, &work, &m), CABER_OK);
    assert_int_equal(caber_swing_run(model, work, &out->swing, trace, &m), CABER_OK);
    if (caber_shot_run(setup, &out->swing.head, caber_shot_place(setup, &out->swing), &out->shot,
                       &m) != CABER_OK)
        fail_msg("%s", m.text);
    caber_work_free(work);
    caber_model_free(model);
}

static void assert_is_alone(const caber_study *plan, size_t point, const one *got)
{
    caber_setup *setup = read_point(plan, point);
    setup->settings.sample = plan->series_step;
    caber_trace *trace = caber_trace_create();
    caber_outcome alone;
    assert_non_null(trace);
    swing_alone(setup, &alone, trace);
    assert_int_equal(got->out.status, CABER_OK);
    for (size_t i = 0; i < plan->output_count; i++) {
        const double want = column_value(&plan->outputs[i], &alone);
        assert_memory_equal(&got->out.outputs[i], &want, sizeof want);
    }
    /* The trace's rows, then none. */
    assert_true(trace->count > 20 && trace->count < plan->series_points);
    for (size_t j = 0; j + 1 < trace->count; j++)
        assert_true(got->out.series[j] == trace->rows[j].lead &&
                    got->out.series[plan->series_points + j] == trace->rows[j].hub_torque);
    assert_true(isnan(got->out.series[plan->series_points - 1]));
    assert_true(got->out.counts[RUNNER_STEPS] == (double)alone.swing.effort.steps);
    assert_true(got->out.counts[RUNNER_EVALUATIONS] == (double)alone.swing.effort.evaluations);
    assert_true(got->out.counts[RUNNER_ERROR_FAILURES] ==
                (double)alone.swing.effort.error_failures);
    caber_trace_free(trace);
    caber_setup_free(setup);
}

/* Two players, whose files differ in more than a number; the club changes with every second case. */
#define ALL_KINDS                                                                                  \
    "factors: [{name: player, path: player, files: [../players/smooth.yaml, "                      \
    "../players/quick.yaml]}, {name: rise, path: load.grip.rise, values: [0.12 s, 0.15 s]}, "      \
    "{name: shaft, path: shaft, files: [../shafts/neutral.yaml, ../shafts/soft-tip.yaml]}, "       \
    "{name: strike, path: player.ball.strike, values: [centred, placed]}, "                        \
    "{name: wind, path: air.wind_along, values: [-3 m/s, 4 m/s]}]\ndesign: {kind: grid}\n"

static void a_case_is_the_swing_of_its_setup(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD ALL_KINDS
                                     "series: {outputs: [lead_deflection_mm, hub_torque_nm], "
                                     "until: 0.5 s, step: 5 ms}\n");
    lane l = lane_create(plan);
    one *got = one_create(plan);
    assert_int_equal(plan_cases(plan), 32);
    for (size_t i = 0; i < 32; i += CHECK_SANITISED ? 5 : 1) {
        lane_run(&l, i, got);
        assert_is_alone(plan, i, got);
    }
    one_free(got);
    lane_free(&l);
    caber_study_free(plan);
}

/* The straight club's, one output alone, and none of the ball: a study need not fly it. */
static void the_outputs_that_are_chosen(void **state)
{
    (void)state;
    static const char *const few[] = {"carry_m", "straight.delivered_loft_deg", "head_speed_mps"};
    caber_study *all = studies_read(STUDIES_HEAD ALL_KINDS);
    lane l = lane_create(all);
    one *got = one_create(all);
    lane_run(&l, 9, got);
    caber_setup *setup = read_point(all, 9);
    caber_outcome alone;
    swing_alone(setup, &alone, NULL);
    for (size_t i = 0; i < 3; i++) {
        char text[2000];
        snprintf(text, sizeof text, STUDIES_HEAD ALL_KINDS "outputs: [%s]\n", few[i]);
        caber_study *plan = studies_read(text);
        lane alike = lane_create(plan);
        one *single = one_create(plan);
        lane_run(&alike, 9, single);
        assert_int_equal(single->out.status, CABER_OK);
        assert_true(single->out.outputs[0] == column_value(&plan->outputs[0], &alone));
        assert_memory_equal(single->out.counts, got->out.counts, sizeof got->out.counts);
        one_free(single);
        lane_free(&alike);
        caber_study_free(plan);
    }
    caber_setup_free(setup);
    one_free(got);
    lane_free(&l);
    caber_study_free(all);
}

/* ------------------------------------------------------------------ against scatter */

enum { SWINGS = 6 };

static void assert_is_scattered(const caber_study *plan, size_t point, lane *l, one *got)
{
    caber_setup *setup = read_point(plan, point);
    const caber_setup *const setups[] = {setup};
    caber_scatter_settings how = caber_scatter_default();
    how.swings = SWINGS;
    how.seed = plan->seed;
    how.threads = 1;
    caber_scatter_club drawn = {.good = NULL};
    caber_message m;
    if (scatter_draw(setups, 1, &how, &drawn, &m) != CABER_OK)
        fail_msg("%s", m.text);
    for (size_t i = 0; i < SWINGS; i++) {
        lane_run(l, point * SWINGS + i, got);
        assert_int_equal(got->out.status, CABER_OK);
        assert_true(drawn.good[i]);
        for (size_t j = 0; j < plan->output_count; j++) {
            const double want = column_value(&plan->outputs[j], &drawn.outcomes[i]);
            assert_memory_equal(&got->out.outputs[j], &want, sizeof want);
        }
    }
    scatter_club_free(&drawn);
    caber_setup_free(setup);
}

static void replicates_are_the_swings_of_scatter(void **state)
{
    (void)state;
    caber_study *plan = studies_read(
        STUDIES_HEAD
        "factors: [{name: strike, path: player.ball.strike, values: [centred, placed]}, "
        "{name: wind, path: air.wind_along, values: [-3 m/s, 4 m/s]}, "
        "{name: rise, path: load.grip.rise, values: [0.12 s, 0.15 s]}]\n"
        "design: {kind: grid}\nreplicates: 6\nseed: 7\n");
    lane l = lane_create(plan);
    one *got = one_create(plan);
    assert_int_equal(plan_cases(plan), 8 * SWINGS);
    for (size_t point = 0; point < 8; point += CHECK_SANITISED ? 7 : 1)
        assert_is_scattered(plan, point, &l, got);
    assert_int_equal(clubs_made(l.all), 2); /* a word counts as the club's */
    one_free(got);
    lane_free(&l);
    caber_study_free(plan);
}

/* ------------------------------------------------------------------ what was run before */

/* Players, shafts, a swing that never arrives, a ball that does not rise, and winds. */
#define MIXED                                                                                      \
    "factors: [{name: player, path: player, files: [../players/smooth.yaml, "                      \
    "../players/quick.yaml]}, "                                                                    \
    "{name: square, path: load.roll.square, values: [-9.5 deg, -60 deg]}, "                        \
    "{name: arm, path: player.arm.inertia, values: [1.15 kg m2, 9 kg m2]}, "                       \
    "{name: shaft, path: shaft, files: [../shafts/neutral.yaml, ../shafts/soft-tip.yaml]}, "       \
    "{name: wind, path: air.wind_along, values: [-3 m/s, 4 m/s]}]\ndesign: {kind: grid}\n"         \
    "series: {outputs: [lead_deflection_mm], until: 0.5 s, step: 20 ms}\n"

/* Runs every `step`th case by a runner of its own and, back and forth, by one that runs them all. */
static void assert_order_is_nothing(const char *text, size_t step)
{
    caber_study *plan = studies_read(text);
    lane all = lane_create(plan);
    one *got = one_create(plan), *alone = one_create(plan);
    const size_t n = plan_cases(plan);
    for (size_t i = 0; i < n; i += step) {
        const size_t index = i * 29 % n; /* 29 goes with no factor of n */
        lane fresh = lane_create(plan);
        lane_run(&fresh, index, alone);
        lane_run(&all, index, got);
        one_equal(got, alone);
        lane_run(&all, (index + 1) % n, got);
        lane_run(&all, index, got);
        one_equal(got, alone);
        lane_free(&fresh);
    }
    one_free(got);
    one_free(alone);
    lane_free(&all);
    caber_study_free(plan);
}

static void a_case_is_the_same_in_any_order(void **state)
{
    (void)state;
    assert_order_is_nothing(STUDIES_HEAD MIXED, CHECK_SANITISED ? 5 : 1);
    assert_order_is_nothing(STUDIES_HEAD MIXED "replicates: 2\nseed: 3\n",
                            CHECK_SANITISED ? 13 : 3);
}

/* ------------------------------------------------------------------ clubs */

#define CLUBS_LAST                                                                                 \
    "factors: [{name: rise, path: load.grip.rise, values: [0.12 s, 0.15 s, 0.18 s]}, "             \
    "{name: tip, path: \"shaft.sections[0].ei_scale\", from: 0.8, to: 1.2, levels: 6}]\n"          \
    "design: {kind: grid}\noutputs: [head_speed_mps]\n"

static void a_club_is_made_once(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD CLUBS_LAST);
    lane l = lane_create(plan);
    one *got = one_create(plan);
    for (size_t i = 0; i < 18; i++)
        lane_run(&l, i, got);
    assert_int_equal(clubs_made(l.all), 6);
    one_free(got);
    lane_free(&l);
    caber_study_free(plan);
}

static const caber_model *hold(clubs *all, const caber_study *plan, plan_case *c, size_t point)
{
    const caber_model *model;
    assert_int_equal(plan_case_fill(plan, point, c, NULL), CABER_OK);
    assert_int_equal(clubs_hold(all, c, &model, NULL), CABER_OK);
    assert_non_null(model);
    return model;
}

static void clubs_used_last_are_kept(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD CLUBS_LAST);
    plan_case *c;
    clubs *all;
    assert_int_equal(plan_case_create(plan, &c, NULL), CABER_OK);
    assert_int_equal(clubs_create(plan, 2, &all, NULL), CABER_OK);
    /* Clubs of 0, 1; 0 again, by another rise (6); 2 takes the place of 1, and 1 that of 0. */
    static const size_t points[] = {0, 1, 6, 2, 8, 1, 2, 0};
    static const size_t made[] = {1, 2, 2, 3, 3, 4, 4, 5};
    for (size_t i = 0; i < sizeof points / sizeof points[0]; i++) {
        clubs_drop(all, hold(all, plan, c, points[i]));
        assert_int_equal(clubs_made(all), made[i]);
    }
    /* What is held stays, however many; it goes when it is given back. */
    const caber_model *held[6];
    for (size_t i = 0; i < 6; i++)
        held[i] = hold(all, plan, c, i);
    const size_t then = clubs_made(all);
    for (size_t i = 0; i < 6; i++) {
        assert_ptr_equal(hold(all, plan, c, 6 + i), held[i]);
        clubs_drop(all, held[i]);
        clubs_drop(all, held[i]);
    }
    assert_int_equal(clubs_made(all), then);
    clubs_drop(all, hold(all, plan, c, 5));
    clubs_drop(all, hold(all, plan, c, 4));
    assert_int_equal(clubs_made(all), then);
    clubs_drop(all, hold(all, plan, c, 3));
    assert_int_equal(clubs_made(all), then + 1);
    clubs_free(all);
    plan_case_free(c);
    caber_study_free(plan);
}

static void a_club_that_cannot_be(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD CLUBS_LAST);
    plan_case *c;
    clubs *all;
    const caber_model *model = (const caber_model *)&plan;
    caber_message first, then;
    assert_int_equal(plan_case_create(plan, &c, NULL), CABER_OK);
    assert_int_equal(clubs_create(plan, 1, &all, NULL), CABER_OK);
    assert_int_equal(plan_case_fill(plan, 0, c, NULL), CABER_OK);
    c->setup.head.mass = -1;
    assert_int_equal(clubs_hold(all, c, &model, &first), CABER_BAD_INPUT);
    assert_null(model);
    assert_non_null(strstr(first.text, "head.mass"));
    assert_int_equal(clubs_hold(all, c, &model, &then), CABER_BAD_INPUT);
    assert_string_equal(first.text, then.text);
    assert_int_equal(clubs_made(all), 0);
    clubs_drop(all, hold(all, plan, c, 1));
    assert_int_equal(clubs_made(all), 1);
    clubs_free(all);
    plan_case_free(c);
    caber_study_free(plan);
}

/* ------------------------------------------------------------------ cases that fail */

static void assert_failed(const caber_study *plan, const one *got, caber_status status,
                          const char *why)
{
    assert_int_equal(got->out.status, status);
    if (strncmp(got->out.why.text, why, strlen(why)) != 0)
        fail_msg("%s", got->out.why.text);
    for (size_t i = 0; i < plan->output_count; i++)
        assert_true(isnan(got->out.outputs[i]));
    for (size_t i = 0; i < got->series; i++)
        assert_true(isnan(got->out.series[i]));
}

static void a_swing_that_never_arrives(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD MIXED);
    lane l = lane_create(plan);
    one *got = one_create(plan);
    lane_run(&l, 4, got); /* an arm too heavy for its time */
    assert_failed(plan, got, CABER_BALL_NOT_REACHED, "");
    assert_true(strlen(got->out.why.text) > 40);
    assert_true(got->out.counts[RUNNER_STEPS] > 0 && got->out.counts[RUNNER_EVALUATIONS] > 0);
    one_free(got);
    lane_free(&l);
    caber_study_free(plan);
    plan = studies_read(STUDIES_HEAD MIXED "replicates: 2\n");
    l = lane_create(plan);
    got = one_create(plan);
    for (size_t i = 8; i < 10; i++) {
        lane_run(&l, i, got);
        assert_failed(plan, got, CABER_BALL_NOT_REACHED, "the usual swing: ");
        assert_true(got->out.counts[RUNNER_STEPS] == 0);
    }
    one_free(got);
    lane_free(&l);
    caber_study_free(plan);
}

static void a_ball_that_does_not_rise(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD MIXED);
    lane l = lane_create(plan);
    one *got = one_create(plan);
    lane_run(&l, 8, got); /* square = -60 deg */
    assert_int_equal(got->out.status, CABER_OK);
    assert_string_equal(got->out.why.text, "");
    for (size_t i = 0; i < plan->output_count; i++)
        assert_true(isnan(got->out.outputs[i]) == plan->outputs[i].optional);
    assert_true(got->out.counts[RUNNER_STEPS] > 0);
    assert_true(isfinite(got->out.series[1]));
    one_free(got);
    lane_free(&l);
    caber_study_free(plan);
}

/* As one of so many points that the reader did not look at it: of a head without mass. The one after has
 * the swing of the one before. */
static void a_point_that_is_no_setup(void **state)
{
    (void)state;
    caber_study *plan = studies_read(
        STUDIES_HEAD "factors: [{name: mass, path: head.mass, values: [199 g, 200 g, 201 g]}]\n"
                     "design: {kind: grid}\noutputs: [head_speed_mps, carry_m]\n");
    plan->ranges[0].values[1] = 0;
    plan->ranges[0].values[2] = plan->ranges[0].values[0];
    lane l = lane_create(plan), fresh = lane_create(plan);
    one *got = one_create(plan), *want = one_create(plan);
    lane_run(&l, 0, got);
    lane_run(&l, 1, got);
    assert_failed(plan, got, CABER_BAD_INPUT, "head.mass: ");
    for (int i = 0; i < RUNNER_COUNTS; i++)
        assert_true(got->out.counts[i] == 0);
    lane_run(&l, 2, got);
    lane_run(&fresh, 2, want);
    assert_int_equal(want->out.status, CABER_OK);
    one_equal(got, want);
    one_free(got);
    one_free(want);
    lane_free(&l);
    lane_free(&fresh);
    caber_study_free(plan);
}

/* ------------------------------------------------------------------ chunks */

static void assert_chunks(const char *tail, size_t cases, size_t want)
{
    char text[2000];
    snprintf(text, sizeof text, STUDIES_HEAD "outputs: [carry_m]\n%s", tail);
    caber_study *plan = studies_read(text);
    const size_t chunks = engine_chunks(plan);
    size_t next = 0, count = 0;
    assert_int_equal(plan_cases(plan), cases);
    assert_int_equal(engine_chunk_cases(plan), want);
    for (size_t i = 0; i < chunks; i++) {
        assert_int_equal(engine_chunk(plan, i, &count), next);
        assert_true(count > 0 && (count == want || i + 1 == chunks));
        next += count;
    }
    assert_int_equal(next, cases);
    caber_study_free(plan);
}

#define RISES(n)                                                                                   \
    "factors: [{name: rise, path: load.grip.rise, from: 0.1 s, to: 0.2 s, levels: " #n "}]\n"
#define SOBOL(n) RISES(2) "design: {kind: sobol, cases: " #n "}\n"

static void chunks_have_every_case_once(void **state)
{
    (void)state;
    assert_chunks(RISES(3) "design: {kind: grid}\n", 3, 3);
    assert_chunks(RISES(19) "design: {kind: grid}\n", 19, 8);
    assert_chunks(SOBOL(100000), 100000, 97);
    assert_chunks(SOBOL(3000000), 3000000, 256);
    /* Whole points, unless one alone is more than a chunk. */
    assert_chunks(SOBOL(10) "replicates: 3\n", 30, 6);
    assert_chunks(SOBOL(10) "replicates: 100\n", 1000, 8);
    /* At most 4 MB of series: 2 x 2001 numbers a case. */
    assert_chunks(
        SOBOL(1000000) "series: {outputs: [lag_mm, droop_mm], until: 0.5 s, step: 0.25 ms}\n",
        1000000, 131);
    assert_chunks(RISES(9) "design: {kind: grid}\nseries: {outputs: [lag_mm, droop_mm, roll_deg, "
                           "cock_deg, hub_torque_nm], until: 0.9 s, step: 0.01 ms}\n",
                  9, 1);
}

static void a_result_goes_through_bytes(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD MIXED);
    lane l = lane_create(plan);
    engine_result *there, *back;
    caber_message m;
    assert_int_equal(engine_result_create(plan, &there, NULL), CABER_OK);
    assert_int_equal(engine_result_create(plan, &back, NULL), CABER_OK);
    assert_int_equal(engine_run_chunk(l.r, plan, 0, there, &m), CABER_OK);
    assert_int_equal(there->count, 8);
    const size_t size = engine_result_size(plan);
    char *bytes = malloc(size + 1);
    assert_non_null(bytes);
    /* At any address. */
    engine_result_pack(plan, there, bytes + 1);
    assert_int_equal(engine_result_unpack(plan, bytes + 1, back, &m), CABER_OK);
    numbers *a = numbers_create(plan), *b = numbers_create(plan);
    numbers_put(a, 0, there);
    numbers_put(b, 0, back);
    assert_int_equal(back->chunk, 0);
    assert_int_equal(back->count, 8);
    assert_true(back->reason[4] && !back->reason[0] && back->reason[4] != there->reason[4]);
    numbers_equal(a, b);
    numbers_free(a);
    numbers_free(b);
    engine_result_free(there);
    engine_result_free(back);
    free(bytes);
    lane_free(&l);
    caber_study_free(plan);
}

static void assert_no_result(const caber_study *plan, const char *bytes)
{
    engine_result *result;
    caber_message m;
    assert_int_equal(engine_result_create(plan, &result, NULL), CABER_OK);
    assert_int_equal(engine_result_unpack(plan, bytes, result, &m), CABER_INTERNAL);
    assert_string_equal(m.text, "what another process sent is no chunk of this study");
    assert_int_equal(result->count, 0);
    engine_result_free(result);
}

static void bytes_that_are_no_result(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD CLUBS_LAST),
                *other = studies_read(STUDIES_HEAD CLUBS_LAST "replicates: 2\n"),
                *wider = studies_read(
                    STUDIES_HEAD RISES(18) "design: {kind: grid}\noutputs: [carry_m, side_m]\n");
    const size_t size = engine_result_size(plan);
    assert_true(engine_result_size(wider) > size);
    engine_result *result;
    assert_int_equal(engine_result_create(plan, &result, NULL), CABER_OK);
    char *bytes = calloc(1, engine_result_size(wider)), *bad = malloc(size);
    assert_true(bytes && bad);
    assert_no_result(plan, bytes);
    result->chunk = 2; /* the last, of two cases */
    result->count = 2;
    engine_result_pack(plan, result, bytes);
    assert_int_equal(engine_result_unpack(plan, bytes, result, NULL), CABER_OK);
    assert_no_result(wider, bytes);
    assert_int_equal(engine_chunk_cases(other), 8);
    assert_no_result(other, bytes); /* its chunk 2 has 8 cases */
    /* Every byte of what stands in front counts. */
    for (size_t i = 0; i < 40; i++) {
        memcpy(bad, bytes, size);
        bad[i] = (char)(bad[i] ^ 0x41);
        assert_no_result(plan, bad);
    }
    /* A status that there is not; a sentence without an end. */
    memcpy(bad, bytes, size);
    bad[40] = CABER_INTERNAL + 1;
    assert_no_result(plan, bad);
    memcpy(bad, bytes, size);
    bad[size - 6 * ENGINE_REASON_SIZE - 1] = 'x';
    assert_no_result(plan, bad);
    free(bytes);
    free(bad);
    engine_result_free(result);
    caber_study_free(plan);
    caber_study_free(other);
    caber_study_free(wider);
}

/* ------------------------------------------------------------------ the whole run */

static void all_cases_are_run(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD CLUBS_LAST);
    numbers *n = numbers_run(plan, 1);
    lane l = lane_create(plan);
    one *got = one_create(plan);
    for (size_t i = 0; i < n->cases; i++) {
        lane_run(&l, i, got);
        assert_true(n->outputs[i * n->columns] == got->out.outputs[0]);
        assert_memory_equal(&n->outputs[i * n->columns + 1], got->out.counts,
                            sizeof got->out.counts);
        assert_int_equal(n->status[i], CABER_OK);
    }
    one_free(got);
    lane_free(&l);
    numbers_free(n);
    caber_study_free(plan);
}

/* Wants chunks 0 and 2 alone. */
static bool want_even(void *user, size_t chunk)
{
    numbers *n = user;
    n->asked++;
    return chunk % 2 == 0;
}

static bool want_none(void *user, size_t chunk)
{
    numbers *n = user;
    (void)chunk;
    n->asked++;
    return false;
}

static void only_what_is_wanted(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD CLUBS_LAST);
    numbers *n = numbers_create(plan);
    engine_sink sink = {n, want_even, numbers_take, NULL};
    assert_int_equal(engine_chunks(plan), 3);
    assert_int_equal(engine_run(plan, 1, &sink, NULL), CABER_OK);
    assert_int_equal(n->asked, 3);
    assert_int_equal(n->taken, 2);
    assert_true(n->outputs[0] > 0 && n->outputs[8 * n->columns] == 0 &&
                n->outputs[16 * n->columns] > 0);
    sink.wants = want_none;
    assert_int_equal(engine_run(plan, 2, &sink, NULL), CABER_OK);
    assert_int_equal(n->asked, 6);
    assert_int_equal(n->taken, 2);
    numbers_free(n);
    caber_study_free(plan);
}

static void a_stop_begins_nothing(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD CLUBS_LAST);
    numbers *n = numbers_create(plan);
    const engine_sink sink = {n, numbers_want, numbers_take, numbers_stop};
    caber_message m;
    n->stop_after = 1;
    assert_int_equal(engine_run(plan, 1, &sink, &m), CABER_OK);
    assert_int_equal(n->asked, 1);
    assert_int_equal(n->taken, 1);
    numbers_free(n);
    caber_study_free(plan);
}

static caber_status take_fails(void *user, const engine_result *result, caber_message *message)
{
    numbers *n = user;
    n->taken++;
    snprintf(message->text, sizeof message->text, "no room for chunk %zu", result->chunk);
    return result->chunk == 1 ? CABER_IO_ERROR : CABER_OK;
}

static void a_sink_that_fails_ends_the_run(void **state)
{
    (void)state;
    caber_study *plan = studies_read(STUDIES_HEAD CLUBS_LAST);
    numbers *n = numbers_create(plan);
    const engine_sink sink = {n, numbers_want, take_fails, NULL};
    caber_message m;
    assert_int_equal(engine_run(plan, 1, &sink, &m), CABER_IO_ERROR);
    assert_string_equal(m.text, "no room for chunk 1");
    assert_int_equal(n->asked, 2);
    assert_int_equal(n->taken, 2);
    numbers_free(n);
    caber_study_free(plan);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_case_is_the_swing_of_its_setup),
        cmocka_unit_test(the_outputs_that_are_chosen),
        cmocka_unit_test(replicates_are_the_swings_of_scatter),
        cmocka_unit_test(a_case_is_the_same_in_any_order),
        cmocka_unit_test(a_club_is_made_once),
        cmocka_unit_test(clubs_used_last_are_kept),
        cmocka_unit_test(a_club_that_cannot_be),
        cmocka_unit_test(a_swing_that_never_arrives),
        cmocka_unit_test(a_ball_that_does_not_rise),
        cmocka_unit_test(a_point_that_is_no_setup),
        cmocka_unit_test(chunks_have_every_case_once),
        cmocka_unit_test(a_result_goes_through_bytes),
        cmocka_unit_test(bytes_that_are_no_result),
        cmocka_unit_test(all_cases_are_run),
        cmocka_unit_test(only_what_is_wanted),
        cmocka_unit_test(a_stop_begins_nothing),
        cmocka_unit_test(a_sink_that_fails_ends_the_run),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
