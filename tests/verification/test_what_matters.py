#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What matters and what does not: each modelling choice switched off, over the demo setups.

Most choices are inputs of the program and are switched off there. Stiffening by tension and
foreshortening are no inputs, since both follow from the exact kinematics: tests/reference/swing.py
has them as switches of its own (LinearSwing), and this test holds that against answers known
otherwise. The start and the centre of mass are switched off there too, so that the head speed is
still that of the same place in the head.

Every entry is "off less on". Usage: test_what_matters.py, with CABER naming the program.
"""
import copy
import json
import math
import os
import pathlib
import subprocess
import sys

import numpy as np
from scipy.linalg import eig
from scipy.optimize import minimize_scalar

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests/reference")]
import swing as reference  # noqa: E402
from record import COLOURS, EXACT, INDEPENDENT, LAW, Record, figure  # noqa: E402
from test_swing import beam, shaken  # noqa: E402

SETUPS = [shaft + "-" + player for shaft in ("soft-tip", "neutral", "firm-tip")
          for player in ("smooth", "quick", "late")]
MODES, STATIONS = 10, 12
DEG = 180 / math.pi


# ------------------------------------------------------------------ what two swings of one player differ by

class Output:
    def __init__(self, key, title, unit, scale=1.0, spread=None, floor=0.0):
        """spread: standard deviation of one player's swings, from memory; floor: printed as 0 below."""
        self.key, self.title, self.unit, self.scale, self.spread, self.floor = key, title, unit, scale, spread, floor
        self.yard = math.sqrt(2) * spread if spread else None

    def value(self, impact):
        return self.scale * impact[self.key]


OUTPUTS = (
    Output("head_speed_mps", "head speed", "m/s", spread=0.5, floor=0.0005),
    Output("delivered_loft_deg", "delivered loft", "deg", spread=1.0, floor=0.002),
    Output("face_angle_deg", "face angle", "deg", spread=1.5, floor=0.002),
    Output("closure_rate_deg_s", "closure rate", "deg/s", floor=0.5),
    Output("downswing_time_s", "downswing time", "ms", scale=1e3, floor=0.005),
    Output("peak_handle_moment_nm", "peak handle moment", "N m", floor=0.002),
    Output("lead_deflection_mm", "lead", "mm", floor=0.02),
    Output("droop_mm", "droop", "mm", floor=0.02),
    Output("tip_twist_deg", "twist", "deg", floor=0.002),
    Output("loft_change_deg", "loft change", "deg", spread=1.0, floor=0.002),
    Output("face_rotation_deg", "face rotation", "deg", spread=1.5, floor=0.002),
    Output("lie_change_deg", "lie change", "deg", floor=0.002),
    Output("peak_lag_mm", "peak lag", "mm", floor=0.02),
)
AT_THE_BALL, OF_THE_SHAFT = OUTPUTS[:6], OUTPUTS[6:]
MAIN = OUTPUTS[:3]
HARDER = 1.03  # all torques of the player, for the spread of what is not remembered


# ------------------------------------------------------------------ the program

def setup_path(name):
    return str(ROOT / "models/setups" / (name + ".yaml"))


def program(name, changes=()):
    command = [os.environ["CABER"], "swing", setup_path(name), "--json"]
    for text in ("settings.modes=%d" % MODES, "settings.stations=%d" % STATIONS, "settings.ceiling=0",
                 "settings.tolerance=1e-8", *changes):
        command += ["--set", text]
    return json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout)["impact"]


def no_torsion(setup):
    rows = setup["shaft"]["stations"]
    return ["shaft.sections[0].from=0", "shaft.sections[0].to=%r" % setup["shaft"]["length"],
            "shaft.sections[0].gj_scale=100"] + \
           ["shaft.stations[%d].gj=%r" % (i, 10 * r["gj"]) for i, r in enumerate(rows)]


def no_shaft_inertia(setup):
    return ["shaft.density=20000"] + \
           ["shaft.stations[%d].diameter=0.002" % i for i in range(len(setup["shaft"]["stations"]))]


def no_head_inertia(setup):
    return ["head.inertia.%s=%r" % (k, v / 1000) for k, v in setup["head"]["inertia"].items()]


def more_torque(setup):
    load = setup["player"]["load"]
    return ["load.hub.peak=%r" % (HARDER * load["hub"]["peak"])] + \
           ["load.grip.%s=%r" % (k, HARDER * load["grip"][k]) for k in ("peak", "late")]


# ------------------------------------------------------------------ the reference

def largest(times, values, function):
    i = int(np.argmax(values))
    if i in (0, len(values) - 1):
        return values[i]
    return -minimize_scalar(lambda t: -function(t), bounds=(times[i - 1], times[i + 1]), method="bounded",
                            options={"xatol": 1e-7}).fun


def outputs_of(swing):
    """As swing.report, but only what the tables hold, and from fewer samples."""
    solution = swing.run(1e-7, "LSODA")
    t1, y1 = solution.t_events[0][0], solution.y_events[0][0]
    bent, straight = swing.delivery(y1), swing.delivery(y1, True)
    out = dict(bent, downswing_time_s=t1)
    out["loft_change_deg"] = bent["delivered_loft_deg"] - straight["delivered_loft_deg"]
    out["face_rotation_deg"] = straight["face_angle_deg"] - bent["face_angle_deg"]
    out["lie_change_deg"] = bent["delivered_lie_deg"] - straight["delivered_lie_deg"]
    times = np.linspace(0, t1, 81)
    states = solution.sol(times).T
    out["peak_lag_mm"] = 1e3 * largest(times, [swing.lag(y) for y in states],
                                       lambda t: swing.lag(solution.sol(t)))
    out["peak_handle_moment_nm"] = largest(
        times, [swing.handle_moment(t, y)[0] for t, y in zip(times, states)],
        lambda t: swing.handle_moment(t, solution.sol(t))[0])
    return out


