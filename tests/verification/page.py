#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Writes the verification page, README.md here and plots/, from what the tests have left.

    page.py RECORDS            writes the page
    page.py --check RECORDS    compares the page that is there with a fresh one; fails when it is stale
    --partial                  leaves out what has left no record, with a warning

RECORDS is the folder of the tests' records (tests/record.py says what is in them). A record
that has no place in SECTIONS is an error always.
"""
import argparse
import collections
import json
import math
import os
import pathlib
import shutil
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
import record  # noqa: E402

sys.path.insert(0, str(HERE))
import alike  # noqa: E402

MEANING = {
    record.EXACT: "a closed form, or the root of an equation that the test states",
    record.PUBLISHED: "read in the source itself",
    record.QUOTED: "published, read in another text that quotes it",
    record.INDEPENDENT: "computed by other means: another program or another formulation",
    record.CONVERGED: "the same program with every setting refined",
    record.LAW: "what mechanics demands whatever the setup: balances, symmetries, scaling",
    record.PRACTICE: "what the trade goes by",
    record.MEMORY: "published, but cited from memory, no copy being at hand; those of beams are "
                   "[recomputed](#values-cited-from-memory-recomputed)",
}

INTRODUCTION = """\
This page is written by the tests. Each row is a comparison that a test makes on every run; the test
fails when the difference exceeds the tolerance, and a further test fails when this page is not what
the run gives. So no number of ours was typed in: to change one, change the program or the test.

**To see it for yourself**, on a fresh Debian 12 machine: `scripts/verification` builds the program,
runs these tests and writes the page anew; `git diff` then shows what is different. `scripts/check` does
the same comparison among all other tests. One group alone:
`ctest --test-dir build -R verification.elements`. Each heading links to the test, which holds the problem
in full.

**To read a row.** *Ours* is computed by this program, *value* by what stands under *source*; both in
*unit* (none: a plain ratio). *Difference* is the distance between the two, printed as `< x` where it is
below a hundredth of the *tolerance*, the most that the test lets pass. A row without values is the
largest difference among many, over a time history or a table, say; a negative one is a demand in one
direction only, met with so much to spare. A tolerance is chosen for the case; the test says from what.

