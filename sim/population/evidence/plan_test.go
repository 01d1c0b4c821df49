package evidence_test

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"boilwright/faults"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
	"boilwright/sim/readings"
)

// Readings are those of population.Readings, whatever else is observed and in
// whatever order. The drives of heating are those of a controller, which the
// readings leave out, so that members whose channels are all driven are
// compared.
func TestObserveAgainstReadings(t *testing.T) {
	p := usual(t)
	b := p.Board()
	job := population.ReadingsJob{
		States: []readings.State{readings.Standby, readings.Heating},
		Points: []string{"supply", "soak:output", "dye:output", "dye:led"},
		Leads:  []string{"supply-lead", "dye:element-lead"}, Monitor: true,
	}
	r, err := p.Readings(job)
	if err != nil {
		t.Fatal(err)
	}
	var wanted []evidence.Observable
	var from []func(population.Measured) float64
	value := func(v readings.Value) float64 {
		if v.Over {
			return math.Inf(1)
		}
		return v.Shown
	}
	for s, state := range job.States {
		for at, point := range job.Points {
			for i := range b.Meters {
				wanted = append(wanted, find(t, p, "volts", point, state.String(), b.Meters[i].Name))
				from = append(from, func(m population.Measured) float64 { return value(m.Values[r.Index(s, at, i)]) })
			}
		}
		for at, lead := range job.Leads {
			for i := range b.Clamps {
				wanted = append(wanted, find(t, p, "amps", lead, state.String(), b.Clamps[i].Name))
				from = append(from, func(m population.Measured) float64 { return value(m.Currents[r.CurrentIndex(s, at, i)]) })
			}
		}
		wanted = append(wanted, find(t, p, "plug_watts", state.String()), find(t, p, "plug_amps", state.String()))
		from = append(from, func(m population.Measured) float64 { return m.Monitor[s].ShownPower }, func(m population.Measured) float64 { return m.Monitor[s].ShownCurrent })
	}
	slices.Reverse(wanted)
	slices.Reverse(from)
	plan := planned(t, p, wanted...)
	dye := b.ChannelIndex("dye")
	for i, places := range [][]population.Place{nil, {{Fault: "triac-one-way", Channel: dye}}, {{Fault: "film-triac", Channel: dye}}, {{Fault: "element-open", Channel: 0}}} {
		m := given(t, p, uint64(i), places...)
		got := observed(t, plan, m)
		want := r.Measure(m)
		if want.Problem != "" {
			t.Fatal(want.Problem)
		}
		for j := range wanted {
			if w := from[j](want); got[j] != w {
				t.Errorf("member %d with %v: %s: found %v, expected %v", i, places, wanted[j].Name, got[j], w)
			}
		}
	}
}

// Without tolerances a healthy member is the board itself with exact
// instruments.
func TestObserveExact(t *testing.T) {
	board := boardfile.Default()
	p := drawn(t, board, exact())
	temps := circuit.Uniform(len(board.Channels), float64(board.Ambient))
	var wanted []evidence.Observable
	var want []float64
	for _, at := range readings.Points(board) {
		row, err := readings.At(board, at, board.Meters, readings.Conditions{State: readings.Standby, Temps: temps})
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range row {
			wanted, want = append(wanted, find(t, p, "volts", at.Name, "standby", board.Meters[i].Name)), append(want, v.Shown)
		}
	}
	for _, at := range readings.UnpluggedPoints(board) {
		for _, x := range []struct {
			form     string
			test     readings.Test
			reversed bool
		}{{"ohms", readings.Ohmmeter, false}, {"diode_volts", readings.DiodeTest, false}, {"diode_volts_reversed", readings.DiodeTest, true}} {
			plus, minus := at.Plus, at.Minus
			if x.reversed {
				plus, minus = minus, plus
			}
			d, err := readings.Unplugged(board, temps, x.test, plus, minus)
			if err != nil {
				t.Fatal(err)
			}
			v := d.Ohms
			if x.test == readings.DiodeTest {
				v = d.Volts
			}
			wanted, want = append(wanted, find(t, p, x.form, at.Name)), append(want, v)
		}
	}
	got := observed(t, planned(t, p, wanted...), given(t, p, 7))
	for i := range wanted {
		if got[i] != want[i] {
			t.Errorf("%s: found %v, expected %v", wanted[i].Name, got[i], want[i])
		}
	}
}

