# SPDX-License-Identifier: GPL-3.0-or-later
"""Every example is built and run, and what it prints is what the program says."""
import json
import os
import re
import subprocess
import unittest

from harness import BUILD, CABER, Case, SETUP, SLOW, SOURCE, main, run

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

    @unittest.skipIf(SLOW, "thousands of whole swings")
    def test_two_shafts(self):
        done = subprocess.run([EXAMPLES / "two-shafts.sh", self.dir], text=True, capture_output=True,
                              check=True, cwd=SOURCE, env=dict(os.environ, CABER=CABER))
        self.assertEqual([line for line in done.stderr.splitlines() if "swings failed" not in line], [])
        steps = re.split(r"\n== \d\. .*\n", done.stdout)[1:]
        self.assertEqual(len(steps), 4)
        profile, beside, spread, measured = steps
        # Of 128 readings a shaft; then what each command says first.
        self.assertEqual(profile.count("128 of them in the fit"), 2)
        self.assertIn("In short: firm-tip, from its readings beside soft-tip, from its readings", beside)
        self.assertIn("Which is the more consistent for this player?", spread)
        self.assertRegex(measured, r"(?m)^Told apart$")
        self.assertIn("Simulated beside measured: firm-tip", measured)
        for name in ("soft-tip.svg", "firm-tip.svg", "compare.svg", "scatter.svg", "shots.svg"):
            self.assertTrue((self.dir / name).read_text(encoding="utf-8").startswith("<?xml"), name)

    @unittest.skipIf(SLOW, "another program, and dozens of whole swings")
    def test_study(self):
        path, figures = self.dir / "a.h5", self.dir / "figures"
        self.good("sweep", SOURCE / "models/studies/shafts-in-time.yaml", "--output", path)
        program = EXAMPLES / "study.py"
        status, out, err = run(path, figures, program=program)
        self.assertEqual((status, err), (0, ""))
        for name in ("study-output", "study-series"):
            self.assertGreater((figures / (name + ".png")).stat().st_size, 10000)
            self.assertTrue((figures / (name + ".svg")).read_text(encoding="utf-8").startswith("<?xml"), name)
        self.assertIn("60 cases went well", out)
        self.assertIn("as a grid: shaft 3, rise 5, replicate 4\n", out)
        # Its numbers are those of the program.
        group = json.loads(self.good("table", path, "--by", "shaft", "--only", "carry_m", "--json"))["rows"][0]
        shown = re.search(r"carry_m where shaft is soft-tip: mean (\S+), standard deviation (\S+), of 20", out)
        self.assertAlmostEqual(float(shown[1]), group["carry_m"], delta=6e-3)
        self.assertAlmostEqual(float(shown[2]), group["carry_m.sd"], delta=6e-2)
        points = json.loads(self.good("table", path, "--by", "point", "--only", "carry_m", "--json"))["rows"]
        self.assertEqual(len(points), 15)
        pooled = (sum(row["carry_m.sd"] ** 2 for row in points) / 15) ** 0.5
        shown = re.search(r"from swing to swing carry_m has a standard deviation of (\S+)", out)
        self.assertAlmostEqual(float(shown[1]), pooled, delta=6e-3)

    def test_the_walks_find_a_failure(self):
        for name in ("firm-tip.sh", "quick-transition.sh"):
            done = subprocess.run([EXAMPLES / name, "nowhere.yaml"], text=True, check=False,
                                  capture_output=True, env=dict(os.environ, CABER=CABER))
            self.assertNotEqual(done.returncode, 0)


if __name__ == "__main__":
    main()
