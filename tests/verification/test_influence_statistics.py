# SPDX-License-Identifier: GPL-3.0-or-later
"""The influence of factors against NumPy and SciPy: regression by another routine, intervals by SciPy's
bootstrap, indices and effects from their definitions written out over arrays."""
import os
import pathlib
import subprocess

import numpy as np
from scipy import stats

from record import EXACT, INDEPENDENT, Record

PROGRAM = pathlib.Path(os.environ["CABER_BUILD"]) / "tests" / "answers_influence"
DRAWS = 100000
record = Record("influence_statistics")


def ask(*arguments, rows):
    """The program's lines of numbers."""
    text = "\n".join(" ".join(repr(float(x)) for x in row) for row in np.atleast_2d(rows))
    out = subprocess.run([PROGRAM, *map(str, arguments)], input=text, capture_output=True, text=True, check=True)
    return [np.array([float(x) for x in line.split()]) for line in out.stdout.splitlines()]


def most(got, want):
    return float(np.max(np.abs(np.asarray(got) - np.asarray(want))))


# ------------------------------------------------------------------ regression

def factors_make(rows):
    """Five factors in units far apart, two of them correlated, one in a few steps, and a bent output."""
    rng = np.random.default_rng(11)
    x = rng.random((rows, 5))
    x[:, 1] = 0.8 * x[:, 0] + 0.3 * x[:, 1]
    x[:, 2] = np.floor(4 * x[:, 2])
    y = 3 * x[:, 0] - x[:, 1] + 0.5 * x[:, 2] + np.exp(2 * x[:, 3]) + 0.3 * rng.standard_normal(rows)
    return x * [1e3, 1, 1, 1e-4, 20] + [5e4, 0, 0, 0, -3], y


def regression_by_lstsq(x, y):
    """(beta, inflation, R2): standardised columns, SVD."""
    z = stats.zscore(x, ddof=1)
    target = stats.zscore(y, ddof=1)
    beta, residual = np.linalg.lstsq(z, target, rcond=None)[:2]
    return beta, np.diag(np.linalg.inv(np.corrcoef(z.T))), 1 - residual[0] / (target @ target)


def check_regression():
    rows = 120
    x, y = factors_make(rows)
    for ranked, words in ((0, "values"), (1, "ranks, with ties")):
        lines = ask("regression", rows, 5, ranked, 200, rows=np.column_stack((x, y)))
        if ranked:
            beta, inflation, explained = regression_by_lstsq(stats.rankdata(x, axis=0), stats.rankdata(y))
        else:
            beta, inflation, explained = regression_by_lstsq(x, y)
        record.bound("standardised coefficients of 5 factors, %s" % words, INDEPENDENT,
                     "numpy.linalg.lstsq on z-scores; ranks by scipy.stats.rankdata", "",
                     most([line[0] for line in lines[:5]], beta), 1e-11)
        record.bound("R2 of the same", INDEPENDENT, "the residual of numpy.linalg.lstsq", "",
                     abs(lines[5][0] - explained), 1e-11)
        record.bound("variance inflation of the same", INDEPENDENT, "numpy.linalg.inv of numpy.corrcoef", "",
                     most([line[3] for line in lines[:5]], inflation), 1e-9)
    assert 3 < regression_by_lstsq(x, y)[1].max() < 100, "two factors are meant to be correlated"


# ------------------------------------------------------------------ intervals

def check_intervals():
    """Both draw at random: with 100000 draws either upper end, beyond the 99 % quantile of the draws, scatters
    by 0.8 % of the interval's width from seed to seed. Allowed: 3 times sqrt(2) of that."""
    rng = np.random.default_rng(3)
    pairs = np.column_stack((rng.lognormal(0, 0.8, 40), 1 + rng.gamma(2, size=40)))
    lines = ask("ratio", 40, DRAWS, rows=pairs)
    for words, line, statistic in (("mean", lines[0], lambda a, b, axis: a.mean(axis=axis)),
                                   ("ratio of means", lines[1],
                                    lambda a, b, axis: a.mean(axis=axis) / b.mean(axis=axis))):
        found = stats.bootstrap((pairs[:, 0], pairs[:, 1]), statistic, n_resamples=DRAWS, method="BCa",
                                paired=True, vectorized=True, random_state=1).confidence_interval
        width = found.high - found.low
        record.bound("ends of a 95 %% interval of skewed pairs, %s, over its width" % words, INDEPENDENT,
                     "scipy.stats.bootstrap, BCa, 100000 draws", "",
                     most(line[1:], (found.low, found.high)) / width, 0.034)
        plain = stats.bootstrap((pairs[:, 0], pairs[:, 1]), statistic, n_resamples=2000, method="percentile",
                                paired=True, vectorized=True, random_state=1).confidence_interval
        assert most(plain, found) > 0.05 * width, "this case is meant to tell BCa from percentiles"


