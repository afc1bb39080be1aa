/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * caber: golf-shaft dynamics from a measured stiffness profile to the head at impact.
 *
 * This is the one public header. Everything in it is SI and radians; degrees, millimetres and
 * cycles a minute exist only in files and in what the program prints.
 *
 * How it is used: fill a `caber_setup` (by hand, or with caber_setup_read), build the constant
 * `caber_model` from it, make one `caber_work` a thread, and run. A model is never changed after
 * it is created, so threads may share it. The library never prints, exits or aborts: a function
 * that can fail returns a `caber_status` and writes a sentence into the caller's `caber_message`
 * (which may be NULL).
 *
 * Frames (right-handed golfer; a left-handed one is the mirror image in the target line's
 * vertical plane across it):
 *   swing plane (X, Y, Z): origin at the hub; X horizontal towards the target, Y up the slope of
 *     the plane, Z its normal, away from the golfer. Up is U = sin(incl) Y + cos(incl) Z.
 *   handle (e1, e2, e3): e1 along the straight shaft from butt to tip, e2 where the face looks,
 *     e3 towards the toe.
 *   tip: the handle frame carried along the bent and twisted shaft.
 *   head (forward, up, toe): the head soled at its lie; forward = e2, up and toe turned from
 *     (-e1, e3) by the lie about e2. Origin: the end of the flexible shaft, where it enters the
 *     hosel.
 */
#ifndef CABER_H
#define CABER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__)
#define CABER_API __attribute__((visibility("default")))
#else
#define CABER_API
#endif

/* Standard gravity, m/s2. Source: CGPM 1901, exact by definition. */
#define CABER_GRAVITY 9.80665

/* ------------------------------------------------------------------ status and messages */

/* X(symbol, text): every way in which a call can end. */
#define CABER_STATUS_LIST(X)                                                                       \
    X(CABER_OK, "fine")                                                                            \
    X(CABER_BAD_INPUT, "a value in the input is not allowed")                                      \
    X(CABER_IO_ERROR, "a file could not be read or written")                                       \
    X(CABER_NO_MEMORY, "out of memory")                                                            \
    X(CABER_BALL_NOT_REACHED, "the head never reached the ball")                                   \
    X(CABER_SHAFT_WRAPPED, "the shaft bent further than a shaft can")                              \
    X(CABER_NO_EQUILIBRIUM, "no static start was found")                                           \
    X(CABER_NOT_CONVERGED, "a solver did not converge")                                            \
    X(CABER_INTERNAL, "an internal error")                                                         \
    X(CABER_STOPPED, "stopped before its end, as was wished")

typedef enum caber_status {
#define CABER_STATUS_ENUM(symbol, text) symbol,
    CABER_STATUS_LIST(CABER_STATUS_ENUM)
#undef CABER_STATUS_ENUM
} caber_status;

/* A sentence for the person at the keyboard; empty after CABER_OK. */
typedef struct caber_message {
    char text[1024];
} caber_message;

/* Who watches a long run; all 0 = nobody. `progress` is told how many of its swings or draws are done, by
 * the threads that share them, also by several at once; when it returns false the run ends with
 * CABER_STOPPED. */
typedef struct caber_watch {
    bool (*progress)(void *user, size_t done, size_t total);
    void *user;
} caber_watch;

/* Given a status; returns its constant text (never NULL). */
CABER_API const char *caber_status_text(caber_status status);
/* Returns the library's version, "major.minor.patch". */
CABER_API const char *caber_version(void);

/* ------------------------------------------------------------------ the shaft as measured */

enum { CABER_NAME_SIZE = 96, CABER_NOTE_SIZE = 512 };

/* One row of a measured profile. */
typedef struct caber_station {
    double at;   /* m from the tip of the uncut shaft */
    double ei;   /* N m2, bending stiffness; with ei_2 > 0 the larger or first principal one */
    double ei_2; /* N m2, the other principal bending stiffness; 0 = the same as ei */
    double
        ei_angle; /* rad, about e1, from the lead direction e2 to the bending direction of `ei` */
    double gj;    /* N m2, torsional stiffness */
    double mass;  /* kg/m */
    double diameter; /* m, outside */
} caber_station;

/* The errors of a measured profile as independent components: the logarithms of EI, GJ and mass at
 * station i are off by sum_k z_k share[k][i][0..2], each z_k of mean 0 and standard deviation 1. So
 * errors of neighbouring stations, which were read together, stay together. */
typedef struct caber_errors {
    size_t count;  /* components */
    double *share; /* 1, [count][station_count][3]: of EI (both), GJ, mass; owned */
} caber_errors;

typedef struct caber_shaft {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    double length;           /* m, uncut, tip to butt; the stations must reach from 0 to it */
    double density;          /* kg/m3 of the wall, for the shaft's own turning inertia */
    double damping;          /* 1, damping ratio of every mode */
    size_t station_count;    /* at least 2 */
    caber_station *stations; /* ascending `at`; owned by the shaft */
    caber_errors errors;     /* how well the stations are known; empty = as if exactly */
} caber_shaft;

/* A change of the profile between two distances from the tip of the uncut shaft. */
typedef struct caber_section {
    double from, to;   /* m from the tip, from < to */
    double ei_scale;   /* 1 */
    double gj_scale;   /* 1 */
    double mass_scale; /* 1 */
} caber_section;

typedef struct caber_sections {
    size_t count;
    caber_section *items; /* owned */
} caber_sections;

/* ------------------------------------------------------------------ head, grip, build */

/* A mass on the head, such as a movable weight: a point, since its inertia about its own centre is a
 * thousandth of the head's. */
typedef struct caber_weight {
    double mass;  /* kg */
    double at[3]; /* m from the hosel end of the flexible shaft, head frame */
} caber_weight;

typedef struct caber_weights {
    size_t count;
    caber_weight *items; /* owned */
} caber_weights;

/* Vectors and the inertia are in the head frame (forward, up, toe) as soled at `lie`; mass, centre and
 * inertia are without the weights. */
typedef struct caber_head {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    double mass;              /* kg */
    double loft;              /* rad, face normal above the horizontal */
    double lie;               /* rad, shaft axis above the horizontal */
    double face_angle;        /* rad, positive open */
    double bulge, roll;       /* m, radii of the face, heel-toe and up-down; 0 = flat */
    double restitution;       /* 1, of the middle of the face and a ball, when the two meet at
                                 restitution_speed */
    double restitution_speed; /* m/s, along the normal */
    double restitution_loss;  /* s/m, by which a m/s more lowers it */
    double friction;          /* 1, Coulomb's, between face and ball */
    double centre_of_mass[3]; /* m from the hosel end of the flexible shaft */
    double face_centre[3];    /* m from the same point */
    double inertia[6];        /* kg m2 about the centre of mass:
                                 ff, uu, tt, fu, ft, ut (products as matrix elements, I_fu = -integral f u dm) */
    double sole_up,
        sole_toe; /* m from the same point to where the soled head meets the ground; up is
                                 below 0, or both are 0: not known */
    caber_weights weights;
} caber_head;

typedef struct caber_grip {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    double mass;           /* kg */
    double length;         /* m from the butt end */
    double centre_of_mass; /* m from the butt end; mass per length varies linearly to match;
                              must lie between length/3 and 2 length/3; 0 = the middle */
    double diameter;       /* m, mean outside */
    double cap;            /* m that its closed end stands beyond the butt of the shaft */
} caber_grip;

/* Which cut is made as given where a club's length is wanted; the other is then made to that length.
 * Of two clubs of one length the one tipped more is stiffer: the profile moves with the cut. */
typedef enum caber_order { CABER_TIP_FIRST, CABER_BUTT_FIRST } caber_order;

/* A blind bore ends in the hosel. Through a through bore the shaft goes on to the sole, where it is
 * cut flush: then head.sole decides how deep it sits. In both the shaft bends as far as the hosel's
 * mouth and is rigid with the head beyond. */
typedef enum caber_bore { CABER_BLIND, CABER_THROUGH } caber_bore;

/* The ring on the shaft above the hosel; its shaft bends by some hundredths of a millimetre, so it is
 * rigid with the head, on the shaft's surface. */
typedef struct caber_ferrule {
    double mass;   /* kg; 0 = none */
    double length; /* m */
    double at;     /* m up the shaft from the hosel's mouth to its lower end */
} caber_ferrule;

/* A weight in the shaft's tip or the hosel, on the axis. */
typedef struct caber_hosel_weight {
    double mass;  /* kg; 0 = none */
    double depth; /* m from the hosel's mouth; 0 = the middle of the shaft in the hosel */
} caber_hosel_weight;

/* Tape under the grip, as long as it, beyond what the grip's mass and diameter take in. Each layer
 * moves the grip outwards by its thickness. */
typedef struct caber_tape {
    int layers;
    double mass;      /* kg/m of one layer */
    double thickness; /* m of one layer */
} caber_tape;

/* An adjustable hosel: its bore is tilted, and the head turns with it as one rigid body. `direction`
 * is the side of the head that is lifted: 0 = the face (more loft), a quarter turn = the toe (more
 * upright), a half turn = the back, three quarters = the heel. */
typedef struct caber_sleeve {
    double tilt;      /* rad; 0 = as the head is given */
    double direction; /* rad, about the shaft from the face towards the toe */
    double pivot;     /* m from the hosel's mouth to where both axes cross */
} caber_sleeve;

