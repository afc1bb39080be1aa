#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The set-ups of published golf studies, simulated here, side by side with what they found.

Clubs and players are invented, so directions and sizes are compared and nothing is tuned. What the
model must meet is asserted as a check; where it disagrees, the measured value is asserted within bounds,
so that a change is noticed, and the disagreement is written down. Speeds in m/s, angles in deg.
The library is called through its public header, as these are some hundreds of swings.
"""
import ctypes
import os
import pathlib
import subprocess

import numpy as np
import yaml
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.linalg import eigh
from scipy.optimize import brentq

import record
from record import LAW, PUBLISHED, Record

SOURCE = pathlib.Path(os.environ["CABER_SOURCE"])
PLAYERS = ("smooth", "quick", "late")
CPM = (217, 245, 272)  # N. F. Betzler 2010, thesis, abstract
RIGID = "rigid"
SOFT, MIDDLE, STIFF = CPM
STUDY = "tests/verification/studies/two-torques-neutral.yaml"
SHAFT_LENGTH = 1.168  # m, of the neutral demo shaft, uncut
FREE_LENGTH = 0.958   # m, of it, hands to hosel
ARM_LENGTH = 0.63     # m, and the arms' inertia, of every player used here
ARM_INERTIA = 1.15    # kg m2

THESIS = "S. J. MacKenzie 2005, PhD thesis, Saskatchewan, results on head speed (read)"
SPORTS_ENG = "S. J. MacKenzie, E. J. Sprigings 2009, Sports Eng. 12:13, abstract (read)"
SCIENCES = "S. J. MacKenzie, D. E. Boucher 2016, J. Sports Sci., abstract (read)"
BIOMECH = "N. F. Betzler et al. 2012, Sports Biomech. 11:223, abstract (read)"
CHAPTER = "Science and Golf, chapter, doi 10.4324/9780203838662-50, abstract (read)"
WRIST = "E. J. Sprigings, R. J. Neal 2000, J. Appl. Biomech. 16:356, abstract (read)"
STRAIN = "K. M. Jones et al. 2019, Sports Eng. 22:14, abstract (read)"
GRIP = "W. McNally 2018, MASc thesis, Waterloo, abstract (read)"

# ------------------------------------------------------------------ the library


class Field(ctypes.Structure):
    _fields_ = [(name, ctypes.c_char_p) for name in ("name", "unit", "label", "meaning")] + [
        ("factor", ctypes.c_double), ("decimals", ctypes.c_int), ("straight", ctypes.c_bool),
        ("offset", ctypes.c_size_t)]


class TraceField(ctypes.Structure):
    _fields_ = [(name, ctypes.c_char_p) for name in ("name", "unit", "meaning")] + [
        ("factor", ctypes.c_double), ("offset", ctypes.c_size_t)]


class Trace(ctypes.Structure):  # its first two members
    _fields_ = [("count", ctypes.c_size_t), ("rows", ctypes.POINTER(ctypes.c_double))]


LIBRARY = ctypes.CDLL(os.path.join(os.environ["CABER_BUILD"], "libcaber.so"))
LIBRARY.caber_trace_create.restype = ctypes.POINTER(Trace)


def table_of(function, kind):
    function.restype = ctypes.POINTER(kind)
    count = ctypes.c_size_t()
    rows = function(ctypes.byref(count))
    return [(rows[i].name.decode(), rows[i].offset // 8, rows[i].factor) for i in range(count.value)]


IMPACT = table_of(LIBRARY.caber_impact_fields, Field)
SERIES = table_of(LIBRARY.caber_trace_fields, TraceField)


class Swing(ctypes.Structure):
    _fields_ = [("met_ball", ctypes.c_bool), ("bent", ctypes.c_double * len(IMPACT)),
                ("straight", ctypes.c_double * len(IMPACT)), ("effort", ctypes.c_long * 4)]


MESSAGE = ctypes.create_string_buffer(1024)


def fine(status):
    if status:
        raise ValueError(MESSAGE.value.decode())


def swing(setup, overrides):
    """One downswing: (figures at impact, series), dictionaries in printed units."""
    texts = [("%s=%s" % pair).encode() for pair in overrides.items()]
    words = (ctypes.c_char_p * len(texts))(*texts)
    given, model, work = ctypes.c_void_p(), ctypes.c_void_p(), ctypes.c_void_p()
    out, trace = Swing(), LIBRARY.caber_trace_create()
    try:
        fine(LIBRARY.caber_setup_read(str(SOURCE / setup).encode(), words,
                                      ctypes.c_size_t(len(texts)), ctypes.byref(given), MESSAGE))
        fine(LIBRARY.caber_model_create(given, ctypes.byref(model), MESSAGE))
        fine(LIBRARY.caber_work_create(model, ctypes.byref(work), MESSAGE))
        fine(LIBRARY.caber_swing_run(model, work, ctypes.byref(out), trace, MESSAGE))
        rows = np.ctypeslib.as_array(trace.contents.rows,
                                     (trace.contents.count, len(SERIES))).copy()
        return ({name: out.bent[at] * factor for name, at, factor in IMPACT},
                {name: rows[:, at] * factor for name, at, factor in SERIES})
    finally:
        LIBRARY.caber_trace_free(trace)
        for free, what in ((LIBRARY.caber_work_free, work), (LIBRARY.caber_model_free, model),
                           (LIBRARY.caber_setup_free, given)):
            free(what)


# ------------------------------------------------------------------ the clubs


def quantity(text):
    """The number of a text such as "19.8 N m2"."""
    return float(text.split()[0])


def stiffened(ei, gj=1.0):
    """Overrides that scale EI, and GJ, of the whole shaft."""
    return {"shaft.sections[0].from": "0 m", "shaft.sections[0].to": "%r m" % SHAFT_LENGTH,
            "shaft.sections[0].ei_scale": repr(ei), "shaft.sections[0].gj_scale": repr(gj)}


def bench(overrides, *options):
    words = [w for pair in overrides.items() for w in ("--set", "%s=%s" % pair)]
    command = [os.environ["CABER"], "bench", str(SOURCE / demo("smooth")), "--get", "cpm"]
    return float(subprocess.run(command + words + list(options), check=True,
                                stdout=subprocess.PIPE).stdout)


def demo(player):
    return "models/setups/neutral-%s.yaml" % player


def make_clubs(page):
    """The neutral demo shaft with the EI that puts it at each cpm, GJ left as it is; and a rigid one."""
    scales = {cpm: brentq(lambda scale: bench(stiffened(scale)) - cpm, 0.6, 1.6, xtol=1e-9)
              for cpm in CPM}
    page.check("EI of the 272 cpm shaft over that of the 217 cpm shaft", LAW,
               "one profile scaled: frequency goes as the root of EI, (272/217)^2", "1",
               scales[STIFF] / scales[SOFT], (STIFF / SOFT) ** 2, rel=1e-5)
    clubs = {cpm: stiffened(scale) for cpm, scale in scales.items()}
    clubs[RIGID] = stiffened(100, 100)
    return clubs, scales


# ------------------------------------------------------------------ the same torques


def rate_at_end(s, name):
    """d/dt at impact of a column: the cubic through its last four rows."""
    t = s["time_s"][-4:] - s["time_s"][-1]
    return np.polyfit(t, s[name][-4:], 3)[-2]


def same_torques(clubs):
    found = {}
    for player in PLAYERS:
        for club, overrides in clubs.items():
            figures, s = swing(demo(player), overrides)
            figures["kick"] = rate_at_end(s, "lead_deflection_mm") / 1e3
            # The axes of lead and droop turn with the handle's roll, and droop turns into lead.
            figures["kick_of_roll"] = -np.radians(s["roll_speed_deg_s"][-1]) * figures["droop_mm"] / 1e3
            figures["handle_rate"] = s["club_speed_deg_s"][-1]
            found[player, club] = figures, s
    return found


def step(found, name, sign):
    """The least step of a figure, in the sense of `sign`, from softer to stiffer, over all players."""
    return min(sign * (found[p, b][0][name] - found[p, a][0][name])
               for p in PLAYERS for a, b in zip(CPM, CPM[1:]))


def must_follow(page, found):
    """Directions that were published and that a model of this class must show."""
    speeds = [[found[p, c][0]["head_speed_mps"] for c in CPM] for p in PLAYERS]
    page.bound("head speed over 217, 245, 272 cpm, same torques: largest spread of three players",
               PUBLISHED, THESIS + ": 0.1 m/s or less", "m/s",
               max(max(v) - min(v) for v in speeds), 0.1)
    for problem, name, sign, source, unit in (
            ("loft change falls with stiffness", "loft_change_deg", -1, SCIENCES, "deg"),
            ("delivered loft falls with stiffness", "delivered_loft_deg", -1, SPORTS_ENG, "deg"),
            ("toe-down lie change falls with stiffness", "lie_change_deg", 1, SCIENCES, "deg"),
            ("lag at transition falls with stiffness", "peak_lag_mm", -1, BIOMECH, "mm"),
            ("kick velocity falls with stiffness", "kick", -1, BIOMECH + "; " + SCIENCES, "m/s"),
            ("the handle turns faster with stiffness", "handle_rate", 1, SCIENCES, "deg/s")):
        page.bound(problem + ": least step of three players, against its direction", PUBLISHED,
                   source, unit, -step(found, name, sign), 0)


def torque_table(page, found):
    rows = []
    for player in PLAYERS:
        for club in (*CPM, RIGID):
            f = found[player, club][0]
            rows.append([player, club, "%.2f" % f["head_speed_mps"], "%.2f" % f["kick"],
                         "%.2f" % f["kick_of_roll"], "%.0f" % f["handle_rate"], "%.0f" % f["peak_lag_mm"],
                         "%.1f" % f["lead_deflection_mm"], "%.1f" % f["droop_mm"],
                         "%.2f" % f["loft_change_deg"], "%.2f" % f["lie_change_deg"],
                         "%.2f" % f["face_rotation_deg"], "%.2f" % f["delivered_loft_deg"],
                         "%.0f" % f["closure_rate_deg_s"]])
    page.table("Three stiffnesses and a rigid shaft, same torques",
               ["player", "cpm", "head speed, m/s", "kick, m/s", "of it from roll, m/s",
                "handle rate, deg/s", "peak lag, mm", "lead, mm", "droop, mm", "loft change, deg",
                "lie change, deg", "closing by the shaft, deg", "delivered loft, deg",
                "closure rate, deg/s"], rows,
               "Neutral demo shaft with EI scaled to the cpm of this project's bench (GJ and mass as "
               "they are); 'rigid': EI and GJ 100 times. Kick is the rate of lead deflection in the handle's "
               "frame at impact, as in MacKenzie 2005.")


# ------------------------------------------------------------------ where a rigid shaft's gain comes from


def arms_energy(s):
    return 0.5 * ARM_INERTIA * np.radians(s["arm_speed_deg_s"][-1]) ** 2


def account(page, found):
    """Rigid less 245 cpm, J, at impact: what the club has more of, and what that is in head speed."""
    rows, off = [], 0
    for player in PLAYERS:
        real, rigid = found[player, MIDDLE][1], found[player, RIGID][1]
        work, weight, damped, strain = (
            rigid[name][-1] - real[name][-1]
            for name in ("work_j", "potential_energy_j", "dissipated_j", "strain_energy_j"))
        arms = arms_energy(rigid) - arms_energy(real)
        club = work - weight - damped - strain - arms
        speed = real["head_speed_mps"][-1]
        energy = real["kinetic_energy_j"][-1] - arms_energy(real)
        predicted = speed * club / (2 * energy)
        gain = rigid["head_speed_mps"][-1] - speed
        off = max(off, abs(predicted - gain))
        peak = found[player, MIDDLE][0]["strain_energy_peak_j"]
        rows.append([player, "%.2f" % work, "%.2f" % -strain, "%.2f" % -damped, "%.2f" % -weight,
                     "%.2f" % -arms, "%.2f" % club, "%.2f" % predicted, "%.2f" % gain,
                     "%.2f" % peak, "%.2f" % (speed * peak / (2 * energy))])
    page.table("Where a rigid shaft's gain comes from, same torques: rigid less 245 cpm, J",
               ["player", "work of the joints", "not left as strain", "not damped", "weight and stop",
                "slower arms", "so the club has more", "as head speed, m/s", "head speed found, m/s",
                "peak strain of the shaft", "all of it as head speed, m/s"], rows,
               "As head speed: v dE/(2 E) with the club's own kinetic energy E.")
    page.bound("gain of a rigid shaft from the energy account, against the swing", LAW,
               "energy balance; a club of one shape moving as v", "m/s", off, 0.05)


# ------------------------------------------------------------------ a player re-timed for each shaft


def at_posture(s, want, value):
    """(head speed, arm angle, ball ahead of the hub, time, work) when the handle first leans `value`
    deg ahead ("lean") or the hands are `value` m ahead of the face ("hands"). Where the ball lies has no
    influence on a swing but where it ends, so this is the swing with the ball there."""
    lean = -s["club_angle_deg"]
    hands = ARM_LENGTH * np.sin(np.radians(s["arm_angle_deg"])) - s["head_ahead_m"]
    measure = {"lean": lean, "hands": hands}[want] - value
    late = np.flatnonzero((measure[1:] <= 0) & (measure[:-1] > 0) & (lean[1:] < 60))
    if not late.size:
        raise ValueError("that posture was not reached")
    near = slice(max(late[0] - 3, 0), late[0] + 5)
    t = s["time_s"][near]
    when = brentq(CubicSpline(t, measure[near]), s["time_s"][late[0]], s["time_s"][late[0] + 1])
    return tuple(float(CubicSpline(t, s[name][near])(when)) for name in (
        "head_speed_mps", "arm_angle_deg", "head_ahead_m", "time_s", "work_j", "lead_deflection_mm"))


def parabola(x, y):
    """The top of a scan: (x, y) of the parabola through the highest value and its neighbours."""
    i = min(max(int(np.argmax(y)), 1), len(y) - 2)
    a, b, c = np.polyfit(x[i - 1:i + 2] - x[i], y[i - 1:i + 2], 2)
    return x[i] - b / (2 * a), c - b * b / (4 * a)


ONSETS = np.arange(0.08, 0.2401, 0.01)  # s


def scan(club, extra, postures, onsets=ONSETS, pulse=None):
    """The study's player with one club: for each posture, one row an onset. With `pulse`, s, the wrist
    torque begins to fall so long after its onset."""
    out = {posture: [] for posture in postures}
    for onset in map(float, onsets):
        fall = {} if pulse is None else {"load.grip.release": "%r s" % (onset + pulse)}
        _, s = swing(STUDY, {**club, "settings.until": "0.33 s", "load.grip.onset": "%r s" % onset,
                             **fall, **extra})
        arm_then = float(np.interp(onset, s["time_s"], s["arm_angle_deg"]))
        for posture in postures:
            out[posture].append((*at_posture(s, *posture), arm_then, s["lag_mm"].max()))
    return {posture: np.array(rows) for posture, rows in out.items()}


def best(rows, onsets=ONSETS):
    """At the onset of the greatest head speed: dictionary of what at_posture and scan give."""
    onset, speed = parabola(onsets, rows[:, 0])
    names = ("arm", "ball", "time", "work", "lead", "arm_then", "lag")
    out = {name: float(CubicSpline(onsets, rows[:, i + 1])(onset)) for i, name in enumerate(names)}
    return {**out, "onset": onset, "speed": speed}


LEAN, HANDS = ("lean", 5.0), ("hands", 0.05)
# What is held the same at impact, and the wrist torque's shape.
WAYS = {"handle leans 5 deg": (LEAN, None), "hands 50 mm ahead of the face": (HANDS, None),
        "handle leans 5 deg; torque falls again": (LEAN, 0.08)}


def optimise(club, extra=None):
    """The best onset for one club, in each of WAYS."""
    held = scan(club, extra or {}, (LEAN, HANDS))
    pulse = scan(club, extra or {}, (LEAN,), pulse=0.08)
    return {way: best((held if falls is None else pulse)[posture])
            for way, (posture, falls) in WAYS.items()}


def optimised(page, clubs):
    """Onset of the wrist torque chosen for each shaft, as the published simulations do."""
    found = {club: optimise(given) for club, given in clubs.items()}
    rows = []
    for way in WAYS:
        for club in (*CPM, RIGID):
            b = found[club][way]
            rows.append([way, club, "%.2f" % b["speed"],
                         "%+.2f" % (b["speed"] - found[MIDDLE][way]["speed"]), "%.0f" % (1e3 * b["onset"]),
                         "%.0f" % b["arm_then"], "%.0f" % b["arm"], "%.0f" % b["lag"], "%.0f" % b["lead"],
                         "%.1f" % b["work"]])
    page.table("Wrist torque re-timed for each shaft, as the published simulations do",
               ["at impact", "cpm", "best head speed, m/s", "less 245 cpm, m/s", "onset, ms",
                "arm at onset, deg", "arm at impact, deg", "peak lag, mm", "lead at impact, mm",
                "work, J"], rows,
               "Invented player: 200 N m at the hub, wrist stop at -100 deg, 20 N m at the wrist, rising "
               "in 60 ms and held, or falling over 80 ms from 80 ms after its onset. The onset is that of the "
               "greatest head speed; the ball lies where the posture is reached. Arm: 0 hanging, "
               "-90 horizontal.")
    return found


def extra_cock(page, clubs, found):
    """Wrist cock that gives a rigid shaft's player the head speed of the 245 cpm shaft."""
    extras = np.array([0.0, 4.0, 8.0, 12.0])
    speeds = np.array([best(scan(clubs[RIGID], {
        "load.stop.cock": "%r deg" % (-100 - x), "player.start.cock": "%r deg" % (-95 - x)},
        [LEAN])[LEAN])["speed"] for x in extras])
    middle = found[MIDDLE]["handle leans 5 deg"]
    needed = float(PchipInterpolator(speeds, extras)(middle["speed"]))
    bend = float(np.degrees(np.arctan(middle["lag"] / 1e3 / FREE_LENGTH)))
    page.table("A rigid shaft with more wrist cock, re-timed, handle leaning 5 deg at impact",
               ["more cock, deg", *("%.0f" % x for x in extras)],
               [["head speed, m/s", *("%.2f" % v for v in speeds)]],
               "The 245 cpm shaft without more cock: %.2f m/s; its lag against the stop, seen from "
               "the hands, is %.0f deg." % (middle["speed"], bend))
    return needed, bend


