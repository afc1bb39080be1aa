/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Answers questions about ball and air, a line of numbers for each line of standard input, in SI:
 *   air TEMPERATURE ALTITUDE PRESSURE HUMIDITY                  density, viscosity
 *   drag SET REYNOLDS SPIN_PARAMETER                            CD, CL, whether outside its range
 *   flight SET V V V W W W MASS RADIUS DENSITY VISCOSITY U U U  carry, side, apex, time, descent
 *     angle, speed, spin, whether outside; V velocity, W spin, U wind, along x, y and z */
#include <stdio.h>
#include <stdlib.h>

#include "ball/air.h"
#include "ball/drag.h"
#include "ball/flight.h"

static void need(bool good, const char *what)
{
    if (good)
        return;
    fprintf(stderr, "answers_flight: %s\n", what);
    exit(1);
}

static void answer_air(const char *line)
{
    caber_air air = caber_air_default();
    double density, viscosity;
    need(sscanf(line, "%lf %lf %lf %lf", &air.temperature, &air.altitude, &air.pressure,
                &air.humidity) == 4,
         line);
    air_state(&air, &density, &viscosity);
    printf("%.17g %.17g\n", density, viscosity);
}

static void answer_drag(drag *d, const char *line)
{
    unsigned set;
    double reynolds, spin;
    need(sscanf(line, "%u %lf %lf", &set, &reynolds, &spin) == 3, line);
    const drag_value v = drag_at(d, (caber_coefficients)set, reynolds, spin);
    printf("%.17g %.17g %d\n", v.cd, v.cl, v.outside);
}

static void answer_flight(flight_work *work, const char *line)
{
    unsigned set;
    flight_launch l;
    flight_ball b;
    flight_air a;
    flight_result r;
    caber_message message;
    need(sscanf(line, "%u %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf %lf", &set, &l.velocity.x,
                &l.velocity.y, &l.velocity.z, &l.spin.x, &l.spin.y, &l.spin.z, &b.mass, &b.radius,
                &a.density, &a.viscosity, &a.wind.x, &a.wind.y, &a.wind.z) == 14,
         line);
    need(!flight_run(work, &l, &b, &a, (caber_coefficients)set, &r, &message), message.text);
    printf("%.17g %.17g %.17g %.17g %.17g %.17g %.17g %d\n", r.carry, r.side, r.apex, r.time,
           r.descent_angle, r.speed, r.spin, r.outside);
}

int main(void)
{
    caber_message message;
    flight_work *work;
    drag *d = drag_create();
    need(d && !flight_work_create(&work, &message), "out of memory");
    char line[1024], word[16];
    int length;
    while (fgets(line, sizeof line, stdin)) {
        need(sscanf(line, "%15s%n", word, &length) == 1, line);
        switch (word[0]) {
        case 'a':
            answer_air(line + length);
            break;
        case 'd':
            answer_drag(d, line + length);
            break;
        default:
            answer_flight(work, line + length);
        }
    }
    flight_work_free(work);
    drag_free(d);
    return 0;
}
