# SPDX-License-Identifier: GPL-3.0-or-later
"""caber scatter: tables, JSON, CSV and plot, threads and seeds, two setups on the same draws."""
import functools
import io
import json
import math
import re
import unittest
import xml.etree.ElementTree as xml

import numpy
import pandas

from harness import Case, MODELS, SETUP, SLOW, main, run

OTHER = str(MODELS / "setups/firm-tip-smooth.yaml")
LEFT = str(MODELS / "setups/neutral-smooth-left.yaml")
FEW = ("--swings", 100)
ONE = ("scatter", SETUP, *FEW)
TWO = ("scatter", SETUP, OTHER, *FEW)
HABITS = ("rise", "peak", "release", "hub", "arm", "square", "direction", "ahead", "out", "height")
# Whole swings by the hundred take minutes under sanitisers: there one run of each kind is made.
slow = unittest.skipIf(SLOW, "hundreds of whole swings")
# Label, unit, usual, mean, +-, sd, its interval, percentiles.
ROW = re.compile(r"  (.{19}) (.{6}) *(-?[\d.]+) +(-?[\d.]+)(?: \+- (<?[\d.]+))? +([\d.]+)"
                 r"  ([\d.]+)\.\.([\d.]+) +(-?[\d.]+) +(-?[\d.]+)\Z")


@functools.cache
def printed(*words):
    """The output of a run; it takes seconds, so each is run once."""
    return run(*words)


def alone(habit):
    """Options that leave a player one habit."""
    words = [word for other in HABITS if other != habit
             for word in ("--set", "player.repeat.%s=0" % other)]
    return (*words, "--set", "player.repeat.together=[]")


def places_of(text):
    return len(text.partition(".")[2])


class Base(Case):
    def once(self, *words):
        status, out, err = printed(*words)
        self.assertEqual((status, err), (0, ""))
        return out

    def reads(self, text, value):
        """A printed number and the one it is rounded from."""
        if text.startswith("<"):
            self.assertLess(value, 0.5001 * float(text[1:]))
        else:
            self.assertAlmostEqual(float(text), value, delta=0.5001 * 10.0 ** -places_of(text))

    def table(self, *words):
        """The CSV of a run, as pandas reads it, and what is printed."""
        path = self.dir / "all.csv"
        out = self.good(*words, "--csv", path)
        frame = pandas.read_csv(path, skiprows=[1])
        return frame, out, path.read_text(encoding="utf-8").split("\n")