/* How shaft, head and grip become a club. */
typedef struct caber_build {
    double tip_trim;   /* m cut from the tip */
    double butt_trim;  /* m cut from the butt */
    double insertion;  /* m of the cut shaft inside a blind hosel, rigid with the head */
    double hold;       /* m from the butt to the hands' hinge; the shaft bends beyond it */
    double length;     /* m, caber_bench.length wanted: the later cut follows from it, and must be
                          given as 0. 0 = none wanted, both cuts are as given */
    caber_order order; /* of the cuts; counts only with a wanted length */
    caber_bore bore;
    caber_ferrule ferrule;
    caber_hosel_weight hosel_weight;
    caber_tape tape;
    caber_sleeve sleeve;
} caber_build;

/* ------------------------------------------------------------------ the player */

typedef enum caber_hand { CABER_RIGHT, CABER_LEFT } caber_hand;

typedef enum caber_drive {
    CABER_TORQUE, /* a torque program or table; the motion is an output */
    CABER_MOTION, /* a table of angle; the torque is an output */
    CABER_GEAR,   /* roll only: geared to the club angle */
    CABER_LOCKED  /* held at its start angle; the torque is an output */
} caber_drive;

/* time, value rows; owned by the struct it stands in. time ascends. */
typedef struct caber_table {
    size_t count;  /* 0 = no table; else at least 4 */
    double *time;  /* s */
    double *value; /* N m, or rad */
} caber_table;

/* Hub (shoulders). Torque: peak (1 - exp(-t/rise)) (1 - thetad/omega_max), the linear
 * torque-speed law of Sprigings & Neal (2000), J. Appl. Biomech. 16:356. A table replaces the
 * program: N m for torque, arm angle (rad) for motion. */
typedef struct caber_hub_load {
    caber_drive drive;
    double peak;      /* N m */
    double rise;      /* s */
    double omega_max; /* rad/s */
    caber_table table;
} caber_hub_load;

/* Grip (wrist): the couple of the hands on the handle about Z, reacted on the arms.
 *   T(t) = peak S((t-onset)/rise) (1 - S((t-release)/fall)) + late S((t-late_onset)/late_rise),
 *   S the quintic smoothstep. A table replaces the program: N m, or cock (rad) for motion. */
typedef struct caber_grip_load {
    caber_drive drive;
    double peak;       /* N m */
    double onset;      /* s */
    double rise;       /* s */
    double release;    /* s */
    double fall;       /* s */
    double late;       /* N m, usually negative */
    double late_onset; /* s */
    double late_rise;  /* s */
    caber_table table;
} caber_grip_load;

/* Roll of the handle about its own axis. Gear: gamma = top erf(sqrt(pi)/2 closing (square - beta)/top):
 * nearly `top` early, 0 with slope -closing when the club angle beta reaches `square`.
 * A table gives N m (torque) or roll angle, rad (motion). */
typedef struct caber_roll_load {
    caber_drive drive;
    double top;     /* rad, roll at the top; start angle for a torque-driven or locked roll */
    double closing; /* rad of roll per rad of club rotation at square */
    double square;  /* rad, the club angle at which roll is 0 */
    caber_table table;
} caber_roll_load;

/* Couples on the hands when the cock goes beyond `cock`: a one-sided spring that starts smoothly
 * over `width`, and a damper that grows with it. stiffness 0 = no stop. */
typedef struct caber_stop {
    double cock;      /* rad, negative */
    double stiffness; /* N m/rad */
    double width;     /* rad */
    double damping;   /* N m s/rad */
} caber_stop;

typedef struct caber_load {
    caber_hub_load hub;
    caber_grip_load grip;
    caber_roll_load roll;
    caber_stop stop;
} caber_load;

/* What a player's swings differ in. Those in per cent multiply: the value is that of the load times
 * exp(sd z), with z of mean 0 and standard deviation 1; the others are added.
 * X(symbol, member, SI unit, dimension, printed unit, most in SI, what varies) */
/* clang-format off */
#define CABER_HABIT_LIST(X)                                                                          \
    X(CABER_HABIT_RISE, rise, "1", NONE, "%", 1, "how long the couple of the hands takes to rise")           \
    X(CABER_HABIT_PEAK, peak, "1", NONE, "%", 1, "the couple of the hands in transition")                    \
    X(CABER_HABIT_RELEASE, release, "s", TIME, "ms", 0.1, "when that couple begins to fall and the late one to rise")                 \
    X(CABER_HABIT_HUB, hub, "1", NONE, "%", 1, "the torque of the shoulders")                                \
    X(CABER_HABIT_ARM, arm, "rad", ANGLE, "deg", 30 / CABER_DEG, "the arm angle at which the downswing starts")         \
    X(CABER_HABIT_SQUARE, square, "rad", ANGLE, "deg", 30 / CABER_DEG, "the club angle at which the face is square")    \
    X(CABER_HABIT_DIRECTION, direction, "rad", ANGLE, "deg", 30 / CABER_DEG, "the direction of the swing plane, turned about the ball")       \
    X(CABER_HABIT_AHEAD, ahead, "m", LENGTH, "mm", 0.2, "where the ball lies, towards the target")           \
    X(CABER_HABIT_OUT, out, "m", LENGTH, "mm", 0.2, "where the ball lies, away from the golfer")             \
    X(CABER_HABIT_HEIGHT, height, "m", LENGTH, "mm", 0.2, "how high the ball meets the face")
/* clang-format on */

typedef enum caber_habit {
#define CABER_HABIT_ENUM(symbol, member, si, dimension, unit, most, text) symbol,
    CABER_HABIT_LIST(CABER_HABIT_ENUM)
#undef CABER_HABIT_ENUM
        CABER_HABITS
} caber_habit;

/* Two of them that go together. */
typedef struct caber_pairing {
    caber_habit of, with; /* not the same */
    double correlation;   /* -1..1 */
} caber_pairing;

/* How a player's swings differ from one to the next: standard deviations and correlations. */
typedef struct caber_repeat {
#define CABER_HABIT_MEMBER(symbol, member, si, dimension, unit, most, text)                        \
    double member; /* in the unit of the list; 0 = always the same */
    CABER_HABIT_LIST(CABER_HABIT_MEMBER)
#undef CABER_HABIT_MEMBER
    size_t pairing_count;
    caber_pairing *pairings; /* those that are not there have the correlation 0; owned */
} caber_repeat;

/* Where on the face the ball is struck. */
typedef enum caber_strike {
    CABER_CENTRED, /* in the middle: the player stands so that this club, swung as usual, does that */
    CABER_PLACED   /* where the ball lies as ball_ahead, ball_down and ball_out have it */
} caber_strike;

typedef struct caber_player {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    caber_hand handed;
    double arm_length;       /* m, hub to hands */
    double arm_inertia;      /* kg m2, about the hub */
    double arm_mass;         /* kg, for its weight only */
    double arm_centre;       /* m from the hub to the arms' centre of mass */
    double inclination;      /* rad, of the swing plane above the ground */
    double direction;        /* rad, of the plane about the vertical; positive in-to-out */
    double start_arm;        /* rad, arm angle theta at t = 0 */
    double start_cock;       /* rad, cock at t = 0 */
    double start_arm_speed;  /* rad/s */
    double start_cock_speed; /* rad/s */
    double ball_ahead;       /* m towards the target from the hub */
    double ball_down; /* m down the slope of the plane from the hub; NAN = where a straight club
                          meets it in the middle of the face */
    double ball_out;  /* m along Z; NAN = as above */
    caber_strike strike;
    caber_load load;
    caber_repeat repeat;
} caber_player;

/* ------------------------------------------------------------------ ball and air */

/* Published sets of the drag and lift of golf balls, with the range in which each was measured. */
typedef enum caber_coefficients {
    CABER_BEARMAN_HARVEY, /* Bearman & Harvey 1976, wind tunnel, a table */
    CABER_SMITS_SMITH,    /* Smits & Smith 1994, wind tunnel, fitted formulas */
    CABER_LYU,            /* Lyu et al. 2018, fitted formulas */
    CABER_COEFFICIENT_SETS
} caber_coefficients;

typedef struct caber_ball {
    double mass;                     /* kg */
    double diameter;                 /* m */
    double inertia;                  /* 1, moment of inertia over mass times radius squared */
    caber_coefficients coefficients; /* by which it flies */
} caber_ball;

/* The air over the course, the same at every height. */
typedef struct caber_air {
    double temperature; /* K */
    double altitude;    /* m, of the course; counts only where the pressure is NAN */
    double pressure;    /* Pa, as a barometer there reads; NAN = that of the standard atmosphere */
    double humidity;    /* 1, relative */
    double wind_along;  /* m/s, towards the target: a tail wind is positive */
    double wind_across; /* m/s, positive from left to right as one looks to the target */
} caber_air;

/* Returns a ball as heavy and as small as the Equipment Rules let it be, a uniform sphere that flies by
 * Bearman & Harvey. */
CABER_API caber_ball caber_ball_default(void);
/* Returns still, dry air of the standard atmosphere at sea level: 15 degC, 1013.25 hPa. */
CABER_API caber_air caber_air_default(void);

/* ------------------------------------------------------------------ settings and setup */

typedef struct caber_settings {
    int modes;    /* retained modes; defaults from caber_settings_default */
    int stations; /* mass stations along the shaft, at least half as many as modes */
    int elements; /* least number of finite elements; 0 = chosen until six frequencies hold to 1e-4 */
    double ceiling; /* Hz: modes above it are slowed to it by extra modal inertia, which keeps what
                          they give to the load and halves the time; 0 = none are */
    double tolerance;  /* relative tolerance of the integrator */
    bool gravity;      /* whether weight acts */
    double until;      /* s: stop then, without a ball; 0 = until the ball is met */
    double time_limit; /* s: give up when the ball has not been met by then */
    double sample;     /* s between rows of a trace */
} caber_settings;

