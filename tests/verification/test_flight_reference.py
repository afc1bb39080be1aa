# SPDX-License-Identifier: GPL-3.0-or-later
"""Ball and air computed apart: the published sets of drag and lift written anew from their sources, flights
integrated by SciPy's DOP853, the density of moist air by the metrologists' formula. The program's own
answers come from answers_flight."""
import csv
import math
import os
import pathlib
import subprocess

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline

from record import INDEPENDENT, MEMORY, PUBLISHED, QUOTED, Record

HERE = pathlib.Path(__file__).resolve().parent
ANSWERS = os.path.join(os.environ["CABER_BUILD"], "tests/answers_flight")
RPM = 30 / math.pi
MASS, RADIUS = 0.04593, 0.042670 / 2
STANDARD = (1.225, 1.7894e-5)  # kg/m3, Pa s
record = Record("flight_reference")


def ask(questions):
    """The program's answers, an array a line."""
    text = "\n".join(" ".join([q[0]] + ["%.17g" % x for x in q[1:]]) for q in questions)
    done = subprocess.run([ANSWERS], input=text + "\n", check=True, stdout=subprocess.PIPE, encoding="ascii")
    return [np.array(line.split(), float) for line in done.stdout.splitlines()]


# ------------------------------------------------------------------ drag and lift

def read_table():
    lines = [row for row in csv.reader((HERE / "studies/bearman-harvey.csv").open(encoding="ascii"))
             if not row[0].startswith("#")]
    drag, lift = lines[:22], lines[22:]
    assert (drag[0][0], lift[0][0]) == ("drag", "lift") and drag[0][1:] == lift[0][1:]
    body = [np.array(part[1:], float) for part in (drag, lift)]
    return np.array(drag[0][1:], float), body[0][:, 0], body[0][:, 1:], body[1][:, 1:]


SPEEDS, SPINS, DRAG, LIFT = read_table()
# The table's ball and air, as that course has them (src/ball/drag.c).
TABLE_DIAMETER, TABLE_VISCOSITY = 0.041, 1.5e-5


def tensor(values):
    """Coefficients of the natural cubic splines along both axes: [power of speed, cell, power of spin, cell]."""
    along_spin = CubicSpline(SPINS, values, axis=0, bc_type="natural").c
    return CubicSpline(SPEEDS, along_spin, axis=2, bc_type="natural").c


TENSORS = tensor(DRAG), tensor(LIFT)


def cell(edges, x):
    i = min(max(int(np.searchsorted(edges, x, "right")) - 1, 0), len(edges) - 2)
    return i, (x - edges[i]) ** np.arange(3, -1, -1)


def smooth(speed, rpm):
    (i, p), (j, q) = cell(SPEEDS, speed), cell(SPINS, rpm)
    return [p @ c[:, i, :, j] @ q for c in TENSORS]


def linear(speed, rpm):
    i = cell(SPEEDS, speed)[0]
    j = cell(SPINS, rpm)[0]
    a = (speed - SPEEDS[i]) / (SPEEDS[i + 1] - SPEEDS[i])
    b = (rpm - SPINS[j]) / (SPINS[j + 1] - SPINS[j])
    return [(1 - b) * ((1 - a) * t[j, i] + a * t[j, i + 1]) + b * ((1 - a) * t[j + 1, i] + a * t[j + 1, i + 1])
            for t in (DRAG, LIFT)]


def bearman_harvey(reynolds, spin, between=smooth):
    speed = min(max(reynolds * TABLE_VISCOSITY / TABLE_DIAMETER, SPEEDS[0]), SPEEDS[-1])
    rpm = spin * speed / (TABLE_DIAMETER / 2) * RPM
    drag, lift = between(speed, min(max(rpm, SPINS[0]), SPINS[-1]))
    return drag, lift * min(1, rpm / SPINS[0])


def smits_smith(reynolds, spin):
    return 0.24 + 0.18 * spin + 0.06 * math.sin(math.pi * (reynolds - 90000) / 200000), 0.54 * spin**0.4


def lyu(reynolds, spin):
    return 1.91e-11 * reynolds**2 - 5.40e-6 * reynolds + 0.56, -3.25 * spin**2 + 1.99 * spin


def held(formula, least_reynolds, most_reynolds, least_spin, most_spin):
    """The formula within its range, held at the edge outside; lift in proportion to the spin below it."""
    def of(reynolds, spin):
        s = min(max(spin, least_spin), most_spin)
        drag, lift = formula(min(max(reynolds, least_reynolds), most_reynolds), s)
        return drag, lift * min(1, spin / s)
    return of


