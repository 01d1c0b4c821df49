"""Kirchhoff's laws and the law of each part at the recorded samples.

Reads a case and its recorded result only and knows nothing of how the result
was computed: the sum of currents at every node, the voltage of the source, and
the law of every part, a switching part obeying one of its two.

usage: laws.py NAME...
"""
import math
import sys

from jsonio import read

VOLT, AMP = 2e-9, 2e-9  # recorded digits: 12 significant


def part_law(v, i, volt, ohm, off, shorted):
    """Distance from the law of a conducting or of a blocking part."""
    if shorted:
        return abs(v - shorted * i)
    on = abs(abs(v - ohm * i) - volt)
    return min(on, abs(v - i / off)) / max(1, abs(v))


def laws(case, v, i, vc, t):
    """Yields (what, error, limit) at one sample."""
    s, side = case["supply"], case["topology"]["triac_side"]
    w = 2 * math.pi * s["frequency_Hz"]
    e = s["dc_V"] + math.sqrt(2) * s["fundamental_rms_V"] * math.sin(w * t)
    for h in s["harmonics"]:
        e += math.sqrt(2) * h["rms_V"] * math.sin(h["order"] * w * t + math.radians(h["phase_deg"]))
    yield "source", v["E"] - e, VOLT
    yield "line R", v["E"] - v["M"] - s["line_R_ohm"] * i["i_Rs"], VOLT
    yield "neutral R", v["N"] - v["MN"] - s["neutral_R_ohm"] * i["i_Rn"], VOLT
    yield "protective earth", v["PE"] - s["protective_earth_R_ohm"] * i["i_pe"], VOLT
    yield "node E", i["i_e"] - i["i_Rs"], AMP
    yield "node M", i["i_Rs"] - i["i_Ls"] - (v["M"] - v["L"]) / s["line_R_parallel_ohm"], AMP
    yield "node MN", i["i_Rn"] - i["i_Ln"] - v["MN"] / s["neutral_R_parallel_ohm"], AMP
    sums = {"L": i["i_Rs"], "N": -i["i_Rn"], "PE": -i["i_pe"]}

    def into(node, amp):
        sums[node] = sums.get(node, 0.0) + amp
    near, far = ("L", "N") if side == "line" else ("N", "L")
    for k, c in enumerate(case["channels"], 1):
        out, g, p, x, h, wire = ("%s%d" % (n, k) for n in ("OUT", "G", "P", "X", "H", "W"))
        mt1, mt2 = (near, out) if case["topology"]["mt1_toward"] == "supply" else (out, near)

        def cur(name, a, b):
            value = i.get("%s%d" % (name, k), 0.0)
            into(a, -value)
            into(b, value)
            return value
        v_t, i_t = v[mt2] - v[mt1], cur("i_T", mt2, mt1)
        yield "triac", part_law(v_t, i_t, c["V_T0_V"], c["r_T_ohm"], c["g_off_S"], c.get("triac_shorted_ohm")), 1e-8
        i_s = cur("i_sn", mt2, mt1)
        yield "snubber", v_t - c["R_snubber_ohm"] * i_s - vc["v_C%d" % k], VOLT
        i_j, v_j = cur("i_J", g, mt1), v[g] - v[mt1]
        if i_j:
            yield "junction on", abs(v_j - c["r_G_ohm"] * i_j) - c["V_G0_V"], VOLT
        else:
            yield "junction off", max(0.0, abs(v_j) - c["V_G0_V"]), VOLT
        yield "R_GK", v_j - c["R_GK_ohm"] * cur("i_GK", g, mt1), VOLT
        yield "R_G", v[p] - v[g] - c["R_G_ohm"] * cur("i_RG", p, g), VOLT
        v_o, i_o = v[mt2] - v[p], cur("i_O", mt2, p)
        yield "opto", part_law(v_o, i_o, c["V_P0_V"], c["r_P_ohm"], c["g_p_S"], c.get("opto_shorted_ohm")), 1e-8
        for key, low, v_d, volt, ohm in (("opto_diode_polarity", p, v_o, c["V_P0_V"], c["r_P_ohm"]),
                                         ("triac_diode_polarity", mt1, v_t, c["V_T0_V"], c["r_T_ohm"])):
            d = c.get(key, 0)
            if not d:
                continue
            i_d = cur("i_D", mt2, low)
            yield "diode polarity", min(0.0, d * i_d), AMP
            if i_d:
                yield "diode on", d * v_d - ohm * d * i_d - volt, VOLT
            else:
                yield "diode off", max(0.0, d * v_d - volt), VOLT
        yield "wire", v[out] - v[wire] - c["R_wire_ohm"] * cur("i_W", out, wire), VOLT
        yield "link", v[wire] - v[x] - c["R_link_ohm"] * cur("i_link", wire, x), VOLT
        part = c["insulation_split_fraction"]
        i_el = cur("i_el", x, h)
        if c["element_open_at_link_end"]:
            yield "open element", i_el, 0.0
        else:
            yield "element", v[x] - v[h] - part * c["R_element_ohm"] * i_el, VOLT
        yield "insulation", (v[h] - v["PE"]) / c["R_insulation_ohm"] - cur("i_ins", h, "PE"), 1e-13
        rest = (v[h] - v[far]) / ((1 - part) * c["R_element_ohm"])
        into(h, -rest)
        into(far, rest)
    for m in case["meters"]:
        name, a, b = "i_meter_" + m["name"], m["positive"], m["negative"]
        into(a, -i[name])
        into(b, i[name])
        yield name, (v[a] - v[b]) / m["R_ohm"] - i[name], 1e-12
    for node, total in sums.items():
        yield "node " + node, total, AMP


def main(names):
    good = True
    for name in names:
        case, got = read(name + ".case.json"), read(name + ".expected.json")
        g = got["last_cycle_grid"]
        worst, count = (0.0, None), 0
        run, f = case["run"], case["supply"]["frequency_Hz"]
        for n in range(run["grid_points"]):
            t = (run["cycles"] - 1 + (n + 0.5) / run["grid_points"]) / f
            v, i, vc = ({k: a[n] for k, a in g[group].items()}
                        for group in ("node_voltages", "branch_currents", "snubber_voltages"))
            for what, err, limit in laws(case, v, i, vc, t):
                count += 1
                if abs(err) > limit:
                    print("%s: %s at %.9g s: %.3g beyond %.3g" % (name, what, t, err, limit))
                    good = False
                worst = max(worst, (abs(err) / (limit or 1), what))
        print("%s: %d laws, worst %.2g of its limit (%s)" % (name, count, worst[0], worst[1]))
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
