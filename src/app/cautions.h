/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What results are read under: one text for the tables and the page. Each list ends with NULL. */
#ifndef APP_CAUTIONS_H
#define APP_CAUTIONS_H

extern const char *const cautions_all[];     /* of every result */
extern const char *const cautions_bench[];   /* of what a workshop does, as well */
extern const char *const cautions_trims[];   /* of cutting a shaft, as well */
extern const char *const cautions_profile[]; /* of readings on a bench, as well */
extern const char *const cautions_rules[];   /* of a check against the Equipment Rules, as well */

#endif