# Least and most Reynolds number, least and most spin parameter.
RANGES = None, (7e4, 2.1e5, 0.08, 0.2), (7.5e4, 2e5, 0.045, 0.32)
SETS = (("Bearman & Harvey", bearman_harvey), ("Smits & Smith", held(smits_smith, *RANGES[1])),
        ("Lyu et al.", held(lyu, *RANGES[2])))
SOURCES = ("Bearman & Harvey 1976, Aeronaut. Q. 27:112, figures 7 and 8, as tabulated in the course TKT4140, Trondheim",
           "Smits & Smith 1994, Science and Golf II", "Lyu et al. 2018, Proceedings 2(6):238")


def check_table():
    """All 210 points of the table, then places between them."""
    points = [(v * TABLE_DIAMETER / TABLE_VISCOSITY, n / RPM * TABLE_DIAMETER / 2 / v) for n in SPINS for v in SPEEDS]
    got = np.array(ask([("drag", 0, *p) for p in points]))
    for k, (what, table) in enumerate((("drag", DRAG), ("lift", LIFT))):
        record.bound("%s at the 210 points of the table" % what, QUOTED, SOURCES[0], "1",
                     np.abs(got[:, k] - table.ravel()).max(), 1e-9)
    between = [(v, n) for v in np.linspace(13.8, 88, 23) for n in np.linspace(2010, 5990, 41)]
    got = np.array(ask([("drag", 0, v * TABLE_DIAMETER / TABLE_VISCOSITY, n / RPM * TABLE_DIAMETER / 2 / v)
                        for v, n in between]))
    want = np.array([smooth(v, n) for v, n in between])
    record.bound("drag and lift between the points", INDEPENDENT, "natural cubic splines of SciPy along both axes",
                 "1", np.abs(got[:, :2] - want).max(), 1e-9)
    assert not got[:, 2].any()
    beyond = ask([("drag", 0, v * TABLE_DIAMETER / TABLE_VISCOSITY, n / RPM * TABLE_DIAMETER / 2 / v)
                  for v, n in ((13.6, 3000), (88.2, 3000), (50, 1990), (50, 6010))])
    assert all(b[2] for b in beyond)
    straight = np.array([linear(v, n) for v, n in between])
    record.bound("the same above 29.9 m/s, off straight lines between the points", INDEPENDENT,
                 "linear interpolation: how much the table leaves open", "1",
                 max(np.abs(g[:2] - s).max() for (v, _), g, s in zip(between, got, straight) if v > 29.9), 0.012)


def check_formulas():
    """In the range, and as it is held outside."""
    grid = [(re, s) for re in np.linspace(2e4, 3.2e5, 31) for s in np.linspace(0, 0.6, 31)]
    for number in (1, 2):
        got = np.array(ask([("drag", number, *p) for p in grid]))
        want = np.array([SETS[number][1](*p) for p in grid])
        a, b, c, d = RANGES[number]
        inside = np.array([a <= re <= b and c <= spin <= d for re, spin in grid])
        assert (got[:, 2] == ~inside).all() and inside.sum() > 20
        off = np.abs(got[:, :2] - want).max(axis=1)
        record.bound("drag and lift in the range, %s" % SETS[number][0], QUOTED, SOURCES[number], "1",
                     off[inside].max(), 1e-12)
        record.bound("the same outside it", INDEPENDENT, "held at the edge, lift falling with the spin, by this test",
                     "1", off[~inside].max(), 1e-12)


# ------------------------------------------------------------------ flights

def fly(forces, velocity, spin, air=STANDARD, wind=(0, 0, 0)):
    """Carry, side, apex, time, descent angle, speed, spin: SI."""
    density, viscosity = air
    spin, wind = np.array(spin, float), np.array(wind, float)
    factor = density * math.pi * RADIUS**2 / (2 * MASS)

    def rates(_, y):
        through = y[3:6] - wind
        speed = math.sqrt(through @ through)
        magnus = np.cross(spin * y[6], through)
        size = math.sqrt(magnus @ magnus)
        drag, lift = forces(density * speed * 2 * RADIUS / viscosity, RADIUS * size / speed**2)
        push = -drag * speed * through
        if size > 0:
            push = push + lift * speed**2 / size * magnus
        return np.concatenate([y[3:6], factor * push - [0, 9.80665, 0], [-2e-5 * y[6] * speed / RADIUS]])

    def height(_, y):
        return y[1]

    def rising(_, y):
        return y[4]

    height.terminal, height.direction, rising.direction = True, -1, -1
    run = solve_ivp(rates, (0, 60), np.concatenate([np.zeros(3), velocity, [1]]), method="DOP853", rtol=1e-9,
                    atol=1e-9, events=(height, rising))
    end = run.y_events[0][0]
    return (end[0], end[2], run.y_events[1][:, 1].max(), run.t_events[0][0],
            math.atan2(-end[4], math.hypot(end[3], end[5])), math.sqrt(end[3:6] @ end[3:6]),
            end[6] * math.sqrt(spin @ spin))


