# SPDX-License-Identifier: GPL-3.0-or-later
"""caber scatter: tables, JSON, CSV and plot, threads and seeds, two setups on the same draws."""
import functools
import io
import json
import math
import pathlib
import re
import tempfile
import unittest
import xml.etree.ElementTree as xml

import numpy
import pandas

from harness import Case, MODELS, SETUP, SLOW, main, run

OTHER = str(MODELS / "setups/firm-tip-smooth.yaml")
LEFT = str(MODELS / "setups/neutral-smooth-left.yaml")
QUICK = str(MODELS / "setups/neutral-quick.yaml")
# As few swings as are allowed, each with less to integrate.
FAST = ("--set", "settings.modes=5", "--set", "settings.tolerance=1e-6")
FEW = ("--swings", 100, *FAST)
ONE = ("scatter", SETUP, *FEW, "--fairway", "24 m")
TWO = ("scatter", SETUP, OTHER, *FEW)
HABITS = ("rise", "peak", "release", "hub", "arm", "square", "direction", "ahead", "out", "height")
# Whole swings by the hundred take minutes under sanitisers: there one run of each kind is made.
slow = unittest.skipIf(SLOW, "hundreds of whole swings")
# Label, unit, usual, mean, +-, sd, its interval, percentiles.
ROW = re.compile(r"  (.{19}) (.{6}) *(-?[\d.]+) +(-?[\d.]+)(?: \+- (<?[\d.]+))? +([\d.]+)"
                 r"  ([\d.]+)\.\.([\d.]+) +(-?[\d.]+) +(-?[\d.]+)\Z")


@functools.cache
def written(*words):
    """The output of a run, its CSV and its plot."""
    with tempfile.TemporaryDirectory(prefix="caber-test-") as folder:
        paths = [pathlib.Path(folder, name) for name in ("a.csv", "a.svg")]
        done = run(*words, "--csv", paths[0], "--plot", paths[1])
        return (*done, *(path.read_text(encoding="utf-8") for path in paths))


def alone(habit):
    """Options that leave a player one habit."""
    return tuple(word for other in HABITS if other != habit
                 for word in ("--set", "player.repeat.%s=0" % other))


def places_of(text):
    return len(text.partition(".")[2])


class Base(Case):
    def whole(self, *words):
        status, out, err, csv, plot = written(*words)
        self.assertEqual((status, err), (0, ""))
        return out, csv, plot

    def text(self, *words):
        return self.whole(*words, "--threads", 2)[0]

    def json(self, *words):
        return json.loads(self.whole(*words, "--json", "--threads", 1)[0])

    def frame(self, *words):
        """The CSV of a run as pandas reads it."""
        csv = self.whole(*words, "--json", "--threads", 1)[1]
        return pandas.read_csv(io.StringIO(csv), skiprows=[1])

    def reads(self, text, value):
        """A printed number and the one it is rounded from."""
        if text.startswith("<"):
            self.assertLess(value, 0.5001 * float(text[1:]))
        else:
            self.assertAlmostEqual(float(text), value, delta=0.5001 * 10.0 ** -places_of(text))


