"""The switching rules: which change of state is demanded, and its margin.

A margin is a continuous function of time, positive when the change is
demanded. Each condition counts only beyond 1e-11 A or 1e-9 V; where several
must hold at once the margin is the smallest of them. Rules that speak of "the
combination with it conducting" use rows of that trial network, with the
channel's own junction and diode resolved in it.
"""
import numpy as np

from network import Network, board_branches

TOL_A = 1e-11
TOL_V = 1e-9
# order in which changes are admitted; within one class the lowest channel first
RESOLVE, OPTO_OFF, LATCH, GATE_LOSS, OPTO_ON, FIRE = range(6)


class Rules:
    """Networks and margins of one case, kept for every visited state."""

    def __init__(self, case):
        self.case = case
        self.channels = case["channels"]
        self.networks = {}
        self.plans = {}

    def network(self, state):
        if state not in self.networks:
            self.networks[state] = Network(board_branches(self.case, state))
        return self.networks[state]

    def led_current(self, k, volt):
        c = self.channels[k]
        return max(0.0, (volt - c["V_F0_V"] - c["V_sat_V"]) / (c["R_LED_ohm"] + c["r_F_ohm"]))

    def drive_ok(self, k, half_cycle):
        volt = 0.0
        for start, v in self.channels[k]["drive"]:
            if half_cycle >= start:
                volt = v
        return self.led_current(k, volt) >= self.channels[k]["I_FT_A"]

    # ---- rows of one network -------------------------------------------
    def mt(self, k):
        near = "L" if self.case["topology"]["triac_side"] == "line" else self.neutral()
        ends = (near, "OUT%d" % (k + 1))
        return ends if self.case["topology"]["mt1_toward"] == "supply" else ends[::-1]

    def neutral(self):
        return "N" if self.case["supply"]["neutral_R_ohm"] else "0"

    def currents(self, state, k):
        net, n = self.network(state), k + 1
        zero = np.zeros(net.n + 2)
        return (net.current["i_T%d" % n], net.current["i_O%d" % n],
                net.current.get("i_J%d" % n, zero), net.current.get("i_D%d" % n, zero))

    def thresholds(self, state, k):
        """Rows (kind, name, r, q): demanded when r @ w > q."""
        net, n, c = self.network(state), k + 1, self.channels[k]
        mt1, mt2 = self.mt(k)
        _, _, i_j, i_d = self.currents(state, k)
        _, _, junction, diode = state[k]
        out = []
        if junction:
            out.append(("junction", 0, -junction * i_j, TOL_A))
        else:
            v = net.across("G%d" % n, mt1)
            for s in (1, -1):
                out.append(("junction", s, s * v, c["V_G0_V"] + TOL_V))
        polarity, lo, volt = self.diode_of(k)
        if polarity:
            if diode:
                out.append(("diode", 0, -polarity * i_d, TOL_A))
            else:
                hi = mt2
                low = mt1 if lo == "MT1" else "P%d" % n
                out.append(("diode", polarity, polarity * net.across(hi, low), volt + TOL_V))
        return out

    def diode_of(self, k):
        c = self.channels[k]
        if c["opto_diode_polarity"]:
            return c["opto_diode_polarity"], "P", c["V_P0_V"]
        if c.get("triac_diode_polarity"):
            return c["triac_diode_polarity"], "MT1", c["V_T0_V"]
        return 0, None, None

    def variants(self, state, k):
        """The states that differ in this channel's junction and diode."""
        t, o, _, _ = state[k]
        polarity = self.diode_of(k)[0]
        return [state[:k] + ((t, o, j, d),) + state[k + 1:]
                for j in (0, 1, -1) for d in ((0, polarity) if polarity else (0,))]

    # ---- a plan: everything needed to evaluate the margins of a state ----
    def plan(self, state, driven):
        key = (state, driven)
        if key not in self.plans:
            self.plans[key] = Plan(self, state, driven)
        return self.plans[key]


