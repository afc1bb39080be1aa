/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber_sensitivity_run: where the parts lie, what it refuses, what it leaves alone. */
#include <stdlib.h>

#include "caber.h"
#include "check.h"
#include "verification/setups.h"

/* A swing that is over soon, which is enough here. */
static caber_setup *setup_short(const char *name)
{
    caber_setup *s = setups_read(name);
    s->settings.until = 0.02;
    return s;
}

static caber_sensitivity *run(const caber_setup *s, int parts)
{
    caber_message message;
    caber_sensitivity *found = NULL;
    if (caber_sensitivity_run(s, parts, NULL, &found, &message) != CABER_OK)
        fail_msg("%s", message.text);
    assert_non_null(found);
    assert_string_equal(message.text, "");
    return found;
}

static void set_sections(caber_setup *s, size_t count)
{
    free(s->sections.items);
    s->sections.count = count;
    s->sections.items = calloc(count ? count : 1, sizeof *s->sections.items);
    assert_non_null(s->sections.items);
    for (size_t i = 0; i < count; i++)
        s->sections.items[i] = (caber_section){
            .from = 0.2, .to = 0.5, .ei_scale = 1.01, .gj_scale = 1, .mass_scale = 1};
}

static double size_of(const caber_impact *impact)
{
    size_t count;
    const caber_field *f = caber_impact_fields(&count);
    double most = 0;
    for (size_t i = 0; i < count; i++)
        most = fmax(most, fabs(caber_impact_value(impact, f + i)));
    return most;
}

/* ------------------------------------------------------------------ what comes out */

static void parts_cover_the_cut_shaft(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-smooth");
    const caber_build *b = &s->build;
    for (int parts = CABER_PARTS_LEAST; parts <= 14; parts += 12) {
        caber_sensitivity *found = run(s, parts);
        assert_int_equal(found->count, parts);
        assert_false(found->swing.met_ball);
        double bends = 0, at = b->tip_trim;
        for (int i = 0; i < parts; i++) {
            const caber_part *p = found->parts + i;
            assert_close(p->from, at, 0, 1e-12);
            assert_close(p->to - p->from, (1.168 - 0.012 - 0.048) / parts, 1e-12, 0);
            assert_true(p->bends >= 0 && p->bends <= p->to - p->from + 1e-12);
            bends += p->bends;
            at = p->to;
        }
        assert_close(at, s->shaft.length - b->butt_trim, 1e-12, 0);
        assert_close(bends, at - b->tip_trim - b->insertion - b->hold, 1e-12, 0);
        assert_close(found->whole.bends, bends, 1e-12, 0);
        assert_true(found->whole.from == found->parts[0].from);
        assert_true(found->whole.to == found->parts[parts - 1].to);
        caber_sensitivity_free(found);
    }
    caber_setup_free(s);
}

/* A part that does not bend is left out; a swing with another stiffness there shows that it may be. */
static void rigid_parts_do_nothing(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-smooth");
    caber_sensitivity *found = run(s, 14);
    const caber_part *butt = found->parts + found->count - 1;
    assert_true(butt->bends == 0);
    assert_true(size_of(&butt->ei.first) == 0 && size_of(&butt->gj.anew) == 0);
    assert_true(size_of(&found->parts[0].ei.first) > 0);
    s->sections.count = 1;
    s->sections.items = calloc(1, sizeof(caber_section));
    assert_non_null(s->sections.items);
    caber_impact with[2];
    for (int i = 0; i < 2; i++) {
        s->sections.items[0] = (caber_section){.from = butt->from,
                                               .to = butt->to,
                                               .ei_scale = 1 + i,
                                               .gj_scale = 1 + i,
                                               .mass_scale = 1};
        caber_model *m = NULL;
        caber_work *w = NULL;
        caber_swing swing;
        assert_int_equal(caber_model_create(s, &m, NULL), CABER_OK);
        assert_int_equal(caber_work_create(m, &w, NULL), CABER_OK);
        assert_int_equal(caber_swing_run(m, w, &swing, NULL, NULL), CABER_OK);
        with[i] = swing.bent;
        caber_work_free(w);
        caber_model_free(m);
    }
    assert_memory_equal(&with[0], &with[1], sizeof with[0]);
    caber_sensitivity_free(found);
    caber_setup_free(s);
}

/* The residual of the integrator has no sensitivity; every other output that a short swing moves has
 * one, and its parts add up. */
static void every_output(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-smooth");
    caber_sensitivity *found = run(s, 5);
    assert_true(found->whole.ei.first.energy_residual == 0);
    assert_true(found->whole.ei.anew.energy_residual == 0);
    assert_true(found->swing.bent.energy_residual > 0);
    double droop = 0, lag = 0;
    for (size_t i = 0; i < found->count; i++) {
        droop += found->parts[i].ei.first.droop;
        lag += found->parts[i].ei.first.peak_lag;
    }
    assert_true(fabs(droop) > 1e-5 && fabs(lag) > 1e-5);
    /* A hundredth of a micrometre: the integrator's 1e-10 of 0.1 m, over a step of 0.02. */
    assert_close(droop, found->whole.ei.first.droop, 0, 1e-8);
    assert_close(lag, found->whole.ei.first.peak_lag, 0, 1e-8);
    caber_sensitivity_free(found);
    caber_setup_free(s);
}

