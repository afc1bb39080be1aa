/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The club as built: a cut shaft, the head with the inserted end of the shaft, ferrule and hosel weight
 * as one rigid body on the tip, and the grip with the butt of the shaft as one rigid body in the hands.
 *
 * Places `at` are m from the uncut tip, as in the shaft's file. The hands' hinge is at hold_at;
 * the shaft bends between it and end_at, where it enters the hosel. */
#ifndef CLUB_CLUB_H
#define CLUB_CLUB_H

#include "base/vec.h"
#include "shaft/beam.h"

/* A rigid body about a reference point: mass, first moment and inertia about that point. */
typedef struct club_body {
    double mass;  /* kg */
    vec3 moment;  /* kg m, mass times centre of mass from the point */
    mat3 inertia; /* kg m2 about the point */
} club_body;

/* Vectors of the head in the tip frame (e1 along the shaft, e2 lead, e3 towards the toe). */
typedef struct club_head {
    vec3 normal;      /* of the face at its centre; for a square face
                         (-sin lo sin lam, cos lo, sin lo cos lam) */
    vec3 up;          /* of the head, soled: (-sin lam, 0, cos lam) */
    vec3 toe;         /* (cos lam, 0, sin lam) */
    vec3 face_centre; /* m from the end of the flexible shaft */
    vec3 centre;      /* m, centre of mass, likewise */
    mat3 inertia;     /* kg m2 about the centre of mass */
    double mass;      /* kg, of the head with its weights */
    double lie;       /* rad, as given, before the sleeve turns the head */
    double reach; /* m along the shaft's axis from the hosel's mouth to the plane that touches the
                         sole at 60 degrees to it; NAN = not known */
} club_head;

/* The cuts and the depth in the hosel, given or as they follow. */
typedef struct club_cut {
    double tip_trim, butt_trim, insertion; /* m */
} club_cut;

typedef struct club {
    profile *profile;     /* owned */
    double butt_at;       /* m, the cut butt */
    double hold_at;       /* m, the hands' hinge */
    double end_at;        /* m, end of the flexible shaft */
    double tip_at;        /* m, the cut tip, inside the hosel */
    double length;        /* m, hold_at - end_at */
    double butt_trim;     /* m */
    double cap;           /* m that the grip's closed end stands beyond the butt */
    double grip_diameter; /* m, over the tape */
    beam_added grip;      /* the mass of grip and tape along the shaft */
    club_body butt;       /* grip and shaft above the hinge, about the hinge, handle frame */
    club_head head;
    beam_body tip; /* head and inserted shaft together, tip frame */
} club;

/* Given a checked setup; returns a new club. */
caber_status club_create(const caber_setup *setup, club **out, caber_message *message);
void club_free(club *c);

/* The shape to mesh between two places, with the grip's mass. */
beam_shape club_beam_shape(const club *c, double held_at, double end_at);
/* Shaft (and grip when with_grip) between two places as a rigid body about `origin_at`, e1 towards
 * the tip. */
club_body club_shaft_body(const club *c, double from_at, double to_at, double origin_at,
                          bool with_grip);

/* Given a setup whose numbers are in range; returns how its shaft is cut. A wanted length or a through
 * bore needs the place of the sole (NAN without); what follows from them may be impossible, below 0 say:
 * setup_check refuses it. */
club_cut club_cut_of(const caber_setup *setup);
/* A head with its weights as part of it: mass, centre of mass and inertia about it. Its list of weights
 * is empty. Source: Huygens-Steiner (parallel axes). */
caber_head club_weighted_head(const caber_head *head);
/* A head given in its file's frame, with its weights and turned by the sleeve, in the tip frame. */
club_head club_head_in_tip_frame(const caber_head *head, const caber_sleeve *sleeve);
/* Playing length: m from the end of the grip to the plane of club_head.reach. The rules measure with the
 * club on a horizontal plane and its sole against one at 60 degrees; the horizontal one is taken through
 * the shaft's axis. On a bench under the shaft, the two planes meet up to r/tan 60, some 4 mm, nearer. */
double club_length(const club *c);

#endif
