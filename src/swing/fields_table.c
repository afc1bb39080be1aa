/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "swing/fields_table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/message.h"
#include "base/text.h"

#define PI 3.14159265358979323846
#define DEG(x) ((x)*PI / 180)
#define COUNT(table) (sizeof(table) / sizeof(table)[0])

/* Ranges are wide: they keep out what is impossible or in the wrong unit, not what is unusual. */

/* The tables keep their columns. */
/* clang-format off */

/* key, dimension, unit, min, max, flags, default, struct, member, meaning */
#define QUANTITY(key, dimension, symbol, least, most, flag, absent, object, member, text)          \
    .name = (key), .type = FIELD_QUANTITY, .flags = (flag), .dim = (dimension), .unit = (symbol),  \
    .min = (least), .max = (most), .fallback = (absent), .offset = offsetof(object, member),       \
    .meaning = (text)
#define LENGTH(key, symbol, least, most, flag, absent, object, member, text)                       \
    QUANTITY(key, DIMENSION_LENGTH, symbol, least, most, flag, absent, object, member, text)
#define ANGLE(key, least, most, flag, absent, object, member, text)                                \
    QUANTITY(key, DIMENSION_ANGLE, "deg", least, most, flag, absent, object, member, text)
#define INTEGER(key, least, most, object, member, text)                                            \
    .name = (key), .type = FIELD_INTEGER, .unit = "", .min = (least), .max = (most),               \
    .offset = offsetof(object, member), .meaning = (text)
#define NAMES(object)                                                                              \
    {.name = "name", .type = FIELD_TEXT, .max = CABER_NAME_SIZE,                                   \
     .offset = offsetof(object, name), .meaning = "what it is called"},                            \
    {.name = "note", .type = FIELD_TEXT, .max = CABER_NOTE_SIZE,                                   \
     .offset = offsetof(object, note), .meaning = "where it comes from, and what it is for"}
#define GROUP(key, at, keys, text)                                                                 \
    {.name = (key), .type = FIELD_GROUP, .offset = (at), .group = &(keys), .meaning = (text)}

/* ------------------------------------------------------------------ shaft */

static const field station_fields[] = {
    {LENGTH("at", "mm", 0, 3, FIELD_REQUIRED, 0, caber_station, at,
            "distance from the tip of the uncut shaft")},
    {QUANTITY("ei", DIMENSION_STIFFNESS, "N m2", 0, 1000, FIELD_REQUIRED | FIELD_ABOVE, 0,
              caber_station, ei, "bending stiffness EI; with ei_2, one of the principal two")},
    {QUANTITY("ei_2", DIMENSION_STIFFNESS, "N m2", 0, 1000, 0, 0, caber_station, ei_2,
              "the other principal bending stiffness"),
     .fallback_text = "the same as ei"},
    {ANGLE("ei_angle", DEG(-180), DEG(180), 0, 0, caber_station, ei_angle,
           "direction in which ei bends, about the shaft from the lead direction")},
    {QUANTITY("gj", DIMENSION_STIFFNESS, "N m2", 0, 1000, FIELD_REQUIRED | FIELD_ABOVE, 0,
              caber_station, gj, "twisting stiffness GJ")},
    {QUANTITY("mass", DIMENSION_MASS_PER_LENGTH, "g/m", 0, 2, FIELD_REQUIRED | FIELD_ABOVE, 0,
              caber_station, mass, "mass per length")},
    {LENGTH("diameter", "mm", 0.002, 0.1, FIELD_REQUIRED, 0, caber_station, diameter,
            "outside diameter")},
};
static const field_group station_group = {
    .meaning = "a row of the measured profile", .fields = station_fields,
    .count = COUNT(station_fields)};

/* Columns of a CSV: kept by their number, not in a struct. */
#define COLUMN(key, dimension, symbol, least, most, flag, absent, text)                            \
    {.name = (key), .type = FIELD_QUANTITY, .flags = (flag), .dim = (dimension),                   \
     .unit = (symbol), .min = (least), .max = (most), .fallback = NAN,                             \
     .fallback_text = (absent), .meaning = (text)}

static const field error_columns[] = {
    [ERRORS_COMPONENT] =
        COLUMN("component", DIMENSION_NONE, "", 1, FIELD_ERRORS_MOST, FIELD_REQUIRED, NULL,
               "number of the independent component, from 1; its rows stand together"),
    [ERRORS_AT] = COLUMN("at", DIMENSION_LENGTH, "mm", 0, 3, FIELD_REQUIRED, NULL,
                         "the station; every component has every station, in their order"),
    [ERRORS_EI] = COLUMN("ei", DIMENSION_NONE, "%", -3, 3, FIELD_REQUIRED, NULL,
                         "one standard deviation of the component changes EI by it"),
    [ERRORS_GJ] = COLUMN("gj", DIMENSION_NONE, "%", -3, 3, FIELD_REQUIRED, NULL,
                         "the same of GJ"),
    [ERRORS_MASS] = COLUMN("mass", DIMENSION_NONE, "%", -3, 3, FIELD_REQUIRED, NULL,
                           "the same of the mass per length"),
};
static const field_group errors_group = {
    .meaning = "how well the profile is known", .fields = error_columns,
    .count = COUNT(error_columns)};
_Static_assert(COUNT(error_columns) == ERRORS_COLUMNS, "every column of the errors has a field");

#define SHAFT_FIELDS                                                                               \
    NAMES(caber_shaft),                                                                            \
        {LENGTH("length", "mm", 0.3, 3, FIELD_REQUIRED, 0, caber_shaft, length,                    \
                "uncut length, tip to butt")},                                                     \
        {QUANTITY("density", DIMENSION_DENSITY, "kg/m3", 500, 20000, 0, 1550, caber_shaft,         \
                  density, "of the wall; gives the shaft's own turning inertia")},                 \
        {QUANTITY("damping", DIMENSION_NONE, "", 0, 0.5, 0, 0.007, caber_shaft, damping,           \
                  "damping ratio of every bending and twisting mode")},                            \
        {.name = "stations", .type = FIELD_LIST, .flags = FIELD_REQUIRED, .min = 2, .max = 1000,   \
         .offset = offsetof(caber_shaft, stations),                                                \
         .count_offset = offsetof(caber_shaft, station_count),                                     \
         .item_size = sizeof(caber_station), .group = &station_group,                              \
         .meaning = "the measured profile, ascending from the tip and reaching the butt"},         \
    {                                                                                              \
        .name = "errors", .type = FIELD_ERRORS, .min = 1, .max = FIELD_ERRORS_MOST,                \
        .offset = offsetof(caber_shaft, errors), .group = &errors_group,                           \
        .fallback_text = "none, as if the profile were known exactly",                             \
        .meaning = "how well the profile is known, as independent components of its error"         \
    }

static const field shaft_fields[] = {SHAFT_FIELDS};
static const field_group shaft_group = {
    .kind = "shaft", .meaning = "a shaft as measured, uncut", .fields = shaft_fields,
    .count = COUNT(shaft_fields), .size = sizeof(caber_shaft)};

static const field section_fields[] = {
    {LENGTH("from", "mm", 0, 3, FIELD_REQUIRED, 0, caber_section, from,
            "where it begins, from the tip of the uncut shaft")},
    {LENGTH("to", "mm", 0, 3, FIELD_REQUIRED | FIELD_ABOVE, 0, caber_section, to,
            "where it ends")},
    {QUANTITY("ei_scale", DIMENSION_NONE, "", 0.01, 100, 0, 1, caber_section, ei_scale,
              "multiplies the bending stiffness")},
    {QUANTITY("gj_scale", DIMENSION_NONE, "", 0.01, 100, 0, 1, caber_section, gj_scale,
              "multiplies the twisting stiffness")},
    {QUANTITY("mass_scale", DIMENSION_NONE, "", 0.01, 100, 0, 1, caber_section, mass_scale,
              "multiplies the mass per length")},
};
static const field_group section_group = {
    .meaning = "a change of the profile between two places", .fields = section_fields,
    .count = COUNT(section_fields)};

/* In a setup the shaft has one key more; its list stands beside the shaft in the setup. */
#define BESIDE_SHAFT(member)                                                                       \
    (offsetof(caber_setup, sections) + offsetof(caber_sections, member) -                          \
     offsetof(caber_setup, shaft))
static const field setup_shaft_fields[] = {
    SHAFT_FIELDS,
    {.name = "sections", .type = FIELD_LIST, .min = 0, .max = 100, .offset = BESIDE_SHAFT(items),
     .count_offset = BESIDE_SHAFT(count), .item_size = sizeof(caber_section),
     .group = &section_group, .fallback_text = "none",
     .meaning = "changes of the profile, only in a setup; where two overlap, both multiply"},
};
_Static_assert(offsetof(caber_setup, sections) > offsetof(caber_setup, shaft),
               "sections are reached from the shaft");
static const field_group setup_shaft_group = {
    .kind = "shaft", .meaning = "the shaft", .also = "file", .fields = setup_shaft_fields,
    .count = COUNT(setup_shaft_fields)};

/* ------------------------------------------------------------------ head and grip */

#define COMPONENT(key, i, text)                                                                    \
    {.name = (key), .type = FIELD_QUANTITY, .flags = FIELD_REQUIRED, .dim = DIMENSION_LENGTH,      \
     .unit = "mm", .min = -0.3, .max = 0.3, .offset = (i) * sizeof(double), .meaning = (text)}
static const field place_fields[] = {
    COMPONENT("forward", 0, "where the face looks"),
    COMPONENT("up", 1, "upwards, with the head soled at its lie"),
    COMPONENT("toe", 2, "from heel to toe"),
};
static const field_group place_group = {
    .meaning = "a place in the head, from the end of the flexible shaft in the hosel",
    .fields = place_fields, .count = COUNT(place_fields)};