class StraightStart(reference.Swing):
    def start(self):
        y = super().start()
        y[2:2 + self.n] = 0.0
        return y


def exact(setup):
    return reference.Swing(setup, MODES, STATIONS)


def linear(setup):
    return reference.LinearSwing(setup, MODES, STATIONS)


def tension_only(setup):
    return reference.LinearSwing(setup, MODES, STATIONS, tension=True)


def straight_start(setup):
    return StraightStart(setup, MODES, STATIONS)


def centre_on_axis(setup):
    """The centre of mass moved across onto the shaft's axis; face and place of the speed stay."""
    place = reference.Club(setup).head_centre
    head, lie = setup["head"], setup["head"]["lie"]
    along = place[0]
    head["centre_of_mass"] = {"forward": 0.0, "up": -along * math.sin(lie), "toe": along * math.cos(lie)}
    swing = exact(setup)
    assert abs(swing.club.head_centre - [along, 0, 0]).max() < 1e-12
    swing.club.head_centre = place
    return swing


# ------------------------------------------------------------------ the choices

class Choice:
    def __init__(self, name, off, words, changes=None, model=None):
        self.name, self.off, self.words, self.changes, self.model = name, off, words, changes, model


CHOICES = (
    Choice("stiffening by tension",
           "every mass moves in proportion to the bend, so the pull of the head does nothing against "
           "bending (the linear model of the reference, against the same with tension)",
           "The head pulls outward and holds the shaft straight, as a swung stone holds its string."),
    Choice("foreshortening and large bends",
           "the bent shaft keeps its length along the handle and twist and bend do not mix; tension "
           "is kept (the reference: exact, against linear with tension)",
           "A bent shaft reaches less far, and a large bend is not twice half of it."),
    Choice("offset of the head's centre of mass",
           "moved across onto the shaft's axis, as far along it as before; the face, and the place whose "
           "speed is told, stay (the reference)",
           "The centre of mass lies towards toe and back of the shaft; outward pull on it makes droop "
           "and some of the lead."),
    Choice("weight", "`settings.gravity=no`: of arms and club",
           "Weight gives the swing a share of its energy.", changes=lambda s: ["settings.gravity=no"]),
    Choice("weight of the arms", "`player.arm.mass=0`; the arms' inertia stays",
           "Most of that share comes from the arms, which are heavy and drop far.",
           changes=lambda s: ["player.arm.mass=0"]),
    Choice("roll gearing", "`load.roll.drive=locked`, `load.roll.top=0`: the handle never rolls",
           "The forearms turn the handle through the downswing and are still turning it at impact.",
           changes=lambda s: ["load.roll.drive=locked", "load.roll.top=0"]),
    Choice("damping of the shaft", "`shaft.damping=0`",
           "Damping takes little energy, but it stills the ringing that a quick start leaves.",
           changes=lambda s: ["shaft.damping=0"]),
    Choice("turning inertia of the head", "all of `head.inertia` a thousandth: a point mass",
           "The head resists being tilted and turned, besides being carried.", changes=no_head_inertia),
    Choice("static start", "the shaft is straight at t = 0 instead of bent by its load (the reference)",
           "The shaft is bent already when the downswing begins.", model=straight_start),
    Choice("torsion", "GJ a thousand times (`shaft.stations[].gj` by 10, `gj_scale` 100)",
           "The shaft twists as well as bends.", changes=no_torsion),
    Choice("turning inertia of the shaft",
           "a 2 mm rod of 20 g/cm3 with the same EI, GJ and mass: 1 to 4 % of its own inertia about its axis",
           "The shaft's own wall resists being twisted round.", changes=no_shaft_inertia),
    Choice("wrist stop", "`load.stop.stiffness=0`", "The wrists cannot fold further than they will.",
           changes=lambda s: ["load.stop.stiffness=0"]),
)
TENSION, SHORTER, CENTRE = CHOICES[:3]
CENTRE.model = centre_on_axis


def difference(off, on):
    return {o.key: o.value(off) - o.value(on) for o in OUTPUTS}


def run_all(setups, base):
    """{choice name: {setup: {output: off less on}}}; and what is off, as computed, beside it."""
    change, value = ({c.name: {} for c in CHOICES} for _ in range(2))
    for name in SETUPS:
        for choice in CHOICES[2:]:
            setup = copy.deepcopy(setups[name])
            off = program(name, choice.changes(setup)) if choice.changes else outputs_of(choice.model(setup))
            change[choice.name][name], value[choice.name][name] = difference(off, base[name]), off
        a, b = (outputs_of(make(copy.deepcopy(setups[name]))) for make in (linear, tension_only))
        change[TENSION.name][name], value[TENSION.name][name] = difference(a, b), a
        change[SHORTER.name][name], value[SHORTER.name][name] = difference(b, base[name]), b
    return change, value
