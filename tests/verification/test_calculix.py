#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The demo shafts against CalculiX, a general-purpose finite-element program, on generated decks.

Small and large bends, twist, frequencies at rest with a point mass and with the real head, and
frequencies of a shaft that turns steadily about an axis through the hands. Ours come from `caber
bench` and, where it does not print them, from answers_static; the decks (calculix/deck.py) are made
from the model files by the readers of tests/reference, so nothing of ours stands between the files
and CalculiX.

What is compared while it turns: CalculiX takes the frequencies about the turning state, with its
tension and with the centrifugal force following the motion. Across a straight shaft that turns at W
about z, a small motion v in the plane of rotation and w out of it obey
    m v.. + (EI v'')'' - (T v')' - m W^2 v = 0,    m w.. + (EI w'')'' - (T w')' = 0,
T the tension, so the squares of the two frequencies differ by W^2; twice W across either velocity
is along the shaft or nothing, so Coriolis forces, which CalculiX leaves out here, do no work. Ours
are the full equations of the swing, linearised about that state.
"""
import functools
import json
import math
import os
import pathlib
import subprocess
import sys

import numpy as np

from calculix import deck, run
from record import COLOURS, INDEPENDENT, Record, figure
from reference import swing

ROOT = pathlib.Path(os.environ["CABER_SOURCE"])
SHAFTS = (("neutral", "neutral-smooth"), ("firm tip", "firm-tip-smooth"),
          ("soft tip", "soft-tip-smooth"))
CLAMP, MASS, SMALL, TORQUE = 0.127, 0.205, 10, 1.3558179483314004  # m, kg, N, N m: of the bench
FORCE, COUPLE = 45, 25           # N, N m: either bends the tip by nearly 30 % of the length
RATES = (10, 20, 30)             # rad/s
DRAWN = (0.5, *range(2, 31, 2))  # rad/s, for the plot
CLUB, POINT, PLANE = 6, 8, 3     # frequencies: of the club, with a point mass, in each plane
MESH = (6, 30)                   # bricks around and along
MESHES = ((6, 15), MESH, (6, 60))
ALLOWED = 0.002                  # relative; 0.005 was asked for
DEG = 180 / math.pi
LARGE = (("deflection", "deflection_m", "mm", 1e3), ("shortening", "shortening_m", "mm", 1e3),
         ("slope", "slope_rad", "deg", DEG))


def path(setup):
    return str(ROOT / "models/setups" / (setup + ".yaml"))


def ours(setup):
    """What `caber bench` and answers_static print."""
    more = os.path.join(os.environ["CABER_BUILD"], "tests/answers_static")
    rates = [*RATES, *DRAWN]
    commands = ([os.environ["CABER"], "bench", path(setup), "--json"],
                [more, path(setup), *map(str, (FORCE, COUPLE, MASS, *rates))])
    bench, answers = (json.loads(subprocess.run(c, check=True, stdout=subprocess.PIPE).stdout)
                      for c in commands)
    jig = bench["jig"]
    assert (jig["clamp_m"], jig["tip_mass_kg"], jig["load_n"]) == (CLAMP, MASS, SMALL), jig
    assert abs(jig["torque_nm"] - TORQUE) < 1e-9, jig
    answers["turning"] = dict(zip(rates, answers["turning"]))
    return bench, answers


class Shaft:
    """One setup's decks and what CalculiX answers, kept where it is asked for twice."""

    def __init__(self, setup, mesh=MESH):
        read = swing.read_setup(path(setup))
        self.setup, self.mesh, self.club = setup, mesh, swing.Club(read)
        self.butt = read["shaft"]["length"] - read["build"]["butt_trim"]
        self.tip = read["build"]["tip_trim"]

    def deck(self, radii, held, end, grip=False):
        """Of the shaft between two distances from the uncut tip, perhaps with the grip's mass."""
        club, profile = self.club, self.club.profile

        def mass(s):
            return profile.mass(held - s) + (club.grip_mass(club.hands - held + s) if grip else 0)

        around, along = self.mesh
        return deck.Deck(held - end, along, deck.Section(around, radii),
                         lambda s: profile.bending(held - s)[..., 0, 0],
                         lambda s: profile.gj(held - s), mass)

    def bare(self, radii):
        return self.deck(radii, self.butt - CLAMP, self.tip)

    @functools.lru_cache(maxsize=None)
    def small(self):
        """Deflection and slope under the force, twist under the torque: m, rad."""
        d = self.bare(deck.STOUT)
        steps = deck.small(d.ref, 2, SMALL), deck.small(d.rot, 1, TORQUE)
        (_, moved), (_, bent), _, (_, twisted) = run.displacements(run.solve(d.text(*steps)))
        return moved[1], bent[2], twisted[0]

    @functools.lru_cache(maxsize=None)
    def large(self, force, couple):
        """Deflection, shortening, slope: m, rad."""
        d = self.bare(deck.STOUT)
        dat = run.solve(d.text(deck.large(d.ref, d.rot, force, couple)))
        (_, moved), (_, bent) = run.displacements(dat)[-2:]
        return moved[1], -moved[0], bent[2]

    def spectrum(self, d, step, count):
        return run.spectrum(run.solve(d.text(step)), count)

    @functools.lru_cache(maxsize=None)
    def point_mass(self):
        d = self.bare(deck.THIN)
        d.point(MASS)
        return [f for f, _ in self.spectrum(d, deck.frequencies(POINT), POINT)]

    def built(self):
        """The club in the bench's clamp: grip, and head with the inserted end of the shaft."""
        d = self.deck(deck.THIN, self.butt - CLAMP, self.club.hosel, grip=True)
        d.head(*self.club.tip_body)
        return [f for f, _ in self.spectrum(d, deck.frequencies(CLUB), CLUB)]

    def turning(self, rate):
        """Hz in the plane of rotation and out of it."""
        d = self.deck(deck.THIN, self.club.hands, self.tip)
        d.point(MASS)
        found = self.spectrum(d, deck.turning(rate, 2 * PLANE), 2 * PLANE)
        planes = ([f for f, (_, y, z) in found if abs(y) > abs(z)],
                  [f for f, (_, y, z) in found if abs(y) < abs(z)])
        if [len(p) for p in planes] != [PLANE, PLANE]:
            raise run.Failed("not %d modes in each plane at %g rad/s: %r" % (PLANE, rate, found))
        return planes


def both_planes(turning):
    return turning["in_plane_hz"], turning["out_of_plane_hz"]


class Check:
    """The rows of the record; a row that fails is said at the end, after all others."""

    def __init__(self):
        self.record, self.failed, self.worst = Record("calculix"), [], 0.0
        self.source = "CalculiX %s, deck by tests/verification/calculix" % run.version()

    def keep(self, row, *arguments, **allowed):
        try:
            row(*arguments, **allowed)
        except AssertionError as error:
            self.failed.append(str(error))

    def one(self, problem, unit, got, want):
        self.worst = max(self.worst, abs(got / want - 1))
        self.keep(self.record.check, problem, INDEPENDENT, self.source, unit, got, want,
                  rel=ALLOWED)

    def many(self, problem, got, want):
        off = float(np.max(np.abs(np.asarray(got) / np.asarray(want) - 1)))
        self.worst = max(self.worst, off)
        self.keep(self.record.bound, problem, INDEPENDENT, self.source, "%", 100 * off,
                  100 * ALLOWED)


def check_bends(check, name, shaft, bench, answers):
    deflection, slope, twist = shaft.small()
    check.one("%s shaft, %d N across the tip: deflection" % (name, SMALL), "mm",
              bench["tip_deflection_mm"], 1e3 * deflection)
    check.one("%s shaft, %d N across the tip: slope" % (name, SMALL), "deg", bench["tip_slope_deg"],
              DEG * slope)
    check.one("%s shaft, %.4g N m about the tip: twist" % (name, TORQUE), "deg", bench["twist_deg"],
              DEG * twist)
    for text, key, load in (("%d N" % FORCE, "force", (FORCE, 0)),
                            ("%d N m bending" % COUPLE, "couple", (0, COUPLE))):
        for (what, member, unit, factor), want in zip(LARGE, shaft.large(*load)):
            check.one("%s shaft, %s on the tip, large: %s" % (name, text, what), unit,
                      factor * answers[key][member], factor * want)


def check_rest(check, name, shaft, bench, answers):
    """Returns CalculiX's frequencies of the built club."""
    point, built = shaft.point_mass(), shaft.built()
    grams = 1e3 * MASS
    check.one("%s shaft, %d g on the tip: lowest frequency" % (name, grams), "cpm", bench["cpm"],
              60 * np.mean(point[:2]))
    check.many("%s shaft, %d g on the tip: the four lowest of each plane" % (name, grams),
               answers["point_mass_hz"][:POINT], point)
    check.many("%s shaft, built club in the clamp: six frequencies" % name, bench["frequencies_hz"],
               built)
    return built


def check_turning(check, name, shaft, answers):
    """Returns CalculiX's frequencies by rate."""
    theirs = {rate: shaft.turning(rate) for rate in RATES}
    check.many("%s shaft turning at %s rad/s: three frequencies in its plane and three out of it"
               % (name, ", ".join(map(str, RATES))),
               [both_planes(answers["turning"][rate]) for rate in RATES], list(theirs.values()))
    return theirs


def built_table(check, clubs):
    rows = [[name, who, *("%.2f" % f for f in hertz)] for name, ours_, theirs in clubs
            for who, hertz in (("caber", ours_), ("CalculiX", theirs))]
    check.record.table(
        "Frequencies of the built clubs in the bench's clamp, Hz",
        ["shaft", "by", *map(str, range(1, CLUB + 1))], rows,
        "The third is mostly twist: the deck's thin tube has less turning inertia about its own "
        "axis than the shaft, and so twists faster by about 0.03 %.")


def turning_table(check, answers, theirs):
    rows = []
    for rate in RATES:
        planes = zip(("in", "out"), both_planes(answers["turning"][rate]), theirs[rate])
        for plane, mine, other in planes:
            pairs = [text for a, b in zip(mine, other) for text in ("%.2f" % a, "%.2f" % b)]
            rows.append([rate, plane, *pairs])
    heads = [head % k for k in range(1, PLANE + 1) for head in ("%d, caber", "%d, CalculiX")]
    check.record.table("Frequencies of the turning neutral shaft with a point mass on its tip, Hz",
                       ["rad/s", "plane", *heads], rows,
                       "In the plane of rotation and out of it; the axis goes through the hands.")


def turning_plot(check, answers, theirs):
    picture, panels = figure(7.0, 3.2, ncols=2)
    for mode, axes in enumerate(panels):
        for k, (plane, style, fill) in enumerate((("out of the plane", "-", COLOURS[0]),
                                                  ("in the plane", "--", "white"))):
            mine = [both_planes(answers["turning"][r])[1 - k][mode] for r in DRAWN]
            axes.plot(DRAWN, mine, style, color=COLOURS[k], label="caber, " + plane)
            axes.plot(RATES, [theirs[r][1 - k][mode] for r in RATES], "o", markersize=5, zorder=3,
                      markerfacecolor=COLOURS[k] if fill != "white" else fill,
                      markeredgecolor=COLOURS[k], label="CalculiX, " + plane)
        axes.set_title(("lowest", "second")[mode] + " of each plane", fontsize=9)
        axes.set_xlabel("rate of rotation, rad/s")
        axes.set_ylabel("frequency, Hz")
        axes.set_xlim(0, 31)
    panels[0].legend(fontsize=8)
    last_in, last_out = (plane[0] for plane in both_planes(answers["turning"][RATES[-1]]))
    check.record.plot("calculix-turning", "Frequencies of the neutral shaft against its rate of "
                      "rotation: caber's as lines, CalculiX's as points on them; at %d rad/s the "
                      "lowest is %.1f Hz out of the plane of rotation and %.1f Hz in it"
                      % (RATES[-1], last_out, last_in), picture)


def mesh_answers(shaft):
    """What the table of meshes shows: mm, mm, Hz."""
    small, large = shaft.small()[0], shaft.large(FORCE, 0)[0]
    return [1e3 * small, 1e3 * large, *shaft.point_mass()[::2][:PLANE]]


def mesh_table(check, shaft, bench, answers):
    shafts = [shaft if mesh == shaft.mesh else Shaft(shaft.setup, mesh) for mesh in MESHES]
    rows = [["%d x %d" % s.mesh, *mesh_answers(s)] for s in shafts]
    rows.append(["caber", bench["tip_deflection_mm"], 1e3 * answers["force"]["deflection_m"],
                 *answers["point_mass_hz"][::2][:PLANE]])
    formats = ("%s", "%.2f", "%.1f", "%.3f", "%.2f", "%.1f")
    check.record.table(
        "CalculiX's answers as its mesh is refined, neutral shaft",
        ["bricks around x along", "deflection, %d N, mm" % SMALL, "deflection, %d N, mm" % FORCE,
         *("with %d g: frequency %d, Hz" % (1e3 * MASS, k) for k in range(1, PLANE + 1))],
        [[form % value for form, value in zip(formats, row)] for row in rows],
        "All other answers of CalculiX here are of the mesh of %d x %d." % MESH)


def words(check):
    check.record.text(
        "The shaft is meshed with 20-node bricks as a thin tube, orthotropic slice by slice, so "
        "that EI, GJ and mass are those of the model file. CalculiX knows nothing of beams here: "
        "tension, large turns and the centrifugal force on the moving shaft are its own. All "
        "differences are below %.1f %%. Refining the mesh takes most of them away; what stays is "
        "that bricks shear, which lowers a frequency the more the higher it is, and that the thin "
        "tube has less turning inertia about its own axis than the shaft."
        % (math.ceil(1e3 * check.worst) / 10))


def main():
    check, clubs, kept = Check(), [], None
    for name, setup in SHAFTS:
        shaft, (bench, answers) = Shaft(setup), ours(setup)
        check_bends(check, name, shaft, bench, answers)
        built = check_rest(check, name, shaft, bench, answers)
        clubs.append((name, bench["frequencies_hz"], built))
        theirs = check_turning(check, name, shaft, answers)
        kept = kept or (shaft, bench, answers, theirs)
    shaft, bench, answers, theirs = kept
    words(check)
    built_table(check, clubs)
    turning_table(check, answers, theirs)
    turning_plot(check, answers, theirs)
    mesh_table(check, shaft, bench, answers)
    print("largest difference %.3f %%, allowed %.3f %%" % (100 * check.worst, 100 * ALLOWED))
    for line in check.failed:
        print("FAILED: " + line)
    return 1 if check.failed else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except run.Failed as error:
        sys.exit("test_calculix: %s" % error)