#define MOMENT(key, i, least, flag, text)                                                          \
    {.name = (key), .type = FIELD_QUANTITY, .flags = (flag), .dim = DIMENSION_INERTIA,             \
     .unit = "g cm2", .min = (least), .max = 0.1, .offset = (i) * sizeof(double),                  \
     .meaning = (text)}
static const field inertia_fields[] = {
    MOMENT("forward", 0, 0, FIELD_REQUIRED | FIELD_ABOVE, "about the forward axis"),
    MOMENT("up", 1, 0, FIELD_REQUIRED | FIELD_ABOVE, "about the upward axis"),
    MOMENT("toe", 2, 0, FIELD_REQUIRED | FIELD_ABOVE, "about the toe axis"),
    MOMENT("forward_up", 3, -0.1, 0, "matrix element: minus the sum of forward x up x mass"),
    MOMENT("forward_toe", 4, -0.1, 0, "matrix element: minus the sum of forward x toe x mass"),
    MOMENT("up_toe", 5, -0.1, 0, "matrix element: minus the sum of up x toe x mass"),
};
static const field_group inertia_group = {
    .meaning = "moments of inertia about the centre of mass", .fields = inertia_fields,
    .count = COUNT(inertia_fields)};

static const field sole_fields[] = {
    {LENGTH("up", "mm", -0.3, 0, 0, 0, caber_head, sole_up,
            "upwards, with the head soled: below the hosel, so negative"),
     .fallback_text = "0, not known"},
    {LENGTH("toe", "mm", -0.3, 0.3, 0, 0, caber_head, sole_toe, "from heel to toe")},
};
static const field_group sole_group = {
    .meaning = "where the soled head meets the ground, from the end of the flexible shaft",
    .fields = sole_fields, .count = COUNT(sole_fields)};

#define AT(key, i, text)                                                                           \
    {.name = (key), .type = FIELD_QUANTITY, .flags = FIELD_REQUIRED, .dim = DIMENSION_LENGTH,      \
     .unit = "mm", .min = -0.3, .max = 0.3,                                                        \
     .offset = offsetof(caber_weight, at) + (i) * sizeof(double), .meaning = (text)}
static const field weight_fields[] = {
    {QUANTITY("mass", DIMENSION_MASS, "g", 0, 0.5, FIELD_REQUIRED, 0, caber_weight, mass,
              "of the weight")},
    AT("forward", 0, "where the face looks, from the end of the flexible shaft"),
    AT("up", 1, "upwards, with the head soled at its lie"),
    AT("toe", 2, "from heel to toe"),
};
#undef AT
static const field_group weight_group = {
    .meaning = "a weight on the head, as a point", .fields = weight_fields,
    .count = COUNT(weight_fields)};

static const field head_fields[] = {
    NAMES(caber_head),
    {QUANTITY("mass", DIMENSION_MASS, "g", 0, 1, FIELD_REQUIRED | FIELD_ABOVE, 0, caber_head, mass,
              "of the head, with what is glued into it; without its weights")},
    {ANGLE("loft", DEG(-10), DEG(80), FIELD_REQUIRED, 0, caber_head, loft,
           "of the face above the horizontal")},
    {ANGLE("lie", DEG(30), DEG(90), FIELD_REQUIRED, 0, caber_head, lie,
           "of the shaft above the horizontal")},
    {ANGLE("face_angle", DEG(-15), DEG(15), 0, 0, caber_head, face_angle,
           "of the face as soled, open positive")},
    {LENGTH("bulge", "mm", 0, 10, 0, 0, caber_head, bulge, "radius of the face, heel to toe"),
     .fallback_text = "0, a flat face"},
    {LENGTH("roll", "mm", 0, 10, 0, 0, caber_head, roll, "radius of the face, up and down"),
     .fallback_text = "0, a flat face"},
    {QUANTITY("restitution", DIMENSION_NONE, "", 0, 1, 0, 0.83, caber_head, restitution,
              "of the face and a ball that meet at restitution_speed")},
    {QUANTITY("restitution_speed", DIMENSION_SPEED, "m/s", 0, 100, 0, 45, caber_head,
              restitution_speed, "along the face's normal")},
    {QUANTITY("restitution_loss", DIMENSION_SLOWNESS, "s/m", 0, 0.02, 0, 0.0029, caber_head,
              restitution_loss, "by which each m/s more lowers the restitution")},
    {QUANTITY("friction", DIMENSION_NONE, "", 0, 2, 0, 0.35, caber_head, friction,
              "of the face and a ball, Coulomb's coefficient")},
    GROUP("centre_of_mass", offsetof(caber_head, centre_of_mass), place_group,
          "the centre of mass"),
    GROUP("face_centre", offsetof(caber_head, face_centre), place_group, "the middle of the face"),
    GROUP("inertia", offsetof(caber_head, inertia), inertia_group,
          "the inertia about the centre of mass"),
    GROUP("sole", 0, sole_group, "the sole, for the playing length and a through bore"),
    {.name = "weights", .type = FIELD_LIST, .min = 0, .max = 20,
     .offset = offsetof(caber_head, weights.items),
     .count_offset = offsetof(caber_head, weights.count), .item_size = sizeof(caber_weight),
     .group = &weight_group, .fallback_text = "none",
     .meaning = "movable weights, beyond the head's mass, centre and inertia"},
};
static const field_group head_group = {
    .kind = "head", .meaning = "a rigid head", .fields = head_fields, .count = COUNT(head_fields),
    .size = sizeof(caber_head)};

static const field grip_fields[] = {
    NAMES(caber_grip),
    {QUANTITY("mass", DIMENSION_MASS, "g", 0, 0.5, FIELD_REQUIRED, 0, caber_grip, mass,
              "of the grip, with its tape; without the layers of build.tape")},
    {LENGTH("length", "mm", 0.01, 0.8, FIELD_REQUIRED, 0, caber_grip, length,
            "from the butt end")},
    {LENGTH("centre_of_mass", "mm", 0, 0.8, 0, 0, caber_grip, centre_of_mass,
            "of the grip, from the butt end; between a third and two thirds of its length"),
     .fallback_text = "0, the middle"},
    {LENGTH("diameter", "mm", 0.005, 0.1, FIELD_REQUIRED, 0, caber_grip, diameter,
            "mean outside diameter; without the layers of build.tape")},
    {LENGTH("cap", "mm", 0, 0.05, 0, 0, caber_grip, cap,
            "that the closed end stands beyond the butt of the shaft")},
};
static const field_group grip_group = {
    .kind = "grip", .meaning = "a grip", .fields = grip_fields, .count = COUNT(grip_fields),
    .size = sizeof(caber_grip)};

/* ------------------------------------------------------------------ player: the load program */

static const char *const all_drives[] = {"torque", "motion", "gear", "locked", NULL};
static const char *const joint_drives[] = {"torque", "motion", "", "locked", NULL};
static const char *const hands[] = {"right", "left", NULL};
_Static_assert(CABER_TORQUE == 0 && CABER_MOTION == 1 && CABER_GEAR == 2 && CABER_LOCKED == 3 &&
                   CABER_RIGHT == 0 && CABER_LEFT == 1,
               "words stand in the order of the enums");
_Static_assert(offsetof(caber_hub_load, drive) == 0 && offsetof(caber_grip_load, drive) == 0 &&
                   offsetof(caber_roll_load, drive) == 0,
               "a load begins with its drive");

static caber_drive drive_of(const void *object)
{
    caber_drive drive;
    memcpy(&drive, object, sizeof drive);
    return drive;
}

static bool drive_is_motion(const void *object)
{
    return drive_of(object) == CABER_MOTION;
}

static bool drive_is_gear(const void *object)
{
    return drive_of(object) == CABER_GEAR;
}

static bool drive_takes_table(const void *object)
{
    return drive_of(object) == CABER_MOTION || drive_of(object) == CABER_TORQUE;
}

static bool hub_has_program(const void *object)
{
    const caber_hub_load *hub = object;
    return hub->drive == CABER_TORQUE && hub->table.count == 0;
}

static bool grip_has_program(const void *object)
{
    const caber_grip_load *grip = object;
    return grip->drive == CABER_TORQUE && grip->table.count == 0;
}

static bool grip_has_late(const void *object)
{
    const caber_grip_load *grip = object;
    return grip_has_program(object) && grip->late != 0;
}

static bool roll_has_top(const void *object)
{
    return drive_of(object) != CABER_MOTION;
}

static bool stop_is_there(const void *object)
{
    const caber_stop *stop = object;
    return stop->stiffness > 0;
}

#define TABLE(object, text)                                                                        \
    {.name = "table", .type = FIELD_TABLE, .min = FIELD_TABLE_LEAST, .max = FIELD_TABLE_MOST,      \
     .offset = offsetof(object, table), .used = drive_takes_table, .needed = drive_is_motion,      \
     .needed_text = "with drive: motion", .fallback_text = "none", .meaning = (text)}
#define DRIVE(object, list, absent, absent_text, text)                                             \
    {.name = "drive", .type = FIELD_WORD, .words = (list), .fallback = (absent),                   \
     .fallback_text = (absent_text), .offset = offsetof(object, drive), .meaning = (text)}
#define PROGRAM(test)                                                                              \
    .used = (test), .needed = (test), .needed_text = "with drive: torque and no table"

