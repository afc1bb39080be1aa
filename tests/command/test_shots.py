# SPDX-License-Identifier: GPL-3.0-or-later
"""caber shots: the text, JSON, mapping, cleaning, the CSV and the figure, and files that make no sense."""
import csv
import json
import math
import random
import re
import time
import unittest
import xml.etree.ElementTree

import numpy
from scipy import stats

from harness import BUILD, Case, MODELS, SLOW, SOURCE, main, printed

SOFT, FIRM = (str(MODELS / "shots" / name) for name in ("soft-tip.csv", "firm-tip.csv"))
EVENING = str(MODELS / "shots/evening-session.csv")
MAPPING = str(MODELS / "shots/mapping-evening-session.yaml")
SETUP = str(MODELS / "setups/soft-tip-smooth.yaml")
SVG = "{http://www.w3.org/2000/svg}"


class Shots(Case):
    def once(self, *words):
        return super().once("shots", *words)

    def found(self, *words):
        return json.loads(self.once(*words, "--json"))

    def file(self, name, text):
        path = self.dir / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    def output(self, found, name):
        return next(o for o in found["outputs"] if o["name"] == name)

    def aside(self, found):
        return {"%s:%d" % (s["file"], s["line"]) for rule in found["cleaning"] for s in rule["shots"]
                if s["set_aside"]}


