# SPDX-License-Identifier: GPL-3.0-or-later
"""A shaft as a CalculiX deck: a thin tube of 20-node bricks along x, clamped at x = 0, end rigid.

Axes: x, y, z are e1, e2 (lead), e3 (towards the toe) of the handle; SI units throughout.

No isotropic tube has the GJ/EI of a wound shaft, so every slice of bricks has an orthotropic
material of its own, axis 1 along x (the global axes, so no *ORIENTATION): E1 = EI/I, G12 = G13 =
GJ/J, density = mass per length/A. EI, GJ and mass are averaged over the slice, EI and GJ by their
reciprocals, as bends and twists add up along the shaft. Poisson's ratios are 0; E2 = E3 = E1 and
G23 = E1/2 keep the section's shape and carry nothing. A, I and J of the meshed ring come from the
bricks' own integration rule, so what is left of the mesh is how it bends between its nodes.

Bricks also shear, and turn about axes across the shaft, which an Euler-Bernoulli beam does not.
Both lower a frequency by a part that grows with (half waves times radius/length)^2: hence the thin
tube for frequencies. Bends get a stouter one: a tube is stiffer along its axis than it bends by
(length/radius)^2, and the wider apart the two are, the smaller are the steps that CalculiX's
iteration stands. Shear adds some 1e-4 to a static deflection there.

A head is one brick: the box of uniform density with the mass, centre and inertia asked for. (Point
masses by *MASS would do at rest, but the centrifugal force on them does not follow their motion.)
Its nodes belong to the rigid end, so its stiffness does not matter.
"""
import math

import numpy as np

ELEMENT = "C3D20R"  # 2 x 2 x 2 Gauss points
THIN, STOUT = (0.5e-3, 1.5e-3), (2e-3, 4e-3)  # m, inner and outer radius
CORNERS = ((-1, -1), (1, -1), (1, 1), (-1, 1))
MIDDLES = ((0, -1), (1, 0), (0, 1), (-1, 0))
PRINT = "*NODE PRINT, NSET=NREF\nU\n*NODE PRINT, NSET=NROT\nU"
# More iterations before a step is cut and while it may still grow: with the defaults a large bend
# of a slender tube crawls. Nothing here touches what counts as converged.
PATIENCE = "*CONTROLS, PARAMETERS=TIME INCREMENTATION\n12, 16, 9, 25, 12, 8"


def shape8(xi, eta):
    """Values and both derivatives of the 8-node quadrilateral's shapes: corners, then middles."""
    n, dx, dy = [], [], []
    for a, b in CORNERS:
        u, v = 1 + a * xi, 1 + b * eta
        n.append(u * v * (a * xi + b * eta - 1) / 4)
        dx.append(a * v * (2 * a * xi + b * eta) / 4)
        dy.append(b * u * (a * xi + 2 * b * eta) / 4)
    for a, b in MIDDLES:
        if a == 0:
            n.append((1 - xi * xi) * (1 + b * eta) / 2)
            dx.append(-xi * (1 + b * eta))
            dy.append(b * (1 - xi * xi) / 2)
        else:
            n.append((1 + a * xi) * (1 - eta * eta) / 2)
            dx.append(a * (1 - eta * eta) / 2)
            dy.append(-eta * (1 + a * xi))
    return np.array(n), np.array(dx), np.array(dy)


class Section:
    """A ring of `around` 8-node quadrilaterals: places (y, z) of its nodes, five a sector (its
    first side, then the middles of its arcs), and its area, second moment and polar moment."""

    def __init__(self, around, radii):
        inner, outer = radii
        sector = ((inner, 0), (outer, 0), ((inner + outer) / 2, 0), (inner, .5), (outer, .5))
        turns = [(r, 2 * math.pi * (k + part) / around)
                 for k in range(around) for r, part in sector]
        self.around = around
        self.places = np.array([(r * math.cos(t), r * math.sin(t)) for r, t in turns])
        self.area, self.polar = self.moments(2)
        self.second = self.polar / 2

    def quads(self):
        """Nodes of each quadrilateral: corners, then middles; xi outwards, eta around."""
        for k in range(self.around):
            a, b = 5 * k, 5 * ((k + 1) % self.around)
            yield [a, a + 1, b + 1, b, a + 2, a + 4, b + 2, a + 3]

    def moments(self, points):
        """Area and polar moment with so many Gauss points either way in each quadrilateral."""
        x, w = np.polynomial.legendre.leggauss(points)
        area = polar = 0.0
        for q in (self.places[nodes] for nodes in self.quads()):
            for i, j in np.ndindex(points, points):
                n, dx, dy = shape8(x[i], x[j])
                (a, b), (c, d) = dx @ q, dy @ q
                weight = w[i] * w[j] * (a * d - b * c)
                area += weight
                polar += weight * ((n @ q) @ (n @ q))
        return area, polar


def box(mass, inertia):
    """Half edges (columns) of the uniform box with that inertia about its centre."""
    second = np.trace(inertia) / 2 * np.eye(3) - inertia  # integral of x x' dm = mass edge edge'/3
    value, axes = np.linalg.eigh(second)
    if np.linalg.det(axes) < 0:
        axes[:, 0] *= -1
    return axes * np.sqrt(3 * value / mass)


