# SPDX-License-Identifier: GPL-3.0-or-later
"""caber influence on studies whose outputs are functions, written by influence_writer.c: tables, figure, what is
left out and what is refused; what it finds is held against closed forms in verification/test_influence_command.py."""
import csv
import functools
import json
import pathlib
import re
import shutil
import tempfile
import unittest
import xml.etree.ElementTree

import h5py
import numpy as np

import harness

WRITER = harness.BUILD / "tests" / "influence_writer"
STUDIES = harness.BUILD / "tests" / "study_writer"
SVG = "{http://www.w3.org/2000/svg}"
FACTORS = ("x_1", "x_2", "x_3")
LONG = "shaft_of_a_name_longer_than_its_column"


# What leads through no code that other tests do not lead through: numbers are checked in the release build.
NUMBERS = unittest.skipIf(harness.SLOW, "numbers are checked in the release build")


@functools.cache
def written():
    """A folder that goes with the last test."""
    folder = tempfile.mkdtemp(prefix="caber-test-")
    unittest.addModuleCleanup(shutil.rmtree, folder)
    return pathlib.Path(folder)


class Influence(harness.Case):
    def study(self, *words):
        """The path of a study, which is written once; a test that changes it copies it first."""
        path = written() / ("-".join(words).replace("=", "") + ".h5")
        if not path.exists():
            self.good(path, *words, program=WRITER)
        return path

    def found(self, path, *words):
        return json.loads(self.good("influence", path, "--json", *words))

    def points(self, path):
        """Factors [points][factors], and the mean and standard deviation of carry_m over each point's swings."""
        with h5py.File(path) as file:
            swings = max(1, int(file.attrs["replicates"]))
            x = np.stack([file[name][::swings] for name in FACTORS], 1)
            carry = file["carry_m"][()].reshape(-1, swings)
        return x, carry.mean(1), carry.std(1, ddof=1) if swings > 1 else None


@NUMBERS
class Saltelli(Influence):
    def test_replicates(self):
        """The deviations of a point's swings add up to 0, so its mean is that of a study without; their spread is
        x_3^2 alone."""
        words = ("saltelli", "cases=100", "choice=1")
        plain = self.found(self.study(*words))["outputs"]["carry_m"]
        path = self.study(*words, "replicates=4")
        mean = self.found(path)["outputs"]["carry_m"]
        for name, one in mean["factors"].items():
            for measure in ("first", "total"):
                self.assertAlmostEqual(one[measure]["value"], plain["factors"][name][measure]["value"], places=9)
        spread = self.found(path, "--spread")["outputs"]["carry_m"]
        for name, one in spread["factors"].items():
            self.assertAlmostEqual(one["total"]["value"], float(name == "x_3"), delta=0.02)
        x, _, sd = self.points(path)
        whole = sd.reshape(100, -1)[:, :2]
        self.assertAlmostEqual(spread["mean"], whole.mean(), delta=1e-9)


@NUMBERS
class Morris(Influence):
    def test_a_choice_is_a_factor_like_others(self):
        """It adds 8 m from one file to the other, which is its whole range."""
        found = self.found(self.study("morris", "cases=12", "choice=1"))
        got = found["outputs"]["carry_m"]["factors"][LONG]
        self.assertAlmostEqual(got["mu"], 8, places=9)
        self.assertEqual(found["factors"][3]["values"], ["../shafts/soft.yaml", "../shafts/firm.yaml"])


