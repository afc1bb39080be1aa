# SPDX-License-Identifier: GPL-3.0-or-later
"""Studies that are interrupted, killed, or run out of disk, and go on."""
import os
import pty
import random
import re
import resource
import shlex
import signal
import subprocess
import time

import h5py
import numpy as np

from harness import CABER, SLOW, main, run
from seals import chunks_in_file, chunks_in_journal
from studies import CASES, GRID, ONCE, Studies

# A swing that takes long, so that something can happen meanwhile.
SLOWLY = ("--set", "settings.tolerance=1e-12")
RATHER_SLOWLY = (*SLOWLY, "--set", "settings.modes=16", "--set", "settings.stations=32")
VERY_SLOWLY = (*SLOWLY, "--set", "settings.modes=60", "--set", "settings.stations=60")


def ignore_nothing():
    """A shell that runs the tests in the background leaves its children deaf to Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class Ended(Studies):
    def begin(self, *words, **options):
        return subprocess.Popen([CABER, "sweep", self.study, *words], cwd=self.dir, text=True,
                                stdout=subprocess.PIPE, preexec_fn=ignore_nothing, **options)

    def wait_for(self, process, seen):
        """Until something is seen, or the process has ended."""
        while process.poll() is None and not seen():
            time.sleep(0.001)

    def grown(self):
        """Whether the journal has got more than it has now."""
        def size():
            try:
                return self.journal.stat().st_size
            except FileNotFoundError:
                return 0
        begin = size()
        return lambda: size() > begin + 1000

    def go_on(self, err, want):
        """Runs the command that a message says."""
        found = re.fullmatch(r"caber: (.*); (\d+) of (\d+) cases are done and kept; to go on: caber (.*)\n", err)
        self.assertTrue(found, err)
        self.assertRegex(found[1], want)
        done = chunks_in_file(self.path) | chunks_in_journal(self.journal)
        self.assertEqual(int(found[2]), 8 * len(done))
        words = shlex.split(found[4])
        status, out, err = run(*words, cwd=self.dir)
        self.assertEqual((status, re.sub(r"caber: \d+ of \d+ cases, .*\n", "", err)), (0, ""))
        left = int(found[3]) - int(found[2])
        self.assertIn("\n  this run   %s" % ("%d cases " % left if left else "nothing"), out)
        self.assertEqual(words[-1], "--resume")
        return int(found[2]), int(found[3])

    def test_interrupted_before_a_terminal(self):
        """Progress on a terminal, Ctrl-C, and the command that goes on."""
        name = "it's a \"file\".h5"
        words = ("--output", name, *RATHER_SLOWLY, "--threads", "2")
        self.path, self.journal = self.dir / name, self.dir / (name + ".journal")
        keyboard, screen = pty.openpty()
        shown = ""
        with self.begin(*words, stderr=screen) as process:
            os.close(screen)
            while " left" not in shown:
                shown += os.read(keyboard, 4096).decode()
            process.send_signal(signal.SIGINT)
            try:
                while more := os.read(keyboard, 4096).decode():
                    shown += more
            except OSError: # what a terminal says when the other end is gone
                pass
            self.assertEqual((process.wait(), process.stdout.read()), (3, ""))
        os.close(keyboard)
        *lines, writes, blank, last = shown.replace("\r\n", "\n").split("\r")
        self.assertEqual(writes.rstrip(), "writing the file")
        self.assertRegex(lines[-1], r"\A\d+ of \d+ cases, [\d.]+ a second, .* left *\Z")
        self.assertEqual(blank.strip(), "")
        self.assertEqual(chunks_in_journal(self.journal), set())
        done, cases = self.go_on(last, r"\Ainterrupted\Z")
        self.assertTrue(0 < done < cases)
        self.sweep(*RATHER_SLOWLY, "--output", "whole.h5")
        self.same_bytes(name, "whole.h5")

    @ONCE
    def test_interrupted_twice(self):
        with self.begin(*VERY_SLOWLY, "--threads", "1", stderr=subprocess.PIPE) as process:
            self.wait_for(process, self.journal.exists)
            # Nobody else writes meanwhile.
            _, err = self.sweep("--resume", *VERY_SLOWLY, status=1)
            self.assertIn("another process is writing this study", err)
            process.send_signal(signal.SIGTERM)
            time.sleep(0.05)
            process.send_signal(signal.SIGTERM)
            self.assertEqual(process.wait(), -signal.SIGTERM)
            self.assertEqual(process.stderr.read(), "")

    def test_killed_at_random_moments(self):
        words = ("--threads", "2")
        self.sweep("--output", "whole.h5")
        kills, generator, before, between = 6 if SLOW else 50, random.Random(5), set(), 0
        wanted = kills
        while kills:
            grown = self.grown()
            with subprocess.Popen([CABER, "sweep", self.study, "--resume", *words], cwd=self.dir,
                                  stdout=subprocess.DEVNULL) as process:
                # One in four while it begins, the others while it writes.
                if generator.random() > 0.25:
                    self.wait_for(process, grown)
                time.sleep(generator.uniform(0, 0.02))
                process.send_signal(signal.SIGKILL)
                kills -= process.wait() != 0
            self.assertIn(process.returncode, (0, -signal.SIGKILL))
            if not self.path.exists():
                self.assertFalse(before)
                continue
            # The file opens, its seals hold, and no finished chunk was lost.
            done = chunks_in_file(self.path) | chunks_in_journal(self.journal)
            self.assertLessEqual(before, done)
            between += 0 < len(done) < CASES / 8
            before = done
            if len(done) == CASES / 8 and not self.journal.exists():
                self.same_bytes("s.h5", "whole.h5")
                self.path.unlink()
                before = set()
        # Many of those moments were neither before the first chunk nor behind the last one.
        self.assertGreater(between, wanted / 4)
        out, _ = self.sweep("--resume")
        left = CASES - 8 * len(before)
        self.assertIn("  this run   %s" % ("%d cases" % left if left else "nothing"), out)
        with h5py.File(self.path) as file, h5py.File(self.dir / "whole.h5") as whole:
            self.assertEqual(set(file), set(whole))
            for dataset in whole:
                np.testing.assert_array_equal(file[dataset][()], whole[dataset][()])
        self.same_bytes("s.h5", "whole.h5")
        self.assertEqual(self.names(), ["s.h5", "whole.h5"])

    def test_a_file_that_may_not_grow(self):
        """As on a full disk: first the journal, which has the series as they are, then the file."""
        self.study = self.write("s.yaml", GRID % 10 + "series: {outputs: [lag_mm, droop_mm], step: 4 ms, "
                                "until: 0.3 s}\n")
        self.sweep("--output", "whole.h5")
        most = (self.dir / "whole.h5").stat().st_size
        for limit, where in ((40000, "s.h5.journal"), (most - 5000, "s.h5"))[SLOW:]:
            def small_files():
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            out, err = self.sweep("--replace", status=3, preexec_fn=small_files)
            self.assertEqual(out, "")
            self.go_on(err, r"s.h5.*: cannot write: File too large")
            self.same_bytes("s.h5", "whole.h5")


if __name__ == "__main__":
    main()
