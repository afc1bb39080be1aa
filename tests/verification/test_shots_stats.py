#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The statistics of shot batches against R, SciPy, and published examples.

R (shots.R, run once) works on its own data sets, whose numbers are then asked of ours through
answers_shots: one question after another as JSON. SciPy and NumPy stand in where R has no function for it.
What is published: the examples of D. G. Bonett's intervals, Student's first t test.
How often intervals and tests are right is another matter: test_shots_coverage.c.
"""
import json
import math
import os
import pathlib
import subprocess
import sys

import numpy as np
from scipy import stats

from record import EXACT, INDEPENDENT, MEMORY, PUBLISHED, QUOTED, Record

HERE = pathlib.Path(__file__).resolve().parent
R = "R 4.2, its own data sets (tests/verification/shots.R)"
NORMAL = stats.norm.ppf(0.975)


def from_r():
    """{name: numbers} of shots.R."""
    text = subprocess.run(["Rscript", "--vanilla", str(HERE / "shots.R")], check=True,
                          stdout=subprocess.PIPE, universal_newlines=True).stdout
    found = {}
    for line in text.splitlines():
        name, numbers = line.split("\t")
        found.setdefault(name, []).append([float(n) for n in numbers.split()])
    return found


def ask(questions):
    """Our answers, in the same order."""
    program = os.path.join(os.environ["CABER_BUILD"], "tests/answers_shots")
    answers = subprocess.run([program], input=json.dumps(questions), check=True,
                             stdout=subprocess.PIPE, universal_newlines=True).stdout
    return json.loads(answers)


def off(ours, theirs):
    """Largest difference, of each number to its size, of small ones to 1e-12."""
    assert len(ours) == len(theirs), (ours, theirs)
    return max(abs(a - b) / max(abs(b), 1e-12) for a, b in zip(ours, theirs))


def ends(interval):
    assert interval["reason"] == "known", interval
    return [interval["low"], interval["high"]]


def test_of(test):
    assert test["reason"] == "known", test
    return [test["statistic"], test["df"], test["p"]]


def f_test(test):
    assert test["reason"] == "known", test
    return [test["statistic"], test["df"], test["df_2"], test["p"]]


def split(values, groups):
    return [[v for v, g in zip(values, groups) if g == k] for k in range(int(max(groups)) + 1)]


def names(found, kind):
    return sorted({n.split()[1] for n in found if n.split()[0] == kind})


# ------------------------------------------------------------------ one batch

def check_one(record, found):
    which = names(found, "one")
    answers = ask([{"ask": "summary", "value": found["one %s data" % n][0]} for n in which])
    keys = ("mean", "median", "quartile_1", "quartile_3", "mad_sd", "sd", "standard_error")
    place = max(off([a[k] for k in keys], found["one %s place" % n][0])
                for n, a in zip(which, answers))
    mean = max(off(ends(a["mean_t"]), found["one %s mean_t" % n][0])
               for n, a in zip(which, answers))
    record.bound("mean, median, quartiles, robust spread, sd, standard error of four data sets, "
                 "relative", INDEPENDENT, R, "1", place, 1e-12)
    record.bound("interval of the mean by Student's t, relative", INDEPENDENT, R, "1", mean, 1e-10)
    # NumAcc4 of NIST's Statistical Reference Datasets (from memory): 10000000.2, then 500 times
    # (10000000.1, 10000000.3). The sd is 0.1: 1000 squares of 0.1 over 1000. Doubles near 1e7 are
    # 1.9e-9 apart, which is all that a good algorithm may lose.
    numacc = [10000000.2] + [10000000.1, 10000000.3] * 500
    answer = ask([{"ask": "summary", "value": numacc}])[0]
    record.check("sd of 1001 values that agree in 8 digits", EXACT,
                 "by construction, as NIST's NumAcc4", "1", answer["sd"], 0.1, absolute=2e-9)


def bias(df):
    """Correction of g for bias, Hedges (1981), exact form."""
    return math.exp(math.lgamma(df / 2) - math.lgamma((df - 1) / 2)) / math.sqrt(df / 2)


def check_bonett(record):
    value = [15.83, 16.01, 16.24, 16.42, 15.33, 15.44, 16.88, 16.31]
    source = "Bonett (2006), Comput. Statist. Data Anal. 50:775, as R's DescTools quotes it"
    levels = {0.90: (0.3592, 0.9359), 0.95: (0.3263, 1.0841), 0.99: (0.2607, 1.5109)}
    answers = ask([{"ask": "summary", "value": value, "level": level} for level in levels])
    for (level, want), answer in zip(levels.items(), answers):
        for end, got, value_ in zip(("lower", "upper"), ends(answer["sd_interval"]), want):
            record.check("standard deviation of 8 values, %.0f %% interval, %s end"
                         % (100 * level, end), QUOTED, source, "1", got, value_, absolute=5.1e-5)
    # The author's own program takes 10 steps of an iteration that ours carries to its end: the upper
    # one is off by 2e-6.
    a = [32, 39, 26, 35, 43, 27, 40, 37, 34, 29]
    b = [36, 44, 47, 42, 49, 39, 46, 31, 33, 48]
    answer = ask([{"ask": "pair", "a": a, "b": b}])[0]
    source = "example of ci.ratio.sd2 in Bonett's R package statpsych 1.7"
    for end, got, want in zip(("lower", "upper"), ends(answer["sd_ratio_interval"]),
                              (0.486279, 1.728396)):
        record.check("ratio of two sds of 10 values each, 95 %% interval, %s end" % end, PUBLISHED,
                     source, "1", got, want, absolute=3e-6)
    # Any values with the example's means and sds will do.
    shape = np.linspace(-1, 1, 30)
    shape = (shape - shape.mean()) / shape.std(ddof=1)
    answer = ask([{"ask": "pair", "a": list(35.1 + 7.32 * shape), "b": list(26.7 + 6.98 * shape)}])[0]
    source = "example of ci.stdmean2 in Bonett's R package statpsych, unweighted standardizer"
    # it takes 1 - 3/(4 f - 1) for Hedges' Gamma functions, here f = 58
    taken = (1 - 3 / (4 * 58 - 1)) / bias(58)
    for what, got, want in zip(("g with his approximate correction", "lower end", "upper end"),
                               [answer["g"] * taken, *ends(answer["g_interval"])],
                               (1.159240, 0.6170771, 1.731909)):
        record.check("effect of two batches of 30, %s" % what, PUBLISHED, source, "1", got, want,
                     absolute=6e-7)


# ------------------------------------------------------------------ the bootstrap

def exact_median_quantile(value, f):
    """Quantile f of the bootstrap's median of an odd number of values, and how far f is from a step.

    The median of a resample is at most the k-th value when more than half of the n drawn are among the
    first k, each with chance k/n (B. Efron 1979, Ann. Statist. 7:1, section 3; from memory)."""
    x, n = sorted(value), len(value)
    chance = [stats.binom.sf(n // 2, n, k / n) for k in range(1, n + 1)]
    k = next(i for i, p in enumerate(chance) if p >= f)
    return x[k], min(abs(p - f) for p in chance)


def resample(value, times, rng):
    """(t, mad) of resamples, by NumPy."""
    x = np.asarray(value, dtype=float)
    t, mad = [], []
    for _ in range(times // 1000):
        y = x[rng.integers(0, len(x), (1000, len(x)))]
        t.append((y.mean(1) - x.mean()) / (y.std(1, ddof=1) / math.sqrt(len(x))))
        mad.append(stats.median_abs_deviation(y, axis=1, scale="normal"))
    return np.concatenate(t), np.concatenate(mad)


def check_bootstrap(record, found):
    value = found["one meatmeal data"][0]
    n, times = len(value), 100000
    expanded = stats.norm.cdf(-math.sqrt(n / (n - 1)) * stats.t.ppf(0.975, n - 1))
    answer = ask([{"ask": "summary", "value": value, "resamples": times}])[0]
    for end, got, f in zip(("lower", "upper"), ends(answer["median_interval"]),
                           (expanded, 1 - expanded)):
        want, room = exact_median_quantile(value, f)
        assert room > 4 * math.sqrt(expanded / times), room
        record.check("median of 11 values, expanded percentile interval, %s end" % end, EXACT,
                     "the bootstrap's distribution in closed form (Efron 1979)", "1", got, want)
    # 141 rivers, very skewed. An end from 20000 resamples is off by about
    # sqrt(0.025 0.975/20000)/0.058 = 0.019 standard deviations, 1 % of the half width; both are.
    value = found["one rivers data"][0]
    n, times = len(value), 20000
    expanded = stats.norm.cdf(-math.sqrt(n / (n - 1)) * stats.t.ppf(0.975, n - 1))
    answer = ask([{"ask": "summary", "value": value, "resamples": times}])[0]
    t, mad = resample(value, times, np.random.default_rng(3))
    error = np.std(value, ddof=1) / math.sqrt(n)
    high, low = np.mean(value) - np.quantile(t, [0.025, 0.975])[::1] * error
    got = ends(answer["mean_bootstrap"])
    record.bound("141 skewed values: ends of the mean's interval by the bootstrap's t, of its half "
                 "width", INDEPENDENT, "NumPy, its own resamples", "1",
                 max(abs(got[0] - low), abs(got[1] - high)) / ((high - low) / 2), 0.05)
    low, high = np.quantile(mad, [expanded, 1 - expanded])
    got = ends(answer["mad_sd_interval"])
    record.bound("the same, of the robust spread's interval", INDEPENDENT,
                 "NumPy, SciPy's median_abs_deviation", "1",
                 max(abs(got[0] - low), abs(got[1] - high)) / ((high - low) / 2), 0.05)


# ------------------------------------------------------------------ two batches

def superiority(a, b, level):
    """Chance that a exceeds b, and its interval, from ranks as Brunner & Munzel (2000) have it."""
    n, m = len(a), len(b)
    both = stats.rankdata(np.concatenate([a, b]))
    chance = (both[:n].mean() - (n + 1) / 2) / m
    s = [np.var(both[i] - stats.rankdata(x), ddof=1)
         for i, x in ((slice(0, n), a), (slice(n, None), b))]
    v = [s[0] / (m * m * n), s[1] / (n * n * m)]
    error = math.sqrt(sum(v))
    # the same statistic as SciPy's, which has no interval
    w = stats.brunnermunzel(b, a).statistic
    assert abs((chance - 0.5) / error - w) < 1e-9 * abs(w), (chance, error, w)
    df = sum(v) ** 2 / (v[0] ** 2 / (n - 1) + v[1] ** 2 / (m - 1))
    half = stats.t.ppf((1 + level) / 2, df) * error / (chance * (1 - chance))
    logit = math.log(chance / (1 - chance))
    return [chance, *(1 / (1 + math.exp(-logit + k * half)) for k in (1, -1))]


def check_two(record, found):
    which = names(found, "two")
    data = {n: (found["two %s a" % n][0], found["two %s b" % n][0]) for n in which}
    answers = dict(zip(which, ask([{"ask": "pair", "a": a, "b": b} for a, b in data.values()])))
    means = spreads = scipy_means = scipy_spreads = order = g = 0
    for n, (a, b) in data.items():
        o = answers[n]
        got = [o["difference"], o["difference_error"], *test_of(o["means"]),
               *ends(o["difference_interval"])]
        means = max(means, off(got, found["two %s means" % n][0]))
        got = [o["sd_ratio"], *f_test(o["spreads"])]
        spreads = max(spreads, off(got, found["two %s spreads" % n][0]))
        t = stats.ttest_ind(a, b, equal_var=False)
        scipy_means = max(scipy_means, off([o["means"]["statistic"], o["means"]["p"]], [*t]))
        f = stats.levene(a, b, center="median")
        scipy_spreads = max(scipy_spreads, off([o["spreads"]["statistic"], o["spreads"]["p"]], [*f]))
        order = max(order, off([o["superiority"], *ends(o["superiority_interval"])],
                               superiority(a, b, 0.95)))
        if len(a) == len(b):
            d = (np.mean(a) - np.mean(b)) / math.sqrt((np.var(a, ddof=1) + np.var(b, ddof=1)) / 2)
            g = max(g, off([o["g"]], [bias(2 * len(a) - 2) * d]))
    record.bound("Welch's test of four pairs of batches: difference, error, t, df, p, interval, "
                 "relative", INDEPENDENT, R, "1", means, 1e-9)
    record.bound("Brown and Forsythe's test of the same: ratio of sds, F, df, p, relative",
                 INDEPENDENT, R, "1", spreads, 1e-9)
    record.bound("Welch's test of the same, t and p, relative", INDEPENDENT, "SciPy, ttest_ind",
                 "1", scipy_means, 1e-9)
    record.bound("Brown and Forsythe's of the same, F and p, relative", INDEPENDENT,
                 "SciPy, levene", "1", scipy_spreads, 1e-9)
    record.bound("chance that one exceeds the other and its interval, relative", INDEPENDENT,
                 "by ranks, and SciPy's brunnermunzel", "1", order, 1e-9)
    record.bound("Hedges' g of equal counts, relative", EXACT, "Hedges (1981), exact form", "1", g,
                 1e-12)
    check_student(record, found, answers["sleep"])
    check_limits(record)


def check_student(record, found, answer):
    """Student (1908), The probable error of a mean, Biometrika 6:1, section IX: hours of sleep gained
    by ten patients; his sds have the divisor n. From memory; the data are R's `sleep`."""
    source = "Student (1908), Biometrika 6:1"
    summaries = ask([{"ask": "summary", "value": found["two sleep %s" % s][0]} for s in "ab"])
    for which, o, mean, sd in zip(("first", "second"), summaries, (0.75, 2.33), (1.70, 1.90)):
        record.check("sleep gained, %s drug: mean" % which, MEMORY, source, "h", o["mean"], mean,
                     absolute=0.0051)
        record.check("the same: sd with the divisor n", MEMORY, source, "h",
                     o["sd"] * math.sqrt(0.9), sd, absolute=0.0051)
    record.check("difference of the two, as if of different patients: p", MEMORY,
                 "example of t.test in R's manual", "1",
                 answer["means"]["p"], 0.07939, absolute=5.1e-6)


