package sim

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// A block of two rows against the formula, whatever lay in it before.
func TestBlockOfRows(t *testing.T) {
	const channels = 3
	rng := rand.New(rand.NewPCG(1, 2))
	b := block{account: newAccount(channels)}
	row := func() []float64 {
		x := make([]float64, tallySize(channels)+rng.IntN(len(b.all)-tallySize(channels)+1))
		for i := range x {
			x[i] = rng.NormFloat64()
		}
		return x
	}
	at := func(x []float64, i int) float64 {
		if i < len(x) {
			return x[i]
		}
		return 0
	}
	for range 500 {
		first, cycle, times := row(), row(), float64(rng.IntN(3))
		b.set(first, cycle, times)
		for i, x := range b.all {
			if want := at(first, i) + times*at(cycle, i); math.Abs(x-want) > 1e-14*(1+math.Abs(want)) {
				t.Fatalf("rows of %d and %d numbers, %g times: number %d: found %g, expected %g", len(first), len(cycle), times, i, x, want)
			}
		}
		for i := b.used; i < len(b.all); i++ {
			if b.all[i] != 0 {
				t.Fatalf("found %g beyond the %d numbers in use", b.all[i], b.used)
			}
		}
	}
}

// film leads past an opto, so that its channel fires at some 50°.
func film(b *models.Board) {
	b.Bridges = append(b.Bridges, models.Bridge{Name: "film", From: models.At(models.Output, 1), To: models.At(models.OptoOutput, 1), Resistance: 3500, Part: models.GatePart, Channel: 1})
}

// What a series tells of n half-cycles against the sum of them one by one, the
// slopes as those of single half-cycles.
func TestSeriesAgainstHalfCycles(t *testing.T) {
	late := false
	for _, edit := range []func(*models.Board){
		func(*models.Board) {},
		func(b *models.Board) { b.Channels[1].Opto.Fires = 1 }, // its half-cycles have no mirror images
		film, // fires late
		func(b *models.Board) { b.Channels[2].Triac.GateOpen = true },
	} {
		b := boardfile.Default()
		edit(b)
		n := len(b.Channels)
		engine := func() *reuse {
			sol, err := circuit.New(b)
			if err != nil {
				t.Fatal(err)
			}
			r := newReuse(b, sol, new(memory))
			// From rest, and in the classes that these half-cycles turn out to need.
			temps := circuit.Uniform(n, 60)
			for drives := range uint32(1 << n) {
				r.class(temps)
				for range 4 {
					if _, err := r.step(input{drives, 1}); err != nil {
						t.Fatal(err)
					}
				}
			}
			r.class(temps)
			return r
		}
		quick, plain := engine(), engine()
		found, sum := block{account: newAccount(n)}, make([]float64, whole(n))
		rng := rand.New(rand.NewPCG(9, 10))
		for range 60 {
			drives, halfs := uint32(rng.IntN(1<<n)), 1+rng.Int64N(12)
			in := input{drives, 1}
			if err := quick.advance(in, halfs, &found); err != nil {
				t.Fatal(err)
			}
			clear(sum)
			for range halfs {
				mirrored := plain.flip
				st, err := plain.step(in)
				if err != nil {
					t.Fatal(err)
				}
				charge := sum[tCharge]
				add(sum, st, n)
				if mirrored { // then it has the other sign
					sum[tCharge] = charge - st.energy[tCharge]
				}
			}
			late = late || found.used > common(n)
			for j, want := range sum {
				if d := math.Abs(found.all[j] - want); d > 1e-11*math.Max(sum[tSource], math.Abs(want)) {
					t.Errorf("%d half-cycles of drives %03b: number %d: found %g, expected %g", halfs, drives, j, found.all[j], want)
				}
			}
			if quick.at() != plain.at() {
				t.Fatalf("%d half-cycles of drives %03b: found the end at %v, expected %v", halfs, drives, quick.at(), plain.at())
			}
		}
	}
	if !late {
		t.Error("found no firing that energies follow, expected some")
	}
}

// The shares of an account against its numbers, divided.
func TestSharesOfAccount(t *testing.T) {
	const channels = 3
	rng := rand.New(rand.NewPCG(7, 8))
	a := newAccount(channels)
	for i := range a.all {
		a.all[i] = 0.1 + rng.Float64()
	}
	a.energy[tUpstream] = 1e-9
	for g, energy := range a.energy {
		var s share
		a.share(&s, g, 1e-8)
		want := share{energy: energy}
		for k := range channels {
			if energy > 1e-8 {
				want.slope[k] = a.slope[k][g] / energy
			}
			if math.Abs(s.slope[k]-want.slope[k]) > 1e-15*want.slope[k] {
				t.Errorf("group %d, channel %d: found a slope of %.17g, expected %.17g", g, k+1, s.slope[k], want.slope[k])
			}
		}
		if s.energy != energy {
			t.Errorf("group %d: found %g J, expected %g", g, s.energy, energy)
		}
	}
}

// add adds a half-cycle to a row, number by number.
func add(row []float64, st *step, channels int) {
	put := func(x float64) {
		row[0] += x
		row = row[1:]
	}
	for _, e := range st.energy {
		put(e)
	}
	for k := range channels {
		put(st.warm[k] * st.energy.channel(k)[tElement])
	}
	for k := range channels {
		put(st.leak[k])
	}
	for _, follows := range []func(k, g int) float64{
		func(k, g int) float64 {
			if st.slope[k] == nil {
				return 0
			}
			return st.slope[k][g] * st.energy[g]
		},
		func(k, g int) float64 {
			if st.late == nil || st.late[k] == nil {
				return 0
			}
			return st.late[k][g]
		},
	} {
		for k := range channels {
			for g := range st.energy {
				put(follows(k, g))
			}
		}
	}
	for k := range channels {
		for power := range len(leaking{}) {
			for g := range st.energy {
				if st.leaking == nil || st.leaking[k][power] == nil {
					put(0)
				} else {
					put(st.leaking[k][power][g])
				}
			}
		}
	}
}

