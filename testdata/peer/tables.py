"""Writes the equations of the recorded cases as tables for the C programs.

usage: tables.py circuit FILE    combinations of circuit-230-three-driven
       tables.py heat FILE       parameters of heat-two-hours

Networks, rules and water properties are those of ../reference: nothing is
stated twice. A circuit table holds, for every combination that the case
visits, the rates of the states, the powers to integrate and the margins of
the switching rules as a short program for a stack, read off the Python
functions by calling them with symbols in place of numbers.
"""
import os
import sys

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
REFERENCE = os.path.join(HERE, "..", "reference")
sys.path.insert(0, REFERENCE)

import switching  # noqa: E402
from circuit import Run  # noqa: E402
from jsonio import read  # noqa: E402
from water97 import Saturation  # noqa: E402

HALVES = 8  # half-cycles that visit every combination of the steady state
ROW, CONST, ADD, SUB, MUL, MIN, MAX, ABS, WHERE, SELECT = range(10)


class Symbol:
    """A value as the program that computes it."""

    def __init__(self, code):
        self.code = code

    @staticmethod
    def of(v):
        return v if isinstance(v, Symbol) else Symbol([(CONST, float(v))])

    def join(self, other, op):
        return Symbol(self.code + Symbol.of(other).code + [(op, 0)])

    def __add__(self, o):
        return self.join(o, ADD)

    def __sub__(self, o):
        return self.join(o, SUB)

    def __rsub__(self, o):
        return Symbol.of(o).join(self, SUB)

    def __mul__(self, o):
        return self.join(o, MUL)

    __rmul__ = __mul__

    def __neg__(self):
        return Symbol.of(-1.0) * self

    def __abs__(self):
        return Symbol(self.code + [(ABS, 0)])

    def __gt__(self, o):
        return self - o


class Recorder:
    """Stands for numpy in the rules while they are read off."""

    @staticmethod
    def where(test, a, b):  # test > 0
        return Symbol(test.code + Symbol.of(a).code + Symbol.of(b).code + [(WHERE, 0)])

    @staticmethod
    def minimum(a, b):
        return Symbol.of(a).join(b, MIN)

    @staticmethod
    def abs(a):
        return abs(a)

    @staticmethod
    def max(terms, axis):
        out = terms[0]
        for t in terms[1:]:
            out = out.join(t, MAX)
        return out

    @staticmethod
    def array(values):
        return values

    @staticmethod
    def argmin(values, axis):
        return values

    @staticmethod
    def expand_dims(values, axis):
        return values

    @staticmethod
    def take_along_axis(values, by, axis):
        code = [c for v in by for c in v.code] + [c for v in values for c in v.code]
        return [Symbol(code + [(SELECT, len(by))])]


class Rows:
    """Symbols for the rows of a plan, each distinct row once."""

    def __init__(self, rows):
        self.index, self.kept, seen = [], [], {}
        for r in rows:
            key = r.tobytes()
            if key not in seen:
                seen[key] = len(self.kept)
                self.kept.append(r)
            self.index.append(seen[key])

    def __getitem__(self, i):
        return Symbol([(ROW, self.index[i])])


def numbers(values):
    return " ".join("%.17g" % v for v in values)


def circuit(out):
    case = read(os.path.join(REFERENCE, "circuit-230-three-driven.case.json"))
    run = Run(case, "modes")
    run.nh = HALVES
    run.go()
    rules = run.rules
    rest = rules.network(((0, 0, 0, 0),) * len(case["channels"]))
    s = case["supply"]
    print(rest.n, len(case["channels"]), len(rules.plans), file=out)
    print(numbers([s["fundamental_rms_V"], s["frequency_Hz"]]), file=out)
    print(numbers(run.supply.steady(rest)), file=out)
    print(" ".join(kind for kind, _ in rest.storage), file=out)
    for (state, _), plan in rules.plans.items():
        net = rules.network(state)
        print(" ".join(str(v) for ch in state for v in ch), file=out)
        print(numbers(net.F.ravel()), file=out)
        powers = list(run.powers(net).values())
        print(len(powers), file=out)
        for pairs in powers:
            print(len(pairs), " ".join(numbers(a) + " " + numbers(b) for a, b in pairs), file=out)
        rows = Rows(plan.R)
        true_np, switching.np = switching.np, Recorder
        try:
            code = [entry[4](rows).code for entry in plan.entries]
        finally:
            switching.np = true_np
        print(len(rows.kept), len(code), file=out)
        for r in rows.kept:
            print(numbers(r), file=out)
        for (cls, k, part, value, _), program in zip(plan.entries, code):
            i = ("triac", "opto", "junction", "diode").index(part)
            print(cls == switching.FIRE and 1 or 0, k, i, value, len(program),
                  " ".join("%d %.17g" % c for c in program), file=out)


def heat(out):
    from plant import Plant
    case = read(os.path.join(REFERENCE, "heat-two-hours.case.json"))
    w, p = Saturation(), Plant(case)
    print(numbers([w.LOW, w.HIGH]), len(w.lists[0]), len(w.lists[1]), len(w.lists[2]), file=out)
    for c in w.lists:
        print(numbers(c), file=out)
    lid, box = case["lid"], case["pocket"]
    print(numbers([case["supply"]["rms_V"], case["supply"]["frequency_Hz"], case["ambient_degC"], case["initial_degC"],
                   case["cold_supply_degC"], case["control"]["window_half_cycles"], lid["C_J_per_K"], lid["G_ka_W_per_K"],
                   lid["G_kb_W_per_K"], box["C_J_per_K"], box["G_ba_W_per_K"]]), file=out)
    print(p.nb, len(p.neighbours), file=out)
    for n in p.neighbours:
        print(n["between"][0] - 1, n["between"][1] - 1, "%.17g" % n["G_W_per_K"], file=out)
    for i, b in enumerate(p.boilers):
        reset = p.reset_T[i] if p.reset_T[i] is not None else -1e9
        print(numbers([b[k] for k in ("C_e_J_per_K", "G_ew_W_per_K", "scale", "G_es0_W_per_K", "mass_kg", "mass_min_kg",
                                      "C_s_J_per_K", "G_ws_W_per_K", "G_sk_W_per_K", "G_sl_W_per_K", "G_sa_W_per_K",
                                      "C_p_J_per_K", "G_wp_W_per_K", "C_l_J_per_K", "R20_ohm", "alpha_per_K",
                                      "R_series_ohm", "V_T0_V", "r_T_ohm", "link_degC")] + [p.hold_T[i], reset]), file=out)
        print(len(b["draws"]), file=out)
        for d in b["draws"]:
            source = d.get("refill_from_boiler")
            inlet = d.get("feed_degC") if d["kind"] == "steam" else d.get("refill_degC")
            print(int(d["kind"] == "steam"), -1 if source is None else source - 1,
                  numbers([d["from_s"], d["to_s"], d["flow_kg_per_s"], -1e9 if inlet is None else inlet]), file=out)
        steps = b["control"]["cycles_from_s"]
        print(len(steps), " ".join("%.17g %d" % tuple(s) for s in steps), file=out)
    times = case["run"]["snapshots_s"]
    print(len(times), numbers(times), file=out)


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] not in ("circuit", "heat"):
        sys.exit(__doc__)
    with open(sys.argv[2], "w") as f:
        {"circuit": circuit, "heat": heat}[sys.argv[1]](f)
