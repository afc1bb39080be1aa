/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber_sensitivity_run: which part of the shaft does what.
 *
 * An output f is a function of x = ln(stiffness of a part) by way of everything: matrices, modes, the
 * whole swing, and the instant at which the ball is met. Its derivative is the total one, so it holds
 * what a changed instant of impact does too. With
 *   D(h) = (f(x + h) - f(x - h)) / 2h = f' + c2 h^2 + c4 h^4 + ...
 * f' is extrapolated to h = 0 from two or three h, each half the one before (Richardson 1911, Phil.
 * Trans. R. Soc. A 210:307). The widest h is a quarter of ln 1.1: what still rings at impact went
 * through many periods before it, so that 10 % more of a stiffness can shift it by half a period, and a
 * wide step would see no slope of it. A maximum over time, such as the largest lag, has the derivative
 * at its instant (envelope theorem).
 *
 * Noise: the integrator's at 1e-10 is some 1e-8 of an output, a millionth of it in a derivative. Peaks
 * that are looked for from step to step (the load rate and the instant of the largest moment) have
 * more, and show it in `apart`. The discretisation must not differ between swings: every one has a
 * section at every part, of scale 1 where nothing is changed, hence the same fixed nodes; the element
 * length is chosen once, for the shaft as it is. */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "club/club.h"
#include "shaft/modes.h"
#include "swing/check.h"
#include "swing/once.h"

enum { SECTIONS_MOST = 100 }; /* of a setup, as fields_table.c has it */

static const double finest = 1e-10; /* relative tolerance of the integrator, at most */

typedef enum stiffness { STIFFNESS_EI, STIFFNESS_GJ } stiffness;

typedef struct study {
    caber_setup setup; /* the caller's, with its own sections and settings */
    size_t count;
    caber_section *parts; /* [count], the sections of the parts, behind the caller's */
    caber_watch watch;
    size_t done, total; /* swings */
    caber_message *message;
} study;

/* ------------------------------------------------------------------ one swing */

/* A swing is done: says so. Returns CABER_STOPPED when no more are wished. */
static caber_status swing_told(study *s)
{
    s->done++;
    if (!s->watch.progress || s->watch.progress(s->watch.user, s->done, s->total))
        return CABER_OK;
    return message_set(s->message, CABER_STOPPED, "stopped as wished");
}

/* The impact with a stiffness of the parts [first, end) multiplied by `scale`. */
static caber_status swing_scaled(study *s, size_t first, size_t end, stiffness what, double scale,
                                 caber_impact *out)
{
    caber_swing swing;
    for (size_t i = first; i < end; i++)
        *(what == STIFFNESS_EI ? &s->parts[i].ei_scale : &s->parts[i].gj_scale) = scale;
    const caber_status status = swing_once(&s->setup, &swing, NULL, s->message);
    for (size_t i = first; i < end; i++)
        s->parts[i].ei_scale = s->parts[i].gj_scale = 1;
    *out = swing.bent;
    if (status == CABER_OK)
        return swing_told(s);
    if (!s->message)
        return status;
    const caber_message why = *s->message;
    return message_set(s->message, status, "with %s times %.4g from %.0f to %.0f mm: %.900s",
                       what == STIFFNESS_EI ? "EI" : "GJ", scale, s->parts[first].from * 1e3,
                       s->parts[end - 1].to * 1e3, why.text);
}

/* ------------------------------------------------------------------ differences */

static double member(const caber_impact *impact, const caber_field *field)
{
    double value;
    memcpy(&value, (const char *)impact + field->offset, sizeof value);
    return value;
}

static void set_member(caber_impact *impact, const caber_field *field, double value)
{
    memcpy((char *)impact + field->offset, &value, sizeof value);
}

/* How many step widths: a small part of the shaft moves little; more than a fifth of it gets one more. */
enum { LEVELS_PART = 2, LEVELS_WHOLE = 3 };

/* Impacts for one stiffness of some parts. */
typedef struct looks {
    int levels;
    caber_impact up[LEVELS_WHOLE], down[LEVELS_WHOLE]; /* h = ln 1.1/4, then halves */
    caber_impact anew;                                 /* at 1.1 times the stiffness */
} looks;