/* Returns the tested defaults. */
CABER_API caber_settings caber_settings_default(void);

typedef struct caber_setup {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    caber_shaft shaft;
    caber_sections sections;
    caber_head head;
    caber_grip grip;
    caber_build build;
    caber_player player;
    caber_ball ball;
    caber_air air;
    caber_settings settings;
} caber_setup;

/* Given the path of a setup file and `override_count` texts "path=value"; returns a new setup to
 * be freed with caber_setup_free. Errors name file, line, column and field. */
CABER_API caber_status caber_setup_read(const char *path, const char *const *overrides,
                                        size_t override_count, caber_setup **out,
                                        caber_message *message);
/* Frees a setup made by caber_setup_read and all it owns; NULL is allowed. */
CABER_API void caber_setup_free(caber_setup *setup);

/* ------------------------------------------------------------------ studies */

/* A setup, what is varied in it and how, as a study file says it. Opaque. */
typedef struct caber_study caber_study;

/* Given the path of a study file and `override_count` texts "path=value" for the setup that it varies;
 * reads it with all files it names, makes its cases and checks that they are setups (of more than 20000
 * cases as many, evenly spread). Returns a study to be freed with caber_study_free. Errors name file, line,
 * column and field. */
CABER_API caber_status caber_study_read(const char *path, const char *const *overrides,
                                        size_t override_count, caber_study **out,
                                        caber_message *message);
/* NULL is allowed. */
CABER_API void caber_study_free(caber_study *study);

/* ------------------------------------------------------------------ the model and the swing */

/* Everything that stays constant through a swing. Opaque. */
typedef struct caber_model caber_model;
/* What one thread needs to run swings of one model. Opaque. */
typedef struct caber_work caber_work;

/* Given a setup, which may be freed or changed afterwards; returns a new model. Checks every
 * value that the file reader checks, so setups filled by hand are safe too. */
CABER_API caber_status caber_model_create(const caber_setup *setup, caber_model **out,
                                          caber_message *message);
CABER_API void caber_model_free(caber_model *model);

/* Given a model, which must outlive the work; returns new work space for one thread. */
CABER_API caber_status caber_work_create(const caber_model *model, caber_work **out,
                                         caber_message *message);
CABER_API void caber_work_free(caber_work *work);

/* What the head does at impact and how the handle was loaded. The strike is where the face meets a
 * ball placed as caber_player says: by default for a straight club, so that droop and lead show.
 * X(member, SI unit, factor to the printed unit, printed name with its unit as suffix, printed unit,
 *   decimals, label, meaning, scope)
 * scope: B = of the bent club only, S = of the straight club too.
 * Signs: lead, closing, open (face angle), in-to-out (path), upright (lie), toe side and high are positive. */
/* clang-format off */
#define CABER_IMPACT_FIELDS(X)                                                                                                   \
    X(head_speed, "m/s", 1, "head_speed_mps", "m/s", 2, "head speed", "of the head's centre of mass", S)                           \
    X(shaft_speed_gain, "m/s", 1, "shaft_speed_gain_mps", "m/s", 2, "from the shaft", "head speed beyond the straight club's", B)   \
    X(downswing_time, "s", 1, "downswing_time_s", "s", 4, "downswing time", "from the start to impact", B)                         \
    X(lead_deflection, "m", 1e3, "lead_deflection_mm", "mm", 1, "lead", "tip ahead of the handle axis", B)           \
    X(droop, "m", 1e3, "droop_mm", "mm", 1, "droop", "tip below the handle axis, toe down", B)                                     \
    X(tip_twist, "rad", CABER_DEG, "tip_twist_deg", "deg", 2, "twist", "of the tip about its axis, closing", B)                       \
    X(lead_slope, "rad", CABER_DEG, "lead_slope_deg", "deg", 2, "lead slope", "of the tip, towards the target", B)                  \
    X(droop_slope, "rad", CABER_DEG, "droop_slope_deg", "deg", 2, "droop slope", "of the tip, toe down", B)                        \
    X(delivered_loft, "rad", CABER_DEG, "delivered_loft_deg", "deg", 2, "delivered loft", "face above the horizontal", S)          \
    X(loft_change, "rad", CABER_DEG, "loft_change_deg", "deg", 2, "loft change", "against the straight club", B)                   \
    X(loft_from_lead, "rad", CABER_DEG, "loft_from_lead_deg", "deg", 2, "  from lead", "share of lead bending", B)                 \
    X(loft_from_droop, "rad", CABER_DEG, "loft_from_droop_deg", "deg", 2, "  from droop", "share of droop", B)                     \
    X(loft_from_twist, "rad", CABER_DEG, "loft_from_twist_deg", "deg", 2, "  from twist", "share of twist", B)                     \
    X(face_angle, "rad", CABER_DEG, "face_angle_deg", "deg", 2, "face angle", "where the face looks, open positive", S)          \
    X(face_rotation, "rad", CABER_DEG, "face_rotation_deg", "deg", 2, "face rotation", "by the shaft, closing positive", B)        \
    X(face_from_lead, "rad", CABER_DEG, "face_from_lead_deg", "deg", 2, "  from lead", "share of lead bending", B)                 \
    X(face_from_droop, "rad", CABER_DEG, "face_from_droop_deg", "deg", 2, "  from droop", "share of droop", B)                     \
    X(face_from_twist, "rad", CABER_DEG, "face_from_twist_deg", "deg", 2, "  from twist", "share of twist", B)                     \
    X(delivered_lie, "rad", CABER_DEG, "delivered_lie_deg", "deg", 2, "delivered lie", "sole to the ground, toe up positive", S) \
    X(lie_change, "rad", CABER_DEG, "lie_change_deg", "deg", 2, "lie change", "toe up positive, against the straight", B)     \
    X(lie_from_lead, "rad", CABER_DEG, "lie_from_lead_deg", "deg", 2, "  from lead", "share of lead bending", B)                   \
    X(lie_from_droop, "rad", CABER_DEG, "lie_from_droop_deg", "deg", 2, "  from droop", "share of droop", B)                       \
    X(lie_from_twist, "rad", CABER_DEG, "lie_from_twist_deg", "deg", 2, "  from twist", "share of twist", B)                       \
    X(closure_rate, "rad/s", CABER_DEG, "closure_rate_deg_s", "deg/s", 0, "closure rate", "how fast the face closes", S)           \
    X(attack_angle, "rad", CABER_DEG, "attack_angle_deg", "deg", 2, "attack angle", "head's travel above the horizontal", S)       \
    X(path, "rad", CABER_DEG, "path_deg", "deg", 2, "path", "head's travel, in-to-out positive", S)                                \
    X(strike_toe, "m", 1e3, "strike_toe_mm", "mm", 1, "strike, toe side", "off centre, ball as for a straight club", B)                   \
    X(strike_high, "m", 1e3, "strike_high_mm", "mm", 1, "strike, high", "off centre, ball as for a straight club", B)                     \
    X(handle_lean, "rad", CABER_DEG, "handle_lean_deg", "deg", 2, "handle lean", "handle ahead of vertical, in the plane", S)   \
    X(hands_ahead, "m", 1e3, "hands_ahead_mm", "mm", 1, "hands ahead", "hands towards the target from the ball", B)                \
    X(hands_height, "m", 1e3, "hands_height_mm", "mm", 1, "hands height", "hands above the middle of the face", B)                    \
    X(arm_angle, "rad", CABER_DEG, "arm_angle_deg", "deg", 2, "arm angle", "0 hanging, positive to the target", S)                 \
    X(peak_lag, "m", 1e3, "peak_lag_mm", "mm", 1, "peak lag", "furthest the tip trailed in the plane", B)                       \
    X(peak_lag_time, "s", 1, "peak_lag_time_s", "s", 4, "  at", "time from the start", B)                                          \
    X(peak_handle_moment, "N m", 1, "peak_handle_moment_nm", "N m", 2, "peak handle moment", "largest bending load at the hands", B) \
    X(peak_handle_moment_time, "s", 1, "peak_handle_moment_time_s", "s", 4, "  at", "time from the start", B)                      \
    X(peak_load_rate, "N m/s", 1, "peak_load_rate_nm_s", "N m/s", 0, "peak load rate", "how quickly that moment grew", B)          \
    X(grip_force, "N", 1, "grip_force_n", "N", 0, "grip force", "largest, between hands and club", B)                         \
    X(strain_energy_peak, "J", 1, "strain_energy_peak_j", "J", 2, "peak strain energy", "stored in the shaft", B)                  \
    X(energy_share_butt, "1", 1, "energy_share_butt", "", 3, "  butt third", "share of it", B)                                     \
    X(energy_share_middle, "1", 1, "energy_share_middle", "", 3, "  middle third", "share of it", B)                               \
    X(energy_share_tip, "1", 1, "energy_share_tip", "", 3, "  tip third", "share of it", B)                                        \
    X(bend_point, "m", 1, "bend_point_m", "m", 3, "bend point", "from the tip, at the peak lag", B)                                \
    X(energy_residual, "1", 1, "energy_residual", "", -1, "energy residual", "unexplained share of the work done", B)
/* clang-format on */

typedef struct caber_impact {
#define CABER_IMPACT_MEMBER(member, si, factor, name, unit, decimals, label, meaning, scope)       \
    double member;
    CABER_IMPACT_FIELDS(CABER_IMPACT_MEMBER)
#undef CABER_IMPACT_MEMBER
} caber_impact;

