/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How long a swing takes on one core, and the start-up before it: medians of several repeats.
 *
 *   bench_swing SETUP REPEATS [PATH=VALUE]...
 *
 * Prints one JSON object: read_ms (files), model_ms (elements and modes), work_ms, swing_ms, and the
 * integrator's evaluations. */
#include "caber.h"
#include "timing.h"

typedef struct timing {
    double read, model, work, swing; /* ms */
} timing;

/* Runs the whole way once and notes what each part took. */
static caber_status measure(const char *path, const char *const *overrides, size_t count,
                            timing *took, caber_swing *swing, caber_message *message)
{
    caber_setup *setup = NULL;
    caber_model *model = NULL;
    caber_work *work = NULL;
    double start = timing_now();
    caber_status status = caber_setup_read(path, overrides, count, &setup, message);
    double read = timing_now();
    if (status == CABER_OK)
        status = caber_model_create(setup, &model, message);
    double modelled = timing_now();
    if (status == CABER_OK)
        status = caber_work_create(model, &work, message);
    double worked = timing_now();
    if (status == CABER_OK)
        status = caber_swing_run(model, work, swing, NULL, message);
    double swung = timing_now();
    *took = (timing){read - start, modelled - read, worked - modelled, swung - worked};
    caber_work_free(work);
    caber_model_free(model);
    caber_setup_free(setup);
    return status;
}

/* The middle of one member over all repeats. */
static double median(const timing *took, int repeats, size_t member)
{
    static double values[MOST_REPEATS];
    for (int i = 0; i < repeats; i++)
        values[i] = *(const double *)((const char *)&took[i] + member);
    return timing_median(values, repeats);
}

int main(int argc, char **argv)
{
    static timing took[MOST_REPEATS];
    int repeats = argc > 2 ? atoi(argv[2]) : 0;
    if (repeats < 1 || repeats > MOST_REPEATS) {
        fprintf(stderr, "usage: bench_swing SETUP REPEATS [PATH=VALUE]...\n");
        return 2;
    }
    caber_swing swing;
    caber_message message;
    for (int i = 0; i < repeats; i++) {
        caber_status status = measure(argv[1], (const char *const *)argv + 3, (size_t)argc - 3,
                                      &took[i], &swing, &message);
        if (status != CABER_OK) {
            fprintf(stderr, "bench_swing: %s\n", message.text);
            return 1;
        }
    }
    printf("{\"repeats\": %d, \"read_ms\": %.4f, \"model_ms\": %.4f, \"work_ms\": %.4f, "
           "\"swing_ms\": %.4f, \"evaluations\": %ld, \"steps\": %ld}\n",
           repeats, median(took, repeats, offsetof(timing, read)),
           median(took, repeats, offsetof(timing, model)),
           median(took, repeats, offsetof(timing, work)),
           median(took, repeats, offsetof(timing, swing)), swing.effort.evaluations,
           swing.effort.steps);
    return 0;
}