class Left(Influence):
    """What is left out, and that it is said."""

    def test_failed_cases(self):
        path = self.study("latin-hypercube", "cases=500", "choice=1", "fail=50", "blank=60")
        status, out, err = harness.run("influence", path, "--json", "--only", "carry_m,swing_steps")
        self.assertEqual(status, 0)
        self.assertIn("10 of 500 cases failed and are left out; the first, case 7: the ball was not reached", err)
        self.assertIn("carry_m has no value in 9 cases that went well", err)
        found = json.loads(out)
        self.assertEqual((found["failed"], found["run"]), (10, 500))
        self.assertEqual({n: (o["rows"], o["dropped"], o["missing"]) for n, o in found["outputs"].items()},
                         {"carry_m": (481, 19, 9), "swing_steps": (490, 10, 0)})
        self.assertEqual(list(found["outputs"]["carry_m"]["factors"]), list(FACTORS))
        self.assertEqual(found["factors"][3]["left_out"], "a choice of files has no order")

    def test_pairs_and_trajectories_with_failed_cases(self):
        path = self.study("saltelli", "cases=60", "fail=100")
        found = json.loads(harness.run("influence", path, "--json")[1])
        self.assertEqual(found["outputs"]["carry_m"]["dropped"], 3)
        path = self.study("morris", "cases=20", "fail=40")
        found = json.loads(harness.run("influence", path, "--json")[1])
        self.assertEqual(found["outputs"]["carry_m"]["failed"], 2)

    @NUMBERS
    def test_half_of_a_points_swings_will_do(self):
        path = self.study("latin-hypercube", "cases=60", "replicates=4", "fail=16")
        found = json.loads(harness.run("influence", path, "--json")[1])
        self.assertEqual((found["failed"], found["outputs"]["carry_m"]["dropped"]), (15, 0))

    def test_unfinished(self):
        """3 chunks of 64 cases: 38 whole pairs of 5, of 64 and of 2."""
        path = self.study("saltelli", "cases=100", "stop=3")
        status, out, err = harness.run("influence", path, "--json")
        self.assertEqual((status, json.loads(out)["outputs"]["carry_m"]["rows"]), (0, 38))
        self.assertEqual(json.loads(out)["outputs"]["carry_m"]["dropped"], 0)
        self.assertIn("192 of its 500 cases have been run", err)
        self.assertIn("only 64 of its 125 cases have been run", self.bad(1, "influence", self.study(
            "grid", "stop=1")))
        self.assertIn("none of its 128 cases", self.bad(1, "influence", self.study(
            "sobol", "stop=0")))

    def test_many_outputs(self):
        path = self.study("sobol", "extra=14")
        status, out, err = harness.run("influence", path, "--json")
        self.assertEqual((status, list(json.loads(out)["outputs"])), (0, ["carry_m"]))
        self.assertIn("has 18 outputs, of which 1 are shown; --only asks for others", err)
        names = ",".join("extra_%d" % i for i in range(1, 14))
        self.assertEqual(len(self.found(path, "--only", names)["outputs"]), 13)
        self.assertIn("at most 12 outputs, not 13", self.bad(1, "influence", path, "--only", names, "--plot",
                                                             self.dir / "a.svg"))
        self.assertFalse((self.dir / "a.svg").exists())

    def test_an_output_that_says_nothing(self):
        """Of 16 cases 4 have no carry: 12 are too few for 3 factors, which is no failure of the other outputs."""
        path = self.study("latin-hypercube", "cases=16", "blank=4")
        status, out, _ = harness.run("influence", path, "--json")
        found = json.loads(out)["outputs"]
        self.assertEqual((status, found["carry_m"]["factors"]), (0, {}))
        self.assertRegex(found["carry_m"]["why"], "12 .*13")
        self.assertEqual(list(found["ishigami"]["factors"]), list(FACTORS))
        self.assertIn("Nothing can be said of it: 12 ", harness.run("influence", path)[1])
        self.assertIn("carry_m: 12 ", harness.run("influence", path, "--only", "carry_m")[2])


class Refused(Influence):
    def test_files(self):
        other = self.dir / "other.h5"
        self.good("write", other, "new", program=STUDIES)
        self.assertIn("no file of 'caber sweep'", self.bad(1, "influence", other))
        self.assertIn("cannot read", self.bad(1, "influence", self.dir / "none.h5"))
        (self.dir / "text.h5").write_text("no HDF5")
        self.assertIn("not an HDF5 file", self.bad(1, "influence", self.dir / "text.h5"))
        self.assertIn("shard 1 of 3; 'caber gather'", self.bad(1, "influence", self.study("sobol", "shards=3")))

    def test_a_design_that_its_notes_are_wrong_about(self):
        self.assertIn("x_1 at point 2 is not as in one", self.bad(1, "influence", self.study(
            "latin-hypercube", "cases=100", "wrong=1")))
        self.assertIn("case", self.bad(1, "influence", self.study(
            "latin-hypercube", "cases=80", "wrong=2")))

    def test_a_number_that_was_changed(self):
        path = self.dir / "a.h5"
        shutil.copy(self.study("sobol"), path)
        with h5py.File(path, "r+") as file:
            file["carry_m"][17] += 1
        self.assertIn("damaged: cases 0 to 63", self.bad(1, "influence", path))

    def test_requests(self):
        path, morris = self.study("sobol"), self.study("morris", "cases=12", "choice=1", "fail=50")
        for want, says, words in harness.some((
                (1, "has no output 'carry'; it has ishigami, g_function, carry_m", (path, "--only", "carry")),
                (1, "has no output ''", (path, "--only", "carry_m,")),
                (1, "'carry_m' is given twice", (path, "--only", "carry_m,ishigami,carry_m")),
                (1, "has no replicates", (path, "--spread")),
                (1, "the points of morris hang together", (morris, "--ranks")),
                (1, "not a whole number from 200", (path, "--draws", "100")),
                (2, "--plot writes FILE.svg or FILE.png", (path, "--plot", "a.pdf")),
                (2, "influence needs FILE.h5", ()),
                (1, "none/a.csv", (path, "--csv", self.dir / "none/a.csv")),
                (1, "factors", (self.study("sobol", "cases=12"),)))):
            self.assertIn(says, self.bad(want, "influence", *words))


