# SPDX-License-Identifier: GPL-3.0-or-later
"""The file of a study: on a full disk, damaged, joined. test_sweep_ended.py kills it, test_study_readers.py reads
it.

It is written by study_writer.c: its numbers are functions of the case; no swing is run."""
import os
import resource
import signal
import unittest

import h5py
import numpy as np
import xarray

from harness import Case, SLOW, main, run
from seals import chunks_in_file, chunks_in_journal

WRITER = os.environ["STUDY_WRITER"]
SERIES = ("points=20",)
# What leads through no code that the others do not lead through: not again under sanitisers.
ONCE = unittest.skipIf(SLOW, "done in the release build")


class StudyFile(Case):
    def setUp(self):
        super().setUp()
        self.path = self.dir / "a.h5"
        self.journal = self.dir / "a.h5.journal"

    def write(self, name, mode, *words, want=0, **options):
        """Runs the writer; returns what it says."""
        status, out, err = run("write", self.dir / name, mode, *words, program=WRITER, **options)
        self.assertEqual(status, want, err)
        return out if want == 0 else err

    def same_bytes(self, one, other):
        self.assertEqual((self.dir / one).read_bytes(), (self.dir / other).read_bytes())

    def test_the_same_bytes_however_they_came(self):
        self.write("a.h5", "new", *SERIES)
        self.write("again.h5", "new", *SERIES)
        self.same_bytes("a.h5", "again.h5")
        # In another order of chunks, with a pause that renders, and one that does not.
        self.write("b.h5", "new", "from=17", "stop=9", "sync=1", *SERIES)
        self.write("b.h5", "resume", "from=3", "stop=5", *SERIES)
        self.assertIn("32 of 32 chunks, 14 from before", self.write("b.h5", "resume", *SERIES))
        self.same_bytes("a.h5", "b.h5")
        # Once more, with nothing left to do.
        self.write("b.h5", "resume", *SERIES)
        self.same_bytes("a.h5", "b.h5")
        self.assertEqual(sorted(os.listdir(self.dir)), ["a.h5", "again.h5", "b.h5"])

    # ------------------------------------------------------------------ full

    def test_a_file_that_may_not_grow(self):
        self.write("whole.h5", "new", *SERIES)
        for limit in (2000, 300000) if SLOW else (0, 30000, 300000):
            def small_files():
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            err = self.write("a.h5", "replace", *SERIES, want=2, preexec_fn=small_files)
            self.assertIn("cannot write: File too large", err)
            self.assertEqual(len(err.splitlines()), 1)
            self.assertFalse((self.dir / "a.h5.part").exists())
            done = chunks_in_journal(self.journal)
            if self.path.exists():
                done |= chunks_in_file(self.path)
            out = self.write("a.h5", "resume", *SERIES)
            self.assertIn("%d from before, 0 damaged" % len(done), out)
            self.same_bytes("a.h5", "whole.h5")
            self.path.unlink()

    def test_a_full_disk(self):
        """On small file systems in memory of this test's own, where it may make such."""
        self.write("whole.h5", "new", *SERIES)
        disk, kept = self.dir / "disk", self.dir / "kept"
        disk.mkdir()
        kept.mkdir()
        script = """
            mount -t tmpfs -o size="$1"k tmpfs "$2" || exit 77
            "$4" write "$2"/a.h5 new points=20; echo "status $?"
            cp "$2"/* "$3"; ls "$2"
            mount -o remount,size=64m "$2"
            "$4" write "$2"/a.h5 resume points=20 && cp "$2"/a.h5 "$3"/done.h5"""
        for size in (240,) if SLOW else (24, 240, 700):
            status, out, err = run("-rm", "sh", "-c", script, "sh", size, disk, kept, WRITER,
                                   program="unshare")
            if status in (1, 77) and "status" not in out:
                self.skipTest("no file system can be mounted here: " + err.strip())
            self.assertEqual(status, 0, err)
            self.assertIn("status 2", out)
            self.assertIn("cannot write: No space left on device", err)
            self.assertNotIn(".part", out)
            done = chunks_in_journal(kept / "a.h5.journal")
            if (kept / "a.h5").exists():
                done |= chunks_in_file(kept / "a.h5")
            self.assertIn("32 of 32 chunks, %d from before, 0 damaged" % len(done), out)
            self.same_bytes("kept/done.h5", "whole.h5")
            for path in kept.iterdir():
                path.unlink()

    def test_no_place_to_write(self):
        self.assertIn("No such file", self.write("none/a.h5", "new", want=2))
        (self.dir / "folder.h5").mkdir()
        self.assertIn("not an ordinary file", self.write("folder.h5", "resume", want=1))
        self.assertEqual(os.listdir(self.dir), ["folder.h5"])

    @ONCE
    def test_a_link_stays_a_link(self):
        self.write("a.h5", "new", "stop=2")
        (self.dir / "link.h5").symlink_to("a.h5")
        self.write("link.h5", "resume")
        self.assertTrue((self.dir / "link.h5").is_symlink())
        self.write("b.h5", "new")
        self.same_bytes("a.h5", "b.h5")

    # ------------------------------------------------------------------ refused, damaged

    @ONCE
    def test_another_study(self):
        self.write("a.h5", "new", "stop=3")
        before = self.path.read_bytes()
        for word, want in (("change=other", "'head: plain' there, 'head: other' in this one"),
                           ("version=1.2.4", "'version: 1.2.3' there, 'version: 1.2.4' in this"),
                           ("cases=999", "'cases: 1000' there, 'cases: 999' in this one")):
            err = self.write("a.h5", "resume", word, want=1)
            self.assertIn("is of another study: " + want, err)
        self.assertEqual(self.path.read_bytes(), before)
        self.assertIn("3 from before", self.write("a.h5", "resume"))

    def test_foreign_files(self):
        with h5py.File(self.dir / "foreign.h5", "w") as file:
            file["status"] = np.zeros(3)
        self.assertIn("not a study", self.write("foreign.h5", "resume", want=1))
        for change in ("status", "answer_07_mps", "chunk_crc32", "reason")[:1 if SLOW else 4]:
            self.write("a.h5", "replace")
            with h5py.File(self.path, "a") as file:
                del file[change]
            self.assertIn(change, self.write("a.h5", "resume", want=1))
        self.assertEqual(sorted(os.listdir(self.dir)), ["a.h5", "foreign.h5"])

    def test_a_changed_number_is_done_again(self):
        self.write("whole.h5", "new")
        self.write("a.h5", "new")
        with h5py.File(self.path, "a") as file:
            file["answer_03_mps"][700] += 1e-9
        status, out, err = run("check", self.path, program=WRITER)
        self.assertEqual((status, out), (1, ""))
        self.assertIn("damaged: cases 672 to 703 are not what was written", err)
        self.assertIn("31 from before, 1 damaged", self.write("a.h5", "resume"))
        self.same_bytes("a.h5", "whole.h5")

    # ------------------------------------------------------------------ shards

    def test_a_flipped_bit(self):
        """Anywhere in a file: found, before HDF5 can fall over one in its texts."""
        self.write("a.h5", "new", "cases=64")
        good, found, places = self.path.read_bytes(), 0, range(5, self.path.stat().st_size,
                                                                25031 if SLOW else 7507)
        for place in places:
            bad = bytearray(good)
            bad[place] ^= 0x10
            self.path.write_bytes(bad)
            status, _, err = run("check", self.path, program=WRITER)
            self.assertIn(status, (0, 1), err)
            found += status
        self.assertGreaterEqual(found, 0.9 * len(places))

    def test_shards(self):
        self.write("whole.h5", "new", *SERIES)
        paths = []
        for shard in (3, 1, 2):
            paths.append(self.dir / ("%d.h5" % shard))
            self.write(paths[-1].name, "new", "shards=3", "shard=%d" % shard, *SERIES)
        self.assertEqual(run("gather", self.path, *paths, program=WRITER), (0, "", ""))
        self.same_bytes("a.h5", "whole.h5")
        self.path.unlink()

        def refused(want, *given):
            status, out, err = run("gather", self.path, *given, program=WRITER)
            self.assertNotEqual(status, 0)
            self.assertIn(want, err)
            self.assertEqual([p.name for p in self.dir.glob("a.h5*")], [])
        bad = self.dir / "bad.h5"
        good = paths[1:]
        refused("bad.h5: cannot read: No such file", bad, *good)
        if SLOW:
            return
        bad.write_bytes(paths[0].read_bytes()[:-100])
        refused("bad.h5: damaged, or cut short", bad, *good)
        bad.unlink()
        self.write("bad.h5", "new", "shards=3", "shard=3", "stop=4", "sync=1", *SERIES)
        refused("bad.h5: 7 of the 11 chunks of shard 3 are not finished", bad, *good)
        self.write("bad.h5", "replace", "shards=3", "shard=3", "change=other", *SERIES)
        refused("'head: other' there, 'head: plain' in this one", bad, *good)
        self.write("bad.h5", "replace", "shards=3", "shard=3", *SERIES)
        with h5py.File(bad, "a") as file:
            file["lag_mm"][999, 3] += 1
        refused("bad.h5: damaged: cases 992 to 999", bad, *good)

    # ------------------------------------------------------------------ what is there

    @ONCE
    def test_what_is_not_run_says_so(self):
        self.write("a.h5", "new", "stop=3", "from=1", "sync=1")
        with xarray.open_dataset(self.path, engine="h5netcdf") as data:
            status = data["status"].values
            np.testing.assert_array_equal(np.flatnonzero(status != -1), np.arange(32, 128))
            self.assertTrue(np.isnan(data["answer_05_mps"].values[status == -1]).all())
            # The plan is there all the same.
            self.assertTrue(np.isfinite(data["rise_ms"]).all())

    # ------------------------------------------------------------------ many

    @unittest.skipIf(SLOW, "sanitisers have memory of their own")
    def test_many_cases_in_little_memory(self):
        """Within 24 MB of data, though the numbers alone are 36; the bound is 300."""
        def little_memory():
            resource.setrlimit(resource.RLIMIT_DATA, (24 << 20, 24 << 20))
        self.write("a.h5", "new", "cases=100000", "chunk=256", preexec_fn=little_memory)
        self.assertEqual(run("check", self.path, program=WRITER, preexec_fn=little_memory),
                         (0, "391 of 391 chunks\n", ""))


if __name__ == "__main__":
    main()
