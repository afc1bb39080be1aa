# SPDX-License-Identifier: GPL-3.0-or-later
"""Published values that the tests cite from memory, against the equations that they are answers of.

Each problem is solved here by Ritz's method with polynomials, which shares nothing with the program's
elements: cantilevers by w = x^2 P_k(2x - 1), twist by phi = x P_k(2x - 1), energies by Gauss quadrature. It
converges faster than any power, so a few figures of the published value too many or too few show. Lengths
by L, stiffness by EI and mass by m at the root.
"""
import math

import numpy as np
from numpy.polynomial import legendre
from scipy.linalg import eigh

from record import MEMORY, Record

TERMS, POINTS = 16, 40
X, WEIGHT = legendre.leggauss(POINTS)
X, WEIGHT = (X + 1) / 2, WEIGHT / 2


def basis(power, order, x):
    """d^order/dx^order of x^power P_k(2x - 1), a column each k; power 1 or 2."""
    one = np.eye(TERMS)
    p = [2.0**n * legendre.legval(2 * x - 1, legendre.legder(one, n)).T for n in range(order + 1)]
    factor = [x**power, power * x**(power - 1), power * (power - 1) * np.ones_like(x)]
    return sum(math.comb(order, n) * factor[n][:, None] * p[order - n] for n in range(order + 1))


def product(a, density, b):
    return (a.T * (WEIGHT * density)) @ b


def bending(mass=0, stiffness=0, taper=0.0, tip=0.0, speed=0.0, hub=0.0):
    """Frequencies of a cantilever, mass and EI as powers of 1 - taper x, out of the plane of rotation.
    `tip` by the beam's mass, `hub` by the length."""
    y = 1 - taper * X
    m, total = y**mass, WEIGHT @ y**mass
    end, slope = basis(2, 0, np.array([1.0])), basis(2, 1, X)
    inertia = product(basis(2, 0, X), m, basis(2, 0, X)) + tip * total * end.T @ end
    elastic = product(basis(2, 2, X), y**stiffness, basis(2, 2, X))
    # The pull at x: what lies beyond it goes round at hub + s.
    beyond = [(1 - x) * WEIGHT @ ((1 - taper * s)**mass * (hub + s))
              for x, s in ((x, x + (1 - x) * X) for x in X)]
    pull = np.array(beyond) + tip * total * (hub + 1)
    return np.sqrt(eigh(elastic + speed**2 * product(slope, pull, slope), inertia, eigvals_only=True))


def wing():
    """Bending and twist coupled by mass beside the axis, in SI."""
    ei, gj, m, about, offset, length = 9.75e6, 9.88e5, 35.75, 8.65, 0.18, 6.0
    w, phi = basis(2, 0, X), basis(1, 0, X)
    zero = np.zeros((TERMS, TERMS))
    elastic = np.block([[ei / length**3 * product(basis(2, 2, X), 1, basis(2, 2, X)), zero],
                        [zero, gj / length * product(basis(1, 1, X), 1, basis(1, 1, X))]])
    cross = m * offset * length * product(w, 1, phi)
    inertia = np.block([[m * length * product(w, 1, w), cross], [cross.T, about * length * product(phi, 1, phi)]])
    return np.sqrt(eigh(elastic, inertia, eigvals_only=True))


TAPERS = (
    ("wedge, c = 0.3", (1, 3, 0.3), (3.6667495, 19.8806064, 53.3221989)),
    ("wedge, c = 0.5", (1, 3, 0.5), (3.8237848, 18.3172609, 47.264827)),
    ("cone, c = 0.5", (2, 4, 0.5), (4.6251503, 19.5476132, 48.5788993)),
    ("sharp wedge", (1, 3, 1.0), (5.3150994, 15.207168, 30.0198091)),
    ("wedge, c = 0.5, tip mass equal to the beam's", (1, 3, 0.5, 1.0), (1.4527237, 12.7984727, 38.001436)),
)
# flap 1 to 3, then lag 1: lag^2 = flap^2 - speed^2
ROTATING = (
    ("uniform, Omega = 0", dict(speed=0), (3.516015, 22.034492, 61.697214), 3.516015),
    ("uniform, Omega = 1", dict(speed=1), (3.681647, 22.181011, 61.841763), 3.543236),
    ("uniform, Omega = 5", dict(speed=5), (6.449545, 25.446080, 65.205041), 4.073896),
    ("uniform, Omega = 10", dict(speed=10), (11.202328, 33.640366, 74.649295), 5.048975),
    ("uniform, Omega = 12", dict(speed=12), (13.170150, 37.603112, 79.614478), 5.427049),
    ("root at L from the hub, Omega = 10", dict(speed=10, hub=1), (16.606363, 44.368224, 89.156329), None),
    ("wedge, c = 0.5, Omega = 10", dict(speed=10, mass=1, stiffness=3, taper=0.5),
     (11.501549, 30.182744, 60.56388), None),
    ("tip mass equal to the beam's, Omega = 5", dict(speed=5, tip=1), (5.521853, 26.041526, 63.522342), 2.343258),
)
WING = (49.61472, 97.03543, 248.87357, 355.58751, 451.45497)


def main():
    record = Record("remembered")
    record.text("Here *ours* is not the program: the equation behind a value that is cited from memory is "
                "solved apart from it, by Ritz's method with polynomials, and has to give the value to its last "
                "digit. So whether memory served does not have to be believed.")
    tapers = (MEMORY, "H. H. Mabie, C. B. Rogers 1972; B. Downs 1977; G. Kirchhoff (the sharp wedge)")
    for name, case, wants in TAPERS:
        got = bending(*case)
        off = max(abs(g - w) for g, w in zip(got, wants))
        record.bound(name + ": omega L^2 sqrt(m/EI) of modes 1 to 3", *tapers, "1", off, 6e-8)
    rotating = (MEMORY, "A. D. Wright, C. E. Smith, R. W. Thresher, J. L. C. Wang 1982, J. Appl. Mech. 49:197; D. H. "
                "Hodges, M. J. Rutkowski 1981, AIAA J. 19:1459. Frequencies and Omega in sqrt(EI/m)/L^2")
    for name, case, flaps, lag in ROTATING:
        got = bending(**case)
        off = max(abs(g - w) for g, w in zip(got, flaps))
        if lag:
            off = max(off, abs(np.sqrt(got[0]**2 - case["speed"]**2) - lag))
        record.bound(name + ": flap 1 to 3" + (", lag 1" if lag else ""), *rotating, "1", off, 6e-7)
    got = wing()
    for k, want in enumerate(WING):
        record.check("wing with its mass beside the axis, mode %d" % (k + 1), MEMORY,
                     "J. R. Banerjee 1999, J. Sound Vib.", "rad/s", got[k], want, absolute=6e-6)


if __name__ == "__main__":
    main()
