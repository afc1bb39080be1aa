/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * How long the ball takes, and the scatter of a player's swings: medians of several repeats.
 *
 *   bench_ball SETUP REPEATS SWINGS THREADS
 *
 * Prints one JSON object: shot_ms (an impact and its flights by every set), flight_ms of each set of drag and
 * lift, and scatter_s, the wall time of SWINGS swings on THREADS threads. */
#include "ball/flight.h"
#include "study/shot.h"
#include "swing/once.h"
#include "timing.h"

/* The drive of golf.md: 67.1 m/s, 12 deg, 2600 rpm. */
static double flight_ms(flight_work *work, caber_coefficients set, int repeats)
{
    static double took[MOST_REPEATS];
    const double launch = 12 / CABER_DEG, speed = 67.1;
    const flight_launch drive = {{speed * cos(launch), speed * sin(launch), 0},
                                 {0, 0, 2600 / CABER_RPM}};
    const caber_ball ball = caber_ball_default();
    const flight_ball flown = {ball.mass, ball.diameter / 2};
    const flight_air air = {.density = 1.225, .viscosity = 1.8e-5};
    for (int i = 0; i < repeats; i++) {
        flight_result out;
        const double start = timing_now();
        if (flight_run(work, &drive, &flown, &air, set, &out, NULL) != CABER_OK)
            return NAN;
        took[i] = timing_now() - start;
    }
    return timing_median(took, repeats);
}

static double shot_ms(const caber_setup *setup, const caber_swing *swing, int repeats)
{
    static double took[MOST_REPEATS];
    shot_work *work = NULL;
    caber_shot shot;
    if (shot_work_create(&work, NULL) != CABER_OK)
        return NAN;
    for (int i = 0; i < repeats; i++) {
        const double start = timing_now();
        if (shot_run(work, setup, &swing->head, (caber_place){0.01, 0.005}, &shot, NULL) !=
            CABER_OK)
            took[i] = NAN;
        else
            took[i] = timing_now() - start;
    }
    shot_work_free(work);
    return timing_median(took, repeats);
}

int main(int argc, char **argv)
{
    const int repeats = argc > 4 ? atoi(argv[2]) : 0;
    if (repeats < 1 || repeats > MOST_REPEATS) {
        fprintf(stderr, "usage: bench_ball SETUP REPEATS SWINGS THREADS\n");
        return 2;
    }
    caber_setup *setup = NULL;
    caber_swing swing;
    caber_scatter *scatter = NULL;
    flight_work *work = NULL;
    caber_message message = {""};
    caber_scatter_settings settings = caber_scatter_default();
    settings.swings = atoi(argv[3]);
    settings.threads = atoi(argv[4]);
    caber_status status = caber_setup_read(argv[1], NULL, 0, &setup, &message);
    if (status == CABER_OK)
        status = swing_once(setup, &swing, NULL, &message);
    if (status == CABER_OK)
        status = flight_work_create(&work, &message);
    const double start = timing_now();
    if (status == CABER_OK)
        status = caber_scatter_run((const caber_setup *const[]){setup}, 1, &settings, &scatter,
                                   &message);
    const double scattered = timing_now() - start;
    if (status != CABER_OK) {
        fprintf(stderr, "bench_ball: %s\n", message.text);
        return 1;
    }
    printf("{\"shot_ms\": %.4f, \"scatter_s\": %.3f, \"flight_ms\": {",
           shot_ms(setup, &swing, repeats), scattered * 1e-3);
    for (int set = 0; set < CABER_COEFFICIENT_SETS; set++)
        printf("%s\"%s\": %.4f", set ? ", " : "",
               caber_coefficients_about((caber_coefficients)set).name,
               flight_ms(work, (caber_coefficients)set, repeats));
    printf("}}\n");
    flight_work_free(work);
    caber_scatter_free(scatter);
    caber_setup_free(setup);
    return 0;
}
