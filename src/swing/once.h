/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One swing of a setup that is swung once. */
#ifndef SWING_ONCE_H
#define SWING_ONCE_H

#include "caber.h"

/* Given a setup, and a trace to fill or NULL; makes its model, swings it and frees it. Errors: those of
 * caber_model_create and caber_swing_run. */
caber_status swing_once(const caber_setup *setup, caber_swing *out, caber_trace *trace,
                        caber_message *message);

#endif