**What it shows and what not.** That the equations are the right ones for the model and are solved
right: exact answers, published problems, independent computations, laws of mechanics, convergence. It
does not show that a given player's swing obeys the model: for that there is only the comparison with
published studies near the end, and the [limits](../../README.md#honest-limits) that the model has."""

# The page's order. A section is what a reader asks next; a part is one test, by the name of its
# record. Every record has its place here, and every part its record.
SECTIONS = (
    ("The shaft on the bench", """\
The shaft is a chain of Hermite cubic elements with the head as a rigid body on its end. Here are its
frequencies and deflections against closed forms and published tables: uniform and tapered, with bodies
on the end, two unequal planes, bending coupled with twist by mass off the axis; then large deflections
of the exact kinematics that the swing uses; then what a workshop's instruments would read, and what its cuts,
weights and tape make of a club.""",
     (("elements", "Frequencies of the finite elements"),
      ("offset", "Mass beside the axis"),
      ("static", "Small and large deflections"),
      ("workshop", "What a workshop reads"),
      ("built", "The club as it is built"),
      ("built_sums", "Whole clubs, summed up point by point"))),
    ("From bench readings to a profile", """\
First what each jig reads, against closed forms and integrals by hand. Then profiles that are known: readings
are invented from them, with errors of the stated size, day after day, and what is found through them must hold
the truth as often as its bands say.""",
     (("jigs", "What each jig reads"),
      ("profile_recovery", "A profile from readings"))),
    ("Beams that rotate", """\
A shaft in a swing is stiffened by the pull of the head, and nothing in the program adds that by hand:
it has to come out of the kinematics. Rotating beams show whether it does, first by small vibration about
steady rotation, then by a spin-up from rest in which an unstiffened model runs away.""",
     (("swing_rotating", "Frequencies in steady rotation"),
      ("swing_spinup", "Spin-up of a flexible arm"),
      ("remembered", "Values cited from memory, recomputed"))),
    ("What mechanics demands of any swing", """\
No published number exists for a whole swing of a bent club, but mechanics restricts what any answer may
be: energy is accounted for, a stiff shaft makes a double pendulum, a mirrored swing is the mirror image,
motion gives back the torque that made it, and results scale as their dimensions say.""",
     (("swing_energy", "Energy"),
      ("swing_rigid", "The limit of a rigid shaft"),
      ("swing_symmetry", "Symmetry of random setups"),
      ("swing_scaling", "Scaling of random setups"),
      ("swing_monotone", "More stiffness, less bending"),
      ("swing_smooth", "Answers without jumps"),
      ("swing_handle", "What the hands feel, where the shaft carries it"),
      ("swing_delivery", "How the head is delivered"),
      ("swing_drives", "Torque, motion and the wrist stop"),
      ("swing_properties", "Setups far beyond what is played"))),
    ("The swing computed apart", """\
Two other programs compute the same downswing and share no code with this one. The first, in Python,
has its own elements, kinematics and integrator; it is checked against published problems itself before it
is used. The second works in absolute coordinates, so it shares no kinematics either.""",
     (("swing", "The Python reference itself"),
      ("against_program", "The program against the Python reference"),
      ("swing_reference", "The library against the Python reference, refined"),
      ("absolute", "The program against absolute coordinates"))),
    ("A general finite element program", """\
CalculiX is a general finite element program from Debian. It is given the demonstration shafts and clubs
as tubes of solid bricks, written from the model files, and asked what the bench prints, and how they
bend far and vibrate while they turn.""",
     (("calculix", "CalculiX"),)),
    ("Convergence", """\
What is left of the answer's error at the default settings, found by refining one setting after the other
and all of them together.""",
     (("convergence", "As every setting is refined"),)),
    ("What matters", """\
Parts of the model switched off one at a time: how much each changes what is delivered, which shows that
it is needed, and how small what has been left out is beside it.""",
     (("what_matters", "Parts of the model, one at a time"),)),
    ("Sensitivities", """\
How the delivery answers to small changes of the input, and whether the answer is smooth enough that a
difference between two shafts means something.""",
     (("sensitivity", "Derivatives of the delivery"),
      ("sensitivity_tenths", "A tenth more of each input"),
      ("uncertainty", "What the errors of a measured profile do"))),
    ("The ball on the face", """\
The head, free in all six directions, strikes the ball with a single impulse. First against closed forms and
what mechanics demands of any two bodies, then against the same two bodies followed through time.""",
     (("impact", "Head and ball"),
      ("impact_reference", "Head and ball, computed apart"))),
    ("The ball in the air", """\
A struck ball flies under its weight, drag and lift, by three published sets of coefficients, each held at the edge
of the range in which it was measured. Here are flights with an exact answer and the laws that any flight obeys;
then the sets against their sources, and flights with them integrated apart. That the sets themselves differ
by a fifth in carry is what is known of balls, and no error of the program.""",
     (("flight", "Exact flights, and laws"),
      ("flight_reference", "Drag, lift, air and flights computed apart"),
      ("shot", "From the swing to the ball"))),
    ("From swing to swing", """\
A player's swings differ, and a shaft is judged by what they spread. The swings are held against linear
propagation where they hardly differ, the statistics against SciPy, and every interval against how often it
holds what it should in samples whose truth is known.""",
     (("scatter", "The scatter of a player's swings"),
      ("scatter_statistics", "Its statistics against SciPy"))),
    ("Batches of measured shots", """\
Whether two batches of measured shots differ is a matter of statistics. Its formulas are held against R and
SciPy, on data that R brings along, and against published examples. Whether they are right for a dozen shots
that are not normal is another question, answered by simulation: how often intervals hold the truth, how
often tests call a difference where none is, and whether as many shots as were planned do show one.""",
     (("shots_stats", "Formulas"),
      ("shots_coverage", "How often they are right"))),
    ("Which inputs drive which outputs", """\
A study of many cases is summed up by how much of an output's variance each factor is behind, by what its
elementary effects are, or by regression. First against functions whose indices are known and published
examples, with how often the intervals hold the truth; then against NumPy and SciPy; last the program itself,
from the file of a study to what it prints.""",
     (("influence", "Known functions"),
      ("influence_statistics", "Formulas"),
      ("influence_command", "From a study's file through the program"))),
    ("Published studies of golf swings", """\
Measurements and models of others. Their clubs and players are known in part only, so what can be held
against them is size, sign and order, not digits.""",
     (("golf_studies", "Published studies"),
      ("swing_golf", "Demonstration swings against published ranges"))),
)


class Wrong(Exception):
    """What stands between the records and a page, in a sentence."""


# ------------------------------------------------------------------ the records

def leaves_records(test):
    """Whether a C test includes record.h, by way of draws.h perhaps."""
    text = test.read_text(encoding="utf-8")
    return '"record.h"' in text or '"draws.h"' in text


def test_of(name):
    """The one test file that leaves this record: test_<name>.c, or the Python test that names it."""
    found = [p for p in [HERE / ("test_%s.c" % name)] if p.exists() and leaves_records(p)]
    for folder in (HERE, HERE.parent / "reference"):
        found += [p for p in sorted(folder.glob("test_*.py")) if 'Record("%s")' % name in p.read_text(encoding="utf-8")]
    if len(found) != 1:
        raise Wrong("%s: %s" % (name, "no test leaves this record" if not found else
                                "several tests leave it: %s" % ", ".join(map(str, found))))
    return found[0]


def read_lines(path, name):
    """The record's lines. A record that is older than its test is not of this run."""
    test = test_of(name)
    build = os.environ.get("CABER_BUILD")
    maker = pathlib.Path(build) / "tests" / ("%s_%s" % (test.parent.name, name)) if build else None
    for other in [test] if test.suffix == ".py" else [maker] if maker and maker.exists() else []:
        if other.stat().st_mtime > path.stat().st_mtime:
            raise Wrong("%s is older than %s: run the test again" % (path.name, other.name))
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    for line in lines:
        if line["type"] == "row":
            if line["kind"] not in record.KINDS:
                raise Wrong("%s: no such kind: %s" % (name, line["kind"]))
            if not line["difference"] <= line["allowed"]:
                raise Wrong("%s: a failed check: %s" % (name, line["problem"]))
    return lines


def read_records(folder, partial):
    """{name: its lines} of everything in SECTIONS."""
    places = [name for _, _, parts in SECTIONS for name, _ in parts]
    there = {p.stem: p for p in folder.glob("*.jsonl") if p.stat().st_size > 0}
    unplaced = sorted(set(there) - set(places))
    if unplaced:
        raise Wrong("%s: in no section of page.py (or left by a test that is gone: remove it from %s)"
                    % (", ".join(unplaced), folder))
    missing = [name for name in places if name not in there]
    if missing and not partial:
        raise Wrong("no record of %s in %s: run its test" % (", ".join(missing), folder))
    for name in missing:
        print("page: no record of %s: left out" % name, file=sys.stderr)
    return {name: read_lines(there[name], name) for name in places if name in there}


# ------------------------------------------------------------------ numbers

def fixed(value, place):
    """`value` rounded to a power of ten; without a power where that is short."""
    value = round(value / place) * place
    if value == 0:
        return "0"
    if 1e-4 <= abs(value) < 999999.5:
        return "%.*f" % (max(0, -round(math.log10(place))), value)
    digits = max(0, math.floor(math.log10(abs(value))) - round(math.log10(place)))
    mantissa, exponent = ("%.*e" % (digits, value)).split("e")
    return "%se%d" % (mantissa, int(exponent))


def place_of(value, digits):
    """The power of ten of the last of so many significant digits."""
    exponent = math.floor(math.log10(abs(value)))
    if round(abs(value) / 10.0 ** exponent, digits - 1) >= 10:
        exponent += 1
    return 10.0 ** (exponent - digits + 1)


def short(value, digits=2):
    return fixed(value, place_of(value, digits)) if value else "0"


def value_texts(row):
    """The two values with the same number of places: six digits, but no finer than the tolerance asks."""
    got, want, allowed = row["got"], row["want"], row["allowed"]
    if got is None:
        return "", ""
    largest = max(abs(got), abs(want))
    if largest == 0:
        return "0", "0"
    place = place_of(largest, 6)
    if allowed > 0:
        place = max(place, 10.0 ** math.floor(math.log10(allowed / (100 if want else 10))))
    return fixed(want, place), fixed(got, place)


def difference_text(row):
    difference, allowed = row["difference"], row["allowed"]
    if 0 <= difference < 0.01 * allowed:
        return "&lt; " + short(0.01 * allowed)
    return short(difference)


# ------------------------------------------------------------------ Markdown

def plain(text):
    """A text as it stands, in a cell of a table."""
    for mark in "\\|*~$":
        text = text.replace(mark, "\\" + mark)
    return text.replace("<", "&lt;").replace(">", "&gt;").replace("\n", " ")


def table(columns, rows, aligned=""):
    """Columns: a letter each, l or r."""
    rule = [("---:" if a == "r" else "---") for a in aligned or "l" * len(columns)]
    return "\n".join("| %s |" % " | ".join(r) for r in [columns, rule, *rows])


def anchor(title):
    return "".join(c for c in title.lower().replace(" ", "-") if c.isalnum() or c in "-_")


class Sources:
    """The sources of one part, numbered as they come."""

    def __init__(self):
        self.seen = {}

    def cite(self, row):
        key = (row["kind"], row["source"])
        return "%s&nbsp;[%d]" % (row["kind"].replace(" ", "&nbsp;"), self.seen.setdefault(key, len(self.seen) + 1))

    def text(self):
        return "\n".join("%d. *%s*: %s" % (n, kind, plain(source)) for (kind, source), n in self.seen.items())


def check_rows(rows, sources):
    cells = []
    for row in rows:
        want, got = value_texts(row)
        unit = "" if row["unit"] in ("", "1") else plain(row["unit"])
        unit = unit.replace(" ", "&nbsp;") if len(unit) < 10 else unit
        cells.append([plain(row["problem"]), sources.cite(row), unit, want, got, difference_text(row),
                      short(row["allowed"])])
    return table(alike.CHECK_HEADER, cells, "lllrrrr")


def numeric(column):
    return all(alike.is_number(c) or c in ("", "-") for c in column) and any(column)


def free_table(line):
    columns = list(zip(*line["rows"])) if line["rows"] else []
    aligned = "".join("r" if numeric(c) else "l" for c in columns) or None
    text = table([plain(c) for c in line["columns"]], [[plain(c) for c in r] for r in line["rows"]], aligned)
    parts = ["**%s**" % plain(line["title"]), text]
    return "\n\n".join(parts + ([line["note"]] if line.get("note") else []))


def picture(name, caption):
    return "![%s](plots/%s.svg)\n\n*%s*" % (caption.replace("]", ""), name, plain(caption))


# ------------------------------------------------------------------ plots

MARKS = "osD^v"


def draw(curves, path):
    """One plot of all its curves, in the style of tests/record.py."""
    figure, axes = record.figure()
    points = 0
    for c in curves:
        if c["points"]:
            axes.plot(c["x"], c["y"], MARKS[points % len(MARKS)], label=c["label"], color="#222222",
                      markerfacecolor="white", markersize=5, zorder=3)
            points += 1
        else:
            axes.plot(c["x"], c["y"], label=c["label"])
    first = curves[0]
    axes.set_xlabel(first["x_label"])
    axes.set_ylabel(first["y_label"])
    if "x" in first.get("log", ""):
        axes.set_xscale("log")
        axes.set_xticks(first["x"], ["%g" % x for x in first["x"]])
        axes.minorticks_off()
    if "y" in first.get("log", ""):
        axes.set_yscale("log")
    if len(curves) > 1:
        axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))
    figure.savefig(path, format="svg", metadata={"Date": None, "Creator": None})


