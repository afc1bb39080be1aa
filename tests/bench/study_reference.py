#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What the Python reference needs for cases of a study like those in studies/: one process of it.

    study_reference.py SETUP SWINGS --what players|clubs [--modes N] [--stations N] [--rtol X] [--method NAME]

One swing beforehand warms it up. Then SWINGS cases differ in the player's load (one club, whose modes are
found once) or in the head's mass (modes a case). Printed: {"wall_s": ..., "cpu_s": ...} a swing.
"""
import argparse
import json
import pathlib
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "reference"))
import swing as reference  # noqa: E402


def case(setup, what, place):
    """The setup with its varied input at `place`, 0..1, of its range."""
    if what == "players":
        setup["player"]["load"]["grip"]["rise"] = 0.12 + 0.06 * place
    else:
        setup["head"]["mass"] = 0.195 + 0.010 * place
    return setup


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("setup")
    parser.add_argument("swings", type=int)
    parser.add_argument("--what", choices=("players", "clubs"), default="players")
    parser.add_argument("--modes", type=int, default=10)
    parser.add_argument("--stations", type=int, default=12)
    parser.add_argument("--rtol", type=float, default=1e-5)
    parser.add_argument("--method", default="Radau")
    parser.add_argument("--difference-jacobian", action="store_true")
    given = parser.parse_args()
    setup = reference.read_setup(given.setup)
    model = reference.Swing(setup, given.modes, given.stations)

    def run(place):
        nonlocal model
        varied = case(setup, given.what, place)
        if given.what == "clubs":
            model = reference.Swing(varied, given.modes, given.stations)
        else:
            model.load = reference.Load(varied["player"])
        model.run(given.rtol, given.method, own_jacobian=not given.difference_jacobian, dense=False)

    run(0.5)
    wall, cpu = time.perf_counter(), time.process_time()
    for i in range(given.swings):
        run((i + 0.5) / given.swings)
    print(json.dumps({"wall_s": (time.perf_counter() - wall) / given.swings,
                      "cpu_s": (time.process_time() - cpu) / given.swings}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
