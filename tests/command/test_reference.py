# SPDX-License-Identifier: GPL-3.0-or-later
"""The program against tests/reference/swing.py, an independent computation of the same swing, with
as many modes and stations, both integrated to 1e-8."""
import json
import subprocess
import sys

from harness import Case, MODELS, SOURCE, main

# The reference takes the moment at the hands without the part of damping, and looks for the largest
# rate on a grid of its own. A flat top is met at another time by a small change of height.
WIDER = {"peak_handle_moment_time_s": (0, 1e-3), "peak_load_rate_nm_s": (0.01, 0),
         "shaft_speed_gain_mps": (0, 1e-3), "energy_residual": (0, 1e-6)}


class Reference(Case):
    def agree(self, setup):
        path = MODELS / "setups" / setup
        theirs = json.loads(subprocess.run(
            [sys.executable, "-B", SOURCE / "tests/reference/swing.py", path, "--modes", "12",
             "--stations", "18", "--rtol", "1e-8"], check=True, capture_output=True).stdout)
        ours = json.loads(self.good("swing", path, "--json", "--set", "settings.modes=12", "--set",
                                    "settings.stations=18", "--set", "settings.tolerance=1e-8"))
        for group, least in (("impact", 20), ("straight", 8)):
            self.assertGreater(len(theirs[group]), least)
            for name, want in theirs[group].items():
                relative, absolute = WIDER.get(name, (1e-4, 2e-4))
                self.assertAlmostEqual(ours[group][name], want, msg="%s, %s" % (setup, name),
                                       delta=relative * abs(want) + absolute)

    def test_smooth(self):
        self.agree("neutral-smooth.yaml")

    def test_late(self):
        self.agree("firm-tip-late.yaml")

    def test_quick(self):
        self.agree("soft-tip-quick.yaml")


if __name__ == "__main__":
    main()
