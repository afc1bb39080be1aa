# SPDX-License-Identifier: GPL-3.0-or-later
"""The statistics of a player's swings against SciPy's, and against their definitions written out with NumPy:
rows left out one by one, least squares by another routine."""
import os
import pathlib
import subprocess

import numpy as np
from scipy import stats

from record import EXACT, INDEPENDENT, Record

PROGRAM = pathlib.Path(os.environ["CABER_BUILD"]) / "tests" / "answers_scatter"
HABITS, ROWS, LEVEL = 10, 300, 0.9
record = Record("scatter_statistics")


def ask(*arguments, rows=None):
    """The program's lines as (word, numbers)."""
    text = "" if rows is None else "\n".join(" ".join(repr(float(x)) for x in row) for row in rows)
    out = subprocess.run([PROGRAM, *map(str, arguments)], input=text, capture_output=True, text=True, check=True)
    return [(line.split()[0], np.array([float(x) for x in line.split()[1:]])) for line in out.stdout.splitlines()]


def rows_make():
    """Skewed columns that go together, and habits of which two are correlated."""
    rng = np.random.default_rng(5)
    z = rng.standard_normal((ROWS, HABITS))
    z[:, 3] = 0.6 * z[:, 1] + 0.8 * z[:, 3]
    a = 2 * z[:, 1] - z[:, 3] + 0.4 * z[:, 5] ** 2 + z[:, 6] * z[:, 7] + 0.3 * rng.standard_normal(ROWS)
    b = 0.98 * a + 0.5 * rng.standard_normal(ROWS) + 0.2
    c = rng.gamma(2, size=ROWS) + 0.5 * a
    d = c + rng.standard_normal(ROWS)
    return a, b, c, d, z


def jackknife(statistic, n):
    """(estimate, low, high, p) of a logarithm by leaving rows out."""
    all_rows = np.arange(n)
    left = np.array([statistic(np.delete(all_rows, i)) for i in range(n)])
    value, error = statistic(all_rows), np.sqrt((n - 1) / n * ((left - left.mean()) ** 2).sum())
    t = stats.t.ppf((1 + LEVEL) / 2, n - 1)
    return value, value - t * error, value + t * error, 2 * stats.t.sf(abs(value) / error, n - 1)


def tails(jackknifed, sign):
    """Student's, of a logarithm being further out than 0.02 (nearer, sign -1), on either side."""
    value, low = jackknifed[:2]
    error = (value - low) / stats.t.ppf((1 + LEVEL) / 2, ROWS - 1)
    return stats.t.sf(sign * (abs(value) + np.array([-0.02, 0.02])) / error, ROWS - 1)


def bonett(x):
    """Bonett 2006, as src/study/spread.h has it, with SciPy's trimmed mean."""
    n, z = len(x), stats.norm.ppf((1 + LEVEL) / 2)
    middle = stats.trim_mean(x, 1 / (2 * np.sqrt(n - 4)))
    kurtosis = n * ((x - middle) ** 4).sum() / ((x - x.mean()) ** 2).sum() ** 2
    c = n / (n - z)
    error = c * np.sqrt((kurtosis - (n - 3) / n) / (n - 1))
    return np.sqrt(x.var(ddof=1) * np.array([1, c * np.exp(-z * error), c * np.exp(z * error)]))


def split(a, z):
    """(share, own, rest) by the least squares of NumPy."""
    columns = np.column_stack([z, z ** 2])
    columns = columns - columns.mean(axis=0)
    y = a - a.mean()
    fit = np.linalg.lstsq(columns, y, rcond=None)[0]
    f = np.array([columns[:, k] * fit[k] + columns[:, k + HABITS] * fit[k + HABITS] for k in range(HABITS)])
    share, own = f @ y / (y @ y), (f ** 2).sum(axis=1) / (y @ y)
    return share, own, ((y - f.sum(axis=0)) ** 2).sum() / (y @ y)


def far(got, want):
    return np.abs(np.asarray(got) - np.asarray(want)).max()


def check_columns():
    a, b, c, d, z = rows_make()
    got = dict(ask(LEVEL, rows=np.column_stack([a, b, c, d, z])))
    student = stats.t.interval(LEVEL, ROWS - 1, a.mean(), stats.sem(a))
    paired = stats.ttest_rel(b, a).confidence_interval(LEVEL)
    ratio = jackknife(lambda i: np.log(b[i].std(ddof=1) / a[i].std(ddof=1)), ROWS)
    area = jackknife(lambda i: 0.5 * np.log(np.linalg.det(np.cov(b[i], d[i])) / np.linalg.det(np.cov(a[i], c[i]))),
                     ROWS)
    share, own, rest = split(a, z)
    for what, source, there, want in (
            ("mean, Student's interval", "SciPy's stats.t.interval", got["mean"], [a.mean(), *student]),
            ("standard deviation, Bonett's interval", "Bonett 2006 with SciPy's trim_mean", got["sd"], bonett(a)),
            ("percentiles", "numpy.percentile", got["percentiles"], np.percentile(a, [5, 25, 50, 75, 95])),
            ("difference of means in pairs", "SciPy's stats.ttest_rel", got["difference"], [(b - a).mean(), *paired]),
            ("ratio of standard deviations in pairs", "300 samples with a row left out each", got["ratio"],
             np.exp(ratio[:3])),
            ("p of that ratio", "300 samples with a row left out each", got["p"], ratio[3]),
            ("p of its being within 2 %", "the same, Student's tails", got["beyond"], tails(ratio, 1).sum()),
            ("p of its being beyond 2 %", "the same, Student's tails", got["within"], tails(ratio, -1)[0]),
            ("ratio of areas in pairs", "300 samples with a row left out each", got["area"], np.exp(area[:3])),
            ("shares by cause", "numpy.linalg.lstsq", got["share"], share),
            ("what each cause leaves alone", "numpy.linalg.lstsq", got["own"], own),
            ("rest of the split", "numpy.linalg.lstsq", got["rest"], rest)):
        record.bound(what, INDEPENDENT, source, "1", far(there, want), 1e-8)


def check_shares():
    """Clopper and Pearson's for every count of 100 and some of 1,000."""
    asked = [(k, 100) for k in range(101)] + [(k, 1000) for k in (0, 1, 17, 500, 829, 999, 1000)]
    got = [numbers for _, numbers in ask(LEVEL, "share", *[x for pair in asked for x in pair])]
    want = [stats.binomtest(k, n).proportion_ci(LEVEL, "exact") for k, n in asked]
    record.bound("share of swings, exact interval", INDEPENDENT, "SciPy's binomtest, method exact", "1",
                 far(np.array(got)[:, 1:], [[w.low, w.high] for w in want]), 1e-8)
    # 1 - (alpha/2)^(1/n) above no success at all, in closed form.
    record.check("share of 0 of 100, upper end", EXACT, "1 - (alpha/2)^(1/n)", "1", got[0][2],
                 1 - ((1 - LEVEL) / 2) ** (1 / 100), rel=1e-10)


check_columns()
check_shares()
