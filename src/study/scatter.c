/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber_scatter_run: what a player's swings spread, and with which shaft they spread less.
 *
 * Every statistic is one of deviations from the usual swing, so an output that no habit changes has the
 * standard deviation 0 to the last bit. All are computed from the whole table of swings in its order, so
 * no figure depends on the number of threads. */
#include "study/scatter.h"

#include <math.h>
#include <stdlib.h>

#include "base/message.h"
#include "study/outputs.h"
#include "study/spread.h"

caber_scatter_settings caber_scatter_default(void)
{
    return (caber_scatter_settings){
        .swings = CABER_SWINGS_USUAL, .seed = 1, .fairway = 30, .level = 0.95, .worth = 0.1};
}

static caber_status check_whole(const char *name, int value, int least, int most,
                                caber_message *message)
{
    if (value >= least && value <= most)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT, "%s: %d is not allowed; it must be from %d to %d",
                       name, value, least, most);
}

static caber_status check_settings(const caber_scatter_settings *s, size_t count,
                                   caber_message *message)
{
    caber_status status = CABER_OK;
    if (count < 1 || count > CABER_SCATTER_MOST)
        status = message_set(message, CABER_BAD_INPUT,
                             "setups: %zu are not allowed; there must be from 1 to %d", count,
                             CABER_SCATTER_MOST);
    if (status == CABER_OK)
        status = check_whole("swings", s->swings, CABER_SWINGS_LEAST, CABER_SWINGS_MOST, message);
    if (status == CABER_OK)
        status = check_whole("seed", s->seed, 0, 0x7fffffff, message);
    if (status == CABER_OK)
        status = check_whole("threads", s->threads, 0, CABER_THREADS_MOST, message);
    if (status == CABER_OK && !(s->fairway >= 1 && s->fairway <= 200))
        status =
            message_set(message, CABER_BAD_INPUT,
                        "fairway: %g m is not allowed; it must be from 1 to 200 m", s->fairway);
    if (status == CABER_OK && !(s->level >= 0.5 && s->level <= 0.999))
        status = message_set(message, CABER_BAD_INPUT,
                             "level: %g %% is not allowed; it must be from 50 to 99.9 %%",
                             s->level * 100);
    if (status == CABER_OK && !(s->worth >= 0 && s->worth <= 1))
        status =
            message_set(message, CABER_BAD_INPUT,
                        "worth: %g %% is not allowed; it must be from 0 to 100 %%", s->worth * 100);
    return status;
}

/* ------------------------------------------------------------------ one output */

/* Room for one column and more, and what the split needs. */
typedef struct desk {
    const caber_scatter_settings *how;
    double *a, *b, *work;      /* [swings], and b with room for [swings][CABER_HABITS] */
    double *plane_a, *plane_b; /* [swings][2] */
    bool *in_a, *in_b;         /* [swings] */
} desk;

static void desk_free(desk *d)
{
    free(d->a);
    free(d->b);
    free(d->work);
    free(d->plane_a);
    free(d->plane_b);
    free(d->in_a);
    free(d->in_b);
}

static bool desk_create(desk *d, const caber_scatter_settings *how)
{
    const size_t n = (size_t)how->swings;
    *d = (desk){.how = how};
    d->a = malloc(n * sizeof *d->a);
    d->b = malloc(n * CABER_HABITS * sizeof *d->b);
    d->work = malloc(n * sizeof *d->work);
    d->plane_a = malloc(2 * n * sizeof *d->plane_a);
    d->plane_b = malloc(2 * n * sizeof *d->plane_b);
    d->in_a = malloc(n * sizeof *d->in_a);
    d->in_b = malloc(n * sizeof *d->in_b);
    return d->a && d->b && d->work && d->plane_a && d->plane_b && d->in_a && d->in_b;
}