class Plots:
    """The plots of the page, made in `folder`."""

    def __init__(self, records, folder):
        self.records, self.folder, self.names = records, folder, set()
        folder.mkdir(parents=True, exist_ok=True)

    def add(self, name, caption):
        if name in self.names:
            raise Wrong("two plots are called %s" % name)
        self.names.add(name)
        return picture(name, caption)

    def kept(self, line):
        shutil.copyfile(self.records / "plots" / (line["name"] + ".svg"), self.folder / (line["name"] + ".svg"))
        return self.add(line["name"], line["alt"])

    def drawn(self, curves):
        text = self.add(curves[0]["plot"], curves[0]["title"])
        draw(curves, self.folder / (curves[0]["plot"] + ".svg"))
        return text


# ------------------------------------------------------------------ the page

def part_text(name, title, lines, plots):
    """One test: its tables of checks, other tables, texts and plots in their order, then its sources."""
    test = test_of(name)
    link = os.path.relpath(test, HERE).replace(os.sep, "/")
    out, rows, sources = ["### %s\n\n[%s](%s)" % (title, test.name, link)], [], Sources()
    curves = collections.OrderedDict()

    def flush():
        if rows:
            out.append(check_rows(rows, sources))
            rows.clear()
    for line in lines:
        if line["type"] == "row":
            rows.append(line)
        elif line["type"] == "curve":
            curves.setdefault(line["plot"], []).append(line)
        else:
            flush()
            out.append({"text": lambda x: x["text"], "table": free_table, "plot": plots.kept}[line["type"]](line))
    flush()
    out += [plots.drawn(c) for c in curves.values()]
    return "\n\n".join(out + ([sources.text()] if sources.seen else []))