// Every observable of a board has a value on healthy members and on those with
// any fault, or the record has a problem; words and yes or no are what they
// may be.
func TestObserveAll(t *testing.T) {
	p := usual(t)
	b := p.Board()
	// In bursts a board takes long at every point; one of them will do.
	all := slices.DeleteFunc(evidence.All(b), func(o evidence.Observable) bool {
		return slices.Contains(o.Args, "holding") && o.Args[0] != "dye:output" && o.Args[0] != "supply-lead"
	})
	plan := planned(t, p, all...)
	members := []population.Member{given(t, p, 0)}
	for _, f := range []string{"triac-one-way", "probe-open", "probe-shorted", "snubber-capacitor-shorted", "element-leaking"} {
		members = append(members, given(t, p, 1, population.Place{Fault: f, Channel: 1}))
	}
	members = append(members, given(t, p, 2, population.Place{Fault: "supply-exchanged", Channel: faults.WholeBoard}))
	for _, m := range members {
		for i, v := range observed(t, plan, m) {
			o := &all[i]
			bad := math.IsNaN(v)
			switch o.Kind {
			case evidence.Whether:
				bad = v != 0 && v != 1
			case evidence.Word:
				bad = v != math.Trunc(v) || v < 0 || int(v) >= len(o.Words)
			}
			if bad {
				t.Errorf("%v: %s: found %v", m.Faults, o.Name, v)
			}
		}
	}
}

// However many workers observe, the values are the same.
func TestObserveIsDeterministic(t *testing.T) {
	p := usual(t)
	b := p.Board()
	var wanted []evidence.Observable
	for k := range b.Channels {
		name := b.Channels[k].Name
		wanted = append(wanted, find(t, p, "volts", name+":output", "standby", "average"), find(t, p, "ohms", name+":gate"), find(t, p, "peak", name))
	}
	plan := planned(t, p, wanted...)
	values := func(workers int) [][]float64 {
		var out [][]float64
		err := population.Each(context.Background(), 0, 12, population.Workers{Count: workers}, func(ctx context.Context, i uint64) (evidence.Record, error) {
			m, err := p.Member(i)
			if err != nil {
				return evidence.Record{}, err
			}
			return plan.Observe(ctx, m)
		}, func(_ uint64, r evidence.Record) error {
			out = append(out, r.Values)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	one, four := values(1), values(4)
	for i := range one {
		if !slices.Equal(one[i], four[i]) {
			t.Errorf("member %d: found %v with four workers, %v with one", i, four[i], one[i])
		}
	}
}

// A board without a solution is a problem of its record, and cancelling is an
// error.
func TestObserveProblem(t *testing.T) {
	board := boardfile.Default()
	p := drawn(t, board, exact())
	plan := planned(t, p, find(t, p, "volts", "dye:output", "standby", "rms"))
	m := given(t, p, 0)
	m.Faults = faults.Set{faults.New("no such fault", 1)}
	r, err := plan.Observe(context.Background(), m)
	if err != nil || r.Values != nil || !strings.Contains(r.Problem, "no such fault") {
		t.Errorf("found %+v and the error %v, expected a problem", r, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := plan.Observe(ctx, given(t, p, 0)); err == nil {
		t.Error("found no error with a context that is cancelled")
	}
	run := planned(t, p, find(t, p, "warm_up", "dye"))
	if _, err := run.Observe(ctx, given(t, p, 0)); err == nil {
		t.Error("found no error of a run with a context that is cancelled")
	}
}
