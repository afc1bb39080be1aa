# SPDX-License-Identifier: GPL-3.0-or-later
"""Runs for the study of convergence, and how far two of them are apart."""
import json
import math
import os
import subprocess

SOURCE = os.environ.get("CABER_SOURCE", os.path.join(os.path.dirname(__file__), "..", ".."))
BUILD = os.environ.get("CABER_BUILD", os.path.join(SOURCE, "build"))
SETUPS = sorted(f[:-5] for f in os.listdir(os.path.join(SOURCE, "models", "setups")))

UNITS = {"modes": "", "stations": "", "elements": "", "ceiling": " Hz", "tolerance": ""}


def ask(lines):
    """Answers, one for each line of questions, from one process (see answers_convergence.c)."""
    done = subprocess.run([os.path.join(BUILD, "tests", "answers_convergence"), SOURCE], check=True,
                          input="".join(l + "\n" for l in lines), stdout=subprocess.PIPE, text=True)
    return [json.loads(l) for l in done.stdout.splitlines()]


def question(setup, settings, overrides=()):
    given = ["settings.%s=%.17g%s" % (k, v, UNITS[k]) for k, v in settings.items()]
    return "\t".join(["swing", setup, *overrides, *given])


def swings(setups, cases):
    """{setup: [answer for each case]}; a case is a dict of settings."""
    found = iter(ask([question(s, c) for s in setups for c in cases]))
    return {s: [next(found) for _ in cases] for s in setups}


# ------------------------------------------------------------------ what an error may be

# The criterion of the defaults, by the unit that ends a quantity's name: 0.2 mm, 0.02 deg and 0.02 m/s are
# a tenth or less of what differs from shaft to shaft. The one length in m is the bend point's.
CRITERION = {"mm": ("lengths", 0.2), "m": ("bend point", 0.2e-3), "deg": ("angles", 0.02), "mps": ("speeds", 0.02)}
KINDS = ("lengths", "bend point", "angles", "speeds", "times", "loads", "residual")
LIMITS = {"lengths": "0.2 mm", "bend point": "0.2 mm", "angles": "0.02 deg", "speeds": "0.02 m/s",
          "times": "0.1 ms, 1 ms of a peak", "loads": "1 %", "residual": "1e-6"}
HELD = ("lengths", "bend point", "angles", "speeds")  # the criterion itself


def unit_of(name):
    for unit in ("deg_s", "nm_s", "mps", "mm", "nm", "deg", "m", "n", "j", "s"):
        if name.endswith("_" + unit):
            return unit
    return ""


def limit_of(name, value):
    """(kind, limit): what the defaults may be off by. Rates, moments, forces, energies and their shares: 1 %;
    0.1 ms of the downswing, and 1 ms, a row of a series, of where a flat maximum lies."""
    unit = unit_of(name)
    if unit in CRITERION:
        return CRITERION[unit]
    if unit == "s":
        return "times", 1e-3 if name.startswith("peak") else 1e-4
    if name == "energy_residual":
        return "residual", 1e-6
    return "loads", 0.01 * abs(value)


def error(name, got, want):
    return abs(got) if name == "energy_residual" else abs(got - want)


def errors(got, want):
    """{quantity: error} of the bent club."""
    return {q: error(q, got["impact"][q], w) for q, w in want["impact"].items()}


def shares(got, want):
    """{kind: (largest error as a share of its limit, which quantity)} of the bent and the straight club."""
    worst = {k: (0.0, "") for k in KINDS}
    for part in ("impact", "straight"):
        for q, w in want[part].items():
            kind, limit = limit_of(q, w)
            e = error(q, got[part][q], w)
            share = e / limit if limit > 0 else (math.inf if e > 0 else 0.0)
            worst[kind] = max(worst[kind], (share, q))
    return worst


def worst_shares(found, wanted, case):
    """The same, the largest over all setups: found[setup][case] against wanted[setup]."""
    each = [shares(found[s][case], wanted[s]) for s in wanted]
    return {k: max(e[k] for e in each) for k in KINDS}


# ------------------------------------------------------------------ what a swing costs

def work(settings, effort):
    """Multiplications of a swing, counted in the code; the clock would say something else every time.

    n modes, N stations, so N + 1 segments, and u = n + 2 unknowns with hub and wrist driven by torques. An
    evaluation moves the rod and its Jacobians (12 n for the strains of a segment, 42 n for the Jacobians, some
    550 for the step and its derivatives), adds 25 n a station to the sums, multiplies 4 N + 6 rows into the
    mass matrix, and solves with it twice, for the accelerations and for Newton's correction. Once a step the
    tip alone is moved to look for roots.
    """
    n, stations = settings["modes"], settings["stations"]
    u = n + 2
    evaluation = ((stations + 1) * (54 * n + 550) + 25 * n * stations
                  + (4 * stations + 6) * n * (n + 1) / 2 + 2 * (u ** 3 / 6 + 2 * u ** 2))
    look = (stations + 1) * (12 * n + 150)
    return effort["evaluations"] * evaluation + effort["steps"] * look


# ------------------------------------------------------------------ orders

def order(x, y):
    """The slope of log y over log x, least squares."""
    a, b = [math.log(v) for v in x], [math.log(v) for v in y]
    ma, mb = sum(a) / len(a), sum(b) / len(b)
    return sum((p - ma) * (q - mb) for p, q in zip(a, b)) / sum((p - ma) ** 2 for p in a)