def check_limits(record):
    """What must hold whatever the data: scaling, shifting, swapping."""
    rng = np.random.default_rng(4)
    a, b = list(rng.normal(0, 1, 11)), list(rng.gamma(2, 1, 17))
    scaled = [[1e3 * v + 7e4 for v in x] for x in (a, b)]
    plain, scaled, swapped = ask([{"ask": "pair", "a": a, "b": b},
                                  {"ask": "pair", "a": scaled[0], "b": scaled[1]},
                                  {"ask": "pair", "a": b, "b": a}])

    def free(o):
        return [o["means"]["p"], o["spreads"]["p"], o["g"], *ends(o["g_interval"]), o["sd_ratio"],
                *ends(o["sd_ratio_interval"]), o["superiority"], *ends(o["superiority_interval"])]

    def back(o):
        low, high = ends(o["g_interval"])
        narrow, wide = ends(o["sd_ratio_interval"])
        less, more = ends(o["superiority_interval"])
        return [o["means"]["p"], o["spreads"]["p"], -o["g"], -high, -low, 1 / o["sd_ratio"], 1 / wide,
                1 / narrow, 1 - o["superiority"], 1 - more, 1 - less]

    record.bound("another unit and origin changes no test, effect, ratio or chance, relative",
                 EXACT, "they have no unit", "1", off(free(scaled), free(plain)), 1e-9)
    record.bound("batches swapped give the same with the sign or the ratio turned, relative", EXACT,
                 "by their definition", "1", off(back(swapped), free(plain)), 1e-9)