def used(rows):
    """The largest share of a tolerance, in percent."""
    shares = [r["difference"] / r["allowed"] for r in rows if r["allowed"] > 0]
    return "%.0f %%" % (100 * max(shares)) if shares else "0 %"


def summary(sections):
    all_rows = [row for _, _, parts in sections for _, _, lines in parts for row in lines if row["type"] == "row"]
    count = collections.Counter(row["kind"] for row in all_rows)
    kinds = [[kind, str(count[kind]), MEANING[kind]] for kind in record.KINDS if count[kind]]
    places = []
    for title, _, parts in sections:
        rows = [row for _, _, lines in parts for row in lines if row["type"] == "row"]
        places.append(["[%s](#%s)" % (title, anchor(title)), str(len(rows)), used(rows)])
    places.append(["together", str(len(all_rows)), used(all_rows)])
    return ("There are %d comparisons; every one is within its tolerance. By the kind of what they are held "
            "against:\n\n%s\n\nBy section, with the largest share of a tolerance that any of them uses:\n\n%s"
            % (len(all_rows), table(["kind", "rows", "meaning"], kinds, "lrl"),
               table(["section", "rows", alike.USED], places, "lrr")))


def contents(sections):
    lines = []
    for title, _, parts in sections:
        lines.append("- [%s](#%s)" % (title, anchor(title)))
        lines += ["  - [%s](#%s)" % (part, anchor(part)) for _, part, _ in parts]
    return "\n".join(lines)