def retimed_by(what, player, club, lean):
    """Head speed of a demo player whose `what` is moved until the handle leans `lean` deg at impact."""
    given = yaml.safe_load((SOURCE / ("models/players/%s.yaml" % player)).read_text())
    start = quantity(given["load"]["grip"][what])

    def figures(shift):
        return swing(demo(player), {**club, "load.grip." + what: "%r s" % (start + shift)})[0]
    return figures(brentq(lambda x: figures(x)["handle_lean_deg"] - lean, -0.08, 0,
                          xtol=1e-6))["head_speed_mps"]


def retimed_demo(page, clubs, found):
    """Rigid less 245 cpm for the demo players, under four ways of being fair."""
    rows, out = [], {}
    for player in PLAYERS:
        real, s = found[player, MIDDLE]
        lean, speed = real["handle_lean_deg"], real["head_speed_mps"]
        _, free = swing(demo(player), {**clubs[RIGID],
                                       "settings.until": "%r s" % (s["time_s"][-1] + 0.02)})
        out[player] = [v - speed for v in (
            found[player, RIGID][0]["head_speed_mps"], at_posture(free, "lean", lean)[0],
            *(retimed_by(what, player, clubs[RIGID], lean) for what in ("late_onset", "release")))]
        rows.append([player, "%.2f" % speed, *("%+.2f" % v for v in out[player])])
    page.table("Rigid less 245 cpm, demo players: head speed, m/s, by what is held the same",
               ["player", "245 cpm, m/s", "torques and ball", "torques and lean of the handle, ball moved",
                "ball, arm and handle, by an earlier late couple",
                "ball, arm and handle, by an earlier release"], rows)
    return out


