#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A downswing as a chain of rigid segments in the inertial frame: a reference in another formulation.

Where the program describes the shaft by curvatures of modes in the frame of the handle, this cuts it
into N straight rigid segments and asks of each only Newton's and Euler's laws, in the swing plane frame
(X, Y, Z), which does not move. There are no modes, no floating frame, no assumed shapes and
no term for tension: a segment knows its own orientation, and neighbours pull and bend each other. Nothing is
made stiff by a penalty either: the segments cannot stretch or shear, so there is no such number to vary.

    absolute.py SETUP.yaml [--level 3]          prints the values at impact, extrapolated, with the error left
    absolute.py --store DIRECTORY SETUP.yaml... writes <setup>.json and <setup>.csv: values and time series

From swing.py come only the reading of model files, the interpolation of the measured profile, and the
load programs: what is input, not mechanics.

1. The chain
------------
The shaft from the hands (s = 0) to the hosel (s = L) is cut at s_0 = 0 < s_1 < ... < s_N = L. Segment k is a
rigid body with the mass, centre of mass and inertia that the profile and the grip give the piece
(s_k, s_k+1); the head with the inserted shaft is body N. Unknown are the orientation Q_k of each body (the
matrix whose columns are its e1, e2, e3 in X, Y, Z) and its angular velocity w_k in X, Y, Z. A joint k at s_k
holds body k to body k - 1; body -1 is the handle. Segments neither stretch nor shear, so the places are
sums: r_0 = hands, r_k+1 = r_k + A_k with A_k = l_k Q_k e1, exactly, whatever the bending.

At joint k the two bodies are turned against each other by exp(phi_k) = Q_k-1' Q_k, phi_k = (twist, about
e2, about e3). A spring resists: its compliance is the integral of 1/GJ and of the inverse of the bending
matrix over the shaft that belongs to the joint, from the middle of one segment to that of the next (at both
ends, half a segment). Its couple on body k - 1, in that body's axes, is the gradient of phi' K phi/2 by a
turn of body k: with d(phi) = D dtheta, D = I - [phi]/2 + (1 - (p/2) cot(p/2)) [phi]^2/p^2, p = |phi|,
    g_k = D' (K_k phi_k + damping),      M_k = -Q_k-1 g_k on body k, -M_k on body k - 1.

2. Balance
----------
With spins w and accelerations a = dw/dt of the bodies, a_0 the acceleration of the hands, c_k the
vector from joint k to the centre of mass of body k, and gravity as an upward acceleration g U:
    acceleration of joint k+1 = that of joint k + a_k x A_k + w_k x (w_k x A_k), of the centre likewise by c_k;
    f_k = m_k (acceleration of the centre + g U);   F_k = f_k + F_k+1, from the free end, F beyond the head 0;
    I_k a_k + w_k x I_k w_k + c_k x f_k + A_k x F_k+1 = M_k - M_k+1                (Euler, about joint k).
F_k is the force of body k - 1 on body k: tension, and with it all stiffening by rotation, is in A_k x F_k+1.

Handle and arms (beta, theta as in the header; gamma = Gamma(beta); the handle's axes from the two
angles, its spin beta' u with u = Z + Gamma' e1; the hands at R (sin theta, -cos theta, 0)):
    u . (moment that the butt part needs about the hands + M_0) = T_grip + T_stop,
    I_arm theta'' = T_hub - T_grip - T_stop + weight of the arms - R across . F(hands),
F(hands) = F_0 + what the butt part needs. The couple of the hands reacts on the arms; the gear does no work.

3. Damping
----------
The input is one damping ratio zeta for every mode of the shaft clamped at the hands with its head. In terms
of strains that is a dissipation function sum_j zeta omega_j qd_j^2, q_j the amplitude that mode j has in the strain
phi. The modes are those of this chain, straight and at rest, in its own joint angles: K P = M P diag(omega^2),
P' K P = diag(omega^2), all of them; then q = diag(omega^-2) P' K phi and the couples are C phidot with
C = K P diag(2 zeta/omega^3) P' K. Since it acts on strain rates in the bodies' own axes it damps no rigid turning.
(No mode carries motion here: with zeta = 0 none is computed.)

4. Start
--------
phi is found by iteration so that all bodies turn and accelerate with the handle: w_k = spin of the handle,
a_k = its angular acceleration, couples from the balance above, theta'' and beta'' from their equations.

5. Steps in time
----------------
Implicit midpoint: with w~ = (w_n + w_n+1)/2 the bodies turn by exp(dt w~/2) to the middle of the step and by as
much again to its end; a = (w_n+1 - w_n)/dt; the balance is asked in the middle, loads at its time. theta and
beta likewise. It is symmetric in time, so its error is a series in even powers of dt, as that of the chain is
in even powers of the segments' length; it damps nothing of its own. Newton's method, with a tangent that leaves
out some small terms (which costs iterations, not accuracy). Forces and couples are taken in the middles of the
steps, where the balance is asked, and interpolated: at the ends the stiffest joint, that at the hands, is off by
dt^2 gamma' beta'/8 from what holds there, since the handle moves by its angles and the bodies by exp.