/* A left-handed player's numbers are the right-handed one's, to the last bit; and the same twice. */
static void left_is_right(void **state)
{
    (void)state;
    caber_setup *s[2] = {setup_short("neutral-smooth"), setup_short("neutral-smooth-left")};
    assert_int_equal(s[1]->player.handed, CABER_LEFT);
    caber_sensitivity *found[2] = {run(s[0], 3), run(s[1], 3)};
    assert_memory_equal(found[0]->parts, found[1]->parts, 3 * sizeof(caber_part));
    assert_memory_equal(&found[0]->whole, &found[1]->whole, sizeof(caber_part));
    for (int i = 0; i < 2; i++) {
        caber_sensitivity_free(found[i]);
        caber_setup_free(s[i]);
    }
}

/* The setup is only read: its own sections count, and stay as they are. */
static void the_setup_stays(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-smooth");
    set_sections(s, 2);
    const caber_setup before = *s;
    const caber_section item = s->sections.items[1];
    caber_sensitivity *with = run(s, 2);
    assert_memory_equal(&before, s, sizeof before);
    assert_memory_equal(&item, &s->sections.items[1], sizeof item);
    s->sections.count = 0;
    caber_sensitivity *without = run(s, 2);
    assert_true(with->swing.bent.droop != without->swing.bent.droop);
    assert_true(with->whole.ei.first.droop != without->whole.ei.first.droop);
    s->sections.count = 2;
    caber_sensitivity_free(with);
    caber_sensitivity_free(without);
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ who watches */

typedef struct watched {
    size_t calls, total, stop;
} watched;

static bool heed(void *user, size_t done, size_t total)
{
    watched *w = user;
    assert_int_equal(done, ++w->calls); /* one after the other */
    assert_true(total == w->total || w->calls == 1);
    w->total = total;
    return w->calls != w->stop;
}

/* Every swing is told of: one as it is, for each stiffness of a part that bends one anew and two a width, two
 * widths of a tenth and three of the whole. Stopped after a swing there is no other, and nothing is returned. */
static void watched_and_stopped(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-smooth");
    watched w = {0};
    const caber_watch watch = {heed, &w};
    caber_message message;
    caber_sensitivity *found;
    assert_int_equal(caber_sensitivity_run(s, 10, &watch, &found, &message), CABER_OK);
    size_t bending = 0;
    for (size_t i = 0; i < found->count; i++)
        bending += found->parts[i].bends > 0;
    assert_int_equal(w.calls, 1 + bending * 2 * (1 + 2 * 2) + 2 * (1 + 2 * 3));
    assert_int_equal(w.total, w.calls);
    caber_sensitivity *alone = run(s, 10);
    assert_memory_equal(&alone->whole, &found->whole, sizeof alone->whole);
    caber_sensitivity_free(alone);
    caber_sensitivity_free(found);
    for (size_t stop = 1; stop <= 12; stop += 11) {
        w = (watched){.stop = stop};
        assert_int_equal(caber_sensitivity_run(s, 10, &watch, &found, &message), CABER_STOPPED);
        assert_int_equal(w.calls, stop);
        assert_null(found);
        assert_string_equal(message.text, "stopped as wished");
    }
    caber_setup_free(s);
}

/* ------------------------------------------------------------------ what is refused */

static void expect(const caber_setup *s, int parts, caber_status want, const char *words)
{
    caber_message message;
    caber_sensitivity *found = (caber_sensitivity *)&message; /* must be cleared */
    assert_int_equal(caber_sensitivity_run(s, parts, NULL, &found, &message), want);
    assert_null(found);
    if (!strstr(message.text, words))
        fail_msg("'%s' does not say '%s'", message.text, words);
    assert_int_equal(caber_sensitivity_run(s, parts, NULL, &found, NULL), want);
    assert_null(found);
}

static void bad_input(void **state)
{
    (void)state;
    caber_setup *s = setup_short("neutral-smooth");
    expect(s, CABER_PARTS_LEAST - 1, CABER_BAD_INPUT, "2 to 50 parts");
    expect(s, CABER_PARTS_MOST + 1, CABER_BAD_INPUT, "2 to 50 parts");
    expect(s, -1, CABER_BAD_INPUT, "parts: -1");
    set_sections(s, 91);
    expect(s, 10, CABER_BAD_INPUT, "at most 90");
    caber_sensitivity_free(run(s, 9));
    s->head.mass = -1;
    expect(s, 10, CABER_BAD_INPUT, "head.mass");
    caber_sensitivity_free(NULL);
    caber_setup_free(s);
}

static void swings_that_fail(void **state)
{
    (void)state;
    caber_setup *s = setups_read("neutral-smooth");
    s->settings.time_limit = 0.1;
    expect(s, 2, CABER_BALL_NOT_REACHED, caber_status_text(CABER_BALL_NOT_REACHED));
    /* The swing as it is just reaches the ball; one that takes a little longer does not. */
    s->settings.time_limit = 1;
    caber_sensitivity *found = run(s, 2);
    assert_true(found->parts[0].ei.first.downswing_time < -1e-7); /* so less of it takes longer */
    s->settings.time_limit = found->swing.bent.downswing_time + 1e-9;
    caber_sensitivity_free(found);
    expect(s, 2, CABER_BALL_NOT_REACHED, "with EI times 0.9765 from 12 to 566 mm: the head");
    caber_setup_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(parts_cover_the_cut_shaft),
                                       cmocka_unit_test(rigid_parts_do_nothing),
                                       cmocka_unit_test(every_output),
                                       cmocka_unit_test(left_is_right),
                                       cmocka_unit_test(the_setup_stays),
                                       cmocka_unit_test(watched_and_stopped),
                                       cmocka_unit_test(bad_input),
                                       cmocka_unit_test(swings_that_fail)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