def page_text(records, plots):
    sections = [(title, words, [(n, t, records[n]) for n, t in parts if n in records])
                for title, words, parts in SECTIONS]
    sections = [s for s in sections if s[2]]
    out = ["# Verification", INTRODUCTION, "## Summary", summary(sections), "## Contents", contents(sections)]
    for title, words, parts in sections:
        out += ["## " + title, words]
        out += [part_text(name, part, lines, plots) for name, part, lines in parts]
    return "\n\n".join(out) + "\n"


def make(folder, target, partial):
    """The page and its plots in `target`; the names of the plots."""
    plots = Plots(folder, target / "plots")
    text = page_text(read_records(folder, partial), plots)
    (target / "README.md").write_text(text, encoding="utf-8")
    return plots.names


def write(folder, partial):
    with tempfile.TemporaryDirectory() as temporary:
        fresh = pathlib.Path(temporary)
        names = make(folder, fresh, partial)
        (HERE / "plots").mkdir(exist_ok=True)
        for old in (HERE / "plots").glob("*.svg"):
            if old.stem not in names:
                old.unlink()
        kept = stale(fresh)
        for path in [fresh / "README.md", *(fresh / "plots").glob("*.svg")]:
            # What only another machine's last digit would change stays as it is.
            if path.name in kept:
                shutil.copyfile(path, HERE / path.relative_to(fresh))
    print("page: %d files written" % len(kept) if kept else "page: nothing to change")


def stale(fresh):
    """{file: what is different} between the page that is there and a fresh one."""
    found = {}
    ours = {p.name: p for p in [HERE / "README.md", *(HERE / "plots").glob("*.svg")]}
    new = {p.name: p for p in [fresh / "README.md", *(fresh / "plots").glob("*.svg")]}
    for name in sorted(set(ours) | set(new)):
        if name not in new or name not in ours or not ours[name].exists():
            found[name] = ["is not there" if name in new else "has no place on the page"]
            continue
        compare = alike.pages if name.endswith(".md") else alike.drawings
        complaints = compare(ours[name].read_text(encoding="utf-8"), new[name].read_text(encoding="utf-8"))
        if complaints:
            found[name] = complaints
    return found


def check(folder, partial):
    with tempfile.TemporaryDirectory() as temporary:
        make(folder, pathlib.Path(temporary), partial)
        found = stale(pathlib.Path(temporary))
    for name, complaints in found.items():
        for complaint in complaints[:alike.COMPLAINTS]:
            print("%s: %s" % (name, complaint))
        if len(complaints) > alike.COMPLAINTS:
            print("%s: and %d more" % (name, len(complaints) - alike.COMPLAINTS))
    if found:
        print("The verification page is stale: run scripts/verification, read the difference, commit it.")
    return 1 if found else 0


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--partial", action="store_true")
    parser.add_argument("records", type=pathlib.Path)
    arguments = parser.parse_args()
    try:
        if arguments.check:
            return check(arguments.records, arguments.partial)
        write(arguments.records, arguments.partial)
        return 0
    except Wrong as wrong:
        print("page: %s" % wrong, file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main())
