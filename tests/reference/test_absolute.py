#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The chain of absolute.py against known answers, then the program against it.

Usage: test_absolute.py, with CABER naming the program.
"""
import csv
import json
import math
import os
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
from scipy.linalg import eigh

HERE = pathlib.Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]
import absolute as A  # noqa: E402
from record import COLOURS, INDEPENDENT, Record, figure  # noqa: E402

SETUPS = HERE.parent.parent / "models/setups"
STORED = HERE / "absolute"
AGAIN = "neutral-quick"  # is computed afresh
ODD = "awkward"  # stands beside the stored results
SHARE = 0.003
MIRRORED = {"neutral-smooth-left": "neutral-smooth"}
SOURCE = "chain of rigid segments in the inertial frame, tests/reference/absolute.py"
CONVERGED = ("modes=24", "stations=40", "elements=200", "ceiling=0", "tolerance=1e-11")

# series: title, unit, allowed at the defaults, allowed at converged settings, names
GROUPS = (
    ("tip deflection, 4 directions", "mm", 0.2, 0.001,
     ("lead_deflection_mm", "droop_mm", "lag_mm", "out_of_plane_mm")),
    ("tip slopes and twist", "deg", 0.02, 0.0005, ("lead_slope_deg", "droop_slope_deg", "tip_twist_deg")),
    ("arm, club and roll angles", "deg", 0.02, 0.0001, ("arm_angle_deg", "club_angle_deg", "roll_deg")),
    ("head speed", "m/s", 0.02, 0.00005, ("head_speed_mps",)),
    ("face centre, 3 coordinates", "mm", 0.2, 0.001, ("head_ahead_m", "head_up_m", "head_out_m")),
    ("moment at the hands, 3 components", "N m", 0.05, 0.003,
     ("handle_moment_nm", "handle_moment_out_nm", "handle_twist_moment_nm")),
    ("grip force", "N", 1.0, 0.03, ("grip_force_n",)),
)
# impact: name, unit, allowed at the defaults, at converged settings
IMPACT = (
    ("lead_deflection_mm", "mm", 0.2, 0.001), ("droop_mm", "mm", 0.2, 0.001), ("tip_twist_deg", "deg", 0.02, 0.0002),
    ("loft_change_deg", "deg", 0.02, 0.0002), ("face_rotation_deg", "deg", 0.02, 0.0002),
    ("lie_change_deg", "deg", 0.02, 0.0005), ("head_speed_mps", "m/s", 0.02, 0.00005),
    ("closure_rate_deg_s", "deg/s", 2.0, 0.1), ("downswing_time_s", "s", 1e-5, 2e-8),
    ("peak_lag_mm", "mm", 0.2, 0.001), ("peak_lag_time_s", "s", 1e-4, 2e-5),
    ("peak_handle_moment_nm", "N m", 0.05, 0.001), ("strain_energy_peak_j", "J", 0.003, 2e-5),
)


# those of them that get a row for each setup; the others are asserted
ROWS = ("lead_deflection_mm", "droop_mm", "tip_twist_deg", "loft_change_deg", "face_rotation_deg", "head_speed_mps",
        "downswing_time_s", "peak_lag_mm", GROUPS[0][0], GROUPS[1][0], GROUPS[3][0], GROUPS[5][0])


def title(name):
    return name.rsplit("_", 1)[0].replace("_deg", "").replace("_", " ")


def digit(x, allowed):
    """A difference to one digit, as long as it is not lost in what is allowed."""
    return "%.1g" % abs(x) if abs(x) > 0.05 * allowed else "< %.1g" % (0.05 * allowed)


# ------------------------------------------------------------------ the chain itself

class Known:
    """The chain's own checks: asserted one by one, kept for a table."""

    def __init__(self):
        self.rows = []

    def close(self, what, source, got, want, digits, rel=0.0, absolute=0.0):
        allowed = rel * abs(want) + absolute
        self.rows.append((what, source, "%.*f" % (digits, got), "%.*f" % (digits, want)))
        print("%-60s got %.9g want %.9g" % (what, got, want))
        assert abs(got - want) <= allowed, "%s: %.9g, want %.9g, allowed %.2g" % (what, got, want, allowed)


