# SPDX-License-Identifier: GPL-3.0-or-later
"""caber swing --sensitivity: the table, JSON, and the same numbers from swings that the program runs
with sections in the setup."""
import json
import math
import re
import unittest

from harness import Case, SETUP, SLOW, main, printed, run
from test_swing import HEAD as NAMES

WORDS = ("swing", SETUP, "--sensitivity")
# Printed places of what the table shows, in its order.
COLUMNS = {"loft_change_deg": 3, "face_rotation_deg": 3, "lead_deflection_mm": 2, "droop_mm": 2,
           "head_speed_mps": 3, "peak_lag_mm": 2, "peak_handle_moment_nm": 2}


class Sensitivity(Case):
    def found(self, *more):
        return json.loads(self.once(*WORDS, *more, "--json"))["sensitivity"]

    @unittest.skipIf(SLOW, "a hundred whole swings")
    def test_table(self):
        text = self.once(*WORDS)
        self.golden("sensitivity.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    @unittest.skipIf(SLOW, "swings as in others")
    def test_table_and_json_agree(self):
        text, found = (printed(*WORDS, *more)[1] for more in ((), ("--json",)))
        found = json.loads(found)["sensitivity"]
        self.assertIn("in 10 parts", text)
        sections = re.split(r"^10 % more .*$", text, flags=re.M)
        for what, section in zip(("ei", "gj"), sections[1:], strict=True):
            rows = [line[28:].split() for line in section.strip("\n").split("\n")]
            self.assertEqual(rows[9], ["in", "the", "hands"])
            rows[9] = [0] * len(COLUMNS)
            whole = found[what]["whole"]
            for c, (name, places) in enumerate(COLUMNS.items()):
                first = found[what]["parts"]["first"][name]
                want = [*first, sum(first), whole["first"][name], whole["anew"][name]]
                for row, value in zip(rows, want):
                    self.assertAlmostEqual(float(row[c]), value, delta=0.5001 * 10 ** -places)

    @unittest.skipIf(SLOW, "hundreds of whole swings")
    def test_a_number_that_is_not_settled_is_marked(self):
        # Nothing damps the shaft, and a transition of a millisecond makes it ring.
        words = ("--parts", 3, "--set", "load.grip.rise=1 ms", "--set", "shaft.damping=0")
        found, text = self.found(*words), self.once(*WORDS, *words)
        self.assertIn("\n~ Two estimates", text)
        self.assertNotIn("~", self.once(*WORDS))
        marks = set()
        for what, section in zip(("ei", "gj"), re.split(r"^10 % more .*$", text, flags=re.M)[1:]):
            rows = [line[28:].split() for line in section.strip("\n").split("\n")]
            for c, (name, places) in enumerate(COLUMNS.items()):
                for i, apart in enumerate(found[what]["parts"]["apart"][name]):
                    marks.add(rows[i][c].startswith("~"))
                    self.assertEqual(rows[i][c].startswith("~"), apart > 10.0 ** -places)
        self.assertEqual(marks, {True, False})

    @unittest.skipIf(SLOW, "a hundred whole swings")
    def test_a_sentence_says_what_is_greatest(self):
        found = self.found()
        text = self.once(*WORDS)
        for label, name in (("loft change", "loft_change_deg"), ("face rotation", "face_rotation_deg"),
                            ("lead", "lead_deflection_mm"), ("peak lag", "peak_lag_mm")):
            most, what, part = max((abs(value), what, i) for what in ("ei", "gj") for i, value in
                                   enumerate(found[what]["parts"]["first"][name]))
            self.assertRegex(text, r"(?m)^  %s +%s from %.0f to %.0f mm: 10 %% more there takes off %.*f "
                             % (label, what.upper(), found["from_mm"][part], found["to_mm"][part],
                                COLUMNS[name], most))

    @unittest.skipIf(SLOW, "swings as in others")
    def test_rigid_parts_are_said_to_be(self):
        _, text, _ = run(*WORDS, "--parts", 20, "--set", "build.insertion=60 mm", "--set",
                         "settings.until=0.01 s")
        self.assertIn("in 20 parts", text)
        self.assertEqual(len(re.findall(r"^  tip +12 +67 +0    in the hosel$", text, re.M)), 2)
        self.assertEqual(text.count("in the hosel\n"), 2)
        self.assertEqual(text.count("in the hands\n"), 4)

    def test_json_is_complete_and_finite(self):
        found = self.found("--parts", 2)
        self.assertEqual(list(found), ["setup", "met_ball", "impact", "from_mm", "to_mm", "bends_mm",
                                       "ei", "gj"])
        self.assertEqual(list(found["impact"]), NAMES)
        self.assertEqual([len(found[key]) for key in ("from_mm", "to_mm", "bends_mm")], [2, 2, 2])
        for what in ("ei", "gj"):
            self.assertEqual(list(found[what]), ["parts", "whole"])
            for where in ("parts", "whole"):
                self.assertEqual(list(found[what][where]), ["first", "apart", "anew"])
                for values in found[what][where].values():
                    self.assertEqual(list(values), [n for n in NAMES if n != "energy_residual"])
                    for value in values.values():
                        for number in value if where == "parts" else [value]:
                            self.assertTrue(math.isfinite(number))

    @unittest.skipIf(SLOW, "whole swings at fine settings")
    def test_plain_swings_with_sections_say_the_same(self):
        """Central differences of `caber swing` with the shaft's sections set by hand: +-5 % and +-10 %,
        of a tenth, extrapolated; +10 % itself is `anew`."""
        found = self.found()
        names = list(COLUMNS)[:-1]
        for part, what in ((2, "ei"), (4, "gj")):
            def swing(scale, part=part, what=what):
                words = ["swing", SETUP, "--get", ",".join(names)]
                for text in ("shaft.sections[0].from=%.17g mm" % found["from_mm"][part],
                             "shaft.sections[0].to=%.17g mm" % found["to_mm"][part],
                             "shaft.sections[0].%s_scale=%.17g" % (what, scale),
                             "settings.tolerance=1e-10", "settings.elements=100"):
                    words += ["--set", text]
                return [float(text) for text in self.good(*words).split()]
            base, ten, less, five, fewer = map(swing, (1, 1.1, 1 / 1.1, 1.05, 1 / 1.05))
            first, anew = (found[what]["parts"][key] for key in ("first", "anew"))
            for i, name in enumerate(names):
                wide = (ten[i] - less[i]) / (2 * math.log(1.1))
                narrow = (five[i] - fewer[i]) / (2 * math.log(1.05))
                ratio = (math.log(1.1) / math.log(1.05)) ** 2
                value = 0.1 * (ratio * narrow - wide) / (ratio - 1)
                # A tenth of the last printed place; the mesh of these has not every tenth's edge.
                delta = 0.1 * 10.0 ** -COLUMNS[name]
                self.assertAlmostEqual(first[name][part], value, delta=delta, msg=name)
                self.assertAlmostEqual(anew[name][part], ten[i] - base[i], delta=delta, msg=name)

    @unittest.skipIf(SLOW, "swings as before")
    def test_the_same_bytes_twice(self):
        self.assertEqual(self.good(*WORDS, "--parts", 2, "--json"),
                         self.good(*WORDS, "--parts", 2, "--json"))

    def test_a_swing_that_is_stopped_says_so(self):
        words = (*WORDS, "--parts", 2, "--set", "settings.until=%s s" % (0.02 if SLOW else 0.1))
        status, out, err = run(*words)
        self.assertEqual(status, 0)
        self.assertRegex(err, r"\Acaber: .*settings.until.*no ball.*\n\Z")
        self.assertIn("settings.until", out)
        status, out, _ = run(*words, "--json")
        self.assertIs(json.loads(out)["sensitivity"]["met_ball"], False)

    def test_swings_that_fail(self):
        self.assertIn("never reached the ball: at 0.1000 s",
                      self.bad(3, *WORDS, "--set", "settings.time_limit=0.1 s"))
        # The swing as it is just reaches the ball; with some stiffness less it takes longer.
        limit = self.found("--parts", 2)["impact"]["downswing_time_s"] + 1e-9
        message = self.bad(3, *WORDS, "--set", "settings.time_limit=%.17g s" % limit)
        self.assertRegex(message, r"\Acaber: with (EI|GJ) times [\d.]+ from \d+ to \d+ mm: the head "
                         "never reached the ball")

    def test_counts(self):
        for text in ("1", "51", "ten", "3.5", "", "-4", "9" * 30):
            self.assertIn("--parts: '%s' is not a whole number from 2 to 50" % text,
                          self.bad(1, *WORDS, "--parts=" + text))
        self.assertIn("head.mass", self.bad(1, *WORDS, "--set", "head.mass=9 kg"))

    def test_what_goes_together(self):
        for more, words in ((("--get", "droop_mm"), "--get"), (("--series", "a.csv"), "--series")):
            self.assertIn(words, self.bad(2, *WORDS, *more))
        self.assertIn("--sensitivity", self.bad(2, "swing", SETUP, "--parts", 4))
        self.bad(2, *WORDS, "--parts")


if __name__ == "__main__":
    main()