6. Extrapolation
----------------
Each level halves segments and steps together, so one Romberg table (errors in h^2, h^4, h^6) does for both.
The error given with each value is what the last level changed in it, which is several times what is left.
"""
import argparse
import csv
import json
import math
import os
import sys

import numpy as np
from scipy.linalg import eigh, lu_factor, lu_solve

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from swing import GRAVITY, Load, Profile, read_setup  # noqa: E402

DEG = 180 / math.pi
EYE = np.eye(3)
SEGMENTS, STEP = 12, 1e-3  # of level 0: about as many segments; s

# ------------------------------------------------------------------ rotations


def cross(a, b):
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    out[..., 0] = a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1]
    out[..., 1] = a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2]
    out[..., 2] = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return out


def skew(a):
    out = np.zeros(a.shape + (3,))
    out[..., 0, 1], out[..., 1, 0] = -a[..., 2], a[..., 2]
    out[..., 0, 2], out[..., 2, 0] = a[..., 1], -a[..., 1]
    out[..., 1, 2], out[..., 2, 1] = -a[..., 0], a[..., 0]
    return out


def times(matrix, vector):
    return (matrix @ vector[..., None])[..., 0]


def transposed(matrix):
    return np.swapaxes(matrix, -1, -2)


def rotation(v):
    """Matrix of a rotation vector."""
    p2 = (v * v).sum(-1)[..., None, None]
    p = np.sqrt(p2)
    small = p < 1e-4
    safe = np.where(small, 1.0, p)
    a = np.where(small, 1 - p2 / 6, np.sin(safe) / safe)
    b = np.where(small, 0.5 - p2 / 24, 2 * (np.sin(0.5 * safe) / safe)**2)
    x = skew(v)
    return EYE + a * x + b * (x @ x)


def rotation_vector(r):
    """The other way round, for turns of less than a half circle."""
    w = 0.5 * np.stack([r[..., 2, 1] - r[..., 1, 2], r[..., 0, 2] - r[..., 2, 0], r[..., 1, 0] - r[..., 0, 1]], -1)
    s = np.sqrt((w * w).sum(-1))
    c = 0.5 * (np.trace(r, axis1=-2, axis2=-1) - 1)
    small = s < 1e-4
    return w * np.where(small, 1 + s * s / 6, np.arctan2(s, c) / np.where(small, 1.0, s))[..., None]


def strain_turn(phi):
    """D: change of phi by a small turn of the outer body, in the inner body's axes."""
    p2 = (phi * phi).sum(-1)[..., None, None]
    small = p2 < 1e-6
    p = np.sqrt(np.where(small, 1.0, p2))
    c = np.where(small, 1 / 12 + p2 / 720, (1 - 0.5 * p / np.tan(0.5 * p)) / p**2)
    x = skew(phi)
    return EYE - 0.5 * x + c * (x @ x)


# ------------------------------------------------------------------ the chain's properties

def gauss(edges, count=4):
    x, w = np.polynomial.legendre.leggauss(count)
    edges = np.asarray(edges)
    half, middle = 0.5 * np.diff(edges), 0.5 * (edges[1:] + edges[:-1])
    return (middle[:, None] + half[:, None] * x).ravel(), (half[:, None] * w).ravel()


def between(places, a, b):
    """a, the places strictly between, b."""
    p = np.asarray(places, float)
    return np.concatenate([[a], p[(p > a + 1e-12) & (p < b - 1e-12)], [b]])


class Bodies:
    """Mass, vector from the inner joint to the centre, inertia about the centre, vector to the outer joint."""

    def __init__(self, mass, centre, inertia, arm):
        self.mass, self.centre, self.inertia, self.arm = (np.asarray(v, float) for v in (mass, centre, inertia, arm))


class Chain:
    """Segments of a shaft with a rigid body on its end.

    section(s) -> mass per length (n), polar inertia per length (n), stiffness (n, 3, 3) about e1, e2, e3;
    kinks: places where these are not smooth (the quadratures stop there); cuts: the segments' ends;
    end = (mass, centre, inertia about the centre) in the axes of the shaft's end.
    """

    def __init__(self, section, cuts, kinks, end, damping=0.0):
        cuts = np.asarray(cuts)
        self.lengths = np.diff(cuts)
        mass, centre, inertia, arm = [], [], [], []
        for a, b in zip(cuts[:-1], cuts[1:]):
            s, w = gauss(between(kinks, a, b))
            m, j, _ = section(s)
            total = (w * m).sum()
            c = (w * m * (s - a)).sum() / total
            across = (w * m * (s - a - c)**2).sum()
            mass.append(total)
            centre.append([c, 0, 0])
            inertia.append(np.diag([(w * j).sum(), across, across]))
            arm.append([b - a, 0, 0])
        mass.append(end[0])
        centre.append(end[1])
        inertia.append(end[2])
        arm.append([0, 0, 0])
        self.bodies = Bodies(mass, centre, inertia, arm)
        self.count = len(mass)
        self.beyond = self.bodies.mass[::-1].cumsum()[::-1] - self.bodies.mass  # mass beyond each body
        self.outside = np.kron(np.tril(np.ones((self.count, self.count)), -1), np.ones((3, 3)))
        middle = np.concatenate([cuts[:1], 0.5 * (cuts[1:] + cuts[:-1]), cuts[-1:]])
        springs = []
        for a, b in zip(middle[:-1], middle[1:]):
            s, w = gauss(between(kinks, a, b))
            springs.append(np.linalg.inv((w[:, None, None] * np.linalg.inv(section(s)[2])).sum(0)))
        self.spring = np.array(springs)
        self.damper = self.modal_damper(damping) if damping else None

    def joint_modes(self):
        """omega^-2, descending, and the modes in joint angles, P' K P = 1, of the straight clamped chain."""
        n = self.count
        straight = np.broadcast_to(EYE, (n, 3, 3))
        mass = self.mass_matrix(straight @ self.bodies.inertia, self.bodies.centre, self.bodies.arm)
        # bodies' turns are running sums of joint angles
        m = mass.reshape(n, 3, n, 3)
        m = m[::-1].cumsum(0)[::-1]
        m = m[:, :, ::-1].cumsum(2)[:, :, ::-1].reshape(3 * n, 3 * n)
        k = np.zeros_like(m)
        for i in range(n):
            k[3 * i:3 * i + 3, 3 * i:3 * i + 3] = self.spring[i]
        inverse, shape = eigh(m, k)
        return inverse[::-1], shape[:, ::-1]

    def modal_damper(self, ratio):
        inverse, shape = self.joint_modes()
        # with P' K P = 1 in place of omega^2: C = K P diag(2 zeta/omega) P' K
        kp = (self.spring @ shape.reshape(self.count, 3, -1)).reshape(shape.shape)
        return (kp * (2 * ratio * np.sqrt(inverse))) @ kp.T

    def frequencies(self, count):
        return 1 / np.sqrt(self.joint_modes()[0][:count])

    def mass_matrix(self, inertia, centre, arm, by_arm=None, by_centre=None):
        """Derivative of the needed couples by the bodies' angular accelerations, hands at rest: (3n, 3n).

        Body j moves what is beyond it by P_j: the outer bodies feel [b_k] P_j, the inner ones [A_k] (what P_j
        does to body j and all beyond). Given other P (by_arm, by_centre), the same for a step's end.
        """
        n, m, far = self.count, self.bodies.mass[:, None, None], self.beyond[:, None, None]
        turn_arm, turn_centre = skew(arm), skew(centre)
        by_arm = -turn_arm if by_arm is None else by_arm
        by_centre = -turn_centre if by_centre is None else by_centre

        def all_pairs(left, right):
            return left.reshape(3 * n, 3) @ right.transpose(1, 0, 2).reshape(3, 3 * n)

        out = self.outside * all_pairs(m * turn_centre + far * turn_arm, by_arm)
        out += self.outside.T * all_pairs(turn_arm, m * by_centre + far * by_arm)
        k = np.arange(n)
        out.reshape(n, 3, n, 3)[k, :, k, :] += inertia + m * (turn_centre @ by_centre) + far * (turn_arm @ by_arm)
        return out


