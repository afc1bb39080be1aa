/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The club at address: held at the hands at the angle at which its head is soled, the head just off the
 * ground, at rest under its own weight.
 *
 * The bent shape itself is in equilibrium, without small angles: with r(s) and R(s) the places and
 * rotations along the shaft, each section carries the moment of all the weight beyond it,
 *   M(s) = integral_s^L (r - r(s)) x dW + (r_head - r(s)) x W_head,
 * and bends and twists by its stiffness: kappa = B^-1 R' M. The part of the weight along the shaft so
 * counts where the shaft is bent. Source: statics of an inextensible rod, any text on rods. */
#ifndef CLUB_ADDRESS_H
#define CLUB_ADDRESS_H

#include "club/club.h"

typedef struct address {
    vec3 place; /* m, the tip from where it would be on a rigid shaft, handle frame */
    mat3 turn;  /* the tip frame's, handle frame */
} address;

/* Given a club; returns how it hangs. Errors: CABER_NOT_CONVERGED for a shaft too soft to be held so. */
caber_status address_find(const club *c, address *out, caber_message *message);

#endif
