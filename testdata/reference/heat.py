"""Reference runs of the heat network, open and closed loop.

usage: heat.py write NAME...   compute NAME.expected.json from NAME.case.json
       heat.py check NAME...   compute again and compare
"""
import json
import sys

import numpy as np
from scipy.integrate import DOP853, LSODA
from scipy.optimize import brentq

from control import Controller, adc_code, adc_ratio, allocate, pattern, reading, recorded
from jsonio import read, round_all, worst, write
from plant import Plant
from water97 import p_sat, verify


class Run:
    def __init__(self, case, method="DOP853", rtol=1e-11, max_step=np.inf, shift=0.0):
        self.case = case
        self.plant = Plant(case)
        self.method, self.rtol, self.max_step = method, rtol, max_step
        self.events, self.snapshots = [], []
        self.cycles, self.codes, self.asked = [], [], []
        self.y = self.plant.start()
        self.y[:6 * self.plant.nb:6] += shift
        self.y0 = self.y.copy()
        self.margin = 0.5  # smallest distance of a sample from a converter's step

    def solve(self, rate, t0, y0, t1, watch=None):
        """Integrate to t1, or to the first step inside which a watched
        function rises through zero: (t, y, t and y before that step, dense)."""
        kind = DOP853 if self.method == "DOP853" else LSODA
        opts = {"rtol": self.rtol, "atol": self.rtol * 1e-1, "max_step": self.max_step}
        s = kind(rate, t0, y0, t1, first_step=min(t1 - t0, self.max_step) * (1 if kind is DOP853 else 1e-4), **opts)
        while s.status == "running":
            ta, ya = s.t, s.y.copy()
            s.step()
            if s.status == "failed":
                raise ValueError("integrator stopped at t = %r" % s.t)
            if watch:
                hit = [w for w in watch if w[2](s.y) > 0]
                if hit:
                    return s.t, s.y, ta, ya, s.dense_output(), hit
        return s.t, s.y, None, None, None, []

    def locate(self, rate, w, ta, ya, tb, dense):
        """Root of one watched function on freshly integrated states."""
        f = w[2]
        if f(ya) >= 0:
            return ta, ya
        if f(dense(tb)) <= 0:
            t1 = tb
        else:
            t1 = brentq(lambda t: f(dense(t)), ta, tb, xtol=1e-13)
        known = {ta: (f(ya), ya)}

        def at(t):
            if t not in known:
                y = self.solve(rate, ta, ya, t)[1]
                known[t] = (f(y), y)
            return known[t][0]
        t0, t1 = t1, min(tb, t1 + 1e-6)
        if t1 == t0:
            t0 = max(ta, t1 - 1e-6)
        for _ in range(8):
            f0, f1 = at(t0), at(t1)
            if f1 == f0 or abs(t1 - t0) < 1e-11:
                break
            t0, t1 = t1, min(tb, max(ta, t1 - f1 * (t1 - t0) / (f1 - f0)))
        at(t1)
        return t1, known[t1][1].copy()

    def piece(self, t, t1, on):
        """One stretch without a change of drive or draw."""
        p = self.plant
        draws = p.draws_at(t)
        taken = p.flows([self.y[6 * i + 1] for i in range(p.nb)], draws)[0]
        for i in range(p.nb):
            if p.hold[i] and p.surplus(self.y, i, taken[i]) < -1e-6:
                self.record(t, "leave", i)
        while t < t1:
            rate, watch = p.rates(on, draws), p.watches(draws)
            tb, yb, ta, ya, dense, hit = self.solve(rate, t, self.y, t1, watch)
            if not hit:
                t, self.y = tb, yb
                continue
            roots = [(self.locate(rate, w, ta, ya, tb, dense), w) for w in hit]
            (t, self.y), w = min(roots, key=lambda r: r[0][0])
            self.record(t, w[0], w[1])

    def record(self, t, what, i):
        self.events.append({"t_s": t, "boiler": i + 1, "what": self.plant.apply(what, i, self.y)})

    def snapshot(self, t):
        p, y = self.plant, self.y
        rows = []
        for i in range(p.nb):
            te, tw, ts, tp, tl, m = (float(v) for v in y[6 * i:6 * i + 6])
            rows.append({"T_element": te, "T_water": tw, "T_shell": ts, "T_probe": tp, "T_link": tl, "mass_kg": m,
                         "p_sat_Pa": 1e6 * p_sat(tw + 273.15), "at_limit": p.hold[i], "relief_open": p.valve[i],
                         "link_open": p.link_open[i]})
        self.snapshots.append({"t_s": t, "T_lid": float(y[6 * p.nb]), "T_pocket": float(y[6 * p.nb + 1]), "boilers": rows})

    def go(self):
        case, p = self.case, self.plant
        f, ctl = case["supply"]["frequency_Hz"], case["control"]
        n = ctl["window_half_cycles"] // 2
        window = n / f
        self.n = n
        controllers = [Controller(b["control"], n, window) for b in p.boilers]
        count = int(round(case["run"]["end_s"] / window))
        edges = sorted({v for b in p.boilers for d in b["draws"] for v in (d["from_s"], d["to_s"])})
        report = set(case["run"]["snapshots_s"])
        for k in range(count):
            t0 = k * window
            wanted, codes, asked = [], [], []
            for i, b in enumerate(p.boilers):
                c = b["control"]
                if c["kind"] == "recorded":
                    m = recorded(c["cycles_from_s"], t0)
                else:
                    tp = float(self.y[6 * i + 3])
                    code = adc_code(b["probe"], tp)
                    q = adc_ratio(b["probe"], tp) * 2**b["probe"]["adc_bits"]
                    self.margin = min(self.margin, abs(q - round(q)))
                    codes.append(code)
                    m = controllers[i].cycles(reading(b["probe"], code))
                asked.append(m)
                wanted.append(pattern(c["pattern"], m, n))
            on = allocate(wanted, [c - 1 for c in ctl["priority"]], ctl["channels_together"])
            self.codes.append(codes)
            self.asked.append(asked)
            self.cycles.append([sum(o[i] for o in on) for i in range(p.nb)])
            cuts = [j for j in range(n) if j == 0 or on[j] != on[j - 1]]
            marks = [(t0 + j / f, on[j]) for j in cuts] + [(t0 + window, None)]
            for (a, now), (b, _) in zip(marks[:-1], marks[1:]):
                stops = [a] + [e for e in edges if a < e < b] + [b]
                for u, v in zip(stops[:-1], stops[1:]):
                    self.piece(u, v, now)
            t1 = (k + 1) * window
            if t1 in report:
                self.snapshot(t1)
        return self

    def energy(self):
        k = 6 * self.plant.nb + 2
        total, ambient, out = (float(v) for v in self.y[k:k + 3])
        stored = self.plant.stored(self.y) - self.plant.stored(self.y0)
        return {"electrical_in": total, "elements": [float(v) for v in self.y[k + 3:]], "stored": stored,
                "to_ambient": ambient, "carried_out": out, "residual": total - stored - ambient - out}

    def result(self):
        out = {"case": self.case["name"], "snapshots": self.snapshots, "events": self.events, "energy_J": self.energy()}
        if self.codes[0]:
            out["adc_code_per_window"] = [list(c) for c in zip(*self.codes)]
            out["demanded_cycles_per_window"] = [list(c) for c in zip(*self.asked)]
            out["conducted_cycles_per_window"] = [list(c) for c in zip(*self.cycles)]
            out["smallest_distance_of_a_sample_from_an_adc_step"] = self.margin
        return out