def shot(speed, angle, rpm, tilt=0.0, aim=0.0):
    """Velocity and spin; angles in degrees, the tilt of the axis to the right, the aim to the right."""
    a, b, c = (math.radians(x) for x in (angle, aim, tilt))
    level = np.array([math.cos(b), 0, math.sin(b)])
    across = np.array([-math.sin(b), 0, math.cos(b)])
    return (speed * (math.cos(a) * level + math.sin(a) * np.array([0, 1, 0])),
            rpm / RPM * (math.cos(c) * across - math.sin(c) * np.array([0, 1, 0])))


HIGH, HOT = (1.007, 1.7260e-5), (1.127, 1.9110e-5)  # some 2000 m up; some 40 degC
SHOTS = (  # what, speed, angle, rpm, tilt, aim, air, wind
    ("a drive", (67.1, 12, 2600), STANDARD, (0, 0, 0)),
    ("a low one with much spin", (57.9, 10, 3500), STANDARD, (0, 0, 0)),
    ("a fast one", (78.7, 10, 2520), STANDARD, (0, 0, 0)),
    ("with little spin", (72, 13, 1400), STANDARD, (0, 0, 0)),
    ("without spin", (65, 15, 0), STANDARD, (0, 0, 0)),
    ("into the wind", (67, 11, 2700), STANDARD, (-9, 0, 0)),
    ("down the wind", (67, 14, 2300), STANDARD, (8, 0, 0)),
    ("across the wind, sliced", (65, 12, 3000, 14, -3), STANDARD, (-2, 0, 6)),
    ("hooked", (64, 11, 2400, -18, 4), STANDARD, (0, 0, 0)),
    ("at altitude", (67.1, 12, 2600, 5, 0), HIGH, (0, 0, 0)),
    ("on a hot day", (60, 13, 2900), HOT, (3, 0, -4)),
    ("an iron", (53, 16, 6200, 3, 1), STANDARD, (0, 0, 0)),
    ("a wedge", (41, 28, 9500), STANDARD, (-3, 0, 2)),
    ("a gentle one", (25, 30, 4000), STANDARD, (0, 0, 0)),
)


def question(number, launch, air, wind):
    velocity, spin = shot(*launch)
    return ("flight", number, *velocity, *spin, MASS, RADIUS, *air, *wind)


def check_flights():
    """Every shot with every set: places within 1 mm though 0.1 m would do, so that nothing hides."""
    shown = []
    for number, (name, forces) in enumerate(SETS):
        got = ask([question(number, *s[1:]) for s in SHOTS])
        want = [fly(forces, *shot(*launch), air, wind) for _, launch, air, wind in SHOTS]
        off = np.abs(np.array(got)[:, :7] - want).max(axis=0)
        assert 0 < sum(g[7] for g in got) < len(SHOTS), name
        for k, (what, unit, allowed) in enumerate((("carry", "mm", 1), ("side", "mm", 1), ("apex", "mm", 1))):
            record.bound("%s, %d shots, %s" % (what, len(SHOTS), name), INDEPENDENT, "SciPy's DOP853", unit,
                         1e3 * off[k], allowed)
        record.bound("time, %d shots, %s" % (len(SHOTS), name), INDEPENDENT, "SciPy's DOP853", "ms", 1e3 * off[3], 0.1)
        record.bound("speed as it lands, %d shots, %s" % (len(SHOTS), name), INDEPENDENT, "SciPy's DOP853", "mm/s",
                     1e3 * off[5], 1)
        assert off[4] < 1e-4 and off[6] < 1e-3
        shown.append(["%.1f%s" % (g[0], " *" if g[7] else "") for g in got])
    record.table("Carry in metres by set; * = beyond the range in which it was measured",
                 ["shot", "speed, m/s", "launch, deg", "backspin, rpm"] + [name for name, _ in SETS],
                 [[s[0], *("%g" % x for x in s[1][:3]), *(column[i] for column in shown)]
                  for i, s in enumerate(SHOTS)])


