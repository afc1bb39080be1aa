# SPDX-License-Identifier: GPL-3.0-or-later
"""Every kind of mistake in the input: exit status 1, with file, line, column and field."""
import re
import shutil

from harness import Case, MODELS, main, some

BUILD = "build: {tip_trim: 12 mm, butt_trim: 48 mm, insertion: 30 mm, hold: 120 mm}"


class Errors(Case):
    def setUp(self):
        super().setUp()
        shutil.copytree(MODELS, self.dir / "models")
        self.setup = self.dir / "models/setups/neutral-smooth.yaml"

    def spoil(self, file, old, new):
        """Replaces a text that stands once in a model file; returns the line where it stands."""
        path = self.dir / "models" / file
        text = path.read_text(encoding="utf-8")
        self.assertEqual(text.count(old), 1, old)
        path.write_text(text.replace(old, new), encoding="utf-8")
        return path, text[:text.index(old)].count("\n") + 1

    def expect(self, path, line, column, field, message):
        """The message must begin with the place and name the field."""
        found = re.match(r"caber: (.+?):(\d+):(\d+): (.+)", message)
        self.assertTrue(found, message)
        self.assertTrue(found[1].endswith(path.name), message)
        self.assertEqual(int(found[2]), line, message)
        if column:
            self.assertEqual(int(found[3]), column, message)
        self.assertIn(field, found[4], message)

    def broken_value(self, text, field="tip_trim"):
        """A setup whose tip trim is `text`."""
        path, line = self.spoil("setups/neutral-smooth.yaml", "tip_trim: 12 mm", "tip_trim: " + text)
        self.expect(path, line, BUILD.index("12 mm") + 1, field, self.bad(1, "swing", self.setup))

    def test_unknown_unit(self):
        self.broken_value("12 furlong")

    def test_wrong_dimension(self):
        self.broken_value("12 kg")

    def test_trailing_text(self):
        self.broken_value("0.1x")

    def test_decimal_comma(self):
        self.broken_value("'0,1'")

    def test_decimal_comma_of_a_plain_number(self):
        # In a flow mapping the comma ends the value: what stands behind it is an unknown key.
        _, line = self.spoil("setups/neutral-smooth.yaml", "tip_trim: 12 mm", "tip_trim: 0,1")
        self.assertIn(":%d:" % line, self.bad(1, "swing", self.setup))

    def test_beyond_a_double(self):
        self.broken_value("1e999 mm")

    def test_not_a_number(self):
        self.broken_value("nan")
        self.setUp()
        self.broken_value(".inf")

    def test_hexadecimal(self):
        self.broken_value("0x10 mm")

    def test_a_list_where_a_number_belongs(self):
        self.broken_value("[12 mm]")

    def test_impossible(self):
        self.broken_value("-12 mm")

    def test_missing_value(self):
        path, line = self.spoil("heads/driver-10.yaml", "mass: 198 g", "mass:")
        self.expect(path, line, 0, "mass", self.bad(1, "swing", self.setup))

    def test_missing_key(self):
        path, _ = self.spoil("heads/driver-10.yaml", "mass: 198 g\n", "")
        self.expect(path, 1, 0, "mass", self.bad(1, "swing", self.setup))

    def test_impossible_head(self):
        for new in ("mass: 0 g", "mass: -198 g", "mass: 9 kg"):
            path, line = self.spoil("heads/driver-10.yaml", "mass: 198 g", new)
            self.expect(path, line, 7, "mass", self.bad(1, "swing", self.setup))
            shutil.copy(MODELS / "heads/driver-10.yaml", path)

    def test_impossible_inertia(self):
        # No body has one principal moment above the sum of the other two.
        path, _ = self.spoil("heads/driver-10.yaml", "  up: 4600 g cm2", "  up: 46000 g cm2")
        message = self.bad(1, "swing", self.setup)
        self.assertIn(path.name, message)
        self.assertIn("inertia", message)

    def test_unknown_key(self):
        path, line = self.spoil("setups/neutral-smooth.yaml", "tip_trim: 12 mm", "tip_trimm: 12 mm")
        self.expect(path, line, BUILD.index("tip_trim") + 1, "tip_trimm",
                    self.bad(1, "swing", self.setup))

    def test_repeated_key(self):
        path, line = self.spoil("setups/neutral-smooth.yaml", "tip_trim: 12 mm",
                                "tip_trim: 12 mm, tip_trim: 13 mm")
        self.expect(path, line, 0, "tip_trim", self.bad(1, "swing", self.setup))

    def test_missing_file(self):
        path, line = self.spoil("setups/neutral-smooth.yaml", "../heads/driver-10.yaml",
                                "../heads/none.yaml")
        message = self.bad(1, "swing", self.setup)
        self.assertIn("none.yaml", message)
        self.assertIn("%s:%d:" % (path.name, line), message)
        self.assertIn("nowhere.yaml", self.bad(1, "swing", self.dir / "nowhere.yaml"))
        self.bad(1, "swing", self.dir)

    def test_no_yaml(self):
        path, line = self.spoil("setups/neutral-smooth.yaml", BUILD, "build: {tip_trim: [12 mm}")
        self.assertRegex(self.bad(1, "swing", self.setup), r"%s:%d:\d+: " % (path.name, line))
        self.setup.write_bytes(b"kind: setup\nname: \xff\n")
        self.bad(1, "swing", self.setup)
        self.setup.write_bytes(b"")
        self.bad(1, "swing", self.setup)

    def test_wrong_kind_of_file(self):
        self.assertIn("kind", self.bad(1, "swing", MODELS / "heads/driver-10.yaml"))

    def test_stations(self):
        for new in ("at: -40 mm", "at: 40 kg", "at: 9 m"):
            shutil.copy(MODELS / "shafts/neutral.yaml", self.dir / "models/shafts/neutral.yaml")
            path, line = self.spoil("shafts/neutral.yaml", "at: 40 mm", new)
            message = self.bad(1, "swing", self.setup)
            found = re.match(r"caber: .*?%s:(\d+):(\d+): .*\bat\b" % path.name, message)
            self.assertTrue(found, message)
            self.assertIn(int(found[1]), (line, line + 1), message)

    def test_set(self):
        for words, part in some((("no.such.path=1", "no"), ("load.grip.rise=0.05 kg", "load.grip.rise"),
                            ("load.grip.rise=0.1x", "load.grip.rise"),
                            ("load.grip.rise=", "load.grip.rise"),
                            ("load.grip.rise=nan", "load.grip.rise"),
                            ("load.grip.rise=-1 s", "rise"),
                            ("load.grip=3", "load.grip"), ("load.grip.=3", "load.grip"),
                            ("build.tip_trim=2 m", "tip_trim"), ("handed=up", "handed"))):
            self.assertIn(part, self.bad(1, "swing", self.setup, "--set", words), words)

    def test_what_is_built(self):
        for words, part in some((
                ("build.length=3.1 m", "length"), ("build.length=-1 mm", "length"),
                ("build.length=45 deg", "length"), ("build.order=butt", "tip-first or butt-first"),
                ("build.bore=open", "blind or through"), ("build.bore=", "bore"),
                ("build.ferrule.mass=101 g", "ferrule.mass"), ("build.ferrule.mass=-1 g", "ferrule.mass"),
                ("build.ferrule.length=0.2 m", "length"), ("build.ferrule.at=-1 mm", "at"),
                ("build.ferrule=2 g", "ferrule"), ("build.hosel_weight.mass=nan", "mass"),
                ("build.hosel_weight.depth=201 mm", "depth"), ("build.tape.layers=1.5", "whole number"),
                ("build.tape.layers=-1", "layers"), ("build.tape.layers=31", "layers"),
                ("build.tape.layers=2 g", "layers"), ("build.tape.mass=5 g", "mass"),
                ("build.tape.thickness=6 mm", "thickness"), ("build.tape.width=2 in", "thickness"),
                ("build.sleeve.tilt=6 deg", "tilt"), ("build.sleeve.tilt=-1 deg", "tilt"),
                ("build.sleeve.direction=361 deg", "direction"), ("build.sleeve.pivot=1 m", "pivot"),
                ("grip.cap=51 mm", "cap"), ("grip.cap=-1 mm", "cap"), ("head.sole.up=1 mm", "sole.up"),
                ("head.sole.up=-301 mm", "sole.up"), ("head.sole.toe=1 kg", "sole.toe"),
                ("head.sole.forward=1 mm", "up, toe"), ("head.weights=5 g", "list"))):
            self.assertIn(part, self.bad(1, "bench", self.setup, "--set", words), words)
        for text, part in some((("{mass: 5 g}", "forward"), ("{mass: -5 g, forward: 0, up: 0, toe: 0}", "mass"),
                           ("{forward: 0, up: 0, toe: 0}", "mass"),
                           ("{mass: 5 g, forward: 0, up: 301 mm, toe: 0}", "up"),
                           ("{mass: 501 g, forward: 0, up: 0, toe: 0}", "mass"),
                           ("{mass: 5 g, forward: 0, up: 0, toe: 0, heel: 1}", "heel"), ("5 g", "mapping"))):
            path, line = self.spoil("heads/driver-10.yaml", "lie: 58.5 deg",
                                    "lie: 58.5 deg\nweights:\n  - " + text)
            message = self.bad(1, "bench", self.setup)
            self.expect(path, line + 2, 0, "weights[0]", message)
            self.assertIn(part, message)
            shutil.copy(MODELS / "heads/driver-10.yaml", path)

    def test_torque_table(self):
        good = ["time,torque", "s,N m", "0,14", "0.1,14", "0.2,10", "0.3,-12", "0.6,-12"]
        path = self.dir / "grip.csv"
        words = ["swing", self.setup, "--set", "load.grip.table=%s" % path, "--get", "peak_lag_mm"]
        path.write_text("\n".join(good) + "\n")
        self.assertNotEqual(self.good(*words), self.good("swing", self.setup, *words[4:]))
        for row, column, old, new in some(((3, 5, "0.1,14", "0.1,14x"), (3, 5, "0.1,14", "0.1,"),
                                      (3, 1, "0.1,14", "nan,14"), (3, 1, "0.1,14", "0,14"),
                                      (3, 5, "0.1,14", "0.1,1e999"), (3, 0, "0.1,14", "0.1"),
                                      (3, 0, "0.1,14", "0.1,14,15"), (1, 3, "s,N m", "s,kg"),
                                      (1, 3, "s,N m", "s,furlong"), (3, 0, "0.1,14", "0,1,14"))):
            lines = list(good)
            self.assertEqual(lines[row], old)
            lines[row] = new
            path.write_text("\n".join(lines) + "\n")
            message = self.bad(1, *words)
            found = re.match(r"caber: .*grip\.csv:(\d+):(\d+): ", message)
            self.assertTrue(found, message)
            self.assertEqual(int(found[1]), row + 1, message)
            if column:
                self.assertEqual(int(found[2]), column, message)
        path.unlink()
        self.assertIn("grip.csv", self.bad(1, *words))

    def test_every_command_that_reads_a_setup(self):
        self.spoil("setups/neutral-smooth.yaml", "tip_trim: 12 mm", "tip_trim: 12 kg")
        for words in (["swing", self.setup, "--json"], ["bench", self.setup],
                      ["bench", self.setup, "--json"]):
            self.assertIn("tip_trim", self.bad(1, *words))


if __name__ == "__main__":
    main()
