/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A profile through bench readings: penalised weighted least squares.
 *
 * log EI, log GJ and log m are cubic B-splines with coefficients c on evenly spaced knots; with
 * readings in more than one direction about the axis, EI has two principal values:
 *   B = EI exp(S), S = [p q; q -p], principal values EI exp(+-e), e = hypot(p, q),
 * the stiffer at atan2(q, p)/2 from the mark, the same along the shaft. Minimised is
 *   sum_i ((y_i(c) - value_i)/sigma_i)^2 + |D c_ei/bend_ei|^2 + |D c_gj/bend_gj|^2 + priors,
 * D second differences (P-splines: P. H. C. Eilers and B. D. Marx 1996, Statistical Science 11:89; from memory),
 * by GSL's multifit_nlinear: Levenberg and Marquardt's trust region over QR factors, with the derivatives that
 * readings give (reading.h) and the penalties' own. EI with mass, p and q, and GJ, share no reading: two searches.
 *
 * How far the curves may bend. The penalty is a prior, second differences of standard deviation `bend`.
 * `bend` is unknown too. Its probability given the readings is taken on a grid, from the marginal
 * likelihood of the problem linearised about the fit (the restricted likelihood: G. Wahba 1985, Annals of
 * Statistics 13:1378; from memory), all sizes of log(bend) between bend_least and bend_most beforehand as likely. The
 * fit is made at the mean of log(bend), and that mean and the fit are repeated until they agree. Unlike
 * cross-validation this uses what scatter sigma lets expect, and takes a shaft less often for much
 * smoother or rougher than it is (P. T. Reiss and R. T. Ogden 2009, J. R. Stat. Soc. B 71:505; from memory); where
 * the readings scatter more than sigma says, it allows for that, so that the curve does not follow one bad
 * reading. bend_least is there because a curve that bends little in most places is still no reason to believe
 * in a straight one at the ends, where nothing is seen.
 * A shaft also bends further at one place than elsewhere, where a tip section ends. So each second difference
 * has its own factor `local` on bend, 1 or above: the root of the mean square of those near, within 100 mm, as
 * expected over what the readings leave open, beside one and a half degrees of freedom that say 1 (variances
 * with an inverse-gamma distribution, shared by neighbours, by the variational rule; adaptive P-splines:
 * T. Krivobokova, C. M. Crainiceanu and G. Kauermann 2008, J. Comput. Graph. Stat. 17:1; from memory). Where EI does so GJ
 * may too, since it is the same wall; twist readings alone are too coarse to tell.
 * Two other choices of bend can be asked for, on the same grid: generalised cross-validation, the bend with
 * the least n chi^2/f^2, f the degrees of freedom that the linearised fit leaves; and the discrepancy principle,
 * the least bend whose chi^2 is f. Either then counts as known. They are not the default for what was
 * measured on 500 simulated bench days of each of four shafts. How often the 95 % band of EI and of GJ held the
 * truth, and how far the curve was off in root mean square, in the order neutral, firm tip, soft tip, quick change:
 *   likelihood         EI 95.3, 92.4, 95.6, 97.4 %, off 0.81, 0.93, 0.96, 1.05 %
 *                      GJ 97.5, 92.5, 96.8, 93.9 %, off 1.44, 1.65, 1.59, 1.63 %
 *   cross-validation   EI 94.5, 96.3, 96.2, 96.3 %, off 1.00, 1.28, 1.27, 1.24 %
 *                      GJ 96.3, 88.0, 94.6, 93.3 %, off 1.90, 2.05, 2.25, 2.16 %
 *   discrepancy        EI 96.1, 92.2, 95.1, 94.6 %, off 1.20, 1.27, 1.28, 1.39 %
 *                      GJ 96.9, 92.8, 93.7, 94.9 %, off 2.24, 2.49, 2.42, 2.61 %
 * Cross-validation's bands fail once, below 90 %, and its curves are off by a quarter more; the discrepancy
 * principle's bands hold as well, but are wider for curves that are off by half as much again, and it stands
 * on the stated errors: one bad reading among 75 makes it follow scatter.
 * The range of bend and these figures are assumptions of ours, chosen so that over simulated bench days the
 * bands cover three invented shafts and a wilder one at the stated rate (tests/verification/
 * test_profile_recovery.c). Knots of 40 mm go with spans of 200 mm; with knots much further apart than that the
 * splines cannot follow what the readings see. The bands do not know of that, so knots are
 * never further apart than a fifth of the shortest span: on simulated days with a tenth of the errors the 95 %
 * band of EI held the truth on 88 to 97 % with knots of 50 mm, on 96 to 99 % with 40 mm.
 *
 * Covariance of c: over the grid, the mean of the inverses of J'J with the penalties, and of the squares
 * of what the fit would change by: the covariance of the mixture (R. E. Kass and D. Steffey 1989, J. Am.
 * Stat. Assoc. 84:717, to first order the same; from memory). Such bands cover the truth at the stated rate on average
 * along the curve (D. Nychka 1988, J. Am. Stat. Assoc. 83:1134; from memory), less where a shaft changes quicker
 * than it does elsewhere, more where slower. They are widened by the root of chi^2 per degree of freedom where
 * that is above 1. At a place where a shaft changes within less than a span the 95 % band may hold the
 * truth on half the days only: no span tells where within it the change is.
 * e is the length of a vector of two components with errors: on a shaft alike all round it comes out near its
 * standard deviation, not near 0. A ratio within two of its deviations is not told from none.
 *
 * Priors stand in for what no reading on a bench tells. They are assumptions of ours. Mass: three sorts of
 * reading see it, total, balance and, faintly, frequency; all else about it is prior, and so is its band:
 * second differences of log m, over fifths of the shaft, of 4 %; its change from tip to butt, of 30 %. p and
 * q, of 0.2. log EI and log GJ from tip to butt, of 3: only so that a poor set has a solution to complain
 * about.
 *
 * Readings in two directions cannot tell the size of a difference from its direction; there the part of S
 * that they do not see is taken to be 0, as if the directions read were the principal ones. A reading whose
 * orientation was not noted lies anywhere, so its error has the scatter over directions besides. */
