package water

// region1 holds the terms of the liquid's Gibbs free energy, IAPWS
// R7-97(2012) Table 2.
var region1 = []power{
	{0, -2, 0.14632971213167e0},
	{0, -1, -0.84548187169114e0},
	{0, 0, -0.37563603672040e1},
	{0, 1, 0.33855169168385e1},
	{0, 2, -0.95791963387872e0},
	{0, 3, 0.15772038513228e0},
	{0, 4, -0.16616417199501e-1},
	{0, 5, 0.81214629983568e-3},
	{1, -9, 0.28319080123804e-3},
	{1, -7, -0.60706301565874e-3},
	{1, -1, -0.18990068218419e-1},
	{1, 0, -0.32529748770505e-1},
	{1, 1, -0.21841717175414e-1},
	{1, 3, -0.52838357969930e-4},
	{2, -3, -0.47184321073267e-3},
	{2, 0, -0.30001780793026e-3},
	{2, 1, 0.47661393906987e-4},
	{2, 3, -0.44141845330846e-5},
	{2, 17, -0.72694996297594e-15},
	{3, -4, -0.31679644845054e-4},
	{3, 0, -0.28270797985312e-5},
	{3, 6, -0.85205128120103e-9},
	{4, -5, -0.22425281908000e-5},
	{4, -2, -0.65171222895601e-6},
	{4, 10, -0.14341729937924e-12},
	{5, -8, -0.40516996860117e-6},
	{8, -11, -0.12734301741641e-8},
	{8, -6, -0.17424871230634e-9},
	{21, -29, -0.68762131295531e-18},
	{23, -31, 0.14478307828521e-19},
	{29, -38, 0.26335781662795e-22},
	{30, -39, -0.11947622640071e-22},
	{31, -40, 0.18228094581404e-23},
	{32, -41, -0.93537087292458e-25},
}

// Liquid returns the state of liquid water at the absolute pressure p in Pa and tC
// degC, from the basic equation of region 1, IAPWS R7-97(2012) eq. 7:
//
//	g(pi, tau) = sum of n (7.1 - pi)^I (tau - 1.222)^J
//	pi = p / 16.53 MPa, tau = 1386 K / T
//
// It holds from 0 to 350 degC and from the saturation pressure to 100 MPa.
// Elsewhere, and for NaN, the error is a [*RangeError].
func Liquid(p, tC float64) (State, error) {
	if err := checkCelsius(tC, minKelvin, boundaryKelvin); err != nil {
		return State{}, err
	}
	T := tC + zeroCelsius
	if err := checkPressure(p, saturationPressure(T), maxPressure); err != nil {
		return State{}, err
	}
	f := liquidGibbs(p, T)
	return f.state(p, T, tC), nil
}

// liquidGibbs is eq. 7 with its derivatives at p in Pa and T in K, with no check.
func liquidGibbs(p, T float64) gibbs {
	f := gibbs{pi: p / 16.53e6, tau: 1386 / T}
	f.add(region1, 7.1-f.pi, f.tau-1.222, -1)
	return f
}
