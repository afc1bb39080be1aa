#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""`caber swing --sensitivity` against differences of tests/reference/swing.py, entry by entry; and what
it says of the demo club, as a table and a plot for the verification page.

The reference swings anew with 1.1 to the power of +-1/8 times the stiffness of one tenth. Its central
difference is off by that step's square, which for a tenth is some 1e-5 deg, and by its integrator's
error, which hardly differs between the two. Same modes and stations, no ceiling.
"""
import json
import math
import os
import pathlib
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import swing as reference  # noqa: E402
from record import INDEPENDENT, Record, figure  # noqa: E402

SETUPS = pathlib.Path(os.environ["CABER_SOURCE"]) / "models/setups"
MODES, STATIONS, RTOL, POWER = 10, 12, 3e-8, 1 / 8
# Name, label, unit, printed places: the columns of the program's table. Allowed is a twentieth of the
# last place.
COLUMNS = (("loft_change_deg", "loft change", "deg", 3), ("face_rotation_deg", "face rotation", "deg", 3),
           ("lead_deflection_mm", "lead", "mm", 2), ("droop_mm", "droop", "mm", 2),
           ("head_speed_mps", "head speed", "m/s", 3), ("peak_lag_mm", "peak lag", "mm", 2),
           ("peak_handle_moment_nm", "peak moment", "N m", 2))
RECORD = Record("sensitivity_tenths")


def program(setup, *settings):
    command = [os.environ["CABER"], "swing", str(SETUPS / (setup + ".yaml")), "--sensitivity", "--json"]
    for text in settings:
        command += ["--set", text]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE)
    return json.loads(done.stdout)["sensitivity"]


def reference_swing(name, found, part, key, factor):
    """What the reference reports with a section at every tenth, one of them scaled."""
    setup = reference.read_setup(str(SETUPS / (name + ".yaml")))
    setup["sections"] = [dict({"from": a / 1e3, "to": b / 1e3, "ei_scale": 1.0, "gj_scale": 1.0,
                               "mass_scale": 1.0}, **({key: factor} if i == part else {}))
                         for i, (a, b) in enumerate(zip(found["from_mm"], found["to_mm"]))]
    swing = reference.Swing(setup, MODES, STATIONS)
    return swing.report(swing.run(RTOL))[0]


def place(text, decimals):
    """A number as the table prints it, without the sign of a zero."""
    text = "%.*f" % (decimals, text)
    return text.lstrip("-") if not text.strip("-0.") else text


class Reference(unittest.TestCase):
    def test_three_entries(self):
        # Of the demo swings this one's shaft rings most at impact.
        name = "neutral-quick"
        found = program(name, "settings.modes=%d" % MODES, "settings.stations=%d" % STATIONS,
                        "settings.ceiling=0")
        moment = []
        for part, what in ((1, "ei"), (8, "ei"), (1, "gj")):
            up, down = (reference_swing(name, found, part, what + "_scale", 1.1 ** power)
                        for power in (POWER, -POWER))
            for key, label, unit, decimals in COLUMNS:
                want = 0.1 * (up[key] - down[key]) / (2 * POWER * math.log(1.1))
                if key == "peak_handle_moment_nm":  # its last digits are the integrator's scatter
                    moment.append(abs(found[what]["parts"]["first"][key][part] - want))
                    continue
                RECORD.check("quick transition, 10 %% more %s from %.0f to %.0f mm: %s"
                             % (what.upper(), found["from_mm"][part], found["to_mm"][part], label),
                             INDEPENDENT, "central difference of the second computation in Python",
                             unit, found[what]["parts"]["first"][key][part], want,
                             absolute=0.05 * 10.0 ** -decimals)
        RECORD.bound("quick transition, 10 % more of each of these: peak moment", INDEPENDENT,
                     "central difference of the second computation in Python", "N m", max(moment), 0.05e-2)


class Page(unittest.TestCase):
    def test_table_and_plot(self):
        found = {name: program("neutral-" + name) for name in ("smooth", "quick", "late")}
        for one in found.values():
            self.check(one)
        self.table(found["smooth"])
        self.plot(found)

    def check(self, found):
        """Tenths add up; what is in the hands does nothing; a softer tip gives more loft (MacKenzie and
        Boucher 2016, J. Sports Sci., abstract, of whole shafts); a firmer butt lags less."""
        for what in ("ei", "gj"):
            for key, _, _, decimals in COLUMNS[:-1]:
                parts = found[what]["parts"]["first"][key]
                self.assertEqual(parts[-1], 0)
                self.assertAlmostEqual(sum(parts), found[what]["whole"]["first"][key],
                                       delta=0.05 * 10.0 ** -decimals)
        self.assertLess(found["ei"]["parts"]["first"]["loft_change_deg"][0], -0.02)
        self.assertLess(found["ei"]["parts"]["first"]["peak_lag_mm"][8], -1)

    def table(self, found):
        rows = []
        for what in ("ei", "gj"):
            first, whole = found[what]["parts"]["first"], found[what]["whole"]
            for i, bends in enumerate(found["bends_mm"]):
                if bends > 0:
                    rows.append([what.upper(), "%.0f to %.0f" % (found["from_mm"][i], found["to_mm"][i])]
                                + [place(first[key][i], decimals) for key, _, _, decimals in COLUMNS])
            for aspect, label in (("first", "whole shaft"), ("anew", "whole, swung anew")):
                rows.append([what.upper(), label] + [place(whole[aspect][key], decimals)
                                                     for key, _, _, decimals in COLUMNS])
        RECORD.table("What 10 % more stiffness in a tenth of the shaft does: the neutral shaft, the "
                     "smooth swing", ["10 % more", "mm from the tip"]
                     + ["%s, %s" % (label, unit) for _, label, unit, _ in COLUMNS], rows,
                     "To first order; the last tenth is in the hands and does not bend. \"Swung anew\" "
                     "is a swing with 10 % more everywhere, less the swing as it is: what rings in the "
                     "shaft at impact changes its phase by then, so it is not the sum of the tenths.")

    def plot(self, found):
        canvas, (left, right) = figure(width=7.0, height=3.0, ncols=2, sharey=True)
        marks = {"smooth": "o", "quick": "s", "late": "^"}
        for axes, what, title in ((left, "ei", "10 % more EI"), (right, "gj", "10 % more GJ")):
            for name, one in found.items():
                bending = [i for i, bends in enumerate(one["bends_mm"]) if bends > 0]
                middle = [(one["from_mm"][i] + one["to_mm"][i]) / 2 for i in bending]
                loft = [one[what]["parts"]["first"]["loft_change_deg"][i] for i in bending]
                axes.plot(middle, loft, marker=marks[name], markersize=4, label=name)
            axes.axhline(0, color="#555555", linewidth=0.8)
            axes.set_title(title + " in one tenth", fontsize=9)
            axes.set_xlabel("middle of the tenth, mm from the uncut tip")
        left.set_ylabel("change of loft, deg")
        right.legend(title="swing", loc="lower right")
        RECORD.plot("sensitivity-loft", "Change of the loft at impact for 10 % more bending and twisting "
                    "stiffness in each tenth of the neutral shaft, for three swings.", canvas)


if __name__ == "__main__":
    unittest.main(verbosity=1)