// begun returns a run that has been begun.
func begun(t *testing.T, b *models.Board, o Options, m *memory) *run {
	t.Helper()
	r, err := newRun(b, o, m)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The runs of a window's drives against the rule for each of its cycles.
func TestScheduleAgainstCycles(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		b := boardfile.Default()
		if rng.IntN(2) == 0 {
			b.Channels[rng.IntN(3)].Control.Spread = true
		}
		b.Controller.Together = rng.IntN(4)
		b.Controller.LoseRefused = rng.IntN(2) == 0
		if rng.IntN(2) == 0 {
			b.Crossings = []models.Crossing{{A: 0, B: 2}}
		}
		r := begun(t, b, Options{}, new(memory))
		cycles := r.window / 2
		want := make([][]bool, r.n)
		for k := range r.counts {
			r.counts[k] = []int{0, cycles, rng.IntN(cycles + 1)}[rng.IntN(3)]
			want[k] = make([]bool, cycles)
			pattern(want[k], r.counts[k], b.Channels[k].Control.Spread)
		}
		allocate(want, byPriority(b.Channels), b.Controller.Together, b.Controller.LoseRefused, make([]int, r.n))
		r.schedule()
		from, before := int64(0), ^uint32(0)
		for _, d := range r.drives {
			if d.end <= from || d.end%2 != 0 || d.drives == before {
				t.Fatalf("counts %d: found runs %v, expected whole cycles and differing drives", r.counts, r.drives)
			}
			for j := from / 2; j < d.end/2; j++ {
				for k := range r.n {
					if got := d.drives>>k&1 == 1; got != want[b.DriveSource(k)][j] {
						t.Fatalf("counts %d: cycle %d, channel %d: found drive %t", r.counts, j, k+1, got)
					}
				}
			}
			from, before = d.end, d.drives
		}
		if from != int64(r.window) {
			t.Fatalf("counts %d: found runs of %d half-cycles, expected %d", r.counts, from, r.window)
		}
	}
}

// What whole cycles do to the stages of triacs and to a fuse, against the laws
// of both.
func TestKeepsAgainstLaws(t *testing.T) {
	b := boardfile.Default()
	b.Protection.Fuse = models.Fuse{Fitted: true, Rated: 16, Melt: 1200}
	r := begun(t, b, Options{}, new(memory))
	const power, square = 7.5, 3.1
	for _, halfs := range []int64{2, 10, int64(r.window)} {
		does, d := r.keeps(halfs), float64(halfs)*r.half
		for k := range b.Channels {
			stages := make([]float64, len(b.Channels[k].Triac.Foster))
			for i := range stages {
				stages[i] = 3 + float64(i)
			}
			want := append([]float64(nil), stages...)
			b.Channels[k].Triac.FosterStep(want, power, d)
			for i, x := range stages {
				if got := x*does.left[i][k] + power*does.gain[i][k]; math.Abs(got-want[i]) > 1e-13*want[i] {
					t.Errorf("%d half-cycles, channel %d: found stage %d at %.17g K, expected %.17g", halfs, k+1, i, got, want[i])
				}
			}
		}
		want, _ := melt(&b.Protection.Fuse, 20, square, d)
		if got := 20*does.fuse + square/d*settling(&b.Protection.Fuse)*(1-does.fuse); math.Abs(got-want) > 1e-13*want {
			t.Errorf("%d half-cycles: found the fuse at %.17g A²s, expected %.17g", halfs, got, want)
		}
	}
}

// A run is the same in memory of its own and in that of runs before it, of
// other boards.
func TestRunInUsedMemory(t *testing.T) {
	result := func(name string, late bool, m *memory) *Result {
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		if late {
			film(f.Board)
			f.Board.Channels[2].Probe.Beta *= 1.05
		}
		r := begun(t, f.Board, Options{Duration: 20 * time.Minute}, m)
		if err := r.loop(context.Background()); err != nil {
			t.Fatal(err)
		}
		res, err := r.finish()
		if err != nil {
			t.Fatal(err)
		}
		m.reset()
		return res
	}
	shared := new(memory)
	for i, name := range []string{"dye-bench-230", "dye-bench-120", "open-vat-230", "dye-bench-230", "neutral-side-230"} {
		late := i%2 == 1
		got := result(name, late, shared)
		kept, err := json.Marshal(got)
		if err != nil {
			t.Fatal(err)
		}
		if want := result(name, late, new(memory)); !reflect.DeepEqual(got.Samples, want.Samples) || !reflect.DeepEqual(got.Events, want.Events) || got.Supply != want.Supply || got.Stats != want.Stats {
			t.Errorf("%s: found other results than in memory of its own", name)
		}
		// The next run writes nothing into them.
		result("dye-bench-230", !late, shared)
		if again, err := json.Marshal(got); err != nil || string(again) != string(kept) {
			t.Errorf("%s: found that another run changed the results: %v", name, err)
		}
	}
	if len(shared.plans.Pieces()) == 0 || len(shared.numbers.Pieces()) == 0 {
		t.Error("found no memory kept")
	}
}
