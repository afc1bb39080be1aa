#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Checks of swing.py itself, so that a cross-check against it means something. Exit status 0 = all fine."""
import copy
import math
import os
import sys

import numpy as np
from scipy.integrate import quad, solve_ivp
from scipy.linalg import eig

import swing as S
from record import EXACT, INDEPENDENT, LAW, MEMORY, Record

HERE = os.path.dirname(os.path.abspath(__file__))
SETUP = os.path.join(HERE, "..", "..", "models", "setups", "neutral-smooth.yaml")
RECORD = Record("swing")


def noted(leave, *what, **limits):
    """Leaves a row for the verification page; whether it is fine is said by who calls."""
    try:
        leave(*what, **limits)
    except AssertionError as wrong:
        print("BAD  %s" % wrong)


def close(name, got, want, rel=0.0, absolute=0.0, source=None, unit="1"):
    """`source`, (kind, text): the check has a row on the verification page."""
    error = abs(got - want)
    fine = error <= rel * abs(want) + absolute
    print("%-4s %-46s got %.9g want %.9g error %.2g" % ("ok" if fine else "BAD", name, got, want, error))
    if source:
        noted(RECORD.check, name, *source, unit, got, want, rel=rel, absolute=absolute)
    return fine


def below(name, value, limit, source=None, unit="1"):
    if source:
        noted(RECORD.bound, name, *source, unit, value, limit)
    return close(name, value, 0.0, absolute=limit)


def above(name, value, limit):
    print("%-4s %-46s got %.9g, more than %g" % ("ok" if value > limit else "BAD", name, value, limit))
    return value > limit


# ------------------------------------------------------------------ made-up beams

def beam(length=1.0, mass=None, bending=None, torsion=None, tip=0.0, arm=0.0, count=2, **build):
    """A setup whose shaft is a beam clamped at the hands; functions of s/length; no roll, no drive."""
    one = lambda x: 1.0
    mass, bending, torsion = mass or one, bending or one, torsion or one
    radius = 1e-3 * length
    stations = []
    for at in np.linspace(0, length, count):
        x = 1 - at / length
        stations.append({"at": at, "ei": bending(x), "gj": torsion(x), "mass": mass(x),
                         "diameter": 2 * radius})
    heaviest = max(r["mass"] for r in stations)
    little = 1e-9 * heaviest * length
    inertia = 1e-9 * little * length**2 + 1e-12 * heaviest * length**3
    return {
        "shaft": {"length": length, "density": heaviest / (math.pi * radius**2), "damping": 0.0,
                  "stations": stations},
        "head": {"mass": tip + little, "loft": 0.0, "lie": 1.0,
                 "centre_of_mass": {"forward": 0, "up": 0, "toe": 0},
                 "face_centre": {"forward": 0, "up": 0, "toe": 0},
                 "inertia": {"forward": inertia, "up": inertia, "toe": inertia}},
        "grip": {"mass": 0.0, "length": 0.1 * length, "diameter": 2 * radius},
        "build": dict({"tip_trim": 0.0, "butt_trim": 0.0, "insertion": 0.0, "hold": 0.0}, **build),
        "player": {"arm": {"length": arm, "inertia": 1.0}, "plane": {"inclination": 0.9},
                   "start": {"arm": 0.0, "cock": 0.0}, "ball": {"ahead": 0.0}, "load": no_load()},
    }


def no_load():
    return {"hub": {"peak": 0.0, "rise": 0.1, "omega_max": 30.0},
            "grip": {"peak": 0.0, "onset": 0.0, "rise": 0.1, "release": 0.0, "fall": 0.1, "late": 0.0,
                     "late_onset": 0.0, "late_rise": 0.1},
            "roll": {"top": 0.0, "closing": 0.0, "square": 0.0}}


