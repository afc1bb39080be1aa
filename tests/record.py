# SPDX-License-Identifier: GPL-3.0-or-later
"""What a check leaves for the verification page (tests/verification/README.md).

    from record import Record
    record = Record("calculix")
    record.check("tip deflection, neutral shaft, 30 N", INDEPENDENT, "CalculiX 2.20, deck ...", "mm", got, want, rel=0.005)

A check is asserted whether or not it is recorded. Records go, one JSON object a line, to
$CABER_RECORDS/<name>.jsonl; without that variable nothing is written. Order is kept.
"""
import json
import os

# Where a value that ours is held against comes from.
EXACT = "exact"              # a closed form, derived or cited in the test
PUBLISHED = "published"      # read in the source itself
QUOTED = "quoted"            # published, but read in another text that quotes it
INDEPENDENT = "independent"  # computed by other means: another program or formulation
CONVERGED = "converged"      # ours with every setting refined
LAW = "mechanics"            # what mechanics demands whatever the setup: balance, symmetry, scaling
PRACTICE = "common practice"
MEMORY = "from memory"
KINDS = (EXACT, PUBLISHED, QUOTED, INDEPENDENT, CONVERGED, LAW, PRACTICE, MEMORY)


class Record:
    def __init__(self, name):
        self.folder = os.environ.get("CABER_RECORDS")
        self.path = None
        if self.folder:
            os.makedirs(os.path.join(self.folder, "plots"), exist_ok=True)
            self.path = os.path.join(self.folder, name + ".jsonl")
        # Begun anew by the first line, not by who merely imports the test.
        self.mode = "w"

    def _write(self, **line):
        if self.path:
            with open(self.path, self.mode, encoding="utf-8") as f:
                f.write(json.dumps(line) + "\n")
            self.mode = "a"

    def check(self, problem, kind, source, unit, got, want, rel=0.0, absolute=0.0):
        """One row: ours against one value. Fails unless |got - want| <= rel |want| + absolute."""
        assert kind in KINDS, kind
        got, want, allowed = float(got), float(want), rel * abs(want) + absolute
        self._write(type="row", problem=problem, kind=kind, source=source, unit=unit, got=got,
                    want=want, difference=abs(got - want), allowed=allowed)
        assert abs(got - want) <= allowed, "%s: %.8g, want %.8g (off by %.3g, allowed %.3g)" % (
            problem, got, want, got - want, allowed)

    def bound(self, problem, kind, source, unit, difference, allowed):
        """One row: the largest difference of many values, a time series say, and what is allowed."""
        assert kind in KINDS, kind
        difference, allowed = float(difference), float(allowed)
        self._write(type="row", problem=problem, kind=kind, source=source, unit=unit, got=None,
                    want=None, difference=difference, allowed=allowed)
        assert difference <= allowed, "%s: %.3g, allowed %.3g" % (problem, difference, allowed)

    def table(self, title, columns, rows, note=""):
        """A table for the page as it stands: texts, already with as many digits as are meant."""
        self._write(type="table", title=title, columns=list(columns),
                    rows=[[str(c) for c in row] for row in rows], note=note)

    def text(self, paragraph):
        """A paragraph of Markdown; numbers in it must come from the run."""
        self._write(type="text", text=paragraph)

    def plot(self, name, alt, figure):
        """A matplotlib figure, kept as plots/<name>.svg; `alt` says what it shows."""
        if self.path:
            figure.savefig(os.path.join(self.folder, "plots", name + ".svg"), format="svg",
                           metadata={"Date": None, "Creator": None})
            self._write(type="plot", name=name, alt=alt)


# Colours that differ in lightness as well as in hue, so that they stay apart for every eye and in grey.
COLOURS = ("#1b3a5c", "#c2571a", "#3f8f6b", "#8c6bb1", "#a08a1f", "#5b5b5b")


def figure(width=7.0, height=3.6, **kwargs):
    """(figure, axes) in the page's one style. Size in inches."""
    import matplotlib
    matplotlib.use("svg")
    from matplotlib import pyplot
    pyplot.rcParams.update({
        "svg.hashsalt": "caber", "svg.fonttype": "path", "font.size": 9, "font.family": "DejaVu Sans",
        "axes.spines.top": False, "axes.spines.right": False, "axes.grid": True,
        "grid.color": "#dddddd", "grid.linewidth": 0.6, "lines.linewidth": 1.4,
        "axes.prop_cycle": matplotlib.cycler(color=COLOURS), "legend.frameon": False,
        "figure.constrained_layout.use": True, "savefig.facecolor": "white",
        # every point as it is: which ones could be left out would hang on the last digits
        "path.simplify": False})
    return pyplot.subplots(figsize=(width, height), **kwargs)
