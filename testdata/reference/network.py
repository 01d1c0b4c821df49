"""One combination of discrete states of the board as a linear network.

Every branch is a resistor, a resistor in series with a constant voltage, an
inductor, a capacitor or the ideal source. With the inductors replaced by
their currents and the capacitors by their voltages what is left is resistive,
so that with w = (inductor currents, capacitor voltages, e, 1)

    node voltages and branch currents = Y w,    dx/dt = F w.

Y comes from modified nodal analysis, eliminated in extended precision because
the conductances span 1e-10 S to 200 S. Zero of potential: node "0", the
supply-end neutral. Currents run from the first node of a branch to the second.
"""
import numpy as np

LD = np.longdouble


def eliminate(a, b):
    """Solve a z = b (many right-hand sides) by Gauss with partial pivoting in
    extended precision."""
    a = np.array(a, dtype=LD)
    b = np.array(b, dtype=LD)
    n = len(a)
    for k in range(n):
        p = k + int(np.argmax(np.abs(a[k:, k])))
        if a[p, k] == 0:
            raise ValueError("network without a path at unknown %d" % k)
        if p != k:
            a[[k, p]] = a[[p, k]]
            b[[k, p]] = b[[p, k]]
        f = a[k + 1:, k] / a[k, k]
        a[k + 1:, k:] -= np.outer(f, a[k, k:])
        b[k + 1:] -= np.outer(f, b[k])
    z = np.zeros_like(b)
    for k in range(n - 1, -1, -1):
        z[k] = (b[k] - a[k, k + 1:] @ z[k + 1:]) / a[k, k]
    return z


class Branches:
    """The list of branches of one combination."""

    def __init__(self):
        self.rows = []  # (name, kind, a, b, value, offset)

    def resistor(self, name, a, b, ohm):
        self.rows.append((name, "R", a, b, ohm, 0.0))

    def threshold(self, name, a, b, volt, ohm):
        """v_ab = volt + ohm i"""
        self.rows.append((name, "R", a, b, ohm, volt))

    def inductor(self, name, a, b, henry):
        self.rows.append((name, "L", a, b, henry, 0.0))

    def capacitor(self, name, a, b, farad):
        self.rows.append((name, "C", a, b, farad, 0.0))

    def source(self, name, a, b):
        self.rows.append((name, "E", a, b, None, 0.0))


def board_branches(case, state):
    """Branches of the board in the given discrete state: a tuple of one
    (triac, opto, junction, diode) per channel."""
    s = case["supply"]
    br = Branches()
    br.source("i_e", "0", "E")  # current through the source from 0 to E
    line_end = "E"
    if s["line_R_ohm"]:
        line_end = "M" if s["line_L_H"] else "L"
        br.resistor("i_Rs", "E", line_end, s["line_R_ohm"])
    if s["line_L_H"]:
        br.inductor("i_Ls", line_end, "L", s["line_L_H"])
        if s["line_R_parallel_ohm"]:
            br.resistor("i_Rp_line", line_end, "L", s["line_R_parallel_ohm"])
    neutral = "N"
    if s["neutral_R_ohm"]:
        br.resistor("i_Rn", "N", "MN", s["neutral_R_ohm"])
        br.inductor("i_Ln", "MN", "0", s["neutral_L_H"])
        if s["neutral_R_parallel_ohm"]:
            br.resistor("i_Rp_neutral", "MN", "0", s["neutral_R_parallel_ohm"])
    else:
        neutral = "0"
    if s["protective_earth_R_ohm"]:
        br.resistor("i_pe", "PE", "0", s["protective_earth_R_ohm"])
    near, far = "L", neutral
    if case["topology"]["triac_side"] == "neutral":
        near, far = neutral, "L"
    for k, c in enumerate(case["channels"], 1):
        triac, opto, junction, diode = state[k - 1]
        out, g, p, w, x, h = ("%s%d" % (n, k) for n in ("OUT", "G", "P", "W", "X", "H"))
        mt1, mt2 = near, out
        if case["topology"]["mt1_toward"] == "load":
            mt1, mt2 = out, near
        if c.get("triac_shorted_ohm"):
            br.resistor("i_T%d" % k, mt2, mt1, c["triac_shorted_ohm"])
        elif triac:
            sign = 1 if triac > 0 else -1
            br.threshold("i_T%d" % k, mt2, mt1, sign * c["V_T0_V"], c["r_T_ohm"])
        else:
            br.resistor("i_T%d" % k, mt2, mt1, 1 / c["g_off_S"])
        if c["C_snubber_F"]:
            br.resistor("i_sn%d" % k, mt2, "S%d" % k, c["R_snubber_ohm"])
            br.capacitor("i_C%d" % k, "S%d" % k, mt1, c["C_snubber_F"])
        br.resistor("i_GK%d" % k, g, mt1, c["R_GK_ohm"])
        if junction:
            br.threshold("i_J%d" % k, g, mt1, junction * c["V_G0_V"], c["r_G_ohm"])
        br.resistor("i_RG%d" % k, p, g, c["R_G_ohm"])
        if c.get("opto_shorted_ohm"):
            br.resistor("i_O%d" % k, mt2, p, c["opto_shorted_ohm"])
        elif opto:
            br.threshold("i_O%d" % k, mt2, p, opto * c["V_P0_V"], c["r_P_ohm"])
        else:
            br.resistor("i_O%d" % k, mt2, p, 1 / c["g_p_S"])
        if diode:
            if c["opto_diode_polarity"]:
                br.threshold("i_D%d" % k, mt2, p, diode * c["V_P0_V"], c["r_P_ohm"])
            else:
                br.threshold("i_D%d" % k, mt2, mt1, diode * c["V_T0_V"], c["r_T_ohm"])
        br.resistor("i_W%d" % k, out, w, c["R_wire_ohm"])
        br.resistor("i_link%d" % k, w, x, c["R_link_ohm"])
        whole, part = c["R_element_ohm"], c["insulation_split_fraction"]
        if c["R_insulation_ohm"]:
            if not c["element_open_at_link_end"]:
                br.resistor("i_el%d" % k, x, h, part * whole)
            br.resistor("i_elfar%d" % k, h, far, (1 - part) * whole)
            br.resistor("i_ins%d" % k, h, "PE", c["R_insulation_ohm"])
        elif not c["element_open_at_link_end"]:
            br.resistor("i_el%d" % k, x, far, whole)
    for m in case["meters"]:
        a, b = (neutral if n == "N" else n for n in (m["positive"], m["negative"]))
        br.resistor("i_meter_" + m["name"], a, b, m["R_ohm"])
    return br.rows


