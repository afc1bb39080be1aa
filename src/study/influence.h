/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Which factors drive an output: Sobol's indices, from pairs of samples.
 *
 * Independent factors x_1..x_k, output f(x) of variance V. With V_i the variance of E[f | x_i], and W_i
 * the mean variance of f when all but x_i are held (Sobol 1993, Math. Model. Comput. Exp. 1:407; Homma &
 * Saltelli 1996, Reliab. Eng. Syst. Saf. 52:1):
 *   first order S_i = V_i/V: the share of the variance that would go if x_i alone were known;
 *   total       T_i = W_i/V: the share that would stay if all but x_i were known.
 * S_i <= T_i; the difference is what x_i does together with others; sum S_i = 1 when nothing is.
 *
 * Samples (Saltelli et al. 2010, Comput. Phys. Commun. 181:259): rows a and b of a pair are independent
 * draws of all factors; a_i is row a with x_i from b; b_i, where there is one, row b with x_i from a. Two
 * rows that share only some factors have as covariance the variance that these explain:
 *   cov(f_b, f_ai) = V_i,   cov(f_a, f_ai) = V - W_i,   cov(f_a, f_b) = 0.
 *
 * From a, b and a_i, with means and variances of the rows that a fraction holds:
 *   J_i = mean (f_a - f_ai)^2/(var f_a + var f_ai)                      (Jansen 1999, CPC 117:35)
 *   S_i = [cov(f_b, f_ai) - c cov(f_a, f_b)]/[(var f_b + var f_ai)/2],  c = 1 - J_i
 *   T_i = J_i + d cov(f_a, f_b)/[(var f_a + var f_ai)/2],               d = S_i, at most J_i
 * with c and d in [0, 1]. S_i with c = 0 is the estimator of Janon et al. (2014), ESAIM Prob. Stat. 18:342
 * but for the means: right for a factor that does nearly all, f_ai = f_b. With c = 1 it is that of Saltelli
 * et al. (2010), right for one that does nearly nothing, f_ai = f_a. cov(f_a, f_b) is known to be 0, so S_i
 * and T_i are aimed at whatever c and d are: it serves as a control variate. Where x_i adds to the rest,
 * f = u(x_i) + w, the best c is cov(f_b f_ai, f_a f_b)/var(f_a f_b) = var(w) V/V^2 = 1 - T_i, and the best
 * d by the same token S_i. So a factor that does nothing has exactly 0, without the 1/sqrt(rows) of
 * chance, and one that does all has 1 but for 1/rows. Measured on 100 rows of Sobol's g-function, root
 * mean square error of the largest S_i (0.72) 0.049, against 0.050 (c = 0) and 0.110 (c = 1); of a small
 * one (0.02) 0.027, against 0.102 and 0.027; of the largest T_i (0.79) 0.070, against 0.100 (d = 0).
 *
 * From a, b, a_i and b_i (also Azzini, Mara & Rosati 2021, Environ. Model. Softw. 144:105167, from
 * memory): expanding the products, all pairs but (f_b, f_ai) and (f_a, f_bi) cancel or are 0, so
 *   S_i = 2 sum (f_bi - f_b)(f_a - f_ai)/D,  T_i = sum [(f_b - f_bi)^2 + (f_a - f_ai)^2]/D,
 *   D = sum [(f_a - f_b)^2 + (f_bi - f_ai)^2],  of mean 4V:
 * exactly 0 for a factor that does nothing and 1 for one that does all. The same 100 rows: 0.040, 0.006
 * and 0.038, for nearly twice the cases; without b_i twice the rows would give 0.7 times the errors above.
 *
 * Papers are cited from memory; what is needed of them is derived here, and tested on closed forms.
 * S_i may come out below 0 and T_i above 1, by chance; nothing is cut off.
 *
 * Intervals: bootstrap over the pairs (resample.h). Products of deviations have long tails, which few rows
 * do not show: measured on the functions of the tests, intervals of 95 % hold the truth in 85 to 95 % of
 * repeats with 50 pairs, in 88 to 96 % with 100, in 92 to 95 % with 400 and more. A pair of which any case
 * failed does not count. */
#ifndef STUDY_INFLUENCE_H
#define STUDY_INFLUENCE_H

#include "study/resample.h"

/* Pairs of rows below which intervals mean nothing: an assumption of ours. */
enum { INFLUENCE_ROWS_LEAST = 20 };

/* Where the cases of a pair are: part 0 is a, 1 is b, 2.. are a_1..a_k, then b_1..b_k. Part p of row r is
 * case r row_step + p part_step. */
typedef struct influence_layout {
    size_t rows;    /* pairs */
    size_t factors; /* k, at least 1 */
    bool both;      /* there are b_1..b_k */
    size_t row_step, part_step;
} influence_layout;

/* Parts of a row: k + 2, or 2 k + 2. */
size_t influence_parts(size_t factors, bool both);
/* All parts of a row, then the next row; or all rows of a part, then the next part. */
influence_layout influence_layout_by_row(size_t rows, size_t factors, bool both);
influence_layout influence_layout_by_part(size_t rows, size_t factors, bool both);

/* Of one factor. */
typedef struct influence_index {
    resample_range first, total;
} influence_index;

typedef struct influence_sobol {
    size_t rows, dropped; /* pairs that count, and that do not */
    double mean, sd;      /* of the output, over the a and b that count; its unit */
    bool constant;        /* the output does not vary: everything below is 0 */
    resample_range sum;   /* of the first orders */
    size_t count;
    influence_index *index; /* [count], of the factors; owned */
} influence_sobol;

/* Given the output of all cases, [rows parts], NaN where a case failed; returns its indices, to be freed
 * with influence_sobol_free. Errors: CABER_BAD_INPUT for a layout without factors, too few pairs that
 * count, and what resample_run refuses; CABER_NO_MEMORY. */
caber_status influence_sobol_run(const influence_layout *layout, const double *output,
                                 const resample_settings *settings, influence_sobol **out,
                                 caber_message *message);
/* NULL is allowed. */
void influence_sobol_free(influence_sobol *sobol);

/* Whether an output of this standard deviation and largest size varies beyond rounding. */
bool influence_varies(double sd, double largest);

/* Given the names of factors, or NULL; returns that of factor i, or its number written into text. */
const char *influence_name(const char *const *names, size_t i, char text[32]);

#endif
