#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A second, independent computation of one downswing, for cross-checks and as a baseline for speed.

Same formulation as the program (finite-element modes as curvature shapes, exact rod kinematics,
generalised coordinates arm, club and modes), written apart from it with NumPy and SciPy only.

    swing.py SETUP.yaml [--modes 12] [--stations 18] [--rtol 1e-5] [--method NAME]

prints {"impact": {...}, "straight": {...}, "seconds": of the integration alone, "evaluations": n}.

Signs and definitions beyond physics.md:
  gamma is a positive rotation about e1 (e2 = cos g e2_0 + sin g Z) and falls while the face closes,
  so a closing twist is minus the rotation about e1.
  closure_rate is minus the time derivative of the face's azimuth.
  Every rotational quantity and every vector below is in handle components (e1, e2, e3) unless said.
"""
import argparse
import json
import math
import os
import re
import sys
import time

import numpy as np
import yaml
from scipy.integrate import solve_ivp
from scipy.linalg import eigh, eigh_tridiagonal, lapack
from scipy.optimize import minimize_scalar

GRAVITY = 9.80665  # m/s2, CGPM 1901
DEG = 180 / math.pi
E1 = np.array([1.0, 0.0, 0.0])

# ------------------------------------------------------------------ reading the model files

UNITS = {
    "m": 1, "cm": 1e-2, "mm": 1e-3, "in": 0.0254, "ft": 0.3048, "kg": 1, "g": 1e-3, "s": 1, "ms": 1e-3,
    "rad": 1, "deg": math.pi / 180, "N": 1, "N m": 1, "N m2": 1, "kg/m": 1, "g/m": 1e-3,
    "kg/m3": 1, "g/cm3": 1000, "kg m2": 1, "g cm2": 1e-7, "rad/s": 1, "deg/s": math.pi / 180,
    "N m/rad": 1, "N m/deg": DEG, "N m s/rad": 1, "m/s": 1, "s/m": 1, "mph": 0.44704, "%": 0.01,
    "deg/deg": 1, "ft lbf": 1.3558179483314004, "oz": 0.028349523125,
}


def quantity(value):
    """A number in SI from a plain number or a text with a unit; other texts come back as they are."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return value
    if isinstance(value, (int, float)):
        return float(value)
    found = re.fullmatch(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*", value)
    if not found:
        return value
    if found[2] == "":
        return float(found[1])
    if found[2] not in UNITS:
        raise ValueError("unknown unit in %r" % value)
    return float(found[1]) * UNITS[found[2]]


def in_si(node):
    if isinstance(node, dict):
        return {k: v if k in ("name", "note", "kind") else in_si(v) for k, v in node.items()}
    if isinstance(node, list):
        return [in_si(v) for v in node]
    return quantity(node)


def merged(base, over):
    out = dict(base)
    for key, value in over.items():
        both = isinstance(value, dict) and isinstance(out.get(key), dict)
        out[key] = merged(out[key], value) if both else value
    return out


def read_yaml(path):
    with open(path, encoding="utf-8") as f:
        return in_si(yaml.safe_load(f))


def read_setup(path):
    """The setup with every file that it refers to in place of the reference, all SI."""
    setup = read_yaml(path)
    here = os.path.dirname(path)
    for part in ("shaft", "head", "grip", "player"):
        ref = setup[part]
        if isinstance(ref, str):
            setup[part] = read_yaml(os.path.join(here, ref))
        elif "file" in ref:
            rest = {k: v for k, v in ref.items() if k != "file"}
            setup[part] = merged(read_yaml(os.path.join(here, ref["file"])), rest)
    return setup


# ------------------------------------------------------------------ the profile

class Steffen:
    """Monotone cubic interpolation: Steffen (1990), Astron. Astrophys. 239:443; ends by one secant."""

    def __init__(self, x, y):
        x, y = np.asarray(x, float), np.asarray(y, float)
        h, s = np.diff(x), np.diff(y) / np.diff(x)
        p = (s[:-1] * h[1:] + s[1:] * h[:-1]) / (h[:-1] + h[1:])
        small = np.minimum(np.minimum(abs(s[:-1]), abs(s[1:])), 0.5 * abs(p))
        d = np.concatenate(([s[0]], (np.sign(s[:-1]) + np.sign(s[1:])) * small, [s[-1]]))
        self.x, self.y, self.d = x, y, d
        self.a = (d[:-1] + d[1:] - 2 * s) / h**2
        self.b = (3 * s - 2 * d[:-1] - d[1:]) / h

    def __call__(self, x):
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, len(self.x) - 2)
        t = x - self.x[i]
        return self.y[i] + t * (self.d[i] + t * (self.b[i] + t * self.a[i]))


class Profile:
    """EI, GJ and mass over the distance from the uncut tip, with the sections' factors."""

    def __init__(self, shaft, sections=()):
        rows = shaft["stations"]
        at = np.array([r["at"] for r in rows])

        def curve(key):
            return Steffen(at, [r[key] for r in rows])

        self.at, self.sections, self.density = at, sections or (), shaft["density"]
        self.ei_, self.gj_, self.mass_ = curve("ei"), curve("gj"), curve("mass")
        self.diameter = curve("diameter")
        self.ei2_ = Steffen(at, [r.get("ei_2") or r["ei"] for r in rows])
        self.angle = Steffen(at, [r.get("ei_angle") or 0.0 for r in rows])

    def scale(self, x, key):
        out = np.ones_like(x)
        for s in self.sections:
            out = np.where((x >= s["from"]) & (x < s["to"]), out * s.get(key, 1.0), out)
        return out

    def bending(self, x):
        """(..., 2, 2) stiffness of (v'', w'')."""
        k = self.scale(x, "ei_scale")
        a, b, t = self.ei_(x) * k, self.ei2_(x) * k, self.angle(x)
        c, s = np.cos(t), np.sin(t)
        out = np.empty(np.shape(x) + (2, 2))
        out[..., 0, 0] = a * c * c + b * s * s
        out[..., 1, 1] = a * s * s + b * c * c
        out[..., 0, 1] = out[..., 1, 0] = (a - b) * s * c
        return out

    def gj(self, x):
        return self.gj_(x) * self.scale(x, "gj_scale")

    def mass(self, x):
        return self.mass_(x) * self.scale(x, "mass_scale")

    def polar(self, x):
        """Inertia per length of the tube about its axis; its bore follows from mass and density."""
        m = self.mass(x)
        return 0.5 * m * (0.5 * self.diameter(x)**2 - m / (math.pi * self.density))

    def breaks(self):
        return np.concatenate([self.at] + [np.array([s["from"], s["to"]]) for s in self.sections])


# ------------------------------------------------------------------ the club

def gauss_on(breaks, count):
    """Gauss-Legendre points and weights on every interval of ascending breaks: (intervals, count)."""
    x, w = np.polynomial.legendre.leggauss(count)
    half = 0.5 * np.diff(breaks)
    mid = 0.5 * (breaks[1:] + breaks[:-1])
    return mid[:, None] + half[:, None] * x, half[:, None] * w


