/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/cautions.h"

#include <stddef.h>

const char *const cautions_all[] = {
    "Differences between shafts for one player are worth more than absolute values.",
    "A prediction is no strength certificate: a shaft can break.", NULL};

const char *const cautions_bench[] = {
    "Bench loads, and cutting and bonding of composite, have dangers of their own.", NULL};

const char *const cautions_trims[] = {"A tip that is wider at the hosel's mouth may no longer go "
                                      "into the bore. What is cut off is gone.",
                                      "Cutting and bonding of composite have dangers of their own.",
                                      NULL};

const char *const cautions_profile[] = {
    "A clamped shaft springs back, and one that breaks throws splinters: wear eye protection, load "
    "no "
    "further than the deflection needs and never beyond the maker's limits, and do not breathe the "
    "dust of composite. A stiffness is no strength certificate.",
    NULL};

const char *const cautions_rules[] = {
    "Limits of the Equipment Rules: a check, never a ruling; check with the rules body", NULL};