/* Radians to degrees: 180/pi. */
#define CABER_DEG 57.295779513082320876798

/* One row of the table of outputs. */
typedef struct caber_field {
    const char *name;    /* as in JSON, HDF5 and CSV; its unit is its suffix */
    const char *unit;    /* as printed, "" when it has none */
    const char *label;   /* as in the text table */
    const char *meaning; /* one line */
    double factor;       /* SI value times factor is the printed value */
    int decimals;        /* in the text table; -1 = scientific */
    bool straight;       /* has a meaning for the straight club too */
    size_t offset;       /* of the double in caber_impact */
} caber_field;

/* Returns the table of the members of caber_impact, and its length in *count. */
CABER_API const caber_field *caber_impact_fields(size_t *count);
/* Given an impact and a row of the table; returns the value in the printed unit. */
CABER_API double caber_impact_value(const caber_impact *impact, const caber_field *field);

/* Effort of the integrator. */
typedef struct caber_effort {
    long steps, evaluations, error_failures, solver_failures;
} caber_effort;

/* The head as it arrives, in ground axes: towards the target, up, and to the side away from the golfer
 * (of a left-handed one in the mirror image). All an impact needs of a swing. */
typedef struct caber_arrival {
    double mass;        /* kg, of the head with what is rigid with it */
    double inertia[6];  /* kg m2 about its centre of mass: tt, uu, ss, tu, ts, us */
    double velocity[3]; /* m/s of its centre of mass */
    double spin[3];     /* rad/s */
    double speed;   /* m/s of the head's own centre of mass, without the shaft in it: head_speed */
    double face[3]; /* m from its centre of mass to the middle of the face */
    double normal[3]; /* unit, where the middle of the face looks */
    double toe[3];    /* unit, along the face, square to the normal; up the face = toe x normal */
} caber_arrival;

/* One downswing. */
typedef struct caber_swing {
    bool met_ball;         /* false when it ran to settings.until */
    caber_impact bent;     /* with the shaft as it is */
    caber_impact straight; /* a rigid club with the same handle position and speed; only the fields
                              whose `straight` is true are set, the others are 0 */
    caber_arrival head, straight_head; /* of the bent and of the straight club */
    double
        ball[3]; /* m from the hub, swing plane: where the ball of caber_impact.strike_toe lies */
    caber_effort effort;
} caber_swing;

/* ------------------------------------------------------------------ a swing through time */

/* Scalars of a trace, in the printed unit.
 * X(member, name, unit, factor, meaning) */
/* clang-format off */
#define CABER_TRACE_FIELDS(X)                                                                          \
    X(time, "time_s", "s", 1, "time from the start")                                                   \
    X(arm_angle, "arm_angle_deg", "deg", CABER_DEG, "arm, 0 hanging, positive to the target")          \
    X(club_angle, "club_angle_deg", "deg", CABER_DEG, "handle axis, same convention")                  \
    X(cock, "cock_deg", "deg", CABER_DEG, "club angle less arm angle")                                 \
    X(roll, "roll_deg", "deg", CABER_DEG, "handle about its own axis, 0 square")                       \
    X(arm_speed, "arm_speed_deg_s", "deg/s", CABER_DEG, "rate of the arm angle")                       \
    X(club_speed, "club_speed_deg_s", "deg/s", CABER_DEG, "rate of the club angle")                    \
    X(roll_speed, "roll_speed_deg_s", "deg/s", CABER_DEG, "rate of the roll")                          \
    X(lead, "lead_deflection_mm", "mm", 1e3, "tip along the face direction, lag negative")             \
    X(droop, "droop_mm", "mm", 1e3, "tip away from the toe direction")                                 \
    X(lag, "lag_mm", "mm", 1e3, "tip trailing the handle axis in the swing plane")                     \
    X(out_of_plane, "out_of_plane_mm", "mm", 1e3, "tip along the plane's normal")                      \
    X(twist, "tip_twist_deg", "deg", CABER_DEG, "of the tip about its axis, closing")                     \
    X(lead_slope, "lead_slope_deg", "deg", CABER_DEG, "slope of the tip, face direction")              \
    X(droop_slope, "droop_slope_deg", "deg", CABER_DEG, "slope of the tip, toe down")                  \
    X(hub_torque, "hub_torque_nm", "N m", 1, "on the arms at the hub")                                 \
    X(grip_couple, "grip_couple_nm", "N m", 1, "of the hands on the handle about Z, with the wrist stop") \
    X(roll_torque, "roll_torque_nm", "N m", 1, "of the hands on the handle about its axis")            \
    X(handle_moment, "handle_moment_nm", "N m", 1, "bending moment at the hands in the swing plane")   \
    X(handle_moment_out, "handle_moment_out_nm", "N m", 1, "bending moment at the hands out of the plane") \
    X(handle_twist_moment, "handle_twist_moment_nm", "N m", 1, "twisting moment at the hands")         \
    X(load_rate, "load_rate_nm_s", "N m/s", 1, "rate of handle_moment")                                \
    X(grip_force, "grip_force_n", "N", 1, "force between hands and club")                              \
    X(grip_force_along, "grip_force_along_n", "N", 1, "its part along the handle, pulling outward")    \
    X(strain_butt, "strain_energy_butt_j", "J", 1, "strain energy of the butt third")                  \
    X(strain_middle, "strain_energy_middle_j", "J", 1, "strain energy of the middle third")            \
    X(strain_tip, "strain_energy_tip_j", "J", 1, "strain energy of the tip third")                     \
    X(bend_point, "bend_point_m", "m", 1, "from the tip, furthest from the chord of the bent shaft")   \
    X(head_speed, "head_speed_mps", "m/s", 1, "of the head's centre of mass")                          \
    X(straight_head_speed, "straight_head_speed_mps", "m/s", 1, "of a straight club at the same handle position and speed") \
    X(head_ahead, "head_ahead_m", "m", 1, "face centre towards the target from the hub")               \
    X(head_up, "head_up_m", "m", 1, "face centre above the hub")                                       \
    X(head_out, "head_out_m", "m", 1, "face centre away from the golfer")                              \
    X(kinetic, "kinetic_energy_j", "J", 1, "of arms and club")                                         \
    X(potential, "potential_energy_j", "J", 1, "of weight and wrist stop")                             \
    X(strain, "strain_energy_j", "J", 1, "of the shaft")                                               \
    X(work, "work_j", "J", 1, "done by the joints")                                                    \
    X(dissipated, "dissipated_j", "J", 1, "by shaft damping and wrist stop")
/* clang-format on */

typedef struct caber_trace_row {
#define CABER_TRACE_MEMBER(member, name, unit, factor, meaning) double member;
    CABER_TRACE_FIELDS(CABER_TRACE_MEMBER)
#undef CABER_TRACE_MEMBER
} caber_trace_row;

/* A growing table, filled by caber_swing_run when one is given. */
typedef struct caber_trace {
    size_t count;          /* rows */
    caber_trace_row *rows; /* SI; owned */
    size_t place_count;    /* places along the shaft */
    double *place;         /* m from the tip, descending from the hands; owned */
    double *moment;        /* N m, [count][place_count], bending moment in the shaft; owned */
    double *curvature;     /* 1/m, [count][place_count], of bending; owned */
    /* Both m, [count][place_count], from the handle axis; owned. */
    double *trail;        /* behind it in the swing plane, as lag */
    double *out_of_plane; /* along the plane's normal, away from the golfer, as out_of_plane */
    size_t capacity;
} caber_trace;

typedef struct caber_trace_field {
    const char *name, *unit, *meaning;
    double factor;
    size_t offset; /* of the double in caber_trace_row */
} caber_trace_field;

/* Returns the table of the members of caber_trace_row, and its length in *count. */
CABER_API const caber_trace_field *caber_trace_fields(size_t *count);
/* Returns a new empty trace, or NULL when out of memory. */
CABER_API caber_trace *caber_trace_create(void);
CABER_API void caber_trace_free(caber_trace *trace);

/* Runs one downswing.
 * Given the model, work space made for it, and a trace to fill or NULL; returns the swing.
 * On CABER_BALL_NOT_REACHED the message says how far the swing came. */
CABER_API caber_status caber_swing_run(const caber_model *model, caber_work *work, caber_swing *out,
                                       caber_trace *trace, caber_message *message);

/* ------------------------------------------------------------------ the ball */

/* What the ball does after a swing.
 * X(member, SI unit, factor, printed name, printed unit, decimals, label, meaning), as
 * CABER_IMPACT_FIELDS; all of them have a meaning for the straight club too.
 * Signs: away from the golfer (to the right of the target for a right-handed one), toe side and high are
 * positive; so is a sidespin that curves the ball away from the golfer. */
