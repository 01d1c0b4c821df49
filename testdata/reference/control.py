"""Control side of the heat runs: probe, converter, controllers, allocation of
whole mains cycles. Every convention is in README.md and in the case files."""
import math


def recorded(schedule, t):
    """Cycles of the last entry [from_s, cycles] at or before t."""
    c = 0
    for start, cycles in schedule:
        if t >= start:
            c = cycles
    return c


def pattern(how, c, n):
    if how == "run":
        return [j < c for j in range(n)]
    return [(j + 1) * c // n > j * c // n for j in range(n)]


def adc_ratio(probe, t):
    """Voltage ratio at the converter: NTC to ground, fixed resistor to the
    reference."""
    r = probe["R25_ohm"] * math.exp(probe["beta_K"] * (1 / (t + 273.15) - 1 / 298.15))
    return r / (r + probe["R_pullup_ohm"])


def adc_code(probe, t):
    top = 2**probe["adc_bits"]
    return max(0, min(top - 1, math.floor(adc_ratio(probe, t) * top)))


def reading(probe, code):
    """Temperature that the controller takes a code for: its middle."""
    ratio = (code + 0.5) / 2**probe["adc_bits"]
    r = probe["R_pullup_ohm"] * ratio / (1 - ratio)
    return 1 / (1 / 298.15 + math.log(r / probe["R25_ohm"]) / probe["beta_K"]) - 273.15


class Controller:
    def __init__(self, ctrl, n, window):
        self.c, self.n, self.window = ctrl, n, window
        self.integral = ctrl.get("initial_integral", 0.0)
        self.on = None

    def cycles(self, measured):
        c = self.c
        if c["kind"] == "hysteresis":
            if self.on is None:
                self.on = measured < c["setpoint_degC"] + c["band_above_K"]
            elif measured >= c["setpoint_degC"] + c["band_above_K"]:
                self.on = False
            elif measured <= c["setpoint_degC"] - c["band_below_K"]:
                self.on = True
            return self.n if self.on else 0
        e = c["setpoint_degC"] - measured
        u = c["Kp_per_K"] * e + self.integral
        if not ((u > 1 and e > 0) or (u < 0 and e < 0)):
            self.integral += c["Kp_per_K"] / c["Ti_s"] * e * self.window
        return math.floor(min(1.0, max(0.0, u)) * self.n + 0.5)


def allocate(wanted, priority, together):
    """Per cycle the channels that conduct. A refused cycle is owed to its
    channel for the rest of the window."""
    n = len(wanted[0])
    owed = [0] * len(wanted)
    out = []
    for j in range(n):
        now, left = [False] * len(wanted), together
        for ch in priority:
            if wanted[ch][j]:
                if left:
                    now[ch] = True
                    left -= 1
                else:
                    owed[ch] += 1
            elif owed[ch] and left:
                now[ch] = True
                left -= 1
                owed[ch] -= 1
        out.append(tuple(now))
    return out