# ------------------------------------------------------------------ active wrist torque


def wrist(page, clubs):
    """A late wrist torque against none, 245 cpm, by its size and how quickly it rises."""
    club = clubs[MIDDLE]
    passive = scan(club, {"load.grip.peak": "0 N m"}, [LEAN], ONSETS[:1])[LEAN][0]
    onsets, rows, out = np.arange(0.08, 0.2601, 0.01), [], {}
    for peak, rise, pulse in ((10, 0.06, None), (20, 0.06, None), (20, 0.01, None), (20, 0.06, 0.08)):
        r = scan(club, {"load.grip.peak": "%d N m" % peak, "load.grip.rise": "%r s" % rise}, [LEAN],
                 onsets, pulse)[LEAN]
        b = best(r, onsets)
        at_30 = float(CubicSpline(r[:, 6], r[:, 0])(-60))
        good = r[r[:, 0] > b["speed"] - 0.1, 6]
        out[peak, rise, pulse] = (100 * (b["speed"] / passive[0] - 1), b["arm_then"],
                           100 * (at_30 / passive[0] - 1))
        rows.append([peak, "%.0f" % (1e3 * rise), "held" if pulse is None else "falls again",
                     "%.2f" % b["speed"], "%.1f" % out[peak, rise, pulse][0],
                     "%.0f" % b["arm_then"], "%.0f to %.0f" % (good.min(), good.max()),
                     "%.1f" % out[peak, rise, pulse][2], "%.0f" % b["arm"]])
    page.table("A wrist torque against none, 245 cpm, handle leaning 5 deg at impact",
               ["torque, N m", "rise, ms", "then", "best head speed, m/s", "gain, %", "arm at best onset, deg",
                "onsets within 0.1 m/s, arm, deg", "gain with onset at -60 deg, %", "arm at impact, deg"],
               rows, "Without a wrist torque: %.2f m/s, arm at impact %.0f deg. -90 deg is the "
               "horizontal, -60 is 30 deg below it. Invented player as above." % (passive[0], passive[1]))
    return out, passive[0]


