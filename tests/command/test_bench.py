# SPDX-License-Identifier: GPL-3.0-or-later
"""caber bench and caber fields."""
import json
import math
import unittest

from harness import Case, SETUP, SLOW, main, run, some

KEYS = ("shaft", "cpm", "twist_deg", "club_mass_kg", "balance_point_m", "swing_weight",
        "inertia_butt_kgm2", "bend_point_m", "frequencies_hz")


class Bench(Case):
    def value(self, name, *more):
        return float(self.good("bench", SETUP, "--get", name, *more))

    def test_table(self):
        text = self.good("bench", SETUP)
        self.golden("bench.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_json(self):
        result = json.loads(self.good("bench", SETUP, "--json"))
        for key in KEYS:
            self.assertIn(key, result)
        listed = [row["name"] for row in json.loads(self.good("fields", "bench", "--json"))["bench"]]
        line = self.good("bench", SETUP, "--get", ",".join(listed)).split()
        for name, text in zip(listed, line, strict=True):
            self.assertTrue(math.isfinite(result[name]), name)
            self.assertAlmostEqual(float(text), result[name], delta=1e-12 * abs(result[name]))
        self.assertEqual(sorted(result["frequencies_hz"]), result["frequencies_hz"])

    def test_the_jig(self):
        self.assertLess(self.value("cpm", "--clamp", "3 in"), self.value("cpm", "--clamp", "8 in"))
        self.assertLess(self.value("cpm", "--tip-mass", "220 g"),
                        self.value("cpm", "--tip-mass", "200 g"))
        one, two = (self.value("twist_deg", "--torque", t) for t in ("1 ft lbf", "2 ft lbf"))
        self.assertAlmostEqual(two, 2 * one, delta=1e-9 * two)
        one, two = (self.value("tip_deflection_mm", "--load", t) for t in ("5 N", "10 N"))
        self.assertAlmostEqual(two, 2 * one, delta=1e-9 * two)
        # A plain number is SI, and units of one length agree.
        self.assertEqual(self.value("cpm", "--clamp", "127 mm"), self.value("cpm", "--clamp", "0.127"))
        self.assertAlmostEqual(self.value("cpm", "--clamp", "5 in"),
                               self.value("cpm", "--clamp", "127 mm"), delta=1e-6)

    def test_the_three_point_bend(self):
        def spans(*more):
            result = json.loads(self.good("bench", SETUP, "--json", *more))
            return result["span_at_m"], result["span_deflection_mm"], result["span_ei_nm2"]
        at, sag, stiffness = spans("--span", "300 mm", "--span-load", "20 N")
        _, twice, same = spans("--span", "300 mm", "--span-load", "40 N")
        self.assertTrue(at)
        for one, two, a, b in zip(sag, twice, stiffness, same, strict=True):
            self.assertAlmostEqual(two, 2 * one, delta=1e-9 * two)
            self.assertAlmostEqual(a, b, delta=1e-9 * a)

    def test_modes(self):
        for count in (1, 3, 8):
            result = json.loads(self.good("bench", SETUP, "--json", "--modes", count))
            self.assertEqual(len(result["frequencies_hz"]), count)

    def test_lists_of_clamps_and_tip_masses(self):
        default = json.loads(self.good("bench", SETUP, "--json"))
        table = default["frequency_table"]
        self.assertEqual(len(table["cpm"]), len(table["clamp_m"]))
        self.assertEqual(table["cpm"][0][table["tip_mass_kg"].index(0.205)], default["cpm"])
        result = json.loads(self.good("bench", SETUP, "--json", "--clamp", "7 in,5in",
                                      "--tip-mass", "0 g,198 g,0.21 kg"))
        table = result["frequency_table"]
        self.assertEqual([round(c / 0.0254, 9) for c in table["clamp_m"]], [7, 5])
        self.assertEqual(table["tip_mass_kg"], [0, 0.198, 0.21])
        self.assertEqual(result["jig"]["clamp_m"], table["clamp_m"][0])
        self.assertAlmostEqual(result["cpm"], table["cpm"][0][0], delta=1e-6)
        for clamp, row in zip(("7 in", "5 in"), table["cpm"], strict=True):
            for mass, cpm in zip(("0 g", "198 g", "210 g"), row, strict=True):
                self.assertAlmostEqual(cpm, self.value("cpm", "--clamp", clamp, "--tip-mass", mass),
                                       delta=1e-6)
        text = self.good("bench", SETUP, "--clamp", "7 in,5in", "--tip-mass", "0 g,198 g")
        self.assertRegex(text, r"\n  clamp +as built +198\.0 g\n  177\.8 mm +[\d.]+ +[\d.]+\n  127\.0 mm")
        for option, words in some((("--clamp", "5 in,7"), ("--clamp", "0,127"), ("--clamp", "5 in,,7 in"),
                              ("--clamp", "5 in,"), ("--clamp", ",5 in"), ("--clamp", "5 in,9 m"),
                              ("--tip-mass", "0,205"), ("--tip-mass", "0,2 kg"),
                              ("--tip-mass", "200 g,-1 g"), ("--tip-mass", "1 g," * 8 + "1 g"),
                              ("--clamp", "5 in,7 g"), ("--clamp", "5 in,nan m"))):
            self.bad(1, "bench", SETUP, "%s=%s" % (option, words))
            self.bad(1, "bench", SETUP, "%s=%s" % (option, words), "--get", "cpm")

    def test_the_rules(self):
        rules = {row["name"]: row for row in json.loads(self.good("bench", SETUP, "--json"))["rules"]}
        self.assertEqual(rules["length_m"]["stands"], "within")
        self.assertAlmostEqual(rules["length_m"]["figure"], self.value("playing_length_m"), delta=1e-12)
        self.assertEqual(rules["head_volume_cm3"]["figure"], None)
        self.assertEqual(rules["characteristic_time_us"]["stands"], "not known")
        for words, name, stands in (
                (["head.inertia.up=6001 g cm2", "head.inertia.toe=3900 g cm2"], "head_inertia_gcm2",
                 "beyond"), (["grip.cap=20 mm"], "length_local_m", "beyond"),
                (["shaft.stations[3].ei_2=21 N m2"], "bending_difference_percent", "beyond")):
            sets = [w for word in words for w in ("--set", word)]
            rules = {row["name"]: row
                     for row in json.loads(self.good("bench", SETUP, "--json", *sets))["rules"]}
            self.assertEqual(rules[name]["stands"], stands, name)
            self.assertRegex(self.good("bench", SETUP, *sets), "check with the rules body")

    def test_a_length_that_is_not_known(self):
        unknown = ("--set", "head.sole.up=0", "--set", "head.sole.toe=0")
        result = json.loads(self.good("bench", SETUP, "--json", *unknown))
        self.assertIsNone(result["playing_length_m"])
        self.assertIsNone(result["playing_length_in"])
        self.assertIn("not known  m", self.good("bench", SETUP, *unknown))
        self.assertIn("head.sole", self.bad(1, "bench", SETUP, "--get", "cpm,playing_length_m", *unknown))
        self.good("bench", SETUP, "--get", "cpm,tip_trim_mm", *unknown)

    @unittest.skipIf(SLOW, "whole swings as in others")
    def test_a_wanted_length(self):
        length = ("--set", "build.length=45 in")
        first = self.value("playing_length_in", *length, "--set", "build.butt_trim=0")
        self.assertAlmostEqual(first, 45, delta=1e-9)
        # The cut that follows is a cut like any other, to the swing and to its sensitivities too.
        butt = self.value("butt_trim_mm", *length, "--set", "build.butt_trim=0")
        same = ("--set", "build.butt_trim=%.17g mm" % butt)
        length += ("--set", "build.butt_trim=0")
        words = ("swing", SETUP, "--sensitivity", "--parts", "2", "--json")
        one, two = (json.loads(self.good(*words, *sets))["sensitivity"] for sets in (length, same))
        for key in ("from_mm", "to_mm", "bends_mm"):
            for a, b in zip(one[key], two[key], strict=True):
                self.assertAlmostEqual(a, b, delta=1e-9)
        self.assertAlmostEqual(one["impact"]["loft_change_deg"], two["impact"]["loft_change_deg"],
                               delta=1e-6)
        length = length[:2]
        self.assertIn("build.butt_trim", self.bad(1, "bench", SETUP, *length))
        self.assertIn("build.length", self.bad(1, "bench", SETUP, "--set", "build.length=50 in",
                                               "--set", "build.butt_trim=0"))

    def test_the_trim_table(self):
        self.golden("trims.txt", self.good("bench", SETUP, "--trim-table"))
        if SLOW:
            return
        self.assertLessEqual(max(map(len, self.good("bench", SETUP, "--trim-table").split("\n"))), 100)
        result = json.loads(self.good("bench", SETUP, "--trim-table", "--json"))
        rows = result["trims"]
        self.assertEqual([round(row["tip_trim_mm"] / 6.35, 6) for row in rows if not row["as_it_is"]],
                         list(range(9)))
        own = next(row for row in rows if row["as_it_is"])
        self.assertEqual((own["tip_trim_mm"], own["butt_trim_mm"]), (12, 48))
        for row in (rows[0], own, rows[-1]):
            sets = ("--set", "build.tip_trim=%.17g mm" % row["tip_trim_mm"],
                    "--set", "build.butt_trim=%.17g mm" % row["butt_trim_mm"])
            for name in ("cpm", "twist_deg", "swing_moment_kgm", "mouth_diameter_mm"):
                self.assertAlmostEqual(row[name], self.value(name, *sets), delta=1e-9)
            for name in ("loft_change_deg", "peak_handle_moment_nm", "lead_deflection_mm"):
                swung = float(self.good("swing", SETUP, "--get", name, *sets))
                self.assertAlmostEqual(row[name], swung, delta=1e-6)
            self.assertAlmostEqual(self.value("playing_length_m", *sets),
                                   self.value("playing_length_m"), delta=1e-12)
        # A stiffer club with every cut; its own trim is one of the quarters where it fits.
        for one, two in zip(rows, rows[1:]):
            self.assertLess(one["cpm"], two["cpm"])
            self.assertGreater(one["twist_deg"], two["twist_deg"])
        quarters = json.loads(self.good("bench", SETUP, "--trim-table", "--json",
                                        "--set", "build.tip_trim=0.5 in"))["trims"]
        self.assertEqual([row["as_it_is"] for row in quarters], [i == 2 for i in range(9)])
        # Where the shaft is too short, so it says.
        short = ("--set", "build.butt_trim=10 mm")
        rows = json.loads(self.good("bench", SETUP, "--trim-table", "--json", *short))["trims"]
        self.assertAlmostEqual(rows[-1]["short_mm"], 50.8 - 22, delta=1e-9)
        self.assertNotIn("cpm", rows[-1])
        self.assertIn("the shaft is 28.8 mm too short", self.good("bench", SETUP, "--trim-table", *short))
        self.bad(2, "bench", SETUP, "--trim-table", "--get", "cpm")
        self.assertIn("tip trim of", self.bad(3, "bench", SETUP, "--trim-table",
                                              "--set", "settings.time_limit=0.1 s"))
        status, out, said = run("bench", SETUP, "--trim-table", "--set", "settings.until=0.1 s")
        self.assertEqual(status, 0)
        self.assertIn("no ball", said)
        self.assertTrue(out)

    def test_bad_quantities(self):
        for option, text in some((("--clamp", "127 g"), ("--clamp", "0,1"), ("--clamp", "0.1x"),
                             ("--clamp", "nan"), ("--clamp", "-1 m"), ("--clamp", "9 m"),
                             ("--tip-mass", "205 mm"), ("--tip-mass", "-1 g"),
                             ("--torque", "1 furlong"), ("--load", "1e999"), ("--span", ""),
                             ("--span", "0 m"), ("--span-load", "inf"), ("--modes", "0"),
                             ("--modes", "2.5"), ("--modes", "1000000"))):
            self.bad(1, "bench", SETUP, option + "=" + text)

    def test_bad_quantities_name_the_option(self):
        for option in some(("--clamp", "--tip-mass", "--torque", "--load", "--span", "--span-load",
                            "--modes")):
            self.assertIn(option + ":", self.bad(1, "bench", SETUP, option, "3 parsec"))


class Fields(Case):
    def test_kinds(self):
        whole = self.good("fields")
        for kind in ("files", "shaft", "head", "grip", "player", "setup", "readings", "impact",
                     "series", "bench"):
            text = self.good("fields", kind)
            self.assertIn(text, whole)
            self.assertGreater(text.count("\n"), 10)
        for key in ("tip_trim", "omega_max", "inclination", "gj", "tolerance"):
            self.assertIn(key, self.good("fields", "files"))
        readings = self.good("fields", "readings")
        for key in ("spans[].table.deflection", "mass_error", "twists[].couple", "leave_out[].line"):
            self.assertIn(key, readings)
        self.assertNotIn("insertion", readings)

    def test_json(self):
        result = json.loads(self.good("fields", "--json"))
        self.assertEqual(list(result), ["impact", "shot", "series", "bench", "measured"])
        swing = json.loads(self.good("swing", SETUP, "--json"))
        self.assertEqual([row["name"] for row in result["impact"] + result["shot"]],
                         list(swing["impact"]))
        for rows in result.values():
            for row in rows:
                self.assertTrue(row["meaning"])


if __name__ == "__main__":
    main()
