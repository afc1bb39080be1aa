/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/random.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

enum { ROUNDS = 10 };

/* Multipliers and key increments of Philox4x32: Salmon et al. (2011), table 2 and section 4.3. */
static const uint32_t multiplier[2] = {0xd2511f53u, 0xcd9e8d57u};
static const uint32_t increment[2] = {0x9e3779b9u, 0xbb67ae85u};

void random_block(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4])
{
    uint32_t c[4] = {counter[0], counter[1], counter[2], counter[3]}, k[2] = {key[0], key[1]};
    for (int round = 0; round < ROUNDS; round++) {
        const uint64_t first = (uint64_t)multiplier[0] * c[0];
        const uint64_t second = (uint64_t)multiplier[1] * c[2];
        const uint32_t next[4] = {(uint32_t)(second >> 32) ^ c[1] ^ k[0], (uint32_t)second,
                                  (uint32_t)(first >> 32) ^ c[3] ^ k[1], (uint32_t)first};
        for (int i = 0; i < 4; i++)
            c[i] = next[i];
        k[0] += increment[0];
        k[1] += increment[1];
    }
    for (int i = 0; i < 4; i++)
        out[i] = c[i];
}

double random_even(uint64_t seed, uint64_t stream, uint64_t item)
{
    const uint32_t key[2] = {(uint32_t)seed, (uint32_t)(seed >> 32)};
    const uint32_t counter[4] = {(uint32_t)item, (uint32_t)(item >> 32), (uint32_t)stream,
                                 (uint32_t)(stream >> 32)};
    uint32_t word[4];
    random_block(counter, key, word);
    const uint64_t bits = ((uint64_t)word[0] << 32 | word[1]) >> 12;
    return ldexp((double)bits + 0.5, -52); /* the middle of one of 2^52 cells: exact */
}

double random_normal(uint64_t seed, uint64_t stream, uint64_t item)
{
    return gsl_cdf_ugaussian_Pinv(random_even(seed, stream, item));
}