/* clang-format off */
#define CABER_SHOT_FIELDS(X)                                                                                                     \
    X(struck_toe, "m", 1e3, "struck_toe_mm", "mm", 1, "struck, toe side", "off centre, toe side positive")              \
    X(struck_high, "m", 1e3, "struck_high_mm", "mm", 1, "struck, high", "off centre, high positive")                \
    X(ball_speed, "m/s", 1, "ball_speed_mps", "m/s", 2, "ball speed", "as it leaves the face")                                        \
    X(smash, "1", 1, "smash_factor", "", 3, "smash factor", "ball speed over head speed")                                             \
    X(launch_angle, "rad", CABER_DEG, "launch_angle_deg", "deg", 2, "launch angle", "above the horizontal")                           \
    X(launch_direction, "rad", CABER_DEG, "launch_direction_deg", "deg", 2, "launch direction", "off the line, away from golfer positive")                \
    X(backspin, "rad/s", CABER_RPM, "backspin_rpm", "rpm", 0, "backspin", "about the level axis across the launch")                   \
    X(sidespin, "rad/s", CABER_RPM, "sidespin_rpm", "rpm", 0, "sidespin", "square to both, fade positive")            \
    X(spin_axis, "rad", CABER_DEG, "spin_axis_deg", "deg", 2, "spin axis", "tilt of the spin, fade positive")                  \
    X(carry, "m", 1, "carry_m", "m", 1, "carry", "along the target line, to launch height")                                \
    X(carry_low, "m", 1, "carry_low_m", "m", 1, "  least", "of the published sets of drag and lift")                               \
    X(carry_high, "m", 1, "carry_high_m", "m", 1, "  most", "of the published sets of drag and lift")                               \
    X(side, "m", 1, "side_m", "m", 1, "side", "off the line, away from golfer positive")                                                   \
    X(apex, "m", 1, "apex_m", "m", 1, "apex", "its greatest height above the launch")                                                 \
    X(flight_time, "s", 1, "flight_time_s", "s", 2, "flight time", "to launch height")                                     \
    X(descent_angle, "rad", CABER_DEG, "descent_angle_deg", "deg", 1, "descent angle", "below the horizontal as it lands")
/* clang-format on */

/* Radians a second to turns a minute: 30/pi. */
#define CABER_RPM 9.5492965855137201461

typedef struct caber_shot {
#define CABER_SHOT_MEMBER(member, si, factor, name, unit, decimals, label, meaning) double member;
    CABER_SHOT_FIELDS(CABER_SHOT_MEMBER)
#undef CABER_SHOT_MEMBER
    /* Bit i: with set i of caber_coefficients the ball flew outside the range in which that was measured;
     * there its coefficients are held at the edge, but below the least spin the lift falls with it. */
    unsigned outside;
} caber_shot;

/* Returns the table of the numbers of caber_shot, with offsets into it, and its length in *count. */
CABER_API const caber_field *caber_shot_fields(size_t *count);
/* Given a shot and a row of the table; returns the value in the printed unit. */
CABER_API double caber_shot_value(const caber_shot *shot, const caber_field *field);
/* Given a set; returns its name as in a file ("bearman-harvey"), where it is from, and its range, in
 * constant texts. */
typedef struct caber_coefficients_note {
    const char *name, *source, *range;
} caber_coefficients_note;
CABER_API caber_coefficients_note caber_coefficients_about(caber_coefficients set);

/* A place on the face, from its middle. */
typedef struct caber_place {
    double toe, high; /* m */
} caber_place;

/* Given a setup and a swing of it that met its ball; returns where that ball meets the face of the bent
 * club: the middle with CABER_CENTRED, else as the swing found it. */
CABER_API caber_place caber_shot_place(const caber_setup *setup, const caber_swing *swing);
/* Given a setup, a head as it arrives and where on its face the ball lies; returns the impact and the
 * flight. The head is free for the time of the impact, and the ball lands at the height it left.
 * Errors: CABER_BAD_INPUT when the ball is not struck by the face (it lies beyond it, or the face moves
 * away from it), the restitution is below 0 or above 1 at the speed of the meeting, or the ball does not rise;
 * CABER_NOT_CONVERGED. */
CABER_API caber_status caber_shot_run(const caber_setup *setup, const caber_arrival *head,
                                      caber_place place, caber_shot *out, caber_message *message);

/* The ball after a swing, struck by either club: by the bent one where caber_shot_place says, by the
 * straight one in the middle of its face. */
typedef struct caber_shot_pair {
    caber_shot bent, straight;       /* of a ball that does not fly every number is NAN */
    bool bent_flies, straight_flies; /* false: not struck by the face, not rising, or no ball met */
    caber_message bent_why, straight_why; /* why it does not; empty when it does */
} caber_shot_pair;

/* Given a setup and a swing of it; returns what the ball does. A ball that does not fly is no error.
 * Errors: CABER_NO_MEMORY; CABER_NOT_CONVERGED. */
CABER_API caber_status caber_shot_pair_run(const caber_setup *setup, const caber_swing *swing,
                                           caber_shot_pair *out, caber_message *message);

/* ------------------------------------------------------------------ which part does what */

/* How many parts a shaft may be cut into for caber_sensitivity_run. */
enum { CABER_PARTS_LEAST = 2, CABER_PARTS_USUAL = 10, CABER_PARTS_MOST = 50 };

/* What 10 % more of a stiffness, EI or GJ, does to each output, in the SI unit of the output. With x
 * the logarithm of the stiffness and f the output of a whole swing to its own impact,
 *   `first` = 0.1 df/dx, what 10 % more does to first order: the changes of parts add up;
 *   `apart` = how far the two best estimates of `first`, from different steps, are from each other;
 *             `first`, extrapolated from them, is better than that;
 *   `anew`  = f at 1.1 times the stiffness less f as it is: a second swing, with all orders.
 * energy_residual, which measures the integrator, is 0 in each. */
typedef struct caber_change {
    caber_impact first, apart, anew;
} caber_change;

/* A part of the shaft, and what more stiffness there does. */
typedef struct caber_part {
    double from, to; /* m from the tip of the uncut shaft, like caber_section */
    double bends;    /* m of it between hosel and hands; the rest is rigid, and no stiffness of it
                        counts */
    caber_change ei, gj;
} caber_part;

typedef struct caber_sensitivity {
    caber_swing swing; /* with the shaft as it is */
    size_t count;
    caber_part *parts; /* equally long, from the cut tip to the cut butt; owned */
    caber_part whole;  /* the cut shaft: all parts at once */
} caber_sensitivity;

/* Given a setup, the number of parts to cut its shaft into, and who watches, or NULL; returns what more
 * stiffness in each of them does, to be freed with caber_sensitivity_free. It runs up to 10 swings a part (14
 * of fewer than five parts and of the whole), one after the other, at the setup's tolerance or 1e-10, whichever is
 * finer.
 * Errors: CABER_BAD_INPUT for a count out of range or a setup that cannot be swung; CABER_STOPPED; those of
 * caber_swing_run, with the part and the stiffness that made the swing fail. */
CABER_API caber_status caber_sensitivity_run(const caber_setup *setup, int parts,
                                             const caber_watch *watch, caber_sensitivity **out,
                                             caber_message *message);
CABER_API void caber_sensitivity_free(caber_sensitivity *sensitivity);

/* ------------------------------------------------------------------ how sure a figure is */

/* How many profiles may be drawn, and how many threads may share them. */
enum { CABER_DRAWS_LEAST = 200, CABER_DRAWS_USUAL = 400, CABER_DRAWS_MOST = 10000 };
enum { CABER_THREADS_MOST = 256 };

/* How the errors of a profile are drawn; defaults from caber_uncertainty_default. */
typedef struct caber_uncertainty_settings {
    int draws; /* profiles; the standard deviations found are known to 1/sqrt(2 draws) themselves */
    int seed;  /* 0 or more. Draw i depends on the seed and on i alone, so draws may be compared
                    between setups whose shaft has the same errors */
    int threads; /* that share the draws, 0 = one a processor; no figure depends on it */
    caber_watch watch;
} caber_uncertainty_settings;

/* Returns CABER_DRAWS_USUAL draws of seed 1 on all processors. */
CABER_API caber_uncertainty_settings caber_uncertainty_default(void);

/* What became of the draws. A draw fails when its profile is no shaft that the setup's checks let
 * through, or its swing or bench cannot be finished; it then counts in no spread. */
typedef struct caber_draws {
    size_t count;          /* all of them */
    size_t failed;         /* at most one in twenty, or the run is an error */
    size_t first_failed;   /* its number, from 0; 0 when none failed */
    caber_message failure; /* why that one did; empty when none failed */
} caber_draws;

/* What the errors of the profile make of every output, in the SI unit of the output: over the draws
 * their standard deviation (n - 1), their mean, and the 2.5 and 97.5 percentiles, between which 95 %
 * of them lie. Where the mean is off the value of the profile as fitted by a good part of the
 * standard deviation, the output does not follow the errors in proportion, and low and high say more
 * than the standard deviation. energy_residual, which measures the integrator, is 0 in each. A draw of
 * which something is no number that is one for the profile as fitted, or whose ball does not fly though
 * that one's does, has failed; what is not known for that either is NAN in each. */
typedef struct caber_impact_spread {
    caber_impact sd, mean, low, high;
} caber_impact_spread;

typedef struct caber_shot_spread {
    caber_shot sd, mean, low, high; /* `outside` is 0 in each */
} caber_shot_spread;

typedef struct caber_uncertainty {
    caber_swing swing;     /* with the profile as fitted: the values that the spreads belong to */
    caber_shot_pair shots; /* of that swing */
    caber_draws draws;
    caber_impact_spread bent, straight;         /* straight: as in caber_swing, others 0 */
    caber_shot_spread bent_shot, straight_shot; /* NAN where the ball of `shots` does not fly */
} caber_uncertainty;

/* Given a setup whose shaft has errors; draws profiles from them, swings each, and fills *out, which
 * owns nothing. A draw multiplies EI (both), GJ and mass at station i by exp(sum_k z_k share[k][i]),
 * the z_k being its own standard normal numbers. Only the errors of the profile are drawn, nothing of
 * head, grip, build or player.
 * Errors: CABER_BAD_INPUT for settings out of range, a shaft without errors or a setup that cannot be
 * swung; those of caber_swing_run for the profile as fitted, or, when more than one draw in twenty
 * fails, for the first that does. */
