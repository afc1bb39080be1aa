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
import csv
import json
import math
import os
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
from scipy.linalg import eig
from scipy.optimize import minimize_scalar

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests/reference")]
import swing as reference  # noqa: E402
from record import COLOURS, EXACT, INDEPENDENT, LAW, Record, figure  # noqa: E402
from test_swing import beam, shaken  # noqa: E402

SETUPS = ("neutral-smooth", "neutral-quick", "neutral-late", "soft-tip-smooth", "soft-tip-quick",
          "firm-tip-late")
PLAYERS = ("smooth", "quick", "late")
MODES, STATIONS, ELEMENTS = 10, 12, 60
DEG = 180 / math.pi


# ------------------------------------------------------------------ what two swings of one player differ by

class Output:
    def __init__(self, key, title, unit, floor, spread=None, pulled=False, scale=1.0):
        """floor: printed as 0 below; spread: standard deviation of one player's swings, from memory;
        pulled: without such a figure, but it grows or falls with the player's torques."""
        self.key, self.title, self.unit, self.floor, self.scale = key, title, unit, floor, scale
        self.spread, self.pulled = spread, pulled

    def value(self, impact):
        return self.scale * impact[self.key]


# From memory, at the steady end of what good players do with a driver. Betzler, Monk, Wallace & Otto
# 2012, J. Sports Sci. 30:439, measured such spreads; its numbers were not seen. None is known for the
# outputs without one.
SPEED, LOFT, FACE = 0.5, 1.0, 1.5  # m/s, deg, deg
OUTPUTS = (
    Output("head_speed_mps", "head speed", "m/s", 0.005, SPEED),
    Output("delivered_loft_deg", "delivered loft", "deg", 0.01, LOFT),
    Output("face_angle_deg", "face angle", "deg", 0.01, FACE),
    Output("closure_rate_deg_s", "closure rate", "deg/s", 1.0),
    Output("downswing_time_s", "downswing time", "ms", 0.05, pulled=True, scale=1e3),
    Output("peak_handle_moment_nm", "peak handle moment", "N m", 0.02, pulled=True),
    Output("lead_deflection_mm", "lead", "mm", 0.1, pulled=True),
    Output("droop_mm", "droop", "mm", 0.1),
    Output("tip_twist_deg", "twist", "deg", 0.01),
    Output("loft_change_deg", "loft change", "deg", 0.01, LOFT),
    Output("face_rotation_deg", "face rotation", "deg", 0.01, FACE),
    Output("lie_change_deg", "lie change", "deg", 0.01),
    Output("peak_lag_mm", "peak lag", "mm", 0.1, pulled=True),
)
AT_THE_BALL, OF_THE_SHAFT = OUTPUTS[:6], OUTPUTS[6:]
MAIN = OUTPUTS[:3]
HARDER = 1.03  # all torques of the player, for what goes with a difference of head speed


# ------------------------------------------------------------------ the program

def setup_path(name):
    return str(ROOT / "models/setups" / (name + ".yaml"))


def program(name, changes=(), more=()):
    command = [os.environ["CABER"], "swing", setup_path(name), "--json", *more]
    for text in ("settings.modes=%d" % MODES, "settings.stations=%d" % STATIONS, "settings.ceiling=0",
                 "settings.tolerance=1e-8", *changes):
        command += ["--set", text]
    return json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout)["impact"]


def through_time(name):
    """Cock and twist of the swing, every millisecond."""
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "swing.csv")
        program(name, more=("--series", path))
        with open(path, encoding="utf-8", newline="") as f:
            rows = list(csv.DictReader(f))[1:]  # the first is the units
    return {k: [float(r[k]) for r in rows] for k in ("cock_deg", "tip_twist_deg")}


