# SPDX-License-Identifier: GPL-3.0-or-later
"""The verification page's own machinery: last digits pass, whatever else is different does not."""
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

SOURCE = pathlib.Path(os.environ["CABER_SOURCE"])
sys.dont_write_bytecode = True
sys.path.insert(0, str(SOURCE / "tests/verification"))
sys.path.insert(0, str(SOURCE / "tests"))
import alike  # noqa: E402
import page  # noqa: E402

PAGE = """\
# Verification

There are 2 comparisons. The furthest was 0.1301 mm.

| section | rows | most used |
| --- | ---: | ---: |
| shaft | 2 | 63 % |

| problem | source | unit | value | ours | difference | tolerance |
| --- | --- | --- | ---: | ---: | ---: | ---: |
| beam of 1.10 m, mode 1 | exact&nbsp;[1] | Hz | 3.51602 | 3.51601 | 6.3e-6 | 1.0e-5 |
| largest of many | exact&nbsp;[1] |  |  |  | &lt; 1.0e-9 | 1.0e-7 |
| a heavy one | exact&nbsp;[1] | N | 123456 | 123457 | 0 | 2.0 |

1. *exact*: S. Author 1979, J. Sound 37:161
"""

DRAWING = """\
<svg width="504pt"><defs><clipPath id="p0123456789"><rect x="41.6" y="7.2" width="400"/></clipPath></defs>
<path d="M 41.5 200.25 L 60 180.5 L 80.125 90" clip-path="url(#p0123456789)" style="stroke: #1b3a5c; stroke-width: 1.4"/>
<use xlink:href="#DejaVuSans-30" x="10.5"/></svg>
"""


class Page(unittest.TestCase):
    def alike(self, *changes):
        text = PAGE
        for old, new in changes:
            self.assertIn(old, text)
            text = text.replace(old, new, 1)
        return alike.pages(PAGE, text) == [] and alike.pages(text, PAGE) == []

    def test_the_same(self):
        self.assertTrue(self.alike())

    def test_noise_in_the_last_digit_passes(self):
        for change in (("3.51601", "3.51602"), ("6.3e-6", "6.6e-6"), ("6.3e-6", "5.9e-6"), ("123457", "123456"),
                       ("&lt; 1.0e-9", "1.1e-9"), ("&lt; 1.0e-9", "8.0e-9"), ("63 %", "66 %"), ("0.1301", "0.1302")):
            self.assertTrue(self.alike(change), change)

    def test_a_changed_number_does_not(self):
        for change in (("3.51601", "3.51604"), ("3.51602 ", "3.51599 "), ("6.3e-6", "7.5e-6"), ("6.3e-6", "6.3e-7"),
                       ("1.0e-5", "2.0e-5"), ("1.0e-7", "1.3e-7"), ("&lt; 1.0e-9", "1.3e-8"), ("123457", "123460"),
                       ("63 %", "74 %"), ("0.1301", "0.1304"), ("0.1301", "0.13"), ("3.51601", "3.516"),
                       ("3.51601", "-3.51601"), ("3.51601", ""), ("3.51601", "nan"), ("&lt; 1.0e-9", "")):
            self.assertFalse(self.alike(change), change)

    def test_changed_words_do_not(self):
        for change in (("The furthest", "The nearest"), ("beam of", "bar of"), ("1.10 m", "1.11 m"), ("1979", "1980"),
                       ("2 comparisons", "3 comparisons"), ("shaft | 2", "shaft | 3"), ("| Hz |", "| kHz |"),
                       ("exact&nbsp;[1] | Hz", "exact&nbsp;[2] | Hz"), ("| value | ours |", "| ours | value |"),
                       ("# Verification", "## Verification")):
            self.assertFalse(self.alike(change), change)

    def test_rows_and_lines_that_come_or_go_do_not(self):
        lines = PAGE.splitlines(keepends=True)
        for k in range(len(lines)):
            fewer = "".join(lines[:k] + lines[k + 1:])
            if lines[k].strip():
                self.assertTrue(alike.pages(PAGE, fewer), lines[k])
                self.assertTrue(alike.pages(fewer, PAGE), lines[k])
        swapped = "".join(lines[:10] + [lines[11], lines[10]] + lines[12:])
        self.assertTrue(alike.pages(PAGE, swapped))

    def test_the_page_that_is_there(self):
        """Any one digit of a value on it, changed by five, is seen."""
        text = (SOURCE / "tests/verification/README.md").read_text(encoding="utf-8")
        self.assertEqual(alike.pages(text, text), [])
        lines, changed = text.splitlines(), 0
        for k, line in enumerate(lines):
            row = alike.cells(line)
            if row is None or len(row) != 7 or not alike.is_number(row[4]) or "e" in row[4] or row[4] == "0":
                continue
            new = row[4][:-1] + str((int(row[4][-1]) + 5) % 10)
            other = list(lines)
            other[k] = "| %s |" % " | ".join(row[:4] + [new] + row[5:])
            near = "\n".join(lines[max(0, k - 120):k + 3]), "\n".join(other[max(0, k - 120):k + 3])
            self.assertTrue(alike.pages(*near), line)
            changed += 1
        self.assertGreater(changed, 50)


