"""Two ways to advance one combination of states between two switchings.

Modes       eigenvectors of the network and its response to each harmonic, so
            that every row is a sum of exponentials; integrals in closed form,
            switching instants by Brent's method on that solution.
Integrator  scipy.integrate.Radau on the same rates with the integrals as
            further unknowns; a switching instant found on the dense output is
            corrected by integrating afresh up to it.

Both return (t, x, result) where `result` offers values of rows at times and
the integrals asked for.
"""
import numpy as np
from scipy.integrate import Radau
from scipy.optimize import brentq, minimize_scalar

SAMPLE = 10e-6  # s, spacing of the search for changes of sign


class Supply:
    def __init__(self, s):
        self.omega = 2 * np.pi * s["frequency_Hz"]
        self.harmonics = [(1, s["fundamental_rms_V"], 0.0)] + [
            (h["order"], h["rms_V"], np.radians(h["phase_deg"])) for h in s["harmonics"]]
        self.dc = s["dc_V"]

    def e(self, t):
        v = self.dc + 0.0 * t
        for n, rms, phi in self.harmonics:
            v = v + np.sqrt(2) * rms * np.sin(n * self.omega * t + phi)
        return v

    def phasors(self):
        """(angular frequency, E) with e = dc + sum Re(E exp(j w t))."""
        return [(n * self.omega, -1j * np.sqrt(2) * rms * np.exp(1j * phi))
                for n, rms, phi in self.harmonics]

    def steady(self, net):
        """States of the periodic solution of one network at t = 0."""
        a, be, b1 = net.F[:, :-2], net.F[:, -2], net.F[:, -1]
        x = -np.linalg.solve(a, be * self.dc + b1)
        for w, ph in self.phasors():
            x = x + np.linalg.solve(1j * w * np.eye(net.n) - a, be * ph).real
        return x


def phi(m, span):
    """Integral of exp(m tau) over 0..span."""
    m = np.asarray(m, dtype=complex)
    small = np.abs(m * span) < 1e-300
    safe = np.where(small, 1, m)
    return np.where(small, span, np.expm1(safe * span) / safe)


class Modes:
    def __init__(self, supply, sample=SAMPLE):
        self.supply = supply
        self.sample = sample
        self.decomposed = {}

    def modes(self, net):
        if id(net) not in self.decomposed:
            lam, vec = np.linalg.eig(net.F[:, :-2])
            if np.min(np.abs(lam)) < 1e-6:
                raise ValueError("a state without a path to rest")
            self.decomposed[id(net)] = (net, lam.astype(complex), vec.astype(complex), np.linalg.inv(vec))
        return self.decomposed[id(net)][1:]

    def series(self, net, t0, x0):
        """mu, C with w(t0 + tau) = Re(C exp(mu tau))."""
        lam, vec, inv = self.modes(net)
        be, b1 = inv @ net.F[:, -2], inv @ net.F[:, -1]
        ph = self.supply.phasors()
        n, k = net.n, net.n + len(ph) + 1
        mu = np.zeros(k, dtype=complex)
        c = np.zeros((n + 2, k), dtype=complex)
        mu[:n] = lam
        for j, (w, amp) in enumerate(ph):
            at = amp * np.exp(1j * w * t0)
            mu[n + j] = 1j * w
            c[:n, n + j] = vec @ (be / (1j * w - lam)) * at
            c[n, n + j] = at
        c[:n, -1] = vec @ (-(be * self.supply.dc + b1) / lam)
        c[n, -1], c[n + 1, -1] = self.supply.dc, 1
        free = inv @ (x0 - c[:n, n:].sum(axis=1).real)
        c[:n, :n] = vec * free
        return mu, c

    def advance(self, net, plan, t0, x0, t_end):
        mu, c = self.series(net, t0, x0)
        span = t_end - t0

        def w(tau):
            return (c @ np.exp(np.outer(mu, np.atleast_1d(tau)))).real

        def margin(entry, tau):
            return float(entry[4](plan.R @ w(tau))[0])

        fast = min(self.sample, 0.2 / np.max(np.abs(mu)))
        start = [0.0]
        step = fast / 50
        while start[-1] < span and step < self.sample:
            start.append(min(span, start[-1] + step))
            step *= 1.25
        rest = np.linspace(start[-1], span, max(2, int(np.ceil((span - start[-1]) / self.sample)) + 1))
        grid = np.concatenate([start, rest[1:]]) if start[-1] < span else np.array(start)
        stop = None
        for lo in range(0, len(grid) - 1, 256):
            g = grid[max(0, lo - 1):lo + 258]
            y = plan.R @ w(g)
            found = []
            for entry in plan.entries:
                m = entry[4](y)
                up = np.flatnonzero(m[1:] > 0)
                last = up[0] + 1 if len(up) else len(g)
                peak = np.flatnonzero((m[1:-1] >= m[:-2]) & (m[1:-1] >= m[2:])) + 1
                for p in peak[peak < last]:
                    room = 2 * max(m[p] - m[p - 1], m[p] - m[p + 1])
                    if -m[p] <= room:
                        r = minimize_scalar(lambda u: -margin(entry, u), bounds=(g[p - 1], g[p + 1]),
                                            method="bounded", options={"xatol": 1e-13})
                        if -r.fun > 0:
                            found.append((entry, g[p - 1], r.x))
                            break
                else:
                    if last < len(g):
                        found.append((entry, g[last - 1], g[last]))
            for entry, a, b in found:
                if margin(entry, a) > 0:
                    r = a
                else:
                    r = brentq(lambda u: margin(entry, u), a, b, xtol=1e-16, rtol=8.9e-16)
                nudge = 1e-16
                while margin(entry, r) <= 0:
                    r += nudge
                    nudge *= 2
                if stop is None or r < stop:
                    stop = r
            if stop is not None:
                break
        tau = span if stop is None else min(stop, span)
        x1 = w(tau)[:-2, 0]
        return (t_end if tau == span else t0 + tau), x1, Series(t0, tau, mu, c)


