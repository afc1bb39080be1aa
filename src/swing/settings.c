/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "caber.h"

caber_settings caber_settings_default(void)
{
    return (caber_settings){.modes = 10,
                            .stations = 12,
                            .elements = 0,
                            .ceiling = 150,
                            .tolerance = 1e-7,
                            .gravity = true,
                            .until = 0,
                            .time_limit = 1.0,
                            .sample = 1e-3};
}