def no_torsion(setup, section=100):
    rows = setup["shaft"]["stations"]
    return ["shaft.sections[0].from=0", "shaft.sections[0].to=%r" % setup["shaft"]["length"],
            "shaft.sections[0].gj_scale=%r" % section] + \
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
    times = np.linspace(0, t1, 61)
    states = solution.sol(times).T
    out["peak_lag_mm"] = 1e3 * largest(times, [swing.lag(y) for y in states],
                                       lambda t: swing.lag(solution.sol(t)))
    out["peak_handle_moment_nm"] = largest(
        times, [swing.handle_moment(t, y)[0] for t, y in zip(times, states)],
        lambda t: swing.handle_moment(t, solution.sol(t))[0])
    out["largest_twist_deg"] = max(
        abs(reference.rotation_vector(swing.chain(y[2:2 + swing.n]).rot[-1])[0]) * DEG for y in states)
    return out


class StraightStart(reference.Swing):
    def start(self):
        y = super().start()
        y[2:2 + self.n] = 0.0
        return y


def exact(setup):
    return reference.Swing(setup, MODES, STATIONS, elements=ELEMENTS)


def linear(setup, tension=False):
    return reference.LinearSwing(setup, MODES, STATIONS, elements=ELEMENTS, tension=tension)


def straight_start(setup):
    return StraightStart(setup, MODES, STATIONS, elements=ELEMENTS)


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
    Choice("torsion", "GJ a thousand times (`shaft.stations[].gj` by 10, `gj_scale` 100)",
           "The shaft twists as well as bends.", changes=no_torsion),
    Choice("turning inertia of the head", "all of `head.inertia` a thousandth: a point mass",
           "The head resists being tilted and turned, besides being carried.", changes=no_head_inertia),
    Choice("static start", "the shaft is straight at t = 0 instead of bent by its load (the reference)",
           "The shaft is bent already when the downswing begins.", model=straight_start),
    Choice("turning inertia of the shaft",
           "a 2 mm rod of 20 g/cm3 with the same EI, GJ and mass",
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
        swing = linear(copy.deepcopy(setups[name]))
        a = outputs_of(swing)
        swing.tension = True
        b = outputs_of(swing)
        change[TENSION.name][name], value[TENSION.name][name] = difference(a, b), a
        change[SHORTER.name][name], value[SHORTER.name][name] = difference(b, base[name]), b
    return change, value


# ------------------------------------------------------------------ the switches of the reference

def spinning(speed, tension, modes=20, stations=40):
    """Eigenvalues of a uniform beam in steady rotation about its root, flap and lag, ascending."""
    swing = reference.LinearSwing(beam(), modes, stations, gravity=False, tension=tension)
    y = np.zeros(2 * modes + 6)
    y[2 + modes] = y[3 + modes] = speed

    def force(z):
        return swing.equations(z)[1][2:] + swing.stiffness * z[2:2 + modes]

    def slope(first):
        out = np.empty((modes, modes))
        for j in range(modes):
            step = np.zeros_like(y)
            step[first + j] = 1e-5 / max(1.0, swing.modes.omega[j] / swing.modes.omega[0])
            out[:, j] = (force(y + step) - force(y - step)) / (2 * step[first + j])
        return out

    k, g, m = slope(2), slope(4 + modes), swing.equations(y)[0][2:, 2:]
    eye, zero = np.eye(modes), np.zeros((modes, modes))
    values, vectors = eig(np.block([[zero, eye], [-np.linalg.solve(m, k), -np.linalg.solve(m, g)]]))
    tip, out = swing.modes.shape[-1], {"flap": [], "lag": []}
    for value, v in zip(values, vectors.T):
        if value.imag > 1e-9 or value.real > 1e-6:
            out["flap" if abs(tip[2] @ v[:modes]) > abs(tip[0] @ v[:modes]) else "lag"].append(value)
    return [sorted(out[k], key=abs) for k in ("flap", "lag")]


def check_spinning(record):
    """Speed and frequencies in units of sqrt(EI/m)/L^2."""
    table = "exact equation; coincides with Wright et al. 1982, J. Appl. Mech. 49:197, from memory"
    rest, eta = 3.516015, 5.0
    flap, lag = spinning(eta, True)
    record.check("turning beam, linear with tension, flap 1", EXACT, table, "", flap[0].imag, 6.449545, 1e-5)
    record.check("turning beam, linear with tension, lag 1", EXACT, table, "", lag[0].imag, 4.073896, 1e-5)
    flap, lag = spinning(eta, False)
    record.check("turning beam, linear without tension, flap 1: as at rest", EXACT,
                 "no tension, no change: the uniform cantilever", "", flap[0].imag, rest, 1e-5)
    assert abs(lag[0].imag) < 1e-6
    record.check("turning beam, linear without tension, lag 1: grows at this rate", EXACT,
                 "sqrt(speed^2 - flap^2): the negative control, which runs away", "", lag[0].real,
                 math.sqrt(eta * eta - rest * rest), 1e-5)


def check_energy(record, setup):
    swing = linear(copy.deepcopy(setup))
    swing.load.stop_cock = 0.4
    y = shaken(swing)
    f, h = swing.rhs(0.1, y), 1e-6
    rate = (sum(swing.energy(0, y + h * f)) - sum(swing.energy(0, y - h * f))) / (2 * h)
    record.check("linear model: rate of energy, shaken, against the power of the drives", LAW,
                 "energy balance", "W", rate, f[-2] - f[-1], 1e-5)


def check_nearer(record, setup):
    """How much nearer a bent shaft's places come, against the integral that defines it."""
    swing = reference.LinearSwing(setup, 4, 60)
    got = swing.along[-2] / swing.mass[-2]
    nodes, s = swing.modes.s, swing.station_s[-1]
    x, w = reference.gauss_on(np.append(nodes[nodes < s], s), 4)
    at, w = swing.modes.at(x.ravel()), w.ravel()
    want = -np.einsum("p,pi,pj->ij", w, at[1], at[1]) - np.einsum("p,pi,pj->ij", w, at[3], at[3])
    record.bound("foreshortening by four modes at the outermost station, of the largest", EXACT,
                 "-1/2 int (v'^2 + w'^2) ds of the modes", "", abs(got - want).max() / abs(want).max(), 1e-3)


def check_stiff(record, name, setup):
    """Ten times as stiff, so bent a tenth: what is quadratic in the bend fades, the tension does not yet."""
    rows = setup["shaft"]["stations"]
    more = [t for i, r in enumerate(rows) for t in ("shaft.stations[%d].ei=%r" % (i, 10 * r["ei"]),
                                                     "shaft.stations[%d].gj=%r" % (i, 10 * r["gj"]))]
    whole = program(name, more)["lead_deflection_mm"]
    setup = copy.deepcopy(setup)
    for r in setup["shaft"]["stations"]:
        r["ei"] *= 10
        r["gj"] *= 10
    ours = outputs_of(linear(setup, tension=True))["lead_deflection_mm"]
    record.bound("a shaft ten times as stiff: lead, linear with tension, against the program", LAW,
                 "what is quadratic in the bend fades with it", "mm", abs(ours - whole), 0.005 * abs(whole))


# ------------------------------------------------------------------ what the changes must be

def check_baseline(record, base, setups):
    """The exact model of the reference is the program's. Returns its outputs."""
    worst, out = {"mm": 0.0, "deg": 0.0}, {}
    for name in ("soft-tip-quick", "firm-tip-late"):
        out[name] = outputs_of(exact(copy.deepcopy(setups[name])))
        for o in OUTPUTS:
            if o.unit in worst:
                worst[o.unit] = max(worst[o.unit], abs(o.value(out[name]) - o.value(base[name])))
    for unit, allowed in (("mm", 0.01), ("deg", 0.002)):
        record.bound("nothing switched off: the reference against the program, worst of both setups",
                     INDEPENDENT, "tests/reference/swing.py", unit, worst[unit], allowed)


def check_directions(record, base, change, value, series, setups):
    for n in SETUPS:
        def off(choice, key):
            return value[choice][n][key]
        on = base[n]
        # the pull of the head holds the shaft: without it the shaft trails further than it is long in bends
        assert off(TENSION.name, "lead_deflection_mm") < -5 * abs(on["lead_deflection_mm"])
        assert off(TENSION.name, "droop_mm") > 5 * on["droop_mm"]
        # a shaft that does not come nearer droops further
        assert change[SHORTER.name][n]["droop_mm"] > 0
        # droop is the outward pull on a centre of mass beside the axis
        assert abs(off(CENTRE.name, "droop_mm")) < 0.25 * on["droop_mm"]
        assert off(CENTRE.name, "largest_twist_deg") < 0.5 * max(abs(x) for x in series[n]["tip_twist_deg"])
        # weight drops through the swing: without it both slower and later, the arms' being a part of it
        for key, sign in (("head_speed_mps", -1), ("downswing_time_s", 1)):
            assert sign * change["weight"][n][key] > 0 < sign * change["weight of the arms"][n][key]
        assert change["weight"][n]["head_speed_mps"] < change["weight of the arms"][n]["head_speed_mps"]
        assert change["roll gearing"][n]["closure_rate_deg_s"] < 0
        # nothing is lost by less damping
        assert off("damping of the shaft", "energy_residual") < 1e-5
        # a stop that is not reached does nothing at all
        stop = setups[n]["player"]["load"]["stop"]["cock"] * DEG
        assert (min(series[n]["cock_deg"]) > stop) and not any(change["wrist stop"][n].values())
    left = {n: value["torsion"][n]["tip_twist_deg"] for n in SETUPS}
    record.bound("twist left with GJ a thousand times, largest", LAW,
                 "of a shaft that bends out of one plane, not of its torsion", "deg",
                 max(abs(x) for x in left.values()), 0.1)
    name = "neutral-quick"
    less = program(name, no_torsion(setups[name], 10))["tip_twist_deg"]
    record.bound("that twist, GJ a thousand times against a hundred times", LAW, "none of it is elastic", "deg",
                 abs(less - left[name]), 0.01)


# ------------------------------------------------------------------ the page

def short(x, floor):
    """Two significant digits with the sign; 0 below the floor."""
    if abs(x) < floor:
        return "0"
    digits = 1 - math.floor(math.log10(abs(x)))
    return "%+.*f" % (max(digits, 0), round(x, digits))


def most(changes, output):
    """The largest change over the setups, with its sign."""
    return max((c[output.key] for c in changes.values()), key=abs)


def yardsticks(base, harder):
    """What two swings differ by: from memory, else what goes with that difference of speed."""
    out = {}
    for o in OUTPUTS:
        if o.spread:
            out[o.key] = math.sqrt(2) * o.spread
        elif o.pulled:
            rates = [abs(o.value(harder[n]) - o.value(base[n])) /
                     abs(harder[n]["head_speed_mps"] - base[n]["head_speed_mps"]) for n in SETUPS]
            out[o.key] = math.sqrt(2) * SPEED * sum(rates) / len(rates)
    return out


def sized(x, output):
    if x == 0:
        return "not at all"
    if abs(x) < output.floor:
        return "by less than %g %s" % (output.floor, output.unit)
    return "%s %s" % (short(x, output.floor), output.unit)


def plain(x):
    return short(x, 0.0).lstrip("+")


def rows_of(outputs, change, yard, shafts):
    def cell(changes, o):
        x = most(changes, o)
        text = short(x, o.floor)
        return "(%s)" % text if text != "0" and o.key in yard and abs(x) < 0.1 * yard[o.key] else text

    yield ["two swings, from memory"] + [plain(yard[o.key]) if o.spread else "" for o in outputs]
    yield ["two swings, computed, at least"] + [plain(yard[o.key]) if o.pulled else "" for o in outputs]
    yield ["firm tip for soft tip"] + [cell(shafts, o) for o in outputs]
    for c in CHOICES:
        yield ["without " + c.name] + [cell(change[c.name], o) for o in outputs]


def joined(words):
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def verdict(changes, yard):
    groups = [(lambda r: r < 0.1, "less than a tenth of what two swings differ by in "),
              (lambda r: 0.1 <= r < 1, "between a tenth and the whole of it in "),
              (lambda r: r >= 1, "more than two swings differ by in ")]
    out = []
    for inside, words in groups:
        names = [o.title for o in MAIN if inside(abs(most(changes, o)) / yard[o.key])]
        if len(names) == len(MAIN) and words.startswith("less"):
            return "less than a tenth of what two swings differ by in all three"
        if names:
            out.append(words + joined(names))
    text = "; ".join(out)
    return text.replace("of it in", "of what two swings differ by in", 1) if text.startswith("between") else text


def remark(choice, base, change, value, series, shafts):
    """What else is to be said of a choice, from the run."""
    def at(name, key, who=choice.name):
        return abs(change[who][name][key])

    if choice is TENSION:
        worst = min(value[choice.name][n]["lead_deflection_mm"] for n in SETUPS)
        return ("Without it the linear model runs away on the way to the ball: the tip trails by up to %.1f m "
                "at impact, which no shaft does. It cannot be left out, only got right." % (-1e-3 * worst))
    if choice is CENTRE:
        kept = max(abs(value[choice.name][n]["droop_mm"]) / base[n]["droop_mm"] for n in SETUPS)
        return "At most %.0f %% of the droop is left." % (100 * kept)
    if choice is SHORTER:
        loft = next(o for o in OUTPUTS if o.key == "delivered_loft_deg")
        return "For scale: firm tip for soft tip changes the loft by %s deg." % short(most(shafts, loft), 0)
    if choice.name == "weight":
        return ("The torques are not fitted anew: a player fitted to a measured head speed would have most of "
                "it in the torques.")
    if choice.name == "turning inertia of the shaft":
        share = [small / whole for n in SETUPS for small, whole in inertias(n)]
        return "The rod has %.0f to %.0f %% of the shaft's inertia about its axis." % (
            100 * min(share), 100 * max(share))
    if choice.name == "weight of the arms":
        share = [at(n, "head_speed_mps") / at(n, "head_speed_mps", "weight") for n in SETUPS]
        return "They are %.0f to %.0f %% of what weight does to the head speed." % (
            100 * min(share), 100 * max(share))
    if choice.name == "roll gearing":
        part = [at(n, "closure_rate_deg_s") / base[n]["closure_rate_deg_s"] for n in SETUPS]
        return "It is %.0f to %.0f %% of the closure rate; the rest is the swing plane's tilt and the shaft." % (
            100 * min(part), 100 * max(part))
    if choice.name == "damping of the shaft":
        return ("It tells in the quick swing, which sets the shaft ringing (face angle %.2f deg with the "
                "neutral shaft), and little in the smooth one (%.2f deg)." % (
                    at("neutral-quick", "face_angle_deg"), at("neutral-smooth", "face_angle_deg")))
    if choice.name == "static start":
        return ("What stays is droop: up to %s mm, since a shaft that starts unbent swings about its sag and "
                "damping has no time to still it." % plain(most(change[choice.name], droop())))
    if choice.name == "torsion":
        left = max(abs(value[choice.name][n]["tip_twist_deg"]) for n in SETUPS)
        return ("Twist at impact is small, and %.2f deg of it is left at most: a shaft bent out of one plane "
                "turns its tip a little without being twisted." % left)
    if choice.name == "wrist stop":
        stop = reference.read_setup(setup_path(SETUPS[0]))["player"]["load"]["stop"]["cock"] * DEG
        return ("In these swings the wrists fold to %.1f deg at most, and the stop begins at %.0f: it is "
                "never reached." % (min(min(s["cock_deg"]) for s in series.values()), stop))
    return ""


def inertias(name):
    """Inertia per length of the rod that replaces the shaft, and of the shaft, at its stations."""
    shaft = reference.read_setup(setup_path(name))["shaft"]
    at = np.array([r["at"] for r in shaft["stations"]])
    rod = dict(shaft, density=20000.0, stations=[dict(r, diameter=0.002) for r in shaft["stations"]])
    return zip(reference.Profile(rod).polar(at), reference.Profile(shaft).polar(at))


def droop():
    return next(o for o in OUTPUTS if o.key == "droop_mm")


def tell(record, base, change, value, series, yard, shafts):
    record.text(
        "Each choice of the model is switched off in turn, with the player's torques, start and ball as they "
        "are, in %d of the demo swings (%s). Entries are off less on, the largest of those swings, in two "
        "digits; in brackets when less than a tenth of what two real swings of one player differ by; 0 "
        "when below %s." % (
            len(SETUPS), ", ".join(SETUPS), joined(floors())))
    record.text(
        "What two swings differ by is the square root of 2 times one player's standard deviation: %.1f m/s of "
        "head speed, %.1f deg of delivered loft and %.1f deg of face angle, **from memory**, at the steady end "
        "of good players. Such spreads are published (Betzler, Monk, Wallace & Otto 2012, J. Sports Sci. "
        "30:439) but the numbers were not seen. For four outputs the second row holds what goes with that "
        "difference of head speed when all the player's torques grow alike, computed: real swings differ in "
        "more than that, so it is the least. For the others no figure is known; they tell by what they do to "
        "loft and face. Jones, Betzler, Wallace & Otto 2019, Sports Eng., article 14, "
        "July (abstract read), found strain patterns of the shaft significantly more consistent within "
        "one golfer than between golfers." % (SPEED, LOFT, FACE))
    note = "For scale: firm tip for soft tip is what changing the shaft does, the largest of the three players."
    for title, outputs in (("at the ball and in the hands", AT_THE_BALL), ("the bent shaft", OF_THE_SHAFT)):
        record.table("What matters and what does not: " + title,
                     ["off"] + ["%s, %s" % (o.title, o.unit) for o in outputs],
                     rows_of(outputs, change, yard, shafts), note)
    for c in CHOICES:
        sizes = joined([o.title + " " + sized(most(change[c.name], o), o) for o in MAIN])
        record.text(" ".join(filter(None, [
            "**%s.**" % (c.name[0].upper() + c.name[1:]), c.words, "Off: %s." % c.off,
            "Largest changes: %s; %s." % (sizes, verdict(change[c.name], yard)),
            remark(c, base, change, value, series, shafts)])))
    small = [c.name for c in CHOICES if all(abs(most(change[c.name], o)) < 0.1 * yard[o.key] for o in MAIN)]
    large = [c.name for c in CHOICES if any(abs(most(change[c.name], o)) > yard[o.key] for o in MAIN)]
    record.text("So %s could be left out of these swings: in head speed, loft and face alike each is less than a "
                "tenth of what two swings differ by (droop and lie still tell some of them). Another player may "
                "reach the stop. Without %s the answer "
                "is another swing's." % (joined(small), joined(large)))
    compare(record, base, change)


def floors():
    seen = {}
    for o in OUTPUTS:
        seen.setdefault("%g %s" % (o.floor, o.unit))
    return list(seen)


def compare(record, base, change):
    """Whether a difference between two shafts survives each choice."""
    kinds = [o for o in OUTPUTS if o.key in ("delivered_loft_deg", "lie_change_deg")]
    columns = [("soft-tip-" + who, "neutral-" + who, o, "%s, %s, deg" % (o.title, who))
               for who in ("smooth", "quick") for o in kinds]
    whole = [o.value(base[a]) - o.value(base[b]) for a, b, o, _ in columns]
    moves = {c: [change[c.name][a][o.key] - change[c.name][b][o.key] for a, b, o, _ in columns]
             for c in CHOICES}

    def cell(move, all_of_it):
        text = short(move, 0.01)
        return "(%s)" % text if text != "0" and abs(move) < 0.1 * abs(all_of_it) else text

    rows = [["the difference"] + [short(x, 0.01) for x in whole]]
    rows += [["without " + c.name] + [cell(m, x) for m, x in zip(moves[c], whole)] for c in CHOICES]
    record.table("What matters and what does not: the difference between two shafts",
                 ["soft tip less neutral"] + [words for *_, words in columns], rows,
                 "First the difference itself, then how far each choice moves it; in brackets when less than a "
                 "tenth of it.")
    smooth, quick = (max(abs(moves[c][i]) for c in CHOICES if c not in (TENSION, CENTRE)) for i in (0, 2))
    record.text("What a choice does to both shafts alike drops out of their difference. Apart from tension and the "
                "centre of mass, no choice moves the smooth swing's difference of loft, %.2f deg, by more than "
                "%.2f deg. The quick swing's, %.2f deg, moves by up to %.2f deg: there the shaft still rings "
                "at impact, so that the loft depends on how strongly and on the very moment at which the ball is "
                "met." % (whole[0], smooth, whole[2], quick))


def draw(record, change, yard, shafts):
    fig, axes = figure(7.0, 4.9)
    low, high = 1e-3, 100.0
    names = ["firm tip for soft tip"] + [c.name for c in CHOICES]
    lists = [shafts] + [change[c.name] for c in CHOICES]
    for i, (o, marker) in enumerate(zip(MAIN, "osD")):
        ratio = np.array([abs(most(x, o)) / yard[o.key] for x in lists])
        place = np.arange(len(names)) + 0.2 * (i - 1)
        seen = ratio >= low
        axes.plot(ratio[seen], place[seen], marker, color=COLOURS[i], markersize=5, label=o.title)
        axes.plot(np.full((~seen).sum(), low), place[~seen], "<", color=COLOURS[i], markersize=5,
                  fillstyle="none")
    axes.plot([], [], "<", color=COLOURS[5], markersize=5, fillstyle="none", label="less than 0.001")
    for x, words, side in ((0.1, "a tenth of it", "right"), (1.0, "what two swings differ by", "left")):
        axes.axvline(x, color=COLOURS[5], linewidth=1.0, linestyle="--" if x < 1 else "-", zorder=0)
        axes.annotate(words, (x, -0.7), xytext=(0, 2), textcoords="offset points", fontsize=8,
                      color=COLOURS[5], va="bottom", ha=side, annotation_clip=False)
    axes.axhline(0.5, color="#aaaaaa", linewidth=0.6)
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.5, -0.7)
    axes.set_xscale("log")
    axes.set_xlim(low / 1.3, high)
    axes.set_xticks([0.001, 0.01, 0.1, 1, 10, 100], ["0.001", "0.01", "0.1", "1", "10", "100"])
    axes.set_xlabel("largest change, as a share of what two swings differ by")
    axes.grid(axis="y", visible=False)
    axes.legend(loc="lower right", fontsize=8)
    record.plot("what_matters", "Each choice of the model switched off: largest change of head speed, delivered "
                "loft and face angle, as a share of what two swings of one player differ by, on a logarithmic "
                "scale with marks at a tenth and at one", fig)


def main():
    record = Record("what_matters")
    setups = {n: reference.read_setup(setup_path(n)) for n in SETUPS}
    base = {n: program(n) for n in SETUPS}
    series = {n: through_time(n) for n in SETUPS}
    harder = {n: program(n, more_torque(setups[n])) for n in SETUPS}
    shafts = {p: difference(program("firm-tip-" + p), program("soft-tip-" + p)) for p in PLAYERS}
    check_baseline(record, base, setups)
    check_spinning(record)
    check_energy(record, setups["neutral-smooth"])
    check_nearer(record, copy.deepcopy(setups["neutral-smooth"]))
    check_stiff(record, "neutral-late", setups["neutral-late"])
    change, value = run_all(setups, base)
    check_directions(record, base, change, value, series, setups)
    yard = yardsticks(base, harder)
    tell(record, base, change, value, series, yard, shafts)
    draw(record, change, yard, shafts)
    return 0


if __name__ == "__main__":
    with np.errstate(all="ignore"):  # of trial steps that the integrator gives up
        sys.exit(main())