class Network:
    """The state-space form of one combination.

    nodes, currents: index of each row of Y; F: rates of the states;
    n: number of states; storage: the L or C of each state.
    """

    def __init__(self, rows):
        names = sorted({n for r in rows for n in r[2:4]} - {"0"})
        pos = {n: i for i, n in enumerate(names)}
        ind = [r for r in rows if r[1] == "L"]
        cap = [r for r in rows if r[1] == "C"]
        src = [r for r in rows if r[1] == "E"]
        nx = len(ind) + len(cap)
        nv, nw = len(names), nx + 2
        size = nv + len(cap) + len(src)
        a = np.zeros((size, size), dtype=LD)
        b = np.zeros((size, nw), dtype=LD)

        def leave(node, target, row):  # row of the current that leaves `node`
            if node != "0":
                target[pos[node]] += row

        for name, kind, p, q, value, offset in rows:
            if kind != "R":
                continue
            g = 1 / LD(value)
            inc = np.zeros(size, dtype=LD)
            for node, sgn in ((p, 1), (q, -1)):
                if node != "0":
                    inc[pos[node]] += sgn
            leave(p, a, g * inc)
            leave(q, a, -g * inc)
            if offset:
                const = np.zeros(nw, dtype=LD)
                const[-1] = g * LD(offset)
                leave(p, b, const)
                leave(q, b, -const)
        for j, (name, kind, p, q, value, _) in enumerate(ind):
            col = np.zeros(nw, dtype=LD)
            col[j] = 1
            leave(p, b, -col)
            leave(q, b, col)
        for j, (name, kind, p, q, value, _) in enumerate(cap + src):
            r = nv + j
            for node, sgn in ((p, 1), (q, -1)):
                if node != "0":
                    a[pos[node], r] += sgn
                    a[r, pos[node]] += sgn
            if kind == "C":
                b[r, len(ind) + j] = 1
            else:
                b[r, nx] = -1  # branch runs from 0 to E: v_0 - v_E = -e
        z = eliminate(a, b)
        volt = {n: z[i] for n, i in pos.items()}
        volt["0"] = np.zeros(nw, dtype=LD)
        cur = {}
        f = np.zeros((nx, nw), dtype=LD)
        for name, kind, p, q, value, offset in rows:
            if kind == "R":
                r = volt[p] - volt[q]
                r = r.copy()
                r[-1] -= LD(offset)
                cur[name] = r / LD(value)
        for j, (name, kind, p, q, value, _) in enumerate(ind):
            unit = np.zeros(nw, dtype=LD)
            unit[j] = 1
            cur[name] = unit
            f[j] = (volt[p] - volt[q]) / LD(value)
        for j, (name, kind, p, q, value, _) in enumerate(cap + src):
            cur[name] = z[nv + j]
            if kind == "C":
                f[len(ind) + j] = z[nv + j] / LD(value)
        self.n = nx
        self.F = f.astype(float)
        self.node = {n: v.astype(float) for n, v in volt.items()}
        self.current = {n: v.astype(float) for n, v in cur.items()}
        self.storage = [("L", r[4]) for r in ind] + [("C", r[4]) for r in cap]
        self.rows = rows

    def across(self, p, q):
        return self.node[p] - self.node[q]
