# SPDX-License-Identifier: GPL-3.0-or-later
"""caber swing: the table, JSON, --get, --set, swings without a ball."""
import json
import math
import re

from harness import Case, SETUP, SOURCE, main, run


def header_fields(table):
    """The rows of an X-macro table of the public header: lists of their arguments."""
    text = (SOURCE / "include/caber.h").read_text(encoding="utf-8").replace("\\\n", " ")
    body = re.search(r"#define %s\(X\)(.*)" % table, text)[1]
    return [re.findall(r'"[^"]*"|[^,"]+', row) for row in
            re.findall(r'X\(((?:"[^"]*"|[^")])*)\)', body)]


def words(row):
    return [word.strip().strip('"') for word in row if word.strip()]


IMPACT = [words(row) for row in header_fields("CABER_IMPACT_FIELDS")]
# member, SI unit, factor, name, unit, decimals, label, meaning, scope
NAMES = [row[3] for row in IMPACT]
STRAIGHT = [row[3] for row in IMPACT if row[-1] == "S"]


class Swing(Case):
    def test_the_header_was_understood(self):
        self.assertGreater(len(NAMES), 40)
        self.assertIn("head_speed_mps", STRAIGHT)
        self.assertNotIn("droop_mm", STRAIGHT)

    def test_table(self):
        text = self.good("swing", SETUP)
        self.golden("swing.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_every_field_is_in_the_table_once(self):
        lines = [line[2:21].rstrip() for line in self.good("swing", SETUP).split("\n")]
        labels = [row[6] for row in IMPACT]
        for label in set(labels):
            self.assertEqual(lines.count(label), labels.count(label), label)

    def test_json_is_complete_and_in_order(self):
        result = json.loads(self.good("swing", SETUP, "--json"))
        self.assertEqual(list(result), ["setup", "met_ball", "impact", "straight", "effort"])
        self.assertEqual(list(result["impact"]), NAMES)
        self.assertEqual(list(result["straight"]), STRAIGHT)
        self.assertIs(result["met_ball"], True)
        for value in [*result["impact"].values(), *result["straight"].values()]:
            self.assertTrue(math.isfinite(value))

    def test_get_gives_what_json_gives(self):
        result = json.loads(self.good("swing", SETUP, "--json"))
        line = self.good("swing", SETUP, "--get", ",".join(NAMES))
        self.assertEqual(line.count("\n"), 1)
        for name, text in zip(NAMES, line.split(), strict=True):
            self.assertAlmostEqual(float(text), result["impact"][name], delta=1e-12
                                   * abs(result["impact"][name]))
        line = self.good("swing", SETUP, "--get", ",".join("straight." + n for n in STRAIGHT))
        for name, text in zip(STRAIGHT, line.split(), strict=True):
            self.assertAlmostEqual(float(text), result["straight"][name], delta=1e-12
                                   * abs(result["straight"][name]))

    def test_the_same_swing_gives_the_same_bytes(self):
        self.assertEqual(self.good("swing", SETUP, "--json"), self.good("swing", SETUP, "--json"))

    def test_set(self):
        def moment(*more):
            return float(self.good("swing", SETUP, "--get", "peak_load_rate_nm_s", *more))
        quick = moment("--set", "load.grip.rise=0.03 s")
        self.assertGreater(quick, moment())
        # The last one counts, and a plain number is SI.
        self.assertEqual(quick, moment("--set", "load.grip.rise=60 ms", "--set",
                                       "load.grip.rise=0.03"))

    def test_options_may_stand_before_the_setup(self):
        self.assertEqual(self.good("swing", "--json", SETUP), self.good("swing", SETUP, "--json"))

    def test_a_swing_that_is_stopped_says_so(self):
        status, out, err = run("swing", SETUP, "--set", "settings.until=0.1 s")
        self.assertEqual(status, 0)
        self.assertRegex(err, r"\Acaber: .*settings.until.*no ball.*\n\Z")
        self.assertIn("settings.until", out)
        self.golden("swing-until.txt", out)
        status, out, _ = run("swing", SETUP, "--json", "--set", "settings.until=0.1 s")
        self.assertEqual(status, 0)
        self.assertIs(json.loads(out)["met_ball"], False)

    def test_a_ball_that_is_never_reached(self):
        message = self.bad(3, "swing", SETUP, "--set", "settings.time_limit=0.1 s")
        self.assertRegex(message, r"0\.1\d* s")
        self.bad(3, "swing", SETUP, "--json", "--set", "settings.time_limit=0.1 s")


if __name__ == "__main__":
    main()
