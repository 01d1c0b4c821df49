package water

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate"
	"gonum.org/v1/gonum/integrate/quad"
)

// fastTolerance is what the fast forms promise, relative.
const fastTolerance = 1e-10

func relative(got, want float64) float64 { return math.Abs(got-want) / math.Abs(want) }

// The fast forms against IAPWS R7-97(2012) itself: eqs. 7, 15 and 30.
func TestFastAgainstFormulas(t *testing.T) {
	for i := range 20001 {
		tC := float64(i) * 0.01
		liquid, err := SaturatedLiquid(tC)
		if err != nil {
			t.Fatal(err)
		}
		latent, err := LatentHeat(tC)
		if err != nil {
			t.Fatal(err)
		}
		if r := relative(CP(tC), liquid.CP); r > fastTolerance {
			t.Fatalf("CP(%g) is off by %.2g", tC, r)
		}
		if r := relative(Hfg(tC), latent); r > fastTolerance {
			t.Fatalf("Hfg(%g) is off by %.2g", tC, r)
		}
	}
}

func TestFastIntegralAgainstFormulas(t *testing.T) {
	for _, tC := range []float64{1e-6, 0.001, 0.5, 1.999, 2, 2.001, 10, 20, 37.3, 50, 85, 93, 100, 118, 133.7, 150, 199.999, 200} {
		want, err := EnthalpyIntegral(tC)
		if err != nil {
			t.Fatal(err)
		}
		if r := relative(H(tC), want); r > fastTolerance {
			t.Errorf("H(%g) is off by %.2g", tC, r)
		}
	}
	if h := H(0); h != 0 {
		t.Errorf("H(0) = %g", h)
	}
}

// The quadrature behind EnthalpyIntegral against another: Romberg's on equal
// steps (W. Romberg, 1955), with cp from the state function.
func TestEnthalpyIntegralAgainstRomberg(t *testing.T) {
	for _, tC := range []float64{30, 100, 150, 200, 300} {
		const n = 1<<10 + 1
		samples := make([]float64, n)
		dx := tC / (n - 1)
		for i := range samples {
			s, err := SaturatedLiquid(float64(i) * dx)
			if err != nil {
				t.Fatal(err)
			}
			samples[i] = s.CP
		}
		want := integrate.Romberg(samples, dx)
		got, err := EnthalpyIntegral(tC)
		if err != nil {
			t.Fatal(err)
		}
		if r := relative(got, want); r > 1e-12 {
			t.Errorf("EnthalpyIntegral(%g) is off Romberg's by %.2g", tC, r)
		}
	}
}

// H is the integral of the fast CP itself. Six Gauss points are exact for each
// polynomial piece, so only round-off remains.
func TestHIsIntegralOfCP(t *testing.T) {
	sum := 0.0
	for tC := 0.0; tC < MaxFastCelsius; tC += pieceWidth {
		for _, part := range []float64{0.3, 1} {
			to := tC + part*pieceWidth
			piece := quad.Fixed(CP, tC, to, 6, quad.Legendre{}, 0)
			if d := math.Abs(H(to) - H(tC) - piece); d > 2e-9 {
				t.Errorf("H over %g to %g degC is off its CP by %.2g J/kg", tC, to, d)
			}
			if part == 1 {
				sum += piece
			}
		}
		if r := relative(H(tC+pieceWidth), sum); r > 1e-13 {
			t.Errorf("H(%g) is off the integral of CP by %.2g", tC+pieceWidth, r)
		}
	}
}

// Both in one go are the same as one by one, to the last bit and everywhere.
func TestHAndCP(t *testing.T) {
	temperatures := []float64{math.Inf(-1), math.Inf(1), math.NaN(), math.Copysign(0, -1), MaxFastCelsius}
	for i := range 26000 {
		temperatures = append(temperatures, -30+float64(i)*0.01)
	}
	for _, tC := range temperatures {
		h, cp := HAndCP(tC)
		if math.Float64bits(h) != math.Float64bits(H(tC)) || math.Float64bits(cp) != math.Float64bits(CP(tC)) {
			t.Fatalf("HAndCP(%g) = %g, %g, but H is %g and CP %g", tC, h, cp, H(tC), CP(tC))
		}
	}
}