def rotating_frequencies(setup, speed, modes=40, stations=50):
    """Flap and lag frequencies of the swing's own equations, linearised about steady rotation.

    A round beam's modes come in pairs of one frequency, whose directions are rounding's choice. Both of
    a pair or neither: with one of them alone, which one it is would show in the answer.
    """
    sw = S.Swing(setup, modes + 1, stations, gravity=False)
    if sw.modes.omega[-1] > (1 + 1e-6) * sw.modes.omega[-2]:
        sw = S.Swing(setup, modes, stations, gravity=False)
    else:
        modes += 1
    y = np.zeros(2 * modes + 6)
    y[2 + modes] = y[3 + modes] = speed

    def force(y):
        return sw.equations(y)[1][2:] + sw.stiffness * y[2:2 + modes]

    def slope(first):
        out = np.empty((modes, modes))
        for j in range(modes):
            step = np.zeros_like(y)
            step[first + j] = 1e-5 / max(1.0, sw.modes.omega[j] / sw.modes.omega[0])
            out[:, j] = (force(y + step) - force(y - step)) / (2 * step[first + j])
        return out

    k, g, m = slope(2), slope(4 + modes), sw.equations(y)[0][2:, 2:]
    eye, zero = np.eye(modes), np.zeros((modes, modes))
    lam, vec = eig(np.block([[zero, eye], [-np.linalg.solve(m, k), -np.linalg.solve(m, g)]]))
    tip = sw.modes.shape[-1]
    out = {"flap": [], "lag": []}
    for value, v in zip(lam, vec.T):
        if value.imag > 0:
            plane = "flap" if abs(tip[2] @ v[:modes]) > abs(tip[0] @ v[:modes]) else "lag"
            out[plane].append(value.imag)
    return sorted(out["flap"]), sorted(out["lag"])


# ------------------------------------------------------------------ the checks

