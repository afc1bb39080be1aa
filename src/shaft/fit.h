/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A profile through bench readings: penalised weighted least squares.
 *
 * log EI, log GJ and log m are cubic B-splines with coefficients c on evenly spaced knots; with
 * readings in three directions or more about the axis, EI has two principal values:
 *   B = EI exp(S), S = [p q; q -p], principal values EI exp(+-e), e = hypot(p, q),
 * the stiffer at atan2(q, p)/2 from the mark, the same along the shaft. Minimised is
 *   sum_i ((y_i(c) - value_i)/sigma_i)^2 + smooth_ei |D c_ei|^2 + smooth_gj |D c_gj|^2 + priors,
 * D second differences (P-splines: P. H. C. Eilers and B. D. Marx 1996, Statistical Science 11:89), by
 * GSL's Levenberg-Marquardt with derivatives from reading.h. Each smoothness is the minimum of
 *   GCV = n |r|^2 / (n - tr H)^2
 * of the problem linearised about the fit (P. Craven and G. Wahba 1979, Numerische Mathematik 31:377),
 * n, r and H of the readings that see it; fit and choice are repeated until they agree.
 * Covariance of c: the inverse of J'J with the penalties, the Bayesian one, whose bands cover the truth
 * at the stated rate on average along the curve (D. Nychka 1988, J. Am. Stat. Assoc. 83:1134),
 * times chi^2 per degree of freedom where that is above 1.
 * Priors stand in for what no reading on a bench tells: second differences of log m, of 2 %; its
 * change from tip to butt, of 30 %; p and q, of 0.2. They are assumptions of ours. */
#ifndef SHAFT_FIT_H
#define SHAFT_FIT_H

#include "shaft/reading.h"

#endif
