"""Reference runs of the three-channel board's circuit.

usage: circuit.py write NAME...   compute NAME.expected.json from NAME.case.json
       circuit.py check NAME...   compute again and compare
       circuit.py both NAME...    the same, and by the integrator as well
"""
import json
import sys

import numpy as np

from advance import Integrator, Modes, Supply
from jsonio import read, round_all, worst, write
from switching import FIRE, Rules


class Run:
    """One case from the periodic all-blocking solution to its end."""

    def __init__(self, case, method, rtol=1e-10, sample=None):
        self.case = case
        self.rules = Rules(case)
        self.supply = Supply(case["supply"])
        self.exact = method == "modes"
        if self.exact:
            self.stepper = Modes(self.supply, sample) if sample else Modes(self.supply)
        else:
            self.stepper = Integrator(self.supply, self.quad, rtol)
        self.quads = {}
        self.half = 0.5 / case["supply"]["frequency_Hz"]
        self.nh = 2 * case["run"]["cycles"]
        self.switchings = []
        self.angles = [{} for _ in case["channels"]]
        self.open_firing = [None] * len(case["channels"])

    # ---- what is integrated -------------------------------------------
    def powers(self, net):
        """name -> list of (row, row) whose products add up to a power."""
        cur, out = net.current, {}
        out["source"] = [(net.node["E"], cur["i_e"])]
        for k, c in enumerate(self.case["channels"], 1):
            mt1, mt2 = self.rules.mt(k - 1)
            far = self.rules.neutral() if self.case["topology"]["triac_side"] == "line" else "L"
            pairs = []
            if c["R_insulation_ohm"]:
                if "i_el%d" % k in cur:
                    pairs.append((net.across("X%d" % k, "H%d" % k), cur["i_el%d" % k]))
                pairs.append((net.across("H%d" % k, far), cur["i_elfar%d" % k]))
            elif "i_el%d" % k in cur:
                pairs.append((net.across("X%d" % k, far), cur["i_el%d" % k]))
            out["element%d" % k] = pairs
            out["triac%d" % k] = [(net.across(mt2, mt1), cur["i_T%d" % k])]
            if c.get("triac_diode_polarity"):
                out["triac%d" % k].append((net.across(mt2, mt1), cur.get("i_D%d" % k, np.zeros(net.n + 2))))
        return out

    def meter_rows(self, net):
        node = {**net.node, "N": net.node.get("N", net.node["0"])}
        return [node[m["positive"]] - node[m["negative"]] for m in self.case["meters"]]

    def quad(self, net):
        if id(net) not in self.quads:
            p1, p2 = [], []
            for pairs in self.powers(net).values():
                for a, b in pairs:
                    p1.append(a)
                    p2.append(b)
            meters = self.meter_rows(net)
            for m in meters:
                p1.append(m)
                p2.append(m)
            self.quads[id(net)] = (net, (np.array(p1), np.array(p2)), np.array(meters))
        return self.quads[id(net)][1:]

    def dissipation(self, net):
        """Everything that turns into heat or into stored energy."""
        return [(net.across(r[2], r[3]), net.current[r[0]]) for r in net.rows if r[1] == "R"]

    # ---- changes of state ----------------------------------------------
    def settle(self, state, driven, t, x, h):
        """Admit one change at a time until none is demanded."""
        w = np.concatenate([x, [self.supply.e(t), 1.0]])[:, None]
        seen = 0
        while True:
            plan = self.rules.plan(state, driven)
            y = plan.R @ w
            for cls, k, part, value, margin in plan.entries:
                if margin(y)[0] > 0:
                    break
            else:
                return state
            seen += 1
            if seen > 200:
                raise ValueError("no consistent combination at t = %r: %r" % (t, state))
            i = ("triac", "opto", "junction", "diode").index(part)
            one = state[k][:i] + (value,) + state[k][i + 1:]
            state = state[:k] + (one,) + state[k + 1:]
            self.switchings.append([t, k + 1, part, value])
            if part == "triac":
                self.note(k, t, h, cls, value)

    def note(self, k, t, h, cls, value):
        if cls == FIRE:
            a = self.angles[k].setdefault(h, {"firing_deg": self.angle(t, h), "extinction_deg": None, "firings": 0})
            a["firings"] += 1
            a["extinction_deg"] = None
            self.open_firing[k] = h
        elif value == 0:
            f = self.open_firing[k]
            self.angles[k][f]["extinction_deg"] = self.angle(t, f)

    def angle(self, t, h):
        return (t - h * self.half) / self.half * 180

    # ---- the run ---------------------------------------------------------
    def go(self):
        nch = len(self.case["channels"])
        state = ((0, 0, 0, 0),) * nch
        x = self.supply.steady(self.rules.network(state))
        net = self.rules.network(state)
        names = list(self.powers(net))
        self.energy = {n: [] for n in names}
        self.meters = {m["name"]: np.zeros(4) for m in self.case["meters"]}
        self.signals = {}
        self.balance = 0.0
        self.last_pieces = []
        points = self.case["run"]["grid_points"]
        last = self.nh - 2
        self.grid_t = (last + (np.arange(points) + 0.5) * 2 / points) * self.half
        self.grid = []
        for h in range(self.nh):
            driven = tuple(self.rules.drive_ok(k, h) for k in range(nch))
            t, end = h * self.half, (h + 1) * self.half
            stops = [end] if self.exact or h < last else [g for g in self.grid_t if t < g < end] + [end]
            sums = {n: 0.0 for n in names}
            stored, heat = self.stored(x), 0.0
            while t < end:
                state = self.settle(state, driven, t, x, h)
                net, plan = self.rules.network(state), self.rules.plan(state, driven)
                goal = next(s for s in stops if s > t)
                t1, x1, piece = self.stepper.advance(net, plan, t, x, goal)
                heat += self.collect(net, piece, sums, h >= last, t, t1)
                t, x = t1, x1
                if h >= last and not self.exact and t in self.grid_t:
                    w = np.concatenate([x, [self.supply.e(t), 1.0]])
                    self.grid.append((self.labels(net), w))
            for n in names:
                self.energy[n].append(sums[n])
            if self.exact:
                self.balance = max(self.balance, abs(sums["source"] - heat - self.stored(x) + stored))
        return self

    def stored(self, x):
        net = self.rules.network(((0, 0, 0, 0),) * len(self.case["channels"]))
        return sum(0.5 * v * q * q for (_, v), q in zip(net.storage, x))

    def labels(self, net):
        """name -> row, for everything in the recorded grid."""
        nodes = {n: r for n, r in net.node.items() if n != "0" and not n.startswith("S")}
        cur = {n: r for n, r in net.current.items()
               if not n.startswith("i_C") and not n.startswith("i_elfar") and not n.startswith("i_Rp")}
        caps = {"v_C%d" % k: net.across("S%d" % k, self.rules.mt(k - 1)[0])
                for k, c in enumerate(self.case["channels"], 1) if c["C_snubber_F"]}
        zero = np.zeros(net.n + 2)
        for k, c in enumerate(self.case["channels"], 1):
            cur.setdefault("i_J%d" % k, zero)
            cur.setdefault("i_el%d" % k, zero)
            if self.rules.diode_of(k - 1)[0]:
                cur.setdefault("i_D%d" % k, zero)
        return {"node_voltages": nodes, "snubber_voltages": caps, "branch_currents": cur}

    def signal_rows(self, net):
        cur = net.current
        zero = np.zeros(net.n + 2)
        neutral = self.rules.neutral()
        out = {"i_e": cur["i_e"], "v_L": net.node["L"], "v_L_N": net.across("L", neutral)}
        far = neutral if self.case["topology"]["triac_side"] == "line" else "L"
        for k in range(len(self.case["channels"])):
            mt1, mt2 = self.rules.mt(k)
            n = k + 1
            out["v_el%d" % n] = net.across("X%d" % n, far)
            out["i_el%d" % n] = cur.get("i_el%d" % n, zero)
            out["v_T%d" % n] = net.across(mt2, mt1)
            out["i_T%d" % n] = cur["i_T%d" % n]
            out["i_O%d" % n] = cur["i_O%d" % n]
        return out

    def collect(self, net, piece, sums, reporting, t0, t1):
        """Integrals of one piece; returns the energy that left the source."""
        powers = self.powers(net)
        if not self.exact:
            q, i = piece.q, 0
            for n, pairs in powers.items():
                sums[n] += sum(q[i:i + len(pairs)])
                i += len(pairs)
            if reporting:
                m = len(self.case["meters"])
                for j, meter in enumerate(self.case["meters"]):
                    plus, minus = q[i + m + j], q[i + 2 * m + j]
                    self.meters[meter["name"]] += [plus - minus, q[i + j], plus, minus]
            return 0.0
        for n, pairs in powers.items():
            sums[n] += sum(piece.product(a, b) for a, b in pairs)
        if reporting:
            self.last_pieces.append((net, piece))
            for m, r in zip(self.case["meters"], self.meter_rows(net)):
                plus, minus = piece.parts(r)
                self.meters[m["name"]] += [plus - minus, piece.product(r, r), plus, minus]
            for n, r in self.signal_rows(net).items():
                plus, minus = piece.parts(r)
                old = self.signals.setdefault(n, np.zeros(3))
                old += [plus - minus, piece.product(r, r), plus + minus]
            inside = self.grid_t[(self.grid_t >= t0) & (self.grid_t < t1)]
            for g in inside:
                w = piece.values(np.eye(net.n + 2), g)[:, 0]
                self.grid.append((self.labels(net), w))
        return sum(piece.product(a, b) for a, b in self.dissipation(net))

    # ---- results -----------------------------------------------------------
    def readings(self):
        span = 2 * self.half
        out = {}
        k = np.pi / (2 * np.sqrt(2))
        for name, (mean, square, plus, minus) in self.meters.items():
            mean, square, plus, minus = (q / span for q in (mean, square, plus, minus))
            out[name] = {"direct": mean, "rms_dc": np.sqrt(square), "rms_ac": np.sqrt(square - mean * mean),
                         "average_full_wave": k * (plus + minus),
                         "average_half_wave": 2 * k * plus, "average_half_wave_reversed": 2 * k * minus}
        if self.exact:
            about = {name: 0.0 for name in out}
            for net, piece in self.last_pieces:
                for m, r in zip(self.case["meters"], self.meter_rows(net)):
                    r[-1] -= out[m["name"]]["direct"]
                    about[m["name"]] += sum(piece.parts(r)) / span
            for name, v in about.items():
                out[name]["average_full_wave_ac"] = k * v
        return out

    def result(self):
        grid = {"t_s": self.grid_t}
        for group in ("node_voltages", "snubber_voltages", "branch_currents"):
            keys = sorted(self.grid[0][0][group])
            grid[group] = {n: [float(rows[group][n] @ w) for rows, w in self.grid] for n in keys}
        span = 2 * self.half
        out = {"case": self.case["name"],
               "angles": [{str(h): a for h, a in sorted(ch.items())} for ch in self.angles],
               "energy_J": self.energy, "readings_V": self.readings(), "last_cycle_grid": grid,
               "switchings_total": len(self.switchings),
               "switchings_last_cycle": [s for s in self.switchings if s[0] >= (self.nh - 2) * self.half]}
        if self.signals:
            out["last_cycle"] = {n: {"mean": s[0] / span, "rms": np.sqrt(s[1] / span), "mean_abs": s[2] / span}
                                 for n, s in self.signals.items()}
        return out