def correlation(a, b, axis):
    a, b = (v - v.mean(axis=axis, keepdims=True) for v in (a, b))
    return (a * b).sum(axis=axis) / np.sqrt((a * a).sum(axis=axis) * (b * b).sum(axis=axis))


def check_correlation():
    """With one factor the coefficient is the correlation; allowed: as above."""
    rng = np.random.default_rng(6)
    x = rng.exponential(size=25)
    y = np.sqrt(x) + 0.5 * rng.standard_normal(25)
    line = ask("regression", 25, 1, 0, DRAWS, rows=np.column_stack((x, y)))[0]
    found = stats.bootstrap((x, y), correlation, n_resamples=DRAWS, method="BCa", paired=True, vectorized=True,
                            random_state=1).confidence_interval
    record.bound("ends of a 95 % interval of a coefficient, one factor, 25 cases, over its width", INDEPENDENT,
                 "scipy.stats.bootstrap of the correlation, BCa, 100000 draws", "",
                 most(line[1:3], (found.low, found.high)) / (found.high - found.low), 0.034)


# ------------------------------------------------------------------ definitions

def cov(a, b):
    return np.cov(a, b, ddof=0)[0, 1]


def sobol_one(a, b, a_i):
    """S_i and T_i of the header of influence.h."""
    jansen = np.mean((a - a_i) ** 2) / (a.var() + a_i.var())
    first = (cov(b, a_i) - np.clip(1 - jansen, 0, 1) * cov(a, b)) / ((b.var() + a_i.var()) / 2)
    total = jansen + np.clip(first, 0, min(jansen, 1)) * cov(a, b) / ((a.var() + a_i.var()) / 2)
    return first, total


def sobol_both(a, b, a_i, b_i):
    whole = np.sum((a - b) ** 2 + (b_i - a_i) ** 2)
    return 2 * np.sum((b_i - b) * (a - a_i)) / whole, np.sum((b - b_i) ** 2 + (a - a_i) ** 2) / whole


def model(x):
    return 40 + x[:, 0] + 2 * x[:, 1] * x[:, 2] ** 2 + 0.1 * np.sin(9 * x[:, 3])


def check_sobol():
    rows, k = 90, 4
    rng = np.random.default_rng(8)
    pair = rng.random((2, rows, k))
    parts = [model(pair[0]), model(pair[1])]
    for base in range(2):
        for i in range(k):
            x = pair[base].copy()
            x[:, i] = pair[1 - base][:, i]
            parts.append(model(x))
    parts = np.array(parts)
    for both in (0, 1):
        used = parts[:2 + (1 + both) * k]
        lines = ask("sobol", rows, k, both, rows=used.T)
        want = [sobol_both(parts[0], parts[1], parts[2 + i], parts[2 + k + i]) if both else
                sobol_one(parts[0], parts[1], parts[2 + i]) for i in range(k)]
        record.bound("Sobol indices of 4 factors, 90 rows%s" % (", with b_i" if both else ""), INDEPENDENT,
                     "the same formulas over NumPy arrays", "", most(lines[:k], want), 1e-11)
        record.bound("mean and standard deviation of the output", INDEPENDENT, "NumPy", "",
                     most(lines[k], (parts[:2].mean(), parts[:2].std(ddof=1))), 1e-11)


def check_morris():
    """Trajectories made here, with steps of a third, by the columns of a random order."""
    k, count = 4, 15
    rng = np.random.default_rng(2)
    cases, effects = [], [[] for _ in range(k)]
    for _ in range(count):
        x = rng.integers(0, 3, k) / 3
        cases.append(x)
        for i in rng.permutation(k):
            x = x.copy()
            x[i] += 1 / 3
            effects[i].append((model(x[None])[0] - model(cases[-1][None])[0]) * 3)
            cases.append(x)
    cases = np.array(cases)
    lines = ask("morris", count, k, rows=np.column_stack((cases, model(cases))))
    e = np.array(effects)
    want = np.column_stack((e.mean(axis=1), np.abs(e).mean(axis=1), e.std(axis=1, ddof=1)))
    record.bound("mu, mu* and sigma of 4 factors, 15 trajectories", INDEPENDENT,
                 "the same trajectories, effects by factor, NumPy", "", most(lines, want), 1e-11)
    record.bound("mu of a factor that enters straight", EXACT, "its coefficient, 1", "", abs(lines[0][0] - 1), 1e-11)


if __name__ == "__main__":
    check_regression()
    check_intervals()
    check_correlation()
    check_sobol()
    check_morris()
