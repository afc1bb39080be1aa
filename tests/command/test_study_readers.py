# SPDX-License-Identifier: GPL-3.0-or-later
"""A study's file in other programs, which know nothing of caber: h5py, xarray, pandas, h5dump and Octave.

What they read is held against what `caber table` writes as CSV; that is held against pandas in test_table.py."""
import csv
import functools
import os
import pathlib
import re
import shutil
import subprocess
import tempfile
import unittest

import h5py
import numpy as np
import pandas
import xarray

from harness import Case, SLOW, main, run

STUDY = pathlib.Path(__file__).resolve().parent / "data/readers.yaml"
SERIES = ("series.lead_deflection_mm", "series.handle_moment_nm")
# Whose series are looked at: the third one is of a swing that failed.
CASES = [0, 5, 9, 23]
WORDS = {"shaft": ("neutral.yaml", "soft-tip.yaml"), "drag": ("bearman-harvey", "smits-smith", "lyu")}
# Octave's load makes a field of each dataset, with '_' for a point in its name; HDF5's last dimension is its first.
OCTAVE = """
s = load("{path}");
for [value, name] = s
  if isnumeric(value)
    printf("%s %d %d ", name, size(value)); printf("%.17g ", value); printf("\\n");
  end
end
for i = 1:rows(s.reason)
  printf("reason %s\\n", deblank(strrep(s.reason(i, :), "\\0", " ")));
end
"""


def table_as_numbers(path):
    """The columns of a CSV of caber table, and their units; words as their place among what is allowed."""
    with open(path, newline="", encoding="utf-8") as file:
        names, units, *rows = csv.reader(file)
    columns = dict(zip(names, zip(*rows)))
    for name, words in WORDS.items():
        if name in columns:
            columns[name] = [words.index(cell.rsplit("/", 1)[-1]) for cell in columns[name]]
    numbers = {name: np.array([cell if cell != "" else "nan" for cell in column], float)
               for name, column in columns.items() if name not in ("status", "reason")}
    return numbers, dict(zip(names, units)), columns.get("status"), columns.get("reason")


@functools.cache
def study(folder):
    """The file, and its numbers as caber table has them."""
    path = folder / "a.h5"
    status, _, err = run("sweep", STUDY, "--output", path, "--threads", "2")
    assert status == 0, err
    run("table", path, "--where", "status=all", "--csv", folder / "a.csv", "--only", every_name(path))
    numbers, units, ends, reasons = table_as_numbers(folder / "a.csv")
    series = {name: [] for name in SERIES}
    for case in CASES:
        words = ("--where", "status=all", "--where", "case=%d" % case, "--csv", folder / "s.csv")
        status, _, err = run("table", path, "--only", ",".join(SERIES), *words)
        assert status == 0, err
        along, more, _, _ = table_as_numbers(folder / "s.csv")
        for name in SERIES:
            series[name].append(along[name])
        units.update(more)
    return path, numbers, {name: np.array(rows) for name, rows in series.items()}, along["time_s"], units, ends, reasons


def every_name(path):
    with h5py.File(path) as file:
        return ",".join([*file.attrs["factors"], *file.attrs["outputs"]])


