# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether two verification pages, or two of their plots, say the same.

Another mathematics library or compiler moves a last digit; a change of the program, of a test or of
the page moves more. Words, and numbers without a decimal point, have to be equal. Other numbers may
differ by LAST units of their last printed place; in a table of checks a difference may move by
SHARE of the row's tolerance, or by ROUNDING of the value, and in the summary a share of the tolerance
by as much. In a plot words and form have to be equal, places within PIXELS.
"""
import difflib
import math
import re

LAST, SHARE, ROUNDING, PIXELS = 1.5, 0.1, 1e-9, 0.5
CHECK_HEADER = ["problem", "source", "unit", "value", "ours", "difference", "tolerance"]
USED = "most used"  # the column of the summary: a share of the tolerance in percent

NUMBER = re.compile(r"(?<![\w.#])[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
COMPLAINTS = 12


def last_place(text):
    """What one unit of the last printed digit is worth; 0 for a plain integer."""
    mantissa, _, exponent = text.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    if decimals == 0 and not exponent:
        return 0.0
    return 10.0 ** (int(exponent or 0) - decimals)


def near(old, new, slack=0.0):
    """Two printed numbers that may differ by the last place and `slack`."""
    places = sorted((last_place(old), last_place(new)))
    if places[0] * 10.5 < places[1] and not slack and "0" not in (old, new):
        return float(old) == float(new)  # not written with the same care
    return abs(float(old) - float(new)) <= LAST * places[1] + slack + 1e-12 * abs(float(old))


def words_alike(old, new):
    return (NUMBER.sub("#", old) == NUMBER.sub("#", new)
            and all(near(a, b) for a, b in zip(NUMBER.findall(old), NUMBER.findall(new))))


def cells(line):
    """The cells of a line of a table, or nothing."""
    if not line.startswith("|"):
        return None
    return [c.strip() for c in re.split(r"(?<!\\)\|", line)[1:-1]]


def is_number(text):
    return NUMBER.fullmatch(text) is not None


def below(text):
    """The number in a cell of differences: itself, or x where it says less than x."""
    return text[4:].strip() if text.startswith("&lt;") else text


def whole_slack(a, b):
    """Six digits without a point: the last one is a printed place too."""
    return LAST if all(last_place(x) == 0 and abs(float(x)) >= 99999 for x in (a, b)) else 0.0


def check_row_alike(old, new):
    """A row of a table of checks: texts equal, numbers by their columns."""
    if old[:3] != new[:3] or not (is_number(old[6]) and is_number(new[6])):
        return False
    allowed = float(new[6])
    for a, b in zip(old[3:5], new[3:5]):
        if not (a == b or is_number(a) and is_number(b) and near(a, b, whole_slack(a, b))):
            return False
    slack = max(SHARE * allowed, ROUNDING * abs(float(new[3] or 0)))
    a, b = below(old[5]), below(new[5])
    return is_number(a) and is_number(b) and near(a, b, slack) and near(old[6], new[6])


def row_alike(header, old, new):
    if len(old) != len(new):
        return False
    if header == CHECK_HEADER and len(old) == len(header):
        return check_row_alike(old, new)
    for k, (a, b) in enumerate(zip(old, new)):
        if header and k < len(header) and header[k] == USED and a.endswith("%") and b.endswith("%"):
            if abs(float(a[:-1]) - float(b[:-1])) > 100 * SHARE:
                return False
        elif not words_alike(a, b):
            return False
    return True


def lines_alike(header, old, new):
    if old == new:
        return True
    a, b = cells(old), cells(new)
    if a is None or b is None:
        return a is b and words_alike(old, new)
    return row_alike(header, a, b)


def form(line):
    """A line without its numbers, by which lines of two pages are matched."""
    row = cells(line)
    if row is None or len(row) != len(CHECK_HEADER):
        return NUMBER.sub("#", line)
    return "|".join(row[:3]) + "|" + "|".join("#" if is_number(below(c)) else c for c in row[3:])


def pages(old, new):
    """What is different between two pages, for people; nothing when they are alike."""
    old, new = old.splitlines(), new.splitlines()
    out, header = [], None
    matcher = difflib.SequenceMatcher(None, [form(x) for x in old], [form(x) for x in new], autojunk=False)
    for what, i1, i2, j1, j2 in matcher.get_opcodes():
        if what != "equal":
            out += ["line %d is there, but not in a fresh page: %s" % (i + 1, old[i]) for i in range(i1, i2)]
            out += ["missing after line %d: %s" % (i1, new[j]) for j in range(j1, j2)]
        for i, j in zip(range(i1, i2), range(j1, j2)) if what == "equal" else ():
            row = cells(new[j])
            if row is None:
                header = None
            elif header is None:
                header = row
            if not lines_alike(header, old[i], new[j]):
                out.append("line %d: %s\n    fresh: %s" % (i + 1, old[i], new[j]))
    return out


# ------------------------------------------------------------------ plots

PLACES = re.compile(r'\b(d|x|y|width|height|transform|points)="([^"]*)"')
FLOAT = re.compile(r"[-+]?\d*\.?\d+(?:e[-+]?\d+)?")
NAME = re.compile(r"\b(?:[pmCh]|image)[0-9a-f]{10}\b")


def drawing_parts(svg):
    """(words, places) of a plot. The names that matplotlib makes of a path's digits count by their
    order only."""
    seen = {}
    svg = NAME.sub(lambda found: "name%d" % seen.setdefault(found[0], len(seen)), svg)
    places = [float(x) for found in PLACES.finditer(svg) for x in FLOAT.findall(found[2])]
    return PLACES.sub(lambda found: '%s="%s"' % (found[1], FLOAT.sub("#", found[2])), svg), places


def drawings(old, new):
    """What is different between two plots; nothing when they are alike."""
    (words, places), (new_words, new_places) = drawing_parts(old), drawing_parts(new)
    if words != new_words or len(places) != len(new_places):
        return ["its words, lines or number of points are others"]
    most = max((abs(a - b) for a, b in zip(places, new_places)), default=0.0)
    if not most <= PIXELS or math.isnan(most):
        return ["points are up to %.2g px elsewhere" % most]
    return []