/* What an output of swing i is off that of the usual swing. */
static double off_usual(const caber_scatter_club *club, size_t output, size_t i)
{
    const double usual = caber_outcome_number(&club->usual, output);
    return output_near(output, caber_outcome_number(&club->outcomes[i], output), usual) - usual;
}

static void spread_fill(const caber_scatter_club *club, size_t output, desk *d, split *causes,
                        caber_spread *out)
{
    size_t n = 0;
    for (size_t i = 0; i < club->draws.count; i++)
        if (club->good[i])
            d->a[n++] = off_usual(club, output, i);
    const double usual = caber_outcome_number(&club->usual, output), level = d->how->level;
    const spread_interval mean = spread_mean(d->a, n, level);
    const spread_interval sd = spread_sd(d->a, n, level, d->work);
    *out = (caber_spread){.usual = usual,
                          .mean = usual + mean.value,
                          .mean_low = usual + mean.low,
                          .mean_high = usual + mean.high,
                          .sd = sd.value,
                          .sd_low = sd.low,
                          .sd_high = sd.high};
    spread_percentiles(d->a, n, d->work, out->percentile);
    for (int p = 0; p < CABER_PERCENTILES; p++)
        out->percentile[p] += usual;
    split_run(causes, d->a, out->share, out->own, &out->rest);
}

/* The split's problem, of the swings that count. */
static split *causes_create(const caber_setup *setup, const caber_scatter_club *club, desk *d)
{
    bool varies[CABER_HABITS];
    size_t n = 0;
    for (int k = 0; k < CABER_HABITS; k++)
        varies[k] = caber_habit_sd(&setup->player.repeat, (caber_habit)k) > 0;
    for (size_t i = 0; i < club->draws.count; i++) {
        if (!club->good[i])
            continue;
        for (size_t k = 0; k < CABER_HABITS; k++)
            d->b[n * CABER_HABITS + k] = club->drawn[i * CABER_HABITS + k];
        n++;
    }
    return split_create(d->b, n, varies);
}

/* ------------------------------------------------------------------ where balls land */

/* Whether a landing is on a fairway whose middle is at `middle`. */
static bool on_fairway(const desk *d, double side, double middle)
{
    return fabs(side - middle) <= d->how->fairway / 2;
}

/* Axes of the ellipse: the larger eigenvalue of S and the direction that goes with it. */
static void axes_fill(caber_landing *l)
{
    const double *s = l->covariance;
    const double half = (s[0] + s[1]) / 2, apart = hypot((s[0] - s[1]) / 2, s[2]);
    l->major = sqrt(half + apart);
    l->minor = sqrt(fmax(s[0] * s[1] - s[2] * s[2], 0)) / l->major;
    l->turn = atan2(2 * s[2], s[0] - s[1]) / 2;
    if (!(l->major > 0))
        l->minor = l->turn = 0;
}

/* How far a landing is from the mean, in half axes over the standard deviations. */
static double reach(const caber_landing *l, const double *at)
{
    const double d = at[0] - l->carry, e = at[1] - l->side, c = cos(l->turn), s = sin(l->turn);
    const double along = d * c + e * s, across = e * c - d * s;
    const bool line = !(l->minor > 1e-6 * l->major); /* what lies across is rounding */
    return hypot(l->major > 0 ? along / l->major : 0, line ? 0 : across / l->minor);
}

static size_t plane_fill(const caber_scatter_club *club, const bool *also, double *out)
{
    size_t n = 0;
    for (size_t i = 0; i < club->draws.count; i++) {
        if (!club->good[i] || (also && !also[i]))
            continue;
        out[2 * n] = club->outcomes[i].shot.carry;
        out[2 * n + 1] = club->outcomes[i].shot.side;
        n++;
    }
    return n;
}