/* The table stands before the program, whose fields are needed only without it. */
static const field hub_fields[] = {
    DRIVE(caber_hub_load, joint_drives, CABER_TORQUE, "torque", "how the arms are driven"),
    TABLE(caber_hub_load, "torque at the hub, or with drive: motion the arm angle, through time"),
    {QUANTITY("peak", DIMENSION_TORQUE, "N m", 0, 2000, 0, 0, caber_hub_load, peak,
              "torque at standstill, once it has risen"), PROGRAM(hub_has_program)},
    {QUANTITY("rise", DIMENSION_TIME, "s", 0, 5, FIELD_ABOVE, 0, caber_hub_load, rise,
              "time constant of its rise"), PROGRAM(hub_has_program)},
    {QUANTITY("omega_max", DIMENSION_ANGULAR_SPEED, "rad/s", 0, 1000, FIELD_ABOVE, 0,
              caber_hub_load, omega_max, "arm speed at which the torque has fallen to zero"),
     PROGRAM(hub_has_program)},
};
static const field_group hub_group = {
    .meaning = "the torque of the shoulders", .fields = hub_fields, .count = COUNT(hub_fields)};

static const field grip_load_fields[] = {
    DRIVE(caber_grip_load, joint_drives, CABER_TORQUE, "torque", "how the wrists are driven"),
    TABLE(caber_grip_load, "couple of the hands, or with drive: motion the cock, through time"),
    {QUANTITY("peak", DIMENSION_TORQUE, "N m", -500, 500, 0, 0, caber_grip_load, peak,
              "couple of the hands on the handle in transition"), PROGRAM(grip_has_program)},
    {QUANTITY("onset", DIMENSION_TIME, "s", -2, 10, 0, 0, caber_grip_load, onset,
              "when it begins"), .used = grip_has_program},
    {QUANTITY("rise", DIMENSION_TIME, "s", 0, 5, FIELD_ABOVE, 0, caber_grip_load, rise,
              "how long it takes to rise"), PROGRAM(grip_has_program)},
    {QUANTITY("release", DIMENSION_TIME, "s", -2, 10, 0, 0, caber_grip_load, release,
              "when it begins to fall"), PROGRAM(grip_has_program)},
    {QUANTITY("fall", DIMENSION_TIME, "s", 0, 5, FIELD_ABOVE, 0, caber_grip_load, fall,
              "how long it takes to fall"), PROGRAM(grip_has_program)},
    {QUANTITY("late", DIMENSION_TORQUE, "N m", -500, 500, 0, 0, caber_grip_load, late,
              "couple before impact, usually negative"), .used = grip_has_program},
    {QUANTITY("late_onset", DIMENSION_TIME, "s", -2, 10, 0, 0, caber_grip_load, late_onset,
              "when the late couple begins"), .used = grip_has_program, .needed = grip_has_late,
     .needed_text = "with late"},
    {QUANTITY("late_rise", DIMENSION_TIME, "s", 0, 5, FIELD_ABOVE, 0.05, caber_grip_load,
              late_rise, "how long the late couple takes to rise"), .used = grip_has_program,
     .needed = grip_has_late, .needed_text = "with late"},
};
static const field_group grip_load_group = {
    .meaning = "the couple of the hands on the handle, in the swing plane",
    .fields = grip_load_fields, .count = COUNT(grip_load_fields)};

static const field roll_fields[] = {
    DRIVE(caber_roll_load, all_drives, CABER_GEAR, "gear", "how the handle is rolled"),
    TABLE(caber_roll_load, "torque about the handle, or with drive: motion the roll, through time"),
    {ANGLE("top", DEG(-180), DEG(180), 0, 0, caber_roll_load, top,
           "roll at the top of the swing, 0 square"), .used = roll_has_top,
     .needed = roll_has_top, .needed_text = "unless drive: motion"},
    {QUANTITY("closing", DIMENSION_NONE, "", 0, 10, FIELD_ABOVE, 0, caber_roll_load, closing,
              "degrees of roll a degree of club rotation, as the face comes square"),
     .used = drive_is_gear, .needed = drive_is_gear, .needed_text = "with drive: gear"},
    {ANGLE("square", DEG(-90), DEG(90), 0, 0, caber_roll_load, square,
           "club angle at which the face is square"), .used = drive_is_gear},
};
static const field_group roll_group = {
    .meaning = "the roll of the handle about its own axis", .fields = roll_fields,
    .count = COUNT(roll_fields)};

static const field stop_fields[] = {
    {QUANTITY("stiffness", DIMENSION_JOINT_STIFFNESS, "N m/rad", 0, 1e5, 0, 0, caber_stop,
              stiffness, "of the wrist stop"), .fallback_text = "0, no stop"},
    {ANGLE("cock", DEG(-180), 0, 0, 0, caber_stop, cock, "where the wrists stop"),
     .used = stop_is_there, .needed = stop_is_there, .needed_text = "with stiffness"},
    {ANGLE("width", 0, DEG(90), FIELD_ABOVE, DEG(5), caber_stop, width,
           "over which the stop sets in"), .used = stop_is_there},
    {QUANTITY("damping", DIMENSION_JOINT_DAMPING, "N m s/rad", 0, 1e4, 0, 0, caber_stop, damping,
              "of the wrist stop"), .used = stop_is_there},
};
static const field_group stop_group = {
    .meaning = "the end of the wrists' range", .fields = stop_fields, .count = COUNT(stop_fields)};

static const field load_fields[] = {
    GROUP("hub", offsetof(caber_load, hub), hub_group, "the shoulders"),
    GROUP("grip", offsetof(caber_load, grip), grip_load_group, "the hands"),
    GROUP("roll", offsetof(caber_load, roll), roll_group, "the roll of the handle"),
    GROUP("stop", offsetof(caber_load, stop), stop_group, "the wrist stop"),
};
static const field_group load_group = {
    .meaning = "how the player loads the club", .fields = load_fields, .count = COUNT(load_fields)};

/* ------------------------------------------------------------------ player: body and ball */

static const field arm_fields[] = {
    {LENGTH("length", "mm", 0.1, 2, FIELD_REQUIRED, 0, caber_player, arm_length,
            "hub to hands")},
    {QUANTITY("inertia", DIMENSION_INERTIA, "kg m2", 0, 20, FIELD_REQUIRED | FIELD_ABOVE, 0,
              caber_player, arm_inertia, "of the arms, about the hub")},
    {QUANTITY("mass", DIMENSION_MASS, "kg", 0, 50, FIELD_REQUIRED, 0, caber_player, arm_mass,
              "of the arms, for their weight alone")},
    {LENGTH("centre", "mm", 0, 2, FIELD_REQUIRED, 0, caber_player, arm_centre,
            "hub to the arms' centre of mass")},
};
static const field_group arm_group = {
    .meaning = "both arms as one", .fields = arm_fields, .count = COUNT(arm_fields)};

static const field plane_fields[] = {
    {ANGLE("inclination", 0, DEG(90), FIELD_REQUIRED, 0, caber_player, inclination,
           "of the swing plane above the ground")},
    {ANGLE("direction", DEG(-45), DEG(45), 0, 0, caber_player, direction,
           "of the plane about the vertical, in-to-out positive")},
};
static const field_group plane_group = {
    .meaning = "the swing plane", .fields = plane_fields, .count = COUNT(plane_fields)};

static const field start_fields[] = {
    {ANGLE("arm", DEG(-270), DEG(180), FIELD_REQUIRED, 0, caber_player, start_arm,
           "arm angle; 0 hanging down, positive towards the target")},
    {ANGLE("cock", DEG(-180), DEG(180), FIELD_REQUIRED, 0, caber_player, start_cock,
           "club angle less arm angle")},
    {QUANTITY("arm_speed", DIMENSION_ANGULAR_SPEED, "deg/s", DEG(-12000), DEG(12000), 0, 0,
              caber_player, start_arm_speed, "rate of the arm angle")},
    {QUANTITY("cock_speed", DIMENSION_ANGULAR_SPEED, "deg/s", DEG(-12000), DEG(12000), 0, 0,
              caber_player, start_cock_speed, "rate of the cock")},
};
static const field_group start_group = {
    .meaning = "where the downswing starts", .fields = start_fields, .count = COUNT(start_fields)};

static const char *const strikes[] = {"centred", "placed", NULL};
_Static_assert(CABER_CENTRED == 0 && CABER_PLACED == 1, "words stand in the order of the enum");

static const field ball_fields[] = {
    {LENGTH("ahead", "mm", -1, 1, FIELD_REQUIRED, 0, caber_player, ball_ahead,
            "towards the target from the hub")},
    {LENGTH("down", "mm", 0, 4, FIELD_OPEN, NAN, caber_player, ball_down,
            "down the slope of the plane from the hub"),
     .fallback_text = "where a straight club meets it in the middle of the face"},
    {LENGTH("out", "mm", -1, 1, FIELD_OPEN, NAN, caber_player, ball_out,
            "out of the plane, away from the golfer"),
     .fallback_text = "where a straight club meets it in the middle of the face"},
    {.name = "strike", .type = FIELD_WORD, .words = strikes, .fallback = CABER_CENTRED,
     .fallback_text = "centred", .offset = offsetof(caber_player, strike),
     .meaning = "whether the player stands so that this club meets it in the middle, or the ball "
                "lies as placed here"},
};
static const field_group ball_group = {
    .meaning = "where the ball lies", .fields = ball_fields, .count = COUNT(ball_fields)};

#define HABIT_WORD(symbol, member, si, dimension, symbol_of_unit, most, text) #member,
static const char *const habits[] = {CABER_HABIT_LIST(HABIT_WORD) NULL};
#undef HABIT_WORD