class Table(Base):
    def test_one_setup(self):
        text = self.text(*ONE)
        self.golden("scatter.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)
        self.assertNotRegex(text, r" \n")

    def test_two_setups(self):
        text = self.text(*TWO)
        self.golden("scatter-two.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)
        self.assertNotRegex(text, r" \n")

    @slow
    def test_every_output_stands_in_it_once_as_in_the_json(self):
        found = self.json(*ONE)
        rows = [row for row in map(ROW.match, self.text(*ONE).split("\n")) if row]
        left = list(found["setups"][0]["outputs"].values())
        self.assertEqual(len(rows), len(left))
        for row in rows:
            one = next(o for o in left if self.is_of(row, o))
            left.remove(one)
            for text, name in zip(row.groups()[2:4] + row.groups()[5:8],
                                  ("usual", "mean", "sd", "sd_low", "sd_high")):
                self.reads(text, one[name])
            if row[5]:
                self.reads(row[5], (one["mean_high"] - one["mean_low"]) / 2)

    @staticmethod
    def is_of(row, output):
        numbers = (output["usual"], output["mean"], output["percentiles"][0],
                   output["percentiles"][-1], output["sd"])
        return all(abs(float(text) - value) <= 0.5001 * 10.0 ** -places_of(text)
                   for text, value in zip((row[3], row[4], row[9], row[10], row[6]), numbers))

    @slow
    def test_the_side_is_named_as_the_player_sees_it(self):
        # A left-handed player is the mirror image: the same distances, on the other side.
        words = {"right": "left", "left": "right"}
        line = r"in the mean +([\d.]+ m along the target line, [\d.]+ m) (right|left) of it"
        right, left = (re.search(line, text) for text in
                       (self.text(*ONE), self.once("scatter", LEFT, *FEW)))
        self.assertEqual((left[1], left[2]), (right[1], words[right[2]]))


class Numbers(Base):
    @slow
    def test_csv_and_json_agree(self):
        frame, found = self.frame(*ONE), self.json(*ONE)["setups"][0]
        lines = self.whole(*ONE, "--json", "--threads", 1)[1].split("\n")
        self.assertEqual(len(frame), 100)
        self.assertEqual(list(frame.columns[:2]), ["setup", "shot"])
        self.assertEqual(list(frame["shot"]), list(range(1, 101)))
        self.assertEqual(lines[0].count(","), lines[1].count(","))
        self.assertEqual(list(frame.columns[12:]), list(found["outputs"]))
        for name, o in found["outputs"].items():
            column = frame[name].to_numpy()
            size = 1e-8 * numpy.abs(column).max() + 1e-12
            self.assertAlmostEqual(column.mean(), o["mean"], delta=size, msg=name)
            self.assertAlmostEqual(column.std(ddof=1), o["sd"], delta=size, msg=name)
            # NumPy's own rule for percentiles, linear between order statistics.
            for q, value in zip((5, 25, 50, 75, 95), o["percentiles"]):
                self.assertAlmostEqual(numpy.percentile(column, q), value, delta=size, msg=name)
            self.assertTrue(o["sd_low"] <= o["sd"] <= o["sd_high"], name)
            self.assertTrue(o["mean_low"] <= o["mean"] <= o["mean_high"], name)
            self.assertAlmostEqual(sum(o["share"].values()) + o["rest"], 1 if o["sd"] else 0, 9)

    @slow
    def test_the_landing_follows_from_the_csv(self):
        frame, landing = self.frame(*ONE), self.json(*ONE)["setups"][0]["landing"]
        carry, side = frame["carry_m"].to_numpy(), frame["side_m"].to_numpy()
        covariance = numpy.cov(carry, side)  # NumPy's
        self.assertTrue(numpy.allclose([covariance[0, 0], covariance[1, 1], covariance[0, 1]],
                                       landing["covariance_m2"], rtol=1e-6))
        values, vectors = numpy.linalg.eigh(covariance)
        self.assertTrue(numpy.allclose(numpy.sqrt(values), [landing["minor_m"], landing["major_m"]],
                                       rtol=1e-6))
        turn = math.degrees(math.atan2(vectors[1, 1], vectors[0, 1]))
        self.assertAlmostEqual(math.sin(math.radians(turn - landing["turn_deg"])), 0, places=5)
        # Squared distances of a plane normal distribution are chi-square of 2: -2 ln(1 - p).
        off = numpy.vstack([carry - carry.mean(), side - side.mean()])
        squares = (off * numpy.linalg.solve(covariance, off)).sum(axis=0)
        for share, name in ((0.5, "50"), (0.9, "90")):
            scale = math.sqrt(-2 * math.log(1 - share))
            self.assertAlmostEqual(landing["scale_" + name], scale, places=9)
            self.assertEqual(landing["within_" + name]["count"], int((squares <= scale**2).sum()))
        self.assertAlmostEqual(landing["area_90_m2"], math.pi * scale**2 * landing["major_m"]
                               * landing["minor_m"], delta=1e-6 * landing["area_90_m2"])
        self.assertEqual(landing["fairway"]["count"], int((abs(side) <= 12).sum()))
        self.assertEqual(landing["aimed"]["count"], int((abs(side - side.mean()) <= 12).sum()))

    @slow
    def test_the_habits_are_those_of_the_file(self):
        frame, habits = self.frame(*ONE), self.json(*ONE)["setups"][0]["habits"]
        columns = dict(zip(HABITS, frame.columns[2:12]))
        self.assertEqual(list(habits), list(HABITS))
        for name, habit in habits.items():
            sample = frame[columns[name]]
            # Four standard errors, of a mean and of a standard deviation of normal numbers.
            self.assertLess(abs(sample.mean()), 4 * habit["sd"] / math.sqrt(100), name)
            self.assertLess(abs(sample.std() / habit["sd"] - 1), 4 / math.sqrt(200), name)
        player = (MODELS / "players/smooth.yaml").read_text(encoding="utf-8")
        pairs = re.findall(r"{of: (\w+), with: (\w+), correlation: ([-.\d]+)}", player)
        self.assertTrue(pairs)
        for of, other, rho in pairs + [("ahead", "out", 0)]:
            # Fisher's z has the standard error 1/sqrt(n - 3).
            r = frame[columns[of]].corr(frame[columns[other]])
            self.assertLess(abs(math.atanh(r) - math.atanh(float(rho))), 4 / math.sqrt(97), of)

    @slow
    def test_a_habit_alone_is_all_that_makes_anything_vary(self):
        found = json.loads(self.once(*ONE, *alone("hub"), "--json"))["setups"][0]
        for name in ("head_speed_mps", "carry_m"):
            share = found["outputs"][name]["share"]
            self.assertGreater(share["hub"], 0.99, name)
            self.assertEqual({share[other] for other in HABITS if other != "hub"}, {0})

    @slow
    def test_threads_change_nothing(self):
        for words in (ONE, TWO):
            self.assertEqual(self.whole(*words, "--threads", 2)[1:],
                             self.whole(*words, "--json", "--threads", 1)[1:])

    @slow
    def test_the_usual_swing_is_that_of_swing(self):
        outputs = self.json(*ONE)["setups"][0]["outputs"]
        swing = json.loads(self.good("swing", SETUP, *FAST, "--json"))["impact"]
        for name, o in outputs.items():
            self.assertAlmostEqual(o["usual"], swing[name], delta=1e-9 * abs(swing[name]), msg=name)


class TwoSetups(Base):
    @slow
    def test_a_setup_beside_itself_is_the_same_throughout(self):
        # Common random numbers: the same draws, so nothing is left to chance.
        words = ("scatter", SETUP, SETUP, *FEW)
        found = json.loads(self.once(*words, "--json"))
        contrast = found["contrast"]
        self.assertEqual(found["setups"][0]["outputs"], found["setups"][1]["outputs"])
        for name, c in contrast["outputs"].items():
            self.assertEqual(set(c["mean_difference"].values()), {0}, name)
            if c["sd_ratio"]["value"] is not None:
                self.assertEqual(c["sd_ratio"]["value"], 1, name)
            self.assertIsNone(c["steadier"], name)
        self.assertEqual([contrast[key] for key in ("steadier", "steadier_carry", "steadier_side")],
                         [None] * 3)
        self.assertTrue(contrast["alike"])
        self.assertEqual(found["setups"][1]["setup"], "Neutral, smooth")

    @slow
    def test_both_are_swung_on_the_same_draws(self):
        frame, contrast = self.frame(*TWO), self.json(*TWO)["contrast"]
        names = list(dict.fromkeys(frame["setup"]))
        self.assertEqual(names, ["Neutral, smooth", "Firm tip, smooth"])
        first, second = (frame[frame["setup"] == name].reset_index() for name in names)
        for column in frame.columns[1:12]:
            self.assertTrue((first[column] == second[column]).all(), column)
        self.assertEqual(contrast["pairs"], 100)
        for name, c in contrast["outputs"].items():
            difference = second[name] - first[name]
            size = 1e-8 * abs(first[name]).max() + 1e-12
            self.assertAlmostEqual(difference.mean(), c["mean_difference"]["value"], delta=size)
            # The paired Student interval: pandas' standard error, t of 99 (a table: 1.9842).
            half = 1.9842 * difference.sem()
            self.assertAlmostEqual(c["mean_difference"]["high"] - c["mean_difference"]["value"], half,
                                   delta=1e-4 * half + size, msg=name)
            if c["sd_ratio"]["value"] is not None:
                self.assertAlmostEqual(second[name].std() / first[name].std(), c["sd_ratio"]["value"],
                                       delta=1e-5, msg=name)

    @slow
    def test_the_verdict_is_that_of_the_json(self):
        contrast = self.json(*TWO)["contrast"]
        text = " ".join(self.text(*TWO).split())
        names = {"first": "Neutral, smooth", "second": "Firm tip, smooth"}
        for where, key in (("Along the target line", "carry"), ("across it", "side")):
            ratio, steadier = contrast["outputs"][key + "_m"]["sd_ratio"], contrast["steadier_" + key]
            less = {"first": 1 - 1 / ratio["value"], "second": 1 - ratio["value"]}
            apart = "(%.1f %% apart)" % (100 * (max(ratio["value"], 1 / ratio["value"]) - 1))
            self.assertIn(where + " " + (
                "%s spreads %.1f %% less" % (names[steadier], 100 * less[steadier]) if steadier
                else "the two are alike " + apart if contrast["alike_" + key]
                else "that is not told " + apart), text)
            self.assertIn("%.3f %.3f..%.3f" % tuple(ratio.values()), text)
        verdict = re.search(r"for this player\? (.*?)\. Along", text)[1]
        self.assertEqual(verdict, names[contrast["steadier"]] if contrast["steadier"]
                         else "Neither: they are alike" if contrast["alike"]
                         else "Neither in all" if contrast["steadier_carry"]
                         else "Not told apart by 100 swings")

    @slow
    def test_players_that_differ_are_named_and_a_seed_draws_anew(self):
        text = self.once("scatter", SETUP, QUICK, *FEW, "--seed", 2)
        self.assertIn("of players and clubs together", " ".join(text.split()))
        self.assertIn("more consistent for these two players?", " ".join(text.split()))
        self.assertNotIn("of players and clubs together", " ".join(self.text(*TWO).split()))
        self.assertIn("more consistent for this player?", " ".join(self.text(*TWO).split()))
        rows = [re.search("^  carry  .*$", t, re.M)[0].split() for t in (text, self.text(*TWO))]
        self.assertNotEqual(rows[0][3], rows[1][3])  # the first setup's mean


class Plot(Base):
    @slow
    def test_it_is_drawn(self):
        for words in (ONE, TWO):
            plot = self.whole(*words, "--threads", 2)[2]
            text = "".join(xml.fromstring(plot.encode()).itertext())
            for word in ("Neutral, smooth", "Carry, m", "fairway", "target line", "90 %",
                         "What makes the carry vary", "What makes the side vary", "jointly", "hub"):
                self.assertIn(word, text)
            self.assertEqual("second" in text, words is TWO)
            # The legend: balls, then their ellipses, then the ground.
            self.assertRegex(text, r"50 %\s*90 %\s*fairway\s*target line")
            self.assertIn("right of the target line, away from the golfer", text)  # of a right-handed one


class Errors(Base):
    def test_wrong_usage(self):
        for words in ([], [SETUP, SETUP, SETUP], [SETUP, "--csv", "a.txt"], [SETUP, "--csv", ".csv"],
                      [SETUP, "--plot", "a.pdf"], [SETUP, "--get", "carry_m"], [SETUP, "--keep", "load"],
                      [SETUP, "--draws", "200"]):
            self.bad(2, "scatter", *words)

    def test_wrong_values(self):
        for option, value, want in (
                ("--swings", "99", "from 100 to 20000"), ("--swings", "20001", "from 100 to 20000"),
                ("--swings", "1e3", "whole number"), ("--seed", "-1", "from 0 to"),
                ("--threads", "0", "from 1 to"), ("--fairway", "0.5 m", "from 1 m to 200 m"),
                ("--fairway", "201 m", "from 1 m to 200 m"), ("--fairway", "-30 m", "from 1 m to 200 m"),
                ("--fairway", "30 kg", "--fairway"), ("--fairway", "30 s", "--fairway"),
                ("--fairway", "nan", "--fairway"), ("--fairway", "", "--fairway")):
            self.assertIn(want, self.bad(1, "scatter", SETUP, option, value))

    def test_what_cannot_be_scattered(self):
        none = alone("none")
        self.assertIn("Smooth", self.bad(1, "scatter", SETUP, *FEW, *none))
        self.assertIn("until", self.bad(1, "scatter", SETUP, *FEW, "--set", "settings.until=0.1 s"))
        self.assertIn("no-such", self.bad(1, "scatter", SETUP, "no-such.yaml"))

    @slow
    def test_swings_that_fail(self):
        # A player whose ball lies anywhere misses it.
        message = self.bad(1, "scatter", SETUP, *FEW, "--set", "player.repeat.out=150 mm")
        self.assertRegex(message, r"\d+ of 100")

    @slow
    def test_files_that_cannot_be_written(self):
        self.assertIn("a.svg", self.bad(1, *ONE, "--plot", self.dir / "none/a.svg"))


if __name__ == "__main__":
    main()