def compare(a, b, case):
    """Largest differences between two results of one case."""
    peak = np.sqrt(2) * case["supply"]["fundamental_rms_V"]
    out = {"switchings_equal": [s[1:] for s in a["switchings_last_cycle"]] == [s[1:] for s in b["switchings_last_cycle"]]
           and a["switchings_total"] == b["switchings_total"]}
    out["switching_time_s"] = worst([s[0] for s in a["switchings_last_cycle"]], [s[0] for s in b["switchings_last_cycle"]])
    out["angle_deg"] = worst([[v for v in q.values() if v is not None] for ch in a["angles"] for q in ch.values()],
                             [[v for v in q.values() if v is not None] for ch in b["angles"] for q in ch.values()])
    out["energy_relative"] = max(worst(v, b["energy_J"][n]) / (max(map(abs, v)) or 1) for n, v in a["energy_J"].items())
    out["reading_V"] = worst(a["readings_V"], {n: {d: b["readings_V"][n].get(d, v) for d, v in r.items()}
                                               for n, r in a["readings_V"].items()})
    out["voltage_of_peak"] = worst(a["last_cycle_grid"]["node_voltages"], b["last_cycle_grid"]["node_voltages"]) / peak
    out["current_A"] = worst(a["last_cycle_grid"]["branch_currents"], b["last_cycle_grid"]["branch_currents"])
    return out