CABER_API caber_status caber_uncertainty_run(const caber_setup *setup,
                                             const caber_uncertainty_settings *settings,
                                             caber_uncertainty *out, caber_message *message);

/* ------------------------------------------------------------------ all outputs of a swing */

/* A swing and what its ball does. */
typedef struct caber_outcome {
    caber_swing swing;
    bool flies; /* whether the ball was met, struck and rose; else every number of `shot` is NAN */
    caber_shot shot; /* off the bent club */
} caber_outcome;

/* Outputs are numbered: first the fields of caber_impact, of the bent club and without energy_residual,
 * which measures the integrator, then those of caber_shot. Returns how many there are. */
CABER_API size_t caber_output_count(void);
/* Given the number of an output; returns its row, one of caber_impact_fields or caber_shot_fields. */
CABER_API const caber_field *caber_output_field(size_t output);
/* Given the number of an output; returns whether it is one of caber_shot. */
CABER_API bool caber_output_of_ball(size_t output);
/* Given the name of an output, as in its row; returns its number, or the count when there is none. */
CABER_API size_t caber_output_find(const char *name);
/* Returns an output in SI. */
CABER_API double caber_outcome_number(const caber_outcome *outcome, size_t output);

/* ------------------------------------------------------------------ from swing to swing */

enum { CABER_SWINGS_LEAST = 100, CABER_SWINGS_USUAL = 400, CABER_SWINGS_MOST = 20000 };
/* How many setups are swung on the same draws. */
enum { CABER_SCATTER_MOST = 8 };

/* A habit as it is printed; constant texts. */
typedef struct caber_habit_note {
    const char *name; /* as in a file */
    const char *unit; /* of its standard deviation */
    const char *meaning;
    double factor; /* SI value times factor is the printed value */
} caber_habit_note;
CABER_API caber_habit_note caber_habit_about(caber_habit habit);
/* Given a player's habits; returns the standard deviation of one, SI. */
CABER_API double caber_habit_sd(const caber_repeat *repeat, caber_habit habit);

/* How swings are drawn and judged; defaults from caber_scatter_default. */
typedef struct caber_scatter_settings {
    int swings;     /* drawn */
    int seed;       /* 0 or more. What habit k does in swing i depends on the seed, i, k and the
                       player's figures alone, so every setup of a player gets the same swings */
    int threads;    /* that share the swings, 0 = one a processor; no figure depends on it */
    double fairway; /* m, its width, 1 to 200; its middle is the target line */
    double level;   /* 1, of every interval and verdict, 0.5 to 0.999 */
    double worth;   /* 1, 0 to 1: two standard deviations are told apart where one is larger by more
                       than this. On common swings a hundredth part of a difference shows, which no
                       player would ever notice */
    caber_watch watch;
} caber_scatter_settings;

/* Returns CABER_SWINGS_USUAL swings of seed 1 on all processors, a fairway of 30 m (common practice: most
 * are 25 to 40 m wide where a drive lands), 95 %, and a tenth: to see that much on a range takes some 400
 * balls with either club (ln 1.1 is then 1.96 standard errors of the logarithm of the ratio of two normal
 * spreads, 1/sqrt(n)). */
CABER_API caber_scatter_settings caber_scatter_default(void);

/* The percentiles that are given, in per cent: 5, 25, 50, 75, 95. */
enum { CABER_PERCENTILES = 5 };
CABER_API const double *caber_percentiles(void);

/* One output over the swings, in its SI unit. low and high are the ends of an interval of the settings'
 * level: of the mean Student's, of the standard deviation Bonett's (2006), which holds without a normal
 * distribution too. They say how well so many swings tell what ever more of them would come to, not how
 * well the model or the player is known. An angle that could pass half a turn is taken on the usual
 * swing's side.
 *
 * The split by cause. With z_k the drawn habits (mean 0, sd 1), f_k = b_k z_k + c_k (z_k^2 - 1) fitted to
 * the swings for all habits at once,
 *   share[k] = cov(f_k, y)/var(y),  own[k] = var(f_k)/var(y),  rest = 1 - sum share.
 * share adds up. It is below 0 where a habit, through its correlation with others, takes some of their
 * spread away; own is what the habit would leave alone. rest is what two habits do only together. */
typedef struct caber_spread {
    double usual; /* of the usual swing, which no habit changes */
    double mean, mean_low, mean_high;
    double sd, sd_low, sd_high;
    double percentile[CABER_PERCENTILES];
    double share[CABER_HABITS], own[CABER_HABITS]; /* 1; all 0 for an output that does not vary */
    double rest;                                   /* 1 */
} caber_spread;

/* A share of swings, and the exact binomial interval (Clopper & Pearson 1934). */
typedef struct caber_share {
    size_t count;
    double share, low, high; /* 1 */
} caber_share;

/* Where the balls land: m along the target line and off it, away from the golfer positive. */
typedef struct caber_landing {
    double carry, side;   /* m, the mean */
    double covariance[3]; /* m2: carry carry, side side, carry side; n - 1 */
    double major, minor;  /* m, standard deviations along the axes of the ellipse */
    double turn;          /* rad, -pi/2..pi/2, from the target line to the longer axis, towards
                                 the side away from the golfer */
    double scale_50,
        scale_90;   /* 1: half axes of the ellipse that holds 50 % (90 %) of landings that
                                  spread normally, over major and minor: sqrt(-2 ln 0.5 (0.1)) */
    double area_90; /* m2, of the latter */
    caber_share within_50, within_90; /* swings that did land in each */
    caber_share fairway;              /* swings whose ball landed on the fairway */
    caber_share aimed; /* the same of a player who aims so that the mean lands in its middle */
} caber_landing;

/* One setup over its swings. */
typedef struct caber_scatter_club {
    caber_outcome usual; /* the usual swing */
    caber_place place;   /* where it meets the ball */
    caber_draws
        draws;      /* what became of the swings. One fails when it cannot be finished or its ball
                                does not fly; it then counts nowhere. At most one in twenty may */
    size_t unflown; /* those of the failed that met the ball, which did not fly */
    bool *good;     /* [swings], not failed; owned */
    double *drawn;  /* 1, [swings][CABER_HABITS], z as drawn, with the correlations; owned */
    caber_outcome *outcomes; /* [swings]; those that failed are empty; owned */
    caber_spread *spreads;   /* [caber_output_count()]; owned */
    caber_landing landing;
} caber_scatter_club;

typedef enum caber_steadier {
    CABER_NOT_TOLD_APART,
    CABER_FIRST_STEADIER, /* the spread of the first setup is clearly smaller by more than `worth` */
    CABER_OTHER_STEADIER
} caber_steadier;

/* Something of another setup beside the same of the first, over the swings good in both. */
typedef struct caber_contrast {
    double value, low, high; /* low and high of the settings' level, for this figure alone */
} caber_contrast;

/* An output of another setup beside the same of the first. */
typedef struct caber_output_contrast {
    caber_contrast difference; /* of the means, other less first, SI: paired Student */
    caber_contrast ratio; /* of the standard deviations, other over first, paired; NAN where the
                                  first does not vary */
    double p;             /* of the ratio being 1 */
    /* Whether the ratio is clearly beyond `worth`, or clearly within it: never both. Bonferroni's way over
     * all outputs and other setups of the run: the chance that any of these verdicts is wrong is at most
     * 1 - level. */
    caber_steadier steadier;
    bool alike;
} caber_output_contrast;

/* Another setup beside the first. */
typedef struct caber_scatter_contrast {
    size_t pairs;                   /* swings good in both */
    caber_output_contrast *outputs; /* [caber_output_count()]; owned */
    caber_contrast area;            /* 1, of the ellipses, other over first */
    caber_contrast fairway, aimed;  /* 1, of the shares, other less first */
    /* The question asked, by the spreads of carry and side, Bonferroni's way over these alone (two, times
     * the other setups). `overall` names a setup when one of the two does and neither names the other. */
    caber_steadier carry, side, overall;
    bool carry_alike, side_alike; /* clearly within `worth` */
    bool alike;                   /* both are */
} caber_scatter_contrast;

typedef struct caber_scatter {
    caber_scatter_settings settings;
    size_t count;
    caber_scatter_club *clubs;         /* [count], in the order of the setups; owned */
    caber_scatter_contrast *contrasts; /* [count - 1], of each later setup with the first; owned */
} caber_scatter;

/* Given 1 to CABER_SCATTER_MOST setups; draws swings from the habits of each one's player, swings them and
 * flies their balls, and compares each later setup with the first; to be freed with caber_scatter_free.
 *
 * The player stands as for the usual swing with this club: the ball lies where that swing meets it as
 * caber_shot_place says, does not move, and a varied swing meets it off that. out and height move the ball
 * level away from the golfer and up. `direction` turns the plane about the ball.
 * Errors: CABER_BAD_INPUT for settings out of range, a setup that cannot be swung or whose swing is not to
 * end at the ball, and a player without habits; those of the usual swing and its shot; when more than one
 * swing in twenty fails, those of the first that does. With several setups the message says which. */
CABER_API caber_status caber_scatter_run(const caber_setup *const *setups, size_t count,
                                         const caber_scatter_settings *settings,
                                         caber_scatter **out, caber_message *message);
CABER_API void caber_scatter_free(caber_scatter *scatter);

/* ------------------------------------------------------------------ setups side by side */

enum { CABER_COMPARE_LEAST = 2, CABER_COMPARE_MOST = 6 };

