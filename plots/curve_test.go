package plots

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

var plane = [2]scale{{0, 1, 50, 450}, {-1, 1, 200, 0}}

// TestCurveKeepsExtremes checks that within every column of the page the
// least and the greatest value are still drawn.
func TestCurveKeepsExtremes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8000).Draw(t, "n")
		seed := rapid.Uint64().Draw(t, "seed")
		time, v := make([]float64, n), make([]float64, n)
		for i := range time {
			time[i] = float64(i) / float64(n-1)
			seed = seed*6364136223846793005 + 1442695040888963407 // Knuth's MMIX generator
			v[i] = float64(int64(seed)) / (1 << 63)
		}
		pts := curve(time, v, plane[0], plane[1])
		// The extent of the drawn line over every column.
		first := int(math.Floor(plane[0].a / columnWidth))
		columns := int(400/columnWidth) + 2
		lo, hi := make([]float64, columns), make([]float64, columns)
		for c := range lo {
			lo[c], hi[c] = math.Inf(1), math.Inf(-1)
		}
		for i := 1; i < len(pts); i++ {
			a, b := pts[i-1], pts[i]
			for c := int(math.Floor(a.x / columnWidth)); c <= int(math.Floor(b.x/columnWidth)); c++ {
				for _, x := range []float64{float64(c) * columnWidth, float64(c+1) * columnWidth} {
					y := a.y
					if b.x > a.x {
						y += (b.y - a.y) * (math.Max(a.x, math.Min(b.x, x)) - a.x) / (b.x - a.x)
					}
					lo[c-first], hi[c-first] = math.Min(lo[c-first], y), math.Max(hi[c-first], y)
				}
			}
		}
		for i := range time {
			c, y := int(math.Floor(plane[0].at(time[i])/columnWidth))-first, plane[1].at(v[i])
			if y < lo[c]-0.021 || y > hi[c]+0.021 {
				t.Fatalf("column %d: found %g to %g drawn, want %g among them", c, lo[c], hi[c], y)
			}
		}
		if most := int(4*400/columnWidth) + 8; len(pts) > most {
			t.Fatalf("found %d points, want at most %d", len(pts), most)
		}
	})
}

// TestStraightenStaysClose checks the promise of the tolerance against every
// dropped point.
func TestStraightenStaysClose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "n")
		var pts []point
		x := 0.0
		for range n {
			x += rapid.SampledFrom([]float64{0, 0.1, 1, 7}).Draw(t, "dx")
			pts = append(pts, point{x, rapid.SampledFrom([]float64{0, 0.005, 0.05, 3, -2}).Draw(t, "y")})
		}
		const tol = 0.02
		in := append([]point(nil), pts...)
		out := straighten(pts, tol)
		if out[0] != in[0] || out[len(out)-1] != in[n-1] {
			t.Fatalf("found ends %v and %v, want %v and %v", out[0], out[len(out)-1], in[0], in[n-1])
		}
		j := 0
		for _, p := range in {
			for j+1 < len(out) && out[j+1].x < p.x {
				j++
			}
			near := math.Inf(1)
			for k := j; k+1 < len(out) && out[k].x <= p.x; k++ {
				a, b := out[k], out[k+1]
				if a.x == b.x {
					if p.x == a.x {
						near = math.Min(near, math.Max(0, math.Max(math.Min(a.y, b.y)-p.y, p.y-math.Max(a.y, b.y))))
					}
					continue
				}
				if p.x <= b.x {
					near = math.Min(near, math.Abs(a.y+(b.y-a.y)*(p.x-a.x)/(b.x-a.x)-p.y))
				}
			}
			if len(out) > 1 && near > tol+1e-9 {
				t.Fatalf("found %v off by %g in %v of %v", p, near, out, in)
			}
		}
	})
}

func TestCurveOfALine(t *testing.T) {
	time, v := make([]float64, 10000), make([]float64, 10000)
	for i := range time {
		time[i] = float64(i) / 9999
		v[i] = 0.5 - time[i]
	}
	if pts := curve(time, v, plane[0], plane[1]); len(pts) != 2 {
		t.Errorf("found %d points for a straight line, want 2", len(pts))
	}
	// A jump keeps both its ends.
	pts := curve([]float64{0, 0.5, 0.5, 1}, []float64{0, 0, 1, 1}, plane[0], plane[1])
	if len(pts) != 4 || pts[1] != (point{250, 100}) || pts[2] != (point{250, 0}) {
		t.Errorf("found %v for a jump, want both its ends", pts)
	}
}

// TestRMS checks against closed forms: the rms value of a sine is its peak
// over √2, that of a sawtooth from −1 to 1 is 1/√3 (textbook results).
func TestRMS(t *testing.T) {
	var time, sine []float64
	for i := range 2001 {
		time = append(time, float64(i)*1e-5)
		sine = append(sine, 325*math.Sin(2*math.Pi*50*time[i]))
	}
	if got, want := rms(time, sine), 325/math.Sqrt2; math.Abs(got/want-1) > 2e-6 {
		t.Errorf("sine: found %g, want %g", got, want)
	}
	if got, want := rms([]float64{0, 1, 1, 3}, []float64{-1, 1, -1, 1}), 1/math.Sqrt(3); math.Abs(got/want-1) > 1e-12 {
		t.Errorf("sawtooth: found %g, want %g", got, want)
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		span float64
		n    int
		want float64
	}{{680, 4, 200}, {10, 5, 2}, {1, 1, 1}, {0.07, 7, 0.01}, {99, 3, 50}, {3e6, 2, 2e6}} {
		if got := tickStep(c.span, c.n); math.Abs(got/c.want-1) > 1e-9 {
			t.Errorf("span %g in %d: found step %g, want %g", c.span, c.n, got, c.want)
		}
	}
	got := ticks(-0.25, 0.31, 0.1)
	want := []string{"−0.2", "−0.1", "0.0", "0.1", "0.2", "0.3"}
	if len(got) != len(want) {
		t.Fatalf("found ticks %v, want %v", got, want)
	}
	for i := range got {
		if s := fixed(got[i], decimals(0.1)); s != want[i] {
			t.Errorf("found tick %s, want %s", s, want[i])
		}
	}
}