def uniform(segments, length=1.0, mass=1.0, ei=1.0, ei_across=None, gj=1.0, end=0.0):
    """A uniform beam; `end`: a point mass on its tip."""
    def section(s):
        k = np.zeros((len(s), 3, 3))
        k[:, 0, 0], k[:, 1, 1], k[:, 2, 2] = gj, ei if ei_across is None else ei_across, ei
        return np.full(len(s), mass), np.full(len(s), 1e-6 * mass * length**2), k
    point = (end, np.zeros(3), np.zeros((3, 3)))
    return A.Chain(section, np.linspace(0, length, segments + 1), [], point)


def extrapolated(function, levels):
    return A.romberg([function(n) for n in levels])[-1][-1]


def check_frequencies(known):
    for mu, betas in ((0.0, (1.87510407, 4.69409113)), (1.0, (1.24791741, 4.03113944))):
        got = extrapolated(lambda n: uniform(n, gj=1e6, end=mu).frequencies(3), (8, 16, 32))
        for i, beta in enumerate(betas):  # each bending mode comes twice, in two planes
            known.close("cantilever, tip mass %g of the beam's, frequency %d" % (mu, i + 1),
                        "frequency equation", got[2 * i], beta**2, 5, rel=3e-6)


def held(axes=A.EYE, lift=(0, 0, 0)):
    return A.Driven(lambda t: (axes, np.zeros(3), np.zeros(3), np.zeros(3)), lift)


def check_elastica(known):
    """A dead force across the end of a cantilever, as weight of a point mass there."""
    for force, want in ((1, (0.301720774, 0.0564332363)), (5, (0.713791524, 0.387628361)),
                        (10, (0.810609025, 0.554995598))):
        def ends(n):
            chain = uniform(n, mass=1e-9, end=1.0)
            y, _ = A.Motion(chain, held(lift=(0, force, 0))).start()
            tip = (chain.lengths[:, None] * y.q[:-1, :, 0]).sum(0)
            return np.array([-tip[1], 1 - tip[0]])
        got = extrapolated(ends, (8, 16, 32, 64))
        for name, a, b in zip(("deflection", "shortening"), got, want):
            known.close("elastica, P L^2/EI = %d, %s/L" % (force, name), "elliptic integrals", a, b, 6, absolute=1e-6)


def rotating(n, speed):
    """Flap and lag frequencies about steady rotation, from the balance itself by differences."""
    chain = uniform(n, gj=1e3)
    spin = np.array([0, 0, speed])
    motion = A.Motion(chain, A.Driven(lambda t: (A.EYE, spin, np.zeros(3), np.zeros(3))))
    q, w = np.broadcast_to(A.EYE, (n + 1, 3, 3)), np.broadcast_to(spin, (n + 1, 3))
    stiffness = np.empty((3 * n + 3, 3 * n + 3))
    h = motion.holder.move(0, None, None, None)
    for i in range(len(stiffness)):
        turn = np.zeros(3 * n + 3)
        turn[i] = 1e-5
        side = [motion.balance(h, A.rotation(s * turn.reshape(-1, 3)) @ q, w, 0 * w) for s in (1, -1)]
        stiffness[:, i] = (side[0] - side[1]) / 2e-5
    mass = chain.mass_matrix(q @ chain.bodies.inertia, chain.bodies.centre, chain.bodies.arm)
    out = []
    for axis in (1, 2):  # a turn about e2 flaps, one about e3 (the rotation's axis) lags
        pick = slice(axis, None, 3)
        # the empty end body has no inertia: so the inverse squares, of which its own is 0
        inverse = eigh(mass[pick, pick], 0.5 * (stiffness + stiffness.T)[pick, pick], eigvals_only=True)
        out.append(1 / np.sqrt(inverse[:-3:-1]))
    return np.array(out)