def skew1(a):
    return np.array([[0, -a[2], a[1]], [a[2], 0, -a[0]], [-a[1], a[0], 0]])


def rigid_sum(parts):
    """Mass, centre and inertia about it of rigid bodies (mass, centre, inertia about its centre)."""
    mass = sum(p[0] for p in parts)
    centre = sum(p[0] * p[1] for p in parts) / mass if mass > 0 else np.zeros(3)
    inertia = np.zeros((3, 3))
    for m, c, j in parts:
        d = c - centre
        inertia += j + m * (d @ d * np.eye(3) - np.outer(d, d))
    return mass, centre, inertia


class Club:
    """Cut shaft, head and grip: what bends (s from the hands to the hosel) and what is rigid."""

    def __init__(self, setup):
        shaft, head, grip, build = setup["shaft"], setup["head"], setup["grip"], setup["build"]
        self.profile = prof = Profile(shaft, setup.get("sections"))
        tip = build.get("tip_trim", 0.0)
        hosel = tip + build.get("insertion", 0.0)
        butt = shaft["length"] - build.get("butt_trim", 0.0)
        hands = butt - build.get("hold", 0.0)
        self.hosel, self.hands, self.length = hosel, hands, hands - hosel
        self.damping = shaft["damping"]
        self.grip_end = build.get("hold", 0.0) - grip["length"]  # -s of the grip's far end
        gl, gm = grip["length"], grip["mass"]
        centre = grip.get("centre_of_mass") or 0.5 * gl
        self.grip_b = 12 * gm * (centre - 0.5 * gl) / gl**3
        self.grip_a = gm / gl - 0.5 * self.grip_b * gl
        self.hold, self.grip_length = build.get("hold", 0.0), gl
        # a tube between its own mean diameter and the shaft's in its middle
        inner = self.profile.diameter(butt - 0.5 * gl)
        self.grip_gyration2 = 0.125 * (grip["diameter"]**2 + inner**2)
        self.rigid_tip(head, tip)
        self.rigid_butt(butt)
        s = hands - prof.breaks()
        s = np.concatenate([s, [0.0, self.length, gl - self.hold]])
        s = np.unique(np.round(s[(s >= 0) & (s <= self.length)], 12))
        self.breaks = s[np.concatenate(([True], np.diff(s) > 1e-9))]
        self.breaks[-1] = self.length

    def grip_mass(self, s):
        z = s + self.hold
        return np.where((z >= 0) & (z < self.grip_length), self.grip_a + self.grip_b * z, 0.0)

    def mass(self, s):
        return self.profile.mass(self.hands - s) + self.grip_mass(s)

    def polar(self, s):
        return self.profile.polar(self.hands - s) + self.grip_mass(s) * self.grip_gyration2

    def axis_part(self, s_breaks):
        """Rigid body of the shaft (and grip) between two s, as a line of mass with turning inertia."""
        if s_breaks[-1] - s_breaks[0] < 1e-12:
            return 0.0, np.zeros(3), np.zeros((3, 3))
        s, w = gauss_on(s_breaks, 8)
        m, j = self.mass(s) * w, self.polar(s) * w
        total, c = m.sum(), (m * s).sum() / m.sum()
        across = (m * (s - c)**2).sum()
        across += 0.5 * j.sum()  # slices of a rigid part turn across the axis too, as thin rings
        return total, np.array([c, 0, 0]), np.diag([j.sum(), across, across])

    def rigid_tip(self, head, tip):
        x = self.profile.breaks()
        x = np.unique(np.concatenate([x[(x > tip) & (x < self.hosel)], [tip, self.hosel]]))
        mass, centre, inertia = self.axis_part(self.hands - x[::-1])
        lie = head["lie"]
        # columns: forward, up, toe in tip components
        axes = np.array([[0, -math.sin(lie), math.cos(lie)], [1, 0, 0], [0, math.cos(lie), math.sin(lie)]])

        def vector(v):
            return axes @ np.array([v["forward"], v["up"], v["toe"]])

        i = head["inertia"]
        fu, ft, ut = i.get("forward_up", 0.0), i.get("forward_toe", 0.0), i.get("up_toe", 0.0)
        j = np.array([[i["forward"], fu, ft], [fu, i["up"], ut], [ft, ut, i["toe"]]])
        self.head_centre = vector(head["centre_of_mass"])
        self.face_centre = vector(head["face_centre"])
        stub = (mass, centre - np.array([self.length, 0, 0]), inertia)
        self.tip_body = rigid_sum([(head["mass"], self.head_centre, axes @ j @ axes.T), stub])
        lo, f = head["loft"], head.get("face_angle", 0.0)
        n = np.array([math.cos(lo) * math.cos(f), math.sin(lo), math.cos(lo) * math.sin(f)])
        self.face_normal, self.toe = axes @ n, axes[:, 2]

    def rigid_butt(self, butt):
        x = self.profile.breaks()
        x = np.unique(np.concatenate([x[(x > self.hands) & (x < butt)], [self.hands, butt]]))
        s = self.hands - x[::-1]
        end = self.grip_length - self.hold
        if s[0] < end < s[-1]:
            s = np.unique(np.append(s, end))
        self.butt_body = self.axis_part(s)


# ------------------------------------------------------------------ finite elements and modes

def hermite(t, h):
    """Value, slope and curvature shapes of a cubic element at t = 0..1: each (..., 4)."""
    one = np.ones_like(t)
    n = np.stack([1 - 3*t**2 + 2*t**3, h*(t - 2*t**2 + t**3), 3*t**2 - 2*t**3, h*(t**3 - t**2)], -1)
    d = np.stack([(6*t**2 - 6*t)/h, 1 - 4*t + 3*t**2, (6*t - 6*t**2)/h, 3*t**2 - 2*t], -1)
    c = np.stack([(12*t - 6*one)/h**2, (6*t - 4*one)/h, (6*one - 12*t)/h**2, (6*t - 2*one)/h], -1)
    return n, d, c