# ------------------------------------------------------------------ stiffening by tension


class Cantilever:
    """The demo club in one bending plane, held at the hands: Hermite elements apart from the program's,
    with the shaft's tension under an outward pull A + Omega^2 x (m/s2) as geometric stiffness."""
    COUNT, LENGTH = 40, FREE_LENGTH
    TIP = 0.042  # m, of the uncut shaft that are trimmed off or in the hosel: 12 and 30 mm

    def __init__(self):
        self.read_shaft()
        self.read_head()
        n = 2 * (self.COUNT + 1)
        self.k, self.m, self.pull, self.spin = (np.zeros((n, n)) for _ in range(4))
        h = self.LENGTH / self.COUNT
        for e in range(self.COUNT):
            at = slice(2 * e, 2 * e + 4)
            for point, weight in zip(*np.polynomial.legendre.leggauss(4)):
                x, w = (point + 1) / 2, weight * h / 2
                s = (e + x) * h
                shape = np.array([1 - 3*x*x + 2*x**3, h*(x - 2*x*x + x**3), 3*x*x - 2*x**3, h*(x**3 - x*x)])
                slope = np.array([6*x*x - 6*x, h*(1 - 4*x + 3*x*x), 6*x - 6*x*x, h*(3*x*x - 2*x)]) / h
                bend = np.array([12*x - 6, h*(6*x - 4), 6 - 12*x, h*(6*x - 2)]) / h**2
                ei, mass, beyond, moment = self.at(s)
                self.k[at, at] += w * ei * np.outer(bend, bend)
                self.m[at, at] += w * mass * np.outer(shape, shape)
                self.pull[at, at] += w * beyond * np.outer(slope, slope)
                self.spin[at, at] += w * moment * np.outer(slope, slope)
        reach = np.zeros(n)
        reach[-2:] = 1, self.head_beyond
        turn = np.zeros(n)
        turn[-1] = 1
        self.m += self.head_mass * np.outer(reach, reach) + self.head_inertia * np.outer(turn, turn)
        hang = self.head_mass * self.head_beyond * np.outer(turn, turn)
        self.pull += hang
        self.spin += hang * (self.LENGTH + self.head_beyond)
        self.k, self.m, self.pull, self.spin = (a[2:, 2:] for a in (self.k, self.m, self.pull, self.spin))

    def read_shaft(self):
        given = yaml.safe_load((SOURCE / "models/shafts/neutral.yaml").read_text())["stations"]
        at = np.array([quantity(row["at"]) / 1e3 for row in given])
        self.ei = PchipInterpolator(at, [quantity(row["ei"]) for row in given])
        self.mass = PchipInterpolator(at, [quantity(row["mass"]) / 1e3 for row in given])
        first = PchipInterpolator(at, self.mass(at) * (self.LENGTH + self.TIP - at))
        self.mass_sum, self.moment_sum = self.mass.antiderivative(), first.antiderivative()

    def read_head(self):
        head = yaml.safe_load((SOURCE / "models/heads/driver-10.yaml").read_text())
        lie = np.radians(quantity(head["lie"]))
        along = np.array([0, -np.sin(lie), np.cos(lie)])  # e1 in (forward, up, toe)
        side = np.array([0, np.cos(lie), np.sin(lie)])    # e3
        centre = np.array([quantity(head["centre_of_mass"][a]) / 1e3 for a in ("forward", "up", "toe")])
        i = {name: quantity(text) * 1e-7 for name, text in head["inertia"].items()}
        inertia = np.array([[i["forward"], i["forward_up"], i["forward_toe"]],
                            [i["forward_up"], i["up"], i["up_toe"]],
                            [i["forward_toe"], i["up_toe"], i["toe"]]])
        head, inside, half = quantity(head["mass"]) / 1e3, 0.030 * float(self.mass(0.027)), 0.015
        self.head_mass = head + inside  # with the shaft in the hosel, 12 to 42 mm from the uncut tip
        self.head_beyond = (head * float(centre @ along) + inside * half) / self.head_mass
        self.head_inertia = (float(side @ inertia @ side) + inside * 0.030 ** 2 / 12
                             + head * inside / self.head_mass * (float(centre @ along) - half) ** 2)

    def at(self, s):
        """EI, mass per length, and the mass and first moment about the hands of all beyond s."""
        place = self.LENGTH + self.TIP - s
        return (self.ei(place), self.mass(place),
                self.head_mass + self.mass_sum(place) - self.mass_sum(self.TIP),
                self.head_mass * (self.LENGTH + self.head_beyond)
                + self.moment_sum(place) - self.moment_sum(self.TIP))

    def rate(self, scale=1.0, outward=0.0, omega2=0.0):
        """rad/s of the first mode with EI scaled and the tension of the pull outward + omega2 x."""
        stiffness = scale * self.k + outward * self.pull + omega2 * self.spin
        return float(np.sqrt(eigh(stiffness, self.m, subset_by_index=[0, 0], eigvals_only=True)[0]))