def check_rotating(known):
    source = "rotating beam's equation; Wright et al. 1982 (from memory)"
    got = extrapolated(lambda n: rotating(n, 5.0), (8, 16, 32))
    for name, a, b in (("flap 1", got[0, 0], 6.449545), ("flap 2", got[0, 1], 25.446080),
                       ("lag 1", got[1, 0], 4.073896)):
        known.close("cantilever rotating at eta = 5, %s" % name, source, a, b, 4, rel=3e-5)


def spin_up(n, dt, until=10.24):
    """Tip's place across the turning axis at every whole second and its least value."""
    top, span = 6.0, 15.0
    c = 2 * math.pi / span

    def motion(t):
        angle = top / span * (0.5 * t * t + (math.cos(c * t) - 1) / c**2)
        rate, second = top / span * (t - math.sin(c * t) / c), top / span * (1 - math.cos(c * t))
        z = np.array([0, 0, 1.0])
        return A.rotation(angle * z), rate * z, second * z, np.zeros(3)
    chain = uniform(n, 10.0, 1.2, 1.4e4)
    run = A.Motion(chain, A.Driven(motion))
    y, acc = run.start()
    t, u = [0.0], [0.0]
    while y.t < until - 1e-9:
        y, acc = run.step(y, dt, acc)
        tip = motion(y.t)[0].T @ (chain.lengths[:, None] * y.q[:-1, :, 0]).sum(0)
        t.append(y.t)
        u.append(tip[1])
    t, u = np.array(t), np.array(u)
    return np.array([A.polynomial(t, u, 5.0), A.polynomial(t, u, 10.0), -A.peak(t, -u)[0]])


def check_spin_up(known):
    got = A.romberg([spin_up(6 * 2**i, 0.08 / 2**i) for i in range(3)])[-1][-1]
    source = "Simo & Vu-Quoc 1986, inextensible: by two other formulations"
    for name, a, b, rel in (("at 5 s", got[0], -0.4684355, 1e-4), ("at 10 s", got[1], -0.3626725, 2e-4),
                            ("largest", got[2], -0.57376, 1e-4)):
        known.close("spin-up of an arm, tip lag %s, m" % name, source, a, b, 4, rel=rel)


def check_energy(known):
    """The whole model let go without drives and damping: energy drifts by the step squared only."""
    setup = A.read_setup(str(SETUPS / (AGAIN + ".yaml")))
    setup["player"]["start"].update(arm=-1.0, cock=-1.2, arm_speed=2.0, cock_speed=-3.0)
    drift = []
    for dt in (2e-3, 1e-3):
        swing = A.Swing(setup, 12, damping=0.0, torques=False)
        y, acc = swing.start()
        first = sum(swing.energy(y))
        worst, most = 0.0, 0.0
        while y.t < 0.5:
            y, acc = swing.step(y, dt, acc)
            energy = swing.energy(y)
            worst, most = max(worst, abs(sum(energy) - first)), max(most, energy[0])
        drift.append(worst / most)
    known.close("falling arms and club, lost share of the energy", "conservation", drift[1], 0.0, 6, absolute=2e-5)
    known.close("the same, order in the step", "second order", math.log2(drift[0] / drift[1]), 2.0, 1, absolute=0.1)


# ------------------------------------------------------------------ the program

def path_of(name):
    """A demo setup, or one that stands beside the stored results."""
    return str((SETUPS if (SETUPS / (name + ".yaml")).exists() else STORED) / (name + ".yaml"))


def program(name, settings):
    with tempfile.TemporaryDirectory() as folder:
        series = os.path.join(folder, "series.csv")
        command = [os.environ["CABER"], "swing", path_of(name), "--json", "--series", series]
        for text in settings:
            command += ["--set", text]
        out = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout)["impact"]
        with open(series, encoding="utf-8") as f:
            rows = list(csv.reader(f))
    wanted = ("time_s",) + A.SERIES
    places = [rows[0].index(k) for k in wanted]
    table = np.array([[float(r[i]) for i in places] for r in rows[2:]]).T
    return out, dict(zip(wanted, table))


