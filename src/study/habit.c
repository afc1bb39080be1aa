/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/habit.h"

#include <math.h>

#include "base/message.h"
#include "base/random.h"
#include "swing/repeat.h"

caber_status habits_create(const caber_player *player, habits *out, caber_message *message)
{
    double most = 0;
    for (int k = 0; k < CABER_HABITS; k++)
        most = fmax(most, out->sd[k] = caber_habit_sd(&player->repeat, (caber_habit)k));
    if (!(most > 0))
        return message_set(message, CABER_BAD_INPUT,
                           "player.repeat: '%s' has no habits that vary, so every swing would be "
                           "the same; give at least one of them a standard deviation",
                           player->name);
    repeat_correlations(&player->repeat, out->factor);
    if (!repeat_factor(out->factor)) /* setup_check has seen to it */
        return message_set(message, CABER_INTERNAL, "player.repeat: no such correlations");
    return repeat_check_drives(player, message);
}

void habits_draw(const habits *h, int seed, size_t swing, double z[CABER_HABITS])
{
    double even[CABER_HABITS];
    for (int k = 0; k < CABER_HABITS; k++)
        even[k] = random_normal((uint64_t)seed, swing, (uint64_t)k);
    for (int k = 0; k < CABER_HABITS; k++) {
        z[k] = 0;
        for (int j = 0; j <= k; j++)
            z[k] += h->factor[k * CABER_HABITS + j] * even[j];
    }
}

void habits_fix_ball(caber_player *player, const caber_swing *usual)
{
    player->ball_down = -usual->ball[1];
    player->ball_out = usual->ball[2];
}

/* Across: level and square to X; up: both in the swing plane's Y and Z. */
static void move_ball(caber_player *p, double ahead, double out, double height)
{
    const double si = sin(p->inclination), ci = cos(p->inclination);
    p->ball_ahead += ahead;
    p->ball_down -= height * si - out * ci;
    p->ball_out += height * ci + out * si;
}

void habits_apply(const habits *h, const caber_player *usual, const double z[CABER_HABITS],
                  caber_player *out)
{
    double x[CABER_HABITS];
    for (int k = 0; k < CABER_HABITS; k++)
        x[k] = h->sd[k] * z[k];
    *out = *usual;
    caber_grip_load *grip = &out->load.grip;
    grip->rise *= exp(x[CABER_HABIT_RISE]);
    grip->peak *= exp(x[CABER_HABIT_PEAK]);
    grip->release += x[CABER_HABIT_RELEASE];
    grip->late_onset += x[CABER_HABIT_RELEASE];
    out->load.hub.peak *= exp(x[CABER_HABIT_HUB]);
    out->start_arm += x[CABER_HABIT_ARM];
    out->load.roll.square += x[CABER_HABIT_SQUARE];
    out->direction += x[CABER_HABIT_DIRECTION];
    move_ball(out, x[CABER_HABIT_AHEAD], x[CABER_HABIT_OUT], x[CABER_HABIT_HEIGHT]);
}

caber_place habits_place(caber_place usual_place, const caber_swing *usual,
                         const caber_swing *varied)
{
    const caber_impact *s = &usual->bent, *met = &varied->bent;
    return (caber_place){usual_place.toe + (met->strike_toe - s->strike_toe),
                         usual_place.high + (met->strike_high - s->strike_high)};
}