static void landing_fill(const caber_scatter_club *club, desk *d, caber_landing *l)
{
    const size_t n = plane_fill(club, NULL, d->plane_a);
    double mean[2];
    spread_plane(d->plane_a, n, mean, l->covariance);
    l->carry = mean[0];
    l->side = mean[1];
    axes_fill(l);
    /* Chi-square's with two degrees of freedom: P(r < x) = 1 - exp(-x^2/2). */
    l->scale_50 = sqrt(-2 * log(0.5));
    l->scale_90 = sqrt(-2 * log(0.1));
    l->area_90 = 3.14159265358979323846 * l->scale_90 * l->scale_90 * l->major * l->minor;
    size_t half = 0, most = 0, fairway = 0, aimed = 0;
    for (size_t i = 0; i < n; i++) {
        const double r = reach(l, d->plane_a + 2 * i), side = d->plane_a[2 * i + 1];
        half += r <= l->scale_50;
        most += r <= l->scale_90;
        fairway += on_fairway(d, side, 0);
        aimed += on_fairway(d, side, l->side);
    }
    l->within_50 = spread_share(half, n, d->how->level);
    l->within_90 = spread_share(most, n, d->how->level);
    l->fairway = spread_share(fairway, n, d->how->level);
    l->aimed = spread_share(aimed, n, d->how->level);
}

static caber_status club_fill(const caber_setup *setup, caber_scatter_club *club, desk *d,
                              caber_message *message)
{
    const size_t outputs = caber_output_count();
    split *causes = causes_create(setup, club, d);
    club->spreads = calloc(outputs, sizeof *club->spreads);
    if (!causes || !club->spreads) {
        split_free(causes);
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    }
    for (size_t o = 0; o < outputs; o++)
        spread_fill(club, o, d, causes, &club->spreads[o]);
    landing_fill(club, d, &club->landing);
    split_free(causes);
    return CABER_OK;
}

/* ------------------------------------------------------------------ one beside another */

typedef struct verdict {
    caber_steadier steadier;
    bool alike;
} verdict;

/* One of `family` verdicts, each of which may be wrong by an equal share of what all of them may. */
static verdict judge(const spread_pair *pair, size_t n, const caber_scatter_settings *how,
                     size_t family)
{
    const double may = (1 - how->level) / (double)family, w = log1p(how->worth);
    verdict v = {.alike = spread_within(pair, n, w) <= may};
    if (spread_beyond(pair, n, w) <= may)
        v.steadier = pair->log < 0 ? CABER_OTHER_STEADIER : CABER_FIRST_STEADIER;
    return v;
}

/* The spreads of carry and side are a family of their own too. */
static void answer(const spread_pair *pair, size_t output, const desk *d, size_t others,
                   caber_scatter_contrast *out)
{
    const verdict v = judge(pair, out->pairs, d->how, 2 * others);
    if (output == caber_output_find("carry_m")) {
        out->carry = v.steadier;
        out->carry_alike = v.alike;
    }
    if (output == caber_output_find("side_m")) {
        out->side = v.steadier;
        out->side_alike = v.alike;
    }
}

static void output_contrast(const caber_scatter *s, size_t other, size_t output, desk *d)
{
    const caber_scatter_club *first = &s->clubs[0], *second = &s->clubs[other];
    caber_scatter_contrast *contrast = &s->contrasts[other - 1];
    caber_output_contrast *out = &contrast->outputs[output];
    size_t n = 0;
    for (size_t i = 0; i < first->draws.count; i++) {
        if (!first->good[i] || !second->good[i])
            continue;
        d->a[n] = off_usual(first, output, i);
        d->b[n++] = off_usual(second, output, i);
    }
    const double usual =
        caber_outcome_number(&second->usual, output) - caber_outcome_number(&first->usual, output);
    out->difference = spread_difference(d->a, d->b, n, d->how->level);
    out->difference.value += usual;
    out->difference.low += usual;
    out->difference.high += usual;
    const spread_pair pair = spread_ratio(d->a, d->b, n, d->how->level);
    const verdict v = judge(&pair, n, d->how, caber_output_count() * (s->count - 1));
    out->ratio = pair.ratio;
    out->p = pair.p;
    out->steadier = v.steadier;
    out->alike = v.alike;
    answer(&pair, output, d, s->count - 1, contrast);
}

