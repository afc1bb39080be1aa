# SPDX-License-Identifier: GPL-3.0-or-later
"""Tables and figure of the influence of factors, as influence_show prints them for an invented study."""
import xml.etree.ElementTree

import harness

SHOW = harness.BUILD / "tests" / "influence_show"
SVG = "{http://www.w3.org/2000/svg}"


class Influence(harness.Case):
    def test_tables(self):
        text = self.good(self.dir / "a.svg", program=SHOW)
        self.golden("influence-show.txt", text)
        self.assertLessEqual(max(map(len, text.splitlines())), 100)

    def test_figure(self):
        """The factors stand beside their bars from the bottom up, so the one that matters most is last; the
        same figure gives the same bytes."""
        paths = [self.dir / name for name in ("a.svg", "b.svg")]
        for path in paths:
            self.good(path, program=SHOW)
        self.assertEqual(paths[0].read_bytes(), paths[1].read_bytes())
        texts = ["".join(t.itertext()).strip() for t in xml.etree.ElementTree.parse(paths[0]).iter(SVG + "text")]
        for text in ("What drives what, invented", "first order", "total", "share of the variance",
                     "a factor of a name – ÄÖÜ – long...", "Delivered loft, deg: does not vary"):
            self.assertIn(text, texts)
        names = [t for t in texts if "." in t and t[0].isalpha()][:4]
        self.assertEqual(names, ["build.tip_trim", "load.grip.rise", "a factor of a name – ÄÖÜ – long...",
                                 "shaft.sections[0].ei_scale"])
        self.assertEqual(texts.count("first order"), 1)

    def test_figure_nowhere(self):
        status, _, message = harness.run(self.dir / "none/a.svg", program=SHOW)
        self.assertEqual(status, 1)
        self.assertIn("none/a.svg", message)


if __name__ == "__main__":
    harness.main()