class Drawing(unittest.TestCase):
    def test_noise(self):
        for old, new in (("200.25", "200.61"), ("p0123456789", "pfedcba9876"), ("41.6", "41.3")):
            self.assertEqual(alike.drawings(DRAWING, DRAWING.replace(old, new)), [], old)

    def test_changes(self):
        for old, new in (("200.25", "201.61"), ("L 80.125 90", ""), ("#1b3a5c", "#1b3a5d"), ("DejaVuSans-30", "DejaVuSans-31"),
                         ("1.4", "1.6"), ("504pt", "505pt"), ("url(#p0123456789)", "url(#p1123456789)"), ("180.5", "nan")):
            self.assertTrue(alike.drawings(DRAWING, DRAWING.replace(old, new)), old)


class Numbers(unittest.TestCase):
    def row(self, got, want, allowed):
        return {"got": got, "want": want, "difference": abs(got - want), "allowed": allowed}

    def test_values(self):
        for got, want, allowed, texts in (
                (3.5160162, 3.516017, 1e-5, ("3.51602", "3.51602")), (3e-15, 0, 1e-12, ("0", "0")),
                (999999.7, 1000001.2, 5, ("1.00000e6", "1.00000e6")), (1.0831, 1, 0.25, ("1.000", "1.083")),
                (123456.2, 123457, 10, ("123457", "123456")), (-2e-5, 3.1234567e-5, 1e-4, ("3.1e-5", "-2.0e-5")),
                (12, 12, 0, ("12.0000", "12.0000")), (0.1, 99.99999, 1e3, ("100", "0"))):
            self.assertEqual(page.value_texts(self.row(got, want, allowed)), texts)

    def test_differences(self):
        for difference, allowed, text in ((0, 0, "0"), (0, 1e-6, "&lt; 1.0e-8"), (0.3e-8, 1e-6, "&lt; 1.0e-8"),
                                          (1.26e-8, 1e-6, "1.3e-8"), (0.0996, 0.1, "0.10"), (9.96, 10, "10")):
            self.assertEqual(page.difference_text({"difference": difference, "allowed": allowed}), text)


class Records(unittest.TestCase):
    """What is wrong with a folder of records is said, not passed over."""

    def run_page(self, records, *options):
        with tempfile.TemporaryDirectory() as folder:
            for name, lines in records.items():
                text = "".join(json.dumps(line) + "\n" for line in lines)
                (pathlib.Path(folder) / (name + ".jsonl")).write_text(text, encoding="utf-8")
            done = subprocess.run([sys.executable, "-B", SOURCE / "tests/verification/page.py", "--check", *options, folder],
                                  text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False,
                                  env={k: v for k, v in os.environ.items() if k != "CABER_BUILD"})
        self.assertEqual(done.returncode, 1)
        return done.stdout

    @staticmethod
    def row(difference=0.5):
        return {"type": "row", "problem": "a", "kind": "exact", "source": "b", "unit": "m", "got": 1 + difference,
                "want": 1, "difference": difference, "allowed": 1}

    def test_none(self):
        self.assertIn("no record of elements", self.run_page({}))

    def test_no_place(self):
        self.assertIn("nowhere: in no section", self.run_page({"nowhere": [self.row()]}, "--partial"))

    def test_a_failed_check(self):
        for difference in (2, float("nan")):
            self.assertIn("a failed check: a", self.run_page({"elements": [self.row(difference)]}, "--partial"))

    def test_another_page(self):
        said = self.run_page({"elements": [self.row()]}, "--partial")
        self.assertIn("run scripts/verification", said)
        self.assertIn("is there, but not in a fresh page", said)


if __name__ == "__main__":
    unittest.main()
