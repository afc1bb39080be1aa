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
SHOT = [words(row) for row in header_fields("CABER_SHOT_FIELDS")]
# member, SI unit, factor, name, unit, decimals, label, meaning
BALL = [row[3] for row in SHOT]
HEAD = [row[3] for row in IMPACT]
NAMES = HEAD + BALL
STRAIGHT = [row[3] for row in IMPACT if row[-1] == "S"] + BALL
SETS = ["bearman-harvey", "smits-smith", "lyu"]
# The ball of this club does not rise, nor does that of the straight one.
LOW = ("swing", SETUP, "--set", "head.loft=0 deg")


class Swing(Case):
    def test_the_header_was_understood(self):
        self.assertGreater(len(NAMES), 40)
        self.assertIn("head_speed_mps", STRAIGHT)
        self.assertNotIn("droop_mm", STRAIGHT)
        self.assertEqual(len(BALL), 16)

    def test_table(self):
        text = self.good("swing", SETUP)
        self.golden("swing.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_every_field_is_in_the_table_once(self):
        lines = [line[2:21].rstrip() for line in self.good("swing", SETUP).split("\n")]
        labels = [row[6] for row in IMPACT + SHOT]
        for label in set(labels):
            self.assertEqual(lines.count(label), labels.count(label), label)

    def test_json_is_complete_and_in_order(self):
        result = json.loads(self.good("swing", SETUP, "--json"))
        self.assertEqual(list(result), ["setup", "met_ball", "impact", "straight", "ball", "effort"])
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
        found = json.loads(out)
        self.assertIs(found["met_ball"], False)
        self.assertFalse(set(BALL) & {*found["impact"], *found["straight"]})
        for club in ("impact", "straight"):
            self.assertIs(found["ball"][club]["flies"], False)
            self.assertIn("settings.until", found["ball"][club]["why"])

    def test_a_ball_that_is_never_reached(self):
        message = self.bad(3, "swing", SETUP, "--set", "settings.time_limit=0.1 s")
        self.assertRegex(message, r"0\.1\d* s")
        self.bad(3, "swing", SETUP, "--json", "--set", "settings.time_limit=0.1 s")


class Ball(Case):
    def numbers(self, names, *more):
        return [float(n) for n in self.good("swing", SETUP, "--get", names, *more).split()]

    def test_the_sets_of_drag_and_lift(self):
        """The chosen one's carry, the least and the most of all; and which were left."""
        carries = []
        for name in SETS:
            found = json.loads(self.good("swing", SETUP, "--json", "--set",
                                         "ball.coefficients=" + name))
            self.assertEqual(list(found["ball"]), ["coefficients", "impact", "straight"])
            self.assertEqual(found["ball"]["coefficients"], name)
            carries.append(found["impact"]["carry_m"])
            ends = found["impact"]["carry_low_m"], found["impact"]["carry_high_m"]
            outside = found["ball"]["impact"]["outside_range"]
            self.assertTrue(set(outside) <= set(SETS))
            text = self.good("swing", SETUP, "--set", "ball.coefficients=" + name)
            for one in SETS:
                line = re.search(r"^  %s +(within|outside) +(within|outside)(.*)$" % one, text, re.M)
                self.assertEqual(line[1], "outside" if one in outside else "within")
                self.assertEqual("by which the ball flies" in line[3], one == name)
        self.assertEqual(ends, (min(carries), max(carries)))
        self.assertGreater(max(carries), 1.05 * min(carries))

    def test_where_it_is_struck(self):
        names = "struck_toe_mm,struck_high_mm,strike_toe_mm,strike_high_mm,straight.struck_toe_mm"
        toe, high, strike_toe, strike_high, straight = self.numbers(names)
        self.assertEqual((toe, high, straight), (0, 0, 0))
        toe, high, *_, straight = self.numbers(names, "--set", "player.ball.strike=placed")
        self.assertEqual((toe, high, straight), (strike_toe, strike_high, 0))

    def test_air(self):
        """Thin air and a tail wind carry further; a left-handed player has the other side of the wind."""
        loft = "--set", "head.loft=14 deg"
        self.assertGreater(self.numbers("carry_m", "--set", "air.wind_along=5 m/s", *loft)[0],
                           self.numbers("carry_m", *loft)[0])
        carry, side = self.numbers("carry_m,side_m")
        self.assertLess(self.numbers("side_m", "--set", "air.wind_across=-5 m/s")[0], side - 1)
        left = "--set", "player.handed=left"
        self.assertEqual(self.numbers("carry_m,side_m", *left), [carry, side])
        self.assertGreater(self.numbers("side_m", "--set", "air.wind_across=-5 m/s", *left)[0], side + 1)
        for air in ("temperature=35 degC", "altitude=2000 m", "pressure=850 hPa", "humidity=90 %"):
            self.assertNotEqual(self.numbers("carry_m", "--set", "air." + air)[0], carry, air)

    def test_sides_are_those_of_the_hand(self):
        right = self.good("swing", SETUP)
        left = self.good("swing", SETUP, "--set", "player.handed=left")
        for label in ("launch direction", "side"):
            row = r"^  %s +\S+ +\S+  \S+ +%s "
            self.assertRegex(right, "(?m)" + row % (label, "right"))
            self.assertRegex(left, "(?m)" + row % (label, "left"))
        self.assertEqual(re.findall(r"fade|draw", right), re.findall(r"fade|draw", left))

    def test_a_ball_that_does_not_rise(self):
        status, out, err = run(*LOW)
        self.assertEqual(status, 0)
        said = r"the ball does not rise: it leaves the face at [\d.]+ m/s, [\d.]+ deg below"
        self.assertEqual(len(re.findall(said, err)), 2)
        self.assertRegex(out.replace("\n", " "), r"No flight of the club's ball: " + said)
        self.assertIn("The shaft at impact", out)
        self.assertNotIn("carry", out)
        status, out, _ = run(*LOW, "--json")
        found = json.loads(out)
        self.assertEqual((status, found["met_ball"]), (0, True))
        self.assertFalse(set(BALL) & {*found["impact"], *found["straight"]})
        self.assertEqual(list(found["ball"]["impact"]), ["flies", "why"])
        self.assertRegex(found["ball"]["straight"]["why"], said)
        self.assertEqual(self.good(*LOW, "--get", "head_speed_mps").count("\n"), 1)
        for name in ("carry_m", "straight.smash_factor"):
            self.assertIn("there is no %s: the ball does not rise" % name,
                          self.bad(3, *LOW, "--get", "head_speed_mps," + name))

    def test_one_club_whose_ball_does_not_rise(self):
        words = ("swing", SETUP, "--set", "head.loft=4 deg")
        status, out, err = run(*words)
        self.assertEqual(status, 0)
        self.assertRegex(err, r"\Acaber: no flight of the straight club's ball: .*\n\Z")
        self.assertRegex(out, r"(?m)^  carry +[\d.]+ {12}m ")
        self.assertLessEqual(max(map(len, out.split("\n"))), 100)
        found = json.loads(run(*words, "--json")[1])
        self.assertIn("carry_m", found["impact"])
        self.assertNotIn("carry_m", found["straight"])
        self.assertIn("outside_range", found["ball"]["impact"])

    def test_what_cannot_be_a_ball_or_air(self):
        for wrong in ("ball.mass=1 kg", "ball.diameter=9 mm", "ball.coefficients=mine",
                      "air.temperature=20 mm", "air.temperature=-300 degC", "air.pressure=1013 bar",
                      "air.humidity=110 %", "head.restitution=1.2", "player.ball.strike=near"):
            self.assertIn(wrong.split("=")[0], self.bad(1, "swing", SETUP, "--set", wrong), wrong)


if __name__ == "__main__":
    main()