static void landing_contrast(const caber_scatter_club *first, const caber_scatter_club *other,
                             desk *d, caber_scatter_contrast *out)
{
    const double level = d->how->level;
    const size_t n = out->pairs = plane_fill(first, other->good, d->plane_a);
    plane_fill(other, first->good, d->plane_b);
    out->area = spread_area(d->plane_a, d->plane_b, n, level);
    for (int aimed = 0; aimed < 2; aimed++) {
        for (size_t i = 0; i < n; i++) {
            d->in_a[i] = on_fairway(d, d->plane_a[2 * i + 1], aimed ? first->landing.side : 0);
            d->in_b[i] = on_fairway(d, d->plane_b[2 * i + 1], aimed ? other->landing.side : 0);
        }
        *(aimed ? &out->aimed : &out->fairway) =
            spread_share_difference(d->in_a, d->in_b, n, level);
    }
}

/* One of the two says so, and the other does not contradict it. */
static caber_steadier both(caber_steadier a, caber_steadier b)
{
    if (a == CABER_NOT_TOLD_APART || a == b)
        return b;
    return b == CABER_NOT_TOLD_APART ? a : CABER_NOT_TOLD_APART;
}

static caber_status contrast_fill(const caber_scatter *s, size_t other, desk *d,
                                  caber_message *message)
{
    caber_scatter_contrast *out = &s->contrasts[other - 1];
    const size_t outputs = caber_output_count();
    out->outputs = calloc(outputs, sizeof *out->outputs);
    if (!out->outputs)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    landing_contrast(&s->clubs[0], &s->clubs[other], d, out);
    for (size_t o = 0; o < outputs; o++)
        output_contrast(s, other, o, d);
    out->overall = both(out->carry, out->side);
    out->alike = out->carry_alike && out->side_alike;
    return CABER_OK;
}

/* ------------------------------------------------------------------ all of it */

static caber_status fill(const caber_setup *const *setups, caber_scatter *s, caber_message *message)
{
    caber_status status = scatter_draw(setups, s->count, &s->settings, s->clubs, message);
    if (status != CABER_OK)
        return status;
    desk d;
    if (!desk_create(&d, &s->settings))
        status = message_set(message, CABER_NO_MEMORY, "out of memory");
    for (size_t c = 0; c < s->count && status == CABER_OK; c++)
        status = club_fill(setups[c], &s->clubs[c], &d, message);
    for (size_t c = 1; c < s->count && status == CABER_OK; c++)
        status = contrast_fill(s, c, &d, message);
    desk_free(&d);
    return status;
}

caber_status caber_scatter_run(const caber_setup *const *setups, size_t count,
                               const caber_scatter_settings *settings, caber_scatter **out,
                               caber_message *message)
{
    *out = NULL;
    caber_status status = check_settings(settings, count, message);
    if (status != CABER_OK)
        return status;
    caber_scatter *s = calloc(1, sizeof *s);
    if (s) {
        s->settings = *settings;
        s->count = count;
        s->clubs = calloc(count, sizeof *s->clubs);
        s->contrasts = calloc(count, sizeof *s->contrasts); /* one more than are used */
    }
    if (!s || !s->clubs || !s->contrasts)
        status = message_set(message, CABER_NO_MEMORY, "out of memory");
    else
        status = fill(setups, s, message);
    if (status != CABER_OK) {
        caber_scatter_free(s);
        return status;
    }
    *out = s;
    return message_clear(message);
}

void caber_scatter_free(caber_scatter *scatter)
{
    if (!scatter)
        return;
    for (size_t c = 0; c < scatter->count; c++) {
        if (scatter->clubs)
            scatter_club_free(&scatter->clubs[c]);
        if (scatter->contrasts)
            free(scatter->contrasts[c].outputs);
    }
    free(scatter->clubs);
    free(scatter->contrasts);
    free(scatter);
}