def spread(v):
    """v.v I - v v', the inertia of a unit mass at v."""
    return (v * v).sum(-1)[..., None, None] * EYE - v[..., :, None] * v[..., None, :]


class Needs:
    """What a motion of the chain needs: force F_k and the couple that body k must get from its two joints."""

    def __init__(self, chain, q, w, a, hands, lift):
        b = chain.bodies
        self.arm, self.centre = times(q, b.arm), times(q, b.centre)
        self.inertia = q @ b.inertia @ transposed(q)
        step = cross(a, self.arm) + cross(w, cross(w, self.arm))
        joint = hands + np.cumsum(step, 0) - step
        self.force = b.mass[:, None] * (joint + cross(a, self.centre) + cross(w, cross(w, self.centre)) + lift)
        self.pull = self.force[::-1].cumsum(0)[::-1]
        self.outer = self.pull - self.force
        self.turn = times(self.inertia, a) + cross(w, times(self.inertia, w)) \
            + cross(self.centre, self.force) + cross(self.arm, self.outer)


# ------------------------------------------------------------------ what holds the chain

class Driven:
    """A handle with a given motion: motion(t) -> axes (3, 3), spin, its rate, acceleration of the hands."""

    count = 0

    def __init__(self, motion, lift=(0, 0, 0)):
        self.motion, self.lift = motion, np.asarray(lift, float)

    def start(self):
        return np.zeros(0), np.zeros(0)

    def move(self, t, angle, rate, acceleration):
        self.axes, self.spin, self.spin_rate, self.hands = self.motion(t)
        return self

    def accelerate(self, acceleration):
        pass


class Golfer:
    """Arms and handle; its own unknowns are theta and beta."""

    count = 2

    def __init__(self, player, butt, gravity=True, torques=True):
        self.load, self.torques = Load(player), torques
        arm, plane, start = player["arm"], player["plane"], player["start"]
        self.radius, self.inertia = arm["length"], arm["inertia"]
        self.first = arm.get("mass", 0.0) * arm.get("centre", 0.0)
        i, d = plane["inclination"], plane.get("direction", 0.0)
        self.up = np.array([0, math.sin(i), math.cos(i)])
        away = np.array([0, -math.cos(i), math.sin(i)])  # horizontal, from the golfer
        x = np.array([1.0, 0, 0])
        self.target, self.side = math.cos(d) * x - math.sin(d) * away, math.sin(d) * x + math.cos(d) * away
        self.lift = (GRAVITY if gravity else 0.0) * self.up
        self.butt = butt  # mass, first moment along e1, inertia about the hands: axial, transverse
        self.given = start

    def start(self):
        s = self.given
        theta, rate = s["arm"], s.get("arm_speed", 0.0)
        return np.array([theta, theta + s["cock"]]), np.array([rate, rate + s.get("cock_speed", 0.0)])

    def frame(self, beta):
        """Axes of the handle (columns), u and gear derivatives."""
        g, slope, curve = self.load.gear(beta)
        e1 = np.array([math.sin(beta), -math.cos(beta), 0])
        across, z = np.array([math.cos(beta), math.sin(beta), 0]), np.array([0, 0, 1.0])
        e2 = math.cos(g) * across + math.sin(g) * z
        e3 = math.cos(g) * z - math.sin(g) * across
        return np.stack([e1, e2, e3], 1), z + slope * e1, (g, slope, curve, across)

    def move(self, t, angle, rate, acceleration):
        theta, beta = angle
        self.t, self.angle, self.rate, self.acceleration = t, angle, rate, acceleration
        self.axes, self.u, (self.roll, slope, curve, e1_rate) = self.frame(beta)
        self.spin = rate[1] * self.u
        # u changes with beta by Gamma'' e1 + Gamma' de1/dbeta
        self.u_rate = curve * self.axes[:, 0] + slope * e1_rate
        self.across = self.radius * np.array([math.cos(theta), math.sin(theta), 0])
        self.out = self.radius * np.array([math.sin(theta), -math.cos(theta), 0])
        self.accelerate(acceleration)
        return self

    def accelerate(self, acceleration):
        self.acceleration = acceleration
        self.spin_rate = acceleration[1] * self.u + self.rate[1]**2 * self.u_rate
        self.hands = acceleration[0] * self.across - self.rate[0]**2 * self.out

    def butt_needs(self):
        """Force, and moment about the hands, of the part of the club above them."""
        mass, first, axial, transverse = self.butt
        e1, w, a = self.axes[:, 0], self.spin, self.spin_rate
        hands = self.hands + self.lift
        force = mass * hands + first * (cross(a, e1) + cross(w, cross(w, e1)))
        inertia = transverse * EYE + (axial - transverse) * np.outer(e1, e1)
        return force, first * cross(e1, hands) + inertia @ a + cross(w, inertia @ w), inertia

    def couples(self):
        """Hub, and wrist with its stop."""
        if not self.torques:
            return 0.0, 0.0
        cock, rate = self.angle[1] - self.angle[0], self.rate[1] - self.rate[0]
        spring, damper, _ = self.load.stop(cock, rate)
        return self.load.hub_torque(self.t, self.rate[0]), self.load.grip_torque(self.t) + spring + damper

    def residual(self, pull, couple):
        """Of the two joint equations; pull = F_0, couple = M_0 on the shaft at the hands."""
        force, moment, _ = self.butt_needs()
        hub, wrist = self.couples()
        self.grip = pull + force
        weight = self.first * self.lift @ self.across / self.radius
        return np.array([self.inertia * self.acceleration[0] + weight + self.across @ self.grip - hub + wrist,
                         self.u @ (moment + couple) - wrist])

    def couples_tangent(self, by_angle, by_rate):
        """2 x 2: what hub and wrist add to the residual's derivative, by differences of the load programs."""
        if not self.torques:
            return np.zeros((2, 2))
        cock, rate, e = self.angle[1] - self.angle[0], self.rate[1] - self.rate[0], 1e-5
        sides = [[sum(self.load.stop(cock + i * e, rate + j * e)[:2]) for i, j in ((s, 0), (0, s))] for s in (1, -1)]
        wrist = -(np.subtract(*sides) / (2 * e)) @ [by_angle, by_rate]
        hub = self.load.hub_torque(self.t, self.rate[0] + 0.5) - self.load.hub_torque(self.t, self.rate[0] - 0.5)
        return np.array([[wrist - by_rate * hub, -wrist], [-wrist, wrist]])

    def own_mass(self, chain_mass):
        """2 x 2 block of theta and beta."""
        mass, first, _, _ = self.butt
        inertia = self.butt_needs()[2]
        off = first * self.across @ cross(self.u, self.axes[:, 0])
        return np.array([[self.inertia + self.radius**2 * (mass + chain_mass), off], [off, self.u @ inertia @ self.u]])