class Series:
    """The solution of one piece as a sum of exponentials."""

    def __init__(self, t0, span, mu, c):
        self.t0, self.span, self.mu, self.c = t0, span, mu, c

    def values(self, rows, t):
        return (rows @ self.c @ np.exp(np.outer(self.mu, np.atleast_1d(t) - self.t0))).real

    def product(self, r1, r2):
        a, b = r1 @ self.c, r2 @ self.c
        m1 = phi(self.mu[:, None] + self.mu[None, :], self.span)
        m2 = phi(self.mu[:, None] + self.mu.conj()[None, :], self.span)
        return 0.5 * (a @ m1 @ b + a @ m2 @ b.conj()).real

    def parts(self, r):
        """Integrals of max(y, 0) and of max(-y, 0)."""
        a = r @ self.c

        def y(tau):
            return float((a @ np.exp(self.mu * tau)).real)

        fast = 0.2 / np.max(np.abs(self.mu))
        grid = np.unique(np.concatenate([np.linspace(0, self.span, 2 + int(self.span / SAMPLE)),
                                         np.minimum(self.span, fast * 1.25 ** np.arange(-20, 90))]))
        v = (a @ np.exp(np.outer(self.mu, grid))).real
        cut = [0.0]
        for i in np.flatnonzero(v[:-1] * v[1:] < 0):
            cut.append(brentq(y, grid[i], grid[i + 1], xtol=1e-16, rtol=8.9e-16))
        cut.append(self.span)
        plus = minus = 0.0
        for lo, hi in zip(cut[:-1], cut[1:]):
            part = float((a @ (np.exp(self.mu * lo) * phi(self.mu, hi - lo))).real)
            if y(0.5 * (lo + hi)) > 0:
                plus += part
            else:
                minus -= part
        return plus, minus