# ------------------------------------------------------------------ many batches

def check_many(record, found):
    which = names(found, "many")
    groups = {n: split(found["many %s data" % n][0], found["many %s group" % n][0]) for n in which}
    overall = ask([{"ask": "overall", "batches": groups[n]} for n in which])
    holm = ask([{"ask": "holm", "p": found["many %s p" % n][0]} for n in which])
    means = max(off(f_test(o["means"]), found["many %s means" % n][0])
                for n, o in zip(which, overall))
    spreads = max(off(f_test(o["spreads"]), found["many %s spreads" % n][0])
                  for n, o in zip(which, overall))
    corrected = max(off(o["holm"], found["many %s holm" % n][0]) for n, o in zip(which, holm))
    pairs = [(n, a, b) for n in which for a in range(len(groups[n])) for b in range(a)]
    answers = ask([{"ask": "pair", "a": groups[n][a], "b": groups[n][b]} for n, a, b in pairs])
    ours = {n: sorted(o["means"]["p"] for (m, _, _), o in zip(pairs, answers) if m == n)
            for n in which}
    single = max(off(ours[n], sorted(found["many %s p" % n][0])) for n in which)
    record.bound("Welch's test over three to six batches: F, df, p, relative", INDEPENDENT, R, "1",
                 means, 1e-9)
    record.bound("Brown and Forsythe's over the same, relative", INDEPENDENT, R, "1", spreads, 1e-9)
    record.bound("Welch's p of all 43 pairs, relative", INDEPENDENT, R, "1", single, 1e-9)
    record.bound("Holm's correction of them", INDEPENDENT, R + ", p.adjust", "1", corrected, 1e-12)
    assert len(pairs) == 43, len(pairs)
    two = groups["PlantGrowth"][:2]
    pair, both = ask([{"ask": "pair", "a": two[0], "b": two[1]}, {"ask": "overall", "batches": two}])
    record.bound("Welch over two batches is Welch's t squared, relative", EXACT, "Welch (1951)", "1",
                 off([both["means"]["statistic"], both["means"]["df_2"], both["means"]["p"]],
                     [pair["means"]["statistic"] ** 2, pair["means"]["df"], pair["means"]["p"]]),
                 1e-9)