LIMITS = {"switching_time_s": 1e-10, "angle_deg": 2e-6, "energy_relative": 1e-9, "reading_V": 1e-6,
          "voltage_of_peak": 1e-8, "current_A": 1e-6}


def within(diff):
    return diff["switchings_equal"] and all(diff[k] <= v for k, v in LIMITS.items())


def main(mode, names):
    good = True
    for name in names:
        case = read(name + ".case.json")
        modes = Run(case, "modes").go()
        new = round_all(modes.result())
        if mode == "write":
            finer = compare(new, Run(case, "modes", sample=SAMPLE_FINE).go().result(), case)
            other = compare(new, Run(case, "radau", rtol=1e-10).go().result(), case)
            new["achieved"] = {"method": "modes of each combination, Brent roots",
                               "against_same_with_1e-6_s_search": finer, "against_Radau_rtol_1e-10": other,
                               "energy_balance_J_per_half_cycle": modes.balance}
            write(name + ".expected.json", new)
            print(name, json.dumps(new["achieved"]))
            good = good and within(other) and within(finer)
        else:
            old = read(name + ".expected.json")
            again = compare(old, new, case)
            print(name, "again:", json.dumps(again))
            good = good and within(again)
            if mode == "both":
                other = compare(old, Run(case, "radau", rtol=CHECK_RTOL).go().result(), case)
                print(name, "Radau:", json.dumps(other))
                good = good and within(other)
    return 0 if good else 1


SAMPLE_FINE = 1e-6  # s
CHECK_RTOL = 1e-8

if __name__ == "__main__":
    if len(sys.argv) < 3 or sys.argv[1] not in ("write", "check", "both"):
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1], sys.argv[2:]))