static const field pairing_fields[] = {
    {.name = "of", .type = FIELD_WORD, .words = habits, .flags = FIELD_REQUIRED,
     .offset = offsetof(caber_pairing, of), .meaning = "one of the keys of repeat"},
    {.name = "with", .type = FIELD_WORD, .words = habits, .flags = FIELD_REQUIRED,
     .offset = offsetof(caber_pairing, with), .meaning = "another of them"},
    {QUANTITY("correlation", DIMENSION_NONE, "", -1, 1, FIELD_REQUIRED, 0, caber_pairing,
              correlation, "of the two from swing to swing")},
};
static const field_group pairing_group = {
    .meaning = "two habits that go together", .fields = pairing_fields,
    .count = COUNT(pairing_fields)};

#define HABIT_FIELD(symbol, member, si, dimension, symbol_of_unit, most, text)                     \
    {QUANTITY(#member, DIMENSION_##dimension, symbol_of_unit, 0, most, 0, 0, caber_repeat, member, \
              text)},
static const field repeat_fields[] = {
    CABER_HABIT_LIST(HABIT_FIELD)
    {.name = "together", .type = FIELD_LIST, .min = 0, .max = 45,
     .offset = offsetof(caber_repeat, pairings),
     .count_offset = offsetof(caber_repeat, pairing_count), .item_size = sizeof(caber_pairing),
     .group = &pairing_group, .fallback_text = "none",
     .meaning = "correlations of two of these; all others are 0"},
};
#undef HABIT_FIELD
static const field_group repeat_group = {
    .meaning = "standard deviations from swing to swing", .fields = repeat_fields,
    .count = COUNT(repeat_fields)};

static const field player_fields[] = {
    NAMES(caber_player),
    {.name = "handed", .type = FIELD_WORD, .words = hands, .fallback = CABER_RIGHT,
     .fallback_text = "right", .offset = offsetof(caber_player, handed),
     .meaning = "which way the golfer plays"},
    GROUP("arm", 0, arm_group, "the arms"),
    GROUP("plane", 0, plane_group, "the swing plane"),
    GROUP("start", 0, start_group, "the start of the downswing"),
    GROUP("ball", 0, ball_group, "the ball"),
    GROUP("load", offsetof(caber_player, load), load_group, "how the player loads the club"),
    GROUP("repeat", offsetof(caber_player, repeat), repeat_group,
          "how the player's swings differ from one to the next"),
};
static const field_group player_group = {
    .kind = "player", .meaning = "a player: body, ball and load program", .fields = player_fields,
    .count = COUNT(player_fields), .size = sizeof(caber_player)};

/* ------------------------------------------------------------------ readings */

/* A column that need not be there. */
#define CHOICE(key, dimension, symbol, least, most, flag, absent, text)                            \
    COLUMN(key, dimension, symbol, least, most, FIELD_OPEN | (flag), absent, text)
#define ORIENTATION                                                                                \
    CHOICE("orientation", DIMENSION_ANGLE, "deg", DEG(-360), DEG(360), 0, "not noted",             \
           "of the load about the shaft, from the shaft's mark")
#define CLAMP_COLUMN                                                                               \
    CHOICE("clamp", DIMENSION_LENGTH, "mm", 0, 3, FIELD_ABOVE, "that of the jig",                  \
           "edge of the clamp, from the tip")
#define LOAD_COLUMN                                                                                \
    CHOICE("load", DIMENSION_FORCE, "N", 0, 5000, FIELD_ABOVE, "that of the jig", "the load")

static const field span_columns[] = {
    [SPAN_AT] = COLUMN("at", DIMENSION_LENGTH, "mm", 0, 3, FIELD_REQUIRED | FIELD_ABOVE, NULL,
                       "middle between the supports, from the tip"),
    [SPAN_SPAN] = CHOICE("span", DIMENSION_LENGTH, "mm", 0, 3, FIELD_ABOVE, "that of the jig",
                         "from support to support"),
    [SPAN_LOAD] = LOAD_COLUMN,
    [SPAN_LOAD_AT] = CHOICE("load_at", DIMENSION_LENGTH, "mm", 0, 3, 0, "the same as at",
                            "where the load acts, from the tip"),
    [SPAN_READ_AT] = CHOICE("read_at", DIMENSION_LENGTH, "mm", 0, 3, 0, "the same as load_at",
                            "where the deflection is read, from the tip"),
    [SPAN_ORIENTATION] = ORIENTATION,
    [SPAN_VALUE] = COLUMN("deflection", DIMENSION_LENGTH, "mm", 0, 1, FIELD_REQUIRED | FIELD_ABOVE,
                          NULL, "what was read, from the supports' line"),
};
static const field_group span_rows = {
    .meaning = "three-point readings", .fields = span_columns, .count = COUNT(span_columns)};

static const field bend_columns[] = {
    [BEND_CLAMP] = CLAMP_COLUMN,
    [BEND_LOAD_AT] = CHOICE("load_at", DIMENSION_LENGTH, "mm", 0, 3, 0, "that of the jig",
                            "where the load acts, from the tip"),
    [BEND_READ_AT] = CHOICE("read_at", DIMENSION_LENGTH, "mm", 0, 3, 0, "that of the jig",
                            "where the deflection is read, from the tip"),
    [BEND_LOAD] = LOAD_COLUMN,
    [BEND_ORIENTATION] = ORIENTATION,
    [BEND_VALUE] = COLUMN("deflection", DIMENSION_LENGTH, "mm", 0, 1, FIELD_REQUIRED | FIELD_ABOVE,
                          NULL, "what was read"),
};
static const field_group bend_rows = {
    .meaning = "cantilever readings", .fields = bend_columns, .count = COUNT(bend_columns)};

static const field ring_columns[] = {
    [RING_CLAMP] = CLAMP_COLUMN,
    [RING_TIP_MASS] = CHOICE("tip_mass", DIMENSION_MASS, "g", 0, 1, 0, "that of the jig",
                             "mass on the tip"),
    [RING_ORIENTATION] = ORIENTATION,
    [RING_VALUE] = COLUMN("frequency", DIMENSION_FREQUENCY, "cpm", 0, 100,
                          FIELD_REQUIRED | FIELD_ABOVE, NULL, "what was read"),
};
static const field_group ring_rows = {
    .meaning = "frequency readings", .fields = ring_columns, .count = COUNT(ring_columns)};

static const field twist_columns[] = {
    [TWIST_CLAMP] = CLAMP_COLUMN,
    [TWIST_LEVER] = CHOICE("lever", DIMENSION_LENGTH, "mm", 0, 3, 0, "that of the jig",
                           "where the couple acts, from the tip"),
    [TWIST_READ_AT] = CHOICE("read_at", DIMENSION_LENGTH, "mm", 0, 3, 0, "that of the jig",
                             "where the angle is read, from the tip"),
    [TWIST_COUPLE] = CHOICE("couple", DIMENSION_TORQUE, "N m", 0, 100, FIELD_ABOVE,
                            "that of the jig", "the couple about the shaft"),
    [TWIST_VALUE] = COLUMN("angle", DIMENSION_ANGLE, "deg", 0, DEG(90),
                           FIELD_REQUIRED | FIELD_ABOVE, NULL, "what was read"),
};
static const field_group twist_rows = {
    .meaning = "twist readings", .fields = twist_columns, .count = COUNT(twist_columns)};

/* What stays the same on a jig. */
#define JIG(key, dimension, symbol, most, flag, member, text)                                      \
    {QUANTITY(key, dimension, symbol, 0, most, FIELD_OPEN | (flag), NAN, readings_jig, member,     \
              text), .fallback_text = "each row says it"}
#define JIG_CLAMP                                                                                  \
    JIG("clamp", DIMENSION_LENGTH, "mm", 3, FIELD_ABOVE, clamp, "edge of the clamp, from the tip")
#define JIG_READ_AT                                                                                \
    JIG("read_at", DIMENSION_LENGTH, "mm", 3, 0, read_at, "where it is read, from the tip")
#define JIG_LOAD JIG("load", DIMENSION_FORCE, "N", 5000, FIELD_ABOVE, load, "the load")
/* A reading's standard deviation is the root of resolution^2/12 + (repeatability x reading)^2. */
#define JIG_END(dimension, symbol, most, rows_group)                                               \
    {QUANTITY("resolution", dimension, symbol, 0, most, 0, 0, readings_jig, resolution,            \
              "step in which it is read; stands for a deviation of its 1/sqrt(12)")},              \
    {QUANTITY("repeatability", DIMENSION_NONE, "%", 0, 0.5, 0, 0, readings_jig, repeatability,     \
              "standard deviation from one reading to the next, over the reading")},               \
    {.name = "table", .type = FIELD_ROWS, .flags = FIELD_REQUIRED, .min = 1, .max = 2000,          \
     .offset = offsetof(readings_jig, rows), .group = &(rows_group),                               \
     .meaning = "the readings"}

static const field span_fields[] = {
    JIG("span", DIMENSION_LENGTH, "mm", 3, FIELD_ABOVE, span, "from support to support"),
    JIG_LOAD,
    JIG_END(DIMENSION_LENGTH, "mm", 0.1, span_rows),
};
static const field_group span_group = {
    .meaning = "a span on two supports with a load between", .fields = span_fields,
    .count = COUNT(span_fields)};

static const field bend_fields[] = {
    JIG_CLAMP,
    JIG("load_at", DIMENSION_LENGTH, "mm", 3, 0, load_at, "where the load acts, from the tip"),
    JIG_READ_AT,
    JIG_LOAD,
    JIG_END(DIMENSION_LENGTH, "mm", 0.1, bend_rows),
};
static const field_group bend_group = {
    .meaning = "a clamp and a load across the shaft", .fields = bend_fields,
    .count = COUNT(bend_fields)};

static const field ring_fields[] = {
    JIG_CLAMP,
    JIG("tip_mass", DIMENSION_MASS, "g", 1, 0, load, "mass on the tip"),
    JIG_END(DIMENSION_FREQUENCY, "cpm", 10, ring_rows),
};
static const field_group ring_group = {
    .meaning = "a clamp and a mass on the tip, ringing", .fields = ring_fields,
    .count = COUNT(ring_fields)};

