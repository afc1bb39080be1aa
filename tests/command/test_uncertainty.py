# SPDX-License-Identifier: GPL-3.0-or-later
"""caber swing and caber bench --uncertainty: tables, JSON, threads and seeds, draws that fail."""
import json
import math
import pathlib
import re
import unittest

from harness import Case, SETUP, SLOW, main, run, some
from test_swing import BALL, NAMES

MEASURED = str(pathlib.Path(__file__).resolve().parent / "data/measured.yaml")
# A residual of the integrator has no spread, nor has the place on the face where a player strikes by choice.
STILL = {"energy_residual", "struck_toe_mm", "struck_high_mm"}
FEW = ("--draws", 200)
SWING = ("swing", MEASURED, "--uncertainty", *FEW)
# Few figures where each takes long.
JIG = ("--span", "800 mm", "--modes", 2, "--tip-mass", "205 g", "--clamp", "5 in") if SLOW else ()
BENCH = ("bench", MEASURED, "--uncertainty", *FEW, *JIG)
SHORT = ("--set", "settings.until=0.02 s", "--set", "settings.elements=16")
# Label, value, +-, and those of the straight club.
ROW = re.compile(r"^  (.{19}) *(-?[\d.]+) \+- (<?[\d.]+)(?: +(-?[\d.]+) \+- (<?[\d.]+))?(?: |$)")


def meanings(case, *kinds):
    fields = json.loads(case.good("fields", "--json"))
    return {row["name"]: row["meaning"] for kind in kinds for row in fields[kind]}


def rows_of(table, plain):
    """The rows of a table that have a "+-", each with its row of the plain table, which says what
    it means."""
    rows = [ROW.match(line) for line in table.split("\n")]
    lines = [line for line in plain.split("\n")
             if re.match(r"  .{19} *-?[\d.]+ ", line) and not line.startswith("  energy residual")]
    return [(row, next(line for line in lines
                       if line[:31].split() == row[0].split(" +- ")[0].split()))
            for row in rows if row]


def places_of(text):
    return len(text.partition(".")[2])


class Base(Case):
    def agrees(self, text, sd):
        """A printed standard deviation with its number."""
        if text.startswith("<"):
            self.assertLess(sd, 0.5001 * float(text[1:]))
            self.assertGreater(sd, 0)
        else:
            self.assertAlmostEqual(float(text), sd, delta=0.5001 * 10.0 ** -places_of(text))

    def leans(self, text, label, value, spread, places):
        """Whether the list below the table has a line for it if it must, and none if not."""
        mean = "%.*f" % (places, spread["mean"])
        want = (abs(spread["mean"] - value) > spread["sd"] / 3
                and float(mean) != float("%.*f" % (places, value)))
        line = "\n  %-19s%10s  mean of the draws; 95 %% of them from %.*f to %.*f" % (
            label, mean, places, spread["low"], places, spread["high"])
        self.assertEqual(line in text, want, label)
        return want