# ------------------------------------------------------------------ the swing of a chain

class State:
    """t, joint angles and rates, the bodies' orientations and spins."""

    def __init__(self, t, angle, rate, q, w):
        self.t, self.angle, self.rate, self.q, self.w = t, angle, rate, q, w


class Motion:
    def __init__(self, chain, holder):
        self.chain, self.holder = chain, holder
        self.iterations = 0

    # -- joints between the bodies

    def inner(self, axes, values):
        """What each joint has on its inner side: the handle's value, then the bodies' but the last."""
        return np.concatenate([axes[None], values[:-1]])

    def couples(self, h, q, w):
        """M_k on body k, in X, Y, Z, and what the tangent needs."""
        self.inside = inside = self.inner(h.axes, q)
        self.phi = phi = rotation_vector(transposed(inside) @ q)
        self.d = d = strain_turn(phi)
        stress = times(self.chain.spring, phi)
        if self.chain.damper is not None:
            rate = times(d, times(transposed(inside), w - self.inner(h.spin, w)))
            stress = stress + (self.chain.damper @ rate.ravel()).reshape(-1, 3)
        return -times(inside, times(transposed(d), stress))

    def balance(self, h, q, w, a):
        """Residuals of joints and bodies, (count + 3n)."""
        self.needs = needs = Needs(self.chain, q, w, a, h.hands, h.lift)
        m = self.couples(h, q, w)
        out = needs.turn - m
        out[:-1] += m[1:]
        self.pull, self.couple = needs.pull[0], m[0]
        if not h.count:
            return out.ravel()
        return np.concatenate([h.residual(self.pull, self.couple), out.ravel()])

    # -- one step

    def held_together(self, spring, damper):
        """Springs and dampers, each with its factor: by the turn and the couple between the two sides of each
        joint (n + 1, the last one free), and by the bodies."""
        n, chain, g = self.chain.count, self.chain, self.inside @ transposed(self.d)
        joint = np.zeros((n + 1, 3, n + 1, 3))
        if chain.damper is not None and damper:
            left = (g @ (damper * chain.damper).reshape(n, 3, 3 * n)).reshape(3 * n, n, 3).transpose(1, 0, 2)
            joint[:n, :, :n, :] = (left @ transposed(g)).reshape(n, n, 3, 3).transpose(1, 2, 0, 3)
        k = np.arange(n)
        joint[k, :, k, :] += spring * (g @ chain.spring @ transposed(g))
        by_body = joint[:n, :, :n, :] - joint[:n, :, 1:, :] - joint[1:, :, :n, :] + joint[1:, :, 1:, :]
        return joint, by_body.reshape(3 * n, 3 * n)

    def tangent(self, h, w, acc, dt):
        """dt times the derivative of the balance by the rates at the step's end, nearly."""
        n, c, needs, chain = self.chain.count, h.count, self.needs, self.chain
        half, quarter = 0.5 * dt, 0.25 * dt * dt
        spin = skew(w)
        whirl = quarter * (skew(acc[c:].reshape(-1, 3)) + spin @ spin)

        def moved(v):  # what a turn does to a x v + w x (w x v)
            return -skew(v) - half * (skew(cross(w, v)) + spin @ skew(v)) - whirl @ skew(v)

        inertia = needs.inertia + half * (spin @ needs.inertia - skew(times(needs.inertia, w)))
        inertia = inertia + quarter * (skew(needs.outer) @ skew(needs.arm) + skew(needs.force) @ skew(needs.centre))
        out = np.zeros((c + 3 * n, c + 3 * n))
        out[c:, c:] = chain.mass_matrix(inertia, needs.centre, needs.arm, moved(needs.arm), moved(needs.centre))
        joint, by_body = self.held_together(quarter, half)
        out[c:, c:] += by_body
        if c:
            b = chain.bodies.mass[:, None] * needs.centre + chain.beyond[:, None] * needs.arm
            out[c:, 0] = out[0, c:] = cross(b, h.across).ravel()
            out[:2, :2] = h.own_mass(chain.bodies.mass.sum()) + h.couples_tangent(quarter, half)
            inner, outer = joint[0, :, :n] - joint[0, :, 1:], joint[:n, :, 0] - joint[1:, :, 0]
            out[1, 1] += h.u @ joint[0, :, 0] @ h.u
            out[1, 2:] -= h.u @ inner.reshape(3, 3 * n)
            out[2:, 1] -= (outer @ h.u).ravel()
        return out

    def step(self, y, dt, guess):
        """From state y; guess: accelerations. Returns the new state and the accelerations."""
        c, acc, factor, last = self.holder.count, guess.copy(), None, 0.0
        for _ in range(30):
            joint, body = acc[:c], acc[c:].reshape(-1, 3)
            rate, w = y.rate + 0.5 * dt * joint, y.w + 0.5 * dt * body
            h = self.holder.move(y.t + 0.5 * dt, y.angle + 0.5 * dt * rate, rate, joint)
            r = self.balance(h, rotation(0.5 * dt * w) @ y.q, w, body)
            factor = factor or lu_factor(self.tangent(h, w, acc, dt), check_finite=False)
            delta = lu_solve(factor, -r, check_finite=False)
            acc += delta
            self.iterations += 1
            change = dt * np.max(abs(delta))
            # rad/s, about what the next iteration would change
            if change * (min(change / last, 1) if last else 1) < 1e-9:
                break
            last = change
        else:
            raise ArithmeticError("a step did not converge at t = %g s" % y.t)
        rate, w = y.rate + 0.5 * dt * acc[:c], y.w + 0.5 * dt * acc[c:].reshape(-1, 3)
        return State(y.t + dt, y.angle + dt * rate, y.rate + dt * acc[:c], rotation(dt * w) @ y.q,
                     2 * w - y.w), acc

    # -- start

    def start(self):
        """The state in which all bodies turn and accelerate with the handle, and the accelerations."""
        n, c, chain = self.chain.count, self.holder.count, self.chain
        angle, rate = self.holder.start()
        h = self.holder.move(0.0, angle, rate, np.zeros(c))
        q, w, acc = np.broadcast_to(h.axes, (n, 3, 3)), np.broadcast_to(h.spin, (n, 3)), np.zeros(c)

        def needs_of(trial):
            h.accelerate(trial)
            return Needs(chain, q, w, np.broadcast_to(h.spin_rate, (n, 3)), h.hands, h.lift)

        def joints(trial):
            needs = needs_of(trial)
            return h.residual(needs.pull[0], needs.turn.sum(0))

        for _ in range(60):
            if c:  # the joints' equations are linear in their accelerations
                zero = joints(np.zeros(c))
                acc = np.linalg.solve(np.stack([joints(e) - zero for e in np.eye(c)], 1), -zero)
            self.needs = needs = needs_of(acc)
            m = self.couples(h, q, w)
            self.pull, self.couple = needs.pull[0], needs.turn.sum(0)
            r = needs.turn - m
            r[:-1] += m[1:]
            tangent = self.held_together(1.0, 0.0)[1]
            k = np.arange(n)
            tangent.reshape(n, 3, n, 3)[k, :, k, :] += skew(needs.outer) @ skew(needs.arm) \
                + skew(needs.force) @ skew(needs.centre)
            turn = np.linalg.solve(tangent, -r.ravel()).reshape(n, 3)
            size = np.max(abs(turn))
            q = rotation(turn * min(1, 0.3 / max(size, 1e-300))) @ q
            if size < 1e-13:
                break
        else:
            raise ArithmeticError("no static start")
        if c:
            h.residual(self.pull, self.couple)
        body = np.broadcast_to(h.spin_rate, (n, 3))
        return State(0.0, angle, rate, q, w.copy()), np.concatenate([acc, body.ravel()])

    def energy(self, y):
        """Kinetic (with arms and butt), potential of weight, strain."""
        b, h = self.chain.bodies, self.holder.move(y.t, y.angle, y.rate, np.zeros(2))
        arm, centre = times(y.q, b.arm), times(y.q, b.centre)
        step, rise = cross(y.w, arm), np.cumsum(arm, 0) - arm
        v = y.rate[0] * h.across + np.cumsum(step, 0) - step + cross(y.w, centre)
        place = h.out + rise + centre
        spin = times(transposed(y.q), y.w)
        kinetic = 0.5 * (b.mass * (v * v).sum(1)).sum() + 0.5 * (spin * times(b.inertia, spin)).sum()
        mass, first, _, _ = h.butt
        _, _, inertia = h.butt_needs()
        e1, vh = h.axes[:, 0], y.rate[0] * h.across
        kinetic += 0.5 * h.inertia * y.rate[0]**2 + 0.5 * mass * vh @ vh + first * vh @ cross(h.spin, e1) \
            + 0.5 * h.spin @ inertia @ h.spin
        potential = h.lift @ ((b.mass[:, None] * place).sum(0) + mass * h.out + first * e1 + h.first * h.out / h.radius)
        self.couples(h, y.q, y.w)
        return kinetic, potential, 0.5 * (self.phi * times(self.chain.spring, self.phi)).sum()