// H' = CP by central differences: inside, across the pieces' joints and beyond the
// ends. At the ends themselves CP has a kink, so a difference across one is left out.
func TestSlopeOfHIsCP(t *testing.T) {
	const d = 1e-3
	for i := range 30001 {
		tC := -50.0 + float64(i)*0.01 + 0.0005
		if math.Abs(tC) < d || math.Abs(tC-MaxFastCelsius) < d {
			continue
		}
		slope := (H(tC+d) - H(tC-d)) / (2 * d)
		if r := relative(slope, CP(tC)); r > 1e-9 {
			t.Fatalf("H'(%g) = %.12g, CP = %.12g", tC, slope, CP(tC))
		}
	}
}

// From one float64 to the next across each joint nothing jumps.
func TestFastIsContinuous(t *testing.T) {
	for _, f := range []struct {
		name string
		f    func(float64) float64
	}{{"CP", CP}, {"H", H}, {"Hfg", Hfg}} {
		for tC := 0.0; tC <= MaxFastCelsius; tC += pieceWidth {
			below, at, above := f.f(math.Nextafter(tC, -1)), f.f(tC), f.f(math.Nextafter(tC, 300))
			tolerance := 2e-14*math.Abs(at) + 1e-300 // H(0) is 0
			if math.Abs(below-at) > tolerance || math.Abs(above-at) > tolerance {
				t.Errorf("%s jumps at %g degC: %.17g %.17g %.17g", f.name, tC, below, at, above)
			}
		}
	}
}

func TestFastMonotone(t *testing.T) {
	for i := range 25000 {
		a := -20 + float64(i)*0.01
		b := a + 0.01
		if !(H(b) > H(a)) {
			t.Fatalf("H(%g) isn't above H(%g)", b, a)
		}
		if a >= 0 && b <= MaxFastCelsius && !(Hfg(b) < Hfg(a)) {
			t.Fatalf("Hfg(%g) isn't below Hfg(%g)", b, a)
		}
		if Hfg(b) > Hfg(a) {
			t.Fatalf("Hfg rises from %g to %g degC", a, b)
		}
		if c := CP(a); c < 4170 || c > 4500 {
			t.Fatalf("CP(%g) = %g", a, c)
		}
	}
}

// cp of liquid water has its minimum near 36 degC at normal pressure (from memory,
// any handbook of physics).
func TestCPMinimum(t *testing.T) {
	lowest, where := math.Inf(1), 0.0
	for tC := 0.0; tC <= MaxFastCelsius; tC += 0.1 {
		if c := CP(tC); c < lowest {
			lowest, where = c, tC
		}
	}
	if where < 30 || where > 42 {
		t.Errorf("the minimum of CP is at %g degC", where)
	}
}

func TestTemperatureOfH(t *testing.T) {
	for i := range 60001 {
		tC := -50 + float64(i)*0.005
		if back := TemperatureOfH(H(tC)); math.Abs(back-tC) > 1e-12 {
			t.Fatalf("TemperatureOfH(H(%g)) = %.17g", tC, back)
		}
	}
	for h := -1e5; h <= 1.2e6; h += 997 {
		if back := H(TemperatureOfH(h)); math.Abs(back-h) > 1e-9 {
			t.Fatalf("H(TemperatureOfH(%g)) = %.17g", h, back)
		}
	}
}

// Along the saturation line dhf/dT = cp + (v - T (dv/dT)_p) dpsat/dT: the identity
// of the package comment, with each term by another route.
func TestDifferenceFromLiquidEnthalpy(t *testing.T) {
	zero, err := SaturatedLiquid(0)
	if err != nil {
		t.Fatal(err)
	}
	extra := func(tC float64) float64 {
		T := tC + zeroCelsius
		p := saturationPressure(T)
		const d = 1e-2
		warm, cold := liquidGibbs(p, T+d), liquidGibbs(p, T-d)
		mid := liquidGibbs(p, T)
		dvdT := (warm.volume(p, T+d) - cold.volume(p, T-d)) / (2 * d)
		dpdT := (saturationPressure(T+d) - saturationPressure(T-d)) / (2 * d)
		return (mid.volume(p, T) - T*dvdT) * dpdT
	}
	for _, c := range []struct {
		tC, stated float64 // J/kg, as the package comment says; 0 where it says nothing
	}{{50, 0}, {100, 81}, {150, 334}, {200, 0}} {
		s, err := SaturatedLiquid(c.tC)
		if err != nil {
			t.Fatal(err)
		}
		difference := s.Enthalpy - zero.Enthalpy - H(c.tC)
		want := quad.Fixed(extra, 0, c.tC, 40, quad.Legendre{}, 0)
		if math.Abs(difference-want) > 1e-3 {
			t.Errorf("hf - hf(0) - H at %g degC = %.6f, want %.6f J/kg", c.tC, difference, want)
		}
		if c.stated != 0 && math.Abs(difference-c.stated) > 0.5 {
			t.Errorf("hf - hf(0) - H at %g degC = %.3f, documented as %g J/kg", c.tC, difference, c.stated)
		}
	}
}

