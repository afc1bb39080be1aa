#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""study.py: a study's file in Python, from opening it to two figures.

    caber sweep models/studies/shafts-in-time.yaml
    examples/study.py shafts-in-time.h5 [FOLDER] [OUTPUT]

What `caber sweep` writes is plain HDF5, and xarray opens it without help: every factor and output is a column along
`case`, every series a table along `case` and time, each with its unit and what it means. Read it from top to bottom:
it opens the file, says what is in it, takes the cases that went well, chooses by a factor, folds a full grid into an
array whose axes are the factors, averages the swings of a player, and draws OUTPUT (carry_m unless given) over two
factors and a series through time, as PNG and SVG in FOLDER (here unless given). Change what you need.

Debian 12: apt install python3-xarray python3-h5netcdf python3-h5py python3-matplotlib. For a first look without
Python there is `caber table FILE.h5`. The demonstration study runs models/setups/neutral-smooth.yaml; it is invented.
"""
import pathlib
import sys

import h5py
import matplotlib
import numpy as np
import xarray

matplotlib.use("Agg")  # figures go to files, no screen is needed
import matplotlib.pyplot as plt

if not 2 <= len(sys.argv) <= 4:
    sys.exit("usage: study.py FILE.h5 [FOLDER] [OUTPUT]")
path = pathlib.Path(sys.argv[1])
folder = pathlib.Path(sys.argv[2] if len(sys.argv) > 2 else ".")
output = sys.argv[3] if len(sys.argv) > 3 else "carry_m"

# ---------------------------------------------------------------- open it
# `data` has the columns by name, as data["carry_m"]; units and meaning are in .attrs; the root's notes in data.attrs.
data = xarray.open_dataset(path, engine="h5netcdf").load()

# The same with h5py alone: a column is an array, a note an attribute.
with h5py.File(path) as file:
    factors = [str(name) for name in file.attrs["factor_names"]]
    design = file.attrs["design"]
    study_text = file.attrs["study_text"]  # the study's file, word for word
    # A factor that is a choice of files or a word holds its place in a list, which a note has.
    words = {name: [pathlib.PurePath(text).stem for text in file.attrs["choices_" + name]]
             for name in factors if "choices_" + name in file.attrs}

if output not in data.data_vars or data[output].dims != ("case",):
    sys.exit("study.py: %s has no output %s; it has %s" % (path, output, ", ".join(
        name for name, column in data.data_vars.items() if column.dims == ("case",))))


def label(column):
    """What stands at an axis: a factor with its unit, which the name of an output has already."""
    unit = column.attrs["units"]
    return "%s [%s]" % (column.name, unit) if column.name in factors and unit != "1" else column.name


# ---------------------------------------------------------------- what is in it
print("%s: a %s, %d cases of %s" % (data.attrs["title"], design, data.sizes["case"], ", ".join(factors)))
print(data.attrs["note"])

# Each case says how it ended: 0 is well, -1 not run yet; what failed has a reason and no numbers.
for case in np.flatnonzero(data["status"] > 0)[:5]:
    print("case %d failed: %s" % (case, data["reason"].values[case].decode()))
well = data.isel(case=np.flatnonzero(data["status"] == 0))
print("%d cases went well\n" % well.sizes["case"])
if not well.sizes["case"]:
    sys.exit("study.py: there is nothing to draw")

print("%-28s %10s %10s %10s  %s" % ("", "smallest", "mean", "largest", "what it is"))
for name, column in well.data_vars.items():
    if column.dims == ("case",) and "units" in column.attrs and name not in ("status", "reason"):
        print("%-28s %10.5g %10.5g %10.5g  %s" % (name, column.min(), column.mean(), column.max(),
                                                  column.attrs["long_name"]))

# ---------------------------------------------------------------- choose by a factor
# A condition on columns chooses cases; np.isclose, as 0.3 need not be exactly 0.3.
first = factors[0]
smallest = float(well[first].min())
chosen = well.isel(case=np.flatnonzero(np.isclose(well[first], smallest)))
print("\n%s where %s is %s: mean %.5g, standard deviation %.3g, of %d cases" % (
    output, first, words[first][int(smallest)] if first in words else "%g" % smallest,
    chosen[output].mean(), chosen[output].std(ddof=1), chosen.sizes["case"]))

# ---------------------------------------------------------------- a grid with the factors as axes
# Of a full grid every factor becomes an axis, and so does the player's swing (replicate): grid["carry_m"] is then
# an array that is selected by value, averaged over an axis, differentiated along one.
if design != "grid":
    sys.exit("study.py: the design is no grid: %s over its factors is no table; draw the points of `well`, or ask "
             "`caber influence`" % output)
axes = factors + (["replicate"] if "replicate" in well.coords else [])
numbers = well.drop_dims("chunk").drop_vars(["case", "point", "status", "reason"])
grid = numbers.assign_coords(case=np.arange(well.sizes["case"])).set_index(case=axes).unstack("case")
print("\nas a grid: %s" % ", ".join("%s %d" % (name, size) for name, size in grid[output].sizes.items()))

# Averages over the swings of the player, and how much they differ from one to the next.
mean = grid.mean("replicate") if "replicate" in grid.dims else grid
if "replicate" in grid.dims:
    apart = grid[output] - mean[output]
    freedom = int(grid[output].count() - mean[output].count())
    if freedom:
        print("from swing to swing %s has a standard deviation of %.3g" % (
            output, np.sqrt(float((apart ** 2).sum()) / freedom)))


def names_of(axis):
    """What stands at an axis: words, or numbers."""
    values = mean[axis].values
    return [words[axis][int(v)] for v in values] if axis in words else ["%g" % v for v in values]


# ---------------------------------------------------------------- one output over two factors
# The two factors with the most levels; whatever other axes there are is averaged over.
across, up = (sorted(factors, key=lambda name: -mean.sizes[name]) + [None])[:2]
folder.mkdir(parents=True, exist_ok=True)
figure, plot = plt.subplots(figsize=(6.4, 4.4), layout="constrained")
if up:
    table = mean[output].mean([name for name in factors if name not in (across, up)]).transpose(up, across)
    image = plot.imshow(table, origin="lower", aspect="auto", cmap="cividis")
    figure.colorbar(image, label=label(well[output]))
    middle = (float(table.min()) + float(table.max())) / 2
    for (row, column), value in np.ndenumerate(table.values):
        plot.text(column, row, "%.4g" % value, ha="center", va="center", fontsize=8,
                  color="white" if value < middle else "black")
    plot.set_xticks(range(table.sizes[across]), names_of(across))
    plot.set_yticks(range(table.sizes[up]), names_of(up))
    plot.set_ylabel(label(well[up]))
else:
    plot.plot(mean[across], mean[output], "o-")
    plot.set_ylabel(label(well[output]))
plot.set_xlabel(label(well[across]))
plot.set_title(data.attrs["title"])
for ending in ("png", "svg"):
    figure.savefig(folder / ("study-output." + ending))

# ---------------------------------------------------------------- a series through time
# One line a value of the factor with the most levels, averaged over all other axes. After a swing's end its series
# has no value, and a line ends where the first of its swings does.
series = np.atleast_1d(data.attrs.get("series", []))
if len(series):
    name, time = str(series[0]), data.attrs["series_grid"]
    others = [axis for axis in grid[name].dims if axis not in (across, time)]
    lines = grid[name].mean(others, skipna=False)
    figure, plot = plt.subplots(figsize=(6.4, 4.0), layout="constrained")
    for i, value in enumerate(names_of(across)):
        plot.plot(grid[time], lines.isel({across: i}), label=value)
    plot.set_xlabel(label(well[time]))
    plot.set_ylabel(label(well[name]))
    plot.legend(title=label(well[across]))
    plot.set_title(data.attrs["title"])
    for ending in ("png", "svg"):
        figure.savefig(folder / ("study-series." + ending))
else:
    print("the study keeps no series; a key `series` in its file does")
print("figures are in %s" % folder)
