# SPDX-License-Identifier: GPL-3.0-or-later
"""caber influence from the file to its JSON, on studies that tests/command/influence_writer.c writes through the
store: functions with known indices, and the same numbers from the file by way of h5py, NumPy and SciPy."""
import json
import os
import pathlib
import subprocess
import tempfile

import h5py
import numpy as np
from scipy import stats

from record import EXACT, INDEPENDENT, Record

CABER = os.environ["CABER"]
WRITER = pathlib.Path(os.environ["CABER_BUILD"]) / "tests" / "influence_writer"
FACTORS = ("x_1", "x_2", "x_3")
record = Record("influence_command")


def ishigami_indices():
    """Ishigami & Homma (1990) with a = 7, b = 0.1: V_1 = (1 + b pi^4/5)^2/2, V_2 = a^2/8,
    V_13 = 8 b^2 pi^8/225, all else 0 (from memory; they follow from the integrals)."""
    v_1, v_2, v_13 = (1 + 0.1 * np.pi ** 4 / 5) ** 2 / 2, 49 / 8, 8 * 0.01 * np.pi ** 8 / 225
    whole = v_1 + v_2 + v_13
    return [v_1 / whole, v_2 / whole, 0], [(v_1 + v_13) / whole, v_2 / whole, v_13 / whole]


def g_indices():
    """Sobol's g-function, a = 0, 1, 4.5: V_i = 1/(3 (1 + a_i)^2), V = prod (1 + V_i) - 1 (from memory; each
    factor of the product has the mean 1 and the variance V_i)."""
    part = 1 / (3 * (1 + np.array([0, 1, 4.5])) ** 2)
    whole = np.prod(1 + part) - 1
    return part / whole, [v * np.prod(1 + part) / (1 + v) / whole for v in part]


def carry_indices():
    """10 x_1 - 4 x_2 + x_2 x_3, each of variance v = pi^2/3: variances 100 v, 16 v and, together, v^2."""
    v = np.pi ** 2 / 3
    parts, together = np.array([100 * v, 16 * v, 0]), np.array([0, v ** 2, v ** 2])
    whole = 116 * v + v ** 2
    return parts / whole, (parts + together) / whole


FUNCTIONS = (("ishigami", "Ishigami's function", ishigami_indices), ("g_function", "Sobol's g-function", g_indices),
             ("carry_m", "a product and a sum", carry_indices))


def written(folder, *words):
    path = folder / ("-".join(words).replace("=", "") + ".h5")
    subprocess.run([WRITER, path, *words], check=True)
    return path


def found(path, *words):
    out = subprocess.run([CABER, "influence", path, "--json", *words], capture_output=True, text=True, check=True)
    return json.loads(out.stdout)["outputs"]


def points(path):
    """Factors [points][factors] and carry_m [points][swings]."""
    with h5py.File(path) as file:
        swings = max(1, int(file.attrs["replicates"]))
        return np.stack([file[name][::swings] for name in FACTORS], 1), file["carry_m"][()].reshape(-1, swings)


def check_indices(folder):
    for words, layout in (((), "each factor exchanged one way"), (("both=1",), "both ways")):
        outputs = found(written(folder, "saltelli", "cases=1000", *words))
        for name, title, truth in FUNCTIONS:
            worst, wide = 0, 0
            for measure, values in zip(("first", "total"), truth()):
                for factor, want in zip(FACTORS, values):
                    got = outputs[name]["factors"][factor][measure]
                    half = (got["high"] - got["low"]) / 2
                    # A factor that does nothing has exactly 0, and no interval.
                    worst = max(worst, abs(got["value"] - want) / half if half > 1e-9 else abs(got["value"] - want) * 1e9)
                    wide = max(wide, half)
            record.bound("6 indices of %s, 1000 rows, %s" % (title, layout), EXACT,
                         "closed form; in half 95 %% intervals, of which the widest is %.2f" % wide, "", worst, 1.5)


def check_effects(folder):
    """x_1 through its range: 10 x 2 pi. With x_2 the output goes by x_3 - 4, and with x_3 by x_2."""
    path = written(folder, "morris", "cases=25", "levels=8", "replicates=3")
    x = points(path)[0].reshape(25, 4, 3)
    moved = np.abs(np.diff(x, axis=1)).argmax(2)
    at = [np.array([x[t, list(moved[t]).index(k)] for t in range(25)]) for k in range(3)]
    effects = np.array([np.full(25, 20 * np.pi), 2 * np.pi * (at[1][:, 2] - 4), 2 * np.pi * at[2][:, 1]])
    got = found(path)["carry_m"]["factors"]
    numbers = [(got[f]["mu"], got[f]["sigma"], got[f]["mu_star"]["value"]) for f in FACTORS]
    wanted = np.stack([effects.mean(1), effects.std(1, ddof=1), np.abs(effects).mean(1)], 1)
    record.bound("mu, sigma and mu* of 3 factors, 25 trajectories, mean of 3 swings", INDEPENDENT,
                 "the function's differences at the places that the file says, NumPy", "m",
                 np.abs(np.array(numbers) - wanted).max(), 1e-9)


def regressed(x, y, ranked):
    if ranked:
        x, y = stats.rankdata(x, axis=0), stats.rankdata(y)
    x, y = (x - x.mean(0)) / x.std(0), (y - y.mean()) / y.std()
    slopes, rest = np.linalg.lstsq(x, y, rcond=None)[:2]
    return np.append(slopes, 1 - rest[0] / len(y))


def check_regressions(folder):
    pairs = np.arange(1000) % 5 < 2
    replicates = ("latin-hypercube", "cases=80", "replicates=3")
    for title, study, options, make, take in (
            ("Sobol's points", ("sobol",), (), np.mean, None),
            ("a grid, in ranks", ("grid",), ("--ranks",), np.mean, None),
            ("the independent rows of saltelli, in ranks", ("saltelli", "cases=200"), ("--ranks",), np.mean, pairs),
            ("the mean of a point's swings", replicates, (), np.mean, None),
            ("the standard deviation of a point's swings", replicates, ("--spread",),
             lambda y, axis: np.std(y, axis, ddof=1), None)):
        path = written(folder, *study)
        x, y = points(path)
        y = make(y, axis=1)
        if take is not None:
            x, y = x[take], y[take]
        one = found(path, *options)["carry_m"]
        got = np.append([one["factors"][f]["slope"]["value"] for f in FACTORS], one["explained"]["value"])
        record.bound("3 slopes and R2 of %s" % title, INDEPENDENT,
                     "numpy.linalg.lstsq and scipy.stats.rankdata on what h5py reads", "",
                     np.abs(got - regressed(x, y, "--ranks" in options)).max(), 1e-9)
        path.unlink()


def check_spread(folder):
    """The swings of a point differ by x_3^2 z: x_3 has all of the spread's variance."""
    factors = found(written(folder, "saltelli", "cases=100", "replicates=4"), "--spread")["carry_m"]["factors"]
    record.bound("total indices of 3 factors in the scatter of swings, 0, 0 and 1", EXACT,
                 "only x_3 scales what the swings differ by", "",
                 max(abs(factors[f]["total"]["value"] - want) for f, want in zip(FACTORS, (0, 0, 1))), 0.02)


with tempfile.TemporaryDirectory(prefix="caber-test-") as made:
    for check in (check_indices, check_effects, check_regressions, check_spread):
        check(pathlib.Path(made))
