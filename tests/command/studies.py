# SPDX-License-Identifier: GPL-3.0-or-later
"""Small studies for the tests of `caber sweep`. The swings are as coarse as they can be, since what they give is
not looked at there."""
import unittest

from harness import SETUP, SLOW, Case, run

COARSE = ["settings.modes=2", "settings.stations=4", "settings.elements=6", "settings.tolerance=1e-3"]
# How many levels of the peak are enough to interrupt a run: four times as many cases.
PEAKS = 10 if SLOW else 20
CASES = 4 * PEAKS
GRID = """\
  - {name: head_mass, path: head.mass, from: 190 g, to: 210 g, levels: 4}
  - {name: peak, path: load.grip.peak, from: 4 N m, to: 40 N m, levels: %d}
design: {kind: grid}
outputs: [head_speed_mps, delivered_loft_deg, carry_m, side_m]
"""
ONCE = unittest.skipIf(SLOW, "done in the release build")


class Studies(Case):
    def setUp(self):
        super().setUp()
        self.study = self.write("s.yaml", GRID % PEAKS)
        self.path = self.dir / "s.h5"
        self.journal = self.dir / "s.h5.journal"

    def write(self, name, rest, head="", coarse=()):
        path = self.dir / name
        path.write_text("kind: study\nname: Cheap\nsetup: %s\nset: [%s]\n%sfactors:\n%s"
                        % (SETUP, ", ".join([*COARSE, *coarse]), head, rest), encoding="utf-8")
        return path

    def sweep(self, *words, status=0, study=None, **options):
        """Runs in the test's folder; returns standard output and standard error."""
        got, out, err = run("sweep", study or self.study, *words, cwd=self.dir, **options)
        self.assertEqual(got, status, err)
        return out, err

    def same_bytes(self, one, other):
        self.assertEqual((self.dir / one).read_bytes(), (self.dir / other).read_bytes())

    def names(self):
        return sorted(path.name for path in self.dir.glob("*.h5*"))