class Swing(Base):
    @unittest.skipIf(SLOW, "hundreds of whole swings")
    def test_table(self):
        text = self.once(*SWING)
        self.golden("uncertainty-swing.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)
        self.assertNotRegex(text, r" \n")

    @unittest.skipIf(SLOW, "hundreds of whole swings")
    def test_table_and_json_agree(self):
        found = json.loads(self.once(*SWING, "--json"))
        table = self.once(*SWING)
        rows = rows_of(table, self.good("swing", MEASURED))
        self.assertEqual(len(rows), len(set(NAMES) - STILL))
        said = meanings(self, "impact", "shot")
        for name, value in found["impact"].items():
            if name in STILL:
                continue
            mine = [row for row, plain in rows if plain.endswith("  " + said[name])
                    and abs(float(row[2]) - value) <= 0.5001 * 10.0 ** -places_of(row[2])]
            self.assertEqual(len(mine), 1, name)
            self.agrees(mine[0][3], found["spread"]["impact"]["sd"][name])
            if name in found["straight"]:
                self.agrees(mine[0][5], found["spread"]["straight"]["sd"][name])

    @unittest.skipIf(SLOW, "hundreds of whole swings")
    def test_the_values_are_those_of_a_plain_swing(self):
        found = json.loads(self.once(*SWING, "--json"))
        plain = json.loads(self.good("swing", MEASURED, "--json"))
        spread = found.pop("spread")
        self.assertEqual(found, plain)
        self.assertEqual((spread["draws"], spread["failed"], spread["seed"]), (200, 0, 1))
        self.assertEqual(list(spread), ["draws", "failed", "seed", "impact", "straight"])
        for club in ("impact", "straight"):
            names = [name for name in plain[club] if name != "energy_residual"]
            self.assertEqual(list(spread[club]), ["sd", "mean", "low", "high"])
            for values in spread[club].values():
                self.assertEqual(list(values), names)
            for name in names:
                sd, mean, low, high = (spread[club][key][name] for key in spread[club])
                if name in STILL:
                    self.assertEqual((sd, mean, low, high), (0, 0, 0, 0))
                    continue
                self.assertTrue(math.isfinite(sd) and sd > 0, name)
                self.assertTrue(low < mean < high, name)
                self.assertTrue(1 < (high - low) / sd < 6, name)

    @unittest.skipIf(SLOW, "hundreds of whole swings")
    def test_what_leans_is_listed(self):
        # Errors four times as large, in the twist of a shaft that hardly twists: far from linear.
        errors = pathlib.Path(MEASURED).parent / "measured-shaft-errors.csv"
        rows = errors.read_text(encoding="utf-8").split("\n")
        (self.dir / "measured-shaft-errors.csv").write_text("\n".join(
            rows[:3] + [",".join(cell if i < 2 else "%g" % (4 * float(cell))
                                 for i, cell in enumerate(row.split(",")))
                        for row in rows[3:] if row]) + "\n", encoding="utf-8")
        for name in ("measured-shaft.yaml", "measured.yaml"):
            text = (errors.parent / name).read_text(encoding="utf-8")
            models = errors.parent.parent.parent.parent / "models"
            (self.dir / name).write_text(text.replace("../../../models", str(models)),
                                         encoding="utf-8")
        words = ("swing", self.dir / "measured.yaml", "--uncertainty", *FEW)
        found, text = json.loads(self.good(*words, "--json")), self.good(*words)
        said = meanings(self, "impact", "shot")
        rows = rows_of(text, self.good("swing", self.dir / "measured.yaml"))
        count = 0
        for name, value in found["impact"].items():
            if name in STILL:
                continue
            spread = {key: values[name] for key, values in found["spread"]["impact"].items()}
            row = next(row for row, plain in rows if plain.endswith("  " + said[name])
                       and abs(float(row[2]) - value) <= 0.5001 * 10.0 ** -places_of(row[2]))
            count += self.leans(text, row[1].strip(), value, spread, places_of(row[2]))
        self.assertGreater(count, 0)
        self.assertEqual(text.count("Where the draws lean"), 1)
        self.assertEqual(text.count("mean of the draws"), count)

    def test_threads_and_seeds(self):
        def short(*more):
            status, out, _ = run(*SWING, *SHORT, "--json", *more)
            self.assertEqual(status, 0)
            return out
        if SLOW:
            self.assertEqual(json.loads(short("--threads", 2))["spread"]["seed"], 1)
            return
        alone = short("--threads", 1)
        for threads in (2, 3):
            self.assertEqual(short("--threads", threads), alone)
        self.assertEqual(short(), alone)
        self.assertEqual(short("--seed", 1), alone)
        other = json.loads(short("--seed", 2))["spread"]
        self.assertEqual(other["seed"], 2)
        self.assertNotEqual(other["impact"], json.loads(alone)["spread"]["impact"])
        self.assertEqual(json.loads(short("--draws", 201))["spread"]["draws"], 201)

    @unittest.skipIf(SLOW, "hundreds of whole swings")
    def test_draws_that_fail_are_counted(self):
        found = json.loads(self.once(*SWING, "--json"))
        time = found["impact"]["downswing_time_s"]
        sd = found["spread"]["impact"]["sd"]["downswing_time_s"]

        def limit(sds):
            return "--set", "settings.time_limit=%.17g s" % (time + sds * sd)
        status, out, err = run(*SWING, *limit(2), "--json")
        self.assertEqual(status, 0)
        spread = json.loads(out)["spread"]
        self.assertTrue(0 < spread["failed"] <= 10)
        self.assertIn("never reached the ball", spread["failure"])
        said = "%d of 200 draws" % spread["failed"]
        self.assertRegex(err, r"\Acaber: %s of the profile failed and are left out; the first, "
                         r"draw %d: the head never reached the ball.*\n\Z"
                         % (said, spread["first_failed"]))
        _, text, _ = run(*SWING, *limit(2))
        self.assertIn("%s failed and are left out. The first, draw %d: %s."
                      % (said, spread["first_failed"], spread["failure"]), text.replace("\n", " "))
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)
        self.assertIn("from %d draws" % (200 - spread["failed"]), text)
        message = self.bad(3, *SWING, *limit(0.4))
        self.assertRegex(message, r"\Acaber: \d+ of 200 draws of the profile .*more than 1 in 20; "
                         r"the first, draw \d+: the head never reached the ball")

    @unittest.skipIf(SLOW, "hundreds of whole swings")
    def test_a_ball_that_does_not_fly(self):
        # The straight club's ball does not rise; with a little more loft, it does in some draws only.
        status, out, err = run(*SWING, "--set", "head.loft=3 deg", "--json")
        self.assertEqual(status, 0)
        self.assertRegex(err, r"\Acaber: no flight of the straight club's ball: .*\n\Z")
        found = json.loads(out)
        self.assertEqual(found["spread"]["failed"], 0)
        for values in found["spread"]["impact"].values():
            self.assertTrue(set(BALL) <= set(values))
        for values in found["spread"]["straight"].values():
            self.assertFalse(set(BALL) & set(values))
        message = self.bad(3, *SWING, "--set", "head.loft=3.03 deg")
        self.assertRegex(message, r"more than 1 in 20; the first, draw \d+: no flight of the straight "
                         r"club's ball: the ball does not rise")

    def test_a_swing_that_is_stopped_says_so(self):
        status, out, err = run(*SWING, *SHORT)
        self.assertEqual(status, 0)
        self.assertRegex(err, r"\Acaber: .*settings.until.*no ball.*\n\Z")
        self.assertIn("settings.until", out)
        self.assertNotIn("strike", out)