def pulls(s, before):
    """(A, Omega^2) at times before impact, s: outward acceleration that the hands' motion gives every
    part of the club, along the handle, m/s2, and the club's rate squared."""
    when = s["time_s"][-1] - before
    arm = CubicSpline(s["time_s"], np.radians(s["arm_angle_deg"]))
    cock = np.radians(CubicSpline(s["time_s"], s["cock_deg"])(when))
    club = np.radians(CubicSpline(s["time_s"], s["club_speed_deg_s"])(when))
    return ARM_LENGTH * (arm(when, 1) ** 2 * np.cos(cock) - arm(when, 2) * np.sin(cock)), club ** 2


def tension(page, found, scales):
    """Stiffness by tension over stiffness by EI in the last 30 ms, as the first mode feels it."""
    beam = Cantilever()
    plane = {**stiffened(1, 100), "head.centre_of_mass.forward": "0 m",
             "head.inertia.forward_up": "0 kg m2", "head.inertia.forward_toe": "0 kg m2"}
    page.check("first frequency of the held club, bending in one plane alone", record.INDEPENDENT,
               "Hermite elements written for this check, against the program's bench", "cpm",
               bench(plane, "--clamp", "120 mm", "--tip-mass", "0 g"),
               60 * beam.rate() / (2 * np.pi), rel=5e-4)
    before = np.array([0.03, 0.0225, 0.015, 0.0075, 0])
    rows, means, frequencies = [], [], []
    for player in PLAYERS:
        for club in CPM:
            still = beam.rate(scales[club])
            outward, omega2 = pulls(found[player, club][1], before)
            taut = np.array([beam.rate(scales[club], *pull) for pull in zip(outward, omega2)])
            ratio = (taut / still) ** 2 - 1
            means.append(float(np.mean((ratio[1:] + ratio[:-1]) / 2)))
            in_plane = np.sqrt(taut[-1] ** 2 - omega2[-1])
            frequencies.append(in_plane / (2 * np.pi))
            rows.append([player, club, *("%.2f" % r for r in (ratio[0], ratio[2], ratio[4], means[-1])),
                         *("%.2f" % (w / (2 * np.pi)) for w in (still, taut[-1], in_plane))])
    page.table("Stiffness by tension over stiffness by EI, first bending mode",
               ["player", "cpm", "30 ms before impact", "15 ms", "at impact", "mean of the last 30 ms",
                "held still, Hz", "at impact out of plane, Hz", "at impact in plane, Hz"], rows,
               "A plane beam of this check under the tension of the swing's own motion; ratio: frequency "
               "squared over that held still, less one. In the plane the turning frame takes "
               "Omega^2 off again.")
    return means, frequencies