#ifndef SHAFT_FIT_H
#define SHAFT_FIT_H

#include <gsl/gsl_bspline.h>
#include <gsl/gsl_matrix.h>
#include <gsl/gsl_vector.h>

#include "shaft/reading.h"

/* The three curves along the shaft, in the order of their coefficients among the unknowns; p and q stand
 * between mass and GJ. GJ shares no reading with the others. */
enum { FIT_EI, FIT_MASS, FIT_GJ, FIT_CURVES };
enum { FIT_ORDER = 4, FIT_GRID = 13 };

typedef struct fit_curve {
    gsl_bspline_workspace *spline;
    size_t first, count; /* of its coefficients among the unknowns */
    double knot;         /* m between knots */
    double bend;         /* standard deviation of the second differences */
    double *local;       /* [count - 2], factors on bend */
} fit_curve;

/* Where a weight of a reading acts: nonzero splines there, and the hats that tell what is seen. */
typedef struct fit_place {
    size_t first[2]; /* of the nonzero splines of log EI (and log GJ), of log m */
    double value[2][FIT_ORDER];
    size_t hat;
    double part; /* 0..1 of the way from hat to the next */
} fit_place;

/* Probability of sizes of the bends of one curve, on a grid of log(bend). */
typedef struct fit_grid {
    double bend[FIT_GRID], weight[FIT_GRID];
} fit_grid;

typedef struct fit_problem {
    const caber_readings *readings;
    fit_curve curve[FIT_CURVES];
    size_t directions;      /* 0 = EI alike all round, 2 or 3 (or more) directions read */
    double direction;       /* rad: twice the angle of the difference that two directions see */
    size_t first_principal; /* of p, q among the unknowns */
    size_t unknowns, used;
    caber_shaft shaft;   /* stations at the unknowns of the last evaluation */
    double *basis;       /* [station][unknowns], of log EI, log m, log GJ at the stations */
    size_t *order;       /* [reading], in which they are predicted */
    double *sigma;       /* [reading] */
    double *predicted;   /* [reading] */
    gsl_matrix *slope;   /* [reading][unknown], of the predictions over sigma */
    size_t *place_count; /* [reading] */
    fit_place **place;   /* [reading], as many as it has weights */
    size_t hats;
    double *seen;    /* [2][hats]: information on EI and on GJ there alone, 1/relative^2 */
    double *scratch; /* [unknowns + hats] */
    reading_weights weights;
    fit_grid grid[FIT_CURVES]; /* of EI and GJ */
    caber_message *message;
} fit_problem;

/* One linear residual beside the readings': sum_k factor[k] x[at[k]]. */
typedef struct fit_penalty {
    size_t count, at[3];
    double factor[3];
} fit_penalty;

/* exp(S) and its changes with p and q, each as vv, ww, vw. */
typedef struct fit_principal {
    double e, angle; /* log ratio to the mean; rad, of the stiffer direction */
    double exponent[3], change[2][3];
} fit_principal;

/* Given checked readings; false when there is no memory. Free with fit_problem_free either way. */
bool fit_problem_create(fit_problem *m, const caber_readings *r, caber_message *message);
void fit_problem_free(fit_problem *m);
/* Stations at x; predictions, slopes and what is seen of the readings that see `which`, FIT_EI or FIT_GJ. */
caber_status fit_evaluate(fit_problem *m, const gsl_vector *x, int which);
fit_principal fit_principal_at(const fit_problem *m, const gsl_vector *x);
/* Sets sigma of the readings without orientation to what e makes of it; true when there are any, and
 * what was evaluated no longer holds. */
bool fit_set_sigma(fit_problem *m, double e);
size_t fit_penalty_count(const fit_problem *m);
fit_penalty fit_penalty_at(const fit_problem *m, size_t index);
double fit_penalty_value(const fit_penalty *p, const gsl_vector *x);
/* Whether a reading sees GJ and not EI and mass. */
bool fit_twists(const caber_reading *r);
/* The hat nearest to a place, m from the tip. */
size_t fit_hat_of(const fit_problem *m, double at);

/* Finds the profile; x[unknowns] is filled. */
caber_status fit_solve(fit_problem *m, gsl_vector *x);
/* About the solution x: covariance[unknowns][unknowns] of the mixture, and hat[reading], the leverages. */
caber_status fit_covariance(fit_problem *m, const gsl_vector *x, gsl_matrix *covariance,
                            double *hat);

/* Readings contradict each other: they scatter by `scatter` (NAN = there is no profile; residual is NULL then) of
 * their stated errors, more than `allowed`. Fits them without each table, without what in a table shares a
 * load or a place, and without the readings furthest off; names the fewest without which the
 * others agree. Returns CABER_BAD_INPUT. */
caber_status fit_conflict(const caber_readings *all, const caber_residual *residual, double scatter,
                          double allowed, caber_message *message);

#endif
