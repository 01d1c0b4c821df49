"""Water and steam by the IAPWS Industrial Formulation 1997.

Source: IAPWS R7-97(2012): region 1 (eq. 7, Table 2), region 2 (eqs 15 to 17,
Tables 10 and 11), saturation line (eqs 30 and 31, Table 34). `verify` compares
with the release's own Tables 5, 15, 35 and 36. Temperatures in degC and
pressures in Pa in `Saturation`; kelvin and MPa in the functions of the release.
"""
import numpy as np
from numpy.polynomial import chebyshev

R = 0.461526  # kJ/(kg K)

I1 = [0] * 8 + [1] * 6 + [2] * 5 + [3] * 3 + [4] * 3 + [5, 8, 8, 21, 23, 29, 30, 31, 32]
J1 = [-2, -1, 0, 1, 2, 3, 4, 5, -9, -7, -1, 0, 1, 3, -3, 0, 1, 3, 17, -4, 0, 6, -5, -2, 10, -8,
      -11, -6, -29, -31, -38, -39, -40, -41]
N1 = [0.14632971213167, -0.84548187169114, -0.37563603672040e1, 0.33855169168385e1, -0.95791963387872,
      0.15772038513228, -0.16616417199501e-1, 0.81214629983568e-3, 0.28319080123804e-3, -0.60706301565874e-3,
      -0.18990068218419e-1, -0.32529748770505e-1, -0.21841717175414e-1, -0.52838357969930e-4,
      -0.47184321073267e-3, -0.30001780793026e-3, 0.47661393906987e-4, -0.44141845330846e-5,
      -0.72694996297594e-15, -0.31679644845054e-4, -0.28270797985312e-5, -0.85205128120103e-9,
      -0.22425281908000e-5, -0.65171222895601e-6, -0.14341729937924e-12, -0.40516996860117e-6,
      -0.12734301741641e-8, -0.17424871230634e-9, -0.68762131295531e-18, 0.14478307828521e-19,
      0.26335781662795e-22, -0.11947622640071e-22, 0.18228094581404e-23, -0.93537087292458e-25]

J0 = [0, 1, -5, -4, -3, -2, -1, 2, 3]
N0 = [-0.96927686500217e1, 0.10086655968018e2, -0.56087911283020e-2, 0.71452738081455e-1, -0.40710498223928,
      0.14240819171444e1, -0.43839511319450e1, -0.28408632460772, 0.21268463753307e-1]
I2 = [1] * 5 + [2] * 5 + [3] * 5 + [4] * 3 + [5] + [6] * 3 + [7] * 3 + [8] * 2 + [9] + [10] * 3 + [16] * 2 + [
    18] + [20] * 3 + [21, 22, 23] + [24] * 3
J2 = [0, 1, 2, 3, 6, 1, 2, 4, 7, 36, 0, 1, 3, 6, 35, 1, 2, 3, 7, 3, 16, 35, 0, 11, 25, 8, 36, 13, 4, 10, 14,
      29, 50, 57, 20, 35, 48, 21, 53, 39, 26, 40, 58]
N2 = [-0.17731742473213e-2, -0.17834862292358e-1, -0.45996013696365e-1, -0.57581259083432e-1,
      -0.50325278727930e-1, -0.33032641670203e-4, -0.18948987516315e-3, -0.39392777243355e-2,
      -0.43797295650573e-1, -0.26674547914087e-4, 0.20481737692309e-7, 0.43870667284435e-6,
      -0.32277677238570e-4, -0.15033924542148e-2, -0.40668253562649e-1, -0.78847309559367e-9,
      0.12790717852285e-7, 0.48225372718507e-6, 0.22922076337661e-5, -0.16714766451061e-10,
      -0.21171472321355e-2, -0.23895741934104e2, -0.59059564324270e-17, -0.12621808899101e-5,
      -0.38946842435739e-1, 0.11256211360459e-10, -0.82311340897998e1, 0.19809712802088e-7,
      0.10406965210174e-18, -0.10234747095929e-12, -0.10018179379511e-8, -0.80882908646985e-10,
      0.10693031879409, -0.33662250574171, 0.89185845355421e-24, 0.30629316876232e-12,
      -0.42002467698208e-5, -0.59056029685639e-25, 0.37826947613457e-5, -0.12768608934681e-14,
      0.73087610595061e-28, 0.55414715350778e-16, -0.94369707241210e-6]

N4 = [0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
      0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3]


def liquid(t, p):
    """h in kJ/kg, cp in kJ/(kg K), v in m3/kg of region 1 at t (K), p (MPa)."""
    a, b, tau = 7.1 - p / 16.53, 1386.0 / t - 1.222, 1386.0 / t
    g_t = sum(n * a**i * j * b**(j - 1) for i, j, n in zip(I1, J1, N1))
    g_tt = sum(n * a**i * j * (j - 1) * b**(j - 2) for i, j, n in zip(I1, J1, N1))
    g_p = sum(-n * i * a**(i - 1) * b**j for i, j, n in zip(I1, J1, N1) if i)
    return R * t * tau * g_t, -R * tau * tau * g_tt, R * t / 16.53 * g_p * 1e-3


