package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// TestLearnedLatching: below the voltage at which a blocking opto is found to
// latch no trial carries its latching current, above it every one does. Trials
// are resolved here for states that never occurred, by the network alone.
func TestLearnedLatching(t *testing.T) {
	s := mustNew(t, refBoard())
	mustSkip(t, s, 6, drives(12, 12, 12))
	r := rand.New(rand.NewPCG(5, 21))
	checked := 0
	for _, c := range s.par.combos {
		if c.memo.band == nil {
			continue
		}
		b := c.memo.band
		for k := range s.chans {
			g, l := &s.gears[k], &s.lim[k]
			if c.key.level(g.optoValve) != off {
				continue
			}
			for _, sg := range [2]float64{1, -1} {
				bound := b.high[g.opto]
				if sg < 0 {
					bound = -b.low[g.opto]
				}
				if !finite(bound) || bound == g.least {
					continue
				}
				if bound < g.least {
					t.Errorf("channel %d latches at %g V, expected above %g V", k, bound, g.least)
				}
				for draw := range 60 {
					v := bound * (1 + []float64{-1e-6, 1e-6, -0.05, 2}[draw%4])
					z := stateAt(r, c, g.opto, sg*v)
					if y := dot(probeRow(c, g.junction), z); !(y > b.low[g.junction] && y < b.high[g.junction]) {
						continue
					}
					key := c.key.with(g.optoValve, levelOf(sg))
					trial, ok := resolvedFor(s, key, z, 1<<g.junctionValve)
					if !ok {
						t.Fatalf("no consistent trial of channel %d", k)
					}
					i := sg * dot(trial.row(s.net.sigCurrent(s.net.channels[k].opto)), z)
					if latches := i >= l.optoLatch+tolAmpere; latches != (v > bound) {
						t.Errorf("channel %d at %g V: found %g A where it latches at %g V and %g A", k, v, i, bound, l.optoLatch)
					}
					checked++
				}
			}
		}
	}
	if checked < 500 {
		t.Errorf("checked %d trials, expected hundreds", checked)
	}
}

func probeRow(c *combination, probe int) []float64 {
	return c.memo.probes[probe*c.width : (probe+1)*c.width]
}

// stateAt draws states and source of a combination at which a probe reads y.
func stateAt(r *rand.Rand, c *combination, probe int, y float64) []float64 {
	z := make([]float64, c.width)
	for i := range z {
		z[i] = 30 * r.NormFloat64()
	}
	z[c.n+1] = 1
	row, best := probeRow(c, probe), 0
	for i := range c.n {
		if math.Abs(row[i]) > math.Abs(row[best]) {
			best = i
		}
	}
	z[best] += (y - dot(row, z)) / row[best]
	return z
}

// resolvedFor resolves the valves in which of a key for given states and source.
func resolvedFor(s *Solver, k key, z []float64, which uint64) (*combination, bool) {
	for range 20 {
		c, err := s.par.combination(k)
		if err != nil {
			return nil, false
		}
		next, ok := s.net.consistent(c, k, z, which)
		if ok {
			return c, true
		}
		k = next
	}
	return nil, false
}

// TestAffine finds the numbers that made a row.
func TestAffine(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 9))
	for n := 2; n < 9; n++ {
		from, to, base := make([]float64, n), make([]float64, n), make([]float64, n)
		ratio, rest := r.NormFloat64(), r.NormFloat64()
		for i := range n {
			from[i], base[i] = r.NormFloat64(), r.NormFloat64()
			to[i] = base[i] + ratio*from[i]
		}
		to[n-1] += rest
		a, b, ok := affine(from, to, base)
		if !ok {
			t.Fatalf("found no relation of %d numbers", n)
		}
		near(t, "ratio", a, ratio, math.Abs(ratio), 1e-12)
		near(t, "rest", b, rest, 1, 1e-12)
		if n > 2 {
			to[0] += 1e-6
			if _, _, ok := affine(from, to, base); ok {
				t.Errorf("found a relation of %d numbers, expected none", n)
			}
		}
	}
}

// TestContract compares products of forms side by side with those one by one, and
// condensed forms with what they were made of.
func TestContract(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	for count := 1; count < 14; count++ {
		const m = 28
		l := losses{forms: make([]float64, count*m), groups: make([]int, count)}
		unlike := 0 // forms that are neither zero nor a multiple of another
		for i := range count {
			l.groups[i] = count - 1 - i
			if i%4 != 3 && i%5 != 4 {
				unlike++
			}
			for j := range m {
				l.forms[i*m+j] = r.NormFloat64()
				if i%4 == 3 { // a multiple of the one before
					l.forms[i*m+j] = -0.3 * l.forms[(i-1)*m+j]
				} else if i%5 == 4 {
					l.forms[i*m+j] = 0
				}
			}
		}
		moments, want := make([]float64, m), make([]float64, count)
		for j := range moments {
			moments[j] = r.NormFloat64()
		}
		for i, to := range l.groups {
			for j, x := range moments {
				want[to] += l.forms[i*m+j] * x
			}
		}
		l.condense(m)
		full := (unlike + lanes - 1) / lanes * lanes
		if kept := len(l.forms) / m; kept != full {
			t.Errorf("of %d forms: found room for %d, expected %d unlike ones and their filling, %d", count, kept, unlike, full)
		}
		out, got := make([]float64, len(l.forms)/m), make([]float64, count)
		contract(out, l.forms, moments)
		for _, x := range l.shares {
			got[x.to] += x.times * out[x.form]
		}
		for i := range want {
			near(t, fmt.Sprintf("sum %d of %d", i, count), got[i], want[i], m, 1e-14)
		}
	}
}

// TestSmallGrowth compares what is taken of exponentials over short times with the
// library's functions.
func TestSmallGrowth(t *testing.T) {
	for i := range 2000 {
		x := -math.Exp(float64(i)/2000*40 - 36)
		near(t, fmt.Sprintf("exp %g − 1", x), lessOne(x, math.Exp(x)), math.Expm1(x), math.Abs(math.Expm1(x)), 4e-15)
		for _, T := range []float64{1e-9, 3} {
			near(t, fmt.Sprintf("∫ exp over %g", x), lasting(x/T, T, math.Exp(x)), T*math.Expm1(x)/x, T, 4e-15)
		}
		if angle := -x; angle <= brief {
			more := math.Expm1(x / 3)
			re, im := turned(more, angle)
			half := math.Sin(angle / 2)
			near(t, "turned, real part", re, more-2*half*half*(1+more), math.Abs(more), 1e-14)
			near(t, "turned, imaginary part", im, (1+more)*math.Sin(angle), math.Abs(angle), 1e-14)
		}
	}
}