def compare(a, b):
    def temps(r):
        return [[[x[k] for k in ("T_element", "T_water", "T_shell", "T_probe", "T_link")] for x in s["boilers"]]
                + [[s["T_lid"], s["T_pocket"]]] for s in r["snapshots"]]

    def flags(r):
        return [[(x["at_limit"], x["relief_open"], x["link_open"]) for x in s["boilers"]] for s in r["snapshots"]]
    same = (flags(a) == flags(b) and [(e["boiler"], e["what"]) for e in a["events"]] == [(e["boiler"], e["what"]) for e in b["events"]]
            and a.get("conducted_cycles_per_window") == b.get("conducted_cycles_per_window")
            and a.get("adc_code_per_window") == b.get("adc_code_per_window"))
    def water(r):
        return [[[x["T_water"], x["T_shell"], x["T_probe"]] for x in s["boilers"]] for s in r["snapshots"]]
    return {"states_cycles_codes_equal": same, "temperature_K": worst(temps(a), temps(b)),
            "water_shell_probe_K": worst(water(a), water(b)),
            "mass_kg": worst([[x["mass_kg"] for x in s["boilers"]] for s in a["snapshots"]],
                             [[x["mass_kg"] for x in s["boilers"]] for s in b["snapshots"]]),
            "event_s": worst([e["t_s"] for e in a["events"]], [e["t_s"] for e in b["events"]]),
            "energy_relative": worst([a["energy_J"]["electrical_in"], a["energy_J"]["elements"]],
                                     [b["energy_J"]["electrical_in"], b["energy_J"]["elements"]]) / a["energy_J"]["electrical_in"]}


LIMITS = {"temperature_K": 1e-6, "mass_kg": 1e-9, "event_s": 1e-5, "energy_relative": 1e-9}


def within(d):
    return d["states_cycles_codes_equal"] and all(d[k] <= v for k, v in LIMITS.items())


def main(mode, names):
    good = verify() < 1e-8
    for name in names:
        case = read(name + ".case.json")
        new = round_all(Run(case).go().result())
        if mode == "write":
            other = compare(new, Run(case, "LSODA", 1e-12, max_step=0.1).go().result())
            new["achieved"] = {"method": "DOP853 rtol 1e-11, events located on fresh integrations",
                               "against_LSODA_rtol_1e-12_steps_to_0.1_s": other,
                               "residual_relative": new["energy_J"]["residual"] / new["energy_J"]["electrical_in"],
                               "water_against_R7-97_tables": verify()}
            if "adc_code_per_window" in new:
                for mk in (1, -1, 10, -10):
                    new["achieved"]["elements_start_%+d_mK" % mk] = compare(new, Run(case, shift=1e-3 * mk).go().result())
            write(name + ".expected.json", new)
            print(name, json.dumps(new["achieved"]))
            good = good and within(other)
        else:
            again = compare(read(name + ".expected.json"), new)
            print(name, json.dumps(again))
            good = good and within(again)
    return 0 if good else 1


if __name__ == "__main__":
    if len(sys.argv) < 3 or sys.argv[1] not in ("write", "check"):
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1], sys.argv[2:]))
