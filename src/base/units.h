/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Quantities: a plain number in SI, or a number and a unit of a closed table ("45.25 in",
 * "12 ft lbf", "20 deg", "255 cpm"). */
#ifndef BASE_UNITS_H
#define BASE_UNITS_H

#include <stdbool.h>
#include <stddef.h>

#include "caber.h"

/* X(symbol, what it is called, its SI unit). Angles are kept apart from plain numbers, and
 * cycles from radians, so that each mistake of one for the other is seen. */
#define DIMENSION_LIST(X)                                                                          \
    X(DIMENSION_NONE, "a plain number", "")                                                        \
    X(DIMENSION_LENGTH, "a length", "m")                                                           \
    X(DIMENSION_MASS, "a mass", "kg")                                                              \
    X(DIMENSION_TIME, "a time", "s")                                                               \
    X(DIMENSION_FORCE, "a force", "N")                                                             \
    X(DIMENSION_TORQUE, "a torque", "N m")                                                         \
    X(DIMENSION_STIFFNESS, "a bending or twisting stiffness", "N m2")                              \
    X(DIMENSION_INERTIA, "a moment of inertia", "kg m2")                                           \
    X(DIMENSION_MASS_PER_LENGTH, "a mass per length", "kg/m")                                      \
    X(DIMENSION_FIRST_MOMENT, "a mass times a length", "kg m")                                     \
    X(DIMENSION_ANGLE, "an angle", "rad")                                                          \
    X(DIMENSION_ANGULAR_SPEED, "an angular speed", "rad/s")                                        \
    X(DIMENSION_FREQUENCY, "a frequency", "Hz")                                                    \
    X(DIMENSION_SPEED, "a speed", "m/s")                                                           \
    X(DIMENSION_DENSITY, "a density", "kg/m3")                                                     \
    X(DIMENSION_JOINT_STIFFNESS, "a torque per angle", "N m/rad")                                  \
    X(DIMENSION_JOINT_DAMPING, "a torque per angular speed", "N m s/rad")                          \
    X(DIMENSION_SLOWNESS, "a number per speed", "s/m")                                             \
    X(DIMENSION_TEMPERATURE, "a temperature", "K")                                                 \
    X(DIMENSION_PRESSURE, "a pressure", "Pa")

typedef enum dimension {
#define DIMENSION_ENUM(symbol, title, si) symbol,
    DIMENSION_LIST(DIMENSION_ENUM)
#undef DIMENSION_ENUM
        DIMENSION_COUNT
} dimension;

/* One unit: SI value = number * times / over + zero. Two numbers, so that 45 mm is exactly the double
 * nearest to 0.045. */
typedef struct unit {
    const char *symbol;
    dimension dim;
    double times, over;
    const char *source; /* where the factor comes from */
    double zero;        /* SI value of the scale's 0; 0 but for temperatures */
} unit;

/* Given a number in a unit; returns its SI value, and the other way round. */
double unit_to_si(const unit *u, double number);
double unit_from_si(const unit *u, double si);

/* Returns what a dimension is called ("a length"), and its SI unit ("m"). */
const char *dimension_title(dimension dim);
const char *dimension_si(dimension dim);

/* Returns the closed table, and its length in *count. */
const unit *unit_table(size_t *count);
/* Given a symbol as written ("N m^2", "N*m2" and "N·m²" are "N m2") and the dimension wanted;
 * returns the unit, preferring that dimension, or NULL when the table has none. */
const unit *unit_find(const char *symbol, dimension wanted);
/* Writes the allowed units of a dimension, "m, mm, cm"; text that does not fit is cut. */
void unit_list(dimension dim, char *text, size_t size);

/* Given text and the dimension wanted; returns the SI value in *si.
 * Errors: CABER_BAD_INPUT, with a message that quotes the text and says what is allowed. */
caber_status quantity_parse(const char *text, dimension wanted, double *si, caber_message *message);
/* Given an SI value and a unit of the table; writes the shortest text that quantity_parse reads
 * back to the same double, in that unit, or in SI where no decimal in that unit does. */
void quantity_write(double si, const unit *u, char *text, size_t size);
/* Given an SI value and a unit; writes it with at most 6 digits, for messages and tables. */
void quantity_write_short(double si, const unit *u, char *text, size_t size);

#endif