@unittest.skipIf(SLOW, "other programs; caber itself is run under sanitisers elsewhere")
class Readers(Case):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.folder = pathlib.Path(tempfile.mkdtemp(prefix="caber-test-"))
        cls.addClassCleanup(shutil.rmtree, cls.folder)
        (cls.path, cls.numbers, cls.series, cls.times, cls.units, cls.ends, cls.reasons) = study(cls.folder)

    def counted(self, name, values):
        """A count that there is not is -1 in the file."""
        values = np.asarray(values, float)
        return np.where(values == -1, np.nan, values) if name.startswith("swing_") else values

    def same(self, name, got):
        np.testing.assert_array_equal(self.counted(name, got), self.numbers[name], name)

    def unit(self, name):
        """The unit as the file has it."""
        return self.units[name] or "1"

    def test_there_is_something_to_read(self):
        self.assertEqual(len(self.ends), 32)
        self.assertEqual(self.ends.count("ok"), 16)
        self.assertEqual(self.ends.count("shaft_wrapped"), 16)
        self.assertEqual(np.isfinite(self.numbers["carry_m"]).sum(), 8)
        for reason, end in zip(self.reasons, self.ends):
            self.assertEqual(bool(reason), end != "ok")
        for name in SERIES:
            self.assertEqual([np.isfinite(row).sum() > 25 for row in self.series[name]],
                             [self.ends[case] == "ok" for case in CASES])
        np.testing.assert_allclose(self.times, 0.01 * np.arange(len(self.times)), rtol=1e-14)

    # ------------------------------------------------------------------ h5py

    def test_h5py(self):
        with h5py.File(self.path) as file:
            for name in self.numbers:
                self.same(name, file[name][()])
                self.assertEqual(file[name].attrs["units"], self.unit(name))
            for name in SERIES:
                np.testing.assert_array_equal(file[name][CASES], self.series[name])
                self.assertEqual([d[0].name for d in file[name].dims], ["/case", "/time_s"])
                self.assertEqual(file[name].attrs["units"], self.units[name])
            self.assertEqual([text.decode() for text in file["reason"][()]], list(self.reasons))
            self.assertIn("study_text", file.attrs)
            self.assertEqual([pathlib.Path(text).name for text in file.attrs["choices_shaft"]], list(WORDS["shaft"]))

    def test_every_dataset_says_what_it_is(self):
        with h5py.File(self.path) as file:
            for name, data in file.items():
                for i, dimension in enumerate(() if h5py.h5ds.is_scale(data.id) else data.dims):
                    self.assertEqual(len(dimension.keys()), 1, name)
                    self.assertEqual(len(dimension[0]), data.shape[i], name)
                for key in ("units", "long_name"):
                    kind = h5py.check_string_dtype(data.attrs.get_id(key).dtype)
                    self.assertEqual((kind.encoding, kind.length), ("utf-8", None), name)
                    self.assertTrue(data.attrs[key], name)
                if name not in ("chunk", "time_s", "chunk_crc32"):
                    self.assertEqual((data.compression, data.shuffle), ("gzip", True), name)

    # ------------------------------------------------------------------ xarray, pandas

    def test_xarray(self):
        with xarray.open_dataset(self.path, engine="h5netcdf") as data:
            self.assertEqual(data.sizes["case"], 32)
            self.assertEqual(data.sizes["time_s"], len(self.times))
            for name, variable in data.variables.items():
                self.assertTrue(variable.dims, name)
                self.assertLessEqual(set(variable.dims), {"case", "chunk", "time_s"}, name)
                self.assertTrue(variable.attrs["units"], name)
                self.assertTrue(variable.attrs["long_name"], name)
            for name in self.numbers:
                self.same(name, data[name])
                self.assertEqual(data[name].attrs["units"], self.unit(name))
                self.assertEqual(data[name].dims, ("case",))
            for name in SERIES:
                self.assertEqual(data[name].dims, ("case", "time_s"))
                np.testing.assert_array_equal(data[name][CASES], self.series[name])
            np.testing.assert_array_equal(data["time_s"], self.times)
            self.assertLessEqual({"shaft", "stiffness", "loft", "drag", "point", "replicate"}, set(data.coords))
            words = data["status"].attrs["flag_meanings"].split()
            meaning = dict(zip(data["status"].attrs["flag_values"].tolist(), words))
            self.assertEqual([meaning[s] for s in data["status"].values.tolist()], list(self.ends))
            # What a study is read for: chosen by a factor, averaged over the others.
            high = data["carry_m"].where(data["loft"] > 5).groupby("drag").mean()
            want = [np.nanmean(np.where((self.numbers["loft"] > 5) & (self.numbers["drag"] == d),
                                        self.numbers["carry_m"], np.nan)) for d in (1, 2)]
            np.testing.assert_allclose(high, want, rtol=1e-13)

    def test_pandas(self):
        with xarray.open_dataset(self.path, engine="h5netcdf") as data:
            frame = data.drop_dims(["chunk", "time_s"]).to_dataframe()
        self.assertEqual(list(frame.index), list(range(32)))
        for name in self.numbers:
            if name != "case":
                self.same(name, frame[name])
        read = pandas.read_csv(self.folder / "a.csv", skiprows=[1], index_col="case", float_precision="round_trip")
        for name in ("stiffness", "carry_m", "swing_steps"):
            np.testing.assert_array_equal(read[name], self.numbers[name])

    # ------------------------------------------------------------------ h5dump

    def dump(self, *words):
        done = subprocess.run(["h5dump", *words, self.path], text=True, capture_output=True, check=True)
        self.assertEqual(done.stderr, "")
        return done.stdout

    def test_h5dump(self):
        names = [name for name in self.numbers]
        # All at once, each number with all its digits.
        words = [word for name in (*names, *SERIES) for word in ("-d", "/" + name)]
        text = self.dump("-w", "0", "-m", "%.17g", "-A", "0", *words)
        found = dict(re.findall(r'DATASET "/([^"]*)" \{.*?DATA \{(.*?)\n   \}', text, re.S))
        self.assertEqual(set(found), {*names, *SERIES})
        for name, data in found.items():
            values = np.array(re.sub(r"\([\d,]+\):", "", data).replace(",", " ").split(), float)
            if name in SERIES:
                np.testing.assert_array_equal(values.reshape(32, -1)[CASES], self.series[name])
            else:
                self.same(name, values)
        self.assertIn('"reason"', self.dump("-H"))
        self.dump()

    # ------------------------------------------------------------------ Octave

    def test_octave(self):
        done = subprocess.run(["octave-cli", "--norc", "--no-history", "--quiet", "--eval",
                               OCTAVE.format(path=self.path)], text=True, capture_output=True, check=True,
                              env=dict(os.environ, HOME=str(self.dir)))
        self.assertEqual(done.stderr, "")
        lines = [line.split(" ", 1) for line in done.stdout.splitlines()]
        self.assertEqual([rest for name, rest in lines if name == "reason"], list(self.reasons))
        found = {}
        for name, rest in lines:
            if name != "reason":
                rows, columns, *values = rest.split()
                found[name] = (int(rows), int(columns)), np.array(values, float)
        for name in self.numbers:
            size, values = found[name.replace(".", "_")]
            self.assertEqual(size, (1, 32))
            self.same(name, values)
        for name in SERIES:
            size, values = found[name.replace(".", "_")]
            self.assertEqual(size, (len(self.times), 32))
            np.testing.assert_array_equal(values.reshape(32, -1)[CASES], self.series[name])


if __name__ == "__main__":
    main()