/* What setups that are compared have in common. */
typedef enum caber_keep {
    CABER_KEEP_LOAD,    /* each setup is swung with the torques of its own player, as they are */
    CABER_KEEP_DELIVERY /* each later player re-tunes the swing until the head has the speed, and the
                           handle the lean, that they have at impact with the first setup */
} caber_keep;

/* How setups are compared; defaults from caber_compare_default. */
typedef struct caber_compare_settings {
    caber_keep keep;
    int swings, seed, threads; /* as in caber_scatter_settings; of the first setup */
    caber_watch watch;         /* of those swings */
} caber_compare_settings;

/* Returns CABER_KEEP_LOAD, and the swings, seed and threads of caber_scatter_default. */
CABER_API caber_compare_settings caber_compare_default(void);

/* What re-tuning came to; with CABER_KEEP_LOAD, and of the first setup, scale is 1 and all else 0. */
typedef struct caber_retuning {
    double scale;               /* 1, of load.hub.peak */
    double shift;               /* s, of load.grip.release and late_onset, later positive */
    double speed_off, lean_off; /* m/s, rad: how far both are off those of the first setup */
    int swings;                 /* that it took */
} caber_retuning;

/* A setup as it is swung. */
typedef struct caber_compared {
    caber_outcome outcome; /* of the usual swing */
    caber_message why;     /* why its ball does not fly; empty when it does */
    caber_retuning retuning;
} caber_compared;

/* An output of all setups, SI. Entry i is of setup i, and 0 for the first. */
typedef struct caber_change_of_output {
    double sd; /* from swing to swing with the first setup; NAN = not known */
    double difference[CABER_COMPARE_MOST]; /* from the first, an angle within half a turn; NAN where
                                              either has no such number */
    /* difference over sd; with no sd known over the larger of the two magnitudes. 0 where the difference
     * is, infinite where the output does not vary; NAN with the difference. */
    double times[CABER_COMPARE_MOST];
} caber_change_of_output;

typedef struct caber_comparison {
    caber_compare_settings settings;
    size_t count;
    caber_compared *setups;          /* [count], in the order given; owned */
    bool spread_known;               /* there is an sd of every output */
    caber_message no_spread;         /* why not; empty when there is */
    caber_draws draws;               /* what became of the swings that the sd is from */
    caber_change_of_output *outputs; /* [caber_output_count()]; owned */
    size_t
        *order; /* [caber_output_count()]: outputs, the largest |times| of any setup first; owned */
} caber_comparison;

/* Given CABER_COMPARE_LEAST to CABER_COMPARE_MOST setups; swings each as usual, flies its ball, and sets
 * every output of the later ones beside that of the first, and the difference beside what that output varies
 * by from swing to swing of the first setup's player; to be freed with caber_comparison_free. Without habits
 * there is no such spread. An output that varies by less than a millionth of itself counts as one that does
 * not: the integrator moves it by as much.
 * Errors: CABER_BAD_INPUT for settings out of range, a setup that cannot be swung, or, with
 * CABER_KEEP_DELIVERY, one whose hub or grip has no torque program; those of caber_swing_run and
 * caber_scatter_run; CABER_NOT_CONVERGED when re-tuning reaches no such delivery. The message says which
 * setup. */
CABER_API caber_status caber_compare_run(const caber_setup *const *setups, size_t count,
                                         const caber_compare_settings *settings,
                                         caber_comparison **out, caber_message *message);
CABER_API void caber_comparison_free(caber_comparison *comparison);

/* ------------------------------------------------------------------ the bench */

/* How many clamps and tip masses the table of frequencies may have. */
enum { CABER_JIG_MOST = 8 };

/* How the bench is set; defaults from caber_jig_default. */
typedef struct caber_jig {
    double clamp;     /* m of butt in the clamp */
    double tip_mass;  /* kg, a point on the tip of the bare cut shaft for its cpm; 0 = the club as
                            built, with head and grip */
    double torque;    /* N m, for the twist */
    double load;      /* N, across the tip, for the static bend */
    double span;      /* m, of the three-point bend */
    double span_load; /* N, in its middle */
    int mode_count;   /* frequencies to list */
    size_t clamp_count, tip_mass_count; /* of the table of frequencies; 0 = no table */
    double clamps[CABER_JIG_MOST];      /* m */
    double tip_masses[CABER_JIG_MOST];  /* kg, as tip_mass */
} caber_jig;

/* Returns the way a workshop commonly sets its bench. */
CABER_API caber_jig caber_jig_default(void);

/* What a workshop measures. All SI. */
typedef struct caber_bench {
    double frequency; /* Hz, first lead bending, as the jig is set (cpm = 60 x) */
    double
        frequency_droop; /* Hz, first droop bending; differs with two principal EI or a real head */
    double twist;        /* rad, of the cut shaft from clamp to tip under the torque */
    double tip_trim, butt_trim; /* m, as cut */
    double insertion;           /* m of shaft inside the hosel */
    double mouth_diameter;      /* m, outside, of the shaft where it enters the hosel */
    double
        length; /* m, from the end of the grip along the shaft's axis to the plane at 60 degrees to
                      it that touches the sole; NAN = not known, since head.sole is not */
    double shaft_mass;      /* kg, as cut */
    double head_mass;       /* kg, with its weights */
    double grip_diameter;   /* m, outside, over the tape */
    double club_mass;       /* kg */
    double face_length;     /* m, butt end to the middle of the face along the shaft axis; here and
                            below the butt end is that of the grip */
    double balance_point;   /* m from the butt end to the club's centre of mass */
    double swing_moment;    /* kg m, first moment about a point 14 in from the butt */
    double inertia_butt;    /* kg m2, of the club about the toe-heel axis through the butt end */
    double inertia_balance; /* kg m2, the same about its own centre of mass */
    double loft, lie, face; /* rad, of the head on its shaft held at head.lie, square but for the
                               sleeve; face open positive */
    double
        address_droop;   /* m: held at the hands at the angle at which it is soled, the head off the
                             ground: the tip under the weight of shaft and head, toe down */
    double address_lead; /* m, the same, towards the face */
    double address_lie_change, address_loft_change; /* rad: what that does to the head, toe up and
                                                       more loft positive */
    double address_face_rotation;                   /* rad, closing positive */
    double tip_deflection;                          /* m, of the bare shaft under the load */
    double tip_slope;                               /* rad */
    double bend_point;           /* m from the tip: furthest from the chord, same load */
    double bend_point_curvature; /* m from the tip: the largest curvature, same load */
    size_t span_count;           /* three-point places along the shaft */
    double span_at[64];          /* m from the tip, the middle of the span */
    double span_deflection[64];  /* m, under the load */
    double span_ei[64]; /* N m2, load span^3/(48 deflection): what such a reading would be called */
    size_t mode_count;
    double frequencies[64]; /* Hz, of the club clamped as the jig says, with its head */
    double table[CABER_JIG_MOST][CABER_JIG_MOST]; /* Hz, [clamp][tip mass], as `frequency` */
} caber_bench;

/* Given a setup and a jig; returns what a workshop would read. */
CABER_API caber_status caber_bench_run(const caber_setup *setup, const caber_jig *jig,
                                       caber_bench *out, caber_message *message);
/* How a figure stands to a limit of the Equipment Rules. */
typedef enum caber_verdict {
    CABER_RULE_UNKNOWN, /* the setup does not tell */
    CABER_RULE_WITHIN,
    CABER_RULE_BEYOND
} caber_verdict;

/* One limit, and the club's figure. A check before asking, never a ruling: those are the rules
 * bodies'. The texts are constant. */
typedef struct caber_rule {
    const char *name;  /* as in JSON; its unit is its suffix */
    const char *label; /* as in a table */
    const char *unit;  /* as printed */
    const char *text;  /* the limit in words, and what the figure is */
    double factor;     /* SI value times factor is the printed value */
    int decimals;
    double figure;      /* SI; NAN = not known */
    double least, most; /* SI; NAN = no such limit */
    double tolerance;   /* SI, of the test, which is allowed beyond `most` */
    caber_verdict verdict;
} caber_rule;

enum { CABER_RULES_COUNT = 7 };

/* Given a setup; returns CABER_RULES_COUNT rules. */
CABER_API caber_status caber_rules_check(const caber_setup *setup, caber_rule *out,
                                         caber_message *message);

/* Given a first moment about 14 in, kg m; writes a letter and points such as "D2.3".
 * Source: common practice; D0 = 213.5 oz in from memory, a point is 1.75 oz in. */
CABER_API void caber_swing_weight(double moment, char *text, size_t size);

/* As caber_uncertainty, of what a workshop would read. span_count, span_at and mode_count are those of
 * `bench` in each. */
typedef struct caber_bench_uncertainty {
    caber_bench bench; /* with the profile as fitted */
    caber_draws draws;
    caber_bench sd, mean, low, high;
} caber_bench_uncertainty;

/* As caber_uncertainty_run, for caber_bench_run. */
CABER_API caber_status caber_bench_uncertainty_run(const caber_setup *setup, const caber_jig *jig,
                                                   const caber_uncertainty_settings *settings,
                                                   caber_bench_uncertainty *out,
                                                   caber_message *message);

/* ------------------------------------------------------------------ bench readings to a profile */

/* How a reading was taken. Places are m from the tip of the uncut shaft. */
typedef enum caber_reading_kind {
    CABER_READ_SPAN,       /* two supports and a load between them: deflection, m */
    CABER_READ_CANTILEVER, /* clamped, a load across the shaft: deflection, m */
    CABER_READ_FREQUENCY,  /* clamped, a mass on the tip: frequency of free bending, Hz */
    CABER_READ_TWIST,      /* clamped, a couple about the axis: angle, rad */
    CABER_READ_MASS,       /* of the whole uncut shaft, kg */
    CABER_READ_BALANCE,    /* centre of mass of the whole uncut shaft, m from the tip */
    CABER_READ_KINDS
} caber_reading_kind;