# ------------------------------------------------------------------ smaller facts


def strain_pattern(found):
    """Least and largest scale and largest rotation, deg, that carry the bending of the 272 cpm shaft into that
    of the 217 cpm one over the players; bending as lead + i droop of the tip through the swing."""
    out = []
    for player in PLAYERS:
        soft, stiff = found[player, SOFT][1], found[player, STIFF][1]
        z = [s["lead_deflection_mm"] + 1j * s["droop_mm"] for s in (soft, stiff)]
        z[1] = CubicSpline(stiff["time_s"], z[1])(np.minimum(soft["time_s"], stiff["time_s"][-1]))
        c = np.vdot(z[1], z[0]) / np.vdot(z[1], z[1])
        out.append((abs(c), np.degrees(np.angle(c))))
    return min(o[0] for o in out), max(o[0] for o in out), max(abs(o[1]) for o in out)


def grip_at_impact(found):
    s = [found[p, MIDDLE][1] for p in PLAYERS]
    along = min(x["grip_force_along_n"][-1] / x["grip_force_n"][-1] for x in s)
    about = max(np.abs(x["roll_torque_nm"]).max() for x in s)
    return along, about


def without_late_couple(clubs, found):
    """Head speed and handle lean gained when the negative couple near impact is left away."""
    out = []
    for player in PLAYERS:
        figures, _ = swing(demo(player), {**clubs[MIDDLE], "load.grip.late": "0 N m"})
        real = found[player, MIDDLE][0]
        out.append((figures["head_speed_mps"] - real["head_speed_mps"],
                    figures["handle_lean_deg"] - real["handle_lean_deg"]))
    return np.array(out)