static const field twist_fields[] = {
    JIG_CLAMP,
    JIG("lever", DIMENSION_LENGTH, "mm", 3, 0, load_at, "where the couple acts, from the tip"),
    JIG_READ_AT,
    JIG("couple", DIMENSION_TORQUE, "N m", 100, FIELD_ABOVE, load, "the couple about the shaft"),
    JIG_END(DIMENSION_ANGLE, "deg", DEG(10), twist_rows),
};
static const field_group twist_group = {
    .meaning = "a clamp and a couple about the shaft", .fields = twist_fields,
    .count = COUNT(twist_fields)};

static const field calliper_fields[] = {
    {LENGTH("at", "mm", 0, 3, FIELD_REQUIRED, 0, caber_calliper, at, "from the tip")},
    {LENGTH("diameter", "mm", 0.002, 0.1, FIELD_REQUIRED, 0, caber_calliper, diameter,
            "outside diameter")},
};
static const field_group calliper_group = {
    .meaning = "a diameter", .fields = calliper_fields, .count = COUNT(calliper_fields)};

static const field omission_fields[] = {
    {.name = "table", .type = FIELD_TEXT, .flags = FIELD_REQUIRED, .max = CABER_NOTE_SIZE,
     .offset = offsetof(readings_omission, table), .meaning = "the CSV, as its jig names it"},
    {INTEGER("line", 1, 1e6, readings_omission, line, "its line in that file"),
     .flags = FIELD_REQUIRED},
};
static const field_group omission_group = {
    .meaning = "a reading", .fields = omission_fields, .count = COUNT(omission_fields)};

static bool balance_is_there(const void *object)
{
    const readings_sheet *sheet = object;
    return !isnan(sheet->balance);
}

#define JIGS(key, member, one, text)                                                               \
    {.name = (key), .type = FIELD_LIST, .min = 0, .max = 50,                                       \
     .offset = offsetof(readings_sheet, member.items),                                             \
     .count_offset = offsetof(readings_sheet, member.count), .item_size = sizeof(readings_jig),    \
     .group = &(one), .fallback_text = "none", .meaning = (text)}

static const char *const smoothings[] = {"likelihood", "cross-validation", "discrepancy", NULL};
_Static_assert(CABER_LIKELIHOOD == 0 && CABER_CROSS_VALIDATION == 1 && CABER_DISCREPANCY == 2,
               "words stand in the order of the enums");

static const field readings_fields[] = {
    NAMES(caber_readings),
    {LENGTH("length", "mm", 0.3, 3, FIELD_REQUIRED, 0, caber_readings, length,
            "uncut length, tip to butt")},
    {QUANTITY("density", DIMENSION_DENSITY, "kg/m3", 500, 20000, 0, 1550, caber_readings, density,
              "of the wall, passed on to the shaft")},
    {QUANTITY("damping", DIMENSION_NONE, "", 0, 0.5, 0, 0.007, caber_readings, damping,
              "damping ratio, passed on to the shaft")},
    {LENGTH("pitch", "mm", 0.005, 0.2, 0, 0.04, caber_readings, pitch,
            "most between two stations of the profile that is drawn")},
    {LENGTH("knot", "mm", 0.02, 1, 0, 0.04, caber_readings, knot,
            "most between two knots of the curves that are fitted; no more than a fifth of a span")},
    {.name = "smoothness", .type = FIELD_WORD, .words = smoothings, .fallback = CABER_LIKELIHOOD,
     .fallback_text = "likelihood", .offset = offsetof(caber_readings, smoothness),
     .meaning = "what chooses how smooth the curves are"},
    {QUANTITY("mass", DIMENSION_MASS, "g", 0, 2, FIELD_REQUIRED | FIELD_ABOVE, 0, readings_sheet,
              mass, "of the whole uncut shaft")},
    {QUANTITY("mass_error", DIMENSION_MASS, "g", 0, 0.1, FIELD_REQUIRED | FIELD_ABOVE, 0,
              readings_sheet, mass_error, "its standard deviation")},
    {LENGTH("balance", "mm", 0, 3, FIELD_OPEN | FIELD_ABOVE, NAN, readings_sheet, balance,
            "centre of mass of the whole uncut shaft, from the tip"),
     .fallback_text = "not read"},
    {LENGTH("balance_error", "mm", 0, 0.5, FIELD_ABOVE, 0.001, readings_sheet, balance_error,
            "its standard deviation"),
     .needed = balance_is_there, .needed_text = "with balance"},
    {.name = "diameters", .type = FIELD_LIST, .flags = FIELD_REQUIRED, .min = 1, .max = 1000,
     .offset = offsetof(caber_readings, callipers),
     .count_offset = offsetof(caber_readings, calliper_count),
     .item_size = sizeof(caber_calliper), .group = &calliper_group,
     .meaning = "outside diameters, ascending from the tip"},
    JIGS("spans", spans, span_group, "three-point bends: two supports, a load between"),
    JIGS("cantilevers", cantilevers, bend_group, "static bends: a clamp, a load across"),
    JIGS("frequencies", frequencies, ring_group, "frequencies: a clamp, a mass on the tip"),
    JIGS("twists", twists, twist_group, "twists: a clamp, a couple about the shaft"),
    {.name = "leave_out", .type = FIELD_LIST, .min = 0, .max = 1000,
     .offset = offsetof(readings_sheet, omissions),
     .count_offset = offsetof(readings_sheet, omission_count),
     .item_size = sizeof(readings_omission), .group = &omission_group, .fallback_text = "none",
     .meaning = "readings that are kept out of the fit, but shown"},
};
_Static_assert(offsetof(readings_sheet, readings) == 0, "a sheet begins with its readings");
static const field_group readings_group = {
    .kind = "readings", .meaning = "what was read on one shaft on the bench",
    .fields = readings_fields, .count = COUNT(readings_fields), .size = sizeof(readings_sheet)};

/* ------------------------------------------------------------------ mapping */

static const char *const separators[] = {"comma", "semicolon", "tab", NULL};
static const char *const other_columns[] = {"refuse", "ignore", NULL};

#define WORDS(key, size_of, flag, object, member, absent, text)                                    \
    {.name = (key), .type = FIELD_TEXT, .flags = (flag), .max = (size_of),                         \
     .offset = offsetof(object, member), .fallback_text = (absent), .meaning = (text)}

static const field mapped_fields[] = {
    WORDS("column", CABER_NAME_SIZE, FIELD_REQUIRED, mapping_column, column, NULL,
          "its name as it stands in the file"),
    WORDS("quantity", CABER_NAME_SIZE, FIELD_REQUIRED, mapping_column, quantity, NULL,
          "what it is: a measured value of caber fields measured, with or without its unit, such as "
          "ball_speed; or setup, shot or ignore"),
    WORDS("unit", CABER_NAME_SIZE, 0, mapping_column, unit, "what the file says of it",
          "the unit of its numbers"),
    {.name = "reversed", .type = FIELD_BOOLEAN, .offset = offsetof(mapping_column, reversed),
     .fallback_text = "no",
     .meaning = "whether its sign is the other way round than ours"},
};
static const field_group mapped_group = {
    .meaning = "a column", .fields = mapped_fields, .count = COUNT(mapped_fields)};

static const field mapping_fields[] = {
    NAMES(mapping_sheet),
    {.name = "separator", .type = FIELD_WORD, .words = separators, .fallback = MAPPING_COMMA,
     .fallback_text = "comma", .offset = offsetof(mapping_sheet, separator),
     .meaning = "what stands between two cells; a number has a decimal point in any case"},
    {INTEGER("skip", 0, 1000, mapping_sheet, skip, "lines before the row of names"),
     .fallback_text = "0"},
    {INTEGER("skip_after", 0, 1000, mapping_sheet, skip_after,
             "lines between the row of names and the first shot that are no units"),
     .fallback_text = "0"},
    WORDS("missing", CABER_NAME_SIZE, 0, mapping_sheet, missing, "none, a blank cell only",
          "what stands in a cell where nothing was measured, beside blank ones"),
    {.name = "others", .type = FIELD_WORD, .words = other_columns, .fallback = MAPPING_REFUSE,
     .fallback_text = "refuse", .offset = offsetof(mapping_sheet, others),
     .meaning = "what becomes of a column that is not named here and has none of our names"},
    {.name = "columns", .type = FIELD_LIST, .flags = FIELD_REQUIRED, .min = 1, .max = 200,
     .offset = offsetof(mapping_sheet, columns),
     .count_offset = offsetof(mapping_sheet, column_count),
     .item_size = sizeof(mapping_column), .group = &mapped_group,
     .meaning = "which column is which quantity, and in which unit"},
};
static const field_group mapping_group = {
    .kind = "mapping", .meaning = "what the columns of a file of measured shots are",
    .fields = mapping_fields, .count = COUNT(mapping_fields), .size = sizeof(mapping_sheet)};

/* ------------------------------------------------------------------ setup */

static const char *const orders[] = {"tip-first", "butt-first", NULL};
static const char *const bores[] = {"blind", "through", NULL};
_Static_assert(CABER_TIP_FIRST == 0 && CABER_BUTT_FIRST == 1 && CABER_BLIND == 0 &&
                   CABER_THROUGH == 1,
               "words stand in the order of the enums");

static bool bore_is_blind(const void *object)
{
    const caber_build *build = object;
    return build->bore == CABER_BLIND;
}