class Modes:
    """Modes of the club clamped at the hands; node unknowns v, v', w, w', phi."""

    def __init__(self, club, count, elements=100):
        b = club.breaks
        parts = np.maximum(1, np.ceil(elements * np.diff(b) / b[-1] - 1e-9).astype(int))
        steps = [np.linspace(b[i], b[i + 1], parts[i] + 1)[:-1] for i in range(len(b) - 1)]
        self.s = np.concatenate(steps + [[b[-1]]])
        self.club = club
        k, m = self.assemble()
        free = slice(5, None)
        # largest 1/omega^2 of M x = K x / omega^2: the other way round the frequencies are as good, but
        # rounding leaves curvature noise in the low modes, which puts their strain energy 1 % wrong
        size = len(k) - 5
        inverse, vec = eigh(m[free, free], k[free, free], subset_by_index=[size - count, size - 1])
        self.omega = 1 / np.sqrt(inverse[::-1])
        vec = vec[:, ::-1] * self.omega
        self.shape = np.vstack([np.zeros((5, count)), vec]).reshape(len(self.s), 5, count)
        phi, h = self.shape[:, 4], np.diff(self.s)[:, None]
        self.phi_sum = np.vstack([0 * phi[:1], np.cumsum(0.5 * h * (phi[1:] + phi[:-1]), 0)])

    def assemble(self):
        club, s = self.club, self.s
        n = 5 * len(s)
        k, m = np.zeros((n, n)), np.zeros((n, n))
        x, w = gauss_on(s, 5)
        bend, gj = club.profile.bending(club.hands - x), club.profile.gj(club.hands - x)
        mass, polar = club.mass(x), club.polar(x)
        for e in range(len(s) - 1):
            h = s[e + 1] - s[e]
            t = (x[e] - s[e]) / h
            nv, _, cv = hermite(t, h)
            lin, grad = np.stack([1 - t, t], -1), np.array([-1, 1]) / h
            ix = 5 * e + np.array([0, 1, 5, 6])
            iz, ip = ix + 2, 5 * e + np.array([4, 9])
            both = (ix, iz)
            for a in range(2):
                m[np.ix_(both[a], both[a])] += (nv.T * (w[e] * mass[e])) @ nv
                for c in range(2):
                    k[np.ix_(both[a], both[c])] += (cv.T * (w[e] * bend[e, :, a, c])) @ cv
            k[np.ix_(ip, ip)] += (w[e] * gj[e]).sum() * np.outer(grad, grad)
            m[np.ix_(ip, ip)] += (lin.T * (w[e] * polar[e])) @ lin
        tm, c, j = club.tip_body
        turn = np.zeros((3, 5))  # rotation of the tip (phi, -w', v') from the last node's unknowns
        turn[0, 4], turn[1, 3], turn[2, 1] = 1, -1, 1
        move = -skew1(c) @ turn
        move[1, 0] += 1
        move[2, 2] += 1
        m[-5:, -5:] += tm * move.T @ move + turn.T @ j @ turn
        return k, m

    def at(self, s):
        """v, v', w, w', phi and the integral of phi at places s: (6, places, modes)."""
        e = np.clip(np.searchsorted(self.s, s, side="right") - 1, 0, len(self.s) - 2)
        h = (self.s[e + 1] - self.s[e])
        t = (s - self.s[e]) / h
        n, d, _ = hermite(t, h)
        a, b = self.shape[e], self.shape[e + 1]
        out = np.empty((6, len(s), self.shape.shape[2]))
        for i, k in ((0, 0), (2, 2)):
            dof = np.stack([a[:, k], a[:, k + 1], b[:, k], b[:, k + 1]], 1)
            out[i] = np.einsum("pk,pkm->pm", n, dof)
            out[i + 1] = np.einsum("pk,pkm->pm", d, dof)
        out[4] = a[:, 4] * (1 - t)[:, None] + b[:, 4] * t[:, None]
        out[5] = self.phi_sum[e] + (h * t)[:, None] * 0.5 * (a[:, 4] + out[4])
        return out

    def segments(self, ends):
        """Integrals of the curvature shapes over segments, A0 and A1: (segments, 3, modes)."""
        v, dv, w, dw, phi, sphi = self.at(ends)
        h = np.diff(ends)[:, None]

        def moments(first, second):
            # first: integrated strain; second: its integral. A1 = int (s - mid) first' ds
            a0 = np.diff(first, axis=0)
            return a0, 0.5 * h * (first[1:] + first[:-1]) - np.diff(second, axis=0)

        t, b2, b3 = moments(phi, sphi), moments(-dw, -w), moments(dv, v)
        return np.stack([t[0], b2[0], b3[0]], 1), np.stack([t[1], b2[1], b3[1]], 1)


def mass_stations(club, count):
    """Gauss nodes and weights of the measure m(s) ds: Lanczos on a fine discretisation."""
    parts = np.maximum(1, np.ceil(4 * count * np.diff(club.breaks) / club.length)).astype(int)
    fine = [np.linspace(a, b, n + 1)[:-1] for a, b, n in zip(club.breaks, club.breaks[1:], parts)]
    x, w = gauss_on(np.concatenate(fine + [club.breaks[-1:]]), 16)
    x, w = x.ravel(), (w * club.mass(x)).ravel()
    q, alpha, beta = np.sqrt(w / w.sum()), [], []
    basis = [q]
    for i in range(count):
        r = x * basis[-1]
        alpha.append(basis[-1] @ r)
        b = np.array(basis)
        r -= b.T @ (b @ r)
        r -= b.T @ (b @ r)
        beta.append(np.linalg.norm(r))
        basis.append(r / beta[-1])
    nodes, vec = eigh_tridiagonal(np.array(alpha), np.array(beta[:-1]))
    return nodes, w.sum() * vec[0]**2


# ------------------------------------------------------------------ the player's load

def smooth(x):
    x = min(max(x, 0.0), 1.0)
    return x * x * x * (10 + x * (6 * x - 15))


class Load:
    def __init__(self, player):
        load = player["load"]
        for name, wanted in (("hub", "torque"), ("grip", "torque"), ("roll", "gear")):
            if load[name].get("drive", wanted) != wanted or "table" in load[name]:
                raise ValueError("only torque programs and a geared roll are computed here")
        self.hub, self.grip, self.roll = load["hub"], load["grip"], load["roll"]
        stop = load.get("stop", {})
        self.stop_cock, self.stop_k = stop.get("cock", 0.0), stop.get("stiffness", 0.0)
        self.stop_w, self.stop_c = stop.get("width", 1.0), stop.get("damping", 0.0)

    def hub_torque(self, t, speed):
        h = self.hub
        rise = -math.expm1(-t / h["rise"]) if h["rise"] > 0 else 1.0
        return h["peak"] * rise * (1 - speed / h["omega_max"])

    def grip_torque(self, t):
        g = self.grip
        up = smooth((t - g["onset"]) / g["rise"])
        off = smooth((t - g["release"]) / g["fall"])
        return g["peak"] * up * (1 - off) + g["late"] * smooth((t - g["late_onset"]) / g["late_rise"])

    def stop(self, cock, speed):
        """Spring couple, damping couple and stored energy of the wrist stop."""
        x = (self.stop_cock - cock) / self.stop_w
        if self.stop_k == 0 or x <= 0:
            return 0.0, 0.0, 0.0
        if x < 1:
            f, df, e = x**3 - 0.5 * x**4, 3 * x * x - 2 * x**3, 0.25 * x**4 - 0.1 * x**5
        else:
            f, df, e = x - 0.5, 1.0, 0.15 + 0.5 * (x * x - 1) - 0.5 * (x - 1)
        k = self.stop_k * self.stop_w
        return k * f, -self.stop_c * df * speed, k * self.stop_w * e

    def gear(self, beta):
        """gamma and its first two derivatives by beta."""
        top, k, square = self.roll["top"], self.roll["closing"], self.roll["square"]
        if top == 0:
            return 0.0, 0.0, 0.0
        z = 0.5 * math.sqrt(math.pi) * k * (square - beta) / top
        d = -k * math.exp(-z * z)
        return top * math.erf(z), d, d * z * math.sqrt(math.pi) * k / top