# ------------------------------------------------------------------ over flexibility


def flexibilities(clubs, scales, found, opt):
    """Head speed and loft change over flexibility, that of the 245 cpm shaft being 1 and a rigid one 0:
    the demo players with the same torques, and the re-timed player."""
    known = {RIGID: 0.0, **{cpm: (MIDDLE / cpm) ** 2 for cpm in CPM}}
    others = {x: stiffened(scales[MIDDLE] / x) for x in (0.06, 0.125, 0.25, 0.5, 1.6, 2.0)}
    curves = {player: [(known[c], found[player, c][0]["head_speed_mps"],
                        found[player, c][0]["loft_change_deg"]) for c in known] for player in PLAYERS}
    curves.update({way: [(known[c], opt[c][way]["speed"]) for c in known] for way in WAYS})
    for x, club in others.items():
        for player in PLAYERS:
            figures, _ = swing(demo(player), club)
            curves[player].append((x, figures["head_speed_mps"], figures["loft_change_deg"]))
        for way, b in optimise(club).items():
            curves[way].append((x, b["speed"]))
    return {name: np.array(sorted(points)) for name, points in curves.items()}


def draw(page, curves):
    figure, (left, right) = record.figure(7.0, 3.7, ncols=2)
    colours = dict(zip(PLAYERS, record.COLOURS))
    for player in PLAYERS:
        x, speed, loft = curves[player].T
        left.plot(x, speed - speed[0], color=colours[player], marker=".", markersize=4,
                  label="same torques: " + player)
        right.plot(x, loft, color=colours[player], marker=".", markersize=4, label=player)
    for way, line, colour in zip(WAYS, ("-", "--", ":"), record.COLOURS[3:]):
        x, speed = curves[way].T
        left.plot(x, speed - speed[0], line, color=colour, marker="s", markersize=2.5,
                  label="re-timed: " + way)
    left.plot([0, 2], [1.87, 1.87], color="#888888", linewidth=0.8)
    left.text(2.0, 1.9, "1.87 m/s, MacKenzie 2005", ha="right", va="bottom", color="#666666", fontsize=7.5)
    left.set_ylim(-0.6, 4.4)
    left.set_ylabel("head speed less that of a rigid shaft, m/s")
    left.legend(fontsize=7, loc="upper left")
    right.set_ylabel("loft change by the shaft, deg")
    right.legend(fontsize=8, loc="upper left", title="same torques", title_fontsize=8)
    for axes in (left, right):
        axes.set_xlabel("flexibility (245 cpm = 1, rigid = 0)")
        axes.set_xlim(-0.05, 2.05)
        low, high = axes.get_ylim()
        for cpm in CPM:
            axes.axvline((MIDDLE / cpm) ** 2, color="#bbbbbb", linewidth=0.8, zorder=0)
            axes.text((MIDDLE / cpm) ** 2, low + 0.02 * (high - low), " %d cpm" % cpm, rotation=90,
                      ha="right", va="bottom", fontsize=7, color="#888888")
    page.plot("golf_studies", "Left: head speed less that of a rigid shaft over the shaft's flexibility. With the "
              "same torques the three demo players lose a little with a real shaft; with the wrist re-timed "
              "for each shaft a rigid one is slower by more than a metre a second, and the curve is flat where "
              "real shafts are. Right: loft change grows with flexibility for all three.", figure)
