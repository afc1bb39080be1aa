# SPDX-License-Identifier: GPL-3.0-or-later
"""caber table: held against h5py and pandas, which compute the same from the same file.

The file is written by study_writer.c, and what a sweep says of its plan is added to its root."""
import csv
import functools
import json
import os
import pathlib
import resource
import shutil
import tempfile
import unittest

import h5py
import numpy as np
import pandas

from harness import Case, SLOW, main, run, some

WRITER = os.environ["STUDY_WRITER"]
CUTS = ("../cuts/none.yaml", "../cuts/half.yaml", "../cuts/whole.yaml", "../cuts/long.yaml")
PLAN = {"design": "cases", "points": 500., "replicates": 2., "note": "Invented, for a test.",
        "factor_names": ["rise_ms", "head_mass_g", "tip_trims"],
        "factor_paths": ["player.load.grip.rise", "head.mass", "build"],
        "factor_kinds": ["number", "number", "choice"], "choices_tip_trims": list(CUTS)}


@functools.cache
def study(folder):
    path = folder / "a.h5"
    run("write", path, "new", "points=60", program=WRITER)
    with h5py.File(path, "a") as file:
        for name, value in PLAN.items():
            file.attrs[name] = value
    with h5py.File(path) as file:
        names = [*file.attrs["factors"], *file.attrs["outputs"], "status"]
        frame = pandas.DataFrame({name: file[name][()] for name in names})
        for name in names:
            if name != "status" and frame[name].dtype.kind == "i":
                frame[name] = frame[name].where(frame[name] >= 0)
        series = {name: file[name][()] for name in file.attrs["series"]}
        series["time_ms"] = file["time_ms"][()]
    frame["reason"] = [("the head never reached the ball" if s == 4 else
                        "a solver did not converge" if s == 7 else "") for s in frame["status"]]
    return path, frame, series