static const field ferrule_fields[] = {
    {QUANTITY("mass", DIMENSION_MASS, "g", 0, 0.1, 0, 0, caber_ferrule, mass, "of the ferrule"),
     .fallback_text = "0, no ferrule"},
    {LENGTH("length", "mm", 0, 0.1, 0, 0.025, caber_ferrule, length, "along the shaft")},
    {LENGTH("at", "mm", 0, 0.1, 0, 0, caber_ferrule, at,
            "up the shaft from the hosel's mouth to its lower end")},
};
static const field_group ferrule_group = {
    .meaning = "the ring above the hosel, rigid with the head", .fields = ferrule_fields,
    .count = COUNT(ferrule_fields)};

static const field hosel_weight_fields[] = {
    {QUANTITY("mass", DIMENSION_MASS, "g", 0, 0.1, 0, 0, caber_hosel_weight, mass, "of the weight"),
     .fallback_text = "0, no weight"},
    {LENGTH("depth", "mm", 0, 0.2, 0, 0, caber_hosel_weight, depth,
            "down the axis from the hosel's mouth"),
     .fallback_text = "0, the middle of the shaft in the hosel"},
};
static const field_group hosel_weight_group = {
    .meaning = "a weight in the shaft's tip or the hosel", .fields = hosel_weight_fields,
    .count = COUNT(hosel_weight_fields)};

/* A layer of masking tape: common practice; the mass is that of 0.11 kg/m2 around a butt of 15 mm. */
static const field tape_fields[] = {
    {INTEGER("layers", 0, 30, caber_tape, layers, "of tape under the whole grip"),
     .fallback_text = "0, none"},
    {QUANTITY("mass", DIMENSION_MASS_PER_LENGTH, "g/m", 0, 0.1, 0, 0.005, caber_tape, mass,
              "of one layer, per length"),
     .fallback_text = "5 g/m (common practice)"},
    {LENGTH("thickness", "mm", 0, 0.005, 0, 0.00013, caber_tape, thickness,
            "of one layer; the grip moves out by it"),
     .fallback_text = "0.13 mm (common practice)"},
};
static const field_group tape_group = {
    .meaning = "tape under the grip, beyond what the grip's mass and diameter take in",
    .fields = tape_fields, .count = COUNT(tape_fields)};

static const field sleeve_fields[] = {
    {ANGLE("tilt", 0, DEG(5), 0, 0, caber_sleeve, tilt, "of the head on the shaft")},
    {ANGLE("direction", DEG(-360), DEG(360), 0, 0, caber_sleeve, direction,
           "side of the head that is lifted: 0 face, 90 toe, 180 back, 270 heel")},
    {LENGTH("pivot", "mm", -0.1, 0.1, 0, 0, caber_sleeve, pivot,
            "down the axis from the hosel's mouth to where the two axes cross")},
};
static const field_group sleeve_group = {
    .meaning = "an adjustable hosel: loft, lie and face move together", .fields = sleeve_fields,
    .count = COUNT(sleeve_fields)};

static const field build_fields[] = {
    {LENGTH("tip_trim", "mm", 0, 1, 0, 0, caber_build, tip_trim, "cut from the tip")},
    {LENGTH("butt_trim", "mm", 0, 1, 0, 0, caber_build, butt_trim, "cut from the butt")},
    {LENGTH("length", "mm", 0, 3, 0, 0, caber_build, length,
            "playing length wanted, with the grip's cap; the later cut follows from it"),
     .fallback_text = "0, none: both cuts are as given"},
    {.name = "order", .type = FIELD_WORD, .words = orders, .fallback = CABER_TIP_FIRST,
     .fallback_text = "tip-first", .offset = offsetof(caber_build, order),
     .meaning = "with a length, which cut is as given; the other follows and is left out"},
    {.name = "bore", .type = FIELD_WORD, .words = bores, .fallback = CABER_BLIND,
     .fallback_text = "blind", .offset = offsetof(caber_build, bore),
     .meaning = "whether the shaft ends in the hosel or goes through to the sole"},
    {LENGTH("insertion", "mm", 0, 0.2, 0, 0.030, caber_build, insertion,
            "of the cut shaft inside a blind hosel, rigid with the head"), .used = bore_is_blind},
    {LENGTH("hold", "mm", 0, 0.5, 0, 0.100, caber_build, hold,
            "from the butt to the hands' hinge; the shaft bends beyond it")},
    GROUP("ferrule", offsetof(caber_build, ferrule), ferrule_group, "the ferrule"),
    GROUP("hosel_weight", offsetof(caber_build, hosel_weight), hosel_weight_group,
          "a weight in the tip"),
    GROUP("tape", offsetof(caber_build, tape), tape_group, "layers of tape"),
    GROUP("sleeve", offsetof(caber_build, sleeve), sleeve_group, "an adjustable hosel"),
};
static const field_group build_group = {
    .meaning = "how shaft, head and grip become a club", .fields = build_fields,
    .count = COUNT(build_fields)};

static const char *const coefficient_sets[] = {"bearman-harvey", "smits-smith", "lyu", NULL};
_Static_assert(CABER_BEARMAN_HARVEY == 0 && CABER_SMITS_SMITH == 1 && CABER_LYU == 2 &&
                   CABER_COEFFICIENT_SETS == 3,
               "words stand in the order of the enum");

static void flown_ball_fill(void *object)
{
    const caber_ball usual = caber_ball_default();
    memcpy(object, &usual, sizeof usual);
}

static const field flown_ball_fields[] = {
    {QUANTITY("mass", DIMENSION_MASS, "g", 0.02, 0.1, 0, 0, caber_ball, mass, "of the ball")},
    {LENGTH("diameter", "mm", 0.03, 0.06, 0, 0, caber_ball, diameter, "of the ball")},
    {QUANTITY("inertia", DIMENSION_NONE, "", 0.2, 2 / 3.0, 0, 0, caber_ball, inertia,
              "moment of inertia over mass times radius squared; a uniform ball has 0.4")},
    {.name = "coefficients", .type = FIELD_WORD, .words = coefficient_sets,
     .fallback = CABER_BEARMAN_HARVEY, .fallback_text = "bearman-harvey",
     .offset = offsetof(caber_ball, coefficients),
     .meaning = "published drag and lift by which it flies"},
};
static const field_group flown_ball_group = {
    .meaning = "the ball", .fields = flown_ball_fields, .count = COUNT(flown_ball_fields),
    .fill = flown_ball_fill};

static void air_fill(void *object)
{
    const caber_air usual = caber_air_default();
    memcpy(object, &usual, sizeof usual);
}

static const field air_fields[] = {
    {QUANTITY("temperature", DIMENSION_TEMPERATURE, "degC", 223.15, 333.15, 0, 0, caber_air,
              temperature, "of the air")},
    {LENGTH("altitude", "m", -500, 5000, 0, 0, caber_air, altitude, "of the course")},
    {QUANTITY("pressure", DIMENSION_PRESSURE, "hPa", 40000, 110000, FIELD_OPEN, NAN, caber_air,
              pressure, "as a barometer on the course reads; not reduced to sea level"),
     .fallback_text = "that of the standard atmosphere at the altitude"},
    {QUANTITY("humidity", DIMENSION_NONE, "%", 0, 1, 0, 0, caber_air, humidity, "relative")},
    {QUANTITY("wind_along", DIMENSION_SPEED, "m/s", -40, 40, 0, 0, caber_air, wind_along,
              "towards the target: positive is a tail wind")},
    {QUANTITY("wind_across", DIMENSION_SPEED, "m/s", -40, 40, 0, 0, caber_air, wind_across,
              "positive from left to right, as one looks to the target")},
};
static const field_group air_group = {
    .meaning = "the air over the course", .fields = air_fields, .count = COUNT(air_fields),
    .fill = air_fill};

static void settings_fill(void *object)
{
    caber_settings defaults = caber_settings_default();
    memcpy(object, &defaults, sizeof defaults);
}

static const field settings_fields[] = {
    {INTEGER("modes", 1, 60, caber_settings, modes, "modes of the shaft that are kept")},
    {INTEGER("stations", 4, 200, caber_settings, stations,
             "mass stations along the shaft, at least half as many as modes")},
    {INTEGER("elements", 0, 2000, caber_settings, elements,
             "least number of finite elements; 0 = until six frequencies hold to 1e-4")},
    {QUANTITY("ceiling", DIMENSION_FREQUENCY, "Hz", 0, 1e5, 0, 0, caber_settings, ceiling,
              "modes above it only follow their load, at this frequency; 0 = none do")},
    {QUANTITY("tolerance", DIMENSION_NONE, "", 1e-12, 1e-2, 0, 0, caber_settings, tolerance,
              "relative tolerance of the integrator")},
    {.name = "gravity", .type = FIELD_BOOLEAN, .offset = offsetof(caber_settings, gravity),
     .meaning = "whether weight acts"},
    {QUANTITY("until", DIMENSION_TIME, "s", 0, 100, 0, 0, caber_settings, until,
              "stop then, without a ball; 0 = when the ball is met")},
    {QUANTITY("time_limit", DIMENSION_TIME, "s", 0, 100, FIELD_ABOVE, 0, caber_settings,
              time_limit, "give up when the ball has not been met by then")},
    {QUANTITY("sample", DIMENSION_TIME, "s", 1e-6, 1, 0, 0, caber_settings, sample,
              "between the rows of a time series")},
};
static const field_group settings_group = {
    .meaning = "how it is computed", .fields = settings_fields, .count = COUNT(settings_fields),
    .fill = settings_fill};

