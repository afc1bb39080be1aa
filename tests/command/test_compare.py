# SPDX-License-Identifier: GPL-3.0-or-later
"""caber compare: table, JSON, CSV and plot, the same load and the same delivery."""
import io
import json
import math
import re
import xml.etree.ElementTree as xml

import pandas

from harness import MODELS, SETUP, main
from test_scatter import Base, FEW, alone, places_of, slow

OTHER = str(MODELS / "setups/firm-tip-smooth.yaml")
THIRD = str(MODELS / "setups/soft-tip-smooth.yaml")
QUICK = str(MODELS / "setups/neutral-quick.yaml")
TWO = ("compare", SETUP, OTHER, *FEW)
THREE = ("compare", SETUP, OTHER, THIRD, *FEW)
PLAIN = alone("none")  # no habits: no swings are drawn
# Label and unit, both values, their difference, the sd, and how they stand to each other.
ROW = re.compile(r"  (.{31}) (.{6}) *(-?[\d.]+) +(-?[\d.]+) +(-?[\d.]+) +([\d.]+)  (\S.*)\Z")


def swing(case, setup, *words):
    return json.loads(case.good("swing", setup, *words, "--json"))["impact"]


def by_name(found):
    return {o["name"]: o for o in found["outputs"]}


class Table(Base):
    @slow
    def test_two_setups(self):
        text = self.text(*TWO)
        self.golden("compare.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)
        self.assertNotRegex(text, r" \n")

    def test_three_setups(self):
        text = self.text(*THREE)
        self.golden("compare-three.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    @slow
    def test_six_setups_are_not_too_wide(self):
        text = self.once("compare", *[SETUP, OTHER, THIRD] * 2, *FEW)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)
        self.assertIn("Firm tip, smooth (5)", text)

    @slow
    def test_it_says_what_the_json_says(self):
        outputs = self.json(*TWO)["outputs"]
        rows = [ROW.match(line) for line in self.text(*TWO).split("\n")]
        rows = [row for row in rows if row]
        self.assertEqual(len(rows), len(outputs))
        for row, o in zip(rows, outputs):
            for text, value in zip(row.groups()[2:6], (*o["values"], o["differences"][1], o["sd"])):
                self.assertAlmostEqual(float(text), value, delta=0.5001 * 10.0 ** -places_of(text))
            self.assertEqual(row[7], self.words(o["times"][1]))

    @staticmethod
    def words(times):
        """As the manual has it: less than half of an sd, about as much, so many times."""
        size = abs(times)
        for least, words in ((9.95, "%.0f times" % size), (1.25, "%.1f times" % size),
                             (0.8, "about as much"), (0.5, "more than half"), (0.1, "less than half"),
                             (1e-300, "less than a tenth")):
            if size >= least:
                return words
        return "none"


class Numbers(Base):
    def test_values_are_those_of_swing(self):
        outputs = by_name(json.loads(self.once("compare", SETUP, OTHER, *PLAIN, "--json")))
        for i, setup in enumerate((SETUP, OTHER)):
            want = swing(self, setup)
            self.assertEqual(set(want) - {"energy_residual"}, set(outputs))
            for name, o in outputs.items():
                self.assertAlmostEqual(o["values"][i], want[name], delta=1e-9 * abs(want[name]))
                self.assertAlmostEqual(o["differences"][1], o["values"][1] - o["values"][0],
                                       delta=1e-9 * abs(want[name]) + 1e-12)

    @slow
    def test_spreads_are_those_of_scatter(self):
        text = self.good("scatter", SETUP, *FEW, "--json")
        spreads = json.loads(text)["setups"][0]["outputs"]
        for name, o in by_name(self.json(*THREE)).items():
            self.assertAlmostEqual(o["sd"], spreads[name]["sd"], delta=1e-12)
            for i in (1, 2):
                if o["times"][i] is not None and o["differences"][i]:
                    self.assertAlmostEqual(o["times"][i], o["differences"][i] / o["sd"], 9)

    @slow
    def test_what_changed_most_comes_first(self):
        most = [max(abs(t) for t in o["times"]) for o in self.json(*THREE)["outputs"]
                if None not in o["times"]]
        self.assertGreater(len(most), 50)
        self.assertEqual(most, sorted(most, reverse=True))

    @slow
    def test_csv(self):
        found = self.json(*THREE)
        frame = pandas.read_csv(io.StringIO(self.whole(*THREE, "--threads", 2)[1]))
        self.assertEqual(len(frame), 3 * len(found["outputs"]))
        names = [setup["setup"] for setup in found["setups"]]
        for row, (o, i) in zip(frame.itertuples(),
                               ((o, i) for o in found["outputs"] for i in range(3))):
            self.assertEqual((row.setup, row.output), (names[i], o["name"]))
            for got, want in ((row.value, o["values"][i]), (row.difference, o["differences"][i]),
                              (row.sd, o["sd"]), (row.times, o["times"][i])):
                self.assertTrue(math.isnan(got) if want is None
                                else abs(got - want) <= 1e-9 * abs(want), (o["name"], got, want))

    def test_names_with_commas_and_quotes(self):
        name, path, plot = 'A, "b" #1', self.dir / "a.csv", self.dir / "a.svg"
        self.good("compare", SETUP, OTHER, *PLAIN, "--set", "name=" + name, "--csv", path, "--plot", plot)
        self.assertEqual(list(pandas.read_csv(path)["setup"].unique()), [name, name + " (2)"])
        self.assertIn(name, "".join(xml.parse(plot).getroot().itertext()))

    @slow
    def test_threads_change_nothing(self):
        for words in (TWO, THREE):
            self.assertEqual(self.whole(*words, "--threads", 2)[1:],
                             self.whole(*words, "--json", "--threads", 1)[1:])

    def test_a_setup_beside_itself(self):
        outputs = by_name(json.loads(self.once("compare", SETUP, SETUP, *PLAIN, "--json")))
        self.assertEqual({x for o in outputs.values() for x in o["differences"] + o["times"]}, {0})
        text = self.good("compare", SETUP, SETUP, *PLAIN)
        self.assertIn("Neutral, smooth (2)", text)
        self.assertIn("beside Neutral, smooth\n  no difference\n", text)


class NoSpread(Base):
    def test_a_player_without_habits(self):
        text = self.good("compare", SETUP, OTHER, *PLAIN)
        self.assertIn("player Smooth has no habits", " ".join(text.split()))
        self.assertNotIn("seed", text)
        found = json.loads(self.once("compare", SETUP, OTHER, *PLAIN, "--json"))
        self.assertFalse(found["spread"]["known"])
        most = []
        for o in found["outputs"]:
            self.assertIsNone(o["sd"])
            a, b = o["values"]
            if a != b:
                self.assertAlmostEqual(o["times"][1], (b - a) / max(abs(a), abs(b)), 9)
            most.append(abs(o["times"][1]))
        self.assertEqual(most, sorted(most, reverse=True))

    def test_a_swing_that_meets_no_ball(self):
        words = ("compare", SETUP, OTHER, "--set", "settings.until=0.1 s", *FEW)
        found = json.loads(self.good(*words, "--json"))
        self.assertFalse(found["spread"]["known"])
        self.assertEqual([setup["flies"] for setup in found["setups"]], [False, False])
        carry = next(o for o in found["outputs"] if o["name"] == "carry_m")
        self.assertEqual((carry["values"], carry["differences"][1]), ([None, None], None))
        self.assertIn("No flight of the ball of Neutral, smooth", self.good(*words))

    @slow
    def test_what_the_swings_do_not_vary_in(self):
        # Where the ball lies changes nothing before impact: the swings do not vary in the largest lag.
        words = (*TWO, *alone("height"))
        self.assertIsNone(by_name(self.json(*words))["peak_lag_mm"]["times"][1])
        rows = self.whole(*words, "--json", "--threads", 1)[1].split("\n")
        self.assertTrue(next(row for row in rows if "Firm tip" in row and "peak_lag_mm" in row).endswith(","))


class Delivery(Base):
    def test_it_is_kept(self):
        words = ("compare", SETUP, OTHER, THIRD, *PLAIN, "--keep", "delivery")
        found = json.loads(self.once(*words, "--json"))
        outputs = {o["name"]: o for o in found["outputs"]}
        for i, setup in ((1, OTHER), (2, THIRD)):
            # Demanded by the option: the same speed and lean.
            self.assertAlmostEqual(outputs["head_speed_mps"]["differences"][i], 0, delta=1e-4)
            self.assertAlmostEqual(outputs["handle_lean_deg"]["differences"][i], 0, delta=1e-4)
            # The load that is printed, put into the file, gives what is printed.
            r = found["setups"][i]["retuning"]
            fine = ["--set", "load.hub.peak=%.12g N m" % (206 * r["hub_peak_scale"]),
                    "--set", "load.grip.release=%.12g ms" % (236 + r["release_shift_ms"]),
                    "--set", "load.grip.late_onset=%.12g ms" % (200 + r["release_shift_ms"])]
            want = swing(self, setup, *fine)
            for name in ("head_speed_mps", "delivered_loft_deg", "carry_m"):
                # The load differs in its last digits, and the integrator's tolerance is 1e-7.
                self.assertAlmostEqual(outputs[name]["values"][i], want[name],
                                       delta=1e-6 * abs(want[name]))
        text = self.good(*words)
        self.assertRegex(text, r"(?m)^  3  peak torque of the shoulders [+-][\d.]+ %, release [\d.]+ ms ")

    def test_a_club_of_its_own_needs_no_tuning(self):
        found = json.loads(self.good("compare", SETUP, SETUP, *PLAIN, "--keep", "delivery", "--json"))
        r = found["setups"][1]["retuning"]
        self.assertEqual((r["hub_peak_scale"], r["release_shift_ms"]), (1, 0))

    def test_what_cannot_be_tuned(self):
        # A player of another tempo is another player.
        message = self.bad(3, "compare", QUICK, SETUP, *PLAIN, "--keep", "delivery")
        self.assertRegex(message, "setup 2, Neutral, smooth: .* another swing")


class Plot(Base):
    @slow
    def test_it_is_drawn(self):
        for words, more in ((TWO, ()), (THREE, ("setup 2", "setup 3"))):
            plot = self.whole(*words, "--threads", 2)[2]
            text = "".join(xml.fromstring(plot.encode()).itertext())
            for word in ("beside Neutral, smooth", "two swings in three", "lie change", "sd", *more):
                self.assertIn(word, text)

    def test_without_a_spread(self):
        path = self.dir / "a.svg"
        self.good("compare", SETUP, OTHER, *PLAIN, "--plot", path)
        self.assertIn("% of the larger", "".join(xml.parse(path).getroot().itertext()))
        # Nothing differs: a figure without a row is a figure.
        self.good("compare", SETUP, SETUP, *PLAIN, "--plot", path)


class Errors(Base):
    def test_wrong_usage(self):
        for words in ([], [SETUP], [SETUP] * 7, [SETUP, OTHER, "--keep", "speed"],
                      [SETUP, OTHER, "--keep", ""], [SETUP, OTHER, "--csv", "a.txt"],
                      [SETUP, OTHER, "--plot", "a.pdf"], [SETUP, OTHER, "--get", "carry_m"],
                      [SETUP, OTHER, "--fairway", "30 m"]):
            self.bad(2, "compare", *words)

    def test_wrong_values(self):
        for option, value in (("--swings", "99"), ("--seed", "x"), ("--threads", "257")):
            self.assertIn(option, self.bad(1, "compare", SETUP, OTHER, option, value))
        self.assertIn("no-such", self.bad(1, "compare", SETUP, "no-such.yaml"))
        path = self.dir / "none" / "a.csv"
        self.assertIn("a.csv", self.bad(1, "compare", SETUP, OTHER, *PLAIN, "--csv", path))

    def test_a_swing_that_cannot_be_finished_says_which(self):
        message = self.bad(3, "compare", SETUP, OTHER, *PLAIN, "--set", "load.hub.drive=locked")
        self.assertIn("setup 1, Neutral, smooth", message)

    def test_players_that_differ_are_named(self):
        text = " ".join(self.good("compare", SETUP, QUICK, *PLAIN).split())
        self.assertIn("differences are of players and clubs together", text)


if __name__ == "__main__":
    main()