class Table(Case):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.folder = pathlib.Path(tempfile.mkdtemp(prefix="caber-test-"))
        cls.addClassCleanup(shutil.rmtree, cls.folder)
        cls.path, cls.all, cls.series = study(cls.folder)
        cls.good_ones = cls.all[cls.all.status == 0]
        cls.outputs = [name for name in cls.all if name.startswith("answer")]

    def table(self, *words):
        return self.good("table", self.path, *words)

    def rows(self, *words):
        """The rows of the JSON as a frame."""
        found = json.loads(self.table(*words, "--json"))
        return found, pandas.DataFrame(found["rows"])

    def refused(self, want, *words, status=1):
        self.assertIn(want, self.bad(status, "table", self.path, *words))

    def same(self, got, want):
        np.testing.assert_allclose(np.array(got, float), np.array(want, float), rtol=1e-11, atol=1e-13)

    # ------------------------------------------------------------------ what the file is

    def test_the_first_look(self):
        text = self.table()
        self.golden("table.txt", text)
        self.assertLessEqual(max(map(len, text.split("\n"))), 100)

    def test_every_column(self):
        found = json.loads(self.table("--json"))
        self.assertEqual((found["run"]["all_cases"], found["run"]["failed"], found["cases"]),
                         (1000, 27, 973))
        self.assertEqual([(f["status"], f["cases"], f["first_case"]) for f in found["run"]["failures"]],
                         [("ball_not_reached", 14, 5), ("not_converged", 13, 42)])
        self.assertEqual((found["design"], found["points"], found["replicates"], found["seed"]),
                         ("cases", 500, 2, 7))
        columns = {c["name"]: c for c in found["factors"] + found["outputs"]}
        self.assertEqual(set(columns), set(self.all) - {"status", "reason"})
        for name, column in columns.items():
            numbers = self.good_ones[name]
            self.assertEqual(column["none"], numbers.isna().sum())
            if name == "tip_trims":
                self.assertNotIn("mean", column)
                continue
            self.same([column["smallest"], column["mean"], column["largest"]],
                      [numbers.min(), numbers.mean(), numbers.max()])
        self.assertEqual({v["value"]: v["cases"] for v in columns["head_mass_g"]["values"]},
                         self.good_ones.head_mass_g.value_counts().to_dict())
        self.assertEqual([v["value"] for v in columns["tip_trims"]["values"]], list(CUTS))
        self.assertIsNone(columns["rise_ms"]["values"])
        good = (self.all.status == 0).to_numpy()
        for column in found["series"]:
            numbers = self.series[column["name"]][good]
            self.same([column["smallest"], column["mean"], column["largest"]],
                      [numbers.min(), numbers.mean(), numbers.max()])
        self.assertEqual(found["series_grid"]["places"], 60)

    def test_an_unfinished_shard(self):
        path = self.dir / "b.h5"
        run("write", path, "new", "shards=3", "shard=2", "stop=4", "sync=1", program=WRITER)
        text = self.good("table", path)
        self.assertIn("1000; this is shard 2 of 3, with 352 of them, 128 run and 224 still to run (36 % done)",
                      text)
        found = json.loads(self.good("table", path, "--only", "answer_01_mps", "--json"))
        self.assertEqual(found["not_run_left_out"], 872)
        self.assertEqual(found["cases"] + found["failed_left_out"], 128)
        self.assertIn("872 that were not run", self.good("table", path, "--by", "tip_trims"))

    # ------------------------------------------------------------------ case by case

    def test_cases(self):
        found, rows = self.rows("--only", "rise_ms,answer_00_mps,answer_40_mps,tip_trims")
        self.assertEqual(list(rows), ["case", "rise_ms", "answer_00_mps", "answer_40_mps", "tip_trims"])
        self.assertEqual(list(rows.case), list(self.good_ones.index))
        for name in ("rise_ms", "answer_00_mps", "answer_40_mps"):
            np.testing.assert_array_equal(np.array(rows[name], float), self.good_ones[name])
        self.assertEqual(list(rows.tip_trims), [CUTS[int(i)] for i in self.good_ones.tip_trims])
        self.assertEqual(found["failed_left_out"], 27)

    def test_a_page_of_cases(self):
        text = self.table("--only", "rise_ms,answer_00_mps,answer_40_mps,tip_trims")
        self.golden("table-cases.txt", text)
        self.assertIn("and 933 more", text)

    def test_csv(self):
        path = self.dir / "a.csv"
        self.table("--csv", path)
        with open(path, newline="", encoding="utf-8") as file:
            names, units, *_ = csv.reader(file)
        self.assertEqual(names, ["case", *(n for n in self.all if n not in ("status", "reason"))])
        self.assertEqual(units[:5], ["", "ms", "g", "", "m/s"])
        read = pandas.read_csv(path, skiprows=[1], index_col="case", float_precision="round_trip")
        read["tip_trims"] = [CUTS.index(name) for name in read["tip_trims"]]
        for name in read:
            np.testing.assert_array_equal(read[name], self.good_ones[name], name)
        self.table("--where", "status=all", "--only", "answer_05_mps", "--csv", path)
        read = pandas.read_csv(path, skiprows=[1], index_col="case", keep_default_na=False)
        self.assertEqual(len(read), 1000)
        self.assertEqual(list(read.reason), list(self.all.reason))
        self.assertEqual(sum(read.status == "ok"), 973)

    def test_where(self):
        g = self.good_ones
        for where, want in some((
                (["head_mass_g=204"], g.head_mass_g.round(6) == 204),
                (["head_mass_g=0.204 kg"], g.head_mass_g.round(6) == 204),
                (["head_mass_g=203..205"], g.head_mass_g.round(6).between(203, 205)),
                (["rise_ms=0.05..0.06 s"], g.rise_ms.between(50, 60)),
                (["rise_ms=..40"], g.rise_ms <= 40),
                (["rise_ms=120.."], g.rise_ms >= 120),
                (["answer_00_mps=-1..1"], g.answer_00_mps.notna()),
                (["case=100..200"], (g.index >= 100) & (g.index <= 200)),
                (["tip_trims=half"], g.tip_trims == 1),
                (["tip_trims=half.yaml", "rise_ms=50..60", "answer_40_mps=..350"],
                 (g.tip_trims == 1) & g.rise_ms.between(50, 60) & (g.answer_40_mps <= 350)))):
            words = [word for text in where for word in ("--where", text)]
            _, rows = self.rows("--only", "rise_ms", *words)
            self.assertEqual(list(rows.case), list(g.index[want]), where)
            self.assertLess(0, want.sum(), where)
            self.assertLess(want.sum(), len(g), where)

    def test_failed_cases(self):
        _, rows = self.rows("--only", "rise_ms,answer_05_mps", "--where", "status=failed")
        failed = self.all[self.all.status != 0]
        self.assertEqual(list(rows.case), list(failed.index))
        self.assertEqual(list(rows.reason), list(failed.reason))
        self.assertTrue(rows.answer_05_mps.isna().all())
        text = self.table("--only", "rise_ms", "--where", "status=failed", "--where", "case=..50")
        self.assertIn("\ncase 5: the head never reached the ball\n\ncase 42: a solver did not converge\n", text)
        _, rows = self.rows("--by", "tip_trims", "--only", "answer_05_mps", "--where",
                            "status=ball_not_reached")
        want = self.all[self.all.status == 4].groupby("tip_trims").size()
        self.assertEqual(list(rows.cases), list(want))

    # ------------------------------------------------------------------ groups

    def test_groups(self):
        _, rows = self.rows("--by", "tip_trims,head_mass_g")
        want = self.good_ones.assign(head_mass_g=self.good_ones.head_mass_g.round(9))
        want = want.groupby(["tip_trims", "head_mass_g"])
        self.assertEqual(list(rows.tip_trims), [CUTS[int(key[0])] for key in want.groups])
        self.same(rows.head_mass_g, [key[1] for key in want.groups])
        self.assertEqual(list(rows.cases), list(want.size()))
        for name in self.outputs:
            self.same(rows[name], want[name].mean())
            self.same(rows[name + ".sd"], want[name].std())
        self.assertEqual(list(rows["answer_00_mps.none"]),
                         list(want.answer_00_mps.apply(lambda values: values.isna().sum())))
        self.assertNotIn("answer_01_mps.none", rows)

    def test_a_group_of_one_has_no_spread(self):
        _, rows = self.rows("--by", "rise_ms", "--only", "answer_05_mps", "--where", "case=10..20")
        self.assertEqual(set(rows.cases), {1})
        self.assertTrue(rows["answer_05_mps.sd"].isna().all())
        self.same(sorted(rows.answer_05_mps), sorted(self.all.answer_05_mps[10:21]))

    def test_means_of_large_numbers_keep_their_spread(self):
        """Numbers about 1e9 that differ by 1: a sum of squares would lose them."""
        path = self.dir / "b.h5"
        shutil.copy(self.path, path)
        with h5py.File(path, "a") as file:
            file["answer_05_mps"][...] = 1e9 + np.arange(1000) % 3
        found = json.loads(self.good("table", path, "--by", "tip_trims", "--only", "answer_05_mps", "--json"))
        numbers = (1e9 + np.arange(1000) % 3)[self.good_ones.index]
        want = pandas.Series(numbers).groupby(np.array(self.good_ones.tip_trims)).std()
        np.testing.assert_allclose([row["answer_05_mps.sd"] for row in found["rows"]], want, rtol=1e-9)

    def test_a_page_of_groups(self):
        self.golden("table-by.txt", self.table("--by", "tip_trims", "--only", "answer_00_mps,answer_40_mps"))

    # ------------------------------------------------------------------ series

    def test_series_of_a_case(self):
        path = self.dir / "s.csv"
        text = self.table("--only", "lag_mm,handle_moment_nm", "--where", "case=17", "--csv", path)
        self.assertIn("selection of 60 places", text)
        self.assertLessEqual(text.count("\n"), 50)
        read = pandas.read_csv(path, skiprows=[1], float_precision="round_trip")
        self.assertEqual(list(read), ["time_ms", "lag_mm", "handle_moment_nm"])
        np.testing.assert_array_equal(read.time_ms, self.series["time_ms"])
        np.testing.assert_array_equal(read.lag_mm, self.series["lag_mm"][17])

    def test_mean_series(self):
        _, rows = self.rows("--only", "lag_mm", "--where", "head_mass_g=204")
        taken = self.series["lag_mm"][self.good_ones.index[self.good_ones.head_mass_g.round(6) == 204]]
        self.same(rows.lag_mm, taken.mean(axis=0))
        self.same(rows["lag_mm.sd"], taken.std(axis=0, ddof=1))
        self.assertEqual(set(rows.cases), {len(taken)})

    # ------------------------------------------------------------------ what is refused

    def test_names(self):
        self.refused("has no column 'anser_05_mps'; did you mean answer_05_mps?", "--only", "anser_05_mps")
        self.refused("has no column 'head_mas_g'; did you mean head_mass_g?", "--where", "head_mas_g=3")
        self.refused("'answer_05_mps' is no factor", "--by", "answer_05_mps")
        self.refused("'rise_ms' is given twice", "--by", "rise_ms,rise_ms")
        self.refused("do not go into one table", "--only", "lag_mm,rise_ms")
        self.refused("does not go with series", "--only", "lag_mm", "--by", "tip_trims")

    def test_values(self):
        for want, text in some((
                ('"3 kg" is a mass, but a time is wanted (s, ms)', "rise_ms=3 kg"),
                ('"3,5" has a comma in its number', "rise_ms=3,5"),
                ("LOW is above HIGH", "rise_ms=60..50"),
                ("a range has a LOW or a HIGH", "rise_ms=.."),
                ("NAME=VALUE or NAME=LOW..HIGH is wanted", "rise_ms="),
                ("no case has rise_ms=12; the nearest is 30.0169 ms", "rise_ms=12"),
                ("no case has head_mass_g=201.5; the nearest are 201 and 202 g", "head_mass_g=201.5"),
                ("no case is case=1000; they are 0 to 999", "case=1000"),
                ("tip_trims is one of: ../cuts/none.yaml, ../cuts/half.yaml", "tip_trims=short"),
                ("a series has many values a case", "lag_mm=3"),
                ("status is all, ok, failed, not_run", "status=bad"),
                ("of the cases that are asked for 1 failed", "case=5"))):
            self.refused(want, "--where", text, "--only", "rise_ms")
        self.refused("no case is as --where asks, all of it together", "--where", "case=17",
                     "--where", "rise_ms=..40", "--only", "rise_ms")
        self.refused("--where takes name=value", "--where", "rise_ms", status=2)
        self.refused("--csv writes FILE.csv", "--csv", "a.txt", status=2)

    def test_files(self):
        foreign = self.dir / "foreign.h5"
        with h5py.File(foreign, "w") as file:
            file["status"] = np.zeros(3)
        self.assertIn("not a study of caber", self.bad(1, "table", foreign))
        text = self.dir / "text.h5"
        text.write_text("no HDF5\n" * 100)
        self.assertIn("not an HDF5 file", self.bad(1, "table", text))
        self.assertIn("No such file", self.bad(1, "table", self.dir / "none.h5"))
        short = self.dir / "short.h5"
        whole = self.path.read_bytes()
        for size in (100, 5000, len(whole) // 2, len(whole) - 10):
            short.write_bytes(whole[:size])
            self.bad(1, "table", short)
        odd = self.dir / "odd.h5"
        for name, value, want in (("points", 499., "499 points of 2 swings"),
                                  ("design", "heap", "calls its design 'heap'"),
                                  ("factor_names", ["a", "b", "c"], "a factor 'a'")):
            shutil.copy(self.path, odd)
            with h5py.File(odd, "a") as file:
                file.attrs[name] = value
            self.assertIn(want, self.bad(1, "table", odd))

    def test_a_flipped_bit(self):
        """Found, or in nothing that is printed."""
        bad, good = self.dir / "bad.h5", self.path.read_bytes()
        want, found, places = self.table(), 0, range(9, len(good), len(good) // (4 if SLOW else 10))
        for place in places:
            changed = bytearray(good)
            changed[place] ^= 0x10
            bad.write_bytes(changed)
            status, out, err = run("table", bad)
            self.assertIn(status, (0, 1))
            found += status
            self.assertEqual(out, "" if status else want)
            self.assertEqual(bool(err), status == 1)
        self.assertGreater(found, 0.8 * len(places))

    def test_a_csv_that_cannot_be_written(self):
        target = self.dir / "a.csv"
        target.write_text("as it was")
        def small_files():
            resource.setrlimit(resource.RLIMIT_FSIZE, (50000, 50000))
        self.assertIn("a.csv: cannot write: File too large",
                      self.bad(1, "table", self.path, "--csv", target, preexec_fn=small_files))
        self.assertEqual(target.read_text(), "as it was")
        self.assertEqual([p.name for p in self.dir.iterdir()], ["a.csv"])
        self.refused("--csv would write over", "--csv", self.link_to_study(), status=2)

    def link_to_study(self):
        link = self.dir / "link.csv"
        link.symlink_to(self.path)
        return link

    @unittest.skipIf(SLOW, "sanitisers have memory of their own")
    def test_many_cases_in_little_memory(self):
        """Within 14 MB of data, as many as the numbers alone."""
        path = self.dir / "many.h5"
        run("write", path, "new", "cases=40000", "chunk=512", program=WRITER)
        def little_memory():
            resource.setrlimit(resource.RLIMIT_DATA, (14 << 20, 14 << 20))
        for words in ((), ("--by", "tip_trims,head_mass_g"), ("--csv", self.dir / "many.csv", "--only", "rise_ms")):
            self.good("table", path, *words, preexec_fn=little_memory)


if __name__ == "__main__":
    main()