@NUMBERS
class Swings(Influence):
    def test_a_screening(self):
        """A real study. By geometry the delivered loft follows that of the head degree by degree, and neither it
        nor the wind changes what comes before the ball; a heavier head is slower and a firmer tip delivers less
        loft (common practice)."""
        path = self.dir / "a.h5"
        self.good("sweep", harness.MODELS / "studies/what-matters.yaml", "--output", path)
        text = self.good("influence", path, "--plot", self.dir / "a.svg")
        readme = (harness.SOURCE / "README.md").read_text(encoding="utf-8")
        shown = re.search(r"^```\n(Carry, m\n.*?)^```$", readme, re.S | re.M)[1]
        self.alike(re.search(r"^Carry, m\n.*?(?=^\n\w)", text, re.S | re.M)[0], shown)
        found = self.found(path)["outputs"]
        effects = {name: {f: e["mu"] for f, e in one["factors"].items()} for name, one in found.items()}
        self.assertAlmostEqual(effects["delivered_loft_deg"]["head_loft"], 2, delta=0.01)
        for name in ("head_speed_mps", "delivered_loft_deg", "face_angle_deg", "launch_angle_deg", "backspin_rpm"):
            self.assertEqual(effects[name]["wind"], 0)
        self.assertEqual(found["carry_m"]["factors"]["wind"]["effects"], 10)
        self.assertNotEqual(effects["carry_m"]["wind"], 0)
        self.assertLess(effects["head_speed_mps"]["head_mass"], -0.3)
        self.assertLess(effects["delivered_loft_deg"]["tip_ei"], -0.2)
        with h5py.File(path) as file:
            self.assertEqual((file.attrs["design"], file.attrs["trajectories"], file.attrs["levels"]), ("morris", 10, 4))


class Shown(Influence):
    def table(self, name, path, *words):
        status, text, _ = harness.run("influence", path, *words)
        self.assertEqual(status, 0)
        self.golden(name, text)
        self.assertLessEqual(max(map(len, text.splitlines())), 100)
        return text

    def test_tables(self):
        self.table("influence-saltelli.txt", self.study("saltelli", "cases=200", "choice=1", "faint=1", "fail=800"))
        self.table("influence-morris.txt", self.study("morris", "cases=12", "choice=1", "fail=50"))
        text = self.table("influence-regression.txt", self.study("cases", "cases=80", "choice=1"),
                          "--ranks", "--only", "carry_m,ishigami")
        self.assertIn("goes with others", text)
        if harness.SLOW:
            return
        self.table("influence-spread.txt", self.study("latin-hypercube", "cases=80", "replicates=3"),
                   "--spread", "--only", "carry_m")

    def test_csv(self):
        path, out = self.study("saltelli", "cases=50"), self.dir / "a.csv"
        found = json.loads(self.good("influence", path, "--json", "--csv", out))
        with open(out, newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        self.assertEqual(len(rows), 4 * 3 * 2)
        for row in rows:
            got = found["outputs"][row["output"]]["factors"][row["factor"]][row["measure"]]
            for key in ("value", "low", "high"):
                self.assertAlmostEqual(float(row[key]), got[key], places=9)
            self.assertEqual(row["unit"], "1")

    def test_seed_and_draws(self):
        """They move intervals, and no value."""
        path = self.study("saltelli", "cases=50")
        one, other, more = (self.found(path, "--only", "carry_m", *words)["outputs"]["carry_m"]["factors"]["x_1"]["total"]
                            for words in ((), ("--seed", "2"), ("--draws", "4000")))
        self.assertEqual(one["value"], other["value"])
        self.assertNotEqual(one["low"], other["low"])
        self.assertNotEqual(one["low"], more["low"])

    def test_figure(self):
        """The factors stand beside their bars from the bottom up, so the one that matters most is last; the
        same study gives the same bytes."""
        path, paths = self.study("saltelli", "cases=100", "choice=1"), [self.dir / n for n in ("a.svg", "b.svg")]
        for out in paths:
            self.good("influence", path, "--plot", out)
        self.assertEqual(paths[0].read_bytes(), paths[1].read_bytes())
        texts = ["".join(t.itertext()).strip() for t in xml.etree.ElementTree.parse(paths[0]).iter(SVG + "text")]
        for text in ("functions, invented: what drives what", "first order", "total", "share of the variance",
                     LONG[:31] + "...", "Delivered loft (straight club), deg: does not vary", "Carry, m"):
            self.assertIn(text, texts)
        names = [t for t in texts if t in FACTORS or t.endswith("...")]
        self.assertEqual(names[8:12][-1], "x_1")


if __name__ == "__main__":
    harness.main()