# ------------------------------------------------------------------ covariates

def adjust_off(found, name, o):
    """Largest relative differences of one adjusted data set: {what: difference}."""
    def want(what):
        return found["adjusted %s %s" % (name, what)][0]

    assert o["reason"] == "known", o
    pairs = o["pair"]
    return {
        "means and slopes": off([b["mean"] for b in o["batch"]] + [s["slope"] for s in o["slope"]],
                                want("coefficients")),
        "their HC3 errors": off([b["error"] for b in o["batch"]] + [s["error"] for s in o["slope"]],
                                want("errors")),
        "residual spread and share explained": off([o["sd"], o["share_within"]],
                                                   want("sd") + want("share")),
        "adjusted differences, errors, p, intervals": max(
            off([p["difference"] for p in pairs], want("differences")),
            off([p["error"] for p in pairs], want("difference_errors")),
            off([p["test"]["p"] for p in pairs], want("difference_p")),
            off([p["interval"]["low"] for p in pairs], want("difference_low"))),
        "what the covariates explain of them": off([p["explained"] for p in pairs],
                                                   want("explained")),
        "test over all": off(f_test(o["overall"]), want("overall")),
        "test of spreads with the covariates removed": off(f_test(o["spreads"]), want("spreads")),
        "test of slopes": max(off(f_test(s["same"]), want("same %d" % j))
                              for j, s in enumerate(o["slope"])),
    }


