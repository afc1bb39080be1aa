/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Random numbers without a state: each is a function of a seed and of its own place, so it is the
 * same in whatever order, and by however many threads, they are made.
 *
 * Generator: Philox4x32 with 10 rounds. Source: J. K. Salmon, M. A. Moraes, R. O. Dror & D. E. Shaw
 * (2011), Parallel random numbers: as easy as 1, 2, 3, Proc. SC11, doi 10.1145/2063384.2063405. */
#ifndef BASE_RANDOM_H
#define BASE_RANDOM_H

#include <stdint.h>

/* Given a counter and a key; returns the four words of their block. */
void random_block(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]);
/* Evenly spread in (0, 1), both ends excluded: number `item` of stream `stream`. */
double random_even(uint64_t seed, uint64_t stream, uint64_t item);
/* The same number as a normal deviate of mean 0 and standard deviation 1. */
double random_normal(uint64_t seed, uint64_t stream, uint64_t item);

#endif