static const field setup_fields[] = {
    NAMES(caber_setup),
    GROUP("shaft", offsetof(caber_setup, shaft), setup_shaft_group, "the shaft"),
    GROUP("head", offsetof(caber_setup, head), head_group, "the head"),
    GROUP("grip", offsetof(caber_setup, grip), grip_group, "the grip"),
    GROUP("build", offsetof(caber_setup, build), build_group, "how they become a club"),
    GROUP("player", offsetof(caber_setup, player), player_group, "who swings it"),
    GROUP("ball", offsetof(caber_setup, ball), flown_ball_group, "the ball"),
    GROUP("air", offsetof(caber_setup, air), air_group, "the air"),
    GROUP("settings", offsetof(caber_setup, settings), settings_group, "how it is computed"),
};
static const field_group setup_group = {
    .kind = "setup", .meaning = "which shaft, head, grip, build and player", .also = "load",
    .fields = setup_fields, .count = COUNT(setup_fields), .size = sizeof(caber_setup)};

/* ------------------------------------------------------------------ study */

static const char *const spreads[] = {"uniform", "log-uniform", "normal", "triangular", NULL};
static const char *const design_kinds[] = {
    "grid", "one-at-a-time", "latin-hypercube", "sobol", "halton", "saltelli", "morris", "cases",
    NULL};
static const char *const samplings[] = {"random", "sobol", NULL};

/* A quantity whose dimension is that of the factor's input. */
#define VALUE(key, member, absent, text)                                                           \
    {.name = (key), .type = FIELD_TEXT, .max = CABER_NAME_SIZE,                                    \
     .offset = offsetof(study_factor_sheet, member), .fallback_text = (absent), .meaning = (text)}
#define TEXTS(key, least, most, object, member, absent, text)                                      \
    {.name = (key), .type = FIELD_TEXTS, .min = (least), .max = (most),                            \
     .offset = offsetof(object, member), .fallback_text = (absent), .meaning = (text)}

static const field study_factor_fields[] = {
    {.name = "name", .type = FIELD_TEXT, .flags = FIELD_REQUIRED, .max = CABER_NAME_SIZE,
     .offset = offsetof(study_factor_sheet, name),
     .meaning = "what it is called in results: a letter, then letters, digits or _"},
    {.name = "path", .type = FIELD_TEXT, .flags = FIELD_REQUIRED, .max = CABER_NAME_SIZE,
     .offset = offsetof(study_factor_sheet, path),
     .meaning = "the input of the setup, as in --set; shaft, head, grip or player for files"},
    VALUE("from", from, "none", "least value of a range, in a unit of the input"),
    VALUE("to", to, "none", "largest value of the range"),
    {.name = "distribution", .type = FIELD_WORD, .words = spreads, .fallback_text = "uniform",
     .offset = offsetof(study_factor_sheet, distribution),
     .meaning = "of the values in the range; normal is cut off at its ends"},
    VALUE("mean", mean, "none; normal needs it", "of the normal distribution before it is cut off"),
    VALUE("sd", sd, "none; normal needs it", "its standard deviation before it is cut off"),
    VALUE("peak", peak, "none; triangular needs it", "most likely value of the triangular one"),
    {INTEGER("levels", 2, 10000, study_factor_sheet, levels,
             "of the range in a grid or one-at-a-time, equally far apart with both ends"),
     .fallback_text = "none; those designs need it"},
    TEXTS("values", 1, 10000, study_factor_sheet, values, "none",
          "the values it takes, in place of a range, each as in a file"),
    TEXTS("files", 1, 1000, study_factor_sheet, files, "none",
          "the files it chooses from, where the path is a part of the setup"),
};
static const field_group study_factor_group = {
    .meaning = "a factor", .fields = study_factor_fields, .count = COUNT(study_factor_fields)};

static const field study_design_fields[] = {
    {.name = "kind", .type = FIELD_WORD, .flags = FIELD_REQUIRED, .words = design_kinds,
     .offset = offsetof(study_design_sheet, kind),
     .meaning = "which values the factors take together"},
    {INTEGER("cases", 1, 1e8, study_design_sheet, cases,
             "how many; of latin-hypercube, sobol and halton, which need it"),
     .fallback_text = "as the design has them"},
    {INTEGER("rows", 1, 1e8, study_design_sheet, rows,
             "pairs of rows of saltelli, which needs it; each has 2 cases and 1 a factor"),
     .fallback_text = "none"},
    {.name = "sampling", .type = FIELD_WORD, .words = samplings, .fallback_text = "random",
     .offset = offsetof(study_design_sheet, sampling),
     .meaning = "where the rows of saltelli come from; sobol for at most 20 factors"},
    {.name = "both", .type = FIELD_BOOLEAN, .offset = offsetof(study_design_sheet, both),
     .fallback_text = "no",
     .meaning = "saltelli with 2 cases a factor, which make indices several times as sharp"},
    {INTEGER("trajectories", 4, 1e6, study_design_sheet, trajectories,
             "of morris, which needs it; each has 1 case and 1 a factor"),
     .fallback_text = "none"},
    {INTEGER("levels", 2, 100, study_design_sheet, levels,
             "places of a factor in morris, an even number; both ends of a range are among them"),
     .fallback_text = "4"},
    {.name = "plain", .type = FIELD_BOOLEAN, .offset = offsetof(study_design_sheet, plain),
     .fallback_text = "no",
     .meaning = "sobol or halton from its origin, without a shift by the seed"},
    {.name = "file", .type = FIELD_TEXT, .max = CABER_NOTE_SIZE,
     .offset = offsetof(study_design_sheet, file),
     .fallback_text = "none; cases needs it",
     .meaning = "the path of a CSV with a row of factors' names, a row of units and a row a case; "
                "of a file it has the place in files, from 0, of a word that among its words"},
};
static const field_group study_design_group = {
    .meaning = "the design", .fields = study_design_fields, .count = COUNT(study_design_fields)};

static const field study_series_fields[] = {
    TEXTS("outputs", 1, 100, study_series_sheet, outputs, "none",
          "what is kept through time, by name as 'caber fields series' lists them"),
    {QUANTITY("step", DIMENSION_TIME, "s", 1e-6, 1, 0, 0.002, study_series_sheet, step,
              "between the times of the grid, which begins at the start of the downswing")},
    {QUANTITY("until", DIMENSION_TIME, "s", 0, 100, FIELD_ABOVE, 0.4, study_series_sheet, until,
              "end of the grid; after the ball is met there are no values")},
};
static const field_group study_series_group = {
    .meaning = "series through time", .fields = study_series_fields,
    .count = COUNT(study_series_fields)};

static const field study_fields[] = {
    NAMES(study_sheet),
    {.name = "setup", .type = FIELD_TEXT, .flags = FIELD_REQUIRED, .max = CABER_NOTE_SIZE,
     .offset = offsetof(study_sheet, setup), .meaning = "the path of the setup that is varied"},
    TEXTS("set", 0, 200, study_sheet, set, "none",
          "what to change in that setup first, each as path=value; --set comes after"),
    {INTEGER("seed", 0, 2147483647, study_sheet, seed, "of all random numbers"),
     .fallback_text = "0"},
    {INTEGER("replicates", 0, 10000, study_sheet, replicates,
             "swings a case, each with the player's habits; the same draws in every case"),
     .fallback_text = "0, the usual swing alone"},
    {.name = "factors", .type = FIELD_LIST, .flags = FIELD_REQUIRED, .min = 1, .max = 50,
     .offset = offsetof(study_sheet, factors),
     .count_offset = offsetof(study_sheet, factor_count),
     .item_size = sizeof(study_factor_sheet), .group = &study_factor_group,
     .meaning = "what is varied"},
    GROUP("design", offsetof(study_sheet, design), study_design_group, "the design"),
    TEXTS("outputs", 1, 500, study_sheet, outputs, "all of the bent shaft",
          "what is kept of each case, by name; straight. before a name is the rigid club's"),
    GROUP("series", offsetof(study_sheet, series), study_series_group, "series through time"),
};
static const field_group study_group = {
    .kind = "study", .meaning = "a setup, what is varied in it, and how", .fields = study_fields,
    .count = COUNT(study_fields), .size = sizeof(study_sheet)};

/* clang-format on */

const field_group *fields_kind_study(void)
{
    return &study_group;
}

const field_group *fields_kind_setup(void)
{
    return &setup_group;
}

const field_group *fields_kind_readings(void)
{
    return &readings_group;
}

const field_group *fields_kind_mapping(void)
{
    return &mapping_group;
}

const field_group *fields_kind(size_t i)
{
    static const field_group *const kinds[] = {&shaft_group,   &head_group,  &grip_group,
                                               &player_group,  &setup_group, &readings_group,
                                               &mapping_group, &study_group};
    return i < COUNT(kinds) ? kinds[i] : NULL;
}

void field_rows_free(field_rows *rows)
{
    free(rows->cell);
    free(rows->line);
    free(rows->place);
    free(rows->file);
    free(rows->path);
    *rows = (field_rows){0};
}

void field_texts_free(field_texts *texts)
{
    for (size_t i = 0; i < texts->count; i++)
        free(texts->items[i]);
    free(texts->items);
    *texts = (field_texts){0};
}

void study_sheet_free(study_sheet *sheet)
{
    for (size_t i = 0; i < sheet->factor_count; i++) {
        field_texts_free(&sheet->factors[i].values);
        field_texts_free(&sheet->factors[i].files);
    }
    free(sheet->factors);
    field_texts_free(&sheet->set);
    field_texts_free(&sheet->outputs);
    field_texts_free(&sheet->series.outputs);
    sheet->factors = NULL;
    sheet->factor_count = 0;
}

/* ------------------------------------------------------------------ paths */

static void path_append(field_path *path, const char *key, size_t index)
{
    size_t room = sizeof path->text - path->length;
    int n = key ? snprintf(path->text + path->length, room, "%s%s", path->length ? "." : "", key)
                : snprintf(path->text + path->length, room, "[%zu]", index);
    path->length += n < 0 ? 0 : (size_t)n < room ? (size_t)n : room - 1;
}

