# SPDX-License-Identifier: GPL-3.0-or-later
"""Whole clubs, with everything on them that a workshop puts there, summed up point by point from the
files that the program reads: mass, balance, swing moment, inertia, length; and how they hang at address,
from the equations of a bent rod solved by collocation. Nothing here is the program's but its files."""
import json
import os
import pathlib
import re
import subprocess
import tempfile

import numpy as np
import yaml
from scipy.integrate import solve_bvp
from scipy.spatial.transform import Rotation

from record import EXACT, INDEPENDENT, Record

CABER = os.environ["CABER"]
MODELS = pathlib.Path(os.environ["CABER_SOURCE"]) / "models"
GRAVITY = 9.80665
UNITS = {"": 1, "mm": 1e-3, "in": 0.0254, "m": 1, "g": 1e-3, "kg": 1, "g/m": 1e-3, "deg": np.pi / 180,
         "g cm2": 1e-7, "N m2": 1, "kg/m3": 1}
record = Record("built_sums")

# What stands on the club beside its parts, for each of the clubs.
CLUBS = {
    "as in its file": ("neutral-smooth", {}, {}),
    "with a sleeve, weights, ferrule and tape": ("soft-tip-quick", {
        "tip_trim": "0.5 in", "length": "45.5 in", "insertion": "33 mm", "hold": "110 mm",
        "ferrule": {"mass": "1.9 g", "length": "24 mm", "at": "1 mm"},
        "hosel_weight": {"mass": "4 g", "depth": "12 mm"},
        "tape": {"layers": 3, "mass": "4.6 g/m", "thickness": "0.14 mm"},
        "sleeve": {"tilt": "1.5 deg", "direction": "125 deg", "pivot": "18 mm"}},
        {"weights": [{"mass": "9 g", "forward": "-85 mm", "up": "-40 mm", "toe": "52 mm"},
                     {"mass": "3 g", "forward": "5 mm", "up": "-50 mm", "toe": "20 mm"}],
         "cap": "4 mm"}),
    "through bore, butt first": ("firm-tip-late", {
        "butt_trim": "35 mm", "length": "44.75 in", "order": "butt-first", "bore": "through",
        "hold": "120 mm", "tape": {"layers": 1}}, {"cap": "3 mm"}),
}


def si(text):
    """A quantity of a file in SI."""
    number, unit = re.fullmatch(r"([-+\d.eE]+) ?(.*)", str(text)).groups()
    return float(number) * UNITS[unit]


def values(mapping, *names, absent=0.0):
    return [si(mapping.get(name, absent)) for name in names]


class Steffen:
    """M. Steffen 1990, Astron. Astrophys. 239:443: monotone cubics; ends as that paper has them."""

    def __init__(self, x, y):
        self.x, self.y = np.asarray(x), np.asarray(y)
        h, s = np.diff(x), np.diff(y) / np.diff(x)
        p = (s[:-1] * h[1:] + s[1:] * h[:-1]) / (h[:-1] + h[1:])
        inner = (np.sign(s[:-1]) + np.sign(s[1:])) * np.minimum(
            np.minimum(abs(s[:-1]), abs(s[1:])), 0.5 * abs(p))
        # GSL's ends: the slope of the first and of the last interval
        self.slope = np.concatenate([[s[0]], inner, [s[-1]]])

    def __call__(self, at):
        i = np.clip(np.searchsorted(self.x, at, side="right") - 1, 0, len(self.x) - 2)
        h, t = self.x[i + 1] - self.x[i], np.asarray(at) - self.x[i]
        s = (self.y[i + 1] - self.y[i]) / h
        a = (self.slope[i] + self.slope[i + 1] - 2 * s) / h**2
        b = (3 * s - 2 * self.slope[i] - self.slope[i + 1]) / h
        return ((a * t + b) * t + self.slope[i]) * t + self.y[i]


def parts_of(name, build, more):
    """The parts' mappings; writes nothing."""
    setup = yaml.safe_load((MODELS / "setups" / (name + ".yaml")).read_text(encoding="utf-8"))
    parts = {}
    for kind in ("shaft", "head", "grip"):
        path = (MODELS / "setups" / setup[kind]).resolve()
        parts[kind] = yaml.safe_load(path.read_text(encoding="utf-8"))
    parts["build"] = build or setup["build"]
    parts["head"].update({k: v for k, v in more.items() if k == "weights"})
    parts["grip"].update({k: v for k, v in more.items() if k == "cap"})
    parts["player"] = str((MODELS / "setups" / setup["player"]).resolve())
    return parts


