/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A swing in ten lines: read a setup, build the model, run one downswing, print what the bent shaft
 * did to the loft.
 *
 *   cc ten-lines.c $(pkg-config --cflags --libs caber) && ./a.out models/setups/neutral-smooth.yaml
 *
 * Prints one line such as "41.23 m/s, loft change 3.21 deg". The last NULL of each call is where a
 * sentence about a failure would be written; swing.c shows how. Everything in the library is SI and
 * radians; CABER_DEG makes degrees. */
#include <caber.h>

int main(int argc, char **argv)
{
    caber_setup *setup = NULL;
    caber_model *model = NULL;
    caber_work *work = NULL;
    caber_swing swing;
    if (argc < 2 || caber_setup_read(argv[1], NULL, 0, &setup, NULL) != CABER_OK ||
        caber_model_create(setup, &model, NULL) != CABER_OK ||
        caber_work_create(model, &work, NULL) != CABER_OK ||
        caber_swing_run(model, work, &swing, NULL, NULL) != CABER_OK)
        return 1;
    printf("%.2f m/s, loft change %.2f deg\n", swing.bent.head_speed,
           swing.bent.loft_change * CABER_DEG);
    caber_work_free(work), caber_model_free(model), caber_setup_free(setup);
    return 0;
}