/* h over ln 1.1 at a level. */
static double width(int level)
{
    return ldexp(0.25, -level);
}

/* Extrapolates d[levels] to h = 0; *apart is how far the two values that the last step joins are from
 * each other. */
static double extrapolate(double *d, int levels, double *apart)
{
    double power = 1;
    for (int column = 1; column < levels; column++) {
        power *= 4;
        const int last = levels - column;
        *apart = fabs(d[last] - d[last - 1]);
        for (int i = 0; i < last; i++)
            d[i] = (power * d[i + 1] - d[i]) / (power - 1);
    }
    return d[0];
}

static void change_fill(const looks *f, const caber_impact *base, caber_change *out)
{
    size_t count;
    const caber_field *fields = caber_impact_fields(&count);
    for (size_t i = 0; i < count; i++) {
        const caber_field *field = fields + i;
        if (field->offset == offsetof(caber_impact, energy_residual))
            continue;
        double d[LEVELS_WHOLE], apart = 0;
        for (int k = 0; k < f->levels; k++)
            d[k] =
                (member(&f->up[k], field) - member(&f->down[k], field)) / (2 * width(k) * log(1.1));
        set_member(&out->first, field, 0.1 * extrapolate(d, f->levels, &apart));
        set_member(&out->apart, field, 0.1 * apart);
        set_member(&out->anew, field, member(&f->anew, field) - member(base, field));
    }
}

static int levels_of(const study *s, size_t parts)
{
    return 5 * parts > s->count ? LEVELS_WHOLE : LEVELS_PART;
}

static caber_status change_run(study *s, size_t first, size_t end, stiffness what,
                               const caber_impact *base, caber_change *out)
{
    looks f = {.levels = levels_of(s, end - first)};
    caber_status status = swing_scaled(s, first, end, what, 1.1, &f.anew);
    for (int k = 0; k < f.levels && status == CABER_OK; k++) {
        status = swing_scaled(s, first, end, what, pow(1.1, width(k)), &f.up[k]);
        if (status == CABER_OK)
            status = swing_scaled(s, first, end, what, pow(1.1, -width(k)), &f.down[k]);
    }
    if (status == CABER_OK)
        change_fill(&f, base, out);
    return status;
}

/* Both stiffnesses of the parts [first, end). A rigid part is left at 0: no stiffness of it enters. */
static caber_status part_run(study *s, size_t first, size_t end, const caber_impact *base,
                             caber_part *out)
{
    if (!(out->bends > 0))
        return CABER_OK;
    const caber_status status = change_run(s, first, end, STIFFNESS_EI, base, &out->ei);
    return status == CABER_OK ? change_run(s, first, end, STIFFNESS_GJ, base, &out->gj) : status;
}

/* ------------------------------------------------------------------ the parts */

/* Fills places of `out` from a section of the cut shaft. */
static void part_place(const caber_setup *setup, double from, double to, caber_part *out)
{
    const club_cut cut = club_cut_of(setup);
    const double hosel = cut.tip_trim + cut.insertion;
    const double hands = setup->shaft.length - cut.butt_trim - setup->build.hold;
    out->from = from;
    out->to = to;
    out->bends = fmax(0, fmin(to, hands) - fmax(from, hosel));
}

/* The element length that the setup as it is comes to, as a number of elements. */
static caber_status freeze_mesh(study *s)
{
    if (s->setup.settings.elements > 0)
        return CABER_OK;
    club *c = NULL;
    beam *b = NULL;
    caber_status status = club_create(&s->setup, &c, s->message);
    if (status == CABER_OK)
        status = modes_refine(club_beam_shape(c, c->hold_at, c->end_at), &c->tip, &b, s->message);
    if (status == CABER_OK) {
        double longest = 0;
        for (size_t i = 0; i + 1 < b->node_count; i++)
            longest = fmax(longest, b->node[i + 1] - b->node[i]);
        s->setup.settings.elements = (int)(c->length / longest);
    }
    beam_free(b);
    club_free(c);
    return status;
}