# ------------------------------------------------------------------ a club from its files

class Club:
    """What the setup's files make of shaft, grip and head."""

    def __init__(self, setup):
        shaft, head, grip, build = setup["shaft"], setup["head"], setup["grip"], setup["build"]
        self.profile = Profile(shaft, shaft.get("sections") or setup.get("sections"))
        self.butt_at = shaft["length"] - build.get("butt_trim", 0.0)
        self.hands_at = self.butt_at - build.get("hold", 0.0)
        self.tip_at = build.get("tip_trim", 0.0)
        self.end_at = self.tip_at + build.get("insertion", 0.0)
        self.length = self.hands_at - self.end_at
        self.damping = shaft["damping"]
        self.set_grip(grip)
        self.set_head(head)
        self.kinks = np.sort(self.hands_at - np.append(self.profile.breaks(), self.butt_at - grip["length"]))
        jumps = [self.hands_at - self.butt_at + grip["length"]]
        for s in self.profile.sections:
            jumps += [self.hands_at - s["to"], self.hands_at - s["from"]]
        self.jumps = between(np.sort(jumps), 0.0, self.length)

    def set_grip(self, grip):
        """Mass per length linear in the distance z from the butt end, with the centre of mass as given."""
        length, mass = grip["length"], grip["mass"]
        centre = grip.get("centre_of_mass") or 0.5 * length
        slope = 12 * mass * (centre - 0.5 * length) / length**3
        self.grip_length, self.grip_line = length, (mass / length - 0.5 * slope * length, slope)
        # of a tube: half the sum of the squares of its outer and inner radius
        inner = 0.5 * float(self.profile.diameter(np.array([self.butt_at - 0.5 * length]))[0])
        self.grip_gyration2 = 0.5 * (0.25 * grip["diameter"]**2 + inner**2)

    def set_head(self, head):
        """In the axes of the shaft's end: forward = e2; soled, e1 points down at the lie."""
        sl, cl = math.sin(head["lie"]), math.cos(head["lie"])
        forward, up, toe = np.array([0, 1.0, 0]), np.array([-sl, 0, cl]), np.array([cl, 0, sl])
        axes = np.stack([forward, up, toe], 1)

        def vector(v):
            return axes @ [v["forward"], v["up"], v["toe"]]

        i = head["inertia"]
        fu, ft, ut = (i.get(k, 0.0) for k in ("forward_up", "forward_toe", "up_toe"))
        inertia = axes @ np.array([[i["forward"], fu, ft], [fu, i["up"], ut], [ft, ut, i["toe"]]]) @ axes.T
        self.head_centre, self.face_centre = vector(head["centre_of_mass"]), vector(head["face_centre"])
        lo, open_ = head["loft"], head.get("face_angle", 0.0)
        self.normal = axes @ [math.cos(lo) * math.cos(open_), math.sin(lo), math.cos(lo) * math.sin(open_)]
        self.toe = toe
        # with the inserted shaft: thin rings along e1 from the origin
        at, w = gauss(between(self.profile.breaks(), self.tip_at, self.end_at))
        m, ring, x = w * self.profile.mass(at), w * self.polar(at), self.end_at - at
        mass = head["mass"] + m.sum()
        centre = (head["mass"] * self.head_centre + np.array([(m * x).sum(), 0, 0])) / mass
        about = inertia + head["mass"] * spread(self.head_centre)
        about += np.diag([ring.sum(), *2 * [(m * x**2).sum() + 0.5 * ring.sum()]])
        self.end = (mass, centre, about - mass * spread(centre))

    def grip_mass(self, s):
        z = s + self.butt_at - self.hands_at
        a, b = self.grip_line
        return np.where((z >= 0) & (z < self.grip_length), a + b * z, 0.0)

    def section(self, s):
        at, grip = self.hands_at - s, self.grip_mass(s)
        bend = self.profile.bending(at)  # of the slopes towards e2, e3
        k = np.zeros(np.shape(s) + (3, 3))
        k[..., 0, 0] = self.profile.gj(at)
        # a turn about e3 bends towards e2, one about e2 towards -e3
        k[..., 1, 1], k[..., 2, 2] = bend[..., 1, 1], bend[..., 0, 0]
        k[..., 1, 2] = k[..., 2, 1] = -bend[..., 0, 1]
        return self.profile.mass(at) + grip, self.polar(at) + grip * self.grip_gyration2, k

    def polar(self, at):
        """Of the measured wall: a tube whose bore follows from mass and density. A section's mass scale adds
        mass at the same radius of gyration."""
        p = self.profile
        return p.mass(at) * 0.5 * (0.5 * p.diameter(at)**2 - p.mass_(at) / (math.pi * p.density))

    def butt(self):
        """Mass, first moment along e1, inertia about the hands: axial and transverse, of the rigid part."""
        start = self.hands_at - self.butt_at
        if start >= 0:
            return 0.0, 0.0, 0.0, 0.0
        s, w = gauss(between(self.kinks, start, 0.0))
        mass, polar, _ = self.section(s)
        m, ring = w * mass, (w * polar).sum()
        return m.sum(), (m * s).sum(), ring, (m * s**2).sum() + 0.5 * ring

    def cuts(self, segments):
        """About so many segments, alike within each stretch between jumps of mass or stiffness."""
        out = [0.0]
        for a, b in zip(self.jumps[:-1], self.jumps[1:]):
            pieces = max(1, round(BASE * (b - a) / self.length)) * segments // BASE
            out += [a + (b - a) * i / pieces for i in range(1, pieces + 1)]
        return np.array(out)