def check_adjusted(record, found):
    which = names(found, "adjusted")
    questions = []
    for n in which:
        columns = sorted(k for k in found if k.startswith("adjusted %s covariate" % n))
        questions.append({"ask": "adjust", "value": found["adjusted %s data" % n][0],
                          "batch": found["adjusted %s group" % n][0],
                          "covariate": [found[k][0] for k in columns]})
    offs = [adjust_off(found, n, o) for n, o in zip(which, ask(questions))]
    for what in offs[0]:
        record.bound("covariates removed from three to five batches: %s, relative" % what,
                     INDEPENDENT, R + ", lm", "1", max(o[what] for o in offs), 1e-8)


# ------------------------------------------------------------------ planned counts

def exact_sd(mean, sd, count):
    shape = np.linspace(-1, 1, count)
    return list(mean + sd * (shape - shape.mean()) / shape.std(ddof=1))


def check_power(record, found):
    grid = [(t, df, d) for t in (-3, -0.5, 0, 1, 2.5, 8) for df in (1.5, 4, 11.3, 58, 400)
            for d in (-2, 0, 0.7, 3, 9)]
    answers = ask([{"ask": "noncentral", "t": t, "df": df, "delta": d} for t, df, d in grid])
    most = max(abs(o["p"] - stats.nct.cdf(t, df, d)) for (t, df, d), o in zip(grid, answers))
    record.bound("distribution of the noncentral t, 150 places", INDEPENDENT, "SciPy, nct", "1", most,
                 1e-8)
    rows = found["power"]
    answers = ask([{"ask": "power_means", "difference": d, "sd_a": 1, "sd_b": 1, "count_a": n,
                    "count_b": n, "alpha": alpha} for n, d, alpha, _ in rows])
    record.bound("power of the test of means, equal spreads, 40 plans", INDEPENDENT,
                 "R 4.2, power.t.test(strict)", "1",
                 max(abs(o["power"] - row[3]) for row, o in zip(rows, answers)), 1e-6)
    answers = ask([{"ask": "need_means", "a": exact_sd(d, 1, 6), "b": exact_sd(0, 1, 6)}
                   for d, _ in found["need"]])
    for (d, n), o in zip(found["need"], answers):
        record.check("shots in each batch for a difference of %g sd, power 80 %%" % d, INDEPENDENT,
                     "R 4.2, power.t.test, rounded up", "1", 6 + o["more"], math.ceil(n))
    record.check("the same for 0.5 sd", MEMORY, "Cohen (1988), table 2.4.1", "1",
                 6 + answers[1]["more"], 64)
    answers = ask([{"ask": "need_means", "a": exact_sd(0.1, 1, int(n)), "b": exact_sd(0, 1, int(n))}
                   for n, _ in found["detectable"]])
    record.bound("least difference that counts of 6, 12, 40 show, relative", INDEPENDENT,
                 "R 4.2, power.t.test", "1",
                 max(off([o["detectable"]], [d]) for (_, d), o in zip(found["detectable"], answers)),
                 1e-5)
    # Equal spreads: no difference, so the test is right in alpha of all cases; its small-sample terms
    # make it careful, and vanish as 1/n.
    few, many = ask([{"ask": "power_spreads", "ratio": 1, "evenness": math.sqrt(2 / math.pi),
                      "count_a": n, "count_b": n, "alpha": 0.05} for n in (12, 100000)])
    assert 0.03 < few["power"] < 0.05, few
    record.check("power for equal spreads, large counts", EXACT, "alpha", "1", many["power"], 0.05,
                 absolute=1e-4)


def main():
    record = Record("shots_stats")
    found = from_r()
    check_one(record, found)
    check_bonett(record)
    check_bootstrap(record, found)
    check_two(record, found)
    check_many(record, found)
    check_adjusted(record, found)
    check_power(record, found)
    return 0


if __name__ == "__main__":
    sys.exit(main())
