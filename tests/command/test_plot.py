# SPDX-License-Identifier: GPL-3.0-or-later
"""--plot of swing and bench: what is drawn against what is printed, SVG and PNG, and what goes wrong."""
import functools
import json
import math
import os
import pathlib
import struct
import tempfile
import unittest
import xml.etree.ElementTree
import zlib

import matplotlib.image
import numpy as np
import pandas
import yaml

from harness import MODELS, READINGS, SETUP, SLOW, Case, main, run

SVG = "{http://www.w3.org/2000/svg}"
GRID, AXES, BLUE, VIOLET, ORANGE = "#DDDDDD", "#222222", "#1B3A5C", "#8C6BB1", "#C2571A"
# The library of fonts keeps what it has read of them to the end: no leak of the program's.
QUIET = dict(os.environ, ASAN_OPTIONS="detect_leaks=0")


@functools.cache
def drawn(*words):
    """A picture as SVG, of a command that must succeed and say nothing."""
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder, "a.svg")
        status, _, err = run(*words, "--plot", path)
        assert (status, err) == (0, ""), err
        return path.read_text(encoding="utf-8")


def texts_of(svg):
    return ["".join(t.itertext()).strip() for t in xml.etree.ElementTree.fromstring(svg.encode()).iter(SVG + "text")]


def corners(element):
    return np.array([[float(number) for number in pair.split(",")] for pair in element.get("points").split()])


class Panel:
    """A panel as it was drawn: unbroken curves by their colour, dots, and the scales that grid and numbers make."""

    def __init__(self):
        self.across, self.up, self.curves, self.dots, self.numbers = [], [], [], [], {"end": [], "middle": []}
        self.bands = []  # pale, along one edge and back along the other
        self.left = self.bottom = None  # of the axes, which hide a grid line there

    def scale(self, lines, edge, anchor):
        """From points on the page to numbers, by the grid and the numbers beside it."""
        values, lines = sorted(self.numbers[anchor]), sorted(lines)
        if len(lines) < len(values):  # no grid line lies on an edge
            step = lines[1] - lines[0] if len(lines) > 1 else None
            low = step is None or lines[0] - step > edge - 0.5
            lines = [edge, *lines] if low else [*lines, lines[-1] + step]
        assert len(values) == len(lines) > 1, (values, lines)
        found = np.polyfit(lines, values, 1)
        assert np.allclose(np.polyval(found, lines), values, atol=1e-3 * (values[-1] - values[0])), (values, lines)
        return found

    def heights(self, corner):
        return np.polyval(self.scale(self.up, self.bottom, "end"), corner)

    def widths(self, corner):
        return np.polyval(self.scale(self.across, self.left, "middle"), corner)

    def add_line(self, ink, points):
        """Axes, or a piece of a curve: the driver breaks long ones."""
        if ink == AXES and len(points) == 2 and None in (self.left, self.bottom):
            level = points[0, 1] == points[1, 1]
            self.bottom = points[0, 1] if level and np.ptp(points[:, 0]) > 400 else self.bottom
            self.left = points[0, 0] if not level and self.left is None else self.left
        elif self.curves and self.curves[-1][0] == ink and (self.curves[-1][1][-1] == points[0]).all():
            self.curves[-1] = ink, np.concatenate([self.curves[-1][1], points[1:]])
        else:
            self.curves.append((ink, points))

    def curve(self, ink):
        """The longest unbroken curve of that colour."""
        return max((points for colour, points in self.curves if colour == ink), key=len)


