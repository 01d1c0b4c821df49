"""Rates of the heat network of the machine: boilers, lid and board pocket.

State: for each boiler (Te, Tw, Ts, Tp, Tl, m), then lid, pocket, and the
running totals: electrical energy in, heat to ambient, heat carried out by water
and steam, then the electrical energy of each element. Temperatures in degC.
Coefficients are continuous: c_p at the present water temperature, the element's
resistance at the present element temperature. What is not here: losses of gate
paths and snubbers, self-heating of the link, coupling of channels through the
supply.
"""
import math

import numpy as np

from water97 import Saturation, t_sat

HOLD_NAMES = {"open": ("boil", "boil-end"), "closed": ("relief", "relief-below")}


class Plant:
    def __init__(self, case, water=None):
        self.case = case
        self.water = water or Saturation()
        self.boilers = case["boilers"]
        self.nb = len(self.boilers)
        self.volt = case["supply"]["rms_V"]
        self.hold_T, self.reset_T = [], []
        for b in self.boilers:
            p = case["ambient_Pa"] if b["kind"] == "open" else b["p_relief_Pa"]
            self.hold_T.append(t_sat(p * 1e-6) - 273.15)
            r = b.get("p_reset_Pa")
            self.reset_T.append(t_sat(r * 1e-6) - 273.15 if r else None)
        self.hold = [False] * self.nb       # at the boiling or relief temperature
        self.valve = [False] * self.nb      # relief open, not yet reseated
        self.link_open = [False] * self.nb
        self.low = [b["mass_kg"] < b["mass_min_kg"] for b in self.boilers]
        self.neighbours = case.get("neighbours", [])

    def start(self):
        t0 = self.case["initial_degC"]
        y = []
        for b in self.boilers:
            y += [t0] * 5 + [b["mass_kg"]]
        return np.array(y + [t0, t0] + [0.0] * (3 + self.nb))

    def resistance(self, b, te):
        return b["R20_ohm"] * (1 + b["alpha_per_K"] * (te - 20))

    def draws_at(self, t):
        """(boiler, draw) pairs that flow throughout the piece starting at t."""
        return [(i, d) for i, b in enumerate(self.boilers) for d in b["draws"]
                if d["from_s"] <= t < d["to_s"]]

    def flows(self, tw, draws):
        """Per boiler: heat taken from the water in W, mass lost in kg/s; and
        the power carried out of the machine."""
        w = self.water
        heat, loss, out = [0.0] * self.nb, [0.0] * self.nb, 0.0
        cold = self.case["cold_supply_degC"]
        for i, d in draws:
            f = d["flow_kg_per_s"]
            if d["kind"] == "steam":
                if d["feed_degC"] is None:
                    heat[i] += f * w.fg(tw[i])
                    loss[i] += f
                    out += f * (w.H(tw[i]) + w.fg(tw[i]))
                else:
                    gain = w.H(tw[i]) + w.fg(tw[i]) - w.H(d["feed_degC"])
                    heat[i] += f * gain
                    out += f * gain
            elif d["refill_from_boiler"] is None:
                gain = w.H(tw[i]) - w.H(d["refill_degC"])
                heat[i] += f * gain
                out += f * gain
            else:
                j = d["refill_from_boiler"] - 1
                heat[i] += f * (w.H(tw[i]) - w.H(tw[j]))
                heat[j] += f * (w.H(tw[j]) - w.H(cold))
                out += f * (w.H(tw[i]) - w.H(cold))
        return heat, loss, out

    def surplus(self, y, i, taken):
        """Net heat into the water of boiler i in W."""
        b = self.boilers[i]
        te, tw, ts, tp, _, m = y[6 * i:6 * i + 6]
        wet = min(1.0, m / b["mass_min_kg"])
        return (wet * b["G_ew_W_per_K"] / b["scale"] * (te - tw) - b["G_ws_W_per_K"] * (tw - ts)
                - b["G_wp_W_per_K"] * (tw - tp) - taken)

    def rates(self, on, draws):
        """The right-hand side for one piece: channels conducting, draws."""
        nb, w, case = self.nb, self.water, self.case
        hold, ta, volt = list(self.hold), case["ambient_degC"], self.volt
        live = [on[i] and not self.link_open[i] for i in range(nb)]
        lid, box, k0 = case["lid"], case["pocket"], 6 * nb
        par = [(b["C_e_J_per_K"], b["G_ew_W_per_K"] / b["scale"], b["G_es0_W_per_K"], b["mass_min_kg"], b["C_s_J_per_K"],
                b["G_ws_W_per_K"], b["G_sk_W_per_K"], b["G_sl_W_per_K"], b["G_sa_W_per_K"], b["C_p_J_per_K"],
                b["G_wp_W_per_K"], b["C_l_J_per_K"], b["R20_ohm"], b["alpha_per_K"], b["R_series_ohm"],
                b["V_T0_V"] * 2 * math.sqrt(2) / math.pi, b["r_T_ohm"]) for b in self.boilers]
        pairs = [(n["between"][0] - 1, n["between"][1] - 1, n["G_W_per_K"]) for n in self.neighbours]

        def rate(t, state):
            y = state.tolist()
            out = [0.0] * len(y)
            tw = [y[6 * i + 1] for i in range(nb)]
            if draws:
                taken, loss, carried = self.flows(tw, draws)
            else:
                taken = loss = None
                carried = 0.0
            tk, tb = y[k0], y[k0 + 1]
            power_in = triacs = to_lid = ambient = 0.0
            for i in range(nb):
                o = 6 * i
                te, tw_i, ts, tp, tl, m = y[o:o + 6]
                ce, gew, ges0, mmin, cs, gws, gsk, gsl, gsa, cp_, gwp, cl, r20, al, rser, vt, rt = par[i]
                wet = m / mmin
                ges = 0.0
                if wet < 1.0:
                    gew *= wet
                    ges = (1.0 - wet) * ges0
                p = 0.0
                if live[i]:
                    r = r20 * (1 + al * (te - 20))
                    cur = volt / (r + rser)
                    p = cur * cur * r
                    loss_t = vt * cur + rt * cur * cur
                    triacs += loss_t
                    power_in += p + loss_t
                    out[k0 + 5 + i] = p
                qes = ges * (te - ts)
                qew = gew * (te - tw_i)
                qws = gws * (tw_i - ts)
                qwp = gwp * (tw_i - tp)
                qsk = gsk * (ts - tk)
                qsl = gsl * (ts - tl)
                qsa = gsa * (ts - ta)
                net = qew - qws - qwp
                if taken:
                    net -= taken[i]
                    out[o + 5] -= loss[i]
                if hold[i]:
                    fg = w.fg(tw_i)
                    steam = net / fg
                    out[o + 5] -= steam
                    carried += steam * (w.H(tw_i) + fg)
                else:
                    out[o + 1] = net / (m * w.cp(tw_i))
                out[o] = (p - qew - qes) / ce
                out[o + 2] = (qws + qes - qsk - qsl - qsa) / cs
                out[o + 3] = qwp / cp_
                out[o + 4] = qsl / cl
                to_lid += qsk
                ambient += qsa
            for a, b, g in pairs:
                q = g * (y[6 * a + 2] - y[6 * b + 2])
                out[6 * a + 2] -= q / par[a][4]
                out[6 * b + 2] += q / par[b][4]
            qkb, qka, qba = lid["G_kb_W_per_K"] * (tk - tb), lid["G_ka_W_per_K"] * (tk - ta), box["G_ba_W_per_K"] * (tb - ta)
            out[k0] = (to_lid - qkb - qka) / lid["C_J_per_K"]
            out[k0 + 1] = (qkb + triacs - qba) / box["C_J_per_K"]
            out[k0 + 2] = power_in
            out[k0 + 3] = ambient + qka + qba
            out[k0 + 4] = carried
            return np.array(out)
        return rate

    # ---- events --------------------------------------------------------
    def watches(self, draws):
        """(name, boiler, function of the state): the event is where the
        function rises through zero."""
        out = []
        for i, b in enumerate(self.boilers):
            o = 6 * i
            if self.hold[i]:
                def leave(y, i=i):
                    taken = self.flows([y[6 * k + 1] for k in range(self.nb)], draws)[0][i] if draws else 0.0
                    return -self.surplus(y, i, taken)
                out.append(("leave", i, leave))
            else:
                out.append(("reach", i, lambda y, o=o, h=self.hold_T[i]: y[o + 1] - h))
            if self.valve[i] and self.reset_T[i] is not None:
                out.append(("reseat", i, lambda y, o=o, r=self.reset_T[i]: r - y[o + 1]))
            if not self.link_open[i]:
                out.append(("link", i, lambda y, o=o, f=b["link_degC"]: y[o + 4] - f))
            if not self.low[i]:
                out.append(("low-level", i, lambda y, o=o, f=b["mass_min_kg"]: f - y[o + 5]))
        return out

    def apply(self, what, i, y):
        """Change the mode; returns the name under which it is recorded."""
        closed = self.boilers[i]["kind"] == "closed"
        names = HOLD_NAMES[self.boilers[i]["kind"]]
        if what == "reach":
            self.hold[i] = True
            self.valve[i] = closed
            y[6 * i + 1] = self.hold_T[i]
            return names[0]
        if what == "leave":
            self.hold[i] = False
            return names[1]
        if what == "reseat":
            self.valve[i] = False
        if what == "link":
            self.link_open[i] = True
        if what == "low-level":
            self.low[i] = True
        return what

    def stored(self, y):
        e = self.case["lid"]["C_J_per_K"] * y[6 * self.nb] + self.case["pocket"]["C_J_per_K"] * y[6 * self.nb + 1]
        for i, b in enumerate(self.boilers):
            te, tw, ts, tp, tl, m = y[6 * i:6 * i + 6]
            e += (b["C_e_J_per_K"] * te + m * self.water.H(tw) + b["C_s_J_per_K"] * ts
                  + b["C_p_J_per_K"] * tp + b["C_l_J_per_K"] * tl)
        return e
