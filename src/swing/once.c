/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/once.h"

caber_status swing_once(const caber_setup *setup, caber_swing *out, caber_trace *trace,
                        caber_message *message)
{
    caber_model *model = NULL;
    caber_work *work = NULL;
    caber_status status = caber_model_create(setup, &model, message);
    if (status == CABER_OK)
        status = caber_work_create(model, &work, message);
    if (status == CABER_OK)
        status = caber_swing_run(model, work, out, trace, message);
    caber_work_free(work);
    caber_model_free(model);
    return status;
}
