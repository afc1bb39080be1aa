# SPDX-License-Identifier: GPL-3.0-or-later
"""caber bench and caber fields."""
import json
import math

from harness import Case, SETUP, main

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

    def test_bad_quantities(self):
        for option, text in (("--clamp", "127 g"), ("--clamp", "0,1"), ("--clamp", "0.1x"),
                             ("--clamp", "nan"), ("--clamp", "-1 m"), ("--clamp", "9 m"),
                             ("--tip-mass", "205 mm"), ("--tip-mass", "-1 g"),
                             ("--torque", "1 furlong"), ("--load", "1e999"), ("--span", ""),
                             ("--span", "0 m"), ("--span-load", "inf"), ("--modes", "0"),
                             ("--modes", "2.5"), ("--modes", "1000000")):
            self.bad(1, "bench", SETUP, option + "=" + text)

    def test_bad_quantities_name_the_option(self):
        for option in ("--clamp", "--tip-mass", "--torque", "--load", "--span", "--span-load",
                       "--modes"):
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
        self.assertEqual(list(result), ["impact", "series", "bench"])
        swing = json.loads(self.good("swing", SETUP, "--json"))
        self.assertEqual([row["name"] for row in result["impact"]], list(swing["impact"]))
        for rows in result.values():
            for row in rows:
                self.assertTrue(row["meaning"])


if __name__ == "__main__":
    main()