class Integrator:
    """Radau with quadratures: `quad(net)` returns rows (r1, r2) whose product
    is integrated and rows r whose two parts are integrated."""

    def __init__(self, supply, quad, rtol=1e-10):
        self.supply, self.quad, self.rtol = supply, quad, rtol

    def solver(self, net, t0, z0, t_end):
        n = net.n
        a, be, b1 = net.F[:, :-2], net.F[:, -2], net.F[:, -1]
        (p1, p2), part = self.quad(net)
        m = len(p1)

        def rate(t, z):
            e = self.supply.e(t)
            w = np.concatenate([z[:n], [e, 1.0]])
            y = part @ w
            return np.concatenate([a @ z[:n] + be * e + b1, (p1 @ w) * (p2 @ w),
                                   np.maximum(y, 0), np.maximum(-y, 0)])

        def jac(t, z):
            w = np.concatenate([z[:n], [self.supply.e(t), 1.0]])
            j = np.zeros((len(z), len(z)))
            j[:n, :n] = a
            j[n:n + m, :n] = (p1 @ w)[:, None] * p2[:, :n] + (p2 @ w)[:, None] * p1[:, :n]
            y = part @ w
            k = len(part)
            j[n + m:n + m + k, :n] = np.where(y > 0, 1, 0)[:, None] * part[:, :n]
            j[n + m + k:, :n] = -np.where(y < 0, 1, 0)[:, None] * part[:, :n]
            return j
        atol = np.full(len(z0), self.rtol * 1e-2)
        atol[:n] = [self.rtol * (1e-4 if kind == "L" else 1e-2) for kind, _ in net.storage]
        return Radau(rate, t0, z0, t_end, rtol=self.rtol, atol=atol, jac=jac,
                     first_step=min(1e-9, t_end - t0), max_step=2e-4)

    def run_to(self, net, t0, z0, t1):
        if t1 <= t0:
            return z0
        s = self.solver(net, t0, z0, t1)
        while s.status == "running":
            s.step()
        if s.status == "failed":
            raise ValueError("integrator stopped at t = %r" % s.t)
        return s.y

    def advance(self, net, plan, t0, x0, t_end):
        (p1, _), part = self.quad(net)
        z0 = np.concatenate([x0, np.zeros(len(p1) + 2 * len(part))])
        s = self.solver(net, t0, z0, t_end)

        def margin(entry, t, z):
            w = np.concatenate([z[:net.n], [self.supply.e(t), 1.0]])
            return float(entry[4]((plan.R @ w)[:, None])[0])

        while s.status == "running":
            ta, za = s.t, s.y.copy()
            s.step()
            if s.status == "failed":
                raise ValueError("integrator stopped at t = %r" % s.t)
            dense = s.dense_output()
            g = np.linspace(ta, s.t, max(9, 2 + int((s.t - ta) / 5e-6)))
            w = np.vstack([dense(g)[:net.n], self.supply.e(g), np.ones(len(g))])
            w[:net.n, -1] = s.y[:net.n]
            y = plan.R @ w
            best = None
            for entry in plan.entries:
                up = np.flatnonzero(entry[4](y)[1:] > 0)
                if len(up):
                    lo, hi = g[up[0]], g[up[0] + 1]
                    if margin(entry, lo, dense(lo)) < 0 < margin(entry, hi, dense(hi)):
                        hi = brentq(lambda u: margin(entry, u, dense(u)), lo, hi, xtol=1e-16, rtol=8.9e-16)
                    if best is None or hi < best[0]:
                        best = (hi, entry)
            if best:
                t1, z1 = self.correct(net, margin, best[1], ta, za, best[0], s.t)
                return t1, z1[:net.n], Quadratures(z1[net.n:])
        return t_end, s.y[:net.n], Quadratures(s.y[net.n:])

    def correct(self, net, margin, entry, ta, za, guess, t_max):
        """Secant on freshly integrated states; ends just past the threshold."""
        t1 = max(guess, np.nextafter(ta, 1))
        z1 = self.run_to(net, ta, za, t1)
        m1 = margin(entry, t1, z1)
        d = max(1e-13, 1e-6 * (t1 - ta))
        t2 = t1 + d if m1 <= 0 else max(ta, t1 - d)
        for _ in range(40):
            z2 = self.run_to(net, ta, za, t2)
            m2 = margin(entry, t2, z2)
            if m2 == m1 or abs(t2 - t1) < 1e-15:
                break
            t3 = t2 - m2 * (t2 - t1) / (m2 - m1)
            t1, m1, t2 = t2, m2, min(max(t3, ta), t_max)
            if abs(t2 - t1) < 2e-16:
                break
        nudge = 1e-15
        while True:
            z2 = self.run_to(net, ta, za, t2)
            if margin(entry, t2, z2) > 0:
                return t2, z2
            t2 += nudge
            nudge *= 2


class Quadratures:
    def __init__(self, q):
        self.q = q
