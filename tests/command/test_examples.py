# SPDX-License-Identifier: GPL-3.0-or-later
"""Every example is built and run, and what it prints is what the program says."""
import os
import subprocess

from harness import BUILD, CABER, Case, SETUP, SOURCE, main, run

EXAMPLES = SOURCE / "examples"


class Programs(Case):
    def values(self, *names):
        return [float(text) for text in self.good("swing", SETUP, "--get", ",".join(names)).split()]

    def test_ten_lines(self):
        speed, loft = self.values("head_speed_mps", "loft_change_deg")
        status, out, err = run(SETUP, program=BUILD / "examples/ten-lines")
        self.assertEqual((status, err), (0, ""))
        self.assertEqual(out, "%.2f m/s, loft change %.2f deg\n" % (speed, loft))
        self.assertEqual(run("nowhere.yaml", program=BUILD / "examples/ten-lines")[0], 1)

    def test_swing(self):
        status, out, err = run(SETUP, "load.grip.rise=0.05 s", program=BUILD / "examples/swing")
        self.assertEqual((status, err), (0, ""))
        names = [line.split()[0] for line in out.splitlines()]
        want = self.good("swing", SETUP, "--set", "load.grip.rise=0.05 s", "--get", ",".join(names))
        for line, value in zip(out.splitlines(), want.split(), strict=True):
            self.assertAlmostEqual(float(line.split()[1]), float(value),
                                   delta=1e-5 * abs(float(value)) + 1e-12)
        status, out, err = run("nowhere.yaml", program=BUILD / "examples/swing")
        self.assertEqual((status, out), (1, ""))
        self.assertIn("nowhere.yaml", err)


class Walks(Case):
    def walk(self, name):
        """The rows of numbers that a walk prints, without their first words."""
        done = subprocess.run([EXAMPLES / name, SETUP], text=True, capture_output=True, check=True,
                              env=dict(os.environ, CABER=CABER))
        self.assertEqual(done.stderr, "")
        return [line for line in done.stdout.splitlines()[2:]]

    def test_firm_tip(self):
        rows = [[float(x) for x in line[12:].split()] for line in self.walk("firm-tip.sh")]
        self.assertEqual(len(rows), 3)
        softer, as_it_is, firmer = rows
        cpm, loft_change = 0, 3
        self.assertLess(firmer[cpm] - softer[cpm], 10)
        # A softer shaft brings more loft from bending: MacKenzie & Boucher (2016), J. Sports Sci.
        self.assertGreater(softer[loft_change], as_it_is[loft_change])
        self.assertGreater(as_it_is[loft_change], firmer[loft_change])

    def test_quick_transition(self):
        rows = [[float(x) for x in line.split()] for line in self.walk("quick-transition.sh")]
        self.assertEqual([row[0] for row in rows], [0.03, 0.06, 0.12])
        rates = [row[2] for row in rows]
        self.assertEqual(rates, sorted(rates, reverse=True))

    def test_the_walks_find_a_failure(self):
        for name in ("firm-tip.sh", "quick-transition.sh"):
            done = subprocess.run([EXAMPLES / name, "nowhere.yaml"], text=True, check=False,
                                  capture_output=True, env=dict(os.environ, CABER=CABER))
            self.assertNotEqual(done.returncode, 0)


if __name__ == "__main__":
    main()
