# SPDX-License-Identifier: GPL-3.0-or-later
"""Standard output that is full, closed or gone; and the user's locale."""
import os
import subprocess

from harness import CABER, Case, READINGS, SETUP, main

COMMANDS = (["swing", SETUP], ["swing", SETUP, "--json"], ["swing", SETUP, "--get", "droop_mm"],
            ["bench", SETUP], ["profile", READINGS], ["profile", READINGS, "--json"], ["fields"],
            ["help"], ["--version"])


class Streams(Case):
    def test_full_disk(self):
        for words in COMMANDS:
            with open("/dev/full", "w", encoding="utf-8") as full:
                message = self.bad(1, *words, stdout=full)
            self.assertIn("standard output", message)

    def test_closed_output(self):
        for words in COMMANDS:
            message = self.bad(1, *words, preexec_fn=lambda: os.close(1))
            self.assertIn("standard output", message)

    def test_closed_output_spoils_no_file(self):
        path = self.dir / "a.h5"
        self.bad(1, "swing", SETUP, "--series", path, preexec_fn=lambda: os.close(1))
        self.assertFalse(path.exists())

    def test_closed_input_and_messages(self):
        done = subprocess.run([CABER, "swing", SETUP, "--get", "droop_mm"], check=False,
                              stdout=subprocess.PIPE, text=True,
                              preexec_fn=lambda: (os.close(0), os.close(2)))
        self.assertEqual(done.returncode, 0)
        self.assertEqual(done.stdout, self.good("swing", SETUP, "--get", "droop_mm"))

    def test_a_reader_that_went_away(self):
        for words in COMMANDS:
            reader, writer = os.pipe()
            os.close(reader)
            message = self.bad(1, *words, stdout=writer)
            os.close(writer)
            self.assertIn("standard output", message)


class Locale(Case):
    def test_decimal_commas_change_nothing(self):
        subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", self.dir / "de_DE.UTF-8"],
                       check=True)
        # The C library keeps what it has read from LOCPATH: no leak of the program's.
        german = dict(os.environ, LC_ALL="de_DE.UTF-8", LOCPATH=str(self.dir),
                      ASAN_OPTIONS="detect_leaks=0")
        comma = subprocess.run(["bash", "-c", "printf %.1f 1,5"], env=german, text=True,
                               capture_output=True, check=True)
        self.assertEqual(comma.stdout, "1,5", "the locale is not in force")
        plain = dict(os.environ, LC_ALL="C")
        more = ["--set", "load.grip.rise=0.05 s"]
        for words in (["swing", SETUP, *more], ["swing", SETUP, "--json", *more],
                      ["bench", SETUP, "--clamp", "12.7 cm"], ["bench", SETUP, "--json"],
                      ["profile", READINGS], ["profile", READINGS, "--json"], ["fields"]):
            self.assertEqual(self.good(*words, env=german), self.good(*words, env=plain))
        for name, env in (("a.csv", german), ("b.csv", plain)):
            self.good("swing", SETUP, "--series", self.dir / name, "--get", "droop_mm", env=env)
        self.assertEqual((self.dir / "a.csv").read_bytes(), (self.dir / "b.csv").read_bytes())
        for name, env in (("a", german), ("b", plain)):
            self.good("profile", READINGS, "--plot", self.dir / (name + ".svg"), "--output",
                      self.dir / (name + ".yaml"), env=env)
        self.assertEqual((self.dir / "a.svg").read_bytes(), (self.dir / "b.svg").read_bytes())
        self.assertEqual((self.dir / "a-errors.csv").read_bytes(),
                         (self.dir / "b-errors.csv").read_bytes())


if __name__ == "__main__":
    main()
