# SPDX-License-Identifier: GPL-3.0-or-later
"""caber profile: the text, JSON, the shaft file, the figure, and readings that make no profile."""
import csv
import json
import math
import os
import re
import shutil
import subprocess
import unittest
import xml.etree.ElementTree

import yaml

from harness import BUILD, Case, MODELS, READINGS, SETUP, SLOW, main

BAD = "neutral-spans.csv:44"
SVG = "{http://www.w3.org/2000/svg}"


class Profile(Case):
    def once(self, *words):
        return super().once("profile", *words)

    def found(self, *words):
        return json.loads(self.once(*words, "--json"))

    def copy(self):
        """The readings where a test may change them; returns the path of the YAML."""
        for path in (MODELS / "readings").glob("neutral*"):
            shutil.copy(path, self.dir)
        return self.dir / "neutral.yaml"

    def change(self, name, old, new):
        path = self.dir / name
        text = path.read_text(encoding="utf-8")
        self.assertEqual(text.count(old), 1, old)
        path.write_text(text.replace(old, new), encoding="utf-8")


class Text(Profile):
    def test_table(self):
        text = self.once(READINGS)
        self.golden("profile.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_table_and_json_agree(self):
        found, text = self.found(READINGS), self.once(READINGS)
        stations = {round(s["at_m"] * 1e3): s for s in found["stations"]}
        rows = re.findall(r"(?m)^ {2,8}(\d+)((?: +[\d.]+){7})", text)
        self.assertGreater(len(rows), 12)
        for at, numbers in rows:
            s = stations[int(at)]
            ei = math.sqrt(s["ei_nm2"] * s["ei_2_nm2"])
            want = (ei, ei * s["ei_sd_percent"] / 100, s["gj_nm2"],
                    s["gj_nm2"] * s["gj_sd_percent"] / 100, s["mass_kg_m"] * 1e3,
                    s["mass_kg_m"] * 10 * s["mass_sd_percent"], s["diameter_mm"])
            for number, value in zip(numbers.split(), want, strict=True):
                self.assertAlmostEqual(float(number), value,
                                       delta=0.5001 * 10.0 ** -len(number.split(".")[1]))

    def test_the_outlier_is_named_with_what_to_check(self):
        bad = [r for r in self.found(READINGS)["readings"] if r["outlier"]]
        self.assertEqual(["%s:%d" % (r["file"], r["line"]) for r in bad], [BAD])
        self.assertGreater(abs(bad[0]["residual"]), 4)
        text = self.once(READINGS)
        self.assertRegex(text, r"neutral-spans\.csv, line 44: %+.1f sigma; it reads %.3f mm"
                         % (bad[0]["residual"], bad[0]["value"]))
        self.assertIn("check the load, the span", text)
        self.assertIn("--without " + BAD, text)

    def test_without(self):
        found, text = (f(READINGS, "--without", BAD) for f in (self.found, self.once))
        self.golden("profile-without.txt", text)
        self.assertEqual((found["used"], found["left_out"]), (len(found["readings"]) - 1, 1))
        self.assertLess(found["reduced_chi_square"],
                        self.found(READINGS)["reduced_chi_square"] - 0.2)
        left = [r for r in found["readings"] if r["left_out"]]
        self.assertEqual([(r["line"], r["outlier"]) for r in left], [(44, False)])
        self.assertGreater(abs(left[0]["residual"]), 4)
        self.assertIn("Left out of the fit\n  neutral-spans.csv, line 44:", text)
        self.assertIn("No reading in the fit is further off than 4 sigma", text)
        # leave_out in the file says the same; a path before the name changes nothing.
        path = self.copy()
        with open(path, "a", encoding="utf-8") as file:
            file.write("leave_out: [{table: neutral-spans.csv, line: 44}]\n")
        self.assertEqual(self.good("profile", path), text)
        self.assertEqual(self.good("profile", READINGS, "--without", "some/where/" + BAD), text)

    @unittest.skipIf(SLOW, "fits as in others")
    def test_several_without(self):
        found = self.found(READINGS, "--without", BAD + ",neutral-twists.csv:4,neutral-twists.csv:6")
        self.assertEqual([(r["file"], r["line"]) for r in found["readings"] if r["left_out"]],
                         [("neutral-spans.csv", 44), ("neutral-twists.csv", 4),
                          ("neutral-twists.csv", 6)])

    def test_symmetry(self):
        found, text = self.found(READINGS)["symmetry"], self.once(READINGS)
        self.assertGreater(found["difference_percent"], 3 * found["difference_sd_percent"])
        self.assertIn("stiffer over softer       %.2f +- %.2f %%" % (
            found["difference_percent"], found["difference_sd_percent"]), text)
        self.assertIn("a check, not a ruling", text)
        self.assertIn("Check with the rules body.", text)
        for section in text.split("Symmetry")[1].split("\n"):
            self.assertNotRegex(section, r"(?i)\b(conforms|legal|passes|fails)\b")

    def test_one_direction_says_nothing_of_symmetry(self):
        path = self.copy()
        for name in ("spans", "cantilevers", "frequencies"):
            table = self.dir / ("neutral-%s.csv" % name)
            rows = [row.split(",") for row in table.read_text(encoding="utf-8").splitlines()]
            at = rows[1].index("orientation")
            for row in rows[3:]:
                row[at] = "0"
            table.write_text("\n".join(map(",".join, rows)) + "\n", encoding="utf-8")
        self.assertIsNone(json.loads(self.good("profile", path, "--json"))["symmetry"])
        text = self.good("profile", path)
        self.assertIn("do not tell directions apart", text)
        self.assertNotIn("stiffer over softer", text)

    def test_unseen_parts_are_said(self):
        found, text = self.found(READINGS), self.once(READINGS)
        for key, name in (("bend_seen", "EI"), ("twist_seen", "GJ")):
            gone = [round(s["at_m"] * 1e3) for s in found["stations"] if not s[key]]
            line = re.search(r"(?m)^  %s  at (.*) mm$" % name, text)
            self.assertTrue(gone and line, name)
            ends = [int(number) for number in re.findall(r"\d+", line[1])]
            self.assertLessEqual(set(ends), set(gone))
            self.assertEqual((ends[0], ends[-1]), (gone[0], gone[-1]))

    @unittest.skipIf(SLOW, "fits as in others")
    def test_set(self):
        self.assertGreater(len(self.found(READINGS, "--set", "pitch=20 mm")["stations"]),
                           1.9 * len(self.found(READINGS)["stations"]))
        wider = self.found(READINGS, "--set", "spans[0].repeatability=3 %")
        self.assertGreater(wider["readings"][0]["sigma"],
                           4 * self.found(READINGS)["readings"][0]["sigma"])


class Json(Profile):
    def test_complete_finite_and_in_the_manual(self):
        found = self.found(READINGS)
        manual = re.sub(r"\\f.|\\&|\\", "",
                        (BUILD / "man/caber-profile.1").read_text(encoding="utf-8"))

        def walk(value):
            if isinstance(value, dict):
                for key, inner in value.items():
                    self.assertIn(key, manual)
                    walk(inner)
            elif isinstance(value, list):
                for inner in value:
                    walk(inner)
            elif isinstance(value, float):
                self.assertTrue(math.isfinite(value))
        walk(found)
        self.assertEqual(sum(j["used"] + j["left_out"] for j in found["jigs"]),
                         len(found["readings"]))

    def test_it_is_what_the_tables_say(self):
        found = self.found(READINGS)
        with open(MODELS / "readings/neutral-spans.csv", encoding="utf-8") as file:
            rows = list(csv.reader(file))
        lines = {r["line"]: r for r in found["readings"] if r["file"] == "neutral-spans.csv"}
        self.assertEqual(set(lines), set(range(4, len(rows) + 1)))
        at = rows[1].index("deflection")
        for line, r in lines.items():
            self.assertAlmostEqual(r["value"], float(rows[line - 1][at]), delta=1e-12)
            self.assertEqual(r["unit"], "mm")
            # A load in the middle of 200 mm: P L^3/48 d.
            self.assertAlmostEqual(r["apparent_ei_nm2"], 98.07 * 0.2 ** 3 / 48 / (r["value"] * 1e-3),
                                   delta=1e-9 * r["apparent_ei_nm2"])
        self.assertIn(None, [r["orientation_deg"] for r in lines.values()])

    def test_residuals(self):
        found = self.found(READINGS)
        squares = sum(((r["value"] - r["predicted"]) / r["sigma"]) ** 2 for r in found["readings"])
        # A reading without orientation has a larger error in the fit than its own.
        self.assertAlmostEqual(squares, found["chi_square"], delta=0.02 * squares)
        self.assertAlmostEqual(found["reduced_chi_square"],
                               found["chi_square"] / (found["used"] - found["parameters"]))
        self.assertAlmostEqual(sum(r["leverage"] for r in found["readings"]), found["parameters"],
                               delta=0.05 * found["parameters"])
        for jig in found["jigs"]:
            rows = [r["residual"] for r in found["readings"] if r["kind"] == jig["kind"]]
            self.assertAlmostEqual(jig["mean"], sum(rows) / len(rows))
            self.assertAlmostEqual(jig["rms"], math.sqrt(sum(x * x for x in rows) / len(rows)))


class Files(Profile):
    def test_output_reads_back_and_swings(self):
        path = self.dir / "shaft.yaml"
        words = ("profile", READINGS, "--without", BAD, "--output", path, "--set", "pitch=30 mm",
                 "--json")
        found = json.loads(self.good(*words))
        text = path.read_text(encoding="utf-8")
        comment = "".join(line[1:] for line in text.splitlines() if line.startswith("#"))
        for part in (self.good("--version").split()[1], "neutral.yaml", "neutral-spans.csv, line 44",
                     "128 readings, 127 of them", "--set pitch=30 mm"):
            self.assertIn(part, comment)
        self.assertNotIn(str(MODELS), text)
        shaft = yaml.safe_load(text)
        self.assertIn("Invented", shaft["note"])
        self.assertEqual(shaft["errors"], "shaft-errors.csv")
        self.assertEqual(len(shaft["stations"]), len(found["stations"]))
        for station, want in zip(shaft["stations"], found["stations"]):
            self.assertEqual(float(station["ei"].split()[0]), want["ei_nm2"])
            self.assertEqual(float(station["gj"].split()[0]), want["gj_nm2"])
        # The errors of the file make the deviations that are printed.
        squares = {}
        with open(self.dir / "shaft-errors.csv", encoding="utf-8") as file:
            rows = [r for r in csv.reader(file) if r and not r[0].startswith("#")]
        names = rows[0]
        self.assertEqual([rows[1][names.index(key)] for key in ("at", "ei", "gj", "mass")],
                         ["mm", "", "", ""])
        for row in rows[2:]:
            at = round(float(row[names.index("at")]))
            for key in ("ei", "gj", "mass"):
                squares[at, key] = squares.get((at, key), 0) + float(row[names.index(key)]) ** 2
        for station in found["stations"]:
            for key in ("ei", "gj", "mass"):
                want = station[key + "_sd_percent"]
                got = 100 * math.sqrt(squares[round(station["at_m"] * 1e3), key])
                self.assertAlmostEqual(got, want, delta=0.01 * want)

    @unittest.skipIf(SLOW, "fits as in others")
    def test_the_swing_is_that_of_the_shaft_that_was_read(self):
        path = self.dir / "shaft.yaml"
        self.good("profile", READINGS, "--output", path)
        words = ("swing", SETUP, "--get", "head_speed_mps,loft_change_deg")
        (speed, loft), (true_speed, true_loft) = (
            map(float, self.good(*words, *more).split())
            for more in (("--set", "shaft=%s" % path), ()))
        self.assertAlmostEqual(speed, true_speed, delta=0.02)
        self.assertAlmostEqual(loft, true_loft, delta=0.02)

    @unittest.skipIf(SLOW, "fits as in others")
    def test_the_same_bytes_twice(self):
        files = ("a.yaml", "a-errors.csv", "a.svg")
        seen = []
        for _ in range(2):
            self.good("profile", READINGS, "--output", self.dir / "a.yaml", "--plot",
                      self.dir / "a.svg", env=dict(os.environ, TZ="Asia/Tokyo", HOME="/nowhere"))
            seen.append([(self.dir / name).read_bytes() for name in files])
            for name in files:
                (self.dir / name).unlink()
        self.assertEqual(*seen)

    def texts(self, path):
        root = xml.etree.ElementTree.parse(path).getroot()
        self.assertEqual(root.tag, SVG + "svg")
        return root, ["".join(t.itertext()).strip() for t in root.iter(SVG + "text")]

    def test_plot(self):
        path = self.dir / "a.svg"
        self.good("profile", READINGS, "--plot", path)
        root, texts = self.texts(path)
        for want in ("Neutral, from the bench", "EI, N m²", "GJ, N m²", "from the tip, mm", "fitted",
                     "95 % band", "unseen", "load·span³/48 deflection", "Off by, σ", "spans",
                     "cantilevers", "frequencies", "twists", "mass", "balance"):
            self.assertIn(want, texts)
        self.assertEqual([t for t in texts if t.startswith("neutral-spans.csv, line 44: -")],
                         [t for t in texts if ".csv" in t])
        # A dot for each reading below, and for each span above: polygons with twelve corners.
        found = self.found(READINGS)
        spans = sum(r["kind"] == "span" for r in found["readings"])
        dots = [p for p in root.iter() if len(p.get("points", "").split()) in (12, 13)]
        legend = 1 + 6
        self.assertEqual(len(dots), len(found["readings"]) + spans + legend)
        self.assertNotIn("left out", texts)
        self.assertNotRegex(path.read_text(encoding="utf-8"), r"\d{4}-\d\d-\d\d|\d\d:\d\d:\d\d")
        self.good("profile", READINGS, "--plot", path, "--without", BAD)
        _, texts = self.texts(path)
        self.assertIn("left out", texts)

    def test_names_in_the_plot_are_texts(self):
        path = self.copy()
        self.change("neutral.yaml", "name: Neutral, from the bench", 'name: "Añejo #5 <&> σ_1 ^2"')
        self.good("profile", path, "--plot", self.dir / "a.svg")
        self.assertIn("Añejo #5 <&> σ_1 ^2", self.texts(self.dir / "a.svg")[1])

    def test_a_failure_leaves_files_as_they_were(self):
        old = self.dir / "old.yaml"
        old.write_text("as it was\n")
        words = ("profile", READINGS, "--output", old, "--plot", self.dir / "a.svg", "--without",
                 "neutral-spans.csv:9999")
        self.bad(1, *words)
        self.bad(1, "profile", READINGS, "--output", old, "--set", "mass=1 kg")
        self.assertEqual(old.read_text(), "as it was\n")
        for words in (("--output", self.dir / "no/where.yaml"), ("--plot", self.dir / "no/a.svg")):
            self.assertIn("no/", self.bad(1, "profile", READINGS, *words))
        self.assertEqual(sorted(p.name for p in self.dir.iterdir()), ["old.yaml"])

    def test_the_readings_are_not_written_over(self):
        path = self.copy()
        before = path.read_bytes()
        link = self.dir / "link.yaml"
        link.symlink_to(path)
        for output in (path, link, self.dir / "." / "neutral.yaml"):
            self.assertIn("over the readings", self.bad(2, "profile", path, "--output", output))
        self.assertEqual(path.read_bytes(), before)

    def test_a_full_disk(self):
        limit = "trap '' XFSZ; ulimit -f 8; exec \"$@\""
        for words, name in ((("--plot", "a.svg"), "a.svg"), (("--output", "a.yaml"), "a")):
            done = subprocess.run(["bash", "-c", limit, "bash", os.environ["CABER"], "profile",
                                   READINGS, *words], cwd=self.dir, text=True, capture_output=True,
                                  check=False)
            self.assertEqual((done.returncode, done.stdout), (1, ""))
            self.assertRegex(done.stderr, r"\Acaber: .*%s.*\n\Z" % name)


class Errors(Profile):
    def test_no_such_reading(self):
        for item in ("neutral-spans.csv:2", "nothing.csv:44", "neutral-spans.csv:100000"):
            file, line = item.split(":")
            message = self.bad(1, "profile", READINGS, "--without", BAD + "," + item)
            self.assertIn("no reading in line %s of %s" % (line, file), message)

    def test_no_file(self):
        self.assertIn("nowhere.yaml", self.bad(1, "profile", self.dir / "nowhere.yaml"))
        self.assertIn("kind", self.bad(1, "profile", SETUP))

    def test_a_bad_cell_is_named(self):
        for old, new in (("100,0,0.779", "100,0,0.779x"), ("100,0,0.779", "100,0,"),
                         ("100,0,0.779", "-100,0,0.779"), ("mm,deg,mm", "mm,deg,kg")):
            path = self.copy()
            self.change("neutral-spans.csv", old, new)
            message = self.bad(1, "profile", path)
            self.assertRegex(message, r"neutral-spans\.csv[:,] ?(line )?\d+", message)

    def test_too_little(self):
        path = self.copy()
        table = self.dir / "neutral-twists.csv"
        table.write_text("".join(table.read_text().splitlines(True)[:5]))
        self.assertIn("too few", self.bad(1, "profile", path))

    def test_readings_that_see_too_little(self):
        path = self.copy()
        table = self.dir / "neutral-twists.csv"
        lines = table.read_text().splitlines(True)
        table.write_text("".join(lines[:3] + 4 * [lines[3]]))
        self.assertIn("see too little", self.bad(1, "profile", path))

    def contradiction(self, *words):
        message = self.bad(1, "profile", self.dir / "neutral.yaml", *words)
        self.assertIn("contradict each other", message)
        return message

    @unittest.skipIf(SLOW, "fits as in others")
    def test_a_wrong_load_of_a_table(self):
        self.copy()
        message = self.contradiction("--set", "spans[0].load=80 N")
        self.assertIn("Without the 75 readings of neutral-spans.csv, which read 1.2", message)

    @unittest.skipIf(SLOW, "fits as in others")
    def test_a_wrong_span(self):
        self.copy()
        message = self.contradiction("--set", "spans[0].span=180 mm")
        self.assertIn("Without the 75 readings of neutral-spans.csv, which read 1.36", message)
        self.assertIn("check load, span and zero", message)

    @unittest.skipIf(SLOW, "fits as in others")
    def test_a_wrong_tip_mass(self):
        self.copy()
        message = self.contradiction("--set", "frequencies[0].tip_mass=300 g")
        self.assertIn("Without the 12 readings of neutral-frequencies.csv", message)

    def test_one_wrong_value(self):
        self.copy()
        table = self.dir / "neutral-cantilevers.csv"
        lines = table.read_text().splitlines(True)
        cells = lines[7].split(",")
        lines[7] = ",".join(cells[:-1] + [f"{10 * float(cells[-1]):g}\n"])
        table.write_text("".join(lines))
        self.assertIn("Without neutral-cantilevers.csv, line 8, which reads", self.contradiction())

    @unittest.skipIf(SLOW, "unit.fit tries each")
    def test_a_choice_of_smoothness(self):
        found = [self.found(READINGS, "--set", f"smoothness={word}")["smoothness_ei_percent"]
                 for word in ("likelihood", "cross-validation", "discrepancy")]
        self.assertEqual(found[0], self.found(READINGS)["smoothness_ei_percent"])
        self.assertEqual(len(set(found)), 3)
        message = self.bad(1, "profile", READINGS, "--set", "smoothness=none")
        self.assertIn("likelihood, cross-validation or discrepancy", message)


if __name__ == "__main__":
    main()
