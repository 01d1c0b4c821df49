package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"gonum.org/v1/gonum/mat"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
)

// TestEquationsAgainstLU compares the elimination with gonum's LU on random
// equations whose rows differ by up to 10¹² in size, as milliohms and gigohms do.
func TestEquationsAgainstLU(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	var w workspace
	for _, n := range []int{1, 2, 3, 7, 20, 45} {
		for _, spread := range []float64{0, 3, 6} {
			const m = 3
			w.begin(n, m)
			a, b := mat.NewDense(n, n, nil), mat.NewDense(n, m, nil)
			for i := range n {
				row := math.Pow(10, spread*(2*r.Float64()-1))
				for j := range n {
					if i == j || r.IntN(3) == 0 {
						x := row * r.NormFloat64()
						a.Set(i, j, x)
						w.add(i, j, x)
					}
				}
				for j := range m {
					x := r.NormFloat64()
					b.Set(i, j, x)
					w.put(i, j, x)
				}
			}
			var lu mat.LU
			lu.Factorize(a)
			var want mat.Dense
			if lu.SolveTo(&want, false, b) != nil && math.IsInf(lu.Cond(), 1) {
				continue // drew a singular one
			}
			if col := w.solve(); col >= 0 {
				t.Fatalf("n = %d, spread %g: no pivot in column %d, gonum's condition number is %g", n, spread, col, lu.Cond())
			}
			scale := mat.Max(&want) - mat.Min(&want) + 1e-300
			tol := 1e-15 * math.Max(100, lu.Cond())
			for i := range n {
				for j, x := range w.solution(i) {
					near(t, "solution", x, want.At(i, j), scale, tol)
				}
			}
		}
	}
	for _, singular := range [][]float64{{0, 0, 0, 1}, {1, 2, 2, 4}, {math.NaN(), 1, 1, 1}} {
		w.begin(2, 1)
		for i, x := range singular {
			w.add(i/2, i%2, x)
		}
		if w.solve() < 0 {
			t.Errorf("%v: found a solution, expected none", singular)
		}
	}
}

// imagined is a board with harmonics of odd order, of which every half-cycle meets
// networks that are mirror images of others.
func imagined() *models.Board {
	b := refBoard()
	b.Supply.Damping, b.Supply.NeutralResistance, b.Supply.NeutralInductance = 50, 0.2, 0.3e-3
	b.Supply.AcrossCapacitance = 1e-7
	b.Supply.Harmonics = []models.Harmonic{{Order: 3, Voltage: 7, Phase: 20}, {Order: 7, Voltage: 3, Phase: -60}}
	b.Earth.Resistance = 0.5
	for k := range b.Channels {
		b.Channels[k].Element.Insulation = 2e6
	}
	return b
}

// TestMirrorImages compares what combinations take over from their mirror images
// with the same made from their own equations.
func TestMirrorImages(t *testing.T) {
	for _, direct := range []q.Volt{0, 1} {
		b := imagined()
		b.Supply.DC = direct
		compareMirrorImages(t, b)
	}
}

func compareMirrorImages(t *testing.T, b *models.Board) {
	s := mustNew(t, b)
	mustSkip(t, s, 4, drives(12, 12, 0))
	mustSkip(t, s, 4, drives(12, 12, 12))
	images := 0
	for k, m := range s.par.combos {
		if m.image == nil {
			continue
		}
		images++
		if _, err := s.par.modal(k); err != nil {
			t.Fatal(err)
		}
		c, err := s.par.assemble(k)
		if err != nil {
			t.Fatal(err)
		}
		if err := c.decompose(s.net, s.par.work); err != nil {
			t.Fatal(err)
		}
		what := s.par.describe(k)
		compare := func(name string, got, want []float64) {
			scale := frobenius(want) + 1e-300
			for i := range want {
				near(t, fmt.Sprintf("%s: %s %d", what, name, i), got[i], want[i], scale, 1e-9)
			}
		}
		for sig := range s.net.signals() {
			compare(fmt.Sprintf("row %d", sig), m.row(sig), c.row(sig))
		}
		for h, order := range s.src.order {
			for i, x := range c.responses(s.src)[h] {
				y := m.responses(s.src)[h][i]
				compare(fmt.Sprintf("harmonic %d, state %d", order, i), []float64{real(y), imag(y)}, []float64{real(x), imag(x)})
			}
		}
		compare("rates", slices.Concat(m.a, m.be), slices.Concat(c.a, c.be))
		compare("thresholds", m.kc, c.kc)
		compare("response to thresholds", m.constant, c.constant)
		compare("response to direct voltage", m.unitDC, c.unitDC)
	}
	for at, levels := range s.par.blocks {
		for k, r := range levels {
			want, err := s.par.eliminate(&s.net.blocks[at], k)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(r.all, want.all) {
				t.Fatalf("block %d, %s: rows %v, expected %v", at, s.par.describe(k), r.all, want.all)
			}
		}
	}
	if images < 10 {
		t.Errorf("met %d mirror images, expected more", images)
	}
}

// TestBlocksShared: a solver that has been at other temperatures, at some of which
// a channel had the same, comes to the very networks of a new one.
func TestBlocksShared(t *testing.T) {
	b := boardfile.Default()
	in := drives(12, 12, 12)
	at := func(junction, element float64) Temperatures {
		x := Uniform(3, 40)
		x.Junction[1], x.Element[2] = junction, element
		return x
	}
	used, fresh := mustNew(t, b), mustNew(t, b)
	for _, x := range []Temperatures{at(40, 40), at(70, 40), at(70, 95)} {
		used.SetTemperatures(x)
		mustSkip(t, used, 4, in)
	}
	shared := 0
	for i, m := range used.par.blocks {
		for _, other := range used.sets {
			for k, r := range m {
				if other != used.par && other.blocks[i][k] == r {
					shared++
				}
			}
		}
	}
	if shared == 0 {
		t.Error("found no block shared between temperatures")
	}
	fresh.SetTemperatures(at(70, 95))
	for k, c := range used.par.combos {
		want, err := fresh.par.assemble(k)
		if err != nil {
			t.Fatal(err)
		}
		if c.image != nil {
			continue
		}
		for sig := range used.net.signals() {
			if !slices.Equal(c.row(sig), want.row(sig)) {
				t.Fatalf("%s: row %d is %v, expected %v", used.par.describe(k), sig, c.row(sig), want.row(sig))
			}
		}
	}
}

// TestRecordingReadByMany: several may measure one recording at once, signals
// whose rows nobody has asked for yet included.
func TestRecordingReadByMany(t *testing.T) {
	s := mustNew(t, imagined())
	rec := mustRecord(t, s, 4, drives(12, 0, 12))
	var sigs []Signal
	for _, p := range []models.Place{models.Load, models.Midpoint, models.SnubberTap, models.Wire} {
		sigs = append(sigs, voltOf(t, s, models.At(p, 0), models.At(models.Neutral, 0)))
	}
	var group sync.WaitGroup
	found := make([][]float64, 4)
	for i := range found {
		group.Go(func() {
			for _, sig := range sigs {
				found[i] = append(found[i], rec.Moments(sig).MeanSquare)
			}
		})
	}
	group.Wait()
	for _, f := range found {
		if !slices.Equal(f, found[0]) || f[0] < 1 {
			t.Errorf("found mean squares of %v V² and %v V²", f, found[0])
		}
	}
}