# ------------------------------------------------------------------ the equations of motion

# x @ SKEW is the row-major skew matrix of x
SKEW = np.zeros((3, 9))
for _i, _j, _k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
    SKEW[_i, 3 * _k + _j], SKEW[_i, 3 * _j + _k] = 1, -1


def skew(x):
    return (x @ SKEW).reshape(x.shape[:-1] + (3, 3))


def turn(matrix, x):
    return (matrix @ x[..., None])[..., 0]


def cross_of(a):
    """The skew matrix of one vector."""
    return (a @ SKEW).reshape(3, 3)


class Chain:
    """What one configuration of the shaft leaves for later stages."""


def _series(offset, derivative, terms=9):
    """Coefficients by s = angle^2 of sum (-1)^k s^k/(2k + offset)!, or of a derivative by s."""
    c = np.array([(-1.0)**k / math.factorial(2 * k + offset) for k in range(terms + derivative)])
    for _ in range(derivative):
        c = c[1:] * np.arange(1, len(c))
    return c[:terms]


SERIES = np.array([_series(o, d) for d in range(3) for o in (2, 3)]).T  # (terms, a b a' b' a'' b'')
EYE = np.eye(3)


class Swing:
    """y = (theta, beta, q, their rates, work in, dissipated)."""

    def __init__(self, setup, modes=12, stations=18, gravity=True, elements=100):
        self.setup, self.player = setup, setup["player"]
        self.club, self.load = Club(setup), Load(setup["player"])
        self.modes = Modes(self.club, modes, elements)
        self.g = GRAVITY if gravity else 0.0
        self.n = modes
        p = self.player
        arm = p["arm"]
        self.arm, self.arm_inertia = arm["length"], arm["inertia"]
        self.arm_moment = arm.get("mass", 0.0) * arm.get("centre", 0.0)
        incl = p["plane"]["inclination"]
        self.sin_i, self.cos_i = math.sin(incl), math.cos(incl)
        self.stiffness = self.modes.omega**2
        self.damper = 2 * self.club.damping * self.modes.omega
        self.set_stations(stations)
        self.set_bodies()
        self.evaluations = 0

    def set_stations(self, count):
        s, w = mass_stations(self.club, count)
        ends = np.concatenate([[0.0], s, [self.club.length]])
        a0, a1 = self.modes.segments(ends)
        h = np.diff(ends)
        self.h, self.station_s, self.station_mass = h, s, w
        # Omega = p + p x e, Lambda = h (e1 + e1 x e) with p = A0 q, e = (A1/h) q
        self.strain = np.concatenate([a0, a1 / h[:, None, None]], 1)  # (S, 6, n)
        self.segments = len(h)
        self.strain_flat = self.strain.reshape(-1, self.n)
        self.lambda_e = h[:, None, None] * skew1(E1)  # d Lambda/d e
        self.lambda_0 = h[:, None] * E1
        self.below = np.tril(np.ones((self.segments, self.segments)))  # running sums as a product
        self.block = -(-self.segments // 4)

    def set_bodies(self):
        """Stations turn only about their own axis; the last body is the head with the inserted shaft."""
        s, w, club = self.station_s, self.station_mass, self.club
        n = self.segments
        tip_mass, self.tip_centre, tip_inertia = club.tip_body
        self.mass = np.append(w, tip_mass)
        root = np.sqrt(self.mass)[:, None, None]
        self.minus_root_mass = -root
        self.turning = np.zeros((n, 3, 3))  # square roots of the inertias in the bodies' own axes
        self.turning[:-1, 0, 0] = np.sqrt(w * club.polar(s) / club.mass(s))
        self.turning[-1] = np.linalg.cholesky(tip_inertia).T
        bm, bc, bj = club.butt_body
        self.butt_mass, self.butt_first = bm, bm * bc[0]
        self.butt_second = bm * bc[0]**2 + bj[1, 1]
        self.butt_axial = bj[0, 0]
        self.small = np.zeros((n, 6, 6))
        self.body = np.zeros((n, 6, 6))
        self.body[:, :3, 3:] = root * np.eye(3)
        self.wide = np.zeros((n, 6, self.n + 2))
        self.left = np.zeros((n, 3, 6))
        self.powers = np.ones((n, len(SERIES)))
        self.basis = np.empty((n, 6, 3, 3))
        self.mix = np.zeros((n, 2, 6))
        self.columns = np.empty((n, 3, 4))
        self.wrench = np.empty((n, 6))
        self.blocks = np.empty((4 * self.block, 3, 3))

    # -- kinematics in handle components

    def chain(self, q):
        """Rotations and places of the segments' ends, with the pieces that later stages reuse."""
        c = Chain()
        pe = (self.strain_flat @ q).reshape(-1, 2, 3)
        c.sk = skew(pe)
        c.omega = pe[:, 0] + turn(c.sk[:, 0], pe[:, 1])
        c.lam = self.lambda_0 + turn(self.lambda_e, pe[:, 1])
        c.a = skew(c.omega)
        c.a2 = c.a @ c.a
        s = -0.5 * c.a2.trace(axis1=1, axis2=2)
        self.powers[:, 1:] = s[:, None]
        c.f = f = np.multiply.accumulate(self.powers, 1) @ SERIES  # a b a' b' a'' b''
        fa, fb = f[:, 0, None, None], f[:, 1, None, None]
        part = fa * c.a2
        c.t = EYE + fa * c.a + fb * c.a2
        steps = EYE + (1 - s * f[:, 1])[:, None, None] * c.a + part
        c.rot = self.product(steps)  # I first
        before = c.rot[:-1]
        c.rt = before @ c.t
        c.step = turn(c.rt, c.lam)
        c.place = self.below @ c.step
        return c

    def product(self, r):
        """Running products I, r0, r0 r1, ...: within four blocks at once, then across them."""
        k, n = self.block, self.segments
        self.blocks[:n], self.blocks[n:] = r, EYE
        full = self.blocks.reshape(4, k, 3, 3)
        for i in range(1, k):
            np.matmul(full[:, i - 1], full[:, i], out=full[:, i])
        for i in range(1, 4):
            full[i] = full[i - 1, -1] @ full[i]
        out = np.empty((n + 1, 3, 3))
        out[0], out[1:] = EYE, self.blocks[:n]
        return out

    def jacobian(self, c):
        """Spatial Jacobian about the hands by q: (S, 6, n), rows turn then move; also per strain."""
        left, small, f = self.left, self.small, c.f
        np.subtract(EYE, c.sk[:, 1], out=left[:, :, :3])
        left[:, :, 3:] = c.sk[:, 0]
        cross = turn(c.a, c.lam)
        crosses = np.stack((cross, turn(c.a, cross)), 1)
        grad = (2 * f[:, None, 2:4] @ crosses).transpose(0, 2, 1)
        sk = skew(np.stack((c.lam, cross), 1))
        q = grad * c.omega[:, None, :] - f[:, 0, None, None] * sk[:, 0] \
            - f[:, 1, None, None] * (sk[:, 1] + c.a @ sk[:, 0])
        small[:, :3] = c.rt @ left
        np.matmul(c.rot[:-1] @ q, left, out=small[:, 3:])
        small[:, 3:, 3:] += c.rt @ self.lambda_e
        c.splace = skew(c.place)
        small[:, 3:] += c.splace @ small[:, :3]
        return (self.below @ (small @ self.strain).reshape(self.segments, -1)).reshape(self.strain.shape)

    def motion(self, c, jac, qd):
        """Spatial velocity, and spatial acceleration at constant qd, of every body: (S, 6) each."""
        n = self.segments
        pe = (self.strain_flat @ qd).reshape(-1, 2, 3)
        sk = skew(pe)
        od = pe[:, 0] + turn(c.sk[:, 0], pe[:, 1]) - turn(c.sk[:, 1], pe[:, 0])
        odd = 2 * turn(sk[:, 0], pe[:, 1])
        lamd = turn(self.lambda_e, pe[:, 1])
        # first and second derivative of T(Omega) = I + a A + b A^2 on a basis of matrices
        ad = skew(np.stack((od, odd), 1))
        basis, mix, f = self.basis, self.mix, c.f
        basis[:, 0], basis[:, 1], basis[:, 2], basis[:, 4] = c.a, c.a2, ad[:, 0], ad[:, 1]
        both = ad @ c.a[:, None]
        both += both.transpose(0, 1, 3, 2)  # a ad = (ad a)^T for skew matrices
        basis[:, 3] = both[:, 0]
        basis[:, 5] = both[:, 1] + 2 * (ad[:, 0] @ ad[:, 0])
        s1 = 2 * (c.omega * od).sum(1)[:, None]
        s2 = 2 * ((od * od).sum(1) + (c.omega * odd).sum(1))[:, None]
        first = f[:, 2:4] * s1
        mix[:, 0, :2], mix[:, 0, 2:4] = first, f[:, :2]
        mix[:, 1, :2] = f[:, 4:6] * (s1 * s1) + f[:, 2:4] * s2
        mix[:, 1, 2:4], mix[:, 1, 4:] = 2 * first, f[:, :2]
        t12 = (mix @ basis.reshape(n, 6, 9)).reshape(n, 2, 3, 3)
        t1 = t12[:, 0]
        # local: turning speed and its rate, rates of the step
        col = self.columns
        col[:, :, 0] = turn(c.t, od)
        col[:, :, 1] = turn(c.t, odd) + turn(t1, od)
        col[:, :, 2] = turn(t1, c.lam) + turn(c.t, lamd)
        col[:, :, 3] = turn(t12[:, 1], c.lam) + 2 * turn(t1, lamd)
        world = c.rot[:-1] @ col
        w_step = world[:, :, 0]
        vel = (jac.reshape(-1, self.n) @ qd).reshape(n, 6)
        spin = skew(vel[:, :3] - w_step) @ world[:, :, 0:3:2]  # of the segment's start
        rate = np.empty((n, 6))
        rate[:, :3] = spin[:, :, 0] + world[:, :, 1]
        moving = vel[:, 3:] + turn(skew(vel[:, :3]), c.place)
        rate[:, 3:] = spin[:, :, 1] + world[:, :, 3] + turn(skew(moving), w_step) \
            + turn(c.splace, rate[:, :3])
        return vel, self.below @ rate

    # -- joints

    def handle(self, theta, beta, thetad, betad):
        """Gear, hub column, club column, turning speed and bias accelerations of the handle."""
        g, g1, g2 = self.load.gear(beta)
        sg, cg = math.sin(g), math.cos(g)
        sc, cc = math.sin(beta - theta), math.cos(beta - theta)
        hub = self.arm * np.array([sc, cc * cg, -cc * sg])
        u = np.array([g1, sg, cg])
        w = u * betad
        gd = g1 * betad
        alpha = np.array([g2 * betad**2, gd * betad * cg, -gd * betad * sg])
        k = -self.arm * thetad**2
        acc = np.array([k * cc, -k * sc * cg, k * sc * sg])
        sb = math.sin(beta)
        up = np.array([-math.cos(beta) * self.sin_i, cg * sb * self.sin_i + sg * self.cos_i,
                       -sg * sb * self.sin_i + cg * self.cos_i])
        return g, hub, u, w, alpha, acc, up

    def centres(self, c):
        """Where the bodies' masses are: the stations, and the head's own centre."""
        r = c.place.copy()
        r[-1] += c.rot[-1] @ self.tip_centre
        return r

    def equations(self, y):
        """Mass matrix, bias (with weight, without drives and shaft), and the state for reuse."""
        n = self.n
        theta, beta, thetad, betad = y[0], y[1], y[2 + n], y[3 + n]
        c = self.chain(y[2:2 + n])
        jac = self.jacobian(c)
        vel, acc = self.motion(c, jac, y[4 + n:4 + 2 * n])
        g, hub, u, wh, ah, acc_h, up = self.handle(theta, beta, thetad, betad)
        # the handle's spatial velocity and acceleration, seen from where the hands are now
        lin = acc_h + self.g * up
        sw, sv = cross_of(wh), cross_of(hub * thetad)
        base = np.empty(6)
        base[:3], base[3:] = ah, lin - sw @ (hub * thetad)
        acc += base
        acc[:, :3] += vel[:, :3] @ sw.T
        acc[:, 3:] += vel[:, 3:] @ sw.T + vel[:, :3] @ sv.T
        vel[:, :3] += wh
        vel[:, 3:] += hub * thetad
        # bodies: stations, then the head's rigid body at its own centre
        r = self.centres(c)
        sr, spin = skew(r), skew(vel[:, :3])
        moving = vel[:, 3:] + turn(spin, r)
        wrench = self.wrench
        wrench[:, 3:] = force = self.mass[:, None] * (acc[:, 3:] - turn(sr, acc[:, :3]) + turn(spin, moving))
        root = self.turning @ c.rot[1:].transpose(0, 2, 1)
        inertia = root.transpose(0, 2, 1) @ root
        wrench[:, :3] = turn(sr, force) + turn(inertia, acc[:, :3]) + turn(spin, turn(inertia, vel[:, :3]))
        # mass matrix as a sum of squares
        wide, body = self.wide, self.body
        wide[:, :, 2:] = jac
        wide[:, 3:, 0] = hub
        wide[:, :3, 1] = u
        np.multiply(sr, self.minus_root_mass, out=body[:, :3, :3])
        body[:, 3:, :3] = root
        shaped = (body @ wide).reshape(-1, n + 2)
        mass = shaped.T @ shaped
        b = wrench.ravel() @ wide.reshape(-1, n + 2)
        self.add_rigid(mass, b, theta, hub, u, wh, ah, lin)
        c.vel, c.r, c.inertia, c.hub, c.u, c.wh, c.ah, c.lin, c.up = vel, r, inertia, hub, u, wh, ah, lin, up
        return mass, b, c

    def add_rigid(self, mass, b, theta, hub, u, wh, ah, alin):
        """The arms about the hub and the part of the club above the hands."""
        m, f, s2, ax = self.butt_mass, self.butt_first, self.butt_second, self.butt_axial
        ue = np.array([0.0, u[2], -u[1]])  # u x e1
        mass[0, 0] += self.arm_inertia + m * self.arm**2
        mass[0, 1] += f * (hub @ ue)
        mass[1, 0] = mass[0, 1]
        mass[1, 1] += s2 * (ue @ ue) + ax * u[0]**2
        we = np.array([0.0, wh[2], -wh[1]])
        cent = np.array([0.0, ah[2], -ah[1]]) + np.array(
            [wh[1] * we[2] - wh[2] * we[1], wh[2] * we[0] - wh[0] * we[2], wh[0] * we[1] - wh[1] * we[0]])
        force = m * alin + f * cent
        # moment about the hands: e1 x (first alin + second cent), plus its own turning inertia
        k = f * alin + s2 * cent
        moment = np.array([ax * ah[0], -k[2], k[1]]) + ax * wh[0] * we
        b[0] += hub @ force + self.arm_moment * self.g * self.sin_i * math.sin(theta)
        b[1] += u @ moment

    def drives(self, t, y):
        n = self.n
        cock, cockd = y[1] - y[0], y[3 + n] - y[2 + n]
        spring, damp, stored = self.load.stop(cock, cockd)
        return self.load.hub_torque(t, y[2 + n]), self.load.grip_torque(t), spring, damp, stored, cockd

    @staticmethod
    def solve(mass, b):
        _, x, info = lapack.dposv(mass, b)
        return x, info

    def rhs(self, t, y):
        self.evaluations += 1
        n = self.n
        mass, b, _ = self.equations(y)
        hub, grip, spring, damp, _, cockd = self.drives(t, y)
        qd = y[4 + n:4 + 2 * n]
        wrist = grip + spring + damp
        b[0] -= hub - wrist
        b[1] -= wrist
        b[2:] += self.stiffness * y[2:2 + n] + self.damper * qd
        x, info = self.solve(mass, b)
        if info:  # only from a trial step gone astray: not a number makes the solver shorten it
            return np.full(2 * n + 6, np.nan)
        out = np.empty(2 * n + 6)
        out[:n + 2] = y[n + 2:2 * n + 4]
        out[n + 2:2 * n + 4] = -x
        out[2 * n + 4] = hub * y[2 + n] + grip * cockd
        out[2 * n + 5] = self.damper @ (qd * qd) - damp * cockd
        return out

    def near_jacobian(self, t, y):
        """The stiff part of the Jacobian: shaft stiffness and damping through the mass matrix."""
        n = self.n
        mass, _, _ = self.equations(y)
        inverse = np.linalg.inv(mass)
        out = np.zeros((2 * n + 6, 2 * n + 6))
        out[:n + 2, n + 2:2 * n + 4] = np.eye(n + 2)
        out[n + 2:2 * n + 4, 2:n + 2] = -inverse[:, 2:] * self.stiffness
        out[n + 2:2 * n + 4, n + 4:2 * n + 4] = -inverse[:, 2:] * self.damper
        return out

    def energy(self, t, y):
        """Kinetic, potential (weight and stop) and strain energy."""
        n = self.n
        mass, _, more = self.equations(y)
        u = y[n + 2:2 * n + 4]
        up, r, theta = more.up, more.r, y[0]
        hands_up = -self.arm * math.cos(theta) * self.sin_i
        height = (self.mass @ r) @ up + self.butt_first * up[0] \
            + (self.mass.sum() + self.butt_mass) * hands_up - self.arm_moment * math.cos(theta) * self.sin_i
        stored = self.drives(t, y)[4]
        return 0.5 * u @ mass @ u, self.g * height + stored, 0.5 * self.stiffness @ y[2:2 + n]**2

    # -- start, run, deliver

    def start(self):
        """Quasi-static shaft: q with qd = qdd = 0, joint accelerations found with it."""
        p, n = self.player["start"], self.n
        y = np.zeros(2 * n + 6)
        y[0], y[1] = p["arm"], p["arm"] + p["cock"]
        y[2 + n] = p.get("arm_speed", 0.0)
        y[3 + n] = y[2 + n] + p.get("cock_speed", 0.0)

        def residual(q):
            z = y.copy()
            z[2:2 + n] = q
            mass, b, _ = self.equations(z)
            hub, grip, spring, damp, _, _ = self.drives(0.0, z)
            wrist = grip + spring + damp
            b[0] -= hub - wrist
            b[1] -= wrist
            joint = np.linalg.solve(mass[:2, :2], -b[:2])
            return b[2:] + self.stiffness * q + mass[2:, :2] @ joint

        # unknowns scaled so that the modes' stiffness is 1
        q, scale = np.zeros(n), 1 / np.sqrt(self.stiffness)
        for _ in range(30):
            f = residual(q)
            jac = np.empty((n, n))
            for j in range(n):
                step = np.zeros(n)
                step[j] = 1e-4 * scale[j]
                jac[:, j] = (residual(q + step) - residual(q - step)) / 2e-4
            dq = -scale * np.linalg.solve(jac, f)
            q = q + dq
            if np.max(abs(dq) / scale) < 1e-11:
                y[2:2 + n] = q
                return y
        raise ArithmeticError("no static start")

    def face(self, y):
        """Face centre in the swing plane frame."""
        c = self.chain(y[2:2 + self.n])
        r = c.place[-1] + c.rot[-1] @ self.club.face_centre
        return self.hands(y[0]) + self.axes(y[1]) @ r

    def hands(self, theta):
        return self.arm * np.array([math.sin(theta), -math.cos(theta), 0])

    def axes(self, beta):
        """Columns e1, e2, e3 in the swing plane frame."""
        g = self.load.gear(beta)[0]
        sb, cb, sg, cg = math.sin(beta), math.cos(beta), math.sin(g), math.cos(g)
        return np.array([[sb, cg * cb, -sg * cb], [-cb, cg * sb, -sg * sb], [0, sg, cg]])

    def reach(self, t, y):
        """Negative until the face centre passes the ball; far from it the sign is enough."""
        if y[1] < -1.2:
            return -1.0
        return self.face(y)[0] - self.player["ball"]["ahead"]

    def run(self, rtol=1e-5, method="Radau", limit=1.0, dense=True, **options):
        y0 = self.start()
        n = self.n
        # sizes for the absolute tolerances: rad, sqrt(kg) m (1 cm of head and shaft), their rates, J
        scale = np.concatenate([[1, 1], np.full(n, 0.01), [10, 10], np.full(n, 0.5), [10, 10]])
        if method in ("BDF", "Radau", "LSODA") and options.pop("own_jacobian", True):
            options["jac"] = self.near_jacobian
        self.evaluations = 0

        def event(t, y):
            return self.reach(t, y)
        event.terminal, event.direction = True, 1
        began = time.perf_counter()
        with np.errstate(all="ignore"):  # of trial steps that are given up
            sol = solve_ivp(self.rhs, (0.0, limit), y0, method=method, rtol=rtol, atol=rtol * scale,
                            events=event, dense_output=dense, **options)
        self.seconds = time.perf_counter() - began
        if sol.status != 1:
            raise ArithmeticError("the head never reached the ball")
        return sol

    def handle_moment(self, t, y):
        """Moment about Z of the handle on what bends, loading positive; and the grip force."""
        n = self.n
        qdd = self.rhs(t, y)[n + 2:2 * n + 4]
        _, _, c = self.equations(y)
        twist = self.wide @ qdd  # spatial accelerations about the hands, on top of the bias
        force = self.mass[:, None] * (twist[:, 3:] + np.cross(twist[:, :3], c.r))
        moment = (np.cross(c.r, force) + turn(c.inertia, twist[:, :3])).sum(0)
        total = self.wrench.sum(0)
        z = np.array([0, c.u[1], c.u[2]])
        # the rigid part above the hands adds to the force only
        alpha = c.ah + c.u * qdd[1]
        own = np.cross(alpha, E1) + np.cross(c.wh, np.cross(c.wh, E1))
        pull = total[3:] + force.sum(0) + self.butt_mass * (c.lin + c.hub * qdd[0]) + self.butt_first * own
        return (total[:3] + moment) @ z, np.linalg.norm(pull)

    def delivery(self, y, straight=False):
        n = self.n
        y = y.copy()
        if straight:
            y[2:2 + n] = 0
            y[4 + n:4 + 2 * n] = 0
        _, _, c = self.equations(y)
        rot, tip, vel = c.rot[-1], c.place[-1], c.vel[-1]
        centre = tip + rot @ self.club.head_centre
        v = vel[3:] + np.cross(vel[:3], centre)
        axes = self.axes(y[1])
        v, normal, toe = axes @ v, axes @ rot @ self.club.face_normal, axes @ rot @ self.club.toe
        spin = axes @ vel[:3]
        up = np.array([0, self.sin_i, self.cos_i])
        d = self.player["plane"].get("direction", 0.0)
        x0, z0 = np.array([1.0, 0, 0]), np.array([0, -self.cos_i, self.sin_i])
        xt, zt = math.cos(d) * x0 - math.sin(d) * z0, math.sin(d) * x0 + math.cos(d) * z0
        speed = np.linalg.norm(v)
        nx, nz = normal @ xt, normal @ zt
        nd = np.cross(spin, normal)
        out = {
            "head_speed_mps": speed,
            "delivered_loft_deg": math.asin(normal @ up) * DEG,
            "face_angle_deg": math.atan2(nz, nx) * DEG,
            "delivered_lie_deg": math.asin(toe @ up) * DEG,
            "closure_rate_deg_s": -(nx * (nd @ zt) - nz * (nd @ xt)) / (nx * nx + nz * nz) * DEG,
            "attack_angle_deg": math.asin(v @ up / speed) * DEG,
            "path_deg": math.atan2(v @ zt, v @ xt) * DEG,
            "handle_lean_deg": -y[1] * DEG,
            "arm_angle_deg": y[0] * DEG,
        }
        if not straight:
            t = rot[:, 0]
            out["lead_deflection_mm"], out["droop_mm"] = tip[1] * 1e3, -tip[2] * 1e3
            out["lead_slope_deg"] = math.atan2(t[1], t[0]) * DEG
            out["droop_slope_deg"] = math.atan2(-t[2], t[0]) * DEG
            out["tip_twist_deg"] = -rotation_vector(rot)[0] * DEG
        return out

    def lag(self, y):
        g = self.load.gear(y[1])[0]
        tip = self.chain(y[2:2 + self.n]).place[-1]
        return -(tip[1] * math.cos(g) - tip[2] * math.sin(g))

    def report(self, sol):
        t1 = sol.t_events[0][0]
        y1 = sol.y_events[0][0]
        bent, straight = self.delivery(y1), self.delivery(y1, True)
        out = dict(bent)
        out["downswing_time_s"] = t1
        out["shaft_speed_gain_mps"] = bent["head_speed_mps"] - straight["head_speed_mps"]
        out["loft_change_deg"] = bent["delivered_loft_deg"] - straight["delivered_loft_deg"]
        out["face_rotation_deg"] = straight["face_angle_deg"] - bent["face_angle_deg"]
        out["lie_change_deg"] = bent["delivered_lie_deg"] - straight["delivered_lie_deg"]
        times = np.linspace(0, t1, 401)
        states = sol.sol(times).T
        lag, when = peak(times, [self.lag(y) for y in states], lambda t: self.lag(sol.sol(t)))
        out["peak_lag_mm"], out["peak_lag_time_s"] = lag * 1e3, when
        hand = np.array([self.handle_moment(t, y) for t, y in zip(times, states)])
        m, when = peak(times, hand[:, 0], lambda t: self.handle_moment(t, sol.sol(t))[0])
        out["peak_handle_moment_nm"], out["peak_handle_moment_time_s"] = m, when
        out["grip_force_n"] = peak(times, hand[:, 1], lambda t: self.handle_moment(t, sol.sol(t))[1])[0]
        rate = np.diff(hand[:, 0]) / np.diff(times)
        out["peak_load_rate_nm_s"] = rate.max()
        out["strain_energy_peak_j"] = (0.5 * states[:, 2:2 + self.n]**2 @ self.stiffness).max()
        e0, e1 = sum(self.energy(0.0, states[0])), sum(self.energy(t1, y1))
        work, lost = y1[-2], y1[-1]
        out["energy_residual"] = abs(e1 - e0 - work + lost) / max(abs(work), 1e-12)
        return out, straight


# ------------------------------------------------------------------ what the exact kinematics are worth

class LinearSwing(Swing):
    """The same swing with kinematics linear in q, to see what the exact kinematics are worth.

    Every mass of the bent shaft moves by the first derivative of the exact kinematics at q = 0, and
    every section turns by the rotation vector linear in q:
      r_i = r_i(0) + L_i q,  R_i = exp [Phi_i q]x;  i the stations, and the centre of the head's mass.
    This is the textbook beam in a moving frame: kinetic energy, weight and drives are exact for
    these places, so energy balances (a check); only the places lack what is quadratic in q. The
    part of it along the shaft, u_i = q'H_i q/2, is how much nearer to the hands a mass comes when
    the shaft bends: -1/2 int (v'^2 + w'^2) ds up to a station, and for the head what its tilt adds.
    The inertia force -m a of a mass does work on it, which the linear model forgets: it has no
    stiffening by tension (Kane, Ryan & Banerjee 1987, J. Guid. Control Dyn. 10:139, from memory),
    and a beam that turns faster than it would ring at rest runs away in it.

    tension=True gives that work back, with the accelerations a of the straight club at the same
    joint angles and speeds, weight counted in:
      sum_i m_i (e1.a_i) H_i q = Kg(t) q on the shape's side of the equations,
    which for a plain shaft is the classical geometric stiffness int N(s, t) (v'v' + w'w') ds, N the
    tension. The masses still do not come nearer to the hands (no foreshortening, and none of the
    couplings between bending and twist that are quadratic), and the joints do not feel it: the
    mass matrix is not symmetric and energy balances only to that order.
    """

    def __init__(self, setup, modes=12, stations=18, gravity=True, elements=100, tension=False):
        super().__init__(setup, modes, stations, gravity, elements)
        c = Swing.chain(self, np.zeros(modes))
        jac = Swing.jacobian(self, c)
        self.place0 = c.place.copy()
        self.turn_by_q = jac[:, :3].copy()
        self.move_by_q = jac[:, 3:] - skew(c.place) @ self.turn_by_q
        self.centre0 = Swing.centres(self, c)
        self.centre_by_q = self.move_by_q.copy()
        self.centre_by_q[-1] -= skew1(self.tip_centre) @ self.turn_by_q[-1]
        self.tension = tension
        self.along = self.nearer()

    def nearer(self):
        """m_i H_i, from differences of the exact places along e1: (S, n, n)."""
        n, step = self.n, 1e-3 / self.modes.omega * self.modes.omega[0]

        def along(q):
            return Swing.centres(self, Swing.chain(self, q))[:, 0]

        eye, zero = np.diag(step), along(np.zeros(n))
        single = np.array([along(e) + along(-e) for e in eye]) - 2 * zero
        out = np.empty((self.segments, n, n))
        for i in range(n):
            for j in range(i + 1):
                both = along(eye[i] + eye[j]) + along(-eye[i] - eye[j]) - 2 * zero
                out[:, i, j] = out[:, j, i] = 0.5 * (both - single[i] - single[j]) / (step[i] * step[j])
        return self.mass[:, None, None] * out

    def chain(self, q):
        c = Chain()
        c.phi = self.turn_by_q @ q
        c.a = skew(c.phi)
        c.a2 = c.a @ c.a
        s = -0.5 * c.a2.trace(axis1=1, axis2=2)
        self.powers[:, 1:] = s[:, None]
        c.f = f = np.multiply.accumulate(self.powers, 1) @ SERIES
        fa, fb = f[:, 0, None, None], f[:, 1, None, None]
        c.t = EYE + fa * c.a + fb * c.a2
        c.rot = np.empty((self.segments + 1, 3, 3))
        c.rot[0], c.rot[1:] = EYE, EYE + (1 - s * f[:, 1])[:, None, None] * c.a + fa * c.a2
        c.place = self.place0 + self.move_by_q @ q
        c.centre = self.centre0 + self.centre_by_q @ q
        return c

    def centres(self, c):
        return c.centre.copy()

    def jacobian(self, c):
        jac = np.empty((self.segments, 6, self.n))
        jac[:, :3] = c.t @ self.turn_by_q
        jac[:, 3:] = self.centre_by_q + skew(c.centre) @ jac[:, :3]
        return jac

    def motion(self, c, jac, qd):
        phid = self.turn_by_q @ qd
        ad, f = skew(phid), c.f
        s1 = 2 * (c.phi * phid).sum(1)[:, None, None]
        t1 = s1 * (f[:, 2, None, None] * c.a + f[:, 3, None, None] * c.a2) \
            + f[:, 0, None, None] * ad + f[:, 1, None, None] * (ad @ c.a + c.a @ ad)
        vel, rate = np.empty((self.segments, 6)), np.empty((self.segments, 6))
        vel[:, :3], rate[:, :3] = turn(c.t, phid), turn(t1, phid)
        move = self.centre_by_q @ qd
        vel[:, 3:] = move - np.cross(vel[:, :3], c.centre)
        rate[:, 3:] = -np.cross(rate[:, :3], c.centre) - np.cross(vel[:, :3], move)
        return vel, rate

    def equations(self, y):
        mass, b, c = super().equations(y)
        if self.tension:
            q, r = y[2:2 + self.n], self.centre0
            near = self.along @ q
            bias = c.lin + np.cross(c.ah, r) + np.cross(c.wh, np.cross(c.wh, r))
            b[2:] += bias[:, 0] @ near
            mass[2:, 0] += c.hub[0] * near.sum(0)
            mass[2:, 1] += np.cross(c.u, r)[:, 0] @ near
        return mass, b, c

    def solve(self, mass, b):
        if not self.tension:
            return Swing.solve(mass, b)
        _, _, x, info = lapack.dgesv(mass, b)
        return x, info


def rotation_vector(r):
    w = 0.5 * np.array([r[2, 1] - r[1, 2], r[0, 2] - r[2, 0], r[1, 0] - r[0, 1]])
    s, c = np.linalg.norm(w), 0.5 * (np.trace(r) - 1)
    return w if s < 1e-12 else w / s * math.atan2(s, c)


def peak(times, values, function):
    """Largest value of a sampled function, refined between the neighbours of the largest sample."""
    values = np.asarray(values)
    i = int(np.argmax(values))
    if i in (0, len(values) - 1):
        return values[i], times[i]
    found = minimize_scalar(lambda t: -function(t), bounds=(times[i - 1], times[i + 1]), method="bounded",
                            options={"xatol": 1e-8})
    return -found.fun, found.x


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("setup")
    parser.add_argument("--modes", type=int, default=12)
    parser.add_argument("--stations", type=int, default=18)
    parser.add_argument("--rtol", type=float, default=1e-5)
    parser.add_argument("--method", default="Radau")
    parser.add_argument("--difference-jacobian", action="store_true",
                        help="let solve_ivp find its Jacobian by differences")
    args = parser.parse_args()
    swing = Swing(read_setup(args.setup), args.modes, args.stations)
    sol = swing.run(args.rtol, args.method, own_jacobian=not args.difference_jacobian)
    evaluations = swing.evaluations
    impact, straight = swing.report(sol)
    print(json.dumps({"impact": impact, "straight": straight, "seconds": swing.seconds,
                      "evaluations": evaluations, "steps": len(sol.t) - 1}, indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