func TestFastBeyondTheEnds(t *testing.T) {
	for _, tC := range []float64{-1e300, -273.15, -1, -math.SmallestNonzeroFloat64, math.Copysign(0, -1)} {
		if CP(tC) != CP(0) || Hfg(tC) != Hfg(0) || H(tC) != CP(0)*tC {
			t.Errorf("at %g degC: CP %g, Hfg %g, H %g", tC, CP(tC), Hfg(tC), H(tC))
		}
	}
	for _, tC := range []float64{200, math.Nextafter(200, 300), 250, 1000, 1e300} {
		if CP(tC) != CP(200) || Hfg(tC) != Hfg(200) {
			t.Errorf("at %g degC: CP %g, Hfg %g", tC, CP(tC), Hfg(tC))
		}
		if r := relative(H(tC), H(200)+CP(200)*(tC-200)); r > 1e-15 {
			t.Errorf("H(%g) is off the straight line by %.2g", tC, r)
		}
	}
	// The end values that the comments state.
	for _, c := range []struct {
		got  float64
		want string
	}{{CP(0), "4220"}, {CP(200), "4494"}, {Hfg(0) / 1e3, "2500.9"}, {Hfg(200) / 1e3, "1939.7"}} {
		checkDigits(t, "end value", c.got, c.want)
	}
	nan := math.NaN()
	for _, v := range []float64{CP(nan), H(nan), Hfg(nan), TemperatureOfH(nan)} {
		if !math.IsNaN(v) {
			t.Errorf("a NaN became %g", v)
		}
	}
}

func TestFastDoesNotAllocate(t *testing.T) {
	H(20) // the table is made at the first call
	var sink float64
	if n := testing.AllocsPerRun(100, func() { sink += CP(20) + H(20) + Hfg(20) + TemperatureOfH(8e4) }); n != 0 {
		t.Errorf("%g allocations a call, sum %g", n, sink)
	}
}

// FuzzFast: a finite argument never gives NaN, and never a panic.
func FuzzFast(f *testing.F) {
	for _, x := range []float64{0, 1, 93, 199.99999999999997, 200, -1, 1e9, math.MaxFloat64, -math.MaxFloat64, 5e-324} {
		f.Add(x)
	}
	f.Fuzz(func(t *testing.T, x float64) {
		if math.IsNaN(x) {
			t.Skip("a NaN stays one")
		}
		for _, v := range []float64{CP(x), H(x), Hfg(x), TemperatureOfH(x)} {
			if math.IsNaN(v) {
				t.Errorf("NaN at %g", x)
			}
		}
		if c, l := CP(x), Hfg(x); c < 4170 || c > 4500 || l < 1.93e6 || l > 2.51e6 {
			t.Errorf("CP %g, Hfg %g at %g", c, l, x)
		}
	})
}

// A piece gives what the functions do, all along its 2 K.
func TestPieceIsWhatTheFunctionsAre(t *testing.T) {
	sum := func(c *[6]float64, s float64) float64 {
		square := s * s
		return float64(square*(float64(square*(float64(c[5]*s)+c[4]))+(float64(c[3]*s)+c[2]))) + (float64(c[1]*s) + c[0])
	}
	for k := range 100 {
		start := 2 * float64(k)
		p, ok := PieceAt(start + 1)
		if !ok {
			t.Fatalf("found no piece at %g degC, expected one", start+1)
		}
		for i := range 100 {
			tC := start + float64(i)/50
			s := tC/2 - p.Place
			if h, cp := p.Start+float64(s*sum(&p.Integral, s)), sum(&p.CP, s); h != H(tC) || cp != CP(tC) {
				t.Errorf("found H and CP of %v and %v at %g degC, expected %v and %v", h, cp, tC, H(tC), CP(tC))
			}
			if hfg := sum(&p.Hfg, s); hfg != Hfg(tC) {
				t.Errorf("found Hfg of %v at %g degC, expected %v", hfg, tC, Hfg(tC))
			}
		}
	}
	for _, tC := range []float64{-1, 0, MaxFastCelsius, math.NaN(), math.Inf(1)} {
		if _, ok := PieceAt(tC); ok {
			t.Errorf("found a piece at %g degC, expected none", tC)
		}
	}
}
