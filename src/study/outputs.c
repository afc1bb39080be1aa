/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "study/outputs.h"

#include <math.h>
#include <string.h>

#include "base/message.h"

_Static_assert(offsetof(caber_impact, energy_residual) == sizeof(caber_impact) - sizeof(double),
               "the one field that is left out is the last");

/* Returns how many outputs are fields of the impact. */
static size_t of_impact(void)
{
    size_t count;
    caber_impact_fields(&count);
    return count - 1;
}

size_t caber_output_count(void)
{
    size_t count;
    caber_shot_fields(&count);
    return of_impact() + count;
}

bool caber_output_of_ball(size_t output)
{
    return output >= of_impact();
}

const caber_field *caber_output_field(size_t output)
{
    size_t count;
    return caber_output_of_ball(output) ? caber_shot_fields(&count) + (output - of_impact())
                                        : caber_impact_fields(&count) + output;
}

size_t caber_output_find(const char *name)
{
    const size_t count = caber_output_count();
    size_t i = 0;
    while (i < count && strcmp(caber_output_field(i)->name, name) != 0)
        i++;
    return i;
}

double caber_outcome_number(const caber_outcome *outcome, size_t output)
{
    const char *from = caber_output_of_ball(output) ? (const char *)&outcome->shot
                                                    : (const char *)&outcome->swing.bent;
    double value;
    memcpy(&value, from + caber_output_field(output)->offset, sizeof value);
    return value;
}

double output_near(size_t output, double value, double other)
{
    const double turn = 2 * 3.14159265358979323846;
    if (strcmp(caber_output_field(output)->unit, "deg") != 0)
        return value;
    /* What lies near already keeps its bits. */
    return fabs(value - other) <= turn / 2 ? value : other + remainder(value - other, turn);
}

caber_status outcome_fill(shot_work *work, const caber_setup *setup, const caber_swing *swing,
                          caber_place place, caber_outcome *out, caber_message *message)
{
    out->swing = *swing;
    caber_status status = swing->met_ball
                              ? shot_run(work, setup, &swing->head, place, &out->shot, message)
                              : message_set(message, CABER_BAD_INPUT, "the swing met no ball");
    out->flies = status == CABER_OK;
    if (!out->flies)
        shot_clear(&out->shot);
    return status;
}