class Table(Base):
    def test_one_setup(self):
        text = self.once(*ONE)
        self.golden("scatter.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)
        self.assertNotRegex(text, r" \n")

    @slow
    def test_two_setups(self):
        text = self.once(*TWO)
        self.golden("scatter-two.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)
        self.assertNotRegex(text, r" \n")

    def test_every_output_stands_in_it_once_as_in_the_json(self):
        found = json.loads(self.once(*ONE, "--json"))
        rows = [ROW.match(line) for line in self.once(*ONE).split("\n")]
        rows = [row for row in rows if row]
        self.assertEqual(len(rows), len(found["setups"][0]["outputs"]))
        left = list(found["setups"][0]["outputs"].values())
        for row in rows:
            same = [o for o in left if self.is_of(row, o)]
            self.assertTrue(same, row[0])
            one = same[0]
            left.remove(one)
            for text, name in zip(row.groups()[2:4] + row.groups()[5:8],
                                  ("usual", "mean", "sd", "sd_low", "sd_high")):
                self.reads(text, one[name])
            if row[5]:
                self.reads(row[5], (one["mean_high"] - one["mean_low"]) / 2)
        self.assertEqual(left, [])

    @staticmethod
    def is_of(row, output):
        numbers = (output["usual"], output["mean"], output["percentiles"][0],
                   output["percentiles"][-1], output["sd"])
        return all(abs(float(text) - value) <= 0.5001 * 10.0 ** -places_of(text)
                   for text, value in zip((row[3], row[4], row[9], row[10], row[6]), numbers))

    def test_the_side_is_named_as_the_player_sees_it(self):
        right, left = self.once(*ONE), self.once("scatter", LEFT, *FEW)
        word = {"right": "left", "left": "right"}
        for text, line in ((right, r"in the mean .* m (right|left) of it"),):
            self.assertEqual(re.search(line, left)[1], word[re.search(line, text)[1]])
        values = [json.loads(self.once(*words, "--json"))["setups"][0]["landing"]["side_m"]
                  for words in (ONE, ("scatter", LEFT, *FEW))]
        self.assertAlmostEqual(*values, delta=1e-6)


class Numbers(Base):
    @slow
    def test_csv_and_json_agree(self):
        frame, text, lines = self.table(*ONE, "--json")
        found = json.loads(text)["setups"][0]
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
        frame, text, _ = self.table(*ONE, "--fairway", "24 m", "--json")
        landing = json.loads(text)["setups"][0]["landing"]
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
        frame, text, _ = self.table(*ONE, "--swings", 400, "--json")
        habits = json.loads(text)["setups"][0]["habits"]
        columns = dict(zip(HABITS, frame.columns[2:12]))
        self.assertEqual(list(habits), list(HABITS))
        for name, habit in habits.items():
            sample = frame[columns[name]]
            # Four standard errors, of a mean and of a standard deviation of normal numbers.
            self.assertLess(abs(sample.mean()), 4 * habit["sd"] / 20, name)
            self.assertLess(abs(sample.std() / habit["sd"] - 1), 4 / math.sqrt(800), name)
        for pair, rho in ((("hub", "release"), -0.5), (("rise", "release"), 0.3),
                          (("ahead", "out"), 0)):
            r = frame[columns[pair[0]]].corr(frame[columns[pair[1]]])
            self.assertLess(abs(math.atanh(r) - math.atanh(rho)), 4 / math.sqrt(397), pair)

    @slow
    def test_a_habit_alone_is_all_that_makes_anything_vary(self):
        found = json.loads(self.once(*ONE, *alone("hub"), "--json"))["setups"][0]
        for name in ("head_speed_mps", "carry_m", "peak_lag_mm"):
            share = found["outputs"][name]["share"]
            self.assertGreater(share["hub"], 0.99, name)
            self.assertEqual({share[other] for other in HABITS if other != "hub"}, {0})

    @slow
    def test_threads_change_nothing_and_a_seed_does(self):
        one = self.good(*ONE, "--json", "--threads", 1)
        self.assertEqual(one, self.good(*ONE, "--json", "--threads", 2))
        self.assertEqual(one, self.once(*ONE, "--json"))
        other = self.good(*ONE, "--json", "--seed", 2)
        self.assertNotEqual(one, other)
        speeds = [json.loads(text)["setups"][0]["outputs"]["head_speed_mps"] for text in (one, other)]
        self.assertEqual(speeds[0]["usual"], speeds[1]["usual"])
        self.assertNotEqual(speeds[0]["sd"], speeds[1]["sd"])

    @slow
    def test_the_usual_swing_is_that_of_swing(self):
        outputs = json.loads(self.once(*ONE, "--json"))["setups"][0]["outputs"]
        swing = json.loads(self.good("swing", SETUP, "--json"))["impact"]
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
        text = self.once(*words)
        self.assertIn("Neutral, smooth (2)", text)
        self.assertIn("Not told apart by 100 swings", text)

    @slow
    def test_both_are_swung_on_the_same_draws(self):
        frame, text, _ = self.table(*TWO, "--json")
        contrast = json.loads(text)["contrast"]
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
        contrast = json.loads(self.once(*TWO, "--json"))["contrast"]
        text = self.once(*TWO)
        for key in ("carry", "side"):
            line = re.search(r"^  sd of the %s, m .*$" % key, text, re.M)[0]
            want = {None: "not told apart by 100 swings", "first": "the first spreads less",
                    "second": "the second spreads less"}[contrast["steadier_" + key]]
            self.assertTrue(line.endswith(want), line)
            self.assertIn("%.3f" % contrast["outputs"][key + "_m"]["sd_ratio"]["value"], line)

    @slow
    def test_players_that_differ_are_named(self):
        text = self.once("scatter", SETUP, str(MODELS / "setups/neutral-quick.yaml"), *FEW)
        self.assertIn("of players and clubs together", " ".join(text.split()))
        self.assertNotIn("of players and clubs together", " ".join(self.once(*TWO).split()))


class Plot(Base):
    @slow
    def test_it_is_drawn(self):
        for words in (ONE, TWO):
            path, again = self.dir / "a.svg", self.dir / "b.svg"
            self.good(*words, "--plot", path)
            self.good(*words, "--plot", again, "--threads", 1)
            self.assertEqual(path.read_bytes(), again.read_bytes())
            text = "".join(xml.parse(path).getroot().itertext())
            for word in ("Neutral, smooth", "Carry, m", "fairway", "target line", "90 %",
                         "What makes the carry vary", "What makes the side vary", "jointly", "hub"):
                self.assertIn(word, text)
            self.assertEqual("second" in text, words is TWO)


class Errors(Base):
    def test_wrong_usage(self):
        for words in ([], [SETUP, SETUP, SETUP], [SETUP, "--csv", "a.txt"], [SETUP, "--csv", ".csv"],
                      [SETUP, "--plot", "a.png"], [SETUP, "--get", "carry_m"], [SETUP, "--keep", "load"],
                      [SETUP, "--draws", "200"]):
            self.bad(2, "scatter", *words)

    def test_wrong_values(self):
        for option, value, want in (
                ("--swings", "99", "from 100 to 20000"), ("--swings", "20001", "from 100 to 20000"),
                ("--swings", "1e3", "whole number"), ("--seed", "-1", "from 0 to"),
                ("--threads", "0", "from 1 to"), ("--fairway", "0.5 m", "from 1 m to 200 m"),
                ("--fairway", "201 m", "from 1 m to 200 m"), ("--fairway", "-30 m", "from 1 m to 200 m"),
                ("--fairway", "30 kg", "--fairway"), ("--fairway", "30 yd", "--fairway"),
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
        for option, name in (("--csv", "a.csv"), ("--plot", "a.svg")):
            self.assertIn(name, self.bad(1, *ONE, option, self.dir / "none" / name))


if __name__ == "__main__":
    main()
