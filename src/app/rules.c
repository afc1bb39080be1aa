/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/rules.h"

#include <math.h>
#include <stdio.h>

#include "app/cautions.h"
#include "app/table.h"

static const char *const words[] = {"not known", "within", "beyond"};
_Static_assert(CABER_RULE_UNKNOWN == 0 && CABER_RULE_WITHIN == 1 && CABER_RULE_BEYOND == 2,
               "words stand in the order of the enum");

void rules_print(const caber_rule *rules)
{
    table_group(cautions_rules[0]);
    for (int i = 0; i < CABER_RULES_COUNT; i++) {
        const caber_rule *r = &rules[i];
        char figure[32] = "";
        if (!isnan(r->figure))
            table_number(figure, sizeof figure, r->figure * r->factor, r->decimals);
        printf("  %-19s%10s  %-6s%-11s%s\n", r->label, figure, isnan(r->figure) ? "" : r->unit,
               words[r->verdict], r->text);
    }
}

static json_t *known(double value, double factor)
{
    return isnan(value) ? json_null() : json_real(value * factor);
}

json_t *rules_json(const caber_rule *rules)
{
    json_t *list = json_array();
    int failed = !list;
    for (int i = 0; i < CABER_RULES_COUNT; i++) {
        const caber_rule *r = &rules[i];
        failed |= json_array_append_new(list, json_pack("{ss so so so sf ss ss}", "name", r->name,
                                                        "figure", known(r->figure, r->factor),
                                                        "least", known(r->least, r->factor), "most",
                                                        known(r->most, r->factor), "tolerance",
                                                        r->tolerance * r->factor, "stands",
                                                        words[r->verdict], "limit", r->text));
    }
    if (!failed)
        return list;
    json_decref(list);
    return NULL;
}