/* Copies the setup, with its sections and then one a part. */
static caber_status study_create(const caber_setup *setup, size_t parts, study *s)
{
    const size_t given = setup->sections.count;
    const club_cut trims = club_cut_of(setup);
    const double tip = trims.tip_trim;
    const double cut = setup->shaft.length - trims.butt_trim - tip;
    s->setup = *setup;
    s->setup.sections =
        (caber_sections){given + parts, calloc(given + parts, sizeof *s->setup.sections.items)};
    if (!s->setup.sections.items)
        return message_set(s->message, CABER_NO_MEMORY, "out of memory");
    if (given)
        memcpy(s->setup.sections.items, setup->sections.items, given * sizeof *s->parts);
    s->count = parts;
    s->parts = s->setup.sections.items + given;
    for (size_t i = 0; i < parts; i++)
        s->parts[i] = (caber_section){.from = tip + cut * (double)i / (double)parts,
                                      .to = tip + cut * (double)(i + 1) / (double)parts,
                                      .ei_scale = 1,
                                      .gj_scale = 1,
                                      .mass_scale = 1};
    if (s->setup.settings.tolerance > finest)
        s->setup.settings.tolerance = finest;
    return freeze_mesh(s);
}

/* Swings that part_run takes for so many parts. */
static size_t swings_of(const study *s, size_t parts, const caber_part *part)
{
    return part->bends > 0 ? 2 * (1 + 2 * (size_t)levels_of(s, parts)) : 0;
}

/* Fills the places, and says how many swings it will take. */
static void study_plan(study *s, caber_sensitivity *out)
{
    s->total = 1;
    for (size_t i = 0; i < out->count; i++) {
        part_place(&s->setup, s->parts[i].from, s->parts[i].to, &out->parts[i]);
        s->total += swings_of(s, 1, &out->parts[i]);
    }
    part_place(&s->setup, s->parts[0].from, s->parts[out->count - 1].to, &out->whole);
    s->total += swings_of(s, out->count, &out->whole);
}

static caber_status study_run(study *s, caber_sensitivity *out)
{
    study_plan(s, out);
    caber_status status = swing_once(&s->setup, &out->swing, NULL, s->message);
    if (status == CABER_OK)
        status = swing_told(s);
    for (size_t i = 0; i < out->count && status == CABER_OK; i++)
        status = part_run(s, i, i + 1, &out->swing.bent, &out->parts[i]);
    if (status == CABER_OK)
        status = part_run(s, 0, out->count, &out->swing.bent, &out->whole);
    return status;
}

static caber_status check(const caber_setup *setup, int parts, caber_message *message)
{
    if (parts < CABER_PARTS_LEAST || parts > CABER_PARTS_MOST)
        return message_set(message, CABER_BAD_INPUT,
                           "parts: %d is not allowed; a shaft is cut into %d to %d parts", parts,
                           CABER_PARTS_LEAST, CABER_PARTS_MOST);
    const caber_status status = setup_check(setup, message);
    if (status != CABER_OK || setup->sections.count + (size_t)parts <= SECTIONS_MOST)
        return status;
    return message_set(message, CABER_BAD_INPUT,
                       "shaft.sections: %zu sections are too many here; with %d parts there may be "
                       "at most %d",
                       setup->sections.count, parts, SECTIONS_MOST - parts);
}

caber_status caber_sensitivity_run(const caber_setup *setup, int parts, const caber_watch *watch,
                                   caber_sensitivity **out, caber_message *message)
{
    *out = NULL;
    gsl_set_error_handler_off();
    caber_status status = check(setup, parts, message);
    if (status != CABER_OK)
        return status;
    study s = {.message = message, .watch = watch ? *watch : (caber_watch){NULL, NULL}};
    caber_sensitivity *found = calloc(1, sizeof *found);
    if (found) {
        found->count = (size_t)parts;
        found->parts = calloc(found->count, sizeof *found->parts);
    }
    if (!found || !found->parts)
        status = message_set(message, CABER_NO_MEMORY, "out of memory");
    if (status == CABER_OK)
        status = study_create(setup, found->count, &s);
    if (status == CABER_OK)
        status = study_run(&s, found);
    free(s.setup.sections.items);
    if (status != CABER_OK) {
        caber_sensitivity_free(found);
        return status;
    }
    *out = found;
    return message_clear(message);
}

void caber_sensitivity_free(caber_sensitivity *sensitivity)
{
    if (!sensitivity)
        return;
    free(sensitivity->parts);
    free(sensitivity);
}
