# SPDX-License-Identifier: GPL-3.0-or-later
"""Runs CalculiX on a deck and reads what it prints into its .dat file."""
import os
import re
import shutil
import subprocess
import tempfile

# A three-digit exponent leaves Fortran no room for its letter.
NUMBER = r"[-+]?\d*\.\d+(?:[EeDd][-+]?\d+|[-+]\d{3})?"
SECONDS = 300


class Failed(Exception):
    pass


def program():
    found = shutil.which("ccx")
    if not found:
        raise Failed("CalculiX is not installed: there is no program `ccx`; Debian's package is "
                     "calculix-ccx, and `scripts/setup check` installs it")
    return found


def version():
    said = subprocess.run([program(), "-v"], stdout=subprocess.PIPE, text=True, timeout=60).stdout
    found = re.search(r"Version\s+(\S+)", said)
    if not found:
        raise Failed("`ccx -v` names no version: %r" % said)
    return found[1]


def solve(text):
    """Runs a deck in a directory of its own, removed after; returns the text of its .dat file."""
    with tempfile.TemporaryDirectory(prefix="caber-calculix-") as folder:
        with open(os.path.join(folder, "deck.inp"), "w", encoding="ascii") as f:
            f.write(text)
        try:
            done = subprocess.run([program(), "deck"], cwd=folder, stdout=subprocess.PIPE,
                                  stderr=subprocess.STDOUT, text=True, errors="replace",
                                  timeout=SECONDS, env=dict(os.environ, OMP_NUM_THREADS="1"))
        except subprocess.TimeoutExpired:
            raise Failed("ccx was still running after %d s" % SECONDS) from None
        errors = [line.strip() for line in done.stdout.splitlines() if "*ERROR" in line]
        path = os.path.join(folder, "deck.dat")
        finished = "Job finished" in done.stdout and os.path.exists(path)
        if done.returncode or errors or not finished:
            raise Failed("ccx ended with status %d and said: %s" % (
                done.returncode, " / ".join(errors) or done.stdout[-2000:]))
        with open(path, encoding="ascii", errors="replace") as f:
            return f.read()


def number(text):
    return float(re.sub(r"[Dd]|(?<=\d)(?=[-+]\d{3}$)", "E", text))


def displacements(dat):
    """[(set's name, (ux, uy, uz))] of sets of one node, in the order printed."""
    found = re.findall(r"displacements \(vx,vy,vz\) for set\s+(\S+)\s+and time\s+\S+\s+\d+"
                       + r"\s+(%s)" % NUMBER * 3, dat)
    if not found:
        raise Failed("no displacements in what ccx printed:\n" + dat[:2000])
    return [(name, tuple(number(v) for v in values)) for name, *values in found]


def rows(text, columns):
    """The first rows that are a mode's number and so many numbers; blank lines do not end them."""
    out = []
    pattern = re.compile(r"\s*\d+((?:\s+%s){%d})\s*" % (NUMBER, columns))
    for line in text.splitlines():
        found = pattern.fullmatch(line)
        if found:
            out.append([number(v) for v in found[1].split()])
        elif out and line.strip():
            break
    return out


def spectrum(dat, count):
    """The *FREQUENCY step: [(Hz, (x, y, z participation))], ascending, `count` of them."""
    parts = re.split(r"E I G E N V A L U E +O U T P U T|P A R T I C I P A T I O N +F A C T O R S",
                     dat)
    modes, factors = (rows(parts[1], 4), rows(parts[2], 6)) if len(parts) == 3 else ([], [])
    if len(modes) < count or len(factors) < count:
        raise Failed("%d frequencies were wanted of what ccx printed:\n%s" % (count, dat[-2000:]))
    return [(m[2], tuple(f[:3])) for m, f in zip(modes, factors)][:count]