def panels_of(svg):
    """Panels from the top down. Of each the grid is drawn first."""
    panels, grid = [], False
    for element in xml.etree.ElementTree.fromstring(svg.encode()).iter():
        ink = (element.get("stroke") or element.get("fill") or "").upper()
        if element.tag == SVG + "polyline":
            points = corners(element)
            if ink == GRID:
                if not grid:
                    panels.append(Panel())
                level = points[0, 1] == points[-1, 1]
                (panels[-1].up if level else panels[-1].across).append(points[0, 1 if level else 0])
            elif element.get("fill") != "none":
                if len(points) == 13:
                    panels[-1].dots.append((ink, points[:12].mean(axis=0)))
                elif len(points) > 20:
                    panels[-1].bands.append(points)
            else:
                panels[-1].add_line(ink, points)
            grid = ink == GRID
        elif element.tag == SVG + "text" and panels and element.get("text-anchor") in ("end", "middle"):
            try:
                panels[-1].numbers[element.get("text-anchor")].append(float("".join(element.itertext())))
            except ValueError:
                pass
    return panels


class Swing(Case):
    def test_curves_are_those_of_the_series(self):
        path = self.dir / "a.csv"
        self.good("swing", SETUP, "--series", path, "--get", "carry_m")
        table = pandas.read_csv(path, skiprows=[1])
        panels = panels_of(drawn("swing", SETUP))
        self.assertEqual(len(panels), 6)
        time = panels[4]  # the axis of all strips
        for panel, column, ink in zip(panels, ("handle_moment_nm", "lead_deflection_mm", "tip_twist_deg",
                                               "strain_energy_butt_j", "head_speed_mps"),
                                      (BLUE, BLUE, VIOLET, BLUE, BLUE)):
            points = panel.curve(ink)
            self.assertEqual(len(points), len(table), column)
            spread = table[column].max() - table[column].min()
            # 1/100 of a point on the page, in strips of some 70.
            np.testing.assert_allclose(panel.heights(points[:, 1]), table[column], rtol=0, atol=2e-3 * spread)
            np.testing.assert_allclose(time.widths(points[:, 0]), table["time_s"] * 1e3, rtol=0, atol=0.05)

    def test_peaks_and_the_shape_of_the_shaft(self):
        impact = json.loads(self.good("swing", SETUP, "--json"))["impact"]
        svg = drawn("swing", SETUP)
        panels, texts = panels_of(svg), texts_of(svg)
        for want in ("%.1f N m" % impact["peak_handle_moment_nm"], "peak lag", "impact", "out of it", "middle third",
                     "grows by %.0f N m/s" % impact["peak_load_rate_nm_s"], "Neutral, smooth: one downswing",
                     "%+.2f m/s from the shaft" % impact["shaft_speed_gain_mps"], "Handle moment, N m",
                     "Tip off the handle axis, mm", "Tip twist, deg", "Strain energy, J", "Head speed, m/s",
                     "a straight club", "from the start of the downswing, ms"):
            self.assertIn(want, texts)
        peak = panels[0].dots[0][1]
        self.assertAlmostEqual(panels[0].heights(peak[1]), impact["peak_handle_moment_nm"], delta=0.05)
        self.assertAlmostEqual(panels[4].widths(peak[0]), impact["peak_handle_moment_time_s"] * 1e3, delta=0.1)
        shape = panels[5].curve(BLUE)
        trail = panels[5].heights(shape[:, 1])
        self.assertAlmostEqual(max(trail), impact["peak_lag_mm"], delta=0.2)
        # It leaves the hands along the handle and bends one way.
        self.assertAlmostEqual(trail[-1], 0, delta=0.1)
        self.assertTrue((np.diff(trail) < 0.05).all())

    def test_rows_too_far_apart_change_nothing(self):
        self.assertEqual(drawn("swing", SETUP, "--set", "settings.sample=0.05 s"), drawn("swing", SETUP))

    def test_a_swing_that_meets_no_ball(self):
        path = self.dir / "a.svg"
        status, _, err = run("swing", SETUP, "--set", "settings.until=0.1 s", "--plot", path)
        self.assertEqual((status, err.count("\n")), (0, 1))
        self.assertIn("peak lag, stopped", texts_of(path.read_text(encoding="utf-8")))

    @unittest.skipIf(SLOW, "as others")
    def test_extreme_setups(self):
        for name in ("soft-tip-quick", "firm-tip-late", "neutral-smooth-left"):
            svg = drawn("swing", str(MODELS / "setups" / (name + ".yaml")))
            self.assertEqual(len(panels_of(svg)), 6)
            for panel in panels_of(svg):
                self.assertGreater(len(panel.numbers["end"]), 1, name)