BASE = 12  # segments for each of which every level has the same number


class Swing(Motion):
    def __init__(self, setup, segments=24, damping=None, gravity=True, torques=True):
        self.club, self.setup = Club(setup), setup
        self.ahead = setup["player"]["ball"]["ahead"]
        ratio = self.club.damping if damping is None else damping
        chain = Chain(self.club.section, self.club.cuts(segments), self.club.kinks, self.club.end, ratio)
        super().__init__(chain, Golfer(setup["player"], self.club.butt(), gravity, torques))

    def face(self, y):
        """Face centre along X."""
        arm = y.q[:-1, 0, 0] @ self.chain.lengths
        return self.holder.radius * math.sin(y.angle[0]) + arm + y.q[-1, 0] @ self.club.face_centre

    def run(self, dt, more=4, limit=1.0):
        """Steps until the face centre has passed the ball by some steps; returns columns by time."""
        y, acc = self.start()
        # the balance is asked in the middle of the steps, so forces are good there and not at their ends
        states, when, forces, left = [y], [0.0], [np.append(self.holder.grip, self.couple)], None
        while left is None or left > 0:
            y, acc = self.step(y, dt, acc)
            states.append(y)
            when.append(y.t - 0.5 * dt)
            forces.append(np.append(self.holder.grip, self.couple))
            if left is not None:
                left -= 1
            elif self.face(y) >= self.ahead and y.angle[1] > -0.8:
                left = more
            if y.t > limit:
                raise ArithmeticError("the head never reached the ball")
        forces = np.array([polynomial(np.array(when), forces, y.t) for y in states])
        return self.columns(states, forces[:, :3], forces[:, 3:])

    def columns(self, states, grips, couples):
        """Everything that is compared, as arrays over time."""
        club, h, lengths = self.club, self.holder, self.chain.lengths
        t = np.array([y.t for y in states])
        theta, beta = np.array([y.angle for y in states]).T
        theta_rate, beta_rate = np.array([y.rate for y in states]).T
        axes, u, rolls = (list(x) for x in zip(*(h.frame(b) for b in beta)))
        axes, u = np.array(axes), np.array(u)
        roll, slope = np.array([r[0] for r in rolls]), np.array([r[1] for r in rolls])
        q, w = np.array([y.q for y in states]), np.array([y.w for y in states])
        tip = (lengths[:, None] * q[:, :-1, :, 0]).sum(1)  # from the hands
        end, spin = q[:, -1], w[:, -1]
        hands = h.radius * np.stack([np.sin(theta), -np.cos(theta), 0 * theta], 1)
        velocity = theta_rate[:, None] * h.radius * np.stack([np.cos(theta), np.sin(theta), 0 * theta], 1)
        tip_speed = velocity + (lengths[:, None] * cross(w[:, :-1], q[:, :-1, :, 0])).sum(1)
        local = times(transposed(axes), tip)
        along = times(transposed(axes), end[:, :, 0])
        inside = np.concatenate([axes[:, None], q[:, :-1]], 1)
        phi = rotation_vector(transposed(inside) @ q)
        strain = 0.5 * (phi * times(self.chain.spring, phi)).sum((1, 2))
        across = np.stack([np.cos(beta), np.sin(beta), 0 * beta], 1)
        out = {
            "time_s": t, "arm_angle_deg": theta * DEG, "club_angle_deg": beta * DEG, "roll_deg": roll * DEG,
            "arm_speed_deg_s": theta_rate * DEG, "club_speed_deg_s": beta_rate * DEG,
            "roll_speed_deg_s": slope * beta_rate * DEG,
            "lead_deflection_mm": local[:, 1] * 1e3, "droop_mm": -local[:, 2] * 1e3,
            "lag_mm": -(tip * across).sum(1) * 1e3, "out_of_plane_mm": tip[:, 2] * 1e3,
            "tip_twist_deg": -rotation_vector(transposed(axes) @ end)[:, 0] * DEG,
            "lead_slope_deg": np.arctan2(along[:, 1], along[:, 0]) * DEG,
            "droop_slope_deg": np.arctan2(-along[:, 2], along[:, 0]) * DEG,
            "handle_moment_nm": couples[:, 2], "handle_moment_out_nm": (couples * across).sum(1),
            "handle_twist_moment_nm": (couples * axes[:, :, 0]).sum(1),
            "grip_force_n": np.linalg.norm(grips, axis=1), "strain_energy_j": strain,
        }
        face = hands + tip + times(end, club.face_centre)
        out["face_x_m"] = face[:, 0]
        out["head_ahead_m"], out["head_up_m"], out["head_out_m"] = face @ h.target, face @ h.up, face @ h.side
        out.update(self.delivery(end, spin, tip_speed))
        straight_tip = velocity + self.club.length * cross(beta_rate[:, None] * u, axes[:, :, 0])
        straight = self.delivery(axes, beta_rate[:, None] * u, straight_tip)
        out["straight_speed_mps"] = straight["head_speed_mps"]
        out["shaft_speed_gain_mps"] = out["head_speed_mps"] - straight["head_speed_mps"]
        out["loft_change_deg"] = out["delivered_loft_deg"] - straight["delivered_loft_deg"]
        out["face_rotation_deg"] = (straight["face_angle_deg"] - out["face_angle_deg"] + 180) % 360 - 180
        out["lie_change_deg"] = out["delivered_lie_deg"] - straight["delivered_lie_deg"]
        return out

    def delivery(self, end, spin, tip_speed):
        club, h = self.club, self.holder

        def ground(v):
            return v @ h.target, v @ h.up, v @ h.side

        n, toe = end @ club.normal, end @ club.toe
        v = tip_speed + cross(spin, end @ club.head_centre)
        speed = np.linalg.norm(v, axis=1)
        nt, nu, ns = ground(n)
        rt, _, rs = ground(cross(spin, n))
        vt, vu, vs = ground(v)
        return {"head_speed_mps": speed, "delivered_loft_deg": np.arcsin(nu) * DEG,
                "face_angle_deg": np.arctan2(ns, nt) * DEG, "delivered_lie_deg": np.arcsin(ground(toe)[1]) * DEG,
                "closure_rate_deg_s": -(nt * rs - ns * rt) / (nt**2 + ns**2) * DEG,
                "attack_angle_deg": np.arctan2(vu, np.hypot(vt, vs)) * DEG, "path_deg": np.arctan2(vs, vt) * DEG}