class Bench(Base):
    @unittest.skipIf(SLOW, "another jig")
    def test_table(self):
        text = self.once(*BENCH)
        self.golden("uncertainty-bench.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_json(self):
        found = json.loads(self.once(*BENCH, "--json"))
        plain = json.loads(self.good("bench", MEASURED, *JIG, "--json"))
        spread = found.pop("spread")
        self.assertEqual(found, plain)
        self.assertEqual(list(spread), ["draws", "failed", "seed", "sd", "mean", "low", "high"])
        known = meanings(self, "bench")
        for key in ("sd", "mean", "low", "high"):
            lists = ["span_deflection_mm", "span_ei_nm2", "frequencies_hz"]
            self.assertEqual(list(spread[key]), list(known) + lists + ["frequency_table"])
            for name in lists:
                self.assertEqual(len(spread[key][name]), len(plain[name]))
        for name in ("cpm", "twist_deg", "shaft_mass_kg", "swing_moment_kgm", "tip_deflection_mm"):
            self.assertTrue(spread["low"][name] < plain[name] < spread["high"][name], name)
        self.assertEqual(spread["sd"]["face_length_m"], 0)
        self.assertEqual(spread["low"]["face_length_m"], plain["face_length_m"])

    @unittest.skipIf(SLOW, "fits as in others")
    def test_table_and_json_agree(self):
        found = json.loads(self.once(*BENCH, "--json"))
        text = self.once(*BENCH)
        spread = found["spread"]
        for name, meaning in meanings(self, "bench").items():
            row = ROW.match(next(line for line in text.split("\n")
                                 if line.endswith("  " + meaning)))
            self.assertEqual(bool(row), spread["sd"][name] > 0, name)
            if not row:
                continue
            self.agrees(row[3], spread["sd"][name])
            self.leans(text, row[1].strip(), found[name],
                       {key: spread[key][name] for key in ("sd", "mean", "low", "high")},
                       places_of(row[2]))
        spans = re.findall(r"^  (0\.\d{3}) +[\d.]+ \+- (\S+) +[\d.]+ \+- (\S+)$", text, re.M)
        self.assertEqual(len(spans), len(found["span_at_m"]))
        for i, (at, sag, stiffness) in enumerate(spans):
            self.assertAlmostEqual(float(at), found["span_at_m"][i], delta=6e-4)
            self.agrees(sag, spread["sd"]["span_deflection_mm"][i])
            self.agrees(stiffness, spread["sd"]["span_ei_nm2"][i])
        for i, sd in enumerate(spread["sd"]["frequencies_hz"]):
            self.agrees(re.search(r"^  %d +[\d.]+ \+- (\S+) +Hz$" % (i + 1), text, re.M)[1], sd)
        # A point of swing weight is 1.75 oz in.
        line = re.search(r"^  swing weight +[A-J]\d\.\d \+- (\S+) ", text, re.M)
        self.agrees(line[1], spread["sd"]["swing_moment_kgm"] / (1.75 * 0.028349523125 * 0.0254))

    @unittest.skipIf(SLOW, "benches as before")
    def test_threads_and_the_jig(self):
        words = (*BENCH, "--modes", 2, "--span", "800 mm", "--clamp", "5 in,7 in", "--tip-mass",
                 "205 g,0 g")
        alone = self.good(*words, "--threads", 1, "--json")
        self.assertEqual(self.good(*words, "--threads", 2, "--json"), alone)
        spread = json.loads(alone)["spread"]["sd"]
        self.assertEqual(len(spread["frequencies_hz"]), 2)
        rows = re.findall(r"^    \+- +([\d.]+) +([\d.]+)$", self.good(*words), re.M)
        self.assertEqual(len(rows), 2)
        for row, sds in zip(rows, spread["frequency_table"], strict=True):
            for text, sd in zip(row, sds, strict=True):
                self.agrees(text, sd)
        self.assertEqual(spread["frequency_table"][0][0], spread["cpm"])

    @unittest.skipIf(SLOW, "benches as before")
    def test_what_is_not_known_has_no_spread(self):
        # No head.sole, so no length.
        words = (*BENCH, "--set", "head.sole.up=0", "--set", "head.sole.toe=0")
        found = json.loads(self.good(*words, "--json"))
        self.assertIsNone(found["playing_length_m"])
        for key in ("sd", "mean", "low", "high"):
            self.assertIsNone(found["spread"][key]["playing_length_m"])
        self.assertRegex(self.good(*words), r"\n  playing length +not known  +m ")


class Refused(Base):
    def test_a_shaft_without_errors(self):
        for command in ("swing", "bench"):
            message = self.bad(1, command, SETUP, "--uncertainty")
            self.assertIn("'Neutral'", message)
            self.assertIn("'caber profile READINGS --output FILE'", message)

    def test_counts(self):
        for command in ("swing", "bench"):
            for option, texts, least, most in (
                    ("draws", ("199", "10001", "ten", "", "2e3", "-400"), 200, 10000),
                    ("seed", ("-1", "x", "2147483648", "1.5"), 0, 2147483647),
                    ("threads", ("0", "257", "many"), 1, 256)):
                for text in some(texts):
                    self.assertIn("--%s: '%s' is not a whole number from %d to %d"
                                  % (option, text, least, most),
                                  self.bad(1, command, MEASURED, "--uncertainty",
                                           "--%s=%s" % (option, text)))

    def test_what_goes_together(self):
        for option in ("--draws", "--seed", "--threads"):
            for command in ("swing", "bench"):
                self.assertIn("%s goes with --uncertainty" % option,
                              self.bad(2, command, MEASURED, option, 300))
        for more in (("--get", "droop_mm"), ("--series", "a.csv"), ("--sensitivity",)):
            self.assertIn("--uncertainty and %s exclude each other" % more[0],
                          self.bad(2, *SWING, *more))
        self.assertIn("--uncertainty and --get", self.bad(2, *BENCH, "--get", "cpm"))
        self.assertIn("--trim-table and --uncertainty", self.bad(2, *BENCH, "--trim-table"))

    def test_bad_setups(self):
        self.assertIn("head.mass", self.bad(1, *SWING, "--set", "head.mass=9 kg"))
        self.assertIn("clamp", self.bad(1, *BENCH, "--clamp", "9 m"))


if __name__ == "__main__":
    main()