typedef struct caber_reading {
    caber_reading_kind kind;
    double held_at; /* m, edge of the clamp; of a span the support nearer the butt */
    double rest_at; /* m, the other support of a span */
    double load_at; /* m, where the load or lever acts */
    double read_at; /* m, where the deflection or angle is read */
    double load;    /* N, N m of a twist, kg of a tip mass */
    double
        orientation; /* rad about e1 from the shaft's mark to the direction of the load; NAN = not noted */
    double value;                 /* m, Hz, rad or kg */
    double sigma;                 /* standard deviation of value, in its unit */
    bool left_out;                /* kept out of the fit, but predicted and shown */
    int line;                     /* of its file, for messages; 0 = none */
    char source[CABER_NAME_SIZE]; /* its file, for messages */
} caber_reading;

/* An outside diameter read at a place. */
typedef struct caber_calliper {
    double at, diameter; /* m */
} caber_calliper;

/* How the weight of smoothness of log EI and of log GJ is chosen. */
typedef enum caber_smoothness {
    CABER_LIKELIHOOD,       /* mean over what the readings make likely */
    CABER_CROSS_VALIDATION, /* least generalised cross-validation */
    CABER_DISCREPANCY       /* smoothest whose chi-square is that of the readings' errors */
} caber_smoothness;

/* Everything read on one shaft, and how the profile is to be drawn through it. */
typedef struct caber_readings {
    char name[CABER_NAME_SIZE];
    char note[CABER_NOTE_SIZE];
    double length;           /* m, of the uncut shaft */
    double density, damping; /* as in caber_shaft; not read on a bench here */
    double pitch;            /* m, most between two stations of the profile */
    double knot;             /* m, most between two knots of the spline of log EI and log GJ */
    caber_smoothness smoothness;
    size_t count;
    caber_reading *items; /* owned */
    size_t calliper_count;
    caber_calliper *callipers; /* ascending `at`; owned */
} caber_readings;

/* How a reading stands beside the fitted profile. */
typedef struct caber_residual {
    double predicted; /* as caber_reading.value */
    double sigmas;    /* (value - predicted) over its own standard deviation in the fit, which for a
                         reading that pulls the profile towards itself is below its sigma */
    double leverage;  /* 0..1, how much of its own prediction the reading decides */
} caber_residual;

/* Standard deviations of the profile at a station, relative. */
typedef struct caber_band {
    double ei, gj, mass;            /* 1 */
    bool bend_unseen, twist_unseen; /* no reading would tell EI (GJ) here a fifth higher or lower */
} caber_band;

typedef struct caber_fit {
    caber_shaft shaft;        /* owned; with its errors */
    caber_band *band;         /* [shaft.station_count]; owned */
    caber_residual *residual; /* [readings.count]; owned */
    size_t used;              /* readings in the fit */
    double parameters;        /* effective number, trace of the hat matrix */
    double chi_square;        /* weighted squares of the residuals of those used */
    double
        widened; /* 1 or more: factor on the errors, root of chi_square over the degrees of freedom */
    double smooth_ei, smooth_gj; /* weights of smoothness: 1/square of the bends believed in */
    bool oriented;               /* there were orientations enough to tell two principal EI */
    double ratio, ratio_sd; /* larger over smaller principal EI, less 1; its standard deviation */
    double angle, angle_sd; /* rad, of the stiffer direction from the mark, and its deviation */
} caber_fit;

/* Given readings; returns the profile drawn through them, to be freed with caber_fit_free.
 * Errors: CABER_BAD_INPUT when a reading is impossible, or the readings see too little of the shaft or
 * contradict each other; CABER_NOT_CONVERGED when no profile was found. */
CABER_API caber_status caber_fit_run(const caber_readings *readings, caber_fit **out,
                                     caber_message *message);
CABER_API void caber_fit_free(caber_fit *fit);
CABER_API void caber_readings_free(caber_readings *readings);

/* Given the path of a readings file (YAML, which names a CSV a jig) and `override_count` texts
 * "path=value"; returns new readings to be freed with caber_readings_free. Errors name file, line,
 * column and field. */
CABER_API caber_status caber_readings_read(const char *path, const char *const *overrides,
                                           size_t override_count, caber_readings **out,
                                           caber_message *message);
/* Given a shaft and a path "DIR/NAME.yaml"; writes the shaft's file and, when it has errors, beside it
 * "DIR/NAME-errors.csv", which the file names. `comment` (NULL = none) becomes lines of comment at the
 * top: where the profile comes from. What is written reads back to the same bits. An existing file is
 * replaced only once the new one is complete. Errors: CABER_IO_ERROR; CABER_BAD_INPUT for a shaft
 * that could not be read back. */
CABER_API caber_status caber_shaft_write(const caber_shaft *shaft, const char *path,
                                         const char *comment, caber_message *message);

/* ------------------------------------------------------------------ measured shots */

/* A quantity that may be measured of a shot: an output of caber_impact or caber_shot, or one that only
 * a device gives. The texts behind pointers are constant. */
typedef struct caber_measurable {
    const char *name;    /* with its unit as suffix, as in JSON: "ball_speed_mps" */
    const char *unit;    /* as printed, "" when it has none */
    const char *meaning; /* one line */
    double factor;       /* SI value times factor is the printed value */
    int decimals;
    char label[40];     /* as in a table */
    double least, most; /* SI: what a golf shot can be at all; wide, our own choice */
} caber_measurable;

/* Given a row from 0; fills *out and returns whether there is such a row. */
CABER_API bool caber_measurable_at(size_t row, caber_measurable *out);

/* Why a shot is set aside or flagged. The limits are choices of ours, not published ones.
 * X(symbol, word, whether it sets aside by default, what it finds) */
/* clang-format off */
#define CABER_CLEANING_LIST(X)                                                                           \
    X(CABER_CLEAN_IMPOSSIBLE, "impossible", true, "a value that no golf shot has, or a ball faster than 1.6 heads") \
    X(CABER_CLEAN_MISHIT, "mishit", false, "smash factor below 0.93 of its batch's median (without one: ball speed, 0.9)") \
    X(CABER_CLEAN_OUTLIER, "outlier", false, "beyond 5 robust standard deviations from its batch's median")  \
    X(CABER_CLEAN_BY_HAND, "by hand", true, "named one by one, or marked in a column set_aside")
/* clang-format on */

typedef enum caber_cleaning {
#define CABER_CLEANING_ENUM(symbol, word, usual, text) symbol,
    CABER_CLEANING_LIST(CABER_CLEANING_ENUM)
#undef CABER_CLEANING_ENUM
        CABER_CLEANINGS
} caber_cleaning;

/* One shot as measured. */
typedef struct caber_measured_shot {
    size_t batch, file;          /* which of caber_measured.batches and .files */
    size_t line;                 /* of its file, from 1 */
    double number;               /* 1, of the column `shot`; NAN = not given */
    unsigned broken;             /* bit i: it breaks rule i of caber_cleaning */
    int column[CABER_CLEANINGS]; /* which column breaks rule i first; -1 = none, or no one column */
    bool set_aside, kept;        /* kept: brought back by hand, whatever the rules say */
} caber_measured_shot;

/* The shots of one setup. */
typedef struct caber_batch {
    char name
        [CABER_NAME_SIZE]; /* of the column `setup`, or of its file without its folder and .csv */
    size_t count, set_aside;
} caber_batch;

/* Everything measured, cleaned or not: nothing is taken out, only marked. */
typedef struct caber_measured {
    size_t file_count;
    char **files; /* paths as given; owned, each and all */
    size_t batch_count;
    caber_batch *batches; /* in the order in which they first appear; owned */
    size_t column_count;
    caber_measurable *columns; /* in the order of caber_measurable_at; owned */
    size_t count;
    caber_measured_shot *shots; /* in the order of the files; owned */
    double *value;              /* SI, [count][column_count]; NAN = not measured; owned */
} caber_measured;

/* Given paths of CSV files and of a mapping file (NULL = none), which says what their columns are;
 * returns all of their shots, to be freed with caber_measured_free. A file has a row of names, then
 * perhaps one of units, then a row a shot. A column is named as caber_measurable.name, with or without
 * the unit; its unit stands in its name ("ball speed [mph]", "ball_speed_mph") or in the row of units.
 * Files with a column `setup` hold a batch for each of its words; batches of one word are one.
 * No shot is marked yet.
 * Errors: CABER_IO_ERROR; CABER_BAD_INPUT with file, line, column and the column's name. */
CABER_API caber_status caber_measured_read(const char *const *paths, size_t count,
                                           const char *mapping, caber_measured **out,
                                           caber_message *message);
CABER_API void caber_measured_free(caber_measured *measured);

/* Given measured shots and which rules set aside (bit i: rule i of caber_cleaning; the others only
 * flag); marks every shot anew. Shots that `kept` says are brought back stay in; those whose bit
 * CABER_CLEAN_BY_HAND of `broken` is set are set aside. A batch's median and spread, by which it is
 * judged, are those of its shots that are possible; below 5 shots nothing is an outlier or a mishit.
 * Errors: CABER_BAD_INPUT when most of a column of a batch is impossible, so that its unit is wrong;
 * CABER_NO_MEMORY. */
CABER_API caber_status caber_measured_clean(caber_measured *measured, unsigned rules,
                                            caber_message *message);

#ifdef __cplusplus
}
#endif
#endif
