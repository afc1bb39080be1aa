# SPDX-License-Identifier: GPL-3.0-or-later
"""caber report: its data against what the other commands print, its page against HTML's own rules."""
import base64
import csv
import functools
import hashlib
import html.parser
import json
import os
import re
import shutil
import unittest

from harness import Case, MODELS, SETUP, main, run
from test_scatter import alone, slow

OTHER = str(MODELS / "setups/firm-tip-smooth.yaml")
# As few swings as are allowed, each with less to integrate.
FAST = ("--set", "settings.modes=5", "--set", "settings.tolerance=1e-6")
FEW = ("--swings", "100", *FAST)
# What lacks the page says so before it reads anything.
WRITES = run("report", "/no/such.yaml")[0] != 3
paged = unittest.skipUnless(WRITES, "the page is not built into this program")


@functools.cache
def data(*words):
    """The document of a report, and what was said beside it."""
    status, out, err = run("report", *words, "--json")
    assert status == 0, err
    return json.loads(out), err


class Page(html.parser.HTMLParser):
    """The elements of a page, with the text of those that hold text alone."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.texts, self.attributes, self.open = [], {}, {}, ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        key = "data" if ("id", "data") in attrs else tag
        self.tags.append(tag)
        self.texts[key] = ""
        self.attributes.setdefault(tag, []).append(dict(attrs))
        self.open = key

    def handle_endtag(self, tag):
        self.open = ""

    def handle_data(self, text):
        self.texts[self.open] = self.texts.get(self.open, "") + text


class Data(Case):
    def printed(self, *words):
        return json.loads(self.good(*words, "--json"))

    def test_one_setup_is_what_the_commands_print(self):
        found, said = data(SETUP, *FEW)
        self.assertEqual(said, "")
        self.assertIsNone(found["compare"])
        (one,) = found["setups"]
        self.assertEqual((one["name"], one["file"]), ("Neutral, smooth", "neutral-smooth.yaml"))
        self.assertEqual(one["swing"], self.printed("swing", SETUP, *FAST))
        self.assertEqual(one["bench"], self.printed("bench", SETUP, *FAST))
        self.assertEqual(one["trims"], self.printed("bench", SETUP, "--trim-table", *FAST))
        scatter = dict(found["scatter"])
        points = scatter.pop("landing_points")
        self.assertEqual(scatter, self.printed("scatter", SETUP, *FEW))
        self.assertEqual(len(points[0]["carry_m"]), 100)
        self.assertEqual(found["fields"], self.printed("fields"))

    @slow
    def test_the_series_is_that_of_swing(self):
        series = data(SETUP, *FEW)[0]["setups"][0]["series"]
        path = self.dir / "a.csv"
        self.good("swing", SETUP, *FAST, "--set", "settings.sample=1 ms", "--series", path)
        rows = list(csv.reader(path.read_text().splitlines()))
        self.assertEqual(len(rows) - 2, len(series["columns"]["time_s"]))
        for name, column in series["columns"].items():
            self.near_all([float(row[rows[0].index(name)]) for row in rows[2:]], column, name)
        self.assertEqual(len(series["trail_mm"]), len(rows) - 2)

    def near_all(self, got, want, name):
        """As CSV prints numbers, to ten digits."""
        for one, other in zip(got, want):
            self.assertAlmostEqual(one, other, delta=1e-9 * abs(other), msg=name)

    @slow
    def test_a_long_swing_has_no_more_instants_than_a_chart_shows(self):
        slow = ("--set", "load.hub.peak=25 N m", "--set", "settings.until=1.5 s")
        series = data(SETUP, *FEW, *slow)[0]["setups"][0]["series"]
        time = series["columns"]["time_s"]
        self.assertGreater(time[-1], 0.601)
        self.assertLessEqual(len(time), 602)
        self.assertGreater(len(time), 300)
        for t in time[:-1]:
            self.assertAlmostEqual(t / 2e-3, round(t / 2e-3), 6)

    @slow
    def test_two_setups_are_what_compare_and_scatter_print(self):
        found, said = data(SETUP, OTHER, *FEW)
        self.assertEqual(said, "")
        self.assertEqual(found["compare"], self.printed("compare", SETUP, OTHER, *FEW))
        scatter = dict(found["scatter"])
        self.assertEqual(len(scatter.pop("landing_points")), 2)
        self.assertEqual(scatter, self.printed("scatter", SETUP, OTHER, *FEW))
        for one, setup in zip(found["setups"], (SETUP, OTHER)):
            self.assertEqual(one["swing"], self.printed("swing", setup, *FAST))

    @slow
    def test_where_the_delivery_is_kept_all_is_of_the_re_tuned_swing(self):
        found, _ = data(SETUP, OTHER, "--keep", "delivery", *FEW)
        self.assertEqual(found["keep"], "delivery")
        first, second = (s["swing"]["impact"] for s in found["setups"])
        self.assertAlmostEqual(first["head_speed_mps"], second["head_speed_mps"], 3)
        self.assertAlmostEqual(first["handle_lean_deg"], second["handle_lean_deg"], 3)
        for output in found["compare"]["outputs"]:
            self.assertEqual(output["values"][1], second[output["name"]], output["name"])
        inputs = {i["path"]: i["value"] for i in found["setups"][1]["inputs"]["inputs"]}
        kept = self.printed("swing", OTHER, *FAST, *(word for path in ("hub.peak", "grip.release", "grip.late_onset")
                            for word in ("--set", "load.%s=%r %s" % (path, inputs["player.load." + path],
                                         "N m" if "peak" in path else "s"))))
        for name in ("head_speed_mps", "delivered_loft_deg", "peak_lag_mm"):
            self.assertAlmostEqual(kept["impact"][name], second[name], 7)

    @slow
    def test_the_setup_in_it_swings_the_same(self):
        (one,) = data(SETUP, *FEW)[0]["setups"]
        path = self.dir / "again.yaml"
        path.write_text(one["inputs"]["text"], encoding="utf-8")
        again = self.printed("swing", path)["impact"]
        for name, value in one["swing"]["impact"].items():
            if name != "energy_residual":
                self.assertAlmostEqual(again[name], value, delta=1e-9 * abs(value) + 1e-9, msg=name)

    @slow
    def test_questions(self):
        self.assertIn("this club", data(SETUP, *FEW)[0]["question"])
        self.assertIn("these two clubs", data(SETUP, OTHER, *FEW)[0]["question"])
        asked = data(SETUP, *FEW, "--question", "Lower, « bas »?", "--units", "trade")[0]
        self.assertEqual((asked["question"], asked["units"]), ("Lower, « bas »?", "trade"))

    @slow
    def test_no_folder_stands_in_it(self):
        shaft = self.dir / "mine.yaml"
        shutil.copy(MODELS / "shafts/neutral.yaml", shaft)
        words = (SETUP, *FEW, "--set", "shaft=%s" % shaft)
        status, out, err = run("report", *words, "--json")
        self.assertEqual((status, err), (0, ""))
        self.assertEqual(json.loads(out)["set"][-1], "shaft=mine.yaml")
        self.assertNotIn(str(self.dir), out)
        self.assertNotIn(str(MODELS), out)

    def test_without_habits_it_says_that_there_is_no_spread(self):
        words = (SETUP, OTHER, *FAST, *alone("none"))
        found, said = data(*words)
        self.assertIsNone(found["scatter"])
        self.assertFalse(found["compare"]["spread"]["known"])
        self.assertEqual(said.count("\n"), len(found["warnings"]))
        self.assertIn("no spread from swing to swing", said)
        for line, warning in zip(said.splitlines(), found["warnings"]):
            self.assertEqual(line, "caber: " + warning)

    @slow
    def test_a_shaft_that_knows_its_errors_has_the_uncertainty(self):
        shaft = self.dir / "measured.yaml"
        self.good("profile", MODELS / "readings/neutral.yaml", "--without", "neutral-spans.csv:44", "--output", shaft)
        words = ("--set", "shaft=%s" % shaft, *FAST)
        found, _ = data(SETUP, *words, "--swings", "100")
        (one,) = found["setups"]
        self.assertTrue(one["shaft"]["errors_known"])
        self.assertEqual(one["uncertainty"], self.printed("swing", SETUP, "--uncertainty", *words))
        self.assertIsNone(data(SETUP, *FEW)[0]["setups"][0]["uncertainty"])


class Errors(Case):
    def test_what_is_wrong_is_said(self):
        for words, status, text in (
                (["/no/such.yaml"], 1, "/no/such.yaml"), ([SETUP, "--seed", "x"], 1, "--seed"),
                ([SETUP, "--swings", "5"], 1, "--swings"), ([SETUP, "--set", "no.such=1"], 1, "no.such"),
                ([SETUP, "--question", b"\xff"], 1, "UTF-8"),
                ([SETUP, OTHER, "--set", "load.hub.peak=1 N m", "--set", "settings.time_limit=0.5 s"], 3, "ball")):
            words = [w if isinstance(w, bytes) else str(w) for w in words]
            done = run_bytes("report", *words, "--json")
            self.assertEqual((done[0], done[1]), (status, ""), words)
            self.assertIn(text, done[2])

    def test_without_the_page_it_says_what_is_missing(self):
        if WRITES:
            self.skipTest("the page is there")
        self.assertIn("--json", self.bad(3, "report", SETUP))

    @paged
    def test_nothing_is_written_over_unasked(self):
        path = self.dir / "a.html"
        path.write_text("mine")
        self.assertIn("--replace", self.bad(1, "report", SETUP, "--output", path, *FEW))
        self.assertEqual(path.read_text(), "mine")
        self.assertEqual(self.good("report", SETUP, "--output", path, "--replace", *FEW), "%s\n" % path)
        self.assertGreater(path.stat().st_size, 100000)

    @paged
    def test_a_failure_leaves_nothing(self):
        self.bad(1, "report", SETUP, *FEW, "--output", self.dir / "none/a.html")
        self.bad(1, "report", "absent.yaml", "--output", self.dir / "a.html")
        self.assertEqual(os.listdir(self.dir), [])
        (self.dir / "a.html").write_text("mine")
        folder = self.dir / "folder.html"
        folder.mkdir()
        self.bad(1, "report", SETUP, *FEW, "--output", folder, "--replace")
        self.assertEqual(sorted(os.listdir(self.dir)), ["a.html", "folder.html"])


def run_bytes(*words):
    return run(*words) if not any(isinstance(w, bytes) for w in words) else run_raw(words)


def run_raw(words):
    """As run, with words that are no text."""
    return run(*(os.fsdecode(w) for w in words))


@paged
class Html(Case):
    def written(self, *words, cwd=None, name="a.html"):
        path = self.dir / name
        self.good("report", *words, "--output", path, "--replace", cwd=cwd)
        return path.read_bytes()

    def test_the_same_input_gives_the_same_bytes(self):
        first = self.written(SETUP, *FEW)
        copy = self.dir / "elsewhere" / "models"
        shutil.copytree(MODELS, copy)
        second = self.written("setups/neutral-smooth.yaml", *FEW, "--threads", "1", cwd=copy, name="b.html")
        self.assertEqual(first, second)
        self.assertNotEqual(first, self.written(SETUP, *FEW, "--seed", "2"))

    def test_its_name_is_that_of_the_setup(self):
        out = self.good("report", SETUP, *FEW, cwd=self.dir)
        self.assertEqual(out, "neutral-smooth.html\n")
        self.assertEqual(os.listdir(self.dir), ["neutral-smooth.html"])

    def test_the_data_in_it_is_what_json_prints(self):
        page = Page(self.written(SETUP, OTHER, *FEW).decode())
        self.assertEqual(json.loads(page.texts["data"]), data(SETUP, OTHER, *FEW)[0])
        self.assertEqual(page.texts["title"], "Neutral, smooth; Firm tip, smooth")

    def test_it_is_small(self):
        self.assertLess(len(self.written(SETUP, OTHER, *FEW)), 2 * 2000000)

    def test_nothing_but_its_own_script_may_run_and_nothing_is_fetched(self):
        text = self.written(SETUP, *FEW).decode()
        page = Page(text)
        policy = next(m["content"] for m in page.attributes["meta"]
                      if m.get("http-equiv") == "Content-Security-Policy")
        rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
        self.assertEqual(rules["default-src"], "'none'")
        for tag, rule in (("script", "script-src"), ("style", "style-src")):
            # As the parser of HTML has it: from tag to tag.
            inner = re.search("<%s>(.*?)</%s>" % (tag, tag), text, re.S)[1]
            digest = base64.b64encode(hashlib.sha256(inner.encode()).digest()).decode()
            self.assertEqual(rules[rule], "'sha256-%s'" % digest)
        self.assertLess(text.index("Content-Security-Policy"), text.index("<style"))
        for values in page.attributes.values():
            for attribute in ("src", "href", "action"):
                for value in values:
                    self.assertIn(value.get(attribute, "data:,"), ("data:,",))
        self.assertIn("GPL-3.0-or-later", text)

    def test_texts_of_a_model_are_no_markup(self):
        hostile = "</script><img src=x onerror=alert(1)><!--<script>&amp; \u2028\u2029 'x\" é"
        clean = Page(self.written(SETUP, *FEW).decode())
        text = self.written(SETUP, *FEW, "--set", "name=%s" % hostile, "--question", hostile).decode()
        page = Page(text)
        self.assertEqual(page.tags, clean.tags)
        self.assertFalse("<img" in text)
        self.assertFalse("\u2028" in text[text.index("<script"):], "a line of a script ends there")
        found = json.loads(page.texts["data"])
        self.assertEqual(found["question"], hostile)
        self.assertEqual(found["setups"][0]["name"], page.texts["title"])
        self.assertIn("<img src=x", page.texts["title"])


if __name__ == "__main__":
    main()
