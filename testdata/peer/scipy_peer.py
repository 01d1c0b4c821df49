"""The recorded cases by SciPy's solve_ivp with its events.

usage: scipy_peer.py circuit RTOL HALF_CYCLES
       scipy_peer.py heat-pieces|heat-half-cycles RTOL SECONDS

Networks, switching rules, rates and watched events are those of ../reference;
here they are handed to solve_ivp: Radau with the exact Jacobian for the
circuit, energies being further unknowns, and DOP853 for heat, which is not
stiff. Every event is terminal, and integration starts afresh after it. Writes
one result as JSON to standard output.
"""
import json
import os
import sys
import time

import numpy as np
import scipy
from scipy.integrate import solve_ivp

HERE = os.path.dirname(os.path.abspath(__file__))
REFERENCE = os.path.join(HERE, "..", "reference")
sys.path.insert(0, REFERENCE)

import circuit as circuits  # noqa: E402
import heat as heats  # noqa: E402
from advance import Quadratures  # noqa: E402
from jsonio import read  # noqa: E402

WARM_HALVES = 8  # half-cycles that visit every combination of the steady state
MAX_STEP = 2e-4  # s: no window of a zero-cross opto is stepped over


def terminal(f):
    f.terminal, f.direction = True, 1
    return f


class Stepper:
    """Takes the place of the reference's Modes or Integrator."""

    def __init__(self, supply, quad, rtol):
        self.supply, self.quad, self.rtol = supply, quad, rtol

    def advance(self, net, plan, t0, x0, t_end):
        n, a = net.n, net.F[:, :-2]
        be, b1 = net.F[:, -2], net.F[:, -1]
        p1, p2 = self.quad(net)[0]
        e = self.supply.e

        def rate(t, z):
            w = np.concatenate([z[:n], [e(t), 1.0]])
            return np.concatenate([a @ z[:n] + be * w[n] + b1, (p1 @ w) * (p2 @ w)])

        def jac(t, z):
            w = np.concatenate([z[:n], [e(t), 1.0]])
            j = np.zeros((len(z), len(z)))
            j[:n, :n] = a
            j[n:, :n] = (p1 @ w)[:, None] * p2[:, :n] + (p2 @ w)[:, None] * p1[:, :n]
            return j

        kept = [None, None, None]

        def rows(t, z):  # solve_ivp asks event by event
            if kept[0] != t or kept[1] is not z:
                kept[:] = [t, z, (plan.R @ np.concatenate([z[:n], [e(t), 1.0]]))[:, None]]
            return kept[2]

        watch = [terminal(lambda t, z, f=entry[4]: float(f(rows(t, z))[0])) for entry in plan.entries]
        atol = np.full(n + len(p1), self.rtol * 1e-2)
        atol[:n] = [self.rtol * (1e-4 if kind == "L" else 1e-2) for kind, _ in net.storage]
        s = solve_ivp(rate, (t0, t_end), np.concatenate([x0, np.zeros(len(p1))]), "Radau", events=watch, jac=jac,
                      rtol=self.rtol, atol=atol, max_step=MAX_STEP, first_step=min(1e-9, t_end - t0), dense_output=True)
        if s.status < 0:
            raise ValueError(s.message)
        t, z = s.t[-1], s.y[:, -1]
        if s.status == 1:  # past the threshold, where rounding stopped short of it
            hit = [f for f, at in zip(watch, s.t_events) if len(at)]
            nudge = 1e-16
            while max(f(t, z) for f in hit) <= 0:
                t += nudge
                nudge *= 2
                z = s.sol(t)
        return t, z[:n], Quadratures(z[n:])


def circuit(rtol, halves):
    case = read(os.path.join(REFERENCE, "circuit-230-three-driven.case.json"))
    case["run"]["grid_points"], case["run"]["report_cycles"] = 1, 0
    warm = circuits.Run(case, "modes")  # networks and rules, which shall cost no time
    warm.nh = WARM_HALVES
    warm.go()
    case["meters"] = []  # they stay in the networks; what they read is not integrated
    run = circuits.Run(case, "radau", rtol=rtol)
    run.rules, run.nh = warm.rules, halves
    run.stepper = Stepper(run.supply, lambda net: [[np.array(r) for r in zip(*[p for ps in run.powers(net).values() for p in ps])]], rtol)
    _, wall = timed(run.go)
    angles = [{"channel": k, "half": h, "firing_deg": a["firing_deg"],
               "extinction_deg": -1 if a["extinction_deg"] is None else a["extinction_deg"]}
              for k, ch in enumerate(run.angles) for h, a in ch.items()]
    return {"case": "circuit", "solver": "SciPy %s Radau, rtol %g" % (scipy.__version__, rtol),
            "simulated_s": halves * run.half, "wall_s": wall, "energy_J": run.energy, "angles": angles}


def timed(f):
    start = time.perf_counter()
    value = f()
    return value, time.perf_counter() - start


class Heat(heats.Run):
    """The reference's run, each piece by solve_ivp."""

    def piece(self, t, t1, on):
        p = self.plant
        draws = p.draws_at(t)
        taken = p.flows([self.y[6 * i + 1] for i in range(p.nb)], draws)[0]
        for i in range(p.nb):
            if p.hold[i] and p.surplus(self.y, i, taken[i]) < -1e-6:
                self.record(t, "leave", i)
        while t < t1:
            watch = p.watches(draws)
            events = [terminal(lambda t, y, f=w[2]: f(y)) for w in watch]
            s = solve_ivp(p.rates(on, draws), (t, t1), self.y, "DOP853", events=events,
                          rtol=self.rtol, atol=self.rtol, first_step=t1 - t)
            if s.status < 0:
                raise ValueError(s.message)
            t, self.y = s.t[-1], s.y[:, -1]
            for w, at in zip(watch, s.t_events):
                if s.status == 1 and len(at):
                    self.record(t, w[0], w[1])


class EachHalfCycle(Heat):
    """Starts again at every half-cycle of the mains."""

    def piece(self, t, t1, on):
        half = 0.5 / self.case["supply"]["frequency_Hz"]
        first, count = t, max(1, round((t1 - t) / half))
        for j in range(count):
            stop = t1 if j == count - 1 else first + (j + 1) * half
            super().piece(t, stop, on)
            t = stop


def heat(which, rtol, seconds):
    case = read(os.path.join(REFERENCE, "heat-two-hours.case.json"))
    case["run"]["end_s"] = seconds
    run = (Heat if which == "heat-pieces" else EachHalfCycle)(case, rtol=rtol)
    _, wall = timed(run.go)
    shots = [{"t_s": s["t_s"], "temperatures_degC":
              [b[k] for b in s["boilers"] for k in ("T_element", "T_water", "T_shell", "T_probe", "T_link")]
              + [s["T_lid"], s["T_pocket"]]} for s in run.snapshots]
    books = [float(v) for v in run.y[6 * run.plant.nb + 2:]]
    return {"case": which, "solver": "SciPy %s DOP853, rtol %g" % (scipy.__version__, rtol),
            "simulated_s": seconds, "wall_s": wall, "electrical_in_J": books[0], "elements_J": books[3:], "snapshots": shots}


if __name__ == "__main__":
    if len(sys.argv) != 4 or sys.argv[1] not in ("circuit", "heat-pieces", "heat-half-cycles"):
        sys.exit(__doc__)
    if sys.argv[1] == "circuit":
        result = circuit(float(sys.argv[2]), int(sys.argv[3]))
    else:
        result = heat(sys.argv[1], float(sys.argv[2]), float(sys.argv[3]))
    json.dump(result, sys.stdout)
