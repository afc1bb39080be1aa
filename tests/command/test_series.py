# SPDX-License-Identifier: GPL-3.0-or-later
"""caber swing --series: CSV and HDF5, read by others' programs, and what a failed write leaves."""
import csv
import json
import os
import resource
import stat
import subprocess

import h5py
import numpy as np
import pandas
import xarray

from harness import Case, SETUP, main

ALONG = ("moment_nm", "curvature_per_m")


class Series(Case):
    def setUp(self):
        super().setUp()
        self.fields = json.loads(self.good("fields", "series", "--json"))["series"]
        self.names = [field["name"] for field in self.fields]

    def write(self, name, *more):
        path = self.dir / name
        self.good("swing", SETUP, "--series", path, "--get", "head_speed_mps", *more)
        return path

    def test_csv(self):
        path = self.write("a.csv")
        with open(path, newline="", encoding="utf-8") as file:
            names, units, *rows = csv.reader(file)
        self.assertEqual(names[:len(self.names)], self.names)
        self.assertEqual(units[:len(self.names)], [field["unit"] for field in self.fields])
        self.assertGreater(len(rows), 50)
        for row in rows:
            self.assertEqual(len(row), len(names))
            # A shaft without a bend point has none: an empty cell, in that column only.
            full = [cell for name, cell in zip(names, row) if cell or name != "bend_point_m"]
            self.assertTrue(np.isfinite(np.array(full, float)).all())
        for name, unit in zip(ALONG, ("N m", "1/m")):
            columns = [n for n in names if n.startswith(name + "@")]
            self.assertGreater(len(columns), 5)
            self.assertEqual(len(set(columns)), len(columns))
            for column in columns:
                self.assertEqual(units[names.index(column)], unit)

    def test_csv_in_pandas(self):
        table = pandas.read_csv(self.write("a.csv"), skiprows=[1])
        self.assertTrue((np.diff(table["time_s"]) > 0).all())
        self.assertTrue(all(kind == float for kind in table.dtypes if kind != int))

    def test_the_series_fits_the_swing(self):
        table = pandas.read_csv(self.write("a.csv"), skiprows=[1])
        impact = json.loads(self.good("swing", SETUP, "--json"))["impact"]
        last = table.iloc[-1]
        self.assertEqual(table["time_s"].iloc[0], 0)
        self.assertAlmostEqual(last["time_s"], impact["downswing_time_s"], delta=1e-8)
        for column in ("head_speed_mps", "lead_deflection_mm", "droop_mm", "tip_twist_deg"):
            self.assertAlmostEqual(last[column], impact[column], delta=1e-4 * abs(impact[column]))
        # Sampled, so a little below the true peak.
        for column, name in (("handle_moment_nm", "peak_handle_moment_nm"),
                             ("grip_force_n", "grip_force_n"),
                             ("strain_energy_j", "strain_energy_peak_j")):
            peak = table[column].abs().max()
            self.assertAlmostEqual(peak, impact[name], delta=0.01 * impact[name], msg=name)

    def test_hdf5_holds_what_the_csv_holds(self):
        table = pandas.read_csv(self.write("a.csv"), skiprows=[1])
        with h5py.File(self.write("a.h5")) as file:
            for field in self.fields:
                data = file[field["name"]]
                self.assertEqual(data.attrs["units"], field["unit"])
                self.assertEqual(data.attrs["long_name"], field["meaning"])
                np.testing.assert_allclose(data[()], table[field["name"]], rtol=1e-8, atol=1e-12)
            for name in ALONG:
                for i, place in enumerate(file["place_m"][()]):
                    np.testing.assert_allclose(file[name][:, i], table["%s@%.4f" % (name, place)],
                                               rtol=1e-8, atol=1e-12)

    def test_hdf5_conventions(self):
        with h5py.File(self.write("a.h5", "--set", "load.grip.rise=0.05 s")) as file:
            for name, data in file.items():
                self.assertEqual(data.dtype, "<f8")
                for dimension in () if h5py.h5ds.is_scale(data.id) else data.dims:
                    self.assertEqual(len(dimension.keys()), 1, name)
                for key in ("units", "long_name"):
                    kind = h5py.check_string_dtype(data.attrs.get_id(key).dtype)
                    self.assertEqual((kind.encoding, kind.length), ("utf-8", None), name)
            attrs = file.attrs
            with open(SETUP, encoding="utf-8") as text:
                self.assertEqual(attrs["setup_text"], text.read())
            self.assertEqual(list(attrs["overrides"]), ["load.grip.rise=0.05 s"])
            self.assertIn(attrs["version"], self.good("--version"))
            self.assertGreater(attrs["settings_modes"], 1)

    def test_hdf5_holds_the_model_that_made_it(self):
        more = ("--set", "load.grip.rise=0.05 s", "--get", "head_speed_mps,loft_change_deg")
        with h5py.File(self.write("a.h5", *more[:2])) as file:
            model = self.dir / "model.yaml"
            model.write_text(file.attrs["model_text"], encoding="utf-8")
        self.assertEqual(self.good("swing", model, *more[2:]), self.good("swing", SETUP, *more))

    def test_xarray(self):
        with xarray.open_dataset(self.write("a.h5"), engine="h5netcdf") as data:
            self.assertEqual(set(data.dims), {"time_s", "place_m"})
            self.assertEqual(data["moment_nm"].dims, ("time_s", "place_m"))
            self.assertLess(set(self.names), set(data.variables))
            self.assertEqual(data["lag_mm"].attrs["units"], "mm")

    def test_h5dump(self):
        done = subprocess.run(["h5dump", "-d", "/lag_mm", self.write("a.h5")], text=True,
                              capture_output=True, check=True)
        self.assertEqual(done.stderr, "")
        self.assertIn("H5T_IEEE_F64LE", done.stdout)

    def test_same_bytes(self):
        for end in (".csv", ".h5"):
            one, two = self.write("one" + end), self.write("two" + end)
            self.assertEqual(one.read_bytes(), two.read_bytes())

    def test_an_existing_file_is_replaced(self):
        path = self.dir / "a.csv"
        path.write_text("old")
        path.chmod(0o640)
        self.write("a.csv")
        self.assertGreater(path.stat().st_size, 1000)
        self.assertEqual(stat.S_IMODE(path.stat().st_mode), 0o640)

    def test_a_link_stays_a_link(self):
        (self.dir / "real.csv").write_text("old")
        (self.dir / "link.csv").symlink_to("real.csv")
        self.write("link.csv")
        self.assertTrue((self.dir / "link.csv").is_symlink())
        self.assertGreater((self.dir / "real.csv").stat().st_size, 1000)

    def test_a_failed_write_leaves_the_old_file(self):
        def small_files():
            resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
        for end in (".csv", ".h5"):
            path = self.dir / ("a" + end)
            path.write_text("old")
            message = self.bad(1, "swing", SETUP, "--series", path, preexec_fn=small_files)
            self.assertIn(str(path), message)
            self.assertEqual(path.read_text(), "old")
        self.assertEqual(sorted(os.listdir(self.dir)), ["a.csv", "a.h5"])

    def test_places_that_cannot_be_written(self):
        (self.dir / "folder.csv").mkdir()
        os.mkfifo(self.dir / "pipe.h5")
        for path in (self.dir / "folder.csv", self.dir / "pipe.h5", self.dir / "none" / "a.csv"):
            self.assertIn(str(path), self.bad(1, "swing", SETUP, "--series", path))
        self.assertTrue(stat.S_ISFIFO((self.dir / "pipe.h5").stat().st_mode))


if __name__ == "__main__":
    main()
