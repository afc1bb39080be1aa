#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The program against tests/reference/swing.py, which computes the same downswing apart from it.

Same modes and stations, both at tight tolerance, so what is left is each integrator's error and the
reference's coarser mesh: a hundredth of what the defaults promise (0.2 mm, 0.02 deg, 0.02 m/s).
Usage: test_against_program.py, with CABER naming the program.
"""
import json
import os
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import swing as reference  # noqa: E402
from record import INDEPENDENT, Record  # noqa: E402

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
SETUPS = ("neutral-quick", "soft-tip-late", "neutral-quick-9")
MODES, STATIONS, RTOL = 10, 12, 1e-8
# suffix of the name: allowed difference, absolute, and relative where the value has no length or angle
ALLOWED = (("_mm", 2e-3, 0), ("_deg", 2e-4, 0), ("_mps", 2e-4, 0), ("_deg_s", 2e-2, 1e-5),
           ("_time_s", 2e-5, 0), ("_nm", 0, 1e-4), ("_n", 0, 1e-4), ("_j", 0, 1e-4))
# Not the same quantity to this accuracy: the reference looks at these over 1/400 of the swing, or
# takes a difference over that; the residual is each one's own; the time of a flat top is known to a step.
APART = {"peak_load_rate_nm_s": 1e-2, "strain_energy_peak_j": 1e-3, "energy_residual": None,
         "peak_handle_moment_time_s": 1e-2}


def program(setup):
    command = [os.environ["CABER"], "swing", str(setup), "--json"]
    for text in ("modes=%d" % MODES, "stations=%d" % STATIONS, "ceiling=0", "tolerance=1e-10"):
        command += ["--set", "settings." + text]
    return json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout)


def allowed(name, value):
    for suffix, absolute, relative in ALLOWED:
        if name.endswith(suffix):
            return absolute + relative * abs(value)
    raise KeyError("no tolerance for " + name)


SOURCE = (INDEPENDENT, "tests/reference/swing.py at the same %d modes and %d stations, no ceiling, tolerance %g"
          % (MODES, STATIONS, RTOL))
# What has a row of its own on the verification page; of the others, the largest share of a tolerance.
SHOWN = {"head_speed_mps": ("head speed", "m/s"), "delivered_loft_deg": ("delivered loft", "deg"),
         "lead_deflection_mm": ("lead", "mm"), "droop_mm": ("droop", "mm")}


def compare(record, setup, part, ours, theirs):
    """How many values were compared, and how many of them differ."""
    failed = others = count = 0
    for name, want in theirs.items():
        limit = APART.get(name, 0)
        if limit is None:
            continue
        limit = limit * abs(want) if limit else allowed(name, want)
        off = abs(ours[name] - want)
        count += 1
        if not off <= limit:
            print("%s: %s %s = %.9g, reference %.9g: off by %.2g, allowed %.2g"
                  % (setup, part, name, ours[name], want, off, limit))
            failed += 1
        elif part == "impact" and name in SHOWN:
            record.check("%s: %s" % (setup, SHOWN[name][0]), *SOURCE, SHOWN[name][1], ours[name], want, absolute=limit)
        else:
            others = max(others, off / limit)
    record.bound("%s, %s: other outputs, by their tolerances" % (setup, part), *SOURCE, "1", others, 1)
    return count, failed


def main():
    failed = compared = 0
    record = Record("against_program")
    for name in SETUPS:
        path = ROOT / "models/setups" / (name + ".yaml")
        other = reference.Swing(reference.read_setup(str(path)), MODES, STATIONS)
        bent, straight = other.report(other.run(RTOL))
        ours = program(path)
        for part, theirs in (("impact", bent), ("straight", straight)):
            count, bad = compare(record, name, part, ours[part], theirs)
            compared += count
            failed += bad
    print("%d values compared, %d differ" % (compared, failed))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
