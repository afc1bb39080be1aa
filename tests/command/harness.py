# SPDX-License-Identifier: GPL-3.0-or-later
"""What the tests of the program share. ctest sets CABER (the program), CABER_SOURCE and CABER_BUILD.

Golden outputs are in golden/. `UPDATE_GOLDEN=1` rewrites them: read the difference before you keep it.
"""
import functools
import math
import os
import pathlib
import re
import shutil
import subprocess
import tempfile
import unittest

CABER = os.environ["CABER"]
SOURCE = pathlib.Path(os.environ["CABER_SOURCE"])
BUILD = pathlib.Path(os.environ["CABER_BUILD"])
# A build with sanitisers, in which hundreds of whole swings take minutes.
SLOW = os.environ.get("CABER_KIND", "release") not in ("release", "debug")
GOLDEN = pathlib.Path(__file__).resolve().parent / "golden"
MODELS = SOURCE / "models"
SETUP = str(MODELS / "setups/neutral-smooth.yaml")
READINGS = str(MODELS / "readings/neutral.yaml")
NUMBER = re.compile(r" *(?<![\w.])[-+]?\d+(?:\.(\d+))?(e[-+]\d+)?")


def run(*words, program=CABER, **options):
    """Runs the program; returns its exit status, standard output and standard error."""
    options.setdefault("stdout", subprocess.PIPE)
    done = subprocess.run([program, *map(str, words)], stderr=subprocess.PIPE, timeout=300,
                          text=True, encoding="utf-8", **options)
    return done.returncode, done.stdout, done.stderr


def some(cases):
    """All of them; where a start of the program takes a tenth of a second, every fourth: what the library
    makes of them, tests/unit and tests/fuzz see under the sanitisers too."""
    return list(cases)[::4] if SLOW else cases


@functools.cache
def printed(*words):
    """As run, of a command that takes long: each is run once a test file."""
    return run(*words)


def numbers_of(line):
    """The numbers of a line: (column behind it, decimals, exponent?, value)."""
    return [(found.end(), len(found[1] or ""), bool(found[2]), float(found[0]))
            for found in NUMBER.finditer(line)]


def near(got, want):
    """Whether two printed numbers agree: 1e-3 and one unit of the last printed place, as another
    mathematics library may round otherwise; a number with an exponent, which is a residual of
    rounding and of the integrator, within a factor of 100."""
    if got[0] != want[0] or got[1:3] != want[1:3]:
        return False
    if want[2]:
        return got[3] * want[3] > 0 and abs(math.log10(got[3] / want[3])) <= 2
    return abs(got[3] - want[3]) <= 1e-3 + 1.001 * 10.0 ** -want[1]


class Case(unittest.TestCase):
    maxDiff = None

    def setUp(self):
        self.dir = pathlib.Path(tempfile.mkdtemp(prefix="caber-test-"))
        self.addCleanup(shutil.rmtree, self.dir)

    def good(self, *words, **options):
        """Runs; returns standard output of a run that must succeed and say nothing."""
        status, out, err = run(*words, **options)
        self.assertEqual((status, err), (0, ""), " ".join(map(str, words)))
        return out

    def once(self, *words):
        """As good, of a command that takes long."""
        status, out, err = printed(*words)
        self.assertEqual((status, err), (0, ""))
        return out

    def bad(self, want, *words, **options):
        """Runs; returns the message of a run that must fail, and must print no result."""
        status, out, err = run(*words, **options)
        self.assertEqual(status, want, "%s: %s" % (" ".join(map(str, words)), err))
        self.assertFalse(out)
        self.assertRegex(err, r"\Acaber: .+\n\Z")
        return err

    def golden(self, name, text):
        """Layout byte for byte; numbers to within what `near` allows."""
        path = GOLDEN / name
        if os.environ.get("UPDATE_GOLDEN"):
            path.write_text(text, encoding="utf-8")
        self.alike(text, path.read_text(encoding="utf-8"))

    def alike(self, text, want):
        """As golden, against a text."""
        got_lines, want_lines = text.split("\n"), want.split("\n")
        self.assertEqual([NUMBER.sub("#", line) for line in got_lines],
                         [NUMBER.sub("#", line) for line in want_lines])
        for got, expected in zip(got_lines, want_lines):
            for one, other in zip(numbers_of(got), numbers_of(expected)):
                self.assertTrue(near(one, other), "\n got: %s\nwant: %s" % (got, expected))


def main():
    unittest.main(verbosity=1)