def bench(parts, folder):
    """What the program makes of the same club."""
    path = pathlib.Path(folder) / "club.yaml"
    path.write_text(yaml.safe_dump({"kind": "setup", "name": "a club", **parts}), encoding="utf-8")
    done = subprocess.run([CABER, "bench", path, "--json"], check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


class Club:
    """Axes: x down the shaft from its mouth in the hosel, y where the face looks, z towards the toe."""

    def __init__(self, parts):
        shaft, self.head, self.grip = parts["shaft"], parts["head"], parts["grip"]
        build = self.build = parts["build"]
        at, ei, gj, mass, diameter = np.array(
            [values(row, "at", "ei", "gj", "mass", "diameter") for row in shaft["stations"]]).T
        self.ei, self.gj = Steffen(at, ei), Steffen(at, gj)
        self.mass, self.radius = Steffen(at, mass), Steffen(at, diameter / 2)
        self.density, self.uncut = si(shaft["density"]), si(shaft["length"])
        self.lie, self.loft = values(self.head, "lie", "loft")
        self.turn_head()
        self.cut()

    def tip_axes(self, place):
        """(forward, up, toe) of the soled head, whose shaft rises at the lie towards the heel."""
        forward, up, toe = place
        s, c = np.sin(self.lie), np.cos(self.lie)
        return np.array([-up * s + toe * c, forward, up * c + toe * s])

    def turn_head(self):
        sleeve = self.build.get("sleeve", {})
        tilt, side, self.pivot = values(sleeve, "tilt", "direction", "pivot")
        # What lifts a side towards the butt, -x, turns about that side crossed into -x.
        lifted = np.array([0, np.cos(side), np.sin(side)])
        self.turn = Rotation.from_rotvec(tilt * np.cross(lifted, [-1, 0, 0]))

    def turned(self, place):
        pivot = np.array([self.pivot, 0, 0])
        return self.turn.apply(self.tip_axes(place) - pivot) + pivot

    def cut(self):
        build, sole = self.build, values(self.head["sole"], "up", "toe")
        self.cap = si(self.grip.get("cap", 0))
        self.tip, butt = values(build, "tip_trim", "butt_trim")
        self.inside = si(build.get("insertion", "30 mm"))
        if build.get("bore") == "through":
            # where the axis, which falls by sin(lie) for each of its own length, meets the ground
            self.inside = -sole[0] / np.sin(self.lie)
        # A plane through the sole along y, 60 degrees from the axis: its trace in x, z.
        x, _, z = self.turned([0, *sole])
        trace = np.array([np.cos(np.pi / 3), np.sin(np.pi / 3)])
        axis = np.array([1.0, 0.0])
        self.beyond = np.linalg.solve(np.column_stack([axis, -trace]), [x, z])[0]
        if "length" in build:
            outside = si(build["length"]) - self.cap - self.beyond
            if build.get("order") == "butt-first":
                self.tip = self.uncut - butt - self.inside - outside
            else:
                butt = self.uncut - self.tip - self.inside - outside
        self.butt_trim, self.butt = butt, self.uncut - butt
        self.mouth = self.tip + self.inside
        self.length = self.butt + self.cap - self.mouth + self.beyond

    def head_points(self):
        """Points with the head's mass, centre and inertia, then its weights: masses and places."""
        m, i = si(self.head["mass"]), self.head["inertia"]
        ff, uu, tt, fu, ft, ut = values(i, "forward", "up", "toe", "forward_up", "forward_toe", "up_toe")
        tensor = np.array([[ff, fu, ft], [fu, uu, ut], [ft, ut, tt]])
        size, axes = np.linalg.eigh(np.trace(tensor) / 2 * np.eye(3) - tensor)
        centre = np.array(values(self.head["centre_of_mass"], "forward", "up", "toe"))
        places = [centre + sign * np.sqrt(3 * s / m) * axis
                  for s, axis in zip(size, axes.T) for sign in (-1, 1)]
        masses = [m / 6] * 6
        for weight in self.head.get("weights", []):
            masses.append(si(weight["mass"]))
            places.append(np.array(values(weight, "forward", "up", "toe")))
        return np.array(masses), np.array([self.turned(p) for p in places])

    @staticmethod
    def ring(masses, x, squares):
        """Tubes as four points each, on a circle of that square of gyration."""
        r = np.sqrt(squares)
        m = np.repeat(masses / 4, 4)
        places = np.stack([np.repeat(x, 4), np.stack([r, -r, 0 * r, 0 * r], -1).ravel(),
                           np.stack([0 * r, 0 * r, r, -r], -1).ravel()], -1)
        return m, places

    def slices(self, low, high, count=40000):
        edges = np.linspace(low, high, count + 1)
        return (edges[1:] + edges[:-1]) / 2, (high - low) / count

    def shaft_points(self, low, high):
        at, width = self.slices(low, high)
        m, r = self.mass(at), self.radius(at)
        inner = r**2 - m / (np.pi * self.density)
        return self.ring(m * width, self.mouth - at, (r**2 + inner) / 2)

    def grip_line(self, u):
        """Grip and tape at u from the butt: mass per length of each, squares of gyration."""
        g, tape = self.grip, self.build.get("tape", {})
        m, length, centre, diameter = values(g, "mass", "length", "centre_of_mass", "diameter")
        k = 6 * (centre or length / 2) / length - 3
        layers = int(tape.get("layers", 0))
        each, thick = si(tape.get("mass", "5 g/m")), si(tape.get("thickness", "0.13 mm"))
        inner = float(self.radius(self.butt - length / 2))
        between, outer = inner + layers * thick, diameter / 2 + layers * thick
        grip = m / length * (1 + k * (2 * u / length - 1))
        return grip, np.full_like(u, layers * each), (outer**2 + between**2) / 2, (between**2 + inner**2) / 2

    def grip_points(self):
        length = si(self.grip["length"])
        u, width = self.slices(0, length, 20000)
        grip, tape, outside, under = self.grip_line(u)
        x = self.mouth - (self.butt - u)
        one = self.ring(grip * width, x, np.full_like(u, outside))
        two = self.ring(tape * width, x, np.full_like(u, under))
        return np.concatenate([one[0], two[0]]), np.concatenate([one[1], two[1]])

    def fittings(self):
        ferrule, weight = self.build.get("ferrule", {}), self.build.get("hosel_weight", {})
        m, length, up = values(ferrule, "mass", "length", "at")
        at, _ = self.slices(self.mouth + up, self.mouth + up + length, 500)
        r = float(self.radius(self.mouth + up + length / 2))
        ring = self.ring(np.full(500, m / 500), self.mouth - at, np.full(500, r**2))
        mass, depth = values(weight, "mass", "depth")
        return (np.append(ring[0], mass),
                np.concatenate([ring[1], [[depth or self.inside / 2, 0, 0]]]))

    def points(self):
        groups = [self.shaft_points(self.tip, self.butt), self.grip_points(), self.fittings(),
                  self.head_points()]
        return np.concatenate([g[0] for g in groups]), np.concatenate([g[1] for g in groups])

    def sums(self):
        m, places = self.points()
        end = -(self.butt + self.cap - self.mouth)
        x, y = places[:, 0] - end, places[:, 1]
        total, first = m.sum(), (m * x).sum()
        about = (m * (x**2 + y**2)).sum()
        return {"club_mass_kg": total, "balance_point_m": first / total,
                "swing_moment_kgm": (m * (x - 14 * 0.0254)).sum(), "inertia_butt_kgm2": about,
                "inertia_balance_kgm2": about - (first**2 + (m * y).sum()**2) / total,
                "head_mass_kg": self.head_points()[0].sum(),
                "shaft_mass_kg": self.shaft_points(self.tip, self.butt)[0].sum(),
                "playing_length_m": self.length, "tip_trim_mm": 1e3 * self.tip,
                "butt_trim_mm": 1e3 * self.butt_trim, "insertion_mm": 1e3 * self.inside}

    def angles(self):
        """Loft, lie and face of the turned head against the axes it had, in degrees."""
        face = si(self.head.get("face_angle", 0))
        normal = self.tip_axes([np.cos(self.loft) * np.cos(face), np.sin(self.loft),
                                np.cos(self.loft) * np.sin(face)])
        axes = [self.tip_axes(row) for row in np.eye(3)]
        n, toe = self.turn.apply(normal), self.turn.apply(axes[2])
        return {"loft_deg": np.degrees(np.arcsin(n @ axes[1])),
                "lie_deg": np.degrees(self.lie + np.arcsin(toe @ axes[1])),
                "face_deg": np.degrees(np.arctan2(n @ axes[2], n @ axes[0]))}, normal

    # -------------------------------------------------------------- at address

    def tip_body(self):
        """Mass and centre of everything rigid beyond the mouth."""
        groups = [self.shaft_points(self.tip, self.mouth), self.fittings(), self.head_points()]
        m = np.concatenate([g[0] for g in groups])
        return m.sum(), (m[:, None] * np.concatenate([g[1] for g in groups])).sum(0) / m.sum()

    def weight_line(self, at):
        """N/m of shaft, grip and tape."""
        u = self.butt - at
        grip, tape, _, _ = self.grip_line(u)
        return GRAVITY * (self.mass(at) + np.where(u < si(self.grip["length"]), grip + tape, 0))

    def hang(self):
        """r' = R e1, q' = q (0, kappa)/2, M' = -R e1 x F(s), kappa = B^-1 R' M; F is the weight beyond."""
        hinge = self.butt - si(self.build.get("hold", "100 mm"))
        length = hinge - self.mouth
        down = -self.turn.apply(self.tip_axes([0, 1, 0]))
        mass, centre = self.tip_body()
        fine = np.linspace(0, length, 40001)
        w = self.weight_line(hinge - fine)
        beyond = np.concatenate([np.cumsum(((w[1:] + w[:-1]) / 2 * np.diff(fine))[::-1])[::-1], [0]])
        beyond += GRAVITY * mass

        def slope(s, y):
            turn = Rotation.from_quat(y[3:7].T / np.linalg.norm(y[3:7], axis=0)[:, None])
            local = turn.inv().apply(y[7:10].T)
            at = hinge - s
            kappa = local / np.stack([self.gj(at), self.ei(at), self.ei(at)], -1)
            axis = turn.apply(np.tile([1.0, 0, 0], (len(s), 1)))
            v, q0 = y[3:6].T, y[6][:, None]
            dv = (q0 * kappa + np.cross(v, kappa)) / 2
            dq0 = -(v * kappa).sum(1) / 2
            force = np.interp(s, fine, beyond)[:, None] * down
            return np.vstack([axis.T, dv.T, dq0, -np.cross(axis, force).T])

        def ends(a, b):
            turn = Rotation.from_quat(b[3:7])
            return np.concatenate([a[:3], a[3:6], [a[6] - 1],
                                   b[7:10] - np.cross(turn.apply(centre), GRAVITY * mass * down)])

        s = np.linspace(0, length, 200)
        guess = np.zeros((10, len(s)))
        guess[0], guess[6] = s, 1
        found = solve_bvp(slope, ends, s, guess, tol=1e-7, max_nodes=20000)
        assert found.success, found.message
        tip = found.y[:, -1]
        return tip[:3] - [length, 0, 0], Rotation.from_quat(tip[3:7])

    def address(self):
        place, bent = self.hang()
        _, normal = self.angles()
        head = {k: self.turn.apply(self.tip_axes(row)) for k, row in zip(("f", "u", "t"), np.eye(3))}
        before, toe = self.turn.apply(normal), bent.apply(head["t"])
        after = bent.apply(before)
        turned = [np.arctan2(n @ head["t"], n @ head["f"]) for n in (before, after)]
        return {"address_droop_mm": -1e3 * place[2], "address_lead_mm": 1e3 * place[1],
                "address_lie_change_deg": np.degrees(np.arcsin(toe @ head["u"])),
                "address_loft_change_deg": np.degrees(np.arcsin(after @ head["u"])
                                                      - np.arcsin(before @ head["u"])),
                "address_face_rotation_deg": np.degrees(turned[0] - turned[1])}


def main():
    summed = "point by point in NumPy, from the same files"
    geometry = "lines and planes in NumPy, from the same files"
    rod = "equations of a bent rod, by SciPy's collocation"
    with tempfile.TemporaryDirectory() as folder:
        for title, (name, build, more) in CLUBS.items():
            parts = parts_of(name, build, more)
            club, got = Club(parts), bench(parts, folder)
            sums = club.sums()
            for key, label, unit in (("club_mass_kg", "mass", "kg"),
                                     ("balance_point_m", "balance point", "m"),
                                     ("swing_moment_kgm", "moment about 14 in", "kg m"),
                                     ("inertia_butt_kgm2", "inertia about the butt", "kg m2"),
                                     ("inertia_balance_kgm2", "inertia about its centre", "kg m2")):
                record.check("%s: %s" % (label, title), INDEPENDENT, summed, unit, got[key], sums[key],
                             rel=1e-6)
            for key in ("head_mass_kg", "shaft_mass_kg"):
                assert abs(got[key] / sums[key] - 1) < 1e-7, (title, key, got[key], sums[key])
            record.check("playing length: " + title, EXACT, geometry, "m", got["playing_length_m"],
                         sums["playing_length_m"], rel=1e-12)
            for key in ("tip_trim_mm", "butt_trim_mm", "insertion_mm"):
                assert abs(got[key] - sums[key]) < 1e-9, (title, key, got[key], sums[key])
            angles, _ = club.angles()
            for key, want in angles.items():
                assert abs(got[key] - want) < 1e-9, (title, key, got[key], want)
            hanging = club.address()
            record.check("droop at address: " + title, INDEPENDENT, rod, "mm", got["address_droop_mm"],
                         hanging["address_droop_mm"], rel=1e-5)
            record.check("lie change at address: " + title, INDEPENDENT, rod, "deg",
                         got["address_lie_change_deg"], hanging["address_lie_change_deg"], rel=1e-5)
            record.check("face rotation at address: " + title, INDEPENDENT, rod, "deg",
                         got["address_face_rotation_deg"], hanging["address_face_rotation_deg"], rel=1e-5)
            for key in ("address_lead_mm", "address_loft_change_deg"):
                assert abs(got[key] / hanging[key] - 1) < 1e-5, (title, key, got[key], hanging[key])


if __name__ == "__main__":
    main()