class Plan:
    def __init__(self, rules, state, driven):
        self.rows = []
        self.entries = []  # (class, channel, part, new value, function of y)
        for k in range(len(state)):
            t, o, _, _ = state[k]
            c = rules.channels[k]
            for part, value, r, q in rules.thresholds(state, k):
                self.simple(RESOLVE, k, part, value, r, q)
            i_t, i_o, i_j, _ = rules.currents(state, k)
            fixed_triac = bool(c.get("triac_shorted_ohm"))
            if o:
                self.simple(OPTO_OFF, k, "opto", 0, -o * i_o, TOL_A - c["I_HP_A"])
            if t and not fixed_triac:
                s = 1 if t > 0 else -1
                if abs(t) == 1:
                    self.simple(LATCH, k, "triac", 2 * s, s * i_t, c["I_L_A"] + TOL_A)
                    gate = self.gate(c, self.row(i_j))
                    self.entries.append((GATE_LOSS, k, "triac", 0, lambda y, g=gate: -g(y) - 2 * TOL_A))
                else:
                    self.simple(LATCH, k, "triac", 0, -s * i_t, TOL_A - c["I_H_A"])
            if not o and driven[k] and not c.get("opto_shorted_ohm"):
                self.opto_on(rules, state, k)
            if not t and not fixed_triac:
                self.fire(rules, state, k, self.gate(c, self.row(i_j)))
        self.entries.sort(key=lambda en: en[:2])
        self.R = np.array(self.rows)

    def row(self, r):
        self.rows.append(r)
        return len(self.rows) - 1

    def simple(self, cls, k, part, value, r, q):
        i = self.row(r)
        self.entries.append((cls, k, part, value, lambda y: y[i] - q))

    @staticmethod
    def gate(c, i):
        def margin(y):
            return np.where(y[i] > 0, y[i] - c["I_GT1_A"], -y[i] - c["I_GT3_A"]) - TOL_A
        return margin

    def trial(self, rules, state, k, new, conditions):
        """Margin of conditions in the trial state, own junction and diode
        resolved: the variant whose own thresholds are least violated."""
        trial = state[:k] + ((new[0], new[1]) + state[k][2:],) + state[k + 1:]
        options = []
        for var in rules.variants(trial, k):
            bad = [(self.row(r), q) for _, _, r, q in rules.thresholds(var, k)]
            options.append((bad, conditions(var)))

        def margin(y):
            worst = np.array([np.max([y[i] - q for i, q in bad], axis=0) for bad, _ in options])
            value = np.array([f(y) for _, f in options])
            best = np.argmin(worst, axis=0)
            return np.take_along_axis(value, np.expand_dims(best, 0), 0)[0]
        return margin

    def opto_on(self, rules, state, k):
        c, n = rules.channels[k], k + 1
        _, mt2 = rules.mt(k)
        v = self.row(rules.network(state).across(mt2, "P%d" % n))
        window = c["V_IH_V"]
        for s in (1, -1):
            def conditions(var, s=s):
                i = self.row(rules.currents(var, k)[1])
                return lambda y: s * y[i] - c["I_LP_A"] - TOL_A
            f = self.trial(rules, state, k, (state[k][0], s), conditions)

            def margin(y, f=f):
                if window is None:
                    return f(y)
                return np.minimum(f(y), window - np.abs(y[v]) - TOL_V)
            self.entries.append((OPTO_ON, k, "opto", s, margin))

    def fire(self, rules, state, k, gate):
        c = rules.channels[k]
        o = state[k][1]
        mt1, mt2 = rules.mt(k)
        v = self.row(rules.network(state).across(mt2, mt1))
        for s in (1, -1):
            def latched(var, s=s):
                i = self.row(rules.currents(var, k)[0])
                return lambda y: s * y[i] - c["I_L_A"] - TOL_A

            def gated(var, s=s):
                _, i_o, i_j, _ = rules.currents(var, k)
                g = self.gate(c, self.row(i_j))
                i = self.row(i_o)
                if o:
                    return lambda y: np.minimum(g(y), o * y[i] - c["I_HP_A"] - TOL_A)
                return g
            for new, conditions, trial_opto in ((2 * s, latched, 0), (s, gated, o)):
                f = self.trial(rules, state, k, (s, trial_opto), conditions)

                def margin(y, f=f, s=s):
                    return np.minimum(np.minimum(f(y), gate(y)), s * y[v] - TOL_V)
                self.entries.append((FIRE, k, "triac", new, margin))