class Deck:
    """The tube, perhaps a head, and the steps that `text` is given."""

    def __init__(self, length, slices, section, bending, twisting, mass):
        """bending, twisting, mass: functions of an array of s, m from the clamp."""
        self.length, self.slices, self.section = length, slices, section
        self.lines, self.rigid, self.next_node, self.elements = [], [], 1, 0
        self.tube(bending, twisting, mass)
        self.ref, = self.nodes("NREF", [(length, 0, 0)])  # its displacement is the end's
        self.rot, = self.nodes("NROT", [(length, 0, 0)])  # its displacement is the end's rotation

    def add(self, *lines):
        self.lines += lines

    def nodes(self, name, places):
        first = self.next_node
        self.add("*NODE, NSET=" + name)
        self.lines += ["%d, %.12e, %.12e, %.12e" % (first + k, *p) for k, p in enumerate(places)]
        self.next_node += len(places)
        return range(first, self.next_node)

    def element(self, nodes):
        self.elements += 1
        words = ["%d" % i for i in [self.elements, *nodes]]
        self.add(", ".join(words[:11]) + ",", ", ".join(words[11:]))

    def tube(self, bending, twisting, mass):
        section, rings = self.section, []
        every = range(len(section.places))
        corners = [i for i in every if i % 5 < 2]  # all that planes in the middle of bricks have
        for k in range(2 * self.slices + 1):
            x, keep = self.length * k / (2 * self.slices), corners if k % 2 else every
            nodes = self.nodes("NTUBE", [(x, *section.places[i]) for i in keep])
            rings.append(dict(zip(keep, nodes)))
        for k in range(self.slices):
            near, between, far = rings[2 * k:2 * k + 3]
            self.add("*ELEMENT, TYPE=%s, ELSET=E%d" % (ELEMENT, k))
            for q in section.quads():
                c, m = q[:4], q[4:]
                self.element([near[i] for i in c] + [far[i] for i in c] + [near[i] for i in m] +
                             [far[i] for i in m] + [between[i] for i in c])
            self.material(k, bending, twisting, mass)
        self.add("*NSET, NSET=NCLAMP", *("%d," % i for i in rings[0].values()))
        self.rigid += rings[-1].values()

    def material(self, k, bending, twisting, mass):
        """Of slice k; 40 points of the midpoint rule, as the functions have kinks and jumps."""
        section, h = self.section, self.length / self.slices
        s = h * (k + (np.arange(40) + .5) / 40)
        e = 1 / np.mean(1 / bending(s)) / section.second
        g = 1 / np.mean(1 / twisting(s)) / section.polar
        self.add("*MATERIAL, NAME=M%d" % k, "*ELASTIC, TYPE=ENGINEERING CONSTANTS",
                 "%.12e, %.12e, %.12e, 0, 0, 0, %.12e, %.12e" % (e, e, e, g, g), "%.12e" % (e / 2),
                 "*DENSITY", "%.12e" % (np.mean(mass(s)) / section.area),
                 "*SOLID SECTION, ELSET=E%d, MATERIAL=M%d" % (k, k))

    def head(self, mass, centre, inertia):
        """A rigid body on the end: centre from the end, inertia about the centre."""
        middle, half = np.asarray(centre) + [self.length, 0, 0], box(mass, inertia)
        corners = [(a, b, c) for c in (-1, 1) for a, b in CORNERS]
        middles = [(a, b, c) for c in (-1, 1) for a, b in MIDDLES] + [(a, b, 0) for a, b in CORNERS]
        nodes = self.nodes("NHEAD", [middle + half @ np.array(p) for p in corners + middles])
        self.rigid += nodes
        self.add("*ELEMENT, TYPE=%s, ELSET=EHEAD" % ELEMENT)
        self.element(nodes)
        self.add("*MATERIAL, NAME=MHEAD", "*ELASTIC", "1e11, 0", "*DENSITY",
                 "%.12e" % (mass / (8 * np.linalg.det(half))),
                 "*SOLID SECTION, ELSET=EHEAD, MATERIAL=MHEAD")

    def point(self, mass):
        """As good as a point on the end: a cube of 2 mm."""
        self.head(mass, (0, 0, 0), np.eye(3) * mass * (2e-3)**2 / 6)

    def text(self, *steps):
        ends = ["*NSET, NSET=NRIGID", *("%d," % i for i in self.rigid),
                "*ELSET, ELSET=EALL", *("%d," % (i + 1) for i in range(self.elements)),
                "*RIGID BODY, NSET=NRIGID, REF NODE=%d, ROT NODE=%d" % (self.ref, self.rot),
                "*BOUNDARY", "NCLAMP, 1, 3"]
        return "\n".join(["*HEADING", "shaft", *self.lines, *ends, *steps, ""])


# ------------------------------------------------------------------ steps

def small(node, direction, load):
    """Linear: a force or couple on a node, alone."""
    return "\n".join(["*STEP", "*STATIC", "*CLOAD, OP=NEW",
                      "%d, %d, %.12e" % (node, direction, load), PRINT, "*END STEP"])


def large(ref, rot, force, couple):
    """With all of the change of shape: a force along y and a couple about z, dead, on the end. The
    end is kept in the plane, which only rounding would make it leave."""
    return "\n".join(["*STEP, NLGEOM, INC=100", PATIENCE, "*STATIC", "0.25, 1.", "*BOUNDARY",
                      "%d, 3, 3" % ref, "%d, 1, 2" % rot, "*CLOAD", "%d, 2, %.12e" % (ref, force),
                      "%d, 3, %.12e" % (rot, couple), PRINT, "*END STEP"])


def frequencies(count):
    return "*STEP\n*FREQUENCY\n%d\n*END STEP" % count


def turning(rate, count):
    """Steady rotation about the z axis through the clamp, then the frequencies about that state."""
    return "\n".join(["*STEP, NLGEOM, INC=100", "*STATIC", "1., 1.", "*DLOAD",
                      "EALL, CENTRIF, %.12e, 0., 0., 0., 0., 0., 1." % (rate * rate), "*END STEP",
                      "*STEP, PERTURBATION", "*FREQUENCY", "%d" % count, "*END STEP"])