def stored(name):
    name = MIRRORED.get(name, name)
    with open(STORED / (name + ".json"), encoding="utf-8") as f:
        values = json.load(f)
    with open(STORED / (name + ".csv"), encoding="utf-8") as f:
        rows = list(csv.reader(f))
    series = dict(zip(rows[0], np.array(rows[1:], float).T))
    return {k: v[0] for k, v in values["impact"].items()}, {k: v[1] for k, v in values["impact"].items()}, series


def apart(ours, theirs, names, share=0.0, least=0.0):
    """Largest difference of some series over their common times; with a share, of those beyond that part of the
    series' own peak (or `least`, if that is more) it must be none."""
    worst = 0.0
    for name in names:
        rows, unit = len(theirs["time_s"]), 1e3 if name.endswith("_m") else 1.0
        assert np.max(abs(ours["time_s"][:rows] - theirs["time_s"])) < 1e-9
        off = unit * float(np.max(abs(ours[name][:rows] - theirs[name])))
        allowed = max(least, share * unit * float(np.max(abs(theirs[name]))))
        assert not share or off <= allowed, "%s: off by %.3g, allowed %.3g" % (name, off, allowed)
        worst = max(worst, off)
    return worst


def compare_all(record, names):
    """Values at impact as rows, at the defaults; series as rows, at converged settings; the rest as tables."""
    least, at_defaults = [], []
    for name in names:
        values, _, series = stored(name)
        sample = "settings.sample=%.10g" % (series["time_s"][1] - series["time_s"][0])
        ours, ours_series = program(name, (sample,))
        best, best_series = program(name, (sample,) + tuple("settings." + s for s in CONVERGED))
        for key, unit, allowed, tight in IMPACT:
            off = abs(best[key] - values[key])
            assert off <= tight, "%s: %s at converged settings off by %.3g, allowed %.3g" % (name, key, off, tight)
            if key not in ROWS:
                assert name == ODD or abs(ours[key] - values[key]) <= allowed, (name, key, ours[key], values[key])
            elif name == ODD:  # the defaults are meant for clubs
                record.check("%s: %s, converged settings" % (name, title(key)), INDEPENDENT, SOURCE, unit, best[key],
                             values[key], absolute=tight)
            else:
                record.check("%s: %s" % (name, title(key)), INDEPENDENT, SOURCE, unit, ours[key], values[key],
                             absolute=allowed)
        for what, unit, _, tight, keys in GROUPS:
            off = apart(best_series, series, keys)
            assert off <= tight, "%s: %s at converged settings off by %.3g, allowed %.3g" % (name, what, off, tight)
            if what in ROWS:
                record.bound("%s: %s through the swing, converged settings" % (name, what), INDEPENDENT, SOURCE, unit,
                             off, tight)
        at_defaults.append([name] + ["%.1g" % apart(ours_series, series, g[4], SHARE, g[2]) for g in GROUPS])
        least.append([name] + [digit(best[k] - values[k], t) for k, _, _, t in IMPACT[:8]])
    record.table("The largest difference through the swing, program at its defaults",
                 ["setup"] + ["%s, %s" % (g[0], g[1]) for g in GROUPS], at_defaults,
                 "Allowed: %g %% of a series' peak or, if more, " % (100 * SHARE)
                 + ", ".join("%g %s" % (g[2], g[1]) for g in GROUPS) + ".")
    record.table("Differences at impact, program at converged settings (%s)" % ", ".join(CONVERGED),
                 ["setup"] + ["%s, %s" % (title(k), u) for k, u, _, _ in IMPACT[:8]], least,
                 "Allowed: " + ", ".join("%g %s" % (t, u) for _, u, _, t in IMPACT[:8]) + ".")


# ------------------------------------------------------------------ one setup in full

def order(values):
    """Observed order of three values, each from half the step of the one before."""
    a, b = values[1] - values[0], values[2] - values[1]
    return "%.1f" % math.log2(a / b) if a * b > 0 else "-"