def check_modes():
    """Uniform cantilever with a tip mass: betaL 1.24791741, 4.03113944 (exact)."""
    fine = True
    source = (EXACT, "roots of the frequency equation, as for the elements")
    sw = S.Swing(beam(tip=1.0), 6, 10)
    for i, b in ((0, 1.24791741), (2, 4.03113944), (4, 7.13413224)):
        fine &= close("cantilever, equal tip mass, mode %d" % (i // 2 + 1), sw.modes.omega[i], b * b, 1e-6, source=source)
    return fine


def check_strain_energy():
    """The modes' strain energy is the diagonal that the swing uses for it, not only their frequencies."""
    modes = S.Swing(S.read_setup(SETUP), 32, 40).modes
    k, m = modes.assemble()
    shape = modes.shape.reshape(len(k), -1)
    eye = np.eye(shape.shape[1])
    fine = below("modes' mass matrix less 1", abs(shape.T @ m @ shape - eye).max(), 1e-7)
    scaled = shape / modes.omega
    return fine & below("modes' stiffness over omega^2 less 1", abs(scaled.T @ k @ scaled - eye).max(), 1e-6)


def check_quadrature():
    """Gauss nodes of the measure m(s) ds: moments exact, the mass itself kept."""
    club = S.Club(S.read_setup(SETUP))
    s, w = S.mass_stations(club, 12)
    x, dx = S.gauss_on(club.breaks, 20)
    m = club.mass(x) * dx
    fine = True
    for k in (0, 1, 2, 10, 23):
        fine &= close("mass moment %d by 12 stations" % k, (w * s**k).sum(), (m * x**k).sum(), 1e-11)
    return fine


def shaken(sw, seed=3):
    rng, n = np.random.default_rng(seed), sw.n
    soft = sw.modes.omega / sw.modes.omega[0]
    y = np.zeros(2 * n + 6)
    y[:2], y[n + 2:n + 4] = (-0.3, -0.8), (12, 25)
    y[2:2 + n] = rng.standard_normal(n) * 0.05 / soft
    y[4 + n:4 + 2 * n] = rng.standard_normal(n) * 0.1
    return y


DIFFERENCES = (INDEPENDENT, "central differences of places and rotations of the bent rod")


def check_derivatives():
    """Jacobian and velocity-product accelerations against differences of places and rotations."""
    sw = S.Swing(S.read_setup(SETUP), 12, 18)
    n, y = sw.n, shaken(sw)
    q, qd = y[2:2 + n], y[4 + n:4 + 2 * n]
    c = sw.chain(q)
    jac = sw.jacobian(c)
    worst = 0.0
    for j in range(n):
        step = np.zeros(n)
        step[j] = 1e-6
        a, b = sw.chain(q + step), sw.chain(q - step)
        move = (a.place - b.place) / 2e-6
        spin = (a.rot[1:] - b.rot[1:]) / 2e-6 @ c.rot[1:].transpose(0, 2, 1)
        spin = np.stack([spin[:, 2, 1], spin[:, 0, 2], spin[:, 1, 0]], 1)
        size = abs(jac[:, :, j]).max()
        worst = max(worst, abs(jac[:, :3, j] - spin).max() / size,
                    abs(jac[:, 3:, j] + np.cross(jac[:, :3, j], c.place) - move).max() / size)
    fine = below("motion by strain, largest term, relative", worst, 1e-7, DIFFERENCES)
    _, acc = sw.motion(c, jac, qd)

    def velocity(t):
        d = sw.chain(q + t * qd)
        return sw.jacobian(d) @ qd
    rate = (velocity(1e-5) - velocity(-1e-5)) / 2e-5
    return fine & below("accelerations of a steady strain, relative", abs(rate - acc).max() / abs(acc).max(), 1e-7,
                        DIFFERENCES)


def check_power():
    """Rate of energy = power of the drives less dissipation, at a shaken state with roll and stop."""
    sw = S.Swing(S.read_setup(SETUP), 12, 18)
    sw.load.stop_cock = 0.4
    y = shaken(sw)
    f, h = sw.rhs(0.1, y), 1e-6
    rate = (sum(sw.energy(0, y + h * f)) - sum(sw.energy(0, y - h * f))) / (2 * h)
    return close("rate of energy at a made-up state", rate, f[-2] - f[-1], 1e-5, unit="W",
                 source=(LAW, "power of the joints less what is damped"))


def check_energy():
    """Nothing drives, nothing damps: the energy stays, through a swing with roll and gravity."""
    setup = S.read_setup(SETUP)
    load = no_load()
    load["roll"] = setup["player"]["load"]["roll"]
    setup["player"]["load"] = load
    setup["player"]["start"].update(arm_speed=8.0, cock_speed=-3.0)
    setup["shaft"]["damping"] = 0.0
    sw = S.Swing(setup, 10, 18)
    y0 = sw.start()
    sol = solve_ivp(sw.rhs, (0, 0.3), y0, method="DOP853", rtol=1e-10, atol=1e-11)
    e = [sum(sw.energy(0, y)) for y in sol.y.T[::20]]
    parts = sw.energy(0, sol.y[:, -1])
    fine = below("drift of energy of a free swing", max(e) - min(e), 1e-8 * parts[0], unit="J",
                 source=(LAW, "nothing drives and nothing damps"))
    # energy must have gone into the shaft for this to mean anything
    strain = max(sw.energy(0, y)[2] for y in sol.y.T[::5])
    return fine & above("largest strain energy of it, J", strain, 0.05)


def check_rigid():
    """EI and GJ times 1e4, no roll: a double pendulum, whose equations are written out here."""
    setup = S.read_setup(SETUP)
    for row in setup["shaft"]["stations"]:
        row["ei"] *= 1e4
        row["gj"] *= 1e4
    p = setup["player"]
    p["load"]["roll"]["top"] = 0.0
    sw = S.Swing(setup, 5, 18)
    head, build, grip = setup["head"], setup["build"], setup["grip"]
    rows = setup["shaft"]["stations"]
    profile = S.Steffen([r["at"] for r in rows], [r["mass"] for r in rows])
    butt = setup["shaft"]["length"] - build["butt_trim"]
    hands = butt - build["hold"]
    gl, gm, gc = grip["length"], grip["mass"], grip["centre_of_mass"]
    b = 12 * gm * (gc - gl / 2) / gl**3
    a = gm / gl - b * gl / 2
    moment = []
    for k in range(3):
        v = quad(lambda x: profile(x) * (hands - x)**k, build["tip_trim"], butt, limit=300,
                 epsabs=1e-12, epsrel=1e-12)[0]
        moment.append(v + quad(lambda z: (a + b * z) * (z - build["hold"])**k, 0, gl)[0])
    lie, c, j = head["lie"], head["centre_of_mass"], head["inertia"]
    x = hands - build["tip_trim"] - build["insertion"] - math.sin(lie) * c["up"] + math.cos(lie) * c["toe"]
    lead = c["forward"]
    # inertia about Z = e3 = cos(lie) up + sin(lie) toe
    jz = math.cos(lie)**2 * j["up"] + math.sin(lie)**2 * j["toe"] + 2 * math.sin(lie) * math.cos(lie) * j["up_toe"]
    along, across = moment[1] + head["mass"] * x, head["mass"] * lead
    club = moment[2] + head["mass"] * (x * x + lead * lead) + jz
    mass = moment[0] + head["mass"]
    arm, g = p["arm"], S.GRAVITY * math.sin(p["plane"]["inclination"])
    length = arm["length"]

    def rhs(t, y):
        th, be, thd, bed = y
        d = be - th
        # hands at R (sin th, -cos th); centre along e1 = (sin be, -cos be) and e2 = (cos be, sin be)
        m12 = length * (along * math.cos(d) - across * math.sin(d))
        h = length * (-along * math.sin(d) - across * math.cos(d))
        hub, wrist = sw.load.hub_torque(t, thd), sw.load.grip_torque(t) + sum(sw.load.stop(d, bed - thd)[:2])
        f1 = hub - wrist - h * bed**2 - g * (mass * length + arm["mass"] * arm["centre"]) * math.sin(th)
        f2 = wrist + h * thd**2 - g * (along * math.sin(be) + across * math.cos(be))
        m = np.array([[arm["inertia"] + mass * length**2, m12], [m12, club]])
        return [thd, bed, *np.linalg.solve(m, [f1, f2])]

    y0 = sw.start()
    n = sw.n
    rigid = solve_ivp(rhs, (0, 0.25), [y0[0], y0[1], y0[n + 2], y0[n + 3]], rtol=1e-10, atol=1e-11)
    sol = solve_ivp(sw.rhs, (0, 0.25), y0, method="Radau", jac=sw.near_jacobian, rtol=1e-8, atol=1e-9)
    fine = True
    for name, i, k, unit in (("arm", 0, 0, "rad"), ("club", 1, 1, "rad"), ("arm speed", n + 2, 2, "rad/s"),
                             ("club speed", n + 3, 3, "rad/s")):
        fine &= close("shaft 1e4 times as stiff: " + name, sol.y[i, -1], rigid.y[k, -1], 2e-4, unit=unit,
                      source=(INDEPENDENT, "a double pendulum, written out and integrated apart"))
    return fine


def check_handle_moment():
    """Without roll and with nothing above the hands, the shaft takes just the wrist couple."""
    setup = S.read_setup(SETUP)
    setup["player"]["load"]["roll"]["top"] = 0.0
    sw = S.Swing(setup, 8, 18)
    sw.butt_mass = sw.butt_first = sw.butt_second = sw.butt_axial = 0.0
    y = shaken(sw)
    moment, _ = sw.handle_moment(0.1, y)
    return close("moment at the handle, nothing above it", moment, sw.load.grip_torque(0.1), 1e-8, unit="N m",
                 source=(LAW, "it is the wrist couple then"))


def check_rotating():
    """Rotating cantilevers (Wright et al. 1982; Hodges & Rutkowski 1981)."""
    fine = True
    source = (MEMORY, "A. D. Wright, C. E. Smith, R. W. Thresher, J. L. C. Wang 1982, J. Appl. Mech. 49:197; "
              "recomputed in test_remembered.py. Frequencies and eta in sqrt(EI/m)/L^2")
    wedge = dict(mass=lambda x: 1 - 0.5 * x, bending=lambda x: (1 - 0.5 * x)**3,
                 torsion=lambda x: (1 - 0.5 * x)**3, count=121)
    cases = (
        ("uniform, eta 5", {}, 5, (6.449545, 25.446080, 65.205041), 4.073896),
        ("uniform, eta 12", {}, 12, (13.170150, 37.603112, 79.614478), 5.427049),
        ("hub 1, eta 10", {"arm": 1.0}, 10, (16.606363, 44.368224, 89.156329), None),
        ("wedge, eta 10", wedge, 10, (11.501549, 30.182744, 60.56388), None),
        ("tip mass 1, eta 5", {"tip": 1.0}, 5, (5.521853, 26.041526, 63.522342), 2.343258),
    )
    for name, what, speed, flap, lag in cases:
        got_flap, got_lag = rotating_frequencies(beam(**what), speed)
        for i, want in enumerate(flap):
            fine &= close("%s, flap %d" % (name, i + 1), got_flap[i], want, 1e-5, source=None if i else source)
        if lag:
            fine &= close(name + ", lag 1", got_lag[0], lag, 1e-5, source=source)
    return fine


def spin_law(t):
    """Angle, speed and rate of the root of the arm of Simo & Vu-Quoc (1986)."""
    top, span = 6.0, 15.0
    if t >= span:
        return top * t - top * span / 2, top, 0.0
    w = 2 * math.pi / span
    return (top / span * (t * t / 2 + (math.cos(w * t) - 1) / w**2),
            top / span * (t - math.sin(w * t) / w), top / span * (1 - math.cos(w * t)))


def spin_up_by_angle(length, mass, bending, times, count=8, points=40):
    """The same arm in another formulation: the section's angle as a series of Legendre polynomials."""
    legendre = np.polynomial.legendre
    x, w = legendre.leggauss(points)
    half = length / 2
    w = w * half

    def integrated(k):
        return half * legendre.legval(x, legendre.legint(np.eye(points)[k], lbnd=-1))
    along = np.array([integrated(k) for k in range(points)]).T @ np.linalg.inv(legendre.legvander(x, points - 1))
    angle = np.array([integrated(k) for k in range(count)]).T
    slope = legendre.legvander(x, count - 1)
    stiffness = bending * (slope.T * w) @ slope

    def rhs(t, z):
        _, speed, rate = spin_law(t)
        p, turning = angle @ z[:count], speed + angle @ z[count:]
        c, s = np.cos(p), np.sin(p)
        j = (along @ (-s[:, None] * angle), along @ (c[:, None] * angle))
        acc = (along @ (-s * rate - c * turning**2), along @ (c * rate - s * turning**2))
        m = mass * sum((k.T * w) @ k for k in j)
        f = mass * sum((k.T * w) @ a for k, a in zip(j, acc)) + stiffness @ z[:count]
        return np.concatenate([z[count:], -np.linalg.solve(m, f)])
    sol = solve_ivp(rhs, (0, times[-1]), np.zeros(2 * count), method="Radau", rtol=1e-7, atol=1e-9, t_eval=times)
    return np.array([w @ np.sin(angle @ z[:count]) for z in sol.y.T])


def check_spin_up(n=16, rtol=1e-6):
    """Spin-up of a flexible arm (Simo & Vu-Quoc 1986; inextensible rod): table, and another formulation."""
    setup = beam(length=10.0, mass=lambda x: 1.2, bending=lambda x: 1.4e4, torsion=lambda x: 1.4e4)
    sw = S.Swing(setup, n, 16, gravity=False)

    def rhs(t, z):
        y = np.zeros(2 * n + 6)
        psi, speed, rate = spin_law(t)
        y[:2], y[n + 2:n + 4] = psi, speed
        y[2:2 + n], y[4 + n:4 + 2 * n] = z[:n], z[n:]
        mass, b, _ = sw.equations(y)
        f = b[2:] + sw.stiffness * z[:n] + mass[2:, 1] * rate
        return np.concatenate([z[n:], -np.linalg.solve(mass[2:, 2:], f)])

    near = np.zeros((2 * n, 2 * n))
    near[:n, n:], near[n:, :n] = np.eye(n), -np.diag(sw.stiffness)
    times = np.concatenate([np.arange(0, 750) * 0.02, 15 + 0.1 * np.arange(0, 51)])
    sol = solve_ivp(rhs, (0, 20), np.zeros(2 * n), method="Radau", jac=near, rtol=rtol,
                    atol=1e-2 * rtol, t_eval=times)
    lead = np.array([sw.chain(z[:n]).place[-1, 1] for z in sol.y.T])
    other = spin_up_by_angle(10.0, 1.2, 1.4e4, times)
    i = int(lead.argmin())
    source = (INDEPENDENT, "inextensible Kirchhoff rod by another formulation; law and data of J. C. Simo, L. "
              "Vu-Quoc 1986, J. Appl. Mech. 53:849")
    angle = (INDEPENDENT, "the section's angle as a series of Legendre polynomials; law and data as before")
    fine = close("spin-up, furthest that the tip trails", lead[i], -0.57376, 3e-4, unit="m", source=source)
    fine &= close("spin-up, when", times[i], 6.76, absolute=0.03)
    for k in (250, 500):
        fine &= close("spin-up, tip at %g s" % times[k], lead[k], other[k], 5e-5, unit="m", source=angle)
    fine &= below("spin-up, tip up to 15 s", abs(lead - other)[times <= 15].max(), 3e-5, angle, "m")
    return fine & below("spin-up, after it", abs(lead[times > 15.05]).max(), 0.0037)


def check_swing():
    """The baseline's settings against tighter ones, and its energy balance."""
    setup = S.read_setup(SETUP)
    out = []
    for modes, stations, rtol in ((12, 18, 1e-5), (16, 30, 1e-8)):
        sw = S.Swing(copy.deepcopy(setup), modes, stations)
        out.append(sw.report(sw.run(rtol))[0])
    fine = close("lead, mm", out[0]["lead_deflection_mm"], out[1]["lead_deflection_mm"], absolute=0.05)
    fine &= close("droop, mm", out[0]["droop_mm"], out[1]["droop_mm"], absolute=0.05)
    fine &= close("loft, deg", out[0]["delivered_loft_deg"], out[1]["delivered_loft_deg"], absolute=0.005)
    fine &= below("energy residual at 1e-5", out[0]["energy_residual"], 1e-4)
    return fine & below("energy residual at 1e-8", out[1]["energy_residual"], 1e-7)


def main():
    checks = (check_modes, check_strain_energy, check_quadrature, check_derivatives, check_power, check_energy, check_rigid,
              check_handle_moment, check_rotating, check_spin_up, check_swing)
    with np.errstate(all="ignore"):  # of trial steps that the integrator gives up
        bad = [c.__name__ for c in checks if not c()]
    print("all fine" if not bad else "failed: " + ", ".join(bad))
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