# ------------------------------------------------------------------ one run's values, and their extrapolation

def polynomial(t, values, at, points=6):
    """Through the samples nearest to `at` (Neville's scheme)."""
    i = min(max(int(np.searchsorted(t, at)) - points // 2, 0), len(t) - points)
    x, y = t[i:i + points], [np.array(v, float) for v in values[i:i + points]]
    for m in range(1, points):
        y = [((at - x[k + m]) * y[k] + (x[k] - at) * y[k + 1]) / (x[k] - x[k + m]) for k in range(points - m)]
    return y[0]


def crossing(t, values, level):
    """Last time when the samples pass `level` upwards."""
    i = np.flatnonzero((values[:-1] < level) & (values[1:] >= level))[-1]
    a, b = t[i], t[i + 1]
    for _ in range(60):
        c = 0.5 * (a + b)
        a, b = (c, b) if polynomial(t, values, c) < level else (a, c)
    return 0.5 * (a + b)


def peak(t, values):
    """Largest value and its time: the top of the polynomial through the samples around it."""
    i = int(np.argmax(values))
    if i in (0, len(t) - 1):
        return values[i], t[i]
    a, b, golden = t[i - 1], t[i + 1], 0.5 * (math.sqrt(5) - 1)
    for _ in range(40):
        c, d = b - golden * (b - a), a + golden * (b - a)
        a, b = (a, d) if polynomial(t, values, c) > polynomial(t, values, d) else (c, b)
    # the place by the parabola through three points around: a search by values is good to 1e-8 of it only
    w = 0.25 * (t[i + 1] - t[i])
    y = [polynomial(t, values, a + k * w) for k in (-1, 0, 1)]
    top = a + 0.5 * w * (y[0] - y[2]) / (y[0] - 2 * y[1] + y[2])
    return polynomial(t, values, top), top


PEAKS = {"lag_mm": ("peak_lag_mm", "peak_lag_time_s"),
         "handle_moment_nm": ("peak_handle_moment_nm", "peak_handle_moment_time_s"),
         "strain_energy_j": ("strain_energy_peak_j", None), "grip_force_n": ("grip_force_n", None)}
AT_IMPACT = ("head_speed_mps", "shaft_speed_gain_mps", "lead_deflection_mm", "droop_mm", "tip_twist_deg",
             "lead_slope_deg", "droop_slope_deg", "delivered_loft_deg", "loft_change_deg", "face_angle_deg",
             "face_rotation_deg", "delivered_lie_deg", "lie_change_deg", "closure_rate_deg_s", "attack_angle_deg",
             "path_deg", "arm_angle_deg")
SERIES = ("arm_angle_deg", "club_angle_deg", "roll_deg", "arm_speed_deg_s", "club_speed_deg_s", "roll_speed_deg_s",
          "lead_deflection_mm", "droop_mm", "lag_mm", "out_of_plane_mm", "tip_twist_deg", "lead_slope_deg",
          "droop_slope_deg", "handle_moment_nm", "handle_moment_out_nm", "handle_twist_moment_nm", "grip_force_n",
          "head_speed_mps", "head_ahead_m", "head_up_m", "head_out_m", "strain_energy_j")


def impact(columns, ahead):
    t = columns["time_s"]
    when = crossing(t, columns["face_x_m"], ahead)
    out = {"downswing_time_s": when}
    for name in AT_IMPACT:
        out[name] = float(polynomial(t, columns[name], when))
    out["handle_lean_deg"] = -float(polynomial(t, columns["club_angle_deg"], when))
    for name, (value, time) in PEAKS.items():
        inside = t <= when
        last = np.append(columns[name][inside], polynomial(t, columns[name], when))
        top, at = peak(np.append(t[inside], when), last)
        out[value] = float(top)
        if time:
            out[time] = float(at)
    return out


def romberg(values):
    """Extrapolation of values whose errors are series in h^2, each level halving h: the last diagonal."""
    rows = [[np.asarray(v, float)] for v in values]
    for i in range(1, len(rows)):
        for j in range(1, i + 1):
            rows[i].append(rows[i][j - 1] + (rows[i][j - 1] - rows[i - 1][j - 1]) / (4**j - 1))
    return rows


def extrapolated(values):
    """Value, and what the last level changed in it: an upper estimate of its error."""
    rows = romberg(values)
    best = rows[-1][-1]
    return best, abs(best - rows[-2][-1])


def solve(setup, levels, damping=None):
    """Values at impact and the series of the given levels, and both extrapolated with their errors."""
    runs = []
    for level in levels:
        swing = Swing(setup, SEGMENTS * 2**level, damping)
        runs.append(swing.run(STEP / 2**level))
    values = [impact(c, setup["player"]["ball"]["ahead"]) for c in runs]
    out = {"levels": values, "impact": {}, "error": {}, "series": {}, "series_error": {}, "runs": runs}
    for name in values[0]:
        best, error = extrapolated([v[name] for v in values])
        out["impact"][name], out["error"][name] = float(best), float(error)
    every = [2**(level - levels[0]) for level in levels]
    rows = int(out["impact"]["downswing_time_s"] / runs[0]["time_s"][1]) + 1
    out["time"] = runs[0]["time_s"][:rows]
    for name in SERIES:
        best, error = extrapolated([c[name][::k][:rows] for c, k in zip(runs, every)])
        out["series"][name], out["series_error"][name] = best, float(error.max())
    return out


# ------------------------------------------------------------------ stored results

def store(folder, path, levels):
    name = os.path.splitext(os.path.basename(path))[0]
    found = solve(read_setup(path), levels)
    segments, steps = [SEGMENTS * 2**i for i in levels], [STEP / 2**i for i in levels]
    values = ['  "%s": [%.10g, %.2g]' % (k, v, found["error"][k]) for k, v in found["impact"].items()]
    errors = ['  "%s": %.2g' % item for item in found["series_error"].items()]
    with open(os.path.join(folder, name + ".json"), "w", encoding="utf-8") as f:
        f.write('{"segments": %s, "steps_s": %s,\n "impact": {\n' % (segments, steps))
        f.write(",\n".join(values) + '},\n "series_error": {\n' + ",\n".join(errors) + "}}\n")
    every = round(2e-3 / found["time"][1])
    with open(os.path.join(folder, name + ".csv"), "w", encoding="utf-8", newline="") as f:
        out = csv.writer(f, lineterminator="\n")
        out.writerow(("time_s",) + SERIES)
        for i in range(0, len(found["time"]), every):
            out.writerow(["%.10g" % found["time"][i]] + ["%.7g" % found["series"][k][i] for k in SERIES])


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("setups", nargs="+", metavar="SETUP")
    parser.add_argument("--level", type=int, default=2,
                        help="the finest: 12 x 2^level segments, steps of 1 ms/2^level")
    parser.add_argument("--store", metavar="DIRECTORY")
    args = parser.parse_args()
    for path in args.setups:
        if args.store:
            store(args.store, path, range(args.level + 1))
            continue
        found = solve(read_setup(path), range(args.level + 1))
        print(json.dumps({"impact": found["impact"], "error": found["error"], "levels": found["levels"]}, indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