SHOWN = ("lead_deflection_mm", "droop_mm", "tip_twist_deg", "droop_slope_deg", "peak_lag_mm")


def refine(setup, runs):
    """Tables of refinement: both together, then each alone."""
    def at(segments, step):
        key = (segments, step)
        if key not in runs:
            runs[key] = A.impact(A.Swing(setup, segments).run(step), setup["player"]["ball"]["ahead"])
        return [runs[key][k] for k in SHOWN]

    rows = []
    for what, cases in (("both", ((12, 1e-3), (24, 5e-4), (48, 2.5e-4))),
                        ("segments", ((12, 5e-4), (24, 5e-4), (48, 5e-4))),
                        ("step", ((24, 1e-3), (24, 5e-4), (24, 2.5e-4)))):
        values = [at(*case) for case in cases]
        for case, v in zip(cases, values):
            rows.append([what, str(case[0]), "%.2f" % (1e3 * case[1])] + ["%.4f" % x for x in v])
        rows.append([what, "order", ""] + [order(x) for x in zip(*values)])
        for k in (0, 1, 4):  # the deflections
            found = [v[k] for v in values]
            assert abs(math.log2((found[1] - found[0]) / (found[2] - found[1])) - 2) < 0.35, (what, SHOWN[k], found)
    return rows


def more_modes(record, values):
    """The program's own convergence, in its modes, towards the chain."""
    keys = ("lead_deflection_mm", "droop_mm", "lead_slope_deg", "droop_slope_deg", "tip_twist_deg", "head_speed_mps")
    rows, off = [], {}
    for modes in (4, 7, 10, 16, 24, 40):
        settings = ("modes=%d" % modes, "stations=60", "elements=200", "ceiling=0", "tolerance=1e-10")
        ours = program(AGAIN, tuple("settings." + s for s in settings))[0]
        off[modes] = [abs(ours[k] - values[k]) for k in keys]
        rows.append([modes] + [digit(x, t) for x, t in zip(off[modes], (2e-3, 2e-3, 5e-4, 5e-4, 2e-4, 5e-5))])
    for few, many in ((4, 10), (10, 40)):
        assert off[many][1] < 0.3 * off[few][1] and off[many][3] < 0.3 * off[few][3], (off[few], off[many])
    record.table("Program less chain at impact with more modes, %s" % AGAIN,
                 ["modes"] + ["%s, %s" % (title(k), k.rsplit("_", 1)[1].replace("mps", "m/s")) for k in keys], rows)


def run_again(record):
    """One setup with its whole sequence: against what is stored, and against the program."""
    setup = A.read_setup(str(SETUPS / (AGAIN + ".yaml")))
    found = A.solve(setup, range(3))
    values, errors, series = stored(AGAIN)
    for name, value in found["impact"].items():
        allowed = found["error"][name] + errors[name] + 1e-9 * abs(value)
        assert abs(value - values[name]) <= allowed, (name, value, values[name], allowed)
    every = round((series["time_s"][1] - series["time_s"][0]) / found["time"][1])
    for name in A.SERIES:
        afresh = found["series"][name][::every][:len(series["time_s"])]
        off = float(np.max(abs(afresh - series[name])))
        assert off <= found["series_error"][name] + 6e-7 * np.max(abs(afresh)), (name, off)  # stored to 7 digits

    runs = {(12 * 2**i, 1e-3 / 2**i): v for i, v in enumerate(found["levels"])}
    rows = refine(setup, runs)
    rows.append(["extrapolated", "", ""] + ["%.4f" % found["impact"][k] for k in SHOWN])
    ours, ours_series = program(AGAIN, ("settings.sample=0.001",) + tuple("settings." + s for s in CONVERGED))
    rows.append(["program, converged", "", ""] + ["%.4f" % ours[k] for k in SHOWN])
    record.table("The chain refined, %s" % AGAIN,
                 ["refined", "segments", "step, ms"] + ["%s, %s" % (title(k), k.rsplit("_", 1)[1].replace("mps", "m/s"))
                                                        for k in SHOWN], rows,
                 "Both are of second order; the extrapolated values take out the errors in h^2 and h^4.")
    more_modes(record, values)
    default, default_series = program(AGAIN, ("settings.sample=0.001",))
    draw(record, found, default_series)