class Text(Shots):
    def test_table(self):
        text = self.once(SOFT, FIRM)
        self.golden("shots.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_mapped(self):
        text = self.once(EVENING, "--mapping", MAPPING, "--only", "carry,side")
        self.golden("shots-evening.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_the_readme_shows_it(self):
        readme, text = (SOURCE / "README.md").read_text(encoding="utf-8"), self.once(SOFT, FIRM)
        for title in ("Which shots count", "Told apart", "Spreads: B"):
            shown = re.search(r"^```\n(%s.*?)\n```$" % title, readme, re.S | re.M)[1]
            self.alike(shown, text[text.index(title):].split("\n\n")[0])

    def test_the_same_twice(self):
        self.assertEqual(self.good("shots", SOFT, FIRM, "--json"), self.once(SOFT, FIRM, "--json"))

    def test_verdicts_are_those_of_the_json(self):
        text, found = self.once(SOFT, FIRM), self.found(SOFT, FIRM)
        told = text.split("Told apart\n")[1].split("\n\n")[0]
        for kind, key in (("average", "means"), ("spread", "spreads")):
            want = sum(o["pairs"][0][key]["told_apart"] for o in found["outputs"])
            lines = re.findall(r"(?m)^  %s of .*" % kind, told)
            only = [line for line in lines if "only at the same" in line]
            self.assertEqual(len(lines) - len(only), want, kind)
        self.assertGreater(told.count("spread of"), 1)
        self.assertIn("no average", told)
        for o in found["outputs"]:
            more = o["pairs"][0]["means_need"]["more_each"]
            if more:
                self.assertIn("not told apart: about %d more each" % more, text)


class Numbers(Shots):
    """Against SciPy, from the files as they stand."""

    def columns(self):
        batches = []
        for path in (SOFT, FIRM):
            with open(path, encoding="utf-8") as file:
                rows = list(csv.reader(line for line in file if not line.startswith("#")))
            names, rows = rows[0], rows[2:]
            table = [dict(zip(names, row, strict=True)) for row in rows]
            # The ball that was misread.
            batches.append([r for r in table if float(r["ball_speed"]) < 1.6 * float(r["head_speed"])])
        self.assertEqual([len(b) for b in batches], [14, 14])
        for name in batches[0][0]:
            if name != "shot":
                yield name, [numpy.array([float(r[name]) for r in b if r[name]]) for b in batches]

    @staticmethod
    def holm(p):
        order, worst, out = sorted(range(len(p)), key=p.__getitem__), 0, [0] * len(p)
        for rank, i in enumerate(order):
            worst = out[i] = max(worst, min(1, (len(p) - rank) * p[i]))
        return out

    def test_batches_and_pairs(self):
        found, means, spreads, ours = self.found(SOFT, FIRM), [], [], []
        for name, (soft, firm) in self.columns():
            o = next(o for o in found["outputs"] if o["name"].startswith(name + "_"))
            for batch, values in zip(o["batches"], (soft, firm), strict=True):
                self.assertEqual(batch["shots"], len(values))
                for key, want in (("mean", values.mean()), ("sd", values.std(ddof=1)),
                                  ("median", numpy.median(values)),
                                  ("robust_sd", 1.4826 * stats.median_abs_deviation(values))):
                    self.assertAlmostEqual(batch[key], want, delta=1e-4 * abs(want) + 1e-9, msg=name)
                want = stats.t.interval(0.95, len(values) - 1, values.mean(), stats.sem(values))
                numpy.testing.assert_allclose(batch["mean_interval"], want, rtol=1e-9, atol=1e-9)
            pair = o["pairs"][0]
            self.assertAlmostEqual(pair["difference"], firm.mean() - soft.mean(), places=9)
            self.assertAlmostEqual(pair["sd_ratio"], firm.std(ddof=1) / soft.std(ddof=1), places=9)
            ours.append(pair)
            means.append(stats.ttest_ind(firm, soft, equal_var=False).pvalue)
            spreads.append(stats.levene(firm, soft, center="median").pvalue)
        for key, p in (("means", means), ("spreads", spreads)):
            numpy.testing.assert_allclose([o[key]["p"] for o in ours], p, rtol=1e-7)
            numpy.testing.assert_allclose([o[key]["p_corrected"] for o in ours], self.holm(p), rtol=1e-7)
            self.assertEqual([o[key]["told_apart"] for o in ours], [q < 0.05 for q in self.holm(p)])

    def test_strike_does_not_pass_for_shaft(self):
        """Two batches of one shaft, one struck further off, by turns at heel and toe so that no straight line
        in the place sees it: the whole difference is the strike's."""
        rng = random.Random(5)
        rows = ["setup,ball_speed_mps,head_speed_mps,struck_toe_mm,struck_high_mm"]
        for i in range(60):
            toe = rng.gauss(0 if i % 2 else 13 - 13 * (i % 4), 4)
            high, head = rng.gauss(0, 4), rng.gauss(45, 0.5)
            ball = 1.48 * head * (1 - 1.2e-4 * (toe * toe + high * high)) + rng.gauss(0, 0.2)
            rows.append("%s,%.3f,%.3f,%.2f,%.2f" % ("ba"[i % 2], ball, head, toe, high))
        path = self.file("strike.csv", "\n".join(rows) + "\n")
        pair = self.output(self.found(path), "ball_speed_mps")["pairs"][0]
        self.assertTrue(pair["means"]["told_apart"])
        self.assertGreater(abs(pair["difference"]), 1)
        self.assertFalse(pair["adjusted"]["means"]["told_apart"])
        self.assertLess(abs(pair["adjusted"]["difference"]), 0.25)
        self.assertIn("not at the same strike and speed", self.once(path))
        # Not asked for: not there.
        self.assertIsNone(self.output(self.found(path, "--adjust", "none"), "ball_speed_mps")
                          ["pairs"][0]["adjusted"])
        self.assertEqual(self.found(path, "--adjust", "head_speed")["adjusted_for"], ["head_speed_mps"])

    def test_only(self):
        found = self.found(SOFT, FIRM, "--only", "side_m,carry")
        self.assertEqual([o["name"] for o in found["outputs"]], ["carry_m", "side_m"])
        self.assertEqual((found["tests_of_means"], found["tests_of_spreads"]), (2, 2))
        whole = self.output(self.found(SOFT, FIRM), "side_m")["pairs"][0]["spreads"]
        alone = self.output(found, "side_m")["pairs"][0]["spreads"]
        self.assertEqual(whole["p"], alone["p"])
        self.assertLess(alone["p_corrected"], whole["p_corrected"])

    def test_three_batches(self):
        third = self.file("third.csv", "carry_m\n200\n203\n201\n202\n199\n")
        found = self.found(SOFT, FIRM, third)
        pairs = [(p["of"], p["less"]) for p in self.output(found, "carry_m")["pairs"]]
        self.assertEqual(pairs, [("firm-tip", "soft-tip"), ("third", "soft-tip"), ("third", "firm-tip")])
        self.assertEqual(len(self.output(found, "side_m")["pairs"]), 1)
        self.assertIn("third has no side.", self.once(SOFT, FIRM, third))


class Mapping(Shots):
    def test_units_signs_and_gaps(self):
        found = self.found(EVENING, "--mapping", MAPPING)
        with open(EVENING, encoding="utf-8") as file:
            rows = list(csv.reader(list(file)[2:], delimiter=";"))
        names, rows = rows[0], rows[1:]
        for name, column, factor in (("head_speed_mps", "Club mph", 0.44704), ("carry_m", "Carry yd", 0.9144),
                                     ("side_m", "Left yd", -0.9144), ("launch_direction_deg", "Left deg", -1),
                                     ("spin_rpm", "Spin rpm", 1)):
            for batch in self.output(found, name)["batches"]:
                cells = [r[names.index(column)] for r in rows if r[names.index("Club")] == batch["batch"]]
                values = [float(c) * factor for c in cells if c != "--"]
                self.assertEqual(batch["shots"], len(values))
                self.assertAlmostEqual(batch["mean"], sum(values) / len(values), places=8, msg=name)
        # The batches took turns: no caution about one after the other.
        self.assertFalse([c for c in found["cautions"] if "one after the other" in c])
        self.assertTrue([c for c in self.found(SOFT, FIRM)["cautions"] if "one after the other" in c])

    def test_without_its_mapping(self):
        message = self.bad(1, "shots", EVENING)
        self.assertRegex(message, r"evening-session\.csv:1:\d+: ")

    def test_wrong_mapping(self):
        bad = self.file("m.yaml", "kind: mapping\ncolumns:\n  - {column: A, quantity: speed_of_ball}\n")
        self.assertRegex(self.bad(1, "shots", SOFT, "--mapping", bad),
                         r"m\.yaml:3:\d+: columns\[0\]\.quantity: \"speed_of_ball\" is no quantity")
        self.assertIn("there is no such file", self.bad(1, "shots", SOFT, "--mapping", self.dir / "none.yaml"))


class Cleaning(Shots):
    def test_impossible_is_set_aside_and_comes_back(self):
        usual, kept = self.found(SOFT, FIRM), self.found(SOFT, FIRM, "--keep", "soft-tip.csv:12")
        self.assertEqual(self.aside(usual), {"soft-tip.csv:12"})
        self.assertEqual(self.aside(kept), set())
        self.assertEqual(self.aside(self.found(SOFT, FIRM, "--keep", "impossible")), set())
        self.assertEqual(self.aside(self.found(SOFT, FIRM, "--keep", SOFT + ":12")), set())
        self.assertEqual([self.output(f, "ball_speed_mps")["batches"][0]["shots"] for f in (usual, kept)],
                         [14, 15])
        text = self.once(SOFT, FIRM)
        self.assertIn("set aside    soft-tip.csv:12  ball speed 96.40 m/s at head speed", text)
        self.assertIn("--keep FILE:LINE brings one back, --keep impossible all of them", text)
        self.assertIn("brought back soft-tip.csv:12", self.once(SOFT, FIRM, "--keep", "soft-tip.csv:12"))

    def test_flagged_counts_until_it_is_set_aside(self):
        usual = {rule["rule"]: rule for rule in self.found(SOFT, FIRM)["cleaning"]}
        for word in ("mishit", "outlier"):
            flagged = {"%s:%d" % (s["file"], s["line"]) for s in usual[word]["shots"]}
            self.assertTrue(flagged, word)
            self.assertFalse(any(s["set_aside"] for s in usual[word]["shots"]))
            found = self.found(SOFT, FIRM, "--set-aside", word)
            self.assertEqual(self.aside(found), flagged | {"soft-tip.csv:12"})
            one = sorted(flagged)[0]
            found = self.found(SOFT, FIRM, "--set-aside", word, "--keep", one)
            self.assertEqual(self.aside(found), flagged - {one} | {"soft-tip.csv:12"})
        cautions = " ".join(self.found(SOFT, FIRM)["cautions"])
        self.assertRegex(cautions, r"flagged shots? (set )?aside")

    def test_by_hand(self):
        found = self.found(SOFT, FIRM, "--set-aside", "firm-tip.csv:5,firm-tip.csv:6")
        self.assertEqual(self.aside(found), {"soft-tip.csv:12", "firm-tip.csv:5", "firm-tip.csv:6"})
        for option in ("--set-aside", "--keep"):
            self.assertIn("there is no shot in line 999 of soft-tip.csv",
                          self.bad(1, "shots", SOFT, option, "soft-tip.csv:999"))

    def test_mixed_units(self):
        # Kilometres an hour where metres a second are said, in the whole of a batch and in one shot.
        wrong = self.file("wrong.csv", "ball_speed [m/s]\n" + "240\n238\n241\n239\n")
        self.assertIn("wrong.csv:2: ball_speed_mps: 4 of 4 values of wrong are impossible, such as 240 m/s here; "
                      "is the unit right?", self.bad(1, "shots", wrong))
        one = self.file("one.csv", "ball_speed [m/s]\n66\n67\n240\n66.5\n66.2\n67.1\n")
        self.assertEqual(self.aside(self.found(one)), {"one.csv:4"})
        # Yards in one file and metres in the other can both be: it is asked.
        slow = self.file("slow.csv", "ball_speed [m/s]\n30\n31\n30.5\n30.2\n31.1\n")
        self.assertIn("are the units of both right?", " ".join(self.found(one, slow)["cautions"]))

    def test_nothing_left(self):
        path = self.file("gone.csv", "carry_m\n-1\n-2\n")
        self.assertIn("gone: all of its 2 shots are set aside", self.bad(1, "shots", path))
        self.assertEqual(self.found(path, "--keep", "impossible")["batches"][0]["set_aside"], 0)


class Written(Shots):
    def test_csv_reads_back(self):
        path = self.dir / "clean.csv"
        self.good("shots", SOFT, FIRM, "--csv", path)
        again, first = self.found(str(path)), self.found(SOFT, FIRM)
        self.assertEqual(again["outputs"], first["outputs"])
        lines = path.read_text(encoding="utf-8").splitlines()
        rows = list(csv.DictReader(line for line in lines if line[0] != "#"))[1:]
        self.assertEqual(len(rows), 29)
        aside = [r for r in rows if r["set_aside"] == "yes"]
        self.assertEqual([(r["from"], r["why"].split(":")[0]) for r in aside], [("soft-tip.csv:12", "impossible")])
        self.assertEqual(len([r for r in rows if r["why"]]) > 1, True)
        # Set aside once, it stays so though the rule is off, until it is brought back itself.
        line = self.aside(again)
        self.assertEqual(self.aside(self.found(str(path), "--keep", "impossible")), line)
        self.assertEqual(self.aside(self.found(str(path), "--keep", line.pop())), set())

    def test_names_that_need_quotes(self):
        path = self.file("odd.csv", 'setup,carry_m\n"a, ""b""",200\n"a, ""b""",201\n#not a shot\n"#c",202\n"#c",203\n')
        clean = self.dir / "clean.csv"
        self.good("shots", path, "--csv", clean)
        names = [[b["name"] for b in self.found(p)["batches"]] for p in (path, str(clean))]
        self.assertEqual(names, [['a, "b"', "#c"]] * 2)

    def test_plot(self):
        path = self.dir / "shots.svg"
        text = self.good("shots", SOFT, FIRM, "--plot", path)
        self.assertEqual(text, self.once(SOFT, FIRM))
        root = xml.etree.ElementTree.parse(path).getroot()
        words = " ".join("".join(e.itertext()) for e in root.iter(SVG + "text"))
        for word in ("ball speed, m/s", "launch angle, deg", "backspin, rpm", "carry, m", "soft-tip", "firm-tip", "Carry, m", "target line", "away from the golfer"):
            self.assertIn(word, words)
        first = path.read_bytes()
        self.good("shots", SOFT, FIRM, "--plot", path)
        self.assertEqual(path.read_bytes(), first)
        # A name too long for a row stands over all, and the rows are numbered.
        long = "a word " * 13
        self.good("shots", self.file("long.csv", f'setup,carry_m\n"{long}",200\n"{long}",201\nb,202\nb,203\n'), "--plot", path)
        words = ["".join(e.itertext()).strip() for e in xml.etree.ElementTree.parse(path).getroot().iter(SVG + "text")]
        for word in ("batch 1", "batch 2", "batch 2: b"):
            self.assertIn(word, words)
        self.assertLess(max(map(len, words)), 90)
        # One shot, one column, a constant: still a figure.
        for body in ("carry_m\n200\n", "apex_m\n20\n20\n20\n20\n20\n20\n"):
            self.good("shots", self.file("small.csv", body), "--plot", path)
            xml.etree.ElementTree.parse(path)

    def test_does_not_write_over_the_shots(self):
        path = self.file("mine.csv", "carry_m\n200\n")
        self.assertIn("would write over", self.bad(2, "shots", path, "--csv", path))
        self.bad(2, "shots", path, "--csv", "x.txt")
        self.bad(2, "shots", path, "--plot", "x.gif")
        self.bad(1, "shots", path, "--csv", self.dir / "no/such/folder.csv")


class Simulated(Shots):
    @unittest.skipIf(SLOW, "hundreds of swings")
    def test_beside_measured(self):
        found = json.loads(self.good("shots", SOFT, FIRM, "--simulated", SETUP, "--swings", 100, "--json"))
        scatter = json.loads(self.good("scatter", SETUP, "--swings", 100, "--json"))
        text = json.dumps(scatter)
        self.assertEqual([s["batch"] for s in found["simulated"]], ["soft-tip", "firm-tip"])
        for batch, s in enumerate(found["simulated"]):
            self.assertGreater(len(s["outputs"]), 5)
            for row in s["outputs"]:
                own = self.output(found, row["name"])["batches"][batch]
                self.assertEqual((row["measured_mean"], row["measured_sd"]), (own["mean"], own["sd"]))
                low, high = own["sd_interval"]
                want = ("measured more" if row["simulated_sd"] < low else
                        "measured less" if row["simulated_sd"] > high else "as measured")
                self.assertEqual(row["spread"], want)
        # The very numbers of caber scatter.
        for row in found["simulated"][0]["outputs"]:
            self.assertIn(json.dumps(row["simulated_sd"])[:12], text)

    def test_wrong(self):
        self.assertIn("2 setups for 1 batch;", self.bad(1, "shots", SOFT, "--simulated", SETUP + "," + SETUP))
        self.assertIn("there is no such file", self.bad(1, "shots", SOFT, "--simulated", self.dir / "none.yaml"))
        for words in (["--set", "name=x"], ["--swings", "200"], ["--threads", "2"], ["--simulated", ""]):
            self.bad(2, "shots", SOFT, *words)


class Nonsense(Shots):
    def test_refused(self):
        for body, want in (("", r":1:1: there is nothing in this file"),
                           ("carry_m,side_m\n", r":1:1: there is no shot below the names"),
                           ("carry_m,carry_m\n1,2\n", r":1:9: carry_m: this column was given before"),
                           ("carry_m,side_m\n1,2\n3\n", r":3:1: this row has 1 column; 2 are wanted"),
                           ("carry_m\n200,5\n", r"a number has a decimal point, not a comma"),
                           ("carry_m;side_m\n200,5;3\n", r"a mapping file that says which separator"),
                           ("carry_m\n200\nnan\n", r":3:1: carry_m: \"nan\" is not a finite number"),
                           ("carry\n200\n", r":1:1: carry: its unit is not given"),
                           ("height\n3\n", r"there is no such quantity")):
            path = self.file("bad.csv", body)
            self.assertRegex(self.bad(1, "shots", FIRM, path), want)
        (self.dir / "bad.csv").write_bytes(bytes(range(256)) * 20)
        self.assertRegex(self.bad(1, "shots", FIRM, self.dir / "bad.csv"), r"bad\.csv:\d+:\d+: ")
        self.assertIn("given twice", self.bad(1, "shots", FIRM, FIRM))
        self.assertIn("this is a directory", self.bad(1, "shots", self.dir))

    def test_one_shot_and_a_constant_column(self):
        one = self.file("one.csv", "carry_m,side_m\n200,1\n")
        flat = self.file("flat.csv", "carry_m,side_m\n" + "201,3\n" * 8)
        pair = self.output(self.found(one, flat), "carry_m")["pairs"][0]
        self.assertEqual((pair["means"]["tested"], pair["means"]["why"]), (False, "too few shots"))
        self.assertIsNone(self.output(self.found(one, flat), "carry_m")["batches"][0]["sd"])
        text = self.once(one, flat)
        self.assertIn("not tested: too few shots", text)
        self.assertIn("one has only 1 shot: a spread of so few is hardly known.", text)
        self.assertIn("flat has the same carry in every shot", text)
        self.assertNotIn("nan", text.lower())
        other = self.file("other.csv", "carry_m,side_m\n" + "202,3\n" * 8)
        self.assertIn("not tested: every shot has the same value", self.once(flat, other))
        self.assertLessEqual(max(map(len, self.once(flat, SOFT).split("\n"))), 110)

    def test_one_batch_alone(self):
        """There is no other to follow or to differ from, and of one shot no spread."""
        text = self.once(SOFT)
        self.assertNotIn("hit one after the other", text)
        self.assertNotIn("verdict", text)
        self.assertIn("hit one after the other", self.once(SOFT, FIRM))
        one = self.found(self.file("one.csv", "carry_m\n200\n"))
        self.assertIsNone(self.output(one, "carry_m")["batches"][0]["robust_sd"])

    def test_how_many_setups(self):
        for count, status in ((50, 0), (51, 1)):
            path = self.file("many%d.csv" % count,
                             "setup,carry_m\n" + "".join("s%d,%d\n" % (n, 150 + n) for n in range(count)))
            done = printed("shots", path)
            self.assertEqual(done[0], status)
        self.assertIn("many51.csv:52:1: setup: there are more than 50 setups", done[2])

    def test_no_column_in_common(self):
        a, b = self.file("a.csv", "carry_m\n200\n201\n"), self.file("b.csv", "apex_m\n20\n21\n")
        text = self.once(a, b)
        self.assertIn("b has no carry.", text)
        self.assertIn("a has no apex.", text)
        self.assertEqual([o["pairs"] for o in self.found(a, b)["outputs"]], [[], []])

    def test_names(self):
        self.assertIn("--only: no file has 'apex'; it takes names of columns that were measured", self.bad(1, "shots", SOFT, "--only", "apex"))
        self.assertIn("'carry' is no head speed", self.bad(1, "shots", SOFT, "--adjust", "carry"))
        for words in (["--set-aside", "wild"], ["--keep", "a.csv:"], ["--keep", ":3"], ["--keep", "a.csv:0"],
                      ["--set-aside", ""]):
            self.bad(2, "shots", SOFT, *words)
        self.bad(1, "shots", SOFT, "--seed", "x")
        self.bad(2, "shots")

    @unittest.skipIf(SLOW, "a hundred thousand shots")
    def test_a_hundred_thousand_shots(self):
        rng = random.Random(2)
        path = self.file("many.csv", "setup,carry_m,side_m\n" + "".join(
            "%s,%.1f,%.1f\n" % ("ab"[i % 2], rng.gauss(200, 5), rng.gauss(0, 10 + i % 2)) for i in range(100000)))
        begin = time.process_time()
        found = self.found(path)
        self.assertLess(time.process_time() - begin, 60)
        self.assertEqual([b["shots"] for b in found["batches"]], [50000, 50000])
        self.assertTrue(self.output(found, "side_m")["pairs"][0]["spreads"]["told_apart"])
        self.assertAlmostEqual(self.output(found, "side_m")["pairs"][0]["sd_ratio"], 1.1, delta=0.02)


class Json(Shots):
    def test_every_key_is_in_the_manual(self):
        manual = re.sub(r"\\f.|\\&|\\", "", (BUILD / "man/caber-shots.1").read_text(encoding="utf-8"))
        keys = set()

        def walk(value):
            if isinstance(value, dict):
                keys.update(value)
                for item in value.values():
                    walk(item)
            elif isinstance(value, list):
                for item in value:
                    walk(item)
            elif isinstance(value, float):
                self.assertTrue(math.isfinite(value))
        walk(self.found(SOFT, FIRM))
        self.assertGreater(len(keys), 50)
        for key in keys:
            self.assertRegex(manual, r"\b%s\b" % key)


if __name__ == "__main__":
    main()