class Bench(Case):
    def bench(self, *words):
        return json.loads(self.good("bench", SETUP, *words, "--json"))

    def test_stiffness_is_that_of_the_file(self):
        with open(MODELS / "shafts/neutral.yaml", encoding="utf-8") as text:
            shaft = yaml.safe_load(text)
        panels = panels_of(drawn("bench", SETUP))
        ei = panels[0].curve(BLUE)
        at, value = panels[2].widths(ei[:, 0]), panels[0].heights(ei[:, 1])
        trim = self.bench()["tip_trim_mm"]
        self.assertTrue((np.diff(at) > 0).all())
        for station in shaft["stations"]:
            place = self.number(station["at"]) * 1e3 - trim
            if 0 < place < at[-1]:
                self.assertAlmostEqual(np.interp(place, at, value), self.number(station["ei"]), delta=0.15)

    @staticmethod
    def number(text):
        if isinstance(text, (int, float)):
            return float(text)
        value, unit = text.split(" ", 1)
        return float(value) * {"mm": 1e-3, "m": 1, "N m2": 1}[unit]

    def test_bend_is_the_load_on_that_stiffness(self):
        """Euler and Bernoulli: v'' = load (distance from the tip)/EI, summed up twice from the clamp."""
        panels, found = panels_of(drawn("bench", SETUP)), self.bench()
        ei, bend = panels[0].curve(BLUE), panels[1].curve(BLUE)
        at, sag = panels[2].widths(bend[:, 0]), panels[1].heights(bend[:, 1])
        order = np.argsort(at)
        at, sag = at[order] / 1e3, sag[order]
        self.assertAlmostEqual(sag[0], found["tip_deflection_mm"], delta=0.1)
        x = np.linspace(at[0], at[-1], 2001)
        stiffness = np.interp(x, panels[2].widths(ei[:, 0]) / 1e3, panels[0].heights(ei[:, 1]))
        curvature = found["jig"]["load_n"] * x / stiffness
        step = x[1] - x[0]
        slope = np.cumsum(((curvature[1:] + curvature[:-1]) / 2 * step)[::-1])[::-1]
        want = np.append(np.cumsum((slope * step)[::-1])[::-1], 0) * 1e3
        np.testing.assert_allclose(sag, np.interp(at, x, want), rtol=0, atol=0.005 * want[0])
        dots = [point for ink, point in panels[1].dots if ink == ORANGE]
        self.assertAlmostEqual(panels[2].widths(dots[0][0]), found["bend_point_m"] * 1e3, delta=1)
        self.assertIn("bend point, %.0f mm" % (found["bend_point_m"] * 1e3), texts_of(drawn("bench", SETUP)))

    def test_modes(self):
        svg, found = drawn("bench", SETUP), self.bench()
        shape = panels_of(svg)[2].curve(BLUE)
        value = panels_of(svg)[2].heights(shape[:, 1])
        self.assertAlmostEqual(value.max(), 1, delta=0.01)
        self.assertAlmostEqual(value.min(), 0, delta=0.01)
        written = [text for text in texts_of(svg) if text.endswith(" Hz")]
        listed = ["%.2f Hz" % value for value in found["frequencies_hz"]]
        self.assertEqual(len(written), 3)
        self.assertLessEqual(set(written), set(listed))

    def test_spans_stand_where_the_jig_reads_them(self):
        panels, found = panels_of(drawn("bench", SETUP)), self.bench()
        dots = np.array([point for ink, point in panels[0].dots if ink == ORANGE])[:len(found["span_at_m"])]
        np.testing.assert_allclose(panels[2].widths(dots[:, 0]), np.array(found["span_at_m"]) * 1e3, atol=1)
        np.testing.assert_allclose(panels[0].heights(dots[:, 1]), found["span_ei_nm2"], atol=0.15)

    def test_frequencies_where_several_are_asked_for(self):
        words = ("--clamp", "127 mm,150 mm,180 mm", "--tip-mass", "205 g,0 g")
        panel, table = panels_of(drawn("bench", SETUP, *words))[3], self.bench(*words)["frequency_table"]
        dots = np.array([point for _, point in panel.dots][:6])
        np.testing.assert_allclose(panel.heights(dots[:, 1]), np.array(table["cpm"]).T.ravel(), atol=0.15)
        np.testing.assert_allclose(panel.widths(dots[:, 0]), np.tile(table["clamp_m"], 2) * 1e3, atol=0.15)
        self.assertEqual(len(panels_of(drawn("bench", SETUP))), 3)
        for masses, count in (("0 g,150 g,205 g", 4), ("0 g,0 g", 3)):
            self.assertEqual(len(panels_of(drawn("bench", SETUP, "--clamp", "127 mm", "--tip-mass", masses))), count)

    @unittest.skipIf(SLOW, "a fit as in others")
    def test_bands_and_bars_of_a_profile_with_errors(self):
        """Independent errors of a logarithm add up as squares; 95 % of a normal distribution lie within 1.96 of
        its standard deviations."""
        path, picture = self.dir / "shaft.yaml", self.dir / "a.svg"
        self.good("profile", READINGS, "--output", path)
        found = json.loads(self.good(
            "bench", SETUP, "--set", "shaft=%s" % path, "--uncertainty", "--draws", "200", "--clamp", "127 mm",
            "--tip-mass", "205 g,150 g", "--span", "0.6 m", "--modes", "1", "--json", "--plot", picture))
        panels = panels_of(picture.read_text(encoding="utf-8"))
        errors = pandas.read_csv(self.dir / "shaft-errors.csv", comment="#", skiprows=[1])
        with open(path, encoding="utf-8") as text:
            stations = yaml.safe_load(text)["stations"]
        sd = (errors["ei"]**2).groupby(errors["at"]).sum()**0.5
        band = panels[0].bands[0]
        half = len(band) // 2
        at = panels[2].widths(band[:half, 0])
        low, high = panels[0].heights(band[:half, 1]), panels[0].heights(band[2 * half - 1:half - 1:-1, 1])
        for place, ei, one in zip(sd.index - found["tip_trim_mm"], (self.number(s["ei"]) for s in stations), sd):
            if 0 < place < at[-1]:
                for edge, sign in ((low, -1), (high, 1)):
                    self.assertAlmostEqual(np.interp(place, at, edge), ei * math.exp(sign * 1.96 * one), delta=0.1)
        bars = [points for ink, points in panels[0].curves if ink == ORANGE and len(points) == 2]
        lengths = [np.ptp(panels[0].heights(points[:, 1])) for points in bars]
        np.testing.assert_allclose(lengths, 2 * 1.96 * np.array(found["spread"]["sd"]["span_ei_nm2"]), atol=0.05)
        lengths = [np.ptp(panels[3].heights(points[:, 1])) for ink, points in panels[3].curves
                   if ink == BLUE and len(points) == 2 and points[0, 0] == points[1, 0]]
        np.testing.assert_allclose(lengths, 2 * 1.96 * np.array(found["spread"]["sd"]["frequency_table"][0])[::-1],
                                   atol=0.05)