def damped_more(record):
    """What more damping takes from the lead at impact: the chain's damper against the program's modes."""
    name, key, ratio = "neutral-smooth", "lead_deflection_mm", 0.03
    setup = A.read_setup(path_of(name))
    ahead, plain = setup["player"]["ball"]["ahead"], setup["shaft"]["damping"]
    levels = [A.impact(A.Swing(setup, 12 * 2**i, ratio).run(1e-3 / 2**i), ahead)[key] for i in range(2)]
    settings = tuple("settings." + s for s in CONVERGED)
    ours = [program(name, ("shaft.damping=%g" % x,) + settings)[0][key] for x in (plain, ratio)]
    record.check("%s: lead that damping of %g %% in place of %g %% takes away" % (name, 100 * ratio, 100 * plain),
                 INDEPENDENT, SOURCE, "mm", ours[0] - ours[1], stored(name)[0][key] - float(A.romberg(levels)[-1][-1]),
                 absolute=0.002)


def draw(record, found, program_series):
    fig, axes = figure(7.0, 5.2, nrows=2, sharex=True, height_ratios=(2.2, 1))
    t = 1e3 * found["time"]
    rows = len(t)
    upper, lower = axes
    twist = upper.twinx()
    twist.spines["right"].set_visible(True)
    twist.grid(False)
    for i, (key, name, on) in enumerate((("lead_deflection_mm", "lead", upper), ("droop_mm", "droop", upper),
                                         ("tip_twist_deg", "twist", twist))):
        on.plot(t, program_series[key][:rows], color=COLOURS[i], label="%s, program" % name)
        on.plot(t[::4], found["series"][key][::4], "o", markersize=3, color=COLOURS[i], markerfacecolor="none",
                label="%s, chain" % name)
    for i, key in enumerate(("lead_deflection_mm", "droop_mm")):
        off = 1e3 * (program_series[key][:rows] - found["series"][key])
        lower.plot(t, off, color=COLOURS[i], label=("lead", "droop")[i])
    off = program_series["tip_twist_deg"][:rows] - found["series"]["tip_twist_deg"]
    lower.plot(t, 1e3 * off, color=COLOURS[2], label="twist, 0.001°")
    upper.set_ylabel("deflection, mm")
    twist.set_ylabel("twist, degrees")
    lower.set_ylabel("program less\nchain, µm")
    lower.set_xlabel("time from the start, ms")
    lines = upper.get_lines() + twist.get_lines()
    upper.legend(lines, [x.get_label() for x in lines], loc="lower center", ncols=3, fontsize=8,
                 bbox_to_anchor=(0.5, 1.0))
    lower.legend(loc="lower right", ncols=3, fontsize=8)
    record.plot("absolute", "Lead, droop and twist of the tip through a swing: the program's lines pass through "
                "the chain's points; below, their difference in micrometres", fig)


def main():
    known = Known()
    for check in (check_frequencies, check_elastica, check_rotating, check_spin_up, check_energy):
        check(known)
    record = Record("absolute")
    record.text("A second computation of the whole downswing in another formulation: the shaft cut into rigid "
                "segments, each with its own orientation in the inertial frame, joined by springs; Newton's and "
                "Euler's laws for each; implicit midpoint; extrapolated in segments and steps. No modes, no floating "
                "frame, nothing shared with the program but the model files. First the chain against known answers:")
    record.table("The chain against known answers", ["problem", "known from", "chain", "known"], known.rows)
    names = sorted(p.stem for p in SETUPS.glob("*.yaml")) + [ODD]
    missing = [n for n in names if not (STORED / (MIRRORED.get(n, n) + ".json")).exists()]
    assert not missing, "no stored result for " + ", ".join(missing)
    compare_all(record, names)
    run_again(record)
    damped_more(record)
    return 0


if __name__ == "__main__":
    sys.exit(main())
