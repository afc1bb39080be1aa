/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Random numbers: the generator's known answers, and what is asked of even and normal ones. */
#include <gsl/gsl_cdf.h>
#include <stdlib.h>

#include "base/order.h"
#include "base/random.h"
#include "check.h"

/* Philox4x32-10. Quoted: the kat_vectors of the authors' Random123, as other libraries' tests have
 * them. */
static void known_answers(void **state)
{
    (void)state;
    static const struct {
        uint32_t counter[4], key[2], want[4];
    } rows[] = {
        {{0, 0, 0, 0}, {0, 0}, {0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}},
        {{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff},
         {0xffffffff, 0xffffffff},
         {0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}},
        {{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344},
         {0xa4093822, 0x299f31d0},
         {0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        uint32_t got[4];
        random_block(rows[i].counter, rows[i].key, got);
        assert_memory_equal(got, rows[i].want, sizeof got);
    }
}

/* Each number has its own counter and key: seed, stream and item all count, to their last bit. */
static void places_are_apart(void **state)
{
    (void)state;
    const double at = random_even(1, 2, 3);
    assert_true(at == random_even(1, 2, 3));
    for (int bit = 0; bit < 64; bit++) {
        const uint64_t other = (uint64_t)1 << bit;
        assert_true(random_even(1 ^ other, 2, 3) != at);
        assert_true(random_even(1, 2 ^ other, 3) != at);
        assert_true(random_even(1, 2, 3 ^ other) != at);
    }
    assert_true(random_even(1, 3, 2) != at && random_even(2, 1, 3) != at);
}

enum { MANY = 100000 };

/* Distance of the empirical distribution of x[MANY], which is sorted, from P: Kolmogorov's. */
static double distance(double *x, double (*p)(double))
{
    double most = 0;
    qsort(x, MANY, sizeof *x, order_doubles);
    for (int i = 0; i < MANY; i++) {
        most = fmax(most, fabs(p(x[i]) - (double)i / MANY));
        most = fmax(most, fabs(p(x[i]) - (double)(i + 1) / MANY));
    }
    return most;
}

static double even(double x)
{
    return x;
}

static double normal(double x)
{
    return gsl_cdf_ugaussian_P(x);
}

/* 1.63/sqrt(n) is passed by 99 of 100 honest generators (Kolmogorov's distribution); this one is the
 * same on every run. Along the items of a stream, and across streams. */
static void distributions(void **state)
{
    (void)state;
    double *x = malloc(MANY * sizeof *x);
    assert_non_null(x);
    for (int across = 0; across < 2; across++) {
        double product = 0;
        for (uint64_t i = 0; i < MANY; i++) {
            x[i] = across ? random_even(7, i, 0) : random_even(7, 0, i);
            assert_true(x[i] > 0 && x[i] < 1);
        }
        assert_true(distance(x, even) < 1.63 / sqrt(MANY));
        for (uint64_t i = 0; i < MANY; i++) {
            x[i] = across ? random_normal(7, i, 1) : random_normal(7, 1, i);
            product += x[i] * (i ? x[i - 1] : 0);
        }
        assert_close(product / MANY, 0, 0, 3 / sqrt(MANY)); /* neighbours are not correlated */
        assert_true(distance(x, normal) < 1.63 / sqrt(MANY));
    }
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(known_answers),
                                       cmocka_unit_test(places_are_apart),
                                       cmocka_unit_test(distributions)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