def chunks_of(data):
    """Of a PNG (ISO/IEC 15948): name and content of every chunk; each one's sum is checked."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    at, out = 8, []
    while at < len(data):
        size, name = struct.unpack(">I4s", data[at:at + 8])
        content = data[at + 8:at + 8 + size]
        assert struct.unpack(">I", data[at + 8 + size:at + 12 + size])[0] == zlib.crc32(name + content)
        out.append((name.decode(), content))
        at += 12 + size
    return out


class Png(Case):
    def picture(self, name, *words):
        path = self.dir / name
        self.good(*words, "--plot", path, env=dict(QUIET, TZ="Asia/Tokyo", HOME="/nowhere"))
        return path

    def check(self, path, width, height):
        chunks = chunks_of(path.read_bytes())
        self.assertEqual(struct.unpack(">II", chunks[0][1][:8]), (width, height))
        self.assertEqual(struct.unpack(">IIB", dict(chunks)["pHYs"]), (5906, 5906, 1))  # 150 an inch
        self.assertEqual({name for name, _ in chunks} - {"IHDR", "pHYs", "IDAT", "IEND", "bKGD"}, set())
        image = matplotlib.image.imread(path)[:, :, :3]
        self.assertEqual(image.shape[:2], (height, width))
        self.assertTrue((image[:5] == 1).all() and (image[:, -3:] == 1).all(), "the ground is white")
        inked = (image < 0.9).any(axis=2)
        self.assertTrue(0.01 < inked.mean() < 0.5, inked.mean())
        # Something in every tenth of it.
        self.assertTrue(all(part.any() for part in np.array_split(inked, 10)))
        return image

    def test_swing(self):
        image = self.check(self.picture("a.png", "swing", SETUP), 1050, 1500)
        blue = (abs(image * 255 - [0x1b, 0x3a, 0x5c]) < 3).all(axis=2)
        self.assertGreater(blue.sum(), 2000)

    @unittest.skipIf(SLOW, "as the other")
    def test_bench_and_the_same_bytes(self):
        words = ("bench", SETUP, "--clamp", "127 mm,150 mm")
        one, two = self.picture("a.png", *words), self.picture("b.png", *words)
        self.assertEqual(one.read_bytes(), two.read_bytes())
        self.check(one, 1050, 1485)

    @unittest.skipIf(SLOW, "as the other")
    def test_of_another_command(self):
        shots = [MODELS / "shots" / name for name in ("soft-tip.csv", "firm-tip.csv")]
        self.check(self.picture("a.png", "shots", *shots), 1050, 1788)


class Errors(Case):
    def test_an_unknown_ending_says_what_is_allowed(self):
        for words in (("swing", SETUP), ("bench", SETUP), ("bench", SETUP, "--get", "cpm"), ("profile", READINGS),
                      ("scatter", SETUP), ("compare", SETUP, SETUP), ("shots", "a.csv")):
            for name in ("a.pdf", ".svg", "png") if words[0] == "swing" else ("a.pdf",):
                message = self.bad(2, *words, "--plot", name)
                self.assertIn("--plot writes FILE.svg or FILE.png, not '%s'" % name, message)

    def test_what_it_does_not_go_with(self):
        for words in (("swing", SETUP, "--sensitivity"), ("swing", SETUP, "--uncertainty"),
                      ("bench", SETUP, "--trim-table")):
            self.assertIn("--plot", self.bad(2, *words, "--plot", "a.svg"))

    def test_a_file_that_cannot_be_written(self):
        for command, end in (("swing", ".svg"), ("bench", ".png")):
            path = self.dir / "none" / ("a" + end)
            self.assertIn(str(path), self.bad(1, command, SETUP, "--plot", path, env=QUIET))
        old = self.dir / "a.png"
        old.write_text("as it was")
        self.bad(1, "bench", SETUP, "--clamp", "5 m", "--plot", old)
        self.assertEqual(old.read_text(), "as it was")

    def test_a_library_without_the_driver(self):
        """PLplot looks for its drivers where PLPLOT_DRV_DIR says."""
        path = self.dir / "a.png"
        for driver in pathlib.Path("/usr/lib").glob("*/plplot*/drivers/svg.*"):
            (self.dir / driver.name).symlink_to(driver)
        message = self.bad(3, "swing", SETUP, "--plot", path, env=dict(os.environ, PLPLOT_DRV_DIR=str(self.dir)))
        self.assertIn("plplot-driver-cairo", message)
        self.assertFalse(path.exists())


if __name__ == "__main__":
    main()