def check_readings():
    """What else the sources would let one do, and how much of the carry hangs on it."""
    rows = (((67.1, 12, 2600), "a drive"), ((57.9, 10, 3500), "a low one with much spin"))
    for launch, what in rows:
        got = ask([question(0, launch, STANDARD, (0, 0, 0))])[0][0]
        other = fly(lambda re, s: bearman_harvey(re, s, linear), *shot(*launch))[0]
        record.bound("carry of %s with the table read along straight lines" % what, INDEPENDENT,
                     "Bearman & Harvey, linear in place of cubic", "m", abs(got - other), 1.5)
    # As another program has it, in air of 1.5e-5 m2/s: 172.8 m held and 175.2 m along the formula.
    launch, air = (57.9, 10, 3500), (1.225, 1.5e-5 * 1.225)
    carry, outside = ask([question(1, launch, air, (0, 0, 0))])[0][[0, 7]]
    assert outside
    record.check("57.9 m/s, 10 deg, 3500 rpm, Smits & Smith held at the edge: carry", INDEPENDENT,
                 "another program, to 0.1 m", "m", carry, 172.8, absolute=0.1)
    record.check("the same, along the formula beyond its range, by this test", INDEPENDENT,
                 "another program, to 0.1 m", "m", fly(smits_smith, *shot(*launch), air)[0], 175.2, absolute=0.1)


def check_limit():
    """The total, carry and roll, of a ball that conforms: a bound of the carry with any set."""
    for number, (name, _) in enumerate(SETS):
        carry = ask([question(number, (78.7, 10, 2520), STANDARD, (0, 0, 0))])[0][0]
        record.bound("78.7 m/s, 10 deg, 2520 rpm: carry beyond the limit of the total, %s" % name, PUBLISHED,
                     "overall distance standard of the governing bodies, 289.9 m and 2.7 m of tolerance", "m",
                     carry - 292.6, 0)


# ------------------------------------------------------------------ air

# Geometric altitude m, temperature K, pressure Pa, density kg/m3.
STANDARD_AIR = ((0, 288.150, 101325, 1.2250), (500, 284.900, 95461, 1.1673), (1000, 281.651, 89876, 1.1117),
                (1500, 278.402, 84560, 1.0581), (2000, 275.154, 79501, 1.0066), (3000, 268.659, 70121, 0.90925))


def cipm(kelvin, pressure, humidity):
    """A. Picard et al. 2008, Metrologia 45:149, CIPM-2007, with 400 ppm of carbon dioxide (from memory)."""
    celsius = kelvin - 273.15
    saturation = math.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    x = humidity * (1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2) * saturation / pressure
    z = (1 - pressure / kelvin * (1.58123e-6 - 2.9331e-8 * celsius + 1.1043e-10 * celsius**2
                                  + (5.707e-6 - 2.051e-8 * celsius) * x + (1.9898e-4 - 2.376e-6 * celsius) * x**2)
         + (pressure / kelvin)**2 * (1.83e-11 - 0.765e-8 * x**2))
    return pressure * 28.96546e-3 / (z * 8.314472 * kelvin) * (1 - x * (1 - 18.01528 / 28.96546))


def check_air():
    got = ask([("air", t, h, math.nan, 0) for h, t, _, _ in STANDARD_AIR])
    for (h, t, p, density), answer in zip(STANDARD_AIR, got):
        record.check("standard atmosphere at %d m: density" % h, MEMORY, "ISO 2533:1975", "kg/m3", answer[0], density,
                     rel=6e-5)
        pressure = answer[0] * 8.31432 / 28.96442e-3 * t
        record.check("the same: pressure", MEMORY, "ISO 2533:1975", "Pa", pressure, p, rel=1e-5)
    record.check("dry air of 15 degC: viscosity", MEMORY, "ISO 2533:1975", "uPa s", 1e6 * got[0][1], 17.894, rel=3e-5)
    weather = [(273.15 + t, p, h) for t in (-5, 5, 15, 25, 35, 40) for p in (75e3, 90e3, 101325, 105e3)
               for h in (0, 0.3, 0.6, 1)]
    got = ask([("air", t, 0, p, h) for t, p, h in weather])
    off = max(abs(g[0] / cipm(*w) - 1) for w, g in zip(weather, got))
    record.bound("moist air, -5 to 40 degC, 750 to 1050 hPa, dry to saturated: density", INDEPENDENT,
                 "CIPM-2007, Picard et al. 2008, Metrologia 45:149, its constants from memory", "1", off, 1e-3)


if __name__ == "__main__":
    check_table()
    check_formulas()
    check_flights()
    check_readings()
    check_limit()
    check_air()
