/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The tables of outputs, from the lists in caber.h. */
#include "caber.h"

#define B false
#define S true
static const caber_field impact_fields[] = {
#define FIELD(member, si, factor, name, unit, decimals, label, meaning, scope)                     \
    {name, unit, label, meaning, factor, decimals, scope, offsetof(caber_impact, member)},
    CABER_IMPACT_FIELDS(FIELD)
#undef FIELD
};
#undef B
#undef S

static const caber_trace_field trace_fields[] = {
#define FIELD(member, name, unit, factor, meaning)                                                 \
    {name, unit, meaning, factor, offsetof(caber_trace_row, member)},
    CABER_TRACE_FIELDS(FIELD)
#undef FIELD
};

static const caber_field shot_fields[] = {
#define FIELD(member, si, factor, name, unit, decimals, label, meaning)                            \
    {name, unit, label, meaning, factor, decimals, true, offsetof(caber_shot, member)},
    CABER_SHOT_FIELDS(FIELD)
#undef FIELD
};

const caber_field *caber_impact_fields(size_t *count)
{
    *count = sizeof impact_fields / sizeof impact_fields[0];
    return impact_fields;
}

double caber_impact_value(const caber_impact *impact, const caber_field *field)
{
    return field->factor * *(const double *)(const void *)((const char *)impact + field->offset);
}

const caber_field *caber_shot_fields(size_t *count)
{
    *count = sizeof shot_fields / sizeof shot_fields[0];
    return shot_fields;
}

double caber_shot_value(const caber_shot *shot, const caber_field *field)
{
    return field->factor * *(const double *)(const void *)((const char *)shot + field->offset);
}

const caber_trace_field *caber_trace_fields(size_t *count)
{
    *count = sizeof trace_fields / sizeof trace_fields[0];
    return trace_fields;
}