size_t field_path_key(field_path *path, const char *key)
{
    size_t before = path->length;
    path_append(path, key, 0);
    return before;
}

size_t field_path_index(field_path *path, size_t index)
{
    size_t before = path->length;
    path_append(path, NULL, index);
    return before;
}

void field_path_cut(field_path *path, size_t length)
{
    path->length = length;
    path->text[length] = '\0';
}

/* ------------------------------------------------------------------ one field */

bool field_used(const field *f, const void *object)
{
    return !f->used || f->used(object);
}

bool field_needed(const field *f, const void *object)
{
    return f->needed ? f->needed(object) : (f->flags & FIELD_REQUIRED) != 0;
}

dimension field_table_dimension(const void *object)
{
    return drive_is_motion(object) ? DIMENSION_ANGLE : DIMENSION_TORQUE;
}

bool field_allows(const field *f, double value)
{
    if (isnan(value))
        return (f->flags & FIELD_OPEN) != 0;
    bool high_enough = f->flags & FIELD_ABOVE ? value > f->min : value >= f->min;
    bool low_enough = f->flags & FIELD_BELOW ? value < f->max : value <= f->max;
    return high_enough && low_enough;
}

void field_range(const field *f, char *text, size_t size)
{
    const unit *u = unit_find(f->unit ? f->unit : "", f->dim);
    char low[64], high[64];
    text_from_limit(unit_from_si(u, f->min), low);
    quantity_write_short(f->max, u, high, sizeof high);
    snprintf(text, size, "%s %s and %s %s", f->flags & FIELD_ABOVE ? "above" : "at least", low,
             f->flags & FIELD_BELOW ? "below" : "at most", high);
}

size_t field_word_count(const field *f)
{
    size_t count = 0;
    while (f->words[count])
        count++;
    return count;
}

void field_words(const field *f, char *text, size_t size)
{
    size_t used = 0, left = 0;
    for (size_t i = 0; f->words[i]; i++)
        left += f->words[i][0] != '\0';
    text[0] = '\0';
    for (size_t i = 0; f->words[i] && used < size; i++) {
        if (!f->words[i][0])
            continue;
        left--;
        const char *gap = used == 0 ? "" : left ? ", " : " or ";
        int n = snprintf(text + used, size - used, "%s%s", gap, f->words[i]);
        used += n > 0 ? (size_t)n : 0;
    }
}

/* ------------------------------------------------------------------ checking a struct */

static caber_status check_number(const field *f, double value, const field_path *path,
                                 caber_message *message)
{
    if (field_allows(f, value))
        return CABER_OK;
    char range[160], given[64];
    field_range(f, range, sizeof range);
    if (!isfinite(value))
        return message_set(message, CABER_BAD_INPUT,
                           "%s: a number that is not finite is not allowed; it must be %s",
                           path->text, range);
    quantity_write_short(value, unit_find(f->unit, f->dim), given, sizeof given);
    return message_set(message, CABER_BAD_INPUT, "%s: %s is not allowed; it must be %s", path->text,
                       given, range);
}

static caber_status check_word(const field *f, const void *at, const field_path *path,
                               caber_message *message)
{
    unsigned value; /* how an enum without negative values is stored */
    _Static_assert(sizeof(caber_drive) == sizeof value && sizeof(caber_hand) == sizeof value &&
                       sizeof(caber_order) == sizeof value && sizeof(caber_bore) == sizeof value,
                   "enums are stored as unsigned");
    memcpy(&value, at, sizeof value);
    if (value < field_word_count(f) && f->words[value][0])
        return CABER_OK;
    char words[160];
    field_words(f, words, sizeof words);
    return message_set(message, CABER_BAD_INPUT, "%s: %s is not allowed; it must be %s", path->text,
                       value < field_word_count(f) ? all_drives[value] : "this value", words);
}

static caber_status check_text(const field *f, const char *at, const field_path *path,
                               caber_message *message)
{
    size_t size = (size_t)f->max;
    size_t length = strnlen(at, size);
    if (length < size && text_utf8_end(at, length) == length)
        return CABER_OK;
    return message_set(message, CABER_BAD_INPUT, "%s: must be UTF-8 of at most %zu bytes",
                       path->text, size - 1);
}

static caber_status check_list(const field *f, const char *object, field_path *path,
                               caber_message *message)
{
    size_t count;
    const char *items;
    memcpy(&count, object + f->count_offset, sizeof count);
    memcpy(&items, object + f->offset, sizeof items);
    if ((double)count < f->min || (double)count > f->max || (count && !items))
        return message_set(message, CABER_BAD_INPUT,
                           "%s: %zu entries are not allowed; there must be at least %g and at most "
                           "%g",
                           path->text, count, f->min, f->max);
    for (size_t i = 0; i < count; i++) {
        size_t before = field_path_index(path, i);
        caber_status status = fields_check(f->group, items + i * f->item_size, path, message);
        if (status != CABER_OK)
            return status;
        field_path_cut(path, before);
    }
    return CABER_OK;
}

/* Largest value of a table: generous, but no number that overflows once it is squared. */
static const double table_most = 1e5;

static caber_status check_table_row(const caber_table *table, size_t i, const field_path *path,
                                    caber_message *message)
{
    if (!isfinite(table->time[i]) || fabs(table->time[i]) > table_most ||
        !isfinite(table->value[i]) || fabs(table->value[i]) > table_most)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: row %zu: times and values must be finite and at most %g",
                           path->text, i + 1, table_most);
    if (i > 0 && table->time[i] <= table->time[i - 1])
        return message_set(message, CABER_BAD_INPUT,
                           "%s: row %zu: time %g s does not ascend; it must be above %g s",
                           path->text, i + 1, table->time[i], table->time[i - 1]);
    return CABER_OK;
}

static caber_status check_table(const field *f, const void *object, const void *at,
                                const field_path *path, caber_message *message)
{
    caber_table table;
    memcpy(&table, at, sizeof table);
    if (table.count == 0 && !field_needed(f, object))
        return CABER_OK;
    if (table.count && !field_used(f, object))
        return message_set(message, CABER_BAD_INPUT,
                           "%s: is not allowed with drive: %s; it needs drive: torque or motion",
                           path->text, all_drives[drive_of(object)]);
    if (table.count < FIELD_TABLE_LEAST || table.count > FIELD_TABLE_MOST || !table.time ||
        !table.value)
        return message_set(
            message, CABER_BAD_INPUT,
            "%s: %zu rows are not allowed; there must be at least %d and at most %d%s%s",
            path->text, table.count, FIELD_TABLE_LEAST, FIELD_TABLE_MOST, table.count ? "" : " ",
            table.count ? "" : f->needed_text);
    for (size_t i = 0; i < table.count; i++) {
        caber_status status = check_table_row(&table, i, path, message);
        if (status != CABER_OK)
            return status;
    }
    if (table.time[0] > 0)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: begins at %g s; it must begin at or before 0 s", path->text,
                           table.time[0]);
    return CABER_OK;
}

/* `object` is a shaft whose stations have been checked. */
static caber_status check_errors(const field *f, const void *object, const field_path *path,
                                 caber_message *message)
{
    const caber_shaft *shaft = object;
    const caber_errors *e = &shaft->errors;
    if (e->count == 0)
        return CABER_OK;
    if (!e->share || e->count > FIELD_ERRORS_MOST / shaft->station_count)
        return message_set(message, CABER_BAD_INPUT,
                           "%s: %zu components at %zu stations are not allowed; there may be at "
                           "most %d of them at all stations together",
                           path->text, e->count, shaft->station_count, FIELD_ERRORS_MOST);
    for (size_t i = 0; i < 3 * e->count * shaft->station_count; i++) {
        const field *column = &f->group->fields[ERRORS_EI + i % 3];
        if (field_allows(column, e->share[i]))
            continue;
        char range[160];
        field_range(column, range, sizeof range);
        return message_set(message, CABER_BAD_INPUT,
                           "%s: component %zu changes %s at station %zu by %g %%; it must be %s",
                           path->text, i / 3 / shaft->station_count + 1, column->name,
                           i / 3 % shaft->station_count + 1, 100 * e->share[i], range);
    }
    return CABER_OK;
}

static caber_status check_field(const field *f, const char *object, field_path *path,
                                caber_message *message)
{
    const char *at = object + f->offset;
    double number;
    int integer;
    switch (f->type) {
    case FIELD_QUANTITY:
        memcpy(&number, at, sizeof number);
        return field_used(f, object) ? check_number(f, number, path, message) : CABER_OK;
    case FIELD_INTEGER:
        memcpy(&integer, at, sizeof integer);
        return check_number(f, integer, path, message);
    case FIELD_BOOLEAN:
        return CABER_OK;
    case FIELD_WORD:
        return check_word(f, at, path, message);
    case FIELD_TEXT:
        return check_text(f, at, path, message);
    case FIELD_GROUP:
        return fields_check(f->group, at, path, message);
    case FIELD_LIST:
        return check_list(f, object, path, message);
    case FIELD_TABLE:
        return check_table(f, object, at, path, message);
    case FIELD_ROWS: /* only in a file: its reader has checked them */
    case FIELD_TEXTS:
        return CABER_OK;
    case FIELD_ERRORS:
        return check_errors(f, object, path, message);
    }
    return CABER_OK;
}

caber_status fields_check(const field_group *group, const void *object, field_path *path,
                          caber_message *message)
{
    for (size_t i = 0; i < group->count; i++) {
        size_t before = field_path_key(path, group->fields[i].name);
        caber_status status = check_field(&group->fields[i], object, path, message);
        if (status != CABER_OK)
            return status;
        field_path_cut(path, before);
    }
    return CABER_OK;
}