def vapour(t, p):
    """h in kJ/kg, v in m3/kg of region 2 at t (K), p (MPa)."""
    tau = 540.0 / t
    g_t = sum(n * j * tau**(j - 1) for j, n in zip(J0, N0))
    g_t += sum(n * p**i * j * (tau - 0.5)**(j - 1) for i, j, n in zip(I2, J2, N2) if j)
    g_p = 1 / p + sum(n * i * p**(i - 1) * (tau - 0.5)**j for i, j, n in zip(I2, J2, N2))
    return R * t * tau * g_t, R * t * g_p * 1e-3


def p_sat(t):
    """Saturation pressure in MPa at t (K), eq. 30."""
    n = N4
    th = t + n[8] / (t - n[9])
    a = th * th + n[0] * th + n[1]
    b = n[2] * th * th + n[3] * th + n[4]
    c = n[5] * th * th + n[6] * th + n[7]
    return (2 * c / (-b + np.sqrt(b * b - 4 * a * c)))**4


def t_sat(p):
    """Saturation temperature in K at p (MPa), eq. 31."""
    n, be = N4, p**0.25
    e = be * be + n[2] * be + n[5]
    f = n[0] * be * be + n[3] * be + n[6]
    g = n[1] * be * be + n[4] * be + n[7]
    d = 2 * g / (-f - np.sqrt(f * f - 4 * e * g))
    return (n[9] + d - np.sqrt((n[9] + d)**2 - 4 * (n[8] + n[9] * d))) / 2


def verify():
    """Largest relative difference from the release's verification tables."""
    rows = [(liquid(300, 3)[0], 115.331273), (liquid(300, 3)[1], 4.17301218), (liquid(300, 3)[2], 1.00215168e-3),
            (liquid(300, 80)[0], 184.142828), (liquid(300, 80)[1], 4.01008987), (liquid(300, 80)[2], 9.71180894e-4),
            (liquid(500, 3)[0], 975.542239), (liquid(500, 3)[1], 4.65580682), (liquid(500, 3)[2], 1.20241800e-3),
            (vapour(300, 0.0035)[0], 2549.91145), (vapour(300, 0.0035)[1], 39.4913866),
            (vapour(700, 0.0035)[0], 3335.68375), (vapour(700, 0.0035)[1], 92.3015898),
            (vapour(700, 30)[0], 2631.49474), (vapour(700, 30)[1], 5.42946619e-3),
            (p_sat(300), 3.53658941e-3), (p_sat(500), 2.63889776), (p_sat(600), 12.3443146),
            (t_sat(0.1), 372.755919), (t_sat(1), 453.035632), (t_sat(10), 584.149488)]
    return max(abs(a / b - 1) for a, b in rows)


class Saturation:
    """Chebyshev series in temperature (degC) of what the heat model needs:
    c_p of saturated liquid in J/(kg K), its integral H in J/kg (zero at
    0 degC), the heat of evaporation in J/kg."""

    LOW, HIGH, DEGREE = 0.0, 180.0, 22

    def __init__(self):
        x = np.cos(np.pi * (np.arange(64) + 0.5) / 64)
        t = self.LOW + (x + 1) / 2 * (self.HIGH - self.LOW)
        cp, fg = [], []
        for c in t:
            k = c + 273.15
            h, heat, _ = liquid(k, p_sat(k))
            cp.append(1e3 * heat)
            fg.append(1e3 * (vapour(k, p_sat(k))[0] - h))
        half = (self.HIGH - self.LOW) / 2
        self.c_cp = chebyshev.chebfit(x, cp, self.DEGREE)
        self.c_fg = chebyshev.chebfit(x, fg, self.DEGREE)
        self.c_h = chebyshev.chebint(self.c_cp, scl=half, lbnd=-1)
        self.fit_error = max(np.max(np.abs(chebyshev.chebval(x, self.c_cp) / cp - 1)),
                             np.max(np.abs(chebyshev.chebval(x, self.c_fg) / fg - 1)))
        self.lists = [list(map(float, c[::-1])) for c in (self.c_cp, self.c_h, self.c_fg)]

    def series(self, which, t):
        """Clenshaw's sum."""
        x2 = 2 * ((2 * t - self.LOW - self.HIGH) / (self.HIGH - self.LOW))
        c = self.lists[which]
        b1 = b2 = 0.0
        for a in c[:-1]:
            b1, b2 = x2 * b1 - b2 + a, b1
        return x2 / 2 * b1 - b2 + c[-1]

    def cp(self, t):
        return self.series(0, t)

    def H(self, t):
        return self.series(1, t)

    def fg(self, t):
        return self.series(2, t)


if __name__ == "__main__":
    off, fit = verify(), Saturation().fit_error
    print("water: %.1e from the release's tables, series within %.1e" % (off, fit))
    raise SystemExit(0 if off < 1e-8 and fit < 1e-11 else 1)
